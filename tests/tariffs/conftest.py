"""Loads and tariffs for the tests of this folder."""

from collections.abc import Callable, Sequence

import numpy as np
import pytest

from energyplan.base.load import LoadProfile
from energyplan.tariffs.tariff import Tariff
from energyplan.tariffs.tarifffile import parse_tariff

HEAD = """
[tariff]
name = "Test"
currency = "{currency}"
price_unit = "{unit}"
time_zone = "{zone}"
"""


@pytest.fixture(scope="session")
def load_of() -> Callable[..., LoadProfile]:
    """Build a load from watts, one step after the other."""

    def build(watts: Sequence[float], step_s: float | Sequence[float] = 3600.0, from_s: float = 0.0) -> LoadProfile:
        steps = np.broadcast_to(np.asarray(step_s, dtype=np.float64), (len(watts),))
        zeros = np.zeros(len(watts))
        return LoadProfile(
            name="vessel",
            edges_s=from_s + np.concatenate([[0.0], np.cumsum(steps)]),
            mean_w=np.asarray(watts, dtype=np.float64),
            heater_w_per_v2=zeros,
            other_w=zeros,
        )

    return build


@pytest.fixture(scope="session")
def tariff_of() -> Callable[..., Tariff]:
    """Build a tariff from what follows the usual head; keys of [tariff] come first in the body."""

    def build(body: str, *, zone: str = "Europe/London", unit: str = "", currency: str = "GBP", **given) -> Tariff:
        head = HEAD.format(zone=zone, currency=currency, unit=unit or f"{currency}/kWh")
        return parse_tariff(head + body, **given)

    return build


@pytest.fixture(scope="session")
def brew_like() -> LoadProfile:
    """A day of 25 steps with borders between whole seconds, as a simulation gives it (seeded)."""
    rng = np.random.default_rng(20260101)
    return LoadProfile(
        name="vessel",
        edges_s=np.concatenate([[0.0], np.cumsum(rng.uniform(120.0, 1900.0, 25))]),
        mean_w=rng.uniform(0.0, 3500.0, 25),
        heater_w_per_v2=np.zeros(25),
        other_w=np.zeros(25),
    )
