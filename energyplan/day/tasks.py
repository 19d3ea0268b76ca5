"""What people do beside the vessel: the plan's own tasks, or the usual ones where it names none."""

from energyplan.plan.model import Plan, Step, Task

__all__ = ["mash_steps", "tasks_of", "usual_tasks", "wort_steps"]

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
