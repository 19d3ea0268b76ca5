"""Readings -> bins of a minute or more: small enough for the physics, large enough for quick fits."""

import numpy as np
from numpy.typing import NDArray

from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.load import LoadProfile
from energyplan.base.records import dataclass
from energyplan.learning.logfile import Log

__all__ = ["COARSE_S", "Bins", "binned", "metered_load", "noise_k", "rebinned"]

FloatArray = NDArray[np.float64]

SHORTEST_BIN_S = 60.0
COARSE_S = 90.0  # time between readings from which they count as few
MOST_BINS = 720
LONG_FLAT = 3.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bins:
    """Means over short spans of a log; all of shape (bins,), only spans with readings.

    ``used_j`` is the energy at the meter since the start [J] (None without a meter), ``lid`` the most open state
    of the lid in the bin (-1 where it isn't told).
    """

    times_s: FloatArray
    temperature_c: FloatArray
    readings: FloatArray
    used_j: FloatArray | None
    lid: NDArray[np.int8]

    def part(self, chosen: NDArray[np.intp]) -> "Bins":
        """Some of the bins."""
        used_j = None if self.used_j is None else self.used_j[chosen]
        return Bins(
            times_s=self.times_s[chosen],
            temperature_c=self.temperature_c[chosen],
            readings=self.readings[chosen],
            used_j=used_j,
            lid=self.lid[chosen],
        )

    @property
    def interval_s(self) -> float:
        """Usual time between two bins [s]."""
        return float(np.median(np.diff(self.times_s))) if self.times_s.size > 1 else SHORTEST_BIN_S

    @property
    def is_coarse(self) -> bool:
        """Whether what lasts for minutes may fall between two bins."""
        return self.interval_s > COARSE_S

    def bins_in(self, seconds: float, least: int) -> int:
        """How many bins usually lie in so many seconds, but no fewer than the least."""
        return max(least, round(seconds / max(self.interval_s, SHORTEST_BIN_S)))

    def mean_power_w(self) -> FloatArray:
        """Mean power at the meter between the bins [W], shape (bins - 1,)."""
        if self.used_j is None:
            return np.zeros(max(self.times_s.size - 1, 0))
        return np.asarray(np.diff(self.used_j) / np.diff(self.times_s))


def binned(log: Log) -> Bins:
    """Average a log over minutes, or longer where it is long."""
    width_s = max(SHORTEST_BIN_S, log.duration_s / MOST_BINS)
    return _averaged(log.times_s, log.temperature_c, _used_j(log), log.lid, width_s)


def _averaged(
    times_s: FloatArray,
    temperature_c: FloatArray,
    used_j: FloatArray | None,
    lid: NDArray[np.int8] | None,
    width_s: float,
) -> Bins:
    place = np.floor((times_s - times_s[0]) / width_s + 1e-9).astype(np.int64)
    _, group, count = np.unique(place, return_inverse=True, return_counts=True)

    def mean(values: FloatArray) -> FloatArray:
        return np.asarray(np.bincount(group, weights=values) / count)

    state = np.full(count.size, -1, dtype=np.int8)
    if lid is not None:
        np.maximum.at(state, group, lid)
    return Bins(
        times_s=mean(times_s),
        temperature_c=mean(temperature_c),
        readings=count.astype(float),
        used_j=None if used_j is None else mean(used_j),
        lid=state,
    )


def rebinned(bins: Bins, most: int) -> Bins:
    """Join bins until there are no more than so many; the number of readings goes along as the weight."""
    if bins.times_s.size <= most:
        return bins
    width_s = (bins.times_s[-1] - bins.times_s[0]) / (most - 1)
    place = np.floor((bins.times_s - bins.times_s[0]) / width_s + 1e-9).astype(np.int64)
    _, group = np.unique(place, return_inverse=True)
    readings = np.asarray(np.bincount(group, weights=bins.readings), dtype=np.float64)

    def mean(values: FloatArray) -> FloatArray:
        return np.asarray(np.bincount(group, weights=values * bins.readings) / readings)

    state = np.full(readings.size, -1, dtype=np.int8)
    np.maximum.at(state, group, bins.lid)
    return Bins(
        times_s=mean(bins.times_s),
        temperature_c=mean(bins.temperature_c),
        readings=readings,
        used_j=None if bins.used_j is None else mean(bins.used_j),
        lid=state,
    )


def _used_j(log: Log) -> FloatArray | None:
    """Energy since the start at every reading [J]: from the running total, else from the power."""
    if log.energy_kwh is not None:
        told = np.flatnonzero(~np.isnan(log.energy_kwh))
        return _between_steps(log.times_s, log.times_s[told], JOULES_PER_KWH * log.energy_kwh[told])
    if log.power_w is None:
        return None
    told = np.flatnonzero(~np.isnan(log.power_w))
    if told.size < 2:
        return None
    power_w = np.interp(log.times_s, log.times_s[told], log.power_w[told])
    steps_j = (power_w[1:] + power_w[:-1]) / 2 * np.diff(log.times_s)
    return np.concatenate([[0.0], np.cumsum(steps_j)])


def metered_load(log: Log) -> LoadProfile | None:
    """What the meter of a log counted, from reading to reading, as a load; None without a meter.

    Of a running total each interval has just what it counted there.
    """
    if log.energy_kwh is not None:
        told = np.flatnonzero(~np.isnan(log.energy_kwh))
        edges_s, used_j = log.times_s[told], JOULES_PER_KWH * log.energy_kwh[told]
    elif (steadily_j := _used_j(log)) is not None:
        edges_s, used_j = log.times_s, steadily_j
    else:
        return None
    watts = np.diff(used_j) / np.diff(edges_s)
    none = np.zeros(watts.size)
    return LoadProfile(name="measured", edges_s=edges_s, mean_w=watts, heater_w_per_v2=none, other_w=none)


def _between_steps(times_s: FloatArray, told_s: FloatArray, total_j: FloatArray) -> FloatArray:
    """Straighten the steps of a running total that counts in tenths or hundredths of a kWh.

    Between two increments the energy grew steadily. Where it stood still much longer than usual and then went on
    quickly, nothing ran; where single increments are far apart, something small did (pump, electronics).
    """
    rises = np.flatnonzero(np.diff(total_j) > 0) + 1
    if rises.size == 0:
        return np.zeros_like(times_s)
    gaps_s = np.diff(np.r_[told_s[0], told_s[rises], np.inf])
    usual_s = float(np.median(gaps_s[1:-1])) if rises.size > 1 else 0.0
    long = gaps_s > LONG_FLAT * max(usual_s, 1.0)
    half_j = float(np.min(np.diff(total_j)[rises - 1])) / 2
    # A count is read up to one reading late; by then the true total is on its way to the next count.
    risen_j = total_j[rises] + half_j * np.minimum((told_s[rises] - told_s[rises - 1]) / gaps_s[:-1], 1.0)
    knots_s = [told_s[:1], told_s[rises], told_s[-1:]]
    knots_j = [total_j[:1], risen_j, np.maximum(total_j[-1:], risen_j[-1])]
    for place in np.flatnonzero(long[:-1] & ~long[1:]):
        stood = rises[place] - 1
        if place == 0:
            knots_s.append(told_s[[stood]])
            knots_j.append(total_j[[stood]])
            continue
        # Before it stood still it went on as before for half a count: that is the fair guess of where it stood.
        level_j = max(total_j[stood] + half_j, risen_j[place - 1])
        goes_on = (level_j - risen_j[place - 1]) / (2 * half_j)
        stops_s = min(told_s[rises[place - 1]] + goes_on * gaps_s[place - 1], told_s[stood])
        knots_s.append(np.array([stops_s, told_s[stood]]))
        knots_j.append(np.full(2, level_j))
    order = np.argsort(np.concatenate(knots_s), kind="stable")
    return np.asarray(np.interp(times_s, np.concatenate(knots_s)[order], np.concatenate(knots_j)[order]))


def noise_k(bins: Bins, resolution_k: float) -> float:
    """Scatter of one bin's temperature [K], from how it leaves the line between its neighbours.

    The median keeps jumps out; the floor is what rounding to the thermometer's resolution leaves (a uniform error of
    resolution / sqrt(12)), which averaging doesn't take away: neighbours are rounded alike.
    """
    middle = bins.temperature_c[1:-1]
    bend = middle - (bins.temperature_c[:-2] + bins.temperature_c[2:]) / 2
    scatter = 1.4826 * float(np.median(np.abs(bend))) / np.sqrt(1.5) if bend.size else 0.0
    return float(max(scatter, resolution_k / np.sqrt(12), 1e-3))
