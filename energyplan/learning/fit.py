"""Least squares over the vessel's balance, with intervals that mind scatter; and why a log told nothing."""

from collections.abc import Collection, Mapping, Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from energyplan.base.records import dataclass
from energyplan.day.supply import heating
from energyplan.learning.bins import Bins
from energyplan.learning.logfile import Log
from energyplan.learning.model import METER_SD_FRAC, FactorName, Factors, Setting, Supply, VesselTables, path_c
from energyplan.learning.readings import Remark
from energyplan.learning.result import ODD, Measured, Test
from energyplan.learning.segmentation import straight_pieces
from energyplan.plan.model import Vessel

__all__ = [
    "Curve",
    "FitResult",
    "compared_loss",
    "fit_factors",
    "interval_noted",
    "likely_on",
    "loss_unclear",
    "metered_power",
    "next_tests",
    "nothing_found",
    "other_power",
]

FloatArray = NDArray[np.float64]


LOG_STEP, START_STEP_K = 1e-3, 0.05


MOST_CORRELATION = 0.97
LEAST_DOF = 3.0
EXPECTED_DOF = 3.0  # of the scatter that is expected before the readings are fitted
FEWEST_FOR_CORRELATION = 16  # fewer readings don't tell whether they hang together
ROUNDS = 30


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Curve:
    """One stretch to fit: readings (bins), their weights, the heat that goes in, the vessel's state."""

    times_s: FloatArray
    temperature_c: FloatArray
    readings: FloatArray
    supply: Supply
    vessel: VesselTables


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FitResult:
    """Factors found, the standard deviations of their logarithms, and what the fit leaves over.

    ``sd`` already minds that neighbouring residuals hang together: by ``inflation``, the factor on variances.
    ``dof`` are the degrees of freedom that are left after it.
    """

    factors: dict[FactorName, float]
    sd: dict[FactorName, float]
    fitted_c: tuple[FloatArray, ...]
    inflation: float
    dof: float

    def interval(self, name: FactorName, also_sd: float = 0.0) -> tuple[float, float, float]:
        """Factor with its 95 % interval; ``also_sd`` is a further, independent standard deviation (as a share)."""
        half = self.half_width(name, also_sd)
        value = self.factors[name]
        return value, value * float(np.exp(-half)), value * float(np.exp(half))

    def half_width(self, name: FactorName, also_sd: float = 0.0) -> float:
        """Half of the 95 % interval of the factor's logarithm."""
        from scipy.special import stdtrit

        return float(np.hypot(stdtrit(self.dof, 0.975) * self.sd[name], 1.96 * also_sd))


def fit_factors(
    curves: Sequence[Curve],
    free: Sequence[FactorName],
    priors: Mapping[FactorName, tuple[float, float]],
    scatter_k: float,
) -> FitResult:
    """Fit factors on the model to one or several stretches.

    Parameters
    ----------
    curves : sequence of Curve
        The stretches. Each has its own start temperature, which is fitted too.
    free : sequence of str
        Factors to fit, the same for all stretches; the others are 1.
    priors : mapping
        Mean and standard deviation of the logarithm of a factor: where and how firmly it is kept. (Bend and
        apart, in K, count as the logarithm itself.)
    scatter_k : float
        Scatter of one bin [K]; sets the weight of the priors.

    Notes
    -----
    Minimises sum of n (T - T_model)^2 + (scatter (ln k - mean) / sd)^2 (trust region). Covariance = s^2 (J'J)^-1
    times (1 + r) / (1 - r), r being the correlation of neighbouring residuals: of n residuals that hang together like
    this only n (1 - r) / (1 + r) are independent.

    References
    ----------
    Bayley and Hammersley, The "effective" number of independent observations in an autocorrelated time series,
    J. R. Stat. Soc. Suppl. 8 (1946): the factor (from memory).
    """
    from scipy.optimize import least_squares

    problem = _Problem(tuple(curves), tuple(free), dict(priors), scatter_k)
    solved = least_squares(problem.residuals, problem.start(), jac=problem.jacobian, x_scale="jac", max_nfev=ROUNDS)
    return problem.result(np.asarray(solved.x))


class _Problem:
    """Residuals and their derivatives, kept together because one run of the model gives both."""

    def __init__(
        self,
        curves: tuple[Curve, ...],
        free: tuple[FactorName, ...],
        priors: dict[FactorName, tuple[float, float]],
        scatter_k: float,
    ) -> None:
        self.curves, self.free, self.priors, self.scatter_k = curves, free, priors, scatter_k
        mean = np.mean(np.concatenate([curve.readings for curve in curves]))
        self.roots = [np.sqrt(curve.readings / mean) for curve in curves]
        self._seen: FloatArray | None = None
        self._paths: list[FloatArray] = []

    def start(self) -> FloatArray:
        starts = [curve.temperature_c[0] for curve in self.curves]
        return np.concatenate([np.zeros(len(self.free)), starts])

    def _run(self, x: FloatArray) -> list[FloatArray]:
        """Model for the parameters and for each moved a little: per curve (readings, 2 + free)."""
        if self._seen is not None and np.array_equal(self._seen, x):
            return self._paths
        count = len(self.free)
        logs = np.tile(x[:count, None], (1, count + 2))
        logs[np.arange(count), 1 + np.arange(count)] += LOG_STEP
        ones = np.ones(count + 2)
        given = {name: np.exp(np.clip(logs[place], -4.0, 4.0)) for place, name in enumerate(self.free)}
        factors = Factors(
            loss=given.get("loss", ones),
            bend=np.log(given.get("bend", ones)),
            apart_k=np.log(given.get("apart", ones)),
            stored_heat=given.get("stored_heat", ones),
            power=given.get("power", ones),
            open_surface=given.get("open_surface", ones),
        )
        self._paths = []
        for place, curve in enumerate(self.curves):
            start_c = np.full(count + 2, x[count + place])
            start_c[-1] += START_STEP_K
            self._paths.append(path_c(start_c, curve.times_s, curve.supply, curve.vessel, factors))
        self._seen = x.copy()
        return self._paths

    def residuals(self, x: FloatArray) -> FloatArray:
        pieces = [
            root * (path[:, 0] - curve.temperature_c)
            for root, path, curve in zip(self.roots, self._run(x), self.curves, strict=True)
        ]
        pulls = [[self.scatter_k * (x[self.free.index(name)] - mean) / sd] for name, (mean, sd) in self.priors.items()]
        return np.concatenate([*pieces, *pulls])

    def jacobian(self, x: FloatArray) -> FloatArray:
        count, blocks = len(self.free), []
        for place, (root, path) in enumerate(zip(self.roots, self._run(x), strict=True)):
            block = np.zeros((path.shape[0], x.size))
            block[:, :count] = (path[:, 1 : count + 1] - path[:, [0]]) / LOG_STEP
            block[:, count + place] = (path[:, -1] - path[:, 0]) / START_STEP_K
            blocks.append(root[:, None] * block)
        pulls = np.zeros((len(self.priors), x.size))
        for row, (name, (_, sd)) in enumerate(self.priors.items()):
            pulls[row, self.free.index(name)] = self.scatter_k / sd
        return np.vstack([*blocks, pulls])

    def result(self, x: FloatArray) -> FitResult:
        left = self.residuals(x)
        data = left[: left.size - len(self.priors)]
        # What the readings themselves say of the scatter counts for nothing where they are few.
        dof = max(data.size - x.size, 0) + EXPECTED_DOF
        variance = (float(data @ data) + EXPECTED_DOF * self.scatter_k**2) / dof
        jacobian = self.jacobian(x)
        inflation = self._inflation(data, x.size)
        # The pull of a prior was weighted by the expected scatter; its width stays whatever the scatter turned out.
        jacobian[data.size :] *= np.sqrt(variance * inflation) / self.scatter_k
        covariance = np.linalg.pinv(jacobian.T @ jacobian) * variance * inflation
        spread = np.sqrt(np.maximum(np.diag(covariance), 0.0))
        count = len(self.free)
        return FitResult(
            factors={name: float(np.exp(x[place])) for place, name in enumerate(self.free)},
            sd={name: float(spread[place]) for place, name in enumerate(self.free)},
            fitted_c=tuple(path[:, 0] for path in self._run(x)),
            inflation=inflation,
            dof=max(dof / inflation, LEAST_DOF) if count else LEAST_DOF,
        )

    def _inflation(self, data: FloatArray, parameters: int) -> float:
        """Factor on variances for residuals that hang together, corrected for what the fit itself takes away."""
        edges = np.cumsum([curve.times_s.size for curve in self.curves])[:-1]
        pieces = np.split(data, edges)
        together = sum(float(piece[1:] @ piece[:-1]) for piece in pieces)
        alone = sum(float(piece[1:] @ piece[1:] + piece[:-1] @ piece[:-1]) / 2 for piece in pieces)
        measured = together / alone if alone > 0 else 0.0
        taken = min(parameters / data.size, 0.5) if data.size >= FEWEST_FOR_CORRELATION else 0.0
        known = measured if data.size >= FEWEST_FOR_CORRELATION else 0.0
        correlation = float(np.clip(known + taken, 0.0, MOST_CORRELATION))
        return (1 + correlation) / (1 - correlation)


SHORTEST_S = 300.0
ALIKE_FRAC = 0.04  # pieces this close to the highest are all full power; the mains move by as much


FEWEST_BINS = 4


def metered_power(bins: Bins, setting: Setting, count_j: float) -> Measured | None:
    """Power of the elements while they ran steadily at their highest [W]; None if they never did for minutes.

    Parameters
    ----------
    bins : Bins
        A log with a meter.
    setting : Setting
        Plan and place; pump and standby are taken off the reading.
    count_j : float
        Step of the meter's running total [J]; 0 for readings of the power.

    Notes
    -----
    Energy over time is cut where its slope changes; of the pieces of five minutes or more the steepest, and those
    within 4 % of it, are averaged. The interval holds the meter's steps, the scatter between pieces and its own 1 %.
    """
    steady = [] if bins.used_j is None else _steady_pieces(bins.times_s, bins.used_j, setting, count_j)
    if not steady:
        return None
    highest = max(watts for watts, _, _ in steady)
    watts, spans_s, sds = np.array([piece for piece in steady if piece[0] > (1 - ALIKE_FRAC) * highest]).T
    mean = float(np.average(watts, weights=spans_s))
    of_steps = float(np.sqrt(np.sum((sds * spans_s) ** 2)) / spans_s.sum())
    between = float(np.std(watts)) / np.sqrt(max(watts.size - 1, 1))
    half = 1.96 * float(np.hypot.reduce([of_steps / mean, between / mean, METER_SD_FRAC]))
    return Measured(value=mean, low=mean * (1 - half), high=mean * (1 + half))


def _steady_pieces(
    all_s: FloatArray, all_j: FloatArray, setting: Setting, count_j: float
) -> list[tuple[float, float, float]]:
    """Power of the elements [W], length [s] and standard deviation [W] of each steady piece in which they are on."""
    scatter_j = max(count_j / np.sqrt(12), 0.01 * setting.full_w * 60.0)
    found = []
    for first, last in straight_pieces(all_s, all_j, scatter_j):
        # A cut is right to one bin.
        times_s, used_j = all_s[first + 1 : last - 1], all_j[first + 1 : last - 1]
        if times_s.size < FEWEST_BINS or times_s[-1] - times_s[0] < SHORTEST_S:
            continue
        watts = float(np.polyfit(times_s - times_s[0], used_j, 1)[0]) - setting.beside_w
        if watts <= setting.off_w:
            continue
        span_s = float(times_s[-1] - times_s[0])
        counts = max(min(times_s.size, (used_j[-1] - used_j[0]) / max(count_j, 1.0)), 2.0)
        found.append((watts, span_s, count_j / span_s / np.sqrt(counts)))
    return found


def likely_on(found_w: float, setting: Setting) -> tuple[float, ...]:
    """Nameplates of the elements that together would give about this much (within 7 %); empty if none do."""
    plan = setting.plan
    volts, ones = np.array([plan.voltage_v]), np.ones(1)
    for size in range(1, len(plan.vessel.elements)):
        for chosen in combinations(plan.vessel.elements, size):
            vessel = Vessel.model_copy(plan.vessel, update={"elements": chosen})
            some = plan.model_copy(update={"vessel": vessel})
            given_w = float(heating(some, None, voltage_v=volts, element_factor=ones).most_w[0])
            if abs(found_w / given_w - 1) < 0.07:
                return tuple(element.power_w for element in chosen)
    return ()


ENOUGH_FRAC = 0.1  # half width of a loss that is good enough to plan with


def compared_loss(factor: float, loss: Measured, reference_c: float, setting: Setting) -> Remark:
    """How a loss compares with the one so far: one verdict, and the question that an odd one raises."""
    code = "loss rough" if loss.half_width_frac > ENOUGH_FRAC else "loss enough"
    if not ODD[0] <= factor <= ODD[1]:
        code = "loss odd, high" if factor > 1 else "loss odd, low"
    against = "estimated" if setting.plan.vessel.heat_loss_w_per_k is None else "measured"
    return Remark(code, reference_c=reference_c, factor=factor, against=against)


def interval_noted(bins: Bins) -> tuple[Remark, ...]:
    """How seldom a log was read, if it was."""
    return (Remark("read every", interval_min=bins.interval_s / 60),) if bins.is_coarse else ()


def loss_unclear(kinds: Collection[str], half_frac: float) -> Remark:
    """Why the heat loss can't be told from stretches of these kinds."""
    if "cooling" in kinds:
        return Remark("loss scatters", half_frac=half_frac)
    return Remark("loss beside stored heat" if "metered" in kinds else "loss beside power", half_frac=half_frac)


# Of what the elements should give: less tells a dead one [assumption]; more than a plate (+5 %) at mains a tenth too
# high gives, 27 %, tells something else (IEC 60335-1, EN 50160; from memory).
WEAK_FRAC, STRONG_FRAC = 0.75, 1.3


def other_power(found_w: float, setting: Setting) -> Remark | None:
    """Why a power is none of all elements: it is too little, and what would give it, or too much; else None."""
    if WEAK_FRAC * setting.full_w <= found_w <= STRONG_FRAC * setting.full_w:
        return None
    alone_w = likely_on(found_w, setting)
    if alone_w:
        return Remark("weak power, some alone", found_w=found_w, planned_w=setting.full_w, alone_w=alone_w)
    code = "weak power" if found_w < setting.full_w else "strong power"
    return Remark(code, found_w=found_w, planned_w=setting.full_w)


def next_tests(loss: Measured, stored: Measured, power: Measured) -> tuple[Test, ...]:
    """Tests that would tell what is still open."""
    tests: list[Test] = []
    if not loss.known or loss.half_width_frac > ENOUGH_FRAC:
        tests.append("cool-down")
    if not stored.known:
        tests.append("heat-up")
    elif not power.known:
        tests.append("plain heat-up")
    return tuple(tests)


def nothing_found(log: Log) -> Remark:
    """No stretch of a log tells anything: over which temperatures and minutes."""
    low_c, high_c = float(log.temperature_c.min()), float(log.temperature_c.max())
    return Remark("nothing found", low_c=low_c, high_c=high_c, lasted_min=log.duration_s / 60)
