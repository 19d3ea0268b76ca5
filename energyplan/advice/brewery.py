"""The days of a brewery: read back from its file, what the latest one says, and a year of them in one table."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime
from functools import reduce
from itertools import combinations
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from energyplan.advice.brewed import (
    Outlook,
    Reading,
    Readings,
    Stretch,
    measured_profile,
    misfit,
    oddest,
    outlook,
    stretches,
    widened,
    with_open_lids,
)
from energyplan.advice.draws import QUANTILES, Input, quantiles
from energyplan.advice.learned import Learned, by_chance, learn
from energyplan.advice.odds import DRAWS, SEED, Likely, drawn
from energyplan.advice.pricing import cost_of_load
from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.errors import EnergyPlanError, TariffError
from energyplan.base.money import Money
from energyplan.base.records import dataclass
from energyplan.day.brewday import BrewDay, simulate
from energyplan.plan.brewery import BrewedDay
from energyplan.plan.file import PlanFiles, read_plan
from energyplan.plan.model import Plan
from energyplan.tariffs.clock import local_to_utc
from energyplan.tariffs.costs import DayCost
from energyplan.tariffs.tariff import Tariff, of_the_month

__all__ = [
    "BrewedAnswer",
    "BrewedCause",
    "Kept",
    "Month",
    "brewed_answer",
    "day_kwh",
    "kept_days",
    "kept_of_vessel",
    "likely_causes",
    "likely_pairs",
    "months",
    "readings_of",
]

DAY_MIN = 1440.0
# Chances of what needs no cause by more than the errors allow, of what one input leaves, and two; how much worse others
# fit, in squares of the errors, if the readings tell them apart: one to twenty; times its range, where one is sought
# [our choice].
AS_PLANNED, ONE_LEAVES, TWO_LEAVE, TOLD_APART, REACH = 0.05, 1e-3, 0.01, 6.0, 3.0
HARDLY = 1e-9  # belief that counts for nothing


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """The days kept in a brewery's file, and what can't be used of them: the day's name and why."""

    days: tuple[Readings, ...]
    unusable: tuple[tuple[str, EnergyPlanError], ...]


def kept_days(files: PlanFiles, zone: str) -> Kept:
    """Read the brewed days of a brewery back, each with its own plan."""
    days, unusable = [], []
    holder = files.own if files.shared is None else files.shared
    for day in files.brewery.brewed:
        try:
            plan = files.plan if _is_own(files, day.plan) else read_plan(_place(holder.path, day.plan))
            days.append(readings_of(plan, day, zone))
        except EnergyPlanError as error:
            unusable.append((f"{day.date}", error))
    return Kept(days=tuple(days), unusable=tuple(unusable))


def kept_of_vessel(plan: Plan, brewed: Sequence[tuple[Plan, BrewedDay]], zone: str) -> Kept:
    """Brewed days with their plans, as far as they were brewed in a vessel of the plan's size.

    What belongs to the vessel is the plan's: it may have been measured since.
    """
    days, unusable = [], []
    for own, day in brewed:
        if (own.vessel.diameter_m, own.vessel.height_m) != (plan.vessel.diameter_m, plan.vessel.height_m):
            continue
        try:
            days.append(readings_of(own.model_copy(update={"vessel": plan.vessel}), day, zone))
        except EnergyPlanError as error:
            unusable.append((f"{day.date}", error))
    return Kept(days=tuple(days), unusable=tuple(unusable))


def _is_own(files: PlanFiles, name: str) -> bool:
    return name == files.own.name or (files.own.path is not None and files.own.path.name == Path(name).name)


def _place(holder: Path | None, name: str) -> str:
    return name if holder is None or Path(name).is_absolute() else str(holder.parent / name)


def readings_of(plan: Plan, day: BrewedDay, zone: str) -> Readings:
    """What was noted on a day, as readings of its plan.

    Raises
    ------
    LogError
        If nothing was read, a step is not the plan's, or the meter's total falls.
    """
    noted, changes = set(), plan
    if day.air_c is not None:
        noted.add("air_c")
        changes = changes.model_copy(update={"site": changes.site.model_copy(update={"air_c": day.air_c})})
    if day.water_temperature_c is not None:
        noted.add("water_c")
        batch = changes.batch.model_copy(update={"water_temperature_c": day.water_temperature_c})
        changes = changes.model_copy(update={"batch": batch})
    start = None if day.start is None else local_to_utc(day.start, zone)
    return Readings(plan=changes, readings=tuple(_read(day)), noted=frozenset(noted), start=start, name=f"{day.date}")


def _read(day: BrewedDay) -> Iterator[Reading]:
    for step, total_kwh in day.readings.items():
        yield Reading(kind="energy_kwh", step=step, value=total_kwh)
    if day.metered_kwh is not None:
        yield Reading(kind="energy_kwh", value=day.metered_kwh)
    if day.boil_began_min is not None and day.start is not None:
        began_min = day.boil_began_min - day.start.hour * 60 - day.start.minute
        yield Reading(kind="boil_began_min", value=began_min % DAY_MIN)
    if day.boiled_off_l is not None:
        yield Reading(kind="boiled_off_l", value=day.boiled_off_l)


@dataclass(frozen=True, slots=True, kw_only=True)
class BrewedCause:
    """An input that explains readings: planned, as it fits best, and the share that goes with it, or with both of two.

    The value of a lid that was left open is the share of its step.
    """

    input: Input | Literal["lid"]
    step: str = ""
    planned: float
    value: float
    share: float


Causes = tuple[BrewedCause, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BrewedAnswer:
    """A brewed day beside its plan, and what it taught.

    Parameters
    ----------
    day, readings : BrewDay, Readings
        The plan with what was noted of air and water, and what was read.
    stretches : tuple of Stretch
        kWh from reading to reading; empty if the meter was not read.
    causes, pairs : tuple of BrewedCause, tuple of two of them
        Inputs by what each explains alone, none where all is as planned; and two that explain together what none does
        alone: if several, the readings can't tell them apart.
    misfit, oddest : float, Reading
        Mean square of the readings over their errors; the one without which the others fit best.
    cost, unpriced : DayCost or None, TariffError or None
        What was measured, priced; why it has no cost, where there are prices but none for that day.
    before, after, range_before, range_after : Learned, Likely
        What was known without this day, and with it; kWh of the plan on another day.
    """

    day: BrewDay
    readings: Readings
    stretches: tuple[Stretch, ...]
    causes: Causes
    pairs: tuple[Causes, ...]
    misfit: float
    oddest: Reading
    cost: DayCost | None
    unpriced: TariffError | None
    before: Learned
    after: Learned
    range_before: Likely
    range_after: Likely

    @property
    def contradicts(self) -> bool:
        """Whether the readings fit neither the model nor what other days taught."""
        return self.readings.name in self.after.contradict

    @property
    def had_open_lid(self) -> bool:
        """Whether a lid that was left open explains the readings, alone or with something else."""
        best = self.pairs[0] if self.pairs else self.causes[:1]
        return any(cause.input == "lid" for cause in best)


def brewed_answer(today: Readings, earlier: Sequence[Readings], tariff: Tariff | None, usual: Plan) -> BrewedAnswer:
    """What a brewed day says, after those before it.

    Parameters
    ----------
    today : Readings
        The day; it is priced if it has a start.
    earlier : sequence of Readings
        Other days of the same vessel.
    tariff : Tariff or None
        What the supplier charges.
    usual : Plan
        The plan without what was noted today: the ranges are for another day of it.
    """
    day = simulate(today.plan)
    found = stretches(day, today)
    view = outlook(today)
    causes, pairs = _explaining(view, today)
    others = tuple(one for one in earlier if one.name != today.name)
    before, after = learn(usual, others), learn(usual, (*others, today))
    cost, unpriced = _cost(day, found, tariff, today.start)
    return BrewedAnswer(
        day=day,
        readings=today,
        stretches=found,
        causes=causes,
        pairs=pairs,
        misfit=misfit(view),
        oddest=today.readings[oddest(view)],
        cost=cost,
        unpriced=unpriced,
        before=before,
        after=after,
        range_before=day_kwh(usual, before),
        range_after=day_kwh(usual, after),
    )


def _explaining(found: Outlook, today: Readings) -> tuple[Causes, tuple[Causes, ...]]:
    """What explains readings alone, and together; a lid is thought of only where nothing else does."""
    causes, pairs = likely_causes(found), likely_pairs(found)
    if not causes or pairs or _one_does(found):
        return causes, pairs
    with_lids = with_open_lids(found, today)
    pairs = likely_pairs(with_lids)
    return (likely_causes(with_lids) if pairs or _one_does(with_lids) else causes), pairs


def _one_does(found: Outlook) -> bool:
    """Whether one input leaves no more than chance does."""
    least = min(_left(found, (place,)) for place in range(found.sd.size))
    return least <= by_chance(max(found.off.size - 1, 1), ONE_LEAVES)


def likely_causes(found: Outlook) -> Causes:
    """Inputs by how much of the difference each explains alone, mindful of how far off it may be; the best first.

    None where all is as planned, but for what chance does on one day of twenty: of next to nothing anything explains
    all.
    """
    if misfit(found) * found.off.size <= by_chance(found.off.size, AS_PLANNED):
        return ()
    causes = [_together(found, (place,))[0] for place in range(found.sd.size)]
    return tuple(sorted(causes, key=lambda cause: -cause.share))


def likely_pairs(found: Outlook) -> tuple[Causes, ...]:
    """Two inputs that explain together what none does alone: the likeliest, then those that can't be told from them.

    None where one input is enough, or no two are.

    Notes
    -----
    Inputs explain readings if what they leave is no more than chance leaves (on all but one day of a thousand for one,
    of a hundred for two), each within three times the range in which it is looked for. The readings alone tell pairs
    apart; of those that they leave the likeliest is mindful of how far off inputs may be.
    """
    size, inputs = found.off.size, range(found.sd.size)
    if size <= 2 or _one_does(found):
        return ()
    left = {places: _left(found, places) for places in combinations(inputs, 2)}
    most = min(min(left.values()) + TOLD_APART, by_chance(size - 2, TWO_LEAVE))
    pairs = [_together(found, places) for places in left if left[places] <= most]
    return tuple(sorted(pairs, key=lambda pair: -pair[0].share))


def _left(found: Outlook, places: tuple[int, ...]) -> float:
    """Squares of the errors that inputs leave at best; infinite where one of them is out of reach."""
    change, left = _explained(found, places, belief=HARDLY)
    for by, place in zip(change, places, strict=True):
        if place < len(found.uncertainties):
            one = widened(found.uncertainties[place])
            left = left if abs(by) <= REACH * (one.high - one.low) / 2 else np.inf
    return left


def _together(found: Outlook, places: tuple[int, ...]) -> Causes:
    """Inputs as they fit best, mindful of how far off they may be, and the share that goes with them."""
    changes, left = _explained(found, places, belief=1.0)
    inputs = len(found.uncertainties)
    share = float(np.clip(1 - left / (misfit(found) * found.off.size), 0.0, 1.0))
    return tuple(
        BrewedCause(input="lid" if place >= inputs else found.uncertainties[place].input,
                    step=found.lids[place - inputs] if place >= inputs else "", planned=float(found.planned[place]),
                    value=float(found.planned[place] + change), share=share)
        for place, change in zip(places, changes, strict=True)
    )  # fmt: skip


def _explained(found: Outlook, places: tuple[int, ...], *, belief: float) -> tuple[NDArray[np.float64], float]:
    """How far inputs are off if they fit best, and the squares left; with a belief, beside those of how far off."""
    at, weight = list(places), np.linalg.inv(found.error + found.rest)
    slopes, pull = found.slopes[at], (found.centre - found.planned)[at]
    held = belief / np.maximum(found.sd[at], 1e-6) ** 2
    told = slopes @ weight @ slopes.T + np.diag(held)
    change = np.asarray(np.linalg.solve(told, slopes @ weight @ found.off + held * pull), dtype=np.float64)
    left = found.off - change @ slopes
    squares = float(left @ weight @ left + held @ ((change - pull) ** 2 - pull**2))
    # No lid is open for less than none of its step, or for more than all of it.
    beyond = [k for k, place in enumerate(places) if place >= len(found.uncertainties) and not 0 <= change[k] <= 1]
    for k in beyond[:1]:
        most = float(np.clip(change[k], 0, 1))
        rest = replace(found, measured=found.measured - most * slopes[k])
        change, squares = _explained(rest, (*places[:k], *places[k + 1 :]), belief=belief)
        return np.insert(change, k, most), squares + float(held[k]) * most**2
    return change, squares


def _cost(
    day: BrewDay, found: Sequence[Stretch], tariff: Tariff | None, start: datetime | None
) -> tuple[DayCost | None, TariffError | None]:
    """What was measured, priced; or why the prices don't reach it."""
    if tariff is None or start is None or not found:
        return None, None
    try:
        return cost_of_load(measured_profile(day, found), of_the_month(tariff, day.plan.supply), start), None
    except TariffError as error:
        return None, error


def day_kwh(plan: Plan, learned: Learned) -> Likely:
    """Energy of the vessel on another day of a plan [kWh]: over the same days as every other range."""
    others = drawn(plan, simulate(plan).wort.extract_kg, DRAWS, SEED, learned if learned.days else None)
    used_j = np.sum([leg.board_w * leg.outcome.duration_s for leg in others.course.legs], axis=0)[others.brewed]
    p10, p50, p90 = (float(value) for value in quantiles(used_j / JOULES_PER_KWH, QUANTILES))
    return Likely(p10=p10, p50=p50, p90=p90)


@dataclass(frozen=True, slots=True, kw_only=True)
class Month:
    """The brewed days of a month: how many, kWh planned and metered of those that were metered, money, wort [L].

    ``cost`` is of the days that the prices reach; ``unpriced`` counts those that they don't.
    """

    month: str
    days: int
    planned_kwh: float
    metered_kwh: float
    cost: Money | None
    unpriced: int
    wort_l: float

    @property
    def kwh_per_hl(self) -> float | None:
        """Metered energy per hectolitre of wort."""
        return 100 * self.metered_kwh / self.wort_l if self.wort_l > 0 else None


def months(days: Sequence[Readings], tariff: Tariff | None) -> tuple[Month, ...]:
    """Brewed days by month, in order; each over the steps that its meter saw."""
    names = sorted({day.name[:7] for day in days})
    return tuple(_month(name, [day for day in days if day.name[:7] == name], tariff) for name in names)


def _month(name: str, days: Sequence[Readings], tariff: Tariff | None) -> Month:
    planned, metered, wort_l, beyond = 0.0, 0.0, 0.0, 0
    costs: list[Money] = []
    for one in days:
        day = simulate(one.plan)
        found = stretches(day, one)
        if not found:
            continue
        planned += sum(stretch.planned_kwh for stretch in found)
        metered += sum(stretch.measured_kwh for stretch in found)
        wort_l += day.wort.end_l
        cost, unpriced = _cost(day, found, tariff, one.start)
        if cost is not None:
            costs.append(cost.total)
        beyond += unpriced is not None
    total = reduce(Money.__add__, costs) if costs else None
    return Month(month=name, days=len(days), planned_kwh=planned, metered_kwh=metered, cost=total, unpriced=beyond,
                 wort_l=wort_l)  # fmt: skip
