"""Circuit: what flows over the day against every rating that was entered."""

import streamlit as st

from energyplan.advice.answer import Answer
from energyplan.app.answers import ramps_of
from energyplan.app.breakers import loads_by_breaker
from energyplan.app.desk import Desk
from energyplan.app.pictures import current_document
from energyplan.app.pieces import chart, finding_rows, problems, quiet, said, show_table
from energyplan.base.errors import EnergyPlanError
from energyplan.tariffs.clock import zone_of
from energyplan.telling.circuit import RATINGS_CAUTION, circuit_headline, circuit_numbers, tell_findings, voltage_table
from energyplan.telling.currents import currents_told
from energyplan.telling.findings import LEGEND
from energyplan.telling.ramps import ramps_told

__all__ = ["page"]


def page(at_hand: Desk) -> None:
    """Show the page."""
    answer = at_hand.answered()
    if answer is None:
        return
    at_hand.headline(str(circuit_headline(answer)))
    check, drawn = answer.circuit, current_document(answer, at_hand.look)
    findings = tell_findings(answer)
    if check is None or drawn is None:
        finding_rows(findings)
        st.text("Enter what you know of the circuit on the page Your brewery: its voltage is enough for a start.")
        return
    with at_hand.head:
        said(circuit_numbers(check))
    finding_rows(found for found in findings if found.severity != "ok")
    chart(drawn, key="current_chart")
    loads_by_breaker(at_hand.work)
    if answer.is_over:
        _ways_out(at_hand, answer)
    behind = st.expander("The numbers behind the chart", key="current_numbers", on_change="rerun")
    if behind.open:
        spans = currents_told(answer, check).table("currents")
        with behind:
            show_table(spans, alt="Current of each appliance over time, with its elements on")
    st.subheader("What else was checked", anchor=False)
    finding_rows(found for found in findings if found.severity == "ok")
    st.subheader("At other voltages", anchor=False)
    show_table(voltage_table(check), alt="Largest currents at the voltages of the supply")
    quiet(f"{RATINGS_CAUTION} {LEGEND}")


def _ways_out(at_hand: Desk, answer: Answer) -> None:
    """Ramp powers that keep the ratings, and what else does."""
    st.subheader("What keeps the ratings", anchor=False)
    try:
        with st.spinner("Trying ramp powers"):
            found = ramps_of(at_hand.plan, answer.start, answer.zone)
    except EnergyPlanError as error:
        problems(error, what="No way out was found")
        return
    told = ramps_told(found, zone_of(answer.zone))
    show_table(told.table("ramps"), alt="Set and fastest power of each ramp that keeps the ratings")
    if found.plan != at_hand.plan:
        st.button(
            "Take these ramp powers",
            key="take_ramps",
            on_click=at_hand.work.replace,
            args=(found.plan,),
        )
    said(*told.sentences[1:], *told.cautions)
