"""Days by hours on the terminal: what is told by the hour as shades, with a legend that names each."""

from rich.text import Text

from energyplan.base.kinds import PLAIN, Style, write
from energyplan.base.money import Money
from energyplan.base.sentence import Span, words
from energyplan.telling.told import Table

__all__ = ["HOURS", "hour_picture"]

SHADES = "░▒▓█"
MOST_DAYS = 14
LABEL = 13  # letters of a day's name
#: Hours of the day over a picture with two letters for each.
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
    lines = ["darker is dearer"]
    for mark in SHADES:
        inside = sorted(units for units, its in shade.items() if its == mark)
        if inside:
            low, high = (Money(units=units, currency=currency) for units in (inside[0], inside[-1]))
            lines.append(f"{mark}{mark} {words(Span(kind, low, high), style)}")
    if any(cost is None for cost in (row["cost"] for row in table)):
        lines.append("blank: not allowed")
    return [Text(f"{'':{LABEL}}{'   '.join(lines[at : at + 2])}", style="dim") for at in range(0, len(lines), 2)]
