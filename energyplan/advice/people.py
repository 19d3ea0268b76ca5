"""The people's day: when hands are needed, how early and how late that may come, when everybody is done."""

from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from itertools import combinations, pairwise
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from energyplan.advice.draws import QUANTILES, quantiles
from energyplan.advice.odds import DRAWS, SEED, Drawn, drawn
from energyplan.base.records import dataclass
from energyplan.day.brewday import BrewDay
from energyplan.day.course import Course
from energyplan.day.supply import VESSEL, second_heater_s
from energyplan.day.tasks import Event, event_times, step_times, tasks_of, wort_boils
from energyplan.plan.model import Task
from energyplan.plan.steps import Lid

if TYPE_CHECKING:
    from energyplan.advice.learned import Learned

__all__ = [
    "Between", "Instants", "Kind", "Moment", "PeopleDay", "PeopleNote", "Presence", "Stretches", "TaskSpan", "Watch",
    "What", "instants", "people_day", "task_times", "watch_times",
]  # fmt: skip

FloatArray = NDArray[np.float64]
Kind = Literal["switch", "action", "addition", "step", "lid", "boil", "end"]
Watch = Literal["onset", "first addition"]
# Common practice, no source: how long before and after its onset, and after the first addition, a boil is watched.
WATCH_BELOW_K = 5.0  # 95 °C at sea level
WATCH_AFTER_S = 600.0
FIRST_ADDITION_S = 300.0


@dataclass(frozen=True, slots=True, kw_only=True)
class What:
    """What happens, without its time.

    ``name`` is that of a task or of the appliance that is switched on, ``power_w`` what the appliance draws, ``lid``
    how the lid is set, ``watch`` at what a boil is watched.
    """

    step: str
    kind: Kind = "step"
    name: str = ""
    event: Event | None = None
    power_w: float | None = None
    lid: Lid | None = None
    watch: Watch | None = None
    attended: bool = True


#: What happens, with its time in every draw [s], or from when to when.
Instants = list[tuple[What, FloatArray]]
Stretches = list[tuple[What, FloatArray, FloatArray]]


def instants(day: BrewDay, course: Course) -> Instants:
    """What comes at one time: switching on and off, what goes in or out, steps, lids, onsets of boils."""
    plan, last = day.plan, day.plan.steps[-1].name
    start_s, end_s = course.step_starts_s[plan.steps[0].name], course.legs[-1].end_s
    found: Instants = [(What(name=VESSEL, step=plan.steps[0].name, kind="switch"), start_s)]
    for profile in day.profiles[1:]:
        power_w = float(profile.mean_w[0])
        what = What(name=profile.name, step=profile.name, kind="switch", power_w=power_w)
        found.append((what, second_heater_s(plan, course)[0]))
    for event, times_s in event_times(plan, course):
        found.append((What(name=event.name, step=event.step, kind=event.kind, event=event), times_s))
    found += _lids(day, course)
    found += [(What(step=step, kind="boil"), onset_s) for step, onset_s in _onsets(day, course)]
    return [*found, (What(step=last, kind="end"), end_s)]


def _lids(day: BrewDay, course: Course) -> Instants:
    """Where the lid changes, from step to step of those that take time."""
    lasting = {phase.step for phase in day.phases}
    steps = [step for step in day.plan.steps if step.name in lasting]
    return [
        (What(step=step.name, kind="lid", lid=step.lid_state), course.step_starts_s[step.name])
        for before, step in pairwise(steps)
        if step.lid_state != before.lid_state
    ]


def _onsets(day: BrewDay, course: Course) -> list[tuple[str, FloatArray]]:
    """Onset of every boil [s]: it lasts as long as planned, to the end of its step."""
    times = step_times(day.plan, course)
    boils = [step for step in day.plan.steps if step.boil and step.hold_s > 0]
    return [(step.name, times[step.name].ends_s - step.hold_s) for step in boils]


def task_times(day: BrewDay, course: Course) -> Stretches:
    """The tasks, from when to when; those at one place of a step follow one another."""
    times, found = step_times(day.plan, course), []
    places: dict[tuple[str, str], list[Task]] = {}
    for task in tasks_of(day.plan):
        places.setdefault((task.at_step, task.when), []).append(task)
    for (step, when), tasks in places.items():
        at_s = times[step].ends_s if when == "after" else times[step].begins_s
        if when == "before":
            at_s = at_s - sum(task.takes_s for task in tasks)
        for task in tasks:
            found.append((What(name=task.name, step=step, attended=task.attended), at_s, at_s + task.takes_s))
            at_s = at_s + task.takes_s
    return found


def watch_times(day: BrewDay, course: Course) -> Stretches:
    """Stretches in which wort may boil over: around the onset of its boils, and at the first thing that goes in."""
    names = wort_boils(day.plan)
    wort = {step.name: step for step in day.plan.steps if step.name in names}
    found: Stretches = []
    for name, onset_s in _onsets(day, course):
        if name not in wort:
            continue
        step = wort[name]
        until_s = onset_s + min(WATCH_AFTER_S, step.hold_s)
        found.append((What(step=name, watch="onset"), onset_s - _foaming_s(day, name), until_s))
        if step.additions:
            first_s = onset_s + step.hold_s - max(addition.left_s for addition in step.additions)
            what = What(step=name, watch="first addition")
            found.append((what, first_s, first_s + FIRST_ADDITION_S))
    return found


def _foaming_s(day: BrewDay, step: str) -> float:
    """How long before a boil's onset the temperature passes the mark from which foam is watched [s], as planned."""
    boil = next(phase for phase in day.phases if (phase.step, phase.phase) == (step, "boil"))
    times_s, temperatures_c = day.trajectory.times_s, day.trajectory.temperatures_c
    mark_c = boil.from_c - WATCH_BELOW_K
    below = np.flatnonzero((times_s <= boil.start_s) & (temperatures_c < mark_c))
    if not below.size:
        return float(boil.start_s - times_s[0])
    last = int(below[-1])
    (from_s, to_s), (from_c, to_c) = times_s[last : last + 2], temperatures_c[last : last + 2]
    return float(boil.start_s - (from_s + (to_s - from_s) * (mark_c - from_c) / (to_c - from_c)))


FEWEST_LEFT = 10
EARLY_FRAC, _, LATE_FRAC = QUANTILES  # eight days of ten lie between, as in every range
# Common practice, no source: how long hands are at something, and the break for which nobody leaves the room.
HANDS_S = {"switch": 300.0, "action": 300.0, "addition": 120.0, "lid": 60.0, "end": 120.0}
SHORT_BREAK_S = 300.0
SAME_S = 60.0  # an overlap shorter than this is none


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """Something at one time [s from the start]: as planned, and from when to when it comes on eight days of ten.

    ``event`` is the entry of the day's timeline, with its amounts, where there is one; ``name`` and ``power_w`` are
    those of an appliance that is switched on, ``lid`` how the lid is set.
    """

    kind: Kind
    step: str
    name: str
    time_s: float
    earliest_s: float
    latest_s: float
    event: Event | None = None
    power_w: float | None = None
    lid: Lid | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TaskSpan:
    """Something that takes a while: from, to, its earliest beginning and its latest end [s from the start].

    A task has a ``name``; a stretch in which wort may boil over says at what it is watched.
    """

    name: str
    step: str
    begins_s: float
    ends_s: float
    earliest_s: float
    latest_s: float
    attended: bool
    watch: Watch | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Presence:
    """A stretch in which somebody must be in the room, and what for."""

    begins_s: float
    ends_s: float
    earliest_s: float
    latest_s: float
    why: tuple[Moment | TaskSpan, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Between:
    """A stretch in which nothing needs hands; ``heats`` says whether the vessel's elements are on in it."""

    begins_s: float
    ends_s: float
    heats: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PeopleNote:
    """What is to be said of a day's tasks, and of how far its times can be trusted.

    ``code`` is "no tasks" (the plan names none, the usual ones are taken), "at once" (``first`` and ``second`` overlap
    by ``minutes``), "not over" (``first`` outlasts the emptying for ``step`` by ``minutes``), "as planned" (almost no
    other day can be brewed) or "left out" (``failed`` of ``failed + draws`` days can't).
    """

    code: Literal["no tasks", "at once", "not over", "as planned", "left out"]
    first: str = ""
    second: str = ""
    step: str = ""
    minutes: float = 0.0
    failed: int = 0
    draws: int = 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PeopleDay:
    """What the day asks of people, by the seconds since the vessel's start.

    ``watches`` are the stretches in which wort may boil over. ``begins_s`` and ``ends_s`` bound everything that
    people do, ``vessel_ends_s`` is when the vessel is done. ``draws`` is the number of days that could be brewed.
    """

    moments: tuple[Moment, ...]
    tasks: tuple[TaskSpan, ...]
    watches: tuple[TaskSpan, ...]
    presences: tuple[Presence, ...]
    between: tuple[Between, ...]
    begins_s: float
    ends_s: float
    latest_end_s: float
    vessel_ends_s: float
    draws: int
    notes: tuple[PeopleNote, ...]


@lru_cache(maxsize=16)
def people_day(day: BrewDay, learned: "Learned | None" = None, *, draws: int = DRAWS, seed: int = SEED) -> PeopleDay:
    """Work out when a day needs people.

    Parameters
    ----------
    day : BrewDay
        The day; its plan's tasks, or the usual ones (`energyplan.day.tasks.usual_tasks`).
    learned : Learned, optional
        What brewed days have taught about the vessel: earliest and latest times use it.
    draws : int
        How many days with other inputs are run for the earliest and latest times; with less than 10 they are the
        planned ones.
    seed : int
        Of the draws.

    Notes
    -----
    The inputs that vary are those of `energyplan.advice.draws.uncertainties_of`; earliest and latest are the
    10 % and 90 % quantiles, never inside the planned time. A task holds nothing up: elements rest only in a step's
    ``pause``. A boil of wort is watched from 5 K below its temperature until 10 min after its onset, and for 5 min
    from the first addition (common practice, no source).
    """
    timed = _timed(day, drawn(day.plan, day.wort.extract_kg, draws, seed, learned) if draws >= FEWEST_LEFT else None)
    moments = tuple(sorted(timed.moments(day), key=lambda moment: moment.time_s))
    tasks = tuple(sorted(timed.spans(day, task_times), key=lambda span: span.begins_s))
    watches = timed.spans(day, watch_times)
    stays = [(span, span) for span in (*(span for span in tasks if span.attended), *watches)]
    presences = _merged([*_at_hand(moments), *stays])
    stretches: tuple[Presence | TaskSpan, ...] = (*presences, *tasks, *watches)
    return PeopleDay(
        moments=moments, tasks=tasks, watches=watches, presences=presences, between=tuple(_between(day, presences)),
        begins_s=min(stretch.begins_s for stretch in stretches), ends_s=max(stretch.ends_s for stretch in stretches),
        latest_end_s=max(stretch.latest_s for stretch in stretches), vessel_ends_s=day.duration_s,
        draws=timed.draws, notes=tuple(_notes(day, tasks, timed)),
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Timed:
    """The day as planned, and with other inputs; ``brewed`` marks the draws that can be, ``failed`` can't."""

    planned: Course
    varied: Course
    brewed: NDArray[np.bool_]
    failed: int

    @property
    def draws(self) -> int:
        return int(self.brewed.sum())

    def moments(self, day: BrewDay) -> tuple[Moment, ...]:
        planned, varied = (instants(day, course) for course in (self.planned, self.varied))
        early_s, late_s = self._around([time_s for _, time_s in planned], [time_s for _, time_s in varied])
        return tuple(
            Moment(
                kind=what.kind, step=what.step, name=what.name, time_s=float(planned_s[0]), earliest_s=earliest_s,
                latest_s=latest_s, event=what.event, power_w=what.power_w, lid=what.lid,
            )
            for (what, planned_s), earliest_s, latest_s in zip(planned, early_s, late_s, strict=True)
        )  # fmt: skip

    def spans(self, day: BrewDay, times: Callable[[BrewDay, Course], Stretches]) -> tuple[TaskSpan, ...]:
        planned, varied = (times(day, course) for course in (self.planned, self.varied))
        early_s, _ = self._around([begins_s for _, begins_s, _ in planned], [begins_s for _, begins_s, _ in varied])
        _, late_s = self._around([ends_s for _, _, ends_s in planned], [ends_s for _, _, ends_s in varied])
        return tuple(
            TaskSpan(
                name=what.name, step=what.step, begins_s=float(begins_s[0]), ends_s=float(ends_s[0]),
                earliest_s=earliest_s, latest_s=latest_s, attended=what.attended, watch=what.watch,
            )
            for (what, begins_s, ends_s), earliest_s, latest_s in zip(planned, early_s, late_s, strict=True)
        )  # fmt: skip

    def _around(self, planned: list[FloatArray], varied: list[FloatArray]) -> tuple[list[float], list[float]]:
        """Early and late over the draws, never inside the planned time; that twice where almost none can be brewed."""
        times_s = np.array([float(time_s[0]) for time_s in planned])
        if self.draws < FEWEST_LEFT or not planned:
            return times_s.tolist(), times_s.tolist()
        drawn_s = np.array([np.broadcast_to(time_s, self.brewed.shape) for time_s in varied])[:, self.brewed]
        early_s, late_s = quantiles(drawn_s, (EARLY_FRAC, LATE_FRAC))
        return np.minimum(times_s, early_s).tolist(), np.maximum(times_s, late_s).tolist()


def _timed(day: BrewDay, others: Drawn | None) -> _Timed:
    """The day among others; without others everything comes when it is planned."""
    planned = day.planned_course()
    if others is None:
        return _Timed(planned=planned, varied=planned, brewed=np.ones(1, dtype=bool), failed=0)
    return _Timed(planned=planned, varied=others.course, brewed=others.brewed, failed=others.failed)


def _at_hand(moments: Sequence[Moment]) -> "Iterator[tuple[TaskSpan, Moment]]":
    """The short stretch that each moment takes of a person; the start of a step and the onset of a boil take none."""
    for moment in moments:
        if hands_s := HANDS_S.get(moment.kind, 0.0):
            yield TaskSpan(
                name=moment.name, step=moment.step, begins_s=moment.time_s, ends_s=moment.time_s + hands_s,
                earliest_s=moment.earliest_s, latest_s=moment.latest_s + hands_s, attended=True,
            ), moment  # fmt: skip


def _merged(stays: Sequence[tuple[TaskSpan, Moment | TaskSpan]]) -> tuple[Presence, ...]:
    """Stretches that meet, but for a short break, as one; each with what it is for."""
    found: list[Presence] = []
    for span, why in sorted(stays, key=lambda stay: stay[0].begins_s):
        whys: list[Moment | TaskSpan] = [why]
        begins_s, ends_s, earliest_s, latest_s = span.begins_s, span.ends_s, span.earliest_s, span.latest_s
        if found and begins_s <= found[-1].ends_s + SHORT_BREAK_S:
            had = found.pop()
            begins_s, ends_s, whys = had.begins_s, max(had.ends_s, ends_s), [*had.why, why]
            earliest_s, latest_s = min(had.earliest_s, earliest_s), max(had.latest_s, latest_s)
        found.append(
            Presence(begins_s=begins_s, ends_s=ends_s, earliest_s=earliest_s, latest_s=latest_s, why=tuple(whys))
        )  # fmt: skip
    return tuple(found)


def _between(day: BrewDay, presences: Sequence[Presence]) -> Iterator[Between]:
    for before, after in pairwise(presences):
        heats = any(
            bool(((profile.edges_s[1:] > before.ends_s) & (profile.edges_s[:-1] < after.begins_s)
                  & (profile.heater_w_per_v2 > 0)).any())
            for profile in day.profiles
        )  # fmt: skip
        yield Between(begins_s=before.ends_s, ends_s=after.begins_s, heats=heats)


def _notes(day: BrewDay, tasks: Sequence[TaskSpan], timed: _Timed) -> Iterator[PeopleNote]:
    if not day.plan.tasks:
        yield PeopleNote(code="no tasks")
    for first, second in combinations([task for task in tasks if task.attended], 2):
        both_s = min(first.ends_s, second.ends_s) - second.begins_s
        if both_s > SAME_S:
            yield PeopleNote(code="at once", first=first.name, second=second.name, minutes=both_s / 60)
    yield from _too_late(day, tasks)
    if timed.draws < FEWEST_LEFT:
        yield PeopleNote(code="as planned")
    elif timed.failed:
        yield PeopleNote(code="left out", failed=timed.failed, draws=timed.draws)


def _too_late(day: BrewDay, tasks: Sequence[TaskSpan]) -> Iterator[PeopleNote]:
    """Tasks of the steps before that aren't over when the vessel is emptied."""
    places = {step.name: place for place, step in enumerate(day.plan.steps)}
    for event in day.events:
        if event.action != "empty":
            continue
        for task in tasks:
            over_s = task.ends_s - event.time_s
            if places[task.step] < places[event.step] and over_s > SAME_S:
                yield PeopleNote(code="not over", first=task.name, step=event.step, minutes=over_s / 60)
