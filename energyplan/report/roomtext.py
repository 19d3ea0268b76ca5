"""What the day puts into the room, on the terminal, in a sentence and as JSON."""

from datetime import UTC, datetime
from typing import Any

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from energyplan.advice.answer import Answer
from energyplan.advice.room import Room, room
from energyplan.base.units import Display
from energyplan.tariffs.clock import to_local

__all__ = ["hour_clock", "room_document", "room_of", "room_sentence", "room_text"]

Document = dict[str, Any]


def room_of(answer: Answer) -> Room:
    """What an answered day puts into the room, by the hours of its clock."""
    return room(answer.day, answer.start, answer.zone)


def room_sentence(answer: Answer, show: Display) -> str:
    """Heat and steam of the day, and when most of the steam comes."""
    found = room_of(answer)
    warms_kwh = found.heat_kwh + found.appliances_kwh
    said = f"The room gets {warms_kwh:.1f} kWh of heat"
    if found.steam_kg < 0.05:
        return f"{said} and next to no steam."
    most = found.steamiest
    begins, ends = hour_clock(answer, most.begins), hour_clock(answer, most.ends)
    return (
        f"{said} and {show.mass(found.steam_kg)} of steam, {show.mass(most.steam_kg)} of it from {begins} to "
        f"{ends}. The steam carries another {found.vapour_kwh:.1f} kWh out of the window, or to the walls on "
        "which it condenses."
    )


def hour_clock(answer: Answer, moment: datetime) -> str:
    """Hour and minute of a moment; with the zone on a day on which the clock moves."""
    local, start, finish = to_local(moment, answer.zone), answer.clock(0.0), answer.clock(answer.day.duration_s)
    return f"{local:%H:%M}" if start.utcoffset() == finish.utcoffset() else f"{local:%H:%M %Z}"


def room_text(answer: Answer, show: Display) -> RenderableType:
    """The sentence, then the hours."""
    found = room_of(answer)
    table = Table(box=None, padding=(0, 1, 0, 0), header_style="bold", show_edge=False)
    for place, heading in enumerate(
        ("from", "heat kWh", "pump, leads kWh", f"steam {_mass_unit(show)}", "with it kWh")
    ):
        table.add_column(heading, justify="right" if place else "left")
    for hour in found.hours:
        table.add_row(
            hour_clock(answer, hour.begins),
            f"{hour.heat_kwh:.2f}",
            f"{hour.appliances_kwh:.2f}",
            show.mass(hour.steam_kg).split()[0],
            f"{hour.vapour_kwh:.2f}",
        )
    elsewhere = f"The other {found.elsewhere_kwh:.1f} kWh leave with wort, grain and water, or are still in the vessel."
    return Group(Text(room_sentence(answer, show)), table, *(Text(n, style="dim") for n in (elsewhere, *found.notes)))


def _mass_unit(show: Display) -> str:
    return show.mass(0.0).split()[1]


def room_document(answer: Answer) -> Document:
    """The key ``room`` of ``report --json``."""
    found = room_of(answer)
    return {
        "heat_kwh": found.heat_kwh,
        "appliances_kwh": found.appliances_kwh,
        "vapour_kwh": found.vapour_kwh,
        "steam_kg": found.steam_kg,
        "elsewhere_kwh": found.elsewhere_kwh,
        "by_hour": [
            {"start": _iso(hour.begins), "end": _iso(hour.ends), "heat_kwh": hour.heat_kwh,
             "appliances_kwh": hour.appliances_kwh, "vapour_kwh": hour.vapour_kwh, "steam_kg": hour.steam_kg}
            for hour in found.hours
        ],
        "notes": list(found.notes),
    }  # fmt: skip


def _iso(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
