"""The loss of a whole vessel as a function of its temperature, tabulated once for a state of the lid."""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from energyplan.physics.losses import Surroundings
from energyplan.physics.quickwater import quick_latent_heat_j_per_kg, quick_vapour_enthalpy_j_per_kg
from energyplan.physics.vesselloss import (
    LidState,
    Shell,
    ends_loss_w,
    measured_share,
    side_loss_w,
    surface_loss_w,
    vapour_kg_per_s,
)

__all__ = ["LossCurve", "loss_curve"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

GRID_STEP_K = 0.5


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
        per_k=measured_share(body, lid) * np.vstack([grid_c, np.ones_like(grid_c)]),
        side_w=none if is_measured else side_loss_w(grid_c, around, body),
        ends_w=none if is_measured else ends_loss_w(grid_c, around, body, lid),
        surface_w=surface_loss_w(grid_c, around, body, lid) if is_open else none,
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
