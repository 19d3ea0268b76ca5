"""What people do during the day, by the seconds since its start."""

from dataclasses import dataclass
from typing import Literal

from energyplan.course import Arrival, Course
from energyplan.plan import Plan

__all__ = ["Event", "events"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Something a person does, by the seconds since the start, with what goes in: mass, volume, temperature."""

    time_s: float
    step: str
    kind: Literal["action", "addition", "step"]
    text: str
    mass_kg: float | None = None
    volume_l: float | None = None
    temperature_c: float | None = None


def events(plan: Plan, course: Course) -> tuple[Event, ...]:
    """List a day's actions, step starts and additions in the order in which they come.

    An addition's time counts from the onset of the boil: it goes in when the entered time is left.
    """
    found = [_action(arrival, plan) for arrival in course.arrivals]
    for step in plan.steps:
        own = [leg for leg in course.legs if leg.step.name == step.name and leg.outcome.duration_s[0] > 0]
        if not own:
            continue
        found.append(Event(time_s=float(own[0].start_s[0]), step=step.name, kind="step", text=step.name))
        ends_s = float(own[-1].end_s[0])
        found += [
            Event(time_s=ends_s - addition.left_s, step=step.name, kind="addition", text=addition.name)
            for addition in step.additions
        ]
    return tuple(sorted(found, key=lambda event: event.time_s))


def _action(arrival: Arrival, plan: Plan) -> Event:
    action, batch = arrival.action, plan.batch
    text, mass_kg, volume_l, temperature_c = {
        "add grain": ("Add the grain", batch.grain_kg, None, None),
        "remove grain": ("Lift the grain out", None, None, None),
        "add sparge water": ("Sparge", None, batch.sparge_water_l, batch.sparge_temperature_c),
        "empty": ("Empty the vessel", None, None, None),
        "add water": ("Add water", None, action.volume_l, action.temperature_c),
    }[action.kind]
    return Event(
        time_s=float(arrival.time_s[0]),
        step=arrival.step.name,
        kind="action",
        text=text,
        mass_kg=mass_kg,
        volume_l=volume_l,
        temperature_c=temperature_c,
    )
