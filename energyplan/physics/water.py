"""Water and its vapour, from the releases of IAPWS.

All functions take floats or arrays and return arrays of the same shape (0-d for a float).
"""

from collections.abc import Iterable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from energyplan.base.constants import STANDARD_PRESSURE_PA, ZERO_CELSIUS_K

__all__ = [
    "boiling_point_c",
    "density_kg_per_m3",
    "enthalpy_j_per_kg",
    "latent_heat_j_per_kg",
    "pressure_at_altitude_pa",
    "saturation_pressure_pa",
    "specific_heat_j_per_kg_k",
    "vapour_density_kg_per_m3",
]

FloatArray = NDArray[np.float64]

# IAPWS R7-97(2012), table 34: coefficients of the saturation equations 29 to 31.
_N = (
    0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5, -0.32325550322333e7,
    0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6, -0.23855557567849, 0.65017534844798e3,
)  # fmt: skip

# IAPWS SR6-08(2011), table 1: liquid at 0.1 MPa.
_R = 461.51805  # J/kgK
_T_R = 10.0  # K
_P0 = 1.0e5  # Pa
_C = (-2.452093414e2, 3.869269598e1, -8.983025854)
_A_G = ((-1.661470539e5, 4), (2.708781640e6, 5), (-1.557191544e8, 7))
_B_G = ((-8.237426256e-1, 2), (1.908956353, 3), (-2.017597384, 4), (8.546361348e-1, 5))
_A5 = 1.93763157e-2
_A_V = ((6.74458446e3, 4), (-2.22521604e5, 5), (1.00231247e8, 7), (-1.63552118e9, 8), (8.32299658e9, 9))
_B_V = (
    (5.78545292e-3, 1), (-1.53195665e-2, 2), (3.11337859e-2, 3),
    (-4.23546241e-2, 4), (3.38713507e-2, 5), (-1.19946761e-2, 6),
)  # fmt: skip


def _dense(terms: Iterable[tuple[float, int]]) -> tuple[float, ...]:
    """Coefficients of a polynomial from its highest power down, for Horner's rule; equal powers add up."""
    sums: dict[int, float] = {}
    for coefficient, power in terms:
        sums[power] = sums.get(power, 0.0) + coefficient
    return tuple(sums.get(power, 0.0) for power in range(max(sums), -1, -1))


# The sums over powers of alpha = T_R / (593 K - T) and beta = T_R / (T - 232 K), as polynomials: of v (eq. 2), of
# c_p (eq. 5), and of h = g + T s, in which T / (593 - T) = 59.3 alpha - 1 and T / (T - 232) = 23.2 beta + 1.
_V_ALPHA, _V_BETA = _dense(_A_V), _dense(_B_V)
_CP_ALPHA = _dense((n * (n + 1) * a, n + 2) for a, n in _A_G)
_CP_BETA = _dense((m * (m + 1) * b, m + 2) for b, m in _B_G)
_H_ALPHA = _dense(term for a, n in _A_G for term in ((a * (1 + n), n), (-59.3 * n * a, n + 1)))
_H_BETA = _dense(term for b, m in _B_G for term in ((b * (1 + m), m), (23.2 * m * b, m + 1)))

# IAPWS SR1-86(1992): densities along the saturation line, and the critical point.
_T_CRITICAL_K = 647.096
_RHO_CRITICAL = 322.0
_B_LIQUID = (
    (1.99274064, 1 / 3), (1.09965342, 2 / 3), (-0.510839303, 5 / 3),
    (-1.75493479, 16 / 3), (-45.5170352, 43 / 3), (-6.74694450e5, 110 / 3),
)  # fmt: skip
_C_VAPOUR = (
    (-2.03150240, 2 / 6), (-2.68302940, 4 / 6), (-5.38626492, 8 / 6),
    (-17.2991605, 18 / 6), (-44.7586581, 37 / 6), (-63.9201063, 71 / 6),
)  # fmt: skip


def _kelvin(temperature_c: ArrayLike) -> FloatArray:
    return np.asarray(temperature_c, dtype=float) + ZERO_CELSIUS_K


def saturation_pressure_pa(temperature_c: ArrayLike) -> FloatArray:
    """Pressure of saturated water vapour.

    Parameters
    ----------
    temperature_c : array_like
        Temperature [°C].

    Returns
    -------
    ndarray
        Pressure [Pa], same shape.

    Notes
    -----
    Equation 30 of region 4. Valid 0 to 373.946 °C.

    References
    ----------
    IAPWS R7-97(2012), eq. 30, table 34.

    Examples
    --------
    >>> round(float(saturation_pressure_pa(100.0)))
    101418
    """
    kelvin = _kelvin(temperature_c)
    theta = kelvin + _N[8] / (kelvin - _N[9])
    a = theta**2 + _N[0] * theta + _N[1]
    b = _N[2] * theta**2 + _N[3] * theta + _N[4]
    c = _N[5] * theta**2 + _N[6] * theta + _N[7]
    return np.asarray(1e6 * (2 * c / (-b + np.sqrt(b**2 - 4 * a * c))) ** 4)


def boiling_point_c(pressure_pa: ArrayLike) -> FloatArray:
    """Boiling point of pure water.

    Parameters
    ----------
    pressure_pa : array_like
        Pressure [Pa].

    Returns
    -------
    ndarray
        Temperature [°C], same shape.

    Notes
    -----
    Equation 31, the exact inverse of `saturation_pressure_pa`. Valid 611.213 Pa to 22.064 MPa.

    References
    ----------
    IAPWS R7-97(2012), eq. 31, table 34.

    Examples
    --------
    >>> round(float(boiling_point_c(101_325.0)), 2)
    99.97
    """
    beta = (np.asarray(pressure_pa, dtype=float) / 1e6) ** 0.25
    e = beta**2 + _N[2] * beta + _N[5]
    f = _N[0] * beta**2 + _N[3] * beta + _N[6]
    g = _N[1] * beta**2 + _N[4] * beta + _N[7]
    d = 2 * g / (-f - np.sqrt(f**2 - 4 * e * g))
    return np.asarray((_N[9] + d - np.sqrt((_N[9] + d) ** 2 - 4 * (_N[8] + _N[9] * d))) / 2 - ZERO_CELSIUS_K)


def pressure_at_altitude_pa(altitude_m: ArrayLike) -> FloatArray:
    """Air pressure of the standard atmosphere.

    Parameters
    ----------
    altitude_m : array_like
        Height above the sea [m].

    Returns
    -------
    ndarray
        Pressure [Pa], same shape. Weather moves it by about 2 % either way.

    Notes
    -----
    Troposphere with a lapse of 6.5 K/km. Valid -2000 to 11000 m.

    References
    ----------
    ISO 2533:1975, eq. 12 (constants from memory).

    Examples
    --------
    >>> round(float(pressure_at_altitude_pa(1000.0)))
    89875
    """
    return np.asarray(STANDARD_PRESSURE_PA * (1 - 2.25577e-5 * np.asarray(altitude_m, dtype=float)) ** 5.25588)


def _polynomial(coefficients: tuple[float, ...], x: FloatArray) -> FloatArray:
    """Value of a polynomial by Horner's rule."""
    value = coefficients[0] * x + coefficients[1]
    for coefficient in coefficients[2:]:
        value = value * x + coefficient
    return value


def _power_sums(kelvin: FloatArray) -> tuple[FloatArray, FloatArray]:
    return _T_R / (593.0 - kelvin), _T_R / (kelvin - 232.0)


def density_kg_per_m3(temperature_c: ArrayLike) -> FloatArray:
    """Density of liquid water at 0.1 MPa.

    Parameters
    ----------
    temperature_c : array_like
        Temperature [°C].

    Returns
    -------
    ndarray
        Density [kg/m3], same shape.

    Notes
    -----
    Valid -20 to 110 °C (metastable above 99.6 °C).

    References
    ----------
    IAPWS SR6-08(2011), eq. 2 and table 1.

    Examples
    --------
    >>> round(float(density_kg_per_m3(60.0)), 1)
    983.2
    """
    alpha, beta = _power_sums(_kelvin(temperature_c))
    return np.asarray(_P0 / (_R * _T_R * (_A5 + _polynomial(_V_ALPHA, alpha) + _polynomial(_V_BETA, beta))))


def specific_heat_j_per_kg_k(temperature_c: ArrayLike) -> FloatArray:
    """Specific heat of liquid water at 0.1 MPa.

    Parameters
    ----------
    temperature_c : array_like
        Temperature [°C].

    Returns
    -------
    ndarray
        Isobaric specific heat [J/kgK], same shape.

    Notes
    -----
    Valid -20 to 110 °C. It is the derivative of `enthalpy_j_per_kg`.

    References
    ----------
    IAPWS SR6-08(2011), eq. 5 and table 1.

    Examples
    --------
    >>> round(float(specific_heat_j_per_kg_k(20.0)))
    4184
    """
    kelvin = _kelvin(temperature_c)
    alpha, beta = _power_sums(kelvin)
    bent = _polynomial(_CP_ALPHA, alpha) + _polynomial(_CP_BETA, beta)
    return np.asarray(-_R * (_C[2] + kelvin / _T_R * bent))


def enthalpy_j_per_kg(temperature_c: ArrayLike) -> FloatArray:
    """Specific enthalpy of liquid water at 0.1 MPa.

    Parameters
    ----------
    temperature_c : array_like
        Temperature [°C].

    Returns
    -------
    ndarray
        Enthalpy [J/kg], same shape; zero at the triple point (internal energy, saturated liquid).

    Notes
    -----
    h = g + T s. Valid -20 to 110 °C.

    References
    ----------
    IAPWS SR6-08(2011), eqs. 1 and 4, table 1.

    Examples
    --------
    >>> round(float(enthalpy_j_per_kg(66.0) - enthalpy_j_per_kg(10.0)) / 1000, 1)
    234.2
    """
    kelvin = _kelvin(temperature_c)
    alpha, beta = _power_sums(kelvin)
    straight = _C[0] - _C[2] * kelvin / _T_R
    return np.asarray(_R * _T_R * (straight + _polynomial(_H_ALPHA, alpha) + _polynomial(_H_BETA, beta)))


def vapour_density_kg_per_m3(temperature_c: ArrayLike) -> FloatArray:
    """Density of saturated water vapour.

    Parameters
    ----------
    temperature_c : array_like
        Temperature [°C].

    Returns
    -------
    ndarray
        Density [kg/m3], same shape.

    Notes
    -----
    Valid 0 to 374 °C.

    References
    ----------
    IAPWS SR1-86(1992), eq. 3 (coefficients from memory; checked against IAPWS-95 in the tests).

    Examples
    --------
    >>> round(float(vapour_density_kg_per_m3(100.0)), 4)
    0.5981
    """
    theta = 1 - _kelvin(temperature_c) / _T_CRITICAL_K
    return np.asarray(_RHO_CRITICAL * np.exp(sum(c * theta**power for c, power in _C_VAPOUR)))


def _saturated_liquid_density(temperature_c: ArrayLike) -> FloatArray:
    theta = 1 - _kelvin(temperature_c) / _T_CRITICAL_K
    return np.asarray(_RHO_CRITICAL * (1 + sum(b * theta**power for b, power in _B_LIQUID)))


def _saturation_slope_pa_per_k(temperature_c: ArrayLike) -> FloatArray:
    """Slope of the saturation line [Pa/K], from equation 29 differentiated implicitly."""
    kelvin = _kelvin(temperature_c)
    beta = (saturation_pressure_pa(temperature_c) / 1e6) ** 0.25
    theta = kelvin + _N[8] / (kelvin - _N[9])
    by_theta = 2 * theta * (beta**2 + _N[2] * beta + _N[5]) + _N[0] * beta**2 + _N[3] * beta + _N[6]
    by_beta = 2 * beta * (theta**2 + _N[0] * theta + _N[1]) + _N[2] * theta**2 + _N[3] * theta + _N[4]
    theta_slope = 1 - _N[8] / (kelvin - _N[9]) ** 2
    return np.asarray(-4e6 * beta**3 * by_theta * theta_slope / by_beta)


def latent_heat_j_per_kg(temperature_c: ArrayLike) -> FloatArray:
    """Heat of evaporation of water.

    Parameters
    ----------
    temperature_c : array_like
        Temperature [°C].

    Returns
    -------
    ndarray
        Latent heat [J/kg], same shape.

    Notes
    -----
    Clapeyron: h_fg = T (1/rho'' - 1/rho') dp/dT along the saturation line. Valid 0 to 374 °C.

    References
    ----------
    IAPWS R7-97(2012), eq. 29; IAPWS SR1-86(1992), eqs. 2, 3 and 5.

    Examples
    --------
    >>> round(float(latent_heat_j_per_kg(100.0)) / 1000, 1)
    2256.6
    """
    expansion = 1 / vapour_density_kg_per_m3(temperature_c) - 1 / _saturated_liquid_density(temperature_c)
    return np.asarray(_kelvin(temperature_c) * expansion * _saturation_slope_pa_per_k(temperature_c))
