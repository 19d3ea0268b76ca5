"""Breaker, continuous load, outlet and fuse on cases worked by hand."""

from collections.abc import Callable
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from energyplan.base.load import LoadProfile
from energyplan.circuits.check import CircuitCheck, check
from energyplan.plan.model import Circuit, OtherLoad
from tests.circuits.words import find

Builder = Callable[..., LoadProfile]
Circuits = Callable[..., Circuit]
DUBLIN = ZoneInfo("Europe/Dublin")
START = datetime(2026, 5, 9, 7, tzinfo=UTC)  # 08:00 in Dublin


def severities(result: CircuitCheck) -> dict[str, str]:
    """Return the severity by code."""
    return {finding.code: finding.severity for finding in result.findings}


# --- 3 kW on a 13 A plug ---
def test_three_kilowatts_on_a_13_a_plug(profile: Builder, ring: Circuits) -> None:
    """3000 W / 230 V = 13.04 A: 0.3 % past 13 A is what the plug was made for, a note and never an overload."""
    vessel = profile("Vessel", [(0, 40, 1)], power_w=3000, voltage_v=230)
    result = check([vessel], ring(), (), START, DUBLIN)
    assert result.peak_a == pytest.approx(3000 / 230)
    assert "over" not in severities(result).values()
    for code in ("outlet", "plug_fuse"):
        assert find(result, code).severity == "note"
        assert find(result, code).margin_frac == pytest.approx(1 - 3000 / 230 / 13)
    assert "13 A through a 13 A plug fuse" in find(result, "plug_fuse").message
    assert "inside what a plate means" in find(result, "outlet").message


def test_the_same_at_253_volts(profile: Builder, ring: Circuits) -> None:
    """3000/230^2 x 253 = 14.35 A, 10 % past the plug: the fuse carries up to 20.8 A, so a note that says so."""
    vessel = profile("Vessel", [(0, 40, 1)], power_w=3000, voltage_v=230)
    result = check([vessel], ring(voltage_v=253.0), (), START, DUBLIN)
    assert result.peak_a == pytest.approx(14.348, abs=1e-3)
    fuse = find(result, "plug_fuse")
    assert fuse.severity == "note"
    assert "20.8 A" in fuse.message
    assert "run hot" in fuse.message
    assert fuse.margin_frac == pytest.approx(1 - 14.348 / 13, abs=1e-3)
    assert "over" not in severities(result).values()


def test_two_hundred_watts_more_are_too_many(profile: Builder, ring: Circuits) -> None:
    """3200 W is 13.91 A, 7 % past the plug: over, and the mend is 2950 W of elements (13 A x 230 V, in 50 W)."""
    vessel = profile("Vessel", [(0, 40, 1)], power_w=3200, voltage_v=230)
    outlet = find(check([vessel], ring(), (), START, DUBLIN), "outlet")
    assert outlet.severity == "over"
    assert "2950 W" in outlet.mend
    assert "pulsed ones draw their full current" in outlet.mend
    assert "13.9 A" in outlet.mend


def test_fuse_that_would_blow(profile: Builder, ring: Circuits) -> None:
    """2.2 kW (9.6 A) through a 5 A fuse: past the 8 A that it carries, over."""
    vessel = profile("Vessel", [(0, 40, 1)], power_w=2200, voltage_v=230)
    fuse = find(check([vessel], ring(plug_fuse_a=5.0), (), START, DUBLIN), "plug_fuse")
    assert fuse.severity == "over"
    assert "blows within half an hour at 9.5 A" in fuse.message


def test_fuse_at_a_high_voltage_past_what_it_carries(profile: Builder, ring: Circuits) -> None:
    """An odd supply far above the plate: 300 V puts 17 A on a 10 A fuse, over although no nominal is known."""
    vessel = profile("Vessel", [(0, 40, 1)], power_w=3000, voltage_v=230)
    fuse = find(check([vessel], ring(voltage_v=300.0, plug_fuse_a=10.0), (), START, DUBLIN), "plug_fuse")
    assert fuse.severity == "over"


# --- 5.5 kW, 240 V, 30 A two-pole ---
def test_five_and_a_half_kilowatts_for_four_hours(profile: Builder, two_pole: Circuits) -> None:
    """5500/240 = 22.92 A for 4 h is continuous and asks for 1.25 x 22.92 = 28.6 A: a 30 A breaker carries it."""
    vessel = profile("Vessel", [(0, 240, 1)], power_w=5500, voltage_v=240)
    result = check([vessel], two_pole(), (), START, DUBLIN)
    assert result.peak_a == pytest.approx(22.917, abs=1e-3)
    assert result.continuous_a == pytest.approx(22.917, abs=1e-3)
    assert result.longest_at_peak_min == pytest.approx(240.0)
    assert result.rms_60_min_a == pytest.approx(22.917, abs=1e-3)
    assert severities(result)["continuous"] == "ok"
    assert find(result, "continuous").margin_frac == pytest.approx(1 - 28.646 / 30, abs=1e-4)
    assert "28.6 A" in find(result, "continuous").message
    assert "over" not in severities(result).values()


# Continuous load at 125 % (NFPA 70 210.20(A), published reproduction): 24 A needs 30 A, 16 A needs 20 A.
@pytest.mark.parametrize(("amps", "enough_a", "too_small_a"), [(24.0, 30.0, 25.0), (16.0, 20.0, 15.0)])
def test_continuous_load_needs_a_quarter_more(
    profile: Builder, two_pole: Circuits, amps: float, enough_a: float, too_small_a: float
) -> None:
    """The breaker of the published pair carries it, the next smaller does not."""
    vessel = profile("Vessel", [(0, 200, 1)], power_w=240 * amps, voltage_v=240)
    for breaker_a, severity in ((enough_a, "ok"), (too_small_a, "over")):
        circuit = two_pole(breaker_a=breaker_a, outlet_a=None, cable_mm2=None)
        assert severities(check([vessel], circuit, (), START, DUBLIN))["continuous"] == severity


def test_continuous_overload_says_what_would_mend_it(profile: Builder, two_pole: Circuits) -> None:
    """28 A for 4 h need 35 A: elements of 24 A x 240 V = 5750 W (in 50 W), or a bigger breaker with 8 AWG.

    It is one of 40 A, since no outlet of the table stands behind 35 A (NFPA 70, table 210.21(B)(3)).
    """
    vessel = profile("Vessel", [(0, 240, 1)], power_w=28 * 240, voltage_v=240)
    finding = find(check([vessel], two_pole(), (), START, DUBLIN), "continuous")
    assert finding.severity == "over"
    assert "5750 W" in finding.mend
    assert "40 A breaker, which needs 8 AWG" in finding.mend


def test_gaps_break_a_continuous_load(profile: Builder, two_pole: Circuits) -> None:
    """2 h on, 30 min off, 2 h on is no continuous load; 3 h 05 at a stretch is."""
    broken = profile("Vessel", [(0, 120, 1), (150, 270, 1)], power_w=28 * 240, voltage_v=240)
    whole = profile("Vessel", [(0, 185, 1)], power_w=28 * 240, voltage_v=240)
    result = check([broken], two_pole(), (), START, DUBLIN)
    assert result.continuous_a == 0.0
    assert find(result, "continuous").severity == "ok"
    assert "no continuous load" in find(result, "continuous").message
    assert find(check([whole], two_pole(), (), START, DUBLIN), "continuous").severity == "over"


def test_standby_is_no_continuous_load_worth_a_word(profile: Builder, two_pole: Circuits) -> None:
    """4 W of electronics all day beside an hour of heating: nothing of weight lasts."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=5500, voltage_v=240)
    standby = profile("Standby", [(0, 300, 1)], power_w=0, voltage_v=240, other_w=4)
    finding = find(check([vessel, standby], two_pole(), (), START, DUBLIN), "continuous")
    assert finding.severity == "ok"
    assert finding.message.startswith("Nothing of weight")


def test_short_gap_is_named(profile: Builder, two_pole: Circuits) -> None:
    """With only 10 min off in between the definition is escaped by a hair: a note that says so."""
    vessel = profile("Vessel", [(0, 120, 1), (130, 250, 1)], power_w=28 * 240, voltage_v=240)
    finding = find(check([vessel], two_pole(), (), START, DUBLIN), "continuous")
    assert finding.severity == "note"
    assert "gaps of less than 15 min" in finding.message
    assert "35 A" in finding.message


def test_the_warmth_is_told_where_it_is_less_than_the_amperes(profile: Builder, two_pole: Circuits) -> None:
    """28 A without a break for four hours are 28 A of warmth, which says nothing more."""
    vessel = profile("Vessel", [(0, 240, 1)], power_w=28 * 240, voltage_v=240)
    finding = find(check([vessel], two_pole(), (), START, DUBLIN), "continuous")
    assert "28 A last 3 hours or more without a break: " in finding.message
    assert "warmth" not in finding.message


def test_held_temperature_counts_only_if_pulses_do(profile: Builder, two_pole: Circuits) -> None:
    """1 h full, then 3 h of holding at 10 % duty: 28 A while on, but the warmth of 28 sqrt(0.1) = 8.9 A: a note."""
    vessel = profile("Vessel", [(0, 60, 1), (60, 240, 0.1)], power_w=28 * 240, voltage_v=240)
    result = check([vessel], two_pole(), (), START, DUBLIN)
    finding = find(result, "continuous")
    assert result.continuous_a == pytest.approx(28.0)
    assert finding.severity == "note"
    assert "by its warmth 8.9 A" in finding.message


def test_without_a_breaker_the_size_is_named_all_the_same(profile: Builder, two_pole: Circuits) -> None:
    """24 A for 4 h: the sentence asks for 30 A although no breaker was entered."""
    vessel = profile("Vessel", [(0, 240, 1)], power_w=24 * 240, voltage_v=240)
    result = check([vessel], two_pole(breaker_a=None), (), START, DUBLIN)
    assert "30 A or more" in find(result, "continuous").message
    assert severities(result)["breaker"] == severities(result)["continuous"] == "unknown"


# --- 120 V, 20 A ---
def test_twenty_ampere_circuit_shared(profile: Builder, twenty: Circuits) -> None:
    """2200 W / 120 V = 18.3 A is past 80 % of 20 A beside a fridge; 1900 W (15.8 A) is not."""
    fridge = OtherLoad(name="Fridge", power_w=60.0)
    for power_w, severity in ((2200.0, "over"), (1900.0, "ok")):
        vessel = profile("Vessel", [(0, 60, 1)], power_w=power_w, voltage_v=120)
        finding = find(check([vessel], twenty(), [fridge], START, DUBLIN), "one_appliance")
        assert finding.severity == severity
    assert "16 A" in finding.message


def test_twenty_ampere_circuit_alone(profile: Builder, twenty: Circuits) -> None:
    """Nobody said that it feeds one outlet: it counts as shared, unless the circuit is said to be dedicated."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2200, voltage_v=120)
    finding = find(check([vessel], twenty(), (), START, DUBLIN), "one_appliance")
    assert finding.severity == "over"
    assert "counts as shared" in finding.message
    assert "circuit of its own and enter [circuit] dedicated" in finding.mend
    assert "one_appliance" not in severities(check([vessel], twenty(dedicated=True), (), START, DUBLIN))
    assert find(check([vessel], twenty(dedicated=False), (), START, DUBLIN), "one_appliance").severity == "over"


def test_eighty_percent_is_for_shared_plugs_only(profile: Builder, sixteen: Circuits, twenty: Circuits) -> None:
    """A 50 A circuit, or a vessel without an outlet, is not judged by 210.21(B)(2) and 210.23."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2200, voltage_v=120)
    for circuit in (twenty(breaker_a=50.0, outlet_a=50.0), twenty(outlet_a=None), sixteen()):
        assert "one_appliance" not in severities(check([vessel], circuit, (), START, DUBLIN))


def test_full_load_of_an_inverse_time_breaker(profile: Builder, twenty: Circuits) -> None:
    """20.2 A on 20 A lie inside the slack of plates: a note, not an overload; 22 A may trip: over."""
    for amps, severity in ((20.0, "ok"), (20.2, "note"), (22.0, "over"), (28.0, "over"), (45.0, "over")):
        vessel = profile("Vessel", [(0, 60, 1)], power_w=120 * amps, voltage_v=120)
        result = check([vessel], twenty(dedicated=True), (), START, DUBLIN)
        assert find(result, "breaker").severity == severity
    assert "trips within minutes" in find(result, "breaker").message


# --- kettle and vessel on a B16 ---
def test_kettle_and_vessel_on_a_b16(profile: Builder, sixteen: Circuits) -> None:
    """2500 W + 2200 W = 20.4 A on 16 A, 1.28 times, for the 5 min of the kettle: a note with its minutes and mends."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2500, voltage_v=230)
    kettle = OtherLoad(name="Kettle", power_w=2200.0, from_min=500, to_min=505)  # 08:20 to 08:25 local
    result = check([vessel], sixteen(cable_mm2=None), [kettle], START, DUBLIN)
    finding = find(result, "breaker")
    assert result.peak_a == pytest.approx(4700 / 230)
    assert (result.peak_at_s, result.longest_at_peak_min) == (1200.0, 5.0)
    assert finding.severity == "note"
    assert "may trip within an hour" in finding.message
    assert "from 08:20 for 5 min" in finding.message
    assert "warm" in finding.message
    assert "1450 W" in finding.mend  # 16 A x 230 V - 2200 W = 1480 W, in 50 W
    assert "keep Kettle off from 08:20 to 08:25" in finding.mend
    assert "25 A breaker, which needs 2.5 mm²" in finding.mend


def test_vessel_alone_on_a_b16(profile: Builder, sixteen: Circuits) -> None:
    """2500 W are 10.9 A: carried, and at 253 V with a heavy element 12.6 A still are."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2500, voltage_v=230)
    finding = find(check([vessel], sixteen(cable_mm2=None), (), START, DUBLIN), "breaker")
    assert finding.severity == "ok"
    assert finding.mend == ""
    assert ": carried; at 253 V" in finding.message
    assert finding.margin_frac == pytest.approx(1 - 2500 / 230 / 16)


# IEC 60898-1 zones (published reproduction): 1.13, 1.45, 2.55 In.
@pytest.mark.parametrize(
    ("amps", "words", "severity"),
    [
        (15.9, "carried", "note"),  # 1.155 x 15.9 = 18.4 A at the upper end may trip
        (15.0, "carried", "ok"),
        (17.0, "carried", "over"),  # carried by the breaker, but Ib <= In is broken
        (22.0, "may trip within an hour", "over"),
        (24.0, "trips within an hour", "over"),
        (41.0, "trips within minutes", "over"),
    ],
)
def test_trip_zones(profile: Builder, sixteen: Circuits, amps: float, words: str, severity: str) -> None:
    """Each zone has its words and its severity."""
    vessel = profile("Vessel", [(0, 90, 1)], power_w=230 * amps, voltage_v=230)
    finding = find(check([vessel], sixteen(cable_mm2=None, outlet_a=None), (), START, DUBLIN), "breaker")
    assert finding.severity == severity
    assert words in finding.message


@pytest.mark.parametrize(("amps", "minutes", "doubtful"), [(15.0, 30, 0), (22.0, 30, 1), (22.0, 90, 0), (24.0, 30, 1)])
def test_what_trips_within_the_hour_may_not_in_less(
    profile: Builder, sixteen: Circuits, amps: float, minutes: int, doubtful: int
) -> None:
    """The zones of IEC 60898-1 speak of an hour: of a shorter load it can't be said; what is carried stays carried."""
    vessel = profile("Vessel", [(0, minutes, 1)], power_w=230 * amps, voltage_v=230)
    finding = find(check([vessel], sixteen(cable_mm2=None, outlet_a=None), (), START, DUBLIN), "breaker")
    assert finding.message.count("perhaps in that time") == doubtful


def test_sparge_heater_is_told_to_move(profile: Builder, sixteen: Circuits) -> None:
    """Vessel 0 to 60 min, heater 30 to 50 min: 50 min earlier or 30 min later they never meet."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2500, voltage_v=230)
    heater = profile("Sparge heater", [(30, 50, 1)], power_w=1800, voltage_v=230)
    result = check([vessel, heater], sixteen(cable_mm2=None), (), START, DUBLIN)
    mend = find(result, "breaker").mend
    assert "start Sparge heater 30 min later" in mend
    assert "start Sparge heater 50 min earlier" in mend
    assert "outlet of its own" in find(result, "outlet").message


def test_kettle_and_sparge_heater_both_have_to_move(profile: Builder, sixteen: Circuits) -> None:
    """With a kettle on top neither move is enough alone, so both are asked for together."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2500, voltage_v=230)
    heater = profile("Sparge heater", [(30, 50, 1)], power_w=1800, voltage_v=230)
    kettle = OtherLoad(name="Kettle", power_w=2200.0, from_min=510, to_min=515)  # 08:30 to 08:35
    mend = find(check([vessel, heater], sixteen(cable_mm2=None), [kettle], START, DUBLIN), "breaker").mend
    assert (
        "keep Kettle off from 08:30 to 08:35 (and wherever else they meet the heaters), and start Sparge heater" in mend
    )
    assert "Have elements" not in mend  # what the kettle and the heater leave is nothing to heat with


def test_average_hold_power_is_no_free_capacity(profile: Builder, sixteen: Circuits) -> None:
    """A vessel held at 200 W in the mean still draws 2500 W in pulses: the heater beside it is too much."""
    vessel = profile("Vessel", [(0, 60, 0.08)], power_w=2500, voltage_v=230)
    heater = profile("Sparge heater", [(0, 60, 1)], power_w=1800, voltage_v=230)
    result = check([vessel, heater], sixteen(cable_mm2=None), (), START, DUBLIN)
    assert result.peak_a == pytest.approx(4300 / 230)
    assert find(result, "breaker").severity == "over"
    assert result.mean_a[0] == pytest.approx(2000 / 230)


def test_no_household_breaker_is_enough(profile: Builder, sixteen: Circuits) -> None:
    """40 kW: the mend sends the brewer to an electrician instead of naming a size."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=40_000, voltage_v=230)
    mend = find(check([vessel], sixteen(cable_mm2=None), (), START, DUBLIN), "breaker").mend
    assert "ask an electrician about a supply of its own" in mend


# --- motors ---
def test_compressor_that_starts_on_top(profile: Builder, sixteen: Circuits) -> None:
    """A 1.8 kW compressor: 13 A + 6 x 7.8 A = 60 A trips a B16 (48 A) but not a C16 (80 A)."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=3000, voltage_v=230)
    compressor = OtherLoad(name="Air compressor", power_w=1800.0)
    for curve, severity in (("B", "note"), ("C", "ok")):
        circuit = sixteen(cable_mm2=None, breaker_curve=curve)
        finding = find(check([vessel], circuit, [compressor], START, DUBLIN), "breaker_start")
        assert finding.severity == severity
    assert find(check([vessel], sixteen(), [compressor], START, DUBLIN), "breaker_start").mend


def test_fridge_start_without_a_curve(profile: Builder, twenty: Circuits) -> None:
    """Without a curve the start current is named and not compared; without a breaker nothing is said."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=1500, voltage_v=120)
    fridge = OtherLoad(name="Fridge", power_w=120.0)
    finding = find(check([vessel], twenty(), [fridge], START, DUBLIN), "breaker_start")
    assert "no standard zone" in finding.message
    assert "17.5 A in all" not in finding.message
    assert "18.5 A in all" in finding.message  # 12.5 A + 6 x 1.0 A
    assert "breaker_start" not in severities(check([vessel], twenty(breaker_a=None), [fridge], START, DUBLIN))


# --- outlets ---
def test_hours_on_a_household_outlet(profile: Builder, sixteen: Circuits) -> None:
    """2500 W for an hour are 10.9 A: trade practice is named; 2200 W (9.6 A), or 20 min, say nothing."""
    for power_w, minutes, said in ((2500, 90, True), (2200, 90, False), (2500, 20, False)):
        vessel = profile("Vessel", [(0, minutes, 1)], power_w=power_w, voltage_v=230)
        result = check([vessel], sixteen(cable_mm2=None), (), START, DUBLIN)
        assert ("outlet_hours" in severities(result)) is said
        assert find(result, "outlet").severity == "ok"
    vessel = profile("Vessel", [(0, 90, 1)], power_w=2500, voltage_v=230)
    hours = find(check([vessel], sixteen(cable_mm2=None), (), START, DUBLIN), "outlet_hours")
    assert hours.severity == "note"
    assert "10.9 A for an hour" in hours.message
    assert "near 10 A" in hours.message
    assert "feel plug and outlet" in hours.mend


def test_hours_on_an_outlet_that_was_not_entered(profile: Builder, sixteen: Circuits) -> None:
    """Without an outlet nothing is said of its warmth."""
    vessel = profile("Vessel", [(0, 90, 1)], power_w=2500, voltage_v=230)
    assert "outlet_hours" not in severities(check([vessel], sixteen(outlet_a=None), (), START, DUBLIN))


def test_other_loads_do_not_warm_the_vessels_outlet(profile: Builder, sixteen: Circuits) -> None:
    """A heater of 1.5 kW elsewhere on the circuit is not counted in the warmth of the vessel's outlet."""
    vessel = profile("Vessel", [(0, 90, 1)], power_w=2000, voltage_v=230)
    heater = OtherLoad(name="Room heater", power_w=1500.0)
    assert "outlet_hours" not in severities(check([vessel], sixteen(), [heater], START, DUBLIN))


def test_outlet_at_the_upper_end_of_the_supply(profile: Builder, sixteen: Circuits) -> None:
    """3450 W on 16 A: 15.0 A at 230 V, 17.3 A at 253 V with a heavy element: a note."""
    vessel = profile("Vessel", [(0, 20, 1)], power_w=3450, voltage_v=230)
    outlet = find(check([vessel], sixteen(cable_mm2=None), (), START, DUBLIN), "outlet")
    assert outlet.severity == "note"
    assert "17.3 A, more than they are made for" in outlet.message


def test_breaker_behind_an_outlet(profile: Builder, ring: Circuits, sixteen: Circuits, twenty: Circuits) -> None:
    """A breaker larger than the outlet leaves it without protection, with the exceptions that the rules make."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=1000, voltage_v=230)
    for circuit, severity in (
        (sixteen(breaker_a=20.0), "over"),  # 16 A outlets stand behind 16 A (from memory)
        (sixteen(breaker_a=20.0, outlet_a=10.0), "note"),  # AS/NZS 3112 outlets do behind 20 A (from memory)
        (sixteen(breaker_a=16.0), None),
        (ring(), "ok"),  # the fuse in the plug protects the outlet
        (ring(breaker_a=40.0), "over"),  # BS 1363 outlets end at 32 A circuits
        (twenty(outlet_a=15.0), "ok"),  # NFPA 70 table 210.21(B)(3): 15 A outlets on a 20 A circuit (code page)
        (twenty(breaker_a=30.0), "over"),
    ):
        assert severities(check([vessel], circuit, (), START, DUBLIN)).get("outlet_protection") == severity
