"""Side by side: the plan on the desk against another one, as wholes, phase by phase, cause by cause."""

import streamlit as st

from energyplan.advice.answer import Answer
from energyplan.app.answers import answer_of, comparison_of
from energyplan.app.desk import Desk
from energyplan.app.header import text_of
from energyplan.app.pieces import chart, problems, said, show_table, style
from energyplan.app.state import Work, current, packaged_plans
from energyplan.base.errors import EnergyPlanError
from energyplan.base.kinds import WORD, WRITTEN, Value
from energyplan.base.sentence import words
from energyplan.faces.charts.bestchart import beside_chart
from energyplan.faces.frames import frame
from energyplan.plan.file import parse_plan
from energyplan.plan.model import Plan
from energyplan.telling.comparison import Side, comparison_told, courses_table, sides_told

__all__ = ["page"]

AS_OPENED, OWN = "as it was opened", "a plan file of your own"


def page(at_hand: Desk) -> None:
    """Show the page."""
    answer = at_hand.answered()
    if answer is None:
        return
    try:
        other = _other(at_hand.work)
        found = None if other is None else answer_of(other, at_hand.tariff, answer.start)
    except EnergyPlanError as error:
        at_hand.headline("The other plan can't be put beside this one.")
        problems(error, what="What is in the way")
        return
    if other is None or found is None:
        at_hand.headline("Hand in the plan to put beside this one.")
        return
    if other == at_hand.plan:
        at_hand.headline("Both plans are the same.")
        st.text("Change something on the page Day or Your brewery, or choose another plan.")
        return
    _both(at_hand, _other_side(found, at_hand.plan), Side(answer=answer, name=WORD("on the desk"), heading="Desk"))


def _other_side(found: Answer, plan: Plan) -> Side:
    title = found.day.plan.title
    if title == plan.title:
        return Side(answer=found, name=WORD("the plan as opened"), heading="Opened")
    return Side(answer=found, name=WRITTEN(title), heading="Other")


def _other(work: Work) -> Plan | None:
    """The plan to compare with; None while its file is missing.

    Raises
    ------
    EnergyPlanError
        If the file that was handed in is no plan.
    """
    plans = packaged_plans()
    options = [AS_OPENED, *(name for name in plans if plans[name] != work.opened), OWN]
    # With nothing changed yet, another plan answers more than the same one does.
    chosen = st.selectbox(
        "Put beside it", options, 0 if work.is_changed else 1, key="beside", width=420, persist_state="session",
        format_func=lambda name: plans[name].title if name in plans else f"The plan {name}"
        if name == AS_OPENED else "A plan file of your own",
    )  # fmt: skip
    if chosen == OWN:
        given = st.file_uploader("Plan file (TOML)", type=["toml"], key="beside_file")
        return None if given is None else parse_plan(text_of(given), source=given.name)
    return plans.get(chosen, work.opened)


def _both(at_hand: Desk, other: Side, desk: Side) -> None:
    told = sides_told(other, desk)
    headline = words(told.headline, style()) if told.headline else ""
    at_hand.headline(headline)
    lines = (WORD("as opened") if isinstance(other.name, Value) and other.name.kind is WORD else other.name, desk.name)
    courses = courses_table([
        (name, side.answer.day.trajectory.times_s, side.answer.day.trajectory.temperatures_c)
        for name, side in zip(lines, (other, desk), strict=True)
    ])  # fmt: skip
    description = f"Temperature of both days from switching on. {headline} The tables below have the numbers."
    chart(beside_chart(frame(courses, style()), at_hand.look, description=description), key="beside_chart")
    show_table(told.table("totals"), alt="Both days as wholes")
    st.subheader("Phase by phase", anchor=False)
    show_table(told.table("phases"), alt="Energy, cost, minutes and largest current of each phase of both")
    _causes(at_hand, other.answer, desk.answer)
    plan = other.answer.day.plan
    if at_hand.plan != plan:
        st.button("Put the other plan on the desk", key="take_other", on_click=_take, args=(plan,),
                  help="Undo takes it back")  # fmt: skip


def _causes(at_hand: Desk, other: Answer, desk: Answer) -> None:
    st.subheader("What makes the difference", anchor=False)
    try:
        with st.spinner("Swapping one cause after the other", show_time=True):
            found = comparison_of(other.day.plan, desk.day.plan, at_hand.tariff, desk.start)
    except EnergyPlanError as error:
        problems(error, what="It can't be told by cause")
        return
    told = comparison_told(found)
    said(*told.sentences)
    show_table(told.table("causes"), alt="Change of the energy by cause")


def _take(plan: Plan) -> None:
    current().replace(plan)
