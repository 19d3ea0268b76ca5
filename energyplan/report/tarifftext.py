"""A tariff's resolved week on the terminal and as JSON."""

import dataclasses
from typing import Any

from rich.console import Group, RenderableType
from rich.text import Text

from energyplan.tariffs.tariff import Tariff
from energyplan.tariffs.tariffcheck import TariffCheck, WeekDay, band_minutes

__all__ = ["tariff_document", "tariff_text"]

CELL_MIN = 30
MARKS = "abcdefghijklmnopqrstuvwxyz"


def tariff_text(tariff: Tariff, found: TariffCheck) -> RenderableType:
    """The week as a picture, one letter for each half hour and band; then what is wrong or odd."""
    lines = [Text(f"{tariff.name}: {tariff.currency}, clock of {tariff.time_zone}", style="bold")]
    lines += [Text(f"over  {problem}", style="bold #D9534A") for problem in found.problems]
    if found.week:
        lines += [Text(""), *_week(found.week)]
        lines += [Text(""), Text("minutes a day      " + "".join(f"{day.day:%a}".rjust(7) for day in found.week))]
        lines += [
            Text(f"{name[:18]:18s} " + "".join(f"{value:7d}" for value in minutes))
            for name, minutes in band_minutes(found.week)
        ]
    if found.holidays:
        lines += [Text(""), Text(f"Holidays of {found.holidays[0][0].year}:")]
        lines += [Text(f"  {day:%a %d %b}  {name}") for day, name in found.holidays]
    lines += [Text(f"note  {warning}", style="#C08A1E") for warning in found.warnings]
    return Group(*lines)


def _week(week: tuple[WeekDay, ...]) -> list[Text]:
    prices = {(s.band, s.micro_per_kwh) for day in week for s in day.stretches}
    ranked = sorted(prices, key=lambda band: (band[1], band[0]))
    mark = {band: MARKS[rank % len(MARKS)] for rank, band in enumerate(ranked)}
    lines = [Text("           " + "".join(f"{hour:<6d}" for hour in range(0, 24, 3)), style="dim")]
    for day in week:
        cells = "".join(_cell(day, minute, mark) for minute in range(0, 24 * 60, CELL_MIN))
        lines.append(Text(f"{day.day:%a %d %b} {cells} {day.holiday}".rstrip()))
    return lines + [Text(f"  {mark[band]} {band[0]}: {band[1] / 1e6:.4f} a kWh") for band in ranked]


def _cell(day: WeekDay, minute: int, mark: dict[tuple[str, int], str]) -> str:
    inside = [s for s in day.stretches if s.from_min <= minute < s.to_min]
    return mark[(inside[0].band, inside[0].micro_per_kwh)] if inside else "?"


def tariff_document(tariff: Tariff, found: TariffCheck) -> dict[str, Any]:
    """The document of ``tariff check --json``."""
    return {
        "name": tariff.name,
        "currency": tariff.currency,
        "time_zone": tariff.time_zone,
        "week": [
            {
                "day": day.day.isoformat(),
                "holiday": day.holiday,
                "stretches": [dataclasses.asdict(stretch) for stretch in day.stretches],
            }
            for day in found.week
        ],
        "problems": [str(problem) for problem in found.problems],
        "holidays": [[day.isoformat(), name] for day, name in found.holidays],
        "warnings": list(found.warnings),
    }
