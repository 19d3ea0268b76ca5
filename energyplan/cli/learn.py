"""Commands that learn from measurements: calibrate, and compare with a log."""

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from energyplan.base.errors import LogError
from energyplan.cli.explain import explain
from energyplan.cli.options import ForceOption, JsonOption, UnitsName, UnitsOption, WriteOption
from energyplan.cli.output import keep, show, style_of, tariff_of, tell

if TYPE_CHECKING:
    from energyplan.base.load import LoadProfile
    from energyplan.plan.model import Plan
    from energyplan.tariffs.costs import DayCost
    from energyplan.tariffs.tariff import Tariff

__all__ = ["Asked", "calibrate", "compare_with_log", "compare_with_meter"]


def calibrate(
    log: Annotated[str | None, typer.Argument(help="Log (CSV), or a packaged one: cool-down.", metavar="LOG")] = None,
    *,
    plan: Annotated[str | None, typer.Option(help="Plan whose vessel was measured.")] = None,
    water: Annotated[str | None, typer.Option(help='Water in the vessel, if not the plan\'s: "20 L".')] = None,
    air: Annotated[str | None, typer.Option(help='Air around it, if not the plan\'s: "18 degC".')] = None,
    air_within: Annotated[str | None, typer.Option(help='How well that is known, such as "0.5 K"; else 2 K.')] = None,
    every: Annotated[bool, typer.Option("--all", help="Show what the fit leaves over as well.")] = False,
    write: WriteOption = None,
    how: Annotated[bool, typer.Option("--how", help="Print how to measure, and nothing else.")] = False,
    force: ForceOption = False,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
) -> None:
    """The vessel's own heat loss, stored heat and element power, from a log."""
    from energyplan.base.units import DIFFERENCE, TEMPERATURE, VOLUME, read_quantity
    from energyplan.learning.calibrate import calibrate as fit
    from energyplan.learning.logfile import read_log
    from energyplan.learning.writeback import measured_plan
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
    tell(calibration_told(found), units, everything=True, as_json=as_json)
    if every and not as_json:
        from energyplan.faces.residuals import residual_plot

        show(residual_plot(fit_table(found), style_of(units)))
    if write is not None:
        keep(plan, measured_plan(read, found), write, force=force)


def compare_with_log(plan: str, log: Path, asked: "Asked", *, units: UnitsName, as_json: bool) -> None:
    """Print a plan beside its measured day, priced at a tariff."""
    from energyplan.learning.bins import metered_load
    from energyplan.learning.logfile import read_log
    from energyplan.learning.measured import compare_with_log as compare
    from energyplan.plan.file import read_plan
    from energyplan.telling.learning import log_told

    read, charged = read_plan(plan), tariff_of(asked.tariff, plan)
    found = read_log(str(log))
    load, cost = metered_load(found), None
    if charged is not None and load is not None:
        cost = asked.cost(read, charged, load, found.start)
    told = log_told(compare(read, found), cost, charged.table.name if charged else "")
    tell(told, units, as_json=as_json)


def compare_with_meter(plan: str, export: Path, asked: "Asked", *, units: UnitsName, as_json: bool) -> None:
    """Print what a brew day took in the export of the house's meter."""
    from energyplan.advice.answer import zone_name
    from energyplan.advice.pricing import cost_above
    from energyplan.base.files import read_text
    from energyplan.base.kinds import Moment
    from energyplan.day.brewday import simulate
    from energyplan.learning.meterfile import LARGEST_CHARACTERS, parse_meter
    from energyplan.learning.usual import above_usual, likely_start_s
    from energyplan.plan.file import read_plan
    from energyplan.tariffs.clock import local_to_utc, zone_of
    from energyplan.telling.metered import meter_told

    read, charged = read_plan(plan), tariff_of(asked.tariff, plan)
    name = zone_name(read, charged)
    day, zone = simulate(read), zone_of(name)
    log = parse_meter(read_text(export, LARGEST_CHARACTERS, what="an export of a meter"), zone, source=export.name)
    start_s = likely_start_s(log, day.profiles[0], zone)
    if asked.start is not None:
        start_s = local_to_utc(asked.start, name).timestamp()
    if start_s is None:
        raise LogError("no stretch of the export looks like a day of this plan; give --start", source=export.name)
    found = above_usual(log, start_s, day.duration_s, zone)
    price = None
    if charged is not None:
        begins = datetime.fromtimestamp(float(found.start_s[0]), UTC)
        price = cost_above(*found.loads(), charged, begins), charged.table.name
    at = datetime.fromtimestamp(start_s, zone)
    tell(meter_told(found, log, day.energy_kwh, price, Moment(at, at.date())), units, as_json=as_json)


class Asked:
    """The tariff and the start that were asked for with a measured day."""

    def __init__(self, tariff: str | None, start: str | None) -> None:
        self.tariff, self.start = tariff, start

    def cost(self, plan: "Plan", tariff: "Tariff", load: "LoadProfile", begins: datetime | None) -> "DayCost":
        """What a measured load costs, from the start asked for, else from where its own clock begins."""
        from energyplan.advice.pricing import cost_of_load
        from energyplan.tariffs.clock import local_to_utc

        if self.start is not None:
            at = local_to_utc(self.start, tariff.time_zone)
        elif begins is not None:
            at = begins if begins.tzinfo else local_to_utc(begins, tariff.time_zone)
        else:
            raise LogError("the log counts minutes from its beginning; give --start, so that its prices are known")
        month_kwh = plan.supply.month_kwh_so_far if plan.supply else None
        return cost_of_load(load, tariff, at, month_kwh_so_far=month_kwh or 0.0)
