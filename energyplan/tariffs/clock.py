"""Local clocks and UTC: the only place where the project turns one into the other.

Everything inside is whole seconds of UTC since 1970-01-01. A *wall second* is the same count
for what a clock on the wall shows, with no zone: 2026-03-29 01:30 has one wall second, whether
that moment exists in a zone, exists twice there, or not at all. Between two clock changes wall
and UTC differ by a constant, so a zone is a short list of pieces with one offset each; whatever
depends on the clock is laid out in wall seconds once and carried over piece by piece.
"""

import difflib
import zoneinfo
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from energyplan.base.errors import ClockError, need

__all__ = [
    "DAY_S",
    "FIRST_YEAR",
    "LAST_YEAR",
    "OffsetPiece",
    "day_number",
    "from_utc_s",
    "local_to_utc",
    "number_to_day",
    "offset_pieces",
    "standard_offset_s",
    "to_local",
    "utc_s",
    "wall_to_utc_s",
    "zone_of",
]

IntArray = NDArray[np.int64]

#: Seconds of a wall-clock day.
DAY_S = 86_400

#: Years in which moments are reckoned; far from the ends of the calendar that Python knows.
FIRST_YEAR, LAST_YEAR = 1970, 2200

#: From one second of UTC to another, and what the local clock is ahead of UTC in between [s].
OffsetPiece = tuple[int, int, int]

_EPOCH_ORDINAL = date(1970, 1, 1).toordinal()


def zone_of(name: str) -> zoneinfo.ZoneInfo:
    """Zone of an IANA name.

    Raises
    ------
    ClockError
        If no such zone exists; the nearest name is offered.

    Examples
    --------
    >>> zone_of("Europe/Dublin").key
    'Europe/Dublin'
    """
    try:
        return zoneinfo.ZoneInfo(name)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        near = difflib.get_close_matches(name, sorted(zoneinfo.available_timezones()), n=1, cutoff=0.5)
        hint = f"; did you mean {near[0]!r}?" if near else "; write an IANA name such as 'Europe/Dublin'"
        raise ClockError(f"time zone {name!r} is not known{hint}") from None


def day_number(day: date) -> int:
    """Days since 1970-01-01.

    >>> day_number(date(1970, 1, 2))
    1
    """
    return day.toordinal() - _EPOCH_ORDINAL


def number_to_day(number: int) -> date:
    """Calendar day of a count of days since 1970-01-01.

    >>> number_to_day(1)
    datetime.date(1970, 1, 2)
    """
    return date.fromordinal(number + _EPOCH_ORDINAL)


def utc_s(moment: datetime) -> int:
    """Whole seconds of UTC of a moment.

    Raises
    ------
    ClockError
        If the moment has no zone, or a fraction of a second.

    Examples
    --------
    >>> utc_s(datetime(1970, 1, 1, 0, 1, tzinfo=UTC))
    60
    """
    need(moment, datetime, "moment: give a datetime with its offset from UTC")
    if moment.tzinfo is None:
        raise ClockError(f"{moment.isoformat()} has no zone; expected a moment in UTC, as local_to_utc gives")
    if moment.microsecond:
        raise ClockError(f"{moment.isoformat()} has a fraction of a second; prices are told to the whole second")
    elapsed = moment.astimezone(UTC) - datetime(1970, 1, 1, tzinfo=UTC)
    return elapsed.days * DAY_S + elapsed.seconds


def from_utc_s(second: int) -> datetime:
    """Moment, in UTC, of a count of seconds.

    >>> from_utc_s(60).isoformat()
    '1970-01-01T00:01:00+00:00'
    """
    return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=int(second))


def to_local(moment: datetime | int, zone: str) -> datetime:
    """Local time of a moment (or of a second of UTC), for showing it.

    >>> to_local(datetime(2026, 7, 1, 12, tzinfo=UTC), "Europe/Dublin").isoformat()
    '2026-07-01T13:00:00+01:00'
    """
    if not isinstance(moment, datetime):
        moment = from_utc_s(moment)
    return moment.astimezone(zone_of(zone))


def _offset_s(zone: zoneinfo.ZoneInfo, second: int) -> int:
    offset = from_utc_s(second).astimezone(zone).utcoffset()
    if offset is None:  # pragma: no cover - a ZoneInfo always answers for a zoned moment
        raise ClockError(f"zone {zone.key} has no offset at second {second}")
    return offset.days * DAY_S + offset.seconds


@lru_cache(maxsize=512)
def _changes(zone_name: str, year: int) -> tuple[tuple[int, int], ...]:
    """Second and new offset of every clock change in a UTC year.

    The library's zones don't list their changes, so each day is sampled and a changed day halved
    down to the second. Two changes within one day that cancel would be missed; none is on record.
    """
    zone = zone_of(zone_name)
    first = day_number(date(year, 1, 1)) * DAY_S
    last = day_number(date(year + 1, 1, 1)) * DAY_S
    found = []
    before = _offset_s(zone, first)
    for day_end in range(first + DAY_S, last + 1, DAY_S):
        after = _offset_s(zone, day_end)
        if after != before:
            found.append((_second_of_change(zone, day_end - DAY_S, day_end, before), after))
        before = after
    return tuple(found)


def _second_of_change(zone: zoneinfo.ZoneInfo, low: int, high: int, before: int) -> int:
    while high - low > 1:
        middle = (low + high) // 2
        if _offset_s(zone, middle) == before:
            low = middle
        else:
            high = middle
    return high


def offset_pieces(zone: str, from_s: int, to_s: int) -> tuple[OffsetPiece, ...]:
    """Stretches of constant offset between two seconds of UTC.

    Returns
    -------
    tuple of (from second, to second, offset in seconds)
        In order, without gaps, from ``from_s`` to ``to_s``.

    Examples
    --------
    >>> march = local_to_utc("2026-03-29T00:00", "Europe/London")
    >>> [offset for _, _, offset in offset_pieces("Europe/London", utc_s(march), utc_s(march) + DAY_S)]
    [0, 3600]
    """
    at, offset = from_s, _offset_s(zone_of(zone), from_s)
    pieces = []
    for year in range(from_utc_s(from_s).year, from_utc_s(max(to_s - 1, from_s)).year + 1):
        for change, after in _changes(zone, year):
            if at < change < to_s:
                pieces.append((at, change, offset))
                at = change
            if from_s < change < to_s:
                offset = after
    pieces.append((at, to_s, offset))
    return tuple(pieces)


def standard_offset_s(zone: str, year: int) -> int:
    """Offset [s] of a meter that never moves its clock: the smallest one of the year.

    Summer time is always ahead of it. (What the zone database calls "standard" is no help:
    for Dublin it names the summer clock standard and the winter one a saving.)

    >>> standard_offset_s("Europe/Dublin", 2026), standard_offset_s("America/New_York", 2026)
    (0, -18000)
    """
    first = day_number(date(year, 1, 1)) * DAY_S
    last = day_number(date(year + 1, 1, 1)) * DAY_S
    return min(offset for _, _, offset in offset_pieces(zone, first, last))


def wall_to_utc_s(zone: str, wall_s: IntArray) -> IntArray:
    """Seconds of UTC at which a local clock shows given wall seconds, shape (n,).

    For limits such as "not before 07:00": a reading shown twice counts from its first time, one
    that is skipped from the moment of the change. What a user types goes through `local_to_utc`.

    Examples
    --------
    >>> noon = np.array([day_number(date(2026, 7, 1)) * DAY_S + 43_200])
    >>> from_utc_s(wall_to_utc_s("Europe/Dublin", noon)[0]).hour
    11
    """
    if wall_s.size == 0:
        return np.zeros(0, dtype=np.int64)
    unset = np.iinfo(np.int64).min
    result = np.full(wall_s.shape, unset, dtype=np.int64)
    low, high = int(wall_s.min()) - 2 * DAY_S, int(wall_s.max()) + 2 * DAY_S
    for from_s, to_s, offset in offset_pieces(zone, low, high):
        moment = wall_s - offset
        skipped = (result == unset) & (moment < from_s)
        result[skipped] = from_s
        shown = (result == unset) & (moment < to_s)
        result[shown] = moment[shown]
    return result


def local_to_utc(when: str | datetime, zone: str, *, what: str = "start") -> datetime:
    """Moment, in UTC, that a local time names.

    Parameters
    ----------
    when : str or datetime
        ISO text (``2026-12-05T08:30``) or a datetime. With an offset of its own (or ``Z``) it is
        taken at its word; without, it is read on the clock of ``zone``.
    zone : str
        IANA name.
    what : str
        What comes at that time, for messages.

    Raises
    ------
    ClockError
        If the text is no date with a time, if a clock change skips that local time, or if the clock
        shows it twice; the message then gives both readings.

    Examples
    --------
    >>> local_to_utc("2026-07-01T08:30", "Europe/Dublin").isoformat()
    '2026-07-01T07:30:00+00:00'
    """
    naive, known_zone = _as_datetime(when, what), zone_of(zone)
    near = naive.tzinfo is not None and FIRST_YEAR - 1 <= naive.year <= LAST_YEAR + 1
    if not FIRST_YEAR <= (naive.astimezone(known_zone) if near else naive).year <= LAST_YEAR:
        raise ClockError(f"{what} {naive.isoformat(sep=' ')}: expected a year from {FIRST_YEAR} to {LAST_YEAR}")
    if naive.tzinfo is not None:
        return naive.astimezone(UTC)
    readings = sorted({_reading(naive, known_zone, fold) for fold in (0, 1)})
    real = [moment for moment in readings if moment.astimezone(known_zone).replace(tzinfo=None) == naive]
    if len(real) == 1:
        return real[0]
    shown = naive.isoformat(sep=" ", timespec="minutes")
    if real:
        first, second = (moment.astimezone(known_zone).isoformat(timespec="minutes") for moment in real)
        raise ClockError(
            f"{what} {shown}: the clock in {zone} shows it twice, as {first} and as {second}; write one of the two"
        )
    change, before, after = _gap(naive, zone)
    raise ClockError(
        f"{what} {shown} does not exist in {zone}: the clock goes from {before} to {after} at {change}; "
        f"write a time before {before} or from {after} on"
    )


def _as_datetime(when: str | datetime, what: str) -> datetime:
    if isinstance(when, datetime):
        return when
    need(when, str, f"{what}: give a datetime, or text such as 2026-12-05T08:30")
    text = when.strip()
    if _is_a_day(text):
        raise ClockError(f"{what} {when!r} has no time of day; write it as {date.fromisoformat(text)}T08:30")
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        raise ClockError(f"{what} {when!r} is no date and time; write it as 2026-12-05T08:30") from None


def _is_a_day(text: str) -> bool:
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True


def _reading(naive: datetime, zone: zoneinfo.ZoneInfo, fold: int) -> datetime:
    return naive.replace(tzinfo=zone, fold=fold).astimezone(UTC)


def _gap(naive: datetime, zone: str) -> tuple[str, str, str]:
    """Moment of the change that skips a local time, and the clock's readings around it."""
    wall = day_number(naive.date()) * DAY_S + naive.hour * 3600 + naive.minute * 60 + naive.second
    change = int(wall_to_utc_s(zone, np.array([wall]))[0])
    offset_before = offset_pieces(zone, change - 1, change)[0][2]
    before = from_utc_s(change + offset_before).strftime("%Y-%m-%d %H:%M")
    after = to_local(change, zone).strftime("%Y-%m-%d %H:%M")
    return from_utc_s(change).strftime("%Y-%m-%d %H:%MZ"), before, after
