"""Plan beside log: kWh, minutes and temperatures of every phase, and what explains the difference."""

from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.errors import BrewDayError, LogError
from energyplan.base.kinds import HOURS
from energyplan.base.records import dataclass
from energyplan.base.sentence import Sentence
from energyplan.day.brewday import BrewDay, simulate
from energyplan.day.course import extract_kg as planned_extract_kg
from energyplan.day.legs import PhaseName
from energyplan.learning.bins import Bins, Seen, aligned_phases, binned
from energyplan.learning.explain import TEMPERATURE_K, Errors, Explanation, explain, with_measured_times
from energyplan.learning.logfile import Log
from energyplan.learning.readings import Remark
from energyplan.plan.model import Plan

__all__ = ["DayComparison", "Likely", "PhaseComparison", "compare_with_log"]

METER_FRAC = (
    0.02  # plug-in meters on heaters: 1.5 % at best in a university's test of nine (2009); 2 % taken [assumption]
)
CLEARLY, HARDLY = 0.5, 0.25  # shares of the misfit: above the first an input is named, below the second never
NEARLY = 0.15  # two inputs whose shares are closer than this can't be told apart
NEVER_K = 3.0  # below its first target a log is no day of a plan
MOST_TIMES = 8.0  # as long as planned: beyond it a log is no day of this plan [our choice]
NOTHING_LEFT = 1.2  # misfit, in squares of the errors, that needs no explanation


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseComparison:
    """One phase as planned and as measured: minutes, kWh (None without a meter), temperatures [°C].

    Of few readings what they don't tell is None; ``within_min`` is how far a border that they tell may be off.
    ``guessed`` marks a phase of many readings whose ends nothing marks.
    """

    step: str
    phase: PhaseName
    planned_min: float
    measured_min: float | None
    within_min: float
    planned_kwh: float
    measured_kwh: float | None
    planned_to_c: float
    measured_to_c: float | None
    planned_lowest_c: float
    measured_lowest_c: float | None
    guessed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Likely:
    """What explains a difference: nothing has to, or these inputs, of which the log can't tell one from the next.

    ``causes`` is empty where plan and log agree within the errors, and where no single input explains the difference.
    """

    agrees: bool
    causes: tuple[Explanation, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class DayComparison:
    """A measured day beside its plan.

    Parameters
    ----------
    phases : tuple of PhaseComparison
        As far as the log goes.
    interval_min : float
        Usual time between two readings [min]; what is shorter the log can't show.
    longer_min : float
        How much longer than planned the phases took together [min].
    planned_kwh, measured_kwh : float
        Over these phases [kWh]; measured is None without a meter.
    longer_kwh : float
        Part of the difference that comes from rests, holds and boils that took longer or shorter than planned [kWh].
    meter_kwh : float
        Error of the meter over these phases [kWh].
    within_meter_error : bool or None
        Whether the difference is smaller than that.
    misfit : float
        Mean square of all deviations over their errors, with the times as measured; about 1 if all is as planned.
    explanations : tuple of Explanation
        Inputs changed alone, the best first; empty where nothing has to be explained.
    likely : Likely
        The cause that stands out, if one does.
    notes : tuple of Remark
        What to mind.
    """

    phases: tuple[PhaseComparison, ...]
    interval_min: float
    longer_min: float
    planned_kwh: float
    measured_kwh: float | None
    longer_kwh: float
    meter_kwh: float
    within_meter_error: bool | None
    misfit: float
    explanations: tuple[Explanation, ...]
    likely: Likely
    notes: tuple[Remark, ...]


def compare_with_log(plan: Plan, log: Log, *, meter_frac: float = METER_FRAC) -> DayComparison:
    """Put a measured day beside its plan.

    Parameters
    ----------
    plan : Plan
        What was planned.
    log : Log
        What was measured, from the moment the vessel was switched on.
    meter_frac : float
        Error of the meter, as a share.

    Raises
    ------
    LogError
        If the log doesn't reach the first target of the plan, or can't be a day of this plan.
    BrewDayError
        If the plan can't be brewed.

    Notes
    -----
    The inputs are tried one at a time, with pauses, holds and boils as long as they were, against the minutes of the
    ramps, the kWh of all phases and the temperatures after rests and holds, each over its error (1 min and 3 %;
    the meter's and 0.02 kWh; 0.7 K).
    """
    day, bins = simulate(plan), binned(log)
    first = day.phases[0]
    if bins.temperature_c.max() < first.to_c - NEVER_K:
        raise LogError(
            f"the log never reaches the first target of the plan ({first.step}): it should begin when the vessel is "
            "switched on",
            source=log.source,
        )
    if log.duration_s > MOST_TIMES * day.duration_s:
        message = Sentence(
            "the log lasts {lasts} where the plan takes {planned}: are its times in minutes?",
            lasts=HOURS(log.duration_s / 3600), planned=HOURS(day.duration_s / 3600),
        )  # fmt: skip
        raise LogError(message, source=log.source)
    seen = aligned_phases(day, bins)
    extract = planned_extract_kg(plan)
    timed = with_measured_times(plan, seen)
    timed_day = _as_long(timed, extract, log)
    errors = Errors(
        meter_frac=meter_frac,
        temperature_k=max(TEMPERATURE_K, log.resolution_k),
        time_s=bins.interval_s / 2 if bins.is_coarse else 0.0,
    )
    explanations, misfit = explain(timed, seen, extract, errors)
    return _comparison(day, timed_day, seen, (explanations, misfit), (log, bins, meter_frac))


def _as_long(timed: Plan, extract: float, log: Log) -> BrewDay:
    """The plan with the times of the log; one that can't be brewed like that is no plan of this log."""
    try:
        return simulate(timed, extract=extract)
    except BrewDayError as error:
        message = f"with rests, holds and boils as long as in the log the plan can't be brewed: {error}"
        raise LogError(message, source=log.source) from None


def _comparison(
    day: BrewDay,
    timed: BrewDay,
    seen: tuple[Seen, ...],
    explained: tuple[tuple[Explanation, ...], float],
    measured: tuple[Log, Bins, float],
) -> DayComparison:
    (explanations, misfit), (log, bins, meter_frac) = explained, measured
    planned_kwh = sum(one.phase.energy_j for one in seen) / JOULES_PER_KWH
    counted = [one.energy_j for one in seen if one.energy_j is not None]
    measured_kwh = sum(counted) / JOULES_PER_KWH if counted else None
    names = {(one.phase.step, one.phase.phase) for one in seen}
    timed_kwh = sum(phase.energy_j for phase in timed.phases if (phase.step, phase.phase) in names) / JOULES_PER_KWH
    meter_kwh = meter_frac * (measured_kwh or planned_kwh) + 0.02
    within = None if measured_kwh is None else abs(measured_kwh - planned_kwh) <= meter_kwh
    likely = _likely(explanations, misfit, within=within)
    return DayComparison(
        phases=tuple(_phase(one, bins) for one in seen),
        interval_min=bins.interval_s / 60,
        longer_min=sum(one.duration_s - one.phase.duration_s for one in seen) / 60,
        planned_kwh=planned_kwh,
        measured_kwh=measured_kwh,
        longer_kwh=timed_kwh - planned_kwh,
        meter_kwh=meter_kwh,
        within_meter_error=within,
        misfit=misfit,
        explanations=() if likely.agrees else explanations,
        likely=likely,
        notes=(*log.notes, *_notes(day, seen, bins)),
    )


def _phase(one: Seen, bins: Bins) -> PhaseComparison:
    phase, told = one.phase, not (one.guessed and bins.is_coarse)
    return PhaseComparison(
        step=phase.step,
        phase=phase.phase,
        planned_min=phase.duration_s / 60,
        measured_min=one.duration_s / 60 if told else None,
        within_min=bins.interval_s / 60 if bins.is_coarse else 0.0,
        planned_kwh=phase.energy_j / JOULES_PER_KWH,
        measured_kwh=None if one.energy_j is None or not told else one.energy_j / JOULES_PER_KWH,
        planned_to_c=phase.to_c,
        measured_to_c=one.to_c if told else None,
        planned_lowest_c=phase.lowest_c,
        measured_lowest_c=one.lowest_c if told else None,
        guessed=one.guessed and told,
    )


def _likely(explanations: tuple[Explanation, ...], misfit: float, *, within: bool | None) -> Likely:
    if misfit <= NOTHING_LEFT and within is not False:
        return Likely(agrees=True)
    if not explanations or not _explains(explanations[0], misfit):
        return Likely(agrees=False)
    best, *others = explanations
    return Likely(agrees=False, causes=(best, *(one for one in others if best.share - one.share < NEARLY)))


def _explains(best: Explanation, misfit: float) -> bool:
    left = misfit * (1 - best.share)
    return best.share >= CLEARLY or (best.share >= HARDLY and left <= 2 * NOTHING_LEFT)


def _notes(day: BrewDay, seen: tuple[Seen, ...], bins: Bins) -> list[Remark]:
    notes = [Remark("no meter" if bins.used_j is None else "meter alone")]
    if bins.is_coarse:
        notes.append(Remark("read seldom", interval_min=bins.interval_s / 60))
    elif any(one.guessed for one in seen):
        notes.append(Remark("guessed ends"))
    last = next(place for place, phase in enumerate(day.phases) if phase is seen[-1].phase)
    if last + 1 < len(day.phases):
        notes.append(Remark("log ends", step=day.phases[last + 1].step))
    return notes
