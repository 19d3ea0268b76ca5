"""A day as a file of any kind: the ending of its name says which; its calendar in UTC instants (RFC 5545)."""

import uuid
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from energyplan.base.errors import FileError, Place
from energyplan.base.kinds import PLAIN, Style
from energyplan.base.records import dataclass
from energyplan.base.sentence import Sayable, words
from energyplan.faces.sheet import Paper
from energyplan.telling.told import Table, Told, cell

if TYPE_CHECKING:
    import icalendar

    from energyplan.faces.charts import Picture

__all__ = ["ENDINGS", "Making", "calendar_ics", "ending_of", "file_bytes", "first_page"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Making:
    """How a file is made.

    Parameters
    ----------
    style : Style
        Units.
    paper : str
        "a4" or "us-letter", for the PDF.
    stamp : datetime, optional
        Aware instant of making, for PDF and calendar; left out, the same input gives the same bytes.
    """

    style: Style = PLAIN
    paper: Paper = "a4"
    stamp: datetime | None = None


def ending_of(name: str) -> str:
    """The ending of a file's name, in small letters.

    Raises
    ------
    FileError
        If nothing with this ending can be written.
    """
    suffix = (Path(name).suffix or name).lower()
    if suffix not in _WRITERS:
        raise FileError(f'"{name}" ends in nothing that can be written; use one of {", ".join(ENDINGS)}')
    return suffix


def file_bytes(told: Told, ending: str, making: Making | None = None) -> bytes:
    """Write what a file holds (`energyplan.telling.files.file_told`), for an ending of `ENDINGS`."""
    return _WRITERS[ending](told, making or Making())


def first_page(told: Told, making: Making) -> bytes:
    """The first page of the PDF as a picture (PNG)."""
    from energyplan.faces.sheet import first_page_png

    return first_page_png(*_sheets(told, making), making.style, paper=making.paper)


def _pdf(told: Told, making: Making) -> bytes:
    from energyplan.faces.sheet import sheet_pdf

    return sheet_pdf(*_sheets(told, making), making.style, paper=making.paper, stamp=making.stamp)


def _sheets(told: Told, making: Making) -> "tuple[Mapping[str, Any], Told, tuple[Picture, Picture]]":
    """What the sheets are set from."""
    from energyplan.faces.charts import current_picture, day_picture
    from energyplan.faces.sheet import electrician_texts, sizes_px

    electrician, brew_day, currents, day = told.parts
    (wide_px, high_px), (day_wide_px, day_high_px) = sizes_px(making.paper)
    pictures = (
        current_picture(currents, making.style, width_px=wide_px, height_px=high_px),
        day_picture(day, making.style, width_px=day_wide_px, height_px=day_high_px),
    )
    return electrician_texts(electrician, replace(making.style, key=_on_paper)), brew_day, pictures


def _on_paper(key: Place) -> str:
    """A key of the plan for somebody who never saw the file.

    >>> _on_paper(Place("circuit", "earth_loop"))
    '“earth loop” in the plan'
    """
    return f"“{key.key.replace('_', ' ')}” in the plan"


def _ics(told: Told, making: Making) -> bytes:

    return calendar_ics(told, making.style, stamp=making.stamp)


def _csv(told: Told, making: Making) -> bytes:
    from energyplan.faces.frames import table_csv

    return table_csv(told.tables[0], making.style)


def _png(told: Told, making: Making) -> bytes:
    from energyplan.faces.charts import day_picture, picture_png

    return picture_png(day_picture(told, making.style))


def _svg(told: Told, making: Making) -> bytes:
    from energyplan.faces.charts import day_picture, picture_svg

    return picture_svg(day_picture(told, making.style)).encode()


_WRITERS: dict[str, Callable[[Told, Making], bytes]] = {
    ".pdf": _pdf,
    ".ics": _ics,
    ".csv": _csv,
    ".png": _png,
    ".svg": _svg,
}


ENDINGS = tuple(_WRITERS)


#: Base of all UIDs, so that the same entry of the same day keeps its UID on every export.
_OWN_UIDS = uuid.uuid5(uuid.NAMESPACE_URL, "urn:energyplan:brew-day")


def calendar_ics(told: Told, style: Style = PLAIN, *, stamp: datetime | None = None) -> bytes:
    """Write a calendar (`energyplan.telling.files.calendar_told`).

    Parameters
    ----------
    told : Told
        The entries.
    style : Style
        Units of amounts and temperatures.
    stamp : datetime, optional
        Aware instant at which the file is made (DTSTAMP); left out: the start of the day, so that the same
        input gives the same bytes.

    Notes
    -----
    UIDs come from the title, the start of the day, the step and the kind of entry: an entry that moves keeps its UID.
    """
    import icalendar

    title = told.title if isinstance(told.title, str) else words(told.title, style)
    start: datetime = told.facts["start"].raw.at
    calendar = icalendar.Calendar()
    calendar.add("prodid", "-//energyplan//brew day//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("name", title)
    seen: Counter[tuple[str, str]] = Counter()
    for row in told.table("entries"):
        number = seen[row["step"], row["kind"]]
        seen[row["step"], row["kind"]] += 1
        name = "\n".join([title, start.isoformat(), row["step"], row["kind"], str(number)])
        event = _event(row, told.table("entries"), style)
        event.add("uid", str(uuid.uuid5(_OWN_UIDS, name)))
        event.add("dtstamp", (stamp or start).astimezone(UTC))
        calendar.add_component(event)
    return bytes(calendar.to_ical())


def _event(row: dict[str, Any], table: Table, style: Style) -> "icalendar.Event":
    import icalendar

    event = icalendar.Event()
    begin = row["start"].at.astimezone(UTC)
    summary, more = (_words(table, key, row[key], style) for key in ("title", "text"))
    event.add("dtstart", begin)
    event.add("dtend", max(row["end"].at.astimezone(UTC), begin + timedelta(seconds=1)))
    event.add("summary", summary)
    event.add("description", more)
    event.add("categories", ["Brew day"])
    if row["remind_min"] is None:
        event.add("transp", "TRANSPARENT")
        return event
    alarm = icalendar.Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", summary)
    alarm.add("trigger", -timedelta(minutes=row["remind_min"]))
    event.add_component(alarm)
    return event


def _words(table: Table, key: str, given: Any, style: Style) -> str:
    column = next(column for column in table.columns if column.key == key)
    said: Sayable | None = cell(column, given)
    return "" if said is None else words(said, style)
