"""Breakers and plug fuses against their standards."""

import math

import pytest

from energyplan.circuits.breakers import (
    breaker_zone,
    greatest_loop_ohm,
    instantaneous_from_a,
    nec_earth_awg,
    outlets_for,
    plug_fuse,
    sizes_a,
)
from energyplan.circuits.wiring import earth_path_ohm, protective_mm2
from energyplan.plan.equipment import Circuit

# IEC 60898-1, table 7: 1.13 In carried for an hour, 1.45 In trips within an hour, 2.55 In within 60 s (to 32 A);
# read in published reproductions (standards summary pages).
ZONES = [
    (1.0, "carried"),
    (1.13, "carried"),
    (1.14, "may trip within an hour"),
    (1.44, "may trip within an hour"),
    (1.45, "trips within an hour"),
    (2.54, "trips within an hour"),
    (2.55, "trips within minutes"),
]


@pytest.mark.parametrize(("multiple", "zone"), ZONES)
@pytest.mark.parametrize("rating_a", [6.0, 16.0, 32.0])
def test_iec_zones(multiple: float, zone: str, rating_a: float) -> None:
    """The zones change at the multiples of the standard, at any rating."""
    assert breaker_zone(multiple * rating_a, rating_a) == zone


# IEC 60269-1: a gG fuse of 16 to 63 A carries 1.25 In and blows at 1.6 In within the hour; BS 3036: 1.5 and 2 In
# (both from memory; where a gG fuse blows within minutes is taken as for breakers, common practice, no source).
FUSE_ZONES = {"gG": (1.25, 1.6, 2.55), "BS 3036": (1.25, 1.5, 2.0)}


@pytest.mark.parametrize("rules", ["iec", "nec"])
@pytest.mark.parametrize("kind", FUSE_ZONES)
def test_a_fuse_has_zones_of_its_own(kind: str, rules: str) -> None:
    """Up to each multiple one zone, from it on the next; a fuse carries what a breaker would not."""
    carried, hour, minutes = FUSE_ZONES[kind]
    multiples = (carried, carried + 0.01, hour - 0.01, hour, minutes - 0.01, minutes)
    found = [breaker_zone(multiple * 30.0, 30.0, rules, kind) for multiple in multiples]
    assert found == [ZONES[number][1] for number in (0, 2, 2, 4, 4, 6)]


@pytest.mark.parametrize(
    ("multiple", "zone"), [(1.0, ZONES[0][1]), (1.01, ZONES[2][1]), (1.35, ZONES[4][1]), (2.0, ZONES[6][1])]
)
def test_nec_zones(multiple: float, zone: str) -> None:
    """UL 489: 100 % carried, 135 % trips within an hour, 200 % within minutes (from memory)."""
    assert breaker_zone(multiple * 20.0, 20.0, "nec") == zone


# IEC 60898-1, table 2: B 3 to 5, C 5 to 10, D 10 to 20 In; read in a published reproduction.
@pytest.mark.parametrize(("curve", "multiple"), [("B", 3.0), ("C", 5.0), ("D", 10.0)])
def test_instantaneous_zone_begins(curve: str, multiple: float) -> None:
    """The lower end of the instantaneous zone is that of the curve."""
    assert instantaneous_from_a(16.0, curve) == 16.0 * multiple


def test_inverse_time_breakers_have_no_standard_instantaneous_zone() -> None:
    """An inverse-time breaker's instantaneous trip is its maker's."""
    assert instantaneous_from_a(20.0, "inverse") is None


def test_plug_fuse_of_13_a() -> None:
    """BS 1362: 20.8 A carried for 30 min, 24.7 A blows within 30 min (read in a published reproduction)."""
    fuse = plug_fuse(13.0)
    assert fuse.carries_a == pytest.approx(20.8, abs=1e-9)
    assert fuse.blows_a == pytest.approx(24.7, abs=1e-9)


def test_standard_sizes() -> None:
    """NFPA 70 240.6(A) sizes to 125 A (published reproduction); IEC 60898-1 preferred sizes (from memory)."""
    assert sizes_a("nec") == (15, 20, 25, 30, 35, 40, 45, 50, 60, 70, 80, 90, 100, 110, 125)
    assert sizes_a("iec") == (6, 10, 13, 16, 20, 25, 32, 40, 50, 63, 80, 100, 125)


# NFPA 70, table 250.122, copper (charts that print the table): to 15 A 14 AWG, 20 A 12, 60 A 10, 100 A 8, 200 A 6.
@pytest.mark.parametrize(("to_a", "gauge", "next_gauge"), [
    (15.0, 14, 12), (20.0, 12, 10), (60.0, 10, 8), (100.0, 8, 6), (200.0, 6, None),
])  # fmt: skip
def test_equipment_grounding_conductor(to_a: float, gauge: int, next_gauge: int | None) -> None:
    """Each row reaches to its own breaker and no further; beyond the table no gauge is named."""
    assert (nec_earth_awg(to_a), nec_earth_awg(to_a + 0.1)) == (gauge, next_gauge)


# NFPA 70, table 210.21(B)(3) (published reproduction): 15 A circuit, outlets to 15 A; 20 A, 15 or 20 A; 30 A, 30 A;
# 40 A, 40 or 50 A; 50 A, 50 A. 210.21(B)(1): a single outlet is rated at least as its circuit.
@pytest.mark.parametrize(("breaker_a", "voltage_v", "several", "single"), [
    (15.0, 120.0, "NEMA 5-15", "NEMA 5-15"),
    (20.0, 120.0, "NEMA 5-15", "NEMA 5-20"),
    (15.0, 240.0, "NEMA 6-15", "NEMA 6-15"),
    (20.0, 208.0, "NEMA 6-15", "NEMA 6-20"),
    (25.0, 240.0, "", "NEMA L6-30, NEMA 14-30"),
    (30.0, 240.0, "NEMA L6-30, NEMA 14-30", "NEMA L6-30, NEMA 14-30"),
    (35.0, 240.0, "", "NEMA 14-50"),
    (40.0, 240.0, "NEMA 14-50", "NEMA 14-50"),
    (50.0, 240.0, "NEMA 14-50", "NEMA 14-50"),
    (60.0, 240.0, "", ""),
    (20.0, 277.0, "", ""),
])  # fmt: skip
def test_american_outlets_behind_a_breaker(breaker_a: float, voltage_v: float, several: str, single: str) -> None:
    """A 10 A load: one of several outlets may be smaller than its 20 A circuit, the only one may not."""
    found = [
        ", ".join(one.designation for one in outlets_for("nec", voltage_v, 10.0, breaker_a, single=alone))
        for alone in (False, True)
    ]
    assert found == [several, single]


def test_outlets_have_the_lines_that_the_vessel_draws_from() -> None:
    """One line takes an American outlet of two as well, two lines none of one; three lines have five poles or none."""
    one, two = (outlets_for("nec", volts, 10.0, 15.0, poles=2) for volts in (120.0, 240.0))
    assert ([found.designation for found in one], [found.designation for found in two]) == ([], ["NEMA 6-15"])
    assert outlets_for("nec", 208.0, 10.0, 15.0, poles=3) == ()
    for poles in (2, 3):  # of three phases at 230 V to neutral
        (red,) = outlets_for("iec", 400.0, 20.0, 32.0, poles=poles)
        assert red.designation == "IEC 60309, 32 A, five poles"
    blue = outlets_for("iec", 230.0, 20.0, 32.0)
    assert [found.designation for found in blue] == ["IEC 60309, 32 A"]


# BS 7671:2018, table 41.3 (published reproductions; B 6 to C 63 as printed, to two decimals).
TABLE_41_3 = {
    "B": {6: 7.28, 10: 4.37, 16: 2.73, 20: 2.19, 25: 1.75, 32: 1.37, 40: 1.09, 50: 0.87, 63: 0.69},
    "C": {6: 3.64, 10: 2.19, 16: 1.37, 20: 1.09, 25: 0.87, 32: 0.68, 40: 0.55, 50: 0.44, 63: 0.35},
    "D": {6: 1.82, 10: 1.09, 16: 0.68, 20: 0.55, 25: 0.44, 32: 0.34, 40: 0.27, 50: 0.22, 63: 0.17},
}


@pytest.mark.parametrize("curve", TABLE_41_3)
def test_greatest_loop_impedance_to_its_last_digit(curve: str) -> None:
    """Zs = 0.95 x 230 / (5, 10, 20 In); a half in the third decimal is rounded up, as the table is."""
    for rating_a, printed_ohm in TABLE_41_3[curve].items():
        found_ohm = greatest_loop_ohm(float(rating_a), curve)
        assert found_ohm is not None
        assert math.floor(found_ohm * 100 + 0.5 + 1e-9) / 100 == printed_ohm, rating_a


# Two-core-and-earth cable, mΩ/m at 20 °C (published values of R1 + R2: guides for installers).
R1_R2 = [
    ((1.0, 1.0), 36.20),
    ((1.5, 1.0), 30.20),
    ((2.5, 1.5), 19.51),
    ((4.0, 1.5), 16.71),
    ((6.0, 2.5), 10.49),
    ((10.0, 4.0), 6.44),
]


@pytest.mark.parametrize(("sizes_mm2", "mohm_per_m"), R1_R2)
def test_line_and_protective_conductor(sizes_mm2: tuple[float, float], mohm_per_m: float) -> None:
    """R1 + R2 of six cables at 70 °C are 1.2 times the values at 20 °C; the earth is the usual one of flat cable."""
    line_mm2, earth_mm2 = sizes_mm2
    circuit = Circuit(voltage_v=230.0, cable_mm2=line_mm2, cable_length_m=10.0)
    assert protective_mm2(circuit) == earth_mm2
    assert earth_path_ohm(circuit) == pytest.approx(10 * mohm_per_m * 1.2 / 1000, rel=0.02)


# BS 7671:2018, table 41.2 (published reproductions: two program sources that print it alike, and a course question
# whose answer is 0.99 ohm for 32 A of BS 88-2).
TABLE_41_2 = {
    "gG": "6 7.80, 10 4.65, 16 2.43, 20 1.68, 25 1.29, 32 0.99, 40 0.75, 50 0.57, 63 0.44",
    "BS 3036": "5 9.10, 15 2.43, 20 1.68, 30 1.04, 45 0.56, 60 0.40",
}


@pytest.mark.parametrize("kind", TABLE_41_2)
def test_greatest_loop_impedance_of_fuses_as_printed(kind: str) -> None:
    """Every rating of the table; the larger the fuse the lower; none between."""
    rows = [[float(number) for number in row.split()] for row in TABLE_41_2[kind].split(", ")]
    found = [greatest_loop_ohm(rating_a, kind) for rating_a, _ in rows]
    assert found == [printed_ohm for _, printed_ohm in rows]
    assert found == sorted(found, reverse=True)
    assert greatest_loop_ohm(35.0, kind) is None
