"""The vessel's heat and mass balance through one phase: ramp, hold, boil, rest. Vectorised over draws.

Every function takes arrays of shape (draws,) and returns an `Outcome` whose ledger closes:
heat in = rise of stored heat + dry loss + enthalpy of the vapour.
"""

import numpy as np
from numpy.typing import NDArray

from energyplan.base.records import dataclass
from energyplan.physics.contents import Contents, quick_latent_heat_j_per_kg, quick_vapour_enthalpy_j_per_kg
from energyplan.physics.drift import Outcome, Stretch, choose, drift, either
from energyplan.physics.losscurve import LossCurve

__all__ = [
    "Outcome",
    "Stretch",
    "Way",
    "boil",
    "chill",
    "choose",
    "cool",
    "either",
    "keep",
    "least_boil_w",
    "ramp",
    "stall",
    "way",
]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

RAMP_NODES, TIGHT_RAMP_NODES, TIGHT_FRAC = 12, 24, 0.2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Quadrature:
    """Gauss-Legendre shares of an interval (a column), their weights, the matrix that integrates up to each of them."""

    shares: FloatArray
    weights: FloatArray
    up_to: FloatArray


def _quadrature(nodes: int) -> _Quadrature:
    x, weights = np.polynomial.legendre.leggauss(nodes)
    values = np.polynomial.legendre.legvander(x, nodes)
    before = np.hstack([-np.ones((nodes, 1)), values[:, : nodes - 1]])
    integrals = (values[:, 1:] - before) / (2 * np.arange(nodes) + 1)  # of each Legendre polynomial, from -1
    up_to = integrals @ np.linalg.inv(values[:, :nodes])
    return _Quadrature(shares=(x[:, None] + 1) / 2, weights=weights / 2, up_to=up_to / 2)


_COARSE, _FINE = _quadrature(RAMP_NODES), _quadrature(TIGHT_RAMP_NODES)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Way:
    """A way between two temperatures [°C] past the losses of a vessel; ends that are the same are no way at all.

    ``upwards`` is 1 or -1, ``starts_w`` and ``ends_w`` the loss at either end [W], ``per_k_w`` its slope there [W/K].
    """

    from_c: FloatArray
    to_c: FloatArray
    losses: LossCurve
    upwards: FloatArray
    starts_w: FloatArray
    ends_w: FloatArray
    per_k_w: FloatArray

    def of(self, which: NDArray[np.int64]) -> "Way":
        """The way of some of the draws."""
        names = ("from_c", "to_c", "upwards", "starts_w", "ends_w", "per_k_w")
        return Way(losses=self.losses.of(which), **{name: getattr(self, name)[which] for name in names})

    def at(self, shares: FloatArray, heat_w: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Temperatures at shares of the way, and how fast they change with the share [K].

        Equal shares gather geometrically before the temperature at which a heat would stall, were the loss a straight
        line.
        """
        left_k = np.minimum(np.maximum(np.abs(heat_w - self.ends_w) / self.per_k_w, 1e-9), 1e3)
        all_k = left_k + np.abs(self.to_c - self.from_c)
        rate = np.log(all_k / left_k)
        near = np.exp(-rate * shares)
        over_k = self.upwards * all_k
        return self.from_c + over_k * (1.0 - near), over_k * rate * near


def way(from_c: FloatArray, to_c: FloatArray, losses: LossCurve) -> Way:
    """The way from one temperature to another [°C], both of shape (draws,)."""
    upwards = np.where(to_c < from_c, -1.0, 1.0)
    starts_w, ends_w, before_w = losses.total_w(np.array([from_c, to_c, to_c - upwards]))
    return Way(
        from_c=from_c,
        to_c=to_c,
        losses=losses,
        upwards=upwards,
        starts_w=starts_w,
        ends_w=ends_w,
        per_k_w=np.maximum(np.abs(ends_w - before_w), 1e-3),
    )


def stall(along: Way, heat_w: FloatArray) -> tuple[BoolArray, FloatArray, FloatArray]:
    """Tell whether a ramp stalls on its way.

    Returns
    -------
    stalls : ndarray of bool, shape (draws,)
        True where the heat doesn't exceed the loss somewhere between the temperatures.
    at_c : ndarray
        First such temperature [°C]; the target where none is.
    needed_w : ndarray
        Largest loss on the way [W]: the heat must be above it.

    Notes
    -----
    The loss rises with the temperature, so that it is largest at the end. The place is read between two of a hundred
    steps of the ramp.
    """
    from_c, to_c = along.from_c, along.to_c
    needed_w = np.maximum(along.starts_w, along.ends_w)
    stalls = (needed_w >= heat_w) & (to_c > from_c)
    if not stalls.any():
        return stalls, to_c, needed_w
    path_c = from_c + np.linspace(0.0, 1.0, 101)[:, None] * (np.maximum(to_c, from_c) - from_c)
    short_w = heat_w - along.losses.total_w(path_c)
    first, draw = np.maximum(np.argmax(short_w <= 0, axis=0), 1), np.arange(stalls.size)
    before_w, after_w = np.maximum(short_w[first - 1, draw], 0.0), short_w[first, draw]
    share = np.where(stalls, before_w / np.maximum(before_w - after_w, 1e-300), 0.0)
    at_c = path_c[first - 1, draw] + share * (path_c[first, draw] - path_c[first - 1, draw])
    return stalls, np.where(stalls, at_c, to_c), needed_w


def ramp(contents: Contents, along: Way, heat_w: FloatArray) -> Outcome:
    """Heat (or let cool) from one temperature to another at a constant heat input.

    Parameters
    ----------
    contents : Contents
        What is in the vessel.
    along : Way
        From where to where. The same temperature gives an outcome of no duration.
    heat_w : ndarray, shape (draws,)
        Heat into the contents [W]; must exceed the loss all the way up (see `stall`), or be below it on the way down.

    Notes
    -----
    Integrated over temperature: dt = C dT / (P - L(T)); ends exactly at the target. Gauss-Legendre with 12 nodes,
    24 where the loss takes more than 0.8 of the heat; they lie closer where it hardly exceeds it. The mass of water
    falls along the way by dm/dT = -(a m + b), which is linear in the mass and solved by its integrating factor.
    """
    near_w = np.minimum(np.abs(heat_w - along.starts_w), np.abs(heat_w - along.ends_w))
    tight = near_w <= TIGHT_FRAC * np.maximum(heat_w, 1.0)  # the nodes of a draw depend on nothing but the draw
    which = np.flatnonzero(tight)
    if which.size == tight.size:
        return _ramp(contents, along, heat_w, _FINE)
    coarse = _ramp(contents, along, heat_w, _COARSE)
    if not which.size:
        return coarse
    fine = _ramp(contents.of(which), along.of(which), heat_w[which], _FINE)
    return coarse.ends().with_some(which, fine.ends())


def _ramp(contents: Contents, along: Way, heat_w: FloatArray, rule: _Quadrature) -> Outcome:
    from_c, to_c, losses = along.from_c, along.to_c, along.losses
    path_c, span_k = along.at(rule.shares, heat_w)
    dry_w, vapour = losses.dry_w_and_vapour_kg_per_s(path_c)
    net_w = heat_w - dry_w - vapour * quick_latent_heat_j_per_kg(path_c) if losses.dries else heat_w - dry_w
    per_w_k = span_k / _nonzero(net_w)
    water_j, beside_j = contents.specific_heats_j_per_k(path_c)
    masses_kg = contents.water_kg
    if losses.dries:
        masses_kg = _falling_mass_kg(masses_kg, vapour * water_j * per_w_k, vapour * beside_j * per_w_k, rule)
    per_share_s = (masses_kg * water_j + beside_j) * per_w_k
    from_j, to_j = contents.enthalpy_j(np.array([from_c, to_c]))
    after, taken_j = contents, to_j - from_j
    vapour_kg, vapour_j = np.zeros((2, from_c.shape[0]))
    if losses.dries:
        leaving = vapour * per_share_s
        vapour_kg, vapour_j = rule.weights @ leaving, rule.weights @ (leaving * quick_vapour_enthalpy_j_per_kg(path_c))
        after = contents.less_water(vapour_kg)
        taken_j = after.enthalpy_j(to_c) - from_j + vapour_j
    dry_loss_j = rule.weights @ (dry_w * per_share_s)
    passed_s, duration_s = rule.up_to @ per_share_s, rule.weights @ per_share_s
    # The ledger closes whatever the nodes: on the way up by the time that the asked heat takes, down by the loss.
    rises = (to_c > from_c) & (heat_w > 0.0)
    duration_s = np.where(rises, (taken_j + dry_loss_j) / np.where(rises, heat_w, 1.0), duration_s)
    dry_loss_j = np.where(rises, dry_loss_j, heat_w * duration_s - taken_j)
    return Outcome(
        duration_s=duration_s,
        end_c=to_c,
        heat_j=heat_w * duration_s,
        dry_loss_j=dry_loss_j,
        vapour_kg=vapour_kg,
        vapour_j=vapour_j,
        contents=after,
        stretch=Stretch(
            times_s=np.concatenate([[0.0 * duration_s], np.minimum(passed_s, duration_s), [duration_s]]),
            temperatures_c=np.concatenate([[from_c], path_c, [to_c]]),
        ),
    )


def _nonzero(value: FloatArray) -> FloatArray:
    """Keep draws that don't ramp at all (and may have no net heat) out of a division by zero."""
    return np.where(value == 0.0, 1.0, value)


def _falling_mass_kg(start_kg: FloatArray, a: FloatArray, b: FloatArray, rule: _Quadrature) -> FloatArray:
    """Mass at the nodes of dm/ds = -(a m + b) along the share s of the way: linear, by its integrating factor."""
    kept = np.exp(-(rule.up_to @ a))
    return kept * (start_kg - rule.up_to @ (b / kept))


def _from_to(from_c: FloatArray, to_c: FloatArray, duration_s: FloatArray) -> Stretch:
    return Stretch(times_s=np.array([0.0 * duration_s, duration_s]), temperatures_c=np.array([from_c, to_c]))


def keep(contents: Contents, at_c: FloatArray, duration_s: FloatArray, losses: LossCurve) -> Outcome:
    """Keep a temperature under a thermostat: mean heat = loss, whatever the cap above it."""
    dry_w, rate_kg_per_s = losses.dry_w_and_vapour_kg_per_s(at_c)
    dry_loss_j = dry_w * duration_s
    heat_j, after = dry_loss_j, contents
    vapour_kg = vapour_j = rate_kg_per_s * duration_s
    if losses.dries:
        vapour_j = vapour_kg * quick_vapour_enthalpy_j_per_kg(at_c)
        heat_j = dry_loss_j + vapour_kg * quick_latent_heat_j_per_kg(at_c)
        after = contents.less_water(vapour_kg)
    return Outcome(
        duration_s=duration_s,
        end_c=at_c,
        heat_j=heat_j,
        dry_loss_j=dry_loss_j,
        vapour_kg=vapour_kg,
        vapour_j=vapour_j,
        contents=after,
        stretch=_from_to(at_c, at_c, duration_s),
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
    vapour_kg = (heat_w - dry_w) / quick_latent_heat_j_per_kg(at_c) * duration_s
    return Outcome(
        duration_s=duration_s,
        end_c=at_c,
        heat_j=heat_w * duration_s,
        dry_loss_j=dry_w * duration_s,
        vapour_kg=vapour_kg,
        vapour_j=vapour_kg * quick_vapour_enthalpy_j_per_kg(at_c),
        contents=contents.less_water(vapour_kg),
        stretch=_from_to(at_c, at_c, duration_s),
    )


def chill(
    contents: Contents, from_c: FloatArray, to_c: FloatArray, duration_s: FloatArray, losses: LossCurve
) -> Outcome:
    """Chill from outside to a temperature in a time; the heat is what the chiller takes (negative).

    Notes
    -----
    The temperature is taken to fall straight down in time; losses and vapour on the way are integrated over it
    (Gauss-Legendre), and the chiller takes what they leave. Only the losses on the way depend on the shape.
    """
    path_c = from_c + (to_c - from_c) * _COARSE.shares
    dry_w, rate_kg_per_s = losses.dry_w_and_vapour_kg_per_s(path_c)
    vapour_kg = duration_s * (_COARSE.weights @ rate_kg_per_s)
    vapour_j = duration_s * (_COARSE.weights @ (rate_kg_per_s * quick_vapour_enthalpy_j_per_kg(path_c)))
    dry_loss_j, after = duration_s * (_COARSE.weights @ dry_w), contents.less_water(vapour_kg)
    return Outcome(
        duration_s=duration_s,
        end_c=to_c,
        heat_j=after.enthalpy_j(to_c) - contents.enthalpy_j(from_c) + dry_loss_j + vapour_j,
        dry_loss_j=dry_loss_j,
        vapour_kg=vapour_kg,
        vapour_j=vapour_j,
        contents=after,
        stretch=_from_to(from_c, to_c, duration_s),
    )


def cool(
    contents: Contents, from_c: FloatArray, to_c: FloatArray, heat_w: FloatArray, losses: LossCurve, *, longest_s: float
) -> Outcome:
    """Let cool down to a temperature, or for a time if that is over first; a draw that is not above stays as it is."""
    down_c = np.minimum(from_c, to_c)
    cools = losses.total_w(down_c) > heat_w  # the loss falls with the temperature: least at the end
    arrived = ramp(contents, way(from_c, np.where(cools, down_c, from_c), losses), heat_w)
    arrives = np.where(cools, arrived.duration_s <= longest_s, from_c <= to_c)
    if arrives.all():
        return arrived
    left_s = np.where(arrives, 0.0, longest_s)
    return choose(arrives, arrived, drift(contents, from_c, left_s, heat_w, losses, longest_s=longest_s))
