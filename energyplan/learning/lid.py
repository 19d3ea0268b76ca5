"""Seeing in a cool-down what became of the lid: opened on the way, or off from the start."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from energyplan.learning.bins import Bins
from energyplan.learning.model import VesselTables
from energyplan.learning.readings import Remark
from energyplan.learning.segmentation import OtherSlope, other_slope

__all__ = ["passed_k", "steady_parts", "straighter"]

FloatArray = NDArray[np.float64]

LID_RATIO = 1.4  # change of slope that a lid makes; the shape of the loss stays below 1.25
FEWEST_BINS = 16
BORDER_BINS = 1
MANY = 50.0  # a ratio of losses beyond which its value says nothing
LEAST_BETTER, LEAST_F = 1.5, 12.0


def steady_parts(
    bins: Bins, vessel: VesselTables, pump_heat_w: float, notes: list[Remark], depth: int = 2
) -> list[Bins]:
    """Parts of a cool-down with the smaller loss, where the loss changes within it: a lid that was moved.

    Parameters
    ----------
    bins : Bins
        The cool-down.
    vessel : VesselTables
        The vessel with the lid as it is taken to be.
    pump_heat_w : float
        Heat from the pump [W].
    notes : list of Remark
        Gets one where a change is found.
    depth : int
        How many changes may be found, one after the other.

    Notes
    -----
    Over the integral of the modelled loss a cool-down is a straight line, so a lid shows as another slope.
    """
    if bins.times_s.size < FEWEST_BINS or depth == 0:
        return [bins]
    found = other_slope(passed_k(bins, vessel, pump_heat_w), bins.temperature_c, bins.readings)
    if found is None or 1 / LID_RATIO < _ratio(found) < LID_RATIO:
        return [bins]
    notes.append(_note(found, bins))
    return [
        part for kept in _kept(found, bins) for part in steady_parts(kept, vessel, pump_heat_w, notes, depth=depth - 1)
    ]


def _ratio(found: OtherSlope) -> float:
    """Loss in the window over that outside of it; slopes are negative where it cools."""
    inside, outside = max(-found.slope_inside, 1e-6), max(-found.slope_outside, 1e-6)
    return inside / outside


def _note(found: OtherSlope, bins: Bins) -> Remark:
    ratio = _ratio(found)
    times = max(ratio, 1 / ratio)
    where = {"from_min": float(bins.times_s[found.first]) / 60, "to_min": float(bins.times_s[found.last - 1]) / 60}
    code = "lid open inside" if ratio > 1 else "lid open outside"
    return Remark(code, **where, factor=times) if times < MANY else Remark(f"{code}, many times", **where)


def _kept(found: OtherSlope, bins: Bins) -> Sequence[Bins]:
    size = bins.times_s.size
    if _ratio(found) < 1:
        inside = np.arange(found.first + BORDER_BINS, found.last - BORDER_BINS)
        return [bins.part(inside)]
    outside = (np.arange(0, found.first - BORDER_BINS), np.arange(found.last + BORDER_BINS, size))
    return [bins.part(part) for part in outside if part.size > 1]


def passed_k(bins: Bins, vessel: VesselTables, pump_heat_w: float) -> FloatArray:
    """How far the model would have cooled by each bin [K], along the measured temperatures."""
    scaled = (bins.times_s - bins.times_s[0]) / max(float(bins.times_s[-1] - bins.times_s[0]), 1.0)
    smooth_c = np.polyval(np.polyfit(scaled, bins.temperature_c, min(3, bins.times_s.size - 1)), scaled)
    rate = (vessel.loss_w(smooth_c) - pump_heat_w) / vessel.capacity_j_per_k(smooth_c)
    return np.concatenate([[0.0], np.cumsum((rate[1:] + rate[:-1]) / 2 * np.diff(bins.times_s))])


def straighter(bins: Bins, closed: VesselTables, opened: VesselTables) -> bool:
    """Whether an open lid explains a cool-down clearly better than a closed one.

    Notes
    -----
    The loss of an open surface doubles every 15 K or so, that of a closed vessel is nearly linear.
    """
    if bins.times_s.size < FEWEST_BINS:
        return False
    closed_left, open_left = (_left_over(bins, vessel) for vessel in (closed, opened))
    gain = (closed_left - open_left) / max(open_left / (bins.times_s.size - 2), 1e-12)
    return closed_left > LEAST_BETTER * open_left and gain > LEAST_F


def _left_over(bins: Bins, vessel: VesselTables) -> float:
    """Sum of squares that a straight line leaves over the modelled cooling."""
    passed, root = passed_k(bins, vessel, 0.0), np.sqrt(bins.readings)
    line = np.polyfit(passed, bins.temperature_c, 1, w=root)
    return float(np.sum((root * (bins.temperature_c - np.polyval(line, passed))) ** 2))
