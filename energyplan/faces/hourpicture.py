"""Days by hours on the terminal: costs and prices as shades or letters, with a legend that names each."""

from collections.abc import Callable
from typing import Any

from rich.text import Text

from energyplan.base.kinds import PLAIN, PRICE, WRITTEN, Price, Style, write
from energyplan.base.money import Money
from energyplan.base.sentence import Span, words
from energyplan.telling.told import Table

__all__ = ["hour_picture", "week_picture"]

SHADES = "░▒▓█"
MOST_DAYS = 14
LABEL = 13  # letters of a day's name
LETTERS = "abcdefgh"
CELL_MIN = 30
UNKNOWN = "?"
HOURS = " " * LABEL + "".join(f"{hour:<6d}" for hour in range(0, 24, 3))


def hour_picture(table: Table, style: Style = PLAIN) -> list[Text]:
    """Rows of days, columns of hours; darker is dearer, blank is not allowed.

    Parameters
    ----------
    table : Table
        Columns day, hour and cost.
    """
    rows = list(table)
    days = list(dict.fromkeys(row["day"] for row in rows))
    costs = [row["cost"] for row in rows if row["cost"] is not None]
    shade = _shades(costs)
    lines = [Text(HOURS, style="dim")]
    for day in days[:MOST_DAYS]:
        own = {row["hour"]: row["cost"] for row in rows if row["day"] == day}
        cells = "".join(shade.get(cost.units, " ") * 2 if (cost := own.get(hour)) else "  " for hour in range(24))
        lines.append(Text(f"{write(table.columns[0].kind(day), style):{LABEL}}{cells}".rstrip()))
    if len(days) > MOST_DAYS:
        lines.append(Text(f"{'':{LABEL}}and {len(days) - MOST_DAYS} more days", style="dim"))
    return [*lines, *_legend(costs, shade, table, style)]


def _shades(costs: list[Money]) -> dict[int, str]:
    """A shade for each cost: one each while they are few, else by equal steps between the lowest and the highest."""
    distinct = sorted({cost.units for cost in costs})
    if len(distinct) <= len(SHADES):
        return dict(zip(distinct, SHADES, strict=False))
    low, span = distinct[0], distinct[-1] - distinct[0]
    return {units: SHADES[min((units - low) * len(SHADES) // span, len(SHADES) - 1)] for units in distinct}


def _legend(costs: list[Money], shade: dict[int, str], table: Table, style: Style) -> list[Text]:
    kind, currency = table.columns[2].kind, costs[0].currency if costs else ""
    guessed = {cost.units for cost in costs if cost.is_estimate}
    lines = ["darker is dearer"]
    for mark in SHADES:
        inside = sorted(units for units, its in shade.items() if its == mark)
        if inside:
            is_estimate = not guessed.isdisjoint(inside)
            ends = (inside[0], inside[-1])
            low, high = (Money(units=units, currency=currency, is_estimate=is_estimate) for units in ends)
            lines.append(f"{mark}{mark} {words(Span(kind, low, high), style)}")
    if any(cost is None for cost in (row["cost"] for row in table)):
        lines.append("blank: not allowed")
    return [Text(f"{'':{LABEL}}{'   '.join(lines[at : at + 2])}", style="dim") for at in range(0, len(lines), 2)]


def week_picture(table: Table, style: Style = PLAIN) -> list[Text]:
    """Seven days by half hours: a letter for each band and price, or shades where there are many prices.

    Parameters
    ----------
    table : Table
        Columns day, holiday, from_min, to_min, band and price_per_kwh.
    """
    rows = list(table)
    prices = sorted({(row["price_per_kwh"].per_kwh, row["band"]) for row in rows if row["price_per_kwh"]})
    currency = next((row["price_per_kwh"].currency for row in rows if row["price_per_kwh"]), "")
    mark, legend = _letters(prices, currency, style) if len(prices) <= len(LETTERS) else _bins(prices, currency, style)
    lines = [Text(HOURS, style="dim")]
    for day in dict.fromkeys(row["day"] for row in rows):
        own = [row for row in rows if row["day"] == day]
        cells = "".join(_half_hour(own, minute, mark) for minute in range(0, 24 * 60, CELL_MIN))
        holiday = write(WRITTEN(own[0]["holiday"]), style)
        lines.append(Text(f"{write(table.columns[0].kind(day), style):{LABEL}}{cells}  {holiday}".rstrip()))
    unknown = [f"{UNKNOWN} no price"] if any(row["price_per_kwh"] is None for row in rows) else []
    return [*lines, *(Text(f"{'':{LABEL}}{line}", style="dim") for line in (*legend, *unknown))]


Prices = list[tuple[float, str]]
Mark = Callable[[float, str], str]


def _letters(prices: Prices, currency: str, style: Style) -> tuple[Mark, list[str]]:
    marks = dict(zip(prices, LETTERS, strict=False))
    legend = [
        f"{mark} {write(WRITTEN(band), style)}: {write(PRICE(Price(price, currency)), style)}"
        for (price, band), mark in marks.items()
    ]
    return lambda price, band: marks[price, band], legend


def _bins(prices: Prices, currency: str, style: Style) -> tuple[Mark, list[str]]:
    low, high = prices[0][0], prices[-1][0]

    def shade(price: float, _band: str) -> str:
        return SHADES[min(int((price - low) / (high - low) * len(SHADES)), len(SHADES) - 1)]

    legend = []
    for mark in SHADES:
        inside = [price for price, band in prices if shade(price, band) == mark]
        if inside:
            low_price, high_price = (Price(price, currency) for price in (inside[0], inside[-1]))
            legend.append(f"{mark} {words(Span(PRICE, low_price, high_price), style)}")
    return shade, legend


def _half_hour(rows: list[dict[str, Any]], minute: int, mark: Mark) -> str:
    row = next((row for row in rows if row["from_min"] <= minute < row["to_min"]), None)
    price = row["price_per_kwh"] if row else None
    return mark(price.per_kwh, row["band"]) if row and price else UNKNOWN
