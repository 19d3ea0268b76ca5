"""Breakers and plug fuses against their standards."""

import pytest

from energyplan.circuits.breakers import breaker_zone, instantaneous_from_a, plug_fuse, sizes_a

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
    """NFPA 70 240.6(A) sizes to 60 A (published reproduction); IEC 60898-1 preferred sizes to 63 A (from memory)."""
    assert [a for a in sizes_a("nec") if a <= 60] == [15, 20, 25, 30, 35, 40, 45, 50, 60]
    assert [a for a in sizes_a("iec") if a <= 63] == [6, 10, 13, 16, 20, 25, 32, 40, 50, 63]
