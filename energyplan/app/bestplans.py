"""Cheaper, quicker, gentler: ramp powers, starts and waits tried together, and one of them taken over."""

import streamlit as st

from energyplan.advice.answer import Answer
from energyplan.advice.best import BestPlan, Option
from energyplan.app.answers import best_of
from energyplan.app.desk import Desk
from energyplan.app.pieces import chart, problems, quiet, said, show_table, style
from energyplan.app.plaintext import plain
from energyplan.app.state import current
from energyplan.base.errors import EnergyPlanError
from energyplan.base.sentence import words
from energyplan.faces.charts.bestchart import best_chart
from energyplan.faces.frames import frame
from energyplan.tariffs.clock import to_local
from energyplan.telling.best import way_name, way_told, ways_of, ways_told

__all__ = ["show_ways"]

KEPT, OPEN = "the one that is set", "any of that day in your hours"
WHAT = (
    "Powers of the ramps, starts of the day and waits of the strike water are tried together; holds and boils keep "
    "their powers, and the same wort comes out. Each way keeps every rating where that is possible."
)


def show_ways(at_hand: Desk, answer: Answer) -> None:
    """Show what may be tried, and what came of it once it was asked for."""
    st.subheader("Cheaper, quicker, gentler", anchor=False)
    quiet(WHAT)
    keep_start = _keeps_start(at_hand)
    if not st.toggle("Try them; it takes a second or two", key="best_go", persist_state="session"):
        return
    try:
        with st.spinner("Trying ways", show_time=True):
            found = best_of(at_hand.plan, at_hand.tariff, answer.start, keep_start=keep_start)
    except EnergyPlanError as error:
        problems(error, what="No way could be tried")
        return
    _choose(at_hand, answer, found)


def _keeps_start(at_hand: Desk) -> bool:
    options = (OPEN, KEPT) if at_hand.tariff else (KEPT,)
    key = f"best_start_{at_hand.tariff is None}"
    start = st.segmented_control(
        "Start", options, default=options[0], required=True, key=key, persist_state="session",
        help="Another start keeps the hours in the bar above",
    )  # fmt: skip
    return start == KEPT


def _choose(at_hand: Desk, answer: Answer, found: tuple[BestPlan, ...]) -> None:
    ways = ways_of(found)
    told = ways_told(ways, answer.zone)
    headline = told.headline or told.title
    headline_words = headline if isinstance(headline, str) else words(headline, style())
    st.text(headline_words)
    table = told.table("ways")
    description = f"Ways to brew the day: minutes against cost or energy. {headline_words}"
    drawn = best_chart(frame(table, style()), at_hand.look, currency=_currency(found), description=description)
    chart(drawn, key="best_chart")
    show_table(table, alt="Ways to brew the day")
    others = ways[1:]
    if not others:
        return
    names = [plain(f"{one.number}. {words(way_name(one), style())}") for one in others]
    place = st.radio("Which one", range(len(others)), format_func=names.__getitem__, key="best_which")
    chosen = others[place or 0]
    said(*way_told(chosen, found[0], answer.zone).sentences)
    st.button("Take this way over", key="take_best_plan", on_click=_take, args=(chosen.option, answer.zone),
              help="Its powers and water go into the plan, its start into the row above; Undo takes back")  # fmt: skip


def _currency(found: tuple[BestPlan, ...]) -> str:
    cost = found[0].planned.cost
    return "" if cost is None else cost.currency


def _take(option: Option, zone: str) -> None:
    current().take(option.plan, to_local(option.start, zone) if option.start else None)
