"""The chart of a circuit: what each appliance draws over the day, stacked, against every rating."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from energyplan.advice.answer import Answer
from energyplan.base.records import dataclass
from energyplan.faces.charts.chartparts import Document, at_pixel, clock_axis, finished, haloed, named, tooltips
from energyplan.faces.charts.charttheme import ChartLook
from energyplan.faces.frames import frame
from energyplan.report.tables import current_table, excess_table, rating_table
from energyplan.telling.picture import hours_table

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["CurrentFrames", "current_chart", "current_frames", "label_heights_a"]

HEIGHT = 340
AROUND_PX, WORDS_PX = 90, 17  # height of legend and axis, and of a line of words
ONE_LOOP = 2  # a line and its neutral, or two legs
MOST_NAMED = 8  # appliances with a colour of their own


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CurrentFrames:
    """What the chart of a circuit is drawn from: the tables of `energyplan.report.tables` by name."""

    currents: "pd.DataFrame"
    ratings: "pd.DataFrame"
    excess: "pd.DataFrame"
    hours: "pd.DataFrame"
    line: str
    zone: str
    span_s: tuple[float, float]


def current_frames(answer: Answer) -> CurrentFrames | None:
    """Gather the tables that the chart of a circuit is drawn from; None when no circuit was entered."""
    check = answer.circuit
    if check is None:
        return None
    return CurrentFrames(
        currents=current_table(check, answer.clock, MOST_NAMED),
        ratings=rating_table(check),
        excess=excess_table(check, answer.clock),
        hours=frame(hours_table(answer), spoken=True),
        line=f" in {check.line}, the fullest line" if len(check.lines) > ONE_LOOP else "",
        zone=answer.zone,
        span_s=(float(check.edges_s[0]), float(check.edges_s[-1])),
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


def current_chart(frames: CurrentFrames, look: ChartLook, *, description: str, height_px: int = HEIGHT) -> Document:
    """Draw what each appliance draws with its elements on, stacked, against every rating.

    Parameters
    ----------
    frames : CurrentFrames
        The circuit over the day.
    look : ChartLook
        Colours.
    description : str
        What the chart shows, for those who hear it.
    height_px : int
        Its height, of which legend and axis take a part.
    """
    limits_a = [float(limit_a) for limit_a in frames.ratings["limit_a"]]
    top_a = max([1.0, *frames.currents["to_a"], *limits_a]) * 1.1
    apart_a = top_a * WORDS_PX / max(height_px - AROUND_PX, WORDS_PX)
    heights_a = label_heights_a(limits_a, apart_a)
    over_a = [float(current_a) for current_a in frames.excess["current_a"]]
    top_a = max([top_a, *(height_a + 1.2 * apart_a for height_a in (*heights_a[-1:], *over_a))])
    lines, limits = ([], []) if frames.ratings.empty else _limits(look)
    excess, words = _over(frames, look)
    layers = [*_stacked(frames, look, top_a), *lines, *excess, *limits, *words]
    data = {
        "currents": frames.currents,
        "ratings": frames.ratings.assign(label_a=heights_a),
        "excess": frames.excess,
    }
    return finished(layers, data, look, height=height_px, description=description)


def _stacked(frames: CurrentFrames, look: ChartLook, top_a: float) -> list[Any]:
    import altair as alt

    x = clock_axis(frames.hours, frames.zone, frames.span_s)("start_s")
    y = alt.Y("from_a:Q", title=f"Elements on{frames.line}, A", scale=alt.Scale(domain=[0, top_a], nice=False))
    names = list(dict.fromkeys(frames.currents["appliance"]))
    colours = [look.appliances[index % len(look.appliances)] for index in range(len(names))]
    colour = alt.Color("appliance:N", scale=alt.Scale(domain=names, range=colours), legend=alt.Legend(title=None))
    told = tooltips(
        appliance="Appliance", start_clock="From", end_clock="To", current_a="Draws, A|.1f",
        to_a="With those below it, A|.1f",
    )  # fmt: skip
    return [named("currents").mark_rect().encode(x, alt.X2("end_s:Q"), y, alt.Y2("to_a:Q"), colour, tooltip=told)]


def _over(frames: CurrentFrames, look: ChartLook) -> tuple[list[Any], list[Any]]:
    """The stretches above a rating, and a sign and a word for each."""
    import altair as alt

    # A layer without a mark would be an unnamed picture to a screen reader.
    if frames.excess.empty:
        return [], []
    x = clock_axis(frames.hours, frames.zone, frames.span_s)("start_s")
    told = tooltips(limit_a="Limit, A|.1f", current_a="Draws, A|.1f", start_clock="From", end_clock="To")
    frame = named("excess").mark_rect(fillOpacity=0, stroke=look.over, strokeWidth=2.5)
    words = haloed("excess", look, look.over, align="left", baseline="bottom", dy=-4, fontWeight=700, fontSize=13)
    drawn = frame.encode(x, alt.X2("end_s:Q"), alt.Y("limit_a:Q"), alt.Y2("current_a:Q"), tooltip=told)
    return [drawn], [word.encode(x, alt.Y("current_a:Q"), alt.TextValue("▲ over")) for word in words]


def _limits(look: ChartLook) -> tuple[list[Any], list[Any]]:
    """The lines of the ratings, and their words."""
    import altair as alt

    line = named("ratings").mark_rule(color=look.ink, strokeWidth=1.6, strokeDash=[7, 4])
    words = haloed(
        "ratings", look, look.ink, align="right", baseline="bottom", dx=-5, dy=-3, fontSize=12,
        limit=alt.ExprRef("width - 10"),
    )  # fmt: skip
    drawn = line.encode(alt.Y("limit_a:Q"), tooltip=tooltips(text="Rating"))
    return [drawn], [word.encode(at_pixel("x", "width"), alt.Y("label_a:Q"), alt.Text("text:N")) for word in words]
