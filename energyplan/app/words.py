"""Sentences that only the app says: the answers of its pages beside the day's own."""

from energyplan.advice.answer import Answer
from energyplan.advice.uncertainty import Spread

__all__ = [
    "range_sentence",
]


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
