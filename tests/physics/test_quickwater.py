"""The quick polynomials against the releases' equations that they stand for."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from energyplan.physics import contents as quickwater
from energyplan.physics import water

temperatures_c = st.floats(quickwater.LOW_C, quickwater.HIGH_C).map(lambda value: np.array([value]))


@given(temperatures_c)
def test_specific_heat_follows_the_release(temperature_c: np.ndarray) -> None:
    """2e-7 asked, 1e-7 seen."""
    exact = water.specific_heat_j_per_kg_k(temperature_c)
    assert quickwater.quick_specific_heat_j_per_kg_k(temperature_c) == pytest.approx(exact, rel=2e-7)


@given(temperatures_c)
def test_heat_of_evaporation_follows_the_release(temperature_c: np.ndarray) -> None:
    """2e-7 asked of both, 8e-8 seen."""
    exact = water.latent_heat_j_per_kg(temperature_c)
    assert quickwater.quick_latent_heat_j_per_kg(temperature_c) == pytest.approx(exact, rel=2e-7)
    whole = water.vapour_enthalpy_j_per_kg(temperature_c)
    assert quickwater.quick_vapour_enthalpy_j_per_kg(temperature_c) == pytest.approx(whole, rel=2e-7)


def test_arguments_stay_as_they_are() -> None:
    """The quick functions work in place on arrays of their own only."""
    given_c = np.array([20.0, 66.0])
    quickwater.quick_specific_heat_j_per_kg_k(given_c)
    quickwater.quick_latent_heat_j_per_kg(given_c)
    assert given_c.tolist() == [20.0, 66.0]
