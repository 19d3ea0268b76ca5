"""Entries of the plan as fields: the unit stands in the field, a bare number takes it, a dot marks what is assumed."""

import re
from collections.abc import Iterable
from typing import Any

import streamlit as st

from energyplan.app.editing import assumed, default_of, entry_of, plan_tables
from energyplan.app.entries import SECTIONS, Choice, Number, Quantity, hinted, is_bare, shown_unit, with_unit, written
from energyplan.app.pieces import problems
from energyplan.app.state import Work, current
from energyplan.base.units import Kind, read_quantity

__all__ = [
    "begin_marks",
    "entry_at",
    "fault",
    "field",
    "grid",
    "key_of",
    "mark",
    "show_marks",
    "suffix",
    "typed",
]

Path = tuple[str, ...]
Entry = Quantity | Number | Choice
# Streamlit has no unit inside a field and no mark on a label; both are drawn by a style made for the keys on the page.
# The text after the stroke is what is read out.
DOT = '.st-key-{key} label p::after{{content:" ●" / " (assumed)";color:var(--assumed)}}'
UNIT = '.st-key-{key} [data-testid="stTextInputRootElement"]::after{{content:"{unit}";{look}}}'
LOOK = "align-self:center;padding:0 .6rem;opacity:.75;white-space:nowrap"


def entry_at(path: Path) -> Entry | None:
    """The entry of the form that stands at a path."""
    return next((one for part in SECTIONS for one in (*part.entries, *part.further) if one.path == path), None)


def key_of(work: Work, *path: str) -> str:
    """Key of the field of an entry; another one whenever the form begins anew."""
    return f"setup_{work.version}_{'_'.join(path)}"


def begin_marks() -> None:
    """Forget the marks of the last run."""
    st.session_state["marks"] = []


def mark(key: str) -> None:
    """Put the dot of what is assumed on the label of a field."""
    st.session_state["marks"].append(DOT.format(key=_class(key)))


def suffix(key: str, unit: str) -> None:
    """Let a unit stand in a field."""
    shown = unit.replace("\\", "").replace('"', "")
    st.session_state["marks"].append(UNIT.format(key=_class(key), unit=shown, look=LOOK))


def _class(key: str) -> str:
    return re.sub(r"[^a-zA-Z0-9_-]", "-", key)


def show_marks() -> None:
    """Draw what `mark` and `suffix` have asked for."""
    st.html(f"<style>{''.join(st.session_state['marks'])}</style>")


def typed(text: str, kind: Kind, unit: str) -> float | None:
    """A quantity that was typed; a bare number takes the unit. None where nothing was typed.

    Raises
    ------
    UnitsError
        If it is none of this kind.
    """
    entry = with_unit(text, unit)
    return None if entry is None else read_quantity(entry, kind)


def grid(work: Work, entries: Iterable[Entry], *, prefix: str = "") -> None:
    """Entries three to a row; on a phone one below the other."""
    entries = tuple(entries)
    for first in range(0, len(entries), 3):
        for column, entry in zip(st.columns(3), entries[first : first + 3], strict=False):
            with column:
                field(work, entry, prefix=prefix)


def field(work: Work, entry: Entry, *, prefix: str = "") -> None:
    """One entry with its unit, its mark, and what is wrong with it."""
    key = prefix + key_of(work, *entry.path)
    value = work.pending.get(entry.path, entry_of(plan_tables(work.base), entry.path))
    if isinstance(entry, Quantity):
        _quantity(work, entry, key, value)
    elif isinstance(entry, Number):
        default = default_of(entry.path)
        st.number_input(
            entry.label, entry.low, entry.high, None if value is None else float(value), entry.step, key=key,
            help=entry.hint or None, on_change=_take_value, args=(entry.path, key),
            placeholder=f"{default:g} if left empty" if isinstance(default, float) else "not entered",
            format="%.3f" if entry.step < 0.01 else "%.2f",
        )  # fmt: skip
    else:
        options = dict(entry.options)
        if value is not None and value not in options:
            options[value] = str(value)  # a file may say what the form does not offer
        start = value if value in options else next(iter(options))
        st.selectbox(
            entry.label, list(options), list(options).index(start), format_func=lambda option: options[option], key=key,
            help=entry.hint or None, on_change=_take_value, args=(entry.path, key),
        )  # fmt: skip
    if entry.path in assumed(work.plan, work.day.entered):
        mark(key)
    fault(work, entry.path)


def _quantity(work: Work, entry: Quantity, key: str, value: Any) -> None:
    unit = shown_unit(entry.writing, work.units)
    text = str(value or "") if entry.path in work.pending else _written(value, entry, work)
    default = default_of(entry.path)
    usual = _written(f"{default!r} {entry.writing.kind.unit}", entry, work) if isinstance(default, float) else ""
    typed = st.session_state.get(key, text)
    if not typed or is_bare(str(typed)) or str(typed).endswith(f" {unit}"):
        text = text.removesuffix(f" {unit}")
        suffix(key, unit)
    st.text_input(
        entry.label, text, key=key, help=hinted(entry.hint, entry.writing, work.units),
        placeholder=f"{usual.removesuffix(f' {unit}')} if left empty" if usual else "not entered",
        on_change=_take_text, args=(entry.path, key, unit),
    )  # fmt: skip


def _written(value: Any, entry: Quantity, work: Work) -> str:
    return "" if value is None else written(value, entry.writing, work.units)


def _take_text(path: Path, key: str, unit: str) -> None:
    current().enter(path, with_unit(st.session_state[key], unit))


def _take_value(path: Path, key: str) -> None:
    current().enter(path, st.session_state[key])


def fault(work: Work, path: Path) -> None:
    """Why an entry was not taken over."""
    if path in work.faults:
        problems(work.faults[path], what="Not taken over")
