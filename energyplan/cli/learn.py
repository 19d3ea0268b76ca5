"""Commands that learn from measurements: calibrate, and compare with a log."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from energyplan.base.errors import LogError, PlanError
from energyplan.cli.explain import explain
from energyplan.cli.options import ForceOption, JsonOption, UnitsName, UnitsOption
from energyplan.cli.output import show

if TYPE_CHECKING:
    from energyplan.telling.told import Told

__all__ = ["calibrate", "compare_with_log"]


def calibrate(
    log: Annotated[str | None, typer.Argument(help="Log (CSV), or a packaged one: cool-down.", metavar="LOG")] = None,
    *,
    plan: Annotated[str | None, typer.Option(help="Plan whose vessel was measured.")] = None,
    water: Annotated[str | None, typer.Option(help='Water in the vessel, if not the plan\'s: "20 L".')] = None,
    air: Annotated[str | None, typer.Option(help='Air around it, if not the plan\'s: "18 degC".')] = None,
    air_within: Annotated[str | None, typer.Option(help='How well that is known, such as "0.5 K"; else 2 K.')] = None,
    every: Annotated[bool, typer.Option("--all", help="Show what the fit leaves over as well.")] = False,
    write: Annotated[Path | None, typer.Option(help="File for a copy of the plan with the measured values.")] = None,
    how: Annotated[bool, typer.Option("--how", help="Print how to measure, and nothing else.")] = False,
    force: ForceOption = False,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
) -> None:
    """The vessel's own heat loss, stored heat and element power, from a log."""
    from energyplan.base.files import write_new
    from energyplan.base.units import DIFFERENCE, TEMPERATURE, VOLUME, read_quantity
    from energyplan.learning.calibrate import calibrate as fit
    from energyplan.learning.logfile import read_log
    from energyplan.learning.writeback import measured_toml
    from energyplan.plan.file import read_plan
    from energyplan.telling.learning import calibration_told, fit_table

    if how:
        explain("measure")
        return
    if log is None or plan is None:
        raise LogError(
            "name a log and the plan of its vessel: energyplan calibrate LOG --plan PLAN; --how says how to measure"
        )
    read = read_plan(plan)
    found = fit(
        read_log(log), read,
        water_l=None if water is None else read_quantity(water, VOLUME),
        air_c=None if air is None else read_quantity(air, TEMPERATURE),
        air_within_k=None if air_within is None else read_quantity(air_within, DIFFERENCE),
    )  # fmt: skip
    told = calibration_told(found)
    _show_told(told, units, as_json=as_json)
    if every and not as_json:
        from energyplan.base.kinds import Style
        from energyplan.faces.residuals import residual_plot

        show(residual_plot(fit_table(found), Style(units)))
    if write is not None:
        if str(write) == plan and not force:
            raise PlanError(f"{write}: is the plan itself; name another file, or say --force")
        write_new(write, measured_toml(read, found).encode(), force=force)
        sys.stderr.write(f"{write} written, with the measured values and without the original's comments\n")


def _show_told(told: "Told", units: UnitsName, *, as_json: bool) -> None:
    from energyplan.base.kinds import Style
    from energyplan.faces.document import document
    from energyplan.faces.terminal import terminal

    show(document(told) if as_json else terminal(told, Style(units)))


def compare_with_log(plan: str, log: Path, *, units: UnitsName, as_json: bool) -> None:
    """Print a plan beside its measured day."""
    from energyplan.learning.logfile import read_log
    from energyplan.learning.measured import compare_with_log as compare
    from energyplan.plan.file import read_plan
    from energyplan.telling.learning import log_told

    _show_told(log_told(compare(read_plan(plan), read_log(str(log)))), units, as_json=as_json)
