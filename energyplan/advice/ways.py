"""Ways to brew the same wort: what each comes to, which is better, and the frontier between length and cost."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Literal

from energyplan.base.errors import PlanError
from energyplan.base.money import Money
from energyplan.base.records import dataclass
from energyplan.day.brewday import BrewDay
from energyplan.plan.model import Hours, Plan

if TYPE_CHECKING:
    from energyplan.advice.learned import Learned

__all__ = ["BestChoice", "BestFor", "BestPlan", "Option", "Ramps", "frontier_of", "rank"]

BestFor = Literal["cost", "time", "circuit"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ramps:
    """What is done to the ramps: nothing, capped at a power, all elements, or some elements only for the whole day."""

    kind: Literal["planned", "capped", "all", "elements"] = "planned"
    power_w: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BestChoice:
    """What may be varied.

    Parameters
    ----------
    waits_min : tuple of float
        How long the strike water may wait, warm and with the elements off, before it is heated up again [min].
    to_the_minute : bool
        Whether waits of any minute are tried around the best of them.
    ramp_levels : int
        How many powers are tried for the ramps, at most.
    learned : Learned, optional
        What brewed days have taught about the vessel: powers must do for it.

    Raises
    ------
    PlanError
        If a number makes no sense.
    """

    waits_min: tuple[float, ...] = (0.0, 30.0, 60.0, 120.0, 240.0, 480.0)
    to_the_minute: bool = True
    ramp_levels: int = 5
    learned: "Learned | None" = None

    def __post_init__(self) -> None:
        if 0.0 not in self.waits_min or any(not 0 <= wait <= 24 * 60 for wait in self.waits_min):
            raise PlanError(f"waits_min = {self.waits_min}: expected minutes from 0 to 1440, 0 among them")
        if not 1 <= self.ramp_levels <= 50:
            raise PlanError(f"ramp_levels = {self.ramp_levels}: expected 1 to 50")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Option:
    """One way to brew the day, with the wort of the plan at its end.

    ``minutes`` counts from switching on to the end; ``over`` has the findings of the circuit that are over (and
    would not be with everything off); ``use_frac`` is how much of the rating that is used most is used (None: no
    circuit, or no rating). ``added_kwh`` and ``water_change_l`` are against the plan as it is.
    """

    plan: Plan
    day: BrewDay
    ramps: Ramps
    wait_min: float
    start: datetime | None
    minutes: float
    cost: Money | None
    energy_kwh: float
    added_kwh: float
    water_change_l: float
    peak_a: float | None
    use_frac: float | None
    over: tuple[str, ...]

    @property
    def value(self) -> float:
        """What the frontier weighs against the minutes: the cost, or the energy without prices."""
        return self.energy_kwh if self.cost is None else float(self.cost)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BestPlan:
    """The plan chosen, the plan as it is, and the frontier: options of which none is both quicker and cheaper.

    ``idle_over`` is what is over on the circuit with nothing of the day switched on; ``weak`` are the steps whose
    power as set holds or boils on less than nineteen days of twenty, whatever is chosen, with their shares of days.
    ``hours`` are those that another start keeps (None: the start is not up for choice).
    """

    best_for: BestFor
    chosen: Option
    planned: Option
    frontier: tuple[Option, ...]
    tried: int
    hours: Hours | None
    idle_over: tuple[str, ...]
    weak: Mapping[str, float]


def frontier_of(options: Sequence[Option]) -> tuple[Option, ...]:
    """The options of which no other is both at most as long and at most as dear; shortest first."""
    found: list[Option] = []
    for option in sorted(options, key=lambda one: (one.minutes, one.value)):
        if not found or option.value < found[-1].value:
            found.append(option)
    return tuple(found)


def rank(option: Option, best_for: BestFor) -> tuple[float, float, float]:
    """What is least for the best option: first what is asked for, then cost or length."""
    if best_for == "time":
        return option.minutes, option.value, option.wait_min
    if best_for == "cost":
        return option.value, option.minutes, option.wait_min
    used = option.peak_a if option.use_frac is None else option.use_frac
    return used or 0.0, option.value, option.minutes
