"""The day as DataFrames: phases, power, temperature, prices, what to do, the hours of the clock."""

from typing import TYPE_CHECKING, Any

import numpy as np

from energyplan.advice.answer import Answer
from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.money import currency_decimals, shown_parts
from energyplan.base.units import Display
from energyplan.day.brewday import Phase
from energyplan.report.sentences import event_text
from energyplan.report.tableparts import MOST_SPANS, clock_text, corners, frame_of, temperature_key, thinned

if TYPE_CHECKING:
    import pandas as pd

__all__ = [
    "appliance_table",
    "event_table",
    "first_second",
    "hour_table",
    "phase_table",
    "price_table",
    "temperature_table",
    "vessel_table",
]

MOST_POINTS = 240
MOST_PRICES = 60


def phase_table(answer: Answer, show: Display) -> "pd.DataFrame":
    """One row per phase, then the day's other appliances, then the day as a whole.

    Costs are rounded so that the rows add up to the last one.
    """
    phases, beside = answer.day.phases, answer.day.profiles[1:]
    rows = [_phase_row(answer, phase, show) for phase in phases]
    rows += [{"step": profile.name, "phase": "", "energy_kwh": profile.energy_kwh} for profile in beside]
    rows.append({"step": "The day", "phase": "", "start_clock": clock_text(answer, 0.0),
                 "duration_min": answer.day.duration_s / 60, "energy_kwh": answer.day.energy_kwh})  # fmt: skip
    if answer.price:
        cost = f"cost_{answer.price.line.currency.lower()}"
        for row, value in zip(rows, _shown_costs(answer), strict=True):
            row[cost] = value
    frame = frame_of(rows)
    last = [name for name in frame.columns if name.startswith(("from_", "to_", "lowest_", "mean_"))]
    return frame[[*(name for name in frame.columns if name not in last), *last]]


def _phase_row(answer: Answer, phase: Phase, show: Display) -> dict[str, Any]:
    key = temperature_key(show)
    return {
        "step": phase.step,
        "phase": phase.phase,
        "start_clock": clock_text(answer, phase.start_s),
        "duration_min": phase.duration_s / 60,
        f"from_{key}": show.temperature_number(phase.from_c),
        f"to_{key}": show.temperature_number(phase.to_c),
        f"lowest_{key}": show.temperature_number(phase.lowest_c),
        "mean_power_w": phase.mean_w,
        "energy_kwh": phase.energy_j / JOULES_PER_KWH,
    }


def _shown_costs(answer: Answer) -> list[float]:
    """Costs of the rows of the phase table. Appliances beside the vessel share theirs by rounding only if several."""
    price = answer.price
    if price is None:
        return []
    beside = answer.day.profiles[1:]
    parts = [price.of_phase(phase) for phase in answer.day.phases]
    if beside:
        parts.append(price.beside_vessel)
    decimals = currency_decimals(price.line.currency)
    shown = [float(part) for part in shown_parts(parts, decimals)]
    blanks = [float("nan")] * max(len(beside) - 1, 0)
    return [*shown, *blanks, float(price.total.total.rounded(decimals))]


def vessel_table(answer: Answer) -> "pd.DataFrame":
    """Mean power of the vessel, phase by phase, as spans of time."""
    phases = thinned(answer.day.phases, MOST_SPANS, lambda phase: phase.duration_s)
    return frame_of(
        {
            "start_s": phase.start_s,
            "end_s": phase.end_s,
            "step": phase.step,
            "phase": phase.phase,
            "power_kw": phase.mean_w / 1000,
            "start_clock": clock_text(answer, phase.start_s),
            "end_clock": clock_text(answer, phase.end_s),
        }
        for phase in phases
    )


def appliance_table(answer: Answer) -> "pd.DataFrame":
    """Mean power of the day's other appliances, as spans of time."""
    spans = [
        {
            "start_s": float(start_s),
            "end_s": float(end_s),
            "appliance": profile.name,
            "power_kw": float(mean_w) / 1000,
            "start_clock": clock_text(answer, float(start_s)),
            "end_clock": clock_text(answer, float(end_s)),
        }
        for profile in answer.day.profiles[1:]
        for start_s, end_s, mean_w in zip(profile.edges_s[:-1], profile.edges_s[1:], profile.mean_w, strict=True)
    ]
    columns = ("start_s", "end_s", "appliance", "power_kw", "start_clock", "end_clock")
    return frame_of(spans[:MOST_SPANS], columns)


def temperature_table(answer: Answer, show: Display) -> "pd.DataFrame":
    """Temperature over the day, with what a reader wants to know beside each point: step, power, price."""
    trajectory = answer.day.trajectory
    chosen = corners(trajectory.times_s, trajectory.temperatures_c, MOST_POINTS)
    ends_s = np.array([phase.end_s for phase in answer.day.phases])
    rows = []
    for index in chosen:
        time_s = float(trajectory.times_s[index])
        place = min(int(np.searchsorted(ends_s, time_s, side="left")), len(ends_s) - 1)
        phase = answer.day.phases[place]
        rows.append(
            {
                "time_s": time_s,
                "clock": clock_text(answer, time_s),
                f"temperature_{temperature_key(show)}": float(
                    show.temperature_number(float(trajectory.temperatures_c[index]))
                ),
                "step": phase.step,
                "phase": phase.phase,
                "power_w": phase.mean_w,
                "price": _price_text(answer, time_s),
            }
        )
    return frame_of(rows)


def _price_text(answer: Answer, time_s: float) -> str:
    if answer.price is None:
        return ""
    line = answer.price.line
    second = int(answer.start.timestamp() + time_s)
    return f"{int(line.micro_per_kwh[line.index_at(second)]) / 1e6:.3f} {line.currency}/kWh"


def price_table(answer: Answer) -> "pd.DataFrame":
    """Prices during the day as spans of time; ``rank`` counts the different prices from the cheapest, 0."""
    columns = ("start_s", "end_s", "price_per_kwh", "currency", "band", "rank", "text")
    price = answer.price
    if price is None:
        return frame_of([], columns)
    line, first_s, last_s = price.line, first_second(answer), answer.day.duration_s
    edges_s = line.edges_s - answer.start.timestamp()
    inside = np.flatnonzero((edges_s[1:] > first_s) & (edges_s[:-1] < last_s))
    spans: list[dict[str, Any]] = []
    for index in inside:
        micro, name = int(line.micro_per_kwh[index]), line.name_at(int(line.edges_s[index]))
        start_s, end_s = max(float(edges_s[index]), first_s), min(float(edges_s[index + 1]), last_s)
        if spans and (spans[-1]["price_per_kwh"], spans[-1]["band"]) == (micro / 1e6, name):
            spans[-1]["end_s"] = end_s
            continue
        spans.append({"start_s": start_s, "end_s": end_s, "price_per_kwh": micro / 1e6,
                      "currency": line.currency, "band": name})  # fmt: skip
    spans = thinned(spans, MOST_PRICES, lambda span: span["end_s"] - span["start_s"])
    levels = sorted({span["price_per_kwh"] for span in spans})
    for span in spans:
        span["rank"] = levels.index(span["price_per_kwh"])
        span["text"] = f"{span['price_per_kwh']:.3f} {line.currency}/kWh"
    return frame_of(spans, columns)


def event_table(answer: Answer, show: Display) -> "pd.DataFrame":
    """What people do during the day, by the clock; ``kind`` is action, addition or step."""
    rows = [
        {
            "time_s": event.time_s,
            "clock": clock_text(answer, event.time_s),
            "step": event.step,
            "kind": event.kind,
            "event": event_text(event, show),
        }
        for event in answer.day.events
    ]
    end_s = answer.day.duration_s
    done = {"time_s": end_s, "clock": clock_text(answer, end_s), "step": "", "kind": "end", "event": "Done"}
    return frame_of([*rows, done])


def hour_table(answer: Answer) -> "pd.DataFrame":
    """Whole hours of the local clock during the day, for the ticks of an axis."""
    first_s, last_s = first_second(answer), answer.day.duration_s
    every = next(hours for hours in (1, 2, 3, 6, 12, 24, 10**6) if (last_s - first_s) / 3600 / hours <= 12)
    rows = []
    # From quarter to quarter of an hour in UTC, so that zones off by 30 or 45 minutes and clock changes are met.
    begin = int((answer.start.timestamp() + first_s) // 900) * 900
    for second in range(begin, int(answer.start.timestamp() + last_s) + 1, 900):
        time_s = second - answer.start.timestamp()
        local = answer.clock(time_s)
        if first_s <= time_s and local.minute == 0 and local.hour % min(every, 24) == 0:
            rows.append({"time_s": time_s, "clock": f"{local:%H:%M}"})
    return frame_of(rows, ("time_s", "clock"))


def first_second(answer: Answer) -> float:
    """Second at which the first appliance of the day is switched on; 0, or before it."""
    return min(0.0, *(float(profile.edges_s[0]) for profile in answer.day.profiles))
