"""Voltage bands, drop limits and outlets."""

import pytest

from energyplan.circuits.breakers import OUTLETS, outlets_for
from energyplan.circuits.wiring import drop_limit, voltage_band


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
