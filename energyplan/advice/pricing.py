"""What a day costs under a tariff, and under several."""

from collections.abc import Sequence
from dataclasses import field
from datetime import datetime, time, timedelta
from fractions import Fraction

from energyplan.advice.starts import habit_year, limits_of, usual_hours
from energyplan.base.errors import EnergyPlanError, TariffError
from energyplan.base.load import LoadProfile
from energyplan.base.money import UNITS_PER_CURRENCY, Money
from energyplan.base.records import dataclass
from energyplan.day.brewday import BrewDay
from energyplan.plan.model import Hours, Plan
from energyplan.tariffs.clock import local_to_utc, to_local
from energyplan.tariffs.costs import DayCost, price
from energyplan.tariffs.periods import Habit, HabitCost
from energyplan.tariffs.priceline import PriceLine, price_line_around
from energyplan.tariffs.starts import StartConditions, StartOption, StartSearch, find_starts
from energyplan.tariffs.tariff import Tariff, of_the_month, zone_name

__all__ = ["Pricing", "TariffCost", "compare_tariffs", "cost_above", "cost_of_load", "pricing_of"]

LONGEST_DAY_S = 2 * 86_400.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pricing:
    """Prices, the start of the day, and the starts that are open.

    Parameters
    ----------
    line : PriceLine
        Prices; should reach from the first start to the end of the last day.
    start : datetime
        Planned start, with its offset from UTC, on a whole minute.
    first, last : datetime, optional
        First and last other start; left out, the start is not up for choice.
    hours : Hours
        When the brewer brews: another start keeps them.
    zone : str, optional
        The brewer's clock; left out, that of the prices.
    """

    line: PriceLine
    start: datetime
    first: datetime | None = None
    last: datetime | None = None
    hours: Hours = field(default_factory=Hours)
    zone: str | None = None

    @property
    def clock(self) -> str:
        """Time zone of the brewer's clock."""
        return self.zone or self.line.zone

    @property
    def local_start(self) -> datetime:
        """The planned start on the brewer's clock."""
        return to_local(self.start, self.clock)

    @property
    def may_move(self) -> bool:
        """Whether another start may be chosen."""
        return self.first is not None and self.last is not None

    def cost(self, day: BrewDay, start: datetime | None = None) -> Money:
        """Cost of a day at the planned start, or at another one."""
        return self.cost_of(day.profiles, start)

    def cost_of(self, profiles: Sequence[LoadProfile], start: datetime | None = None) -> Money:
        """Cost of the loads of a day."""
        return price(profiles, self.line, start or self.start).total

    def starts(self, day: BrewDay) -> StartSearch | None:
        """Every open start of a day, costed; None when the start is not up for choice."""
        if self.first is None or self.last is None:
            return None
        conditions = StartConditions(limits=limits_of(day, self.hours), zone=self.zone)
        return find_starts(day.profiles, self.line, first=self.first, last=self.last, conditions=conditions)


def cost_of_load(load: LoadProfile, tariff: Tariff, start: datetime) -> DayCost:
    """Cost of a load that was measured, whenever it was.

    Raises
    ------
    TariffError
        If the tariff has no price for a part of it.
    """
    first_s, last_s = (timedelta(seconds=float(load.edges_s[place])) for place in (0, -1))
    line = price_line_around(tariff, start + first_s, start + last_s)
    return price(load, line, start)


def cost_above(counted: LoadProfile, usual: LoadProfile, tariff: Tariff, start: datetime) -> Money:
    """Cost of what was counted less the cost of what is usual, interval by interval.

    Raises
    ------
    TariffError
        If the tariff has no price for a part of it.
    """
    whole, part = (cost_of_load(load, tariff, start).total for load in (counted, usual))
    return whole - part


def pricing_of(
    plan: Plan, tariff: Tariff, start: datetime, *, any_start: bool = False, lasts_s: float = LONGEST_DAY_S
) -> Pricing:
    """Prices around a start; with ``any_start`` every start of that local day is up for choice, in the brewer's hours.

    Parameters
    ----------
    plan : Plan
        Its ``[hours]`` limit the other starts, its ``[supply]`` says what the month has used.
    tariff : Tariff
        What the supplier charges.
    start : datetime
        Planned start, with its offset from UTC.
    lasts_s : float
        How long the day lasts at most [s]: so far the prices must reach.

    Raises
    ------
    TariffError
        If the tariff has no prices there.
    """
    tariff, zone = of_the_month(tariff, plan.supply), zone_name(plan.site, tariff)
    midnight = to_local(start, zone).replace(hour=0, minute=0, second=0, microsecond=0, tzinfo=None)
    first, last = (local_to_utc(midnight + timedelta(days=days), zone) for days in (0, 1))
    reach = timedelta(seconds=max(lasts_s, LONGEST_DAY_S), days=1)
    return Pricing(
        line=price_line_around(tariff, first - timedelta(days=1), last + reach),
        start=start,
        first=first if any_start else None,
        last=last - timedelta(minutes=1) if any_start else None,
        hours=usual_hours(plan),
        zone=zone,
    )


DAYS_A_YEAR = 365


@dataclass(frozen=True, slots=True, kw_only=True)
class TariffCost:
    """What a day and a year of brews come to under one tariff.

    Parameters
    ----------
    tariff : Tariff
        The tariff.
    day : Money
        Cost of the day at its start.
    ends : tuple of Money, optional
        The least and the most of it, where the tariff has steps by the month's use and that use is not known.
    best : StartOption
        Cheapest start of the same day within the brewer's hours: the day's own where none is cheaper.
    year : HabitCost, optional
        A year of brews at the usual time; None when the tariff doesn't price all of it, ``why`` then says so.
    why : str
        What kept a year from being priced.
    """

    tariff: Tariff
    day: Money
    ends: tuple[Money, Money] | None
    best: StartOption
    year: HabitCost | None
    why: str

    @property
    def charges(self) -> Money:
        """Daily charges of a year."""
        units = round(Fraction(self.tariff.daily_charge) * DAYS_A_YEAR * UNITS_PER_CURRENCY)
        return Money(units=units, currency=self.tariff.currency)

    @property
    def together(self) -> Money | None:
        """Brews at the usual time and daily charges of a year."""
        return None if self.year is None else self.year.usual + self.charges


def compare_tariffs(
    day: BrewDay, tariffs: Sequence[Tariff], start: datetime, *, habit: tuple[int, time], brews: int
) -> tuple[TariffCost, ...]:
    """Price a day and a year of a habit under each of some tariffs.

    Parameters
    ----------
    day : BrewDay
        The brew day.
    tariffs : sequence of Tariff
        Of one currency.
    start : datetime
        Start of the day, with its offset from UTC; the year begins with it.
    habit : tuple of (weekday, time)
        When it is usually brewed; Monday is 0.
    brews : int
        Brews in the year.

    Raises
    ------
    TariffError
        If the currencies differ, or a tariff has no price for the day.
    """
    currencies = sorted({tariff.currency for tariff in tariffs})
    if len(currencies) > 1:
        raise TariffError(f"amounts in {' and '.join(currencies)} can't be compared; take tariffs of one currency")
    zone = zone_name(day.plan.site, tariffs[0])
    return tuple(_cost(day, tariff, start, habit, brews, zone) for tariff in tariffs)


def _cost(day: BrewDay, tariff: Tariff, start: datetime, habit: tuple[int, time], brews: int, zone: str) -> TariffCost:
    tariff = of_the_month(tariff, day.plan.supply)
    midnight = to_local(start, zone).replace(hour=0, minute=0, second=0, microsecond=0, tzinfo=None)
    first, last = (local_to_utc(midnight + timedelta(days=days), zone) for days in (0, 1))
    line = price_line_around(tariff, first, last + timedelta(seconds=day.duration_s))
    cost = price(day.profiles, line, start)
    ends = cost.tier_ends()
    hours = usual_hours(day.plan)
    conditions = StartConditions(limits=limits_of(day, hours), zone=zone)
    best, year, why = StartOption(start=start, cost=cost.total), None, ""
    try:
        last_start = last - timedelta(minutes=1)
        found = find_starts(day.profiles, line, first=first, last=last_start, conditions=conditions).best
        best = min(best, found, key=lambda option: option.cost.units)
    except TariffError:
        pass  # no start of that day keeps the hours
    try:
        of_year = Habit(weekday=habit[0], at=habit[1], brews=brews, first=midnight.date())
        year = habit_year(day, tariff, hours, of_year)
    except EnergyPlanError as error:
        why = str(error)
    return TariffCost(
        tariff=tariff,
        day=cost.total,
        ends=None if ends is None else (ends[0].total, ends[1].total),
        best=best,
        year=year,
        why=why,
    )
