"""Per step: the lowest power that still does its job, and what setting it changes."""

import math
from dataclasses import dataclass

from energyplan.advice.worst import COLDER_K, Worst, worst_of
from energyplan.brewday import BrewDay, Phase, simulate
from energyplan.constants import JOULES_PER_KWH
from energyplan.course import Course, run
from energyplan.errors import BrewDayError
from energyplan.physics.water import latent_heat_j_per_kg
from energyplan.plan import Plan, Step
from energyplan.supply import elements_on

__all__ = ["PowerAdvice", "PowerRow", "advise", "with_advised_caps"]

MARGIN = 1.1  # advised over needed [assumption]
WANTED_EVAPORATION_PER_H = 0.06  # share of the volume; large practice 4 to 8 % (EU JRC best practice pages)
SAVES_NOTHING = (
    "A lower cap on a hold saves next to no energy: under a thermostat the mean power equals the loss. It limits the "
    "load and, with switched elements, frees current."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerRow:
    """Power of one hold or boil.

    ``set_w`` is what the plan caps it at (all elements without a cap), ``needed_w`` the least that does the job in
    the worst plausible case (a hold) or as planned (a boil), ``advised_w`` the next power step above it with a
    margin. ``lowest_c`` is the lowest temperature of the phase when simulated with the advised power in the worst
    case, ``set_lowest_c`` with the set power. ``energy_change_kwh`` compares the day as planned with advised and set
    power; ``current_freed_a`` is the difference of the current while the elements are on.
    """

    step: str
    phase: str
    target_c: float
    set_w: float
    needed_w: float
    advised_w: float
    lowest_c: float
    set_lowest_c: float
    energy_change_kwh: float
    evaporation_change_kg: float
    current_freed_a: float
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerAdvice:
    """Advice for every hold and boil of a day, the conditions it is made for, and what can't be said."""

    rows: tuple[PowerRow, ...]
    worst: Worst
    notes: tuple[str, ...]


def advise(day: BrewDay, *, evaporation_per_h: float = WANTED_EVAPORATION_PER_H) -> PowerAdvice:
    """Advise a power for every hold and boil of a day.

    Parameters
    ----------
    day : BrewDay
        The day as planned.
    evaporation_per_h : float
        Wanted evaporation of a boil, share of the volume before it per hour (0.02 to 0.2).

    Notes
    -----
    Hold: heat that keeps the target in the worst plausible case, less the pump's, over the share of a capped power
    that low mains and a weak element leave; times 1.1; up to the next power step. Boil: dry loss and latent heat of
    the wanted evaporation as planned, at least 1.1 times the power that boils at all.
    """
    plan, worst, extract_kg = day.plan, worst_of(day.plan), day.wort.extract_kg
    unlimited, notes = _worst_course(_with_caps(plan, dict.fromkeys(_held(plan))), worst, extract_kg)
    wanted = [_wanted(day, phase, unlimited, worst, evaporation_per_h) for phase in _advised_phases(day)]
    advised = {step: advised_w for step, _, advised_w, _ in wanted}
    changed = simulate(_with_caps(plan, advised), extract=extract_kg)
    lowest = _lowest(_worst_course(_with_caps(plan, advised), worst, extract_kg)[0])
    set_lowest = _lowest(_worst_course(plan, worst, extract_kg)[0])
    rows = tuple(
        _row(day, changed, phase, (needed_w, advised_w, why), (lowest, set_lowest))
        for phase, (_, needed_w, advised_w, why) in zip(_advised_phases(day), wanted, strict=True)
    )
    return PowerAdvice(rows=rows, worst=worst, notes=(SAVES_NOTHING, *notes))


def with_advised_caps(plan: Plan, advice: PowerAdvice) -> Plan:
    """The plan with every advised power set as the step's hold power."""
    return _with_caps(plan, {row.step: row.advised_w for row in advice.rows})


def _held(plan: Plan) -> list[str]:
    return [step.name for step in plan.steps if step.heats and step.hold_s > 0]


def _advised_phases(day: BrewDay) -> list[Phase]:
    return [phase for phase in day.phases if phase.phase in ("hold", "boil")]


def _with_caps(plan: Plan, caps_w: dict[str, float | None] | dict[str, float]) -> Plan:
    steps = tuple(
        step.model_copy(update={"hold_power_w": caps_w[step.name]}) if step.name in caps_w else step
        for step in plan.steps
    )
    return plan.model_copy(update={"steps": steps})


def _worst_course(plan: Plan, worst: Worst, extract_kg: float) -> tuple[Course | None, tuple[str, ...]]:
    """The day in the worst case; when it can't be run, None and the sentence that says why."""
    try:
        return run(plan, worst.conditions, extract_kg=extract_kg), ()
    except BrewDayError as error:
        return None, (f"In the worst plausible case the day can't be brewed as set: {error}",)


def _lowest(course: Course | None) -> dict[tuple[str, str], float]:
    found: dict[tuple[str, str], float] = {}
    for leg in course.legs if course else ():
        key = (leg.step.name, leg.phase)
        if leg.outcome.duration_s[0] > 0:
            found[key] = min(found.get(key, math.inf), float(leg.lowest_c[0]))
    return found


def _step(plan: Plan, name: str) -> Step:
    return next(step for step in plan.steps if step.name == name)


def _pump_heat_w(plan: Plan, step: Step) -> float:
    return plan.vessel.pump_heat * plan.vessel.pump_w if step.pump_runs else 0.0


def _wanted(
    day: BrewDay, phase: Phase, unlimited: Course | None, worst: Worst, evaporation_per_h: float
) -> tuple[str, float, float, str]:
    """Step, needed and advised power [W] and the reason."""
    if phase.phase == "boil":
        needed_w, advised_w, why = _for_boil(day, phase, worst, evaporation_per_h)
    else:
        needed_w, advised_w, why = _for_hold(day, phase, unlimited, worst)
    return phase.step, needed_w, advised_w, why


def _for_hold(day: BrewDay, phase: Phase, unlimited: Course | None, worst: Worst) -> tuple[float, float, str]:
    plan, step = day.plan, _step(day.plan, phase.step)
    nominal_w = max(phase.needed_w - _pump_heat_w(plan, step), 0.0)
    legs = [leg for leg in unlimited.legs if (leg.step.name, leg.phase) == (step.name, "hold")] if unlimited else []
    worst_w = max(float(legs[-1].needed_w[0]) - _pump_heat_w(plan, step), 0.0) if legs else nominal_w * worst.loss_frac
    needed_w = worst_w / worst.sag_frac(plan.voltage_v)
    advised_w = _next_power_w(plan, needed_w * MARGIN)
    why = (
        f"keeps the target in the worst plausible case (air {COLDER_K:g} K colder, {worst.voltage_v:.0f} V, a weak "
        f"element, {worst.loss_frac:.0%} of the loss); as planned {nominal_w:.0f} W would do"
    )
    return needed_w, advised_w, why


def _for_boil(day: BrewDay, phase: Phase, worst: Worst, evaporation_per_h: float) -> tuple[float, float, str]:
    plan, step = day.plan, _step(day.plan, phase.step)
    pump_w = _pump_heat_w(plan, step)
    least_w = max(phase.needed_w - pump_w, 0.0)
    dry_w = phase.heat_lost_j / phase.duration_s
    litres_per_h = evaporation_per_h * day.wort.before_boil_l
    vapour_w = litres_per_h / 3600 * float(latent_heat_j_per_kg(phase.from_c))
    wanted_w = max(dry_w + vapour_w - pump_w, least_w * MARGIN)
    advised_w = _next_power_w(plan, wanted_w)
    share_w = dry_w + vapour_w - pump_w
    rolls = "" if share_w >= least_w * MARGIN else ", less than a rolling boil needs"
    why = (
        f"below {least_w:.0f} W it stops boiling, as planned; {evaporation_per_h:.0%} of the volume an hour takes "
        f"{share_w:.0f} W{rolls}; at {worst.voltage_v:.0f} V with a weak element a cap gives "
        f"{worst.sag_frac(plan.voltage_v):.0%} of itself"
    )
    return least_w, advised_w, why


def _next_power_w(plan: Plan, wanted_w: float) -> float:
    """The smallest power that can be set and is not below the wanted one (all elements at most)."""
    vessel = plan.vessel
    if vessel.control == "switched":
        return _next_combination_w(plan, wanted_w)
    most_w = sum(element.power_w for element in vessel.elements)
    return min(math.ceil(wanted_w / vessel.power_step_w - 1e-9) * vessel.power_step_w, most_w)


def _next_combination_w(plan: Plan, wanted_w: float) -> float:
    from itertools import combinations

    elements = plan.vessel.elements
    sizes = range(1, len(elements) + 1)
    sums = {sum(e.power_w for e in choice) for size in sizes for choice in combinations(elements, size)}
    return min((value for value in sums if value >= wanted_w), default=max(sums))


def _row(
    day: BrewDay,
    changed: BrewDay,
    phase: Phase,
    advice: tuple[float, float, str],
    lowest: tuple[dict[tuple[str, str], float], dict[tuple[str, str], float]],
) -> PowerRow:
    needed_w, advised_w, why = advice
    plan, step = day.plan, _step(day.plan, phase.step)
    after = next(p for p in changed.phases if (p.step, p.phase) == (phase.step, phase.phase))
    key = (phase.step, phase.phase)
    all_w = sum(element.power_w for element in plan.vessel.elements)
    return PowerRow(
        step=phase.step,
        phase=phase.phase,
        target_c=phase.from_c if step.target_c is None else step.target_c,
        set_w=all_w if step.hold_power_w is None else step.hold_power_w,
        needed_w=needed_w,
        advised_w=advised_w,
        lowest_c=lowest[0].get(key, after.lowest_c),
        set_lowest_c=lowest[1].get(key, phase.lowest_c),
        energy_change_kwh=(after.energy_j - phase.energy_j) / JOULES_PER_KWH,
        evaporation_change_kg=after.evaporated_kg - phase.evaporated_kg,
        current_freed_a=_on_a(plan, step.hold_power_w) - _on_a(plan, advised_w),
        why=why,
    )


def _on_a(plan: Plan, cap_w: float | None) -> float:
    """Current while the elements of a cap are on, at the plan's voltage [A]."""
    return sum(element.power_w / element.voltage_v**2 for element in elements_on(plan.vessel, cap_w)) * plan.voltage_v
