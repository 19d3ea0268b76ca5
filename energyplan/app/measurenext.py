"""What to measure next: the input whose measurement narrows the day most, and how to take it."""

import streamlit as st

from energyplan.advice.answer import Answer
from energyplan.app.answers import spread_of
from energyplan.app.desk import Desk
from energyplan.app.pieces import problems, said, show_table
from energyplan.base.errors import EnergyPlanError
from energyplan.telling.uncertainty import measure_told

__all__ = ["measure_next"]


def measure_next(at_hand: Desk, answer: Answer) -> None:
    """Show the ranking and the ten-minute way."""
    try:
        told = measure_told(spread_of(at_hand.plan, at_hand.tariff, answer.start))
    except EnergyPlanError as error:
        problems(error, what="What to measure next can't be worked out")
        return
    st.subheader(told.title, anchor=False)
    said(*told.sentences)
    for table in told.tables:
        with st.expander(table.title):
            show_table(table, alt="Share of the ranges that goes once an input is measured")
            said(*told.cautions)
