"""Currents of many draws at once, against the circuit check of each."""

from datetime import UTC, datetime

import numpy as np
import pytest

from energyplan.advice.drawcosts import draw_circuit
from energyplan.base.errors import PlanError
from energyplan.circuits.check import check
from energyplan.circuits.wiring import ELEMENT_HIGH
from energyplan.day.brewday import simulate
from energyplan.day.course import Conditions, run
from energyplan.plan.model import Circuit, Extension, OtherLoad, Plan, Step

START = datetime(2026, 12, 5, 9, tzinfo=UTC)

KETTLE = OtherLoad(name="Kettle", power_w=2000.0, from_min=630, to_min=640)
FRIDGE = OtherLoad(name="Fridge", power_w=120.0)
NIGHT = OtherLoad(name="Heater", power_w=500.0, from_min=1380, to_min=600)
LEAD = Extension(cable_mm2=1.5, length_m=20.0)


def circuits() -> list[Circuit]:
    """With and without wires and lead, on one, two and three lines."""
    return [
        Circuit(voltage_v=230.0, breaker_a=16.0, outlet_a=16.0),
        Circuit(voltage_v=236.0, breaker_a=16.0, outlet_a=13.0, cable_mm2=2.5, cable_length_m=25.0, extension=LEAD),
        Circuit(voltage_v=240.0, rules="nec", breaker_a=20.0, cable_mm2=3.31, cable_length_m=15.0),
        Circuit(voltage_v=230.0, breaker_a=10.0, layout="three phase", line="all"),
    ]


@pytest.mark.parametrize("circuit", circuits())
@pytest.mark.parametrize("others", [(), (FRIDGE,), (KETTLE, FRIDGE, NIGHT)])
def test_peaks_agree_with_the_check(demo: Plan, circuit: Circuit, others: tuple[OtherLoad, ...]) -> None:
    """As planned, and at the high end of the supply with strong elements: peak and vessel to 1e-9 A."""
    plan = demo.model_copy(update={"circuit": circuit, "other_loads": others})
    day = simulate(plan)
    checked = check(day.profiles, circuit, others, START, UTC)
    high = next(case for case in checked.voltages if case.name == "high")
    course = run(plan, Conditions(voltage_v=np.full(2, circuit.voltage_v)), extract_kg=day.wort.extract_kg)
    found = draw_circuit(day, START, UTC, longest_s=1e5).currents(
        course, np.array([circuit.voltage_v, high.voltage_v]), np.array([1.0, ELEMENT_HIGH])
    )
    entered = checked.voltages[0]
    assert found.peak_a == pytest.approx([checked.peak_a, high.peak_a], abs=1e-9)
    assert found.vessel_a == pytest.approx([entered.vessel_a, high.vessel_a], abs=1e-9)


def test_each_draw_has_its_own_times(demo: Plan) -> None:
    """Weak elements reach the sparge later and meet the kettle; each draw agrees with a check of its own day."""
    lunch = OtherLoad(name="Kettle", power_w=2000.0, from_min=690, to_min=695)
    plan = demo.model_copy(update={"other_loads": (lunch,)})
    assert plan.circuit is not None
    day = simulate(plan)
    under = Conditions(element_factor=np.array([0.7, 0.8, 0.9, 1.0, 1.05]))
    course = run(plan, under, extract_kg=day.wort.extract_kg)
    found = draw_circuit(day, START, UTC, longest_s=1e5).currents(course, np.full(5, 230.0), np.ones(5))
    peaks_a = []
    for factor in (0.7, 0.8, 0.9, 1.0, 1.05):
        own = simulate(plan, Conditions(element_factor=factor), extract=day.wort.extract_kg)
        peaks_a.append(check(own.profiles, plan.circuit, (lunch,), START, UTC).peak_a)
    assert found.peak_a == pytest.approx(peaks_a, abs=1e-9)
    assert max(peaks_a) > min(peaks_a) + 1


def test_over_is_beyond_the_slack_of_nameplates(builders) -> None:
    """13.04 A on a 13 A plug fuse is inside the 2 %; at 243.8 V it is not."""
    circuit = Circuit(voltage_v=230.0, plug_fuse_a=13.0)
    kettle = builders.vessel(3000.0, pump_w=0.0, standby_w=0.0)
    plan = builders.water_plan(Step(name="Warm", target_c=60.0), vessel=kettle, circuit=circuit)
    day = simulate(plan)
    ready = draw_circuit(day, START, UTC, longest_s=1e5)
    course = run(plan, Conditions(voltage_v=np.array([230.0, 243.8])))
    found = ready.currents(course, np.array([230.0, 243.8]), np.ones(2))
    assert ready.over(found)["fuse in the plug"].tolist() == [False, True]


def test_no_circuit_is_refused(builders) -> None:
    """Nothing to check."""
    with pytest.raises(PlanError, match=r"no \[circuit\]"):
        draw_circuit(simulate(builders.water_plan(Step(name="Warm", target_c=60.0))), START, UTC, longest_s=1.0)
