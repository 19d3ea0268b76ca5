"""Local clocks and UTC, against the standard library's own conversions."""
# ruff: noqa: DTZ001 - times on the wall have no zone, on purpose

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from energyplan.base.errors import ClockError
from energyplan.tariffs.clock import (
    DAY_S,
    day_number,
    from_utc_s,
    local_to_utc,
    number_to_day,
    offset_pieces,
    standard_offset_s,
    to_local,
    utc_s,
    wall_to_utc_s,
    zone_of,
)

ZONES = ("Europe/London", "Europe/Dublin", "Australia/Lord_Howe", "America/Santiago", "Pacific/Apia", "Asia/Kathmandu")


@given(st.sampled_from(ZONES), st.datetimes(datetime(2010, 1, 1), datetime(2037, 1, 1)))
def test_pieces_carry_the_offset_that_the_library_gives(zone: str, naive: datetime) -> None:
    """At any moment the piece's offset is the one of the zone database."""
    second = utc_s(naive.replace(microsecond=0, tzinfo=UTC))
    pieces = offset_pieces(zone, second - 200 * DAY_S, second + 200 * DAY_S)
    offset = next(offset for start, end, offset in pieces if start <= second < end)
    known = from_utc_s(second).astimezone(ZoneInfo(zone)).utcoffset()
    assert known == timedelta(seconds=offset)


def test_pieces_join_without_gap() -> None:
    """Pieces cover the range end to end, two changes in a London year."""
    first, last = (day_number(date(year, 1, 1)) * DAY_S for year in (2026, 2027))
    pieces = offset_pieces("Europe/London", first, last)
    assert [offset for _, _, offset in pieces] == [0, 3600, 0]
    assert pieces[0][0] == first
    assert pieces[-1][1] == last
    assert all(a[1] == b[0] for a, b in pairwise(pieces))


@given(st.sampled_from(ZONES), st.datetimes(datetime(2011, 6, 1), datetime(2030, 1, 1)))
def test_a_typed_time_comes_back_as_typed(zone: str, naive: datetime) -> None:
    """Whatever is accepted reads the same on the local clock; the rest is refused."""
    naive = naive.replace(second=0, microsecond=0)
    try:
        moment = local_to_utc(naive, zone)
    except ClockError:
        readings = {naive.replace(tzinfo=ZoneInfo(zone), fold=fold).utcoffset() for fold in (0, 1)}
        assert len(readings) == 2
    else:
        assert moment.astimezone(ZoneInfo(zone)).replace(tzinfo=None) == naive


def test_a_time_shown_twice_names_both_readings() -> None:
    """01:30 on 2026-10-25 in London is 00:30Z and 01:30Z."""
    with pytest.raises(ClockError, match=r"01:30\+01:00 and as 2026-10-25T01:30\+00:00"):
        local_to_utc("2026-10-25T01:30", "Europe/London")


def test_a_skipped_time_names_the_gap() -> None:
    """01:30 on 2026-03-29 does not exist in London: 01:00 becomes 02:00."""
    with pytest.raises(ClockError, match=r"from 2026-03-29 01:00 to 2026-03-29 02:00"):
        local_to_utc("2026-03-29T01:30", "Europe/London")


def test_a_whole_skipped_day_is_named() -> None:
    """Samoa skipped 30 December 2011 altogether."""
    with pytest.raises(ClockError, match="from 2011-12-30 00:00 to 2011-12-31 00:00"):
        local_to_utc("2011-12-30T10:00", "Pacific/Apia")


def test_an_offset_in_the_text_is_taken_at_its_word() -> None:
    """With an offset of its own an ambiguous time is clear."""
    assert local_to_utc("2026-10-25T01:30+00:00", "Europe/London") == datetime(2026, 10, 25, 1, 30, tzinfo=UTC)
    assert local_to_utc("2026-10-25T01:30Z", "Asia/Tokyo") == datetime(2026, 10, 25, 1, 30, tzinfo=UTC)


def test_a_text_that_is_no_time_is_refused() -> None:
    """A clear sentence, no traceback of the library's."""
    with pytest.raises(ClockError, match="no date and time"):
        local_to_utc("next Saturday", "Europe/London")


def test_years_far_away_are_refused() -> None:
    """Before Python's calendar would overflow."""
    with pytest.raises(ClockError, match="from 1970 to 2200"):
        local_to_utc("0001-01-01T00:00", "Europe/London")


def test_an_unknown_zone_offers_the_nearest() -> None:
    """A slip of the pen in a zone's name."""
    with pytest.raises(ClockError, match="'Europe/Dublin'"):
        zone_of("Europe/Dubln")
    with pytest.raises(ClockError, match="IANA"):
        zone_of("///")


def test_seconds_need_a_zone_and_no_fraction() -> None:
    """A naive datetime is never guessed at."""
    with pytest.raises(ClockError, match="no zone"):
        utc_s(datetime(2026, 1, 1))
    with pytest.raises(ClockError, match="fraction"):
        utc_s(datetime(2026, 1, 1, microsecond=5, tzinfo=UTC))


def test_the_clock_of_a_meter_that_never_moves() -> None:
    """Dublin's winter clock is GMT although the zone database calls it the saving one."""
    assert standard_offset_s("Europe/Dublin", 2026) == 0
    assert standard_offset_s("Australia/Lord_Howe", 2026) == 10.5 * 3600


def test_wall_seconds_of_every_kind() -> None:
    """Skipped readings count from the change, readings shown twice from the first time."""
    wall = [datetime(2026, 3, 29, 1, 30), datetime(2026, 10, 25, 1, 30), datetime(2026, 7, 1, 12)]
    seconds = np.array([utc_s(moment.replace(tzinfo=UTC)) for moment in wall])
    found = [from_utc_s(second).isoformat() for second in wall_to_utc_s("Europe/London", seconds)]
    assert found == ["2026-03-29T01:00:00+00:00", "2026-10-25T00:30:00+00:00", "2026-07-01T11:00:00+00:00"]
    assert wall_to_utc_s("Europe/London", np.zeros(0, dtype=np.int64)).size == 0


def test_days_count_from_the_epoch() -> None:
    """Both ways, and a moment may be given as seconds."""
    assert number_to_day(day_number(date(2028, 2, 29))) == date(2028, 2, 29)
    assert to_local(0, "Europe/London").hour == 1  # British Standard Time, 1968 to 1971


@pytest.mark.parametrize("text", ["2026-12-05", "20261205", "2026-W49-6"])
def test_a_day_without_a_time_is_no_midnight(text: str) -> None:
    """It is refused, and what comes at that time is named."""
    with pytest.raises(ClockError, match=r"finish .* has no time of day; write it as 2026-12-05T08:30"):
        local_to_utc(text, "Europe/Dublin", what="finish")


def test_what_comes_at_a_refused_time_is_named() -> None:
    """Skipped, shown twice, far away, no time at all."""
    for text in ("2026-03-29T01:30", "2026-10-25T01:30", "1066-10-14T09:00", "soon"):
        with pytest.raises(ClockError, match=r"^boil "):
            local_to_utc(text, "Europe/Dublin", what="boil")


@pytest.mark.parametrize(
    ("local", "zone"), [("1970-01-01T00:00", "Europe/Dublin"), ("2200-12-31T23:30", "America/Chicago")]
)
def test_the_years_are_those_of_the_clock_on_the_wall(local: str, zone: str) -> None:
    """A moment of UTC a year outside is inside by its local time, however often it is read."""
    moment = local_to_utc(local, zone)
    assert not 1970 <= moment.year <= 2200
    assert local_to_utc(moment, zone) == moment
    with pytest.raises(ClockError, match="expected a year from 1970 to 2200"):
        local_to_utc(moment, "UTC")


@pytest.mark.parametrize(("zone", "offset_h"), [
    ("Europe/Vienna", 1), ("America/New_York", -5), ("Africa/Casablanca", 0), ("Asia/Kathmandu", 5.75), ("UTC", 0),
])  # fmt: skip
def test_standard_time_is_the_year_s_smallest_offset(zone: str, offset_h: float) -> None:
    """Casablanca's clock goes back for Ramadan alone; the others' winter is their standard (IANA database)."""
    assert standard_offset_s(zone, 2026) == offset_h * 3600


def test_pieces_end_where_they_are_asked_to() -> None:
    """A change at the very first or last second makes no piece of its own; a second inside it does."""
    change = utc_s(datetime(2026, 3, 29, 1, tzinfo=UTC))
    for from_s, to_s, offsets in (
        (change - 60, change, [0]), (change, change + 60, [3600]), (change - 1, change + 1, [0, 3600]),
    ):  # fmt: skip
        pieces = offset_pieces("Europe/London", from_s, to_s)
        assert ([offset for _, _, offset in pieces], pieces[0][0], pieces[-1][1]) == (offsets, from_s, to_s)
    years = offset_pieces(
        "Europe/London", utc_s(datetime(2025, 12, 1, tzinfo=UTC)), utc_s(datetime(2027, 1, 2, tzinfo=UTC))
    )
    assert len(years) == 3


@pytest.mark.parametrize(("year", "refused"), [(1969, True), (1970, False), (2200, False), (2201, True)])
def test_the_first_and_the_last_year(year: int, *, refused: bool) -> None:
    """On a local clock and with an offset alike."""
    for text in (f"{year}-06-01T12:00", f"{year}-06-01T12:00+00:00"):
        if refused:
            with pytest.raises(ClockError, match=rf"start {year}-06-01 12:00:00.*: expected a year from 1970 to 2200"):
                local_to_utc(text, "Europe/Dublin")
        else:
            assert local_to_utc(text, "Europe/Dublin").year == year


def test_the_gap_of_a_clock_change_is_told_in_full() -> None:
    """When it is, what the clock shows before and after, and what to write."""
    with pytest.raises(ClockError) as caught:
        local_to_utc("2026-10-04T02:15", "Australia/Lord_Howe", what="mash")
    before, after = "2026-10-04 02:00", "2026-10-04 02:30"
    assert str(caught.value) == (
        f"mash 2026-10-04 02:15 does not exist in Australia/Lord_Howe: the clock goes from {before} to {after} at "
        f"2026-10-03 15:30Z; write a time before {before} or from {after} on"
    )


def test_a_second_of_an_offset_west_of_greenwich() -> None:
    """Before 1970 too; moments of any zone are the same second."""
    assert utc_s(datetime(1969, 12, 31, 23, 59, 1, tzinfo=UTC)) == -59
    assert utc_s(datetime(1970, 1, 1, 5, tzinfo=ZoneInfo("Asia/Karachi"))) == 0
    assert from_utc_s(-59) == datetime(1969, 12, 31, 23, 59, 1, tzinfo=UTC)
    assert to_local(datetime(2026, 7, 1, 12, tzinfo=UTC), "America/New_York").hour == 8
