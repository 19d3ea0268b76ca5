"""The facts before a vessel heats with nobody there: each alone is enough for a refusal."""

from datetime import UTC, datetime
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from energyplan.advice.people import people_day
from energyplan.advice.unattended import (
    FACT_KEYS,
    Said,
    Stretch,
    UnattendedCheck,
    _is_left_alone,
    may_start_unattended,
)
from energyplan.base.errors import PlanError
from energyplan.base.sentence import words
from energyplan.day.brewday import simulate
from energyplan.plan.file import read_plan
from energyplan.plan.model import Action, Extension, Hours, Plan, Step, Task
from energyplan.telling.unattended import unattended_told

NIGHT = datetime(2026, 12, 5, 4, 0, tzinfo=UTC)
ALL_YES = Said(yes=frozenset(FACT_KEYS), limit_kwh=3.5)


def plan_with(**tables: Any) -> Plan:
    """The packaged plan with elements that reach 6 cm up, and other tables."""
    plan = read_plan("demo")
    vessel = plan.vessel.model_copy(update={"element_top_m": 0.06})
    return plan.model_copy(update={"vessel": vessel, **tables})


def asked(plan: Plan, said: Said = ALL_YES) -> UnattendedCheck:
    """The list for a plan."""
    return may_start_unattended(simulate(plan), said, start=NIGHT, zone=UTC)


def refused(found: UnattendedCheck) -> list[str]:
    """Words of the facts for which it is refused."""
    return [fact.key for fact in found.reasons]


def test_with_every_fact_known_there_is_no_objection():
    """All yes, a limit that holds: no objection found. It is never called more than that."""
    found = asked(plan_with())
    assert found.result == "no objection found"
    assert refused(found) == []
    assert all(fact.state == "yes" for fact in found.facts)


def test_by_default_it_is_refused():
    """Nobody has said anything: refused, and what the plan itself tells is not asked again."""
    found = asked(read_plan("demo"), Said())
    assert found.result == "refuse"
    assert set(refused(found)) == {
        "level", "valve", "lid", "rcd", "pump", "limit", "alarm", "instructions", "reach",
    }  # fmt: skip


@pytest.mark.parametrize("key", [key for key in FACT_KEYS if key not in ("lead", "limit", "heater", "later")])
def test_each_missing_answer_is_enough(key):
    """All but one: refused for that one, whether it is unknown or no."""
    rest = ALL_YES.yes - {key}
    for said, state in ((Said(yes=rest, limit_kwh=3.5), "unknown"),
                        (Said(yes=rest, no=frozenset({key}), limit_kwh=3.5), "no")):  # fmt: skip
        found = asked(plan_with(), said)
        assert found.result == "refuse"
        assert [(fact.key, fact.state) for fact in found.reasons] == [(key, state)]


@given(yes=st.frozensets(st.sampled_from(FACT_KEYS)), limit=st.none() | st.floats(0.1, 20.0))
def test_it_refuses_unless_every_fact_is_yes(yes, limit):
    """Any set of answers: the result follows from the states, and "no objection" needs them all."""
    found = asked(plan_with(), Said(yes=yes, limit_kwh=limit))
    assert (found.result == "refuse") == any(fact.state != "yes" for fact in found.facts)
    if yes < frozenset(FACT_KEYS) - {"lead", "limit", "heater", "later"}:
        assert found.result == "refuse"


# What follows from the plan ---------------------------------------------------------------------------------------


def test_grain_from_the_start_is_no_water():
    """A plan whose first step adds grain needs hands at once, and has a mash in the vessel."""
    plan = plan_with()
    first = plan.steps[0].model_copy(update={"before": (Action(kind="add grain"),)})
    second = plan.steps[1].model_copy(update={"before": ()})
    found = asked(plan.model_copy(update={"steps": (first, second, *plan.steps[2:])}))
    assert "water" in refused(found)


def test_wort_from_the_start_is_no_water(builders):
    """A plan without grain but with a gravity begins with wort."""
    plan = builders.water_plan(Step(name="Boil", boil=True, hold_s=3600.0))
    found = asked(plan.model_copy(update={"batch": plan.batch.model_copy(update={"gravity": 1.048})}))
    assert next(fact for fact in found.facts if fact.key == "water").state == "no"


def test_a_plan_without_the_step_that_adds_grain_is_refused():
    """Grain that no step adds would have to be in already."""
    plan = plan_with()
    steps = tuple(
        step.model_copy(update={"before": tuple(one for one in step.before if "grain" not in one.kind)})
        for step in plan.steps
    )
    assert "water" in refused(asked(plan.model_copy(update={"steps": steps})))


def test_the_level_by_hand():
    """27 L in a vessel of 36 cm across stand 26.5 cm deep: 0.027 / (pi/4 * 0.36^2) m."""
    found = asked(plan_with())
    assert found.water_depth_m == pytest.approx(0.027 / (np.pi / 4 * 0.36**2), rel=1e-12)
    assert found.water_depth_m == pytest.approx(0.2653, abs=1e-4)


@pytest.mark.parametrize(("top_m", "holds"), [(0.235, True), (0.2354, False), (0.30, False), (0.0, True)])
def test_three_centimetres_above_the_elements(top_m, holds):
    """26.53 cm of water: elements up to 23.53 cm have the margin of 3 cm (common practice, no source)."""
    plan = read_plan("demo")
    plan = plan.model_copy(update={"vessel": plan.vessel.model_copy(update={"element_top_m": top_m})})
    level = next(fact for fact in asked(plan).facts if fact.key == "level")
    assert (level.state == "yes") == holds


def test_an_unknown_height_of_the_elements_is_unknown_whatever_is_said():
    """The person's yes doesn't stand in for a number that the plan lacks; both facts that need it say so."""
    found = asked(read_plan("demo"))
    assert refused(found) == ["level", "limit"]


def test_a_lid_off_in_the_plan_stands_against_a_yes():
    """Planned ajar while nobody is there."""
    plan = plan_with()
    ajar = plan.steps[0].model_copy(update={"lid": "ajar"})
    lid = next(f for f in asked(plan.model_copy(update={"steps": (ajar, *plan.steps[1:])})).facts if f.key == "lid")
    assert lid.state == "no"
    assert lid.facts["steps"] == (("ajar", "Strike"),)


def test_a_lid_off_later_is_no_matter():
    """The boil is open, but somebody is there by then."""
    assert next(fact for fact in asked(plan_with()).facts if fact.key == "lid").state == "yes"


@pytest.mark.parametrize(
    ("lead", "said", "state"),
    [
        (None, "", "yes"),
        (None, "no", "no"),
        (Extension(cable_mm2=2.5, length_m=5.0), "", "unknown"),
        (Extension(cable_mm2=2.5, length_m=5.0), "yes", "yes"),
        (Extension(cable_mm2=2.5, length_m=5.0, unwound=False, rating_wound_a=6.0), "yes", "no"),
    ],
)
def test_the_lead(lead, said, state):
    """None in the plan is none, unless the person says otherwise; one that is wound up is a no."""
    plan = plan_with()
    circuit = plan.circuit.model_copy(update={"extension": lead})
    keys = frozenset({"lead"})
    asked_for = Said(yes=keys if said == "yes" else frozenset(), no=keys if said == "no" else frozenset())
    found = asked(plan.model_copy(update={"circuit": circuit}), asked_for)
    assert next(fact for fact in found.facts if fact.key == "lead").state == state


def test_without_a_circuit_the_ratings_and_the_lead_are_unknown():
    """What is not entered is not taken as well."""
    found = asked(plan_with(circuit=None), Said(yes=ALL_YES.yes - {"lead"}, limit_kwh=3.5))
    assert refused(found) == ["circuit", "lead"]


def test_a_rating_that_is_passed_refuses():
    """The same vessel on a breaker of 6 A."""
    plan = plan_with()
    small = plan.circuit.model_copy(update={"breaker_a": 6.0})
    assert refused(asked(plan.model_copy(update={"circuit": small}))) == ["circuit"]


def test_a_circuit_without_residual_current_device_refuses():
    """A yes to the test button can't be, where the plan has no such device."""
    plan = plan_with()
    bare = plan.circuit.model_copy(update={"residual_current_device": False})
    assert "rcd" in refused(asked(plan.model_copy(update={"circuit": bare})))


def test_a_pump_that_rests_need_not_be_primed():
    """With the pump off in the plan nothing is asked of it."""
    plan = plan_with()
    off = plan.steps[0].model_copy(update={"pump": False})
    found = asked(
        plan.model_copy(update={"steps": (off, *plan.steps[1:])}), Said(yes=ALL_YES.yes - {"pump"}, limit_kwh=3.5)
    )
    assert found.result == "no objection found"


# The limit ------------------------------------------------------------------------------------------------------


def test_the_stretch_and_its_energy():
    """From the start to the grain: the strike ramp and hold, nothing after it."""
    day = simulate(plan_with())
    found = may_start_unattended(day, ALL_YES, start=NIGHT, zone=UTC)
    strike = [phase for phase in day.phases if phase.step == "Strike"]
    assert found.stretch.until_s == pytest.approx(strike[-1].end_s)
    assert found.stretch.energy_kwh == pytest.approx(sum(phase.energy_j for phase in strike) / 3.6e6)
    assert found.power_after_w == pytest.approx(strike[-1].needed_w)


@pytest.mark.parametrize(
    ("limit_kwh", "state"), [(1.5, "no"), (2.5, "yes"), (13.5, "yes"), (14.5, "no"), (None, "unknown")]
)
def test_the_limit_by_hand(limit_kwh, state):
    """What keeps the elements covered if nothing switches off, reckoned by hand.

    27 L from 12 to 99 °C: 27 * 87 * 1.163 Wh = 2.7 kWh. Elements up to 6 cm and 3 cm of margin leave 26.5 - 9 =
    17.5 cm, which are 17.8 kg, and 17.8 * 0.627 kWh/kg (latent heat at 100 °C, from memory) = 11.2 kWh: 13.9 kWh in
    all. Less than the strike takes (2.1 kWh) ends too soon.
    """
    found = asked(plan_with(), Said(yes=ALL_YES.yes, limit_kwh=limit_kwh))
    assert next(fact for fact in found.facts if fact.key == "limit").state == state


@pytest.mark.parametrize("limit", [0.0, -1.0, float("nan"), float("inf")])
def test_a_limit_that_is_none_is_refused(limit):
    """Zero, less, and what is no number."""
    with pytest.raises(PlanError, match="limit"):
        Said(limit_kwh=limit)


def test_unknown_words_and_contradictions_are_errors():
    """The words that there are are named."""
    with pytest.raises(PlanError, match='"lvel" is no fact of the list; the words are heater, later, level, valve'):
        Said(yes=frozenset({"lvel"}))
    with pytest.raises(PlanError, match="lid: answered yes and no"):
        Said(yes=frozenset({"lid"}), no=frozenset({"lid"}))


# Every stretch, and everything that heats in it ------------------------------------------------------------------


@pytest.mark.parametrize("power_w", [4000.0, 525.0])
def test_a_second_heater_that_is_switched_on_by_hand_ends_the_stretch(power_w):
    """The demo's sparge water, wanted at the strike: somebody has to be there before the mash, or within minutes."""
    plan = plan_with()
    early = plan.second_heater.model_copy(update={"ready_at_step": "Saccharification", "power_w": power_w})
    day = simulate(plan.model_copy(update={"second_heater": early}))
    heater = next(profile for profile in day.profiles if profile.name == "Second heater")
    assert 0 < heater.edges_s[0] < day.phases[0].end_s
    found = may_start_unattended(day, ALL_YES, start=NIGHT, zone=UTC)
    assert found.stretch.until_s == pytest.approx(float(heater.edges_s[0]))
    assert not found.stretch.second_heater


def test_a_second_heater_that_is_on_from_the_start_counts_with_its_tank():
    """Its kWh stand in the stretch, and its tank must be full and closed."""
    plan = plan_with()
    slow = plan.second_heater.model_copy(update={"ready_at_step": "Saccharification", "power_w": 300.0})
    day = simulate(plan.model_copy(update={"second_heater": slow}))
    heater = next(profile for profile in day.profiles if profile.name == "Second heater")
    assert heater.edges_s[0] < 0
    found = may_start_unattended(day, Said(yes=ALL_YES.yes - {"heater"}, limit_kwh=3.5), start=NIGHT, zone=UTC)
    strike_kwh = sum(phase.energy_j for phase in day.phases if phase.step == "Strike") / 3.6e6
    assert found.stretch.energy_kwh == pytest.approx(
        strike_kwh + 0.3 * found.stretch.until_s / 3600, rel=0.02
    )  # 300 W at the voltage of the board
    assert refused(found) == ["heater"]


def test_a_task_of_the_plan_needs_hands():
    """Somebody has to mill the grain for the twenty minutes before it goes in: the stretch ends there."""
    mill = Task(name="Mill", at_step="Saccharification", when="before", takes_s=1200.0)
    until_s = asked(plan_with()).stretch.until_s
    assert asked(plan_with(tasks=(mill,))).stretch.until_s == pytest.approx(until_s - 1200.0)
    alone = mill.model_copy(update={"attended": False})
    assert asked(plan_with(tasks=(alone,))).stretch.until_s == pytest.approx(until_s)


def test_a_long_hold_is_a_stretch_of_its_own(builders):
    """36 hours at 35 °C: found with its kWh, and refused until somebody says that they are about."""
    steps = (
        Step(name="Warm", target_c=35.0),
        Step(name="Souring", before=(Action(kind="add water", volume_l=1.0, temperature_c=20.0),), target_c=35.0,
             hold_s=36 * 3600.0),
    )  # fmt: skip
    plan = builders.water_plan(*steps)
    vessel = plan.vessel.model_copy(update={"element_top_m": 0.06})
    day = simulate(plan.model_copy(update={"vessel": vessel}))
    found = may_start_unattended(day, Said(yes=ALL_YES.yes - {"later"}, limit_kwh=3.5), start=NIGHT, zone=UTC)
    assert [stretch.steps for stretch in found.later] == [("Souring",)]
    assert found.later[0].until_s - found.later[0].from_s > 35.9 * 3600
    souring = next(phase for phase in day.phases if phase.step == "Souring" and phase.phase == "hold")
    alone_s = souring.end_s - found.later[0].from_s
    assert found.later[0].energy_kwh == pytest.approx(souring.energy_j / 3.6e6 * alone_s / souring.duration_s, rel=1e-3)
    assert "later" in refused(found)


def test_hours_in_which_nobody_is_there_are_looked_at():
    """Somebody is there until noon: what heats later in the day is a stretch with nobody there."""
    plan = plan_with(hours=Hours(somebody_there_min=(0, 6 * 60)))
    found = asked(plan, Said(yes=ALL_YES.yes - {"later"}, limit_kwh=3.5))
    assert found.later
    assert refused(found) == ["later"]


@pytest.mark.parametrize("word", ["safe", "approved", "guarantee", "compliant"])
def test_nothing_is_promised(word):
    """No fact and no reason says that anything is safe."""
    for said in (Said(), ALL_YES):
        told = unattended_told(asked(plan_with(), said), NIGHT, "UTC")
        assert not any(word in words(cell).lower() for row in told.table("facts").rows for cell in row[2:5])


@pytest.mark.parametrize("name", ["demo", "lakeside", "pale-ale", "sour"])
def test_nobody_is_alone_with_it_while_hands_are_needed(name):
    """The stretches without anybody are those between the stays of the report, but for the switching on by a timer."""
    plan = read_plan(name)
    shared = plan.model_copy(update={"hours": Hours(somebody_there_min=(720, 721))})
    day = simulate(shared)
    found, people = may_start_unattended(day, Said(), start=NIGHT, zone=UTC), people_day(day)
    told = [(one.from_s, one.until_s) for one in found.later]
    assert told
    assert set(told) <= {(one.begins_s, one.ends_s) for one in people.between}
    for from_s, until_s in (*told, (people.presences[0].ends_s, found.stretch.until_s)):
        assert not any(stay.begins_s < until_s and stay.ends_s > from_s for stay in people.presences)


def test_what_the_first_step_asks_is_asked_at_once():
    """A task that somebody wrote for the first step keeps a person there; what comes before it is done before."""
    waits = Task(name="Skim", at_step="Strike", when="during", takes_s=600.0)
    before = waits.model_copy(update={"when": "before"})
    assert asked(plan_with(tasks=(waits,))).stretch.until_s == 0.0
    assert asked(plan_with(tasks=(before,))).stretch.until_s > 1800.0


# Borders, by hand -------------------------------------------------------------------------------------------------


def kettle_of(builders, *steps: Step, **vessel: Any) -> Plan:
    """25 L of water at 15 °C in a vessel of 36 cm, elements at the floor."""
    return builders.water_plan(*steps, vessel=builders.vessel(3000.0, **{"element_top_m": 0.0, **vessel}))


def fact_of(plan: Plan, key: str, said: Said = ALL_YES):
    """One fact of a plan."""
    return next(fact for fact in asked(plan, said).facts if fact.key == key)


def test_what_keeps_elements_covered_by_hand(builders):
    """25 L from 15 to 100 °C, 356.1 kJ/kg by IAPWS-95, and 24.56 - 3 cm of water over 0.1018 m2: 21.95 kg of steam.

    25 x 356.1 / 3600 = 2.473 kWh and 21.95 x 0.627 = 13.76 kWh.
    """
    plan = kettle_of(builders, Step(name="Warm", target_c=60.0))
    most_kwh = fact_of(plan, "limit", Said(yes=ALL_YES.yes, limit_kwh=99.0)).facts["most_kwh"]
    assert most_kwh == pytest.approx(2.473 + 13.76, rel=2e-3)
    for limit_kwh, case in ((most_kwh + 1e-6, "boils_down"), (most_kwh - 1e-6, "stays_covered")):
        assert fact_of(plan, "limit", Said(yes=ALL_YES.yes, limit_kwh=limit_kwh)).case == case
    high = kettle_of(builders, Step(name="Warm", target_c=60.0), element_top_m=0.22)
    assert fact_of(high, "limit", Said(yes=ALL_YES.yes, limit_kwh=99.0)).facts["most_kwh"] == pytest.approx(
        2.473, rel=2e-3
    )


def test_a_limit_that_ends_before_the_water_is_hot_is_none(builders):
    """As many kWh as the stretch takes are just enough; a no stands whatever the number."""
    plan = kettle_of(builders, Step(name="Warm", target_c=60.0))
    planned_kwh = asked(plan).stretch.energy_kwh
    for limit_kwh, case in ((planned_kwh - 1e-6, "ends_too_soon"), (planned_kwh, "stays_covered")):
        assert fact_of(plan, "limit", Said(limit_kwh=limit_kwh)).case == case
    refused_all = Said(no=frozenset({"limit"}), limit_kwh=planned_kwh)
    assert (fact_of(plan, "limit", refused_all).state, fact_of(plan, "limit", refused_all).case) == ("no", "said_no")
    assert fact_of(plan, "limit", Said()).case == "no_limit"


@pytest.mark.parametrize(
    ("somebody", "start_hour", "left"),
    [
        ((8, 20), 9, False), ((8, 20), 7, True), ((8, 20), 18, True), ((8, 20), 17, False),
        ((20, 8), 21, False), ((20, 8), 9, True), ((20, 8), 6, True), ((20, 8), 4, False), (None, 9, False),
    ],
)  # fmt: skip
def test_hours_in_which_somebody_is_there(builders, somebody, start_hour, left):
    """Three hours less a minute from a start on: from eight to eight by day or by night; without hours, not long."""
    plan = kettle_of(builders, Step(name="Warm", target_c=60.0))
    hours = Hours() if somebody is None else Hours(somebody_there_min=(60 * somebody[0], 60 * somebody[1]))
    day = simulate(plan.model_copy(update={"hours": hours}))
    stretch = Stretch(from_s=0.0, until_s=10_740.0, energy_kwh=1.0, second_heater=False, steps=("Warm",))
    start = datetime(2026, 12, 5, start_hour, tzinfo=UTC)
    assert _is_left_alone(day, stretch, start, UTC) is left


@pytest.mark.parametrize(("hours", "left"), [(2.99, False), (3.0, True)])
def test_without_hours_nobody_stays_for_three(builders, hours, left):
    """A stretch of three hours is long."""
    day = simulate(kettle_of(builders, Step(name="Warm", target_c=60.0)))
    stretch = Stretch(from_s=600.0, until_s=600.0 + 3600 * hours, energy_kwh=1.0, second_heater=False, steps=())
    assert _is_left_alone(day, stretch, NIGHT, UTC) is left


def test_what_a_fact_was_judged_by(builders):
    """Each case has its own word and its numbers, so that the list can say why."""
    plan = kettle_of(builders, Step(name="Warm", target_c=60.0))
    level = fact_of(plan, "level")
    assert (level.case, level.facts["above_m"]) == ("level_yes", pytest.approx(0.2456, abs=1e-4))
    assert fact_of(kettle_of(builders, Step(name="W", target_c=60.0), element_top_m=0.22), "level").case == "too_low"
    assert fact_of(plan, "circuit").case == "no_circuit"
    assert fact_of(plan, "heater").case == "heater_off"
    assert fact_of(plan, "later").case == "none_later"
    assert fact_of(plan, "valve").case == "said_yes"
    assert fact_of(plan, "water").case == "as_planned"
    grain = plan.model_copy(update={"batch": plan.batch.model_copy(update={"grain_kg": 4.0})})
    assert fact_of(grain, "water").case == "grain_from_the_start"
    wort = plan.model_copy(update={"batch": plan.batch.model_copy(update={"gravity": 1.04})})
    assert fact_of(wort, "water").case == "begins_with_wort"
    demo = plan_with()
    assert fact_of(demo, "circuit").case == "within"
    small = demo.model_copy(update={"circuit": demo.circuit.model_copy(update={"breaker_a": 6.0})})
    over = fact_of(small, "circuit")
    assert (over.case, over.state) == ("over", "no")
    assert "breaker" in " ".join(over.facts["codes"])


@pytest.mark.parametrize(
    ("pump_w", "runs", "said", "state", "case"),
    [(30.0, True, "yes", "yes", "said_yes"), (30.0, True, "", "unknown", "said_unknown"),
     (30.0, False, "", "yes", "pump_off"), (0.0, True, "", "yes", "pump_off"), (0.0, True, "no", "no", "said_no")],
)  # fmt: skip
def test_a_pump_is_asked_about_where_it_runs(builders, pump_w, runs, said, state, case):
    """Of no watts or off it is none, unless somebody says that it is not in order."""
    plan = kettle_of(builders, Step(name="Warm", target_c=60.0, pump=runs), pump_w=pump_w)
    keys = frozenset({"pump"})
    fact = fact_of(
        plan, "pump", Said(yes=keys if said == "yes" else frozenset(), no=keys if said == "no" else frozenset())
    )
    assert (fact.state, fact.case) == (state, case)


@pytest.mark.parametrize(
    ("residual", "said", "state"),
    [(True, "yes", "yes"), (None, "yes", "yes"), (None, "", "unknown"), (False, "yes", "no")],
)
def test_a_residual_current_device_is_asked_about(residual, said, state):
    """A yes stands unless the plan says that there is none."""
    plan = plan_with()
    circuit = plan.circuit.model_copy(update={"residual_current_device": residual})
    fact = fact_of(plan.model_copy(update={"circuit": circuit}), "rcd", ALL_YES if said else Said())
    assert fact.state == state
