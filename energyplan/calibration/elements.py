"""The elements' real power from a meter: no thermal assumption, only the highest steady reading."""

from itertools import combinations

import numpy as np

from energyplan.calibration.bins import Bins
from energyplan.calibration.result import Measured
from energyplan.calibration.setting import METER_SD_FRAC, Setting
from energyplan.plan import Vessel
from energyplan.supply import heating

__all__ = ["likely_on", "metered_power"]

CHUNK_S = 240.0  # long enough for a meter that counts in hundredths of a kWh
STEADY_FRAC = 0.9  # of the highest: what is above counts as full power
FEWEST_STEADY = 2


def metered_power(bins: Bins, setting: Setting) -> Measured | None:
    """Power of the elements while they ran steadily at their highest [W]; None if they never did for minutes.

    Parameters
    ----------
    bins : Bins
        A log with a meter.
    setting : Setting
        Plan and place; pump and standby are taken off the reading.

    Notes
    -----
    The mean over the steady spans of 4 minutes. Its interval holds their scatter and the meter's own 1 %.
    """
    if bins.used_j is None:
        return None
    edges_s = np.arange(bins.times_s[0], bins.times_s[-1] + 1.0, CHUNK_S)
    watts = np.diff(np.interp(edges_s, bins.times_s, bins.used_j)) / CHUNK_S - setting.beside_w
    on = watts > setting.off_w
    if int(on.sum()) < FEWEST_STEADY:
        return None
    steady = on & (watts > STEADY_FRAC * watts.max())
    # Spans next to a switch hold only a share of the power.
    inner = steady & np.r_[True, on[:-1]] & np.r_[on[1:], True]
    if int(inner.sum()) < FEWEST_STEADY:
        return None
    mean = float(watts[inner].mean())
    scatter = float(np.std(watts[inner], ddof=1)) / mean / np.sqrt(int(inner.sum()))
    half = 1.96 * float(np.hypot(scatter, METER_SD_FRAC))
    return Measured(value=mean, low=mean * (1 - half), high=mean * (1 + half))


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
