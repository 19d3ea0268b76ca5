"""Sentences about two plans beside each other."""

from energyplan.advice.answer import Answer

__all__ = [
    "SHOWN_COST",
    "SHOWN_KWH",
    "SHOWN_MIN",
    "more_or_less",
    "side_headline",
]

SHOWN_KWH, SHOWN_MIN = 0.005, 0.5
SHOWN_COST = 0.005


def side_headline(other: Answer, desk: Answer, name: str) -> str:
    """What the plan on the desk takes more or less than the other one: money, energy, minutes, amps."""
    parts = []
    if other.price is not None and desk.price is not None:
        more, currency = float(desk.price.total.total - other.price.total.total), desk.price.line.currency
        parts.append(more_or_less(more, f" {currency}", 2, SHOWN_COST, ("dearer", "cheaper", "the same cost")))
    more = desk.day.energy_kwh - other.day.energy_kwh
    parts.append(more_or_less(more, " kWh", 2, SHOWN_KWH, ("more", "less", "the same kWh")))
    more = (desk.day.duration_s - other.day.duration_s) / 60
    parts.append(more_or_less(more, " min", 0, SHOWN_MIN, ("longer", "shorter", "the same time")))
    against = "the plan as opened" if name == "as opened" else name
    return f"Against {against}: {', '.join(parts)}."


def more_or_less(more: float, unit: str, digits: int, shown: float, words: tuple[str, str, str]) -> str:
    """A difference in words: so much more, so much less, or as good as none.

    >>> more_or_less(-12.3, " min", 0, 0.5, ("longer", "shorter", "same time"))
    '12 min shorter'
    """
    if abs(more) < shown:
        return words[2]
    return f"{abs(more):.{digits}f}{unit} {words[0] if more > 0 else words[1]}"
