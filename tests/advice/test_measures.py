"""Each measure changes what it says, or says why it can't."""

import pytest

from energyplan.advice.measures import MEASURES, MeasureChoice
from energyplan.advice.variants import with_hold_caps
from energyplan.base.errors import PlanError
from energyplan.day.tasks import mash_steps
from energyplan.plan.model import Plan, Site, Step
from energyplan.telling.measures import WHY_NOT

CHOICE = MeasureChoice()


def moved(plan: Plan, key: str, choice: MeasureChoice = CHOICE) -> Plan | str:
    """The plan with one measure taken, or why not, in words."""
    found = next(measure for measure in MEASURES if measure.key == key).change(plan, choice)
    return found if isinstance(found, Plan) else str(WHY_NOT[found.code](found))


def changed(plan: Plan, key: str, choice: MeasureChoice = CHOICE) -> Plan:
    """The same, where it can be."""
    found = moved(plan, key, choice)
    assert isinstance(found, Plan)
    return found


def test_jacket(demo: Plan, builders) -> None:
    """A thicker one; not where the loss is measured or the jacket is as thick."""
    assert changed(demo, "jacket").vessel.jacket_thickness_m == 0.02
    assert "it has a jacket of 3 cm" in str(
        moved(builders.mash_plan(vessel=builders.vessel(jacket_thickness_m=0.03)), "jacket")
    )
    assert "measured" in str(moved(builders.mash_plan(vessel=builders.vessel(heat_loss_w_per_k=5.0)), "jacket"))


def test_lids(builders) -> None:
    """Ramps of their own, holds, and the boil, each apart."""
    steps = (
        Step(name="Up", target_c=60.0, lid="off"),
        Step(name="Hold", target_c=66.0, hold_s=600.0, lid="ajar"),
        Step(name="Boil", boil=True, hold_s=600.0),
    )
    plan = builders.water_plan(*steps)
    lids = {key: [s.lid_state for s in changed(plan, key).steps] for key in ("lid_ramps", "lid_holds", "lid_boil")}
    assert lids == {
        "lid_ramps": ["on", "ajar", "off"],
        "lid_holds": ["off", "on", "off"],
        "lid_boil": ["off", "ajar", "ajar"],
    }
    closed = builders.water_plan(Step(name="Hold", target_c=66.0, hold_s=600.0))
    assert [str(moved(closed, key))[:3] for key in lids] == ["the", "the", "no "]


def test_boil_length_takes_the_additions_along(demo: Plan) -> None:
    """An addition can't come before the boil."""
    boil = changed(demo, "boil_length").steps[5]
    assert boil.hold_s == 2700.0
    assert [addition.left_s for addition in boil.additions] == [2700.0, 600.0]
    assert "no boil lasts longer than 80 min" in str(moved(demo, "boil_length", MeasureChoice(boil_s=4800.0)))


def test_boil_power(demo: Plan, builders) -> None:
    """Lower than set; not where it is low already, or without a boil."""
    strong = with_hold_caps(demo, {"Boil": 2800.0})
    power_w = changed(strong, "boil_power").steps[5].hold_power_w
    assert power_w is not None
    assert power_w < 2800.0
    again = moved(changed(strong, "boil_power"), "boil_power")
    assert "are set" in str(again)
    assert moved(builders.water_plan(Step(name="Warm", target_c=60.0)), "boil_power") == "there is no boil"


def test_hold_length_is_that_of_the_longest_mash_hold(demo: Plan) -> None:
    """The strike water is no mash."""
    steps = changed(demo, "hold_length").steps
    assert [step.hold_s for step in steps[:3]] == [300.0, 2700.0, 600.0]
    assert "no hold of the mash" in str(moved(demo, "hold_length", MeasureChoice(hold_s=3600.0)))


def test_mash_is_what_happens_with_the_grain_in(demo: Plan, builders) -> None:
    """From grain in to grain out; without grain nothing."""
    assert [step.name for step in mash_steps(demo)] == ["Saccharification", "Mash-out"]
    assert mash_steps(builders.water_plan(Step(name="Warm", target_c=60.0, hold_s=60.0))) == []


def test_a_warmer_place_leaves_the_grain_as_cold_as_it_was(builders) -> None:
    """Only the place moves; warm walls stay as warm."""
    plan = builders.mash_plan(site=Site(air_c=8.0, surroundings_c=5.0))
    bare = plan.model_copy(update={"batch": plan.batch.model_copy(update={"grain_temperature_c": None})})
    warm = changed(bare, "warm_place")
    assert (warm.site.air_c, warm.site.surroundings_c, warm.batch.grain_temperature_c) == (20.0, 20.0, 8.0)
    assert "already" in str(moved(builders.mash_plan(site=Site(air_c=25.0)), "warm_place"))


def test_warmer_water(demo: Plan) -> None:
    """20 °C instead of 12; not where it is warmer."""
    assert changed(demo, "warm_water").batch.water_temperature_c == 20.0
    assert "already" in str(moved(demo, "warm_water", MeasureChoice(water_c=10.0)))


def test_cleaning(demo: Plan, builders) -> None:
    """Only what comes after emptying, and only if it is hotter."""
    plan = changed(demo, "cleaning")
    hot = {step.name: step.target_c for step in demo.steps}
    assert {step.name: step.target_c for step in plan.steps} == hot | {"Cleaning": 50.0}
    assert "nothing is cleaned" in str(moved(builders.mash_plan(), "cleaning"))


def test_chiller_water_fills_the_cleaning(demo: Plan, builders) -> None:
    """The cleaning's 12 L come at 45 °C; without a boil, or with water as warm already, there is nothing to move."""
    plan = changed(demo, "kept_water")
    cleaning = next(step for step in plan.steps if step.name == "Cleaning")
    assert [str(action) for action in cleaning.before] == ["empty", "add water: 12 L at 45 degC"]
    assert "nothing is boiled" in moved(builders.water_plan(Step(name="Heat", target_c=60.0)), "kept_water")
    assert "nothing is cleaned with water below" in moved(demo, "kept_water", MeasureChoice(kept_c=10.0))


def test_batch_scales_water_and_grain(demo: Plan) -> None:
    """A quarter more of both, and of the sparge water."""
    batch = changed(demo, "batch").batch
    assert (batch.water_l, batch.grain_kg, batch.sparge_water_l) == (33.75, 7.25, 6.25)


@pytest.mark.parametrize("wrong", [{"jacket_m": 0.0}, {"boil_s": -1.0}, {"hold_s": 0.0}, {"batch_frac": float("nan")}])
def test_choices_that_make_no_sense_are_refused(wrong: dict[str, float]) -> None:
    """The message names the number."""
    with pytest.raises(PlanError, match="expected more than 0"):
        MeasureChoice(**wrong)


@pytest.mark.parametrize("paint", [0.1, 0.25, 0.9])
def test_a_jacket_has_an_outside_of_its_own(demo: Plan, paint: float) -> None:
    """Its cloth is a jacket's (0.9, as the plan file has it); lid and base stay what they were."""
    bare = {"emissivity": paint, "jacket_thickness_m": None}
    painted = demo.model_copy(update={"vessel": demo.vessel.model_copy(update=bare)})
    wrapped = changed(painted, "jacket").vessel
    assert (wrapped.outer_emissivity, wrapped.bare_emissivity) == (0.9, paint)
