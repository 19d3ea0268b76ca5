"""What a day says of itself: what it rests on, and slips of its plan, which can be brewed but are hardly meant."""

from collections.abc import Iterator
from itertools import zip_longest
from typing import Literal

from energyplan.base.records import dataclass
from energyplan.day.course import Arrival, Course
from energyplan.day.legs import COLD_C
from energyplan.plan.model import Action, Plan, Step
from energyplan.plan.steps import grain_portions

__all__ = ["DayNote", "Slip", "SlipCode", "notes_of", "slips_of", "without_summer_time"]

DayNote = Literal[
    "loss estimated", "no gravity", "taken as mixed", "air beyond", "vessel beyond", "draught beyond",
    "gravity beyond", "moisture beyond",
]  # fmt: skip
SlipCode = Literal[
    "grain in the boil", "power above the elements", "mash after mash-out", "grain after the boil", "cools by waiting",
    "hot strike", "hot mash", "thick mash", "thin mash", "hot tap water", "no summer time", "open ramp",
    "sparge without grain",
]  # fmt: skip

LEAST_CHECKED_C, MOST_CHECKED_C = 0.0, 40.0
SMALLEST_CHECKED_M, LARGEST_CHECKED_M = 0.2, 0.6
LAMINAR_M2_PER_S = 5e5 * 1.6e-5  # Reynolds number times the viscosity of air at 30 °C
MOST_TABLED_GRAVITY, MOST_TABLED_MOISTURE = 1.130, 0.08
# Common practice, no source.
MASH_OUT_C, COOLED_MASH_K = 75.0, 3.0
MOST_COOLING_K = 30.0  # that anybody waits for
HOTTEST_STRIKE_C, HOTTEST_MASH_C = 85.0, 78.0
THICKEST_L_PER_KG, THINNEST_L_PER_KG = 1.8, 8.0
HOTTEST_TAP_C = 60.0
LONGEST_OPEN_RAMP_S = 20 * 60.0
# Names of the time zone database that keep one offset all year, of places whose clocks mostly change.
_FIXED = frozenset({"GMT", "GMT0", "GMT+0", "GMT-0", "Greenwich", "EST", "MST", "HST"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """Something that is hardly meant: its code, its step ("" for none), and the value that gives it away.

    The value's unit follows from the code: °C, K, W, L/kg or s; ``zone`` is a time zone's name.
    """

    code: SlipCode
    step: str = ""
    value: float = 0.0
    zone: str = ""


def slips_of(plan: Plan, course: Course) -> tuple[Slip, ...]:
    """All slips of a day as planned, in the order of its steps."""
    found = [*_of_the_file(plan), *_of_the_grain(plan), *_of_mashing_in(course), *_of_the_legs(course)]
    places = {step.name: place for place, step in enumerate(plan.steps)}
    return tuple(sorted(found, key=lambda slip: places.get(slip.step, -1)))


def without_summer_time(zone: str | None) -> bool:
    """Whether a zone's name is that of one offset, where people would name a place."""
    return zone is not None and (zone in _FIXED or zone.removeprefix("Etc/").startswith("GMT"))


def _of_the_file(plan: Plan) -> Iterator[Slip]:
    """What the plan says by itself: powers, water, clock."""
    most_w = sum(element.power_w for element in plan.vessel.elements)
    for step in plan.steps:
        highest_w = max(step.ramp_power_w or 0.0, step.hold_power_w or 0.0)
        if highest_w > most_w:
            yield Slip(code="power above the elements", step=step.name, value=highest_w)
        for action in step.before:
            if action.kind == "add water" and action.temperature_c > HOTTEST_TAP_C:
                yield Slip(code="hot tap water", step=step.name, value=action.temperature_c)
    if plan.batch.water_temperature_c > HOTTEST_TAP_C:
        yield Slip(code="hot tap water", value=plan.batch.water_temperature_c)
    if without_summer_time(plan.site.time_zone):
        yield Slip(code="no summer time", zone=plan.site.time_zone or "")


@dataclass(slots=True)
class _Wort:
    """What has happened to a wort so far."""

    grain_kg: float = 0.0
    mashed: bool = False
    lifted_in: str = ""  # the step that takes the grain out, over which it hangs and can still be rinsed
    hottest_mash_c: float = 0.0
    boiled: bool = False


def _of_the_grain(plan: Plan) -> Iterator[Slip]:
    """Follow the grain: in the boil, mashed after mash-out, added after the boil, gone when it is to be rinsed."""
    portions, wort = grain_portions(plan.steps, plan.batch.grain_kg), _Wort()
    for place, step in enumerate(plan.steps):
        for action, grain_kg in zip(step.before, portions[step.name], strict=True):
            if action.kind == "empty":
                wort = _Wort()
            elif action.kind == "remove grain":
                wort.grain_kg, wort.lifted_in = 0.0, step.name
            elif action.kind == "add sparge water" and wort.grain_kg == 0 and wort.lifted_in != step.name:
                yield Slip(code="sparge without grain", step=step.name)
            elif action.kind == "add grain":
                wort.grain_kg, wort.mashed = wort.grain_kg + grain_kg, True
                if wort.boiled:
                    yield Slip(code="grain after the boil", step=step.name)
        yield from _of_a_step(step, wort, comes_later=_grain_comes(plan.steps[place + 1 :]))


def _of_a_step(step: Step, wort: _Wort, *, comes_later: bool) -> Iterator[Slip]:
    if step.boil:
        if wort.grain_kg > 0 and not comes_later:  # a part of the mash may boil before the rest goes in
            yield Slip(code="grain in the boil", step=step.name)
        wort.boiled = wort.boiled or (wort.mashed and wort.grain_kg <= 0)  # water without malt is no wort
    elif step.target_c is not None and wort.grain_kg > 0:
        cooler = step.target_c < wort.hottest_mash_c - COOLED_MASH_K
        if wort.hottest_mash_c >= MASH_OUT_C and cooler and step.hold_s > 0:
            yield Slip(code="mash after mash-out", step=step.name, value=step.target_c)
        wort.hottest_mash_c = max(wort.hottest_mash_c, step.target_c)


def _grain_comes(steps: tuple[Step, ...]) -> bool:
    """Whether more grain goes in before the vessel is emptied."""
    for step in steps:
        for action in step.before:
            if action.kind in ("empty", "add grain"):
                return action.kind == "add grain"
    return False


def _of_mashing_in(course: Course) -> Iterator[Slip]:
    """Temperatures at which grain goes in, and how thick the mash gets."""
    grain_kg = 0.0
    for arrival, following in zip_longest(course.arrivals, course.arrivals[1:]):
        if not isinstance(arrival.action, Action) or arrival.action.kind in ("remove grain", "empty"):
            grain_kg = 0.0
        if arrival.action.kind != "add grain":
            continue
        step, grain_kg = arrival.step.name, grain_kg + (arrival.action.mass_kg or 0.0)
        strike_c, mash_c = float(arrival.from_c[0]), float(arrival.to_c[0])
        if strike_c > HOTTEST_STRIKE_C:
            yield Slip(code="hot strike", step=step, value=strike_c)
        if mash_c > HOTTEST_MASH_C:
            yield Slip(code="hot mash", step=step, value=mash_c)
        if following is None or following.action.kind != "add grain":
            yield from _thickness(arrival, step, grain_kg)


def _thickness(arrival: Arrival, step: str, grain_kg: float) -> Iterator[Slip]:
    l_per_kg = float(arrival.before.liquid_l(COLD_C)[0]) / grain_kg
    if l_per_kg < THICKEST_L_PER_KG:
        yield Slip(code="thick mash", step=step, value=l_per_kg)
    if l_per_kg > THINNEST_L_PER_KG:
        yield Slip(code="thin mash", step=step, value=l_per_kg)


def _of_the_legs(course: Course) -> Iterator[Slip]:
    """What takes long: cooling without a chiller, heating without a lid."""
    for leg in course.legs:
        lasts_s = float(leg.outcome.duration_s[0])
        cooled_k = float(leg.from_c[0] - leg.outcome.end_c[0])
        if leg.phase == "pause" and cooled_k > MOST_COOLING_K:
            yield Slip(code="cools by waiting", step=leg.step.name, value=cooled_k)
        if leg.phase == "ramp" and leg.step.lid_state == "off" and lasts_s > LONGEST_OPEN_RAMP_S:
            yield Slip(code="open ramp", step=leg.step.name, value=lasts_s)


def notes_of(plan: Plan, extract: float) -> tuple[DayNote, ...]:
    """What the day rests on, and where a relation is used outside the range it was made or checked for."""
    vessel, site, batch = plan.vessel, plan.site, plan.batch
    wide_m = max(vessel.diameter_m, vessel.height_m)
    narrow_m = min(vessel.diameter_m, vessel.height_m)
    holds: dict[DayNote, bool] = {
        "loss estimated": vessel.heat_loss_w_per_k is None,
        "no gravity": batch.grain_kg > 0 and extract == 0,
        "taken as mixed": any(step.pause_s > 0 or not step.pump_runs for step in plan.steps if not step.boil),
        "air beyond": not LEAST_CHECKED_C <= site.air_c <= MOST_CHECKED_C,
        "vessel beyond": narrow_m < SMALLEST_CHECKED_M or wide_m > LARGEST_CHECKED_M,
        "draught beyond": site.draught_m_per_s * wide_m > LAMINAR_M2_PER_S,
        "gravity beyond": (batch.gravity or 1.0) > MOST_TABLED_GRAVITY,
        "moisture beyond": batch.grain_kg > 0 and batch.grain_moisture > MOST_TABLED_MOISTURE,
    }
    return tuple(note for note, is_so in holds.items() if is_so)
