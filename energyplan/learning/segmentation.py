"""A log cut into stretches: borders by least squares, and whether the lid was on."""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from energyplan.base.records import dataclass
from energyplan.learning.bins import Bins
from energyplan.learning.model import VesselTables
from energyplan.learning.readings import Remark

__all__ = ["OtherSlope", "other_slope", "other_slopes", "passed_k", "steady_parts", "straight_pieces", "straighter"]

FloatArray = NDArray[np.float64]
_Window = tuple[int, int, float, float, float]  # borders, sum of squares left, slopes outside and inside
FEWEST_IN_PIECE = 5
LEAST_GAIN = 30.0  # by how much a cut must lower the sum of squares, in squares of the scatter
LEAST_F = 40.0  # for a change of slope within one piece; chance gives 10 in one of a thousand


def straight_pieces(
    times_s: FloatArray, temperature_c: FloatArray, scatter_k: float, fewest: int = FEWEST_IN_PIECE
) -> list[tuple[int, int]]:
    """Cut a curve into nearly straight pieces.

    Parameters
    ----------
    times_s, temperature_c : ndarray, shape (n,)
        The curve.
    scatter_k : float
        Scatter of a single point [K].
    fewest : int
        Fewest points of a piece.

    Returns
    -------
    list of (int, int)
        Half-open ranges that cover the curve.

    Notes
    -----
    Top down: a piece is cut where two lines fit best, as long as that lowers the sum of squares by 30 squares of
    the scatter. A curve that bends slowly is cut too; whoever needs it whole joins the pieces again.
    """
    sums = _sums(times_s - times_s[0], temperature_c - temperature_c.mean())
    done: list[tuple[int, int]] = []
    waiting = [(0, int(times_s.size))]
    while waiting:
        first, last = waiting.pop()
        cut = _best_cut(sums[:, first : last + 1], scatter_k, fewest)
        if cut is None:
            done.append((first, last))
        else:
            waiting += [(first, first + cut), (first + cut, last)]
    return sorted(done)


def _sums(x: FloatArray, y: FloatArray) -> FloatArray:
    """Running sums of 1, x, y, x2, xy, y2, each beginning with 0."""
    columns = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y])
    return np.concatenate([np.zeros((6, 1)), np.cumsum(columns, axis=1)], axis=1)


def _squares(sums: FloatArray) -> FloatArray:
    """Sum of squares that a straight line leaves, from the sums over a range."""
    n, x, y, xx, xy, yy = sums
    sxx, sxy, syy = xx - x * x / n, xy - x * y / n, yy - y * y / n
    return np.asarray(np.maximum(syy - sxy * sxy / np.where(sxx > 0, sxx, 1.0), 0.0))


def _best_cut(sums: FloatArray, scatter_k: float, fewest: int) -> int | None:
    """Where to cut a piece, from the running sums over it; None if no cut gains enough."""
    size = sums.shape[1] - 1
    cuts = np.arange(fewest, size - fewest + 1)
    if cuts.size == 0:
        return None
    whole = float(_squares((sums[:, -1] - sums[:, 0])[:, None])[0])
    left = _squares(sums[:, cuts] - sums[:, [0]])
    right = _squares(sums[:, [-1]] - sums[:, cuts])
    best = int(np.argmin(left + right))
    gain = whole - float((left + right)[best])
    return int(cuts[best]) if gain > LEAST_GAIN * scatter_k**2 else None


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherSlope:
    """A window of points, half open, in which a line runs at another slope than before and after it."""

    first: int
    last: int
    slope_outside: float
    slope_inside: float


def other_slope(x: FloatArray, y: FloatArray, weight: FloatArray) -> OtherSlope | None:
    """Find the window in which a continuous line changes its slope for a while, or from there to an end.

    Parameters
    ----------
    x, y, weight : ndarray, shape (n,)
        Points in the order of x, and the weight of each (number of readings).

    Returns
    -------
    OtherSlope or None
        None if no window explains the points clearly better than one straight line.

    Notes
    -----
    y = a + b x + c (x between the borders, clipped): all windows of a coarse grid, then all near the best one. A
    window that reaches an end and the rest of the points describe the same line; the steeper part is given.
    """
    size = x.size
    if size < 3 * FEWEST_IN_PIECE:
        return None
    step = max(1, size // 24)
    coarse = np.unique(np.r_[np.arange(0, size, step), size - 1])
    rough = _best_window(x, y, weight, coarse, coarse)
    near = np.arange(-step, step + 1)
    tried = [
        _steeper(_best_window(x, y, weight, *(np.unique(np.clip(at + near, 0, size - 1)) for at in window)), size)
        for window in _same_line(rough[0], rough[1], size)
    ]
    first, last, left, outside, inside = min(tried, key=lambda found: found[2])
    line = np.polynomial.polynomial.polyfit(x, y, 1, w=np.sqrt(weight))
    whole = float(np.sum(weight * (y - line[0] - line[1] * x) ** 2))
    if (whole - left) / max(left / max(size - 5, 1), 1e-12) < LEAST_F:
        return None
    return OtherSlope(first=first, last=last + 1, slope_outside=outside, slope_inside=inside)


def _same_line(first: int, last: int, size: int) -> tuple[tuple[int, int], ...]:
    """The windows that describe the same line: a window that reaches one end, and what it leaves."""
    if first == 0 and last < size - 1:
        return (first, last), (last, size - 1)
    if last == size - 1 and first > 0:
        return (first, last), (0, first)
    return ((first, last),)


def _steeper(found: _Window, size: int) -> _Window:
    """The window, or what it leaves where that describes the same line and is steeper."""
    first, last, left, outside, inside = found
    *_, other = _same_line(first, last, size)
    if abs(outside) > abs(inside) and other != (first, last):
        return *other, left, inside, outside
    return found


def _best_window(
    x: FloatArray, y: FloatArray, weight: FloatArray, firsts: NDArray[np.intp], lasts: NDArray[np.intp]
) -> _Window:
    """Borders, sum of squares left, slopes outside and inside of the best window."""
    first, last = (grid.ravel() for grid in np.meshgrid(firsts, lasts, indexing="ij"))
    long = last - first
    fits = (long >= FEWEST_IN_PIECE) & (x.size - long >= FEWEST_IN_PIECE)
    first, last = first[fits], last[fits]
    window = np.clip(x[None, :], x[first][:, None], x[last][:, None]) - x[first][:, None]
    left, slopes, changes = _lines(x, y, weight, window)
    best = int(np.argmin(left))
    slope, change = float(slopes[best]), float(changes[best])
    return int(first[best]), int(last[best]), float(left[best]), slope, slope + change


def _lines(
    x: FloatArray, y: FloatArray, weight: FloatArray, within: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Squares left, slope and change of slope of y = a + b x + c w, for each row w: all at once, normal equations."""
    once, whole = np.ones_like(x), weight.sum()
    centred, shown = x - weight @ x / whole, y - weight @ y / whole
    inside, across, squared = (within @ (weight * one) for one in (once, centred, shown))
    # What is left of each row beside its mean and its line over x, and of y.
    slope, change_of = weight @ (centred * shown), weight @ centred**2
    bent = np.sum(within**2 * weight, axis=1) - inside**2 / whole - across**2 / change_of
    found = (squared - across * slope / change_of) / np.maximum(bent, 1e-12 * change_of)
    slopes = (slope - found * across) / change_of
    left = shown - slopes[:, None] * centred - found[:, None] * (within - inside[:, None] / whole)
    return np.asarray(left**2 @ weight), slopes, found


MOST_MOVES = 8  # of a lid that are looked for [our choice]
SWEEPS = 3  # over the borders, to move each to its best place [our choice]


def other_slopes(x: FloatArray, y: FloatArray, weight: FloatArray) -> list[OtherSlope]:
    """Find all windows in which a continuous line runs at one other, steeper slope; parameters as `other_slope`.

    Returns
    -------
    list of OtherSlope
        Empty if no windows explain the points clearly better than one straight line.

    Notes
    -----
    y = a + b x + c (x within the windows). One window after the other is turned over, from one slope to the other, that
    which lowers the squares most, and the borders are moved to where they are least; for a window may explain little
    as long as two like it are not in the line. So many are kept as explain forty times more, each, than what is left to
    each degree of freedom.
    """
    size = x.size - 1  # intervals between points
    if x.size < 3 * FEWEST_IN_PIECE:
        return []
    step = max(1, x.size // 24)
    grid = np.unique(np.r_[np.arange(0, size, step), size])
    steep = kept = np.zeros(size, dtype=np.bool_)
    kept_left, kept_moves = float(_two_slopes(x, y, weight, steep[None])[0][0]), 0
    for moves in range(1, MOST_MOVES + 1):
        turned = _turned(steep, grid)
        if not turned.shape[0]:
            break
        best = turned[int(np.argmin(_two_slopes(x, y, weight, turned)[0]))]
        steep = _moved_to_best(x, y, weight, best, step)
        left = float(_two_slopes(x, y, weight, steep[None])[0][0])
        freedom = max(x.size - 3 - _borders(steep).size, 1)
        if kept_left - left >= LEAST_F * (moves - kept_moves) * max(left / freedom, 1e-12):
            kept, kept_left, kept_moves = steep, left, moves
    if not kept_moves:
        return []
    _, (outside,), (change,) = _two_slopes(x, y, weight, kept[None])
    inside = outside + change
    if abs(outside) > abs(inside):
        kept, outside, inside = ~kept, inside, outside
    edges = np.r_[0, _borders(kept), size]
    return [
        OtherSlope(first=int(first), last=int(last) + 1, slope_outside=float(outside), slope_inside=float(inside))
        for first, last in pairwise(edges) if kept[first]
    ]  # fmt: skip


def _two_slopes(
    x: FloatArray, y: FloatArray, weight: FloatArray, steep: NDArray[np.bool_]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Squares left, slope, and change of slope of the best line of two slopes, for each row of steep intervals."""
    within = np.cumsum(np.diff(x) * steep, axis=1)
    return _lines(x, y, weight, np.concatenate([np.zeros((steep.shape[0], 1)), within], axis=1))


def _borders(steep: NDArray[np.bool_]) -> NDArray[np.intp]:
    return np.flatnonzero(np.diff(steep)) + 1


def _turned(steep: NDArray[np.bool_], grid: NDArray[np.intp]) -> NDArray[np.bool_]:
    """The intervals with one window turned over, each window that leaves no piece too short."""
    borders = np.r_[0, _borders(steep), steep.size]
    places = np.unique(np.r_[grid, borders])
    apart = np.abs(places[:, None] - borders).min(axis=1)
    places = places[(apart == 0) | (apart >= FEWEST_IN_PIECE)]
    first, last = (one.ravel() for one in np.meshgrid(places, places, indexing="ij"))
    fits = (last - first >= FEWEST_IN_PIECE) & (last - first < steep.size)
    at = np.arange(steep.size)
    return np.asarray(steep ^ ((at >= first[fits, None]) & (at < last[fits, None])))


def _moved_to_best(
    x: FloatArray, y: FloatArray, weight: FloatArray, steep: NDArray[np.bool_], reach: int
) -> NDArray[np.bool_]:
    """The same windows, with each border where the squares are least."""
    at = np.arange(steep.size)
    for _ in range(SWEEPS):
        before = steep
        for place in range(_borders(steep).size):
            start, here, end = np.r_[0, _borders(steep), steep.size][place : place + 3]
            lowest = max(start + FEWEST_IN_PIECE, here - reach)
            tried = np.arange(lowest, min(end - FEWEST_IN_PIECE, here + reach) + 1)
            near = (at >= start) & (at < end)
            rows = np.where(near, (at < tried[:, None]) == steep[start], steep)
            if tried.size:
                steep = rows[int(np.argmin(_two_slopes(x, y, weight, rows)[0]))]
        if (steep == before).all():
            break
    return steep


LID_RATIO = 1.4  # change of slope that a lid makes; the shape of the loss stays below 1.25

LEAST_MOVED_FRAC = 0.05  # of the fall: less is what noise does in a few minutes, and harms less than other errors do
FEWEST_BINS = 16
BORDER_BINS = 1
MANY = 50.0  # a ratio of losses beyond which its value says nothing


LEAST_BETTER, LID_LEAST_F = 1.5, 12.0


def steady_parts(
    bins: Bins, vessel: VesselTables, pump_heat_w: float, notes: list[Remark], depth: int = 2
) -> list[Bins]:
    """Parts of a cool-down with the smaller loss, where the loss changes within it: a lid that was moved.

    Parameters
    ----------
    bins : Bins
        The cool-down.
    vessel : VesselTables
        The vessel with the lid as it is taken to be.
    pump_heat_w : float
        Heat from the pump [W].
    notes : list of Remark
        Gets one where a change is found.
    depth : int
        How many changes may be found, one after the other.

    Notes
    -----
    Over the integral of the modelled loss a cool-down is a straight line, so a lid shows as another slope.
    """
    if bins.times_s.size < FEWEST_BINS or depth == 0:
        return [bins]
    passed = passed_k(bins, vessel, pump_heat_w)
    several = other_slopes(passed, bins.temperature_c, bins.readings)
    if len(several) > 1 and _ratio(several[0]) >= LID_RATIO and _moved_frac(several, passed) >= LEAST_MOVED_FRAC:
        notes += [_note(one, bins) for one in several]
        return _kept(several, bins)
    found = other_slope(passed, bins.temperature_c, bins.readings)
    if found is None or 1 / LID_RATIO < _ratio(found) < LID_RATIO or _moved_frac([found], passed) < LEAST_MOVED_FRAC:
        return [bins]
    notes.append(_note(found, bins))
    return [
        part
        for kept in _kept([found], bins)
        for part in steady_parts(kept, vessel, pump_heat_w, notes, depth=depth - 1)
    ]


def _ratio(found: OtherSlope) -> float:
    """Loss in the window over that outside of it; slopes are negative where it cools."""
    inside, outside = max(-found.slope_inside, 1e-6), max(-found.slope_outside, 1e-6)
    return inside / outside


def _moved_frac(found: Sequence[OtherSlope], passed: FloatArray) -> float:
    """How much of the fall the other slope adds or takes, in the windows or outside of them, whichever is shorter."""
    outside, inside = found[0].slope_outside, found[0].slope_inside
    whole, window = float(passed[-1] - passed[0]), sum(float(passed[one.last - 1] - passed[one.first]) for one in found)
    fall = outside * (whole - window) + inside * window
    return abs((inside - outside) * min(window, whole - window) / min(fall, -1e-6))


def _note(found: OtherSlope, bins: Bins) -> Remark:
    ratio = _ratio(found)
    times = max(ratio, 1 / ratio)
    where = {"from_min": float(bins.times_s[found.first]) / 60, "to_min": float(bins.times_s[found.last - 1]) / 60}
    code = "lid open inside" if ratio > 1 else "lid open outside"
    return Remark(code, **where, factor=times if times < MANY else np.inf)


def _kept(found: Sequence[OtherSlope], bins: Bins) -> list[Bins]:
    if _ratio(found[0]) < 1:
        return [bins.part(np.arange(one.first + BORDER_BINS, one.last - BORDER_BINS)) for one in found]
    firsts = [0, *(one.last + BORDER_BINS for one in found)]
    lasts = [*(one.first - BORDER_BINS for one in found), bins.times_s.size]
    outside = (np.arange(first, last) for first, last in zip(firsts, lasts, strict=True))
    return [bins.part(part) for part in outside if part.size > 1]


def passed_k(bins: Bins, vessel: VesselTables, pump_heat_w: float) -> FloatArray:
    """How far the model would have cooled by each bin [K], along the measured temperatures."""
    scaled = (bins.times_s - bins.times_s[0]) / max(float(bins.times_s[-1] - bins.times_s[0]), 1.0)
    smooth_c = np.polyval(np.polyfit(scaled, bins.temperature_c, min(3, bins.times_s.size - 1)), scaled)
    rate = (vessel.loss_w(smooth_c) - pump_heat_w) / vessel.capacity_j_per_k(smooth_c)
    return np.concatenate([[0.0], np.cumsum((rate[1:] + rate[:-1]) / 2 * np.diff(bins.times_s))])


def straighter(bins: Bins, closed: VesselTables, opened: VesselTables) -> bool:
    """Whether an open lid explains a cool-down clearly better than a closed one.

    Notes
    -----
    The loss of an open surface doubles every 15 K or so, that of a closed vessel is nearly linear.
    """
    if bins.times_s.size < FEWEST_BINS:
        return False
    closed_left, open_left = (_left_over(bins, vessel) for vessel in (closed, opened))
    gain = (closed_left - open_left) / max(open_left / (bins.times_s.size - 2), 1e-12)
    return closed_left > LEAST_BETTER * open_left and gain > LID_LEAST_F


def _left_over(bins: Bins, vessel: VesselTables) -> float:
    """Sum of squares that a straight line leaves over the modelled cooling."""
    passed, root = passed_k(bins, vessel, 0.0), np.sqrt(bins.readings)
    line = np.polyfit(passed, bins.temperature_c, 1, w=root)
    return float(np.sum((root * (bins.temperature_c - np.polyval(line, passed))) ** 2))
