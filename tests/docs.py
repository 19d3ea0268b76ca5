"""Writes the generated parts of the help pages: ``python -m tests.docs``. A test holds them to the models."""

import re
import tomllib
from importlib.resources import files
from pathlib import Path
from typing import Any, get_args

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from energyplan.plan.model import Plan

_CLOCK = {"from", "to", "earliest", "done_by"}
FOLDER = Path(__file__).parent.parent / "energyplan" / "docs"


def meanings() -> dict[str, dict[str, str]]:
    """What each key means, by table."""
    return tomllib.loads((files("energyplan") / "docs" / "keys.toml").read_text(encoding="utf-8"))


def tables() -> dict[str, type[BaseModel]]:
    """The model of each table of a plan file, nested ones by their path."""
    found: dict[str, type[BaseModel]] = {}
    pending: list[tuple[str, type[BaseModel]]] = [("", Plan)]
    while pending:
        path, model = pending.pop(0)
        found[path or "top"] = model
        for name, field in model.model_fields.items():
            inner = _model_in(field)
            if inner and (field.alias or name) != "before":
                pending.append((f"{path}.{field.alias or name}".lstrip("."), inner))
    return found


def _model_in(field: FieldInfo) -> type[BaseModel] | None:
    pending: list[Any] = [field.annotation]
    while pending:
        one = pending.pop()
        if isinstance(one, type) and issubclass(one, BaseModel):
            return one
        pending += get_args(one)
    return None


def own_keys(path: str, model: type[BaseModel]) -> list[tuple[str, FieldInfo]]:
    """Keys of a table that are no tables themselves."""
    pairs = [(field.alias or name, field) for name, field in model.model_fields.items()]
    return [(key, field) for key, field in pairs if key == "before" or _model_in(field) is None]


def keys_page() -> str:
    """The keys with meaning, what may stand there, and what holds when they are left out."""
    told, lines = meanings(), []
    for path, model in tables().items():
        name = "at the top" if path == "top" else f"[[{path}]]" if _is_list(path) else f"[{path}]"
        rows = [
            f"| `{key}` | {told.get(path, {}).get(key, '')} | {_allowed(key, field)} | {_default(key, field)} |"
            for key, field in own_keys(path, model)
        ]
        if rows:
            lines += [
                f"**{name}**",
                "",
                "| key | meaning | may be | left out |",
                "| --- | --- | --- | --- |",
                *rows,
                "",
            ]
    return "\n".join(lines).rstrip()


def _is_list(path: str) -> bool:
    model: type[BaseModel] = Plan
    field = None
    for part in path.split("."):
        field = next(f for n, f in model.model_fields.items() if (f.alias or n) == part)
        model = _model_in(field) or model
    return field is not None and "tuple" in str(field.annotation)


def _allowed(key: str, field: FieldInfo) -> str:
    if key in _CLOCK:
        return 'such as `"17:30"`'
    choices = [str(one) for one in _literals(field.annotation)]
    if choices:
        return ", ".join(f"`{one}`" for one in dict.fromkeys(choices))
    examples = [one.example for one in _inside(field) if hasattr(one, "example")]
    return f'such as `"{examples[0]}"`' if examples else _plain_type(field)


def _inside(field: FieldInfo) -> list[Any]:
    pending, found = [field.annotation], [*field.metadata]
    while pending:
        one = pending.pop()
        found += getattr(one, "__metadata__", ())
        pending += get_args(one)
    return found


def _literals(annotation: Any) -> list[Any]:
    if "Literal" in str(getattr(annotation, "__origin__", "")):
        return list(get_args(annotation))
    return [one for inner in get_args(annotation) for one in _literals(inner)]


def _plain_type(field: FieldInfo) -> str:
    text = str(field.annotation)
    words = {"bool": "`true`, `false`", "ClockTime": "clock time", "int": "a whole number", "float": "a number",
             "datetime": "date and clock", "date": "a date", "str": "text"}  # fmt: skip
    return next((said for name, said in words.items() if re.search(rf"\b{name}\b", text)), "a table")


def _default(key: str, field: FieldInfo) -> str:
    given = field.default
    if key in _CLOCK:
        return "" if given is None else f"{given // 60:02d}:{given % 60:02d}"
    if given is PydanticUndefined:
        return "needed" if field.default_factory is None else ""
    if given is None or given == ():
        return ""
    if isinstance(given, bool):
        return f"`{str(given).lower()}`"
    if isinstance(given, tuple):
        return ", ".join(str(one) for one in given)
    unit = next((one.unit for one in _inside(field) if hasattr(one, "unit")), "")
    return f"{given:g} {unit}".strip() if isinstance(given, float | int) else str(given)


def rewritten(text: str) -> str:
    """A page with its generated part made anew."""
    pattern = re.compile(r"(<!-- keys:begin -->\n).*?(<!-- keys:end -->)", re.DOTALL)
    return pattern.sub(lambda match: f"{match[1]}{keys_page()}\n{match[2]}", text)


if __name__ == "__main__":
    page = FOLDER / "plan.md"
    page.write_text(rewritten(page.read_text(encoding="utf-8")), encoding="utf-8")
