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


def _over(visit: Open) -> Any:
    """The packaged day on a breaker that is too small for it, with an oven beside it and a wound lead."""
    there = visit("circuit")
    there.work.enter(("circuit", "breaker"), "13 A")
    there.work.enter(("circuit", "extension"), {"cable": "1.5 mm2", "length": "10 m", "unwound": False})
    return there.run()


def test_a_mend_shows_its_result_before_it_is_pressed_and_keeps_its_word(visit: Open) -> None:
    """Each button stands beside a verdict; pressed, the page's first sentence is that verdict; undo takes it back."""
    there = _over(visit)
    before = there.headline
    takes = [one.key for one in there.at.button if one.key and one.key.startswith("take_")]
    results = [one.value.removeprefix("Then: ") for one in there.at.text if one.value.startswith("Then: ")]
    assert "The lead unwound" in [one.label for one in there.at.button]
    assert before.startswith("Over:")
    assert len(results) == len(takes)
    for key, result in list(zip(takes, results, strict=True))[:2]:
        assert there.click(key).headline == result
        assert there.click("undo").headline == before


def test_without_anything_over_or_noted_there_is_no_mend(visit: Open) -> None:
    """What is only not known asks for an entry, and no button makes one up."""
    there = visit("circuit")
    assert not [one for one in there.at.button if one.key and one.key.startswith("take_")]


def test_what_would_be_enough_stands_on_the_page(visit: Open) -> None:
    """The smallest circuit for the day, and the largest power for this circuit."""
    words = visit("circuit").words
    assert "For this day: a 16 A breaker on" in words
    assert "This circuit takes elements of" in words


def test_a_form_shows_what_a_file_says_though_it_does_not_offer_it(visit: Open) -> None:
    """An enclosure and a device of other sizes than the form's stand in their fields, never "not known"."""
    there = visit("circuit-entries")
    there.work.enter(("circuit", "enclosure"), "IP67")
    there.work.enter(("circuit", "residual_current_device"), "100 mA, type A")
    there.work.redraw()
    shown = {box.label: box.value for box in there.run().at.selectbox}
    assert shown["Enclosure of the outlet"] == "IP67"
    assert shown["Residual current device (GFCI)"] == "100 mA, type A"
