"""JSON Schemas of the files that people write, for editors that complete and check TOML: units are checked too."""

import json
from typing import Any

from energyplan.plan.brewery import Brewery
from energyplan.plan.model import Plan

__all__ = ["DIALECT", "brewery_schema", "named", "plan_schema", "plan_schema_json"]

DIALECT = "https://json-schema.org/draft/2020-12/schema"
VERSION = 2
_SHARED = ("vessel", "second_heater", "site", "circuit", "supply", "hours", "fermentation")
_OF_A_PLAN = ("title", "batch", "step")


def named(name: str, schema: dict[str, Any]) -> dict[str, Any]:
    """A schema with its dialect and its own name, a URN: it lies in the program and at no address."""
    return {"$schema": DIALECT, "$id": f"urn:energyplan:{name}:{VERSION}", **schema}


def plan_schema() -> dict[str, Any]:
    """Schema of a plan's file: whole, or with ``uses`` what its brewery leaves open."""
    schema = _with_file_keys(Plan.model_json_schema(by_alias=True))
    schema["properties"]["uses"] = {"type": "string", "minLength": 1, "examples": ["garage.toml"]}
    needed = _relaxed(schema)
    schema["required"] = [key for key in schema["required"] if key not in _SHARED]
    whole = {"properties": {key: {"required": keys} for key, keys in needed.items()}, "required": ["vessel"]}
    return named("plan", schema | {"if": {"required": ["uses"]}, "else": whole})


def brewery_schema() -> dict[str, Any]:
    """Schema of a brewery's file: any tables of a plan but those of a day."""
    schema = _with_file_keys(Plan.model_json_schema(by_alias=True))
    _relaxed(schema)
    schema["properties"] = {key: value for key, value in schema["properties"].items() if key not in _OF_A_PLAN}
    del schema["required"]
    return named("brewery", schema | {"title": "Brewery"})


def _with_file_keys(schema: dict[str, Any]) -> dict[str, Any]:
    """A plan's schema with the keys that a file may have beside the plan's own."""
    further = Brewery.model_json_schema(by_alias=True)
    return schema | {
        "$defs": schema["$defs"] | further["$defs"],
        "properties": {"schema": {"enum": [1, VERSION]}, **schema["properties"], **further["properties"]},
    }


def _relaxed(schema: dict[str, Any]) -> dict[str, list[str]]:
    """Take the required keys out of tables that may be completed by another file; tell which they were, by table."""
    found = {}
    for key in _SHARED:
        text = json.dumps(schema["properties"][key])
        name = text.partition("#/$defs/")[2].partition('"')[0]
        if required := schema["$defs"][name].pop("required", []):
            found[key] = required
    return found


def plan_schema_json() -> str:
    """Schema of a plan's file as JSON."""
    return json.dumps(plan_schema(), indent=2, ensure_ascii=False)
