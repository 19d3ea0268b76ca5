"""Two brewers on one circuit: the least delay of the second under which both days fit together."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo

import numpy as np
from numpy.typing import NDArray

from energyplan.base.errors import PlanError
from energyplan.base.load import LoadProfile
from energyplan.circuits.breakers import NEC_CONTINUOUS_FACTOR, NEC_CONTINUOUS_S
from energyplan.circuits.currents import lasting_level_a
from energyplan.circuits.loads import compose
from energyplan.circuits.ratings import NAMEPLATE_SLACK_FRAC
from energyplan.circuits.voltages import voltage_band
from energyplan.circuits.wiring import cable_carries_a, wiring_of
from energyplan.plan.model import Circuit, OtherLoad

__all__ = ["Draw", "Offset", "SharedLimit", "draw_of", "equal_caps_w", "least_offset", "least_shift_s", "shared_limit"]

FloatArray = NDArray[np.float64]
_DAY_S = 86400.0
BREAK_S = 60.0  # gap that ends a run of the three-hour rule in a proposal; by the letter any gap does [our choice]


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedLimit:
    """What the whole circuit may draw at the nominal voltage: limit [A], its name, and the wires before it [ohm]."""

    limit_a: float
    name: str
    nominal_v: float
    cable_ohm: float
    continuous: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Draw:
    """A group of loads as a step function of the seconds since the first start.

    ``heating_siemens`` is the conductance of the elements that are on, seen through the group's own lead; ``steady_a``
    everything else [A]; ``duty`` the RMS of the pulsing elements over their full current.
    """

    edges_s: FloatArray
    heating_siemens: FloatArray
    steady_a: FloatArray
    duty: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Offset:
    """Answer of `least_offset`.

    ``offset_s`` is the least delay and ``offset_min`` the first whole minute that fits; both None when none does.
    ``limited_by`` names the rating, ``reason`` is a sentence.
    """

    offset_s: float | None
    offset_min: int | None
    limited_by: str
    limit_a: float
    reason: str


def shared_limit(circuit: Circuit) -> SharedLimit | None:
    """Smaller of breaker and cable; None when neither was entered.

    Examples
    --------
    >>> shared_limit(Circuit(voltage_v=230.0, breaker_a=16.0)).limit_a
    16.0
    """
    cable_a = cable_carries_a(circuit, circuit.cable_mm2) if circuit.cable_mm2 else None
    known = [(a, name) for a, name in ((circuit.breaker_a, "breaker"), (cable_a, "cable")) if a is not None]
    if not known:
        return None
    limit_a, name = min(known)
    return SharedLimit(
        limit_a=limit_a,
        name=name,
        nominal_v=voltage_band(circuit.rules, circuit.voltage_v).nominal_v,
        cable_ohm=wiring_of(circuit).cable_ohm,
        continuous=circuit.rules == "nec",
    )


def draw_of(
    profiles: Sequence[LoadProfile], circuit: Circuit, other_loads: Sequence[OtherLoad], start: datetime, zone: tzinfo
) -> Draw:
    """Sum the loads of one plan on the vessel's line; parameters as `energyplan.circuits.loads.compose`."""
    loads = compose(profiles, circuit, other_loads, start, zone)
    line = loads.appliances[0].lines[0]
    nominal_v = voltage_band(circuit.rules, circuit.voltage_v).nominal_v
    lead_ohm = wiring_of(circuit).lead_ohm
    steps = loads.edges_s.size - 1
    heating_siemens, steady_a, rms_siemens = np.zeros(steps), np.zeros(steps), np.zeros(steps)
    for appliance in loads.appliances:
        if line not in appliance.lines:
            continue
        siemens = appliance.heater_w_per_v2 * appliance.share * appliance.voltage_frac
        resistance_ohm = lead_ohm if appliance.behind_lead else 0.0
        through_lead = 1 + resistance_ohm * siemens
        amps = appliance.other_w * appliance.share / (appliance.voltage_frac * nominal_v)
        full_w = siemens / through_lead * nominal_v**2 * appliance.voltage_frac
        mean_w = (appliance.mean_w - appliance.other_w) * appliance.share
        duty = np.clip(np.divide(mean_w, full_w, out=np.zeros(steps), where=full_w > 0), 0.0, 1.0)
        heating_siemens += siemens / through_lead
        rms_siemens += siemens / through_lead * np.sqrt(duty)
        steady_a += amps / through_lead
    share = np.divide(rms_siemens, heating_siemens, out=np.ones(steps), where=heating_siemens > 0)
    return _compressed(Draw(edges_s=loads.edges_s, heating_siemens=heating_siemens, steady_a=steady_a, duty=share))


def _compressed(draw: Draw) -> Draw:
    """Join neighbouring steps that draw the same, so that there are few edges to try."""
    rows = np.stack([draw.heating_siemens, draw.steady_a, draw.duty])
    keep = np.append(True, (np.abs(np.diff(rows, axis=1)) > 1e-12).any(axis=0))
    edges_s = np.append(draw.edges_s[:-1][keep], draw.edges_s[-1])
    return Draw(edges_s=edges_s, heating_siemens=rows[0][keep], steady_a=rows[1][keep], duty=rows[2][keep])


def _fits(draws: Sequence[tuple[Draw, float]], limit: SharedLimit) -> bool:
    """Whether draws, each shifted by some seconds, stay within the limit together."""
    edges_s = np.unique(np.round(np.concatenate([draw.edges_s + shift_s for draw, shift_s in draws]), 6))
    middles_s = (edges_s[1:] + edges_s[:-1]) / 2
    heating_siemens, steady_a, rms_siemens = (
        np.zeros(middles_s.size),
        np.zeros(middles_s.size),
        np.zeros(middles_s.size),
    )
    for draw, shift_s in draws:
        index = np.searchsorted(draw.edges_s + shift_s, middles_s, side="right") - 1
        inside = (index >= 0) & (index < draw.heating_siemens.size)
        index = np.clip(index, 0, draw.heating_siemens.size - 1)
        heating_siemens += np.where(inside, draw.heating_siemens[index], 0.0)
        rms_siemens += np.where(inside, draw.heating_siemens[index] * draw.duty[index], 0.0)
        steady_a += np.where(inside, draw.steady_a[index], 0.0)
    node_v = (limit.nominal_v - limit.cable_ohm * steady_a) / (1 + limit.cable_ohm * heating_siemens)
    needed_a = float((steady_a + heating_siemens * node_v).max())
    if limit.continuous:
        lasting_a = lasting_level_a(edges_s, steady_a + rms_siemens * node_v, NEC_CONTINUOUS_S)
        needed_a += (NEC_CONTINUOUS_FACTOR - 1) * lasting_a
    return needed_a <= limit.limit_a * (1 + NAMEPLATE_SLACK_FRAC)


def _candidates_s(fixed: Draw, moving: Draw, limit: SharedLimit) -> Iterator[float]:
    """Shifts at which something can begin to fit, in order: an overlap ends, a run breaks or falls below 3 h."""
    differences_s = (fixed.edges_s[:, None] - moving.edges_s[None, :]).ravel()
    shifts_s = [differences_s, np.zeros(1)]
    if limit.continuous:
        shifts_s += [differences_s + BREAK_S, differences_s - NEC_CONTINUOUS_S + 1.0]
    ordered = np.unique(np.round(np.concatenate(shifts_s), 6))
    yield from (float(shift_s) for shift_s in ordered[ordered >= 0])


def least_shift_s(fixed: Draw, moving: Draw, limit: SharedLimit, latest_s: float = math.inf) -> float | None:
    """Least delay of one group of loads under which both stay within a limit.

    Parameters
    ----------
    fixed, moving : Draw
        The loads that stay, and those that are delayed.
    limit : SharedLimit
        What the circuit may draw.
    latest_s : float
        Longest delay to try [s].

    Returns
    -------
    float or None
        Delay [s], exact; None when no delay helps.

    Notes
    -----
    As the second group slides past the first, the two begin to fit only where an overlap of two steps ends,
    that is at a difference of two edges (for the three-hour rule also three hours before one, or a minute's break
    after one). Trying these in order finds the least delay exactly.
    """
    tried = (shift_s for shift_s in _candidates_s(fixed, moving, limit) if shift_s <= latest_s)
    return next((shift_s for shift_s in tried if _fits([(fixed, 0.0), (moving, shift_s)], limit)), None)


def least_offset(
    first: Sequence[LoadProfile],
    second: Sequence[LoadProfile],
    circuit: Circuit,
    other_loads: Sequence[OtherLoad],
    start: datetime,
    zone: tzinfo,
) -> Offset:
    """Least delay of a second brew day that shares the circuit of the first.

    Parameters
    ----------
    first, second : sequence of LoadProfile
        The appliances of either day, each counted from its own start.
    circuit : Circuit
        The shared circuit; its lead and outlet are the first vessel's.
    other_loads : sequence of OtherLoad
        Other loads, at their hours of the local clock.
    start : datetime
        Aware start of the first day.
    zone : tzinfo
        Zone of the local clock.

    Returns
    -------
    Offset
        The delay, or why there is none.

    Raises
    ------
    PlanError
        If neither a breaker nor a cable was entered.
    """
    limit = _limit_or_error(circuit)
    latest_s = _end_s(first) - min(float(profile.edges_s[0]) for profile in second) + _DAY_S
    horizon = _nothing_until(latest_s + _end_s(second))
    fixed = draw_of([*first, horizon], circuit, other_loads, start, zone)
    moving = draw_of(second, circuit.model_copy(update={"extension": None}), (), start, zone)
    for name, draw in (("first", fixed), ("second", moving)):
        if not _fits([(draw, 0.0)], limit):
            return _answer(None, limit, f"the {name} day alone passes the {limit.name}'s {limit.limit_a:.1f} A")
    offset_s = least_shift_s(fixed, moving, limit, latest_s)
    whole_min = None if offset_s is None else _whole_minute(fixed, moving, limit, (offset_s, latest_s))
    if offset_s is None or whole_min is None:
        return _answer(None, limit, f"no delay within a day keeps both below the {limit.name}'s {limit.limit_a:.1f} A")
    reason = f"both days stay within the {limit.name}'s {limit.limit_a:.1f} A"
    if limit.continuous and offset_s > 0:
        reason += "; where only a short gap breaks a load of 3 hours, leave a quarter of an hour, or wires hardly cool"
    return _answer(offset_s, limit, reason, whole_min)


def _end_s(profiles: Sequence[LoadProfile]) -> float:
    return max(float(profile.edges_s[-1]) for profile in profiles)


def _nothing_until(end_s: float) -> LoadProfile:
    """Make a load of nothing that draws out the day, so that other loads count for as long as the second may last."""
    nothing = np.zeros(1)
    edges_s = np.array([min(0.0, end_s - 1.0), end_s])
    return LoadProfile(name="nothing", edges_s=edges_s, mean_w=nothing, heater_w_per_v2=nothing, other_w=nothing)


def _whole_minute(fixed: Draw, moving: Draw, limit: SharedLimit, between_s: tuple[float, float]) -> int | None:
    """First whole minute that fits; the exact delay may end just before the next step of the first day."""
    first_min, last_min = math.ceil(between_s[0] / 60 - 1e-9), math.floor(between_s[1] / 60)
    minutes = range(first_min, last_min + 1)
    return next((minute for minute in minutes if _fits([(fixed, 0.0), (moving, 60.0 * minute)], limit)), None)


def _limit_or_error(circuit: Circuit) -> SharedLimit:
    limit = shared_limit(circuit)
    if limit is None:
        raise PlanError("[circuit] has neither breaker nor cable; enter one of them to see what fits together")
    return limit


def _answer(offset_s: float | None, limit: SharedLimit, reason: str, whole_min: int | None = None) -> Offset:
    return Offset(offset_s=offset_s, offset_min=whole_min, limited_by=limit.name, limit_a=limit.limit_a, reason=reason)


def equal_caps_w(circuit: Circuit, vessels: int, other_a: float = 0.0) -> float:
    """Largest power that each of several vessels may draw when all are on at once.

    Parameters
    ----------
    circuit : Circuit
        The shared circuit.
    vessels : int
        How many vessels.
    other_a : float
        Current of whatever else is on meanwhile [A].

    Returns
    -------
    float
        Power of the elements that are on, per vessel, at the nominal voltage [W]; 0 when nothing is left.

    Raises
    ------
    PlanError
        If neither a breaker nor a cable was entered.

    Notes
    -----
    Only switched elements obey such a cap: a modulated cap lowers the mean, not the current of each pulse.
    For "nec" the load is taken as continuous.

    Examples
    --------
    >>> equal_caps_w(Circuit(voltage_v=230.0, breaker_a=32.0), 2)
    3680.0
    """
    limit = _limit_or_error(circuit)
    free_a = limit.limit_a / (NEC_CONTINUOUS_FACTOR if limit.continuous else 1.0) - other_a
    return max(free_a, 0.0) * limit.nominal_v / vessels
