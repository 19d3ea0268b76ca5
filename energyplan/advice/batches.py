"""A bigger batch, or two on one day: whether it fits, and what it takes."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, tzinfo

import numpy as np

from energyplan.advice.heat import KeptWater, chilled_kwh, start_c_with, too_much_heat
from energyplan.advice.variants import EqualWort, WhyNot
from energyplan.base.errors import EnergyPlanError, PlanError
from energyplan.base.kinds import LITRES, MINUTES
from energyplan.base.load import LoadProfile
from energyplan.base.records import dataclass
from energyplan.base.sentence import Sentence
from energyplan.circuits.check import CircuitCheck, check
from energyplan.circuits.currents import longest_run_s
from energyplan.day.brewday import BrewDay, simulate
from energyplan.day.course import Conditions
from energyplan.day.supply import SECOND_HEATER, on_the_circuit
from energyplan.plan.model import Plan

__all__ = [
    "ROOM_FRAC",
    "SizedBatch",
    "TwoBatches",
    "joined",
    "largest_batch",
    "resized",
    "two_batches",
    "without_cleaning",
]

MOST_TIMES = 4.0  # as large a batch as is looked for
CLOSE_FRAC = 2e-4  # of the planned batch: how near to the largest that fits
ROOM_FRAC = 0.9  # of the vessel: what is above has no room for foam (common practice, no source)
SHORT_GAP_S = 15 * 60.0  # wires hardly cool in a shorter one [our choice]
BETWEEN_S = 30 * 60.0  # from the end of one batch to the start of the next: rinse and fill [assumption]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SizedBatch:
    """A batch of another size: ``end_l`` after the boil, ``times`` the planned one.

    ``day`` is None where it can't be brewed, and ``why_not`` says why; beside a day it says why no larger one goes.
    """

    end_l: float
    times: float
    day: BrewDay | None
    why_not: WhyNot | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TwoBatches:
    """Two batches on one day, the second after the first.

    ``first`` is the day without its cleaning, which is done once, after ``second``; that begins ``second_s`` after the
    first with water of ``second_start_c``. ``profiles`` are both days' loads together. ``apart_kwh`` is what two days
    apart take, ``kept`` the chiller's water that the second begins with. ``circuit`` judges the joined day.
    """

    first: BrewDay
    second: BrewDay
    second_s: float
    second_start_c: float
    profiles: tuple[LoadProfile, ...]
    kept: KeptWater | None
    apart_kwh: float
    circuit: CircuitCheck | None

    @property
    def energy_kwh(self) -> float:
        """Energy of both batches [kWh]."""
        return sum(profile.energy_kwh for profile in self.profiles)

    @property
    def duration_s(self) -> float:
        """From the start of the first to the end of the second [s]."""
        return self.second_s + self.second.duration_s

    @property
    def heating_s(self) -> tuple[float, float]:
        """How long the vessel's elements are on, pulses counted: in all, and at a stretch (short gaps bridged) [s]."""
        vessel = self.profiles[0]
        on, edges_s = vessel.heater_w_per_v2 > 0, vessel.edges_s
        return float(np.diff(edges_s)[on].sum()), longest_run_s(edges_s, on, SHORT_GAP_S)[1]

    @property
    def end_l(self) -> float:
        """Wort of both after the boil, cold [L]."""
        return self.first.wort.end_l + self.second.wort.end_l


def resized(day: BrewDay, end_l: float) -> SizedBatch:
    """The same recipe for another volume after the boil, in the same vessel with the same powers and times.

    Parameters
    ----------
    day : BrewDay
        The planned day.
    end_l : float
        Wanted volume after the boil, at 20 °C [L].

    Raises
    ------
    PlanError
        If the volume is not positive.

    Notes
    -----
    Grain, extract and sparge water grow together, and the water at the start is changed until the volume after the boil
    is met; the gravity stays within a point, since the grain holds back a richer wort when less boils off. What
    evaporates hangs on power and time and does not grow with the batch, so less than all of the water has to. The
    energy is simulated, not scaled.
    """
    if not (np.isfinite(end_l) and end_l > 0):
        raise PlanError(Sentence("volume after the boil = {volume}: expected more than 0", volume=LITRES(end_l)))
    return _Sizes(day).sized(end_l / day.wort.end_l)


class _Sizes:
    """One planned day, and what one size of it teaches about the next."""

    def __init__(self, day: BrewDay) -> None:
        self.day = day
        self.equal = EqualWort(day.wort.extract_kg)
        # A vessel that is planned to be fuller is no reason against its own size.
        self.room_frac = max(ROOM_FRAC, day.wort.fullest_frac)

    def sized(self, times: float) -> SizedBatch:
        """The recipe that many times, whatever room it leaves."""
        day = self.day
        batch, end_l = day.plan.batch, times * day.wort.end_l
        grown = {name: getattr(batch, name) * times for name in ("water_l", "grain_kg", "sparge_water_l")}
        grown["water_l"] -= (times - 1) * day.wort.evaporated_kg  # near enough to begin with: what boils off stays
        larger = day.plan.model_copy(update={"batch": batch.model_copy(update=grown)})
        try:
            if broken := larger.broken_rules():
                raise PlanError("the plan contradicts itself", broken[:1])
            found = self.equal.day(larger, end_l, extract_kg=day.wort.extract_kg * times)
        except EnergyPlanError as error:
            return SizedBatch(end_l=end_l, times=times, day=None, why_not=WhyNot(code="no_brew", error=error))
        return SizedBatch(end_l=end_l, times=times, day=found, why_not=None)

    def with_room(self, times: float) -> SizedBatch:
        """The same, refused where it leaves no room for foam."""
        found = self.sized(times)
        if found.day is None or found.day.wort.fullest_frac <= self.room_frac + 1e-9:
            return found
        full = WhyNot(code="no_room", value=found.day.wort.fullest_frac, other=self.room_frac)
        return replace(found, day=None, why_not=full)


def largest_batch(day: BrewDay) -> SizedBatch:
    """The largest batch that can be brewed in the vessel with room for its foam, at most four times the planned one.

    Found to a fiftieth of a percent of the planned one. Its ``why_not`` says what stands in the way of more.
    """
    sizes, fits, fails = _Sizes(day), 1.0, MOST_TIMES
    best, beyond = sizes.sized(fits), sizes.with_room(fails)
    if beyond.day is not None:
        return beyond
    while fails - fits > CLOSE_FRAC:
        middle = (fits + fails) / 2
        tried = sizes.with_room(middle)
        if tried.day is None:
            fails, beyond = middle, tried
        else:
            fits, best = middle, tried
    return replace(best, why_not=beyond.why_not)


def without_cleaning(plan: Plan) -> Plan:
    """The plan up to the emptying of the wort; the same plan when it is not emptied after a boil."""
    boiled = False
    for place, step in enumerate(plan.steps):
        if boiled and any(action.kind == "empty" for action in step.before):
            return plan.model_copy(update={"steps": plan.steps[:place]})
        boiled = boiled or step.boil
    return plan


def two_batches(
    day: BrewDay,
    *,
    between_s: float = BETWEEN_S,
    kept: KeptWater | None = None,
    vessel_c: float | None = None,
    when: tuple[datetime, tzinfo] | None = None,
) -> TwoBatches:
    """Brew a plan twice on one day.

    Parameters
    ----------
    day : BrewDay
        The planned day.
    between_s : float
        From the end of the first batch's last step to the start of the second [s]: chilling, emptying, rinsing.
    kept : KeptWater, optional
        Warm water from the first batch's chiller, for the start of the second.
    vessel_c : float, optional
        Temperature of the vessel when the second water goes in; by default as cold as the first time.
    when : (datetime, tzinfo), optional
        Start of the day and zone of the other loads' clock, for the check of the circuit.

    Raises
    ------
    PlanError
        If the kept water holds more heat than the wort gives off, or the time between is negative.

    Notes
    -----
    The cleaning is done once, at the end. The second water heater heats cold water both times: the kept water goes into
    the vessel. The circuit is checked over both days in one, since a load that ends before three hours on one of them
    may last longer on both.
    """
    if not (np.isfinite(between_s) and between_s >= 0):
        raise PlanError(Sentence("time between the batches = {time}: expected 0 or more", time=MINUTES(between_s / 60)))
    plan = day.plan
    tap_c = plan.batch.water_temperature_c
    if kept is not None and kept.heat_kwh(tap_c) > chilled_kwh(day) * (1 + 1e-9):
        raise PlanError(too_much_heat(kept, kept.heat_kwh(tap_c), chilled_kwh(day), tap_c))
    extract = day.wort.extract_kg
    first = simulate(without_cleaning(plan), extract=extract)
    warm_l, warm_c = (kept.volume_l, kept.used_c(plan.site.air_c)) if kept else (0.0, tap_c)
    start_c = start_c_with(plan, warm_l, warm_c, vessel_c=vessel_c)
    second = simulate(plan, Conditions(water_c=start_c), extract=extract)
    second_s = first.duration_s + between_s
    profiles = joined(first.profiles, _with_cold_sparge(second, day), second_s)
    return TwoBatches(
        first=first,
        second=second,
        second_s=second_s,
        second_start_c=start_c,
        profiles=profiles,
        kept=kept,
        apart_kwh=2 * day.energy_kwh,
        circuit=_checked(plan, profiles, when),
    )


def _checked(
    plan: Plan, profiles: tuple[LoadProfile, ...], when: tuple[datetime, tzinfo] | None
) -> CircuitCheck | None:
    if plan.circuit is None or when is None:
        return None
    start, zone = when
    return check(on_the_circuit(plan, profiles), plan.circuit, plan.other_loads, start, zone)


def _with_cold_sparge(second: BrewDay, planned: BrewDay) -> tuple[LoadProfile, ...]:
    """The second day's loads; its sparge water takes as long to heat as on the planned day."""
    cold = next((profile for profile in planned.profiles if profile.name == SECOND_HEATER), None)
    if cold is None:
        return second.profiles
    rest = tuple(profile for profile in second.profiles if profile.name != SECOND_HEATER)
    return (*rest, replace(cold, edges_s=cold.edges_s + _sparge_s(second) - _sparge_s(planned)))


def _sparge_s(day: BrewDay) -> float:
    """When the second heater's water is wanted [s]."""
    heater = day.plan.second_heater
    return next((p.start_s for p in day.phases if heater is not None and p.step == heater.ready_at_step), 0.0)


def joined(first: Sequence[LoadProfile], second: Sequence[LoadProfile], offset_s: float) -> tuple[LoadProfile, ...]:
    """Two days' loads in the seconds of the first; appliances of one name become one load.

    Parameters
    ----------
    first, second : sequence of LoadProfile
        Loads, each from its own start.
    offset_s : float
        Start of the second day [s].
    """
    names = dict.fromkeys(profile.name for profile in (*first, *second))
    loads = []
    for name in names:
        own = [profile for profile in first if profile.name == name]
        own += [replace(profile, edges_s=profile.edges_s + offset_s) for profile in second if profile.name == name]
        loads.append(_one_after_the_other(own))
    return tuple(loads)


def _one_after_the_other(loads: list[LoadProfile]) -> LoadProfile:
    """Sum loads of one name on common edges."""
    edges_s = np.unique(np.concatenate([load.edges_s for load in loads]))
    alike = [load.on_edges(edges_s) for load in loads]
    places = dict.fromkeys(place for load in alike for place, _ in load.by_line)
    return replace(
        alike[0],
        mean_w=np.sum([load.mean_w for load in alike], axis=0),
        heater_w_per_v2=np.sum([load.heater_w_per_v2 for load in alike], axis=0),
        other_w=np.sum([load.other_w for load in alike], axis=0),
        by_line=tuple(
            (at, np.sum([part for load in alike for place, part in load.by_line if place == at], axis=0))
            for at in places
        ),
    )
