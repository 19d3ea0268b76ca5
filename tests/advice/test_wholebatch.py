"""The whole batch with its fermentation, per litre and per hectolitre."""

from datetime import UTC, datetime

import pytest

from energyplan.advice.batchchoices import BatchQuestion, batch_choices, per_volume, whole_batch
from energyplan.advice.heat import KeptWater
from energyplan.base.money import Money
from energyplan.day.brewday import BrewDay, simulate
from energyplan.plan.model import Fermentation, Plan
from energyplan.tariffs.tarifffile import load_tariff, parse_tariff

START = datetime(2026, 12, 5, 9, tzinfo=UTC)
FLAT = (
    '[tariff]\nname = "Flat"\ncurrency = "EUR"\nprice_unit = "EUR/kWh"\ntime_zone = "Europe/Dublin"\n{}\n'
    '[[tariff.band]]\nname = "all"\nprice = 0.5\n'
)


def test_a_fridge_for_two_weeks_by_hand(demo_day: BrewDay) -> None:
    """120 W at 0.3 for 14 days: 12.1 kWh; at 0.5 EUR/kWh 6.05 EUR on top of the day's 4."""
    fridge = Fermentation(power_w=120.0, duty=0.3, time_s=14 * 86400.0)
    found = whole_batch(
        demo_day, fridge, start=START, tariff=parse_tariff(FLAT.format("")), cost=Money(units=0, currency="EUR")
    )
    assert found.fermentation_kwh == pytest.approx(0.12 * 0.3 * 14 * 24)
    assert found.energy_kwh == pytest.approx(demo_day.energy_kwh + 12.096)
    assert found.cost is not None
    assert float(found.cost) == pytest.approx(12.096 * 0.5, abs=1e-5)
    assert found.per_volume.kwh_per_hl == pytest.approx(100 * found.energy_kwh / demo_day.wort.end_l)


# Common practice, no source: a 50 W heater half of a week 4.2 kWh, a fridge at 10 % duty 4.1 kWh.
@pytest.mark.parametrize(("power_w", "duty", "kwh"), [(50.0, 0.5, 4.2), (244.0, 0.1, 4.1)])
def test_a_week_of_hobbyists(demo_day: BrewDay, power_w: float, duty: float, kwh: float) -> None:
    """Energy of a week; without prices there is no cost."""
    week = Fermentation(power_w=power_w, duty=duty, time_s=7 * 86400.0)
    found = whole_batch(demo_day, week, start=START)
    assert found.fermentation_kwh == pytest.approx(kwh, rel=0.01)
    assert (found.cost, found.prices_end, found.per_volume.cost_per_l) == (None, None, None)


def test_prices_that_end_before_the_fermentation(demo_day: BrewDay) -> None:
    """A tariff valid to the end of the brew day's week: no cost, and why."""
    short = parse_tariff(FLAT.format("valid_to = 2026-12-08"))
    fridge = Fermentation(power_w=120.0, time_s=14 * 86400.0)
    found = whole_batch(demo_day, fridge, start=START, tariff=short, cost=Money(units=0, currency="EUR"))
    assert found.cost is None
    assert found.prices_end is not None


def test_per_volume_by_hand() -> None:
    """7 kWh and 2.10 EUR for 28 L: 25 kWh/hL, 7.5 cents a litre."""
    found = per_volume(7.0, 28.0, 2.1)
    assert (found.kwh_per_hl, found.cost_per_l) == (25.0, pytest.approx(0.075))
    assert per_volume(7.0, 28.0).cost_per_l is None


def test_all_ways_side_by_side(demo: Plan) -> None:
    """Every row is priced and checked; the rows say what their parts say."""
    fridge = Fermentation(power_w=120.0, time_s=86400.0)
    day = simulate(demo.model_copy(update={"fermentation": fridge}))
    question = BatchQuestion(end_l=30.0, between_s=600.0, kept=KeptWater(volume_l=20.0, temperature_c=50.0))
    found = batch_choices(day, question, start=START, zone=UTC, tariff=parse_tariff(FLAT.format("")))
    assert [row.key for row in found.rows] == ["planned", "bigger", "two", "two_kept"]
    for row in found.rows:
        assert row.cost is not None
        assert float(row.cost) == pytest.approx(0.5 * row.energy_kwh, abs=1e-4)
        assert row.per_volume.cost_per_l == pytest.approx(float(row.cost) / row.end_l)
        assert row.circuit is not None
    planned, bigger, two, kept = found.rows
    assert bigger.end_l == pytest.approx(30.0, abs=1e-6)
    assert bigger.per_volume.kwh_per_hl < planned.per_volume.kwh_per_hl
    assert two.energy_kwh > kept.energy_kwh > planned.energy_kwh
    assert found.reuse is not None
    assert found.whole is not None
    assert found.whole.cost is not None


def test_a_day_beyond_the_prices_has_no_cost(demo_day: BrewDay, demo: Plan) -> None:
    """One batch ends on the last day with a price, two don't; without a circuit and tariff there is neither."""
    short = parse_tariff(FLAT.format("valid_to = 2026-12-05"))
    late = datetime(2026, 12, 5, 17, tzinfo=UTC)
    found = batch_choices(demo_day, BatchQuestion(end_l=28.0), start=late, zone=UTC, tariff=short)
    assert [row.cost is None for row in found.rows] == [False, False, True]
    bare = simulate(demo.model_copy(update={"circuit": None}))
    plain = batch_choices(bare, BatchQuestion(end_l=28.0), start=START, zone=UTC)
    assert {(row.cost, row.circuit) for row in plain.rows} == {(None, None)}
    assert (plain.reuse, plain.two_kept, plain.whole) == (None, None, None)


def test_a_batch_that_does_not_fit_has_no_row(demo_day: BrewDay) -> None:
    """80 L: the reason is there, the row is not; the planned size has no row of its own either."""
    found = batch_choices(demo_day, BatchQuestion(end_l=80.0), start=START, zone=UTC, tariff=load_tariff("demo"))
    assert [row.key for row in found.rows] == ["planned", "two"]
    assert found.bigger.why_not is not None
    assert "run over" in str(found.bigger.why_not.error)
