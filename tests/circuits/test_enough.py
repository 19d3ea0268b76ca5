"""The smallest circuit for a day, and the largest power for a circuit."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from energyplan.base.load import LoadProfile
from energyplan.circuits import remedies
from energyplan.circuits.cables import cable_name
from energyplan.circuits.check import check
from energyplan.circuits.enough import _scaled, enough, largest_power
from energyplan.circuits.findings import Remedy
from energyplan.circuits.remedies import protected_cables_mm2, smallest_breaker_a
from energyplan.physics.conductors import awg_mm2
from energyplan.plan.model import Circuit, Extension, OtherLoad
from energyplan.telling.circuit import enough_sentence

Builder = Callable[..., LoadProfile]
Circuits = Callable[..., Circuit]
START = datetime(2026, 5, 9, 7, tzinfo=UTC)


def test_three_kilowatts_need_a_16_a_circuit(profile: Builder) -> None:
    """13.04 A: breaker 16 A; 16 A x 1.13 = 18.1 A holds the 15.1 A of a high voltage; 1.5 mm2 clipped carries 20 A."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=3000, voltage_v=230)
    found = enough([vessel], Circuit(voltage_v=230.0, installation="C", cable_length_m=15.0), (), START, UTC)
    assert (found.breaker_a, found.cable_mm2, found.outlet_a) == (16.0, 1.5, 13.0)
    assert "BS 1363, 13 A" in found.outlets
    assert "IEC 60309, 16 A" in found.outlets
    assert found.load_a == pytest.approx(13.043, abs=1e-3)
    # BS 7671: 29 mV/A/m (published reproduction) x 15 m x 13.04 A = 5.67 V of 230 V.
    assert found.voltage_drop_frac == pytest.approx(5.67 / 230, rel=0.03)


def test_five_and_a_half_kilowatts_for_four_hours(profile: Builder) -> None:
    """28.6 A of needed rating: 30 A, 10 AWG (30 A in the 60 °C column), a 30 A outlet."""
    vessel = profile("Vessel", [(0, 240, 1)], power_w=5500, voltage_v=240)
    circuit = Circuit(rules="nec", voltage_v=240.0, installation="60", cable_length_m=10.0)
    found = enough([vessel], circuit, (), START, UTC)
    assert (found.breaker_a, cable_name(found.cable_mm2), found.outlet_a) == (30.0, "10 AWG", 30.0)
    assert found.needed_a == pytest.approx(28.646, abs=1e-3)
    assert found.outlets == ("NEMA L6-30", "NEMA 14-30")
    assert found.lasting_a == pytest.approx(22.917, abs=1e-3)
    assert found.shared_a is None, "what lasts asks for as much already"
    alone = enough([vessel], circuit.model_copy(update={"dedicated": True}), (), START, UTC)
    assert (alone.breaker_a, alone.needed_a) == (30.0, pytest.approx(28.646, abs=1e-3))
    hour = profile("Vessel", [(0, 60, 1)], power_w=5500, voltage_v=240)
    short = enough([hour], circuit.model_copy(update={"dedicated": True}), (), START, UTC)
    assert (short.breaker_a, short.needed_a, short.lasting_a) == (25.0, pytest.approx(22.917, abs=1e-3), 0.0)


def test_shared_north_american_circuit_needs_a_fifth_more(profile: Builder) -> None:
    """13 A beside a fridge of 0.5 A: 80 % of 15 A is too little for one appliance, so 16.25 A and a 20 A breaker."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=1560, voltage_v=120)
    fridge = OtherLoad(name="Fridge", power_w=60.0)
    circuit = Circuit(rules="nec", voltage_v=120.0, installation="60")
    found = enough([vessel], circuit, [fridge], START, UTC)
    assert (found.breaker_a, found.outlets) == (20.0, ("NEMA 5-20",))
    assert found.needed_a == pytest.approx(16.25)
    alone = enough([vessel], circuit.model_copy(update={"dedicated": True}), (), START, UTC)
    assert (alone.breaker_a, cable_name(alone.cable_mm2)) == (15.0, "14 AWG")


def test_a_vessel_on_all_three_lines_gets_an_outlet_of_their_voltage(profile: Builder) -> None:
    """6 kW between lines of 400 V, 8.7 A of each: the industrial outlet of five poles."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=6000, voltage_v=400 * 3**0.5)
    vessel = replace(vessel, by_line=(("all", vessel.heater_w_per_v2),))
    circuit = Circuit(voltage_between_lines_v=400.0, line="all", installation="C", cable_length_m=10.0)
    assert enough([vessel], circuit, (), START, UTC).outlets == ("IEC 60309, 16 A, five poles",)


def test_long_run_needs_thicker_copper(profile: Builder) -> None:
    """3 kW over 60 m: 2.5 mm2 would lose 18 mV x 60 x 13.04 = 14.1 V (6 %), 4 mm2 8.6 V (3.7 %)."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=3000, voltage_v=230)
    found = enough([vessel], Circuit(voltage_v=230.0, installation="C", cable_length_m=60.0), (), START, UTC)
    assert found.cable_mm2 == 4.0
    assert found.voltage_drop_frac == pytest.approx(11e-3 * 60 * 13.04 / 230, rel=0.04)


def test_what_was_not_entered_is_said(profile: Builder) -> None:
    """No length, no way of laying: both named, the careful method taken (2.5 mm2 in insulation for 16 A)."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=3000, voltage_v=230)
    found = enough([vessel], Circuit(voltage_v=230.0), (), START, UTC)
    assert found.cable_mm2 == 2.5
    assert (found.is_length_known, found.is_method_guessed, found.method) == (False, True, "A")


def test_beyond_the_tables(profile: Builder) -> None:
    """40 kW: no breaker, cable or outlet of the tables; said in words, not in numbers."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=40_000, voltage_v=230)
    found = enough([vessel], Circuit(voltage_v=230.0), (), START, UTC)
    assert (found.breaker_a, found.cable_mm2, found.outlets, found.outlet_a) == (None, None, (), None)
    assert found.voltage_drop_frac is None
    assert "supply of its own" in str(enough_sentence(found))


def test_smallest_breaker_holds_the_upper_end() -> None:
    """16 A exactly, but 18.5 A at the upper end: past 1.13 x 16 = 18.1 A, so 20 A; NFPA 70 has no such test."""
    assert smallest_breaker_a("iec", 16.0, 18.0) == 16.0
    assert smallest_breaker_a("iec", 16.0, 1.13 * 16.0) == 16.0, "carried for an hour at just that (IEC 60898-1)"
    assert smallest_breaker_a("iec", 16.0, 18.5) == 20.0
    assert smallest_breaker_a("nec", 20.0, 22.0) == 20.0
    assert smallest_breaker_a("iec", 130.0) is None


def test_small_conductor_rule_sizes_the_cable() -> None:
    """30 A in the 90 °C column: 12 AWG carries 30 A but may have 20 A at most (240.4(D)), so 10 AWG."""
    circuit = Circuit(rules="nec", voltage_v=240.0, installation="90")
    assert protected_cables_mm2(circuit, 30.0)[0] == pytest.approx(awg_mm2(10))
    assert protected_cables_mm2(circuit, 500.0) == ()


# By hand as in appendix 4 of BS 7671 (29, 18, 11, 7.3 mV/A/m; published reproductions): 13 A may lose 11.5 V of 230.
@pytest.mark.parametrize(
    ("length_m", "cable_mm2"), [(29.0, 1.5), (33.0, 2.5), (48.0, 2.5), (53.0, 4.0), (79.0, 4.0), (86.0, 6.0)]
)
def test_the_length_decides_the_cable(profile: Builder, length_m: float, cable_mm2: float) -> None:
    """13 A by the plate behind 16 A, clipped: 30.5 m of 1.5 mm2, 49 m of 2.5, 80 m of 4; 5 % more, since less flows.

    A ring is twice as long as half of it.
    """
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2990, voltage_v=230)
    for ring, entered_m in ((False, length_m), (True, 2 * length_m)):
        circuit = Circuit(voltage_v=230.0, installation="C", cable_length_m=entered_m, ring=ring)
        assert enough([vessel], circuit, (), START, UTC).cable_mm2 == cable_mm2


@settings(deadline=None)
@given(st.floats(300.0, 9000.0), st.sampled_from(["A", "B", "C", "E"]), st.floats(0.0, 60.0), st.integers(1, 4))
def test_circuit_that_is_enough_passes_the_check(
    profile: Builder, power_w: float, method: str, length_m: float, grouped: int
) -> None:
    """For any load the proposed breaker and cable leave nothing over in the check."""
    vessel = profile("Vessel", [(0, 240, 1)], power_w=power_w, voltage_v=230)
    base = Circuit(voltage_v=230.0, installation=method, cable_length_m=length_m, grouped_circuits=grouped)
    found = enough([vessel], base, (), START, UTC)
    if found.breaker_a is None or found.cable_mm2 is None:
        return
    result = check([vessel], found.circuit, (), START, UTC)
    assert result.severity != "over"
    assert next(f for f in result.findings if f.code == "breaker").severity == "ok"


@settings(deadline=None)
@given(st.floats(300.0, 9000.0), st.sampled_from(["60", "75", "90"]), st.floats(30.0, 300.0))
def test_north_american_circuit_that_is_enough_passes_the_check(
    profile: Builder, power_w: float, column: str, minutes: float
) -> None:
    """The same under NFPA 70, continuous or not."""
    vessel = profile("Vessel", [(0, minutes, 1)], power_w=power_w, voltage_v=240)
    base = Circuit(rules="nec", voltage_v=240.0, installation=column, cable_length_m=12.0)
    found = enough([vessel], base, (), START, UTC)
    assert found.circuit is not None
    assert check([vessel], found.circuit, (), START, UTC).severity != "over"


# --- the largest power: in steps of 50 W, with the 2 % that a plate means ---


def test_largest_power_of_an_outlet(profile: Builder) -> None:
    """1.02 x 13 A x 230 V = 3050 W, below which 3000 W is the next step."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2000, voltage_v=230)
    circuit = Circuit(voltage_v=230.0, breaker_a=32.0, outlet_a=13.0)
    found = largest_power([vessel], circuit, (), START, UTC)
    assert (found.power_w, found.lasting_power_w) == (3000.0, 3000.0)
    assert found.limited_by == ("outlet",)


def test_largest_power_beside_other_loads(profile: Builder) -> None:
    """1.02 x 16 A less a fridge of 0.5 A and a pump of 35 W: 15.82 x 230 - 35 = 3604 W."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2000, voltage_v=230, other_w=35)
    fridge = OtherLoad(name="Fridge", power_w=115.0)
    found = largest_power([vessel], Circuit(voltage_v=230.0, breaker_a=16.0), [fridge], START, UTC)
    assert found.power_w == 3600.0
    assert found.beside_a == pytest.approx(0.5)
    assert found.limited_by == ("breaker",)


def test_largest_power_counts_only_what_meets_the_vessel(profile: Builder) -> None:
    """A heater that runs before the vessel takes nothing from it: 1.02 x 16 A x 230 V = 3754 W."""
    vessel = profile("Vessel", [(60, 120, 1)], power_w=2000, voltage_v=230)
    heater = profile("Heater", [(0, 60, 1)], power_w=2000, voltage_v=230)
    found = largest_power([vessel, heater], Circuit(voltage_v=230.0, breaker_a=16.0), (), START, UTC)
    assert found.power_w == 3750.0


def test_largest_power_on_a_wound_lead(profile: Builder) -> None:
    """1.02 x 5 A on a reel left wound, behind its 0.77 ohm: 1194 W of plates."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2000, voltage_v=230)
    wound = Extension(cable_mm2=1.5, length_m=25.0, rating_wound_a=5.0, unwound=False)
    found = largest_power([vessel], Circuit(voltage_v=230.0, breaker_a=16.0, extension=wound), (), START, UTC)
    assert (found.power_w, found.limited_by) == (1150.0, ("extension",))


def test_largest_power_in_north_america(profile: Builder) -> None:
    """20 A at 120 V: 2448 W alone, 1958 W (80 %) for 3 h and more; 1920 W, by the plate, as one of several."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=1500, voltage_v=120)
    circuit = Circuit(rules="nec", voltage_v=120.0, breaker_a=20.0, outlet_a=20.0, dedicated=True)
    alone = largest_power([vessel], circuit, (), START, UTC)
    assert (alone.power_w, alone.lasting_power_w) == (2400.0, 1950.0)
    for dedicated in (False, None):
        shared = largest_power([vessel], circuit.model_copy(update={"dedicated": dedicated}), (), START, UTC)
        assert shared.power_w == 1900.0


def test_largest_power_of_a_full_circuit(profile: Builder) -> None:
    """Where the rest already fills the breaker nothing is left, and never less than nothing."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2000, voltage_v=230)
    oven = OtherLoad(name="Oven", power_w=5000.0)
    found = largest_power([vessel], Circuit(voltage_v=230.0, breaker_a=16.0), [oven], START, UTC)
    assert (found.power_w, found.over_anyway) == (0.0, ("breaker",))


def test_largest_power_without_ratings(profile: Builder) -> None:
    """Nothing entered, nothing claimed; without a breaker a lasting load has no limit of its own."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2000, voltage_v=240)
    found = largest_power([vessel], Circuit(voltage_v=230.0), (), START, UTC)
    assert (found.power_w, found.lasting_power_w, found.limited_by) == (None, None, ())
    cable_only = Circuit(rules="nec", voltage_v=240.0, cable_mm2=awg_mm2(12), installation="60")
    found = largest_power([vessel], cable_only, (), START, UTC)
    assert found.power_w == found.lasting_power_w == 4850.0


@pytest.mark.parametrize(("power_w", "asked_a"), [(2280.0, 2280 / 120 / 0.8), (2520.0, None)])
def test_only_a_circuit_of_twenty_amperes_asks_for_a_fifth_more(
    profile: Builder, power_w: float, asked_a: float | None
) -> None:
    """19 A on a shared circuit ask for 23.75 A; 21 A are beyond the circuits of 15 and 20 A that the rule is about."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=power_w, voltage_v=120)
    found = enough([vessel], Circuit(rules="nec", voltage_v=120.0, installation="60"), (), START, UTC)
    assert found.shared_a == (None if asked_a is None else pytest.approx(asked_a))


@pytest.mark.parametrize(("beside_w", "left_w"), [(3519.0, None), (3460.0, 200.0)])
def test_hardly_any_element_is_no_way_out(profile: Builder, beside_w: float, left_w: float | None) -> None:
    """16 A less 15.3 A leave 161 W, which brews nothing; less 15.04 A 220 W, told as 200."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=2800, voltage_v=230)
    circuit = Circuit(voltage_v=230.0, breaker_a=16.0, breaker_curve="B", dedicated=True)
    checked = check([vessel], circuit, [OtherLoad(name="Kettle", power_w=beside_w)], START, UTC)
    found = next(one for one in checked.findings if one.code == "breaker")
    ways = [remedy.facts["elements_w"] for remedy in found.remedies if remedy.code == "fewer elements"]
    assert ways == ([] if left_w is None else [left_w])


def test_what_mends_the_plug_leaves_the_breaker_its_other_loads(profile: Builder) -> None:
    """14 A are over a plug of 13 A; beside 6 A the breaker of 16 A leaves the vessel 10 A, 2300 W, not those 13."""
    vessel = profile("Vessel", [(0, 60, 1)], power_w=3220, voltage_v=230)
    circuit = Circuit(voltage_v=230.0, breaker_a=16.0, breaker_curve="B", outlet_a=13.0, plug_fuse_a=13.0)
    checked = check([vessel], circuit, [OtherLoad(name="Kettle", power_w=1380.0)], START, UTC)
    ways = {found.code: remedy.facts["elements_w"] for found in checked.findings for remedy in found.remedies
            if remedy.code == "fewer elements"}  # fmt: skip
    assert {"breaker", "outlet", "plug_fuse"} <= set(ways)
    assert set(ways.values()) == {2300.0}


@pytest.mark.parametrize("scale", [0.0, 0.5, 1.0, 2.0])
def test_scaled_elements_leave_what_runs_beside_them(profile: Builder, scale: float) -> None:
    """An hour at full power and one at a tenth beside 50 W: of the energy only the elements' part is scaled."""
    load = profile("Vessel", [(0, 60, 1.0), (60, 120, 0.1)], power_w=2000.0, voltage_v=230.0, other_w=50.0)
    assert load.energy_kwh == pytest.approx(2.2 + 0.1)
    assert _scaled(load, scale).energy_kwh == pytest.approx(2.2 * scale + 0.1)


def test_a_severity_works_out_no_remedy(profile: Builder, sixteen: Circuits, monkeypatch: pytest.MonkeyPatch) -> None:
    """What judges many circuits looks for no way out; who asks for the ways of one finding gets them."""
    looked_at: list[float] = []

    def shifts(limit_a: float, *_: object) -> list[Remedy]:
        looked_at.append(limit_a)
        return []

    monkeypatch.setattr(remedies, "_shifts", shifts)
    vessel = profile("Vessel", [(0, 90, 1)], power_w=3500, voltage_v=230)
    heater = profile("Second heater", [(30, 60, 1)], power_w=1500, voltage_v=230)
    found = check([vessel, heater], sixteen(), (), START, UTC)
    assert found.severity == "over"
    assert enough([vessel, heater], sixteen(), (), START, UTC).breaker_a == 25.0
    # 16 A and 2 % lose 5.22 V in 0.320 ohm of warm cable: 3841 W of plates, of which the heater has 1500 W.
    assert largest_power([vessel, heater], sixteen(), (), START, UTC).power_w == 2300.0
    assert looked_at == []
    breaker = next(finding for finding in found.findings if finding.code == "breaker")
    assert "bigger circuit" in [way.code for way in breaker.remedies]
    assert looked_at == [16.0], "worked out"
    assert len(breaker.remedies) == len(tuple(breaker.remedies))
    assert looked_at == [16.0], "once"
