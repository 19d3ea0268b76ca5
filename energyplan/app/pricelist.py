"""A list of prices as somebody hands it in: its columns, and what they most likely are."""

import csv
import io
from collections.abc import Sequence
from datetime import datetime
from itertools import islice
from typing import Any

from energyplan.base.errors import FileError
from energyplan.base.records import dataclass

__all__ = ["STEPS_MIN", "ListLook", "guessed", "looked_at"]

STEPS_MIN = (15, 30, 60)
SHOWN_ROWS = 3
MOST_COLUMNS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class ListLook:
    """Head of a list: the names of its columns and its first rows."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    def column(self, name: str) -> tuple[str, ...]:
        """First cells of a column."""
        place = self.columns.index(name)
        return tuple(row[place] for row in self.rows if place < len(row))


def looked_at(text: str) -> ListLook:
    r"""Read the head of a list.

    Raises
    ------
    FileError
        If it has no two columns, or no row.

    Examples
    --------
    >>> looked_at("start;price\n2026-12-05T00:00;12,5\n").column("price")
    ('12,5',)
    """
    header = text.split("\n", 1)[0]
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=max(";\t,", key=header.count))
    try:
        names = tuple(name.strip() for name in next(reader, []))
        rows = tuple(tuple(cell.strip() for cell in row) for row in islice(reader, SHOWN_ROWS))
    except csv.Error as error:
        raise FileError(f"not valid CSV ({error}); close every quote") from None
    if not 2 <= len(names) <= MOST_COLUMNS or len(set(names)) < len(names):
        raise FileError(
            f"the first line has {len(names)} columns; expected names of columns, each once, such as start,price"
        )
    if not rows:
        raise FileError("no rows under the names of the columns; expected a time and a price in each")
    return ListLook(columns=names, rows=rows)


def guessed(look: ListLook) -> dict[str, Any]:
    r"""What the columns most likely are, for the table ``[tariff.prices]``; the visitor may say otherwise.

    Examples
    --------
    >>> guessed(looked_at("when,ct\n2026-12-05T00:00+01:00,12\n2026-12-05T00:30+01:00,13\n"))["step_minutes"]
    30
    """
    stamps = [name for name in look.columns if _moments(look.column(name))]
    time_column = stamps[0] if stamps else look.columns[0]
    numbers = [name for name in look.columns if name not in stamps and _are_numbers(look.column(name))]
    others = [name for name in look.columns if name != time_column]
    return {
        "time_column": time_column,
        "price_column": (numbers or others)[0],
        "stamp": "start",
        "clock": _clock(look.column(time_column)),
        "step_minutes": _step(_moments(look.column(time_column))),
    }


def _moments(cells: Sequence[str]) -> list[datetime]:
    try:
        return [datetime.fromisoformat(cell) for cell in cells if len(cell) >= len("2026-12-05")]
    except ValueError:
        return []


def _are_numbers(cells: Sequence[str]) -> bool:
    try:
        return bool([float(cell.replace(",", ".")) for cell in cells])
    except ValueError:
        return False


def _clock(cells: Sequence[str]) -> str:
    """Which clock the stamps follow: with an offset their own, with a Z UTC, else the local one."""
    if all(cell.endswith(("Z", "z", "+00:00")) for cell in cells):
        return "utc"
    moments = _moments(cells)
    return "offset in file" if moments and all(moment.tzinfo for moment in moments) else "local"


def _step(moments: Sequence[datetime]) -> int:
    if len(moments) > 1 and (moments[0].tzinfo is None) == (moments[1].tzinfo is None):
        minutes = abs((moments[1] - moments[0]).total_seconds()) / 60
        if minutes in STEPS_MIN:
            return int(minutes)
    return STEPS_MIN[-1]
