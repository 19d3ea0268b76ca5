"""Generated circuits: what would be enough passes the check, the largest power is the largest, unknown is never ok."""

import os
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

from energyplan.base.load import LoadProfile
from energyplan.circuits.check import check
from energyplan.circuits.enough import enough, largest_power
from energyplan.physics.conductors import awg_mm2
from energyplan.physics.network import board_frac
from energyplan.plan.lines import layout_of
from energyplan.plan.model import Circuit, Extension, OtherLoad

CIRCUITS = int(os.environ.get("CIRCUITS", "30"))
START = datetime(2026, 5, 9, 7, tzinfo=UTC)
# What each check rests on: without it there is no "ok".
RESTS_ON = {
    "breaker": ("breaker_a",),
    "continuous": ("breaker_a",),
    "outlet": ("outlet_a",),
    "cable": ("cable_mm2", "installation"),
    "cable_protection": ("cable_mm2", "breaker_a", "installation"),
    "voltage_drop": ("cable_mm2", "cable_length_m"),
    "residual_current": ("residual_current_device",),
    "place": ("place",),
    "sharing": ("dedicated",),
    "outlet_protection": ("outlet_a", "breaker_a"),
    "leakage": ("residual_current_device",),
    "breaker_start": ("breaker_a", "breaker_curve"),
}
LOOP = {"iec": ("breaker_a", "breaker_curve", "earth_loop_ohm"), "nec": ("breaker_a", "protective_conductor_mm2")}


def maybe(rng: np.random.Generator, value: object) -> object | None:
    """The value, or nothing entered."""
    return value if rng.random() < 0.75 else None


def circuit_of(rng: np.random.Generator) -> Circuit:
    """Some circuit as somebody may enter it."""
    nec = rng.random() < 0.4
    supplies = [{"voltage_v": 240.0}, {"voltage_v": 120.0}, {"voltage_v": 208.0}] if nec else [
        {"voltage_v": 230.0}, {"voltage_v": 241.0}, {"voltage_between_lines_v": 400.0, "line": "all"},
        {"voltage_v": 230.0, "layout": "three phase", "line": "L2"},
    ]  # fmt: skip
    sizes = [awg_mm2(gauge) for gauge in (14, 12, 10, 8, 6)] if nec else [1.5, 2.5, 4.0, 6.0, 10.0]
    lead = Extension(cable_mm2=float(rng.choice([1.5, 2.5])), length_m=float(rng.uniform(2, 25)))
    return Circuit(
        rules="nec" if nec else "iec",
        **supplies[rng.integers(len(supplies))],
        breaker_a=maybe(rng, float(rng.choice([15, 20, 30, 50] if nec else [10, 16, 20, 25, 32, 40]))),
        breaker_curve=maybe(rng, "inverse" if nec else str(rng.choice(["B", "C", "D"]))),
        outlet_a=maybe(rng, float(rng.choice([15, 20, 30, 50] if nec else [10, 13, 16, 32]))),
        cable_mm2=maybe(rng, float(rng.choice(sizes))),
        cable_length_m=float(rng.choice([0.0, rng.uniform(3, 60)])),
        installation=maybe(rng, str(rng.choice(["60", "75", "90"] if nec else ["A", "B", "C", "E"]))),
        ambient_c=float(rng.choice([20.0, 30.0, 38.0])),
        grouped_circuits=int(rng.integers(1, 4)),
        residual_current_device=[None, True, False, "30 mA", "30 mA, type A", "5 mA"][rng.integers(6)],
        protective_conductor_mm2=maybe(rng, float(rng.choice(sizes))),
        earth_loop_ohm=maybe(rng, float(rng.uniform(0.1, 2.0))),
        place=maybe(rng, str(rng.choice(["dry", "damp", "garage", "outdoors"]))),
        enclosure=maybe(rng, str(rng.choice(["IP20", "IPX4", "IP44", "IP65"]))),
        isolator=[None, True, False][rng.integers(3)],
        extension=lead if rng.random() < 0.3 else None,
        dedicated=[None, True, False][rng.integers(3)],
    )


def day_of(rng: np.random.Generator, circuit: Circuit) -> tuple[list[LoadProfile], list[OtherLoad]]:
    """A day of heating, holding and boiling, perhaps beside something else."""
    place = "all" if circuit.line == "all" else ""
    across = 3**0.5 if place else 1.0
    power_w = float(rng.uniform(800, 9000))
    conductance = power_w / (circuit.voltage_v * across) ** 2
    duty = np.array([1.0, rng.uniform(0.05, 0.5), 1.0, rng.uniform(0.4, 1.0)])
    edges_s = np.append(0.0, np.cumsum(rng.uniform(600, 7000, size=4)))
    vessel = LoadProfile(
        name="Vessel", edges_s=edges_s, mean_w=duty * power_w + 30.0, heater_w_per_v2=np.full(4, conductance),
        other_w=np.full(4, 30.0), line="L1" if place else "",
        by_line=((place, np.full(4, conductance)),) if place else (),
    )  # fmt: skip
    others = [OtherLoad(name="Iron", power_w=float(rng.uniform(60, 1500)))] if rng.random() < 0.4 else []
    return [vessel], others


def element_w(load: LoadProfile, circuit: Circuit, nominal_v: float) -> float:
    """Power of the elements on their plates at the nominal voltage."""
    layout = layout_of(circuit)
    place = load.by_line[0][0] if load.by_line else ("L1-L2" if layout.startswith(("split", "two")) else "L1")
    return float(load.heater_w_per_v2.max()) * (nominal_v * board_frac(layout, place)) ** 2


def scaled(load: LoadProfile, factor: float) -> LoadProfile:
    """The same day with other elements."""
    return replace(
        load,
        mean_w=(load.mean_w - load.other_w) * factor + load.other_w,
        heater_w_per_v2=load.heater_w_per_v2 * factor,
        by_line=tuple((place, part * factor) for place, part in load.by_line),
    )


def over(loads: list[LoadProfile], circuit: Circuit, others: list[OtherLoad]) -> set[str]:
    """Codes of what is over."""
    found = check(loads, circuit, others, START, UTC)
    return {finding.code for finding in found.findings if finding.severity == "over"}


TIED = 1836  # its plates and its cable meet to the last digit


@pytest.mark.parametrize("seed", dict.fromkeys([TIED, *range(CIRCUITS)]))
def test_generated_circuits(seed: int) -> None:
    """Enough has nothing over; the largest power has nothing over and one step more has; no ok without its inputs."""
    rng = np.random.default_rng(seed)
    circuit = circuit_of(rng)
    loads, others = day_of(rng, circuit)
    found = check(loads, circuit, others, START, UTC)
    for finding in found.findings:
        rests_on = LOOP[circuit.rules] if finding.code == "disconnection" else RESTS_ON.get(finding.code, ())
        missing = [name for name in rests_on if getattr(circuit, name) in (None, 0.0)]
        assert finding.severity != "ok" or not missing, (finding.code, missing)
        if finding.code in ("residual_current", "leakage") and circuit.residual_current_device is True:
            assert finding.severity != "ok", "one is there, no more"

    needs = enough(loads, circuit, others, START, UTC)
    if needs.circuit is not None:
        assert over(loads, needs.circuit, others) == set()
        assert (needs.circuit.breaker_a, needs.circuit.cable_mm2) == (needs.breaker_a, needs.cable_mm2)

    most = largest_power(loads, circuit, others, START, UTC)
    if most.power_w is None:
        assert not found.ratings
        return
    nominal_v = next(case.voltage_v for case in found.voltages if case.name == "nominal")
    now_w = element_w(loads[0], circuit, nominal_v)
    allowed = over([scaled(loads[0], most.power_w / now_w)], circuit, others)
    assert allowed == set(most.over_anyway)
    if most.power_w > 0:
        assert over([scaled(loads[0], (most.power_w + most.step_w) / now_w)], circuit, others) > allowed
