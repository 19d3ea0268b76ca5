"""Pictures in letters for the terminal: the day as a strip, costs by the hour, residuals of a fit."""

from collections.abc import Callable, Iterator, Sequence
from itertools import groupby
from typing import Any

import numpy as np
from rich.console import Console, ConsoleOptions, RenderResult
from rich.text import Text

from energyplan.base.kinds import KELVIN, PLAIN, PRICE, WRITTEN, Price, Style, write
from energyplan.base.money import Money
from energyplan.base.records import dataclass
from energyplan.base.sentence import Span, words
from energyplan.faces.charttheme import PHASE_COLOURS
from energyplan.telling.told import Table, Told, cell

__all__ = ["Strip", "hour_picture", "residual_plot", "week_picture"]

MOST_WIDE, LEAST_WIDE = 76, 20


PHASES = ("ramp", "hold", "boil", "pause", "chill")


MARKS, ASCII_MARKS = "▲■●·▼", "/=o.v"


SHADES, ASCII_SHADES = "▁▂▃▄▅▆▇█", "12345678"


@dataclass(frozen=True, slots=True)
class Strip:
    """A picture of the day (`energyplan.telling.picture.strip_told`) in marks; in ASCII where there are no others."""

    told: Told
    style: Style = PLAIN

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        wide = max(min(MOST_WIDE, options.max_width), LEAST_WIDE)
        first_s, last_s = (self.told.facts[key].raw for key in ("first_s", "last_s"))
        seconds = [first_s + (place + 0.5) / wide * (last_s - first_s) for place in range(wide)]
        plain = options.ascii_only
        marks = dict(zip(PHASES, ASCII_MARKS if plain else MARKS, strict=True))
        yield _phases(self.told.table("vessel"), seconds, marks)
        shades = _shades(len(self.told.table("levels").rows), ASCII_SHADES if plain else SHADES)
        if shades:
            yield _prices(self.told.table("prices"), seconds, shades)
        yield _hours(self.told.table("hours"), wide, first_s, last_s)
        yield Text("  ".join([*self._named_marks(marks), *self._named_shades(shades)]), style="dim")

    def _named_marks(self, marks: dict[str, str]) -> Iterator[str]:
        there = {row["phase"] for row in self.told.table("vessel")}
        return (f"{marks[phase]} {phase}" for phase in PHASES if phase in there)

    def _named_shades(self, shades: str) -> Iterator[str]:
        """Every shade with its price, the unit once."""
        table = self.told.table("levels")
        names = [words(found, self.style) for row in table.rows if (found := cell(table.columns[1], row[1]))]
        for place, (shade, name) in enumerate(zip(shades, names, strict=True)):
            number, _, unit = name.rpartition(" ")
            yield f"{shade} {name}" if place == len(names) - 1 else f"{shade} {number.replace(f' {unit}', '')}"


def _shades(levels: int, of: str) -> str:
    """So many shades, from the lowest to the highest, apart from each other."""
    steps = max(levels - 1, 1)
    return "".join(of[round(place * (len(of) - 1) / steps)] for place in range(levels))


def _phases(table: Table, seconds: Sequence[float], marks: dict[str, str]) -> Text:
    bar, rows = Text(), list(table)
    there = [next((row["phase"] for row in rows if row["start_s"] <= at_s < row["end_s"]), "") for at_s in seconds]
    for phase, same in groupby(there):
        bar.append(marks.get(phase, " ") * len(list(same)), style=PHASE_COLOURS.get(phase, ""))
    return bar


def _prices(table: Table, seconds: Sequence[float], shades: str) -> Text:
    rows = list(table)
    levels = [next((row["level"] for row in rows if row["start_s"] <= at_s < row["end_s"]), None) for at_s in seconds]
    return Text("".join(" " if level is None else shades[level] for level in levels), style="#7C8A80")


def _hours(table: Table, wide: int, first_s: float, last_s: float) -> Text:
    """Full hours of the local clock, each written from its place on."""
    cells, free = [" "] * wide, 0
    for row in table:
        place, label = int((row["time_s"] - first_s) / (last_s - first_s) * wide), row["clock"].raw
        if free <= place <= wide - len(label):
            cells[place : place + len(label)] = label
            free = place + len(label) + 1
    return Text("".join(cells).rstrip(), style="dim")


HOURPICTURE_SHADES = "░▒▓█"
MOST_DAYS = 14
LABEL = 13  # letters of a day's name
LETTERS = "abcdefgh"
CELL_MIN = 30
UNKNOWN = "?"
HOURS = " " * LABEL + "".join(f"{hour:<6d}" for hour in range(0, 24, 3))


def hour_picture(table: Table, style: Style = PLAIN) -> list[Text]:
    """Rows of days, columns of hours; darker is dearer, blank has no start.

    Parameters
    ----------
    table : Table
        Columns day, hour and cost.
    """
    rows = list(table)
    days = list(dict.fromkeys(row["day"] for row in rows))
    costs = [row["cost"] for row in rows if row["cost"] is not None]
    shade = _hourpicture_shades(costs)
    lines = [Text(HOURS, style="dim")]
    for day in days[:MOST_DAYS]:
        own = {row["hour"]: row["cost"] for row in rows if row["day"] == day}
        cells = "".join(shade.get(cost.units, " ") * 2 if (cost := own.get(hour)) else "  " for hour in range(24))
        lines.append(Text(f"{write(table.columns[0].kind(day), style):{LABEL}}{cells}".rstrip()))
    if len(days) > MOST_DAYS:
        lines.append(Text(f"{'':{LABEL}}and {len(days) - MOST_DAYS} more days", style="dim"))
    return [*lines, *_legend(costs, shade, table, style)]


def _hourpicture_shades(costs: list[Money]) -> dict[int, str]:
    """A shade for each cost: one each while they are few, else by equal steps between the lowest and the highest."""
    distinct = sorted({cost.units for cost in costs})
    if len(distinct) <= len(HOURPICTURE_SHADES):
        return dict(zip(distinct, HOURPICTURE_SHADES, strict=False))
    low, span = distinct[0], distinct[-1] - distinct[0]
    return {
        units: HOURPICTURE_SHADES[min((units - low) * len(HOURPICTURE_SHADES) // span, len(HOURPICTURE_SHADES) - 1)]
        for units in distinct
    }


def _legend(costs: list[Money], shade: dict[int, str], table: Table, style: Style) -> list[Text]:
    kind, currency = table.columns[2].kind, costs[0].currency if costs else ""
    guessed = {cost.units for cost in costs if cost.is_estimate}
    lines = ["darker is dearer"]
    for mark in HOURPICTURE_SHADES:
        inside = sorted(units for units, its in shade.items() if its == mark)
        if inside:
            is_estimate = not guessed.isdisjoint(inside)
            ends = (inside[0], inside[-1])
            low, high = (Money(units=units, currency=currency, is_estimate=is_estimate) for units in ends)
            lines.append(f"{mark}{mark} {words(Span(kind, low, high), style)}")
    if any(cost is None for cost in (row["cost"] for row in table)):
        lines.append("blank: no start")
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
        return HOURPICTURE_SHADES[
            min(int((price - low) / (high - low) * len(HOURPICTURE_SHADES)), len(HOURPICTURE_SHADES) - 1)
        ]

    legend = []
    for mark in HOURPICTURE_SHADES:
        inside = [price for price, band in prices if shade(price, band) == mark]
        if inside:
            low_price, high_price = (Price(price, currency) for price in (inside[0], inside[-1]))
            legend.append(f"{mark} {words(Span(PRICE, low_price, high_price), style)}")
    return shade, legend


def _half_hour(rows: list[dict[str, Any]], minute: int, mark: Mark) -> str:
    row = next((row for row in rows if row["from_min"] <= minute < row["to_min"]), None)
    price = row["price_per_kwh"] if row else None
    return mark(price.per_kwh, row["band"]) if row and price else UNKNOWN


COLUMNS, ROWS = 64, 9


RESIDUALS_MARKS = "•×+○"


def residual_plot(fit: Table, style: Style = PLAIN) -> Text:
    """Plot measured less fitted temperature over time: means over columns, one mark per stretch.

    A bow says that something changed on the way (lid, air, pump).
    """
    if not fit.rows:
        return Text("")
    minutes, measured_c, fitted_c, stretches = (np.array(values) for values in zip(*fit.rows, strict=True))
    left_k, first, last = measured_c - fitted_c, float(minutes.min()), float(minutes.max())
    columns = ((minutes - first) / max(last - first, 1 / 60) * (COLUMNS - 1)).astype(int)
    reach_k = float(max(np.abs(left_k).max(), 1e-3))
    page = [[" "] * COLUMNS for _ in range(ROWS)]
    middle = ROWS // 2
    page[middle] = ["─"] * COLUMNS
    for column in np.unique(columns):
        for stretch in np.unique(stretches[columns == column]):
            inside = (columns == column) & (stretches == stretch)
            row = middle - round(float(left_k[inside].mean()) / reach_k * middle)
            page[row][column] = RESIDUALS_MARKS[int(stretch) % len(RESIDUALS_MARKS)]
    reach = write(KELVIN(reach_k), style)
    labels = {0: f"+{reach}", middle: "0", ROWS - 1: f"-{reach}"}
    lines = [f"{labels.get(row, ''):>8} {''.join(cells).rstrip()}" for row, cells in enumerate(page)]
    begin = f"{first:.0f} min"
    lines.append(f"{'':>8} {begin}{f'{last:.0f} min':>{COLUMNS - len(begin)}}")
    return Text("\n".join(lines))
