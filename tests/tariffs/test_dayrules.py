"""Words for days, months, dates and hours."""

from datetime import UTC, time

import pytest

from energyplan.tariffs.dayrules import (
    EVERY_DAY,
    HOLIDAY,
    clock_text,
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
