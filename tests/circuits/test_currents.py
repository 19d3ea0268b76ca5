"""Currents, their mean squares and their runs, by hand and by invariants."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from energyplan.base.load import LoadProfile
from energyplan.circuits.currents import (
    CircuitCurrents,
    Supply,
    lasting_level_a,
    longest_run_s,
    neutral_peak_a,
    rms_over_window_a,
)
from energyplan.circuits.currents import currents as solved
from energyplan.circuits.loads import compose
from energyplan.physics.network import Wires
from energyplan.plan.model import Circuit, Extension, OtherLoad

Builder = Callable[..., LoadProfile]
START = datetime(2026, 6, 1, 8, tzinfo=UTC)
AT_230 = Supply(voltage_v=230.0, nominal_v=230.0)


def currents(
    profiles: list[LoadProfile],
    *,
    wires: Wires | None = None,
    supply: Supply = AT_230,
    others: tuple[OtherLoad, ...] = (),
    lead: bool = False,
) -> CircuitCurrents:
    """Solve some loads on one phase."""
    circuit = Circuit(voltage_v=230.0, extension=Extension(cable_mm2=1.5, length_m=1.0) if lead else None)
    return solved(compose(profiles, circuit, others, START, UTC), wires or Wires(), (supply,))[0]


def test_element_behind_resistances_by_hand(profile: Builder) -> None:
    """2645 W / 230 V is 20 ohm; behind 0.5 ohm cable and 0.5 ohm lead 230/21 = 10.952 A and a drop of 10.952 V."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2645, voltage_v=230)
    found = currents([vessel], wires=Wires(cable_ohm=0.25, lead_ohm=0.25), lead=True)
    assert found.total_a[0] == pytest.approx(230 / 21, rel=1e-12)
    assert found.drop_v[0] == pytest.approx(230 / 21, rel=1e-12)
    assert 230 * found.cable_drop_frac[0] == pytest.approx(115 / 21, rel=1e-12)


def test_kirchhoff_holds_with_several_loads(profile: Builder) -> None:
    """Node voltage, cable drop and all currents agree with each other for two heaters, a pump and a kettle."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2500, voltage_v=230, other_w=35)
    heater = profile("Heater", [(0, 60, 1)], power_w=1500, voltage_v=240)
    kettle = OtherLoad(name="Kettle", power_w=2000.0)
    wires = Wires(cable_ohm=0.15, lead_ohm=0.35)  # each way
    found = currents([vessel, heater], wires=wires, others=(kettle,), lead=True)
    node_v = 230.0 - 0.3 * found.total_a[0]
    assert 230 * found.cable_drop_frac[0] == pytest.approx(230.0 - node_v)
    assert found.on_a[1, 0] == pytest.approx(node_v * 1500 / 240**2)
    vessel_v = node_v - 0.7 * found.on_a[0, 0]
    assert found.on_a[0, 0] == pytest.approx(vessel_v * 2500 / 230**2 + 35 / 230)
    assert found.on_a[2, 0] == pytest.approx(2000 / 230)
    assert found.drop_v[0] == pytest.approx(230.0 - vessel_v)


def test_voltage_moves_elements_and_other_loads_apart(profile: Builder) -> None:
    """At 253 V an element draws 10 % more; others draw 10 % more at either end, as kettles or as electronics do."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2300, voltage_v=230)
    kettle = OtherLoad(name="Kettle", power_w=2300.0)
    for voltage_v, element_a in ((253.0, 11.0), (209.0909090909, 10 / 1.1)):
        found = currents([vessel], supply=Supply(voltage_v=voltage_v, nominal_v=230.0), others=(kettle,))
        assert found.on_a[0, 0] == pytest.approx(element_a)
        assert found.on_a[1, 0] == pytest.approx(11.0)


def test_element_tolerance(profile: Builder) -> None:
    """An element 5 % above its plate draws 5 % more."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2300, voltage_v=230)
    found = currents([vessel], supply=Supply(voltage_v=230.0, nominal_v=230.0, element_factor=1.05))
    assert found.total_a[0] == pytest.approx(10.5)


@settings(deadline=None)
@given(st.floats(0.01, 1.0), st.floats(500.0, 6000.0))
def test_current_while_on_does_not_know_the_duty(profile: Builder, duty: float, power_w: float) -> None:
    """On-time current is the element's full current at any duty; the RMS is it times sqrt(duty)."""
    vessel = profile("Vessel", [(0, 180, duty)], power_w=power_w, voltage_v=230)
    found = currents([vessel])
    assert found.total_a[0] == pytest.approx(power_w / 230)
    rms_a = rms_over_window_a(np.array([0.0, 10800.0]), found.mean_square_a2, 3600.0)
    assert rms_a == pytest.approx(power_w / 230 * np.sqrt(duty), rel=1e-9)


@settings(deadline=None)
@given(st.lists(st.tuples(st.floats(100.0, 4000.0), st.floats(0.05, 1.0)), min_size=1, max_size=4))
def test_peak_of_coincidence_is_the_sum_of_full_currents(profile: Builder, heaters: list[tuple[float, float]]) -> None:
    """Heaters that pulse can pulse together: the peak is the sum of full currents, whatever their duties."""
    profiles = [
        profile(f"Heater {number}", [(0, 60, duty)], power_w=power_w, voltage_v=230)
        for number, (power_w, duty) in enumerate(heaters)
    ]
    found = currents(profiles)
    assert found.total_a[0] == pytest.approx(sum(power_w for power_w, _ in heaters) / 230)


@settings(deadline=None)
@given(st.floats(100.0, 4000.0), st.floats(0.05, 1.0), st.floats(100.0, 4000.0), st.floats(0.05, 1.0))
def test_pulsing_together_is_the_worst_overlap(
    profile: Builder, first_w: float, first_duty: float, second_w: float, second_duty: float
) -> None:
    """The mean square lies between that of independent pulses and the square of the summed RMS."""
    found = currents([
        profile("One", [(0, 60, first_duty)], power_w=first_w, voltage_v=230),
        profile("Two", [(0, 60, second_duty)], power_w=second_w, voltage_v=230),
    ])  # fmt: skip
    a, b = first_w / 230, second_w / 230
    independent = first_duty * a**2 + second_duty * b**2 + 2 * first_duty * second_duty * a * b
    summed = (a * np.sqrt(first_duty) + b * np.sqrt(second_duty)) ** 2
    assert independent * (1 - 1e-9) <= found.mean_square_a2[0] <= summed * (1 + 1e-9)


@settings(deadline=None)
@given(st.floats(0.0, 1.0), st.floats(500.0, 4000.0), st.floats(1.0, 3000.0))
def test_more_load_never_lowers_the_current(profile: Builder, cable_ohm: float, power_w: float, added_w: float) -> None:
    """At a fixed voltage another appliance raises the sum, though it lowers the voltage for the first."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=power_w, voltage_v=230)
    wires = Wires(cable_ohm=cable_ohm / 2)
    alone = currents([vessel], wires=wires)
    together = currents([vessel], wires=wires, others=(OtherLoad(name="Iron", power_w=added_w),))
    assert together.total_a[0] > alone.total_a[0]


def test_mean_current_is_that_of_the_meter(profile: Builder) -> None:
    """600 W of 2300 W and a 20 W pump: 620/230 A in the mean, sqrt of duty in the RMS."""
    vessel = profile("Vessel", [(0, 60, 600 / 2300)], power_w=2300, voltage_v=230, other_w=20)
    found = currents([vessel])
    pump_a, duty = 20 / 230, 600 / 2300
    assert found.mean_a[0, 0] == pytest.approx(620 / 230)
    assert found.mean_square_a2[0] == pytest.approx(duty * (10 + pump_a) ** 2 + (1 - duty) * pump_a**2)
    assert found.vessel_square_a2[0] == pytest.approx(found.mean_square_a2[0])


def test_each_line_carries_its_own(profile: Builder) -> None:
    """On a three-phase board the kettle on L2 is not seen on L1, and meets the vessel in the neutral."""
    circuit = Circuit(voltage_v=230.0, layout="three phase", line="L1")
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2300, voltage_v=230)
    kettle = OtherLoad(name="Kettle", power_w=2300.0, line="L2")
    found = solved(compose([vessel], circuit, [kettle], START, UTC), Wires(), (AT_230,))[0]
    assert {line: amps[0] for line, amps in found.line_a.items()} == pytest.approx({"L1": 10, "L2": 10, "N": 10})


def test_balanced_vessel_on_three_lines(profile: Builder) -> None:
    """9 kW at 400 V on three lines is 13 A a line and none in the neutral, with the full duty."""
    circuit = Circuit(voltage_between_lines_v=400.0, line="all")
    vessel = profile("Vessel", [(0, 60, 0.5)], power_w=9000, voltage_v=400)
    found = solved(
        compose([vessel], circuit, (), START, UTC), Wires(), (Supply(voltage_v=circuit.voltage_v, nominal_v=230.0),)
    )[0]
    assert [amps[0] for amps in found.line_a.values()] == pytest.approx([9000 / 400 / 3**0.5] * 3)
    assert found.mean_square_a2[0] == pytest.approx(0.5 * (9000 / 400) ** 2 / 3)


def test_split_phase_legs(profile: Builder) -> None:
    """A 240 V vessel loads both legs alike; a 120 V fridge of 240 W puts 2 A on its leg."""
    circuit = Circuit(voltage_v=240.0, rules="nec")
    vessel = profile("Vessel", [(0, 60, 1)], power_w=4800, voltage_v=240)
    fridge = OtherLoad(name="Fridge", power_w=240.0, line="L1")
    loads = compose([vessel], circuit, [fridge], START, UTC)
    found = solved(loads, Wires(), (Supply(voltage_v=240.0, nominal_v=240.0),))[0]
    assert {line: amps[0] for line, amps in found.line_a.items()} == pytest.approx({"L1": 22, "L2": 20, "N": 2})
    assert found.on_a.sum(axis=0) == pytest.approx(found.line_a["L1"]), "parts add up to the fullest line"


def test_the_neutral_is_fullest_while_a_load_rests(profile: Builder) -> None:
    """Heater on L1, cold room on L3, lamps on L2: 20, 10 and 1 A; by hand most flows with the heater alone, 20 A."""
    circuit = Circuit(voltage_v=230.0, layout="three phase", line="L1")
    vessel = profile("Vessel", [(0, 60, 1)], power_w=4600, voltage_v=230)
    others = [
        OtherLoad(name="Lamps", power_w=230.0, line="L2"),
        OtherLoad(name="Cold room", power_w=2300.0, duty=0.5, line="L3"),
    ]
    loads = compose([vessel], circuit, others, START, UTC)
    together = solved(loads, Wires(), (AT_230,))[0].line_a["N"].max()
    # |20 + 1 e^-120 + 10 e^120| by phasors: (20 - 0.5 - 5, -0.866 + 8.66) A
    assert together == pytest.approx((14.5**2 + 7.794**2) ** 0.5, abs=1e-3)
    assert neutral_peak_a(loads, Wires(), AT_230) == pytest.approx(20.0)


def test_the_neutral_is_that_of_the_worst_way_once_the_others_rest(profile: Builder) -> None:
    """A heater on L1 has 16 A beside an oven of 24 kW, less than the 17.5 A of lamps on L2; alone it has more.

    Split phase, 2400 W of 120 V are 6 ohm: 120 / (6 + 2 x 0.2) = 18.75 A.
    """
    circuit = Circuit(rules="nec", voltage_v=240.0, line="L1")
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2400, voltage_v=120)
    others = [OtherLoad(name="Lamps", power_w=2100.0, line="L2"), OtherLoad(name="Oven", power_w=24e3, line="L1-L2")]
    loads = compose([vessel], circuit, others, START, UTC)
    supply = Supply(voltage_v=240.0, nominal_v=240.0)
    wires = Wires(cable_ohm=0.2)
    assert solved(loads, wires, (supply,))[0].place_a[0]["L1"] < 17.5
    assert neutral_peak_a(loads, wires, supply) == pytest.approx(18.75)


STEADY = st.tuples(st.sampled_from(["L1", "L2", "L3", "L1-L2", "L3-L1", "all"]), st.floats(50.0, 4000.0))


@settings(deadline=None, max_examples=60)
@given(st.lists(STEADY, min_size=1, max_size=5), st.sampled_from(["L1", "L2-L3"]), st.floats(0.0, 0.4))
def test_no_way_of_resting_fills_the_neutral_more(placed: list[tuple[str, float]], home: str, cable_ohm: float) -> None:
    """Against every choice of loads that rest, each solved anew, within what the wires' drop makes."""
    circuit = Circuit(voltage_v=230.0, layout="three phase", line=home)
    edges_s = np.array([0.0, 3600.0])
    vessel = LoadProfile(
        name="Vessel",
        edges_s=edges_s,
        mean_w=np.array([2300.0]),
        heater_w_per_v2=np.array([2300 / (230 if home == "L1" else 400) ** 2]),
        other_w=np.zeros(1),
    )
    others = [OtherLoad(name=f"Load {k}", power_w=watts, line=line) for k, (line, watts) in enumerate(placed)]
    wires = Wires(cable_ohm=cable_ohm)
    loads = compose([vessel], circuit, others, START, UTC)
    fullest_a = 0.0
    for kept in product((False, True), repeat=len(loads.appliances)):
        some = tuple(one for one, stays in zip(loads.appliances, kept, strict=True) if stays)
        if some:
            alone = solved(replace(loads, appliances=some), wires, (AT_230,))[0]
            fullest_a = max(fullest_a, float(alone.line_a.get("N", np.zeros(1)).max()))
    assert neutral_peak_a(loads, wires, AT_230) == pytest.approx(fullest_a, rel=0.005, abs=1e-9)


@settings(deadline=None)
@given(st.lists(st.tuples(st.floats(1.0, 60.0), st.floats(0.0, 30.0)), min_size=1, max_size=8), st.floats(1.0, 120.0))
def test_rms_window_against_a_fine_search(steps: list[tuple[float, float]], window: float) -> None:
    """The exact sliding maximum is never below a fine search, and at most a hair above it."""
    edges = np.append(0.0, np.cumsum([length for length, _ in steps]))
    squares = np.array([current for _, current in steps]) ** 2
    integral = np.append(0.0, np.cumsum(squares * np.diff(edges)))
    begins = np.linspace(-window, edges[-1], 4001)
    areas = np.interp(begins + window, edges, integral) - np.interp(begins, edges, integral)
    searched = float(np.sqrt(areas.max() / window))
    exact = rms_over_window_a(edges, squares, window)
    assert exact >= searched - 1e-9
    assert exact**2 <= searched**2 + squares.max() * (edges[-1] + window) / 4000 / window * 2 + 1e-9


def test_longest_run_and_bridges() -> None:
    """Two runs of 60 and 90 s with a gap of 10 s: 90 s, or 160 s when gaps below 15 s are bridged."""
    edges = np.array([0.0, 60.0, 70.0, 160.0, 500.0])
    on = np.array([True, False, True, False])
    assert longest_run_s(edges, on) == (70.0, 90.0)
    assert longest_run_s(edges, on, bridge_s=15.0) == (0.0, 160.0)
    assert longest_run_s(edges, on, bridge_s=10.0) == (70.0, 90.0)
    assert longest_run_s(edges, np.zeros(4, dtype=bool)) == (0.0, 0.0)


def test_lasting_level() -> None:
    """20 A for 2 h then 12 A for 1 h: 12 A last 3 h, 20 A only 2 h, nothing lasts 4 h."""
    edges, amps = np.array([0.0, 7200.0, 10800.0]), np.array([20.0, 12.0])
    assert lasting_level_a(edges, amps, 10800.0) == 12.0
    assert lasting_level_a(edges, amps, 7200.0) == 20.0
    assert lasting_level_a(edges, amps, 14400.0) == 0.0


def test_runs_of_steps_that_meet_are_one() -> None:
    """A gap of nothing breaks no run; one of a bridged length does, and of equal runs the first is told."""
    edges = np.array([0.0, 10.0, 20.0, 25.0, 35.0, 45.0])
    assert longest_run_s(edges, np.array([True, True, False, True, True])) == (0.0, 20.0)
    assert longest_run_s(edges, np.array([True, True, False, True, True]), bridge_s=5.0) == (0.0, 20.0)
    assert longest_run_s(edges, np.array([True, True, False, True, True]), bridge_s=5.1) == (0.0, 45.0)
    assert longest_run_s(edges, np.array([False, True, False, True, True])) == (25.0, 20.0)
    assert longest_run_s(edges, np.ones(5, dtype=bool)) == (0.0, 45.0)


def test_a_level_lasts_to_the_second() -> None:
    """8, 6 and 7 A for an hour each: 6 A last three hours and two, 8 A one; nothing a second more than three."""
    edges, amps = np.array([0.0, 3600.0, 7200.0, 10_800.0]), np.array([8.0, 6.0, 7.0])
    found = [lasting_level_a(edges, amps, seconds) for seconds in (3600.0, 3601.0, 7200.0, 10_800.0, 10_801.0)]
    assert found == [8.0, 6.0, 6.0, 6.0, 0.0]
    assert lasting_level_a(edges, np.zeros(3), 1.0) == 0.0
    bridged = np.array([8.0, 0.0, 7.0])
    assert [lasting_level_a(edges, bridged, 7200.0, gap_s) for gap_s in (3600.0, 3601.0)] == [0.0, 7.0]


@pytest.mark.parametrize("watts", [2.5e-313, 2e-310])
def test_a_current_that_is_only_rounding_is_none(profile: Builder, watts: float) -> None:
    """Next to nothing flows while the elements are off, on several lines: numbers, and no direction of its own."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2645, voltage_v=230)
    pump = profile("Pump", [(60, 90, 1)], power_w=0.0, voltage_v=230, other_w=watts)
    three = Circuit(voltage_between_lines_v=400.0)
    found = solved(compose([vessel, pump], three, (), START, UTC).on("L1"), Wires(cable_ohm=0.25), (AT_230,))[0]
    assert np.isfinite(found.total_a).all()
    assert found.total_a.min() < 1e-300
