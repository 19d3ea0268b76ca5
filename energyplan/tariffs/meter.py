"""What a meter sums: energy by interval, and the peaks that are charged."""

from collections.abc import Sequence
from datetime import date, datetime
from fractions import Fraction
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from energyplan.base.load import LoadProfile, distinct, total_mean_w
from energyplan.base.money import MJ_PER_KWH, UNITS_PER_CURRENCY, Money
from energyplan.base.records import dataclass
from energyplan.tariffs.clock import from_utc_s, offset_pieces, to_local, utc_s
from energyplan.tariffs.tables import money_text
from energyplan.tariffs.tariff import Tariff

__all__ = ["MeteredLoad", "MonthPeak", "PeakCost", "PeakWindow", "metered", "peak_cost"]

FloatArray = NDArray[np.float64]


IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MeteredLoad:
    """Cumulative energy of a load in whole millijoules.

    Parameters
    ----------
    first_minute : int
        Minute, counted from the start of the day, at which the table begins; may be negative.
    minute_mj : ndarray of int64, shape (m,)
        Energy of each minute [mJ].
    upto_mj : ndarray of int64, shape (m + 1,)
        Energy before each minute [mJ].
    edges_s : ndarray, shape (n + 1,)
        Borders of the load's steps [s], as given.
    cumulative_mj : ndarray, shape (n + 1,)
        Energy before each border [mJ], unrounded.
    """

    first_minute: int
    minute_mj: IntArray
    upto_mj: IntArray
    edges_s: FloatArray
    cumulative_mj: FloatArray

    @property
    def total_mj(self) -> int:
        """Energy of the whole load [mJ]."""
        return int(self.upto_mj[-1])

    @property
    def energy_kwh(self) -> float:
        """Energy of the whole load [kWh]."""
        return self.total_mj / MJ_PER_KWH

    @property
    def from_s(self) -> float:
        """Second at which the load begins, counted from the start of the day."""
        return float(self.edges_s[0])

    @property
    def to_s(self) -> float:
        """Second at which the load ends, counted from the start of the day."""
        return float(self.edges_s[-1])

    def before_mj(self, at_s: FloatArray | IntArray | float) -> IntArray:
        """Energy before given seconds [mJ], in the shape of the seconds; never falls with time."""
        seconds = np.asarray(at_s, dtype=np.float64)
        minute = np.clip(np.floor(seconds / 60).astype(np.int64) - self.first_minute, 0, self.minute_mj.size)
        minute_start_s = (minute + self.first_minute) * 60.0
        since = np.interp(seconds, self.edges_s, self.cumulative_mj)
        since = since - np.interp(minute_start_s, self.edges_s, self.cumulative_mj)
        within = np.rint(since).astype(np.int64)
        limit = np.append(self.minute_mj, 0)[minute]
        counted = self.upto_mj[minute] + np.clip(within, 0, limit)
        ended: IntArray = np.where(seconds >= self.edges_s[-1], self.upto_mj[-1], counted)
        return ended

    def changes(self) -> tuple[IntArray, IntArray]:
        """Minutes at which the energy per minute changes, and by how much [mJ].

        The rise at the beginning and the fall at the end are among them, so they sum to zero.
        """
        steps = np.diff(self.minute_mj, prepend=0, append=0)
        at = np.flatnonzero(steps)
        return at + self.first_minute, steps[at]


def metered(load: LoadProfile | Sequence[LoadProfile] | MeteredLoad) -> MeteredLoad:
    """Count a load, or several together, in whole millijoules.

    Raises
    ------
    ValueError
        If the load has more energy than integers hold beside a price (about 2.5 million kWh).

    Examples
    --------
    >>> import numpy as np
    >>> steady = LoadProfile(name="vessel", edges_s=np.array([0.0, 90.0]), mean_w=np.array([2000.0]),
    ...                      heater_w_per_v2=np.zeros(1), other_w=np.zeros(1))
    >>> metered(steady).minute_mj.tolist()
    [120000000, 60000000]
    """
    if isinstance(load, MeteredLoad):
        return load
    profiles = [load] if isinstance(load, LoadProfile) else list(load)
    edges_s, mean_w = total_mean_w(profiles)
    first = int(np.floor(edges_s[0] / 60))
    last = int(np.ceil(edges_s[-1] / 60))
    minutes_s = np.arange(first, last + 1, dtype=np.float64) * 60.0
    knots_s = distinct(np.concatenate([minutes_s, edges_s]))
    step = np.searchsorted(edges_s, knots_s[:-1], side="right") - 1
    on = (step >= 0) & (step < mean_w.size)
    power_w = np.where(on, mean_w[np.clip(step, 0, mean_w.size - 1)], 0.0)
    piece_mj = power_w * np.diff(knots_s) * 1000.0
    exact_mj = np.add.reduceat(piece_mj, np.searchsorted(knots_s, minutes_s[:-1]))
    total_mj = float(exact_mj.sum())
    if total_mj >= 2.0**53:
        raise ValueError(f"load of {total_mj / MJ_PER_KWH:.0f} kWh is too large to price; check its powers")
    minute_mj = np.rint(exact_mj).astype(np.int64)
    return MeteredLoad(
        first_minute=first,
        minute_mj=minute_mj,
        upto_mj=np.concatenate([[0], np.cumsum(minute_mj)]),
        edges_s=edges_s,
        cumulative_mj=np.concatenate([[0.0], np.cumsum(mean_w * np.diff(edges_s) * 1000.0)]),
    )


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
