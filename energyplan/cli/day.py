"""Commands about the brew day itself: report, circuit, sheet, unattended, app."""

import gc
import re
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from energyplan.base.errors import PlanError
from energyplan.cli.output import (
    Asked,
    BoilOption,
    CleanOption,
    FinishOption,
    ForceOption,
    JsonOption,
    MonthOption,
    PlanArgument,
    ShowOption,
    StartOption,
    StrictOption,
    TariffOption,
    UnitsName,
    UnitsOption,
    When,
    WholeOption,
    WriteOption,
    answered,
    keep,
    show,
    style_of,
    tell,
)

if TYPE_CHECKING:
    from energyplan.advice.answer import Answer

__all__ = ["circuit", "report", "run_app", "sheet", "unattended"]


def report(
    plan: PlanArgument,
    *,
    tariff: TariffOption = None,
    start: StartOption = None,
    finish_by: FinishOption = None,
    boil_at: BoilOption = None,
    clean_by: CleanOption = None,
    month_kwh: MonthOption = None,
    whole: WholeOption = False,
    parts: ShowOption = None,
    write: WriteOption = None,
    force: ForceOption = False,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
    strict: StrictOption = False,
) -> None:
    """The brew day on one screen: kWh, cost, strike, boil, circuit, steps; --write takes the strike that it names."""
    found = answered(plan, tariff, When(start, finish_by, boil_at, clean_by), month_kwh=month_kwh)
    if as_json:
        from energyplan.faces.frames import document
        from energyplan.telling.report import report_told

        show(document(report_told(found)))
    elif parts is not None:
        _show_parts(found, _named(parts), units)
    else:
        from energyplan.faces.terminal import screen
        from energyplan.telling.report import screen_told

        show(screen(screen_told(found), style_of(units), more=None if whole else MORE))
        if whole:
            _show_parts(found, SHOWN, units)
    if write is not None:
        from energyplan.advice.variants import with_strike

        keep(plan, with_strike(found.day), write, force=force)
    _finish(found, strict=strict)


SHOWN = ("clock", "people", "room", "power", "circuit", "notes")


MORE = "More: --all, or --show clock,people,room,power,circuit,notes; --json."


def _named(parts: str) -> tuple[str, ...]:
    """Names of the parts of a report that were asked for."""
    names = tuple(name.strip() for name in parts.split(","))
    for name in names:
        if name not in SHOWN:
            raise PlanError(f'--show {parts}: there is no "{name}"; there is {", ".join(SHOWN)}')
    return names


def _show_parts(found: "Answer", names: tuple[str, ...], units: UnitsName) -> None:
    from energyplan.faces.terminal import terminal
    from energyplan.telling.report import PARTS

    for name in names:
        show("")
        show(terminal(PARTS[name](found), style_of(units), detail=1, titled=True))


def circuit(
    plan: PlanArgument,
    second: Annotated[str | None, typer.Argument(help="A second plan on the same circuit.", metavar="PLAN")] = None,
    *,
    offset: Annotated[str | None, typer.Option(help='"auto": the least delay of the second plan.')] = None,
    start: StartOption = None,
    tariff: TariffOption = None,
    month_kwh: MonthOption = None,
    every: Annotated[bool, typer.Option("--all", help="Every finding, with the rule behind it.")] = False,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
    strict: StrictOption = False,
) -> None:
    """The load against every rating that you entered, and what would be enough."""
    from rich.console import Group

    from energyplan.faces.frames import document
    from energyplan.faces.terminal import terminal
    from energyplan.telling.circuit import tell_circuit, tell_enough, tell_house
    from energyplan.telling.currents import tell_offset

    found = answered(plan, tariff, When(start), month_kwh=month_kwh)
    if found.circuit is None:
        raise PlanError('nothing to check: the plan has no [circuit]; add at least voltage = "230 V"', source=plan)
    style = style_of(units)
    if second is not None:
        _one_way(offset)
        told = tell_offset(found, answered(second, tariff, When(start), month_kwh=month_kwh))
        show(document(told) if as_json else terminal(told, style))
    elif as_json:
        house, told = tell_house(found), tell_circuit(found)
        facts = {**told.facts, **tell_enough(found).facts, **({} if house else {"house": None})}
        show(document(replace(told, facts=facts, parts=(*told.parts, *([house] if house else [])))))
    else:
        enough = terminal(tell_enough(found), style, titled=True)
        show(Group(terminal(tell_circuit(found, every=every), style, detail=int(every)), "", enough))
    _finish(found, strict=strict)


def _one_way(offset: str | None) -> None:
    if offset not in (None, "auto"):
        raise PlanError(f'--offset {offset}: the only way is "auto", the least delay that fits')


def _finish(answer: "Answer", *, strict: bool) -> None:
    if strict and answer.is_over:
        raise typer.Exit(1)


def run_app(
    host: Annotated[str, typer.Option(help="Address to listen on.")] = "localhost",
    port: Annotated[int, typer.Option(help="Port to listen on.", min=1, max=65535)] = 8501,
) -> None:
    """Open the app in the browser."""
    from energyplan.app import launch

    gc.enable()

    launch(host, port)


def sheet(
    plan: PlanArgument,
    *,
    output: Annotated[Path, typer.Option("-o", "--output", help="File to write: .pdf .ics .csv .png .svg")],
    tariff: TariffOption = None,
    start: StartOption = None,
    month_kwh: MonthOption = None,
    paper: Annotated[Literal["a4", "us-letter"], typer.Option(help="Paper of a PDF.")] = "a4",
    units: UnitsOption = "metric",
    force: ForceOption = False,
) -> None:
    """A page for the electrician and one for the brew day; a calendar, a table, a picture."""
    from energyplan.base.files import check_place, write_new
    from energyplan.faces.files import Making, ending_of, file_bytes
    from energyplan.telling.files import file_told

    check_place(output, force=force)
    ending = ending_of(output.name)
    found = answered(plan, tariff, When(start), month_kwh=month_kwh)
    content = file_bytes(file_told(found, ending), ending, Making(style=style_of(units), paper=paper))
    write_new(output, content, force=force)
    sys.stderr.write(f"{output} written\n")


HOW = 'Answer with --yes WORD or --no WORD, the limit with --limit "3 kWh".'


YesOption = Annotated[list[str] | None, typer.Option("--yes", help="A fact that holds, by its word; as often as due.")]


NoOption = Annotated[list[str] | None, typer.Option("--no", help="A fact that does not hold, by its word.")]


LimitOption = Annotated[str | None, typer.Option("--limit", help='After what the current ends, such as "3 kWh".')]


TopOption = Annotated[str | None, typer.Option("--element-top", help='How high the elements reach, such as "6 cm".')]


def unattended(
    plan: PlanArgument,
    *,
    tariff: TariffOption = None,
    start: StartOption = None,
    month_kwh: MonthOption = None,
    yes: YesOption = None,
    no: NoOption = None,
    limit: LimitOption = None,
    element_top: TopOption = None,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
    strict: StrictOption = False,
) -> None:
    """What must hold before it heats with nobody there; refuses while a fact is unknown."""
    from energyplan.advice.unattended import FACT_KEYS, Said, may_start_unattended
    from energyplan.day.brewday import simulate
    from energyplan.telling.unattended import unattended_told

    said = Said(yes=frozenset(yes or ()), no=frozenset(no or ()), limit_kwh=None if limit is None else _kwh(limit))
    asked = Asked(plan, tariff, When(start), month_kwh=month_kwh)
    read = asked.plan
    if element_top is not None:
        from energyplan.base.units import LENGTH, read_quantity

        top_m = read_quantity(element_top, LENGTH)
        read = read.model_copy(update={"vessel": read.vessel.model_copy(update={"element_top_m": top_m})})
    found = may_start_unattended(simulate(read), said, start=asked.start, zone=asked.clock)
    tell(unattended_told(found, asked.start, asked.zone), units, as_json=as_json)
    if not as_json and any(fact.key in FACT_KEYS for fact in found.reasons):
        sys.stdout.write(f"{HOW}\n")
    if strict and found.result == "refuse":
        raise typer.Exit(1)


def _kwh(text: str) -> float:
    """Read a limit in kWh."""
    match = re.fullmatch(r"\s*(\d{1,4}(?:\.\d+)?)\s*kWh\s*", text)
    if match is None:
        raise PlanError(f'--limit {text}: expected an energy such as "3 kWh"')
    return float(match[1])
