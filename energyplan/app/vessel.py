"""Learning beside the vessel: logs, the printed sheet typed back, meter exports, what to measure next."""

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import streamlit as st

from energyplan.advice.answer import Answer
from energyplan.advice.brewery import brewed_answer, readings_of
from energyplan.advice.pricing import cost_above
from energyplan.app.answers import (
    LogText,
    brewed_text,
    calibration_of,
    kept_of,
    log_of,
    measured_day_of,
    spread_of,
    tariff_of,
    year_of,
)
from energyplan.app.desk import Desk
from energyplan.app.fields import suffix, typed
from energyplan.app.header import text_of
from energyplan.app.pieces import chart, plain, problems, quiet, said, show_table, style
from energyplan.base.errors import EnergyPlanError, LogError, UnitsError
from energyplan.base.files import help_page
from energyplan.base.kinds import WORD, Moment
from energyplan.base.sentence import Sentence, words
from energyplan.base.units import DURATION, POWER, TEMPERATURE, VOLUME, Kind
from energyplan.day.brewday import BrewDay
from energyplan.faces.charts import beside_chart, fit_chart
from energyplan.faces.frames import frame
from energyplan.learning.logfile import Log, demo_logs
from energyplan.learning.meterfile import parse_meter
from energyplan.learning.result import BoilOff, Calibration, DryLoss, dry_loss, measured_plan
from energyplan.learning.usual import above_usual
from energyplan.plan.brewery import brewed_day
from energyplan.tariffs.clock import zone_of
from energyplan.telling.brewed import brewed_told, meter_told
from energyplan.telling.comparison import courses_table
from energyplan.telling.learning import calibration_told, dry_loss_told, estimate_headline, fit_table
from energyplan.telling.measured import log_told
from energyplan.telling.told import Told
from energyplan.telling.uncertainty import measure_told

__all__ = ["after_the_brew", "brewed_days", "logged_day", "measure_next", "page"]


def logged_day(at_hand: Desk, answer: Answer, log: LogText) -> None:
    """Show a log beside the plan on the desk, if it is one of a whole day; or why it is no day of this plan."""
    st.header("The day of this log beside the plan", anchor=False)
    is_day = looks_like_a_day(log_of(log), answer.day)
    if not st.toggle("This is a log of the plan on the desk, from switching on", is_day, key=f"is_day_{log.name}"):
        quiet("A cool-down or a heat-up alone measures the vessel; it has no phases to put beside a plan.")
        return
    try:
        with st.spinner("Following the plan through the log"):
            told = log_told(measured_day_of(log, at_hand.plan))
    except EnergyPlanError as error:
        problems(error, what="It can't be put beside the plan")
        return
    st.markdown(f"**{plain(_headline(told))}**")
    said(*told.sentences)
    _chart(at_hand, answer, log, told)
    show_table(told.table("phases"), alt=told.table("phases").title)
    causes = told.table("explanations")
    if causes.rows:
        with st.expander("What may explain the difference"):
            quiet(f"{causes.title}; the share says how much of the difference goes with it.")
            show_table(causes, alt=causes.title)
    said(*told.cautions)


def _headline(told: Told) -> str:
    return "" if told.headline is None else words(told.headline, style())


def looks_like_a_day(log: Log, day: BrewDay) -> bool:
    """Whether a log begins cold, below half of the way to the first target, and lasts for half of the plan or more."""
    first = day.phases[0]
    is_cold = float(log.temperature_c[0]) < (first.from_c + first.to_c) / 2
    return is_cold and log.duration_s > day.duration_s / 2


def _chart(at_hand: Desk, answer: Answer, log: LogText, told: Told) -> None:
    read, planned = log_of(log), answer.day.trajectory
    courses = courses_table([
        (WORD("planned"), planned.times_s, planned.temperatures_c),
        (WORD("measured"), read.times_s, read.temperature_c),
    ])  # fmt: skip
    description = f"Temperature as planned and as measured. {_headline(told)} The table below has the numbers."
    chart(beside_chart(frame(courses, style()), at_hand.look, description=description), key="brewed_day")


def measure_next(at_hand: Desk, answer: Answer) -> None:
    """Show the ranking and the ten-minute way."""
    try:
        told = measure_told(spread_of(at_hand.plan, at_hand.tariff, answer.start, answer.learned))
    except EnergyPlanError as error:
        problems(error, what="What to measure next can't be worked out")
        return
    st.header(told.title, anchor=False)
    said(*told.sentences)
    for table in told.tables:
        with st.expander(table.title):
            show_table(table, alt="Share of the ranges that goes once an input is measured")
            said(*told.cautions)


SHEET = "The meter's running total at the end of each step, as the printed sheet asks for; some of them will do."
EXPORT = "What your supplier's page exports: CSV of any usual shape, or ESPI XML, with some weeks around the day."


def after_the_brew(at_hand: Desk, answer: Answer) -> None:
    """Show both ways of putting a meter beside the plan on the desk."""
    st.header("After the brew", anchor=False)
    with st.expander("Readings of a plug-in meter", key="fold_readings", on_change="rerun"):  # stays open
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
    if told is not None:
        _shown(told)


def _shown(told: Told) -> None:
    said(told.headline, *told.sentences)
    for table in told.tables:
        show_table(table, alt=table.title)
    said(*told.cautions)


NOTED = {
    "air": ("Air that day", "9 °C"),
    "water_temperature": ("Water at the start", "8 °C"),
    "boil_began": ("The boil began at", "11:41"),
    "boiled_off": ("Boiled off, cold", "2.9 L"),
}


def _typed(at_hand: Desk, answer: Answer) -> Told | None:
    """The sheet as a table, one row for each step, and what else was noted; nothing until something is typed."""
    totals = _totals([step.name for step in at_hand.plan.steps])
    noted = {}
    for place, (key, (label, example)) in zip(st.columns(len(NOTED)), NOTED.items(), strict=True):
        noted[key] = place.text_input(label, key=f"noted_{key}", placeholder=example).strip()
    if not (totals or noted["boil_began"] or noted["boiled_off"]):
        return None
    day = brewed_day({
        "date": at_hand.wall.date(), "start": at_hand.wall, "plan": at_hand.work.day.name,
        "readings": totals, **noted,
    })  # fmt: skip
    readings = readings_of(at_hand.plan, day, answer.zone)
    tariff = tariff_of(at_hand.tariff) if at_hand.tariff else None
    earlier = kept_of(at_hand.plan, at_hand.tariff, at_hand.work.lying.brewed).days
    found = brewed_answer(readings, earlier, tariff, at_hand.plan)
    brewed = brewed_text(at_hand.plan, day)
    st.button(
        "Keep this day", key="keep_brewed", type="primary", on_click=at_hand.work.keep_brewed, args=(brewed,),
        disabled=brewed in at_hand.work.lying.brewed,
        help="In this browser, with the date in the bar above: every range then uses what it taught",
    )  # fmt: skip
    return brewed_told(found, tariff.table.name if tariff else "")


def _totals(steps: list[str]) -> dict[str, str]:
    """The meter's running totals by step, as they are typed into the table."""
    import pandas as pd

    names = list(dict.fromkeys(steps))
    empty = pd.DataFrame({"step": names, "total_kwh": [None] * len(names)}).astype({"total_kwh": "float64"})
    typed = st.data_editor(
        empty, hide_index=True, width="stretch", height="content", disabled=["step"], key="sheet_readings",
        placeholder="",
        column_config={
            "step": st.column_config.TextColumn("To the end of"),
            "total_kwh": st.column_config.NumberColumn("Meter shows, kWh", min_value=0.0, format="%.2f"),
        },
    )  # fmt: skip
    rows = zip(typed["step"], typed["total_kwh"], strict=True)
    return {str(step): f"{float(kwh)!r} kWh" for step, kwh in rows if pd.notna(kwh)}


def brewed_days(at_hand: Desk) -> None:
    """The days kept in this browser, by month, and what they taught."""
    brewed = at_hand.work.lying.brewed
    if not brewed:
        return
    st.subheader("Brewed so far", anchor=False)
    _tried(lambda: year_of(at_hand.plan, at_hand.tariff, brewed), what="The kept days can't be used")
    with st.expander(f"The days, {len(brewed)}", key="fold_brewed", on_change="rerun"):
        for place, one in enumerate(brewed):
            with st.container(horizontal=True, vertical_alignment="center"):
                st.text(f"{one.day.date}, {one.plan.title}", width="stretch")
                st.button("Forget", key=f"forget_brewed_{place}", on_click=at_hand.work.drop_brewed, args=(place,))


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


OWN = "A log of your own"

COLUMNS = (
    "A CSV with time (minutes, 19:05, or moments in ISO form) and temperature_c or temperature_f; power_w or "
    "energy_kwh and lid (on, ajar, off) if you have them."
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
        at_hand.headline(words(_vessel_headline(at_hand, found), style()))
    if found is not None and log is not None:
        _found(at_hand, found, log)
    _boil_off(at_hand, log)
    if log is not None and at_hand.answer is not None:
        logged_day(at_hand, at_hand.answer, log)
    if at_hand.answer is not None:
        after_the_brew(at_hand, at_hand.answer)
        brewed_days(at_hand)
        measure_next(at_hand, at_hand.answer)
    with st.expander("How to measure your vessel"):
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
    units = ("L", "degC") if at_hand.show.system == "metric" else ("gal", "degF")
    for key, shown in (("log_water", units[0]), ("log_air", units[1].replace("deg", "°"))):
        suffix(key, shown)
    given: Any = None
    if choice == OWN:  # before anything is read: a field that can't be read must not take the file with it
        given = left.file_uploader("Log (CSV)", type=["csv"], key="log_file")
        quiet(COLUMNS)
    own = {"water_l": _read(water, VOLUME, units[0]), "air_c": _read(air, TEMPERATURE, units[1])}
    if choice != OWN:
        return LogText(name=choice, text=logs[choice], **own)
    return None if given is None else LogText(name=given.name, text=text_of(given), **own)


def _vessel_headline(at_hand: Desk, found: Calibration | None) -> Sentence:
    told = None if found is None else calibration_told(found)
    if told is not None and told.headline is not None:
        return told.headline
    return estimate_headline(None if at_hand.answer is None else at_hand.answer.day.plan)


def _title(name: str) -> str:
    return name if name == OWN else f"Invented: {name.replace('-', ' ')}"


def _read(text: str, kind: Kind, unit: str) -> float | None:
    """A quantity of the test; a bare number takes the unit."""
    try:
        return typed(text, kind, unit)
    except UnitsError as error:
        raise UnitsError(f"{kind.name.removeprefix('a ')} of the test: {error}") from None


def _found(at_hand: Desk, found: Calibration, log: LogText) -> None:
    told = calibration_told(found)
    show_table(told.tables[0], alt=told.tables[0].title)
    _take(at_hand, found, key="take_fit")
    points = frame(fit_table(found), style())
    if len(points):
        description = f"Readings of {log.name} and the fit. {words(_vessel_headline(at_hand, found), style())}"
        chart(fit_chart(points, at_hand.look, description=description), key="fit")
    said(*told.sentences, *told.cautions)


def _take(at_hand: Desk, found: Calibration | DryLoss, *, key: str) -> None:
    """The button that takes what was measured into the plan, or why there is nothing to take."""
    try:
        taken = measured_plan(at_hand.plan, found)
    except EnergyPlanError as error:
        problems(error, what="There is nothing to take over")
        return
    st.button(
        "Take these numbers into the plan",
        key=key,
        disabled=taken == at_hand.plan,
        on_click=at_hand.work.replace,
        args=(taken,),
        help="Heat loss, stored heat and element power, as far as they were measured; Undo takes them back",
    )


BOIL_OFF = "Litres that left as steam, measured cold. Minutes and power come from the log, if it boils."


def _boil_off(at_hand: Desk, log: LogText | None) -> None:
    """What a boil-off by volume tells, from three entries or litres and a log of the boil."""
    with st.expander("Boil-off by volume", key="fold_boil_off", on_change="rerun"):  # stays open
        quiet(BOIL_OFF)
        try:
            seen = _boiled_off(at_hand, log)
            found = None if seen is None else dry_loss(at_hand.plan, seen)
        except EnergyPlanError as error:
            problems(error, what="This boil-off can't be used")
            return
        if found is not None:
            _shown(dry_loss_told(found))
            _take(at_hand, found, key="take_boil_off")


def _boiled_off(at_hand: Desk, log: LogText | None) -> BoilOff | None:
    """What was typed; None as long as no litres were.

    Raises
    ------
    EnergyPlanError
        If an entry is no quantity, or nothing says how long it boiled.
    """
    asked = (
        ("boil_off_volume", "Boiled off, cold", VOLUME, "L" if at_hand.show.system == "metric" else "gal"),
        ("boil_off_time", "Boiled for", DURATION, "min"),
        ("boil_off_power", "Mean power at the plug", POWER, "W"),
    )
    given = []
    for place, (key, label, kind, unit) in zip(st.columns(3), asked, strict=True):
        hint = "by the elements' plates" if kind is POWER else ""
        given.append(_read(place.text_input(label, key=key, placeholder=hint), kind, unit))
        suffix(key, unit)
    litres, lasted_s, power_w = given
    if litres is None:
        return None
    if lasted_s is not None:
        return BoilOff(boiled_off_l=litres, lasted_s=lasted_s, power_w=power_w)
    if log is None:
        raise LogError("say how long it boiled, or choose a log of the boil above")
    read = BoilOff.of_log(litres, log_of(log), at_hand.plan)
    return read if power_w is None else replace(read, power_w=power_w)
