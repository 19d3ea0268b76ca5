"""Planning backwards: the start that brings the boil, the vessel's end or everybody's end to a wanted time."""

from datetime import UTC, datetime, timedelta
from typing import Literal

from energyplan.advice.people import people_day
from energyplan.base.errors import PlanError
from energyplan.day.brewday import BrewDay

__all__ = ["Goal", "lead_s", "start_for"]

#: What is to come at the wanted time: the boil, the vessel's end, or the end of chilling and cleaning.
Goal = Literal["boil", "finish", "clean"]

MINUTE = timedelta(minutes=1)


def start_for(day: BrewDay, goal: Goal, wanted: datetime) -> datetime:
    """The start with which something comes at a wanted time.

    Parameters
    ----------
    day : BrewDay
        The day.
    goal : str
        "boil" (its onset, to the nearest minute), "finish" (the vessel is done by then) or "clean" (all is chilled,
        cleaned and put away by then); by the last two the start is the latest full minute that will do.
    wanted : datetime
        The wanted moment, with its offset from UTC.

    Returns
    -------
    datetime
        The start, in UTC: a clock change between start and goal moves nothing.

    Raises
    ------
    PlanError
        If the plan has no boil, or the wanted time has no offset.

    Notes
    -----
    A day takes as long at any hour (a plan has one air temperature), so that its lead is a number.
    """
    if wanted.tzinfo is None:
        raise PlanError(f"{wanted.isoformat()}: the wanted time needs its offset from UTC")
    seconds = lead_s(day, goal)
    if goal == "boil":
        return _to_minute(wanted.astimezone(UTC) - timedelta(seconds=seconds) + MINUTE / 2)
    return _to_minute(wanted.astimezone(UTC) - timedelta(seconds=seconds))


def lead_s(day: BrewDay, goal: Goal) -> float:
    """Seconds from the start of a day to a goal.

    Raises
    ------
    PlanError
        If the goal is the boil and the plan has none.
    """
    if goal == "finish":
        return day.duration_s
    if goal == "clean":
        return people_day(day).ends_s
    boils_s = [phase.start_s for phase in day.phases if phase.phase == "boil"]
    if not boils_s:
        raise PlanError("the plan has no boil to work back from; name a start or an end")
    return boils_s[0]


def _to_minute(moment: datetime) -> datetime:
    """The full minute before, in UTC."""
    return moment.replace(second=0, microsecond=0)
