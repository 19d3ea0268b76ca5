"""Ramps under the ratings of a circuit."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

from energyplan.advice.answer import answer
from energyplan.advice.ramps import Mend, RampAdvice, clipped, mends, over_codes, ramp_caps, resting
from energyplan.advice.variants import settings_w, with_ramp_caps
from energyplan.base.errors import PlanError
from energyplan.circuits.check import check
from energyplan.circuits.findings import Finding
from energyplan.day.brewday import simulate
from energyplan.plan.model import Batch, Circuit, Extension, OtherLoad, Plan, SecondHeater, Step

START = datetime(2026, 12, 5, 9, tzinfo=UTC)


def switched(builders, breaker_a: float, *others: OtherLoad, **tables) -> Plan:  # type: ignore[no-untyped-def]
    """A switched vessel of 2000 W and 1000 W, strike and boil, on a breaker."""
    steps = (Step(name="Strike", target_c=70.0), Step(name="Boil", boil=True, hold_s=600.0, hold_power_w=2000.0))
    circuit = Circuit(voltage_v=230.0, breaker_a=breaker_a)
    vessel = builders.vessel(2000.0, 1000.0, control="switched")
    return builders.water_plan(*steps, vessel=vessel, circuit=circuit, other_loads=others, **tables)


def found(plan: Plan) -> RampAdvice:
    """Advice on a plan's ramps at nine."""
    return ramp_caps(simulate(plan), START, UTC)


def over(plan: Plan) -> tuple[str, ...]:
    """Findings of a plan that are over."""
    assert plan.circuit is not None
    return over_codes(check(simulate(plan).profiles, plan.circuit, plan.other_loads, START, UTC))


def test_a_circuit_that_carries_all_leaves_all(builders) -> None:
    """3000 W are 13.04 A on 16 A: nothing changes."""
    advice = found(switched(builders, 16.0))
    assert [row.fastest_w for row in advice.rows] == [3000.0, 3000.0]
    assert advice.added_min == advice.added_kwh == 0.0
    assert advice.over_before == advice.over_after == ()


def test_the_fastest_combination_within_the_breaker(builders) -> None:
    """10 A carry 2300 W: 2000 W it is; slower and, for the longer loss, more kWh."""
    plan = switched(builders, 10.0)
    advice = found(plan)
    assert [row.fastest_w for row in advice.rows] == [2000.0, 2000.0]
    assert [finding.code for finding in advice.over_before] == ["breaker"]
    assert advice.over_after == ()
    assert advice.added_min > 0
    assert advice.added_kwh > 0
    assert advice.rows[0].limited_by == ("breaker",)
    assert over(advice.plan) == ()


def test_every_faster_setting_would_be_over(builders) -> None:
    """Brute force over all settings of each ramp, the other as found."""
    plan = switched(builders, 10.0)
    advice = found(plan)
    for row in advice.rows:
        for power_w in settings_w(plan.vessel)[1:]:  # 1000 W would stall on the way to the boil
            fits = over(with_ramp_caps(advice.plan, {row.step: power_w})) == ()
            assert fits == (row.fastest_w is not None and power_w <= row.fastest_w)


def test_other_loads_count_at_their_hours(builders) -> None:
    """A 2 kW oven meets one of the ramps for 20 min, which is more than a peak of minutes, and not the other."""
    oven = OtherLoad(name="Oven", power_w=2000.0, from_min=540, to_min=560)
    advice = found(switched(builders, 16.0, oven))
    assert [row.fastest_w for row in advice.rows] == [1000.0, 3000.0]
    assert advice.over_after == ()


def test_a_ramp_that_the_plan_caps_lower_stays_so(builders) -> None:
    """The plan's own cap may be there against scorching; a step less costs minutes."""
    plan = with_ramp_caps(switched(builders, 16.0), {"Strike": 2000.0})
    row = found(plan).rows[0]
    assert (row.set_w, row.fastest_w, row.taken_w, row.less_w) == (2000.0, 3000.0, 2000.0, 1000.0)
    assert row.less_min is not None
    assert row.less_min > 1.9 * row.taken_min


def test_a_lower_setting_that_stalls_has_no_minutes(builders) -> None:
    """1000 W don't boil 25 litres open."""
    row = found(switched(builders, 10.0)).rows[1]
    assert row.less_w == 1000.0
    assert row.less_min is None


def test_pulsed_elements_have_no_cap_that_helps(builders) -> None:
    """They draw in full whatever the cap, so other ways out are named; fewer elements keep the rating."""
    plan = switched(builders, 10.0)
    steps = tuple(step.model_copy(update={"lid": "ajar"}) if step.boil else step for step in plan.steps)
    pulsed = plan.vessel.model_copy(update={"control": "modulated"})
    plan = plan.model_copy(update={"vessel": pulsed, "steps": steps})
    advice = found(plan)
    assert [row.fastest_w for row in advice.rows] == [None, None]
    assert advice.plan == plan
    assert advice.pulsed
    (way,) = advice.ways_out
    assert way.kind == "fewer elements"
    assert way.elements_w == (2000.0,)
    assert way.over == ()
    fewer = plan.vessel.model_copy(update={"elements": plan.vessel.elements[:1]})
    assert over(plan.model_copy(update={"vessel": fewer})) == ()


def test_elements_that_mend_are_told_alike_beside_ramps_and_circuit(demo: Plan) -> None:
    """10 A behind the demo's vessel and fridge: one power, whichever page says how much may be on at a time."""
    assert demo.circuit is not None
    plan = demo.model_copy(update={"circuit": demo.circuit.model_copy(update={"breaker_a": 10.0})})
    whole = answer(plan, None, START)
    beside = ramp_caps(whole.day, whole.start, UTC)

    def powers_w(findings: Iterable[Finding]) -> set[float]:
        ways = [way for one in findings for way in one.remedies]
        return {way.facts["elements_w"] for way in ways if way.code == "fewer elements"}

    assert powers_w(beside.over_after) == powers_w(whole.mended(whole.findings))
    assert len(powers_w(beside.over_after)) == 1


def test_fewer_elements_that_no_longer_boil_are_no_way_out(builders) -> None:
    """With 1300 W the pot gets to the boil ajar, but the open boil stops, which the plan's own check would say."""
    steps = (
        Step(name="Up", target_c=97.0),
        Step(name="Boil", boil=True, hold_s=600.0, lid="ajar"),
        Step(name="Open", boil=True, hold_s=1200.0),
    )
    circuit = Circuit(voltage_v=230.0, breaker_a=6.0)
    plan = builders.water_plan(*steps, vessel=builders.vessel(1800.0, 1300.0), circuit=circuit)
    assert "fewer elements" not in [way.kind for way in found(plan).ways_out]


def test_fewer_elements_end_with_the_same_wort(builders) -> None:
    """Water is filled in for what steams away on the longer way; energy and minutes are those of the same wort."""
    plan = switched(builders, 12.0)
    steps = tuple(step.model_copy(update={"hold_power_w": None}) for step in plan.steps)
    vessel = builders.vessel(2700.0, 500.0)
    plan = plan.model_copy(update={"vessel": vessel, "steps": steps})
    (way,) = (way for way in found(plan).ways_out if way.kind == "fewer elements")
    assert abs(way.added_water_l) > 0.01
    fewer = plan.vessel.model_copy(update={"elements": plan.vessel.elements[:1]})
    batch = plan.batch.model_copy(update={"water_l": plan.batch.water_l + way.added_water_l})
    day = simulate(plan.model_copy(update={"vessel": fewer, "batch": batch}))
    assert day.wort.end_l == pytest.approx(simulate(plan).wort.end_l, abs=1e-6)
    assert way.added_kwh == pytest.approx(day.energy_kwh - simulate(plan).energy_kwh, abs=1e-9)


def test_second_heater_earlier(demo: Plan) -> None:
    """16 A don't carry both heaters of the packaged plan; shifted before the start they do."""
    advice = ramp_caps(simulate(demo), START, UTC)
    kinds = {way.kind: way for way in advice.ways_out}
    assert kinds["second heater earlier"].shift_min > 0
    assert kinds["second heater earlier"].over == ()


def test_switched_holds_with_fewer_elements(demo: Plan) -> None:
    """Where the vessel holds with all elements beside the second heater, the advised power is a way out."""
    steps = tuple(step.model_copy(update={"hold_power_w": None, "ramp_power_w": None}) for step in demo.steps)
    vessel = demo.vessel.model_copy(update={"control": "switched"})
    assert demo.circuit is not None
    mended = demo.circuit.model_copy(update={"breaker_a": 13.0})
    plan = demo.model_copy(update={"steps": steps, "vessel": vessel, "circuit": mended})
    kinds = [way.kind for way in ramp_caps(simulate(plan), START, UTC).ways_out]
    assert any("lower holds" in kind for kind in kinds)


def test_what_is_over_with_everything_off_is_not_blamed_on_the_ramps(builders) -> None:
    """A 32 A breaker on 1.5 mm2 is over whatever is heated; the ramps keep their power, and a note says so."""
    plan = switched(builders, 16.0)
    circuit = Circuit(voltage_v=230.0, breaker_a=32.0, cable_mm2=1.5, cable_length_m=5.0)
    advice = found(plan.model_copy(update={"circuit": circuit}))
    assert [finding.code for finding in advice.over_after] == ["cable_protection"]
    assert [row.fastest_w for row in advice.rows] == [3000.0, 3000.0]
    assert advice.idle_over == ("cable_protection",)


def test_no_circuit_is_refused(builders) -> None:
    """Nothing limits a ramp."""
    with pytest.raises(PlanError, match=r"no \[circuit\]"):
        found(builders.water_plan(Step(name="Warm", target_c=60.0)))


def test_a_clipped_load_keeps_its_powers(demo: Plan) -> None:
    """The piece has the power of the whole at every moment inside; a heater outside is not there."""
    vessel, second = simulate(demo).profiles
    piece = clipped(vessel, 1000.0, 9000.0)
    assert piece is not None
    middles_s = (piece.edges_s[1:] + piece.edges_s[:-1]) / 2
    assert (piece.mean_w == vessel.at(vessel.mean_w, middles_s)).all()
    assert (piece.edges_s[0], piece.edges_s[-1]) == (1000.0, 9000.0)
    assert clipped(second, 0.0, 10.0) is None


SOUND = {
    "voltage_v": 230.0, "breaker_a": 16.0, "breaker_curve": "B", "outlet_a": 16.0, "cable_mm2": 2.5,
    "cable_length_m": 10.0, "installation": "C", "residual_current_device": "30 mA, type A", "earth_loop_ohm": 0.5,
    "place": "dry", "dedicated": True,
}  # fmt: skip


def mended(builders, *others: OtherLoad, watts: float = 2000.0, **changes: object) -> dict[str, Mend]:  # type: ignore[no-untyped-def]
    """Mends of a day of one element on a circuit, by what they do."""
    plan = builders.water_plan(
        Step(name="Strike", target_c=70.0), vessel=builders.vessel(watts), circuit=Circuit(**{**SOUND, **changes}),
        other_loads=others,
    )  # fmt: skip
    return {one.remedy.code: one for one in mends(answer(plan, None, START))}


def graves(one: Mend) -> list[str]:
    """What is over after it."""
    return [finding.code for finding in one.after.findings if finding.severity == "over"]


def test_a_sound_circuit_has_no_mends(builders) -> None:  # type: ignore[no-untyped-def]
    """Nothing over, nothing noted that an entry would change."""
    assert mended(builders) == {}


def test_a_wound_lead_is_unwound(builders) -> None:  # type: ignore[no-untyped-def]
    """1.5 mm2 carries 16 A and, wound, 35 % of that: 8.7 A are too much until it lies straight."""
    lead = Extension(cable_mm2=1.5, length_m=10.0, unwound=False)
    found = mended(builders, extension=lead)
    assert graves(found["unwind"]) == []
    circuit = found["unwind"].plan.circuit
    assert circuit is not None
    assert circuit.extension == lead.model_copy(update={"unwound": True})


def test_a_load_beside_moves_to_another_breaker(builders) -> None:  # type: ignore[no-untyped-def]
    """13.0 A and an oven of 8.7 A on 16 A: without the oven, or on the circuit that is enough for both."""
    oven = OtherLoad(name="Oven", power_w=2000.0)
    found = mended(builders, oven, watts=3000.0)
    assert graves(found["others off"]) == graves(found["bigger circuit"]) == []
    moved = found["others off"].plan
    assert (moved.other_loads, moved.house_loads) == ((), (oven,))
    larger = found["bigger circuit"].plan.circuit
    assert larger is not None
    assert larger.breaker_a == 25.0


def test_what_is_only_asked_for_is_carried_out_and_what_does_not_help_is_left_out(builders) -> None:  # type: ignore[no-untyped-def]
    """No residual current device: with one nothing is over. An appliance that an outlet is not made for stays."""
    assert graves(mended(builders, residual_current_device=False)["residual"]) == []
    assert mended(builders, outlet_a=10.0, breaker_a=10.0, watts=3000.0).keys() == {"bigger circuit"}


def test_what_nobody_looked_at_is_not_mended_by_a_plan(builders) -> None:  # type: ignore[no-untyped-def]
    """Unknown loop, place and sharing: the remedies ask for an entry, and none of them is made up."""
    assert mended(builders, earth_loop_ohm=None, place=None, dedicated=None) == {}


def test_the_second_heater_moves_to_another_breaker(builders) -> None:  # type: ignore[no-untyped-def]
    """2500 W and 2500 W of second heater are 21.7 A on 16 A: apart, 10.9 A."""
    plan = builders.water_plan(
        Step(name="Strike", target_c=70.0), Step(name="Sparge", target_c=75.0), vessel=builders.vessel(2500.0),
        circuit=Circuit(**SOUND), second_heater=SecondHeater(power_w=2500.0, ready_at_step="Sparge"),
        batch=Batch(water_l=25.0, water_temperature_c=12.0, sparge_water_l=8.0),
    )  # fmt: skip
    found = {one.remedy.code: one for one in mends(answer(plan, None, START))}
    apart = found["second heater elsewhere"]
    assert graves(apart) == []
    assert apart.plan.second_heater is not None
    assert apart.plan.second_heater.own_circuit


def test_each_number_of_a_ramp_is_that_of_a_day(builders) -> None:
    """Minutes with the power set, taken and a step less, each simulated alone; when it begins as planned."""
    plan = switched(builders, 10.0)
    advice, day = found(plan), simulate(plan)
    taken = plan
    for row in advice.rows:
        ramp = next(p for p in day.phases if (p.step, p.phase) == (row.step, "ramp"))
        assert row.start_s == ramp.start_s

        def minutes(power_w: float, within: Plan = taken, step: str = row.step) -> float:
            alone = simulate(with_ramp_caps(within, {step: power_w}), extract=day.wort.extract_kg)
            return next(p.duration_s for p in alone.phases if (p.step, p.phase) == (step, "ramp")) / 60

        assert (row.set_min, row.taken_min) == (pytest.approx(minutes(row.set_w)), pytest.approx(minutes(row.taken_w)))
        assert (row.set_w, row.taken_w, row.less_w) == (3000.0, 2000.0, 1000.0)
        if row.less_min is not None:
            assert row.less_min == pytest.approx(minutes(row.less_w))
        taken = with_ramp_caps(taken, {row.step: row.taken_w})
    after = simulate(taken, extract=day.wort.extract_kg)
    assert advice.plan == taken
    assert advice.added_min == pytest.approx((after.duration_s - day.duration_s) / 60)
    assert advice.added_kwh == pytest.approx(after.energy_kwh - day.energy_kwh)
    assert (advice.pulsed, advice.idle_over, advice.ways_out) == (False, (), ())
    assert advice.start == START


def test_a_second_heater_moves_by_five_minutes_until_it_fits(demo: Plan) -> None:
    """The least shift that mends: a step of five minutes less still breaks what it mends."""
    day = simulate(demo)
    ways = {way.kind: way for way in ramp_caps(day, START, UTC).ways_out}
    earlier = ways.get("second heater earlier")
    assert earlier is not None
    assert earlier.shift_min % 5 == 0
    second = next(profile for profile in day.profiles if profile.name == "Second heater")

    def over_with(shift_min: float) -> set[str]:
        moved = replace(second, edges_s=second.edges_s - 60 * shift_min)
        rest = [profile for profile in day.profiles if profile is not second]
        return set(over_codes(check((*rest, moved), day.plan.circuit, day.plan.other_loads, START, UTC)))

    assert over_with(earlier.shift_min) == set(earlier.over)
    assert over_with(earlier.shift_min - 5.0) >= over_with(0.0)
    assert (earlier.added_min, earlier.added_kwh, earlier.added_water_l) == (0.0, 0.0, 0.0)


def test_a_resting_load_draws_nothing(demo: Plan) -> None:
    """Its edges and its name stay."""
    vessel = simulate(demo).profiles[0]
    rests = resting(vessel)
    assert (rests.name, rests.edges_s.tolist(), rests.by_line) == (vessel.name, vessel.edges_s.tolist(), ())
    assert not any(column.any() for column in (rests.mean_w, rests.heater_w_per_v2, rests.other_w))


def test_a_piece_of_a_load_reaches_to_its_ends_and_no_further(demo: Plan) -> None:
    """The vessel is there over all of it; a heater from its first second to its last."""
    vessel, second = simulate(demo).profiles
    begins_s, ends_s = float(second.edges_s[0]), float(second.edges_s[-1])
    for from_s, to_s in ((begins_s - 60, begins_s + 60), (ends_s - 60, ends_s + 60)):
        piece, around = clipped(second, from_s, to_s), clipped(vessel, from_s, to_s)
        assert (piece.edges_s[0], piece.edges_s[-1]) == (max(from_s, begins_s), min(to_s, ends_s))
        assert (around.edges_s[0], around.edges_s[-1]) == (from_s, to_s)
        assert np.diff(piece.edges_s).sum() == pytest.approx(60.0)
    assert clipped(second, ends_s, ends_s + 60) is None
    assert clipped(second, begins_s - 60, begins_s) is None
