"""Costs of many draws at once, against the exact price of each."""

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

from energyplan.advice.drawcosts import Loads, draw_costs
from energyplan.base.errors import TariffError
from energyplan.base.load import LoadProfile
from energyplan.base.money import MJ_PER_KWH
from energyplan.tariffs.costs import price
from energyplan.tariffs.priceline import HOLE, PriceLine, TierStep

START = datetime(2026, 1, 31, 20, 0, tzinfo=UTC)
START_S = int(START.timestamp())


def loads(draws: int = 40) -> Loads:
    """Three spans after each other and one across them, of other lengths and powers in every draw."""
    rng = np.random.default_rng(11)
    lengths_s = rng.uniform(600.0, 9000.0, (3, draws))
    ends_s = np.cumsum(lengths_s, axis=0)
    across_s = rng.uniform(-3000.0, 3000.0, (1, draws))
    return Loads(
        from_s=np.vstack([ends_s - lengths_s, across_s]),
        to_s=np.vstack([ends_s, across_s + 4000.0]),
        power_w=rng.uniform(0.0, 3000.0, (4, draws)),
    )


def profiles(given: Loads, draw: int) -> list[LoadProfile]:
    """The same draw as loads of the price function."""
    spans = zip(given.from_s[:, draw], given.to_s[:, draw], given.power_w[:, draw], strict=True)
    return [
        LoadProfile(name=str(n), edges_s=np.array([a, b]), mean_w=np.array([w]), heater_w_per_v2=np.zeros(1),
                    other_w=np.zeros(1))
        for n, (a, b, w) in enumerate(spans)
    ]  # fmt: skip


def line(**fields) -> PriceLine:  # type: ignore[no-untyped-def]
    """Prices that change every 25 minutes, some negative, over a turn of the month."""
    edges_s = START_S + np.arange(-10, 60) * 1500
    prices = np.random.default_rng(2).integers(-50_000, 400_000, edges_s.size - 1)
    return PriceLine(
        edges_s=edges_s.astype(np.int64), micro_per_kwh=prices, band=np.zeros(prices.size, dtype=np.int64),
        band_names=("series",), currency="EUR", zone="Europe/Dublin", **fields,
    )  # fmt: skip


def surplus() -> np.ndarray:
    """Own power left over, other in every step [mW]."""
    return np.random.default_rng(8).integers(0, 2_000_000, 69)


TIERS = (TierStep(above_mj=3 * MJ_PER_KWH, micro_per_kwh=70_000),
         TierStep(above_mj=6 * MJ_PER_KWH, micro_per_kwh=110_000))  # fmt: skip


SEASONAL = (TierStep(above_mj=3 * MJ_PER_KWH, micro_per_kwh=7000, months=frozenset({1})),
            TierStep(above_mj=MJ_PER_KWH // 30, micro_per_kwh=9000, is_daily=True, months=frozenset({2})))  # fmt: skip


@pytest.mark.parametrize(
    "fields",
    [{}, {"tiers": SEASONAL}, {"surplus_mw": surplus(), "export_micro_per_kwh": 60_000}, {"tiers": TIERS},
     {"surplus_mw": surplus(), "export_micro_per_kwh": 60_000, "tiers": TIERS}],
)  # fmt: skip
def test_costs_agree_with_the_exact_price(fields) -> None:  # type: ignore[no-untyped-def]
    """Plain, with own power, with tiers (of one month, a day) over a turn of the month, all together: to 3e-8 EUR."""
    prices, given = line(**fields), loads()
    costs = draw_costs(given, prices, START, month_kwh_so_far=2.5)
    exact = [float(price(profiles(given, k), prices, START, month_kwh_so_far=2.5).total) for k in range(costs.size)]
    assert costs == pytest.approx(exact, abs=3e-8)


def test_energy_is_power_times_time() -> None:
    """2 kW for an hour and a half."""
    given = Loads(from_s=np.array([[0.0]]), to_s=np.array([[5400.0]]), power_w=np.array([[2000.0]]))
    assert given.energy_kwh.tolist() == [3.0]


def test_a_hole_in_the_prices_is_an_error() -> None:
    """Only where a draw runs into it."""
    prices = line()
    band = prices.band.copy()
    band[12] = HOLE
    holed = replace(prices, band=band)
    with pytest.raises(TariffError, match="no price"):
        draw_costs(loads(), holed, START)
