"""What the day's own appliances, vessel and second heater, draw over time."""

import numpy as np
from numpy.typing import NDArray

from energyplan.base.load import LoadProfile
from energyplan.day.legs import Course, Leg
from energyplan.physics.network import board_frac
from energyplan.physics.water import density_kg_per_m3, enthalpy_j_per_kg
from energyplan.plan.lines import connection_of, layout_of, pump_hangs
from energyplan.plan.model import Plan

__all__ = [
    "SECOND_HEATER",
    "VESSEL",
    "load_profiles",
    "on_the_circuit",
    "second_heater_hangs",
    "second_heater_s",
]

FloatArray = NDArray[np.float64]

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
        line=pump_hangs(plan.vessel, plan.circuit),
        by_line=_by_line(plan, legs),
    )
    second = _second_heater(plan, course)
    return (vessel, second) if second else (vessel,)


def _by_line(plan: Plan, legs: list[Leg]) -> tuple[tuple[str, FloatArray], ...]:
    """Conductance by the place where it hangs, where that is not the pump's alone."""
    on = [dict(leg.by_line) if leg.element_w[0] > 0 else {} for leg in legs]
    places = dict.fromkeys(place for parts in on for place in parts)
    if set(places) <= {pump_hangs(plan.vessel, plan.circuit)}:
        return ()
    return tuple((place, np.array([parts.get(place, 0.0) for parts in on])) for place in places)


def _second_heater(plan: Plan, course: Course) -> LoadProfile | None:
    """The sparge water's heater: full power, ready just when the named step begins."""
    heater = plan.second_heater
    if heater is None:
        return None
    from_s, until_s = second_heater_s(plan, course)
    ready_s, duration_s = float(until_s[0]), float(until_s[0] - from_s[0])
    if duration_s <= 0:
        return None
    hangs, siemens = second_heater_hangs(plan)
    return LoadProfile(
        name=SECOND_HEATER,
        edges_s=np.array([ready_s - duration_s, ready_s]),
        mean_w=np.array([heater.power_w]),
        heater_w_per_v2=np.array([siemens]),
        other_w=np.zeros(1),
        line=hangs,
    )


def second_heater_hangs(plan: Plan) -> tuple[str, float]:
    """Where the sparge water's heater hangs ("" where nobody said it), and its conductance there [S].

    Notes
    -----
    Its power is that at the circuit's voltage between the conductors of that place; where nobody said it, at that
    from a line to neutral.
    """
    heater, circuit = plan.second_heater, plan.circuit
    power_w = heater.power_w if heater else 0.0
    if circuit is None:
        return "L1", power_w / plan.voltage_v**2
    hangs = connection_of(circuit, heater.line if heater else None)
    return hangs or "", power_w / (circuit.voltage_v * board_frac(layout_of(circuit), hangs or "L1")) ** 2


def second_heater_s(plan: Plan, course: Course) -> tuple[FloatArray, FloatArray]:
    """From when to when the sparge water is heated, from the start of the day [s], shape (draws,).

    Its water is that of the vessel: as warm as the vessel's is at the start. Both ends are 0 without such a heater.
    """
    heater, batch = plan.second_heater, plan.batch
    if heater is None:
        return np.zeros_like(course.start_c), np.zeros_like(course.start_c)
    ready_s = course.step_starts_s[heater.ready_at_step]
    mass_kg = batch.sparge_water_l / 1000 * float(density_kg_per_m3(batch.water_temperature_c))
    rise = enthalpy_j_per_kg(batch.sparge_temperature_c) - enthalpy_j_per_kg(course.start_c)
    duration_s = mass_kg * np.maximum(rise, 0.0) / heater.share_into_water / heater.power_w
    return np.asarray(ready_s - duration_s), np.asarray(ready_s + np.zeros_like(duration_s))


def on_the_circuit(plan: Plan, profiles: tuple[LoadProfile, ...]) -> tuple[LoadProfile, ...]:
    """The loads that hang on the plan's circuit: without a second heater that has one of its own."""
    if plan.second_heater is None or not plan.second_heater.own_circuit:
        return profiles
    return tuple(profile for profile in profiles if profile.name != SECOND_HEATER)
