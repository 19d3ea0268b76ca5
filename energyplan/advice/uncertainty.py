"""Ranges: the day under uncertain inputs, which of them drives what, and how likely something goes wrong."""

from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime, tzinfo
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from energyplan.advice.drawcosts import DrawCircuit, draw_circuit, draw_costs, loads_of
from energyplan.advice.draws import (
    QUANTILES,
    Uncertainty,
    conditions_of,
    latin_hypercube,
    quantile_errors,
    rank_correlation,
    uncertainties_of,
)
from energyplan.advice.holds import BAND_K, hold_legs, least_cap_w
from energyplan.advice.learned import Learned
from energyplan.advice.odds import DRAWS, SEED, drawn_lowest_c, longest_mash_hold
from energyplan.advice.pricing import Pricing
from energyplan.base.errors import BrewDayError
from energyplan.base.records import dataclass
from energyplan.base.sentence import Sentence
from energyplan.day.brewday import simulate
from energyplan.day.course import Course, run
from energyplan.day.legs import COLD_C
from energyplan.plan.model import Plan, Step

__all__ = ["Chance", "Driver", "Failure", "Range", "Spread", "SpreadRun", "spread"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

BLOCK = 500  # draws that go through the day at once: what stays in the processor's cache
FEWEST_LEFT = 10
KEYS = (
    "energy_kwh", "cost", "minutes", "lowest_mash_c", "hold_cap_w", "least_boil_w", "end_volume_l", "peak_a",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Driver:
    """How an input drives an output: rank correlation from -1 to 1 (Spearman)."""

    name: str
    correlation: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """Where one number of the day lies: one day in ten is below ``p10``, half below ``p50``, one in ten above ``p90``.

    ``errors`` are the standard errors of the three, as if the draws were independent; ``drivers`` the inputs, the
    strongest first.
    """

    key: str
    planned: float
    p10: float
    p50: float
    p90: float
    errors: tuple[float, float, float]
    drivers: tuple[Driver, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Chance:
    """How likely something is: the share of the draws, and its standard error.

    ``kind`` is "sag" (a hold leaves its band downwards), "boil" (it stops boiling) or "over" (a rating is passed by
    more than the slack of nameplates while elements are on).
    """

    kind: str
    name: str
    frac: float
    error: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Failure:
    """Draws that can't be brewed: how many, at which step, and the words of the error."""

    step: str
    draws: int
    message: Sentence


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spread:
    """The day under uncertain inputs.

    ``inputs`` and ``outputs`` hold the draws that can be brewed, by the field of `Conditions` and by the key of the
    range; ``failed_frac`` is the share of those that can't, and ``failures`` say why. ``days`` brewed days taught
    about the vessel. ``start`` is that of the costs, on the local clock.
    """

    plan: Plan
    draws: int
    seed: int
    band_k: float
    uncertainties: tuple[Uncertainty, ...]
    ranges: tuple[Range, ...]
    chances: tuple[Chance, ...]
    failed_frac: float
    failures: tuple[Failure, ...]
    currency: str
    inputs: dict[str, FloatArray]
    outputs: dict[str, FloatArray]
    days: int = 0
    start: datetime | None = None

    def range_of(self, key: str) -> Range:
        """A range by its key."""
        return next(found for found in self.ranges if found.key == key)


@dataclass(frozen=True, slots=True, kw_only=True)
class SpreadRun:
    """How a spread is run: number of draws, seed, half width of the band [K], and who is told of the progress.

    ``learned`` is what brewed days have taught about the vessel; ``progress`` is
    called with the draws done and the draws in all, after each block.
    """

    draws: int = DRAWS
    seed: int = SEED
    band_k: float = BAND_K
    progress: Callable[[int, int], None] | None = None
    learned: Learned | None = None


def spread(
    plan: Plan,
    *,
    uncertainties: Sequence[Uncertainty] | None = None,
    pricing: Pricing | None = None,
    zone: tzinfo | None = None,
    how: SpreadRun | None = None,
) -> Spread:
    """Work out the ranges of a day.

    Parameters
    ----------
    plan : Plan
        The plan.
    uncertainties : sequence of Uncertainty, optional
        What is uncertain, and how much; by default `uncertainties_of`.
    pricing : Pricing, optional
        Prices and start; without it there is no cost, and other loads with a window count as if the day began at
        midnight UTC.
    zone : tzinfo, optional
        Zone of the other loads' clock; by default that of the prices, else UTC.
    how : SpreadRun, optional
        Draws, seed, band, progress.

    Raises
    ------
    BrewDayError
        If the plan itself, or almost every draw of it, can't be brewed.
    PlanError
        If the uncertainties make no sense.
    TariffError
        If a draw runs into a time without a price.

    Notes
    -----
    Latin hypercube with a seed; all draws go through the same simulation as the plan itself, side by side. An input
    is one number for the whole day: a weak element is weak in every ramp. A draw that can't be brewed is counted, and
    left out of the ranges. Quantiles by linear interpolation; their standard errors from the order statistics a
    binomial standard deviation to either side.
    """
    how = how or SpreadRun()
    return _Spreader(plan, tuple(uncertainties or uncertainties_of(plan)), pricing, zone, how).spread()


class _Spreader:
    """One spread while it is being worked out."""

    def __init__(
        self,
        plan: Plan,
        uncertainties: tuple[Uncertainty, ...],
        pricing: Pricing | None,
        zone: tzinfo | None,
        how: SpreadRun,
    ) -> None:
        self.plan, self.uncertainties, self.pricing, self.how = plan, uncertainties, pricing, how
        self.base = simulate(plan)
        self.inputs = latin_hypercube(uncertainties, draws=how.draws, seed=how.seed)
        if how.learned is not None:
            self.uncertainties = how.learned.narrowed(uncertainties)
            self.inputs |= how.learned.drawn(how.draws, how.seed)
        self.circuit = self._circuit(zone)
        self.mash = longest_mash_hold(plan)
        self.boil = next((step for step in reversed(plan.steps) if step.boil and step.hold_s > 0), None)

    def _circuit(self, zone: tzinfo | None) -> DrawCircuit | None:
        if self.plan.circuit is None:
            return None
        start = self.pricing.start if self.pricing else datetime(2000, 1, 1, tzinfo=UTC)
        clock = zone or (ZoneInfo(self.pricing.clock) if self.pricing else UTC)
        return draw_circuit(self.base, start, clock, longest_s=2 * self.base.duration_s)

    def spread(self) -> Spread:
        blocks = [self._block(slice(first, min(first + BLOCK, self.how.draws))) for first in self._firsts()]
        numbers = {key: np.concatenate([block.numbers[key] for block in blocks]) for key in blocks[0].numbers}
        marks = {key: np.concatenate([block.marks[key] for block in blocks]) for key in blocks[0].marks}
        brewed = ~np.concatenate([block.failed for block in blocks])
        failures = _summed([failure for block in blocks for failure in block.failures])
        if int(brewed.sum()) < FEWEST_LEFT:
            raise BrewDayError(Sentence("almost no draw can be brewed: {why}", why=failures[0].message))
        inputs = {key: values[brewed] for key, values in self.inputs.items()}
        outputs = {key: values[brewed] for key, values in numbers.items()}
        return Spread(
            plan=self.plan,
            draws=self.how.draws,
            seed=self.how.seed,
            band_k=self.how.band_k,
            uncertainties=self.uncertainties,
            ranges=tuple(self._ranges(inputs, outputs)),
            chances=tuple(_chance(*key, mark[brewed]) for key, mark in marks.items()),
            failed_frac=float(np.mean(~brewed)),
            failures=failures,
            currency=self.pricing.line.currency if self.pricing else "",
            inputs=inputs,
            outputs=outputs,
            days=self.how.learned.days if self.how.learned else 0,
            start=self.pricing.local_start if self.pricing else None,
        )

    def _firsts(self) -> Iterator[int]:
        for first in range(0, self.how.draws, BLOCK):
            yield first
            if self.how.progress is not None:
                self.how.progress(min(first + BLOCK, self.how.draws), self.how.draws)

    def _block(self, which: slice) -> "_Block":
        conditions = conditions_of(self.inputs, which)
        course = run(self.plan, conditions, extract_kg=self.base.wort.extract_kg, go_on=True)
        failed = np.zeros(course.start_c.shape, dtype=bool)
        for mishap in course.mishaps:
            failed |= mishap.which
        loads = loads_of(self.plan, course)
        if failed.any():  # what they say is meaningless, and may lie beyond the prices
            loads = loads.kept(~failed)
        voltage_v = self._input("voltage_v", which, self.plan.voltage_v)
        factor = self._input("element_factor", which, 1.0)
        numbers = self._numbers(course)
        if self.mash is not None:
            numbers["hold_cap_w"] = least_cap_w(self.plan, course, self.mash, voltage_v, factor)
        if self.boil is not None:
            numbers["least_boil_w"] = least_cap_w(self.plan, course, self.boil, voltage_v, factor)
        numbers["energy_kwh"] = _put(loads.energy_kwh, failed)
        if self.pricing:
            money = draw_costs(loads, self.pricing.line, self.pricing.start)
            numbers["cost"] = _put(money, failed)
        marks = self._marks(course)
        if self.circuit is not None:
            currents = self.circuit.currents(course, voltage_v, factor)
            numbers["peak_a"] = currents.peak_a
            marks |= {("over", name): over for name, over in self.circuit.over(currents).items()}
        failures = [Failure(step=m.step, draws=int(m.which.sum()), message=m.message) for m in course.mishaps]
        return _Block(numbers=numbers, marks=marks, failed=failed, failures=failures)

    def _input(self, name: str, which: slice, planned: float) -> FloatArray:
        size = len(range(*which.indices(self.how.draws)))
        return self.inputs[name][which] if name in self.inputs else np.full(size, planned)

    def _numbers(self, course: Course) -> dict[str, FloatArray]:
        """Numbers of each draw, by their key."""
        numbers = {"minutes": course.legs[-1].end_s / 60}
        if self.mash is not None:
            numbers["lowest_mash_c"] = drawn_lowest_c(course, self.mash.name)
        boils = [leg for leg in course.legs if leg.phase == "boil"]
        if boils:
            numbers["end_volume_l"] = boils[-1].outcome.contents.liquid_l(COLD_C)
        return numbers

    def _marks(self, course: Course) -> dict[tuple[str, str], BoolArray]:
        """What goes wrong in which draw, by kind and name."""
        marks: dict[tuple[str, str], BoolArray] = {}
        anywhere = np.zeros(course.start_c.shape, dtype=bool)
        for step in self.plan.steps:
            if step.target_c is not None and hold_legs(course, step.name):
                sags = drawn_lowest_c(course, step.name) < step.target_c - self.how.band_k
                marks["sag", step.name] = sags
                anywhere |= sags
            for leg in hold_legs(course, step.name, "boil"):
                marks["boil", step.name] = leg.outcome.end_c < leg.from_c
        if len([key for key in marks if key[0] == "sag"]) > 1:
            marks["sag", "any hold"] = anywhere
        return marks

    def _ranges(self, inputs: dict[str, FloatArray], outputs: dict[str, FloatArray]) -> Iterator[Range]:
        planned = self._planned()
        for key in KEYS:
            if key not in outputs:
                continue
            values = outputs[key]
            p10, p50, p90 = (float(value) for value in np.quantile(values, QUANTILES))
            yield Range(
                key=key,
                planned=planned[key],
                p10=p10,
                p50=p50,
                p90=p90,
                errors=quantile_errors(values),
                drivers=self._drivers(inputs, values),
            )

    def _planned(self) -> dict[str, float]:
        """The same numbers as planned."""
        day = self.base
        found = {"energy_kwh": day.energy_kwh, "minutes": day.duration_s / 60, "end_volume_l": day.wort.end_l}
        if self.pricing:
            found["cost"] = float(self.pricing.cost(day))
        if self.mash is not None:
            found["lowest_mash_c"] = min(
                p.lowest_c for p in day.phases if (p.step, p.phase) == (self.mash.name, "hold")
            )
            found["hold_cap_w"] = self._planned_cap_w(self.mash)
        if self.boil is not None:
            found["least_boil_w"] = self._planned_cap_w(self.boil)
        if self.circuit is not None:
            studied = self.circuit.studied
            found["peak_a"] = studied.peak_a(studied.entered)
        return found

    def _planned_cap_w(self, step: Step) -> float:
        """The lowest cap that keeps a step's temperature as planned [W]."""
        course = self.base.planned_course()
        return float(least_cap_w(self.plan, course, step, np.array([self.plan.voltage_v]), np.ones(1))[0])

    def _drivers(self, inputs: dict[str, FloatArray], values: FloatArray) -> tuple[Driver, ...]:
        found = [
            Driver(name=uncertainty.name, correlation=rank_correlation(inputs[uncertainty.input], values))
            for uncertainty in self.uncertainties
        ]
        return tuple(sorted(found, key=lambda driver: -abs(driver.correlation)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Block:
    """What comes of some of the draws."""

    numbers: dict[str, FloatArray]
    marks: dict[tuple[str, str], BoolArray]
    failed: BoolArray
    failures: list[Failure]


def _put(values: FloatArray, failed: BoolArray) -> FloatArray:
    """Values of the draws that can be brewed, at their places among all (0 at the others, which are left out)."""
    found = np.zeros(failed.shape)
    found[~failed] = values
    return found


def _summed(failures: list[Failure]) -> tuple[Failure, ...]:
    """One entry for each step, the most frequent first."""
    found: dict[str, Failure] = {}
    for failure in failures:
        had = found.get(failure.step)
        draws = failure.draws + (had.draws if had else 0)
        found[failure.step] = Failure(step=failure.step, draws=draws, message=had.message if had else failure.message)
    return tuple(sorted(found.values(), key=lambda failure: -failure.draws))


def _chance(kind: str, name: str, mark: BoolArray) -> Chance:
    frac = float(mark.mean())
    return Chance(kind=kind, name=name, frac=frac, error=float(np.sqrt(frac * (1 - frac) / mark.size)))
