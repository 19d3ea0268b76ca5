"""What the mains deliver to the vessel: resistance of the leads, power of the elements, duty of a cap."""

from functools import lru_cache
from itertools import combinations
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from energyplan.base.records import dataclass
from energyplan.physics.conductors import resistance_ohm_per_m
from energyplan.physics.network import Branch, Wires, board_frac, solve
from energyplan.plan.lines import element_siemens, elements_hang, layout_of, placed, pump_hangs
from energyplan.plan.model import Circuit, Element, Plan, Vessel

__all__ = [
    "FIXED_C",
    "LEAD_C",
    "Heating",
    "elements_a",
    "elements_on",
    "heating",
    "on_draw",
    "one_way_m",
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
    return elements_on(plan.vessel.model_copy(update={"elements": _placed(plan.vessel.elements, plan.circuit)}), cap_w)


@lru_cache(maxsize=64)
def _placed(elements: tuple[Element, ...], circuit: Circuit | None) -> tuple[Element, ...]:
    return placed(elements, circuit)


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
    steady_a = np.array([other_w / (voltage_v * board_frac(layout, place))])
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
