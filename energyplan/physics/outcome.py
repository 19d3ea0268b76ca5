"""What a phase did to the vessel: its ledger, the contents after it, the way there."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from energyplan.base.records import dataclass
from energyplan.physics.contents import Contents

__all__ = ["Outcome", "Stretch", "choose", "either"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stretch:
    """Temperatures passed on the way: ``times_s`` from the start of the phase, both (points, draws)."""

    times_s: FloatArray
    temperatures_c: FloatArray

    def ends(self) -> "Stretch":
        """Only where it begins and ends."""
        return Stretch(times_s=self.times_s[[0, -1]], temperatures_c=self.temperatures_c[[0, -1]])

    def longer(self, points: int) -> "Stretch":
        """The same with its end repeated, to so many points."""
        more = np.minimum(np.arange(points), self.times_s.shape[0] - 1)
        return Stretch(times_s=self.times_s[more], temperatures_c=self.temperatures_c[more])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outcome:
    """What a phase did.

    All of shape (draws,): duration [s], end temperature [°C], heat into the contents [J], dry loss [J], vapour [kg]
    and its enthalpy [J]; then the contents at the end, and the way there.
    """

    duration_s: FloatArray
    end_c: FloatArray
    heat_j: FloatArray
    dry_loss_j: FloatArray
    vapour_kg: FloatArray
    vapour_j: FloatArray
    contents: Contents
    stretch: Stretch

    def with_some(self, which: NDArray[np.int64], other: "Outcome") -> "Outcome":
        """The same with another outcome for some of the draws; the way there keeps only its ends."""
        place = np.zeros(self.duration_s.shape, dtype=np.int64)
        place[which] = np.arange(which.size)
        taken = np.zeros(self.duration_s.shape, dtype=bool)
        taken[which] = True
        ends = (replace(one, stretch=one.stretch.ends()) for one in (other.of(place), self))
        return choose(taken, *ends)

    def of(self, which: NDArray[np.int64]) -> "Outcome":
        """The outcome of some of the draws."""
        ledger = {name: getattr(self, name)[which] for name in _LEDGER}
        stretch = Stretch(times_s=self.stretch.times_s[:, which], temperatures_c=self.stretch.temperatures_c[:, which])
        return Outcome(**ledger, contents=self.contents.of(which), stretch=stretch)


def choose(first: BoolArray, one: Outcome, other: Outcome) -> Outcome:
    """Take one outcome for some draws and another for the rest."""
    if first.all() or not first.any():
        return one if first.all() else other
    merged = {name: np.where(first, getattr(one, name), getattr(other, name)) for name in _LEDGER}
    points = max(one.stretch.times_s.shape[0], other.stretch.times_s.shape[0])
    ways = one.stretch.longer(points), other.stretch.longer(points)
    stretch = Stretch(**{name: np.where(first, *(getattr(way, name) for way in ways)) for name in Stretch.__slots__})
    return Outcome(**merged, contents=either(first, one.contents, other.contents), stretch=stretch)


def either(first: BoolArray, one: Contents, other: Contents) -> Contents:
    """Take one content for some draws and another for the rest."""
    return Contents(**{name: np.where(first, getattr(one, name), getattr(other, name)) for name in _MASSES})


_MASSES = ("water_kg", "extract_kg", "grain_kg", "grain_j_per_kg_k", "vessel_j_per_k")
_LEDGER = ("duration_s", "end_c", "heat_j", "dry_loss_j", "vapour_kg", "vapour_j")
