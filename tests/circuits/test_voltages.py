"""Voltage bands, drop limits and outlets."""

import pytest

from energyplan.circuits.breakers import OUTLETS, outlets_for
from energyplan.circuits.wiring import (
    buried_carries_a,
    cable_carries_a,
    drop_limit,
    earth_path_ohm,
    extension_carries_a,
    protective_mm2,
    voltage_band,
)
from energyplan.plan.equipment import Circuit, Extension


def test_european_band() -> None:
    """EN 50160: 230 V +10/-10 % is 207 to 253 V; the statutory +10/-6 % (216.2 to 253 V) lies inside (published)."""
    band = voltage_band("iec", 230.0)
    assert (band.low_v, band.high_v) == (pytest.approx(207.0), pytest.approx(253.0))
    assert band.low_v < 216.2 < band.high_v
    assert voltage_band("iec", 253.0).nominal_v == 230.0


def test_north_american_band() -> None:
    """ANSI C84.1 range A: 114 to 126 V and 228 to 252 V (from memory)."""
    assert (voltage_band("nec", 120.0).low_v, voltage_band("nec", 120.0).high_v) == (
        pytest.approx(114),
        pytest.approx(126),
    )
    assert (voltage_band("nec", 240.0).low_v, voltage_band("nec", 240.0).high_v) == (
        pytest.approx(228),
        pytest.approx(252),
    )
    assert voltage_band("nec", 208.0).nominal_v == 208.0


def test_odd_supply_is_its_own_nominal() -> None:
    """100 V belongs to neither list and is taken as nominal."""
    assert voltage_band("iec", 100.0).nominal_v == 100.0
    assert voltage_band("nec", 100.0).high_v == pytest.approx(105.0)


# EN 50160 (published); ANSI C84.1 range A for the nominal voltages of final circuits (from memory).
@pytest.mark.parametrize(("rules", "nominal_v", "low_v", "high_v"), [
    ("iec", 230.0, 207.0, 253.0), ("nec", 120.0, 114.0, 126.0), ("nec", 208.0, 197.6, 218.4),
    ("nec", 240.0, 228.0, 252.0), ("nec", 277.0, 263.15, 290.85), ("nec", 480.0, 456.0, 504.0),
])  # fmt: skip
def test_a_band_ends_where_its_standard_says(rules: str, nominal_v: float, low_v: float, high_v: float) -> None:
    """What is measured at either end still belongs to the supply, half a volt beyond it to none; the band stays."""
    for entered_v in (low_v, nominal_v, high_v):
        band = voltage_band(rules, entered_v)
        assert (band.nominal_v, band.is_known) == (nominal_v, True)
        assert (band.low_v, band.high_v) == (pytest.approx(low_v), pytest.approx(high_v))
    for entered_v in (low_v - 0.5, high_v + 0.5):
        band = voltage_band(rules, entered_v)
        assert (band.nominal_v, band.is_known) == (entered_v, False)
        assert band.low_v < entered_v < band.high_v


def test_a_ring_s_leg_carries_two_thirds_where_it_lies() -> None:
    """BS 7671 433.1.204: 20 A a leg for 32 A of ring; 2.5 mm2 clipped 27 x 1.6 = 43.2 A; in insulation half of it."""
    clipped = Circuit(voltage_v=230.0, installation="C")
    assert cable_carries_a(clipped.model_copy(update={"ring": True}), 2.5) == pytest.approx(27.0 * 32 / 20)
    assert buried_carries_a(Circuit(voltage_v=230.0, installation="E"), 4.0) == pytest.approx(37.0 / 2)
    assert buried_carries_a(Circuit(voltage_v=230.0), 0.75) == 0.0


@pytest.mark.parametrize(("marked_a", "wound_a", "straight", "wound"), [
    (13.0, None, 13.0, 0.35 * 13.0),  # the label is less than the table's 16 A, and the drum takes 65 % of it
    (20.0, None, 16.0, 0.35 * 16.0),
    (None, 8.0, 16.0, 8.0),  # what is printed for the reel goes before its factor
    (6.0, 8.0, 6.0, 6.0),  # and is never more than the lead laid out
])  # fmt: skip
def test_a_lead_carries_the_least_of_label_and_table(
    marked_a: float | None, wound_a: float | None, straight: float, wound: float
) -> None:
    """BS 7671 tables 4F3A and 4F1A for 1.5 mm2 at 30 °C."""
    circuit = Circuit(voltage_v=230.0, ambient_c=30.0)
    lead = Extension(cable_mm2=1.5, length_m=10.0, rating_a=marked_a, rating_wound_a=wound_a)
    assert extension_carries_a(circuit, lead) == pytest.approx(straight)
    assert extension_carries_a(circuit, lead.model_copy(update={"unwound": False})) == pytest.approx(wound)


# Flat cable by BS 6004, table 8 (from memory); above it half the line's, as IEC 60364-5-54 lets thick ones (the same).
@pytest.mark.parametrize(("line_mm2", "earth_mm2"), [
    (1.0, 1.0), (1.5, 1.0), (2.5, 1.5), (4.0, 1.5), (6.0, 2.5), (10.0, 4.0), (16.0, 6.0), (25.0, 12.5), (2.51, 1.5),
    (2.6, 1.5), (4.1, 1.5), (2.08, 1.0), (0.75, 0.75),
])  # fmt: skip
def test_the_usual_protective_conductor(line_mm2: float, earth_mm2: float) -> None:
    """Each size has its own; one between two sizes counts as the smaller; what was entered goes before."""
    circuit = Circuit(voltage_v=230.0, cable_mm2=line_mm2)
    assert protective_mm2(circuit) == earth_mm2
    assert protective_mm2(circuit.model_copy(update={"protective_conductor_mm2": 0.5})) == 0.5


def test_the_path_of_a_fault_goes_there_and_back() -> None:
    """R1 + R2: 20 m of 2.5/1.5 mm2 at 19.51 mohm/m x 1.2 are 0.468 ohm (guides for installers); a quarter of a ring.

    10 m of a 1.5 mm2 lead add 20 m of 13.3 mohm/m (IEC 60228, class 5) x 1.16 warm (290/250 at 60 °C) = 0.31 ohm.
    """
    cable = Circuit(voltage_v=230.0, cable_mm2=2.5, cable_length_m=20.0)
    assert earth_path_ohm(cable) == pytest.approx(0.468, rel=0.005)
    ring = cable.model_copy(update={"ring": True, "cable_length_m": 80.0})
    assert earth_path_ohm(ring) == pytest.approx(0.468, rel=0.005)
    lead = cable.model_copy(update={"extension": Extension(cable_mm2=1.5, length_m=10.0)})
    assert earth_path_ohm(lead) == pytest.approx(0.468 + 0.3085, rel=0.01)
    aluminium = cable.model_copy(update={"conductor": "aluminium"})  # 1.64 times copper (IEC 60228, from memory)
    assert earth_path_ohm(aluminium) == pytest.approx(1.64 * 0.468, rel=0.02)
    for missing in ({"cable_mm2": None}, {"cable_length_m": 0.0}):
        assert earth_path_ohm(cable.model_copy(update=missing)) is None


def test_drop_limits() -> None:
    """BS 7671 appendix 4: 5 % and a rule; NFPA 70 210.19(A) note: 3 % and advice (published reproductions)."""
    assert (drop_limit("iec").limit_frac, drop_limit("iec").binding) == (0.05, True)
    assert (drop_limit("nec").limit_frac, drop_limit("nec").binding) == (0.03, False)


def test_every_outlet_says_how_it_is_known() -> None:
    """Common outlets for each rule set, all with where they are met and how that is known."""
    assert {outlet.rules for outlet in OUTLETS} == {"iec", "nec"}
    assert all(outlet.known and outlet.where for outlet in OUTLETS)


@pytest.mark.parametrize(
    ("rules", "voltage_v", "least_a", "breaker_a", "designations"),
    [
        ("iec", 230.0, 13.0, 16.0, ["BS 1363, 13 A", "CEE 7/3 or 7/5, 16 A", "IEC 60309, 16 A"]),
        ("iec", 230.0, 13.0, 32.0, ["BS 1363, 13 A", "IEC 60309, 32 A"]),  # a fuse in the plug, or rated as the breaker
        ("iec", 230.0, 13.0, 40.0, ["IEC 60309, 63 A"]),  # BS 1363 outlets end at 32 A circuits
        ("iec", 230.0, 22.0, 25.0, ["IEC 60309, 32 A"]),
        ("iec", 230.0, 64.0, 80.0, []),
        ("nec", 120.0, 15.0, 15.0, ["NEMA 5-15"]),
        ("nec", 120.0, 16.0, 20.0, ["NEMA 5-20"]),
        ("nec", 240.0, 35.0, 50.0, ["NEMA 14-50"]),
        ("nec", 120.0, 25.0, 30.0, []),
    ],
)
def test_outlets_that_are_enough(
    rules: str, voltage_v: float, least_a: float, breaker_a: float, designations: list[str]
) -> None:
    """The smallest outlets that bear a current at a voltage and may stand behind a breaker (charts of plugs)."""
    found = outlets_for(rules, voltage_v, least_a, breaker_a)
    assert [outlet.designation for outlet in found] == designations
