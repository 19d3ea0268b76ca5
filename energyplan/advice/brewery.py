"""The days of a brewery: read back from its file, what the latest one says, and a year of them in one table."""

from collections.abc import Iterator, Sequence
from datetime import datetime
from functools import reduce
from pathlib import Path

import numpy as np

from energyplan.advice.brewed import (
    BrewedCause,
    Reading,
    Readings,
    Stretch,
    likely_causes,
    measured_profile,
    misfit,
    oddest,
    outlook,
    stretches,
)
from energyplan.advice.draws import QUANTILES, quantiles
from energyplan.advice.learned import Learned, learn
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
    "Kept",
    "Month",
    "brewed_answer",
    "day_kwh",
    "kept_days",
    "kept_of_vessel",
    "months",
    "readings_of",
]

DAY_MIN = 1440.0


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BrewedAnswer:
    """A brewed day beside its plan, and what it taught.

    Parameters
    ----------
    day : BrewDay
        The plan with what was noted of air and water.
    readings : Readings
        What was read.
    stretches : tuple of Stretch
        kWh from reading to reading; empty if the meter was not read.
    causes : tuple of BrewedCause
        Inputs by what each explains alone; empty where all is as planned.
    misfit : float
        Mean square of the readings over their errors.
    oddest : Reading
        The one without which the others fit best.
    cost : DayCost or None
        What was measured, priced.
    unpriced : TariffError or None
        Why it has no cost, where there are prices but none for that day.
    before, after : Learned
        What was known without this day, and with it.
    range_before, range_after : Likely
        kWh of the plan on another day.
    """

    day: BrewDay
    readings: Readings
    stretches: tuple[Stretch, ...]
    causes: tuple[BrewedCause, ...]
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
    others = tuple(one for one in earlier if one.name != today.name)
    before, after = learn(usual, others), learn(usual, (*others, today))
    cost, unpriced = _cost(day, found, tariff, today.start)
    return BrewedAnswer(
        day=day,
        readings=today,
        stretches=found,
        causes=likely_causes(view),
        misfit=misfit(view),
        oddest=today.readings[oddest(view)],
        cost=cost,
        unpriced=unpriced,
        before=before,
        after=after,
        range_before=day_kwh(usual, before),
        range_after=day_kwh(usual, after),
    )


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
