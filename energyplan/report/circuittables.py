"""The circuit as DataFrames: currents against ratings, what is over, at which voltage."""

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from energyplan.circuits.check import CircuitCheck
from energyplan.circuits.study import Rating
from energyplan.report.tableparts import coarse, frame_of

if TYPE_CHECKING:
    from datetime import datetime

    import pandas as pd

__all__ = ["current_table", "excess_table", "rating_table"]

FloatArray = NDArray[np.float64]

LEAST_A = 0.05  # what a reader of currents can't tell from nothing


def current_table(check: CircuitCheck, clock: "Callable[[float], datetime]", most: int | None = None) -> "pd.DataFrame":
    """Current of each appliance over time with its elements on, stacked on the ones before it.

    Parameters
    ----------
    check : CircuitCheck
        The circuit's check.
    clock : callable
        Local time at some seconds after the start (`Answer.clock`).
    most : int, optional
        No more appliances than this; the smallest are then one row, with their count as its name.
    """
    named = _named(check, most)
    edges_s, columns = coarse(check.edges_s, [on_a for _, on_a in named])
    rows: list[dict[str, Any]] = []
    below_a = np.zeros(edges_s.shape[0] - 1)
    for (name, _), on_a in zip(named, columns, strict=True):
        rows += _stacked(name, edges_s, below_a, below_a + on_a)
        below_a = below_a + on_a
    for row in rows:
        row["start_clock"], row["end_clock"] = (f"{clock(row[key]):%H:%M}" for key in ("start_s", "end_s"))
    names = ("start_s", "end_s", "appliance", "current_a", "from_a", "to_a", "start_clock", "end_clock")
    return frame_of(rows, names)


def _named(check: CircuitCheck, most: int | None) -> list[tuple[str, FloatArray]]:
    """Appliances in their order; when there are too many, the largest, and the others together."""
    listed = [(appliance.name, appliance.on_a) for appliance in check.appliances]
    if most is None or len(listed) <= most:
        return listed
    by_size = sorted(range(len(listed)), key=lambda place: -float(listed[place][1].max(initial=0.0)))
    kept = sorted(by_size[: most - 1])
    others = [listed[place][1] for place in by_size[most - 1 :]]
    return [*(listed[place] for place in kept), (f"{len(others)} others", np.sum(others, axis=0))]


def _stacked(name: str, edges_s: FloatArray, from_a: FloatArray, to_a: FloatArray) -> list[dict[str, Any]]:
    """Spans of one appliance; steps that a reader can't tell apart are one span, with its largest current."""
    rows: list[dict[str, Any]] = []
    for start_s, end_s, low_a, high_a in zip(edges_s[:-1], edges_s[1:], from_a, to_a, strict=True):
        if high_a - low_a < LEAST_A:
            continue
        last = rows[-1] if rows else None
        if last and last["end_s"] == start_s and abs(last["from_a"] - low_a) + abs(last["to_a"] - high_a) < LEAST_A:
            last.update(end_s=float(end_s), to_a=max(last["to_a"], float(high_a)))
        else:
            rows.append({"start_s": float(start_s), "end_s": float(end_s), "appliance": name, "current_a": 0.0,
                         "from_a": float(low_a), "to_a": float(high_a)})  # fmt: skip
        rows[-1]["current_a"] = rows[-1]["to_a"] - rows[-1]["from_a"]
    return rows


def rating_table(check: CircuitCheck) -> "pd.DataFrame":
    """Ratings that were entered, lowest first; those of equal limit share a row and a text."""
    by_limit: dict[float, list[Rating]] = {}
    for rating in check.ratings:
        by_limit.setdefault(rating.limit_a, []).append(rating)
    rows = ({"limit_a": limit_a, "text": _limit_text(limit_a, found)} for limit_a, found in sorted(by_limit.items()))
    return frame_of(rows, ("limit_a", "text"))


def _limit_text(limit_a: float, found: Sequence[Rating]) -> str:
    """What has a limit; what only the vessel goes through last."""
    alone = [rating.name for rating in found if not rating.whole_circuit]
    names = [*(rating.name for rating in found if rating.whole_circuit), *alone]
    return f"{limit_a:g} A {', '.join(names)}{' (vessel alone)' if alone else ''}"


def excess_table(check: CircuitCheck, clock: "Callable[[float], datetime]") -> "pd.DataFrame":
    """Stretches in which the whole current is above the lowest rating that the whole circuit goes through."""
    names = ("start_s", "end_s", "limit_a", "current_a", "start_clock", "end_clock")
    limits = [rating.limit_a for rating in check.ratings if rating.whole_circuit]
    if not limits:
        return frame_of([], names)
    limit_a = min(limits)
    edges_s, (total_a,) = coarse(check.edges_s, [check.on_a])
    rows: list[dict[str, Any]] = []
    for start_s, end_s, on_a in zip(edges_s[:-1], edges_s[1:], total_a, strict=True):
        if on_a <= limit_a:
            continue
        if rows and rows[-1]["end_s"] == start_s:
            rows[-1].update(end_s=float(end_s), current_a=max(rows[-1]["current_a"], float(on_a)))
            continue
        rows.append({"start_s": float(start_s), "end_s": float(end_s), "limit_a": limit_a, "current_a": float(on_a)})
    for row in rows:
        row["start_clock"], row["end_clock"] = (f"{clock(row[key]):%H:%M}" for key in ("start_s", "end_s"))
    return frame_of(rows, names)
