"""Plan files: TOML text <-> `Plan`, with every error of a file, and of the brewery's file it uses, shown at once."""

import json
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from functools import lru_cache
from pathlib import Path, PurePosixPath
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from energyplan.base.errors import FileError, Place, PlanError, Problem
from energyplan.base.files import PACKAGE, read_text
from energyplan.base.records import dataclass
from energyplan.base.tomltext import toml_tables, with_values
from energyplan.plan.brewery import Brewery, misplaced, text_alone, with_shared
from energyplan.plan.model import Plan
from energyplan.plan.values import problems_of

__all__ = [
    "DIALECT",
    "PlanFiles",
    "PlanText",
    "brewery_schema",
    "demo_plans",
    "holds",
    "named",
    "parse_plan",
    "parse_plan_files",
    "plan_files",
    "plan_schema",
    "plan_schema_json",
    "plan_to_toml",
    "read_plan",
    "read_plan_files",
]

LARGEST_FILE_BYTES = 1_000_000
MOST_PROBLEMS = 100
DEMO_PLAN = "demo"


SCHEMA = 2


_OWN_KEYS = ("uses", "schema", "tariff", "brewed")


Tables = dict[str, Any]


@dataclass(frozen=True, slots=True)
class PlanText:
    """The text of a file, what to call it, and where it lies (None: packaged, or from standard input)."""

    name: str
    text: str
    path: Path | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanFiles:
    """A plan, the texts of its file and of the brewery's file that it uses, and what the brewery holds beside it."""

    plan: Plan
    own: PlanText
    shared: PlanText | None
    brewery: Brewery

    @property
    def tariff(self) -> str | None:
        """The brewery's tariff: a name, or the path of its file, which is written beside the file that names it."""
        named = self.brewery.tariff
        if named is None or not named.endswith(".toml"):
            return named
        holder = self.own if self.shared is None or "tariff" in toml_tables(self.own.text) else self.shared
        return named if holder.path is None else str(holder.path.parent / named)


def demo_plans() -> dict[str, str]:
    """Names and TOML texts of the packaged plans, each complete without its brewery's file; ``demo`` is the first.

    The brewery's prices are left out: whoever shows a packaged plan lets its visitor choose them.
    """
    return dict(_completed())


@lru_cache(maxsize=1)
def _completed() -> Mapping[str, str]:
    return {name: _complete(text) for name, text in _packaged_plans().items()}


def _complete(text: str) -> str:
    used = toml_tables(text).get("uses")
    return text if used is None else with_values(text_alone(text, _packaged()[used]), {("tariff",): None})


def _packaged_plans() -> dict[str, str]:
    texts = {name.removesuffix(".toml"): text for name, text in _packaged().items() if "[[step]]" in text}
    return dict(sorted(texts.items(), key=lambda entry: (entry[0] != DEMO_PLAN, entry[0])))


def _packaged() -> dict[str, str]:
    folder = PACKAGE / "demo"
    names = sorted(entry.name for entry in folder.iterdir() if entry.name.endswith(".toml"))
    return {name: (folder / name).read_text(encoding="utf-8") for name in names}


def read_plan(path: str | Path) -> Plan:
    """Read a plan file, or a packaged plan by its name (``demo``); ``-`` is standard input.

    Raises
    ------
    FileError
        If the file, or the brewery's file that it uses, is missing, no regular file, or too large.
    PlanError
        If it is no TOML, or not a plan; ``problems`` lists all that is wrong.
    """
    return read_plan_files(path).plan


def read_plan_files(path: str | Path) -> PlanFiles:
    """Read a plan with the texts that it was read from, for whoever wants to change them.

    Raises
    ------
    FileError, PlanError
        As for `read_plan`.
    """
    name = str(path)
    if name in (demos := _packaged_plans()):
        return _read(PlanText(name, demos[name]), _beside_demos)
    what = f'a plan; give its path, or "{DEMO_PLAN}"'
    own = PlanText(name, read_text(path, LARGEST_FILE_BYTES, what=what), None if name == "-" else Path(path))
    return _read(own, lambda used: _beside(Path(path), used))


def _beside(plan: Path, used: str) -> PlanText:
    path = plan.parent / used
    if not path.exists() and used in (packaged := _packaged()):
        return PlanText(used, packaged[used])
    return PlanText(str(path), read_text(path, LARGEST_FILE_BYTES, what=f"the brewery that {plan.name} uses"), path)


def _beside_demos(used: str) -> PlanText:
    return PlanText(used, _packaged()[used])


def parse_plan(text: str, *, source: str = "plan", beside: Mapping[str, str] | None = None) -> Plan:
    r"""Read a plan from its TOML text; as `parse_plan_files`.

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
    return parse_plan_files(text, source=source, beside=beside).plan


def parse_plan_files(text: str, *, source: str = "plan", beside: Mapping[str, str] | None = None) -> PlanFiles:
    """Read a plan from its TOML text; ``source`` names it in errors.

    Parameters
    ----------
    text : str
        The TOML.
    source : str
        What to call it in messages.
    beside : mapping of str to str, optional
        Texts of other files that were handed in with it, by file name: a brewery's. The packaged ones are always
        at hand.

    Raises
    ------
    PlanError
        If it is no TOML, or not a plan; ``problems`` lists all that is wrong.
    FileError
        If the text is larger than a plan file may be.
    """
    texts = {**_packaged(), **(beside or {})}

    def handed_in(used: str) -> PlanText:
        name = PurePosixPath(used.replace("\\", "/")).name
        if name not in texts or name != used.removeprefix("./"):
            problem = Problem(
                where=Place("", "uses"), value=json.dumps(used), message=f"hand in {name} together with it"
            )
            raise PlanError("one thing to mend", (problem,), source)
        return PlanText(name, texts[name])

    return _read(PlanText(source, text), handed_in)


def plan_files(own: PlanText, shared: PlanText | None) -> PlanFiles:
    """What the texts of a plan and of its brewery say.

    Raises
    ------
    PlanError
        If it is no plan.
    """
    return _read(own, lambda _: shared or own)


def _read(own: PlanText, find: Callable[[str], PlanText]) -> PlanFiles:
    tables = _tables(own)
    if not tables:
        raise PlanError("empty; a plan has the tables [vessel], [batch] and [[step]]", source=own.name)
    shared = _used(own, tables, find)
    others = _tables(shared) if shared else {}
    return _checked(own, tables, shared, others)


def _used(own: PlanText, tables: Tables, find: Callable[[str], PlanText]) -> PlanText | None:
    used = tables.get("uses")
    if used is None:
        return None
    if not isinstance(used, str) or not used.strip() or "\x00" in used:
        message = 'write the name of the brewery\'s file: uses = "garage.toml"'
        problem = Problem(where=Place("", "uses"), value=json.dumps(used, default=str), message=message)
        raise PlanError("one thing to mend", (problem,), own.name)
    return find(used)


def _tables(file: PlanText) -> Tables:
    if len(file.text) > LARGEST_FILE_BYTES:
        raise FileError(f"{file.name}: {len(file.text)} characters are too many (at most {LARGEST_FILE_BYTES})")
    try:
        return toml_tables(file.text)
    except ValueError as error:
        raise PlanError(f"not valid TOML: {error}{_comma(file.text)}", source=file.name) from None


_COMMA = re.compile(r"^[ \t]*([\w-]+)[ \t]*=[ \t]*([+-]?\d+),(\d+)[ \t]*(?:#.*)?$", re.MULTILINE)


def _comma(text: str) -> str:
    """What to write for a bare number with a decimal comma, if there is one."""
    found = _COMMA.search(text)
    if found is None:
        return ""
    line = text.count("\n", 0, found.start()) + 1
    return f"; line {line} has a comma in a number: write {found[1]} = {found[2]}.{found[3]}"


def _checked(own: PlanText, tables: Tables, shared: PlanText | None, others: Tables) -> PlanFiles:
    merged = with_shared(tables, others)
    problems = [*_schema_problems(tables), *_schema_problems(others), *misplaced(others, shared.name if shared else "")]
    plan, of_plan = _validated(Plan, {key: value for key, value in merged.items() if key not in _OWN_KEYS})
    brewery, of_brewery = _validated(Brewery, {key: merged[key] for key in ("tariff", "brewed") if key in merged})
    problems += [*of_plan, *of_brewery]
    if plan is None or brewery is None or problems:
        count = f"{len(problems)} things" if len(problems) != 1 else "one thing"
        first = f", the first {MOST_PROBLEMS} of them" if len(problems) > MOST_PROBLEMS else ""
        placed = (_placed(problem, tables, others, shared) for problem in problems[:MOST_PROBLEMS])
        raise PlanError(f"{count} to mend{first}", tuple(placed), own.name)
    return PlanFiles(plan=plan, own=own, shared=shared, brewery=brewery)


Model = TypeVar("Model", bound=BaseModel)


def _validated(model: type[Model], data: Tables) -> tuple[Model | None, list[Problem]]:
    """What tables say, or all that is wrong with them."""
    try:
        return model.model_validate(data, context={"file": True}, by_name=False, by_alias=True), []
    except ValidationError as error:
        told = [item for item in error.errors() if not (item["type"] == "too_short" and item["input"])]
        return None, [problem for item in told for problem in problems_of(item, data, model)]


def _schema_problems(tables: Tables) -> Iterator[Problem]:
    schema = tables.get("schema", 1)
    if isinstance(schema, bool) or not isinstance(schema, int) or not 1 <= schema <= SCHEMA:
        message = f"this version reads 1 to {SCHEMA}; leave it out, or use a newer energyplan"
        yield Problem(where=Place("", "schema"), value=json.dumps(schema, default=str), message=message)


def _placed(problem: Problem, tables: Tables, others: Tables, shared: PlanText | None) -> Problem:
    """The problem with the name of the brewery's file, where what is wrong stands there."""
    where = problem.where
    if shared is None or problem.file or not isinstance(where, Place) or holds(tables, where):
        return problem
    table = Place(where.table, row=where.row)
    stands = holds(others, where) or (holds(others, table) and not holds(tables, table))
    return replace(problem, file=shared.name) if stands else problem


def holds(tables: Mapping[str, Any], where: Place) -> bool:
    """Whether something stands at a place: its key, or without a key its table, its row.

    >>> holds({"step": [{"name": "Boil", "hold": "60 min"}]}, Place("step", "hold", "Boil"))
    True
    """
    node: Any = tables
    for part in where.table.split(".") if where.table else ():
        node = node.get(part) if isinstance(node, Mapping) else None
        if isinstance(node, list) and where.row not in (None, ""):
            rows = dict(enumerate(node, start=1)) if isinstance(where.row, int) else {}
            named = [row for row in node if isinstance(row, Mapping) and row.get("name") == where.row]
            node = rows.get(where.row) if isinstance(where.row, int) else next(iter(named), None)
    return node is not None and (not where.key or (isinstance(node, Mapping) and where.key.split(" ")[0] in node))


def plan_to_toml(plan: Plan) -> str:
    """Write a plan as TOML text that reads back as the same plan."""
    import tomli_w

    data = plan.model_dump(by_alias=True, exclude_none=True, exclude_defaults=True, context={"file": True})
    return tomli_w.dumps(data)


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
