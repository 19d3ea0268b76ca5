"""What the brewer enters: what follows from the words, and what a plan may not say."""

import re
from collections.abc import Callable
from types import ModuleType
from typing import Any

import pytest
from pydantic import ValidationError

from energyplan.plan.equipment import Hours
from energyplan.plan.file import demo_plans, read_plan
from energyplan.plan.model import (
    Action,
    Addition,
    Batch,
    Circuit,
    Element,
    OtherLoad,
    Plan,
    Site,
    Step,
    Vessel,
)

ELEMENT = Element(power_w=2000.0, voltage_v=230.0)
STEPS = (Step(name="Heat", target_c=66.0),)


def two_elements() -> Vessel:
    """A vessel with two equal elements."""
    return Vessel(diameter_m=0.36, height_m=0.48, elements=(ELEMENT, ELEMENT))


def plan(**tables: Any) -> Plan:
    """A small plan with some tables replaced."""
    small = {
        "vessel": Vessel(diameter_m=0.36, height_m=0.48, elements=(ELEMENT,)),
        "batch": Batch(water_l=25.0, water_temperature_c=12.0, grain_kg=5.0, sparge_water_l=4.0),
        "steps": STEPS,
    }
    return Plan(**{**small, **tables})


# What follows from the words -----------------------------------------------------------------------------------------


def test_lids_and_pumps_that_are_not_named() -> None:
    """Off for a boil, else on; the pump runs in a step that heats without boiling."""
    mash, boil, rest = Step(name="a", target_c=66.0), Step(name="b", boil=True), Step(name="c", pause_s=60.0)
    assert [step.lid_state for step in (mash, boil, rest)] == ["on", "off", "on"]
    assert [step.pump_runs for step in (mash, boil, rest)] == [True, False, False]
    assert [step.heats for step in (mash, boil, rest)] == [True, True, False]
    assert Step(name="d", boil=True, lid="ajar", pump=True).lid_state == "ajar"
    assert Step(name="d", boil=True, lid="ajar", pump=True).pump_runs


def test_the_wall_is_steel_or_cloth() -> None:
    """Emissivity as entered, else bare steel 0.25 or a jacket's 0.9; a jacket leaves bare parts steel."""
    bare = Vessel(diameter_m=0.36, height_m=0.48, elements=(ELEMENT,))
    jacketed = bare.model_copy(update={"jacket_thickness_m": 0.01})
    painted = bare.model_copy(update={"emissivity": 0.95})
    assert [v.outer_emissivity for v in (bare, jacketed, painted)] == [0.25, 0.9, 0.95]
    assert [v.bare_emissivity for v in (bare, jacketed, painted)] == [0.25, 0.25, 0.95]


def test_voltage_at_the_board() -> None:
    """The circuit's, or without a circuit the first element's nameplate."""
    assert plan().voltage_v == 230.0
    assert plan(circuit=Circuit(voltage_v=222.0)).voltage_v == 222.0


def test_time_zones() -> None:
    """An IANA name becomes a zone; none entered is none."""
    zone = Site(time_zone="Europe/Dublin").zone
    assert str(zone) == "Europe/Dublin"
    assert Site().zone is None


@pytest.mark.parametrize("name", ["Europe/Nowhere", "../etc/passwd", "", "Europe", "/etc/passwd"])
def test_unknown_time_zones_are_refused(name: str) -> None:
    """A name that is no zone, or no name at all, shows how one looks."""
    with pytest.raises(ValidationError, match='IANA name such as "Europe/Dublin"'):
        Site(time_zone=name)


def ends_in_a_unit(node: Any, key: str = "") -> list[tuple[str, Any]]:
    """Values of a document whose names end in a unit."""
    if isinstance(node, dict):
        return [pair for name, value in node.items() for pair in ends_in_a_unit(value, name)]
    if isinstance(node, list):
        return [pair for value in node for pair in ends_in_a_unit(value, key)]
    return [(key, node)] if re.search(r"_(w|s|m2?|min|kg|l|c|v|a|k|j|kwh|frac|ohm)$", key) else []


@pytest.mark.parametrize("name", sorted(demo_plans()))
def test_what_ends_in_a_unit_is_a_number_for_machines(name: str) -> None:
    """In the plan of a document, with hours and loads by the clock too."""
    plan = read_plan(name)
    loads = (*plan.other_loads, OtherLoad(name="Oven", power_w=2000.0, from_min="17:30"))
    hours = Hours(earliest="07:00", somebody_there=("06:00", "23:00"))
    values = ends_in_a_unit(plan.model_copy(update={"other_loads": loads, "hours": hours}).model_dump(mode="json"))
    assert {"from_min", "earliest_min", "somebody_there_min", "power_w", "air_c"} <= {key for key, _ in values}
    assert not [(key, value) for key, value in values if isinstance(value, str)]


@pytest.mark.parametrize(("text", "minutes"), [("00:00", 0), ("7:05", 425), ("17:30", 1050), ("24:00", 1440)])
def test_clock_times(text: str, minutes: int) -> None:
    """Hours and minutes of the local clock, to midnight at the end of the day."""
    load = OtherLoad(name="Oven", power_w=2000.0, from_min=text)
    assert load.from_min == minutes
    assert load.model_dump(by_alias=True, context={"file": True})["from"] == f"{minutes // 60:02d}:{minutes % 60:02d}"
    assert load.model_dump(mode="json")["from_min"] == minutes  # for machines in the unit that its name ends in


@pytest.mark.parametrize("text", ["24:01", "25:00", "12:60", "noon", "12", "-1:00", "", 1441, -1, True, 12.5])
def test_what_is_no_clock_time(text: object) -> None:
    """The message gives the range."""
    with pytest.raises(ValidationError, match='expected a time of day from "00:00" to "24:00"'):
        OtherLoad(name="Oven", power_w=2000.0, from_min=text)


def test_actions_read_and_write() -> None:
    """Words of the file become actions, and their text reads back the same."""
    step = Step(name="Clean", before=("empty", "add water:  12 L  at 53.6 degF"), target_c=60.0)
    assert step.before[0] == Action(kind="empty")
    assert (step.before[1].volume_l, step.before[1].temperature_c) == (12.0, pytest.approx(12.0))
    assert Step(name="x", before=tuple(str(action) for action in step.before), target_c=60.0).before == step.before


@pytest.mark.parametrize(
    ("action", "words"),
    [
        ("add malt", "expected one of add grain, remove grain, add sparge water, empty, or add water: 12 L at 12 degC"),
        ("add water: 12 L", "expected one of"),
        ("add water: 12 kg at 12 degC", "is no volume"),
        ("add water: 12 L at 12 L", "is no temperature"),
        ("Add Grain", "expected one of"),
        (7, "Action"),
    ],
)
def test_what_is_no_action(action: object, words: str) -> None:
    """The message lists what can be done."""
    with pytest.raises(ValidationError) as refused:
        Step(name="x", before=(action,), target_c=60.0)
    assert words in str(refused.value)


def test_plans_are_frozen_and_can_be_keys() -> None:
    """A plan never changes, so that results can be cached by it."""
    one, other = plan(), plan()
    assert one == other
    assert hash(one) == hash(other)
    with pytest.raises(ValidationError, match="frozen"):
        one.vessel.diameter_m = 0.4


# What a plan may not say ---------------------------------------------------------------------------------------------


def heat(name: str = "Heat", *before: str, **fields: Any) -> Step:
    """A step that heats to 66 °C."""
    actions = tuple(Action(kind=kind) for kind in before)
    return Step(**{"name": name, "before": actions, "target_c": 66.0, **fields})


BROKEN: dict[str, tuple[Callable[[], dict[str, Any]], str, str]] = {
    "no water": (lambda: {"batch": Batch(water_l=0.0, water_temperature_c=12.0)}, "[batch] water", "needs water"),
    "ice": (lambda: {"batch": Batch(water_l=20.0, water_temperature_c=-3.0)}, "[batch] water_temperature", "liquid"),
    "steam": (lambda: {"batch": Batch(water_l=20.0, water_temperature_c=104.0)}, "[batch] water_temperature", "100 °C"),
    "sparge steam in the mountains": (
        lambda: {
            "batch": Batch(water_l=20.0, water_temperature_c=9.0, sparge_water_l=4.0, sparge_temperature_c=92.0),
            "site": Site(altitude_m=3000.0),
        },
        "[batch] sparge_temperature",
        "between 0 °C and 90 °C",
    ),
    "target above the boil": (lambda: {"steps": (heat(target_c=103.0),)}, "target", "boils at 100 °C"),
    "target above the mountain's boil": (
        lambda: {"steps": (heat(target_c=95.0),), "site": Site(altitude_m=2000.0)},
        "target",
        "boils at 93.3 °C",
    ),
    "target below freezing": (lambda: {"steps": (heat(target_c=-2.0),)}, "target", "below freezing"),
    "boil with a target": (lambda: {"steps": (heat(boil=True),)}, "target", "needs no target"),
    "a step that does nothing": (lambda: {"steps": (Step(name="Heat"),)}, "target", "does nothing"),
    "a hold without a target": (
        lambda: {"steps": (Step(name="Heat", pause_s=60.0, hold_s=60.0),)},
        "hold",
        "write pause",
    ),
    "two steps of one name": (lambda: {"steps": (heat(), heat())}, "name", "two steps have this name"),
    "an addition outside a boil": (
        lambda: {"steps": (heat(additions=(Addition(name="Hops", left_s=60.0),)),)},
        'addition "Hops" left',
        "this step is none",
    ),
    "an addition before the boil": (
        lambda: {
            "steps": (Step(name="Heat", boil=True, hold_s=600.0, additions=(Addition(name="Hops", left_s=660.0),)),)
        },
        'addition "Hops" left',
        "the boil lasts 10 min",
    ),
    "grain twice": (lambda: {"steps": (heat("a", "add grain"), heat("Heat", "add grain"))}, "before", "already in"),
    "grain again after it was lifted out": (
        lambda: {"steps": (heat("a", "add grain", "remove grain"), heat("Heat", "add grain"))},
        "before",
        "once a day",
    ),
    "no grain to add": (
        lambda: {"batch": Batch(water_l=20.0, water_temperature_c=12.0), "steps": (heat("Heat", "add grain"),)},
        "before",
        "[batch] has no grain",
    ),
    "no grain to lift out": (lambda: {"steps": (heat("Heat", "remove grain"),)}, "before", "no grain in the vessel"),
    "sparge without water": (
        lambda: {"batch": Batch(water_l=20.0, water_temperature_c=12.0), "steps": (heat("Heat", "add sparge water"),)},
        "before",
        "no sparge water",
    ),
    "sparge twice": (
        lambda: {"steps": (heat("Heat", "add sparge water", "add sparge water"),)},
        "before",
        "already in",
    ),
    "heating an empty vessel": (lambda: {"steps": (heat("Heat", "empty"),)}, "before", "the vessel is empty here"),
    "grain into an empty vessel": (
        lambda: {"steps": (heat("Heat", "empty", "add grain"),)},
        "before",
        "add water before the grain",
    ),
    "no water at all added": (
        lambda: {"steps": (heat(before=(Action(kind="add water", temperature_c=12.0),)),)},
        "before",
        "more than nothing",
    ),
    "too little power for any element": (
        lambda: {
            "vessel": plan().vessel.model_copy(update={"control": "switched"}),
            "steps": (heat(hold_power_w=500.0),),
        },
        "hold_power",
        "the least that can be on is 2000 W",
    ),
    "a second heater for no step": (
        lambda: {"second_heater": {"power_w": 1500.0, "ready_at_step": "Sparge"}},
        "[second_heater] ready_at_step",
        'the steps are "Heat"',
    ),
    "a second heater for no water": (
        lambda: {
            "second_heater": {"power_w": 1500.0, "ready_at_step": "Heat"},
            "batch": Batch(water_l=20.0, water_temperature_c=12.0),
        },
        "[second_heater]",
        "[batch] sparge_water",
    ),
    "a room as hot as an oven": (lambda: {"site": Site(air_c=120.0)}, "[site] air", "between"),
    "walls of ice": (lambda: {"site": Site(surroundings_c=-55.0)}, "[site] surroundings", "between"),
    "roasting grain": (
        lambda: {"batch": Batch(water_l=20.0, water_temperature_c=12.0, grain_kg=4.0, grain_temperature_c=125.0)},
        "[batch] grain_temperature",
        "between",
    ),
    "adding steam": (
        lambda: {"steps": (heat(before=(Action(kind="add water", volume_l=3.0, temperature_c=120.0),)),)},
        "before",
        "liquid between 0 °C and 100 °C",
    ),
    "a line that is not there": (
        lambda: {"circuit": Circuit(voltage_v=230.0, layout="one phase", line="L2")},
        "[circuit] line",
        "a one phase circuit has L1",
    ),
    "a load on a line that is not there": (
        lambda: {
            "circuit": Circuit(voltage_v=230.0, layout="split phase"),
            "other_loads": (OtherLoad(name="Oven", power_w=2000.0, line="L3"),),
        },
        '[[other_load]] "Oven" line',
        "a split phase circuit has L1, L2, L1-L2 and all",
    ),
    "a window of no length": (
        lambda: {"other_loads": (OtherLoad(name="Oven", power_w=2000.0, from_min=600, to_min=600),)},
        '[[other_load]] "Oven" from',
        "the same time",
    ),
    "a curve of other rules": (
        lambda: {"circuit": Circuit(voltage_v=240.0, rules="nec", breaker_curve="B")},
        "[circuit] breaker_curve",
        "expected inverse",
    ),
    "a method of other rules": (
        lambda: {"circuit": Circuit(voltage_v=230.0, installation="60")},
        "[circuit] installation",
        "A, B, C or E",
    ),
    "two equal elements on all lines": (
        lambda: {"circuit": Circuit(voltage_between_lines_v=400.0, line="all"), "vessel": two_elements()},
        "[circuit] line",
        "how 2 elements hang on three lines",
    ),
    "a voltage between lines as one to neutral": (
        lambda: {"circuit": Circuit(voltage_v=400.0, layout="three phase")},
        "[circuit] voltage",
        'voltage_between_lines = "400 V"',
    ),
    "a ring in America": (
        lambda: {"circuit": Circuit(voltage_v=240.0, rules="nec", ring=True)},
        "[circuit] ring",
        "no ring",
    ),
    "an edition of other rules": (
        lambda: {"circuit": Circuit(voltage_v=230.0, rules_edition="2023")},
        "[circuit] rules_edition",
        "expected 2018",
    ),
    "an element between lines that it is not made for": (
        lambda: {"circuit": Circuit(voltage_between_lines_v=400.0, line="L1-L2")},
        "[[vessel.element]] no. 1 line",
        "would burn",
    ),
}


@pytest.mark.parametrize("case", BROKEN)
def test_contradictions_are_named(case: str) -> None:
    """Where it stands, and what to do about it."""
    tables, where, words = BROKEN[case]
    with pytest.raises(ValidationError) as refused:
        plan(**tables())
    error = refused.value.errors()[0]
    assert error["type"] == "plan_rules"
    problems = error["ctx"]["problems"]
    assert any(where in str(one.where) and words in str(one.message) for one in problems), problems


def test_all_contradictions_are_told_at_once() -> None:
    """Three faults, three problems."""
    with pytest.raises(ValidationError) as refused:
        plan(
            batch=Batch(water_l=0.0, water_temperature_c=-3.0, grain_kg=5.0),
            steps=(heat("Heat", "add grain", "add grain", target_c=120.0),),
        )
    assert len(refused.value.errors()[0]["ctx"]["problems"]) == 4


def test_a_sound_plan_breaks_no_rule(builders: ModuleType) -> None:
    """The builders' plans are sound, with water going in after emptying."""
    assert builders.mash_plan().broken_rules() == ()
    cleaning = Step(name="Clean", before=("empty", "add water: 12 L at 12 degC"), target_c=60.0)
    assert builders.mash_plan(*builders.mash_plan().steps, cleaning).broken_rules() == ()


@pytest.mark.parametrize(
    "fields",
    [
        {"diameter_m": 0.05}, {"height_m": 4.0}, {"emissivity": 0.0}, {"emissivity": 1.5}, {"fittings": 0.5},
        {"pump_heat": 1.5}, {"elements": ()}, {"power_step_w": 0.0}, {"lid_ajar_open": -0.1}, {"control": "magic"},
        {"colour": "red"},
    ],
)  # fmt: skip
def test_vessels_that_are_none(fields: dict[str, Any]) -> None:
    """Sizes, shares and words outside what they mean are refused, unknown fields too."""
    with pytest.raises(ValidationError):
        Vessel(**{"diameter_m": 0.36, "height_m": 0.48, "elements": (ELEMENT,), **fields})


@pytest.mark.parametrize(
    "fields",
    [{"gravity": 0.9}, {"gravity": 1.3}, {"gravity": float("nan")}, {"grain_moisture": 0.5}, {"grain_kg": -1.0}],
)
def test_batches_that_are_none(fields: dict[str, Any]) -> None:
    """Gravities below water or above syrup, wet or negative grain."""
    with pytest.raises(ValidationError):
        Batch(**{"water_l": 20.0, "water_temperature_c": 12.0, **fields})


@pytest.mark.parametrize("name", ["", "x" * 81, "two\nlines", "a\x00b"])
def test_names_are_one_short_line(name: str) -> None:
    """Names go into tables and calendars."""
    with pytest.raises(ValidationError):
        Step(name=name, target_c=60.0)


def test_elements_have_power() -> None:
    """A heating element of no watts heats nothing."""
    with pytest.raises(ValidationError):
        Element(power_w=0.0, voltage_v=230.0)


def test_a_measured_stored_heat_replaces_the_mass() -> None:
    """10 kg of steel store 5 kJ/K (0.5 kJ/kgK, from memory); a measured value is taken at its word."""
    bare = Vessel(diameter_m=0.36, height_m=0.48, empty_mass_kg=10.0, elements=(ELEMENT,))
    assert bare.own_heat_j_per_k == 5000.0
    assert bare.model_copy(update={"stored_heat_j_per_k": 7200.0}).own_heat_j_per_k == 7200.0


def test_files_write_times_and_actions_as_text() -> None:
    """A bare number of minutes, or a table for an action, is for programs only."""
    load = {"name": "Oven", "power": "2 kW", "from": 600}
    with pytest.raises(ValidationError, match="expected a time of day"):
        OtherLoad.model_validate(load, context={"file": True})
    step = {"name": "Mash", "target": "66 degC", "before": [{"kind": "empty"}]}
    with pytest.raises(ValidationError, match="as text"):
        Step.model_validate(step, context={"file": True})


def test_a_second_heater_that_takes_days_is_refused(builders) -> None:  # type: ignore[no-untyped-def]
    """5 L from 12 to 75 °C take 0.37 kWh by hand, 0.41 with a tenth lost; one watt would need 407 h."""
    plan = read_plan("demo")
    weak = plan.model_dump() | {"second_heater": plan.second_heater.model_dump() | {"power_w": 1.0}}
    with pytest.raises(ValidationError, match=r"for 406\.8 h"):
        Plan.model_validate(weak)


def test_an_emptied_vessel_weighs_something() -> None:
    """Without any mass an emptied vessel would have no heat to go by."""
    plan = read_plan("demo")
    light = plan.model_dump() | {"vessel": plan.vessel.model_dump() | {"empty_mass_kg": 0.0}}
    with pytest.raises(ValidationError, match="emptied"):
        Plan.model_validate(light)
