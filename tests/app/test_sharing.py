"""Tests of links: a few changed entries travel in the address, and nothing else gets in by it."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from energyplan.app.editing import with_entries, with_entry
from energyplan.app.sharing import MOST_CHANGES, changes_between, with_changes
from energyplan.plan.file import read_plan
from energyplan.plan.model import Plan

Open = Callable[..., Any]
DEMO = read_plan("demo")
CHANGES: tuple[tuple[tuple[str, ...], Any], ...] = (
    (("batch", "water"), "30 L"),
    (("title",), "12"),
    (("title",), "-"),
    (("vessel", "jacket_thickness"), None),
    (("site", "humidity"), 0.4),
    (("circuit", "residual_current_device"), False),
    (("circuit", "extension", "cable"), "1.5 mm2"),
)


@pytest.mark.parametrize(("path", "value"), CHANGES, ids=str)
def test_what_an_address_says_is_the_same_plan(path: tuple[str, ...], value: Any) -> None:
    """Quantities, words that look like numbers, flags, entries taken out: all come back exactly."""
    extra = {("circuit", "extension", "length"): "10 m", ("circuit", "extension", "rating"): "13 A"}
    changed = with_entries(DEMO, {path: value, **(extra if "extension" in path else {})})
    assert with_changes(DEMO, dict(changes_between(DEMO, changed))) == changed


def test_entries_of_steps_travel_too(visit: Open) -> None:
    """A hold and its additions, by the place of the step."""
    rows = list(DEMO.steps)
    rows[1] = rows[1].model_copy(update={"hold_s": 2700.0})
    changed = DEMO.model_copy(update={"steps": tuple(rows)})
    words = dict(changes_between(DEMO, changed))
    assert list(words) == ["step.1.hold"]
    there = visit(**words)
    assert there.work.plan == changed
    assert there.work.is_changed
    assert there.click("undo").work.plan == DEMO


def test_a_change_on_the_page_stands_in_the_address(visit: Open) -> None:
    """A reload of that address brings it back."""
    there = visit("batch").enter("Water at the start", "30 L")
    assert there.at.query_params["batch.water"] in ("30 L", ["30 L"])
    there.click("undo")
    assert "batch.water" not in there.at.query_params


def test_a_plan_of_the_visitors_own_stays_with_the_visitor(visit: Open) -> None:
    """Nothing of an opened file gets into the address."""
    there = visit()
    there.work.open(replace(there.work.day, plan=with_entry(DEMO, ("batch", "water"), "31 L"), file_name=""))
    there.run()
    assert not any("." in key for key in there.at.query_params)


def test_other_steps_are_no_small_change() -> None:
    """Steps added or moved are for a plan file."""
    assert changes_between(DEMO, DEMO.model_copy(update={"steps": DEMO.steps[:-1]})) == ()
    assert changes_between(DEMO, DEMO.model_copy(update={"steps": (DEMO.steps[1], DEMO.steps[0])})) == ()
    assert changes_between(DEMO, read_plan("lakeside")) == ()


@pytest.mark.parametrize(
    "asked",
    [
        {"batch.water": "30 m"},
        {"batch.water": "nan L"},
        {"batch.water": "[[[[[[" * 200},
        {"batch.nothing": "1"},
        {"step.99.hold": "5 min"},
        {"step.x.hold": "5 min"},
        {"title.x": "1"},
        {"batch.water.x": "1"},
        {"__class__.x": "1"},
        {"vessel": "{}"},
        {f"batch.k{count}": "1" for count in range(MOST_CHANGES + 1)},
        {"batch.water": '{"a": 1}'},
        {"step.0": "null"},
        {"step.0": "5"},
    ],
    ids=lambda asked: next(iter(asked)),
)
def test_nonsense_in_an_address_is_left_aside(visit: Open, asked: dict[str, str]) -> None:
    """The visitor gets the demo, not an error."""
    assert with_changes(DEMO, asked) == DEMO
    assert visit(**asked).work.plan == DEMO


@pytest.mark.parametrize(
    "address",
    [
        {"title.x.y": "1"}, {"vessel.diameter.x.y": "1"}, {"step.0.name.x.y": "1"}, {"step.x.name": "1"},
        {"step.99.name": "1"}, {"vessel.element.0.power.x": "1"}, {"step": "1"}, {"batch.water": "[[[[[["},
        {"title": "\u202e"}, {"title": "\x1b[31m"}, {"uses.a": "b"}, {"batch.water": "NaN"}, {"vessel.0.power": "1 W"},
    ],
)  # fmt: skip
def test_an_address_that_says_no_plan_is_left_aside(address: dict[str, str]) -> None:
    """No path through a text, no row that is not there, no character that would be obeyed."""
    found = with_changes(read_plan("demo"), address)
    assert isinstance(found, Plan)
    assert "\x1b" not in found.title


@pytest.mark.parametrize(
    ("asked", "tariff", "left_out"),
    [
        ({"tariff": "none"}, None, ()),
        ({"tariff": "nightly_x"}, "two_rate", ("prices",)),
        ({"plan": "lakeside", "tariff": ""}, "dear_evening", ("prices",)),
        ({"plan": "porter_x"}, "two_rate", ("plan",)),
        ({"plan": "porter_x", "tariff": "nightly_x"}, "two_rate", ("plan", "prices")),
    ],
)
def test_what_an_address_names_and_is_not_there_is_said(
    visit: Open, asked: dict[str, str], tariff: str | None, left_out: tuple[str, ...]
) -> None:
    """The usual stands in its place, never a day without cost; only "none" is none."""
    there = visit(**asked)
    assert (there.work.tariff and there.work.tariff.name, there.work.borrowed) == (tariff, left_out)
    assert ("those that you see are not the sender's" in there.words) is bool(left_out)


@pytest.mark.parametrize("number", [5, 9, MOST_CHANGES, MOST_CHANGES + 1])
def test_up_to_sixteen_changes_travel(number: int) -> None:
    """As many as may, all of them; one more, and none does: a plan file says that better."""
    values = {
        ("batch", "water"): "28 L", ("batch", "grain"): "5.4 kg", ("batch", "sparge_water"): "6 L",
        ("batch", "water_temperature"): "10 degC", ("batch", "sparge_temperature"): "76 degC",
        ("batch", "gravity"): 1.047, ("site", "air"): "12 degC", ("site", "humidity"): 0.6,
        ("site", "altitude"): "300 m",
        ("vessel", "empty_mass"): "9 kg", ("vessel", "height"): "50 cm", ("vessel", "pump"): "25 W",
        ("vessel", "standby"): "4 W", ("circuit", "cable_length"): "12 m", ("circuit", "ambient"): "25 degC",
        ("circuit", "earth_loop"): "0.5 ohm", ("title",): "Another",
    }  # fmt: skip
    changed = with_entries(DEMO, dict(list(values.items())[:number]))
    words = dict(changes_between(DEMO, changed))
    assert len(words) == (number if number <= MOST_CHANGES == 16 else 0)
    assert with_changes(DEMO, words) == (changed if words else DEMO)
