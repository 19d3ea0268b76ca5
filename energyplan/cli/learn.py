"""Commands that learn from measurements: calibrate, and compare with a log."""

import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from energyplan.base.errors import LogError, PlanError
from energyplan.cli.options import ForceOption, JsonOption, UnitsOption
from energyplan.cli.output import display, show

__all__ = ["calibrate", "compare_with_log"]


def calibrate(
    log: Annotated[str | None, typer.Argument(help="Log (CSV), or a packaged one: cool-down.", metavar="LOG")] = None,
    *,
    plan: Annotated[str | None, typer.Option(help="Plan whose vessel was measured.")] = None,
    water: Annotated[str | None, typer.Option(help='Water in the vessel, if not the plan\'s: "20 L".')] = None,
    air: Annotated[str | None, typer.Option(help='Air around it, if not the plan\'s: "18 degC".')] = None,
    write: Annotated[Path | None, typer.Option(help="File for a copy of the plan with the measured values.")] = None,
    how: Annotated[bool, typer.Option("--how", help="Print how to measure, and nothing else.")] = False,
    force: ForceOption = False,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
) -> None:
    """The vessel's own heat loss, stored heat and element power, from a log."""
    from energyplan.base.files import write_new
    from energyplan.base.units import TEMPERATURE, VOLUME, read_quantity
    from energyplan.learning.calibrate import calibrate as fit
    from energyplan.learning.guide import measure_guide
    from energyplan.learning.logfile import read_log
    from energyplan.learning.result import calibration_document
    from energyplan.learning.writeback import measured_toml
    from energyplan.plan.file import read_plan
    from energyplan.report.calibrationtext import calibration_text

    if how:
        typer.echo(measure_guide())
        return
    if log is None or plan is None:
        raise LogError(
            "name a log and the plan of its vessel: energyplan calibrate LOG --plan PLAN; --how says how to measure"
        )
    read = read_plan(plan)
    water_l = None if water is None else read_quantity(water, VOLUME)
    air_c = None if air is None else read_quantity(air, TEMPERATURE)
    found = fit(read_log(log), read, water_l=water_l, air_c=air_c)
    show(calibration_document(found) if as_json else calibration_text(found, display(units)))
    if write is not None:
        if str(write) == plan and not force:
            raise PlanError(f"{write}: is the plan itself; name another file, or say --force")
        write_new(write, measured_toml(read, found).encode(), force=force)
        sys.stderr.write(f"{write} written, with the measured values and without the original's comments\n")


def compare_with_log(plan: str, log: Path, *, units: Any, as_json: bool) -> None:
    """Print a plan beside its measured day."""
    from energyplan.learning.logfile import read_log
    from energyplan.learning.measured import compare_with_log as compare
    from energyplan.learning.measured import comparison_document
    from energyplan.plan.file import read_plan
    from energyplan.report.calibrationtext import comparison_text

    found = compare(read_plan(plan), read_log(str(log)))
    show(comparison_document(found) if as_json else comparison_text(found, display(units)))
