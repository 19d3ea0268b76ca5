"""The page for the brew day: the clock, the powers to set, kWh and cost, what to do, notes."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Literal

from energyplan.advice.answer import Answer
from energyplan.base.kinds import CELSIUS, KWH, MINUTES, MOMENT, MONEY, PHASE, WATTS, WORD, WRITTEN
from energyplan.base.records import dataclass
from energyplan.base.sentence import Sayable, Sentence
from energyplan.telling.clock import ClockEntry, EntryKind, clock_entries
from energyplan.telling.day import MAINS_CAUTION, at, day_told, steps_table, strike_sentence, wort_sentence
from energyplan.telling.told import Column, Table, Told

__all__ = ["brew_day_told"]

Kind = Literal["phase", "do", "boil", "within", "end"]

# At one moment: first what is done before a step, then the step's phase, then what happens in it.
_ORDER: dict[Kind, int] = {"end": 0, "do": 1, "phase": 2, "boil": 3, "within": 4}
_SHOWN_AS: dict[EntryKind, Kind] = {
    "task": "do", "action": "do", "lid": "do", "watch": "boil", "addition": "within", "switch": "within",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Row:
    """One row by the clock: a phase with its numbers, or something that a person does."""

    time_s: float
    kind: Kind
    said: Sayable
    numbers: tuple[object, ...] = (None,) * 7


def brew_day_told(answer: Answer) -> Told:
    """Everything by the clock with a place for the meter's readings, the sum of the day, what is to be known."""
    day = day_told(answer)
    said = (strike_sentence(answer), wort_sentence(answer))
    return Told(
        key="brew_day",
        title=day.title,
        headline=day.headline,
        facts={"time_zone": WORD(answer.zone)},
        sentences=tuple(sentence for sentence in said if sentence),
        tables=(_table(answer),),
        cautions=(*day.cautions, MAINS_CAUTION),
    )


def _table(answer: Answer) -> Table:
    columns = (
        Column("clock", "Clock", MOMENT), Column("words", "Step, what to do", WORD), Column("phase", "Phase", PHASE),
        Column("to_c", "to", CELSIUS), Column("set_w", "Set", WATTS), Column("advised_w", "Advised", WATTS),
        Column("minutes", "Time", MINUTES), Column("energy_kwh", "Energy", KWH), Column("cost", "Cost", MONEY),
        Column("kind", "Kind", WORD),
    )  # fmt: skip
    # Python's sort is stable: rows of one moment and kind stay as the day lists them.
    rows = _together(answer, sorted(_rows(answer), key=lambda row: (row.time_s, _ORDER[row.kind])))
    steps = steps_table(answer)
    beside = [(None, *_numbers(row), "beside") for row in list(steps)[len(answer.day.phases) :]]
    total = dict(zip((column.key for column in steps.columns), steps.total or (), strict=True))
    shown = [(at(answer, row.time_s), row.said, *row.numbers, row.kind) for row in rows]
    return Table("by_clock", "By the clock", columns, (*shown, *beside), (None, *_numbers(total), "total"))


def _numbers(row: dict[str, object]) -> tuple[object, ...]:
    keys = ("step", "phase", "to_c", "set_w", "advised_w", "minutes", "energy_kwh", "cost")
    return tuple(row[key] for key in keys)


def _rows(answer: Answer) -> Iterator[_Row]:
    for phase, row in zip(answer.day.phases, steps_table(answer), strict=False):
        step, *numbers = _numbers(row)
        yield _Row(phase.start_s, "phase", WRITTEN(step), tuple(numbers))
    for entry in clock_entries(answer):
        if entry.kind in _SHOWN_AS and not entry.starts:  # the first phase says when that is
            yield _Row(entry.time_s, _SHOWN_AS[entry.kind], _words(answer, entry))
    yield _Row(answer.day.duration_s, "end", WORD("Done: switch off, read the meter"))


def _together(answer: Answer, rows: Sequence[_Row]) -> list[_Row]:
    """What is done at one time in one row, so that the day fits its page; phases keep theirs."""
    found: list[_Row] = []
    for row in rows:
        same = found and not {"phase", "end"} & {row.kind, found[-1].kind}
        if same and str(at(answer, row.time_s)) == str(at(answer, found[-1].time_s)):
            had = found.pop()
            found.append(replace(had, said=Sentence("{first}; {second}", first=had.said, second=row.said)))
        else:
            found.append(row)
    return found


def _words(answer: Answer, entry: ClockEntry) -> Sayable:
    """An entry's words: with the earliest that a watch may begin, and the end of what lasts."""
    said, earliest = entry.words, at(answer, entry.earliest_s)
    if entry.kind == "watch" and str(earliest) != str(at(answer, entry.time_s)):
        said = Sentence("{said}, from {earliest} at the earliest", said=said, earliest=earliest)
    if entry.kind == "switch" and (ends_s := _ends_s(answer, entry.step)) is not None:
        said = Sentence("{said}, until {end}", said=said, end=at(answer, ends_s))
    if entry.minutes is not None:
        said = Sentence("{said}, until {end}", said=said, end=at(answer, entry.time_s + 60 * entry.minutes))
    return said


def _ends_s(answer: Answer, name: str) -> float | None:
    """When another appliance of the day is switched off [s]."""
    return next((float(p.edges_s[-1]) for p in answer.day.profiles[1:] if p.name == name), None)
