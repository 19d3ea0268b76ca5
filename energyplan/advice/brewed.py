"""A brewed day's readings beside its plan: kWh stretch by stretch, and what the day would read under other inputs.

A reading is a number that the printed sheet asks for: the meter's running total at the end of a step, the clock when
the boil began, the litres that boiled off. What a day would read is run over many draws of the plan's inputs once; a
linear view of them tells what each input does to the readings.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from functools import lru_cache
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from energyplan.advice.draws import Uncertainty, conditions_of, latin_hypercube, uncertainties_of
from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.errors import LogError
from energyplan.base.kinds import KWH, WRITTEN
from energyplan.base.load import LoadProfile
from energyplan.base.records import dataclass
from energyplan.base.sentence import Sentence, listed
from energyplan.day.brewday import BrewDay, simulate
from energyplan.day.course import Course, run
from energyplan.plan.model import Plan

__all__ = [
    "VESSEL",
    "Outlook",
    "Reading",
    "Readings",
    "Stretch",
    "measured_profile",
    "misfit",
    "oddest",
    "outlook",
    "stretches",
    "widened",
    "with_open_lids",
]  # fmt: skip

FloatArray = NDArray[np.float64]
Kind = Literal["energy_kwh", "boil_began_min", "boiled_off_l"]

DRAWS, SEED = 400, 7
VESSEL = ("loss_factor", "element_factor", "open_surface_factor")  # what stays the same from brew to brew
# How well readings are taken, as standard deviations [assumptions]: a plug-in meter as a share and a reading of it,
# the minute of the boil, litres by a marked stick.
METER_FRAC, READING_KWH, BOIL_MIN, BOILED_OFF_L, BOILED_OFF_FRAC = 0.006, 0.02, 1.5, 0.15, 0.05
# Times its range, how far off an estimate is still looked for; plates are held to a standard [assumptions].
WIDER = {"loss_factor": 2.5, "open_surface_factor": 1.3, "element_factor": 1.0}
NOTED_K = 0.5  # of a temperature that was noted on the day
LID_SD = 0.4  # share of a step for which its lid was left open: all of it is as rare as 2.5 deviations [assumption]
UNIFORM_SD = 1 / np.sqrt(12)
SQUARE_SD = np.sqrt(0.8)  # of the square of an evenly spread value, in its own variance: 9/5 - 1
TRIMS, RUNS_AWAY, SMALLEST = 3, 6.0, 2e-3  # rounds of a fit without days farther off than so many deviations


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One number that was read: what it is, at the end of which step (energy), its value."""

    kind: Kind
    value: float
    step: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """What was read on a brewed day, in the order of the day, and its plan with what was noted.

    Parameters
    ----------
    plan : Plan
        As brewed: air and water as noted on the day.
    readings : tuple of Reading
        Running totals, boil, boil-off.
    noted : frozenset of str
        Inputs that were noted: ``air_c``, ``water_c``.
    start : datetime or None
        When it began, with its offset from UTC.
    name : str
        What the day is called: its date.
    """

    plan: Plan
    readings: tuple[Reading, ...]
    noted: frozenset[str] = frozenset()
    start: datetime | None = None
    name: str = ""

    def __post_init__(self) -> None:
        if not self.readings:
            raise LogError("no reading: give --metered, or --reading for one step or more")
        steps = [step.name for step in self.plan.steps]
        for one in self.readings:
            if one.step and one.step not in steps:
                raise LogError(Sentence(
                    "the plan has no step “{step}”; it has {steps}",
                    step=WRITTEN(one.step), steps=listed(WRITTEN(name) for name in steps),
                ))  # fmt: skip
        for before, after in pairwise(_energies(self)):
            if after.value < before.value:
                raise LogError(Sentence(
                    "the meter shows {after} after “{later}” and {before} before it: type its running totals, and look "
                    "whether one is mistyped",
                    after=KWH(after.value), later=WRITTEN(after.step or "the end"), before=KWH(before.value),
                ))  # fmt: skip

    @property
    def metered_kwh(self) -> float | None:
        """The last running total [kWh]."""
        totals = _energies(self)
        return totals[-1].value if totals else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """From one reading of the meter to the next: until which step, from, to [s], kWh planned and measured."""

    until: str
    start_s: float
    end_s: float
    planned_kwh: float
    measured_kwh: float


def stretches(day: BrewDay, readings: Readings) -> tuple[Stretch, ...]:
    """Plan beside meter, from reading to reading."""
    found, last_s, planned_before, measured_before = [], 0.0, 0.0, 0.0
    for one in _energies(readings):
        names = {one.step} if one.step else {step.name for step in day.plan.steps}
        end_s = max(phase.end_s for phase in day.phases if phase.step in names)
        planned = sum(phase.energy_j for phase in day.phases if phase.end_s <= end_s + 1e-6) / JOULES_PER_KWH
        found.append(
            Stretch(until=one.step, start_s=last_s, end_s=end_s, planned_kwh=planned - planned_before,
                    measured_kwh=one.value - measured_before)
        )  # fmt: skip
        last_s, planned_before, measured_before = end_s, planned, one.value
    return tuple(found)


def _energies(readings: Readings) -> list[Reading]:
    order = {step.name: place for place, step in enumerate(readings.plan.steps)}
    energies = [one for one in readings.readings if one.kind == "energy_kwh"]
    return sorted(energies, key=lambda one: order.get(one.step, len(order)))


def measured_profile(day: BrewDay, found: Sequence[Stretch]) -> LoadProfile:
    """What the meter counted, over the day as planned: each stretch scaled to what was measured of it."""
    vessel = day.profiles[0]
    edges_s = np.unique(np.concatenate([vessel.edges_s, *([one.start_s, one.end_s] for one in found)]))
    edges_s = edges_s[(edges_s >= found[0].start_s) & (edges_s <= found[-1].end_s)]
    watts = vessel.at(vessel.mean_w, (edges_s[1:] + edges_s[:-1]) / 2)
    for one in found:
        inside = (edges_s[:-1] >= one.start_s) & (edges_s[1:] <= one.end_s)
        spans_s = np.diff(edges_s)[inside]
        planned_j = float(watts[inside] @ spans_s)
        measured_j = one.measured_kwh * JOULES_PER_KWH
        watts[inside] = watts[inside] * measured_j / planned_j if planned_j > 0 else measured_j / spans_s.sum()
    none = np.zeros(watts.size)
    return LoadProfile(name="measured", edges_s=edges_s, mean_w=watts, heater_w_per_v2=none, other_w=none)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outlook:
    """What a day would read, as a function of its inputs near the plan: quadratic in the vessel's, linear in the day's.

    Parameters
    ----------
    uncertainties : tuple of Uncertainty
        The inputs; ``centre``, ``sd`` and ``planned`` are theirs, (inputs,).
    measured : ndarray, shape (readings,)
        What was read.
    level : ndarray, shape (readings,)
        What would be read at the centre of all.
    slopes : ndarray, shape (inputs, readings)
        Change per unit of input.
    curves : ndarray, shape (pairs, readings)
        Change per product of two of the vessel's inputs, pair after pair.
    error, rest : ndarray, shape (readings, readings)
        Covariance of reading, and of what the linear view leaves out.
    lids : tuple of str
        Steps whose lid may have been left open, as a share of each: the last of all inputs.
    """

    uncertainties: tuple[Uncertainty, ...]
    centre: FloatArray
    sd: FloatArray
    planned: FloatArray
    measured: FloatArray
    level: FloatArray
    slopes: FloatArray
    curves: FloatArray
    error: FloatArray
    rest: FloatArray
    lids: tuple[str, ...] = ()

    @property
    def vessel(self) -> list[int]:
        """Places of the inputs that belong to the vessel."""
        return [place for place, one in enumerate(self.uncertainties) if one.input in VESSEL]

    @property
    def of_the_day(self) -> list[int]:
        """Places of the inputs that each day has anew."""
        return [place for place, one in enumerate(self.uncertainties) if one.input not in VESSEL]

    def expected(self, vessel: Mapping[str, FloatArray]) -> FloatArray:
        """What vessels would read on a day with all else at its centre, (draws, readings)."""
        off = np.stack([vessel[self.uncertainties[at].input] - self.centre[at] for at in self.vessel], axis=1)
        return np.asarray(self.level + off @ self.slopes[self.vessel] + _products(off) @ self.curves)

    @property
    def off(self) -> FloatArray:
        """What was read less what the plan would read, (readings,)."""
        apart = self.planned - self.centre
        products = _products(apart[None, self.vessel])
        return np.asarray(self.measured - self.level - apart @ self.slopes - (products @ self.curves)[0])

    @property
    def scatter(self) -> FloatArray:
        """Covariance of the readings of a day whose vessel is known: its own inputs, the reading, the view."""
        own = self.slopes[self.of_the_day] * self.sd[self.of_the_day, None]
        return np.asarray(own.T @ own + self.error + self.rest)


def _fitted(features: FloatArray, would: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Least squares without the few days that hardly get hot any more, whose kWh run away; and what is left over."""
    kept = np.ones(would.shape[0], dtype=np.bool_)
    for _ in range(TRIMS):
        found, *_ = np.linalg.lstsq(features[kept], would[kept], rcond=None)
        left = would - features @ found
        usual = 1.4826 * np.median(np.abs(left[kept]), axis=0) + SMALLEST
        kept = np.asarray((np.abs(left) < RUNS_AWAY * usual).all(axis=1))
    return np.asarray(found), left[kept]


def _products(off: FloatArray) -> FloatArray:
    return np.stack([off[:, a] * off[:, b] for a, b in _pairs(off.shape[1])], axis=1)


def _pairs(inputs: int) -> list[tuple[int, int]]:
    return [(a, b) for a in range(inputs) for b in range(a, inputs)]


def outlook(readings: Readings, *, draws: int = DRAWS, seed: int = SEED) -> Outlook:
    """Run a day over draws of its inputs, and view what it would read.

    Days of one plan that are read alike share the view.

    Raises
    ------
    BrewDayError
        If the plan can't be brewed.
    """
    asked = tuple(replace(one, value=0.0) for one in readings.readings)
    view = _view(readings.plan, asked, readings.noted, draws, seed)
    measured = np.array([one.value for one in readings.readings])
    return replace(view, measured=measured, error=_error(readings.readings))


@lru_cache(maxsize=64)
def _view(plan: Plan, asked: tuple[Reading, ...], noted: frozenset[str], draws: int, seed: int) -> Outlook:
    """What would be read of a plan; nothing is yet."""
    uncertainties = tuple(_narrowed(one, noted) for one in uncertainties_of(plan))
    inputs = latin_hypercube([widened(one) for one in uncertainties], draws=draws, seed=seed)
    course = run(plan, conditions_of(inputs), extract_kg=simulate(plan).wort.extract_kg, go_on=True)
    brewed = np.ones(draws, dtype=np.bool_)
    for mishap in course.mishaps:
        brewed &= ~mishap.which
    would = np.stack([_would_read(course, one) for one in asked], axis=1)[brewed]
    centre = np.array([(one.low + one.high) / 2 for one in uncertainties])
    off = np.stack([inputs[one.input][brewed] for one in uncertainties], axis=1) - centre
    features = np.concatenate([np.ones((off.shape[0], 1)), off, _products(off)], axis=1)
    found, left = _fitted(features, would)
    sd = np.array([(one.high - one.low) * UNIFORM_SD for one in uncertainties])
    is_vessels = np.array([one.input in VESSEL for one in uncertainties])
    curves, bent, scatter = _bends(found[1 + centre.size :], sd, is_vessels)
    return Outlook(
        uncertainties=uncertainties,
        centre=centre,
        sd=sd,
        planned=np.array([_planned(plan, one) for one in uncertainties]),
        measured=np.zeros(len(asked)),
        level=found[0] + bent,
        slopes=found[1 : 1 + centre.size],
        curves=curves,
        error=np.zeros((len(asked), len(asked))),
        rest=left.T @ left / left.shape[0] + scatter,
    )


def with_open_lids(found: Outlook, readings: Readings) -> Outlook:
    """The view with one more input for each closed step that would read otherwise with its lid off."""
    asked = tuple(replace(one, value=0.0) for one in readings.readings)
    closed = [step.name for step in readings.plan.steps if step.lid_state == "on"]
    changes = {name: _opened(readings.plan, name, asked) for name in closed}
    seen = {name: change for name, change in changes.items() if np.abs(change).max() > SMALLEST}
    slopes = np.concatenate([found.slopes, np.reshape([*seen.values()], (len(seen), len(asked)))])
    sd, centre, planned = (
        np.r_[values, np.full(len(seen), its)]
        for values, its in ((found.sd, LID_SD), (found.centre, 0.0), (found.planned, 0.0))
    )
    return replace(found, lids=tuple(seen), slopes=slopes, sd=sd, centre=centre, planned=planned)


@lru_cache(maxsize=256)
def _opened(plan: Plan, name: str, asked: tuple[Reading, ...]) -> FloatArray:
    """How much more would be read had a step's lid been off; nothing where that can't be brewed."""
    extract_kg, read = simulate(plan).wort.extract_kg, []
    opened = tuple(step.model_copy(update={"lid": "off"}) if step.name == name else step for step in plan.steps)
    for steps in (plan.steps, opened):
        course = run(plan.model_copy(update={"steps": steps}), extract_kg=extract_kg, go_on=True)
        if course.mishaps:
            return np.zeros(len(asked))
        read.append(np.array([_would_read(course, one)[0] for one in asked]))
    return np.asarray(read[1] - read[0])


def _bends(curved: FloatArray, sd: FloatArray, is_vessels: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Changes per product of two inputs: those of the vessel's; the mean of all others, and their covariance."""
    pairs = _pairs(sd.size)
    both, square = np.array([(is_vessels[a] and is_vessels[b], a == b) for a, b in pairs]).T
    size = np.array([sd[a] * sd[b] for a, b in pairs]) * ~both
    scattered = curved * np.where(square, SQUARE_SD * size, size)[:, None]
    return curved[both], (size * square) @ curved, scattered.T @ scattered


def widened(one: Uncertainty) -> Uncertainty:
    """A vessel's input over more than its range: the estimate itself may be off."""
    middle, half = (one.low + one.high) / 2, WIDER.get(one.input, 1.0) * (one.high - one.low) / 2
    return replace(one, low=max(middle - half, 0.1 * middle), high=middle + half) if one.input in VESSEL else one


def _planned(plan: Plan, one: Uncertainty) -> float:
    """The value of an input that the plan takes; factors are 1."""
    values = {
        "air_c": plan.site.air_c, "water_c": plan.batch.water_temperature_c, "grain_c": plan.grain_c,
        "voltage_v": plan.voltage_v,
    }  # fmt: skip
    return values.get(one.input, 1.0)


def _narrowed(one: Uncertainty, noted: frozenset[str]) -> Uncertainty:
    """An input as uncertain as it is once it was noted on the day."""
    if one.input not in noted:
        return one
    middle = (one.low + one.high) / 2
    return replace(one, low=middle - NOTED_K, high=middle + NOTED_K)


def _would_read(course: Course, reading: Reading) -> FloatArray:
    """A reading of each draw."""
    boils = [leg for leg in course.legs if leg.phase == "boil"]
    if reading.kind == "boil_began_min":
        return np.asarray(boils[0].start_s / 60) if boils else np.zeros(course.start_c.size)
    if reading.kind == "boiled_off_l":
        return np.asarray(np.sum([leg.outcome.vapour_kg for leg in boils], axis=0) + np.zeros(course.start_c.size))
    last = max(
        (at for at, leg in enumerate(course.legs) if leg.step.name == reading.step), default=len(course.legs) - 1
    )
    used_j = np.sum([leg.board_w * leg.outcome.duration_s for leg in course.legs[: last + 1]], axis=0)
    return np.asarray(used_j / JOULES_PER_KWH + np.zeros(course.start_c.size))


def _error(readings: Sequence[Reading]) -> FloatArray:
    """Covariance of readings: a meter that is off is so in all of a day's readings alike."""
    totals = np.array([one.value if one.kind == "energy_kwh" else 0.0 for one in readings])
    own = np.array([_own_error(one) for one in readings])
    return np.asarray(METER_FRAC**2 * np.outer(totals, totals) + np.diag(own**2))


def _own_error(reading: Reading) -> float:
    match reading.kind:
        case "energy_kwh":
            return READING_KWH
        case "boil_began_min":
            return BOIL_MIN
        case _:
            return float(np.hypot(BOILED_OFF_L, BOILED_OFF_FRAC * reading.value))


def misfit(found: Outlook) -> float:
    """Mean square of readings beside the plan over their errors; about 1 if all was as planned."""
    return float(found.off @ np.linalg.inv(found.error + found.rest) @ found.off) / found.off.size


def oddest(found: Outlook) -> int:
    """Place of the reading without which the others fit best, whatever day and vessel are like within their ranges."""
    all_of_it = found.slopes * found.sd[:, None]
    scatter, off = all_of_it.T @ all_of_it + found.error + found.rest, found.off

    def left(place: int) -> float:
        kept = np.delete(np.arange(off.size), place)
        return float(off[kept] @ np.linalg.solve(scatter[np.ix_(kept, kept)], off[kept]))

    return min(range(off.size), key=left)
