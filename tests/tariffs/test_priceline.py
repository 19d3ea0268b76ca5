"""The price over UTC: clock changes, validity, tax, series with add-ons, own power."""
# ruff: noqa: DTZ001 - times on the wall have no zone, on purpose

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from energyplan.base.errors import TariffError
from energyplan.tariffs.clock import from_utc_s, utc_s
from energyplan.tariffs.costs import price
from energyplan.tariffs.priceline import (
    HOLE,
    OUT_OF_DATE,
    PriceLine,
    carbon_line,
    flat_line,
    price_line,
    price_line_around,
)

NIGHT = (
    '[[tariff.band]]\nname = "night"\nprice = 0.10\nfrom = "00:30"\nto = "04:30"\n'
    '[[tariff.band]]\nname = "day"\nprice = 0.30\notherwise = true\n'
)


def minutes_by_band(line: PriceLine) -> dict[str, int]:
    """Real minutes of each band."""
    lengths = np.diff(line.edges_s) // 60
    return {name: int(lengths[line.band == number].sum()) for number, name in enumerate(line.band_names)}


@pytest.mark.parametrize(
    ("zone", "day", "hours", "night_min"),
    [
        ("Europe/London", date(2026, 3, 29), 23, 180),
        ("Europe/London", date(2026, 10, 25), 25, 300),
        ("Europe/Dublin", date(2026, 3, 29), 23, 180),
        ("Europe/Dublin", date(2026, 10, 25), 25, 300),
        ("Australia/Lord_Howe", date(2026, 10, 4), 23.5, 210),
        ("Australia/Lord_Howe", date(2026, 4, 5), 24.5, 270),
        ("America/Santiago", date(2026, 9, 6), 23, 210),
        ("America/Santiago", date(2026, 4, 4), 25, 240),
        ("Europe/London", date(2026, 6, 1), 24, 240),
    ],
)
def test_days_of_change_have_their_real_minutes(tariff_of, zone, day, hours, night_min) -> None:
    """Rules of the zone database; Santiago's 6 September 2026 has no midnight, so its night begins at 01:00."""
    line = price_line(tariff_of(NIGHT, zone=zone), day, day)
    assert int(line.edges_s[-1] - line.edges_s[0]) == hours * 3600
    assert minutes_by_band(line) == {"night": night_min, "day": hours * 60 - night_min}


def test_a_day_that_never_was(tariff_of) -> None:
    """Samoa went from 29 to 31 December 2011: two days on the wall are 48 hours, the day between none."""
    tariff = tariff_of(NIGHT, zone="Pacific/Apia")
    line = price_line(tariff, date(2011, 12, 29), date(2011, 12, 31))
    assert minutes_by_band(line) == {"night": 480, "day": 2400}
    with pytest.raises(TariffError, match="2011-12-30 does not exist in Pacific/Apia"):
        price_line(tariff, date(2011, 12, 30), date(2011, 12, 30))


def test_dublin_s_negative_winter_clock(tariff_of) -> None:
    """The zone database has Dublin "saving" in winter; the wall clock alone decides."""
    line = price_line(tariff_of(NIGHT, zone="Europe/Dublin"), date(2026, 1, 15), date(2026, 1, 15))
    assert line.name_at(utc_s(datetime(2026, 1, 15, 0, 30, tzinfo=UTC))) == "night"
    assert line.name_at(utc_s(datetime(2026, 1, 15, 0, 29, tzinfo=UTC))) == "day"
    line = price_line(tariff_of(NIGHT, zone="Europe/Dublin"), date(2026, 7, 15), date(2026, 7, 15))
    assert line.name_at(utc_s(datetime(2026, 7, 14, 23, 30, tzinfo=UTC))) == "night"


def test_a_meter_that_never_moves(tariff_of) -> None:
    """Under clock = "standard" the summer night is an hour later on the wall, and every day has 24 hours."""
    tariff = tariff_of('clock = "standard"\n' + NIGHT, zone="Europe/London")
    line = price_line(tariff, date(2026, 3, 29), date(2026, 3, 29))
    assert minutes_by_band(line) == {"night": 240, "day": 1200}
    summer = price_line(tariff, date(2026, 7, 15), date(2026, 7, 15))
    assert summer.name_at(utc_s(datetime(2026, 7, 15, 0, 30, tzinfo=UTC))) == "night"
    assert summer.name_at(utc_s(datetime(2026, 7, 15, 4, 30, tzinfo=UTC))) == "day"


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(["Europe/London", "Australia/Lord_Howe", "America/Santiago", "Pacific/Apia", "Asia/Tehran"]),
    st.datetimes(datetime(2011, 1, 2), datetime(2034, 12, 30)),
)
def test_price_is_the_one_on_the_wall(tariff_of, zone: str, naive: datetime) -> None:
    """At any moment, the band is the one that a reader of the wall clock names."""
    moment = naive.replace(microsecond=0, tzinfo=UTC)
    local = moment.astimezone(ZoneInfo(zone))
    line = price_line(tariff_of(NIGHT, zone=zone), local.date(), local.date())
    minute = local.hour * 60 + local.minute
    assert line.name_at(utc_s(moment)) == ("night" if 30 <= minute < 270 else "day")


@settings(max_examples=30, deadline=None)
@given(st.dates(date(2020, 1, 1), date(2034, 12, 1)), st.integers(0, 40), st.sampled_from(["wall", "standard"]))
def test_minutes_of_bands_are_the_real_minutes(tariff_of, first: date, more: int, clock: str) -> None:
    """Over any range of days the bands share out exactly the time that passes."""
    tariff = tariff_of(f'clock = "{clock}"\n' + NIGHT)
    line = price_line(tariff, first, first + timedelta(days=more))
    zone = ZoneInfo("Europe/London") if clock == "wall" else UTC
    start, end = (
        datetime(day.year, day.month, day.day, tzinfo=zone).astimezone(UTC)
        for day in (first, first + timedelta(days=more + 1))
    )
    assert sum(minutes_by_band(line).values()) * 60 == (end - start).total_seconds()


def test_tax_and_negative_prices(tariff_of) -> None:
    """-2.00 without 20 % tax is -2.40 with it; add-ons are summed before the tax."""
    body = 'prices_include_tax = false\ntax_percent = 20\n[[tariff.band]]\nname = "all"\nprice = -2.00\n'
    line = price_line(tariff_of(body), date(2026, 1, 1), date(2026, 1, 1))
    assert line.micro_per_kwh.tolist() == [-2_400_000]
    body += '[[tariff.add_on]]\nname = "levy"\nprice = 0.5\n'
    line = price_line(tariff_of(body), date(2026, 1, 1), date(2026, 1, 1))
    assert line.micro_per_kwh.tolist() == [-1_800_000]


def test_tax_is_rounded_once_half_to_even(tariff_of) -> None:
    """0.0000125 with no tax is 12.5 millionths, which is 12; 0.0000135 is 14."""
    for written, micro in (("0.0000125", 12), ("0.0000135", 14), ("-0.0000125", -12)):
        body = f'[[tariff.band]]\nname = "all"\nprice = {written}\n'
        line = price_line(tariff_of(body), date(2026, 1, 1), date(2026, 1, 1))
        assert line.micro_per_kwh.tolist() == [micro]


def test_prices_beyond_integers_are_refused(tariff_of) -> None:
    """No silent wrap: a price of a billion per kWh with an odd tax is told."""
    body = 'prices_include_tax = false\ntax_percent = 9.87654321\n[[tariff.band]]\nname = "all"\nprice = 1000000000\n'
    with pytest.raises(TariffError, match="too large to compute"):
        price_line(tariff_of(body), date(2026, 1, 1), date(2026, 1, 1))


def test_validity_makes_holes_with_a_reason(tariff_of, load_of) -> None:
    """A range over the end is priced up to it; a load beyond it is told why not."""
    tariff = tariff_of("valid_from = 2026-01-01\nvalid_to = 2026-12-31\n" + NIGHT)
    line = price_line(tariff, date(2026, 12, 30), date(2027, 1, 2))
    assert set(line.band.tolist()) == {0, 1, OUT_OF_DATE}
    load = load_of([1000.0, 1000.0])
    assert price(load, line, datetime(2026, 12, 31, 22, 0, tzinfo=UTC)).energy_kwh == 2.0
    with pytest.raises(TariffError, match=r"no price from 2027-01-01 \(Friday\) 00:00 GMT .*the tariff is not valid"):
        price(load, line, datetime(2026, 12, 31, 23, 0, tzinfo=UTC))
    with pytest.raises(TariffError, match="is valid from 2026-01-01 to 2026-12-31, asked for 2027-01-05"):
        price_line(tariff, date(2027, 1, 5), date(2027, 1, 6))
    with pytest.raises(TariffError, match="lies before the first"):
        price_line(tariff, date(2026, 1, 5), date(2026, 1, 4))


def test_days_far_away_are_refused(tariff_of) -> None:
    """Years without a zone's rules."""
    with pytest.raises(TariffError, match="between 1970 and 2200"):
        price_line(tariff_of(NIGHT), date(1, 1, 1), date(2026, 1, 1))


def test_a_load_outside_the_line(tariff_of, load_of) -> None:
    """Both ranges are named in local time."""
    line = price_line(tariff_of(NIGHT), date(2026, 7, 1), date(2026, 7, 1))
    with pytest.raises(TariffError, match=r"prices reach from 2026-07-01 \(Wednesday\) 00:00 BST"):
        price(load_of([1000.0]), line, datetime(2026, 7, 1, 22, 30, tzinfo=UTC))


def test_gaps_are_found_before_any_pricing(tariff_of) -> None:
    """A tariff read without the check can't be priced on a day with a gap."""
    tariff = tariff_of('[[tariff.band]]\nname = "a"\nprice = 1\ndays = "mon-fri"\n', check_coverage=False)
    assert price_line(tariff, date(2026, 1, 5), date(2026, 1, 9)).micro_per_kwh.tolist() == [1_000_000]
    with pytest.raises(TariffError, match=r"2026-01-10 \(Saturday\) 00:00 to 24:00, 1440 min: no band covers it"):
        price_line(tariff, date(2026, 1, 5), date(2026, 1, 10))


def test_a_series_with_add_ons(tariff_of) -> None:
    """Prices in another unit than the add-ons; the hole outside the series stays a hole."""
    body = (
        '[tariff.prices]\nfile = "p.csv"\nstep_minutes = 60\nunit = "GBP/MWh"\n'
        '[[tariff.add_on]]\nname = "evening"\nprice = 0.05\nfrom = "17:30"\nto = "19:00"\n'
    )
    rows = "start,price\n" + "".join(f"2026-01-01T{hour:02d}:00,{100 + hour}\n" for hour in range(16, 20))
    line = price_line(tariff_of(body, series_texts={"p.csv": rows}), date(2026, 1, 1), date(2026, 1, 1))
    assert [int(edge - line.edges_s[0]) // 60 for edge in line.edges_s] == [0, 960, 1020, 1050, 1080, 1140, 1200, 1440]
    assert line.micro_per_kwh.tolist() == [0, 116_000, 117_000, 167_000, 168_000, 119_000, 0]
    assert line.band.tolist() == [HOLE, 0, 0, 0, 0, 0, HOLE]


def test_own_power_and_carbon_share_the_line_s_range(tariff_of, load_of) -> None:
    """1.5 kW left over for an hour: a 2 kW load draws 0.5 kWh; the rest costs the export's 0.05."""
    body = (
        '[[tariff.band]]\nname = "all"\nprice = 0.40\n[carbon]\nfile = "c.csv"\n'
        '[own_generation]\nfile = "g.csv"\nexport_price = 0.05\n'
    )
    texts = {
        "g.csv": "start,power\n2026-06-01T10:00,1.5\n2026-06-01T11:00,0\n",
        "c.csv": "start,carbon\n2026-06-01T10:00,200\n2026-06-01T11:00,300\n",
    }
    tariff = tariff_of(body, series_texts=texts)
    line = price_line(tariff, date(2026, 6, 1), date(2026, 6, 1))
    carbon = carbon_line(tariff, line)
    assert carbon is not None
    start = datetime(2026, 6, 1, 10, tzinfo=UTC)
    cost = price(load_of([2000.0, 1000.0]), line, start)
    assert float(cost.total) == pytest.approx(0.5 * 0.40 + 1.5 * 0.05 + 1.0 * 0.40)
    assert cost.imported_kwh == 1.5
    assert float(price(load_of([2000.0, 1000.0]), carbon, start).total) == pytest.approx(0.5 * 200 + 1.0 * 300)
    with pytest.raises(TariffError, match="no value"):
        price(load_of([2000.0]), line, datetime(2026, 6, 1, 12, tzinfo=UTC))


def test_no_carbon_series_no_carbon_line(tariff_of) -> None:
    """None, not a line of zeros."""
    tariff = tariff_of(NIGHT)
    assert carbon_line(tariff, price_line(tariff, date(2026, 1, 1), date(2026, 1, 1))) is None


def test_the_line_around_a_day(tariff_of) -> None:
    """A day to spare on each side."""
    start = datetime(2026, 1, 10, 22, 0, tzinfo=UTC)
    line = price_line_around(tariff_of(NIGHT), start, start + timedelta(hours=4))
    assert (line.start, line.end) == (datetime(2026, 1, 9, tzinfo=UTC), datetime(2026, 1, 13, tzinfo=UTC))


def test_bands_of_one_name_are_one_band(tariff_of) -> None:
    """A morning and an evening peak."""
    body = (
        '[[tariff.band]]\nname = "peak"\nprice = 0.4\nfrom = "07:00"\nto = "09:00"\n'
        '[[tariff.band]]\nname = "peak"\nprice = 0.5\nfrom = "17:00"\nto = "19:00"\n'
        '[[tariff.band]]\nname = "rest"\nprice = 0.2\notherwise = true\n'
    )
    line = price_line(tariff_of(body), date(2026, 1, 5), date(2026, 1, 5))
    assert line.band_names == ("peak", "rest")
    assert line.micro_per_kwh.tolist() == [200_000, 400_000, 200_000, 500_000, 200_000]


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ({"edges_s": np.array([0, 0])}, "must increase"),
        ({"edges_s": np.array([0.0, 60.0])}, "whole numbers"),
        ({"band": np.array([0, 0])}, "need 1 prices"),
        ({"band": np.array([1])}, "has no name"),
        (
            {"edges_s": np.array([0, 60, 120]), "micro_per_kwh": np.array([1, 2]), "band": np.array([0, 1])},
            "band 1 has no name",
        ),
        ({"edges_s": np.array([0])}, "need 0 prices"),
    ],
)
def test_lines_from_arrays_are_checked(change: dict, expected: str) -> None:
    """Shapes, order, whole numbers, names."""
    good = {
        "edges_s": np.array([0, 60]),
        "micro_per_kwh": np.array([1]),
        "band": np.array([0]),
        "band_names": ("a",),
        "currency": "EUR",
        "zone": "Europe/Dublin",
    }
    with pytest.raises(ValueError, match=expected):
        PriceLine(**(good | change))


def test_names_beyond_the_line() -> None:
    """The nearest step's; a hole says why."""
    line = flat_line(micro_per_kwh=1, currency="EUR", zone="Europe/Dublin", start=from_utc_s(0), end=from_utc_s(60))
    assert line.name_at(-5) == line.name_at(99) == "flat"
