"""What people do during the day: its order, its times, in one draw and in many."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from energyplan.day.brewday import simulate
from energyplan.day.course import Conditions, run
from energyplan.day.tasks import event_times, events, step_times
from energyplan.plan.model import Addition, Plan, Step


def test_an_addition_counts_from_the_onset_of_the_boil(builders):
    """With 45 of 60 min left it goes in 15 min after the first bubble, however long the ramp to it takes."""
    boil = Step(name="Boil", boil=True, hold_s=3600.0, additions=(Addition(name="Hops", left_s=2700.0),))
    day = simulate(builders.water_plan(boil))
    ramp, boiling = day.phases
    hops = next(event for event in day.events if event.kind == "addition")
    assert ramp.end_s > 1800.0
    assert hops.time_s == pytest.approx(boiling.start_s + 900.0, abs=1e-6)


def test_an_addition_at_the_very_onset_and_at_the_very_end(builders):
    """All of the boil time left is the onset, none of it is the end."""
    additions = (Addition(name="First", left_s=3600.0), Addition(name="Last", left_s=0.0))
    boil = Step(name="Boil", boil=True, hold_s=3600.0, additions=additions)
    day = simulate(builders.water_plan(boil))
    at_s = {event.name: event.time_s for event in day.events}
    assert at_s["First"] == pytest.approx(day.phases[-1].start_s, abs=1e-6)
    assert at_s["Last"] == pytest.approx(day.duration_s, abs=1e-6)


def test_a_step_that_finds_nothing_to_do_leaves_a_trace(builders):
    """A target below the temperature that is there, with no hold, is listed and says so."""
    day = simulate(
        builders.water_plan(
            Step(name="Hot", target_c=70.0, hold_s=600.0),
            Step(name="Tepid", target_c=65.0),
            Step(name="Hotter", target_c=75.0),
        )
    )
    assert "Tepid" not in {phase.step for phase in day.phases}
    tepid = next(event for event in day.events if event.step == "Tepid")
    assert tepid.idle
    assert tepid.time_s == pytest.approx(day.phases[1].end_s)
    assert [event.step for event in day.events if not event.idle] == ["Hot", "Hotter"]


@given(plan=st.from_type(Plan))
@settings(max_examples=15)
def test_events_come_in_order_and_within_the_day(plan: Plan):
    """Each step has one entry, each action one, each addition one; none before the start or after the end."""
    day = simulate(plan)
    times_s = [event.time_s for event in day.events]
    assert times_s == sorted(times_s)
    assert min(times_s) >= 0
    assert max(times_s) <= day.duration_s + 1e-6
    kinds = [event.kind for event in day.events]
    assert kinds.count("step") == len(plan.steps)
    assert kinds.count("action") == sum(len(step.before) for step in plan.steps)


@given(plan=st.from_type(Plan), seed=st.integers(0, 2**16))
@settings(max_examples=8)
def test_times_of_many_draws_are_those_of_each_alone(plan: Plan, seed: int):
    """Three days with other mains, side by side, have the events of the three run one by one."""
    day = simulate(plan)
    volts = plan.voltage_v * np.random.default_rng(seed).uniform(0.97, 1.05, 3)
    together = event_times(plan, run(plan, Conditions(voltage_v=volts), extract_kg=day.wort.extract_kg, go_on=True))
    for place, volt in enumerate(volts):
        alone = run(plan, Conditions(voltage_v=float(volt)), extract_kg=day.wort.extract_kg, go_on=True)
        single = event_times(plan, alone)
        assert [(event.kind, event.step, event.action) for event, _ in single] == [
            (event.kind, event.step, event.action) for event, _ in event_times(plan, alone)
        ]
        found = [float(times_s[place]) for _, times_s in together]
        assert found == pytest.approx([float(times_s[0]) for _, times_s in single], rel=1e-6, abs=1e-3)


def test_steps_meet_end_to_start(builders):
    """A step is over when the next one begins; the first begins the day, the last ends it."""
    plan = builders.mash_plan()
    course = run(plan, extract_kg=2.5)
    times = list(step_times(plan, course).values())
    assert float(times[0].begins_s[0]) == 0.0
    for before, after in pairwise(times):
        assert float(before.ends_s[0]) == float(after.begins_s[0])
    assert float(times[-1].ends_s[0]) == pytest.approx(float(course.legs[-1].end_s[0]))
    assert events(plan, course)[0].time_s == 0.0
