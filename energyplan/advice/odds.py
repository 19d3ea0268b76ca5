"""On how many days a power does its job: what a hold or boil needs in many draws of the day, and in colder air."""

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from energyplan.advice.draws import inputs_of
from energyplan.advice.holds import hold_legs
from energyplan.advice.variants import all_elements_w, cap_of_heat_w, drawn_w, pump_heat_w, settings_w
from energyplan.base.records import dataclass
from energyplan.day.brewday import BrewDay
from energyplan.day.course import run
from energyplan.day.legs import Conditions
from energyplan.day.supply import heating
from energyplan.plan.model import Plan

if TYPE_CHECKING:
    from energyplan.advice.learned import Learned

__all__ = ["ENOUGH_FRAC", "NINETEEN_OF_TWENTY", "DayOdds", "Need", "day_odds", "does_as_often", "weak_steps"]

FloatArray = NDArray[np.float64]

DRAWS = 400
NINETEEN_OF_TWENTY = 0.95
# A power that is called enough: two of the 400 draws less, so that a plan with the advised powers, whose levels and
# boiling points differ by a trace, is not told that they fail.
ENOUGH_FRAC = NINETEEN_OF_TWENTY - 0.005
AS_OFTEN_FRAC = 0.05  # of the draws that another way to the same wort may cost
COLDER_K, WARMER_K, AIR_STEP_K = 36.0, 12.0, 3.0  # how far from the plan's air the power is followed
ROUNDING = 1e-9  # by which a power that just does it may come out short


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Need:
    """Heat of the elements that a hold or boil needs to keep its temperature [W].

    ``planned_heat_w`` as planned; ``drawn_w`` in each draw, with its mains ``voltage_v`` and ``element_factor``;
    ``in_air_w`` in air of ``airs_c``, all else as planned.
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
        return float(np.quantile(self.caps_w, frac, method="inverted_cdf"))

    def setting_w(self, frac: float = NINETEEN_OF_TWENTY) -> float:
        """The lowest power that can be set and is enough in a share of the draws [W]; else all elements."""
        return next((w for w in settings_w(self.plan.vessel) if self.frac(w) >= frac), all_elements_w(self.plan.vessel))

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
    """Run a day in many draws and in air of many temperatures, all at once.

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
    The needed heat is the loss at the target in the state in which the draw reaches it, less the pump's. Air is
    followed from 36 K below the plan's to 12 K above it in steps of 3 K, a straight line between.
    """
    around_c = np.round(plan.site.air_c) + np.arange(-COLDER_K, WARMER_K + 1, AIR_STEP_K)
    airs_c = np.append(around_c, plan.site.air_c)
    conditions = _conditions(plan, airs_c, learned)
    course = run(plan, conditions, extract_kg=extract_kg, go_on=True)
    failed = np.zeros(conditions.draws, dtype=bool)
    for mishap in course.mishaps:
        failed |= mishap.which
    voltage_v, factor = np.asarray(conditions.voltage_v), np.asarray(conditions.element_factor)
    needs: dict[tuple[str, str], Need] = {}
    for step, phase in dict.fromkeys(
        (leg.step.name, leg.phase) for leg in course.legs if leg.phase in ("hold", "boil")
    ):
        leg = hold_legs(course, step, phase)[-1]
        target_c = leg.from_c if leg.step.target_c is None else np.full(conditions.draws, leg.step.target_c)
        heat_w = np.maximum(leg.losses.total_w(target_c) - pump_heat_w(plan, leg.step), 0.0)
        needs[step, phase] = Need(
            plan=plan,
            planned_heat_w=float(heat_w[-1]),
            drawn_w=heat_w[:DRAWS],
            voltage_v=voltage_v[:DRAWS],
            element_factor=factor[:DRAWS],
            airs_c=airs_c[:-1],
            in_air_w=heat_w[DRAWS:-1],
        )
    return DayOdds(needs=needs, failed_frac=float(failed[:DRAWS].mean()))


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


def _conditions(plan: Plan, airs_c: FloatArray, learned: "Learned | None") -> Conditions:
    """The draws, then the airs, the plan's own last, with all else as planned."""
    drawn = inputs_of(plan, DRAWS, 1, learned)
    planned: dict[str, ArrayLike] = {
        "air_c": airs_c,
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
        in_draws = drawn[name] if name in drawn else np.broadcast_to(np.asarray(value, dtype=float), (DRAWS,))
        values[name] = np.concatenate([in_draws, np.broadcast_to(np.asarray(value, dtype=float), airs_c.shape)])
    return Conditions(**values)
