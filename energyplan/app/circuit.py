"""Circuit: what flows over the day against every rating that was entered."""

import streamlit as st

from energyplan.advice.answer import Answer
from energyplan.app.answers import ramps_of
from energyplan.app.desk import Desk
from energyplan.app.pictures import current_document
from energyplan.app.pieces import chart, finding_rows, problems, quiet, sentences, table
from energyplan.app.words import circuit_headline
from energyplan.base.errors import EnergyPlanError
from energyplan.circuits.check import CircuitCheck
from energyplan.report.sentences import CAUTIONS
from energyplan.report.tables import current_table, ramp_table, voltage_table

__all__ = ["page"]

ORDER = ("over", "note", "ok")
SPAN_LABELS = {"current_a": "Draws, A", "to_a": "With those below it, A"}
VOLTAGE_LABELS = {"voltage_v": "V", "elements_percent": "Elements, %", "whole_circuit_a": "All, A"}


def page(at_hand: Desk) -> None:
    """Show the page."""
    answer = at_hand.answered()
    if answer is None:
        return
    at_hand.headline(circuit_headline(answer))
    check, drawn = answer.circuit, current_document(answer, at_hand.look)
    if check is None or drawn is None:
        finding_rows(answer.findings)
        st.text("Enter what you know of the circuit on the page Your brewery: its voltage is enough for a start.")
        return
    with at_hand.head:
        st.text(_numbers(check))
    told = [finding for finding in answer.findings if finding.severity != "ok"]
    finding_rows(sorted(told, key=lambda finding: ORDER.index(finding.severity)))
    chart(drawn, key="current_chart")
    if answer.is_over:
        _ways_out(at_hand, answer)
    behind = st.expander("The numbers behind the chart", key="current_numbers", on_change="rerun")
    if behind.open:
        spans = current_table(check, answer.clock)[["appliance", "start_clock", "end_clock", "current_a", "to_a"]]
        with behind:
            table(spans, alt="Current of each appliance over time, with its elements on", labels=SPAN_LABELS)
    st.subheader("What else was checked", anchor=False)
    finding_rows([finding for finding in answer.findings if finding.severity == "ok"])
    st.subheader("At other voltages", anchor=False)
    table(
        voltage_table(check),
        alt="Largest currents at the voltages of the supply",
        labels=VOLTAGE_LABELS,
    )
    quiet(CAUTIONS[1])


def _ways_out(at_hand: Desk, answer: Answer) -> None:
    """Ramp powers that keep the ratings, and what else does."""
    st.subheader("What keeps the ratings", anchor=False)
    try:
        with st.spinner("Trying ramp powers"):
            found = ramps_of(at_hand.plan, answer.start, answer.zone)
    except EnergyPlanError as error:
        problems(error, what="No way out was found")
        return
    table(ramp_table(found), alt="Set and fastest power of each ramp that keeps the ratings")
    if found.plan != at_hand.plan:
        st.button(
            f"Take these ramp powers: {found.added_min:+.0f} min, {found.added_kwh:+.2f} kWh",
            key="take_ramps",
            on_click=at_hand.work.replace,
            args=(found.plan,),
        )
    for way in found.ways_out:
        left = f" Still over: {', '.join(way.over)}." if way.over else ""
        st.text(f"{way.words.rstrip('.')}: {way.added_min:+.0f} min, {way.added_kwh:+.2f} kWh.{left}")
    sentences(*found.notes)


def _numbers(check: CircuitCheck) -> str:
    return (
        f"{check.peak_a:.1f} A with all elements on, {check.longest_at_peak_min:.0f} min at the longest; "
        f"{check.rms_60_min_a:.1f} A over the worst hour; {check.voltage_drop_v:.1f} V "
        f"({check.voltage_drop_frac:.1%}) lost in the leads."
    )
