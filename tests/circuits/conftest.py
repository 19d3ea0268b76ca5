"""Builders of load profiles and circuits for the circuit tests."""

from collections.abc import Callable, Sequence

import numpy as np
import pytest

from energyplan.base.load import LoadProfile
from energyplan.physics.conductors import awg_mm2
from energyplan.plan.model import Circuit

Builder = Callable[..., LoadProfile]
Circuits = Callable[..., Circuit]


def build_profile(
    name: str,
    steps: Sequence[tuple[float, float, float]],
    *,
    power_w: float,
    voltage_v: float,
    other_w: float = 0.0,
) -> LoadProfile:
    """Make a profile from (begin [min], end [min], share of the full power) steps; gaps are off."""
    edges: list[float] = [steps[0][0]]
    duty: list[float] = []
    for begin_min, end_min, share in steps:
        if begin_min > edges[-1]:
            edges.append(begin_min)
            duty.append(0.0)
        edges.append(end_min)
        duty.append(share)
    shares = np.array(duty)
    return LoadProfile(
        name=name,
        edges_s=60.0 * np.array(edges),
        mean_w=power_w * shares + other_w * (shares > 0),
        heater_w_per_v2=np.where(shares > 0, power_w / voltage_v**2, 0.0),
        other_w=np.where(shares > 0, other_w, 0.0),
    )


@pytest.fixture(scope="session")
def profile() -> Builder:
    """Give the builder of profiles."""
    return build_profile


def _ring(**changes: object) -> Circuit:
    """Return a 13 A outlet with fused plug on a 32 A ring close to the board."""
    entries: dict[str, object] = {
        "voltage_v": 230.0, "breaker_a": 32.0, "breaker_curve": "B", "outlet_a": 13.0, "plug_fuse_a": 13.0,
        "cable_mm2": 2.5, "installation": "C", "ring": True, "residual_current_device": True,
    }  # fmt: skip
    return Circuit(**{**entries, **changes})


def _sixteen(**changes: object) -> Circuit:
    """Return a 16 A outlet on a B16."""
    entries: dict[str, object] = {
        "voltage_v": 230.0, "breaker_a": 16.0, "breaker_curve": "B", "outlet_a": 16.0, "cable_mm2": 2.5,
        "cable_length_m": 18.0, "installation": "C", "residual_current_device": True,
    }  # fmt: skip
    return Circuit(**{**entries, **changes})


def _two_pole(**changes: object) -> Circuit:
    """Return a 30 A two-pole circuit of 240 V."""
    entries: dict[str, object] = {
        "rules": "nec", "voltage_v": 240.0, "breaker_a": 30.0, "breaker_curve": "inverse", "outlet_a": 30.0,
        "cable_mm2": awg_mm2(10), "installation": "60", "residual_current_device": True,
    }  # fmt: skip
    return Circuit(**{**entries, **changes})


def _twenty(**changes: object) -> Circuit:
    """Return a 20 A circuit of 120 V."""
    entries: dict[str, object] = {
        "rules": "nec", "voltage_v": 120.0, "breaker_a": 20.0, "breaker_curve": "inverse", "outlet_a": 20.0,
        "cable_mm2": awg_mm2(12), "installation": "60", "residual_current_device": True,
    }  # fmt: skip
    return Circuit(**{**entries, **changes})


@pytest.fixture(scope="session")
def ring() -> Circuits:
    """Give the builder of a 13 A outlet on a ring, which takes changes."""
    return _ring


@pytest.fixture(scope="session")
def sixteen() -> Circuits:
    """Give the builder of a 16 A outlet on a B16, which takes changes."""
    return _sixteen


@pytest.fixture(scope="session")
def two_pole() -> Circuits:
    """Give the builder of a 240 V, 30 A circuit, which takes changes."""
    return _two_pole


@pytest.fixture(scope="session")
def twenty() -> Circuits:
    """Give the builder of a 120 V, 20 A circuit, which takes changes."""
    return _twenty
