"""What the mains deliver: voltage squared, drop in the leads, caps and combinations of elements."""

from itertools import combinations
from types import ModuleType

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from energyplan.day.supply import elements_on, heating, wires_of
from energyplan.plan.model import Circuit, Element, Extension, Plan, Step, Vessel

STEP = Step(name="Heat", target_c=66.0)


def kettle(*powers_w: float, voltage_v: float = 230.0, control: str = "modulated") -> Vessel:
    """A vessel of some elements."""
    elements = tuple(Element(power_w=power_w, voltage_v=voltage_v) for power_w in powers_w)
    return Vessel(diameter_m=0.36, height_m=0.48, elements=elements, control=control)


def power_w(plan: Plan, cap_w: float | None = None, *, voltage_v: float | None = None, factor: float = 1.0) -> float:
    """Mean power into the contents under a cap."""
    board_v = plan.voltage_v if voltage_v is None else voltage_v
    return float(heating(plan, cap_w, voltage_v=np.array([board_v]), element_factor=np.array([factor])).most_w[0])


# Power by voltage, from P = P_n (V/V_n)^2 (physical constants).
@pytest.mark.parametrize(
    ("nameplate_v", "board_v", "share"),
    [(240, 230, 0.918), (230, 240, 1.089), (230, 216, 0.882), (230, 253, 1.210), (240, 208, 0.751), (120, 114, 0.9025),
     (240, 120, 0.25)],
)  # fmt: skip
def test_power_goes_with_the_square_of_the_voltage(
    builders: ModuleType, nameplate_v: float, board_v: float, share: float
) -> None:
    """The trade's table of shares, to its last digit."""
    plan = builders.water_plan(STEP, vessel=kettle(3000.0, voltage_v=nameplate_v))
    assert power_w(plan, voltage_v=board_v) / 3000 == pytest.approx(share, abs=6e-4)


def test_a_240_volt_element_at_230_volts(builders: ModuleType) -> None:
    """3000 W become 2755 W (by hand)."""
    plan = builders.water_plan(STEP, vessel=kettle(3000.0, voltage_v=240.0), circuit=Circuit(voltage_v=230.0))
    assert power_w(plan) == pytest.approx(2755, abs=0.5)


def test_the_weakest_plausible_case(builders: ModuleType) -> None:
    """240 V, 2400 W at 222 V and -10 % (IEC 60335-1, from memory): 1848 W (by hand)."""
    plan = builders.water_plan(STEP, vessel=kettle(2400.0, voltage_v=240.0))
    assert power_w(plan, voltage_v=222.0, factor=0.9) == pytest.approx(1848, abs=0.5)


# 25 m of flexible lead, 3 kW element of 230 V (common practice, computed by hand from the lead's resistance): power of
# the element and loss in the lead.
@pytest.mark.parametrize(("lead_mm2", "element_w", "lost_w"), [(1.5, 2760, 117), (2.5, 2853, 73)])
def test_a_lead_takes_its_share(builders: ModuleType, lead_mm2: float, element_w: float, lost_w: float) -> None:
    """Element within 1.5 %; the loss within 25 % (the table counts colder copper and another class)."""
    circuit = Circuit(voltage_v=230.0, extension=Extension(cable_mm2=lead_mm2, length_m=25.0))
    plan = builders.water_plan(STEP, vessel=kettle(3000.0), circuit=circuit)
    given_heat = heating(plan, None, voltage_v=np.array([230.0]), element_factor=np.array([1.0]))
    assert float(given_heat.most_w[0]) == pytest.approx(element_w, rel=0.015)
    assert float(given_heat.most_w[0]) * (given_heat.board_factor - 1) == pytest.approx(lost_w, rel=0.25)


def supply_resistance_ohm(circuit: Circuit | None) -> float:
    """Return the resistance of cable and lead, there and back."""
    wires = wires_of(circuit)
    return 2 * (wires.cable_ohm + wires.lead_ohm)


def test_resistances_add_up() -> None:
    """20 m of 2.5 mm2 drop 4.68 V at 13 A (BS 7671, 18 mV/A/m, as published): 0.36 ohm; a lead adds its own."""
    cable = Circuit(voltage_v=230.0, cable_mm2=2.5, cable_length_m=20.0)
    assert supply_resistance_ohm(cable) == pytest.approx(4.68 / 13, rel=0.02)
    lead = Extension(cable_mm2=1.5, length_m=10.0)
    both = cable.model_copy(update={"extension": lead})
    alone = Circuit(voltage_v=230.0, extension=lead)
    assert supply_resistance_ohm(both) == pytest.approx(supply_resistance_ohm(cable) + supply_resistance_ohm(alone))
    # IEC 60228 class 5, 13.3 ohm/km at 20 °C (as published), 16 % more at 60 °C, 20 m of conductor.
    assert supply_resistance_ohm(alone) == pytest.approx(13.3e-3 * 20 * 1.157, rel=0.01)


@pytest.mark.parametrize(
    "circuit",
    [
        None,
        Circuit(voltage_v=230.0),
        Circuit(voltage_v=230.0, cable_mm2=2.5),
        Circuit(voltage_v=230.0, cable_length_m=9.0),
    ],
)
def test_what_is_not_entered_has_no_resistance(circuit: Circuit | None) -> None:
    """A cable without a length, or a length without a cable, counts as none."""
    assert supply_resistance_ohm(circuit) == 0.0


def test_twelve_gauge_by_the_american_rule() -> None:
    """12 AWG, 20 A, 100 ft one way drop 7.90 V with K = 12.9 (as published): within 2 %."""
    circuit = Circuit(rules="nec", voltage_v=120.0, cable_mm2=3.309, cable_length_m=30.48)
    assert 20 * supply_resistance_ohm(circuit) == pytest.approx(7.90, rel=0.02)


@given(st.floats(50.0, 5000.0), st.floats(200.0, 260.0))
def test_a_cap_is_met_by_pulsing(cap_w: float, board_v: float) -> None:
    """At the plan's own voltage the mean power is the cap, or all there is; on-time conductance stays whole."""
    plan = Plan(vessel=kettle(2000.0, 1000.0), batch={"water_l": 20.0, "water_temperature_c": 15.0}, steps=(STEP,),
                circuit=Circuit(voltage_v=board_v))  # fmt: skip
    most_w = 3000 * (board_v / 230) ** 2
    assert power_w(plan, cap_w) == pytest.approx(min(cap_w, most_w), rel=1e-9)
    given_heat = heating(plan, cap_w, voltage_v=np.array([board_v]), element_factor=np.array([1.0]))
    assert given_heat.heater_w_per_v2 == pytest.approx(3000 / 230**2)


@given(st.lists(st.floats(200.0, 3000.0), min_size=1, max_size=4), st.floats(0.0, 9000.0))
def test_switched_elements_come_nearest_from_below(powers_w: list[float], cap_w: float) -> None:
    """No combination that fits under the cap is larger than the one that is on."""
    chosen_w = sum(element.power_w for element in elements_on(kettle(*powers_w, control="switched"), cap_w))
    sums = [sum(choice) for size in range(len(powers_w) + 1) for choice in combinations(powers_w, size)]
    assert chosen_w == pytest.approx(max(total for total in sums if total <= cap_w))


def test_switched_elements_draw_only_what_is_on(builders: ModuleType) -> None:
    """2000 and 1500 W under a cap of 1900: the smaller one, steadily."""
    plan = builders.water_plan(STEP, vessel=kettle(2000.0, 1500.0, control="switched"))
    given_heat = heating(plan, 1900.0, voltage_v=np.array([230.0]), element_factor=np.array([1.0]))
    assert given_heat.heater_w_per_v2 == pytest.approx(1500 / 230**2)
    assert float(given_heat.most_w[0]) == pytest.approx(1500.0)


@pytest.mark.parametrize("control", ["modulated", "switched"])
def test_no_cap_and_no_power(control: str) -> None:
    """Without a cap all elements are on; at 0 W none."""
    vessel = kettle(2000.0, 1500.0, control=control)
    assert elements_on(vessel, None) == vessel.elements
    assert elements_on(vessel, 0) == ()


def test_capped_power_sags_with_the_mains(builders: ModuleType) -> None:
    """A duty is fixed: at 10 % less voltage the capped power is 19 % less, as the element's own is."""
    plan = builders.water_plan(STEP, vessel=kettle(3000.0))
    assert power_w(plan, 600.0, voltage_v=207.0) == pytest.approx(600 * 0.81, rel=1e-9)
    assert power_w(plan, None, voltage_v=207.0) == pytest.approx(3000 * 0.81, rel=1e-9)


@given(st.floats(0.0, 60.0), st.floats(0.0, 30.0), st.floats(200.0, 260.0))
def test_one_phase_is_the_closed_form(builders: ModuleType, cable_m: float, lead_m: float, board_v: float) -> None:
    """On one phase the network is one loop: V / (1 + r G) at the element, (1 + r G) of its power at the board."""
    circuit = Circuit(
        voltage_v=230.0, cable_mm2=2.5, cable_length_m=cable_m, extension=Extension(cable_mm2=1.5, length_m=lead_m)
    )
    plan = builders.water_plan(STEP, vessel=kettle(3000.0), circuit=circuit)
    given_heat = heating(plan, None, voltage_v=np.array([board_v]), element_factor=np.array([0.97]))
    siemens = 3000 / 230**2
    loss = 1 + supply_resistance_ohm(circuit) * siemens
    assert float(given_heat.most_w[0]) == pytest.approx(0.97 * siemens * (board_v / loss) ** 2, rel=1e-9)
    assert given_heat.board_factor == pytest.approx(loss, rel=1e-9)
