"""A first plan from a few answers: what follows from them, by hand."""

import re

import pytest

from energyplan.advice import firstplan
from energyplan.advice.firstplan import (
    Starter,
    _boiling,
    _usual_shape,
    first_plan,
    first_plan_toml,
    is_us,
    starter_of,
    starter_toml,
)
from energyplan.base.errors import EnergyPlanError
from energyplan.day.brewday import simulate
from energyplan.plan.file import parse_plan

PLACE = {"time_zone": "Europe/Dublin"}


@pytest.mark.parametrize(
    ("power", "voltage", "breaker"),
    [
        ("2300 W", "230 V", "10 A"), ("2310 W", "230 V", "13 A"), ("2990 W", "230 V", "13 A"),
        ("3680 W", "230 V", "16 A"), ("3690 W", "230 V", "20 A"), ("7360 W", "230 V", "32 A"),
        ("14490 W", "230 V", "63 A"), ("20 kW", "230 V", "63 A"), ("1440 W", "120 V", "15 A"),
        ("1450 W", "120 V", "20 A"), ("1920 W", "120 V", "20 A"), ("1930 W", "120 V", "25 A"),
        ("99 kW", "120 V", "100 A"),
    ],
)  # fmt: skip
def test_the_breaker_is_the_next_that_carries_it(power: str, voltage: str, breaker: str) -> None:
    """At 230 V its current, at 120 V a quarter more (NFPA 70, 210.20(A), from memory); beyond the largest that one."""
    assert starter_of({"power": power, "voltage": voltage, **PLACE}).breaker == breaker


@pytest.mark.parametrize(
    ("answers", "rules"),
    [
        ({"voltage": "149 V"}, "nec"), ({"voltage": "150 V"}, "iec"), ({"time_zone": "America/Toronto"}, "nec"),
        ({"time_zone": "US/Pacific"}, "nec"), ({"voltage": "120 V", "rules": "iec"}, "iec"), ({}, "iec"),
        ({"voltage": "what"}, "iec"),
    ],
)  # fmt: skip
def test_the_rules_follow_from_the_mains_or_the_place(answers: dict[str, str], rules: str) -> None:
    """Below 150 V, or in America; unless they are said. What can't be read is named by the reader of the plan."""
    assert starter_of({**PLACE, **answers}).rules == rules


@pytest.mark.parametrize(
    ("answers", "volume"),
    [
        ({}, "43 L"), ({"water": "20 L", "grain": "4 kg"}, "32 L"), ({"water": "30 L", "grain": "0 kg"}, "44 L"),
        ({"water": "7 gal", "grain": "12 lb"}, "11 gal"), ({"grain": "12 lb"}, "11 gal"), ({"diameter": "40 cm"}, None),
        ({"height": "40 cm"}, None), ({"volume": "35 L"}, "35 L"),
    ],
)  # fmt: skip
def test_a_vessel_holds_nearly_half_more_than_its_water_and_grain(answers: dict[str, str], volume: str | None) -> None:
    """1.45 times 27 L and 0.67 L for each of 5.5 kg: 43 L; 26.5 L and 5.4 kg, 42 L, are 11 gallons."""
    assert starter_of({**PLACE, **answers}).volume == volume


def test_us_answers_have_us_defaults() -> None:
    """Seven gallons and twelve pounds, where one thing is told in inches; what is said stays."""
    inches = starter_of({"height": "20 in", **PLACE})
    assert (inches.water, inches.grain) == ("7 gal", "12 lb")
    assert starter_of({"height": "20 in", "water": "25 L", **PLACE}).water == "25 L"
    for text in ("7 gal", "3 gallons", "12qt", "20 inches", "2 ft", "5 lb", "80 oz"):
        assert is_us(Starter(water=text))
    for text in ("27 L", "5 kg", "goblins", "30 l"):
        assert not is_us(Starter(water=text))


def test_the_shape_of_a_vessel_is_the_usual_one() -> None:
    """48.86 L are 36 cm across and 48 cm high; eight times as much twice of both; in US units inches."""
    assert _usual_shape(Starter(volume="390.9 L")) == ("72.0 cm", "96.0 cm")
    assert _usual_shape(Starter(volume="48.86 L", water="7 gal")) == ("14.2 in", "18.9 in")


@pytest.mark.parametrize(
    ("named", "zone"),
    [("Europe/Vienna", "Europe/Vienna"), (":Europe/Vienna", "Europe/Vienna"), ("UTC", None), ("Etc/UTC", None),
     ("No/Where", None)],
)  # fmt: skip
def test_the_clock_is_the_machine_s_where_that_tells_a_place(
    monkeypatch: pytest.MonkeyPatch, named: str, zone: str | None
) -> None:
    """UTC is no place; what was answered comes first."""
    monkeypatch.setenv("TZ", named)
    assert starter_of({}).time_zone == zone
    assert starter_of(PLACE).time_zone == "Europe/Dublin"


def test_remarks_stand_in_one_column() -> None:
    """Behind the values, as far as these reach; a key that is commented out is in line with the others."""
    for starter in (Starter(), Starter(water="7 gal", grain=None, volume="11 gal")):
        lines = [line for line in starter_toml(starter).splitlines() if re.match(r"(# )?[a-z_]+ = ", line)]
        places = [line.rindex(" # ") + 1 for line in lines if " # " in line[3:]]
        assert len(places) >= 8
        assert all(place == 32 or (place > 32 and line) for place, line in zip(places, lines, strict=False))
        assert places.count(32) >= 7


def test_without_grain_there_is_no_mash() -> None:
    """A step of warm water, 0 kg, and no gravity that grain would give."""
    plan = parse_plan(starter_toml(Starter(grain=None)))
    assert [step.name for step in plan.steps] == ["Warm water", "Towards the boil", "Boil"]
    assert plan.batch.grain_kg == 0.0
    mashed = parse_plan(starter_toml(Starter()))
    assert [step.name for step in mashed.steps] == ["Strike", "Mash", "Mash-out", "Drain", "Towards the boil", "Boil"]


def test_a_strike_lands_on_the_rest_to_half_a_degree() -> None:
    """And to a whole degree of Fahrenheit for those who measure in it; the rest is met to half of that."""
    plan = first_plan(parse_plan(starter_toml(Starter())))
    strike_c = plan.steps[0].target_c
    assert 2 * strike_c == round(2 * strike_c)
    strike = simulate(plan).strike
    assert abs(strike.mash_c - strike.rest_c) <= 0.3
    us = first_plan(parse_plan(starter_toml(Starter(water="7 gal", grain="12 lb"))), us=True)
    degf = us.steps[0].target_c * 1.8 + 32
    assert degf == pytest.approx(round(degf), abs=1e-6)
    assert abs(simulate(us).strike.mash_c - simulate(us).strike.rest_c) <= 0.35


def test_the_gravity_is_what_the_grain_gives_at_home() -> None:
    """68 % of 5.5 kg are 3.74 kg of extract: with what the day leaves of wort that is its gravity, to a thousandth."""
    plan = first_plan(parse_plan(starter_toml(Starter())))
    day = simulate(plan)
    assert plan.batch.gravity == round(plan.batch.gravity, 3)
    assert day.wort.extract_kg == pytest.approx(0.68 * 5.5, rel=0.03)
    assert first_plan(parse_plan(starter_toml(Starter(grain=None)))).batch.gravity is None


@pytest.mark.parametrize(
    ("power", "lid", "open_frac"),
    [
        ("2800 W", "off", 0.2),
        ("2200 W", "off", 0.2),
        ("2100 W", "ajar", 0.2),
        ("1050 W", "ajar", 0.2),
        ("1000 W", "ajar", 0.1),
    ],
)
def test_a_lid_over_the_boil_as_far_as_weak_elements_take(power: str, lid: str, open_frac: float) -> None:
    """Open where they boil it so at 95 % of their power and mains; else ajar; else with a tenth of it open."""
    plan = _boiling(parse_plan(starter_toml(Starter(power=power))))
    assert plan.steps[-1].lid_state == lid
    assert plan.vessel.lid_ajar_open == open_frac
    assert plan.steps[-1].hold_power_w is None


def test_powers_are_the_advised_ones() -> None:
    """No hold keeps the round numbers of the text; every one of them does its job."""
    plan = first_plan(parse_plan(starter_toml(Starter())))
    holds = {step.name: step.hold_power_w for step in plan.steps if step.hold_s > 0}
    assert holds["Strike"] < 800.0
    assert holds["Mash"] < 800.0
    assert all(power_w % 100 == 0 for power_w in holds.values())


def test_the_text_reads_back_as_the_plan() -> None:
    """With the answers in it as they were given, and a heading for what was left open."""
    starter = Starter(title="Autumn", water="26 L", breaker="20 A", time_zone="Europe/Dublin")
    text = first_plan_toml(starter)
    plan = parse_plan(text)
    assert (plan.title, plan.batch.water_l, plan.circuit.breaker_a) == ("Autumn", 26.0, 20.0)
    assert plan.site.time_zone == "Europe/Dublin"
    assert '"26 L"' in text
    assert firstplan.first_plan(parse_plan(starter_toml(starter))).steps == plan.steps
    with pytest.raises(EnergyPlanError, match="water"):
        first_plan_toml(Starter(water="a lot"))
