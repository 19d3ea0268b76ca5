"""The commands about what to change: powers, ramps, boil, best ways, savings, batches, ranges, days side by side."""

import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from energyplan.base.errors import BrewDayError, PlanError
from energyplan.base.kinds import WRITTEN
from energyplan.base.sentence import Sentence, listed
from energyplan.cli.output import (
    AllOption,
    Asked,
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
    plan_of,
    show,
    tell,
)

if TYPE_CHECKING:
    from energyplan.advice.compare import BestPlan
    from energyplan.advice.heat import KeptWater
    from energyplan.advice.learned import Learned
    from energyplan.advice.power import PowerAdvice
    from energyplan.day.brewday import BrewDay
    from energyplan.telling.told import Told

__all__ = ["batches", "compare", "power", "savings", "spread"]

PROGRESS_DRAWS = 1500


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
    from energyplan.telling.measures import savings_told

    asked = Asked(plan, tariff, When(start), month_kwh=month_kwh)
    pricing = asked.pricing(any_start=True)
    choice = MeasureChoice(for_nothing=frozenset(free or ()))
    found = find_savings(asked.plan, choice=choice, pricing=pricing, brews_per_year=brews, prices=_prices(price or []))
    tell(asked.noted(savings_told(found)), units, everything=everything, as_json=as_json)


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
    from energyplan.telling.uncertainty import uncertainty_told

    asked = Asked(plan, tariff, When(start), month_kwh=month_kwh)
    with _progress(draws) as progress:
        how = SpreadRun(draws=draws, seed=seed, progress=progress, learned=asked.learned)
        found = find_spread(asked.plan, pricing=asked.pricing(), zone=asked.clock, how=how)
    tell(asked.noted(uncertainty_told(found)), units, as_json=as_json)


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
        from energyplan.cli.learn import compare_with_log, compare_with_meter

        if len(plans) != 1 or (log is not None and meter is not None):
            raise PlanError("--log or --meter compares one plan with its measured day; name one plan and one of them")
        beside = compare_with_log if log is not None else compare_with_meter
        asked = Asked(plans[0], tariff, When(start), month_kwh=month_kwh)
        beside(asked, log or meter or Path(), units=units, as_json=as_json)
        return
    from energyplan.advice.compare import compare as find_differences
    from energyplan.telling.comparison import comparison_told

    if len(plans) < 2:
        raise PlanError("one plan alone can't be compared: name a second one, or a measured day with --log")
    asked = Asked(plans[0], tariff, When(start), month_kwh=month_kwh)
    read = [asked.plan, *(plan_of(plan, month_kwh) for plan in plans[1:])]
    found = find_differences(read, pricing=asked.pricing(), start=asked.start, zone=asked.clock)
    tell(asked.noted(comparison_told(found)), units, everything=everything, as_json=as_json)


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
    from energyplan.telling.batches import batches_told

    asked = Asked(plan, tariff, When(start), month_kwh=month_kwh)
    question = BatchQuestion(
        end_l=None if litres is None else read_quantity(litres, VOLUME),
        between_s=read_quantity(between, DURATION),
        kept=None if kept is None else _kept(kept, wait or between, tank),
    )
    charged = asked.tariff if asked.pricing() else None
    found = batch_choices(simulate(asked.plan), question, start=asked.start, zone=asked.clock, tariff=charged)
    tell(asked.noted(batches_told(found)), units, as_json=as_json)


def _kept(text: str, wait: str, tank: str) -> "KeptWater":
    from energyplan.advice.heat import KeptWater
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
    asked = Asked(plan, tariff, When(start), month_kwh=month_kwh)
    if best_for is not None:
        from energyplan.telling.best import best_told

        found = _best(asked, best_for)
        tell(asked.noted(best_told(found, asked.zone)), units, as_json=as_json)
        if write is not None:
            keep(plan, found.chosen.plan, write, force=force)
        return
    from energyplan.advice.power import advise, with_advised_caps
    from energyplan.day.brewday import simulate
    from energyplan.telling.power import power_told

    day, learned = simulate(asked.plan), asked.learned
    if step is not None:
        tell(_curve(day, step, learned, band_k=band), units, as_json=as_json)
        return
    advice = advise(day, learned, evaporation_per_h=evaporation, band_k=band)
    if whole or as_json:
        tell(_whole(asked, day, advice, learned), units, everything=True, as_json=as_json)
    else:
        tell(power_told(advice), units)
        show("More: --all adds the boil and the ramps, --step NAME one hold and its cap.")
    if write is not None:
        keep(plan, with_advised_caps(day.plan, advice), write, force=force)


def _whole(asked: Asked, day: "BrewDay", advice: "PowerAdvice", learned: "Learned | None") -> "Told":
    """The powers, with the boil and the ramps where there is something to say about them."""
    from dataclasses import replace

    from energyplan.advice.boil import advise_boil
    from energyplan.advice.ramps import ramp_caps
    from energyplan.telling.power import power_told
    from energyplan.telling.ramps import boil_told, ramps_told

    parts = []
    if any(phase.phase == "boil" for phase in day.phases):
        parts.append(boil_told(advise_boil(day, evaporation=advice.evaporation, learned=learned)))
    if day.plan.circuit is not None:
        parts.append(ramps_told(ramp_caps(day, asked.start, asked.clock, learned), asked.clock))
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


def _best(asked: Asked, best_for: BestFor) -> "BestPlan":
    """Choose powers, start and waiting of the start's local day."""
    from energyplan.advice.best import best_plan
    from energyplan.advice.compare import BestChoice

    if best_for == "cost" and asked.tariff is None:
        raise PlanError("--best-for cost: needs prices; give --tariff FILE, or --tariff demo")
    pricing, choice = asked.pricing(any_start=True), BestChoice(learned=asked.learned)
    return best_plan(asked.plan, best_for, pricing=pricing, start=asked.start, zone=asked.clock, choice=choice)
