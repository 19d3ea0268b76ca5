"""Currents of a supply with up to three lines and a neutral: one small network of phasors for every layout.

The supply's terminals are fixed phasors. One cable with a conductor for each of them leads to the outlet, and a lead
of as many conductors on to what is plugged into it. Every load hangs between two conductors, or, balanced, on all
three lines. Layouts differ in their phasors alone.
"""

from collections.abc import Mapping, Sequence
from functools import cache
from types import MappingProxyType
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from energyplan.base.records import dataclass

__all__ = [
    "NEUTRAL",
    "PHASORS",
    "Branch",
    "Layout",
    "Network",
    "Wires",
    "amps_frac",
    "board_frac",
    "connections",
    "lines_in",
    "solve",
]

FloatArray = NDArray[np.float64]
PhasorArray = NDArray[Any]  # complex, or real where all phasors of the layout are
Layout = Literal["one phase", "split phase", "two of three phases", "three phase"]

_THIRD = np.exp(-2j * np.pi / 3)
NEUTRAL = "N"
PHASORS: Mapping[str, Mapping[str, complex]] = MappingProxyType({
    "one phase": {"L1": 1.0},
    "split phase": {"L1": 0.5, "L2": -0.5},
    "two of three phases": {"L1": 3**-0.5, "L2": 3**-0.5 * _THIRD},
    "three phase": {"L1": 1.0, "L2": _THIRD, "L3": _THIRD**2},
})  # fmt: skip
"""Voltage of each line to neutral in units of the layout's own voltage.

That voltage is the one from line to neutral of one and of three phases, and the one between the two lines of the
others (split phase: two legs half a turn apart; 208Y/120 brought with two of its lines: a third of a turn apart).
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wires:
    """Resistance of each conductor of the cable that all share, and of the lead of some [ohm]."""

    cable_ohm: float = 0.0
    lead_ohm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Branch:
    """What hangs in one place, over n steps.

    ``siemens`` is a conductance between the two conductors, ``steady_a`` a current that does not mind the voltage and
    is in phase with it at the board; either (n,). Of a balanced load on "all" lines ``siemens`` is the power over the
    square of the voltage between lines, and ``steady_a`` the current in each line.
    """

    connection: str
    siemens: FloatArray
    steady_a: FloatArray
    behind_lead: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Network:
    """The solution: phasors over b branches, c conductors and n steps.

    ``branch_a`` is the current that each branch takes out of each conductor (b, c, n), ``branch_v`` the voltage of
    each conductor where the branch hangs (b, c, n), ``board_v`` that at the board (c, n), ``cable_v`` that at the end
    of the cable (c, n).
    """

    conductors: tuple[str, ...]
    branch_a: PhasorArray
    branch_v: PhasorArray
    board_v: PhasorArray
    cable_v: PhasorArray

    @property
    def total_a(self) -> PhasorArray:
        """Current in each conductor of the cable (c, n)."""
        return np.asarray(self.branch_a.sum(axis=0))

    @property
    def board_w(self) -> FloatArray:
        """Power that leaves the board (n,)."""
        return np.asarray((self.board_v * self.total_a.conj()).real.sum(axis=0))

    @property
    def branch_w(self) -> FloatArray:
        """Power that each branch turns into something else than warm wires (b, n)."""
        return np.asarray((self.branch_v * self.branch_a.conj()).real.sum(axis=1))


def connections(layout: str) -> tuple[str, ...]:
    """Places where a load may hang.

    Examples
    --------
    >>> connections("split phase")
    ('L1', 'L2', 'L1-L2')
    >>> connections("three phase")
    ('L1', 'L2', 'L3', 'L1-L2', 'L2-L3', 'L3-L1', 'all')
    """
    return {
        "one phase": ("L1",),
        "split phase": ("L1", "L2", "L1-L2"),
        "two of three phases": ("L1", "L2", "L1-L2"),
        "three phase": ("L1", "L2", "L3", "L1-L2", "L2-L3", "L3-L1", "all"),
    }[layout]


def lines_in(connection: str) -> tuple[str, ...]:
    """Lines that a load in some place draws from.

    Examples
    --------
    >>> lines_in("L3-L1"), lines_in("all"), lines_in("L2")
    (('L3', 'L1'), ('L1', 'L2', 'L3'), ('L2',))
    """
    return ("L1", "L2", "L3") if connection == "all" else tuple(connection.split("-"))


def board_frac(layout: str, connection: str) -> float:
    """Voltage at the board between the conductors of a place, over the layout's own voltage.

    Examples
    --------
    >>> board_frac("split phase", "L1"), round(board_frac("three phase", "all"), 4)
    (0.5, 1.7321)
    """
    phasors = PHASORS[layout]
    lines = lines_in(connection)
    return float(abs(phasors[lines[0]] - (phasors[lines[1]] if len(lines) > 1 else 0.0)))


def amps_frac(layout: str, connection: str) -> float:
    """Power of a load in some place for each ampere in its lines, over the layout's own voltage.

    Examples
    --------
    >>> amps_frac("split phase", "L1"), round(amps_frac("three phase", "all"), 4)
    (0.5, 3.0)
    """
    return board_frac(layout, connection) * (3**0.5 if connection == "all" else 1.0)


@cache
def _pattern(layout: str, connection: str, conductors: tuple[str, ...]) -> tuple[PhasorArray, PhasorArray]:
    """How a unit of conductance joins the conductors (c, c), and where a unit of steady current flows (c,)."""
    joins = np.zeros((len(conductors), len(conductors)))
    phasors = PHASORS[layout]
    lines = lines_in(connection)
    pairs = list(zip(lines, (*lines[1:], lines[0]), strict=True)) if connection == "all" else [_ends(connection)]
    for one, other in pairs:
        ends = np.zeros(len(conductors))
        ends[conductors.index(one)], ends[conductors.index(other)] = 1.0, -1.0
        joins += np.outer(ends, ends) / len(pairs)
    flows = np.zeros(len(conductors), dtype=complex)
    for line in lines:
        flows[conductors.index(line)] = phasors[line] / abs(phasors[line])
    if connection != "all":
        one, other = _ends(connection)
        between = phasors[one] - phasors.get(other, 0.0)
        flows[conductors.index(one)] = between / abs(between)
        flows[conductors.index(other)] = -between / abs(between)
    return joins, flows if _is_complex(layout) else flows.real


def _ends(connection: str) -> tuple[str, str]:
    one, _, other = connection.partition("-")
    return one, other or NEUTRAL


def _is_complex(layout: str) -> bool:
    return any(complex(phasor).imag for phasor in PHASORS[layout].values())


def _conductors(layout: str, branches: Sequence[Branch]) -> tuple[str, ...]:
    used = {line for branch in branches for line in lines_in(branch.connection)}
    used |= {NEUTRAL for branch in branches if len(lines_in(branch.connection)) == 1}
    return tuple(name for name in (*PHASORS[layout], NEUTRAL) if name in used)


def solve(
    layout: str, branches: Sequence[Branch], wires: Wires, voltage_v: ArrayLike, wire_factor: ArrayLike = 1.0
) -> Network:
    """Solve the network of a supply, its wires and what hangs on them.

    Parameters
    ----------
    layout : str
        Kind of supply.
    branches : sequence of Branch
        At least one; all with the same number of steps n.
    wires : Wires
        Resistances [ohm].
    voltage_v : array_like, shape () or (n,)
        The layout's own voltage at the board [V].
    wire_factor : array_like, shape () or (n,)
        Factor on the resistances of the wires; 0 leaves them out.

    Returns
    -------
    Network
        Phasors of currents [A] and voltages [V]; conductors that nothing hangs on are left out.

    Notes
    -----
    With Y the conductances that join the conductors at the end of the cable (A) and of the lead (B), S the steady
    currents, and r the resistances: V_A = E - r_c (I_A + I_B), V_B = V_A - r_l I_B, I = Y V + S. It is linear, so
    superposition holds, and no conductor needs a resistance. Resistances only: below 16 mm2 the reactance of a cable
    is below a tenth of its resistance.

    Examples
    --------
    >>> heater = Branch(connection="L1", siemens=np.array([3000 / 230**2]), steady_a=np.zeros(1))
    >>> found = solve("three phase", [heater], Wires(), 230.0)
    >>> found.conductors, np.abs(found.total_a[:, 0]).round(2).tolist()
    (('L1', 'N'), [13.04, 13.04])
    """
    conductors = _conductors(layout, branches)
    patterns = [_pattern(layout, branch.connection, conductors) for branch in branches]
    joins, flows = np.stack([one for one, _ in patterns]), np.stack([other for _, other in patterns])
    siemens, steady_a = np.stack([b.siemens for b in branches]), np.stack([b.steady_a for b in branches])
    steps = siemens.shape[1]
    phasors = np.array([PHASORS[layout].get(name, 0.0) for name in conductors], dtype=flows.dtype)
    board_v = phasors[:, None] * np.broadcast_to(np.asarray(voltage_v, dtype=float), (steps,))
    lead = np.array([branch.behind_lead and wires.lead_ohm > 0 for branch in branches])
    factor = np.broadcast_to(np.asarray(wire_factor, dtype=float), (steps,))
    resistances = wires.cable_ohm * factor, wires.lead_ohm * factor, lead
    near_v, far_v = _nodes(joins, flows, (siemens, steady_a), resistances, board_v)
    branch_v = np.where(lead[:, None, None], far_v, near_v)
    branch_a = siemens[:, None, :] * np.einsum("bcd,bdn->bcn", joins, branch_v)
    branch_a = branch_a + steady_a[:, None, :] * flows[:, :, None]
    return Network(conductors=conductors, branch_a=branch_a, branch_v=branch_v, board_v=board_v, cable_v=near_v)


def _nodes(
    joins: PhasorArray,
    flows: PhasorArray,
    loads: tuple[FloatArray, FloatArray],
    wiring: tuple[FloatArray, FloatArray, NDArray[np.bool_]],
    board_v: PhasorArray,
) -> tuple[PhasorArray, PhasorArray]:
    """Voltages of the conductors at the end of the cable, and of the lead (c, n)."""
    (siemens, steady_a), (cable_ohm, lead_ohm, lead) = loads, wiring
    size, steps = board_v.shape
    if not (cable_ohm.any() or lead.any()):
        return board_v, board_v
    near_y = np.einsum("bn,bcd->ncd", siemens[~lead], joins[~lead])
    sources = board_v - cable_ohm * np.einsum("bn,bc->cn", steady_a, flows)
    unit, cable, along = np.eye(size), cable_ohm[:, None, None], lead_ohm[:, None, None]
    near = unit + cable * near_y
    if not lead.any():
        near_v = np.linalg.solve(near, sources.T[:, :, None])[:, :, 0].T
        return near_v, near_v
    far_y = np.einsum("bn,bcd->ncd", siemens[lead], joins[lead])
    whole = np.empty((steps, 2 * size, 2 * size), dtype=board_v.dtype)
    whole[:, :size, :size], whole[:, :size, size:] = near, cable * far_y
    whole[:, size:, :size], whole[:, size:, size:] = -unit, unit + along * far_y
    far_sources = -lead_ohm * np.einsum("bn,bc->cn", steady_a[lead], flows[lead])
    both = np.linalg.solve(whole, np.concatenate([sources, far_sources]).T[:, :, None])[:, :, 0].T
    return both[:size], both[size:]
