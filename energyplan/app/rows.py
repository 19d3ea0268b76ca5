"""Lists of the plan as tables to edit: steps, elements, other loads. Cells are texts with their unit, as in the file.

The editor of the browser sends what was changed against the rows it was given, so cells that nobody touched keep
their exact values, whatever units they are shown in.
"""

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Literal

import streamlit as st

from energyplan.app.entries import (
    AREA,
    CELSIUS,
    KG,
    LITRES,
    MINUTES,
    VOLTS,
    WATTS,
    Writing,
    shown_unit,
    with_unit,
    written,
)
from energyplan.base.errors import Place, PlanError, Problem, UnitsError
from energyplan.base.records import dataclass
from energyplan.base.units import UnitSystem

__all__ = [
    "ELEMENTS",
    "LOADS",
    "STEPS",
    "Column",
    "RowTable",
    "card",
    "cells",
    "edited",
    "edited_so_far",
    "moved",
    "table_editor",
]

Row = dict[str, Any]


TARGET_BOIL = "boil"


@dataclass(frozen=True, slots=True)
class Column:
    """One column: the key in the file, words, and how its cells are written and read."""

    key: str
    label: str
    hint: str = ""
    writing: Writing | None = None
    options: tuple[str, ...] = ()
    wide: bool = False
    write: Callable[[Row, UnitSystem], str | None] | None = None
    read: Callable[[Row, str], None] | None = None


@dataclass(frozen=True, slots=True)
class RowTable:
    """A list of tables of the plan file."""

    path: tuple[str, ...]
    columns: tuple[Column, ...]
    new: str


def cells(rows: Sequence[Row], table: RowTable, system: UnitSystem) -> list[dict[str, str | None]]:
    """Rows of the file as texts to show."""
    return [{column.key: _shown(row, column, system) for column in table.columns} for row in rows]


def _told(text: str, how: Writing, system: UnitSystem) -> str:
    """A quantity in the units of the display; one that can't be read yet, as it was typed."""
    try:
        return written(text, how, system)
    except UnitsError:
        return text


def _shown(row: Row, column: Column, system: UnitSystem) -> str | None:
    if column.write is not None:
        return column.write(row, system)
    value = row.get(column.key)
    if value is None:
        return None
    if isinstance(value, bool):
        return "yes" if value else "no"
    return _told(value, column.writing, system) if column.writing else str(value)


def edited(rows: Sequence[Row], table: RowTable, change: Mapping[str, Any], system: UnitSystem = "metric") -> list[Row]:
    """Rows after what the editor of the browser says was changed; a bare number takes the unit of its column.

    Parameters
    ----------
    rows : sequence of dict
        The rows that the editor was given.
    table : RowTable
        What they are.
    change : mapping
        ``edited_rows`` by place, ``added_rows``, ``deleted_rows``.
    system : str
        Units in which the rows were shown.

    Raises
    ------
    PlanError
        If a cell can't be read at all.
    """
    after, error = edited_so_far(rows, table, change, system)
    if error is not None:
        raise error
    return after


def edited_so_far(
    rows: Sequence[Row], table: RowTable, change: Mapping[str, Any], system: UnitSystem
) -> tuple[list[Row], PlanError | None]:
    """The same, cells that can't be read left as they were, and what is wrong with them."""
    problems: list[Problem] = []

    def put(row: Row, texts: Mapping[str, object]) -> Row:
        for key, text in texts.items():
            changed = dict(row)
            try:
                _set(changed, table, key, _entry(table, key, text, system))
                row = changed
            except PlanError as error:
                problems.extend(error.problems)
        return row

    after = [dict(row) for row in rows]
    for place, texts in change.get("edited_rows", {}).items():
        after[int(place)] = put(after[int(place)], texts)
    gone = {int(place) for place in change.get("deleted_rows", ())}
    kept = [row for place, row in enumerate(after) if place not in gone]
    for texts in change.get("added_rows", ()):
        if row := put({}, texts):
            kept.append({**({"name": f"{table.new} {len(kept) + 1}"} if table.new else {}), **row})
    return kept, PlanError("cells that can't be read", tuple(problems)) if problems else None


def _entry(table: RowTable, key: str, text: object, system: UnitSystem) -> str:
    """What was typed into a cell, with the unit of its column where it is a bare number."""
    writing = next((column.writing for column in table.columns if column.key == key), None)
    said = "" if text is None else str(text).strip()
    return (with_unit(said, shown_unit(writing, system)) or "") if writing else said


def _set(row: Row, table: RowTable, key: str, said: str) -> None:
    column = next((column for column in table.columns if column.key == key), None)
    if column is None:
        return
    if column.read is not None:
        column.read(row, said)
    elif not said:
        row.pop(key, None)
    elif set(column.options) == {"yes", "no"}:
        row[key] = said == "yes"
    else:
        row[key] = said


def moved(rows: Sequence[Row], place: int, by: int) -> list[Row]:
    """Rows with one of them moved up or down; at the ends it stays.

    >>> moved([{"name": "a"}, {"name": "b"}], 0, 1)
    [{'name': 'b'}, {'name': 'a'}]
    """
    after = list(rows)
    target = min(max(place + by, 0), len(after) - 1)
    after.insert(target, after.pop(place))
    return after


def _write_target(row: Row, system: UnitSystem) -> str | None:
    if row.get("boil"):
        return TARGET_BOIL
    return _told(row["target"], CELSIUS, system) if "target" in row else None


def _read_target(row: Row, text: str) -> None:
    row.pop("target", None)
    row.pop("boil", None)
    if text.lower() == TARGET_BOIL:
        row["boil"] = True
    elif text:
        row["target"] = text


def _write_before(row: Row, system: UnitSystem) -> str | None:
    return "; ".join(_action(text, system) for text in row.get("before", ())) or None


def _action(text: str, system: UnitSystem) -> str:
    if grain := re.fullmatch(r"add grain: (.+)", text):
        return f"add grain: {_told(grain[1], KG, system)}"
    match = re.fullmatch(r"add water: (.+?) at (.+)", text)
    if match is None:
        return text
    return f"add water: {_told(match[1], LITRES, system)} at {_told(match[2], CELSIUS, system)}"


def _read_before(row: Row, text: str) -> None:
    actions = [part.strip() for part in text.split(";") if part.strip()]
    row.pop("before", None)
    if actions:
        row["before"] = actions


def _write_additions(row: Row, system: UnitSystem) -> str | None:
    return "; ".join(_addition(one, system) for one in row.get("addition", ())) or None


def _addition(one: Row, system: UnitSystem) -> str:
    """An addition in a line: what, in brackets what it weighs and is, and the boil time left."""
    warm = f", {_told(one['temperature'], CELSIUS, system)}" if "temperature" in one else ""
    weighs = f" ({_told(one['mass'], KG, system)} {one['kind']}{warm})" if "mass" in one and "kind" in one else ""
    return f"{one['name']}{weighs} at {_told(one['left'], MINUTES, system)}"


_WEIGHED = re.compile(r"(.+) \((.+?) (extract|sugar|water)(?:, (.+))?\)")


def _what(name: str) -> Row:
    """What goes in, read from its line."""
    if (weighed := _WEIGHED.fullmatch(name)) is None:
        return {"name": name}
    found = {"name": weighed[1], "mass": weighed[2], "kind": weighed[3]}
    return found | ({"temperature": weighed[4]} if weighed[4] else {})


def _read_additions(row: Row, text: str) -> None:
    row.pop("addition", None)
    found = []
    for part in (part.strip() for part in text.split(";")):
        if not part:
            continue
        name, at, left = part.rpartition(" at ")
        if not at:
            problem = Problem(
                where=Place("step", "addition", str(row.get("name", ""))), value=f'"{part}"',
                message='write what, and the boil time left: "Bittering hops at 60 min"',
            )  # fmt: skip
            raise PlanError("one thing to mend", (problem,))
        found.append({**_what(name.strip()), "left": with_unit(left, shown_unit(MINUTES, "metric")) or ""})
    if found:
        row["addition"] = found


def _write_duty(row: Row, _system: UnitSystem) -> str | None:
    return None if "duty" not in row else f"{row['duty']:g}"


_DUTY = re.compile(r"(\d{1,9}(?:[.,]\d{1,9})?)( ?%)?")


def _read_duty(row: Row, text: str) -> None:
    """A share between 0 and 1, or in percent."""
    row.pop("duty", None)
    if not text:
        return
    found = _DUTY.fullmatch(text)
    share = float(found[1].replace(",", ".")) / (100 if found[2] else 1) if found else -1.0
    if not 0 <= share <= 1:
        problem = Problem(
            where=Place("other_load", "duty", str(row.get("name", ""))), value=f'"{text}"',
            message="write a share between 0 and 1, such as 0.4, or in percent: 40 %",
        )  # fmt: skip
        raise PlanError("one thing to mend", (problem,))
    row["duty"] = share


STEPS = RowTable(
    ("step",),
    (
        Column("name", "Step", "Each its own name", wide=True),
        Column("before", "Before it", "add grain; add grain: 2 kg; remove grain; add sparge water; empty;"
               " add water: 12 L at 12 °C",
               wide=True, write=_write_before, read=_read_before),
        Column("pause", "Pause", "Elements off, before the heating; 5 to 20 min (common practice)", MINUTES),
        Column("chill_to", "Chill to", "Chilled from outside, after the pause; with the time it takes", CELSIUS),
        Column("chill_time", "Chilling takes", "20 to 40 min (common practice)", MINUTES),
        Column("target", "Target", 'A temperature, or "boil"; mash rests 62 to 72 °C, 144 to 162 °F (common practice)',
               CELSIUS, write=_write_target, read=_read_target),
        Column("ramp_power", "Ramp cap", "Power while heating; empty: all elements", WATTS),
        Column("hold", "Hold", "How long; a mash rest 30 to 90 min, a boil 60 to 90 min (common practice)", MINUTES),
        Column("hold_power", "Hold cap",
               "Power while holding, 300 to 800 W in a mash (common practice); empty: all elements", WATTS),
        Column("lid", "Lid", "Empty: on, for a boil off", options=("on", "ajar", "off")),
        Column("pump", "Pump", "Empty: runs unless it boils", options=("yes", "no")),
        Column("addition", "Into the boil", "Bittering hops at 60 min; Candy sugar (0.4 kg sugar) at 10 min",
               wide=True, write=_write_additions, read=_read_additions),
    ),
    "Step",
)  # fmt: skip


ELEMENTS = RowTable(
    ("vessel", "element"),
    (
        Column("power", "Power", "On the plate under the base; 800 to 3500 W each (common practice)", WATTS),
        Column("voltage", "At", "The voltage on the same plate", VOLTS),
        Column("surface", "Surface", "For the surface loading; may stay empty", AREA),
    ),
    "",
)


LOADS = RowTable(
    ("other_load",),
    (
        Column("name", "What", "Whatever else hangs on the circuit", wide=True),
        Column("power", "Power", "On its plate", WATTS),
        Column("duty", "Share of the time", "The check takes it as on; the share is for its mean",
               write=_write_duty, read=_read_duty),
        Column("from", "From", "Local clock, 17:30"),
        Column("to", "To", "Local clock, 19:00"),
    ),
    "Load",
)  # fmt: skip


Cells = Mapping[str, str | None]


def table_editor(
    shown: Sequence[Cells], table: RowTable, *, title: str, key: str, take: Callable[[RowTable, str], None]
) -> None:
    """Show a table to edit; ``take`` is called with the table and the key when a cell is left.

    What the browser sends is never handed back to it: ``shown`` must stay the same as long as the key does.
    """
    import pandas as pd

    st.markdown(f"**{title}**")
    frame = pd.DataFrame(shown, columns=[column.key for column in table.columns], dtype=object)
    st.data_editor(
        frame, num_rows="dynamic", hide_index=True, column_config={one.key: _column(one) for one in table.columns},
        key=key, width="stretch", height="content", on_change=take, args=(table, key), placeholder="", alt=title,
    )  # fmt: skip


def _column(column: Column) -> Any:
    """A column of texts, or of a few words to choose from; its limits hold in the browser only."""
    width: Literal["medium"] | None = "medium" if column.wide else None
    words = column.hint or None
    if column.options:
        return st.column_config.SelectboxColumn(column.label, options=list(column.options), help=words, width=width)
    return st.column_config.TextColumn(column.label, help=words, max_chars=400, width=width)


def card(row: Cells, table: RowTable, *, key: Callable[[str], str], take: Callable[[str, str], None]) -> None:
    """Show the entries of one row, three beside each other; ``take`` is called with a column's key and the widget's."""
    for first in range(0, len(table.columns), 3):
        for spot, column in zip(st.columns(3), table.columns[first : first + 3], strict=False):
            own = key(column.key)
            hand_in: dict[str, Any] = {
                "key": own, "help": column.hint or None, "on_change": take, "args": (column.key, own)
            }  # fmt: skip
            if column.options:
                options: list[str | None] = [None, *column.options]
                start = options.index(row[column.key]) if row[column.key] in options else 0
                spot.selectbox(column.label, options, start, format_func=lambda option: option or "as usual", **hand_in)
            else:
                spot.text_input(column.label, row[column.key] or "", **hand_in)
