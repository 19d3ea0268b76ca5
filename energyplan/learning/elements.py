"""The elements' real power from a meter: no thermal assumption, only the highest steady reading."""

from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from energyplan.day.supply import heating
from energyplan.learning.bins import Bins
from energyplan.learning.result import Measured
from energyplan.learning.segmentation import straight_pieces
from energyplan.learning.setting import METER_SD_FRAC, Setting
from energyplan.plan.model import Vessel

__all__ = ["likely_on", "metered_power"]

FloatArray = NDArray[np.float64]

SHORTEST_S = 300.0
ALIKE_FRAC = 0.04  # pieces this close to the highest are all full power; the mains move by as much
FEWEST_BINS = 4


def metered_power(bins: Bins, setting: Setting, count_j: float) -> Measured | None:
    """Power of the elements while they ran steadily at their highest [W]; None if they never did for minutes.

    Parameters
    ----------
    bins : Bins
        A log with a meter.
    setting : Setting
        Plan and place; pump and standby are taken off the reading.
    count_j : float
        Step of the meter's running total [J]; 0 for readings of the power.

    Notes
    -----
    Energy over time is cut where its slope changes; of the pieces of five minutes or more the steepest, and those
    within 4 % of it, are averaged. The interval holds the meter's steps, the scatter between pieces and its own 1 %.
    """
    steady = [] if bins.used_j is None else _steady_pieces(bins.times_s, bins.used_j, setting, count_j)
    if not steady:
        return None
    highest = max(watts for watts, _, _ in steady)
    watts, spans_s, sds = np.array([piece for piece in steady if piece[0] > (1 - ALIKE_FRAC) * highest]).T
    mean = float(np.average(watts, weights=spans_s))
    of_steps = float(np.sqrt(np.sum((sds * spans_s) ** 2)) / spans_s.sum())
    between = float(np.std(watts)) / np.sqrt(max(watts.size - 1, 1))
    half = 1.96 * float(np.hypot.reduce([of_steps / mean, between / mean, METER_SD_FRAC]))
    return Measured(value=mean, low=mean * (1 - half), high=mean * (1 + half))


def _steady_pieces(
    all_s: FloatArray, all_j: FloatArray, setting: Setting, count_j: float
) -> list[tuple[float, float, float]]:
    """Power of the elements [W], length [s] and standard deviation [W] of each steady piece in which they are on."""
    scatter_j = max(count_j / np.sqrt(12), 0.01 * setting.full_w * 60.0)
    found = []
    for first, last in straight_pieces(all_s, all_j, scatter_j):
        # A cut is right to one bin.
        times_s, used_j = all_s[first + 1 : last - 1], all_j[first + 1 : last - 1]
        if times_s.size < FEWEST_BINS or times_s[-1] - times_s[0] < SHORTEST_S:
            continue
        watts = float(np.polyfit(times_s - times_s[0], used_j, 1)[0]) - setting.beside_w
        if watts <= setting.off_w:
            continue
        span_s = float(times_s[-1] - times_s[0])
        counts = max(min(times_s.size, (used_j[-1] - used_j[0]) / max(count_j, 1.0)), 2.0)
        found.append((watts, span_s, count_j / span_s / np.sqrt(counts)))
    return found


def likely_on(found_w: float, setting: Setting) -> tuple[float, ...]:
    """Nameplates of the elements that together would give about this much (within 7 %); empty if none do."""
    plan = setting.plan
    volts, ones = np.array([plan.voltage_v]), np.ones(1)
    for size in range(1, len(plan.vessel.elements)):
        for chosen in combinations(plan.vessel.elements, size):
            vessel = Vessel.model_copy(plan.vessel, update={"elements": chosen})
            some = plan.model_copy(update={"vessel": vessel})
            given_w = float(heating(some, None, voltage_v=volts, element_factor=ones).most_w[0])
            if abs(found_w / given_w - 1) < 0.07:
                return tuple(element.power_w for element in chosen)
    return ()
