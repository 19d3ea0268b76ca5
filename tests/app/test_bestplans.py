"""Tests of the best ways to brew a day: what is offered, what it trades, and taking one over."""

from collections.abc import Callable
from typing import Any

import pytest

from energyplan.plan.file import read_plan

Open = Callable[..., Any]


@pytest.fixture
def tried(visit: Open) -> Any:
    """The page Worth changing with its ways tried."""
    there = visit("worth-changing")
    there.at.toggle(key="best_go").set_value(True)
    return there.run()


def ways(there: Any) -> Any:
    """The table of ways."""
    return next(one.value for one in there.at.dataframe if "way" in one.value.columns)


def test_nothing_is_tried_before_it_is_asked_for(visit: Open) -> None:
    """It takes seconds, so it waits."""
    assert not any("way" in one.value.columns for one in visit("worth-changing").at.dataframe)


def test_names_are_what_the_numbers_say(tried: Any) -> None:
    """The cheapest has the lowest cost of all ways, the quickest the fewest minutes."""
    frame = ways(tried)
    assert frame["way"].iloc[0].startswith("as it is")
    for word, column in (("cheapest", "cost"), ("quickest", "minutes")):
        named = frame[frame["way"].str.lower().str.contains(word)]
        assert len(named) == 1
        numbers = frame[column].astype(float)
        assert float(named[column].iloc[0]) == pytest.approx(numbers.min(), abs=0.011 if "cost" in column else 0.6)


def test_a_way_is_taken_over_with_its_start(tried: Any) -> None:
    """Powers go into the plan, the start into the row above; what it trades is said before."""
    frame = ways(tried)
    assert "Against the plan as it is: " in tried.words
    assert "EUR cheaper" in tried.words
    tried.click("take_best_plan")
    assert f"{tried.work.wall:%H:%M}" == frame["start"].iloc[1]
    assert f"{frame['cost'].iloc[1]:.2f} EUR" in tried.go("").headline


def test_no_way_begins_before_anybody_is_up(tried: Any) -> None:
    """Without hours entered, six in the morning is the earliest."""
    assert ways(tried)["start"].min() >= "06:00"


def test_with_the_start_kept_nothing_moves(tried: Any) -> None:
    """The start that is set stays in every way."""
    tried.at.segmented_control(key="best_start_False").set_value("the one that is set")
    tried.run()
    assert set(ways(tried)["start"]) == {"08:30"}


def test_without_prices_time_and_circuit_are_left(visit: Open) -> None:
    """No tariff, no cost; the kWh stand in its place."""
    there = visit("worth-changing", tariff="none")
    there.at.toggle(key="best_go").set_value(True)
    there.run()
    assert "cost" not in ways(there)


def test_hours_that_leave_no_start_say_so(visit: Open) -> None:
    """Nobody brews in an hour and a half."""
    there = visit("worth-changing", **{"hours.earliest": "10:00", "hours.done_by": "11:30"})
    there.at.toggle(key="best_go").set_value(True)
    there.run()
    assert "No way could be tried" in there.words


def test_a_way_can_be_taken_back(tried: Any) -> None:
    """Undo gives the powers back."""
    tried.at.radio(key="best_which").set_value(len(ways(tried)) - 2)
    tried.run().click("take_best_plan")
    if tried.work.plan != read_plan("demo"):
        assert tried.click("undo").work.plan == read_plan("demo")
