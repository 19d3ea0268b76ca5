"""Planning backwards: the start that brings the boil, the vessel's end or everybody's end to a wanted time."""

from datetime import datetime, time

import streamlit as st

from energyplan.advice.answer import Answer
from energyplan.advice.backwards import Goal, start_for
from energyplan.app.answers import start_of
from energyplan.app.desk import Desk
from energyplan.app.pieces import problems, said
from energyplan.app.state import current
from energyplan.base.errors import EnergyPlanError
from energyplan.tariffs.clock import to_local
from energyplan.telling.day import switch_on_sentence

__all__ = ["by_a_time", "take_start"]

GOALS: dict[Goal, str] = {"boil": "The boil", "finish": "The vessel's end", "clean": "All chilled and cleaned"}


def by_a_time(at_hand: Desk, answer: Answer) -> None:
    """Ask for a goal and a time, show when to switch on, and take that start."""
    with st.container(border=True):
        what, when = st.columns([2, 1], vertical_alignment="bottom")
        goal: Goal | None = what.segmented_control(
            "Work back from", list(GOALS), default="finish", format_func=lambda one: GOALS[one],
            key="goal", persist_state="session",
        )  # fmt: skip
        at: time | None = when.time_input("At", time(13), step=900, key="goal_at", persist_state="session")
        if goal is None or at is None:
            return
        try:
            start = _start(at_hand, answer, goal, at)
        except EnergyPlanError as error:
            problems(error, what="No start does that")
            return
        said(switch_on_sentence(start))
        st.button("Start then", key="take_goal", on_click=take_start, args=(start,))


def _start(at_hand: Desk, answer: Answer, goal: Goal, at: time) -> datetime:
    """The start on the local clock."""
    wanted = start_of(at_hand.plan, at_hand.tariff, datetime.combine(at_hand.wall.date(), at))
    return to_local(start_for(answer.day, goal, wanted), answer.zone)


def take_start(start: datetime) -> None:
    """Move the day's start."""
    current().start_at(start)
