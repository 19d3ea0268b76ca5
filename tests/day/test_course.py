"""The course of a day over many draws at once, and its bookkeeping."""

from types import ModuleType

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from energyplan.base.errors import BrewDayError
from energyplan.day.brewday import simulate
from energyplan.day.course import run
from energyplan.day.legs import Conditions, Course
from energyplan.plan.model import Plan, Step

DRAWS = {
    "air_c": (5.0, 28.0),
    "water_c": (6.0, 22.0),
    "grain_c": (2.0, 25.0),
    "voltage_v": (222.0, 245.0),
    "element_factor": (0.95, 1.05),
    "loss_factor": (0.8, 1.3),
}


def draws_of(seed: int, count: int) -> dict[str, np.ndarray]:
    """Uncertain inputs, all at once."""
    random = np.random.default_rng(seed)
    return {name: random.uniform(low, high, count) for name, (low, high) in DRAWS.items()}


def totals(course: Course, draw: int) -> np.ndarray:
    """Numbers of one draw: times, ends, heats, losses, vapour by leg, and masses at the end."""
    rows = [
        [leg.outcome.duration_s[draw], leg.outcome.end_c[draw], leg.outcome.heat_j[draw], leg.outcome.dry_loss_j[draw],
         leg.outcome.vapour_kg[draw], leg.board_w[draw]]
        for leg in course.legs if leg.outcome.duration_s[draw] > 0
    ]  # fmt: skip
    end = [course.end.water_kg[draw], course.end.extract_kg[draw], course.end_c[draw], 0.0, 0.0, 0.0]
    return np.array([*rows, end])


@settings(max_examples=30)
@given(st.from_type(Plan), st.integers(0, 10_000))
def test_draws_together_equal_draws_alone(plan: Plan, seed: int) -> None:
    """Three draws of everything in one run equal three single runs, leg by leg, to 1e-9."""
    values = draws_of(seed, 3)
    try:
        together = run(plan, Conditions(**values))
    except BrewDayError:
        return  # some draw is too weak for a ramp; the message is tested elsewhere
    for k in range(3):
        alone = run(plan, Conditions(**{name: value[k : k + 1] for name, value in values.items()}))
        np.testing.assert_allclose(totals(together, k), totals(alone, 0), rtol=1e-9, atol=1e-6)


def test_draws_that_differ_in_what_happens(builders: ModuleType) -> None:
    """One draw holds, one sags, one is already warmer than its target: each as if it were alone."""
    steps = (
        Step(name="Warm", target_c=30.0, hold_s=1800.0, hold_power_w=90.0),
        Step(name="Hot", target_c=66.0, hold_s=3600.0, hold_power_w=240.0),
        Step(name="Open", target_c=70.0, hold_s=600.0, lid="off"),
        Step(name="Boil", boil=True, hold_s=600.0, hold_power_w=1900.0),
    )
    plan = builders.water_plan(*steps, vessel=builders.vessel(heat_loss_w_per_k=5.0))
    air_c, water_c = np.array([24.0, 0.0, 15.0]), np.array([15.0, 8.0, 40.0])
    together = run(plan, Conditions(air_c=air_c, water_c=water_c))
    for k in range(3):
        alone = run(plan, Conditions(air_c=air_c[k : k + 1], water_c=water_c[k : k + 1]))
        np.testing.assert_allclose(totals(together, k), totals(alone, 0), rtol=1e-9, atol=1e-6)
    hot = next(leg for leg in together.legs if (leg.step.name, leg.phase) == ("Hot", "hold"))
    assert hot.outcome.end_c[0] == 66.0 > hot.outcome.end_c[1]


@given(st.from_type(Plan))
def test_the_plan_itself_is_one_draw(plan: Plan) -> None:
    """Conditions as planned, written out, change nothing."""
    site, batch = plan.site, plan.batch
    grain_c = site.air_c if batch.grain_temperature_c is None else batch.grain_temperature_c
    spelled = Conditions(
        air_c=site.air_c, water_c=batch.water_temperature_c, grain_c=grain_c, voltage_v=plan.voltage_v,
        element_factor=1.0, loss_factor=1.0,
    )  # fmt: skip
    if site.surroundings_c is None:
        np.testing.assert_array_equal(totals(run(plan), 0), totals(run(plan, spelled), 0))


def test_draws_are_counted() -> None:
    """As many draws as the longest array; one if all are plain."""
    assert Conditions().draws == Conditions(air_c=5.0).draws == 1
    assert Conditions(air_c=np.zeros(4), loss_factor=1.1).draws == 4


def test_legs_follow_on_each_other(builders: ModuleType) -> None:
    """Each leg starts when and where the one before it ended, apart from what goes in between."""
    course = run(builders.mash_plan(), extract_kg=2.5)
    for before, after in zip(course.legs, course.legs[1:], strict=False):
        assert after.start_s[0] == pytest.approx(before.end_s[0])
        arrived = [a for a in course.arrivals if a.step is after.step]
        if after.step is before.step or not arrived:
            assert after.from_c[0] == before.outcome.end_c[0]
        else:
            assert after.from_c[0] == arrived[-1].to_c[0]
            assert arrived[0].from_c[0] == before.outcome.end_c[0]


def test_arrivals_carry_their_heat(builders: ModuleType) -> None:
    """Stored heat after an arrival is that before it and what it carried, to 1e-9."""
    course = run(builders.mash_plan(), extract_kg=2.5)
    assert [a.action.kind for a in course.arrivals] == ["add grain", "remove grain"]
    for arrival in course.arrivals:
        before_j = arrival.before.enthalpy_j(arrival.from_c)[0]
        after_j = arrival.after.enthalpy_j(arrival.to_c)[0]
        assert after_j == pytest.approx(before_j + arrival.carried_j[0], rel=1e-9)


def test_grain_in_cools_and_grain_out_keeps_the_temperature(builders: ModuleType) -> None:
    """Cold malt lowers the temperature by some kelvin; lifting it out takes heat, not temperature."""
    grain_in, grain_out = run(builders.mash_plan(), extract_kg=2.5).arrivals
    assert 1.0 < grain_in.from_c[0] - grain_in.to_c[0] < 8.0
    assert grain_out.to_c[0] == grain_out.from_c[0]
    assert grain_out.carried_j[0] < 0


def test_the_fullest_moment_is_kept(builders: ModuleType) -> None:
    """26 l and 5 kg of grain (0.67 l/kg) in 48.9 l: about 62 % full."""
    assert simulate(builders.mash_plan(gravity=None)).wort.fullest_frac == pytest.approx(
        (26.4 + 3.35) / 48.86, rel=0.02
    )


def test_a_weak_draw_stops_the_run_with_its_own_numbers(builders: ModuleType) -> None:
    """Of two draws the one that stalls is named: in air of 5 °C, 250 W keep it 250 / 5 = 50 K above the air."""
    plan = builders.water_plan(
        Step(name="Heat", target_c=66.0, ramp_power_w=250.0), vessel=builders.vessel(heat_loss_w_per_k=5.0, pump_w=0.0)
    )
    assert run(plan, Conditions(air_c=np.array([20.0, 22.0]))).end_c == pytest.approx([66.0, 66.0])
    with pytest.raises(BrewDayError, match="stalls at 55 °C"):
        run(plan, Conditions(air_c=np.array([20.0, 5.0])))


def test_other_draws_go_on(builders: ModuleType) -> None:
    """Told to go on, a run notes which draw failed and why, and the others are as if alone."""
    plan = builders.water_plan(
        Step(name="Heat", target_c=66.0, ramp_power_w=250.0, hold_s=600.0),
        vessel=builders.vessel(heat_loss_w_per_k=5.0, pump_w=0.0),
    )
    course = run(plan, Conditions(air_c=np.array([20.0, 5.0])), go_on=True)
    assert [(m.step, m.which.tolist()) for m in course.mishaps] == [("Heat", [False, True])]
    assert "stalls" in str(course.mishaps[0].message)
    alone = run(plan, Conditions(air_c=np.array([20.0])))
    np.testing.assert_allclose(totals(course, 0), totals(alone, 0), rtol=1e-9, atol=1e-6)
    assert alone.mishaps == ()
    stalled = course.legs[0].outcome
    assert np.isfinite(totals(course, 1)).all()
    assert stalled.duration_s[1] > 0
    assert stalled.heat_j[1] > stalled.dry_loss_j[1] > 0


def test_draws_that_boil_dry_or_run_over_go_on(builders: ModuleType) -> None:
    """A boil that leaves one draw dry, and a vessel that is too small for all: noted, with finite numbers for all."""
    boil = builders.water_plan(Step(name="Boil", boil=True, hold_s=3600.0), water_l=5.6)
    course = run(boil, Conditions(element_factor=np.array([0.7, 1.3])), go_on=True)
    assert [m.which.tolist() for m in course.mishaps] == [[False, True]]
    assert np.isfinite(totals(course, 1)).all()
    full = builders.water_plan(Step(name="Heat", target_c=66.0), water_l=60.0)
    assert "run over" in str(run(full, go_on=True).mishaps[0].message)
