"""Set-up: every input, in the order in which people read them off labels."""

from collections.abc import Callable
from functools import partial
from typing import Any

import streamlit as st

from energyplan.app.desk import Desk
from energyplan.app.editing import entry_of, plan_tables
from energyplan.app.entries import SECTIONS, Choice, Number, Quantity, Section, hinted, written
from energyplan.app.pieces import problems, quiet
from energyplan.app.roweditor import card, table_editor
from energyplan.app.rows import ELEMENTS, LOADS, STEPS, RowTable, cells, edited, moved
from energyplan.app.state import Work, current, packaged_plans
from energyplan.app.words import circuit_headline
from energyplan.app.yours import still_given
from energyplan.base.errors import EnergyPlanError
from energyplan.telling.day import day_sentence

__all__ = ["page"]

FIRST_FEW = "Start with what is on the labels: the vessel, its elements, the water, the grain, the steps, the breaker."


def page(at_hand: Desk) -> None:
    """Show the page."""
    work = at_hand.work
    if at_hand.answer is not None:
        at_hand.headline(day_sentence(at_hand.answer))
        with at_hand.head:
            st.text(circuit_headline(at_hand.answer))
    else:
        at_hand.answered()
    st.text(FIRST_FEW)
    tables = plan_tables(work.base)
    vessel, batch, second, place, circuit = SECTIONS
    _title(work)
    _section(work, tables, vessel)
    _rows(work, tables, ELEMENTS, "Elements, one row each")
    _section(work, tables, batch)
    _steps(work, tables)
    _section(work, tables, second)
    _ready_step(work, tables)
    _section(work, tables, place)
    _section(work, tables, circuit)
    _rows(work, tables, LOADS, "What else hangs on the circuit")
    st.text("What a kWh costs is entered on the page Prices, or opened from a file above.")


def _key(work: Work, *path: str) -> str:
    return f"setup_{work.version}_{'_'.join(path)}"


def _title(work: Work) -> None:
    key = _key(work, "title")
    st.text_input(
        "Name of the day", work.base.title, key=key, max_chars=80, on_change=_take_text, args=(("title",), key)
    )  # fmt: skip
    _fault(work, ("title",))


def _section(work: Work, tables: dict[str, Any], section: Section) -> None:
    st.subheader(section.title, anchor=False)
    quiet(f"{section.words} {_still_given(work, section)}")
    _grid(work, tables, section.entries)
    if section.further:
        with st.expander(f"{section.title}: what has a usual value"):
            _grid(work, tables, section.further)


def _still_given(work: Work, section: Section) -> str:
    """How many entries of a section are still those of the packaged plan with which somebody began."""
    given = packaged_plans().get(work.file_name)
    if given is None:
        return ""
    same, known = still_given(work.plan, given)[section.title]
    return f"Still the demo's: {same} of {known}." if same else "All of it is yours."


def _grid(work: Work, tables: dict[str, Any], entries: tuple[Quantity | Number | Choice, ...]) -> None:
    """Entries three to a row; on a phone one below the other."""
    for first in range(0, len(entries), 3):
        for column, entry in zip(st.columns(3), entries[first : first + 3], strict=False):
            with column:
                _entry(work, tables, entry)
                _fault(work, entry.path)


def _entry(work: Work, tables: dict[str, Any], entry: Quantity | Number | Choice) -> None:
    key, value = _key(work, *entry.path), work.pending.get(entry.path, entry_of(tables, entry.path))
    if isinstance(entry, Quantity):
        text = _text(value, entry, work) if entry.path not in work.pending else str(value or "")
        st.text_input(
            entry.label, text, key=key, help=hinted(entry.hint, entry.writing, work.units),
            placeholder=_default(entry, work) or "not entered", on_change=_take_text, args=(entry.path, key),
        )  # fmt: skip
    elif isinstance(entry, Number):
        st.number_input(
            entry.label, entry.low, entry.high, None if value is None else float(value), entry.step, key=key,
            help=entry.hint or None, placeholder=_default_number(entry), on_change=_take_value, args=(entry.path, key),
            format="%.3f" if entry.step < 0.01 else "%.2f",
        )  # fmt: skip
    else:
        options = dict(entry.options)
        start = value if value in options else next(iter(options))
        st.selectbox(
            entry.label, list(options), list(options).index(start), format_func=lambda option: options[option], key=key,
            help=entry.hint or None, on_change=_take_value, args=(entry.path, key),
        )  # fmt: skip


def _text(value: Any, entry: Quantity, work: Work) -> str:
    return "" if value is None else written(value, entry.writing, work.units)


def _field(path: tuple[str, ...]) -> Any:
    """Description of an entry in the plan's model."""
    from energyplan.plan.model import Batch, Circuit, Extension, SecondHeater, Site, Vessel

    models: dict[tuple[str, ...], Any] = {
        ("vessel",): Vessel, ("batch",): Batch, ("site",): Site, ("circuit",): Circuit,
        ("circuit", "extension"): Extension, ("second_heater",): SecondHeater,
    }  # fmt: skip
    fields = models[path[:-1]].model_fields
    return next(field for name, field in fields.items() if (field.alias or name) == path[-1])


def _default(entry: Quantity, work: Work) -> str:
    """What is taken when the entry stays empty, in words."""
    default = _field(entry.path).default
    if not isinstance(default, float):
        return ""
    return f"{written(f'{default!r} {entry.writing.kind.unit}', entry.writing, work.units)} if left empty"


def _default_number(entry: Number) -> str:
    default = _field(entry.path).default
    return f"{default:g} if left empty" if isinstance(default, float) else "not entered"


def _take_text(path: tuple[str, ...], key: str) -> None:
    text = st.session_state[key].strip()
    _take(path, text or None)


def _take_value(path: tuple[str, ...], key: str) -> None:
    _take(path, st.session_state[key])


def _take(path: tuple[str, ...], value: Any) -> None:
    current().enter(path, value)


def _fault(work: Work, path: tuple[str, ...]) -> None:
    if path in work.faults:
        problems(work.faults[path], what="Not taken over")


def _ready_step(work: Work, tables: dict[str, Any]) -> None:
    if entry_of(tables, ("second_heater", "power")) is None:
        return
    names = [step.name for step in work.plan.steps]
    key, now = _key(work, "ready"), entry_of(tables, ("second_heater", "ready_at_step"))
    st.selectbox(
        "Its water is wanted at", names, names.index(now) if now in names else None, key=key,
        width=420, on_change=_take_value, args=(("second_heater", "ready_at_step"), key),
    )  # fmt: skip
    _fault(work, ("second_heater", "ready_at_step"))


def _rows(work: Work, tables: dict[str, Any], table: RowTable, title: str) -> None:
    """An editor for a list; what is typed is checked when a cell is left."""
    shown = cells(entry_of(tables, table.path) or [], table, work.units)
    table_editor(shown, table, title=title, key=_key(work, *table.path), take=_take_rows)
    _fault(work, table.path)


def _take_rows(table: RowTable, key: str) -> None:
    work = current()
    before = entry_of(plan_tables(work.base), table.path) or []
    try:
        work.enter(table.path, edited(before, table, st.session_state[key]))
    except EnergyPlanError as error:
        work.faults[table.path] = error


def _steps(work: Work, tables: dict[str, Any]) -> None:
    st.subheader("Steps", anchor=False)
    quiet("In the order in which they come; add a row at the end, tick rows to delete them.")
    _rows(work, tables, STEPS, "The steps of the day")
    names = [step.name for step in work.plan.steps]
    with st.container(horizontal=True, vertical_alignment="bottom", gap="small"):
        place = st.selectbox(
            "One step", range(len(names)), format_func=lambda index: names[index], key="one_step", width=260
        )  # fmt: skip
        for words, icon, by in (("Up", ":material/arrow_upward:", -1), ("Down", ":material/arrow_downward:", 1)):
            st.button(words, key=f"move_{words}", icon=icon, on_click=_move, args=(place, by))
    with st.expander("This step, entry by entry"):
        _one_step(work, place or 0)


def _one_step(work: Work, place: int) -> None:
    row = cells(entry_of(plan_tables(work.plan), STEPS.path), STEPS, work.units)[place]
    card(row, STEPS, key=lambda column: _key(work, "step", str(place), column), take=partial(_take_cell, place))


def _take_cell(place: int, column: str, key: str) -> None:
    change = {"edited_rows": {place: {column: st.session_state[key]}}}
    _replace_steps(lambda rows: edited(rows, STEPS, change))


def _move(place: int | None, by: int) -> None:
    if place is not None:
        last = len(current().plan.steps) - 1
        st.session_state["one_step"] = min(max(place + by, 0), last)
        _replace_steps(lambda rows: moved(rows, place, by))


def _replace_steps(change: Callable[[list[Any]], list[Any]]) -> None:
    """Change the steps from outside their table, which then begins anew; or keep in mind why that can't be."""
    work = current()
    try:
        if work.enter(STEPS.path, change(_rows_now(work))):
            work.redraw()
    except EnergyPlanError as error:
        work.faults[STEPS.path] = error


def _rows_now(work: Work) -> list[Any]:
    """The steps as the form has them: those that wait to be taken, else those of the plan."""
    rows: list[Any] = work.pending.get(STEPS.path) or entry_of(plan_tables(work.plan), STEPS.path)
    return rows
