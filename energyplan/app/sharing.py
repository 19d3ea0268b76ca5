"""Small changes to a packaged plan as words of an address, so that a link or a reload brings them back."""

import json
import re
from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import Any

from energyplan.app.editing import plan_tables, tables_plan
from energyplan.base.errors import EnergyPlanError
from energyplan.plan.model import Plan

__all__ = ["changes_between", "with_changes"]

MOST_CHANGES = 16
LONGEST_CHANGES = 1200  # letters; beyond that a link is no longer handy, and a plan file says it better
TAKEN_OUT = "-"
_KEY = re.compile(r"title|[a-z_]{1,30}(?:\.[a-z0-9_]{1,30}){1,6}")


@lru_cache(maxsize=64)
def changes_between(first: Plan, second: Plan) -> tuple[tuple[str, str], ...]:
    """What must be changed in one plan to get another: keys of the file and what to write there.

    Returns nothing where steps, elements or loads were added, taken out or moved, or where it gets too long.

    Examples
    --------
    >>> from energyplan.app.editing import with_entry
    >>> from energyplan.plan.file import read_plan
    >>> changes_between(read_plan("demo"), with_entry(read_plan("demo"), ("batch", "water"), "30 L"))
    (('batch.water', '30 L'),)
    """
    try:
        found = tuple(_changes("", plan_tables(first), plan_tables(second)))
    except _TooMuchError:
        return ()
    is_handy = len(found) <= MOST_CHANGES and sum(len(key) + len(text) for key, text in found) <= LONGEST_CHANGES
    return found if is_handy else ()


class _TooMuchError(Exception):
    """The plans differ in more than entries."""


def _changes(path: str, before: Any, after: Any) -> Iterator[tuple[str, str]]:
    if before == after:
        return
    if isinstance(before, dict) and isinstance(after, dict):
        for key in dict.fromkeys([*before, *after]):
            yield from _changes(f"{path}.{key}" if path else key, before.get(key), after.get(key))
    elif _is_rows(before) or _is_rows(after):
        if not (_is_rows(before) and _is_rows(after)) or _names(before) != _names(after):
            raise _TooMuchError
        for place, (mine, its) in enumerate(zip(before, after, strict=True)):
            yield from _changes(f"{path}.{place}", mine, its)
    else:
        yield path, _text(after)


def _is_rows(value: Any) -> bool:
    return isinstance(value, list) and any(isinstance(row, dict) for row in value)


def _names(rows: list[Any]) -> list[Any]:
    return [row.get("name") if isinstance(row, dict) else row for row in rows]


def _text(value: Any) -> str:
    """A value as it is written in an address: texts bare, all else as JSON."""
    if value is None:
        return TAKEN_OUT
    return value if isinstance(value, str) and _value(value) == value else json.dumps(value)


def _value(text: str) -> Any:
    if text == TAKEN_OUT:
        return None
    try:
        return json.loads(text)
    except ValueError:
        return text


def with_changes(plan: Plan, asked: Mapping[str, str]) -> Plan:
    """The plan with what an address asks for; words that say no plan are left aside, all of them.

    Examples
    --------
    >>> from energyplan.plan.file import read_plan
    >>> with_changes(read_plan("demo"), {"batch.water": "30 L", "units": "us"}).batch.water_l
    30.0
    >>> with_changes(read_plan("demo"), {"batch.water": "30 m"}) == read_plan("demo")
    True
    """
    wanted = {key: text for key, text in asked.items() if _KEY.fullmatch(key) and len(text) <= LONGEST_CHANGES}
    if not wanted or len(wanted) > MOST_CHANGES:
        return plan
    tables = plan_tables(plan)
    try:
        for key, text in wanted.items():
            _put(tables, key.split("."), _value(text))
        return tables_plan(tables)
    except (EnergyPlanError, LookupError, ValueError, TypeError, RecursionError):
        return plan


def _put(node: Any, path: list[str], value: Any) -> None:
    for key in path[:-1]:
        node = node[int(key)] if isinstance(node, list) else node.setdefault(key, {})
    if not isinstance(node, dict):
        raise TypeError(path)
    if value is None:
        node.pop(path[-1], None)
    else:
        node[path[-1]] = value
