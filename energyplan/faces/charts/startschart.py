"""The starts of some days by their cost: one curve for each kind of day."""

from energyplan.base.money import currency_decimals
from energyplan.faces.charts.chartparts import Document, finished, haloed, named, tooltips
from energyplan.faces.charts.charttheme import ChartLook
from energyplan.faces.frames import frame
from energyplan.telling.told import Told

__all__ = ["cost_by_start"]

HEIGHT = 300
CLOCK = "floor(datum.value / 60) < 10 ? '0' + floor(datum.value / 60) + ':00' : floor(datum.value / 60) + ':00'"


def cost_by_start(told: Told, look: ChartLook, *, description: str) -> Document:
    """Draw the cost of a day over the clock time of its start, one curve for all days that cost the same.

    Parameters
    ----------
    told : Told
        `energyplan.telling.starts.starts_told`: its tables ``by_kind`` and ``marks``.
    look : ChartLook
        Colours.
    description : str
        What the chart shows, for those who hear it.
    """
    import altair as alt

    currency, zone = told.facts["currency"].raw, told.facts["time_zone"].raw
    costs, marks = frame(told.facts["by_kind"]), frame(told.facts["marks"])
    guess = ", partly estimated" if any(row["cost"].is_estimate for row in told.facts["by_kind"]) else ""
    kinds, digits = list(dict.fromkeys(costs["days"])), f".{currency_decimals(currency)}f"
    hours = alt.Axis(values=list(range(0, 1441, 120)), labelExpr=CLOCK, title=f"Start, {zone}", labelAngle=0)
    x = alt.X("minute:Q", axis=hours, scale=alt.Scale(domain=[0, 1440]))
    axis = alt.Axis(format=digits, title=f"The day costs{guess}, {currency}")
    y = alt.Y("cost:Q", axis=axis, scale=alt.Scale(zero=False))
    dashes = alt.Scale(domain=kinds, range=[[1, 0], [6, 3], [2, 2], [8, 2, 2, 2]][: len(kinds)])
    days = alt.StrokeDash(
        "days:N",
        scale=dashes,
        legend=alt.Legend(title=None, orient="top", symbolType="stroke", symbolSize=400, symbolStrokeColor=look.ink),
    )
    hints = tooltips(days="Days", cost=f"Cost{guess}, {currency}|{digits}")
    curve = named("costs").mark_line(color=look.ink, strokeWidth=2.5).encode(x, y, days)
    seen = named("costs").mark_point(opacity=0, size=60).encode(x, y, tooltip=hints)
    points = named("marks").mark_point(filled=True, size=110, color=look.over, opacity=1).encode(x, y)
    words = [layer.encode(x, y, alt.Text("text:N")) for layer in haloed("marks", look, look.ink, dy=-14)]
    data = {"costs": costs, "marks": marks}
    return finished([curve, seen, points, *words], data, look, height=HEIGHT, description=description)
