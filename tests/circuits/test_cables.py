"""Capacities of cables and leads against the tables of two rule sets."""

import math

import numpy as np
import pytest

from energyplan.circuits.cables import (
    ambient_factor,
    breaker_cap_a,
    cable_capacity_a,
    cable_name,
    cable_sizes_mm2,
    flexible_capacity_a,
    grouping_factor,
    wound_capacity_a,
)
from energyplan.circuits.wiring import cable_carries_a, extension_carries_a
from energyplan.day.supply import wires_of
from energyplan.physics.conductors import awg_mm2
from energyplan.plan.model import Circuit, Extension

# BS 7671 table 4D5, flat twin, method C; read in published reproductions.
METHOD_C = [(1.0, 16.0), (1.5, 20.0), (2.5, 27.0), (4.0, 37.0), (6.0, 47.0), (10.0, 64.0)]
# NFPA 70 table 310.16, copper, 60/75/90 °C columns; read in published reproductions.
AMPACITY = [
    (14, 15, 20, 25), (12, 20, 25, 30), (10, 30, 35, 40), (8, 40, 50, 55), (6, 55, 65, 75), (4, 70, 85, 95),
    (3, 85, 100, 115), (2, 95, 115, 130), (1, 110, 130, 145), (0, 125, 150, 170), (-1, 145, 175, 195),
    (-2, 165, 200, 225), (-3, 195, 230, 260),
]  # fmt: skip
# SANS 10142-1:2019 table 6.3(a), multicore PVC, 1 to 16 mm2, by method and loaded conductors: the values of
# IEC 60364-5-52 table B.52.2 and B.52.4; read in a published reproduction. (Its method 1 with two is another cable.)
MULTICORE_MM2 = (1.0, 1.5, 2.5, 4.0, 6.0, 10.0, 16.0)
MULTICORE_A = {
    ("A", 3): (10.0, 13.0, 17.5, 23.0, 29.0, 39.0, 52.0),
    ("B", 2): (13.0, 16.5, 23.0, 30.0, 38.0, 52.0, 69.0),
    ("B", 3): (11.5, 15.0, 20.0, 27.0, 34.0, 46.0, 62.0),
    ("C", 3): (13.5, 17.5, 24.0, 32.0, 41.0, 57.0, 76.0),
    ("E", 2): (17.0, 22.0, 30.0, 40.0, 51.0, 70.0, 94.0),
    ("E", 3): (14.5, 18.5, 25.0, 34.0, 43.0, 60.0, 80.0),
}
# NFPA 70 240.4(D), read in course pages.
SMALL_CONDUCTORS = [(14, 15.0), (12, 20.0), (10, 30.0)]
# BS 7671 table 4B1, 70 °C; 30 to 50 °C read in a published derating page, the others from memory.
AMBIENT = [
    (25.0, 1.03), (30.0, 1.0), (35.0, 0.94), (40.0, 0.87), (45.0, 0.79), (50.0, 0.71), (55.0, 0.61), (60.0, 0.50),
]  # fmt: skip
# NFPA 70 table 310.15(B)(1), 60/75/90 °C; read in a code page that prints the table.
NEC_AMBIENT = [(25.0, 1.08, 1.05, 1.04), (35.0, 0.91, 0.94, 0.96), (40.0, 0.82, 0.88, 0.91), (50.0, 0.58, 0.75, 0.82)]
# BS 7671 table 4C1, bunched; read in cable selection pages.
GROUPS = [
    (1, 1.0),
    (2, 0.80),
    (3, 0.70),
    (4, 0.65),
    (5, 0.60),
    (6, 0.57),
    (7, 0.54),
    (8, 0.52),
    (9, 0.50),
    (12, 0.45),
    (16, 0.41),
    (20, 0.38),
]
# BS 7671 table 4F3A, flexible cords; read in a wholesaler's technical page.
FLEXIBLE = [(0.5, 3.0), (0.75, 6.0), (1.0, 10.0), (1.25, 13.0), (1.5, 16.0), (2.5, 25.0), (4.0, 32.0)]
# The same table and page, three-phase; it prints none for 1.25 mm2.
FLEXIBLE_THREE = [(0.5, 3.0), (0.75, 6.0), (1.0, 10.0), (1.5, 16.0), (2.5, 20.0), (4.0, 25.0)]
# Factors of cords of 60 °C, on the same page; none above 55 °C.
CORD_AMBIENT = [(30.0, 1.0), (35.0, 0.91), (40.0, 0.82), (45.0, 0.71), (50.0, 0.58), (55.0, 0.41), (60.0, 0.0)]


@pytest.mark.parametrize(("size_mm2", "capacity_a"), METHOD_C)
def test_clipped_cable(size_mm2: float, capacity_a: float) -> None:
    """Method C of BS 7671."""
    assert cable_capacity_a("iec", size_mm2, "C") == capacity_a


@pytest.mark.parametrize(("method", "loaded"), MULTICORE_A)
def test_multicore_cable(method: str, loaded: int) -> None:
    """Two and three loaded conductors as the table prints them, row by row."""
    found = tuple(cable_capacity_a("iec", size_mm2, method, loaded=loaded) for size_mm2 in MULTICORE_MM2)
    assert found == MULTICORE_A[method, loaded]


@pytest.mark.parametrize("loaded", [2, 3])
@pytest.mark.parametrize("method", "ABCE")
def test_capacity_is_a_power_of_the_cross_section(method: str, loaded: int) -> None:
    """As IEC 60364-5-52 writes its tables in annex D (from memory): no value is out of its column by more than 3 %."""
    sizes_mm2 = np.array([size for size in cable_sizes_mm2("iec") if cable_capacity_a("iec", size, method)])
    found_a = np.array([cable_capacity_a("iec", size, method, loaded=loaded) for size in sizes_mm2])
    along_a = np.exp(np.polyval(np.polyfit(np.log(sizes_mm2), np.log(found_a), 1), np.log(sizes_mm2)))
    assert found_a == pytest.approx(along_a, rel=0.03)


@pytest.mark.parametrize("size_mm2", [1.5, 2.5, 4.0, 6.0, 10.0, 16.0])
def test_better_cooled_methods_carry_more(size_mm2: float) -> None:
    """Capacity rises from conduit in insulation (A) over conduit (B) and clipped (C) to free air (E)."""
    capacities = [cable_capacity_a("iec", size_mm2, method) or 0.0 for method in "ABCE"]
    assert capacities == sorted(set(capacities))


@pytest.mark.parametrize(("gauge", "at_60", "at_75", "at_90"), AMPACITY)
def test_ampacity(gauge: int, at_60: float, at_75: float, at_90: float) -> None:
    """Table 310.16 of NFPA 70, all three columns."""
    found = [cable_capacity_a("nec", awg_mm2(gauge), column) for column in ("60", "75", "90")]
    assert found == [at_60, at_75, at_90]


@pytest.mark.parametrize(("gauge", "cap_a"), SMALL_CONDUCTORS)
def test_small_conductors(gauge: int, cap_a: float) -> None:
    """Largest breaker on small conductors, and none named from 8 AWG on."""
    assert breaker_cap_a(awg_mm2(gauge)) == cap_a
    assert breaker_cap_a(awg_mm2(8)) is None


def test_thinner_than_the_tables() -> None:
    """A cable thinner than the table has no capacity and no breaker."""
    assert cable_capacity_a("iec", 0.75, "C") is None
    assert cable_capacity_a("nec", awg_mm2(18), "60") is None
    assert breaker_cap_a(awg_mm2(18)) == 0.0
    assert cable_carries_a(Circuit(voltage_v=230.0), 0.75) is None


def test_size_between_two_rows_counts_as_the_smaller() -> None:
    """A 12 AWG cable (3.31 mm2) under IEC tables counts as 2.5 mm2, 2.5 mm2 under NFPA 70 as 14 AWG."""
    assert cable_capacity_a("iec", awg_mm2(12), "C") == 27.0
    assert cable_capacity_a("nec", 2.5, "60") == 15.0


@pytest.mark.parametrize(("ambient_c", "factor"), AMBIENT)
def test_ambient_factor(ambient_c: float, factor: float) -> None:
    """Rating factors of BS 7671, which follow sqrt((70 - t)/40) within 1 %."""
    assert ambient_factor("iec", ambient_c) == factor
    assert ambient_factor("iec", ambient_c - 4.9) == factor, "a step counts from just above the one before"
    assert factor == pytest.approx(math.sqrt((70 - ambient_c) / 40), rel=0.035 if ambient_c < 30 else 0.01)


@pytest.mark.parametrize(("ambient_c", "at_60", "at_75", "at_90"), NEC_AMBIENT)
def test_nec_ambient_factor(ambient_c: float, at_60: float, at_75: float, at_90: float) -> None:
    """Correction factors of NFPA 70, which follow sqrt((T - t)/(T - 30)) within 2 %."""
    for column, factor in (("60", at_60), ("75", at_75), ("90", at_90)):
        limit_c = float(column)
        assert ambient_factor("nec", ambient_c, column) == factor
        assert factor == pytest.approx(math.sqrt((limit_c - ambient_c) / (limit_c - 30)), rel=0.02)


def test_degrees_fahrenheit_meet_the_steps() -> None:
    """86 °F, converted, is the 30 °C of the table and not a hair above it."""
    ambient_c = (86 - 32) / 1.8 + 1e-9
    assert ambient_factor("nec", ambient_c, "60") == 1.0
    assert ambient_factor("iec", ambient_c) == 1.0
    assert flexible_capacity_a("iec", 1.5, 10.0, ambient_c) == 16.0


def test_hotter_than_the_insulation_carries_nothing() -> None:
    """Beyond the end of the table the factor is 0, in every column and for leads."""
    assert ambient_factor("iec", 61.0) == 0.0
    assert ambient_factor("nec", 86.0, "90") == 0.0
    assert ambient_factor("nec", 58.0, "60") == 0.0
    assert flexible_capacity_a("iec", 1.5, 10.0, 56.0) == 0.0


@pytest.mark.parametrize(("circuits", "factor"), GROUPS)
def test_grouping_factor(circuits: int, factor: float) -> None:
    """Bunched circuits of BS 7671."""
    assert grouping_factor("iec", circuits) == factor


# NFPA 70 table 310.15(C)(1): 4 to 6 conductors 80 %, 7 to 9 70 %, 10 to 20 50 %, 21 to 30 45 %, 31 to 40 40 %;
# read in a published reproduction. Two conductors a circuit.
@pytest.mark.parametrize(
    ("circuits", "factor"), [(1, 1.0), (2, 0.8), (3, 0.8), (4, 0.7), (5, 0.5), (11, 0.45), (20, 0.4)]
)
def test_nec_grouping_factor(circuits: int, factor: float) -> None:
    """Adjustment factors of NFPA 70 by the number of circuits."""
    assert grouping_factor("nec", circuits) == factor


@pytest.mark.parametrize("column", ["60", "75", "90"])
@pytest.mark.parametrize("ambient_c", range(10, 90, 5))
def test_nec_ambient_factors_follow_the_heat_that_the_air_takes(column: str, ambient_c: int) -> None:
    """NFPA 70, 310.15(B): the root of what the conductor may be warmer than the air over that at 30 °C (from memory).

    A conductor in air as warm as it may be carries nothing; the table rounds to hundredths. A line of it counts from
    just above the line before.
    """
    limit_c = float(column)
    expected = max((limit_c - ambient_c) / (limit_c - 30.0), 0.0) ** 0.5
    assert ambient_factor("nec", ambient_c, column) == pytest.approx(expected, abs=0.0051)
    if ambient_c > 10:
        assert ambient_factor("nec", ambient_c - 4.9, column) == ambient_factor("nec", ambient_c, column)


def test_bundles_beyond_the_table_s_last_line() -> None:
    """NFPA 70 table 310.15(C)(1), 41 conductors and more: 35 % (from memory)."""
    assert grouping_factor("nec", 21) == 0.35
    assert grouping_factor("nec", 14, 3) == 0.35


def test_untabled_group_counts_as_the_next_larger() -> None:
    """Ten circuits count as twelve, thirteen as sixteen, seventeen as twenty."""
    assert [grouping_factor("iec", circuits) for circuits in (10, 13, 17)] == [0.45, 0.41, 0.38]


def test_three_conductors_fill_a_bundle_sooner() -> None:
    """NFPA 70 table 310.15(C)(1) by conductors: 3, 6, 9, 20, 30 and 40 are each the last of their row."""
    rows = {3: 1.0, 6: 0.8, 9: 0.7, 20: 0.5, 30: 0.45, 40: 0.4}
    assert {count: grouping_factor("nec", count, 1) for count in rows} == rows
    assert [grouping_factor("nec", count + 1, 1) for count in rows] == [*list(rows.values())[1:], 0.35]


# Aluminium over copper: 0.74 to 0.79 of IEC 60364-5-52 table B.52.2 and 0.72 to 0.86 of NFPA 70 table 310.16; the least
# of each stands for all (from memory). NFPA 70 240.4(D): 12 AWG aluminium 15 A, 10 AWG 25 A, 8 AWG no cap (the same).
def test_aluminium_carries_less() -> None:
    """Three quarters of copper, and smaller breakers on its small conductors."""
    assert cable_capacity_a("iec", 16.0, "C", aluminium=True) == pytest.approx(0.74 * 85.0)
    assert cable_capacity_a("nec", awg_mm2(2), "75", aluminium=True) == pytest.approx(0.72 * 115.0)
    assert cable_capacity_a("iec", 0.75, "C", aluminium=True) is None
    assert [breaker_cap_a(awg_mm2(gauge), aluminium=True) for gauge in (14, 12, 10, 8)] == [0.0, 15.0, 25.0, None]
    warm = Circuit(voltage_v=230.0, installation="C", conductor="aluminium", ambient_c=40.0)
    assert cable_carries_a(warm, 16.0) == pytest.approx(0.74 * 85.0 * 0.87)


@pytest.mark.parametrize(("rules", "size_mm2", "method"), [("iec", 2.5, "C"), ("nec", awg_mm2(12), "60")])
def test_a_size_is_met_within_half_a_percent(rules: str, size_mm2: float, method: str) -> None:
    """The last digit of a conversion is no smaller cable; one per cent less is one."""
    whole_a = cable_capacity_a(rules, size_mm2, method)
    assert cable_capacity_a(rules, size_mm2 * 0.996, method) == whole_a
    assert (cable_capacity_a(rules, size_mm2 * 0.99, method) or 0.0) < (whole_a or 0.0)


def test_the_cap_of_small_conductors_ends_at_8_awg() -> None:
    """NFPA 70 240.4(D): a cable as thick as 8 AWG within half a percent has none, a thinner one that of 10 AWG."""
    assert breaker_cap_a(awg_mm2(8) * 0.996) is None
    assert breaker_cap_a(awg_mm2(8) * 0.99) == 30.0


@pytest.mark.parametrize(("size_mm2", "capacity_a"), FLEXIBLE)
def test_flexible_cords(size_mm2: float, capacity_a: float) -> None:
    """Flexible cords of BS 7671."""
    assert flexible_capacity_a("iec", size_mm2, 10.0, 25.0) == capacity_a


@pytest.mark.parametrize(("size_mm2", "capacity_a"), FLEXIBLE_THREE)
def test_flexible_cords_of_three_phases(size_mm2: float, capacity_a: float) -> None:
    """Three loaded conductors warm each other."""
    assert flexible_capacity_a("iec", size_mm2, 10.0, 25.0, loaded=3) == capacity_a


@pytest.mark.parametrize(("ambient_c", "factor"), CORD_AMBIENT)
def test_flexible_cord_in_a_warm_room(ambient_c: float, factor: float) -> None:
    """Table 4F3A, step by step; a step counts from just above the one before."""
    for at_c in (ambient_c, ambient_c - 4.9):
        assert flexible_capacity_a("iec", 1.5, 10.0, at_c) == pytest.approx(16 * factor)


# UL 817: 16 AWG 13 A to 50 ft and 10 A beyond; 15 A needs 14 AWG to 50 ft; 20 A 12 AWG to 50 ft
# (read in a code forum quoting the table).
# The long 14 AWG and the short 10 AWG from memory; the long 12 and 10 AWG as quoted in the forum. 50 ft are 15.24 m.
@pytest.mark.parametrize(
    ("gauge", "short_a", "long_a"), [(16, 13.0, 10.0), (14, 15.0, 13.0), (12, 20.0, 15.0), (10, 25.0, 20.0)]
)
def test_north_american_cord_sets(gauge: int, short_a: float, long_a: float) -> None:
    """Cord sets of UL 817 by gauge, to 50 ft and beyond."""
    assert flexible_capacity_a("nec", awg_mm2(gauge), 15.24, 25.0) == short_a
    assert flexible_capacity_a("nec", awg_mm2(gauge), 15.3, 25.0) == long_a


# NFPA 70 table 400.5(A)(1): two conductors to 12 AWG in an appliance standard quoting the table; the rest from memory.
# A set is no more than the ampacity of its cord: with three conductors 16 and 12 AWG meet it.
@pytest.mark.parametrize(("gauge", "two_a", "three_a"), [
    (18, 10.0, 7.0), (17, 12.0, 9.0), (16, 13.0, 10.0), (14, 15.0, 15.0), (12, 20.0, 20.0), (10, 25.0, 25.0),
    (8, 40.0, 35.0),
])  # fmt: skip
def test_cords_have_the_ampacity_of_their_gauge(gauge: int, two_a: float, three_a: float) -> None:
    """Short sets as used: the smaller of set and ampacity; thinner than the table has none."""
    found = [flexible_capacity_a("nec", awg_mm2(gauge), 5.0, 25.0, loaded=loaded) for loaded in (2, 3)]
    assert found == [two_a, three_a]
    assert flexible_capacity_a("nec", awg_mm2(20), 5.0, 25.0) == 0.0


def test_wound_lead() -> None:
    """BS 7671 table 4F1A note 2: 35 % for four layers on a drum (distributor's page)."""
    assert wound_capacity_a(16.0) == pytest.approx(5.6)


def test_extension_label_and_table() -> None:
    """The smaller of label and table counts; on the reel its own label or the drum factor."""
    circuit = Circuit(voltage_v=230.0, ambient_c=25.0)
    thin = Extension(cable_mm2=1.0, length_m=10.0, rating_a=13.0)
    assert extension_carries_a(circuit, thin) == 10.0
    assert extension_carries_a(circuit, thin.model_copy(update={"rating_a": None})) == 10.0
    assert extension_carries_a(circuit, thin.model_copy(update={"unwound": False})) == pytest.approx(3.5)
    labelled = thin.model_copy(update={"unwound": False, "rating_wound_a": 3.0})
    assert extension_carries_a(circuit, labelled) == 3.0


def test_ambient_and_grouping_multiply() -> None:
    """2.5 mm2 method C at 40 °C with two more circuits: 27 x 0.87 x 0.70 = 16.4 A."""
    circuit = Circuit(voltage_v=230.0, installation="C", ambient_c=40.0, grouped_circuits=3)
    assert cable_carries_a(circuit, 2.5) == pytest.approx(16.443, abs=1e-3)


def test_ring_of_20_a_legs_takes_a_32_a_breaker() -> None:
    """BS 7671 433.1.204: a leg of 20 A is enough for a ring on 32 A (forums quoting the regulation)."""
    ring = Circuit(voltage_v=230.0, installation="A", ring=True)
    assert cable_carries_a(ring, 2.5) == pytest.approx(32.0)


def test_names() -> None:
    """Metric sizes and gauges are named as sold, and each table's sizes rise."""
    assert cable_name(1.5) == "1.5 mm²"
    assert cable_name(awg_mm2(0)) == "1/0 AWG"
    for rules in ("iec", "nec"):
        sizes_mm2 = cable_sizes_mm2(rules)
        assert list(sizes_mm2) == sorted(sizes_mm2)


def test_wiring_of_cable_and_lead() -> None:
    """20 m of 2.5 mm2 at 13 A lose 4.68 V by the 18 mV/A/m of BS 7671 (published reproduction): 2 %."""
    circuit = Circuit(
        voltage_v=230.0, cable_mm2=2.5, cable_length_m=20.0, extension=Extension(cable_mm2=1.5, length_m=25.0)
    )
    wires = wires_of(circuit)
    assert 13.0 * 2 * wires.cable_ohm == pytest.approx(4.68, rel=0.02)
    # BS 7671 table 4F3B: 32 mV/A/m for 1.5 mm2 cord (wholesaler's page); class 5 of IEC 60228 gives 3.6 % less.
    assert 2 * wires.lead_ohm == pytest.approx(25 * 0.032, rel=0.04)


def test_drop_of_a_north_american_run() -> None:
    """12 AWG, 20 A, 100 ft: 2 K I L / cmil = 2 x 12.9 x 20 x 100 / 6530 = 7.90 V (trade formula): 2 %."""
    circuit = Circuit(rules="nec", voltage_v=120.0, cable_mm2=awg_mm2(12), cable_length_m=30.48)
    assert 20.0 * 2 * wires_of(circuit).cable_ohm == pytest.approx(7.90, rel=0.02)
