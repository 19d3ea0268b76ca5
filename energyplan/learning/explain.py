"""Which single input, set otherwise, would bring the plan closest to what was measured."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.errors import BrewDayError
from energyplan.base.records import dataclass
from energyplan.day.course import run
from energyplan.day.legs import Conditions, Course
from energyplan.day.supply import heating
from energyplan.learning.bins import Seen
from energyplan.plan.model import Plan, Step

__all__ = ["CauseKey", "Errors", "Explanation", "Trial", "explain", "with_measured_times"]

FloatArray = NDArray[np.float64]
CauseKey = Literal["loss", "power", "air", "start", "water", "other"]

DRAWS = 61
FINE_DRAWS = 21
TEMPERATURE_K = 0.7
TIME_S, TIME_FRAC = 60.0, 0.03
METER_KWH = 0.02  # a phase's energy: the display's step
BORDER_S = 30.0  # how exactly a phase's borders are found [assumption]
# How far off entered values usually are, as standard deviations [assumptions]: the logarithm of a heat loss from
# geometry, elements and water as shares, air and tap in K, forgotten appliances in W.
LOSS_OFF, POWER_OFF_FRAC, WATER_OFF_FRAC, AIR_OFF_K, TAP_OFF_K, OTHER_OFF_W = 0.5, 0.08, 0.05, 4.0, 4.0, 80.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """An input that was changed alone: as planned, as it fits best, and the share of the misfit that goes with it.

    ``value`` and ``planned`` are factors on the loss, watts, degrees or litres, by ``key``; ``share`` is 0 (explains
    nothing) to 1 (everything); ``more_kwh`` is what the measured phases take more with it.
    """

    key: CauseKey
    planned: float
    value: float
    share: float
    at_limit: bool
    more_kwh: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Errors:
    """How well things are measured: the meter, as a share; the thermometer [K]; borders of few readings [s]."""

    meter_frac: float
    temperature_k: float = TEMPERATURE_K
    time_s: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Points:
    """Numbers to be met, of shape (points,), and how exactly; each belongs to a phase."""

    phases: tuple[tuple[str, str], ...]
    kinds: tuple[str, ...]
    measured: FloatArray
    error: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trial:
    """An input to try: its key, planned value, values to try, how to run them.

    ``unlikely`` gives how many standard deviations of what people enter wrongly a value is off.
    """

    key: CauseKey
    planned: float
    values: FloatArray
    courses: Callable[[FloatArray], list[Course]]
    unlikely: Callable[[FloatArray], FloatArray]
    load_w: bool = False


def with_measured_times(plan: Plan, seen: Sequence[Seen]) -> Plan:
    """Give the plan with pauses, holds and boils as long as they really were, so that their length isn't blamed."""
    lasted = {(one.phase.step, one.phase.phase): one.duration_s for one in seen}

    def timed(step: Step) -> Step:
        changes: dict[str, object] = {}
        if (pause_s := lasted.get((step.name, "pause"))) is not None:
            changes["pause_s"] = pause_s
        hold_s = lasted.get((step.name, "hold"), lasted.get((step.name, "boil")))
        if hold_s is not None:
            changes["hold_s"] = hold_s
        return step.model_copy(update=changes)

    return plan.model_copy(update={"steps": tuple(timed(step) for step in plan.steps)})


def explain(
    plan: Plan, seen: Sequence[Seen], extract_kg: float, errors: Errors
) -> tuple[tuple[Explanation, ...], float]:
    """Refit one input at a time, mindful of how far off such inputs usually are.

    Parameters
    ----------
    plan : Plan
        With the times as measured (`with_measured_times`).
    seen : sequence of Seen
        What was measured.
    extract_kg : float
        Extract of the mash [kg].
    errors : Errors
        Of meter and thermometer.

    Returns
    -------
    tuple of Explanation
        The best first.
    float
        Misfit of the plan as it is: mean square of the deviations over their errors; near 1 nothing is left to explain.
    """
    points = _points(seen, errors)
    with np.errstate(all="ignore"):
        base = _misfit(run(plan, extract_kg=extract_kg, go_on=True), points, np.zeros(1))
    trials = _trials(plan, extract_kg, metered=any(one.energy_j is not None for one in seen))
    found = [best for trial in trials if (best := _tried(trial, points, float(base[0]))) is not None]
    return tuple(sorted(found, key=lambda one: -one.share)), float(base[0])


def _points(seen: Sequence[Seen], errors: Errors) -> _Points:
    rows: list[tuple[tuple[str, str], str, float, float]] = []
    for place, one in enumerate(seen):
        where = (one.phase.step, one.phase.phase)
        if one.phase.phase == "ramp":
            rows.append((where, "duration_s", one.duration_s, _time_error_s(one, errors)))
        if one.energy_j is not None:
            borders_j = float(np.hypot(BORDER_S, errors.time_s)) * _jump_w(seen, place)
            parts_j = (METER_KWH * JOULES_PER_KWH, errors.meter_frac * one.energy_j, borders_j)
            rows.append((where, "energy_j", one.energy_j, float(np.hypot.reduce(parts_j))))
        if one.phase.phase in ("pause", "hold") and not (one.guessed and errors.time_s > 0):
            rows.append((where, "end_c", one.to_c, _end_error_k(one, errors)))
    first = seen[0]
    rows.append(((first.phase.step, first.phase.phase), "from_c", first.from_c, errors.temperature_k))
    return _Points(
        phases=tuple(row[0] for row in rows),
        kinds=tuple(row[1] for row in rows),
        measured=np.array([row[2] for row in rows]),
        error=np.array([row[3] for row in rows]),
    )


def _jump_w(seen: Sequence[Seen], place: int) -> float:
    """How much the power changes at the borders of a phase [W]: what a border's error puts into the wrong one."""
    here_w = seen[place].phase.mean_w
    beside = [seen[at].phase.mean_w for at in (place - 1, place + 1) if 0 <= at < len(seen)]
    return float(np.hypot.reduce([here_w - other_w for other_w in beside], initial=0.0))


def _end_error_k(one: Seen, errors: Errors) -> float:
    """Error of the temperature after a rest: the thermometer's, and what it changes between readings [K]."""
    per_s_k = abs(one.phase.to_c - one.phase.from_c) / max(one.phase.duration_s, 1.0)
    return float(np.hypot(errors.temperature_k, per_s_k * errors.time_s))


def _time_error_s(ramp: Seen, errors: Errors) -> float:
    """Error of a ramp's time: the minute, 3 %, and what the thermometer's error makes at its slope [s]."""
    per_k_s = ramp.duration_s / max(ramp.to_c - ramp.from_c, 1.0)
    return float(np.hypot.reduce([TIME_S, TIME_FRAC * ramp.duration_s, errors.temperature_k * per_k_s, errors.time_s]))


def _misfit(course: Course, points: _Points, load_w: FloatArray) -> FloatArray:
    """Mean square of the deviations over their errors, per draw; infinite for a draw that can't be brewed."""
    total: FloatArray = np.zeros(max(course.start_c.size, load_w.size))
    for (step, phase), kind, measured, error in zip(
        points.phases, points.kinds, points.measured, points.error, strict=True
    ):
        legs = [leg for leg in course.legs if leg.step.name == step and leg.phase == phase]
        if not legs:
            continue
        duration_s = np.sum([leg.outcome.duration_s for leg in legs], axis=0)
        match kind:
            case "duration_s":
                value = duration_s
            case "energy_j":
                value = np.sum([leg.board_w * leg.outcome.duration_s for leg in legs], axis=0) + load_w * duration_s
            case "end_c":
                value = legs[-1].outcome.end_c
            case _:
                value = legs[0].from_c
        total = total + ((value - measured) / error) ** 2
    failed = np.zeros(total.shape, dtype=np.bool_)
    for mishap in course.mishaps:
        failed |= mishap.which
    # A draw that went wrong may hold anything from there on.
    return np.where(failed | ~np.isfinite(total), np.inf, total / len(points.kinds))


def _trials(plan: Plan, extract_kg: float, *, metered: bool) -> list[Trial]:
    def conditions(name: str) -> Callable[[FloatArray], list[Course]]:
        def courses(values: FloatArray) -> list[Course]:
            changed = replace(Conditions(), **{name: values})
            return [run(plan, changed, extract_kg=extract_kg, go_on=True)]

        return courses

    def waters(values: FloatArray) -> list[Course]:
        batches = [plan.batch.model_copy(update={"water_l": float(value)}) for value in values]
        return [run(plan.model_copy(update={"batch": batch}), extract_kg=extract_kg, go_on=True) for batch in batches]

    factor, air_c, water_c = np.geomspace(0.3, 4.0, DRAWS), plan.site.air_c, plan.batch.water_temperature_c
    full_w, water_l = _full_w(plan), plan.batch.water_l

    trials = [
        Trial(key="loss", planned=1.0, values=factor,
              courses=conditions("loss_factor"), unlikely=lambda values: np.log(values) / LOSS_OFF),
        Trial(key="power", planned=full_w,
              values=full_w * np.linspace(0.4, 1.25, DRAWS),
              courses=lambda values: conditions("element_factor")(values / full_w),
              unlikely=lambda values: (values - full_w) / (POWER_OFF_FRAC * full_w)),
        Trial(key="air", planned=air_c, values=air_c + np.linspace(-20, 20, DRAWS),
              courses=conditions("air_c"), unlikely=lambda values: (values - air_c) / AIR_OFF_K),
        Trial(key="start", planned=water_c,
              values=np.clip(water_c + np.linspace(-15, 25, DRAWS), 0.5, 90.0), courses=conditions("water_c"),
              unlikely=lambda values: (values - water_c) / TAP_OFF_K),
        Trial(key="water", planned=water_l, values=water_l * np.linspace(0.75, 1.25, 11),
              courses=waters, unlikely=lambda values: (values - water_l) / (WATER_OFF_FRAC * water_l)),
    ]  # fmt: skip
    if metered:
        trials.append(
            Trial(key="other", planned=0.0,
                  values=np.linspace(0.0, 1500.0, 6 * DRAWS),
                  courses=lambda _: [run(plan, extract_kg=extract_kg, go_on=True)],
                  unlikely=lambda values: values / OTHER_OFF_W, load_w=True)
        )  # fmt: skip
    return trials


def _full_w(plan: Plan) -> float:
    volts, ones = np.array([plan.voltage_v]), np.ones(1)
    return float(heating(plan, None, voltage_v=volts, element_factor=ones).most_w[0])


def _tried(trial: Trial, points: _Points, base: float) -> Explanation | None:
    """Best value of one input: on a grid, then between the neighbours of the best."""
    misfit = _misfits(trial, points, trial.values)
    best = int(np.argmin(misfit))
    if not np.isfinite(misfit[best]) or base <= 0:
        return None
    low, high = trial.values[max(best - 1, 0)], trial.values[min(best + 1, trial.values.size - 1)]
    fine = np.linspace(low, high, FINE_DRAWS if trial.values.size > 11 else 9)
    fine_misfit = _misfits(trial, points, fine)
    place = int(np.argmin(fine_misfit))
    left = min(float(fine_misfit[place]), float(misfit[best]))
    return Explanation(
        key=trial.key,
        planned=trial.planned,
        value=float(fine[place]),
        more_kwh=_more_kwh(trial, points, float(fine[place])),
        share=float(np.clip(1 - left / base, 0.0, 1.0)),
        at_limit=best in (0, trial.values.size - 1) and not (trial.load_w and best == 0),
    )


def _more_kwh(trial: Trial, points: _Points, value: float) -> float:
    """What the measured phases take more with a value than with the planned one [kWh]; 0 if it can't be brewed."""
    phases, both = set(points.phases), []
    for one in (value, trial.planned):
        try:
            with np.errstate(all="ignore"):
                (course, *_) = trial.courses(np.array([one]))
        except BrewDayError:
            return 0.0
        legs = [leg for leg in course.legs if (leg.step.name, leg.phase) in phases]
        watts = one if trial.load_w else 0.0
        both.append(float(sum(((leg.board_w + watts) * leg.outcome.duration_s).sum() for leg in legs)))
    more_kwh = (both[0] - both[1]) / JOULES_PER_KWH
    return more_kwh if np.isfinite(more_kwh) else 0.0


def _misfits(trial: Trial, points: _Points, values: FloatArray) -> FloatArray:
    load_w = values if trial.load_w else np.zeros(1)
    try:
        # Draws far off the plan may leave every relation's range; their misfit says so, no warning has to.
        with np.errstate(all="ignore"):
            misfit = np.concatenate([_misfit(course, points, load_w) for course in trial.courses(values)])
    except BrewDayError:
        return np.full(values.shape, np.inf)
    return np.asarray(misfit + trial.unlikely(values) ** 2 / len(points.kinds))
