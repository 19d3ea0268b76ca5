"""Where the phases of a plan begin and end in a log."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from energyplan.day.brewday import BrewDay, Phase
from energyplan.learning.bins import Bins

__all__ = ["Seen", "seen_phases"]

FloatArray = NDArray[np.float64]

SMOOTH_BINS = 3
BAND_K, BOIL_BAND_K = 0.8, 1.2
DROP_K, DROP_BINS = 1.2, 6  # so far down within so many bins: something cold went in


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """A phase as it was measured: from, to [s], temperature at the end and lowest on the way [°C].

    ``energy_j`` is what the meter counted (None without one). ``guessed`` says that nothing in the log marks its end:
    it is taken to have lasted as long as planned.
    """

    phase: Phase
    start_s: float
    end_s: float
    from_c: float
    to_c: float
    lowest_c: float
    energy_j: float | None
    guessed: bool

    @property
    def duration_s(self) -> float:
        """How long it took [s]."""
        return self.end_s - self.start_s


def seen_phases(day: BrewDay, bins: Bins, scatter_k: float, off_w: float) -> tuple[Seen, ...]:
    """Follow the planned phases through a log.

    Parameters
    ----------
    day : BrewDay
        The plan, simulated.
    bins : Bins
        The log, which begins when the vessel is switched on.
    scatter_k : float
        Scatter of one bin [K].
    off_w : float
        Power at the meter below which the elements are off [W].

    Returns
    -------
    tuple of Seen
        As far as the log goes: a ramp ends where its target is first reached, a hold where the next ramp leaves its
        band, a rest where the temperature (or the power) rises again, a boil where it stops.
    """
    return _Walk(day, bins, scatter_k, off_w).seen()


@dataclass(slots=True, kw_only=True)
class _Place:
    """A phase's place in the log: first and last bin, from and to [s]."""

    phase: Phase
    first: int
    last: int
    start_s: float
    end_s: float
    guessed: bool


class _Walk:
    """The way through the log, phase after phase."""

    def __init__(self, day: BrewDay, bins: Bins, scatter_k: float, off_w: float) -> None:
        self.day, self.bins = day, bins
        self.smooth_c = _smooth(bins.temperature_c)
        self.tolerance_k = max(0.4, scatter_k)
        self.band_k = max(BAND_K, 2.5 * scatter_k)
        self.on = None if bins.used_j is None else np.r_[bins.mean_power_w() > off_w, False]

    def seen(self) -> tuple[Seen, ...]:
        phases, found, here, here_s = self.day.phases, list[_Place](), 0, 0.0
        for place, phase in enumerate(phases):
            begin = self._begin(phase, phases[:place], here)
            if begin > here and found:
                here_s = found[-1].end_s = float(self.bins.times_s[begin - 1 : begin + 1].mean())
            if begin >= self.bins.times_s.size - 1:
                break
            end = self._end(phase, phases[place + 1 :], begin)
            if end is None:
                break
            here, guessed = end
            end_s = float(self.bins.times_s[here])
            if here > begin:
                found.append(_Place(phase=phase, first=begin, last=here, start_s=here_s, end_s=end_s, guessed=guessed))
            here_s = end_s
        return tuple(self._as_seen(place) for place in found)

    def _begin(self, phase: Phase, before: Sequence[Phase], here: int) -> int:
        """First bin of a phase: behind the drop, if something cold went in just before it."""
        if not before or before[-1].step == phase.step or not self._brings_something(phase):
            return here
        window_c = self.bins.temperature_c[here : here + DROP_BINS]
        lowest = int(np.argmin(window_c))
        return here + lowest if window_c[0] - window_c[lowest] > DROP_K else here

    def _end(self, phase: Phase, later: Sequence[Phase], here: int) -> tuple[int, bool] | None:
        match phase.phase:
            case "ramp":
                top = self._first(here, self.smooth_c >= phase.to_c - self._slack_k(phase, later))
                return None if top is None else (top, False)
            case "boil":
                return self._boil_end(phase, here), False
            case _:
                return self._rest_end(phase, later, here)

    def _slack_k(self, ramp: Phase, later: Sequence[Phase]) -> float:
        """How far below its target a ramp counts as done; real kettles boil where they will."""
        if later and later[0].phase == "boil":
            return max(self.tolerance_k, min(BOIL_BAND_K, 0.4 * (ramp.to_c - ramp.from_c)))
        return self.tolerance_k

    def _first(self, here: int, true: NDArray[np.bool_]) -> int | None:
        places = np.flatnonzero(true[here:])
        return here + int(places[0]) if places.size else None

    def _boil_end(self, phase: Phase, here: int) -> int:
        """Last bin that boils."""
        boiling = self.bins.temperature_c >= phase.from_c - 2 * BOIL_BAND_K - self.tolerance_k
        if self.on is not None:
            boiling = boiling & self.on
        stop = self._first(here, ~boiling)
        last = self.bins.times_s.size - 1 if stop is None else max(stop - 1, here)
        # Wort that stands after the boil cools slowly: the boil ends where the temperature leaves its level for good.
        level_c = float(np.median(self.bins.temperature_c[here : last + 1]))
        at_level = np.flatnonzero(self.smooth_c[here : last + 1] >= level_c - self.tolerance_k)
        return here + int(at_level[-1]) if at_level.size else last

    def _rest_end(self, phase: Phase, later: Sequence[Phase], here: int) -> tuple[int, bool]:
        """End of a hold or a pause: where the next phase makes itself seen, else after the planned time."""
        planned = self._after(here, phase.duration_s)
        if not later:
            return planned, True
        if later[0].phase == "pause" or later[0].step != phase.step:
            drop = self._drop(here, phase)
            if drop is not None and self._brings_something(later[0]):
                return drop, False
        if phase.phase == "hold" and later[0].phase == "pause" and (off := self._switched_off(later, here)) is not None:
            return off, False
        ramp = next((other for other in later[:1] if other.phase == "ramp"), None)
        top = None if ramp is None else self._first(here, self.smooth_c >= ramp.to_c - self._slack_k(ramp, later[1:]))
        if top is None or top <= here:
            return planned, True
        if phase.phase == "pause" or phase.to_c < phase.from_c - self.band_k:
            return self._lowest_before(here, top), False
        level_c = min(phase.to_c + self.band_k, ramp.to_c - self.tolerance_k if ramp else np.inf)
        below = np.flatnonzero(self.smooth_c[here:top] <= level_c)
        return (here + int(below[-1]) if below.size else here), False

    def _brings_something(self, phase: Phase) -> bool:
        step = next(step for step in self.day.plan.steps if step.name == phase.step)
        return any(action.kind in ("add grain", "add water", "add sparge water") for action in step.before)

    def _drop(self, here: int, phase: Phase) -> int | None:
        """Last bin from here before the temperature falls fast, in a stretch three times as long as planned."""
        reach = self._after(here, 3 * phase.duration_s + 1800.0)
        for place in range(here, max(reach - 3, here)):
            later = min(place + DROP_BINS - 1, self.smooth_c.size - 1)
            after = min(later + DROP_BINS - 1, self.smooth_c.size - 1)
            # What merely cools goes on cooling at the same rate; what something cold went into doesn't.
            goes_on_k = max(self.smooth_c[later] - self.smooth_c[after], 0.0)
            if self.smooth_c[place] - self.smooth_c[later] - goes_on_k > DROP_K + self.tolerance_k:
                return place + int(np.argmin(np.diff(self.bins.temperature_c[place : later + 1])))
        return None

    def _switched_off(self, later: Sequence[Phase], here: int) -> int | None:
        """Where a meter saw the elements go off for at least 40 % of the pause that comes next, before they heat on."""
        if self.on is None:
            return None
        heats = next((other for other in later if other.phase == "ramp"), None)
        top = None if heats is None else self._first(here, self.smooth_c >= heats.to_c - self.tolerance_k)
        edges = np.flatnonzero(np.diff(np.r_[0, ~self.on[here:top], 0]))
        starts, ends = here + edges[::2], np.minimum(here + edges[1::2], self.bins.times_s.size - 1)
        if starts.size == 0:
            return None
        lasted_s = self.bins.times_s[ends] - self.bins.times_s[starts]
        longest = int(np.argmax(lasted_s))
        return int(starts[longest]) if lasted_s[longest] >= 0.4 * later[0].duration_s else None

    def _lowest_before(self, here: int, top: int) -> int:
        """End of a rest: where the elements come on again, else where the temperature is lowest."""
        if self.on is not None and self.on[here + 1 : top].any() and not self.on[here + 1 : top].all():
            off = np.flatnonzero(~self.on[here:top])
            back = self._first(here + int(off[0]) if off.size else here, self.on)
            if back is not None and back <= top:
                return back
        return here + int(np.argmin(self.smooth_c[here : top + 1]))

    def _after(self, here: int, seconds: float) -> int:
        """Place so many seconds later, at most the last."""
        place = int(np.searchsorted(self.bins.times_s, self.bins.times_s[here] + seconds))
        return min(max(place, here), self.bins.times_s.size - 1)

    def _as_seen(self, place: _Place) -> Seen:
        inside_c = self.smooth_c[place.first : place.last + 1]
        # The smoothed ends lean into what comes before and after; the raw means don't.
        raw_c = self.bins.temperature_c[place.first : place.last + 1]
        return Seen(
            phase=place.phase,
            start_s=place.start_s,
            end_s=place.end_s,
            from_c=float(raw_c[:2].mean()) if place.first else float(raw_c[0]),
            to_c=float(raw_c[-2:].mean()),
            lowest_c=float(min(inside_c[1:-1].min(initial=np.inf), raw_c[:2].mean(), raw_c[-2:].mean())),
            energy_j=self._used_j(place.start_s, place.end_s),
            guessed=place.guessed,
        )

    def _used_j(self, start_s: float, end_s: float) -> float | None:
        if self.bins.used_j is None:
            return None
        start_j, end_j = np.interp([start_s, end_s], self.bins.times_s, self.bins.used_j)
        return float(end_j - start_j)


def _smooth(temperature_c: FloatArray) -> FloatArray:
    """Means of three neighbours; two at the ends."""
    if temperature_c.size < SMOOTH_BINS:
        return temperature_c
    middle = np.convolve(temperature_c, np.ones(SMOOTH_BINS) / SMOOTH_BINS, mode="valid")
    return np.concatenate([[temperature_c[:2].mean()], middle, [temperature_c[-2:].mean()]])
