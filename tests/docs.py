"""Writes the generated parts of the help pages: ``python -m tests.docs``. A test holds them to the models."""

import inspect
import re
import tomllib
from functools import cached_property
from importlib.resources import files
from itertools import pairwise
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


def api_page() -> str:
    """The public names: how each is called, and its docstring; of a class also what it knows."""
    import energyplan

    return "\n\n".join(_of_name(name, getattr(energyplan, name)) for name in energyplan.__all__)


def _of_name(name: str, found: Any) -> str:
    if not inspect.isclass(found):
        call = _signature(found)
        return f"### {name}\n\n```text\n{name}{call}\n```\n\n{_prose(inspect.getdoc(found) or '')}"
    lines = [f"### {name}", "", _prose(inspect.getdoc(found) or "")]
    known = [
        f"- `{key}`: {_first(inspect.getdoc(value) or '')}"
        for key, value in vars(found).items()
        if not key.startswith("_") and (isinstance(value, property | cached_property) or inspect.isfunction(value))
    ]
    fields = list(getattr(found, "__dataclass_fields__", None) or getattr(found, "model_fields", ()))
    if fields:
        lines += ["", f"Fields: {', '.join(f'`{key}`' for key in fields)}."]
    return "\n".join([*lines, *(["", *known] if known else [])])


def _signature(function: Any) -> str:
    parts = []
    for one in inspect.signature(function).parameters.values():
        if one.kind is one.KEYWORD_ONLY and "*" not in parts:
            parts.append("*")
        blank = one.default is one.empty
        parts.append(one.name if blank else f"{one.name}={_default_words(one.default)}")
    return f"({', '.join(parts)})"


def _default_words(value: Any) -> str:
    return repr(value) if isinstance(value, str | int | float | bool | type(None)) else "…"


def _first(doc: str) -> str:
    return " ".join(doc.partition("\n\n")[0].split())


_HEADING = re.compile(r"^([A-Z][A-Za-z ]+)\n-{3,}$", re.MULTILINE)


def _prose(doc: str) -> str:
    """A numpydoc docstring as Markdown: headings in bold, parameters as a list, examples as code."""
    text = _HEADING.sub(r"**\1**\n", doc)
    lines, code = [], False
    for line, after in pairwise([*text.splitlines(), ""]):
        is_code = line.startswith(">>>") or (code and bool(line.strip()))
        if is_code != code:
            lines.append("```text" if is_code else "```")
        code = is_code
        is_named = not code and line[:1].isalpha() and after.startswith("    ")
        lines.append(re.sub(r"^(.+?)(?: : (.+))?$", _entry, line) if is_named else line)
    return "\n".join([*lines, *(["```"] if code else [])]).rstrip()


def _entry(match: re.Match[str]) -> str:
    return f"- `{match[1]}`: {match[2] or ''}".rstrip()


def rewritten(text: str) -> str:
    """A page with its generated parts made anew."""
    for name, made in (("keys", keys_page), ("api", api_page)):
        pattern = re.compile(rf"(<!-- {name}:begin -->\n).*?(<!-- {name}:end -->)", re.DOTALL)
        if pattern.search(text):
            whole = f"{made()}\n"
            text = pattern.sub(lambda match, whole=whole: f"{match[1]}{whole}{match[2]}", text)
    return text


if __name__ == "__main__":
    for page in (FOLDER / "plan.md", FOLDER / "library.md"):
        page.write_text(rewritten(page.read_text(encoding="utf-8")), encoding="utf-8")
