"""Worth changing: every change simulated, ranked, alone and together; the best ways to brew the day."""

import streamlit as st

from energyplan.app.answers import savings_of
from energyplan.app.batches import more_beer
from energyplan.app.bestplans import show_ways
from energyplan.app.desk import Desk
from energyplan.app.pieces import chart, problems, said, show_table, style
from energyplan.base.errors import EnergyPlanError
from energyplan.base.sentence import words
from energyplan.faces.charts.charts import ranked_bars
from energyplan.faces.frames import frame
from energyplan.telling.measures import savings_told

__all__ = ["page"]


def page(at_hand: Desk) -> None:
    """Show the page."""
    answer = at_hand.answered()
    if answer is None:
        return
    brews = int(st.number_input("Brews in a year", 1, 1000, 20, key="worth_brews", persist_state="session", width=200))
    try:
        with st.spinner("Simulating each change", show_time=True):
            found = savings_of(at_hand.plan, at_hand.tariff, answer.start, brews)
    except EnergyPlanError as error:
        at_hand.headline("What a change is worth can't be worked out.")
        problems(error, what="What is in the way")
        return
    told = savings_told(found)
    headline = words(told.headline, style()) if told.headline else ""
    at_hand.headline(headline)
    with at_hand.head:
        said(*told.sentences)
    table = told.table("rows")
    # Money leads where there is a tariff, as it does in the ranking.
    value = "saved_kwh" if found.base_cost is None else "saved_money"
    drawn = ranked_bars(
        frame(table, style())[["change", value, "text"]],
        at_hand.look,
        label="change",
        value=value,
        title="Saved, kWh" if found.base_cost is None else f"Saved, {found.base_cost.currency}",
        description=f"What each change saves on a brew, most first. {headline}",
    )
    chart(drawn, key="savings")
    show_table(table, alt="What each change saves on a brew and in a year")
    said(*told.parts[0].sentences)
    show_ways(at_hand, answer)
    more_beer(at_hand, answer)
