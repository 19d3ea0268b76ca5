"""Commands that learn from measurements: calibrate, brewed, and compare with a log or a meter."""

import sys
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from energyplan.base.errors import LogError
from energyplan.cli.output import (
    Asked,
    ForceOption,
    JsonOption,
    MonthOption,
    PlanArgument,
    StartOption,
    TariffOption,
    UnitsName,
    UnitsOption,
    WriteOption,
    keep,
    show,
    style_of,
    tariff_of,
    tell,
)
from energyplan.cli.schema import explain

if TYPE_CHECKING:
    from energyplan.base.load import LoadProfile
    from energyplan.plan.brewery import BrewedDay
    from energyplan.tariffs.costs import DayCost
    from energyplan.tariffs.tariff import Tariff

__all__ = ["brewed", "calibrate", "compare_with_log", "compare_with_meter"]


def calibrate(
    log: Annotated[str | None, typer.Argument(help="Log (CSV), or a packaged one: cool-down.", metavar="LOG")] = None,
    *,
    plan: Annotated[str | None, typer.Option(help="Plan whose vessel was measured.")] = None,
    water: Annotated[str | None, typer.Option(help='Water in the vessel, if not the plan\'s: "20 L".')] = None,
    air: Annotated[str | None, typer.Option(help='Air around it, if not the plan\'s: "18 degC".')] = None,
    air_within: Annotated[str | None, typer.Option(help='How well that is known, such as "0.5 K"; else 2 K.')] = None,
    boiled_off: Annotated[str | None, typer.Option(help='Litres a boil took, measured cold: "2.9 L".')] = None,
    over: Annotated[str | None, typer.Option(help='How long that took, if not LOG says it: "60 min".')] = None,
    power: Annotated[str | None, typer.Option(help='Mean power meanwhile, if not LOG says it: "2.1 kW".')] = None,
    every: Annotated[bool, typer.Option("--all", help="Show what the fit leaves over as well.")] = False,
    write: WriteOption = None,
    how: Annotated[bool, typer.Option("--how", help="Print how to measure, and nothing else.")] = False,
    force: ForceOption = False,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
) -> None:
    """The vessel's own heat loss, stored heat and element power, from a log; or its loss at the boil, by a boil-off."""
    from energyplan.base.units import DIFFERENCE, TEMPERATURE, VOLUME, read_quantity
    from energyplan.learning.calibrate import calibrate as fit
    from energyplan.learning.logfile import read_log
    from energyplan.learning.result import measured_plan
    from energyplan.plan.file import read_plan
    from energyplan.telling.learning import calibration_told, fit_table

    if how:
        explain("measure")
        return
    if plan is not None and boiled_off is not None:
        by_volume(log, plan, (boiled_off, over, power), (write, force), units=units, as_json=as_json)
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
        from energyplan.faces.strip import residual_plot

        show(residual_plot(fit_table(found), style_of(units)))
    if write is not None:
        keep(plan, measured_plan(read, found), write, force=force)


def by_volume(
    log: str | None,
    plan: str,
    seen: tuple[str, str | None, str | None],
    written: tuple[WriteOption, bool],
    *,
    units: UnitsName,
    as_json: bool,
) -> None:
    """Print what a boil-off tells: ``seen`` are litres, duration and power; a log gives what is left out."""
    from dataclasses import replace

    from energyplan.base.units import DURATION, POWER, VOLUME, read_quantity
    from energyplan.learning.logfile import read_log
    from energyplan.learning.result import BoilOff, dry_loss, measured_plan
    from energyplan.plan.file import read_plan
    from energyplan.telling.learning import dry_loss_told

    read, (litres, over, power) = read_plan(plan), seen
    boiled_off_l, given_w = read_quantity(litres, VOLUME), None if power is None else read_quantity(power, POWER)
    if over is not None:
        found = BoilOff(boiled_off_l=boiled_off_l, lasted_s=read_quantity(over, DURATION), power_w=given_w)
    elif log is not None:
        found = BoilOff.of_log(boiled_off_l, read_log(log), read)
        found = found if given_w is None else replace(found, power_w=given_w)
    else:
        raise LogError('say how long the boil lasted, or name its log: --boiled-off "2.9 L" --over "60 min"')
    told = dry_loss(read, found)
    tell(dry_loss_told(told), units, everything=True, as_json=as_json)
    write, force = written
    if write is not None:
        keep(plan, measured_plan(read, told), write, force=force)


def compare_with_log(asked: Asked, log: Path, *, units: UnitsName, as_json: bool) -> None:
    """Print a plan beside its measured day, priced at a tariff."""
    from energyplan.learning.bins import metered_load
    from energyplan.learning.logfile import read_log
    from energyplan.learning.measured import compare_with_log as compare
    from energyplan.telling.measured import log_told

    found = read_log(str(log))
    load, cost, charged = metered_load(found), None, asked.tariff
    has_moment = bool(asked.when.asked) or found.start is not None
    if charged is not None and load is not None and (asked.names_a_tariff or has_moment):
        with asked.reaching():
            cost = _cost_of(load, asked, charged, found.start)
    told = log_told(compare(asked.plan, found), cost, charged.table.name if charged else "")
    tell(asked.noted(told), units, as_json=as_json)


def _cost_of(load: "LoadProfile", asked: Asked, tariff: "Tariff", begins: datetime | None) -> "DayCost":
    """What a measured load costs, from the start asked for, else from where its own clock begins."""
    from energyplan.advice.pricing import cost_of_load
    from energyplan.tariffs.clock import local_to_utc
    from energyplan.tariffs.tariff import of_the_month

    if asked.when.asked:
        at = asked.start
    elif begins is not None:
        at = begins if begins.tzinfo else local_to_utc(begins, asked.zone)
    else:
        raise LogError("the log counts minutes from its beginning; give --start, so that its prices are known")
    return cost_of_load(load, of_the_month(tariff, asked.plan.supply), at)


def compare_with_meter(asked: Asked, export: Path, *, units: UnitsName, as_json: bool) -> None:
    """Print what a brew day took in the export of the house's meter."""
    from energyplan.advice.pricing import cost_above
    from energyplan.base.files import read_text
    from energyplan.base.kinds import Moment
    from energyplan.day.brewday import simulate
    from energyplan.learning.meterfile import LARGEST_CHARACTERS, parse_meter
    from energyplan.learning.usual import above_usual, likely_start_s, month_so_far_kwh
    from energyplan.tariffs.tariff import of_the_month
    from energyplan.telling.brewed import meter_told

    day, zone = simulate(asked.plan), asked.clock
    log = parse_meter(read_text(export, LARGEST_CHARACTERS, what="an export of a meter"), zone, source=export.name)
    start_s = asked.start.timestamp() if asked.when.asked else likely_start_s(log, day.profiles[0], zone)
    if start_s is None:
        raise LogError("no stretch of the export looks like a day of this plan; give --start", source=export.name)
    found = above_usual(log, start_s, day.duration_s, zone)
    price = None
    if asked.tariff is not None:
        begins = datetime.fromtimestamp(float(found.start_s[0]), UTC)
        charged = of_the_month(asked.tariff, asked.plan.supply)
        if charged.month_kwh_so_far is None:
            charged = replace(charged, month_kwh_so_far=month_so_far_kwh(log, found.start_s[0], zone))
        with asked.reaching():
            price = cost_above(*found.loads(), charged, begins), charged.table.name
    at = datetime.fromtimestamp(start_s, zone)
    tell(asked.noted(meter_told(found, log, day.energy_kwh, price, Moment(at, at.date()))), units, as_json=as_json)


def brewed(
    plan: PlanArgument,
    *,
    metered: Annotated[str | None, typer.Option(help='The meter\'s total, such as "7.1 kWh".')] = None,
    reading: Annotated[list[str] | None, typer.Option(help='Total at the end of a step: "Strike=2.0 kWh".')] = None,
    air: Annotated[str | None, typer.Option(help='Air on that day, such as "9 degC".')] = None,
    water_temperature: Annotated[str | None, typer.Option(help="Water at the start.")] = None,
    boil_began: Annotated[
        str | None, typer.Option(help="Time of day at which it boiled, such as 11:41; needs --start.")
    ] = None,
    boiled_off: Annotated[str | None, typer.Option(help='Measured cold: "2.9 L".')] = None,
    start: StartOption = None,
    month_kwh: MonthOption = None,
    on: Annotated[
        str | None,
        typer.Option("--date", help="Day of the brew, such as 2026-12-05; left out: of the start, or today."),
    ] = None,
    tariff: TariffOption = None,
    write: Annotated[bool, typer.Option("--write", help="Keep the day in the brewery's file.")] = False,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
) -> None:
    """A brewed day typed back: plan beside meter, money, cause, what it taught; without readings: the year."""
    from energyplan.advice.brewery import brewed_answer, kept_days, readings_of
    from energyplan.plan.file import read_plan_files
    from energyplan.plan.writing import write_brewed
    from energyplan.tariffs.tariff import zone_name
    from energyplan.telling.brewed import brewed_told

    files = read_plan_files(plan)
    charged = tariff_of(tariff or files.tariff, month_kwh=month_kwh)
    zone = zone_name(files.plan.site, charged)
    kept = kept_days(files, zone)
    if not (metered or reading or boil_began or boiled_off):
        _year(files.plan, kept, charged, units=units, as_json=as_json)
        return
    day = _day(
        _called(plan), on, start,
        {"metered": metered, "readings": _pairs(reading or []), "air": air, "water_temperature": water_temperature,
         "boil_began": boil_began, "boiled_off": boiled_off},
    )  # fmt: skip
    found = brewed_answer(readings_of(files.plan, day, zone), kept.days, charged, files.plan)
    tell(brewed_told(found, charged.table.name if charged else ""), units, as_json=as_json)
    if write:
        path = write_brewed(files, day)
        sys.stderr.write(f"{path} keeps the day\n")


def _called(plan: str) -> str:
    from pathlib import Path

    return Path(plan).name


def _pairs(texts: list[str]) -> dict[str, str]:
    pairs: dict[str, str] = {}
    for text in texts:
        step, _, total = text.rpartition("=")
        if not step.strip() or not total.strip():
            raise LogError(f'--reading "{text}": write the step and the meter\'s total: "Strike=2.0 kWh"')
        if step.strip() in pairs:
            raise LogError(f'--reading "{text}": this step has a reading already')
        pairs[step.strip()] = total.strip()
    return pairs


def _day(plan: str, on: str | None, start: str | None, given: dict[str, Any]) -> "BrewedDay":
    from energyplan.plan.brewery import brewed_day

    try:
        begins = None if start is None else datetime.fromisoformat(start)
        day = date.fromisoformat(on) if on else begins.date() if begins else date.today()  # noqa: DTZ011 - the wall's
    except ValueError:
        raise LogError(
            f"{start or on}: write a moment such as 2026-11-28T08:30, or a date such as 2026-11-28"
        ) from None
    if given["boil_began"] and begins is None:
        raise LogError("--boil-began needs --start: the boil counts from there")
    return brewed_day({"date": day, "plan": plan, "start": begins, **given})


def _year(plan: Any, kept: Any, charged: Any, *, units: Any, as_json: bool) -> None:
    from energyplan.advice.brewery import day_kwh, months
    from energyplan.advice.learned import learn
    from energyplan.telling.brewed import year_told

    learned = learn(plan, kept.days)
    told = year_told(months(kept.days, charged), kept, learned, day_kwh(plan, learned))
    tell(told, units, as_json=as_json)
