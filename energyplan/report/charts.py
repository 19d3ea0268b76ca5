"""DataFrames of `energyplan.report.tables` -> charts for the app, for pictures and for the sheets."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from energyplan.advice.holds import SagCurve
from energyplan.report.answer import Answer
from energyplan.report.chartparts import at_pixel, clock_axis, finished, named, tooltips
from energyplan.report.charttheme import ChartLook
from energyplan.report.daychart import DayFrames, day_chart, day_frames
from energyplan.report.tables import current_table, excess_table, hour_table, rating_table
from energyplan.units import Display

if TYPE_CHECKING:
    import altair as alt
    import pandas as pd

__all__ = [
    "CurrentFrames",
    "DayFrames",
    "SagMarks",
    "cost_by_start",
    "current_chart",
    "current_frames",
    "day_chart",
    "day_frames",
    "fit_chart",
    "ranked_bars",
    "sag_curve",
    "sag_marks",
]

HEIGHT = 340
ROW_HEIGHT = 30
AROUND = 130  # legend and axis take this much of the height


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CurrentFrames:
    """What the chart of a circuit is drawn from: the tables of `energyplan.report.tables` by name."""

    currents: "pd.DataFrame"
    ratings: "pd.DataFrame"
    excess: "pd.DataFrame"
    hours: "pd.DataFrame"
    zone: str
    span_s: tuple[float, float]


def current_frames(answer: Answer) -> CurrentFrames | None:
    """Gather the tables that the chart of a circuit is drawn from; None when no circuit was entered."""
    check = answer.circuit
    if check is None:
        return None
    return CurrentFrames(
        currents=current_table(check, answer.clock),
        ratings=rating_table(check),
        excess=excess_table(check, answer.clock),
        hours=hour_table(answer),
        zone=answer.zone,
        span_s=(float(check.edges_s[0]), float(check.edges_s[-1])),
    )


def current_chart(frames: CurrentFrames, look: ChartLook, *, description: str) -> "alt.LayerChart":
    """Draw what each appliance draws with its elements on, stacked, against every rating.

    Parameters
    ----------
    frames : CurrentFrames
        The circuit over the day.
    look : ChartLook
        Colours.
    description : str
        What the chart shows, for those who hear it.
    """
    layers = [*_stacked(frames, look), *([] if frames.ratings.empty else _limits(look))]
    data = {"currents": frames.currents, "ratings": frames.ratings, "excess": frames.excess}
    return finished(layers, data, look, height=HEIGHT, description=description)


def _stacked(frames: CurrentFrames, look: ChartLook) -> list[Any]:
    import altair as alt

    x = clock_axis(frames.hours, frames.zone, frames.span_s)("start_s")
    top_a = max([1.0, *frames.currents["to_a"], *frames.ratings["limit_a"]]) * 1.1
    y = alt.Y("from_a:Q", title="Current with elements on, A", scale=alt.Scale(domain=[0, top_a], nice=False))
    names = list(dict.fromkeys(frames.currents["appliance"]))
    colours = [look.appliances[index % len(look.appliances)] for index in range(len(names))]
    colour = alt.Color("appliance:N", scale=alt.Scale(domain=names, range=colours), legend=alt.Legend(title=None))
    told = tooltips(
        appliance="Appliance", start_clock="From", end_clock="To", current_a="Draws, A|.1f",
        to_a="With those below it, A|.1f",
    )  # fmt: skip
    area = named("currents").mark_rect().encode(x, alt.X2("end_s:Q"), y, alt.Y2("to_a:Q"), colour, tooltip=told)
    over = (
        named("excess")
        .mark_rect(fillOpacity=0, stroke=look.over, strokeWidth=2.5)
        .encode(
            x,
            alt.X2("end_s:Q"),
            alt.Y("limit_a:Q"),
            alt.Y2("current_a:Q"),
            tooltip=tooltips(limit_a="Limit, A|.1f", current_a="Draws, A|.1f", start_clock="From", end_clock="To"),
        )
    )
    word = (
        named("excess")
        .mark_text(align="left", baseline="bottom", dy=-4, fontWeight=700, fontSize=13, color=look.over)
        .encode(x, alt.Y("current_a:Q"), alt.TextValue("▲ over"))
    )
    # A layer without a mark would be an unnamed picture to a screen reader.
    return [area] if frames.excess.empty else [area, over, word]


def _limits(look: ChartLook) -> list[Any]:
    import altair as alt

    y = alt.Y("limit_a:Q")
    line = (
        named("ratings")
        .mark_rule(color=look.ink, strokeWidth=1.6, strokeDash=[7, 4])
        .encode(y, tooltip=tooltips(text="Rating"))
    )
    letters: dict[str, Any] = {"align": "right", "baseline": "bottom", "dx": -5, "dy": -3, "fontSize": 12}
    edge: dict[str, Any] = {"color": look.paper, "stroke": look.paper, "strokeWidth": 7, "strokeJoin": "round"}
    halo = named("ratings").mark_text(**letters, **edge)
    words = named("ratings").mark_text(**letters, color=look.ink)
    end, text = at_pixel("x", "width"), alt.Text("text:N")
    return [line, halo.encode(end, y, text), words.encode(end, y, text)]


def cost_by_start(
    costs: "pd.DataFrame", marks: "pd.DataFrame", look: ChartLook, *, zone: str, description: str
) -> "alt.LayerChart":
    """Draw the cheapest start of each hour of each day as a heat map.

    Parameters
    ----------
    costs : DataFrame
        `energyplan.report.tables.hour_cost_table`.
    marks : DataFrame
        Columns day, hour, text: cells to mark, such as the best and the planned start.
    look : ChartLook
        Colours.
    zone : str
        Name of the clock's zone.
    description : str
        What the chart shows, for those who hear it.
    """
    import altair as alt

    column = next(str(name) for name in costs.columns if str(name).startswith("cost_"))
    currency = column.removeprefix("cost_").upper()
    days = list(dict.fromkeys(costs.sort_values("order")["day"]))
    axis = alt.Axis(labelAngle=0, labelOverlap="parity", title=f"Hour of the start, {zone}")
    x = alt.X("hour:O", axis=axis, scale=alt.Scale(domain=list(range(24)), paddingInner=0.04))
    y = alt.Y("day:N", title=None, sort=days, scale=alt.Scale(domain=days, paddingInner=0.06))
    colour = alt.Color(
        f"{column}:Q",
        scale=alt.Scale(range=list(look.costs), interpolate="lab", zero=False),
        legend=alt.Legend(title=f"Cost, {currency}: cheap to dear", gradientLength=200, format=".2f", titleLimit=300),
    )
    told = tooltips(day="Day", hour="Hour", **{column: f"Cheapest start, {currency}|.2f"})
    cells = named("costs").mark_rect(cornerRadius=2).encode(x, y, colour, tooltip=told)
    known = list(dict.fromkeys(marks["text"]))
    shapes = alt.Scale(domain=known, range=["diamond", "circle", "square"][: len(known)])
    legend = alt.Legend(title=None, orient="bottom", symbolFillColor=look.paper)
    shape = alt.Shape("text:N", scale=shapes, legend=legend)
    points = (
        named("marks")
        .mark_point(filled=True, size=130, color=look.paper, stroke=look.over, strokeWidth=2.5, opacity=1)
        .encode(x, y, shape, tooltip=tooltips(text="Mark", day="Day", hour="Hour"))
    )
    height = ROW_HEIGHT * max(len(days), 3) + AROUND
    data = {"costs": costs, "marks": marks}
    return finished([cells] if marks.empty else [cells, points], data, look, height=height, description=description)


@dataclass(frozen=True, slots=True, kw_only=True)
class SagMarks:
    """What a sag curve is read against: the target and how far it may sag, in the curve's unit, and named caps [W]."""

    target: float
    band: float
    caps: tuple[tuple[str, float], ...]


def sag_marks(curve: SagCurve, show: Display, caps: tuple[tuple[str, float], ...]) -> SagMarks:
    """Target and band of a curve in the displayed unit, with the caps [W] to mark by name."""
    target, low = (float(show.temperature_number(value)) for value in (curve.target_c, curve.target_c - curve.band_k))
    return SagMarks(target=target, band=target - low, caps=caps)


def sag_curve(curve: "pd.DataFrame", marks: SagMarks, look: ChartLook, *, description: str) -> "alt.LayerChart":
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
    words = (
        named("zone")
        .mark_text(align="right", baseline="bottom", dx=-6, dy=-3, fontSize=12, color=look.ink)
        .encode(at_pixel("x", "width"), alt.Y("high:Q", scale=scale), alt.Text("text:N"))
    )
    rules = named("caps").mark_rule(color=look.ink, strokeDash=[5, 4], strokeWidth=1.4).encode(x)
    names = (
        named("caps")
        .mark_text(align="left", baseline="bottom", dx=5, fontSize=12, color=look.ink)
        .encode(x, alt.Y("y:Q", scale=scale), alt.Text("text:N"))
    )
    data = {"curve": curve, "zone": _zone(marks, unit), "caps": _caps(marks, low, top)}
    layers = [within, words, line, points, rules, names]
    return finished(layers, data, look, height=HEIGHT, description=description)


def _zone(marks: SagMarks, unit: str) -> "pd.DataFrame":
    import pandas as pd

    text = f"target, less {marks.band:.1f} {'K' if unit == '°C' else unit}"
    return pd.DataFrame([{"low": marks.target - marks.band, "high": marks.target, "text": text}])


def _caps(marks: SagMarks, low: float, top: float) -> "pd.DataFrame":
    """Marked caps, their names one above the other so that equal ones can be read."""
    import pandas as pd

    lift = (top - low) * 0.075
    return pd.DataFrame(
        {"cap_w": cap_w, "text": f"{name}, {cap_w:.0f} W", "y": low + lift * (0.4 + place)}
        for place, (name, cap_w) in enumerate(marks.caps)
    )


def ranked_bars(
    frame: "pd.DataFrame", look: ChartLook, *, label: str, value: str, title: str, description: str
) -> "alt.LayerChart":
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

    order = list(frame[label])
    y = alt.Y(f"{label}:N", title=None, sort=order, axis=alt.Axis(labelLimit=240, ticks=False, domain=False))
    x = alt.X(f"{value}:Q", title=title, axis=alt.Axis(tickCount=5))
    bars = (
        named("bars")
        .mark_bar(color=look.accent, height=18, cornerRadiusEnd=2)
        .encode(x, y, tooltip=tooltips(**{label: "What", "text": "Worth"}))
    )
    words = named("bars").mark_text(align="left", dx=6, fontSize=12, color=look.ink).encode(x, y, alt.Text("text:N"))
    height = ROW_HEIGHT * max(len(order), 2) + AROUND // 2
    return finished([bars, words], {"bars": frame}, look, height=height, description=description)


def fit_chart(frame: "pd.DataFrame", look: ChartLook, *, description: str) -> "alt.LayerChart":
    """Draw the readings of a log as points and the fit as lines.

    Parameters
    ----------
    frame : DataFrame
        `energyplan.report.tables.fit_table`.
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
