"""The commands: parse, call one function, print."""

import json
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from energyplan.errors import EnergyPlanError, PlanError

if TYPE_CHECKING:
    from rich.console import RenderableType

    from energyplan.brewday import BrewDay
    from energyplan.plan import Plan
    from energyplan.report.answer import Answer
    from energyplan.tariffs.tariff import Tariff

__all__ = ["app", "main"]

app = typer.Typer(
    name="energyplan",
    help="Plan what a brew day on an electric vessel takes: kWh, money, amps, and the power for each step.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    add_completion=False,
    rich_markup_mode=None,
)

PlanArgument = Annotated[str, typer.Argument(help="Plan file, or the name of a packaged plan (demo).", metavar="PLAN")]
TariffOption = Annotated[str | None, typer.Option("--tariff", help="Tariff file, or demo.")]
StartOption = Annotated[str | None, typer.Option("--start", help="Local start, such as 2026-12-05T08:30.")]
FinishOption = Annotated[str | None, typer.Option("--finish-by", help="Local time at which all must be done.")]
BoilOption = Annotated[str | None, typer.Option("--boil-at", help="Local time at which the boil should begin.")]
UnitsOption = Annotated[Literal["metric", "us"], typer.Option("--units", help="Units of the display.")]
JsonOption = Annotated[bool, typer.Option("--json", help="Print one JSON document and nothing else.")]
StrictOption = Annotated[bool, typer.Option("--strict", help="Exit 1 if a finding is over.")]


def main() -> None:
    """Run a command; a mistake in the input ends in one message on stderr and exit 2."""
    try:
        app()
    except EnergyPlanError as error:
        sys.stderr.write(f"{error}\n")
        sys.exit(2)


@app.command()
def report(
    plan: PlanArgument,
    *,
    tariff: TariffOption = None,
    start: StartOption = None,
    finish_by: FinishOption = None,
    boil_at: BoilOption = None,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
    strict: StrictOption = False,
) -> None:
    """The brew day: phases, kWh, cost, circuit findings, power advice, timeline."""
    from energyplan.report.document import report_document
    from energyplan.report.text import report_text

    found = _answer(plan, tariff, _When(start, finish_by, boil_at))
    _show(report_document(found) if as_json else report_text(found, _display(units)))
    _finish(found, strict=strict)


@app.command()
def circuit(
    plan: PlanArgument,
    *,
    start: StartOption = None,
    tariff: TariffOption = None,
    as_json: JsonOption = False,
    strict: StrictOption = False,
) -> None:
    """The load against every rating that you entered."""
    from energyplan.report.document import circuit_document
    from energyplan.report.text import circuit_text

    found = _answer(plan, tariff, _When(start))
    if found.circuit is None:
        raise PlanError('nothing to check: the plan has no [circuit]; add at least voltage = "230 V"', source=plan)
    _show(circuit_document(found.circuit) if as_json else circuit_text(found))
    _finish(found, strict=strict)


@app.command()
def power(plan: PlanArgument, *, units: UnitsOption = "metric", as_json: JsonOption = False) -> None:
    """Per step: the power set, needed and advised, and what changes."""
    from energyplan.advice.power import advise
    from energyplan.brewday import simulate
    from energyplan.planfile import read_plan
    from energyplan.report.document import power_document
    from energyplan.report.text import power_text

    advice = advise(simulate(read_plan(plan)))
    _show(power_document(advice) if as_json else power_text(advice, _display(units)))


@app.command()
def new(
    file: Annotated[Path | None, typer.Argument(help="File to write.", metavar="FILE")] = None,
    *,
    water: Annotated[str | None, typer.Option(help='Water at the start, such as "27 L".')] = None,
    grain: Annotated[str | None, typer.Option(help='Grain, such as "5.5 kg".')] = None,
    element: Annotated[str | None, typer.Option("--power", help='Nameplate power, such as "2800 W".')] = None,
    voltage: Annotated[str | None, typer.Option(help='Nameplate voltage, such as "230 V".')] = None,
    schema: Annotated[bool, typer.Option("--schema", help="Print the JSON schema of plans instead.")] = False,
    force: Annotated[bool, typer.Option("--force", help="Write over a file that is there.")] = False,
) -> None:
    """Write a starter plan, by questions or by flags."""
    from energyplan.files import write_new
    from energyplan.planfile import parse_plan, plan_schema_json
    from energyplan.starter import Starter, starter_toml

    if schema:
        sys.stdout.write(plan_schema_json() + "\n")
        return
    if file is None:
        raise PlanError("name the file to write, such as stout.toml, or ask for --schema")
    given = {"water": water, "grain": grain, "power": element, "voltage": voltage}
    answers = {key: value for key, value in given.items() if value is not None}
    text = starter_toml(Starter(**(answers or _asked())))
    parse_plan(text, source="the answers")
    write_new(file, text.encode(), force=force)
    sys.stderr.write(f"{file} written; next: energyplan report {file} --tariff demo\n")


@app.command(name="app")
def run_app(
    host: Annotated[str, typer.Option(help="Address to listen on.")] = "localhost",
    port: Annotated[int, typer.Option(help="Port to listen on.", min=1, max=65535)] = 8501,
) -> None:
    """Open the app in the browser."""
    from energyplan.app.launch import launch

    launch(host, port)


class _When:
    """The start as it was asked for: at most one of three ways."""

    def __init__(self, start: str | None = None, finish_by: str | None = None, boil_at: str | None = None) -> None:
        given = {"--start": start, "--finish-by": finish_by, "--boil-at": boil_at}
        self.asked = {name: text for name, text in given.items() if text is not None}
        if len(self.asked) > 1:
            raise PlanError(f"{' and '.join(self.asked)} contradict each other; give one of them")

    def resolve(self, plan: "Plan", zone: str) -> datetime:
        from energyplan.brewday import simulate
        from energyplan.tariffs.clock import local_to_utc

        if not self.asked:
            return _next_quarter(datetime.now(UTC))
        (name, text), *_ = self.asked.items()
        moment = local_to_utc(text, zone)
        return moment if name == "--start" else moment - timedelta(seconds=_lead_s(simulate(plan), name))


def _lead_s(day: "BrewDay", name: str) -> float:
    """Seconds from the start to the moment that an option fixes, in whole minutes."""
    if name == "--finish-by":
        return -(-day.duration_s // 60) * 60
    boils = [phase.start_s for phase in day.phases if phase.phase == "boil"]
    if not boils:
        raise PlanError("--boil-at: the plan has no boil; give --start or --finish-by")
    return round(boils[0] / 60) * 60.0


def _next_quarter(now: datetime) -> datetime:
    """The next full quarter of an hour."""
    return now.replace(minute=now.minute // 15 * 15, second=0, microsecond=0) + timedelta(minutes=15)


def _answer(plan: str, tariff: str | None, when: _When) -> "Answer":
    from energyplan.planfile import read_plan
    from energyplan.report.answer import answer, zone_name

    read, charged = read_plan(plan), _tariff(tariff)
    return answer(read, charged, when.resolve(read, zone_name(read, charged)))


def _tariff(name: str | None) -> "Tariff | None":
    if name is None:
        return None
    from energyplan.tariffs.tarifffile import load_tariff

    return load_tariff(name)


def _display(units: Literal["metric", "us"]) -> Any:
    from energyplan.units import Display

    return Display(units)


def _show(answer: "RenderableType | dict[str, Any] | list[Any] | None") -> None:
    """Print a document as JSON, anything else as text."""
    if isinstance(answer, dict | list):
        sys.stdout.write(json.dumps(answer, allow_nan=False, ensure_ascii=False, indent=1) + "\n")
        return
    from rich.console import Console

    Console(highlight=False, soft_wrap=False).print(answer)


def _finish(answer: "Answer", *, strict: bool) -> None:
    if strict and answer.is_over:
        raise typer.Exit(1)


def _asked() -> dict[str, str]:
    """Ask for the few things that a first plan needs."""
    if not sys.stdin.isatty():
        raise PlanError('nobody is there to ask: give flags such as --water "27 L" --grain "5.5 kg" --power "2800 W"')
    questions = {
        "water": ("Water in the vessel at the start", "27 L"),
        "grain": ("Grain", "5.5 kg"),
        "diameter": ("Inside diameter of the vessel", "36 cm"),
        "height": ("Inside height", "48 cm"),
        "power": ("Power of the elements, from the plate under the base", "2800 W"),
        "voltage": ("Voltage on that plate", "230 V"),
        "breaker": ("Breaker of the circuit", "16 A"),
    }
    return {key: typer.prompt(question, default=default, err=True) for key, (question, default) in questions.items()}


if __name__ == "__main__":
    main()
