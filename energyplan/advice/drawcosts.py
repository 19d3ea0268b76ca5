"""The cost of many draws of one day on a price line at once."""

from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.load import distinct
from energyplan.base.money import MJ_PER_KWH
from energyplan.base.records import dataclass
from energyplan.day.appliances import second_heater_s
from energyplan.day.course import Course
from energyplan.plan.model import Plan
from energyplan.tariffs.clock import utc_s
from energyplan.tariffs.costs import month_starts_s
from energyplan.tariffs.priceline import PriceLine

__all__ = ["Loads", "draw_costs", "loads_of"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

MICRO = 1e-6
MJ_PER_J = 1000.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Loads:
    """Spans of constant power of many draws: begin, end [s from the start], power [W], each (spans, draws)."""

    from_s: FloatArray
    to_s: FloatArray
    power_w: FloatArray

    @property
    def energy_kwh(self) -> FloatArray:
        """Energy of each draw [kWh]."""
        return np.asarray((self.power_w * (self.to_s - self.from_s)).sum(axis=0) / JOULES_PER_KWH)

    def kept(self, which: NDArray[np.bool_]) -> "Loads":
        """Only some of the draws."""
        return Loads(from_s=self.from_s[:, which], to_s=self.to_s[:, which], power_w=self.power_w[:, which])

    def before_j(self, times_s: IntArray) -> FloatArray:
        """Energy before given times [J], shape (times, draws)."""
        total = np.zeros((times_s.size, self.power_w.shape[1]))
        for from_s, to_s, power_w in zip(self.from_s, self.to_s, self.power_w, strict=True):
            total += power_w * np.clip(times_s[:, None] - from_s, 0.0, to_s - from_s)
        return total


def loads_of(plan: Plan, course: Course) -> Loads:
    """What the meter sees of every draw: the vessel's legs and the second heater."""
    from_s, to_s = [leg.start_s for leg in course.legs], [leg.end_s for leg in course.legs]
    power_w = [leg.board_w for leg in course.legs]
    if plan.second_heater is not None:
        begins_s, ends_s = second_heater_s(plan, course)
        from_s.append(begins_s)
        to_s.append(ends_s)
        power_w.append(np.full_like(begins_s, plan.second_heater.power_w))
    return Loads(from_s=np.stack(from_s), to_s=np.stack(to_s), power_w=np.stack(power_w))


def draw_costs(loads: Loads, line: PriceLine, start: datetime, *, month_kwh_so_far: float = 0.0) -> FloatArray:
    """Cost of each draw in the currency of the line, as `energyplan.tariffs.costs.price` counts it.

    Parameters
    ----------
    loads : Loads
        What the draws use, and when.
    line : PriceLine
        Prices.
    start : datetime
        Start of the day, with its offset from UTC.
    month_kwh_so_far : float
        Use of the month before the start [kWh]; matters only under tiers.

    Raises
    ------
    TariffError
        If a draw leaves the price line, or runs into a part of it without a price.

    Notes
    -----
    The energy between changes of the price, for all draws at once; minute by minute only where a surplus of one's own
    has to be set against it. It is not rounded to the millijoule as the meter of `price` does, which no sum can show.
    """
    start_s = utc_s(start)
    first_s, last_s = int(np.floor(loads.from_s.min())), int(np.ceil(loads.to_s.max()))
    line.require(start_s + first_s, start_s + last_s)
    knots_s, step = _knots(line, start_s, first_s, last_s)
    used_j = np.diff(loads.before_j(knots_s), axis=0)
    own_j = np.zeros_like(used_j)
    if line.surplus_mw is not None:
        surplus_j = line.surplus_mw[step] * np.diff(knots_s) / MJ_PER_J
        own_j = np.minimum(used_j, surplus_j[:, None])
    per_kwh = line.micro_per_kwh[step].astype(np.float64)[:, None]
    micro = (per_kwh * (used_j - own_j) + line.export_micro_per_kwh * own_j).sum(axis=0) / JOULES_PER_KWH
    if line.tiers:
        micro = micro + _tiers_micro(line, used_j - own_j, knots_s + start_s, month_kwh_so_far)
    return np.asarray(micro * MICRO)


def _knots(line: PriceLine, start_s: int, first_s: int, last_s: int) -> tuple[IntArray, IntArray]:
    """Seconds since the start between which the price is even, and the step of the line between them."""
    first_s, last_s = first_s // 60 * 60, -(-last_s // 60) * 60
    inner = line.edges_s - start_s
    parts = [np.array([first_s, last_s]), inner[(inner > first_s) & (inner < last_s)]]
    if line.surplus_mw is not None:
        parts.append(np.arange(first_s, last_s, 60))
    if line.tiers:
        parts.append(month_starts_s(line.zone, start_s + first_s, start_s + last_s) - start_s)
    knots_s = distinct(np.concatenate(parts)).astype(np.int64)
    step = np.searchsorted(line.edges_s, knots_s[:-1] + start_s, side="right") - 1
    return knots_s, np.clip(step, 0, line.band.size - 1).astype(np.int64)


def _tiers_micro(line: PriceLine, imported_j: FloatArray, knots_utc_s: IntArray, month_kwh: float) -> FloatArray:
    """What the tiers add to each draw, in millionths."""
    months = month_starts_s(line.zone, int(knots_utc_s[0]), int(knots_utc_s[-1]))
    month = np.searchsorted(months, knots_utc_s[:-1], side="right")
    total = np.zeros(imported_j.shape[1])
    for number in range(months.size + 1):
        more_kwh = imported_j[month == number].sum(axis=0) / JOULES_PER_KWH
        used_kwh = month_kwh if number == 0 else 0.0
        for tier in line.tiers_at(int(months[number - 1] if number else knots_utc_s[0])):
            above_kwh = tier.above_mj / MJ_PER_KWH
            over = np.maximum(used_kwh + more_kwh - above_kwh, 0.0) - max(used_kwh - above_kwh, 0.0)
            total += tier.micro_per_kwh * over
    return total
