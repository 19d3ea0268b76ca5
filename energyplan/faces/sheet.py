"""The sheets as one PDF: pages for the electrician, then the brew day. Set by typst, tagged, the same every time."""

import json
import re
from collections.abc import Mapping
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from energyplan.base.errors import FileError
from energyplan.base.kinds import CELSIUS, PLAIN, Style, unit_of
from energyplan.base.sentence import Sentence, words
from energyplan.faces.charts import Picture, picture_svg
from energyplan.faces.charttheme import PHASE_COLOURS, SEVERITY_COLOURS
from energyplan.faces.frames import currency_of, heading, shown_rows
from energyplan.telling.findings import finding_name
from energyplan.telling.told import Found, Table, Told

if TYPE_CHECKING:
    import typst

__all__ = [
    "PAPERS",
    "STATUS",
    "Paper",
    "brew_day_texts",
    "electrician_texts",
    "first_page_png",
    "sheet_pdf",
    "sizes_px",
]

Paper = Literal["a4", "us-letter"]


PAPERS: tuple[Paper, ...] = ("a4", "us-letter")
STANDARD: Literal["ua-1"] = "ua-1"  # PDF/UA-1, ISO 14289-1: tagged, titled, in a language, with words for every picture


# Charts of 700 px across the page print their 12 px letters at 8.7 pt.
WIDTH_PX = 700
CURRENT_PX: dict[Paper, int] = {"a4": 150, "us-letter": 150}
DAY_PX: dict[Paper, int] = {"a4": 240, "us-letter": 165}
PREVIEW_PPI = 110.0  # read on a screen of usual size
ROUNDS = 5  # of taking out letters that no font has; typst names them all at once
FONT = "Libertinus Serif"  # inside typst
_FONT_FAMILY = re.compile(r'font-family="[^"]*"')
_LONG_WORD = re.compile(r"(\S{24})(?=\S)")
_UNITS = "A|V|W|Ω|mA|kW|kWh|°C|°F|K|%|min|h|s|mm²|AWG|m|ft|L|gal|kg|lb"
_BEFORE_UNIT = re.compile(rf"(?<=\d) (?=(?:{_UNITS})(?!\w))")
_MINUS = re.compile(r"(?<![\w.)-])-(?=\d)")
_MISSING = re.compile(r'the text `"(.+?)"` could not be displayed')
_RUST_ESCAPE = re.compile(r"\\u\{([0-9a-f]+)\}|\\(.)")


def sheet_pdf(
    electrician: Mapping[str, Any],
    brew_day: Told,
    pictures: tuple[Picture, Picture],
    style: Style = PLAIN,
    *,
    paper: Paper = "a4",
    stamp: datetime | None = None,
) -> bytes:
    """Set the sheets.

    Parameters
    ----------
    electrician : mapping
        Texts of the pages for the electrician.
    brew_day : Told
        The page for the brew day (`energyplan.telling.files.brew_day_told`).
    pictures : tuple of Picture
        The current and the day, drawn at the size of `sizes_px`.
    style : Style
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
    return _set(_data(electrician, brew_day, pictures, style, paper=paper, dated=stamp is not None), stamp)


def first_page_png(
    electrician: Mapping[str, Any],
    brew_day: Told,
    pictures: tuple[Picture, Picture],
    style: Style = PLAIN,
    *,
    paper: Paper = "a4",
) -> bytes:
    """The first page of the same sheets as a picture, to be looked at before they are printed."""
    return _set(_data(electrician, brew_day, pictures, style, paper=paper, dated=True), None, picture=True)


def _data(
    electrician: Mapping[str, Any],
    brew_day: Told,
    pictures: tuple[Picture, Picture],
    style: Style,
    *,
    paper: Paper,
    dated: bool,
) -> str:
    """All that the page shows, as its template reads it."""
    current, day = pictures
    texts = {
        "electrician": electrician,
        "brew_day": brew_day_texts(brew_day, style),
        "pictures": {"current_words": current.words, "day_words": day.words},
    }
    data: dict[str, Any] = _typographic(texts)
    data["pictures"] |= {"current": _in_our_font(picture_svg(current)), "day": _in_our_font(picture_svg(day))}
    data["colours"] = {"phases": PHASE_COLOURS, "severities": SEVERITY_COLOURS}
    data |= {"paper": paper, "dated": dated}
    return json.dumps(data, ensure_ascii=False)


def sizes_px(paper: Paper) -> tuple[tuple[int, int], tuple[int, int]]:
    """Width and height of the picture of the current, and of that of the day."""
    return (WIDTH_PX, CURRENT_PX[paper]), (WIDTH_PX, DAY_PX[paper])


_TEXTS = ("clock", "words", "phase", "to", "set", "advised", "minutes", "kwh", "cost", "kind")


def brew_day_texts(told: Told, style: Style = PLAIN) -> dict[str, Any]:
    """The page for the brew day in words, ready to be set."""
    table = told.table("by_clock")
    lines, total = shown_rows(table, style)
    rows = [dict(zip(_TEXTS, line, strict=True)) for line in [*lines, *([total] if total else [])]]
    return {
        "title": words(told.title, style) if isinstance(told.title, Sentence) else told.title,
        "answer": words(told.headline, style) if told.headline else "",
        "unit": unit_of(CELSIUS, style),
        "currency": currency_of(table) or None,
        "rows": [row for row in rows if row["kind"] not in ("beside", "total")],
        "totals": [row for row in rows if row["kind"] in ("beside", "total")],
        "said": [words(one, style) for one in told.sentences],
        "notes": [words(one, style) for one in told.cautions[:-1]],
        "caution": words(told.cautions[-1], style),
        "status": "Times and energies are estimates from the plan.",
    }


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


def _set(text: str, stamp: datetime | None, *, picture: bool = False) -> bytes:
    """Set with typst's own fonts; failing that with the machine's beside them, without what no font has."""
    import typst

    try:
        return _compiled(text, stamp, own_fonts_only=True, picture=picture)
    except typst.TypstError as error:
        if not _missing(error):
            raise
    for _ in range(ROUNDS):
        try:
            return _compiled(text, stamp, own_fonts_only=False, picture=picture)
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


def _compiled(text: str, stamp: datetime | None, *, own_fonts_only: bool, picture: bool) -> bytes:
    import typst

    how: dict[str, Any] = {"format": "png", "ppi": PREVIEW_PPI} if picture else {"pdf_standards": STANDARD}
    made = typst.compile(
        _template(),
        **{"format": "pdf", **how},
        ignore_system_fonts=own_fonts_only,
        sys_inputs={"data": text},
        timestamp=(stamp or datetime.fromtimestamp(0, UTC)).astimezone(UTC),
    )
    return bytes(made[0] if isinstance(made, list) else made)


@cache
def _template() -> bytes:
    return Path(__file__).with_name("sheet.typ").read_bytes()


Document = dict[str, Any]


STATUS = "Not a design. To be verified by a licensed electrician under the local code."


def electrician_texts(told: Told, style: Style) -> Document:
    """Texts of both sides.

    Parameters
    ----------
    told : Told
        As `energyplan.telling.electrician.tell_electrician` tells it.
    style : Style
        Units, and what makes a person's text harmless on paper.
    """
    overleaf = told.parts[0]
    verdict, lines = told.sentences
    return {
        "title": words(told.title, style) if isinstance(told.title, Sentence) else told.title,
        "when": words(told.facts["when"], style),
        "status": STATUS,
        "severity": told.facts["severity"],
        "request": words(told.headline, style) if told.headline else "",
        "verdict": words(verdict, style),
        "lines": words(lines, style),
        "loads": _table(told.table("loads"), style),
        "required": _table(told.table("required"), style),
        "told": _told_once([_finding(found, style) for found in told.findings]),
        "sized": [words(one, style) for one in overleaf.sentences],
        "rules": _table(overleaf.table("rules"), style),
        "fine": [_finding(found, style) for found in overleaf.findings],
        "questions": [words(one, style) for one in overleaf.parts[0].sentences],
        "cautions": [words(one, style) for one in overleaf.cautions],
    }


def _table(table: Table, style: Style) -> Document:
    rows, _ = shown_rows(table, style)
    return {"title": table.title, "head": [heading(one, style, short=True) for one in table.columns], "rows": rows}


def _finding(found: Found, style: Style) -> Document:
    return {
        "severity": found.severity,
        "name": finding_name(found.code),
        "message": words(found.said, style),
        "rule": found.rule or "",
        "mend": words(found.mend, style) if found.mend else "",
        "used": "" if found.margin_frac is None else _used(found.margin_frac),
    }


def _told_once(findings: list[Document]) -> list[Document]:
    """Findings of which a mend that one before them has is not printed again."""
    before: dict[str, str] = {}
    for found in findings:
        mend = found["mend"]
        if mend and mend in before:
            found["mend"] = f"as of {before[mend]}."
        elif mend:
            before[mend] = found["name"]
    return findings


def _used(margin_frac: float) -> str:
    """How much of a rating is used: never a negative margin."""
    return f"{1 - margin_frac:.0%} used" if margin_frac >= 0 else f"{1 - margin_frac:.1f} times"
