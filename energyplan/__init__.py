"""energyplan: what a brew day on an electric vessel takes from the mains, costs, and may be allowed to draw.

>>> import energyplan as ep
>>> plan = ep.read_plan("demo")
>>> day = ep.simulate(plan)
>>> hottest_c = ep.frame(day)["to_c"].max()
>>> picture = ep.chart(day)

The names below are the public ones; each is imported when it is first used, so that ``import energyplan`` is light.
For notebooks a day is also a data frame (`frame`) and a chart (`chart`).
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from energyplan.base import constants

if TYPE_CHECKING:
    import altair as alt
    import pandas as pd

    from energyplan.advice.answer import Answer, answer
    from energyplan.advice.power import advise
    from energyplan.base.errors import EnergyPlanError
    from energyplan.base.kinds import UnitSystem
    from energyplan.circuits.check import check
    from energyplan.day.brewday import BrewDay, simulate
    from energyplan.plan.file import parse_plan, read_plan
    from energyplan.plan.model import Plan
    from energyplan.tariffs.costs import price
    from energyplan.tariffs.priceline import price_line
    from energyplan.tariffs.starts import find_starts
    from energyplan.tariffs.tarifffile import load_tariff

__version__ = constants.VERSION

__all__ = [
    "Answer",
    "BrewDay",
    "EnergyPlanError",
    "Plan",
    "advise",
    "answer",
    "chart",
    "check",
    "find_starts",
    "frame",
    "load_tariff",
    "parse_plan",
    "price",
    "price_line",
    "read_plan",
    "simulate",
]

_HOMES = {
    "Answer": "advice.answer",
    "BrewDay": "day.brewday",
    "EnergyPlanError": "base.errors",
    "Plan": "plan.model",
    "advise": "advice.power",
    "answer": "advice.answer",
    "check": "circuits.check",
    "find_starts": "tariffs.starts",
    "load_tariff": "tariffs.tarifffile",
    "parse_plan": "plan.file",
    "price": "tariffs.costs",
    "price_line": "tariffs.priceline",
    "read_plan": "plan.file",
    "simulate": "day.brewday",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'energyplan' has no attribute {name!r}")
    found = globals()[name] = getattr(import_module(f"energyplan.{_HOMES[name]}"), name)
    return found


def __dir__() -> list[str]:
    return sorted({*(name for name in globals() if name.startswith("__")), *__all__})


def frame(found: "BrewDay | Answer", *, units: "UnitSystem" = "metric") -> "pd.DataFrame":
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
    from energyplan.advice.answer import Answer
    from energyplan.base.kinds import Style
    from energyplan.faces.frames import frame as frame_of
    from energyplan.telling.phases import phases_table

    shown = frame_of(phases_table(_answer(found)), Style(units))
    if not isinstance(found, Answer):
        return shown.drop(columns=["start", "end", "cost"])
    import pandas as pd

    return shown.assign(**{name: pd.to_datetime(shown[name]).dt.tz_convert(found.zone) for name in ("start", "end")})


def chart(found: "BrewDay | Answer", *, units: "UnitSystem" = "metric") -> "alt.LayerChart":
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
    from energyplan.advice.answer import Answer
    from energyplan.base.kinds import Style
    from energyplan.faces.charttheme import LIGHT
    from energyplan.faces.daychart import day_chart, drawn
    from energyplan.telling.picture import picture_told

    told = picture_told(_answer(found))
    said = "" if isinstance(found, Answer) else "Temperature and power over the day; its clock begins at 00:00."
    return drawn(day_chart(told, LIGHT, Style(units), description=said))


def _answer(found: Any) -> "Answer":
    """The answer itself; of a day alone one without prices and without a date, whose clock begins at 00:00."""
    from datetime import UTC, datetime

    from energyplan.advice.answer import Answer
    from energyplan.base.errors import need
    from energyplan.day.brewday import BrewDay

    if isinstance(found, Answer):
        return found
    need(found, BrewDay, "day: give what simulate(plan) or answer(plan, …) returned")
    return Answer(day=found, start=datetime(2000, 1, 1, tzinfo=UTC), zone="UTC", price=None, circuit=None, house=None)
