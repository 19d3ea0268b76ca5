"""A day in many draws of what is uncertain: on how many a power does its job, and how far kWh, cost and times range."""

import math
from bisect import bisect_left
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from energyplan.advice.drawcosts import Loads, draw_costs, loads_of
from energyplan.advice.draws import QUANTILES, inputs_of, quantiles, worst_of
from energyplan.advice.holds import hold_legs
from energyplan.advice.variants import all_elements_w, cap_of_heat_w, drawn_w, pump_heat_w, settings_w
from energyplan.base.errors import TariffError
from energyplan.base.money import MJ_PER_KWH
from energyplan.base.records import dataclass
from energyplan.day.brewday import BrewDay
from energyplan.day.course import Course, run
from energyplan.day.legs import Conditions
from energyplan.day.supply import heating
from energyplan.day.tasks import mash_steps
from energyplan.plan.model import Plan, Step
from energyplan.tariffs.costs import DayCost

if TYPE_CHECKING:
    from energyplan.advice.learned import Learned

__all__ = [
    "DRAWS",
    "ENOUGH_FRAC",
    "NINETEEN_OF_TWENTY",
    "SEED",
    "DayOdds",
    "DayRanges",
    "Drawn",
    "Likely",
    "Need",
    "day_odds",
    "day_ranges",
    "does_as_often",
    "drawn",
    "drawn_lowest_c",
    "longest_mash_hold",
    "weak_steps",
]

FloatArray = NDArray[np.float64]

DRAWS, SEED, FEWEST_LEFT = 400, 1, 10
NINETEEN_OF_TWENTY = 0.95
# A power that is called enough: two of the 400 draws less, so that a plan with the advised powers, whose levels and
# boiling points differ by a trace, is not told that they fail.
ENOUGH_FRAC = NINETEEN_OF_TWENTY - 0.005
# What is advised does it on two draws more than nineteen of twenty: an independent integrator differs by as many.
ADVISED_FRAC = NINETEEN_OF_TWENTY + 0.005
AS_OFTEN_FRAC = 0.05  # of the draws that another way to the same wort may cost
COLDER_K, WARMER_K, AIR_STEP_K = 36.0, 12.0, 3.0  # how far from the plan's air the power is followed
ROUNDING = 1e-9  # by which a power that just does it may come out short


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawn:
    """The course of a day under many conditions, side by side.

    First ``draws`` of what is uncertain, then air of ``airs_c`` with all else as planned, the plan's own last, then the
    worst plausible case. ``brewed`` marks the draws that can be brewed, and nothing behind them.
    """

    conditions: Conditions
    course: Course
    brewed: NDArray[np.bool_]
    draws: int
    airs_c: FloatArray

    @property
    def failed(self) -> int:
        """How many of the draws can't be brewed."""
        return self.draws - int(self.brewed.sum())

    @property
    def worst(self) -> Course:
        """The worst plausible case alone."""
        return self.course.of(-1)


@lru_cache(maxsize=4)  # megabytes each; whoever asks again, asks within one answer
def drawn(plan: Plan, extract_kg: float, draws: int, seed: int, learned: "Learned | None") -> Drawn:
    """Run a day with other inputs (`energyplan.advice.draws.uncertainties_of`), in other air, and in the worst case.

    What brewed days have taught stands in the place of what is uncertain about the vessel. Air is followed from 36 K
    below the plan's to 12 K above it in steps of 3 K.
    """
    inputs, worst = inputs_of(plan, draws, seed, learned), worst_of(plan, learned).conditions
    airs_c = np.append(np.round(plan.site.air_c) + np.arange(-COLDER_K, WARMER_K + 1, AIR_STEP_K), plan.site.air_c)
    planned: dict[str, float] = {
        "air_c": plan.site.air_c,
        "water_c": plan.batch.water_temperature_c,
        "grain_c": plan.grain_c,
        "voltage_v": plan.voltage_v,
        "element_factor": 1.0,
        "loss_factor": 1.0,
        "open_surface_factor": 1.0,
    }
    planned |= {name: learned.middle(name) for name in learned.vessels} if learned else {}
    values: dict[str, FloatArray] = {}
    for name, value in planned.items():
        in_airs, at_worst = airs_c if name == "air_c" else np.full(airs_c.shape, value), getattr(worst, name)
        values[name] = np.concatenate(
            [inputs.get(name, np.full(draws, value)), in_airs, [value if at_worst is None else at_worst]]
        )
    conditions = Conditions(**values)
    course = run(plan, conditions, extract_kg=extract_kg, go_on=True)
    brewed = np.arange(conditions.draws) < draws
    for mishap in course.mishaps:
        brewed &= ~mishap.which
    return Drawn(conditions=conditions, course=course, brewed=brewed, draws=draws, airs_c=airs_c)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Need:
    """Heat of the elements that a hold or boil needs to keep its temperature [W].

    ``planned_heat_w`` as planned, of the vessel as brewed days taught; ``drawn_w`` in each draw, with its mains
    ``voltage_v`` and ``element_factor``; ``in_air_w`` in air of ``airs_c``, all else as planned.
    """

    plan: Plan
    planned_heat_w: float
    drawn_w: FloatArray
    voltage_v: FloatArray
    element_factor: FloatArray
    airs_c: FloatArray
    in_air_w: FloatArray

    def frac(self, cap_w: float | None) -> float:
        """Share of the draws in which a cap gives enough."""
        given = heating(self.plan, cap_w, voltage_v=self.voltage_v, element_factor=self.element_factor)
        return float(np.mean(given.most_w >= self.drawn_w * (1 - ROUNDING)))

    @property
    def planned_w(self) -> float:
        """The cap that is just enough as planned [W]."""
        return cap_of_heat_w(self.plan, self.planned_heat_w)

    @property
    def caps_w(self) -> FloatArray:
        """The cap that is just enough in each draw [W]; above all elements: what would be needed."""
        full = heating(self.plan, None, voltage_v=self.voltage_v, element_factor=self.element_factor)
        return np.asarray(self.drawn_w * drawn_w(self.plan) / full.most_w)

    def enough_w(self, frac: float = NINETEEN_OF_TWENTY) -> float:
        """The cap that is enough in a share of the draws [W]."""
        caps_w = np.sort(self.caps_w)
        return float(caps_w[max(math.ceil(frac * caps_w.size * (1 - ROUNDING)) - 1, 0)])

    def setting_w(self, frac: float = ADVISED_FRAC) -> float:
        """The lowest power that can be set and is enough in a share of the draws [W]; else all elements."""
        vessel = self.plan.vessel
        settings = settings_w(vessel)
        if vessel.control == "modulated":  # a higher cap gives more: halved until it is found
            at = bisect_left(settings, frac, key=self.frac)
            return settings[min(at, len(settings) - 1)]
        return next((power_w for power_w in settings if self.frac(power_w) >= frac), all_elements_w(vessel))

    def down_to_c(self, cap_w: float | None) -> float | None:
        """The coldest air in which a cap is enough, all else as planned [°C].

        The coldest of ``airs_c`` if it is enough there; None if it is not even in the warmest.
        """
        given_w = float(heating(self.plan, cap_w, voltage_v=self.plan.voltage_v, element_factor=1.0).most_w)
        short_w = self.in_air_w - given_w * (1 + ROUNDING)
        if short_w[-1] > 0:
            return None
        if short_w[0] <= 0:
            return float(self.airs_c[0])
        last = int(np.flatnonzero(short_w > 0)[-1])
        share = short_w[last] / (short_w[last] - short_w[last + 1])
        return float(self.airs_c[last] + share * (self.airs_c[last + 1] - self.airs_c[last]))


@dataclass(frozen=True, slots=True, kw_only=True)
class DayOdds:
    """Needs of a day's holds and boils by step and phase, and the share of draws that can't be brewed as set."""

    needs: dict[tuple[str, str], Need]
    failed_frac: float


@lru_cache(maxsize=16)
def day_odds(plan: Plan, extract_kg: float, learned: "Learned | None" = None) -> DayOdds:
    """Needs of a day, over its draws and in air of many temperatures.

    Parameters
    ----------
    plan : Plan
        The plan.
    extract_kg : float
        Extract that the grain gives [kg].
    learned : Learned, optional
        What brewed days have taught about the vessel.

    Notes
    -----
    The needed heat is the loss at the target in the state in which the draw reaches it, less the pump's; between the
    airs a straight line.
    """
    others = drawn(plan, extract_kg, DRAWS, SEED, learned)
    course, draws = others.course, others.draws
    voltage_v, factor = np.asarray(others.conditions.voltage_v), np.asarray(others.conditions.element_factor)
    needs: dict[tuple[str, str], Need] = {}
    for step, phase in dict.fromkeys(
        (leg.step.name, leg.phase) for leg in course.legs if leg.phase in ("hold", "boil")
    ):
        leg = hold_legs(course, step, phase)[-1]
        target_c = leg.from_c if leg.step.target_c is None else np.full(leg.from_c.shape, leg.step.target_c)
        heat_w = np.maximum(leg.losses.total_w(target_c) - pump_heat_w(plan, leg.step), 0.0)
        needs[step, phase] = Need(
            plan=plan,
            planned_heat_w=float(heat_w[-2]),
            drawn_w=heat_w[:draws],
            voltage_v=voltage_v[:draws],
            element_factor=factor[:draws],
            airs_c=others.airs_c[:-1],
            in_air_w=heat_w[draws:-2],
        )
    return DayOdds(needs=needs, failed_frac=others.failed / draws)


def weak_steps(day: BrewDay, learned: "Learned | None" = None) -> dict[str, float]:
    """Steps whose powers, as set, hold or boil on less than nineteen days of twenty, and their share of days.

    Examples
    --------
    >>> from energyplan.day.brewday import simulate
    >>> from energyplan.plan.file import read_plan
    >>> sorted(weak_steps(simulate(read_plan("lakeside"))))
    []
    """
    return {step: frac for (step, _), frac in _fracs(day, learned).items() if frac < ENOUGH_FRAC}


def does_as_often(day: BrewDay, base: BrewDay, learned: "Learned | None" = None) -> bool:
    """Whether the powers of a variant do their job often enough, or as often as the base's do; ramps that stall too."""
    before, after = (_fracs(one, learned) for one in (base, day))
    stalls = [day_odds(one.plan, one.wort.extract_kg, learned).failed_frac for one in (day, base)]
    return stalls[0] <= max(1 - ENOUGH_FRAC, stalls[1] + AS_OFTEN_FRAC) and all(
        frac >= min(ENOUGH_FRAC, before[key] - AS_OFTEN_FRAC) for key, frac in after.items() if key in before
    )


def _fracs(day: BrewDay, learned: "Learned | None") -> dict[tuple[str, str], float]:
    """Share of the draws in which each hold and boil does its job with the power set."""
    caps_w = {step.name: step.hold_power_w for step in day.plan.steps}
    needs = day_odds(day.plan, day.wort.extract_kg, learned).needs
    return {(step, phase): need.frac(caps_w[step]) for (step, phase), need in needs.items()}


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
    ``failed_frac`` of the draws can't be brewed, and are in no range.
    """

    energy_kwh: Likely
    cost: Likely | None
    minutes: Likely
    lowest_mash_c: Likely | None
    failed_frac: float


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
    plan = day.plan
    others = drawn(plan, day.wort.extract_kg, DRAWS, SEED, learned)
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
        failed_frac=others.failed / others.draws,
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
