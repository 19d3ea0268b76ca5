"""Variants that end with the same volume."""

from dataclasses import replace

import pytest

from energyplan.advice.variants import (
    CLOSE_L,
    EqualWort,
    cap_of_heat_w,
    drawn_w,
    given_w,
    least_setting_w,
    pump_heat_w,
    with_end_volume,
    with_hold_caps,
    with_strike,
    with_wait,
)
from energyplan.base.errors import BrewDayError, PlanError
from energyplan.day.brewday import BrewDay
from energyplan.day.legs import Conditions
from energyplan.plan.model import Plan, Step


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


# What can be set, by hand --------------------------------------------------------------------------------------


def test_a_heat_under_low_mains_takes_a_higher_cap(builders) -> None:
    """207 V and elements of nine tenths give 0.729 of it; one under the base draws more than it gives inwards."""
    plan = builders.water_plan(Step(name="Warm", target_c=60.0), vessel=builders.vessel(2500.0))
    low = Conditions(voltage_v=207.0, element_factor=0.9)
    assert given_w(plan, None, low) == pytest.approx(2500 * 0.729)
    assert given_w(plan, 1000.0, low) == pytest.approx(729.0)
    assert cap_of_heat_w(plan, 729.0, low) == pytest.approx(1000.0)
    assert least_setting_w(plan, 730.0, low) == pytest.approx(1100.0)
    outside = plan.vessel.elements[0].model_copy(update={"share_into_water": 0.8})
    under = plan.model_copy(update={"vessel": plan.vessel.model_copy(update={"elements": (outside,)})})
    assert (given_w(under, 1000.0), drawn_w(under, 1000.0)) == (pytest.approx(800.0), pytest.approx(1000.0))
    assert cap_of_heat_w(under, 800.0) == pytest.approx(1000.0)


def test_a_pump_warms_where_it_runs(builders) -> None:
    """30 W, six tenths of them, in a step that runs it."""
    runs, rests = (Step(name="A", target_c=60.0, pump=pump) for pump in (True, False))
    plan = builders.water_plan(runs, rests.model_copy(update={"name": "B"}))
    assert [pump_heat_w(plan, step) for step in plan.steps] == [18.0, 0.0]


# Water that waits ----------------------------------------------------------------------------------------------


def test_water_that_waits_is_heated_again(builders) -> None:
    """The strike without its hold, then the same step after the wait: lid on, nothing before it, all its hold."""
    plan = builders.mash_plan()
    waits = with_wait(plan, 45.0)
    heated, again, *rest = waits.steps
    assert (heated.name, heated.target_c, heated.hold_s, heated.lid) == ("Strike", 70.0, 0.0, "on")
    assert (again.name, again.pause_s, again.hold_s, again.lid, again.before) == (
        "Strike kept warm", 2700.0, 300.0, "on", (),
    )  # fmt: skip
    assert tuple(rest) == plan.steps[1:]
    assert with_wait(plan, 0.0) is plan
    twice = with_wait(waits, 10.0)
    assert [step.name for step in twice.steps[:3]] == ["Strike", "Kept warm 0", "Strike kept warm"]
    for steps in (
        (Step(name="Rest", pause_s=600.0), *plan.steps), plan.steps[1:], (plan.steps[0], plan.steps[3]),
    ):  # fmt: skip
        with pytest.raises(PlanError, match="only plain strike water may wait"):
            with_wait(plan.model_copy(update={"steps": steps}), 5.0)


def test_only_plausible_slopes_are_learned() -> None:
    """Half a litre to two litres at the end for one more at the start; a millilitre teaches nothing but rounding."""
    for more_l, end_l, slope in ((1.0, 0.9, 0.9), (1.0, 0.49, 1.0), (1.0, 0.51, 0.51), (1.0, 1.99, 1.99),
                                 (1.0, 2.01, 1.0), (9e-4, 8e-4, 1.0), (-1.0, -0.9, 0.9), (-1.0, 0.9, 1.0)):  # fmt: skip
        equal = EqualWort(4.0)
        equal._learn(more_l, end_l, 0.12)
        assert equal.slope == pytest.approx(slope)
        assert equal.kwh_per_l == pytest.approx(0.1 if slope == 1.0 else 0.12 / more_l)
