"""The schemas of plan and brewery: what reads well fits, what doesn't fails, units too."""

import tomllib
from importlib.resources import files
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from energyplan.base import units
from energyplan.base.errors import UnitsError
from energyplan.base.units import Kind, read_quantity
from energyplan.plan.file import brewery_schema, demo_plans, plan_schema, plan_to_toml
from energyplan.plan.model import Plan

PLAN, BREWERY = Draft202012Validator(plan_schema()), Draft202012Validator(brewery_schema())
FOLDER = files("energyplan") / "demo"
KINDS = sorted({kind for kind in vars(units).values() if isinstance(kind, Kind)}, key=lambda kind: kind.name)


def wrong(validator: Draft202012Validator, data: dict[str, Any]) -> list[str]:
    """The places at which data doesn't fit."""
    return sorted(".".join(map(str, error.absolute_path)) for error in validator.iter_errors(data))


def test_they_are_schemas_with_names_of_their_own() -> None:
    """Of the dialect that they name, and findable by their id."""
    for validator in (PLAN, BREWERY):
        Draft202012Validator.check_schema(validator.schema)
        assert validator.schema["$schema"].endswith("2020-12/schema")
    assert (PLAN.schema["$id"], BREWERY.schema["$id"]) == ("urn:energyplan:plan:2", "urn:energyplan:brewery:2")


@pytest.mark.parametrize("name", sorted(demo_plans()))
def test_packaged_plans_fit(name: str) -> None:
    """As complete texts, and as files that use the brewery's."""
    assert wrong(PLAN, tomllib.loads(demo_plans()[name])) == []
    assert wrong(PLAN, tomllib.loads((FOLDER / f"{name}.toml").read_text(encoding="utf-8"))) == []


def test_the_packaged_brewery_fits() -> None:
    """And is no plan."""
    data = tomllib.loads((FOLDER / "demo-brewery.toml").read_text(encoding="utf-8"))
    assert wrong(BREWERY, data) == []
    assert wrong(PLAN, data) != []
    assert wrong(BREWERY, tomllib.loads(demo_plans()["demo"])) != []


@given(st.from_type(Plan))
def test_every_plan_that_is_written_fits(plan: Plan) -> None:
    """Whatever the form writes into a file."""
    assert wrong(PLAN, tomllib.loads(plan_to_toml(plan))) == []


MISTAKES: dict[str, tuple[str, str, str]] = {
    "mass for a length": ('diameter = "36 cm"', 'diameter = "36 kg"', "vessel.diameter"),
    "energy for power": ('power = "120 W"', 'power = "120 kWh"', "other_load.0.power"),
    "no unit": ('water = "27 L"', 'water = "27"', "batch.water"),
    "a bare number": ('water = "27 L"', "water = 27", "batch.water"),
    "an unknown key": ("humidity", "humidty", "site"),
    "an unlisted word": ('rules = "iec"', 'rules = "din"', "circuit"),
    "missing": ('height = "48 cm"\n', "", "vessel"),
    "an unknown table": ("[site]", "[sight]", ""),
}


@pytest.mark.parametrize("case", MISTAKES)
def test_mistakes_do_not_fit(case: str) -> None:
    """Each at its place."""
    old, new, place = MISTAKES[case]
    text = demo_plans()["demo"]
    assert old in text
    assert place in wrong(PLAN, tomllib.loads(text.replace(old, new, 1)))


def test_only_a_plan_that_uses_a_brewery_may_leave_tables_open() -> None:
    """Without one the vessel, its size and elements are due."""
    data = tomllib.loads((FOLDER / "demo.toml").read_text(encoding="utf-8"))
    data["vessel"] = {"pump": "25 W"}
    assert wrong(PLAN, data) == []
    del data["uses"]
    assert "vessel" in wrong(PLAN, data)


def _dimension_is_right(text: str, kind: Kind) -> bool:
    """Whether the reader takes the unit: only the value may be out of range."""
    try:
        read_quantity(text, kind)
    except UnitsError as error:
        return "out of range" in str(error)
    return True


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_a_pattern_takes_what_the_reader_takes(kind: Kind) -> None:
    """Its example, the spellings of files and labels; nothing of another dimension."""
    pattern = Draft202012Validator({"type": "string", "pattern": kind.pattern})
    for unit in {*units.COMMON.get(kind.unit, ()), *units._FURTHER.get(kind.unit, ())}:
        text = f"1 {unit}"
        assert _dimension_is_right(text, kind), text
        assert pattern.is_valid(text)
    assert pattern.is_valid(kind.example)
    alien = "1 mol" if kind.unit != "kg" else "1 L"
    assert not pattern.is_valid(alien)
    assert not pattern.is_valid("27")
