"""Quantities as text in the units of whoever wrote them: in as few digits as read back as the same value."""

import math
from decimal import Decimal

from energyplan.base.errors import UnitsError
from energyplan.base.units import COMMON, FAHRENHEIT, QUANTITY, Kind, fewest_digits, read_quantity

__all__ = ["reads_as", "respelled", "spelled"]

MOST_DIGITS = 7  # of a number that people write
_TIDY = {"m": "cm", "m2": "cm2", "s": "min"}  # where people write otherwise than a kind is kept; common practice


def spelled(value: float, kind: Kind, unit: str) -> str | None:
    """A value as text in a unit, in the fewest digits that read back as the same value; None where it takes too many.

    Examples
    --------
    >>> from energyplan.base.units import MASS, POWER, VOLUME
    >>> spelled(1400.0, POWER, "kW"), spelled(26.497882488, VOLUME, "gal"), spelled(5.0, MASS, "lb")
    ('1.4 kW', '7 gal', None)
    """
    number: float | None = None
    if (factor := COMMON[kind.unit].get(unit)) is not None:
        number = float(Decimal(repr(value)) / factor)
    elif kind.unit == "degC" and unit in FAHRENHEIT:
        number = value * 1.8 + 32.0
    if number is None:
        return None
    place = math.floor(math.log10(abs(number))) if number else 0  # of the first digit
    for digits in range(MOST_DIGITS):
        text = f"{fewest_digits(round(number, digits - place))} {unit}"
        if reads_as(text, kind, value):
            return text
    return None


def reads_as(text: str, kind: Kind, value: float) -> bool:
    """Whether a text says just that value."""
    try:
        return read_quantity(text, kind) == value
    except UnitsError:
        return False


def respelled(value: float, kind: Kind, *likes: object) -> str:
    """A value as text: as one of some texts if that says it, else in the unit of one, else in that of the trade.

    Parameters
    ----------
    likes : str
        How it is, or was, written; the likeliest first. What is no text is left aside.

    Examples
    --------
    >>> from energyplan.base.units import LENGTH, POWER, VOLUME
    >>> respelled(1400.0, POWER, "1.8 kW"), respelled(0.47, LENGTH), respelled(26.497882488, VOLUME, "7.0 gal")
    ('1.4 kW', '47 cm', '7.0 gal')
    """
    texts = [like for like in likes if isinstance(like, str)]
    for text in texts:
        if reads_as(text, kind, value):
            return text
    own, units = kind.written(value), [match[2] for text in texts if (match := QUANTITY.fullmatch(text))]
    for unit in (*units, _TIDY.get(kind.unit, kind.unit)):
        found = spelled(value, kind, unit)
        if found is not None and len(found) <= len(own) + len(unit):
            return found
    return own
