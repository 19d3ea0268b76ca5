"""The starts of some days by their cost, as a heat map of days and hours."""

from typing import TYPE_CHECKING

from energyplan.base.kinds import write
from energyplan.base.money import currency_decimals
from energyplan.faces.charts.chartparts import Document, finished, named, tooltips
from energyplan.faces.charts.charttheme import ChartLook
from energyplan.faces.frames import frame
from energyplan.telling.told import Table, Told

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["cost_by_start"]

ROW_HEIGHT = 30
AROUND = 130  # legend and axis take this much of the height


def cost_by_start(told: Told, look: ChartLook, *, description: str) -> Document:
    """Draw the cheapest start of each hour of each day as a heat map.

    Parameters
    ----------
    told : Told
        `energyplan.telling.starts.starts_told`: its tables ``by_hour`` and ``marks``.
    look : ChartLook
        Colours.
    description : str
        What the chart shows, for those who hear it.
    """
    import altair as alt

    by_hour, currency, zone = told.facts["by_hour"], told.facts["currency"].raw, told.facts["time_zone"].raw
    costs, marks = (_days_named(table) for table in (by_hour, told.facts["marks"]))
    guess = ", partly estimated" if any(row["cost"] and row["cost"].is_estimate for row in by_hour) else ""
    days, digits = list(dict.fromkeys(costs["day"])), f".{currency_decimals(currency)}f"
    narrow = "width > 430 || datum.value % 3 == 0 ? datum.label : ''"
    axis = alt.Axis(labelAngle=0, labelOverlap=False, labelExpr=narrow, title=f"Hour of the start, {zone}")
    x = alt.X("hour:O", axis=axis, scale=alt.Scale(domain=list(range(24)), paddingInner=0.04))
    y = alt.Y("day:N", title=None, sort=days, scale=alt.Scale(domain=days, paddingInner=0.06))
    colour = alt.Color(
        "cost:Q",
        scale=alt.Scale(range=list(look.costs), interpolate="lab", zero=False),
        legend=alt.Legend(
            title=f"Cost, {currency}{guess}: cheap to dear", gradientLength=200, format=digits, titleLimit=300
        ),
    )
    hints = tooltips(day="Day", hour="Hour", cost=f"Cheapest start, {currency}{guess}|{digits}")
    cells = named("costs").mark_rect(cornerRadius=2).encode(x, y, colour, tooltip=hints)
    known = list(dict.fromkeys(marks["text"]))
    shapes = alt.Scale(domain=known, range=["diamond", "circle", "square"][: len(known)])
    legend = alt.Legend(title=None, orient="bottom", symbolFillColor=look.paper)
    # Both marks are seen when they fall into one cell: the first stands around the second.
    size = alt.Size("text:N", scale=alt.Scale(domain=known, range=[420, 90, 90][: len(known)]), legend=legend)
    shape = alt.Shape("text:N", scale=shapes, legend=legend)
    points = (
        named("marks")
        .mark_point(filled=True, color=look.paper, stroke=look.over, strokeWidth=2.5, opacity=1)
        .encode(x, y, shape, size, tooltip=tooltips(text="Mark", day="Day", hour="Hour"))
    )
    height = ROW_HEIGHT * max(len(days), 3) + AROUND
    data = {"costs": costs, "marks": marks}
    return finished([cells] if marks.empty else [cells, points], data, look, height=height, description=description)


def _days_named(table: Table) -> "pd.DataFrame":
    """A table with its days in words."""
    kind = table.columns[0].kind
    return frame(table).assign(day=[write(kind(row["day"])) for row in table])
