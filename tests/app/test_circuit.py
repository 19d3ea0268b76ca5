"""Tests of the circuit's page: what hangs on this breaker, and what elsewhere."""

from collections.abc import Callable
from typing import Any

from energyplan.plan.file import read_plan

Open = Callable[..., Any]


def _switch(there: Any, label: str, *, on: bool) -> None:
    next(one for one in there.at.toggle if one.label == label).set_value(on)
    there.run()


def test_the_second_heater_is_switched_to_another_breaker_and_back(visit: Open) -> None:
    """Elsewhere it is no load of this circuit; one step back brings it here again."""
    there = visit("circuit")
    was_elsewhere = read_plan("demo").second_heater.own_circuit
    _switch(there, "Second water heater", on=was_elsewhere)
    assert there.work.plan.second_heater.own_circuit is not was_elsewhere
    assert there.click("undo").work.plan == read_plan("demo")


def test_a_second_heater_on_this_breaker_adds_to_its_current(visit: Open) -> None:
    """3000 W more on the same breaker are seen in the first sentence."""
    there = visit("circuit")
    _switch(there, "Second water heater", on=False)
    apart = there.headline
    there.work.enter(("second_heater", "power"), "3000 W")
    _switch(there.run(), "Second water heater", on=True)
    assert there.headline != apart


def test_a_load_moves_to_another_breaker_with_all_that_it_says(visit: Open) -> None:
    """The fridge leaves this circuit as it is, and can come back."""
    there = visit("circuit")
    fridge = read_plan("demo").other_loads[0]
    _switch(there, fridge.name, on=False)
    assert there.work.plan.other_loads == ()
    assert fridge in there.work.plan.house_loads
    _switch(there, fridge.name, on=True)
    assert there.work.plan.other_loads == (fridge,)
