"""The room told: it adds up, by the hours of the local clock, in the units asked for."""

from datetime import UTC, datetime

import pytest

from energyplan.advice.answer import Answer, answer
from energyplan.base.kinds import Style
from energyplan.base.sentence import words
from energyplan.faces.frames import part_document
from energyplan.plan.file import read_plan
from energyplan.plan.model import Plan, Step
from energyplan.telling.picture import room_told
from tests.telling.shown import shown_frame

MORNING = datetime(2026, 12, 5, 6, 30, tzinfo=UTC)


@pytest.fixture(scope="module")
def day() -> Answer:
    """The packaged day."""
    return answer(read_plan("demo"), None, MORNING)


def test_the_hours_are_local_and_add_up(day):
    """Sums over the hours, and the whole: what goes in goes somewhere."""
    found = part_document(room_told(day))
    for key in ("heat_kwh", "appliances_kwh", "vapour_kwh", "steam_kg"):
        assert sum(hour[key] for hour in found["by_hour"]) == pytest.approx(found[key])
    whole_kwh = found["heat_kwh"] + found["appliances_kwh"] + found["vapour_kwh"] + found["elsewhere_kwh"]
    assert whole_kwh == pytest.approx(day.day.energy_kwh)
    assert list(shown_frame(room_told(day).table("by_hour"))["From"][:3]) == ["06:30", "07:00", "08:00"]


def test_hours_of_a_clock_change_name_their_zone():
    """01:00 comes twice on 25 October in Ireland: the zone tells which."""
    night = answer(read_plan("demo"), None, datetime(2026, 10, 24, 23, 30, tzinfo=UTC))
    starts = list(shown_frame(room_told(night).table("by_hour"))["From"])
    assert starts[:4] == ["00:30 IST", "01:00 IST", "01:00 GMT", "02:00 GMT"]


def test_a_dry_day_speaks_of_no_steam():
    """With the lid on and no boil."""
    plan = read_plan("demo")
    dry = answer(plan.model_copy(update={"steps": plan.steps[:3], "second_heater": None}), None, MORNING)
    assert str(room_told(dry).headline).endswith("of heat and next to no steam.")


def test_steam_is_in_the_units_asked_for(day):
    """Kilograms or pounds, in sentence and heading."""
    told = room_told(day)
    assert told.headline is not None
    assert "kg of steam" in words(told.headline)
    assert "lb of steam" in words(told.headline, Style("us"))
    assert "Steam, lb" in shown_frame(told.table("by_hour"), Style("us")).columns


def test_no_energy_is_told_as_minus_nothing(builders):
    """Hours that give the room a hair less than nothing are told as 0.00."""
    plan: Plan = builders.water_plan(Step(name="Stand", pause_s=7200.0), water_c=10.995)
    plan = plan.model_copy(update={"site": plan.site.model_copy(update={"air_c": 11.0})})
    told = room_told(answer(plan, None, MORNING))
    assert min(row["heat_kwh"] for row in told.table("by_hour")) < 0
    assert not any("-0.00" in cell for row in shown_frame(told.table("by_hour")).to_numpy() for cell in row)
