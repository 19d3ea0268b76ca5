"""How long tariffs take: a year compiled, every start of a year, against a loop and against copying.

Run with ``pytest tests/benchmarks --benchmark-enable``; the ratios stand in the extra info of the report.
Without it each case runs once and checks its result.
"""

import time
from collections.abc import Callable
from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest

from energyplan.base.load import LoadProfile
from energyplan.tariffs.coverage import coverage_problems
from energyplan.tariffs.priceline import PriceLine, price_line
from energyplan.tariffs.startcosts import start_units
from energyplan.tariffs.starts import find_starts
from energyplan.tariffs.steps import MeteredLoad, metered
from energyplan.tariffs.tarifffile import load_tariff, packaged_tariffs

STARTS = 525_600


@pytest.fixture(scope="module")
def day() -> MeteredLoad:
    """A day of 25 steps with borders between whole seconds, as long as the demo day (seeded)."""
    rng = np.random.default_rng(20260101)
    edges_s = np.concatenate([[0.0], np.cumsum(rng.uniform(120.0, 1900.0, 25))])
    return metered(
        LoadProfile(
            name="vessel",
            edges_s=edges_s,
            mean_w=rng.uniform(0.0, 3500.0, 25),
            heater_w_per_v2=np.zeros(25),
            other_w=np.zeros(25),
        )
    )


def year_of(name: str) -> PriceLine:
    """A packaged tariff over 2026 and two days."""
    return price_line(load_tariff(packaged_tariffs()[name]), date(2026, 1, 1), date(2027, 1, 2))


def half_hours() -> PriceLine:
    """A year of a price that changes every half hour (seeded)."""
    edges_s = year_of("two_rate").edges_s[0] + np.arange(367 * 48 + 1, dtype=np.int64) * 1800
    prices = np.random.default_rng(1).integers(-50_000, 400_000, edges_s.size - 1)
    return PriceLine(
        edges_s=edges_s,
        micro_per_kwh=prices,
        band=np.zeros(prices.size, dtype=np.int64),
        band_names=("series",),
        currency="EUR",
        zone="Europe/Dublin",
    )


def seconds_of(action: Callable[[], object], repeats: int) -> float:
    """Shortest time of several runs [s]."""
    times = []
    for _ in range(repeats):
        begin = time.perf_counter()
        action()
        times.append(time.perf_counter() - begin)
    return min(times)


@pytest.mark.parametrize("name", ["two_rate", "three_band", "dear_evening"])
def test_a_year_compiled(benchmark, name: str) -> None:
    """Price line of a year with its check for gaps; the aim is 20 ms."""
    tariff = load_tariff(packaged_tariffs()[name])
    line = benchmark(price_line, tariff, date(2026, 1, 1), date(2026, 12, 31))
    assert int(line.edges_s[-1] - line.edges_s[0]) == 365 * 86_400
    assert coverage_problems(tariff, date(2026, 1, 1), date(2026, 12, 31)) == ()


@pytest.mark.parametrize("name", ["two_rate", "three_band", "dear_evening", "half_hours"])
def test_every_start_of_a_year(benchmark, day: MeteredLoad, name: str) -> None:
    """525 600 starts; the aim is 15 ms and 5 000 times a loop over slices of a pandas series."""
    line = half_hours() if name == "half_hours" else year_of(name)
    first_s = int(line.edges_s[0])
    units = benchmark(start_units, day, line, first_s=first_s, count=STARTS)
    # The same in the plain way: a series of prices per minute, one slice and product per start.
    lengths = np.diff(line.edges_s) // 60
    prices = pd.Series(np.repeat(line.micro_per_kwh, lengths))
    energy = pd.Series(day.minute_mj)
    some = 200
    loop = [int((prices.iloc[n : n + len(energy)].reset_index(drop=True) * energy).sum()) for n in range(some)]
    if not line.tiers:
        assert units[:some].tolist() == loop
    if benchmark.stats is None:
        return
    fast_s = benchmark.stats.stats.min
    loops = {
        "times_a_pandas_loop": lambda n: (prices.iloc[n : n + len(energy)].reset_index(drop=True) * energy).sum(),
        "times_a_loop_of_array_slices": lambda n: prices.to_numpy()[n : n + len(energy)] @ energy.to_numpy(),
    }
    for label, one_start in loops.items():
        # A few hundred starts, carried over to the year's.
        loop_s = seconds_of(lambda act=one_start: [act(n) for n in range(some)], 3) / some * STARTS
        benchmark.extra_info[label] = round(loop_s / fast_s)
    benchmark.extra_info["times_a_copy"] = round(fast_s / seconds_of(units.copy, 20), 1)


def test_a_whole_search(benchmark, day: MeteredLoad) -> None:
    """Costs, best, worst, plateau and the best of each of 365 days."""
    line = year_of("three_band")
    search = benchmark(find_starts, day, line, first=line.start, last=line.start + timedelta(minutes=STARTS - 1))
    assert search.count == STARTS
    assert search.best.cost.units == int(search.units.min())
