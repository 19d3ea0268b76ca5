"""The brew day at the house's meter: the contracted power and the month's peak, and what keeps below either."""

import math
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta, tzinfo

from energyplan.advice.odds import does_as_often
from energyplan.advice.variants import capped_w, settings_w, with_end_volume
from energyplan.base.errors import BrewDayError
from energyplan.base.load import LoadProfile
from energyplan.base.money import Money
from energyplan.base.records import dataclass
from energyplan.circuits.check import CircuitCheck
from energyplan.circuits.contract import ContractCheck, StepSpan, contract_check, contract_severity
from energyplan.circuits.findings import Facts, Finding, Remedy, Severity, finding, worst_of
from energyplan.circuits.house import LONGEST_SHIFT_S, House, house_of
from energyplan.day.brewday import BrewDay, simulate
from energyplan.plan.model import HouseSupply, Plan
from energyplan.tariffs.periods import PeakCost, peak_cost
from energyplan.tariffs.steps import MeteredLoad, metered
from energyplan.tariffs.tariff import Tariff

__all__ = ["Household", "PeakWays", "contract_of", "household", "severity_of", "with_cap"]

_SHIFT_STEP_S = 300.0  # a day is moved in steps of five minutes [our choice]
_MOST_CAPS = 40  # powers that are tried, from the highest down
_SLACK_KW = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PeakWays:
    """What keeps the day below the present peak, or adds least to it.

    ``cap_w`` is the highest power, for every ramp, hold and boil, of those tried that does; ``capped`` the day with
    it and the planned wort at its end (both None: no cap does without letting a hold or a boil fail). ``later_s`` and
    ``earlier_s`` are the least shifts of the whole day, in steps of five minutes [s] (None: none within twelve hours).
    Where none of them does, ``capped`` is the day under the lowest cap that brews as well, ``least_cap_w``, and
    ``left`` what that one still adds (both None: no cap adds less than the plan).
    """

    cap_w: float | None
    capped: BrewDay | None
    added_min: float
    added_kwh: float
    less_steam_kg: float
    later_s: float | None
    earlier_s: float | None
    least_cap_w: float | None = None
    left: Money | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Household:
    """A brew day at the house's meter.

    ``contract`` is None without a contracted power, ``peak`` without a peak charge in the tariff, ``ways`` when the
    day adds nothing to it. ``findings`` are the judgements of both.
    """

    house: House
    contract: ContractCheck | None
    peak: PeakCost | None
    ways: PeakWays | None
    findings: tuple[Finding, ...]

    @property
    def is_over(self) -> bool:
        """Whether the supply drops out."""
        return any(found.severity == "over" for found in self.findings)


def household(day: BrewDay, start: datetime, zone: tzinfo, tariff: Tariff | None = None) -> Household | None:
    """Look at a brew day from the house's meter.

    Parameters
    ----------
    day : BrewDay
        The day; its plan has the contract, the base load and the house's loads.
    start : datetime
        Its start, with its offset from UTC.
    zone : tzinfo
        Zone of the loads' clock.
    tariff : Tariff, optional
        For a peak charge.

    Returns
    -------
    Household or None
        None when neither a contracted power nor a peak charge was entered.

    Notes
    -----
    A contract is judged by what is drawn while elements are on, a peak charge by means over the tariff's windows. So a
    cap on a pulsed element does nothing for the one, and helps with the other.
    """
    supply = day.plan.supply or HouseSupply()
    house = house_of(day.plan, day.profiles, start, zone)
    search = _Peak(day, house, tariff, start, zone) if tariff is not None else None
    peak = search.cost(metered(day.profiles)) if search else None
    if supply.contracted_w is None and peak is None:
        return None
    spans = [StepSpan(phase.step, phase.start_s, phase.end_s) for phase in day.phases]
    contract = contract_check(house, supply, spans)
    findings, ways = [contract.finding] if contract else [], None
    if search is not None and peak is not None:
        ways = search.ways() if _adds(peak) else None
        findings.append(_peak_finding(day, peak, ways, start))
    return Household(house=house, contract=contract, peak=peak, ways=ways, findings=tuple(findings))


def contract_of(plan: Plan, profiles: Sequence[LoadProfile], start: datetime, zone: tzinfo) -> ContractCheck | None:
    """Compare loads of any day, or of two together, with the contracted power; None where none is entered.

    Parameters
    ----------
    plan : Plan
        The contract, and the loads of the house.
    profiles : sequence of LoadProfile
        All appliances of the brewing.
    start : datetime
        Aware instant of second 0.
    zone : tzinfo
        Zone of the loads' clock.
    """
    if plan.supply is None or plan.supply.contracted_w is None:
        return None
    return contract_check(house_of(plan, profiles, start, zone), plan.supply, ())


def severity_of(
    plan: Plan, profiles: Sequence[LoadProfile], checked: CircuitCheck | None, start: datetime, zone: tzinfo
) -> Severity | None:
    """The graver of what a circuit and a contract say of the loads of a day; None where neither is entered."""
    found = [] if checked is None else [checked.severity]
    if plan.supply is not None and (contract := contract_severity(house_of(plan, profiles, start, zone), plan.supply)):
        found.append(contract)
    return worst_of(*found) if found else None


def with_cap(plan: Plan, cap_w: float) -> Plan:
    """The plan with no ramp, hold or boil above a cap [W].

    Examples
    --------
    >>> from energyplan.plan.file import read_plan
    >>> [step.ramp_power_w for step in with_cap(read_plan("demo"), 1600.0).steps][:3]
    [1600.0, 1500.0, 1600.0]
    """

    def capped(power_w: float | None) -> float:
        return min(capped_w(plan.vessel, power_w), cap_w)

    steps = tuple(
        step.model_copy(update={"ramp_power_w": capped(step.ramp_power_w), "hold_power_w": capped(step.hold_power_w)})
        for step in plan.steps
    )
    return plan.model_copy(update={"steps": steps})


def _adds(peak: PeakCost) -> bool:
    return peak.peak_kw > peak.present_kw + _SLACK_KW


class _Peak:
    """One day and one tariff while ways to stay below the peak are looked for."""

    def __init__(self, day: BrewDay, house: House, tariff: Tariff, start: datetime, zone: tzinfo) -> None:
        self.day, self.house, self.tariff, self.start, self.zone = day, house, tariff, start, zone
        supply = day.plan.supply
        self.month_peak_kw = supply.month_peak_w / 1000 if supply else 0.0

    def cost(self, load: MeteredLoad, shift_s: float = 0.0, house: House | None = None) -> PeakCost | None:
        around = house or self.house
        return peak_cost(
            load,
            self.tariff,
            self.start + timedelta(seconds=shift_s),
            household_kw=around.base_w / 1000,
            month_peak_kw=self.month_peak_kw,
            beside=around.beside(shift_s),
        )

    def ways(self) -> PeakWays:
        later_s, earlier_s = self._shift_s(1), self._shift_s(-1)
        cap_w, capped, left = self._cap(or_least=later_s is None and earlier_s is None)
        day = self.day
        return PeakWays(
            cap_w=cap_w if left is None else None,
            capped=capped,
            added_min=(capped.duration_s - day.duration_s) / 60 if capped else 0.0,
            added_kwh=capped.energy_kwh - day.energy_kwh if capped else 0.0,
            less_steam_kg=day.wort.evaporated_kg - capped.wort.evaporated_kg if capped else 0.0,
            later_s=later_s,
            earlier_s=earlier_s,
            least_cap_w=None if left is None else cap_w,
            left=left,
        )

    def _fits(self, load: MeteredLoad, shift_s: float = 0.0, house: House | None = None) -> bool:
        found = self.cost(load, shift_s, house)
        return found is not None and not _adds(found)

    def _shift_s(self, sign: int) -> float | None:
        load = metered(self.day.profiles)
        shifts_s = (_SHIFT_STEP_S * step for step in range(1, int(LONGEST_SHIFT_S / _SHIFT_STEP_S) + 1))
        return next((shift_s for shift_s in shifts_s if self._fits(load, sign * shift_s)), None)

    def _cap(self, *, or_least: bool) -> tuple[float | None, BrewDay | None, Money | None]:
        """A cap that keeps below the peak, and its day; else, if asked, the lowest that brews, and what it adds."""
        settings, brews = settings_w(self.day.plan.vessel)[::-1], []
        every = math.ceil(len(settings) / _MOST_CAPS)
        for cap_w in settings[every - 1 :: every]:
            day = self._capped(cap_w)
            if day is None:
                break  # a lower cap does no better
            if self._fits(metered(day.profiles), house=self._house(day)):
                if (same := self._with_same_wort(day)) is not None:
                    return cap_w, same, None
                break
            brews.append((cap_w, day))
        return self._least(brews) if or_least else (None, None, None)

    def _least(self, brews: list[tuple[float, BrewDay]]) -> tuple[float | None, BrewDay | None, Money | None]:
        """The lowest cap that ends with the planned wort and adds less than the plan does."""
        planned = self.cost(metered(self.day.profiles))
        kept: tuple[float | None, BrewDay | None, Money | None] = None, None, None
        low, high = 0, len(brews)  # from the highest cap down; what a cap can't, a lower one can't
        while planned is not None and low < high:
            middle = (low + high) // 2
            cap_w, day = brews[middle]
            same = self._with_same_wort(day)
            cost = self.cost(metered(same.profiles), house=self._house(same)) if same else None
            low, high = (middle + 1, high) if same else (low, middle)
            if cost is not None and cost.added.units < planned.added.units:
                kept = cap_w, same, cost.added
        return kept

    def _house(self, day: BrewDay) -> House:
        return house_of(day.plan, day.profiles, self.start, self.zone)

    def _with_same_wort(self, capped: BrewDay) -> BrewDay | None:
        """A day under a cap with the water that ends with the planned wort; None where a hold or boil fails by it."""
        wort = self.day.wort
        try:
            day = with_end_volume(capped.plan, wort.end_l, extract_kg=wort.extract_kg)
        except BrewDayError:
            return None
        return day if does_as_often(day, self.day) else None

    def _capped(self, cap_w: float) -> BrewDay | None:
        """The day under a cap; None when it stalls, or a boil stops boiling."""
        try:
            day = simulate(with_cap(self.day.plan, cap_w), extract=self.day.wort.extract_kg)
        except BrewDayError:
            return None
        stops = any(phase.phase == "boil" and phase.to_c < phase.from_c for phase in day.phases)
        return None if stops else day


def _peak_finding(day: BrewDay, peak: PeakCost, ways: PeakWays | None, start: datetime) -> Finding:
    at_s = (peak.peak_start - start).total_seconds()
    end_s = at_s + 60 * peak.window_minutes
    names = tuple(dict.fromkeys(phase.step for phase in day.phases if phase.start_s < end_s and phase.end_s > at_s))
    facts: Facts = {
        "window_min": peak.window_minutes,
        "at_s": at_s,
        "steps": names,
        "peak_kw": peak.peak_kw,
        "month_peak_kw": peak.month_peak_kw,
        "free_kw": peak.free_kw,
        "added": peak.added,
    }
    if ways is None:
        case = "free" if peak.peak_kw <= peak.free_kw + _SLACK_KW else "had already"
        return finding("month_peak", "ok", "peak charge", case=case, **facts)
    return finding("month_peak", "note", "peak charge", case="adds", remedies=tuple(_ways(ways)), **facts)


def _ways(ways: PeakWays) -> Iterator[Remedy]:
    if ways.cap_w is not None:
        cap = {"cap_w": ways.cap_w, "added_min": ways.added_min, "added_kwh": ways.added_kwh}
        yield Remedy(code="cap", facts={**cap, "less_steam_kg": ways.less_steam_kg})
    if ways.later_s is not None or ways.earlier_s is not None:
        moves = {"later_min": ways.later_s, "earlier_min": ways.earlier_s}
        yield Remedy(code="start", facts={key: None if s is None else s / 60 for key, s in moves.items()})
    if ways.cap_w is None and ways.later_s is None and ways.earlier_s is None:
        least = {"least_cap_w": ways.least_cap_w, "left": ways.left, "added_min": ways.added_min}
        yield Remedy(code="nothing below the peak", facts={**least, "added_kwh": ways.added_kwh})
