"""A tariff laid open."""

from datetime import UTC, date, datetime
from fractions import Fraction

import pytest

from energyplan.tariffs.tariffcheck import band_minutes, check_tariff
from energyplan.tariffs.tarifffile import parse_tariff

NIGHT = (
    '[[tariff.band]]\nname = "night"\nprice = 0.10\nfrom = "00:30"\nto = "04:30"\n'
    '[[tariff.band]]\nname = "day"\nprice = 0.30\notherwise = true\n'
)


def test_a_week_with_a_change_of_the_clock(tariff_of) -> None:
    """Monday 23 to Sunday 29 March 2026 in London: Sunday has 23 hours, three of them night."""
    week = check_tariff(tariff_of(NIGHT), date(2026, 3, 25)).week
    assert [day.day.day for day in week] == [23, 24, 25, 26, 27, 28, 29]
    table = dict(band_minutes(week))
    assert table["night"] == (240, 240, 240, 240, 240, 240, 180)
    assert table["day"][-1] == 23 * 60 - 180
    sunday = [(part.from_min, part.to_min, part.band) for part in week[-1].stretches]
    assert sunday == [(0, 30, "day"), (30, 60, "night"), (120, 270, "night"), (270, 1440, "day")]


def test_holidays_are_listed_and_marked(tariff_of) -> None:
    """The year's list, and the week's day."""
    body = '[tariff.holidays]\ncountry = "IE"\ntreat_as = "sun"\nadd = [2026-03-18]\n' + NIGHT
    check = check_tariff(tariff_of(body), date(2026, 3, 17))
    assert (date(2026, 3, 17), "Saint Patrick's Day") in check.holidays
    assert [day.holiday for day in check.week][:3] == ["", "Saint Patrick's Day", "added in the tariff"]
    assert check.oddities == ()
    assert check.problems == ()


def test_gaps_are_listed_not_raised(tariff_of) -> None:
    """A tariff with a hole can still be looked at."""
    tariff = tariff_of('[[tariff.band]]\nname = "a"\nprice = 1\ndays = "mon-fri"\n', check_coverage=False)
    check = check_tariff(tariff, date(2026, 1, 7))
    assert check.week == ()
    assert "Saturday" in str(check.problems[0])
    assert check.oddities[0].code == "no week"
    assert "cover" in check.oddities[0].why


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        ("valid_to = 2025-12-31\n" + NIGHT, ("past", "", None)),
        ("valid_from = 2026-06-01\n" + NIGHT, ("not yet", "", None)),
        ("daily_charge = 61\n" + NIGHT, ("dear day", "", 61)),
        (NIGHT.replace("0.10", "14.2"), ("dear", "night", Fraction("14.2"))),
        (NIGHT.replace("0.10", "0.0002"), ("cheap", "night", Fraction("0.0002"))),
        (NIGHT + '[[tariff.add_on]]\nname = "levy"\nprice = 0\n', ("free add-on", "levy", None)),
        (
            NIGHT + '[[tariff.add_on]]\nname = "eve"\nprice = 1\ndays = "fri"\nfrom = "22:00"\nto = "02:00"\n',
            ("night by default", "eve", None),
        ),
        (
            NIGHT + "[tariff.peak_charge]\nwindow_minutes = 15\nprice_per_kw_month = 390\n",
            ("dear peak", "", 390),
        ),
    ],
)
def test_slips_are_pointed_out(tariff_of, body: str, expected: tuple) -> None:
    """Wrong units, out of date, nothing on top, nights by default."""
    check = check_tariff(tariff_of(body), date(2026, 1, 7))
    assert expected in [(odd.code, odd.name, odd.per_unit) for odd in check.oddities]


def test_a_sound_tariff_has_no_warnings(tariff_of) -> None:
    """Also with a sensible capacity charge; weak currencies have no usual price."""
    peak = "[tariff.peak_charge]\nwindow_minutes = 15\nprice_per_kw_month = 3.9\n"
    assert check_tariff(tariff_of(NIGHT + peak), date(2026, 1, 7)).oddities == ()
    weak = tariff_of(NIGHT.replace("0.10", "1500"), currency="IDR")
    assert check_tariff(weak, date(2026, 1, 7)).oddities == ()


def test_a_stale_series_and_its_holes(tariff_of) -> None:
    """The series ends days ago; its holes are named."""
    rows = "start,price\n" + "".join(f"2026-01-01T{hour:02d}:00,0.2\n" for hour in (0, 1, 3, 4, 6, 8, 10))
    body = '[tariff.prices]\nfile = "p.csv"\nstep_minutes = 60\n'
    check = check_tariff(tariff_of(body, series_texts={"p.csv": rows}), date(2026, 1, 1), today=date(2026, 1, 9))
    stale, holed = check.oddities
    assert (stale.code, stale.name, stale.day, stale.days) == ("stale list", "prices", date(2026, 1, 1), 8)
    assert [moment.hour for moment in holed.moments] == [2, 5, 7, 9]
    assert check.covers == (datetime(2026, 1, 1, tzinfo=UTC), datetime(2026, 1, 1, 11, tzinfo=UTC))


def test_a_series_without_holes_and_a_week_without_prices(tariff_of) -> None:
    """A fresh, whole series has nothing to point out; a week outside of it shows the hole's reason."""
    rows = "start,price\n" + "".join(f"2026-01-01T{hour:02d}:00,0.2\n" for hour in range(24))
    body = '[tariff.prices]\nfile = "p.csv"\nstep_minutes = 60\n'
    tariff = tariff_of(body, series_texts={"p.csv": rows})
    assert check_tariff(tariff, date(2026, 1, 1)).oddities == ()
    later = check_tariff(tariff, date(2026, 2, 1), today=date(2026, 1, 1))
    assert later.oddities == ()
    assert {part.band for day in later.week for part in day.stretches} == {"the series has no value there"}


def test_swapped_night_hours_and_a_clock_without_summer_time_are_noticed() -> None:
    """A night from 07:00 to 23:00, and the clock GMT: each is named; a night from 23:00 to 07:00 is none."""
    text = """
[tariff]
name = "Night"
currency = "GBP"
price_unit = "p/kWh"
time_zone = "GMT"
[[tariff.band]]
name = "night"
price = 9.0
from = "07:00"
to = "23:00"
[[tariff.band]]
name = "day"
price = 30.0
otherwise = true
"""
    codes = {odd.code for odd in check_tariff(parse_tariff(text), date(2026, 6, 1)).oddities}
    assert {"night by day", "no summer time"} <= codes
    short = text.replace('"23:00"', '"12:30"')  # 5 1/2 hours of the night are called so somewhere, after a late shift
    assert "night by day" not in {odd.code for odd in check_tariff(parse_tariff(short), date(2026, 6, 1)).oddities}
    sound = text.replace('"GMT"', '"Europe/London"').replace('"07:00"', '"x"').replace('"23:00"', '"07:00"')
    sound = sound.replace('"x"', '"23:00"')
    assert not {odd.code for odd in check_tariff(parse_tariff(sound), date(2026, 6, 1)).oddities} & codes


def codes(tariff, day: date, **given) -> set[str]:
    """Codes of what looks odd on a day."""
    return {odd.code for odd in check_tariff(tariff, day, **given).oddities}


# What a household pays for a kWh, a day and a kW lies well within these (common practice, no source).
@pytest.mark.parametrize(("price", "odd"), [
    ("2.00", set()), ("2.01", {"dear"}), ("0.005", set()), ("0.0049", {"cheap"}), ("0", set()), ("-0.3", set()),
    ("-0.003", {"cheap"}),
])  # fmt: skip
def test_prices_that_look_like_another_unit(tariff_of, price: str, odd: set[str]) -> None:
    """Each side of 2 and of 0.005 a kWh; nothing at all, and a price well below zero, are prices."""
    assert codes(tariff_of(NIGHT.replace("0.10", price)), date(2026, 1, 7)) == odd


@pytest.mark.parametrize(("charge", "odd"), [("5", set()), ("5.01", {"dear day"})])
def test_a_dear_day(tariff_of, charge: str, odd: set[str]) -> None:
    """Five of the currency a day stand; in a currency of small units nothing is said."""
    body = f"daily_charge = {charge}\n" + NIGHT
    assert codes(tariff_of(body), date(2026, 1, 7)) == odd
    assert codes(tariff_of(body, currency="HUF"), date(2026, 1, 7)) == set()


@pytest.mark.parametrize(("per_kw", "odd"), [
    ("0.20", set()), ("0.19", {"cheap peak"}), ("40", set()), ("40.1", {"dear peak"}),
])  # fmt: skip
def test_a_dear_and_a_cheap_peak(tariff_of, per_kw: str, odd: set[str]) -> None:
    """Each side of 0.20 and of 40 a kW and month."""
    peak = f"[tariff.peak_charge]\nwindow_minutes = 15\nprice_per_kw_month = {per_kw}\n"
    assert codes(tariff_of(NIGHT + peak), date(2026, 1, 7)) == odd


@pytest.mark.parametrize(("key", "day", "odd"), [
    ("valid_to", "2026-01-06", {"past"}), ("valid_to", "2026-01-07", set()), ("valid_from", "2026-01-07", set()),
    ("valid_from", "2026-01-08", {"not yet"}),
])  # fmt: skip
def test_a_tariff_is_valid_on_its_first_and_last_day(tariff_of, key: str, day: str, odd: set[str]) -> None:
    """Looked at on 7 January; the week shown is another question."""
    tariff = tariff_of(f"{key} = {day}\n" + NIGHT)
    assert codes(tariff, date(2026, 1, 7)) == odd
    assert codes(tariff, date(2026, 1, 5), today=date(2026, 1, 7)) == odd


# From 08:00 to 20:00 it is day (our choice): more than half of the band, and more than six hours of it.
@pytest.mark.parametrize(("name", "from_to", "odd"), [
    ("Night", ("13:00", "21:00"), True), ("night rate", ("07:00", "14:01"), True), ("night", ("07:00", "14:00"), False),
    ("Off-peak", ("13:59", "20:00"), True), ("offpeak", ("14:00", "20:00"), False),
    ("off peak", ("00:00", "23:30"), True),
    ("night", ("00:00", "24:00"), False), ("fortnight", ("08:00", "16:00"), False), ("day", ("08:00", "16:00"), False),
    ("night", ("20:00", "08:00"), False), ("night", ("00:00", "08:00"), False),
])  # fmt: skip
def test_a_night_by_day(tariff_of, name: str, from_to: tuple[str, str], *, odd: bool) -> None:
    """Only a band called so, by its first letters, whose hours are mostly those of the day."""
    band = f'[[tariff.band]]\nname = "{name}"\nprice = 0.1\nfrom = "{from_to[0]}"\nto = "{from_to[1]}"\n'
    rest = '[[tariff.band]]\nname = "rest"\nprice = 0.3\notherwise = true\n'
    assert ("night by day" in codes(tariff_of(band + rest), date(2026, 1, 7))) is odd


@pytest.mark.parametrize(("from_to", "given", "odd"), [
    (("22:00", "02:00"), 'days = "fri"', True), (("22:00", "00:00"), 'days = "fri"', False),
    (("22:00", "24:00"), 'days = "fri"', False), (("02:00", "22:00"), 'days = "fri"', False),
    (("22:00", "02:00"), 'months = "jan"', True), (("22:00", "02:00"), 'dates = "01-01 to 02-01"', True),
    (("22:00", "02:00"), "", False),
    (("22:00", "02:00"), 'days = "fri"\nnight_belongs_to = "calendar day"', False),
])  # fmt: skip
def test_a_night_whose_day_nobody_named(tariff_of, from_to: tuple[str, str], given: str, *, odd: bool) -> None:
    """Where days or a season are named and the window runs over midnight, it matters whose night that is."""
    eve = f'[[tariff.add_on]]\nname = "eve"\nprice = 1\nfrom = "{from_to[0]}"\nto = "{from_to[1]}"\n{given}\n'
    assert ("night by default" in codes(tariff_of(NIGHT + eve), date(2026, 1, 7))) is odd


@pytest.mark.parametrize(("today", "odd"), [(date(2026, 1, 2), False), (date(2026, 1, 3), True)])
def test_a_list_is_stale_from_its_second_day_on(tariff_of, today: date, *, odd: bool) -> None:
    """A list to 23:00 of the first of January in London; on the third it is two days old."""
    rows = "start,price\n" + "".join(f"2026-01-01T{hour:02d}:00,0.2\n" for hour in range(23))
    body = '[tariff.prices]\nfile = "p.csv"\nstep_minutes = 60\n'
    tariff = tariff_of(body, series_texts={"p.csv": rows})
    found = [one for one in check_tariff(tariff, date(2026, 1, 1), today=today).oddities if one.code == "stale list"]
    assert [one.days for one in found] == ([2] if odd else [])


def test_a_holiday_s_year_is_that_of_the_day(tariff_of) -> None:
    """From the first of January to the last of December, both listed; a week over new year names its own."""
    body = '[tariff.holidays]\nadd = [2025-12-31, 2026-01-01, 2026-12-31, 2027-01-01]\ntreat_as = "sun"\n' + NIGHT
    found = check_tariff(tariff_of(body), date(2026, 12, 30))
    assert [day for day, _ in found.holidays] == [date(2026, 1, 1), date(2026, 12, 31)]
    assert [day.day for day in found.week if day.holiday] == [date(2026, 12, 31), date(2027, 1, 1)]
    assert found.week[0].day == date(2026, 12, 28)
