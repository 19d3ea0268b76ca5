"""A CSV of numbers over time: prices, carbon, or the power from the brewer's own roof.

Read with the standard library, row by row, so that a message can name the line.
"""

import csv
import io
import re
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from decimal import Decimal, InvalidOperation
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from energyplan.base.errors import FileError, Problem
from energyplan.base.records import dataclass
from energyplan.tariffs.clock import FIRST_YEAR, LAST_YEAR, from_utc_s, to_local, utc_s, zone_of
from energyplan.tariffs.tables import CarbonSource, Generation, PriceSource, TariffFile, parse_price_unit, reckonable

if TYPE_CHECKING:
    from _csv import Reader as CsvRows

__all__ = ["Series", "decimal_of", "read_all_series", "read_series", "seconds_of_stamps"]

IntArray = NDArray[np.int64]

_MAX_SHOWN = 5
_MAX_ROWS = 400_000
_LARGEST = Decimal(1_000_000)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Series:
    """Numbers that hold for one step each.

    Parameters
    ----------
    start_s : ndarray of int64, shape (n,)
        Seconds of UTC at which each step begins, increasing, without repeats.
    step_s : int
        Length of a step [s].
    values : ndarray of int64, shape (n,)
        Billionths of the currency per kWh, micrograms per kWh, or milliwatts.

    Notes
    -----
    Steps that the file lacks are simply not there: a hole, which matters only to a load in it.
    """

    start_s: IntArray
    step_s: int
    values: IntArray

    @property
    def covers(self) -> tuple[datetime, datetime]:
        """Beginning of the first step and end of the last, UTC."""
        return from_utc_s(int(self.start_s[0])), from_utc_s(int(self.start_s[-1]) + self.step_s)

    def steps(self) -> tuple[IntArray, IntArray, NDArray[np.bool_]]:
        """Edges (m + 1), values (m) and whether each is known (m); holes are filled in as unknown."""
        ends = self.start_s + self.step_s
        hole_after = np.flatnonzero(ends[:-1] != self.start_s[1:])
        edges = np.sort(np.concatenate([self.start_s, ends[hole_after], ends[-1:]]))
        index = np.searchsorted(self.start_s, edges[:-1], side="right") - 1
        known = edges[:-1] < self.start_s[index] + self.step_s
        return edges, np.where(known, self.values[index], 0), known


Source = PriceSource | CarbonSource | Generation


def read_all_series(
    file: TariffFile, series_text: Callable[[str], str]
) -> tuple[dict[str, Series], tuple[Problem, ...]]:
    """Read every series a tariff names; problems are listed, not raised.

    Parameters
    ----------
    file : TariffFile
        The tariff's tables.
    series_text : callable
        Text of a series by its file name.
    """
    sources: dict[str, Source | None] = {
        "prices": file.tariff.prices,
        "carbon": file.carbon,
        "own_generation": file.own_generation,
    }
    series: dict[str, Series] = {}
    problems: list[Problem] = []
    for name, source in sources.items():
        if source is None:
            continue
        try:
            series[name] = _read(series_text(source.file), source, file)
        except (_RowsError, FileError) as error:
            found = error.problems if isinstance(error, _RowsError) else (str(error),)
            problems += [Problem(where=source.file, message=message) for message in found]
    return series, tuple(problems)


class _RowsError(ValueError):
    """The rows of a series that can't be read, at most a handful of them."""

    def __init__(self, problems: Sequence[str]) -> None:
        more = len(problems) - _MAX_SHOWN
        shown = [*problems[:_MAX_SHOWN], *([f"and {more} more rows like these"] if more > 0 else [])]
        self.problems = tuple(shown)
        super().__init__("; ".join(shown))


def _read(text: str, source: Source, file: TariffFile) -> Series:
    """One series in the integer unit of its kind."""
    zone = file.tariff.time_zone
    if isinstance(source, PriceSource):
        unit = parse_price_unit(source.unit or file.tariff.price_unit, file.tariff.currency)
        series = read_series(text, source, source.price_column, unit.nano_per_kwh, zone)
        return _billed(series, source.billed_minutes)
    if isinstance(source, CarbonSource):
        per_unit = Decimal(1_000_000_000 if source.unit == "kg/kWh" else 1_000_000)
        return read_series(text, source, source.carbon_column, lambda value: round(value * per_unit), zone)
    per_unit = Decimal(1_000_000 if source.unit == "kW" else 1_000)
    series = read_series(text, source, source.power_column, lambda value: round(value * per_unit), zone)
    if (series.values < 0).any():
        raise _RowsError(["a power is negative; expected what is left over, 0 or more"])
    return series


def read_series(
    text: str, source: Source, value_column: str, to_integer: Callable[[Decimal], int], zone: str
) -> Series:
    """Read one CSV.

    Parameters
    ----------
    text : str
        Header and rows; ``,`` ``;`` or tab between columns; decimal point, or comma where the
        columns are not separated by one.
    source : PriceSource, CarbonSource or Generation
        Columns, stamps, clock and step.
    value_column : str
        Column of the numbers.
    to_integer : callable
        From the file's unit to the integer one.
    zone : str
        IANA zone of local stamps.

    Raises
    ------
    ValueError
        If a column is missing, or rows can't be read; line numbers are named.
    """
    rows = _rows(text, source.time_column, value_column)
    stamps, values, problems = [], [], []
    for line, stamp, number in rows:
        try:
            value = to_integer(decimal_of(number))
            moment = _stamp(stamp, source.time_format)
        except ValueError as error:
            problems.append(f"line {line}: {error}")
            continue
        stamps.append((line, moment))
        values.append(value)
    if problems:
        raise _RowsError(problems)
    step_s = source.step_minutes * 60
    seconds = np.array(seconds_of_stamps(stamps, source.clock, zone), dtype=np.int64)
    if source.stamp == "end":
        seconds = seconds - step_s
    return _ordered(seconds, np.array(values, dtype=np.int64), step_s, [line for line, _ in stamps])


def _rows(text: str, time_column: str, value_column: str) -> list[tuple[int, str, str]]:
    """Line number, stamp and number of every row."""
    clean = text.lstrip("\ufeff")
    if "\0" in clean:
        raise _RowsError(["a NUL byte in it: this is no CSV text"])
    header = clean.split("\n", 1)[0]
    delimiter = max(";\t,", key=header.count)
    reader = csv.reader(io.StringIO(clean, newline=""), delimiter=delimiter)
    try:
        return _cells(reader, time_column, value_column)
    except csv.Error as error:
        raise _RowsError([f"line {reader.line_num}: not valid CSV ({error}); close every quote"]) from None


def _cells(reader: "CsvRows", time_column: str, value_column: str) -> list[tuple[int, str, str]]:
    names = [name.strip() for name in next(reader, [])]
    missing = [name for name in (time_column, value_column) if name not in names]
    if missing:
        raise _RowsError([f"no column {name!r}; the header has {', '.join(names) or 'nothing'}" for name in missing])
    time_index, value_index = names.index(time_column), names.index(value_column)
    rows = []
    for row in reader:
        if not any(cell.strip() for cell in row):
            continue
        if len(row) != len(names):
            raise _RowsError([f"line {reader.line_num}: {len(row)} columns, the header has {len(names)}"])
        rows.append((reader.line_num, row[time_index].strip(), row[value_index].strip()))
        if len(rows) > _MAX_ROWS:
            raise _RowsError([f"more than {_MAX_ROWS} rows; hand in the years that are needed"])
    if not rows:
        raise _RowsError(["no rows under the header"])
    return rows


def decimal_of(text: str) -> Decimal:
    """A number of a list, with a decimal point or a decimal comma.

    Raises
    ------
    ValueError
        If it is none, or beyond all bounds.

    Examples
    --------
    >>> decimal_of("12,5")
    Decimal('12.5')
    """
    if "," in text:
        if "." in text:
            raise ValueError(f"{text!r} has a point and a comma; keep the one that separates the decimals")
        text = text.replace(",", ".")
    try:
        number = Decimal(text)
    except InvalidOperation:
        raise ValueError(f"{text!r} is no number; leave the row out when there is none") from None
    if not reckonable(number, _LARGEST):
        raise ValueError(f"{text!r} is no number to reckon with; leave the row out when there is none")
    return number


def _stamp(text: str, time_format: str | None) -> datetime:
    try:
        # What zone a stamp without one is in, `clock` decides later.
        moment = datetime.strptime(text, time_format) if time_format else datetime.fromisoformat(text)  # noqa: DTZ007
    except (ValueError, re.error):  # strptime makes a regular expression of the format
        wanted = time_format or "2026-01-31T00:30"
        raise ValueError(f"{text!r} is no time stamp written as {wanted}") from None
    if not FIRST_YEAR <= moment.year <= LAST_YEAR:
        raise ValueError(f"{text!r} is not in a year from {FIRST_YEAR} to {LAST_YEAR}")
    if moment.second or moment.microsecond:
        raise ValueError(f"{text!r} is not on a whole minute")
    return moment


def seconds_of_stamps(stamps: list[tuple[int, datetime]], clock: str, zone: str) -> list[int]:
    """Seconds of UTC of every stamp, given with the line it stands in.

    Raises
    ------
    ValueError
        If one is not of that clock, does not exist, or exists twice and stands once.
    """
    if clock == "local":
        return _local_seconds(stamps, zone)
    seconds, problems = [], []
    for line, moment in stamps:
        if clock == "utc" and moment.tzinfo is not None and moment.utcoffset() != timedelta(0):
            problems.append(f'line {line}: {moment.isoformat()} is not UTC; write clock = "offset in file"')
        elif clock != "utc" and moment.tzinfo is None:
            problems.append(f"line {line}: {moment.isoformat()} has no offset, such as +01:00")
        else:
            seconds.append(utc_s(moment if moment.tzinfo else moment.replace(tzinfo=UTC)))
    if problems:
        raise _RowsError(problems)
    return seconds


def _local_seconds(stamps: list[tuple[int, datetime]], zone: str) -> list[int]:
    """Seconds of UTC of local stamps; an hour shown twice is told apart by the order of the rows."""
    known_zone = zone_of(zone)
    readings = []
    for line, moment in stamps:
        if moment.tzinfo is not None:
            raise _RowsError([f'line {line}: {moment.isoformat()} has an offset; write clock = "offset in file"'])
        both = sorted({utc_s(moment.replace(tzinfo=known_zone, fold=fold)) for fold in (0, 1)})
        real = [s for s in both if to_local(s, zone).replace(tzinfo=None) == moment]
        if not real:
            raise _RowsError([f"line {line}: {moment.isoformat(' ')} does not exist in {zone}: a clock change"])
        readings.append(real)
    return _resolved(stamps, readings, zone)


def _resolved(stamps: list[tuple[int, datetime]], readings: list[list[int]], zone: str) -> list[int]:
    seconds: list[int] = []
    times_seen: dict[datetime, int] = {}
    for (_, moment), real in zip(stamps, readings, strict=True):
        seen = times_seen.get(moment, 0)
        seconds.append(real[min(seen, len(real) - 1)])
        times_seen[moment] = seen + 1
    for (line, moment), real in zip(stamps, readings, strict=True):
        if len(real) == 2 and times_seen[moment] == 1:
            both = " and ".join(from_utc_s(s).strftime("%H:%MZ") for s in real)
            raise _RowsError(
                [f"line {line}: {moment.isoformat(' ')} happens twice in {zone} ({both}), stands once; write both rows"]
            )
    if any(later <= earlier for earlier, later in pairwise(seconds)):
        index = next(i for i in range(1, len(seconds)) if seconds[i] <= seconds[i - 1])
        line, moment = stamps[index]
        raise _RowsError([f"line {line}: {moment.isoformat(' ')} does not come after the row before it"])
    return seconds


def _ordered(seconds: IntArray, values: IntArray, step_s: int, lines: list[int]) -> Series:
    order = np.argsort(seconds, kind="stable")
    start_s, values = seconds[order], values[order]
    gaps = np.diff(start_s)
    wrong = np.flatnonzero(gaps < step_s)
    if wrong.size:
        at = int(wrong[0])
        first, second = (from_utc_s(int(start_s[i])).strftime("%Y-%m-%d %H:%MZ") for i in (at, at + 1))
        line = lines[int(order[at + 1])]
        raise _RowsError(
            [f"line {line}: the step from {first} to {second} is shorter than step_minutes = {step_s // 60}"]
        )
    off = np.flatnonzero(gaps % step_s != 0)
    if off.size:
        moment = from_utc_s(int(start_s[int(off[0]) + 1])).strftime("%Y-%m-%d %H:%MZ")
        raise _RowsError([f"the row of {moment} is off the grid of step_minutes = {step_s // 60}"])
    return Series(start_s=start_s, step_s=step_s, values=values)


def _billed(series: Series, billed_minutes: int | None) -> Series:
    """Mean price of each longer billing step; a step with a part missing is a hole.

    Notes
    -----
    The mean is rounded half up to a billionth of the currency, a thousandth of what is priced.
    """
    if billed_minutes is None or billed_minutes * 60 == series.step_s:
        return series
    if billed_minutes * 60 < series.step_s:
        raise _RowsError([f"billed_minutes = {billed_minutes} is shorter than step_minutes = {series.step_s // 60}"])
    long_s = billed_minutes * 60
    per_step = long_s // series.step_s
    group = series.start_s // long_s
    starts = np.flatnonzero(np.diff(group, prepend=group[0] - 1))
    counts = np.diff(np.append(starts, group.size))
    whole = counts == per_step
    if not whole.any():
        raise _RowsError([f"no step of billed_minutes = {billed_minutes} is complete"])
    sums = np.add.reduceat(series.values, starts)[whole]
    return Series(start_s=group[starts][whole] * long_s, step_s=long_s, values=(2 * sums + per_step) // (2 * per_step))
