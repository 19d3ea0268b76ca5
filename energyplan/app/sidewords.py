"""Sentences about two days beside each other: two plans, or a plan and its log."""

from energyplan.advice.answer import Answer
from energyplan.learning.measured import DayComparison

__all__ = [
    "SHOWN_COST",
    "SHOWN_KWH",
    "SHOWN_MIN",
    "log_headline",
    "more_or_less",
    "next_time",
    "side_headline",
    "time_sentence",
]

SHOWN_KWH, SHOWN_MIN = 0.005, 0.5
SHOWN_COST = 0.005
NAMED = 0.25  # share of the difference below which an input is no likely cause
NEXT_TIME = {
    "loss": "take the measured heat loss over, above, and look at the lid: a gap doubles what is lost",
    "power": "take the measured element power over, above; the plate tells it at another voltage",
    "air": "note the temperature of the air beside the vessel, and enter it on the page Set-up",
    "start": "measure the water before it is heated, and enter its temperature on the page Set-up",
    "water": "measure the water with a marked stick, and enter the volume on the page Set-up",
    "other": "put the meter on the vessel alone, or note what else hangs on it",
}


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


def log_headline(found: DayComparison) -> str:
    """What the day took against what was planned for the same phases."""
    if found.measured_kwh is None:
        return f"This day beside its plan: {_minutes(found)}; the log has no meter."
    change = found.measured_kwh - found.planned_kwh
    where = "within" if found.within_meter_error else "outside"
    return (
        f"The day took {found.measured_kwh:.2f} kWh, {change:+.2f} kWh against the plan ({where} the meter's error), "
        f"and was {_minutes(found)}."
    )


def _minutes(found: DayComparison) -> str:
    more = sum(one.measured_min - one.planned_min for one in found.phases)
    return more_or_less(more, " min", 0, SHOWN_MIN, ("longer", "shorter", "as long as planned"))


def time_sentence(found: DayComparison) -> str:
    """How much of the difference is due to pauses, holds and boils that were longer or shorter."""
    if abs(found.longer_kwh) < SHOWN_KWH:
        return ""
    more = "longer" if found.longer_kwh > 0 else "shorter"
    return f"Pauses, holds and boils were {more} than planned; that alone is {found.longer_kwh:+.2f} kWh."


def next_time(found: DayComparison) -> str:
    """What to do about the likely cause; nothing where plan and log agree, or no input stands out."""
    if not found.explanations or found.explanations[0].share < NAMED:
        return ""
    return f"Next time: {NEXT_TIME[found.explanations[0].key]}."
