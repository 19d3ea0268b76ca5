"""Commands about tariffs and the hour: starts, tariff check, tariff import."""

from datetime import date, datetime
from pathlib import Path
from typing import Annotated

import typer

from energyplan.base.errors import FileError, TariffError
from energyplan.cli.options import ForceOption, JsonOption, PlanArgument, StartOption, TariffOption
from energyplan.cli.output import needed_tariff, show

__all__ = ["starts", "tariffs"]

tariffs = typer.Typer(help="Look at tariff files.", no_args_is_help=True, rich_markup_mode=None)


def starts(
    plan: PlanArgument,
    *,
    tariff: TariffOption = None,
    first: Annotated[str | None, typer.Option("--from", help="First day, such as 2026-12-05; today without.")] = None,
    last: Annotated[str | None, typer.Option("--to", help="Last day; six days later without.")] = None,
    earliest: Annotated[str | None, typer.Option(help="Start not before this time of day.")] = None,
    finish_by: Annotated[str | None, typer.Option(help="Done by this time of day.")] = None,
    not_on: Annotated[str, typer.Option(help='Weekdays on which not to start, such as "mon,tue".')] = "",
    attended: Annotated[str | None, typer.Option(help="Hours in which somebody is there, such as 08:00-20:00.")] = None,
    mash_at: Annotated[
        str | None, typer.Option(help="Local time of the mash: shows what waiting with hot water saves, and adds.")
    ] = None,
    habit: Annotated[str | None, typer.Option(help='A habit to cost over a year, such as "sat 09:00".')] = None,
    brews: Annotated[int, typer.Option(help="Brews a year of the habit.", min=1, max=366)] = 25,
    now: StartOption = None,
    as_json: JsonOption = False,
) -> None:
    """Every start time costed: the best, now, the worst, and all that are as good."""
    from energyplan.advice.startsanswer import StartsQuestion, starts_answer
    from energyplan.day.brewday import simulate
    from energyplan.plan.file import read_plan
    from energyplan.report.startstext import starts_document, starts_text

    question = StartsQuestion(
        first=first,
        last=last,
        earliest=earliest,
        finish_by=finish_by,
        not_on=not_on,
        attended=attended,
        mash_at=mash_at,
        habit=habit,
        brews=brews,
        now=now,
    )
    found = starts_answer(simulate(read_plan(plan)), needed_tariff(tariff), question)
    show(starts_document(found) if as_json else starts_text(found))


@tariffs.command("check")
def check(
    tariff: Annotated[str, typer.Argument(help="Tariff file, or a packaged one such as demo.", metavar="TARIFF")],
    *,
    on: Annotated[str | None, typer.Option("--date", help="A day of the week to show, such as 2026-12-05.")] = None,
    as_json: JsonOption = False,
) -> None:
    """The resolved week, gaps and overlaps, holidays, and what looks like a slip."""
    from energyplan.report.tarifftext import tariff_document, tariff_text
    from energyplan.tariffs.tariffcheck import check_tariff
    from energyplan.tariffs.tarifffile import load_tariff

    read = load_tariff(tariff, check_coverage=False)
    today = datetime.now().astimezone().date()
    found = check_tariff(read, _day(on) if on else today, today=today)
    show(tariff_document(read, found) if as_json else tariff_text(read, found))
    if found.problems:
        raise typer.Exit(2)


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise TariffError(f'"{text}" is no day: write it as 2026-12-05') from None


@tariffs.command("import")
def import_rate(
    file: Annotated[Path, typer.Argument(help="A rate in the open URDB JSON schema.", metavar="FILE")],
    *,
    zone: Annotated[str, typer.Option("--time-zone", help="IANA time zone of the rate.")],
    output: Annotated[Path | None, typer.Option("-o", "--output", help="File to write; else it is printed.")] = None,
    force: ForceOption = False,
) -> None:
    """Turn a rate of the open URDB schema into a tariff file; say what is dropped."""
    from energyplan.base.files import write_new
    from energyplan.tariffs.urdb import import_urdb

    try:
        text = file.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise FileError(f"{file}: can't be read ({error})") from None
    rate = import_urdb(text, time_zone=zone, source=str(file))
    if output is None:
        typer.echo(rate.toml, nl=False)
    else:
        write_new(output, rate.toml.encode(), force=force)
    for dropped in rate.dropped:
        typer.echo(f"dropped: {dropped}", err=True)
