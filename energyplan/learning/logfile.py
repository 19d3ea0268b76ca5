"""Logs of a thermometer and a meter: CSV text -> `Log`, with one sentence for whatever is wrong.

Loggers write what they like, so separators, decimal commas, order and gaps are taken as they come; what was mended
is told in `Log.notes`. What can't be read is an error that names the line and the column.
"""

import csv
import difflib
import io
import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from energyplan.base.errors import FileError, LogError
from energyplan.base.files import PACKAGE, STANDARD_INPUT, read_text
from energyplan.learning.readings import FEWEST_READINGS, LIDS, Columns, Log, log_fault, ordered_log

__all__ = ["LIDS", "Log", "demo_logs", "parse_log", "read_log"]

FloatArray = NDArray[np.float64]

COLUMNS = ("time", "temperature_c", "temperature_f", "power_w", "energy_kwh", "lid")
_LID_WORDS = {"on": 0, "closed": 0, "ajar": 1, "off": 2, "open": 2}
_EMPTY = frozenset({"", "nan", "na", "n/a", "null", "none", "-", "--"})
LARGEST_FILE_BYTES = 60_000_000
MOST_MINUTES = 1e9
HALF_DAY_S = 12 * 3600.0
_QUOTED_DECIMAL = re.compile(r"[+-]?\d+,(?:\d{1,2}|\d{4,})")
_SEPARATOR = re.compile(r'"?sep=(.)"?')  # spreadsheets say so in a line before all others
_CLOCK = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)(?::([0-5]\d))?")
_DOTTED = re.compile(r"(?:[01]?\d|2[0-3])[.,]([0-5]\d)")  # what may be a clock, written with a point
SECOND_DIGIT, HOUR_MIN = 0.01, 60.0  # of minutes: what two decimals round to, and an hour
FIRST_YEAR, LAST_YEAR = 1970, 2200


@dataclass(slots=True)
class _Reader:
    """The rows of a file on their way to columns."""

    source: str
    columns: tuple[str, ...]
    decimal_comma: bool

    def fault(self, line: int, column: str, message: str) -> LogError:
        return log_fault(self.source, line, column, message)

    def number(self, text: str, line: int, column: str) -> float:
        """Read a number; NaN where the cell is empty."""
        word = text.strip()
        if word.lower() in _EMPTY:
            return math.nan
        try:
            # Python's own way of writing numbers has underscores, a logger's has not.
            # In a file with commas between columns a cell that holds one was quoted: three digits may be thousands.
            comma = self.decimal_comma or _QUOTED_DECIMAL.fullmatch(word) is not None
            value = float("_" if "_" in word else word.replace(",", ".") if comma else word)
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
    folder = PACKAGE / "demo"
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
    if path == STANDARD_INPUT:
        return parse_log(read_text(path, LARGEST_FILE_BYTES, what="a log"), source=path)
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
        Header and rows: ``time`` (minutes from the start, the clock's hours and minutes, or ISO 8601 with or without
        offset), ``temperature_c`` or ``temperature_f``, and optionally ``power_w``, ``energy_kwh`` (running total),
        ``lid`` (on, ajar, off). Separated by commas, semicolons or tabs; with the latter two a decimal comma is read.
    source : str
        Name in messages.

    Raises
    ------
    LogError
        If something can't be read; one sentence names line and column.
    FileError
        If the text is larger than a log file may be.

    Examples
    --------
    >>> log = parse_log("time;temperature_c\n" + "\n".join(f"{k};{70 - k / 10:.1f}".replace(".", ",")
    ...                                                    for k in range(10)))
    >>> log.duration_s, float(log.temperature_c[-1])
    (540.0, 69.1)
    """
    if len(text) > LARGEST_FILE_BYTES:
        raise FileError(f"{source}: {len(text)} characters are too many for a log (at most {LARGEST_FILE_BYTES})")
    text = text.removeprefix("\ufeff")
    if "\0" in text:
        line = text[: text.index("\0")].count("\n") + 1
        raise LogError(f"line {line}, column time or later: a NUL byte; this is no CSV text", source=source)
    reader, rows = _opened(text, source)
    cells, lines = _cells(reader, rows)
    columns = {name: _numbers(reader, name, cells, lines) for name in reader.columns if name in _LIMITS}
    times_s, origin = _times(reader, cells, lines)
    lid = _lids(reader, cells, lines) if "lid" in reader.columns else None
    return ordered_log(Columns(source=source, lines=lines, times_s=times_s, origin=origin, numbers=columns, lid=lid))


def _opened(text: str, source: str) -> tuple[_Reader, Iterator[list[str]]]:
    """Find separator and header; give the rows."""
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    header, _, rest = text.partition("\n")
    said = _SEPARATOR.fullmatch(header.strip())
    if said is not None:
        header = rest.partition("\n")[0]
    counts = {mark: header.count(mark) for mark in (";", "\t", ",")}
    delimiter = said[1] if said else max(counts, key=lambda mark: counts[mark])
    names = tuple(name.strip().strip('"').strip().lower() for name in header.split(delimiter))
    reader = _Reader(source=source, columns=names, decimal_comma=delimiter != ",")
    if not header.strip():
        what = "the first line is empty" if text.strip() else "the file is empty"
        raise reader.fault(1, "time", f"{what}; expected a first line such as time,temperature_c")
    _check_header(reader)
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    if said is not None:
        next(rows)
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
            if len(row) != width and (len(row) < width or any(cell.strip() for cell in row[width:])):
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
    if _CLOCK.fullmatch(first):
        return _by_the_clock(reader, cells["time"], lines), None
    read = _moment if _is_moment(first) else _minutes
    seconds = np.array([read(reader, text, line) for text, line in zip(cells["time"], lines, strict=True)])
    if read is _minutes:
        _check_no_clock(reader, cells["time"], lines, seconds)
        return 60 * seconds, None
    aware = np.array([_has_offset(text) for text in cells["time"]])
    if aware.any() and not aware.all():
        odd = int(np.argmax(aware != aware[0]))
        message = "some times have an offset from UTC and some have none; write all in one way"
        raise reader.fault(lines[odd], "time", message)
    start = datetime.fromtimestamp(float(seconds.min()), UTC)
    return seconds - seconds.min(), start if aware.all() else start.replace(tzinfo=None)


def _check_no_clock(reader: _Reader, cells: list[str], lines: list[int], minutes: FloatArray) -> None:
    """Refuse minutes that all look like hours and minutes with a point: 19.59 and then 20.03. Few minutes do.

    Those that count from 0, and whole and half ones, are minutes; so are those that come evenly, if by the clock they
    would not, and those that would be read every hour or more seldom from midnight on.
    """
    dotted = [_DOTTED.fullmatch(text.strip()) for text in cells]
    if not all(dotted) or not {found[1] for found in dotted if found} - {"00", "50"} or not minutes[0]:
        return
    clock_min = np.floor(minutes) * 60 + np.round(100 * (minutes % 1))
    if _is_even(minutes, SECOND_DIGIT) and not _is_even(clock_min, 0.0):
        return
    if minutes[0] < 1 and np.median(np.diff(clock_min)) >= HOUR_MIN:
        return
    first = cells[0].strip()
    clock = re.sub("[.,]", ":", first)
    message = f"{first} may be a time of day, or minutes from the start: write {clock}, or {first}0 for minutes"
    raise reader.fault(lines[0], "time", message)


def _is_even(times: FloatArray, within: float) -> bool:
    """Whether all steps between times are alike."""
    steps = np.diff(times)
    return bool(np.ptp(steps) <= within + 1e-9)


def _by_the_clock(reader: _Reader, cells: list[str], lines: list[int]) -> FloatArray:
    """Seconds since midnight of times without a date; a clock that falls back by half a day has passed midnight."""
    clock_s = np.empty(len(cells))
    for place, text in enumerate(cells):
        found = _CLOCK.fullmatch(text.strip())
        if found is None:
            message = f'"{text.strip()[:40]}" is no time of day, as in the first row: write it like 19:05'
            raise reader.fault(lines[place], "time", message)
        hours, minutes, seconds = (float(part or 0) for part in found.groups())
        clock_s[place] = 3600 * hours + 60 * minutes + seconds
    steps_s = np.diff(clock_s)
    if ((steps_s < 0) & (steps_s >= -HALF_DAY_S)).sum() > (steps_s > 0).sum():  # newest first
        return _over_midnight(clock_s[::-1])[::-1]
    return _over_midnight(clock_s)


def _over_midnight(clock_s: FloatArray) -> FloatArray:
    nights = np.cumsum(np.diff(clock_s, prepend=clock_s[0]) < -HALF_DAY_S)
    return np.asarray(clock_s + 2 * HALF_DAY_S * nights)


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
    if not abs(value) <= MOST_MINUTES:
        shown = text.strip()[:40]
        message = (
            f'"{shown}" is no time; write minutes from the start (12.5), the clock (19:05), or a date and time '
            "(2026-11-07T08:30:00)"
        )
        raise reader.fault(line, "time", message)
    return value


def _moment(reader: _Reader, text: str, line: int) -> float:
    word = text.strip()
    if not word:
        raise reader.fault(line, "time", "empty; every row needs its time")
    try:
        moment = datetime.fromisoformat(word)
    except ValueError:
        known = "2026-11-07T08:30:00" if _is_moment(word) else "2026-11-07T08:30:00, as in the first row"
        raise reader.fault(line, "time", f'"{word[:40]}" is no date and time; write it like {known}') from None
    if not FIRST_YEAR <= moment.year <= LAST_YEAR:
        raise reader.fault(line, "time", f'"{word[:40]}" is in no year from {FIRST_YEAR} to {LAST_YEAR}')
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()
