"""Which powers of a day may fail: holds that sag and boils that die in the worst plausible case."""

from energyplan.advice.holds import BAND_K
from energyplan.advice.power_settings import given_w, step_named
from energyplan.advice.worst import worst_of
from energyplan.day.brewday import BrewDay
from energyplan.day.course import Leg, run
from energyplan.plan.model import Plan

__all__ = ["failing_steps", "fails_more"]


def failing_steps(day: BrewDay) -> frozenset[str]:
    """Steps of a day whose powers, as set, let a hold sag, a boil die or a ramp stall in the worst plausible case.

    Examples
    --------
    >>> from energyplan.day.brewday import simulate
    >>> from energyplan.plan.file import read_plan
    >>> sorted(failing_steps(simulate(read_plan("lakeside"))))
    []
    """
    course = run(day.plan, worst_of(day.plan).conditions, extract_kg=day.wort.extract_kg, go_on=True)
    stuck = {mishap.step for mishap in course.mishaps}
    return frozenset(stuck | {leg.step.name for leg in course.legs if _fails(leg)})


def fails_more(day: BrewDay, base: BrewDay) -> bool:
    """Whether a variant's powers fail where the base's do not, or give less where the base's fail too."""
    fails, weak = failing_steps(day), failing_steps(base)
    return bool(fails - weak) or any(_gives_less(day.plan, base.plan, name) for name in fails)


def _gives_less(plan: Plan, base: Plan, name: str) -> bool:
    given = [given_w(one, step_named(one, name).hold_power_w) for one in (plan, base)]
    return given[0] < given[1] - 1.0


def _fails(leg: Leg) -> bool:
    if leg.phase == "boil":
        return float(leg.outcome.end_c[0]) < float(leg.from_c[0])
    if leg.phase != "hold" or leg.step.target_c is None:
        return False
    begins_c = min(float(leg.from_c[0]), leg.step.target_c)
    return float(leg.lowest_c[0]) < begins_c - BAND_K
