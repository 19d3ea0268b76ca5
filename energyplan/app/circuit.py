"""The page Circuit: the amperes of the day against every rating, findings, mends, other breakers."""

from functools import lru_cache
from typing import Any

import streamlit as st

from energyplan.advice.answer import Answer
from energyplan.app.answers import answer_of, mends_of, ramps_of
from energyplan.app.desk import Desk
from energyplan.app.editing import entry_of, plan_tables
from energyplan.app.pieces import (
    chart,
    finding_rows,
    folded,
    plain,
    problems,
    quiet,
    said,
    show_table,
    style,
)
from energyplan.app.state import Work, current
from energyplan.base.errors import EnergyPlanError
from energyplan.base.sentence import Sentence, words
from energyplan.faces.charttheme import ChartLook, Document
from energyplan.faces.daychart import current_chart
from energyplan.plan.model import Plan
from energyplan.tariffs.clock import zone_of
from energyplan.telling.circuit import (
    RATINGS_CAUTION,
    circuit_headline,
    circuit_numbers,
    tell_enough,
    tell_findings,
    voltage_table,
)
from energyplan.telling.currents import currents_told
from energyplan.telling.findings import LEGEND, done_told
from energyplan.telling.ramps import ramps_told

__all__ = ["first", "loads_by_breaker", "page"]

SECOND = ("second_heater", "own_circuit")


HERE, ELSEWHERE = ("other_load",), ("house_load",)


def loads_by_breaker(work: Work) -> None:
    """Show the switches; nothing where only the vessel hangs on the circuit."""
    tables = plan_tables(work.plan)
    here, elsewhere = (entry_of(tables, path) or [] for path in (HERE, ELSEWHERE))
    if not here and not elsewhere and work.plan.second_heater is None:
        return
    st.header("On this breaker", anchor=False)
    quiet("Switched off: it hangs on another breaker. It is still paid for, and no longer part of this circuit.")
    with st.container(horizontal=True, gap="large", key="breakers"):
        if work.plan.second_heater is not None:
            key = f"on_second_{work.version}"
            on = not work.plan.second_heater.own_circuit
            st.toggle("Second water heater", on, key=key, on_change=_move_second, args=(key,))
        for path, rows in ((HERE, here), (ELSEWHERE, elsewhere)):
            for place, row in enumerate(rows):
                key = f"on_{path[0]}_{place}_{row['name']}_{work.version}"
                st.toggle(plain(row["name"]), path == HERE, key=key, on_change=_move, args=(path, place))


def _move_second(key: str) -> None:
    current().enter(SECOND, None if st.session_state[key] else True)


def _move(path: tuple[str, ...], place: int) -> None:
    """Move a load to the other breaker."""
    work = current()
    tables = plan_tables(work.plan)
    other = ELSEWHERE if path == HERE else HERE
    rows: list[Any] = list(entry_of(tables, path))
    moved = rows.pop(place)
    work.enter_together({path: rows, other: [*(entry_of(tables, other) or []), moved]})
    work.redraw()


def first(at_hand: Desk) -> None:
    """Show the verdict, its numbers and the chart."""
    if (answer := at_hand.answered()) is None:
        return
    at_hand.headline(words(circuit_headline(answer), style()))
    check, drawn = answer.circuit, _drawn(answer, at_hand.look)
    if check is not None and drawn is not None:
        with at_hand.head:
            said(circuit_numbers(check))
        chart(drawn, key="current_chart")


@lru_cache(maxsize=16)
def _drawn(answer: Answer, look: ChartLook) -> Document | None:
    if answer.circuit is None:
        return None
    return current_chart(currents_told(answer, answer.circuit), look, description=CURRENT_WORDS)


# The same for all days, as those of the day's chart are.
CURRENT_WORDS = "Current of each appliance over the day, against the ratings. The numbers stand in the fold below."


def page(at_hand: Desk) -> None:
    """Show the rest of the page."""
    if (answer := at_hand.answer) is None:
        return
    check, findings = answer.circuit, tell_findings(answer)
    if check is None:
        finding_rows(findings)
        st.text("Enter what you know of the circuit on the page Your brewery: its voltage is enough for a start.")
        return
    finding_rows(found for found in findings if found.severity != "ok")
    _mends(at_hand, answer)
    loads_by_breaker(at_hand.work)
    if answer.is_over:
        _ways_out(at_hand, answer)
    if fold := folded("The numbers behind the chart", "current_numbers"):
        spans = currents_told(answer, check).table("currents")
        with fold:
            show_table(spans, alt="Current of each appliance over time, with its elements on")
    enough = tell_enough(answer)
    st.header(enough.title, anchor=False)
    said(*enough.sentences)
    st.header("What else was checked", anchor=False)
    finding_rows(found for found in findings if found.severity == "ok")
    st.header("At other voltages", anchor=False)
    show_table(voltage_table(check), alt="Largest currents at the voltages of the supply")
    quiet(f"{RATINGS_CAUTION} {LEGEND}")


def _mends(at_hand: Desk, answer: Answer) -> None:
    """A button for each remedy that an entry can show, beside the verdict that it leads to."""
    found = mends_of(answer.day.plan, at_hand.tariff, answer.start)
    if not found:
        return
    st.header("What would mend it", anchor=False)
    quiet("A button enters it here and shows what follows; the work itself is an electrician's. Undo takes it back.")
    for place, one in enumerate(found):
        after = one.plan.circuit
        if after is not None:
            _choice(
                at_hand, one.plan, words(done_told(one.remedy, after), style()), circuit_headline(one.after), str(place)
            )


def _choice(at_hand: Desk, plan: Plan, label: str, result: Sentence, name: str) -> None:
    """A button with its result beside it, before it is pressed."""
    with st.container(horizontal=True, vertical_alignment="center", gap="medium", key=f"mend_{name}"):
        st.button(plain(label), key=f"take_{name}", on_click=at_hand.work.replace, args=(plan,))
        said(Sentence("Then: {result}", result=result))


def _ways_out(at_hand: Desk, answer: Answer) -> None:
    """Ramp powers that keep the ratings, and what else does."""
    st.header("What keeps the ratings", anchor=False)
    try:
        with st.spinner("Trying ramp powers"):
            found = ramps_of(at_hand.plan, answer.start, answer.zone, answer.learned)
    except EnergyPlanError as error:
        problems(error, what="No way out was found")
        return
    told = ramps_told(found, zone_of(answer.zone))
    show_table(told.table("ramps"), alt="Set and fastest power of each ramp that keeps the ratings")
    if found.plan != at_hand.plan:
        after = answer_of(found.plan, at_hand.tariff, answer.start)
        _choice(at_hand, found.plan, "Take these ramp powers", circuit_headline(after), "ramps")
    said(*told.sentences[1:], *told.cautions)
