"""Which stretches of a log tell something about the vessel: cooling, heating, or any with a meter running."""

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from energyplan.base.records import dataclass
from energyplan.learning.bins import Bins, rebinned
from energyplan.learning.model import Setting, Stage
from energyplan.learning.readings import GAP_INTERVALS, Log, Remark
from energyplan.learning.segmentation import passed_k, steady_parts, straight_pieces
from energyplan.physics.vesselloss import LidState

__all__ = ["Found", "Span", "find_spans"]

FloatArray = NDArray[np.float64]
SpanKind = Literal["cooling", "heating", "metered"]

COOLING_WINDOW_C = (42.0, 80.0)  # near mash temperature: above it vapour escapes, below it the loss is another
HEATING_WINDOW_C = (3.0, 85.0)  # the last degrees before the boil lose vapour even under a lid
OPEN_WINDOW_C = (42.0, 92.0)
SHORTEST_PIECE_S, FEWEST_BINS = 8 * 60.0, 2  # a stretch that is fitted at all
MOST_BINS = 110
SHORTEST_COOLING_S, SHORTEST_HEATING_S = 20 * 60.0, 8 * 60.0
LEAST_DROP_K, LEAST_RISE_K = 2.0, 6.0
PIECE_S = 300.0  # shortest piece of a curve that is cut
SETTLING_S = 180.0  # elements and sensor lag behind by two to four minutes; common practice, no source
LONG_STATE_S = 900.0  # elements that stay on or off for so long were switched, not pulsed
BORDER_S = 120.0  # a cut between two slopes is right to so long, or to one reading
JUMP_K, JUMP_S, JUMP_SCATTER = 1.2, 240.0, 4.5
NEAR_STRIKE_K, HEATED_K = 4.0, 5.0  # grain goes into water that was heated to about the strike
FULL_POWER_FRAC = 0.35  # of the planned slope: slower heating is no heating at full power
LEAST_READ = 3.0  # readings of a pulse, and between pulses, from which on they tell what they took [assumption]
UNSEEN = 3.0  # usual distances between seen pulses in which one comes, nearly always
LEAP_K, LEAP_FRAC, FEWEST_BESIDE_GAPS = 0.5, 0.4, 8  # over a gap, more or less than it would have cooled [assumption]
LIDS: tuple[LidState, ...] = ("on", "ajar", "off")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Span:
    """A stretch to fit: its bins, what heats it, the lid, and what is in the vessel.

    ``whole`` is the stretch before it was narrowed to the window of temperatures that is fitted.
    """

    kind: SpanKind
    bins: Bins
    whole: Bins
    lid: LidState
    stage: Stage

    @property
    def drop_k(self) -> float:
        """How far the temperature falls [K] (negative: it rises)."""
        return float(self.bins.temperature_c[0] - self.bins.temperature_c[-1])

    @property
    def duration_s(self) -> float:
        """How long it is [s]."""
        return float(self.bins.times_s[-1] - self.bins.times_s[0])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """The spans of a log, remarks for the reader, and why nothing tells the heat loss, if so."""

    spans: tuple[Span, ...]
    notes: tuple[Remark, ...]
    no_loss: Remark | None = None


def find_spans(bins: Bins, setting: Setting, log: Log) -> Found:
    """Find the stretches of a log that the model can be fitted to.

    Parameters
    ----------
    bins : Bins
        The log, in bins.
    setting : Setting
        Plan, place and what is known of the vessel.
    log : Log
        The log as it was read: how often its power was.
    """
    notes: list[Remark] = []
    spans = [
        span
        for block, stage in _blocks(bins, setting, notes)
        for span in (_metered(block, stage, setting) if _heated(bins, setting) else _by_slope(block, stage, setting))
        if not (span.stage == "mash" and span.kind == "cooling" and _lautering(span.whole, setting))
    ]
    kept, reasons = [], []
    for span in _with_read_pulses(spans, log, setting, notes):
        parts = [replace(span, bins=part) for part in _parts(span, setting, notes)]
        fault = _too_little(span, parts, setting)
        if fault is not None:
            reasons.append(fault)
        else:
            kept += [replace(part, bins=rebinned(part.bins, MOST_BINS)) for part in parts]
    return Found(spans=tuple(kept), notes=tuple(dict.fromkeys(notes)), no_loss=reasons[0] if reasons else None)


def _parts(span: Span, setting: Setting, notes: list[Remark]) -> Iterator[Bins]:
    """Parts of a span that go on alike: a cool-down is cut at a gap that it leaps over, and where the lid was moved."""
    if span.kind != "cooling":
        yield span.bins
        return
    vessel = setting.vessel(span.lid, span.stage)
    passed = passed_k(span.bins, vessel, setting.pump_heat_w)
    cuts = _leapt(span.bins, passed)
    if cuts:
        notes.append(Remark("leapt"))
    for first, last in pairwise([0, *cuts, span.bins.times_s.size]):
        steady = steady_parts(span.bins.part(np.arange(first, last)), vessel, setting.pump_heat_w, notes)
        yield from (part for part in steady if part is span.bins or _lasts_s(part) >= SHORTEST_PIECE_S)


def _leapt(bins: Bins, passed: FloatArray) -> list[int]:
    """Places behind gaps over which the temperature does not go on as before and after: a clock that was set, heat."""
    gaps = np.flatnonzero(np.diff(bins.times_s) > GAP_INTERVALS * bins.interval_s) + 1
    if not gaps.size or bins.times_s.size < gaps.size + FEWEST_BESIDE_GAPS:
        return []
    beyond = np.arange(passed.size)[:, None] >= gaps
    columns = np.column_stack([np.ones_like(passed), passed, beyond]) * np.sqrt(bins.readings)[:, None]
    leaps_k = np.linalg.lstsq(columns, bins.temperature_c * np.sqrt(bins.readings), rcond=None)[0]
    would_k = np.abs(leaps_k[1]) * (passed[gaps] - passed[gaps - 1])
    far = (np.abs(leaps_k[2:]) > LEAP_K) & (np.abs(leaps_k[2:]) > LEAP_FRAC * would_k)
    return [int(gap) for gap in gaps[far]]


def _with_read_pulses(spans: list[Span], log: Log, setting: Setting, notes: list[Remark]) -> Iterator[Span]:
    """Leave out metered stretches whose elements pulse faster than their power was read: what they took is open.

    A running total counts what no reading saw. A rest behind such a stretch begins later than the last pulse that was
    seen by three times their usual distance: some were not.
    """
    if log.power_w is None or log.energy_kwh is not None:
        yield from spans
        return
    told = ~np.isnan(log.power_w)
    times_s, on = log.times_s[told], log.power_w[told] > setting.off_w
    rests_from_s = 0.0
    for span in spans:
        inside = (times_s >= span.bins.times_s[0]) & (times_s <= span.bins.times_s[-1])
        edges = np.flatnonzero(np.diff(on[inside]))
        pulses = [runs.mean() for runs in (np.diff(edges)[::2], np.diff(edges)[1::2]) if runs.size]
        if span.kind == "metered" and min(pulses, default=LEAST_READ) < LEAST_READ:
            notes.append(Remark("pulses unread", interval_min=float(np.median(np.diff(times_s))) / 60))
            rests_from_s = float(times_s[inside & on].max()) + UNSEEN * 2 * span.duration_s / edges.size
            continue
        rests = np.flatnonzero(span.bins.times_s >= rests_from_s)
        if span.kind != "cooling" or rests.size == span.bins.times_s.size:
            yield span
        elif rests.size:
            yield replace(span, bins=span.bins.part(rests))


def _lautering(rest: Bins, setting: Setting) -> bool:
    """Whether a mash rests at the end of its last hold: grain and wort may be leaving then."""
    return setting.lauter_c is not None and bool(rest.temperature_c[0] > setting.lauter_c - 2.0)


def _heated(bins: Bins, setting: Setting) -> bool:
    """Whether a meter saw the elements run."""
    return bins.used_j is not None and bool((bins.mean_power_w() > setting.off_w).any())


def _blocks(bins: Bins, setting: Setting, notes: list[Remark]) -> Iterator[tuple[Bins, Stage]]:
    """Cut a log where something went in or out, and where the lid was moved."""
    broken = _jumps(bins, setting)
    lids = np.where(bins.lid < 0, 0, bins.lid)
    if np.unique(lids).size > 1:
        notes.append(Remark("lid moved"))
    stages: tuple[Stage, ...] = ("water", "mash") if setting.has_grain else ("water",)
    drops = 0
    for first, last, after_jump in _stretches(broken, lids):
        if after_jump is not None:
            drops += int(bins.temperature_c[after_jump : first + 1].min() < bins.temperature_c[after_jump] - JUMP_K / 2)
        if drops >= len(stages):
            notes.append(Remark("after the mash" if setting.has_grain else "something cold"))
            return
        end = _with_grain_until(bins, first, last, setting) if stages[drops] == "mash" else last
        if end - first >= _fewest(bins):
            yield bins.part(np.arange(first, end)), stages[drops]
        if end < last or (setting.has_grain and bins.temperature_c[first:last].max() > HEATING_WINDOW_C[1]):
            return


def _fewest(bins: Bins) -> int:
    """Fewest bins in a stretch that is fitted: eight minutes of them."""
    return bins.bins_in(SHORTEST_PIECE_S, FEWEST_BINS)


def _with_grain_until(bins: Bins, first: int, last: int, setting: Setting) -> int:
    """End of the bins in which the grain is surely in: beyond its last target it has left."""
    if setting.lauter_c is None:
        return last
    beyond = np.flatnonzero(bins.temperature_c[first:last] > setting.lauter_c + 1.5 + 2 * setting.scatter_k)
    return first + int(beyond[0]) if beyond.size else last


def _stretches(broken: NDArray[np.bool_], lids: NDArray[np.int8]) -> Iterator[tuple[int, int, int | None]]:
    """Half-open ranges of bins without a jump or a move of the lid, and the last bin before the jump that led there."""
    first, jumped_at = 0, None
    for place, (jumps, moved) in enumerate(zip(broken, np.diff(lids) != 0, strict=True)):
        if not (jumps or moved):
            continue
        if place + 1 - first > 1 or place == 0:
            yield first, place + 1, jumped_at
            jumped_at = None
        if jumps and jumped_at is None:
            jumped_at = place
        first = place + 1
    yield first, lids.size, jumped_at


def _jumps(bins: Bins, setting: Setting) -> NDArray[np.bool_]:
    """Intervals over which the temperature changes by more than losses and elements can: means of 4 min compared."""
    size, reach = bins.times_s.size, bins.bins_in(JUMP_S, 1)
    after = np.arange(1, size)
    low, high = np.maximum(after - reach, 0), np.minimum(after + reach, size)

    def change(values: FloatArray) -> FloatArray:
        sums = np.concatenate([[0.0], np.cumsum(values)])
        return np.asarray((sums[high] - sums[after]) / (high - after) - (sums[after] - sums[low]) / (after - low))

    change_k, span_s = change(bins.temperature_c), change(bins.times_s)
    scatter_k = setting.scatter_k * np.sqrt(1 / (high - after) + 1 / (after - low))
    threshold_k = np.maximum(np.maximum(JUMP_K, 0.6 * setting.resolution_k), JUMP_SCATTER * scatter_k)
    most_k = 3 * setting.heating_k_per_s * span_s + threshold_k
    least_k = -1.3 * setting.cooling_k_per_s(bins.temperature_c[:-1]) * span_s - threshold_k
    if bins.used_j is not None and _heated(bins, setting):
        least_k = least_k + 0.5 * np.maximum(change(bins.used_j), 0.0) / setting.capacity_j_per_k
    jumps = (change_k > most_k) | (change_k < least_k)
    if setting.mash_in is not None:
        # Where grain is expected, a good part of the expected drop is enough, beside what cools meanwhile.
        strike_c, drop_k = setting.mash_in
        before_c = bins.temperature_c[:-1]
        near = np.abs(before_c - strike_c) < NEAR_STRIKE_K
        near &= before_c - np.minimum.accumulate(before_c) > HEATED_K
        falls_k = np.maximum(0.6 * drop_k, JUMP_SCATTER * scatter_k) + setting.still_k_per_s * span_s
        jumps |= near & (change_k < -falls_k)
    for first, last in pairwise(np.flatnonzero(jumps)):  # what lies between two of them belongs to one change
        jumps[first:last] |= last - first <= reach
    return np.asarray(jumps)


def _metered(block: Bins, stage: Stage, setting: Setting) -> Iterator[Span]:
    """With the heat known, all that lies between cold and nearly boiling can be used; long rests count as cooling.

    A switch of the elements falls somewhere between two readings of the power: half a minute of full power is most
    of a kelvin. So the log is cut there, and each part begins with a temperature of its own.
    """
    lid = _lid(block)
    on = block.mean_power_w() > setting.off_w
    for first, last in _long_states(on, np.diff(block.times_s)):
        part = block.part(np.arange(first, last + 1))
        rests = not on[first:last].any()
        if rests and stage == "mash" and _lautering(part, setting):
            return
        window_c = OPEN_WINDOW_C if lid != "on" else COOLING_WINDOW_C if rests else HEATING_WINDOW_C
        inside = (part.temperature_c >= window_c[0]) & (part.temperature_c <= window_c[1])
        if not rests or first > 0:
            inside &= part.times_s - part.times_s[0] >= SETTLING_S
        for run in _runs(inside, _fewest(block)):
            yield Span(kind="cooling" if rests else "metered", bins=part.part(run), whole=part, lid=lid, stage=stage)


def _long_states(on: NDArray[np.bool_], spans_s: FloatArray) -> list[tuple[int, int]]:
    """Cut where the elements go on or off for long; between two such switches they may pulse.

    Returns half-open ranges of intervals, without the one interval on either side of a switch.
    """
    edges = [0, *(np.flatnonzero(on[1:] != on[:-1]) + 1), on.size]
    long = [float(spans_s[first:last].sum()) >= LONG_STATE_S for first, last in pairwise(edges)]
    cuts = {edges[place] for place in range(1, len(edges) - 1) if long[place - 1] or long[place]}
    borders = [0, *sorted(cuts), on.size]
    ranges = []
    for first, last in pairwise(borders):
        start, end = first + (first > 0), last - (last < on.size)
        if end > start:
            ranges.append((start, end))
    return ranges


def _by_slope(block: Bins, stage: Stage, setting: Setting) -> Iterator[Span]:
    """Without a meter: stretches that cool by themselves, and stretches that heat at full power."""
    lid = _lid(block)
    ranges = straight_pieces(block.times_s, block.temperature_c, setting.scatter_k, block.bins_in(PIECE_S, 2))
    slopes = [_slope(block, first, last) for first, last in ranges]
    steepest = max((slope for slope in slopes), default=0.0)
    kinds = [_kind(slope, steepest, setting) for slope in slopes]
    for first, last, kind in _joined(ranges, kinds):
        if kind is None:
            continue
        part = block.part(np.arange(first, last))
        low_c, high_c = OPEN_WINDOW_C if lid != "on" else COOLING_WINDOW_C if kind == "cooling" else HEATING_WINDOW_C
        inside = (part.temperature_c >= low_c) & (part.temperature_c <= high_c)
        if kind == "heating" or first > 0:
            inside &= part.times_s - part.times_s[0] >= SETTLING_S
        if last < block.times_s.size:
            inside[-block.bins_in(BORDER_S, 1) :] = False
        chosen = np.flatnonzero(inside)
        if chosen.size:
            narrowed = part.part(np.arange(chosen[0], chosen[-1] + 1))
            yield Span(kind=kind, bins=narrowed, whole=part, lid=lid, stage=stage)


def _slope(block: Bins, first: int, last: int) -> float:
    times_s = block.times_s[first:last] - block.times_s[first]
    if times_s.size < 2:
        return 0.0
    return float(np.polyfit(times_s, block.temperature_c[first:last], 1)[0])


def _kind(slope_k_per_s: float, steepest: float, setting: Setting) -> Literal["cooling", "heating"] | None:
    if slope_k_per_s > max(FULL_POWER_FRAC * setting.heating_k_per_s, 0.6 * steepest):
        return "heating"
    # Slower than a quarter of the estimated loss is a thermostat at work, not a vessel left alone.
    if slope_k_per_s < -0.25 * setting.still_k_per_s:
        return "cooling"
    return None


def _joined(
    ranges: list[tuple[int, int]], kinds: list[Literal["cooling", "heating"] | None]
) -> list[tuple[int, int, Literal["cooling", "heating"] | None]]:
    joined: list[tuple[int, int, Literal["cooling", "heating"] | None]] = []
    for (first, last), kind in zip(ranges, kinds, strict=True):
        if joined and joined[-1][2] == kind:
            joined[-1] = (joined[-1][0], last, kind)
        else:
            joined.append((first, last, kind))
    return joined


def _lid(block: Bins) -> LidState:
    return LIDS[max(int(block.lid[0]), 0)]


def _runs(inside: NDArray[np.bool_], fewest: int) -> list[NDArray[np.intp]]:
    """Stretches of true values."""
    places = np.flatnonzero(inside)
    if places.size == 0:
        return []
    return [run for run in np.split(places, np.flatnonzero(np.diff(places) > 1) + 1) if run.size >= fewest]


def _lasts_s(bins: Bins) -> float:
    return float(bins.times_s[-1] - bins.times_s[0])


def _too_little(span: Span, parts: list[Span], setting: Setting) -> Remark | None:
    """Why the parts of a span together tell too little; None if they tell enough."""
    change_k, minutes = sum(part.drop_k for part in parts), sum(part.duration_s for part in parts) / 60
    enough = sum(part.bins.times_s.size for part in parts) >= min(_fewest(span.whole), 8)
    if span.kind == "cooling":
        least_k, least_min = max(LEAST_DROP_K, 2 * setting.resolution_k), SHORTEST_COOLING_S / 60
        if enough and change_k >= least_k and minutes >= least_min:
            return None
        low_c, high_c = COOLING_WINDOW_C
        return Remark(
            "cool-down too short", from_c=float(span.whole.temperature_c[0]), to_c=float(span.whole.temperature_c[-1]),
            drop_k=max(change_k, 0.0), lasted_min=minutes, low_c=low_c, high_c=high_c, least_k=least_k,
            least_min=least_min,
        )  # fmt: skip
    enough = enough and 60 * minutes >= SHORTEST_HEATING_S
    if span.kind == "metered":
        return None if enough else Remark("metered too short", lasted_min=minutes)
    if enough and -change_k >= LEAST_RISE_K:
        return None
    return Remark("heat-up too short", rise_k=max(-change_k, 0.0), lasted_min=minutes)
