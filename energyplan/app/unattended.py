"""The facts that must hold before water heats with nobody there: asked one by one, refused while one is missing."""

import streamlit as st

from energyplan.advice.answer import Answer
from energyplan.advice.unattended import FACT_KEYS, Said, may_start_unattended
from energyplan.app.pieces import problems, quiet, table
from energyplan.base.errors import EnergyPlanError
from energyplan.report.tables import fact_table
from energyplan.report.unattendedtext import NOT_SEEN, unattended_sentence
from energyplan.tariffs.clock import zone_of

__all__ = ["unattended_list"]

LIMIT = "limit"
ANSWERS = {"unknown": "Not known", "yes": "Yes", "no": "No"}


def unattended_list(answer: Answer) -> None:
    """Show the list behind a switch: it is never proposed."""
    with st.expander("Should water heat before anybody is up?"):
        quiet(NOT_SEEN)
        try:
            found = may_start_unattended(answer.day, _said(answer), start=answer.start, zone=zone_of(answer.zone))
        except EnergyPlanError as error:
            problems(error, what="That can't be judged")
            return
        st.text(unattended_sentence(found))
        stretch = f"{answer.clock(0):%a %H:%M} to {answer.clock(found.until_s):%a %H:%M}"
        st.text(
            f"Nobody there from {stretch}: {found.energy_kwh:.2f} kWh as planned, and {found.power_after_w:.0f} W on "
            "and on if nobody comes."
        )
        table(fact_table(found)[["state", "fact", "why"]], alt="Facts that must hold, and whether they do")


def _said(answer: Answer) -> Said:
    """What the person answers; the limit is a number."""
    asked = may_start_unattended(answer.day, Said(), start=answer.start, zone=zone_of(answer.zone))
    words = {fact.key: fact.words for fact in asked.facts if fact.key in FACT_KEYS and fact.key != LIMIT}
    given = {
        key: st.segmented_control(
            question, list(ANSWERS), default="unknown", format_func=lambda state: ANSWERS[state],
            key=f"fact_{key}", persist_state="session",
        )
        for key, question in words.items()
    }  # fmt: skip
    limit_kwh: float | None = st.number_input(
        "The current ends by itself after, kWh", 0.1, 50.0, None, key="fact_limit", persist_state="session",
        help="A meter plug or a timer that switches off; leave it empty if there is none.",
    )  # fmt: skip
    return Said(
        yes=frozenset(key for key, state in given.items() if state == "yes"),
        no=frozenset(key for key, state in given.items() if state == "no"),
        limit_kwh=limit_kwh,
    )
