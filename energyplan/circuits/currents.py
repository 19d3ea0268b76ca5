"""Currents on a circuit: on-draw of each line, mean square, voltage at the end of the wires, runs of time."""

from collections.abc import Sequence
from itertools import product
from typing import Any

import numpy as np
from numpy.typing import NDArray

from energyplan.base.load import distinct
from energyplan.base.records import dataclass
from energyplan.circuits.loads import Appliance, Loads
from energyplan.physics.network import NEUTRAL, Branch, Network, Wires, amps_frac, lines_in, solve

__all__ = [
    "CircuitCurrents",
    "Supply",
    "currents",
    "lasting_level_a",
    "longest_run_s",
    "neutral_peak_a",
    "owned_branches",
    "rms_over_window_a",
]

FloatArray = NDArray[np.float64]
PhasorArray = NDArray[Any]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """Voltage at the board, the nominal one of the ratings, and how far the elements are off their plates.

    ``wired`` is false where the wires don't count, as for rules that compare plates.
    """

    voltage_v: float
    nominal_v: float
    element_factor: float = 1.0
    wired: bool = True


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CircuitCurrents:
    """Currents of a circuit at one voltage, by appliance (k) and step (n).

    ``line_a`` is the current in each conductor (n,) by its name. ``line`` is the line with the largest of them over
    the day, on which the others are looked at: ``on_a`` what each appliance adds to it with its elements on (k, n),
    ``mean_a`` the same for the meter's mean power (k, n), ``mean_square_a2`` the mean square of it when pulsing
    elements pulse together (n,). ``vessel_a`` and ``vessel_square_a2`` are the first appliance's own current in its
    fullest conductor and its mean square (n,), ``own_peak_a`` each appliance's largest in its own (k,), ``place_a``
    its largest in each place where it hangs. ``drop_v`` and ``drop_frac`` are what is lost from the board to the
    worst planned appliance (n,), ``cable_drop_frac`` in the fixed cable alone (n,).
    """

    voltage_v: float
    line_a: dict[str, FloatArray]
    line: str
    on_a: FloatArray
    mean_a: FloatArray
    mean_square_a2: FloatArray
    vessel_a: FloatArray
    vessel_square_a2: FloatArray
    own_peak_a: FloatArray
    place_a: tuple[dict[str, float], ...]
    drop_v: FloatArray
    drop_frac: FloatArray
    cable_drop_frac: FloatArray

    @property
    def total_a(self) -> FloatArray:
        """Current in the fullest line, elements on [A] (n,)."""
        return self.line_a[self.line]


def currents(loads: Loads, wires: Wires, supplies: Sequence[Supply]) -> tuple[CircuitCurrents, ...]:
    """Currents of a circuit at some voltages of its supply.

    Parameters
    ----------
    loads : Loads
        All appliances, each with a place to hang.
    wires : Wires
        Resistances [ohm].
    supplies : sequence of Supply
        Voltages [V] and element tolerance.

    Returns
    -------
    tuple of CircuitCurrents
        Currents [A] and drops [V], one for each supply.

    Notes
    -----
    `energyplan.physics.network.solve` with elements as conductances. Everything else (pump, electronics, other loads)
    draws P/V below the nominal voltage, as electronics and motors do, and P V/V_nominal^2 above it, as a kettle does:
    the worse of the two at either end. What an appliance adds to a line is the part of its phasor along the sum.
    """
    steps = loads.edges_s.size - 1
    owners, branches = owned_branches(loads, supplies)
    voltages_v = np.repeat([supply.voltage_v for supply in supplies], steps)
    wired = np.repeat([float(supply.wired) for supply in supplies], steps)
    network = solve(loads.layout, branches, wires, voltages_v, wired)
    return _Solved(loads, network, branches, np.array(owners)).cases(supplies)


def neutral_peak_a(loads: Loads, wires: Wires, supply: Supply) -> float:
    """Largest current of the neutral, whichever of the loads rest; 0 where there is none.

    Parameters
    ----------
    loads, wires, supply
        As for `currents`.

    Returns
    -------
    float
        Current [A].

    Notes
    -----
    Loads on different lines cancel in the neutral in part, so that most may flow while one of them rests: a
    thermostat has opened, an element pulses. The length of a sum of phasors is convex in each of them, so the largest
    is found with each either on or off. The elements of an appliance of the day switch together; steady loads in the
    same place are in phase, so they rest together or not at all. What hangs between lines rests: it would only lower
    the voltage of the others.
    """
    owners, branches = owned_branches(loads, (supply,))
    factor = float(supply.wired)
    network = solve(loads.layout, branches, wires, supply.voltage_v, factor)
    if NEUTRAL not in network.conductors:
        return 0.0
    neutral = network.conductors.index(NEUTRAL)
    units: dict[tuple[int, str], list[int]] = {}
    for number, (owner, branch) in enumerate(zip(owners, branches, strict=True)):
        if network.branch_a[number, neutral].any():
            units.setdefault((owner, "") if branch.siemens.any() else (-1, branch.connection), []).append(number)
    if not units:
        return 0.0
    parts_a = np.stack([network.branch_a[members, neutral].sum(axis=0) for members in units.values()])
    ways = np.array(list(product((0.0, 1.0), repeat=len(units))))
    steps = np.abs(ways @ parts_a).argmax(axis=1)  # of each way the step in which it makes most
    kept = [
        Branch(
            connection=branches[number].connection,
            siemens=branches[number].siemens[steps] * on,
            steady_a=branches[number].steady_a[steps] * on,
            behind_lead=branches[number].behind_lead,
        )
        for on, members in zip(ways.T, units.values(), strict=True)
        for number in members
    ]
    alone = solve(loads.layout, kept, wires, supply.voltage_v, factor)
    return float(np.abs(alone.total_a[alone.conductors.index(NEUTRAL)]).max())


def owned_branches(loads: Loads, supplies: Sequence[Supply]) -> tuple[list[int], list[Branch]]:
    """All appliances as branches, and to which appliance each belongs."""
    owners: list[int] = []
    branches: list[Branch] = []
    for place, appliance in enumerate(loads.appliances):
        made = _branches(appliance, loads.layout, supplies)
        owners += [place] * len(made)
        branches += made
    return owners, branches


def _branches(appliance: Appliance, layout: str, supplies: Sequence[Supply]) -> list[Branch]:
    """An appliance as branches, its steps once for each supply: what is steady first, then its elements."""
    per_v = 1 / amps_frac(layout, appliance.other_line)
    stray = [max(s.voltage_v / s.nominal_v, s.nominal_v / s.voltage_v) / s.nominal_v for s in supplies]
    steady_a = np.outer(np.array(stray) * per_v, appliance.other_w).ravel()
    factors = np.array([supply.element_factor for supply in supplies])
    nothing, behind = np.zeros_like(steady_a), appliance.behind_lead
    branches = [Branch(connection=appliance.other_line, siemens=nothing, steady_a=steady_a, behind_lead=behind)]
    for place, siemens in appliance.heaters:
        scaled = np.outer(factors, siemens).ravel()
        branches.append(Branch(connection=place, siemens=scaled, steady_a=nothing, behind_lead=behind))
    return branches


NO_CURRENT_A = 1e-9  # less is rounding, and has no direction


class _Solved:
    """A solved network while it is summed up by appliance: k appliances, c conductors, n steps of all s supplies."""

    def __init__(self, loads: Loads, network: Network, branches: Sequence[Branch], owners: NDArray[np.int64]) -> None:
        self.loads, self.network, self.branches, self.owners = loads, network, branches, owners
        owned = (owners == np.arange(len(loads.appliances))[:, None]).astype(float)
        heats = np.array([bool(branch.siemens.any()) for branch in branches])
        self.own_a = np.einsum("kb,bcn->kcn", owned, network.branch_a)
        self.heater_a = np.einsum("kb,bcn->kcn", owned * heats, network.branch_a)
        self.total_a = self.own_a.sum(axis=0)

    def cases(self, supplies: Sequence[Supply]) -> tuple[CircuitCurrents, ...]:
        names, count = self.network.conductors, len(supplies)
        conductor_a = np.abs(self.total_a)
        by_case = conductor_a.reshape(len(names), count, -1)
        lines = [place for place, name in enumerate(names) if name != NEUTRAL]
        fullest = np.array(lines)[by_case[lines].max(axis=2).argmax(axis=0)]
        columns = self._along(np.repeat(fullest, by_case.shape[2]), conductor_a, count)
        drops = dict(zip(("drop_v", "drop_frac", "cable_drop_frac"), self._drops(), strict=True))
        places = self._places(count)
        own_peak_a = np.abs(self.own_a).reshape(len(self.own_a), len(names), count, -1).max(axis=(1, 3))

        def case(number: int, supply: Supply) -> CircuitCurrents:
            steps = slice(number * by_case.shape[2], (number + 1) * by_case.shape[2])
            return CircuitCurrents(
                voltage_v=supply.voltage_v,
                line_a=dict(zip(names, by_case[:, number], strict=True)),
                line=names[fullest[number]],
                own_peak_a=own_peak_a[:, number],
                place_a=tuple({place: float(a[number]) for place, a in one.items()} for one in places),
                **{name: column[..., steps] for name, column in (columns | drops).items()},
            )

        return tuple(case(number, supply) for number, supply in enumerate(supplies))

    def _places(self, count: int) -> list[dict[str, FloatArray]]:
        """Largest current of each appliance in each place, by case: its elements there, and what is steady there."""
        there: list[dict[str, PhasorArray]] = [{} for _ in self.loads.appliances]
        for owner, branch, amps in zip(self.owners, self.branches, self.network.branch_a, strict=True):
            before = there[owner].get(branch.connection)
            there[owner][branch.connection] = amps if before is None else before + amps
        return [
            {place: np.abs(amps).max(axis=0).reshape(count, -1).max(axis=1) for place, amps in one.items()}
            for one in there
        ]

    def _along(self, line: NDArray[np.int64], conductor_a: FloatArray, count: int) -> dict[str, FloatArray]:
        """What each appliance adds to the fullest line, its mean and mean square, and the vessel's own."""
        every = np.arange(line.size)
        total_a, length_a = self.total_a[line, every], conductor_a[line, every]
        along = np.divide(total_a, length_a, out=np.ones_like(total_a), where=length_a > NO_CURRENT_A).conj()
        on_a, heating_a = ((amps[:, line, every] * along).real for amps in (self.own_a, self.heater_a))
        board_v = self.network.board_v.conj()
        appliances = self.loads.appliances
        means_w = np.tile(np.stack([appliance.mean_w for appliance in appliances]), count)
        others_w = np.tile(np.stack([appliance.other_w for appliance in appliances]), count)
        duty = _share(means_w - others_w, (self.heater_a * board_v).real.sum(axis=1), most=1.0)
        mean_of_on = _share(means_w, (self.own_a * board_v).real.sum(axis=1))
        vessel_a, vessel_square_a2 = _fullest(self.own_a[0], self.heater_a[0], duty[0])
        return {
            "on_a": on_a,
            "mean_a": mean_of_on * on_a,
            "mean_square_a2": _pulsing_together_a2(heating_a, duty, (on_a - heating_a).sum(axis=0)),
            "vessel_a": vessel_a,
            "vessel_square_a2": vessel_square_a2,
        }

    def _drops(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Largest drop to a planned appliance [V], its share, and the largest share in the cable alone, each (n,)."""
        network, every = self.network, np.arange(len(self.branches))
        ends = np.array([_ends(network, branch.connection) for branch in self.branches]).T
        there_v = np.abs(network.branch_v[every, ends[0]] - network.branch_v[every, ends[1]])
        board_v, cable_v = (np.abs(nodes[ends[0]] - nodes[ends[1]]) for nodes in (network.board_v, network.cable_v))
        planned = np.array([appliance.planned for appliance in self.loads.appliances])[self.owners]
        draws = (network.branch_a != 0).any(axis=1) & planned[:, None]
        drop_v = np.where(draws, board_v - there_v, 0.0)
        drop_frac = drop_v / board_v
        worst = drop_frac.argmax(axis=0), np.arange(drop_frac.shape[1])
        return drop_v[worst], drop_frac[worst], ((board_v - cable_v) / board_v).max(axis=0)


def _ends(network: Network, place: str) -> tuple[int, int]:
    """Conductors between which a place hangs, two of three."""
    lines = lines_in(place)
    at = network.conductors.index
    return at(lines[0]), at(lines[1] if len(lines) > 1 else NEUTRAL)


def _fullest(
    own_a: NDArray[np.complex128], heater_a: NDArray[np.complex128], duty: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """One appliance's current in its fullest conductor, and the mean square of it (n,)."""
    rest_a = own_a - heater_a
    squares = duty * np.abs(own_a) ** 2 + (1 - duty) * np.abs(rest_a) ** 2
    return np.asarray(np.abs(own_a).max(axis=0)), np.asarray(squares.max(axis=0))


def _share(part: FloatArray, whole: FloatArray, most: float = np.inf) -> FloatArray:
    shares = np.divide(part, whole, out=np.zeros_like(whole), where=whole > 0)
    return np.asarray(np.clip(shares, 0.0, most))


def _pulsing_together_a2(heater_a: FloatArray, duty: FloatArray, base_a: FloatArray) -> FloatArray:
    """Mean square of the sum when all elements switch on at the same moment: the worst way to overlap."""
    order = np.argsort(-duty, axis=0, kind="stable")
    sorted_duty = np.take_along_axis(duty, order, axis=0)
    level_a = base_a + np.cumsum(np.take_along_axis(heater_a, order, axis=0), axis=0)
    spans = sorted_duty - np.append(sorted_duty[1:], np.zeros((1, duty.shape[1])), axis=0)
    return np.asarray((spans * level_a**2).sum(axis=0) + (1 - sorted_duty[0]) * base_a**2)


def rms_over_window_a(edges_s: FloatArray, mean_square_a2: FloatArray, window_s: float) -> float:
    """Largest root mean square over any window of a given length.

    Parameters
    ----------
    edges_s : ndarray, shape (n + 1,)
        Borders of the steps [s].
    mean_square_a2 : ndarray, shape (n,)
        Mean square of the current in each step [A2]; nothing flows outside.
    window_s : float
        Length of the window [s].

    Returns
    -------
    float
        RMS current [A].

    Notes
    -----
    The integral over a sliding window is piecewise linear in its place, with corners where either end meets an
    edge; so the largest value is found exactly among those.

    Examples
    --------
    >>> round(rms_over_window_a(np.array([0.0, 1800.0]), np.array([100.0]), 3600.0), 3)
    7.071
    """
    integral = np.append(0.0, np.cumsum(mean_square_a2 * np.diff(edges_s)))
    begins_s = np.append(edges_s, edges_s - window_s)
    areas = np.interp(begins_s + window_s, edges_s, integral) - np.interp(begins_s, edges_s, integral)
    return float(np.sqrt(max(areas.max(), 0.0) / window_s))


def longest_run_s(edges_s: FloatArray, on: BoolArray, bridge_s: float = 0.0) -> tuple[float, float]:
    """Longest unbroken stretch of steps that are on.

    Parameters
    ----------
    edges_s : ndarray, shape (n + 1,)
        Borders of the steps [s].
    on : ndarray of bool, shape (n,)
        Which steps count.
    bridge_s : float
        Gaps shorter than this count as if on [s].

    Returns
    -------
    (float, float)
        Its start [s] and length [s]; length 0 when nothing is on.

    Examples
    --------
    >>> longest_run_s(np.array([0.0, 60.0, 90.0, 200.0]), np.array([True, False, True]))
    (90.0, 110.0)
    """
    lefts_s, rights_s = edges_s[:-1][on], edges_s[1:][on]
    if not lefts_s.size:
        return 0.0, 0.0
    gaps_s = lefts_s[1:] - rights_s[:-1]
    breaks = np.flatnonzero((gaps_s > 1e-6) & (gaps_s >= bridge_s))
    begins_s, ends_s = lefts_s[np.append(0, breaks + 1)], rights_s[np.append(breaks, -1)]
    longest = int(np.argmax(ends_s - begins_s))
    return float(begins_s[longest]), float(ends_s[longest] - begins_s[longest])


def lasting_level_a(edges_s: FloatArray, current_a: FloatArray, least_s: float, bridge_s: float = 0.0) -> float:
    """Largest current that is reached or passed without a break for a given time.

    Parameters
    ----------
    edges_s : ndarray, shape (n + 1,)
        Borders of the steps [s].
    current_a : ndarray, shape (n,)
        Current in each step [A].
    least_s : float
        How long it must last [s].
    bridge_s : float
        Gaps shorter than this don't break it [s].

    Returns
    -------
    float
        Current [A]; 0 when none lasts that long.

    Examples
    --------
    >>> lasting_level_a(np.array([0.0, 7200.0, 10800.0]), np.array([20.0, 12.0]), 10800.0)
    12.0
    """
    levels_a = distinct(current_a[current_a > 0])
    low, high = -1, levels_a.size - 1  # what is reached for longest is the lowest level
    while low < high:
        middle = (low + high + 1) // 2
        lasts = longest_run_s(edges_s, current_a >= levels_a[middle], bridge_s)[1] >= least_s - 1e-6
        low, high = (middle, high) if lasts else (low, middle - 1)
    return float(levels_a[low]) if low >= 0 else 0.0
