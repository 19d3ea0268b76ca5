"""Tables as CSV: column names end in their unit, and no cell is a formula for a spreadsheet."""

import re
from typing import Any

from energyplan.base.kinds import PLAIN, Style
from energyplan.base.money import ESTIMATE_MARK, Money
from energyplan.faces.cells import shown_rows
from energyplan.faces.frames import currency_of, frame
from energyplan.telling.told import Table

__all__ = ["table_csv"]

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
