"""Surface loading of the elements: how hard they heat what touches them."""

from energyplan.advice.power_settings import all_elements_w
from energyplan.day.supply import elements_on
from energyplan.plan.model import Plan

__all__ = ["HIGH_LOADING_W_PER_CM2", "loading_w_per_cm2"]

HIGH_LOADING_W_PER_CM2 = 8.0  # common practice, no source: above it wort scorches sooner
CM2_PER_M2 = 1e4


def loading_w_per_cm2(plan: Plan, cap_w: float) -> tuple[float | None, float | None]:
    """Surface loading of the most loaded element under a cap, while it is on and on the mean [W/cm2].

    None where no element that is on has a surface entered. A modulated vessel pulses: the surface sees the full
    loading while the element is on, unless the pulses are shorter than the few seconds in which it warms.

    Examples
    --------
    >>> from energyplan.plan.file import read_plan
    >>> [round(value, 2) for value in loading_w_per_cm2(read_plan("demo"), 1400.0)]
    [4.29, 2.14]
    """
    on = elements_on(plan.vessel, cap_w)
    known = [
        element.power_w * (plan.voltage_v / element.voltage_v) ** 2 / element.surface_m2 / CM2_PER_M2
        for element in on
        if element.surface_m2 is not None
    ]
    if not known:
        return None, None
    pulses = plan.vessel.control == "modulated"
    duty = min(cap_w / all_elements_w(plan.vessel), 1.0) if pulses else 1.0
    return max(known), max(known) * duty
