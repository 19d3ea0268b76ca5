"""Costs of all starts at once, and which of them the brewer's hours allow."""

import math
from collections.abc import Callable, Iterable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from energyplan.base.records import dataclass
from energyplan.tariffs.clock import DAY_S, day_number, to_local, wall_to_utc_s
from energyplan.tariffs.costs import month_starts_s, month_use_mj, summed, unchecked_cost
from energyplan.tariffs.dayrules import MINUTES_PER_DAY
from energyplan.tariffs.priceline import PriceLine
from energyplan.tariffs.steps import MeteredLoad

__all__ = ["StartLimits", "UnitArray", "allowed_starts", "minute_range", "start_units"]

BoolArray = NDArray[np.bool_]


IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class StartLimits:
    """Conditions on a start.

    Parameters
    ----------
    earliest_min : int, optional
        Not before this time of day [minutes from midnight].
    finish_by_min : int, optional
        Done by this time of day; of the next day when it isn't after ``earliest_min``.
    not_on : frozenset of int
        Weekdays on which not to start, Monday is 0.
    attended : tuple of (from s, to s)
        Stretches of the day that need a person, in seconds since its start.
    attended_from_min, attended_to_min : int
        Hours in which somebody is there [minutes from midnight]; ``to`` not after ``from`` wraps.

    Raises
    ------
    ValueError
        If a time of day, a weekday or a stretch is out of range.
    """

    earliest_min: int | None = None
    finish_by_min: int | None = None
    not_on: frozenset[int] = frozenset()
    attended: tuple[tuple[float, float], ...] = ()
    attended_from_min: int = 0
    attended_to_min: int = MINUTES_PER_DAY

    def __post_init__(self) -> None:
        clocks = (self.earliest_min, self.finish_by_min, self.attended_from_min, self.attended_to_min)
        if any(clock is not None and not 0 <= clock <= MINUTES_PER_DAY for clock in clocks):
            raise ValueError(f"a time of day lies between 0 and {MINUTES_PER_DAY} minutes, got {clocks}")
        if not self.not_on <= frozenset(range(7)):
            raise ValueError(f"weekdays are 0 (Monday) to 6, got {sorted(self.not_on)}")
        if any(end < start for start, end in self.attended):
            raise ValueError(f"an attended stretch ends before it begins: {self.attended}")


def minute_range(first_s: int, count: int, from_s: float, to_s: float) -> slice:
    """Starts, one a minute from ``first_s``, that lie from one second to another, both included."""
    low = math.ceil((from_s - first_s) / 60)
    high = math.floor((to_s - first_s) / 60) + 1
    return slice(min(max(low, 0), count), min(max(high, 0), count))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Days:
    """Local days around the starts, and the first second of each [UTC]."""

    number: IntArray
    zone: str

    def at(self, minute: int) -> IntArray:
        """Second of UTC of a time of day, for each day."""
        return wall_to_utc_s(self.zone, self.number * DAY_S + minute * 60)


def allowed_starts(limits: StartLimits, *, first_s: int, count: int, zone: str, ends_s: float) -> BoolArray:
    """Which of the starts, one a minute, meet the conditions.

    Parameters
    ----------
    limits : StartLimits
        The conditions.
    first_s : int
        First start [s of UTC].
    count : int
        Number of starts.
    zone : str
        IANA zone of the local clock.
    ends_s : float
        End of the day, in seconds since its start.
    """
    around = [to_local(first_s - 2 * DAY_S, zone).date(), to_local(first_s + count * 60 + 3 * DAY_S, zone).date()]
    days = _Days(number=np.arange(day_number(around[0]), day_number(around[1]) + 1), zone=zone)
    allowed = np.ones(count, dtype=bool)
    if limits.earliest_min is not None or limits.finish_by_min is not None:
        allowed &= _painted(_clock_window(limits, days, ends_s), first_s, count)
    if limits.not_on:
        midnight = days.at(0)
        for day in np.flatnonzero(np.isin((days.number[:-1] + 3) % 7, sorted(limits.not_on))):
            allowed[minute_range(first_s, count, int(midnight[day]), int(midnight[day + 1]) - 1)] = False
    if (limits.attended_from_min, limits.attended_to_min) != (0, MINUTES_PER_DAY):
        opening, closing = _presence(limits, days)
        for start_s, end_s in limits.attended:
            spans = zip(opening - start_s, closing - end_s, strict=True)
            allowed &= _painted(spans, first_s, count)
    return allowed


def _painted(spans: Iterable[tuple[float, float]], first_s: int, count: int) -> BoolArray:
    mask = np.zeros(count, dtype=bool)
    for from_s, to_s in spans:
        if from_s <= to_s:
            mask[minute_range(first_s, count, float(from_s), float(to_s))] = True
    return mask


def _clock_window(limits: StartLimits, days: _Days, ends_s: float) -> Iterable[tuple[float, float]]:
    """First and last start of each day under ``earliest`` and ``finish_by``."""
    if limits.finish_by_min is None:
        next_midnight = days.at(MINUTES_PER_DAY)
        return zip(days.at(limits.earliest_min or 0), next_midnight - 1, strict=True)
    finish = days.at(limits.finish_by_min)
    if limits.earliest_min is None:
        # Nothing said about the start: the day on which it ends decides.
        return zip(days.at(0) - ends_s, finish - ends_s, strict=True)
    if limits.finish_by_min <= limits.earliest_min:
        finish = days.at(limits.finish_by_min + MINUTES_PER_DAY)
    return zip(days.at(limits.earliest_min), finish - ends_s, strict=True)


def _presence(limits: StartLimits, days: _Days) -> tuple[IntArray, IntArray]:
    wraps = limits.attended_to_min <= limits.attended_from_min
    closing = limits.attended_to_min + (MINUTES_PER_DAY if wraps else 0)
    return days.at(limits.attended_from_min), days.at(closing)


#: Whole numbers, as int64 where they fit, else as Python's own.
UnitArray = NDArray[Any]


_INT64_ROOM = 2**63 - 1


def start_units(
    load: MeteredLoad, line: PriceLine, *, first_s: int, count: int, month_kwh_so_far: float | None = None
) -> UnitArray:
    """Cost of ``count`` starts, one a minute, in the units of `Money`, shape (count,).

    Parameters
    ----------
    load : MeteredLoad
        The load.
    line : PriceLine
        The prices; borders on whole minutes of the starts.
    first_s : int
        First start [s of UTC].
    count : int
        Number of starts.
    month_kwh_so_far : float, optional
        Use of the month before each start [kWh], for tiers.

    Raises
    ------
    ValueError
        If the borders of the prices and the starts are not whole minutes apart.

    Notes
    -----
    With the load q[m] per minute and the price P[j] per minute, cost[n] = sum_m q[m] P[n + m].
    Its second difference in n is -sum over borders of dq[i] dP[k] where n = k - i. Integer sums
    wrap around harmlessly on the way; the results are bounded before, and where 64 bits would
    not hold them Python's own integers are used.
    """
    rates = _Rates.of(load, line, month_kwh_so_far)
    units = _correlated(load, line, rates.cost_diff, first_s=first_s, count=count, exact=rates.exact)
    units[0] = summed(load, line, first_s)[2][-1]
    np.cumsum(units, out=units)
    if line.tiers:
        units += _tier_costs(load, line, rates, first_s=first_s, count=count)
    return units


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Rates:
    """How cost and grid energy per minute step along the price line, for a change of the load."""

    line: PriceLine
    month_mj: int
    exact: bool

    @classmethod
    def of(cls, load: MeteredLoad, line: PriceLine, month_kwh_so_far: float | None) -> "_Rates":
        dearest = max(int(np.abs(line.micro_per_kwh).max()), abs(line.export_micro_per_kwh))
        dearest += sum(abs(tier.micro_per_kwh) for tier in line.tiers)
        month_mj = month_use_mj(line, month_kwh_so_far)
        # Twice: the plateau adds a hundredth to the best cost.
        return cls(line=line, month_mj=month_mj, exact=2 * dearest * (load.total_mj + month_mj) > _INT64_ROOM)

    def cost_diff(self, before_mj: int, after_mj: int) -> UnitArray:
        """Step at each inner border of the line of what the load's change costs per minute."""
        if self.line.surplus_mw is None:
            steps: UnitArray = np.diff(self._price()) * (after_mj - before_mj)
            return steps
        return np.diff(self._cost_per_minute(after_mj) - self._cost_per_minute(before_mj))

    def import_diff(self, before_mj: int, after_mj: int) -> UnitArray:
        """Step at each inner border of the line of what the load's change draws from the grid."""
        return np.diff(self._own_mj(before_mj) - self._own_mj(after_mj))

    def tier_units(self, month_s: int, used_mj: int, more_mj: UnitArray) -> UnitArray:
        """What the tiers of a month add to each of several uses of it, in the units of `Money`."""
        more = more_mj.astype(object) if self.exact else more_mj
        units: UnitArray = np.zeros_like(more)
        for tier in self.line.tiers_at(month_s):
            over_mj = np.maximum(more + (used_mj - tier.above_mj), 0) - max(used_mj - tier.above_mj, 0)
            units += tier.micro_per_kwh * over_mj
        return units

    def _price(self) -> UnitArray:
        return self.line.micro_per_kwh.astype(object) if self.exact else self.line.micro_per_kwh

    def _own_mj(self, load_mj: int) -> UnitArray:
        """Own power that goes to a load, per minute."""
        surplus = self.line.surplus_mw
        own: UnitArray = np.zeros(self.line.band.size, dtype=np.int64)
        if surplus is not None:
            own = np.minimum(load_mj, surplus * 60)
        return own.astype(object) if self.exact else own

    def _cost_per_minute(self, load_mj: int) -> UnitArray:
        own_mj = self._own_mj(load_mj)
        cost: UnitArray = self._price() * (load_mj - own_mj) + own_mj * self.line.export_micro_per_kwh
        return cost


def _correlated(
    load: MeteredLoad,
    line: PriceLine,
    diff: Callable[[int, int], UnitArray],
    *,
    first_s: int,
    count: int,
    exact: bool,
) -> UnitArray:
    """First differences of the costs of all starts; the place for the first cost is left zero."""
    seconds = line.edges_s[1:-1] - first_s
    if (seconds % 60).any():
        raise ValueError("starts and price borders must be whole minutes apart; begin at a whole minute")
    border = seconds // 60
    # One place more than there are differences: a difference at n belongs to the step to n + 1.
    second_diff = np.zeros(count, dtype=object if exact else np.int64)
    level = 0
    for minute, change in zip(*load.changes(), strict=True):
        step = -diff(level, level + int(change))
        level += int(change)
        place = border - int(minute) + 1
        past, end = np.searchsorted(place, [2, count])
        if count > 1:
            second_diff[1] += step[:past].sum()
        # Borders don't repeat, so the places are distinct.
        second_diff[place[past:end]] += step[past:end]
    return np.cumsum(second_diff, out=second_diff)


def _tier_costs(load: MeteredLoad, line: PriceLine, rates: _Rates, *, first_s: int, count: int) -> UnitArray:
    """What tiers add to each start, in the units of `Money`."""
    imported_mj: UnitArray = np.full(count, load.total_mj, dtype=np.int64)
    if line.surplus_mw is not None:
        imported_mj = _correlated(load, line, rates.import_diff, first_s=first_s, count=count, exact=rates.exact)
        imported_mj[0] = summed(load, line, first_s)[3][-1]
        np.cumsum(imported_mj, out=imported_mj)
    begins = load.first_minute * 60
    ends = begins + load.minute_mj.size * 60
    months = month_starts_s(line.zone, first_s + begins, first_s + count * 60 + ends)
    costs = rates.tier_units(first_s + begins, rates.month_mj, imported_mj)
    month_s = first_s + begins
    for next_s in (int(second) for second in months):
        after = minute_range(first_s, count, next_s - begins, first_s + count * 60)
        costs[after] = rates.tier_units(next_s, rates.month_mj, imported_mj[after])
        across = minute_range(first_s, count, next_s - ends + 1, next_s - begins - 1)
        if line.surplus_mw is None:
            since_s = next_s - first_s - np.arange(across.start, across.stop) * 60
            before_mj = load.before_mj(since_s)
            costs[across] = rates.tier_units(month_s, rates.month_mj, before_mj)
            costs[across] += rates.tier_units(next_s, 0, load.total_mj - before_mj)
        else:
            for index in range(across.start, across.stop):
                day = unchecked_cost(load, line, first_s + index * 60, rates.month_mj)
                costs[index] = day.tier_cost.units
        month_s = next_s
    return costs
