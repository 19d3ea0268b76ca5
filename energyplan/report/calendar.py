"""The brew day as an iCalendar file: phases to look at, and reminders for what needs a person."""

import math
import uuid
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Literal

from energyplan.advice.answer import Answer
from energyplan.advice.people import SWITCH_ON, Kind, Moment, TaskSpan, people_day
from energyplan.base.units import Display
from energyplan.day.brewday import Phase
from energyplan.plan.model import Plan
from energyplan.report.brewdaypage import set_power_w
from energyplan.report.sentences import MAINS_CAUTION, event_text

if TYPE_CHECKING:
    import icalendar

__all__ = ["calendar_ics"]

#: Base of all UIDs, so that the same entry of the same day keeps its UID on every export.
_OWN_UIDS = uuid.uuid5(uuid.NAMESPACE_URL, "urn:energyplan:brew-day")

_Kind = Literal["phase", "action", "addition", "switch", "lid", "boil", "task", "end"]
_OF_MOMENT: dict[Kind, _Kind] = {
    "switch": "switch", "action": "action", "addition": "addition", "lid": "lid", "end": "end",
}  # fmt: skip

# Time to get there before something needs hands; common practice, no source.
AHEAD_MIN: dict[str, float] = {
    "action": 5.0, "addition": 2.0, "switch": 5.0, "lid": 2.0, "boil": 5.0, "task": 5.0, "end": 0.0,
}  # fmt: skip
TAKES = timedelta(minutes=5)  # shown length of what has none of its own
TOGETHER_S = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Entry:
    """One entry: seconds since the start, words, and how many minutes before it a reminder comes (None: never)."""

    kind: _Kind
    step: str
    start_s: float
    end_s: float | None
    title: str
    words: str = ""
    remind_min: int | None = None


def calendar_ics(answer: Answer, *, show: Display, stamp: datetime | None = None) -> bytes:
    """Write the day as an iCalendar file (RFC 5545) in UTC instants.

    Parameters
    ----------
    answer : Answer
        The answered plan.
    show : Display
        Units of amounts and temperatures.
    stamp : datetime, optional
        Aware instant at which the file is made (DTSTAMP); left out: the start of the day, so that the same
        input gives the same bytes.

    Notes
    -----
    Phases have no alarm, nor have tasks that nobody need watch. Whatever needs a person has one: switching on, grain
    in and out, sparging, the lid, the watches for boil-over, additions, tasks, the end. Alarms come at the early end:
    some minutes to get there before the earliest time that nineteen days of twenty keep to (`people_day`). UIDs come
    from the title, the start of the day, the step and the kind of entry: an entry that moves keeps its UID.
    """
    import icalendar

    plan = answer.day.plan
    calendar = icalendar.Calendar()
    calendar.add("prodid", "-//energyplan//brew day//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("name", plan.title)
    made = (stamp or answer.start).astimezone(UTC)
    seen: Counter[tuple[str, str]] = Counter()
    for entry in sorted(_entries(answer, show), key=lambda entry: (entry.start_s, entry.kind)):
        number = seen[entry.step, entry.kind]
        seen[entry.step, entry.kind] += 1
        calendar.add_component(_component(answer, entry, number, made))
    return bytes(calendar.to_ical())


def _component(answer: Answer, entry: _Entry, number: int, made: datetime) -> "icalendar.Event":
    import icalendar

    event = icalendar.Event()
    name = "\n".join([answer.day.plan.title, answer.start.isoformat(), entry.step, entry.kind, str(number)])
    event.add("uid", str(uuid.uuid5(_OWN_UIDS, name)))
    event.add("dtstamp", made)
    begin = _instant(answer, entry.start_s)
    end = begin + TAKES if entry.end_s is None else _instant(answer, entry.end_s)
    event.add("dtstart", begin)
    event.add("dtend", max(end, begin + timedelta(seconds=1)))
    event.add("summary", entry.title)
    if entry.words:
        event.add("description", entry.words)
    event.add("categories", ["Brew day"])
    if entry.kind == "phase" or (entry.kind == "task" and entry.remind_min is None):
        event.add("transp", "TRANSPARENT")
    if entry.remind_min is not None:
        event.add_component(_alarm(entry))
    return event


def _alarm(entry: _Entry) -> "icalendar.Alarm":
    import icalendar

    alarm = icalendar.Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", entry.title)
    alarm.add("trigger", -timedelta(minutes=entry.remind_min or 0))
    return alarm


def _instant(answer: Answer, time_s: float) -> datetime:
    """UTC instant, in whole seconds: iCalendar knows no parts of them."""
    return (answer.start + timedelta(seconds=round(time_s))).astimezone(UTC)


def _entries(answer: Answer, show: Display) -> Iterator[_Entry]:
    day, people = answer.day, people_day(answer.day)
    for phase in day.phases:
        yield _phase_entry(day.plan, phase, show)
    told_s = [moment.time_s for moment in people.moments if moment.kind in ("switch", "action")]
    for moment in people.moments:
        if (kind := _OF_MOMENT.get(moment.kind)) is not None:
            yield _moment_entry(answer, kind, moment, show)
    for task in people.tasks:
        # What begins as something goes in or out has that one's reminder already.
        alone = all(abs(task.begins_s - time_s) > TOGETHER_S for time_s in told_s)
        yield _span_entry("task", task, remind=task.attended and alone)
    for watch in people.watches:
        yield _span_entry("boil", watch, remind=True)


def _phase_entry(plan: Plan, phase: Phase, show: Display) -> _Entry:
    power_w = set_power_w(plan, phase)
    power = f"set {power_w:.0f} W, {phase.mean_w:.0f} W on average" if power_w else "elements off"
    return _Entry(
        kind="phase", step=phase.step, start_s=phase.start_s, end_s=phase.end_s, title=f"{phase.step}: {phase.phase}",
        words=f"{show.temperature(phase.from_c)} to {show.temperature(phase.to_c)}; {power}",
    )  # fmt: skip


def _moment_entry(answer: Answer, kind: _Kind, moment: Moment, show: Display) -> _Entry:
    plan, title = answer.day.plan, moment.text if moment.event is None else event_text(moment.event, show)
    step, words = moment.step, f"Step: {moment.step}"
    if moment.text == SWITCH_ON:
        step, title = "", f"Switch on: {plan.title}"
        words = f"{show.volume(plan.batch.water_l)} of water in, elements covered. {MAINS_CAUTION}"
    return _Entry(
        kind=kind, step=step, start_s=moment.time_s, end_s=None, title=title, words=words,
        remind_min=_remind_min(kind, moment.time_s, moment.earliest_s),
    )  # fmt: skip


def _span_entry(kind: _Kind, span: TaskSpan, *, remind: bool) -> _Entry:
    words = "Stay beside the vessel until the foam has settled." if kind == "boil" else f"Step: {span.step}"
    return _Entry(
        kind=kind, step=span.step, start_s=span.begins_s, end_s=span.ends_s, title=span.name, words=words,
        remind_min=_remind_min(kind, span.begins_s, span.earliest_s) if remind else None,
    )  # fmt: skip


def _remind_min(kind: _Kind, time_s: float, earliest_s: float) -> int:
    """Whole minutes between a reminder and its entry: time to get there, before the earliest that it may come."""
    return math.ceil(AHEAD_MIN[kind] + (time_s - earliest_s) / 60 - 1e-9)
