"""The commands about what to change: powers, ramps, boil, best ways, savings, batches, ranges, days side by side."""

import re
import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from energyplan.base.errors import BrewDayError, PlanError
from energyplan.base.kinds import WRITTEN
from energyplan.base.sentence import Sentence, listed
from energyplan.cli.output import (
    AllOption,
    ForceOption,
    JsonOption,
    MonthOption,
    PlanArgument,
    StartOption,
    TariffOption,
    UnitsOption,
    When,
    WriteOption,
    keep,
    learned_of,
    plan_of,
    show,
    tariff_of,
    tell,
)

if TYPE_CHECKING:
    from energyplan.advice.compare import BestPlan
    from energyplan.advice.heat_recovery import KeptWater
    from energyplan.advice.learned import Learned
    from energyplan.advice.power import PowerAdvice
    from energyplan.advice.pricing import Pricing
    from energyplan.day.brewday import BrewDay
    from energyplan.plan.model import Plan
    from energyplan.tariffs.tariff import Tariff
    from energyplan.telling.told import Told

__all__ = ["batches", "compare", "power", "priced", "savings", "spread"]

PROGRESS_DRAWS = 1500


def priced(plan: "Plan", tariff: "Tariff | None", start: datetime, *, any_start: bool = False) -> "Pricing | None":
    """Prices around a start; with ``any_start`` every start of that local day is up for choice."""
    if tariff is None:
        return None
    from energyplan.advice.pricing import pricing_of
    from energyplan.day.brewday import simulate

    return pricing_of(plan, tariff, start, any_start=any_start, lasts_s=simulate(plan).duration_s)


def noted(told: "Told", plan: "Plan", tariff: "Tariff | None") -> "Told":
    """What is told, with what its money leaves open under a tariff with steps by the month's use."""
    from energyplan.tariffs.tariff import of_the_month
    from energyplan.telling.prices import with_month_note

    return with_month_note(told, None if tariff is None else of_the_month(tariff, plan.supply))


def savings(
    plan: PlanArgument,
    *,
    tariff: TariffOption = None,
    start: StartOption = None,
    month_kwh: MonthOption = None,
    brews: Annotated[int, typer.Option(help="Brews a year.", min=1, max=1000)] = 20,
    price: Annotated[list[str] | None, typer.Option(help="What a change costs, such as jacket=40.")] = None,
    free: Annotated[list[str] | None, typer.Option(help="Heat that costs you nothing: warm_place, warm_water.")] = None,
    units: UnitsOption = "metric",
    everything: AllOption = False,
    as_json: JsonOption = False,
) -> None:
    """What each possible change is worth, alone and together: kWh, money, minutes."""
    from energyplan.advice.measures import MeasureChoice
    from energyplan.advice.savings import savings as find_savings
    from energyplan.tariffs.tariff import zone_name
    from energyplan.telling.measures import savings_told

    read, charged = plan_of(plan, month_kwh), tariff_of(tariff, plan, When(start).day)
    moment = When(start).resolve(read, zone_name(read.site, charged))
    pricing = priced(read, charged, moment, any_start=True)
    choice = MeasureChoice(for_nothing=frozenset(free or ()))
    found = find_savings(read, choice=choice, pricing=pricing, brews_per_year=brews, prices=_prices(price or []))
    tell(noted(savings_told(found), read, charged), units, everything=everything, as_json=as_json)


def _prices(texts: list[str]) -> dict[str, float]:
    prices = {}
    for text in texts:
        key, _, amount = text.partition("=")
        try:
            prices[key.strip()] = float(amount)
        except ValueError:
            raise PlanError(f'--price "{text}": write the change and what it costs, such as jacket=40') from None
    return prices


def spread(
    plan: PlanArgument,
    *,
    tariff: TariffOption = None,
    start: StartOption = None,
    month_kwh: MonthOption = None,
    draws: Annotated[int, typer.Option(help="Number of days drawn.", min=20, max=100_000)] = 400,
    seed: Annotated[int, typer.Option(help="The same seed gives the same figures.", min=0)] = 1,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
) -> None:
    """Ranges of kWh, cost and times under uncertain inputs, and what to measure next."""
    from energyplan.advice.uncertainty import SpreadRun
    from energyplan.advice.uncertainty import spread as find_spread
    from energyplan.tariffs.clock import zone_of
    from energyplan.tariffs.tariff import zone_name
    from energyplan.telling.uncertainty import uncertainty_told

    read = plan_of(plan, month_kwh)
    charged = tariff_of(tariff, plan, When(start).day)
    zone = zone_name(read.site, charged)
    pricing = priced(read, charged, When(start).resolve(read, zone))
    with _progress(draws) as progress:
        how = SpreadRun(draws=draws, seed=seed, progress=progress, learned=learned_of(plan, zone))
        found = find_spread(read, pricing=pricing, zone=zone_of(zone), how=how)
    tell(noted(uncertainty_told(found), read, charged), units, as_json=as_json)


def _progress(draws: int) -> Any:
    """A progress bar on stderr for runs that take longer than about a second."""
    from contextlib import contextmanager

    @contextmanager
    def bar() -> Any:
        if draws < PROGRESS_DRAWS or not sys.stderr.isatty():
            yield None
            return
        from rich.console import Console
        from rich.progress import Progress

        with Progress(console=Console(stderr=True), transient=True) as progress:
            task = progress.add_task("days", total=draws)
            yield lambda done, total: progress.update(task, completed=done, total=total)

    return bar()


def compare(
    plans: Annotated[list[str], typer.Argument(help="Two plans or more; one with --log.", metavar="PLAN")],
    *,
    log: Annotated[Path | None, typer.Option(help="Log of a measured day, to put beside the plan.")] = None,
    meter: Annotated[Path | None, typer.Option(help="Export of the house's meter: CSV or ESPI XML.")] = None,
    tariff: TariffOption = None,
    start: StartOption = None,
    month_kwh: MonthOption = None,
    units: UnitsOption = "metric",
    everything: AllOption = False,
    as_json: JsonOption = False,
) -> None:
    """Days side by side with the causes of their difference, or a plan beside its measured day."""
    if log is not None or meter is not None:
        from energyplan.cli.learn import Asked, compare_with_log, compare_with_meter

        if len(plans) != 1 or (log is not None and meter is not None):
            raise PlanError("--log or --meter compares one plan with its measured day; name one plan and one of them")
        beside = compare_with_log if log is not None else compare_with_meter
        beside(plans[0], log or meter or Path(), Asked(tariff, start, month_kwh), units=units, as_json=as_json)
        return
    from energyplan.advice.compare import compare as find_differences
    from energyplan.tariffs.clock import zone_of
    from energyplan.tariffs.tariff import zone_name
    from energyplan.telling.comparison import comparison_told

    if len(plans) < 2:
        raise PlanError("one plan alone can't be compared: name a second one, or a measured day with --log")
    read = [plan_of(plan, month_kwh) for plan in plans]
    charged = tariff_of(tariff, plans[0], When(start).day)
    zone = zone_name(read[0].site, charged)
    moment = When(start).resolve(read[0], zone)
    pricing = priced(read[0], charged, moment)
    found = find_differences(read, pricing=pricing, start=moment, zone=zone_of(zone))
    tell(noted(comparison_told(found), read[0], charged), units, everything=everything, as_json=as_json)


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
    month_kwh: MonthOption = None,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
) -> None:
    """A bigger batch, two on one day, chiller water kept: does it fit, and what does it take."""
    from energyplan.advice.batchchoices import BatchQuestion, batch_choices
    from energyplan.base.units import DURATION, VOLUME, read_quantity
    from energyplan.day.brewday import simulate
    from energyplan.tariffs.clock import zone_of
    from energyplan.tariffs.tariff import zone_name
    from energyplan.telling.batches import batches_told

    read, charged = plan_of(plan, month_kwh), tariff_of(tariff, plan)
    zone = zone_name(read.site, charged)
    question = BatchQuestion(
        end_l=None if litres is None else read_quantity(litres, VOLUME),
        between_s=read_quantity(between, DURATION),
        kept=None if kept is None else _kept(kept, wait or between, tank),
    )
    moment = When(start).resolve(read, zone)
    found = batch_choices(simulate(read), question, start=moment, zone=zone_of(zone), tariff=charged)
    tell(noted(batches_told(found), read, charged), units, as_json=as_json)


def _kept(text: str, wait: str, tank: str) -> "KeptWater":
    from energyplan.advice.heat_recovery import KeptWater
    from energyplan.base.kinds import EXAMPLE, WRITTEN
    from energyplan.base.sentence import Sentence
    from energyplan.base.units import DURATION, HEAT_LOSS, TEMPERATURE, VOLUME, read_quantity

    match = re.fullmatch(r"(.+?) at (.+)", " ".join(text.split()))
    if match is None:
        example = EXAMPLE(('"25 L at 55 degC"', '"7 gal at 130 degF"'))
        said = '--kept "{text}": write volume and temperature, such as {example}'
        raise PlanError(Sentence(said, text=WRITTEN(text), example=example))
    return KeptWater(
        volume_l=read_quantity(match[1], VOLUME),
        temperature_c=read_quantity(match[2], TEMPERATURE),
        wait_s=read_quantity(wait, DURATION),
        tank_w_per_k=read_quantity(tank, HEAT_LOSS),
    )


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
    month_kwh: MonthOption = None,
    write: WriteOption = None,
    force: ForceOption = False,
    units: UnitsOption = "metric",
    whole: AllOption = False,
    as_json: JsonOption = False,
) -> None:
    """For each step: the power set, needed and advised, and what changes."""
    from energyplan.tariffs.tariff import zone_name

    if best_for is not None:
        charged = tariff_of(tariff, plan)
        found = _best(plan, plan_of(plan, month_kwh), best_for, charged, start)
        from energyplan.telling.best import best_told

        told = best_told(found, zone_name(found.planned.plan.site, charged))
        tell(noted(told, found.planned.plan, charged), units, as_json=as_json)
        if write is not None:
            keep(plan, found.chosen.plan, write, force=force)
        return
    from energyplan.advice.power import advise, with_advised_caps
    from energyplan.day.brewday import simulate
    from energyplan.telling.power import power_told

    day = simulate(plan_of(plan, month_kwh))
    zone = zone_name(day.plan.site, tariff_of(tariff, plan))
    learned = learned_of(plan, zone)
    if step is not None:
        tell(_curve(day, step, learned, band_k=band), units, as_json=as_json)
        return
    advice = advise(day, learned, evaporation_per_h=evaporation, band_k=band)
    if whole or as_json:
        moment = When(start).resolve(day.plan, zone)
        tell(_whole(day, advice, learned, moment, zone), units, everything=True, as_json=as_json)
    else:
        tell(power_told(advice), units)
        show("More: --all adds the boil and the ramps, --step NAME one hold and its cap.")
    if write is not None:
        keep(plan, with_advised_caps(day.plan, advice), write, force=force)


def _whole(day: "BrewDay", advice: "PowerAdvice", learned: "Learned | None", start: datetime, zone: str) -> "Told":
    """The powers, with the boil and the ramps where there is something to say about them."""
    from dataclasses import replace

    from energyplan.advice.boil import advise_boil
    from energyplan.advice.ramps import ramp_caps
    from energyplan.tariffs.clock import zone_of
    from energyplan.telling.power import power_told
    from energyplan.telling.ramps import boil_told, ramps_told

    parts = []
    if any(phase.phase == "boil" for phase in day.phases):
        parts.append(boil_told(advise_boil(day, evaporation=advice.evaporation, learned=learned)))
    if day.plan.circuit is not None:
        clock = zone_of(zone)
        parts.append(ramps_told(ramp_caps(day, start, clock, learned), clock))
    return replace(power_told(advice), parts=tuple(parts))


def _curve(day: "BrewDay", step: str, learned: "Learned | None", *, band_k: float) -> "Told":
    from energyplan.advice.draws import worst_of
    from energyplan.advice.holds import sag_curve
    from energyplan.telling.ramps import sag_told

    held = [phase.step for phase in day.phases if phase.phase in ("hold", "boil")]
    if step not in held:
        raise BrewDayError(
            Sentence(
                "--step {step}: no hold or boil has that name; there are {held}",
                step=WRITTEN(step),
                held=listed([WRITTEN(name) for name in held]),
            )
        )
    return sag_told(sag_curve(day, step, band_k=band_k, conditions=worst_of(day.plan, learned).conditions))


def _best(plan: str, read: "Plan", best_for: BestFor, charged: "Tariff | None", start: str | None) -> "BestPlan":
    """Choose powers, start and waiting of the start's local day."""
    from energyplan.advice.best import best_plan
    from energyplan.advice.compare import BestChoice
    from energyplan.tariffs.clock import zone_of
    from energyplan.tariffs.tariff import zone_name

    if best_for == "cost" and charged is None:
        raise PlanError("--best-for cost: needs prices; give --tariff FILE, or --tariff demo")
    zone = zone_name(read.site, charged)
    moment = When(start).resolve(read, zone)
    pricing = priced(read, charged, moment, any_start=True)
    choice = BestChoice(learned=learned_of(plan, zone))
    return best_plan(read, best_for, pricing=pricing, start=moment, zone=zone_of(zone), choice=choice)
