"""The sheets as one PDF: pages for the electrician, then the brew day. Set by typst, tagged, the same every time."""

import json
import re
from datetime import UTC, datetime
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any, Literal

from energyplan.advice.answer import Answer
from energyplan.base.errors import FileError
from energyplan.base.units import Display
from energyplan.faces.charts.palette import PHASE_COLOURS, SEVERITY_COLOURS
from energyplan.faces.charts.pictures import current_picture, day_picture, picture_svg
from energyplan.report.brewdaypage import brew_day_page
from energyplan.report.electricianpage import electrician_page

if TYPE_CHECKING:
    import typst

__all__ = ["PAPERS", "Paper", "sheet_pdf"]

Paper = Literal["a4", "us-letter"]
PAPERS: tuple[Paper, ...] = ("a4", "us-letter")
STANDARD: Literal["ua-1"] = "ua-1"  # PDF/UA-1, ISO 14289-1: tagged, titled, in a language, with words for every picture

# Charts of 700 px across the page print their 12 px letters at 8.7 pt.
WIDTH_PX = 700
CURRENT_PX: dict[Paper, int] = {"a4": 205, "us-letter": 180}
DAY_PX: dict[Paper, int] = {"a4": 240, "us-letter": 165}
ROUNDS = 5  # of taking out letters that no font has; typst names them all at once

FONT = "Libertinus Serif"  # inside typst

_FONT_FAMILY = re.compile(r'font-family="[^"]*"')
_LONG_WORD = re.compile(r"(\S{24})(?=\S)")
_UNITS = "A|V|W|mA|kW|kWh|°C|°F|K|%|min|h|s|mm²|AWG|m|ft|L|gal|kg|lb"
_BEFORE_UNIT = re.compile(rf"(?<=\d) (?=(?:{_UNITS})(?!\w))")
_MINUS = re.compile(r"(?<![\w.)-])-(?=\d)")
_MISSING = re.compile(r'the text `"(.+?)"` could not be displayed')
_RUST_ESCAPE = re.compile(r"\\u\{([0-9a-f]+)\}|\\(.)")


def sheet_pdf(answer: Answer, *, show: Display, paper: Paper = "a4", stamp: datetime | None = None) -> bytes:
    """Set the sheets.

    Parameters
    ----------
    answer : Answer
        The answered plan.
    show : Display
        Units of amounts, lengths and temperatures.
    paper : str
        "a4" or "us-letter".
    stamp : datetime, optional
        Aware instant that the file carries as its date of making; left out, it carries none and is the same for
        the same input.

    Returns
    -------
    bytes
        A PDF 1.7 that follows PDF/UA-1, with its fonts in it.

    Notes
    -----
    The fonts are those inside typst, so that every machine sets the same pages. A plan with letters that they lack
    is set with the fonts of the machine beside them; what no font has becomes a question mark.
    """
    current = current_picture(answer, width_px=WIDTH_PX, height_px=CURRENT_PX[paper])
    day = day_picture(answer, show, width_px=WIDTH_PX, height_px=DAY_PX[paper])
    texts = {
        "electrician": electrician_page(answer, show),
        "brew_day": brew_day_page(answer, show),
        "pictures": {"current_words": current.words, "day_words": day.words},
    }
    data: dict[str, Any] = _typographic(texts)
    data["pictures"] |= {"current": _in_our_font(picture_svg(current)), "day": _in_our_font(picture_svg(day))}
    data["colours"] = {"phases": PHASE_COLOURS, "severities": SEVERITY_COLOURS}
    data |= {"paper": paper, "dated": stamp is not None}
    return _set(json.dumps(data, ensure_ascii=False), stamp)


def _in_our_font(svg: str) -> str:
    """A chart whose letters are those of the page, whatever fonts the machine has."""
    return _FONT_FAMILY.sub(f'font-family="{FONT}"', svg)


def _typographic(value: Any) -> Any:
    """Every text with real minus signs, numbers kept beside their units, and places to break in endless words."""
    if isinstance(value, str):
        spelled = _MINUS.sub("−", value.replace("<=", "≤"))
        return _LONG_WORD.sub("\\1\u200b", _BEFORE_UNIT.sub("\u00a0", spelled))
    if isinstance(value, dict):
        return {key: _typographic(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_typographic(item) for item in value]
    return value


def _set(text: str, stamp: datetime | None) -> bytes:
    """Set with typst's own fonts; failing that with the machine's beside them, without what no font has."""
    import typst

    try:
        return _compiled(text, stamp, own_fonts_only=True)
    except typst.TypstError as error:
        if not _missing(error):
            raise
    for _ in range(ROUNDS):
        try:
            return _compiled(text, stamp, own_fonts_only=False)
        except typst.TypstError as error:
            missing = _missing(error)
            if not missing:
                raise
        for letters in missing:
            text = text.replace(letters, "?")
    raise FileError("the sheet has letters that no font of this machine has; write the plan's names in others")


def _missing(error: "typst.TypstError") -> set[str]:
    """Texts that no font could show, as typst names them (in Rust's escapes)."""

    def plain(escaped: re.Match[str]) -> str:
        return chr(int(escaped[1], 16)) if escaped[1] else escaped[2]

    return {_RUST_ESCAPE.sub(plain, found) for found in _MISSING.findall(error.diagnostic)}


def _compiled(text: str, stamp: datetime | None, *, own_fonts_only: bool) -> bytes:
    import typst

    made = typst.compile(
        _template(),
        format="pdf",
        ignore_system_fonts=own_fonts_only,
        pdf_standards=STANDARD,
        sys_inputs={"data": text},
        timestamp=(stamp or datetime.fromtimestamp(0, UTC)).astimezone(UTC),
    )
    return bytes(made)


@cache
def _template() -> bytes:
    return files("energyplan.report").joinpath("sheet.typ").read_bytes()
