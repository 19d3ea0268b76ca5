"""How long advice takes; and, only when benchmarks are asked for, ten thousand draws against as many days alone."""

from datetime import UTC, datetime, timedelta

import pytest

from energyplan.advice.best import best_plan
from energyplan.advice.draws import conditions_of
from energyplan.advice.power import advise
from energyplan.advice.pricing import Pricing
from energyplan.advice.savings import savings
from energyplan.advice.uncertainty import SpreadRun, spread
from energyplan.day.brewday import simulate
from energyplan.plan.file import read_plan
from energyplan.plan.model import Plan
from energyplan.tariffs.costs import price
from energyplan.tariffs.priceline import price_line_around
from energyplan.tariffs.tarifffile import load_tariff

START = datetime(2026, 12, 5, 9, tzinfo=UTC)
DRAWS = 10_000


@pytest.fixture(scope="module")
def demo() -> Plan:
    """The packaged plan."""
    return read_plan("demo")


@pytest.fixture(scope="module")
def pricing() -> Pricing:
    """Two rates and any start of the day."""
    line = price_line_around(load_tariff("demo"), START - timedelta(days=1), START + timedelta(days=2))
    return Pricing(line=line, start=START, first=START.replace(hour=0), last=START.replace(hour=20))


@pytest.mark.benchmark(group="advice")
def test_power_of_every_step(benchmark, demo: Plan) -> None:  # type: ignore[no-untyped-def]
    """Two runs as planned, two in the worst case."""
    assert benchmark(advise, simulate(demo)).rows


@pytest.mark.benchmark(group="advice")
def test_all_savings(benchmark, demo: Plan, pricing: Pricing) -> None:  # type: ignore[no-untyped-def]
    """Every lever alone and the best combination."""
    assert benchmark(savings, demo, pricing=pricing).together is not None


@pytest.mark.benchmark(group="advice")
def test_thousand_draws(benchmark, demo: Plan, pricing: Pricing) -> None:  # type: ignore[no-untyped-def]
    """With costs and currents."""
    assert benchmark(spread, demo, pricing=pricing, how=SpreadRun(draws=1000)).failed_frac == 0


@pytest.mark.benchmark(group="advice")
def test_best_plan_for_cost(benchmark, demo: Plan, pricing: Pricing) -> None:  # type: ignore[no-untyped-def]
    """All combinations of ramp power, wait and start."""
    assert benchmark(best_plan, demo, "cost", pricing=pricing).frontier


@pytest.mark.benchmark(group="advice")
def test_ten_thousand_draws_agree_with_as_many_days(benchmark, request, demo: Plan, pricing: Pricing) -> None:  # type: ignore[no-untyped-def]
    """Energy and duration of every single draw to 1e-9, cost to 3e-8; a minute, so only with --benchmark-enable."""
    if request.config.getoption("benchmark_disable") and not request.config.getoption("benchmark_enable"):
        pytest.skip("a minute: run with --benchmark-enable")
    found = benchmark.pedantic(spread, (demo,), {"pricing": pricing, "how": SpreadRun(draws=DRAWS)}, rounds=1)
    extract = simulate(demo).wort.extract_kg
    for draw in range(DRAWS):
        day = simulate(demo, conditions_of(found.inputs, draw), extract=extract)
        cost = float(price(day.profiles, pricing.line, START).total)
        assert found.outputs["energy_kwh"][draw] == pytest.approx(day.energy_kwh, rel=1e-9)
        assert found.outputs["minutes"][draw] == pytest.approx(day.duration_s / 60, rel=1e-9)
        assert found.outputs["cost"][draw] == pytest.approx(cost, rel=3e-8)
