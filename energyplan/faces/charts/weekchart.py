"""Charts of prices over a week and of the cost of every start."""

from typing import TYPE_CHECKING, Any

from energyplan.base.errors import visible
from energyplan.base.kinds import CLOCK, DAY, write
from energyplan.base.money import currency_decimals
from energyplan.faces.charts.charttheme import DARK, ChartLook, Document, finished, haloed, named, tooltips
from energyplan.faces.frames import frame
from energyplan.telling.told import Table, Told

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["cost_by_start", "week_chart", "week_frame"]

ROW_HEIGHT, AROUND = 38, 70


TICK_MIN = 180


LETTER_PX = 7


DARK_FROM = 0.55  # share of the colour scale from which words are written in the colour of the paper


def week_frame(week: Table) -> "pd.DataFrame":
    """Stretches of a week as rectangles, with their words and whether these are written on dark."""
    import pandas as pd

    prices = [float(row["price_per_kwh"].per_kwh) for row in week if row["price_per_kwh"]]
    low, span = min(prices, default=0.0), max(max(prices, default=0.0) - min(prices, default=0.0), 1e-6)
    return pd.DataFrame([_rectangle(row, low, span) for row in week])


def _rectangle(row: dict[str, Any], low: float, span: float) -> dict[str, Any]:
    price = float(row["price_per_kwh"].per_kwh) if row["price_per_kwh"] else None
    band = visible(row["band"])
    short = "?" if price is None else f"{price:.3f}"
    return {
        "day": _day_name(row),
        "from_min": row["from_min"],
        "to_min": row["to_min"],
        "hours": f"{write(CLOCK(row['from_min']))} to {write(CLOCK(row['to_min']))}",
        "band": band,
        "price": price,
        "short": short,
        "long": band if price is None else f"{band} {short}",
        "on_dark": price is not None and (price - low) / span >= DARK_FROM,
    }


def _day_name(row: dict[str, Any]) -> str:
    return write(DAY(row["day"])) + ("*" if row["holiday"] else "")


def week_chart(told: Told, look: ChartLook, *, description: str) -> Document:
    """Draw a week, a row for each day, coloured by price and with the price written in it.

    Parameters
    ----------
    told : Told
        `energyplan.telling.prices.prices_told`: its table ``week``.
    look : ChartLook
        Colours.
    description : str
        What the chart shows, for those who hear it.
    """
    import altair as alt

    week, currency = told.facts["week"], told.facts["currency"].raw
    frame, dear = week_frame(week), "lighter" if look is DARK else "darker"
    ticks = alt.Axis(
        values=list(range(0, 1441, TICK_MIN)), labelExpr="format(datum.value / 60, '02d') + ':00'", grid=False,
        title=f"Clock. {currency} a kWh, the {dear} the dearer",
    )  # fmt: skip
    scale = alt.Scale(domain=[0, 1440], nice=False)
    x, x2 = alt.X("from_min:Q", axis=ticks, scale=scale), alt.X2("to_min:Q")
    days = list(dict.fromkeys(_day_name(row) for row in week))
    y = alt.Y("day:N", title=None, sort=days, scale=alt.Scale(domain=days, paddingInner=0.12))
    colour = alt.Color("price:Q", scale=alt.Scale(range=list(look.costs), interpolate="lab", zero=False), legend=None)
    hints = tooltips(day="Day", hours="Clock", band="Band", price=f"Price, {currency}/kWh|.4f")
    cells = named("week").mark_rect(stroke=look.paper, strokeWidth=1).encode(x, x2, y, colour, tooltip=hints)
    layers = [cells, *(_words(name, ink, scale, y) for name, ink in (("light", look.ink), ("dark", look.paper)))]
    middle = frame.assign(middle_min=(frame["from_min"] + frame["to_min"]) / 2)
    data = {"week": frame, "light": middle[~middle["on_dark"]], "dark": middle[middle["on_dark"]]}
    return finished(layers, data, look, height=ROW_HEIGHT * max(len(days), 1) + AROUND, description=description)


def _words(name: str, ink: str, scale: Any, y: Any) -> Any:
    """Band and price where both have room, else the price, else nothing."""
    import altair as alt

    room = f"(datum.to_min - datum.from_min) * width / 1440 / {LETTER_PX}"
    fitting = f"{room} > length(datum.long) ? datum.long : {room} > length(datum.short) ? datum.short : ''"
    return (
        named(name)
        .transform_calculate(shown=fitting)
        .mark_text(baseline="middle", fontSize=12, color=ink)
        .encode(alt.X("middle_min:Q", scale=scale), y, alt.Text("shown:N"))
    )


HEIGHT = 300


HOUR_LABELS = "floor(datum.value / 60) < 10 ? '0' + floor(datum.value / 60) + ':00' : floor(datum.value / 60) + ':00'"


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
    hours = alt.Axis(values=list(range(0, 1441, 120)), labelExpr=HOUR_LABELS, title=f"Start, {zone}", labelAngle=0)
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
