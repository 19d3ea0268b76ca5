"""The starts on the terminal and as JSON."""

from datetime import UTC, datetime
from typing import Any

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from energyplan.advice.startsanswer import StartsAnswer
from energyplan.tariffs.clock import to_local
from energyplan.tariffs.habits import HabitCost
from energyplan.tariffs.starts import StartOption, StartSearch, hour_costs
from energyplan.tariffs.waiting import WaitingPlan

__all__ = ["starts_document", "starts_text"]

SHADES = " ░▒▓█"
MOST_DAYS_SHOWN = 31


def starts_text(found: StartsAnswer) -> RenderableType:
    """The best start as a sentence, the costs of all as a picture, and what was asked beside."""
    search = found.search
    parts: list[RenderableType] = [Text(_headline(search)), _options(search), Text(""), *_picture(search)]
    if found.waiting:
        parts += [Text(""), *_waiting(found.waiting, search.zone)]
    if found.habit:
        parts += [Text(""), *_habit(found.habit)]
    return Group(*parts)


def _headline(search: StartSearch) -> str:
    first, last = (to_local(moment, search.zone) for moment in search.best_stretch)
    best = to_local(search.best.start, search.zone)
    said = f"Start at {best:%H:%M} on {best:%a %d %b}: {search.best.cost}."
    if first == last:
        return f"{said} No other start near it is within 1 %."
    to = f"{last:%H:%M}" if last.date() == first.date() else f"{last:%H:%M} on {last:%a %d %b}"
    since = f"{first:%H:%M}" if first.date() == best.date() else f"{first:%H:%M} on {first:%a %d %b}"
    return f"{said} Anything between {since} and {to} is within 1 %."


def _options(search: StartSearch) -> Table:
    table = Table(box=None, padding=(0, 2, 0, 0), show_header=False)
    options = {"best": search.best, "now": search.now, "worst": search.worst}
    for name, option in options.items():
        if option is not None:
            local = to_local(option.start, search.zone)
            carbon = "" if option.carbon_g is None else f"{option.carbon_g / 1000:.2f} kg CO2"
            table.add_row(name, f"{local:%a %d %b %H:%M}", str(option.cost), carbon)
    table.add_row("", f"{search.count} starts costed, one a minute ({search.zone})", "", "")
    return table


def _picture(search: StartSearch) -> list[Text]:
    """Day by hour: the cheapest start of each hour, darker is dearer."""
    hours = hour_costs(search)
    costs = [float(hour.cost) for hour in hours if hour.cost is not None]
    low, high = min(costs), max(costs)
    lines = [Text("              " + "".join(f"{hour:<6d}" for hour in range(0, 24, 3)), style="dim")]
    days = sorted({hour.day for hour in hours})[:MOST_DAYS_SHOWN]
    for day in days:
        own = {hour.hour: hour.cost for hour in hours if hour.day == day}
        cells = "".join(_shade(own.get(hour), low, high) * 2 for hour in range(24))
        lines.append(Text(f"{day:%a %d %b}    {cells}"))
    scale = f"  darker is dearer: {search.best.cost} to {search.worst.cost}; blank: not allowed"
    return [*lines, Text(scale, style="dim")]


def _shade(cost: Any, low: float, high: float) -> str:
    if cost is None:
        return " "
    share = (float(cost) - low) / (high - low) if high > low else 0.0
    return SHADES[1 + min(int(share * 4), 3)]


def _waiting(waiting: WaitingPlan, zone: str) -> list[Text]:
    ready = to_local(waiting.ready, zone)
    runs = ", ".join(
        f"{to_local(a, zone):%H:%M}-{to_local(b, zone):%H:%M} at {watts:.0f} W" for a, b, watts in waiting.stretches
    )
    costs = f"{waiting.cost} instead of {waiting.direct_cost}"
    return [
        Text(f"Waiting for the mash at {ready:%H:%M}: strike water for {costs},"),
        Text(f"with {waiting.extra_kwh:+.2f} kWh on {waiting.direct_kwh:.2f} kWh. Heat: {runs}."),
        Text(waiting.caution, style="dim"),
    ]


def _habit(habit: HabitCost) -> list[Text]:
    usual = f"{len(habit.days)} brews at the usual time cost {habit.usual}"
    return [Text(f"{usual}; at the best start of each day {habit.best}, which is {habit.saving} less.")]


def starts_document(found: StartsAnswer) -> dict[str, Any]:
    """The document of ``starts --json``."""
    search = found.search
    document: dict[str, Any] = {
        "best": _option(search.best),
        "now": _option(search.now) if search.now else None,
        "worst": _option(search.worst),
        "within_1_percent": [[_iso(a), _iso(b)] for a, b in search.plateau],
        "best_per_day": [_option(option) for option in search.best_per_day],
        "starts": search.count,
        "currency": search.currency,
        "time_zone": search.zone,
    }
    if found.waiting:
        document["waiting"] = {
            "ready": _iso(found.waiting.ready),
            "cost": float(found.waiting.cost),
            "direct_cost": float(found.waiting.direct_cost),
            "energy_kwh": found.waiting.energy_kwh,
            "extra_kwh": found.waiting.extra_kwh,
            "heat": [[_iso(a), _iso(b), watts] for a, b, watts in found.waiting.stretches],
            "caution": found.waiting.caution,
        }
    if found.habit:
        document["habit"] = {
            "brews": len(found.habit.days),
            "usual_cost": float(found.habit.usual),
            "best_cost": float(found.habit.best),
        }
    return document


def _option(option: StartOption) -> dict[str, Any]:
    return {"start": _iso(option.start), "cost": float(option.cost), "carbon_g": option.carbon_g}


def _iso(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
