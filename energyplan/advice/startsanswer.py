"""When to start: every minute costed, waiting on cheap heat, what a habit costs. From plain words to the search."""

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from energyplan.advice.people import people_day
from energyplan.base.errors import TariffError
from energyplan.day.body import shell_of, surroundings_of
from energyplan.day.brewday import BrewDay
from energyplan.physics.vesselloss import dry_loss_w
from energyplan.tariffs.clock import local_to_utc, to_local
from energyplan.tariffs.dayrules import parse_clock
from energyplan.tariffs.habits import Habit, HabitCost, habit_cost
from energyplan.tariffs.limits import StartLimits
from energyplan.tariffs.priceline import PriceLine, carbon_line, price_line
from energyplan.tariffs.starts import StartConditions, StartSearch, find_starts
from energyplan.tariffs.tariff import Tariff
from energyplan.tariffs.waiting import WaitingPlan, WaterToHeat, wait_for_cheap_heat

__all__ = ["StartsAnswer", "StartsQuestion", "starts_answer"]

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
MOST_DAYS = 400
WAITS_AT_MOST = timedelta(hours=18)


@dataclass(frozen=True, slots=True, kw_only=True)
class StartsQuestion:
    """What is asked, in the words of the brewer; every part may be left out."""

    first: str | None = None
    last: str | None = None
    earliest: str | None = None
    finish_by: str | None = None
    not_on: str = ""
    attended: str | None = None
    mash_at: str | None = None
    habit: str | None = None
    brews: int = 25
    now: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StartsAnswer:
    """All starts of a range; waiting with hot water and a habit's year if they were asked for."""

    day: BrewDay
    tariff: Tariff
    search: StartSearch
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
        Range and conditions; the range is a week from today without.

    Raises
    ------
    TariffError
        If a word isn't understood, no start is allowed, or the tariff has no price.
    ClockError
        If a local time is skipped or shown twice by a clock change.
    """
    zone = tariff.time_zone
    now = local_to_utc(question.now, zone) if question.now else datetime.now(UTC)
    first = _day(question.first) or to_local(now, zone).date()
    last = _day(question.last) or first + timedelta(days=6)
    if not first <= last <= first + timedelta(days=MOST_DAYS):
        raise TariffError(f"from {first} to {last}: the last day must follow the first, by {MOST_DAYS} days at most")
    line = price_line(tariff, first - timedelta(days=2), last + timedelta(days=2 + int(day.duration_s // 86400)))
    limits = _limits(day, question)
    search = find_starts(
        day.profiles,
        line,
        first=local_to_utc(datetime.combine(first, time()), zone),
        last=local_to_utc(datetime.combine(last + timedelta(days=1), time()), zone) - timedelta(minutes=1),
        conditions=StartConditions(limits=limits, now=now, carbon=carbon_line(tariff, line)),
    )
    return StartsAnswer(
        day=day,
        tariff=tariff,
        search=search,
        waiting=_waiting(day, tariff, question.mash_at) if question.mash_at else None,
        habit=_habit(day, tariff, question, first) if question.habit else None,
    )


def _day(text: str | None) -> date | None:
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise TariffError(f'"{text}" is no day: write it as 2026-12-05') from None


def _limits(day: BrewDay, question: StartsQuestion) -> StartLimits:
    hours = question.attended.split("-") if question.attended else []
    if hours and len(hours) != 2:
        raise TariffError(f'attended "{question.attended}": write the hours as 08:00-20:00')
    from_min, to_min = (_minute(hour) for hour in hours) if hours else (0, 24 * 60)
    return StartLimits(
        earliest_min=_minute(question.earliest) if question.earliest else None,
        finish_by_min=_minute(question.finish_by) if question.finish_by else None,
        not_on=frozenset(_weekday(name) for name in re.split(r"[,\s]+", question.not_on) if name),
        attended=attended_stretches(day) if hours else (),
        attended_from_min=from_min,
        attended_to_min=to_min,
    )


def _minute(text: str) -> int:
    try:
        return parse_clock(text.strip())
    except ValueError as error:
        raise TariffError(f'"{text}" is no time of day: {error}') from None


def attended_stretches(day: BrewDay) -> tuple[tuple[float, float], ...]:
    """Stretches that need a person [s from the start]: all of `people_day`'s, switching on among them, and boils.

    A start at an hour at which nobody is there to switch on is so never proposed for its price.
    """
    boils = [(phase.start_s, phase.end_s) for phase in day.phases if phase.phase == "boil"]
    present = [(presence.begins_s, presence.ends_s) for presence in people_day(day).presences]
    return tuple(sorted(boils + present))


def _weekday(name: str) -> int:
    short = name.strip().lower()[:3]
    if short not in WEEKDAYS:
        raise TariffError(f'"{name}" is no weekday: write {", ".join(WEEKDAYS)}')
    return WEEKDAYS.index(short)


def _waiting(day: BrewDay, tariff: Tariff, mash_at: str) -> WaitingPlan:
    """Heat the strike water when it is cheap and keep it hot until the mash."""
    ready = local_to_utc(mash_at, tariff.time_zone)
    earliest = ready - WAITS_AT_MOST
    line: PriceLine = price_line(
        tariff, to_local(earliest, tariff.time_zone).date(), to_local(ready, tariff.time_zone).date()
    )
    return wait_for_cheap_heat(_strike_water(day), line, earliest=earliest, ready=ready)


def _strike_water(day: BrewDay) -> WaterToHeat:
    """The first ramp as water to heat: its loss is taken as straight from the air to the strike temperature."""
    ramp = next((phase for phase in day.phases if phase.phase == "ramp"), None)
    if ramp is None:
        raise TariffError("--mash-at: the plan heats nothing, so there is nothing to wait for")
    plan, rise_k = day.plan, ramp.to_c - ramp.from_c
    around = surroundings_of(plan)
    loss_w = float(dry_loss_w(ramp.to_c, around, shell_of(plan), "on", 1.0))
    air_above_k = plan.site.air_c - ramp.from_c
    return WaterToHeat(
        heat_j=ramp.stored_j,
        heat_capacity_j_per_k=ramp.stored_j / rise_k,
        loss_w_per_k=max(loss_w / max(ramp.to_c - plan.site.air_c, 1.0), 0.0),
        heater_w=ramp.element_j / ramp.duration_s,
        air_above_water_k=air_above_k,
        highest_j=ramp.stored_j,
    )


def _habit(day: BrewDay, tariff: Tariff, question: StartsQuestion, first: date) -> HabitCost:
    match = re.fullmatch(r"\s*([A-Za-z]+)\s+(\d{1,2}:\d{2})\s*", question.habit or "")
    if match is None:
        raise TariffError(f'habit "{question.habit}": write weekday and time, such as "sat 09:00"')
    minute = _minute(match[2])
    habit = Habit(weekday=_weekday(match[1]), at=time(minute // 60, minute % 60), brews=question.brews, first=first)
    line = price_line(tariff, first - timedelta(days=1), first + timedelta(days=MOST_DAYS))
    return habit_cost(day.profiles, line, habit, _limits(day, question))
