"""Air: conductivity, viscosity, Prandtl number from the standard atmosphere's formulas; moist air as an ideal gas."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from energyplan.base.constants import GAS_CONSTANT_AIR_J_PER_KG_K, GAS_CONSTANT_WATER_J_PER_KG_K, ZERO_CELSIUS_K

__all__ = [
    "air_conductivity_w_per_m_k",
    "air_kinematic_viscosity_m2_per_s",
    "air_prandtl",
    "dry_air_density_kg_per_m3",
    "ideal_vapour_density_kg_per_m3",
]

FloatArray = NDArray[np.float64]

AIR_SPECIFIC_HEAT_J_PER_KG_K = 1007.0  # 0 to 80 °C within 0.2 %; Incropera, table A.4 (from memory)


def _kelvin(temperature_c: ArrayLike) -> FloatArray:
    return np.asarray(temperature_c, dtype=float) + ZERO_CELSIUS_K


def _viscosity_pa_s(kelvin: FloatArray) -> FloatArray:
    return np.asarray(1.458e-6 * kelvin**1.5 / (kelvin + 110.4))


def air_conductivity_w_per_m_k(temperature_c: ArrayLike) -> FloatArray:
    """Thermal conductivity of air [W/mK] at a temperature [°C].

    Notes
    -----
    Valid -50 to 150 °C within 1 %.

    References
    ----------
    U.S. Standard Atmosphere 1976, eq. 53 (from memory; checked against CoolProp in the tests).

    Examples
    --------
    >>> round(float(air_conductivity_w_per_m_k(26.85)), 4)
    0.0263
    """
    kelvin = _kelvin(temperature_c)
    return np.asarray(2.64638e-3 * kelvin**1.5 / (kelvin + 245.4 * 10 ** (-12 / kelvin)))


def air_kinematic_viscosity_m2_per_s(temperature_c: ArrayLike, pressure_pa: ArrayLike) -> FloatArray:
    """Kinematic viscosity of air [m2/s] at a temperature [°C] and pressure [Pa].

    Notes
    -----
    Sutherland's law over the density of an ideal gas. Valid -50 to 150 °C within 1 %.

    References
    ----------
    U.S. Standard Atmosphere 1976, eq. 51 (from memory; checked against CoolProp in the tests).

    Examples
    --------
    >>> round(float(air_kinematic_viscosity_m2_per_s(26.85, 101_325.0)) * 1e6, 2)
    15.69
    """
    kelvin = _kelvin(temperature_c)
    density = np.asarray(pressure_pa, dtype=float) / (GAS_CONSTANT_AIR_J_PER_KG_K * kelvin)
    return np.asarray(_viscosity_pa_s(kelvin) / density)


def air_prandtl(temperature_c: ArrayLike) -> FloatArray:
    """Prandtl number of air at a temperature [°C], from its viscosity, specific heat and conductivity.

    Examples
    --------
    >>> round(float(air_prandtl(26.85)), 3)
    0.708
    """
    viscosity = _viscosity_pa_s(_kelvin(temperature_c))
    return np.asarray(AIR_SPECIFIC_HEAT_J_PER_KG_K * viscosity / air_conductivity_w_per_m_k(temperature_c))


def dry_air_density_kg_per_m3(
    temperature_c: ArrayLike, pressure_pa: ArrayLike, vapour_pressure_pa: ArrayLike
) -> FloatArray:
    """Mass of dry air in a cubic metre of moist air.

    Parameters
    ----------
    temperature_c : array_like
        Temperature [°C].
    pressure_pa, vapour_pressure_pa : array_like
        Total pressure and partial pressure of the vapour [Pa]; the vapour's may not exceed the total.

    Returns
    -------
    ndarray
        Density [kg dry air per m3 of moist air], broadcast shape.

    Notes
    -----
    Ideal gas, which errs by less than 0.5 % below 100 °C.

    Examples
    --------
    >>> round(float(dry_air_density_kg_per_m3(20.0, 101_325.0, 0.0)), 3)
    1.204
    """
    partial_pa = np.asarray(pressure_pa, dtype=float) - np.asarray(vapour_pressure_pa, dtype=float)
    return np.asarray(np.maximum(partial_pa, 0.0) / (GAS_CONSTANT_AIR_J_PER_KG_K * _kelvin(temperature_c)))


def ideal_vapour_density_kg_per_m3(temperature_c: ArrayLike, vapour_pressure_pa: ArrayLike) -> FloatArray:
    """Mass of vapour in a cubic metre of moist air, as an ideal gas [kg/m3]."""
    return np.asarray(
        np.asarray(vapour_pressure_pa, dtype=float) / (GAS_CONSTANT_WATER_J_PER_KG_K * _kelvin(temperature_c))
    )
