"""The four numbers of a day that people look for first, each with what it may become."""

from energyplan.advice.answer import Answer
from energyplan.advice.drawnday import DayRanges
from energyplan.base.kinds import AMPERES, KWH, MONEY, WORD
from energyplan.base.records import dataclass
from energyplan.base.sentence import Sayable, Sentence, Span
from energyplan.telling.day import at, money
from energyplan.telling.told import Severity

__all__ = ["Tile", "day_tiles"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tile:
    """A number, what it is, what stands beside it, and how bad it is."""

    key: str
    title: str
    value: Sayable
    note: Sayable | None = None
    severity: Severity = "ok"


def day_tiles(answer: Answer, ranges: DayRanges | None) -> tuple[Tile, ...]:
    """Energy, money, end and current of a day; ``ranges`` are where eight days of ten lie, once they are known."""
    return (_energy(answer, ranges), _cost(answer, ranges), _done(answer, ranges), _current(answer))


def _energy(answer: Answer, ranges: DayRanges | None) -> Tile:
    span = Span(KWH, ranges.energy_kwh.p10, ranges.energy_kwh.p90) if ranges else None
    return Tile(key="energy", title="Energy", value=KWH(answer.day.energy_kwh), note=span)


def _cost(answer: Answer, ranges: DayRanges | None) -> Tile:
    price = answer.price
    if price is None:
        return Tile(key="cost", title="Cost", value=WORD("no prices"))
    currency, span = price.line.currency, None
    if price.ends:
        span = Span(MONEY, *price.ends)
    elif ranges and ranges.cost:
        span = Span(MONEY, money(ranges.cost.p10, currency), money(ranges.cost.p90, currency))
    return Tile(key="cost", title="Cost", value=MONEY(price.total.total), note=span)


def _done(answer: Answer, ranges: DayRanges | None) -> Tile:
    span = None
    if ranges:
        early, late = (at(answer, 60 * minutes) for minutes in (ranges.minutes.p10, ranges.minutes.p90))
        span = Sentence("{early} to {late}", early=early, late=late)
    return Tile(key="done", title="Done at", value=at(answer, answer.day.duration_s), note=span)


def _current(answer: Answer) -> Tile:
    checked = answer.circuit
    if checked is None:
        return Tile(key="current", title="Current", value=WORD("not checked"), severity="unknown")
    peak = AMPERES(checked.peak_a)
    value = Sentence("{peak} of {limit}", peak=peak, limit=AMPERES(checked.limit_a)) if checked.limit_a else peak
    if answer.is_over:
        return Tile(key="current", title="Current", value=value, note=WORD("Over"), severity="over")
    return Tile(key="current", title="Current", value=value, note=WORD("within the ratings you entered"))
