"""A brewed day beside its plan: what each phase took, the likely cause, what to change next time."""

import streamlit as st

from energyplan.advice.answer import Answer
from energyplan.app.answers import LogText, log_of, measured_day_of
from energyplan.app.desk import Desk
from energyplan.app.pieces import chart, problems, quiet, sentences, table
from energyplan.app.sidewords import log_headline, next_time, time_sentence
from energyplan.base.errors import EnergyPlanError
from energyplan.day.brewday import BrewDay
from energyplan.faces.charts.besidechart import beside_chart
from energyplan.learning.logfile import Log
from energyplan.learning.measured import DayComparison
from energyplan.report.besidetables import beside_points, explanation_table, measured_phase_table

__all__ = ["brewed_day"]

ALONE = "Each input changed alone until plan and log fit best; the share says how much of the difference goes with it."


def brewed_day(at_hand: Desk, answer: Answer, log: LogText) -> None:
    """Show a log beside the plan on the desk, if it is one of a whole day; or why it is no day of this plan."""
    st.subheader("The day of this log beside the plan", anchor=False)
    is_day = looks_like_a_day(log_of(log), answer.day)
    if not st.toggle("This is a log of the plan on the desk, from switching on", is_day, key=f"is_day_{log.name}"):
        quiet("A cool-down or a heat-up alone measures the vessel; it has no phases to put beside a plan.")
        return
    try:
        with st.spinner("Following the plan through the log", show_time=True):
            found = measured_day_of(log, at_hand.plan)
    except EnergyPlanError as error:
        problems(error, what="It can't be put beside the plan")
        return
    st.markdown(f"**{log_headline(found)}**")
    sentences(found.verdict, next_time(found), time_sentence(found))
    _chart(at_hand, answer, log, found)
    frame = measured_phase_table(found, at_hand.show)
    table(frame, alt="Each phase as measured and as planned", labels=_labels(at_hand))
    if found.explanations:
        with st.expander("What may explain the difference"):
            quiet(ALONE)
            table(explanation_table(found, at_hand.show), alt="Inputs that may explain the difference",
                  labels={"fits_best": "Fits best", "explains_percent": "Explains, %"})  # fmt: skip
    sentences(*found.notes)


def looks_like_a_day(log: Log, day: BrewDay) -> bool:
    """Whether a log begins cold, below half of the way to the first target, and lasts for half of the plan or more."""
    first = day.phases[0]
    is_cold = float(log.temperature_c[0]) < (first.from_c + first.to_c) / 2
    return is_cold and log.duration_s > day.duration_s / 2


def _chart(at_hand: Desk, answer: Answer, log: LogText, found: DayComparison) -> None:
    read, planned = log_of(log), answer.day.trajectory
    points = [
        *beside_points("planned", planned.times_s, planned.temperatures_c, at_hand.show),
        *beside_points("measured", read.times_s, read.temperature_c, at_hand.show),
    ]
    words = f"Temperature as planned and as measured. {log_headline(found)} The table below has the numbers."
    chart(beside_chart(points, at_hand.look, description=words), key="brewed_day")


def _labels(at_hand: Desk) -> dict[str, str]:
    """Headings short enough for a phone: the unit and whose it is."""
    key, unit = ("c", "°C") if at_hand.show.system == "metric" else ("f", "°F")
    return {
        "measured_kwh": "kWh",
        "planned_kwh": "kWh plan",
        "more_kwh": "kWh more",
        "measured_min": "min",
        "planned_min": "min plan",
        "more_min": "min more",
        f"measured_to_{key}": f"End {unit}",
        f"planned_to_{key}": f"End {unit} plan",
        "end": "Its end",
    }
