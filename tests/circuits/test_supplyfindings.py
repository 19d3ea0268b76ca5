"""Voltage, lines, residual current device, and what was not entered."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
from pydantic import ValidationError

from energyplan.base.load import LoadProfile
from energyplan.circuits.check import CircuitCheck, check
from energyplan.circuits.findings import Remedy
from energyplan.circuits.remedies import carried_out
from energyplan.physics.conductors import awg_mm2
from energyplan.plan.file import read_plan
from energyplan.plan.model import Circuit, Extension, OtherLoad
from tests.circuits.words import find

Builder = Callable[..., LoadProfile]
Circuits = Callable[..., Circuit]
DUBLIN = ZoneInfo("Europe/Dublin")
START = datetime(2026, 5, 9, 7, tzinfo=UTC)  # 08:00 in Dublin


def severities(result: CircuitCheck) -> dict[str, str]:
    """Return the severity by code."""
    return {finding.code: finding.severity for finding in result.findings}


def test_voltage_bands_name_the_worst(profile: Builder, ring: Circuits) -> None:
    """3000 W at 230 V: 253 V and +5 % give 15.1 A; 207 V and -10 % give 0.9 x 0.9^2 = 73 % of the heat."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=3000, voltage_v=230)
    result = check([vessel], ring(), (), START, DUBLIN)
    finding = find(result, "voltage")
    assert finding.severity == "note"
    assert "15.1 A" in finding.message
    assert "73 % of the power" in finding.message
    cases = {case.name: case for case in result.voltages}
    assert cases["high"].vessel_a == pytest.approx(3000 / 230**2 * 253 * 1.05)
    assert cases["low"].vessel_a == pytest.approx(3000 / 230**2 * 207 * 0.9)
    assert cases["as entered"].peak_a == cases["nominal"].peak_a


# Power by voltage (arithmetic, as printed on heater makers' pages): 3000 W at 240 V gives 2755 W at 230 V.
def test_power_by_voltage(profile: Builder, ring: Circuits) -> None:
    """A 240 V element on 230 V gives 92 %: I V = 2755 W."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=3000, voltage_v=240)
    result = check([vessel], ring(), (), START, DUBLIN)
    assert result.peak_a * 230 == pytest.approx(2755, abs=1)


def test_split_phase_with_a_load_on_one_leg(profile: Builder, two_pole: Circuits) -> None:
    """22.9 A on both legs and 2 A of fridge on L2: the fuller leg, 24.9 A, is judged; the neutral carries 2 A."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=5500, voltage_v=240)
    fridge = OtherLoad(name="Fridge", power_w=240.0, line="L2")
    result = check([vessel], two_pole(), [fridge], START, DUBLIN)
    assert result.peak_a == pytest.approx(5500 / 240 + 2)
    assert "N 2 A" in find(result, "supply").message


def test_three_phase_board(profile: Builder, sixteen: Circuits) -> None:
    """Vessel on L1, heater on L2, kettle on L3, 10 A each: 10 A on the breaker, and in the neutral while one rests."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2300, voltage_v=230)
    heater = profile("Heater", [(0, 60, 1)], power_w=2300, voltage_v=230)
    kettle = OtherLoad(name="Kettle", power_w=2300.0, line="L3")
    circuit = sixteen(layout="three phase", line="L1", cable_length_m=0.0)
    result = check([vessel, replace(heater, line="L2")], circuit, [kettle], START, DUBLIN)
    assert result.peak_a == pytest.approx(10.0)
    assert "L3 10 A and N 10 A" in find(result, "supply").message
    unbalanced = check([vessel, heater], circuit, [kettle], START, DUBLIN)
    assert unbalanced.peak_a == pytest.approx(20.0)


def test_one_phase_says_nothing_of_lines(profile: Builder, sixteen: Circuits) -> None:
    """Where there is one line there is nothing to tell."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2300, voltage_v=230)
    assert "supply" not in severities(check([vessel], sixteen(), (), START, DUBLIN))


@pytest.mark.parametrize(
    ("entered", "severity", "words"),
    [
        ("30 mA, type A", "ok", "30 mA, type A"),
        ("30 mA", "unknown", "its type is not known"),
        ("30 mA, type AC", "note", "blind"),
        ("300 mA, type A", "over", "asks for 30 mA"),
        (True, "unknown", "its rating, its type"),
        (None, "unknown", "was not entered"),
        (False, "over", "no residual current protection"),
    ],
)
def test_residual_current_device(
    profile: Builder, sixteen: Circuits, entered: object, severity: str, words: str
) -> None:
    """Outlets to 32 A ask for 30 mA (BS 7671 411.3.3, guides for installers); what is not known is not ok."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=1500, voltage_v=230)
    finding = find(check([vessel], sixteen(residual_current_device=entered), (), START, DUBLIN), "residual_current")
    assert finding.severity == severity
    assert words in finding.message


@pytest.mark.parametrize(
    ("there", "place", "severity"),
    [
        (True, None, "unknown"),
        ("5 mA", None, "ok"),
        ("30 mA", "garage", "over"),
        ("30 mA", "dry", "note"),
        (None, "dry", "unknown"),
        (False, None, "unknown"),
        (False, "dry", "note"),
        (False, "garage", "over"),
    ],
)
def test_ground_fault_protection_by_place(
    profile: Builder, twenty: Circuits, there: object, place: str | None, severity: str
) -> None:
    """NFPA 70 210.8(A) lists garages, outdoors, kitchens; UL 943 class A trips at 4 to 6 mA (both from memory).

    Without the place nobody knows whether it is asked for, and without its rating whether it is one of these.
    """
    vessel = profile("Vessel", [(0, 60, 1)], power_w=1500, voltage_v=120)
    circuit = twenty(residual_current_device=there, place=place)
    assert find(check([vessel], circuit, (), START, DUBLIN), "residual_current").severity == severity


def test_what_was_not_entered_is_unknown(profile: Builder, sixteen: Circuits) -> None:
    """A circuit of which only the voltage is known: no rating, no limit, and nothing that rests on one is ok."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2300, voltage_v=230)
    result = check([vessel], Circuit(voltage_v=230.0), (), START, DUBLIN)
    assert (result.limit_a, result.limit_name, result.ratings) == (None, "", ())
    unknown = {code for code, severity in severities(result).items() if severity == "unknown"}
    assert unknown == {
        "breaker", "continuous", "outlet", "cable", "voltage_drop", "disconnection", "residual_current", "sharing",
        "place", "isolation",
    }  # fmt: skip
    assert severities(check([vessel], sixteen(cable_length_m=0.0), (), START, DUBLIN))["voltage_drop"] == "unknown"


def test_what_is_not_known_has_no_margin(profile: Builder, sixteen: Circuits) -> None:
    """Beside "not known" no share of a rating is left: a loop that nobody measured, a cable that may lie anywhere."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2300, voltage_v=230)
    result = check([vessel], sixteen(installation=None), (), START, DUBLIN)
    unknown = [finding for finding in result.findings if finding.severity == "unknown"]
    assert {"disconnection", "cable"} <= {finding.code for finding in unknown}
    assert [finding.margin_frac for finding in unknown] == [None] * len(unknown)
    measured = check([vessel], sixteen(earth_loop_ohm=0.5), (), START, DUBLIN)
    assert find(measured, "disconnection").margin_frac == pytest.approx(1 - 0.5 / (0.95 * 230 / 80))


@pytest.mark.parametrize(
    ("place", "enclosure", "severity"),
    [
        (None, "IP44", "unknown"),
        ("dry", None, "ok"),
        ("garage", None, "unknown"),
        ("garage", "IPX4", "ok"),
        ("damp", "IP20", "over"),
        ("outdoors", "IPX4", "over"),
        ("outdoors", "IP44", "ok"),
        ("outdoors", "IP65", "ok"),
        ("outdoors", "IP4X", "over"),
    ],
)
def test_enclosure_by_place(
    profile: Builder, sixteen: Circuits, place: str | None, enclosure: str | None, severity: str
) -> None:
    """IEC 60529: the second numeral 4 withstands splashes (published reproduction); which place asks is practice."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2300, voltage_v=230)
    found = find(check([vessel], sixteen(place=place, enclosure=enclosure), (), START, DUBLIN), "place")
    assert found.severity == severity
    assert (found.mend == "") == (severity == "ok")


@pytest.mark.parametrize(
    ("outlet_a", "isolator", "severity"),
    [
        (16.0, None, "ok"), (16.0, False, "note"), (63.0, None, "unknown"), (63.0, True, "ok"), (None, None, "unknown"),
        (None, False, "over"),
    ],
)  # fmt: skip
def test_something_in_reach_cuts_all_lines(
    profile: Builder, sixteen: Circuits, outlet_a: float | None, isolator: object, severity: str
) -> None:
    """A plug of up to 32 A does (BS 7671, table 537.4; from memory), unless it is out of reach."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2300, voltage_v=230)
    circuit = sixteen(outlet_a=outlet_a, isolator=isolator)
    assert find(check([vessel], circuit, (), START, DUBLIN), "isolation").severity == severity


def test_an_ip_code_is_read_and_nothing_else() -> None:
    """Spaces and small letters are taken; anything else is refused with examples."""
    assert Circuit(voltage_v=230.0, enclosure="ip x4").enclosure == "IPX4"
    with pytest.raises(ValidationError, match='such as "IP44" or "IPX4"'):
        Circuit(voltage_v=230.0, enclosure="splash proof")


@pytest.mark.parametrize(("rules", "device", "moist"), [("iec", "10 mA, type A", False), ("nec", "5 mA", True)])
def test_a_device_of_five_milliamperes_may_not_bear_elements_at_all(
    profile: Builder, sixteen: Circuits, two_pole: Circuits, *, rules: str, device: str, moist: bool
) -> None:
    """Both leak more than they share; only where 5 mA are the rule (UL 943 class A) is it said of moist elements."""
    circuit = (two_pole if rules == "nec" else sixteen)(residual_current_device=device)
    vessel = profile("Vessel", [(0, 60, 1)], power_w=5500, voltage_v=circuit.voltage_v)
    leakage = find(check([vessel], circuit, (), START, DUBLIN), "leakage")
    assert leakage.severity == "note"
    assert ("moisture" in leakage.message) is moist


@pytest.mark.parametrize(("dedicated", "beside", "said"), [
    (None, True, "What else hangs behind this breaker beside Kettle was not said"),
    (True, False, None),
    (True, True, "It was entered that nothing else hangs behind this breaker, and so was Kettle"),
    (False, True, None),
])  # fmt: skip
def test_what_shares_the_breaker(
    profile: Builder, sixteen: Circuits, *, dedicated: bool | None, beside: bool, said: str | None
) -> None:
    """Unknown where nobody said it, and where two entries contradict each other; else nothing is to be said."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=1000, voltage_v=230)
    loads = [OtherLoad(name="Kettle", power_w=500.0)] if beside else []
    result = check([vessel], sixteen(dedicated=dedicated), loads, START, DUBLIN)
    assert severities(result).get("sharing") == ("unknown" if said else None)
    assert said is None or said in find(result, "sharing").message


def test_a_circuit_of_its_own_feeds_nothing_else() -> None:
    """Carried out, that mend leaves neither the fridge nor the second heater behind the breaker."""
    demo = read_plan("demo")
    beside = demo.model_copy(update={"second_heater": demo.second_heater.model_copy(update={"own_circuit": False})})
    alone = carried_out(Remedy(code="own circuit"), beside)
    assert alone.circuit.dedicated
    assert alone.other_loads == ()
    assert [load.name for load in alone.house_loads] == [load.name for load in demo.other_loads]
    assert alone.second_heater.own_circuit


LEAD = Extension(cable_mm2=1.5, length_m=10.0, unwound=False)


@pytest.mark.parametrize(("remedy", "entered", "after"), [
    (Remedy(code="unwind"), {"extension": LEAD}, {"extension": LEAD.model_copy(update={"unwound": True})}),
    (Remedy(code="no lead"), {"extension": LEAD}, {"extension": None}),
    (Remedy(code="no ring"), {"ring": True}, {"ring": False}),
    (Remedy(code="breaker or outlet", facts={"outlet_a": 13.0}), {"breaker_a": 16.0}, {"breaker_a": 13.0}),
    (Remedy(code="smaller breaker", facts={"cap_a": 19}), {"breaker_a": 32.0}, {"breaker_a": 16.0}),
    (Remedy(code="smaller breaker", facts={"cap_a": 20}), {"breaker_a": 32.0}, {"breaker_a": 20.0}),
    (Remedy(code="smaller breaker", facts={"cap_a": 5}), {"breaker_a": 32.0}, {"breaker_a": None}),
    (Remedy(code="residual"), {}, {"residual_current_device": "30 mA, type A"}),
    (Remedy(code="residual"), {"rules": "nec"}, {"residual_current_device": "5 mA"}),
    (Remedy(code="thicker earth", facts={"least_awg": 10}), {}, {"protective_conductor_mm2": awg_mm2(10)}),
    (Remedy(code="unwind"), {"extension": None}, None),
    (Remedy(code="made for"), {}, None),
    (Remedy(code="bigger circuit", facts={"breaker_a": 20.0}), {}, None),
])  # fmt: skip
def test_a_mend_that_an_entry_can_show(remedy: Remedy, entered: dict, after: dict | None) -> None:
    """Carried out, a mend changes its own entry of the circuit and nothing else; what is bought changes none."""
    demo = read_plan("demo")
    plan = demo.model_copy(update={"circuit": demo.circuit.model_copy(update=entered)})
    found = carried_out(remedy, plan)
    assert found == (after if after is None else plan.model_copy(
        update={"circuit": plan.circuit.model_copy(update=after)}
    ))  # fmt: skip
    assert carried_out(remedy, plan.model_copy(update={"circuit": None})) is None


def test_loads_that_should_be_off_hang_elsewhere() -> None:
    """Of two loads the named one moves to another breaker of the house; the other stays, and so does the circuit."""
    demo = read_plan("demo")
    fridge = demo.other_loads[0]
    kettle = OtherLoad(name="Kettle", power_w=2000.0)
    plan = demo.model_copy(update={"other_loads": (fridge, kettle)})
    found = carried_out(Remedy(code="others off", facts={"names": ("Kettle",)}), plan)
    assert (found.other_loads, found.house_loads) == ((fridge,), (kettle,))
    assert found.circuit == plan.circuit
