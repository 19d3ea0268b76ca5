"""What the day's own appliances, vessel and second heater, draw over time."""

import numpy as np

from energyplan.course import Course
from energyplan.load import LoadProfile
from energyplan.physics.water import density_kg_per_m3, enthalpy_j_per_kg
from energyplan.plan import Plan

__all__ = ["SECOND_HEATER", "VESSEL", "load_profiles"]

VESSEL = "Vessel"
SECOND_HEATER = "Second heater"


def load_profiles(plan: Plan, course: Course) -> tuple[LoadProfile, ...]:
    """The load of the vessel and, if there is one, of the second heater (one draw)."""
    legs = [leg for leg in course.legs if leg.outcome.duration_s[0] > 0]
    vessel = LoadProfile(
        name=VESSEL,
        edges_s=np.array([float(legs[0].start_s[0]), *(float(leg.end_s[0]) for leg in legs)]),
        mean_w=np.array([float(leg.board_w[0]) for leg in legs]),
        heater_w_per_v2=np.array([leg.heater_w_per_v2 if leg.element_w[0] > 0 else 0.0 for leg in legs]),
        other_w=np.array([leg.other_w for leg in legs]),
    )
    second = _second_heater(plan, course)
    return (vessel, second) if second else (vessel,)


def _second_heater(plan: Plan, course: Course) -> LoadProfile | None:
    """The sparge water's heater: full power, ready just when the named step begins."""
    heater, batch = plan.second_heater, plan.batch
    if heater is None:
        return None
    ready_s = next(float(leg.start_s[0]) for leg in course.legs if leg.step.name == heater.ready_at_step)
    mass_kg = batch.sparge_water_l / 1000 * float(density_kg_per_m3(batch.water_temperature_c))
    rise = enthalpy_j_per_kg(batch.sparge_temperature_c) - enthalpy_j_per_kg(batch.water_temperature_c)
    duration_s = mass_kg * float(rise) / heater.share_into_water / heater.power_w
    if duration_s <= 0:
        return None
    return LoadProfile(
        name=SECOND_HEATER,
        edges_s=np.array([ready_s - duration_s, ready_s]),
        mean_w=np.array([heater.power_w]),
        heater_w_per_v2=np.array([heater.power_w / plan.voltage_v**2]),
        other_w=np.zeros(1),
    )
