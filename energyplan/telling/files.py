"""What goes on paper and into a calendar: the sheets' pages and the events of the day."""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Literal

from energyplan.advice.answer import Answer
from energyplan.advice.people import Kind, Moment, TaskSpan
from energyplan.base.kinds import CELSIUS, KWH, LITRES, MINUTES, MOMENT, MONEY, PHASE, WATTS, WORD, WRITTEN
from energyplan.base.kinds import Moment as Clock
from energyplan.base.records import dataclass
from energyplan.base.sentence import NOTHING, Sayable, Sentence, Span, listed
from energyplan.day.brewday import Phase
from energyplan.day.supply import VESSEL
from energyplan.plan.model import Plan
from energyplan.telling.clock import ClockEntry, EntryKind, clock_entries, moment_words, span_words
from energyplan.telling.currents import lines_told
from energyplan.telling.day import MAINS_CAUTION, day_told, strike_sentence, wort_sentence
from energyplan.telling.electrician import checked_circuit, tell_electrician
from energyplan.telling.phases import at, set_power_w, steps_table
from energyplan.telling.picture import picture_told
from energyplan.telling.told import Column, Table, Told

__all__ = ["brew_day_told", "calendar_told", "file_told"]

_RowKind = Literal["phase", "do", "boil", "within", "end"]


# At one moment: first what is done before a step, then the step's phase, then what happens in it.
_ORDER: dict[_RowKind, int] = {"end": 0, "do": 1, "phase": 2, "boil": 3, "within": 4}


_SHOWN_AS: dict[EntryKind, _RowKind] = {
    "task": "do", "action": "do", "lid": "do", "watch": "boil", "addition": "within", "switch": "within",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Row:
    """One row by the clock: a phase with its numbers, or something that a person does."""

    time_s: float
    kind: _RowKind
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


_Kind = Literal["phase", "action", "addition", "switch", "lid", "boil", "task", "end"]


_OF_MOMENT: dict[Kind, _Kind] = {
    "switch": "switch", "action": "action", "addition": "addition", "lid": "lid", "end": "end",
}  # fmt: skip


# Time to get there before something needs hands; common practice, no source.
AHEAD_MIN: dict[_Kind, float] = {
    "action": 5.0, "addition": 2.0, "switch": 5.0, "lid": 2.0, "boil": 5.0, "task": 5.0, "end": 0.0,
}  # fmt: skip


TAKES_S = 300.0  # shown length of what has none of its own
TOGETHER_S = 60.0

_COLUMNS = (
    Column("start", "From", MOMENT),
    Column("end", "Until", MOMENT),
    Column("kind", "Kind", WORD),
    Column("step", "Step", WRITTEN),
    Column("title", "What", WORD),
    Column("text", "More", WORD),
    Column("remind_min", "Reminder before", MINUTES),
)


Row = tuple[object, ...]


def calendar_told(answer: Answer) -> Told:
    """The day's entries, each with how many minutes before it a reminder comes (None: never).

    Notes
    -----
    Phases have no reminder, nor have tasks that nobody need watch. Whatever needs a person has one: switching on,
    grain in and out, sparging, the lid, the watches for boil-over, additions, tasks, the end. Reminders come at the
    early end: some minutes to get there before the earliest time that nineteen days of twenty keep to (`people_day`).
    """
    rows = sorted(_entries(answer), key=lambda row: row[0])
    return Told(
        key="calendar",
        title=Sentence("{title}", title=WRITTEN(answer.day.plan.title)),
        facts={"start": MOMENT(_clock(answer, 0.0))},
        tables=(Table("entries", "Entries", _COLUMNS, tuple(row for _, row in rows)),),
    )


def _clock(answer: Answer, time_s: float) -> Clock:
    """An instant in whole seconds: calendars know no parts of them."""
    moment: datetime = answer.start + timedelta(seconds=round(time_s))
    return Clock(moment, answer.clock(0.0).date())


def _entries(answer: Answer) -> Iterator[tuple[tuple[float, str], Row]]:
    people = answer.people
    for phase in answer.day.phases:
        yield (phase.start_s, "phase"), _phase_row(answer, phase)
    told_s = [moment.time_s for moment in people.moments if moment.kind in ("switch", "action")]
    for moment in people.moments:
        if (kind := _OF_MOMENT.get(moment.kind)) is not None:
            yield (moment.time_s, kind), _moment_row(answer, kind, moment)
    for task in people.tasks:
        # What begins as something goes in or out has that one's reminder already.
        alone = all(abs(task.begins_s - time_s) > TOGETHER_S for time_s in told_s)
        yield (task.begins_s, "task"), _span_row(answer, "task", task, remind=task.attended and alone)
    for watch in people.watches:
        yield (watch.begins_s, "boil"), _span_row(answer, "boil", watch, remind=True)


def _phase_row(answer: Answer, phase: Phase) -> Row:
    power_w = set_power_w(answer.day.plan, phase)
    power: Sayable = WORD("elements off")
    if power_w:
        power = Sentence(
            "set {set}, {mean} on average{beside}",
            set=WATTS(power_w), mean=WATTS(phase.mean_w), beside=_beside(answer.day.plan, phase),
        )  # fmt: skip
    title = Sentence("{step}: {phase}", step=WRITTEN(phase.step), phase=WORD(phase.phase))
    text = Sentence("{range}; {power}", range=Span(CELSIUS, phase.from_c, phase.to_c), power=power)
    start, end = _clock(answer, phase.start_s), _clock(answer, phase.end_s)
    return start, end, "phase", phase.step, title, text, None


def _beside(plan: Plan, phase: Phase) -> Sentence:
    """What a phase's mean power holds beside the elements: without it the mean may be more than what is set."""
    pumped = plan.vessel.pump_w > 0 and any(step.pump_runs for step in plan.steps if step.name == phase.step)
    names = [name for name, on in (("pump", pumped), ("standby", plan.vessel.standby_w > 0)) if on]
    return Sentence(" with {names}", names=listed(WORD(name) for name in names)) if names else NOTHING


def _moment_row(answer: Answer, kind: _Kind, moment: Moment) -> Row:
    plan, step, title = answer.day.plan, moment.step, moment_words(moment)
    text: Sayable = Sentence("Step: {step}", step=WRITTEN(step))
    if kind == "switch" and moment.name == VESSEL:
        step, title = "", Sentence("Switch on: {title}", title=WRITTEN(plan.title))
        water = LITRES(plan.batch.water_l)
        text = Sentence("{water} of water in, elements covered. {caution}", water=water, caution=MAINS_CAUTION)
    remind_min = _remind_min(kind, moment.time_s, moment.earliest_s)
    start, end = _clock(answer, moment.time_s), _clock(answer, moment.time_s + TAKES_S)
    return start, end, kind, step, title, text, remind_min


def _span_row(answer: Answer, kind: _Kind, span: TaskSpan, *, remind: bool) -> Row:
    text: Sayable = Sentence("Step: {step}", step=WRITTEN(span.step))
    if kind == "boil":
        text = WORD("Stay beside the vessel until the foam has settled.")
    remind_min = _remind_min(kind, span.begins_s, span.earliest_s) if remind else None
    start, end = _clock(answer, span.begins_s), _clock(answer, span.ends_s)
    return start, end, kind, span.step, span_words(span), text, remind_min


def _remind_min(kind: _Kind, time_s: float, earliest_s: float) -> int:
    """Whole minutes between a reminder and its entry: time to get there, before the earliest that it may come."""
    return math.ceil(AHEAD_MIN[kind] + (time_s - earliest_s) / 60 - 1e-9)


def file_told(answer: Answer, ending: str) -> Told:
    """What a file with this ending holds: ``.pdf`` sheets, ``.ics`` entries, ``.csv`` steps, else the picture."""
    return _HOLDS.get(ending, picture_told)(answer)


def _sheets(answer: Answer) -> Told:
    """The pages for the electrician, the page for the brew day, and a picture for each."""
    parts = (
        tell_electrician(answer),
        brew_day_told(answer),
        lines_told(answer, checked_circuit(answer)),
        picture_told(answer),
    )
    return Told(key="sheets", title="The sheets", parts=parts)


def _steps(answer: Answer) -> Told:
    return Told(key="steps", title="The steps", tables=(steps_table(answer),))


_HOLDS: dict[str, Callable[[Answer], Told]] = {".pdf": _sheets, ".ics": calendar_told, ".csv": _steps}
