"""Holds: what they lose, the least cap that keeps them, and what a cap does to the watt density."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from energyplan.advice.draws import worst_of
from energyplan.advice.variants import (
    all_elements_w,
    cap_of_heat_w,
    drawn_w,
    given_w,
    pump_heat_w,
    with_hold_caps,
)
from energyplan.base.errors import PlanError
from energyplan.base.records import dataclass
from energyplan.day.brewday import BrewDay
from energyplan.day.course import Conditions, Course, Leg, run
from energyplan.day.supply import elements_on, heating
from energyplan.physics import balance
from energyplan.physics.contents import Contents
from energyplan.physics.drift import drift
from energyplan.physics.losscurve import LossCurve
from energyplan.plan.model import Plan, Step

__all__ = [
    "BAND_K",
    "HIGH_LOADING_W_PER_CM2",
    "HoldPath",
    "SagCurve",
    "hold_legs",
    "hold_path",
    "least_cap_w",
    "least_heat_w",
    "loading_w_per_cm2",
    "sag_curve",
    "target_c_of",
]

FloatArray = NDArray[np.float64]


BAND_K = 0.5  # how far a hold may stray from its target [assumption: what mashing thermostats keep]


ROUNDING = 1e-12  # by which a cap that just holds may come out short

CURVE_POINTS = 61


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldPath:
    """How well a hold keeps its target: lowest temperature [°C], time below and above the band [min]."""

    lowest_c: float
    below_band_min: float
    above_band_min: float

    @property
    def outside_band_min(self) -> float:
        """Time outside the band [min]."""
        return self.below_band_min + self.above_band_min


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SagCurve:
    """Lowest temperature of a hold against its cap.

    Arrays of shape (caps,): caps [W], lowest temperature on the way [°C], time outside the band [min].
    ``knee_w`` is the cap from which on the target is kept; ``band_w`` the lowest one that keeps the band for as long
    as the hold lasts (None: beyond the elements). Both hold for the conditions of the curve.
    """

    step: str
    phase: str
    target_c: float
    band_k: float
    hold_min: float
    caps_w: FloatArray
    lowest_c: FloatArray
    outside_band_min: FloatArray
    knee_w: float | None
    band_w: float | None


def target_c_of(leg: Leg) -> float:
    """What a hold is to keep [°C]: its target, or the boiling point."""
    if leg.step.target_c is not None:
        return leg.step.target_c
    return float(leg.from_c[0])


def hold_legs(course: Course, step: str, phase: str = "hold") -> list[Leg]:
    """The legs of a step's hold or boil."""
    return [leg for leg in course.legs if (leg.step.name, leg.phase) == (step, phase)]


def least_heat_w(leg: Leg) -> float:
    """Heat that keeps the target in the state of a leg [W]."""
    return float(leg.losses.total_w(np.array([target_c_of(leg)]))[0])


def hold_path(course: Course, step: str, phase: str, *, band_k: float = BAND_K) -> HoldPath:
    """Follow a hold through a course of one draw."""
    legs = hold_legs(course, step, phase)
    target_c = target_c_of(legs[0])
    below_s = above_s = 0.0
    for leg in legs:
        times_s, path_k = leg.outcome.stretch.times_s[:, 0], leg.outcome.stretch.temperatures_c[:, 0] - target_c
        below_s += _time_above_s(times_s, -path_k - band_k)
        above_s += _time_above_s(times_s, path_k - band_k)
    lowest_c = min(float(leg.lowest_c[0]) for leg in legs)
    return HoldPath(lowest_c=lowest_c, below_band_min=below_s / 60, above_band_min=above_s / 60)


def _time_above_s(times_s: FloatArray, excess: FloatArray) -> float:
    """Time for which a polyline through values at times lies above zero."""
    return float(_times_above_s(times_s[:, None], excess[:, None])[0])


def _times_above_s(times_s: FloatArray, excess: FloatArray) -> FloatArray:
    """The same for many polylines, both of shape (points, lines)."""
    before, after, pieces_s = excess[:-1], excess[1:], np.diff(times_s, axis=0)
    higher, lower = np.maximum(before, after), np.minimum(before, after)
    span = np.where(higher > lower, higher - lower, 1.0)
    share = np.where(lower > 0, 1.0, np.where(higher > 0, higher / span, 0.0))
    return np.asarray((share * pieces_s).sum(axis=0))


def sag_curve(
    day: BrewDay,
    step: str,
    caps_w: ArrayLike | None = None,
    *,
    conditions: Conditions | None = None,
    band_k: float = BAND_K,
) -> SagCurve:
    """Lowest temperature of a hold or boil against its cap.

    Parameters
    ----------
    day : BrewDay
        The day as planned.
    step : str
        Name of the step that holds or boils.
    caps_w : array_like, optional
        Caps [W]; by default from nothing to twice the one that keeps the target.
    conditions : Conditions, optional
        Under which (one draw); by default the worst plausible case.
    band_k : float
        Half the width of the band [K].

    Raises
    ------
    PlanError
        If the step does not hold, or a cap is negative.

    Notes
    -----
    The hold starts from the state in which the day reaches it. A cap gives its share of the elements' real power; a
    cap below the loss lets the temperature go along C dT/dt = P - L(T). For a switched vessel the curve is that of
    the powers themselves, which it can't set all.
    """
    plan = day.plan
    under = worst_of(plan).conditions if conditions is None else conditions
    kept = run(with_hold_caps(plan, {step: None}), under, extract_kg=day.wort.extract_kg, go_on=True)
    legs = [leg for leg in kept.legs if leg.step.name == step and leg.phase in ("hold", "boil")]
    if not legs:
        raise PlanError(f'"{step}" holds no temperature; name a step with a hold or a boil')
    leg, target_c = legs[-1], target_c_of(legs[-1])
    full_w, most_w, pump_w = given_w(plan, None, under), drawn_w(plan), pump_heat_w(plan, leg.step)
    needed_w = cap_of_heat_w(plan, max(least_heat_w(leg) - pump_w, 0.0), under)
    caps = _checked_caps_w(caps_w, needed_w, all_elements_w(plan.vessel))
    given = np.minimum(caps, most_w) * full_w / most_w + pump_w
    path_c, times_s = _paths(leg, given, target_c)
    cooled_s = sum(float(other.outcome.duration_s[0]) for other in legs[:-1])
    strayed_s = _times_above_s(times_s, np.abs(path_c - target_c) - band_k)
    above_s = sum(
        _time_above_s(
            other.outcome.stretch.times_s[:, 0], other.outcome.stretch.temperatures_c[:, 0] - target_c - band_k
        )
        for other in legs[:-1]
    )
    return SagCurve(
        step=step,
        phase=leg.phase,
        target_c=target_c,
        band_k=band_k,
        hold_min=(cooled_s + float(leg.outcome.duration_s[0])) / 60,
        caps_w=caps,
        lowest_c=path_c.min(axis=0),
        outside_band_min=(strayed_s + above_s) / 60,
        knee_w=needed_w if needed_w <= most_w else None,
        band_w=_band_cap_w(leg, target_c - band_k, (full_w, most_w), pump_w),
    )


def _checked_caps_w(caps_w: ArrayLike | None, needed_w: float, most_w: float) -> FloatArray:
    if caps_w is None:
        return np.linspace(0.0, min(max(2 * needed_w, 100.0), most_w), CURVE_POINTS)
    caps = np.atleast_1d(np.asarray(caps_w, dtype=float))
    if not (np.isfinite(caps).all() and (caps >= 0).all()):
        raise PlanError(f"caps_w = {caps_w}: expected powers of 0 W or more")
    return caps


def _paths(leg: Leg, heat_w: FloatArray, target_c: float) -> tuple[FloatArray, FloatArray]:
    """Temperatures and times of a hold under many constant heats, both (points, caps)."""
    start, losses = _repeated(leg.before, heat_w.size), _repeated_curve(leg.losses, heat_w.size)
    from_c = np.full(heat_w.size, float(leg.from_c[0]))
    duration_s = np.full(heat_w.size, float(leg.outcome.duration_s[0]))
    drifted = drift(start, from_c, duration_s, heat_w, losses).stretch
    loss_w = float(leg.losses.total_w(np.array([target_c]))[0])
    held = heat_w >= loss_w * (1 - ROUNDING)
    return np.where(held, from_c, drifted.temperatures_c), drifted.times_s


def _repeated(contents: Contents, count: int) -> Contents:
    return balance.either(np.ones(count, dtype=bool), contents, contents)


def _repeated_curve(losses: LossCurve, count: int) -> LossCurve:
    return LossCurve(
        low_c=losses.low_c,
        dry_table_w=np.repeat(losses.dry_table_w, count, axis=1),
        vapour_table_kg_per_s=np.repeat(losses.vapour_table_kg_per_s, count, axis=1),
        dries=losses.dries,
    )


def _band_cap_w(leg: Leg, floor_c: float, powers_w: tuple[float, float], pump_w: float) -> float | None:
    """Lowest cap whose hold ends no lower than the band: bisected, all at once, to a tenth of a watt."""
    full_w, most_w = powers_w
    low, high = 0.0, most_w
    target_c = target_c_of(leg)
    for _ in range(3):
        caps = np.linspace(low, high, 41)
        path_c, _ = _paths(leg, caps * full_w / most_w + pump_w, target_c)
        enough = path_c.min(axis=0) >= floor_c
        if not enough.any():
            return None
        first = int(np.argmax(enough))
        low, high = float(caps[max(first - 1, 0)]), float(caps[first])
    return high


def least_cap_w(
    plan: Plan, course: Course, step: Step, voltage_v: FloatArray, element_factor: FloatArray
) -> FloatArray:
    """Lowest cap that keeps a step's target or boiling point, by draw [W].

    Parameters
    ----------
    plan : Plan
        Vessel and circuit.
    course : Course
        The draws.
    step : Step
        A step that holds or boils.
    voltage_v, element_factor : ndarray, shape (draws,)
        Voltage at the board [V] and real over nameplate power of each draw.

    Notes
    -----
    The loss at the target, less the pump's heat, over what a watt of cap gives: a cap is the mean power at the plan's
    own voltage, met by a fixed duty, so it sags with the mains, and of an element under the base only a part of it
    goes inwards. Above all elements there is no such cap; the number then says what would be needed.
    """
    leg = hold_legs(course, step.name, "boil" if step.boil else "hold")[-1]
    target_c = leg.from_c if step.target_c is None else np.full(voltage_v.shape, step.target_c)
    wanted_w = np.maximum(leg.losses.total_w(target_c) - pump_heat_w(plan, step), 0.0)
    drawn = heating(plan, None, voltage_v=voltage_v, element_factor=element_factor)
    return np.asarray(wanted_w * drawn_w(plan) / drawn.most_w)


HIGH_LOADING_W_PER_CM2 = 8.0  # common practice, no source: above it wort scorches sooner


CM2_PER_M2 = 1e4


def loading_w_per_cm2(plan: Plan, cap_w: float) -> tuple[float | None, float | None]:
    """Surface loading of the most loaded element under a cap, while it is on and on the mean [W/cm2].

    None where no element that is on has a surface entered. A modulated vessel pulses: the surface sees the full
    loading while the element is on, unless the pulses are shorter than the few seconds in which it warms.

    Examples
    --------
    >>> from energyplan.plan.file import read_plan
    >>> [round(value, 2) for value in loading_w_per_cm2(read_plan("demo"), 1400.0)]
    [4.29, 2.14]
    """
    on = elements_on(plan.vessel, cap_w)
    known = [
        element.power_w * (plan.voltage_v / element.voltage_v) ** 2 / element.surface_m2 / CM2_PER_M2
        for element in on
        if element.surface_m2 is not None
    ]
    if not known:
        return None, None
    pulses = plan.vessel.control == "modulated"
    duty = min(cap_w / all_elements_w(plan.vessel), 1.0) if pulses else 1.0
    return max(known), max(known) * duty
