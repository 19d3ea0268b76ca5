"""Who is in the room when, as one row of bars on the clock."""

from typing import TYPE_CHECKING

from energyplan.advice.answer import Answer
from energyplan.faces.charts.chartparts import Document, clock_axis, finished, named, tooltips
from energyplan.faces.charts.charttheme import ChartLook
from energyplan.report.daytables import hour_table
from energyplan.report.peopletables import presence_table

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["presence_chart"]

HEIGHT = 130
ROOM, HEATING, RESTING = "In the room", "Nobody needed, heating", "Nobody needed, off"


def _bars(answer: Answer) -> "pd.DataFrame":
    frame = presence_table(answer)
    between = [HEATING if heats is True else RESTING for heats in frame["heats"]]
    who = [ROOM if there else other for there, other in zip(frame["in_the_room"], between, strict=True)]
    clock = [f"{start} to {end}" for start, end in zip(frame["start_clock"], frame["end_clock"], strict=True)]
    return frame.assign(who=who, clock=clock)[["start_s", "end_s", "who", "clock", "what_for"]]


def presence_chart(answer: Answer, look: ChartLook, *, description: str) -> Document:
    """Draw the stretches with somebody in the room, and those between with and without heat.

    Parameters
    ----------
    answer : Answer
        The answered plan.
    look : ChartLook
        Colours.
    description : str
        What the chart shows, for those who hear it.
    """
    import altair as alt

    bars = _bars(answer)
    span_s = (min(0.0, float(bars["start_s"].min())), max(answer.day.duration_s, float(bars["end_s"].max())))
    x = clock_axis(hour_table(answer), answer.zone, span_s)("start_s")
    colours = alt.Scale(domain=[ROOM, HEATING, RESTING], range=[look.accent, look.phases["ramp"], look.grid])
    row = named("bars").mark_rect(stroke=look.paper, strokeWidth=1)
    told = tooltips(who="Who", clock="Clock", what_for="What for")
    drawn = row.encode(x, alt.X2("end_s:Q"), alt.Color("who:N", scale=colours, title=None), tooltip=told)
    return finished([drawn], {"bars": bars}, look, height=HEIGHT, description=description)
