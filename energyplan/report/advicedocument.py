"""Advice as JSON documents: any result's plain numbers, without the days and plans that they were made from."""

import dataclasses
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from typing import Any

import numpy as np

from energyplan.advice.best import BestPlan
from energyplan.advice.compare import Comparison
from energyplan.advice.nextmeasure import what_to_measure
from energyplan.advice.savings import Savings
from energyplan.advice.spread import Spread
from energyplan.brewday import BrewDay
from energyplan.circuits.check import CircuitCheck
from energyplan.plan import Plan
from energyplan.tariffs.money import Money

__all__ = ["best_document", "compare_document", "plain", "savings_document", "spread_document"]

_LEFT_OUT = (BrewDay, Plan, CircuitCheck)


def plain(value: Any) -> Any:
    """Turn a result into what JSON knows; days, plans and checks within it are left out.

    Examples
    --------
    >>> plain({"cost": Money(units=0, currency="EUR"), "lowest_c": np.array([66.0])})
    {'cost': 0.0, 'lowest_c': [66.0]}
    """
    if dataclasses.is_dataclass(value) and not isinstance(value, type | Money):
        value = {field.name: getattr(value, field.name) for field in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items() if not isinstance(item, _LEFT_OUT)}
    if isinstance(value, list | tuple):
        return [plain(item) for item in value if not isinstance(item, _LEFT_OUT)]
    return next((write(value) for kind, write in _WRITTEN.items() if isinstance(value, kind)), value)


def _instant(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


_WRITTEN: dict[type, Callable[[Any], Any]] = {
    Money: float,
    datetime: _instant,
    np.ndarray: np.ndarray.tolist,
    np.generic: np.generic.item,
}


def savings_document(found: Savings) -> dict[str, Any]:
    """The document of ``savings --json``."""
    document: dict[str, Any] = plain(found)
    document["energy_kwh"] = found.base.energy_kwh
    return document


def spread_document(found: Spread) -> dict[str, Any]:
    """The document of ``spread --json``: ranges and chances, not the draws."""
    document: dict[str, Any] = plain(found)
    for name in ("inputs", "outputs"):
        document.pop(name)
    ranked = what_to_measure(found)
    document["measure_next"] = plain(ranked.best)
    document["narrows"] = {
        key: [plain(row) | {"narrows_frac": row.narrows_frac} for row in rows] for key, rows in ranked.outputs.items()
    }
    return document


def compare_document(found: Comparison) -> dict[str, Any]:
    """The document of ``compare --json``."""
    document: dict[str, Any] = plain(found)
    for shown, compared in zip(document["days"], found.days, strict=True):
        shown |= {"energy_kwh": compared.day.energy_kwh, "minutes": compared.day.duration_s / 60}
    return document


def best_document(found: BestPlan) -> dict[str, Any]:
    """The document of ``power --best-for … --json``."""
    document: dict[str, Any] = plain(found)
    return document
