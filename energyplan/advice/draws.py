"""Conditions that a day may meet: many draws of them, their quantiles, and the worst plausible case."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from energyplan.base.errors import PlanError
from energyplan.base.records import dataclass
from energyplan.day.course import Conditions
from energyplan.plan.model import Plan

__all__ = [
    "QUANTILES",
    "Input",
    "Taught",
    "Uncertainty",
    "Worst",
    "conditions_of",
    "inputs_of",
    "latin_hypercube",
    "open_surface_within",
    "quantile_errors",
    "quantiles",
    "rank_correlation",
    "uncertainties_of",
    "worst_of",
]

# Share by which the loss may exceed its value: an estimate from geometry, a measured one without its own half width
# [assumptions].
ESTIMATE_HIGH_FRAC = 0.25


MEASURED_HIGH_FRAC = 0.10


COLDER_K = 5.0  # how much colder the place may be than entered [assumption]


# Lower end of the mains: 230 V -6 % (HD 472, BS 7671 appendix); 120/240 V -5 % (ANSI C84.1 range A); from memory.
LOW_MAINS_FRAC = {"iec": 0.94, "nec": 0.95}


# How much more or less than modelled an open surface evaporates at the boil [assumption]: published sources differ by
# 35 % at 88 degC; a pump that stirs the surface adds, walls that stand above it take away.
OPEN_SURFACE_FRAC = 0.25


MEASURED_OPEN_FRAC = 0.05  # the same where the lowest boiling power was seen: between two settings [assumption]


WEAK_ELEMENT_FRAC = 0.90  # IEC 60335-1, clause 10.1, lower limit (from memory)


@dataclass(frozen=True, slots=True, kw_only=True)
class Worst:
    """How far each condition is from the plan; `conditions` gives it to the simulation."""

    air_c: float
    voltage_v: float
    element_frac: float
    loss_frac: float
    open_surface_frac: float

    @property
    def conditions(self) -> Conditions:
        """The same as conditions of a run."""
        return Conditions(
            air_c=self.air_c,
            voltage_v=self.voltage_v,
            element_factor=self.element_frac,
            loss_factor=self.loss_frac,
            open_surface_factor=self.open_surface_frac,
        )

    def beside_planned(self, plan: Plan) -> Conditions:
        """Two draws: the plan's own conditions, then these."""
        return Conditions(
            air_c=np.array([plan.site.air_c, self.air_c]),
            voltage_v=np.array([plan.voltage_v, self.voltage_v]),
            element_factor=np.array([1.0, self.element_frac]),
            loss_factor=np.array([1.0, self.loss_frac]),
            open_surface_factor=np.array([1.0, self.open_surface_frac]),
        )


def worst_of(plan: Plan, learned: "Taught | None" = None) -> Worst:
    """Worst plausible conditions of a plan; the vessel's as brewed days leave them likely.

    Examples
    --------
    >>> from energyplan.plan.file import read_plan
    >>> worst = worst_of(read_plan("demo"))
    >>> worst.air_c, round(worst.voltage_v, 1), worst.loss_frac
    (6.0, 216.2, 1.25)
    """
    rules = plan.circuit.rules if plan.circuit else "iec"
    ends = {
        "element_factor": WEAK_ELEMENT_FRAC,
        "loss_factor": 1 + loss_within(plan),
        "open_surface_factor": 1 + open_surface_within(plan),
    }
    if learned is not None:
        ends |= {name: learned.worst(name) for name in learned.vessels}
    return Worst(
        air_c=plan.site.air_c - COLDER_K,
        voltage_v=plan.voltage_v * LOW_MAINS_FRAC[rules],
        element_frac=ends["element_factor"],
        loss_frac=ends["loss_factor"],
        open_surface_frac=ends["open_surface_factor"],
    )


def loss_within(plan: Plan) -> float:
    """How far the heat loss may be from what is planned with, as a share of it.

    Notes
    -----
    A half width that was entered is that of a 95 % interval. Its ends become those of the range, of which every value
    is taken as equally likely: that has a standard deviation of 0.58 half widths and from its 10 to its 90 % quantile
    1.6, where a normal error with the same interval has 0.51 and 1.31. So a range is never narrower than what was
    measured.
    """
    loss, within = plan.vessel.heat_loss_w_per_k, plan.vessel.heat_loss_within_w_per_k
    if loss is None:
        return ESTIMATE_HIGH_FRAC
    return MEASURED_HIGH_FRAC if within is None else within / loss


def open_surface_within(plan: Plan) -> float:
    """How far the evaporation of the open surface may be from what is planned with, as a share of it."""
    return OPEN_SURFACE_FRAC if plan.vessel.least_boil_w is None else MEASURED_OPEN_FRAC


FloatArray = NDArray[np.float64]


class Taught(Protocol):
    """What brewed days have taught about the vessel: draws of its inputs, and the ends that ask most of it."""

    @property
    def vessels(self) -> Mapping[str, FloatArray]:
        """Draws of the vessel's inputs, (draws,)."""

    def worst(self, name: str) -> float:
        """The end of an input's 95 % range that asks most of the elements."""

    def drawn(self, draws: int, seed: int) -> dict[str, FloatArray]:
        """The vessel's inputs drawn anew, (draws,)."""


Input = Literal["air_c", "water_c", "grain_c", "voltage_v", "element_factor", "loss_factor", "open_surface_factor"]


WATER_K = 3.0  # how far tap water is from what was entered [assumption]


GRAIN_K = 3.0  # how far grain from a cupboard is [assumption]


# How close a measurement comes [assumptions; plug-in meters: nine cheap ones read heavy heaters to 1.5 to 5 % in a
# university's report of 2009; mains also change from day to day].
THERMOMETER_K = 0.5


GRAIN_THERMOMETER_K = 1.0


METER_FRAC = 0.03


MAINS_FRAC = 0.02


STRONG_ELEMENT_FRAC = 1.05  # IEC 60335-1, clause 10.1, upper limit (from memory)


@dataclass(frozen=True, slots=True, kw_only=True)
class Uncertainty:
    """One uncertain input: every value between its two ends is taken as equally likely.

    Parameters
    ----------
    input : str
        The field of `Conditions` that it sets: ``air_c``, ``water_c``, ``grain_c`` [°C], ``voltage_v`` [V], or the
        factors ``element_factor``, ``loss_factor`` and ``open_surface_factor`` on the planned value.
    name : str
        What people call it.
    low, high : float
        Its ends, in the unit of the field.
    known_to : float
        What is left to either side once it is measured, in the unit of the field.

    Raises
    ------
    PlanError
        If the low end lies above the high one, or an end is no possible value.
    """

    input: Input
    name: str
    low: float
    high: float
    known_to: float = 0.0

    def __post_init__(self) -> None:
        positive = self.input in ("voltage_v", "element_factor", "loss_factor", "open_surface_factor")
        if not (
            np.isfinite([self.low, self.high]).all() and self.low <= self.high and not (positive and self.low <= 0)
        ):
            raise PlanError(
                f"{self.name}: from {self.low:g} to {self.high:g}: expected a low end, then a high one"
                + (", both above 0" if positive else "")
            )
        if not (np.isfinite(self.known_to) and self.known_to >= 0):
            raise PlanError(f"{self.name}: known_to = {self.known_to:g}: expected 0 or more")


def uncertainties_of(plan: Plan) -> tuple[Uncertainty, ...]:
    """What is uncertain in a plan, with ranges that are stated and can be replaced."""
    batch, site = plan.batch, plan.site
    grain_c = site.air_c if batch.grain_temperature_c is None else batch.grain_temperature_c
    loss = loss_within(plan)
    rules = plan.circuit.rules if plan.circuit else "iec"
    mains = 1 - LOW_MAINS_FRAC[rules]
    ranges = [
        _about("air_c", "air", site.air_c, COLDER_K, known_to=THERMOMETER_K),
        replace(
            _about("water_c", "water", batch.water_temperature_c, WATER_K, known_to=THERMOMETER_K),
            low=max(batch.water_temperature_c - WATER_K, 0.0),
        ),
        _about("loss_factor", "heat loss", 1.0, loss, known_to=min(loss, MEASURED_HIGH_FRAC)),
        Uncertainty(
            input="element_factor",
            name="elements",
            low=WEAK_ELEMENT_FRAC,
            high=STRONG_ELEMENT_FRAC,
            known_to=METER_FRAC,
        ),
        _about("voltage_v", "mains", plan.voltage_v, mains * plan.voltage_v, known_to=MAINS_FRAC * plan.voltage_v),
    ]
    if any(step.lid_state != "on" for step in plan.steps):
        within = open_surface_within(plan)
        ranges.append(_about("open_surface_factor", "open surface", 1.0, within, known_to=MEASURED_OPEN_FRAC))
    if batch.grain_kg > 0:
        ranges.append(_about("grain_c", "grain", grain_c, GRAIN_K, known_to=GRAIN_THERMOMETER_K))
    return tuple(ranges)


def _about(name: Input, noun: str, middle: float, half: float, *, known_to: float) -> Uncertainty:
    return Uncertainty(input=name, name=noun, low=middle - half, high=middle + half, known_to=known_to)


def latin_hypercube(uncertainties: Sequence[Uncertainty], *, draws: int, seed: int) -> dict[str, FloatArray]:
    """Draw every input at once, each spread evenly over its range.

    Returns
    -------
    dict
        By the field of `Conditions`, arrays of shape (draws,).

    Raises
    ------
    PlanError
        If an input comes twice, or there are fewer than 10 or more than 200 000 draws.

    Notes
    -----
    Each range is cut into as many equal cells as there are draws; every cell is met once, in a shuffled order, at a
    random place in it. Written out because a report needs it at once and scipy's takes longer to import than to run.

    References
    ----------
    McKay, Beckman, Conover, Technometrics 21 (1979).
    """
    if not 10 <= draws <= 200_000:
        raise PlanError(f"draws = {draws}: expected 10 to 200 000, such as 1000")
    names = [uncertainty.input for uncertainty in uncertainties]
    if len(set(names)) < len(names) or not names:
        raise PlanError(f"uncertain inputs {', '.join(names) or 'none'}: expected each one once, and at least one")
    generator = np.random.default_rng(seed)
    cells = generator.permuted(np.tile(np.arange(draws), (len(names), 1)), axis=1)
    places = (cells + generator.random(cells.shape)) / draws
    return {
        uncertainty.input: uncertainty.low + row * (uncertainty.high - uncertainty.low)
        for uncertainty, row in zip(uncertainties, places, strict=True)
    }


def inputs_of(plan: Plan, draws: int, seed: int, learned: "Taught | None" = None) -> dict[str, FloatArray]:
    """Draws of everything that is uncertain in a plan; the vessel's as brewed days have taught."""
    inputs = latin_hypercube(uncertainties_of(plan), draws=draws, seed=seed)
    return inputs if learned is None else inputs | learned.drawn(draws, seed)


def conditions_of(inputs: Mapping[str, FloatArray], which: slice | int = slice(None)) -> Conditions:
    """Conditions of some of the draws."""
    return Conditions(**{name: values[which] for name, values in inputs.items()})


QUANTILES = (0.1, 0.5, 0.9)


FLAT_FRAC = 1e-9  # a value that varies by less than this share of itself does not vary


def quantiles(values: FloatArray, fracs: Sequence[float]) -> FloatArray:
    """Quantiles along the last axis, by linear interpolation: `numpy.quantile` without the modules that it loads.

    Parameters
    ----------
    values : ndarray, shape (..., n)
        Finite values.
    fracs : sequence of float
        Shares from 0 to 1.

    Returns
    -------
    ndarray, shape (len(fracs), ...)

    Examples
    --------
    >>> quantiles(np.array([4.0, 1.0, 2.0]), (0.0, 0.75)).tolist()
    [1.0, 3.0]
    """
    ordered = np.sort(values, axis=-1)
    place = np.asarray(fracs) * (ordered.shape[-1] - 1)
    low = np.floor(place).astype(int)
    high, share = np.minimum(low + 1, ordered.shape[-1] - 1), place - low
    found = ordered[..., low] + share * (ordered[..., high] - ordered[..., low])
    return np.asarray(np.moveaxis(found, -1, 0))


def quantile_errors(values: FloatArray) -> tuple[float, float, float]:
    """Standard errors of the quantiles at 10, 50 and 90 %.

    Notes
    -----
    Half the distance between the order statistics a binomial standard deviation sqrt(p (1 - p) / n) to either side.
    For independent draws; those of a Latin hypercube are steadier.

    References
    ----------
    Conover, Practical Nonparametric Statistics, 3rd ed., section 3.2 (from memory).

    Examples
    --------
    >>> [round(error, 4) for error in quantile_errors(np.linspace(0.0, 1.0, 10001))]
    [0.003, 0.005, 0.003]
    """
    shares = np.array(QUANTILES)
    deviation = np.sqrt(shares * (1 - shares) / values.size)
    high = np.quantile(values, np.minimum(shares + deviation, 1.0))
    low = np.quantile(values, np.maximum(shares - deviation, 0.0))
    first, second, third = (high - low) / 2
    return float(first), float(second), float(third)


def rank_correlation(one: FloatArray, other: FloatArray) -> float:
    """Spearman's rank correlation, ties by their mean rank; 0 where one of the two does not vary.

    Examples
    --------
    >>> rank_correlation(np.array([1.0, 2.0, 3.0]), np.array([5.0, 40.0, 41.0]))
    1.0
    """
    if _is_flat(one) or _is_flat(other):
        return 0.0
    return float(np.corrcoef(_ranks(one), _ranks(other))[0, 1])


def _ranks(values: FloatArray) -> FloatArray:
    """Ranks from 1, ties by their mean. Importing scipy for it would cost the app 45 MB and half a second."""
    _, places, counts = np.unique(values, return_inverse=True, return_counts=True)
    ranks: FloatArray = (np.cumsum(counts) - (counts - 1) / 2)[places]
    return ranks


def _is_flat(values: FloatArray) -> bool:
    return bool(np.ptp(values) <= FLAT_FRAC * max(float(np.abs(values).max()), 1e-300))
