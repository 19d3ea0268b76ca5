"""What is in the vessel: stored heat, volumes, and the temperature that a stored heat means."""

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from energyplan.physics.contents import GRAIN_DISPLACES_L_PER_KG, Contents
from energyplan.physics.wort import plato_from_gravity

masses_kg = st.floats(0.0, 60.0)


def contents(
    *, water: float = 0.0, extract: float = 0.0, grain: float = 0.0, grain_j: float = 1675.0, vessel: float = 5000.0
) -> Contents:
    """Contents of one draw."""
    return Contents(
        water_kg=np.array([water]), extract_kg=np.array([extract]), grain_kg=np.array([grain]),
        grain_j_per_kg_k=np.array([grain_j]), vessel_j_per_k=np.array([vessel]),
    )  # fmt: skip


@given(masses_kg, st.floats(0.0, 6.0), st.floats(0.0, 12.0), st.floats(1.0, 100.0))
def test_capacity_is_the_slope_of_stored_heat(water: float, extract: float, grain: float, at_c: float) -> None:
    """dH/dT = C by a central difference, to 1e-6."""
    inside, here_c = contents(water=water, extract=extract, grain=grain), np.array([at_c])
    rise_j = inside.enthalpy_j(here_c + 1e-3) - inside.enthalpy_j(here_c - 1e-3)
    assert rise_j[0] / 2e-3 == pytest.approx(inside.capacity_j_per_k(here_c)[0], rel=1e-6)


def test_water_stores_what_iapws95_says() -> None:
    """25 kg of water and 10 kg of steel from 10 to 66 °C: CoolProp 8 and 0.5 kJ/kgK; 0.05 %."""
    inside = contents(water=25.0, vessel=5000.0)
    reference_j = 5000 * 56 + 25 * (
        PropsSI("H", "T", 339.15, "P", 1e5, "Water") - PropsSI("H", "T", 283.15, "P", 1e5, "Water")
    )
    stored_j = inside.enthalpy_j(np.array([66.0])) - inside.enthalpy_j(np.array([10.0]))
    assert stored_j[0] == pytest.approx(reference_j, rel=5e-4)


def test_heats_add_up_by_hand() -> None:
    """Grain 5 kg of 1675 J/kgK and steel of 5000 J/K: 13375 J/K beside no water at all."""
    inside = contents(grain=5.0)
    assert inside.capacity_j_per_k(np.array([50.0]))[0] == pytest.approx(13_375.0)
    assert inside.dry_capacity_j_per_k[0] == pytest.approx(13_375.0)


def test_extract_shows_as_gravity() -> None:
    """1.23876 kg of extract in 10 kg of wort are the 12.388 °P of 1.050 (ASBC cubic)."""
    inside = contents(water=10 - 1.23876, extract=1.23876)
    assert inside.plato[0] == pytest.approx(float(plato_from_gravity(1.050)), abs=0.002)
    assert inside.liquid_kg[0] == pytest.approx(10.0)


def test_an_empty_vessel_has_no_extract() -> None:
    """Nothing over nothing is nought, not a number that is none."""
    assert contents().plato[0] == 0.0
    assert contents().liquid_l(20.0)[0] == 0.0


def test_volumes_grow_with_temperature() -> None:
    """30 kg of water: 30.05 L at 20 °C, 31.30 L at 99 °C (densities from CoolProp 8)."""
    inside = contents(water=30.0)
    for at_c, density in ((20.0, 998.21), (99.0, 959.07)):
        assert inside.liquid_l(at_c)[0] == pytest.approx(30_000 / density, rel=1e-4)


def test_grain_takes_room() -> None:
    """Two thirds of a litre per kg beside the liquid (common practice, no source: 0.6 to 0.75)."""
    here_c = np.array([66.0])
    gap_l = contents(water=20.0, grain=5.0).filled_l(here_c) - contents(water=20.0).filled_l(here_c)
    assert gap_l[0] == pytest.approx(5 * GRAIN_DISPLACES_L_PER_KG)
    assert 3.0 <= gap_l[0] <= 3.75


def test_vapour_takes_water_only() -> None:
    """What leaves as vapour leaves the extract and the grain behind."""
    left = contents(water=20.0, extract=3.0, grain=1.0).less_water(np.array([2.0]))
    assert (left.water_kg[0], left.extract_kg[0], left.grain_kg[0]) == (18.0, 3.0, 1.0)


@given(masses_kg, st.floats(0.0, 6.0), st.floats(0.0, 12.0), st.floats(0.0, 105.0), st.floats(0.0, 105.0))
def test_the_temperature_is_found_again(
    water: float, extract: float, grain: float, at_c: float, guess_c: float
) -> None:
    """Solving for a stored heat returns its temperature to 1e-8 K, from any guess."""
    inside = contents(water=water, extract=extract, grain=grain)
    found_c = inside.temperature_c(inside.enthalpy_j(np.array([at_c])), np.array([guess_c]))
    assert found_c[0] == pytest.approx(at_c, abs=1e-8)


def test_every_draw_is_solved() -> None:
    """Draws with the answer at the guess, near it and far from it, together."""
    inside = contents(water=20.0)
    wanted_c = np.array([20.0, 21.0, 99.0])
    found_c = inside.temperature_c(inside.enthalpy_j(wanted_c), np.full(3, 20.0))
    assert found_c == pytest.approx(wanted_c, abs=1e-9)


def test_a_draw_that_is_found_stays_while_others_are_still_sought() -> None:
    """Draws from -25 to 100 °C at once: each to 1e-8 K, none lost to a division by nothing."""
    temperatures_c = np.linspace(-25.0, 100.0, 2001)
    none = np.zeros_like(temperatures_c)
    one = Contents(
        water_kg=none + 12.0, extract_kg=none, grain_kg=none, grain_j_per_kg_k=none, vessel_j_per_k=none + 5000.0
    )
    found_c = one.temperature_c(one.enthalpy_j(temperatures_c), none + 15.0)
    np.testing.assert_allclose(found_c, temperatures_c, atol=1e-8)
