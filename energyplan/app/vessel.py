"""Your vessel: its own numbers from a log, and how to measure them."""

from typing import Any

import streamlit as st

from energyplan.app.answers import LogText, calibration_of
from energyplan.app.brewedday import brewed_day
from energyplan.app.desk import Desk
from energyplan.app.header import text_of
from energyplan.app.measurenext import measure_next
from energyplan.app.pieces import chart, problems, quiet, sentences, table
from energyplan.app.plaintext import plain
from energyplan.app.words import vessel_headline
from energyplan.base.errors import EnergyPlanError, UnitsError
from energyplan.base.units import TEMPERATURE, VOLUME, Kind, read_quantity
from energyplan.faces.charts.charts import fit_chart
from energyplan.learning.guide import measure_guide
from energyplan.learning.logfile import demo_logs
from energyplan.learning.result import Calibration
from energyplan.learning.writeback import measured_plan
from energyplan.report.tables import fit_table, measured_table

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
        at_hand.headline(vessel_headline(found, at_hand.answer, at_hand.show))
    if found is not None and log is not None:
        _found(at_hand, found, log)
        if at_hand.answer is not None:
            brewed_day(at_hand, at_hand.answer, log)
    if at_hand.answer is not None:
        measure_next(at_hand, at_hand.answer)
    with st.expander("How to measure your vessel", expanded=found is None):
        st.markdown("\n\n".join(paragraphs(measure_guide())))


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


def paragraphs(guide: str) -> list[str]:
    r"""The guide, which is set for a terminal, as lines for a page of any width; its command is left out.

    >>> paragraphs("1. Cool\n   - Fill the\n     vessel.\n\nThen: a command")
    ['**1\\. Cool**', '- Fill the vessel\\.']
    """
    found: list[str] = []
    for line in guide.splitlines():
        words = line.strip()
        if words.startswith("- "):
            found.append(f"- {words[2:]}")
        elif found and words and found[-1] != "":
            found[-1] = f"{found[-1]} {words}"
        else:
            found.append(words)
    return [_marked(line) for line in found if line and not line.startswith("Then: ")]


def _marked(line: str) -> str:
    if line.startswith("- "):
        return f"- {plain(line[2:])}"
    return plain(line) if line.endswith(".") else f"**{plain(line)}**"


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
    interval = {"likely_from": "95 % from", "likely_to": "95 % to"}
    table(measured_table(found, at_hand.show), alt="The vessel's own numbers, with 95 % intervals", labels=interval)
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
    frame = fit_table(found, at_hand.show)
    if len(frame):
        words = f"Readings of {log.name} and the fit. {vessel_headline(found, at_hand.answer, at_hand.show)}"
        chart(fit_chart(frame, at_hand.look, description=words), key="fit")
        if found.rmse_k is not None:
            st.text(f"Reading less fit: {at_hand.show.difference(found.rmse_k, 2)} root mean square.")
    sentences(*(f"Next: {test}" for test in found.next_tests), *found.notes)
