"""The page Your brewery: what stays the same from brew to brew."""

import math
from collections.abc import Callable
from functools import partial
from typing import Any

import streamlit as st

from energyplan.app import prices, vessel
from energyplan.app.desk import Desk
from energyplan.app.editing import entry_of, plan_tables
from energyplan.app.entries import SECTIONS, Section
from energyplan.app.fields import fault, grid, key_of
from energyplan.app.firstcard import rows_assumed
from energyplan.app.pieces import chosen_part, quiet, said
from energyplan.app.rows import ELEMENTS, LOADS, STEPS, RowTable, card, cells, edited, moved, table_editor
from energyplan.app.state import Work, current
from energyplan.base.errors import EnergyPlanError
from energyplan.base.kinds import LITRES
from energyplan.base.sentence import Sentence
from energyplan.telling.circuit import circuit_headline

__all__ = ["PARTS", "circuit_form", "day_form", "page", "vessel_form"]


def day_form(work: Work) -> None:
    """What differs from day to day: name, batch, steps, second heater."""
    _, batch, second, _, _ = SECTIONS
    _title(work)
    _section(work, batch)
    _steps(work)
    _section(work, second)
    _ready_step(work)


def vessel_form(work: Work) -> None:
    """Vessel, elements and place: what stays the same from day to day."""
    vessel, _, _, place, _ = SECTIONS
    _section(work, vessel)
    _holds(work)
    _rows(work, ELEMENTS, "Elements, one row each")
    _section(work, place)


def circuit_form(at_hand: Desk) -> None:
    """The circuit, and what else hangs on it."""
    work = at_hand.work
    if at_hand.answer is None:
        at_hand.answered()
    else:
        at_hand.headline(str(circuit_headline(at_hand.answer)))
    _section(work, SECTIONS[-1])
    _rows(work, LOADS, "What else hangs on the circuit")


def _holds(work: Work) -> None:
    """What the vessel holds, up to its rim."""
    vessel = work.plan.vessel
    volume_l = 1000 * math.pi / 4 * vessel.diameter_m**2 * vessel.height_m
    said(Sentence("It holds {volume} up to the rim.", volume=LITRES(volume_l)))


def _title(work: Work) -> None:
    key = key_of(work, "title")
    st.text_input(
        "Name of the day", work.base.title, key=key, max_chars=80, on_change=_take_text, args=(("title",), key)
    )  # fmt: skip
    fault(work, ("title",))


def _section(work: Work, section: Section) -> None:
    st.header(section.title, anchor=False)
    quiet(section.words)
    grid(work, section.entries)
    if section.further:
        with st.expander(f"{section.title}: what has a usual value"):
            grid(work, section.further)


def _take_text(path: tuple[str, ...], key: str) -> None:
    current().enter(path, st.session_state[key].strip() or None)


def _take_value(path: tuple[str, ...], key: str) -> None:
    current().enter(path, st.session_state[key])


def _ready_step(work: Work) -> None:
    tables = plan_tables(work.base)
    if entry_of(tables, ("second_heater", "power")) is None:
        return
    names = [step.name for step in work.plan.steps]
    key, now = key_of(work, "ready"), entry_of(tables, ("second_heater", "ready_at_step"))
    st.selectbox(
        "Its water is wanted at", names, names.index(now) if now in names else None, key=key,
        width=420, on_change=_take_value, args=(("second_heater", "ready_at_step"), key),
    )  # fmt: skip
    fault(work, ("second_heater", "ready_at_step"))


def _rows(work: Work, table: RowTable, title: str) -> None:
    """An editor for a list; what is typed is checked when a cell is left."""
    shown = cells(entry_of(plan_tables(work.base), table.path) or [], table, work.units)
    table_editor(shown, table, title=title, key=key_of(work, *table.path), take=_take_rows)
    rows_assumed(work, table.path)
    fault(work, table.path)


def _take_rows(table: RowTable, key: str) -> None:
    work = current()
    before = entry_of(plan_tables(work.base), table.path) or []
    try:
        work.enter(table.path, edited(before, table, st.session_state[key]))
    except EnergyPlanError as error:
        work.faults[table.path] = error


def _steps(work: Work) -> None:
    st.header("Steps", anchor=False)
    quiet("In the order in which they come; add a row at the end, tick rows to delete them.")
    _rows(work, STEPS, "The steps of the day")
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
    card(row, STEPS, key=lambda column: key_of(work, "step", str(place), column), take=partial(_take_cell, place))


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


PARTS = ("Vessel and place", "Circuit", "Prices")


def page(at_hand: Desk) -> None:
    """Show the page."""
    part = chosen_part("your-brewery", PARTS)
    if part == PARTS[2]:
        prices.page(at_hand)
    elif part == PARTS[1]:
        circuit_form(at_hand)
    else:
        vessel.page(at_hand)
        vessel_form(at_hand.work)
