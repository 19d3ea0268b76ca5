"""The commands about files and help: new, schema, explain."""

import contextlib
import io
import json
import os
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from energyplan.base.errors import FileError, PlanError, UnitsError
from energyplan.base.files import help_page, help_topics, write_all
from energyplan.cli.output import ForceOption, show

if TYPE_CHECKING:
    from energyplan.base.units import Kind

__all__ = ["SUBJECTS", "explain", "new", "schema"]

_DAY = ("demo", "--start", "2026-12-05T08:30")


# A document's form is read off the one of the packaged demo.
_EXAMPLES: Mapping[str, Sequence[str]] = {
    "report": ("report", *_DAY, "--tariff", "demo"),
    "circuit": ("circuit", *_DAY),
    "power": ("power", "demo"),
    "starts": ("starts", "demo", "--tariff", "demo", "--from", "2026-12-05", "--to", "2026-12-05"),
    "savings": ("savings", *_DAY, "--tariff", "demo"),
    "spread": ("spread", *_DAY, "--tariff", "demo", "--draws", "20"),
    "batches": ("batches", *_DAY, "--tariff", "demo", "--kept", "25 L at 55 degC"),
    "compare": ("compare", "demo", "lakeside"),
    "calibrate": ("calibrate", "cool-down", "--plan", "demo"),
    "brewed": ("brewed", *_DAY, "--tariff", "demo", "--metered", "7.4 kWh"),
    "unattended": ("unattended", *_DAY),
    "tariff-check": ("tariff", "check", "demo", "--date", "2026-12-05"),
    "tariff-compare": ("tariff", "compare", *_DAY[:1], "demo", "three_band", *_DAY[1:]),
}


_FILES = ("plan", "brewery", "tariff")


SUBJECTS = (*_FILES, *_EXAMPLES)


_UNITS = {
    "kwh": "kilowatt-hours", "w": "watts", "kw": "kilowatts", "a": "amperes", "v": "volts", "c": "degrees Celsius",
    "k": "kelvin", "l": "litres", "kg": "kilograms", "g": "grams", "min": "minutes", "s": "seconds", "m": "metres",
    "mm2": "square millimetres", "frac": "a share from 0 to 1", "j": "joules", "h": "hours",
}  # fmt: skip


def schema(
    of: Annotated[
        str,
        typer.Argument(
            help=f"A file that you write: {', '.join(_FILES)}; or a command's document: {', '.join(_EXAMPLES)}.",
            metavar="WHAT",
        ),
    ],
) -> None:
    """Print the JSON Schema of plan, brewery, tariff, or of a command's --json."""
    from energyplan.plan.file import brewery_schema, plan_schema

    if of not in SUBJECTS:
        raise FileError(f"no schema of that name; there are {', '.join(SUBJECTS)}")
    files: dict[str, Callable[[], dict[str, Any]]] = {
        "plan": plan_schema, "brewery": brewery_schema, "tariff": _tariff_schema,
    }  # fmt: skip
    found = files[of]() if of in files else _document_schema(of)
    show(found)


def _tariff_schema() -> dict[str, Any]:
    from energyplan.plan.file import named
    from energyplan.tariffs.tables import TariffFile

    return named("tariff", TariffFile.model_json_schema(by_alias=True))


def _document_schema(name: str) -> dict[str, Any]:
    """What the document of a command looks like, read off that of the packaged demo."""
    from energyplan.cli import made
    from energyplan.plan.file import named

    printed = io.StringIO()
    with contextlib.redirect_stdout(printed):
        made()([*_EXAMPLES[name], "--json"], standalone_mode=False)
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
    topic: Annotated[str | None, typer.Argument(help="Topic; left out: a list.", metavar="TOPIC")] = None,
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


def new(
    file: Annotated[Path | None, typer.Argument(help="File to write.", metavar="FILE")] = None,
    *,
    brewery: Annotated[
        Path | None, typer.Option(help="File of the brewery: used if it is there, else written.")
    ] = None,
    water: Annotated[str | None, typer.Option(help='Water at the start, such as "27 L".')] = None,
    grain: Annotated[str | None, typer.Option(help='Grain, such as "5.5 kg".')] = None,
    vessel: Annotated[str | None, typer.Option(help='What the vessel holds to the rim, such as "45 L".')] = None,
    diameter: Annotated[str | None, typer.Option(help='Its inside diameter instead, such as "36 cm".')] = None,
    height: Annotated[str | None, typer.Option(help='Its inside height, such as "48 cm".')] = None,
    element: Annotated[str | None, typer.Option("--power", help='Nameplate power, such as "2800 W".')] = None,
    voltage: Annotated[str | None, typer.Option(help='Nameplate voltage, such as "230 V".')] = None,
    breaker: Annotated[str | None, typer.Option(help='Breaker of the circuit, such as "16 A".')] = None,
    rules: Annotated[str | None, typer.Option(help='Wiring rules, "iec" or "nec"; else by the voltage.')] = None,
    zone: Annotated[str | None, typer.Option("--time-zone", help='Clock, such as "Europe/Dublin".')] = None,
    schema: Annotated[bool, typer.Option("--schema", hidden=True, help="As energyplan schema plan.")] = False,
    force: ForceOption = False,
) -> None:
    """Write a first plan that works at once, by questions or by flags; with --brewery, in two files."""
    if schema:
        from energyplan.plan.file import plan_schema_json

        sys.stdout.write(plan_schema_json() + "\n")
        return
    if file is None:
        raise PlanError("name the file to write, such as stout.toml")
    flags = {
        "water": water, "grain": grain, "volume": vessel, "diameter": diameter, "height": height, "power": element,
        "voltage": voltage, "breaker": breaker, "rules": rules, "time_zone": zone,
    }  # fmt: skip
    given = {key: value for key, value in flags.items() if value is not None}
    texts = _texts(file, brewery, given)
    _write(texts, force=force)
    sys.stderr.write(f"{' and '.join(map(str, texts))} written; next: energyplan report {file} --tariff demo\n")


def _texts(file: Path, brewery: Path | None, given: Mapping[str, str]) -> dict[Path, str]:
    """The texts to write: the plan's, and the brewery's if it is to be made."""
    from energyplan.advice.firstplan import first_day_toml, first_plan_toml, starter_of
    from energyplan.plan.brewery import split_toml

    is_there = brewery is not None and brewery.exists()
    answers = given or _asked(_OF_THE_DAY if is_there else _ALL)
    title = file.stem.replace("_", " ").replace("-", " ").capitalize() or "My brew day"
    starter = starter_of({"title": title[:80], **answers})
    if brewery is None:
        return {file: first_plan_toml(starter)}
    if is_there:
        return {file: first_day_toml(starter, brewery, file.parent)}
    used = Path(os.path.relpath(brewery, file.parent)).as_posix()
    shared, own = split_toml(first_plan_toml(starter), used)
    return {brewery: shared, file: own}


def _write(texts: Mapping[Path, str], *, force: bool) -> None:
    write_all({path: text.encode() for path, text in texts.items()}, force=force)


def _quantity(kind: "Kind") -> Callable[[str], str]:
    """A check of an answer, as it is given."""
    from energyplan.base.units import read_quantity

    def checked(text: str) -> str:
        try:
            read_quantity(text, kind)
        except UnitsError as error:
            raise typer.BadParameter(str(error)) from None
        return text

    return checked


def _zone(text: str) -> str:
    from energyplan.plan.model import Site

    try:
        Site(time_zone=text or None)
    except ValueError:
        raise typer.BadParameter('no such time zone: write an IANA name such as "Europe/Dublin"') from None
    return text


_OF_THE_DAY = ("water", "grain")
_ALL = (*_OF_THE_DAY, "volume", "power", "voltage", "breaker", "time_zone")


def _asked(keys: tuple[str, ...]) -> dict[str, str]:
    """Ask for the few things that a first plan needs; what can't be read is asked again."""
    if not sys.stdin.isatty():
        raise PlanError('nobody is there to ask: give flags such as --water "27 L" --grain "5.5 kg" --power "2800 W"')
    from energyplan.advice.firstplan import starter_of
    from energyplan.base import units

    questions: dict[str, tuple[str, Callable[[str], str]]] = {
        "water": ("Water in the vessel at the start", _quantity(units.VOLUME)),
        "grain": ("Grain", _quantity(units.MASS)),
        "volume": ("What the vessel holds, up to its rim", _quantity(units.VOLUME)),
        "power": ("Power of the elements, from the plate under the base", _quantity(units.POWER)),
        "voltage": ("Voltage on that plate", _quantity(units.VOLTAGE)),
        "breaker": ("Breaker of the circuit", _quantity(units.CURRENT)),
        "time_zone": ("Time zone, such as Europe/Dublin; empty for that of your prices", _zone),
    }
    answers: dict[str, str] = {}
    for key in keys:
        question, check = questions[key]
        usual: Any = getattr(starter_of(answers), key) or ""
        answers[key] = typer.prompt(question, default=usual, err=True, value_proc=check)
    return {key: text for key, text in answers.items() if text}
