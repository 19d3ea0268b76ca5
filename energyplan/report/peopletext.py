"""The people's day on the terminal and as JSON: the clock, who must be there, when everybody is done."""

from collections.abc import Iterator
from datetime import UTC, timedelta
from typing import Any

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from energyplan.advice.answer import Answer
from energyplan.advice.people import PeopleDay, people_day
from energyplan.base.units import Display
from energyplan.report.clockrows import ClockRow, PeopleClock, clock_rows

__all__ = ["clock_text", "done_sentence", "people_document", "presence_sentence", "presence_text"]

Document = dict[str, Any]
EARSHOT = "In between nothing needs hands; while anything heats, stay within earshot."


def clock_text(answer: Answer, show: Display) -> RenderableType:
    """Everything by the clock, with its earliest and latest time."""
    clock = PeopleClock(answer, people_day(answer.day))
    table = _table()
    for row in clock_rows(answer, show):
        style = "bold" if row.kind in ("action", "addition", "lid", "switch", "watch") else ""
        table.add_row(clock.at(row.time_s), clock.range(row.earliest_s, row.latest_s), Text(_words(row), style=style))
    said = "Second column: nine days in ten lie between, if the inputs are off as they usually are."
    return Group(table, Text(said, style="dim"))


def _words(row: ClockRow) -> str:
    if row.minutes is None:
        return row.words
    alone = "" if row.attended else ", nobody needed"
    return f"{row.words} ({row.minutes:.0f} min{alone})"


def presence_text(answer: Answer) -> RenderableType:
    """When somebody must be in the room, and what for; then when vessel and people are done."""
    people = people_day(answer.day)
    clock = PeopleClock(answer, people)
    table = _table()
    for presence in people.presences:
        early = "" if clock.at(presence.earliest_s) == clock.at(presence.begins_s) else clock.at(presence.earliest_s)
        table.add_row(
            f"{clock.at(presence.begins_s)}-{clock.at(presence.ends_s)}",
            f"from {early}" if early else "",
            "; ".join(presence.why),
        )
    said = "Second column: the earliest that it may begin, in nineteen days of twenty."
    notes = (Text(note, style="dim") for note in (EARSHOT, *people.notes))
    return Group(table, Text(said, style="dim"), Text(done_sentence(answer)), *notes)


def presence_sentence(answer: Answer) -> str:
    """When somebody must be in the room, in one sentence."""
    people = people_day(answer.day)
    clock = PeopleClock(answer, people)
    spans = [f"{clock.at(span.begins_s)}-{clock.at(span.ends_s)}" for span in people.presences]
    listed = spans[0] if len(spans) == 1 else f"{', '.join(spans[:-1])} and {spans[-1]}"
    return f"Somebody must be in the room {listed}."


def done_sentence(answer: Answer) -> str:
    """When the vessel is done, and when its people are."""
    people = people_day(answer.day)
    clock = PeopleClock(answer, people)
    hands_min = sum(presence.ends_s - presence.begins_s for presence in people.presences) / 60
    return (
        f"The vessel is done at {clock.at(people.vessel_ends_s)}, you are at {clock.at(people.ends_s)} "
        f"(at the latest {clock.at(people.latest_end_s)}), after {hands_min:.0f} min in the room since "
        f"{clock.at(people.begins_s)}."
    )


def _table() -> Table:
    table = Table(box=None, padding=(0, 1, 0, 0), show_edge=False, show_header=False)
    table.add_column("", no_wrap=True)
    table.add_column("", no_wrap=True, style="dim")
    table.add_column("", overflow="fold")
    return table


def people_document(answer: Answer) -> Document:
    """The key ``people`` of ``report --json``."""
    people = people_day(answer.day)

    def at(seconds: float) -> str:
        moment = (answer.start + timedelta(seconds=seconds)).astimezone(UTC)
        return moment.isoformat(timespec="seconds").replace("+00:00", "Z")

    return {
        "begins": at(people.begins_s),
        "ends": at(people.ends_s),
        "latest_end": at(people.latest_end_s),
        "vessel_ends": at(people.vessel_ends_s),
        "draws": people.draws,
        "tasks_from_plan": bool(answer.day.plan.tasks),
        "clock": [
            {"time": at(row.time_s), "earliest": at(row.earliest_s), "latest": at(row.latest_s), "kind": row.kind,
             "step": row.step, "text": row.words, "minutes": row.minutes, "attended": row.attended}
            for row in clock_rows(answer, Display("metric"))
        ],
        "attended": [
            {"start": at(span.begins_s), "end": at(span.ends_s), "earliest": at(span.earliest_s),
             "latest": at(span.latest_s), "why": list(span.why)}
            for span in people.presences
        ],
        "unattended": list(_unattended(people, at)),
        "notes": list(people.notes),
    }  # fmt: skip


def _unattended(people: PeopleDay, at: Any) -> Iterator[Document]:
    for span in people.between:
        yield {"start": at(span.begins_s), "end": at(span.ends_s), "heats": span.heats}
