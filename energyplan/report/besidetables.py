"""Two plans beside each other, phase by phase; courses of temperature for their chart."""

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from energyplan.advice.answer import Answer
from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.units import Display
from energyplan.day.brewday import BrewDay, Phase
from energyplan.day.legs import PhaseName
from energyplan.report.tableparts import corners, frame_of, temperature_key

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["beside_points", "paired_phase_table", "paired_total_table"]

FloatArray = NDArray[np.float64]
Key = tuple[str, PhaseName]

MOST_POINTS = 300
SORTS: tuple[tuple[str, PhaseName], ...] = (("Heating up", "ramp"), ("Holding", "hold"), ("Boiling", "boil"))


def paired_phase_table(first: Answer, second: Answer) -> "pd.DataFrame":
    """Minutes, energy, cost and largest current of each phase of two plans; empty where a plan has no such phase.

    Phases are the same when step and kind are; costs are in the currency of each answer.
    """
    halves = [{(phase.step, phase.phase): phase for phase in one.day.phases} for one in (first, second)]
    rows = []
    for key in _in_order(list(halves[0]), list(halves[1])):
        row: dict[str, Any] = {"step": key[0], "phase": key[1]}
        for side, one, phases in zip(("first", "second"), (first, second), halves, strict=True):
            row |= _half(side, one, phases.get(key))
        rows.append(row)
    frame = frame_of(rows)
    kinds = ("kwh", "cost", "min", "a")
    ordered = [f"{side}_{kind}" for kind in kinds for side in ("first", "second")]
    return frame[["step", "phase", *(name for name in ordered if name in frame.columns)]]


def _in_order(first: list[Key], second: list[Key]) -> list[Key]:
    """Keys of both lists, those of the second alone behind the one they follow."""
    keys = list(first)
    for place, key in enumerate(second):
        if key not in keys:
            before = keys.index(second[place - 1]) + 1 if place else 0
            keys.insert(before, key)
    return keys


def _half(side: str, one: Answer, phase: Phase | None) -> dict[str, Any]:
    if phase is None:
        return {f"{side}_kwh": None, f"{side}_min": None}
    row: dict[str, Any] = {f"{side}_kwh": phase.energy_j / JOULES_PER_KWH, f"{side}_min": phase.duration_s / 60}
    if one.price is not None:
        row[f"{side}_cost"] = float(one.price.of_phase(phase))
    if one.circuit is not None:
        row[f"{side}_a"] = peak_of_phase_a(one, phase)
    return row


def peak_of_phase_a(one: Answer, phase: Phase) -> float | None:
    """Largest current of the circuit during a phase, elements on [A]; None without a circuit."""
    if one.circuit is None:
        return None
    edges_s = one.circuit.edges_s
    during = (edges_s[1:] > phase.start_s) & (edges_s[:-1] < phase.end_s)
    return float(one.circuit.on_a[during].max()) if during.any() else None


def paired_total_table(first: Answer, second: Answer, show: Display) -> "pd.DataFrame":
    """The days as wholes, a number on each row: the first, the second, and what is more or less."""
    days = (first.day, second.day)
    rows = [_total("Energy, kWh", 2, *(day.energy_kwh for day in days))]
    rows += [_total(f"{words}, kWh", 2, *(day.energy_of(kind) for day in days)) for words, kind in SORTS]
    if first.price is not None and second.price is not None:
        costs = (float(one.price.total.total) for one in (first, second) if one.price is not None)
        rows.insert(0, _total(f"Cost, {second.price.line.currency}", 2, *costs))
    rows.append(_total("From start to end, min", 0, *(day.duration_s / 60 for day in days)))
    if first.circuit is not None and second.circuit is not None:
        rows.append(_total("Largest current, A", 1, first.circuit.peak_a, second.circuit.peak_a))
    return frame_of([*rows, _volumes(days, show)])


def _total(words: str, digits: int, *both: float) -> dict[str, str]:
    first, second = both
    more = f"{second - first:+.{digits}f}"
    return {
        "number": words,
        "first": f"{first:.{digits}f}",
        "second": f"{second:.{digits}f}",
        "difference": more if more.strip("+-0.") else "the same",
    }


def _volumes(days: tuple[BrewDay, BrewDay], show: Display) -> dict[str, str]:
    first, second = (show.volume(day.wort.end_l) for day in days)
    return {"number": "Wort after the boil", "first": first, "second": second, "difference": ""}


def beside_points(name: str, times_s: FloatArray, temperatures_c: FloatArray, show: Display) -> list[dict[str, Any]]:
    """A course of temperature as rows of a chart, at most 300: line, time_min and the temperature as displayed."""
    chosen, key = corners(times_s, temperatures_c, MOST_POINTS), temperature_key(show)
    return [
        {
            "line": name,
            "time_min": float(times_s[index]) / 60,
            f"temperature_{key}": float(show.temperature_number(float(temperatures_c[index]))),
        }
        for index in chosen
    ]
