"""Charts over the clock of the day: temperature with its steps, presence, amperes against the ratings."""

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING

from energyplan.base.kinds import PLAIN, Style
from energyplan.base.records import dataclass
from energyplan.base.sentence import words
from energyplan.faces.charttheme import (
    ChartLook,
    Document,
    bound,
    clock_axis,
    field,
    finished,
    haloed,
    layer,
    mark,
    tooltips,
)
from energyplan.faces.frames import Rows, raw_rows
from energyplan.telling.told import Told

if TYPE_CHECKING:
    import altair as alt

__all__ = ["current_chart", "day_chart", "drawn", "label_heights_a", "presence_chart"]

Axis = Callable[[str], Document]


HEIGHT = 400


# From the top [px]: prices, names of the steps, ribbon of the phases, marks of what to do.
PRICE_Y, NAME_Y, RIBBON_Y, RIBBON_END_Y, MARK_Y = 4, 21, 38, 45, 54


# Room that the curves leave for that, as a factor on their highest value.
TEMPERATURE_ROOM, POWER_ROOM = 1.24, 1.5


Frames = Mapping[str, Rows]  # the tables of a told picture as rows


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
    frames = {name: raw_rows(told.table(name), style, spoken=True) for name in names}
    first_s, last_s = (told.facts[key].raw for key in ("first_s", "last_s"))
    x = clock_axis(told.facts["time_zone"].raw)
    layers = [
        *_prices(frames, x, look),
        *_power(frames, x, look),
        *_temperature(frames, x, look),
        *_steps(x, look),
    ]
    steps = [mark for mark in frames["marks"] if mark["kind"] == "step"]
    degrees = _degrees(frames)
    bottom = BOTTOM[degrees[-1]]
    hottest = max(row[degrees] for row in frames["temperature"])
    strongest_kw = max([0.1, *(row["power_kw"] for row in (*frames["vessel"], *frames["appliances"]))])
    ends_s = [*(step["time_s"] for step in steps[1:]), last_s]
    data = {
        "temperature": [
            {name: cell for name, cell in row.items() if name.startswith(("time_", "temperature_"))}
            for row in frames["temperature"]
        ],
        "stops": frames["temperature"][:: len(frames["temperature"]) // MOST_STOPS + 1],
        "vessel": frames["vessel"],
        "appliances": frames["appliances"],
        "prices": frames["prices"],
        "steps": [step | {"until_s": end_s} for step, end_s in zip(steps, ends_s, strict=True)],
        "marks": [mark for mark in frames["marks"] if mark["kind"] in ("action", "addition")],
        "hours": frames["hours"],
        "bounds": [
            {
                "first_s": first_s, "last_s": last_s, "top_kw": strongest_kw * POWER_ROOM,
                degrees: bottom + (hottest - bottom) * TEMPERATURE_ROOM,
            }
        ],
    }  # fmt: skip
    said = description or (words(told.headline, style) if told.headline else "")
    apart = {"scale": {"y": "independent", "color": "independent"}}
    return finished(layers, data, look, height=HEIGHT, description=said, resolve=apart)


MOST_STOPS = 60  # of a pointer that goes along the temperature [our choice]


def drawn(document: Document, *, width_px: int = 800) -> "alt.LayerChart":
    """A chart of layers as an object that a notebook draws."""
    import altair as alt

    # What answers to the pointer stands at the top of such an object and names its layer; else every layer gets it.
    layers = [{**layer, "name": f"layer {place}"} for place, layer in enumerate(document["layer"])]
    params = [{**one, "views": [layer["name"]]} for layer in layers for one in layer.pop("params", ())]
    given = {**document, "layer": layers, "params": params, "width": width_px}
    return alt.LayerChart.from_dict(given, validate=False)


def _where_it_fits(text: str, length: str, span: str) -> Document:
    """A text only where its span has room for it at the chart's present width; unseen words would take room, too."""
    room = f"({span}) / span(domain('x')) * width > {length}"
    return {"value": "", "condition": {"test": room, **field(f"{text}:N")}}


BOTTOM = {"c": 0, "f": 32}  # of the scale of temperatures, by the last letter of their column


def _degrees(frames: Frames) -> str:
    """The column of temperatures."""
    return next(name for name in frames["temperature"][0] if name.startswith("temperature_"))


def _prices(frames: Frames, x: Axis, look: ChartLook) -> list[Document]:
    if not frames["prices"]:
        return []
    levels = len(frames["levels"])
    # As many shades as levels, however many; a single one is a little off the paper.
    domain = [0, levels - 1] if levels > 1 else [-1, 3]
    scale = {"domain": domain, "range": [look.prices[0], look.prices[-1]], "interpolate": "lab"}
    span = {"x": x("start_s"), "x2": {"field": "end_s"}}
    told = _where_it_fits("price", "100", "datum.end_s - datum.start_s")
    words = mark("text", align="left", baseline="top", dx=5, fontSize=11, color=look.ink)
    return [
        layer("prices", mark("rect"), **span, color=field("level:Q", scale=scale, legend=None),
              tooltip=tooltips(price="Price", band="Band")),
        layer("prices", words, x=x("start_s"), y={"value": PRICE_Y}, text=told),
    ]  # fmt: skip


def _power(frames: Frames, x: Axis, look: ChartLook) -> list[Document]:
    scale = {"domain": [0, bound("top_kw")], "nice": False}
    axis = {"title": "Mean power, kW", "orient": "right", "grid": False, "tickCount": 5}
    there = {row["phase"] for row in frames["vessel"]}
    present = [name for name in look.phases if name in there]
    colours = {"domain": present, "range": [look.phases[name] for name in present]}
    colour = field("phase:N", scale=colours, legend={"title": None, "orient": "top"})
    ends = tooltips(clock="From", end_clock="To", power_kw="Mean power, kW|.2f")
    tooltip = [*tooltips(step="Step", phase="Phase"), *ends]
    span, ground = {"x": x("start_s"), "x2": {"field": "end_s"}}, {"datum": 0}
    y, y_again = field("power_kw:Q", axis=axis, scale=scale), field("power_kw:Q", axis=None, scale=scale)
    ribbon = {"y": {"value": RIBBON_Y}, "y2": {"value": RIBBON_END_Y}, "color": {**colour, "legend": None}}
    layers = [
        layer("vessel", mark("rect", opacity=0.85), **span, y=y, y2=ground, color=colour, tooltip=tooltip),
        layer("vessel", mark("rect"), **span, **ribbon, tooltip=tooltip),
    ]
    if not frames["appliances"]:
        return layers
    outline = mark("rect", fillOpacity=0.0, stroke=look.ink, strokeWidth=1.2, strokeDash=[4, 3])
    told = [*tooltips(appliance="Appliance"), *ends]
    fitting = _where_it_fits("appliance", "2.8 * length(datum.appliance)", "datum.end_s - datum.start_s")
    name = {"x": x("start_s"), "y": y_again, "text": fitting}
    return [
        *layers,
        layer("appliances", outline, **span, y=y_again, y2=ground, tooltip=told),
        *(
            layer("appliances", word, **name)
            for word in haloed(look, look.ink, align="left", baseline="bottom", dx=2, dy=-4, fontSize=12)
        ),
    ]


def _temperature(frames: Frames, x: Axis, look: ChartLook) -> list[Document]:
    column = _degrees(frames)
    unit = "°C" if column.endswith("_c") else "°F"
    scale = {"domain": [BOTTOM[column[-1]], bound(column)], "nice": False}
    # No water in an open vessel is hotter than this, so the scale says nothing above it.
    ticks = list(range(0, 101, 20)) if unit == "°C" else list(range(50, 201, 50))
    axis = {"title": f"Temperature, {unit}", "gridOpacity": 0.7, "values": ticks}
    y, y_again = field(f"{column}:Q", axis=axis, scale=scale), field(f"{column}:Q", axis=None, scale=scale)
    told = tooltips(
        clock="Clock", **{column: f"Temperature, {unit}|.1f"}, step="Step", phase="Phase",
        power_w="Mean power, W|.0f", price="Price",
    )  # fmt: skip
    nearest = {"type": "point", "nearest": True, "on": "pointerover", "fields": ["time_s"], "clear": "pointerout"}
    seen = {"value": 0, "condition": {"param": "nearest", "empty": False, "value": 1}}
    at, point = x("time_s"), mark("point", filled=True, size=70, color=look.ink)
    return [
        layer("temperature", mark("line", color=look.paper, strokeWidth=5, opacity=0.8), x=at, y=y_again),
        layer("temperature", mark("line", color=look.ink, strokeWidth=2.2), x=at, y=y),
        layer("stops", point, x=at, y=y_again, opacity=seen, tooltip=told)
        | {"params": [{"name": "nearest", "select": nearest}]},
    ]


def _steps(x: Axis, look: ChartLook) -> list[Document]:
    at = x("time_s")
    named = _where_it_fits("event", "8 * length(datum.event) + 8", "datum.until_s - datum.time_s")
    border = mark("rule", color=look.faint, strokeWidth=1, opacity=0.6)
    name = mark("text", align="left", baseline="top", dx=4, fontSize=12, fontWeight=600, color=look.ink)
    point = mark("point", shape="triangle-up", filled=True, size=80, color=look.ink, opacity=1)
    told = tooltips(clock="At", event="Do")
    return [
        layer("steps", border, x=at, y={"value": RIBBON_Y}, y2={"value": "height"}),
        layer("steps", name, x=at, y={"value": NAME_Y}, text=named),
        layer("marks", point, x=at, y={"value": MARK_Y}, tooltip=told),
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
    bars, hours = (raw_rows(told.table(name), style, spoken=True) for name in ("presence", "hours"))
    first_s, last_s = (told.facts[key].raw for key in ("first_s", "last_s"))
    x = clock_axis(told.facts["time_zone"].raw)("start_s")
    names = [row["who"].raw for row in told.table("names")]
    colours = {"domain": names, "range": [look.accent, look.phases["ramp"], look.grid]}
    drawn = layer(
        "bars", mark("rect", stroke=look.paper, strokeWidth=1), x=x, x2={"field": "end_s"},
        color=field("who:N", scale=colours, title=None),
        tooltip=tooltips(who="Who", clock="Clock", what_for="What for"),
    )  # fmt: skip
    said = words(told.headline, style) if told.headline else ""
    data = {"bars": bars, "hours": hours, "bounds": [{"first_s": first_s, "last_s": last_s}]}
    return finished([drawn], data, look, height=PRESENCECHART_HEIGHT, description=said)


CURRENTCHART_HEIGHT = 340
AROUND_PX, WORDS_PX = 60, 17  # height of legend and axis, and of a line of words
FAR = 1.6  # a rating of more times what is drawn and the rating just above it has words and no line [our choice]
DASHES: tuple[list[int], ...] = ([1, 0], [6, 3], [2, 2], [1, 4])  # lines differ in more than colour


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _CurrentFrames:
    """The tables of told currents as rows."""

    drawn: Rows
    ratings: Rows
    excess: Rows
    hours: Rows
    line: str
    zone: str
    span_s: tuple[float, float]


# A data set without rows is another chart for what draws it; a row without values draws nothing.
NOT_OVER = dict.fromkeys(("limit_a", "current_a", "start_s", "end_s", "clock", "end_clock"))


def _frames(told: Told, style: Style) -> _CurrentFrames:
    tables = {name: raw_rows(told.table(name), style, spoken=True) for name in ("ratings", "excess", "hours")}
    first_s, last_s = (told.facts[key].raw for key in ("first_s", "last_s"))
    return _CurrentFrames(
        **tables, drawn=raw_rows(told.table(told.key), style, spoken=True), line=words(told.facts["line"], style),
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
    lines, limits = _limits(look) if ratings else ([], [])
    excess, marks = _over(frames, look)
    body = _stacked(frames, look) if is_stacked else _curves(frames, look)
    data = {
        told.key: frames.drawn,
        "ratings": ratings,
        "near": [rating for rating in ratings if rating["near"]],
        "excess": frames.excess or [NOT_OVER],
        "hours": frames.hours,
        "bounds": [{"first_s": frames.span_s[0], "last_s": frames.span_s[1], "top_a": top_a}],
    }
    return finished([*body, *lines, *excess, *limits, *marks], data, look, height=height_px, description=said)


def _heights(frames: _CurrentFrames, column: str, height_px: int) -> tuple[float, Rows]:
    """The top of the scale [A], and the ratings with the heights of their words; one far above squeezes nothing."""
    limits_a = [rating["limit_a"] for rating in frames.ratings]
    peak_a = max([1.0, *(row[column] for row in frames.drawn)])
    just_above_a = min([limit_a for limit_a in limits_a if limit_a >= peak_a], default=peak_a)
    near_a = [limit_a for limit_a in limits_a if limit_a <= FAR * just_above_a]
    top_a = max([peak_a, *near_a]) * 1.1
    apart_a = top_a * WORDS_PX / max(height_px - AROUND_PX, WORDS_PX)
    heights_a = label_heights_a(near_a, apart_a)
    over_a = [stretch["current_a"] for stretch in frames.excess]
    top_a = max([top_a, *(height_a + 1.2 * apart_a for height_a in (*heights_a[-1:], *over_a))])
    far_a = [top_a + apart_a * place for place in range(len(limits_a) - len(near_a))]
    placed = []
    for rating, label_a in zip(frames.ratings, [*heights_a, *far_a], strict=True):
        near = rating["limit_a"] in near_a
        text = rating["text"] if near else f"{rating['text']}, far above ↑"
        placed.append(rating | {"label_a": label_a, "near": near, "text": text})
    return top_a + apart_a * len(far_a), placed


def _curves(frames: _CurrentFrames, look: ChartLook) -> list[Document]:
    """A curve for each line; the neutral, which no rating protects, the thinnest."""
    x = clock_axis(frames.zone)("time_s")
    names = list(dict.fromkeys(row["line"] for row in frames.drawn))
    hues, dashes = list(look.appliances[: len(names)]), list(DASHES[: len(names)])
    legend = {"title": None, "symbolType": "stroke", "symbolSize": 400} if len(names) > 1 else None
    drawn = layer(
        "lines", mark("line", strokeWidth=2), x=x, y=_amperes("current_a", frames),
        color=field("line:N", scale={"domain": names, "range": hues}, legend=legend),
        strokeDash=field("line:N", scale={"domain": names, "range": dashes}, legend=legend),
        tooltip=tooltips(line="Line", clock="At", current_a="Carries, A|.1f"),
    )  # fmt: skip
    return [drawn]


def _amperes(column: str, frames: _CurrentFrames) -> Document:
    return field(f"{column}:Q", title=f"Current{frames.line}, A", scale={"domain": [0, bound("top_a")], "nice": False})


def _stacked(frames: _CurrentFrames, look: ChartLook) -> list[Document]:
    x = clock_axis(frames.zone)("start_s")
    tips = tooltips(
        appliance="Appliance", clock="From", end_clock="To", current_a="Draws, A|.1f",
        to_a="With those below it, A|.1f",
    )  # fmt: skip
    # Neither names nor how many there are stand in the scale: they come from the data, in their order.
    colour = field("appliance:N", sort=None, scale={"range": list(look.appliances)}, legend={"title": None})
    span = {"x": x, "x2": {"field": "end_s"}, "y": _amperes("from_a", frames), "y2": {"field": "to_a"}}
    return [layer("currents", mark("rect"), **span, color=colour, tooltip=tips)]


def _over(frames: _CurrentFrames, look: ChartLook) -> tuple[list[Document], list[Document]]:
    """The stretches above a rating, and a sign and a word for each."""
    x = clock_axis(frames.zone)("start_s")
    tips = tooltips(limit_a="Limit, A|.1f", current_a="Draws, A|.1f", clock="From", end_clock="To")
    frame = mark("rect", fillOpacity=0, stroke=look.over, strokeWidth=2.5)
    span = {"x": x, "x2": {"field": "end_s"}, "y": field("limit_a:Q"), "y2": {"field": "current_a"}}
    letters = haloed(look, look.over, align="left", baseline="bottom", dy=-4, fontWeight=700, fontSize=13)
    said = {"x": x, "y": field("current_a:Q"), "text": {"value": "▲ over"}}
    return [layer("excess", frame, **span, tooltip=tips)], [layer("excess", word, **said) for word in letters]


def _limits(look: ChartLook) -> tuple[list[Document], list[Document]]:
    """The lines of the ratings, and their words."""
    line = mark("rule", color=look.ink, strokeWidth=1.6, strokeDash=[7, 4])
    letters = haloed(
        look, look.ink, align="right", baseline="bottom", dx=-5, dy=-3, fontSize=12, limit={"expr": "width - 10"}
    )
    said = {"x": {"value": "width"}, "y": field("label_a:Q"), "text": field("text:N")}
    drawn = layer("near", line, y=field("limit_a:Q"), tooltip=tooltips(text="Rating"))
    return [drawn], [layer("ratings", word, **said) for word in letters]
