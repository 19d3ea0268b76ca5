"""The powers that can be set on a vessel, what each gives, and a plan with other caps."""

import math
from collections.abc import Mapping
from itertools import combinations

from energyplan.day.legs import AS_PLANNED, Conditions
from energyplan.day.supply import heating
from energyplan.plan.model import Plan, Step, Vessel

__all__ = [
    "MARGIN",
    "all_elements_w",
    "cap_of_heat_w",
    "capped_w",
    "drawn_w",
    "given_w",
    "least_setting_w",
    "lower_setting_w",
    "pump_heat_w",
    "settings_w",
    "step_named",
    "with_hold_caps",
    "with_ramp_caps",
]

MARGIN = 1.1  # advised over needed [assumption]
MOST_SETTINGS = 2000
SLACK = 1e-9  # of a step: what rounding may add


def all_elements_w(vessel: Vessel) -> float:
    """Nameplate power of all elements [W]."""
    return sum(element.power_w for element in vessel.elements)


def capped_w(vessel: Vessel, cap_w: float | None) -> float:
    """A cap as a number: without one, all elements [W]."""
    return all_elements_w(vessel) if cap_w is None else cap_w


def settings_w(vessel: Vessel) -> tuple[float, ...]:
    """Every power that can be set [W], rising; at most 2000 of them, then thinned evenly.

    Examples
    --------
    >>> from energyplan.plan.model import Element
    >>> pair = (Element(power_w=2000, voltage_v=230), Element(power_w=1500, voltage_v=230))
    >>> settings_w(Vessel(diameter_m=0.36, height_m=0.48, control="switched", elements=pair))
    (1500.0, 2000.0, 3500.0)
    """
    if vessel.control == "switched":
        elements = vessel.elements
        sizes = range(1, len(elements) + 1)
        return tuple(sorted({sum(e.power_w for e in some) for size in sizes for some in combinations(elements, size)}))
    most_w, step_w = all_elements_w(vessel), vessel.power_step_w
    count = math.ceil(most_w / step_w - SLACK)
    every = math.ceil(count / MOST_SETTINGS)
    return (*(step_w * k for k in range(every, count, every)), most_w)


def given_w(plan: Plan, cap_w: float | None, conditions: Conditions = AS_PLANNED) -> float:
    """Most heat that the elements give under a cap, under one set of conditions [W]."""
    voltage_v = plan.voltage_v if conditions.voltage_v is None else conditions.voltage_v
    heat = heating(plan, cap_w, voltage_v=voltage_v, element_factor=conditions.element_factor)
    return float(heat.most_w)


def drawn_w(plan: Plan, cap_w: float | None = None) -> float:
    """Most mean power that the elements take under a cap, as planned [W]; of it `given_w` goes into the contents."""
    heat = heating(plan, cap_w, voltage_v=plan.voltage_v, element_factor=1.0)
    return float(heat.most_w) / heat.inward_frac


def cap_of_heat_w(plan: Plan, heat_w: float, conditions: Conditions = AS_PLANNED) -> float:
    """The cap under which the elements give a heat, under one set of conditions [W]; also more than they can give."""
    return heat_w * drawn_w(plan) / given_w(plan, None, conditions)


def least_setting_w(plan: Plan, wanted_w: float, conditions: Conditions = AS_PLANNED) -> float:
    """The smallest power that can be set and gives the wanted heat, under one set of conditions [W].

    All elements when no setting gives as much; compare with `given_w` to tell.
    """
    vessel = plan.vessel
    if vessel.control == "switched":
        enough = (w for w in settings_w(vessel) if given_w(plan, w, conditions) >= wanted_w * (1 - SLACK))
        return next(enough, all_elements_w(vessel))
    steps = max(math.ceil(cap_of_heat_w(plan, wanted_w, conditions) / vessel.power_step_w - SLACK), 1)
    return min(steps * vessel.power_step_w, all_elements_w(vessel))


def lower_setting_w(vessel: Vessel, set_w: float) -> float:
    """The next lower power that can be set [W]; 0, elements off, below the lowest."""
    if vessel.control == "switched":
        return max((w for w in settings_w(vessel) if w < set_w - SLACK), default=0.0)
    return max((math.ceil(set_w / vessel.power_step_w - SLACK) - 1) * vessel.power_step_w, 0.0)


def pump_heat_w(plan: Plan, step: Step) -> float:
    """Heat of the pump in a step [W]."""
    return plan.vessel.pump_heat * plan.vessel.pump_w if step.pump_runs else 0.0


def step_named(plan: Plan, name: str) -> Step:
    """The step of a name."""
    return next(step for step in plan.steps if step.name == name)


def with_hold_caps(plan: Plan, caps_w: Mapping[str, float | None]) -> Plan:
    """The plan with other caps on the holds of some steps [W] (None: all elements)."""
    return _with_caps(plan, "hold_power_w", caps_w)


def with_ramp_caps(plan: Plan, caps_w: Mapping[str, float | None]) -> Plan:
    """The plan with other caps on the ramps of some steps [W] (None: all elements)."""
    return _with_caps(plan, "ramp_power_w", caps_w)


def _with_caps(plan: Plan, field: str, caps_w: Mapping[str, float | None]) -> Plan:
    steps = tuple(
        step.model_copy(update={field: caps_w[step.name]}) if step.name in caps_w else step for step in plan.steps
    )
    return plan.model_copy(update={"steps": steps})
