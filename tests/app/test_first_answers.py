"""Tests of what the pages answer first: the cheaper start, powers in the units of the page, a scale of few stops."""

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest

from energyplan.advice.power import advise
from energyplan.advice.starts import starts_answer, usual_question
from energyplan.day.brewday import simulate
from energyplan.plan.file import read_plan
from energyplan.tariffs.tarifffile import load_tariff

Open = Callable[..., Any]
START = datetime(2026, 12, 5, 8, 30, tzinfo=UTC)  # Dublin's clock is UTC in winter


def test_the_first_page_names_the_cheapest_start_of_the_week(visit: Open) -> None:
    """When and for how much, as the library finds it among the starts by day."""
    plan = read_plan("demo")
    question = usual_question(plan, START.date(), START)
    found = starts_answer(simulate(plan), load_tariff("two_rate"), question).search
    assert found.now is not None
    said = visit().words
    assert f"{found.best.cost}, {found.now.cost - found.best.cost} less." in said


def test_the_cheapest_start_has_nothing_cheaper(visit: Open) -> None:
    """From the best start on, the first page says that there is nothing to win."""
    there = visit("when").click("take_best")
    assert "No start of the coming week, within the hours, is cheaper by more than 1 %." in there.go("").words


def test_without_prices_there_is_no_cheapest_start(visit: Open) -> None:
    """No tariff, no advice on the start."""
    assert "cheap" not in visit(tariff="none").words


def test_a_start_by_day_is_asked_for_unless_somebody_says_otherwise(visit: Open) -> None:
    """Nothing that heats is proposed for the small hours, unless somebody is there all day and night."""
    there = visit("when")
    assert "06:00" <= there.headline.split()[2] <= "23:00"
    free = {"hours.earliest": "00:00", "hours.done_by": "24:00", "hours.somebody_there": '["00:00", "24:00"]'}
    assert visit("when", **free).headline.startswith("Start at 00:00")


def test_what_stands_in_the_way_is_told_in_the_units_of_the_page(visit: Open) -> None:
    """A ramp that stalls names its temperatures in degrees Fahrenheit."""
    there = visit(units="us")
    weak = read_plan("demo")
    elements = tuple(element.model_copy(update={"power_w": 150.0}) for element in weak.vessel.elements)
    there.work.replace(weak.model_copy(update={"vessel": weak.vessel.model_copy(update={"elements": elements})}))
    shown = there.run().words
    assert "stalls at" in shown
    assert "degC" not in shown
    assert "°F" in shown


@pytest.mark.parametrize("power_step_w", [1.0, 100.0, 700.0])
def test_the_slider_has_few_stops_and_reaches_what_matters(visit: Open, power_step_w: float) -> None:
    """Whatever the vessel's steps: at most 61 stops of whole steps, beyond twice what nineteen days of twenty need."""
    there, demo = visit(), read_plan("demo")
    vessel = demo.vessel.model_copy(update={"power_step_w": power_step_w})
    there.work.replace(demo.model_copy(update={"vessel": vessel}))
    slider = next(one for one in there.go("power").at.slider if one.key.startswith("cap_"))
    assert slider.max / slider.step <= 61
    assert slider.step % power_step_w == 0
    row = next(one for one in advise(simulate(there.work.plan)).rows if one.phase == "hold")
    assert slider.max >= max(row.advised_w, 2 * row.needed_19_of_20_w)


def test_the_numbers_behind_a_chart_come_when_asked_for(visit: Open) -> None:
    """They cost time on every change, so they are made when somebody opens them."""
    there = visit("circuit")
    before = len(there.at.dataframe)
    there.at.session_state["fold_current_numbers"] = True
    assert len(there.run().at.dataframe) == before + 1
