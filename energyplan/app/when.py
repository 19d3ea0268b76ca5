"""When: every start of the coming days costed, and what waiting on cheap heat is worth."""

from dataclasses import replace
from datetime import date, datetime, time, timedelta
from typing import Any

import streamlit as st

from energyplan.advice.startsanswer import StartsAnswer, StartsQuestion
from energyplan.app.answers import starts_of
from energyplan.app.backwards import by_a_time, take_start
from energyplan.app.desk import Desk
from energyplan.app.pieces import chart, problems, quiet, table
from energyplan.app.starting import DAYS, DONE_BY, NOT_BEFORE
from energyplan.app.words import count_sentence, start_headline, starts_sentence
from energyplan.base.errors import EnergyPlanError
from energyplan.faces.charts.charts import cost_by_start
from energyplan.report.tables import best_start_table, hour_cost_table, start_marks
from energyplan.tariffs.clock import to_local

__all__ = ["page"]

WEEKDAYS = {"mon": "Mon", "tue": "Tue", "wed": "Wed", "thu": "Thu", "fri": "Fri", "sat": "Sat", "sun": "Sun"}
LONGEST_DAYS = 21


def page(at_hand: Desk) -> None:
    """Show the page."""
    answer = at_hand.answered()
    if answer is None:
        return
    if at_hand.tariff is None:
        at_hand.headline("Without a tariff every start costs the same.")
        st.text("Choose a tariff above, or open your own.")
        by_a_time(at_hand, answer)
        return
    picture, inputs = st.columns([3, 1], gap="large")
    with inputs:
        question = _question(at_hand)
    try:
        found = starts_of(at_hand.plan, at_hand.tariff, question)
    except EnergyPlanError as error:
        at_hand.headline("No start can be chosen yet.")
        with picture:
            problems(error, what="What is in the way")
        return
    at_hand.headline(start_headline(found))
    with at_hand.head:
        st.text(starts_sentence(found))
    with picture:
        _heat_map(at_hand, found)
        _take_best(found)
        quiet(count_sentence(found))
        _best_per_day(found)
    by_a_time(at_hand, answer)
    _waiting(at_hand, question)
    _habit(at_hand, question)


def _question(at_hand: Desk) -> StartsQuestion:
    st.subheader("What suits you", anchor=False)
    first: date = st.date_input(
        "From", at_hand.wall.date(), key="when_from", format="YYYY-MM-DD", persist_state="session"
    )  # fmt: skip
    days = st.number_input("Days to look at", 1, LONGEST_DAYS, DAYS, key="when_days", persist_state="session")
    # A field that begins empty can be emptied again; what it begins with is put in beforehand.
    st.session_state.setdefault("when_earliest", NOT_BEFORE)
    st.session_state.setdefault("when_finish", DONE_BY)
    earliest: time | None = st.time_input(
        "Not before", None, key="when_earliest", step=900, persist_state="session",
        help="Leave nothing that heats unattended; empty means any time.",
    )  # fmt: skip
    finish: time | None = st.time_input("Done by", None, key="when_finish", step=900, persist_state="session")
    home: tuple[time, time] = st.slider(
        "Somebody is there", time(0), time(23, 59), (time(0), time(23, 59)), step=timedelta(minutes=30),
        format="HH:mm", key="when_home", persist_state="session",
        help="Boils, additions, and grain going in or out need a person.",
    )  # fmt: skip
    off = st.pills(
        "Not on", list(WEEKDAYS), selection_mode="multi", format_func=lambda name: WEEKDAYS[name], key="when_off",
        persist_state="session", wrap=True,
    )  # fmt: skip
    whole_day = home == (time(0), time(23, 59))
    return StartsQuestion(
        first=first.isoformat(),
        last=(first + timedelta(days=int(days) - 1)).isoformat(),
        earliest=f"{earliest:%H:%M}" if earliest else None,
        finish_by=f"{finish:%H:%M}" if finish else None,
        not_on=" ".join(off or ()),
        attended=None if whole_day else f"{home[0]:%H:%M}-{home[1]:%H:%M}",
        now=at_hand.wall.isoformat(timespec="minutes"),
    )


def _heat_map(at_hand: Desk, found: StartsAnswer) -> None:
    search = found.search
    drawn = cost_by_start(
        hour_cost_table(search),
        start_marks(search),
        at_hand.look,
        zone=search.zone,
        description=f"Cost of the cheapest start in each hour of each day. {start_headline(found)}",
    )
    chart(drawn, key="cost_by_start")


def _take_best(found: StartsAnswer) -> None:
    best = to_local(found.search.best.start, found.search.zone)
    st.button(
        f"Start then: {best:%H:%M} on {best:%a %d %b}", key="take_best", on_click=take_start, args=(best,)
    )  # fmt: skip


def _best_per_day(found: StartsAnswer) -> None:
    st.subheader("The best start of each day", anchor=False)
    table(best_start_table(found.search), alt="Best start of each day with its cost")


def _waiting(at_hand: Desk, question: StartsQuestion) -> None:
    with st.expander("Heat the strike water while it is cheap, and keep it"):
        at: time | None = st.time_input("Mash in at", time(10), key="when_mash", step=900, persist_state="session")
        if at is None or at_hand.tariff is None:
            return
        mash = datetime.combine(at_hand.wall.date(), at).isoformat(timespec="minutes")
        try:
            found = starts_of(at_hand.plan, at_hand.tariff, replace(question, mash_at=mash)).waiting
        except EnergyPlanError as error:
            problems(error, what="That can't be worked out")
            return
        if found is None:
            return
        if float(found.saving) <= 0:
            st.text(f"Waiting saves nothing: heating straight before costs {found.direct_cost}.")
            return
        runs = ", ".join(_run(stretch, at_hand) for stretch in found.stretches)
        st.text(f"Heat {runs}: {found.cost} instead of {found.direct_cost}, and {found.extra_kwh:.2f} kWh more.")
        st.text(found.caution)


def _run(stretch: tuple[datetime, datetime, float], at_hand: Desk) -> str:
    zone = at_hand.answer.zone if at_hand.answer else "UTC"
    first, last = to_local(stretch[0], zone), to_local(stretch[1], zone)
    return f"from {first:%a %H:%M} to {last:%H:%M} at {stretch[2]:.0f} W"


def _habit(at_hand: Desk, question: StartsQuestion) -> None:
    with st.expander("What a habit costs in a year"):
        columns = st.columns(3)
        weekday: Any = columns[0].selectbox(
            "Always on", list(WEEKDAYS), index=5, format_func=lambda name: WEEKDAYS[name], key="habit_day",
            persist_state="session",
        )  # fmt: skip
        at: time | None = columns[1].time_input("At", time(9), key="habit_at", step=900, persist_state="session")
        brews = columns[2].number_input("Brews in a year", 1, 52, 20, key="habit_brews", persist_state="session")
        if not st.toggle("Work it out", key="habit_go") or at is None or at_hand.tariff is None:
            return
        asked = replace(question, habit=f"{weekday} {at:%H:%M}", brews=int(brews))
        try:
            with st.spinner("Costing a year of brews"):
                found = starts_of(at_hand.plan, at_hand.tariff, asked).habit
        except EnergyPlanError as error:
            problems(error, what="That can't be worked out")
            return
        if found is not None:
            st.text(
                f"{int(brews)} brews at that time cost {found.usual} a year; at the best start of the same days "
                f"{found.best}, {found.saving} less."
            )
