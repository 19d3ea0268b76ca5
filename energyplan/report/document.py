"""Circuit and powers for machines: unrounded, with SI suffixes."""

import dataclasses
from typing import Any

from energyplan.advice.power import PowerAdvice
from energyplan.circuits.check import CircuitCheck

__all__ = ["circuit_document", "power_document"]

Document = dict[str, Any]


def circuit_document(check: CircuitCheck) -> Document:
    """The circuit's numbers and findings."""
    numbers = (
        "peak_a",
        "limit_a",
        "continuous_a",
        "rms_60_min_a",
        "longest_at_peak_min",
        "voltage_drop_v",
        "voltage_drop_frac",
    )
    return {
        **{name: getattr(check, name) for name in numbers},
        "findings": [dataclasses.asdict(finding) for finding in check.findings],
    }


def power_document(advice: PowerAdvice) -> list[Document]:
    """One entry per hold and boil."""
    return [dataclasses.asdict(row) for row in advice.rows]
