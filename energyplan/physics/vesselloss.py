"""What a vessel loses: walls, jacket, lid with its headspace, base."""

import math
from collections.abc import Callable
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from energyplan.base.records import dataclass
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
from energyplan.physics.water import latent_heat_j_per_kg

__all__ = [
    "CALM_C",
    "LidState",
    "Part",
    "PartName",
    "Parts",
    "Shell",
    "closed_loss_w",
    "dry_loss_w",
    "evaporation_factor",
    "hand_up_w_per_k",
    "parts_of",
    "stirred_w_per_m2_k",
    "surface_loss_w",
    "under_lid_w",
    "vapour_kg_per_s",
    "whole_part_w",
]

FloatArray = NDArray[np.float64]


LEAST_LIFT_K = 1e-6  # below it the difference to the air drives nothing
HAND_UP_W_PER_M2_K, HAND_UP_PER_K, AREA_EXPONENT = 1.94, 0.0477, 0.186
# A gap through which still, saturated air passes as much as stirred air does: at 40 to 66 degC diffusion of vapour and
# conduction pass 0.20 and 0.74 W/mK, the stirred air 13 and 45 W/m2K [by the diffusivity of Incropera et al., table
# A.8, from memory].
STILL_GAP_M, LEAST_GAP_M = 0.016, 1e-6


def stirred_w_per_m2_k(temperature_c: ArrayLike) -> FloatArray:
    """What the headspace's stirred air takes up to a lid, per area and kelvin above the air, see `hand_up_w_per_k`."""
    return np.asarray(HAND_UP_W_PER_M2_K * np.exp(HAND_UP_PER_K * np.asarray(temperature_c, dtype=float)))


def hand_up_w_per_k(stirred_w_per_m2_k: FloatArray, surface_m2: float, dry_m2: ArrayLike) -> FloatArray:
    """Heat that a closed surface can hand up to lid and dry wall, per kelvin of the contents above the air [W/K].

    Parameters
    ----------
    stirred_w_per_m2_k : ndarray
        What stirred air takes up at the temperature of the contents [W/m2K].
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
    it]. A balance written anew for the tests lies within -8.4 to +11.9 % of it: 0.2 to 0.6 m across, 10 to 85 % full,
    40 to 95 °C, bare and jacketed. Through a thin gap of still air the vapour diffuses: its conductance is joined with
    that of the stirred air by the third power, so that the lid of a brimful vessel is as hot as the contents.

    Examples
    --------
    >>> round(float(hand_up_w_per_k(stirred_w_per_m2_k(66.0), 0.1, 1.0)), 2)
    7.06
    """
    dry_m2 = np.asarray(dry_m2, dtype=float)
    gap_m = np.maximum(dry_m2 / (2 * math.sqrt(math.pi * surface_m2)), LEAST_GAP_M)
    spread = np.cbrt((1.0 + dry_m2 / surface_m2) ** (3 * AREA_EXPONENT) + (STILL_GAP_M / gap_m) ** 3.0)
    return np.asarray(stirred_w_per_m2_k * (surface_m2 * spread))


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


LidState = Literal["on", "off", "ajar"]
Part = Literal["side", "base", "lid"]

# Gives a part of the vessel as hot as the contents, without fittings: "side", "base", "lid"; "surface" without a lid,
# "vapour" the heat of what evaporates from it [W].
PartName = Literal["side", "base", "lid", "surface", "vapour"]
PartLoss = Callable[[PartName], FloatArray]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Parts:
    """What a vessel's parts lose in some states.

    ``temperature_c`` of the contents, ``warmer_k`` than the air, ``part_w`` gives a part by its name,
    ``stirred_w_per_m2`` is what stirred air takes up to a lid. ``may_cost`` is False where it is known that no lid
    loses more than the surface would without it.
    """

    temperature_c: FloatArray
    warmer_k: FloatArray
    part_w: PartLoss
    stirred_w_per_m2: FloatArray
    may_cost: bool


CALM_C, CALM_SHARE = 75.0, 0.6  # up to where, and how much less, the sources on open surfaces differ


EDGE_SHAPE = 0.54  # of two walls that meet, per length of edge: Incropera et al., 6th ed., table 4.1 (from memory)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shell:
    """The vessel as a body that loses heat: an upright cylinder.

    Parameters
    ----------
    diameter_m, height_m : float
        Of the cylinder, inside [m].
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
    measured_wet_frac : float or None
        Share of the side wall below the level when the loss was measured; at another level the measured loss changes
        as the estimate does. None: it counts for every level.
    ajar_open_frac : float
        Share of the surface that is open with the lid ajar.
    open_surface_factor : array_like
        Real over modelled evaporation at 100 °C, see `evaporation_factor`.
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
    measured_wet_frac: float | None = None
    ajar_open_frac: float = 0.2
    open_surface_factor: ArrayLike = 1.0

    @property
    def lid_m2(self) -> float:
        """Area of the lid, of the base, and of the open surface [m2]."""
        return float(np.pi / 4 * self.diameter_m**2)

    @property
    def side_m2(self) -> float:
        """Area of the whole side wall, inside [m2]."""
        return float(np.pi * self.diameter_m * self.height_m)

    @property
    def volume_l(self) -> float:
        """What it holds to the brim [L]."""
        return 1000 * self.lid_m2 * self.height_m

    def area_m2(self, part: Part) -> float:
        """Area of a part, inside [m2]."""
        return self.side_m2 if part == "side" else self.lid_m2

    def plate(self, part: Part) -> Plate:
        """Describe one part as a plate.

        Notes
        -----
        A jacket on the side is a cylindrical shell, R = r ln((r + s) / r) / k per area inside, on an end a slab s / k;
        where both are covered the edge between them passes 0.54 k per length more, half of it counted to either.
        """
        covered = self.jacket_m > 0 and part in self.jacketed
        facing: dict[Part, Literal["sideways", "up", "down"]] = {"side": "sideways", "lid": "up", "base": "down"}
        cloth = self.jacket_emissivity if covered else None
        return Plate(
            facing=facing[part],
            length_m=self.height_m if part == "side" else self.diameter_m / 4,
            emissivity=self.emissivity if cloth is None else cloth,
            resistance_m2_k_per_w=self._jacket_m2_k_per_w(part) if covered else 0.0,
            outer_area_frac=self._outer_m2(part) / self.area_m2(part) if covered else 1.0,
        )

    def _edges(self, part: Part) -> int:
        """Edges at which the jacket of a part meets that of another."""
        ends = len(self.jacketed & {"lid", "base"})
        return 0 if "side" not in self.jacketed else ends if part == "side" else 1

    def _jacket_m2_k_per_w(self, part: Part) -> float:
        """Resistance of the jacket on a part, for the area inside [m2K/W]; nothing is divided by the thickness."""
        radius_m = self.diameter_m / 2
        thick_m = radius_m * np.log1p(self.jacket_m / radius_m) if part == "side" else self.jacket_m
        edge_m = EDGE_SHAPE / 2 * self._edges(part) * np.pi * self.diameter_m
        return float(thick_m / self.jacket_w_per_m_k / (1 + thick_m * edge_m / self.area_m2(part)))

    def _outer_m2(self, part: Part) -> float:
        """Area of the jacket's outer face on a part [m2]."""
        wider_m = self.diameter_m + 2 * self.jacket_m
        if part == "side":
            return float(np.pi * wider_m * (self.height_m + self._edges("side") * self.jacket_m))
        return float(np.pi / 4 * wider_m**2) if "side" in self.jacketed else self.lid_m2

    def open_frac(self, lid: LidState) -> float:
        """Share of the surface that lies open."""
        return {"on": 0.0, "off": 1.0, "ajar": self.ajar_open_frac}[lid]


def surface_loss_w(temperature_c: ArrayLike, around: Surroundings, shell: Shell) -> FloatArray:
    """Convection and radiation from the whole surface without a lid [W]."""
    surface = Plate(facing="up", length_m=shell.diameter_m / 4, emissivity=WATER_EMISSIVITY)
    warmer_k = np.asarray(temperature_c, dtype=float) - np.asarray(around.air_c)
    natural = natural_convection_w_per_m2_k(temperature_c, around, surface)
    forced = forced_convection_w_per_m2_k(temperature_c, around, shell.diameter_m)
    radiated = radiation_w_per_m2(temperature_c, around.radiant_c, WATER_EMISSIVITY)
    return np.asarray(shell.lid_m2 * (np.cbrt(natural**3 + forced**3) * warmer_k + radiated))


def vapour_kg_per_s(temperature_c: ArrayLike, around: Surroundings, shell: Shell, lid: LidState) -> FloatArray:
    """Water that evaporates below the boil from the open part of the surface [kg/s]; none with the lid on."""
    open_m2 = shell.open_frac(lid) * shell.lid_m2
    if open_m2 == 0:
        shape = np.broadcast(np.asarray(temperature_c), np.asarray(around.air_c)).shape
        return np.zeros(shape)
    factor = evaporation_factor(temperature_c, shell.open_surface_factor)
    return np.asarray(open_m2 * factor * evaporation_kg_per_m2_s(temperature_c, around, shell.diameter_m))


def evaporation_factor(temperature_c: ArrayLike, at_the_boil: ArrayLike) -> FloatArray:
    """Real over modelled evaporation at a temperature, from that at 100 °C.

    Notes
    -----
    Sources differ by about 15 % up to 75 °C and by 25 % near the boil: what a surface departs from the model at the
    boil, it departs six tenths as much below 75 °C, with a straight line between [assumption].

    Examples
    --------
    >>> [round(float(factor), 3) for factor in evaporation_factor([20.0, 75.0, 87.5, 100.0], 1.25)]
    [1.15, 1.15, 1.2, 1.25]
    """
    share = np.interp(np.asarray(temperature_c, dtype=float), (CALM_C, 100.0), (CALM_SHARE, 1.0))
    return np.asarray(1 + (np.asarray(at_the_boil, dtype=float) - 1) * share)


def parts_of(temperature_c: FloatArray, air_c: FloatArray, part_w: PartLoss, *, may_cost: bool = True) -> Parts:
    """What a vessel's parts lose over air of some temperatures [°C], see `Parts`."""
    warmer_k = temperature_c - air_c
    lift_k = np.maximum(np.abs(warmer_k), LEAST_LIFT_K)
    return Parts(
        temperature_c=temperature_c,
        warmer_k=warmer_k,
        part_w=part_w,
        stirred_w_per_m2=stirred_w_per_m2_k(temperature_c) * lift_k,
        may_cost=may_cost,
    )


def closed_loss_w(shell: Shell, lid: LidState, wetted_frac: ArrayLike, parts: Parts) -> FloatArray:
    """Loss of side, base and the closed part of the lid [W].

    Parameters
    ----------
    shell, lid
        See `dry_loss_w`.
    wetted_frac : array_like
        Share of the side wall below the liquid's level.
    parts : Parts
        What the plain vessel's parts lose.
    """
    closed_frac = 1 - shell.open_frac(lid)
    if shell.heat_loss_w_per_k is None:
        return _estimated_w(shell, closed_frac, wetted_frac, parts)
    lid_frac = shell.lid_m2 / (shell.side_m2 + 2 * shell.lid_m2)
    measured_w = np.asarray(shell.heat_loss_w_per_k) * parts.warmer_k * (1 - (1 - closed_frac) * lid_frac)
    if shell.measured_wet_frac is None:
        return np.asarray(measured_w)
    here_w, there_w = (_estimated_w(shell, 1.0, wet, parts) for wet in (wetted_frac, shell.measured_wet_frac))
    return np.asarray(measured_w * np.where(there_w > 0, here_w / np.where(there_w > 0, there_w, 1.0), 1.0))


def _estimated_w(shell: Shell, closed_frac: float, wetted_frac: ArrayLike, parts: Parts) -> FloatArray:
    """Loss of the base and the wall below the level; above it as far as the lid is closed [W]."""
    wet, fittings = np.asarray(wetted_frac, dtype=float), np.asarray(shell.fittings)
    side_w = parts.part_w("side")
    wet_side_w = wet * side_w
    wetted_w = fittings * (parts.part_w("base") + wet_side_w)
    if closed_frac == 0:
        return np.asarray(wetted_w)
    as_hot_w = fittings * (parts.part_w("lid") + (side_w - wet_side_w))
    head_w = under_lid_w(as_hot_w, hand_up_w_per_k(parts.stirred_w_per_m2, shell.lid_m2, (1.0 - wet) * shell.side_m2))
    if parts.may_cost:
        factor = evaporation_factor(parts.temperature_c, shell.open_surface_factor)
        open_w = parts.part_w("surface") + factor * parts.part_w("vapour")
        head_w = np.minimum(head_w, np.maximum(open_w, 0.0))
    return np.asarray(wetted_w + closed_frac * head_w)


def dry_loss_w(
    temperature_c: ArrayLike,
    around: Surroundings,
    shell: Shell,
    lid: LidState,
    wetted_frac: ArrayLike,
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
        Share of the side wall below the liquid's level. With the lid off only this part counts; with the lid on the
        dry wall and the lid lose what the surface hands up to them (`energyplan.physics.vesselloss`).

    Returns
    -------
    ndarray
        Loss [W], broadcast shape.

    Notes
    -----
    A measured loss (lid on) gives up the lid's share of the vessel's whole area as far as the lid is open; the
    open part then loses by convection and radiation from the surface itself.
    """
    here_c = np.asarray(temperature_c, dtype=float)

    def part_w(name: PartName) -> FloatArray:
        return whole_part_w(name, here_c, around, shell)

    parts = parts_of(here_c, np.asarray(around.air_c), part_w)
    closed = closed_loss_w(shell, lid, wetted_frac, parts)
    open_frac = shell.open_frac(lid)
    return np.asarray(closed + open_frac * surface_loss_w(here_c, around, shell)) if open_frac > 0 else closed


def whole_part_w(part: PartName, temperature_c: FloatArray, around: Surroundings, shell: Shell) -> FloatArray:
    """A part of the vessel by the plain relations, see `PartName` [W]."""
    if part == "vapour":
        flux = evaporation_kg_per_m2_s(temperature_c, around, shell.diameter_m)
        return np.asarray(shell.lid_m2 * flux * latent_heat_j_per_kg(temperature_c))
    if part == "surface":
        return surface_loss_w(temperature_c, around, shell)
    area_m2 = shell.area_m2(part)
    return area_m2 * plate_loss_w_per_m2(temperature_c, around, shell.plate(part))
