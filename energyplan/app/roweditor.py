"""A list of rows to edit: as the browser's table, and one row as entries below each other for narrow screens."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any, Literal

import streamlit as st

from energyplan.app.rows import Column, RowTable

__all__ = ["card", "table_editor"]

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
