"""A load as a meter would count it: whole millijoules, from one minute to the next.

A brew day's power is a step function of floats. Money is exact only over integers, so the energy
of each whole minute since the start is rounded to a millijoule, once, here; what follows only
adds up. The total differs from the floats' by less than half a millijoule per minute of the day.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from energyplan.base.load import LoadProfile, distinct, total_mean_w
from energyplan.base.money import MJ_PER_KWH
from energyplan.base.records import dataclass

__all__ = ["MeteredLoad", "metered"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MeteredLoad:
    """Cumulative energy of a load in whole millijoules.

    Parameters
    ----------
    first_minute : int
        Minute, counted from the start of the day, at which the table begins; may be negative.
    minute_mj : ndarray of int64, shape (m,)
        Energy of each minute [mJ].
    upto_mj : ndarray of int64, shape (m + 1,)
        Energy before each minute [mJ].
    edges_s : ndarray, shape (n + 1,)
        Borders of the load's steps [s], as given.
    cumulative_mj : ndarray, shape (n + 1,)
        Energy before each border [mJ], unrounded.
    """

    first_minute: int
    minute_mj: IntArray
    upto_mj: IntArray
    edges_s: FloatArray
    cumulative_mj: FloatArray

    @property
    def total_mj(self) -> int:
        """Energy of the whole load [mJ]."""
        return int(self.upto_mj[-1])

    @property
    def energy_kwh(self) -> float:
        """Energy of the whole load [kWh]."""
        return self.total_mj / MJ_PER_KWH

    @property
    def from_s(self) -> float:
        """Second at which the load begins, counted from the start of the day."""
        return float(self.edges_s[0])

    @property
    def to_s(self) -> float:
        """Second at which the load ends, counted from the start of the day."""
        return float(self.edges_s[-1])

    def before_mj(self, at_s: FloatArray | IntArray | float) -> IntArray:
        """Energy before given seconds [mJ], in the shape of the seconds; never falls with time."""
        seconds = np.asarray(at_s, dtype=np.float64)
        minute = np.clip(np.floor(seconds / 60).astype(np.int64) - self.first_minute, 0, self.minute_mj.size)
        minute_start_s = (minute + self.first_minute) * 60.0
        since = np.interp(seconds, self.edges_s, self.cumulative_mj)
        since = since - np.interp(minute_start_s, self.edges_s, self.cumulative_mj)
        within = np.rint(since).astype(np.int64)
        limit = np.append(self.minute_mj, 0)[minute]
        counted = self.upto_mj[minute] + np.clip(within, 0, limit)
        ended: IntArray = np.where(seconds >= self.edges_s[-1], self.upto_mj[-1], counted)
        return ended

    def changes(self) -> tuple[IntArray, IntArray]:
        """Minutes at which the energy per minute changes, and by how much [mJ].

        The rise at the beginning and the fall at the end are among them, so they sum to zero.
        """
        steps = np.diff(self.minute_mj, prepend=0, append=0)
        at = np.flatnonzero(steps)
        return at + self.first_minute, steps[at]


def metered(load: LoadProfile | Sequence[LoadProfile] | MeteredLoad) -> MeteredLoad:
    """Count a load, or several together, in whole millijoules.

    Raises
    ------
    ValueError
        If the load has more energy than integers hold beside a price (about 2.5 million kWh).

    Examples
    --------
    >>> import numpy as np
    >>> steady = LoadProfile(name="vessel", edges_s=np.array([0.0, 90.0]), mean_w=np.array([2000.0]),
    ...                      heater_w_per_v2=np.zeros(1), other_w=np.zeros(1))
    >>> metered(steady).minute_mj.tolist()
    [120000000, 60000000]
    """
    if isinstance(load, MeteredLoad):
        return load
    profiles = [load] if isinstance(load, LoadProfile) else list(load)
    edges_s, mean_w = total_mean_w(profiles)
    first = int(np.floor(edges_s[0] / 60))
    last = int(np.ceil(edges_s[-1] / 60))
    minutes_s = np.arange(first, last + 1, dtype=np.float64) * 60.0
    knots_s = distinct(np.concatenate([minutes_s, edges_s]))
    step = np.searchsorted(edges_s, knots_s[:-1], side="right") - 1
    on = (step >= 0) & (step < mean_w.size)
    power_w = np.where(on, mean_w[np.clip(step, 0, mean_w.size - 1)], 0.0)
    piece_mj = power_w * np.diff(knots_s) * 1000.0
    exact_mj = np.add.reduceat(piece_mj, np.searchsorted(knots_s, minutes_s[:-1]))
    total_mj = float(exact_mj.sum())
    if total_mj >= 2.0**53:
        raise ValueError(f"load of {total_mj / MJ_PER_KWH:.0f} kWh is too large to price; check its powers")
    minute_mj = np.rint(exact_mj).astype(np.int64)
    return MeteredLoad(
        first_minute=first,
        minute_mj=minute_mj,
        upto_mj=np.concatenate([[0], np.cumsum(minute_mj)]),
        edges_s=edges_s,
        cumulative_mj=np.concatenate([[0.0], np.cumsum(mean_w * np.diff(edges_s) * 1000.0)]),
    )
