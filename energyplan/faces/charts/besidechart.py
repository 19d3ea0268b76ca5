"""Two courses of temperature over the same minutes: two plans, or a plan and its log."""

from typing import TYPE_CHECKING

from energyplan.faces.charts.chartparts import Document, finished, named, tooltips
from energyplan.faces.charts.charttheme import ChartLook

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["beside_chart"]

HEIGHT = 340


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
    return finished([drawn], {"lines": courses}, look, height=HEIGHT, description=description)
