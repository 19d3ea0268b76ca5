"""The report told: one screen that answers, the parts behind it, and all of it for machines."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace

from energyplan.advice.answer import Answer
from energyplan.advice.odds import DayRanges
from energyplan.base.kinds import CELSIUS, KWH, MONEY, WORD, WRITTEN
from energyplan.base.records import dataclass
from energyplan.base.sentence import Sayable, Sentence, Span, listed
from energyplan.circuits.findings import worst_of
from energyplan.telling.circuit import circuit_headline, nearest_rating, tell_circuit, tell_house, unknown_tail
from energyplan.telling.clock import clock_told, hands_sentence, people_told
from energyplan.telling.day import (
    RATINGS_CAUTION,
    boil_sentence,
    day_sentence,
    day_told,
    price_sentences,
    strike_sentence,
    taught_sentence,
    wort_sentence,
)
from energyplan.telling.findings import finding_name
from energyplan.telling.phases import at, money, slip_found, steps_table
from energyplan.telling.picture import strip_told
from energyplan.telling.power import power_told, steps_odds
from energyplan.telling.told import Severity, Told, from_days

__all__ = ["PARTS", "Tile", "day_tiles", "notes_told", "report_told", "screen_told"]

MOST_SLIPS = 2  # on one screen; all of them stand among the notes
FEWEST_ROWS = 9  # of steps, where there is little room

CAUTION = Sentence(
    "Mains, water and {boiling} wort: leads dry and fully unwound, nothing that heats unattended; local codes rule, "
    "and a licensed electrician decides.",
    boiling=CELSIUS(100.0),
)


def notes_told(answer: Answer) -> Told:
    """What the numbers rest on, and where a relation is used beyond the range it was checked for."""
    told = day_told(answer)
    return Told(
        key="notes",
        title="What this rests on",
        findings=told.findings,
        sentences=(*told.cautions, RATINGS_CAUTION),
    )


def _room_told(answer: Answer) -> Told:
    from energyplan.telling.picture import room_told

    return room_told(answer)


def _circuit_told(answer: Answer) -> Told:
    """What the screen has not said yet."""
    return replace(tell_circuit(answer, every=False), headline=None, cautions=())


PARTS: dict[str, Callable[[Answer], Told]] = {
    "clock": clock_told,
    "people": people_told,
    "room": _room_told,
    "power": lambda answer: power_told(answer.power),
    "circuit": _circuit_told,
    "notes": notes_told,
}


def report_told(answer: Answer) -> Told:
    """All that there is to say of a day, for machines."""
    day, people = day_told(answer), people_told(answer)
    people = replace(people, tables=(*clock_told(answer).tables, *people.tables))
    tables = (*day.tables, power_told(answer.power).table("power"))
    circuit, house = tell_circuit(answer) if answer.circuit else None, tell_house(answer)
    parts = (people, _room_told(answer), *(part for part in (circuit, house) if part))
    blank = {name: None for name, part in (("circuit", circuit), ("house", house)) if part is None}
    return replace(day, key="report", facts={**day.facts, **blank}, tables=tables, parts=parts)


def screen_told(answer: Answer) -> Told:
    """The answer on one screen: what it takes, the strike, the boil, the verdict, the steps, the hands.

    The steps are told three times, each time in fewer rows: a face takes the first that it has room for.
    """
    ranges = answer.ranges
    after = [wort_sentence(answer), *_joined(price_sentences(answer)), hands_sentence(answer)]
    return Told(
        key="screen",
        title=Sentence("{title}", title=WRITTEN(answer.day.plan.title)),
        headline=day_sentence(answer, ranges),
        findings=tuple(slip_found(slip) for slip in answer.day.slips[:MOST_SLIPS]),
        sentences=(
            *([taught] if (taught := taught_sentence(answer)) else []),
            *_joined(said for said in (strike_sentence(answer), boil_sentence(answer)) if said),
            *_verdict(answer),
        ),
        tables=(steps_table(answer), steps_table(answer, len(answer.day.plan.steps)), steps_table(answer, FEWEST_ROWS)),
        cautions=(CAUTION,),
        parts=(strip_told(answer), Told(key="after", title="", sentences=tuple(after))),
    )


def _joined(sentences: Iterable[Sentence]) -> Iterator[Sentence]:
    """Sentences as one, so that they share a line; none, if there is none."""
    said = None
    for one in sentences:
        said = one if said is None else Sentence("{said} {more}", said=said, more=one)
    if said is not None:
        yield said


def _verdict(answer: Answer) -> Iterator[Sentence]:
    """Whether the circuit carries the day, and whether the powers set do."""
    yield circuit_headline(answer)
    if weak := steps_odds(answer.power):
        yield weak


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
    return Tile(key="energy", title="Energy", value=KWH(answer.day.energy_kwh), note=_of_days(answer, span))


def _of_days(answer: Answer, span: Sayable | None) -> Sayable | None:
    """A range, with the brewed days that it rests on."""
    days = from_days(answer.learned.days if answer.learned else 0)
    return None if span is None else Sentence("{span}{days}", span=span, days=days)


def _cost(answer: Answer, ranges: DayRanges | None) -> Tile:
    price = answer.price
    if price is None:
        return Tile(key="cost", title="Cost", value=WORD("no prices"))
    currency, span = price.line.currency, None
    if price.ends:
        span = Span(MONEY, *price.ends)
    elif ranges and ranges.cost:
        span = Span(MONEY, money(ranges.cost.p10, currency), money(ranges.cost.p90, currency))
    return Tile(key="cost", title="Cost", value=MONEY(price.total.total), note=_of_days(answer, span))


def _done(answer: Answer, ranges: DayRanges | None) -> Tile:
    span = None
    if ranges:
        early, late = (at(answer, 60 * minutes) for minutes in (ranges.minutes.p10, ranges.minutes.p90))
        span = Sentence("{early} to {late}", early=early, late=late)
    return Tile(key="done", title="Done at", value=at(answer, answer.day.duration_s), note=_of_days(answer, span))


def _current(answer: Answer) -> Tile:
    checked = answer.circuit
    if checked is None:
        return Tile(key="current", title="Current", value=WORD("not checked"), severity="unknown")
    severity = worst_of(*(finding.severity for finding in answer.findings))
    over = [WORD(finding_name(finding.code)) for finding in answer.findings if finding.severity == "over"]
    verdict = listed(over) if over else WORD("within the ratings you entered")
    note = Sentence("{verdict}{unknown}", verdict=verdict, unknown=unknown_tail(answer.findings))
    return Tile(key="current", title="Current", value=nearest_rating(checked), note=note, severity=severity)
