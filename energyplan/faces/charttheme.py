"""How all charts look: colours of both themes, fonts, and the marks that charts share."""

import math
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, TypeAlias

from energyplan.base.records import dataclass
from energyplan.faces.frames import Rows

if TYPE_CHECKING:
    import pandas as pd

__all__ = [
    "DARK",
    "LIGHT",
    "ChartLook",
    "Document",
    "bound",
    "chart_config",
    "chart_look",
    "clock_axis",
    "field",
    "finished",
    "haloed",
    "layer",
    "mark",
    "tooltips",
]

PHASE_COLOURS = {"ramp": "#C8553D", "hold": "#2F6690", "boil": "#7A4FA3", "pause": "#9AA5AB", "chill": "#2A8C7E"}
PHASE_COLOURS_DARK = {"ramp": "#F08A72", "hold": "#7DB6E3", "boil": "#C09BE3", "pause": "#A9B4BA", "chill": "#74D3C4"}
SEVERITY_COLOURS = {"over": "#B3261E", "unknown": "#3D4F7D", "note": "#8A5A00", "ok": "#1B1B1B"}
SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"
FONT = '"Source Sans", "Source Sans 3", "DejaVu Sans", sans-serif'


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChartLook:
    """Colours of one theme. ``prices`` run from cheap to dear; ``appliances`` are taken in their order."""

    ink: str
    faint: str
    grid: str
    paper: str
    phases: Mapping[str, str]
    prices: tuple[str, ...]
    appliances: tuple[str, ...]
    over: str
    accent: str
    costs: tuple[str, str, str]


LIGHT = ChartLook(
    ink="#1B2226",
    faint="#56636A",
    grid="#D8DEDC",
    paper="#FFFFFF",
    phases=PHASE_COLOURS,
    prices=("#F7F9F7", "#EDF1ED", "#E1E8E2", "#D4DDD6", "#C6D1C9"),
    appliances=("#2F6690", "#E0A458", "#6B3F63", "#9CC3A5", "#35404A", "#C9B7D8", "#7A5C2E", "#B8C7CE"),
    over="#B3261E",
    accent="#0B5CAD",
    costs=("#F1F5F0", "#8FAE9F", "#1F4A43"),
)


DARK = ChartLook(
    ink="#E8EDEE",
    faint="#A9B4BA",
    grid="#37434A",
    paper="#12171A",
    phases=PHASE_COLOURS_DARK,
    prices=("#191F22", "#212A2C", "#2A3636", "#344342", "#3F504D"),
    appliances=("#7DB6E3", "#A8702A", "#D9C2EC", "#57856A", "#EBDBB4", "#7A6390", "#CFDBE0", "#6C7F8B"),
    over="#FF8A80",
    accent="#8CC8FF",
    costs=("#1C2527", "#4F7A70", "#CFE8DC"),
)


def chart_look(*, dark: bool) -> ChartLook:
    """The look of a theme.

    >>> chart_look(dark=True).paper
    '#12171A'
    """
    return DARK if dark else LIGHT


def chart_config(look: ChartLook) -> dict[str, Any]:
    """Settings of Vega-Lite that every chart shares: quiet axes, our font, no frame."""
    text = {"labelFont": FONT, "titleFont": FONT, "labelColor": look.ink, "titleColor": look.ink}
    return {
        "background": "transparent",
        "font": FONT,
        "view": {"stroke": None},
        "axis": {
            **text, "labelFontSize": 12, "titleFontSize": 12, "titleFontWeight": "normal", "gridColor": look.grid,
            "domainColor": look.faint, "tickColor": look.faint, "labelOverlap": "greedy", "titlePadding": 8,
        },
        "legend": {
            **text, "labelFontSize": 12, "titleFontSize": 12, "titleFontWeight": "normal", "orient": "top",
            "direction": "horizontal", "symbolType": "square", "symbolSize": 110, "offset": 4,
            "labelLimit": 150, "columns": {"expr": "max(2, floor(width / 160))"},
        },
        # Hundreds of marks read aloud one by one help nobody: the chart's words and the table behind it do.
        "mark": {"aria": False},
        "text": {"font": FONT, "fontSize": 12, "color": look.ink},
    }  # fmt: skip


Document: TypeAlias = dict[str, Any]  # a chart as Vega-Lite says it


_TYPES = {"Q": "quantitative", "N": "nominal", "O": "ordinal"}


def field(column: str, **how: Any) -> Document:
    """A channel that shows a column: its name, a colon and the type of its values.

    >>> field("power_kw:Q", axis=None)
    {'field': 'power_kw', 'type': 'quantitative', 'axis': None}
    """
    name, _, kind = column.rpartition(":")
    return {"field": name, "type": _TYPES[kind], **how}


def mark(kind: str, **how: Any) -> Document:
    """A kind of mark and how it looks."""
    return {"type": kind, **how}


def layer(data: str, drawn: Document, **channels: Any) -> Document:
    """One layer of a chart: a mark for each row of one of its data sets."""
    return {"data": {"name": data}, "mark": drawn, "encoding": channels}


def haloed(look: ChartLook, ink: str, **letters: Any) -> list[Document]:
    """Two marks of words, one on the other: an edge of paper behind, so that words read on lines and areas."""
    edge = {"color": look.paper, "stroke": look.paper, "strokeWidth": 6, "strokeJoin": "round"}
    return [mark("text", **letters, **edge), mark("text", **letters, color=ink)]


def bound(name: str) -> Document:
    """A number that is kept in the only row of the data set ``bounds``.

    What draws a chart puts other data into the one that is there as long as all else is alike, and makes it anew when
    a number in it is another; so what hangs on the day stands in the data. `finished` adds what keeps them.

    >>> bound("last_s")
    {'expr': "data('bounds')[0].last_s"}
    """
    return {"expr": f"data('bounds')[0].{name}"}


def clock_axis(zone: str) -> Callable[[str], Document]:
    """Seconds along x, written as hours of the local clock: a channel for each column of times.

    The data set ``hours`` has rows with time_s and clock, where the ticks stand and what they say; ``bounds`` has
    first_s and last_s.

    Parameters
    ----------
    zone : str
        Name of the clock's zone, for the title.
    """
    ticks = "pluck(data('hours'), 'time_s')"
    axis = {
        "values": {"expr": ticks}, "labelExpr": f"data('hours')[indexof({ticks}, datum.value)].clock",
        "title": f"Clock, {zone}", "grid": False,
    }  # fmt: skip
    scale = {"domain": [bound("first_s"), bound("last_s")], "nice": False, "zero": False}
    return lambda column: field(f"{column}:Q", axis=axis, scale=scale)


KEPT = ("bounds", "hours")  # data sets that scales and axes read: they are there only if a layer names them
NO_ROW = {"transform": [{"filter": "false"}]}


def tooltips(**titles: str) -> list[Document]:
    """Lines of a tooltip: column to title; a title that ends in a unit with a number format is told as a number.

    ``power_kw="Mean power, kW|.2f"`` shows two decimals, ``step="Step"`` plain text.
    """
    lines = []
    for column, words in titles.items():
        title, _, number = words.partition("|")
        shown = {"format": number} if number else {}
        lines.append(field(f"{column}:{'Q' if number else 'N'}", title=title, **shown))
    return lines


def finished(
    layers: Sequence[Document], data: "Mapping[str, Rows | pd.DataFrame]", look: ChartLook, **properties: Any
) -> Document:
    """Put layers together with their data, the size, the settings and the words for those who hear the chart.

    Parameters
    ----------
    layers : sequence of dict
        From back to front.
    data : mapping of str to rows or DataFrame
        The data sets that the layers name.
    look : ChartLook
        Colours.
    **properties
        Of the chart: height, description, resolve.
    """
    return {
        "$schema": SCHEMA,
        "layer": [*layers, *(layer(name, mark("point")) | NO_ROW for name in KEPT if name in data)],
        "width": "container",
        "datasets": {name: _plain(given) for name, given in data.items()},
        "config": chart_config(look),
        **properties,
    }


def _plain(given: "Rows | pd.DataFrame") -> Rows:
    """Rows as plain Python, with nothing where a number is missing."""
    if isinstance(given, list):
        return given
    columns = [str(name) for name in given.columns]
    return [
        {
            name: None if isinstance(value, float) and math.isnan(value) else value
            for name, value in zip(columns, row, strict=True)
        }
        for row in zip(*(given[name].tolist() for name in given.columns), strict=True)
    ]
