"""Your vessel: its own numbers from a log, and how to measure them."""

from typing import Any

import streamlit as st

from energyplan.app.answers import LogText, calibration_of
from energyplan.app.brewedday import brewed_day
from energyplan.app.desk import Desk
from energyplan.app.header import text_of
from energyplan.app.measurenext import measure_next
from energyplan.app.pieces import chart, problems, quiet, said, show_table, style
from energyplan.app.typedback import after_the_brew
from energyplan.base.errors import EnergyPlanError, UnitsError
from energyplan.base.sentence import Sentence, words
from energyplan.base.units import TEMPERATURE, VOLUME, Kind, read_quantity
from energyplan.docs import help_page
from energyplan.faces.charts.charts import fit_chart
from energyplan.faces.frames import frame
from energyplan.learning.logfile import demo_logs
from energyplan.learning.result import Calibration
from energyplan.learning.writeback import measured_plan
from energyplan.telling.learning import calibration_told, estimate_headline, fit_table

__all__ = ["page"]

OWN = "A log of your own"
COLUMNS = (
    "A CSV with time (minutes, or moments in ISO form) and temperature_c or temperature_f; power_w or energy_kwh and "
    "lid (on, ajar, off) if you have them."
)


def page(at_hand: Desk) -> None:
    """Show the page."""
    try:
        log = _log(at_hand)
        found = None if log is None else calibration_of(log, at_hand.plan)
    except EnergyPlanError as error:
        at_hand.headline("This log can't be used as it is.")
        problems(error, what="What is in the way")
        found = log = None
    else:
        at_hand.headline(words(_headline(at_hand, found), style()))
    if found is not None and log is not None:
        _found(at_hand, found, log)
        if at_hand.answer is not None:
            brewed_day(at_hand, at_hand.answer, log)
    if at_hand.answer is not None:
        after_the_brew(at_hand, at_hand.answer)
        measure_next(at_hand, at_hand.answer)
    with st.expander("How to measure your vessel", expanded=found is None):
        st.markdown(help_page("measure").partition("\nThen:")[0].partition("\n\n")[2])


def _log(at_hand: Desk) -> LogText | None:
    """The log that was chosen, with what was different during the test.

    Raises
    ------
    EnergyPlanError
        If the file is no text, or an entry no quantity.
    """
    logs = demo_logs()
    left, middle, right = st.columns(3)
    choice = left.selectbox("Log", [OWN, *logs], format_func=_title, key="log_choice", persist_state="session")
    water = middle.text_input(
        "Water in the vessel",
        key="log_water",
        placeholder=f"as in the plan: {at_hand.show.volume(at_hand.plan.batch.water_l)}",
    )
    air = right.text_input(
        "Air during the test",
        key="log_air",
        placeholder=f"as in the plan: {at_hand.show.temperature(at_hand.plan.site.air_c)}",
    )
    own = {"water_l": _read(water, VOLUME), "air_c": _read(air, TEMPERATURE)}
    if choice != OWN:
        return LogText(name=choice, text=logs[choice], **own)
    given: Any = left.file_uploader("Log (CSV)", type=["csv"], key="log_file")
    quiet(COLUMNS)
    return None if given is None else LogText(name=given.name, text=text_of(given), **own)


def _headline(at_hand: Desk, found: Calibration | None) -> Sentence:
    told = None if found is None else calibration_told(found)
    if told is not None and told.headline is not None:
        return told.headline
    return estimate_headline(None if at_hand.answer is None else at_hand.answer.day.plan)


def _title(name: str) -> str:
    return name if name == OWN else f"Invented: {name.replace('-', ' ')}"


def _read(text: str, kind: Kind) -> float | None:
    if not text.strip():
        return None
    try:
        return read_quantity(text, kind)
    except UnitsError as error:
        raise UnitsError(f"{kind.name.removeprefix('a ')} of the test: {error}") from None


def _found(at_hand: Desk, found: Calibration, log: LogText) -> None:
    told = calibration_told(found)
    show_table(told.tables[0], alt=told.tables[0].title)
    taken = None
    try:
        taken = measured_plan(at_hand.plan, found)
    except EnergyPlanError as error:
        problems(error, what="There is nothing to take over")
    if taken is not None:
        st.button(
            "Take these numbers into the plan",
            key="take_fit",
            disabled=taken == at_hand.plan,
            on_click=at_hand.work.replace,
            args=(taken,),
            help="Heat loss, stored heat and element power; Undo takes them back",
        )
    points = frame(fit_table(found), style())
    if len(points):
        description = f"Readings of {log.name} and the fit. {words(_headline(at_hand, found), style())}"
        chart(fit_chart(points, at_hand.look, description=description), key="fit")
    said(*told.sentences, *told.cautions)
