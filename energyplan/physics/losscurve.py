"""The loss of a whole vessel as a function of its temperature, tabulated once for a state of the lid."""

from dataclasses import dataclass, replace
from functools import lru_cache
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
from energyplan.physics.quickwater import quick_latent_heat_j_per_kg, quick_vapour_enthalpy_j_per_kg

__all__ = ["LossCurve", "Shell", "dry_loss_w", "loss_curve", "vapour_kg_per_s"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
LidState = Literal["on", "off", "ajar"]
Part = Literal["side", "base", "lid"]

GRID_STEP_K = 0.5


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
    return np.asarray(closed + _surface_w(temperature_c, around, shell, lid))


def _closed_parts_w(
    temperature_c: ArrayLike, around: Surroundings, shell: Shell, lid: LidState, wetted_frac: ArrayLike
) -> FloatArray:
    """Loss of side, base and the closed part of the lid [W]."""
    if shell.heat_loss_w_per_k is not None:
        warmer_k = np.asarray(temperature_c, dtype=float) - np.asarray(around.air_c)
        return np.asarray(np.asarray(shell.heat_loss_w_per_k) * _measured_share(shell, lid) * warmer_k)
    hot_side_frac = np.asarray(wetted_frac) if lid == "off" else 1.0
    parts = hot_side_frac * _side_w(temperature_c, around, shell) + _ends_w(temperature_c, around, shell, lid)
    return np.asarray(np.asarray(shell.fittings) * parts)


def _measured_share(shell: Shell, lid: LidState) -> float:
    """Share of a measured loss that is left when the lid is open as far as it is."""
    return 1 - shell.open_frac(lid) * shell.lid_m2 / (shell.side_m2 + 2 * shell.lid_m2)


def _side_w(temperature_c: ArrayLike, around: Surroundings, shell: Shell) -> FloatArray:
    """Loss of the whole side wall [W]."""
    return shell.side_m2 * plate_loss_w_per_m2(temperature_c, around, shell.plate("side"))


def _ends_w(temperature_c: ArrayLike, around: Surroundings, shell: Shell, lid: LidState) -> FloatArray:
    """Loss of the base and of the closed part of the lid [W]."""
    base_w = shell.lid_m2 * plate_loss_w_per_m2(temperature_c, around, shell.plate("base"))
    closed_frac = 1 - shell.open_frac(lid)
    if closed_frac == 0:
        return base_w
    return base_w + closed_frac * shell.lid_m2 * plate_loss_w_per_m2(temperature_c, around, shell.plate("lid"))


def _surface_w(temperature_c: ArrayLike, around: Surroundings, shell: Shell, lid: LidState) -> FloatArray:
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LossCurve:
    """Dry loss and evaporation tabulated over temperature, for every draw.

    ``dry_table_w`` and ``vapour_table_kg_per_s`` have the shape (draws, points); point k stands at
    ``low_c + k * step_k``. Between the points a cubic through the four nearest is used: error below 1e-6 of the value
    from 10 K above the air on, 0.2 % within 2 K of the air, and 1e-4 of the vapour in the last kelvin before the boil.
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
        return self._between(self.dry_table_w, *self._place(temperature_c))

    def vapour_kg_per_s(self, temperature_c: FloatArray) -> FloatArray:
        """Evaporation at temperatures of shape (..., draws) [kg/s]."""
        return self.dry_w_and_vapour_kg_per_s(temperature_c)[1]

    def dry_w_and_vapour_kg_per_s(self, temperature_c: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Both at once, for the price of little more than one."""
        place = self._place(temperature_c)
        dry_w = self._between(self.dry_table_w, *place)
        if not self.dries:
            return dry_w, np.zeros_like(dry_w)
        # Where evaporation begins the cubic swings a trace below zero.
        return dry_w, np.maximum(self._between(self.vapour_table_kg_per_s, *place), 0.0)

    def total_w(self, temperature_c: FloatArray) -> FloatArray:
        """Heat needed to keep a temperature: dry loss and the latent heat of the vapour [W]."""
        if not self.dries:
            return self.dry_w(temperature_c)
        dry_w, vapour = self.dry_w_and_vapour_kg_per_s(temperature_c)
        return np.asarray(dry_w + vapour * quick_latent_heat_j_per_kg(temperature_c))

    def vapour_w(self, temperature_c: FloatArray) -> FloatArray:
        """Enthalpy that the vapour carries away, counted from liquid at 0 °C [W]."""
        return np.asarray(self.vapour_kg_per_s(temperature_c) * quick_vapour_enthalpy_j_per_kg(temperature_c))

    def _place(self, temperature_c: FloatArray) -> tuple[IntArray, FloatArray]:
        """Where in the flat table the point below a temperature stands, and how far the temperature is beyond it."""
        rows, points = self.dry_table_w.shape
        place = (temperature_c - self.low_c) / self.step_k
        index = np.minimum(np.maximum(place, 1.0), points - 3.0).astype(np.int64)
        return index + points * np.arange(rows), place - index

    def _between(self, table: FloatArray, at: IntArray, x: FloatArray) -> FloatArray:
        flat = table.reshape(-1)
        here = flat.take(at)
        rise = flat.take(at + 1)
        rise -= here
        bend_here = flat.take(at - 1)
        bend_here += rise
        bend_here -= here
        bend_after = flat.take(at + 2)
        bend_after -= here
        bend_after -= 2 * rise
        # Everett's form: the straight line, less what the second differences at either end take from it.
        bend_after -= bend_here
        bend_after *= 1 + x
        bend_after += 3 * bend_here
        bend_after *= x * (1 - x) / 6
        rise *= x
        rise += here
        rise -= bend_after
        return rise


@dataclass(frozen=True, slots=True, kw_only=True)
class _Place:
    """What of the surroundings is the same for all draws; ``radiant_c`` None: as warm as the air."""

    radiant_c: float | None
    humidity_frac: float
    pressure_pa: float
    draught_m_per_s: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Rows:
    """Losses of the plain vessel over air (rows) and contents (points): whole side, ends, open surface, vapour.

    ``per_k`` has two rows: what a measured loss of 1 W/K gives by the contents' temperature, and by that of the air.
    """

    per_k: FloatArray
    side_w: FloatArray
    ends_w: FloatArray
    surface_w: FloatArray
    vapour_kg_per_s: FloatArray


@lru_cache(maxsize=64)
def _rows(body: Shell, lid: LidState, place: _Place, airs_c: tuple[float, ...], span_c: tuple[float, int]) -> _Rows:
    """Tabulate a body's losses; kept, since a planner asks for the same vessel in the same place again and again."""
    grid_c = span_c[0] + GRID_STEP_K * np.arange(span_c[1])
    air_c = np.array(airs_c)[:, None]
    around = Surroundings(
        air_c=air_c,
        radiant_c=air_c if place.radiant_c is None else place.radiant_c,
        humidity_frac=place.humidity_frac,
        pressure_pa=place.pressure_pa,
        draught_m_per_s=place.draught_m_per_s,
    )
    none = np.zeros((len(airs_c), span_c[1]))
    is_measured, is_open = body.heat_loss_w_per_k is not None, body.open_frac(lid) > 0
    return _Rows(
        per_k=_measured_share(body, lid) * np.vstack([grid_c, np.ones_like(grid_c)]),
        side_w=none if is_measured else _side_w(grid_c, around, body),
        ends_w=none if is_measured else _ends_w(grid_c, around, body, lid),
        surface_w=_surface_w(grid_c, around, body, lid) if is_open else none,
        vapour_kg_per_s=vapour_kg_per_s(grid_c, around, body, lid) if is_open else none,
    )


def _air_weights(air_c: FloatArray) -> tuple[tuple[float, ...], FloatArray]:
    """Whole degrees around the air of all draws, and the cubic weights with which each draw takes them."""
    whole_c = np.floor(air_c)
    first_c = whole_c.min() - 1
    x, row = air_c - whole_c, (whole_c - first_c).astype(np.int64)
    weights = np.zeros((air_c.size, int(whole_c.max() - first_c) + 3))
    draw = np.arange(air_c.size)
    weights[draw, row - 1] = -x * (x - 1) * (x - 2) / 6
    weights[draw, row] = (x + 1) * (x - 1) * (x - 2) / 2
    weights[draw, row + 1] = -(x + 1) * x * (x - 2) / 2
    weights[draw, row + 2] = (x + 1) * x * (x - 1) / 6
    return tuple((first_c + np.arange(weights.shape[1])).tolist()), weights


def loss_curve(
    around: Surroundings, shell: Shell, lid: LidState, wetted_frac: FloatArray, *, low_c: float, high_c: float
) -> LossCurve:
    """Tabulate a vessel's loss between two temperatures.

    Parameters
    ----------
    around, shell, lid
        See `dry_loss_w`. The air (and surroundings as warm as the air), the factor and the measured loss of
        ``shell`` may have the shape (draws,); all else is the same for every draw.
    wetted_frac : ndarray, shape (draws,)
        Share of the side wall below the level.
    low_c, high_c : float
        Temperatures that the curve must cover [°C], at most 115.

    Notes
    -----
    The relations are worked out for air of whole degrees and blended by a cubic through the four nearest: what a draw
    gets does not depend on the others, is exact in air of a whole degree, and else within 1e-6 from 10 K above the
    air on.
    """
    draws = wetted_frac.shape[0]
    air_c = np.broadcast_to(np.asarray(around.air_c, dtype=float), (draws,))
    airs_c, weights = _air_weights(air_c)
    span_c = (low_c - GRID_STEP_K, int(np.ceil((high_c - low_c) / GRID_STEP_K)) + 4)
    measured = shell.heat_loss_w_per_k
    body = replace(shell, fittings=1.0, heat_loss_w_per_k=None if measured is None else 1.0)
    rows = _rows(body, lid, _place_of(around), airs_c, span_c)
    fitted = _column(shell.fittings) * weights
    mixes: list[tuple[FloatArray, FloatArray]] = []  # what each draw takes of which rows
    if measured is not None:
        mixes += [(_column(measured) * np.column_stack([np.ones(draws), -air_c]), rows.per_k)]
    elif lid == "off":
        mixes += [(fitted, rows.ends_w), (fitted * wetted_frac[:, None], rows.side_w)]
    else:
        mixes += [(fitted, rows.ends_w + rows.side_w)]
    is_open = shell.open_frac(lid) > 0
    if is_open:
        mixes += [(weights, rows.surface_w)]
    shares, tables = zip(*mixes, strict=True)
    return LossCurve(
        low_c=span_c[0],
        step_k=GRID_STEP_K,
        dry_table_w=np.hstack(shares) @ np.vstack(tables),
        vapour_table_kg_per_s=weights @ rows.vapour_kg_per_s if is_open else np.zeros((draws, 0)),
        dries=is_open and bool(rows.vapour_kg_per_s.any()),
    )


def _column(value: ArrayLike) -> FloatArray:
    """A value, or one for every draw, as a column beside the points of a table."""
    return np.asarray(value, dtype=float).reshape(-1, 1)


def _place_of(around: Surroundings) -> _Place:
    as_air = around.radiant_c is around.air_c or np.array_equal(around.radiant_c, around.air_c)
    return _Place(
        radiant_c=None if as_air else float(np.asarray(around.radiant_c)),
        humidity_frac=float(np.asarray(around.humidity_frac)),
        pressure_pa=float(np.asarray(around.pressure_pa)),
        draught_m_per_s=float(np.asarray(around.draught_m_per_s)),
    )
