"""The best plans for cost, time and circuit, and what lies between them, as choices to take over."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from energyplan.advice.best import AS_PLANNED, BestFor, BestPlan, Option
from energyplan.report.tableparts import frame_of
from energyplan.tariffs.clock import to_local

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["AS_IS", "Choice", "choice_table", "choices_of"]

AS_IS = "As it is"
NEXT_TO_NOTHING = 1e-3  # shares of a cost, minutes or ratings that make nothing better


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Choice:
    """A way to brew the day: its number, what it is best in and what is different, and what was noted about it."""

    number: int
    name: str
    option: Option
    notes: tuple[str, ...] = ()

    @property
    def is_as_it_is(self) -> bool:
        """Whether it is the plan as it is."""
        return self.number == 1


def choices_of(found: Sequence[BestPlan]) -> tuple[Choice, ...]:
    """The plan as it is, the best for each aim, and what lies between; ways that are the same stand once.

    Parameters
    ----------
    found : sequence of BestPlan
        For one plan and the same prices, an aim each.
    """
    notes = {_key(best.chosen): best.notes for best in found}
    options = [found[0].planned, *(best.chosen for best in found), *(one for best in found for one in best.frontier)]
    first: dict[tuple[Any, ...], Option] = {}
    for option in options:
        first.setdefault(_key(option), option)
    listed = list(first.values())
    best_in = {aim: _best(listed, measure) for aim, measure in _measures(found).items()}
    return tuple(
        Choice(
            number=place + 1,
            name=_name(option, [aim for aim, best in best_in.items() if best is option], is_planned=place == 0),
            option=option,
            notes=notes.get(_key(option), ()) if place else (),
        )
        for place, option in enumerate(listed)
    )


def _key(option: Option) -> tuple[Any, ...]:
    return option.plan, option.start


def _measures(found: Sequence[BestPlan]) -> dict[str, Callable[[Option], float]]:
    """What the aims that were asked for are measured by, the smaller the better."""
    words: dict[BestFor, tuple[str, Callable[[Option], float]]] = {
        "cost": ("cheapest", lambda option: option.value),
        "time": ("quickest", lambda option: option.minutes),
        "circuit": ("gentlest on the circuit", lambda option: option.use_frac or option.peak_a or 0.0),
    }
    return dict(words[best.best_for] for best in found)


def _best(options: Sequence[Option], measure: Callable[[Option], float]) -> Option:
    """The first option than which none is better by more than next to nothing; those that are over come last."""
    fewest = min(len(option.over) for option in options)
    allowed = [option for option in options if len(option.over) == fewest]
    least = min(measure(option) for option in allowed)
    return next(option for option in allowed if measure(option) <= least + NEXT_TO_NOTHING * abs(least))


def _name(option: Option, aims: Sequence[str], *, is_planned: bool) -> str:
    if is_planned:
        return AS_IS + "".join(f", already the {aim}" for aim in aims)
    if aims:
        joined = " and ".join(aims)
        return joined[:1].upper() + joined[1:]
    powers = "Powers as planned" if option.ramps == AS_PLANNED else option.ramps.capitalize()
    return f"{powers}, another start" if option.wait_min == 0 else f"{powers}, waits {option.wait_min:.0f} min"


def choice_table(choices: Sequence[Choice], zone: str) -> "pd.DataFrame":
    """Ways to brew the day, a row each: start, minutes, cost, energy, largest current, and what is different."""
    rows = []
    for one in choices:
        option = one.option
        row: dict[str, Any] = {"way": f"{one.number}. {one.name}"}
        if option.cost is not None:
            row[f"cost_{option.cost.currency.lower()}"] = float(option.cost)
        row |= {"energy_kwh": option.energy_kwh, "duration_min": option.minutes}
        if option.peak_a is not None:
            row["peak_a"] = option.peak_a
        if option.start is not None:
            row["start_clock"] = f"{to_local(option.start, zone):%a %H:%M}"
        rows.append({**row, "ramps": option.ramps, "wait_min": option.wait_min})
    return frame_of(rows)
