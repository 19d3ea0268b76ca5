"""The brewery: what stays the same from brew to brew, in a file that the plans name, and the days brewed in it."""

import re
from collections.abc import Iterator, Mapping
from datetime import date, datetime
from typing import Any

from pydantic import Field, ValidationError, field_validator

from energyplan.base.errors import LogError, Place, Problem
from energyplan.base.tomltext import quoted_text, toml_tables, with_row, with_values
from energyplan.base.units import Energy, Temperature, Volume
from energyplan.plan.values import ClockTime, Name, Table, problems_of

__all__ = ["OF_A_LOSS", "BrewedDay", "Brewery", "brewed_day", "misplaced", "split_toml", "text_alone", "with_shared"]

_OF_A_PLAN = ("uses", "title", "batch", "step")
# Tables of a first plan that stay the same from day to day.
_OF_A_FIRST = re.compile(r"^(?=\[(?:vessel|site|circuit)\]|\[\[vessel\.)", re.MULTILINE)
#: What a measurement of the heat loss says beside it; another loss was not measured so.
OF_A_LOSS = (("vessel", "heat_loss_within"), ("vessel", "measured_at"), ("vessel", "heat_loss_measured"))


class BrewedDay(Table):
    """One brewed day: which plan, when, and what meter, clock and thermometer said.

    ``readings`` are the meter's running total at the end of a step [kWh], by the step's name, or a single ``metered``
    total. What is left out was not noted.
    """

    date: date
    plan: Name
    start: datetime | None = None
    metered_kwh: Energy | None = Field(default=None, alias="metered")
    readings: Mapping[Name, Energy] = {}
    air_c: Temperature | None = Field(default=None, alias="air")
    water_temperature_c: Temperature | None = Field(default=None, alias="water_temperature")
    boil_began_min: ClockTime | None = Field(default=None, alias="boil_began")
    boiled_off_l: Volume | None = Field(default=None, alias="boiled_off")

    @field_validator("start")
    @classmethod
    def _on_the_wall(cls, value: datetime | None) -> datetime | None:
        if value is not None and value.tzinfo is not None:
            raise ValueError("write the local clock without an offset: 2026-11-28T08:30:00")
        return value


def brewed_day(given: Mapping[str, Any]) -> BrewedDay:
    """A brewed day as it was typed, by the keys of its table.

    Raises
    ------
    LogError
        If an entry makes no sense.
    """
    values = {key: value for key, value in given.items() if value}
    try:
        return BrewedDay.model_validate(values)
    except ValidationError as error:
        problem, *_ = problems_of(error.errors()[0], values, BrewedDay)
        raise LogError(f"{problem.where}: {problem.message}") from None


class Brewery(Table):
    """What a brewery's file holds beside tables of a plan: its tariff, and the days brewed so far."""

    tariff: str | None = Field(default=None, min_length=1, max_length=400)
    brewed: tuple[BrewedDay, ...] = Field(default=(), max_length=2000)


def misplaced(shared: Mapping[str, Any], file: str) -> tuple[Problem, ...]:
    """What belongs into a plan and not into a brewery's file, which is named."""
    message = "belongs into the plan that uses this file"
    return tuple(
        Problem(where=_table(key, shared[key]), message=message, file=file) for key in _OF_A_PLAN if key in shared
    )


def _table(key: str, value: Any) -> Place:
    if isinstance(value, list):
        return Place(key, row="")
    return Place(key) if isinstance(value, Mapping) else Place("", key)


def with_shared(own: Mapping[str, Any], shared: Mapping[str, Any]) -> dict[str, Any]:
    """A plan's tables with those of its brewery: merged key by key, the plan's value wins, a list is one value.

    Of the brewery's second heater and tasks the day has only what it has the water, or the step, for; how well its heat
    loss is known is not said of another one.

    Examples
    --------
    >>> with_shared({"site": {"air": "9 degC"}}, {"site": {"air": "18 degC", "humidity": 0.6}})
    {'site': {'air': '9 degC', 'humidity': 0.6}}
    """
    of_the_day = {key: value for key, value in shared.items() if key not in _OF_A_PLAN}
    batch = own.get("batch")
    if "second_heater" not in own and isinstance(batch, Mapping) and "sparge_water" not in batch:
        of_the_day.pop("second_heater", None)
    mine, its = own.get("vessel"), shared.get("vessel")
    if isinstance(mine, Mapping) and isinstance(its, Mapping) and "heat_loss" in mine:
        of_the_day["vessel"] = {key: value for key, value in its.items() if ("vessel", key) not in OF_A_LOSS}
    if isinstance(tasks := of_the_day.get("task"), list):
        steps = {step.get("name") for step in _rows(own.get("step"))}
        of_the_day["task"] = [task for task in tasks if not isinstance(task, Mapping) or task.get("at_step") in steps]
    return _merged(own, of_the_day)


def _rows(given: Any) -> list[Mapping[str, Any]]:
    return [row for row in given if isinstance(row, Mapping)] if isinstance(given, list) else []


def _merged(own: Mapping[str, Any], shared: Mapping[str, Any]) -> dict[str, Any]:
    found = dict(own)
    for key, value in shared.items():
        if key not in found:
            found[key] = value
        elif isinstance(found[key], Mapping) and isinstance(value, Mapping):
            found[key] = _merged(found[key], value)
    return found


def split_toml(text: str, used: str) -> tuple[str, str]:
    r"""A first plan's text as two: vessel, place and circuit, and the day that uses them by the name of their file.

    Examples
    --------
    >>> shared, own = split_toml('title = "A day"\n[site]\nair = "9 degC"\n[batch]\nwater = "20 L"', "garage.toml")
    >>> "[site]" in shared, own.splitlines()
    (True, ['uses = "garage.toml"', 'title = "A day"', '[batch]', 'water = "20 L"'])
    """
    head, *parts = re.split(r"^(?=\[)", text, flags=re.MULTILINE)
    shared = "".join(part for part in parts if _OF_A_FIRST.match(part))
    own = "".join(part for part in parts if not _OF_A_FIRST.match(part))
    remark = "# The brewery: what stays the same from day to day."
    return f"{remark}\n\n{shared}", f"uses = {quoted_text(used)}\n{head}{own}"


def text_alone(own: str, shared: str) -> str:
    """A plan's text with all that its brewery holds in it, so that it needs no other file; comments stay."""
    mine, theirs = toml_tables(own), toml_tables(shared)
    merged = with_shared(mine, {key: value for key, value in theirs.items() if key != "schema"})
    further = {at: value for at, value in _missing(mine, merged) if len(at) > 1}
    text = with_values(own, {("uses",): None} | further)
    rest = with_values(shared, {(key,): None for key in theirs if key in mine or merged.get(key) != theirs[key]})
    text = _spliced(text, rest)
    for row in merged.get("task", ()) if "task" not in mine and merged.get("task") != theirs.get("task") else ():
        text = with_row(text, "task", row)
    return text


_ORDER = ("vessel", "batch", "second_heater", "site", "circuit")  # then as they stand: loads, steps, tasks


def _spliced(own: str, tables: str) -> str:
    """Two texts as one, the tables in the order in which plans have them."""
    (own_head, *own_parts), (head, *parts) = (re.split(r"^(?=[ \t]*\[)", text, flags=re.M) for text in (own, tables))
    ordered = sorted([*parts, *own_parts], key=_place)
    spliced = "\n\n".join(part.strip("\n") for part in (own_head, head, *ordered) if part.strip()) + "\n"
    wanted = toml_tables(own) | toml_tables(tables)
    return spliced if toml_tables(spliced) == wanted else "\n\n".join((head.rstrip(), own.strip("\n"), *parts))


def _place(part: str) -> int:
    root = part.strip().lstrip("[").partition("]")[0].partition(".")[0]
    return _ORDER.index(root) if root in _ORDER else len(_ORDER) + (root == "step")


def _missing(mine: Mapping[str, Any], merged: Mapping[str, Any], at: tuple[str, ...] = ()) -> Iterator[tuple[Any, Any]]:
    for key, value in merged.items():
        if key not in mine:
            yield (*at, key), value
        elif isinstance(value, Mapping) and isinstance(mine[key], Mapping):
            yield from _missing(mine[key], value, (*at, key))
