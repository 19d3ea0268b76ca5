"""The command that advises powers: power."""

from typing import TYPE_CHECKING, Annotated, Literal

import typer

from energyplan.base.errors import BrewDayError, PlanError
from energyplan.base.kinds import WRITTEN
from energyplan.base.sentence import Sentence, listed
from energyplan.cli.output import (
    AllOption,
    ForceOption,
    JsonOption,
    PlanArgument,
    StartOption,
    TariffOption,
    UnitsOption,
    When,
    WriteOption,
    keep,
    show,
    tariff_of,
    tell,
)

if TYPE_CHECKING:
    from energyplan.advice.best import BestPlan
    from energyplan.advice.power import PowerAdvice
    from energyplan.day.brewday import BrewDay
    from energyplan.tariffs.tariff import Tariff
    from energyplan.telling.told import Told

__all__ = ["power"]

BestFor = Literal["cost", "time", "circuit"]


def power(
    plan: PlanArgument,
    *,
    step: Annotated[str | None, typer.Option(help="A step: the lowest temperature against the cap.")] = None,
    band: Annotated[float, typer.Option(help="How far a hold may leave its target, in kelvin.", min=0.05, max=5)] = 0.5,
    evaporation: Annotated[float, typer.Option(help="Wanted in the boil, share an hour.", min=0.01, max=0.5)] = 0.06,
    best_for: Annotated[BestFor | None, typer.Option(help="Choose powers, start and waiting together.")] = None,
    tariff: TariffOption = None,
    start: StartOption = None,
    write: WriteOption = None,
    force: ForceOption = False,
    units: UnitsOption = "metric",
    whole: AllOption = False,
    as_json: JsonOption = False,
) -> None:
    """For each step: the power set, needed and advised, and what changes."""
    from energyplan.advice.answer import zone_name

    if best_for is not None:
        charged = tariff_of(tariff, plan)
        found = _best(plan, best_for, charged, start)
        from energyplan.telling.best import best_told

        tell(best_told(found, zone_name(found.planned.plan, charged)), units, as_json=as_json)
        if write is not None:
            keep(plan, found.chosen.plan, write, force=force)
        return
    from energyplan.advice.power import advise, with_advised_caps
    from energyplan.day.brewday import simulate
    from energyplan.plan.file import read_plan
    from energyplan.telling.power import power_told

    day = simulate(read_plan(plan))
    if step is not None:
        tell(_curve(day, step, band_k=band), units, as_json=as_json)
        return
    advice = advise(day, evaporation_per_h=evaporation, band_k=band)
    if whole or as_json:
        tell(_whole(day, advice, start), units, everything=True, as_json=as_json)
    else:
        tell(power_told(advice), units)
        show("More: --all adds the boil and the ramps, --step NAME one hold and its cap.")
    if write is not None:
        keep(plan, with_advised_caps(day.plan, advice), write, force=force)


def _whole(day: "BrewDay", advice: "PowerAdvice", start: str | None) -> "Told":
    """The powers, with the boil and the ramps where there is something to say about them."""
    from dataclasses import replace

    from energyplan.advice.answer import zone_name
    from energyplan.advice.boil import advise_boil
    from energyplan.advice.ramps import ramp_caps
    from energyplan.tariffs.clock import zone_of
    from energyplan.telling.boil import boil_told
    from energyplan.telling.power import power_told
    from energyplan.telling.ramps import ramps_told

    parts = []
    if any(phase.phase == "boil" for phase in day.phases):
        parts.append(boil_told(advise_boil(day, evaporation=advice.evaporation)))
    if day.plan.circuit is not None:
        zone = zone_name(day.plan, None)
        parts.append(ramps_told(ramp_caps(day, When(start).resolve(day.plan, zone), zone_of(zone)), zone_of(zone)))
    return replace(power_told(advice), parts=tuple(parts))


def _curve(day: "BrewDay", step: str, *, band_k: float) -> "Told":
    from energyplan.advice.holds import sag_curve
    from energyplan.telling.power import sag_told

    held = [phase.step for phase in day.phases if phase.phase in ("hold", "boil")]
    if step not in held:
        raise BrewDayError(
            Sentence(
                "--step {step}: no hold or boil has that name; there are {held}",
                step=WRITTEN(step),
                held=listed([WRITTEN(name) for name in held]),
            )
        )
    return sag_told(sag_curve(day, step, band_k=band_k))


def _best(plan: str, best_for: BestFor, charged: "Tariff | None", start: str | None) -> "BestPlan":
    """Choose powers, start and waiting of the start's local day."""
    from energyplan.advice.answer import zone_name
    from energyplan.advice.best import best_plan
    from energyplan.cli.changes import priced
    from energyplan.plan.file import read_plan
    from energyplan.tariffs.clock import zone_of

    read = read_plan(plan)
    if best_for == "cost" and charged is None:
        raise PlanError("--best-for cost: needs prices; give --tariff FILE, or --tariff demo")
    zone = zone_name(read, charged)
    moment = When(start).resolve(read, zone)
    pricing = priced(read, charged, moment, any_start=True)
    return best_plan(read, best_for, pricing=pricing, start=moment, zone=zone_of(zone))
