"""Where the loads of a plan hang on a supply with several lines: what was entered, and what follows from it."""

from collections.abc import Sequence

from energyplan.physics.network import connections, lines_in
from energyplan.plan.circuit import Circuit
from energyplan.plan.vessel import Element, Vessel

__all__ = [
    "connection_of",
    "element_siemens",
    "elements_hang",
    "home_of",
    "layout_of",
    "placed",
    "pump_hangs",
]

# ANSI C84.1 (from memory): 208Y/120 and 480Y/277 are brought with two of their lines, 240 V with two legs.
_WYE_V = ((196.0, 220.0), (440.0, 510.0))
_SPLIT_V = (180.0, 260.0)
_BETWEEN_LINES = 1.35  # a plate of more times the voltage to neutral is meant between lines


def layout_of(circuit: Circuit) -> str:
    """Kind of supply: as entered, else by rules and voltage.

    Examples
    --------
    >>> layout_of(Circuit(voltage_v=240.0, rules="nec")), layout_of(Circuit(voltage_v=230.0))
    ('split phase', 'one phase')
    >>> layout_of(Circuit(voltage_v=208.0, rules="nec")), layout_of(Circuit(voltage_between_lines_v=400.0))
    ('two of three phases', 'three phase')
    """
    if circuit.layout is not None:
        return circuit.layout
    if circuit.voltage_between_lines_v is not None:
        return "three phase"
    if circuit.rules == "nec":
        if any(low_v <= circuit.voltage_v <= high_v for low_v, high_v in _WYE_V):
            return "two of three phases"
        if _SPLIT_V[0] < circuit.voltage_v <= _SPLIT_V[1]:
            return "split phase"
    return "one phase"


def home_of(circuit: Circuit) -> str:
    """Where the circuit's outlet hangs: as entered, else both lines of two, or the first.

    Examples
    --------
    >>> home_of(Circuit(voltage_v=240.0, rules="nec")), home_of(Circuit(voltage_v=230.0))
    ('L1-L2', 'L1')
    """
    layout = layout_of(circuit)
    if layout in ("split phase", "two of three phases"):
        return "L1-L2" if circuit.line in (None, "all") else str(circuit.line)
    return "L1" if layout == "one phase" else circuit.line or "L1"


def connection_of(circuit: Circuit, line: str | None) -> str | None:
    """Where a load hangs: as entered, else where the circuit does; None where that is not one line alone.

    Examples
    --------
    >>> nano = Circuit(voltage_between_lines_v=400.0, line="all")
    >>> connection_of(nano, "L2"), connection_of(nano, None)
    ('L2', None)
    """
    if line is not None:
        return "L1-L2" if line == "all" and "all" not in connections(layout_of(circuit)) else line
    home = home_of(circuit)
    return home if len(lines_in(home)) == 1 else None


def elements_hang(elements: Sequence[Element], circuit: Circuit | None) -> tuple[str, ...] | None:
    """Where each element hangs; None where nobody said it.

    Notes
    -----
    On "all" lines one element is a balanced one, and three equal ones (or six) hang on the lines in turn: from line to
    neutral, or between lines when their plates are made for that.

    Examples
    --------
    >>> nano = Circuit(voltage_between_lines_v=400.0, line="all")
    >>> elements_hang((Element(power_w=3000, voltage_v=230),) * 3, nano)
    ('L1', 'L2', 'L3')
    >>> elements_hang((Element(power_w=3000, voltage_v=230),) * 2, nano) is None
    True
    """
    if circuit is None:
        return ("L1",) * len(elements)
    home = home_of(circuit)
    entered = [connection_of(circuit, element.line) if element.line else None for element in elements]
    left = [element for element, line in zip(elements, entered, strict=True) if line is None]
    if home == "all" and len(left) > 1:
        if len(left) % 3 or len({(element.power_w, element.voltage_v) for element in left}) > 1:
            return None
        between = left[0].voltage_v > _BETWEEN_LINES * circuit.voltage_v
        turn = ("L1-L2", "L2-L3", "L3-L1") if between else ("L1", "L2", "L3")
        filled = iter(turn * (len(left) // 3))
    else:
        filled = iter((home,) * len(left))
    return tuple(line or next(filled) for line in entered)


def placed(elements: tuple[Element, ...], circuit: Circuit | None) -> tuple[Element, ...]:
    """Elements that each name their place, so that some of them stay where they are without the others.

    Examples
    --------
    >>> nano = Circuit(voltage_between_lines_v=400.0, line="all")
    >>> [element.line for element in placed((Element(power_w=3000, voltage_v=230),) * 3, nano)]
    ['L1', 'L2', 'L3']
    """
    if circuit is None or layout_of(circuit) == "one phase":
        return elements
    hang = elements_hang(elements, circuit) or tuple(element.line or "L1" for element in elements)
    return tuple(element.model_copy(update={"line": place}) for element, place in zip(elements, hang, strict=True))


def element_siemens(element: Element, hangs: str, circuit: Circuit | None) -> float:
    """Conductance of an element between its conductors [S], as `energyplan.physics.network.Branch` counts it.

    Notes
    -----
    The plate of a balanced three-phase element may name the voltage between lines or, in star, that to neutral.

    Examples
    --------
    >>> nano = Circuit(voltage_between_lines_v=400.0, line="all")
    >>> round(element_siemens(Element(power_w=9000, voltage_v=400), "all", nano), 5)
    0.05625
    >>> round(element_siemens(Element(power_w=9000, voltage_v=230), "all", nano), 5)
    0.05671
    """
    plate_v = element.voltage_v
    if hangs == "all" and circuit is not None and plate_v <= _BETWEEN_LINES * circuit.voltage_v:
        plate_v *= 3**0.5
    return element.power_w / plate_v**2


def pump_hangs(vessel: Vessel, circuit: Circuit | None) -> str:
    """Where pump and electronics hang: as entered, else with the first element; on the first of three lines."""
    if circuit is None:
        return "L1"
    if (line := vessel.pump_line) is not None:
        return connection_of(circuit, line) or "L1"
    first = (elements_hang(vessel.elements, circuit) or (home_of(circuit),))[0]
    return "L1" if first == "all" else first
