"""Days as they are brewed: chilled, soured for days, mashed twice, sugared, several batches in one vessel."""

import math
from datetime import UTC, datetime
from types import ModuleType

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from scipy.integrate import quad

from energyplan.advice.answer import answer
from energyplan.advice.heat import room
from energyplan.base.errors import BrewDayError, PlanError
from energyplan.base.kinds import Style
from energyplan.base.sentence import Sentence, words
from energyplan.day.brewday import BrewDay, Phase, simulate
from energyplan.day.course import run
from energyplan.day.legs import Conditions
from energyplan.day.tasks import tasks_of
from energyplan.faces.frames import document
from energyplan.plan.file import demo_plans, parse_plan, plan_to_toml, read_plan
from energyplan.plan.model import Action, Addition, Batch, Plan, Step
from energyplan.telling.day import day_told, wort_sentence

KWH, KELVIN = 3.6e6, 273.15
LOSS_W_PER_K, STEEL_J_PER_K, POWER_W = 5.0, 5000.0, 3000.0
WATER_KG = 0.025 * PropsSI("D", "T", 288.15, "P", 1e5, "Water")


def phase(day: BrewDay, step: str, name: str) -> Phase:
    """A phase of a day by its step and kind."""
    return next(p for p in day.phases if (p.step, p.phase) == (step, name))


def water_day(builders: ModuleType, *steps: Step) -> Plan:
    """25 L of water at 15 °C in a room of 20 °C, 3000 W, a measured loss of 5 W/K, no pump."""
    kettle = builders.vessel(POWER_W, heat_loss_w_per_k=LOSS_W_PER_K, pump_w=0.0, standby_w=0.0)
    return builders.water_plan(*steps, vessel=kettle)


def capacity_j_per_k(at_c: float) -> float:
    """Water by IAPWS-95 and 10 kg of steel."""
    return WATER_KG * PropsSI("C", "T", at_c + KELVIN, "P", 2e5, "Water") + STEEL_J_PER_K


def loss_w(at_c: float) -> float:
    """The measured loss."""
    return LOSS_W_PER_K * (at_c - 20.0)


def ramp_s(from_c: float, to_c: float) -> float:
    """Time to heat up at full power."""
    return quad(lambda t: capacity_j_per_k(t) / (POWER_W - loss_w(t)), from_c, to_c)[0]


# Chilling and souring ------------------------------------------------------------------------------------------------

SOURING = (
    Step(name="Kill", target_c=85.0, hold_s=600.0),
    Step(name="Sour", chill_to_c=38.0, chill_time_s=1200.0, hold_s=36 * 3600.0, hold_power_w=300.0),
    Step(name="Hot", target_c=95.0),
)


def test_a_souring_of_36_hours_agrees_with_an_independent_integrator(builders: ModuleType) -> None:
    """Ramp, hold, chilling, 36 h at 38 °C, ramp: kWh and minutes; 0.3 % asked."""
    day = simulate(water_day(builders, *SOURING))
    first_s, second_s = ramp_s(15.0, 85.0), ramp_s(38.0, 95.0)
    planned_s = first_s + 600 + 1200 + 36 * 3600 + second_s
    wanted_j = POWER_W * (first_s + second_s) + loss_w(85.0) * 600 + loss_w(38.0) * 36 * 3600
    assert day.duration_s == pytest.approx(planned_s, rel=5e-4)
    assert day.energy_kwh == pytest.approx(wanted_j / KWH, rel=5e-4)
    assert day.balance_error < 1e-9


def test_what_the_chiller_takes(builders: ModuleType) -> None:
    """The heat between the temperatures, less what the walls lose meanwhile; no current but for nothing."""
    chilled = phase(simulate(water_day(builders, *SOURING)), "Sour", "chill")
    stored_j = quad(capacity_j_per_k, 38.0, 85.0)[0]
    lost_j = loss_w((85.0 + 38.0) / 2) * 1200
    assert (chilled.from_c, chilled.to_c, chilled.duration_s) == pytest.approx((85.0, 38.0, 1200.0))
    assert -chilled.heat_j == pytest.approx(stored_j - lost_j, rel=1e-3)
    assert chilled.heat_lost_j == pytest.approx(lost_j, rel=1e-3)
    assert chilled.energy_j == 0.0


def test_a_hold_after_chilling_keeps_what_it_was_chilled_to() -> None:
    """Another target is named by hand; the file reads back the same."""
    step = Step(name="a", chill_to_c=38.0, chill_time_s=60.0, hold_s=60.0)
    assert step.target_c == 38.0
    assert Step(name="a", chill_to_c=38.0, chill_time_s=60.0).target_c is None
    assert Step(name="a", chill_to_c=38.0, chill_time_s=60.0, hold_s=60.0, target_c=40.0).target_c == 40.0
    for name in ("sour", "pale-ale"):
        assert parse_plan(plan_to_toml(read_plan(name))) == read_plan(name)


def test_chilling_what_is_cool_already_lets_it_stand(builders: ModuleType) -> None:
    """In a draw that is colder than wanted, and where walls alone cool as fast: nothing is taken, nothing is heated."""
    cold = water_day(builders, Step(name="Wait", chill_to_c=18.0, chill_time_s=1200.0), Step(name="Hot", target_c=60.0))
    waited = phase(simulate(cold), "Wait", "chill")
    assert (waited.heat_j, waited.energy_j) == (0.0, 0.0)
    slow = water_day(
        builders, Step(name="Hot", target_c=60.0), Step(name="Wait", chill_to_c=59.9, chill_time_s=36_000.0)
    )
    alone = phase(simulate(slow), "Wait", "chill")
    assert alone.heat_j == 0.0
    assert alone.to_c < 50.0


@pytest.mark.parametrize(("target_c", "refused"), [(20.0, True), (69.0, True), (71.0, False), (80.0, False)])
def test_a_target_far_below_what_is_there_is_refused(builders: ModuleType, target_c: float, refused: bool) -> None:  # noqa: FBT001
    """Nothing in the vessel cools: within 10 K it comes down by itself, beyond that the mend is named."""
    plan = water_day(builders, Step(name="Hot", target_c=80.0), Step(name="Cool", target_c=target_c, hold_s=3600.0))
    if not refused:
        assert simulate(plan).phases[-1].to_c >= target_c - 1e-9
        return
    with pytest.raises(BrewDayError) as error:
        simulate(plan)
    assert f'[[step]] "Cool": it is 80 °C when it shall be {target_c:g} °C' in str(error.value)
    assert "chill it from outside (chill_to, chill_time)" in str(error.value)
    said = error.value.said
    assert isinstance(said, Sentence)
    assert "176 °F" in words(said, Style("us"))


WRONG = {
    "no time": ('chill_to = "20 degC"', "chill_time: missing; write how long it takes"),
    "no temperature": ('chill_time = "20 min"\ntarget = "60 degC"', 'add to which temperature: chill_to = "20 degC"'),
    "ice": ('chill_to = "-2 degC"\nchill_time = "20 min"', "water is liquid between"),
    "a boil": ('boil = true\nchill_to = "20 degC"\nchill_time = "20 min"', "a boil isn't chilled"),
    "no chilling": ('chill_to = "20 degC"\nchill_time = "0 min"', "greater than 0"),
}


@pytest.mark.parametrize("case", WRONG)
def test_a_chilling_that_says_too_little(case: str) -> None:
    """Each with its mend."""
    lines, sentence = WRONG[case]
    text = f'{demo_plans()["demo"]}\n[[step]]\nname = "More"\n{lines}\n'
    with pytest.raises(PlanError) as refused:
        parse_plan(text)
    assert sentence in str(refused.value)


# Rests of days -------------------------------------------------------------------------------------------------------


def test_a_pause_of_days_with_grain_in_and_out_is_a_rest_and_no_work(builders: ModuleType) -> None:
    """People stir and lift as long as usual, however long the grain then stands."""
    mash, lift = builders.actions("add grain"), builders.actions("remove grain")
    plan = builders.mash_plan(
        Step(name="Strike", target_c=60.0), Step(name="Mash", before=mash, pause_s=30 * 3600.0),
        Step(name="Lift", before=lift, pause_s=26 * 3600.0), Step(name="Boil", boil=True, hold_s=3600.0),
    )  # fmt: skip
    assert simulate(plan).duration_s > 56 * 3600
    assert {task.name: task.takes_s / 60 for task in tasks_of(plan)}["Stir the grain in"] == 8.0
    assert max(task.takes_s for task in tasks_of(plan)) < 3600


def test_the_room_s_table_thins_out_on_long_days() -> None:
    """At most some two dozen rows for 41 hours, on even hours of the clock, with the same sums."""
    day = simulate(read_plan("sour"))
    found = room(day, datetime(2026, 12, 4, 15, tzinfo=UTC), "Europe/Dublin")
    assert len(found.hours) < 26
    assert all(hour.begins.hour % 2 == 0 for hour in found.hours[1:])
    assert sum(hour.heat_kwh for hour in found.hours) == pytest.approx(
        sum(one.heat_lost_j for one in day.phases) / KWH, rel=1e-9
    )


# Grain in portions, two mashes, two batches --------------------------------------------------------------------------


def grains(*texts: str) -> tuple[Action, ...]:
    """Actions as a file writes them."""
    return Step(name="x", before=texts, pause_s=1.0).before


def test_grain_in_two_portions_is_all_of_it(builders: ModuleType) -> None:
    """A part, and then what is left: the gravity is met, and the day takes what one portion takes within 1 %."""
    strike, mash, *rest = builders.mash_plan().steps
    parts = (
        strike, mash.model_copy(update={"before": grains("add grain: 2 kg"), "hold_s": 1800.0}),
        mash.model_copy(update={"name": "More", "before": grains("add grain"), "pause_s": 0.0, "hold_s": 1800.0}),
        *rest,
    )  # fmt: skip
    day = simulate(builders.mash_plan(*parts))
    assert day.wort.gravity_end == pytest.approx(1.050, abs=1e-6)
    assert [event.mass_kg for event in day.events if event.action == "add grain"] == [2.0, 3.0]
    assert day.energy_kwh == pytest.approx(simulate(builders.mash_plan()).energy_kwh, rel=0.01)


PORTIONS = {
    "more than there is": (("add grain: 6 kg",), "with it 6.00 kg are in, and the batch has 5.00 kg"),
    "less than there is": (("add grain: 2 kg",), "3.00 kg of the batch's grain have not gone in"),
    "the rest twice": (("add grain", "add grain"), "the grain is already in, or was"),
}


@pytest.mark.parametrize("case", PORTIONS)
def test_portions_that_do_not_add_up(builders: ModuleType, case: str) -> None:
    """All of the batch's grain goes in, and no more."""
    texts, sentence = PORTIONS[case]
    strike, mash, *rest = builders.mash_plan().steps
    with pytest.raises(ValueError, match="plan_rules") as refused:
        builders.mash_plan(strike, mash.model_copy(update={"before": grains(*texts)}), *rest)
    assert sentence in str(refused.value)


def test_two_batches_are_steps_of_one_day(builders: ModuleType) -> None:
    """The second is emptied into fresh water: as much grain again, its own volumes and gravity, its own chilling."""
    one = builders.mash_plan()
    again = [step.model_copy(update={"name": f"{step.name} 2"}) for step in one.steps]
    again[0] = again[0].model_copy(update={"before": grains("empty", "add water: 26 L at 12 degC")})
    day = simulate(builders.mash_plan(*one.steps, *again))
    first, second = day.worts
    assert first == day.wort
    assert first.end_l == pytest.approx(simulate(one).wort.end_l, rel=1e-9)
    assert second.end_l == pytest.approx(first.end_l, rel=2e-3)
    assert second.gravity_end == pytest.approx(1.050, abs=3e-4)
    assert first.evaporated_kg + second.evaporated_kg == pytest.approx(
        sum(one.evaporated_kg for one in day.phases), rel=1e-9
    )
    assert day.balance_error < 1e-9
    names = [task.name for task in tasks_of(day.plan)]
    assert len(names) == len(set(names))
    assert sum(name.startswith("Chill") for name in names) == 2


def test_a_second_batch_of_another_size(builders: ModuleType) -> None:
    """Half the grain in half the water gives about the same gravity."""
    one = builders.mash_plan()
    again = [step.model_copy(update={"name": f"{step.name} 2"}) for step in one.steps]
    again[0] = again[0].model_copy(update={"before": grains("empty", "add water: 15 L at 12 degC")})
    again[1] = again[1].model_copy(update={"before": grains("add grain: 2.5 kg")})
    again[3] = again[3].model_copy(update={"hold_s": 2400.0})
    first, second = simulate(builders.mash_plan(*one.steps, *again)).worts
    assert second.extract_kg == pytest.approx(first.extract_kg / 2)
    assert second.gravity_end == pytest.approx(1.050, abs=0.006)


# Additions with a mass -----------------------------------------------------------------------------------------------


def boil_with(builders: ModuleType, *additions: Addition) -> Plan:
    """Water that boils for an hour, with additions."""
    return water_day(builders, Step(name="Boil", boil=True, hold_s=3600.0, hold_power_w=2500.0, additions=additions))


def test_cold_water_into_the_boil_takes_its_heat(builders: ModuleType) -> None:
    """Two kilograms at 20 °C: so much steam less as they take to get hot; 1 % asked."""
    dosed = Addition(name="Top up", left_s=1800.0, mass_kg=2.0, temperature_c=20.0, kind="water")
    plain, day = simulate(boil_with(builders)), simulate(boil_with(builders, dosed))
    heat_j = 2.0 * (PropsSI("H", "T", 373.1, "P", 2e5, "Water") - PropsSI("H", "T", 293.15, "P", 2e5, "Water"))
    latent_j = PropsSI("H", "T", 373.1, "Q", 1, "Water") - PropsSI("H", "T", 373.1, "Q", 0, "Water")
    less_kg = plain.wort.evaporated_kg - day.wort.evaporated_kg
    assert less_kg == pytest.approx(heat_j / latent_j, rel=0.15)  # while it heats, the open surface evaporates on
    assert day.energy_kwh == pytest.approx(plain.energy_kwh, rel=1e-9)
    assert phase(day, "Boil", "boil").lowest_c < 96.0
    assert day.balance_error < 1e-9


def test_sugar_raises_the_gravity_by_its_mass(builders: ModuleType) -> None:
    """A kilogram into the boil of plain water: its share of what is left, in degrees Plato."""
    sugar = Addition(name="Sugar", left_s=600.0, mass_kg=1.0, kind="sugar")
    wort = simulate(boil_with(builders, sugar)).wort
    left_kg = WATER_KG - wort.evaporated_kg
    plato = 100 * 1.0 / (left_kg + 1.0)
    assert wort.gravity_end == pytest.approx(1 + plato / (258.6 - 0.88 * plato), abs=1e-4)  # a usual fit, from memory


def test_the_planned_gravity_counts_the_sugar_in(builders: ModuleType) -> None:
    """Half a kilogram of sugar: the grain gives so much less, and the end is as planned."""
    *steps, boil = builders.mash_plan().steps
    sugar = Addition(name="Sugar", left_s=600.0, mass_kg=0.5, kind="sugar")
    day = simulate(builders.mash_plan(*steps, boil.model_copy(update={"additions": (sugar,)})))
    assert day.wort.gravity_end == pytest.approx(1.050, abs=1e-6)
    assert day.wort.extract_kg < simulate(builders.mash_plan()).wort.extract_kg - 0.45


def test_a_brew_of_extract_begins_with_water(builders: ModuleType) -> None:
    """No grain: the gravity is what the weighed extract makes."""
    extract = Addition(name="Dry extract", left_s=3600.0, mass_kg=3.0, kind="extract")
    plan = boil_with(builders, extract)
    plan = plan.model_copy(update={"batch": Batch(water_l=25.0, water_temperature_c=15.0, gravity=1.045)})
    wort = simulate(plan).wort
    assert wort.gravity_end == pytest.approx(1.05, abs=0.006)
    assert wort.extract_kg == 0.0


@pytest.mark.parametrize(
    ("lines", "sentence"),
    [('mass = "1 kg"', "has a mass, and needs the other to count"), ('kind = "sugar"', "needs the other to count")],
)
def test_an_addition_that_counts_says_what_and_how_much(lines: str, sentence: str) -> None:
    """A mass without a kind, or a kind without a mass."""
    text = demo_plans()["demo"].replace('name = "Late hops"', f'name = "Late hops"\n{lines}')
    with pytest.raises(PlanError) as refused:
        parse_plan(text)
    assert sentence in str(refused.value)


def test_draws_with_additions_and_chilling_do_not_depend_on_each_other(builders: ModuleType) -> None:
    """Each draw of a spread is as if alone."""
    plan = read_plan("pale-ale")
    air_c = np.array([2.0, 11.0, 25.0])
    together = run(plan, Conditions(air_c=air_c), extract_kg=3.0)
    for place, one_c in enumerate(air_c):
        alone = run(plan, Conditions(air_c=np.array([one_c])), extract_kg=3.0)
        assert together.legs[-1].end_s[place] == pytest.approx(float(alone.legs[-1].end_s[0]), rel=1e-9)
        total = math.fsum(float(leg.board_w[place] * leg.outcome.duration_s[place]) for leg in together.legs)
        apart = math.fsum(float(leg.board_w[0] * leg.outcome.duration_s[0]) for leg in alone.legs)
        assert total == pytest.approx(apart, rel=1e-9)


def test_each_batch_is_told(builders: ModuleType) -> None:
    """In the sentence of the wort and in the document, by number; the steam is the day's."""
    one = builders.mash_plan()
    again = [step.model_copy(update={"name": f"{step.name} 2"}) for step in one.steps]
    again[0] = again[0].model_copy(update={"before": grains("empty", "add water: 26 L at 12 degC")})
    found = answer(builders.mash_plan(*one.steps, *again), None, datetime(2026, 12, 5, 8, 30, tzinfo=UTC))
    said = str(wort_sentence(found))
    assert said.startswith("batch 1: ")
    assert " and batch 2: " in said
    told = document(day_told(found))
    assert [wort["gravity_end"] for wort in told["worts"]] == pytest.approx([1.050, 1.050], abs=1e-3)
    assert told["totals"]["evaporated_kg"] == pytest.approx(sum(wort["evaporated_kg"] for wort in told["worts"]))
