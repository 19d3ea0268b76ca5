"""Charts over the clock of the day: temperature with its steps, presence, amperes against the ratings."""

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from energyplan.base.kinds import PLAIN, Style
from energyplan.base.records import dataclass
from energyplan.base.sentence import words
from energyplan.faces.charttheme import (
    ChartLook,
    Document,
    at_pixel,
    clock_axis,
    finished,
    haloed,
    named,
    tooltips,
)
from energyplan.faces.frames import frame
from energyplan.telling.told import Told

if TYPE_CHECKING:
    import altair as alt
    import pandas as pd

__all__ = ["current_chart", "day_chart", "drawn", "label_heights_a", "presence_chart"]

Axis = Callable[[str], "alt.X"]


HEIGHT = 400


# From the top [px]: prices, names of the steps, ribbon of the phases, marks of what to do.
PRICE_Y, NAME_Y, RIBBON_Y, RIBBON_END_Y, MARK_Y = 4, 21, 38, 45, 54


# Room that the curves leave for that, as a factor on their highest value.
TEMPERATURE_ROOM, POWER_ROOM = 1.24, 1.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Frames:
    """The tables of a told picture as data frames."""

    temperature: "pd.DataFrame"
    vessel: "pd.DataFrame"
    appliances: "pd.DataFrame"
    prices: "pd.DataFrame"
    levels: "pd.DataFrame"
    marks: "pd.DataFrame"
    hours: "pd.DataFrame"
    first_s: float
    last_s: float


def day_chart(told: Told, look: ChartLook, style: Style = PLAIN, *, description: str = "") -> Document:
    """Draw a day.

    Parameters
    ----------
    told : Told
        The day (`energyplan.telling.picture.picture_told`).
    look : ChartLook
        Colours.
    style : Style
        Units.
    description : str
        What the chart shows, for those who hear it; by default the picture's headline.
    """
    names = ("temperature", "vessel", "appliances", "prices", "levels", "marks", "hours")
    tables = {name: frame(told.table(name), style, spoken=True) for name in names}
    first_s, last_s = (told.facts[key].raw for key in ("first_s", "last_s"))
    frames = _Frames(**tables, first_s=first_s, last_s=last_s)
    x = clock_axis(frames.hours, told.facts["time_zone"].raw, (first_s, last_s))
    layers = [
        *_prices(frames, x, look),
        *_power(frames, x, look),
        *_temperature(frames, x, look),
        *_steps(frames, x, look),
    ]
    steps = frames.marks[frames.marks["kind"] == "step"]
    data = {
        "temperature": frames.temperature,
        "vessel": frames.vessel,
        "appliances": frames.appliances,
        "prices": frames.prices,
        "steps": steps.assign(until_s=[*steps["time_s"][1:], last_s]),
        "marks": frames.marks[frames.marks["kind"].isin(["action", "addition"])],
    }
    said = description or (words(told.headline, style) if told.headline else "")
    apart = {"scale": {"y": "independent", "color": "independent"}}
    return finished(layers, data, look, height=HEIGHT, description=said, resolve=apart)


def drawn(document: Document, *, width_px: int = 800) -> "alt.LayerChart":
    """A chart of layers as an object that a notebook draws."""
    import altair as alt

    # What answers to the pointer stands at the top of such an object and names its layer; else every layer gets it.
    layers = [{**layer, "name": f"layer {place}"} for place, layer in enumerate(document["layer"])]
    params = [{**one, "views": [layer["name"]]} for layer in layers for one in layer.pop("params", ())]
    given = {**document, "layer": layers, "params": params, "width": width_px}
    return alt.LayerChart.from_dict(given, validate=False)


def _fits(frames: _Frames, length: str, span: str) -> Any:
    """Opacity that shows a text only where its span has room for it at the chart's present width."""
    import altair as alt

    whole_s = frames.last_s - frames.first_s
    return alt.OpacityValue(0, condition={"test": f"({span}) / {whole_s!r} * width > {length}", "value": 1})


def _prices(frames: _Frames, x: Axis, look: ChartLook) -> list[Any]:
    import altair as alt

    if frames.prices.empty:
        return []
    levels = len(frames.levels)
    # As many shades as levels, however many; a single one is a little off the paper.
    domain = [0, levels - 1] if levels > 1 else [-1, 3]
    scale = alt.Scale(domain=domain, range=[look.prices[0], look.prices[-1]], interpolate="lab")
    colour = alt.Color("level:Q", scale=scale, legend=None)
    bands = (
        named("prices")
        .mark_rect()
        .encode(x("start_s"), alt.X2("end_s:Q"), colour, tooltip=tooltips(price="Price", band="Band"))
    )
    room = _fits(frames, "100", "datum.end_s - datum.start_s")
    words = (
        named("prices")
        .mark_text(align="left", baseline="top", dx=5, fontSize=11, color=look.ink)
        .encode(x("start_s"), at_pixel("y", PRICE_Y), alt.Text("price:N"), room)
    )
    return [bands, words]


def _power(frames: _Frames, x: Axis, look: ChartLook) -> list[Any]:
    import altair as alt

    top_kw = max([0.1, *frames.vessel["power_kw"], *frames.appliances["power_kw"]])
    scale = alt.Scale(domain=[0, top_kw * POWER_ROOM], nice=False)
    axis = alt.Axis(title="Mean power, kW", orient="right", grid=False, tickCount=5)
    present = [name for name in look.phases if name in set(frames.vessel["phase"])]
    colours = alt.Scale(domain=present, range=[look.phases[name] for name in present])
    colour = alt.Color("phase:N", scale=colours, legend=alt.Legend(title=None, orient="top"))
    plain = alt.Color("phase:N", scale=colours, legend=None)
    ends = tooltips(clock="From", end_clock="To", power_kw="Mean power, kW|.2f")
    tooltip = [*tooltips(step="Step", phase="Phase"), *ends]
    start, end = x("start_s"), alt.X2("end_s:Q")
    y, y_again = alt.Y("power_kw:Q", axis=axis, scale=scale), alt.Y("power_kw:Q", axis=None, scale=scale)
    ribbon_y = (at_pixel("y", RIBBON_Y), at_pixel("y2", RIBBON_END_Y))
    vessel, beside = named("vessel"), named("appliances")
    outline: dict[str, Any] = {"fillOpacity": 0.0, "stroke": look.ink, "strokeWidth": 1.2, "strokeDash": [4, 3]}
    layers = [
        vessel.mark_rect(opacity=0.85).encode(start, end, y, alt.Y2Datum(0), colour, tooltip=tooltip),
        vessel.mark_rect().encode(start, end, *ribbon_y, plain, tooltip=tooltip),
    ]
    if frames.appliances.empty:
        return layers
    told = [*tooltips(appliance="Appliance"), *ends]
    words = haloed("appliances", look, look.ink, align="left", baseline="bottom", dx=2, dy=-4, fontSize=12)
    room = _fits(frames, "2.8 * length(datum.appliance)", "datum.end_s - datum.start_s")
    return [
        *layers,
        beside.mark_rect(**outline).encode(start, end, y_again, alt.Y2Datum(0), tooltip=told),
        *(word.encode(start, y_again, alt.Text("appliance:N"), room) for word in words),
    ]


def _temperature(frames: _Frames, x: Axis, look: ChartLook) -> list[Any]:
    import altair as alt

    column = next(str(name) for name in frames.temperature.columns if str(name).startswith("temperature_"))
    unit = "°C" if column.endswith("_c") else "°F"
    bottom = 0 if unit == "°C" else 32
    top = bottom + (float(frames.temperature[column].max()) - bottom) * TEMPERATURE_ROOM
    scale = alt.Scale(domain=[bottom, top], nice=False)
    # No water in an open vessel is hotter than this, so the scale says nothing above it.
    ticks = list(range(0, 101, 20)) if unit == "°C" else list(range(50, 201, 50))
    axis = alt.Axis(title=f"Temperature, {unit}", gridOpacity=0.7, values=ticks)
    y, y_again = alt.Y(f"{column}:Q", axis=axis, scale=scale), alt.Y(f"{column}:Q", axis=None, scale=scale)
    told = tooltips(
        clock="Clock", **{column: f"Temperature, {unit}|.1f"}, step="Step", phase="Phase",
        power_w="Mean power, W|.0f", price="Price",
    )  # fmt: skip
    hover = alt.selection_point(nearest=True, on="pointerover", fields=["time_s"], empty=False, clear="pointerout")
    seen = alt.OpacityValue(0, condition={"param": hover.name, "empty": False, "value": 1})
    trace, at = named("temperature"), x("time_s")
    points = trace.mark_point(filled=True, size=70, color=look.ink).encode(at, y_again, seen, tooltip=told)
    return [
        trace.mark_line(color=look.paper, strokeWidth=5, opacity=0.8).encode(at, y_again),
        trace.mark_line(color=look.ink, strokeWidth=2.2).encode(at, y),
        points.add_params(hover),
    ]


def _steps(frames: _Frames, x: Axis, look: ChartLook) -> list[Any]:
    import altair as alt

    at = x("time_s")
    room = _fits(frames, "8 * length(datum.event) + 8", "datum.until_s - datum.time_s")
    borders = named("steps").mark_rule(color=look.faint, strokeWidth=1, opacity=0.6)
    names = named("steps").mark_text(
        align="left", baseline="top", dx=4, fontSize=12, fontWeight=600, color=look.ink
    )  # fmt: skip
    marks = named("marks").mark_point(shape="triangle-up", filled=True, size=80, color=look.ink, opacity=1)
    return [
        borders.encode(at, at_pixel("y", RIBBON_Y), at_pixel("y2", "height")),
        names.encode(at, at_pixel("y", NAME_Y), alt.Text("event:N"), room),
        marks.encode(at, at_pixel("y", MARK_Y), tooltip=tooltips(clock="At", event="Do")),
    ]


PRESENCECHART_HEIGHT = 130


def presence_chart(told: Told, look: ChartLook, style: Style = PLAIN) -> Document:
    """Draw the stretches with somebody in the room, and those between with and without heat.

    Parameters
    ----------
    told : Told
        The stretches (`energyplan.telling.picture.presence_told`).
    look : ChartLook
        Colours.
    style : Style
        Units.
    """
    import altair as alt

    bars, hours = (frame(told.table(name), style, spoken=True) for name in ("presence", "hours"))
    first_s, last_s = (told.facts[key].raw for key in ("first_s", "last_s"))
    x = clock_axis(hours, told.facts["time_zone"].raw, (first_s, last_s))("start_s")
    names = [row["who"].raw for row in told.table("names")]
    colours = alt.Scale(domain=names, range=[look.accent, look.phases["ramp"], look.grid])
    row = named("bars").mark_rect(stroke=look.paper, strokeWidth=1)
    tips = tooltips(who="Who", clock="Clock", what_for="What for")
    drawn = row.encode(x, alt.X2("end_s:Q"), alt.Color("who:N", scale=colours, title=None), tooltip=tips)
    said = words(told.headline, style) if told.headline else ""
    return finished([drawn], {"bars": bars}, look, height=PRESENCECHART_HEIGHT, description=said)


CURRENTCHART_HEIGHT = 340
AROUND_PX, WORDS_PX = 60, 17  # height of legend and axis, and of a line of words
FAR = 1.6  # a rating of more times what is drawn and the rating just above it has words and no line [our choice]
DASHES: tuple[list[int], ...] = ([1, 0], [6, 3], [2, 2], [1, 4])  # lines differ in more than colour


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _CurrentFrames:
    """The tables of told currents as data frames."""

    drawn: "pd.DataFrame"
    ratings: "pd.DataFrame"
    excess: "pd.DataFrame"
    hours: "pd.DataFrame"
    line: str
    zone: str
    span_s: tuple[float, float]


def _frames(told: Told, style: Style) -> _CurrentFrames:
    tables = {name: frame(told.table(name), style, spoken=True) for name in ("ratings", "excess", "hours")}
    first_s, last_s = (told.facts[key].raw for key in ("first_s", "last_s"))
    return _CurrentFrames(
        **tables, drawn=frame(told.table(told.key), style, spoken=True), line=words(told.facts["line"], style),
        zone=told.facts["time_zone"].raw, span_s=(first_s, last_s),
    )  # fmt: skip


def label_heights_a(limits_a: Sequence[float], apart_a: float) -> list[float]:
    """Heights for the words of limits [A], lowest first: each at its line, or as far above as the one below needs.

    >>> label_heights_a([13.0, 13.5, 16.0, 27.0], 2.0)
    [13.0, 15.0, 17.0, 27.0]
    """
    heights_a: list[float] = []
    for limit_a in limits_a:
        heights_a.append(max(limit_a, heights_a[-1] + apart_a) if heights_a else limit_a)
    return heights_a


def current_chart(
    told: Told, look: ChartLook, style: Style = PLAIN, *, description: str = "", height_px: int = CURRENTCHART_HEIGHT
) -> Document:
    """Draw the circuit over the day against every rating.

    Parameters
    ----------
    told : Told
        What each appliance draws (`energyplan.telling.currents.currents_told`), or what each line carries
        (`energyplan.telling.currents.lines_told`).
    look : ChartLook
        Colours.
    style : Style
        Units.
    description : str
        What the chart shows, for those who hear it; by default the headline.
    height_px : int
        Its height, of which legend and axis take a part.
    """
    frames = _frames(told, style)
    said = description or (words(told.headline, style) if told.headline else "")
    is_stacked = told.key == "currents"
    top_a, ratings = _heights(frames, "to_a" if is_stacked else "current_a", height_px)
    lines, limits = ([], []) if ratings.empty else _limits(look)
    excess, marks = _over(frames, look)
    body = _stacked(frames, look, top_a) if is_stacked else _curves(frames, look, top_a)
    data = {told.key: frames.drawn, "ratings": ratings, "near": ratings[ratings["near"]], "excess": frames.excess}
    return finished([*body, *lines, *excess, *limits, *marks], data, look, height=height_px, description=said)


def _heights(frames: _CurrentFrames, column: str, height_px: int) -> "tuple[float, pd.DataFrame]":
    """The top of the scale [A], and the ratings with the heights of their words; one far above squeezes nothing."""
    limits_a = [float(limit_a) for limit_a in frames.ratings["limit_a"]]
    peak_a = max([1.0, *frames.drawn[column]])
    just_above_a = min([limit_a for limit_a in limits_a if limit_a >= peak_a], default=peak_a)
    near_a = [limit_a for limit_a in limits_a if limit_a <= FAR * just_above_a]
    top_a = max([peak_a, *near_a]) * 1.1
    apart_a = top_a * WORDS_PX / max(height_px - AROUND_PX, WORDS_PX)
    heights_a = label_heights_a(near_a, apart_a)
    over_a = [float(current_a) for current_a in frames.excess["current_a"]]
    top_a = max([top_a, *(height_a + 1.2 * apart_a for height_a in (*heights_a[-1:], *over_a))])
    far_a = [top_a + apart_a * place for place in range(len(limits_a) - len(near_a))]
    near = [limit_a in near_a for limit_a in limits_a]
    texts = [
        f"{text}{'' if close else ', far above ↑'}" for text, close in zip(frames.ratings["text"], near, strict=True)
    ]
    placed = frames.ratings.assign(label_a=[*heights_a, *far_a], near=near, text=texts)
    return top_a + apart_a * len(far_a), placed


def _curves(frames: _CurrentFrames, look: ChartLook, top_a: float) -> list[Any]:
    """A curve for each line; the neutral, which no rating protects, the thinnest."""
    import altair as alt

    x = clock_axis(frames.hours, frames.zone, frames.span_s)("time_s")
    y = alt.Y("current_a:Q", title=f"Current{frames.line}, A", scale=alt.Scale(domain=[0, top_a], nice=False))
    names = list(dict.fromkeys(frames.drawn["line"]))
    legend = alt.Legend(title=None, symbolType="stroke", symbolSize=400) if len(names) > 1 else None
    colour = alt.Color(
        "line:N", scale=alt.Scale(domain=names, range=list(look.appliances[: len(names)])), legend=legend
    )
    dash = alt.StrokeDash("line:N", scale=alt.Scale(domain=names, range=list(DASHES[: len(names)])), legend=legend)
    tips = tooltips(line="Line", clock="At", current_a="Carries, A|.1f")
    return [named("lines").mark_line(strokeWidth=2).encode(x, y, colour, dash, tooltip=tips)]


def _stacked(frames: _CurrentFrames, look: ChartLook, top_a: float) -> list[Any]:
    import altair as alt

    x = clock_axis(frames.hours, frames.zone, frames.span_s)("start_s")
    y = alt.Y("from_a:Q", title=f"Current{frames.line}, A", scale=alt.Scale(domain=[0, top_a], nice=False))
    names = list(dict.fromkeys(frames.drawn["appliance"]))
    colours = [look.appliances[index % len(look.appliances)] for index in range(len(names))]
    colour = alt.Color("appliance:N", scale=alt.Scale(domain=names, range=colours), legend=alt.Legend(title=None))
    tips = tooltips(
        appliance="Appliance", clock="From", end_clock="To", current_a="Draws, A|.1f",
        to_a="With those below it, A|.1f",
    )  # fmt: skip
    return [named("currents").mark_rect().encode(x, alt.X2("end_s:Q"), y, alt.Y2("to_a:Q"), colour, tooltip=tips)]


def _over(frames: _CurrentFrames, look: ChartLook) -> tuple[list[Any], list[Any]]:
    """The stretches above a rating, and a sign and a word for each."""
    import altair as alt

    # A layer without a mark would be an unnamed picture to a screen reader.
    if frames.excess.empty:
        return [], []
    x = clock_axis(frames.hours, frames.zone, frames.span_s)("start_s")
    tips = tooltips(limit_a="Limit, A|.1f", current_a="Draws, A|.1f", clock="From", end_clock="To")
    area = named("excess").mark_rect(fillOpacity=0, stroke=look.over, strokeWidth=2.5)
    letters = haloed("excess", look, look.over, align="left", baseline="bottom", dy=-4, fontWeight=700, fontSize=13)
    drawn = area.encode(x, alt.X2("end_s:Q"), alt.Y("limit_a:Q"), alt.Y2("current_a:Q"), tooltip=tips)
    return [drawn], [word.encode(x, alt.Y("current_a:Q"), alt.TextValue("▲ over")) for word in letters]


def _limits(look: ChartLook) -> tuple[list[Any], list[Any]]:
    """The lines of the ratings, and their words."""
    import altair as alt

    line = named("near").mark_rule(color=look.ink, strokeWidth=1.6, strokeDash=[7, 4])
    letters = haloed(
        "ratings", look, look.ink, align="right", baseline="bottom", dx=-5, dy=-3, fontSize=12,
        limit=alt.ExprRef("width - 10"),
    )  # fmt: skip
    drawn = line.encode(alt.Y("limit_a:Q"), tooltip=tooltips(text="Rating"))
    return [drawn], [word.encode(at_pixel("x", "width"), alt.Y("label_a:Q"), alt.Text("text:N")) for word in letters]
