"""Who is in the room when, as one row of bars on the clock."""

from energyplan.base.kinds import PLAIN, Style
from energyplan.base.sentence import words
from energyplan.faces.charts.chartparts import Document, clock_axis, finished, named, tooltips
from energyplan.faces.charts.charttheme import ChartLook
from energyplan.faces.frames import frame
from energyplan.telling.told import Told

__all__ = ["presence_chart"]

HEIGHT = 130


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
    return finished([drawn], {"bars": bars}, look, height=HEIGHT, description=said)
