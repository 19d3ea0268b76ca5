"""A day in a notebook: its phases as a data frame, its course as a chart."""

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from energyplan.advice.answer import Answer
from energyplan.base.errors import need
from energyplan.base.kinds import Style, UnitSystem
from energyplan.day.brewday import BrewDay

if TYPE_CHECKING:
    import altair as alt
    import pandas as pd

__all__ = ["chart", "frame"]

_NO_DAY = datetime(2000, 1, 1, tzinfo=UTC)  # the clock of a day without a start counts from 00:00


def frame(found: BrewDay | Answer, *, units: UnitSystem = "metric") -> "pd.DataFrame":
    """The phases of a day, one row each; a second heater is no phase, and in ``day.profiles``.

    Parameters
    ----------
    found : BrewDay or Answer
        A day, or an answer, whose phases also have a clock and a cost.
    units : str
        "metric", or "us": temperatures are then in columns that end in ``_f``.

    Returns
    -------
    DataFrame
        step, phase, minutes, from_c, to_c, lowest_c, energy_kwh, heat_lost_kwh, evaporated_kg, mean_power_w, set_w,
        advised_w, draw_w, draw_a; for an answer also start, end and cost.

    Raises
    ------
    TypeError
        If something else is handed in.

    Examples
    --------
    >>> from energyplan import read_plan, simulate
    >>> list(frame(simulate(read_plan("demo"))).columns)[:4]
    ['step', 'phase', 'minutes', 'from_c']
    """
    from energyplan.faces.frames import frame as frame_of
    from energyplan.telling.phases import phases_table

    shown = frame_of(phases_table(_answer(found)), Style(units))
    if not isinstance(found, Answer):
        return shown.drop(columns=["start", "end", "cost"])
    import pandas as pd

    return shown.assign(**{name: pd.to_datetime(shown[name]).dt.tz_convert(found.zone) for name in ("start", "end")})


def chart(found: BrewDay | Answer, *, units: UnitSystem = "metric") -> "alt.LayerChart":
    """Temperature, power by phase and prices of a day on one clock, as a chart that a notebook draws.

    Parameters
    ----------
    found : BrewDay or Answer
        A day, whose clock then begins at 00:00, or an answer.
    units : str
        "metric" or "us".

    Raises
    ------
    TypeError
        If something else is handed in.

    Examples
    --------
    >>> from energyplan import read_plan, simulate
    >>> type(chart(simulate(read_plan("demo")))).__name__
    'LayerChart'
    """
    from energyplan.faces.charttheme import LIGHT
    from energyplan.faces.daychart import day_chart, drawn
    from energyplan.telling.picture import picture_told

    told = picture_told(_answer(found))
    said = "" if isinstance(found, Answer) else "Temperature and power over the day; its clock begins at 00:00."
    return drawn(day_chart(told, LIGHT, Style(units), description=said))


def _answer(found: Any) -> Answer:
    """The answer itself; of a day alone one without prices and without a date."""
    if isinstance(found, Answer):
        return found
    need(found, BrewDay, "day: give what simulate(plan) or answer(plan, …) returned")
    return Answer(day=found, start=_NO_DAY, zone="UTC", price=None, circuit=None, house=None)
