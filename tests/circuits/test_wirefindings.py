"""Extension lead, fixed cable and voltage drop on cases worked by hand."""

from collections.abc import Callable
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from energyplan.base.load import LoadProfile
from energyplan.circuits.check import CircuitCheck, check
from energyplan.physics.conductors import awg_mm2
from energyplan.plan.model import Circuit, Extension, OtherLoad
from tests.circuits.words import find

Builder = Callable[..., LoadProfile]
Circuits = Callable[..., Circuit]
DUBLIN = ZoneInfo("Europe/Dublin")
START = datetime(2026, 5, 9, 7, tzinfo=UTC)  # 08:00 in Dublin


def severities(result: CircuitCheck) -> dict[str, str]:
    """Return the severity by code."""
    return {finding.code: finding.severity for finding in result.findings}


# --- 25 m of 1.5 mm2 lead ---
def test_twenty_five_metres_of_thin_lead(profile: Builder, ring: Circuits) -> None:
    """2 x 25 m x 13.3 mohm/m x 290/250 = 0.771 ohm: 12.50 A, 9.64 V and 92 % of the heat.

    BS 7671 table 4F3B gives 32 mV/A/m (wholesaler's page), 10.0 V: 4 %.
    """
    vessel = profile("Vessel", [(0, 60, 1)], power_w=3000, voltage_v=230)
    lead = Extension(cable_mm2=1.5, length_m=25.0, rating_a=13.0)
    result = check([vessel], ring(extension=lead), (), START, DUBLIN)
    siemens, ohm = 3000 / 230**2, 0.7714
    assert result.peak_a == pytest.approx(230 * siemens / (1 + ohm * siemens), rel=1e-3)
    assert result.voltage_drop_v == pytest.approx(9.64, abs=0.02)
    assert result.voltage_drop_v == pytest.approx(25 * 0.032 * 12.5, rel=0.04)
    assert severities(result)["voltage_drop"] == "unknown", "the ring's own length was not entered"
    assert "8.2 % less heat" in find(result, "voltage_drop").message
    assert find(result, "extension").severity == "note"
    assert "below 15 m" in find(result, "lead_length").message
    assert find(result, "lead_length").severity == "note"


def test_lead_left_on_its_reel(profile: Builder, ring: Circuits) -> None:
    """Wound, the label says 5 A: over by 150 %, and unwinding mends it."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=3000, voltage_v=230)
    wound = Extension(cable_mm2=1.5, length_m=25.0, rating_a=13.0, rating_wound_a=5.0, unwound=False)
    result = check([vessel], ring(extension=wound), (), START, DUBLIN)
    finding = find(result, "extension")
    assert finding.severity == "over"
    assert finding.mend.startswith("Unwind the lead")
    assert (result.limit_a, result.limit_name) == (5.0, "extension lead")
    assert find(result, "extension").standard.startswith("BS 7671")


def test_lead_too_thin_even_unwound(profile: Builder, ring: Circuits) -> None:
    """3 kW through 1.0 mm2 (10 A): over; unwinding is not enough."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=3000, voltage_v=230)
    wound = Extension(cable_mm2=1.0, length_m=10.0, unwound=False)
    finding = find(check([vessel], ring(extension=wound), (), START, DUBLIN), "extension")
    assert finding.mend.startswith("Unwind the lead, and that is not enough")
    straight = Extension(cable_mm2=1.0, length_m=10.0)
    finding = find(check([vessel], ring(extension=straight), (), START, DUBLIN), "extension")
    assert finding.mend.startswith("Use no lead")
    assert "printed rating was not entered" in finding.message


def test_lead_thinner_than_any_table(profile: Builder, ring: Circuits) -> None:
    """0.3 mm2 has no rating at all: over, with no margin to name."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=500, voltage_v=230)
    finding = find(
        check([vessel], ring(extension=Extension(cable_mm2=0.3, length_m=2.0)), (), START, DUBLIN), "extension"
    )
    assert (finding.severity, finding.margin_frac) == ("over", None)
    assert "ask for an outlet" in finding.mend


def test_north_american_lead_cites_its_own_table(profile: Builder, twenty: Circuits) -> None:
    """A 16 AWG set of 5 m carries 13 A; 1.5 kW at 120 V is 12.5 A."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=1500, voltage_v=120)
    result = check([vessel], twenty(extension=Extension(cable_mm2=awg_mm2(16), length_m=5.0)), (), START, DUBLIN)
    assert find(result, "extension").standard.startswith("UL 817")


def test_what_a_lead_has_left_is_a_share_of_its_rating(profile: Builder, ring: Circuits) -> None:
    """10 A on a lead marked 13 A leave 3 of 13; half a metre of it takes nothing off the current."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2300, voltage_v=230)
    result = check([vessel], ring(extension=Extension(cable_mm2=1.5, length_m=0.5, rating_a=13.0)), (), START, DUBLIN)
    assert find(result, "extension").margin_frac == pytest.approx(3 / 13, abs=0.005)


# --- cable ---
def test_cable_that_is_too_thin(profile: Builder) -> None:
    """4.6 kW (20 A) through 1.5 mm2 in insulation (14.5 A): over, and neither does a 20 A breaker protect it."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=4600, voltage_v=230)
    circuit = Circuit(voltage_v=230.0, breaker_a=20.0, cable_mm2=1.5, installation="A")
    result = check([vessel], circuit, (), START, DUBLIN)
    assert find(result, "cable").severity == "over"
    assert find(result, "cable_protection").severity == "over"
    assert "14 A or less" in find(result, "cable_protection").mend
    assert find(result, "cable").margin_frac == pytest.approx(1 - 20 / 14.5)


def test_cable_whose_laying_is_not_known(profile: Builder) -> None:
    """4.4 kW (19.1 A) through 1.5 mm2: too much in an insulated wall (14.5 A), not when clipped (20 A): not known."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=4400, voltage_v=230)
    result = check([vessel], Circuit(voltage_v=230.0, breaker_a=20.0, cable_mm2=1.5), (), START, DUBLIN)
    assert find(result, "cable").severity == "unknown"
    assert find(result, "cable_protection").severity == "unknown"
    assert "wholly in insulation it carries 10 A" in find(result, "cable").message  # half of 20 A, method 103


def test_a_load_above_every_way_of_laying_is_over_though_none_was_entered(profile: Builder) -> None:
    """6.9 kW (30 A) through 1.5 mm2, which carries 22 A on a tray in free air (BS 7671 table 4D2A, method E)."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=6900, voltage_v=230)
    result = check([vessel], Circuit(voltage_v=230.0, breaker_a=32.0, cable_mm2=1.5), (), START, DUBLIN)
    assert find(result, "cable").severity == "over"


@pytest.mark.parametrize(("ambient_c", "named"), [(25.0, True), (30.0, False), (35.0, True)])
def test_the_table_of_air_is_named_where_it_counts(
    profile: Builder, sixteen: Circuits, *, ambient_c: float, named: bool
) -> None:
    """The tables of capacities are for 30 °C; colder or warmer air has a factor of its own (BS 7671 table 4B1)."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2000, voltage_v=230)
    cable = find(check([vessel], sixteen(ambient_c=ambient_c), (), START, DUBLIN), "cable")
    assert ("4B1" in cable.standard) is named


def test_unprotected_cable_is_judged_at_the_upper_end(profile: Builder) -> None:
    """19 A through 20 A of cable behind a 32 A breaker: 21.9 A at the upper end is a note on the load itself."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=19 * 230, voltage_v=230)
    circuit = Circuit(voltage_v=230.0, breaker_a=32.0, cable_mm2=1.5, installation="C")
    result = check([vessel], circuit, (), START, DUBLIN)
    assert find(result, "cable").severity == "note"
    assert find(result, "cable_protection").severity == "over"
    assert "enter [circuit] ring" in find(result, "cable_protection").mend


def test_ring_on_32_a(profile: Builder, ring: Circuits) -> None:
    """A ring of 2.5 mm2 is protected by 32 A and cites its own regulation."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=3000, voltage_v=230)
    finding = find(check([vessel], ring(), (), START, DUBLIN), "cable_protection")
    assert finding.severity == "ok"
    assert "433.1.204" in finding.standard


@pytest.mark.parametrize(("cable_mm2", "ambient_c", "words"), [(0.75, 30.0, "that thin"), (2.5, 65.0, "too hot")])
def test_cable_without_a_rating(
    profile: Builder, sixteen: Circuits, cable_mm2: float, ambient_c: float, words: str
) -> None:
    """Too thin for any table, or too hot for its insulation: over, whatever flows."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=1000, voltage_v=230)
    circuit = sixteen(cable_mm2=cable_mm2, ambient_c=ambient_c)
    result = check([vessel], circuit, (), START, DUBLIN)
    assert find(result, "cable").severity == "over"
    assert words in find(result, "cable").message
    assert "cable_protection" not in severities(result)
    assert result.severity == "over"


def test_rating_of_nothing_is_the_tightest(profile: Builder, sixteen: Circuits) -> None:
    """A cable at 65 °C carries 0 A, which no load is below."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=1000, voltage_v=230)
    result = check([vessel], sixteen(ambient_c=65.0), (), START, DUBLIN)
    assert (result.limit_a, result.limit_name) == (0.0, "cable")


def test_no_load_at_all(profile: Builder, sixteen: Circuits) -> None:
    """A day of pauses draws nothing and passes nothing."""
    rest = profile("Vessel", [(0, 60, 0)], power_w=1000, voltage_v=230)
    result = check([rest], sixteen(ambient_c=65.0), (), START, DUBLIN)
    assert result.peak_a == 0.0
    assert "100 % of the power" in find(result, "voltage").message


@pytest.mark.parametrize(
    ("gauge", "breaker_a", "column", "severity"),
    [
        (12, 20.0, "90", "ok"),
        (12, 25.0, "90", "over"),  # NFPA 70 240.4(D): 20 A at most on 12 AWG, whatever the ampacity
        (8, 50.0, "75", "ok"),
        (8, 45.0, "60", "over"),  # 40 A is itself a standard size: no next size up
        (6, 60.0, "60", "over"),  # 55 A is none, but 240.4(B) forbids the next size where several outlets are fed
        (6, 70.0, "60", "over"),
    ],
)
def test_north_american_cable_protection(
    profile: Builder, two_pole: Circuits, gauge: int, breaker_a: float, column: str, severity: str
) -> None:
    """Small conductors, columns and the next standard size of NFPA 70."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=1000, voltage_v=240)
    circuit = two_pole(cable_mm2=awg_mm2(gauge), breaker_a=breaker_a, installation=column, outlet_a=None)
    assert severities(check([vessel], circuit, (), START, DUBLIN))["cable_protection"] == severity


@pytest.mark.parametrize(("gauge", "breaker_a", "least_a"), [(14, 20.0, 15), (12, 25.0, 20), (10, 40.0, 30)])
def test_a_small_conductor_asks_for_the_breaker_of_its_gauge(
    profile: Builder, two_pole: Circuits, gauge: int, breaker_a: float, least_a: int
) -> None:
    """NFPA 70, 240.4(D): 15, 20 and 30 A at most, though the 75 °C column of 310.16 gives 20, 25 and 35 A."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=1000, voltage_v=240)
    circuit = two_pole(cable_mm2=awg_mm2(gauge), breaker_a=breaker_a, installation="75", outlet_a=None)
    protection = find(check([vessel], circuit, (), START, DUBLIN), "cable_protection")
    assert protection.severity == "over"
    assert f"{least_a} A or less" in protection.mend


def test_long_thin_run(profile: Builder, sixteen: Circuits, twenty: Circuits) -> None:
    """60 m of 2.5 mm2 at 13 A lose 12.5 V, 5.4 %: past 5 % of the fixed cable, over for IEC; advice for NFPA 70."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=3000, voltage_v=230)
    finding = find(check([vessel], sixteen(cable_length_m=65.0), (), START, DUBLIN), "voltage_drop")
    assert finding.severity == "over"
    assert "thicker or shorter" in finding.mend
    vessel = profile("Vessel", [(0, 60, 1)], power_w=1900, voltage_v=120)
    result = check([vessel], twenty(cable_length_m=30.0), (), START, DUBLIN)
    assert find(result, "voltage_drop").severity == "note"
    assert "advice" in find(result, "voltage_drop").message


@pytest.mark.parametrize(
    ("cable_mm2", "length_m", "said"), [(1.5, 15.0, False), (2.5, 25.5, True), (4.0, 60.0, False), (1.0, 11.0, True)]
)
def test_leads_by_their_length(
    profile: Builder, ring: Circuits, cable_mm2: float, length_m: float, *, said: bool
) -> None:
    """Common practice, no source: 1.25 mm2 to 10 m, 1.5 mm2 to 15 m, 2.5 mm2 to 25 m; nothing for thicker ones."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=1000, voltage_v=230)
    lead = Extension(cable_mm2=cable_mm2, length_m=length_m, rating_a=8.0)
    assert ("lead_length" in severities(check([vessel], ring(extension=lead), (), START, DUBLIN))) is said


def test_a_long_load_on_a_ring_is_the_vessels_whatever_peaks_beside_it(profile: Builder, ring: Circuits) -> None:
    """An hour of 2.2 kW on one point of a ring is noted, also where a kettle makes the circuit's peak a short one."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2200, voltage_v=230)
    kettle = OtherLoad(name="Kettle", power_w=2800.0, from_min=8 * 60 + 20, to_min=8 * 60 + 25)
    alone, beside = (find(check([vessel], ring(), loads, START, DUBLIN), "ring") for loads in ((), (kettle,)))
    assert alone.severity == beside.severity == "note"
    assert "for 60 min" in alone.message
    assert beside.message == alone.message


# Ring of L metres, as worked on electricians' forums: mV/A/m x L x current / 4. With 18 mV/A/m, 32 A: 40 m lose 5.76 V
# and 151 m lose 21.7 V (by hand; printed as 21); 106 m at 26 A 12.4 V (by hand).
@pytest.mark.parametrize(("length_m", "amps", "drop_v"), [(40.0, 32.0, 5.76), (151.0, 32.0, 21.7), (106.0, 26.0, 12.4)])
def test_halfway_round_a_ring_a_quarter_of_it_counts(
    profile: Builder, ring: Circuits, length_m: float, amps: float, drop_v: float
) -> None:
    """The load is set so that the current flows behind the drop; 18 mV/A/m is rounded, so within 2 %."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=amps * 230**2 / (230 - drop_v), voltage_v=230)
    result = check([vessel], ring(cable_length_m=length_m, outlet_a=None, plug_fuse_a=None), (), START, DUBLIN)
    finding = find(result, "voltage_drop")
    assert result.voltage_drop_v == pytest.approx(drop_v, rel=0.02)
    assert "halfway round the ring" in finding.message
    assert "appendix 4" in finding.standard
    assert finding.severity == ("over" if drop_v > 11.5 else "ok")


def test_a_ring_is_two_cables_side_by_side(profile: Builder, ring: Circuits) -> None:
    """Two legs of 30 m in parallel lose what a single cable of 15 m does (Kirchhoff)."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=3000, voltage_v=230)
    round_it = check([vessel], ring(cable_length_m=60.0), (), START, DUBLIN)
    single = check([vessel], ring(cable_length_m=15.0, ring=False), (), START, DUBLIN)
    assert round_it.voltage_drop_v == pytest.approx(single.voltage_drop_v)


def test_long_lead_is_a_note(profile: Builder, ring: Circuits) -> None:
    """A lead's drop is no matter of the fixed installation's limit: past 5 % in all it is a note."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2990, voltage_v=230)
    lead = Extension(cable_mm2=1.5, length_m=40.0, rating_a=13.0)
    result = check([vessel], ring(extension=lead), (), START, DUBLIN)
    assert find(result, "voltage_drop").severity == "note"
    assert result.voltage_drop_frac > 0.05
