"""What an appliance draws over time: the one thing that circuits and tariffs know of a brew day."""

from collections.abc import Sequence
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.errors import need
from energyplan.base.records import dataclass

__all__ = ["LoadProfile", "distinct", "need_loads", "total_mean_w"]

FloatArray = NDArray[np.float64]
Number = TypeVar("Number", bound=np.generic)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LoadProfile:
    """One appliance's power as a step function of the seconds since the start of the day.

    Parameters
    ----------
    name : str
        What the brewer calls the appliance.
    edges_s : ndarray, shape (n + 1,)
        Borders of the steps [s], strictly increasing. They may begin before 0
        (a second heater switched on before the vessel).
    mean_w : ndarray, shape (n,)
        Mean power at the board [W]: what the meter sees.
    heater_w_per_v2 : ndarray, shape (n,)
        Conductance of the heating elements that are on at a time [W/V2]: nameplate power
        over nameplate voltage squared, summed. Zero while they rest. An element that is
        pulsed to a lower mean power still has its full conductance here.
    other_w : ndarray, shape (n,)
        Pump and electronics [W], drawn beside the elements.
    line : str
        Where it hangs on a supply of several lines ("" where the circuit does).
    by_line : tuple of (str, ndarray)
        The elements' conductance where it hangs in several places, each with its part (n,) of ``heater_w_per_v2``.

    Raises
    ------
    ValueError
        If the shapes don't match, or a number is negative or not finite, or the edges don't increase.
    """

    name: str
    edges_s: FloatArray
    mean_w: FloatArray
    heater_w_per_v2: FloatArray
    other_w: FloatArray
    line: str = ""
    by_line: tuple[tuple[str, FloatArray], ...] = ()

    def __post_init__(self) -> None:
        steps = self.edges_s.shape[0] - 1
        columns = (self.mean_w, self.heater_w_per_v2, self.other_w, *(part for _, part in self.by_line))
        if steps < 1 or any(column.shape != (steps,) for column in columns):
            raise ValueError(f"load {self.name!r}: {steps} steps need {steps} powers of each kind")
        if not all(np.isfinite(column).all() and (column >= 0).all() for column in columns):
            raise ValueError(f"load {self.name!r}: powers must be finite and not negative")
        if not (np.isfinite(self.edges_s).all() and (np.diff(self.edges_s) > 0).all()):
            raise ValueError(f"load {self.name!r}: edges must be finite and increase")

    @property
    def energy_kwh(self) -> float:
        """Energy of the whole profile at the meter [kWh]."""
        return float(self.mean_w @ np.diff(self.edges_s)) / JOULES_PER_KWH

    def at(self, column: FloatArray, times_s: FloatArray) -> FloatArray:
        """Values of one of the columns at given times [s]; 0 outside the profile."""
        index = np.searchsorted(self.edges_s, times_s, side="right") - 1
        inside = (index >= 0) & (index < column.shape[0])
        return np.where(inside, column[np.clip(index, 0, column.shape[0] - 1)], 0.0)

    def on_edges(self, edges_s: FloatArray) -> "LoadProfile":
        """The same load on other borders, each step with the values at its middle; 0 outside the profile."""
        middles_s = (edges_s[1:] + edges_s[:-1]) / 2
        return LoadProfile(
            name=self.name,
            edges_s=edges_s,
            mean_w=self.at(self.mean_w, middles_s),
            heater_w_per_v2=self.at(self.heater_w_per_v2, middles_s),
            other_w=self.at(self.other_w, middles_s),
            line=self.line,
            by_line=tuple((place, self.at(part, middles_s)) for place, part in self.by_line),
        )


def distinct(values: NDArray[Number]) -> NDArray[Number]:
    """The different values in order; as `numpy.unique`, which loads numpy's masked arrays for it.

    >>> distinct(np.array([3.0, 1.0, 3.0])).tolist()
    [1.0, 3.0]
    """
    ordered = np.sort(values, axis=None)
    first = np.ones(ordered.shape, dtype=bool)
    first[1:] = ordered[1:] != ordered[:-1]
    return ordered[first]


def total_mean_w(profiles: Sequence[LoadProfile]) -> tuple[FloatArray, FloatArray]:
    """Sum several appliances into one step function (edges [s], mean power at the meter [W]).

    >>> steady = LoadProfile(name="a", edges_s=np.array([0.0, 60.0]), mean_w=np.array([100.0]),
    ...                      heater_w_per_v2=np.zeros(1), other_w=np.zeros(1))
    >>> edges_s, mean_w = total_mean_w([steady, steady])
    >>> edges_s.tolist(), mean_w.tolist()
    ([0.0, 60.0], [200.0])
    """
    edges_s = distinct(np.concatenate([profile.edges_s for profile in profiles]))
    middles_s = (edges_s[1:] + edges_s[:-1]) / 2
    watts = [profile.at(profile.mean_w, middles_s) for profile in profiles]
    return edges_s, np.sum(watts, axis=0)


def need_loads(given: object) -> None:
    """Refuse what is neither a load profile nor several: a whole day, say."""
    need(given, LoadProfile | Sequence, "load: give the profiles of a day, day.profiles")
