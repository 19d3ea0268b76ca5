"""What the house's meter counted, as suppliers export it: CSV of any usual shape, or ESPI XML, -> `MeterLog`.

How a CSV was read (which column, which unit, start or end of the interval, whose clock) is told with it: it is a guess.
"""

import csv
import io
import re
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta, tzinfo
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.errors import LogError
from energyplan.base.records import dataclass

__all__ = ["MeterLog", "parse_meter"]

FloatArray = NDArray[np.float64]
Counts = Literal["energy", "total", "power"]

LARGEST_CHARACTERS = 60_000_000
FEWEST_INTERVALS = 48
LONGEST_INTERVAL_S = 7200.0
FORMATS = ("%d.%m.%Y %H:%M", "%d.%m.%Y %H:%M:%S", "%d/%m/%Y %H:%M", "%d/%m/%Y %H:%M:%S", "%m/%d/%Y %H:%M",
           "%m/%d/%Y %H:%M:%S", "%d-%m-%Y %H:%M", "%Y/%m/%d %H:%M", "%m/%d/%Y %I:%M %p")  # fmt: skip
ENDING = re.compile(r"\b(end|ending|ende|to|until|bis)\b", re.IGNORECASE)
SPAN = re.compile(r"\s+(?:-|to|until|bis)\s+|\s*[–—]\s*|(?<=:\d\d)-(?=\d)")
WATT_HOURS, WATTS, FORWARD = "72", "38", "1"  # ESPI: uom and flowDirection (NAESB REQ.21, from memory)
UNITS = {
    "kwh": ("energy", 1.0),
    "wh": ("energy", 1e-3),
    "mwh": ("energy", 1e3),
    "kw": ("power", 1.0),
    "w": ("power", 1e-3),
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MeterLog:
    """Energy of intervals, in the order of time.

    Parameters
    ----------
    start_s, end_s : ndarray, shape (intervals,)
        Borders of each interval, seconds of UTC.
    kwh : ndarray, shape (intervals,)
        Energy of each [kWh].
    columns : tuple of str
        Names of the columns that were read (CSV): stamps, then the value.
    counts : {"energy", "total", "power"}
        What the value is.
    stamped : {"start", "end", "both"}
        What the stamps mark.
    clock : {"utc", "local", "offset"}
        Whose clock they are.
    """

    start_s: FloatArray
    end_s: FloatArray
    kwh: FloatArray
    columns: tuple[str, ...]
    counts: Counts
    stamped: Literal["start", "end", "both"]
    clock: Literal["utc", "local", "offset"]

    @property
    def interval_s(self) -> float:
        """Usual length of an interval [s]."""
        return float(np.median(self.end_s - self.start_s))


def parse_meter(text: str, zone: tzinfo, *, source: str = "export") -> MeterLog:
    """Read an export of a meter.

    Parameters
    ----------
    text : str
        CSV or ESPI XML.
    zone : tzinfo
        The clock of stamps that have none of their own.
    source : str
        Name in messages.

    Raises
    ------
    LogError
        If it can't be read as one; the message says what was looked for.
    """
    if len(text) > LARGEST_CHARACTERS:
        raise LogError("too large for a meter's export", source=source)
    text = text.removeprefix("\ufeff").lstrip()
    found = _from_xml(text, source) if text.startswith("<") else _from_csv(text, zone, source)
    if found.kwh.size < FEWEST_INTERVALS:
        raise LogError(
            f"only {found.kwh.size} intervals; give some days of the meter's export, at least one without a brew",
            source=source,
        )
    return found


# CSV ----------------------------------------------------------------------------------------------------------


def _from_csv(text: str, zone: tzinfo, source: str) -> MeterLog:
    rows, comma = _rows(text, source)
    header, body = rows[0], rows[1:]
    found = _stamp_columns(header, body, source)
    if found[0][1][0] > found[0][1][-1]:  # the newest first
        body.reverse()
        found = [(places, moments[::-1]) for places, moments in found]
    stamps, clock = _stamps(header, found, zone)
    value, counts, factor = _value_column(
        header, body, [place for places, _ in stamps for place in places], comma=comma, source=source
    )
    numbers = np.array([_number(row[value], comma) for row in body])
    there = np.isfinite(numbers)
    times = [seconds[there] for _, seconds in stamps]
    ends = len(stamps) == 1 and (bool(ENDING.search(header[stamps[0][0][0]])) or _ends_at_midnight(found[0][1]))
    start_s, end_s, kwh, stamped = _intervals(times, numbers[there] * factor, counts, source, ends=ends)
    names = (*(header[place] for places, _ in stamps for place in places), header[value])
    order = np.argsort(start_s, kind="stable")
    return MeterLog(start_s=start_s[order], end_s=end_s[order], kwh=kwh[order], columns=names, counts=counts,
                    stamped=stamped, clock=clock)  # fmt: skip


def _rows(text: str, source: str) -> tuple[list[list[str]], bool]:
    """Header and rows of the table in a file, and whether it writes decimal commas."""
    lines = text.splitlines()
    mark = max((";", "\t", ","), key=lambda one: sum(line.count(one) for line in lines[:50]))
    try:
        rows = [[cell.strip() for cell in row] for row in csv.reader(io.StringIO(text, newline=""), delimiter=mark)]
    except csv.Error as error:
        raise LogError(f"no CSV ({error})", source=source) from None
    first = next(
        (at for at, row in enumerate(rows) if any(_moment_of(cell) or _span(cell) for cell in _joined(row))),
        None,
    )
    if not first:
        raise LogError("no table found: a line of headings, then rows that begin with a date and time", source=source)
    width = len(rows[first])
    header = [*rows[first - 1], *([""] * width)][:width]
    body = [row for row in rows[first:] if len(row) >= width and any(cell[:1].isdigit() for cell in row)]
    spans = [at for at, cell in enumerate(rows[first]) if _span(cell)]
    for at in reversed(spans):
        header[at : at + 1] = [header[at], f"{header[at]}, until"]
        body = [[*row[:at], *(_span(row[at]) or (row[at], "")), *row[at + 1 :]] for row in body]
    return [[name or f"column {at + 1}" for at, name in enumerate(header)], *body], mark != ","


def _span(cell: str) -> tuple[str, str] | None:
    """Beginning and end of a stretch in one cell; an end without a date is on the day of its beginning, or the next."""
    halves = SPAN.split(cell)
    if len(halves) != 2 or not _moment_of(halves[0]):
        return None
    begin, end = halves
    if not _moment_of(end):
        end = f"{re.split('[ T]', begin)[0]} {end}"
    return (begin, end) if _moment_of(end) else None


def _joined(row: Sequence[str]) -> list[str]:
    """Cells, and neighbours joined: a date and a time may stand in columns of their own."""
    return [*row, *(f"{a} {b}" for a, b in pairwise(row))]


def _moment_of(text: str) -> bool:
    return _iso(text) is not None or any(_parsed(text, pattern) for pattern in FORMATS)


def _iso(text: str) -> datetime | None:
    """A moment as ISO writes it, or as seconds (or thousandths of one) since 1970."""
    if re.fullmatch(r"1\d{9}(\d{3})?", text):
        return datetime.fromtimestamp(int(text[:10]), UTC)
    if len(text) < 16 or text[4:5] != "-":
        return None
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        return None


def _parsed(text: str, pattern: str) -> datetime | None:
    if not re.match(r"\d", text) or not 13 <= len(text) <= 22:
        return None
    try:
        return datetime.strptime(text, pattern)  # noqa: DTZ007 - its clock is decided later
    except ValueError:
        return None


Stamps = list[tuple[tuple[int, ...], FloatArray]]


def _stamp_columns(
    header: list[str], body: list[list[str]], source: str
) -> list[tuple[tuple[int, ...], list[datetime]]]:
    """Columns of stamps, at most two, with what is written in them; a date and a time of day are one stamp."""
    width = len(header)
    places: list[tuple[int, ...]] = [*((at,) for at in range(width)), *((at, at + 1) for at in range(width - 1))]
    found: list[tuple[tuple[int, ...], list[datetime]]] = []
    for place in places:
        if any(set(place) & set(other) for other, _ in found) or len(found) == 2:
            continue
        moments = _moments([" ".join(row[at] for at in place) for row in body])
        if moments is not None:
            found.append((place, moments))
    if not found:
        raise LogError("no column of dates and times found", source=source)
    if len(found) == 2:  # an end at midnight that was written without its date
        (_, begins), (place, ends) = found
        day = timedelta(days=1)
        if begins[0].tzinfo is None and ends[0].tzinfo is None:
            found[1] = place, [b + day if a - b > day / 2 else b for a, b in zip(begins, ends, strict=True)]
    return found


def _stamps(
    header: list[str], found: list[tuple[tuple[int, ...], list[datetime]]], zone: tzinfo
) -> tuple[Stamps, Literal["utc", "local", "offset"]]:
    """The same columns as seconds of UTC, and whose clock they are."""
    clock: Literal["utc", "local", "offset"] = "local"
    if found[0][1][0].tzinfo is not None:
        clock = "offset"
    elif any(re.search(r"\b(utc|gmt|zulu)\b", header[at].lower()) for at in found[0][0]):
        clock = "utc"
    return [(place, _seconds(moments, UTC if clock == "utc" else zone)) for place, moments in found], clock


def _moments(texts: list[str]) -> list[datetime] | None:
    """Texts as moments, in the one way of writing that fits all; None if none does."""
    iso = [moment for moment in map(_iso, texts) if moment is not None]
    if len(iso) == len(texts) and len({moment.tzinfo is None for moment in iso}) == 1:
        return iso
    for pattern in FORMATS:
        if _parsed(texts[0], pattern) is None:
            continue
        moments = [_parsed(text, pattern) for text in texts]
        real = [moment for moment in moments if moment is not None]
        # Day and month are told apart by what can't be a month, and by time going on.
        if len(real) == len(texts) and all((b - a).days <= 1 for a, b in pairwise(real)):
            return real
    return None


def _ends_at_midnight(moments: Sequence[datetime]) -> bool:
    """Whether the rows end at a midnight that they don't begin at: their stamps end the intervals."""
    first, last = moments[0], moments[-1]
    return (last.hour, last.minute) == (0, 0) and (first.hour, first.minute) != (0, 0)


def _seconds(moments: list[datetime], zone: tzinfo) -> FloatArray:
    """Seconds of UTC; an hour that the clock shows twice is the second one where time would not go on."""
    seconds, last = np.empty(len(moments)), -np.inf
    for place, moment in enumerate(moments):
        if moment.tzinfo is not None:
            seconds[place] = moment.timestamp()
            continue
        at = moment.replace(tzinfo=zone).timestamp()
        later = moment.replace(tzinfo=zone, fold=1).timestamp()
        seconds[place] = last = later if at <= last < later else at
    return seconds


def _number(text: str, comma: bool) -> float:  # noqa: FBT001
    word = re.sub(r"[\s\u00a0\u202f]", "", text).replace("\u2212", "-")
    word = re.sub(r"(?<=\d)[kKmM]?[wW][hH]?$", "", word)
    word = word.replace(".", "").replace(",", ".") if comma and "," in word else word
    try:
        return float(word) if word and "_" not in word else float("nan")
    except ValueError:
        return float("nan")


def _value_column(
    header: list[str],
    body: list[list[str]],
    taken: Sequence[int],
    *,
    comma: bool,
    source: str,
) -> tuple[int, Counts, float]:
    """The column of values, what it counts, and kWh (or kW) in its unit: by its heading, else by its numbers."""
    best: tuple[float, int, Counts, float] | None = None
    for at, name in enumerate(header):
        numbers = np.array([_number(row[at], comma) for row in body])
        real = numbers[~np.isnan(numbers)]
        if at in taken or real.size < max(2, 0.5 * len(body)) or np.ptp(real) == 0:
            continue
        said = re.findall(r"[a-z]+", f"{name} {body[0][at]}".lower())
        units = [word for word in said if word in UNITS]
        kind, factor = UNITS[units[0]] if units else ("energy", 1.0)
        counts: Counts = "power" if kind == "power" else "energy"
        if counts == "energy" and (np.diff(real) >= 0).all() and real[-1] > 20 * np.median(np.diff(real)):
            counts = "total"
        unlikely = re.search(r"export|feed|return|cost|price|tariff|temp|co2|carbon|generation", name.lower())
        rank = (2.0 if units else 0.0) - (4.0 if unlikely else 0.0) - 0.01 * at
        if best is None or rank > best[0]:
            best = (rank, at, counts, factor)
    if best is None:
        raise LogError("no column of numbers found beside the dates", source=source)
    return best[1], best[2], best[3]


def _intervals(
    times: list[FloatArray], values: FloatArray, counts: Counts, source: str, *, ends: bool
) -> tuple[FloatArray, FloatArray, FloatArray, Literal["start", "end", "both"]]:
    """Borders and kWh of the intervals; a single stamp begins its interval or ``ends`` it."""
    order = np.argsort(times[0], kind="stable")
    first, values = times[0][order], values[order]
    steps = np.diff(first)
    if not (steps > 0).any():
        raise LogError("all rows have the same time", source=source)
    step_s = float(np.median(steps[steps > 0]))
    if step_s > LONGEST_INTERVAL_S:
        raise LogError(
            f"its intervals last {step_s / 3600:.0f} h; intervals of an hour or less are needed to see a brew day",
            source=source,
        )
    if counts == "total":
        whole = (steps > 0) & (steps < 1.5 * step_s)
        return first[:-1][whole], first[1:][whole], np.diff(values)[whole], "start"
    stamped: Literal["start", "end", "both"] = "both"
    if len(times) == 2:
        start_s, end_s = first, times[1][order]
    else:
        stamped = "end" if ends else "start"
        start_s = first if stamped == "start" else first - step_s
        end_s = start_s + step_s
    kwh = values * (end_s - start_s) / 3600 if counts == "power" else values
    return start_s, end_s, kwh, stamped


# ESPI ---------------------------------------------------------------------------------------------------------


def _from_xml(text: str, source: str) -> MeterLog:
    """Interval readings of an ESPI feed: UTC seconds, values with a power of ten, what flows to the house."""
    from xml.etree.ElementTree import ParseError

    from defusedxml.common import DefusedXmlException
    from defusedxml.ElementTree import fromstring

    try:
        root = fromstring(text)
    except (ParseError, DefusedXmlException, ValueError) as error:
        raise LogError(f"no XML that can be read ({error})", source=source) from None
    types = [dict(_children(one)) for one in root.iter() if _bare(one.tag) == "ReadingType"]
    known = types[0] if types else {}
    multiplier, unit = known.get("powerOfTenMultiplier", "0"), known.get("uom", WATT_HOURS)
    if len({(one.get("powerOfTenMultiplier", "0"), one.get("uom")) for one in types}) > 1:
        raise LogError("it has readings of more than one kind; export the delivered energy alone", source=source)
    if not re.fullmatch(r"[+-]?\d{1,2}", multiplier):
        raise LogError(f"powerOfTenMultiplier {multiplier!r}: expected a whole number such as -3", source=source)
    if unit not in (WATT_HOURS, WATTS) or known.get("flowDirection", FORWARD) != FORWARD:
        raise LogError("it is no energy delivered to the house (uom 72, flowDirection 1)", source=source)
    try:
        rows = np.array(sorted(_readings(root)))
    except ValueError:
        rows = np.zeros(0)
    if not rows.size or not np.isfinite(rows).all() or not (rows[:, 1] > 0).all():
        raise LogError("it has no IntervalReading, or one whose start, duration or value is no number", source=source)
    start_s, lasts_s, value = np.unique(rows, axis=0).T
    watt_hours = value * 10.0 ** int(multiplier) * (lasts_s / 3600 if unit == WATTS else 1.0)
    return MeterLog(start_s=start_s, end_s=start_s + lasts_s, kwh=watt_hours * 3600 / JOULES_PER_KWH,
                    columns=("timePeriod", "value"), counts="power" if unit == WATTS else "energy", stamped="start",
                    clock="utc")  # fmt: skip


def _readings(root: object) -> Iterator[tuple[float, float, float]]:
    for one in root.iter():  # type: ignore[attr-defined] # an element
        if _bare(one.tag) == "IntervalReading":
            values = {name: text for part in one for name, text in [(_bare(part.tag), part.text), *_children(part)]}
            if {"start", "duration", "value"} <= set(values):
                yield float(values["start"]), float(values["duration"]), float(values["value"])


def _children(one: object) -> Iterator[tuple[str, str]]:
    for part in one:  # type: ignore[attr-defined] # an element
        yield _bare(part.tag), (part.text or "").strip()


def _bare(tag: object) -> str:
    return str(tag).rpartition("}")[2]
