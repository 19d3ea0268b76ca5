"""Charts of told tables: one function a chart, one place that makes pictures of them."""

import math
from collections.abc import Sequence
from itertools import groupby
from typing import TYPE_CHECKING, Any

from energyplan.base.kinds import PLAIN, Style
from energyplan.base.records import dataclass
from energyplan.base.units import Display
from energyplan.faces.charttheme import LIGHT, ChartLook, Document, at_pixel, finished, haloed, named, tooltips
from energyplan.faces.daychart import current_chart, day_chart
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
    import altair as alt

    column = next(str(name) for name in curve.columns if str(name).startswith("lowest_"))
    unit = "°C" if column.endswith("_c") else "°F"
    low = min(float(curve[column].min()), marks.target - 4 * marks.band)
    top = marks.target + (marks.target - low) * 0.2
    scale = alt.Scale(domain=[low, top], nice=False, zero=False)
    y = alt.Y(f"{column}:Q", title=f"Lowest temperature, {unit}", axis=alt.Axis(tickCount=6), scale=scale)
    most_w = max([float(curve["cap_w"].max()), *(cap_w for _, cap_w in marks.caps)])
    axis = alt.Axis(title="Cap on the power while holding, W", tickCount=8, grid=False)
    x = alt.X("cap_w:Q", axis=axis, scale=alt.Scale(domain=[0, most_w * 1.12], nice=False))
    told = tooltips(cap_w="Cap, W|.0f", **{column: f"Lowest, {unit}|.1f"})
    blue = look.phases["hold"]
    line = named("curve").mark_line(color=blue, strokeWidth=2.6).encode(x, y)
    points = named("curve").mark_point(color=blue, filled=True, size=16, opacity=1).encode(x, y, tooltip=told)
    within = named("zone").mark_rect(color=look.prices[3]).encode(alt.Y("low:Q", scale=scale), alt.Y2("high:Q"))
    end, high, text = at_pixel("x", "width"), alt.Y("high:Q", scale=scale), alt.Text("text:N")
    words = named("zone").mark_text(align="right", baseline="bottom", dx=-6, dy=-4, fontSize=12, color=look.ink)
    rules = named("caps").mark_rule(color=look.ink, strokeDash=[5, 4], strokeWidth=1.4).encode(x)
    letters: dict[str, Any] = {
        "baseline": "bottom",
        "fontSize": 12,
        "align": alt.ExprRef(_SIDE.format("'right'", "'left'")),
    }
    names = haloed("caps", look, look.ink, **letters, dx=alt.ExprRef(_SIDE.format(-5, 5)))
    data = {"curve": curve, "zone": _zone(marks, unit), "caps": _caps(marks, low, top, most_w * 1.12)}
    layers = [
        within,
        words.encode(end, high, text),
        line,
        points,
        rules,
        *(name.encode(x, alt.Y("y:Q", scale=scale), text) for name in names),
    ]
    return finished(layers, data, look, height=HEIGHT, description=description)


def _zone(marks: SagMarks, unit: str) -> "pd.DataFrame":
    import pandas as pd

    text = f"band: target less {marks.band:.1f} {'K' if unit == '°C' else unit}"
    return pd.DataFrame([{"low": marks.target - marks.band, "high": marks.target, "text": text}])


def _caps(marks: SagMarks, low: float, top: float, end_w: float) -> "pd.DataFrame":
    """Marked caps, equal ones under one name; the names one above the other, on the side that has room."""
    import pandas as pd

    lift = (top - low) * 0.075
    ordered = sorted(marks.caps, key=lambda cap: cap[1])
    named_caps = [
        (", ".join(name for name, _ in group), cap_w) for cap_w, group in groupby(ordered, key=lambda cap: cap[1])
    ]
    return pd.DataFrame(
        {
            "cap_w": cap_w,
            "text": f"{names}: {cap_w:.0f} W",
            "y": low + lift * (0.4 + place),
            "on_left": cap_w > end_w / 2,
        }
        for place, (names, cap_w) in enumerate(named_caps)
    )


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
    import altair as alt

    order = list(range(len(bars)))
    y = alt.Y("place:O", title=None, sort=order, axis=None)
    end_w = float(bars[[name for name in bars.columns if str(name).endswith("_w")]].to_numpy().max())
    scale, axis = alt.Scale(domain=[0, end_w], nice=False), alt.Axis(title="Power, W", tickCount=6)
    told = tooltips(step="Step", set_w="Set, W|.0f", needed_w="Needs, W|.0f", needed_19_of_20_w="19 of 20, W|.0f",
                    advised_w="Advised, W|.0f", most_w="All elements, W|.0f")  # fmt: skip

    def x(field: str) -> Any:
        return alt.X(f"{field}:Q", scale=scale, axis=axis)

    names = list(dict.fromkeys(bars["phase"]))
    hue = alt.Color("phase:N", scale=alt.Scale(domain=names, range=[look.phases[name] for name in names]), legend=None)
    low: dict[str, Any] = {"yOffset": 9}
    layers = [
        named("bars").mark_bar(color=look.grid, height=14, **low).encode(x("most_w"), y, tooltip=told),
        named("bars").mark_bar(height=14, **low).encode(x("set_w"), y, hue, tooltip=told),
        named("bars").mark_tick(color=look.ink, thickness=1.5, size=22, **low).encode(x("needed_w"), y),
        named("bars").mark_tick(color=look.ink, thickness=4, size=22, **low).encode(x("needed_19_of_20_w"), y),
        named("bars")
        .mark_point(shape="diamond", filled=True, size=150, color=look.accent, stroke=look.paper, opacity=1, **low)
        .encode(x("advised_w"), y, tooltip=told),
        *(
            word.encode(at_pixel("x", 0), y, alt.Text("bar:N"))
            for word in haloed("bars", look, look.ink, align="left", baseline="bottom", dx=2, dy=-3, fontSize=13)
        ),
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
    import altair as alt

    # The words stand above their bar: a column of labels would leave no room for bars on a phone.
    order = list(frame[label])
    y = alt.Y(f"{label}:N", title=None, sort=order, axis=None)
    x = alt.X(f"{value}:Q", title=title, axis=alt.Axis(tickCount=5))
    bars = (
        named("bars")
        .mark_bar(color=look.accent, height=12, yOffset=9, cornerRadiusEnd=2)
        .encode(x, y, tooltip=tooltips(**{label: "What", "text": "Worth"}))
    )
    letters: dict[str, Any] = {"align": "left", "baseline": "bottom", "dx": 2, "dy": 0, "fontSize": 13}
    words = haloed("bars", look, look.ink, **letters)
    data = {"bars": frame.assign(words=[f"{name}: {text}" for name, text in zip(order, frame["text"], strict=True)])}
    layers = [bars, *(word.encode(at_pixel("x", 0), y, alt.Text("words:N")) for word in words)]
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
    import altair as alt

    measured = next(str(name) for name in frame.columns if str(name).startswith("measured_"))
    fitted, unit = measured.replace("measured", "fitted"), "°C" if measured.endswith("_c") else "°F"
    lows, highs = (pick(frame[[measured, fitted]].to_numpy().ravel()) for pick in (min, max))
    scale = alt.Scale(domain=[float(lows), float(highs)], nice=True, zero=False)
    axis = alt.Axis(title=f"Temperature, {unit}", tickCount=6)
    over = alt.Axis(title="Time from the start of the log, min", tickCount=8, grid=False)
    x = alt.X("time_min:Q", axis=over, scale=alt.Scale(nice=False, zero=False))
    told = tooltips(time_min="Time, min|.0f", **{measured: f"Measured, {unit}|.1f", fitted: f"Fitted, {unit}|.1f"})
    points = named("fit").mark_point(filled=True, size=26, color=look.phases["hold"], opacity=0.9)
    line = named("fit").mark_line(color=look.over, strokeWidth=2)
    layers = [
        points.encode(x, alt.Y(f"{measured}:Q", axis=axis, scale=scale), tooltip=told),
        line.encode(x, alt.Y(f"{fitted}:Q", axis=axis, scale=scale), alt.Detail("stretch:N")),
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
    import altair as alt

    title = f"Cost, {currency}" if currency else "Energy, kWh"
    drawn = _points(ways, "cost" if currency else "energy_kwh")
    minutes, values = list(drawn["duration_min"]), list(drawn["value"])
    x = alt.X("duration_min:Q", axis=alt.Axis(title="From start to end, min", grid=False, tickCount=6),
              scale=alt.Scale(domain=_wide(minutes, 20.0), nice=False))  # fmt: skip
    y = alt.Y("value:Q", axis=alt.Axis(title=title, tickCount=6), scale=alt.Scale(domain=_wide(values, 0.2), nice=True))
    shape = alt.Shape("kind:N", scale=alt.Scale(domain=["as it is", "other"], range=["square", "circle"]), legend=None)
    told = tooltips(way="Way", duration_min="From start to end, min|.0f", value=f"{title}|.2f", energy_kwh="kWh|.2f",
                    peak="Largest current, A")  # fmt: skip
    points = (
        named("ways")
        .mark_point(filled=True, size=420, opacity=1, color=look.accent, stroke=look.paper, strokeWidth=1.5)
        .encode(x, y, shape, tooltip=told)
    )
    numbers = named("ways").mark_text(baseline="middle", fontSize=13, dy=1, color=look.paper)
    layers = [points, numbers.encode(x, y, alt.Text("number:N"))]
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
    import altair as alt

    column = next(str(name) for name in courses.columns if str(name).startswith("temperature_"))
    unit = "°C" if column.endswith("_c") else "°F"
    lines = list(dict.fromkeys(courses["line"]))
    over = alt.Axis(title="Time from switching on, min", tickCount=8, grid=False)
    x = alt.X("time_min:Q", axis=over, scale=alt.Scale(nice=False, zero=False))
    y = alt.Y(f"{column}:Q", axis=alt.Axis(title=f"Temperature, {unit}", tickCount=6), scale=alt.Scale(zero=False))
    colours = [look.ink, look.accent][: len(lines)]
    legend = alt.Legend(title=None, symbolType="stroke", symbolStrokeWidth=3, labelLimit=280)
    colour = alt.Color("line:N", scale=alt.Scale(domain=lines, range=colours), legend=legend)
    dash = alt.StrokeDash("line:N", scale=alt.Scale(domain=lines, range=[[6, 4], [1, 0]][: len(lines)]), legend=legend)
    told = tooltips(line="", time_min="Time, min|.0f", **{column: f"Temperature, {unit}|.1f"})
    drawn = named("lines").mark_line(strokeWidth=2.2).encode(x, y, colour, dash, alt.Detail("line:N"), tooltip=told)
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
    document = {**chart, "width": width_px, "height": height_px, "background": "white"}
    return Picture(document=document, words=words)


def picture_svg(picture: Picture) -> str:
    """The picture as SVG with text as text."""
    import vl_convert

    return str(vl_convert.vegalite_to_svg(picture.document))


def picture_png(picture: Picture, *, scale: float = 2.0) -> bytes:
    """The picture as PNG, with ``scale`` dots for each of its pixels."""
    import vl_convert

    return bytes(vl_convert.vegalite_to_png(picture.document, scale=scale))
