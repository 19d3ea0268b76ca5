"""Commands about tariffs and the hour: starts, tariff check, tariff import."""

import re
from collections.abc import Mapping
from dataclasses import replace
from datetime import date, time
from typing import TYPE_CHECKING, Annotated

import typer

from energyplan.base.errors import PlanError, TariffError
from energyplan.cli.options import (
    JsonOption,
    MonthOption,
    PlanArgument,
    StartOption,
    TariffOption,
    UnitsOption,
)
from energyplan.cli.output import needed_tariff, plan_of, show, style_of

if TYPE_CHECKING:
    from energyplan.plan.place import Hours

__all__ = ["day_of", "habit_of", "starts"]

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


def starts(
    plan: PlanArgument,
    *,
    tariff: TariffOption = None,
    first: Annotated[str | None, typer.Option("--from", help="First day, such as 2026-12-05; today without.")] = None,
    last: Annotated[str | None, typer.Option("--to", help="Last day; six days later without.")] = None,
    earliest: Annotated[str | None, typer.Option(help="Start not before this time of day.")] = None,
    finish_by: Annotated[str | None, typer.Option(help="Done by this time of day.")] = None,
    not_on: Annotated[str | None, typer.Option(help='Weekdays on which not to start, such as "mon,tue".')] = None,
    attended: Annotated[str | None, typer.Option(help="Hours in which somebody is there, such as 08:00-20:00.")] = None,
    mash_at: Annotated[
        str | None, typer.Option(help="Local time of the mash: shows what waiting with hot water saves, and adds.")
    ] = None,
    filled_at: Annotated[
        str | None, typer.Option(help="Local time at which that water is put in; just before it is heated without.")
    ] = None,
    habit: Annotated[str | None, typer.Option(help='A habit to cost over a year, such as "sat 09:00".')] = None,
    brews: Annotated[int, typer.Option(help="Brews a year of the habit.", min=1, max=52)] = 25,
    now: StartOption = None,
    month_kwh: MonthOption = None,
    estimate: Annotated[bool, typer.Option("--estimate", help="Guess prices beyond a list's end, and say so.")] = False,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
) -> None:
    """Every start time costed: the best, now, the dearest, and all that are as good."""
    from energyplan.advice.starts import StartsQuestion, starts_answer
    from energyplan.day.brewday import simulate
    from energyplan.faces.document import document
    from energyplan.tariffs.clock import local_to_utc
    from energyplan.telling.starts import starts_told

    day, charged = simulate(plan_of(plan, month_kwh)), needed_tariff(tariff, plan)
    zone = charged.time_zone
    given = {"earliest": earliest, "done_by": finish_by, "somebody_there": _hours(attended), "not_on": _days(not_on)}
    question = StartsQuestion(
        first=day_of(first),
        last=day_of(last),
        hours=_asked(day.plan.hours, given),
        mash_at=local_to_utc(mash_at, zone, what="mash") if mash_at else None,
        filled_at=local_to_utc(filled_at, zone, what="filling") if filled_at else None,
        habit=habit_of(habit) if habit else None,
        brews=brews,
        now=local_to_utc(now, zone) if now else None,
        estimate=estimate,
    )
    told = starts_told(starts_answer(day, charged, question))
    if as_json:
        show(document(told))
        return
    from rich.console import Group

    from energyplan.faces.hourpicture import hour_picture
    from energyplan.faces.terminal import terminal

    style = style_of(units)
    parts = [one for part in told.parts for one in ("", terminal(part, style, titled=True))]
    show(Group(terminal(replace(told, parts=()), style), "", *hour_picture(told.facts["by_hour"], style), *parts))


def _asked(hours: "Hours", given: Mapping[str, object]) -> "Hours":
    """The hours of the plan, with those asked for in their place."""
    from pydantic import ValidationError

    from energyplan.plan.place import Hours

    asked = {key: value for key, value in given.items() if value is not None}
    try:
        return Hours.model_validate({**hours.model_dump(by_alias=True), **asked})
    except ValidationError as error:
        detail = error.errors()[0]
        key = str(detail["loc"][0])
        raise PlanError(f'{key} "{asked[key]}": {detail["msg"].removeprefix("Value error, ")}') from None


def _hours(text: str | None) -> list[str] | None:
    if text is None:
        return None
    hours = [one.strip() for one in text.split("-")]
    if len(hours) != 2:
        raise TariffError(f'attended "{text}": write the hours as 08:00-20:00')
    return hours


def _days(text: str | None) -> list[str] | None:
    return None if text is None else [_weekday(name) for name in re.split(r"[,\s]+", text) if name]


def _weekday(name: str) -> str:
    short = name.strip().lower()[:3]
    if short not in WEEKDAYS:
        raise TariffError(f'"{name}" is no weekday: write {", ".join(WEEKDAYS)}')
    return short


def habit_of(text: str) -> tuple[int, time]:
    """A weekday and a time as they are typed."""
    match = re.fullmatch(r"\s*([A-Za-z]+)\s+([01]?\d|2[0-3]):([0-5]\d)\s*", text)
    if match is None:
        raise TariffError(f'habit "{text}": write weekday and time, such as "sat 09:00"')
    return WEEKDAYS.index(_weekday(match[1])), time(int(match[2]), int(match[3]))


def day_of(text: str | None) -> date | None:
    """A day as it is typed."""
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise TariffError(f'"{text}" is no day: write it as 2026-12-05') from None
