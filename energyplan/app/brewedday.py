"""A brewed day beside its plan: what each phase took, the likely cause, what to change next time."""

import streamlit as st

from energyplan.advice.answer import Answer
from energyplan.app.answers import LogText, log_of, measured_day_of
from energyplan.app.desk import Desk
from energyplan.app.pieces import chart, problems, quiet, said, show_table, style
from energyplan.app.plaintext import plain
from energyplan.base.errors import EnergyPlanError
from energyplan.base.kinds import WORD
from energyplan.base.sentence import words
from energyplan.day.brewday import BrewDay
from energyplan.faces.charts.besidechart import beside_chart
from energyplan.faces.frames import frame
from energyplan.learning.logfile import Log
from energyplan.telling.comparison import courses_table
from energyplan.telling.learning import log_told
from energyplan.telling.told import Told

__all__ = ["brewed_day"]


def brewed_day(at_hand: Desk, answer: Answer, log: LogText) -> None:
    """Show a log beside the plan on the desk, if it is one of a whole day; or why it is no day of this plan."""
    st.subheader("The day of this log beside the plan", anchor=False)
    is_day = looks_like_a_day(log_of(log), answer.day)
    if not st.toggle("This is a log of the plan on the desk, from switching on", is_day, key=f"is_day_{log.name}"):
        quiet("A cool-down or a heat-up alone measures the vessel; it has no phases to put beside a plan.")
        return
    try:
        with st.spinner("Following the plan through the log", show_time=True):
            told = log_told(measured_day_of(log, at_hand.plan))
    except EnergyPlanError as error:
        problems(error, what="It can't be put beside the plan")
        return
    st.markdown(f"**{plain(_headline(told))}**")
    said(*told.sentences)
    _chart(at_hand, answer, log, told)
    show_table(told.table("phases"), alt=told.table("phases").title)
    causes = told.table("explanations")
    if causes.rows:
        with st.expander("What may explain the difference"):
            quiet(f"{causes.title}; the share says how much of the difference goes with it.")
            show_table(causes, alt=causes.title)
    said(*told.cautions)


def _headline(told: Told) -> str:
    return "" if told.headline is None else words(told.headline, style())


def looks_like_a_day(log: Log, day: BrewDay) -> bool:
    """Whether a log begins cold, below half of the way to the first target, and lasts for half of the plan or more."""
    first = day.phases[0]
    is_cold = float(log.temperature_c[0]) < (first.from_c + first.to_c) / 2
    return is_cold and log.duration_s > day.duration_s / 2


def _chart(at_hand: Desk, answer: Answer, log: LogText, told: Told) -> None:
    read, planned = log_of(log), answer.day.trajectory
    courses = courses_table([
        (WORD("planned"), planned.times_s, planned.temperatures_c),
        (WORD("measured"), read.times_s, read.temperature_c),
    ])  # fmt: skip
    description = f"Temperature as planned and as measured. {_headline(told)} The table below has the numbers."
    chart(beside_chart(frame(courses, style()), at_hand.look, description=description), key="brewed_day")
