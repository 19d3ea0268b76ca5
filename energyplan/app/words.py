"""Sentences that only the app says: the answers of its pages beside the day's own."""

import re

from energyplan.advice.answer import Answer
from energyplan.advice.savings import Saving, Savings
from energyplan.advice.uncertainty import Spread
from energyplan.base.units import Display
from energyplan.report.retold import retold
from energyplan.report.sentences import circuit_sentence

__all__ = [
    "circuit_headline",
    "range_sentence",
    "savings_headline",
    "together_sentence",
]

METRIC = Display("metric")
SHOWN_KWH = 0.005  # what is told as 0.01 kWh


def circuit_headline(answer: Answer) -> str:
    """The verdict on the circuit, as far as its first full stop, colon or semicolon after the verdict's own."""
    verdict, colon, rest = circuit_sentence(answer).partition(": ")
    if not colon:
        return verdict
    first = re.split(r"[:;] |\. ", rest, maxsplit=1)[0].rstrip(".")
    return f"{verdict}: {first}."


def range_sentence(answer: Answer, found: Spread) -> str:
    """Where energy, cost and finish lie on eight days in ten."""
    energy, minutes = found.range_of("energy_kwh"), found.range_of("minutes")
    cost = ""
    if answer.price is not None:
        money = found.range_of("cost")
        cost = f", {money.p10:.2f} to {money.p90:.2f} {found.currency}"
    early, late = (answer.clock(minute * 60) for minute in (minutes.p10, minutes.p90))
    return (
        f"Eight days in ten: {energy.p10:.1f} to {energy.p90:.1f} kWh{cost}, done between {early:%H:%M} and "
        f"{late:%H:%M}. Measure next: {found.next_measurement.measure}."
    )


def savings_headline(found: Savings, show: Display = METRIC) -> str:
    """The change that is worth most; where money leads, the one that saves most energy beside it."""
    if not found.rows:
        return "Nothing can be changed in this plan."
    first, most = found.rows[0], max(found.rows, key=lambda row: row.saved_kwh)
    said = f"Most for least: {_named(first)}, {_worth(first)} a brew."
    if first is not most and found.objective != "energy":
        said = f"{said} In energy: {_named(most)}, {_worth(most)}."
    return retold(said, show)


def _named(row: Saving) -> str:
    return f"{row.name[:1].lower()}{row.name[1:]}"


def _worth(row: Saving) -> str:
    energy = f"{row.saved_kwh:.2f} kWh" if abs(row.saved_kwh) >= SHOWN_KWH else ""
    return " and ".join(part for part in (energy, f"{row.saved_money}" if row.saved_money else "") if part)


def together_sentence(found: Savings, show: Display = METRIC) -> str:
    """What the best combination saves, and that savings don't add up."""
    if found.together is None:
        return ""
    money = f" and {found.together.saved_money}" if found.together.saved_money else ""
    return (
        f"All that is worth it together saves {found.together.saved_kwh:.2f} kWh{money} a brew; one by one the same "
        f"changes would add up to {found.added_up_kwh:.2f} kWh, because they act on each other. It is: "
        f"{retold(found.together.name, show)}."
    )
