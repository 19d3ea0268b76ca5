"""Plan files: what they say in return to a mistake, and that they lose nothing on the way."""

import json
import os
import re
import tomllib
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from energyplan.base.errors import FileError, PlanError
from energyplan.day.brewday import simulate
from energyplan.plan.file import demo_plans, parse_plan, plan_to_toml, read_plan
from energyplan.plan.model import Addition, Circuit, OtherLoad, Plan, Step

SMALL = """\
[vessel]
diameter = "36 cm"
height = "48 cm"

[[vessel.element]]
power = "2 kW"
voltage = "230 V"

[batch]
water = "20 L"
water_temperature = "12 degC"

[[step]]
name = "Heat"
target = "66 degC"
"""


def refusal(text: str) -> PlanError:
    """The error that a text gives."""
    with pytest.raises(PlanError) as refused:
        parse_plan(text, source="stout.toml")
    return refused.value


def test_the_small_plan_is_sound() -> None:
    """The text that the table of mistakes starts from reads well and can be brewed."""
    assert simulate(parse_plan(SMALL)).energy_kwh > 1


# A mistake in the small plan: what to replace, by what, and the sentence that must come back.
MISTAKES = {
    "wrong dimension": (
        'power = "2 kW"',
        'power = "5 kg"',
        '[[vessel.element]] no. 1 power = "5 kg": "5 kg" is no power',
    ),
    "energy for power": ('power = "2 kW"', 'power = "2 kWh"', '"2 kWh" is no power: expected a unit such as in "2 kW"'),
    "bare number": (
        'diameter = "36 cm"',
        "diameter = 36",
        '[vessel] diameter = 36: a unit is due: write a length as text, such as "36 cm"',
    ),
    "bare number as text": ('diameter = "36 cm"', 'diameter = "36"', '"36" has no unit: write a length as "36 cm"'),
    "truth value": ('diameter = "36 cm"', "diameter = true", "[vessel] diameter = true: expected a length as text"),
    "negative power": ('power = "2 kW"', 'power = "-2 kW"', "is out of range: expected between 0 W and 200000 W"),
    "no power": ('power = "2 kW"', 'power = "0 W"', "should be greater than 0"),
    "absurd power": ('power = "2 kW"', 'power = "2 GW"', "is out of range"),
    "absurd size": ('diameter = "36 cm"', 'diameter = "36 m"', "a vessel is between 10 cm and 3 m across and high"),
    "unknown unit": ('power = "2 kW"', 'power = "2 kilowat"', 'the unit "kilowat" is not known'),
    "a comma of two meanings": ('power = "2 kW"', 'power = "1,500 W"', 'can mean "1500 W" or "1.5 W": write the one'),
    "nan": ('water = "20 L"', "water = nan", "[batch] water = NaN: a unit is due"),
    "infinity": ('water = "20 L"', "water = inf", "[batch] water = Infinity: a unit is due"),
    "nan as text": ('water = "20 L"', 'water = "nan L"', "is not a number with a unit"),
    "infinity as text": ('water = "20 L"', 'water = "1e999 L"', "is not a finite number"),
    "nan gravity": ('water = "20 L"', 'water = "20 L"\ngravity = nan', "[batch] gravity = NaN"),
    "gravity without its point": (
        'water = "20 L"',
        'water = "20 L"\ngravity = 1048',
        "[batch] gravity = 1048: write it with its point: 1.048",
    ),
    "a table of another name": (
        'target = "66 degC"',
        'target = "66 degC"\n[[step.hop]]\nname = "Hops"',
        "unknown key; known here: [[step.addition]]",
    ),
    "gravity with a unit": ('water = "20 L"', 'water = "20 L"\ngravity = "12 degP"', '[batch] gravity = "12 degP"'),
    "unknown key": (
        'height = "48 cm"',
        'heigth = "48 cm"',
        '[vessel] heigth = "48 cm": unknown key; did you mean "height"?',
    ),
    "unknown key nothing like": (
        'height = "48 cm"',
        'height = "48 cm"\nxyzzy = 1',
        "[vessel] xyzzy = 1: unknown key; known here: diameter, height",
    ),
    "key of the field's own name": (
        'height = "48 cm"',
        "height_m = 0.48",
        'height_m = 0.48: unknown key; did you mean "height"?',
    ),
    "unknown table": ("[batch]", "[[stepp]]\n[batch]", "stepp"),
    "missing key": (
        'height = "48 cm"\n',
        "",
        '[vessel] height: missing; write a length such as "48 cm"'.replace("48", "36"),
    ),
    "missing in a step": ('name = "Heat"\n', "", "[[step]] no. 1 name: missing"),
    "no elements": ('[[vessel.element]]\npower = "2 kW"\nvoltage = "230 V"\n', "", "[[vessel.element]]: missing"),
    "target above the boil": (
        '"66 degC"',
        '"140 degF"\n[[step]]\nname = "Hot"\ntarget = "230 degF"',
        '[[step]] "Hot" target = 110 °C: water boils at 100 °C at this altitude; aim lower, or make it a boil',
    ),
    "target below freezing": ('"66 degC"', '"-4 degC"', '[[step]] "Heat" target = -4 °C: that is below freezing'),
    "frozen water": (
        '"12 degC"',
        '"-1 degC"',
        "[batch] water_temperature = -1 °C: water is liquid between 0 °C and 100 °C here",
    ),
    "grain twice": ('name = "Heat"', 'name = "Heat"\nbefore = ["add grain", "add grain"]', "goes in once a day"),
    "grain that is not there": (
        'name = "Heat"',
        'name = "Heat"\nbefore = ["add grain"]',
        '[batch] has no grain: add grain = "5.8 kg"',
    ),
    "sparge without water": (
        'name = "Heat"',
        'name = "Heat"\nbefore = ["add sparge water"]',
        "[batch] has no sparge water",
    ),
    "unknown action": (
        'name = "Heat"',
        'name = "Heat"\nbefore = ["add malt"]',
        "expected one of add grain, remove grain",
    ),
    "unknown lid": ('name = "Heat"', 'name = "Heat"\nlid = "half"', "should be 'on', 'off' or 'ajar'"),
    "unknown zone": (
        "[batch]",
        '[site]\ntime_zone = "Europe/Dublyn"\n[batch]',
        '[site] time_zone = "Europe/Dublyn": no such time zone',
    ),
    "no clock time": (
        "[batch]",
        '[[other_load]]\nname = "Oven"\npower = "2 kW"\nfrom = "25:00"\n[batch]',
        '[[other_load]] "Oven" from = "25:00": expected a time of day',
    ),
    "a list where a table is due": ("[batch]", "[[site]]\n[batch]", "site"),
    "a text where a table is due": ("[vessel]\n", 'site = "here"\n[vessel]\n', '[site] = "here"'),
    "a half width of no loss": (
        "[vessel]\n",
        '[vessel]\nheat_loss_within = "0.3 W/K"\n',
        "tells how far off a measured loss may be, and none is entered: add [vessel] heat_loss, or leave it out",
    ),
    "a half width as a share": (
        "[vessel]\n",
        '[vessel]\nheat_loss = "4.8 W/K"\nheat_loss_within = "6 %"\n',
        '[vessel] heat_loss_within = "6 %": write it in W/K, as the loss: 6 % of 4.8 W/K are "0.288 W/K"',
    ),
    "a loss changed since it was measured": (
        "[vessel]\n",
        (
            '[vessel]\nheat_loss = "6 W/K"\nheat_loss_within = "0.3 W/K"\nmeasured_at = "27 L"\n'
            'heat_loss_measured = "4.8 W/K"\n'
        ),
        (
            "[vessel] heat_loss = 6.0 W/K: measured were 4.8 W/K, to which [vessel] heat_loss_within, "
            "[vessel] measured_at and [vessel] heat_loss_measured belong: take them out, or enter what was measured"
        ),
    ),
    "a loss taken out since it was measured": (
        "[vessel]\n",
        '[vessel]\nheat_loss_measured = "4.8 W/K"\n',
        (
            "[vessel] heat_loss: measured were 4.8 W/K, to which [vessel] heat_loss_measured belongs: take it out, or "
            "enter what was measured"
        ),
    ),
    "a half width of all of the loss": (
        "[vessel]\n",
        '[vessel]\nheat_loss = "4.8 W/K"\nheat_loss_within = "4.8 W/K"\n',
        "[vessel] heat_loss_within = 4.8 W/K: more than half of the loss, 4.8 W/K, is no measurement: the size",
    ),
    "a half width of nothing": (
        "[vessel]\n",
        '[vessel]\nheat_loss = "4.8 W/K"\nheat_loss_within = "0 W/K"\n',
        "expected between 0.001 W/K",
    ),
    "a half width without an end": (
        "[vessel]\n",
        '[vessel]\nheat_loss = "4.8 W/K"\nheat_loss_within = "inf W/K"\n',
        "heat_loss_within",
    ),
    "a step that does nothing": ('target = "66 degC"\n', "", '[[step]] "Heat" target: the step does nothing'),
    "an empty name": ('name = "Heat"', 'name = ""', "at least 1 character"),
}


@pytest.mark.parametrize("loss", ["4.8 W/K", "4.80 W/K", "4800 mW/K", "0.0048 kW/K"])
def test_a_loss_as_measured_may_be_spelled_otherwise(loss: str) -> None:
    """It is the same loss: its half width and its filling stay with it."""
    measured = f'heat_loss = "{loss}"\nheat_loss_within = "0.3 W/K"\nheat_loss_measured = "4.8 W/K"\n'
    vessel = parse_plan(SMALL.replace("[vessel]\n", f"[vessel]\n{measured}")).vessel
    assert (vessel.heat_loss_within_w_per_k, vessel.heat_loss_measured_w_per_k) == (0.3, 4.8)


@pytest.mark.parametrize("case", MISTAKES)
def test_a_mistake_is_named_with_its_place_and_its_mending(case: str) -> None:
    """File, table, key, value, and what is expected; one line for each."""
    old, new, sentence = MISTAKES[case]
    assert old in SMALL
    error = refusal(SMALL.replace(old, new, 1))
    assert sentence in str(error)
    assert str(error).startswith("stout.toml: ")
    assert error.problems
    assert all("\n" not in str(problem) for problem in error.problems)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "stout.toml: empty; a plan has the tables [vessel], [batch] and [[step]]"),
        ("# nothing but a remark\n", "empty"),
        ("vessel", "not valid TOML"),
        ('[vessel]\ndiameter = "36 cm', "not valid TOML"),
        ('[vessel]\ndiameter = "36 cm"\ndiameter = "40 cm"', "not valid TOML"),
        ("\x00", "not valid TOML"),
        ("[batch]\ngravity = 1,048  # wanted", "line 2 has a comma in a number: write gravity = 1.048"),
        ('{"vessel": {}}', "not valid TOML"),
        ("a = " + "[" * 5000 + "]" * 5000, "nested too deeply"),
        ("step = []", "[[step]]"),
    ],
)
def test_what_is_no_plan_at_all(text: str, sentence: str) -> None:
    """Empty files, other formats, and files that try the reader."""
    assert sentence in str(refusal(text))


def test_no_steps() -> None:
    """A plan without a step says that it lacks one."""
    assert "[[step]]: missing" in str(refusal(SMALL[: SMALL.index("[[step]]")]))


def test_all_mistakes_are_told_at_once() -> None:
    """Five things are wrong: five problems, counted in the first line."""
    text = (
        SMALL.replace('"36 cm"', "36")
        .replace('"2 kW"', '"5 kg"')
        .replace("height", "heigth")
        .replace('"20 L"', '"20 J"')
    )
    error = refusal(text)
    assert str(error).splitlines()[0] == "stout.toml: 5 things to mend"
    assert len(error.problems) == 5
    for key in ("diameter", "heigth", "height", "power", "water"):
        assert any(key in str(problem.where) for problem in error.problems)
    assert "one thing to mend" in str(refusal(SMALL.replace('"36 cm"', "36")))


def test_long_values_are_cut() -> None:
    """A value of a thousand characters does not fill the screen."""
    assert max(len(line) for line in str(refusal(SMALL.replace("36 cm", "x" * 1000))).splitlines()) < 250


def test_us_units() -> None:
    """A plan in gallons, pounds, inches and Fahrenheit is the metric plan (definitions)."""
    us = parse_plan(
        SMALL.replace("36 cm", "14.17323 in").replace("48 cm", "1.574803 ft").replace("20 L", "5.283441 gal")
        .replace("12 degC", "53.6 degF").replace("66 degC", "150.8 degF").replace("2 kW", "6824.284 BTU/h")
    )  # fmt: skip
    metric = parse_plan(SMALL)
    assert us.vessel.diameter_m == pytest.approx(metric.vessel.diameter_m, rel=1e-6)
    assert us.vessel.height_m == pytest.approx(metric.vessel.height_m, rel=1e-6)
    assert us.batch.water_l == pytest.approx(20.0, rel=1e-6)
    assert us.batch.water_temperature_c == pytest.approx(12.0, abs=1e-9)
    assert us.vessel.elements[0].power_w == pytest.approx(2000.0, rel=1e-6)
    assert simulate(us).energy_kwh == pytest.approx(simulate(metric).energy_kwh, rel=1e-6)


# There and back ------------------------------------------------------------------------------------------------------


@given(st.from_type(Plan))
def test_a_plan_survives_its_file(plan: Plan) -> None:
    """Written and read again every value is identical, bit by bit."""
    assert parse_plan(plan_to_toml(plan)) == plan


def test_every_key_survives_its_file(builders: ModuleType) -> None:
    """Other loads, additions, extension, jacket and measured loss too."""
    kettle = builders.vessel(
        2000.0, 1500.0, jacket_thickness_m=0.01, jacket_covers=("side", "lid"), heat_loss_w_per_k=4.8, emissivity=0.3,
        power_step_w=50.0, control="switched",
    )  # fmt: skip
    boil = Step(name="Boil", boil=True, hold_s=3600.0, additions=(Addition(name="Hops", left_s=1800.0),), lid="ajar")
    circuit = Circuit(
        voltage_v=231.5, breaker_a=16.0, breaker_curve="B", outlet_a=16.0, plug_fuse_a=13.0, cable_mm2=2.5,
        cable_length_m=18.0, installation="C", residual_current_device=False,
        extension={"cable_mm2": 1.5, "length_m": 10.0, "rating_a": 13.0},
    )  # fmt: skip
    loads = (OtherLoad(name="Fridge", power_w=120.0, duty=0.4, from_min="17:30", to_min="24:00", motor=True),)
    plan = builders.mash_plan(*builders.mash_plan().steps[:-1], boil, vessel=kettle, circuit=circuit, other_loads=loads)
    assert parse_plan(plan_to_toml(plan)) == plan


@pytest.mark.parametrize("name", sorted(demo_plans()))
def test_packaged_plans_survive_their_file(name: str) -> None:
    """The packaged plans, written out and read again."""
    plan = read_plan(name)
    assert parse_plan(plan_to_toml(plan)) == plan


def test_the_file_has_units_beside_its_numbers() -> None:
    """A written plan is one that people can read: text with units, no bare watts."""
    data = tomllib.loads(plan_to_toml(parse_plan(SMALL)))
    assert data["vessel"]["element"][0]["power"] == "2000 W"
    assert data["batch"]["water"] == "20 L"


@settings(suppress_health_check=[HealthCheck.too_slow])
@given(st.text(max_size=200))
def test_any_text_is_a_plan_or_an_error_of_ours(text: str) -> None:
    """Nothing but a PlanError comes out of whatever is written."""
    with pytest.raises(PlanError):
        parse_plan(text)


scalars = st.one_of(
    st.text(max_size=8), st.integers(-5, 5), st.floats(), st.booleans(), st.just("5 kg"), st.just("20 L")
)
keys = st.sampled_from(
    ["vessel", "batch", "step", "site", "circuit", "element", "name", "target", "before", "title", "x"]
)
tables = st.recursive(scalars, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(keys, inner, max_size=4))


@given(st.dictionaries(keys, tables, max_size=5))
def test_any_tables_are_a_plan_or_an_error_of_ours(data: dict[str, Any]) -> None:
    """Right words in wrong places give problems with a place, not a traceback."""
    import tomli_w

    with pytest.raises(PlanError) as refused:
        parse_plan(tomli_w.dumps(data))
    assert all(str(problem.where) for problem in refused.value.problems)


# Files ---------------------------------------------------------------------------------------------------------------


def test_files_are_read(tmp_path: Path) -> None:
    """From a path, with or without a byte order mark."""
    for encoding in ("utf-8", "utf-8-sig"):
        path = tmp_path / f"{encoding}.toml"
        path.write_text(SMALL, encoding=encoding)
        assert read_plan(str(path)) == parse_plan(SMALL)


def test_the_demo_is_read_by_its_name() -> None:
    """`demo` names the packaged plan; `lakeside` the one in US units."""
    assert next(iter(demo_plans())) == "demo"
    assert read_plan("demo").title
    assert read_plan("lakeside").circuit is not None


def test_missing_files(tmp_path: Path) -> None:
    """No such file, a folder, and a name that no system allows."""
    with pytest.raises(FileError, match=r'no such file; expected a plan; give its path, or "demo"'):
        read_plan(str(tmp_path / "nowhere.toml"))
    with pytest.raises(FileError, match="no regular file"):
        read_plan(str(tmp_path))
    with pytest.raises(FileError):
        read_plan("x" * 5000)
    with pytest.raises(FileError):
        read_plan("a\x00b")


def test_large_and_binary_files(tmp_path: Path) -> None:
    """A film is no plan, and neither is a picture."""
    large, picture = tmp_path / "film.toml", tmp_path / "picture.toml"
    large.write_bytes(b"#" * 1_000_001)
    picture.write_bytes(b"\x89PNG\xff\xfe")
    with pytest.raises(FileError, match="1000001 bytes are too many"):
        read_plan(str(large))
    with pytest.raises(FileError, match="not a text file in UTF-8"):
        read_plan(str(picture))


def test_unreadable_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file that the system keeps back."""
    path, opened = tmp_path / "plan.toml", os.open
    path.write_text(SMALL, encoding="utf-8")

    def refuse(name: Any, *args: Any, **kwargs: Any) -> int:
        if name == path:
            raise PermissionError(13, "Permission denied")
        return opened(name, *args, **kwargs)

    monkeypatch.setattr(os, "open", refuse)
    with pytest.raises(FileError, match="can't be read"):
        read_plan(str(path))


# What people wrote is shown, and never obeyed -------------------------------------------------------------------------

OBEYED = {
    "a colour in a key": SMALL.replace("[batch]", '[batch]\n"\\u001b[31mx" = 1'),
    "a colour in a value": SMALL.replace('"20 L"', '"\\u001b[31m20 L"'),
    "a title of the terminal": SMALL.replace('name = "Heat"', 'name = "\\u001b]0;t\\u0007"'),
    "letters from right to left": SMALL.replace('name = "Heat"', 'name = "\\u202egnirts"\nhold_power = "x"'),
    "a line break in a name": SMALL.replace('name = "Heat"', 'name = "a\\nb"'),
    "a table of them": SMALL.replace("[batch]", '["\\u009b31m"]\nx = 1\n[batch]'),
    "in another file's name": 'uses = "\\u001b[31m.toml"\n' + SMALL,
}


@pytest.mark.parametrize("case", OBEYED)
def test_no_message_holds_a_character_that_is_obeyed(case: str) -> None:
    """Control and direction characters come out as their escapes, a line stays a line."""
    error = refusal(OBEYED[case])
    for line in str(error).splitlines():
        assert not re.search("[\x00-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", line), line
    assert "\\u" in str(error)


@pytest.mark.parametrize("name", ["Rest [beta]", "Rest [/beta]", "[link=http://a]x[/link]", "**x**", "$x$", "{step}"])
def test_names_with_marks_are_names(name: str) -> None:
    """They are read, and refusals about them show them as they are."""
    text = SMALL.replace('name = "Heat"', f"name = {json.dumps(name)}")
    assert parse_plan(text).steps[0].name == name
    assert name in str(refusal(text.replace('"66 degC"', '"166 degF"').replace('"166 degF"', '"230 degF"')))
