"""By the clock: when hands are needed, how early and how late that may come, what the room gets."""

import streamlit as st

from energyplan.app.desk import Desk
from energyplan.app.pieces import chart, said, show_table, style
from energyplan.app.unattended import unattended_list
from energyplan.faces.charts.presencechart import presence_chart
from energyplan.telling.clock import clock_told, hands_sentence, people_told
from energyplan.telling.picture import presence_told
from energyplan.telling.room import room_told

__all__ = ["page"]


def page(at_hand: Desk) -> None:
    """Show the page."""
    answer = at_hand.answered()
    if answer is None:
        return
    people, clock, room = people_told(answer), clock_told(answer), room_told(answer)
    if people.headline:
        at_hand.headline(people.headline)
    with at_hand.head:
        said(hands_sentence(answer))
    chart(presence_chart(presence_told(answer), at_hand.look, style()), key="presence")
    said(*people.sentences)
    st.subheader(str(clock.title), anchor=False)
    show_table(clock.table("clock"), alt="What people do by the clock, with its earliest and latest time")
    said(*clock.cautions)
    with st.expander("Stretches in the room"):
        show_table(people.table("attended"), alt="Stretches in which somebody must be in the room, and what for")
    st.subheader(str(room.title), anchor=False)
    said(room.headline)
    with st.expander("Hour by hour"):
        show_table(room.table("by_hour"), alt="Heat and steam that go into the room in each hour")
        said(*room.sentences)
    unattended_list(answer)
