"""Pieces that all pages are made of: sentences, tables, findings, labels of keys, text made harmless."""

import re
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from typing import Any

import streamlit as st

from energyplan.advice.answer import Answer
from energyplan.app.entries import SECTIONS
from energyplan.app.rows import ELEMENTS, LOADS, STEPS
from energyplan.app.state import FOLD, current
from energyplan.base.errors import EnergyPlanError, Place, Problem, visible
from energyplan.base.kinds import SHARE, Style, Value, write
from energyplan.base.sentence import Sayable, Sentence, words
from energyplan.base.units import Display
from energyplan.faces.charts import day_chart
from energyplan.faces.charttheme import ChartLook, Document, chart_look
from energyplan.faces.frames import currency_of, heading, key_of, shown_rows
from energyplan.telling.picture import picture_told
from energyplan.telling.told import Found, Table

__all__ = [
    "chart",
    "chosen_part",
    "day_document",
    "finding_rows",
    "folded",
    "label_of",
    "lead_to",
    "look",
    "notes",
    "plain",
    "popped",
    "problems",
    "quiet",
    "said",
    "show_table",
    "style",
]

ROWS = {"step": ("Step", STEPS), "vessel.element": ("Element", ELEMENTS), "other_load": ("Load", LOADS)}
_WORDS = {"ramp_power": "the ramp cap", "hold_power": "the hold cap", "boil = true": 'the target "boil"'}


def label_of(place: Place) -> str:
    """What a form calls a place of the file.

    Examples
    --------
    >>> label_of(Place("vessel", "diameter")), label_of(Place("step", "hold", "Boil"))
    ('Inside diameter', 'Step "Boil": Hold')
    """
    if place.row is None:
        path = f"{place.table}.{place.key}".strip(".")
        return _labels().get(path) or _WORDS.get(path) or path.replace(".", ", ").replace("_", " ").capitalize()
    words, rows = ROWS.get(place.table, (place.table.replace(".", ", ").replace("_", " ").capitalize(), None))
    named = "" if place.row == "" else f" {place.row}" if isinstance(place.row, int) else f' "{visible(place.row)}"'
    label = next((column.label for column in rows.columns if column.key == place.key), place.key) if rows else place.key
    return f"{words}{named}{': ' if label else ''}{label}"


def _quoted(place: Place) -> str:
    """The label of a field inside a sentence; that of a row has quotes of its own."""
    return f"“{label_of(place)}”" if place.row is None else label_of(place)


@lru_cache(maxsize=1)
def _labels() -> dict[str, str]:
    entries = (entry for section in SECTIONS for entry in (*section.entries, *section.further))
    return {".".join(entry.path): entry.label for entry in entries}


# What the browser would obey: marks of Markdown where they could begin something, all but the dot of a number and the
# colon of a clock. Fewer are escaped than could be, because each costs the browser time.
_MARKS = re.compile(r"[\\`*_\[\]<>~$|&#]|^[-+=]|(?:(?<=^\d)|(?<=^\d\d)|(?<=^\d\d\d))[.)]|(?<!\d):|:(?!\d\d(?!\d))")
# Addresses become links, pairs of signs arrows, names between colons pictures after Markdown is read, escaped or not: a
# small nothing stands between their halves.
_PAIRS = re.compile(r"(?<=http)(?=s?:)|(?<=www)(?=\.)|(?<=:)(?=[\w+-]+[:/])|(?=@)|(?<=[-<>~])(?=[-=>])", re.I)
_NOTHING = ":small[]"


def plain(text: str) -> str:
    r"""Let every mark of Markdown stand for itself, and join lines.

    Examples
    --------
    >>> plain("![x](ftp), 12.6 A at 13:46")
    '!\\[x\\](ftp), 12.6 A at 13:46'
    >>> plain("1. Boil\n2. Cool")
    '1\\. Boil 2. Cool'
    >>> plain("www.a.org -> :red")
    'www:small[].a.org -:small[]\\> \\:red'
    """
    joined = " ".join(text.split())
    return _NOTHING.join(_MARKS.sub(r"\\\g<0>", part) for part in _PAIRS.split(joined))


SIGNS = {"over": ":red[**▲ Over**]", "unknown": "**? Not known**", "note": ":orange[**● Note**]", "ok": "Ok"}


def style() -> Style:
    """How the page writes what is told: its units, and the form's labels for keys of a file."""
    return Style(current().units, key=_quoted)


def said(*told: Sayable | None) -> None:
    """Show what is told, with nothing in it read as markup."""
    for one in told:
        if one is not None:
            st.text(words(one, style()))


def show_table(told: Table, *, alt: str, detail: int = 1) -> None:
    """Show a told table as it is written everywhere: numbers to the right, its total last."""
    import pandas as pd

    seen = told.at(detail)
    lines, total = shown_rows(seen, style())
    rows, currency = [*lines, *([total] if total else [])], currency_of(seen)
    frame: dict[str, Any] = {}
    config: dict[str, Any] = {}
    for place, column in enumerate(seen.columns):
        cells = [row[place] for row in rows]
        label = heading(column, style(), short=bool(column.short), currency=currency)
        name, numbers = key_of(column, style()) or label, [_number(text) for text in cells]
        if column.kind.is_text or any(text and number is None for text, number in zip(cells, numbers, strict=True)):
            frame[name], config[name] = pd.Series(cells, dtype=object), st.column_config.TextColumn(label)
            continue
        digits = max((len(text.partition(".")[2]) for text in cells), default=0)
        frame[name] = pd.Series(numbers, dtype=float)
        config[name] = st.column_config.NumberColumn(label, format=f"%.{digits}f")
    st.dataframe(
        pd.DataFrame(frame), hide_index=True, width="stretch", height="content", column_config=config, placeholder="",
        row_height=30, alt=alt,
    )  # fmt: skip


def _number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None


def look() -> ChartLook:
    """Colours that fit the theme in which the page is seen."""
    return chart_look(dark=st.context.theme.type == "dark")


def chart(document: Mapping[str, Any], *, key: str) -> None:
    """Show a chart at full width; its description is read to those who don't see it."""
    import pyarrow as pa

    spec = {name: part for name, part in document.items() if name != "description"}
    spec["datasets"] = {name: pa.Table.from_pylist(rows) for name, rows in spec["datasets"].items()}
    st.vega_lite_chart(spec, width="stretch", theme=None, key=key, alt=document["description"])


def notes(findings: Iterable[Found]) -> None:
    """Show told findings that are no more than worth a look."""
    for one in findings:
        st.markdown(f":orange[**● Note**] {plain(words(one.said, style()))}")


def quiet(line: str) -> None:
    """Show a line that matters less, small and grey, yet with contrast enough to read."""
    st.markdown(f":gray[:small[{plain(line)}]]")


def problems(error: EnergyPlanError, *, what: str) -> None:
    """Show what is wrong, where, and how to mend it."""
    with st.container(border=True):
        st.markdown(f":red[**▲ {plain(what)}**]")
        found: tuple[Problem, ...] = getattr(error, "problems", ())
        if not found:
            st.text(_told(error.said))
            return
        for problem in found:
            shown = f" = {plain(_told(problem.value))}" if problem.value else ""
            st.markdown(f"**{plain(_told(problem.where))}**{shown}  \n{plain(_told(problem.message))}")


def _told(said: object) -> str:
    """A part of an error in the words of the page."""
    if isinstance(said, Sentence | Value):
        return words(said, style())
    return label_of(said) if isinstance(said, Place) else visible(str(said))


def finding_rows(findings: Iterable[Found]) -> None:
    """Show judgements: sign and word, what was checked, sentence, what mends it, the rule."""
    for finding in findings:
        margin = "" if finding.margin_frac is None else f", {_margin(finding.margin_frac)}"
        name = finding.code.replace("_", " ")
        lines = [f"{SIGNS[finding.severity]} **{plain(name)}**{plain(margin)}. {plain(words(finding.said, style()))}"]
        if finding.mend:
            lines.append(f"**To mend it:** {plain(words(finding.mend, style()))}")
        if finding.rule:
            lines.append(f":gray[:small[{plain(finding.rule)}]]")
        st.markdown("  \n".join(lines))


def _margin(margin_frac: float) -> str:
    """What is left of a rating, in words."""
    share = write(SHARE(abs(margin_frac)))
    return f"{share} left" if margin_frac >= 0 else f"passed by {share}"


def chosen_part(page: str, parts: Sequence[str]) -> str:
    """A row of parts of which one is shown."""
    key = f"part_{page}"
    chosen = st.segmented_control(
        "Part of this page", parts, default=None if key in st.session_state else parts[0], required=True, key=key,
        label_visibility="collapsed", persist_state="session",
    )  # fmt: skip
    return chosen or parts[0]


def folded(title: str, key: str) -> Any | None:
    """A fold that is filled only while it is open; None while it isn't."""
    fold = st.expander(title, key=f"{FOLD}{key}", on_change="rerun")
    return fold if fold.open else None


def popped(label: str, *, icon: str, key: str) -> Any | None:
    """A button whose box is filled only while it is open; None while it isn't."""
    box = st.popover(label, icon=icon, key=f"{FOLD}{key}", on_change="rerun")
    return box if box.open else None


def lead_to(state: Mapping[str, Any]) -> None:
    """Open the part or the fold to which an address leads."""
    for key, value in state.items():
        st.session_state[key] = value


# Words that stay as they are while the day changes: the browser makes a chart anew whose words do.
DAY_WORDS = "Temperature and mean power over the clock of the day. The table Phase by phase has the numbers."


def day_document(answer: Answer, show: Display, look: ChartLook) -> Document:
    """The chart of a day; the sentence above it and the table below it say what it shows."""
    return day_chart(picture_told(answer), look, Style(show.system), description=DAY_WORDS)
