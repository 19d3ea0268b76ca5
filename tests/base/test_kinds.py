"""Each kind of value is written in one way."""

import pickle
from datetime import UTC, date, datetime
from fractions import Fraction

import pint
import pytest

from energyplan.base import kinds
from energyplan.base.kinds import (
    CELSIUS,
    KWH,
    LITRES,
    MINUTES,
    MONEY,
    ODDS,
    OHMS,
    PRICE,
    SHARE,
    WATTS_PER_KELVIN,
    WRITTEN,
    Kind,
    Price,
    Style,
    Value,
    raw,
    write,
)
from energyplan.base.money import UNITS_PER_CURRENCY, Money

ALL = [kind for kind in vars(kinds).values() if isinstance(kind, Kind)]
ELECTRICAL = {"power", "energy", "current", "voltage", "resistance", "large power"}
PINT = {"°C": "degC", "°F": "degF", "L": "L", "gal": "gallon", "kg": "kg", "lb": "lb", "m": "m", "ft": "ft", "cm": "cm"}


@pytest.mark.parametrize("kind", [kind for kind in ALL if kind.metric is not kind.us], ids=repr)
def test_us_units_are_those_of_the_reference_library(kind: Kind) -> None:
    """Pint 0.25, whose definitions are those of NIST SP 811: to 1e-9."""
    if kind.key == "difference":
        assert kind.us.factor == pytest.approx(1.8)
        return
    registry = pint.UnitRegistry()
    names = [_spelled(shown.unit) for shown in (kind.metric, kind.us)]
    given = registry.Quantity(12.5 * kind.metric.factor + kind.metric.offset, names[0])
    want = given.to(names[1]).magnitude
    assert 12.5 * kind.us.factor + kind.us.offset == pytest.approx(want, rel=1e-9)


def _spelled(unit: str) -> str:
    """A shown unit as the library spells it; degrees in a denominator are differences."""
    if "/" in unit:
        return unit.replace("°F", "delta_degF").replace("/K", "/delta_degC").replace("gal", "gallon").replace(
            "²", "**2").replace("hL", "hL").replace("in*", "inch*")  # fmt: skip
    return {"°C": "degC", "°F": "degF", "gal": "gallon", "in": "inch"}.get(unit, unit.replace("²", "**2"))


@pytest.mark.parametrize("kind", [kind for kind in ALL if kind.key in ELECTRICAL], ids=repr)
def test_electrical_quantities_are_the_same_in_both_systems(kind: Kind) -> None:
    """A volt is a volt."""
    assert write(kind(12.3)) == write(kind(12.3), Style("us"))


@pytest.mark.parametrize("kind", ALL, ids=repr)
def test_a_kind_survives_a_cache(kind: Kind) -> None:
    """Pickled and read back it is the same object."""
    assert pickle.loads(pickle.dumps(kind)) is kind  # noqa: S301


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (CELSIUS(99.5), "99.5 °C"),
        (CELSIUS(100.0), "100 °C"),
        (CELSIUS(-0.01), "0 °C"),
        (KWH(-0.0049), "0.00 kWh"),
        (KWH(1.94, signed=True), "+1.94 kWh"),
        (KWH(0.0, signed=True), "0.00 kWh"),
        (LITRES(27.0), "27 L"),
        (WATTS_PER_KELVIN(0.2345), "0.23 W/K"),
        (WATTS_PER_KELVIN(4.83), "4.8 W/K"),
        (WATTS_PER_KELVIN(14.83), "15 W/K"),
        (MINUTES(81.4), "81 min"),
        (MINUTES(287.0), "4 h 47 min"),
        (MINUTES(36 * 60.0), "36 h"),
        (MINUTES(0.2), "less than a minute"),
        (OHMS(0.3406), "0.34 Ω"),
        (OHMS(-0.001), "0.00 Ω"),
        (OHMS(2.731), "2.73 Ω"),
        (OHMS(9.996), "10 Ω"),
        (OHMS(12.04), "12 Ω"),
        (OHMS(99.96), "100 Ω"),
        (OHMS(50 / 0.3), "167 Ω"),
        (OHMS(50 / 0.03), "1667 Ω"),
        (OHMS(1300.0), "1300 Ω"),
        (SHARE(0.4), "40 %"),
        (SHARE(0.013), "1.3 %"),
        (ODDS(0.94), "9 days of 10"),
        (ODDS(0.95), "19 days of 20"),
        (ODDS(0.85), "8 days of 10"),
        (ODDS(0.14), "1 day of 10"),
        (ODDS(0.04), "hardly a day"),
        (ODDS(0.0), "no day"),
        (ODDS(1.0), "every day"),
        (ODDS(0.999), "99 days of 100"),
    ],
)
def test_one_way_of_writing(value: Value, text: str) -> None:
    """Rounding, unit and sign belong to the kind."""
    assert write(value) == text


@pytest.mark.parametrize(("currency", "text"), [("EUR", "2.64 EUR"), ("JPY", "3 JPY"), ("KWD", "2.635 KWD")])
def test_money_has_its_currencys_digits(currency: str, text: str) -> None:
    """ISO 4217 minor units."""
    assert write(MONEY(Money(units=int(Fraction("2.635") * UNITS_PER_CURRENCY), currency=currency))) == text


@pytest.mark.parametrize(
    "nasty", ["a\x1b[31mb", "a\u202eb", "a\u2066b", "a\ud800b", "a\nb", "a\u200fb", "a\x9bb", "a\u2028b"]
)
def test_what_could_be_obeyed_is_made_visible(nasty: str) -> None:
    """Control, direction and surrogate characters show as their escapes."""
    shown = write(WRITTEN(nasty))
    assert nasty[1] not in shown
    assert "\\u" in shown
    shown.encode()


def test_a_moment_of_another_day_says_its_day() -> None:
    """23:50 on the first day is a time, 00:08 after midnight names the day."""
    first = date(2026, 12, 5)
    late = kinds.Moment(datetime(2026, 12, 5, 23, 50, tzinfo=UTC), first)
    after = kinds.Moment(datetime(2026, 12, 6, 0, 8, tzinfo=UTC), first)
    assert [write(kinds.MOMENT(one)) for one in (late, after)] == ["23:50", "Sun 6 Dec 00:08"]
    assert raw(kinds.MOMENT(after)) == "2026-12-06T00:08:00Z"


def test_a_price_from_an_array_is_written_as_the_exact_one() -> None:
    """34.335 ct lies between two numbers of four decimals, and its float a little below: one price, one text."""
    for micro in (343350, 154785, 5, 15, 999950):
        exact, floating = (write(PRICE(Price(per_kwh, "EUR"))) for per_kwh in (Fraction(micro, 10**6), micro / 10**6))
        assert floating == exact
