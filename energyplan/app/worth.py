"""Worth changing: every change simulated, ranked, alone and together; two plans side by side."""

import streamlit as st

from energyplan.app.answers import comparison_of, savings_of
from energyplan.app.desk import Desk
from energyplan.app.pictures import document
from energyplan.app.pieces import chart, problems, quiet, sentences, table
from energyplan.app.state import packaged_plans
from energyplan.app.words import savings_headline, together_sentence
from energyplan.errors import EnergyPlanError
from energyplan.plan import Plan
from energyplan.report.answer import Answer
from energyplan.report.charts import ranked_bars
from energyplan.report.tables import compared_table, heading, savings_table, waterfall_table

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
    at_hand.headline(savings_headline(found))
    with at_hand.head:
        st.text(together_sentence(found))
    frame = savings_table(found)
    # Money leads where there is a tariff, as it does in the ranking.
    value = next((name for name in frame.columns if name.startswith("saved_") and name != "saved_kwh"), "saved_kwh")
    drawn = ranked_bars(
        frame[["change", value, "text"]],
        at_hand.look,
        label="change",
        value=value,
        title=heading(value),
        description=f"What each change saves on a brew, most first. {savings_headline(found)}",
    )
    chart(document(drawn), key="savings")
    table(frame.drop(columns="text"), alt="What each change saves on a brew and in a year, and what speaks against it")
    sentences(*(f"{name}: not counted, {reason}." for name, reason in found.left_out))
    quiet(SAME_WORT)
    _side_by_side(at_hand, answer)


def _side_by_side(at_hand: Desk, answer: Answer) -> None:
    st.subheader("Against another plan", anchor=False)
    others: dict[str, Plan] = {"The plan as it was opened": at_hand.work.opened}
    others |= {plan.title: plan for plan in packaged_plans().values() if plan != at_hand.work.opened}
    name = st.selectbox("Compare with", list(others), key="compare_with", width=420)
    if others[name] == at_hand.plan:
        st.text("The plan on the desk is the same; change something, or choose another.")
        return
    try:
        found = comparison_of(others[name], at_hand.plan, at_hand.tariff, answer.start)
    except EnergyPlanError as error:
        problems(error, what="These plans can't be compared")
        return
    table(compared_table(found, at_hand.show), alt="Both plans side by side")
    causes = waterfall_table(found)
    st.text("What makes the difference, cause by cause: in order they add up to it; alone, nothing else is changed.")
    table(causes, alt="Change of the energy by cause")
