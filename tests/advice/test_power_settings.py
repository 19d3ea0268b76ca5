"""The powers that can be set."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from energyplan.advice.variants import (
    all_elements_w,
    given_w,
    least_setting_w,
    lower_setting_w,
    settings_w,
    with_hold_caps,
    with_ramp_caps,
)
from energyplan.day.course import Conditions
from energyplan.day.supply import elements_a
from energyplan.plan.model import Circuit, Plan, Step

LOW = Conditions(voltage_v=216.2, element_factor=0.9)


def planned(builders, control: str = "modulated", **tables) -> Plan:  # type: ignore[no-untyped-def]
    """A vessel of 2000 W and 1000 W."""
    steps = (Step(name="Strike", target_c=60.0, hold_s=600.0),)
    return builders.water_plan(*steps, vessel=builders.vessel(2000.0, 1000.0, control=control), **tables)


def test_settings_of_a_modulated_vessel_are_its_steps(builders) -> None:
    """Every 100 W up to all elements."""
    assert settings_w(planned(builders).vessel) == tuple(100.0 * k for k in range(1, 31))


def test_a_power_step_that_does_not_divide_the_elements_ends_with_all(builders) -> None:
    """3000 W in steps of 700 W: the last step is all elements."""
    vessel = planned(builders).vessel.model_copy(update={"power_step_w": 700.0})
    assert settings_w(vessel) == (700.0, 1400.0, 2100.0, 2800.0, 3000.0)


def test_a_tiny_power_step_is_thinned(builders) -> None:
    """A step of a milliwatt doesn't make three million settings."""
    vessel = planned(builders).vessel.model_copy(update={"power_step_w": 0.001})
    found = settings_w(vessel)
    assert len(found) <= 2001
    assert found[-1] == 3000.0


@pytest.mark.parametrize(("power_w", "count", "first"), [(2000.0, 2000, 1.0), (2001.0, 1001, 2.0), (5000.0, 1667, 3.0)])
def test_of_more_than_two_thousand_settings_every_second_or_third_is_tried(builders, power_w, count, first) -> None:
    """In steps of a watt; the last is all elements."""
    found = settings_w(builders.vessel(power_w, power_step_w=1.0))
    assert (len(found), found[0], found[-1]) == (count, first, power_w)


def test_settings_of_a_switched_vessel_are_its_combinations(builders) -> None:
    """Two elements make three powers."""
    assert settings_w(planned(builders, "switched").vessel) == (1000.0, 2000.0, 3000.0)


@pytest.mark.parametrize("control", ["modulated", "switched"])
@given(wanted_w=st.floats(1.0, 2200.0))
def test_least_setting_is_the_least_that_gives_enough(builders, control: str, wanted_w: float) -> None:
    """It gives what is wanted in bad conditions; the next lower one does not."""
    plan = planned(builders, control)
    set_w = least_setting_w(plan, wanted_w, LOW)
    assert given_w(plan, set_w, LOW) >= wanted_w * (1 - 1e-9)
    lower_w = lower_setting_w(plan.vessel, set_w)
    assert lower_w < set_w
    assert given_w(plan, lower_w, LOW) < wanted_w


def test_power_of_a_cap_sags_with_the_square_of_the_voltage(builders) -> None:
    """P = V2/R (Joule): a cap of 1000 W at 216.2 of 230 V and 0.9 of the plate gives 0.9 x 0.94^2 of itself."""
    assert given_w(planned(builders), 1000.0, LOW) == pytest.approx(1000.0 * 0.9 * 0.94**2, rel=1e-12)


@pytest.mark.parametrize("control", ["modulated", "switched"])
def test_more_than_the_elements_can_is_all_elements(builders, control: str) -> None:
    """Nothing larger exists to set."""
    assert least_setting_w(planned(builders, control), 5000.0, LOW) == 3000.0


@pytest.mark.parametrize("control", ["modulated", "switched"])
def test_below_the_lowest_setting_is_off(builders, control: str) -> None:
    """The next lower one is no power at all."""
    vessel = planned(builders, control).vessel
    assert lower_setting_w(vessel, settings_w(vessel)[0]) == 0.0


@pytest.mark.parametrize(
    ("set_w", "modulated_w", "switched_w"),
    [(2500.0, 2400.0, 1500.0), (2450.0, 2400.0, 1500.0), (1500.0, 1400.0, 1000.0), (1000.0, 900.0, 0.0),
     (100.0, 0.0, 0.0), (50.0, 0.0, 0.0)],
)  # fmt: skip
def test_the_next_lower_setting(builders, set_w: float, modulated_w: float, switched_w: float) -> None:
    """A step less, or the next sum; below the lowest elements are off."""
    assert lower_setting_w(builders.vessel(1000.0, 1500.0), set_w) == modulated_w
    assert lower_setting_w(builders.vessel(1000.0, 1500.0, control="switched"), set_w) == switched_w


def test_current_while_on_does_not_depend_on_a_pulsed_cap(builders) -> None:
    """3000 W at 230 V draw 13.04 A in pulses, whatever their mean; switched, 1000 W draw a third."""
    pulsed, switched = planned(builders), planned(builders, "switched")
    assert elements_a(pulsed, 500.0) == elements_a(pulsed, None) == pytest.approx(3000 / 230)
    assert elements_a(switched, 1000.0) == pytest.approx(1000 / 230)


def test_caps_go_to_the_named_steps_only(builders) -> None:
    """Hold and ramp caps are set by name; None takes a cap away."""
    plan = planned(builders)
    assert with_hold_caps(plan, {"Strike": 400.0}).steps[0].hold_power_w == 400.0
    assert with_ramp_caps(plan, {"Other": 400.0}) == plan
    assert with_ramp_caps(with_ramp_caps(plan, {"Strike": 400.0}), {"Strike": None}) == plan


def test_voltage_drop_in_the_leads_is_counted(builders) -> None:
    """18 m of 2.5 mm2 take some of the elements' power."""
    circuit = Circuit(voltage_v=230.0, cable_mm2=2.5, cable_length_m=18.0)
    plan = planned(builders, circuit=circuit)
    assert 0.9 * all_elements_w(plan.vessel) < given_w(plan, None) < all_elements_w(plan.vessel)
