"""A tariff's resolved week: what a kWh costs in every hour of seven days, as a chart and as a table."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING, Any

from energyplan.faces.charts.chartparts import Document, finished, named, tooltips
from energyplan.faces.charts.charttheme import DARK, ChartLook
from energyplan.report.tableparts import frame_of
from energyplan.tariffs.dayrules import clock_text
from energyplan.tariffs.tariff import Tariff
from energyplan.tariffs.tariffcheck import BandStretch, WeekDay

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["WeekPrices", "week_chart", "week_prices", "week_table"]

ROW_HEIGHT, AROUND = 38, 70
MOST_ROWS = 60  # a table of more stretches is told day by day
TICK_MIN = 180
LETTER_PX = 7
SERIES = "price series"
DARK_FROM = 0.55  # share of the colour scale from which words are written in the colour of the paper


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekPrices:
    """The lowest and the highest price of a week, and where they stand.

    Parameters
    ----------
    lowest, highest : tuple of (float, str)
        Price [currency/kWh], and the band or the day and hour.
    currency : str
        ISO 4217 code.
    without_min : int
        Minutes of the week that have no price.
    """

    lowest: tuple[float, str]
    highest: tuple[float, str]
    currency: str
    without_min: int


def week_prices(week: Sequence[WeekDay], tariff: Tariff) -> WeekPrices | None:
    """Tell the span of prices of a week; None where no minute has a price."""
    known = _names(tariff)
    priced = [(day, stretch) for day in week for stretch in day.stretches if stretch.band in known]
    if not priced:
        return None
    by_name = len({stretch.band for _, stretch in priced}) > 1
    low, high = (pick(priced, key=lambda one: one[1].micro_per_kwh) for pick in (min, max))
    return WeekPrices(
        lowest=(low[1].micro_per_kwh / 1e6, _place(*low, by_name=by_name)),
        highest=(high[1].micro_per_kwh / 1e6, _place(*high, by_name=by_name)),
        currency=tariff.currency,
        without_min=sum(part.minutes for day in week for part in day.stretches if part.band not in known),
    )


def _place(day: WeekDay, stretch: BandStretch, *, by_name: bool) -> str:
    return stretch.band if by_name else f"{day.day:%a} {clock_text(stretch.from_min)}"


def _names(tariff: Tariff) -> frozenset[str]:
    """What a stretch with a price may be called; elsewhere its name says why it has none."""
    return frozenset(band.name for band in tariff.table.band) if tariff.table.band else frozenset({SERIES})


def week_frame(week: Sequence[WeekDay], tariff: Tariff) -> "pd.DataFrame":
    """Stretches of a week as rectangles, with their words and whether these are written on dark."""
    names = _names(tariff)
    prices = [part.micro_per_kwh for day in week for part in day.stretches if part.band in names]
    low, span = min(prices, default=0), max(max(prices, default=0) - min(prices, default=0), 1)
    rows = []
    for day, part in ((one, part) for one in week for part in one.stretches):
        known, price = part.band in names, part.micro_per_kwh / 1e6
        rows.append(
            {
                "day": _day_name(day),
                "from_min": part.from_min,
                "to_min": part.to_min,
                "hours": f"{clock_text(part.from_min)} to {clock_text(part.to_min)}",
                "band": part.band,
                "price": price if known else None,
                "short": f"{price:.3f}" if known else "?",
                "long": f"{part.band} {price:.3f}" if known else part.band,
                "on_dark": known and (part.micro_per_kwh - low) / span >= DARK_FROM,
            }
        )
    return frame_of(rows)


def _day_name(day: WeekDay) -> str:
    return f"{day.day:%a %d %b}" + ("*" if day.holiday else "")


def week_chart(week: Sequence[WeekDay], tariff: Tariff, look: ChartLook, *, description: str) -> Document:
    """Draw a week, a row for each day, coloured by price and with the price written in it.

    Parameters
    ----------
    week : sequence of WeekDay
        `energyplan.tariffs.tariffcheck.check_tariff` gives it.
    tariff : Tariff
        Whose week it is.
    look : ChartLook
        Colours.
    description : str
        What the chart shows, for those who hear it.
    """
    import altair as alt

    frame, dear = week_frame(week, tariff), "lighter" if look is DARK else "darker"
    ticks = alt.Axis(
        values=list(range(0, 1441, TICK_MIN)), labelExpr="format(datum.value / 60, '02d') + ':00'", grid=False,
        title=f"Clock. {tariff.currency} a kWh, the {dear} the dearer",
    )  # fmt: skip
    scale = alt.Scale(domain=[0, 1440], nice=False)
    x, x2 = alt.X("from_min:Q", axis=ticks, scale=scale), alt.X2("to_min:Q")
    days = [_day_name(day) for day in week]
    y = alt.Y("day:N", title=None, sort=days, scale=alt.Scale(domain=days, paddingInner=0.12))
    colour = alt.Color("price:Q", scale=alt.Scale(range=list(look.costs), interpolate="lab", zero=False), legend=None)
    told = tooltips(day="Day", hours="Clock", band="Band", price=f"Price, {tariff.currency}/kWh|.4f")
    cells = named("week").mark_rect(stroke=look.paper, strokeWidth=1).encode(x, x2, y, colour, tooltip=told)
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


def week_table(week: Sequence[WeekDay], tariff: Tariff) -> "pd.DataFrame":
    """The week as a table: days alike on one row for each stretch; where that gets long, a row for each day.

    Columns of prices are in units of the currency for a kWh, tax and add-ons included.
    """
    names = _names(tariff)
    rows = list(_stretch_rows(week, names))
    if len(rows) <= MOST_ROWS:
        return frame_of(rows, ("days", "from", "to", "price", "band"))
    columns = ("day", "lowest", "lowest_from", "mean", "highest", "highest_from")
    return frame_of((_day_row(day, names) for day in week), columns)


def _stretch_rows(week: Sequence[WeekDay], known: frozenset[str]) -> Iterator[dict[str, Any]]:
    for stretches, days in groupby(week, key=lambda day: day.stretches):
        names = [f"{day.day:%a}" for day in days]
        for part in stretches:
            yield {
                "days": names[0] if len(names) == 1 else f"{names[0]} to {names[-1]}",
                "from": clock_text(part.from_min),
                "to": clock_text(part.to_min),
                "band": part.band,
                "price": part.micro_per_kwh / 1e6 if part.band in known else None,
            }


def _day_row(day: WeekDay, known: frozenset[str]) -> dict[str, Any]:
    """One day of a long list: its lowest, mean and highest price, and when the lowest and the highest begin."""
    parts = [part for part in day.stretches if part.band in known]
    if not parts:
        return {"day": _day_name(day)}
    low, high = (pick(parts, key=lambda part: part.micro_per_kwh) for pick in (min, max))
    minutes = sum(part.minutes for part in parts)
    return {
        "day": _day_name(day),
        "lowest": low.micro_per_kwh / 1e6,
        "lowest_from": clock_text(low.from_min),
        "mean": sum(part.minutes * part.micro_per_kwh for part in parts) / minutes / 1e6,
        "highest": high.micro_per_kwh / 1e6,
        "highest_from": clock_text(high.from_min),
    }
