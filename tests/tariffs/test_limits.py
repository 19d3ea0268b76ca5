"""Conditions on a start, against a reading of the local clock start by start."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from energyplan.tariffs.clock import utc_s
from energyplan.tariffs.startcosts import StartLimits, allowed_starts, minute_range

FIRST = datetime(2026, 10, 23, 0, 0, tzinfo=UTC)
COUNT = 4 * 1440  # over the change of 25 October


def by_reading(limits: StartLimits, ends_s: float, zone: str) -> list[bool]:
    """The limits, told anew for each start; only for days without an hour shown twice."""
    found = []
    for number in range(COUNT):
        start = FIRST + timedelta(minutes=number)
        local = start.astimezone(ZoneInfo(zone))
        end = (start + timedelta(seconds=ends_s)).astimezone(ZoneInfo(zone))
        midnight = local.replace(hour=0, minute=0)
        ok = local.weekday() not in limits.not_on
        if limits.earliest_min is not None:
            ok &= local.hour * 60 + local.minute >= limits.earliest_min
        if limits.finish_by_min is not None:
            deadline = midnight + timedelta(minutes=limits.finish_by_min)
            if limits.earliest_min is None:
                deadline = end.replace(hour=0, minute=0, second=0, microsecond=0) + timedelta(
                    minutes=limits.finish_by_min
                )
            ok &= end.replace(tzinfo=None) <= deadline.replace(tzinfo=None)
        for from_s, to_s in limits.attended:
            one, other = ((start + timedelta(seconds=s)).astimezone(ZoneInfo(zone)) for s in (from_s, to_s))
            opens = one.replace(hour=0, minute=0, second=0, microsecond=0, tzinfo=None)
            ok &= one.replace(tzinfo=None) >= opens + timedelta(minutes=limits.attended_from_min)
            ok &= other.replace(tzinfo=None) <= opens + timedelta(minutes=limits.attended_to_min)
        found.append(bool(ok))
    return found


@settings(max_examples=25, deadline=None)
@given(
    st.none() | st.integers(240, 1000),
    st.none() | st.integers(1001, 1440),
    st.frozensets(st.integers(0, 6), max_size=4),
    st.lists(st.tuples(st.integers(0, 7200), st.integers(7200, 14_400)), max_size=2),
    st.integers(300, 18_000),
)
def test_limits_as_a_reader_of_the_clock_finds_them(earliest, finish, not_on, attended, ends_s: int) -> None:
    """Every minute of four days; the hours compared don't touch the one that the clock shows twice."""
    limits = StartLimits(
        earliest_min=earliest,
        finish_by_min=finish,
        not_on=not_on,
        attended=tuple(attended),
        attended_from_min=420,
        attended_to_min=1320,
    )
    zone = "Europe/London"
    found = allowed_starts(limits, first_s=utc_s(FIRST), count=COUNT, zone=zone, ends_s=ends_s)
    expected = np.array(by_reading(limits, ends_s, zone))
    moments = np.arange(COUNT)
    turn = (utc_s(datetime(2026, 10, 25, tzinfo=UTC)) - utc_s(FIRST)) // 60
    # Without a window in the day, ends and attended hours may fall into the hour shown twice.
    clear = (moments + ends_s // 60 < turn) | (moments > turn + 120)
    assert (found == expected)[clear].all()


def test_finish_by_next_morning() -> None:
    """Not before 20:00, done by 06:00: the night between is meant, starts after midnight included."""
    limits = StartLimits(earliest_min=1200, finish_by_min=360)
    first = datetime(2026, 1, 10, 0, 0, tzinfo=UTC)
    allowed = allowed_starts(limits, first_s=utc_s(first), count=2880, zone="Europe/London", ends_s=3 * 3600.0)
    runs = np.flatnonzero(np.diff(allowed.astype(int), prepend=0, append=0))
    assert runs.tolist() == [0, 181, 1200, 1440 + 181, 2640, 2880]


def test_somebody_there_over_midnight() -> None:
    """Attended hours may wrap."""
    limits = StartLimits(attended=((0.0, 3600.0),), attended_from_min=1320, attended_to_min=120)
    first = datetime(2026, 1, 10, 12, 0, tzinfo=UTC)
    allowed = allowed_starts(limits, first_s=utc_s(first), count=1440, zone="Europe/London", ends_s=7200.0)
    assert np.flatnonzero(allowed)[[0, -1]].tolist() == [600, 600 + 180]


def test_no_limits_allow_all() -> None:
    """The default says yes to everything."""
    assert allowed_starts(StartLimits(), first_s=0, count=100, zone="Europe/London", ends_s=60.0).all()


def test_ranges_are_clipped() -> None:
    """Starts outside the range are no starts."""
    assert minute_range(0, 10, -500.0, 61.0) == slice(0, 2)
    assert minute_range(0, 10, 599.0, 9999.0) == slice(10, 10)


@pytest.mark.parametrize(
    "given_limits",
    [{"earliest_min": 1441}, {"not_on": frozenset({7})}, {"attended": ((5.0, 1.0),)}],
)
def test_limits_out_of_range(given_limits: dict) -> None:
    """Told at once."""
    with pytest.raises(ValueError, match=r"time of day|weekdays|attended"):
        StartLimits(**given_limits)
