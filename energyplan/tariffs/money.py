"""Exact money: integers inside, rounded once, at display.

A cost is a sum of prices in millionths of the currency per kWh times energies in millijoules.
Both are integers, so a cost is one too: a count of *units* of which 3.6e15 make one euro, pound
or dollar. Nothing is lost by splitting a day into phases and adding them up again.
"""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from energyplan.base.errors import TariffError

__all__ = [
    "MJ_PER_KWH",
    "UNITS_PER_CURRENCY",
    "Money",
    "PriceUnit",
    "currency_decimals",
    "money_text",
    "parse_price_unit",
    "reckonable",
    "shown_parts",
]

#: Millijoules in a kilowatt-hour.
MJ_PER_KWH = 3_600_000_000

#: Exact units of `Money` in one unit of currency: millionths times millijoules per kWh.
UNITS_PER_CURRENCY = 1_000_000 * MJ_PER_KWH

_MOST_DECIMALS = 40

# ISO 4217 gives these currencies no decimals, or three; all others in use have two (from memory).
_NO_DECIMALS = frozenset(
    {"BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG", "RWF", "UGX", "VND", "VUV", "XAF", "XOF", "XPF"}
)
_THREE_DECIMALS = frozenset({"BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"})

# Words for a hundredth, and the currencies they belong to; an empty set means any.
_HUNDREDTHS: dict[str, frozenset[str]] = {
    **dict.fromkeys(("ct", "c", "cent", "cents"), frozenset[str]()),
    **dict.fromkeys(("p", "pence", "penny"), frozenset({"GBP", "GIP", "FKP", "SHP"})),
    **dict.fromkeys(("øre", "öre", "ore"), frozenset({"NOK", "DKK", "SEK"})),
    **dict.fromkeys(("gr", "grosz", "groszy"), frozenset({"PLN"})),
    **dict.fromkeys(("rp", "rappen", "centime", "centimes"), frozenset({"CHF", "XPF", "MAD"})),
    **dict.fromkeys(("haléř", "haléřů", "hal"), frozenset({"CZK"})),
    **dict.fromkeys(("paise", "paisa"), frozenset({"INR", "PKR", "NPR"})),
    "fen": frozenset({"CNY"}),
    "sen": frozenset({"MYR", "IDR", "JPY"}),
}
_SIGNS = {"€": frozenset({"EUR"}), "£": frozenset({"GBP"}), "$": frozenset({"USD", "CAD", "AUD", "NZD", "SGD"})}


@dataclass(frozen=True, slots=True, kw_only=True)
class Money:
    """An exact amount of one currency.

    Parameters
    ----------
    units : int
        Count of exact units, `UNITS_PER_CURRENCY` to one unit of currency.
    currency : str
        ISO 4217 code.

    Examples
    --------
    >>> print(Money(units=UNITS_PER_CURRENCY * 5 // 4, currency="EUR"))
    1.25 EUR
    """

    units: int
    currency: str

    @property
    def exact(self) -> Fraction:
        """The amount in units of currency, unrounded."""
        return Fraction(self.units, UNITS_PER_CURRENCY)

    def rounded(self, decimals: int | None = None) -> Decimal:
        """Amount rounded half to even, by default to the currency's own decimals."""
        places = currency_decimals(self.currency) if decimals is None else decimals
        return _as_decimal(round(self.exact * 10**places), places)

    def __float__(self) -> float:
        return float(self.exact)

    def __str__(self) -> str:
        return f"{self.rounded()} {self.currency}"

    def __add__(self, other: "Money") -> "Money":
        self._same_currency(other)
        return Money(units=self.units + other.units, currency=self.currency)

    def __sub__(self, other: "Money") -> "Money":
        self._same_currency(other)
        return Money(units=self.units - other.units, currency=self.currency)

    def _same_currency(self, other: "Money") -> None:
        if self.currency != other.currency:
            raise TariffError(
                f"amounts in {self.currency} and {other.currency} can't be added; compare tariffs of one currency"
            )


def _as_decimal(count: int, places: int) -> Decimal:
    return Decimal(count).scaleb(-places) if places else Decimal(count)


def currency_decimals(currency: str) -> int:
    """Decimals with which a currency is written.

    >>> currency_decimals("EUR"), currency_decimals("JPY"), currency_decimals("KWD")
    (2, 0, 3)
    """
    if currency in _NO_DECIMALS:
        return 0
    return 3 if currency in _THREE_DECIMALS else 2


def shown_parts(parts: Sequence[Money | Fraction | Decimal | int | float], decimals: int) -> tuple[Decimal, ...]:
    """Round parts so that what is shown adds up to the rounded total.

    Each part is rounded down, and the missing steps go to the parts with the largest
    remainders, the earlier one first when two are equal. No part is off by a whole step.

    Parameters
    ----------
    parts : sequence of Money or numbers
        The exact parts.
    decimals : int
        Places to show.

    Examples
    --------
    >>> [str(part) for part in shown_parts([Fraction(1, 3)] * 3, 2)]
    ['0.34', '0.33', '0.33']
    """
    scaled = [(part.exact if isinstance(part, Money) else Fraction(part)) * 10**decimals for part in parts]
    steps = [math.floor(part) for part in scaled]
    missing = round(sum(scaled, Fraction(0))) - sum(steps)
    by_remainder = sorted(range(len(scaled)), key=lambda i: (steps[i] - scaled[i], i))
    for i in by_remainder[:missing]:
        steps[i] += 1
    return tuple(_as_decimal(step, decimals) for step in steps)


def reckonable(number: Decimal, limit: Decimal) -> bool:
    """Whether a number from a file can be turned into a fraction without growing beyond bounds.

    >>> reckonable(Decimal("14.2"), Decimal(1000)), reckonable(Decimal("1e-999999"), Decimal(1000))
    (True, False)
    """
    exponent = number.as_tuple().exponent
    return isinstance(exponent, int) and exponent >= -_MOST_DECIMALS and number.copy_abs() <= limit


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceUnit:
    """What a bare price in a tariff file counts.

    Parameters
    ----------
    text : str
        As written, ``ct/kWh``.
    money : Fraction
        Units of currency to one of what is counted: 1/100 for cents.
    kwh : int
        Kilowatt-hours it is charged for: 1, or 1000 for a price per MWh.
    """

    text: str
    money: Fraction
    kwh: int

    def nano_per_kwh(self, price: Decimal) -> int:
        """Price in billionths of the currency per kWh.

        >>> parse_price_unit("ct/kWh", "EUR").nano_per_kwh(Decimal("14.2"))
        142000000
        """
        return round(Fraction(price) * self.money * 1_000_000_000 / self.kwh)


def _money_word(word: str, currency: str) -> Fraction | None:
    """Units of currency that a word of money stands for; None when the two don't go together."""
    if word.upper() == currency or currency in _SIGNS.get(word, ()):
        return Fraction(1)
    homes = _HUNDREDTHS.get(word.lower())
    if homes is None or (homes and currency not in homes):
        return None
    return Fraction(1, 100)


def parse_price_unit(text: str, currency: str) -> PriceUnit:
    """Read a unit of price such as ``ct/kWh`` or ``EUR/MWh``.

    Raises
    ------
    ValueError
        If it is no money per kWh or MWh, or not of this currency.

    Examples
    --------
    >>> parse_price_unit("EUR/MWh", "EUR").kwh
    1000
    """
    word, slash, energy = (piece.strip() for piece in text.partition("/"))
    kwh = {"kwh": 1, "mwh": 1000}.get(energy.lower())
    money = _money_word(word, currency)
    if not slash or kwh is None:
        raise ValueError(f'write money per kWh or MWh, such as "{currency}/kWh" or "ct/kWh"')
    if money is None:
        raise ValueError(f'{word!r} is no money of {currency}; write "{currency}/kWh" or a word for its cent')
    return PriceUnit(text=text, money=money, kwh=kwh)


def money_text(value: Decimal | str, currency: str, bare: Fraction) -> Fraction:
    """Amount in units of currency of a bare number, or of a text that carries its money.

    Parameters
    ----------
    value : Decimal or str
        ``61.0``, or ``"0.61 EUR"``.
    bare : Fraction
        Units of currency that a bare number counts.

    Raises
    ------
    ValueError
        If the text is not a number and a word of this currency.

    Examples
    --------
    >>> money_text("61 ct", "EUR", Fraction(1))
    Fraction(61, 100)
    """
    if isinstance(value, Decimal):
        return Fraction(value) * bare
    found = re.fullmatch(r"\s*([+-]?\d+(?:\.\d+)?)\s*(\D\S*)\s*", value)
    money = _money_word(found[2].strip(), currency) if found else None
    if found is None or money is None:
        raise ValueError(f'write a number, or a number with its money: "0.61 {currency}"')
    return Fraction(found[1]) * money
