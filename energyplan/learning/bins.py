"""Readings in bins of a minute or more; and where the phases of a plan lie in few of them."""

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.load import LoadProfile
from energyplan.base.records import dataclass
from energyplan.day.brewday import BrewDay, Phase
from energyplan.learning.logfile import Log

__all__ = ["COARSE_S", "Bins", "Seen", "aligned_phases", "binned", "metered_load", "noise_k", "rebinned"]

FloatArray = NDArray[np.float64]


SHORTEST_BIN_S, COARSE_S = 60.0, 90.0  # the second: time between readings from which they count as few
MOST_BINS = 720
LONG_FLAT = 3.0
BY_HAND_K = 0.25  # scatter of a reading that nothing tells more of [assumption]


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
        times_s, means_c, readings = self.times_s[chosen], self.temperature_c[chosen], self.readings[chosen]
        return Bins(times_s=times_s, temperature_c=means_c, readings=readings, used_j=used_j, lid=self.lid[chosen])

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

    The median keeps jumps out. Floors are what rounding to the thermometer's resolution leaves (a uniform error of
    resolution / sqrt(12)), which averaging doesn't take away, since neighbours are rounded alike; and, over one more
    than the bins that have two neighbours, what a reading by hand scatters: few lie near a line by chance.
    """
    at_s, shown_c = bins.times_s, bins.temperature_c
    later = (at_s[1:-1] - at_s[:-2]) / (at_s[2:] - at_s[:-2])  # how much of the line is its later neighbour's
    bend = shown_c[1:-1] - (1 - later) * shown_c[:-2] - later * shown_c[2:]
    bend /= np.sqrt(1 + (1 - later) ** 2 + later**2)
    scatter = 1.4826 * float(np.median(np.abs(bend))) if bend.size else 0.0
    return float(max(scatter, resolution_k / np.sqrt(12), BY_HAND_K / (1 + bend.size), 1e-3))


Places = tuple[FloatArray, FloatArray]  # where a phase may begin, and where it may end [s]


MOST_READINGS, MOST_PLACES = 120, 170  # in the first of two rounds: roughly, then near what was found


NEAR_PLACES, FINEST_S = 12, 30.0


COURSE = 21  # points of a phase's planned course


SCATTER_K, WORST = 1.0, 9.0  # of a reading beside the plan's course; beyond three of them it counts no more


RESTS_LOSE, RAMPS_RISE = (0.5, 1.0, 1.5, 2.0), (0.94, 1.0, 1.06)  # times what is planned


POWER_FRAC = 0.25  # scatter of the mean power between readings, of the largest planned
LENGTH = 0.5  # scatter of the logarithm of a length beside the planned one [assumption]
SHORTEST_S = 30.0
LEFT_OVER = 4.0  # what a reading behind the last phase counts


SEEN_K, SEEN_FRAC = 1.0, 0.5  # a change that marks a border: of the course within some minutes, of the power


BEND_S = 600.0
ENDS = 3  # readings at either end of a phase whose median counts


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """A phase as it was measured: from, to [s], temperatures at its ends and lowest on the way [°C].

    ``energy_j`` is what the meter counted (None without one). ``guessed`` says that the readings do not tell where it
    begins and ends: nothing marks it, or it is shorter than the time between them.
    """

    phase: Phase
    start_s: float
    end_s: float
    from_c: float
    to_c: float
    lowest_c: float
    energy_j: float | None
    guessed: bool

    @property
    def duration_s(self) -> float:
        """How long it took [s]."""
        return self.end_s - self.start_s


def aligned_phases(day: BrewDay, bins: Bins) -> tuple[Seen, ...]:
    """Lay the planned phases over a log.

    Parameters
    ----------
    day : BrewDay
        The plan, simulated.
    bins : Bins
        The log, which begins when the vessel is switched on.

    Returns
    -------
    tuple of Seen
        As far as the log goes, each border to one interval between readings. Those of a phase shorter than that, or
        that nothing marks, are guesses.

    Notes
    -----
    All borders at once, by dynamic programming: the least sum of squares of readings beside the planned course
    (stretched between the borders), of the mean power between them beside the planned one, and of lengths beside the
    planned ones. First over the whole log, then near what was found.
    """
    few = rebinned(bins, MOST_READINGS)
    whole_s = np.linspace(0.0, float(bins.times_s[-1]), MOST_PLACES)
    edges_s = _laid(day, [np.zeros(1), *(whole_s for _ in day.phases)], few)
    step_s = max(whole_s[1], FINEST_S)
    reach_s = np.linspace(-1.5 * step_s, 1.5 * step_s, 2 * NEAR_PLACES + 1)
    near = [np.unique(np.clip(edge + reach_s, 0.0, bins.times_s[-1])) for edge in edges_s[1:]]
    return tuple(_seen(day, _laid(day, [np.zeros(1), *near], bins), bins))


def _laid(day: BrewDay, places_s: list[FloatArray], bins: Bins) -> FloatArray:
    """The best borders [s] out of the places that each may have; fewer than there are phases if the log ends."""
    costs, came_from = [np.zeros(1)], []
    largest_w = max(_watts(one) for one in day.phases)
    for phase, from_s, to_s in zip(day.phases, places_s, places_s[1:], strict=False):
        total = costs[-1][:, None] + _phase_costs(phase, _course(day, phase), (from_s, to_s), bins)
        total += _power_costs(_watts(phase), largest_w, (from_s, to_s), bins)
        came_from.append(np.argmin(total, axis=0))
        costs.append(np.min(total, axis=0))
    last, place = _end(costs, places_s, bins)
    edges_s = [places_s[last][place]]
    for count in range(last, 0, -1):
        place = int(came_from[count - 1][place])
        edges_s.append(places_s[count - 1][place])
    return np.array(edges_s[::-1])


def _course(day: BrewDay, phase: Phase) -> FloatArray:
    """Planned temperatures over a phase, evenly spaced [°C]."""
    at_s = np.linspace(phase.start_s, phase.end_s, COURSE)
    course_c = np.interp(at_s, day.trajectory.times_s, day.trajectory.temperatures_c)
    course_c[0], course_c[-1] = phase.from_c, phase.to_c
    return course_c


def _watts(phase: Phase) -> float:
    return phase.energy_j / max(phase.duration_s, 1.0)


def _phase_costs(phase: Phase, course_c: FloatArray, places_s: Places, bins: Bins) -> FloatArray:
    """What it counts that a phase lasts from one place (rows) to another (columns); infinite backwards."""
    from_s, to_s = places_s
    lasts_s = to_s[None, :] - from_s[:, None]
    length = (np.log(np.maximum(lasts_s, SHORTEST_S) / max(phase.duration_s, SHORTEST_S)) / LENGTH) ** 2
    # A rest may cool more or less than planned, a ramp begin warmer or colder.
    fixed_c = phase.to_c if phase.phase == "ramp" else phase.from_c
    bends = RESTS_LOSE if phase.phase in ("pause", "chill") else RAMPS_RISE if phase.phase == "ramp" else (1.0,)
    fits = np.zeros((len(bends), *lasts_s.shape))
    along = np.linspace(0.0, 1.0, COURSE)
    for at_s, shown_c in zip(bins.times_s, bins.temperature_c, strict=True):
        # Only phases that begin before a reading and end after it hold it.
        rows, columns = (int(np.searchsorted(places, at_s, "right")) for places in places_s)
        lasts = lasts_s[:rows, columns:]
        if not lasts.size:
            continue
        planned_c = np.interp((at_s - from_s[:rows, None]) / lasts, along, course_c)
        for bend, fit in zip(bends, fits, strict=True):
            off = (shown_c - fixed_c - bend * (planned_c - fixed_c)) / SCATTER_K
            fit[:rows, columns:] += np.minimum(off**2, WORST)
    return np.asarray(np.where(lasts_s >= 0, length + fits.min(axis=0), np.inf))


def _power_costs(planned_w: float, largest_w: float, places_s: Places, bins: Bins) -> FloatArray:
    """What the mean power between readings counts, by where a phase begins (rows) and ends (columns)."""
    from_s, to_s = places_s
    if bins.used_j is None:
        return np.zeros((from_s.size, to_s.size))
    middles_s = (bins.times_s[1:] + bins.times_s[:-1]) / 2
    off = np.minimum(((bins.mean_power_w() - planned_w) / (POWER_FRAC * largest_w)) ** 2, WORST / 2)
    upto = np.concatenate([[0.0], np.cumsum(off)])
    before, after = (upto[np.searchsorted(middles_s, places)] for places in places_s)
    return np.asarray(np.maximum(after[None, :] - before[:, None], 0.0))


def _end(costs: list[FloatArray], places_s: list[FloatArray], bins: Bins) -> tuple[int, int]:
    """How many phases the log holds, and the place where the last of them ends."""
    found = []
    for count in range(1, len(costs)):
        ends_s, whole = places_s[count], count == len(places_s) - 1
        behind = bins.times_s.size - np.searchsorted(bins.times_s, ends_s)
        # Unless it is the plan's last one, a phase goes on to the end of the log.
        left = LEFT_OVER * behind if whole else np.where(ends_s >= bins.times_s[-1], 0.0, np.inf)
        place = int(np.argmin(costs[count] + left))
        found.append((float(costs[count][place] + left[place]), count, place))
    _, last, place = min(found)
    return last, place


def _seen(day: BrewDay, edges_s: FloatArray, bins: Bins) -> Iterator[Seen]:
    phases, lasts_s = day.phases[: edges_s.size - 1], np.diff(edges_s)
    marked = [True, *(_is_marked(before, after, bins) for before, after in pairwise(phases)), False]
    long, ends = lasts_s >= min(bins.interval_s, COARSE_S), 1 if bins.is_coarse else ENDS
    for place, phase in enumerate(phases):
        if lasts_s[place] <= 0 and phase.duration_s < COARSE_S:
            continue
        start_s, end_s = float(edges_s[place]), float(edges_s[place + 1])
        inside_c = bins.temperature_c[(bins.times_s >= start_s) & (bins.times_s < end_s)]
        told = inside_c.size and marked[place] and marked[place + 1] and long[max(place - 1, 0) : place + 2].all()
        shown_c = inside_c if inside_c.size else np.array([phase.from_c, phase.to_c])
        used_j = None if bins.used_j is None else np.interp([start_s, end_s], bins.times_s, bins.used_j)
        yield Seen(
            phase=phase,
            start_s=start_s,
            end_s=end_s,
            from_c=float(shown_c[0] if phase.phase == "ramp" else np.median(shown_c[:ends])),
            to_c=_ramped_c(phase, end_s, bins) if phase.phase == "ramp" else float(np.median(shown_c[-ends:])),
            lowest_c=float(shown_c.min()),
            energy_j=None if used_j is None else float(used_j[1] - used_j[0]),
            guessed=not told,
        )


def _ramped_c(phase: Phase, end_s: float, bins: Bins) -> float:
    """Where a ramp got to [°C]; of few readings none may lie near its end, which is where its target was reached."""
    return phase.to_c if bins.is_coarse else float(np.interp(end_s, bins.times_s, bins.temperature_c))


def _is_marked(before: Phase, after: Phase, bins: Bins) -> bool:
    """Whether temperature or power change at a border by what readings can tell."""
    slopes = [(one.to_c - one.from_c) / max(one.duration_s, 1.0) for one in (before, after)]
    bends_k = abs(slopes[1] - slopes[0]) * max(1.5 * bins.interval_s, BEND_S)
    watts = _watts(before), _watts(after)
    by_power = bins.used_j is not None and abs(watts[1] - watts[0]) > SEEN_FRAC * max(*watts, 1000.0)
    return max(bends_k, abs(after.from_c - before.to_c)) >= SEEN_K or by_power
