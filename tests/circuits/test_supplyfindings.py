"""Voltage, lines, residual current device, and what was not entered."""

from collections.abc import Callable
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from energyplan.base.load import LoadProfile
from energyplan.circuits.check import CircuitCheck, check
from energyplan.circuits.findings import Finding
from energyplan.plan.model import Circuit, OtherLoad

Builder = Callable[..., LoadProfile]
Circuits = Callable[..., Circuit]
DUBLIN = ZoneInfo("Europe/Dublin")
START = datetime(2026, 5, 9, 7, tzinfo=UTC)  # 08:00 in Dublin


def find(result: CircuitCheck, code: str) -> Finding:
    """Return the finding of a code."""
    return next(finding for finding in result.findings if finding.code == code)


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
    assert "2.0 A in the neutral" in find(result, "supply").message


def test_three_phase_board(profile: Builder, sixteen: Circuits) -> None:
    """Vessel on L1, heater on L2, kettle on L3, 10 A each: 10 A on the breaker and no current in the neutral."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2300, voltage_v=230)
    heater = profile("Heater", [(0, 60, 1)], power_w=2300, voltage_v=230)
    kettle = OtherLoad(name="Kettle", power_w=2300.0, line="L3")
    circuit = sixteen(layout="three phase", line="L1", cable_length_m=0.0)
    result = check([vessel, heater], circuit, [kettle], START, DUBLIN, {"Heater": "L2"})
    assert result.peak_a == pytest.approx(10.0)
    assert "0.0 A in the neutral" in find(result, "supply").message
    unbalanced = check([vessel, heater], circuit, [kettle], START, DUBLIN)
    assert unbalanced.peak_a == pytest.approx(20.0)


def test_one_phase_says_nothing_of_lines(profile: Builder, sixteen: Circuits) -> None:
    """Where there is one line there is nothing to tell."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2300, voltage_v=230)
    assert "supply" not in severities(check([vessel], sixteen(), (), START, DUBLIN))


@pytest.mark.parametrize("rules", ["iec", "nec"])
@pytest.mark.parametrize(("there", "severity"), [(True, "ok"), (False, "note"), (None, "note")])
def test_residual_current_device(
    profile: Builder, sixteen: Circuits, twenty: Circuits, rules: str, *, there: bool | None, severity: str
) -> None:
    """30 mA (BS 7671 411.3.3, guides for installers), or about 5 mA in NFPA 70 practice (from memory)."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=1500, voltage_v=230)
    base = sixteen() if rules == "iec" else twenty()
    circuit = base.model_copy(update={"residual_current_device": there})
    finding = find(check([vessel], circuit, (), START, DUBLIN), "residual_current")
    assert finding.severity == severity
    assert ("30 mA" if rules == "iec" else "5 mA") in finding.message


def test_what_was_not_entered_is_named(profile: Builder, sixteen: Circuits) -> None:
    """A circuit of which only the voltage is known: no rating, no limit, and a list of what is missing."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2300, voltage_v=230)
    result = check([vessel], Circuit(voltage_v=230.0), (), START, DUBLIN)
    assert (result.limit_a, result.limit_name, result.ratings) == (None, "", ())
    message = find(result, "not_checked").message
    assert all(word in message for word in ("breaker", "breaker curve", "outlet", "cable"))
    assert "cable length" not in message
    whole = check([vessel], sixteen(), (), START, DUBLIN)
    assert "not_checked" not in severities(whole)
    short = check([vessel], sixteen(cable_length_m=0.0), (), START, DUBLIN)
    assert "cable length" in find(short, "not_checked").message
