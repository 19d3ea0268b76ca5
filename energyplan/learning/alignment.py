"""Where the phases of a plan lie in a log of few readings: the whole day laid over the plan at once.

A log read every few minutes misses a strike's peak or a short rest altogether, so following it from one border to the
next loses its way. Laying all borders at once doesn't: what lies between two readings is bounded by what lies around.
"""

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from energyplan.base.records import dataclass
from energyplan.day.brewday import BrewDay, Phase
from energyplan.learning.bins import COARSE_S, Bins, rebinned

__all__ = ["Seen", "aligned_phases"]

FloatArray = NDArray[np.float64]
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
    long = lasts_s >= min(bins.interval_s, COARSE_S)
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
            from_c=float(shown_c[0] if phase.phase == "ramp" else np.median(shown_c[:ENDS])),
            to_c=_ramped_c(phase, end_s, bins) if phase.phase == "ramp" else float(np.median(shown_c[-ENDS:])),
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
