"""The vessel's heat balance along measured power: the physics of the brew day, with factors to be fitted."""

from dataclasses import replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from energyplan.base.records import dataclass
from energyplan.physics.contents import Contents
from energyplan.physics.losses import Surroundings
from energyplan.physics.vesselloss import LidState, Shell, dry_loss_w, vapour_kg_per_s
from energyplan.physics.water import latent_heat_j_per_kg, specific_heat_j_per_kg_k

__all__ = ["FactorName", "Factors", "Supply", "VesselTables", "path_c", "tables"]

FloatArray = NDArray[np.float64]
FactorName = Literal["loss", "bend", "apart", "stored_heat", "power", "open_surface"]

GRID_K = 0.5
LONGEST_STEP_S = 180.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class VesselTables:
    """Loss and heat capacity of a vessel over temperature, for one state of the lid and one filling.

    ``closed_w`` is the loss of walls, base and lid [W], ``bent_w`` what it gains per unit of bend (see `bent_at`);
    ``open_w`` that of the open surface with its latent heat [W],
    ``vapour_kg_per_s`` the water that leaves by it; ``beside_j_per_k`` the heat capacity of all but water [J/K],
    ``water_j_per_kg_k`` that of water; ``water_kg`` the water at the start.
    """

    grid_c: FloatArray
    closed_w: FloatArray
    bent_w: FloatArray
    open_w: FloatArray
    vapour_kg_per_s: FloatArray
    beside_j_per_k: FloatArray
    water_j_per_kg_k: FloatArray
    water_kg: float

    def bent_at(self, reference_c: float, air_c: float) -> "VesselTables":
        """The same vessel, whose loss keeps its value at a reference temperature when it is bent.

        Notes
        -----
        With a bend b the closed loss goes as its model times ((T - air) / (reference - air))^b, to first order in b:
        -0.25 makes the loss of a bare vessel, which goes as the 1.25th power, linear.
        """
        warmer = np.maximum(np.abs(self.grid_c - air_c), 0.5) / max(reference_c - air_c, 1.0)
        return replace(self, bent_w=np.asarray(self.closed_w * np.log(warmer)))

    def loss_w(self, temperature_c: FloatArray) -> FloatArray:
        """Whole loss with all factors 1 [W]."""
        return np.interp(temperature_c, self.grid_c, self.closed_w + self.open_w)

    def closed_loss_w(self, temperature_c: FloatArray) -> FloatArray:
        """Loss of walls, base and lid with factor 1 [W]."""
        return np.interp(temperature_c, self.grid_c, self.closed_w)

    def capacity_j_per_k(self, temperature_c: FloatArray) -> FloatArray:
        """Heat capacity of the contents and the vessel with factor 1 [J/K]."""
        water = np.interp(temperature_c, self.grid_c, self.water_j_per_kg_k)
        return np.asarray(self.water_kg * water + np.interp(temperature_c, self.grid_c, self.beside_j_per_k))


def tables(
    around: Surroundings, shell: Shell, lid: LidState, contents: Contents, *, low_c: float, high_c: float
) -> VesselTables:
    """Tabulate a vessel between two temperatures.

    Parameters
    ----------
    around, shell, lid
        Place, vessel and state of the lid.
    contents : Contents
        What is in it; arrays of shape (1,).
    low_c, high_c : float
        Temperatures to cover [°C].

    Notes
    -----
    With `Shell.fittings` 0 and no measured loss, `energyplan.physics.vesselloss.dry_loss_w` is the open surface
    alone: that tells the two parts of the loss apart, so that each can have its own factor.
    """
    points = int(np.ceil((high_c - low_c) / GRID_K)) + 1
    grid_c = np.asarray(low_c + GRID_K * np.arange(points), dtype=np.float64)
    # Under a lid the loss of a full vessel, nearly straight over the temperature: how much steeper a headspace makes it
    # nobody measured, and a fit near mash temperature shall not lean on it.
    filled = np.minimum(contents.filled_l(np.asarray([60.0])) / shell.volume_l, 1.0)
    wetted = filled if lid == "off" else np.ones(1)
    whole_w = np.broadcast_to(dry_loss_w(grid_c, around, shell, lid, wetted), grid_c.shape)
    bare = Shell(
        diameter_m=shell.diameter_m,
        height_m=shell.height_m,
        emissivity=shell.emissivity,
        fittings=0.0,
        ajar_open_frac=shell.ajar_open_frac,
    )
    surface_w = np.broadcast_to(dry_loss_w(grid_c, around, bare, lid, wetted), grid_c.shape)
    vapour = np.broadcast_to(vapour_kg_per_s(grid_c, around, shell, lid), grid_c.shape)
    return VesselTables(
        grid_c=grid_c,
        closed_w=np.asarray(whole_w - surface_w),
        bent_w=np.zeros_like(grid_c),
        open_w=np.asarray(surface_w + vapour * latent_heat_j_per_kg(grid_c)),
        vapour_kg_per_s=np.asarray(vapour),
        beside_j_per_k=np.asarray(contents.specific_heats_j_per_k(grid_c)[1]),
        water_j_per_kg_k=specific_heat_j_per_kg_k(grid_c),
        water_kg=float(contents.water_kg[0]),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Supply:
    """Heat into the contents between readings: from the elements and beside them [W], both (readings - 1,)."""

    element_w: FloatArray
    pump_w: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Factors:
    """Factors on the model, each of shape (draws,).

    ``bend`` is that of the closed loss (0: as modelled), ``apart_k`` by how much less than entered the contents are
    warmer than the air [K]: air or thermometer read wrongly.
    """

    loss: FloatArray
    bend: FloatArray
    apart_k: FloatArray
    stored_heat: FloatArray
    power: FloatArray
    open_surface: FloatArray


def path_c(
    start_c: FloatArray, times_s: FloatArray, supply: Supply, vessel: VesselTables, factors: Factors
) -> FloatArray:
    """Temperature at the times of readings.

    Parameters
    ----------
    start_c : ndarray, shape (draws,)
        Temperature at the first time [°C].
    times_s : ndarray, shape (readings,)
        Times [s], increasing.
    supply : Supply
        Heat in between them.
    vessel : VesselTables
        Loss and heat capacity.
    factors : Factors
        Factors on loss, stored heat, power and open surface.

    Returns
    -------
    ndarray, shape (readings, draws)
        Temperatures [°C].

    Notes
    -----
    C dT/dt = P - L(T), Runge-Kutta of fourth order in steps of 3 minutes or less; the mass of water is brought down
    after each step. The same balance as `energyplan.physics.balance.drift`, for power that changes all the time.
    """
    temperature_c = np.asarray(start_c, dtype=float)
    water_kg = np.full_like(temperature_c, vessel.water_kg)
    path = [temperature_c]
    dries = bool(vessel.vapour_kg_per_s.any())
    for k, span_s in enumerate(np.diff(times_s)):
        heat_w = supply.element_w[k] * factors.power + supply.pump_w[k]
        steps = max(1, int(np.ceil(span_s / LONGEST_STEP_S)))
        for _ in range(steps):
            temperature_c = _stepped(temperature_c, span_s / steps, heat_w, water_kg, vessel, factors)
            if dries:
                vapour = np.interp(temperature_c, vessel.grid_c, vessel.vapour_kg_per_s)
                water_kg = np.maximum(water_kg - factors.open_surface * vapour * span_s / steps, 1e-3)
        path.append(temperature_c)
    return np.asarray(path)


def _stepped(  # one step of Runge-Kutta
    temperature_c: FloatArray,
    step_s: float,
    heat_w: FloatArray,
    water_kg: FloatArray,
    vessel: VesselTables,
    factors: Factors,
) -> FloatArray:
    grid_c = vessel.grid_c
    # Over one step the heat capacity hardly changes; its value at the start is good to 1e-4 of the step.
    water = np.interp(temperature_c, grid_c, vessel.water_j_per_kg_k)
    beside = np.interp(temperature_c, grid_c, vessel.beside_j_per_k)
    capacity = factors.stored_heat * (water_kg * water + beside)

    def slope(at_c: FloatArray) -> FloatArray:
        # The closed loss goes by the difference to the air: another air is the same curve, moved.
        moved_c = at_c - factors.apart_k
        closed = np.interp(moved_c, grid_c, vessel.closed_w) + factors.bend * np.interp(moved_c, grid_c, vessel.bent_w)
        surface = np.interp(at_c, grid_c, vessel.open_w)
        return np.asarray((heat_w - factors.loss * closed - factors.open_surface * surface) / capacity)

    k1 = slope(temperature_c)
    k2 = slope(temperature_c + step_s / 2 * k1)
    k3 = slope(temperature_c + step_s / 2 * k2)
    k4 = slope(temperature_c + step_s * k3)
    return np.asarray(temperature_c + step_s / 6 * (k1 + 2 * k2 + 2 * k3 + k4))
