"""Bands and add-ons of a tariff as tables to edit."""

from typing import Any

from energyplan.app.rows import Column, RowTable
from energyplan.app.tariffdraft import number_or_text
from energyplan.base.units import UnitSystem

__all__ = ["ADD_ONS", "BANDS"]

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
