"""Commands about tariffs and the hour: starts; tariff check, compare and import."""

import re
import sys
from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime, time
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from energyplan.base.errors import PlanError, TariffError
from energyplan.cli.output import (
    AllOption,
    ForceOption,
    JsonOption,
    MonthOption,
    PlanArgument,
    StartOption,
    TariffOption,
    UnitsOption,
    When,
    needed_tariff,
    plan_of,
    show,
    style_of,
)

if TYPE_CHECKING:
    from rich.console import RenderableType

    from energyplan.plan.equipment import Hours
    from energyplan.tariffs.pricelist import PriceList
    from energyplan.tariffs.tarifffile import ListTerms
    from energyplan.telling.told import Told

__all__ = ["day_of", "habit_of", "starts", "tariffs"]

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


def starts(
    plan: PlanArgument,
    *,
    tariff: TariffOption = None,
    first: Annotated[str | None, typer.Option("--from", help="First day, such as 2026-12-05; today without.")] = None,
    last: Annotated[
        str | None, typer.Option("--to", help="Last day, such as 2026-12-11; six days later without.")
    ] = None,
    earliest: Annotated[str | None, typer.Option(help="Start not before this time of day, such as 07:00.")] = None,
    finish_by: Annotated[str | None, typer.Option(help="Done by this time of day, such as 20:00.")] = None,
    not_on: Annotated[str | None, typer.Option(help='Weekdays on which not to start, such as "mon,tue".')] = None,
    attended: Annotated[str | None, typer.Option(help="Hours in which somebody is there, such as 08:00-20:00.")] = None,
    mash_at: Annotated[
        str | None,
        typer.Option(help="The mash, such as 2026-12-05T09:00: what waiting with hot water saves, and adds."),
    ] = None,
    filled_at: Annotated[
        str | None,
        typer.Option(help="That water is put in, such as 2026-12-04T22:00; just before it is heated without."),
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
    from energyplan.faces.frames import document
    from energyplan.tariffs.clock import local_to_utc
    from energyplan.tariffs.tariff import zone_name
    from energyplan.telling.starts import starts_told

    day, charged = simulate(plan_of(plan, month_kwh)), needed_tariff(tariff, plan, day_of(first))
    zone = zone_name(day.plan.site, charged)
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

    from energyplan.faces.strip import hour_picture
    from energyplan.faces.terminal import terminal

    style = style_of(units)
    parts = [one for part in told.parts for one in ("", terminal(part, style, titled=True))]
    picture: list[RenderableType] = []
    if not told.facts["every_start_the_same"]:
        picture = ["", *hour_picture(told.facts["by_hour"], style)]
    show(Group(terminal(replace(told, parts=()), style), *picture, *parts))


def _asked(hours: "Hours", given: Mapping[str, object]) -> "Hours":
    """The hours of the plan, with those asked for in their place."""
    from pydantic import ValidationError

    from energyplan.plan.equipment import Hours

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


tariffs = typer.Typer(help="Look at tariff files.", no_args_is_help=True, rich_markup_mode=None)


MOST_BYTES = 20_000_000


ClockName = Literal["utc", "local", "offset in file"]


OrderName = Literal["year first", "day first", "month first"]


@tariffs.command("check")
def check(
    tariff: Annotated[str, typer.Argument(help="Tariff file, or a packaged one such as demo.", metavar="TARIFF")],
    *,
    on: Annotated[str | None, typer.Option("--date", help="A day of the week to show, such as 2026-12-05.")] = None,
    as_json: JsonOption = False,
) -> None:
    """The resolved week, gaps and overlaps, holidays, and what looks like a slip."""
    from energyplan.faces.frames import document
    from energyplan.tariffs.tariffcheck import check_tariff
    from energyplan.tariffs.tarifffile import load_tariff
    from energyplan.telling.prices import prices_told

    read = load_tariff(tariff, check_coverage=False)
    today = datetime.now().astimezone().date()
    found = check_tariff(read, day_of(on) or today, today=today)
    told = prices_told(read, found)
    show(document(told) if as_json else _week_page(told))
    if found.problems:
        raise typer.Exit(2)


def _week_page(told: "Told") -> "RenderableType":
    """What a tariff says, with the picture of its week between the answer and the numbers."""
    from rich.console import Group

    from energyplan.faces.strip import week_picture
    from energyplan.faces.terminal import grid, terminal

    head = terminal(replace(told, tables=()))
    rest = [one for table in told.tables if table.rows for one in ("", grid(table))]
    return Group(head, "", *week_picture(told.facts["week"]), *rest)


@tariffs.command("compare")
def compare(
    plan: PlanArgument,
    names: Annotated[list[str], typer.Argument(help="Tariff files, or packaged ones.", metavar="TARIFF")],
    *,
    start: StartOption = None,
    habit: Annotated[str, typer.Option(help='When you usually brew, such as "sat 09:00".')] = "sat 09:00",
    brews: Annotated[int, typer.Option(help="Brews a year.", min=1, max=52)] = 20,
    month_kwh: MonthOption = None,
    every: AllOption = False,
    as_json: JsonOption = False,
) -> None:
    """One day, and a year of your habit, under each of several tariffs."""
    from energyplan.advice.pricing import compare_tariffs
    from energyplan.day.brewday import simulate
    from energyplan.faces.frames import document
    from energyplan.faces.terminal import terminal
    from energyplan.tariffs.tariff import zone_name
    from energyplan.tariffs.tarifffile import load_tariff
    from energyplan.telling.measures import tariffs_told

    if len(names) < 2:
        raise TariffError("one tariff is nothing to compare; name two or more")
    read, charged = plan_of(plan, month_kwh), [load_tariff(name) for name in names]
    zone, usual = zone_name(read.site, charged[0]), habit_of(habit)
    found = compare_tariffs(simulate(read), charged, When(start).resolve(read, zone), habit=usual, brews=brews)
    told = tariffs_told(found, zone)
    show(document(told) if as_json else terminal(told, detail=int(every)))


@tariffs.command("import")
def import_prices(
    file: Annotated[
        str, typer.Argument(help="A list of prices (CSV), or a rate in the open URDB JSON schema.", metavar="FILE")
    ],
    *,
    zone: Annotated[str, typer.Option("--time-zone", help="IANA time zone of the place.")],
    output: Annotated[Path | None, typer.Option("-o", "--output", help="Tariff file to write.")] = None,
    name: Annotated[str, typer.Option(help="What to call the tariff.")] = "By the list",
    currency: Annotated[str | None, typer.Option(help="ISO code, where the list's unit doesn't say it.")] = None,
    unit: Annotated[str | None, typer.Option(help="Unit of the list, such as EUR/MWh.")] = None,
    column: Annotated[str | None, typer.Option(help="Column of the prices.")] = None,
    clock: Annotated[ClockName | None, typer.Option(help="Whose clock the times follow.")] = None,
    stamp: Annotated[Literal["start", "end"] | None, typer.Option(help="What a single time of a row is.")] = None,
    days: Annotated[OrderName | None, typer.Option(help="Order of day, month and year.")] = None,
    adder: Annotated[
        list[str] | None,
        typer.Option(help='On top: "0.12 EUR/kWh", or "network: 6 ct/kWh 17:00-21:00 mon-fri"; may be given again.'),
    ] = None,
    tax: Annotated[str | None, typer.Option(help="Tax on top of list and adders, in percent.")] = None,
    force: ForceOption = False,
) -> None:
    """Turn a list of prices, or a rate of the open URDB schema, into a tariff file; say how it was read."""
    from energyplan.base.files import read_text
    from energyplan.tariffs.pricelist import ListHints, read_price_list
    from energyplan.tariffs.tarifffile import ListTerms, currency_of_unit

    text = read_text(file, MOST_BYTES, what="a list of prices")
    if text.lstrip().startswith(("{", "[")):
        _import_rate(text, zone, output, file, force=force)
        return
    hints = ListHints(price_column=column, unit=unit, clock=clock, stamp=stamp, order=days)
    found = read_price_list(text, zone=zone, hints=hints, source=file)
    money = currency or currency_of_unit(found.reading.unit)
    if money is None:
        raise TariffError(f"{found.reading.unit} names no currency: give it, such as --currency EUR", source=file)
    terms = ListTerms(
        name=name, currency=money, time_zone=zone, tax_percent=_percent(tax), adders=tuple(adder or ())
    )  # fmt: skip
    _write_list(found, terms, output, force=force)


def _percent(text: str | None) -> Decimal | None:
    if text is None:
        return None
    try:
        return Decimal(text.strip().rstrip("% ").replace(",", "."))
    except InvalidOperation:
        raise TariffError(f'tax "{text}": write a percentage, such as 21') from None


def _write_list(found: "PriceList", terms: "ListTerms", output: Path | None, *, force: bool) -> None:
    """Write the tariff and, beside it, its list; say on stderr how it was read."""
    from energyplan.base.files import write_all
    from energyplan.base.sentence import words
    from energyplan.tariffs.tarifffile import list_tariff_toml, parse_tariff
    from energyplan.telling.prices import list_sentences

    if output is None:
        raise TariffError("a list of prices becomes a tariff file with the list beside it: give -o FILE.toml")
    series = output.with_name(f"{output.stem}-prices.csv")
    toml, prices = list_tariff_toml(found, terms, series.name), found.csv_text()
    parse_tariff(toml, source=str(output), series_texts={series.name: prices})  # what would be refused is not written
    write_all({output: toml.encode(), series: prices.encode()}, force=force)
    for sentence in list_sentences(found, terms.time_zone):
        sys.stderr.write(f"{words(sentence)}\n")


def _import_rate(text: str, zone: str, output: Path | None, source: str, *, force: bool) -> None:
    """Write a rate of the open schema; say on stderr what is dropped."""
    from energyplan.base.errors import visible
    from energyplan.base.files import write_new
    from energyplan.tariffs.tarifffile import parse_tariff
    from energyplan.tariffs.urdb import import_urdb

    rate = import_urdb(text, time_zone=zone, source=source)
    parse_tariff(rate.toml, source=source if output is None else str(output))
    if output is None:
        sys.stdout.write(rate.toml)
    else:
        write_new(output, rate.toml.encode(), force=force)
    for dropped in rate.dropped:
        sys.stderr.write(visible(f"dropped: {dropped}") + "\n")
