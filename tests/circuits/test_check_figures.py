"""Figures of the circuit check by hand: RMS over an hour, the longest stretch at the peak, drop in cable and lead."""

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

from energyplan.circuits.check import check
from energyplan.circuits.enough import enough, largest_power
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


def test_every_conductor_of_two_legs_by_hand(profile) -> None:
    """4800 W at 240 V are 20 A on both legs, a fridge of 240 W at 120 V 2 A more on the first, back in the neutral."""
    vessel = profile("Vessel", [(0, 45, 1.0), (45, 60, 0.0)], power_w=4800, voltage_v=240)
    fridge = OtherLoad(name="Fridge", power_w=240.0, line="L1", from_min=8 * 60 + 30, to_min=8 * 60 + 50)
    found = check([vessel], Circuit(rules="nec", voltage_v=240.0, breaker_a=30.0), [fridge], START, UTC)
    assert {one.line: one.peak_a for one in found.lines} == pytest.approx({"L1": 22.0, "L2": 20.0, "N": 2.0})
    left = {one.line: one.breaker_margin_frac for one in found.lines}
    assert left == {"L1": pytest.approx(8 / 30), "L2": pytest.approx(10 / 30), "N": None}
    assert (found.line, found.vessel_a) == ("L1", pytest.approx(20.0))
    heater, other = found.appliances
    assert (heater.own_a, heater.place_a, heater.place_min) == (
        pytest.approx(20.0), {"L1-L2": pytest.approx(20.0)}, {"L1-L2": 45.0},
    )  # fmt: skip
    assert (other.own_a, other.place_a, other.use_min) == (pytest.approx(2.0), {"L1": pytest.approx(2.0)}, 20.0)
    bare = check([vessel], Circuit(rules="nec", voltage_v=240.0), (), START, UTC)
    assert [one.breaker_margin_frac for one in bare.lines] == [None, None]
    table = found._repr_html_()
    assert "<td>L1<td>22 A<td>27 %</tr><tr><td>L2<td>20 A<td>33 %</tr><tr><td>N<td>2 A<td></tr>" in table


def test_what_runs_beside_the_vessel_in_three_places(profile) -> None:
    """10 A on L1 and 5 A on L2 at 230 V, 3 A of an iron between L2 and L3: the fullest line is L1."""
    vessel = profile("Vessel", [(0, 60, 1.0)], power_w=3450, voltage_v=230)
    siemens = vessel.heater_w_per_v2
    vessel = replace(vessel, by_line=(("L1", siemens * 2 / 3), ("L2", siemens / 3)))
    iron = OtherLoad(name="Iron", power_w=3 * 400.0, line="L2-L3")
    circuit = Circuit(voltage_between_lines_v=400.0, line="L1", breaker_a=16.0)
    found = check([vessel], circuit, [iron], START, UTC)
    amps = {one.line: one.peak_a for one in found.lines}
    assert (amps["L1"], amps["L3"]) == (pytest.approx(10.0, rel=0.01), pytest.approx(3.0, rel=0.01))
    # 5 A at 0° behind its own line and 3 A led by 30°: root of (5 + 3 cos 30°)^2 + (3 sin 30°)^2
    assert amps["L2"] == pytest.approx(((5 + 3 * 0.866) ** 2 + 1.5**2) ** 0.5, rel=0.01)
    assert found.appliances[0].place_a == {"L1": pytest.approx(10, rel=0.01), "L2": pytest.approx(5, rel=0.01)}
    assert found.line == "L1"


def test_how_long_the_vessel_itself_is_at_its_peak(profile) -> None:
    """20 min without a break and 45 min of pulses; a kettle beside it changes neither."""
    steps = [(0, 20, 1.0), (20, 30, 0.0), (30, 75, 0.4), (75, 80, 0.0)]
    vessel = profile("Vessel", steps, power_w=2300, voltage_v=230)
    kettle = OtherLoad(name="Kettle", power_w=1000.0, from_min=8 * 60 + 22, to_min=8 * 60 + 28)
    for others in ((), (kettle,)):
        found = check([vessel], BARE, others, START, UTC)
        assert (found.vessel_at_peak_min, found.vessel_pulses_min) == (pytest.approx(20.0), pytest.approx(45.0))


@pytest.mark.parametrize(("power_w", "designation"), [(1400, "NEMA 5-15"), (1900, "NEMA 5-20")])
def test_a_vessel_on_one_leg_gets_an_outlet_of_its_voltage(profile, power_w: float, designation: str) -> None:
    """120 V between a leg and the neutral of a 240 V supply, on a circuit of its own."""
    vessel = profile("Vessel", [(0, 60, 1.0)], power_w=power_w, voltage_v=120)
    circuit = Circuit(rules="nec", voltage_v=240.0, line="L1", installation="60", dedicated=True)
    assert enough([vessel], circuit, (), START, UTC).outlets == (designation,)


@pytest.mark.parametrize(("supply", "plate_v", "most_w"), [
    ({"voltage_v": 240.0, "rules": "nec", "dedicated": True}, 240.0, 4850.0),  # 1.02 x 20 A x 240 V = 4896 W
    ({"voltage_v": 240.0, "rules": "nec", "line": "L1", "dedicated": True}, 120.0, 2400.0),  # 2448 W
    # 20.4 A at the 400 V entered, told at the nominal 398.4 V: 20.4 A x 398.4 V x 398.4 / 400 = 8094 W
    ({"voltage_between_lines_v": 400.0, "line": "L1-L2"}, 400.0, 8050.0),
    ({"voltage_between_lines_v": 400.0, "line": "all"}, 400.0, 14000.0),  # and on three lines 14 019 W
])  # fmt: skip
def test_the_largest_power_by_where_the_vessel_hangs(profile, supply: dict, plate_v: float, most_w: float) -> None:
    """A breaker of 20 A; the power is that at the nominal voltage between the vessel's own conductors."""
    vessel = profile("Vessel", [(0, 60, 1.0)], power_w=2000, voltage_v=plate_v)
    place = supply.get("line") or "L1-L2"
    vessel = replace(vessel, by_line=((place, vessel.heater_w_per_v2),))
    found = largest_power([vessel], Circuit(breaker_a=20.0, **supply), (), START, UTC)
    assert found.power_w == most_w
    assert "breaker" in found.limited_by
    assert (found.step_w, found.beside_a, found.over_anyway) == (50.0, 0.0, ())


@pytest.mark.parametrize("line", ["L1", "L2", "L3"])
def test_what_nobody_placed_hangs_where_it_makes_most(profile, line: str) -> None:
    """10 A on any line and a heater of 5 A of no known line: 15 A on the vessel's own."""
    vessel = replace(profile("Vessel", [(0, 60, 1.0)], power_w=2300, voltage_v=230), line=line)
    heater = profile("Heater", [(0, 60, 1.0)], power_w=1150, voltage_v=230)
    circuit = Circuit(voltage_v=230.0, layout="three phase", line="all", breaker_a=16.0)
    found = check([vessel, heater], circuit, (), START, UTC)
    assert (found.line, found.peak_a) == (line, pytest.approx(15.0))
    placed = check([vessel, replace(heater, line="L2")], circuit, (), START, UTC)
    assert placed.peak_a == pytest.approx(15.0 if line == "L2" else 10.0)


@pytest.mark.parametrize(("second_a", "minutes"), [(9.91, 50.0), (9.89, 30.0)])
def test_within_one_per_cent_of_the_peak_counts_as_the_peak(profile, second_a: float, minutes: float) -> None:
    """10 A for 20 min, nothing for 10, 10 A for 30 and a little less for 20: the stretch that lasts longest."""
    steps = [(0, 20, 1.0), (20, 30, 0.0), (30, 60, 1.0), (60, 80, 1.0)]
    vessel = profile("Vessel", steps, power_w=2300, voltage_v=230)
    amps = np.array([10.0, 0.0, 10.0, second_a])
    vessel = replace(vessel, mean_w=230 * amps, heater_w_per_v2=amps / 230)
    found = check([vessel], BARE, (), START, UTC)
    assert (found.longest_at_peak_min, found.peak_at_s) == (pytest.approx(minutes), 1800.0)
    assert found.vessel_at_peak_min == pytest.approx(minutes)


@pytest.mark.parametrize(("duty", "pulses"), [(0.981, False), (0.979, True)])
def test_hardly_a_pause_is_no_pulse(profile, duty: float, *, pulses: bool) -> None:
    """On for 98.1 % its warmth is 0.9905 of the full current, for 97.9 % 0.9894: within 1 % it counts as steady."""
    found = check([profile("Vessel", [(0, 60, duty)], power_w=2300, voltage_v=230)], BARE, (), START, UTC)
    assert found.pulses_at_peak is pulses
    assert (found.vessel_at_peak_min, found.vessel_pulses_min) == ((0.0, 60.0) if pulses else (60.0, 0.0))


def test_half_a_metre_of_cable_is_a_length(profile) -> None:
    """Entered it is known, however short; what was left out is not."""
    vessel = profile("Vessel", [(0, 60, 1.0)], power_w=2300, voltage_v=230)
    for length_m, severity, left in ((0.5, "ok", 2.72), (0.0, "unknown", None)):
        circuit = BARE.model_copy(update={"cable_mm2": 2.5, "cable_length_m": length_m, "installation": "C"})
        found = {one.code: one for one in check([vessel], circuit, (), START, UTC).findings}
        assert found["voltage_drop"].severity == severity
        left_ohm = found["disconnection"].facts["left_ohm"]
        assert left_ohm is None if left is None else left_ohm == pytest.approx(left, abs=0.005)
