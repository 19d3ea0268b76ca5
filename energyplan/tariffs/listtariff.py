"""A tariff file around a list of prices: unit, tax, and what the supplier and the grid put on top."""

import re
from collections.abc import Sequence
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from typing import Any

from energyplan.base.errors import TariffError
from energyplan.base.records import dataclass
from energyplan.tariffs.pricelist import PriceList
from energyplan.tariffs.tables import parse_price_unit

__all__ = ["ListTerms", "currency_of_unit", "list_tariff_toml"]

_ADDER = re.compile(
    r"(?:(?P<name>[^:]+):)?\s*(?P<price>[+-]?\d+(?:[.,]\d+)?)\s*(?P<unit>\S+/\S+)"
    r"(?:\s+(?P<begin>\d{1,2}:\d{2})\s*-\s*(?P<end>\d{1,2}:\d{2}))?(?:\s+(?P<days>[A-Za-z][A-Za-z, -]*))?\s*"
)
_SIGNS = {"€": "EUR", "£": "GBP", "p": "GBP", "pence": "GBP", "øre": "DKK", "öre": "SEK", "gr": "PLN"}


@dataclass(frozen=True, slots=True, kw_only=True)
class ListTerms:
    """What comes around a list of prices.

    Parameters
    ----------
    name : str
        What to call the tariff.
    currency : str
        ISO 4217 code.
    time_zone : str
        IANA zone.
    tax_percent : Decimal, optional
        Tax on top of prices and adders; left out, they contain it.
    adders : tuple of str
        Each ``"0.12 EUR/kWh"``, with a name before a colon, hours and days behind it if it has any:
        ``"network: 6.1 ct/kWh 17:00-21:00 mon-fri"``.
    """

    name: str
    currency: str
    time_zone: str
    tax_percent: Decimal | None = None
    adders: tuple[str, ...] = ()


def currency_of_unit(unit: str) -> str | None:
    """Currency that a unit of price names; None for a bare cent.

    >>> currency_of_unit("EUR/MWh"), currency_of_unit("ct/kWh")
    ('EUR', None)
    """
    word = unit.partition("/")[0].strip()
    if re.fullmatch(r"[A-Za-z]{3}", word):
        return word.upper()
    return _SIGNS.get(word)


def list_tariff_toml(found: PriceList, terms: ListTerms, series_file: str) -> str:
    """The text of a tariff file that takes its prices from a list.

    Parameters
    ----------
    found : PriceList
        The list, as `read_price_list` gives it.
    terms : ListTerms
        What comes around it.
    series_file : str
        Name of the file beside it in which `PriceList.csv_text` stands.

    Raises
    ------
    TariffError
        If the unit is no price of the currency, or an adder is not understood.
    """
    import tomli_w

    try:
        parse_price_unit(found.reading.unit, terms.currency)
    except ValueError as error:
        raise TariffError(f"unit of the list {found.reading.unit!r}: {error}") from None
    table: dict[str, Any] = {
        "name": terms.name[:80],
        "currency": terms.currency,
        "price_unit": f"{terms.currency}/kWh",
        "time_zone": terms.time_zone,
        "prices_include_tax": terms.tax_percent is None,
    }
    if terms.tax_percent is not None:
        table["tax_percent"] = terms.tax_percent
    table["prices"] = {
        "file": series_file,
        "unit": found.reading.unit,
        "clock": "utc",
        "step_minutes": found.reading.step_min,
    }
    if terms.adders:
        table["add_on"] = _adders(terms.adders, terms.currency)
    return tomli_w.dumps({"tariff": table})


def _adders(texts: Sequence[str], currency: str) -> list[dict[str, Any]]:
    return [_adder(text, number, currency) for number, text in enumerate(texts, start=1)]


def _adder(text: str, number: int, currency: str) -> dict[str, Any]:
    found = _ADDER.fullmatch(text)
    if found is None:
        raise TariffError(f'adder "{text}": write a price with its unit, such as "network: 6.1 ct/kWh 17:00-21:00"')
    try:
        unit = parse_price_unit(found["unit"], currency)
        per_kwh = Fraction(Decimal(found["price"].replace(",", "."))) * unit.money / unit.kwh
    except (ValueError, InvalidOperation) as error:
        raise TariffError(f'adder "{text}": {error}') from None
    row: dict[str, Any] = {
        "name": (found["name"] or f"adder {number}").strip(),
        "price": Decimal(f"{Decimal(per_kwh.numerator) / Decimal(per_kwh.denominator):.9f}").normalize(),
    }
    if found["days"]:
        row["days"] = found["days"].strip()
    if found["begin"]:
        row |= {"from": found["begin"], "to": found["end"]}
    return row
