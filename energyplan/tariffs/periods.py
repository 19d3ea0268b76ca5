"""What is paid over longer than a day: the peak of a month, a year of a habit."""

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from fractions import Fraction
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from energyplan.base.errors import TariffError
from energyplan.base.load import LoadProfile, distinct
from energyplan.base.money import UNITS_PER_CURRENCY, Money
from energyplan.base.records import dataclass
from energyplan.tariffs.clock import (
    DAY_S,
    day_number,
    from_utc_s,
    local_to_utc,
    offset_pieces,
    to_local,
    utc_s,
    wall_to_utc_s,
)
from energyplan.tariffs.costs import price
from energyplan.tariffs.startcosts import StartLimits
from energyplan.tariffs.starts import StartConditions, find_starts
from energyplan.tariffs.steps import MeteredLoad, PriceLine, metered
from energyplan.tariffs.tables import money_text
from energyplan.tariffs.tariff import Tariff

__all__ = ["Habit", "HabitCost", "HabitDay", "MonthPeak", "PeakCost", "PeakWindow", "habit_cost", "peak_cost"]

IntArray = NDArray[np.int64]


_MJ_PER_KW_S = 1_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class PeakWindow:
    """One window of the clock: its start (UTC), mean power of everything and of the house without the day [kW]."""

    start: datetime
    kw: float
    house_kw: float


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthPeak:
    """What a brew day does to the charge of one calendar month.

    Parameters
    ----------
    first_day : date
        First of the month.
    start : datetime
        Start of the day's highest window in the month, UTC.
    peak_kw : float
        Mean power in it, with the household's own use [kW].
    before_kw : float
        The month's highest window before the day [kW].
    house_kw : float
        The highest of the same windows without the brew day [kW].
    added : Money
        What the day adds to the month's charge; nothing if the peak was there already.
    charge : Money
        The month's whole charge after the day.
    """

    first_day: date
    start: datetime
    peak_kw: float
    before_kw: float
    house_kw: float
    added: Money
    charge: Money


@dataclass(frozen=True, slots=True, kw_only=True)
class PeakCost:
    """What a brew day does to the capacity charge.

    Parameters
    ----------
    window_minutes : int
        Length of a window.
    free_kw : float
        What the tariff leaves free [kW].
    months : tuple of MonthPeak
        The calendar months that the day touches: one, or two when it runs over the end of one.
    windows : tuple of PeakWindow
        Every window that the brew day touches.
    """

    window_minutes: int
    free_kw: float
    months: tuple[MonthPeak, ...]
    windows: tuple[PeakWindow, ...]

    @property
    def decisive(self) -> MonthPeak:
        """The month to which the day adds most; of equal ones that with the higher peak."""
        return max(self.months, key=lambda month: (month.added.units, month.peak_kw))

    @property
    def peak_start(self) -> datetime:
        """Start of the window that decides, UTC."""
        return self.decisive.start

    @property
    def peak_kw(self) -> float:
        """Mean power in it, with the household's own use [kW]."""
        return self.decisive.peak_kw

    @property
    def month_peak_kw(self) -> float:
        """Highest window, before the day, of the month it lies in [kW]."""
        return self.decisive.before_kw

    @property
    def added(self) -> Money:
        """What the day adds to the charge of all months it touches."""
        return sum((month.added for month in self.months[1:]), self.months[0].added)

    @property
    def present_kw(self) -> float:
        """Mean power up to which the day adds nothing: free, reached before, or reached by the house alone [kW]."""
        return max(self.decisive.before_kw, self.decisive.house_kw, self.free_kw)


def peak_cost(
    load: LoadProfile | Sequence[LoadProfile] | MeteredLoad,
    tariff: Tariff,
    start: datetime,
    *,
    household_kw: float = 0.0,
    month_peak_kw: float = 0.0,
    beside: Sequence[LoadProfile] = (),
) -> PeakCost | None:
    """Charge for the day's highest mean power over the tariff's windows.

    Parameters
    ----------
    load : LoadProfile, sequence of them, or MeteredLoad
        The brew day's load.
    tariff : Tariff
        With a table ``[tariff.peak_charge]``; without one the answer is None.
    start : datetime
        Start of the day, with its zone.
    household_kw : float
        What the household draws beside it [kW], taken as even.
    month_peak_kw : float
        Highest window of the month so far [kW].
    beside : sequence of LoadProfile
        What else the household draws, in seconds of the day; counted in the windows that the day touches.

    Raises
    ------
    ValueError
        If a power is negative or not finite.

    Notes
    -----
    Windows begin at 00:00 and follow the local clock of their own moment, over a clock change too; one that a change
    cuts short is a window of its own. A step that straddles a border is split between two windows. Only what exceeds
    ``free_up_to_kw``, the month's peak so far and what the house reaches in the same windows without the day costs
    anything. Each calendar month is charged by itself, and a new one begins at zero.
    """
    rule = tariff.table.peak_charge
    if rule is None:
        return None
    if not all(np.isfinite(power) and power >= 0 for power in (household_kw, month_peak_kw)):
        raise ValueError(f"household {household_kw} kW, month {month_peak_kw} kW: expected 0 or more")
    counted, start_s = metered(load), utc_s(start)
    borders_s = _borders_s(counted, tariff.time_zone, start_s, rule.window_minutes * 60)
    house_mj = np.diff(metered(beside).before_mj(borders_s - start_s)) if beside else np.zeros(borders_s.size - 1, int)
    energy_mj = np.diff(counted.before_mj(borders_s - start_s)) + house_mj
    windows = tuple(
        _Window(
            start_s=int(begin_s),
            kw=Fraction(int(all_mj), int(length_s) * _MJ_PER_KW_S) + Fraction(household_kw),
            house_kw=Fraction(int(own_mj), int(length_s) * _MJ_PER_KW_S) + Fraction(household_kw),
        )
        for begin_s, length_s, all_mj, own_mj in zip(borders_s, np.diff(borders_s), energy_mj, house_mj, strict=False)
    )
    charge = _Charge(
        per_kw=money_text(rule.price_per_kw_month, tariff.currency, Fraction(1)) * tariff.tax_factor,
        free_kw=Fraction(rule.free_up_to_kw),
        currency=tariff.currency,
    )
    return PeakCost(
        window_minutes=rule.window_minutes,
        free_kw=float(rule.free_up_to_kw),
        months=charge.months(windows, tariff.time_zone, Fraction(month_peak_kw)),
        windows=tuple(
            PeakWindow(start=from_utc_s(window.start_s), kw=float(window.kw), house_kw=float(window.house_kw))
            for window in windows
        ),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Window:
    """A window of a meter's peaks: the brew's mean power and the house's."""

    start_s: int
    kw: Fraction
    house_kw: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class _Charge:
    """Price of a kilowatt for a month, tax included, and what is free."""

    per_kw: Fraction
    free_kw: Fraction
    currency: str

    def months(self, windows: Sequence[_Window], zone: str, before_kw: Fraction) -> tuple[MonthPeak, ...]:
        """The windows by the local month in which they begin; only the first has a peak from before."""
        groups = groupby(windows, key=lambda window: to_local(window.start_s, zone).date().replace(day=1))
        found: list[MonthPeak] = []
        for first_day, group in groups:
            found.append(self._month(first_day, tuple(group), Fraction(0) if found else before_kw))
        return tuple(found)

    def _month(self, first_day: date, windows: Sequence[_Window], before_kw: Fraction) -> MonthPeak:
        highest = max(windows, key=lambda window: window.kw)
        house_kw = max(window.house_kw for window in windows)
        without_kw = max(before_kw, house_kw)
        after = self._money(max(highest.kw, without_kw))
        return MonthPeak(
            first_day=first_day,
            start=from_utc_s(highest.start_s),
            peak_kw=float(highest.kw),
            before_kw=float(before_kw),
            house_kw=float(house_kw),
            added=after - self._money(without_kw),
            charge=after,
        )

    def _money(self, peak_kw: Fraction) -> Money:
        amount = self.per_kw * max(peak_kw - self.free_kw, Fraction(0))
        return Money(units=round(amount * UNITS_PER_CURRENCY), currency=self.currency)


def _borders_s(counted: MeteredLoad, zone: str, start_s: int, window_s: int) -> IntArray:
    """Borders of the windows that a load touches, in seconds of UTC."""
    from_s, to_s = start_s + int(np.floor(counted.from_s)), start_s + int(np.ceil(counted.to_s))
    borders: list[IntArray] = []
    for begin_s, end_s, offset in offset_pieces(zone, from_s - 2 * window_s, to_s + 2 * window_s):
        first, last = -(-(begin_s + offset) // window_s), (end_s + offset) // window_s
        # A clock change is a border too, even where it comes within a window.
        borders += [np.array([begin_s]), np.arange(first, last + 1, dtype=np.int64) * window_s - offset]
    all_s = distinct(np.concatenate(borders))
    begin, end = np.searchsorted(all_s, from_s, side="right") - 1, np.searchsorted(all_s, to_s, side="left")
    return np.asarray(all_s[begin : end + 1])


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
    """One brew at the usual time, and the best start of the same day: the usual one where none is cheaper."""

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
    zone: str | None = None,
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
    zone : str, optional
        Clock on which it is brewed; left out, that of the prices.

    Raises
    ------
    TariffError
        If a brew has no price, or no start of a day meets the limits.
    ClockError
        If a clock change skips the usual time on one of the days, or shows it twice.
    """
    counted = metered(load)
    conditions = StartConditions(limits=limits or StartLimits(), zone=zone or line.zone)
    days = tuple(_habit_day(counted, line, datetime.combine(day, habit.at), conditions) for day in habit.days)
    return HabitCost(
        days=days,
        usual=sum((day.usual_cost for day in days[1:]), days[0].usual_cost),
        best=sum((day.best_cost for day in days[1:]), days[0].best_cost),
    )


def _habit_day(load: MeteredLoad, line: PriceLine, naive: datetime, conditions: StartConditions) -> HabitDay:
    zone = conditions.zone or line.zone
    usual = local_to_utc(naive, zone)
    midnights = (day_number(naive.date()) + np.arange(2)) * DAY_S
    first_s, next_s = (int(second) for second in wall_to_utc_s(zone, midnights))
    first, last = from_utc_s(first_s), from_utc_s(next_s - 60)
    try:
        search = find_starts(load, line, first=first, last=last, conditions=conditions)
    except TariffError as error:
        raise TariffError(f"{naive.date()}: {error.message}") from None
    cost, best = price(load, line, usual).total, search.best
    if cost.units <= best.cost.units:  # also where it lies outside the limits
        return HabitDay(usual=usual, usual_cost=cost, best=usual, best_cost=cost)
    return HabitDay(usual=usual, usual_cost=cost, best=best.start, best_cost=best.cost)
