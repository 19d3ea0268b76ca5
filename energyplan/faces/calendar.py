"""A told calendar as an iCalendar file (RFC 5545), in UTC instants."""

import uuid
from collections import Counter
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

from energyplan.base.kinds import PLAIN, Style
from energyplan.base.sentence import Sayable, words
from energyplan.telling.told import Table, Told, cell

if TYPE_CHECKING:
    import icalendar

__all__ = ["calendar_ics"]

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
