"""Tests of vessels so wide that a boil dries up as it falls: an answer or a reason, never a number out of nowhere."""

import pytest

from energyplan.advice.answer import answer
from energyplan.app.editing import with_entries
from energyplan.base.errors import EnergyPlanError
from energyplan.plan.file import read_plan
from energyplan.tariffs.clock import local_to_utc

START = local_to_utc("2026-12-05T08:30", "Europe/Dublin")


@pytest.mark.parametrize("name", ["sour", "lakeside", "pale-ale", "demo"])
def test_a_boil_in_a_vessel_of_three_metres_is_answered_or_refused(name: str) -> None:
    """With water gone the first look at how far a boil falls says less than absolute zero: it is no temperature."""
    wide = with_entries(read_plan(name), {("vessel", "diameter"): "3 m"})
    try:
        found = answer(wide, None, START)
    except EnergyPlanError:
        return
    assert found.day.energy_j > 0


@pytest.mark.parametrize("name", ["sour", "lakeside", "pale-ale", "demo"])
def test_so_is_one_with_every_lid_off_and_a_step_too_many(name: str) -> None:
    """Rests, pauses and chilling fall too quickly there as well, and the next step begins with what is left."""
    plan = with_entries(read_plan(name), {("vessel", "diameter"): "3 m"})
    opened = tuple(step.model_copy(update={"lid": "off"}) for step in plan.steps)
    for place, step in enumerate(opened):
        twice = (*opened[:place], step.model_copy(update={"name": "Once more"}), *opened[place:])
        try:
            found = answer(plan.model_copy(update={"steps": twice}), None, START)
        except EnergyPlanError:
            continue
        assert found.day.energy_j > 0
