"""One answer as a file of any kind: the ending of its name says which."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from energyplan.advice.answer import Answer
from energyplan.base.errors import FileError
from energyplan.base.units import Display
from energyplan.report.sheet import Paper

__all__ = ["ENDINGS", "phases_csv", "sheet_bytes"]

# What a spreadsheet takes for a formula at the start of a cell (OWASP, "CSV Injection"). Where it separates cells by
# semicolons or tabs, one also starts inside of ours.
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
_INNER_START = re.compile(r"[;\t|]\s*(?=[=+\-@＝＋－＠])")
DECIMALS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wanted:
    """How a file is to be written."""

    show: Display
    paper: Paper
    stamp: datetime | None


def sheet_bytes(
    answer: Answer, ending: str, *, show: Display, paper: Paper = "a4", stamp: datetime | None = None
) -> bytes:
    """Write an answer as a file.

    Parameters
    ----------
    answer : Answer
        The answered plan.
    ending : str
        Ending of the file's name, or the whole name: ``.pdf`` (sheets), ``.ics`` (calendar), ``.csv`` (phases),
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


def phases_csv(answer: Answer, show: Display) -> bytes:
    """The phase table as CSV (RFC 4180, UTF-8): column names end in their unit, formulas in names are defused."""
    from energyplan.report.tables import phase_table

    frame = phase_table(answer, show).round(DECIMALS).map(_defused)
    return str(frame.to_csv(index=False, lineterminator="\r\n")).encode()


def _defused(cell: Any) -> Any:
    """A text that a spreadsheet would run, with an apostrophe before it; anything else as it is."""
    if not isinstance(cell, str):
        return cell
    inside = _INNER_START.sub(r"\g<0>'", cell)
    return f"'{inside}" if cell.lstrip().startswith(_FORMULA_STARTS) else inside


def _pdf(answer: Answer, wanted: _Wanted) -> bytes:
    from energyplan.report.sheet import sheet_pdf

    return sheet_pdf(answer, show=wanted.show, paper=wanted.paper, stamp=wanted.stamp)


def _ics(answer: Answer, wanted: _Wanted) -> bytes:
    from energyplan.report.calendar import calendar_ics

    return calendar_ics(answer, show=wanted.show, stamp=wanted.stamp)


def _csv(answer: Answer, wanted: _Wanted) -> bytes:
    return phases_csv(answer, wanted.show)


def _png(answer: Answer, wanted: _Wanted) -> bytes:
    from energyplan.faces.charts.pictures import day_picture, picture_png

    return picture_png(day_picture(answer, wanted.show))


def _svg(answer: Answer, wanted: _Wanted) -> bytes:
    from energyplan.faces.charts.pictures import day_picture, picture_svg

    return picture_svg(day_picture(answer, wanted.show)).encode()


_WRITERS: dict[str, Callable[[Answer, _Wanted], bytes]] = {
    ".pdf": _pdf,
    ".ics": _ics,
    ".csv": _csv,
    ".png": _png,
    ".svg": _svg,
}
ENDINGS = tuple(_WRITERS)
