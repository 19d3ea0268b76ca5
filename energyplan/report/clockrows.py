"""Everything that people do, by the clock, with how early and how late it may come: rows for text, table and JSON."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from energyplan.advice.answer import Answer
from energyplan.advice.people import Moment, PeopleDay, TaskSpan, people_day
from energyplan.base.units import Display
from energyplan.report.sentences import event_text

__all__ = ["ClockRow", "PeopleClock", "RowKind", "clock_rows"]

RowKind = Literal["task", "step", "switch", "action", "addition", "lid", "boil", "watch", "end"]

# At one moment: what is over comes first, then what is done, then what begins and lasts.
_ORDER: dict[RowKind, int] = {
    "end": 0, "switch": 1, "step": 2, "lid": 3, "action": 4, "task": 5, "boil": 6, "watch": 7, "addition": 8,
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockRow:
    """One row: when [s from the start], from when to when in nine days of ten, how long [min] where it lasts."""

    time_s: float
    earliest_s: float
    latest_s: float
    kind: RowKind
    step: str
    words: str
    minutes: float | None = None
    attended: bool = True


class PeopleClock:
    """Local clock of a day with what people do before and after the vessel runs."""

    def __init__(self, answer: Answer, people: PeopleDay) -> None:
        self.answer = answer
        first, last = answer.clock(people.begins_s), answer.clock(people.latest_end_s)
        self.shows_zone = first.utcoffset() != last.utcoffset()

    def at(self, time_s: float) -> str:
        """Hour and minute: with the weekday off the start's date, with the zone where the clock moves that day."""
        moment, start = self.answer.clock(time_s), self.answer.clock(0.0)
        day = "" if moment.date() == start.date() else f"{moment:%a} "
        return f"{day}{moment:%H:%M}{f' {moment:%Z}' if self.shows_zone else ''}"

    def range(self, earliest_s: float, latest_s: float) -> str:
        """Two readings of the clock, or nothing where they are the same."""
        first, last = self.at(earliest_s), self.at(latest_s)
        return "" if first == last else f"{first} to {last}"


def clock_rows(answer: Answer, show: Display) -> tuple[ClockRow, ...]:
    """List what people do, in the order of the clock.

    Parameters
    ----------
    answer : Answer
        The answered plan.
    show : Display
        Units of amounts and temperatures.
    """
    people = people_day(answer.day)
    rows = [*_moments(people, show), *_spans(people.tasks, "task"), *_spans(people.watches, "watch")]
    return tuple(sorted(rows, key=lambda row: (row.time_s, _ORDER[row.kind])))


def _moments(people: PeopleDay, show: Display) -> Iterator[ClockRow]:
    for moment in people.moments:
        yield ClockRow(
            time_s=moment.time_s,
            earliest_s=moment.earliest_s,
            latest_s=moment.latest_s,
            kind=moment.kind,
            step=moment.step,
            words=_words(moment, show),
        )


def _words(moment: Moment, show: Display) -> str:
    return moment.text if moment.event is None else event_text(moment.event, show)


def _spans(spans: tuple[TaskSpan, ...], kind: RowKind) -> Iterator[ClockRow]:
    """Spans as rows: the earliest and latest of their beginning (a task takes as long in every draw)."""
    for span in spans:
        lasts_s = span.ends_s - span.begins_s
        yield ClockRow(
            time_s=span.begins_s,
            earliest_s=span.earliest_s,
            latest_s=span.latest_s - lasts_s,
            kind=kind,
            step=span.step,
            words=span.name,
            minutes=lasts_s / 60,
            attended=span.attended,
        )
