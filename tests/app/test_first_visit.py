"""Tests of a first visit: the seven entries, and what is assumed beside them."""

import re
from collections.abc import Callable
from typing import Any

import pytest

from energyplan.app.editing import default_of, plan_tables, row_mark, rows_of
from energyplan.app.entries import SECTIONS
from energyplan.app.fields import entry_at, key_of
from energyplan.app.firstcard import Entries, name_of, own_day, still_assumed, value_of
from energyplan.app.state import packaged_plans
from energyplan.base.errors import PlanError

Open = Callable[..., Any]
SEVEN: dict[str, Any] = {
    "vessel": "35 L", "power": "2500 W", "voltage": "230 V", "water": "24 L", "grain": "4.6 kg", "boil": "60 min",
    "breaker": "16 A", "price": "0.31",
}  # fmt: skip


def leaves(tables: dict[str, Any], path: tuple[str, ...] = ()) -> Any:
    """Every entry of a file that is no list of tables."""
    for key, value in tables.items():
        if isinstance(value, dict):
            yield from leaves(value, (*path, key))
        elif not (isinstance(value, list) and value and isinstance(value[0], dict)):
            yield (*path, key)


def test_everything_but_the_seven_is_counted_as_assumed(visit: Open) -> None:
    """Each entry and each row of the plan is either one of the seven or assumed; none is missed."""
    there = visit()
    there.work.open(own_day(Entries(**SEVEN), there.work.day, "Europe/Dublin"))
    there.run()
    counted = set(still_assumed(there.work))
    own = there.work.day.entered
    for path in leaves(plan_tables(there.work.plan)):
        assert path == ("title",) or (path in counted) != (path in own), path
    for path, rows in rows_of(there.work.plan):
        for row in rows:
            assert (row_mark(path, row) in counted) != (row_mark(path, row) in own)
    assert ("prices",) not in counted


@pytest.mark.parametrize("page", ["batch", "set-up", "circuit-entries"])
def test_every_assumed_field_has_its_dot_and_no_other(visit: Open, page: str) -> None:
    """On each form the dots stand exactly at the fields whose values are assumed."""
    there = visit(page)
    there.work.open(own_day(Entries(**SEVEN), there.work.day, "Europe/Dublin"))
    there.run()
    counted, marks = set(still_assumed(there.work)), "".join(there.at.session_state["marks"])
    shown = {field.key for field in [*there.at.text_input, *there.at.number_input, *there.at.selectbox]}
    seen = 0
    for section in SECTIONS:
        for entry in (*section.entries, *section.further):
            key = key_of(there.work, *entry.path)
            if key in shown:
                seen += 1
                assert (f".st-key-{key} label p::after" in marks) == (entry.path in counted), entry.path
    assert seen


def test_a_usual_value_of_an_empty_field_is_assumed_too(visit: Open) -> None:
    """Nobody measured the humidity: the usual one counts until somebody writes one down."""
    there = visit("set-up")
    path = ("site", "humidity")
    assert default_of(path) is not None
    assert path in still_assumed(there.work)
    there.work.enter(path, 0.6)
    assert path not in still_assumed(there.work)
    there.work.undo()
    assert path in still_assumed(there.work)


def test_a_phone_asks_in_the_order_of_the_numbers(visit: Open) -> None:
    """A narrow page sets columns below one another, in the order in which they were made."""
    there = visit().click("enter_mine")
    numbers = [field.label[0] for field in there.at.text_input if field.label[1:2] == "."]
    assert numbers == list("1234567")


def test_what_is_missing_on_the_card_is_named(visit: Open) -> None:
    """All that is still to enter, at once."""
    day = visit().work.day
    with pytest.raises(PlanError) as told:
        own_day(Entries(**{**SEVEN, "grain": None, "breaker": ""}), day, "UTC")
    assert "the grain" in str(told.value.problems[0].message)
    assert "the breaker" in str(told.value.problems[0].message)


@pytest.mark.parametrize("grain", ["0 kg", "none", "0"])
def test_no_grain_is_no_mash(visit: Open, grain: str) -> None:
    """Water and boil only."""
    made = own_day(Entries(**{**SEVEN, "grain": grain}), visit().work.day, "UTC")
    assert made.plan.batch.grain_kg == 0.0
    assert "Mash" not in [step.name for step in made.plan.steps]


def test_who_answers_in_gallons_reads_gallons(visit: Open) -> None:
    """The day that the seven entries make is shown in their units, and its file is in them too."""
    there = visit()
    there.click("enter_mine")
    us = {**SEVEN, "vessel": "10 gal", "water": "6 gal", "grain": "10 lb", "voltage": "120 V", "power": "1650 W"}
    for name, text in us.items():
        there.at.text_input(key=f"card_{name}").set_value(text)
    there.click("card_show")
    assert there.work.units == "us"
    assert "°F" in there.words
    assert there.work.file_text(there.work.day.name).count("degF") > 5
    assert "gal" in there.work.file_text(there.work.day.name)


@pytest.mark.parametrize(
    ("slip", "named"),
    [
        ({"price": "nan"}, "A kWh costs"),
        ({"price": "1e308"}, "A kWh costs"),
        ({"second_price": "inf"}, "A kWh costs"),
        ({"second_price": "0,1", "from_clock": "27"}, "At other hours, from"),
        ({"second_price": "0,1", "to_clock": ""}, "At other hours, to"),
        ({"second_price": "0,1", "from_clock": "06:00"}, "At other hours"),
        ({"power": "27 L"}, "The watts of its elements"),
        ({"vessel": "nan"}, "What the vessel holds"),
        ({"boil": "1e308"}, "The minutes of the boil"),
    ],
    ids=str,
)
def test_a_slip_on_the_card_is_named_by_its_field(visit: Open, slip: dict[str, str], named: str) -> None:
    """Nothing that can't be read gets onto the desk, where every page would fail over it, and every reload."""
    there = visit(boxes=False).click("enter_mine")
    before = there.work.lying
    for name, text in {**SEVEN, **slip}.items():
        there.at.text_input(key=f"card_{name}").set_value(text)
    there.click("card_show")
    assert there.work.lying == before
    assert f"**{named}**" in there.words
    assert "[[" not in there.words


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("plan", packaged_plans())
def test_what_is_assumed_is_told_in_the_words_of_the_form(visit: Open, plan: str, units: str) -> None:
    """No key of a file, no list in brackets, no type; rows as their table shows them."""
    work = visit(boxes=False, plan=plan, units=units).work
    for path in still_assumed(work):
        if entry_at(path) is not None:
            continue
        told = f"{name_of(path)}: {value_of(work, path)}"
        assert not re.search(r"[\[\]{}_]|degC|True|False|None|\bduty\b|: $", told), told
        if units == "us" and path[:-1] == ("step",):
            assert "°C" not in told


def test_who_reads_gallons_pays_in_dollars_until_it_is_changed(visit: Open) -> None:
    """The currency begins where most who read these units pay."""
    for units, currency in (("us", "USD"), ("metric", "EUR")):
        there = visit(boxes=False, units=units).click("enter_mine")
        assert there.at.selectbox(key="card_currency").value == currency
