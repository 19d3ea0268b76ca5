"""Where heat leaves the vessel: walls, lid, base, jacket, open surface.

Everything broadcasts: temperatures of the contents along one axis, draws of the surroundings along another.
"""

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from energyplan.base.constants import GRAVITY_M_PER_S2, STEFAN_BOLTZMANN_W_PER_M2_K4, ZERO_CELSIUS_K
from energyplan.base.records import dataclass
from energyplan.physics.air import (
    air_conductivity_w_per_m_k,
    air_kinematic_viscosity_m2_per_s,
    air_prandtl,
    dry_air_density_kg_per_m3,
    ideal_vapour_density_kg_per_m3,
)
from energyplan.physics.water import saturation_pressure_pa

__all__ = [
    "Plate",
    "Surroundings",
    "evaporation_kg_per_m2_s",
    "forced_convection_w_per_m2_k",
    "natural_convection_w_per_m2_k",
    "plate_loss_w_per_m2",
    "radiation_w_per_m2",
]

FloatArray = NDArray[np.float64]
Facing = Literal["sideways", "up", "down"]

LEWIS_NUMBER = 0.86  # vapour in air, about 0.85 to 0.87 (from memory)
WATER_EMISSIVITY = 0.96  # of an open water surface; Incropera, table A.11 (from memory)
SHELL_TOLERANCE_K = 1e-9
LEAST_RESISTANCE_M2_K_PER_W = 1e-9  # of a jacket; less than that (a film of 40 picometres of cloth) is a bare wall
SLOPE_K = 0.001  # over which the growth of the outward flux is taken
SHELL_ROUNDS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """Air and surfaces around the vessel; every field may be an array over draws.

    ``air_c``, ``radiant_c`` [°C], ``humidity_frac`` (relative), ``pressure_pa``, ``draught_m_per_s``.
    """

    air_c: ArrayLike
    radiant_c: ArrayLike
    humidity_frac: ArrayLike
    pressure_pa: ArrayLike
    draught_m_per_s: ArrayLike = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate:
    """One outer surface: which way it faces, its length for convection, its jacket and paint.

    ``length_m`` is the height of a vertical wall, or area over perimeter of a horizontal plate.
    ``resistance_m2_k_per_w`` lies between the contents and the outer face, per area inside (0: a bare wall);
    ``outer_area_frac`` is the area outside over that inside.
    """

    facing: Facing
    length_m: float
    emissivity: float
    resistance_m2_k_per_w: float = 0.0
    outer_area_frac: float = 1.0


def _rayleigh(
    surface_c: FloatArray, around: Surroundings, length_m: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Rayleigh number, Prandtl number and conductivity [W/mK] of the air film."""
    air_c = np.asarray(around.air_c, dtype=float)
    film_c = (surface_c + air_c) / 2
    viscosity = air_kinematic_viscosity_m2_per_s(film_c, around.pressure_pa)
    prandtl = air_prandtl(film_c)
    lift = GRAVITY_M_PER_S2 * np.abs(surface_c - air_c) / (film_c + ZERO_CELSIUS_K)
    return lift * length_m**3 * prandtl / viscosity**2, prandtl, air_conductivity_w_per_m_k(film_c)


def natural_convection_w_per_m2_k(surface_c: ArrayLike, around: Surroundings, plate: Plate) -> FloatArray:
    """Heat transfer coefficient of still air along a plate.

    Parameters
    ----------
    surface_c : array_like
        Temperature of the outer surface [°C].
    around : Surroundings
        Air temperature and pressure.
    plate : Plate
        Which way it faces and its length.

    Returns
    -------
    ndarray
        Coefficient [W/m2K], broadcast shape.

    Notes
    -----
    Sideways, Churchill and Chu: Nu = (0.825 + 0.387 Ra^(1/6) / (1 + (0.492/Pr)^(9/16))^(8/27))^2, any Ra to 1e12.
    Up, McAdams: Nu = 0.54 Ra^(1/4) to Ra = 1e7, 0.15 Ra^(1/3) to 1e11; the larger of the two is taken above 1e7.
    Down, McAdams: Nu = 0.27 Ra^(1/4), 1e5 to 1e10. Properties at the film temperature. A surface colder than the
    air is treated as one that is warmer by as much.

    References
    ----------
    Incropera et al., Fundamentals of Heat and Mass Transfer, 6th ed., eqs. 9.26, 9.30 to 9.32 (from memory;
    checked against the library ``ht`` in the tests).
    """
    rayleigh, prandtl, conductivity = _rayleigh(np.asarray(surface_c, dtype=float), around, plate.length_m)
    if plate.facing == "sideways":
        shape = (1 + (0.492 / prandtl) ** (9 / 16)) ** (8 / 27)
        nusselt = (0.825 + 0.387 * rayleigh ** (1 / 6) / shape) ** 2
    elif plate.facing == "up":
        nusselt = np.where(rayleigh <= 1e7, 0.54 * rayleigh**0.25, 0.15 * np.cbrt(rayleigh))
    else:
        nusselt = 0.27 * rayleigh**0.25
    return np.asarray(nusselt * conductivity / plate.length_m)


def forced_convection_w_per_m2_k(surface_c: ArrayLike, around: Surroundings, length_m: float) -> FloatArray:
    """Heat transfer coefficient of a draught along a plate.

    Parameters
    ----------
    surface_c : array_like
        Temperature of the surface [°C].
    around : Surroundings
        Air temperature, pressure and draught.
    length_m : float
        Length of the surface along the draught [m].

    Returns
    -------
    ndarray
        Coefficient [W/m2K], broadcast shape; zero in still air.

    Notes
    -----
    Laminar flat plate, Nu = 0.664 Re^(1/2) Pr^(1/3). Valid to Re = 5e5, that is 10 m/s over 0.8 m.

    References
    ----------
    Incropera et al., 6th ed., eq. 7.30 (from memory; checked against the library ``ht`` in the tests).
    """
    film_c = (np.asarray(surface_c, dtype=float) + np.asarray(around.air_c, dtype=float)) / 2
    reynolds = (
        np.asarray(around.draught_m_per_s) * length_m / air_kinematic_viscosity_m2_per_s(film_c, around.pressure_pa)
    )
    nusselt = 0.664 * np.sqrt(reynolds) * np.cbrt(air_prandtl(film_c))
    return np.asarray(nusselt * air_conductivity_w_per_m_k(film_c) / length_m)


def _convection_w_per_m2_k(surface_c: FloatArray, around: Surroundings, plate: Plate) -> FloatArray:
    """Natural and forced convection together: the cube root of the sum of cubes (Incropera, eq. 9.64)."""
    natural = natural_convection_w_per_m2_k(surface_c, around, plate)
    if not np.any(around.draught_m_per_s):
        return natural
    forced = forced_convection_w_per_m2_k(surface_c, around, _along_m(plate))
    return np.asarray(np.cbrt(natural**3 + forced**3))


def _along_m(plate: Plate) -> float:
    """Length along a draught: a disc's area over perimeter is a quarter of its width."""
    return plate.length_m if plate.facing == "sideways" else 4 * plate.length_m


def radiation_w_per_m2(surface_c: ArrayLike, radiant_c: ArrayLike, emissivity: float) -> FloatArray:
    """Grey radiation from a small surface to large surroundings.

    Parameters
    ----------
    surface_c, radiant_c : array_like
        Temperatures of the surface and of what it sees [°C].
    emissivity : float
        Emissivity of the surface, 0 to 1.

    Returns
    -------
    ndarray
        Net flux [W/m2].

    References
    ----------
    Stefan-Boltzmann law; Incropera et al., eq. 1.7.

    Examples
    --------
    >>> round(float(radiation_w_per_m2(66.0, 20.0, 0.25)), 1)
    82.9
    """
    hot_k = np.asarray(surface_c, dtype=float) + ZERO_CELSIUS_K
    cold_k = np.asarray(radiant_c, dtype=float) + ZERO_CELSIUS_K
    return np.asarray(emissivity * STEFAN_BOLTZMANN_W_PER_M2_K4 * (hot_k**4 - cold_k**4))


def _outward_w_per_m2(surface_c: FloatArray, around: Surroundings, plate: Plate) -> FloatArray:
    """Convection and radiation that leave an outer face, per area inside [W/m2]."""
    convected = _convection_w_per_m2_k(surface_c, around, plate) * (surface_c - np.asarray(around.air_c))
    radiated = radiation_w_per_m2(surface_c, around.radiant_c, plate.emissivity)
    return np.asarray(plate.outer_area_frac * (convected + radiated))


def plate_loss_w_per_m2(inside_c: ArrayLike, around: Surroundings, plate: Plate) -> FloatArray:
    """Heat that a surface of the vessel loses.

    Parameters
    ----------
    inside_c : array_like
        Temperature of the contents [°C]; the film inside is taken as perfect.
    around : Surroundings
        Air and surfaces around.
    plate : Plate
        The surface.

    Returns
    -------
    ndarray
        Flux per area inside [W/m2], broadcast shape; negative where the contents are colder than the air.

    Notes
    -----
    A jacket's outer face settles where conduction through it equals convection plus radiation; found by
    iteration to 1e-9 K. Valid 0 to 105 °C inside, -20 to 45 °C outside.
    """
    inside = np.asarray(inside_c, dtype=float)
    bare = plate.resistance_m2_k_per_w < LEAST_RESISTANCE_M2_K_PER_W
    face_c = inside if bare else _outer_face_c(inside, around, plate)
    return _outward_w_per_m2(face_c, around, plate)


def _outer_face_c(inside_c: FloatArray, around: Surroundings, plate: Plate) -> FloatArray:
    """Temperature at which a jacket's face settles [°C]: Newton's way, kept between what is coldest and warmest."""
    conductance = 1 / plate.resistance_m2_k_per_w
    air_c, radiant_c = np.asarray(around.air_c, dtype=float), np.asarray(around.radiant_c, dtype=float)
    low_c = np.minimum(np.minimum(air_c, radiant_c), inside_c)
    high_c = np.maximum(np.maximum(air_c, radiant_c), inside_c)
    face_c = (low_c + high_c) / 2
    for _ in range(SHELL_ROUNDS):
        outward = _outward_w_per_m2(face_c, around, plate)
        growth = (_outward_w_per_m2(face_c + SLOPE_K, around, plate) - outward) / SLOPE_K
        surplus = conductance * (inside_c - face_c) - outward
        low_c, high_c = np.where(surplus > 0, face_c, low_c), np.where(surplus < 0, face_c, high_c)
        next_c = face_c + surplus / (conductance + growth)
        # The flux bends where the face is as warm as the air; a step beyond the bounds is halved between them.
        next_c = np.where((next_c >= low_c) & (next_c <= high_c), next_c, (low_c + high_c) / 2)
        step, face_c = next_c - face_c, next_c
        if np.max(np.abs(step)) < SHELL_TOLERANCE_K:
            break
    return np.asarray(face_c)


def evaporation_kg_per_m2_s(water_c: ArrayLike, around: Surroundings, width_m: float) -> FloatArray:
    """Evaporation from an open, undisturbed hot surface.

    Parameters
    ----------
    water_c : array_like
        Temperature of the surface [°C].
    around : Surroundings
        Air temperature, humidity, pressure, draught.
    width_m : float
        Width of the surface [m], for the draught.

    Returns
    -------
    ndarray
        Rate [kg/m2s], broadcast shape; zero where the surface would take up moisture instead.

    Notes
    -----
    Shah: E = 35 rho_w (rho_r - rho_w)^(1/3) (W_w - W_r) kg/m2h with the densities rho of the dry air in moist air
    at the surface (w) and in the room (r). Written with the vapour density rho_w W_w it stays finite to the boil.
    Published for pools; the mean deviation from measured data is 18 %, and against the table for hot open tanks it
    is within 25 % to 70 °C. A draught adds by the analogy of heat and mass transfer (Lewis number 0.86),
    combined as the cube root of the sum of cubes.

    References
    ----------
    M. M. Shah, Rate of evaporation from undisturbed water pools to quiet air, Int. J. Energy Research 26 (2002).
    Analogy: Incropera et al., 6th ed., eq. 6.60 (from memory).

    Examples
    --------
    >>> still = Surroundings(air_c=18.3, radiant_c=18.3, humidity_frac=0.5, pressure_pa=101_325.0)
    >>> round(3600 * float(evaporation_kg_per_m2_s(65.6, still, 0.3)), 2)
    4.18
    """
    surface_c, air_c = np.asarray(water_c, dtype=float), np.asarray(around.air_c, dtype=float)
    surface_pa = np.minimum(saturation_pressure_pa(surface_c), around.pressure_pa)
    room_pa = np.asarray(around.humidity_frac) * saturation_pressure_pa(air_c)
    at_surface = dry_air_density_kg_per_m3(surface_c, around.pressure_pa, surface_pa)
    in_room = dry_air_density_kg_per_m3(air_c, around.pressure_pa, room_pa)
    room_vapour = ideal_vapour_density_kg_per_m3(air_c, room_pa)
    vapour = ideal_vapour_density_kg_per_m3(surface_c, surface_pa)
    drive = np.maximum(vapour - at_surface * room_vapour / in_room, 0.0)
    still = 35 / 3600 * np.cbrt(np.maximum(in_room - at_surface, 0.0)) * drive
    if not np.any(around.draught_m_per_s):
        return np.asarray(still)
    forced = forced_convection_w_per_m2_k(surface_c, around, width_m)
    blown = (
        forced / (1006.0 * (in_room + at_surface) / 2 * LEWIS_NUMBER ** (2 / 3)) * np.maximum(vapour - room_vapour, 0.0)
    )
    return np.asarray(np.cbrt(still**3 + np.minimum(blown, 10 * drive) ** 3))
