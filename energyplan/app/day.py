"""The day: what it takes, what it costs, when it is done, whether the circuit carries it."""

from typing import Any

import streamlit as st

from energyplan.advice.answer import Answer
from energyplan.advice.starts import usual_question
from energyplan.advice.uncertainty import Spread
from energyplan.app.answers import spread_of, start_of, starts_of
from energyplan.app.desk import Desk
from energyplan.app.pictures import day_document
from energyplan.app.pieces import chart, finding_rows, quiet, said, sentences, table
from energyplan.app.plaintext import plain
from energyplan.app.words import circuit_headline, range_sentence
from energyplan.base.errors import EnergyPlanError
from energyplan.faces.charts.charts import ranked_bars
from energyplan.report.sentences import (
    CAUTIONS,
    day_sentence,
    power_sentence,
    strike_sentence,
    wort_sentence,
)
from energyplan.report.tables import driver_table, event_table, phase_table, power_table, range_table
from energyplan.telling.starts import cheaper_start

__all__ = ["page"]

KINDS = {"action": "do", "addition": "into the boil", "step": "step", "end": ""}
POWER_COLUMNS = ("step", "set_w", "needed_w", "advised_w", "change_kwh")
POWER_LABELS = {"set_w": "Set, W", "needed_w": "Needed", "advised_w": "Advised", "change_kwh": "kWh"}


def page(at_hand: Desk) -> None:
    """Show the page: the chart before what takes longer to work out."""
    answer = at_hand.answered()
    if answer is None:
        return
    at_hand.headline(day_sentence(answer))
    with at_hand.head:
        ranges = st.empty()
        ranges.text("How far these numbers may be off follows.")
        _cheapest(at_hand)
        _verdict(answer)
        power = st.empty()
    chart(day_document(answer, at_hand.show, at_hand.look), key="day_chart")
    quiet(_legend(answer))
    st.subheader("Phase by phase", anchor=False)
    _phases(at_hand, answer)
    _money(answer)
    left, right = st.columns(2, gap="large")
    with left:
        _clock(at_hand, answer)
    with right:
        power.text(power_sentence(answer, at_hand.show))
        _power(at_hand, answer)
        _wort(at_hand, answer)
    _circuit(answer)
    quiet(" ".join(CAUTIONS))
    _ranges(at_hand, answer, ranges)


def _cheapest(at_hand: Desk) -> None:
    """The best start of the week; nothing where there is no price, or no start by day."""
    if at_hand.tariff is None:
        return
    try:
        start = start_of(at_hand.plan, at_hand.tariff, at_hand.wall, at_hand.work.reading)
        found = starts_of(at_hand.plan, at_hand.tariff, usual_question(at_hand.plan, at_hand.wall.date(), start))
    except EnergyPlanError:
        return
    said(cheaper_start(found.search))


def _verdict(answer: Answer) -> None:
    sentence = circuit_headline(answer)
    if answer.is_over:
        st.markdown(f":red[**▲ {plain(sentence[:4])}**]{plain(sentence[4:])}")
    else:
        st.text(sentence)


def _legend(answer: Answer) -> str:
    """What the marks of the chart mean that its legend doesn't name."""
    beside = ", ".join(profile.name for profile in answer.day.profiles[1:])
    dashed = f" Dashed: {beside}." if beside else ""
    prices = " Behind: prices, the darker the dearer." if answer.price else ""
    return f"Line: temperature. Areas: mean power. ▲: something to do or to add.{dashed}{prices}"


def _phases(at_hand: Desk, answer: Answer) -> None:
    """The phases, with headings short enough for energy and cost to be seen on a phone."""
    unit, frame = at_hand.show.temperature_unit, phase_table(answer, at_hand.show)
    cost = next((name for name in frame.columns if name.startswith("cost_")), "")
    key = unit[1:].lower()
    short = {"duration_min": "min", "energy_kwh": "kWh", cost: cost[-3:].upper(), "mean_power_w": "Mean W"}
    ends = {f"{name}_{key}": f"{name.capitalize()} {unit}" for name in ("from", "to", "lowest")}
    table(frame, alt="Phases of the day with times, energy and cost", labels=short | ends)


def _money(answer: Answer) -> None:
    price = answer.price
    if price is None:
        st.text("No tariff is chosen, so there is no cost.")
        return
    bands = ", ".join(f"{band.name} {band.energy_kwh:.2f} kWh for {band.cost}" for band in price.total.bands)
    charge = float(price.tariff.daily_charge)
    beside = f" The daily charge of {charge:.2f} {price.line.currency} is not part of it." if charge else ""
    st.text(f"{price.tariff.name}: {bands}.{beside}")


def _clock(at_hand: Desk, answer: Answer) -> None:
    st.subheader("By the clock", anchor=False)
    events = event_table(answer, at_hand.show)
    events["kind"] = events["kind"].map(KINDS)
    table(events[["clock", "kind", "event"]], alt="What to do and when")


def _power(at_hand: Desk, answer: Answer) -> None:
    st.subheader("Power for each step", anchor=False)
    if not answer.power.rows:
        st.text("No step holds a temperature or boils.")
        return
    frame = power_table(answer.power, at_hand.show)[[*POWER_COLUMNS]]
    table(frame, alt="Set, needed and advised power of each hold and boil", labels=POWER_LABELS)


def _wort(at_hand: Desk, answer: Answer) -> None:
    st.subheader("The wort", anchor=False)
    sentences(strike_sentence(answer, at_hand.show), wort_sentence(answer, at_hand.show), *answer.day.notes)


def _circuit(answer: Answer) -> None:
    st.subheader("The circuit", anchor=False)
    if answer.circuit is None:
        st.text("Enter what you know of the circuit in Set-up, and it is checked here.")
        return
    told = [finding for finding in answer.findings if finding.severity != "ok"]
    finding_rows(sorted(told, key=lambda finding: finding.severity != "over"))
    fine = len(answer.findings) - len(told)
    st.text(f"{fine} of {len(answer.findings)} checks have nothing to add; the page Circuit shows them all.")


def _ranges(at_hand: Desk, answer: Answer, place: Any) -> None:
    """Work out the ranges last, so that the day is seen while they are, and put them under the first sentence."""
    try:
        found = spread_of(at_hand.plan, at_hand.tariff, answer.start)
    except EnergyPlanError as error:
        place.text(f"No ranges: {error}")
        return
    place.text(range_sentence(answer, found))
    sure = st.expander("How sure is this", key="how_sure", on_change="rerun")
    if sure.open:
        with sure:
            _drivers(at_hand, found)


def _drivers(at_hand: Desk, found: Spread) -> None:
    """Every range, and which inputs make it."""
    table(range_table(found, at_hand.show), alt="Ranges of the numbers of the day")
    bars = ranked_bars(
        driver_table(found),
        at_hand.look,
        label="input",
        value="strength",
        title="Rank correlation with the energy, size",
        description=f"What drives the energy most: {found.range_of('energy_kwh').drivers[0].name}.",
    )
    chart(bars, key="drivers")
    sentences(*(f"{item.name}: {item.why}." for item in found.uncertainties))
    quiet(f"From {found.draws} days with inputs drawn from these ranges, always the same draws.")
