"""The chart of a circuit: what each appliance draws over the day, stacked, against every rating."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from energyplan.base.kinds import PLAIN, Style
from energyplan.base.records import dataclass
from energyplan.base.sentence import words
from energyplan.faces.charts.chartparts import Document, at_pixel, clock_axis, finished, haloed, named, tooltips
from energyplan.faces.charts.charttheme import ChartLook
from energyplan.faces.frames import frame
from energyplan.telling.told import Told

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["current_chart", "label_heights_a"]

HEIGHT = 340
AROUND_PX, WORDS_PX = 60, 17  # height of legend and axis, and of a line of words


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Frames:
    """The tables of told currents as data frames."""

    currents: "pd.DataFrame"
    ratings: "pd.DataFrame"
    excess: "pd.DataFrame"
    hours: "pd.DataFrame"
    line: str
    zone: str
    span_s: tuple[float, float]


def _frames(told: Told, style: Style) -> _Frames:
    tables = {name: frame(told.table(name), style, spoken=True) for name in ("currents", "ratings", "excess", "hours")}
    first_s, last_s = (told.facts[key].raw for key in ("first_s", "last_s"))
    return _Frames(
        **tables, line=words(told.facts["line"], style), zone=told.facts["time_zone"].raw, span_s=(first_s, last_s)
    )


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
    told: Told, look: ChartLook, style: Style = PLAIN, *, description: str = "", height_px: int = HEIGHT
) -> Document:
    """Draw what each appliance draws with its elements on, stacked, against every rating.

    Parameters
    ----------
    told : Told
        The circuit over the day (`energyplan.telling.currents.currents_told`).
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
    limits_a = [float(limit_a) for limit_a in frames.ratings["limit_a"]]
    top_a = max([1.0, *frames.currents["to_a"], *limits_a]) * 1.1
    apart_a = top_a * WORDS_PX / max(height_px - AROUND_PX, WORDS_PX)
    heights_a = label_heights_a(limits_a, apart_a)
    over_a = [float(current_a) for current_a in frames.excess["current_a"]]
    top_a = max([top_a, *(height_a + 1.2 * apart_a for height_a in (*heights_a[-1:], *over_a))])
    lines, limits = ([], []) if frames.ratings.empty else _limits(look)
    excess, marks = _over(frames, look)
    layers = [*_stacked(frames, look, top_a), *lines, *excess, *limits, *marks]
    data = {
        "currents": frames.currents,
        "ratings": frames.ratings.assign(label_a=heights_a),
        "excess": frames.excess,
    }
    return finished(layers, data, look, height=height_px, description=said)


def _stacked(frames: _Frames, look: ChartLook, top_a: float) -> list[Any]:
    import altair as alt

    x = clock_axis(frames.hours, frames.zone, frames.span_s)("start_s")
    y = alt.Y("from_a:Q", title=f"Current{frames.line}, A", scale=alt.Scale(domain=[0, top_a], nice=False))
    names = list(dict.fromkeys(frames.currents["appliance"]))
    colours = [look.appliances[index % len(look.appliances)] for index in range(len(names))]
    colour = alt.Color("appliance:N", scale=alt.Scale(domain=names, range=colours), legend=alt.Legend(title=None))
    tips = tooltips(
        appliance="Appliance", clock="From", end_clock="To", current_a="Draws, A|.1f",
        to_a="With those below it, A|.1f",
    )  # fmt: skip
    return [named("currents").mark_rect().encode(x, alt.X2("end_s:Q"), y, alt.Y2("to_a:Q"), colour, tooltip=tips)]


def _over(frames: _Frames, look: ChartLook) -> tuple[list[Any], list[Any]]:
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

    line = named("ratings").mark_rule(color=look.ink, strokeWidth=1.6, strokeDash=[7, 4])
    letters = haloed(
        "ratings", look, look.ink, align="right", baseline="bottom", dx=-5, dy=-3, fontSize=12,
        limit=alt.ExprRef("width - 10"),
    )  # fmt: skip
    drawn = line.encode(alt.Y("limit_a:Q"), tooltip=tooltips(text="Rating"))
    return [drawn], [word.encode(at_pixel("x", "width"), alt.Y("label_a:Q"), alt.Text("text:N")) for word in letters]
