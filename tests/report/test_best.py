"""Tests of ways to brew a day as choices: names that the numbers bear out, a table, a chart."""

from datetime import UTC, datetime, timedelta

import altair as alt
import pytest

from energyplan.advice.best import BestPlan, best_plan
from energyplan.advice.pricing import Pricing
from energyplan.faces.charts.bestchart import best_chart
from energyplan.faces.charts.charttheme import DARK, LIGHT, ChartLook
from energyplan.plan.file import read_plan
from energyplan.report.besttables import choice_table, choices_of
from energyplan.tariffs.priceline import price_line_around
from energyplan.tariffs.tarifffile import load_tariff


@pytest.fixture(scope="module")
def found() -> list[BestPlan]:
    """The demo for each aim, any start of a day."""
    start = datetime(2026, 12, 5, 8, 30, tzinfo=UTC)
    first = datetime(2026, 12, 5, tzinfo=UTC)
    line = price_line_around(load_tariff("demo"), first - timedelta(days=1), first + timedelta(days=3))
    pricing = Pricing(line=line, start=start, first=first, last=first + timedelta(hours=23))
    return [best_plan(read_plan("demo"), aim, pricing=pricing) for aim in ("cost", "time", "circuit")]


def test_the_plan_as_it_is_comes_first_and_no_way_twice(found: list[BestPlan]) -> None:
    """Numbers run from 1; plan and start together are different in each."""
    choices = choices_of(found)
    assert [one.number for one in choices] == list(range(1, len(choices) + 1))
    assert choices[0].option is found[0].planned
    assert len({(one.option.plan, one.option.start) for one in choices}) == len(choices)


def test_each_aim_is_named_once_and_truly(found: list[BestPlan]) -> None:
    """Whoever is called cheapest costs no more than any other, up to a thousandth."""
    choices = choices_of(found)
    for word, measure in (("cheapest", lambda one: one.option.value), ("quickest", lambda one: one.option.minutes)):
        named = [one for one in choices if word in one.name.lower()]
        assert len(named) == 1
        assert measure(named[0]) <= min(map(measure, choices)) * 1.001


def test_the_table_has_cost_minutes_and_amps(found: list[BestPlan]) -> None:
    """A row for each way, the start on the local clock."""
    table = choice_table(choices_of(found), "Europe/Dublin")
    assert {"way", "cost_eur", "energy_kwh", "duration_min", "peak_a", "start_clock"} <= set(table.columns)
    assert table["start_clock"].iloc[0] == "Sat 08:30"


@pytest.mark.parametrize("look", [LIGHT, DARK], ids=["light", "dark"])
def test_the_chart_is_sound_vega_lite(found: list[BestPlan], look: ChartLook) -> None:
    """Described, and a point for each way."""
    choices = choices_of(found)
    document = best_chart(choices, look, description="Ways.")
    alt.LayerChart.from_dict(document)
    assert len(document["datasets"]["ways"]) == len(choices)
