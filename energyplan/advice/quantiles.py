"""Quantiles of many draws, how sure they are, and which input goes with which output."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

__all__ = ["QUANTILES", "quantile_errors", "quantiles", "rank_correlation"]

FloatArray = NDArray[np.float64]

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
