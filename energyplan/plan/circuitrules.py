"""What circuit, loads and supply may not say although each of their values reads well."""

from collections.abc import Iterator, Sequence

from energyplan.base.errors import Place, Problem
from energyplan.base.kinds import COUNT, KEY, VOLTS, WORD
from energyplan.base.sentence import Sentence, listed
from energyplan.physics.network import board_frac, connections
from energyplan.plan.circuit import Circuit, OtherLoad
from energyplan.plan.lines import elements_hang, layout_of
from energyplan.plan.place import HouseSupply
from energyplan.plan.vessel import Element, SecondHeater, Vessel

__all__ = ["circuit_problems", "line_problems", "supply_problems", "window_problems"]

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
