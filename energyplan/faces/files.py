"""A day as a file of any kind: the ending of its name says which."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from energyplan.base.errors import FileError, Place
from energyplan.base.kinds import PLAIN, Style
from energyplan.base.records import dataclass
from energyplan.faces.sheet import Paper
from energyplan.telling.told import Told

if TYPE_CHECKING:
    from energyplan.faces.charts.charts import Picture

__all__ = ["ENDINGS", "Making", "ending_of", "file_bytes", "first_page"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Making:
    """How a file is made.

    Parameters
    ----------
    style : Style
        Units.
    paper : str
        "a4" or "us-letter", for the PDF.
    stamp : datetime, optional
        Aware instant of making, for PDF and calendar; left out, the same input gives the same bytes.
    """

    style: Style = PLAIN
    paper: Paper = "a4"
    stamp: datetime | None = None


def ending_of(name: str) -> str:
    """The ending of a file's name, in small letters.

    Raises
    ------
    FileError
        If nothing with this ending can be written.
    """
    suffix = (Path(name).suffix or name).lower()
    if suffix not in _WRITERS:
        raise FileError(f'"{name}" ends in nothing that can be written; use one of {", ".join(ENDINGS)}')
    return suffix


def file_bytes(told: Told, ending: str, making: Making | None = None) -> bytes:
    """Write what a file holds (`energyplan.telling.files.file_told`), for an ending of `ENDINGS`."""
    return _WRITERS[ending](told, making or Making())


def first_page(told: Told, making: Making) -> bytes:
    """The first page of the PDF as a picture (PNG)."""
    from energyplan.faces.sheet import first_page_png

    return first_page_png(*_sheets(told, making), making.style, paper=making.paper)


def _pdf(told: Told, making: Making) -> bytes:
    from energyplan.faces.sheet import sheet_pdf

    return sheet_pdf(*_sheets(told, making), making.style, paper=making.paper, stamp=making.stamp)


def _sheets(told: Told, making: Making) -> "tuple[Mapping[str, Any], Told, tuple[Picture, Picture]]":
    """What the sheets are set from."""
    from energyplan.faces.charts.charts import current_picture, day_picture
    from energyplan.faces.sheet import electrician_texts, sizes_px

    electrician, brew_day, currents, day = told.parts
    (wide_px, high_px), (day_wide_px, day_high_px) = sizes_px(making.paper)
    pictures = (
        current_picture(currents, making.style, width_px=wide_px, height_px=high_px),
        day_picture(day, making.style, width_px=day_wide_px, height_px=day_high_px),
    )
    return electrician_texts(electrician, replace(making.style, key=_on_paper)), brew_day, pictures


def _on_paper(key: Place) -> str:
    """A key of the plan for somebody who never saw the file.

    >>> _on_paper(Place("circuit", "earth_loop"))
    '“earth loop” in the plan'
    """
    return f"“{key.key.replace('_', ' ')}” in the plan"


def _ics(told: Told, making: Making) -> bytes:
    from energyplan.faces.calendar import calendar_ics

    return calendar_ics(told, making.style, stamp=making.stamp)


def _csv(told: Told, making: Making) -> bytes:
    from energyplan.faces.frames import table_csv

    return table_csv(told.tables[0], making.style)


def _png(told: Told, making: Making) -> bytes:
    from energyplan.faces.charts.charts import day_picture, picture_png

    return picture_png(day_picture(told, making.style))


def _svg(told: Told, making: Making) -> bytes:
    from energyplan.faces.charts.charts import day_picture, picture_svg

    return picture_svg(day_picture(told, making.style)).encode()


_WRITERS: dict[str, Callable[[Told, Making], bytes]] = {
    ".pdf": _pdf,
    ".ics": _ics,
    ".csv": _csv,
    ".png": _png,
    ".svg": _svg,
}
ENDINGS = tuple(_WRITERS)
