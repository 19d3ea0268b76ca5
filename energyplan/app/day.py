"""The page Day: four tiles, the chart, the phases, by the clock, and what must hold before it heats unattended."""

from collections.abc import Iterable, Mapping
from datetime import datetime, time, timedelta
from typing import Any

import streamlit as st

from energyplan.advice.answer import Answer
from energyplan.advice.odds import DayRanges
from energyplan.advice.starts import usual_question
from energyplan.advice.unattended import FACT_KEYS, Said, may_start_unattended
from energyplan.advice.uncertainty import Spread
from energyplan.app.answers import spread_of, start_of, starts_of
from energyplan.app.brewery import day_form
from energyplan.app.desk import Desk
from energyplan.app.pieces import (
    SIGNS,
    chart,
    day_document,
    folded,
    notes,
    plain,
    problems,
    quiet,
    said,
    show_table,
    style,
)
from energyplan.app.state import current
from energyplan.base.errors import EnergyPlanError
from energyplan.base.kinds import NUMBER, figure
from energyplan.base.sentence import words
from energyplan.faces.charts import ranked_bars
from energyplan.faces.daychart import presence_chart
from energyplan.faces.frames import frame
from energyplan.tariffs.clock import zone_of
from energyplan.telling.clock import clock_told, hands_sentence, people_told
from energyplan.telling.day import (
    MAINS_CAUTION,
    RATINGS_CAUTION,
    boil_sentence,
    day_sentence,
    day_told,
    price_sentences,
    strike_sentence,
    wort_sentence,
)
from energyplan.telling.phases import slip_found, steps_table
from energyplan.telling.picture import presence_told, room_told
from energyplan.telling.report import Tile, day_tiles
from energyplan.telling.starts import cheaper_start
from energyplan.telling.unattended import NOT_SEEN, QUESTIONS, unattended_told
from energyplan.telling.uncertainty import uncertainty_told

__all__ = ["first", "page", "tiles", "unattended_list"]


def tiles(place: Any, shown: Iterable[Tile], pages: Mapping[str, Any], *, key: str) -> None:
    """Show tiles side by side, two to a row on a phone."""
    with place.container(horizontal=True, key=key, gap="small"):
        for tile in shown:
            note = words(tile.note, style()) if tile.note is not None else " "
            sign = f"{SIGNS['over']} " if tile.severity == "over" else ""
            label = f"{tile.title} **{plain(words(tile.value, style()))}** :small[{sign}{plain(note)}]"
            st.page_link(pages[tile.key], label=label, width="stretch")


LIMIT = "limit"
PLAIN_FROM_THE_PLAN = ("heater_off", "none_later")  # what the plan answers is not asked
ANSWERS = {"unknown": "Not known", "yes": "Yes", "no": "No"}


def unattended_list(answer: Answer) -> None:
    """Show the list in a fold: it is never proposed."""
    fold = folded("Should water heat before anybody is up?", "unattended")
    if fold is None:
        return
    with fold:
        quiet(words(NOT_SEEN, style()))
        try:
            found = may_start_unattended(answer.day, _said(answer), start=answer.start, zone=zone_of(answer.zone))
        except EnergyPlanError as error:
            problems(error, what="That can't be judged")
            return
        told = unattended_told(found, answer.start, answer.zone)
        said(*([told.headline] if told.headline else []), *told.sentences)
        show_table(told.table("facts"), alt="Facts that must hold, and whether they do")


def _said(answer: Answer) -> Said:
    """What the person answers; the limit is a number."""
    asked = may_start_unattended(answer.day, Said(), start=answer.start, zone=zone_of(answer.zone))
    questions = {
        fact.key: words(QUESTIONS[fact.key], style())
        for fact in asked.facts
        if fact.key in FACT_KEYS and fact.key != LIMIT and fact.case not in PLAIN_FROM_THE_PLAN
    }
    given = {
        key: st.segmented_control(
            question, list(ANSWERS), default="unknown", format_func=lambda state: ANSWERS[state],
            key=f"fact_{key}", persist_state="session",
        )
        for key, question in questions.items()
    }  # fmt: skip
    limit_kwh: float | None = st.number_input(
        "The current ends by itself after, kWh", 0.1, 50.0, None, key="fact_limit", persist_state="session",
        help="A meter plug or a timer that switches off; leave it empty if there is none.",
    )  # fmt: skip
    return Said(
        yes=frozenset(key for key, state in given.items() if state == "yes"),
        no=frozenset(key for key, state in given.items() if state == "no"),
        limit_kwh=limit_kwh,
    )


PAGE_OF = {"energy": "power", "cost": "when", "done": "when", "current": "circuit"}


def first(at_hand: Desk) -> None:
    """Show the day in a sentence and as a chart."""
    if (answer := at_hand.answered()) is None:
        return
    at_hand.headline(day_sentence(answer))
    chart(day_document(answer, at_hand.show, at_hand.look), key="day_chart")


def page(at_hand: Desk) -> None:
    """Show the rest of the page."""
    answer = at_hand.answer
    if answer is None:
        if fold := folded("Batch and steps", "batch"):
            with fold:
                day_form(at_hand.work)
        return
    with at_hand.head:
        place = st.empty()
        _tiles(at_hand, answer, place, None)
        notes(slip_found(slip) for slip in answer.day.slips)
    _start(at_hand)
    quiet(_legend(answer))
    said(strike_sentence(answer), boil_sentence(answer))
    _cheapest(at_hand)
    if fold := folded("Batch and steps", "batch"):
        with fold:
            day_form(at_hand.work)
    st.header("Phase by phase", anchor=False)
    show_table(steps_table(answer), alt="Steps of the day with times, powers, energy and cost")
    _money(answer)
    said(wort_sentence(answer), *day_told(answer).cautions)
    _clock(at_hand, answer)
    _room(answer)
    unattended_list(answer)
    _tiles(at_hand, answer, place, answer.ranges)
    _how_sure(at_hand, answer)
    said(MAINS_CAUTION, RATINGS_CAUTION)


def _tiles(at_hand: Desk, answer: Answer, place: Any, ranges: DayRanges | None) -> None:
    pages = {key: at_hand.pages[address] for key, address in PAGE_OF.items()}
    tiles(place, day_tiles(answer, ranges), pages, key="tiles" if ranges is None else "tiles_ranged")


def _start(at_hand: Desk) -> None:
    """The start, dragged or stepped under the clock of the chart."""
    key = f"start_{at_hand.wall.isoformat()}"
    st.slider(
        "Start, on the local clock", time(0), time(23, 55), at_hand.wall.time(), step=timedelta(minutes=5),
        format="HH:mm", key=key, on_change=_take_start, args=(key,),
    )  # fmt: skip


def _take_start(key: str) -> None:
    work = current()
    work.start_at(datetime.combine(work.wall.date(), st.session_state[key]))


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


def _legend(answer: Answer) -> str:
    """What the marks of the chart mean that its legend doesn't name."""
    beside = ", ".join(profile.name for profile in answer.day.profiles[1:])
    dashed = f" Dashed: {beside}." if beside else ""
    prices = " Behind: prices, each named where it begins." if answer.price else ""
    return f"Line: temperature. Areas: mean power. ▲: something to do or to add.{dashed}{prices}"


def _money(answer: Answer) -> None:
    if answer.price is None:
        st.text("No tariff is chosen, so there is no cost.")
    said(*price_sentences(answer))


def _clock(at_hand: Desk, answer: Answer) -> None:
    """The one list of what comes when, and when hands are needed."""
    people, clock = people_told(answer), clock_told(answer)
    st.header(str(clock.title), anchor=False)
    said(people.headline, hands_sentence(answer))
    chart(presence_chart(presence_told(answer), at_hand.look, style()), key="presence")
    said(*people.sentences)
    show_table(clock.table("clock"), alt="What people do by the clock, with its earliest and latest time")
    said(*clock.cautions)
    if fold := folded("Stretches in the room", "stretches"):
        with fold:
            show_table(people.table("attended"), alt="Stretches in which somebody must be in the room, and what for")


def _room(answer: Answer) -> None:
    if fold := folded("What the room gets", "room"):
        with fold:
            room = room_told(answer)
            said(room.headline)
            show_table(room.table("by_hour"), alt="Heat and steam that go into the room in each hour")
            said(*room.sentences)


def _how_sure(at_hand: Desk, answer: Answer) -> None:
    """Every range, and which inputs make it, for those who ask."""
    if fold := folded("How sure is this", "how_sure"):
        with fold:
            try:
                _drivers(at_hand, spread_of(at_hand.plan, at_hand.tariff, answer.start, answer.learned))
            except EnergyPlanError as error:
                st.text(f"No ranges: {error}")


def _drivers(at_hand: Desk, found: Spread) -> None:
    told = uncertainty_told(found)
    show_table(told.table("ranges"), alt="Ranges of the numbers of the day")
    driven = told.table("driven_by")
    bars = frame(driven).assign(text=[figure(NUMBER(row["correlation"], signed=True)) for row in driven])
    drawn = ranked_bars(
        bars,
        at_hand.look,
        label="input",
        value="strength",
        title="Rank correlation with the energy, size",
        description=f"What drives the energy most: {found.range_of('energy_kwh').drivers[0].name}.",
    )
    chart(drawn, key="drivers")
    said(*(finding.said for finding in told.findings), *told.cautions)
