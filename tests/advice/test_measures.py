"""Each measure changes what it says, or says why it can't."""

import pytest

from energyplan.advice.measures import MEASURES, MeasureChoice
from energyplan.advice.variants import with_hold_caps
from energyplan.base.errors import PlanError
from energyplan.day.tasks import mash_steps
from energyplan.plan.model import Addition, Plan, Site, Step
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


# Borders ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("key", "choice", "change", "moves"),
    [
        ("jacket", {"jacket_m": 0.02}, {"vessel": {"jacket_thickness_m": 0.019}}, True),
        ("jacket", {"jacket_m": 0.02}, {"vessel": {"jacket_thickness_m": 0.02}}, False),
        ("warm_place", {"air_c": 20.0}, {"site": {"air_c": 19.9}}, True),
        ("warm_place", {"air_c": 20.0}, {"site": {"air_c": 20.0}}, False),
        ("warm_water", {"water_c": 20.0}, {"batch": {"water_temperature_c": 19.9}}, True),
        ("warm_water", {"water_c": 20.0}, {"batch": {"water_temperature_c": 20.0}}, False),
        ("cleaning", {"cleaning_c": 59.9}, {}, True), ("cleaning", {"cleaning_c": 60.0}, {}, False),
        ("boil_length", {"boil_s": 4199.0}, {}, True), ("boil_length", {"boil_s": 4200.0}, {}, False),
        ("hold_length", {"hold_s": 3599.0}, {}, True), ("hold_length", {"hold_s": 3600.0}, {}, False),
        ("kept_water", {"kept_c": 12.1}, {}, True), ("kept_water", {"kept_c": 12.0}, {}, False),
    ],
)  # fmt: skip
def test_a_measure_moves_only_what_is_not_there_yet(demo: Plan, key, choice, change, *, moves: bool) -> None:
    """The demo: boil of 70 min, mash of 60, cleaning at 60 °C filled at 12 °C; what is so already is no change."""
    plan = demo.model_copy(
        update={part: getattr(demo, part).model_copy(update=fields) for part, fields in change.items()}
    )
    assert isinstance(moved(plan, key, MeasureChoice(**choice)), Plan) is moves


def test_lids_that_are_on_and_lengths_that_are_short_say_so(builders) -> None:
    """A boil of the plan's own lid is open; under a lid, or ajar, nothing is to be opened."""
    ramp = Step(name="Up", target_c=60.0, lid="ajar")
    hold = Step(name="Hold", target_c=66.0, hold_s=600.0, lid="on")
    boils = [Step(name="Boil", boil=True, hold_s=600.0, lid=lid) for lid in ("on", "ajar", "off")]
    lids = [changed(builders.water_plan(ramp, hold, boil), "lid_ramps").steps[0].lid_state for boil in boils]
    assert lids == ["on", "on", "on"]
    moves = [isinstance(moved(builders.water_plan(ramp, hold, boil), "lid_boil"), Plan) for boil in boils]
    assert moves == [False, False, True]
    assert not isinstance(moved(builders.water_plan(ramp, hold), "lid_holds"), Plan)


def test_only_the_last_boil_is_shortened(builders) -> None:
    """And an addition that comes later stays where it is."""
    first, last = (Step(name=name, boil=True, hold_s=3600.0) for name in ("First", "Last"))
    hops = (Addition(name="A", left_s=3600.0), Addition(name="B", left_s=600.0))
    plan = builders.water_plan(first, last.model_copy(update={"additions": hops}))
    shorter = changed(plan, "boil_length", MeasureChoice(boil_s=1800.0))
    assert [step.hold_s for step in shorter.steps] == [3600.0, 1800.0]
    assert [one.left_s for one in shorter.steps[1].additions] == [1800.0, 600.0]


def test_what_each_measure_takes() -> None:
    """A setting, a hand or money; gifts are those of a warm room; a larger batch is another brew."""
    groups = {measure.key: measure.group for measure in MEASURES}
    assert {key for key, group in groups.items() if group == "set"} == {
        "boil_length", "hold_length", "cleaning", "boil_power",
    }  # fmt: skip
    assert {key for key, group in groups.items() if group == "buy"} == {"jacket"}
    assert {measure.key for measure in MEASURES if measure.gift} == {"warm_place", "warm_water"}
    assert {measure.key for measure in MEASURES if not measure.combines} == {"batch"}
