"""Data frames of told tables: raw for programs and charts, or in words for pages."""

from typing import TYPE_CHECKING, Any

from energyplan.base.kinds import PLAIN, Style, Value, raw
from energyplan.base.money import Money
from energyplan.base.sentence import words
from energyplan.faces.cells import heading, shown_rows
from energyplan.telling.told import Column, Table, cell

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["currency_of", "frame", "key_of", "shown_frame"]


def frame(table: Table, style: Style = PLAIN, *, spoken: bool = False) -> "pd.DataFrame":
    """Raw values under the columns' keys, without the total; ``spoken`` writes moments and money in words.

    In US units convertible columns are converted and their key ends in the US unit (``from_c`` becomes ``from_f``).
    """
    import pandas as pd

    columns = {
        key_of(column, style): [_raw(cell(column, row[place]), style, spoken=spoken) for row in table.rows]
        for place, column in enumerate(table.columns)
        if column.key
    }
    return pd.DataFrame(columns)


def shown_frame(table: Table, style: Style = PLAIN, *, detail: int = 1) -> "pd.DataFrame":
    """Cells in words under headings with units, the total last: for a page that shows them as they are."""
    import pandas as pd

    seen = table.at(detail)
    lines, total = shown_rows(seen, style)
    names = [heading(column, style, currency=currency_of(seen)) for column in seen.columns]
    return pd.DataFrame([*lines, *([total] if total else [])], columns=names)


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
