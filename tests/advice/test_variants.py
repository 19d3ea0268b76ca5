"""Variants that end with the same volume."""

import pytest

from energyplan.advice.variants import CLOSE_L, with_end_volume, with_hold_caps
from energyplan.base.errors import BrewDayError
from energyplan.day.brewday import BrewDay
from energyplan.plan.model import Plan


def test_end_volume_is_reached(demo: Plan, demo_day: BrewDay) -> None:
    """With a lower boil power less water goes in and as much comes out."""
    plan = with_hold_caps(demo, {"Boil": 1900.0})
    day = with_end_volume(plan, demo_day.wort.end_l, extract_kg=demo_day.wort.extract_kg)
    assert day.wort.end_l == pytest.approx(demo_day.wort.end_l, abs=2 * CLOSE_L)
    assert day.plan.batch.water_l < demo.batch.water_l
    assert day.wort.gravity_end == pytest.approx(demo_day.wort.gravity_end, abs=5e-4)


def test_the_same_plan_needs_no_change(demo: Plan, demo_day: BrewDay) -> None:
    """Not a digit."""
    day = with_end_volume(demo, demo_day.wort.end_l, extract_kg=demo_day.wort.extract_kg)
    assert day.plan == demo


def test_a_volume_that_does_not_fit_is_an_error(demo: Plan, demo_day: BrewDay) -> None:
    """The vessel would run over."""
    with pytest.raises(BrewDayError, match="run over"):
        with_end_volume(demo, 60.0, extract_kg=demo_day.wort.extract_kg)


def test_a_volume_below_what_the_rest_brings_is_an_error(demo: Plan, demo_day: BrewDay) -> None:
    """There is no negative water."""
    with pytest.raises(BrewDayError, match="no amount near"):
        with_end_volume(demo, -20.0, extract_kg=demo_day.wort.extract_kg)
