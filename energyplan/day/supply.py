"""What the mains deliver to the vessel: leads, elements, duty of a cap; what its appliances draw over time."""

from functools import lru_cache
from itertools import combinations
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from energyplan.base.load import LoadProfile
from energyplan.base.records import dataclass
from energyplan.day.legs import Course, Leg
from energyplan.physics.conductors import resistance_ohm_per_m
from energyplan.physics.network import Branch, Wires, amps_frac, board_frac, solve
from energyplan.physics.water import density_kg_per_m3, enthalpy_j_per_kg
from energyplan.plan.lines import connection_of, element_siemens, elements_hang, layout_of, placed, pump_hangs
from energyplan.plan.model import Circuit, Element, Plan, Vessel

__all__ = [
    "FIXED_C",
    "LEAD_C",
    "SECOND_HEATER",
    "VESSEL",
    "Heating",
    "elements_a",
    "elements_on",
    "heating",
    "load_profiles",
    "on_draw",
    "on_the_circuit",
    "one_way_m",
    "second_heater_hangs",
    "second_heater_s",
    "wires_of",
]

FloatArray = NDArray[np.float64]


# Conductor temperatures at which leads are taken to run: the limit of PVC in fixed wiring (the tables of
# BS 7671 are made for it), the usual column of NFPA 70, and the limit of a rubber lead.
FIXED_C = {"iec": 70.0, "nec": 75.0}
LEAD_C = 60.0


def one_way_m(circuit: Circuit) -> float:
    """Length of single cable, one way, that loses as much as the cable of a circuit does [m].

    Notes
    -----
    On a ring the entered length is that of the whole ring, from the board and back to it, and the outlet counts as
    halfway round, where the drop is largest: two cables of half the length side by side, so a quarter of it.

    References
    ----------
    Common practice with BS 7671, appendix 4: mV/A/m x length of the ring x current / 4 (electricians' forums; 40 m of
    2.5 mm2 at 18 mV/A/m and 32 A lose 5.76 V).

    Examples
    --------
    >>> one_way_m(Circuit(voltage_v=230.0, cable_mm2=2.5, cable_length_m=40.0, ring=True))
    10.0
    """
    return circuit.cable_length_m / 4 if circuit.ring else circuit.cable_length_m


def wires_of(circuit: Circuit | None) -> Wires:
    """Resistance of each conductor of cable and extension lead, warm [ohm]; 0 where they are not entered.

    Examples
    --------
    >>> round(2 * wires_of(Circuit(voltage_v=230.0, cable_mm2=2.5, cable_length_m=20.0)).cable_ohm, 3)
    0.356
    """
    cable_ohm = lead_ohm = 0.0
    if circuit is not None and circuit.cable_mm2 is not None and circuit.cable_length_m > 0:
        aluminium = circuit.conductor == "aluminium"
        per_m = resistance_ohm_per_m(circuit.cable_mm2, FIXED_C[circuit.rules], aluminium=aluminium)
        cable_ohm = one_way_m(circuit) * per_m
    if circuit is not None and circuit.extension is not None and circuit.extension.length_m > 0:
        lead = circuit.extension
        lead_ohm = lead.length_m * resistance_ohm_per_m(lead.cable_mm2, LEAD_C, flexible=True)
    return Wires(cable_ohm=cable_ohm, lead_ohm=lead_ohm)


def elements_on(vessel: Vessel, cap_w: float | None) -> tuple[Element, ...]:
    """Elements that are on at a time when a cap [W] is set (all of them without one).

    A modulated vessel pulses all its elements down to the cap. A switched one uses the combination
    whose nameplates come nearest to the cap from below; below the smallest element, none.

    Examples
    --------
    >>> kettle = Vessel(diameter_m=0.36, height_m=0.48, control="switched",
    ...                 elements=(Element(power_w=2000, voltage_v=230), Element(power_w=1500, voltage_v=230)))
    >>> [element.power_w for element in elements_on(kettle, 1900)]
    [1500.0]
    """
    if cap_w == 0:
        return ()
    if vessel.control == "modulated" or cap_w is None:
        return vessel.elements
    choices = (choice for size in range(len(vessel.elements) + 1) for choice in combinations(vessel.elements, size))
    fitting = [choice for choice in choices if _nameplate_w(choice) <= cap_w]
    return max(fitting, key=_nameplate_w)


def _chosen(plan: Plan, cap_w: float | None) -> tuple[Element, ...]:
    """The same, each where it hangs among all of them."""
    return elements_on(_placed(plan.vessel, plan.circuit), cap_w)


@lru_cache(maxsize=64)
def _placed(vessel: Vessel, circuit: Circuit | None) -> Vessel:
    return vessel.model_copy(update={"elements": placed(vessel.elements, circuit)})


def _nameplate_w(elements: tuple[Element, ...]) -> float:
    return sum(element.power_w for element in elements)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Heating:
    """What the elements give under a cap, and what that takes from the board.

    ``heater_w_per_v2`` is the conductance of the elements that are on at a time, by the place where they hang in
    ``by_line``; ``most_w`` the mean power into the contents that the cap allows (draws,); ``inward_frac`` its share of
    what the elements give; ``board_factor`` the power at the board per power into the contents.
    """

    heater_w_per_v2: float
    by_line: tuple[tuple[str, float], ...]
    most_w: FloatArray
    inward_frac: float
    board_factor: float


def heating(plan: Plan, cap_w: float | None, *, voltage_v: ArrayLike, element_factor: ArrayLike) -> Heating:
    """Work out the elements' power under a cap.

    Parameters
    ----------
    plan : Plan
        Vessel and circuit.
    cap_w : float or None
        Cap on the mean power [W]; None: all elements.
    voltage_v : array_like, shape (draws,)
        Voltage at the board [V].
    element_factor : array_like, shape (draws,)
        Real over nameplate power at the nameplate voltage (IEC 60335-1 allows 0.90 to 1.05).

    Notes
    -----
    An element gives its nameplate power times (V / V_nameplate)^2, V being the voltage that the network of
    `energyplan.physics.network.solve` leaves it, with the vessel's elements alone on it: what else hangs there depends
    on the hour. A cap is the mean power at the plan's own voltage, met by a fixed duty; when the mains sag, the
    capped power sags with them [assumption]. Of an element under the base only ``share_into_water`` reaches the
    contents.
    """
    per_v2 = _per_square_volt(plan.circuit, _chosen(plan, cap_w))
    nominal_w = per_v2.given * plan.voltage_v**2
    duty = 1.0 if cap_w is None or nominal_w <= cap_w else cap_w / nominal_w
    inward_w = per_v2.inward * np.asarray(voltage_v, dtype=float) ** 2 * np.asarray(element_factor)
    return Heating(
        heater_w_per_v2=sum(siemens for _, siemens in per_v2.by_line),
        by_line=per_v2.by_line,
        most_w=np.asarray(duty * inward_w),
        inward_frac=per_v2.inward / per_v2.given if per_v2.given else 1.0,
        board_factor=per_v2.board / per_v2.inward if per_v2.inward else 1.0,
    )


def elements_a(plan: Plan, cap_w: float | None) -> float:
    """Current in the fullest line while the elements of a cap are on, at the plan's voltage without its drop [A].

    Examples
    --------
    >>> from energyplan.plan.file import read_plan
    >>> round(elements_a(read_plan("demo"), None), 2)
    12.17
    """
    chosen = _chosen(plan, cap_w)
    if not chosen:
        return 0.0
    bare = plan.circuit.model_copy(update={"cable_mm2": None, "extension": None}) if plan.circuit else None
    return _per_square_volt(bare, chosen).line_a * plan.voltage_v


def on_draw(plan: Plan, by_line: tuple[tuple[str, float], ...], other_w: float) -> tuple[float, float]:
    """Power [W] and current in the fullest line [A] of elements that are on, and what else the vessel draws.

    At the plan's voltage, without the drop of the wires.

    Examples
    --------
    >>> from energyplan.plan.file import read_plan
    >>> watts, amps = on_draw(read_plan("demo"), (("L1", 2000 / 230**2),), 30.0)
    >>> round(watts, 6), round(amps, 4)
    (2030.0, 8.8261)
    """
    circuit, voltage_v = plan.circuit, plan.voltage_v
    layout = layout_of(circuit) if circuit else "one phase"
    place = pump_hangs(plan.vessel, circuit)
    steady_a = np.array([other_w / (voltage_v * amps_frac(layout, place))])
    branches = [Branch(connection=place, siemens=np.zeros(1), steady_a=steady_a)]
    branches += [Branch(connection=at, siemens=np.array([part]), steady_a=np.zeros(1)) for at, part in by_line]
    solved = solve(layout, branches, Wires(), voltage_v)
    return float(solved.board_w[0]), float(np.abs(solved.total_a).max())


class _PerSquareVolt(NamedTuple):
    """Of elements at one volt at the board: power there, what they give, and give inward [W], fullest line [A].

    Conductances by place [S].
    """

    board: float
    given: float
    inward: float
    line_a: float
    by_line: tuple[tuple[str, float], ...]


@lru_cache(maxsize=256)
def _per_square_volt(circuit: Circuit | None, elements: tuple[Element, ...]) -> _PerSquareVolt:
    if not elements:
        return _PerSquareVolt(0.0, 0.0, 0.0, 0.0, ())
    hang = elements_hang(elements, circuit) or ("L1",) * len(elements)
    siemens = [element_siemens(element, place, circuit) for element, place in zip(elements, hang, strict=True)]
    branches = [
        Branch(connection=place, siemens=np.array([part]), steady_a=np.zeros(1), behind_lead=True)
        for place, part in zip(hang, siemens, strict=True)
    ]
    solved = solve(layout_of(circuit) if circuit else "one phase", branches, wires_of(circuit), 1.0)
    given = solved.branch_w[:, 0]
    inward = sum(float(w) * element.share_into_water for w, element in zip(given, elements, strict=True))
    places = dict.fromkeys(hang)
    by_line = tuple((place, sum(s for s, at in zip(siemens, hang, strict=True) if at == place)) for place in places)
    line_a = float(np.abs(solved.total_a).max())
    return _PerSquareVolt(float(solved.board_w[0]), float(given.sum()), inward, line_a, by_line)


VESSEL = "Vessel"
SECOND_HEATER = "Second heater"


def load_profiles(plan: Plan, course: Course) -> tuple[LoadProfile, ...]:
    """The load of the vessel and, if there is one, of the second heater (one draw)."""
    legs = [leg for leg in course.legs if leg.outcome.duration_s[0] > 0]
    vessel = LoadProfile(
        name=VESSEL,
        edges_s=np.array([float(legs[0].start_s[0]), *(float(leg.end_s[0]) for leg in legs)]),
        mean_w=np.array([float(leg.board_w[0]) for leg in legs]),
        heater_w_per_v2=np.array([leg.heater_w_per_v2 if leg.element_w[0] > 0 else 0.0 for leg in legs]),
        other_w=np.array([leg.other_w for leg in legs]),
        line=pump_hangs(plan.vessel, plan.circuit),
        by_line=_by_line(plan, legs),
    )
    second = _second_heater(plan, course)
    return (vessel, second) if second else (vessel,)


def _by_line(plan: Plan, legs: list[Leg]) -> tuple[tuple[str, FloatArray], ...]:
    """Conductance by the place where it hangs, where that is not the pump's alone."""
    on = [dict(leg.by_line) if leg.element_w[0] > 0 else {} for leg in legs]
    places = dict.fromkeys(place for parts in on for place in parts)
    if set(places) <= {pump_hangs(plan.vessel, plan.circuit)}:
        return ()
    return tuple((place, np.array([parts.get(place, 0.0) for parts in on])) for place in places)


def _second_heater(plan: Plan, course: Course) -> LoadProfile | None:
    """The sparge water's heater: full power, ready just when the named step begins."""
    heater = plan.second_heater
    if heater is None:
        return None
    from_s, until_s = second_heater_s(plan, course)
    ready_s, duration_s = float(until_s[0]), float(until_s[0] - from_s[0])
    if duration_s <= 0:
        return None
    hangs, siemens = second_heater_hangs(plan)
    return LoadProfile(
        name=SECOND_HEATER,
        edges_s=np.array([ready_s - duration_s, ready_s]),
        mean_w=np.array([heater.power_w]),
        heater_w_per_v2=np.array([siemens]),
        other_w=np.zeros(1),
        line=hangs,
    )


def second_heater_hangs(plan: Plan) -> tuple[str, float]:
    """Where the sparge water's heater hangs ("" where nobody said it), and its conductance there [S].

    Notes
    -----
    Its power is that at the circuit's voltage between the conductors of that place; where nobody said it, at that
    from a line to neutral.
    """
    heater, circuit = plan.second_heater, plan.circuit
    power_w = heater.power_w if heater else 0.0
    if circuit is None:
        return "L1", power_w / plan.voltage_v**2
    hangs = connection_of(circuit, heater.line if heater else None)
    return hangs or "", power_w / (circuit.voltage_v * board_frac(layout_of(circuit), hangs or "L1")) ** 2


def second_heater_s(plan: Plan, course: Course) -> tuple[FloatArray, FloatArray]:
    """From when to when the sparge water is heated, from the start of the day [s], shape (draws,).

    Its water is that of the vessel: as warm as the vessel's is at the start. Both ends are 0 without such a heater.
    """
    heater, batch = plan.second_heater, plan.batch
    if heater is None:
        return np.zeros_like(course.start_c), np.zeros_like(course.start_c)
    ready_s = course.step_starts_s[heater.ready_at_step]
    mass_kg = batch.sparge_water_l / 1000 * float(density_kg_per_m3(batch.water_temperature_c))
    rise = enthalpy_j_per_kg(batch.sparge_temperature_c) - enthalpy_j_per_kg(course.start_c)
    duration_s = mass_kg * np.maximum(rise, 0.0) / heater.share_into_water / heater.power_w
    return np.asarray(ready_s - duration_s), np.asarray(ready_s + np.zeros_like(duration_s))


def on_the_circuit(plan: Plan, profiles: tuple[LoadProfile, ...]) -> tuple[LoadProfile, ...]:
    """The loads that hang on the plan's circuit: without a second heater that has one of its own."""
    if plan.second_heater is None or not plan.second_heater.own_circuit:
        return profiles
    return tuple(profile for profile in profiles if profile.name != SECOND_HEATER)
