"""What people do during the day, by the seconds since its start."""

from dataclasses import dataclass
from typing import Literal

from energyplan.course import Arrival, Course
from energyplan.plan import Plan

__all__ = ["Event", "events"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Something a person does, by the seconds since the start."""

    time_s: float
    step: str
    kind: Literal["action", "addition", "step"]
    text: str


def events(plan: Plan, course: Course) -> tuple[Event, ...]:
    """List a day's actions, step starts and additions in the order in which they come.

    An addition's time counts from the onset of the boil: it goes in when the entered time is left.
    """
    found = [
        Event(time_s=float(a.time_s[0]), step=a.step.name, kind="action", text=_action_text(a, plan))
        for a in course.arrivals
    ]
    for step in plan.steps:
        own = [leg for leg in course.legs if leg.step is step and leg.outcome.duration_s[0] > 0]
        if not own:
            continue
        found.append(Event(time_s=float(own[0].start_s[0]), step=step.name, kind="step", text=step.name))
        ends_s = float(own[-1].end_s[0])
        found += [
            Event(time_s=ends_s - addition.left_s, step=step.name, kind="addition", text=addition.name)
            for addition in step.additions
        ]
    return tuple(sorted(found, key=lambda event: event.time_s))


def _action_text(arrival: Arrival, plan: Plan) -> str:
    action = arrival.action
    match action.kind:
        case "add grain":
            return f"Add {plan.batch.grain_kg:g} kg of grain"
        case "remove grain":
            return "Lift out the grain"
        case "add sparge water":
            return f"Sparge with {plan.batch.sparge_water_l:g} L"
        case "empty":
            return "Empty the vessel"
        case "add water":
            return f"Add {action.volume_l:g} L of water at {action.temperature_c:g} °C"
