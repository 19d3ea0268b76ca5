"""Loads that just meet a rating and loads that just pass it, by hand on either side of every border."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from energyplan.base.load import LoadProfile
from energyplan.circuits.check import check
from energyplan.circuits.findings import severity_of, worst_of
from energyplan.physics.conductors import awg_mm2
from energyplan.plan.model import Circuit, OtherLoad
from tests.circuits.words import find

Builder = Callable[..., LoadProfile]
Circuits = Callable[..., Circuit]
DUBLIN = ZoneInfo("Europe/Dublin")
START = datetime(2026, 5, 9, 7, tzinfo=UTC)  # 08:00 in Dublin


@pytest.mark.parametrize(("nominal_a", "entered_a", "high_a", "severity"), [
    (13.0, 13.0, 13.0, "ok"),
    (13.01, 13.0, 13.0, "note"), (13.0, 13.01, 13.0, "note"), (13.0, 13.0, 13.01, "note"),
    (13.26, 20.0, 20.0, "note"),  # 2 % is what plates mean, whatever the voltage of the day
    (13.27, 13.0, 13.0, "over"),
])  # fmt: skip
def test_a_plain_rating_of_13_amperes(nominal_a: float, entered_a: float, high_a: float, severity: str) -> None:
    """IEC 60335-1, 10.1 (from memory): a plate means a little more and less; past 2 % at nominal it is over."""
    assert severity_of(13.0, nominal_a=nominal_a, entered_a=entered_a, high_a=high_a) == severity


def test_the_gravest_of_some() -> None:
    """What is over before what is not known, before a note; of nothing at all, ok."""
    order = ("ok", "note", "unknown", "over")
    for place, worst in enumerate(order):
        assert worst_of(*order[: place + 1]) == worst
        assert worst_of(worst, "ok") == worst
    assert worst_of() == "ok"


# --- breaker: 433.1.1, Ib <= In; 60898-1 carries 1.13 In and lets 1.45 In pass for less than an hour ---
@pytest.mark.parametrize(("peak_a", "minutes", "before_a", "severity"), [
    (16.3, 60, 10.0, "note"),  # within 2 %
    (16.4, 60, 10.0, "over"),
    (20.0, 15, 10.0, "note"),  # minutes, and within the hour the load is less than the rating
    (20.0, 15.1, 10.0, "over"),
    (20.0, 15, 14.4, "note"),  # root of (3 x 14.4^2 + 20^2) / 4 = 16.0
    (20.0, 15, 14.6, "over"),  # 16.1
    (23.1, 5, 10.0, "note"),
    (23.2, 5, 10.0, "over"),  # 1.45 x 16
])  # fmt: skip
def test_a_peak_of_minutes_above_the_breaker(
    profile: Builder, sixteen: Circuits, peak_a: float, minutes: float, before_a: float, severity: str
) -> None:
    """45 min of one current and some minutes of a larger one behind 16 A."""
    vessel = profile("Vessel", [(0, 45, 1), (45, 45 + minutes, 1)], power_w=230.0, voltage_v=230)
    amps = np.array([before_a, peak_a])
    vessel = replace(vessel, mean_w=230 * amps, heater_w_per_v2=amps / 230)
    found = find(check([vessel], sixteen(cable_mm2=None, outlet_a=None), (), START, DUBLIN), "breaker")
    assert found.severity == severity
    assert (found.mend == "") is (peak_a < 16.32), "also a note above the rating says what would mend it"
    assert f"from 08:45 for {minutes:.0f} min" in found.message


@pytest.mark.parametrize(("amps", "said"), [(16.5, True), (17.5, False)])
def test_minutes_above_the_rating_at_the_nominal_voltage_alone(
    profile: Builder, sixteen: Circuits, amps: float, *, said: bool
) -> None:
    """Of 16.5 A by the plates for 5 min 15.9 A flow at 222 V: a note, as of 17.5 A, of which 16.9 A flow."""
    vessel = profile("Vessel", [(0, 45, 1)], power_w=2300, voltage_v=230)
    heater = profile("Second heater", [(45, 50, 1)], power_w=230 * amps, voltage_v=230)
    found = find(check([vessel, heater], sixteen(voltage_v=222.0, cable_length_m=0.0), (), START, DUBLIN), "breaker")
    assert found.severity == "note"
    assert ("At 230 V, to which ratings refer, it is 16.5 A." in found.message) is said
    assert ("more than its rating" in found.message) is not said
    assert found.margin_frac == pytest.approx(1 - (amps if said else amps * 222 / 230) / 16)


def test_what_trips_only_at_a_high_voltage_is_a_note_without_a_mend(profile: Builder, sixteen: Circuits) -> None:
    """15.66 A x 1.1 x 1.05 = 18.09 A are 1.13 x 16 A; 15.7 A are more, though the load itself is within the rating."""
    for amps, severity in ((15.65, "ok"), (15.7, "note")):
        vessel = profile("Vessel", [(0, 60, 1)], power_w=230 * amps, voltage_v=230)
        found = find(check([vessel], sixteen(cable_mm2=None, outlet_a=None), (), START, DUBLIN), "breaker")
        assert (found.severity, found.mend) == (severity, "")


def test_american_breakers_at_their_own_border(profile: Builder, two_pole: Circuits) -> None:
    """UL 489 (from memory): the rating is carried, a hair more is a note, past the 2 % of plates it is over."""
    for amps, severity in ((29.0, "ok"), (30.0, "ok"), (30.1, "note"), (30.6, "note"), (30.7, "over"), (34.9, "over")):
        vessel = profile("Vessel", [(0, 60, 1)], power_w=240 * amps, voltage_v=240)
        circuit = two_pole(cable_mm2=None, outlet_a=None)
        assert find(check([vessel], circuit, (), START, DUBLIN), "breaker").severity == severity
    fridge = OtherLoad(name="Fridge", power_w=240.0, line="L1")
    vessel = profile("Vessel", [(0, 60, 1)], power_w=240 * 29.0, voltage_v=240)
    circuit = two_pole(cable_mm2=None, outlet_a=None, voltage_v=251.0)
    found = find(check([vessel], circuit, [fridge], START, DUBLIN), "breaker")
    assert found.severity == "over", "2 A of the fridge on one leg and 30.3 A at 251 V"


@pytest.mark.parametrize(
    ("curve", "device"), [("B", "breaker"), ("gG", "fuse"), ("BS 3036", "fuse"), (None, "breaker")]
)
def test_a_fuse_is_called_one(profile: Builder, sixteen: Circuits, curve: str | None, device: str) -> None:
    """In the sentence and among the ratings."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=3450, voltage_v=230)
    result = check([vessel], sixteen(breaker_curve=curve, cable_mm2=None, outlet_a=None), (), START, DUBLIN)
    assert f"flow through the 16 A {device}, " in find(result, "breaker").message
    assert (result.limit_name, result.limit_a) == (device, 16.0)


# --- motors: six times the running current while they start (repair page); IEC 60898-1 table 2: B from 3 In ---
@pytest.mark.parametrize(("motor_w", "severity"), [(1450.0, "ok"), (1500.0, "note")])
def test_a_start_that_just_meets_the_curve(profile: Builder, sixteen: Circuits, motor_w: float, severity: str) -> None:
    """10 A of vessel and 6 times 1450 W / 230 V are 47.8 A of 48 A; 1500 W make 49.1 A."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2300, voltage_v=230)
    motor = OtherLoad(name="Pump", power_w=motor_w)
    found = find(check([vessel], sixteen(cable_mm2=None), [motor], START, DUBLIN), "breaker_start")
    assert found.severity == severity
    assert found.margin_frac == pytest.approx(1 - (10 + 6 * motor_w / 230) / 48)
    assert f"{motor_w / 230:.1f} A, {10 + 6 * motor_w / 230:.1f} A in all" in found.message
    assert (found.mend == "") is (severity == "ok")


def test_a_start_of_just_the_curve_s_lower_end_may_trip(profile: Builder, sixteen: Circuits) -> None:
    """1840 W are 8 A, six times that 48 A: from three times 16 A on a curve B may trip (IEC 60898-1, table 2)."""
    idle = profile("Vessel", [(0, 60, 0)], power_w=0, voltage_v=230)
    motor = OtherLoad(name="Pump", power_w=1840.0)
    found = find(check([idle], sixteen(cable_mm2=None), [motor], START, DUBLIN), "breaker_start")
    assert (found.severity, found.margin_frac) == ("note", pytest.approx(0.0))
    assert "a curve B breaker of 16 A may trip at once (from 48 A)" in found.message


def test_of_several_motors_the_one_that_draws_most_starts(
    profile: Builder, two_pole: Circuits, sixteen: Circuits
) -> None:
    """500 W at 120 V are more amperes than 800 W at 240 V; without a curve IEC breakers are not known."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=1000, voltage_v=240)
    motors = [
        OtherLoad(name="Chiller", power_w=800.0, line="L1-L2"), OtherLoad(name="Freezer", power_w=500.0, line="L1"),
    ]  # fmt: skip
    found = find(check([vessel], two_pole(), motors, START, DUBLIN), "breaker_start")
    assert found.message.startswith("While Freezer starts it may draw about 6 times its 4.2 A")
    assert found.severity == "ok"
    vessel = profile("Vessel", [(0, 60, 1)], power_w=1000, voltage_v=230)
    motor = OtherLoad(name="Pump", power_w=100.0)
    found = find(check([vessel], sixteen(breaker_curve=None), [motor], START, DUBLIN), "breaker_start")
    assert (found.severity, "without a curve" in found.message) == ("unknown", True)


@pytest.mark.parametrize(("hours", "moves"), [(12, "later, earlier"), (13, "earlier")])
def test_a_heater_moves_by_half_a_day_at_most(profile: Builder, sixteen: Circuits, hours: int, moves: str) -> None:
    """It meets the vessel in its first hour: later is past the vessel's end, earlier ends as the vessel begins."""
    vessel = profile("Vessel", [(0, 60 * hours, 1)], power_w=2500, voltage_v=230)
    heater = profile("Sparge heater", [(0, 60, 1)], power_w=1800, voltage_v=230)
    result = check([vessel, heater], sixteen(cable_mm2=None), (), START, DUBLIN)
    breaker = next(one for one in result.findings if one.code == "breaker")
    shifts = [remedy.facts for remedy in breaker.remedies if remedy.code == "shift"]
    assert ", ".join("later" if one["is_later"] else "earlier" for one in shifts) == moves
    assert [one["shift_min"] for one in shifts] == [*([60 * hours] if hours == 12 else []), 60]


# --- what lasts: 0.8 of the rating for hours under IEC (common practice), 125 % for three hours under NFPA 70 ---
@pytest.mark.parametrize(("amps", "severity"), [(12.7, "ok"), (12.9, "note")])
def test_the_warmth_of_an_hour_beside_other_breakers(
    profile: Builder, sixteen: Circuits, amps: float, severity: str
) -> None:
    """0.8 x 16 A = 12.8 A."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=230 * amps, voltage_v=230)
    found = find(check([vessel], sixteen(cable_mm2=None), (), START, DUBLIN), "continuous")
    assert found.severity == severity
    assert f"The peak lasts 60 min from 08:00; over the hottest hour the load warms wires like a steady {amps} A" in (
        found.message
    )
    assert ("more than 80 % of the 16 A breaker" in found.message) is (severity == "note")


@pytest.mark.parametrize(("amps", "minutes", "severity"), [
    (24.0, 180, "ok"), (24.5, 180, "over"), (24.5, 179, "ok"),
    (24.4, 180, "ok"),  # 1.25 x 24.48 A are 30.6 A, the 2 % of plates
])  # fmt: skip
def test_three_hours_at_the_border(
    profile: Builder, two_pole: Circuits, amps: float, minutes: float, severity: str
) -> None:
    """NFPA 70 210.20(A): three hours count, one minute less does not; 1.25 times the load on 30 A."""
    vessel = profile("Vessel", [(0, minutes, 1)], power_w=240 * amps, voltage_v=240)
    found = find(check([vessel], two_pole(cable_mm2=None, outlet_a=None), (), START, DUBLIN), "continuous")
    assert found.severity == severity
    lasting_a = amps if minutes >= 180 else 0.0
    assert found.margin_frac == pytest.approx(1 - (amps + 0.25 * lasting_a) / 30)
    assert (f"ask for a breaker of {round(1.25 * amps, 1):g} A or more" in found.message) is (lasting_a > 0)


@pytest.mark.parametrize(("gap_min", "bridged"), [(14, True), (15, False)])
def test_a_gap_of_less_than_a_quarter_of_an_hour_is_named(
    profile: Builder, two_pole: Circuits, *, gap_min: int, bridged: bool
) -> None:
    """28 A for twice two hours: 14 min between them keep it from being a continuous load; with 15 it is none."""
    vessel = profile("Vessel", [(0, 120, 1), (120 + gap_min, 240 + gap_min, 1)], power_w=28 * 240, voltage_v=240)
    found = find(check([vessel], two_pole(), (), START, DUBLIN), "continuous")
    assert (
        "Only gaps of less than 15 min break a load of 28 A; counted through it would ask for 35 A" in found.message
    ) is (bridged)
    assert found.severity == ("note" if bridged else "ok")


@pytest.mark.parametrize(("standby_w", "said"), [(119.0, "Nothing of weight"), (121.0, "0.5 A last 3 hours or more")])
def test_half_an_ampere_that_lasts_is_worth_a_word(
    profile: Builder, two_pole: Circuits, standby_w: float, said: str
) -> None:
    """A pump of 0.5 A at 240 V all day beside an hour of heating (our choice)."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=4800, voltage_v=240)
    pump = profile("Pump", [(0, 300, 1)], power_w=0, voltage_v=240, other_w=standby_w)
    found = find(check([vessel, replace(pump, line="L1-L2")], two_pole(), (), START, DUBLIN), "continuous")
    assert found.message.startswith(said)


# --- one of several outlets: NFPA 70:2020 210.23(A)(1), 80 % of the circuit; 210.21(B)(2), 80 % of the outlet ---
@pytest.mark.parametrize(("breaker_a", "outlet_a", "limit_a", "rule"), [
    (15.0, 15.0, 12.0, "210.23"), (20.0, 20.0, 16.0, "210.23"), (20.0, 15.0, 12.0, "210.21(B)(2)"),
    (30.0, 30.0, 24.0, "210.21(B)(2)"),
])  # fmt: skip
def test_what_one_of_several_outlets_may_supply(
    profile: Builder, two_pole: Circuits, breaker_a: float, outlet_a: float, limit_a: float, rule: str
) -> None:
    """The smaller of both; the plates themselves are compared, without slack."""
    for amps, severity in ((limit_a, "ok"), (limit_a + 0.1, "over")):
        vessel = profile("Vessel", [(0, 60, 1)], power_w=240 * amps, voltage_v=240)
        circuit = two_pole(breaker_a=breaker_a, outlet_a=outlet_a, cable_mm2=awg_mm2(8), dedicated=False)
        found = find(check([vessel], circuit, (), START, DUBLIN), "one_appliance")
        assert (found.severity, rule in found.standard) == (severity, True)
        assert found.margin_frac == pytest.approx(1 - amps / limit_a)
        assert f"one plugged-in appliance may take {limit_a:g} A here" in found.message
    assert f"{int(limit_a * 240 / 50) * 50} W" in found.mend


def test_a_circuit_of_one_outlet_or_beyond_thirty_amperes_has_no_such_limit(
    profile: Builder, two_pole: Circuits
) -> None:
    """210.21(B)(2) names outlets of 15, 20 and 30 A."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=240 * 49, voltage_v=240)
    for circuit in (two_pole(breaker_a=50.0, outlet_a=50.0, cable_mm2=None), two_pole(dedicated=True)):
        assert "one_appliance" not in {one.code for one in check([vessel], circuit, (), START, DUBLIN).findings}


# --- outlets and plug fuses ---
@pytest.mark.parametrize(("outlet_a", "rules", "clause"), [
    (10.0, "iec", "IEC 60884-1"), (13.0, "iec", "BS 1363-2"), (16.0, "iec", "IEC 60884-1"),
    (32.0, "iec", "IEC 60309-1"), (20.0, "nec", "210.21(B)(1)"),
])  # fmt: skip
def test_an_outlet_is_judged_by_its_own_standard(
    profile: Builder, sixteen: Circuits, twenty: Circuits, outlet_a: float, rules: str, clause: str
) -> None:
    """Industrial outlets are tested by another standard than those of a household."""
    circuit = twenty(outlet_a=outlet_a) if rules == "nec" else sixteen(outlet_a=outlet_a)
    vessel = profile("Vessel", [(0, 60, 1)], power_w=900, voltage_v=circuit.voltage_v)
    assert clause in find(check([vessel], circuit, (), START, DUBLIN), "outlet").standard


@pytest.mark.parametrize(("amps", "severity", "words"), [
    (13.8, "ok", "through an outlet and plug of 16 A."), (13.9, "note", "it is 16.1 A, more than they are made for"),
    (16.0, "note", "it is 18.5 A, more than they are made for"), (16.1, "note", ": inside what a plate means; at 253"),
    (16.4, "over", ": more than they are made for; contacts overheat"),
])  # fmt: skip
def test_an_outlet_of_sixteen_amperes(
    profile: Builder, sixteen: Circuits, amps: float, severity: str, words: str
) -> None:
    """1.1 x 1.05 times the load at the upper end of the supply, the 2 % of plates, and beyond."""
    vessel = profile("Vessel", [(0, 20, 1)], power_w=230 * amps, voltage_v=230)
    found = find(check([vessel], sixteen(cable_mm2=None), (), START, DUBLIN), "outlet")
    assert (found.severity, words in found.message) == (severity, True)
    assert found.margin_frac == pytest.approx(1 - amps / 16)
    assert (found.mend == "") is (severity != "over")


@pytest.mark.parametrize(("amps", "outlet_a", "said"), [
    (10.0, 16.0, False), (10.1, 16.0, True), (14.0, 16.1, False), (10.2, 10.0, True), (10.3, 10.0, False),
])  # fmt: skip
def test_hours_near_ten_amperes(
    profile: Builder, sixteen: Circuits, *, amps: float, outlet_a: float, said: bool
) -> None:
    """On a household outlet, to 16 A; one that is overloaded anyway has had its word."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=230 * amps, voltage_v=230)
    result = check([vessel], sixteen(cable_mm2=None, outlet_a=outlet_a), (), START, DUBLIN)
    assert ("outlet_hours" in {one.code for one in result.findings}) is said


@pytest.mark.parametrize(("changes", "severity", "words"), [
    ({"breaker_a": 20.0, "outlet_a": 15.0}, "note", "some countries allow it"),
    ({"breaker_a": 25.0, "outlet_a": 15.0}, "over", "does not protect"),
    ({"breaker_a": 32.0, "outlet_a": 16.0, "plug_fuse_a": 13.0}, "ok", "The plug's own fuse protects a 16 A outlet"),
    ({"breaker_a": 33.0, "outlet_a": 13.0}, "over", "does not protect"),
    ({"breaker_a": 32.0, "outlet_a": 13.0}, "ok", "The plug's own fuse"),
])  # fmt: skip
def test_outlets_smaller_than_their_breaker(
    profile: Builder, sixteen: Circuits, changes: dict[str, float], severity: str, words: str
) -> None:
    """AS/NZS 3112 behind 20 A (from memory), BS 1363 behind 32 A (forums); the mend names both sizes."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=1000, voltage_v=230)
    found = find(check([vessel], sixteen(cable_mm2=None, **changes), (), START, DUBLIN), "outlet_protection")
    assert (found.severity, words in found.message) == (severity, True)
    assert found.margin_frac == pytest.approx(1 - changes["breaker_a"] / changes["outlet_a"])
    mend = f"Ask the electrician for a breaker of {changes['outlet_a']:g} A or an outlet of {changes['breaker_a']:g} A."
    assert found.mend == ("" if severity == "ok" else mend)


def test_a_fifteen_ampere_outlet_is_one_of_several(profile: Builder, twenty: Circuits) -> None:
    """NFPA 70 table 210.21(B)(3) is of several outlets: the only one of a 20 A circuit is of 20 A."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=1000, voltage_v=120)
    for dedicated, severity in ((None, "ok"), (False, "ok"), (True, "over")):
        circuit = twenty(outlet_a=15.0, dedicated=dedicated)
        assert find(check([vessel], circuit, (), START, DUBLIN), "outlet_protection").severity == severity


@pytest.mark.parametrize(("voltage_v", "severity"), [(230.0, "note"), (253.0, "note"), (254.0, "over")])
def test_a_plug_fuse_by_what_it_carries(profile: Builder, ring: Circuits, voltage_v: float, severity: str) -> None:
    """3 A at 230 V on 3 A: 253 V make it 3.3 A of 4.8 carried; a supply of 254 V is of no known rules, so its own."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=690, voltage_v=230)
    found = find(check([vessel], ring(voltage_v=voltage_v, plug_fuse_a=3.0), (), START, DUBLIN), "plug_fuse")
    assert found.severity == severity
    assert "carries 4.8 A for half an hour and blows within half an hour at 5.7 A" in found.message
    assert found.margin_frac == pytest.approx(1 - voltage_v / 230)


# --- the drop of the wires: 5 % by BS 7671 appendix 4, 3 % as advice by NFPA 70 (published reproductions) ---
@pytest.mark.parametrize(("rules", "length_m", "severity"), [
    ("iec", 52.0, "ok"), ("iec", 53.0, "over"), ("nec", 19.3, "ok"), ("nec", 19.8, "note"),
])  # fmt: skip
def test_a_drop_at_its_limit(
    profile: Builder, sixteen: Circuits, twenty: Circuits, rules: str, length_m: float, severity: str
) -> None:
    """13 A of plate are 17.7 ohm: a loop of 5/95 of that, 0.931 ohm, is 52.5 m of 2.5 mm2 at 17.7 mohm/m (70 °C).

    15 A at 120 V are 8 ohm: 3/97 of that is 19.5 m of 12 AWG at 12.7 mohm/m (75 °C).
    """
    circuit = (twenty if rules == "nec" else sixteen)(cable_length_m=length_m)
    amps = 15.0 if rules == "nec" else 13.0
    vessel = profile("Vessel", [(0, 60, 1)], power_w=amps * circuit.voltage_v, voltage_v=circuit.voltage_v)
    found = find(check([vessel], circuit, (), START, DUBLIN), "voltage_drop")
    limit = {"iec": 0.05, "nec": 0.03}[rules]
    assert found.severity == severity
    assert found.margin_frac == pytest.approx(1 - found.facts["drop_frac"] / limit)
    assert found.facts["less_heat_frac"] == pytest.approx(1 - (1 - found.facts["drop_frac"]) ** 2)
    assert (found.mend == "") is (severity == "ok")
