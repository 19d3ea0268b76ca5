"""The people's day, the room and the unattended list as DataFrames; column names end in their unit."""

from typing import TYPE_CHECKING

from energyplan.advice.answer import Answer
from energyplan.advice.people import people_day
from energyplan.advice.unattended import UnattendedCheck
from energyplan.base.units import Display
from energyplan.report.clockrows import PeopleClock, clock_rows
from energyplan.report.roomtext import hour_clock, room_of
from energyplan.report.tableparts import frame_of

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["clock_table", "fact_table", "presence_table", "room_table"]


def clock_table(answer: Answer, show: Display) -> "pd.DataFrame":
    """Everything that people do, by the clock: times, earliest and latest, what, how long."""
    clock = PeopleClock(answer, people_day(answer.day))
    columns = ("time_s", "at_clock", "earliest_clock", "latest_clock", "what", "kind", "step", "takes_min", "attended")
    return frame_of(
        (
            {
                "time_s": row.time_s,
                "at_clock": clock.at(row.time_s),
                "earliest_clock": clock.at(row.earliest_s),
                "latest_clock": clock.at(row.latest_s),
                "what": row.words,
                "kind": row.kind,
                "step": row.step,
                "takes_min": row.minutes,
                "attended": row.attended,
            }
            for row in clock_rows(answer, show)
        ),
        columns,
    )


def presence_table(answer: Answer) -> "pd.DataFrame":
    """The stretches with somebody in the room and those between, in order; ``heats`` says whether elements are on.

    For a stretch with somebody there, ``heats`` is missing: it matters to those who leave.
    """
    people = people_day(answer.day)
    clock = PeopleClock(answer, people)
    spans: list[tuple[float, float, float, float, str, bool | None]] = [
        (span.begins_s, span.ends_s, span.earliest_s, span.latest_s, "; ".join(span.why), None)
        for span in people.presences
    ]
    spans += [(span.begins_s, span.ends_s, span.begins_s, span.ends_s, "", span.heats) for span in people.between]
    return frame_of(
        {
            "start_s": begins_s,
            "end_s": ends_s,
            "start_clock": clock.at(begins_s),
            "end_clock": clock.at(ends_s),
            "earliest_clock": clock.at(earliest_s),
            "latest_clock": clock.at(latest_s),
            "in_the_room": heats is None,
            "what_for": why,
            "heats": heats,
        }
        for begins_s, ends_s, earliest_s, latest_s, why, heats in sorted(spans, key=lambda span: span[:2])
    )


def room_table(answer: Answer) -> "pd.DataFrame":
    """What goes into the room, hour by hour of the local clock."""
    return frame_of(
        {
            "start_clock": hour_clock(answer, hour.begins),
            "end_clock": hour_clock(answer, hour.ends),
            "heat_kwh": hour.heat_kwh,
            "pump_and_leads_kwh": hour.appliances_kwh,
            "steam_kg": hour.steam_kg,
            "carried_by_steam_kwh": hour.vapour_kwh,
        }
        for hour in room_of(answer).hours
    )


def fact_table(found: UnattendedCheck) -> "pd.DataFrame":
    """The facts that must hold before a vessel heats with nobody there."""
    return frame_of(
        {"fact": fact.words, "state": fact.state, "why": fact.why, "word": fact.key} for fact in found.facts
    )
