"""What the tests of advice share: the packaged plans, prices and a circuit."""

from datetime import UTC, datetime, timedelta

import pytest

from energyplan.advice.pricing import Pricing
from energyplan.day.brewday import BrewDay, simulate
from energyplan.plan.file import read_plan
from energyplan.plan.model import Plan
from energyplan.tariffs.priceline import PriceLine, price_line_around
from energyplan.tariffs.tarifffile import load_tariff

START = datetime(2026, 12, 5, 9, tzinfo=UTC)


@pytest.fixture(scope="session")
def demo() -> Plan:
    """The packaged plan: modulated elements, a second heater, a circuit that is too small for both."""
    plan = read_plan("demo")
    assert plan.second_heater is not None
    return plan.model_copy(update={"second_heater": plan.second_heater.model_copy(update={"own_circuit": False})})


@pytest.fixture(scope="session")
def demo_day(demo: Plan) -> BrewDay:
    """The packaged plan's day."""
    return simulate(demo)


@pytest.fixture(scope="session")
def line() -> PriceLine:
    """Night and day prices around the start, in Dublin: 0.155 EUR/kWh until 08:00, then 0.343."""
    return price_line_around(load_tariff("demo"), START - timedelta(days=1), START + timedelta(days=2))


@pytest.fixture
def pricing(line: PriceLine) -> Pricing:
    """Prices with a fixed start at 09:00."""
    return Pricing(line=line, start=START)


@pytest.fixture
def free_start(line: PriceLine) -> Pricing:
    """Prices with any start from midnight to 20:00."""
    return Pricing(line=line, start=START, first=START.replace(hour=0), last=START.replace(hour=20))
