"""Charts of prices over a week and of the cost of every start."""

from typing import TYPE_CHECKING, Any

from energyplan.base.errors import visible
from energyplan.base.kinds import CLOCK, DAY, write
from energyplan.base.money import ESTIMATE_MARK, currency_decimals
from energyplan.faces.charttheme import DARK, ChartLook, Document, field, finished, haloed, layer, mark, tooltips
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
    week, currency = told.facts["week"], told.facts["currency"].raw
    frame, dear = week_frame(week), "lighter" if look is DARK else "darker"
    ticks = {
        "values": list(range(0, 1441, TICK_MIN)), "labelExpr": "format(datum.value / 60, '02d') + ':00'", "grid": False,
        "title": f"Clock. {currency} a kWh, the {dear} the dearer",
    }  # fmt: skip
    scale = {"domain": [0, 1440], "nice": False}
    days = list(dict.fromkeys(_day_name(row) for row in week))
    y = field("day:N", title=None, sort=days, scale={"domain": days, "paddingInner": 0.12})
    shades = {"range": list(look.costs), "interpolate": "lab", "zero": False}
    hints = tooltips(day="Day", hours="Clock", band="Band", price=f"Price, {currency}/kWh|.4f")
    cells = layer(
        "week", mark("rect", stroke=look.paper, strokeWidth=1), x=field("from_min:Q", axis=ticks, scale=scale),
        x2={"field": "to_min"}, y=y, color=field("price:Q", scale=shades, legend=None), tooltip=hints,
    )  # fmt: skip
    layers = [cells, *(_words(name, ink, scale, y) for name, ink in (("light", look.ink), ("dark", look.paper)))]
    middle = frame.assign(middle_min=(frame["from_min"] + frame["to_min"]) / 2)
    data = {"week": frame, "light": middle[~middle["on_dark"]], "dark": middle[middle["on_dark"]]}
    return finished(layers, data, look, height=ROW_HEIGHT * max(len(days), 1) + AROUND, description=description)


def _words(name: str, ink: str, scale: Document, y: Document) -> Document:
    """Band and price where both have room, else the price, else nothing."""
    room = f"(datum.to_min - datum.from_min) * width / 1440 / {LETTER_PX}"
    fitting = f"{room} > length(datum.long) ? datum.long : {room} > length(datum.short) ? datum.short : ''"
    letters = mark("text", baseline="middle", fontSize=12, color=ink)
    said = layer(name, letters, x=field("middle_min:Q", scale=scale), y=y, text=field("shown:N"))
    return said | {"transform": [{"calculate": fitting, "as": "shown"}]}


MOST_HEIGHT, LEAST_ROW, MOST_ROW = 560, 72, 240  # px, of the picture and of a kind of day


# A row for a kind of day is 1 high; the curve keeps to the part of it that leaves room for words above and below.
STRIP_TOP, STRIP_END, CURVE_TOP, CURVE_END = 0.02, 0.94, 0.28, 0.78


HOUR_LABELS = "floor(datum.value / 60) < 10 ? '0' + floor(datum.value / 60) + ':00' : floor(datum.value / 60) + ':00'"


def cost_by_start(told: Told, look: ChartLook, *, description: str) -> Document:
    """Draw the prices of each kind of day as a strip, and over it the cost of the day by the clock of its start.

    All curves share one scale: the lowest cost of all stands low in its row, the highest high; the marked starts carry
    their cost.

    Parameters
    ----------
    told : Told
        `energyplan.telling.starts.starts_told`: its tables ``by_kind``, ``prices`` and ``marks``.
    look : ChartLook
        Colours.
    description : str
        What the chart shows, for those who hear it.
    """
    currency, zone = told.facts["currency"].raw, told.facts["time_zone"].raw
    data = _start_frames(told)
    kinds = int(data["costs"]["kind"].max()) + 1
    guess = ", partly estimated" if any(row["cost"].is_estimate for row in told.facts["by_kind"]) else ""
    hours = {
        "values": list(range(0, 1441, 180)), "labelExpr": HOUR_LABELS, "labelAngle": 0, "grid": False,
        "title": f"Start, {zone}",
    }  # fmt: skip
    x = field("minute:Q", axis=hours, scale={"domain": [0, 1440], "nice": False})
    y = field("y:Q", axis=None, scale={"domain": [0, kinds], "reverse": True, "nice": False})
    layers = [*_strip(x, y, look, currency), *_curve(x, y, look, f"Cost{guess}, {currency}", currency)]
    height = kinds * min(max(MOST_HEIGHT // kinds, LEAST_ROW), MOST_ROW)
    return finished(layers, data, look, height=height, description=description)


def _start_frames(told: Told) -> "dict[str, pd.DataFrame]":
    """Costs and marks at their height in their row, prices as rectangles."""
    import pandas as pd

    costs, marks = frame(told.facts["by_kind"]), frame(told.facts["marks"])
    low, high = float(costs["cost"].min()), float(costs["cost"].max())

    def height(cost: float) -> float:
        share = 0.5 if high == low else (cost - low) / (high - low)
        return CURVE_END - (CURVE_END - CURVE_TOP) * share

    for one in (costs, marks):
        one["y"] = [kind + height(float(cost)) for kind, cost in zip(one["kind"], one["cost"], strict=True)]
    steps = costs["minute"].diff().where(costs["kind"].diff() == 0)
    costs["run"] = (steps.isna() | (steps > steps.min())).cumsum()
    prices = pd.DataFrame(
        {
            "minute": row["from_min"], "to_min": row["to_min"], "y": row["kind"] + STRIP_TOP,
            "y2": row["kind"] + STRIP_END, "price": float(row["price"].per_kwh), "band": visible(row["band"]),
            "short": ESTIMATE_MARK * row["price"].is_estimate + f"{float(row['price'].per_kwh):.3f}",
            "days": row["days"],
        }
        for row in told.facts["prices"]
    )  # fmt: skip
    days = costs.drop_duplicates("kind")[["kind", "days"]].assign(minute=0)
    days["y"] = days["kind"] + STRIP_END
    return {"costs": costs, "marks": marks, "prices": prices, "kinds": days}


def _strip(x: Document, y: Document, look: ChartLook, currency: str) -> list[Document]:
    """Prices, the dearer the darker in the light theme, each with its number where that has room."""
    shades = {"range": [look.prices[0], look.prices[-1]], "interpolate": "lab", "zero": False}
    span = {"x": x, "x2": {"field": "to_min"}, "y": y, "y2": {"field": "y2"}}
    hints = tooltips(days="Days", band="Band", price=f"Price, {currency}/kWh|.4f")
    short = f"(datum.to_min - datum.minute) * width / 1440 > {LETTER_PX} * length(datum.short) ? datum.short : ''"
    number = mark("text", align="left", baseline="top", dx=3, dy=2, fontSize=11, color=look.ink)
    name = mark("text", align="left", baseline="bottom", dx=3, dy=-3, fontWeight=600, color=look.ink)
    return [
        layer("prices", mark("rect"), **span, color=field("price:Q", scale=shades, legend=None), tooltip=hints),
        layer("prices", number, x=x, y=y, text=field("shown:N")) | {"transform": [{"calculate": short, "as": "shown"}]},
        layer("kinds", name, x=x, y=y, text=field("days:N")),
    ]


def _curve(x: Document, y: Document, look: ChartLook, title: str, currency: str) -> list[Document]:
    """What the day costs by its start, broken where no start is allowed, with the marked starts."""
    hints = tooltips(days="Days", cost=f"{title}|.{currency_decimals(currency)}f")
    at, runs = {"x": x, "y": y}, field("run:N")
    # The start asked about has its words below the line, so that those of the best and the dearest do not meet them.
    words = [
        layer("marks", letters, **at, text=field("label:N")) | {"transform": [{"filter": f"{side} && {place}"}]}
        for align, dx, side in (("left", 8, "datum.minute < 900"), ("right", -8, "datum.minute >= 900"))
        for dy, place in ((-10, "datum.text != 'now'"), (16, "datum.text == 'now'"))
        for letters in haloed(look, look.ink, align=align, dx=dx, dy=dy)
    ]
    return [
        layer("costs", mark("line", color=look.paper, strokeWidth=5, opacity=0.8), **at, detail=runs),
        layer("costs", mark("line", color=look.ink, strokeWidth=2.2), **at, detail=runs),
        layer("costs", mark("point", opacity=0, size=60), **at, tooltip=hints),
        layer("marks", mark("point", filled=True, size=100, color=look.over, opacity=1), **at),
        *words,
    ]
