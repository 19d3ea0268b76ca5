"""Exact money and what is shown of it."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from energyplan.base.errors import TariffError
from energyplan.base.money import UNITS_PER_CURRENCY, Money, currency_decimals, shown_parts
from energyplan.tariffs.tables import money_text, parse_price_unit

CURRENCIES = ("EUR", "USD", "GBP", "NOK", "CHF", "JPY", "HUF", "KWD", "IDR", "CLP")


@pytest.mark.parametrize("currency", CURRENCIES)
@given(parts=st.lists(st.integers(-(10**18), 10**18), min_size=1, max_size=12))
def test_shown_parts_add_up_to_the_shown_total(currency: str, parts: list[int]) -> None:
    """In every currency, whatever the remainders."""
    money = [Money(units=part, currency=currency) for part in parts]
    decimals = currency_decimals(currency)
    shown = shown_parts(money, decimals)
    assert sum(shown) == Money(units=sum(parts), currency=currency).rounded()
    step = Fraction(1, 10**decimals)
    assert all(abs(Fraction(part) - exact.exact) < step for part, exact in zip(shown, money, strict=True))


def test_equal_remainders_go_to_the_earlier_part() -> None:
    """Three thirds of a whole: the first gets the odd cent."""
    assert shown_parts([Fraction(1, 3)] * 3, 2) == (Decimal("0.34"), Decimal("0.33"), Decimal("0.33"))


def test_no_parts_show_nothing() -> None:
    """An empty day has no parts."""
    assert shown_parts([], 2) == ()


def test_rounding_is_half_to_even_and_by_currency() -> None:
    """A half cent goes to the even one; yen have no decimals."""
    assert str(Money(units=UNITS_PER_CURRENCY * 125 // 1000, currency="EUR")) == "0.12 EUR"
    assert str(Money(units=UNITS_PER_CURRENCY * 5 // 2, currency="JPY")) == "2 JPY"
    assert Money(units=UNITS_PER_CURRENCY // 8, currency="KWD").rounded() == Decimal("0.125")


def test_currencies_don_t_mix() -> None:
    """Euro and pound are not added."""
    with pytest.raises(TariffError, match="EUR and GBP"):
        Money(units=1, currency="EUR") + Money(units=1, currency="GBP")
    assert (Money(units=3, currency="EUR") - Money(units=1, currency="EUR")).units == 2


@pytest.mark.parametrize(
    ("text", "currency", "price", "nano"),
    [
        ("ct/kWh", "EUR", "14.2", 142_000_000),
        ("c/kWh", "USD", "11.3", 113_000_000),
        ("p/kWh", "GBP", "24.5", 245_000_000),
        ("øre/kWh", "NOK", "89.75", 897_500_000),
        ("EUR/MWh", "EUR", "-87.31", -87_310_000),
        ("EUR / kWh", "EUR", "0.084730001", 84_730_001),
        ("€/kWh", "EUR", "0.3", 300_000_000),
        ("Ft/kWh", "HUF", "70", None),
        ("p/kWh", "EUR", "1", None),
        ("EUR/GBP", "EUR", "1", None),
        ("EUR", "EUR", "1", None),
        ("USD/kWh", "EUR", "1", None),
    ],
)
def test_units_of_price(text: str, currency: str, price: str, nano: int | None) -> None:
    """Cents, pence, øre, whole money, per kWh or MWh; anything else is refused."""
    if nano is None:
        with pytest.raises(ValueError, match="write"):
            parse_price_unit(text, currency)
    else:
        assert parse_price_unit(text, currency).nano_per_kwh(Decimal(price)) == nano


def test_amounts_carry_their_money() -> None:
    """A bare number counts what the caller says, a text counts what it says itself."""
    assert money_text(Decimal("61.0"), "EUR", Fraction(1, 100)) == Fraction(61, 100)
    assert money_text("0.61 EUR", "EUR", Fraction(1, 100)) == Fraction(61, 100)
    for wrong in ("61", "EUR", "0.61 GBP", "1e3 EUR"):
        with pytest.raises(ValueError, match="with its money"):
            money_text(wrong, "EUR", Fraction(1))
