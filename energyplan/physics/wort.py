"""Wort and malt: extract, density, stored heat, boiling-point rise, the heat balance of mashing in."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from energyplan.base.constants import MOLAR_MASS_MALTOSE_KG_PER_MOL
from energyplan.physics.water import density_kg_per_m3, enthalpy_j_per_kg

__all__ = [
    "boiling_point_rise_k",
    "extract_enthalpy_j_per_kg",
    "extract_lack_j_per_kg",
    "extract_lack_j_per_kg_k",
    "gravity_from_plato",
    "malt_specific_heat_j_per_kg_k",
    "plato_from_gravity",
    "slaking_heat_j_per_kg",
    "wort_density_kg_per_m3",
]

FloatArray = NDArray[np.float64]

CALORIE_J_PER_KG_K = 4186.8  # international calorie per gram and kelvin
EBULLIOSCOPIC_K_KG_PER_MOL = 0.513  # of water at 1 atm
# Slaking correction of the mash by malt moisture, read for a mash of 2.68 litres per kg.
_MOISTURE_FRAC = (0.0, 0.01, 0.02, 0.04, 0.06, 0.08)
_SLAKING_K = (3.0, 2.8, 2.3, 1.5, 1.3, 1.0)
_SLAKING_L_PER_KG = 2.68


def plato_from_gravity(gravity: ArrayLike) -> FloatArray:
    """Extract of a wort from its specific gravity.

    Parameters
    ----------
    gravity : array_like
        Specific gravity 20/20 °C.

    Returns
    -------
    ndarray
        Extract [°P = kg per 100 kg of wort], same shape.

    Notes
    -----
    Cubic fit; valid 1.000 to 1.130, and below zero at exactly 1.000 by 0.003 °P, which is taken as zero.

    References
    ----------
    American Society of Brewing Chemists, cubic of the extract tables, as reproduced in the
    encyclopedia article "Brix".

    Examples
    --------
    >>> round(float(plato_from_gravity(1.050)), 2)
    12.39
    """
    s = np.asarray(gravity, dtype=float)
    return np.asarray(np.maximum(((135.997 * s - 630.272) * s + 1111.14) * s - 616.868, 0.0))


def gravity_from_plato(plato: ArrayLike) -> FloatArray:
    """Specific gravity 20/20 °C of a wort from its extract [°P]: the inverse of `plato_from_gravity`.

    Notes
    -----
    Newton's method, to 1e-12. Valid 0 to 30 °P.

    Examples
    --------
    >>> round(float(gravity_from_plato(12.0)), 4)
    1.0484
    """
    wanted = np.asarray(plato, dtype=float)
    s = 1 + wanted / (258.6 - 0.88 * wanted)
    for _ in range(2):
        value = ((135.997 * s - 630.272) * s + 1111.14) * s - 616.868
        s = s - (value - wanted) / ((3 * 135.997 * s - 2 * 630.272) * s + 1111.14)
    return np.asarray(np.maximum(s, 1.0))


def wort_density_kg_per_m3(temperature_c: ArrayLike, plato: ArrayLike) -> FloatArray:
    """Density of wort.

    Parameters
    ----------
    temperature_c, plato : array_like
        Temperature [°C] and extract [°P].

    Returns
    -------
    ndarray
        Density [kg/m3], broadcast shape.

    Notes
    -----
    The gravity at 20 °C times the density of water: wort is taken to expand as water does. Within
    0.1 % of sugar solutions to 80 °C and 20 °P.

    Examples
    --------
    >>> round(float(wort_density_kg_per_m3(66.0, 12.0)), 1)
    1027.4
    """
    return np.asarray(gravity_from_plato(plato) * density_kg_per_m3(temperature_c))


def extract_lack_j_per_kg_k(temperature_c: ArrayLike) -> FloatArray:
    """By how much the specific heat of dissolved extract is less than that of water [J/kgK].

    Notes
    -----
    The relation for sugar solutions, c_p = c_water - (0.0297 - 4.6e-5 q - 7.5e-5 t) Bx [kJ/kgK] with
    the purity q = 100 %, is linear in the extract, so extract and water store heat side by side.
    Valid 0 to 100 °C, 0 to 30 °P, within 1.5 %.

    References
    ----------
    Bubnik et al., Sugar Technologists Manual, 8th ed. (from memory).
    """
    return 2510.0 - 7.5 * np.asarray(temperature_c, dtype=float)


def extract_lack_j_per_kg(temperature_c: ArrayLike) -> FloatArray:
    """By how much a kilogram of dissolved extract stores less heat than water, from 0 °C [J/kg]."""
    t: FloatArray = np.asarray(temperature_c, dtype=float)
    return (2510.0 - 3.75 * t) * t


def extract_enthalpy_j_per_kg(temperature_c: ArrayLike) -> FloatArray:
    """Heat stored in a kilogram of dissolved extract [J/kg]: the integral of its specific heat from 0 °C."""
    return np.asarray(enthalpy_j_per_kg(temperature_c) - extract_lack_j_per_kg(temperature_c))


def boiling_point_rise_k(plato: ArrayLike) -> FloatArray:
    """How much higher wort boils than water.

    Parameters
    ----------
    plato : array_like
        Extract [°P].

    Returns
    -------
    ndarray
        Rise [K], same shape.

    Notes
    -----
    Ebullioscopy with the extract counted as disaccharide: 0.513 K kg/mol times the molality.
    Valid 0 to 25 °P, within 0.05 K.

    References
    ----------
    Ebullioscopic constant of water: CRC Handbook of Chemistry and Physics (from memory).

    Examples
    --------
    >>> round(float(boiling_point_rise_k(12.0)), 2)
    0.2
    """
    share = np.asarray(plato, dtype=float) / 100
    return np.asarray(EBULLIOSCOPIC_K_KG_PER_MOL * share / (1 - share) / MOLAR_MASS_MALTOSE_KG_PER_MOL)


def malt_specific_heat_j_per_kg_k(moisture_frac: ArrayLike) -> FloatArray:
    """Specific heat of malt.

    Parameters
    ----------
    moisture_frac : array_like
        Moisture as a share of the malt's mass, 0 to 0.08.

    Returns
    -------
    ndarray
        Specific heat [J/kgK], same shape.

    Notes
    -----
    0.38 of water's for dry malt, 0.42 at 8 % moisture, straight between and beyond.

    References
    ----------
    Pauls & Whites Brewing Room Book 1984/85, appendix 4 (table as published).

    Examples
    --------
    >>> round(float(malt_specific_heat_j_per_kg_k(0.04)))
    1675
    """
    return np.asarray(CALORIE_J_PER_KG_K * (0.38 + 0.5 * np.asarray(moisture_frac, dtype=float)))


def slaking_heat_j_per_kg(moisture_frac: ArrayLike) -> FloatArray:
    """Heat that malt sets free when it is wetted.

    Parameters
    ----------
    moisture_frac : array_like
        Moisture as a share of the malt's mass, 0 to 0.2; above 0.08 the value at 0.08 is used.

    Returns
    -------
    ndarray
        Heat [J per kg of malt], same shape.

    Notes
    -----
    The published correction in kelvin, times the heat capacity of the mash for which it is given.

    References
    ----------
    Pauls & Whites Brewing Room Book 1984/85, appendix 4 (table as published).

    Examples
    --------
    >>> round(float(slaking_heat_j_per_kg(0.04)) / 1000, 1)
    19.3
    """
    moisture = np.asarray(moisture_frac, dtype=float)
    rise_k = np.interp(moisture, _MOISTURE_FRAC, _SLAKING_K)
    return np.asarray(rise_k * (malt_specific_heat_j_per_kg_k(moisture) + CALORIE_J_PER_KG_K * _SLAKING_L_PER_KG))
