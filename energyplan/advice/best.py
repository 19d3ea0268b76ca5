"""The best plan for cost, time or circuit: ramp powers, start and waiting chosen together, and the frontier."""

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, tzinfo
from itertools import combinations

import numpy as np

from energyplan.advice.compare import BestChoice, BestFor, BestPlan, Option, Ramps, frontier_of, rank
from energyplan.advice.odds import does_as_often, weak_steps
from energyplan.advice.power import advise
from energyplan.advice.pricing import Pricing
from energyplan.advice.ramps import over_codes, resting
from energyplan.advice.variants import (
    EqualWort,
    all_elements_w,
    capped_w,
    settings_w,
    with_hold_caps,
    with_ramp_caps,
    with_wait,
)
from energyplan.base.errors import EnergyPlanError, PlanError
from energyplan.base.load import LoadProfile
from energyplan.circuits.check import CircuitCheck, check
from energyplan.circuits.contract import contract_severity
from energyplan.circuits.house import house_of
from energyplan.day.brewday import BrewDay, simulate
from energyplan.day.supply import on_the_circuit
from energyplan.plan.model import Plan
from energyplan.tariffs.clock import from_utc_s, utc_s, zone_of
from energyplan.tariffs.starts import StartSearch

__all__ = ["best_plan", "best_plans"]

ANY_DAY = datetime(2000, 1, 1, tzinfo=UTC)  # where no start was said
FIRST_FINER_MIN = 32  # from there on halved, down to a minute
MOST_STARTS_CHECKED = 300
START_STEP_MIN = 15  # between starts that are tried when the cheapest is over because of another load's hours


def best_plan(
    plan: Plan,
    best_for: BestFor,
    *,
    pricing: Pricing | None = None,
    start: datetime | None = None,
    zone: tzinfo | None = None,
    choice: BestChoice | None = None,
) -> BestPlan:
    """Choose powers of the ramps, start and waiting together, for one aim (`best_plans`)."""
    return best_plans(plan, (best_for,), pricing=pricing, start=start, zone=zone, choice=choice)[0]


def best_plans(
    plan: Plan,
    aims: Sequence[BestFor],
    *,
    pricing: Pricing | None = None,
    start: datetime | None = None,
    zone: tzinfo | None = None,
    choice: BestChoice | None = None,
) -> tuple[BestPlan, ...]:
    """Choose powers of the ramps, start and waiting together, for several aims among the same options.

    Parameters
    ----------
    plan : Plan
        The plan; hold and boil powers stay as they are (a switched vessel holds with the advised ones).
    aims : sequence of {"cost", "time", "circuit"}
        Lowest cost; fewest minutes; smallest use of the rating that is used most.
    pricing : Pricing, optional
        Prices, start, and the starts that are open within the brewer's hours; needed for the cost.
    start : datetime, optional
        Start when there are no prices, for the hours of other loads.
    zone : tzinfo, optional
        Zone of the other loads' clock; by default that of the prices, else of the place, else UTC.
    choice : BestChoice, optional
        What may be varied.

    Raises
    ------
    PlanError
        If "cost" is asked without prices, or "circuit" without a circuit.
    BrewDayError, TariffError
        If the plan itself can't be brewed, or no start has a price and meets the hours.

    Notes
    -----
    Every combination of ramp power and wait is simulated, with the water that ends with the plan's own wort; one whose
    holds or boils fail on more than one day in twenty, and more often than the plan's, is dropped. Each gets its
    cheapest start among those that keep every rating. Equal ones are decided by the other measure. Where nothing keeps
    every rating, the options that break fewest remain.
    """
    if "cost" in aims and pricing is None:
        raise PlanError("the best plan for cost needs prices; give a tariff")
    if "circuit" in aims and plan.circuit is None:
        raise PlanError('the best plan for the circuit needs a [circuit]; add at least voltage = "230 V" and a breaker')
    chooser = _Chooser(plan, pricing, (start, zone), choice or BestChoice())
    options = list(chooser.options(lift_caps="time" in aims))
    return tuple(chooser.best(aim, options) for aim in aims)


class _Chooser:
    """One plan, its variants, and what each comes to."""

    def __init__(
        self,
        plan: Plan,
        pricing: Pricing | None,
        clock: tuple[datetime | None, tzinfo | None],
        choice: BestChoice,
    ) -> None:
        self.plan, self.pricing, self.choice = plan, pricing, choice
        self.base = simulate(plan)
        self.equal = EqualWort(self.base.wort.extract_kg)
        self.weak = weak_steps(self.base, choice.learned)
        start, zone = clock
        self.start = pricing.start if pricing else start
        self.zone = zone or zone_of(pricing.clock if pricing else plan.site.time_zone or "UTC")
        self.idle = frozenset(self._over(plan, tuple(map(resting, self.base.profiles)), self.start))

    def _checked(self, plan: Plan, profiles: tuple[LoadProfile, ...], start: datetime | None) -> CircuitCheck | None:
        if plan.circuit is None:
            return None
        return check(on_the_circuit(plan, profiles), plan.circuit, plan.other_loads, start or ANY_DAY, self.zone)

    def _over(self, plan: Plan, profiles: tuple[LoadProfile, ...], start: datetime | None) -> tuple[str, ...]:
        """Codes of what is over on the circuit and behind the house's meter."""
        checked, supply = self._checked(plan, profiles, start), plan.supply
        found = over_codes(checked) if checked else ()
        if supply is None or supply.contracted_w is None:
            return found
        house = house_of(plan, profiles, start or ANY_DAY, self.zone)
        return (*found, "contract") if contract_severity(house, supply) == "over" else found

    def best(self, best_for: BestFor, options: Sequence[Option]) -> BestPlan:
        open_ = [option for option in options if option.ramps.kind != "all" or best_for == "time"]
        fewest = min(len(option.over) for option in open_)
        allowed = [option for option in open_ if len(option.over) == fewest]
        return BestPlan(
            best_for=best_for,
            chosen=min(allowed, key=lambda option: rank(option, best_for)),
            planned=self._option(self.base, Ramps(), 0.0, self.start),
            frontier=frontier_of(allowed),
            tried=len(open_),
            hours=self.pricing.hours if self.pricing and self.pricing.may_move else None,
            idle_over=tuple(sorted(self.idle)),
            weak=dict(self.weak),
        )

    def options(self, *, lift_caps: bool) -> Iterator[Option]:
        """Every combination that can be brewed, at its best start; then waits of any minute around the cheapest."""
        coarse: list[tuple[Option, BrewDay]] = []
        for ramps, plan in self._variants(lift_caps=lift_caps):
            try:
                day = self._day(plan)
            except EnergyPlanError:
                continue
            if ramps != Ramps() and not does_as_often(day, self.base, self.choice.learned):
                continue
            for wait_min in self._waits_min():
                try:
                    coarse.append((self._waiting(ramps, day, wait_min), day))
                    yield coarse[-1][0]
                except EnergyPlanError:
                    if (ramps, wait_min) == (Ramps(), 0.0):
                        raise  # not even the plan itself has a start that is open and priced
        if self.choice.to_the_minute and len(self._waits_min()) > 1:
            yield from self._finer_waits(coarse)

    def _finer_waits(self, coarse: Sequence[tuple[Option, BrewDay]]) -> Iterator[Option]:
        """Waits to the minute, around the cheapest option that keeps most ratings: by steps that are halved."""
        best, day = min(coarse, key=lambda one: (len(one[0].over), *rank(one[0], "cost")))
        step_min = FIRST_FINER_MIN
        while step_min >= 1:
            tried = [best.wait_min + sign * step_min for sign in (-1, 1)]
            found = [option for wait in tried if wait >= 0 and (option := self._tried(best.ramps, day, wait))]
            yield from found
            better = min([best, *found], key=lambda one: (len(one.over), *rank(one, "cost")))
            if better is best:
                step_min //= 2
            best = better

    def _tried(self, ramps: Ramps, day: BrewDay, wait_min: float) -> Option | None:
        try:
            return self._waiting(ramps, day, wait_min)
        except EnergyPlanError:
            return None

    def _day(self, plan: Plan) -> BrewDay:
        return self.base if plan == self.plan else self.equal.day(plan, self.base.wort.end_l)

    def _waits_min(self) -> tuple[float, ...]:
        """Waiting only ever costs heat and minutes: it is tried where it can move the rest of the day."""
        moves = self.pricing is not None and self.pricing.may_move
        return self.choice.waits_min if moves else (0.0,)

    def _waiting(self, ramps: Ramps, day: BrewDay, wait_min: float) -> Option:
        """One combination at its best start; water that waits keeps its lid on, so the wort is the same."""
        if wait_min:
            day = simulate(with_wait(day.plan, wait_min), extract=self.base.wort.extract_kg)
        return self._option(day, ramps, wait_min, self._best_start(day))

    def _variants(self, *, lift_caps: bool) -> Iterator[tuple[Ramps, Plan]]:
        """Plans that differ in the power of the ramps, and for a circuit in the elements."""
        plan = self._held()
        yield Ramps(), plan
        steps = {step.name: capped_w(plan.vessel, step.ramp_power_w) for step in plan.steps if step.heats}
        highest_w = max(steps.values(), default=0.0)
        for level_w in self._levels_w(highest_w):
            caps_w = {name: min(cap_w, level_w) for name, cap_w in steps.items()}
            yield Ramps(kind="capped", power_w=level_w), with_ramp_caps(plan, caps_w)
        if lift_caps:
            yield Ramps(kind="all"), with_ramp_caps(plan, dict.fromkeys(steps))
        if self.plan.circuit is not None:
            yield from self._fewer_elements(plan)

    def _held(self) -> Plan:
        """The plan; a switched vessel holds with the advised powers, which draw less while they are on."""
        if self.plan.vessel.control != "switched":
            return self.plan
        lower: dict[str, float | None] = {
            row.step: row.advised_w
            for row in advise(self.base, self.choice.learned).rows
            if row.phase == "hold" and row.enough and row.advised_w < row.set_w
        }
        return with_hold_caps(self.plan, lower)

    def _levels_w(self, highest_w: float) -> list[float]:
        """Powers below the highest that is set, evenly thinned."""
        lower = [power_w for power_w in settings_w(self.plan.vessel) if power_w < highest_w]
        count = min(self.choice.ramp_levels - 1, len(lower))
        # Not the weakest third: what is won by it is lost in the boil-up that then hardly rises.
        first = len(lower) // 3 if self.plan.vessel.control == "modulated" else 0
        places = sorted({round(place) for place in np.linspace(first, len(lower) - 1, count)}) if count > 0 else []
        return [lower[place] for place in places]

    def _fewer_elements(self, plan: Plan) -> Iterator[tuple[Ramps, Plan]]:
        elements = plan.vessel.elements
        seen = {all_elements_w(plan.vessel)}
        for size in range(len(elements) - 1, 0, -1):
            for part in combinations(elements, size):
                total_w = sum(element.power_w for element in part)
                if total_w in seen or plan.vessel.control == "switched":
                    continue
                seen.add(total_w)
                vessel = plan.vessel.model_copy(update={"elements": part})
                yield Ramps(kind="elements", power_w=total_w), plan.model_copy(update={"vessel": vessel})

    def _best_start(self, day: BrewDay) -> datetime | None:
        """The cheapest open start that keeps every rating; the cheapest of all if none does."""
        search = self.pricing.starts(day) if self.pricing else None
        if search is None:
            return self.start
        for start in _by_cost(search, windows=any(_has_hours(day.plan))):
            if set(self._over(day.plan, day.profiles, start)) <= self.idle:
                return start
        return search.best.start

    def _option(self, day: BrewDay, ramps: Ramps, wait_min: float, start: datetime | None) -> Option:
        checked = self._checked(day.plan, day.profiles, start)
        use_frac = max(_used_frac(checked), default=None) if checked else None
        return Option(
            plan=day.plan,
            day=day,
            ramps=ramps,
            wait_min=wait_min,
            start=start,
            minutes=day.duration_s / 60,
            cost=self.pricing.cost(day, start) if self.pricing else None,
            energy_kwh=day.energy_kwh,
            added_kwh=day.energy_kwh - self.base.energy_kwh,
            water_change_l=day.plan.batch.water_l - self.plan.batch.water_l,
            peak_a=checked.peak_a if checked else None,
            use_frac=use_frac,
            over=tuple(code for code in self._over(day.plan, day.profiles, start) if code not in self.idle),
        )


def _has_hours(plan: Plan) -> Iterator[bool]:
    """Whether other loads are on at some hours only."""
    return ((load.to_min - load.from_min) % (24 * 60) != 0 for load in (*plan.other_loads, *plan.house_loads))


def _by_cost(search: StartSearch, *, windows: bool) -> Iterator[datetime]:
    """Open starts, the cheapest first; only that one where the hour makes no difference to the circuit."""
    yield search.best.start
    if not windows:
        return
    first_s = utc_s(search.first)
    index = np.flatnonzero(search.allowed)
    index = index[(first_s // 60 + index) % START_STEP_MIN == 0]
    order = index[np.argsort(np.asarray([int(search.units[k]) for k in index], dtype=object), kind="stable")]
    for place in order[:MOST_STARTS_CHECKED]:
        yield from_utc_s(first_s + int(place) * 60)


def _used_frac(checked: CircuitCheck) -> Iterator[float]:
    """How much of each rating is used; one that carries nothing, in too hot a place, tells no two ways apart."""
    vessel_a = float(checked.appliances[0].on_a.max())
    for rating in checked.ratings:
        load_a = checked.peak_a if rating.whole_circuit else vessel_a
        if rating.limit_a > 0:
            yield load_a / rating.limit_a
