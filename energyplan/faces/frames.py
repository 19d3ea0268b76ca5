"""Told tables as data: cells in words, data frames, CSV, and the one JSON document."""

import re
from collections.abc import Iterator, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING, Any, TypeAlias

from energyplan.base.constants import VERSION
from energyplan.base.kinds import PLAIN, Style, Value, figure, raw, unit_of
from energyplan.base.money import ESTIMATE_MARK, Money, currency_decimals, shown_parts
from energyplan.base.sentence import Listed, Sentence, Span, words
from energyplan.telling.told import Column, Found, Table, Told, cell

if TYPE_CHECKING:
    import pandas as pd

__all__ = [
    "SCHEMA",
    "currency_of",
    "document",
    "frame",
    "heading",
    "key_of",
    "part_document",
    "raw_rows",
    "rows",
    "shown_rows",
    "table_csv",
]

Rows: TypeAlias = list[dict[str, Any]]


_NEAR = 1e-6  # kWh by which rows may miss their total and still be its parts


def heading(column: Column, style: Style = PLAIN, *, short: bool = False, currency: str = "") -> str:
    """A column's heading with its unit.

    >>> from energyplan.base.kinds import CELSIUS, Style
    >>> begin = Column("from_c", "From", CELSIUS, short="")
    >>> heading(begin), heading(begin, Style("us"), short=True)
    ('From, °C', '°F')
    """
    unit = currency if column.kind.key == "money" else unit_of(column.kind, style)
    if short and column.short is not None:
        return column.short or unit
    return f"{column.heading}, {unit}" if unit and column.heading else column.heading or unit


def shown_rows(table: Table, style: Style = PLAIN) -> tuple[list[list[str]], list[str] | None]:
    """Rows and total as text; parts of money and energy are rounded so that they add up to their shown total."""
    columns = [_column(table, place, style) for place in range(len(table.columns))]
    lines = [list(line) for line in zip(*columns, strict=True)] if columns else []
    return (lines[:-1], lines[-1]) if table.total else (lines, None)


def _column(table: Table, place: int, style: Style) -> list[str]:
    column = table.columns[place]
    given = [row[place] for row in (*table.rows, *([table.total] if table.total else []))]
    parts = _parts(column, given[:-1], given[-1]) if table.total else None
    if parts is not None:
        return [*parts, _text(column, given[-1], style)]
    return [_text(column, one, style) for one in given]


def _text(column: Column, given: Any, style: Style) -> str:
    said = cell(column, given)
    if said is None:
        return ""
    if isinstance(said, Value):
        if isinstance(said.raw, Money) and column.kind.key == "money":
            return figure(said, style).rpartition(" ")[0]
        if said.kind.key == "minutes" and said.kind is column.kind:
            return "<1" if 0 < float(said.raw) < 0.5 else f"{float(said.raw):.0f}".replace("-0", "0")
        return figure(said, style) if said.kind is column.kind else words(said, style)
    return words(said, style)


def _parts(column: Column, given: list[Any], total: Any) -> list[str] | None:
    """Parts rounded together; None where the column is not a sum."""
    if isinstance(total, Money):
        exact, digits = [one.exact for one in given if isinstance(one, Money)], currency_decimals(total.currency)
    elif column.kind.key == "energy" and isinstance(total, float | int):
        exact, digits = [Fraction(float(one)) for one in given if one is not None], column.kind.metric.digits
        if abs(sum(exact) - Fraction(total)) > _NEAR:
            return None
    else:
        return None
    shown = iter(shown_parts(exact, digits))
    mark = total.mark if isinstance(total, Money) else ""
    return ["" if one is None else f"{mark}{_signed(next(shown), column)}" for one in given]


def _signed(part: Decimal, column: Column) -> str:
    return f"{part:+f}" if column.signed and part else f"{part or abs(part):f}"


def frame(table: Table, style: Style = PLAIN, *, spoken: bool = False) -> "pd.DataFrame":
    """Raw values under the columns' keys, without the total; ``spoken`` writes moments and money in words.

    In US units convertible columns are converted and their key ends in the US unit (``from_c`` becomes ``from_f``).
    """
    import pandas as pd

    return pd.DataFrame(_raw_columns(table, style, spoken=spoken))


def raw_rows(table: Table, style: Style = PLAIN, *, spoken: bool = False) -> Rows:
    """The same, row by row, for a chart."""
    columns = _raw_columns(table, style, spoken=spoken)
    return [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]


def _raw_columns(table: Table, style: Style, *, spoken: bool) -> dict[str, list[Any]]:
    return {
        key_of(column, style): [_raw(cell(column, row[place]), style, spoken=spoken) for row in table.rows]
        for place, column in enumerate(table.columns)
        if column.key
    }


def currency_of(table: Table) -> str:
    """Currency of the money in a table; "" without any."""
    cells = [one for row in (*table.rows, *([table.total] if table.total else [])) for one in row]
    return next((one.currency for one in cells if isinstance(one, Money)), "")


def key_of(column: Column, style: Style = PLAIN) -> str:
    """Key of a column: in US units it ends in the US unit."""
    metric, us = column.kind.metric, column.kind.us
    if style.units == "metric" or metric is us or not column.key.endswith(f"_{metric.suffix}"):
        return column.key
    return f"{column.key.removesuffix(metric.suffix)}{us.suffix}"


def _raw(said: Any, style: Style, *, spoken: bool) -> Any:
    if isinstance(said, Value) and not (spoken and said.kind.special):
        shown = said.kind.us
        if style.units == "us" and shown is not said.kind.metric:
            return float(said.raw) * shown.factor + shown.offset
        return raw(said)
    return None if said is None else words(said, style)


# What a spreadsheet takes for a formula at the start of a cell (OWASP, "CSV Injection"). Where it separates cells by
# semicolons or tabs, one also starts inside of ours.
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


_INNER_START = re.compile(r"[;\t|]\s*(?=[=+\-@＝＋－＠])")


DECIMALS = 4


def table_csv(table: Table, style: Style = PLAIN) -> bytes:
    """A table as CSV (RFC 4180, UTF-8), without its total, which a sum would count twice; formulas are defused.

    Numbers are those of the unit system, money as it is shown: its parts add up to the shown total. A column of guessed
    prices says so in its name.
    """
    import pandas as pd

    found = frame(table, style).round(DECIMALS)
    if currency := currency_of(table):
        lines, _ = shown_rows(table, style)
        place = [column.key for column in table.columns].index("cost")
        guessed = any(isinstance(row[place], Money) and row[place].is_estimate for row in table.rows)
        shown = [line[place].removeprefix(ESTIMATE_MARK) for line in lines]
        found["cost"] = pd.to_numeric(pd.Series(shown, dtype=object).replace("", None))
        found = found.rename(columns={"cost": f"cost_{'estimate_' if guessed else ''}{currency.lower()}"})
    return str(found.map(_defused).to_csv(index=False, lineterminator="\r\n")).encode()


def _defused(cell: Any) -> Any:
    """A text that a spreadsheet would run, with an apostrophe before it; anything else as it is."""
    if not isinstance(cell, str):
        return cell
    inside = _INNER_START.sub(r"\g<0>'", cell)
    return f"'{inside}" if cell.lstrip().startswith(_FORMULA_STARTS) else inside


SCHEMA = 2


def document(told: Told) -> dict[str, Any]:
    """One document: version, facts, tables, findings, and what is said in words.

    >>> from energyplan.base.kinds import KWH
    >>> found = document(Told(key="day", title="The day", facts={"energy_kwh": KWH(7.6661)}))
    >>> found["schema"], found["energy_kwh"]
    (2, 7.6661)
    """
    money = next(_currencies(told), None)
    return {"energyplan": VERSION, "schema": SCHEMA, **({"currency": money} if money else {}), **part_document(told)}


def _currencies(said: Any) -> Iterator[str]:
    """Currencies of all money in what is told, wherever it stands."""
    match said:
        case Money():
            yield said.currency
        case Value():
            yield from _currencies(said.raw)
        case Told():
            yield from _currencies((said.facts, said.tables, said.parts))
        case Table():
            yield from _currencies(said.rows)
        case Mapping():
            yield from _currencies(tuple(said.values()))
        case tuple() | list():
            for one in said:
                yield from _currencies(one)


def part_document(told: Told) -> dict[str, Any]:
    """A topic without the version: what stands inside a larger document."""
    found: dict[str, Any] = {key: _plain(value) for key, value in told.facts.items()}
    found |= {table.key: rows(table) for table in told.tables}
    if told.findings:
        found["findings"] = [_found(one) for one in told.findings]
    said = [*([told.headline] if told.headline else []), *told.sentences, *told.cautions]
    if said:
        found["said"] = [words(one) for one in said]
    for part in told.parts:
        found[part.key] = part_document(part)
    return found


def rows(table: Table) -> list[dict[str, Any]]:
    """The rows of a table; its total is a fact, not a row."""
    return [
        {column.key: _plain(cell(column, one)) for column, one in zip(table.columns, row, strict=True) if column.key}
        for row in table.rows
    ]


def _found(found: Found) -> dict[str, Any]:
    return {
        "code": found.code,
        "severity": found.severity,
        "message": words(found.said, PLAIN),
        "mend": words(found.mend) if found.mend else None,
        "rule": found.rule,
        "margin_frac": found.margin_frac,
    }


def _plain(value: Any) -> Any:
    if isinstance(value, Value):
        return raw(value)
    if isinstance(value, Span):
        return [raw(value.kind(value.low)), raw(value.kind(value.high))]
    if isinstance(value, Sentence | Listed):
        return words(value)
    return rows(value) if isinstance(value, Table) else _nested(value)


def _nested(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _plain(inner) for key, inner in value.items()}
    return [_plain(inner) for inner in value] if isinstance(value, tuple | list) else value
