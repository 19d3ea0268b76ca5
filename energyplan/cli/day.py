"""Commands about the brew day itself: report, circuit, new, app."""

import gc
from dataclasses import replace
from typing import TYPE_CHECKING, Annotated

import typer

from energyplan.base.errors import PlanError
from energyplan.cli.options import (
    BoilOption,
    CleanOption,
    FinishOption,
    JsonOption,
    MonthOption,
    PlanArgument,
    ShowOption,
    StartOption,
    StrictOption,
    TariffOption,
    UnitsName,
    UnitsOption,
    WholeOption,
)
from energyplan.cli.output import When, answered, show, style_of

if TYPE_CHECKING:
    from energyplan.advice.answer import Answer

__all__ = ["circuit", "report", "run_app"]


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
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
    strict: StrictOption = False,
) -> None:
    """The brew day on one screen: kWh, cost, strike, boil, circuit, steps; the rest with --all or --show."""
    found = answered(plan, tariff, When(start, finish_by, boil_at, clean_by), month_kwh=month_kwh)
    if as_json:
        from energyplan.faces.document import document
        from energyplan.telling.report import report_told

        show(document(report_told(found)))
    elif parts is not None:
        _show_parts(found, _named(parts), units)
    else:
        from energyplan.faces.screen import screen
        from energyplan.telling.report import screen_told

        show(screen(screen_told(found), style_of(units), more=None if whole else MORE))
        if whole:
            _show_parts(found, SHOWN, units)
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
    second: Annotated[str | None, typer.Argument(help="A second plan on the same circuit.", metavar="[PLAN]")] = None,
    *,
    offset: Annotated[str | None, typer.Option(help='"auto": the least delay of the second plan.')] = None,
    start: StartOption = None,
    tariff: TariffOption = None,
    every: Annotated[bool, typer.Option("--all", help="Every finding, with the rule behind it.")] = False,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
    strict: StrictOption = False,
) -> None:
    """The load against every rating that you entered, and what would be enough."""
    from rich.console import Group

    from energyplan.faces.document import document, part_document
    from energyplan.faces.terminal import terminal
    from energyplan.telling.circuit import tell_circuit, tell_enough, tell_house, tell_offset

    found = answered(plan, tariff, When(start))
    if found.circuit is None:
        raise PlanError('nothing to check: the plan has no [circuit]; add at least voltage = "230 V"', source=plan)
    style = style_of(units)
    if second is not None:
        _one_way(offset)
        told = tell_offset(found, answered(second, tariff, When(start)))
        show(document(told) if as_json else terminal(told, style))
    elif as_json:
        house = tell_house(found)
        told = tell_circuit(found)
        facts = {**told.facts, **tell_enough(found).facts, "house": part_document(house) if house else None}
        show(document(replace(told, facts=facts)))
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
    from energyplan.app.launch import launch

    gc.enable()

    launch(host, port)
