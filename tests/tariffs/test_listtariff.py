"""A tariff file written around a list of prices: its unit, its tax, and what comes on top."""

from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest

from energyplan.base.errors import TariffError
from energyplan.tariffs.priceline import price_line
from energyplan.tariffs.pricelist import PriceList, read_price_list
from energyplan.tariffs.tariff import Tariff
from energyplan.tariffs.tarifffile import ListTerms, currency_of_unit, list_tariff_toml, parse_tariff

DAY = date(2026, 6, 5)  # a Friday


def listed(unit: str = "EUR/MWh") -> PriceList:
    """A day of 100 EUR/MWh by the hour in Dublin."""
    rows = "".join(f"2026-06-05T{hour:02d}:00,100\n" for hour in range(24))
    return read_price_list(f"start,{unit}\n{rows}", zone="Europe/Dublin")


def read(found: PriceList, **given) -> Tariff:
    """What the file says, read back."""
    terms = ListTerms(**({"name": "List", "currency": "EUR", "time_zone": "Europe/Dublin"} | given))
    text = list_tariff_toml(found, terms, "list.csv")
    return parse_tariff(text, series_texts={"list.csv": found.csv_text()})


@pytest.mark.parametrize(("unit", "currency"), [
    ("EUR/MWh", "EUR"), ("eur / MWh", "EUR"), ("€/kWh", "EUR"), ("£/MWh", "GBP"), ("p/kWh", "GBP"),
    ("pence/kWh", "GBP"), ("øre/kWh", "DKK"), ("öre/kWh", "SEK"), ("gr/kWh", "PLN"),
    ("ct/kWh", None), ("c/kWh", None), ("$/kWh", None),
])  # fmt: skip
def test_the_currency_that_a_unit_names(unit: str, currency: str | None) -> None:
    """A cent may be of many."""
    assert currency_of_unit(unit) == currency


@pytest.mark.parametrize(("unit", "per_kwh"), [("EUR/MWh", "0.1"), ("ct/kWh", "1"), ("EUR/kWh", "100")])
def test_a_list_s_prices_are_in_its_own_unit(unit: str, per_kwh: str) -> None:
    """100 of each, per kWh in whole money."""
    line = price_line(read(listed(unit)), DAY, DAY)
    assert {Fraction(int(micro), 1_000_000) for micro in line.micro_per_kwh} == {Fraction(per_kwh)}


def test_tax_comes_on_top_of_list_and_adders_where_it_is_named() -> None:
    """(0.10 + 0.05) x 1.2 = 0.18; without a tax they contain it: 0.15."""
    for tax, per_kwh in ((Decimal(20), "0.18"), (None, "0.15")):
        line = price_line(read(listed(), tax_percent=tax, adders=("0.05 EUR/kWh",)), DAY, DAY)
        assert {Fraction(int(micro), 1_000_000) for micro in line.micro_per_kwh} == {Fraction(per_kwh)}


@pytest.mark.parametrize(("adder", "row"), [
    ("0.12 EUR/kWh", ("adder 1", "0.12", None)), ("network: 6.1 ct/kWh", ("network", "0.061", None)),
    ("6,1 ct/kWh", ("adder 1", "0.061", None)), ("-20 EUR/MWh", ("adder 1", "-0.02", None)),
    ("evening peak: +1 ct/kWh 17:00-21:00", ("evening peak", "0.01", (1020, 1260))),
    ("0.01 EUR/kWh 17:00 - 21:00", ("adder 1", "0.01", (1020, 1260))), ("1 ct/kWh mon-fri", ("adder 1", "0.01", None)),
])  # fmt: skip
def test_what_comes_on_top_is_read_as_it_is_written(adder: str, row: tuple) -> None:
    """Name, price in its own unit, hours."""
    (found,) = read(listed(), adders=(adder,)).table.add_on
    hours = None if found.from_minute is None else (found.from_minute, found.to_minute)
    assert (found.name, str(found.price), hours) == row


def test_adders_have_days_and_numbers_of_their_own() -> None:
    """The second is called by its place; days stand behind the hours or alone."""
    first, second = read(listed(), adders=("a: 1 ct/kWh 17:00-21:00 sat, sun", "2 ct/kWh mon-fri")).table.add_on
    assert (first.days, second.days) == ({5, 6}, {0, 1, 2, 3, 4})
    assert (first.name, second.name) == ("a", "adder 2")


@pytest.mark.parametrize(("adder", "said"), [
    ("network", 'adder "network": write a price with its unit, such as "network: 6.1 ct/kWh 17:00-21:00"'),
    ("1 p/kWh", 'adder "1 p/kWh": \'p\' is no money of EUR'),
    ("1 EUR/day", 'adder "1 EUR/day": write money per kWh or MWh'),
])  # fmt: skip
def test_what_is_no_adder(adder: str, said: str) -> None:
    """It is named, with how to write one."""
    with pytest.raises(TariffError) as caught:
        read(listed(), adders=(adder,))
    assert said in str(caught.value)


def test_a_list_in_other_money_is_refused() -> None:
    """Pounds are no euro; a name is cut where a file's ends."""
    with pytest.raises(TariffError, match="unit of the list 'GBP/MWh': 'GBP' is no money of EUR"):
        read(listed("GBP/MWh"))
    assert read(listed(), name="x" * 99).name == "x" * 80
