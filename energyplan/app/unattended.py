"""The facts that must hold before water heats with nobody there: asked one by one, refused while one is missing."""

import streamlit as st

from energyplan.advice.answer import Answer
from energyplan.advice.unattended import FACT_KEYS, Said, may_start_unattended
from energyplan.app.pieces import problems, quiet, said, show_table, style
from energyplan.base.errors import EnergyPlanError
from energyplan.base.sentence import words
from energyplan.tariffs.clock import zone_of
from energyplan.telling.unattended import NOT_SEEN, QUESTIONS, unattended_told

__all__ = ["unattended_list"]

LIMIT = "limit"
PLAIN_FROM_THE_PLAN = ("heater_off", "none_later")  # what the plan answers is not asked
ANSWERS = {"unknown": "Not known", "yes": "Yes", "no": "No"}


def unattended_list(answer: Answer) -> None:
    """Show the list behind a switch: it is never proposed."""
    with st.expander("Should water heat before anybody is up?"):
        quiet(words(NOT_SEEN, style()))
        try:
            found = may_start_unattended(answer.day, _said(answer), start=answer.start, zone=zone_of(answer.zone))
        except EnergyPlanError as error:
            problems(error, what="That can't be judged")
            return
        told = unattended_told(found, answer.start, answer.zone)
        said(*([told.headline] if told.headline else []), *told.sentences)
        show_table(told.table("facts"), alt="Facts that must hold, and whether they do")


def _said(answer: Answer) -> Said:
    """What the person answers; the limit is a number."""
    asked = may_start_unattended(answer.day, Said(), start=answer.start, zone=zone_of(answer.zone))
    questions = {
        fact.key: words(QUESTIONS[fact.key], style())
        for fact in asked.facts
        if fact.key in FACT_KEYS and fact.key != LIMIT and fact.case not in PLAIN_FROM_THE_PLAN
    }
    given = {
        key: st.segmented_control(
            question, list(ANSWERS), default="unknown", format_func=lambda state: ANSWERS[state],
            key=f"fact_{key}", persist_state="session",
        )
        for key, question in questions.items()
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
