"""After the brew: the printed sheet typed back, and the day in the export of the house's meter."""

from datetime import UTC, datetime
from typing import Any

import streamlit as st

from energyplan.advice.answer import Answer
from energyplan.advice.brewed import Reading, Readings
from energyplan.advice.brewery import brewed_answer
from energyplan.advice.pricing import cost_above
from energyplan.app.answers import tariff_of
from energyplan.app.desk import Desk
from energyplan.app.header import text_of
from energyplan.app.pieces import problems, quiet, said, show_table
from energyplan.base.errors import EnergyPlanError
from energyplan.base.kinds import Moment
from energyplan.learning.meterfile import parse_meter
from energyplan.learning.usual import above_usual
from energyplan.tariffs.clock import zone_of
from energyplan.telling.brewed import brewed_told
from energyplan.telling.metered import meter_told
from energyplan.telling.told import Told

__all__ = ["after_the_brew"]

SHEET = "The meter's running total at the end of each step, as the printed sheet asks for; some of them will do."
EXPORT = "What your supplier's page exports: CSV of any usual shape, or ESPI XML, with some weeks around the day."


def after_the_brew(at_hand: Desk, answer: Answer) -> None:
    """Show both ways of putting a meter beside the plan on the desk."""
    st.subheader("After the brew", anchor=False)
    with st.expander("Readings of a plug-in meter"):
        quiet(SHEET)
        _tried(lambda: _typed(at_hand, answer), what="These readings can't be used")
    with st.expander("Export of the house's meter"):
        quiet(EXPORT)
        given: Any = st.file_uploader("Export (CSV or XML)", type=["csv", "txt", "xml"], key="meter_file")
        if given is not None:
            _tried(lambda: _exported(at_hand, answer, given), what="This export can't be used")


def _tried(make: Any, *, what: str) -> None:
    try:
        told: Told | None = make()
    except EnergyPlanError as error:
        problems(error, what=what)
        return
    if told is None:
        return
    said(told.headline, *told.sentences)
    for table in told.tables:
        show_table(table, alt=table.title)
    said(*told.cautions)


def _typed(at_hand: Desk, answer: Answer) -> Told | None:
    """The sheet as a table: one row for each step; nothing until something is typed."""
    import pandas as pd

    steps = list(dict.fromkeys(step.name for step in at_hand.plan.steps))
    frame = pd.DataFrame({"step": steps, "total_kwh": [None] * len(steps)}).astype({"total_kwh": "float64"})
    typed = st.data_editor(
        frame, hide_index=True, width="stretch", height="content", disabled=["step"], key="sheet_readings",
        placeholder="",
        column_config={
            "step": st.column_config.TextColumn("To the end of"),
            "total_kwh": st.column_config.NumberColumn("Meter shows, kWh", min_value=0.0, format="%.2f"),
        },
    )  # fmt: skip
    rows = tuple(
        Reading(kind="energy_kwh", step=str(step), value=float(kwh))
        for step, kwh in zip(typed["step"], typed["total_kwh"], strict=True)
        if pd.notna(kwh)
    )
    if not rows:
        return None
    readings = Readings(plan=at_hand.plan, readings=rows, start=answer.start, name=f"{answer.clock(0.0).date()}")
    tariff = tariff_of(at_hand.tariff) if at_hand.tariff else None
    return brewed_told(brewed_answer(readings, (), tariff, at_hand.plan), tariff.table.name if tariff else "")


def _exported(at_hand: Desk, answer: Answer, given: Any) -> Told:
    """The day on the desk, at the start on the desk, in an export."""
    zone = zone_of(answer.zone)
    log = parse_meter(text_of(given), zone, source=given.name)
    found = above_usual(log, answer.start.timestamp(), answer.day.duration_s, zone)
    price = None
    if at_hand.tariff:
        tariff = tariff_of(at_hand.tariff)
        begins = datetime.fromtimestamp(float(found.start_s[0]), UTC)
        price = cost_above(*found.loads(), tariff, begins), tariff.table.name
    at = answer.clock(0.0)
    return meter_told(found, log, answer.day.energy_kwh, price, Moment(at, at.date()))
