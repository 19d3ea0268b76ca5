"""How long the circuit check and the search for a delay take."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from energyplan.base.load import LoadProfile
from energyplan.circuits.check import check
from energyplan.circuits.stagger import least_offset
from energyplan.physics.conductors import awg_mm2
from energyplan.plan.model import Circuit, OtherLoad

START = datetime(2026, 10, 24, 20, tzinfo=UTC)
ZONE = ZoneInfo("Europe/Dublin")


def long_day(steps: int) -> LoadProfile:
    """Make a day of many short steps with changing loads."""
    rng = np.random.default_rng(7)
    on = rng.random(steps) < 0.6
    return LoadProfile(
        name="Vessel",
        edges_s=np.linspace(0.0, 8 * 3600.0, steps + 1),
        mean_w=np.where(on, 3000.0 * rng.random(steps), 0.0),
        heater_w_per_v2=np.where(on, 3000.0 / 240**2, 0.0),
        other_w=np.full(steps, 30.0),
    )


@pytest.mark.benchmark(group="circuits")
def test_check_of_a_long_day(benchmark) -> None:  # type: ignore[no-untyped-def]
    """A day of 1000 steps with five other loads over a clock change."""
    circuit = Circuit(
        rules="nec", voltage_v=240.0, breaker_a=30.0, outlet_a=30.0, cable_mm2=awg_mm2(10), cable_length_m=20.0
    )
    others = [OtherLoad(name=f"Load {n}", power_w=100.0, from_min=60 * n, to_min=60 * n + 90) for n in range(5)]
    result = benchmark(check, [long_day(1000)], circuit, others, START, ZONE)
    assert result.findings


@pytest.mark.benchmark(group="circuits")
def test_delay_between_two_days(benchmark) -> None:  # type: ignore[no-untyped-def]
    """Two days of 40 steps each on one breaker."""
    circuit = Circuit(voltage_v=230.0, breaker_a=16.0)
    found = benchmark(least_offset, [long_day(40)], [long_day(40)], circuit, (), START, ZONE)
    assert found.offset_min is not None
