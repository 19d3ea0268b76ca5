"""Per step: the lowest power that still does its job, and what setting it changes."""

from collections.abc import Iterator
from dataclasses import dataclass

from energyplan.advice.boil import WANTED_EVAPORATION_PER_H, Evaporation, boil_power
from energyplan.advice.holds import BAND_K, hold_legs, hold_path, least_heat_w, target_c_of
from energyplan.advice.power_settings import (
    MARGIN,
    all_elements_w,
    cap_of_heat_w,
    capped_w,
    drawn_w,
    least_setting_w,
    pump_heat_w,
    step_named,
    with_hold_caps,
)
from energyplan.advice.watt_density import HIGH_LOADING_W_PER_CM2, loading_w_per_cm2
from energyplan.advice.worst import COLDER_K, Worst, worst_of
from energyplan.base.constants import JOULES_PER_KWH
from energyplan.day.brewday import BrewDay, Phase, simulate
from energyplan.day.course import Course, run
from energyplan.day.supply import elements_a
from energyplan.plan.model import Plan

__all__ = ["PowerAdvice", "PowerRow", "advise", "with_advised_caps"]

SAVES_NOTHING = (
    "A lower cap on a hold saves next to no energy: under a thermostat the mean power equals the loss. It limits the "
    "load and, with switched elements, frees current."
)
PULSES = (
    "This vessel pulses its elements down to a cap: while they are on they draw their full current and load their "
    "surface in full, whatever the cap, so a lower one frees no current on the circuit."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerRow:
    """Power of one hold or boil.

    ``set_w`` is what the plan caps it at (all elements without a cap), ``needed_w`` the least that does the job in
    the worst plausible case (a hold) or as planned (a boil), ``advised_w`` the next power step above it with a
    margin; ``nominal_needed_w`` and ``worst_needed_w`` are the least as planned and in the worst case. ``lowest_c``
    is the lowest temperature of the phase when simulated with the advised power in the worst case, ``set_lowest_c``
    with the set power; ``outside_band_min`` and ``set_outside_band_min`` the minutes outside the band in the same
    two runs, ``above_band_min`` those of the first in which it is too warm. ``recovery_min`` is the heating time back
    to the target after the grain went in, as planned, ``worst_recovery_min`` in the worst case (None: no grain in
    this step). ``energy_change_kwh`` compares the day as planned with advised and set power; ``current_freed_a`` is
    the difference of the current while the elements are on. The surface loading [W/cm2] is that of the most loaded
    element, while it is on and on the mean of the advised power (None: no surface entered).
    ``enough`` tells whether the elements give what the worst case needs.
    """

    step: str
    phase: str
    target_c: float
    set_w: float
    needed_w: float
    advised_w: float
    nominal_needed_w: float
    worst_needed_w: float
    lowest_c: float
    set_lowest_c: float
    nominal_lowest_c: float
    outside_band_min: float
    set_outside_band_min: float
    above_band_min: float
    recovery_min: float | None
    worst_recovery_min: float | None
    energy_change_kwh: float
    evaporation_change_kg: float
    current_freed_a: float
    loading_w_per_cm2: float | None
    mean_loading_w_per_cm2: float | None
    enough: bool
    why: str
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerAdvice:
    """Advice for every hold and boil of a day, the conditions it is made for, and what can't be said."""

    rows: tuple[PowerRow, ...]
    worst: Worst
    notes: tuple[str, ...]
    band_k: float = BAND_K


def advise(day: BrewDay, *, evaporation_per_h: float = WANTED_EVAPORATION_PER_H, band_k: float = BAND_K) -> PowerAdvice:
    """Advise a power for every hold and boil of a day.

    Parameters
    ----------
    day : BrewDay
        The day as planned.
    evaporation_per_h : float
        Wanted evaporation of a boil, share of the volume before it per hour (0 to 0.5).
    band_k : float
        How far a hold may stray from its target [K].

    Notes
    -----
    Hold: heat that keeps the target in the worst plausible case, less the pump's, over the share of a capped power
    that low mains and a weak element leave; times 1.1; up to the next power step. Boil: dry loss and latent heat of
    the wanted evaporation as planned, at least 1.1 times the power that boils at all. Both are then simulated from
    the state in which the day reaches them.
    """
    return _Adviser(day, Evaporation(per_h=evaporation_per_h), band_k).advice()


def with_advised_caps(plan: Plan, advice: PowerAdvice) -> Plan:
    """The plan with every advised power set as the step's hold power."""
    return with_hold_caps(plan, {row.step: row.advised_w for row in advice.rows})


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wish:
    """What a phase needs as planned and in the worst case, and what is advised [W]."""

    nominal_w: float
    worst_w: float
    advised_w: float
    why: str


class _Adviser:
    """The day as planned and in the worst case, with the powers set and with those advised."""

    def __init__(self, day: BrewDay, evaporation: Evaporation, band_k: float) -> None:
        self.day, self.plan, self.evaporation, self.band_k = day, day.plan, evaporation, band_k
        self.extract_kg = day.wort.extract_kg
        self.worst = worst_of(day.plan)
        self.planned = day.planned_course()
        self.worst_set = self._worst_course(day.plan)

    def _worst_course(self, plan: Plan) -> Course:
        return run(plan, self.worst.conditions, extract_kg=self.extract_kg, go_on=True)

    def advice(self) -> PowerAdvice:
        phases = [phase for phase in self.day.phases if phase.phase in ("hold", "boil")]
        wishes = {phase.step: self._wish(phase) for phase in phases}
        capped = with_hold_caps(self.plan, {step: wish.advised_w for step, wish in wishes.items()})
        changed, worst_advised = simulate(capped, extract=self.extract_kg), self._worst_course(capped)
        rows = tuple(self._row(phase, wishes[phase.step], changed, worst_advised) for phase in phases)
        return PowerAdvice(rows=rows, worst=self.worst, notes=tuple(self._notes()), band_k=self.band_k)

    def _wish(self, phase: Phase) -> _Wish:
        if phase.phase == "boil":
            return self._boil_wish(phase)
        worst, worst_heat_w = self.worst, self._least_w(self.worst_set, phase)
        nominal_w = cap_of_heat_w(self.plan, self._least_w(self.planned, phase))
        worst_w = cap_of_heat_w(self.plan, worst_heat_w, worst.conditions)
        why = (
            f"keeps the target in the worst plausible case (air {COLDER_K:g} K colder, {worst.voltage_v:.0f} V, a weak "
            f"element, {worst.loss_frac:.0%} of the loss); as planned {nominal_w:.0f} W would do"
        )
        advised_w = least_setting_w(self.plan, worst_heat_w * MARGIN, worst.conditions)
        return _Wish(nominal_w=nominal_w, worst_w=worst_w, advised_w=advised_w, why=why)

    def _boil_wish(self, phase: Phase) -> _Wish:
        boil = boil_power(self.day, phase.step, self.evaporation, courses=(self.planned, self.worst_set))
        rolls = "" if boil.wanted_w >= boil.rolling_w else ", less than a rolling boil needs"
        worst = self.worst
        why = (
            f"below {boil.least_w:.0f} W it stops boiling, as planned; {self.evaporation.words} takes "
            f"{boil.wanted_w:.0f} W{rolls}; at {worst.voltage_v:.0f} V with a weak element a cap gives "
            f"{worst.sag_frac(self.plan.voltage_v):.0%} of itself"
        )
        return _Wish(nominal_w=boil.least_w, worst_w=boil.worst_least_w, advised_w=boil.advised_w, why=why)

    def _least_w(self, course: Course, phase: Phase) -> float:
        """Heat of the elements that keeps the target of a phase [W]."""
        leg = hold_legs(course, phase.step, phase.phase)[-1]
        return max(least_heat_w(leg) - pump_heat_w(self.plan, leg.step), 0.0)

    def _row(self, phase: Phase, wish: _Wish, changed: BrewDay, worst_advised: Course) -> PowerRow:
        plan, step = self.plan, step_named(self.plan, phase.step)
        after = next(p for p in changed.phases if (p.step, p.phase) == (phase.step, phase.phase))
        path = hold_path(worst_advised, phase.step, phase.phase, band_k=self.band_k)
        set_path = hold_path(self.worst_set, phase.step, phase.phase, band_k=self.band_k)
        on_loading, mean_loading = loading_w_per_cm2(plan, wish.advised_w)
        wanted_w = wish.worst_w if phase.phase == "hold" else wish.nominal_w
        enough = wanted_w <= drawn_w(plan, wish.advised_w) * (1 + 1e-9)
        return PowerRow(
            step=phase.step,
            phase=phase.phase,
            target_c=target_c_of(hold_legs(self.planned, phase.step, phase.phase)[0]),
            set_w=capped_w(plan.vessel, step.hold_power_w),
            needed_w=wanted_w,
            advised_w=wish.advised_w,
            nominal_needed_w=wish.nominal_w,
            worst_needed_w=wish.worst_w,
            lowest_c=path.lowest_c,
            set_lowest_c=set_path.lowest_c,
            nominal_lowest_c=after.lowest_c,
            outside_band_min=path.outside_band_min,
            set_outside_band_min=set_path.outside_band_min,
            above_band_min=path.above_band_min,
            recovery_min=_recovery_min(self.planned, phase.step),
            worst_recovery_min=_recovery_min(self.worst_set, phase.step),
            energy_change_kwh=(after.energy_j - phase.energy_j) / JOULES_PER_KWH,
            evaporation_change_kg=after.evaporated_kg - phase.evaporated_kg,
            current_freed_a=elements_a(plan, step.hold_power_w) - elements_a(plan, wish.advised_w),
            loading_w_per_cm2=on_loading,
            mean_loading_w_per_cm2=mean_loading,
            enough=enough,
            why=wish.why,
            cautions=tuple(self._cautions(phase, wish, on_loading, enough=enough)),
        )

    def _cautions(self, phase: Phase, wish: _Wish, loading: float | None, *, enough: bool) -> Iterator[str]:
        if not enough:
            case = "in the worst plausible case" if phase.phase == "hold" else "as planned"
            yield (
                f"all elements together give less than it takes {case}: "
                f"{max(wish.worst_w if phase.phase == 'hold' else wish.nominal_w, 0.0):.0f} W of "
                f"{all_elements_w(self.plan.vessel):.0f} W"
            )
        elif phase.phase == "boil" and wish.worst_w > wish.advised_w:
            yield f"in the worst plausible case it stops boiling below {wish.worst_w:.0f} W"
        if wish.nominal_w <= 0:
            yield "the pump alone keeps it warm"
        if loading is not None and loading > HIGH_LOADING_W_PER_CM2:
            yield (
                f"an element that is on loads its surface with {loading:.1f} W/cm2; common practice is to stay below "
                f"{HIGH_LOADING_W_PER_CM2:g} W/cm2 in wort, which scorches above"
            )

    def _notes(self) -> Iterator[str]:
        yield SAVES_NOTHING
        if self.plan.vessel.control == "modulated":
            yield PULSES
        for mishap in self.worst_set.mishaps:
            yield f"In the worst plausible case the day can't be brewed as set: {mishap.message}"


def _recovery_min(course: Course, step: str) -> float | None:
    """Heating time of a step into which the grain goes [min]; None for any other step."""
    added = any(arrival.step.name == step and arrival.action.kind == "add grain" for arrival in course.arrivals)
    if not added:
        return None
    return (
        sum(float(leg.outcome.duration_s[0]) for leg in course.legs if (leg.step.name, leg.phase) == (step, "ramp"))
        / 60
    )
