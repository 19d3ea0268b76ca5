"""Charts of told tables: one function a chart, one place that makes pictures of them."""

import math
from collections.abc import Sequence
from itertools import groupby
from typing import TYPE_CHECKING, Any

from energyplan.base.kinds import PLAIN, Style
from energyplan.base.records import dataclass
from energyplan.base.units import Display
from energyplan.faces.charttheme import (
    LIGHT,
    ChartLook,
    Document,
    field,
    finished,
    haloed,
    layer,
    mark,
    tooltips,
)
from energyplan.faces.daychart import current_chart, day_chart
from energyplan.faces.frames import Rows
from energyplan.telling.told import Told

if TYPE_CHECKING:
    import pandas as pd

__all__ = [
    "Picture",
    "SagMarks",
    "beside_chart",
    "best_chart",
    "current_chart",
    "current_picture",
    "day_chart",
    "day_picture",
    "fit_chart",
    "picture_png",
    "picture_svg",
    "power_bars",
    "ranked_bars",
    "sag_curve",
    "sag_marks",
]

HEIGHT = 340
BAR_HEIGHT = 42
POWER_ROW = 50
AROUND = 130  # legend and axis take this much of the height
_SIDE = "datum.on_left ? {} : {}"


@dataclass(frozen=True, slots=True, kw_only=True)
class SagMarks:
    """What a sag curve is read against: the target and how far it may sag, in the curve's unit, and named caps [W]."""

    target: float
    band: float
    caps: tuple[tuple[str, float], ...]


def sag_marks(target_c: float, band_k: float, show: Display, caps: tuple[tuple[str, float], ...]) -> SagMarks:
    """Target and band of a curve in the displayed unit, with the caps [W] to mark by name."""
    target, low = (float(show.temperature_number(value)) for value in (target_c, target_c - band_k))
    return SagMarks(target=target, band=target - low, caps=caps)


def sag_curve(curve: "pd.DataFrame", marks: SagMarks, look: ChartLook, *, description: str) -> Document:
    """Draw the lowest temperature of a hold against its cap.

    Parameters
    ----------
    curve : DataFrame
        Columns cap_w and lowest_c (or lowest_f).
    marks : SagMarks
        Target, band and the caps to mark.
    look : ChartLook
        Colours.
    description : str
        What the chart shows, for those who hear it.
    """
    column = next(str(name) for name in curve.columns if str(name).startswith("lowest_"))
    unit = "°C" if column.endswith("_c") else "°F"
    low = min(float(curve[column].min()), marks.target - 4 * marks.band)
    top = marks.target + (marks.target - low) * 0.2
    scale = {"domain": [low, top], "nice": False, "zero": False}
    y = field(f"{column}:Q", title=f"Lowest temperature, {unit}", axis={"tickCount": 6}, scale=scale)
    most_w = max([float(curve["cap_w"].max()), *(cap_w for _, cap_w in marks.caps)])
    axis = {"title": "Cap on the power while holding, W", "tickCount": 8, "grid": False}
    x = field("cap_w:Q", axis=axis, scale={"domain": [0, most_w * 1.12], "nice": False})
    told = tooltips(cap_w="Cap, W|.0f", **{column: f"Lowest, {unit}|.1f"})
    blue, high = look.phases["hold"], field("high:Q", scale=scale)
    words = mark("text", align="right", baseline="bottom", dx=-6, dy=-4, fontSize=12, color=look.ink)
    letters: dict[str, Any] = {
        "baseline": "bottom", "fontSize": 12, "align": {"expr": _SIDE.format("'right'", "'left'")},
        "dx": {"expr": _SIDE.format(-5, 5)},
    }  # fmt: skip
    names = {"x": x, "y": field("y:Q", scale=scale), "text": field("text:N")}
    data: dict[str, Rows | pd.DataFrame] = {
        "curve": curve,
        "zone": _zone(marks, unit),
        "caps": _caps(marks, low, top, most_w * 1.12),
    }
    layers = [
        layer("zone", mark("rect", color=look.prices[3]), y=field("low:Q", scale=scale), y2={"field": "high"}),
        layer("zone", words, x={"value": "width"}, y=high, text=field("text:N")),
        layer("curve", mark("line", color=blue, strokeWidth=2.6), x=x, y=y),
        layer("curve", mark("point", color=blue, filled=True, size=16, opacity=1), x=x, y=y, tooltip=told),
        layer("caps", mark("rule", color=look.ink, strokeDash=[5, 4], strokeWidth=1.4), x=x),
        *(layer("caps", word, **names) for word in haloed(look, look.ink, **letters)),
    ]
    return finished(layers, data, look, height=HEIGHT, description=description)


def _zone(marks: SagMarks, unit: str) -> Rows:
    text = f"band: target less {marks.band:.1f} {'K' if unit == '°C' else unit}"
    return [{"low": marks.target - marks.band, "high": marks.target, "text": text}]


def _caps(marks: SagMarks, low: float, top: float, end_w: float) -> Rows:
    """Marked caps, equal ones under one name; the names one above the other, on the side that has room."""
    lift = (top - low) * 0.075
    ordered = sorted(marks.caps, key=lambda cap: cap[1])
    named_caps = [
        (", ".join(name for name, _ in group), cap_w) for cap_w, group in groupby(ordered, key=lambda cap: cap[1])
    ]
    return [
        {
            "cap_w": cap_w,
            "text": f"{names}: {cap_w:.0f} W",
            "y": low + lift * (0.4 + place),
            "on_left": cap_w > end_w / 2,
        }
        for place, (names, cap_w) in enumerate(named_caps)
    ]


def power_bars(bars: "pd.DataFrame", look: ChartLook, *, description: str) -> Document:
    """Draw the power of each hold and boil as a bar against all elements, with what it needs and what is advised.

    Parameters
    ----------
    bars : DataFrame
        One row per hold or boil: step, phase, bar (its words), set_w, needed_w, needed_19_of_20_w, advised_w, most_w.
    look : ChartLook
        Colours.
    description : str
        What the chart shows, for those who hear it.
    """
    order = list(range(len(bars)))
    end_w = float(bars[[name for name in bars.columns if str(name).endswith("_w")]].to_numpy().max())
    scale, axis = {"domain": [0, end_w], "nice": False}, {"title": "Power, W", "tickCount": 6}
    told = tooltips(step="Step", set_w="Set, W|.0f", needed_w="Needs, W|.0f", needed_19_of_20_w="19 of 20, W|.0f",
                    advised_w="Advised, W|.0f", most_w="All elements, W|.0f")  # fmt: skip
    y = field("place:O", title=None, sort=order, axis=None)

    def row(column: str, drawn: Document, **channels: Any) -> Document:
        x = field(f"{column}:Q", scale=scale, axis=axis)
        return layer("bars", {**drawn, "yOffset": 9}, x=x, y=y, **channels)

    names = list(dict.fromkeys(bars["phase"]))
    hue = field("phase:N", scale={"domain": names, "range": [look.phases[name] for name in names]}, legend=None)
    diamond = mark("point", shape="diamond", filled=True, size=150, color=look.accent, stroke=look.paper, opacity=1)
    room = {"expr": "width - 4"}  # a step may have a long name, and a phone is narrow
    letters = haloed(look, look.ink, align="left", baseline="bottom", dx=2, dy=-3, fontSize=13, limit=room)
    layers = [
        row("most_w", mark("bar", color=look.grid, height=14), tooltip=told),
        row("set_w", mark("bar", height=14), color=hue, tooltip=told),
        row("needed_w", mark("tick", color=look.ink, thickness=1.5, size=22)),
        row("needed_19_of_20_w", mark("tick", color=look.ink, thickness=4, size=22)),
        row("advised_w", diamond, tooltip=told),
        *(layer("bars", word, x={"value": 0}, y=y, text=field("bar:N")) for word in letters),
    ]
    data = {"bars": bars.assign(place=order)}
    return finished(layers, data, look, height=POWER_ROW * max(len(order), 1) + AROUND // 3, description=description)


def ranked_bars(
    frame: "pd.DataFrame", look: ChartLook, *, label: str, value: str, title: str, description: str
) -> Document:
    """Draw horizontal bars in the order of the frame, each with its number.

    Parameters
    ----------
    frame : DataFrame
        One row per bar, at most 60; ``text`` is written at the end of the bar.
    look : ChartLook
        Colours.
    label, value : str
        Columns of the names and of the lengths.
    title : str
        Title of the axis, with its unit.
    description : str
        What the chart shows, for those who hear it.
    """
    # The words stand above their bar: a column of labels would leave no room for bars on a phone.
    order = list(frame[label])
    y = field(f"{label}:N", title=None, sort=order, axis=None)
    x = field(f"{value}:Q", title=title, axis={"tickCount": 5})
    bar = mark("bar", color=look.accent, height=12, yOffset=9, cornerRadiusEnd=2)
    letters = haloed(look, look.ink, align="left", baseline="bottom", dx=2, dy=0, fontSize=13)
    layers = [
        layer("bars", bar, x=x, y=y, tooltip=tooltips(**{label: "What", "text": "Worth"})),
        *(layer("bars", word, x={"value": 0}, y=y, text=field("words:N")) for word in letters),
    ]
    data = {"bars": frame.assign(words=[f"{name}: {text}" for name, text in zip(order, frame["text"], strict=True)])}
    height = BAR_HEIGHT * max(len(order), 2) + AROUND // 2
    return finished(layers, data, look, height=height, description=description)


def fit_chart(frame: "pd.DataFrame", look: ChartLook, *, description: str) -> Document:
    """Draw the readings of a log as points and the fit as lines.

    Parameters
    ----------
    frame : DataFrame
        The points of `energyplan.telling.learning`.
    look : ChartLook
        Colours.
    description : str
        What the chart shows, for those who hear it.
    """
    measured = next(str(name) for name in frame.columns if str(name).startswith("measured_"))
    fitted, unit = measured.replace("measured", "fitted"), "°C" if measured.endswith("_c") else "°F"
    lows, highs = (pick(frame[[measured, fitted]].to_numpy().ravel()) for pick in (min, max))
    scale = {"domain": [float(lows), float(highs)], "nice": True, "zero": False}
    axis = {"title": f"Temperature, {unit}", "tickCount": 6}
    over = {"title": "Time from the start of the log, min", "tickCount": 8, "grid": False}
    x = field("time_min:Q", axis=over, scale={"nice": False, "zero": False})
    told = tooltips(time_min="Time, min|.0f", **{measured: f"Measured, {unit}|.1f", fitted: f"Fitted, {unit}|.1f"})
    point = mark("point", filled=True, size=26, color=look.phases["hold"], opacity=0.9)
    y, y_fitted = (field(f"{column}:Q", axis=axis, scale=scale) for column in (measured, fitted))
    layers = [
        layer("fit", point, x=x, y=y, tooltip=told),
        layer("fit", mark("line", color=look.over, strokeWidth=2), x=x, y=y_fitted, detail=field("stretch:N")),
    ]
    return finished(layers, {"fit": frame}, look, height=HEIGHT, description=description)


BESTCHART_HEIGHT = 320
ROOM = 0.15  # beyond the outermost points


def best_chart(ways: "pd.DataFrame", look: ChartLook, *, currency: str = "", description: str) -> Document:
    """Draw ways as points with their numbers; the first, the plan as it is, stands as a square.

    Parameters
    ----------
    ways : DataFrame
        The table ``ways`` of `energyplan.telling.best.ways_told`, raw.
    look : ChartLook
        Colours.
    currency : str
        Of the costs; "" weighs the energy.
    description : str
        What the chart shows, for those who hear it.
    """
    title = f"Cost, {currency}" if currency else "Energy, kWh"
    drawn = _points(ways, "cost" if currency else "energy_kwh")
    minutes, values = list(drawn["duration_min"]), list(drawn["value"])
    across = {"title": "From start to end, min", "grid": False, "tickCount": 6}
    x = field("duration_min:Q", axis=across, scale={"domain": _wide(minutes, 20.0), "nice": False})
    up = {"domain": _wide(values, 0.2), "nice": True}
    y = field("value:Q", axis={"title": title, "tickCount": 6}, scale=up)
    shape = field("kind:N", scale={"domain": ["as it is", "other"], "range": ["square", "circle"]}, legend=None)
    told = tooltips(way="Way", duration_min="From start to end, min|.0f", value=f"{title}|.2f", energy_kwh="kWh|.2f",
                    peak="Largest current, A")  # fmt: skip
    point = mark("point", filled=True, size=420, opacity=1, color=look.accent, stroke=look.paper, strokeWidth=1.5)
    number = mark("text", baseline="middle", fontSize=13, dy=1, color=look.paper)
    layers = [
        layer("ways", point, x=x, y=y, shape=shape, tooltip=told),
        layer("ways", number, x=x, y=y, text=field("number:N")),
    ]
    return finished(layers, {"ways": drawn}, look, height=BESTCHART_HEIGHT, description=description)


def _wide(numbers: Sequence[float], least: float) -> list[float]:
    """The span of some numbers with room on both sides; never below zero where none is."""
    room = max(ROOM * (max(numbers) - min(numbers)), least)
    low = min(numbers) - room
    return [max(low, 0.0) if min(numbers) >= 0 else low, max(numbers) + room]


def _points(ways: "pd.DataFrame", value: str) -> "pd.DataFrame":
    peaks = ["" if peak is None or math.isnan(peak) else f"{peak:.1f}" for peak in ways["peak_a"]]
    return ways[["way", "energy_kwh"]].assign(
        number=ways["number"].astype(str),
        duration_min=ways["minutes"],
        value=ways[value].astype(float),
        peak=peaks,
        kind=["as it is", *["other"] * (len(ways) - 1)],
    )


BESIDECHART_HEIGHT = 340


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
    column = next(str(name) for name in courses.columns if str(name).startswith("temperature_"))
    unit = "°C" if column.endswith("_c") else "°F"
    lines = list(dict.fromkeys(courses["line"]))
    over = {"title": "Time from switching on, min", "tickCount": 8, "grid": False}
    legend = {"title": None, "symbolType": "stroke", "symbolStrokeWidth": 3, "labelLimit": 280}
    hues, dashes = [look.ink, look.accent][: len(lines)], [[6, 4], [1, 0]][: len(lines)]
    drawn = layer(
        "lines",
        mark("line", strokeWidth=2.2),
        x=field("time_min:Q", axis=over, scale={"nice": False, "zero": False}),
        y=field(f"{column}:Q", axis={"title": f"Temperature, {unit}", "tickCount": 6}, scale={"zero": False}),
        color=field("line:N", scale={"domain": lines, "range": hues}, legend=legend),
        strokeDash=field("line:N", scale={"domain": lines, "range": dashes}, legend=legend),
        detail=field("line:N"),
        tooltip=tooltips(line="", time_min="Time, min|.0f", **{column: f"Temperature, {unit}|.1f"}),
    )
    return finished([drawn], {"lines": courses}, look, height=BESIDECHART_HEIGHT, description=description)


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A chart as a Vega-Lite document, with what it shows in words."""

    document: Document
    words: str


def day_picture(told: Told, style: Style = PLAIN, *, width_px: int = 960, height_px: int = 400) -> Picture:
    """The chart of the day (`energyplan.telling.picture.picture_told`)."""
    chart = day_chart(told, LIGHT, style)
    return _sized(chart, chart["description"], width_px, height_px)


def current_picture(told: Told, style: Style = PLAIN, *, width_px: int = 960, height_px: int = 340) -> Picture:
    """The chart of the current against the ratings (`energyplan.telling.currents.currents_told`)."""
    chart = current_chart(told, LIGHT, style, height_px=height_px)
    return _sized(chart, chart["description"], width_px, height_px)


def _sized(chart: Document, words: str, width_px: int, height_px: int) -> Picture:
    # Paper has no pointer: what only answers to one is neither worked out nor set. It is no narrow window either: words
    # of ratings and axes have room, and what needs no cutting need not be measured for it.
    layers = [
        {
            **layer,
            "mark": {name: value for name, value in layer["mark"].items() if name != "limit"},
            "encoding": {name: channel for name, channel in layer["encoding"].items() if name != "tooltip"},
        }
        for layer in chart["layer"]
        if "params" not in layer
    ]
    config = {**chart["config"], "axis": {**chart["config"]["axis"], "labelLimit": 0, "titleLimit": 0}}
    size = {"width": width_px, "height": height_px}
    return Picture(document={**chart, "layer": layers, "config": config, **size, "background": "white"}, words=words)


def picture_svg(picture: Picture) -> str:
    """The picture as SVG with text as text."""
    import vl_convert

    return str(vl_convert.vegalite_to_svg(picture.document))


def picture_png(picture: Picture, *, scale: float = 2.0) -> bytes:
    """The picture as PNG, with ``scale`` dots for each of its pixels."""
    import vl_convert

    return bytes(vl_convert.vegalite_to_png(picture.document, scale=scale))
