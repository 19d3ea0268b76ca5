"""The boil: the lowest power that boils, the power for a wanted evaporation, and what follows from it."""

import math
from typing import TYPE_CHECKING

import numpy as np

from energyplan.advice.draws import QUANTILES, Worst, quantiles, worst_of
from energyplan.advice.odds import day_odds
from energyplan.advice.variants import (
    MARGIN,
    cap_of_heat_w,
    capped_w,
    drawn_w,
    least_setting_w,
    pump_heat_w,
    with_end_volume,
    with_hold_caps,
)
from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.errors import BrewDayError, PlanError
from energyplan.base.kinds import LITRES_PER_HOUR
from energyplan.base.records import dataclass
from energyplan.base.sentence import Sentence
from energyplan.day.brewday import BrewDay, simulate
from energyplan.day.course import Conditions, Course, Leg, run
from energyplan.day.kettle import open_surface_factor, shell_of, surroundings_of
from energyplan.day.legs import AS_PLANNED, COLD_C
from energyplan.physics.losscurve import LossCurve, loss_curve
from energyplan.physics.water import density_kg_per_m3, latent_heat_j_per_kg
from energyplan.plan.model import Lid, Plan

if TYPE_CHECKING:
    from energyplan.advice.learned import Learned

__all__ = [
    "FULL_FRAC",
    "WANTED_EVAPORATION_PER_H",
    "BoilAdvice",
    "BoilOutcome",
    "BoilPower",
    "Evaporation",
    "LeastBoil",
    "advise_boil",
    "boil_power",
]

WANTED_EVAPORATION_PER_H = 0.06  # share of the volume; large practice 4 to 8 % (EU JRC best practice pages)
MOST_EVAPORATION_PER_H = 0.5
FULL_FRAC = 0.85  # common practice, no source: a vessel fuller than this boils over sooner than one can look
COLD_KG_PER_L = float(density_kg_per_m3(COLD_C)) / 1000
LIDS: tuple[Lid, ...] = ("on", "ajar", "off")
# Over the computed lowest power: a plan that keeps its gravity needs another extract when it boils off another
# amount; level and boiling point then differ by a trace, worth up to 0.1 % of the power.
TRACE = 1.002


@dataclass(frozen=True, slots=True, kw_only=True)
class Evaporation:
    """A wanted evaporation: share of the volume before the boil per hour, or litres (at 20 °C) per hour.

    Raises
    ------
    PlanError
        If it is out of range.
    """

    per_h: float = WANTED_EVAPORATION_PER_H
    litres_per_h: float | None = None

    def __post_init__(self) -> None:
        if not 0 <= self.per_h <= MOST_EVAPORATION_PER_H:
            raise PlanError(
                f"evaporation = {self.per_h:g}: expected a share of the volume per hour from 0 to "
                f"{MOST_EVAPORATION_PER_H:g}, such as {WANTED_EVAPORATION_PER_H:g}"
            )
        if self.litres_per_h is not None and not (math.isfinite(self.litres_per_h) and self.litres_per_h >= 0):
            rate = LITRES_PER_HOUR(self.litres_per_h)
            raise PlanError(Sentence("evaporation = {rate}: expected 0 or more", rate=rate))

    def kg_per_h(self, volume_l: float) -> float:
        """Evaporated water of a volume before the boil, both at 20 °C [kg/h]."""
        litres_per_h = self.per_h * volume_l if self.litres_per_h is None else self.litres_per_h
        return litres_per_h * COLD_KG_PER_L


@dataclass(frozen=True, slots=True, kw_only=True)
class BoilPower:
    """Powers of one boil, as caps [W].

    ``least_w`` is the lowest that boils as planned, ``least_range_w`` where it lies on eight days of ten,
    ``worst_least_w`` in the worst plausible case; ``rolling_w`` has a tenth more than the first, ``wanted_w`` gives
    the wanted evaporation (boiling or not). ``watched_w`` is the lowest setting that rolls and evaporates as wanted, as
    planned: what to turn down towards; ``advised_w`` does so and boils on nineteen days of twenty. ``dry_w`` is the
    heat that leaves without vapour, ``least_kg_per_h`` the evaporation of ``least_w``, ``most_w`` what all elements
    take.
    """

    step: str
    lid: Lid
    boiling_c: float
    volume_l: float
    dry_w: float
    latent_j_per_kg: float
    least_w: float
    least_range_w: tuple[float, float]
    worst_least_w: float
    rolling_w: float
    wanted_w: float
    watched_w: float
    advised_w: float
    least_kg_per_h: float
    most_w: float

    @property
    def boils(self) -> bool:
        """Whether all elements boil as planned."""
        return self.least_w <= self.most_w * TRACE


@dataclass(frozen=True, slots=True, kw_only=True)
class LeastBoil:
    """The lowest power that boils with one state of the lid [W], and whether the elements give it."""

    lid: Lid
    least_w: float
    worst_least_w: float
    boils: bool
    boils_at_worst: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class BoilOutcome:
    """What comes of one power: volumes at 20 °C [L], share of the volume per hour, energy at the meter [kWh]."""

    power_w: float
    boils: bool
    water_l: float
    evaporated_l: float
    evaporated_l_per_h: float
    evaporated_per_h: float
    end_l: float
    gravity_end: float
    boil_kwh: float
    day_kwh: float
    day_min: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BoilAdvice:
    """Advice on one boil.

    ``as_set`` is the plan's, ``as_advised`` has the advised power, ``restored`` also starts with less (or more) water
    so that the end volume is the plan's again; None when that water does not fit, and ``not_restored`` says why.
    ``fill_frac`` is how full the vessel is as it comes to the boil, ``headspace_m`` what is left above.
    """

    power: BoilPower
    lids: tuple[LeastBoil, ...]
    evaporation: Evaporation
    as_set: BoilOutcome
    as_advised: BoilOutcome
    restored: BoilOutcome | None
    fill_frac: float
    headspace_m: float
    not_restored: object = None

    @property
    def least_of_a_rolling_boil_l_per_h(self) -> float:
        """What the lowest rolling boil evaporates, as planned [L/h]."""
        return self.power.least_kg_per_h * MARGIN / COLD_KG_PER_L

    @property
    def saved_kwh(self) -> float:
        """Energy that the advised power saves over the day, with the same end volume where the water fits [kWh]."""
        return self.as_set.day_kwh - (self.restored or self.as_advised).day_kwh

    @property
    def saved_l(self) -> float:
        """Water that need not be boiled off [L]."""
        return self.as_set.evaporated_l - (self.restored or self.as_advised).evaporated_l


def boil_power(
    day: BrewDay,
    step: str,
    evaporation: Evaporation | None = None,
    *,
    courses: tuple[Course, Course] | None = None,
    learned: "Learned | None" = None,
) -> BoilPower:
    """Powers of one boil: the lowest that boils, the one for a wanted evaporation, the one advised.

    Parameters
    ----------
    day : BrewDay
        The day as planned.
    step : str
        Name of the step that boils.
    evaporation : Evaporation, optional
        What is wanted; by default 6 % of the volume an hour.
    courses : tuple of Course, optional
        The day as planned and in the worst plausible case, if they are at hand.
    learned : Learned, optional
        What brewed days have taught about the vessel.

    Raises
    ------
    PlanError
        If the step has no boil.

    Notes
    -----
    All heat above the dry loss makes vapour: P = L_dry + E h_fg with the evaporation E [kg/s]. Below L_dry plus the
    surface evaporation at the boiling point the boil stops.
    """
    worst, wanted = worst_of(day.plan, learned), evaporation or Evaporation()
    planned, at_worst = courses or _courses(day, worst)
    leg, worst_leg = _boil_leg(planned, step), _boil_leg(at_worst, step)
    plan, pump_w = day.plan, pump_heat_w(day.plan, leg.step)
    boiling_c, at_c = float(leg.from_c[0]), leg.from_c
    dry_w, latent = float(leg.losses.dry_w(at_c)[0]), float(latent_heat_j_per_kg(boiling_c))
    volume_l = float(leg.before.liquid_l(COLD_C)[0])
    least_heat_w = float(leg.losses.total_w(at_c)[0])
    least_w = _cap_w(plan, least_heat_w - pump_w, AS_PLANNED)
    wanted_w = max(dry_w + wanted.kg_per_h(volume_l) / 3600 * latent - pump_w, 0.0)
    rolling_w = least_w * MARGIN
    watched_w = least_setting_w(plan, max(wanted_w, rolling_w))
    need = day_odds(plan, day.wort.extract_kg, learned).needs[step, "boil"]
    low_w, high_w = quantiles(need.caps_w, (QUANTILES[0], QUANTILES[-1]))
    return BoilPower(
        step=step,
        lid=leg.step.lid_state,
        boiling_c=boiling_c,
        volume_l=volume_l,
        dry_w=dry_w,
        latent_j_per_kg=latent,
        least_w=least_w,
        least_range_w=(float(low_w), float(high_w)),
        worst_least_w=_cap_w(plan, float(worst_leg.losses.total_w(worst_leg.from_c)[0]) - pump_w, worst.conditions),
        rolling_w=rolling_w,
        wanted_w=wanted_w,
        watched_w=watched_w,
        advised_w=max(need.setting_w(), watched_w),
        least_kg_per_h=(least_heat_w - dry_w) / latent * 3600,
        most_w=drawn_w(plan),
    )


def _courses(day: BrewDay, worst: Worst) -> tuple[Course, Course]:
    extract_kg = day.wort.extract_kg
    return day.planned_course(), run(day.plan, worst.conditions, extract_kg=extract_kg, go_on=True)


def _boil_leg(course: Course, step: str) -> Leg:
    legs = [leg for leg in course.legs if leg.phase == "boil" and leg.step.name == step]
    if not legs:
        boils = ", ".join(f'"{leg.step.name}"' for leg in course.legs if leg.phase == "boil") or "none"
        raise PlanError(f'"{step}" does not boil; the steps that do: {boils}')
    return legs[0]


def _cap_w(plan: Plan, heat_w: float, conditions: Conditions) -> float:
    """Cap under which the elements give a heat [W]; also where it is more than they can give."""
    return cap_of_heat_w(plan, max(heat_w, 0.0), conditions) * TRACE


def advise_boil(
    day: BrewDay,
    step: str | None = None,
    *,
    evaporation: Evaporation | None = None,
    learned: "Learned | None" = None,
) -> BoilAdvice:
    """Advise on one boil of a day, and work out what follows.

    Parameters
    ----------
    day : BrewDay
        The day as planned.
    step : str, optional
        The step that boils; by default the last one that does.
    evaporation : Evaporation, optional
        What is wanted; by default 6 % of the volume an hour, and at least a rolling boil.
    learned : Learned, optional
        What brewed days have taught about the vessel.

    Raises
    ------
    PlanError
        If the day or the step has no boil.
    """
    boils = [phase.step for phase in day.phases if phase.phase == "boil"]
    if not boils:
        raise PlanError("the plan has no boil; add a step with boil = true")
    name, wanted = step or boils[-1], evaporation or Evaporation()
    worst = worst_of(day.plan, learned)
    courses = _courses(day, worst)
    power = boil_power(day, name, wanted, courses=courses, learned=learned)
    leg = _boil_leg(courses[0], name)
    changed = simulate(with_hold_caps(day.plan, {name: power.advised_w}), extract=day.wort.extract_kg)
    restored, why_not = _restored(day, changed)
    shell = shell_of(day.plan)
    fill_frac = float(leg.before.filled_l(leg.from_c)[0]) / shell.volume_l
    return BoilAdvice(
        power=power,
        lids=tuple(_least(day, lid, courses, (name, worst)) for lid in LIDS),
        evaporation=wanted,
        as_set=_outcome(day, name),
        as_advised=_outcome(changed, name),
        restored=None if restored is None else _outcome(restored, name),
        fill_frac=fill_frac,
        headspace_m=(1 - fill_frac) * shell.height_m,
        not_restored=why_not,
    )


def _restored(day: BrewDay, changed: BrewDay) -> tuple[BrewDay | None, object]:
    try:
        return with_end_volume(changed.plan, day.wort.end_l, extract_kg=day.wort.extract_kg), None
    except BrewDayError as error:
        return None, error.said


def _least(day: BrewDay, lid: Lid, courses: tuple[Course, Course], at: tuple[str, Worst]) -> LeastBoil:
    """The lowest boiling power with one state of the lid, at the level of the plan's own boil."""
    plan, (step, worst) = day.plan, at
    cases = (AS_PLANNED, worst.conditions)
    caps_w = [
        _least_cap_w(plan, lid, _boil_leg(course, step), case) for course, case in zip(courses, cases, strict=True)
    ]
    full_w = drawn_w(plan)
    return LeastBoil(
        lid=lid,
        least_w=caps_w[0],
        worst_least_w=caps_w[1],
        boils=caps_w[0] <= full_w * TRACE,
        boils_at_worst=caps_w[1] <= full_w * TRACE,
    )


def _least_cap_w(plan: Plan, lid: Lid, leg: Leg, conditions: Conditions) -> float:
    losses = leg.losses if lid == leg.step.lid_state else _boiling_losses(plan, lid, leg, conditions)
    return _cap_w(plan, float(losses.total_w(leg.from_c)[0]) - pump_heat_w(plan, leg.step), conditions)


def _boiling_losses(plan: Plan, lid: Lid, leg: Leg, conditions: Conditions) -> LossCurve:
    """Losses near the boil with another lid."""
    factor = open_surface_factor(plan) * np.asarray(conditions.open_surface_factor)
    shell = shell_of(plan, conditions.loss_factor, factor)
    wetted = np.minimum(leg.before.filled_l(leg.from_c) / shell.volume_l, 1.0)
    boiling_c = math.floor(float(leg.from_c[0]))
    around = surroundings_of(plan, conditions.air_c)
    return loss_curve(around, shell, lid, wetted, low_c=boiling_c - 3.0, high_c=boiling_c + 3.0)


def _outcome(day: BrewDay, step: str) -> BoilOutcome:
    phase = next(phase for phase in day.phases if (phase.step, phase.phase) == (step, "boil"))
    hours, evaporated_l = phase.duration_s / 3600, phase.evaporated_kg / COLD_KG_PER_L
    planned = next(s for s in day.plan.steps if s.name == step)
    return BoilOutcome(
        power_w=capped_w(day.plan.vessel, planned.hold_power_w),
        boils=phase.to_c >= phase.from_c,
        water_l=day.plan.batch.water_l,
        evaporated_l=evaporated_l,
        evaporated_l_per_h=evaporated_l / hours,
        evaporated_per_h=evaporated_l / hours / day.wort.before_boil_l,
        end_l=day.wort.end_l,
        gravity_end=day.wort.gravity_end,
        boil_kwh=phase.energy_j / JOULES_PER_KWH,
        day_kwh=day.energy_kwh,
        day_min=day.duration_s / 60,
    )
