"""Readings of a thermometer and a meter, put in order: sorted, averaged where they share a moment, resets taken out.

What was mended is noted in `Log.notes`; `energyplan.learning.logfile` reads the columns from text.
"""

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from energyplan.base.errors import LogError
from energyplan.base.records import dataclass

__all__ = ["FEWEST_READINGS", "LIDS", "Columns", "Log", "Remark", "log_fault", "ordered_log"]


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


def log_fault(source: str, line: int, column: str, message: str) -> LogError:
    """Make the one sentence of what is wrong in a log, with its line and column."""
    return LogError(f"line {line}, column {column}: {message}", source=source)


def ordered_log(table: Columns) -> Log:
    """Sort, join readings of one moment, take resets out of the meter.

    Raises
    ------
    LogError
        If too few readings are left, or they span more than a year.
    """
    notes: list[Remark] = []
    name = "temperature_c" if "temperature_c" in table.numbers else "temperature_f"
    raw = table.numbers[name]
    there = ~np.isnan(raw)
    order = _in_order(table, name, there, notes)
    times_s, group = np.unique(table.times_s[order], return_inverse=True)
    _check_span(table, times_s)
    if times_s.size < order.size:
        notes.append(Remark("averaged", count=order.size - times_s.size))
    notes += _gap_notes(times_s)
    mean = _averager(order, group, times_s.size)
    energy_kwh = table.numbers.get("energy_kwh")
    power_w = table.numbers.get("power_w")
    return Log(
        source=table.source,
        times_s=times_s - times_s[0],
        temperature_c=mean((raw - 32) / 1.8 if name == "temperature_f" else raw),
        power_w=None if power_w is None or np.isnan(power_w[order]).all() else mean(power_w),
        energy_kwh=None if energy_kwh is None else _running_total(mean(energy_kwh), notes),
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
    if (np.diff(table.times_s[order]) < 0).any():
        order = order[np.argsort(table.times_s[order], kind="stable")]
        notes.append(Remark("sorted"))
    return order


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


def _running_total(energy_kwh: FloatArray, notes: list[Remark]) -> FloatArray | None:
    """Energy since the first reading, with the resets of the meter taken out."""
    told = np.flatnonzero(~np.isnan(energy_kwh))
    if told.size < 2:
        return None
    values = energy_kwh[told]
    steps = np.diff(values)
    resets = steps < -RESET_KWH
    if resets.any():
        notes.append(Remark("meter reset", count=int(resets.sum())))
    # After a reset the meter counts from 0, so what it shows is what has passed since.
    passed = np.where(resets, values[1:], np.maximum(steps, 0.0))
    total = np.full(energy_kwh.shape, np.nan)
    total[told] = np.concatenate([[0.0], np.cumsum(passed)])
    return total
