"""Waiting on cheap heat: as good as a linear program says, and honest about energy."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from energyplan.base.errors import BrewDayError, TariffError
from energyplan.tariffs.clock import utc_s
from energyplan.tariffs.priceline import HOLE, PriceLine
from energyplan.tariffs.waiting import UNATTENDED_CAUTION, WaterToHeat, wait_for_cheap_heat

START = datetime(2026, 1, 10, 22, 0, tzinfo=UTC)


def line_of(minutes: list[int], prices: list[int], band: list[int] | None = None) -> PriceLine:
    """A line from lengths of its steps, beginning at START."""
    return PriceLine(
        edges_s=utc_s(START) + 60 * np.concatenate([[0], np.cumsum(minutes)]).astype(np.int64),
        micro_per_kwh=np.array(prices, dtype=np.int64),
        band=np.array(band or [0] * len(prices), dtype=np.int64),
        band_names=("a",),
        currency="EUR",
        zone="Europe/Dublin",
    )


def lp_cost(water: WaterToHeat, micro: np.ndarray) -> float | None:
    """Lowest cost [EUR] by HiGHS: power of each minute, temperature carried from one to the next."""
    n = micro.size
    rate = water.loss_w_per_k / water.heat_capacity_j_per_k
    kept = np.exp(-60 * rate)
    gain = 60.0 if rate == 0 else -np.expm1(-60 * rate) / rate
    drift = -np.expm1(-60 * rate) * water.heat_capacity_j_per_k * water.air_above_water_k
    scale = water.heat_j
    rows = np.zeros((n, 2 * n))
    for k in range(n):
        rows[k, n + k] = 1.0
        if k:
            rows[k, n + k - 1] = -kept
        rows[k, k] = -gain / scale
    top = (water.highest_j or water.heat_j) / scale
    bounds = [(0, water.heater_w)] * n + [(None, top)] * (n - 1) + [(1.0, 1.0)]
    cost = np.concatenate([micro * 60 / 3.6e12, np.zeros(n)])
    found = linprog(cost, A_eq=rows, b_eq=np.full(n, drift / scale), bounds=bounds, method="highs")
    return float(found.fun) if found.success else None


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.integers(5, 60), st.integers(-100_000, 500_000)), min_size=1, max_size=6),
    st.floats(2e6, 9e6),
    st.just(0.0) | st.floats(0.5, 12.0),
    st.floats(1000.0, 3500.0),
    st.floats(0.0, 15.0),
    st.sampled_from([None, 1.0, 1.15, 3.0]),
)
def test_as_cheap_as_a_linear_program(steps, heat_j, loss, heater_w, air_k, top) -> None:
    """The HiGHS solver of scipy on a model of its own: same cost within 1e-6, or both find it impossible."""
    water = WaterToHeat(
        heat_j=heat_j,
        heat_capacity_j_per_k=120_000.0,
        loss_w_per_k=loss,
        heater_w=heater_w,
        air_above_water_k=air_k,
        highest_j=None if top is None else top * heat_j,
    )
    line = line_of([minutes for minutes, _ in steps], [micro for _, micro in steps])
    micro = np.repeat(line.micro_per_kwh, np.diff(line.edges_s) // 60).astype(float)
    expected = lp_cost(water, micro)
    try:
        plan = wait_for_cheap_heat(water, line, earliest=START, ready=START + timedelta(minutes=micro.size))
    except BrewDayError:
        assert expected is None
        return
    assert expected is not None
    assert float(plan.cost) == pytest.approx(expected, abs=1e-6)
    assert plan.heat_j[-1] == pytest.approx(heat_j, rel=1e-9)
    assert plan.heat_j.max() <= (water.highest_j or heat_j) * (1 + 1e-9)
    assert plan.minute_w.max() <= heater_w * (1 + 1e-9)
    assert plan.cost.units <= plan.direct_cost.units + 10**10  # rounding of millijoules


def test_cheap_night_dear_morning() -> None:
    """Night 0.10 to 04:00, then 0.30; mash at 06:00: heat to the last minute of the night, top up, more kWh.

    Coasting and topping up takes less energy than holding (common practice, no source).
    """
    line = line_of([360, 240], [100_000, 300_000])
    water = WaterToHeat(heat_j=6.0e6, heat_capacity_j_per_k=110_000.0, loss_w_per_k=4.5, heater_w=2000.0)
    plan = wait_for_cheap_heat(water, line, earliest=START, ready=START + timedelta(hours=8))
    assert plan.stretches[0][1] == START + timedelta(hours=6)
    assert plan.stretches[-1][1] == plan.ready
    assert len(plan.stretches) == 2
    assert plan.saving.units > 0
    assert plan.extra_kwh > 0
    holding_kwh = 4.5 * (6.0e6 / 110_000.0) * 2 / 1000
    assert plan.extra_kwh < holding_kwh
    assert plan.caution == UNATTENDED_CAUTION
    assert "licensed electrician" in plan.caution
    assert "safe" not in plan.caution


def test_a_bare_vessel_and_a_narrow_spread_don_t_pay() -> None:
    """0.15 against 0.16 with a high loss: heating straight before is the plan itself."""
    line = line_of([360, 240], [150_000, 160_000])
    water = WaterToHeat(heat_j=6.0e6, heat_capacity_j_per_k=110_000.0, loss_w_per_k=12.0, heater_w=2000.0)
    plan = wait_for_cheap_heat(water, line, earliest=START, ready=START + timedelta(hours=10))
    assert plan.saving.units == 0
    assert plan.extra_kwh == pytest.approx(0.0, abs=1e-12)


def test_without_loss_the_later_of_equal_minutes_is_taken() -> None:
    """Nothing leaks: energy is the heat, cost is price x heat, and heat waits as little as it can."""
    line = line_of([600], [200_000])
    water = WaterToHeat(heat_j=3.6e6, heat_capacity_j_per_k=100_000.0, loss_w_per_k=0.0, heater_w=2000.0)
    plan = wait_for_cheap_heat(water, line, earliest=START, ready=START + timedelta(hours=5))
    assert plan.energy_kwh == pytest.approx(1.0)
    assert float(plan.cost) == pytest.approx(0.2)
    assert plan.stretches == (
        (START + timedelta(hours=4, minutes=30), START + timedelta(hours=5), pytest.approx(2000.0)),
    )


def test_water_that_the_air_warms_enough() -> None:
    """Nothing to do."""
    water = WaterToHeat(
        heat_j=1e5,
        heat_capacity_j_per_k=100_000.0,
        loss_w_per_k=50.0,
        heater_w=2000.0,
        air_above_water_k=20.0,
        highest_j=1e7,
    )
    plan = wait_for_cheap_heat(water, line_of([600], [1]), earliest=START, ready=START + timedelta(hours=5))
    assert plan.energy_kwh == 0.0
    assert plan.stretches == ()


def test_heating_that_can_t_be_planned() -> None:
    """Too little time, a hole in the prices, odd times, an odd line.

    By hand: 6.0 MJ less 30 min of 2 kW are 2.4 MJ, 0.67 kWh, and about 0.04 kWh leak away.
    """
    water = WaterToHeat(heat_j=6e6, heat_capacity_j_per_k=110_000.0, loss_w_per_k=4.5, heater_w=2000.0)
    line = line_of([300, 300], [1, 2])
    with pytest.raises(BrewDayError, match=r"2000 W can't have the water hot after 30 min: 0\.70 kWh are missing"):
        wait_for_cheap_heat(water, line, earliest=START, ready=START + timedelta(minutes=30))
    with pytest.raises(ValueError, match="whole number of minutes"):
        wait_for_cheap_heat(water, line, earliest=START, ready=START + timedelta(seconds=90))
    with pytest.raises(ValueError, match="within a minute"):
        wait_for_cheap_heat(
            water, line, earliest=START + timedelta(seconds=30), ready=START + timedelta(hours=8, seconds=30)
        )
    holed = line_of([300, 300], [1, 2], [0, HOLE])
    with pytest.raises(TariffError, match="no price from"):
        wait_for_cheap_heat(water, holed, earliest=START, ready=START + timedelta(hours=8))


@pytest.mark.parametrize(
    "change",
    [
        {"heat_j": 0.0},
        {"heater_w": float("nan")},
        {"loss_w_per_k": -1.0},
        {"air_above_water_k": float("inf")},
        {"highest_j": 1.0},
    ],
)
def test_water_out_of_range(change: dict) -> None:
    """Each names the number."""
    good = {"heat_j": 6e6, "heat_capacity_j_per_k": 110_000.0, "loss_w_per_k": 4.5, "heater_w": 2000.0}
    with pytest.raises(ValueError, match=next(iter(change))):
        WaterToHeat(**(good | change))
