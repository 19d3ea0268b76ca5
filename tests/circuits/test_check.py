"""The circuit check as a whole."""

import pickle
import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from energyplan.base.load import LoadProfile
from energyplan.circuits.check import check
from energyplan.plan.model import Circuit, OtherLoad, Plan
from energyplan.telling.findings import FindingTeller
from tests.circuits.words import find

Builder = Callable[..., LoadProfile]
Circuits = Callable[..., Circuit]
DUBLIN = ZoneInfo("Europe/Dublin")
START = datetime(2026, 5, 9, 7, tzinfo=UTC)  # 08:00 in Dublin


def test_appliances_stack_to_the_total(profile: Builder, sixteen: Circuits) -> None:
    """The rows of the chart add up to the curves above them."""
    vessel = profile("Vessel", [(0, 30, 1), (30, 90, 0.2)], power_w=2500, voltage_v=230, other_w=30)
    kettle = OtherLoad(name="Kettle", power_w=2000.0, duty=0.5, from_min=500, to_min=510)
    result = check([vessel], sixteen(cable_mm2=None), [kettle], START, DUBLIN)
    assert np.allclose(sum(row.on_a for row in result.appliances), result.on_a)
    assert np.allclose(sum(row.mean_a for row in result.appliances), result.mean_a)
    assert (result.mean_a <= result.on_a * 1.001).all()
    assert (result.rms_a <= result.on_a * 1.001).all()
    assert [row.planned for row in result.appliances] == [True, False]


def test_how_long_things_are_in_use_and_how_the_peak_is_reached(profile: Builder, sixteen: Circuits) -> None:
    """A kettle of five minutes is in use for five; a peak of pulses alone is told apart from one that lasts."""
    kettle = OtherLoad(name="Kettle", power_w=800.0, from_min=510, to_min=515)
    for share in (1.0, 0.5):
        vessel = profile("Vessel", [(0, 60, share)], power_w=2000, voltage_v=230)
        result = check([vessel], sixteen(), [kettle], START, DUBLIN)
        assert [row.use_min for row in result.appliances if row.name == "Kettle"] == [pytest.approx(5.0)]
        assert result.pulses_at_peak is (share < 1)


def test_result_can_be_kept_in_a_cache(profile: Builder, sixteen: Circuits) -> None:
    """A check survives pickling, with what would mend it."""
    vessel = profile("Vessel", [(0, 30, 1)], power_w=5000, voltage_v=230)
    result = check([vessel], sixteen(), (), START, DUBLIN)
    again = pickle.loads(pickle.dumps(result))  # noqa: S301
    assert again.findings == result.findings
    ways = {finding.code: finding.remedies for finding in again.findings}
    assert [way.code for way in ways["breaker"]] == ["fewer elements", "bigger circuit"]
    assert repr(ways["breaker"]) == repr(next(one for one in result.findings if one.code == "breaker").remedies)
    assert (again.on_a == result.on_a).all()


def test_clock_names_the_day_after_midnight(profile: Builder, sixteen: Circuits) -> None:
    """A peak on the next morning carries its weekday (10 May 2026 is a Sunday)."""
    vessel = profile("Vessel", [(0, 30, 0), (30, 60, 1)], power_w=2500, voltage_v=230)
    late = datetime(2026, 5, 9, 22, 45, tzinfo=UTC)  # 23:45 in Dublin
    assert "from Sun 10 May 00:15" in find(check([vessel], sixteen(), (), late, DUBLIN), "breaker").message


def test_clock_change_moves_a_kettle_against_the_day(profile: Builder, sixteen: Circuits) -> None:
    """On 25 October 2026 Dublin's 01:30 comes twice, so a kettle from 01:30 to 01:40 runs twice."""
    vessel = profile("Vessel", [(0, 300, 1)], power_w=1000, voltage_v=230)
    kettle = OtherLoad(name="Kettle", power_w=2000.0, from_min=90, to_min=100)
    start = datetime(2026, 10, 24, 23, tzinfo=UTC)
    result = check([vessel], sixteen(), [kettle], start, DUBLIN)
    on = result.appliances[1].on_a > 0
    assert result.edges_s[:-1][on].tolist() == [5400.0, 9000.0]


@settings(deadline=None)
@given(st.floats(200.0, 5000.0), st.floats(0.05, 1.0), st.floats(0.0, 40.0))
def test_check_on_any_load(profile: Builder, sixteen: Circuits, power_w: float, duty: float, length_m: float) -> None:
    """For any load: the RMS is at most the peak, the drop is below the voltage, and every sentence is whole."""
    vessel = profile("Vessel", [(0, 45, 1), (50, 250, duty)], power_w=power_w, voltage_v=230)
    result = check([vessel], sixteen(cable_length_m=length_m), (), START, DUBLIN)
    assert result.rms_60_min_a <= result.peak_a * (1 + 1e-9)
    assert 0 <= result.voltage_drop_frac < 1
    teller = FindingTeller(START, DUBLIN)
    for finding in result.findings:
        message = str(teller(finding).said)
        assert message.endswith(".")
        assert "nan" not in message
        assert finding.severity != "ok" or not finding.remedies
    peak_power = check([vessel], sixteen(cable_length_m=length_m), (), START + timedelta(hours=3), DUBLIN).peak_a
    assert peak_power == pytest.approx(result.peak_a)


@given(
    plan=st.from_type(Plan).filter(lambda plan: plan.circuit is not None),
    outlet_a=st.sampled_from([None, 13.0, 16.0]),
    dedicated=st.sampled_from([None, True, False]),
)
@settings(max_examples=60)
def test_no_message_is_longer_than_three_sentences(
    plan: Plan, outlet_a: float | None, *, dedicated: bool | None
) -> None:
    """Every finding of any circuit: at most three full stops, and not a whole paragraph."""
    circuit = plan.circuit.model_copy(update={"outlet_a": outlet_a, "dedicated": dedicated, "breaker_curve": None})
    watts = sum(element.power_w for element in plan.vessel.elements)
    load = LoadProfile(
        name="Vessel", edges_s=np.array([0.0, 5400.0, 9000.0]), mean_w=np.array([watts, watts / 9]),
        heater_w_per_v2=np.full(2, watts / 230.0**2), other_w=np.full(2, 30.0),
    )  # fmt: skip
    second = LoadProfile(
        name="Second heater", edges_s=np.array([600.0, 1800.0]), mean_w=np.array([1500.0]),
        heater_w_per_v2=np.array([1500 / 230.0**2]), other_w=np.zeros(1),
    )  # fmt: skip
    fridge = OtherLoad(name="Fridge", power_w=120.0)
    teller = FindingTeller(START, DUBLIN)
    for finding in check([load, second], circuit, [fridge], START, DUBLIN).findings:
        message = str(teller(finding).said)
        sentences = re.findall(r"[.!?](?=\s|$)", message)
        assert 1 <= len(sentences) <= 3, message
        assert len(message) <= 330, message
