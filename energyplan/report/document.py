"""Powers for machines: unrounded, with SI suffixes."""

import dataclasses
from typing import Any

from energyplan.advice.power import PowerAdvice

__all__ = ["power_document"]

Document = dict[str, Any]


def power_document(advice: PowerAdvice) -> list[Document]:
    """One entry per hold and boil."""
    return [dataclasses.asdict(row) for row in advice.rows]
