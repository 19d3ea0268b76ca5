"""The day: what it takes, what it costs, when it is done, whether the circuit carries it."""

from typing import Any

import streamlit as st

from energyplan.advice.answer import Answer
from energyplan.advice.starts import usual_question
from energyplan.advice.uncertainty import Spread
from energyplan.app.answers import spread_of, start_of, starts_of
from energyplan.app.desk import Desk
from energyplan.app.pictures import day_document
from energyplan.app.pieces import chart, finding_rows, quiet, said, sentences, show_table, table
from energyplan.app.plaintext import plain
from energyplan.app.words import circuit_headline, range_sentence
from energyplan.base.errors import EnergyPlanError
from energyplan.faces.charts.charts import ranked_bars
from energyplan.report.sentences import CAUTIONS, power_sentence
from energyplan.report.tables import driver_table, power_table, range_table
from energyplan.telling.clock import clock_told
from energyplan.telling.day import (
    boil_sentence,
    day_sentence,
    day_told,
    price_sentences,
    steps_table,
    strike_sentence,
    wort_sentence,
)
from energyplan.telling.starts import cheaper_start

__all__ = ["page"]

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
    show_table(steps_table(answer), alt="Steps of the day with times, powers, energy and cost")
    _money(answer)
    left, right = st.columns(2, gap="large")
    with left:
        _clock(answer)
    with right:
        power.text(power_sentence(answer, at_hand.show))
        _power(at_hand, answer)
        _wort(answer)
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


def _money(answer: Answer) -> None:
    if answer.price is None:
        st.text("No tariff is chosen, so there is no cost.")
    said(*price_sentences(answer))


def _clock(answer: Answer) -> None:
    told = clock_told(answer)
    st.subheader(str(told.title), anchor=False)
    show_table(told.table("clock"), alt="What to do and when", detail=0)


def _power(at_hand: Desk, answer: Answer) -> None:
    st.subheader("Power for each step", anchor=False)
    if not answer.power.rows:
        st.text("No step holds a temperature or boils.")
        return
    frame = power_table(answer.power, at_hand.show)[[*POWER_COLUMNS]]
    table(frame, alt="Set, needed and advised power of each hold and boil", labels=POWER_LABELS)


def _wort(answer: Answer) -> None:
    st.subheader("The wort", anchor=False)
    said(strike_sentence(answer), boil_sentence(answer), wort_sentence(answer), *day_told(answer).cautions)


def _circuit(answer: Answer) -> None:
    st.subheader("The circuit", anchor=False)
    if answer.circuit is None:
        st.text("Enter what you know of the circuit on the page Your brewery, and it is checked here.")
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
