"""The loss of a whole vessel as a function of its temperature, tabulated once for a state of the lid."""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cache, lru_cache, partial

import numpy as np
from numpy.typing import ArrayLike, NDArray

from energyplan.base.records import dataclass
from energyplan.physics.contents import Draws, cell, quick_latent_heat_j_per_kg
from energyplan.physics.losses import Surroundings
from energyplan.physics.vesselloss import (
    LidState,
    PartName,
    Parts,
    Shell,
    closed_loss_w,
    evaporation_factor,
    hand_up_w_per_k,
    parts_of,
    under_lid_w,
    vapour_kg_per_s,
    whole_part_w,
)

__all__ = ["LossCurve", "LossCurves", "loss_curve"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

BLOCK_CELLS = 40_000  # points times draws that are worked out at a time: what stays in the processor's cache
PARTS: tuple[PartName, ...] = ("side", "base", "lid", "surface", "vapour")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LossCurve:
    """Dry loss and evaporation tabulated over temperature, for every draw.

    ``dry_table_w`` and ``vapour_table_kg_per_s`` have the shape (points, draws): draws that are about as warm are read
    side by side. The points stand a kelvin apart, from ``low_c`` on. Between them a cubic through the four nearest is
    used: error below 1e-6 of the value from 10 K above the air on, 0.2 % within 2 K of the air, and 1e-4 of the vapour
    in the last kelvin before the boil.
    """

    low_c: float
    dry_table_w: FloatArray
    vapour_table_kg_per_s: FloatArray
    dries: bool

    def of(self, which: Draws) -> "LossCurve":
        """The curve of some of the draws."""
        dry_w, vapour = self.dry_table_w[:, which], self.vapour_table_kg_per_s[:, which]
        return replace(self, dry_table_w=dry_w, vapour_table_kg_per_s=vapour)

    @property
    def high_c(self) -> float:
        """Highest temperature of the table [°C]."""
        return float(self.low_c + self.dry_table_w.shape[0] - 1)

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
            return dry_w, np.zeros(dry_w.shape)
        # Where evaporation begins the cubic swings a trace below zero.
        return dry_w, np.maximum(self._between(self.vapour_table_kg_per_s, *place), 0.0)

    def total_w(self, temperature_c: FloatArray) -> FloatArray:
        """Heat needed to keep a temperature: dry loss and the latent heat of the vapour [W]."""
        if not self.dries:
            return self.dry_w(temperature_c)
        dry_w, vapour = self.dry_w_and_vapour_kg_per_s(temperature_c)
        return np.asarray(dry_w + vapour * quick_latent_heat_j_per_kg(temperature_c))

    def _place(self, temperature_c: FloatArray) -> tuple[IntArray, Sequence[FloatArray]]:
        """Where in the flat table the point before the last one below is, and the shares of it and the next three."""
        points, draws = self.dry_table_w.shape
        place = temperature_c - (self.low_c + 1)
        index = cell(place, points - 4.0)
        shares = _cubic(place - index)
        return index * draws + np.arange(draws) if draws > 1 else index, shares

    def _between(self, table: FloatArray, at: IntArray, shares: Sequence[FloatArray]) -> FloatArray:
        flat, draws = table.reshape(-1), table.shape[1]
        first, second, third, fourth = shares
        low = flat[at] * first + flat[draws:][at] * second
        return low + flat[2 * draws :][at] * third + flat[3 * draws :][at] * fourth


def _cubic(x: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Shares of four neighbours in a cubic through them, x of a step beyond the second (Lagrange)."""
    one, two, more = 1.0 - x, 2.0 - x, 1.0 + x
    outer, inner = more * two * 0.5, x * one * (-1 / 6)
    return two * inner, one * outer, x * outer, more * inner


@dataclass(frozen=True, slots=True, kw_only=True)
class _Place:
    """What of the surroundings is the same for all draws; ``radiant_c`` None: as warm as the air."""

    radiant_c: float | None
    humidity_frac: float
    pressure_pa: float
    draught_m_per_s: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Rows:
    """Parts of the plain vessel over air (rows) and contents (points from ``low_c`` on) [W], and the vapour."""

    low_c: float
    airs_c: FloatArray
    parts_w: Mapping[PartName, FloatArray]
    vapour_kg_per_s: FloatArray

    def between(self, low_c: float, high_c: float) -> slice:
        """Points from one before the low temperature to two beyond the high one."""
        first = round(math.floor(low_c) - 1 - self.low_c)
        return slice(first, first + math.ceil(high_c - math.floor(low_c)) + 4)


@lru_cache(maxsize=64)
def _rows(body: Shell, place: _Place, airs_c: tuple[float, ...], span_c: tuple[float, float]) -> _Rows:
    """Tabulate a body's losses; kept, since a planner asks for the same vessel in the same place again and again."""
    grid_c = np.arange(*span_c)
    air_c = np.array(airs_c)[:, None]
    around = Surroundings(
        air_c=air_c,
        radiant_c=air_c if place.radiant_c is None else place.radiant_c,
        humidity_frac=place.humidity_frac,
        pressure_pa=place.pressure_pa,
        draught_m_per_s=place.draught_m_per_s,
    )
    return _Rows(
        low_c=span_c[0],
        airs_c=air_c,
        parts_w={part: whole_part_w(part, grid_c, around, body) for part in PARTS},
        vapour_kg_per_s=vapour_kg_per_s(grid_c, around, body, "off"),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Reach:
    """The points of a curve (a column), and whether a lid may lose more than the open surface at any of them."""

    rows: _Rows
    points: slice
    temperature_c: FloatArray
    may_cost: bool

    @property
    def vapour_kg_per_s(self) -> FloatArray:
        """Vapour of the open surface over air of whole degrees (points, airs)."""
        return self.rows.vapour_kg_per_s[:, self.points].T

    def part_w(self, name: PartName, weights: FloatArray) -> FloatArray:
        """A part of the plain vessel, for draws that take the air of whole degrees by weights (airs, draws)."""
        return self.rows.parts_w[name][:, self.points].T @ weights


#: Draws that are worked out together, their shell, what its parts lose.
Block = tuple[slice, Shell, Parts]


def _air_weights(air_c: FloatArray) -> tuple[tuple[float, ...], FloatArray]:
    """Whole degrees beside the air of all draws, and the cubic weights with which each draw takes them (one column)."""
    coldest_c = float(np.floor(air_c.min())) - 1
    before = np.floor(air_c - coldest_c).astype(np.int64) - 1
    x = air_c - coldest_c - 1 - before
    weights = np.zeros((int(before.max()) + 4, air_c.size))
    for degrees, share in enumerate(_cubic(x)):
        weights[before + degrees, np.arange(air_c.size)] = share
    used = weights.any(axis=1)
    return tuple((coldest_c + np.flatnonzero(used)).tolist()), weights[used]


class LossCurves:
    """The losses of one vessel in one place, for every draw: a curve for any lid, level and reach.

    Parameters
    ----------
    around, shell
        See `dry_loss_w`. The air (and surroundings as warm as the air), the factors and the measured loss of
        ``shell`` may have the shape (draws,); all else is the same for every draw.
    draws : int
        Number of draws.

    Notes
    -----
    The relations are worked out for air of whole degrees and blended by a cubic through the four nearest: what a draw
    gets does not depend on the others, is exact in air of a whole degree, and else within 1e-6 from 10 K above the
    air on. Nor does it depend on how far the curve reaches.
    """

    def __init__(self, around: Surroundings, shell: Shell, draws: int) -> None:
        self.shell, self.place = shell, _place_of(around)
        self.air_c = np.broadcast_to(np.asarray(around.air_c, dtype=float), (draws,))
        self.airs_c, self.weights = _air_weights(self.air_c)
        self.body = replace(
            shell, fittings=1.0, heat_loss_w_per_k=None, measured_wet_frac=None, open_surface_factor=1.0
        )
        self.blocks: dict[int, list[tuple[slice, Shell]]] = {}
        self.kept: dict[tuple[float, float], tuple[_Reach, Sequence[Block]]] = {}

    def _reach(self, low_c: float, high_c: float) -> tuple[_Reach, Iterable[Block]]:
        """Points of a curve, and its blocks; kept on a single day, whose curves all reach alike."""
        if (low_c, high_c) in self.kept:
            return self.kept[low_c, high_c]
        rows = _rows(self.body, self.place, self.airs_c, _span_c(low_c, high_c))
        points = rows.between(low_c, high_c)
        reach = _Reach(
            rows=rows,
            points=points,
            temperature_c=(rows.low_c + np.arange(points.start, points.stop))[:, None],
            may_cost=bool(_lid_may_cost(self.shell, rows)[points].any()),
        )
        if self.air_c.size > 1:
            return reach, self._blocks(reach)
        self.kept[low_c, high_c] = reach, list(self._blocks(reach))
        return self.kept[low_c, high_c]

    def _blocks(self, reach: _Reach) -> Iterator[Block]:
        """Draws that are worked out together, with their shell and what its parts lose."""
        draws = self.air_c.size
        size = min(max(BLOCK_CELLS // reach.temperature_c.size, 1), draws)
        if size not in self.blocks:
            together = [slice(first, first + size) for first in range(0, draws, size)]
            self.blocks[size] = [(some, _of_draws(self.shell, some)) for some in together]
        for some, shell in self.blocks[size]:
            part_w = cache(partial(reach.part_w, weights=self.weights[:, some]))
            yield some, shell, parts_of(reach.temperature_c, self.air_c[some], part_w, may_cost=reach.may_cost)

    def curve(self, lid: LidState, wetted_frac: FloatArray, *, low_c: float, high_c: float) -> LossCurve:
        """Tabulate the loss between two temperatures.

        Parameters
        ----------
        lid : {"on", "off", "ajar"}
            State of the lid.
        wetted_frac : ndarray, shape (draws,)
            Share of the side wall below the level.
        low_c, high_c : float
            Temperatures that the curve must cover [°C], at most 115.
        """
        reach, blocks = self._reach(low_c, high_c)
        open_frac = self.shell.open_frac(lid)
        dry_w = np.empty((reach.temperature_c.size, wetted_frac.size))
        for some, shell, parts in blocks:
            dry_w[:, some] = closed_loss_w(shell, lid, wetted_frac[some], parts)
            if open_frac > 0:
                dry_w[:, some] += open_frac * parts.part_w("surface")
        vapour = np.zeros((0, wetted_frac.size))
        if open_frac > 0:
            vapour = (open_frac * reach.vapour_kg_per_s) @ self.weights
            vapour *= evaporation_factor(reach.temperature_c, self.shell.open_surface_factor)
        low_c = float(reach.temperature_c[0, 0])
        return LossCurve(low_c=low_c, dry_table_w=dry_w, vapour_table_kg_per_s=vapour, dries=bool(vapour.any()))


def loss_curve(
    around: Surroundings, shell: Shell, lid: LidState, wetted_frac: FloatArray, *, low_c: float, high_c: float
) -> LossCurve:
    """A single curve, see `LossCurves`."""
    return LossCurves(around, shell, wetted_frac.size).curve(lid, wetted_frac, low_c=low_c, high_c=high_c)


def _lid_may_cost(shell: Shell, rows: _Rows) -> NDArray[np.bool_]:
    """At which points lid and dry wall could lose more than the open surface, in any draw, in an empty vessel."""
    fittings, part = float(np.max(shell.fittings)), rows.parts_w
    here_c = rows.low_c + np.arange(part["lid"].shape[1], dtype=np.float64)
    parts = parts_of(here_c, rows.airs_c, part.__getitem__)
    handed_w = hand_up_w_per_k(parts.stirred_w_per_m2, shell.lid_m2, shell.side_m2)
    fed_w = under_lid_w(fittings * (part["lid"] + part["side"]), handed_w)
    least_factor = min(float(np.min(shell.open_surface_factor)), 1.0)
    costs = fed_w > np.maximum(part["surface"] + least_factor * part["vapour"], 0.0)
    return np.asarray(costs.any(axis=0))


def _of_draws(shell: Shell, some: slice) -> Shell:
    """The shell of some of the draws, what differs between them as a row beside the points of a table."""
    measured = shell.heat_loss_w_per_k
    return replace(
        shell,
        fittings=_row(shell.fittings, some),
        heat_loss_w_per_k=None if measured is None else _row(measured, some),
        open_surface_factor=_row(shell.open_surface_factor, some),
    )


def _span_c(low_c: float, high_c: float) -> tuple[float, float]:
    """Temperatures of the rows: the same for every reach of a curve between freezing and the boil."""
    return min(math.floor(low_c), 0.0) - 1.0, max(math.ceil(high_c), 103.0) + 3.0


def _row(value: ArrayLike, some: slice) -> FloatArray:
    """One value, or those of some draws, as a row."""
    row = np.asarray(value, dtype=float).reshape(-1)
    return row if row.size == 1 else row[some]


def _place_of(around: Surroundings) -> _Place:
    as_air = around.radiant_c is around.air_c or np.array_equal(around.radiant_c, around.air_c)
    return _Place(
        radiant_c=None if as_air else float(np.asarray(around.radiant_c)),
        humidity_frac=float(np.asarray(around.humidity_frac)),
        pressure_pa=float(np.asarray(around.pressure_pa)),
        draught_m_per_s=float(np.asarray(around.draught_m_per_s)),
    )
