"""Cells of lists as people write them: columns, dates in any order, one moment or a stretch, numbers with a unit."""

import csv
import io
import re
from collections import Counter
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Literal

import numpy as np

from energyplan.base.records import dataclass
from energyplan.tariffs.clock import DAY_S, day_number, offset_pieces, to_local, wall_to_utc_s
from energyplan.tariffs.series import decimal_of

__all__ = [
    "CLOCK",
    "SPAN",
    "STAMP",
    "DayOrder",
    "WrittenTime",
    "bare_number",
    "changes_s",
    "halves",
    "has_clock",
    "is_stamp",
    "length_min",
    "local_time",
    "midnight_s",
    "number_of",
    "spans_apart",
    "table_of",
    "written_time",
]

DayOrder = Literal["year first", "day first", "month first"]

_DATE = r"(\d{4}|\d{1,2})[-/.](\d{1,2})[-/.](\d{4}|\d{2})"
_TIME = r"(\d{1,2})[:h](\d{2})(?::(\d{2})(?:\.\d+)?)?\s*([AaPp][Mm])?"
_ZONE = r"\s*(Z|[+-]\d{2}:?\d{2}|\(?[A-Z]{3,4}\)?)?"
STAMP = re.compile(rf"{_DATE}(?:[T ,]+{_TIME}{_ZONE})?")
_COMPACT = re.compile(r"(\d{4})(\d{2})(\d{2})[T ]?(\d{2}):?(\d{2})(?::?(\d{2}))?(Z|[+-]\d{2}:?\d{2})?")
_SINCE_1970 = re.compile(r"1\d{9}(?:\d{3})?")  # seconds, or thousandths of one
CLOCK = re.compile(_TIME)
SPAN = re.compile(r"\s*(?:-|–|—|\bto\b|\buntil\b)\s*")
_NUMBER = re.compile(r"[^\d+\-.,]*([+-]?\d[\d\s.,'\u00a0\u202f]*(?:[eE][+-]?\d+)?)[^\d]*")
_GLUED = re.compile(r"(:\d{2})-(?=\d{2}:\d{2}$)")
_MOST_OFFSETS = 2  # of a clock that goes forward and back
_NOTHING = frozenset({"", "-", "n/a", "na", "nan", "null", "none"})
_MOST_PREAMBLE = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenTime:
    """A stamp as written: clock time, and its offset if it has one."""

    naive: datetime
    zone: str

    @property
    def moment(self) -> datetime:
        """The moment that a stamp with an offset names, UTC; without one the clock time as it is."""
        if self.zone in ("", "Z"):
            return self.naive.replace(tzinfo=UTC) if self.zone else self.naive
        sign, digits = (-1 if self.zone[0] == "-" else 1), self.zone[1:].replace(":", "")
        offset = sign * timedelta(hours=int(digits[:2]), minutes=int(digits[2:]))
        return (self.naive - offset).replace(tzinfo=UTC)


def is_stamp(cell: str) -> bool:
    """Whether a cell begins with a date.

    >>> is_stamp("01.03.2026 14:30"), is_stamp("12.50")
    (True, False)
    """
    return bool(STAMP.match(cell) or _COMPACT.fullmatch(cell) or _SINCE_1970.fullmatch(cell))


def has_clock(cell: str) -> bool:
    """Whether a stamp says a time of day beside its date.

    >>> has_clock("01.03.2026 14:30"), has_clock("2026-03-01")
    (True, False)
    """
    dated = re.match(_DATE, cell)
    return is_stamp(cell) if dated is None else bool(CLOCK.search(cell[dated.end() :]))


def halves(cell: str) -> tuple[str, str]:
    """Beginning and end that stand in one cell; an end without a date is on the day of its beginning, or the next."""
    first = STAMP.match(cell)
    if first is None:
        raise ValueError(f"{cell!r} is no stretch of time")
    rest = SPAN.sub("", cell[first.end() :], count=1).strip()
    if is_stamp(rest):
        return first[0], rest
    return first[0], f"{'/'.join(first.group(1, 2, 3))} {rest}"


def written_time(cell: str, order: DayOrder) -> WrittenTime:
    """Read a stamp; 24:00 is the next day's 00:00.

    Raises
    ------
    ValueError
        If it is none.

    Examples
    --------
    >>> written_time("03/04/2026 1:30 PM", "month first").naive.isoformat()
    '2026-03-04T13:30:00'
    """
    if _SINCE_1970.fullmatch(cell):
        return WrittenTime(naive=datetime.fromtimestamp(int(cell[:10]), UTC).replace(tzinfo=None), zone="Z")
    compact = _COMPACT.fullmatch(cell)
    if compact:
        year, month, day, hour, minute = (int(part) for part in compact.group(1, 2, 3, 4, 5))
        return WrittenTime(naive=_time(year, month, day, hour, minute), zone=compact[7] or "")
    found = STAMP.match(cell)
    if found is None:
        raise ValueError(f"{cell!r} is no date and time")
    parts = [int(part) for part in found.group(1, 2, 3)]
    year, month, day = _ordered(parts, "year first" if len(found[1]) == 4 else order)
    hour, minute = int(found[4] or 0), int(found[5] or 0)
    if found[7]:
        hour = hour % 12 + (12 if found[7].lower() == "pm" else 0)
    zone = found[8] or ""
    return WrittenTime(naive=_time(year, month, day, hour, minute), zone=zone if zone[:1] in ("Z", "+", "-") else "")


def _ordered(parts: Sequence[int], order: DayOrder) -> tuple[int, int, int]:
    if order == "year first":
        return parts[0], parts[1], parts[2]
    day, month = (parts[0], parts[1]) if order == "day first" else (parts[1], parts[0])
    return parts[2] + (2000 if parts[2] < 100 else 0), month, day


def _time(year: int, month: int, day: int, hour: int, minute: int) -> datetime:
    """A clock time without a zone; 24:00 is the next day's 00:00."""
    whole = datetime(year, month, day, 0 if hour == 24 else hour, minute)  # noqa: DTZ001 - the zone comes later
    return whole + timedelta(days=1) if hour == 24 else whole


def _later(wall: WrittenTime, minutes: int) -> WrittenTime:
    return WrittenTime(naive=wall.naive + timedelta(minutes=minutes), zone=wall.zone)


def length_min(begins: Sequence[WrittenTime], ends: Sequence[WrittenTime]) -> int:
    """Length of most steps [min]; one that ends at 00:59 lasts the hour."""
    lengths = Counter(
        (end.naive - begin.naive) // timedelta(minutes=1) % (24 * 60) or 24 * 60
        for begin, end in zip(begins, ends, strict=True)
    )
    most_min = lengths.most_common(1)[0][0]
    return most_min + 1 if most_min % 5 == 4 else most_min


def midnight_s(day: datetime, later: int, zone: str) -> int:
    """Second of UTC at which a local day begins, or one so many days later."""
    midnight = datetime.combine(day.date() + timedelta(days=later), datetime.min.time())
    return int(wall_to_utc_s(zone, np.array([(day_number(midnight.date())) * DAY_S]))[0])


def local_time(second: int, zone: str) -> WrittenTime:
    """What the local clock shows at a second of UTC."""
    return WrittenTime(naive=to_local(second, zone).replace(tzinfo=None), zone="")


def changes_s(seconds: Sequence[int], zone: str) -> list[int]:
    """Clock changes within a stretch of time [s of UTC]."""
    return [piece[1] for piece in offset_pieces(zone, seconds[0], seconds[-1] + 1)[:-1]]


def table_of(text: str) -> tuple[list[str], list[list[str]], str]:
    """Header, rows and what stands above, whatever separates the columns.

    Raises
    ------
    ValueError
        If no row has a time.
    """
    clean = text.lstrip("\ufeff").replace("\0", "")
    lines = [line for line in clean.splitlines() if line.strip()]
    for delimiter in (";", "\t", ",", "|"):
        rows = [
            [cell.strip() for cell in row] for row in csv.reader(io.StringIO("\n".join(lines)), delimiter=delimiter)
        ]
        width = Counter(len(row) for row in rows).most_common(1)[0][0] if rows else 0
        first = next((k for k, row in enumerate(rows[: _MOST_PREAMBLE + 1]) if len(row) == width), None)
        if width < 2 or first is None:
            continue
        body = [row for row in rows[first:] if len(row) == width]
        if any(is_stamp(cell) for row in body[:3] for cell in row):
            has_header = not any(is_stamp(cell) for cell in body[0])
            header = body[0] if has_header else [f"column {k + 1}" for k in range(width)]
            return header, body[1:] if has_header else body, "\n".join(lines[:first])
    raise ValueError("no columns with a time and a price were found; hand in a table with a row for each step")


def spans_apart(rows: list[list[str]]) -> list[list[str]]:
    """Rows in which what reads like a time with ever other offsets ("01.03.2026 14:00-15:00") is a stretch."""
    places = [
        place
        for place in range(len(rows[0]))
        if len({found[8] for row in rows if (found := STAMP.fullmatch(row[place])) and found[8]}) > _MOST_OFFSETS
    ]
    return [[_GLUED.sub(r"\1 - ", cell) if place in places else cell for place, cell in enumerate(row)] for row in rows]


def bare_number(cell: str) -> str:
    """A number without its unit, and without spaces between thousands; "" where there is none.

    >>> bare_number("1 234,5 EUR/MWh"), bare_number("n/a"), bare_number("\u22125,20 EUR")
    ('1234,5', '', '-5,20')
    """
    cell = re.sub("[\u2212\u2013]", "-", cell)
    if cell.strip().lower() in _NOTHING:
        return ""
    found = _NUMBER.fullmatch(cell)
    return re.sub(r"[\s\u00a0\u202f']", "", found[1]) if found else cell


def number_of(text: str) -> Decimal:
    """A number; of a point and a comma the last separates the decimals.

    Raises
    ------
    ValueError
        If it is none.

    Examples
    --------
    >>> number_of("1.234,5")
    Decimal('1234.5')
    """
    if "," in text and "." in text:
        text = text.replace("," if text.rindex(".") > text.rindex(",") else ".", "")
    return decimal_of(text)
