"""Currents on one line of the circuit: on-draw, mean square, voltage at the end of the wires, runs of time."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from energyplan.base.load import distinct
from energyplan.circuits.loads import Loads
from energyplan.circuits.wiring import Wiring

__all__ = ["LineCurrents", "Supply", "lasting_level_a", "longest_run_s", "rms_over_window_a", "solve"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LineCurrents:
    """Currents on one line at one voltage, by appliance (k) and step (n).

    ``on_a`` with the elements on (k, n); ``mean_a`` what the meter's mean power amounts to (k, n);
    ``own_square_a2`` mean square of each alone (k, n); ``mean_square_a2`` of the whole line when pulsing elements
    pulse together (n,);
    ``drop_v`` from the board to the worst planned appliance (n,); ``cable_drop_v`` of the fixed cable alone (n,).
    """

    voltage_v: float
    on_a: FloatArray
    mean_a: FloatArray
    own_square_a2: FloatArray
    mean_square_a2: FloatArray
    drop_v: FloatArray
    cable_drop_v: FloatArray

    @property
    def total_a(self) -> FloatArray:
        """Everything on the line, elements on [A] (n,)."""
        return np.asarray(self.on_a.sum(axis=0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """Voltage at the board, the nominal one of the ratings, and how far the elements are off their plates."""

    voltage_v: float
    nominal_v: float
    element_factor: float = 1.0


def solve(loads: Loads, line: str, wiring: Wiring, supply: Supply) -> LineCurrents:
    """Currents that flow on a line.

    Parameters
    ----------
    loads : Loads
        All appliances.
    line : str
        The line to look at.
    wiring : Wiring
        Resistances [ohm].
    supply : Supply
        Voltages [V] and element tolerance.

    Returns
    -------
    LineCurrents
        Currents [A] and drops [V].

    Notes
    -----
    An element is a conductance G: with the resistance r of its wires it draws V G / (1 + r G). Everything else
    (pump, electronics, other loads) draws P/V below the nominal voltage, as electronics and motors do, and
    P V/V_nominal^2 above it, as a kettle does: the worse of the two at either end. The resistance of a
    three-phase vessel is counted there and back, as if each element ran alone [pessimistic].
    """
    there = np.array([line in appliance.lines for appliance in loads.appliances], dtype=float)
    share = there * np.array([appliance.share for appliance in loads.appliances])
    frac = np.array([appliance.voltage_frac for appliance in loads.appliances])
    lead_ohm = np.array([wiring.lead_ohm * appliance.behind_lead for appliance in loads.appliances])[:, None]
    stray = max(supply.voltage_v / supply.nominal_v, supply.nominal_v / supply.voltage_v)
    siemens = np.stack([a.heater_w_per_v2 for a in loads.appliances]) * (share * frac * supply.element_factor)[:, None]
    watts = np.stack([a.other_w for a in loads.appliances])
    steady_a = watts * (share / (frac * supply.nominal_v))[:, None] * stray
    at_node = siemens / (1 + lead_ohm * siemens)
    steady_node_a = steady_a / (1 + lead_ohm * siemens)
    through_cable_a = steady_node_a.sum(axis=0)
    node_v = (supply.voltage_v - wiring.cable_ohm * through_cable_a) / (1 + wiring.cable_ohm * at_node.sum(axis=0))
    on_a = steady_node_a + at_node * node_v
    planned = np.array([a.planned for a in loads.appliances])[:, None] & (on_a > 0)
    drops_v = np.where(planned, supply.voltage_v - node_v + lead_ohm * on_a, 0.0)
    heater_a = np.maximum(on_a - steady_a, 0.0)
    means_w = np.stack([a.mean_w for a in loads.appliances]) * share[:, None]
    duty = _duty(means_w - watts * share[:, None], heater_a * (frac * supply.voltage_v)[:, None])
    return LineCurrents(
        voltage_v=supply.voltage_v,
        on_a=on_a,
        mean_a=means_w / (frac * supply.voltage_v)[:, None],
        own_square_a2=duty * on_a**2 + (1 - duty) * (on_a - heater_a) ** 2,
        mean_square_a2=_pulsing_together_a2(heater_a, duty, (on_a - heater_a).sum(axis=0)),
        drop_v=drops_v.max(axis=0),
        cable_drop_v=supply.voltage_v - node_v,
    )


def _duty(mean_w: FloatArray, full_w: FloatArray) -> FloatArray:
    return np.asarray(np.clip(np.divide(mean_w, full_w, out=np.zeros_like(full_w), where=full_w > 0), 0.0, 1.0))


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
    begin_s, end_s, best = 0.0, -np.inf, (0.0, 0.0)
    for left_s, right_s in zip(edges_s[:-1][on], edges_s[1:][on], strict=True):
        gap_s = left_s - end_s
        begin_s = begin_s if gap_s <= 1e-6 or gap_s < bridge_s else float(left_s)
        end_s = float(right_s)
        if end_s - begin_s > best[1]:
            best = (begin_s, end_s - begin_s)
    return best


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
    levels_a = distinct(current_a[current_a > 0])[::-1]
    for level_a in levels_a:
        if longest_run_s(edges_s, current_a >= level_a, bridge_s)[1] >= least_s - 1e-6:
            return float(level_a)
    return 0.0
