"""Whether a fault is cut off in time, what may leak, and the fuse before it all: each side of every border."""

from collections.abc import Callable
from datetime import UTC, datetime

import pytest

from energyplan.base.load import LoadProfile
from energyplan.circuits.check import check
from energyplan.physics.conductors import awg_mm2
from energyplan.plan.model import Circuit, Extension, OtherLoad
from tests.circuits.words import find

Builder = Callable[..., LoadProfile]
Circuits = Callable[..., Circuit]
START = datetime(2026, 5, 9, 7, tzinfo=UTC)


@pytest.fixture
def vessel(profile: Builder) -> LoadProfile:
    """A vessel of 3 kW for an hour."""
    return profile("Vessel", [(0, 60, 1)], power_w=3000, voltage_v=230)


# BS 7671:2018 table 41.3 (published reproductions): 2.73 ohm for a B16; a loop measured cold 0.8 of it, 2.185 ohm
# (appendix 3, from memory).
@pytest.mark.parametrize(("loop_ohm", "device", "severity", "words"), [
    (2.18, False, "ok", "2.18 Ω were entered, and the fault loop at the outlet may have at most 2.73 Ω"),
    (2.19, False, "note", "measured cold it should be at most 0.8 of that"),
    (2.73, False, "note", "measured cold"),
    (2.74, False, "over", "a fault is not cut off in time"),
    (2.74, True, "note", "the residual current device has to do it"),
    (2.74, None, "over", "a fault is not cut off in time"),
])  # fmt: skip
def test_a_measured_loop_decides(
    vessel: LoadProfile, sixteen: Circuits, *, loop_ohm: float, device: bool | None, severity: str, words: str
) -> None:
    """Whatever the wires come to; a residual current device may do what the breaker does not."""
    circuit = sixteen(earth_loop_ohm=loop_ohm, residual_current_device=device)
    found = find(check([vessel], circuit, (), START, UTC), "disconnection")
    assert found.severity == severity
    assert words in found.message
    assert found.margin_frac == pytest.approx(1 - loop_ohm / 2.73125)
    assert found.mend.startswith("Ask an electrician: a breaker with another curve") is (severity != "ok")


def test_without_a_measurement_what_is_left_for_the_supply_is_told(vessel: LoadProfile, sixteen: Circuits) -> None:
    """R1 + R2 of 18 m of 2.5/1.5 mm2: 18 x 19.51 mohm x 1.2 = 0.42 ohm of 2.73, which leaves 2.31 for Ze."""
    found = find(check([vessel], sixteen(), (), START, UTC), "disconnection")
    assert found.severity == "unknown"
    assert "cable and lead take 0.42 Ω (R1+R2, earth of 1.5 mm² assumed), which leaves 2.31 Ω" in found.message
    assert found.mend.startswith("Have the loop measured at the outlet")
    entered = find(check([vessel], sixteen(protective_conductor_mm2=2.5), (), START, UTC), "disconnection")
    assert "0.32 Ω (R1+R2), which leaves 2.41 Ω" in entered.message  # 18 x 2 x 7.41 mohm x 1.2
    nothing = find(check([vessel], sixteen(cable_length_m=0.0), (), START, UTC), "disconnection")
    assert (
        nothing.message == "It was not measured: the fault loop at the outlet may have at most 2.73 Ω for this breaker."
    )


@pytest.mark.parametrize(("device", "severity", "tail"), [
    (False, "over", "for this breaker."), (True, "note", ": the residual current device has to do it."),
])  # fmt: skip
def test_wires_that_are_too_long_alone(
    vessel: LoadProfile, sixteen: Circuits, *, device: bool, severity: str, tail: str
) -> None:
    """120 m of 2.5/1.5 mm2 have 120 x 19.51 mohm x 1.2 = 2.81 ohm, more than the 2.73 of a B16; 116 m have 2.72."""
    long, short = (sixteen(cable_length_m=length_m, residual_current_device=device) for length_m in (120.0, 116.0))
    found = find(check([vessel], long, (), START, UTC), "disconnection")
    assert found.severity == severity
    assert found.message.startswith("Cable and lead alone have 2.8")
    assert found.message.endswith(tail)
    assert find(check([vessel], short, (), START, UTC), "disconnection").severity == "unknown"


@pytest.mark.parametrize(("loop_ohm", "severity"), [(2.43, "note"), (2.44, "over")])
def test_a_loop_of_just_the_limit_is_not_past_it(
    vessel: LoadProfile, sixteen: Circuits, loop_ohm: float, severity: str
) -> None:
    """BS 7671:2018 table 41.2: 2.43 ohm for a gG fuse of 16 A."""
    circuit = sixteen(breaker_curve="gG", earth_loop_ohm=loop_ohm, residual_current_device=False)
    assert find(check([vessel], circuit, (), START, UTC), "disconnection").severity == severity


@pytest.mark.parametrize(("curve", "clause"), [("B", "table 41.3"), ("gG", "table 41.2"), (None, "table 41.3")])
def test_the_table_is_that_of_breaker_or_fuse(
    vessel: LoadProfile, sixteen: Circuits, curve: str | None, clause: str
) -> None:
    """BS 7671:2018: table 41.2 is of fuses, 41.3 of breakers; without a curve neither has a limit."""
    found = find(check([vessel], sixteen(breaker_curve=curve, earth_loop_ohm=1.0), (), START, UTC), "disconnection")
    assert clause in found.standard
    assert (found.severity == "unknown") is (curve is None)
    assert ("it takes breaker, curve and earth" in found.message) is (curve is None)


# BS 7671:2018 411.5.3 and table 41.5: the device's rating times the loop at most 50 V: 1667 ohm for 30 mA.
@pytest.mark.parametrize(("device", "loop_ohm", "severity", "words"), [
    ("30 mA, type A", 1300.0, "ok", "1300 Ω were entered, and the fault loop at the outlet may have at most 1667 Ω"),
    ("30 mA, type A", 1400.0, "note", "measured cold"),
    ("30 mA, type A", 1700.0, "over", "a fault is not cut off in time"),  # nothing else would do it
    ("300 mA, type A", 170.0, "over", "a fault is not cut off in time"),
    ("30 mA, type A", None, "unknown", "It was not measured"),
    (True, 1.0, "unknown", "is not known"),
    (None, 1.0, "unknown", "is not known"),
    (False, 1.0, "over", "only a residual current device helps"),
])  # fmt: skip
def test_an_earth_electrode_asks_for_a_residual_current_device(
    vessel: LoadProfile, sixteen: Circuits, *, device: object, loop_ohm: float | None, severity: str, words: str
) -> None:
    """In a TT system the breaker's table does not count."""
    circuit = sixteen(earthing="TT", residual_current_device=device, earth_loop_ohm=loop_ohm)
    found = find(check([vessel], circuit, (), START, UTC), "disconnection")
    assert (found.severity, words in found.message) == (severity, True)
    assert "411.5.3" in found.standard
    other = find(check([vessel], sixteen(earthing="TN-S", earth_loop_ohm=1.0), (), START, UTC), "disconnection")
    assert other.severity == "ok"


# NFPA 70, table 250.122 (charts that print the table): 10 AWG behind 30 A.
@pytest.mark.parametrize(("breaker_a", "earth", "told"), [
    (30.0, 10, ("ok", "is 10 AWG; behind 30 A it is 10 AWG or more", "")),
    (30.0, 12, ("over", "is 12 AWG; behind 30 A it is 10 AWG or more", "Ask for an equipment grounding conductor of")),
    (30.0, None, ("unknown", "behind 30 A its equipment grounding conductor is 10 AWG or more", "Look for its size")),
    (None, 10, ("unknown", "no breaker was entered", "")),
])  # fmt: skip
def test_american_rules_judge_the_grounding_conductor(
    profile: Builder, two_pole: Circuits, breaker_a: float | None, earth: int | None, told: tuple[str, str, str]
) -> None:
    """The loop itself is not judged, and that is said."""
    load = profile("Vessel", [(0, 60, 1)], power_w=3000, voltage_v=240)
    earth_mm2 = None if earth is None else awg_mm2(earth)
    circuit = two_pole(breaker_a=breaker_a, protective_conductor_mm2=earth_mm2)
    found = find(check([load], circuit, (), START, UTC), "disconnection")
    severity, words, mend = told
    assert (found.severity, words in found.message) == (severity, True)
    assert found.mend.startswith(mend)
    assert (found.mend == "") is (mend == "")
    assert "250.122" in found.standard


def test_a_grounding_conductor_within_half_a_percent_is_of_its_gauge(profile: Builder, two_pole: Circuits) -> None:
    """5.25 mm2 as a file may say it is 10 AWG (5.261 mm2); 5.2 mm2 is less."""
    load = profile("Vessel", [(0, 60, 1)], power_w=3000, voltage_v=240)
    for earth_mm2, severity in ((5.25, "ok"), (5.2, "over")):
        circuit = two_pole(protective_conductor_mm2=earth_mm2)
        assert find(check([load], circuit, (), START, UTC), "disconnection").severity == severity


# --- residual current devices ---
@pytest.mark.parametrize(("changes", "severity", "words"), [
    ({"outlet_a": 32.0, "residual_current_device": False}, "over", "There is no residual current protection"),
    ({"outlet_a": None, "residual_current_device": False}, "over", "There is no residual current protection"),
    ({"outlet_a": 63.0, "residual_current_device": False}, "note", "There is no residual current protection"),
    ({"outlet_a": 32.0, "residual_current_device": "31 mA, type A"}, "over", "an outlet of up to 32 A asks for 30 mA"),
    ({"outlet_a": 63.0, "residual_current_device": "300 mA, type B"}, "ok", "There is a device of 300 mA, type B"),
    ({"outlet_a": 63.0, "residual_current_device": "300 mA"}, "unknown", "electronics ask for type A"),
])  # fmt: skip
def test_thirty_milliamperes_are_for_outlets_to_32_amperes(
    vessel: LoadProfile, sixteen: Circuits, changes: dict[str, object], severity: str, words: str
) -> None:
    """BS 7671 411.3.3 (guides for installers); an outlet that nobody entered counts as one of them."""
    found = find(check([vessel], sixteen(**changes), (), START, UTC), "residual_current")
    assert (found.severity, words in found.message) == (severity, True)
    assert "411.3.3" in found.standard


def test_a_device_that_electronics_blind_cites_the_rule_of_types(vessel: LoadProfile, sixteen: Circuits) -> None:
    """BS 7671 531.3.3, and no other finding on the device does."""
    found = find(check([vessel], sixteen(residual_current_device="30 mA, type AC"), (), START, UTC), "residual_current")
    assert "531.3.3" in found.standard
    assert found.mend.startswith("Look for a residual current device of 30 mA, type A that covers this outlet")


# NFPA 70, 210.8(A) (from memory): 125 V outlets in wet places, from the edition of 2020 those up to 250 V too.
@pytest.mark.parametrize(("supply", "device", "place", "severity"), [
    ((120.0, "2017"), False, "garage", "over"),
    ((240.0, "2017"), False, "garage", "note"),
    ((240.0, "2020"), False, "garage", "over"),
    ((240.0, "2023"), False, "outdoors", "over"),
    ((240.0, None), False, "damp", "over"),
    ((240.0, None), False, "dry", "note"),
    ((240.0, None), "6 mA", "garage", "ok"),
    ((240.0, None), "10 mA", "garage", "over"),
    ((240.0, "2017"), "10 mA", "garage", "note"),
    ((240.0, None), "10 mA", "dry", "note"),
    ((240.0, None), "10 mA", None, "unknown"),
])  # fmt: skip
def test_ground_fault_protection_by_edition(
    profile: Builder,
    two_pole: Circuits,
    supply: tuple[float, str | None],
    device: object,
    place: str | None,
    severity: str,
) -> None:
    """UL 943 class A trips at 4 to 6 mA; what the chosen edition does not ask for is a note."""
    voltage_v, edition = supply
    load = profile("Vessel", [(0, 60, 1)], power_w=1200, voltage_v=voltage_v)
    circuit = two_pole(voltage_v=voltage_v, rules_edition=edition, residual_current_device=device, place=place)
    found = find(check([load], circuit, (), START, UTC), "residual_current")
    assert found.severity == severity
    assert "NFPA 70" in found.standard
    assert severity == "ok" or "Look for ground-fault protection" in found.mend


# IEC 60335-1 (from memory): 0.75 mA for each kW, at most 5 mA; BS 7671 531.3.2: at most 30 % of the rating.
@pytest.mark.parametrize(("device", "kilowatts", "severity", "leaks_and_share_ma"), [
    ("30 mA, type A", 3.0, "ok", (2.25, 9.0)),
    ("30 mA, type A", 9.0, "ok", (5.0, 9.0)),
    ("10 mA, type A", 4.0, "ok", (3.0, 3.0)),
    ("10 mA, type A", 4.1, "note", (3.075, 3.0)),
])  # fmt: skip
def test_what_elements_may_leak(
    profile: Builder,
    sixteen: Circuits,
    device: str,
    kilowatts: float,
    severity: str,
    leaks_and_share_ma: tuple[float, float],
) -> None:
    """By their power, to the most that the standard allows one appliance, against a third of the device."""
    load = profile("Vessel", [(0, 60, 1)], power_w=1000 * kilowatts, voltage_v=230)
    found = find(check([load], sixteen(residual_current_device=device), (), START, UTC), "leakage")
    leaks_ma, share_ma = leaks_and_share_ma
    assert found.severity == severity
    assert found.facts["leaks_a"] == pytest.approx(leaks_ma / 1000)
    assert found.margin_frac == pytest.approx(1 - leaks_ma / share_ma)
    assert f"more than {share_ma:g} mA (30 %)" in found.message
    assert "531.3.2" in found.standard
    assert "13.2 and 16.2" in found.standard


@pytest.mark.parametrize("device", [None, True, False])
def test_without_a_rating_nothing_is_said_of_leakage(vessel: LoadProfile, sixteen: Circuits, *, device: object) -> None:
    """What may leak has nothing to be compared with."""
    codes = [one.code for one in check([vessel], sixteen(residual_current_device=device), (), START, UTC).findings]
    assert "leakage" not in codes


# --- the fuse before the board, and a supply of no known rules ---
@pytest.mark.parametrize(("kettle_w", "severity"), [(1000.0, "ok"), (2860.0, "note"), (2870.0, "over")])
def test_the_main_fuse_bears_the_fullest_line(
    vessel: LoadProfile, sixteen: Circuits, kettle_w: float, severity: str
) -> None:
    """3000 W and a kettle on 25 A: 1.02 x 25 A x 230 V = 5865 W are the most that plates allow."""
    kettle = OtherLoad(name="Kettle", power_w=kettle_w)
    circuit = sixteen(cable_mm2=None, main_fuse_a=25.0)
    found = find(check([vessel], circuit, [kettle], START, UTC), "main_fuse")
    load_a = (3000 + kettle_w) / 230
    assert found.severity == severity
    assert found.margin_frac == pytest.approx(1 - load_a / 25)
    assert found.message.startswith(f"The fullest line draws {load_a:.1f} A of the 25 A main fuse")
    assert (found.mend == "") is (severity == "ok")
    assert "main_fuse" not in {one.code for one in check([vessel], sixteen(), (), START, UTC).findings}


def test_where_no_rules_are_known_none_is_cited(profile: Builder) -> None:
    """127 V: place, plug and outlet are judged by what physics says, without a clause and without a loop's limit."""
    load = profile("Vessel", [(0, 60, 1)], power_w=1000, voltage_v=127)
    circuit = Circuit(
        voltage_v=127.0, breaker_a=16.0, breaker_curve="B", outlet_a=16.0, place="garage", enclosure="IP20",
        residual_current_device="300 mA, type A", extension=Extension(cable_mm2=1.5, length_m=5.0),
    )  # fmt: skip
    result = check([load], circuit, (), START, UTC)
    assert "disconnection" not in {one.code for one in result.findings}
    assert find(result, "residual_current").severity == "note"
    assert [find(result, code).standard for code in ("place", "isolation", "outlet", "region")] == [""] * 4
    assert "127 V belongs to no supply of these rules" in find(result, "region").message
    assert find(result, "region").mend == "Ask an electrician who knows the rules of the place."
