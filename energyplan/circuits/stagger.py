"""Two brewers on one circuit: the least delay of the second under which both days fit together."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime, tzinfo
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from energyplan.base.errors import PlanError
from energyplan.base.load import LoadProfile, distinct
from energyplan.base.records import dataclass
from energyplan.circuits.breakers import NEC_CONTINUOUS_FACTOR, NEC_CONTINUOUS_S
from energyplan.circuits.currents import Supply, currents, lasting_level_a
from energyplan.circuits.findings import NAMEPLATE_SLACK_FRAC, passes
from energyplan.circuits.loads import Loads, compose
from energyplan.circuits.wiring import cable_carries_a, voltage_band
from energyplan.day.supply import wires_of
from energyplan.physics.network import PHASORS, board_frac, lines_in
from energyplan.plan.equipment import Circuit, OtherLoad
from energyplan.plan.lines import home_of, layout_of

__all__ = [
    "Draw",
    "Offset",
    "SharedLimit",
    "draws_of",
    "equal_caps_w",
    "least_offset",
    "least_shift_s",
    "shared_limit",
]

FloatArray = NDArray[np.float64]
_DAY_S = 86400.0
OffsetCase = Literal["fits", "short gap", "no delay", "first alone", "second alone"]
BREAK_S = 60.0  # gap that ends a run of the three-hour rule in a proposal; by the letter any gap does [our choice]


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedLimit:
    """What the whole circuit may draw at the nominal voltage: limit [A], its name, and the wires before it [ohm].

    The wires are counted at the circuit's own voltage, so that they drop the same share of what is between the
    conductors of the vessel.
    """

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
    ``limited_by`` names the rating; ``case`` says why ("short gap": only a short break keeps a load from being a
    continuous one).
    """

    offset_s: float | None
    offset_min: int | None
    limited_by: str
    limit_a: float
    case: OffsetCase


def shared_limit(circuit: Circuit) -> SharedLimit | None:
    """Smaller of breaker and cable; None when neither was entered.

    Examples
    --------
    >>> shared_limit(Circuit(voltage_v=230.0, breaker_a=16.0)).limit_a
    16.0
    """
    loaded = 3 if home_of(circuit) == "all" else 2
    cable_a = cable_carries_a(circuit, circuit.cable_mm2, loaded) if circuit.cable_mm2 else None
    known = [(a, name) for a, name in ((circuit.breaker_a, "breaker"), (cable_a, "cable")) if a is not None]
    if not known:
        return None
    limit_a, name = min(known)
    return SharedLimit(
        limit_a=limit_a,
        name=name,
        nominal_v=voltage_band(circuit.rules, circuit.voltage_v).nominal_v,
        cable_ohm=2 * wires_of(circuit).cable_ohm / board_frac(layout_of(circuit), home_of(circuit)),
        continuous=circuit.rules == "nec",
    )


def draws_of(
    profiles: Sequence[LoadProfile], circuit: Circuit, other_loads: Sequence[OtherLoad], start: datetime, zone: tzinfo
) -> tuple[Draw, ...]:
    """Sum the loads of one plan; parameters as `energyplan.circuits.loads.compose`.

    Returns
    -------
    tuple of Draw
        Loads that all hang in one place as conductances of one loop; else the currents of each line, solved for this
        plan alone (what two plans drop together in one cable is not credited).
    """
    loads = compose(profiles, circuit, other_loads, start, zone).on("L1")
    places = {place for appliance in loads.appliances for place, _ in appliance.heaters}
    places |= {appliance.other_line for appliance in loads.appliances if appliance.other_w.any()}
    if len(places) <= 1 and "all" not in places:
        return (_loop_draw(loads, circuit, *places),)
    nominal_v = voltage_band(circuit.rules, circuit.voltage_v).nominal_v
    found = currents(loads, wires_of(circuit), (Supply(voltage_v=nominal_v, nominal_v=nominal_v),))[0]
    nothing = np.zeros(loads.edges_s.size - 1)
    lines = (found.line_a.get(line, nothing) for line in PHASORS[loads.layout])
    return tuple(
        _compressed(Draw(edges_s=loads.edges_s, heating_siemens=nothing, steady_a=amps, duty=nothing)) for amps in lines
    )


def _loop_draw(loads: Loads, circuit: Circuit, place: str = "L1") -> Draw:
    """Loads that hang in one place, each element seen through its own lead."""
    across = board_frac(loads.layout, place)
    nominal_v = voltage_band(circuit.rules, circuit.voltage_v).nominal_v
    lead_ohm = 2 * wires_of(circuit).lead_ohm
    steps = loads.edges_s.size - 1
    heating_siemens, steady_a, rms_siemens = np.zeros(steps), np.zeros(steps), np.zeros(steps)
    for appliance in loads.appliances:
        siemens = sum((part for _, part in appliance.heaters), np.zeros(steps)) * across
        through_lead = 1 + (lead_ohm / across if appliance.behind_lead else 0.0) * siemens
        full_w = siemens / through_lead * nominal_v**2 * across
        mean_w = appliance.mean_w - appliance.other_w
        duty = np.clip(np.divide(mean_w, full_w, out=np.zeros(steps), where=full_w > 0), 0.0, 1.0)
        heating_siemens += siemens / through_lead
        rms_siemens += siemens / through_lead * np.sqrt(duty)
        steady_a += appliance.other_w / (across * nominal_v) / through_lead
    share = np.divide(rms_siemens, heating_siemens, out=np.ones(steps), where=heating_siemens > 0)
    return _compressed(Draw(edges_s=loads.edges_s, heating_siemens=heating_siemens, steady_a=steady_a, duty=share))


def _compressed(draw: Draw) -> Draw:
    """Join neighbouring steps that draw the same, so that there are few edges to try."""
    rows = np.stack([draw.heating_siemens, draw.steady_a, draw.duty])
    keep = np.append(True, (np.abs(np.diff(rows, axis=1)) > 1e-12).any(axis=0))
    edges_s = np.append(draw.edges_s[:-1][keep], draw.edges_s[-1])
    return Draw(edges_s=edges_s, heating_siemens=rows[0][keep], steady_a=rows[1][keep], duty=rows[2][keep])


def _fits(draws: Sequence[tuple[Sequence[Draw], float]], limit: SharedLimit) -> bool:
    """Whether draws, each shifted by some seconds, stay within the limit together on every line."""
    shifts_s = [shift_s for _, shift_s in draws]
    by_line = zip(*(day for day, _ in draws), strict=True)
    return all(_line_fits(list(zip(line, shifts_s, strict=True)), limit) for line in by_line)


def _line_fits(draws: Sequence[tuple[Draw, float]], limit: SharedLimit) -> bool:
    edges_s = distinct(np.round(np.concatenate([draw.edges_s + shift_s for draw, shift_s in draws]), 6))
    middles_s = (edges_s[1:] + edges_s[:-1]) / 2
    heating_siemens, steady_a, rms_siemens = (np.zeros(middles_s.size) for _ in range(3))
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
    return not passes(needed_a, limit.limit_a, NAMEPLATE_SLACK_FRAC)


def _candidates_s(fixed: Sequence[Draw], moving: Sequence[Draw], limit: SharedLimit) -> Iterator[float]:
    """Shifts at which something can begin to fit, in order: an overlap ends, a run breaks or falls below 3 h."""
    first_s, second_s = (distinct(np.concatenate([draw.edges_s for draw in day])) for day in (fixed, moving))
    differences_s = (first_s[:, None] - second_s[None, :]).ravel()
    shifts_s = [differences_s, np.zeros(1)]
    if limit.continuous:
        shifts_s += [differences_s + BREAK_S, differences_s - NEC_CONTINUOUS_S + 1.0]
    ordered = distinct(np.round(np.concatenate(shifts_s), 6))
    yield from (float(shift_s) for shift_s in ordered[ordered >= 0])


def least_shift_s(
    fixed: Sequence[Draw], moving: Sequence[Draw], limit: SharedLimit, latest_s: float = math.inf
) -> float | None:
    """Least delay of one group of loads under which both stay within a limit.

    Parameters
    ----------
    fixed, moving : sequence of Draw
        The loads that stay, and those that are delayed, by line.
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
    fixed = draws_of([*first, horizon], circuit, other_loads, start, zone)
    moving = draws_of(second, circuit.model_copy(update={"extension": None}), (), start, zone)
    if len(fixed) != len(moving):  # one of them in one place, the other on several lines: both by their lines
        fixed, moving = (_by_line(day, circuit) for day in (fixed, moving))
    if not _fits([(fixed, 0.0)], limit):
        return _answer(None, limit, "first alone")
    if not _fits([(moving, 0.0)], limit):
        return _answer(None, limit, "second alone")
    offset_s = least_shift_s(fixed, moving, limit, latest_s)
    whole_min = None if offset_s is None else _whole_minute(fixed, moving, limit, (offset_s, latest_s))
    if offset_s is None or whole_min is None:
        return _answer(None, limit, "no delay")
    return _answer(offset_s, limit, "short gap" if limit.continuous and offset_s > 0 else "fits", whole_min)


def _by_line(day: tuple[Draw, ...], circuit: Circuit) -> tuple[Draw, ...]:
    """A day in one place as one on every line that the place draws from."""
    if len(day) > 1:
        return day
    here = lines_in(home_of(circuit))
    nothing = replace(day[0], heating_siemens=day[0].heating_siemens * 0, steady_a=day[0].steady_a * 0)
    return tuple(day[0] if line in here else nothing for line in PHASORS[layout_of(circuit)])


def _end_s(profiles: Sequence[LoadProfile]) -> float:
    return max(float(profile.edges_s[-1]) for profile in profiles)


def _nothing_until(end_s: float) -> LoadProfile:
    """Make a load of nothing that draws out the day, so that other loads count for as long as the second may last."""
    nothing = np.zeros(1)
    edges_s = np.array([min(0.0, end_s - 1.0), end_s])
    return LoadProfile(name="nothing", edges_s=edges_s, mean_w=nothing, heater_w_per_v2=nothing, other_w=nothing)


def _whole_minute(
    fixed: Sequence[Draw], moving: Sequence[Draw], limit: SharedLimit, between_s: tuple[float, float]
) -> int | None:
    """First whole minute that fits; the exact delay may end just before the next step of the first day."""
    first_min, last_min = math.ceil(between_s[0] / 60 - 1e-9), math.floor(between_s[1] / 60)
    minutes = range(first_min, last_min + 1)
    return next((minute for minute in minutes if _fits([(fixed, 0.0), (moving, 60.0 * minute)], limit)), None)


def _limit_or_error(circuit: Circuit) -> SharedLimit:
    limit = shared_limit(circuit)
    if limit is None:
        raise PlanError("[circuit] has neither breaker nor cable; enter one of them to see what fits together")
    return limit


def _answer(offset_s: float | None, limit: SharedLimit, case: OffsetCase, whole_min: int | None = None) -> Offset:
    return Offset(offset_s=offset_s, offset_min=whole_min, limited_by=limit.name, limit_a=limit.limit_a, case=case)


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
