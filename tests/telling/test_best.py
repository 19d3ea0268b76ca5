"""Ways to brew a day: names that the numbers bear out, a table, a chart."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import altair as alt
import pytest

from energyplan.advice.best import best_plans
from energyplan.advice.compare import BestPlan
from energyplan.advice.pricing import Pricing
from energyplan.faces.charts import best_chart
from energyplan.faces.charttheme import DARK, LIGHT, ChartLook
from energyplan.faces.frames import frame
from energyplan.plan.file import read_plan
from energyplan.tariffs.priceline import price_line_around
from energyplan.tariffs.tarifffile import load_tariff
from energyplan.telling.best import best_told, ways_of, ways_told


@pytest.fixture(scope="module")
def found() -> list[BestPlan]:
    """The demo for each aim, any start of a day."""
    start = datetime(2026, 12, 5, 8, 30, tzinfo=UTC)
    first = datetime(2026, 12, 5, tzinfo=UTC)
    line = price_line_around(load_tariff("demo"), first - timedelta(days=1), first + timedelta(days=3))
    pricing = Pricing(line=line, start=start, first=first, last=first + timedelta(hours=23))
    return list(best_plans(read_plan("demo"), ("cost", "time", "circuit"), pricing=pricing))


def test_the_plan_as_it_is_comes_first_and_no_way_twice(found: list[BestPlan]) -> None:
    """Numbers run from 1; plan and start together are different in each."""
    choices = ways_of(found)
    assert [one.number for one in choices] == list(range(1, len(choices) + 1))
    assert choices[0].option is found[0].planned
    assert len({(one.option.plan, one.option.start) for one in choices}) == len(choices)


def test_each_aim_is_named_once_and_truly(found: list[BestPlan]) -> None:
    """Whoever is called cheapest costs no more than any other, up to a thousandth."""
    choices = ways_of(found)
    for aim, measure in (("cost", lambda one: one.option.value), ("time", lambda one: one.option.minutes)):
        named = [one for one in choices if aim in one.aims]
        assert len(named) == 1
        assert measure(named[0]) <= min(map(measure, choices)) * 1.001


def test_the_table_has_cost_minutes_and_amps(found: list[BestPlan]) -> None:
    """A row for each way, and the start."""
    rows = list(ways_told(ways_of(found), "Europe/Dublin").table("ways"))
    assert all(row["cost"] is not None and row["peak_a"] > 0 for row in rows)
    assert f"{rows[0]['start'].at:%H:%M}" == "08:30"


@pytest.mark.parametrize("look", [LIGHT, DARK], ids=["light", "dark"])
def test_the_chart_is_sound_vega_lite(found: list[BestPlan], look: ChartLook) -> None:
    """Described, and a point for each way."""
    table = ways_told(ways_of(found), "Europe/Dublin").table("ways")
    document = best_chart(frame(table), look, currency="EUR", description="Ways.")
    alt.LayerChart.from_dict(document)
    assert len(document["datasets"]["ways"]) == len(table.rows)


def test_the_headline_says_what_is_different(found: list[BestPlan]) -> None:
    """For cost another start, and what the hours are."""
    told = best_told(found[0], "Europe/Dublin")
    assert str(told.headline).startswith("Cheapest: ")
    assert "start at" in str(told.headline)
    assert any("combinations" in str(said) for said in told.sentences)


def test_what_a_way_mends_is_said(found: list[BestPlan]) -> None:
    """Where the plan as it is passes a rating and the way chosen none; where both do; where neither does."""
    best = found[0]
    over = replace(best, planned=replace(best.planned, over=("contract",)))
    neither = replace(over, chosen=replace(best.chosen, over=("contract",)))
    texts = [
        " ".join(str(one) for one in (*told.sentences, *told.cautions))
        for told in (best_told(one, "Europe/Dublin") for one in (best, over, neither))
    ]
    assert ["keeps every rating" in text for text in texts] == [False, True, True]
    assert "This way keeps every rating; over with the plan as it is: contract." in texts[1]
    assert "No choice keeps every rating; over with this one: contract." in texts[2]
