"""What more time buys: ways to brew the day, minutes against cost or energy."""

from collections.abc import Sequence
from typing import Any

from energyplan.faces.charts.chartparts import Document, finished, named, tooltips
from energyplan.faces.charts.charttheme import ChartLook
from energyplan.report.besttables import Choice
from energyplan.report.tableparts import frame_of

__all__ = ["best_chart"]

HEIGHT = 320
ROOM = 0.15  # beyond the outermost points


def best_chart(choices: Sequence[Choice], look: ChartLook, *, description: str) -> Document:
    """Draw choices as points with their numbers; the plan as it is stands as a square.

    Parameters
    ----------
    choices : sequence of Choice
        `energyplan.report.besttables.choices_of` gives them.
    look : ChartLook
        Colours.
    description : str
        What the chart shows, for those who hear it.
    """
    import altair as alt

    options = [one.option for one in choices]
    title = "Energy, kWh" if options[0].cost is None else f"Cost, {options[0].cost.currency}"
    minutes, values = [one.minutes for one in options], [one.value for one in options]
    x = alt.X("duration_min:Q", axis=alt.Axis(title="From start to end, min", grid=False, tickCount=6),
              scale=alt.Scale(domain=_wide(minutes, 20.0), nice=False))  # fmt: skip
    y = alt.Y("value:Q", axis=alt.Axis(title=title, tickCount=6), scale=alt.Scale(domain=_wide(values, 0.2), nice=True))
    shape = alt.Shape("kind:N", scale=alt.Scale(domain=["as it is", "other"], range=["square", "circle"]), legend=None)
    told = tooltips(way="Way", duration_min="From start to end, min|.0f", value=f"{title}|.2f", energy_kwh="kWh|.2f",
                    peak="Largest current, A")  # fmt: skip
    points = (
        named("ways")
        .mark_point(filled=True, size=420, opacity=1, color=look.accent, stroke=look.paper, strokeWidth=1.5)
        .encode(x, y, shape, tooltip=told)
    )
    numbers = named("ways").mark_text(baseline="middle", fontSize=13, dy=1, color=look.paper)
    layers = [points, numbers.encode(x, y, alt.Text("number:N"))]
    frame = frame_of(_point(one) for one in choices)
    return finished(layers, {"ways": frame}, look, height=HEIGHT, description=description)


def _wide(numbers: Sequence[float], least: float) -> list[float]:
    """The span of some numbers with room on both sides; never below zero where none is."""
    room = max(ROOM * (max(numbers) - min(numbers)), least)
    low = min(numbers) - room
    return [max(low, 0.0) if min(numbers) >= 0 else low, max(numbers) + room]


def _point(one: Choice) -> dict[str, Any]:
    option = one.option
    return {
        "number": str(one.number),
        "way": one.name,
        "duration_min": option.minutes,
        "value": option.value,
        "energy_kwh": option.energy_kwh,
        "peak": "" if option.peak_a is None else f"{option.peak_a:.1f}",
        "kind": "as it is" if one.is_as_it_is else "other",
    }
