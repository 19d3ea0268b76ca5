"""The page When: the price of every start, working back from a time, waiting on cheap heat, the year's habit."""

from dataclasses import replace
from datetime import date, datetime, time, timedelta
from typing import Any

import streamlit as st

from energyplan.advice.answer import Answer
from energyplan.advice.starts import Goal, StartsAnswer, StartsQuestion, start_for, usual_hours
from energyplan.app.answers import start_of, starts_of
from energyplan.app.desk import Desk
from energyplan.app.header import WEEKDAYS
from energyplan.app.pieces import chart, problems, quiet, said, show_table
from energyplan.app.state import current
from energyplan.base.errors import EnergyPlanError
from energyplan.base.kinds import DATED
from energyplan.base.sentence import Sentence
from energyplan.faces.charttheme import DARK
from energyplan.faces.weekchart import cost_by_start
from energyplan.tariffs.clock import to_local
from energyplan.telling.day import switch_on_sentence
from energyplan.telling.starts import habit_told, starts_told, waiting_told
from energyplan.telling.told import Told

__all__ = ["by_a_time", "page", "take_start"]

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


LONGEST_DAYS = 21


DAYS = 7


def page(at_hand: Desk) -> None:
    """Show the page."""
    answer = at_hand.answered()
    if answer is None:
        return
    if at_hand.tariff is None:
        at_hand.headline("Without a tariff every start costs the same.")
        st.text("Choose a tariff above, or open your own.")
        by_a_time(at_hand, answer)
        return
    picture, inputs = st.columns([3, 1], gap="large")
    with inputs:
        question = _question(at_hand, answer)
    try:
        found = starts_of(at_hand.plan, at_hand.tariff, question)
    except EnergyPlanError as error:
        at_hand.headline("No start can be chosen yet.")
        with picture:
            problems(error, what="What is in the way")
        return
    told = starts_told(found)
    at_hand.headline(told.headline or told.title)
    with picture:
        if not told.facts["every_start_the_same"]:
            _picture(at_hand, found, told)
    said(*told.sentences)
    by_a_time(at_hand, answer)
    if not told.facts["every_start_the_same"]:
        _waiting(at_hand, question)
    _habit(at_hand, question)


def _picture(at_hand: Desk, found: StartsAnswer, told: Told) -> None:
    """The prices of each kind of day with the cost of the day over them, and the table behind."""
    drawn = cost_by_start(told, at_hand.look, description=f"Cost of the day by its start. {told.headline}")
    chart(drawn, key="cost_by_start")
    _take_best(found)
    dearer = "lighter" if at_hand.look is DARK else "darker"
    quiet(
        f"The line is what the day costs by its start; behind it the price, {found.line.currency} a kWh, the {dearer} "
        "the dearer. Days that are alike share a row; where there is no line, no start suits you."
    )
    left_out = told.facts["more_days"].raw
    if left_out:
        quiet(f"{left_out} more kinds of days are in the table only.")
    st.header("The best start of each day", anchor=False)
    show_table(told.facts["best_per_day"], alt="Best start of each day with its cost")


def _question(at_hand: Desk, answer: Answer) -> StartsQuestion:
    first: date = st.date_input(
        "From", at_hand.wall.date(), key="when_from", format="YYYY-MM-DD", persist_state="session"
    )  # fmt: skip
    days = st.number_input("Days to look at", 1, LONGEST_DAYS, DAYS, key="when_days", persist_state="session")
    quiet("The hours in the bar above hold here.")
    hours = usual_hours(at_hand.plan)
    return StartsQuestion(first=first, last=first + timedelta(days=int(days) - 1), hours=hours, now=answer.start)


def _take_best(found: StartsAnswer) -> None:
    best = to_local(found.search.best.start, found.search.zone)
    label = Sentence("Start then: {best}", best=DATED(best))
    st.button(str(label), key="take_best", on_click=take_start, args=(best,))


def _waiting(at_hand: Desk, question: StartsQuestion) -> None:
    with st.expander("Heat the strike water while it is cheap, and keep it"):
        at: time | None = st.time_input("Mash in at", time(10), key="when_mash", step=900, persist_state="session")
        if at is None:
            return
        asked = _asked(at_hand, question, at)
        found = None if asked is None else asked.waiting
        if found is not None:
            _show(waiting_told(found, at_hand.answer.zone if at_hand.answer else "UTC"))


def _asked(at_hand: Desk, question: StartsQuestion, mash_at: time) -> StartsAnswer | None:
    try:
        ready = start_of(at_hand.plan, at_hand.tariff, datetime.combine(at_hand.wall.date(), mash_at))
        return _found(at_hand, replace(question, mash_at=ready))
    except EnergyPlanError as error:
        problems(error, what="That can't be worked out")
        return None


def _found(at_hand: Desk, question: StartsQuestion) -> StartsAnswer | None:
    return None if at_hand.tariff is None else starts_of(at_hand.plan, at_hand.tariff, question)


def _show(told: Told) -> None:
    said(*([told.headline] if told.headline else []), *told.sentences, *told.cautions)


def _habit(at_hand: Desk, question: StartsQuestion) -> None:
    with st.expander("What a habit costs in a year"):
        columns = st.columns(3)
        weekday: Any = columns[0].selectbox(
            "Always on", list(WEEKDAYS), index=5, format_func=str.capitalize, key="habit_day",
            persist_state="session",
        )  # fmt: skip
        at: time | None = columns[1].time_input("At", time(9), key="habit_at", step=900, persist_state="session")
        brews = columns[2].number_input("Brews in a year", 1, 52, 20, key="habit_brews", persist_state="session")
        if not st.toggle("Work it out", key="habit_go") or at is None:
            return
        asked = replace(question, habit=(list(WEEKDAYS).index(weekday), at), brews=int(brews))
        try:
            with st.spinner("Costing a year of brews"):
                found = _found(at_hand, asked)
        except EnergyPlanError as error:
            problems(error, what="That can't be worked out")
            return
        if found is not None and found.habit is not None:
            _show(habit_told(found.habit))
