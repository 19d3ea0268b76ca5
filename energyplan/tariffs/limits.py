"""When a brew day may start: the brewer's own conditions, on the local clock."""

import math
from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from energyplan.base.records import dataclass
from energyplan.tariffs.clock import DAY_S, day_number, to_local, wall_to_utc_s
from energyplan.tariffs.dayrules import MINUTES_PER_DAY

__all__ = ["StartLimits", "allowed_starts", "minute_range"]

BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class StartLimits:
    """Conditions on a start.

    Parameters
    ----------
    earliest_min : int, optional
        Not before this time of day [minutes from midnight].
    finish_by_min : int, optional
        Done by this time of day; of the next day when it isn't after ``earliest_min``.
    not_on : frozenset of int
        Weekdays on which not to start, Monday is 0.
    attended : tuple of (from s, to s)
        Stretches of the day that need a person, in seconds since its start.
    attended_from_min, attended_to_min : int
        Hours in which somebody is there [minutes from midnight]; ``to`` not after ``from`` wraps.

    Raises
    ------
    ValueError
        If a time of day, a weekday or a stretch is out of range.
    """

    earliest_min: int | None = None
    finish_by_min: int | None = None
    not_on: frozenset[int] = frozenset()
    attended: tuple[tuple[float, float], ...] = ()
    attended_from_min: int = 0
    attended_to_min: int = MINUTES_PER_DAY

    def __post_init__(self) -> None:
        clocks = (self.earliest_min, self.finish_by_min, self.attended_from_min, self.attended_to_min)
        if any(clock is not None and not 0 <= clock <= MINUTES_PER_DAY for clock in clocks):
            raise ValueError(f"a time of day lies between 0 and {MINUTES_PER_DAY} minutes, got {clocks}")
        if not self.not_on <= frozenset(range(7)):
            raise ValueError(f"weekdays are 0 (Monday) to 6, got {sorted(self.not_on)}")
        if any(end < start for start, end in self.attended):
            raise ValueError(f"an attended stretch ends before it begins: {self.attended}")


def minute_range(first_s: int, count: int, from_s: float, to_s: float) -> slice:
    """Starts, one a minute from ``first_s``, that lie from one second to another, both included."""
    low = math.ceil((from_s - first_s) / 60)
    high = math.floor((to_s - first_s) / 60) + 1
    return slice(min(max(low, 0), count), min(max(high, 0), count))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Days:
    """Local days around the starts, and the first second of each [UTC]."""

    number: IntArray
    zone: str

    def at(self, minute: int) -> IntArray:
        """Second of UTC of a time of day, for each day."""
        return wall_to_utc_s(self.zone, self.number * DAY_S + minute * 60)


def allowed_starts(limits: StartLimits, *, first_s: int, count: int, zone: str, ends_s: float) -> BoolArray:
    """Which of the starts, one a minute, meet the conditions.

    Parameters
    ----------
    limits : StartLimits
        The conditions.
    first_s : int
        First start [s of UTC].
    count : int
        Number of starts.
    zone : str
        IANA zone of the local clock.
    ends_s : float
        End of the day, in seconds since its start.
    """
    around = [to_local(first_s - 2 * DAY_S, zone).date(), to_local(first_s + count * 60 + 3 * DAY_S, zone).date()]
    days = _Days(number=np.arange(day_number(around[0]), day_number(around[1]) + 1), zone=zone)
    allowed = np.ones(count, dtype=bool)
    if limits.earliest_min is not None or limits.finish_by_min is not None:
        allowed &= _painted(_clock_window(limits, days, ends_s), first_s, count)
    if limits.not_on:
        midnight = days.at(0)
        for day in np.flatnonzero(np.isin((days.number[:-1] + 3) % 7, sorted(limits.not_on))):
            allowed[minute_range(first_s, count, int(midnight[day]), int(midnight[day + 1]) - 1)] = False
    if (limits.attended_from_min, limits.attended_to_min) != (0, MINUTES_PER_DAY):
        opening, closing = _presence(limits, days)
        for start_s, end_s in limits.attended:
            spans = zip(opening - start_s, closing - end_s, strict=True)
            allowed &= _painted(spans, first_s, count)
    return allowed


def _painted(spans: Iterable[tuple[float, float]], first_s: int, count: int) -> BoolArray:
    mask = np.zeros(count, dtype=bool)
    for from_s, to_s in spans:
        if from_s <= to_s:
            mask[minute_range(first_s, count, float(from_s), float(to_s))] = True
    return mask


def _clock_window(limits: StartLimits, days: _Days, ends_s: float) -> Iterable[tuple[float, float]]:
    """First and last start of each day under ``earliest`` and ``finish_by``."""
    if limits.finish_by_min is None:
        next_midnight = days.at(MINUTES_PER_DAY)
        return zip(days.at(limits.earliest_min or 0), next_midnight - 1, strict=True)
    finish = days.at(limits.finish_by_min)
    if limits.earliest_min is None:
        # Nothing said about the start: the day on which it ends decides.
        return zip(days.at(0) - ends_s, finish - ends_s, strict=True)
    if limits.finish_by_min <= limits.earliest_min:
        finish = days.at(limits.finish_by_min + MINUTES_PER_DAY)
    return zip(days.at(limits.earliest_min), finish - ends_s, strict=True)


def _presence(limits: StartLimits, days: _Days) -> tuple[IntArray, IntArray]:
    wraps = limits.attended_to_min <= limits.attended_from_min
    closing = limits.attended_to_min + (MINUTES_PER_DAY if wraps else 0)
    return days.at(limits.attended_from_min), days.at(closing)
