"""How a cable lies, what it is made of, and what stands before it: each side of every border."""

from collections.abc import Callable
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from energyplan.base.load import LoadProfile
from energyplan.circuits.check import check
from energyplan.physics.conductors import awg_mm2
from energyplan.plan.model import Circuit
from tests.circuits.words import find

Builder = Callable[..., LoadProfile]
Circuits = Callable[..., Circuit]
DUBLIN = ZoneInfo("Europe/Dublin")
START = datetime(2026, 5, 9, 7, tzinfo=UTC)  # 08:00 in Dublin


# --- fuses, aluminium and sizes that rules name: BS 7671:2018 433.1.202 (from memory), 0.725 of the cable ---
@pytest.mark.parametrize(("cable_mm2", "severity", "mend"), [(4.0, "over", "26 A or less"), (6.0, "ok", "")])
def test_a_rewirable_fuse_protects_less(
    profile: Builder, sixteen: Circuits, cable_mm2: float, severity: str, mend: str
) -> None:
    """30 A of BS 3036 ask for 41.4 A of cable: 4 mm2 clipped has 37 A, 26.8 A for this fuse; 6 mm2 has 47 A."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2000, voltage_v=230)
    circuit = sixteen(breaker_a=30.0, breaker_curve="BS 3036", cable_mm2=cable_mm2)
    found = find(check([vessel], circuit, (), START, DUBLIN), "cable_protection")
    assert (found.severity, mend in found.mend) == (severity, True)
    assert "433.1.202" in found.standard
    plain = find(
        check([vessel], circuit.model_copy(update={"breaker_curve": "gG"}), (), START, DUBLIN), "cable_protection"
    )
    assert (plain.severity, "433.1.1" in plain.standard) == ("ok", True)
    assert found.margin_frac == pytest.approx(1 - 30 / (0.725 * {4.0: 37.0, 6.0: 47.0}[cable_mm2]))


def test_aluminium_is_named_and_counts(profile: Builder, sixteen: Circuits, two_pole: Circuits) -> None:
    """16 mm2 clipped carries 0.74 x 85 = 62.9 A; 12 AWG of aluminium bears 15 A (NFPA 70 240.4(D)), 10 AWG 25 A."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2000, voltage_v=230)
    metric = check([vessel], sixteen(cable_mm2=16.0, conductor="aluminium"), (), START, DUBLIN)
    assert (
        "carries 62.9 A as it lies (method C, clipped to a surface, 30 °C, aluminium)" in find(metric, "cable").message
    )
    for gauge, breaker_a, cap in ((12, 20.0, "15 A"), (10, 30.0, "25 A")):
        circuit = two_pole(cable_mm2=awg_mm2(gauge), breaker_a=breaker_a, conductor="aluminium", installation="75")
        found = find(check([vessel], circuit, (), START, DUBLIN), "cable_protection")
        assert found.severity == "over"
        assert f"{cap} or less" in found.mend


@pytest.mark.parametrize(("breaker_a", "dedicated", "severity"), [
    (55.0, None, "ok"), (60.0, None, "over"), (60.0, True, "note"), (61.0, True, "over"),
])  # fmt: skip
def test_the_next_size_up_is_for_a_circuit_of_one_outlet(
    profile: Builder, two_pole: Circuits, *, breaker_a: float, dedicated: bool | None, severity: str
) -> None:
    """NFPA 70 240.4(B) (from memory): 55 A of 6 AWG are no standard size, and 60 A is the next above it."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=1000, voltage_v=240)
    circuit = two_pole(cable_mm2=awg_mm2(6), breaker_a=breaker_a, outlet_a=None, dedicated=dedicated)
    found = find(check([vessel], circuit, (), START, DUBLIN), "cable_protection")
    assert found.severity == severity
    assert "table 310.16" in found.standard, "no cap on so thick a conductor"


@pytest.mark.parametrize(
    ("gauge", "column", "rule"), [(12, "60", "240.4(D)"), (12, "75", "240.4(D)"), (8, "75", "310.16")]
)
def test_the_rule_of_a_protected_american_cable(
    profile: Builder, two_pole: Circuits, gauge: int, column: str, rule: str
) -> None:
    """The cap of a small conductor is cited where it is no more than the ampacity, else the table."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=1000, voltage_v=240)
    circuit = two_pole(cable_mm2=awg_mm2(gauge), breaker_a=15.0, installation=column)
    assert rule in find(check([vessel], circuit, (), START, DUBLIN), "cable_protection").standard.split(";")[0]


# --- how a cable lies: what is over anyway, and what only is if it lies badly ---
@pytest.mark.parametrize(("amps", "severity"), [(14.5, "unknown"), (22.0, "unknown"), (22.1, "over")])
def test_an_unknown_way_of_laying_is_over_only_above_the_best(profile: Builder, amps: float, severity: str) -> None:
    """1.5 mm2 carries 14.5 A in an insulated wall and 22 A in free air (BS 7671 tables 4D5 and 4D2A)."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=230 * amps, voltage_v=230)
    found = find(check([vessel], Circuit(voltage_v=230.0, cable_mm2=1.5), (), START, DUBLIN), "cable")
    assert found.severity == severity
    assert "a guess" in found.message


@pytest.mark.parametrize(("breaker_a", "severity", "words"), [
    (14.5, "unknown", "may or may not protect, depending on how it lies, 1.5 mm² cable"),
    (22.0, "unknown", "may or may not protect"),
    (22.1, "over", "is larger than it should be for"),
])  # fmt: skip
def test_a_breaker_over_an_unknown_way_of_laying(profile: Builder, breaker_a: float, severity: str, words: str) -> None:
    """The same two capacities against the breaker."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=1000, voltage_v=230)
    circuit = Circuit(voltage_v=230.0, breaker_a=breaker_a, cable_mm2=1.5)
    found = find(check([vessel], circuit, (), START, DUBLIN), "cable_protection")
    assert (found.severity, words in found.message) == (severity, True)


@pytest.mark.parametrize(("breaker_a", "severity"), [(20.0, "ok"), (20.5, "note"), (None, "note")])
def test_a_protected_cable_need_not_mind_a_high_voltage(
    profile: Builder, breaker_a: float | None, severity: str
) -> None:
    """19 A through 20 A of cable are 21.9 A at the upper end; a breaker of the cable's own rating sees to that."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=19 * 230, voltage_v=230)
    circuit = Circuit(voltage_v=230.0, breaker_a=breaker_a, cable_mm2=1.5, installation="C")
    found = find(check([vessel], circuit, (), START, DUBLIN), "cable")
    assert (found.severity, "21.9 A" in found.message) == (severity, severity == "note")


@pytest.mark.parametrize(("grouped", "cited"), [(1, False), (2, True)])
def test_the_table_of_bundles_is_named_where_it_counts(
    profile: Builder, sixteen: Circuits, *, grouped: int, cited: bool
) -> None:
    """BS 7671 table 4C1: alone a cable has no factor."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=1000, voltage_v=230)
    found = find(check([vessel], sixteen(grouped_circuits=grouped), (), START, DUBLIN), "cable")
    assert ("4C1" in found.standard, "2 circuits together" in found.message) == (cited, cited)
