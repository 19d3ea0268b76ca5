"""Per step: the power that does its job as planned, and on nineteen days of twenty, and what setting it changes."""

from typing import TYPE_CHECKING

from energyplan.advice.boil import WANTED_EVAPORATION_PER_H, Evaporation, boil_power
from energyplan.advice.draws import Worst, worst_of
from energyplan.advice.holds import BAND_K, hold_legs, hold_path, loading_w_per_cm2, target_c_of
from energyplan.advice.odds import DRAWS, ENOUGH_FRAC, SEED, Need, day_odds, drawn
from energyplan.advice.variants import capped_w, step_named, with_hold_caps
from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.errors import need
from energyplan.base.kinds import PHASE, WATTS, WORD, WRITTEN
from energyplan.base.records import dataclass
from energyplan.base.sentence import html_table
from energyplan.day.brewday import BrewDay, Phase, phases_of
from energyplan.day.course import Course, run
from energyplan.day.supply import elements_a
from energyplan.plan.model import Plan

if TYPE_CHECKING:
    from energyplan.advice.learned import Learned

__all__ = ["PowerAdvice", "PowerRow", "advise", "with_advised_caps"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerRow:
    """Power of one hold or boil.

    ``set_w`` is what the plan caps it at (all elements without a cap); ``needed_w`` keeps the temperature as planned,
    ``needed_19_of_20_w`` on nineteen days of twenty; ``advised_w`` is the lowest power that can be set and does it on
    as many, for a boil also the wanted evaporation as planned. ``set_holds_frac`` and ``advised_holds_frac`` are the
    shares of the days on which either does it, ``works_down_to_c`` the coldest air in which the one set does, all else
    as planned: the coldest looked at where it does there too, None where it does in no air looked at.

    ``for_evaporation`` tells a boil that is advised more than that because of what it shall evaporate, or of rolling.
    ``watched_w`` is what a boil may be turned down towards while somebody watches it roll (None: nothing below what is
    advised); ``watched_change_kwh`` what that changes. ``advised_lowest_c`` is the lowest temperature with the advised
    power in the worst plausible case, ``set_lowest_c`` with the one set, ``nominal_lowest_c`` as planned with the one
    advised;
    ``outside_band_min`` and ``set_outside_band_min`` the minutes outside the band in the first two, ``above_band_min``
    those of the first in which it is too warm. ``recovery_min`` is the heating time back to the target after the grain
    went in, as planned, ``worst_recovery_min`` in the worst case (None: no grain in this step). ``energy_change_kwh``
    compares the day as planned with advised and set power; ``current_freed_a`` is the difference of the current while
    the elements are on. The watt density [W/cm2] is that of the most loaded element, while it is on and on the mean of
    the advised power (None: no surface entered).
    """

    step: str
    phase: str
    target_c: float
    set_w: float
    needed_w: float
    needed_19_of_20_w: float
    advised_w: float
    set_holds_frac: float
    advised_holds_frac: float
    works_down_to_c: float | None
    coldest_looked_at_c: float
    for_evaporation: bool
    watched_w: float | None
    watched_change_kwh: float
    advised_lowest_c: float
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

    @property
    def enough(self) -> bool:
        """Whether the vessel has a setting that does it on nineteen days of twenty."""
        return self.advised_holds_frac >= ENOUGH_FRAC

    @property
    def set_enough(self) -> bool:
        """Whether the power set does."""
        return self.set_holds_frac >= ENOUGH_FRAC


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerAdvice:
    """Advice for every hold and boil of a day, and the conditions it is made for.

    ``days`` brewed days taught about the vessel. ``failed_frac`` is the share of the days that can't be brewed as set;
    ``failures`` say why the worst plausible one can't (sentences), and are empty if it can.
    """

    rows: tuple[PowerRow, ...]
    worst: Worst
    air_c: float
    failed_frac: float
    failures: tuple[object, ...]
    evaporation: Evaporation
    pulses: bool
    days: int
    band_k: float = BAND_K

    def _repr_html_(self) -> str:
        rows = [
            (
                WRITTEN(row.step),
                PHASE(row.phase),
                *(WATTS(each_w) for each_w in (row.set_w, row.needed_w, row.advised_w)),
            )
            for row in self.rows
        ]
        return html_table(WORD("Powers"), ("Step", "", "Set", "Needed", "Advised"), rows)


def advise(
    day: BrewDay,
    learned: "Learned | None" = None,
    *,
    evaporation_per_h: float = WANTED_EVAPORATION_PER_H,
    band_k: float = BAND_K,
) -> PowerAdvice:
    """Advise a power for every hold and boil of a day.

    Parameters
    ----------
    day : BrewDay
        The day as planned.
    learned : Learned, optional
        What brewed days have taught about the vessel.
    evaporation_per_h : float
        Wanted evaporation of a boil, share of the volume before it per hour (0 to 0.5).
    band_k : float
        How far a hold may stray from its target [K].

    Notes
    -----
    A hold needs the loss at its target, a boil the dry loss and what its surface evaporates at the boiling point, both
    less the pump's heat and over what a watt of cap gives: a capped power sags with the mains and a weak element. The
    days are draws of all uncertain inputs (`energyplan.advice.odds`).
    """
    need(day, BrewDay, "day: give what simulate(plan) returned")
    return _Adviser(day, learned, Evaporation(per_h=evaporation_per_h), band_k).advice()


def with_advised_caps(plan: Plan, advice: PowerAdvice) -> Plan:
    """The plan with the advised power set as the step's hold power, where one is enough."""
    return with_hold_caps(plan, {row.step: row.advised_w for row in advice.rows if row.enough})


class _Adviser:
    """The day as planned, in many draws and in the worst case, with the powers set and with those advised."""

    def __init__(self, day: BrewDay, learned: "Learned | None", evaporation: Evaporation, band_k: float) -> None:
        self.learned, self.day, self.plan, self.evaporation, self.band_k = learned, day, day.plan, evaporation, band_k
        self.extract_kg = day.wort.extract_kg
        self.worst = worst_of(day.plan, learned)
        self.planned = day.planned_course()
        self.odds = day_odds(day.plan, self.extract_kg, learned)
        self.worst_set = drawn(day.plan, self.extract_kg, DRAWS, SEED, learned).worst

    def advice(self) -> PowerAdvice:
        phases = [phase for phase in self.day.phases if phase.phase in ("hold", "boil")]
        watched = {phase.step: self._watched_w(phase) for phase in phases}
        advised = {phase.step: self._advised_w(phase, watched[phase.step]) for phase in phases}
        changed = _Changed(self, with_hold_caps(self.plan, dict(advised)))
        lower = {step: power_w for step, power_w in watched.items() if power_w is not None and power_w < advised[step]}
        while_watched = self._phases(with_hold_caps(self.plan, dict(lower))) if lower else ()
        rows = tuple(
            self._row(phase, advised[phase.step], changed, (lower.get(phase.step), while_watched)) for phase in phases
        )
        return PowerAdvice(
            rows=rows,
            worst=self.worst,
            air_c=self.plan.site.air_c,
            failed_frac=self.odds.failed_frac,
            failures=self._failures(),
            evaporation=self.evaporation,
            pulses=self.plan.vessel.control == "modulated",
            days=self.learned.days if self.learned else 0,
            band_k=self.band_k,
        )

    def _failures(self) -> tuple[object, ...]:
        """Why the worst case can't be brewed, in its own numbers."""
        if not self.worst_set.mishaps:
            return ()
        alone = run(self.plan, self.worst.conditions, extract_kg=self.extract_kg, go_on=True)
        return tuple(mishap.message for mishap in alone.mishaps)

    def _phases(self, plan: Plan) -> tuple[Phase, ...]:
        """Phases of a variant as planned; none where it can't be brewed."""
        course = run(plan, extract_kg=self.extract_kg, go_on=True)
        return () if course.mishaps else phases_of(course)

    def _need(self, phase: Phase) -> Need:
        return self.odds.needs[phase.step, phase.phase]

    def _watched_w(self, phase: Phase) -> float | None:
        """What a boil may be turned down towards: it rolls as planned, and evaporates what is wanted."""
        if phase.phase != "boil":
            return None
        courses = (self.planned, self.worst_set)
        return boil_power(self.day, phase.step, self.evaporation, courses=courses, learned=self.learned).watched_w

    def _advised_w(self, phase: Phase, watched_w: float | None) -> float:
        """The lowest setting that does it often enough; a boil's is never below what its evaporation takes."""
        return max(self._need(phase).setting_w(), watched_w or 0.0)

    def _row(
        self, phase: Phase, advised_w: float, changed: "_Changed", watched: tuple[float | None, tuple[Phase, ...]]
    ) -> PowerRow:
        plan, step, need = self.plan, step_named(self.plan, phase.step), self._need(phase)
        after = changed.phase(phase)
        path = hold_path(changed.worst, phase.step, phase.phase, band_k=self.band_k)
        set_path = hold_path(self.worst_set, phase.step, phase.phase, band_k=self.band_k)
        on_loading, mean_loading = loading_w_per_cm2(plan, advised_w)
        return PowerRow(
            step=phase.step,
            phase=phase.phase,
            target_c=target_c_of(hold_legs(self.planned, phase.step, phase.phase)[0]),
            set_w=capped_w(plan.vessel, step.hold_power_w),
            needed_w=need.planned_w,
            needed_19_of_20_w=need.enough_w(),
            advised_w=advised_w,
            set_holds_frac=need.frac(step.hold_power_w),
            advised_holds_frac=need.frac(advised_w),
            works_down_to_c=need.down_to_c(step.hold_power_w),
            coldest_looked_at_c=float(need.airs_c[0]),
            for_evaporation=advised_w > need.setting_w(),
            watched_w=watched[0],
            watched_change_kwh=_change_kwh(phase, watched[1]) if watched[0] is not None else 0.0,
            advised_lowest_c=path.lowest_c,
            set_lowest_c=set_path.lowest_c,
            nominal_lowest_c=after.lowest_c,
            outside_band_min=path.outside_band_min,
            set_outside_band_min=set_path.outside_band_min,
            above_band_min=path.above_band_min,
            recovery_min=_recovery_min(self.planned, phase.step),
            worst_recovery_min=_recovery_min(self.worst_set, phase.step),
            energy_change_kwh=(after.energy_j - phase.energy_j) / JOULES_PER_KWH,
            evaporation_change_kg=after.evaporated_kg - phase.evaporated_kg,
            current_freed_a=elements_a(plan, step.hold_power_w) - elements_a(plan, advised_w),
            loading_w_per_cm2=on_loading,
            mean_loading_w_per_cm2=mean_loading,
        )


class _Changed:
    """The day with the advised powers: as planned, and in the worst case."""

    def __init__(self, adviser: _Adviser, plan: Plan) -> None:
        both = run(plan, adviser.worst.beside_planned(plan), extract_kg=adviser.extract_kg, go_on=True)
        self.phases, self.worst = phases_of(both), both.of(1)

    def phase(self, of: Phase) -> Phase:
        """The same phase of that day."""
        return _same(self.phases, of)


def _same(phases: tuple[Phase, ...], of: Phase) -> Phase:
    return next(p for p in phases if (p.step, p.phase) == (of.step, of.phase))


def _change_kwh(phase: Phase, others: tuple[Phase, ...]) -> float:
    return (_same(others, phase).energy_j - phase.energy_j) / JOULES_PER_KWH if others else 0.0


def _recovery_min(course: Course, step: str) -> float | None:
    """Heating time of a step into which the grain goes [min]; None for any other step."""
    added = any(arrival.step.name == step and arrival.action.kind == "add grain" for arrival in course.arrivals)
    if not added:
        return None
    return (
        sum(float(leg.outcome.duration_s[0]) for leg in course.legs if (leg.step.name, leg.phase) == (step, "ramp"))
        / 60
    )
