"""What to measure next: the input whose measurement narrows the day most, and how to take it."""

import streamlit as st

from energyplan.advice.answer import Answer
from energyplan.advice.value_of_information import what_to_measure
from energyplan.app.answers import spread_of
from energyplan.app.desk import Desk
from energyplan.app.pieces import problems, quiet, sentences, table
from energyplan.base.errors import EnergyPlanError
from energyplan.report.narrowtables import narrowing_table

__all__ = ["measure_next"]

SHARES = "Share of each range that goes once the input is measured. The hold cap is the lowest that keeps the mash."


def measure_next(at_hand: Desk, answer: Answer) -> None:
    """Show the ranking and the ten-minute way."""
    st.subheader("What to measure next", anchor=False)
    try:
        found = what_to_measure(spread_of(at_hand.plan, at_hand.tariff, answer.start))
    except EnergyPlanError as error:
        problems(error, what="That can't be worked out")
        return
    if not found.helps:
        st.text("Every input is known as well as it can be measured.")
        return
    sentences(f"Most is gained by {found.best.measure}. {found.best.how}")
    with st.expander("What each would narrow"):
        table(narrowing_table(found), alt="Share of the ranges that goes once an input is measured")
        quiet(SHARES)
