"""Changes to a plan as its file would say them, so that one reader checks them all and names what is wrong."""

import tomllib
from collections.abc import Mapping, Sequence
from copy import deepcopy
from typing import Any

from energyplan.plan.file import parse_plan, plan_to_toml
from energyplan.plan.model import Plan

__all__ = ["entry_of", "plan_tables", "tables_plan", "with_entries", "with_entry"]

Tables = dict[str, Any]


def plan_tables(plan: Plan) -> Tables:
    """The tables of a plan's file.

    >>> from energyplan.plan.file import read_plan
    >>> plan_tables(read_plan("demo"))["vessel"]["diameter"]
    '0.36 m'
    """
    return tomllib.loads(plan_to_toml(plan))


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

    Raises
    ------
    PlanError
        If the plan can't say that; the problems name the entries.
    """
    tables = plan_tables(plan)
    for path, value in changes.items():
        _put(tables, path, value)
    return tables_plan(tables)


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
