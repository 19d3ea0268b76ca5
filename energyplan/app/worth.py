"""Worth changing: every change simulated, ranked, alone and together; the best ways to brew the day."""

import streamlit as st

from energyplan.app.answers import savings_of
from energyplan.app.batches import more_beer
from energyplan.app.bestplans import best_plans
from energyplan.app.desk import Desk
from energyplan.app.pieces import chart, problems, quiet, sentences, table
from energyplan.app.words import savings_headline, together_sentence
from energyplan.base.errors import EnergyPlanError
from energyplan.faces.charts.charts import ranked_bars
from energyplan.report.tables import heading, savings_table

__all__ = ["page"]

SAME_WORT = (
    "Every change is a simulated day that ends with the same volume from the same grain. Heat that is lost indoors in "
    "winter warms the room."
)


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
    at_hand.headline(savings_headline(found, at_hand.show))
    with at_hand.head:
        st.text(together_sentence(found, at_hand.show))
    frame = savings_table(found, at_hand.show)
    # Money leads where there is a tariff, as it does in the ranking.
    value = next((name for name in frame.columns if name.startswith("saved_") and name != "saved_kwh"), "saved_kwh")
    drawn = ranked_bars(
        frame[["change", value, "text"]],
        at_hand.look,
        label="change",
        value=value,
        title=heading(value),
        description=f"What each change saves on a brew, most first. {savings_headline(found, at_hand.show)}",
    )
    chart(drawn, key="savings")
    table(frame.drop(columns="text"), alt="What each change saves on a brew and in a year, and what speaks against it")
    sentences(*(f"{name}: not counted, {reason}." for name, reason in found.left_out))
    quiet(SAME_WORT)
    best_plans(at_hand, answer)
    more_beer(at_hand, answer)
