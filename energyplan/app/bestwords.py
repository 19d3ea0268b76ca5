"""Sentences about ways to brew the day: which is best for what, and what a way trades for what."""

from collections.abc import Iterator, Sequence

from energyplan.advice.best import Option
from energyplan.app.sidewords import SHOWN_COST, SHOWN_KWH, SHOWN_MIN, more_or_less
from energyplan.report.besttables import Choice
from energyplan.tariffs.clock import to_local

__all__ = ["best_sentence", "cautions", "trade_sentence"]

SHOWN_A = 0.05


def best_sentence(choices: Sequence[Choice]) -> str:
    """Whether the plan can be bettered at all, and in what."""
    if len(choices) == 1:
        return "Of all that was tried nothing is cheaper, quicker or gentler than the plan as it is."
    ways = [f"{one.number} {one.name[:1].lower()}{one.name[1:]}" for one in choices]
    return f"{len(choices)} ways to brew this day: {'; '.join(ways)}."


def trade_sentence(option: Option, planned: Option, zone: str) -> str:
    """What a way gives and takes against the plan as it is."""
    parts = []
    if option.cost is not None and planned.cost is not None:
        more = float(option.cost) - float(planned.cost)
        words = ("dearer", "cheaper", "the same cost")
        parts.append(more_or_less(more, f" {option.cost.currency}", 2, SHOWN_COST, words))
    minutes = option.minutes - planned.minutes
    parts.append(more_or_less(minutes, " min", 0, SHOWN_MIN, ("longer", "shorter", "the same time")))
    kwh = option.energy_kwh - planned.energy_kwh
    parts.append(more_or_less(kwh, " kWh", 2, SHOWN_KWH, ("more", "less", "the same kWh")))
    if option.peak_a is not None and planned.peak_a is not None:
        words = ("more at the peak", "less at the peak", "the same peak")
        parts.append(more_or_less(option.peak_a - planned.peak_a, " A", 1, SHOWN_A, words))
    begins = "" if option.start is None else f" It starts at {to_local(option.start, zone):%H:%M on %a %d %b}."
    return f"Against the plan as it is: {', '.join(parts)}.{begins}"


def cautions(chosen: Choice) -> Iterator[str]:
    """What must be known before a way is taken: ratings that are over."""
    option = chosen.option
    if option.over:
        yield f"Over on the circuit: {', '.join(code.replace('_', ' ') for code in option.over)}."
