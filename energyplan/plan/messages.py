"""What the reader of a plan file says to a mistake: where it stands in the file, and what would mend it."""

import difflib
import json
from collections.abc import Mapping
from typing import Any, get_origin

from pydantic import BaseModel, WithJsonSchema
from pydantic.fields import FieldInfo

from energyplan.base.errors import EnergyPlanError, Place, Problem
from energyplan.base.kinds import WORD
from energyplan.base.sentence import Sentence
from energyplan.base.units import Kind

__all__ = ["kind_at", "problems_of"]

Location = tuple[int | str, ...]


def problems_of(item: Mapping[str, Any], data: Mapping[str, Any], model: type[BaseModel]) -> tuple[Problem, ...]:
    """Turn one error of pydantic into what the user needs to read.

    Parameters
    ----------
    item : mapping
        The error, as pydantic lists it.
    data : mapping
        The tables that were read.
    model : type
        The model that they were read into.
    """
    if item["type"] == "plan_rules":
        found: tuple[Problem, ...] = item["ctx"]["problems"]
        return found
    location = item["loc"]
    value = "" if item["type"] == "missing" else _shown(item["input"])
    return (Problem(where=_place(location, data, model), value=value, message=_message(item, model)),)


def _message(item: Mapping[str, Any], model: type[BaseModel]) -> object:
    match item["type"]:
        case "missing":
            return _missing(item["loc"], model)
        case "extra_forbidden":
            return f"unknown key; {_nearest(item, model)}"
        case "value_error":
            error = item["ctx"]["error"]
            return error.said if isinstance(error, EnergyPlanError) else str(error)
        case kind:
            message = _WORDED.get(kind) or str(item["msg"])
            return message[:1].lower() + message[1:]


_WORDED = {
    "string_unicode": "has half a character, which is no text",
    **dict.fromkeys(("model_type", "dict_type", "model_attributes_type"), "expected a table of keys"),
    **dict.fromkeys(("tuple_type", "list_type"), "expected a list"),
}


def _nearest(item: Mapping[str, Any], model: type[BaseModel]) -> str:
    """The key that was meant, or those that are known; a table was meant for a table."""
    location = item["loc"]
    inner = _model_at(location[:-1], model)
    fields = {field.alias or name: field for name, field in inner.model_fields.items()} if inner else {}
    is_table = isinstance(item["input"], Mapping | list)
    alike = [key for key, field in fields.items() if _is_table(field) == is_table]
    if near := difflib.get_close_matches(str(location[-1]), alike, n=1, cutoff=0.5):
        return f'did you mean "{near[0]}"?'
    if is_table and alike:
        tables = [
            Place(".".join([*(str(p) for p in location[:-1] if isinstance(p, str)), key]), row="") for key in alike
        ]
        return f"known here: {', '.join(map(str, tables))}"
    return f"known here: {', '.join(fields)}"


def _shown(value: object) -> str:
    text = json.dumps(value, default=str, ensure_ascii=False)
    return text if len(text) <= 60 else text[:57] + "..."


def _place(location: Location, data: Mapping[str, Any], model: type[BaseModel]) -> Place:
    """A location as people see it in the file: ``[[step]] "Boil" hold``."""
    tables: list[str] = []
    row: str | int | None = None
    node: Any = data
    for part in location:
        child = _child(node, part)
        if isinstance(part, int):
            name = child.get("name") if isinstance(child, Mapping) else None
            row = name if isinstance(name, str) and name else part + 1
        elif isinstance(child, Mapping) or (isinstance(child, list) and child and isinstance(child[0], Mapping)):
            tables.append(part)
            row = "" if isinstance(child, list) else None
        else:
            return _leaf(tables, row, part, model)
        node = child
    return Place(".".join(tables), row=row)


def _child(node: Any, part: int | str) -> Any:
    try:
        return node[part]
    except (KeyError, IndexError, TypeError):
        return None


def _leaf(tables: list[str], row: str | int | None, key: str, model: type[BaseModel]) -> Place:
    """A key in its table; a table that is missing is written as one."""
    location = (*tables, key)
    if _model_at(location, model) is None:
        return Place(".".join(tables), key, row)
    field = _field_at(location, model)
    is_list = field is not None and get_origin(field.annotation) is tuple
    return Place(".".join(location), row="" if is_list else None)


def _field_at(location: Location, model: type[BaseModel]) -> FieldInfo | None:
    inner = _model_at(location[:-1], model)
    fields = inner.model_fields.items() if inner else ()
    return next((field for name, field in fields if (field.alias or name) == location[-1]), None)


def _model_at(location: Location, model: type[BaseModel]) -> type[BaseModel] | None:
    """Model class that a location of the file is read into."""
    found: type[BaseModel] | None = model
    for part in location:
        if found is None or isinstance(part, int):
            continue
        field = next((f for n, f in found.model_fields.items() if (f.alias or n) == part), None)
        found = _inner_model(field.annotation) if field else None
    return found


def _is_table(field: FieldInfo) -> bool:
    """Whether a key holds a table or a list of them: not a text that is read into a model."""
    is_text = any(isinstance(mark, WithJsonSchema) for mark in _marks(field.annotation))
    return _inner_model(field.annotation) is not None and not is_text


def _inner_model(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    inner = (_inner_model(argument) for argument in getattr(annotation, "__args__", ()))
    return next((model for model in inner if model), None)


def _missing(location: Location, model: type[BaseModel]) -> object:
    """Show how a missing quantity is written."""
    kind = kind_at(location, model)
    if kind is None:
        return "missing"
    return Sentence("missing; write {what} such as {example}", what=WORD(kind.name), example=kind.as_written)


def kind_at(location: Location, model: type[BaseModel]) -> Kind | None:
    """The kind of quantity that stands at a location of the file; None where it is none."""
    field = _field_at(location, model)
    marks = [*field.metadata, *_marks(field.annotation)] if field else []
    return next((mark for mark in marks if isinstance(mark, Kind)), None)


def _marks(annotation: Any) -> list[Any]:
    """What is annotated inside an annotation, as in an optional quantity."""
    inner = [mark for argument in getattr(annotation, "__args__", ()) for mark in _marks(argument)]
    return [*getattr(annotation, "__metadata__", ()), *inner]
