"""What brewed days teach about a vessel: weights over the vessels that it may be, by what each would have read.

What belongs to the vessel (loss, elements, open surface) is one draw for all days; air, water, grain and mains belong
to each day and are taken out exactly, in the linear view of `energyplan.advice.brewed.Outlook`.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from energyplan.advice.brewed import VESSEL, Outlook, Readings, outlook, widened
from energyplan.advice.draws import Uncertainty, latin_hypercube, uncertainties_of
from energyplan.base.records import dataclass
from energyplan.plan.model import Plan

__all__ = ["Learned", "by_chance", "learn", "weighted_quantiles"]

FloatArray = NDArray[np.float64]

DRAWS, SEED = 10_000, 11
BEYOND, TAIL = 0.15, 0.8  # how likely a value just beyond its range is, beside one within; how fast that falls
CONTRADICTS = 1e-4  # chance below which readings contradict the model and the days before
ENOUGH_EFFECTIVE, FEWEST_EFFECTIVE = 1000.0, 100.0  # draws that weights leave: below them drawn anew, or told as thin
ROUNDS, FREEDOM, WIDER, LEAST = 3, 5.0, 1.2, 0.02  # of drawing anew: Student's t, wider than the cloud, never a point


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Learned:
    """Vessels that it may be, with weights.

    Parameters
    ----------
    vessels : mapping of str to ndarray
        Draws of the vessel's inputs (factors on the planned), (draws,).
    weights : ndarray, shape (draws,)
        They sum to 1; all alike before the first day.
    days : int
        Days that taught it.
    contradict : tuple of str
        Names of days that don't fit the model and the others; they taught nothing.
    """

    vessels: Mapping[str, FloatArray]
    weights: FloatArray
    days: int
    contradict: tuple[str, ...]

    @property
    def effective_draws(self) -> float:
        """How many draws the weights leave."""
        return float(1 / np.sum(self.weights**2))

    @property
    def is_thin(self) -> bool:
        """Whether too few draws are left to tell ranges from."""
        return self.effective_draws < FEWEST_EFFECTIVE

    def quantiles(self, name: str, at: Sequence[float]) -> FloatArray:
        """Quantiles of one of the vessel's inputs."""
        return weighted_quantiles(self.vessels[name], self.weights, at)

    def worst(self, name: str) -> float:
        """The end of an input's 95 % range that asks most of the elements."""
        return float(self.quantiles(name, [0.025 if name == "element_factor" else 0.975])[0])

    def middle(self, name: str) -> float:
        """The value of an input that is as likely too high as too low."""
        return float(self.quantiles(name, [0.5])[0])

    def narrowed(self, inputs: Iterable[Uncertainty]) -> tuple[Uncertainty, ...]:
        """Uncertain inputs; the vessel's over their 95 % ranges."""
        return tuple(self._narrowed(one) if one.input in self.vessels else one for one in inputs)

    def _narrowed(self, one: Uncertainty) -> Uncertainty:
        low, high = (float(value) for value in self.quantiles(one.input, [0.025, 0.975]))
        return replace(one, low=low, high=high)

    def drawn(self, draws: int, seed: int) -> dict[str, FloatArray]:
        """So many vessels, each as often as its weight says, in a shuffled order."""
        generator = np.random.default_rng(seed)
        places = np.searchsorted(np.cumsum(self.weights), (np.arange(draws) + generator.random()) / draws)
        places = generator.permutation(np.minimum(places, self.weights.size - 1))
        return {name: values[places] for name, values in self.vessels.items()}


def weighted_quantiles(values: FloatArray, weights: FloatArray, at: Sequence[float]) -> FloatArray:
    """Quantiles of weighted values.

    >>> weighted_quantiles(np.array([1.0, 2.0, 3.0]), np.array([0.25, 0.5, 0.25]), [0.5]).tolist()
    [2.0]
    """
    order = np.argsort(values)
    middles = np.cumsum(weights[order]) - weights[order] / 2
    return np.asarray(np.interp(at, middles / weights.sum(), values[order]))


def learn(plan: Plan, days: Sequence[Readings], *, draws: int = DRAWS, seed: int = SEED) -> Learned:
    """Learn from brewed days.

    Parameters
    ----------
    plan : Plan
        Any plan of the vessel: how sure its inputs are before the first day.
    days : sequence of Readings
        The days; they may have plans of their own.

    Notes
    -----
    Importance weights: an estimate's range is believed, yet up to 2.5 times of it is looked at. A vessel's weight is
    that times the likelihood of all readings, normal about what it would read, with the covariance of each day's own
    inputs, of meter and clock, and of what the linear view leaves out. Days come in the order of how well they fit
    alone; one that fits neither the model nor what the others taught (chance below 1e-4) is named and left out. Where
    the days leave fewer than a thousand draws, vessels are drawn anew about those that fit.

    References
    ----------
    Cappé, Guillin, Marin, Robert, J. Comput. Graph. Stat. 13 (2004): drawing anew (from memory).
    Kong, Liu, Wong, J. Am. Stat. Assoc. 89 (1994): effective number of draws (from memory).
    """
    own = [one for one in uncertainties_of(plan) if one.input in VESSEL]
    cloud = first = _Cloud.over([widened(one) for one in own], draws, seed)
    views = [(day.name, outlook(day)) for day in days]
    taught: list[Outlook] = []
    contradict = []
    for name, view in sorted(views, key=lambda one: _surprise(one[1], first.weighted(own, ()))):
        learned = cloud.weighted(own, taught)
        if _surprise(view, learned) > by_chance(view.measured.size, CONTRADICTS):
            contradict.append(name)
            continue
        taught.append(view)
        cloud = cloud.closer(own, taught, seed)
    vessels, weights = cloud.weighted(own, taught)
    return Learned(vessels=vessels, weights=weights, days=len(taught), contradict=tuple(contradict))


Weighted = tuple[dict[str, FloatArray], FloatArray]


@dataclass(frozen=True, slots=True, eq=False)
class _Cloud:
    """Vessels, (draws, inputs), between ``low`` and ``high``, and how often each would come up, as a logarithm."""

    vessels: FloatArray
    log_often: FloatArray
    low: FloatArray
    high: FloatArray

    @classmethod
    def over(cls, ranges: Sequence[Uncertainty], draws: int, seed: int) -> "_Cloud":
        """Spread evenly over ranges."""
        drawn = latin_hypercube(ranges, draws=draws, seed=seed)
        ends = np.array([(one.low, one.high) for one in ranges])
        return cls(np.stack([*drawn.values()], axis=1), np.zeros(draws), *ends.T)

    def weighted(self, own: Sequence[Uncertainty], taught: Sequence[Outlook]) -> Weighted:
        """The vessels by input, and their weights after some days."""
        vessels: dict[str, FloatArray] = {one.input: self.vessels[:, at] for at, one in enumerate(own)}
        logs = np.sum([_log_prior(one, vessels[one.input]) for one in own], axis=0) - self.log_often
        for view in taught:
            logs = logs + _log_likelihood(view, view.expected(vessels))
        logs[((self.vessels < self.low) | (self.vessels > self.high)).any(axis=1)] = -np.inf
        weights = np.exp(logs - logs.max())
        return vessels, np.asarray(weights / weights.sum())

    def closer(self, own: Sequence[Uncertainty], taught: Sequence[Outlook], seed: int) -> "_Cloud":
        """The same, or drawn anew about those that fit, where too few do."""
        cloud = self
        for number in range(ROUNDS):
            _, weights = cloud.weighted(own, taught)
            if 1 / np.sum(weights**2) >= ENOUGH_EFFECTIVE:
                break
            cloud = cloud._about(weights, seed + len(taught) * ROUNDS + number)
        return cloud

    def _about(self, weights: FloatArray, seed: int) -> "_Cloud":
        generator, (draws, inputs) = np.random.default_rng(seed), self.vessels.shape
        middle = weights @ self.vessels
        off = self.vessels - middle
        covariance = WIDER**2 * (off * weights[:, None]).T @ off + np.diag((LEAST * (self.high - self.low)) ** 2)
        steps = generator.standard_normal((draws, inputs)) @ np.linalg.cholesky(covariance).T
        steps /= np.sqrt(generator.chisquare(FREEDOM, (draws, 1)) / FREEDOM)
        far = np.einsum("ij,jk,ik->i", steps, np.linalg.inv(covariance), steps)
        log_often = -(FREEDOM + inputs) / 2 * np.log1p(far / FREEDOM)
        return _Cloud(middle + steps, log_often, self.low, self.high)


def _log_prior(one: Uncertainty, values: FloatArray) -> FloatArray:
    """How likely a vessel's input is: alike within its range, rarely beyond it, and ever more rarely."""
    middle, half = (one.low + one.high) / 2, (one.high - one.low) / 2
    beyond = np.maximum(np.abs(values - middle) - half, 0.0) / (TAIL * half)
    return np.where(beyond > 0, np.log(BEYOND) - beyond**2 / 2, 0.0)


def _log_likelihood(view: Outlook, expected: FloatArray) -> FloatArray:
    off = view.measured - expected
    return np.asarray(-0.5 * np.einsum("ij,jk,ik->i", off, np.linalg.inv(view.scatter), off))


def _surprise(view: Outlook, known: Weighted) -> float:
    """Squared distance of readings from what weighted vessels would read, in standard deviations."""
    vessels, weights = known
    expected = view.expected(vessels)
    mean = weights @ expected
    off = expected - mean
    spread = (off * weights[:, None]).T @ off + view.scatter
    apart = view.measured - mean
    return float(apart @ np.linalg.inv(spread) @ apart)


def by_chance(freedom: int, chance: float) -> float:
    """A sum of so many squares that errors exceed with a chance."""
    from scipy.special import chdtri

    return float(chdtri(freedom, chance))
