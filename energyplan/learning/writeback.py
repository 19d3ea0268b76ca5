"""Putting measured values into the plan."""

from energyplan.base.errors import LogError
from energyplan.learning.result import Calibration
from energyplan.plan.model import Plan

__all__ = ["measured_plan"]


def measured_plan(plan: Plan, found: Calibration) -> Plan:
    """Give a copy of the plan with the measured heat loss, stored heat and element power.

    Parameters
    ----------
    plan : Plan
        The plan that was calibrated.
    found : Calibration
        What the log told. What it didn't tell stays as it is.

    Notes
    -----
    The nameplates are scaled by one factor and keep their voltage, so that the power still goes with its square.

    Raises
    ------
    LogError
        If the log told nothing that goes into a plan.
    """
    vessel = plan.vessel
    changes: dict[str, object] = {}
    if found.heat_loss_w_per_k.value is not None:
        changes["heat_loss_w_per_k"] = round(found.heat_loss_w_per_k.value, 3)
    if found.vessel_heat_j_per_k.value is not None:
        changes["stored_heat_j_per_k"] = round(found.vessel_heat_j_per_k.value, 0)
    if found.element_frac is not None:
        changes["elements"] = tuple(
            element.model_copy(update={"power_w": round(element.power_w * found.element_frac, 1)})
            for element in vessel.elements
        )
    if not changes:
        raise LogError("the log tells nothing that goes into a plan; see why beside each value")
    return plan.model_copy(update={"vessel": vessel.model_copy(update=changes)})
