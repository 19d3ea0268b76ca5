"""What a phase did to a vessel, and the simplest one: nothing keeps it, it cools or drifts under a held power."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from energyplan.base.records import dataclass
from energyplan.physics.contents import Contents, quick_latent_heat_j_per_kg, quick_vapour_enthalpy_j_per_kg
from energyplan.physics.losscurve import LossCurve

__all__ = ["Outcome", "Stretch", "choose", "drift", "either"]

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

    def ends(self) -> "Outcome":
        """The same with only the ends of the way there."""
        return replace(self, stretch=self.stretch.ends())

    def with_some(self, which: NDArray[np.int64], other: "Outcome") -> "Outcome":
        """The same with another outcome for some of the draws."""

        def put(one: object, two: object, names: tuple[str, ...]) -> dict[str, FloatArray]:
            merged = {name: np.array(getattr(one, name)) for name in names}
            for name, values in merged.items():
                values[..., which] = getattr(two, name)
            return merged

        points = max(self.stretch.times_s.shape[0], other.stretch.times_s.shape[0])
        ways = self.stretch.longer(points), other.stretch.longer(points)
        return Outcome(
            **put(self, other, _LEDGER),
            contents=Contents(**put(self.contents, other.contents, _MASSES)),
            stretch=Stretch(**put(*ways, Stretch.__slots__)),
        )

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
LEAST_WATER_FRAC = 0.02  # of the water: what dries out stays finite until its day is refused
DRIFT_STEP_S = 600.0
LONG_DRIFT_S = 12 * 3600.0  # in longer ones the steps follow the time constant
BEGIN_S = 4 * 3600.0  # after the first hours
LONG_STEP_FRAC = 0.2  # of the time constant: what Runge-Kutta makes of it is right to 1e-5 of the step's change
LONGEST_STEP_FRAC = 0.6  # the same at the end of a way
WARMER_K = 0.1  # over which the time constant is seen
SETTLED_K = 1e-8  # so close to where it tends to, a temperature stays


def drift(
    contents: Contents,
    from_c: FloatArray,
    duration_s: FloatArray,
    heat_w: FloatArray,
    losses: LossCurve,
    *,
    longest_s: float | None = None,
) -> Outcome:
    """Let the temperature go where a constant heat input takes it: rests, and holds whose cap is too low.

    ``longest_s`` sets the steps when the durations differ from draw to draw, so that a draw does not depend on others.

    Notes
    -----
    C dT/dt = P - L(T) with the mass of water falling, by Runge-Kutta of fourth order in steps of 10 minutes or less;
    the time constant of a vessel is hours. In rests of more than half a day the steps grow to a fifth of the time
    constant, and a temperature that has settled stays: days of rest take no longer to work out than the first.
    """
    longest_s = float(duration_s.max(initial=0.0)) if longest_s is None else longest_s
    rates = _rates(contents, heat_w, losses)
    even_s = longest_s if longest_s <= LONG_DRIFT_S else BEGIN_S
    steps = int(max(np.ceil(even_s / DRIFT_STEP_S), 1))
    step_s = duration_s * (even_s / max(longest_s, 1.0) if longest_s > LONG_DRIFT_S else 1.0) / steps
    state = np.array([from_c, contents.water_kg, *np.zeros((2, from_c.size))])
    path, times_s = [from_c], [np.zeros_like(step_s)]
    for number in range(steps):
        state = _runge_kutta(state, step_s, rates)
        path.append(state[0])
        times_s.append((number + 1) * step_s)
    if longest_s > LONG_DRIFT_S:
        state = _settle(state, rates, (duration_s, longest_s), path, times_s)
    vapour_kg, heat_j = contents.water_kg - state[1], heat_w * duration_s
    after = contents.less_water(vapour_kg)
    # The heat that the ledger leaves in the contents says the last temperature, so that it closes at any step width.
    stored_j = contents.enthalpy_j(from_c) + heat_j - state[2] - state[3]
    end_c = state[0] + (stored_j - after.enthalpy_j(state[0])) / after.capacity_j_per_k(state[0])
    path[-1] = end_c
    return Outcome(
        duration_s=duration_s,
        end_c=end_c,
        heat_j=heat_j,
        dry_loss_j=state[2],
        vapour_kg=vapour_kg,
        vapour_j=state[3],
        contents=after,
        stretch=Stretch(times_s=np.asarray(times_s), temperatures_c=np.asarray(path)),
    )


Rates = Callable[[FloatArray], FloatArray]


def _rates(contents: Contents, heat_w: FloatArray, losses: LossCurve) -> Rates:
    """What changes per second with temperature and water: temperature, water, dry loss, the vapour's enthalpy."""
    single = heat_w.size == 1
    if single:
        contents, heat_w = contents.of(0), heat_w[0]
    least_kg, low_c, high_c = LEAST_WATER_FRAC * contents.water_kg, losses.low_c, losses.high_c

    def rates(y: FloatArray) -> FloatArray:
        here_c, water_kg = y[:2, 0] if single else y[:2]
        # A vessel that boils dry, or heats beyond the table, is refused by whoever called; until then stay finite.
        temperature_c = np.minimum(np.maximum(here_c, low_c), high_c)
        water_j, beside_j = contents.specific_heats_j_per_k(temperature_c)
        capacity = np.maximum(water_kg, least_kg) * water_j + beside_j
        dry_w, vapour = losses.dry_w_and_vapour_kg_per_s(temperature_c)
        net_w, vapour_w = heat_w - dry_w, vapour
        if losses.dries:
            net_w = net_w - vapour * quick_latent_heat_j_per_kg(temperature_c)
            vapour_w = vapour * quick_vapour_enthalpy_j_per_kg(temperature_c)
        return np.array([net_w / capacity, -vapour, dry_w, vapour_w]).reshape(y.shape)

    return rates


def _runge_kutta(state: FloatArray, step_s: FloatArray, rates: Rates, slope: FloatArray | None = None) -> FloatArray:
    half_s = step_s / 2.0
    k1 = rates(state) if slope is None else slope
    k2 = rates(state + half_s * k1)
    k3 = rates(state + half_s * k2)
    k4 = rates(state + step_s * k3)
    return np.asarray(state + step_s / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4))


def _settle(
    state: FloatArray,
    rates: Rates,
    lasts_s: tuple[FloatArray, float],
    path: list[FloatArray],
    times_s: list[FloatArray],
) -> FloatArray:
    """Go on from where the path ends: each draw in its own steps, until its time is over or its temperature stays.

    A step's error goes with its fifth power and with what is left of the way: the less is left, the longer the step.
    """
    (duration_s, longest_s), now_s, first_k = lasts_s, times_s[-1], None
    while True:
        slope = rates(state)
        warmer = state.copy()
        warmer[0] += WARMER_K
        faster_per_s = (rates(warmer)[0] - slope[0]) / WARMER_K
        constant_s = 1 / np.maximum(-faster_per_s, 1 / longest_s)
        left_k = np.abs(slope[0]) * constant_s
        settled = left_k < SETTLED_K
        left_s = duration_s - now_s
        if (settled | (left_s <= 0)).all():
            break
        first_k = left_k if first_k is None else first_k
        frac = np.clip(
            LONG_STEP_FRAC * (first_k / np.maximum(left_k, SETTLED_K)) ** 0.2, LONG_STEP_FRAC, LONGEST_STEP_FRAC
        )
        step_s = np.where(settled, 0.0, np.minimum(np.maximum(frac * constant_s, DRIFT_STEP_S), left_s))
        state = _runge_kutta(state, step_s, rates, slope)
        now_s = now_s + step_s
        path.append(state[0])
        times_s.append(now_s)
    slope[0] = 0.0
    path.append(state[0])
    times_s.append(duration_s)
    return np.asarray(state + left_s * slope)
