"""Series of prices, carbon and power, as files really come."""

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from energyplan.base.errors import TariffError
from energyplan.tariffs.clock import from_utc_s, local_to_utc, utc_s
from energyplan.tariffs.costs import price
from energyplan.tariffs.priceline import price_line
from energyplan.tariffs.series import Series

TABLE = '[tariff.prices]\nfile = "p.csv"\nstep_minutes = {step}\n'


def stamps_of(day: date, zone: str, step_min: int, *, local: bool) -> list[str]:
    """Stamps of all steps of a local day."""
    now = local_to_utc(datetime.combine(day, datetime.min.time()), zone)
    end = local_to_utc(datetime.combine(day + timedelta(days=1), datetime.min.time()), zone)
    found = []
    while now < end:
        shown = now.astimezone(ZoneInfo(zone)) if local else now
        found.append(shown.strftime("%Y-%m-%dT%H:%M"))
        now += timedelta(minutes=step_min)
    return found


def csv_of(stamps: list[str], prices: list[float] | None = None) -> str:
    """A plain CSV of stamps and prices (by default 0.001, 0.002 and so on)."""
    values = prices or [(number + 1) / 1000 for number in range(len(stamps))]
    return "start,price\n" + "".join(f"{stamp},{value}\n" for stamp, value in zip(stamps, values, strict=True))


def read(tariff_of, text: str, extra: str = "", step: int = 30, **given) -> Series:
    """The price series of a tariff."""
    body = TABLE.format(step=step) + extra
    return tariff_of(body, series_texts={"p.csv": text}, **given).series["prices"]


@pytest.mark.parametrize(
    ("day", "zone", "rows"),
    [
        (date(2026, 10, 25), "Europe/London", 50),
        (date(2026, 3, 29), "Europe/London", 46),
        (date(2026, 4, 5), "Australia/Lord_Howe", 49),
        (date(2026, 10, 4), "Australia/Lord_Howe", 47),
        (date(2026, 6, 1), "Europe/London", 48),
    ],
)
def test_local_rows_on_days_of_change(tariff_of, day: date, zone: str, rows: int) -> None:
    """A day of 25, 23, 24.5, 23.5 and 24 hours, in local stamps: every half hour in its place."""
    stamps = stamps_of(day, zone, 30, local=True)
    assert len(stamps) == rows
    series = read(tariff_of, csv_of(stamps), 'clock = "local"\n', zone=zone)
    first = utc_s(local_to_utc(datetime.combine(day, datetime.min.time()), zone))
    assert series.start_s.tolist() == [first + 1800 * number for number in range(rows)]


def test_48_rows_on_a_day_of_25_hours(tariff_of) -> None:
    """An hour that happens twice but stands once is not guessed at."""
    stamps = [f"2026-10-25T{number // 2:02d}:{number % 2 * 30:02d}" for number in range(48)]
    with pytest.raises(TariffError, match=r"2026-10-25 01:00:00 happens twice in Europe/London \(00:00Z and 01:00Z\)"):
        read(tariff_of, csv_of(stamps), 'clock = "local"\n')


def test_48_rows_on_a_day_of_23_hours(tariff_of) -> None:
    """A row in the hour that the clock skips is refused."""
    stamps = [f"2026-03-29T{number // 2:02d}:{number % 2 * 30:02d}" for number in range(48)]
    with pytest.raises(TariffError, match="line 4: 2026-03-29 01:00:00 does not exist"):
        read(tariff_of, csv_of(stamps), 'clock = "local"\n')


def test_offsets_in_the_file(tariff_of) -> None:
    """Each stamp has its own offset; the hour shown twice is clear."""
    stamps = ["2026-10-25T01:30+01:00", "2026-10-25T01:00+00:00"]
    series = read(tariff_of, csv_of(stamps), 'clock = "offset in file"\n')
    assert [from_utc_s(second).hour * 60 + from_utc_s(second).minute for second in series.start_s] == [30, 60]


@pytest.mark.parametrize("clock", ["utc", "local"])
def test_end_stamps_are_the_step_before(tariff_of, load_of, clock: str) -> None:
    """The same prices stamped at their end give the same series, in summer and in winter."""
    for day in (date(2026, 1, 15), date(2026, 7, 15)):
        starts = stamps_of(day, "Europe/London", 30, local=clock == "local")
        ends = [(datetime.fromisoformat(stamp) + timedelta(minutes=30)).strftime("%Y-%m-%dT%H:%M") for stamp in starts]
        given = f'clock = "{clock}"\n'
        one = read(tariff_of, csv_of(starts), given)
        other = read(tariff_of, csv_of(ends), given + 'stamp = "end"\n')
        assert one.start_s.tolist() == other.start_s.tolist()
        assert one.values.tolist() == other.values.tolist()


def test_a_file_from_a_spreadsheet(tariff_of) -> None:
    """Byte-order mark, semicolons, decimal commas, EUR/MWh, day first, empty last line, spaces."""
    text = "\ufeffstart; price\r\n01.02.2026 00:00; 87,31\r\n01.02.2026 01:00;-5\r\n;\r\n\r\n"
    extra = 'time_format = "%d.%m.%Y %H:%M"\nunit = "EUR/MWh"\n'
    series = read(tariff_of, text, extra, step=60, currency="EUR", unit="ct/kWh")
    assert series.values.tolist() == [87_310_000, -5_000_000]
    assert from_utc_s(int(series.start_s[0])) == datetime(2026, 2, 1, tzinfo=UTC)


def test_columns_by_name_and_tabs(tariff_of) -> None:
    """Other columns are left alone; the names are the brewer's choice."""
    text = "zone\tfrom\tgbp\nx\t2026-01-01 00:00\t0.1\nx\t2026-01-01 00:15\t0.2\n"
    series = read(tariff_of, text, 'time_column = "from"\nprice_column = "gbp"\n', step=15)
    assert series.values.tolist() == [100_000_000, 200_000_000]


def test_quarter_hours_billed_by_the_hour(tariff_of) -> None:
    """The hour's price is the mean of its quarters; an hour with a quarter missing is a hole."""
    stamps = [f"2026-01-01T{number // 4:02d}:{number % 4 * 15:02d}" for number in range(11)]
    prices = [0.1, 0.2, 0.3, 0.4, 0.5, 0.5, 0.5, 0.9, 1, 1, 1]
    series = read(tariff_of, csv_of(stamps, prices), "billed_minutes = 60\n", step=15)
    assert series.values.tolist() == [250_000_000, 600_000_000]
    assert series.step_s == 3600
    same = read(tariff_of, csv_of(stamps, prices), "billed_minutes = 15\n", step=15)
    assert same.values.size == 11


@pytest.mark.parametrize(
    ("text", "extra", "expected"),
    [
        ("start,cost\n2026-01-01T00:00,1\n", "", "no column 'price'; the header has start, cost"),
        ("", "", "the header has nothing"),
        ("start,price\n", "", "no rows under the header"),
        ("start,price\n2026-01-01T00:00,1,2\n", "", "line 2: 3 columns, the header has 2"),
        ("start,price\n2026-01-01T00:00,n/a\n", "", "line 2: 'n/a' is no number"),
        ("start,price\n2026-01-01T00:00,inf\n", "", "'inf' is no number to reckon with"),
        ('start,price\n2026-01-01T00:00,"1.234,5"\n', "", "has a point and a comma"),
        ("start,price\n2026-01-01T00:00,1e-999999999\n", "", "is no number to reckon with"),
        ("start,price\n0001-01-01T00:00,1\n", "", "is not in a year from 1970 to 2200"),
        ("start,price\nyesterday,1\n", "", "'yesterday' is no time stamp written as 2026-01-31T00:30"),
        ("start,price\n2026-01-01T00:00:30,1\n", "", "not on a whole minute"),
        ("start,price\n2026-01-01T00:00+01:00,1\n", "", 'is not UTC; write clock = "offset in file"'),
        ("start,price\n2026-01-01T00:00,1\n", 'clock = "offset in file"\n', "has no offset"),
        ("start,price\n2026-01-01T00:00Z,1\n", 'clock = "local"\n', "has an offset"),
        ("start,price\n2026-01-01T01:00,1\n2026-01-01T00:30,1\n", 'clock = "local"\n', "does not come after"),
        ("start,price\n2026-01-01T00:00,1\n2026-01-01T00:00,2\n", "", "line 3: the step from"),
        ("start,price\n2026-01-01T00:00,1\n2026-01-01T00:15,2\n", "", "shorter than step_minutes = 30"),
        ("start,price\n2026-01-01T00:00,1\n2026-01-01T00:50,2\n", "", "off the grid of step_minutes = 30"),
        ("start,price\n2026-01-01T00:00,1\n", "billed_minutes = 15\n", "billed_minutes = 15 is shorter"),
        ("start,price\n2026-01-01T00:00,1\n", "billed_minutes = 60\n", "no step of billed_minutes = 60 is complete"),
        ("start,price\n" + "x,y\n" * 9, "", "and 4 more rows like these"),
    ],
)
def test_rows_that_can_t_be_read(tariff_of, text: str, extra: str, expected: str) -> None:
    """Each names the line and what stands there."""
    with pytest.raises(TariffError) as caught:
        read(tariff_of, text, extra)
    assert expected in str(caught.value)


def test_a_series_too_long_to_be_one(tariff_of) -> None:
    """An upper bound on rows, told before anything is reckoned."""
    with pytest.raises(TariffError, match="more than 400000 rows"):
        read(tariff_of, "start,price\n" + "x,y\n" * 400_001)


def test_rows_out_of_order_are_sorted_when_their_time_is_clear(tariff_of) -> None:
    """In UTC the order of rows doesn't matter."""
    series = read(tariff_of, "start,price\n2026-01-01T01:00,2\n2026-01-01T00:30,1\n")
    assert series.values.tolist() == [1_000_000_000, 2_000_000_000]


def test_a_hole_matters_only_to_a_load_in_it(tariff_of, load_of) -> None:
    """Half an hour is missing: a load before it is priced, one that touches it is not."""
    stamps = [f"2026-01-10T{number // 2:02d}:{number % 2 * 30:02d}" for number in range(48) if number != 20]
    tariff = tariff_of(TABLE.format(step=30), series_texts={"p.csv": csv_of(stamps)})
    line = price_line(tariff, date(2026, 1, 10), date(2026, 1, 10))
    load = load_of([2000.0])
    assert float(price(load, line, datetime(2026, 1, 10, 9, 0, tzinfo=UTC)).total) == pytest.approx(0.019 + 0.020)
    for minute in (1, 59):
        with pytest.raises(TariffError, match=r"no price from 2026-01-10 \(Saturday\) 10:00 GMT to .* 10:30 GMT"):
            price(load, line, datetime(2026, 1, 10, 9, minute, tzinfo=UTC))
    after = price(load, line, datetime(2026, 1, 10, 10, 30, tzinfo=UTC))
    assert float(after.total) == pytest.approx(0.021 + 0.022)


def test_carbon_and_power_units(tariff_of) -> None:
    """Grams, kilograms, watts and kilowatts; left-over power is not negative."""
    band = '[[tariff.band]]\nname = "all"\nprice = 0.3\n'
    rows = "2026-01-01T00:00,0.25\n2026-01-01T01:00,0.5\n"
    carbon = band + '[carbon]\nfile = "c.csv"\nunit = "kg/kWh"\n'
    series = tariff_of(carbon, series_texts={"c.csv": "start,carbon\n" + rows}).series["carbon"]
    assert series.values.tolist() == [250_000_000, 500_000_000]
    power = band + '[own_generation]\nfile = "g.csv"\nexport_price = 0.05\n'
    series = tariff_of(power, series_texts={"g.csv": "start,power\n" + rows}).series["own_generation"]
    assert series.values.tolist() == [250_000, 500_000]
    with pytest.raises(TariffError, match="negative"):
        tariff_of(power, series_texts={"g.csv": "start,power\n2026-01-01T00:00,-1\n"})


def test_steps_fill_holes_as_unknown() -> None:
    """Edges are contiguous, what lies between is marked."""
    series = Series(start_s=np.array([0, 3600, 10800]), step_s=3600, values=np.array([1, 2, 3]))
    edges, values, known = series.steps()
    assert edges.tolist() == [0, 3600, 7200, 10800, 14400]
    assert values.tolist() == [1, 2, 0, 3]
    assert known.tolist() == [True, True, False, True]
    assert all(a < b for a, b in pairwise(edges))


@pytest.mark.parametrize(("wrong", "shown"), [(5, 5), (6, 6), (7, 6)])
def test_five_wrong_rows_are_told_one_by_one(tariff_of, wrong: int, shown: int) -> None:
    """A sixth is counted; the first line of a list is its header."""
    with pytest.raises(TariffError) as caught:
        read(tariff_of, "start,price\n" + "x,1\n" * wrong)
    lines = [line for line in str(caught.value).splitlines() if "p.csv" in line]
    assert len(lines) == shown
    assert "line 2: 'x' is no time stamp" in lines[0]
    assert ("and 1 more rows" in lines[-1], "and 2 more rows" in lines[-1]) == (wrong == 6, wrong == 7)


@pytest.mark.parametrize(("header", "rows"), [
    ("start;price;note,s", "2026-01-01T00:00;0,5;a,b"), ("start,price", "2026-01-01T00:00,0.5"),
    ("start\tprice", "2026-01-01T00:00\t0,5"), (" start , price ", " 2026-01-01T00:00 , 0.5 "),
])  # fmt: skip
def test_what_stands_most_often_in_the_header_separates(tariff_of, header: str, rows: str) -> None:
    """Semicolon before comma before tab; spaces are nothing."""
    assert read(tariff_of, f"{header}\n{rows}\n").values.tolist() == [500_000_000]


@pytest.mark.parametrize(("year", "fits"), [(1969, False), (1970, True), (2200, True), (2201, False)])
def test_years_of_a_list(tariff_of, year: int, *, fits: bool) -> None:
    """The first and the last that are reckoned with."""
    text = f"start,price\n{year}-01-01T00:00,1\n"
    if fits:
        assert read(tariff_of, text).start_s.size == 1
    else:
        with pytest.raises(TariffError, match=f"line 2: '{year}-01-01T00:00' is not in a year from 1970 to 2200"):
            read(tariff_of, text)


@pytest.mark.parametrize(("number", "fits"), [("1000000", True), ("-1000000", True), ("1000001", False)])
def test_numbers_of_a_list(tariff_of, number: str, *, fits: bool) -> None:
    """A million of any money per kWh is more than enough."""
    text = f"start,price\n2026-01-01T00:00,{number}\n"
    if fits:
        assert read(tariff_of, text).values.tolist() == [int(number) * 1_000_000_000]
    else:
        with pytest.raises(TariffError, match="is no number to reckon with"):
            read(tariff_of, text)


def test_the_mean_of_a_billing_step_is_rounded_half_up(tariff_of) -> None:
    """Of 0.1 and 0.100000001 the mean is half a billionth above the lower: the upper one; -0.1 and below likewise."""
    stamps = ["2026-01-01T00:00", "2026-01-01T00:30"]
    for first, second, mean in ((0.1, 0.100000001, 100_000_001), (-0.1, -0.100000001, -100_000_000)):
        text = f"start,price\n{stamps[0]},{first:.9f}\n{stamps[1]},{second:.9f}\n"
        assert read(tariff_of, text, "billed_minutes = 60\n").values.tolist() == [mean]


def test_an_hour_that_begins_before_the_list_is_a_hole(tariff_of) -> None:
    """From 00:30 on: the hour of 01:00 is whole, that of 00:00 is not; and the last is cut short as well."""
    stamps = [f"2026-01-01T{hour:02d}:{minute}" for hour, minute in ((0, 30), (1, "00"), (1, 30), (2, "00"))]
    series = read(tariff_of, csv_of(stamps, [9, 1, 2, 9]), "billed_minutes = 60\n")
    assert (series.values.tolist(), series.start_s.tolist()) == (
        [1_500_000_000],
        [utc_s(datetime(2026, 1, 1, 1, tzinfo=UTC))],
    )
    assert series.covers == (datetime(2026, 1, 1, 1, tzinfo=UTC), datetime(2026, 1, 1, 2, tzinfo=UTC))


@pytest.mark.parametrize(("unit", "value"), [("g/kWh", 250_000), ("kg/MWh", 250_000), ("kg/kWh", 250_000_000)])
def test_what_the_grid_emits_in_each_unit(tariff_of, unit: str, value: int) -> None:
    """0.25 of each in micrograms per kWh; power in watts and kilowatts in milliwatts."""
    body = f'[[tariff.band]]\nname = "all"\nprice = 0.3\n[carbon]\nfile = "c.csv"\nunit = "{unit}"\n'
    texts = {"c.csv": "start,carbon\n2026-01-01T00:00,0.25\n"}
    assert tariff_of(body, series_texts=texts).series["carbon"].values.tolist() == [value]
    for power_unit, milliwatts in (("W", 250), ("kW", 250_000)):
        own = '[[tariff.band]]\nname = "all"\nprice = 0.3\n[own_generation]\nfile = "g.csv"\nexport_price = 0\n'
        texts = {"g.csv": "start,power\n2026-01-01T00:00,0.25\n"}
        found = tariff_of(f'{own}unit = "{power_unit}"\n', series_texts=texts)
        assert found.series["own_generation"].values.tolist() == [milliwatts]
