"""Told tables and their data frames -> charts for the app, for pictures and for the sheets."""

from itertools import groupby
from typing import TYPE_CHECKING, Any

from energyplan.base.records import dataclass
from energyplan.base.units import Display
from energyplan.faces.charts.chartparts import Document, at_pixel, finished, haloed, named, tooltips
from energyplan.faces.charts.charttheme import ChartLook
from energyplan.faces.charts.currentchart import current_chart
from energyplan.faces.charts.daychart import day_chart

if TYPE_CHECKING:
    import pandas as pd

__all__ = [
    "SagMarks",
    "current_chart",
    "day_chart",
    "fit_chart",
    "ranked_bars",
    "sag_curve",
    "sag_marks",
]

HEIGHT = 340
BAR_HEIGHT = 42
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
