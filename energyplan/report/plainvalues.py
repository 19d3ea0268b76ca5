"""Results as what JSON knows."""

import dataclasses
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from typing import Any

import numpy as np

from energyplan.base.money import Money
from energyplan.circuits.check import CircuitCheck
from energyplan.day.brewday import BrewDay
from energyplan.plan.model import Plan

__all__ = ["plain"]

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
