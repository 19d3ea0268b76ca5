"""The command about bigger and more batches: batches."""

import re
from typing import TYPE_CHECKING, Annotated

import typer

from energyplan.base.errors import PlanError
from energyplan.cli.options import JsonOption, PlanArgument, StartOption, TariffOption, UnitsOption
from energyplan.cli.output import When, tariff_of, tell

if TYPE_CHECKING:
    from energyplan.advice.heat_recovery import KeptWater

__all__ = ["batches"]


def batches(
    plan: PlanArgument,
    *,
    litres: Annotated[
        str | None, typer.Option(help='Wort of the bigger batch, "35 L"; left out: the largest that fits.')
    ] = None,
    between: Annotated[str, typer.Option(help="From the end of one batch to the start of the next.")] = "30 min",
    kept: Annotated[str | None, typer.Option(help='Water kept from the chiller, such as "25 L at 55 degC".')] = None,
    wait: Annotated[str | None, typer.Option(help="Until the kept water is used; left out: as --between.")] = None,
    tank: Annotated[str, typer.Option(help="Heat loss of the tank that keeps it.")] = "3 W/K",
    tariff: TariffOption = None,
    start: StartOption = None,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
) -> None:
    """A bigger batch, two on one day, chiller water kept: does it fit, and what does it take."""
    from energyplan.advice.answer import zone_name
    from energyplan.advice.batchchoices import BatchQuestion, batch_choices
    from energyplan.base.units import DURATION, VOLUME, read_quantity
    from energyplan.day.brewday import simulate
    from energyplan.plan.file import read_plan
    from energyplan.tariffs.clock import zone_of
    from energyplan.telling.batches import batches_told

    read, charged = read_plan(plan), tariff_of(tariff, plan)
    zone = zone_name(read, charged)
    question = BatchQuestion(
        end_l=None if litres is None else read_quantity(litres, VOLUME),
        between_s=read_quantity(between, DURATION),
        kept=None if kept is None else _kept(kept, wait or between, tank),
    )
    moment = When(start).resolve(read, zone)
    found = batch_choices(simulate(read), question, start=moment, zone=zone_of(zone), tariff=charged)
    tell(batches_told(found), units, as_json=as_json)


def _kept(text: str, wait: str, tank: str) -> "KeptWater":
    from energyplan.advice.heat_recovery import KeptWater
    from energyplan.base.units import DURATION, HEAT_LOSS, TEMPERATURE, VOLUME, read_quantity

    match = re.fullmatch(r"(.+?) at (.+)", " ".join(text.split()))
    if match is None:
        raise PlanError(f'--kept "{text}": write volume and temperature, such as "25 L at 55 degC"')
    return KeptWater(
        volume_l=read_quantity(match[1], VOLUME),
        temperature_c=read_quantity(match[2], TEMPERATURE),
        wait_s=read_quantity(wait, DURATION),
        tank_w_per_k=read_quantity(tank, HEAT_LOSS),
    )
