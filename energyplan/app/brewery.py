"""The page Your brewery: what stays the same from brew to brew."""

import math
from collections.abc import Callable
from datetime import UTC, date, datetime
from functools import lru_cache, partial
from typing import Any

import streamlit as st

from energyplan.app import vessel
from energyplan.app.answers import Prices, prices_of
from energyplan.app.desk import Desk
from energyplan.app.editing import entry_of, plan_tables
from energyplan.app.entries import SECTIONS, Section
from energyplan.app.fields import fault, grid, key_of
from energyplan.app.firstcard import rows_assumed
from energyplan.app.pieces import chart, chosen_part, folded, notes, quiet, said, show_table, style
from energyplan.app.priceform import form, messages
from energyplan.app.rows import (
    ELEMENTS,
    LOADS,
    STEPS,
    RowTable,
    card,
    cells,
    edited,
    edited_so_far,
    moved,
    table_editor,
)
from energyplan.app.state import Work, current, file_stem
from energyplan.app.tariffdraft import TariffDraft, begun, placed
from energyplan.base.errors import EnergyPlanError
from energyplan.base.kinds import DAY, LITRES, WRITTEN
from energyplan.base.sentence import Sentence, words
from energyplan.faces.charttheme import ChartLook, Document
from energyplan.faces.weekchart import week_chart
from energyplan.telling.circuit import circuit_headline
from energyplan.telling.prices import prices_told
from energyplan.telling.told import Told

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
        at_hand.headline(words(circuit_headline(at_hand.answer), style()))
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
    if section.further and (fold := folded(f"{section.title}: what has a usual value", f"usual_{section.title}")):
        with fold:
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
    key = key_of(work, *table.path)
    shown = cells(_begun(work, table, key), table, work.units)
    table_editor(shown, table, title=title, key=key, take=_take_rows)
    rows_assumed(work, table.path)
    fault(work, table.path)


def _begun(work: Work, table: RowTable, key: str) -> list[Any]:
    """The rows with which an editor began: those that waited to be taken then, else those of the plan."""
    name = f"begun_{'_'.join(table.path)}"
    if name not in st.session_state or st.session_state[name][0] != key:
        st.session_state[name] = key, work.pending.get(table.path) or entry_of(plan_tables(work.base), table.path) or []
    rows: list[Any] = st.session_state[name][1]
    return rows


def _take_rows(table: RowTable, key: str) -> None:
    """Take what can be read; a cell that can't leaves the others alone."""
    work = current()
    rows, error = edited_so_far(_begun(work, table, key), table, st.session_state[key], work.units)
    work.enter(table.path, rows)
    if error is not None:
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
    if fold := folded("This step, entry by entry", "one_step"):
        with fold:
            _one_step(work, place or 0)


def _one_step(work: Work, place: int) -> None:
    row = cells(entry_of(plan_tables(work.plan), STEPS.path), STEPS, work.units)[place]
    card(row, STEPS, key=lambda column: key_of(work, "step", str(place), column), take=partial(_take_cell, place))


def _take_cell(place: int, column: str, key: str) -> None:
    change = {"edited_rows": {place: {column: st.session_state[key]}}}
    _replace_steps(lambda rows: edited(rows, STEPS, change, current().units))


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


# Prices: what a kWh costs and when, changed in place ---------------------------------------------------------


def prices_page(at_hand: Desk) -> None:
    """Show the part: the week first, the form that makes it below."""
    work = at_hand.work
    draft = _draft(work, at_hand)
    day = st.session_state.get("prices_week") or at_hand.wall.date()
    found = prices_of(draft.source, day, datetime.now(UTC).date())
    told = _told(found)
    _answer(at_hand, draft, found, told)
    _week_of(at_hand.wall.date())
    drawn = _document(found, at_hand.look)
    if told is not None and drawn is not None:
        _week(told, drawn)
    if told is not None and told.facts["tiers"].rows:
        _month_use(at_hand.work)
    _hand_over(draft, found)
    form(draft, placed(found.problems))


def _draft(work: Work, at_hand: Desk) -> TariffDraft:
    """The draft of the tariff on the desk; begun anew when another one was put there."""
    if work.draft is None or work.draft.origin != work.tariff:
        work.draft = begun(work.tariff, at_hand.plan.site.time_zone)
    return work.draft


def _answer(at_hand: Desk, draft: TariffDraft, found: Prices, told: Told | None) -> None:
    if found.problems or told is None or told.headline is None:
        at_hand.headline("These prices don't fit together yet.")
    else:
        at_hand.headline(words(told.headline, style()))
    with at_hand.head:
        if draft.origin is None:
            st.text("No tariff is on the desk; here is one price for the whole day to begin with.")
        if told is not None:
            said(*told.sentences)
            notes([one for one in told.findings if one.severity == "note"])


def _week_of(start: date) -> None:
    st.date_input("Week of", start, key="prices_week", format="YYYY-MM-DD", width=200)


@lru_cache(maxsize=32)
def _told(found: Prices) -> Told | None:
    """A tariff in words; None while it doesn't read."""
    return None if found.tariff is None or found.check is None else prices_told(found.tariff, found.check)


@lru_cache(maxsize=32)
def _document(found: Prices, look: ChartLook) -> Document | None:
    """The chart of a week, drawn once for each tariff and theme; None while there is no week."""
    told = _told(found)
    if told is None or not told.facts["week"].rows:
        return None
    heard = f"Prices of each hour of a week. {told.headline} The table below has the numbers."
    return week_chart(told, look, description=heard)


def _week(told: Told, drawn: Document) -> None:
    chart(drawn, key="week")
    holidays = dict.fromkeys((row["day"], row["holiday"]) for row in told.facts["week"] if row["holiday"])
    for day, name in holidays:
        said(Sentence("* {day}: {name}", day=DAY(day), name=WRITTEN(name)))
    if fold := folded("The numbers behind the chart", "week_numbers"):
        with fold:
            show_table(told.facts["days_alike"], alt="Prices of the week by day and hour, tax and add-ons included")
    for key in ("tiers", "holidays"):
        if told.facts[key].rows:
            show_table(told.facts[key], alt=told.facts[key].title)


def _month_use(work: Work) -> None:
    """Ask for what the month has used so far, on which the steps of the tariff depend."""
    supply = work.plan.supply
    st.session_state["month_kwh"] = None if supply is None else supply.month_kwh_so_far
    st.number_input(
        "Used this month so far, kWh", 0.0, None, step=10.0, key="month_kwh", on_change=_take_month_use, width=260,
        placeholder="not entered", help="As the meter or the supplier's page says; it decides which step the day is on",
    )  # fmt: skip


def _take_month_use() -> None:
    current().enter(("supply", "month_kwh_so_far"), st.session_state["month_kwh"])


def _hand_over(draft: TariffDraft, found: Prices) -> None:
    """Put the draft on the desk, save it, or drop it."""
    is_sound = not found.problems
    if draft.is_changed:
        st.markdown(":orange[**● Changed, not on the desk yet.**]" if is_sound else ":red[**▲ Mend what is marked.**]")
    with st.container(horizontal=True, gap="small"):
        st.button(
            "Use these prices", key="use_prices", type="primary", disabled=not (is_sound and draft.is_changed),
            on_click=_use, help="Every page then answers with them",
        )  # fmt: skip
        st.download_button(
            "Save the tariff", draft.toml, f"{file_stem(str(draft.table.get('name', 'tariff')))}.toml",
            "application/toml", key="save_tariff", on_click="ignore", disabled=not is_sound,
            help="A file for this app and for the command line",
        )  # fmt: skip
        if draft.is_changed and draft.origin is not None:
            st.button("Back to the tariff on the desk", key="drop_prices", on_click=_drop)
    if draft.named_series:
        quiet(f"The tariff names {', '.join(name for name, _ in draft.named_series)}; keep that file beside it.")
    messages(placed(found.problems).get("", ()))


def _use() -> None:
    work = current()
    if work.draft is not None:
        work.use_tariff(work.draft.source)


def _drop() -> None:
    current().draft = None


PARTS = ("Vessel and place", "Circuit", "Prices")


def page(at_hand: Desk) -> None:
    """Show the page."""
    part = chosen_part("your-brewery", PARTS)
    if part == PARTS[2]:
        prices_page(at_hand)
    elif part == PARTS[1]:
        circuit_form(at_hand)
    else:
        vessel.page(at_hand)
        vessel_form(at_hand.work)
