"""Warm water kept from the chiller."""

from types import ModuleType

import numpy as np
import pytest

from energyplan.advice.heat import (
    KeptWater,
    _last_wort_boil_c,
    chilled_kwh,
    reuse,
    start_c_with,
    with_warm_cleaning,
)
from energyplan.base.errors import PlanError
from energyplan.day.brewday import BrewDay, simulate
from energyplan.day.course import Conditions
from energyplan.plan.model import Action, Plan, Step

CP_KJ, KJ_PER_KWH = 4.186, 3600.0  # water, physical constant


def _boil(builders: ModuleType, *, end_l: float = 23.0) -> BrewDay:
    """Water that boils for a minute, about 23 L of it left."""
    plan: Plan = builders.water_plan(Step(name="Boil", boil=True, hold_s=60.0), water_l=end_l, water_c=97.0)
    return simulate(plan)


def test_heat_of_a_chilled_batch(builders: ModuleType) -> None:
    """23 L from 98 to 20 °C give 2.1 kWh (common practice, computed): here from 100 °C, in proportion."""
    day = _boil(builders)
    by_hand_kwh = day.wort.end_l * 0.998 * CP_KJ * 80 / KJ_PER_KWH
    assert chilled_kwh(day) == pytest.approx(by_hand_kwh, rel=0.005)
    assert chilled_kwh(day) * 78 / 80 * 23 / day.wort.end_l == pytest.approx(2.1, abs=0.04)
    assert chilled_kwh(day, to_c=30.0) == pytest.approx(by_hand_kwh * 70 / 80, rel=0.006)


def test_wort_gives_off_less_than_water_of_its_volume(demo_day: BrewDay) -> None:
    """At 12 °P its specific heat by volume is 2 to 3 % below water's (from memory)."""
    boil_c = next(phase.to_c for phase in demo_day.phases if phase.phase == "boil")
    water_kwh = demo_day.wort.end_l * 0.998 * CP_KJ * (boil_c - 20) / KJ_PER_KWH
    assert 0.96 < chilled_kwh(demo_day) / water_kwh < 0.99


def test_a_day_without_a_boil_gives_nothing(builders: ModuleType) -> None:
    """There is nothing to chill."""
    assert chilled_kwh(simulate(builders.water_plan(Step(name="Heat", target_c=50.0)))) == 0.0


def test_a_tank_cools_as_a_walk_second_by_second_says() -> None:
    """30 L at 55 °C in 12 °C for two hours at 3 W/K: Euler steps of a second with water's specific heat."""
    kept = KeptWater(volume_l=30.0, temperature_c=55.0, wait_s=7200.0)
    at_c, capacity_j = 55.0, 30.0 * 0.9857 * 1000 * CP_KJ  # 985.7 kg/m3 at 55 °C (physical constant)
    for _ in range(7200):
        at_c -= 3.0 * (at_c - 12.0) / capacity_j
    assert kept.used_c(12.0) == pytest.approx(at_c, abs=0.02)
    assert kept.heat_kwh(12.0) == pytest.approx(30.0 * 0.9857 * CP_KJ * 43 / KJ_PER_KWH, rel=0.003)


def test_the_first_water_by_a_heat_balance(demo: Plan) -> None:
    """13.5 of 27 L at 50 °C, the rest at 12 °C, steel of 10 kg at 12 °C: by hand with one specific heat.

    Masses 13.34 and 13.64 kg (27 L at 12 °C are 26.98 kg): (13.34 x 50 + 13.64 x 12 + 1.2 x 12)/(26.98 + 1.2) with
    10 kg x 0.5 kJ/kgK as 1.2 kg of water: 30.0 °C.
    """
    assert start_c_with(demo, 13.5, 50.0) == pytest.approx(30.0, abs=0.15)
    assert start_c_with(demo, 0.0, 50.0) == pytest.approx(12.0)
    hot_steel_c = start_c_with(demo, 13.5, 50.0, vessel_c=80.0)
    assert hot_steel_c - start_c_with(demo, 13.5, 50.0) == pytest.approx(1.2 * 68 / 28.18, abs=0.05)
    assert start_c_with(demo, 500.0, 50.0, vessel_c=50.0) == pytest.approx(50.0)


def test_what_is_saved_is_what_the_water_brings(demo_day: BrewDay) -> None:
    """25 L at 55 °C: the strike saves the heat that is left after waiting, and a little loss of the shorter ramp."""
    kept = KeptWater(volume_l=25.0, temperature_c=55.0, wait_s=3600.0)
    found = reuse(demo_day, kept)
    brought_kwh = 25.0 * 0.9857 * CP_KJ * (found.used_c - 12.0) / KJ_PER_KWH
    assert found.kept_kwh < found.chilled_kwh
    assert brought_kwh < found.kept_kwh
    assert brought_kwh < found.strike_saved_kwh < 1.15 * brought_kwh
    assert found.cleaning_l == 12.0
    assert found.cleaning_saved_kwh is not None
    cleaning_kwh = 12.0 * 0.9857 * CP_KJ * (found.used_c - 12.0) / KJ_PER_KWH
    assert cleaning_kwh < found.cleaning_saved_kwh < 1.15 * cleaning_kwh


def test_the_saving_of_the_strike_is_a_simulated_day(demo: Plan, demo_day: BrewDay) -> None:
    """The same difference from a plan whose water starts as warm; the second heater's water stays cold."""
    found = reuse(demo_day, KeptWater(volume_l=20.0, temperature_c=50.0))
    warm = simulate(demo, Conditions(water_c=start_c_with(demo, 20.0, 50.0)), extract=demo_day.wort.extract_kg)
    vessel_kwh = [sum(p.energy_j for p in day.phases) / 3.6e6 for day in (demo_day, warm)]
    assert found.strike_saved_kwh == pytest.approx(vessel_kwh[0] - vessel_kwh[1])


def test_cleaning_is_filled_from_the_tank_first(demo: Plan) -> None:
    """8 L of warm and 4 L as entered; without a cleaning of its own, or with warmer water entered, nothing changes."""
    plan, taken_l = with_warm_cleaning(demo, 8.0, 45.0)
    assert plan is not None
    before = next(step.before for step in plan.steps if step.name == "Cleaning")
    assert [str(action) for action in before] == [
        "empty", "add water: 8 L at 45 degC", "add water: 4 L at 12 degC",
    ]  # fmt: skip
    assert taken_l == 8.0
    assert with_warm_cleaning(demo, 8.0, 10.0) == (None, 0.0)
    bare = demo.model_copy(update={"steps": demo.steps[:3]})
    assert with_warm_cleaning(bare, 8.0, 45.0) == (None, 0.0)


def test_no_cleaning_no_saving_there(builders: ModuleType) -> None:
    """A plan that ends with its boil saves with the next strike only."""
    found = reuse(_boil(builders), KeptWater(volume_l=10.0, temperature_c=99.0))
    assert found.cleaning_saved_kwh is None
    assert found.strike_saved_kwh > 0


@pytest.mark.parametrize(
    "numbers",
    [
        {"volume_l": 0.0, "temperature_c": 50.0},
        {"volume_l": 20.0, "temperature_c": 100.0},
        {"volume_l": 20.0, "temperature_c": 50.0, "wait_s": -1.0},
        {"volume_l": 20.0, "temperature_c": 50.0, "tank_w_per_k": np.inf},
    ],
)
def test_odd_tanks_are_refused(numbers: dict[str, float]) -> None:
    """Nothing, boiling, negative, endless."""
    with pytest.raises(PlanError, match="kept water"):
        KeptWater(**numbers)


def test_a_tank_can_not_hold_more_than_the_wort_gives(demo_day: BrewDay) -> None:
    """40 L at 80 °C would be 3.1 kWh above 12 °C; the wort gives 2.4."""
    with pytest.raises(PlanError, match="more heat than the wort"):
        reuse(demo_day, KeptWater(volume_l=40.0, temperature_c=80.0))


@pytest.mark.parametrize(
    "numbers",
    [{"volume_l": 1e-6}, {"temperature_c": 99.9}, {"temperature_c": 0.1}, {"wait_s": 0.0}, {"tank_w_per_k": 0.0}],
)
def test_the_least_and_the_most_of_a_tank_are_let_pass(numbers: dict[str, float]) -> None:
    """No wait, no loss, hardly any water, nearly frozen or boiling."""
    kept = KeptWater(**{"volume_l": 20.0, "temperature_c": 50.0, **numbers})
    assert kept.volume_l > 0
    if numbers.get("wait_s", 1.0) == 0.0 or numbers.get("tank_w_per_k", 1.0) == 0.0:
        assert kept.used_c(15.0) == 50.0


@pytest.mark.parametrize(
    "numbers",
    [{"temperature_c": 0.0}, {"tank_w_per_k": -1.0}, {"volume_l": np.inf}, {"wait_s": np.nan}, {"wait_s": np.inf}],
)
def test_more_odd_tanks_are_refused(numbers: dict[str, float]) -> None:
    """Ice, a tank that warms, an endless one, one that waits for ever."""
    with pytest.raises(PlanError, match="kept water"):
        KeptWater(**{"volume_l": 20.0, "temperature_c": 50.0, **numbers})


def test_a_full_tank_by_hand() -> None:
    """20 L at 60 °C are 19.66 kg (0.98319 kg/L) of 251.2 kJ/kg, 63.0 at 15 °C: 1.028 kWh (IAPWS-95, tables)."""
    kept = KeptWater(volume_l=20.0, temperature_c=60.0)
    assert kept.mass_kg == pytest.approx(19.664, rel=1e-3)
    assert kept.heat_kwh(15.0) == pytest.approx(19.664 * (251.15 - 62.98) / 3600, rel=2e-3)


def test_chilling_to_another_temperature_gives_less(builders: ModuleType) -> None:
    """To 50 instead of 20 °C: 30 of 80 K less."""
    day = _boil(builders)
    assert chilled_kwh(day, to_c=50.0) / chilled_kwh(day) == pytest.approx(50 / 80, rel=0.01)


def test_the_wort_is_as_hot_as_its_last_boil(demo: Plan) -> None:
    """A cleaning that boils behind the emptying is none of it; without one the last boil counts."""
    cleaning = demo.steps[-1].model_copy(update={"target_c": None, "boil": True, "hold_s": 300.0})
    cleaned = simulate(demo.model_copy(update={"steps": (*demo.steps[:-1], cleaning)}))
    boils = [phase for phase in cleaned.phases if phase.phase == "boil"]
    assert len(boils) == 2
    assert _last_wort_boil_c(cleaned) == boils[0].to_c
    assert _last_wort_boil_c(simulate(demo)) == boils[0].to_c


def test_as_much_as_the_wort_gives_can_be_kept(demo_day: BrewDay) -> None:
    """To the last watt-second; the strike takes no more than it holds."""
    tap_c, gives_kwh = demo_day.plan.batch.water_temperature_c, chilled_kwh(demo_day)
    per_l = KeptWater(volume_l=1.0, temperature_c=60.0).heat_kwh(tap_c)
    found = reuse(demo_day, KeptWater(volume_l=gives_kwh / per_l, temperature_c=60.0))
    assert found.kept_kwh == pytest.approx(found.chilled_kwh)
    assert found.strike_l == demo_day.plan.batch.water_l
    few = reuse(demo_day, KeptWater(volume_l=5.0, temperature_c=60.0))
    assert (few.strike_l, few.cleaning_l) == (5.0, 5.0)
    with pytest.raises(PlanError, match="more heat than the wort"):
        reuse(demo_day, KeptWater(volume_l=gives_kwh / per_l * (1 + 1e-6), temperature_c=60.0))


def test_a_tank_that_fills_all_of_a_cleaning_leaves_no_cold_rest(demo: Plan) -> None:
    """12 L of 12, and of 20; another 'add water' before the emptying is no cleaning."""
    for warm_l in (12.0, 20.0):
        plan, taken_l = with_warm_cleaning(demo, warm_l, 45.0)
        before = next(step.before for step in plan.steps if step.name == "Cleaning")
        assert [str(action) for action in before] == ["empty", "add water: 12 L at 45 degC"]
        assert taken_l == 12.0
    boil = demo.steps[5].model_copy(update={"before": (Action(kind="add water", volume_l=2.0, temperature_c=10.0),)})
    topped = demo.model_copy(update={"steps": (*demo.steps[:5], boil, *demo.steps[6:])})
    plan, _ = with_warm_cleaning(topped, 8.0, 45.0)
    assert plan.steps[5].before == boil.before


def test_a_warm_vessel_warms_the_first_water(demo: Plan) -> None:
    """10 kg of steel at 52 °C (500 J/kgK) in 27 kg of water at 12: 5 x 40 / (113 + 5) = 1.7 K."""
    cold_c, warm_c = (start_c_with(demo, 0.0, 12.0, vessel_c=at_c) for at_c in (None, 52.0))
    assert cold_c == pytest.approx(12.0)
    steel_j = demo.vessel.own_heat_j_per_k
    assert warm_c - cold_c == pytest.approx(steel_j * 40 / (27 * 4190 + steel_j), rel=0.01)
    assert start_c_with(demo, 99.0, 50.0, vessel_c=50.0) == pytest.approx(50.0, abs=1e-6)
