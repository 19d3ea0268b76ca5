"""One day and a year of brews under several tariffs, against prices by hand."""

from datetime import UTC, datetime, time

import pytest

from energyplan.advice.pricing import compare_tariffs
from energyplan.base.errors import TariffError
from energyplan.day.brewday import simulate
from energyplan.plan.file import read_plan
from energyplan.tariffs.tarifffile import parse_tariff
from energyplan.telling.measures import tariffs_told

START = datetime(2026, 12, 5, 8, 30, tzinfo=UTC)
HABIT = (5, time(9))


def flat(name: str, price: float, charge: float = 0.0, currency: str = "EUR", more: str = ""):
    """One price for all hours, and a charge a day."""
    return parse_tariff(
        f'[tariff]\nname = "{name}"\ncurrency = "{currency}"\nprice_unit = "{currency}/kWh"\n'
        f'time_zone = "Europe/Dublin"\ndaily_charge = {charge}\n{more}'
        f'[[tariff.band]]\nname = "all"\nprice = {price}\n'
    )


@pytest.fixture(scope="module")
def day():
    """The demo's day."""
    return simulate(read_plan("demo"))


def test_charges_are_told_apart_and_together(day) -> None:
    """0.30 without a charge against 0.10 with 0.50 a day: kWh x price, 365 charges, their sum; by hand."""
    found = compare_tariffs(day, [flat("A", 0.3), flat("B", 0.1, 0.5)], START, habit=HABIT, brews=20)
    kwh = day.energy_kwh
    for one, price, charge in zip(found, (0.3, 0.1), (0.0, 0.5), strict=True):
        assert float(one.day) == pytest.approx(kwh * price, abs=1e-6)
        assert one.year is not None
        assert float(one.year.usual) == pytest.approx(20 * kwh * price, abs=1e-5)
        assert float(one.charges) == pytest.approx(365 * charge)
        assert float(one.together) == pytest.approx(20 * kwh * price + 365 * charge, abs=1e-5)
    told = tariffs_told(found, "Europe/Dublin")
    assert [row["tariff"] for row in told.tables[0]] == ["A", "B"]
    assert "costs least under A" in str(told.headline)


def test_a_tariff_that_ends_prices_the_day_and_no_year(day) -> None:
    """Valid to the end of the year: the year is left out, and why is said; the day still ranks."""
    ending = flat("Ends", 0.05, more="valid_to = 2026-12-31\n")
    found = compare_tariffs(day, [flat("A", 0.3), ending], START, habit=HABIT, brews=20)
    assert found[1].year is None
    assert found[1].why
    told = tariffs_told(found, "Europe/Dublin")
    assert str(told.headline).startswith("This day costs least under Ends")
    assert any("prices no whole year" in str(one) for one in told.sentences)


def test_two_currencies_are_no_comparison(day) -> None:
    """Euros and pounds."""
    with pytest.raises(TariffError, match="EUR and GBP"):
        compare_tariffs(day, [flat("A", 0.3), flat("B", 0.3, currency="GBP")], START, habit=HABIT, brews=20)


def test_the_best_start_is_never_dearer_than_the_one_asked_for(day) -> None:
    """At 01:00, outside the hours in which people are up, the night's price is below that of any start within them."""
    night = parse_tariff(
        '[tariff]\nname = "Night"\ncurrency = "EUR"\nprice_unit = "EUR/kWh"\ntime_zone = "Europe/Dublin"\n'
        '[[tariff.band]]\nname = "night"\nprice = 0.1\nfrom = "00:00"\nto = "07:00"\n'
        '[[tariff.band]]\nname = "day"\nprice = 0.4\notherwise = true\n'
    )
    asked = datetime(2026, 12, 5, 1, tzinfo=UTC)
    for one in compare_tariffs(day, [night, flat("A", 0.3)], asked, habit=(5, time(1)), brews=20):
        assert one.best.cost == one.day
        assert one.best.start == asked
        assert one.year is not None
        assert one.year.best == one.year.usual
