"""The brew day as an iCalendar file: phases to look at, and reminders for what needs a person."""

import math
import uuid
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Literal

from energyplan.brewday import BrewDay, Phase
from energyplan.plan import Plan
from energyplan.report.answer import Answer
from energyplan.report.brewdaypage import set_power_w
from energyplan.report.sentences import MAINS_CAUTION, event_text
from energyplan.timeline import Event
from energyplan.units import Display

if TYPE_CHECKING:
    import icalendar

__all__ = ["calendar_ics"]

#: Base of all UIDs, so that the same entry of the same day keeps its UID on every export.
_OWN_UIDS = uuid.uuid5(uuid.NAMESPACE_URL, "urn:energyplan:brew-day")

# Time to get there before something needs hands; common practice, no source.
AHEAD_MIN = {"action": 5.0, "addition": 2.0, "switch": 5.0, "boil": 5.0, "end": 0.0}
# Elements may be 5 % above their plate (IEC 60335-1, 10.1, from memory), so ramps may be shorter by as much.
EARLY_FRAC = 0.05
TAKES = timedelta(minutes=5)  # shown length of what has none of its own


@dataclass(frozen=True, slots=True, kw_only=True)
class _Entry:
    """One entry: seconds since the start, words, and how many minutes before it a reminder comes (None: never)."""

    kind: Literal["phase", "action", "addition", "switch", "boil", "end"]
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
    Phases have no alarm. Whatever needs a person has one: switching on, grain in and out, sparging, the onset of the
    boil (watch for boil-over), additions, the end. Alarms come at the early end: some minutes to get there, and 5 %
    of the ramps before, by which elements at the upper end of their tolerance may be ahead of the plan. UIDs come
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
    if entry.kind == "phase":
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
    day = answer.day
    yield _Entry(
        kind="switch", step="", start_s=0.0, end_s=None, title=f"Switch on: {day.plan.title}",
        words=f"{show.volume(day.plan.batch.water_l)} of water in, elements covered. {MAINS_CAUTION}",
        remind_min=_remind_min(day, "switch", 0.0),
    )  # fmt: skip
    for profile in day.profiles[1:]:
        first_s = float(profile.edges_s[0])
        yield _Entry(
            kind="switch", step=profile.name, start_s=first_s, end_s=None,
            title=f"Switch on: {profile.name}, {float(profile.mean_w[0]):.0f} W",
            remind_min=_remind_min(day, "switch", first_s),
        )  # fmt: skip
    for phase in day.phases:
        yield _phase_entry(day.plan, phase, show)
        if phase.phase == "boil":
            yield _boil_entry(day, phase)
    yield from (_event_entry(day, event, show) for event in day.events if event.kind != "step")
    yield _Entry(kind="end", step="", start_s=day.duration_s, end_s=None, title="Done: switch off",
                 remind_min=_remind_min(day, "end", day.duration_s))  # fmt: skip


def _phase_entry(plan: Plan, phase: Phase, show: Display) -> _Entry:
    power_w = set_power_w(plan, phase)
    power = f"set {power_w:.0f} W, {phase.mean_w:.0f} W on average" if power_w else "elements off"
    return _Entry(
        kind="phase", step=phase.step, start_s=phase.start_s, end_s=phase.end_s, title=f"{phase.step}: {phase.phase}",
        words=f"{show.temperature(phase.from_c)} to {show.temperature(phase.to_c)}; {power}",
    )  # fmt: skip


def _boil_entry(day: BrewDay, phase: Phase) -> _Entry:
    return _Entry(
        kind="boil", step=phase.step, start_s=phase.start_s, end_s=None, title="Boil begins: watch for boil-over",
        words="Stay beside the vessel until the foam has settled.",
        remind_min=_remind_min(day, "boil", phase.start_s),
    )  # fmt: skip


def _event_entry(day: BrewDay, event: Event, show: Display) -> _Entry:
    kind: Literal["action", "addition"] = "addition" if event.kind == "addition" else "action"
    return _Entry(
        kind=kind, step=event.step, start_s=event.time_s, end_s=None, title=event_text(event, show),
        words=f"Step: {event.step}", remind_min=_remind_min(day, kind, event.time_s),
    )  # fmt: skip


def _remind_min(day: BrewDay, kind: str, time_s: float) -> int:
    """Whole minutes between a reminder and its entry: time to get there, and what heating may be ahead by."""
    ramps_s = sum(min(phase.end_s, time_s) - phase.start_s for phase in day.phases
                  if phase.phase == "ramp" and phase.start_s < time_s)  # fmt: skip
    return math.ceil(AHEAD_MIN[kind] + EARLY_FRAC * ramps_s / 60 - 1e-9)
