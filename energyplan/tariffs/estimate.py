"""Beyond the end of a list of prices: the same weekday and hour of its last weeks, with the error of such a guess."""

from dataclasses import replace
from datetime import datetime
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from energyplan.tariffs.clock import from_utc_s, offset_pieces, utc_s
from energyplan.tariffs.series import Series
from energyplan.tariffs.tariff import Estimate, Tariff

__all__ = ["with_estimate"]

IntArray = NDArray[np.int64]

WEEKS = 8
LEAST_DAYS = 14
LONGEST_DAYS = 400
_WEEK_S = 7 * 86_400


def with_estimate(tariff: Tariff, until: datetime) -> Tariff | None:
    """The tariff with its list continued to a moment; None where there is no list, or too short a one to guess from.

    Parameters
    ----------
    tariff : Tariff
        With a list of prices.
    until : datetime
        To which the list is continued, with its offset from UTC; at most 400 days.

    Notes
    -----
    Each step beyond the list takes the mean of the same weekday and local time over the last eight weeks in which the
    list has it. The error is the mean absolute one of the same guess for every step of the list that has such a past,
    a week or more before it (a backtest); tax is in it as in the prices.
    """
    series = tariff.series.get("prices")
    if series is None:
        return None
    ends_s, until_s = utc_s(series.covers[1]), utc_s(until)
    if not 0 < until_s - ends_s <= LONGEST_DAYS * 86_400 or ends_s - int(series.start_s[0]) < LEAST_DAYS * 86_400:
        return None
    future_s = np.arange(ends_s, until_s, series.step_s, dtype=np.int64)
    start_s = np.concatenate([series.start_s, future_s])
    slot = _slots(start_s, tariff.time_zone)
    guessed, errors = _guessed(slot, series, future_s.size)
    if guessed is None or errors.size == 0:
        return None
    longer = Series(start_s=start_s, step_s=series.step_s, values=np.concatenate([series.values, guessed]))
    error = Fraction(round(float(errors.mean()))) / 1_000_000_000 * tariff.tax_factor
    estimate = Estimate(begins=from_utc_s(ends_s), error_per_kwh=error, weeks=WEEKS)
    return replace(tariff, series={**tariff.series, "prices": longer}, estimate=estimate)


def _slots(start_s: IntArray, zone: str) -> IntArray:
    """Second of the local week at which each step begins."""
    wall_s = start_s.copy()
    for from_s, to_s, offset in offset_pieces(zone, int(start_s[0]), int(start_s[-1]) + 1):
        wall_s[(start_s >= from_s) & (start_s < to_s)] += offset
    return wall_s % _WEEK_S


def _guessed(slot: IntArray, series: Series, count: int) -> tuple[IntArray | None, NDArray[np.float64]]:
    """Values of the steps beyond the list, and by how much the same guess missed each step of it."""
    known = series.values.size
    guessed, errors = np.zeros(count, dtype=np.int64), []
    found = np.zeros(count, dtype=bool)
    order = np.argsort(slot[:known], kind="stable")
    for places in np.split(order, np.flatnonzero(np.diff(slot[:known][order])) + 1):
        past = series.values[places].astype(np.float64)
        sums = np.concatenate([[0.0], np.cumsum(past)])
        first = np.maximum(np.arange(past.size + 1) - WEEKS, 0)
        means = (sums - sums[first])[1:] / (np.arange(1, past.size + 1) - first[1:])
        errors.append(np.abs(past[1:] - means[:-1]))
        here = slot[known:] == slot[places[0]]
        guessed[here], found[here] = round(float(means[-1])), True
    if not found.any():
        return None, np.zeros(0)
    # A local time that the list never shows (an hour that a clock change skips) takes the price before it.
    last = np.maximum.accumulate(np.where(found, np.arange(count), int(np.argmax(found))))
    return guessed[last], np.concatenate(errors)
