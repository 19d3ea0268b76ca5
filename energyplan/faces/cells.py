"""Cells of a table in words: the same on every face; shown parts add up to the shown total."""

from decimal import Decimal
from fractions import Fraction
from typing import Any

from energyplan.base.kinds import PLAIN, Style, Value, figure, unit_of
from energyplan.base.money import Money, currency_decimals, shown_parts
from energyplan.base.sentence import words
from energyplan.telling.told import Column, Table, cell

__all__ = ["heading", "shown_rows"]

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
        if isinstance(said.raw, Money):
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
