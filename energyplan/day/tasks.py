"""What happens when: events of the day, what people do and how long it takes."""

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from energyplan.base.records import dataclass
from energyplan.day.course import Arrival, Course
from energyplan.plan.model import Action, Plan, Step, Task
from energyplan.plan.steps import ActionKind

__all__ = [
    "Event",
    "StepTimes",
    "event_times",
    "events",
    "mash_steps",
    "step_times",
    "tasks_of",
    "usual_tasks",
    "wort_boils",
    "wort_steps",
]

# Minutes that things take at home; common practice, no source.
SET_UP_MIN = 15.0


MILL_MIN = 20.0


STIR_IN_MIN = 8.0


DRAIN_MIN = 20.0


CHILL_MIN = 30.0


CLEAN_BY_HAND_MIN = 30.0


RINSE_MIN = 15.0


CHILLING, COOLING = "Chill the wort and draw it off", "Chill the wort"


MOST_LETTERS = 80  # of a name


LONGEST_AT_IT_MIN = 120.0  # a longer pause is a rest, and no work


def tasks_of(plan: Plan) -> tuple[Task, ...]:
    """The tasks that a plan names; if it names none, the usual ones (`usual_tasks`).

    Where a plan was made from another by leaving steps out, the tasks at those steps are left out too.
    """
    names = {step.name for step in plan.steps}
    return tuple(task for task in plan.tasks if task.at_step in names) if plan.tasks else usual_tasks(plan)


def usual_tasks(plan: Plan) -> tuple[Task, ...]:
    """What people usually do around a brew day like this one.

    Setting up and milling come before the start, stirring in and draining where the grain goes in and out, chilling
    where the plan says so or after the last boil of the wort, cleaning at the end. Where the plan has a pause for it, a
    task takes that pause, if it is one that people work through.

    Notes
    -----
    The durations are common practice, no source; a plan's own ``[[task]]`` tables replace them all.

    Examples
    --------
    >>> from energyplan.plan.file import read_plan
    >>> [task.name for task in usual_tasks(read_plan("demo"))][:2]
    ['Set up and fill the vessel', 'Mill the grain']
    """
    first = plan.steps[0].name
    found = [_task("Set up and fill the vessel", first, "before", SET_UP_MIN)]
    if plan.batch.grain_kg > 0 and any(_does(step, "add grain") for step in plan.steps):
        found.append(_task("Mill the grain", first, "before", MILL_MIN))
    worts, rest = _worts_and_rest(plan)
    for wort in worts:
        found += [task for step in wort for task in _around_the_grain(step)]
        found += [_chilled(step) for step in wort[:-1] if step.chill_to_c is not None]
        found += _drawn_off(wort, cleaned=bool(rest) or wort is not worts[-1])
    found += [task for step in rest for task in _around_the_grain(step)]
    last = plan.steps[-1].name
    cleaned = _task("Rinse and put away", last, "after", RINSE_MIN)
    return _distinct((*found, cleaned if rest else _task("Clean and put away", last, "after", CLEAN_BY_HAND_MIN)))


def _distinct(tasks: tuple[Task, ...]) -> tuple[Task, ...]:
    """The tasks, each with a name of its own: what is done again is named with its step."""
    seen: set[str] = set()
    found = []
    for task in tasks:
        name = task.name if task.name not in seen else f"{task.name} ({task.at_step})"[:MOST_LETTERS]
        seen.add(task.name)
        found.append(task.model_copy(update={"name": name}))
    return tuple(found)


def _task(name: str, at_step: str, when: str, takes_min: float) -> Task:
    return Task.model_validate({"name": name, "at_step": at_step, "when": when, "takes_s": 60 * takes_min})


def _does(step: Step, kind: str) -> bool:
    return any(action.kind == kind for action in step.before)


def _around_the_grain(step: Step) -> list[Task]:
    found = []
    if _does(step, "add grain"):
        found.append(_task("Stir the grain in", step.name, "during", _at_it_min(step, STIR_IN_MIN)))
    if _does(step, "remove grain"):
        name = "Lift, drain and sparge" if _does(step, "add sparge water") else "Lift and drain"
        found.append(_task(name, step.name, "during", _at_it_min(step, DRAIN_MIN)))
    elif _does(step, "add sparge water"):
        found.append(_task("Sparge", step.name, "during", _at_it_min(step, DRAIN_MIN)))
    return found


def _at_it_min(step: Step, usual_min: float) -> float:
    """How long people are at it: through the step's pause, or as long as usual where that is none or a rest [min]."""
    pause_min = step.pause_s / 60
    return pause_min if 0 < pause_min <= LONGEST_AT_IT_MIN else usual_min


def _chilled(step: Step) -> Task:
    """Chilling in the middle of the day, as before a souring."""
    return _task(COOLING, step.name, "during", _chill_min(step))


def _chill_min(step: Step) -> float:
    """How long people are at the chilling [min]."""
    chill_min = (step.chill_time_s or 0.0) / 60
    return chill_min if 0 < chill_min <= LONGEST_AT_IT_MIN else _at_it_min(step, CHILL_MIN)


def _drawn_off(wort: tuple[Step, ...], *, cleaned: bool) -> list[Task]:
    """Chilling a boiled wort to draw it off: in its last step, or after it; else only what the plan chills."""
    last = wort[-1]
    if not any(step.boil for step in wort):
        return [_chilled(last)] if last.chill_to_c is not None else []
    if not last.heats and (last.chill_to_c is not None or (cleaned and last.pause_s > 0)):
        return [_task(CHILLING, last.name, "during", _chill_min(last))]
    return [_task(CHILLING, last.name, "after", CHILL_MIN)]


def _worts_and_rest(plan: Plan) -> tuple[list[tuple[Step, ...]], tuple[Step, ...]]:
    """The steps of each wort, which ends where the vessel is emptied, and the steps after the last: the cleaning."""
    worts: list[tuple[Step, ...]] = []
    left = plan.steps
    while left and (not worts or any(_does(step, "add grain") for step in left)):
        worts.append(_first_wort(left, grain_kg=plan.batch.grain_kg))
        left = left[len(worts[-1]) :]
    return worts, left


def wort_steps(plan: Plan) -> tuple[Step, ...]:
    """The steps up to the one that begins with emptying the vessel of its wort; all, if none does."""
    return _first_wort(plan.steps, grain_kg=plan.batch.grain_kg)


def wort_boils(plan: Plan) -> frozenset[str]:
    """Names of the steps in which wort boils, batch after batch."""
    worts, _ = _worts_and_rest(plan)
    return frozenset(step.name for wort in worts for step in wort if step.boil)


def _first_wort(steps: tuple[Step, ...], *, grain_kg: float) -> tuple[Step, ...]:
    was_wort = grain_kg <= 0
    for place, step in enumerate(steps):
        if was_wort and place and _does(step, "empty"):
            return steps[:place]
        was_wort = was_wort or _does(step, "add grain")
    return steps


def mash_steps(plan: Plan) -> list[Step]:
    """The steps that hold while the grain is in."""
    inside, found = False, []
    for step in plan.steps:
        for action in step.before:
            inside = (inside or action.kind == "add grain") and action.kind not in ("remove grain", "empty")
        if inside and step.target_c is not None and step.hold_s > 0:
            found.append(step)
    return found


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
