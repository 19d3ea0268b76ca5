"""Differences in words: so much more, so much less, or as good as none."""

from collections.abc import Callable

from energyplan.base.kinds import AMPERES, KWH, MINUTES, MONEY, Value
from energyplan.base.money import Money
from energyplan.base.sentence import Sentence

__all__ = ["amperes_more", "kwh_more", "minutes_more", "money_more", "more_or_less"]

SHOWN = {"kwh": 0.005, "min": 0.5, "a": 0.05}


def more_or_less(amount: Value, *, more: bool, words: tuple[str, str]) -> Sentence:
    """So much more, or so much less.

    >>> print(more_or_less(MINUTES(12.3), more=False, words=("longer", "shorter")))
    12 min shorter
    """
    return Sentence(f"{{amount}} {words[0 if more else 1]}", amount=amount)


def _told(
    change: float, shown: float, kind: Callable[[float], Value], words: tuple[str, str, str]
) -> Sentence:  # fmt: skip
    if abs(change) < shown:
        return Sentence(words[2])
    return more_or_less(kind(abs(change)), more=change > 0, words=words[:2])


def kwh_more(change_kwh: float) -> Sentence:
    """A difference of energy."""
    return _told(change_kwh, SHOWN["kwh"], KWH, ("more", "less", "the same kWh"))


def minutes_more(change_min: float) -> Sentence:
    """A difference of time."""
    return _told(change_min, SHOWN["min"], MINUTES, ("longer", "shorter", "the same time"))


def amperes_more(change_a: float) -> Sentence:
    """A difference of the largest current."""
    return _told(change_a, SHOWN["a"], AMPERES, ("more at the peak", "less at the peak", "the same peak"))


def money_more(change: Money) -> Sentence:
    """A difference of cost."""
    if not any(digit in "123456789" for digit in str(change.rounded())):
        return Sentence("the same cost")
    amount = Money(units=abs(change.units), currency=change.currency)
    return more_or_less(MONEY(amount), more=change.units > 0, words=("dearer", "cheaper"))
