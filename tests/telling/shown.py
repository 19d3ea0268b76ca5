"""A table as people see it, in words and under headings with units."""

from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pandas as pd

from energyplan.base.kinds import PLAIN, Style
from energyplan.faces.frames import currency_of, heading, shown_rows
from energyplan.telling.told import Table, Told


def _at(table: Table, detail: int) -> Table:
    """What a face of a detail shows of it; there are three."""
    assert {column.detail for column in table.columns} <= {0, 1, 2}, "no face knows another detail"
    return table.at(detail)


def shown_frame(table: Table, style: Style = PLAIN, *, detail: int = 1) -> pd.DataFrame:
    """Its cells as a terminal writes them, the total last."""
    seen = _at(table, detail)
    lines, total = shown_rows(seen, style)
    names = [heading(column, style, currency=currency_of(seen)) for column in seen.columns]
    return pd.DataFrame([*lines, *([total] if total else [])], columns=names)


def headings(table: Table, detail: int, style: Style = PLAIN, *, short: bool = False) -> list[str]:
    """The headings that a face of this detail shows; ``short`` where there is little room."""
    seen = _at(table, detail)
    return [heading(column, style, short=short, currency=currency_of(seen)) for column in seen.columns]


def seen_rows(table: Table, style: Style = PLAIN, *, detail: int = 0) -> list[list[str]]:
    """The rows that a face of this detail shows, the total last."""
    lines, total = shown_rows(_at(table, detail), style)
    return [*lines, *([total] if total else [])]


class Given:
    """A stand-in for a result: it has the fields that a telling reads, and nothing else."""

    def __init__(self, **fields: Any) -> None:
        self.__dict__.update(fields)

    def but(self, **fields: Any) -> "Given":
        """The same with other fields."""
        return type(self)(**{**self.__dict__, **fields})


class Begun(Given):
    """An answer whose day begins at 08:30 in Dublin on a Saturday in winter."""

    zone = "Europe/Dublin"
    start = datetime(2026, 12, 5, 8, 30, tzinfo=UTC)

    def clock(self, time_s: float) -> datetime:
        """A moment of the day on the local clock."""
        return (self.start + timedelta(seconds=time_s)).astimezone(ZoneInfo(self.zone))


def titles(told: Told) -> list[str]:
    """Its heading, those of its tables, those of its parts: what a page and a reader aloud say of each."""
    return [str(told.title), *(table.title for table in told.tables), *(str(part.title) for part in told.parts)]
