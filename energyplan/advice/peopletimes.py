"""When what people do comes, in one draw of a day or in many: the same list for every course of a plan."""

from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from energyplan.base.records import dataclass
from energyplan.day.appliances import VESSEL, second_heater_s
from energyplan.day.brewday import BrewDay
from energyplan.day.course import Course
from energyplan.day.tasks import tasks_of, wort_steps
from energyplan.day.timeline import Event, event_times, step_times
from energyplan.plan.model import Task
from energyplan.plan.steps import Lid

__all__ = ["Instants", "Kind", "Stretches", "Watch", "What", "instants", "task_times", "watch_times"]

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
    wort = {step.name: step for step in wort_steps(day.plan)}
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
