"""Plan -> BrewDay: the phases, the trajectory, the loads and the numbers of the wort, complete at once."""

import numpy as np
from numpy.typing import NDArray

from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.errors import BrewDayError, need
from energyplan.base.kinds import CELSIUS, KWH, MINUTES, PHASE, WRITTEN
from energyplan.base.load import LoadProfile
from energyplan.base.records import dataclass
from energyplan.base.sentence import html_table
from energyplan.day.course import AS_PLANNED, Conditions, Course, Leg, PhaseName, extract_kg, run, settled
from energyplan.day.legs import COLD_C, Brew, Mashing, brews_of, strike_temperature_c
from energyplan.day.slips import DayNote, Slip, notes_of, slips_of
from energyplan.day.supply import load_profiles
from energyplan.day.tasks import Event, events
from energyplan.physics.wort import gravity_from_plato
from energyplan.plan.model import Plan

__all__ = ["BrewDay", "Phase", "Strike", "Trajectory", "Wort", "phases_of", "simulate"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Phase:
    """One phase of a step: times from the start [s], temperatures [°C], energy at the board [J], heat [J], water [kg].

    ``heat_lost_j`` is the dry loss of the vessel; ``vapour_j`` the enthalpy of the water that left as vapour.
    ``mean_w`` is what the meter sees; ``heater_w_per_v2`` the conductance of the elements while they are on, by
    the place where they hang in ``by_line``.
    ``needed_w`` is the heat that keeps the temperature at the end of the phase.
    """

    step: str
    phase: PhaseName
    start_s: float
    end_s: float
    from_c: float
    to_c: float
    lowest_c: float
    energy_j: float
    element_j: float
    heat_j: float
    stored_j: float
    heat_lost_j: float
    vapour_j: float
    evaporated_kg: float
    needed_w: float
    heater_w_per_v2: float
    by_line: tuple[tuple[str, float], ...]
    other_w: float

    @property
    def duration_s(self) -> float:
        """How long it takes [s]."""
        return self.end_s - self.start_s

    @property
    def mean_w(self) -> float:
        """Mean power at the board [W]."""
        return self.energy_j / self.duration_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Strike:
    """The heat balance of mashing in: what is planned, what comes of it, what would land on the first rest [°C]."""

    step: str
    planned_c: float
    mash_c: float
    rest_c: float | None
    wanted_c: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Wort:
    """Volumes at 20 °C [L], gravities 20/20 °C, evaporated water [kg] and how full the vessel gets (share)."""

    before_boil_l: float
    end_l: float
    gravity_before_boil: float
    gravity_end: float
    extract_kg: float
    evaporated_kg: float
    fullest_frac: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trajectory:
    """Temperature [°C] over the seconds since the start, with the jumps at grain in and out."""

    times_s: FloatArray
    temperatures_c: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BrewDay:
    """A plan played through: everything that reports, costs, circuits and advice are made of.

    ``course`` is the walk through the steps of which it was made, under ``conditions``.
    """

    plan: Plan
    conditions: Conditions
    course: Course
    phases: tuple[Phase, ...]
    events: tuple[Event, ...]
    profiles: tuple[LoadProfile, ...]
    trajectory: Trajectory
    strike: Strike | None
    worts: tuple[Wort, ...]
    carried_in_j: float
    stored_j: float
    notes: tuple[DayNote, ...]
    slips: tuple[Slip, ...]

    def __repr__(self) -> str:
        title, minutes = self.plan.title, self.duration_s / 60
        return f"BrewDay({title!r}, {self.energy_kwh:.2f} kWh, {minutes:.0f} min, {len(self.phases)} phases)"

    def _repr_html_(self) -> str:
        rows = [
            (
                WRITTEN(one.step),
                PHASE(one.phase),
                MINUTES(one.duration_s / 60),
                CELSIUS(one.to_c),
                KWH(one.energy_j / JOULES_PER_KWH),
            )
            for one in self.phases
        ]
        return html_table(WRITTEN(self.plan.title), ("Step", "", "Takes", "Ends at", "Energy"), rows)

    def planned_course(self) -> Course:
        """The course of the plan with the day's extract and nothing else than planned."""
        as_planned = self.conditions is AS_PLANNED
        return self.course if as_planned else run(self.plan, extract_kg=self.wort.extract_kg)

    @property
    def wort(self) -> Wort:
        """The wort of the day; of several batches the first."""
        return self.worts[0]

    @property
    def evaporated_kg(self) -> float:
        """Water that leaves as vapour over the whole day, with all its batches [kg]."""
        return sum(phase.evaporated_kg for phase in self.phases)

    @property
    def duration_s(self) -> float:
        """From the start to the end of the last phase [s]."""
        return self.phases[-1].end_s

    @property
    def energy_kwh(self) -> float:
        """Energy of the whole day at the meter [kWh]."""
        return sum(profile.energy_kwh for profile in self.profiles)

    @property
    def balance_error(self) -> float:
        """How far the heat balance is from closing, as a share of all heat that went in."""
        heat_j = sum(phase.heat_j for phase in self.phases)
        out_j = sum(phase.heat_lost_j + phase.vapour_j for phase in self.phases)
        return abs(heat_j + self.carried_in_j - out_j - self.stored_j) / max(heat_j, 1.0)

    def energy_of(self, *names: PhaseName) -> float:
        """Energy at the meter of all phases of some kinds [kWh]."""
        return sum(phase.energy_j for phase in self.phases if phase.phase in names) / JOULES_PER_KWH


def simulate(plan: Plan, conditions: Conditions = AS_PLANNED, *, extract: float | None = None) -> BrewDay:
    """Play a plan through.

    Parameters
    ----------
    plan : Plan
        What the brewer entered.
    conditions : Conditions
        Differences from the plan (one draw): colder air, lower mains.
    extract : float, optional
        Extract of the mash [kg]; by default what the planned gravity needs (`extract_kg`). Give the extract of the
        base plan when a variant with another boil is to be compared with it.

    Raises
    ------
    BrewDayError
        If the plan can't be brewed; the message says where it fails and what would mend it.
    TypeError
        If what is handed in is no plan, but its name, say.
    """
    need(plan, Plan, "plan: give what read_plan or parse_plan returned")
    if extract is None and conditions is AS_PLANNED:
        extract, course = settled(plan)
    else:
        extract = extract_kg(plan) if extract is None else extract
        course = run(plan, conditions, extract_kg=extract)
    phases = phases_of(course)
    if not phases:
        raise BrewDayError("the plan does nothing: every step is already at its target and holds for no time")
    return BrewDay(
        plan=plan,
        conditions=conditions,
        course=course,
        phases=phases,
        events=events(plan, course),
        profiles=load_profiles(plan, course),
        trajectory=_trajectory(course),
        strike=_strike(plan, conditions, course, extract),
        worts=_worts(plan, course, phases, extract),
        carried_in_j=sum(float(arrival.carried_j[0]) for arrival in course.arrivals),
        stored_j=float((course.end.enthalpy_j(course.end_c) - course.start.enthalpy_j(course.start_c))[0]),
        notes=notes_of(plan, extract),
        slips=slips_of(plan, course),
    )


def phases_of(course: Course) -> tuple[Phase, ...]:
    """Phases of the first draw: the legs of a phase joined (a hold that first cools down to its target has two)."""
    phases: list[Phase] = []
    for leg in course.legs:
        duration_s = float(leg.outcome.duration_s[0])
        if duration_s <= 0:
            continue
        phase = _phase(leg, duration_s)
        if phases and (phases[-1].step, phases[-1].phase) == (phase.step, phase.phase):
            phase = _joined(phases.pop(), phase)
        phases.append(phase)
    return tuple(phases)


def _phase(leg: Leg, duration_s: float) -> Phase:
    outcome, start_s = leg.outcome, float(leg.start_s[0])
    stored_j = outcome.contents.enthalpy_j(outcome.end_c) - leg.before.enthalpy_j(leg.from_c)
    return Phase(
        step=leg.step.name,
        phase=leg.phase,
        start_s=start_s,
        end_s=start_s + duration_s,
        from_c=float(leg.from_c[0]),
        to_c=float(outcome.end_c[0]),
        lowest_c=float(leg.lowest_c[0]),
        energy_j=float(leg.board_w[0]) * duration_s,
        element_j=float(leg.element_w[0]) * duration_s,
        heat_j=float(outcome.heat_j[0]),
        stored_j=float(stored_j[0]),
        heat_lost_j=float(outcome.dry_loss_j[0]),
        vapour_j=float(outcome.vapour_j[0]),
        evaporated_kg=float(outcome.vapour_kg[0]),
        needed_w=float(leg.needed_w[0]),
        heater_w_per_v2=leg.heater_w_per_v2,
        by_line=leg.by_line if leg.heater_w_per_v2 else (),
        other_w=leg.other_w,
    )


_SUMMED = ("energy_j", "element_j", "heat_j", "stored_j", "heat_lost_j", "vapour_j", "evaporated_kg")


def _joined(first: Phase, second: Phase) -> Phase:
    sums = {name: getattr(first, name) + getattr(second, name) for name in _SUMMED}
    return Phase(
        step=first.step,
        phase=first.phase,
        start_s=first.start_s,
        end_s=second.end_s,
        from_c=first.from_c,
        to_c=second.to_c,
        lowest_c=min(first.lowest_c, second.lowest_c),
        needed_w=second.needed_w,
        heater_w_per_v2=max(first.heater_w_per_v2, second.heater_w_per_v2),
        by_line=max(first, second, key=lambda phase: phase.heater_w_per_v2).by_line,
        other_w=max(first.other_w, second.other_w),
        **sums,
    )


def _trajectory(course: Course) -> Trajectory:
    times = [leg.start_s[0] + leg.outcome.stretch.times_s[:, 0] for leg in course.legs]
    temperatures = [leg.outcome.stretch.temperatures_c[:, 0] for leg in course.legs]
    return Trajectory(times_s=np.concatenate(times), temperatures_c=np.concatenate(temperatures))


def _strike(plan: Plan, conditions: Conditions, course: Course, extract: float) -> Strike | None:
    """Compare the planned strike temperature with the one that would land on the first rest."""
    arrival = next((a for a in course.arrivals if a.action.kind == "add grain"), None)
    if arrival is None:
        return None
    rest_c = arrival.step.target_c
    wanted_c = None
    if rest_c is not None:
        grain_c = plan.grain_c if conditions.grain_c is None else float(np.asarray(conditions.grain_c))
        mashing, mass_kg = Mashing(grain_c=np.array([grain_c]), extract_kg=extract), arrival.action.mass_kg or 0.0
        wanted_c = float(
            strike_temperature_c(arrival.before, np.array([rest_c]), plan.batch, mashing, mass_kg=mass_kg)[0]
        )
    return Strike(
        step=arrival.step.name,
        planned_c=float(arrival.from_c[0]),
        mash_c=float(arrival.to_c[0]),
        rest_c=rest_c,
        wanted_c=wanted_c,
    )


def _worts(plan: Plan, course: Course, phases: tuple[Phase, ...], extract: float) -> tuple[Wort, ...]:
    brews = brews_of(course)
    return tuple(
        _wort(course, brew, phases if len(brews) == 1 else _during(phases, brew), extract * _of_batch(plan, brew))
        for brew in brews
    )


def _of_batch(plan: Plan, brew: Brew) -> float:
    """How many of the plan's batches a brew's grain makes."""
    return brew.grain_kg / plan.batch.grain_kg if plan.batch.grain_kg else 1.0


def _during(phases: tuple[Phase, ...], brew: Brew) -> tuple[Phase, ...]:
    return tuple(phase for phase in phases if brew.from_s <= phase.start_s < brew.until_s)


def _wort(course: Course, brew: Brew, phases: tuple[Phase, ...], extract: float) -> Wort:
    boils, end = brew.boils(course), brew.end(course)
    before = boils[0].before if boils else end
    return Wort(
        before_boil_l=float(before.liquid_l(COLD_C)[0]),
        end_l=float(end.liquid_l(COLD_C)[0]),
        gravity_before_boil=float(gravity_from_plato(before.plato)[0]),
        gravity_end=float(gravity_from_plato(end.plato)[0]),
        extract_kg=extract,
        evaporated_kg=sum(phase.evaporated_kg for phase in phases),
        fullest_frac=float(course.fullest_frac[0]),
    )
