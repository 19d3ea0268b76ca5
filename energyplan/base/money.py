"""Exact money: integers inside, rounded once, at display.

A cost is a sum of prices in millionths of the currency per kWh times energies in millijoules.
Both are integers, so a cost is one too: a count of *units* of which 3.6e15 make one euro, pound
or dollar. Nothing is lost by splitting a day into phases and adding them up again.
"""

import math
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from energyplan.base.errors import TariffError
from energyplan.base.records import dataclass

__all__ = ["ESTIMATE_MARK", "MJ_PER_KWH", "UNITS_PER_CURRENCY", "Money", "currency_decimals", "shown_parts"]

#: Millijoules in a kilowatt-hour.
MJ_PER_KWH = 3_600_000_000

#: Stands before every amount that rests on a guessed price.
ESTIMATE_MARK = "est. "

#: Exact units of `Money` in one unit of currency: millionths times millijoules per kWh.
UNITS_PER_CURRENCY = 1_000_000 * MJ_PER_KWH

# ISO 4217 gives these currencies no decimals, or three; all others in use have two (from memory).
_NO_DECIMALS = frozenset(
    {"BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG", "RWF", "UGX", "VND", "VUV", "XAF", "XOF", "XPF"}
)
_THREE_DECIMALS = frozenset({"BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Money:
    """An exact amount of one currency.

    Parameters
    ----------
    units : int
        Count of exact units, `UNITS_PER_CURRENCY` to one unit of currency.
    currency : str
        ISO 4217 code.
    is_estimate : bool
        Whether a price in it is guessed; it is never written without saying so.

    Examples
    --------
    >>> print(Money(units=UNITS_PER_CURRENCY * 5 // 4, currency="EUR"))
    1.25 EUR
    """

    units: int
    currency: str
    is_estimate: bool = False

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
        return f"{self.mark}{self.rounded()} {self.currency}"

    @property
    def mark(self) -> str:
        """What stands before an amount that is guessed."""
        return ESTIMATE_MARK if self.is_estimate else ""

    def __add__(self, other: "Money") -> "Money":
        self._same_currency(other)
        return self._with(self.units + other.units, other)

    def __sub__(self, other: "Money") -> "Money":
        self._same_currency(other)
        return self._with(self.units - other.units, other)

    def _with(self, units: int, other: "Money") -> "Money":
        return Money(units=units, currency=self.currency, is_estimate=self.is_estimate or other.is_estimate)

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
