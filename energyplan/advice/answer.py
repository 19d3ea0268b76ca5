"""The whole answer to one plan: the day, its cost, the circuit, the powers. Built once, complete."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta, tzinfo
from functools import cached_property, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from energyplan.advice.odds import DayRanges, day_ranges
from energyplan.advice.people import PeopleDay, people_day
from energyplan.advice.power import PowerAdvice, PowerRow, advise
from energyplan.advice.variants import with_hold_caps
from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.errors import PlanError, TariffError, need
from energyplan.base.kinds import CELSIUS, KWH, MINUTES, MOMENT, MONEY, PHASE, WRITTEN, Moment
from energyplan.base.money import Money
from energyplan.base.records import dataclass
from energyplan.base.sentence import html_table
from energyplan.circuits.check import CircuitCheck, check
from energyplan.circuits.findings import Finding, Remedy
from energyplan.day.brewday import BrewDay, Phase, simulate
from energyplan.day.supply import VESSEL, on_the_circuit
from energyplan.plan.equipment import Circuit
from energyplan.plan.file import read_plan_files
from energyplan.plan.model import Hours, Plan
from energyplan.tariffs.clock import local_to_utc, utc_s, zone_of
from energyplan.tariffs.costs import DayCost, price
from energyplan.tariffs.priceline import PriceLine, carbon_line, price_line_around, with_estimate
from energyplan.tariffs.tariff import Estimate, Tariff, of_the_month, zone_name
from energyplan.tariffs.tarifffile import load_tariff

if TYPE_CHECKING:
    from energyplan.advice.household import Household
    from energyplan.advice.learned import Learned
    from energyplan.circuits.enough import Enough, LargestPower

__all__ = ["Answer", "DayPrice", "advised_plan", "answer", "mended", "next_quarter"]

_FEWER = "fewer elements"  # the remedy
PRICED_AROUND = timedelta(hours=2)  # prices shown before and after the day


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DayPrice:
    """What the day costs: all of it, the vessel alone, and the prices around it.

    ``ends`` are the least and the most that it may come to, where the tariff has steps by the month's use and that use
    was not entered; the costs are then those of a month that begins with the day.
    """

    tariff: Tariff
    line: PriceLine
    total: DayCost
    vessel: DayCost
    ends: tuple[Money, Money] | None = None

    @property
    def estimate(self) -> Estimate | None:
        """How the prices were guessed, where the day lies beyond the end of a list."""
        return self.tariff.estimate if self.total.is_estimate else None

    def of_phase(self, phase: Phase) -> Money:
        """Cost of the vessel in one phase."""
        return self.vessel.between(phase.start_s, phase.end_s)

    @property
    def carbon_g(self) -> float | None:
        """What the grid emits for the day [g], if the tariff has a carbon series."""
        carbon = carbon_line(self.tariff, self.line)
        return None if carbon is None else float(price(self.total.load, carbon, self.total.start).total)

    @property
    def beside_vessel(self) -> Money:
        """Cost of everything but the vessel's phases, so that the parts add up to the total."""
        return self.total.total - self.vessel.total


@dataclass(frozen=True, kw_only=True, eq=False)
class Answer:
    """Everything that a plan, a tariff and a start have to say.

    ``circuit`` and ``price`` are None if not given, ``house`` without a contracted power or a peak charge;
    ``learned`` is what brewed days have taught about the vessel. Ranges, times
    of people and powers are worked out when they are asked for.
    """

    day: BrewDay
    start: datetime
    zone: str
    price: DayPrice | None
    circuit: CircuitCheck | None
    house: "Household | None"
    learned: "Learned | None" = None

    def __repr__(self) -> str:
        cost = "" if self.price is None else f", {self.price.total.total}"
        return f"Answer({self.day!r}, from {self.clock(0.0).isoformat(timespec='minutes')}{cost})"

    def _repr_html_(self) -> str:
        heads = ("Step", "", "From", "Takes", "Ends at", "Energy", *(("Cost",) if self.price else ()))
        first = self.clock(0.0).date()
        rows = [
            (
                WRITTEN(one.step), PHASE(one.phase), MOMENT(Moment(self.clock(one.start_s), first)),
                MINUTES(one.duration_s / 60), CELSIUS(one.to_c), KWH(one.energy_j / JOULES_PER_KWH),
                *((MONEY(self.price.of_phase(one)),) if self.price else ()),
            )
            for one in self.day.phases
        ]  # fmt: skip
        return html_table(WRITTEN(self.day.plan.title), heads, rows)

    @property
    def power(self) -> PowerAdvice:
        """What each step needs, and the power advised for it."""
        return _powers(self.day.plan, self.learned)

    @property
    def people(self) -> PeopleDay:
        """When the day needs people."""
        return people_day(self.day, self.learned)

    @property
    def ranges(self) -> DayRanges | None:
        """Where eight days of ten lie; None where almost none can be brewed."""
        return day_ranges(self.day, self.price.total if self.price else None, self.learned)

    @property
    def keeps_hours(self) -> bool:
        """Whether the start keeps the hours that the brewer entered; where none are, every start does."""
        hours = self.day.plan.hours
        if hours == Hours():
            return True
        from energyplan.advice.starts import limits_of
        from energyplan.tariffs.startcosts import allowed_starts

        limits, ends_s = limits_of(self.day, hours), self.day.duration_s
        return bool(allowed_starts(limits, first_s=utc_s(self.start), count=1, zone=self.zone, ends_s=ends_s)[0])

    def clock(self, seconds: float) -> datetime:
        """Local time at some seconds after the start."""
        return (self.start + timedelta(seconds=seconds)).astimezone(zone_of(self.zone))

    @property
    def finish(self) -> datetime:
        """End of the day, UTC."""
        return self.start + timedelta(seconds=self.day.duration_s)

    @property
    def is_over(self) -> bool:
        """Whether a finding of the circuit, or of the house's meter, is "over"."""
        return any(finding.severity == "over" for finding in self.findings)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What the circuit's ratings and the house's meter say."""
        return (*(self.circuit.findings if self.circuit else ()), *(self.house.findings if self.house else ()))

    @cached_property
    def sizes(self) -> "tuple[Enough, LargestPower]":
        """The smallest circuit for the plan, and the largest power for its circuit.

        Raises
        ------
        PlanError
            If the plan has no circuit.
        """
        from energyplan.circuits.enough import enough

        plan, zone = self.day.plan, zone_of(self.zone)
        loads = on_the_circuit(plan, self.day.profiles)
        return enough(loads, _circuit_of(plan), plan.other_loads, self.start, zone), self._largest_power

    @cached_property
    def _largest_power(self) -> "LargestPower":
        return _largest_power(self.day, self.start, zone_of(self.zone))

    def mended(self, findings: "Sequence[Finding]") -> tuple[Finding, ...]:
        """Findings of this day; where fewer elements mend one, with the power that the whole check lets pass."""
        return tuple(_mended(findings, lambda: self._largest_power))


def mended(findings: "Sequence[Finding]", day: BrewDay, start: datetime, zone: tzinfo) -> tuple[Finding, ...]:
    """Findings of a day's circuit; where fewer elements mend one, with the power that the whole check lets pass."""
    return tuple(_mended(findings, lambda: _largest_power(day, start, zone)))


def _largest_power(day: BrewDay, start: datetime, zone: tzinfo) -> "LargestPower":
    from energyplan.circuits.enough import largest_power

    plan = day.plan
    return largest_power(on_the_circuit(plan, day.profiles), _circuit_of(plan), plan.other_loads, start, zone)


def _circuit_of(plan: Plan) -> Circuit:
    if plan.circuit is None:
        raise PlanError('the plan has no [circuit]; add at least voltage = "230 V"')
    return plan.circuit


def _mended(findings: "Sequence[Finding]", most: "Callable[[], LargestPower]") -> "Iterator[Finding]":
    fewer = any(remedy.code == _FEWER for finding in findings for remedy in finding.remedies)
    takes_w = most().power_w if fewer else None
    return (replace(one, remedies=tuple(_taking(one.remedies, takes_w))) for one in findings)


def _taking(remedies: "Sequence[Remedy]", takes_w: float | None) -> "Iterator[Remedy]":
    """Remedies with the elements that the circuit takes; where it takes none, without that remedy."""
    for one in remedies:
        if one.code != _FEWER or takes_w is None:
            yield one
        elif takes_w > 0:
            yield replace(one, facts={**one.facts, "elements_w": takes_w})


def answer(
    plan: Plan | str | Path,
    tariff: Tariff | str | Path | None = None,
    start: datetime | str | None = None,
    learned: "Learned | None" = None,
) -> Answer:
    """Answer a plan.

    Parameters
    ----------
    plan : Plan, str or Path
        What the brewer entered: a plan, a file, or the name of a packaged one ("demo").
    tariff : Tariff, str, Path or None
        What the supplier charges, given likewise; without it there is no cost. A plan that is read from a file has its
        brewery's tariff, if that names one.
    start : datetime or str, optional
        Start of the day. Without an offset of its own it is read on the clock of the plan's place, else of the
        tariff, else in UTC: never on that of the machine. Left out, it is the next full quarter of an hour.
    learned : Learned, optional
        What brewed days have taught: ranges, times of people and powers use it.

    Raises
    ------
    PlanError, TariffError, FileError
        If a file can't be read, or says something impossible.
    BrewDayError, TariffError
        If the plan can't be brewed, or the tariff has no price for a part of the day.
    ClockError
        If a clock change skips the start, or shows it twice.
    TypeError
        If something else is handed in.

    Examples
    --------
    >>> found = answer("demo", "demo", "2026-12-05T08:30")
    >>> found
    Answer(BrewDay('Oat stout for the village hall', ...), from 2026-12-05T08:30+00:00, ... EUR)
    """
    plan, tariff = _read(plan, tariff)
    zone = zone_name(plan.site, tariff)
    start = next_quarter(datetime.now(UTC)) if start is None else local_to_utc(start, zone)
    day = _day(plan)
    return Answer(
        day=day,
        start=start,
        zone=zone,
        price=_price(day, tariff, start) if tariff else None,
        circuit=_checked(day, start, zone),
        house=_house(day, tariff, start, zone),
        learned=learned,
    )


def _read(plan: Plan | str | Path, tariff: Tariff | str | Path | None) -> tuple[Plan, Tariff | None]:
    """Plan and tariff, read if names or paths were given."""
    if isinstance(plan, str | Path):
        files = read_plan_files(plan)
        plan, tariff = files.plan, files.tariff if tariff is None else tariff
    if isinstance(tariff, str | Path):
        tariff = load_tariff(tariff)
    need(plan, Plan, 'plan: give one that was read, a path, or a name such as "demo"')
    need(tariff, Tariff | None, 'tariff: give one that was loaded, a path, or a name such as "demo"')
    return plan, tariff


def next_quarter(now: datetime) -> datetime:
    """The next full quarter of an hour: the start of a day that nobody gave one."""
    return now.replace(minute=now.minute // 15 * 15, second=0, microsecond=0) + timedelta(minutes=15)


def advised_plan(found: Answer) -> Plan:
    """The plan with every advised power that keeps: one that does its job, and passes no rating that is kept now.

    A power that would have to go up and takes the circuit over with it stays as it is set.
    """
    plan = found.day.plan

    def with_those(rows: "list[PowerRow]") -> Plan:
        return with_hold_caps(plan, {row.step: row.advised_w for row in rows})

    enough = [row for row in found.power.rows if row.enough]
    every = with_those(enough)
    if found.is_over or every == plan or not _is_over(every, found):
        return every
    return with_those([row for row in enough if row.advised_w <= row.set_w])


def _is_over(plan: Plan, like: Answer) -> bool:
    tariff = like.price.tariff if like.price else None
    return answer(plan, tariff, like.start).is_over


def _house(day: BrewDay, tariff: Tariff | None, start: datetime, zone: str) -> "Household | None":
    if day.plan.supply is None and (tariff is None or tariff.table.peak_charge is None):
        return None
    from energyplan.advice.household import household

    return household(day, start, zone_of(zone), tariff)


@lru_cache(maxsize=32)
def _day(plan: Plan) -> BrewDay:
    return simulate(plan)


@lru_cache(maxsize=32)
def _powers(plan: Plan, learned: "Learned | None") -> PowerAdvice:
    return advise(_day(plan), learned)


def _checked(day: BrewDay, start: datetime, zone: str) -> CircuitCheck | None:
    plan = day.plan
    if plan.circuit is None:
        return None
    return check(on_the_circuit(plan, day.profiles), plan.circuit, plan.other_loads, start, zone_of(zone))


def _price(day: BrewDay, tariff: Tariff, start: datetime) -> DayPrice:
    """Price the day; beyond the end of a list of prices by an estimate, which every amount then says."""
    tariff = of_the_month(tariff, day.plan.supply)
    try:
        return _priced(day, tariff, start)
    except TariffError:
        ends = start + timedelta(seconds=day.duration_s) + 2 * PRICED_AROUND
        guessed = with_estimate(tariff, ends.replace(microsecond=0))
        if guessed is None:
            raise
        return _priced(day, guessed, start)


def _priced(day: BrewDay, tariff: Tariff, start: datetime) -> DayPrice:
    first_s = min(float(profile.edges_s[0]) for profile in day.profiles)
    line = price_line_around(
        tariff,
        start + timedelta(seconds=first_s) - PRICED_AROUND,
        start + timedelta(seconds=day.duration_s) + PRICED_AROUND,
    )
    vessel = next(profile for profile in day.profiles if profile.name == VESSEL)
    total = price(day.profiles, line, start)
    ends = total.tier_ends()
    return DayPrice(
        tariff=tariff,
        line=line,
        total=total,
        vessel=price(vessel, line, start),
        ends=None if ends is None else (ends[0].total, ends[1].total),
    )
