"""What can be brewed but is hardly meant: each slip gives its sentence, and sound days give none."""

from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from typer.testing import CliRunner

from energyplan.base.kinds import Style
from energyplan.base.sentence import words
from energyplan.cli import made
from energyplan.day.brewday import simulate
from energyplan.plan.file import demo_plans, plan_to_toml, read_plan
from energyplan.plan.model import Action, Plan, Site, Step
from energyplan.telling.phases import slip_found


def said(plan: Plan, style: Style | None = None) -> list[str]:
    """The sentences that a plan's slips give."""
    return [words(slip_found(slip).said, style or Style()) for slip in simulate(plan).slips]


def changed(plan: Plan, place: int, **fields: Any) -> Plan:
    """The plan with other values of one step."""
    steps = list(plan.steps)
    steps[place] = Step(**{**steps[place].model_dump(), **fields})
    return plan.model_copy(update={"steps": tuple(steps)})


def with_batch(plan: Plan, **fields: Any) -> Plan:
    """The plan with other values of the batch."""
    return plan.model_copy(update={"batch": plan.batch.model_copy(update=fields)})


@pytest.mark.parametrize("name", sorted(demo_plans()))
def test_the_packaged_days_give_none(name: str) -> None:
    """They are brewed as people brew."""
    assert said(read_plan(name)) == []


def sound_day(builders: ModuleType, **tables: Any) -> Plan:
    """Strike, mash, drain, up to the boil with the lid on, boil."""
    *steps, boil = builders.mash_plan().steps
    return builders.mash_plan(*steps, Step(name="Up", target_c=98.0), boil, **tables)


def first(actions: tuple[Action, ...]) -> tuple[Action, ...]:
    """The actions of a step, of the grain only a part."""
    part = Action(kind="add grain", mass_kg=4.0)
    return tuple(part if action.kind == "add grain" else action for action in actions)


def test_a_basket_that_hangs_over_the_vessel_can_be_rinsed(builders: ModuleType) -> None:
    """Lifted and rinsed in one step, in either order, is how people sparge."""
    lift, rinse = Action(kind="remove grain"), Action(kind="add sparge water")
    for before in ((lift, rinse), (rinse, lift)):
        assert said(with_batch(changed(sound_day(builders), DRAIN, before=before), sparge_water_l=5.0)) == []


STRIKE, MASH, DRAIN, UP, BOIL = range(5)
SLIPS: dict[str, tuple[Callable[[ModuleType], Plan], str]] = {
    "grain left in the boil": (
        lambda b: b.mash_plan(*(s for n, s in enumerate(sound_day(b).steps) if n != DRAIN)),
        '"Boil": the grain is still in the vessel when it boils; lift it out before.',
    ),
    "sparge water after the grain is out": (
        lambda b: with_batch(changed(sound_day(b), UP, before=(Action(kind="add sparge water"),)), sparge_water_l=5.0),
        '"Up": sparge water goes in with no grain to rinse; give it in the step that lifts it out, or as add water.',
    ),
    "more power than there is": (
        lambda b: changed(sound_day(b), BOIL, hold_power_w=3500.0),
        '"Boil": 3500 W are set, more than all elements together; they give what they can.',
    ),
    "a ramp of more power than there is": (
        lambda b: changed(sound_day(b), MASH, ramp_power_w=4200.0),
        '"Mash": 4200 W are set, more than all elements together; they give what they can.',
    ),
    "a rest after the mash-out": (
        lambda b: b.mash_plan(
            *sound_day(b).steps[:2], Step(name="Mash-out", target_c=76.0, hold_s=600.0),
            Step(name="Rest", target_c=67.0, hold_s=1800.0), *sound_day(b).steps[2:],
        ),
        '"Rest": a rest at 67 °C with the grain in, after the mash-out; are the steps in their order?',
    ),
    "grain after the boil": (
        lambda b: b.mash_plan(
            *(s.model_copy(update={"before": first(s.before)}) for s in sound_day(b).steps),
            Step(name="Cool", chill_to_c=70.0, chill_time_s=900.0),
            Step(name="More", before=("add grain",), target_c=66.0, hold_s=1800.0),
            Step(name="Out", before=("remove grain",), pause_s=60.0),
        ),
        '"More": grain goes in after the boil; are the steps in their order, or is the vessel to be emptied between?',
    ),
    "cooling by waiting": (
        lambda b: b.mash_plan(*sound_day(b).steps, Step(name="Wait", pause_s=14 * 3600.0)),
        '"Wait": it cools by ',
    ),
    "a strike too hot": (
        lambda b: changed(changed(sound_day(b), STRIKE, target_c=90.0), MASH, target_c=82.0),
        '"Mash": grain goes into 90 °C; above 85 °C the enzymes suffer before they have done anything.',
    ),
    "a mash too hot": (
        lambda b: changed(changed(sound_day(b), STRIKE, target_c=84.5), MASH, target_c=80.0),
        '"Mash": the mash lands at 8',
    ),
    "too thick": (
        lambda b: with_batch(sound_day(b, gravity=None), water_l=18.0, grain_kg=11.0),
        '"Mash": a mash of 1.6 L/kg is thick, hard to stir and to pump; usual are 1.8 to 8 L/kg.',
    ),
    "too thin": (
        lambda b: with_batch(sound_day(b, gravity=None), grain_kg=2.0),
        '"Mash": a mash of 13 L/kg is thin; usual are 1.8 to 8 L/kg.',
    ),
    "hot water from the tap": (
        lambda b: with_batch(sound_day(b), water_temperature_c=65.0),
        "The water comes at 65 °C; taps give less than 60 °C. If it was heated elsewhere, that is not counted.",
    ),
    "no summer time": (
        lambda b: sound_day(b, site=Site(time_zone="GMT")),
        "The clock GMT knows no summer time; where the clocks change, name a place, such as Europe/London.",
    ),
    "a long ramp with the lid off": (
        lambda b: changed(sound_day(b), STRIKE, lid="off"),
        '"Strike": it heats for',
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", SLIPS)
def test_each_slip_gives_its_sentence(builders: ModuleType, case: str) -> None:
    """With the step's name; no other slip is seen beside it, but a hot mash beside a hot strike."""
    make, sentence = SLIPS[case]
    found = said(make(builders))
    assert any(one.lower().startswith(sentence.lower()) for one in found), found
    assert len(found) <= 2


def test_a_day_that_boils_its_water_first_is_no_slip(builders: ModuleType) -> None:
    """Water that is boiled before the mash, and chilled, is no wort."""
    water_first = (
        Step(name="Heat", target_c=98.0), Step(name="First", boil=True, hold_s=60.0),
        Step(name="Cool", chill_to_c=70.0, chill_time_s=900.0),
    )  # fmt: skip
    assert said(builders.mash_plan(*water_first, *sound_day(builders).steps)) == []


def test_a_part_of_the_mash_may_boil_before_the_rest_goes_in(builders: ModuleType) -> None:
    """As cereals are cooked."""
    strike, mash, *rest = sound_day(builders).steps
    cooked = (
        strike, mash.model_copy(update={"before": first(mash.before)}),
        Step(name="Cook", boil=True, hold_s=600.0, lid="ajar"),
        Step(name="Cool", chill_to_c=70.0, chill_time_s=900.0),
        Step(name="More", before=("add grain",), target_c=66.0, hold_s=1800.0), *rest,
    )  # fmt: skip
    assert said(builders.mash_plan(*cooked)) == []


def test_a_sound_day_stays_sound_under_small_changes(builders: ModuleType) -> None:
    """Nothing at the limits themselves."""
    plan = sound_day(builders)
    assert said(plan) == []
    assert said(changed(plan, BOIL, hold_power_w=3000.0)) == []
    assert said(with_batch(plan, water_temperature_c=60.0)) == []
    assert said(sound_day(builders, site=Site(time_zone="UTC"))) == []


def test_slips_in_us_units(builders: ModuleType) -> None:
    """No metric word is left."""
    text = " ".join(said(SLIPS["a strike too hot"][0](builders), Style("us")))
    assert "194 °F" in text
    assert "°C" not in text


def test_the_report_shows_them(builders: ModuleType, tmp_path: Path) -> None:
    """On the first screen, among the notes, and in the document with a code."""
    file = tmp_path / "plan.toml"
    file.write_text(plan_to_toml(SLIPS["more power than there is"][0](builders)), encoding="utf-8")
    screen = CliRunner().invoke(made(), ["report", str(file)]).stdout
    assert "Note:" in screen
    assert "3500 W are set" in " ".join(screen.split())
    assert len(screen.splitlines()) <= 40
    notes = CliRunner().invoke(made(), ["report", str(file), "--show", "notes"]).stdout
    assert "3500 W are set" in " ".join(notes.split())
    document = CliRunner().invoke(made(), ["report", str(file), "--json"]).stdout
    assert '"power_above_the_elements"' in document


def test_a_day_of_water_alone(builders: ModuleType) -> None:
    """Nothing goes in, nothing is said."""
    assert said(builders.water_plan(Step(name="Hot", target_c=60.0))) == []
