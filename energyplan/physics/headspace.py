"""The headspace under a lid: how much heat the liquid's surface hands up to the lid and the dry wall above it."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["hand_up_w_per_k", "lift_k", "under_lid_w"]

FloatArray = NDArray[np.float64]

LEAST_LIFT_K = 1e-6  # below it the difference to the air drives nothing
HAND_UP_W_PER_M2_K = 1.94
HAND_UP_PER_K = 0.0477
AREA_EXPONENT = 0.186


def hand_up_w_per_k(temperature_c: ArrayLike, surface_m2: float, dry_m2: ArrayLike) -> FloatArray:
    """Heat that a closed surface can hand up to lid and dry wall, per kelvin of the contents above the air [W/K].

    Parameters
    ----------
    temperature_c : array_like
        Temperature of the contents [°C].
    surface_m2 : float
        Area of the liquid's surface, and of the lid [m2].
    dry_m2 : array_like
        Area of the side wall above the level [m2].

    Returns
    -------
    ndarray
        Conductance [W/K], broadcast shape.

    Notes
    -----
    h = 1.94 exp(0.0477 T) ((A_lid + A_dry) / A)^0.186 W/m2K with T in °C [assumption: fitted to a balance of vapour
    that rises, condenses on lid and wall and runs back, with a film on the water's side; no measurement stands behind
    it]. A balance written anew for the tests lies within -6 to +13 % of it: 0.2 to 0.6 m across, 10 to 85 % full,
    40 to 95 °C, bare and jacketed.

    Examples
    --------
    >>> round(float(hand_up_w_per_k(66.0, 0.1, 0.0)), 2)
    4.52
    """
    spread = (1 + np.asarray(dry_m2, dtype=float) / surface_m2) ** AREA_EXPONENT
    warm = HAND_UP_W_PER_M2_K * np.exp(HAND_UP_PER_K * np.asarray(temperature_c, dtype=float))
    return np.asarray(surface_m2 * warm * spread)


def lift_k(warmer_k: ArrayLike) -> FloatArray:
    """Difference to the air that drives the headspace [K]; never nought, so that nothing is divided by it."""
    return np.maximum(np.abs(warmer_k), LEAST_LIFT_K)


def under_lid_w(as_hot_w: FloatArray, handed_w: FloatArray) -> FloatArray:
    """Loss of lid and dry wall, fed through the liquid's surface [W].

    Parameters
    ----------
    as_hot_w : ndarray
        What lid and dry wall would lose as hot as the contents [W].
    handed_w : ndarray
        What the surface could hand up to walls as cold as the air [W].

    Notes
    -----
    Two resistances in series: 1 / L = 1 / L_as_hot + 1 / (H (T - T_air)), so never more than either.

    Examples
    --------
    >>> float(under_lid_w(np.array(60.0), np.array(120.0)))
    40.0
    """
    return np.asarray(as_hot_w * handed_w / (np.abs(as_hot_w) + handed_w))
