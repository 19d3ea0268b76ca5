"""One edit of the plan at a time, checked whole; the visitor's own values; forms that begin anew."""

import json
import tomllib
from collections.abc import Collection, Iterator, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from functools import lru_cache
from itertools import count
from typing import Any

from pydantic import BaseModel

from energyplan.app.entries import SECTIONS
from energyplan.plan.brewery import OF_A_LOSS
from energyplan.plan.file import parse_plan, plan_to_toml
from energyplan.plan.model import Batch, Circuit, Extension, Plan, SecondHeater, Site, Vessel
from energyplan.plan.writing import At, Typed, says

__all__ = [
    "ALL",
    "BREWERY",
    "KeyNumber",
    "assumed",
    "brewery_toml",
    "default_of",
    "entered_after",
    "entry_of",
    "in_brewery",
    "own_tables",
    "plan_tables",
    "row_mark",
    "rows_of",
    "tables_plan",
    "typed_after",
    "with_entries",
    "with_entry",
    "written_in",
]

Tables = dict[str, Any]


@dataclass(slots=True)
class KeyNumber:
    """A number in the keys of a form's widgets: with another one they begin anew.

    The framework keeps a key as long as the session lasts, so numbers are taken again, but not before two whole runs
    went without: until then the browser may hold what was typed.

    Examples
    --------
    >>> keys = KeyNumber()
    >>> keys.renew(), keys.has_run(), keys.renew(), keys.has_run(), keys.renew()
    (1, None, 2, None, 0)
    """

    number: int = 0
    recent: frozenset[int] = frozenset()
    before: frozenset[int] = frozenset()

    def renew(self) -> int:
        """Another number than the browser may hold."""
        self.recent |= {self.number}
        self.number = next(number for number in count() if number not in self.recent | self.before)
        return self.number

    def has_run(self) -> None:
        """A run has come to its end, with this number alone on the page."""
        self.before, self.recent = self.recent, frozenset({self.number})


@lru_cache(maxsize=16)
def plan_tables(plan: Plan) -> Mapping[str, Any]:
    """The tables of a plan's file, shared by all who look: whoever changes them takes a copy.

    >>> from energyplan.plan.file import read_plan
    >>> plan_tables(read_plan("demo"))["vessel"]["diameter"]
    '0.36 m'
    """
    return tomllib.loads(plan_to_toml(plan))


def own_tables(plan: Plan) -> Tables:
    """The same tables for one who changes them."""
    return deepcopy(dict(plan_tables(plan)))


def entry_of(tables: Mapping[str, Any], path: Sequence[str]) -> Any:
    """What stands at a path; None when nothing does."""
    node: Any = tables
    for key in path:
        node = node.get(key) if isinstance(node, Mapping) else None
    return node


def with_entry(plan: Plan, path: Sequence[str], value: Any) -> Plan:
    """The plan with one entry, or a whole list of rows, changed; taken out when the value is None or empty.

    Raises
    ------
    PlanError
        If the plan can't say that; the problems name the entry.

    Examples
    --------
    >>> from energyplan.plan.file import read_plan
    >>> with_entry(read_plan("demo"), ("batch", "water"), "30 L").batch.water_l
    30.0
    """
    return with_entries(plan, {tuple(path): value})


def with_entries(plan: Plan, changes: Mapping[tuple[str, ...], Any]) -> Plan:
    """The plan with several entries changed at once, for those that are right only together.

    Another heat loss takes with it what was measured of the one before.

    Raises
    ------
    PlanError
        If the plan can't say that; the problems name the entries.
    """
    tables = own_tables(plan)
    gone = dict.fromkeys(OF_A_LOSS if ("vessel", "heat_loss") in changes else ())
    for path, value in (gone | dict(changes)).items():
        _put(tables, path, value)
    changed: Plan = _sharing(tables_plan(tables), plan)
    return changed


def _sharing(now: Any, was: Any) -> Any:
    """The same as now; what is as it was is the same object, so that a kept step back takes little room."""
    if now == was:
        return was
    if isinstance(now, tuple) and isinstance(was, tuple):
        return (*map(_sharing, now, was), *now[len(was) :])
    if isinstance(now, BaseModel) and type(was) is type(now):
        return now.model_copy(update={name: _sharing(value, getattr(was, name)) for name, value in now})
    return now


def _put(tables: Tables, path: Sequence[str], value: Any) -> None:
    *outer, last = path
    node = tables
    for key in outer:
        node = node.setdefault(key, {})
    if value is None or value == []:
        node.pop(last, None)
    else:
        node[last] = deepcopy(value)
    _drop_empty(tables, outer)


def _drop_empty(tables: Tables, path: Sequence[str]) -> None:
    """Take out tables that an entry left empty, so that no second heater means no table of one."""
    if path and not entry_of(tables, path):
        node = entry_of(tables, path[:-1]) if path[:-1] else tables
        node.pop(path[-1], None)
        _drop_empty(tables, path[:-1])


def tables_plan(tables: Tables) -> Plan:
    """The plan that a file with these tables says.

    Raises
    ------
    PlanError
        If it says none; the problems name the entries.
    """
    import tomli_w

    return parse_plan(tomli_w.dumps(tables), source="")


BREWERY = ("vessel", "site", "circuit", "hours", "supply", "other_load", "house_load")


def brewery_toml(plan: Plan) -> str:
    """What stays the same from day to day, as the text of a brewery's file.

    >>> from energyplan.plan.file import read_plan
    >>> "[vessel]" in brewery_toml(read_plan("demo")), "[batch]" in brewery_toml(read_plan("demo"))
    (True, False)
    """
    import tomli_w

    return tomli_w.dumps({key: value for key, value in plan_tables(plan).items() if key in BREWERY})


def in_brewery(plan: Plan, toml: str) -> Plan:
    """The same day in another brewery.

    Raises
    ------
    PlanError
        If it can't be brewed there.
    """
    of_the_day = {key: value for key, value in plan_tables(plan).items() if key not in BREWERY}
    return tables_plan({**of_the_day, **tomllib.loads(toml)})


Path = tuple[str, ...]


ALL: tuple[Path, ...] = ((),)  # everywhere: in a file, for one, every value is its writer's


MODELS: dict[Path, Any] = {
    ("vessel",): Vessel, ("batch",): Batch, ("site",): Site, ("circuit",): Circuit,
    ("circuit", "extension"): Extension, ("second_heater",): SecondHeater,
}  # fmt: skip


def default_of(path: Path) -> Any:
    """What is taken where an entry stays empty; None where nothing is."""
    fields = MODELS[path[:-1]].model_fields if path[:-1] in MODELS else {}
    found = next((field for name, field in fields.items() if (field.alias or name) == path[-1]), None)
    return None if found is None or found.is_required() or isinstance(found.default, str) else found.default


def row_mark(path: Path, row: Any) -> Path:
    """A row of a list as its own mark: another text is another row, wherever it stands."""
    return (*path, json.dumps(row, sort_keys=True, default=str))


def rows_of(plan: Plan) -> Iterator[tuple[Path, list[Any]]]:
    """The lists of a plan's file."""
    yield from _rows((), plan_tables(plan))


def _rows(path: Path, tables: Mapping[str, Any]) -> Iterator[tuple[Path, list[Any]]]:
    for key, value in tables.items():
        if isinstance(value, dict):
            yield from _rows((*path, key), value)
        elif _is_rows(value):
            yield (*path, key), value


def _is_rows(value: Any) -> bool:
    return isinstance(value, list) and any(isinstance(row, dict) for row in value)


def _leaves(path: Path, tables: Mapping[str, Any]) -> Iterator[Path]:
    for key, value in tables.items():
        if isinstance(value, dict):
            yield from _leaves((*path, key), value)
        elif not _is_rows(value):
            yield (*path, key)


def written_in(tables: Mapping[str, Any]) -> frozenset[Path]:
    """Everything that stands in a file: all of it is its writer's."""
    rows = [row_mark(path, row) for path, found in _rows((), tables) for row in found]
    return frozenset([*_leaves((), tables), *rows])


@lru_cache(maxsize=64)
def assumed(plan: Plan, entered: frozenset[Path]) -> tuple[Path, ...]:
    """Everything that counts in a plan and that nobody wrote: entries, usual values of empty ones, rows.

    Examples
    --------
    >>> from energyplan.plan.file import read_plan
    >>> demo = read_plan("demo")
    >>> ("batch", "water") in assumed(demo, frozenset())
    True
    >>> ("batch", "water") in assumed(demo, frozenset({("batch", "water")}))
    False
    """
    tables = plan_tables(plan)
    usual = [
        entry.path
        for section in SECTIONS
        for entry in (*section.entries, *section.further)
        if default_of(entry.path) is not None and (entry.path[:-1] == () or entry_of(tables, entry.path[:-1]))
    ]
    counts = dict.fromkeys([*_leaves((), tables), *usual])
    entries = [path for path in counts if path != ("title",) and path[0] != "hours"]
    if not any(path[0] == "hours" for path in entered):
        entries.append(("hours",))
    rows = [row_mark(path, row) for path, found in rows_of(plan) for row in found]
    return tuple(path for path in (*entries, *rows) if path not in entered)


def entered_after(
    entered: frozenset[Path], before: Plan, after: Plan, written: Collection[Path]
) -> frozenset[Path]:  # fmt: skip
    """What is the visitor's own after a change: where something was written, and what a change by the program kept.

    A row that the visitor wrote stays the visitor's when the program sets a power in it; an assumed row stays assumed.
    """
    everything = () in written
    old, new = plan_tables(before), plan_tables(after)
    own = {path for path in written if path and not _is_rows(entry_of(new, path))} | set(entered)
    own |= {path for path in _leaves((), new) if (everything or written == ()) and _differs(path, old, new)}
    for path, rows in rows_of(after):
        earlier = entry_of(old, path) or []
        for place, row in enumerate(rows):
            match = next((one for one in earlier if "name" in row and one.get("name") == row.get("name")), None)
            match = match or (earlier[place] if place < len(earlier) and "name" not in row else None)
            is_kept = match is not None and row_mark(path, match) in entered
            is_written = row not in earlier and (everything or path in written)
            if is_kept or is_written:
                own.add(row_mark(path, row))
    return frozenset(own)


def typed_after(typed: Typed, after: Plan, written: Mapping[Path, Any]) -> Typed:
    """Quantities as the visitor typed them, after a change: those that still say what the plan says.

    A row may have moved: what was typed in the same column of its list goes with it.
    """
    known: dict[At, list[tuple[At, str]]] = {}
    for path, said in (*_texts((), written), *typed):
        known.setdefault(_column(path), []).append((path, said))
    found: dict[At, str] = {}
    for path, text in _texts((), plan_tables(after)):
        saids = sorted(known.get(_column(path), ()), key=lambda one: one[0] != path)
        own = [said for _, said in saids if said != text and says(path, said, text)]
        found |= dict([(path, own[0])] if own else [])
    return tuple(found.items())


def _column(path: At) -> At:
    """The way to a value without the places of rows."""
    return tuple(key for key in path if isinstance(key, str))


def _texts(path: At, value: Any) -> Iterator[tuple[At, str]]:
    """The texts in tables, with the way to each; the keys of the outermost are ways themselves."""
    if isinstance(value, str):
        yield path, value
    elif isinstance(value, Mapping):
        for key, inner in value.items():
            yield from _texts((*path, *(key if isinstance(key, tuple) else (key,))), inner)
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            yield from _texts((*path, place), inner)


def _differs(path: Path, old: Mapping[str, Any], new: Mapping[str, Any]) -> bool:
    return bool(entry_of(old, path) != entry_of(new, path))
