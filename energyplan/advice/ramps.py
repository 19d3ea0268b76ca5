"""Ramps under a circuit limit: the fastest that keep every rating beside whatever else is on at that time."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, tzinfo
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from energyplan.advice.answer import Answer, answer, mended
from energyplan.advice.odds import does_as_often
from energyplan.advice.power import advise
from energyplan.advice.variants import (
    all_elements_w,
    capped_w,
    lower_setting_w,
    settings_w,
    step_named,
    with_end_volume,
    with_hold_caps,
    with_ramp_caps,
)
from energyplan.base.errors import BrewDayError, PlanError
from energyplan.base.load import LoadProfile
from energyplan.base.records import dataclass
from energyplan.circuits.check import CircuitCheck, check
from energyplan.circuits.enough import enough
from energyplan.circuits.findings import Finding, Remedy
from energyplan.circuits.remedies import carried_out
from energyplan.day.brewday import BrewDay, simulate
from energyplan.day.supply import SECOND_HEATER, VESSEL, on_the_circuit
from energyplan.plan.lines import placed
from energyplan.plan.model import Element, Plan
from energyplan.tariffs.clock import zone_of

if TYPE_CHECKING:
    from energyplan.advice.learned import Learned

__all__ = ["Mend", "RampAdvice", "RampRow", "WayOut", "mends", "over_codes", "ramp_caps", "resting"]

MOST_TRIED = 24  # settings tried for one ramp
SHIFT_STEP_S = 300.0
LONGEST_SHIFT_S = 8 * 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RampRow:
    """One ramp: set and fastest power [W], minutes with the one set, with the one taken, and with a step less.

    ``fastest_w`` is the highest power that keeps every rating during the ramp; None when no setting does.
    ``taken_w`` is the lower of the two: a ramp that the plan caps lower stays so. ``less_min`` is how long it takes
    at the next lower setting; None when that stalls or there is none.
    """

    step: str
    start_s: float
    set_w: float
    fastest_w: float | None
    taken_w: float
    set_min: float
    taken_min: float
    less_w: float
    less_min: float | None
    limited_by: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WayOut:
    """Something else that keeps the ratings: what it is, what it adds for the same wort, and what stays over.

    Any of: only the elements of ``elements_w``, ``held_steps`` held with the advised power, the sparge water heated
    ``shift_min`` earlier. ``added_water_l`` is filled in more so that the day ends with the same wort.
    """

    kind: str
    elements_w: tuple[float, ...] = ()
    held_steps: tuple[str, ...] = ()
    shift_min: float = 0.0
    added_min: float
    added_kwh: float
    added_water_l: float = 0.0
    over: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RampAdvice:
    """Ramps of a day that starts at a given time, on its circuit.

    ``over_before`` and ``over_after`` are the findings that are over with the powers set and with those taken;
    ``plan`` has the powers taken. ``pulsed`` tells that no cap mends a ramp since the elements pulse, ``idle_over``
    what is over with nothing of the day switched on.
    """

    start: datetime
    rows: tuple[RampRow, ...]
    over_before: tuple[Finding, ...]
    over_after: tuple[Finding, ...]
    added_min: float
    added_kwh: float
    ways_out: tuple[WayOut, ...]
    plan: Plan
    pulsed: bool
    idle_over: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mend:
    """A remedy carried out: the plan with it, and the answer to that plan."""

    remedy: Remedy
    plan: Plan
    after: Answer


def mends(found: Answer) -> tuple[Mend, ...]:
    """What a plan's own entries can show of the remedies: each carried out alone, the most helpful first.

    Parameters
    ----------
    found : Answer
        The answered plan.

    Returns
    -------
    tuple of Mend
        Those after which less is over, or nothing more is over and fewer notes stay. "bigger circuit" is the smallest
        that is enough, with its outlet and its residual current device.

    Notes
    -----
    A remedy that answers what is not known is none of them: a plan does not mend what nobody looked at.
    """
    tried: dict[Plan, Mend] = {}
    remedies = [way for one in found.findings if one.severity in ("over", "note") for way in one.remedies]
    if found.is_over and found.day.plan.second_heater and not found.day.plan.second_heater.own_circuit:
        remedies.append(Remedy(code="second heater elsewhere"))
    for remedy in remedies:
        plan = _enough(found) if remedy.code == "bigger circuit" else carried_out(remedy, found.day.plan)
        if plan is not None and plan != found.day.plan and plan not in tried:
            after = answer(plan, found.price.tariff if found.price else None, found.start, found.learned)
            tried[plan] = Mend(remedy=remedy, plan=plan, after=after)
    helpful = [one for one in tried.values() if _stays(one.after) < _stays(found)]
    return tuple(sorted(helpful, key=lambda one: _stays(one.after)))


def _stays(found: Answer) -> tuple[int, int]:
    """How much is over, and how much is noted."""
    grave = [finding.severity for finding in found.findings]
    return grave.count("over"), grave.count("note")


def _enough(found: Answer) -> Plan | None:
    """The plan on the smallest circuit that is enough; None where there is none."""
    plan = found.day.plan
    if plan.circuit is None:
        return None
    loads = on_the_circuit(plan, found.day.profiles)
    circuit = enough(loads, plan.circuit, plan.other_loads, found.start, zone_of(found.zone)).circuit
    return plan.model_copy(update={"circuit": circuit}) if circuit else None


def over_codes(checked: CircuitCheck) -> tuple[str, ...]:
    """Codes of the findings that are over."""
    return tuple(finding.code for finding in checked.findings if finding.severity == "over")


def ramp_caps(day: BrewDay, start: datetime, zone: tzinfo, learned: "Learned | None" = None) -> RampAdvice:
    """Find the fastest ramps that keep every rating of the circuit.

    Parameters
    ----------
    day : BrewDay
        The day as planned, with a circuit.
    start : datetime
        Its start, with its offset from UTC: it decides what else is on.
    zone : tzinfo
        Zone of the other loads' clock.
    learned : Learned, optional
        What brewed days have taught about the vessel.

    Raises
    ------
    PlanError
        If the plan has no circuit.

    Notes
    -----
    Ramp after ramp, in the order of the day: the highest setting with which no finding is over while the ramp lasts;
    the ramps before it are the ones found. A modulated vessel draws the full current of its elements while they are
    on, whatever the cap, so for it a cap is no way out, and others are looked for.
    """
    return _Ramps(day, start, zone, learned).advice()


class _Ramps:
    """One day on its circuit."""

    def __init__(self, day: BrewDay, start: datetime, zone: tzinfo, learned: "Learned | None") -> None:
        if day.plan.circuit is None:
            raise PlanError('the plan has no [circuit], so no rating limits a ramp; add at least voltage = "230 V"')
        self.day, self.plan, self.start, self.zone, self.learned = day, day.plan, start, zone, learned
        self.circuit = day.plan.circuit
        self.idle = self._over(tuple(resting(profile) for profile in day.profiles))

    def _check(self, profiles: tuple[LoadProfile, ...]) -> CircuitCheck:
        return check(on_the_circuit(self.plan, profiles), self.circuit, self.plan.other_loads, self.start, self.zone)

    def _over(self, profiles: tuple[LoadProfile, ...]) -> set[str]:
        return set(over_codes(self._check(profiles)))

    def advice(self) -> RampAdvice:
        rows, plan = [], self.plan
        for phase in [phase for phase in self.day.phases if phase.phase == "ramp"]:
            row = self._row(plan, phase.step)
            rows.append(row)
            if row.taken_w != row.set_w:
                plan = with_ramp_caps(plan, {row.step: row.taken_w})
        after = self._simulated(plan)
        over_after = self._findings(after)
        return RampAdvice(
            start=self.start,
            rows=tuple(rows),
            over_before=self._findings(self.day),
            over_after=mended(over_after, after, self.start, self.zone),
            added_min=(after.duration_s - self.day.duration_s) / 60,
            added_kwh=after.energy_kwh - self.day.energy_kwh,
            ways_out=tuple(self._ways_out(after)) if over_after else (),
            plan=plan,
            pulsed=self.plan.vessel.control == "modulated" and any(row.fastest_w is None for row in rows),
            idle_over=tuple(sorted(self.idle)),
        )

    def _simulated(self, plan: Plan) -> BrewDay:
        return self.day if plan is self.plan else simulate(plan, extract=self.day.wort.extract_kg)

    def _findings(self, day: BrewDay) -> tuple[Finding, ...]:
        return tuple(finding for finding in self._check(day.profiles).findings if finding.severity == "over")

    def _row(self, plan: Plan, step: str) -> RampRow:
        set_w = capped_w(plan.vessel, step_named(plan, step).ramp_power_w)
        fastest_w, limits = self._fastest(plan, step)
        taken_w = min(set_w, set_w if fastest_w is None else fastest_w)
        less_w = lower_setting_w(plan.vessel, taken_w)
        before_min = self._minutes(plan, step, set_w)
        start_s = next(phase.start_s for phase in self.day.phases if (phase.step, phase.phase) == (step, "ramp"))
        return RampRow(
            step=step,
            start_s=start_s,
            set_w=set_w,
            fastest_w=fastest_w,
            taken_w=taken_w,
            set_min=0.0 if before_min is None else before_min,
            taken_min=self._minutes(plan, step, taken_w) or 0.0,
            less_w=less_w,
            less_min=self._minutes(plan, step, less_w) if less_w > 0 else None,
            limited_by=tuple(sorted(limits)),
        )

    def _fastest(self, plan: Plan, step: str) -> tuple[float | None, set[str]]:
        """The highest setting that keeps every rating during a ramp, and what the setting above it breaks."""
        broken: set[str] = set()
        for power_w in self._tried(plan):
            day = self._with(plan, step, power_w)
            over = self._over_during(day, step) if day else set()
            if day is not None and not over:
                return power_w, broken
            broken = over or broken
        return None, broken

    def _tried(self, plan: Plan) -> tuple[float, ...]:
        """Settings from the highest down; a pulsed vessel draws the same with each, so one tells all."""
        if plan.vessel.control == "modulated":
            return (all_elements_w(plan.vessel),)
        return settings_w(plan.vessel)[::-1][:MOST_TRIED]

    def _with(self, plan: Plan, step: str, power_w: float) -> BrewDay | None:
        """The day with one ramp at a power; None when it stalls."""
        try:
            return self._simulated(with_ramp_caps(plan, {step: power_w}))
        except BrewDayError:
            return None

    def _minutes(self, plan: Plan, step: str, power_w: float) -> float | None:
        day = self._with(plan, step, power_w)
        if day is None:
            return None
        return sum(phase.duration_s for phase in day.phases if (phase.step, phase.phase) == (step, "ramp")) / 60

    def _over_during(self, day: BrewDay, step: str) -> set[str]:
        """What is over while a ramp lasts, and would not be with everything of the day at rest."""
        phase = next((p for p in day.phases if (p.step, p.phase) == (step, "ramp")), None)
        if phase is None:
            return set()
        pieces = (clipped(profile, phase.start_s, phase.end_s) for profile in day.profiles)
        return self._over(tuple(piece for piece in pieces if piece)) - self.idle

    def _ways_out(self, after: BrewDay) -> Iterator[WayOut]:
        """Ways that mend something of what is still over with the ramps taken."""
        before = self._over(after.profiles)
        lower = self._lower_holds(after)
        mends = lower is not None and set(lower[0].over) < before
        ways = (
            self._fewer_elements(before),
            lower[0] if lower and mends else None,
            self._second_heater_earlier(after, before),
        )
        yield from (way for way in ways if way)
        if lower and ways[2] is None and lower[0].over:
            both = self._second_heater_earlier(lower[1], set(lower[0].over))
            if both:
                yield replace(both, kind=f"lower holds, {both.kind}", held_steps=lower[0].held_steps)

    def _fewer_elements(self, before: set[str]) -> WayOut | None:
        """The strongest part of the elements that keeps the ratings, or at least mends something, and does its job."""
        for elements in _parts(placed(self.plan.vessel.elements, self.circuit)):
            vessel = self.plan.vessel.model_copy(update={"elements": elements})
            try:
                plan = self.plan.model_copy(update={"vessel": vessel})
                day = with_end_volume(plan, self.day.wort.end_l, extract_kg=self.day.wort.extract_kg)
            except BrewDayError:
                return None  # the next ones are weaker still
            if not does_as_often(day, self.day, self.learned):
                return None
            over = self._over(day.profiles)
            if over >= before:
                continue
            return replace(self._way("fewer elements", day, over), elements_w=tuple(e.power_w for e in elements))
        return None

    def _way(self, kind: str, day: BrewDay, over: set[str]) -> WayOut:
        return WayOut(
            kind=kind,
            added_min=(day.duration_s - self.day.duration_s) / 60,
            added_kwh=day.energy_kwh - self.day.energy_kwh,
            added_water_l=day.plan.batch.water_l - self.plan.batch.water_l,
            over=tuple(sorted(over)),
        )

    def _lower_holds(self, after: BrewDay) -> tuple[WayOut, BrewDay] | None:
        """The advised powers of the holds: with switched elements they draw less while they are on."""
        if self.plan.vessel.control != "switched":
            return None
        caps_w: dict[str, float | None] = {
            row.step: row.advised_w
            for row in advise(after, self.learned).rows
            if row.phase == "hold" and row.enough and row.advised_w < row.set_w
        }
        if not caps_w:
            return None
        day = self._simulated(with_hold_caps(after.plan, caps_w))
        over = self._over(day.profiles)
        return replace(self._way("lower holds", day, over), held_steps=tuple(caps_w)), day

    def _second_heater_earlier(self, day: BrewDay, before: set[str]) -> WayOut | None:
        """The least shift of the sparge water's heater that keeps the ratings, or at least mends something."""
        second = next((profile for profile in day.profiles if profile.name == SECOND_HEATER), None)
        if second is None:
            return None
        rest = tuple(profile for profile in day.profiles if profile is not second)
        for shift_s in np.arange(SHIFT_STEP_S, LONGEST_SHIFT_S + 1, SHIFT_STEP_S):
            over = self._over((*rest, replace(second, edges_s=second.edges_s - shift_s)))
            if over >= before:
                continue
            return replace(self._way("second heater earlier", day, over), shift_min=float(shift_s) / 60)
        return None


def _parts(elements: tuple[Element, ...]) -> list[tuple[Element, ...]]:
    """Proper parts of the elements, the strongest first, one of each total power."""
    by_power: dict[float, tuple[Element, ...]] = {}
    for size in range(1, len(elements)):
        for part in combinations(elements, size):
            by_power.setdefault(sum(element.power_w for element in part), part)
    return [by_power[power_w] for power_w in sorted(by_power, reverse=True)]


def resting(profile: LoadProfile) -> LoadProfile:
    """A load with everything in it switched off."""
    nothing = np.zeros_like(profile.mean_w)
    return replace(profile, mean_w=nothing, heater_w_per_v2=nothing, other_w=nothing, by_line=())


def clipped(profile: LoadProfile, from_s: float, to_s: float) -> LoadProfile | None:
    """The part of a load between two moments; None where it has none. The vessel is always there."""
    edges_s = profile.edges_s
    low_s, high_s = (from_s, to_s) if profile.name == VESSEL else (max(from_s, edges_s[0]), min(to_s, edges_s[-1]))
    if low_s >= high_s:
        return None
    inner = edges_s[(edges_s > low_s) & (edges_s < high_s)]
    return profile.on_edges(np.array([low_s, *inner, high_s]))
