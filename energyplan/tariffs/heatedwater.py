"""A vessel of water that has to be hot at a given time: how it heats, cools, and what following a schedule leads to."""

from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from energyplan.base.load import LoadProfile
from energyplan.tariffs.clock import from_utc_s

__all__ = ["HeatedStretch", "Schedule", "WaterToHeat"]

FloatArray = NDArray[np.float64]

_DRIFT_STEP_S = 600.0


@dataclass(frozen=True, kw_only=True, eq=False)
class WaterToHeat:
    """A vessel of water that has to be hot at a given time.

    Parameters
    ----------
    temperatures_c : ndarray, shape (n,)
        Rising temperatures, from at most the tap's and the air's to above the wanted one [°C].
    stored_j : ndarray, shape (n,)
        Heat of water and vessel at each of them [J], rising.
    loss_w : ndarray, shape (n,)
        What they lose to the room at each of them [W]; negative where the room warms them.
    tap_c, strike_c, air_c : float
        Temperature at which the water comes in, that it must have in the end, and of the room [°C].
    heat_w : float
        Heat that goes into the water while it is heated [W].
    meter_w : float
        What the meter sees of it: elements, loss in the leads, pump [W].
    standby_w : float
        What the vessel draws besides, from filling on [W].
    direct_s : float, optional
        How long heating takes from the tap to the strike without a break [s], where a simulated day has told it.

    Raises
    ------
    ValueError
        If the table doesn't rise or doesn't reach, or a power is out of range.
    """

    temperatures_c: FloatArray
    stored_j: FloatArray
    loss_w: FloatArray
    tap_c: float
    strike_c: float
    air_c: float
    heat_w: float
    meter_w: float
    standby_w: float = 0.0
    direct_s: float | None = None

    def __post_init__(self) -> None:
        if not ((np.diff(self.temperatures_c) > 0).all() and (np.diff(self.stored_j) > 0).all()):
            raise ValueError("temperatures_c and stored_j: expected rising values")
        low_c, high_c = float(self.temperatures_c[0]), float(self.temperatures_c[-1])
        if not low_c <= min(self.tap_c, self.air_c) <= max(self.tap_c, self.air_c) < self.strike_c < high_c:
            raise ValueError(
                f"tap_c = {self.tap_c}, air_c = {self.air_c}, strike_c = {self.strike_c}: expected the strike above "
                f"both, and all within {low_c} to {high_c}"
            )
        for name, value in {"heat_w": self.heat_w, "meter_w": self.meter_w}.items():
            if not (np.isfinite(value) and value > 0):
                raise ValueError(f"{name} = {value}: expected more than 0")
        if not (np.isfinite(self.standby_w) and self.standby_w >= 0):
            raise ValueError(f"standby_w = {self.standby_w}: expected 0 or more")

    def stored_at(self, temperature_c: float) -> float:
        """Heat of water and vessel at a temperature [J]."""
        return float(np.interp(temperature_c, self.temperatures_c, self.stored_j))

    def temperature_at(self, stored_j: float) -> float:
        """Temperature at which they hold a heat [°C]."""
        return float(np.interp(stored_j, self.stored_j, self.temperatures_c))

    def lost_w(self, stored_j: float) -> float:
        """Loss at a heat [W]."""
        return float(np.interp(stored_j, self.stored_j, self.loss_w))

    def heated_j(self, stored_j: float, seconds: float) -> float:
        """Heat after some time of heating [J]."""
        begun_s = float(np.interp(stored_j, self.stored_j, self._heating_s))
        return float(np.interp(begun_s + seconds, self._heating_s, self.stored_j))

    def heating_s(self, from_j: float, to_j: float) -> float:
        """How long heating takes from one heat to another [s]; infinite where the loss eats it up."""
        begin_s, end_s = np.interp([from_j, to_j], self.stored_j, self._heating_s)
        return float(end_s - begin_s)

    def left_alone_j(self, stored_j: float, seconds: float) -> float:
        """Heat after some time with the elements off [J]; fourth-order Runge-Kutta."""
        steps = max(int(np.ceil(seconds / _DRIFT_STEP_S)), 1)
        step_s = seconds / steps
        for _ in range(steps):
            first_w = self.lost_w(stored_j)
            second_w = self.lost_w(stored_j - step_s / 2 * first_w)
            third_w = self.lost_w(stored_j - step_s / 2 * second_w)
            fourth_w = self.lost_w(stored_j - step_s * third_w)
            stored_j -= step_s / 6 * (first_w + 2 * second_w + 2 * third_w + fourth_w)
        return stored_j

    @cached_property
    def _heating_s(self) -> FloatArray:
        """Seconds of heating from the lowest point of the table to each: the integral of dH / (P - loss); Simpson."""
        middle_w = np.interp((self.stored_j[1:] + self.stored_j[:-1]) / 2, self.stored_j, self.loss_w)
        with np.errstate(divide="ignore"):
            ends, middles = (np.where(w < self.heat_w, 1 / (self.heat_w - w), np.inf) for w in (self.loss_w, middle_w))
        pieces_s = np.diff(self.stored_j) * (ends[:-1] + 4 * middles + ends[1:]) / 6
        return np.concatenate([[0.0], np.cumsum(pieces_s)])


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatedStretch:
    """A stretch of heating, from and to (UTC)."""

    start: datetime
    end: datetime


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Schedule:
    """Moment of filling [s of UTC], runs of heating [s since then], and what following them leads to."""

    water: WaterToHeat
    filled_s: int
    runs: tuple[tuple[float, float], ...]
    lands_c: float
    lasts_s: int

    @property
    def stretches(self) -> tuple[HeatedStretch, ...]:
        """Its runs on the clock."""
        return tuple(
            HeatedStretch(start=from_utc_s(self.filled_s + round(begin)), end=from_utc_s(self.filled_s + round(end)))
            for begin, end in self.runs
        )

    @property
    def load(self) -> LoadProfile:
        """What the meter sees, in seconds since the filling."""
        edges = np.unique(np.array([0, self.lasts_s, *(edge for run in self.runs for edge in run)], dtype=float))
        begins = np.array([begin for begin, _ in self.runs])
        on = [bool(np.any((begins <= at) & (at < np.array([end for _, end in self.runs])))) for at in edges[:-1]]
        zeros = np.zeros(edges.size - 1)
        return LoadProfile(
            name="strike water",
            edges_s=edges,
            mean_w=np.array(on) * self.water.meter_w + self.water.standby_w,
            heater_w_per_v2=zeros,
            other_w=zeros,
        )
