"""By the clock: when hands are needed, how early and how late that may come, what the room gets."""

import streamlit as st

from energyplan.advice.answer import Answer
from energyplan.app.desk import Desk
from energyplan.app.pieces import chart, quiet, sentences, table
from energyplan.app.unattended import unattended_list
from energyplan.faces.charts.presencechart import presence_chart
from energyplan.report.peopletext import EARSHOT, done_sentence, presence_sentence
from energyplan.report.roomtext import room_of, room_sentence
from energyplan.report.tables import clock_table, presence_table, room_table

__all__ = ["page"]

NINE_IN_TEN = "Earliest and latest: nine days in ten lie between, if the inputs are off as they usually are."


def page(at_hand: Desk) -> None:
    """Show the page."""
    answer = at_hand.answered()
    if answer is None:
        return
    at_hand.headline(done_sentence(answer))
    with at_hand.head:
        st.text(presence_sentence(answer))
    words = f"Who is in the room when. {presence_sentence(answer)} The tables below have the times."
    chart(presence_chart(answer, at_hand.look, description=words), key="presence")
    quiet(EARSHOT)
    _clock(answer, at_hand)
    _room(answer, at_hand)
    unattended_list(answer)


def _clock(answer: Answer, at_hand: Desk) -> None:
    st.subheader("What comes when", anchor=False)
    frame = clock_table(answer, at_hand.show)
    shown = frame[["at_clock", "earliest_clock", "latest_clock", "what", "takes_min"]]
    labels = {"at_clock": "At", "earliest_clock": "Earliest", "latest_clock": "Latest", "what": "What"}
    table(shown, alt="What people do by the clock, with its earliest and latest time", labels=labels)
    quiet(NINE_IN_TEN)
    with st.expander("Stretches in the room and between"):
        spans = presence_table(answer)[
            ["start_clock", "end_clock", "earliest_clock", "in_the_room", "what_for", "heats"]
        ]
        table(spans, alt="Stretches in which somebody must be in the room, and those between")


def _room(answer: Answer, at_hand: Desk) -> None:
    st.subheader("What the room gets", anchor=False)
    sentences(room_sentence(answer, at_hand.show))
    with st.expander("Hour by hour"):
        table(room_table(answer), alt="Heat and steam that go into the room in each hour")
        sentences(*room_of(answer).notes)
