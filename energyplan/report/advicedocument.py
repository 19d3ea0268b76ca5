"""Advice as JSON documents: any result's plain numbers, without the days and plans that they were made from."""

from typing import Any

from energyplan.advice.uncertainty import Spread
from energyplan.advice.value_of_information import what_to_measure
from energyplan.report.plainvalues import plain

__all__ = ["spread_document"]


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
