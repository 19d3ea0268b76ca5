"""Readings of a thermometer and a meter, put in order: sorted, averaged where they share a moment, resets taken out.

What was mended is noted in `Log.notes`; `energyplan.learning.logfile` reads the columns from text.
"""

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.errors import LogError
from energyplan.base.records import dataclass

__all__ = ["FEWEST_READINGS", "GAP_INTERVALS", "LIDS", "Columns", "Log", "Remark", "log_fault", "ordered_log"]


@dataclass(frozen=True, slots=True, init=False)
class Remark:
    """A code with named numbers; each name ends in its unit.

    >>> Remark("gap", longest_min=12.0)["longest_min"]
    12.0
    """

    code: str
    values: tuple[tuple[str, Any], ...]

    def __init__(self, code: str, /, **values: Any) -> None:
        object.__setattr__(self, "code", code)
        object.__setattr__(self, "values", tuple(values.items()))

    def __getitem__(self, name: str) -> Any:
        return dict(self.values)[name]

    def __iter__(self) -> Iterator[tuple[str, Any]]:
        return iter(self.values)


FloatArray = NDArray[np.float64]
LIDS = ("on", "ajar", "off")
FEWEST_READINGS = 2
GAP_INTERVALS = 5.0  # a pause of so many usual intervals is told as a gap
FEWEST_STEPS, USUAL_STEPS = 8, (1.0, 0.5, 0.1, 0.01)  # of thermometers, in their unit
# Share of rows in which the times fall, beyond which they are sorted; how many moments come again, and how far their
# readings differ, before a clock is said to have been set [assumptions].
MOST_FALLS_FRAC, FEWEST_AGAIN, OTHERWISE_K, SEAM_K, SEAM_TIMES = 0.1, 2, 0.5, 2.0, 4.0
# No vessel gets so far and back in so short a time [our choice].
FEWEST_FOR_SPIKES, SPIKE_S, SPIKE_K = 5, 150.0, 8.0
APART_K, APART_STEPS = 5.0, 3.0  # of readings of one moment; times what changes from one to the next [our choice]
WARMS_K, NOTHING_W, NOTHING_KWH, MOST_KW = 10.0, 50.0, 0.005, 200.0  # a warming vessel's meter [our choice]
READ_OFTEN_S, DISAGREE_KWH, DISAGREE = 90.0, 0.2, 1.5  # two meters: how often read, apart by [our choice]
MOST_RESETS, LEAP_KWH = 5, 0.05  # falls of a running total; how far one reading may leave its line [our choice]
RESET_KWH = 0.005  # a running total that falls by more than this has been reset
LONGEST_DAYS = 366
DAY_S = 86400.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Log:
    """A day or an evening as it was measured; all arrays have the shape (readings,), times increase.

    Parameters
    ----------
    source : str
        Name of the file.
    times_s : ndarray
        Seconds from the first reading.
    temperature_c : ndarray
        Temperature of the contents [°C].
    power_w : ndarray or None
        Power at the plug [W]; NaN where a reading is missing.
    energy_kwh : ndarray or None
        Energy since the first reading [kWh], resets of the meter taken out; NaN where a reading is missing.
    lid : ndarray of int or None
        State of the lid, an index into `LIDS`; -1 where it isn't told.
    resolution_k : float
        Smallest step between two temperatures [K]: what the thermometer can tell apart.
    start : datetime or None
        Moment of the first reading, when the times are clock times.
    notes : tuple of Remark
        What was mended while reading.
    """

    source: str
    times_s: FloatArray
    temperature_c: FloatArray
    power_w: FloatArray | None = None
    energy_kwh: FloatArray | None = None
    lid: NDArray[np.int8] | None = None
    resolution_k: float
    start: datetime | None = None
    notes: tuple[Remark, ...] = ()

    @property
    def duration_s(self) -> float:
        """From the first to the last reading [s]."""
        return float(self.times_s[-1])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Columns:
    """All readings in the order of the file, with their line numbers; times count from `origin`, if that is known."""

    source: str
    lines: list[int]
    times_s: FloatArray
    origin: datetime | None
    numbers: dict[str, FloatArray]
    lid: NDArray[np.int8] | None

    @property
    def temperature_c(self) -> FloatArray:
        """The temperatures, whichever column has them [°C]; NaN where one is missing."""
        fahrenheit = self.numbers.get("temperature_f")
        return self.numbers["temperature_c"] if fahrenheit is None else (fahrenheit - 32) / 1.8


def log_fault(source: str, line: int, column: str, message: str) -> LogError:
    """Make the one sentence of what is wrong in a log, with its line and column."""
    return LogError(f"line {line}, column {column}: {message}", source=source)


def ordered_log(table: Columns) -> Log:
    """Sort, join readings of one moment, take resets out of the meter.

    Raises
    ------
    LogError
        If too few readings are left, they span more than a year, the clock went back, readings of one moment differ
        by far, or a meter can't be one of the vessel in its unit.
    """
    notes: list[Remark] = []
    name = "temperature_c" if "temperature_c" in table.numbers else "temperature_f"
    raw = table.numbers[name]
    there = ~np.isnan(raw)
    order = _in_order(table, name, there, notes)
    _check_moments(table, order)
    order = _without_spikes(table, order, notes)
    times_s, group = np.unique(table.times_s[order], return_inverse=True)
    _check_span(table, times_s)
    if times_s.size < order.size:
        notes.append(Remark("averaged", count=order.size - times_s.size))
    notes += _gap_notes(times_s)
    mean = _averager(order, group, times_s.size)
    temperature_c = mean(table.temperature_c)
    energy_kwh = table.numbers.get("energy_kwh")
    power_w = table.numbers.get("power_w")
    total_kwh = None if energy_kwh is None else _running_total(table, mean(energy_kwh), notes)
    power_w = None if power_w is None or np.isnan(power_w[order]).all() else mean(power_w)
    _check_meters(table, (times_s, temperature_c), power_w, total_kwh)
    return Log(
        source=table.source,
        times_s=times_s - times_s[0],
        temperature_c=temperature_c,
        power_w=power_w,
        energy_kwh=total_kwh,
        lid=None if table.lid is None else _last_lid(table.lid[order], group, times_s.size),
        resolution_k=_resolution(raw[there]) / (1.8 if name == "temperature_f" else 1.0),
        start=None if table.origin is None else table.origin + timedelta(seconds=float(times_s[0])),
        notes=tuple(notes),
    )


def _in_order(table: Columns, name: str, there: NDArray[np.bool_], notes: list[Remark]) -> NDArray[np.intp]:
    """Places of the readings that have a temperature, in the order of time."""
    if int(there.sum()) < FEWEST_READINGS:
        message = f"only {int(there.sum())} of {there.size} cells are filled; a log needs at least {FEWEST_READINGS}"
        raise log_fault(table.source, table.lines[-1], name, message)
    if not there.all():
        notes.append(Remark("no temperature", count=int((~there).sum())))
    order = np.flatnonzero(there)
    falls = np.flatnonzero(np.diff(table.times_s[order]) < 0)
    if falls.size:
        _check_clock(table, order, falls)
        order = order[np.argsort(table.times_s[order], kind="stable")]
        notes.append(Remark("sorted"))
    return order


def _check_clock(table: Columns, order: NDArray[np.intp], falls: NDArray[np.intp]) -> None:
    """Refuse a clock that goes back now and then, where the readings go on."""
    if falls.size > MOST_FALLS_FRAC * order.size:
        return  # newest first, or in no order
    times_s, shown_c = table.times_s[order], table.temperature_c[order]
    for first, last in zip(falls + 1, [*(falls[1:] + 1), order.size], strict=True):
        before = np.argsort(times_s[:first], kind="stable")
        again = np.arange(first, last)[times_s[first:last] <= times_s[:first].max()]
        again = again[times_s[again] >= times_s[:first].min()]
        were_c = np.interp(times_s[again], times_s[before], shown_c[before])
        differs = again.size >= FEWEST_AGAIN and np.median(np.abs(shown_c[again] - were_c)) > OTHERWISE_K
        after = int(np.searchsorted(times_s[before], times_s[last - 1], "right"))
        if after < before.size and not again.size:
            # Where nothing comes again, the curve goes on either in the order of the file or in that of the times.
            seam_k = abs(shown_c[last - 1] - shown_c[before[after]])
            differs = seam_k > SEAM_K and abs(shown_c[first] - shown_c[first - 1]) < seam_k / SEAM_TIMES
        if differs:
            back_min = (times_s[first - 1] - times_s[first]) / 60
            message = (
                f"the times go back by {back_min:.4g} min, where what was read does not: the clock was set or the "
                "logger began anew; put the times right, or keep one of the parts"
            )
            raise log_fault(table.source, table.lines[order[first]], "time", message)


def _without_spikes(table: Columns, order: NDArray[np.intp], notes: list[Remark]) -> NDArray[np.intp]:
    """Leave out single readings far from both neighbours, which agree: no vessel gets there and back in minutes."""
    times_s, shown_c = table.times_s[order], table.temperature_c[order]
    if order.size < FEWEST_FOR_SPIKES:
        return order
    at = np.arange(order.size)
    # Beside the first and the last reading the next two count.
    left, right = np.where(at == 0, 2, at - 1), np.where(at == at[-1], at[-3], np.minimum(at + 1, at[-1]))
    off_k = np.minimum(np.abs(shown_c - shown_c[left]), np.abs(shown_c - shown_c[right]))
    close = np.maximum(np.abs(times_s - times_s[left]), np.abs(times_s - times_s[right])) <= SPIKE_S
    spikes = close & (off_k > SPIKE_K) & (np.abs(shown_c[left] - shown_c[right]) < off_k / 4)
    if spikes.any():
        notes.append(Remark("spikes", count=int(spikes.sum())))
    return np.asarray(order[~spikes])


def _check_moments(table: Columns, order: NDArray[np.intp]) -> None:
    """Refuse readings that differ by far at one moment, most of the time."""
    times_s, shown_c = table.times_s[order], table.temperature_c[order]
    firsts = np.r_[0, np.flatnonzero(np.diff(times_s)) + 1]
    highest, lowest = np.maximum.reduceat(shown_c, firsts), np.minimum.reduceat(shown_c, firsts)
    counts = np.diff(np.r_[firsts, times_s.size])
    if not (counts > 1).any():
        return
    apart_k, changes_k = np.median((highest - lowest)[counts > 1]), np.abs(np.diff((highest + lowest) / 2))
    if apart_k > max(APART_K, APART_STEPS * float(np.median(changes_k)) if changes_k.size else 0.0):
        line = table.lines[order[firsts[np.argmax(counts > 1)] + 1]]
        message = f"readings of one moment differ by {apart_k:.3g} K: of two thermometers keep one"
        raise log_fault(table.source, line, "time", message)


def _check_meters(
    table: Columns, read: tuple[FloatArray, FloatArray], power_w: FloatArray | None, total_kwh: FloatArray | None
) -> None:
    """Refuse a meter that sees nothing while the vessel warms, or more than any socket gives: another unit, mostly."""
    times_s, shown_c = read
    warms_k = float((shown_c - np.minimum.accumulate(shown_c)).max())
    while_it_warms = f"while it warms by {warms_k:.3g} K"
    if power_w is not None and warms_k > WARMS_K and (most_w := float(np.nanmax(power_w))) < NOTHING_W:
        message = f"at most {most_w:.4g} W {while_it_warms}: write watts, or leave the column out if it is no power"
        raise log_fault(table.source, table.lines[0], "power_w", message)
    if total_kwh is None:
        return
    passed_kwh, hours = float(np.nanmax(total_kwh)), float(times_s[-1] - times_s[0]) / 3600
    if warms_k > WARMS_K and passed_kwh < NOTHING_KWH:
        message = (
            f"{passed_kwh:.3g} kWh in all {while_it_warms}: leave the column out if this meter sees something else"
        )
        raise log_fault(table.source, table.lines[0], "energy_kwh", message)
    if power_w is not None and times_s.size > 1 and float(np.median(np.diff(times_s))) <= READ_OFTEN_S:
        told = ~np.isnan(power_w)
        by_power_kwh = float(np.trapezoid(power_w[told], times_s[told])) / JOULES_PER_KWH
        if min(passed_kwh, by_power_kwh) > DISAGREE_KWH and abs(np.log(passed_kwh / by_power_kwh)) > np.log(DISAGREE):
            message = f"{passed_kwh:.3g} kWh in all where power_w comes to {by_power_kwh:.3g}: keep the vessel's column"
            raise log_fault(table.source, table.lines[0], "energy_kwh", message)
    if passed_kwh > MOST_KW * hours:
        message = f"grows by {passed_kwh:.4g} kWh in {60 * hours:.4g} min: are these watt-hours? Write kWh"
        raise log_fault(table.source, table.lines[0], "energy_kwh", message)


def _check_span(table: Columns, times_s: FloatArray) -> None:
    message = ""
    if times_s.size < FEWEST_READINGS:
        message = f"only {times_s.size} different times; a log needs at least {FEWEST_READINGS}"
    elif times_s[-1] - times_s[0] > LONGEST_DAYS * DAY_S:
        days = (times_s[-1] - times_s[0]) / DAY_S
        message = f"the readings span {days:.4g} days; keep those of one day, at most {LONGEST_DAYS} days"
    if message:
        raise log_fault(table.source, table.lines[-1], "time", message)


def _averager(order: NDArray[np.intp], group: NDArray[np.intp], size: int) -> Callable[[FloatArray], FloatArray]:
    """Give a function that averages the readings of one moment, leaving empty cells out."""

    def mean(column: FloatArray) -> FloatArray:
        values = column[order]
        there = ~np.isnan(values)
        total = np.bincount(group[there], weights=values[there], minlength=size)
        count = np.bincount(group[there], minlength=size)
        return np.where(count > 0, total / np.maximum(count, 1), np.nan)

    return mean


def _last_lid(states: NDArray[np.int8], group: NDArray[np.intp], size: int) -> NDArray[np.int8]:
    """State of the lid at each moment; where it isn't told it stays as it was."""
    last = np.full(size, -1, dtype=np.int8)
    told = states >= 0
    last[group[told]] = states[told]
    known = np.where(last >= 0, np.arange(size), -1)
    since = np.maximum.accumulate(known)
    return np.where(since >= 0, last[np.maximum(since, 0)], -1).astype(np.int8)


def _resolution(values: FloatArray) -> float:
    """Coarsest usual step that all readings keep to; where many keep to none, the smallest between them."""
    different = np.unique(np.round(values, 6))
    if different.size == 1:
        return 0.0
    # On a ramp neighbours lie far apart, however finely they are read: their smallest step is only the most it can be.
    most = float(np.diff(different).min())
    fits = (step for step in USUAL_STEPS if np.allclose(different / step, np.round(different / step), atol=1e-6))
    kept = next((step for step in fits if step <= most * (1 + 1e-6)), None)
    return kept if kept is not None else 0.0 if different.size < FEWEST_STEPS else most


def _gap_notes(times_s: FloatArray) -> list[Remark]:
    intervals_s = np.diff(times_s)
    gaps_s = intervals_s[intervals_s > GAP_INTERVALS * np.median(intervals_s)]
    if not gaps_s.size:
        return []
    return [Remark("gap" if gaps_s.size == 1 else "gaps", count=gaps_s.size, longest_min=float(gaps_s.max()) / 60)]


def _running_total(table: Columns, energy_kwh: FloatArray, notes: list[Remark]) -> FloatArray | None:
    """Energy since the first reading, with the resets of the meter taken out.

    Raises
    ------
    LogError
        If it falls again and again.
    """
    told = np.flatnonzero(~np.isnan(energy_kwh))
    told = told[_in_line(energy_kwh[told])]
    if told.size < 2:
        return None
    values = energy_kwh[told]
    steps = np.diff(values)
    resets = steps < -RESET_KWH
    if resets.sum() > MOST_RESETS:
        message = f"falls {resets.sum()} times: write the meter's running total, not the energy of each interval"
        raise log_fault(table.source, table.lines[0], "energy_kwh", message)
    if resets.any():
        notes.append(Remark("meter reset", count=int(resets.sum())))
    # After a reset the meter counts from 0, so what it shows is what has passed since.
    passed = np.where(resets, values[1:], np.maximum(steps, 0.0))
    total = np.full(energy_kwh.shape, np.nan)
    total[told] = np.concatenate([[0.0], np.cumsum(passed)])
    return total


def _in_line(total_kwh: FloatArray) -> NDArray[np.bool_]:
    """Where a running total is none that falls to nothing, or leaps, for one reading and goes on as before."""
    fits = np.ones(total_kwh.size, dtype=np.bool_)
    before, here, after = total_kwh[:-2], total_kwh[1:-1], total_kwh[2:]
    fits[1:-1] = (after < before) | ((here >= before - LEAP_KWH) & (here <= after + LEAP_KWH))
    return fits
