"""On how many days a power does its job, by hand: needs of round numbers, the airs looked at, and often enough."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from energyplan.advice import odds
from energyplan.advice.draws import inputs_of, quantile_errors, uncertainties_of, worst_of
from energyplan.advice.odds import (
    DRAWS,
    Need,
    day_odds,
    day_ranges,
    does_as_often,
    drawn,
    longest_mash_hold,
    weak_steps,
)
from energyplan.base.errors import PlanError
from energyplan.day.brewday import simulate
from energyplan.day.course import Conditions
from energyplan.plan.model import Circuit, Step

AIRS_C = np.array([-10.0, 0.0, 10.0, 20.0])


def need_of(builders, drawn_w, *, voltage_v=230.0, factor=1.0, in_air_w=(1600.0, 1200.0, 900.0, 700.0), **vessel):
    """What a hold needs in some draws and airs, of 3 kW at 230 V."""
    count, drawn_w = len(drawn_w), np.array(drawn_w, dtype=float)
    plan = builders.water_plan(Step(name="Hold", target_c=66.0, hold_s=600.0), vessel=builders.vessel(3000.0, **vessel))
    return Need(plan=plan, planned_heat_w=1000.0, drawn_w=drawn_w, voltage_v=np.full(count, voltage_v),
                element_factor=np.full(count, factor), airs_c=AIRS_C, in_air_w=np.array(in_air_w))  # fmt: skip


@pytest.mark.parametrize(
    ("cap_w", "voltage_v", "factor", "frac"),
    [(1500.0, 230.0, 1.0, 0.5), (1499.0, 230.0, 1.0, 0.25), (None, 230.0, 1.0, 1.0), (0.0, 230.0, 1.0, 0.0),
     (1500.0, 207.0, 1.0, 0.25), (1500.0, 230.0, 0.9, 0.25), (1700.0, 230.0, 0.9, 0.5)],
)  # fmt: skip
def test_a_share_of_the_draws(builders, cap_w, voltage_v, factor, frac):
    """Of 1, 1.5, 2 and 2.5 kW: a cap sags with the square of the mains, and with the elements."""
    assert need_of(builders, [1000, 1500, 2000, 2500], voltage_v=voltage_v, factor=factor).frac(cap_w) == frac


def test_the_cap_of_each_draw(builders):
    """Elements of nine tenths need a ninth more of it; more than all of them is told as it is."""
    need = need_of(builders, [900, 1800, 3600], factor=0.9)
    assert need.caps_w == pytest.approx([1000.0, 2000.0, 4000.0])
    assert need.planned_w == pytest.approx(1000.0)


@pytest.mark.parametrize(
    ("frac", "enough_w"), [(0.95, 1900.0), (0.951, 1905.0), (0.5, 1000.0), (1.0, 2000.0), (0.0, 5.0)]
)
def test_the_cap_that_is_enough_in_a_share_of_400_draws(builders, frac, enough_w):
    """5, 10 … 2000 W: the 380th of them on nineteen days of twenty."""
    assert need_of(builders, 5.0 * np.arange(400, 0, -1)).enough_w(frac) == pytest.approx(enough_w)


def test_the_setting_does_it_on_two_draws_more_than_nineteen_of_twenty(builders):
    """382 of 400 draws, 1910 W: the next step of 10 or 100 W that is as much; of switched elements the next sum."""
    watts = 5.0 * np.arange(1, 401)
    assert need_of(builders, watts, power_step_w=10.0).setting_w() == pytest.approx(1910.0)
    assert need_of(builders, watts).setting_w() == pytest.approx(2000.0)
    assert need_of(builders, watts, power_step_w=10.0).setting_w(0.5) == pytest.approx(1000.0)
    assert need_of(builders, watts).setting_w(0.0) == 100.0
    assert need_of(builders, 2 * watts).setting_w() == 3000.0
    switched = builders.vessel(1000.0, 1900.0, control="switched")
    need = need_of(builders, watts)
    need = replace(need, plan=need.plan.model_copy(update={"vessel": switched}))
    assert need.setting_w() == 2900.0
    assert need.setting_w(0.95) == 1900.0
    assert need.setting_w(0.2) == 1000.0
    assert replace(need, drawn_w=2 * watts).setting_w() == 2900.0


@pytest.mark.parametrize(
    ("cap_w", "down_to_c"),
    [(1600.0, -10.0), (2000.0, -10.0), (1200.0, 0.0), (1050.0, 5.0), (900.0, 10.0), (700.0, 20.0), (699.0, None),
     (1400.0, -5.0), (None, -10.0)],
)  # fmt: skip
def test_the_coldest_air_in_which_a_cap_does(builders, cap_w, down_to_c):
    """Needs of 1.6, 1.2, 0.9 and 0.7 kW at -10, 0, 10 and 20 °C: between two of them a straight line."""
    found = need_of(builders, [1000]).down_to_c(cap_w)
    assert found == (None if down_to_c is None else pytest.approx(down_to_c, abs=1e-6))


def test_the_days_beside_the_draws(demo, demo_day):
    """Air of 25 K below to 23 above in steps of 3 about the plan's rounded 11 °C, the plan itself, the worst case."""
    plan = demo.model_copy(update={"site": demo.site.model_copy(update={"air_c": 11.4})})
    found = drawn(plan, demo_day.wort.extract_kg, 20, 1, None)
    assert found.airs_c.tolist() == [*np.arange(-25.0, 24.0, 3.0), 11.4]
    air_c = np.asarray(found.conditions.air_c)
    assert air_c[20:-1].tolist() == found.airs_c.tolist()
    assert air_c[-1] == pytest.approx(6.4)
    loss = np.asarray(found.conditions.loss_factor)
    assert loss[20:-1].tolist() == [1.0] * found.airs_c.size
    assert loss[-1] == 1.25
    water_c = np.asarray(found.conditions.water_c)
    assert water_c[20:].tolist() == [12.0] * (found.airs_c.size + 1)
    assert (found.draws, found.failed, int(found.brewed.sum())) == (20, 0, 20)
    assert not found.brewed[20:].any()
    assert loss[:20].tolist() == inputs_of(plan, 20, 1)["loss_factor"].tolist()


def test_needs_are_those_of_days_run_alone(demo, demo_day):
    """The mash's need as planned, and in the coldest and the warmest air looked at: what keeps it there in that day."""
    need = day_odds(demo, demo_day.wort.extract_kg).needs["Saccharification", "hold"]
    assert need.airs_c.tolist() == [*np.arange(-25.0, 24.0, 3.0)]
    for air_c, found_w in ((11.0, need.planned_heat_w), (-25.0, need.in_air_w[0]), (23.0, need.in_air_w[-1])):
        day = simulate(demo, Conditions(air_c=air_c), extract=demo_day.wort.extract_kg)
        hold = next(p for p in day.phases if (p.step, p.phase) == ("Saccharification", "hold"))
        assert found_w == pytest.approx(hold.needed_w - 18.0, rel=5e-3)  # which the pump gives
    assert need.drawn_w.size == need.voltage_v.size == need.element_factor.size == DRAWS


def with_fracs(monkeypatch, before, after, failed=(0.0, 0.0)):
    """Whether a variant does as often, by shares of days and of those that can't be brewed."""
    shares = {"base": {("Mash", "hold"): before}, "day": {("Mash", "hold"): after, ("New", "hold"): 0.0}}
    lost = dict(zip(("base", "day"), failed, strict=True))
    monkeypatch.setattr(odds, "_fracs", lambda day, _learned: shares[day.plan])
    monkeypatch.setattr(odds, "day_odds", lambda plan, _kg, _learned: SimpleNamespace(failed_frac=lost[plan]))
    base, day = (SimpleNamespace(plan=name, wort=SimpleNamespace(extract_kg=1.0)) for name in ("base", "day"))
    return does_as_often(day, base)


@pytest.mark.parametrize(
    ("before", "after", "does"),
    [(1.0, 0.945, True), (1.0, 0.944, False), (0.9, 0.85, True), (0.9, 0.849, False), (0.97, 0.94, True),
     (0.97, 0.919, False)],
)  # fmt: skip
def test_a_variant_does_its_job_often_enough_or_as_often(monkeypatch, before, after, does):
    """On 94.5 days of a hundred, or on five in a hundred fewer than before; a step that is new has no before."""
    assert with_fracs(monkeypatch, before, after + 1e-9) is does


@pytest.mark.parametrize(
    ("failed", "does"),
    [((0.0, 0.055), True), ((0.0, 0.056), False), ((0.1, 0.15), True), ((0.1, 0.151), False), ((0.01, 0.059), True)],
)  # fmt: skip
def test_a_variant_stalls_no_more_often(monkeypatch, failed, does):
    """On 5.5 days of a hundred, or on five more than before."""
    before, after = failed
    assert with_fracs(monkeypatch, 1.0, 1.0, (before, after - 1e-9)) is does


@pytest.mark.parametrize(("frac", "weak"), [(0.944, True), (0.946, False)])
def test_a_weak_step_does_it_on_less_than_nineteen_of_twenty(monkeypatch, frac, weak):
    """Two of 400 draws less are let pass."""
    monkeypatch.setattr(odds, "_fracs", lambda _day, _learned: {("Mash", "hold"): frac, ("Boil", "boil"): 1.0})
    assert weak_steps(None) == ({"Mash": frac} if weak else {})


def test_ranges_of_a_day_are_quantiles_of_its_draws(demo, demo_day):
    """Each end by numpy over the draws; a day whose draws can't be brewed but for nine has none."""
    found, others = day_ranges(demo_day, None), drawn(demo, demo_day.wort.extract_kg, DRAWS, 1, None)
    used_kwh = sum(leg.board_w * leg.outcome.duration_s for leg in others.course.legs)[:DRAWS] / 3.6e6
    heater_kwh = demo_day.energy_kwh - demo_day.profiles[0].energy_kwh
    expected = np.quantile(used_kwh + heater_kwh, [0.1, 0.5, 0.9])
    assert [found.energy_kwh.p10, found.energy_kwh.p50, found.energy_kwh.p90] == pytest.approx(expected, rel=2e-3)
    minutes = np.quantile(others.course.legs[-1].end_s[:DRAWS] / 60, [0.1, 0.5, 0.9])
    assert [found.minutes.p10, found.minutes.p50, found.minutes.p90] == pytest.approx(minutes)
    assert found.cost is None
    assert found.failed_frac == 0.0
    assert found.lowest_mash_c.p10 == found.lowest_mash_c.p90 == 67.0  # held on more than nine days of ten


def test_the_longest_hold_of_the_mash(demo, builders):
    """The demo's Saccharification; without grain there is none."""
    assert longest_mash_hold(demo).name == "Saccharification"
    assert longest_mash_hold(builders.water_plan(Step(name="Hold", target_c=66.0, hold_s=600.0))) is None


# What is uncertain -------------------------------------------------------------------------------------------------


def test_the_worst_case_by_hand(demo, builders):
    """5 K colder, mains 6 % low (NEC: 5 %), elements a tenth weak, 25 % more lost and evaporated (seen: 10, 5)."""
    worst = worst_of(demo)
    assert (worst.air_c, worst.voltage_v) == (6.0, pytest.approx(0.94 * 230))
    assert (worst.element_frac, worst.loss_frac, worst.open_surface_frac) == (0.9, 1.25, 1.25)
    vessel = builders.vessel(heat_loss_w_per_k=5.0, least_boil_w=1500.0)
    nec = builders.water_plan(
        Step(name="Warm", target_c=60.0), vessel=vessel, circuit=Circuit(voltage_v=240.0, rules="nec")
    )
    worst = worst_of(nec)
    assert (worst.voltage_v, worst.loss_frac, worst.open_surface_frac) == (228.0, 1.1, 1.05)
    both = worst.beside_planned(nec)
    assert [np.asarray(both.air_c).tolist(), np.asarray(both.voltage_v).tolist()] == [[20.0, 15.0], [240.0, 228.0]]
    assert np.asarray(both.element_factor).tolist() == [1.0, 0.9]
    assert np.asarray(both.loss_factor).tolist() == [1.0, 1.1]
    assert np.asarray(both.open_surface_factor).tolist() == [1.0, 1.05]


def test_what_a_measurement_leaves(demo):
    """A thermometer half a kelvin, in grain one; a meter 3 %, the mains' 2 %, a cool-down 10 %, a boil seen 5 %."""
    left = {one.input: one.known_to for one in uncertainties_of(demo)}
    assert left == {
        "air_c": 0.5, "water_c": 0.5, "loss_factor": 0.1, "element_factor": 0.03, "voltage_v": pytest.approx(4.6),
        "open_surface_factor": 0.05, "grain_c": 1.0,
    }  # fmt: skip


def test_tap_water_does_not_freeze(builders):
    """2 °C: from 0 to 5."""
    plan = builders.water_plan(Step(name="Warm", target_c=60.0), water_c=2.0)
    water = next(one for one in uncertainties_of(plan) if one.input == "water_c")
    assert (water.low, water.high) == (0.0, 5.0)


@pytest.mark.parametrize(("known_to", "refused"), [(0.0, False), (-0.1, True), (float("nan"), True)])
def test_what_is_left_is_no_less_than_nothing(demo, known_to, refused):
    """0 is known perfectly."""
    one = uncertainties_of(demo)[0]
    if refused:
        with pytest.raises(PlanError, match="expected 0 or more"):
            replace(one, known_to=known_to)
    else:
        assert replace(one, known_to=known_to).known_to == known_to


def test_errors_of_quantiles_are_half_the_distance_of_two_order_statistics():
    """Of 0, 1 … 100: at a tenth a binomial deviation of 2.985 to either side, at a half 4.975."""
    assert quantile_errors(np.arange(101.0)) == pytest.approx((2.985, 4.975, 2.985), abs=2e-3)
    few = quantile_errors(np.arange(5.0))  # a deviation of 0.134 about a tenth: from 0, which is the least, to 0.234
    assert few == pytest.approx((0.234 * 4 / 2, 0.2236 * 4, 0.234 * 4 / 2), abs=1e-3)
