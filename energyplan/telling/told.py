"""What a telling is: plain data that any face can show.

``Told`` is a result in words and rows. A face formats it; it decides nothing. What the terminal leaves out for want
of room (``Column.detail``) stands in JSON and in data frames all the same.
"""

from collections.abc import Iterator, Mapping
from dataclasses import field
from fractions import Fraction
from typing import Any, Literal

from energyplan.base.kinds import Kind, Value, counted
from energyplan.base.money import Money
from energyplan.base.records import dataclass
from energyplan.base.sentence import NOTHING, SAYABLE, Sayable, Sentence

__all__ = ["Column", "Facts", "Found", "Severity", "Table", "Told", "cell", "from_days"]

Severity = Literal["over", "unknown", "note", "ok"]
Facts = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its key for machines (ending in its unit), its heading for people, the kind of its cells.

    Parameters
    ----------
    key : str
        As in JSON and data frames, SI: ``energy_kwh``. Without a key it is for people only: what machines read
        elsewhere, put into words.
    heading : str
        In words, without unit; faces add the unit of the kind.
    kind : Kind
        What every cell is, unless the cell is a `Value` or `Sentence` of its own.
    short : str, optional
        Heading where there is no room; "" shows the unit alone.
    detail : int
        0: shown everywhere. 1: where there is room (app, sheets, ``--all``). 2: for machines only.
    signed : bool
        Whether more is written with a plus.
    """

    key: str
    heading: str
    kind: Kind
    short: str | None = None
    detail: int = 0
    signed: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of raw cells under typed columns; ``total`` is the row that sums them.

    A cell is None (left blank), a raw value of the column's kind, or a `Value`, `Span` or `Sentence` of its own.

    Raises
    ------
    ValueError
        If a row has not as many cells as there are columns, or money does not add up to the total.
    """

    key: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Any, ...], ...]
    total: tuple[Any, ...] | None = None

    def __post_init__(self) -> None:
        for row in (*self.rows, *([self.total] if self.total else [])):
            if len(row) != len(self.columns):
                raise ValueError(f"table {self.key}: {len(row)} cells under {len(self.columns)} columns: {row!r}")
        for place, column in enumerate(self.columns):
            if self.total and column.kind.key == "money" and isinstance(self.total[place], Money):
                parts = [row[place].exact for row in self.rows if isinstance(row[place], Money)]
                if parts and sum(parts, Fraction(0)) != self.total[place].exact:
                    raise ValueError(f"table {self.key}: {column.key} does not add up to its total")

    def __iter__(self) -> Iterator[dict[str, Any]]:
        """The rows as mappings from column keys to raw cells, without the total."""
        keys = [column.key for column in self.columns]
        return (dict(zip(keys, row, strict=True)) for row in self.rows)

    def at(self, detail: int) -> "Table":
        """The table with the columns that a face of this detail shows: none that is blank throughout."""
        lines = (*self.rows, *([self.total] if self.total else []))
        filled = [any(line[place] is not None for line in lines) for place in range(len(self.columns))]
        places = [
            place
            for place, column in enumerate(self.columns)
            if column.detail <= detail and (filled[place] or not lines)
        ]
        return Table(
            self.key,
            self.title,
            tuple(self.columns[place] for place in places),
            tuple(tuple(row[place] for place in places) for row in self.rows),
            tuple(self.total[place] for place in places) if self.total else None,
        )


def cell(column: Column, given: Any) -> Sayable | None:
    """What stands in a cell, with its kind; None where it is blank."""
    if given is None or isinstance(given, SAYABLE):
        return given
    return Value(column.kind, given, column.signed)


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A finding in words: how bad, what, how to mend it, and the rule behind it."""

    code: str
    severity: Severity
    said: Sentence
    mend: Sentence | None = None
    rule: str | None = None
    margin_frac: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """A result, told: the answer first.

    Parameters
    ----------
    key : str
        Name of the topic, for JSON.
    title : str or Sentence
        Heading of the topic, for people: our own word, or a sentence where a person named it.
    headline : Sentence, optional
        The answer in one sentence.
    facts : mapping
        Single values by key, for machines: `Value`, or a mapping of further ones.
    sentences : tuple of Sentence
        What else is to be said, most important first.
    tables : tuple of Table
        Rows.
    findings : tuple of Found
        Worst first.
    cautions : tuple of Sentence
        What may hurt, said once.
    parts : tuple of Told
        Topics inside this one, in the order in which they are shown.
    """

    key: str
    title: str | Sentence
    headline: Sentence | None = None
    facts: Facts = field(default_factory=dict)
    sentences: tuple[Sentence, ...] = ()
    tables: tuple[Table, ...] = ()
    findings: tuple[Found, ...] = ()
    cautions: tuple[Sentence, ...] = ()
    parts: tuple["Told", ...] = ()

    def table(self, key: str) -> Table:
        """The table with this key, here or in a part."""
        for one in self.tables:
            if one.key == key:
                return one
        for part in self.parts:
            try:
                return part.table(key)
            except KeyError:
                continue
        raise KeyError(key)


def from_days(days: int) -> Sentence:
    """The brewed days that a range rests on, behind a comma; nothing where none has taught."""
    return Sentence(", from {days}", days=counted(days, "brewed day")) if days else NOTHING
