"""The command that types a brewed day back, and shows the year."""

import sys
from datetime import date, datetime
from typing import TYPE_CHECKING, Annotated, Any

import typer

from energyplan.base.errors import LogError
from energyplan.cli.options import JsonOption, PlanArgument, StartOption, TariffOption, UnitsOption
from energyplan.cli.output import tariff_of, tell

if TYPE_CHECKING:
    from energyplan.plan.brewery import BrewedDay

__all__ = ["brewed"]


def brewed(
    plan: PlanArgument,
    *,
    metered: Annotated[str | None, typer.Option(help='The meter\'s total, such as "7.1 kWh".')] = None,
    reading: Annotated[list[str] | None, typer.Option(help='Total at the end of a step: "Strike=2.0 kWh".')] = None,
    air: Annotated[str | None, typer.Option(help='Air on that day, such as "9 degC".')] = None,
    water_temperature: Annotated[str | None, typer.Option(help="Water at the start.")] = None,
    boil_began: Annotated[str | None, typer.Option(help="Clock when it boiled: 11:41; needs --start.")] = None,
    boiled_off: Annotated[str | None, typer.Option(help='Measured cold: "2.9 L".')] = None,
    start: StartOption = None,
    on: Annotated[str | None, typer.Option("--date", help="Day of the brew; left out: of the start, or today.")] = None,
    tariff: TariffOption = None,
    write: Annotated[bool, typer.Option("--write", help="Keep the day in the brewery's file.")] = False,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
) -> None:
    """A brewed day typed back: plan beside meter, money, cause, what it taught; without readings: the year."""
    from energyplan.advice.answer import zone_name
    from energyplan.advice.brewery import brewed_answer, kept_days, readings_of
    from energyplan.plan.file import read_plan_files
    from energyplan.plan.writing import write_brewed
    from energyplan.telling.brewed import brewed_told

    files = read_plan_files(plan)
    charged = tariff_of(tariff or files.tariff)
    zone = zone_name(files.plan, charged)
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
    from pydantic import ValidationError

    from energyplan.plan.brewery import BrewedDay

    try:
        begins = None if start is None else datetime.fromisoformat(start)
        day = date.fromisoformat(on) if on else begins.date() if begins else date.today()  # noqa: DTZ011 - the wall's
    except ValueError:
        raise LogError(
            f"{start or on}: write a moment such as 2026-11-28T08:30, or a date such as 2026-11-28"
        ) from None
    if given["boil_began"] and begins is None:
        raise LogError("--boil-began needs --start: the boil counts from there")
    values = {key: value for key, value in given.items() if value}
    try:
        return BrewedDay.model_validate({"date": day, "plan": plan, "start": begins, **values})
    except ValidationError as error:
        first = error.errors()[0]
        raise LogError(f"{'.'.join(str(part) for part in first['loc'])}: {first['msg']}") from None


def _year(plan: Any, kept: Any, charged: Any, *, units: Any, as_json: bool) -> None:
    from energyplan.advice.brewery import day_kwh, months
    from energyplan.advice.learned import learn
    from energyplan.telling.brewed import year_told

    learned = learn(plan, kept.days)
    told = year_told(months(kept.days, charged), kept, learned, day_kwh(plan, learned))
    tell(told, units, as_json=as_json)
