"""How far a day gets that can't be brewed as planned, and whether all elements would see it through."""

from functools import lru_cache

from energyplan.base.errors import EnergyPlanError
from energyplan.base.records import dataclass
from energyplan.day.brewday import simulate
from energyplan.plan.model import Plan

__all__ = ["HowFar", "how_far"]


@dataclass(frozen=True, slots=True, kw_only=True)
class HowFar:
    """The steps that can be brewed as a plan of their own, the step that can't, and the plan without its cap.

    ``reached`` is None when it is the first step; ``mended`` is None when more power doesn't help.
    """

    reached: Plan | None
    step: str
    mended: Plan | None


@lru_cache(maxsize=32)
def how_far(plan: Plan) -> HowFar | None:
    """Find the step in which a plan fails; None if it doesn't, or if no step is to blame.

    Examples
    --------
    >>> from energyplan.plan.file import read_plan
    >>> how_far(read_plan("demo")) is None
    True
    """
    if _can_be_brewed(plan):
        return None
    reached = None
    for count in range(1, len(plan.steps) + 1):
        part = _first_steps(plan, count)
        if not _can_be_brewed(part):
            step = plan.steps[count - 1]
            return HowFar(reached=reached, step=step.name, mended=_with_all_elements(plan, count - 1))
        reached = part
    return None


def _first_steps(plan: Plan, count: int) -> Plan:
    """The first steps alone, without what refers to later ones."""
    kept = {step.name for step in plan.steps[:count]}
    second = plan.second_heater
    changes: dict[str, object] = {"steps": plan.steps[:count]}
    if second is not None and second.ready_at_step not in kept:
        changes["second_heater"] = None
    return plan.model_copy(update=changes)


def _with_all_elements(plan: Plan, place: int) -> Plan | None:
    step = plan.steps[place]
    if step.ramp_power_w is None:
        return None
    steps = [*plan.steps]
    steps[place] = step.model_copy(update={"ramp_power_w": None})
    mended = plan.model_copy(update={"steps": tuple(steps)})
    return mended if _can_be_brewed(mended) else None


def _can_be_brewed(plan: Plan) -> bool:
    try:
        simulate(plan)
    except EnergyPlanError:
        return False
    return True
