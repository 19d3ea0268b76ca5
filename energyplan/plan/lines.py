"""Where the loads of a plan hang on a supply with several lines: what was entered, and what follows from it."""

from collections.abc import Iterator, Sequence

from energyplan.base.errors import Place, Problem
from energyplan.base.kinds import COUNT, KEY, VOLTS, WORD
from energyplan.base.sentence import Sentence, listed
from energyplan.physics.network import board_frac, connections, lines_in
from energyplan.plan.equipment import Circuit, Element, HouseSupply, OtherLoad, SecondHeater, Vessel

__all__ = [
    "circuit_problems",
    "connection_of",
    "element_siemens",
    "elements_hang",
    "home_of",
    "layout_of",
    "line_problems",
    "placed",
    "pump_hangs",
    "supply_problems",
    "window_problems",
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


MOST_TO_NEUTRAL_V = 340.0  # above it a three-phase voltage is one between lines: 347/600 V is the highest to neutral


_BURNS = 1.5  # times its plate's voltage


def circuit_problems(circuit: Circuit | None) -> Iterator[Problem]:
    """Words that the circuit's family of rules doesn't have."""
    if circuit is None:
        return
    curves = ("inverse",) if circuit.rules == "nec" else ("B", "C", "D", "gG", "BS 3036")
    if circuit.breaker_curve is not None and circuit.breaker_curve not in curves:
        yield _not_in_the_rules(circuit, "breaker_curve", circuit.breaker_curve, curves)
    methods = ("60", "75", "90") if circuit.rules == "nec" else ("A", "B", "C", "E")
    if circuit.installation is not None and circuit.installation not in methods:
        yield _not_in_the_rules(circuit, "installation", circuit.installation, methods)
    editions = ("2017", "2020", "2023") if circuit.rules == "nec" else ("2018",)
    if circuit.rules_edition is not None and circuit.rules_edition not in editions:
        yield _not_in_the_rules(circuit, "rules_edition", circuit.rules_edition, editions)
    if circuit.ring and circuit.rules == "nec":
        message = "these rules know no ring; leave it out, or check the rules"
        yield Problem(where=Place("circuit", "ring"), value="true", message=message)


def _not_in_the_rules(circuit: Circuit, key: str, value: str, expected: tuple[str, ...]) -> Problem:
    message = Sentence(
        'with {rules} "{family}" expected {expected}',
        rules=KEY("circuit.rules"), family=WORD(circuit.rules), expected=listed(map(WORD, expected), "or"),
    )  # fmt: skip
    return Problem(where=Place("circuit", key), value=f'"{value}"', message=message)


def line_problems(
    circuit: Circuit | None, vessel: Vessel, heater: SecondHeater | None, other_loads: tuple[OtherLoad, ...]
) -> Iterator[Problem]:
    """Lines that the supply does not have, and what nobody said."""
    layout = layout_of(circuit) if circuit else "three phase"
    there = (*connections(layout), *(("all",) if layout in ("split phase", "two of three phases") else ()))
    entered = {Place("circuit", "line"): circuit.line if circuit else None}
    entered |= {Place("vessel", "pump_line"): vessel.pump_line}
    entered |= {Place("vessel.element", "line", n): e.line for n, e in enumerate(vessel.elements, start=1)}
    entered |= {Place("second_heater", "line"): heater.line if heater else None}
    entered |= {Place("other_load", "line", load.name): load.line for load in other_loads}
    wrong = {where: line for where, line in entered.items() if line is not None and line not in there}
    for where, line in wrong.items():
        message = Sentence("a {layout} circuit has {lines}", layout=WORD(layout), lines=listed(map(WORD, there)))
        yield Problem(where=where, value=f'"{line}"', message=message)
    if circuit is not None and not wrong:
        yield from _voltage_problems(circuit, layout)
        yield from _element_problems(vessel.elements, circuit, layout)


def _voltage_problems(circuit: Circuit, layout: str) -> Iterator[Problem]:
    entered_v = circuit.voltage_v
    if layout == "three phase" and circuit.voltage_between_lines_v is None and entered_v > MOST_TO_NEUTRAL_V:
        message = Sentence(
            'on three phases this is the voltage from a line to neutral; write {key} = "{volts}"',
            key=KEY("circuit.voltage_between_lines"),
            volts=VOLTS(entered_v),
        )
        yield Problem(where=Place("circuit", "voltage"), value=VOLTS(entered_v), message=message)
    if layout != "three phase" and circuit.voltage_between_lines_v is not None:
        message = Sentence(
            'a {layout} circuit has no three lines; write {key}, or {other} = "three phase"',
            layout=WORD(layout),
            key=KEY("circuit.voltage"),
            other=KEY("circuit.layout"),
        )
        value = VOLTS(circuit.voltage_between_lines_v)
        yield Problem(where=Place("circuit", "voltage_between_lines"), value=value, message=message)


def _element_problems(elements: Sequence[Element], circuit: Circuit, layout: str) -> Iterator[Problem]:
    hang = elements_hang(elements, circuit)
    choices = listed((WORD(f'"{name}"') for name in connections(layout)), "or")
    if hang is None:
        message = Sentence(
            '"all" does not say how {count} elements hang on three lines; give each {key}: {choices} ('
            '"all" is one balanced '
            "three-phase element)",
            count=COUNT(len(elements)),
            key=KEY("vessel.element.line"),
            choices=choices,
        )
        yield Problem(where=Place("circuit", "line"), value='"all"', message=message)
        return
    if layout == "one phase":
        return
    for number, (element, place) in enumerate(zip(elements, hang, strict=True), start=1):
        across_v = circuit.voltage_v * board_frac(layout, place)
        if place != "all" and across_v > _BURNS * element.voltage_v:
            message = Sentence(
                "made for {plate}, it would burn on the {volts} of {place}; enter one of {choices}",
                plate=VOLTS(element.voltage_v),
                volts=VOLTS(across_v),
                place=WORD(place),
                choices=choices,
            )
            yield Problem(where=Place("vessel.element", "line", number), value=f'"{place}"', message=message)


def window_problems(*tables: tuple[OtherLoad, ...]) -> Iterator[Problem]:
    """Windows of no length."""
    for table, loads in zip(("other_load", "house_load"), tables, strict=True):
        for load in loads:
            if load.from_min == load.to_min:
                same = "from and to are the same time; leave both out for all day"
                yield Problem(where=Place(table, "from", load.name), message=same)


def supply_problems(supply: HouseSupply | None) -> Iterator[Problem]:
    """What is said of a contract that isn't there, or that allows nothing."""
    if supply is None:
        return
    if supply.contracted_w is None:
        for key, is_given in (
            ("contract_allows", supply.contract_allows_frac > 0),
            ("contract_allows_for", supply.contract_allows_for_s is not None),
        ):
            if is_given:
                message = Sentence(
                    'it says what may pass the contract; enter {key}, such as "3.3 kW"',
                    key=KEY("supply.contracted_power"),
                )
                yield Problem(where=Place("supply", key), message=message)
    if supply.contract_allows_for_s is not None and supply.contract_allows_frac == 0:
        message = Sentence(
            'it says how long an excess may last; add how much ({key}), such as "10 %"',
            key=KEY("supply.contract_allows"),
        )
        yield Problem(where=Place("supply", "contract_allows_for"), message=message)
