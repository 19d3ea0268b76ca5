"""What all tables of a plan share, its values that are no quantities, and what a mistake in one is told."""

import difflib
import json
import re
from collections.abc import Mapping
from typing import Annotated, Any, get_origin

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PlainSerializer,
    SerializationInfo,
    ValidationInfo,
    WithJsonSchema,
)
from pydantic.fields import FieldInfo

from energyplan.base.errors import EnergyPlanError, Place, Problem
from energyplan.base.kinds import WORD
from energyplan.base.sentence import Sentence
from energyplan.base.units import LOSS_WITHIN, Kind, fewest_digits

__all__ = [
    "MINUTES_PER_DAY",
    "ClockTime",
    "LossWithin",
    "Name",
    "PercentShare",
    "Share",
    "Table",
    "from_file",
    "kind_at",
    "problems_of",
]

Share = Annotated[float, Field(ge=0.0, le=1.0, allow_inf_nan=False)]


_PERCENT = re.compile(r"\s*(\d+(?:\.\d+)?)\s*%\s*")


Name = Annotated[str, Field(min_length=1, max_length=80, pattern=r"^[^\x00-\x1f\x7f]+$")]


MINUTES_PER_DAY = 24 * 60


class Table(BaseModel):
    """A table of a file: frozen, and without keys that nobody knows."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True, allow_inf_nan=False, defer_build=True)


def from_file(info: ValidationInfo | SerializationInfo) -> bool:
    """Whether a value is read from a file, or written into one, where text with a unit is due."""
    return bool(info.context and info.context.get("file"))


def _read_clock(value: object, info: ValidationInfo) -> int:
    if not from_file(info) and isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= MINUTES_PER_DAY:
        return value
    match = re.fullmatch(r"(\d{1,2}):(\d{2})", value) if isinstance(value, str) else None
    if match is None or int(match[2]) > 59 or int(match[1]) * 60 + int(match[2]) > MINUTES_PER_DAY:
        raise ValueError('expected a time of day from "00:00" to "24:00"')
    return int(match[1]) * 60 + int(match[2])


def _read_percent(value: object) -> object:
    match = _PERCENT.fullmatch(value) if isinstance(value, str) else None
    if isinstance(value, str) and match is None:
        raise ValueError('expected a share such as "10 %", or a number from 0 to 1')
    return float(match[1]) / 100 if match else value


def _write_clock(value: int, info: SerializationInfo) -> int | str:
    return f"{value // 60:02d}:{value % 60:02d}" if from_file(info) else value


def _no_share(value: object, info: ValidationInfo) -> object:
    """Refuse a half width as a share of the loss before it, with what it is in the loss's own unit."""
    share, loss = _PERCENT.fullmatch(value) if isinstance(value, str) else None, info.data.get("heat_loss_w_per_k")
    if share and loss:
        within = fewest_digits(round(float(share[1]) / 100 * loss, 3))
        raise ValueError(f'write it in W/K, as the loss: {share[1]} % of {fewest_digits(loss)} W/K are "{within} W/K"')
    return value


LossWithin = Annotated[float, LOSS_WITHIN, BeforeValidator(_no_share)]


PercentShare = Annotated[
    float,
    BeforeValidator(_read_percent),
    Field(ge=0.0, le=1.0, allow_inf_nan=False),
    WithJsonSchema({"type": ["string", "number"], "description": "a share", "examples": ["10 %", 0.1]}),
]


ClockTime = Annotated[
    int,
    BeforeValidator(_read_clock),
    PlainSerializer(_write_clock),
    WithJsonSchema({"type": "string", "description": "time of day, local clock", "examples": ["17:30"]}),
]


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
