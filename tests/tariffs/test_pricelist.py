"""Lists of prices in the shapes in which they are handed out, each against a reading of its own, second by second."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from energyplan.base.errors import TariffError
from energyplan.tariffs.pricelist import ListHints, read_price_list

ZONE = "Europe/Vienna"
VIENNA = ZoneInfo(ZONE)
SPRING, AUTUMN, PLAIN = date(2026, 3, 28), date(2026, 10, 24), date(2026, 6, 13)


def truth(first: date, days: int, step_min: int) -> list[tuple[datetime, Decimal]]:
    """Steps of some local days with invented prices in EUR/MWh, some below zero."""
    begin = datetime(first.year, first.month, first.day, tzinfo=VIENNA).astimezone(UTC)
    after = first + timedelta(days=days)
    end = datetime(after.year, after.month, after.day, tzinfo=VIENNA).astimezone(UTC)
    rng = np.random.default_rng(first.toordinal())
    count = int((end - begin) / timedelta(minutes=step_min))
    prices = [Decimal(int(cents)) / 100 for cents in rng.integers(-3000, 30000, count)]
    return [(begin + timedelta(minutes=step_min * k), price) for k, price in enumerate(prices)]


def comma(price: Decimal) -> str:
    """With a decimal comma."""
    return str(price).replace(".", ",")


def spans(rows, step_min: int) -> str:
    """Beginning and end in one cell, local clock, days first, a preamble, semicolons."""
    lines = ["Day-ahead prices", "", "Time (CET/CEST);Price [EUR/MWh]"]
    for at, price in rows:
        a, b = (moment.astimezone(VIENNA) for moment in (at, at + timedelta(minutes=step_min)))
        lines.append(f"{a:%d.%m.%Y %H:%M} - {b:%d.%m.%Y %H:%M};{comma(price)}")
    return "\n".join(lines)


def two_stamps(rows, step_min: int) -> str:
    """Beginning and end in two columns, with their offsets; another column of numbers behind."""
    lines = ["from,to,price EUR/MWh,volume"]
    for at, price in rows:
        a, b = (moment.astimezone(VIENNA) for moment in (at, at + timedelta(minutes=step_min)))
        lines.append(f"{a.isoformat()},{b.isoformat()},{price},100")
    return "\n".join(lines)


def ending_utc(rows, step_min: int) -> str:
    """One stamp that ends its step, UTC, tabs, newest first."""
    lines = [f"{at + timedelta(minutes=step_min):%Y-%m-%d %H:%M:%S}\t{price}" for at, price in rows]
    return "\n".join(["Interval end (UTC)\tEUR/MWh", *reversed(lines)])


def numbered(rows, step_min: int) -> str:
    """Date and number of the hour, 1 to 23, 24 or 25; unit behind each number."""
    lines, before, number = ["Date|Hour|Price"], None, 0
    for at, price in rows:
        day = at.astimezone(VIENNA).date()
        number, before = (number + 1 if day == before else 1), day
        lines.append(f"{day:%d/%m/%Y}|{number}|{price} EUR/MWh")
    return "\n".join(lines)


def clock_column(rows, step_min: int) -> str:
    """Month first, the clock with am and pm in a column of its own, in quotes."""
    lines = ['"Date","Start time","End time","Price (EUR/MWh)"']
    for at, price in rows:
        a, b = (moment.astimezone(VIENNA) for moment in (at, at + timedelta(minutes=step_min)))
        lines.append(f'"{a:%m/%d/%Y}","{a:%I:%M %p}","{b:%I:%M %p}","{price}"')
    return "\n".join(lines)


def compact(rows, step_min: int) -> str:
    """ISO without separators in UTC, cents per kWh with a decimal comma."""
    return "\n".join(["timestamp;ct per kWh", *(f"{at:%Y%m%dT%H%M}Z;{comma(price / 10)}" for at, price in rows)])


def glued(rows, step_min: int) -> str:
    """Beginning and the clock of the end in one cell without a space; a fee that never changes stands first."""
    lines = ["Zeitraum;Netz ct/kWh;Preis EUR/MWh"]
    for at, price in rows:
        a, b = (moment.astimezone(VIENNA) for moment in (at, at + timedelta(minutes=step_min)))
        lines.append(f"{a:%d.%m.%Y %H:%M}-{b:%H:%M};5,0;{comma(price)}")
    return "\n".join(lines)


def minus_signs(rows, step_min: int) -> str:
    """Seconds since 1970; prices below zero with a minus sign that no keyboard has."""
    return "\n".join(
        ["time;EUR/MWh", *(f"{at.timestamp():.0f};{comma(price)}".replace("-", "\u2212") for at, price in rows)]
    )


@pytest.mark.parametrize(
    ("shape", "step_min", "first"),
    [
        (spans, 60, SPRING),
        (spans, 15, AUTUMN),
        (two_stamps, 30, AUTUMN),
        (two_stamps, 5, PLAIN),
        (ending_utc, 15, SPRING),
        (ending_utc, 60, PLAIN),
        (numbered, 60, SPRING),
        (numbered, 60, AUTUMN),
        (clock_column, 60, AUTUMN),
        (clock_column, 15, PLAIN),
        (compact, 10, SPRING),
        (compact, 120, PLAIN),
        (glued, 60, SPRING),
        (glued, 15, AUTUMN),
        (minus_signs, 60, AUTUMN),
        (minus_signs, 15, PLAIN),
    ],
    ids=lambda value: getattr(value, "__name__", str(value)),
)
def test_a_list_is_read_as_it_is_handed_out(shape, step_min: int, first: date) -> None:
    """Every step of three days, at its second and with its price per MWh, over the nights of the change too."""
    rows = truth(first, 3, step_min)
    found = read_price_list(shape(rows, step_min), zone=ZONE)
    per_mwh = 10 if found.reading.unit.startswith("ct") else 1
    assert found.reading.step_min == step_min
    assert [
        (datetime.fromtimestamp(s, UTC), number * per_mwh)
        for s, number in zip(found.start_s, found.numbers, strict=True)
    ] == rows
    assert found.covers == (rows[0][0], rows[-1][0] + timedelta(minutes=step_min))
    assert found.holes == 0


def test_a_price_a_day_is_that_of_each_of_its_hours() -> None:
    """23 hours on the last Sunday of March."""
    found = read_price_list("day,EUR/MWh\n2026-03-28,80\n2026-03-29,90\n2026-03-30,100\n", zone=ZONE)
    assert [found.numbers.count(Decimal(number)) for number in (80, 90, 100)] == [24, 23, 24]


def test_hints_win_over_guesses() -> None:
    """Another column, unit, clock, stamp and order of the days."""
    text = "time,sold,bought\n03/04/2026 00:00,1,2\n03/04/2026 01:00,3,4\n"
    hints = ListHints(price_column="bought", unit="p/kWh", clock="utc", stamp="end", order="month first")
    found = read_price_list(text, zone=ZONE, hints=hints)
    assert found.numbers == (2, 4)
    assert datetime.fromtimestamp(found.start_s[0], UTC) == datetime(2026, 3, 3, 23, tzinfo=UTC)
    assert (found.reading.unit, found.reading.stamp) == ("p/kWh", "end")


def test_rows_without_a_price_are_holes() -> None:
    """An empty cell and a dash."""
    cells = ("1", "", "-", "4", "5")
    text = "\n".join(["time,EUR/MWh", *(f"2026-06-01T{hour:02d}:00Z,{cell}" for hour, cell in enumerate(cells))])
    found = read_price_list(text, zone=ZONE)
    assert found.numbers == (1, 4, 5)
    assert found.holes == 1


CLOCKS = ("00:00", "01:00", "01:30", "02:00", "03:00", "04:00")
DENSE = "\n".join(["time,EUR/MWh", *(f"2026-06-01T{clock}Z,1" for clock in CLOCKS)])


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("hello", "no columns with a time and a price"),
        ("a,b\n1,2\n", "no columns with a time and a price"),
        ("time,price\n2026-06-01T00:00Z,1\n2026-06-01T01:00Z,2\n", "--unit EUR/MWh"),
        ("time,EUR/MWh\n2026-06-01T00:00Z,1\n", "one row tells no step"),
        (DENSE, "comes within the step of 60 min"),
        ("time,EUR/MWh\n2026-06-31T00:00,1\n2026-06-31T01:00,1\n", "day"),
        ("time,note EUR/MWh\n2026-06-01T00:00Z,dear\n2026-06-01T01:00Z,cheap\n", "no column of numbers"),
    ],
)
def test_what_can_t_be_read_says_why(text: str, said: str) -> None:
    """No rows, no unit, no step, overlapping rows, days that are none."""
    with pytest.raises(TariffError) as caught:
        read_price_list(text, zone=ZONE)
    assert said in str(caught.value)


@pytest.mark.parametrize("written", ["{0:02}/05/2026", "05/{0:02}/2026"])
def test_day_and_month_are_told_apart_by_which_of_them_goes_on(written: str) -> None:
    """Five days of May, none beyond the twelfth: what changes from row to row is the day."""
    rows = (f"{written.format(day)},{80 + day}" for day in range(3, 8))
    found = read_price_list("\n".join(["day,EUR/MWh", *rows]), zone=ZONE)
    days = {datetime.fromtimestamp(start_s, VIENNA).date() for start_s in found.start_s}
    assert days == {date(2026, 5, day) for day in range(3, 8)}


@pytest.mark.parametrize("last_minute", [59, 60])
def test_an_hour_may_be_written_to_its_last_minute(last_minute: int) -> None:
    """From 00:00 to 00:59 lasts the hour, as from 00:00 to 01:00 does."""
    begins = [datetime(2026, 12, 5, tzinfo=VIENNA) + timedelta(hours=hour) for hour in range(23)]
    ends = [begin + timedelta(minutes=last_minute) for begin in begins]
    rows = (f"{a:%d.%m.%Y %H:%M};{b:%d.%m.%Y %H:%M};{10 + a.hour}" for a, b in zip(begins, ends, strict=True))
    text = "\n".join(["from;to;price ct/kWh", *rows])
    assert read_price_list(text, zone="Europe/Vienna", hints=ListHints()).reading.step_min == 60
