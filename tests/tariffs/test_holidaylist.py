"""Which days are holidays."""

from datetime import date

import pytest

from energyplan.base.errors import TariffError
from energyplan.tariffs.tables import Holidays
from energyplan.tariffs.tariff import holidays_between

BAND = '\n[[tariff.band]]\nname = "all"\nprice = 0.3\n'


def days_of(year: int, **given) -> set[date]:
    """Holidays of a year under a table of holidays."""
    return set(holidays_between(Holidays(**given), date(year, 1, 1), date(year, 12, 31)))


def test_a_holiday_observed_on_a_friday() -> None:
    """4 July 2026 is a Saturday; US law has it observed on Friday the 3rd (5 U.S.C. 6103(b), from memory)."""
    assert date(2026, 7, 3) in days_of(2026, country="US", region="national")
    assert date(2026, 7, 3) not in days_of(2026, country="US", region="national", observed=False)


def test_new_year_observed_in_the_old_year() -> None:
    """1 January 2028 is a Saturday, observed on Friday 31 December 2027 (5 U.S.C. 6103(b), from memory)."""
    assert date(2027, 12, 31) in days_of(2027, country="US", region="national")
    assert date(2027, 12, 31) not in days_of(2028, country="US", region="national")


def test_dates_are_added_and_taken_out() -> None:
    """Christmas Eve added, Saint Patrick's Day taken out."""
    eve, patrick = date(2026, 12, 24), date(2026, 3, 17)
    days = days_of(2026, country="IE", add=(eve,), remove=(patrick,))
    assert eve in days
    assert patrick not in days


def test_dates_alone_need_no_country() -> None:
    """A utility's own list."""
    assert days_of(2026, add=(date(2026, 5, 1),)) == {date(2026, 5, 1)}
    assert holidays_between(None, date(2026, 1, 1), date(2026, 12, 31)) == {}


def test_regions_keep_different_days() -> None:
    """Corpus Christi (4 June 2026) is a holiday in Bavaria, not in Hamburg (state laws, from memory)."""
    assert date(2026, 6, 4) in days_of(2026, country="DE", region="BY")
    assert date(2026, 6, 4) not in days_of(2026, country="DE", region="HH")


@pytest.mark.parametrize(
    ("table", "expected"),
    [
        ('country = "DE"\ntreat_as = "sun"', "region: is missing; regions of DE keep different days"),
        ('country = "DE"\nregion = "XX"\ntreat_as = "sun"', 'region = "XX": is no region of DE; write one of BB'),
        ('country = "IE"\nregion = "XX"\ntreat_as = "sun"', "leave it out; this country has one list"),
        ('country = "XQ"\ntreat_as = "sun"', "has no list of holidays; "),
        ('country = "99"\ntreat_as = "sun"', "write its ISO 3166 code"),
        ('treat_as = "sun"', "country: is missing"),
        ('country = "IE"\ntreat_as = "sun"\nremove = [2026-03-18]', "2026-03-18: is no holiday anyway"),
        ('country = "IE"', "treat_as: is missing, and no band says"),
        ('country = "IE"\ntreat_as = "freeday"', "treat_as"),
    ],
)
def test_slips_in_the_table(tariff_of, table: str, expected: str) -> None:
    """Each says what to write."""
    with pytest.raises(TariffError) as caught:
        tariff_of(f"[tariff.holidays]\n{table}{BAND}")
    assert expected in str(caught.value)


def test_a_weekday_and_a_band_for_holidays_don_t_go_together(tariff_of) -> None:
    """Either holidays are Sundays, or a band names them."""
    with pytest.raises(TariffError, match="keep one of the two"):
        tariff_of(
            '[tariff.holidays]\ncountry = "IE"\ntreat_as = "sun"\n'
            '[[tariff.band]]\nname = "feast"\nprice = 0.1\ndays = "holiday"\n'
            '[[tariff.band]]\nname = "rest"\nprice = 0.3\notherwise = true\n'
        )


def test_a_country_with_regions_that_agree_needs_none(tariff_of) -> None:
    """The region is asked for only where it makes a difference."""
    tariff = tariff_of('[tariff.holidays]\ncountry = "IE"\ntreat_as = "sun"\n' + BAND)
    assert tariff.table.holidays is not None


def test_dates_alone_in_a_file(tariff_of) -> None:
    """A table of holidays without a country, only dates."""
    body = '[tariff.holidays]\nadd = [2026-05-01]\ntreat_as = "sun"\n' + BAND
    assert tariff_of(body).table.holidays.add == (date(2026, 5, 1),)


def test_a_holiday_counts_on_both_ends_of_a_range() -> None:
    """Saint Patrick's Day 2026 alone, the days up to it and from it on; the day before and after have none."""
    rule, patrick = Holidays(country="IE"), date(2026, 3, 17)
    for first, last in ((patrick, patrick), (date(2026, 3, 1), patrick), (patrick, date(2026, 3, 31))):
        assert list(holidays_between(rule, first, last)) == [patrick]
    assert holidays_between(rule, date(2026, 3, 18), date(2026, 3, 31)) == {}
    assert holidays_between(rule, date(2026, 3, 1), date(2026, 3, 16)) == {}
    over = holidays_between(rule, date(2025, 12, 26), date(2026, 1, 1))
    assert list(over) == [date(2025, 12, 26), date(2026, 1, 1)]


def test_a_day_added_keeps_the_name_it_has() -> None:
    """One that is a holiday anyway is called by its name; they come in order."""
    eve, patrick = date(2026, 12, 24), date(2026, 3, 17)
    found = holidays_between(Holidays(country="IE", add=(eve, patrick)), date(2026, 1, 1), date(2026, 12, 31))
    assert (found[patrick], found[eve]) == ("Saint Patrick's Day", "added in the tariff")
    assert list(found) == sorted(found)
