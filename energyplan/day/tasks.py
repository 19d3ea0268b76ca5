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
CHILLING = "Chill the wort and draw it off"


def tasks_of(plan: Plan) -> tuple[Task, ...]:
    """The tasks that a plan names; if it names none, the usual ones (`usual_tasks`).

    Where a plan was made from another by leaving steps out, the tasks at those steps are left out too.
    """
    names = {step.name for step in plan.steps}
    return tuple(task for task in plan.tasks if task.at_step in names) if plan.tasks else usual_tasks(plan)


def usual_tasks(plan: Plan) -> tuple[Task, ...]:
    """What people usually do around a brew day like this one.

    Setting up and milling come before the start, stirring in and draining where the grain goes in and out, chilling
    after the last boil of the wort, cleaning at the end. Where the plan has a pause for it, a task takes that pause.

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
    found += [task for step in plan.steps for task in _around_the_grain(step)]
    return (*found, *_after_the_boil(plan))


def _task(name: str, at_step: str, when: str, takes_min: float) -> Task:
    return Task.model_validate({"name": name, "at_step": at_step, "when": when, "takes_s": 60 * takes_min})


def _does(step: Step, kind: str) -> bool:
    return any(action.kind == kind for action in step.before)


def _around_the_grain(step: Step) -> list[Task]:
    found = []
    if _does(step, "add grain"):
        found.append(_task("Stir the grain in", step.name, "during", step.pause_s / 60 or STIR_IN_MIN))
    if _does(step, "remove grain"):
        name = "Lift, drain and sparge" if _does(step, "add sparge water") else "Lift and drain"
        found.append(_task(name, step.name, "during", step.pause_s / 60 or DRAIN_MIN))
    elif _does(step, "add sparge water"):
        found.append(_task("Sparge", step.name, "during", step.pause_s / 60 or DRAIN_MIN))
    return found


def _after_the_boil(plan: Plan) -> list[Task]:
    """Chilling after the last step of the wort, then cleaning: after the plan's own cleaning step, else by hand."""
    wort = wort_steps(plan)
    boiled = any(step.boil for step in wort)
    cleaned, last = len(wort) < len(plan.steps), plan.steps[-1].name
    found = []
    if boiled and cleaned and wort[-1].pause_s > 0 and not wort[-1].heats:
        found.append(_task(CHILLING, wort[-1].name, "during", wort[-1].pause_s / 60))
    elif boiled:
        found.append(_task(CHILLING, wort[-1].name, "after", CHILL_MIN))
    if cleaned:
        return [*found, _task("Rinse and put away", last, "after", RINSE_MIN)]
    return [*found, _task("Clean and put away", last, "after", CLEAN_BY_HAND_MIN)]


def wort_steps(plan: Plan) -> tuple[Step, ...]:
    """The steps up to the one that begins with emptying the vessel of its wort; all, if none does."""
    was_wort = plan.batch.grain_kg <= 0
    for place, step in enumerate(plan.steps):
        if was_wort and place and _does(step, "empty"):
            return plan.steps[:place]
        was_wort = was_wort or _does(step, "add grain")
    return plan.steps


def mash_steps(plan: Plan) -> list[Step]:
    """The steps that hold while the grain is in."""
    inside, found = False, []
    for step in plan.steps:
        for action in step.before:
            inside = (inside or action.kind == "add grain") and action.kind not in ("remove grain", "empty")
        if inside and step.target_c is not None and step.hold_s > 0:
            found.append(step)
    return found
