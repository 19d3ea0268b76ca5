"""The first and the last of everything in a price line: years, days, rows of a series, prices that integers hold."""

from datetime import UTC, date, datetime, timedelta
from fractions import Fraction

import numpy as np
import pytest

from energyplan.base.errors import TariffError
from energyplan.tariffs.priceline import HOLE, carbon_line, price_line, price_line_around, with_estimate

ALL_DAY = '[[tariff.band]]\nname = "all day"\nprice = {price}\notherwise = true\n'
TWO = (
    '[[tariff.band]]\nname = "night"\nprice = {night}\nfrom = "00:00"\nto = "06:00"\n'
    '[[tariff.band]]\nname = "day"\nprice = {day}\notherwise = true\n'
)
SERIES = '[tariff.prices]\nfile = "p.csv"\nstep_minutes = 60\n'


def instant(seconds: int) -> datetime:
    """Moment of some seconds of UTC."""
    return datetime.fromtimestamp(int(seconds), UTC)


def hourly(first: datetime, hours: int, name: str = "price") -> str:
    """A series of a row an hour; row k says k + 1."""
    rows = [f"{(first + timedelta(hours=k)):%Y-%m-%dT%H:%M},{k + 1}" for k in range(hours)]
    return "\n".join([f"start,{name}", *rows])


@pytest.mark.parametrize(("year", "fits"), [(1968, False), (1970, True), (2200, True), (2203, False)])
def test_years_that_are_reckoned_with(tariff_of, year: int, fits: bool) -> None:  # noqa: FBT001
    """The first and the last year with the days around them; further ones are refused."""
    tariff = tariff_of(ALL_DAY.format(price=1), zone="UTC")
    if fits:
        assert instant(price_line(tariff, date(year, 6, 1), date(year, 6, 1)).edges_s[0]).year == year
        return
    with pytest.raises(TariffError, match="expected years between"):
        price_line(tariff, date(year, 6, 1), date(year, 6, 1))


def test_a_meter_that_never_moves_keeps_standard_time(tariff_of) -> None:
    """In July a day of a meter on standard time begins at 23:00 UTC in Vienna (UTC+1), not at 22:00."""
    body = 'clock = "standard"\n' + TWO.format(night=1, day=3)
    line = price_line(tariff_of(body, zone="Europe/Vienna"), date(2026, 7, 1), date(2026, 7, 2))
    shown = [instant(second) for second in line.edges_s]
    assert shown[0] == datetime(2026, 6, 30, 23, tzinfo=UTC)
    assert shown[1] == datetime(2026, 7, 1, 5, tzinfo=UTC)
    assert shown[-1] == datetime(2026, 7, 2, 23, tzinfo=UTC)


def test_a_long_series_is_cut_to_the_days_asked_for(tariff_of) -> None:
    """A week of rows around one day gives that day's 24 steps, each with its own price, and no more."""
    text = hourly(datetime(2026, 6, 28, tzinfo=UTC), 7 * 24)
    line = price_line(tariff_of(SERIES, zone="UTC", series_texts={"p.csv": text}), date(2026, 7, 1), date(2026, 7, 1))
    assert instant(line.edges_s[0]) == datetime(2026, 7, 1, tzinfo=UTC)
    assert instant(line.edges_s[-1]) == datetime(2026, 7, 2, tzinfo=UTC)
    assert (line.micro_per_kwh // 10**6).tolist() == list(range(73, 97))


def test_the_first_and_the_last_row_of_a_series_count(tariff_of) -> None:
    """A series of 22 hours inside a day: a hole, its rows from the first to the last, a hole."""
    text = hourly(datetime(2026, 7, 1, 1, tzinfo=UTC), 22)
    line = price_line(tariff_of(SERIES, zone="UTC", series_texts={"p.csv": text}), date(2026, 7, 1), date(2026, 7, 1))
    assert (line.band == HOLE).tolist() == [True, *[False] * 22, True]
    assert (line.micro_per_kwh[1:-1] // 10**6).tolist() == list(range(1, 23))


def test_own_power_and_carbon_keep_their_rows(tariff_of) -> None:
    """Power from the roof and carbon are read row by row; outside their rows is a hole."""
    body = (
        ALL_DAY.format(price=1)
        + '[own_generation]\nfile = "g.csv"\nexport_price = 0.25\n[carbon]\nfile = "c.csv"\nunit = "g/kWh"\n'
    )
    texts = {
        "g.csv": hourly(datetime(2026, 7, 1, 2, tzinfo=UTC), 20, "power"),
        "c.csv": hourly(datetime(2026, 7, 1, 1, tzinfo=UTC), 22, "carbon"),
    }
    tariff = tariff_of(body, zone="UTC", series_texts=texts)
    line = price_line(tariff, date(2026, 7, 1), date(2026, 7, 1))
    assert line.surplus_mw is not None
    assert (line.surplus_mw[1:-1] // 10**6).tolist() == list(range(1, 21))  # milliwatts of kilowatts
    assert (line.band == HOLE).tolist() == [True, *[False] * 20, True]
    assert line.export_micro_per_kwh == 250_000
    carbon = carbon_line(tariff, line)
    assert carbon is not None
    inside = carbon.band != HOLE
    assert instant(carbon.edges_s[0]) == datetime(2026, 7, 1, tzinfo=UTC)
    assert instant(carbon.edges_s[-1]) == datetime(2026, 7, 2, tzinfo=UTC)
    assert (carbon.micro_per_kwh[inside] // 10**6).tolist() == list(range(1, 23))
    assert inside.sum() == 22
    assert carbon.surplus_mw is not None
    assert (carbon.surplus_mw[1:-1] // 10**6).tolist() == [0, *range(1, 21), 0]


def test_carbon_beside_own_power_of_shorter_steps(tariff_of) -> None:
    """Quarters of own power within hours of carbon: each quarter keeps its surplus, and its hour's carbon."""
    body = ALL_DAY.format(price=1) + (
        '[own_generation]\nfile = "g.csv"\nstep_minutes = 15\nexport_price = 0.25\n[carbon]\nfile = "c.csv"\n'
    )
    first = datetime(2026, 6, 30, tzinfo=UTC)
    quarters = [f"{(first + timedelta(minutes=15 * k)):%Y-%m-%dT%H:%M},{k % 96 + 1}" for k in range(3 * 96)]
    texts = {"g.csv": "\n".join(["start,power", *quarters]), "c.csv": hourly(first, 72, "carbon")}
    tariff = tariff_of(body, zone="UTC", series_texts=texts)
    carbon = carbon_line(tariff, price_line(tariff, date(2026, 7, 1), date(2026, 7, 1)))
    assert carbon is not None
    assert carbon.surplus_mw is not None
    assert (carbon.surplus_mw // 10**6).tolist() == list(range(1, 97))
    assert (carbon.micro_per_kwh // 10**6).tolist() == [25 + k // 4 for k in range(96)]


def test_carbon_knows_no_bands(tariff_of) -> None:
    """Without own power the carbon line has the hours of its series, from midnight to midnight, and no other border."""
    body = TWO.replace('"06:00"', '"05:30"').format(night=1, day=3) + '[carbon]\nfile = "c.csv"\n'
    texts = {"c.csv": hourly(datetime(2026, 6, 30, tzinfo=UTC), 72, "carbon")}
    tariff = tariff_of(body, zone="UTC", series_texts=texts)
    carbon = carbon_line(tariff, price_line(tariff, date(2026, 7, 1), date(2026, 7, 1)))
    assert carbon is not None
    assert np.diff(carbon.edges_s).tolist() == [3600] * 24
    assert instant(carbon.edges_s[0]) == datetime(2026, 7, 1, tzinfo=UTC)
    assert carbon.surplus_mw is None


def test_own_power_leaves_each_hour_its_price(tariff_of) -> None:
    """With rows of own power an hour long, the price changes where the band does: at 06:00, on a row's border."""
    body = TWO.format(night=1, day=3) + '[own_generation]\nfile = "g.csv"\nexport_price = 0.25\n'
    text = hourly(datetime(2026, 6, 30, tzinfo=UTC), 72, "power")
    line = price_line(tariff_of(body, zone="UTC", series_texts={"g.csv": text}), date(2026, 7, 1), date(2026, 7, 1))
    assert (line.micro_per_kwh // 10**6).tolist() == [*([1] * 6), *([3] * 18)]
    assert line.band.tolist() == [*([0] * 6), *([1] * 18)]


def test_without_own_power_nothing_is_exported(tariff_of) -> None:
    """No series of own power: no surplus, no price for it."""
    line = price_line(tariff_of(ALL_DAY.format(price=1), zone="UTC"), date(2026, 7, 1), date(2026, 7, 1))
    assert line.surplus_mw is None
    assert line.export_micro_per_kwh == 0


# With 60 % of tax the factor is 8/5, so a price of 2^59 billionths is the first whose product with it, doubled for
# rounding, needs the 64th bit: 2^59 x 8 x 2 = 2^63.
LAST_THAT_FITS = 2**59 - 1


@pytest.mark.parametrize("sign", [1, -1])
def test_prices_fit_their_integers(tariff_of, sign: int) -> None:
    """The last price that fits is exact; one billionth more is refused, whatever its sign, and beside a small one."""
    taxed = "prices_include_tax = false\ntax_percent = 60\n"
    fits, too_large = (
        f"{'-' if sign < 0 else ''}{nano // 10**9}.{nano % 10**9:09d}" for nano in (LAST_THAT_FITS, LAST_THAT_FITS + 1)
    )
    day = date(2026, 7, 1)
    line = price_line(tariff_of(taxed + TWO.format(night=fits, day=1), zone="UTC"), day, day)
    # Exact fractions round half to even, as the price line does.
    assert line.micro_per_kwh.tolist() == [round(Fraction(sign * LAST_THAT_FITS * 8, 5 * 1000)), 1_600_000]
    with pytest.raises(TariffError, match="too large to compute with"):
        price_line(tariff_of(taxed + TWO.format(night=too_large, day=1), zone="UTC"), day, day)


def test_the_line_around_a_moment_has_a_day_to_spare(tariff_of) -> None:
    """From the local midnight before the day before the start to that after the day after the end."""
    tariff = tariff_of(ALL_DAY.format(price=1), zone="Europe/Vienna")
    start = datetime(2026, 7, 3, 22, 30, tzinfo=UTC)  # already the 4th in Vienna
    line = price_line_around(tariff, start, start + timedelta(hours=30))
    assert instant(line.edges_s[0]) == datetime(2026, 7, 2, 22, tzinfo=UTC)
    assert instant(line.edges_s[-1]) == datetime(2026, 7, 6, 22, tzinfo=UTC)


def test_validity_from_and_to_are_both_included(tariff_of) -> None:
    """One day of validity is priced whole; asked for three days, the others are out of date."""
    body = "valid_from = 2026-07-02\nvalid_to = 2026-07-02\n" + ALL_DAY.format(price=1)
    tariff = tariff_of(body, zone="UTC")
    one = price_line(tariff, date(2026, 7, 2), date(2026, 7, 2))
    assert one.band.tolist() == [0]
    three = price_line(tariff, date(2026, 7, 1), date(2026, 7, 3))
    assert np.diff(three.edges_s).tolist() == [86400] * 3
    assert (three.band >= 0).tolist() == [False, True, False]
    for day in (date(2026, 7, 1), date(2026, 7, 3)):
        with pytest.raises(TariffError, match="is valid from"):
            price_line(tariff, day, day)


def test_tiers_stand_in_the_order_of_their_limits(tariff_of) -> None:
    """Limits in millijoules (3.6e9 a kWh), prices with tax, rounded once, whatever the order in the file."""
    body = (
        "prices_include_tax = false\ntax_percent = 20\n" + ALL_DAY.format(price=1)
        + "[[tariff.tier]]\nabove_kwh = 500\nprice = 0.2\n[[tariff.tier]]\nabove_kwh = 100.5\nprice = 0.1\n"
    )  # fmt: skip
    line = price_line(tariff_of(body, zone="UTC"), date(2026, 7, 1), date(2026, 7, 1))
    assert [(tier.above_mj, tier.micro_per_kwh) for tier in line.tiers] == [
        (361_800_000_000, 120_000),
        (1_800_000_000_000, 240_000),
    ]


def weekly(tariff_of, hours: int, head: str = ""):
    """A list by the hour from Monday 5 January 2026: the first week costs 0, the second 1, and so on."""
    rows = "".join(f"{FIRST + timedelta(hours=k):%Y-%m-%dT%H:%M},{k // 168}\n" for k in range(hours))
    return tariff_of(head + SERIES, zone="UTC", series_texts={"p.csv": "start,price\n" + rows})


FIRST = datetime(2026, 1, 5, tzinfo=UTC)


def test_a_guess_is_the_mean_of_the_last_eight_weeks(tariff_of) -> None:
    """Ten weeks that cost 0 to 9: 5.5 is the mean of 2 to 9.

    The same guess for weeks 1 to 9 would have missed by 1, 1.5, 2, 2.5, 3, 3.5, 4, 4.5 and 4.5, 26.5 / 9 on average;
    with 20 % of tax on top.
    """
    tariff = weekly(tariff_of, 1680, "prices_include_tax = false\ntax_percent = 20\n")
    found = with_estimate(tariff, FIRST + timedelta(days=71))
    assert found is not None
    assert found.estimate is not None
    assert found.series["prices"].values[1680:].tolist() == [5_500_000_000] * 24
    assert (found.estimate.begins, found.estimate.weeks) == (FIRST + timedelta(days=70), 8)
    assert float(found.estimate.error_per_kwh) == pytest.approx(1.2 * 26.5 / 9)
    line = price_line(found, date(2026, 3, 15), date(2026, 3, 16))
    assert line.band_names == ("price series", "estimate")
    assert line.band.tolist() == [0, 1]


@pytest.mark.parametrize(("hours", "ahead_h", "guessed"), [
    (336, 24, True), (335, 24, False), (336, 400 * 24, True), (336, 400 * 24 + 1, False), (336, 1, True),
    (336, 0, False),
])  # fmt: skip
def test_how_long_a_list_must_be_and_how_far_a_guess_reaches(
    tariff_of, hours: int, ahead_h: int, *, guessed: bool
) -> None:
    """Two weeks to their last hour, and 400 days to the last; nothing where the list has it."""
    found = with_estimate(weekly(tariff_of, hours), FIRST + timedelta(hours=hours + ahead_h))
    assert (found is not None) is guessed
    assert with_estimate(tariff_of(ALL_DAY.format(price=1)), FIRST) is None
