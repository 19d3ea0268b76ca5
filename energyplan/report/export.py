"""One answer as a file of any kind: the ending of its name says which."""

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from energyplan.advice.answer import Answer
from energyplan.base.errors import FileError
from energyplan.base.kinds import Style
from energyplan.base.records import dataclass
from energyplan.base.units import Display
from energyplan.faces.sheet import Paper
from energyplan.telling.day import steps_table
from energyplan.telling.picture import picture_told

__all__ = ["ENDINGS", "sheet_bytes"]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wanted:
    """How a file is to be written."""

    show: Display
    paper: Paper
    stamp: datetime | None

    @property
    def style(self) -> Style:
        return Style(self.show.system)


def sheet_bytes(
    answer: Answer, ending: str, *, show: Display, paper: Paper = "a4", stamp: datetime | None = None
) -> bytes:
    """Write an answer as a file.

    Parameters
    ----------
    answer : Answer
        The answered plan.
    ending : str
        Ending of the file's name, or the whole name: ``.pdf`` (sheets), ``.ics`` (calendar), ``.csv`` (steps),
        ``.png`` and ``.svg`` (chart of the day).
    show : Display
        Units.
    paper : str
        "a4" or "us-letter", for the PDF.
    stamp : datetime, optional
        Aware instant of making, for PDF and calendar; left out, the same input gives the same bytes.

    Raises
    ------
    FileError
        If the ending is none of these.
    """
    suffix = (Path(ending).suffix or ending).lower()
    if suffix not in _WRITERS:
        raise FileError(f'"{ending}" ends in nothing that can be written; use one of {", ".join(ENDINGS)}')
    return _WRITERS[suffix](answer, _Wanted(show=show, paper=paper, stamp=stamp))


def _pdf(answer: Answer, wanted: _Wanted) -> bytes:
    from energyplan.faces.charts.pictures import current_picture, day_picture
    from energyplan.faces.electricianpage import electrician_texts
    from energyplan.faces.sheet import sheet_pdf, sizes_px
    from energyplan.telling.brewdaypage import brew_day_told
    from energyplan.telling.electrician import tell_electrician

    (wide_px, high_px), (day_wide_px, day_high_px) = sizes_px(wanted.paper)
    current = current_picture(answer, width_px=wide_px, height_px=high_px)
    day = day_picture(picture_told(answer), wanted.style, width_px=day_wide_px, height_px=day_high_px)
    electrician = electrician_texts(tell_electrician(answer), wanted.style)
    return sheet_pdf(
        electrician, brew_day_told(answer), (current, day), wanted.style, paper=wanted.paper, stamp=wanted.stamp
    )


def _ics(answer: Answer, wanted: _Wanted) -> bytes:
    from energyplan.faces.calendar import calendar_ics
    from energyplan.telling.calendar import calendar_told

    return calendar_ics(calendar_told(answer), wanted.style, stamp=wanted.stamp)


def _csv(answer: Answer, wanted: _Wanted) -> bytes:
    from energyplan.faces.csvfile import table_csv

    return table_csv(steps_table(answer), wanted.style)


def _png(answer: Answer, wanted: _Wanted) -> bytes:
    from energyplan.faces.charts.pictures import day_picture, picture_png

    return picture_png(day_picture(picture_told(answer), wanted.style))


def _svg(answer: Answer, wanted: _Wanted) -> bytes:
    from energyplan.faces.charts.pictures import day_picture, picture_svg

    return picture_svg(day_picture(picture_told(answer), wanted.style)).encode()


_WRITERS: dict[str, Callable[[Answer, _Wanted], bytes]] = {
    ".pdf": _pdf,
    ".ics": _ics,
    ".csv": _csv,
    ".png": _png,
    ".svg": _svg,
}
ENDINGS = tuple(_WRITERS)
