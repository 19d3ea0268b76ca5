"""The tables of water against the releases' equations that they stand for."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from energyplan.physics import contents as quickwater
from energyplan.physics import water
from energyplan.physics.wort import wort_density_kg_per_m3

temperatures_c = st.floats(quickwater.LOW_C, quickwater.HIGH_C).map(lambda value: np.array([value]))


@given(temperatures_c)
def test_specific_heat_follows_the_release(temperature_c: np.ndarray) -> None:
    """2e-8 asked, 8e-9 seen."""
    exact = water.specific_heat_j_per_kg_k(temperature_c)
    assert quickwater.quick_specific_heat_j_per_kg_k(temperature_c) == pytest.approx(exact, rel=2e-8)


@given(temperatures_c)
def test_heat_of_evaporation_follows_the_release(temperature_c: np.ndarray) -> None:
    """2e-8 asked of both, 1e-8 seen."""
    exact = water.latent_heat_j_per_kg(temperature_c)
    assert quickwater.quick_latent_heat_j_per_kg(temperature_c) == pytest.approx(exact, rel=2e-8)
    whole = water.enthalpy_j_per_kg(temperature_c) + exact
    assert quickwater.quick_vapour_enthalpy_j_per_kg(temperature_c) == pytest.approx(whole, rel=2e-8)


@given(temperatures_c)
def test_stored_heat_follows_the_release(temperature_c: np.ndarray) -> None:
    """1e-3 J/kg asked, 4e-4 seen."""
    exact = water.enthalpy_j_per_kg(temperature_c)
    assert quickwater.quick_enthalpy_j_per_kg(temperature_c) == pytest.approx(exact, abs=1e-3)


@given(temperatures_c, st.floats(0.0, 90.0))
def test_volume_follows_the_density_of_wort(temperature_c: np.ndarray, plato: float) -> None:
    """5e-9 asked, 1e-9 seen."""
    none = np.zeros(1)
    wort = quickwater.Contents(
        water_kg=none + 100 - plato, extract_kg=none + plato, grain_kg=none, grain_j_per_kg_k=none, vessel_j_per_k=none
    )
    exact = 100_000 / wort_density_kg_per_m3(temperature_c, plato)
    assert wort.liquid_l(temperature_c) == pytest.approx(exact, rel=5e-9)


def test_arguments_stay_as_they_are() -> None:
    """The quick functions change nothing that they are given."""
    given_c = np.array([20.0, 66.0])
    quickwater.quick_specific_heat_j_per_kg_k(given_c)
    quickwater.quick_latent_heat_j_per_kg(given_c)
    assert given_c.tolist() == [20.0, 66.0]


@given(st.floats(-60.0, 160.0))
def test_a_bare_number_is_read_as_an_array_of_one(temperature_c: float) -> None:
    """Bit for bit, on the table and beyond both of its ends: the steps of a single day are bare numbers."""
    many = np.array([temperature_c, 20.0])
    for quick in (
        quickwater.quick_specific_heat_j_per_kg_k,
        quickwater.quick_latent_heat_j_per_kg,
        quickwater.quick_vapour_enthalpy_j_per_kg,
        quickwater.quick_enthalpy_j_per_kg,
    ):
        alone = quick(many[0])
        assert np.ndim(alone) == 0
        assert alone == quick(many)[0]


def test_no_number_is_in_no_cell() -> None:
    """A number that is none stays none, alone and among others, instead of ending in an error about an index."""
    assert np.isnan(quickwater.quick_enthalpy_j_per_kg(np.float64(np.nan)))
    assert quickwater.cell(np.float64(np.nan), 9.0) == 0
    assert [quickwater.cell(np.float64(place), 9.0) for place in (-1.0, 0.0, 8.9, 9.0, 12.0)] == [0, 0, 8, 9, 9]
    assert quickwater.cell(np.array([-1.0, 0.0, 8.9, 9.0, 12.0]), 9.0).tolist() == [0, 0, 8, 9, 9]
