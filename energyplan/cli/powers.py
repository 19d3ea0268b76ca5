"""The command that advises powers: power."""

from typing import TYPE_CHECKING, Annotated, Literal

import typer

from energyplan.base.errors import BrewDayError, PlanError
from energyplan.cli.options import (
    ForceOption,
    JsonOption,
    PlanArgument,
    StartOption,
    TariffOption,
    UnitsOption,
    WriteOption,
)
from energyplan.cli.output import When, display, keep, show, tariff_of, tell

if TYPE_CHECKING:
    from rich.console import RenderableType

    from energyplan.advice.best import BestPlan
    from energyplan.base.units import Display
    from energyplan.day.brewday import BrewDay
    from energyplan.tariffs.tariff import Tariff

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
    as_json: JsonOption = False,
) -> None:
    """For each step: the power set, needed and advised, and what changes."""
    from energyplan.advice.answer import zone_name

    if best_for is not None:
        charged = tariff_of(tariff)
        found = _best(plan, best_for, charged, start)
        from energyplan.telling.best import best_told

        tell(best_told(found, zone_name(found.planned.plan, charged)), units, as_json=as_json)
        if write is not None:
            keep(plan, found.chosen.plan, write, force=force)
        return
    from energyplan.advice.power import advise, with_advised_caps
    from energyplan.day.brewday import simulate
    from energyplan.plan.file import read_plan
    from energyplan.report.document import power_document

    day = simulate(read_plan(plan))
    if step is not None:
        _curve(day, step, display(units), band_k=band, as_json=as_json)
        return
    advice = advise(day, evaporation_per_h=evaporation, band_k=band)
    if as_json:
        show(power_document(advice))
    else:
        from energyplan.report.text import power_text

        show(power_text(advice, display(units)))
        for text in _beside(day, start, display(units), evaporation):
            show(text)
    if write is not None:
        keep(plan, with_advised_caps(day.plan, advice), write, force=force)


def _beside(day: "BrewDay", start: str | None, units: "Display", evaporation: float) -> "list[RenderableType]":
    """Boil and ramps, where there is something to say about them."""
    from energyplan.advice.answer import zone_name
    from energyplan.advice.boil import Evaporation, advise_boil
    from energyplan.advice.ramps import ramp_caps
    from energyplan.report.advicetext import boil_text, ramp_text
    from energyplan.tariffs.clock import zone_of

    texts: list[RenderableType] = []
    if any(phase.phase == "boil" for phase in day.phases):
        texts.append(boil_text(advise_boil(day, evaporation=Evaporation(per_h=evaporation)), units))
    if day.plan.circuit is not None:
        zone = zone_name(day.plan, None)
        texts.append(ramp_text(ramp_caps(day, When(start).resolve(day.plan, zone), zone_of(zone)), zone_of(zone)))
    return texts


def _curve(day: "BrewDay", step: str, units: "Display", *, band_k: float, as_json: bool) -> None:
    from energyplan.advice.holds import sag_curve
    from energyplan.report.advicetext import sag_text
    from energyplan.report.plainvalues import plain

    held = [phase.step for phase in day.phases if phase.phase in ("hold", "boil")]
    if step not in held:
        raise BrewDayError(f'--step "{step}": no hold or boil has that name; there are {", ".join(held)}')
    curve = sag_curve(day, step, band_k=band_k)
    show(plain(curve) if as_json else sag_text(curve, units))


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
