"""The loss of a whole vessel as a function of its temperature, tabulated once for a state of the lid."""

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
from energyplan.physics.water import enthalpy_j_per_kg, latent_heat_j_per_kg

__all__ = ["LossCurve", "Shell", "dry_loss_w", "loss_curve", "vapour_kg_per_s"]

FloatArray = NDArray[np.float64]
LidState = Literal["on", "off", "ajar"]
Part = Literal["side", "base", "lid"]

GRID_STEP_K = 1.0


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
    open_frac = shell.open_frac(lid)
    closed = _closed_parts_w(temperature_c, around, shell, lid, wetted_frac)
    if open_frac == 0:
        return closed
    return np.asarray(closed + open_frac * shell.lid_m2 * _surface_flux_w_per_m2(temperature_c, around, shell))


def _closed_parts_w(
    temperature_c: ArrayLike, around: Surroundings, shell: Shell, lid: LidState, wetted_frac: ArrayLike
) -> FloatArray:
    """Loss of side, base and the closed part of the lid [W]."""
    closed_frac = 1 - shell.open_frac(lid)
    if shell.heat_loss_w_per_k is not None:
        lid_share = shell.lid_m2 / (shell.side_m2 + 2 * shell.lid_m2)
        share = 1 - (1 - closed_frac) * lid_share
        warmer_k = np.asarray(temperature_c, dtype=float) - np.asarray(around.air_c)
        return np.asarray(np.asarray(shell.heat_loss_w_per_k) * share * warmer_k)
    hot_side_frac = np.asarray(wetted_frac) if lid == "off" else 1.0
    parts = shell.side_m2 * hot_side_frac * plate_loss_w_per_m2(temperature_c, around, shell.plate("side"))
    parts = parts + shell.lid_m2 * plate_loss_w_per_m2(temperature_c, around, shell.plate("base"))
    if closed_frac > 0:
        parts = parts + closed_frac * shell.lid_m2 * plate_loss_w_per_m2(temperature_c, around, shell.plate("lid"))
    return np.asarray(np.asarray(shell.fittings) * parts)


def _surface_flux_w_per_m2(temperature_c: ArrayLike, around: Surroundings, shell: Shell) -> FloatArray:
    """Convection and radiation from the open surface [W/m2]."""
    surface = Plate(facing="up", length_m=shell.diameter_m / 4, emissivity=WATER_EMISSIVITY)
    warmer_k = np.asarray(temperature_c, dtype=float) - np.asarray(around.air_c)
    natural = natural_convection_w_per_m2_k(temperature_c, around, surface)
    forced = forced_convection_w_per_m2_k(temperature_c, around, shell.diameter_m)
    radiated = radiation_w_per_m2(temperature_c, around.radiant_c, WATER_EMISSIVITY)
    return np.asarray(np.cbrt(natural**3 + forced**3) * warmer_k + radiated)


def vapour_kg_per_s(temperature_c: ArrayLike, around: Surroundings, shell: Shell, lid: LidState) -> FloatArray:
    """Water that evaporates below the boil from the open part of the surface [kg/s]; none with the lid on."""
    open_m2 = shell.open_frac(lid) * shell.lid_m2
    if open_m2 == 0:
        shape = np.broadcast(np.asarray(temperature_c), np.asarray(around.air_c)).shape
        return np.zeros(shape)
    return np.asarray(open_m2 * evaporation_kg_per_m2_s(temperature_c, around, shell.diameter_m))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LossCurve:
    """Dry loss and evaporation tabulated over temperature, for every draw.

    ``dry_w`` and ``vapour_kg_per_s`` have the shape (draws, points); point k stands at ``low_c + k * step_k``.
    Between the points a cubic through the four nearest is used: error below 1e-6 of the value from 10 K above the air
    on, 0.2 % within 2 K of the air, and 1e-4 of the vapour in the last kelvin before the boil.
    """

    low_c: float
    step_k: float
    dry_table_w: FloatArray
    vapour_table_kg_per_s: FloatArray
    dries: bool

    @property
    def high_c(self) -> float:
        """Highest temperature of the table [°C]."""
        return float(self.low_c + self.step_k * (self.dry_table_w.shape[1] - 1))

    def dry_w(self, temperature_c: FloatArray) -> FloatArray:
        """Dry loss at temperatures of shape (..., draws) [W]."""
        return self._between(self.dry_table_w, temperature_c)

    def vapour_kg_per_s(self, temperature_c: FloatArray) -> FloatArray:
        """Evaporation at temperatures of shape (..., draws) [kg/s]."""
        if not self.dries:
            return np.zeros_like(temperature_c)
        # Where evaporation begins the cubic swings a trace below zero.
        return np.asarray(np.maximum(self._between(self.vapour_table_kg_per_s, temperature_c), 0.0))

    def total_w(self, temperature_c: FloatArray) -> FloatArray:
        """Heat needed to keep a temperature: dry loss and the latent heat of the vapour [W]."""
        dry_w = self.dry_w(temperature_c)
        if not self.dries:
            return dry_w
        return np.asarray(dry_w + self.vapour_kg_per_s(temperature_c) * latent_heat_j_per_kg(temperature_c))

    def vapour_w(self, temperature_c: FloatArray) -> FloatArray:
        """Enthalpy that the vapour carries away, counted from liquid at 0 °C [W]."""
        if not self.dries:
            return np.zeros_like(temperature_c)
        return np.asarray(self.vapour_kg_per_s(temperature_c) * vapour_enthalpy_j_per_kg(temperature_c))

    def _between(self, table: FloatArray, temperature_c: FloatArray) -> FloatArray:
        place = (temperature_c - self.low_c) / self.step_k
        index = np.clip(place.astype(np.int64), 1, table.shape[1] - 3)
        x = place - index
        row = np.arange(table.shape[0])
        before, here = table[row, index - 1], table[row, index]
        after, last = table[row, index + 1], table[row, index + 2]
        cubic = (last - 3 * after + 3 * here - before) / 6
        square = (after - 2 * here + before) / 2
        line = after - before / 3 - here / 2 - last / 6
        return np.asarray(here + x * (line + x * (square + x * cubic)))


def vapour_enthalpy_j_per_kg(temperature_c: ArrayLike) -> FloatArray:
    """Enthalpy of saturated vapour, counted as `energyplan.physics.water.enthalpy_j_per_kg` does [J/kg]."""
    return np.asarray(enthalpy_j_per_kg(temperature_c) + latent_heat_j_per_kg(temperature_c))


def loss_curve(
    around: Surroundings, shell: Shell, lid: LidState, wetted_frac: FloatArray, *, low_c: float, high_c: float
) -> LossCurve:
    """Tabulate a vessel's loss between two temperatures.

    Parameters
    ----------
    around, shell, lid
        See `dry_loss_w`; fields of ``around`` and ``shell`` may have the shape (draws,).
    wetted_frac : ndarray, shape (draws,)
        Share of the side wall below the level.
    low_c, high_c : float
        Temperatures that the curve must cover [°C], at most 115.
    """
    points = int(np.ceil((high_c - low_c) / GRID_STEP_K)) + 4
    grid_c = low_c - GRID_STEP_K + GRID_STEP_K * np.arange(points)
    column, draws = grid_c[:, None], wetted_frac.shape[0]
    dry = np.broadcast_to(dry_loss_w(column, around, shell, lid, wetted_frac), (points, draws))
    vapour = np.broadcast_to(vapour_kg_per_s(column, around, shell, lid), (points, draws))
    return LossCurve(
        low_c=float(grid_c[0]),
        step_k=GRID_STEP_K,
        dry_table_w=np.ascontiguousarray(dry.T),
        vapour_table_kg_per_s=np.ascontiguousarray(vapour.T),
        dries=bool(vapour.any()),
    )
