"""Addresses: what a link carries of the desk, what it must leave out, and how a desk is laid by one."""

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date, datetime, time
from functools import lru_cache
from typing import Any, TypeVar

from energyplan.app.answers import NO_TARIFF, packaged
from energyplan.app.editing import ALL, entered_after, own_tables, plan_tables, tables_plan
from energyplan.app.state import FIRST_PLAN, FIRST_START, Day, Work, packaged_plans, tomorrow
from energyplan.app.storage import lying_beside, work_kept
from energyplan.base.errors import EnergyPlanError
from energyplan.plan.model import Plan

__all__ = ["asked_for", "changes_between", "first_work", "left_out", "with_changes"]

Moment = TypeVar("Moment", date, time)
WORDS = frozenset({"plan", "tariff", "day", "at", "units", "without"})
FIRST_TARIFF = {"demo": "two_rate", "lakeside": "dear_evening"}

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
    tables = own_tables(plan)
    try:
        for key, text in wanted.items():
            _put(tables, key.split("."), _value(text))
        return tables_plan(tables)
    except (EnergyPlanError, LookupError, ValueError, TypeError, RecursionError):
        return plan


def _put(node: Any, path: list[str], value: Any) -> None:
    for key in path[:-1]:
        if not isinstance(node, dict | list):
            raise TypeError(path)
        node = node[int(key)] if isinstance(node, list) else node.setdefault(key, {})
    if not isinstance(node, dict):
        raise TypeError(path)
    if value is None:
        node.pop(path[-1], None)
    else:
        node[path[-1]] = value


def first_work(kept: Mapping[str, str], asked: Mapping[str, str]) -> tuple[Work, bool]:
    """The desk of somebody who comes in: as it was left, or as an address asks; and whether what was kept was read.

    Somebody's link is laid over what was kept, which one step back brings again, and a day of one's own goes into the
    drawer. A link that left its plan out has nothing to lay: it may be one's own, from a list of addresses.
    """
    try:
        found, is_read = work_kept(kept), True
    except ValueError:
        found, is_read = None, False
    wanted = {key: text for key, text in asked.items() if key in WORDS or _KEY.fullmatch(key)}
    if found is not None:
        found[0].borrowed = tuple(word for word in found[0].borrowed if word in LEFT_OUT)
    if found is not None and (not wanted or wanted == found[1]):
        return found[0], is_read
    missing = tuple(_missing(wanted))
    if found is not None and "plan" in missing:
        found[0].borrowed = missing
        return found[0], is_read
    day = _day_asked_for(wanted)
    if found is not None and _is_same(day, found[0].day):
        return found[0], is_read
    work = Work(
        lying=lying_beside(kept, day), base=day.plan, opened=packaged_plans()[day.file_name],
        units="us" if wanted.get("units") == "us" else "metric",
        borrowed=missing,
    )  # fmt: skip
    if found is not None:
        work.past, work.greeted = [found[0].lying], True
        work.lying = replace(work.lying, drawer=_put_by(found[0]))
    elif day.plan != (given := packaged_plans()[day.file_name]):
        work.past = [replace(work.lying, day=replace(day, plan=given, entered=frozenset()))]
    return work, is_read


def _put_by(mine: Work) -> tuple[tuple[str, Day], ...]:
    """The drawer with the day on the desk, where it is the visitor's own and not there yet."""
    drawer, day = dict(mine.lying.drawer), mine.day
    if (not left_out(mine) and not day.entered) or day in drawer.values():
        return mine.lying.drawer
    name, number = day.plan.title, 1
    while name in drawer:
        number += 1
        name = f"{day.plan.title} ({number})"
    return tuple(sorted({**drawer, name: day}.items()))


def _is_same(asked: Day, mine: Day) -> bool:
    return (asked.plan, asked.tariff, asked.wall) == (mine.plan, mine.tariff, mine.wall)


def _day_asked_for(asked: Mapping[str, str]) -> Day:
    """What an address asks for: packaged things and a few changed entries only, whatever it says."""
    plans = packaged_plans()
    name = asked.get("plan", FIRST_PLAN)
    name = name if name in plans else FIRST_PLAN
    plan = with_changes(plans[name], asked)
    usual = _usual_tariff(name)
    tariff = asked.get("tariff", usual)
    return Day(
        plan=plan,
        tariff=None if tariff == NO_TARIFF else packaged().get(tariff, packaged()[usual]),
        wall=datetime.combine(_moment(date, asked.get("day"), tomorrow()), _moment(time, asked.get("at"), FIRST_START)),
        file_name=name,
        entered=entered_after(frozenset(), plans[name], plan, ALL),
    )


def _usual_tariff(plan: str) -> str:
    return FIRST_TARIFF.get(plan, "two_rate")


def _missing(asked: Mapping[str, str]) -> Iterator[str]:
    """What an address names that does not come with the program, or says that it left out."""
    without = asked.get("without", "").split("-")
    if "plan" in without or asked.get("plan", FIRST_PLAN) not in packaged_plans():
        yield "plan"
    if "prices" in without or asked.get("tariff", NO_TARIFF) not in (NO_TARIFF, *packaged()):
        yield "prices"


def _moment(kind: type[Moment], text: str | None, otherwise: Moment) -> Moment:
    """A day or a time from the address; what can't be read is left aside."""
    try:
        return kind.fromisoformat(text or "")
    except ValueError:
        return otherwise


LEFT_OUT = {"plan": "the plan", "prices": "the prices"}


def left_out(work: Work) -> tuple[str, ...]:
    """What an address can't carry: a plan or prices of the visitor's own."""
    known = packaged_plans().get(work.file_name)
    fits = known is not None and (work.plan == known or bool(changes_between(known, work.plan)))
    tariff = work.tariff
    return (*(() if fits else ("plan",)), *(() if tariff is None or tariff.is_packaged else ("prices",)))


def asked_for(work: Work) -> dict[str, str]:
    """What an address must say for a visitor to find the same plan, tariff, start and units.

    A few changed entries of a packaged plan go along; plans and tariffs of the visitor's own stay with the visitor,
    and the address says that they are left out.
    """
    plan = work.file_name if work.file_name in packaged_plans() else FIRST_PLAN
    usual = {
        "plan": FIRST_PLAN,
        "tariff": _usual_tariff(plan),
        "day": tomorrow().isoformat(),
        "at": f"{FIRST_START:%H:%M}",
        "units": "metric",
        "without": "",
    }
    tariff = NO_TARIFF if work.tariff is None else work.tariff.name if work.tariff.is_packaged else usual["tariff"]
    now = {
        "plan": plan,
        "tariff": tariff,
        "day": work.wall.date().isoformat(),
        "at": f"{work.wall:%H:%M}",
        "units": work.units,
        "without": "-".join(left_out(work)),
    }
    changes = changes_between(packaged_plans()[plan], work.plan) if work.file_name in packaged_plans() else ()
    return {key: value for key, value in now.items() if value != usual[key]} | dict(changes)
