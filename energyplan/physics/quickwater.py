"""Polynomials through the releases' equations for water, for the inner loops of the heat balance.

The first two are interpolations in Chebyshev points of a function of `energyplan.physics.water`, made at import.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from energyplan.physics.water import enthalpy_j_per_kg, latent_heat_j_per_kg, specific_heat_j_per_kg_k

__all__ = ["quick_latent_heat_j_per_kg", "quick_specific_heat_j_per_kg_k", "quick_vapour_enthalpy_j_per_kg"]

FloatArray = NDArray[np.float64]

LOW_C, HIGH_C = 0.0, 116.0
MIDDLE_C, HALF_K = (LOW_C + HIGH_C) / 2, (HIGH_C - LOW_C) / 2


def _through(function: Callable[[FloatArray], FloatArray], degree: int) -> tuple[float, ...]:
    """Coefficients from the highest power down, over the range scaled to -1 to 1."""
    points = np.cos(np.pi * (np.arange(degree + 1) + 0.5) / (degree + 1))
    return tuple(np.linalg.solve(np.vander(points), function(MIDDLE_C + HALF_K * points)).tolist())


def _value(coefficients: tuple[float, ...], temperature_c: FloatArray) -> FloatArray:
    x = (temperature_c - MIDDLE_C) * (1 / HALF_K)
    value = coefficients[0] * x + coefficients[1]
    for coefficient in coefficients[2:]:
        value *= x
        value += coefficient
    return value


_SPECIFIC_HEAT = _through(specific_heat_j_per_kg_k, 11)
_LATENT_HEAT = _through(latent_heat_j_per_kg, 8)


def quick_specific_heat_j_per_kg_k(temperature_c: FloatArray) -> FloatArray:
    """Specific heat of liquid water [J/kgK], within 2e-6 of `specific_heat_j_per_kg_k` from 0 to 116 °C."""
    return _value(_SPECIFIC_HEAT, temperature_c)


def quick_latent_heat_j_per_kg(temperature_c: FloatArray) -> FloatArray:
    """Heat of evaporation [J/kg], within 2e-6 of `latent_heat_j_per_kg` from 0 to 116 °C."""
    return _value(_LATENT_HEAT, temperature_c)


def quick_vapour_enthalpy_j_per_kg(temperature_c: FloatArray) -> FloatArray:
    """Enthalpy of saturated vapour [J/kg]: the liquid's and the quick heat of evaporation; ledgers close."""
    return np.asarray(enthalpy_j_per_kg(temperature_c) + quick_latent_heat_j_per_kg(temperature_c))
