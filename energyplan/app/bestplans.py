"""Cheaper, quicker, gentler: ramp powers, starts and waits tried together, and one of them taken over."""

from datetime import time, timedelta

import streamlit as st

from energyplan.advice.answer import Answer
from energyplan.advice.best import BestFor, BestPlan, Option
from energyplan.app.answers import BestQuestion, best_of
from energyplan.app.bestwords import best_sentence, cautions, trade_sentence
from energyplan.app.desk import Desk
from energyplan.app.pieces import chart, problems, quiet, sentences, table
from energyplan.app.plaintext import plain
from energyplan.app.starting import DONE_BY, NOT_BEFORE
from energyplan.app.state import current
from energyplan.base.errors import EnergyPlanError
from energyplan.faces.charts.bestchart import best_chart
from energyplan.report.besttables import Choice, choice_table, choices_of
from energyplan.tariffs.clock import to_local

__all__ = ["best_plans"]

KEPT, OPEN = "the one that is set", "any of that day"
WHAT = (
    "Powers of the ramps, starts of the day and waits of the strike water are tried together; holds and boils keep "
    "their powers. Each way keeps every rating where that is possible."
)
LABELS = {"way": "Way", "energy_kwh": "kWh", "duration_min": "min", "peak_a": "A", "wait_min": "Wait, min"}
AIMS: dict[BestFor, str] = {"cost": "the lowest cost", "time": "the shortest day", "circuit": "the lowest current"}


def best_plans(at_hand: Desk, answer: Answer) -> None:
    """Show what may be tried, and what came of it once it was asked for."""
    st.subheader("Cheaper, quicker, gentler", anchor=False)
    quiet(WHAT)
    question = _question(at_hand)
    if not st.toggle("Try them; it takes some seconds", key="best_go", persist_state="session"):
        return
    try:
        found = _tried(at_hand, answer, question)
    except EnergyPlanError as error:
        problems(error, what="No way could be tried")
        return
    if found:
        _choose(at_hand, answer, choices_of(found), question)


def _question(at_hand: Desk) -> BestQuestion:
    left, right = st.columns(2)
    with left:
        start = st.segmented_control(
            "Start", (OPEN, KEPT) if at_hand.tariff else (KEPT,), default=OPEN if at_hand.tariff else KEPT,
            required=True, key=f"best_start_{at_hand.tariff is None}", persist_state="session",
        )  # fmt: skip
    with right:
        home: tuple[time, time] = st.slider(
            "Somebody is there from mashing in to the end", time(0), time(23, 59), (NOT_BEFORE, DONE_BY),
            step=timedelta(minutes=30), format="HH:mm", key="best_home", persist_state="session",
            disabled=start == KEPT,
        )  # fmt: skip
    from_min, to_min = (moment.hour * 60 + moment.minute for moment in home)
    return BestQuestion(keep_start=start == KEPT, from_min=from_min, to_min=to_min)


def _tried(at_hand: Desk, answer: Answer, question: BestQuestion) -> list[BestPlan]:
    """The best for each aim, with a bar that says how far the work is."""
    aims: list[BestFor] = ["time"]
    if at_hand.tariff is not None:
        aims.insert(0, "cost")
    if at_hand.plan.circuit is not None:
        aims.append("circuit")
    bar, found = st.empty(), []
    for done, aim in enumerate(aims):
        bar.progress(done / len(aims), text=f"Trying ways for {AIMS[aim]}")
        found.append(best_of(at_hand.plan, at_hand.tariff, answer.start, aim, question))
    bar.empty()
    return found


def _choose(at_hand: Desk, answer: Answer, choices: tuple[Choice, ...], question: BestQuestion) -> None:
    told = best_sentence(choices)
    st.text(told)
    words = f"Ways to brew the day: minutes against cost or energy. {told} The table below has the numbers."
    chart(best_chart(choices, at_hand.look, description=words), key="best_chart")
    frame = choice_table(choices, answer.zone)
    table(frame, alt="Ways to brew the day", labels=LABELS)
    others = choices[1:]
    if not others:
        return
    names = [plain(f"{one.number}. {one.name}") for one in others]
    place = st.radio("Which one", range(len(others)), format_func=names.__getitem__, key="best_which")
    chosen = others[place or 0]
    sentences(trade_sentence(chosen.option, choices[0].option, answer.zone), *chosen.notes)
    sentences(*cautions(chosen, question, answer.zone))
    st.button("Take this way over", key="take_best_plan", on_click=_take, args=(chosen.option, answer.zone),
              help="Its powers go into the plan, its start into the row above; Undo takes the powers back")  # fmt: skip


def _take(option: Option, zone: str) -> None:
    work = current()
    work.replace(option.plan)
    if option.start is not None:
        work.start_at(to_local(option.start, zone))
