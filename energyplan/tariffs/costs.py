"""What a load costs on a price line: to the exact unit, for the day and for any part of it."""

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime

import numpy as np
from numpy.typing import NDArray

from energyplan.base.load import LoadProfile, distinct
from energyplan.base.money import MJ_PER_KWH, Money
from energyplan.base.records import dataclass
from energyplan.tariffs.clock import DAY_S, day_number, from_utc_s, to_local, utc_s, wall_to_utc_s
from energyplan.tariffs.priceline import PriceLine, TierStep
from energyplan.tariffs.steps import MeteredLoad, metered

__all__ = ["BandCost", "DayCost", "month_starts_s", "month_use_mj", "price", "summed", "tier_units", "unchecked_cost"]

IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class BandCost:
    """What went through the meter, and what it cost, while one band held."""

    name: str
    energy_mj: int
    cost: Money

    @property
    def energy_kwh(self) -> float:
        """Energy while the band held [kWh]."""
        return self.energy_mj / MJ_PER_KWH


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DayCost:
    """The cost of a load as a function of the time since its start.

    Every question goes through `before_units`, the cost up to a moment, so the parts of any
    split add up to the whole without a remainder.

    Parameters
    ----------
    start : datetime
        Start of the day, UTC.
    line : PriceLine
        The prices.
    load : MeteredLoad
        The load.
    knots_s : ndarray of int64, shape (k + 1,)
        Seconds since the start between which price and own power don't change.
    step : ndarray of int64, shape (k,)
        Step of the price line between them.
    units : tuple of int, length k + 1
        Cost before each knot, without tiers, in the units of `Money`.
    imported_mj : tuple of int, length k + 1
        Energy from the grid before each knot [mJ].
    month_mj : int
        Use of the month before the start [mJ], for tiers.
    month_ends_s : tuple of int
        Seconds since the start at which a new month begins.
    """

    start: datetime
    line: PriceLine
    load: MeteredLoad
    knots_s: IntArray
    step: IntArray
    units: tuple[int, ...]
    imported_mj: tuple[int, ...]
    month_mj: int
    month_ends_s: tuple[int, ...]

    @property
    def total(self) -> Money:
        """Cost of the whole load."""
        return self.between(self.load.from_s, self.load.to_s)

    @property
    def energy_kwh(self) -> float:
        """Energy of the whole load [kWh]."""
        return self.load.energy_kwh

    @property
    def imported_kwh(self) -> float:
        """The part of it that comes from the grid [kWh]."""
        return self.imported_mj[-1] / MJ_PER_KWH

    @property
    def tier_cost(self) -> Money:
        """What the tiers of a month's use add to the bands."""
        return self._money(self._tiers_before(self.load.to_s))

    @property
    def is_estimate(self) -> bool:
        """Whether a price of the day is guessed."""
        start_s = utc_s(self.start)
        return self.line.is_estimate(start_s + self.load.from_s, start_s + self.load.to_s)

    def _money(self, units: int) -> Money:
        return Money(units=units, currency=self.line.currency, is_estimate=self.is_estimate)

    def between(self, from_s: float, to_s: float) -> Money:
        """Cost from one second since the start to another.

        Raises
        ------
        ValueError
            If the second lies before the first.
        """
        if to_s < from_s:
            raise ValueError(f"cost from {from_s} s to {to_s} s: the end lies before the beginning")
        return self._money(self.before_units(to_s) - self.before_units(from_s))

    def before_units(self, at_s: float) -> int:
        """Cost of everything before a second since the start, in the units of `Money`."""
        piece, energy_mj, own_mj = self._within(at_s)
        return self.units[piece] + self._rate(piece, energy_mj, own_mj) + self._tiers_before(at_s)

    @property
    def bands(self) -> tuple[BandCost, ...]:
        """Energy and cost by band, tiers apart, in the order in which the bands are met."""
        energy = self.load.before_mj(self.knots_s)
        sums: dict[str, tuple[int, int]] = {}
        for piece, step in enumerate(self.step):
            name = self.line.band_names[int(self.line.band[step])]
            had_mj, had_units = sums.get(name, (0, 0))
            sums[name] = (
                had_mj + int(energy[piece + 1] - energy[piece]),
                had_units + self.units[piece + 1] - self.units[piece],
            )
        return tuple(BandCost(name=name, energy_mj=mj, cost=self._money(units)) for name, (mj, units) in sums.items())

    def _within(self, at_s: float) -> tuple[int, int, int]:
        """Piece in which a moment lies; energy used and own energy taken in it so far [mJ]."""
        piece = int(np.searchsorted(self.knots_s, at_s, side="right")) - 1
        piece = min(max(piece, 0), self.step.size - 1)
        knots_mj = self.load.before_mj(np.append(self.knots_s[piece : piece + 2], at_s))
        whole_mj, energy_mj = int(knots_mj[1] - knots_mj[0]), int(knots_mj[2] - knots_mj[0])
        own_mj = whole_mj - (self.imported_mj[piece + 1] - self.imported_mj[piece])
        # Own power was set against the piece as a whole; a part of it has its share.
        return piece, energy_mj, own_mj * energy_mj // whole_mj if whole_mj else 0

    def _rate(self, piece: int, energy_mj: int, own_mj: int) -> int:
        micro = int(self.line.micro_per_kwh[self.step[piece]])
        return micro * (energy_mj - own_mj) + self.line.export_micro_per_kwh * own_mj

    def _imported_before_mj(self, at_s: float) -> int:
        piece, energy_mj, own_mj = self._within(at_s)
        return self.imported_mj[piece] + energy_mj - own_mj

    def _tiers_before(self, at_s: float) -> int:
        if not self.line.tiers:
            return 0
        ends = [end for end in self.month_ends_s if end < at_s]
        marks = [0, *(self._imported_before_mj(end) for end in ends), self._imported_before_mj(at_s)]
        used = [self.month_mj, *([0] * len(ends))]
        start_s = utc_s(self.start)
        months = [start_s + math.floor(self.load.from_s), *(start_s + end for end in ends)]
        return sum(
            tier_units(self.line.tiers_at(month_s), before, later - earlier)
            for month_s, before, earlier, later in zip(months, used, marks, marks[1:], strict=False)
        )

    def tier_ends(self) -> "tuple[DayCost, DayCost] | None":
        """The same day where the month's use so far makes it cheapest, and where dearest; None where it is known.

        Notes
        -----
        What the tiers add is straight in the month's use between the points at which the day begins or ends to pass a
        limit, so both ends lie at one of these.
        """
        if not self.line.month_uses_mj:
            return None
        first_end = min((end for end in self.month_ends_s), default=self.load.to_s)
        more_mj = self._imported_before_mj(first_end)
        tiers = self.line.tiers_at(utc_s(self.start) + math.floor(self.load.from_s))
        limits = [tier.above_mj for tier in tiers]
        uses = sorted({0, *limits, *(max(limit - more_mj, 0) for limit in limits)})
        costs = [replace(self, month_mj=used) for used in uses]
        return min(costs, key=lambda cost: cost.total.units), max(costs, key=lambda cost: cost.total.units)


def _own_mj(line: PriceLine, step: int, energy_mj: int, seconds: int) -> int:
    """Energy of a piece that the brewer's own power covers [mJ]."""
    if line.surplus_mw is None:
        return 0
    return min(energy_mj, int(line.surplus_mw[step]) * seconds)


def tier_units(tiers: Sequence[TierStep], used_mj: int, more_mj: int) -> int:
    """What tiers add when a month's use of ``used_mj`` grows by ``more_mj``, in the units of `Money`.

    >>> tier_units([TierStep(above_mj=100, micro_per_kwh=5)], 90, 30)
    100
    """
    return sum(
        tier.micro_per_kwh * (max(used_mj + more_mj - tier.above_mj, 0) - max(used_mj - tier.above_mj, 0))
        for tier in tiers
    )


def month_starts_s(zone: str, from_s: int, to_s: int) -> IntArray:
    """Seconds of UTC after ``from_s`` and before ``to_s`` at which a local month begins."""
    day = to_local(from_s, zone).date().replace(day=1)
    last = to_local(to_s, zone).date()
    firsts = []
    while day <= last:
        firsts.append(day_number(day) * DAY_S)
        day = date(day.year + day.month // 12, day.month % 12 + 1, 1)
    seconds = wall_to_utc_s(zone, np.array(firsts, dtype=np.int64))
    return seconds[(seconds > from_s) & (seconds < to_s)]


def price(
    load: LoadProfile | Sequence[LoadProfile] | MeteredLoad,
    line: PriceLine,
    start: datetime,
    *,
    month_kwh_so_far: float | None = None,
) -> DayCost:
    """Cost of a load that starts at a given moment.

    Parameters
    ----------
    load : LoadProfile, sequence of them, or MeteredLoad
        What the meter will see; seconds count from the start of the day.
    line : PriceLine
        Price over UTC.
    start : datetime
        Start of the day, with its zone, on a whole second.
    month_kwh_so_far : float, optional
        Use of the calendar month before the start [kWh], which matters only under tiers; by default that of the line,
        0 where it knows none.

    Raises
    ------
    TariffError
        If the load leaves the price line, or runs into a part of it without a price.
    ClockError
        If the start has no zone.

    Notes
    -----
    Cost = sum over the steps of price x energy in the step, in integers. Own power is taken off
    minute by minute; an element that pulses faster than the meter's netting draws on the grid
    while it is on even if the mean would not, so with own power the cost is a lower bound.

    Examples
    --------
    >>> from datetime import UTC
    >>> from energyplan.tariffs.priceline import flat_line
    >>> day = flat_line(micro_per_kwh=300_000, currency="EUR", zone="Europe/Dublin",
    ...                 start=datetime(2026, 1, 1, tzinfo=UTC), end=datetime(2026, 1, 2, tzinfo=UTC))
    >>> steady = LoadProfile(name="vessel", edges_s=np.array([0.0, 3600.0]), mean_w=np.array([2000.0]),
    ...                      heater_w_per_v2=np.zeros(1), other_w=np.zeros(1))
    >>> print(price(steady, day, datetime(2026, 1, 1, 8, tzinfo=UTC)).total)
    0.60 EUR
    """
    counted, month_mj = metered(load), month_use_mj(line, month_kwh_so_far)
    start_s = utc_s(start)
    line.require(start_s + counted.from_s, start_s + counted.to_s)
    return unchecked_cost(counted, line, start_s, month_mj)


def month_use_mj(line: PriceLine, month_kwh_so_far: float | None) -> int:
    """Use of the month before a load [mJ]: what is given, else what the line knows, else none.

    Raises
    ------
    ValueError
        If it is no number, or below zero.
    """
    if month_kwh_so_far is None:
        return line.month_mj or 0
    if not (np.isfinite(month_kwh_so_far) and month_kwh_so_far >= 0):
        raise ValueError(f"month_kwh_so_far = {month_kwh_so_far}: expected 0 or more kWh")
    return round(month_kwh_so_far * MJ_PER_KWH)


def unchecked_cost(counted: MeteredLoad, line: PriceLine, start_s: int, month_mj: int) -> DayCost:
    """As `price`, for a caller that has looked at holes and ends of the line itself."""
    knots_s, step, units, imported_mj = summed(counted, line, start_s)
    span = start_s + int(knots_s[0]), start_s + int(knots_s[-1])
    month_ends = month_starts_s(line.zone, *span) if line.tiers else np.zeros(0, dtype=np.int64)
    return DayCost(
        start=from_utc_s(start_s),
        line=line,
        load=counted,
        knots_s=knots_s,
        step=step,
        units=units,
        imported_mj=imported_mj,
        month_mj=month_mj,
        month_ends_s=tuple(int(second) - start_s for second in month_ends),
    )


def summed(
    load: MeteredLoad, line: PriceLine, start_s: int
) -> tuple[IntArray, IntArray, tuple[int, ...], tuple[int, ...]]:
    """Knots since the start [s], step of the line between them, cost and grid energy [mJ] before each.

    Without a look at holes or ends of the line: beyond them its outermost price goes on.
    """
    knots_s, step = _knots(load, line, start_s)
    energy = load.before_mj(knots_s)
    units, imported_mj = [0], [0]
    for piece, line_step in enumerate(step):
        used_mj = int(energy[piece + 1] - energy[piece])
        own_mj = _own_mj(line, int(line_step), used_mj, int(knots_s[piece + 1] - knots_s[piece]))
        cost = int(line.micro_per_kwh[line_step]) * (used_mj - own_mj) + line.export_micro_per_kwh * own_mj
        units.append(units[-1] + cost)
        imported_mj.append(imported_mj[-1] + used_mj - own_mj)
    return knots_s, step, tuple(units), tuple(imported_mj)


def _knots(load: MeteredLoad, line: PriceLine, start_s: int) -> tuple[IntArray, IntArray]:
    """Whole seconds since the start between which price (and own power against the load) is even."""
    first = load.first_minute * 60
    last = first + load.minute_mj.size * 60
    inner = line.edges_s - start_s
    inner = inner[(inner > first) & (inner < last)]
    ends = np.array([first, last], dtype=np.int64)
    # Under own power a piece must not mix minutes of different load: what is left over in one
    # minute doesn't help in the next.
    minutes = load.changes()[0] * 60 if line.surplus_mw is not None else ends
    knots_s = distinct(np.concatenate([ends, inner, minutes]))
    step = np.searchsorted(line.edges_s, knots_s[:-1] + start_s, side="right") - 1
    return knots_s, np.clip(step, 0, line.band.size - 1)
