"""Side by side: the plan on the desk against another one, as wholes, phase by phase, cause by cause."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import streamlit as st

from energyplan.advice.answer import Answer
from energyplan.app.answers import answer_of, comparison_of
from energyplan.app.desk import Desk
from energyplan.app.header import text_of
from energyplan.app.pieces import chart, problems, table
from energyplan.app.sidewords import side_headline
from energyplan.app.state import Work, current, packaged_plans
from energyplan.base.errors import EnergyPlanError
from energyplan.faces.charts.besidechart import beside_chart
from energyplan.plan.file import parse_plan
from energyplan.plan.model import Plan
from energyplan.report.besidetables import beside_points, paired_phase_table, paired_total_table
from energyplan.report.tables import waterfall_table

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["page"]

AS_OPENED, OWN = "as it was opened", "a plan file of your own"
ORDER = "In order they add up to the difference; alone, nothing else is changed."


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pair:
    """The other plan and the one on the desk, answered, and what they are called."""

    other: Answer
    desk: Answer
    names: tuple[str, str]


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
    names = (_name(other, at_hand.plan), "on the desk")
    _both(at_hand, _Pair(other=found, desk=answer, names=names))


def _name(other: Plan, plan: Plan) -> str:
    return "as opened" if other.title == plan.title else other.title


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


def _both(at_hand: Desk, pair: _Pair) -> None:
    headline = side_headline(pair.other, pair.desk, pair.names[0])
    at_hand.headline(headline)
    points = [
        point
        for name, one in zip(pair.names, (pair.other, pair.desk), strict=True)
        for point in beside_points(
            name, one.day.trajectory.times_s, one.day.trajectory.temperatures_c, at_hand.show
        )
    ]  # fmt: skip
    words = f"Temperature of both days from switching on. {headline} The tables below have the numbers."
    chart(beside_chart(points, at_hand.look, description=words), key="beside_chart")
    totals = paired_total_table(pair.other, pair.desk, at_hand.show)
    sides = {"first": _short(pair.names[0]).capitalize(), "second": "Desk"}
    labels = {"number": "The day", **sides, "difference": "More or less"}
    table(totals, alt="Both days as wholes", labels=labels)
    st.subheader("Phase by phase", anchor=False)
    phases = paired_phase_table(pair.other, pair.desk)
    table(phases, alt="Energy, cost, minutes and largest current of each phase of both", labels=_labels(phases, pair))
    _causes(at_hand, pair)
    if at_hand.plan != pair.other.day.plan:
        st.button("Put the other plan on the desk", key="take_other", on_click=_take, args=(pair.other.day.plan,),
                  help="Undo takes it back")  # fmt: skip


def _labels(frame: "pd.DataFrame", pair: _Pair) -> dict[str, str]:
    """Headings of both halves: the unit and whose it is."""
    currency = "" if pair.desk.price is None else pair.desk.price.line.currency
    units = {"kwh": "kWh", "min": "min", "a": "A", "cost": currency}
    sides = {"first": _short(pair.names[0]), "second": "desk"}
    return {
        name: f"{units[kind]}, {sides[side]}"
        for name in map(str, frame.columns)
        for side, _, kind in (name.partition("_"),)
        if side in sides
    }


def _short(name: str) -> str:
    """A heading that leaves room for the numbers on a phone."""
    return "opened" if name == "as opened" else "other"


def _causes(at_hand: Desk, pair: _Pair) -> None:
    st.subheader("What makes the difference", anchor=False)
    try:
        with st.spinner("Swapping one cause after the other", show_time=True):
            found = comparison_of(pair.other.day.plan, pair.desk.day.plan, at_hand.tariff, pair.desk.start)
    except EnergyPlanError as error:
        problems(error, what="It can't be told by cause")
        return
    st.text(ORDER)
    labels = {"in_order_kwh": "In order, kWh", "alone_kwh": "Alone, kWh"}
    table(waterfall_table(found), alt="Change of the energy by cause", labels=labels)


def _take(plan: Plan) -> None:
    current().replace(plan)
