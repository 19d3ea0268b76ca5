"""A day with other inputs: the draws that its times, its kWh, its cost and its mash are ranged over."""

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from energyplan.advice.drawcosts import Loads, draw_costs, loads_of
from energyplan.advice.draws import QUANTILES, conditions_of, inputs_of, quantiles
from energyplan.advice.holds import hold_legs
from energyplan.base.errors import TariffError
from energyplan.base.money import MJ_PER_KWH
from energyplan.base.records import dataclass
from energyplan.day.brewday import BrewDay
from energyplan.day.course import Course, run
from energyplan.day.tasks import mash_steps
from energyplan.plan.model import Plan, Step
from energyplan.tariffs.costs import DayCost

if TYPE_CHECKING:
    from energyplan.advice.learned import Learned

__all__ = [
    "DRAWS",
    "SEED",
    "DayRanges",
    "Drawn",
    "Likely",
    "day_ranges",
    "drawn",
    "drawn_lowest_c",
    "longest_mash_hold",
]

FloatArray = NDArray[np.float64]
DRAWS, SEED, FEWEST_LEFT = 200, 1, 10


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawn:
    """The course of a day under many inputs; ``brewed`` marks the draws that can be."""

    course: Course
    brewed: NDArray[np.bool_]


@lru_cache(maxsize=16)
def drawn(day: BrewDay, draws: int, seed: int, learned: "Learned | None" = None) -> Drawn:
    """Run a day with other inputs (`energyplan.advice.draws.uncertainties_of`), side by side.

    What brewed days have taught stands in the place of what is uncertain about the vessel.
    """
    plan = day.plan
    inputs = inputs_of(plan, draws, seed, learned)
    course = run(plan, conditions_of(inputs), extract_kg=day.wort.extract_kg, go_on=True)
    brewed = np.ones(draws, dtype=bool)
    for mishap in course.mishaps:
        brewed &= ~mishap.which
    return Drawn(course=course, brewed=brewed)


@dataclass(frozen=True, slots=True, kw_only=True)
class Likely:
    """Where a number lies: below ``p10`` on one day of ten, below ``p50`` on half, above ``p90`` on one of ten."""

    p10: float
    p50: float
    p90: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DayRanges:
    """Ranges of a day: kWh, cost in the prices' currency, minutes to its end, lowest temperature of the mash.

    ``cost`` is None without prices, or where they don't reach as far as the draws; ``lowest_mash_c`` without a mash.
    """

    energy_kwh: Likely
    cost: Likely | None
    minutes: Likely
    lowest_mash_c: Likely | None


def day_ranges(day: BrewDay, cost: DayCost | None, learned: "Learned | None" = None) -> DayRanges | None:
    """Ranges over the draws of a day that can be brewed; None where that are fewer than ten.

    Parameters
    ----------
    day : BrewDay
        The day.
    cost : DayCost or None
        What it costs as planned: its prices and its start.
    learned : Learned, optional
        What brewed days have taught about the vessel.
    """
    others, plan = drawn(day, DRAWS, SEED, learned), day.plan
    kept = others.brewed
    if int(kept.sum()) < FEWEST_LEFT:
        return None
    loads = loads_of(plan, others.course).kept(kept)
    mash = longest_mash_hold(plan)
    return DayRanges(
        energy_kwh=_likely(loads.energy_kwh),
        cost=None if cost is None else _cost(loads, cost),
        minutes=_likely(others.course.legs[-1].end_s[kept] / 60),
        lowest_mash_c=None if mash is None else _likely(drawn_lowest_c(others.course, mash.name)[kept]),
    )


def _cost(loads: Loads, cost: DayCost) -> Likely | None:
    try:
        return _likely(draw_costs(loads, cost.line, cost.start, month_kwh_so_far=cost.month_mj / MJ_PER_KWH))
    except TariffError:
        return None


def _likely(values: FloatArray) -> Likely:
    p10, p50, p90 = (float(value) for value in quantiles(values, QUANTILES))
    return Likely(p10=p10, p50=p50, p90=p90)


def drawn_lowest_c(course: Course, step: str) -> FloatArray:
    """Lowest temperature of each draw in a hold [°C]; legs of no duration don't count."""
    lows = [np.where(leg.outcome.duration_s > 0, leg.lowest_c, np.inf) for leg in hold_legs(course, step)]
    return np.asarray(np.min(lows, axis=0))


def longest_mash_hold(plan: Plan) -> Step | None:
    """The longest hold with the grain in."""
    return max(mash_steps(plan), key=lambda step: step.hold_s, default=None)
