"""When to start: every start costed, or worked back from a time by which something must be so."""

from datetime import UTC, date, datetime, time, timedelta
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from energyplan.advice.people import people_day
from energyplan.base.errors import PlanError, TariffError
from energyplan.base.kinds import CELSIUS
from energyplan.base.money import Money
from energyplan.base.records import dataclass
from energyplan.base.sentence import Sentence
from energyplan.day.brewday import BrewDay
from energyplan.day.tasks import wort_boils
from energyplan.plan.equipment import Hours
from energyplan.plan.model import Plan
from energyplan.plan.values import MINUTES_PER_DAY
from energyplan.tariffs.clock import local_to_utc, to_local, utc_s
from energyplan.tariffs.costs import price
from energyplan.tariffs.dayrules import WEEKDAYS
from energyplan.tariffs.heatedwater import WaterToHeat
from energyplan.tariffs.periods import Habit, HabitCost, habit_cost
from energyplan.tariffs.priceline import PriceLine, carbon_line, price_line, with_estimate
from energyplan.tariffs.startcosts import StartLimits, allowed_starts
from energyplan.tariffs.starts import StartConditions, StartSearch, find_starts
from energyplan.tariffs.tariff import Tariff, of_the_month, zone_name
from energyplan.tariffs.waiting import Filling, WaitingPlan, wait_for_cheap_heat

__all__ = [
    "ASSUMED_HOURS",
    "Goal",
    "StartsAnswer",
    "StartsQuestion",
    "habit_year",
    "lead_s",
    "limits_of",
    "start_for",
    "starts_answer",
    "strike_water",
    "usual_hours",
    "usual_question",
]

#: Where no hours are entered and a start is proposed unasked: nothing that heats is left unattended (common practice,
#: no source).
ASSUMED_HOURS = Hours(somebody_there_min=(6 * 60, 23 * 60))


MOST_DAYS = 400


WAITS_AT_MOST = timedelta(hours=18)


TABLE_STEP_K = 0.1


ABOVE_STRIKE_K = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class StartsQuestion:
    """What is asked; every part may be left out.

    Parameters
    ----------
    first, last : date, optional
        First and last day of a start; a week from this minute on.
    hours : Hours, optional
        When the brewer brews; those of the plan.
    mash_at, filled_at : datetime, optional
        When the strike water must be hot, and when it is put in, if that is settled; with their offset from UTC.
    habit : tuple of (weekday, time), optional
        A habit to cost over a year; Monday is 0.
    brews : int
        Brews a year of the habit.
    now : datetime, optional
        Start to compare with, with its offset from UTC; this moment.
    estimate : bool
        Whether prices beyond the end of a list may be guessed; every amount that rests on one then says so.
    """

    first: date | None = None
    last: date | None = None
    hours: Hours | None = None
    mash_at: datetime | None = None
    filled_at: datetime | None = None
    habit: tuple[int, time] | None = None
    brews: int = 25
    now: datetime | None = None
    estimate: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StartsAnswer:
    """All starts of a range, on the line of its prices; waiting with hot water and a habit's year if asked for.

    ``best_ends`` are the least and the most that the best start may cost, where the tariff has steps by the month's
    use and that use is not known.
    """

    day: BrewDay
    tariff: Tariff
    hours: Hours
    line: PriceLine
    search: StartSearch
    best_ends: tuple[Money, Money] | None
    waiting: WaitingPlan | None
    habit: HabitCost | None


def starts_answer(day: BrewDay, tariff: Tariff, question: StartsQuestion) -> StartsAnswer:
    """Cost every start minute of a range of days.

    Parameters
    ----------
    day : BrewDay
        The brew day.
    tariff : Tariff
        What the supplier charges.
    question : StartsQuestion
        Range and conditions.

    Raises
    ------
    TariffError
        If the range is none, no start is allowed, or the tariff has no price.
    ClockError
        If a local time is skipped or shown twice by a clock change.
    """
    tariff, zone = of_the_month(tariff, day.plan.supply), zone_name(day.plan.site, tariff)
    now = question.now or datetime.now(UTC)
    first = question.first or to_local(now, zone).date()
    last = question.last or first + timedelta(days=6)
    if not first <= last <= first + timedelta(days=MOST_DAYS):
        raise TariffError(f"from {first} to {last}: the last day must follow the first, by {MOST_DAYS} days at most")
    hours = question.hours or day.plan.hours
    if question.estimate:
        until = local_to_utc(datetime.combine(last + timedelta(days=3), time()), zone)
        tariff = with_estimate(tariff, until) or tariff
    line = price_line(tariff, first - timedelta(days=2), last + timedelta(days=2 + int(day.duration_s // 86400)))
    search = find_starts(
        day.profiles,
        line,
        first=_first_start(question, first, zone),
        last=local_to_utc(datetime.combine(last + timedelta(days=1), time()), zone) - timedelta(minutes=1),
        conditions=StartConditions(
            limits=limits_of(day, hours),
            now=now,
            carbon=carbon_line(tariff, line),
            zone=zone,
        ),
    )
    habit = None
    if question.habit is not None:
        habit = Habit(weekday=question.habit[0], at=question.habit[1], brews=question.brews, first=first)
    ends = price(day.profiles, line, search.best.start).tier_ends()
    return StartsAnswer(
        day=day,
        tariff=tariff,
        hours=hours,
        line=line,
        search=search,
        best_ends=None if ends is None else (ends[0].total, ends[1].total),
        waiting=_waiting(day, tariff, hours, question.mash_at, question.filled_at) if question.mash_at else None,
        habit=None if habit is None else habit_year(day, tariff, hours, habit),
    )


def _first_start(question: StartsQuestion, first: date, zone: str) -> datetime:
    """The first start that is costed: midnight of a day that was asked for; from today on, this minute."""
    midnight = local_to_utc(datetime.combine(first, time()), zone)
    if question.first is None and question.now is None:
        return max(midnight, datetime.now(UTC).replace(second=0, microsecond=0))
    return midnight


def usual_hours(plan: Plan) -> Hours:
    """The hours of a plan; where none are entered, those in which people are up.

    Examples
    --------
    >>> from energyplan.plan.file import read_plan
    >>> usual_hours(read_plan("demo")).somebody_there_min
    (360, 1380)
    """
    return ASSUMED_HOURS if plan.hours == Hours() else plan.hours


def usual_question(plan: Plan, first: date, start: datetime) -> StartsQuestion:
    """The week from a day on, within the usual hours, beside a start."""
    return StartsQuestion(first=first, hours=usual_hours(plan), now=start)


def limits_of(day: BrewDay, hours: Hours) -> StartLimits:
    """The brewer's hours as limits on the start of a day.

    Where they say when somebody is there, every stretch of the day that needs a person must lie in them: switching on
    among them, so that no start is proposed at an hour at which nobody is there to do it.
    """
    there = hours.somebody_there_min
    return StartLimits(
        earliest_min=hours.earliest_min,
        finish_by_min=hours.done_by_min,
        not_on=frozenset(day for day, name in enumerate(WEEKDAYS) if name[:3].lower() in hours.not_on),
        attended=attended_stretches(day) if there else (),
        attended_from_min=there[0] if there else 0,
        attended_to_min=there[1] if there else MINUTES_PER_DAY,
    )


def attended_stretches(day: BrewDay) -> tuple[tuple[float, float], ...]:
    """Stretches that need a person [s from the start]: all of `people_day`'s, switching on among them, and boils.

    They stand where they are planned, so that no other days are drawn.
    """
    boils = [(phase.start_s, phase.end_s) for phase in day.phases if phase.phase == "boil"]
    present = [(presence.begins_s, presence.ends_s) for presence in people_day(day, draws=0).presences]
    return tuple(sorted(boils + present))


def _waiting(
    day: BrewDay, tariff: Tariff, hours: Hours, ready: datetime, filled_at: datetime | None
) -> WaitingPlan:  # fmt: skip
    """Heat the strike water when it is cheap and keep it hot until the mash."""
    earliest = filled_at or ready - WAITS_AT_MOST
    if not timedelta(0) < ready - earliest <= WAITS_AT_MOST:
        most = WAITS_AT_MOST / timedelta(hours=1)
        raise TariffError(f"the water must be filled in before the mash, by {most:.0f} h at most")
    line = price_line(tariff, *(to_local(moment, tariff.time_zone).date() for moment in (earliest, ready)))
    there = _somebody_there(hours, earliest, ready, zone_name(day.plan.site, tariff))
    filling = Filling(at=filled_at, minutes=there)
    return wait_for_cheap_heat(strike_water(day), line, earliest=earliest, ready=ready, filling=filling)


def _somebody_there(hours: Hours, earliest: datetime, ready: datetime, zone: str) -> NDArray[np.bool_] | None:
    """For each minute whether somebody is there to fill in the water; None for always."""
    if hours.somebody_there_min is None:
        return None
    opens, closes = hours.somebody_there_min
    limits = StartLimits(attended=((0.0, 0.0),), attended_from_min=opens, attended_to_min=closes)
    count = int((ready - earliest) / timedelta(minutes=1))
    return allowed_starts(limits, first_s=utc_s(earliest), count=count, zone=zone, ends_s=0.0)


def strike_water(day: BrewDay) -> WaterToHeat:
    """The first ramp of a day as water to heat: its contents, its losses, what goes in and what the meter sees.

    Raises
    ------
    TariffError
        If the day does not begin with heating plain water.
    """
    leg = next((leg for leg in day.course.legs if leg.phase == "ramp"), None)
    if leg is None or leg.before.grain_kg[0] > 0 or leg.before.extract_kg[0] > 0:
        raise TariffError("only plain water may wait, and this plan does not begin with heating any")
    tap_c, strike_c, air_c = float(leg.from_c[0]), float(leg.outcome.end_c[0]), day.plan.site.air_c
    if strike_c <= max(tap_c, air_c):
        said = "water of {strike} in air of {air}: there is nothing to keep warm"
        raise TariffError(Sentence(said, strike=CELSIUS(strike_c), air=CELSIUS(air_c)))
    low_c, high_c = min(tap_c, air_c), min(strike_c + ABOVE_STRIKE_K, leg.losses.high_c)
    temperatures_c = np.linspace(low_c, high_c, int((high_c - low_c) / TABLE_STEP_K) + 2)
    column = temperatures_c[:, None]
    standby_w = day.plan.vessel.standby_w
    return WaterToHeat(
        temperatures_c=temperatures_c,
        stored_j=np.asarray(leg.before.enthalpy_j(column))[:, 0],
        loss_w=np.asarray(leg.losses.total_w(column))[:, 0],
        tap_c=tap_c,
        strike_c=strike_c,
        air_c=air_c,
        heat_w=float(leg.outcome.heat_j[0] / leg.outcome.duration_s[0]),
        meter_w=float(leg.board_w[0]) - standby_w,
        standby_w=standby_w,
        direct_s=float(leg.outcome.duration_s[0]),
    )


def habit_year(day: BrewDay, tariff: Tariff, hours: Hours, habit: Habit) -> HabitCost:
    """Cost of a habit over its year, against the best start of each of its days within the hours.

    Raises
    ------
    TariffError, ClockError
        As `energyplan.tariffs.periods.habit_cost`.
    """
    line = price_line(tariff, habit.first - timedelta(days=2), habit.first + timedelta(days=MOST_DAYS))
    return habit_cost(day.profiles, line, habit, limits_of(day, hours), zone_name(day.plan.site, tariff))


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

    Notes
    -----
    Of several boils the first of the wort is meant; without wort the first.
    """
    if goal == "finish":
        return day.duration_s
    if goal == "clean":
        return people_day(day).ends_s
    boils = [phase for phase in day.phases if phase.phase == "boil"]
    if not boils:
        raise PlanError("the plan has no boil to work back from; name a start or an end")
    of_wort = wort_boils(day.plan)
    return next((phase for phase in boils if phase.step in of_wort), boils[0]).start_s


def _to_minute(moment: datetime) -> datetime:
    """The full minute before, in UTC."""
    return moment.replace(second=0, microsecond=0)
