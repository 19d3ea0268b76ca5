"""Circuits drawn at random on any lines of any supply: what an electrician knows to hold, holds."""

import os
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from functools import cached_property
from typing import Any

import numpy as np
import pytest

from energyplan.base.load import LoadProfile
from energyplan.circuits.cables import cable_sizes_mm2
from energyplan.circuits.check import CircuitCheck, check
from energyplan.circuits.enough import enough, largest_power
from energyplan.circuits.findings import Remedy
from energyplan.physics.conductors import awg_mm2
from energyplan.physics.network import PHASORS, board_frac, connections, lines_in
from energyplan.plan.lines import home_of, layout_of
from energyplan.plan.model import Circuit, Extension, OtherLoad
from energyplan.telling.findings import FindingTeller

BARE = (True, False)
CIRCUITS = int(os.environ.get("CIRCUITS", "30"))
START = datetime(2026, 5, 9, 7, tzinfo=UTC)
SUPPLIES: tuple[dict[str, Any], ...] = (
    {"voltage_v": 230.0}, {"voltage_v": 241.0}, {"voltage_v": 222.0},
    {"voltage_v": 230.0, "layout": "three phase"}, {"voltage_between_lines_v": 400.0},
    {"rules": "nec", "voltage_v": 240.0}, {"rules": "nec", "voltage_v": 236.0}, {"rules": "nec", "voltage_v": 120.0},
    {"rules": "nec", "voltage_v": 208.0},
)  # fmt: skip
TURNED = {
    "three phase": {"L1": "L2", "L2": "L3", "L3": "L1", "L1-L2": "L2-L3", "L2-L3": "L3-L1", "L3-L1": "L1-L2",
                    "all": "all"},
    "split phase": {"L1": "L2", "L2": "L1", "L1-L2": "L1-L2", "all": "all"},
    "two of three phases": {"L1": "L2", "L2": "L1", "L1-L2": "L1-L2", "all": "all"},
}  # fmt: skip
BY_WHAT_BEFORE_IT = {"breaker", "continuous", "cable", "main_fuse", "voltage_drop"}  # filled by other loads alone


class Case:
    """A circuit, the appliances of a day, and what else hangs on it."""

    def __init__(self, circuit: Circuit, profiles: list[LoadProfile], others: list[OtherLoad]) -> None:
        self.circuit, self.profiles, self.others = circuit, profiles, others

    def but(self, profiles: Any = None, others: Any = None, **entries: Any) -> "Case":
        """The same with something else."""
        return Case(
            self.circuit.model_copy(update=entries),
            self.profiles if profiles is None else profiles,
            self.others if others is None else others,
        )

    @cached_property
    def checked(self) -> CircuitCheck:
        """As it is judged."""
        return check(self.profiles, self.circuit, self.others, START, UTC)

    @property
    def over(self) -> set[str]:
        """Codes of what is over."""
        return {finding.code for finding in self.checked.findings if finding.severity == "over"}

    @property
    def nominal_a(self) -> float:
        """The fullest line at the nominal voltage."""
        return next(case.peak_a for case in self.checked.voltages if case.name == "nominal")

    def powered(self, factor: float) -> "Case":
        """The same with other elements in the vessel."""
        vessel, *rest = self.profiles
        scaled = replace(
            vessel,
            mean_w=vessel.other_w + (vessel.mean_w - vessel.other_w) * factor,
            heater_w_per_v2=vessel.heater_w_per_v2 * factor,
            by_line=tuple((place, part * factor) for place, part in vessel.by_line),
        )
        return self.but([scaled, *rest])


def drawn(seed: int) -> Case:
    """Some circuit and day."""
    rng = np.random.default_rng(seed)
    supply = SUPPLIES[rng.integers(len(SUPPLIES))]
    nec = supply.get("rules") == "nec"
    layout = layout_of(Circuit(**supply))
    places = connections(layout)
    sizes = [awg_mm2(gauge) for gauge in (14, 12, 10, 8, 6, 4)] if nec else [1.0, 1.5, 2.5, 4.0, 6.0, 10.0]

    def one_of(*values: Any, share: float = 1.0) -> Any:
        return values[rng.integers(len(values))] if rng.random() < share else None

    lead = Extension(cable_mm2=one_of(1.0, 1.5, 2.5, awg_mm2(14)), length_m=rng.uniform(1, 40),
                     unwound=rng.random() < 0.7, rating_a=one_of(10.0, 13.0, 16.0, share=0.3))  # fmt: skip
    circuit = Circuit(
        **supply,
        line=one_of(*places, share=0.0 if layout == "one phase" else 0.7),
        breaker_a=one_of(*((15, 20, 25, 30, 40, 50) if nec else (6, 10, 13, 16, 20, 25, 32, 40)), share=0.8),
        breaker_curve="inverse" if nec else one_of("B", "C", "D", "gG", "BS 3036", share=0.8),
        outlet_a=one_of(*((15, 20, 30, 50) if nec else (10, 13, 16, 32)), share=0.6),
        plug_fuse_a=None if nec else one_of(3.0, 13.0, share=0.15),
        cable_mm2=one_of(*sizes, share=0.8),
        cable_length_m=one_of(0.0, rng.uniform(2, 40), rng.uniform(2, 90), rng.uniform(2, 90)),
        installation=one_of(*(("60", "75", "90") if nec else ("A", "B", "C", "E")), share=0.8),
        conductor=one_of(*["copper"] * 9, "aluminium"),
        ambient_c=one_of(10.0, 25.0, 30.0, 38.0, 45.0),
        grouped_circuits=one_of(1, 1, 2, 3, 5),
        residual_current_device=one_of(None, *BARE, "30 mA", "30 mA, type A", "100 mA, type A", "5 mA"),
        protective_conductor_mm2=one_of(*sizes, share=0.5),
        earth_loop_ohm=one_of(rng.uniform(0.1, 3), share=0.5),
        earthing=one_of(None, "TN-S", "TN-C-S", "TT"),
        main_fuse_a=one_of(25.0, 40.0, 63.0, share=0.4),
        extension=lead if rng.random() < 0.35 else None,
        ring=not nec and layout == "one phase" and rng.random() < 0.15,
        dedicated=one_of(None, *BARE),
    )
    edges_s = np.append(0.0, np.cumsum(rng.choice([300, 600, 1200, 1800, 3600, 7200, 12000], size=5)))
    duty = np.append(1.0, rng.choice([0.0, 0.1, 0.3, 0.6, 1.0], size=4))
    home = home_of(circuit)
    hung = [home] if layout == "one phase" or rng.random() < 0.5 else [one_of(*places) for _ in range(3)]
    watts = {place: rng.uniform(500, 5000) for place in hung}
    by_line = tuple((place, (duty > 0) * _siemens(circuit, place, power_w)) for place, power_w in watts.items())
    pump_w = one_of(0.0, 30.0, 80.0)
    vessel = LoadProfile(
        name="Vessel", edges_s=edges_s, mean_w=duty * sum(watts.values()) + pump_w, by_line=by_line,
        heater_w_per_v2=np.sum([part for _, part in by_line], axis=0), other_w=np.full(5, pump_w),
        line="L1" if hung[0] == "all" else hung[0],
    )  # fmt: skip
    profiles = [vessel]
    if rng.random() < 0.5:
        place, power_w, begin_s = one_of(*places), rng.uniform(500, 3000), rng.uniform(0, edges_s[-1])
        part = np.array([_siemens(circuit, place, power_w)])
        profiles.append(LoadProfile(
            name="Second heater", edges_s=np.array([begin_s, begin_s + rng.uniform(300, 6000)]),
            mean_w=np.array([power_w]), heater_w_per_v2=part, other_w=np.zeros(1), by_line=((place, part),),
            line="L1" if place == "all" else place,
        ))  # fmt: skip
    others = []
    for number in range(rng.integers(0, 4)):
        begin_min, end_min = sorted(rng.choice(np.arange(400, 1000), 2, replace=False).tolist())
        window = {} if rng.random() < 0.4 else {"from_min": begin_min, "to_min": end_min}
        others.append(OtherLoad(
            name=f"{one_of('Fridge', 'Kettle', 'Oven', 'Tumble dryer')} {number}", power_w=one_of(100, 400, 1200, 2200),
            duty=one_of(0.3, 1.0), line=one_of(*places, share=0.0 if layout == "one phase" else 0.6), **window,
        ))  # fmt: skip
    return Case(circuit, profiles, others)


def _siemens(circuit: Circuit, place: str, power_w: float) -> float:
    """Conductance of an element with a plate for the voltage of its place."""
    return power_w / (board_frac(layout_of(circuit), place) * circuit.voltage_v) ** 2


SEEDS = pytest.mark.parametrize("seed", range(CIRCUITS))


@SEEDS
def test_what_is_offered_mends_its_finding(seed: int) -> None:
    """Each way out that loads, hours or entries can show, carried out, and the same rule finds nothing over."""
    case = drawn(seed)
    takes_w = largest_power(case.profiles, case.circuit, case.others, START, UTC)
    for finding in case.checked.findings:
        for remedy in finding.remedies if finding.severity == "over" else ():
            for after in _carried_out(case, remedy, takes_w.power_w):
                assert finding.code not in after.over, (finding.code, remedy)


# Seeds of what was offered and did not mend: other loads off a line, a heater moved into another, a thicker cable that
# drops less, hours of three-hour loads.
@pytest.mark.parametrize("seed", [48, 80, 110])
def test_what_was_offered_and_did_not_mend(seed: int) -> None:
    """As above."""
    test_what_is_offered_mends_its_finding(seed)


def _carried_out(case: Case, remedy: Remedy, takes_w: float | None) -> Iterator[Case]:
    facts = remedy.facts
    left = [load for load in case.others if load.name not in facts.get("names", ())]
    if remedy.code == "fewer elements" and takes_w:
        yield case.powered(min(takes_w / _element_w(case), 1.0))
    if remedy.code == "others off":
        yield case.but(others=left)
    if remedy.code in ("shift", "off and shift"):
        vessel, heater = case.profiles
        moved_s = 60.0 * facts["shift_min"] * (1 if facts["is_later"] else -1)
        moved = replace(heater, edges_s=heater.edges_s + moved_s)
        yield case.but([vessel, moved], left if remedy.code == "off and shift" else None)
    if remedy.code == "bigger circuit":
        length_m = facts["length_m"] or 0.0
        yield case.but(breaker_a=facts["breaker_a"], cable_mm2=facts["cable_mm2"], cable_length_m=length_m,
                       ring=False, extension=None)  # fmt: skip
    if remedy.code == "own circuit":
        yield case.but(case.profiles[:1], [], dedicated=True)
    entries = {
        "unwind": {"extension": case.circuit.extension and case.circuit.extension.model_copy(update={"unwound": True})},
        "no lead": {"extension": None},
        "no ring": {"ring": False},
    }
    if remedy.code in entries:
        yield case.but(**entries[remedy.code])


def _element_w(case: Case) -> float:
    """Power of the vessel's elements at the nominal voltage."""
    nominal_v = next(at.voltage_v for at in case.checked.voltages if at.name == "nominal")
    parts = [(board_frac(layout_of(case.circuit), place) * nominal_v) ** 2 * part
             for place, part in case.profiles[0].by_line]  # fmt: skip
    return float(np.sum(parts, axis=0).max())


@SEEDS
def test_largest_power_and_smallest_circuit(seed: int) -> None:
    """With the largest power nothing more is over, with a step more something is; on what is enough nothing is."""
    case = drawn(seed)
    most = largest_power(case.profiles, case.circuit, case.others, START, UTC)
    if most.power_w is not None:
        anyway, element_w = set(most.over_anyway), _element_w(case)
        assert case.powered(most.power_w / element_w).over <= anyway
        if most.power_w < 59_000 and not anyway & BY_WHAT_BEFORE_IT:
            assert case.powered((most.power_w + most.step_w) / element_w).over - anyway
    needs = enough(case.profiles, case.circuit, case.others, START, UTC)
    if needs.circuit is not None:
        assert Case(needs.circuit, case.profiles, case.others).over == set()


@SEEDS
def test_more_power_never_mends(seed: int) -> None:
    """What is over with some elements is over with larger ones."""
    case = drawn(seed)
    currents = BY_WHAT_BEFORE_IT | {"outlet", "plug_fuse", "extension", "one_appliance"}
    assert case.over & currents <= case.powered(1.2).over


@SEEDS
def test_a_load_that_moves_elsewhere_lightens_the_circuit(seed: int) -> None:
    """The fullest line carries no more, and nothing but the vessel's own ratings can be over that was not.

    A line that the load was not on may carry a little more: its neutral drops less. On several lines it may drop more,
    where the load was what balanced another in the neutral.
    """
    case = drawn(seed)
    may_be = {"outlet", "extension", "plug_fuse"} | ({"voltage_drop"} if "N" in _lines_a(case) else set())
    for number in range(len(case.others)):
        after = case.but(others=[*case.others[:number], *case.others[number + 1 :]])
        assert after.nominal_a <= case.nominal_a * (1 + 1e-3)
        assert after.over - case.over <= may_be
        line = case.others[number].line
        before_a, after_a = _lines_a(case), _lines_a(after)
        if all(load.line for load in case.others):
            for name in lines_in(line) if line else ():
                assert after_a.get(name, 0.0) <= before_a[name] * (1 + 1e-9)
            assert after_a.get("N", 0.0) <= before_a.get("N", 0.0) * 1.01 + 1e-9


def _lines_a(case: Case) -> dict[str, float]:
    return {one.line: one.peak_a for one in case.checked.lines}


@SEEDS
def test_thicker_wires_carry_more_and_drop_less(seed: int) -> None:
    """A thicker cable, and a longer, hotter or bunched one."""
    case = drawn(seed)
    circuit, now = case.circuit, case.checked
    if circuit.cable_mm2 is None:
        return
    carries_a = {rating.code: rating.limit_a for rating in now.ratings}.get("cable", 0.0)
    for size_mm2 in (size for size in cable_sizes_mm2(circuit.rules) if size > circuit.cable_mm2 * 1.01):
        after = case.but(cable_mm2=size_mm2).checked
        assert {rating.code: rating.limit_a for rating in after.ratings}["cable"] >= carries_a
        assert after.voltage_drop_frac <= now.voltage_drop_frac + 1e-12
    assert case.but(cable_length_m=circuit.cable_length_m * 1.5).checked.voltage_drop_frac >= now.voltage_drop_frac
    for worse in ({"ambient_c": circuit.ambient_c + 7}, {"grouped_circuits": circuit.grouped_circuits + 2}):
        after = case.but(**worse).checked
        assert {rating.code: rating.limit_a for rating in after.ratings}.get("cable", 0.0) <= carries_a
        assert {"cable", "cable_protection"} & case.over <= case.but(**worse).over


@SEEDS
def test_lines_are_named_and_nothing_more(seed: int) -> None:
    """With every line called by the name of the next nothing changes; what nobody placed hangs where it makes most."""
    case = drawn(seed)
    circuit, layout = case.circuit, layout_of(case.circuit)
    if layout == "one phase":
        return
    turn = TURNED[layout]
    profiles = [replace(one, line=turn[one.line], by_line=tuple((turn[at], part) for at, part in one.by_line))
                for one in case.profiles]  # fmt: skip
    others = [load.model_copy(update={"line": load.line and turn[load.line]}) for load in case.others]
    turned = case.but(profiles, others, line=turn[circuit.line or home_of(circuit)])
    assert turned.nominal_a == pytest.approx(case.nominal_a, rel=1e-9)
    assert turned.over == case.over
    if len(lines_in(home_of(circuit))) > 1:
        ways = [[load if load.line else load.model_copy(update={"line": line}) for load in case.others]
                for line in PHASORS[layout]]  # fmt: skip
        assert max(case.but(others=way).nominal_a for way in ways) == pytest.approx(case.nominal_a, rel=1e-9)


@SEEDS
def test_findings_are_told_in_whole_numbers_and_words(seed: int) -> None:
    """Of whatever was drawn: no negative ampere, nothing that is no number; what is over uses more than all of it."""
    checked = drawn(seed).checked
    teller = FindingTeller(START, UTC)
    for finding in checked.findings:
        told = teller(finding)
        for said in (str(told.said), str(told.mend or "")):
            assert not {"nan", "inf", "None"} & set(said.replace(",", " ").split())
            assert " -" not in said
        if finding.severity == "over" and finding.code in ("breaker", "outlet", "cable", "extension", "main_fuse"):
            assert finding.margin_frac is None or finding.margin_frac < 0.05
