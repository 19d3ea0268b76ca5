"""Planning backwards: the start that brings the boil, the vessel's end or everybody's end to a wanted time."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Literal

from energyplan.advice.people import people_day
from energyplan.base.errors import PlanError
from energyplan.day.brewday import BrewDay

__all__ = ["Goal", "lead_s", "start_for", "start_that_meets"]

#: What is to come at the wanted time: the boil, the vessel's end, or the end of chilling and cleaning.
Goal = Literal["boil", "finish", "clean"]

MINUTE = timedelta(minutes=1)
LONGEST_SEARCH = timedelta(hours=48)
ROUNDS = 60


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
    A day of today's plans takes as long at any hour (one air temperature), so that its lead is a number and the search
    ends at once; `start_that_meets` is the search, for leads that depend on the start.
    """
    if wanted.tzinfo is None:
        raise PlanError(f"{wanted.isoformat()}: the wanted time needs its offset from UTC")
    seconds = lead_s(day, goal)
    if goal == "boil":
        return _to_minute(wanted.astimezone(UTC) - timedelta(seconds=seconds) + MINUTE / 2)
    return _to_minute(start_that_meets(lambda _start: seconds, wanted))


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
        raise PlanError("--boil-at: the plan has no boil; give --start or --finish-by")
    return boils_s[0]


def start_that_meets(lead: Callable[[datetime], float], wanted: datetime) -> datetime:
    """The latest start, to a second, from which what it leads to is there by a wanted time.

    Parameters
    ----------
    lead : callable
        Seconds from a start (UTC) to the goal; where the day depends on its hour, so does this. It may jump (a clock
        change, a price), as long as a later start doesn't bring an earlier end by more than it is later.
    wanted : datetime
        The wanted moment, with its offset from UTC.

    Raises
    ------
    PlanError
        If no start within two days before the wanted time will do.

    Notes
    -----
    Bisection on start + lead(start) - wanted, which rises with the start; all in UTC.

    Examples
    --------
    >>> noon = datetime(2026, 12, 5, 12, tzinfo=UTC)
    >>> start_that_meets(lambda start: 3600.0 if start.hour < 9 else 7200.0, noon).isoformat()
    '2026-12-05T10:00:00+00:00'
    """
    wanted = wanted.astimezone(UTC)

    def is_late(start: datetime) -> bool:
        return start + timedelta(seconds=lead(start)) > wanted

    at_once = wanted - timedelta(seconds=lead(wanted))
    if not is_late(at_once) and is_late(at_once + timedelta(seconds=1)):
        return at_once
    early, late = wanted - LONGEST_SEARCH, wanted
    if is_late(early):
        hours = LONGEST_SEARCH / timedelta(hours=1)
        raise PlanError(f"no start within {hours:.0f} h before {wanted:%Y-%m-%d %H:%M}Z is early enough")
    for _ in range(ROUNDS):
        if late - early <= timedelta(seconds=1):
            break
        middle = early + (late - early) / 2
        early, late = (early, middle) if is_late(middle) else (middle, late)
    return early


def _to_minute(moment: datetime) -> datetime:
    """The full minute before, in UTC."""
    return moment.replace(second=0, microsecond=0)
