"""Logs of a thermometer and a meter: CSV text -> `Log`, with one sentence for whatever is wrong.

Loggers write what they like, so separators, decimal commas, order and gaps are taken as they come; what was mended
is told in `Log.notes`. What can't be read is an error that names the line and the column.
"""

import csv
import difflib
import io
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib import resources
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from energyplan.errors import FileError, LogError

__all__ = ["LIDS", "Log", "demo_logs", "parse_log", "read_log"]

FloatArray = NDArray[np.float64]

COLUMNS = ("time", "temperature_c", "temperature_f", "power_w", "energy_kwh", "lid")
LIDS = ("on", "ajar", "off")
_LID_WORDS = {"on": 0, "closed": 0, "ajar": 1, "off": 2, "open": 2}
_EMPTY = frozenset({"", "nan", "na", "n/a", "null", "none", "-", "--"})
LARGEST_FILE_BYTES = 60_000_000
FEWEST_READINGS = 8
GAP_INTERVALS = 5.0  # a pause of so many usual intervals is told as a gap
RESET_KWH = 0.005  # a running total that falls by more than this has been reset


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
    notes : tuple of str
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
    notes: tuple[str, ...] = ()

    @property
    def duration_s(self) -> float:
        """From the first to the last reading [s]."""
        return float(self.times_s[-1])


@dataclass(slots=True)
class _Reader:
    """The rows of a file on their way to columns."""

    source: str
    columns: tuple[str, ...]
    decimal_comma: bool

    def fault(self, line: int, column: str, message: str) -> LogError:
        return LogError(f"line {line}, column {column}: {message}", source=self.source)

    def number(self, text: str, line: int, column: str) -> float:
        """Read a number; NaN where the cell is empty."""
        word = text.strip()
        if word.lower() in _EMPTY:
            return math.nan
        try:
            value = float(word.replace(",", ".") if self.decimal_comma else word)
        except ValueError:
            raise self.fault(line, column, f'"{word[:40]}" is no number; write it like {_EXAMPLES[column]}') from None
        if not math.isfinite(value):
            raise self.fault(line, column, f'"{word}" is not finite; leave the cell empty where a reading is missing')
        return value


_EXAMPLES = {"time": "12.5", "temperature_c": "66.4", "temperature_f": "151.5", "power_w": "2350", "energy_kwh": "1.27"}
_LIMITS = {
    "temperature_c": (-20.0, 115.0, 'between -20 and 115 degC; readings in degF belong in a column "temperature_f"'),
    "temperature_f": (-4.0, 239.0, 'between -4 and 239 degF; readings in degC belong in a column "temperature_c"'),
    "power_w": (0.0, 200_000.0, "between 0 and 200000 W"),
    "energy_kwh": (0.0, 1e9, "a running total of 0 kWh or more"),
}


def demo_logs() -> dict[str, str]:
    """Names and CSV texts of the packaged logs (invented)."""
    folder = resources.files("energyplan") / "demo"
    names = sorted(entry.name for entry in folder.iterdir() if entry.name.endswith(".csv"))
    return {name.removesuffix(".csv"): (folder / name).read_text(encoding="utf-8") for name in names}


def read_log(path: str) -> Log:
    """Read a log file, or a packaged log by its name (``cool-down``).

    Raises
    ------
    FileError
        If the file is missing, no regular file, or too large.
    LogError
        If it can't be read; one sentence names line and column.
    """
    if path in (demos := demo_logs()):
        return parse_log(demos[path], source=path)
    return parse_log(_text(Path(path)), source=path)


def _text(path: Path) -> str:
    try:
        if not path.is_file():
            names = ", ".join(demo_logs())
            raise FileError(f"{path}: no such file; give the path of a log, or the name of a packaged one ({names})")
        if (size := path.stat().st_size) > LARGEST_FILE_BYTES:
            raise FileError(f"{path}: {size} bytes is too large for a log (at most {LARGEST_FILE_BYTES})")
        raw = path.read_bytes()
    except (OSError, ValueError) as error:
        if isinstance(error, FileError):
            raise
        raise FileError(f"{path}: can't be read ({error})") from None
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise LogError(
            f"line {line}, column time or later: not text in UTF-8 (byte {error.start}); save the log as CSV in UTF-8",
            source=str(path),
        ) from None


def parse_log(text: str, *, source: str = "log") -> Log:
    r"""Read a log from its CSV text.

    Parameters
    ----------
    text : str
        Header and rows: ``time`` (minutes from the start, or ISO 8601 with or without offset), ``temperature_c`` or
        ``temperature_f``, and optionally ``power_w``, ``energy_kwh`` (running total), ``lid`` (on, ajar, off).
        Separated by commas, semicolons or tabs; with the latter two a decimal comma is read.
    source : str
        Name in messages.

    Raises
    ------
    LogError
        If something can't be read; one sentence names line and column.

    Examples
    --------
    >>> log = parse_log("time;temperature_c\n" + "\n".join(f"{k};{70 - k / 10:.1f}".replace(".", ",")
    ...                                                    for k in range(10)))
    >>> log.duration_s, float(log.temperature_c[-1])
    (540.0, 69.1)
    """
    text = text.removeprefix("\ufeff")
    if "\0" in text:
        line = text[: text.index("\0")].count("\n") + 1
        raise LogError(f"line {line}, column time or later: a NUL byte; this is no CSV text", source=source)
    reader, rows = _opened(text, source)
    cells, lines = _cells(reader, rows)
    columns = {name: _numbers(reader, name, cells, lines) for name in reader.columns if name in _LIMITS}
    times_s, start = _times(reader, cells, lines)
    lid = _lids(reader, cells, lines) if "lid" in reader.columns else None
    return _joined(reader, _Table(lines=lines, times_s=times_s, start=start, columns=columns, lid=lid))


def _opened(text: str, source: str) -> tuple[_Reader, Iterator[list[str]]]:
    """Find separator and header; give the rows."""
    header = text.split("\n", 1)[0].strip("\r")
    counts = {mark: header.count(mark) for mark in (";", "\t", ",")}
    delimiter = max(counts, key=lambda mark: counts[mark])
    names = tuple(name.strip().strip('"').strip().lower() for name in header.split(delimiter))
    reader = _Reader(source=source, columns=names, decimal_comma=delimiter != ",")
    if not header.strip():
        what = "the first line is empty" if text.strip() else "the file is empty"
        raise reader.fault(1, "time", f"{what}; expected a first line such as time,temperature_c")
    _check_header(reader)
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    return reader, rows


def _check_header(reader: _Reader) -> None:
    names = reader.columns
    for name in names:
        if name in COLUMNS and names.count(name) > 1:
            raise reader.fault(1, name, "appears twice in the header; keep one of them")
    if "time" not in names:
        raise reader.fault(1, "time", f"missing; the header is {', '.join(names)[:80]}{_near('time', names)}")
    has = [name for name in ("temperature_c", "temperature_f") if name in names]
    if len(has) == 2:
        raise reader.fault(1, "temperature_f", "given beside temperature_c; keep one of them")
    if not has:
        expected = "missing; name the temperature column temperature_c or temperature_f"
        raise reader.fault(1, "temperature_c", expected + _near("temperature_c", names))


def _near(wanted: str, names: Sequence[str]) -> str:
    close = difflib.get_close_matches(wanted, names, n=1, cutoff=0.6)
    return f' (is "{close[0]}" meant?)' if close else ""


def _cells(reader: _Reader, rows: Iterator[list[str]]) -> tuple[dict[str, list[str]], list[int]]:
    """Sort the cells of all rows into columns, with the line number of each row."""
    wanted = {name: place for place, name in enumerate(reader.columns) if name in COLUMNS}
    cells: dict[str, list[str]] = {name: [] for name in wanted}
    lines: list[int] = []
    width = len(reader.columns)
    try:
        next(rows)
        for row in rows:
            if not row or (len(row) == 1 and not row[0].strip()):
                continue
            line = rows.line_num  # type: ignore[attr-defined] # csv.reader has it, Iterator does not
            if len(row) != width:
                raise _wrong_width(reader, line, row)
            for name, place in wanted.items():
                cells[name].append(row[place])
            lines.append(line)
    except csv.Error as error:
        line = rows.line_num  # type: ignore[attr-defined]
        raise reader.fault(line, reader.columns[-1], f"not valid CSV ({error}); close every quote") from None
    if len(lines) < FEWEST_READINGS:
        found = f"only {len(lines)} readings" if lines else "no readings"
        raise reader.fault(lines[-1] if lines else 2, "time", f"{found}; a log needs at least {FEWEST_READINGS} rows")
    return cells, lines


def _wrong_width(reader: _Reader, line: int, row: list[str]) -> LogError:
    width = len(reader.columns)
    if len(row) < width:
        return reader.fault(line, reader.columns[len(row)], f"missing; the row has {len(row)} of {width} cells")
    hint = ""
    if not reader.decimal_comma and len(row) > width:
        hint = "; with decimal commas separate the columns by semicolons"
    return reader.fault(line, reader.columns[-1], f"the row has {len(row)} cells where the header has {width}{hint}")


def _numbers(reader: _Reader, name: str, cells: dict[str, list[str]], lines: list[int]) -> FloatArray:
    values = np.array([reader.number(text, line, name) for text, line in zip(cells[name], lines, strict=True)])
    low, high, expected = _LIMITS[name]
    out = np.flatnonzero((values < low) | (values > high))
    if out.size:
        worst = int(out[0])
        raise reader.fault(lines[worst], name, f"{values[worst]:g} is out of range: expected {expected}")
    return values


def _lids(reader: _Reader, cells: dict[str, list[str]], lines: list[int]) -> NDArray[np.int8]:
    states = np.full(len(lines), -1, dtype=np.int8)
    for place, text in enumerate(cells["lid"]):
        word = text.strip().lower()
        if word in _EMPTY:
            continue
        if word not in _LID_WORDS:
            raise reader.fault(lines[place], "lid", f'"{text.strip()[:40]}" is no state of a lid: on, ajar or off')
        states[place] = _LID_WORDS[word]
    return states


def _times(reader: _Reader, cells: dict[str, list[str]], lines: list[int]) -> tuple[FloatArray, datetime | None]:
    """Seconds of every reading (from any origin), and the moment of that origin."""
    first = cells["time"][0].strip()
    read = _moment if _is_moment(first) else _minutes
    seconds = np.array([read(reader, text, line) for text, line in zip(cells["time"], lines, strict=True)])
    if read is _minutes:
        return 60 * seconds, None
    aware = np.array([_has_offset(text) for text in cells["time"]])
    if aware.any() and not aware.all():
        odd = int(np.argmax(aware != aware[0]))
        message = "some times have an offset from UTC and some have none; write all in one way"
        raise reader.fault(lines[odd], "time", message)
    start = datetime.fromtimestamp(float(seconds.min()), UTC)
    return seconds - seconds.min(), start if aware.all() else start.replace(tzinfo=None)


def _is_moment(text: str) -> bool:
    return len(text) >= 10 and text[4:5] == "-"


def _has_offset(text: str) -> bool:
    tail = text.strip()[10:]
    return tail.endswith(("Z", "z")) or "+" in tail or "-" in tail


def _minutes(reader: _Reader, text: str, line: int) -> float:
    if _is_moment(text.strip()):
        message = (
            f'"{text.strip()[:40]}" is a date where the first row has minutes from the start; write all in one way'
        )
        raise reader.fault(line, "time", message)
    if not text.strip():
        raise reader.fault(line, "time", "empty; every row needs its time")
    try:
        value = reader.number(text, line, "time")
    except LogError:
        value = math.nan
    if math.isnan(value):
        shown = text.strip()[:40]
        message = f'"{shown}" is no time; write minutes from the start (12.5) or a date and time (2026-11-07T08:30:00)'
        raise reader.fault(line, "time", message)
    return value


def _moment(reader: _Reader, text: str, line: int) -> float:
    word = text.strip()
    if not word:
        raise reader.fault(line, "time", "empty; every row needs its time")
    try:
        moment = datetime.fromisoformat(word)
        if moment.tzinfo is None:
            moment = moment.replace(tzinfo=UTC)
        return moment.timestamp()
    except (ValueError, OverflowError):
        known = "2026-11-07T08:30:00" if _is_moment(word) else "2026-11-07T08:30:00, as in the first row"
        raise reader.fault(line, "time", f'"{word[:40]}" is no date and time; write it like {known}') from None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Table:
    """All readings, in the order of the file."""

    lines: list[int]
    times_s: FloatArray
    start: datetime | None
    columns: dict[str, FloatArray]
    lid: NDArray[np.int8] | None


def _joined(reader: _Reader, table: _Table) -> Log:
    """Sort, join readings of one moment, take resets out of the meter."""
    notes: list[str] = []
    name = "temperature_c" if "temperature_c" in table.columns else "temperature_f"
    raw = table.columns[name]
    there = ~np.isnan(raw)
    if int(there.sum()) < FEWEST_READINGS:
        message = f"only {int(there.sum())} of {raw.size} cells are filled; a log needs at least {FEWEST_READINGS}"
        raise reader.fault(table.lines[-1], name, message)
    if not there.all():
        notes.append(f"{int((~there).sum())} rows without a temperature are left out.")
    temperature_c = (raw - 32) / 1.8 if name == "temperature_f" else raw
    resolution_k = _resolution(raw[there]) / (1.8 if name == "temperature_f" else 1.0)
    order = np.flatnonzero(there)
    if (np.diff(table.times_s[order]) < 0).any():
        order = order[np.argsort(table.times_s[order], kind="stable")]
        notes.append("The rows were not in the order of time; they are sorted.")
    times_s, group = np.unique(table.times_s[order], return_inverse=True)
    if times_s.size < FEWEST_READINGS:
        message = f"only {times_s.size} different times; a log needs at least {FEWEST_READINGS}"
        raise reader.fault(table.lines[-1], "time", message)
    if times_s.size < order.size:
        notes.append(f"{order.size - times_s.size} readings share their time with another one; they are averaged.")
    notes += _gap_notes(times_s)
    mean = _averager(order, group, times_s.size)
    energy_kwh = table.columns.get("energy_kwh")
    power_w = table.columns.get("power_w")
    return Log(
        source=reader.source,
        times_s=times_s - times_s[0],
        temperature_c=mean(temperature_c),
        power_w=None if power_w is None or np.isnan(power_w[order]).all() else mean(power_w),
        energy_kwh=None if energy_kwh is None else _running_total(mean(energy_kwh), notes),
        lid=None if table.lid is None else _last_lid(table.lid[order], group, times_s.size),
        resolution_k=resolution_k,
        start=table.start,
        notes=tuple(notes),
    )


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
    """Smallest step between different readings."""
    steps = np.diff(np.unique(np.round(values, 6)))
    return float(steps.min()) if steps.size else 0.0


def _gap_notes(times_s: FloatArray) -> list[str]:
    intervals_s = np.diff(times_s)
    gaps_s = intervals_s[intervals_s > GAP_INTERVALS * np.median(intervals_s)]
    if not gaps_s.size:
        return []
    count = "There is a gap" if gaps_s.size == 1 else f"There are {gaps_s.size} gaps"
    return [f"{count} in the log, the longest of {gaps_s.max() / 60:.0f} min."]


def _running_total(energy_kwh: FloatArray, notes: list[str]) -> FloatArray | None:
    """Energy since the first reading, with the resets of the meter taken out."""
    told = np.flatnonzero(~np.isnan(energy_kwh))
    if told.size < 2:
        return None
    values = energy_kwh[told]
    steps = np.diff(values)
    resets = steps < -RESET_KWH
    if resets.any():
        count = "once" if resets.sum() == 1 else f"{int(resets.sum())} times"
        notes.append(f"The meter was reset {count}; it is taken to have started again from 0.")
    # After a reset the meter counts from 0, so what it shows is what has passed since.
    passed = np.where(resets, values[1:], np.maximum(steps, 0.0))
    total = np.full(energy_kwh.shape, np.nan)
    total[told] = np.concatenate([[0.0], np.cumsum(passed)])
    return total
