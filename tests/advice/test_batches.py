"""Bigger batches and two on one day."""

from dataclasses import replace
from datetime import UTC, datetime
from types import ModuleType

import numpy as np
import pytest

from energyplan.advice.batches import SizedBatch, joined, largest_batch, resized, two_batches, without_cleaning
from energyplan.advice.heat import KeptWater, start_c_with
from energyplan.base.errors import BrewDayError, PlanError
from energyplan.base.load import LoadProfile
from energyplan.circuits.check import check
from energyplan.day.brewday import BrewDay, simulate
from energyplan.physics.conductors import awg_mm2
from energyplan.plan.model import Action, Circuit, Plan, Step
from energyplan.telling.comparison import refusal

START = datetime(2026, 12, 5, 8, tzinfo=UTC)
CP_KJ, KJ_PER_KWH = 4.186, 3600.0


def _energy_kwh(day: BrewDay, phase: str) -> float:
    return sum(one.energy_j for one in day.phases if one.phase == phase) / 3.6e6


def why(batch: SizedBatch) -> str:
    """The refusal behind a size, in words."""
    assert batch.why_not is not None
    return str(refusal(batch.why_not.error))


# --- a bigger batch ---
def test_a_bigger_batch_is_the_same_wort(demo_day: BrewDay) -> None:
    """1.3 times as much after the boil, of 1.3 times the grain and extract, and within half a point of gravity.

    Less boils off per litre, so the wort that the grain holds back is richer: the gravity is a little lower.
    """
    found = resized(demo_day, 1.3 * demo_day.wort.end_l)
    assert found.day is not None
    assert (found.times, found.why_not) == (pytest.approx(1.3), None)
    assert found.day.wort.end_l == pytest.approx(1.3 * demo_day.wort.end_l, abs=1e-4)
    assert found.day.wort.extract_kg == pytest.approx(1.3 * demo_day.wort.extract_kg)
    assert 0 <= demo_day.wort.gravity_end - found.day.wort.gravity_end < 5e-4
    assert found.day.plan.batch.grain_kg == pytest.approx(1.3 * 5.8)


def test_its_energy_is_not_scaled(demo_day: BrewDay) -> None:
    """A third more wort takes far less than a third more: the boil takes what it did, the ramps the heat of the water.

    By hand, for the added litres: 59 K to the strike, 9 K to the mash-out with 0.4 kJ/kgK x 4.186 of the added grain,
    25 K to the boil; what the longer ramps and the leads lose comes on top, less than 20 %.
    """
    found = resized(demo_day, 4 / 3 * demo_day.wort.end_l)
    assert found.day is not None
    assert _energy_kwh(found.day, "boil") == pytest.approx(_energy_kwh(demo_day, "boil"), rel=0.01)
    added_l = found.day.plan.batch.water_l - demo_day.plan.batch.water_l
    added_kwh = _energy_kwh(found.day, "ramp") - _energy_kwh(demo_day, "ramp")
    mash_l = added_l + 0.4 * (found.day.plan.batch.grain_kg - demo_day.plan.batch.grain_kg)
    boiled_l = found.day.wort.before_boil_l - demo_day.wort.before_boil_l
    by_hand_kwh = (added_l * 59 + mash_l * 9 + boiled_l * 25) * CP_KJ / KJ_PER_KWH
    assert by_hand_kwh < added_kwh < 1.2 * by_hand_kwh
    assert demo_day.energy_kwh < found.day.energy_kwh < 1.25 * demo_day.energy_kwh


def test_the_planned_size_is_the_planned_day(demo_day: BrewDay) -> None:
    """Once times the batch changes nothing."""
    found = resized(demo_day, demo_day.wort.end_l)
    assert found.day is not None
    assert found.day.energy_kwh == pytest.approx(demo_day.energy_kwh, abs=1e-6)


def test_a_batch_that_runs_over_or_has_too_much_grain(demo: Plan, demo_day: BrewDay) -> None:
    """Twice the batch is more than 48.9 L of mash; a basket of 7 kg is full before."""
    over = resized(demo_day, 2 * demo_day.wort.end_l)
    assert over.day is None
    assert "run over" in why(over)
    basket = demo.vessel.model_copy(update={"most_grain_kg": 7.0})
    small = simulate(demo.model_copy(update={"vessel": basket}))
    full = resized(small, 1.3 * small.wort.end_l)
    assert full.day is None
    assert "takes 7.00 kg of grain" in why(full)
    most = largest_batch(small)
    assert most.times == pytest.approx(7.0 / 5.8, abs=3e-4)
    assert "7.00 kg of grain" in why(most)
    for odd in (0.0, -1.0, np.nan):
        with pytest.raises(PlanError, match="more than 0"):
            resized(demo_day, odd)


def test_the_largest_leaves_room_for_foam(demo_day: BrewDay) -> None:
    """Nine tenths full to a tenth of a percent, and half a tenth of a percent more would be fuller."""
    most = largest_batch(demo_day)
    assert most.day is not None
    assert 0.899 < most.day.wort.fullest_frac <= 0.9 + 1e-9
    more = resized(demo_day, (most.times + 5e-4) * demo_day.wort.end_l)
    assert more.day is not None
    assert more.day.wort.fullest_frac > 0.9
    assert most.why_not is not None
    assert most.why_not.code == "no_room"


def test_a_plan_that_is_fuller_than_that_keeps_its_size(demo_day: BrewDay) -> None:
    """Its own level is the most that is offered."""
    full = resized(demo_day, 1.55 * demo_day.wort.end_l)
    assert full.day is not None
    assert full.day.wort.fullest_frac > 0.93
    assert largest_batch(full.day).times == pytest.approx(1.0, abs=3e-4)


def test_a_small_batch_in_a_large_vessel_grows_fourfold(builders: ModuleType) -> None:
    """10 L in 49: four times is as far as is looked for, and it fits."""
    plan = builders.water_plan(Step(name="Boil", boil=True, hold_s=600.0), water_l=9.0)
    most = largest_batch(simulate(plan))
    assert most.times == pytest.approx(4.0)
    assert most.day is not None


# --- two on one day ---
def test_cleaning_is_left_out_once(demo: Plan) -> None:
    """Everything up to the emptying after the boil; a plan without it stays as it is."""
    assert without_cleaning(demo).steps[-1].name != "Cleaning"
    assert len(without_cleaning(demo).steps) == len(demo.steps) - 1
    assert without_cleaning(without_cleaning(demo)) == without_cleaning(demo)


def test_two_days_add_up(demo: Plan, demo_day: BrewDay) -> None:
    """Energy of both, one cleaning less; hours of both and the time between."""
    two = two_batches(demo_day, between_s=1200.0)
    first = simulate(without_cleaning(demo))
    assert two.energy_kwh == pytest.approx(first.energy_kwh + demo_day.energy_kwh)
    assert two.apart_kwh == pytest.approx(2 * demo_day.energy_kwh)
    assert two.duration_s == pytest.approx(first.duration_s + 1200.0 + demo_day.duration_s)
    assert two.end_l == pytest.approx(2 * demo_day.wort.end_l)
    assert two.second_start_c == pytest.approx(12.0)
    assert two.circuit is None


def test_kept_water_warms_the_second_strike_and_nothing_else(demo: Plan, demo_day: BrewDay) -> None:
    """The second begins as the heat balance says; its sparge water is heated from cold, for as long as the first's."""
    kept = KeptWater(volume_l=25.0, temperature_c=55.0, wait_s=1800.0)
    two = two_batches(demo_day, kept=kept)
    assert two.second_start_c == pytest.approx(start_c_with(demo, 25.0, kept.used_c(11.0)))
    heater = next(profile for profile in two.profiles if profile.name == "Second heater")
    on_s = np.diff(heater.edges_s)[heater.mean_w > 0]
    assert on_s == pytest.approx([on_s[0], on_s[0]])
    sparge = next(phase for phase in two.second.phases if phase.step == "Sparge")
    assert heater.edges_s[-1] == pytest.approx(two.second_s + sparge.start_s)
    cold = two_batches(demo_day)
    brought_kwh = 25.0 * 0.9857 * CP_KJ * (kept.used_c(11.0) - 12.0) / KJ_PER_KWH
    assert brought_kwh < cold.energy_kwh - two.energy_kwh < 1.15 * brought_kwh
    hot = two_batches(demo_day, vessel_c=60.0)
    assert hot.second_start_c > 12.0


def test_more_than_the_wort_gives_can_not_be_kept(demo_day: BrewDay) -> None:
    """And no time may be negative."""
    with pytest.raises(PlanError, match="more heat than"):
        two_batches(demo_day, kept=KeptWater(volume_l=45.0, temperature_c=70.0))
    for between_s in (-1.0, np.inf, np.nan):
        with pytest.raises(PlanError, match="time between"):
            two_batches(demo_day, between_s=between_s)


def test_loads_of_two_days_minute_by_minute(demo_day: BrewDay) -> None:
    """Each minute draws what the first day drew then, or the second counted from its own start."""
    two = two_batches(demo_day, between_s=900.0)
    minutes_s = 60.0 * np.arange(0, two.duration_s // 60) + 30.0
    for load, once, again in zip(two.profiles, two.first.profiles, demo_day.profiles, strict=True):
        for column in ("mean_w", "heater_w_per_v2", "other_w"):
            expected = once.at(getattr(once, column), minutes_s)
            expected = expected + again.at(getattr(again, column), minutes_s - two.second_s)
            assert load.at(getattr(load, column), minutes_s) == pytest.approx(expected)


def test_loads_of_other_names_stay_apart() -> None:
    """A load that only one of the days has is there once."""
    nothing = np.zeros(1)
    one, other = (
        LoadProfile(name=name, edges_s=np.array([0.0, 60.0]), mean_w=np.array([100.0]), heater_w_per_v2=nothing,
                    other_w=nothing)
        for name in ("a", "b")
    )  # fmt: skip
    loads = joined([one], [other], 30.0)
    assert [(load.name, load.edges_s.tolist()) for load in loads] == [("a", [0.0, 60.0]), ("b", [30.0, 90.0])]


def test_two_days_make_a_continuous_load(builders: ModuleType) -> None:
    """Boils of 2 h on a North American circuit: alone below three hours, one after the other without a gap above.

    28 A alone need 28 A of a 30 A breaker; lasting more than three hours they need 35 A (NFPA 70 210.20(A)).
    """
    circuit = Circuit(
        rules="nec", voltage_v=240.0, breaker_a=30.0, breaker_curve="inverse", cable_mm2=awg_mm2(10), installation="60"
    )
    vessel = builders.vessel(28 * 230.0)
    vessel = vessel.model_copy(
        update={"elements": (vessel.elements[0].model_copy(update={"voltage_v": 240.0, "power_w": 28 * 240.0}),)}
    )
    plan = builders.water_plan(
        Step(name="Boil", boil=True, hold_s=6600.0, lid="ajar"), water_l=40.0, water_c=60.0, vessel=vessel,
        circuit=circuit,
    )  # fmt: skip
    day = simulate(plan)
    alone = check(day.profiles, circuit, (), START, UTC)
    two = two_batches(day, between_s=0.0, when=(START, UTC))
    assert two.circuit is not None
    found = {
        name: next(one for one in checked.findings if one.code == "continuous").severity
        for name, checked in (("alone", alone), ("two", two.circuit))
    }
    assert found == {"alone": "ok", "two": "over"}
    in_all_s, stretch_s = two.heating_s
    assert stretch_s == pytest.approx(in_all_s)
    assert stretch_s > 3 * 3600.0
    apart = two_batches(day, between_s=1200.0, when=(START, UTC))
    assert apart.heating_s[1] < 3 * 3600.0 < apart.heating_s[0]


def test_a_day_that_can_not_be_brewed_says_so(builders: ModuleType) -> None:
    """Errors of the simulation come through."""
    with pytest.raises(BrewDayError):
        simulate(builders.water_plan(Step(name="Heat", target_c=60.0), water_l=60.0))


# --- by hand ---
def load_of(name: str, edges_s: list[float], watts: list[float], **more: object) -> LoadProfile:
    """A load whose elements are on wherever it takes power; 230 V."""
    power = np.array(watts)
    return LoadProfile(name=name, edges_s=np.array(edges_s), mean_w=power, heater_w_per_v2=power / 230.0**2,
                       other_w=np.zeros(power.size), **more)  # fmt: skip


def test_loads_of_one_name_add_up_where_they_meet() -> None:
    """1 kW for an hour; the same again half an hour later on another line: 1, 2 and 1 kW, each line its own."""
    first = load_of("Vessel", [0.0, 3600.0], [1000.0], by_line=(("L1", np.array([0.01])),))
    second = load_of("Vessel", [0.0, 3600.0], [1000.0], by_line=(("L2", np.array([0.02])),))
    (both,) = joined([first], [second], 1800.0)
    assert both.edges_s.tolist() == [0.0, 1800.0, 3600.0, 5400.0]
    assert both.mean_w.tolist() == [1000.0, 2000.0, 1000.0]
    assert (both.heater_w_per_v2 * 230.0**2).tolist() == pytest.approx([1000.0, 2000.0, 1000.0])
    assert [(line, part.tolist()) for line, part in both.by_line] == [
        ("L1", [0.01, 0.01, 0.0]), ("L2", [0.0, 0.02, 0.02]),
    ]  # fmt: skip


@pytest.mark.parametrize(("gap_s", "stretch_s"), [(899.0, 8099.0), (901.0, 3600.0)])
def test_wires_hardly_cool_in_a_quarter_of_an_hour(demo_day: BrewDay, gap_s: float, stretch_s: float) -> None:
    """Two hours of heat with a gap: on for two in all; at a stretch with the gap where that is shorter."""
    heats = load_of("Vessel", [0.0, 3600.0, 3600.0 + gap_s, 7200.0 + gap_s], [2000.0, 0.0, 2000.0])
    two = replace(two_batches(demo_day), profiles=(heats,))
    assert two.heating_s == (pytest.approx(7200.0), pytest.approx(stretch_s))


def test_between_two_batches_half_an_hour_is_taken(demo_day: BrewDay) -> None:
    """Unless it is said; nothing is kept, the second begins with the tap's water; two days apart take two days."""
    two = two_batches(demo_day)
    assert two.second_s == two.first.duration_s + 1800.0
    assert two.duration_s == two.second_s + two.second.duration_s
    assert (two.kept, two.second_start_c) == (None, pytest.approx(12.0))
    assert two.apart_kwh == pytest.approx(2 * demo_day.energy_kwh)
    assert two.end_l == pytest.approx(2 * demo_day.wort.end_l, rel=1e-3)
    assert two.circuit is None
    warm = two_batches(demo_day, vessel_c=60.0)
    assert warm.second_start_c > 12.5


@pytest.mark.parametrize("volume_l", [0.0, -1.0, np.inf, np.nan])
def test_a_volume_that_is_none_is_refused(demo_day: BrewDay, volume_l: float) -> None:
    """More than 0, and a number."""
    with pytest.raises(PlanError, match="volume after the boil"):
        resized(demo_day, volume_l)


def test_the_largest_is_found_to_a_five_thousandth(demo_day: BrewDay) -> None:
    """With a hundredth of a per cent less than a fiftieth more than found, the vessel is too full."""
    found = largest_batch(demo_day)
    assert found.day is not None
    assert found.why_not is not None
    assert (found.why_not.code, found.why_not.other) == ("no_room", pytest.approx(0.9))
    assert found.why_not.value > 0.9
    more = resized(demo_day, found.end_l + 2.1e-4 * demo_day.wort.end_l)
    assert more.day is not None
    assert found.day.wort.fullest_frac <= 0.9 < more.day.wort.fullest_frac


def test_cleaning_that_nothing_was_boiled_before_stays(builders: ModuleType) -> None:
    """A vessel that is emptied and filled before the boil: only the emptying behind it ends the first batch."""
    empties = builders.actions("empty")
    water = Action(kind="add water", volume_l=20.0, temperature_c=15.0)
    rinse = Step(name="Rinse", before=(*empties, water), pause_s=60.0)
    boil, clean = Step(name="Boil", boil=True, hold_s=600.0), Step(name="Clean", before=empties, pause_s=60.0)
    plan = builders.water_plan(Step(name="Warm", target_c=40.0), rinse, boil, clean)
    assert [step.name for step in without_cleaning(plan).steps] == ["Warm", "Rinse", "Boil"]
    uncleaned = plan.model_copy(update={"steps": plan.steps[:3]})
    assert without_cleaning(uncleaned) is uncleaned
