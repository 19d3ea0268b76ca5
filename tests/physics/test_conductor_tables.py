"""Every size of the table of conductors, fixed and flexible, and what lies between and below the sizes."""

import pytest

from energyplan.physics.conductors import resistance_ohm_per_m

# IEC 60228, largest resistance at 20 °C [ohm/km]: size, class 2 (table 2), class 5 (table 3), plain copper. From
# memory, written down apart from the code's own reading.
IEC_60228 = [
    (0.5, 36.0, 39.0), (0.75, 24.5, 26.0), (1.0, 18.1, 19.5), (1.5, 12.1, 13.3), (2.5, 7.41, 7.98), (4.0, 4.61, 4.95),
    (6.0, 3.08, 3.30), (10.0, 1.83, 1.91), (16.0, 1.15, 1.21), (25.0, 0.727, 0.780), (35.0, 0.524, 0.554),
    (50.0, 0.387, 0.386), (70.0, 0.268, 0.272), (95.0, 0.193, 0.206), (120.0, 0.153, 0.161), (150.0, 0.124, 0.129),
    (185.0, 0.0991, 0.106), (240.0, 0.0754, 0.0801),
]  # fmt: skip


@pytest.mark.parametrize(("size_mm2", "fixed", "flexible"), IEC_60228)
def test_each_size_of_the_standard(size_mm2: float, fixed: float, flexible: float) -> None:
    """The tabled value at 20 °C, to its last digit, for fixed wiring and for leads."""
    assert resistance_ohm_per_m(size_mm2, 20.0) * 1000 == pytest.approx(fixed, rel=1e-12)
    assert resistance_ohm_per_m(size_mm2, 20.0, flexible=True) * 1000 == pytest.approx(flexible, rel=1e-12)


@pytest.mark.parametrize("flexible", [False, True])
def test_any_size_is_near_the_resistivity_of_copper(flexible: bool) -> None:  # noqa: FBT001
    """Between the sizes too, R A lies above copper's 17.24 ohm mm2/km (1/58, IEC 60028) and not far above it."""
    for size_mm2 in (0.3 * 1.02**step for step in range(330)):
        product = size_mm2 * resistance_ohm_per_m(size_mm2, 20.0, flexible=flexible) * 1000
        assert 1000 / 58 * (1 - 1e-9) <= product < 1.22 * 1000 / 58


def test_between_two_sizes_the_product_is_interpolated() -> None:
    """Halfway from 1.5 to 2.5 mm2, R A is the mean of 18.15 and 18.525 ohm mm2/km (by hand)."""
    assert resistance_ohm_per_m(2.0, 20.0) * 1000 == pytest.approx((18.15 + 18.525) / 2 / 2.0, rel=1e-12)


def test_below_the_smallest_size_the_product_stays() -> None:
    """0.25 mm2 has twice the resistance of 0.5 mm2."""
    assert resistance_ohm_per_m(0.25, 20.0) * 1000 == pytest.approx(72.0, rel=1e-12)
