"""What circuit, loads and supply may not say although each of their values reads well."""

from collections.abc import Iterator

from energyplan.base.errors import Place, Problem
from energyplan.base.kinds import KEY, WORD
from energyplan.base.sentence import Sentence, listed
from energyplan.plan.place import Circuit, HouseSupply, OtherLoad

__all__ = ["circuit_problems", "load_problems", "supply_problems"]

WOUND_FAULT = 'an extension left wound has a smaller rating: enter "rating_wound", or unwind it'
LINES = {"one phase": ("L1",), "split phase": ("L1", "L2"), "three phase": ("L1", "L2", "L3")}


def circuit_problems(circuit: Circuit | None) -> Iterator[Problem]:
    """Words that the circuit's family of rules doesn't have."""
    if circuit is None:
        return
    curves = ("inverse",) if circuit.rules == "nec" else ("B", "C", "D")
    if circuit.breaker_curve is not None and circuit.breaker_curve not in curves:
        yield _not_in_the_rules(circuit, "breaker_curve", circuit.breaker_curve, curves)
    methods = ("60", "75", "90") if circuit.rules == "nec" else ("A", "B", "C", "E")
    if circuit.installation is not None and circuit.installation not in methods:
        yield _not_in_the_rules(circuit, "installation", circuit.installation, methods)
    if circuit.extension and not circuit.extension.unwound and circuit.extension.rating_wound_a is None:
        yield Problem(where=Place("circuit", "extension"), value="unwound = false", message=WOUND_FAULT)


def _not_in_the_rules(circuit: Circuit, key: str, value: str, expected: tuple[str, ...]) -> Problem:
    message = Sentence(
        'with {rules} "{family}" expected {expected}',
        rules=KEY("circuit.rules"), family=WORD(circuit.rules), expected=listed(map(WORD, expected), "or"),
    )  # fmt: skip
    return Problem(where=Place("circuit", key), value=f'"{value}"', message=message)


def load_problems(
    circuit: Circuit | None, other_loads: tuple[OtherLoad, ...], house_loads: tuple[OtherLoad, ...]
) -> Iterator[Problem]:
    """Lines that the supply doesn't have, and windows of no length."""
    layout = circuit.layout if circuit else None
    there = (*LINES[layout], "all") if layout else ("L1", "L2", "L3", "all")
    lines = {Place("circuit", "line"): circuit.line if circuit else None}
    lines |= {Place("other_load", "line", load.name): load.line for load in other_loads}
    for where, line in lines.items():
        if line is not None and line not in there:
            message = Sentence(
                "a {layout} circuit has {lines}", layout=WORD(layout or ""), lines=listed(map(WORD, there))
            )
            yield Problem(where=where, value=f'"{line}"', message=message)
    for table, loads in (("other_load", other_loads), ("house_load", house_loads)):
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
