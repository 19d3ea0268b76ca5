"""The cost of every start, one a minute, at once.

With one cost per start, the second difference of the costs is nonzero only where a border of the
price meets a border of the load. So those few products are laid down and summed up twice: exact
in integers, and hardly dearer than copying the result.
"""

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from energyplan.base.money import MJ_PER_KWH
from energyplan.base.records import dataclass
from energyplan.tariffs.costs import month_starts_s, summed, unchecked_cost
from energyplan.tariffs.limits import minute_range
from energyplan.tariffs.meter import MeteredLoad
from energyplan.tariffs.priceline import PriceLine

__all__ = ["UnitArray", "start_units"]

#: Whole numbers, as int64 where they fit, else as Python's own.
UnitArray = NDArray[Any]

_INT64_ROOM = 2**63 - 1


def start_units(
    load: MeteredLoad, line: PriceLine, *, first_s: int, count: int, month_kwh_so_far: float = 0.0
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
    month_kwh_so_far : float
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
    def of(cls, load: MeteredLoad, line: PriceLine, month_kwh_so_far: float) -> "_Rates":
        dearest = max(int(np.abs(line.micro_per_kwh).max()), abs(line.export_micro_per_kwh))
        dearest += sum(abs(tier.micro_per_kwh) for tier in line.tiers)
        month_mj = round(month_kwh_so_far * MJ_PER_KWH)
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
