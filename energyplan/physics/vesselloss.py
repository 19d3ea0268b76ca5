"""Where heat and vapour leave a whole vessel, by the state of its lid."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from energyplan.physics.losses import (
    WATER_EMISSIVITY,
    Plate,
    Surroundings,
    evaporation_kg_per_m2_s,
    forced_convection_w_per_m2_k,
    natural_convection_w_per_m2_k,
    plate_loss_w_per_m2,
    radiation_w_per_m2,
)

__all__ = [
    "LidState",
    "Part",
    "Shell",
    "dry_loss_w",
    "ends_loss_w",
    "measured_share",
    "side_loss_w",
    "surface_loss_w",
    "vapour_kg_per_s",
]

FloatArray = NDArray[np.float64]
LidState = Literal["on", "off", "ajar"]
Part = Literal["side", "base", "lid"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shell:
    """The vessel as a body that loses heat: an upright cylinder.

    Parameters
    ----------
    diameter_m, height_m : float
        Of the cylinder [m].
    emissivity : float
        Of the bare outer faces.
    jacket_emissivity : float or None
        Of the faces that the jacket covers (None: as the bare ones). A jacket's cloth radiates more than steel does.
    jacket_m, jacket_w_per_m_k : float
        Thickness [m] (0: bare) and conductivity of the jacket.
    jacketed : frozenset
        The parts that it covers.
    fittings : array_like
        Factor on wall, lid and base for pump loop, hoses, gaps and feet (1: the plain vessel).
    heat_loss_w_per_k : array_like or None
        Measured loss with the lid on; it replaces the estimate of wall, lid and base.
    ajar_open_frac : float
        Share of the surface that is open with the lid ajar.
    """

    diameter_m: float
    height_m: float
    emissivity: float
    jacket_emissivity: float | None = None
    jacket_m: float = 0.0
    jacket_w_per_m_k: float = 0.04
    jacketed: frozenset[Part] = frozenset({"side"})
    fittings: ArrayLike = 1.0
    heat_loss_w_per_k: ArrayLike | None = None
    ajar_open_frac: float = 0.2

    @property
    def lid_m2(self) -> float:
        """Area of the lid, of the base, and of the open surface [m2]."""
        return float(np.pi / 4 * self.diameter_m**2)

    @property
    def side_m2(self) -> float:
        """Area of the whole side wall [m2]."""
        return float(np.pi * self.diameter_m * self.height_m)

    def plate(self, part: Part) -> Plate:
        """Describe one part as a plate."""
        resistance = self.jacket_m / self.jacket_w_per_m_k if part in self.jacketed else 0.0
        cloth = self.jacket_emissivity if resistance > 0 else None
        emissivity = self.emissivity if cloth is None else cloth
        facing: dict[Part, Literal["sideways", "up", "down"]] = {"side": "sideways", "lid": "up", "base": "down"}
        length_m = self.height_m if part == "side" else self.diameter_m / 4
        return Plate(facing=facing[part], length_m=length_m, emissivity=emissivity, resistance_m2_k_per_w=resistance)

    def open_frac(self, lid: LidState) -> float:
        """Share of the surface that lies open."""
        return {"on": 0.0, "off": 1.0, "ajar": self.ajar_open_frac}[lid]


def dry_loss_w(
    temperature_c: ArrayLike, around: Surroundings, shell: Shell, lid: LidState, wetted_frac: ArrayLike
) -> FloatArray:
    """Heat that a vessel loses without the heat of its vapour.

    Parameters
    ----------
    temperature_c : array_like
        Temperature of the contents [°C].
    around : Surroundings
        Air and surfaces around.
    shell : Shell
        The vessel.
    lid : {"on", "off", "ajar"}
        State of the lid.
    wetted_frac : array_like
        Share of the side wall below the liquid's level; only this part counts when the lid is off.

    Returns
    -------
    ndarray
        Loss [W], broadcast shape.

    Notes
    -----
    A measured loss (lid on) gives up the lid's share of the vessel's whole area as far as the lid is open; the
    open part then loses by convection and radiation from the surface itself.
    """
    closed = _closed_parts_w(temperature_c, around, shell, lid, wetted_frac)
    if shell.open_frac(lid) == 0:
        return closed
    return np.asarray(closed + surface_loss_w(temperature_c, around, shell, lid))


def _closed_parts_w(
    temperature_c: ArrayLike, around: Surroundings, shell: Shell, lid: LidState, wetted_frac: ArrayLike
) -> FloatArray:
    """Loss of side, base and the closed part of the lid [W]."""
    if shell.heat_loss_w_per_k is not None:
        warmer_k = np.asarray(temperature_c, dtype=float) - np.asarray(around.air_c)
        return np.asarray(np.asarray(shell.heat_loss_w_per_k) * measured_share(shell, lid) * warmer_k)
    hot_side_frac = np.asarray(wetted_frac) if lid == "off" else 1.0
    parts = hot_side_frac * side_loss_w(temperature_c, around, shell) + ends_loss_w(temperature_c, around, shell, lid)
    return np.asarray(np.asarray(shell.fittings) * parts)


def measured_share(shell: Shell, lid: LidState) -> float:
    """Share of a measured loss that is left when the lid is open as far as it is."""
    return 1 - shell.open_frac(lid) * shell.lid_m2 / (shell.side_m2 + 2 * shell.lid_m2)


def side_loss_w(temperature_c: ArrayLike, around: Surroundings, shell: Shell) -> FloatArray:
    """Loss of the whole side wall [W]."""
    return shell.side_m2 * plate_loss_w_per_m2(temperature_c, around, shell.plate("side"))


def ends_loss_w(temperature_c: ArrayLike, around: Surroundings, shell: Shell, lid: LidState) -> FloatArray:
    """Loss of the base and of the closed part of the lid [W]."""
    base_w = shell.lid_m2 * plate_loss_w_per_m2(temperature_c, around, shell.plate("base"))
    closed_frac = 1 - shell.open_frac(lid)
    if closed_frac == 0:
        return base_w
    return base_w + closed_frac * shell.lid_m2 * plate_loss_w_per_m2(temperature_c, around, shell.plate("lid"))


def surface_loss_w(temperature_c: ArrayLike, around: Surroundings, shell: Shell, lid: LidState) -> FloatArray:
    """Convection and radiation from the open part of the surface [W]."""
    surface = Plate(facing="up", length_m=shell.diameter_m / 4, emissivity=WATER_EMISSIVITY)
    warmer_k = np.asarray(temperature_c, dtype=float) - np.asarray(around.air_c)
    natural = natural_convection_w_per_m2_k(temperature_c, around, surface)
    forced = forced_convection_w_per_m2_k(temperature_c, around, shell.diameter_m)
    radiated = radiation_w_per_m2(temperature_c, around.radiant_c, WATER_EMISSIVITY)
    open_m2 = shell.open_frac(lid) * shell.lid_m2
    return np.asarray(open_m2 * (np.cbrt(natural**3 + forced**3) * warmer_k + radiated))


def vapour_kg_per_s(temperature_c: ArrayLike, around: Surroundings, shell: Shell, lid: LidState) -> FloatArray:
    """Water that evaporates below the boil from the open part of the surface [kg/s]; none with the lid on."""
    open_m2 = shell.open_frac(lid) * shell.lid_m2
    if open_m2 == 0:
        shape = np.broadcast(np.asarray(temperature_c), np.asarray(around.air_c)).shape
        return np.zeros(shape)
    return np.asarray(open_m2 * evaporation_kg_per_m2_s(temperature_c, around, shell.diameter_m))
