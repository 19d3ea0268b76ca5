"""What people do during the day, by the seconds since its start."""

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from energyplan.base.records import dataclass
from energyplan.day.course import Arrival, Course
from energyplan.plan.model import Action, Plan
from energyplan.plan.steps import ActionKind

__all__ = ["Event", "StepTimes", "event_times", "events", "step_times"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Something a person does, by the seconds since the start, with what goes in: mass, volume, temperature.

    ``action`` says which of the plan's actions it is, ``name`` what an addition is called. A step that finds nothing
    to do (its target lies below the temperature that is there, and it holds for no time) is listed as ``idle``.
    """

    time_s: float
    step: str
    kind: Literal["action", "addition", "step"]
    action: ActionKind | None = None
    name: str = ""
    idle: bool = False
    mass_kg: float | None = None
    volume_l: float | None = None
    temperature_c: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StepTimes:
    """When a step begins and when it is over, from the start of the day [s], both of shape (draws,)."""

    begins_s: FloatArray
    ends_s: FloatArray


def step_times(plan: Plan, course: Course) -> dict[str, StepTimes]:
    """When each step begins and ends, by its name: a step ends as the next one begins, the last with the day."""
    begins = [course.step_starts_s[step.name] for step in plan.steps]
    ends = [*begins[1:], course.legs[-1].end_s]
    return {
        step.name: StepTimes(begins_s=begin_s, ends_s=np.asarray(end_s))
        for step, begin_s, end_s in zip(plan.steps, begins, ends, strict=True)
    }


def events(plan: Plan, course: Course) -> tuple[Event, ...]:
    """List a day's actions, step starts and additions in the order in which they come.

    An addition's time counts from the onset of the boil: it goes in when the entered time is left.
    """
    return tuple(sorted((event for event, _ in event_times(plan, course)), key=lambda event: event.time_s))


def event_times(plan: Plan, course: Course) -> tuple[tuple[Event, FloatArray], ...]:
    """The day's events, each with its time in every draw of a course [s], shape (draws,).

    The events come in the order of the plan, the same for every course of it; their own time is that of the first
    draw.
    """
    acted = [one for one in course.arrivals if isinstance(one.action, Action)]
    found = [(_action(arrival, plan), arrival.time_s) for arrival in acted]
    by_step = step_times(plan, course)
    for step in plan.steps:
        times = by_step[step.name]
        begins_s = float(times.begins_s[0])
        found.append((Event(time_s=begins_s, step=step.name, kind="step", idle=_idle(times)), times.begins_s))
        for addition in step.additions:
            time_s = times.ends_s - addition.left_s
            event = Event(
                time_s=float(time_s[0]),
                step=step.name,
                kind="addition",
                name=addition.name,
                mass_kg=addition.mass_kg,
                temperature_c=addition.temperature_c,
            )
            found.append((event, time_s))
    return tuple(found)


def _idle(times: StepTimes) -> bool:
    return not times.ends_s[0] > times.begins_s[0]


def _action(arrival: Arrival, plan: Plan) -> Event:
    action, batch = arrival.action, plan.batch
    assert isinstance(action, Action)  # noqa: S101 - additions are told by their steps
    mass_kg, volume_l, temperature_c = {
        "add grain": (action.mass_kg, None, None),
        "remove grain": (None, None, None),
        "add sparge water": (None, batch.sparge_water_l, batch.sparge_temperature_c),
        "empty": (None, None, None),
        "add water": (None, action.volume_l, action.temperature_c),
    }[action.kind]
    return Event(
        time_s=float(arrival.time_s[0]),
        step=arrival.step.name,
        kind="action",
        action=action.kind,
        mass_kg=mass_kg,
        volume_l=volume_l,
        temperature_c=temperature_c,
    )
