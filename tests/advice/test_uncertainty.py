"""Ranges of a day, against separate simulations and a closed form."""

from datetime import UTC, datetime

import numpy as np
import pytest

from energyplan.advice.boil import boil_power
from energyplan.advice.draws import Uncertainty, conditions_of, uncertainties_of
from energyplan.advice.pricing import Pricing
from energyplan.advice.uncertainty import BLOCK, Spread, SpreadRun, spread
from energyplan.advice.value_of_information import what_to_measure
from energyplan.base.errors import BrewDayError, PlanError
from energyplan.circuits.check import check
from energyplan.day.brewday import simulate
from energyplan.plan.model import Circuit, Plan, Site, Step
from energyplan.tariffs.costs import price

DRAWS = 3 * BLOCK // 2


@pytest.fixture(scope="module")
def found(demo: Plan, line) -> Spread:  # type: ignore[no-untyped-def]
    """A spread of the packaged plan over two blocks of draws, with prices."""
    return spread(
        demo, pricing=Pricing(line=line, start=datetime(2026, 12, 5, 5, tzinfo=UTC)), how=SpreadRun(draws=DRAWS)
    )


def test_draws_agree_with_separate_simulations(found: Spread, demo: Plan, line) -> None:  # type: ignore[no-untyped-def]
    """Every twentieth: energy, duration, temperature and volume to 1e-9 of a day simulated alone, cost to 3e-8."""
    start = datetime(2026, 12, 5, 5, tzinfo=UTC)
    for draw in range(0, DRAWS, 20):
        day = simulate(demo, conditions_of(found.inputs, draw), extract=simulate(demo).wort.extract_kg)
        mash = next(p for p in day.phases if (p.step, p.phase) == ("Saccharification", "hold"))
        alone = {
            "energy_kwh": day.energy_kwh, "minutes": day.duration_s / 60, "lowest_mash_c": mash.lowest_c,
            "end_volume_l": day.wort.end_l, "cost": float(price(day.profiles, line, start).total),
        }  # fmt: skip
        for key, value in alone.items():
            assert found.outputs[key][draw] == pytest.approx(value, rel=3e-8 if key == "cost" else 1e-9)


def test_a_draw_does_not_depend_on_its_neighbours(demo: Plan, found: Spread) -> None:
    """Cold draws below freezing, tight ramps and all: alone it is the same to 1e-9 as in a block."""
    wide = (
        Uncertainty(input="air_c", name="air", low=-20.0, high=35.0),
        Uncertainty(input="loss_factor", name="heat loss", low=0.3, high=2.5),
        Uncertainty(input="element_factor", name="elements", low=0.75, high=1.0),
    )
    some = spread(demo, uncertainties=wide, how=SpreadRun(draws=60))
    extract = simulate(demo).wort.extract_kg
    for draw in range(0, len(some.outputs["energy_kwh"]), 4):
        day = simulate(demo, conditions_of(some.inputs, draw), extract=extract)
        assert some.outputs["energy_kwh"][draw] == pytest.approx(day.energy_kwh, rel=1e-9)


def test_quantiles_are_stable_between_seeds(demo: Plan) -> None:
    """Energy and duration: two seeds differ by less than two standard errors of independent draws."""
    one, other = (spread(demo, how=SpreadRun(draws=500, seed=seed)) for seed in (1, 2))
    for key in ("energy_kwh", "minutes"):
        first, second = one.range_of(key), other.range_of(key)
        pairs = zip((first.p10, first.p50, first.p90), (second.p10, second.p50, second.p90), first.errors, strict=True)
        for a, b, error in pairs:
            assert abs(a - b) < 2 * np.sqrt(2) * error


def test_linear_case_has_the_variance_of_the_closed_form(builders) -> None:
    """A hold's energy is loss x time: linear in the loss factor, so variance = slope^2 (b - a)^2 / 12, within 2 %."""
    step = Step(name="Hold", target_c=66.0, hold_s=7200.0, pump=False)
    kettle = builders.vessel(heat_loss_w_per_k=5.0, standby_w=0.0)
    plan = builders.water_plan(step, water_c=66.0, vessel=kettle)
    only = (Uncertainty(input="loss_factor", name="heat loss", low=0.8, high=1.2),)
    energy = spread(plan, uncertainties=only, how=SpreadRun(draws=1000)).outputs["energy_kwh"]
    slope_kwh = 5.0 * 46.0 * 2 / 1000
    assert energy.mean() == pytest.approx(slope_kwh, rel=1e-4)
    assert energy.var() == pytest.approx(slope_kwh**2 * 0.4**2 / 12, rel=0.02)


def test_two_linear_inputs_add_their_variances(builders) -> None:
    """Loss factor and air: the energy is a product; to first order the variances add up, within 2 %."""
    step = Step(name="Hold", target_c=66.0, hold_s=7200.0, pump=False)
    kettle = builders.vessel(heat_loss_w_per_k=5.0, standby_w=0.0)
    plan = builders.water_plan(step, water_c=66.0, vessel=kettle)
    both = (
        Uncertainty(input="loss_factor", name="heat loss", low=0.9, high=1.1),
        Uncertainty(input="air_c", name="air", low=18.0, high=22.0),
    )
    found = spread(plan, uncertainties=both, how=SpreadRun(draws=2000))
    by_hand = (0.01 * 46.0) ** 2 * 0.2**2 / 12 + 0.01**2 * 4.0**2 / 12
    assert found.outputs["energy_kwh"].var() == pytest.approx(by_hand, rel=0.02)
    loss, air = found.range_of("energy_kwh").drivers
    assert (loss.name, air.name) == ("heat loss", "air")
    assert loss.correlation > 0 > air.correlation


def test_quantiles_of_one_even_input(builders) -> None:
    """One in ten, half, nine in ten of an even range, from 0.8 to 1.2 times 0.46 kWh."""
    step = Step(name="Hold", target_c=66.0, hold_s=7200.0, pump=False)
    kettle = builders.vessel(heat_loss_w_per_k=5.0, standby_w=0.0)
    plan = builders.water_plan(step, water_c=66.0, vessel=kettle)
    only = (Uncertainty(input="loss_factor", name="heat loss", low=0.8, high=1.2),)
    row = spread(plan, uncertainties=only, how=SpreadRun(draws=1000)).range_of("energy_kwh")
    assert (row.p10, row.p50, row.p90) == pytest.approx((0.84 * 0.46, 0.46, 1.16 * 0.46), rel=1e-3)
    assert row.planned == pytest.approx(0.46)


def test_the_half_width_that_was_entered_is_what_the_day_is_drawn_with(builders) -> None:
    """0.3 of 5 W/K: the hold's energy lies between 1 - 0.8 x 0.06 and 1 + 0.8 x 0.06 of 0.46 kWh, else of 10 %."""
    step = Step(name="Hold", target_c=66.0, hold_s=7200.0, pump=False)
    for within_w_per_k, half_frac in ((0.3, 0.06), (None, 0.1)):
        kettle = builders.vessel(heat_loss_w_per_k=5.0, heat_loss_within_w_per_k=within_w_per_k, standby_w=0.0)
        plan = builders.water_plan(step, water_c=66.0, vessel=kettle)
        only = tuple(one for one in uncertainties_of(plan) if one.input == "loss_factor")
        row = spread(plan, uncertainties=only, how=SpreadRun(draws=1000)).range_of("energy_kwh")
        ends_kwh = [0.46 * (1 + sign * 0.8 * half_frac) for sign in (-1, 1)]
        assert (row.p10, row.p90) == pytest.approx(ends_kwh, rel=1e-3)


def test_signs_of_the_drivers(found: Spread) -> None:
    """Colder water and a leakier vessel take more; low mains take longer; strong elements draw more."""

    def driver(key: str, name: str) -> float:
        return next(d.correlation for d in found.range_of(key).drivers if d.name == name)

    assert driver("energy_kwh", "water") < 0 < driver("energy_kwh", "heat loss")
    assert driver("minutes", "mains") < -0.5
    assert driver("peak_a", "elements") > 0.5


def test_what_to_measure_is_one_of_the_strong_drivers(found: Spread) -> None:
    """What narrows energy and hold cap most drives both (how it is ranked: `test_value_of_information`)."""
    for key in ("energy_kwh", "hold_cap_w"):
        assert what_to_measure(found).best.name in [driver.name for driver in found.range_of(key).drivers[:2]]


def test_chances_are_shares_of_the_draws(found: Spread, demo: Plan) -> None:
    """The breaker of 16 A is passed whenever both heaters are on; the cable never."""
    chances = {(chance.kind, chance.name): chance for chance in found.chances}
    assert chances["over", "breaker"].frac > 0.9
    assert chances["over", "cable"].frac == 0
    assert 0 < chances["boil", "Boil"].frac < 0.1
    assert chances["sag", "any hold"].frac >= chances["sag", "Saccharification"].frac
    breaker = chances["over", "breaker"]
    assert breaker.error == pytest.approx(np.sqrt(breaker.frac * (1 - breaker.frac) / DRAWS))


def test_a_hold_near_its_loss_sags_in_some_draws(builders) -> None:
    """Cap as low as the planned loss: it sags in the draws with more, and stays in those with less."""
    step = Step(name="Hold", target_c=66.0, hold_s=7200.0, hold_power_w=230.0, pump=False)
    plan = builders.water_plan(step, water_c=66.0, vessel=builders.vessel(heat_loss_w_per_k=5.0))
    only = (Uncertainty(input="loss_factor", name="heat loss", low=0.6, high=1.4),)
    found = spread(plan, uncertainties=only, how=SpreadRun(draws=400, band_k=0.05))
    (sag,) = (chance for chance in found.chances if chance.kind == "sag")
    assert 0.3 < sag.frac < 0.5
    assert len(found.chances) == 1


def test_draws_that_stall_are_counted_and_left_out(builders) -> None:
    """300 W warm a vessel of 5 W/K to 66 °C at 20 °C, not below 6 °C: by hand, 7 of the 23 K from -1 to 22 °C."""
    plan = builders.water_plan(
        Step(name="Warm", target_c=66.0, ramp_power_w=300.0, pump=False), water_c=60.0,
        vessel=builders.vessel(heat_loss_w_per_k=5.0), site=Site(air_c=20.0),
    )  # fmt: skip
    only = (Uncertainty(input="air_c", name="air", low=-1.0, high=22.0),)
    found = spread(plan, uncertainties=only, how=SpreadRun(draws=600))
    assert found.failed_frac == pytest.approx(7 / 23, abs=0.01)
    assert found.failed_frac == found.failures[0].draws / 600  # to the last bit: other tables count it so, and round
    assert "stalls" in str(found.failures[0].message)
    assert found.outputs["energy_kwh"].size == 600 - found.failures[0].draws
    assert found.inputs["air_c"].min() >= 6.0 - 0.05


def test_a_day_that_almost_never_works_is_an_error(builders) -> None:
    """The words are those of the draws."""
    plan = builders.water_plan(
        Step(name="Warm", target_c=66.0, ramp_power_w=300.0, pump=False), water_c=60.0,
        vessel=builders.vessel(heat_loss_w_per_k=5.0), site=Site(air_c=20.0),
    )  # fmt: skip
    cold = (Uncertainty(input="air_c", name="air", low=-20.0, high=-10.0),)
    with pytest.raises(BrewDayError, match="almost no draw"):
        spread(plan, uncertainties=cold, how=SpreadRun(draws=20))


def test_boiling_dry_and_running_over_are_counted(builders) -> None:
    """Strong mains boil a short filling dry before the end."""
    plan = builders.water_plan(
        Step(name="Boil", boil=True, hold_s=3600.0), Step(name="Again", boil=True, hold_s=60.0),
        water_l=5.9, water_c=90.0, vessel=builders.vessel(3000.0),
    )  # fmt: skip
    only = (Uncertainty(input="element_factor", name="elements", low=0.9, high=1.2),)
    found = spread(plan, uncertainties=only, how=SpreadRun(draws=60))
    assert 0 < found.failed_frac < 1
    assert "runs dry" in str(found.failures[0].message)


def test_progress_is_told_after_each_block(builders) -> None:
    """Up to all draws."""
    told: list[tuple[int, int]] = []
    plan = builders.water_plan(Step(name="Warm", target_c=60.0))
    how = SpreadRun(draws=BLOCK + 10, progress=lambda done, of: told.append((done, of)))
    spread(plan, how=how)
    assert told == [(BLOCK, BLOCK + 10), (BLOCK + 10, BLOCK + 10)]


def test_a_plan_without_prices_or_circuit_has_fewer_ranges(builders) -> None:
    """No cost, no currents; other loads' hours then count from midnight UTC."""
    plain = spread(builders.water_plan(Step(name="Warm", target_c=60.0)), how=SpreadRun(draws=20))
    assert [row.key for row in plain.ranges] == ["energy_kwh", "minutes"]
    assert plain.currency == ""
    wired = builders.water_plan(Step(name="Warm", target_c=60.0), circuit=Circuit(voltage_v=230.0, breaker_a=16.0))
    assert spread(wired, how=SpreadRun(draws=20)).range_of("peak_a").planned > 0


# What is told of a spread -----------------------------------------------------------------------------------------


def test_the_planned_numbers_stand_beside_their_ranges(found: Spread, demo: Plan, line) -> None:  # type: ignore[no-untyped-def]
    """Those of the day, its price, its mash, its boil and its circuit; each range about them, in one order."""
    day = simulate(demo)
    start = datetime(2026, 12, 5, 5, tzinfo=UTC)
    mash = next(p for p in day.phases if (p.step, p.phase) == ("Saccharification", "hold"))
    boil = boil_power(day, "Boil")
    planned = {
        "energy_kwh": day.energy_kwh, "cost": float(price(day.profiles, line, start).total),
        "minutes": day.duration_s / 60, "lowest_mash_c": mash.lowest_c, "hold_cap_w": mash.needed_w - 18.0,
        "least_boil_w": boil.least_w / 1.002, "end_volume_l": day.wort.end_l,
        "peak_a": check(day.profiles, demo.circuit, demo.other_loads, start, UTC).peak_a,
    }  # fmt: skip
    assert [one.key for one in found.ranges] == list(planned)
    for one in found.ranges:
        assert one.planned == pytest.approx(planned[one.key], rel=2e-3), one.key
        assert one.p10 <= one.p50 <= one.p90
        values = found.outputs[one.key]
        assert (one.p10, one.p50, one.p90) == pytest.approx(tuple(np.quantile(values, [0.1, 0.5, 0.9])))
        strengths = [abs(driver.correlation) for driver in one.drivers]
        assert strengths == sorted(strengths, reverse=True)
        assert {driver.name for driver in one.drivers} == {item.name for item in found.uncertainties}
    assert (found.draws, found.failed_frac, found.failures, found.days) == (DRAWS, 0.0, (), 0)
    assert found.currency == "EUR"
    assert found.start == start
    assert all(values.size == DRAWS for values in (*found.inputs.values(), *found.outputs.values()))


@pytest.mark.parametrize(("band_k", "leaves"), [(0.5, False), (0.05, True)])
def test_a_hold_that_leaves_its_band_downwards_sags(builders, band_k: float, leaves: bool) -> None:  # noqa: FBT001
    """Two holds, of which the second is left without power for a minute's worth of cooling, 0.1 K or so."""
    steps = (
        Step(name="One", target_c=60.0, hold_s=600.0),
        Step(name="Two", target_c=65.0, hold_s=120.0, hold_power_w=0.0),
    )
    found = spread(builders.water_plan(*steps), how=SpreadRun(draws=20, band_k=band_k))
    chances = {(one.kind, one.name): one.frac for one in found.chances}
    assert chances == {("sag", "One"): 0.0, ("sag", "Two"): float(leaves), ("sag", "any hold"): float(leaves)}
    single = spread(builders.water_plan(steps[0]), how=SpreadRun(draws=20))
    assert [(one.kind, one.name) for one in single.chances] == [("sag", "One")]


def test_a_boil_that_stops_is_counted(builders) -> None:
    """A boil at a power that is too little for half of the draws: the share whose temperature falls."""
    plan = builders.water_plan(
        Step(name="Boil", boil=True, hold_s=1800.0, hold_power_w=1600.0), vessel=builders.vessel(3000.0)
    )
    found = spread(plan, how=SpreadRun(draws=100))
    (stops,) = [one for one in found.chances if one.kind == "boil"]
    needed = np.mean(found.outputs["least_boil_w"] > 1600.0)
    assert 0.05 < stops.frac < 0.95
    assert stops.frac == pytest.approx(needed, abs=0.03)
    assert stops.error == pytest.approx((stops.frac * (1 - stops.frac) / 100) ** 0.5)


@pytest.mark.parametrize(("draws", "enough"), [(10, True), (9, False)])
def test_ten_draws_are_the_fewest(builders, draws: int, enough: bool) -> None:  # noqa: FBT001
    """Of which ten must be left."""
    plan = builders.water_plan(Step(name="Warm", target_c=60.0))
    if enough:
        assert spread(plan, how=SpreadRun(draws=draws)).outputs["minutes"].size == 10
    else:
        with pytest.raises(PlanError, match="expected 10 to 200 000"):
            spread(plan, how=SpreadRun(draws=draws))
