"""The vessel's heat and mass balance through one phase: ramp, hold, boil, rest. Vectorised over draws.

Every function takes arrays of shape (draws,) and returns an `Outcome` whose ledger closes:
heat in = rise of stored heat + dry loss + enthalpy of the vapour.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from energyplan.physics.contents import Contents
from energyplan.physics.losscurve import LossCurve, vapour_enthalpy_j_per_kg
from energyplan.physics.water import latent_heat_j_per_kg, specific_heat_j_per_kg_k

__all__ = [
    "Outcome",
    "Stretch",
    "boil",
    "choose",
    "cooling_time_s",
    "drift",
    "either",
    "keep",
    "least_boil_w",
    "ramp",
    "stall",
]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

RAMP_STEPS = 24
TIGHT_RAMP_STEPS = 240
TIGHT_FRAC = 0.25
DRIFT_STEP_S = 240.0
FEWEST_DRIFT_STEPS = 3
MOST_DRIFT_STEPS = 4000
LEAST_WATER_FRAC = 0.02
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(RAMP_STEPS)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stretch:
    """Temperatures passed on the way: ``times_s`` from the start of the phase, both (points, draws)."""

    times_s: FloatArray
    temperatures_c: FloatArray


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


def stall(
    from_c: FloatArray, to_c: FloatArray, heat_w: FloatArray, losses: LossCurve
) -> tuple[BoolArray, FloatArray, FloatArray]:
    """Tell whether a ramp stalls on its way.

    Returns
    -------
    stalls : ndarray of bool, shape (draws,)
        True where the heat doesn't exceed the loss somewhere between the temperatures.
    at_c : ndarray
        First such temperature on a grid of a hundredth of the ramp [°C]; the target where none is.
    needed_w : ndarray
        Largest loss on the way [W]: the heat must be above it.
    """
    share = np.linspace(0.0, 1.0, 101)[:, None]
    path_c = from_c + share * (np.maximum(to_c, from_c) - from_c)
    loss_w = losses.total_w(path_c)
    short = loss_w >= heat_w
    at_c = np.take_along_axis(path_c, np.argmax(short, axis=0)[None, :], axis=0)[0]
    stalls = short.any(axis=0) & (to_c > from_c)
    return stalls, np.where(stalls, at_c, to_c), loss_w.max(axis=0)


def ramp(contents: Contents, from_c: FloatArray, to_c: FloatArray, heat_w: FloatArray, losses: LossCurve) -> Outcome:
    """Heat (or let cool) from one temperature to another at a constant heat input.

    Parameters
    ----------
    contents : Contents
        What is in the vessel.
    from_c, to_c : ndarray, shape (draws,)
        Temperatures [°C]. Equal ones give an outcome of no duration.
    heat_w : ndarray, shape (draws,)
        Heat into the contents [W]; must exceed the loss all the way up (see `stall`), or be below it on the way down.
    losses : LossCurve
        Loss of the vessel in this state.

    Notes
    -----
    Integrated over temperature: dt = C dT / (P - L(T)); ends exactly at the target. Gauss-Legendre with 24 nodes
    when no water leaves; else the mass is carried along with Simpson steps (fourth order). Nodes lie closer where
    the heat hardly exceeds the loss.
    """
    if losses.dries:
        return _drying_ramp(contents, from_c, to_c, heat_w, losses)
    path_c, span_k = _graded_c((from_c, to_c), heat_w, losses, (_NODES[:, None] + 1) / 2)
    dry_w = losses.dry_w(path_c)
    per_k_s = contents.capacity_j_per_k(path_c) / _nonzero(heat_w - dry_w)
    piece_s = _WEIGHTS[:, None] / 2 * span_k * per_k_s
    duration_s = piece_s.sum(axis=0)
    none = np.zeros_like(duration_s)
    return Outcome(
        duration_s=duration_s,
        end_c=to_c,
        heat_j=heat_w * duration_s,
        dry_loss_j=(dry_w * piece_s).sum(axis=0),
        vapour_kg=none,
        vapour_j=none,
        contents=contents,
        stretch=_with_ends(path_c, _passed_s(piece_s), from_c, to_c, duration_s),
    )


def _nonzero(value: FloatArray) -> FloatArray:
    """Keep draws that don't ramp at all (and may have no net heat) out of a division by zero."""
    return np.where(value == 0.0, 1.0, value)


def _graded_c(
    ends_c: tuple[FloatArray, FloatArray], heat_w: FloatArray, losses: LossCurve, share: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Temperatures at shares of the way, and how fast they change with the share [K].

    The nodes gather geometrically before the temperature at which the ramp would stall, were the loss a straight line.
    """
    from_c, to_c = ends_c
    upwards = np.where(to_c < from_c, -1.0, 1.0)
    at_end_w, before_w = losses.total_w(np.stack([to_c, to_c - upwards]))
    per_k_w = np.maximum(np.abs(at_end_w - before_w), 1e-3)
    left_k = np.clip(np.abs(heat_w - at_end_w) / per_k_w, 1e-9, 1e3)
    all_k = left_k + np.abs(to_c - from_c)
    rate = np.log(all_k / left_k)
    return from_c - upwards * all_k * np.expm1(-rate * share), upwards * all_k * rate * np.exp(-rate * share)


def _passed_s(piece_s: FloatArray) -> FloatArray:
    """Time at the middle of each piece."""
    return np.asarray(np.cumsum(piece_s, axis=0) - piece_s / 2)


def _with_ends(
    path_c: FloatArray, times_s: FloatArray, from_c: FloatArray, to_c: FloatArray, duration_s: FloatArray
) -> Stretch:
    return Stretch(
        times_s=np.vstack([np.zeros_like(duration_s), times_s, duration_s]),
        temperatures_c=np.vstack([from_c, path_c, to_c]),
    )


def _drying_ramp(
    contents: Contents, from_c: FloatArray, to_c: FloatArray, heat_w: FloatArray, losses: LossCurve
) -> Outcome:
    """Ramp from whose surface water evaporates: the mass of water falls along the temperature.

    The steps of a draw depend on nothing but the draw: one that is tight is run with more of them, apart.
    """
    tight = _is_tight(from_c, to_c, heat_w, losses)
    if tight.all() or not tight.any():
        steps = TIGHT_RAMP_STEPS if tight.all() else RAMP_STEPS
        return _stepped_ramp(contents, (from_c, to_c), heat_w, losses, steps)
    fine = _stepped_ramp(contents, (from_c, to_c), heat_w, losses, TIGHT_RAMP_STEPS)
    return choose(tight, fine, _stepped_ramp(contents, (from_c, to_c), heat_w, losses, RAMP_STEPS))


def _stepped_ramp(
    contents: Contents, ends_c: tuple[FloatArray, FloatArray], heat_w: FloatArray, losses: LossCurve, steps: int
) -> Outcome:
    halves_c = np.repeat(_graded_c(ends_c, heat_w, losses, np.linspace(0.0, 1.0, steps + 1)[:, None])[0], 2, axis=0)[1:]
    halves_c[0], halves_c[-1] = ends_c
    halves_c[1:-1:2] = (halves_c[:-2:2] + halves_c[2::2]) / 2
    step_k = halves_c[2::2] - halves_c[:-2:2]
    dry_w, vapour = losses.dry_w(halves_c), losses.vapour_kg_per_s(halves_c)
    net_w = _nonzero(heat_w - dry_w - vapour * latent_heat_j_per_kg(halves_c))
    water_j, beside_j = specific_heat_j_per_kg_k(halves_c), contents.beside_water_j_per_k(halves_c)
    # dm/dT = -(a m + b): linear in the mass, so one Runge-Kutta step has a closed form in its three nodes.
    a, b = vapour * water_j / net_w, vapour * beside_j / net_w
    masses_kg = _falling_mass_kg(contents.water_kg, a, b, step_k)
    per_k_s = (masses_kg * water_j + beside_j) / net_w
    passed_s = np.cumsum(step_k / 6 * (per_k_s[:-2:2] + 4 * per_k_s[1:-1:2] + per_k_s[2::2]), axis=0)
    vapour_kg = contents.water_kg - masses_kg[-1]
    after = contents.less_water(vapour_kg)
    dry_loss_j = _simpson(dry_w * per_k_s, step_k)
    vapour_j = _simpson(vapour * vapour_enthalpy_j_per_kg(halves_c) * per_k_s, step_k)
    # On the way up the heat that the ledger asks for says how long it takes, so that it closes at any step width.
    stored_j = after.enthalpy_j(ends_c[1]) - contents.enthalpy_j(ends_c[0])
    rises = (ends_c[1] > ends_c[0]) & (heat_w > 0)
    asked_s = (stored_j + dry_loss_j + vapour_j) / np.where(rises, heat_w, 1.0)
    passed_s[-1] = np.where(rises, asked_s, passed_s[-1])
    return Outcome(
        duration_s=passed_s[-1],
        end_c=ends_c[1],
        heat_j=heat_w * passed_s[-1],
        dry_loss_j=dry_loss_j,
        vapour_kg=vapour_kg,
        vapour_j=vapour_j,
        contents=after,
        stretch=Stretch(times_s=np.vstack([np.zeros_like(heat_w), passed_s]), temperatures_c=halves_c[::2]),
    )


def _is_tight(from_c: FloatArray, to_c: FloatArray, heat_w: FloatArray, losses: LossCurve) -> BoolArray:
    """Whether a ramp's heat hardly exceeds the loss, so that it needs more steps."""
    ends = np.vstack([from_c, to_c])
    margin = np.abs(heat_w - losses.total_w(ends)) / np.maximum(heat_w, 1.0)
    return np.asarray(margin.min(axis=0) <= TIGHT_FRAC)


def _falling_mass_kg(start_kg: FloatArray, a: FloatArray, b: FloatArray, step_k: FloatArray) -> FloatArray:
    """Mass at every half step of dm/dT = -(a m + b), by Runge-Kutta of fourth order over two halves."""
    masses = [start_kg]
    for k, width_k in zip(range(0, a.shape[0] - 1, 2), step_k, strict=True):
        m = masses[-1]
        k1 = -(a[k] * m + b[k])
        k2 = -(a[k + 1] * (m + width_k / 2 * k1) + b[k + 1])
        k3 = -(a[k + 1] * (m + width_k / 2 * k2) + b[k + 1])
        k4 = -(a[k + 2] * (m + width_k * k3) + b[k + 2])
        end = m + width_k / 6 * (k1 + 2 * k2 + 2 * k3 + k4)
        slope_end = -(a[k + 2] * end + b[k + 2])
        masses += [(m + end) / 2 + width_k / 8 * (k1 - slope_end), end]  # Hermite's cubic at the middle
    return np.asarray(masses)


def _simpson(flow: FloatArray, step_k: FloatArray) -> FloatArray:
    """Integral of values at half steps along the temperature."""
    return np.asarray((step_k / 6 * (flow[:-2:2] + 4 * flow[1:-1:2] + flow[2::2])).sum(axis=0))


def keep(contents: Contents, at_c: FloatArray, duration_s: FloatArray, losses: LossCurve) -> Outcome:
    """Keep a temperature under a thermostat: mean heat = loss, whatever the cap above it."""
    rate_kg_per_s = losses.vapour_kg_per_s(at_c)
    vapour_kg = rate_kg_per_s * duration_s
    return Outcome(
        duration_s=duration_s,
        end_c=at_c,
        heat_j=losses.total_w(at_c) * duration_s,
        dry_loss_j=losses.dry_w(at_c) * duration_s,
        vapour_kg=vapour_kg,
        vapour_j=losses.vapour_w(at_c) * duration_s,
        contents=contents.less_water(vapour_kg),
        stretch=Stretch(
            times_s=np.vstack([np.zeros_like(duration_s), duration_s]), temperatures_c=np.vstack([at_c, at_c])
        ),
    )


def least_boil_w(at_c: FloatArray, losses: LossCurve) -> FloatArray:
    """Heat below which a boil stops: dry loss and surface evaporation at the boiling point [W]."""
    return losses.total_w(at_c)


def boil(
    contents: Contents, at_c: FloatArray, duration_s: FloatArray, heat_w: FloatArray, losses: LossCurve
) -> Outcome:
    """Boil at a constant temperature: all heat above the dry loss makes vapour.

    Notes
    -----
    dm/dt = (P - L_dry) / h_fg. Surface evaporation and steam are the same steam and are counted once. The heat
    must be at least `least_boil_w`; the boiling point is taken as that of the wort at the start of the boil.
    """
    dry_w = losses.dry_w(at_c)
    vapour_kg = (heat_w - dry_w) / latent_heat_j_per_kg(at_c) * duration_s
    return Outcome(
        duration_s=duration_s,
        end_c=at_c,
        heat_j=heat_w * duration_s,
        dry_loss_j=dry_w * duration_s,
        vapour_kg=vapour_kg,
        vapour_j=vapour_kg * vapour_enthalpy_j_per_kg(at_c),
        contents=contents.less_water(vapour_kg),
        stretch=Stretch(
            times_s=np.vstack([np.zeros_like(duration_s), duration_s]), temperatures_c=np.vstack([at_c, at_c])
        ),
    )


def cooling_time_s(
    contents: Contents, from_c: FloatArray, to_c: FloatArray, heat_w: FloatArray, losses: LossCurve
) -> FloatArray:
    """Time to cool down to a temperature [s]; infinite where the heat input keeps it from getting there."""
    down_c = np.minimum(from_c, to_c)
    path_c = down_c + np.linspace(0.0, 1.0, 33)[:, None] * (from_c - down_c)
    cools = (losses.total_w(path_c) > heat_w).all(axis=0)
    reachable_c = np.where(cools, down_c, from_c)
    time_s = ramp(contents, from_c, reachable_c, heat_w, losses).duration_s
    return np.where(cools | (from_c <= to_c), time_s, np.inf)


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
    C dT/dt = P - L(T) with the mass of water falling, by Runge-Kutta of fourth order in steps of 4 minutes or less;
    the time constant of a vessel is hours.
    """
    longest_s = float(duration_s.max(initial=0.0)) if longest_s is None else longest_s
    steps = int(np.clip(np.ceil(longest_s / DRIFT_STEP_S), FEWEST_DRIFT_STEPS, MOST_DRIFT_STEPS))
    step_s = duration_s / steps
    state = np.stack([from_c, contents.water_kg, *np.zeros((2, from_c.shape[0]))])
    path = [from_c]
    for _ in range(steps):
        state = _runge_kutta(state, step_s, contents, heat_w, losses)
        path.append(state[0])
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
        stretch=Stretch(times_s=np.arange(steps + 1)[:, None] * step_s, temperatures_c=np.asarray(path)),
    )


def _runge_kutta(
    state: FloatArray, step_s: FloatArray, contents: Contents, heat_w: FloatArray, losses: LossCurve
) -> FloatArray:
    least_kg = LEAST_WATER_FRAC * contents.water_kg

    def slope(y: FloatArray) -> FloatArray:
        # A vessel that boils dry, or heats beyond the table, is refused by whoever called; until then stay finite.
        temperature_c, water_kg = np.clip(y[0], losses.low_c, losses.high_c), np.maximum(y[1], least_kg)
        dry_w, vapour = losses.dry_w(temperature_c), losses.vapour_kg_per_s(temperature_c)
        latent_w = vapour * latent_heat_j_per_kg(temperature_c) if losses.dries else vapour
        capacity = water_kg * specific_heat_j_per_kg_k(temperature_c) + contents.beside_water_j_per_k(temperature_c)
        vapour_w = vapour * vapour_enthalpy_j_per_kg(temperature_c) if losses.dries else vapour
        return np.stack([(heat_w - dry_w - latent_w) / capacity, -vapour, dry_w, vapour_w])

    k1 = slope(state)
    k2 = slope(state + step_s / 2 * k1)
    k3 = slope(state + step_s / 2 * k2)
    k4 = slope(state + step_s * k3)
    return np.asarray(state + step_s / 6 * (k1 + 2 * k2 + 2 * k3 + k4))


def choose(first: BoolArray, one: Outcome, other: Outcome) -> Outcome:
    """Take one outcome for some draws and another for the rest; the way there keeps only its ends unless all agree."""
    if first.all() or not first.any():
        return one if first.all() else other
    contents = either(first, one.contents, other.contents)
    merged = {name: np.where(first, getattr(one, name), getattr(other, name)) for name in _LEDGER}
    ends_s = np.vstack([np.zeros_like(merged["duration_s"]), merged["duration_s"]])
    start_c = one.stretch.temperatures_c[0]
    stretch = Stretch(times_s=ends_s, temperatures_c=np.vstack([start_c, merged["end_c"]]))
    return Outcome(**merged, contents=contents, stretch=stretch)


def either(first: BoolArray, one: Contents, other: Contents) -> Contents:
    """Take one content for some draws and another for the rest."""
    return Contents(**{name: np.where(first, getattr(one, name), getattr(other, name)) for name in _MASSES})


_MASSES = ("water_kg", "extract_kg", "grain_kg", "grain_j_per_kg_k", "vessel_j_per_k")
_LEDGER = ("duration_s", "end_c", "heat_j", "dry_loss_j", "vapour_kg", "vapour_j")
