"""Circuits on which the check once said what an electrician would not: each with the true answer by hand."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

from energyplan.advice.answer import Answer, answer
from energyplan.advice.unattended import Said, may_start_unattended
from energyplan.base.errors import PlanError
from energyplan.base.load import LoadProfile
from energyplan.circuits.check import check
from energyplan.circuits.enough import enough, largest_power
from energyplan.physics.conductors import awg_mm2
from energyplan.plan.file import demo_plans, parse_plan
from energyplan.plan.model import Circuit, Extension, OtherLoad
from energyplan.telling.circuit import circuit_headline
from energyplan.telling.currents import loads_table, tell_offset
from energyplan.telling.day import day_told
from energyplan.telling.report import day_tiles
from energyplan.telling.unattended import unattended_told
from tests.circuits.words import find

Builder = Callable[..., LoadProfile]
Circuits = Callable[..., Circuit]
START = datetime(2026, 12, 5, 8, 30, tzinfo=UTC)
NANO = """title = "Nano"
[vessel]
diameter = "50 cm"
height = "60 cm"
{elements}
[batch]
water = "80 L"
water_temperature = "12 degC"
{second}
[circuit]
{circuit}
[[step]]
name = "Heat"
target = "60 degC"
hold = "30 min"
[[step]]
name = "Sparge"
target = "70 degC"
hold = "10 min"
"""


def nano(circuit: str, *elements: tuple[str, str, str], second: str = "") -> Answer:
    """A day on three phases: power, plate voltage and line of each element."""
    tables = "".join(
        f'[[vessel.element]]\npower = "{power}"\nvoltage = "{volts}"\n' + (f'line = "{line}"\n' if line else "")
        for power, volts, line in elements
    )
    return answer(parse_plan(NANO.format(elements=tables, circuit=circuit, second=second), source="nano"), None, START)


def peaks(found: Answer) -> dict[str, float]:
    """Largest current of each conductor."""
    assert found.circuit is not None
    return {one.line: one.peak_a for one in found.circuit.lines}


THREE = 'voltage = "230 V"\nlayout = "three phase"\n'


def test_two_elements_on_all_lines_are_asked_for_their_lines() -> None:
    """Two of 3500 W and "all" say nothing; on L1 and L2 they draw 15.2, 15.2 and 15.2 A in the neutral."""
    with pytest.raises(PlanError, match="how 2 elements hang on three lines"):
        nano(THREE + 'line = "all"', ("3500 W", "230 V", ""), ("3500 W", "230 V", ""))
    found = nano(THREE + 'line = "all"', ("3500 W", "230 V", "L1"), ("3500 W", "230 V", "L2"))
    assert peaks(found) == pytest.approx(dict.fromkeys(("L1", "L2", "N"), 3500 / 230), rel=0.005)


def test_a_voltage_between_lines_is_none_to_neutral() -> None:
    """Three of 3000 W at 400 V: refused as "400 V" to neutral; between the lines 13.0 A in each."""
    elements = (("3000 W", "400 V", ""),) * 3
    with pytest.raises(PlanError, match="voltage_between_lines"):
        nano('voltage = "400 V"\nlayout = "three phase"\nline = "all"', *elements)
    found = nano('voltage_between_lines = "400 V"\nline = "all"', *elements)
    assert peaks(found) == pytest.approx(dict.fromkeys(("L1", "L2", "L3"), 3000 / 400 * 3**0.5), rel=0.005)


SECOND = 'sparge_water = "20 L"\n[second_heater]\npower = "{power}"\nready_at_step = "Sparge"\n'


def test_a_second_heater_of_no_line_is_counted_where_it_makes_most() -> None:
    """2500 W on 230 V are 10.9 A on one line, not 3.6 on each, and the finding says that nobody placed it."""
    circuit = THREE + 'line = "all"\nbreaker = "32 A"\nbreaker_curve = "B"'
    found = nano(circuit, *(("3000 W", "230 V", ""),) * 3, second=SECOND.format(power="2500 W"))
    assert found.circuit is not None
    assert found.circuit.peak_a == pytest.approx((3000 + 2500) / 230, rel=0.005)
    assert find(found.circuit, "supply").severity == "unknown"
    assert "Nobody said where Second heater hangs" in find(found.circuit, "supply").message


def test_a_second_heater_on_an_american_leg_passes_the_breaker() -> None:
    """5500/240 + 1500/120 = 35.4 A on 30 A: over."""
    circuit = 'rules = "nec"\nvoltage = "240 V"\nbreaker = "30 A"\nbreaker_curve = "inverse"'
    found = nano(circuit, ("5500 W", "240 V", ""), second=SECOND.format(power="1500 W"))
    assert found.circuit is not None
    assert found.circuit.peak_a == pytest.approx(5500 / 240 + 1500 / 120, rel=0.005)
    assert find(found.circuit, "breaker").severity == "over"


def test_heat_and_check_read_one_network() -> None:
    """On three lines each element sees its own drop: heat, meter and the page agree, and one line alone loses more."""
    wires = 'cable = "2.5 mm2"\ncable_length = "40 m"'
    elements = (("3000 W", "230 V", ""),) * 3
    three = nano(THREE + 'line = "all"\n' + wires, *elements)
    one = nano('voltage = "230 V"\n' + wires, *elements)
    assert three.circuit is not None
    assert one.circuit is not None
    ramp = next(phase for phase in three.day.phases if phase.phase == "ramp")
    given_frac = ramp.element_j / ramp.duration_s / 9000
    assert given_frac == pytest.approx((1 - three.circuit.voltage_drop_frac) ** 2, rel=1e-9)
    # Balanced, no current in the neutral: 13.04 A x 40 m x 8.89 mΩ/m of one conductor at 70 °C = 4.6 V.
    assert three.circuit.voltage_drop_v == pytest.approx(4.6, abs=0.1)
    assert three.circuit.voltage_drop_v < one.circuit.voltage_drop_v / 4
    assert three.day.energy_kwh < one.day.energy_kwh


def test_a_leg_of_208_volts_has_120(profile: Builder) -> None:
    """1200 W of 120 V on one line of 208Y/120 draw 10 A, not 11.5."""
    load = replace(profile("Vessel", [(0, 60, 1)], power_w=1200, voltage_v=120), line="L1")
    found = check([load], Circuit(rules="nec", voltage_v=208.0), (), START, UTC)
    assert found.peak_a == pytest.approx(10.0, rel=0.005)


def test_a_breaker_that_no_fault_trips(profile: Builder) -> None:
    """D32 behind 60 m of 4/1.5 mm2: R1+R2 = 60 x 16.71 x 1.2 = 1.20 Ω against 0.34, and no residual current device."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=3000, voltage_v=230)
    circuit = Circuit(
        voltage_v=230.0, breaker_a=32.0, breaker_curve="D", outlet_a=32.0, cable_mm2=4.0, cable_length_m=60.0,
        installation="C", residual_current_device=False,
    )  # fmt: skip
    found = check([vessel], circuit, (), START, UTC)
    assert found.severity == "over"
    assert find(found, "disconnection").severity == "over"
    assert find(found, "disconnection").facts["path_ohm"] == pytest.approx(60 * 0.01671 * 1.2, rel=0.005)
    assert find(found, "residual_current").severity == "over"
    helped = circuit.model_copy(update={"residual_current_device": "30 mA, type A"})
    assert find(check([vessel], helped, (), START, UTC), "disconnection").severity == "note"
    measured = Circuit(voltage_v=230.0, breaker_a=16.0, breaker_curve="B", earth_loop_ohm=1.1)
    assert find(check([vessel], measured, (), START, UTC), "disconnection").severity == "ok"
    far = measured.model_copy(update={"earth_loop_ohm": 3.0})
    assert find(check([vessel], far, (), START, UTC), "disconnection").severity == "over"


def test_outlets_stand_behind_breakers_that_they_may(profile: Builder) -> None:
    """No BS 1363 behind 40 A, no 16 A outlet behind 20 A, and never a word that another finding contradicts."""
    heavy = profile("Vessel", [(0, 60, 1)], power_w=8000, voltage_v=230)
    found = enough([heavy], Circuit(voltage_v=230.0, installation="C", cable_length_m=10.0), (), START, UTC)
    assert not any(name.startswith("BS 1363") for name in found.outlets)
    light = profile("Vessel", [(0, 60, 1)], power_w=3900, voltage_v=230)
    found = enough([light], Circuit(voltage_v=230.0, installation="C", cable_length_m=10.0), (), START, UTC)
    assert found.breaker_a == 20.0
    assert not any("16 A" in name for name in found.outlets)


def test_what_a_shared_outlet_takes_is_what_the_finding_allows(profile: Builder, twenty: Circuits) -> None:
    """16 A of 20 A for one appliance: 1920 W and the 2 % of a plate, not what the breaker alone would leave."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=1500, voltage_v=120)
    most = largest_power([vessel], twenty(), (), START, UTC)
    assert most.power_w is not None
    assert most.power_w <= 1.02 * 16 * 120


def test_american_cables_in_the_heat(profile: Builder, two_pole: Circuits) -> None:
    """12 AWG at 38 °C: 30 x 0.91 = 27.3 A in the 90 °C column, 20 A by its terminals; 8 AWG never has 55 A."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=4000, voltage_v=240)
    warm = two_pole(cable_mm2=awg_mm2(12), breaker_a=20.0, outlet_a=20.0, ambient_c=38.0)
    assert find(check([vessel], warm, (), START, UTC), "cable").facts["limit_a"] == 20.0
    assert find(check([vessel], warm, (), START, UTC), "cable").severity == "ok"
    thick = two_pole(cable_mm2=awg_mm2(8), breaker_a=50.0, outlet_a=50.0, installation="90")
    assert find(check([vessel], thick, (), START, UTC), "cable_protection").severity == "over"


def test_a_dryer_starts_a_drum_and_a_pumpkin_nothing(profile: Builder, sixteen: Circuits) -> None:
    """5 kW of dryer start 300 W of motor; "Pumpkin roaster" has no pump."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=1000, voltage_v=230)
    found = check([vessel], sixteen(), [OtherLoad(name="Clothes dryer", power_w=5000.0)], START, UTC)
    assert find(found, "breaker_start").facts["running_a"] == pytest.approx(300 / 230)
    none = check([vessel], sixteen(), [OtherLoad(name="Pumpkin roaster", power_w=900.0)], START, UTC)
    assert "breaker_start" not in {finding.code for finding in none.findings}


def test_an_unmarked_reel_can_be_checked(profile: Builder, sixteen: Circuits) -> None:
    """Wound and unmarked: 35 % of 16 A by the table."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2000, voltage_v=230)
    wound = Extension(cable_mm2=1.5, length_m=25.0, unwound=False)
    found = find(check([vessel], sixteen(extension=wound), (), START, UTC), "extension")
    assert (found.severity, found.facts["limit_a"]) == ("over", pytest.approx(5.6))


def test_an_american_kettle_on_15_amperes(profile: Builder, twenty: Circuits) -> None:
    """1500/120 = 12.5 A by the plate on a circuit that counts as shared: over the 12 A that it may take."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=1500, voltage_v=120)
    circuit = twenty(breaker_a=15.0, outlet_a=15.0, cable_mm2=awg_mm2(14), cable_length_m=20.0)
    assert find(check([vessel], circuit, (), START, UTC), "one_appliance").severity == "over"
    alone = circuit.model_copy(update={"dedicated": True})
    assert "one_appliance" not in {finding.code for finding in check([vessel], alone, (), START, UTC).findings}


def test_the_headline_compares_like_with_like(profile: Builder, ring: Circuits) -> None:
    """Beside a kettle on a ring: the vessel's current with the plug's 13 A, all of it with the breaker's 32 A."""
    text = demo_plans()["demo"]
    circuit = (
        '[circuit]\nvoltage = "230 V"\nbreaker = "32 A"\nbreaker_curve = "B"\nring = true\noutlet = "13 A"\n'
        'plug_fuse = "13 A"\ncable = "2.5 mm2"\ncable_length = "40 m"\ninstallation = "C"\n\n[[other_load]]\n'
        'name = "Iron"\npower = "2 kW"\n\n'
    )
    text = text[: text.index("[circuit]")] + circuit + text[text.index("[[other_load]]") :]
    found = answer(parse_plan(text, source="ring"), None, START)
    assert found.circuit is not None
    said = str(circuit_headline(found))
    assert f"{found.circuit.vessel_a:.1f} A of 13 A" in said
    assert f"{found.circuit.peak_a:.1f} A of 32 A breaker" in said


def test_two_plans_of_different_voltages_share_no_circuit() -> None:
    """A 240 V plan on a 230 V circuit is refused; another circuit of the same voltage is set aside with a sentence."""
    plans = {name: answer(parse_plan(text, source=name), None, START) for name, text in demo_plans().items()}
    with pytest.raises(PlanError, match="can't share a circuit"):
        tell_offset(plans["demo"], plans["lakeside"])
    text = demo_plans()["demo"].replace('breaker = "16 A"', 'breaker = "20 A"')
    other = answer(parse_plan(text, source="other"), None, START)
    assert any("is set aside" in str(said) for said in tell_offset(plans["demo"], other).sentences)


def test_a_region_without_known_rules(profile: Builder) -> None:
    """100 V belongs to neither set: physics is judged, no local outlet is offered, nothing is demanded by name."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=1500, voltage_v=100)
    circuit = Circuit(
        voltage_v=100.0, breaker_a=20.0, breaker_curve="B", residual_current_device=False, installation="C"
    )
    found = check([vessel], circuit, (), START, UTC)
    assert "Local rules are not known here" in find(found, "region").message
    assert find(found, "residual_current").severity == "note"
    assert enough([vessel], circuit, (), START, UTC).outlets == ()


def test_what_a_phase_draws_is_that_of_its_fullest_line() -> None:
    """9 kW on three lines draw 9000 W and 13.0 A a line, not 39 A."""
    found = nano(THREE + 'line = "all"', *(("3000 W", "230 V", ""),) * 3)
    row = next(iter(day_told(found).table("phases")))
    assert (row["draw_w"], row["draw_a"]) == (pytest.approx(9000), pytest.approx(3000 / 230))


def test_a_verdict_counts_what_is_not_known_wherever_it_is_told() -> None:
    """The packaged day has three things that nobody entered: the Day tile, the report and the unattended say so."""
    found = answer(parse_plan(demo_plans()["demo"], source="demo"), None, START)
    unknown = sum(finding.severity == "unknown" for finding in found.findings)
    assert unknown == 3
    tile = next(one for one in day_tiles(found, None) if one.key == "current")
    assert (str(tile.note), tile.severity) == ("within the ratings you entered; 3 things are not known", "unknown")
    assert "; 3 things are not known." in str(circuit_headline(found))
    alone = may_start_unattended(found.day, Said(), start=found.start, zone=UTC)
    cells = [str(cell) for row in unattended_told(alone, START, "UTC").tables[0].rows for cell in row]
    assert "within the ratings you entered, all day; 3 things are not known" in cells


def test_a_tile_names_what_is_over() -> None:
    """The packaged day on a 10 A breaker: what is over, and what is not known."""
    small = parse_plan(demo_plans()["demo"].replace('breaker = "16 A"', 'breaker = "10 A"'), source="demo")
    tile = next(one for one in day_tiles(answer(small, None, START), None) if one.key == "current")
    assert tile.severity == "over"
    assert str(tile.note).startswith("breaker")


def test_a_peak_and_the_time_above_a_rating_are_not_mixed_up(profile: Builder) -> None:
    """12 A for an hour and then 18 A for ten minutes on 10 A: 18 A at most, and above the rating for 70 min."""
    vessel = replace(
        profile("Vessel", [(0, 60, 1.0), (60, 70, 1.0)], power_w=2760, voltage_v=230),
        heater_w_per_v2=np.array([2760.0, 4140.0]) / 230**2,
        mean_w=np.array([2760.0, 4140.0]),
    )
    found = find(
        check([vessel], Circuit(voltage_v=230.0, breaker_a=10.0, breaker_curve="B"), (), START, UTC), "breaker"
    )
    assert found.severity == "over"
    assert "At most 18 A flow through the 10 A breaker, more than its rating from 08:30 for 70 min" in found.message


def test_the_plate_of_a_load_on_three_lines() -> None:
    """9 kW of 400 V between three lines: 9000 / 400 / 1.732 = 12.99 A on each, on the page as by hand."""
    found = nano(THREE + 'line = "all"', ("9000 W", "400 V", ""))
    assert found.circuit is not None
    (load,) = loads_table(found, found.circuit)
    assert load["plate_a"] == pytest.approx(12.99, abs=0.005)
