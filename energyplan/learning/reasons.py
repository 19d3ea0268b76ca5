"""Why a log told nothing, and what its heat-ups say of the elements."""

from collections.abc import Collection
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from energyplan.day.supply import heating
from energyplan.learning.bins import Bins
from energyplan.learning.logfile import Log
from energyplan.learning.model import METER_SD_FRAC, Setting
from energyplan.learning.readings import Remark
from energyplan.learning.result import Measured, Test
from energyplan.learning.segmentation import straight_pieces
from energyplan.plan.model import Vessel

__all__ = [
    "ODD",
    "compared_loss",
    "interval_noted",
    "likely_on",
    "loss_unclear",
    "metered_power",
    "next_tests",
    "nothing_found",
    "weak_power",
]

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


ENOUGH_FRAC = 0.1  # half width of a loss that is good enough to plan with


ODD = (0.5, 2.0)  # times the estimate: beyond, something else than the vessel was measured [assumption]


def compared_loss(factor: float, loss: Measured, reference_c: float, setting: Setting) -> Remark:
    """How a loss compares with the one so far: one verdict, and the question that an odd one raises."""
    code = "loss rough" if loss.half_width_frac > ENOUGH_FRAC else "loss enough"
    if not ODD[0] <= factor <= ODD[1]:
        code = "loss odd, high" if factor > 1 else "loss odd, low"
    against = "estimated" if setting.plan.vessel.heat_loss_w_per_k is None else "measured"
    return Remark(code, reference_c=reference_c, factor=factor, against=against)


def interval_noted(bins: Bins) -> tuple[Remark, ...]:
    """How seldom a log was read, if it was."""
    return (Remark("read every", interval_min=bins.interval_s / 60),) if bins.is_coarse else ()


def loss_unclear(kinds: Collection[str], half_frac: float) -> Remark:
    """Why the heat loss can't be told from stretches of these kinds."""
    if "cooling" in kinds:
        return Remark("loss scatters", half_frac=half_frac)
    return Remark("loss beside stored heat" if "metered" in kinds else "loss beside power", half_frac=half_frac)


def weak_power(found_w: float, setting: Setting) -> Remark:
    """Why a power is none of all elements: it is too little, and what would give it."""
    alone_w = likely_on(found_w, setting)
    if alone_w:
        return Remark("weak power, some alone", found_w=found_w, planned_w=setting.full_w, alone_w=alone_w)
    return Remark("weak power", found_w=found_w, planned_w=setting.full_w)


def next_tests(loss: Measured, stored: Measured, power: Measured) -> tuple[Test, ...]:
    """Tests that would tell what is still open."""
    tests: list[Test] = []
    if not loss.known or loss.half_width_frac > ENOUGH_FRAC:
        tests.append("cool-down")
    if not stored.known:
        tests.append("heat-up")
    elif not power.known:
        tests.append("plain heat-up")
    return tuple(tests)


def nothing_found(log: Log) -> Remark:
    """No stretch of a log tells anything: over which temperatures and minutes."""
    low_c, high_c = float(log.temperature_c.min()), float(log.temperature_c.max())
    return Remark("nothing found", low_c=low_c, high_c=high_c, lasted_min=log.duration_s / 60)
