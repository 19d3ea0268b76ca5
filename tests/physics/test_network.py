"""The network of a supply: worked cases by hand, and laws that hold on any network."""

import os
from itertools import pairwise

import numpy as np
import pytest

from energyplan.physics.network import Branch, Network, Wires, board_frac, connections, solve

NETWORKS = int(os.environ.get("NETWORKS", "60"))
STAR_230, STAR_120, STAR_277 = 400 / 3**0.5, 208 / 3**0.5, 480 / 3**0.5


def heater(place: str, power_w: float, plate_v: float) -> Branch:
    """An element by its plate."""
    return Branch(connection=place, siemens=np.array([power_w / plate_v**2]), steady_a=np.zeros(1))


def currents(found: Network) -> dict[str, float]:
    """Amperes in each conductor."""
    return {name: float(np.abs(amps[0])) for name, amps in zip(found.conductors, found.total_a, strict=True)}


# Twelve cases by hand: P/V of each element as a phasor of the voltage that it hangs on, no cable. The first eight
# follow from the sums named; in a star with loads a, b, c to neutral |N|^2 = a^2 + b^2 + c^2 - ab - bc - ca.
CASES = {
    "one phase: 3000/230": ("one phase", 230.0, [("L1", 3000, 230)], {"L1": 13.043, "N": 13.043}),
    "240 V plate on 230 V: 3000/240^2 x 230": ("one phase", 230.0, [("L1", 3000, 240)], {"L1": 11.979, "N": 11.979}),
    "split phase, both legs and one: 5500/240 + 1500/120": (
        "split phase", 240.0, [("L1-L2", 5500, 240), ("L1", 1500, 120)], {"L1": 35.417, "L2": 22.917, "N": 12.5},
    ),
    "split phase, each leg: the neutral carries the difference": (
        "split phase", 240.0, [("L1", 1500, 120), ("L2", 900, 120)], {"L1": 12.5, "L2": 7.5, "N": 5.0},
    ),
    "star, L1 and L2: 13.04 each, a third of a turn apart": (
        "three phase", 230.0, [("L1", 3000, 230), ("L2", 3000, 230)], {"L1": 13.043, "L2": 13.043, "N": 13.043},
    ),
    "star, balanced": (
        "three phase", 230.0, [(line, 3000, 230) for line in ("L1", "L2", "L3")],
        {"L1": 13.043, "L2": 13.043, "L3": 13.043, "N": 0.0},
    ),
    "two of 3500 W on L1 and L2: 15.2 and neutral 15.2": (
        "three phase", 230.0, [("L1", 3500, 230), ("L2", 3500, 230)], {"L1": 15.217, "L2": 15.217, "N": 15.217},
    ),
    "star 10, 6 and 3 A: N^2 = 100 + 36 + 9 - 60 - 18 - 30 = 37": (
        "three phase", 230.0, [("L1", 2300, 230), ("L2", 1380, 230), ("L3", 690, 230)],
        {"L1": 10.0, "L2": 6.0, "L3": 3.0, "N": 37**0.5},
    ),
    "delta, balanced: 5 A x root 3": (
        "three phase", STAR_230, [(place, 2000, 400) for place in ("L1-L2", "L2-L3", "L3-L1")],
        {"L1": 8.660, "L2": 8.660, "L3": 8.660},
    ),
    "one balanced element of 9 kW: 9000/(root 3 x 400)": (
        "three phase", STAR_230, [("all", 9000, 400)], {"L1": 12.990, "L2": 12.990, "L3": 12.990},
    ),
    # L1-L2 lies 30 degrees off L1: |21.63 at 30 + 8.34 at 0|^2 = 21.63^2 + 8.34^2 + 2 x 21.63 x 8.34 x cos 30.
    "208Y/120, between lines and to neutral": (
        "three phase", STAR_120, [("L1-L2", 4500, 208), ("L1", 1000, 120)],
        {"L1": 29.15, "L2": 21.634, "N": 8.340},
    ),
    # 480Y/277: 6000/480 = 12.5 at 30 degrees and 2770/277 = 10 A on L2, which L1-L2 leaves at 150 from L2's own 0.
    "480Y/277, between lines and to neutral": (
        "three phase", STAR_277, [("L1-L2", 6000, 480), ("L2", 2770, 277)],
        {"L1": 12.5, "L2": (12.5**2 + 10.0**2 + 2 * 12.5 * 10.0 * np.cos(np.pi / 6)) ** 0.5, "N": 10.0},
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_worked_cases_by_hand(case: str) -> None:
    """Every line and the neutral, within 0.5 %."""
    layout, voltage_v, elements, expected = CASES[case]
    found = currents(solve(layout, [heater(*element) for element in elements], Wires(), voltage_v))
    assert found == pytest.approx(expected, rel=0.005, abs=1e-9)


def test_two_lines_of_a_wye_are_208_and_120_volts() -> None:
    """208 V between two lines leave 120 V to neutral, not 104: 1200 W of 120 V draw 10 A."""
    assert 208 * board_frac("two of three phases", "L1") == pytest.approx(120.09, abs=0.01)
    found = currents(solve("two of three phases", [heater("L1", 1200, 120)], Wires(), 208.0))
    assert found["L1"] == pytest.approx(10.0, rel=0.002)


def generated(seed: int) -> tuple[str, list[Branch], Wires, float]:
    """Some network: elements and steady loads anywhere, behind a cable and some of them behind a lead."""
    rng = np.random.default_rng(seed)
    layout = ("one phase", "split phase", "two of three phases", "three phase")[seed % 4]
    places = connections(layout)
    branches = [
        Branch(
            connection=str(rng.choice(places)),
            siemens=np.array([rng.uniform(0, 0.1)]),
            steady_a=np.array([rng.choice([0.0, rng.uniform(0, 5)])]),
            behind_lead=bool(rng.integers(2)),
        )
        for _ in range(rng.integers(1, 7))
    ]
    return (
        layout,
        branches,
        Wires(cable_ohm=rng.uniform(0, 0.3), lead_ohm=rng.uniform(0, 0.4)),
        float(rng.uniform(100, 280)),
    )


def only(branch: Branch, *, elements: bool) -> Branch:
    """The branch without its steady current, or the same places with a steady current alone."""
    steady_a = np.zeros(1) if elements else branch.steady_a
    return Branch(
        connection=branch.connection, siemens=branch.siemens, steady_a=steady_a, behind_lead=branch.behind_lead
    )


def wires_w(found: Network, branches: list[Branch], wires: Wires) -> float:
    """What cable and lead give off [W]: the squares of the currents in their conductors."""
    lead = np.array([branch.behind_lead and wires.lead_ohm > 0 for branch in branches])
    far_a = found.branch_a[lead].sum(axis=0) if lead.any() else np.zeros_like(found.total_a)
    return float(wires.cable_ohm * (np.abs(found.total_a) ** 2).sum() + wires.lead_ohm * (np.abs(far_a) ** 2).sum())


@pytest.mark.parametrize("seed", range(NETWORKS))
def test_power_in_is_power_out(seed: int) -> None:
    """What leaves the board becomes heat in elements, work of steady loads, and heat of wires (Tellegen)."""
    layout, branches, wires, voltage_v = generated(seed)
    found = solve(layout, branches, wires, voltage_v)
    out_w = float(found.branch_w.sum()) + wires_w(found, branches, wires)
    assert float(found.board_w[0]) == pytest.approx(out_w, rel=1e-9, abs=1e-9)
    assert np.abs(found.total_a.sum(axis=0)).max() < 1e-9, "what goes out comes back (Kirchhoff)"


@pytest.mark.parametrize("seed", range(NETWORKS))
def test_superposition(seed: int) -> None:
    """Currents of the voltage alone and of the steady loads alone add up to those of both."""
    layout, branches, wires, voltage_v = generated(seed)
    both = solve(layout, branches, wires, voltage_v).total_a
    alone = solve(layout, [only(branch, elements=True) for branch in branches], wires, voltage_v).total_a
    steady = solve(layout, branches, wires, 0.0).total_a
    assert np.abs(both - alone - steady).max() < 1e-9 * max(np.abs(both).max(), 1.0)


def test_one_phase_has_a_closed_form() -> None:
    """An element and a pump behind cable and lead: I = (G V + i) / (1 + r G), node by node."""
    siemens, pump_a, cable_ohm, lead_ohm = 3000 / 230**2, 0.2, 0.31, 0.47
    branch = Branch(connection="L1", siemens=np.array([siemens]), steady_a=np.array([pump_a]), behind_lead=True)
    found = solve("one phase", [branch], Wires(cable_ohm=cable_ohm / 2, lead_ohm=lead_ohm / 2), 230.0)
    closed_a = (siemens * 230 + pump_a) / (1 + siemens * (cable_ohm + lead_ohm))
    assert found.total_a[0, 0] == pytest.approx(closed_a, rel=1e-12)


def test_more_wire_never_gives_more_heat() -> None:
    """A balanced element's heat falls as the cable grows, in star or delta alike."""
    for place in ("all", "L1", "L1-L2"):
        found = [float(solve("three phase", [heater(place, 3000, 230)], Wires(cable_ohm=ohm), 230.0).branch_w[0, 0])
                 for ohm in (0.0, 0.1, 0.3)]  # fmt: skip
        assert all(after < before for before, after in pairwise(found))
