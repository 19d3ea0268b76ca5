"""Prices as tariff files write them: units of price, and money with or without its word."""

import re
from decimal import Decimal
from fractions import Fraction

from energyplan.base.records import dataclass

__all__ = ["PriceUnit", "money_text", "parse_price_unit", "reckonable"]

_MOST_DECIMALS = 40

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
