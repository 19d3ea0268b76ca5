"""Heating the strike water while it is cheap, and keeping it until it is wanted."""

import math
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.errors import BrewDayError
from energyplan.base.load import LoadProfile
from energyplan.base.money import Money
from energyplan.tariffs.clock import from_utc_s, utc_s
from energyplan.tariffs.costs import price
from energyplan.tariffs.priceline import PriceLine

__all__ = ["UNATTENDED_CAUTION", "WaitingPlan", "WaterToHeat", "wait_for_cheap_heat"]

FloatArray = NDArray[np.float64]

#: Goes with every answer of this module.
UNATTENDED_CAUTION = (
    "This heats water while nobody may be there. Do so only if the vessel's instructions allow it: plain water, never "
    "wort or grain; level well above the elements, valve shut, lid on; no extension lead, a tested residual current "
    "device, a smoke alarm in the room. It costs less and uses more energy. Local codes and a licensed electrician "
    "decide."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterToHeat:
    """A vessel of water that has to be hot at a given time.

    Parameters
    ----------
    heat_j : float
        Heat that the water must hold above its first temperature when it is wanted [J].
    heat_capacity_j_per_k : float
        Of water and vessel [J/K].
    loss_w_per_k : float
        Heat loss, lid on [W/K].
    heater_w : float
        Highest power at the meter, all of which becomes heat [W].
    air_above_water_k : float
        Air temperature less the water's first temperature [K].
    highest_j : float, optional
        Heat above the first temperature that must never be exceeded [J]; default ``heat_j``:
        the water gets no hotter on the way than it must be in the end.

    Raises
    ------
    ValueError
        If a number is out of range.
    """

    heat_j: float
    heat_capacity_j_per_k: float
    loss_w_per_k: float
    heater_w: float
    air_above_water_k: float = 0.0
    highest_j: float | None = None

    def __post_init__(self) -> None:
        positive = {
            "heat_j": self.heat_j,
            "heat_capacity_j_per_k": self.heat_capacity_j_per_k,
            "heater_w": self.heater_w,
        }
        for name, value in positive.items():
            if not (math.isfinite(value) and value > 0):
                raise ValueError(f"{name} = {value}: expected more than 0")
        if not (math.isfinite(self.loss_w_per_k) and self.loss_w_per_k >= 0):
            raise ValueError(f"loss_w_per_k = {self.loss_w_per_k}: expected 0 or more")
        if not math.isfinite(self.air_above_water_k):
            raise ValueError(f"air_above_water_k = {self.air_above_water_k}: expected a finite difference")
        if self.highest_j is not None and not self.highest_j >= self.heat_j:
            raise ValueError(f"highest_j = {self.highest_j}: expected at least heat_j = {self.heat_j}")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WaitingPlan:
    """The cheapest way to have the water hot in time, beside heating it straight before.

    Parameters
    ----------
    start : datetime
        When the water is in the vessel, UTC.
    ready : datetime
        When it is wanted, UTC.
    minute_w : ndarray, shape (n,)
        Mean power of each minute from ``start`` to ``ready`` [W].
    heat_j : ndarray, shape (n + 1,)
        Heat above the first temperature at each minute [J].
    cost, direct_cost : Money
        Of this plan, and of heating at full power straight before.
    energy_kwh, direct_kwh : float
        Energy of the two [kWh].
    caution : str
        To be shown with every such plan.
    """

    start: datetime
    ready: datetime
    minute_w: FloatArray
    heat_j: FloatArray
    cost: Money
    direct_cost: Money
    energy_kwh: float
    direct_kwh: float
    caution: str = UNATTENDED_CAUTION

    @property
    def extra_kwh(self) -> float:
        """Energy that waiting adds [kWh]."""
        return self.energy_kwh - self.direct_kwh

    @property
    def saving(self) -> Money:
        """What waiting saves; nothing when heating straight before is the cheapest."""
        return self.direct_cost - self.cost

    @property
    def stretches(self) -> tuple[tuple[datetime, datetime, float], ...]:
        """From, to and mean power [W] of each run of minutes with the heater on."""
        on = np.diff((self.minute_w > 0).astype(np.int8), prepend=0, append=0)
        first_s = utc_s(self.start)
        return tuple(
            (from_utc_s(first_s + int(a) * 60), from_utc_s(first_s + int(b) * 60), float(self.minute_w[a:b].mean()))
            for a, b in zip(np.flatnonzero(on == 1), np.flatnonzero(on == -1), strict=True)
        )


def wait_for_cheap_heat(water: WaterToHeat, line: PriceLine, *, earliest: datetime, ready: datetime) -> WaitingPlan:
    """Cheapest heating between two moments that has the water hot at the second.

    Parameters
    ----------
    water : WaterToHeat
        The water and its vessel.
    line : PriceLine
        The prices; borders on whole minutes.
    earliest, ready : datetime
        From when the heater may run, and when the water is wanted; whole minutes apart.

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
    C dT/dt = P - UA (T - T_air). A joule put in a time t before the end leaves exp(-t / tau) of
    itself, tau = C / UA, so it costs price x exp(t / tau) per joule that counts. Taking minutes
    in the order of that rank, each as far as the heater and the highest temperature allow, is
    optimal: the limits on the heat so far are nested, and a linear cost over nested limits is
    minimised greedily.

    References
    ----------
    Edmonds, J. (1970), Submodular functions, matroids, and certain polyhedra (greedy on
    polymatroids); cited from memory.
    """
    minutes, odd_s = divmod(utc_s(ready) - utc_s(earliest), 60)
    if minutes < 1 or odd_s:
        raise ValueError(f"from {earliest} to {ready}: expected a whole number of minutes, at least one")
    line.require(utc_s(earliest), utc_s(ready))
    micro = _minute_prices(line, utc_s(earliest), minutes)
    model = _HeatModel.of(water, minutes)
    energy_j = _cheapest_j(model, micro)
    direct_j = _cheapest_j(model, np.ones(minutes))
    costs = [price(_profile(joules), line, earliest).total for joules in (energy_j, direct_j)]
    return WaitingPlan(
        start=from_utc_s(utc_s(earliest)),
        ready=from_utc_s(utc_s(ready)),
        minute_w=energy_j / 60,
        heat_j=model.heat_j(energy_j),
        cost=costs[0],
        direct_cost=costs[1],
        energy_kwh=float(energy_j.sum()) / JOULES_PER_KWH,
        direct_kwh=float(direct_j.sum()) / JOULES_PER_KWH,
    )


def _minute_prices(line: PriceLine, first_s: int, minutes: int) -> FloatArray:
    moments = first_s + np.arange(minutes, dtype=np.int64) * 60
    index = np.searchsorted(line.edges_s, moments, side="right") - 1
    inner = line.edges_s[(line.edges_s > first_s) & (line.edges_s < first_s + minutes * 60)]
    if ((inner - first_s) % 60).any():
        raise ValueError("the price changes within a minute of this plan; begin at a whole minute")
    return line.micro_per_kwh[index].astype(np.float64)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _HeatModel:
    """What a joule of each minute is worth in the end, and what may have come in before.

    Parameters
    ----------
    worth : ndarray, shape (n,)
        Share of a minute's energy that is left at the end.
    room_j : ndarray, shape (n,)
        Most that the energies up to the end of a minute may be worth together [J].
    needed_j : float
        What they must be worth in the end [J].
    minute_j : float
        Most energy of one minute [J].
    kept : float
        Share of the heat that is left after a minute.
    free_j : ndarray, shape (n + 1,)
        Heat that the air alone would have brought by each minute [J].
    """

    worth: FloatArray
    room_j: FloatArray
    needed_j: float
    minute_j: float
    kept: float
    free_j: FloatArray

    @classmethod
    def of(cls, water: WaterToHeat, minutes: int) -> "_HeatModel":
        rate_per_min = water.loss_w_per_k * 60 / water.heat_capacity_j_per_k
        kept = math.exp(-rate_per_min)
        # Mean of exp(-t / tau) over the minute in which the energy comes in.
        within = -math.expm1(-rate_per_min) / rate_per_min if rate_per_min > 0 else 1.0
        left = np.exp(-rate_per_min * np.arange(minutes, -1, -1))
        air_j = water.heat_capacity_j_per_k * water.air_above_water_k
        free_j = air_j * -np.expm1(-rate_per_min * np.arange(minutes + 1))
        highest_j = water.heat_j if water.highest_j is None else water.highest_j
        return cls(
            worth=within * left[1:],
            room_j=(highest_j - free_j[1:]) * left[1:],
            needed_j=water.heat_j - float(free_j[-1]),
            minute_j=water.heater_w * 60,
            kept=kept,
            free_j=free_j,
        )

    def heat_j(self, energy_j: FloatArray) -> FloatArray:
        """Heat above the first temperature at each minute [J]."""
        heat_j = np.zeros(energy_j.size + 1)
        within = self.worth[-1]
        for minute, joules in enumerate(energy_j):
            heat_j[minute + 1] = heat_j[minute] * self.kept + joules * within
        return heat_j + self.free_j


def _cheapest_j(model: _HeatModel, micro: FloatArray) -> FloatArray:
    """Energy of each minute at the lowest cost [J], shape (n,)."""
    minutes = np.arange(micro.size)
    # Of equal ranks the later minute goes first: its heat waits less.
    order = np.lexsort((-minutes, micro / model.worth))
    room_j = model.room_j.copy()
    energy_j = np.zeros(micro.size)
    missing_j = model.needed_j
    for minute in order:
        if missing_j <= 0:
            break
        value_j = min(missing_j, model.minute_j * model.worth[minute], max(float(room_j[minute:].min()), 0.0))
        energy_j[minute] = value_j / model.worth[minute]
        room_j[minute:] -= value_j
        missing_j -= value_j
    if missing_j > 1e-9 * abs(model.needed_j):
        lacking_kwh = missing_j / JOULES_PER_KWH
        raise BrewDayError(
            f"a heater of {model.minute_j / 60:.0f} W can't have the water hot after {micro.size} min: "
            f"{lacking_kwh:.2f} kWh are missing; begin earlier or heat with more power"
        )
    return energy_j


def _profile(energy_j: FloatArray) -> LoadProfile:
    zeros = np.zeros(energy_j.size)
    return LoadProfile(
        name="strike water",
        edges_s=np.arange(energy_j.size + 1, dtype=np.float64) * 60,
        mean_w=energy_j / 60,
        heater_w_per_v2=zeros,
        other_w=zeros,
    )
