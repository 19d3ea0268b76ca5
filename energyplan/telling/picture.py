"""The day as pictures see it, and what the room gets."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING, TypeVar

import numpy as np
from numpy.typing import NDArray

from energyplan.advice.answer import Answer
from energyplan.base.kinds import (
    CELSIUS,
    COUNT,
    KILOGRAMS,
    KILOWATTS,
    KWH,
    MOMENT,
    NUMBER,
    PHASE,
    PRICE,
    WATTS,
    WORD,
    WRITTEN,
    Price,
    Value,
)
from energyplan.base.sentence import Sayable, Sentence, Span
from energyplan.tariffs.priceline import ESTIMATE
from energyplan.telling.clock import event_words, hands_sentence, why_words
from energyplan.telling.day import day_sentence
from energyplan.telling.phases import at
from energyplan.telling.told import Column, Table, Told

if TYPE_CHECKING:
    from energyplan.advice.heat import Room

__all__ = ["corners", "first_second", "hours_table", "picture_told", "presence_told", "room_told", "strip_told"]

FloatArray = NDArray[np.float64]


Item = TypeVar("Item")


# Pictures stay quick and legible with a bounded number of marks, however many steps a plan has.
MOST_SPANS, MOST_POINTS, MOST_PRICES, MOST_LEVELS = 120, 240, 60, 8


_ROOM, _HEATING, _RESTING = (WORD(who) for who in ("In the room", "Nobody needed, heating", "Nobody needed, off"))


_FROM, _UNTIL = Column("start_s", "From", NUMBER), Column("end_s", "Until", NUMBER)


_STEP, _PHASE = Column("step", "Step", WRITTEN), Column("phase", "Phase", PHASE)


_CLOCK, _END_CLOCK = Column("clock", "Clock", WORD), Column("end_clock", "Until", WORD)


_TIME = Column("time_s", "At", NUMBER)


def picture_told(answer: Answer) -> Told:
    """Everything that a chart of the day draws; the headline is for those who don't see it."""
    said = Sentence("Temperature, power and price over the day. {day}", day=day_sentence(answer))
    return replace(
        strip_told(answer),
        headline=said,
        tables=(*strip_told(answer).tables, _appliances(answer), _temperature(answer), _marks(answer)),
    )


def strip_told(answer: Answer) -> Told:
    """What a strip of text draws: the phases, the prices, the hours."""
    return Told(
        key="picture",
        title="The day",
        facts={
            "first_s": NUMBER(first_second(answer)),
            "last_s": NUMBER(answer.day.duration_s),
            "time_zone": WORD(answer.zone),
        },
        tables=(_vessel(answer), *_prices(answer), hours_table(answer)),
    )


def first_second(answer: Answer) -> float:
    """Second at which the first appliance of the day is switched on; 0, or before it."""
    return min(0.0, *(float(profile.edges_s[0]) for profile in answer.day.profiles))


def _vessel(answer: Answer) -> Table:
    """Mean power of the vessel, phase by phase."""
    phases = _largest(answer.day.phases, MOST_SPANS, lambda phase: phase.duration_s)
    columns = (_FROM, _UNTIL, _STEP, _PHASE, Column("power_kw", "Mean power", KILOWATTS), _CLOCK, _END_CLOCK)
    rows = tuple(
        (p.start_s, p.end_s, p.step, p.phase, p.mean_w / 1000, at(answer, p.start_s), at(answer, p.end_s))
        for p in phases
    )
    return Table("vessel", "Power of the vessel", columns, rows)


def _appliances(answer: Answer) -> Table:
    """Mean power of the day's other appliances."""
    columns = (_FROM, _UNTIL, Column("appliance", "Appliance", WORD), Column("power_kw", "Mean power", KILOWATTS),
               _CLOCK, _END_CLOCK)  # fmt: skip
    rows = [
        (from_s, until_s, profile.name, mean_w / 1000, at(answer, from_s), at(answer, until_s))
        for profile in answer.day.profiles[1:]
        for (from_s, until_s), mean_w in zip(pairwise(profile.edges_s.tolist()), profile.mean_w.tolist(), strict=True)
    ]
    return Table("appliances", "Beside the vessel", columns, tuple(rows[:MOST_SPANS]))


def _temperature(answer: Answer) -> Table:
    """Temperature over the day, with what a reader wants to know beside each point: step, power, price."""
    trajectory, phases = answer.day.trajectory, answer.day.phases
    ends_s = np.array([phase.end_s for phase in phases])
    columns = (_TIME, Column("temperature_c", "Temperature", CELSIUS), _STEP, _PHASE,
               Column("power_w", "Mean power", WATTS), Column("price", "Price", PRICE), _CLOCK)  # fmt: skip
    rows = []
    for index in corners(trajectory.times_s, trajectory.temperatures_c, MOST_POINTS):
        time_s = float(trajectory.times_s[index])
        phase = phases[min(int(np.searchsorted(ends_s, time_s, side="left")), len(phases) - 1)]
        price = _price_at(answer, time_s)
        temperature_c = float(trajectory.temperatures_c[index])
        rows.append((time_s, temperature_c, phase.step, phase.phase, phase.mean_w, price, at(answer, time_s)))
    return Table("temperature", "Temperature", columns, tuple(rows))


def _price_at(answer: Answer, time_s: float) -> Price | None:
    if answer.price is None:
        return None
    line = answer.price.line
    second = int(answer.start.timestamp() + time_s)
    per_kwh = int(line.micro_per_kwh[line.index_at(second)]) / 1e6
    return Price(per_kwh, line.currency, is_estimate=line.name_at(second) == ESTIMATE)


def _prices(answer: Answer) -> tuple[Table, Table]:
    """Prices during the day as spans, each with its level; and what the levels are, cheapest first.

    As many levels as prices; where there are more than eight prices, neighbours share a level.
    """
    spans = _price_spans(answer)
    prices = sorted({price for _, _, price, _ in spans})
    count = min(len(prices), MOST_LEVELS)
    level = {price: place * count // len(prices) for place, price in enumerate(prices)}
    currency = answer.price.line.currency if answer.price else ""
    kept = _largest(spans, MOST_PRICES, lambda span: span[1] - span[0])
    columns = (_FROM, _UNTIL, Column("price", "Price", PRICE), Column("band", "Band", WRITTEN),
               Column("level", "Level", COUNT))  # fmt: skip
    guessed = {price for _, _, price, band in spans if band == ESTIMATE}
    rows = tuple(
        (from_s, until_s, Price(price, currency, is_estimate=band == ESTIMATE), band, level[price])
        for from_s, until_s, price, band in kept
    )
    names: list[tuple[int, Sayable]] = []
    for number in range(count):
        there = [price for price in prices if level[price] == number]
        low, high = (Price(one, currency, is_estimate=one in guessed) for one in (there[0], there[-1]))
        names.append((number, PRICE(low) if low == high else Span(PRICE, low, high)))
    levels = (Column("level", "Level", COUNT), Column("price", "Price", PRICE))
    return Table("prices", "Prices", columns, rows), Table("levels", "Prices", levels, tuple(names))


def _price_spans(answer: Answer) -> list[tuple[float, float, float, str]]:
    """From, until [s], price per kWh and band; neighbours of one price and band as one."""
    if answer.price is None:
        return []
    line, first_s, last_s = answer.price.line, first_second(answer), answer.day.duration_s
    edges_s = line.edges_s - answer.start.timestamp()
    spans: list[tuple[float, float, float, str]] = []
    for index in np.flatnonzero((edges_s[1:] > first_s) & (edges_s[:-1] < last_s)):
        price, name = int(line.micro_per_kwh[index]) / 1e6, line.name_at(int(line.edges_s[index]))
        start_s, end_s = max(float(edges_s[index]), first_s), min(float(edges_s[index + 1]), last_s)
        if spans and spans[-1][2:] == (price, name):
            start_s = spans.pop()[0]
        spans.append((start_s, end_s, price, name))
    return spans


def _marks(answer: Answer) -> Table:
    """What people do during the day, by the clock."""
    columns = (_TIME, _CLOCK, _STEP, Column("kind", "Kind", WORD), Column("event", "What", WORD))
    rows = tuple((e.time_s, at(answer, e.time_s), e.step, e.kind, event_words(e)) for e in answer.day.events)
    return Table("marks", "What to do", columns, rows)


def presence_told(answer: Answer) -> Told:
    """Who is in the room when: stretches on the clock, with somebody there, and between with and without heat."""
    people = answer.people
    there = [(one.begins_s, one.ends_s, _ROOM, why_words(one)) for one in people.presences]
    away = [(one.begins_s, one.ends_s, _HEATING if one.heats else _RESTING, None) for one in people.between]
    rows = sorted([*there, *away], key=lambda row: row[:2])
    columns = (_FROM, _UNTIL, Column("who", "Who", WORD), Column("what_for", "What for", WORD), _CLOCK)
    spans = [Span(MOMENT, at(answer, row[0]).raw, at(answer, row[1]).raw) for row in rows]
    table = Table(
        "presence", "In the room", columns, tuple((*row, span) for row, span in zip(rows, spans, strict=True))
    )
    names = Table("names", "Who", (Column("who", "Who", WORD),), ((_ROOM,), (_HEATING,), (_RESTING,)))
    said = Sentence("Who is in the room when. {hands} The tables below have the times.", hands=hands_sentence(answer))
    return Told(
        key="presence",
        title="In the room",
        headline=said,
        facts={
            "first_s": NUMBER(min(0.0, rows[0][0])),
            "last_s": NUMBER(max(answer.day.duration_s, rows[-1][1])),
            "time_zone": WORD(answer.zone),
        },
        tables=(table, names, hours_table(answer)),
    )


def hours_table(answer: Answer) -> Table:
    """Whole hours of the local clock during the day, for the ticks of an axis."""
    return Table("hours", "Hours", (_TIME, Column("clock", "Clock", WORD)), tuple(_hours(answer)))


def _hours(answer: Answer) -> Iterator[tuple[float, Sayable]]:
    first_s, last_s = first_second(answer), answer.day.duration_s
    every = next(hours for hours in (1, 2, 3, 6, 12, 24, 10**6) if (last_s - first_s) / 3600 / hours <= 12)
    # From quarter to quarter of an hour in UTC, so that zones off by 30 or 45 minutes and clock changes are met.
    begin = int((answer.start.timestamp() + first_s) // 900) * 900
    for second in range(begin, int(answer.start.timestamp() + last_s) + 1, 900):
        time_s = second - answer.start.timestamp()
        local = answer.clock(time_s)
        if first_s <= time_s and local.minute == 0 and local.hour % min(every, 24) == 0:
            yield time_s, WORD(f"{local:%H:%M}")


def _largest(items: Sequence[Item], most: int, size: Callable[[Item], float]) -> list[Item]:
    """The largest of too many items, in their order."""
    if len(items) <= most:
        return list(items)
    kept = sorted(sorted(range(len(items)), key=lambda index: -size(items[index]))[:most])
    return [items[index] for index in kept]


def corners(times_s: FloatArray, values: FloatArray, most: int) -> list[int]:
    """Indices of at most so many points that keep the ends and the highest and lowest value of every stretch."""
    count = times_s.shape[0]
    if count <= most:
        return list(range(count))
    borders = np.linspace(0, count, most // 2, dtype=int)
    kept = {0, count - 1}
    for low, high in pairwise(borders.tolist()):
        kept |= {low + int(np.argmin(values[low:high])), low + int(np.argmax(values[low:high]))}
    return sorted(kept)


LEAST_STEAM_KG = 0.05


def room_told(answer: Answer) -> Told:
    """What the room gets: heat and steam, hour by hour of the clock."""
    from energyplan.advice.heat import room

    found = room(answer.day, answer.start, answer.zone)
    sums = {"heat_kwh": found.heat_kwh, "appliances_kwh": found.appliances_kwh, "vapour_kwh": found.vapour_kwh}
    elsewhere = KWH(found.elsewhere_kwh)
    sentences = [
        Sentence("The other {elsewhere} leave with wort, grain and water, or are still in the vessel.",
                 elsewhere=elsewhere)
    ]  # fmt: skip
    if found.stands:
        sentences.append(
            Sentence(
                "The pause before the vessel is emptied counts as standing wort; a chiller takes most of its heat away."
            )
        )
    return Told(
        key="room",
        title="The room",
        headline=_headline(answer, found),
        facts={
            **{key: KWH(value) for key, value in sums.items()},
            "steam_kg": KILOGRAMS(found.steam_kg),
            "elsewhere_kwh": elsewhere,
        },
        sentences=tuple(sentences),
        tables=(_room_hours(answer, found),),
    )


def _headline(answer: Answer, found: "Room") -> Sentence:
    warms = KWH(found.heat_kwh + found.appliances_kwh)
    if found.steam_kg < LEAST_STEAM_KG:
        return Sentence("The room gets {warms} of heat and next to no steam.", warms=warms)
    most = found.steamiest
    return Sentence(
        "The room gets {warms} of heat and {steam} of steam, {most} of it from {hour}. The steam carries another "
        "{vapour} out of the window, or to the walls on which it condenses.",
        warms=warms,
        steam=KILOGRAMS(found.steam_kg),
        most=KILOGRAMS(most.steam_kg),
        hour=Span(MOMENT, _clock(answer, most.begins).raw, _clock(answer, most.ends).raw),
        vapour=KWH(found.vapour_kwh),
    )


def _clock(answer: Answer, moment: object) -> Value:
    return at(answer, (moment - answer.start).total_seconds())  # type: ignore[operator]


def _room_hours(answer: Answer, found: "Room") -> Table:
    columns = (
        Column("start", "From", MOMENT, short="from"),
        Column("end", "Until", MOMENT, short="until", detail=1),
        Column("heat_kwh", "Heat", KWH, short="heat kWh"),
        Column("appliances_kwh", "Pump and leads", KWH, short="pump, leads kWh"),
        Column("steam_kg", "Steam", KILOGRAMS),
        Column("vapour_kwh", "Carried by steam", KWH, short="with it kWh"),
    )
    rows = tuple(
        (
            _clock(answer, hour.begins).raw,
            _clock(answer, hour.ends).raw,
            hour.heat_kwh,
            hour.appliances_kwh,
            hour.steam_kg,
            hour.vapour_kwh,
        )
        for hour in found.hours
    )
    return Table("by_hour", "Hour by hour", columns, rows)
