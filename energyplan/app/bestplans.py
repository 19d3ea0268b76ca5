"""Cheaper, quicker, gentler: ramp powers, starts and waits tried together, and one of them taken over."""

import streamlit as st

from energyplan.advice.answer import Answer
from energyplan.advice.best import BestFor, BestPlan, Option
from energyplan.app.answers import best_of
from energyplan.app.bestwords import best_sentence, cautions, trade_sentence
from energyplan.app.desk import Desk
from energyplan.app.pieces import chart, problems, quiet, sentences, table
from energyplan.app.plaintext import plain
from energyplan.app.state import current
from energyplan.base.errors import EnergyPlanError
from energyplan.faces.charts.bestchart import best_chart
from energyplan.report.besttables import Choice, choice_table, choices_of
from energyplan.tariffs.clock import to_local

__all__ = ["best_plans"]

KEPT, OPEN = "the one that is set", "any of that day in your hours"
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
    keep_start = _keeps_start(at_hand)
    if not st.toggle("Try them; it takes some seconds", key="best_go", persist_state="session"):
        return
    try:
        found = _tried(at_hand, answer, keep_start=keep_start)
    except EnergyPlanError as error:
        problems(error, what="No way could be tried")
        return
    if found:
        _choose(at_hand, answer, choices_of(found))


def _keeps_start(at_hand: Desk) -> bool:
    options = (OPEN, KEPT) if at_hand.tariff else (KEPT,)
    key = f"best_start_{at_hand.tariff is None}"
    start = st.segmented_control(
        "Start", options, default=options[0], required=True, key=key, persist_state="session",
        help="Any other start keeps the hours of the page When to brew",
    )  # fmt: skip
    return start == KEPT


def _tried(at_hand: Desk, answer: Answer, *, keep_start: bool) -> list[BestPlan]:
    """The best for each aim, with a bar that says how far the work is."""
    aims: list[BestFor] = ["time"]
    if at_hand.tariff is not None:
        aims.insert(0, "cost")
    if at_hand.plan.circuit is not None:
        aims.append("circuit")
    bar, found = st.empty(), []
    for done, aim in enumerate(aims):
        bar.progress(done / len(aims), text=f"Trying ways for {AIMS[aim]}")
        found.append(best_of(at_hand.plan, at_hand.tariff, answer.start, aim, keep_start=keep_start))
    bar.empty()
    return found


def _choose(at_hand: Desk, answer: Answer, choices: tuple[Choice, ...]) -> None:
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
    sentences(*cautions(chosen))
    st.button("Take this way over", key="take_best_plan", on_click=_take, args=(chosen.option, answer.zone),
              help="Its powers go into the plan, its start into the row above; Undo takes the powers back")  # fmt: skip


def _take(option: Option, zone: str) -> None:
    work = current()
    work.replace(option.plan)
    if option.start is not None:
        work.start_at(to_local(option.start, zone))
