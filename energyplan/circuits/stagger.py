"""Two brewers on one circuit: the least delay of the second under which both days fit together."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime, tzinfo
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from energyplan.base.errors import PlanError
from energyplan.base.load import LoadProfile, distinct
from energyplan.base.records import dataclass
from energyplan.circuits.breakers import NEC_CONTINUOUS_FACTOR, NEC_CONTINUOUS_S
from energyplan.circuits.currents import Supply, lasting_level_a, owned_branches
from energyplan.circuits.findings import NAMEPLATE_SLACK_FRAC, passes
from energyplan.circuits.loads import Loads, compose, loaded_conductors
from energyplan.circuits.wiring import cable_carries_a, voltage_band
from energyplan.day.supply import wires_of
from energyplan.physics.network import PHASORS, Wires, amps_frac, board_frac, lines_in, solve
from energyplan.plan.equipment import Circuit, OtherLoad
from energyplan.plan.lines import home_of, layout_of

__all__ = [
    "Draw",
    "Offset",
    "SharedLimit",
    "equal_caps_w",
    "least_offset",
    "shared_limit",
    "shifts_s",
]

FloatArray = NDArray[np.float64]
PhasorArray = NDArray[Any]  # real where the loads hang in one place
_DAY_S = 86400.0
OffsetCase = Literal["fits", "short gap", "no delay", "first alone", "second alone"]
BREAK_S = 60.0  # gap that ends a run of the three-hour rule in a proposal; by the letter any gap does [our choice]


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedLimit:
    """What each line of the circuit may draw: limit [A], its name, the voltage and the wires before it [ohm].

    The wires are counted at the circuit's own voltage, so that they drop the same share of what is between the
    conductors of the loads.
    """

    limit_a: float
    name: str
    voltage_v: float
    loop_ohm: float
    continuous: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Draw:
    """A group of loads on one line as a step function of the seconds since the first start.

    ``heating_siemens`` is the conductance of the elements that are on, seen through the group's own lead,
    ``rms_siemens`` what of it counts over hours of pulses; ``steady_a`` everything else [A].
    """

    edges_s: FloatArray
    heating_siemens: PhasorArray
    rms_siemens: PhasorArray
    steady_a: PhasorArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Offset:
    """Answer of `least_offset`.

    ``offset_s`` is the least delay and ``offset_min`` the first whole minute that fits; both None when none does.
    ``limited_by`` names the rating; ``case`` says why ("short gap": only a short break keeps a load from being a
    continuous one). ``each_w`` is what the elements of either vessel may have on with no delay; None where they hang
    in places that have only one line of several in common.
    """

    offset_s: float | None
    offset_min: int | None
    limited_by: str
    limit_a: float
    case: OffsetCase
    each_w: float | None


def shared_limit(circuit: Circuit, loaded: int = 2) -> SharedLimit | None:
    """Smaller of breaker and cable (of some loaded conductors, 2 or 3); None when neither was entered.

    Notes
    -----
    Elements draw most at the higher of the voltage entered and the nominal one, by which the check judges a breaker;
    under NFPA 70 the plates count, without what the wires drop.

    Examples
    --------
    >>> shared_limit(Circuit(voltage_v=230.0, breaker_a=16.0)).limit_a
    16.0
    """
    cable_a = cable_carries_a(circuit, circuit.cable_mm2, loaded) if circuit.cable_mm2 else None
    known = [(a, name) for a, name in ((circuit.breaker_a, "breaker"), (cable_a, "cable")) if a is not None]
    if not known:
        return None
    limit_a, name = min(known)
    return SharedLimit(
        limit_a=limit_a, name=name, voltage_v=_voltage_v(circuit), loop_ohm=0.0, continuous=circuit.rules == "nec"
    )


def _nominal_v(circuit: Circuit) -> float:
    return voltage_band(circuit.rules, circuit.voltage_v).nominal_v


def _voltage_v(circuit: Circuit) -> float:
    return _nominal_v(circuit) if circuit.rules == "nec" else max(_nominal_v(circuit), circuit.voltage_v)


def _wires_of(circuit: Circuit) -> Wires:
    return Wires() if circuit.rules == "nec" else wires_of(circuit)


def _loop_draw(loads: Loads, circuit: Circuit, place: str) -> Draw:
    """Loads that hang in one place, each element seen through its own lead."""
    across, voltage_v = board_frac(loads.layout, place), _voltage_v(circuit)
    stray = voltage_v / _nominal_v(circuit) ** 2 / across
    lead_ohm = 2 * _wires_of(circuit).lead_ohm / across
    heating_siemens, steady_a, rms_siemens = (np.zeros(loads.edges_s.size - 1) for _ in range(3))
    for appliance in loads.appliances:
        siemens = sum((part for _, part in appliance.heaters), np.zeros_like(steady_a)) * across
        through_lead = 1 + (lead_ohm if appliance.behind_lead else 0.0) * siemens
        full_w = siemens / through_lead * voltage_v**2 * across
        heating_siemens += siemens / through_lead
        rms_siemens += siemens / through_lead * _rms_frac(appliance.mean_w - appliance.other_w, full_w)
        steady_a += appliance.other_w * stray / through_lead
    return _compressed(loads.edges_s, heating_siemens, rms_siemens, steady_a)


def _rms_frac(mean_w: FloatArray, full_w: FloatArray) -> FloatArray:
    """The root mean square of pulses over their full current."""
    duty = np.divide(mean_w, full_w, out=np.zeros_like(full_w), where=full_w > 0)
    return np.asarray(np.sqrt(np.clip(duty, 0.0, 1.0)))


def _line_draws(loads: Loads, circuit: Circuit) -> Iterator[Draw]:
    """Loads on several lines as the phasors of each, solved for this day alone."""
    voltage_v = _voltage_v(circuit)
    owners, branches = owned_branches(loads, (Supply(voltage_v=voltage_v, nominal_v=_nominal_v(circuit)),))
    network = solve(loads.layout, branches, _wires_of(circuit), voltage_v)
    heats = np.array([bool(branch.siemens.any()) for branch in branches])[:, None]
    branch_w = (network.branch_a * network.board_v.conj()).real.sum(axis=1) * heats
    full_w = np.stack([branch_w[np.array(owners) == owner].sum(axis=0) for owner in range(len(loads.appliances))])
    mean_w = np.stack([appliance.mean_w - appliance.other_w for appliance in loads.appliances])
    rms_frac = _rms_frac(mean_w, full_w)[owners]
    for line in PHASORS[loads.layout]:
        there = line in network.conductors
        amps = network.branch_a[:, network.conductors.index(line)] if there else np.zeros_like(branch_w)
        heating_siemens = amps * heats / voltage_v
        yield _compressed(
            loads.edges_s,
            heating_siemens.sum(axis=0),
            (heating_siemens * rms_frac).sum(axis=0),
            (amps * ~heats).sum(axis=0),
        )


def _compressed(
    edges_s: FloatArray, heating_siemens: PhasorArray, rms_siemens: PhasorArray, steady_a: PhasorArray
) -> Draw:
    """A draw whose neighbouring steps are joined where they are the same, so that there are few edges to try."""
    rows = np.stack([heating_siemens, rms_siemens, steady_a])
    keep = np.append(True, (np.abs(np.diff(rows, axis=1)) > 1e-12).any(axis=0))
    heating_siemens, rms_siemens, steady_a = rows[:, keep]
    edges_s = np.append(edges_s[:-1][keep], edges_s[-1])
    return Draw(edges_s=edges_s, heating_siemens=heating_siemens, rms_siemens=rms_siemens, steady_a=steady_a)


def _fits(draws: Sequence[tuple[Sequence[Draw], float]], limit: SharedLimit) -> bool:
    """Whether draws, each shifted by some seconds, stay within the limit together on every line."""
    shifts_s = [shift_s for _, shift_s in draws]
    by_line = zip(*(day for day, _ in draws), strict=True)
    return all(_line_fits(list(zip(line, shifts_s, strict=True)), limit) for line in by_line)


def _line_fits(draws: Sequence[tuple[Draw, float]], limit: SharedLimit) -> bool:
    edges_s = distinct(np.round(np.concatenate([draw.edges_s + shift_s for draw, shift_s in draws]), 6))
    middles_s = (edges_s[1:] + edges_s[:-1]) / 2
    total = np.zeros((3, middles_s.size), dtype=complex)
    for draw, shift_s in draws:
        index = np.searchsorted(draw.edges_s + shift_s, middles_s, side="right") - 1
        inside = (index >= 0) & (index < draw.steady_a.size)
        index = np.clip(index, 0, draw.steady_a.size - 1)
        total += np.stack([draw.heating_siemens, draw.rms_siemens, draw.steady_a])[:, index] * inside
    heating_siemens, rms_siemens, steady_a = total
    node_v = (limit.voltage_v - limit.loop_ohm * steady_a) / (1 + limit.loop_ohm * heating_siemens)
    needed_a = np.abs(steady_a + heating_siemens * node_v).max()
    if limit.continuous:
        lasting_a = lasting_level_a(edges_s, np.abs(steady_a + rms_siemens * node_v), NEC_CONTINUOUS_S)
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


def shifts_s(
    fixed: Sequence[Draw], moving: Sequence[Draw], limit: SharedLimit, latest_s: float = math.inf
) -> Iterator[float]:
    """Delays of one group of loads under which both stay within a limit, the least first.

    Parameters
    ----------
    fixed, moving : sequence of Draw
        The loads that stay, and those that are delayed, by line.
    limit : SharedLimit
        What the circuit may draw.
    latest_s : float
        Longest delay to try [s].

    Notes
    -----
    As the second group slides past the first, the two begin to fit only where an overlap of two steps ends,
    that is at a difference of two edges (for the three-hour rule also three hours before one, or a minute's break
    after one). Trying these in order finds the least delay exactly.
    """
    tried = (shift_s for shift_s in _candidates_s(fixed, moving, limit) if shift_s <= latest_s)
    return (shift_s for shift_s in tried if _fits([(fixed, 0.0), (moving, shift_s)], limit))


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
    latest_s = _end_s(first) - min(float(profile.edges_s[0]) for profile in second) + _DAY_S
    horizon = _nothing_until(latest_s + _end_s(second))
    one = compose([*first, horizon], circuit, other_loads, start, zone)
    other = compose(second, circuit.model_copy(update={"extension": None}), (), start, zone)
    limit, fixed, moving = _shared(one, other, circuit)

    def answer(offset_s: float | None, case: OffsetCase, whole_min: int | None = None) -> Offset:
        return Offset(
            offset_s=offset_s,
            offset_min=whole_min,
            limited_by=limit.name,
            limit_a=limit.limit_a,
            case=case,
            each_w=_each_w(one, other, circuit),
        )

    if not _fits([(fixed, 0.0)], limit):
        return answer(None, "first alone")
    if not _fits([(moving, 0.0)], limit):
        return answer(None, "second alone")
    offset_s = next(shifts_s(fixed, moving, limit, latest_s), None)
    whole_min = None if offset_s is None else _whole_minute(fixed, moving, limit, (offset_s, latest_s))
    if offset_s is None or whole_min is None:
        return answer(None, "no delay")
    return answer(offset_s, "short gap" if limit.continuous and offset_s > 0 else "fits", whole_min)


def _shared(one: Loads, other: Loads, circuit: Circuit) -> tuple[SharedLimit, list[Draw], list[Draw]]:
    """What two days share, and either day by its lines.

    Loads that all hang in one place are conductances of one loop; else the currents of each line are solved for either
    day alone: what both drop together in one cable is not credited. What nobody placed is tried on every line.
    """
    both = replace(one, appliances=(*one.appliances, *other.appliances))
    lines = tuple(PHASORS[one.layout]) if both.unplaced else ("L1",)
    limit = _limit_or_error(circuit, max(loaded_conductors(both.on(line)) for line in lines))
    if len(both.places) <= 1 and not both.places & {"", "all"}:
        place = next(iter(both.places), "L1")
        loop_ohm = 2 * _wires_of(circuit).cable_ohm / board_frac(one.layout, place)
        return replace(limit, loop_ohm=loop_ohm), [_loop_draw(one, circuit, place)], [_loop_draw(other, circuit, place)]
    fixed, moving = ([draw for at in lines for draw in _line_draws(day.on(at), circuit)] for day in (one, other))
    return limit, fixed, moving


def _each_w(one: Loads, other: Loads, circuit: Circuit) -> float | None:
    """What either vessel's elements may have on beside the other loads with no delay [W]."""
    places = {place for day in (one, other) for place, _ in day.appliances[0].heaters}
    if len(places) != 1:
        return None
    lines, nominal_v = set(lines_in(*places)), _nominal_v(circuit)
    beside_a = sum(
        float(load.other_w.max()) / (amps_frac(one.layout, load.other_line or "L1") * nominal_v)
        for load in one.appliances
        if not load.planned and (not load.other_line or lines & set(lines_in(load.other_line)))
    )
    return equal_caps_w(circuit, 2, beside_a, *places)


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


def _limit_or_error(circuit: Circuit, loaded: int = 2) -> SharedLimit:
    limit = shared_limit(circuit, loaded)
    if limit is None:
        raise PlanError("[circuit] has neither breaker nor cable; enter one of them to see what fits together")
    return limit


def equal_caps_w(circuit: Circuit, vessels: int, other_a: float = 0.0, place: str = "") -> float:
    """Largest power that each of several vessels may draw when all are on at once in the same place.

    Parameters
    ----------
    circuit : Circuit
        The shared circuit.
    vessels : int
        How many vessels.
    other_a : float
        Current of whatever else is on meanwhile [A].
    place : str
        Where they hang; left out, where the circuit's outlet does.

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
    place = place or home_of(circuit)
    limit = _limit_or_error(circuit, 3 if place == "all" else 2)
    free_a = limit.limit_a / (NEC_CONTINUOUS_FACTOR if limit.continuous else 1.0) - other_a
    return max(free_a, 0.0) * amps_frac(layout_of(circuit), place) * _nominal_v(circuit) / vessels
