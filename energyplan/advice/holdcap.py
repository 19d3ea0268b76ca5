"""The lowest cap that keeps a hold's target, or a boil, in many draws of the conditions at once."""

import numpy as np
from numpy.typing import NDArray

from energyplan.advice.holds import hold_legs
from energyplan.advice.power_settings import drawn_w, pump_heat_w
from energyplan.day.course import Course
from energyplan.day.supply import heating
from energyplan.plan.model import Plan, Step

__all__ = ["least_cap_w"]

FloatArray = NDArray[np.float64]


def least_cap_w(
    plan: Plan, course: Course, step: Step, voltage_v: FloatArray, element_factor: FloatArray
) -> FloatArray:
    """Lowest cap that keeps a step's target or boiling point, by draw [W].

    Parameters
    ----------
    plan : Plan
        Vessel and circuit.
    course : Course
        The draws.
    step : Step
        A step that holds or boils.
    voltage_v, element_factor : ndarray, shape (draws,)
        Voltage at the board [V] and real over nameplate power of each draw.

    Notes
    -----
    The loss at the target, less the pump's heat, over what a watt of cap gives: a cap is the mean power at the plan's
    own voltage, met by a fixed duty, so it sags with the mains, and of an element under the base only a part of it
    goes inwards. Above all elements there is no such cap; the number then says what would be needed.
    """
    leg = hold_legs(course, step.name, "boil" if step.boil else "hold")[-1]
    target_c = leg.from_c if step.target_c is None else np.full(voltage_v.shape, step.target_c)
    wanted_w = np.maximum(leg.losses.total_w(target_c) - pump_heat_w(plan, step), 0.0)
    drawn = heating(plan, None, voltage_v=voltage_v, element_factor=element_factor)
    return np.asarray(wanted_w * drawn_w(plan) / drawn.most_w)
