"""Counting a load in whole millijoules."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from energyplan.tariffs.steps import metered

STEPS = st.lists(st.tuples(st.floats(0.5, 5000.0), st.floats(0.0, 8000.0)), min_size=1, max_size=30)


@given(STEPS, st.floats(-4000.0, 4000.0))
def test_energy_agrees_with_the_profile(load_of, steps, from_s: float) -> None:
    """The total is within 1e-6 kWh of the floats', whatever the borders."""
    load = load_of([watts for _, watts in steps], [seconds for seconds, _ in steps], from_s)
    counted = metered(load)
    assert counted.energy_kwh == pytest.approx(load.energy_kwh, abs=1e-6)
    assert int(counted.before_mj(counted.to_s)) == counted.total_mj
    assert int(counted.before_mj(counted.from_s)) == 0


@given(STEPS, st.floats(-4000.0, 4000.0))
def test_energy_never_falls_and_follows_the_steps(load_of, steps, from_s: float) -> None:
    """At any second it is within a few millijoules per minute of the integral of the power."""
    load = load_of([watts for _, watts in steps], [seconds for seconds, _ in steps], from_s)
    counted = metered(load)
    moments = np.linspace(load.edges_s[0] - 100, load.edges_s[-1] + 100, 400)
    energy = counted.before_mj(moments)
    assert (np.diff(energy) >= 0).all()
    exact = np.interp(moments, load.edges_s, np.concatenate([[0], np.cumsum(load.mean_w * np.diff(load.edges_s))]))
    assert np.abs(energy / 1000 - exact).max() <= 0.001 * (2 + counted.minute_mj.size)


def test_several_loads_and_a_counted_one(load_of) -> None:
    """Two appliances add up; a counted load is passed through."""
    vessel, second = load_of([2000.0, 500.0]), load_of([1500.0], 1800.0, -600.0)
    counted = metered([vessel, second])
    assert counted.energy_kwh == pytest.approx(vessel.energy_kwh + second.energy_kwh, abs=1e-9)
    assert (counted.first_minute, counted.from_s) == (-10, -600.0)
    assert metered(counted) is counted


def test_changes_sum_to_zero(brew_like) -> None:
    """What comes on goes off again."""
    minutes, steps = metered(brew_like).changes()
    assert steps.sum() == 0
    assert (np.diff(minutes) > 0).all()


@pytest.mark.parametrize(("million_kwh", "fits"), [(2.5, True), (2.51, False), (40.0, False)])
def test_a_load_too_large_to_count(load_of, million_kwh: float, *, fits: bool) -> None:
    """An explicit bound, no wrap: 2^53 mJ are 2.502 million kWh."""
    huge = load_of([million_kwh * 1e9])
    if fits:
        assert metered(huge).energy_kwh == pytest.approx(million_kwh * 1e6)
    else:
        with pytest.raises(ValueError, match=f"load of {million_kwh * 1e6:.0f} kWh is too large to price"):
            metered(huge)


def test_minutes_and_parts_of_them_by_hand(load_of) -> None:
    """1 kW from second 30 to second 150 are 30, 60 and 30 kJ in three minutes; half of each after half of it."""
    counted = metered(load_of([1000.0], 120.0, 30.0))
    assert (counted.first_minute, counted.minute_mj.tolist()) == (0, [30_000_000, 60_000_000, 30_000_000])
    assert (counted.from_s, counted.to_s, counted.total_mj) == (30.0, 150.0, 120_000_000)
    at_s = [-10.0, 0.0, 30.0, 45.0, 60.0, 90.0, 120.0, 135.0, 149.0, 150.0, 1000.0]
    kilojoules = [0, 0, 0, 15, 30, 60, 90, 105, 119, 120, 120]
    assert counted.before_mj(np.array(at_s)).tolist() == [1_000_000 * kj for kj in kilojoules]
    minutes, steps = counted.changes()
    assert (minutes.tolist(), steps.tolist()) == ([0, 1, 2, 3], [30_000_000, 30_000_000, -30_000_000, -30_000_000])
