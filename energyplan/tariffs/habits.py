"""What a habit costs over a year, against the best start on each of its days."""

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta

import numpy as np

from energyplan.base.errors import TariffError
from energyplan.base.load import LoadProfile
from energyplan.base.money import Money
from energyplan.base.records import dataclass
from energyplan.tariffs.clock import DAY_S, day_number, from_utc_s, local_to_utc, wall_to_utc_s
from energyplan.tariffs.costs import price
from energyplan.tariffs.meter import MeteredLoad, metered
from energyplan.tariffs.priceline import PriceLine
from energyplan.tariffs.startcosts import StartLimits
from energyplan.tariffs.starts import StartConditions, find_starts

__all__ = ["Habit", "HabitCost", "HabitDay", "habit_cost"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Habit:
    """So many brews in a year, always on one weekday at one time.

    Parameters
    ----------
    weekday : int
        Monday is 0.
    at : time
        On the local clock.
    brews : int
        Spread evenly over the 52 weeks from ``first``.
    first : date
        The year begins here.

    Raises
    ------
    ValueError
        If there is no such weekday, or the brews are not 1 to 52.
    """

    weekday: int
    at: time
    brews: int
    first: date

    def __post_init__(self) -> None:
        if not 0 <= self.weekday <= 6:
            raise ValueError(f"weekday = {self.weekday}: expected 0 (Monday) to 6")
        if not 1 <= self.brews <= 52:
            raise ValueError(f"brews = {self.brews}: expected 1 to 52 a year")

    @property
    def days(self) -> tuple[date, ...]:
        """Days of the brews."""
        start = self.first + timedelta(days=(self.weekday - self.first.weekday()) % 7)
        return tuple(start + timedelta(weeks=brew * 52 // self.brews) for brew in range(self.brews))


@dataclass(frozen=True, slots=True, kw_only=True)
class HabitDay:
    """One brew at the usual time, and the best start of the same day."""

    usual: datetime
    usual_cost: Money
    best: datetime
    best_cost: Money


@dataclass(frozen=True, slots=True, kw_only=True)
class HabitCost:
    """A year of a habit; sums are exact."""

    days: tuple[HabitDay, ...]
    usual: Money
    best: Money

    @property
    def saving(self) -> Money:
        """What the best start each time would save over the year."""
        return self.usual - self.best


def habit_cost(
    load: LoadProfile | Sequence[LoadProfile] | MeteredLoad,
    line: PriceLine,
    habit: Habit,
    limits: StartLimits | None = None,
) -> HabitCost:
    """Cost of a habit over a year against the best start of each of its days.

    Parameters
    ----------
    load : LoadProfile, sequence of them, or MeteredLoad
        The brew day's load.
    line : PriceLine
        Prices over the whole year.
    habit : Habit
        When it is brewed.
    limits : StartLimits, optional
        When else one could start on the same day.

    Raises
    ------
    TariffError
        If a brew has no price, or no start of a day meets the limits.
    ClockError
        If a clock change skips the usual time on one of the days, or shows it twice.
    """
    counted = metered(load)
    days = tuple(_habit_day(counted, line, datetime.combine(day, habit.at), limits) for day in habit.days)
    return HabitCost(
        days=days,
        usual=sum((day.usual_cost for day in days[1:]), days[0].usual_cost),
        best=sum((day.best_cost for day in days[1:]), days[0].best_cost),
    )


def _habit_day(load: MeteredLoad, line: PriceLine, naive: datetime, limits: StartLimits | None) -> HabitDay:
    usual = local_to_utc(naive, line.zone)
    midnights = (day_number(naive.date()) + np.arange(2)) * DAY_S
    first_s, next_s = (int(second) for second in wall_to_utc_s(line.zone, midnights))
    first, last = from_utc_s(first_s), from_utc_s(next_s - 60)
    conditions = StartConditions(limits=limits or StartLimits())
    try:
        search = find_starts(load, line, first=first, last=last, conditions=conditions)
    except TariffError as error:
        raise TariffError(f"{naive.date()}: {error.message}") from None
    return HabitDay(
        usual=usual,
        usual_cost=price(load, line, usual).total,
        best=search.best.start,
        best_cost=search.best.cost,
    )
