"""Answers to what is on the desk, computed once per set of values and shared by all who ask the same.

The keys are whole plans, tariff texts and moments, compared by value: two people share an answer only when they
ask exactly the same. Nothing here is changed after it is made.
"""

from dataclasses import replace
from datetime import UTC, date, datetime
from functools import lru_cache
from typing import TYPE_CHECKING

from energyplan.advice.answer import Answer, answer
from energyplan.advice.batchchoices import BatchChoices, BatchQuestion, batch_choices
from energyplan.advice.best import best_plans
from energyplan.advice.brewery import Kept, day_kwh, kept_of_vessel, months
from energyplan.advice.compare import BestChoice, BestFor, BestPlan, Comparison, compare
from energyplan.advice.draws import worst_of
from energyplan.advice.holds import SagCurve, sag_curve
from energyplan.advice.learned import Learned, learn
from energyplan.advice.pricing import Pricing, pricing_of
from energyplan.advice.ramps import Mend, RampAdvice, mends, ramp_caps
from energyplan.advice.savings import Saving, Savings, saving_of, savings
from energyplan.advice.starts import StartsAnswer, StartsQuestion, starts_answer
from energyplan.advice.uncertainty import Spread, SpreadRun, spread
from energyplan.advice.variants import WhyNot
from energyplan.base.errors import EnergyPlanError, Problem, TariffError
from energyplan.base.records import dataclass
from energyplan.day.brewday import simulate
from energyplan.learning.calibrate import calibrate
from energyplan.learning.logfile import Log, parse_log
from energyplan.learning.measured import DayComparison, compare_with_log
from energyplan.learning.result import Calibration
from energyplan.plan.brewery import BrewedDay
from energyplan.plan.model import Plan
from energyplan.tariffs.clock import local_to_utc, zone_of
from energyplan.tariffs.tariff import Tariff, zone_name
from energyplan.tariffs.tariffcheck import TariffCheck, check_tariff
from energyplan.tariffs.tarifffile import load_tariff, packaged_tariffs, parse_tariff
from energyplan.telling.brewed import year_told
from energyplan.telling.told import Told

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = [
    "NO_TARIFF",
    "BrewedText",
    "LogText",
    "Prices",
    "TariffText",
    "answer_of",
    "batches_of",
    "best_of",
    "brewed_text",
    "calibration_of",
    "comparison_of",
    "kept_of",
    "learned_of",
    "log_of",
    "measured_day_of",
    "mends_of",
    "packaged",
    "prices_of",
    "ramps_of",
    "readings_of",
    "sag_of",
    "savings_of",
    "spread_of",
    "start_of",
    "starts_of",
    "tariff_of",
    "ticked_of",
    "year_of",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class TariffText:
    """A tariff as text, with the texts of its series by file name: what a cache can compare."""

    name: str
    text: str = ""
    series: tuple[tuple[str, str], ...] = ()
    is_packaged: bool = False


NO_TARIFF = "none"  # named like one


def packaged() -> "Mapping[str, TariffText]":
    """The tariffs that come with the program, by name."""
    return {name: TariffText(name=name, is_packaged=True) for name in packaged_tariffs() if name != "demo"}


@lru_cache(maxsize=64)
def tariff_of(source: TariffText) -> Tariff:
    """Read a tariff.

    Raises
    ------
    TariffError, FileError
        If it says something impossible, or a series is missing.
    """
    if source.is_packaged:
        return load_tariff(packaged_tariffs()[source.name])
    return parse_tariff(source.text, source=source.name, series_texts=dict(source.series))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Prices:
    """A tariff laid open, as far as it can be read: without a tariff or a check there are problems."""

    tariff: Tariff | None = None
    check: TariffCheck | None = None
    problems: tuple[Problem, ...] = ()


@lru_cache(maxsize=32)
def prices_of(source: TariffText, day: date, today: date) -> Prices:
    """Lay a tariff open around a day, sound or not."""
    try:
        tariff = parse_tariff(
            source.text, source=source.name, series_texts=dict(source.series), check_coverage=False
        )  # fmt: skip
    except EnergyPlanError as error:
        found = error.problems if isinstance(error, TariffError) else ()
        return Prices(problems=found or (Problem(where="These prices", message=str(error)),))
    try:
        check = check_tariff(tariff, day, today=today)
    except EnergyPlanError as error:
        return Prices(tariff=tariff, problems=(Problem(where="These prices", message=str(error)),))
    return Prices(tariff=tariff, check=check, problems=check.problems)


def readings_of(plan: Plan, source: TariffText | None, wall: datetime) -> tuple[datetime, ...]:
    """The moments, in UTC, at which the local clock shows a time: one; none if it skips it, two if it repeats it."""
    zone = zone_of(zone_name(plan.site, tariff_of(source) if source else None))
    found = {wall.replace(tzinfo=zone, fold=fold).astimezone(UTC) for fold in (0, 1)}
    return tuple(moment for moment in sorted(found) if moment.astimezone(zone).replace(tzinfo=None) == wall)


def start_of(plan: Plan, source: TariffText | None, wall: datetime, reading: int | None = None) -> datetime:
    """The moment, in UTC, that a time on the local clock names; ``reading`` picks one of two.

    Raises
    ------
    ClockError
        If a clock change skips that time, or shows it twice and none is picked.
    """
    readings = readings_of(plan, source, wall)
    if reading is not None and len(readings) > 1:
        return readings[reading]
    return local_to_utc(wall, zone_name(plan.site, tariff_of(source) if source else None))


@dataclass(frozen=True, slots=True, kw_only=True)
class BrewedText:
    """A brewed day as it is kept: its plan, and what was read of it as JSON, quantities with their units."""

    plan: Plan
    text: str

    @property
    def day(self) -> BrewedDay:
        """What was read."""
        return BrewedDay.model_validate_json(self.text, context={"file": True}, by_alias=True, by_name=False)


def brewed_text(plan: Plan, day: BrewedDay) -> BrewedText:
    """A brewed day to be kept."""
    text = day.model_dump_json(by_alias=True, exclude_none=True, context={"file": True})
    return BrewedText(plan=plan, text=text)


@lru_cache(maxsize=16)
def kept_of(plan: Plan, source: TariffText | None, brewed: tuple[BrewedText, ...]) -> Kept:
    """The kept days that were brewed in the plan's vessel."""
    zone = zone_name(plan.site, tariff_of(source) if source else None)
    return kept_of_vessel(plan, [(one.plan, one.day) for one in brewed], zone)


@lru_cache(maxsize=32)
def learned_of(plan: Plan, source: TariffText | None, brewed: tuple[BrewedText, ...]) -> Learned | None:
    """What the kept days teach about the plan's vessel; None where there is none."""
    days = kept_of(plan, source, brewed).days if brewed else ()
    return learn(plan, days) if days else None


@lru_cache(maxsize=16)
def year_of(plan: Plan, source: TariffText | None, brewed: tuple[BrewedText, ...]) -> Told:
    """The kept days by month, and what they taught."""
    kept, tariff = kept_of(plan, source, brewed), tariff_of(source) if source else None
    learned = learned_of(plan, source, brewed) or learn(plan, ())
    return year_told(months(kept.days, tariff), kept, learned, day_kwh(plan, learned))


@lru_cache(maxsize=64)
def answer_of(plan: Plan, source: TariffText | None, start: datetime, learned: Learned | None = None) -> Answer:
    """Answer a plan; its ranges, times of people and powers by what brewed days taught.

    Raises
    ------
    EnergyPlanError
        If the plan can't be brewed, or the tariff can't price it.
    """
    return answer(plan, tariff_of(source) if source else None, start, learned)


@lru_cache(maxsize=32)
def starts_of(plan: Plan, source: TariffText, question: StartsQuestion) -> StartsAnswer:
    """Cost every start that a question asks for.

    Raises
    ------
    EnergyPlanError
        If the plan can't be brewed, no start is allowed, or one has no price.
    """
    return starts_answer(simulate(plan), tariff_of(source), question)


@lru_cache(maxsize=64)
def sag_of(plan: Plan, step: str, caps_w: tuple[float, ...], learned: Learned | None = None) -> SagCurve:
    """Lowest temperature of a step's hold at each of some caps, in the worst plausible case.

    Raises
    ------
    EnergyPlanError
        If the plan can't be brewed, or the step holds nothing.
    """
    return sag_curve(simulate(plan), step, caps_w, conditions=worst_of(plan, learned).conditions)


@lru_cache(maxsize=32)
def ramps_of(plan: Plan, start: datetime, zone: str, learned: Learned | None = None) -> RampAdvice:
    """Fastest ramps that keep every rating of the circuit.

    Raises
    ------
    EnergyPlanError
        If the plan can't be brewed, or has no circuit.
    """
    return ramp_caps(simulate(plan), start, zone_of(zone), learned)


@lru_cache(maxsize=32)
def mends_of(plan: Plan, source: TariffText | None, start: datetime) -> tuple[Mend, ...]:
    """What would mend the circuit's findings, each with the answer to the plan that has it."""
    return mends(answer_of(plan, source, start))


def _pricing(plan: Plan, source: TariffText | None, start: datetime) -> Pricing | None:
    """Prices around a start, and every other start of the same local day in the brewer's hours."""
    if source is None:
        return None
    return pricing_of(plan, tariff_of(source), start, any_start=True, lasts_s=simulate(plan).duration_s)


@lru_cache(maxsize=16)
def batches_of(plan: Plan, source: TariffText | None, start: datetime, question: BatchQuestion) -> BatchChoices:
    """A bigger batch, and two on one day.

    Raises
    ------
    EnergyPlanError
        If the plan can't be brewed.
    """
    tariff = tariff_of(source) if source else None
    return batch_choices(
        simulate(plan), question, start=start, zone=zone_of(zone_name(plan.site, tariff)), tariff=tariff
    )


@lru_cache(maxsize=16)
def savings_of(
    plan: Plan, source: TariffText | None, start: datetime, brews: int, jacket: float | None = None
) -> Savings:
    """What each possible change is worth; ``jacket`` is what one costs, in the currency of the prices.

    Raises
    ------
    EnergyPlanError
        If the plan can't be brewed or priced.
    """
    prices = {} if jacket is None else {"jacket": jacket}
    return savings(plan, pricing=_pricing(plan, source, start), brews_per_year=float(brews), prices=prices)


@lru_cache(maxsize=16)
def ticked_of(plan: Plan, source: TariffText | None, start: datetime, keys: frozenset[str]) -> Saving | WhyNot:
    """What some changes are worth together.

    Raises
    ------
    EnergyPlanError
        If the plan can't be brewed or priced.
    """
    return saving_of(plan, keys, pricing=_pricing(plan, source, start))


@lru_cache(maxsize=16)
def best_of(
    plan: Plan, source: TariffText | None, start: datetime, learned: Learned | None = None, *, keep_start: bool
) -> tuple[BestPlan, ...]:
    """Choose ramp powers, start and waiting together, for every aim that the plan and its prices know.

    Raises
    ------
    EnergyPlanError
        If the plan can't be brewed or priced, or no start meets the hours.
    """
    pricing = _pricing(plan, source, start)
    if pricing is not None and keep_start:
        pricing = replace(pricing, first=None, last=None)
    known: dict[BestFor, bool] = {"cost": pricing is not None, "time": True, "circuit": plan.circuit is not None}
    return best_plans(
        plan,
        [aim for aim, there in known.items() if there],
        pricing=pricing,
        start=start,
        choice=BestChoice(learned=learned),
    )


@lru_cache(maxsize=32)
def spread_of(plan: Plan, source: TariffText | None, start: datetime, learned: Learned | None = None) -> Spread:
    """Ranges of the day.

    Raises
    ------
    EnergyPlanError
        If the plan can't be brewed or priced.
    """
    return spread(plan, pricing=_pricing(plan, source, start), how=SpreadRun(learned=learned))


@lru_cache(maxsize=16)
def comparison_of(first: Plan, second: Plan, source: TariffText | None, start: datetime) -> Comparison:
    """Two plans side by side.

    Raises
    ------
    EnergyPlanError
        If one of them can't be brewed or priced.
    """
    return compare([first, second], pricing=_pricing(first, source, start), start=start)


@dataclass(frozen=True, slots=True, kw_only=True)
class LogText:
    """A log as text, and what was in the vessel and around it during the test, where that differs from the plan."""

    name: str
    text: str
    water_l: float | None = None
    air_c: float | None = None


@lru_cache(maxsize=16)
def calibration_of(log: LogText, plan: Plan) -> Calibration:
    """The vessel's own numbers from a log.

    Raises
    ------
    EnergyPlanError
        If the log can't be read.
    """
    return calibrate(log_of(log), plan, water_l=log.water_l, air_c=log.air_c)


@lru_cache(maxsize=16)
def log_of(log: LogText) -> Log:
    """Read a log.

    Raises
    ------
    LogError, FileError
        If it can't be read.
    """
    return parse_log(log.text, source=log.name)


@lru_cache(maxsize=16)
def measured_day_of(log: LogText, plan: Plan) -> DayComparison:
    """The day of a log beside the plan of it.

    Raises
    ------
    EnergyPlanError
        If the log can't be read, or can't be a day of this plan.
    """
    return compare_with_log(plan, log_of(log))
