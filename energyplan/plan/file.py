"""Plan files: TOML text <-> `Plan`, with every error of a file shown at once."""

import difflib
import json
from collections.abc import Mapping
from importlib import resources
from pathlib import Path
from typing import Any, get_origin

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from energyplan.base.errors import FileError, PlanError, Problem
from energyplan.base.tomltext import toml_tables
from energyplan.plan.model import Plan

__all__ = ["demo_plans", "parse_plan", "plan_schema_json", "plan_to_toml", "read_plan"]

LARGEST_FILE_BYTES = 1_000_000
MOST_PROBLEMS = 100
DEMO_PLAN = "demo"


def demo_plans() -> dict[str, str]:
    """Names and TOML texts of the packaged plans; ``demo`` is the first."""
    folder = resources.files("energyplan") / "demo"
    names = sorted(entry.name for entry in folder.iterdir() if entry.name.endswith(".toml"))
    return {name.removesuffix(".toml"): (folder / name).read_text(encoding="utf-8") for name in names}


def read_plan(path: str) -> Plan:
    """Read a plan file, or a packaged plan by its name (``demo``).

    Raises
    ------
    FileError
        If the file is missing, no regular file, or too large.
    PlanError
        If it is no TOML, or not a plan; ``problems`` lists all that is wrong.
    """
    if path in (demos := demo_plans()):
        return parse_plan(demos[path], source=path)
    return parse_plan(_text(Path(path)), source=path)


def _text(path: Path) -> str:
    try:
        if not path.is_file():
            raise FileError(f'{path}: no such file; give the path of a plan, or "{DEMO_PLAN}"')
        if (size := path.stat().st_size) > LARGEST_FILE_BYTES:
            raise FileError(f"{path}: {size} bytes is too large for a plan (at most {LARGEST_FILE_BYTES})")
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise PlanError(f"not a text file in UTF-8 ({error.reason} at byte {error.start})", source=str(path)) from None
    except (OSError, ValueError) as error:
        if isinstance(error, FileError):
            raise
        raise FileError(f"{path}: can't be read ({error})") from None


def parse_plan(text: str, *, source: str = "plan") -> Plan:
    r"""Read a plan from its TOML text; ``source`` names it in errors.

    Raises
    ------
    PlanError
        If it is no TOML, or not a plan; ``problems`` lists all that is wrong.
    FileError
        If the text is larger than a plan file may be.

    Examples
    --------
    >>> parse_plan('[vessel]\ndiamter = "36 cm"', source="stout.toml")
    Traceback (most recent call last):
    energyplan.base.errors.PlanError: stout.toml: 6 things to mend
      [vessel] diameter: missing; write a length such as "36 cm"
      [vessel] height: missing; write a length such as "36 cm"
      [[vessel.element]]: missing
      [vessel] diamter = "36 cm": unknown key; did you mean "diameter"?
      [batch]: missing
      [[step]]: missing
    """
    if len(text) > LARGEST_FILE_BYTES:
        raise FileError(f"{source}: {len(text)} characters are too many for a plan (at most {LARGEST_FILE_BYTES})")
    try:
        data = toml_tables(text)
    except ValueError as error:
        raise PlanError(f"not valid TOML: {error}", source=source) from None
    if not data:
        raise PlanError("empty; a plan has the tables [vessel], [batch] and [[step]]", source=source)
    try:
        return Plan.model_validate(data, context={"file": True}, by_name=False, by_alias=True)
    except ValidationError as error:
        told = [item for item in error.errors() if not (item["type"] == "too_short" and item["input"])]
        problems = tuple(problem for item in told for problem in _problems(item, data))
        count = f"{len(problems)} things" if len(problems) != 1 else "one thing"
        first = f", the first {MOST_PROBLEMS} of them" if len(problems) > MOST_PROBLEMS else ""
        raise PlanError(f"{count} to mend{first}", problems[:MOST_PROBLEMS], source) from None


def _problems(item: Mapping[str, Any], data: Mapping[str, Any]) -> tuple[Problem, ...]:
    """Turn one error of pydantic into what the user needs to read."""
    if item["type"] == "plan_rules":
        found: tuple[Problem, ...] = item["ctx"]["problems"]
        return found
    location = item["loc"]
    value = "" if item["type"] == "missing" else _shown(item["input"])
    return (Problem(where=_path(location, data), value=value, message=_message(item)),)


def _message(item: Mapping[str, Any]) -> str:
    match item["type"]:
        case "missing":
            return "missing" + _example(item["loc"])
        case "extra_forbidden":
            known = _known_keys(item["loc"][:-1])
            near = difflib.get_close_matches(str(item["loc"][-1]), known, n=1, cutoff=0.5)
            hint = f'did you mean "{near[0]}"?' if near else f"known here: {', '.join(known)}"
            return f"unknown key; {hint}"
        case "value_error":
            return str(item["ctx"]["error"])
        case "model_type" | "dict_type" | "model_attributes_type":
            return "expected a table of keys"
        case "tuple_type" | "list_type":
            return "expected a list"
        case _:
            message = str(item["msg"])
            return message[:1].lower() + message[1:]


def _shown(value: object) -> str:
    text = json.dumps(value, default=str, ensure_ascii=False)
    return text if len(text) <= 60 else text[:57] + "..."


def _path(location: tuple[int | str, ...], data: Mapping[str, Any]) -> str:
    """Write a location as people see it in the file: ``[[step]] "Boil" hold``."""
    tables: list[str] = []
    label = ""
    node: Any = data
    is_list = False
    for part in location:
        child = _child(node, part)
        if isinstance(part, int):
            is_list = True
            name = child.get("name") if isinstance(child, Mapping) else None
            label = f' "{name}"' if isinstance(name, str) else f" no. {part + 1}"
        elif isinstance(child, Mapping) or (isinstance(child, list) and child and isinstance(child[0], Mapping)):
            tables.append(part)
            is_list, label = False, label if isinstance(child, list) else ""
        else:
            return _leaf(tables, label, part, is_list=is_list)
        node = child
    return _joined(tables, label, is_list=is_list).rstrip()


def _child(node: Any, part: int | str) -> Any:
    try:
        return node[part]
    except (KeyError, IndexError, TypeError):
        return None


def _joined(tables: list[str], label: str, *, is_list: bool) -> str:
    path = ".".join(tables)
    return f"[[{path}]]{label} " if is_list else f"[{path}] "


def _leaf(tables: list[str], label: str, key: str, *, is_list: bool) -> str:
    """Name a key in its table; a table that is missing is written as one."""
    location = (*tables, key)
    if _model_at(location) is None:
        return _joined(tables, label, is_list=is_list) + key if tables else key
    return _joined([*tables, key], "", is_list=_is_list(location)).rstrip()


def _is_list(location: tuple[str, ...]) -> bool:
    field = _field_at(location)
    return field is not None and get_origin(field.annotation) is tuple


def _field_at(location: tuple[int | str, ...]) -> FieldInfo | None:
    model = _model_at(location[:-1])
    fields = model.model_fields.items() if model else ()
    return next((field for name, field in fields if (field.alias or name) == location[-1]), None)


def _model_at(location: tuple[int | str, ...]) -> type[BaseModel] | None:
    """Model class that a location of the file is read into."""
    model: type[BaseModel] | None = Plan
    for part in location:
        if model is None or isinstance(part, int):
            continue
        field = next((f for n, f in model.model_fields.items() if (f.alias or n) == part), None)
        model = _inner_model(field.annotation) if field else None
    return model


def _inner_model(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    inner = (_inner_model(argument) for argument in getattr(annotation, "__args__", ()))
    return next((model for model in inner if model), None)


def _known_keys(location: tuple[int | str, ...]) -> list[str]:
    model = _model_at(location)
    return [field.alias or name for name, field in model.model_fields.items()] if model else []


def _example(location: tuple[int | str, ...]) -> str:
    """Show how a missing quantity is written."""
    field = _field_at(location)
    kind = next((mark for mark in field.metadata if hasattr(mark, "example")), None) if field else None
    return f'; write {kind.name} such as "{kind.example}"' if kind else ""


def plan_to_toml(plan: Plan) -> str:
    """Write a plan as TOML text that reads back as the same plan."""
    import tomli_w

    data = plan.model_dump(by_alias=True, exclude_none=True, exclude_defaults=True, context={"file": True})
    return tomli_w.dumps(data)


def plan_schema_json() -> str:
    """JSON schema of the plan file, for editors that complete and check TOML."""
    return json.dumps(Plan.model_json_schema(by_alias=True), indent=2)
