"""A tariff on its way to be right: the tables of its file, changed entry by entry, and what is wrong with them.

A tariff is often right only after several changes (two bands that must meet), so a draft takes every entry and says
what is wrong with the whole; only a sound one can go on the desk.
"""

import json
import re
from collections.abc import Mapping
from copy import deepcopy
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from energyplan.app.answers import TariffText
from energyplan.app.editing import KeyNumber
from energyplan.app.rows import Column, RowTable
from energyplan.base.errors import Problem
from energyplan.base.tomltext import toml_tables
from energyplan.base.units import UnitSystem
from energyplan.tariffs.tarifffile import packaged_tariffs

__all__ = [
    "ADD_ONS", "BANDS", "TariffDraft", "begun", "draft_read", "draft_text", "number_or_text", "placed", "tables_of",
    "worded",
]  # fmt: skip

Tables = dict[str, Any]


_NUMBER = re.compile(r"[+-]?\d{1,12}(?:[.,]\d{1,12})?")


_ROW = re.compile(r'\[\[tariff\.(\w+)\]\] (\d+)(?: \("(.*?)"\))?(?: (.*))?', re.DOTALL)


_KEY = re.compile(r"\[(?:tariff\.?)?(\w*)\](?: (\w+))?")


FRESH: Tables = {
    "tariff": {
        "name": "My tariff",
        "currency": "EUR",
        "price_unit": "ct/kWh",
        "time_zone": "UTC",
        "prices_include_tax": True,
        "band": [{"name": "all day", "price": Decimal(30), "otherwise": True}],
    }
}


@dataclass(slots=True, kw_only=True)
class TariffDraft:
    """Tables of a tariff file while they are changed.

    ``origin`` is the tariff on the desk with which the draft began, ``begun_as`` its tables. Editors of the browser
    show ``base`` and send what differs from it; ``keys`` change when they begin anew. ``aside`` keeps the bands
    while a list of prices stands in their place, and the other way round.
    """

    origin: TariffText | None
    begun_as: Tables
    base: Tables
    tables: Tables
    series: tuple[tuple[str, str], ...] = ()
    keys: KeyNumber = field(default_factory=KeyNumber)
    aside: Tables = field(default_factory=dict)

    @property
    def version(self) -> int:
        """Number in the keys of the editors."""
        return self.keys.number

    @property
    def table(self) -> Tables:
        """The table ``[tariff]``."""
        found: Tables = self.tables["tariff"]
        return found

    @property
    def is_changed(self) -> bool:
        """Whether it differs from the tariff on the desk."""
        return self.tables != self.begun_as or self.origin is None or self.named_series != self.origin.series

    @property
    def has_series(self) -> bool:
        """Whether prices come from a list instead of bands."""
        return "prices" in self.table

    @property
    def named_series(self) -> tuple[tuple[str, str], ...]:
        """Names and texts of the lists that the tables name."""
        sources = (self.table.get("prices"), *(self.tables.get(key) for key in ("carbon", "own_generation")))
        names = {source.get("file") for source in sources if isinstance(source, dict)}
        return tuple((name, text) for name, text in self.series if name in names)

    @property
    def toml(self) -> str:
        """The file that says the same."""
        import tomli_w

        return tomli_w.dumps(self.tables)

    @property
    def source(self) -> TariffText:
        """The draft as a tariff to hand on."""
        return TariffText(name="your prices", text=self.toml, series=self.named_series)

    def enter(self, path: tuple[str, ...], value: Any) -> None:
        """Put an entry below ``[tariff]``, or take it out when it is empty."""
        node = self.table
        for key in path[:-1]:
            node = node.setdefault(key, {})
        if value in (None, "", []):
            node.pop(path[-1], None)
        else:
            node[path[-1]] = value
        if len(path) > 1 and not node:
            self.table.pop(path[0])

    def redraw(self) -> None:
        """Let the editors begin anew from the tables as they are."""
        self.base = deepcopy(self.tables)
        self.keys.renew()

    def take_series(self, name: str, text: str, source: Mapping[str, Any]) -> None:
        """Put a list of prices in the place of the bands."""
        if "band" in self.table:
            self.aside["band"] = self.table.pop("band")
        self.table["prices"] = {**source, "file": name}
        self.series = (*((known, kept) for known, kept in self.series if known != name), (name, text))
        self.redraw()

    def take_bands(self) -> None:
        """Put the bands back in the place of the list."""
        self.aside["prices"] = self.table.pop("prices", None)
        self.table["band"] = self.aside.get("band") or deepcopy(FRESH["tariff"]["band"])
        self.redraw()


def begun(origin: TariffText | None, zone: str | None) -> TariffDraft:
    """A draft that says the same as a tariff; without one, a single price in the zone of the place."""
    tables = deepcopy(FRESH) if origin is None else tables_of(origin)
    if origin is None and zone:
        tables["tariff"]["time_zone"] = zone
    return TariffDraft(
        origin=origin,
        begun_as=deepcopy(tables),
        base=deepcopy(tables),
        tables=tables,
        series=() if origin is None else origin.series,
    )


def draft_text(draft: TariffDraft | None) -> str | None:
    """A draft that differs from the tariff on the desk, as one text; None where there is nothing to keep."""
    if draft is None or not draft.is_changed:
        return None
    return json.dumps({"toml": draft.toml, "series": draft.series})


def draft_read(text: str, origin: TariffText | None) -> TariffDraft:
    """The draft that a text keeps, of the tariff on the desk.

    Raises
    ------
    ValueError, LookupError, TypeError
        If it keeps none.
    """
    found = json.loads(text)
    draft = begun(origin, None)
    draft.tables = toml_tables(found["toml"], parse_float=Decimal)
    draft.series = tuple((str(name), str(list_text)) for name, list_text in found["series"])
    if not isinstance(draft.table, dict):
        raise TypeError(draft.table)
    draft.redraw()
    return draft


def tables_of(source: TariffText) -> Tables:
    """The tables of a tariff's file, with exact numbers.

    >>> tables_of(TariffText(name="two_rate", is_packaged=True))["tariff"]["band"][0]["price"]
    Decimal('14.2')
    """
    text = source.text
    if source.is_packaged:
        text = packaged_tariffs()[source.name].read_text(encoding="utf-8")
    return toml_tables(text, parse_float=Decimal)


def number_or_text(text: str) -> Decimal | int | str:
    """A number as it stands; what is none stays text, so that the tariff's own reader says what is wrong.

    >>> number_or_text("14,2"), number_or_text("61"), number_or_text("61 ct"), number_or_text("nan")
    (Decimal('14.2'), 61, '61 ct', 'nan')
    """
    said = text.strip()
    if not _NUMBER.fullmatch(said):
        return said
    number = Decimal(said.replace(",", "."))
    return number if "." in said or "," in said else int(number)


def placed(problems: tuple[Problem, ...]) -> dict[str, tuple[Problem, ...]]:
    """Problems by the part of the form that they belong to: a key of ``[tariff]``, a list, or "" for the rest.

    >>> one = Problem(where='[[tariff.band]] 2 ("night") price', message="is missing")
    >>> list(placed((one,)))
    ['band']
    """
    found: dict[str, tuple[Problem, ...]] = {}
    for problem in problems:
        where = _part(str(problem.where))
        found[where] = (*found.get(where, ()), problem)
    return found


def _part(where: str) -> str:
    if (row := re.match(r"\[\[tariff\.(\w+)\]\]", where)) is not None:
        return row[1]
    if where.startswith('"'):
        return "band"
    if (key := _KEY.match(where)) is not None:
        return key[1] if key[1] not in ("", "tariff") else key[2] or ""
    return "prices" if where.lower().endswith(".csv") else ""


def worded(problem: Problem) -> Problem:
    """The same problem with its place in words instead of brackets.

    >>> worded(Problem(where='[[tariff.band]] 2 ("night") price', message="write a number without quotes")).where
    'Row 2, night: price'
    """
    place = str(problem.where)
    row = _ROW.fullmatch(place)
    where = re.sub(r"\[\[?tariff\.?(\w*)\]\]?", lambda found: found[1].replace("_", "-").capitalize(), place)
    if row is not None:
        name = f", {row[3]}" if row[3] else ""
        where = f"Row {row[2]}{name}" + (f": {row[4]}" if row[4] else "")
    where = where.strip() or "These prices"
    message = str(problem.message).replace("write a number without quotes", "write a number")
    return Problem(where=where, value=problem.value, message=message)


Row = dict[str, Any]


def _listed(value: object) -> str | None:
    if value is None:
        return None
    return ", ".join(str(part) for part in value) if isinstance(value, list) else str(value)


def _write_price(row: Row, _system: UnitSystem) -> str | None:
    return None if "price" not in row else str(row["price"])


def _read_price(row: Row, text: str) -> None:
    row.pop("price", None)
    if text:
        row["price"] = number_or_text(text)


def _write_days(row: Row, _system: UnitSystem) -> str | None:
    return _listed(row.get("days"))


def _write_season(row: Row, _system: UnitSystem) -> str | None:
    return _listed(row.get("months", row.get("dates")))


def _read_season(row: Row, text: str) -> None:
    """Months by name, or dates by number: a band has one or the other."""
    row.pop("months", None)
    row.pop("dates", None)
    if text:
        row["dates" if any(letter.isdigit() for letter in text) else "months"] = text


def _write_clock(key: str) -> Any:
    def write(row: Row, _system: UnitSystem) -> str | None:
        value = row.get(key)
        return None if value is None else value if isinstance(value, str) else f"{value:%H:%M}"

    return write


def _write_rest(row: Row, _system: UnitSystem) -> str | None:
    return "yes" if row.get("otherwise") else None


def _read_rest(row: Row, text: str) -> None:
    row.pop("otherwise", None)
    if text == "yes":
        row["otherwise"] = True


_NAME = Column("name", "Name", "What the bill calls it; the same name may stand twice", wide=True)


_PRICE = Column("price", "Price", "In the price unit above; negative prices are ordinary",
                write=_write_price, read=_read_price)  # fmt: skip


_HOURS = (
    Column("days", "Days", "every day; mon-fri; sat, sun; holiday. Empty: every day", write=_write_days),
    Column("from", "From", "Local clock, 23:00. Empty: all day", write=_write_clock("from")),
    Column("to", "To", "Local clock, 08:00; may lie after midnight", write=_write_clock("to")),
    Column("season", "Season", "Months (oct-mar) or dates (10-15 to 04-14). Empty: all year",
           write=_write_season, read=_read_season),
)  # fmt: skip


_NIGHT = Column(
    "night_belongs_to", "After midnight", "Whose day counts when the hours run over midnight",
    options=("calendar day", "start day"),
)  # fmt: skip


_REST = Column("otherwise", "All the rest", "In one row at most: what the other rows leave", options=("yes",),
               write=_write_rest, read=_read_rest)  # fmt: skip


BANDS = RowTable(("tariff", "band"), (_NAME, _PRICE, *_HOURS, _REST, _NIGHT), "Band")


ADD_ONS = RowTable(("tariff", "add_on"), (_NAME, _PRICE, *_HOURS, _NIGHT), "Add-on")
