"""Figures of the circuit check by hand: RMS over an hour, the longest stretch at the peak, drop in cable and lead."""

from datetime import UTC, datetime

import numpy as np
import pytest

from energyplan.circuits.check import check
from energyplan.day.supply import wires_of
from energyplan.plan.model import Circuit, Extension, OtherLoad

START = datetime(2026, 5, 1, 8, tzinfo=UTC)
BARE = Circuit(voltage_v=230.0, breaker_a=16.0, breaker_curve="B")


def supply_resistance_ohm(circuit: Circuit) -> float:
    """Return the resistance of cable and lead, there and back."""
    wires = wires_of(circuit)
    return 2 * (wires.cable_ohm + wires.lead_ohm)


def test_rms_of_an_hour_is_that_of_sixty_minutes(profile) -> None:
    """Full current for just 60 min is its own RMS over 60 min; for 45 min it is the root of three quarters of it."""
    hour = check([profile("Vessel", [(0, 60, 1.0), (60, 300, 0.0)], power_w=2300, voltage_v=230)], BARE, (), START, UTC)
    assert hour.rms_60_min_a == pytest.approx(10.0)
    part = check([profile("Vessel", [(0, 45, 1.0), (45, 300, 0.0)], power_w=2300, voltage_v=230)], BARE, (), START, UTC)
    assert part.rms_60_min_a == pytest.approx(10.0 * np.sqrt(0.75))


def test_the_peak_s_longest_stretch(profile) -> None:
    """20 min, then 35 min at the full current: the peak lasts 35 min and begins at minute 80."""
    steps = [(0, 20, 1.0), (20, 80, 0.0), (80, 115, 1.0), (115, 130, 0.0)]
    found = check([profile("Vessel", steps, power_w=2300, voltage_v=230)], BARE, (), START, UTC)
    assert found.peak_a == pytest.approx(10.0)
    assert found.longest_at_peak_min == pytest.approx(35.0)
    assert found.peak_at_s == pytest.approx(80 * 60)


def test_continuous_current_needs_three_hours(profile) -> None:
    """Three hours on without a break count (NFPA 70, article 100, "continuous load"); two do not."""
    long, short = (
        check([profile("Vessel", [(0, 60 * hours, 0.3)], power_w=2300, voltage_v=230)], BARE, (), START, UTC)
        for hours in (3.1, 2.0)
    )
    assert long.continuous_a == pytest.approx(10.0), "pulses count as on"
    assert short.continuous_a == 0


def test_the_drop_is_that_of_cable_and_lead(profile) -> None:
    """U = I (R_cable + R_lead), the current that of the element behind both: I = U_board G / (1 + R G)."""
    circuit = Circuit(
        voltage_v=230.0, breaker_a=16.0, breaker_curve="B", cable_mm2=2.5, cable_length_m=20.0, installation="C",
        extension=Extension(cable_mm2=1.5, length_m=15.0),
    )  # fmt: skip
    found = check(
        [profile("Vessel", [(0, 60, 1.0), (60, 90, 0.0)], power_w=2300, voltage_v=230)], circuit, (), START, UTC
    )
    conductance, resistance_ohm = 2300 / 230**2, supply_resistance_ohm(circuit)
    current_a = 230 * conductance / (1 + resistance_ohm * conductance)
    assert found.voltage_drop_v == pytest.approx(current_a * resistance_ohm, rel=1e-6)
    assert found.voltage_drop_frac == pytest.approx(found.voltage_drop_v / 230, rel=1e-12)


def test_what_else_hangs_on_the_cable_drops_it_too(profile) -> None:
    """While the vessel rests, a heater of 2.3 kW on the same cable drops more than the vessel's 0.46 kW later on."""
    circuit = Circuit(voltage_v=230.0, breaker_a=16.0, breaker_curve="B", cable_mm2=2.5, cable_length_m=20.0)
    fan = OtherLoad(name="Fan heater", power_w=2300.0, from_min=8 * 60, to_min=9 * 60)
    steps = [(0, 90, 0.0), (90, 150, 1.0)]
    found = check([profile("Vessel", steps, power_w=460, voltage_v=230)], circuit, (fan,), START, UTC)
    alone = check([profile("Vessel", steps, power_w=460, voltage_v=230)], circuit, (), START, UTC)
    assert found.voltage_drop_v > 4 * alone.voltage_drop_v
    assert found.voltage_drop_v == pytest.approx(2300 / 230 * supply_resistance_ohm(circuit), rel=0.03)


def test_each_voltage_is_a_case_of_its_own(profile) -> None:
    """As entered, nominal, high and low: an element's current goes with the voltage and with its factor."""
    found = check([profile("Vessel", [(0, 60, 1.0)], power_w=2300, voltage_v=230)], BARE, (), START, UTC)
    cases = {case.name: case for case in found.voltages}
    assert list(cases) == ["as entered", "nominal", "high", "low"]
    for case in cases.values():
        assert case.vessel_a == pytest.approx(10.0 * case.voltage_v / 230 * case.element_factor)
        assert case.peak_a == pytest.approx(case.vessel_a)
    # IEC 60335-1, clause 10.1 (from memory): +5 and -10 % of the plate's power.
    assert (cases["high"].element_factor, cases["low"].element_factor) == (1.05, 0.9)
    assert cases["low"].voltage_v < 230 < cases["high"].voltage_v
