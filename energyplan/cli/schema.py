"""The command that prints JSON Schemas: of the files that people write, and of the documents that commands print."""

import contextlib
import io
import json
import sys
from collections.abc import Callable, Mapping, Sequence
from typing import Annotated, Any, Literal

import typer

from energyplan.base.errors import FileError
from energyplan.docs import help_page, help_topics

__all__ = ["explain", "schema"]

Subject = Literal[
    "plan", "brewery", "tariff", "report", "circuit", "power", "starts", "savings", "spread", "compare", "calibrate"
]


_DAY = ("demo", "--start", "2026-12-05T08:30")


# A document's form is read off the one of the packaged demo.
_EXAMPLES: Mapping[str, Sequence[str]] = {
    "report": ("report", *_DAY, "--tariff", "demo"),
    "circuit": ("circuit", *_DAY),
    "power": ("power", "demo"),
    "starts": ("starts", "demo", "--tariff", "demo", "--from", "2026-12-05", "--to", "2026-12-05"),
    "savings": ("savings", *_DAY, "--tariff", "demo"),
    "spread": ("spread", *_DAY, "--tariff", "demo", "--draws", "20"),
    "compare": ("compare", "demo", "lakeside"),
    "calibrate": ("calibrate", "cool-down", "--plan", "demo"),
}


_UNITS = {
    "kwh": "kilowatt-hours", "w": "watts", "kw": "kilowatts", "a": "amperes", "v": "volts", "c": "degrees Celsius",
    "k": "kelvin", "l": "litres", "kg": "kilograms", "g": "grams", "min": "minutes", "s": "seconds", "m": "metres",
    "mm2": "square millimetres", "frac": "a share from 0 to 1", "j": "joules", "h": "hours",
}  # fmt: skip


def schema(
    of: Annotated[Subject, typer.Argument(help="A file that you write, or a command's document.", metavar="WHAT")],
) -> None:
    """Print the JSON Schema of plan, brewery, tariff, or of a command's --json."""
    from energyplan.plan.file import brewery_schema, plan_schema

    files: dict[str, Callable[[], dict[str, Any]]] = {
        "plan": plan_schema, "brewery": brewery_schema, "tariff": _tariff_schema,
    }  # fmt: skip
    found = files[of]() if of in files else _document_schema(of)
    typer.echo(json.dumps(found, indent=2, ensure_ascii=False))


def _tariff_schema() -> dict[str, Any]:
    from energyplan.plan.file import named
    from energyplan.tariffs.tables import TariffFile

    return named("tariff", TariffFile.model_json_schema(by_alias=True))


def _document_schema(name: str) -> dict[str, Any]:
    """What the document of a command looks like, read off that of the packaged demo."""
    from energyplan.cli import app
    from energyplan.plan.file import named

    printed = io.StringIO()
    with contextlib.redirect_stdout(printed):
        app([*_EXAMPLES[name], "--json"], standalone_mode=False)
    return named(name, {"title": f"energyplan {name} --json", **_form(json.loads(printed.getvalue()))})


def _form(value: Any, key: str = "") -> dict[str, Any]:
    """The form of a value: what is a number or a text may also be unknown."""
    if key == "plan":
        return {"type": ["object", "null"], "description": "the plan that was answered, in SI"}
    if isinstance(value, dict):
        return {"type": ["object", "null"], "properties": {name: _form(inner, name) for name, inner in value.items()}}
    if isinstance(value, list):
        forms = [_form(inner, key) for inner in value]
        return {"type": ["array", "null"]} | ({"items": _joined(forms)} if forms else {})
    if value is None:
        return {}
    kind = "boolean" if isinstance(value, bool) else "number" if isinstance(value, int | float) else "string"
    unit = _UNITS.get(key.rpartition("_")[2]) if kind == "number" and "_" in key else None
    return {"type": [kind, "null"]} | ({"description": unit} if unit else {})


def _joined(forms: list[dict[str, Any]]) -> dict[str, Any]:
    """One form for all items of a list."""
    if all("properties" in form for form in forms):
        keys = dict.fromkeys(key for form in forms for key in form["properties"])
        return {
            "type": ["object", "null"],
            "properties": {
                key: _joined([form["properties"][key] for form in forms if key in form["properties"]]) for key in keys
            },
        }
    known = [form for form in forms if form]
    return known[0] if known and all(form.get("type") == known[0].get("type") for form in known) else {}


def explain(
    topic: Annotated[str | None, typer.Argument(help="Topic; left out: a list.", metavar="[TOPIC]")] = None,
) -> None:
    """A help page: plan, tariff, log, circuit, power, json, library, words and more."""
    topics = help_topics()
    if topic is None:
        sys.stdout.write("\n".join(topics) + "\n")
        return
    if topic not in topics:
        raise FileError(f"no help page of that name; there are {', '.join(topics)}")
    text = help_page(topic)
    if not sys.stdout.isatty():
        sys.stdout.write(text)
        return
    from rich.console import Console
    from rich.markdown import Markdown

    Console().print(Markdown(text))
