"""The day as entries of a calendar: phases to look at, and reminders for what needs a person."""

import math
from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Literal

from energyplan.advice.answer import Answer
from energyplan.advice.people import Kind, Moment, TaskSpan, people_day
from energyplan.base.kinds import CELSIUS, LITRES, MINUTES, MOMENT, WATTS, WORD, WRITTEN
from energyplan.base.kinds import Moment as Clock
from energyplan.base.sentence import Sayable, Sentence, Span
from energyplan.day.appliances import VESSEL
from energyplan.day.brewday import Phase
from energyplan.telling.clock import moment_words, span_words
from energyplan.telling.day import MAINS_CAUTION, set_power_w
from energyplan.telling.told import Column, Table, Told

__all__ = ["calendar_told"]

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
    people = people_day(answer.day)
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
        power = Sentence("set {set}, {mean} on average", set=WATTS(power_w), mean=WATTS(phase.mean_w))
    title = Sentence("{step}: {phase}", step=WRITTEN(phase.step), phase=WORD(phase.phase))
    text = Sentence("{range}; {power}", range=Span(CELSIUS, phase.from_c, phase.to_c), power=power)
    start, end = _clock(answer, phase.start_s), _clock(answer, phase.end_s)
    return start, end, "phase", phase.step, title, text, None


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
