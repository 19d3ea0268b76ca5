"""Heating the strike water while it is cheap, and keeping it until it is wanted."""

from datetime import datetime
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from energyplan.base.errors import BrewDayError
from energyplan.base.load import LoadProfile
from energyplan.base.money import Money
from energyplan.base.records import dataclass
from energyplan.tariffs.clock import from_utc_s, utc_s
from energyplan.tariffs.costs import price
from energyplan.tariffs.heatedwater import HeatedStretch, Schedule, WaterToHeat
from energyplan.tariffs.priceline import PriceLine

__all__ = ["Filling", "HeatedStretch", "WaitingPlan", "wait_for_cheap_heat"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

_MINUTE_S = 60
_FINE_K = 0.1  # between points of the table that are not reached by cooling down
_FILLS_TRIED = 16  # so many of the best moments to fill, by the table, are worked out to the second,
_FILLS_APART_MIN = 5  # so far apart; then those around the best of them
_LANDED_K = 0.02
_NOTHING_FRAC = 5e-4  # a wait that saves less than this share is none
_SHORT_OF_J = 1e6  # a joule missing at the end counts as much as this many dear ones


SAME_COST_FRAC = 0.005  # of the cost: a slow and a fast heating of the same water differ by as much in the model


@dataclass(frozen=True, kw_only=True, eq=False)
class WaitingPlan:
    """The cheapest way to have the water hot in time, beside heating it straight before.

    Parameters
    ----------
    filled : datetime
        When the water is to be put in, UTC; before it there is none to cool down or to warm up.
    ready : datetime
        When it is wanted, UTC.
    stretches : tuple of HeatedStretch
        When it is heated, at full power.
    meter_w : float
        What the meter sees meanwhile, standby included [W].
    lands_c : float
        Temperature that following them leads to [°C].
    load : LoadProfile
        What the meter sees, in seconds since ``filled``.
    cost, direct_cost : Money
        Of this plan, and of heating straight before.
    direct_kwh : float
        Energy of the latter [kWh].
    """

    filled: datetime
    ready: datetime
    stretches: tuple[HeatedStretch, ...]
    meter_w: float
    lands_c: float
    load: LoadProfile
    cost: Money
    direct_cost: Money
    direct_kwh: float

    @property
    def waits(self) -> bool:
        """Whether it is anything else than heating straight before; a saving within what the model rounds is none."""
        return self.cost.units < self.direct_cost.units - SAME_COST_FRAC * abs(self.direct_cost.units)

    @property
    def energy_kwh(self) -> float:
        """Energy at the meter [kWh]."""
        return self.load.energy_kwh

    @property
    def extra_kwh(self) -> float:
        """Energy that waiting adds [kWh]."""
        return self.energy_kwh - self.direct_kwh

    @property
    def saving(self) -> Money:
        """What waiting saves; nothing when heating straight before is the cheapest."""
        return self.direct_cost - self.cost


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Filling:
    """When the water may be put in.

    Parameters
    ----------
    at : datetime, optional
        The moment, if it is settled; the room then warms or cools the water from there on.
    minutes : ndarray of bool, optional
        For each minute from the earliest on whether somebody is there to do it; default always.
    """

    at: datetime | None = None
    minutes: BoolArray | None = None


def wait_for_cheap_heat(
    water: WaterToHeat, line: PriceLine, *, earliest: datetime, ready: datetime, filling: Filling | None = None
) -> WaitingPlan:
    """Cheapest heating between two moments that has the water hot at the second.

    Parameters
    ----------
    water : WaterToHeat
        The water and its vessel.
    line : PriceLine
        The prices; borders on whole minutes.
    earliest, ready : datetime
        From when the water may be in the vessel, and when it is wanted; whole minutes apart.
    filling : Filling, optional
        When the water may be put in; by default just before it is heated.

    Raises
    ------
    BrewDayError
        If the heater can't bring the heat in that time.
    TariffError
        If a part of that time has no price.
    ValueError
        If the two moments are not a whole, positive number of minutes apart.

    Notes
    -----
    dH/dt = P - loss(H), worked out backwards from the wanted moment, minute by minute: the least cost from each heat
    on (dynamic programming). The heats of the table are those that the water passes while it cools from the strike,
    a minute apart, so that cooling down moves from one to the next without a rounding. Cost over heat is convex
    (the loss rises with the heat), so each minute has one heat up to which heating pays. From there each stretch of one
    price gets its seconds of heating, at its end, where the heat waits least; the last one is as long as it takes to
    land. Water that is colder than the room is heated without a break until it is not, unless it must be put in before
    the last hour at which somebody is there. No hot water is kept to earn by a price below zero.

    References
    ----------
    Bellman, R. (1957), Dynamic Programming; cited from memory.
    """
    minutes, odd_s = divmod(utc_s(ready) - utc_s(earliest), _MINUTE_S)
    if minutes < 1 or odd_s:
        raise ValueError(f"from {earliest} to {ready}: expected a whole number of minutes, at least one")
    line.require(utc_s(earliest), utc_s(ready))
    direct_s = water.direct_s or water.heating_s(water.stored_at(water.tap_c), water.stored_at(water.strike_c))
    if not direct_s <= minutes * _MINUTE_S:
        takes = f"it takes {direct_s / _MINUTE_S:.0f} min" if np.isfinite(direct_s) else "the loss eats up the heat"
        within = f"{water.heat_w:.0f} W can't have the water hot after {minutes} min: {takes}"
        raise BrewDayError(f"{within}; begin earlier or heat with more power")
    how = filling or Filling()
    search = _Search(water, line, utc_s(earliest), minutes)
    direct = search.direct(direct_s)
    if how.at is not None:
        options = [search.followed((utc_s(how.at) - utc_s(earliest)) // _MINUTE_S, 0)]
    else:
        options = search.settled([search.followed(*fill) for fill in search.fills(how.minutes)], how.minutes)
    best = min(options, key=search.cost_units)
    cost, direct_cost = (price(one.load, line, from_utc_s(one.filled_s)).total for one in (best, direct))
    may_be_direct = how.at is None and (how.minutes is None or bool(how.minutes[int(-direct_s // _MINUTE_S)]))
    if may_be_direct and cost.units > direct_cost.units - abs(direct_cost.units) * _NOTHING_FRAC:
        best, cost = direct, direct_cost
    if best.lands_c < water.strike_c - _LANDED_K:
        raise BrewDayError(f"filled then the water is not hot at {ready:%H:%M}Z; fill earlier or heat with more power")
    return WaitingPlan(
        filled=from_utc_s(best.filled_s),
        ready=from_utc_s(utc_s(ready)),
        stretches=best.stretches,
        meter_w=water.meter_w + water.standby_w,
        lands_c=best.lands_c,
        load=best.load,
        cost=cost,
        direct_cost=direct_cost,
        direct_kwh=direct.load.energy_kwh,
    )


class _Search:
    """One water, one stretch of prices: the least cost from each heat on, and the schedules it leads to."""

    def __init__(self, water: WaterToHeat, line: PriceLine, first_s: int, minutes: int) -> None:
        self.water, self.line, self.first_s, self.minutes = water, line, first_s, minutes
        self.per_j = np.maximum(_minute_prices(line, first_s, minutes, water), 0.0)
        self.minute_j = water.heat_w * _MINUTE_S
        self.strike_j, self.tap_j = water.stored_at(water.strike_c), water.stored_at(water.tap_c)
        self.ends = np.append(np.flatnonzero(np.diff(self.per_j)) + 1, minutes)  # minutes at which a price ends

    def _cooled_j(self, stored_j: float) -> float:
        """Heat a minute later with the elements off [J]."""
        half_j = stored_j - _MINUTE_S / 2 * self.water.lost_w(stored_j)
        return stored_j - _MINUTE_S * self.water.lost_w(half_j)

    @cached_property
    def heats_j(self) -> FloatArray:
        """Heats of the table, the highest first: a minute of cooling apart as far as it goes, then evenly."""
        coldest_c = min(self.water.tap_c, self.water.air_c)
        lowest_j = self.water.stored_at(coldest_c)
        # The first is what is at the strike a minute later.
        found = [2 * self.strike_j - self._cooled_j(self.strike_j), self.strike_j]
        step_j = _FINE_K * (self.strike_j - lowest_j) / (self.water.strike_c - coldest_c)
        while len(found) < self.minutes + 2 and found[-2] - found[-1] > step_j / 100:
            found.append(self._cooled_j(found[-1]))
        rest = int(max(found[-1] - lowest_j, 0) / step_j)
        return np.concatenate([found, found[-1] - step_j * np.arange(1, rest + 2)])

    @cached_property
    def table(self) -> tuple[FloatArray, FloatArray]:
        """Least cost from each minute (rows) and heat (columns) on; heat up to which each minute heats [J]."""
        heats = self.heats_j
        after = np.array([self._cooled_j(float(heat)) for heat in heats])
        dear = _SHORT_OF_J * max(float(self.per_j.max()), 1e-12)
        costs = np.empty((self.minutes + 1, heats.size))
        costs[-1] = dear * np.maximum(self.strike_j - heats, 0.0)
        up_to_j = np.empty(self.minutes)
        rising = heats[::-1]
        beyond_j = np.maximum(rising[0] - after, 0.0)
        for minute in range(self.minutes - 1, -1, -1):
            kept = np.interp(after, rising, costs[minute + 1][::-1]) + dear * beyond_j
            per_j = self.per_j[minute]
            goal_j = up_to_j[minute] = heats[int(np.argmin(per_j * heats + kept))]
            heated_j = np.minimum(heats + self.minute_j, goal_j)
            heated = per_j * (heated_j - heats) + np.interp(heated_j, rising, kept[::-1])
            costs[minute] = np.where(heats >= goal_j, kept, heated)
        return costs, up_to_j

    def fills(self, allowed: BoolArray | None) -> list[tuple[int, int]]:
        """Moments to fill worth a closer look: minute, and minutes heated without a break from it on."""
        costs, _ = self.table
        rising = self.heats_j[::-1]
        may = np.ones(self.minutes, dtype=bool) if allowed is None else allowed
        forced, warm_j = self._warmed()
        spent = np.concatenate([[0.0], np.cumsum(self.per_j)]) * self.minute_j
        found = [
            (spent[fill + forced] - spent[fill] + np.interp(warm_j, rising, costs[fill + forced][::-1]), fill, forced)
            for fill in np.flatnonzero(may[: self.minutes - forced])
        ]
        last_chances = np.flatnonzero(may[:-1] & ~may[1:])
        found += [(np.interp(self.tap_j, rising, costs[fill][::-1]), fill, 0) for fill in last_chances]
        apart: list[tuple[int, int]] = []
        for _, fill, least in sorted(found):
            if all(abs(fill - other) >= _FILLS_APART_MIN for other, _ in apart):
                apart.append((int(fill), least))
            if len(apart) == _FILLS_TRIED:
                break
        return apart

    def settled(self, options: list[Schedule], allowed: BoolArray | None) -> list[Schedule]:
        """The cheapest of some schedules, and those that fill a few minutes before or after it."""
        best = min(options, key=self.cost_units)
        fill = (best.filled_s - self.first_s) // _MINUTE_S
        forced, _ = self._warmed()
        near = (
            fill + k for k in range(1 - _FILLS_APART_MIN, _FILLS_APART_MIN) if 0 <= fill + k < self.minutes - forced
        )
        return [best, *(self.followed(one, forced) for one in near if allowed is None or allowed[one])]

    def cost_units(self, one: Schedule) -> int:
        """Cost of a schedule in the units of money; beyond all others where it doesn't land."""
        if abs(one.lands_c - self.water.strike_c) > _LANDED_K:
            return 10**30
        return price(one.load, self.line, from_utc_s(one.filled_s)).total.units

    def _warmed(self) -> tuple[int, float]:
        """Minutes of heating until water from the tap is no colder than the room, one at least, and its heat then."""
        until_j = max(self.water.stored_at(self.water.air_c), self.tap_j)
        count = max(int(np.ceil(self.water.heating_s(self.tap_j, until_j) / _MINUTE_S)), 1)
        return count, self.water.heated_j(self.tap_j, count * _MINUTE_S)

    def _heated_s(self, fill: int, forced: int) -> list[int]:
        """Seconds of heating by the table in what is left of each price, after those without a break."""
        _, up_to_j = self.table
        at_j, seconds = self.tap_j, np.zeros(self.minutes)
        for minute in range(fill, self.minutes):
            if minute < fill + forced:
                at_j = self.water.heated_j(at_j, _MINUTE_S)
                continue
            share = min(max((up_to_j[minute] - at_j) / self.minute_j, 0.0), 1.0)
            at_j = self._cooled_j(at_j + share * self.minute_j)
            seconds[minute] = share * _MINUTE_S
        return [round(float(part.sum())) for part in np.split(seconds, self.ends[:-1])]

    def followed(self, fill: int, forced: int) -> Schedule:
        """Play a filling forward, to the second: in each price as late as can be, in the last as long as it takes."""
        at_s, end_s = (fill + forced) * _MINUTE_S, self.minutes * _MINUTE_S
        filled_s, runs = fill * _MINUTE_S, [(fill * _MINUTE_S, at_s)] if forced else []
        stored_j = self.water.heated_j(self.tap_j, forced * _MINUTE_S)
        for price_ends, planned_s in zip(self.ends * _MINUTE_S, self._heated_s(fill, forced), strict=True):
            left_s = int(price_ends) - at_s
            if left_s <= 0:
                continue
            most_s = self._until_strike_s(stored_j, left_s)
            heated_s = min(most_s if price_ends == end_s else min(planned_s, most_s), left_s)
            begin_s = int(price_ends) - heated_s
            if heated_s:
                if len(runs) == 1 and forced and runs[0][1] < begin_s and self._same_price(runs[0][1], begin_s):
                    # Nothing is gained by filling before the first stretch: it moves up to the next, and does not cool.
                    if price_ends == end_s:
                        begin_s = end_s - min(round(self.water.heating_s(stored_j, self.strike_j)), left_s)
                        heated_s = end_s - begin_s
                    filled_s += begin_s - runs[0][1]
                    runs, at_s = [(filled_s, begin_s)], begin_s
                stored_j = self.water.heated_j(self.water.left_alone_j(stored_j, begin_s - at_s), heated_s)
                runs.append((begin_s, int(price_ends)))
            else:
                stored_j = self.water.left_alone_j(stored_j, left_s)
            at_s = int(price_ends)
        return Schedule(
            water=self.water,
            filled_s=self.first_s + filled_s,
            runs=_joined([(begin - filled_s, end - filled_s) for begin, end in runs]),
            lands_c=self.water.temperature_at(stored_j),
            lasts_s=end_s - filled_s,
        )

    def _same_price(self, from_s: int, to_s: int) -> bool:
        prices = self.per_j[from_s // _MINUTE_S - 1 : to_s // _MINUTE_S + 1]
        return bool((prices == prices[0]).all())

    def _until_strike_s(self, stored_j: float, left_s: int) -> int:
        """Seconds of heating at the end of a stretch that bring the strike."""
        heated_s = 0.0
        for _ in range(12):
            left_alone_j = self.water.left_alone_j(stored_j, left_s - heated_s)
            heated_s = min(max(self.water.heating_s(left_alone_j, self.strike_j), 0.0), left_s)
        return round(heated_s)

    def direct(self, direct_s: float) -> Schedule:
        """Filled and heated straight before."""
        lasts_s = int(np.ceil(direct_s))
        return Schedule(
            water=self.water,
            filled_s=self.first_s + self.minutes * _MINUTE_S - lasts_s,
            runs=((lasts_s - direct_s, lasts_s),),
            lands_c=self.water.strike_c,
            lasts_s=lasts_s,
        )


def _joined(runs: list[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
    """Runs that touch as one."""
    found: list[tuple[int, int]] = []
    for run in runs:
        if found and found[-1][1] == run[0]:
            found[-1] = (found[-1][0], run[1])
        else:
            found.append(run)
    return tuple(found)


def _minute_prices(line: PriceLine, first_s: int, minutes: int, water: WaterToHeat) -> FloatArray:
    """Price of each minute's heating, own power that is left over counted as what its export would pay."""
    moments = first_s + np.arange(minutes, dtype=np.int64) * _MINUTE_S
    index = np.searchsorted(line.edges_s, moments, side="right") - 1
    inner = line.edges_s[(line.edges_s > first_s) & (line.edges_s < first_s + minutes * _MINUTE_S)]
    if ((inner - first_s) % _MINUTE_S).any():
        raise ValueError("the price changes within a minute of this plan; begin at a whole minute")
    micro = line.micro_per_kwh[index].astype(np.float64)
    if line.surplus_mw is None:
        return micro
    own = np.minimum(line.surplus_mw[index] / 1000 / water.meter_w, 1.0)
    return np.asarray(micro * (1 - own) + line.export_micro_per_kwh * own)
