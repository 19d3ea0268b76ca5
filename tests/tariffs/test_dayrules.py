"""Words for days, months, dates and hours."""

from datetime import UTC, time

import pytest

from energyplan.tariffs.dayrules import (
    EVERY_DAY,
    HOLIDAY,
    clock_text,
    month_names,
    parse_clock,
    parse_dates,
    parse_days,
    parse_months,
)


@pytest.mark.parametrize(
    ("value", "days"),
    [
        ("every day", EVERY_DAY),
        ("mon-fri", {0, 1, 2, 3, 4}),
        ("fri-mon", {4, 5, 6, 0}),
        (["sat", "sun", "holiday"], {5, 6, HOLIDAY}),
        ("sat, Sunday", {5, 6}),
        ("tuesday", {1}),
    ],
)
def test_days(value: object, days: set[int]) -> None:
    """Ranges run over the end of the week; names may be long or short."""
    assert parse_days(value) == days


@pytest.mark.parametrize("value", ["funday", "", [], 5, ["mon", 3], "mo", "mon-funday"])
def test_words_that_are_no_days(value: object) -> None:
    """Each says how to write it."""
    with pytest.raises(ValueError, match="mon-fri"):
        parse_days(value)


def test_months() -> None:
    """Over new year, single, listed."""
    assert parse_months("oct-mar") == {10, 11, 12, 1, 2, 3}
    assert parse_months(["may", "June"]) == {5, 6}
    with pytest.raises(ValueError, match="no month"):
        parse_months("octember")


def test_dates() -> None:
    """Pairs of month and day, over new year, one day, several."""
    assert parse_dates("10-15 to 04-14") == ((1015, 414),)
    assert parse_dates(["02-29", "07-01 to 07-14"]) == ((229, 229), (701, 714))
    for wrong in ("13-01 to 01-02", "02-30", "15 Oct", ""):
        with pytest.raises(ValueError, match="write"):
            parse_dates(wrong)


def test_clock() -> None:
    """Text or a TOML time, to the whole minute, 24:00 included."""
    assert [parse_clock(text) for text in ("00:00", "7:05", "24:00")] == [0, 425, 1440]
    assert parse_clock(time(7, 5)) == 425
    assert clock_text(425) == "07:05"
    for wrong in ("24:01", "12:60", "noon", 7, time(7, 5, 30), time(7, 5, tzinfo=UTC)):
        with pytest.raises(ValueError, match="07:30"):
            parse_clock(wrong)


@pytest.mark.parametrize(("text", "dates"), [
    ("01-31", ((131, 131),)), ("1-1", ((101, 101),)), ("02-29", ((229, 229),)), ("04-30", ((430, 430),)),
    ("12-31 to 01-01", ((1231, 101),)), ("06-30, 11-30", ((630, 630), (1130, 1130))),
])  # fmt: skip
def test_the_last_day_of_a_month(text: str, dates: tuple) -> None:
    """Of each length; the 29th of February is one."""
    assert parse_dates(text) == dates


@pytest.mark.parametrize(
    "text", ["01-32", "02-30", "04-31", "06-31", "09-31", "11-31", "00-01", "01-00", "13-01", "12-32"]
)
def test_a_day_that_no_month_has(text: str) -> None:
    """Each is named with how to write it."""
    with pytest.raises(ValueError, match="is no month and day; write month-day"):
        parse_dates(text)


@pytest.mark.parametrize("text", ["2026-01-01", "01-01 until 01-02", "01/01", "01-01 to", "1-1-1"])
def test_what_is_no_range_of_dates(text: str) -> None:
    """The form is said."""
    with pytest.raises(ValueError, match="both included"):
        parse_dates(text)


def test_names_of_days_and_months() -> None:
    """Three letters or more, in any case; a range of one name is that one; every month has its own."""
    assert parse_days("WEDNES") == {2}
    assert parse_days("sun-sun") == {6}
    assert parse_days("Holidays") == parse_days("holiday") == {HOLIDAY}
    assert parse_days("every day, mon") == EVERY_DAY
    names = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"]
    assert [parse_months(name) for name in names] == [{number} for number in range(1, 13)]
    assert [month_names(frozenset({number})) for number in range(1, 13)] == names
    assert parse_months("dec-jan") == {12, 1}
    for wrong in ("ma", "j", "marchy"):
        with pytest.raises(ValueError, match="is no month; write"):
            parse_months(wrong)


def test_hours_at_their_ends() -> None:
    """The last minute of an hour and of a day; a fraction of a second is no whole minute."""
    assert [parse_clock(text) for text in ("0:00", "0:59", "23:59", " 12:30 ")] == [0, 59, 1439, 750]
    assert [clock_text(minute) for minute in (0, 59, 60, 1439, 1440)] == ["00:00", "00:59", "01:00", "23:59", "24:00"]
    for wrong in ("1:5", "001:00", "25:00", "24:59", "-1:00", "", None, time(1, 2, 0, 5)):
        with pytest.raises(ValueError, match='from "00:00" to "24:00"'):
            parse_clock(wrong)
