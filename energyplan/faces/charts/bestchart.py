"""Charts that put days or ways to brew beside each other."""

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from energyplan.faces.charts.chartparts import Document, finished, named, tooltips
from energyplan.faces.charts.charttheme import ChartLook

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["beside_chart", "best_chart"]

HEIGHT = 320


ROOM = 0.15  # beyond the outermost points


def best_chart(ways: "pd.DataFrame", look: ChartLook, *, currency: str = "", description: str) -> Document:
    """Draw ways as points with their numbers; the first, the plan as it is, stands as a square.

    Parameters
    ----------
    ways : DataFrame
        The table ``ways`` of `energyplan.telling.best.ways_told`, raw.
    look : ChartLook
        Colours.
    currency : str
        Of the costs; "" weighs the energy.
    description : str
        What the chart shows, for those who hear it.
    """
    import altair as alt

    title = f"Cost, {currency}" if currency else "Energy, kWh"
    drawn = _points(ways, "cost" if currency else "energy_kwh")
    minutes, values = list(drawn["duration_min"]), list(drawn["value"])
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
    return finished(layers, {"ways": drawn}, look, height=HEIGHT, description=description)


def _wide(numbers: Sequence[float], least: float) -> list[float]:
    """The span of some numbers with room on both sides; never below zero where none is."""
    room = max(ROOM * (max(numbers) - min(numbers)), least)
    low = min(numbers) - room
    return [max(low, 0.0) if min(numbers) >= 0 else low, max(numbers) + room]


def _points(ways: "pd.DataFrame", value: str) -> "pd.DataFrame":
    peaks = ["" if peak is None or math.isnan(peak) else f"{peak:.1f}" for peak in ways["peak_a"]]
    return ways[["way", "energy_kwh"]].assign(
        number=ways["number"].astype(str),
        duration_min=ways["minutes"],
        value=ways[value].astype(float),
        peak=peaks,
        kind=["as it is", *["other"] * (len(ways) - 1)],
    )


BESIDECHART_HEIGHT = 340


def beside_chart(courses: "pd.DataFrame", look: ChartLook, *, description: str) -> Document:
    """Draw courses of temperature, told apart by dashes as well as by colour.

    Parameters
    ----------
    courses : DataFrame
        `energyplan.telling.comparison.courses_table`, raw in the units of the reader.
    look : ChartLook
        Colours.
    description : str
        What the chart shows, for those who hear it.
    """
    import altair as alt

    column = next(str(name) for name in courses.columns if str(name).startswith("temperature_"))
    unit = "°C" if column.endswith("_c") else "°F"
    lines = list(dict.fromkeys(courses["line"]))
    over = alt.Axis(title="Time from switching on, min", tickCount=8, grid=False)
    x = alt.X("time_min:Q", axis=over, scale=alt.Scale(nice=False, zero=False))
    y = alt.Y(f"{column}:Q", axis=alt.Axis(title=f"Temperature, {unit}", tickCount=6), scale=alt.Scale(zero=False))
    colours = [look.ink, look.accent][: len(lines)]
    legend = alt.Legend(title=None, symbolType="stroke", symbolStrokeWidth=3, labelLimit=280)
    colour = alt.Color("line:N", scale=alt.Scale(domain=lines, range=colours), legend=legend)
    dash = alt.StrokeDash("line:N", scale=alt.Scale(domain=lines, range=[[6, 4], [1, 0]][: len(lines)]), legend=legend)
    told = tooltips(line="", time_min="Time, min|.0f", **{column: f"Temperature, {unit}|.1f"})
    drawn = named("lines").mark_line(strokeWidth=2.2).encode(x, y, colour, dash, alt.Detail("line:N"), tooltip=told)
    return finished([drawn], {"lines": courses}, look, height=BESIDECHART_HEIGHT, description=description)
