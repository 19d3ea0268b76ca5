"""Cells of lists as people write them: each way of writing a time or a number, read as its writer meant it."""

# ruff: noqa: DTZ001 - times on the wall have no zone, on purpose
from datetime import UTC, datetime
from decimal import Decimal

import pytest

from energyplan.base.errors import TariffError
from energyplan.tariffs.listcells import (
    bare_number,
    changes_s,
    halves,
    has_clock,
    is_stamp,
    length_min,
    midnight_s,
    number_of,
    table_of,
    written_time,
)
from energyplan.tariffs.pricelist import ListHints, read_price_list

ZONE = "Europe/Vienna"
AFTERNOON = datetime(2026, 3, 4, 14, 30)


@pytest.mark.parametrize(("cell", "order"), [
    ("2026-03-04T14:30", "day first"), ("2026-03-04 14:30:00", "month first"), ("2026/03/04, 14:30:59.9", "day first"),
    ("4.3.2026 14:30", "day first"), ("04.03.26 14:30", "day first"), ("3/4/26 2:30 PM", "month first"),
    ("03-04-2026 02:30pm", "month first"), ("04/03/2026 14h30", "day first"), ("20260304T1430", "day first"),
    ("20260304 14:30:15", "day first"), ("04.03.2026 14:30 (CET)", "day first"), ("04.03.2026 14:30 CEST", "day first"),
])  # fmt: skip
def test_a_time_on_the_clock(cell: str, order: str) -> None:
    """Half past two on 4 March 2026, without an offset: whose clock that is, is another question."""
    found = written_time(cell, order)
    assert (found.naive, found.zone, found.moment) == (AFTERNOON, "", AFTERNOON)
    assert is_stamp(cell)
    assert has_clock(cell)


@pytest.mark.parametrize("cell", [
    "2026-03-04T14:30Z", "2026-03-04T15:30+01:00", "2026-03-04 20:15+0545", "2026-03-04T11:00-03:30", "20260304T1430Z",
    "20260304T15:30:00+01:00", "1772634600", "1772634600000",
])  # fmt: skip
def test_a_time_with_its_offset(cell: str) -> None:
    """One moment of UTC; since 1970 in seconds and in thousandths of them."""
    assert written_time(cell, "day first").moment == AFTERNOON.replace(tzinfo=UTC)
    assert is_stamp(cell)
    assert has_clock(cell)


@pytest.mark.parametrize(("cell", "clock"), [
    ("2026-03-04 12:00 AM", "2026-03-04T00:00"), ("2026-03-04 12:05 pm", "2026-03-04T12:05"),
    ("2026-03-04 11:05 PM", "2026-03-04T23:05"), ("2026-03-04 24:00", "2026-03-05T00:00"),
    ("20261231T24:00", "2027-01-01T00:00"), ("31.12.2026", "2026-12-31T00:00"), ("1.2.1999 01:00", "1999-02-01T01:00"),
])  # fmt: skip
def test_noon_midnight_and_the_end_of_a_day(cell: str, clock: str) -> None:
    """Twelve at night is the day's begin, 24:00 its end, a date alone its midnight."""
    assert written_time(cell, "day first").naive.isoformat(timespec="minutes") == clock


@pytest.mark.parametrize("cell", ["", "12.50", "hello", "14:30", "2772634600", "177263460", "2026-03", "-5"])
def test_what_is_no_date(cell: str) -> None:
    """Prices, clocks without a date, numbers that are no seconds since 1970."""
    assert not is_stamp(cell)
    assert not has_clock(cell)
    with pytest.raises(ValueError, match="is no date and time"):
        written_time(cell, "day first")


@pytest.mark.parametrize(("cell", "ends"), [
    ("01.03.2026 14:00 - 15:00", "01/03/2026 15:00"), ("01.03.2026 14:00–15:00", "01/03/2026 15:00"),
    ("01.03.2026 14:00 to 15:00", "01/03/2026 15:00"), ("01.03.2026 14:00 until 01.03.2026 15:00", "01.03.2026 15:00"),
    ("01.03.2026 23:00 - 02.03.2026 00:00", "02.03.2026 00:00"),
])  # fmt: skip
def test_a_stretch_in_one_cell(cell: str, ends: str) -> None:
    """Its end has a date of its own, or that of the beginning."""
    begin, end = halves(cell)
    assert (begin.strip(), end) == (cell[:16], ends)
    with pytest.raises(ValueError, match="no stretch of time"):
        halves("from two to three")


@pytest.mark.parametrize(("stretches", "minutes"), [
    (["14:00 15:00"], 60), (["23:00 00:00"], 60), (["00:00 00:00"], 1440), (["14:00 14:59"], 60), (["14:00 14:14"], 15),
    (["14:00 14:15", "14:15 14:30", "14:30 15:30"], 15), (["14:00 14:04"], 5), (["14:00 14:10"], 10),
])  # fmt: skip
def test_how_long_most_steps_last(stretches: list[str], minutes: int) -> None:
    """Over midnight too; one that is written to its last minute lasts that minute as well."""
    begins, ends = ([written_time(f"2026-03-01 {one.split()[k]}", "day first") for one in stretches] for k in (0, 1))
    assert length_min(begins, ends) == minutes


@pytest.mark.parametrize(("cell", "bare", "number"), [
    ("12.5", "12.5", "12.5"), ("12,5 ct", "12,5", "12.5"), ("EUR -5,20", "-5,20", "-5.20"), ("+7", "+7", "7"),
    ("1 234,56", "1234,56", "1234.56"), ("1\u00a0234.5", "1234.5", "1234.5"), ("1.234,5 EUR/MWh", "1.234,5", "1234.5"),
    ("1,234.5", "1,234.5", "1234.5"), ("1'234.5", "1234.5", "1234.5"), ("\u20133", "-3", "-3"), ("1e3", "1e3", "1000"),
    ("1,234,56.7", "1,234,56.7", "123456.7"),
])  # fmt: skip
def test_a_number_as_it_is_written(cell: str, bare: str, number: str) -> None:
    """Thousands apart, a unit before or behind, a comma or a point, any kind of minus."""
    assert bare_number(cell) == bare
    assert number_of(bare) == Decimal(number)


@pytest.mark.parametrize("cell", ["", "-", " N/A", "na", "NaN", "null", "None "])
def test_nothing_is_no_number(cell: str) -> None:
    """However it is said that there is none."""
    assert bare_number(cell) == ""


@pytest.mark.parametrize("delimiter", [";", "\t", ",", "|"])
def test_a_table_of_any_separator(delimiter: str) -> None:
    """What stands above it is kept apart; empty lines and a byte-order mark are nothing; a header may be missing."""
    rows = [["when", "EUR/MWh"], ["2026-03-01 00:00", "1"], ["2026-03-01 01:00", "2"]]
    text = "\ufeffA list of the market\n\n" + "\n".join(delimiter.join(row) for row in rows) + "\n\n"
    assert table_of(text) == (rows[0], rows[1:], "A list of the market")
    bare = "\n".join(delimiter.join(row) for row in rows[1:])
    assert table_of(bare) == (["column 1", "column 2"], rows[1:], "")


@pytest.mark.parametrize(("lines", "found"), [(40, True), (41, False)])
def test_forty_lines_may_stand_above_a_table(lines: int, *, found: bool) -> None:
    """More explanation than that is no list of prices."""
    rows = "".join(f"2026-03-01 {hour:02d}:00;{hour}\n" for hour in range(24)) * 3
    text = "one; two; three words\n" * lines + "when;EUR/MWh\n" + rows
    if found:
        assert len(table_of(text)[1]) == 72
    else:
        with pytest.raises(ValueError, match="no columns with a time"):
            table_of(text)


def test_days_of_a_zone_and_its_changes() -> None:
    """Midnight of Vienna is 23:00 UTC in winter and 22:00 in summer; two changes in a year, none in a week of June."""
    noon = datetime(2026, 3, 28, 12)
    hours = [(midnight_s(noon, day + 1, ZONE) - midnight_s(noon, day, ZONE)) // 3600 for day in range(3)]
    assert hours == [24, 23, 24]
    year = [int(datetime(2026, 1, 1, tzinfo=UTC).timestamp()), int(datetime(2026, 12, 31, tzinfo=UTC).timestamp())]
    assert [datetime.fromtimestamp(second, UTC).isoformat()[:13] for second in changes_s(year, ZONE)] == [
        "2026-03-29T01", "2026-10-25T01",
    ]  # fmt: skip
    june = [int(datetime(2026, 6, day, tzinfo=UTC).timestamp()) for day in (1, 8)]
    assert changes_s(june, ZONE) == []


# --- how a list is taken where it does not say it ---
def read(text: str, **hints):
    """A list of Vienna."""
    return read_price_list(text, zone=ZONE, hints=ListHints(**hints))


def hourly(header: str, clocks: list[str], day: str = "2026-03-01") -> str:
    """A list with a row for each clock."""
    return "\n".join([header, *(f"{day} {clock};{number}" for number, clock in enumerate(clocks))])


@pytest.mark.parametrize(("header", "clocks", "stamp"), [
    ("when;EUR/MWh", ["00:00", "01:00", "02:00"], "start"),
    ("end;EUR/MWh", ["01:00", "02:00", "03:00"], "end"),
    ("until;EUR/MWh", ["01:00", "02:00", "03:00"], "end"),
    ("start to end;EUR/MWh", ["01:00", "02:00", "03:00"], "start"),
    ("when;EUR/MWh", ["22:00", "23:00", "24:00"], "end"),
    ("when;EUR/MWh", ["23:00", "24:00"], "start"),  # two rows tell nothing
    ("when;EUR/MWh", ["22:00", "23:00", "23:30"], "start"),
])  # fmt: skip
def test_whether_a_stamp_begins_or_ends_its_step(header: str, clocks: list[str], stamp: str) -> None:
    """By the word above it, or by a list that ends at midnight and did not begin there."""
    found = read(hourly(header, clocks))
    assert found.reading.stamp == stamp
    begins = datetime.fromtimestamp(found.start_s[0], UTC)
    hour = int(clocks[0][:2]) - 1 - (stamp == "end")  # Vienna is an hour ahead in March
    assert begins == datetime(2026, 2, 28, 23, tzinfo=UTC) if hour < 0 else begins.hour == hour


@pytest.mark.parametrize(("above", "header", "unit"), [
    ("", "when;price [ct/kWh]", "ct/kWh"), ("All prices in EUR per MWh", "when;price", "EUR/MWh"),
    ("", "when (EUR/MWh);price", "EUR/MWh"), ("all in EUR/MWh", "when;p/kWh", "p/kWh"),
])  # fmt: skip
def test_where_the_unit_stands(above: str, header: str, unit: str) -> None:
    """Beside the price before anywhere else."""
    text = hourly(header, ["00:00", "01:00"])
    assert read(f"{above}\n{text}" if above else text).reading.unit == unit


@pytest.mark.parametrize(("above", "stamps", "clock"), [
    ("", "2026-06-01T{:02d}:00Z", "utc"), ("", "2026-06-01T{:02d}:00+02:00", "offset in file"),
    ("", "2026-06-01T{:02d}:00", "local"), ("times in UTC", "2026-06-01T{:02d}:00", "utc"),
    ("times in GMT", "2026-06-01T{:02d}:00", "utc"), ("prices of the UTCX", "2026-06-01T{:02d}:00", "local"),
])  # fmt: skip
def test_whose_clock_it_is(above: str, stamps: str, clock: str) -> None:
    """By the stamps themselves, by a word above them, else that of the place (two hours ahead in June)."""
    rows = "\n".join(f"{stamps.format(hour)};{hour}" for hour in (8, 9))
    found = read((above + "\n" if above else "") + "when;EUR/MWh\n" + rows)
    assert found.reading.clock == clock
    assert datetime.fromtimestamp(found.start_s[0], UTC).hour == (8 if clock == "utc" else 6)


@pytest.mark.parametrize(("first", "numbers"), [(0, range(24)), (1, range(1, 25))])
def test_hours_by_their_number(first: int, numbers: range) -> None:
    """From 0 or from 1; the first hour of a day is that from midnight."""
    text = "day;hour;EUR/MWh\n" + "\n".join(f"2026-03-01;{number};{number}" for number in numbers)
    found = read(text)
    assert datetime.fromtimestamp(found.start_s[0], UTC) == datetime(2026, 2, 28, 23, tzinfo=UTC)
    assert (found.numbers[0], len(found.numbers), found.reading.step_min) == (first, 24, 60)


def test_the_second_column_of_numbers_is_the_price_where_the_first_never_changes() -> None:
    """A fee of 5.0 in each row is none; a column that says price goes before one that does not."""
    fee = "when;fee;sold\n" + "".join(f"2026-03-01 0{hour}:00;5.0;{hour}\n" for hour in range(3))
    assert read(fee, unit="EUR/MWh").reading.price_column == "sold"
    named = "when;volume;Preis\n" + "".join(f"2026-03-01 0{hour}:00;{9 - hour};{hour}\n" for hour in range(3))
    assert read(named, unit="EUR/MWh").reading.price_column == "Preis"
    with pytest.raises(TariffError, match="no column 'cost'; the header has when, volume, Preis"):
        read(named, unit="EUR/MWh", price_column="cost")


@pytest.mark.parametrize(("days", "order"), [
    (["13.02.2026", "14.02.2026"], "day first"), (["02.13.2026", "02.14.2026"], "month first"),
    (["05.02.2026", "06.02.2026"], "day first"), (["02.05.2026", "02.06.2026"], "month first"),
    (["2026-02-05", "2026-02-06"], "year first"), (["02.02.2026", "02.02.2026"], "day first"),
])  # fmt: skip
def test_the_order_of_day_and_month(days: list[str], order: str) -> None:
    """A number above twelve is a day; else the one that goes on is; else days come first."""
    text = "when;EUR/MWh\n" + "".join(f"{day} {hour:02d}:00;{hour}\n" for hour, day in enumerate(days))
    assert read(text).reading.order == order


def test_what_stands_in_the_file_we_keep() -> None:
    """UTC, a row a step, prices as they were written; a step left out is one hole."""
    found = read(hourly("when;EUR/MWh", ["00:00", "01:00", "02:00", "05:00"]))
    assert found.csv_text() == (
        "start,price\n2026-02-28T23:00Z,0\n2026-03-01T00:00Z,1\n2026-03-01T01:00Z,2\n2026-03-01T04:00Z,3\n"
    )
    assert found.holes == 1
    assert found.reading.time_columns == ("when",)


def test_rows_an_hour_apart_are_taken_evenly_where_the_clock_around_a_change_is_off() -> None:
    """On 29 March 2026 no clock of Vienna shows 02:00: a list that has it for 03:00 is a row an hour all the same.

    Where the rows do not go on evenly, the one that does not exist is named.
    """
    clocks = ["00:00", "01:00", "02:00", "04:00", "05:00"]
    found = read(hourly("when;EUR/MWh", clocks, "2026-03-29"))
    first = int(datetime(2026, 3, 28, 23, tzinfo=UTC).timestamp())
    assert list(found.start_s) == [first + 3600 * hour for hour in range(5)]
    with pytest.raises(TariffError, match="line 4: 2026-03-29 02:00:00 does not exist in Europe/Vienna"):
        read(hourly("when;EUR/MWh", ["00:00", "01:00", "02:00", "08:00", "09:00"], "2026-03-29"))
