"""Variants that end with the same volume."""

from dataclasses import replace

import pytest

from energyplan.advice.variants import CLOSE_L, EqualWort, with_end_volume, with_hold_caps, with_strike
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


@pytest.mark.parametrize("boil_w", [1900.0, 2500.0])
def test_the_energy_of_equal_wort_is_told_from_one_day(demo: Plan, demo_day: BrewDay, boil_w: float) -> None:
    """What a litre takes is learned from one search; then the energy is within two watt-hours of the searched day's."""
    plan, equal = with_hold_caps(demo, {"Boil": boil_w}), EqualWort(demo_day.wort.extract_kg)
    equal.day(with_hold_caps(demo, {"Boil": 2050.0}), demo_day.wort.end_l)
    searched = EqualWort(demo_day.wort.extract_kg).day(plan, demo_day.wort.end_l)
    assert equal.energy_kwh(plan, demo_day.wort.end_l) == pytest.approx(searched.energy_kwh, abs=0.002)


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


@pytest.mark.parametrize(("off_k", "set_k"), [(0.0, 0.0), (0.04, 0.0), (0.06, 0.1), (0.12, 0.1), (-0.16, -0.2)])
def test_a_strike_is_set_to_the_tenth_that_is_nearest(demo_day: BrewDay, off_k: float, set_k: float) -> None:
    """Less than half a tenth is left alone; anything more moves the heating before the mash, and nothing else."""
    day = demo_day
    assert day.strike is not None
    wanted = replace(day.strike, wanted_c=day.strike.planned_c + off_k)
    changed = with_strike(replace(day, strike=wanted))
    before, after = ([step.target_c for step in plan.steps] for plan in (day.plan, changed))
    moved = [(one, other) for one, other in zip(before, after, strict=True) if one != other]
    assert len(moved) == (set_k != 0)
    for one, other in moved:
        assert other - one == pytest.approx(set_k, abs=1e-9)
