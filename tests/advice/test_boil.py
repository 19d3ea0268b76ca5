"""The boil: lowest power, wanted evaporation, and the balance with the latent heat."""

import math

import numpy as np
import pytest

from energyplan.advice.boil import COLD_KG_PER_L, Evaporation, advise_boil, boil_power
from energyplan.advice.draws import latin_hypercube, uncertainties_of, worst_of
from energyplan.advice.odds import day_odds
from energyplan.advice.variants import with_hold_caps
from energyplan.base.errors import PlanError
from energyplan.day.brewday import BrewDay, Phase, simulate
from energyplan.day.course import Conditions, run
from energyplan.plan.model import Plan, Site, Step

# Latent heat at the boil, CoolProp (computed with the library): 2256.4 kJ/kg at 100 °C, 0.6268 kWh/kg.
KWH_PER_KG = 0.62680


def boil_of(plan: Plan, extract: float | None = None) -> Phase:
    """The boil of a plan's day."""
    return next(phase for phase in simulate(plan, extract=extract).phases if phase.phase == "boil")


def with_lid(plan: Plan, lid: str) -> Plan:
    """The plan with another lid in its boil."""
    steps = tuple(step.model_copy(update={"lid": lid}) if step.boil else step for step in plan.steps)
    return plan.model_copy(update={"steps": steps})


@pytest.mark.parametrize("lid", ["on", "ajar", "off"])
@pytest.mark.parametrize("altitude_m", [0.0, 1600.0])
def test_lowest_power_boils_and_five_percent_less_does_not(builders, lid: str, altitude_m: float) -> None:
    """At the lowest power the temperature stays at the boiling point; below it sags."""
    plan = with_lid(builders.mash_plan(site=Site(altitude_m=altitude_m)), lid)
    least_w = boil_power(simulate(plan), "Boil").least_w
    boils, stops = (boil_of(with_hold_caps(plan, {"Boil": share * least_w})) for share in (1.0, 0.95))
    assert boils.to_c == boils.from_c
    assert stops.to_c < stops.from_c


def test_lowest_power_in_the_worst_case_is_more(demo_day: BrewDay) -> None:
    """Colder, leakier and with sagging mains it takes more."""
    power = boil_power(demo_day, "Boil")
    assert power.worst_least_w > power.least_w


def test_lids_in_order(demo_day: BrewDay) -> None:
    """On takes less than ajar, ajar less than off; the plan's own agrees with the boil's power."""
    advice = advise_boil(demo_day)
    by_lid = {least.lid: least for least in advice.lids}
    assert by_lid["on"].least_w < by_lid["ajar"].least_w < by_lid["off"].least_w
    assert by_lid["off"].least_w == advice.power.least_w
    assert all(least.boils for least in advice.lids)


@pytest.mark.parametrize("lid", ["on", "ajar"])
def test_lowest_power_of_another_lid_is_that_of_a_plan_with_it(demo: Plan, demo_day: BrewDay, lid: str) -> None:
    """Within 0.1 %: only the level differs a little, by what evaporates on the way to the boil."""
    other = boil_power(simulate(with_lid(demo, lid)), "Boil").least_w
    assert next(x for x in advise_boil(demo_day).lids if x.lid == lid).least_w == pytest.approx(other, rel=1e-3)


@pytest.mark.parametrize("litres_per_h", [3.0, 4.0, 5.0])
def test_power_for_an_evaporation_gives_it(builders, litres_per_h: float) -> None:
    """A plan with the power wanted boils off what was wanted, and the heat closes to 0.1 %.

    Up to 1 % more: the power is that for the level at which the boil begins, and the wall that falls dry loses less.
    """
    plan = builders.mash_plan(vessel=builders.vessel(4500.0))
    day = simulate(plan)
    power = boil_power(day, "Boil", Evaporation(litres_per_h=litres_per_h))
    boil = boil_of(with_hold_caps(plan, {"Boil": power.wanted_w}), day.wort.extract_kg)
    assert litres_per_h * (1 - 1e-6) <= boil.evaporated_kg / COLD_KG_PER_L <= litres_per_h * 1.01
    heat_kwh = boil.heat_j / 3.6e6
    assert heat_kwh == pytest.approx(boil.heat_lost_j / 3.6e6 + KWH_PER_KG * boil.evaporated_kg, rel=1e-3)


def test_share_of_the_volume_counts_cold_litres(demo_day: BrewDay) -> None:
    """10 % an hour of the volume before the boil, at 20 °C."""
    by_share = boil_power(demo_day, "Boil", Evaporation(per_h=0.10))
    by_litres = boil_power(demo_day, "Boil", Evaporation(litres_per_h=0.10 * by_share.volume_l))
    assert by_share.wanted_w == pytest.approx(by_litres.wanted_w, rel=1e-12)


def test_a_watched_power_is_the_next_setting(demo_day: BrewDay) -> None:
    """A multiple of the power step, not below the rolling boil, less than a step above what is wanted."""
    power = boil_power(demo_day, "Boil", Evaporation(per_h=0.10))
    wanted_w = max(power.rolling_w, power.wanted_w)
    assert power.watched_w % 100 == 0
    assert wanted_w <= power.watched_w < wanted_w + 100
    assert power.advised_w >= power.watched_w


def test_the_advised_power_boils_on_nineteen_days_of_twenty(demo_day: BrewDay, demo: Plan) -> None:
    """Whole days of the draws stop boiling on at most one of twenty; a step less on more; the range lies about it."""
    power = boil_power(demo_day, "Boil")

    def stops(power_w: float) -> float:
        inputs = latin_hypercube(uncertainties_of(demo), draws=400, seed=1)
        course = run(with_hold_caps(demo, {"Boil": power_w}), Conditions(**inputs), extract_kg=1.0, go_on=True)
        boil = next(leg for leg in course.legs if leg.phase == "boil")
        return float(np.mean(boil.outcome.end_c < boil.from_c))

    assert stops(power.advised_w) <= 0.05 < stops(power.advised_w - 100.0)
    assert power.least_range_w[0] < power.least_w < power.least_range_w[1] <= power.advised_w
    caps_w = day_odds(demo, demo_day.wort.extract_kg).needs["Boil", "boil"].caps_w
    assert power.least_range_w == pytest.approx(tuple(np.quantile(caps_w, [0.1, 0.9])))  # eight days of ten


def test_a_litre_not_boiled_off_and_not_filled_saves_073_kwh(builders) -> None:
    """0.627 kWh of latent heat and 85 K of heating, 0.10 kWh: 0.73 kWh per litre (by arithmetic), within 2 %."""
    mash = builders.mash_plan()
    up = Step(name="Up", target_c=99.5, pump=False)  # lid on, so that the way to the boil loses next to nothing
    plan = builders.mash_plan(
        *mash.steps[:-1], up, mash.steps[-1], vessel=builders.vessel(3500.0, jacket_thickness_m=0.05)
    )
    advice = advise_boil(simulate(plan), evaporation=Evaporation(litres_per_h=2.5))
    assert advice.saved_l > 0.3
    assert advice.saved_kwh / advice.saved_l == pytest.approx(0.73, rel=0.02)


def test_end_volume_and_gravity_follow(demo: Plan) -> None:
    """Less boiled off leaves more, thinner wort; restored, volume and gravity are the plan's."""
    advice = advise_boil(simulate(with_hold_caps(demo, {"Boil": 2600.0})))
    assert advice.restored is not None
    assert advice.as_advised.end_l > advice.as_set.end_l
    assert advice.as_advised.gravity_end < advice.as_set.gravity_end
    assert advice.restored.end_l == pytest.approx(advice.as_set.end_l, abs=1e-6)
    assert advice.restored.gravity_end == pytest.approx(advice.as_set.gravity_end, abs=5e-4)
    assert advice.restored.water_l < advice.as_set.water_l


def test_litres_saved_are_the_difference_of_power_over_the_latent_heat(demo: Plan) -> None:
    """(2600 W - P) x 70 min / 0.6268 kWh/kg: the boil itself, within 0.5 % (cable: none of its business)."""
    advice = advise_boil(simulate(with_hold_caps(demo, {"Boil": 2600.0})))
    boil_h = 70 / 60
    saved_kg = (advice.as_set.evaporated_l - advice.as_advised.evaporated_l) * COLD_KG_PER_L
    by_hand_kg = (2600.0 - advice.power.advised_w) / 1000 * boil_h / KWH_PER_KG
    assert saved_kg == pytest.approx(by_hand_kg, rel=5e-3)  # it boils at 99.4 °C, and the level falls less


def test_a_full_vessel_is_a_warning(builders) -> None:
    """Above 85 % it boils over easily (common practice, no source)."""
    day = simulate(builders.water_plan(Step(name="Boil", boil=True, hold_s=1800.0), water_l=43.0))
    advice = advise_boil(day)
    assert advice.fill_frac > 0.85
    assert advice.headspace_m == pytest.approx((1 - advice.fill_frac) * 0.48)
    low = advise_boil(simulate(builders.water_plan(Step(name="Boil", boil=True, hold_s=1800.0), water_l=25.0)))
    assert low.fill_frac < 0.85


def test_too_little_evaporation_for_a_rolling_boil_is_said(demo_day: BrewDay) -> None:
    """And what the least of a rolling boil is."""
    advice = advise_boil(demo_day, evaporation=Evaporation(per_h=0.02))
    assert advice.power.wanted_w < advice.power.rolling_w
    assert advice.least_of_a_rolling_boil_l_per_h > 0
    assert advice.as_advised.boils


def test_elements_too_weak_for_an_open_boil(builders) -> None:
    """1300 W can't boil 25 litres open, but ajar (common experience; here by the losses)."""
    steps = (Step(name="Boil", boil=True, hold_s=1800.0, lid="ajar"),)
    plan = builders.water_plan(*steps, vessel=builders.vessel(1300.0))
    advice = advise_boil(simulate(plan))
    by_lid = {least.lid: least for least in advice.lids}
    assert not by_lid["off"].boils
    assert by_lid["ajar"].boils


def test_water_that_does_not_fit_is_a_note(builders) -> None:
    """More evaporation wants more water than the vessel holds."""
    plan = builders.water_plan(Step(name="Boil", boil=True, hold_s=3600.0, hold_power_w=1800.0), water_l=46.0,
                               vessel=builders.vessel(6000.0))  # fmt: skip
    advice = advise_boil(simulate(plan), evaporation=Evaporation(litres_per_h=6.5))
    assert advice.restored is None
    assert "run over" in str(advice.not_restored)
    assert advice.saved_kwh < 0


def test_plans_and_steps_without_a_boil_are_refused(builders, demo_day: BrewDay) -> None:
    """The message names the steps that boil."""
    with pytest.raises(PlanError, match="no boil"):
        advise_boil(simulate(builders.water_plan(Step(name="Warm", target_c=60.0))))
    with pytest.raises(PlanError, match='"Strike" does not boil; the steps that do: "Boil"'):
        advise_boil(demo_day, "Strike")


@pytest.mark.parametrize("wrong", [{"per_h": 0.6}, {"per_h": -0.1}, {"litres_per_h": -1.0}, {"litres_per_h": math.inf}])
def test_evaporation_out_of_range_is_refused(wrong: dict[str, float]) -> None:
    """The message says what is expected."""
    with pytest.raises(PlanError, match="expected"):
        Evaporation(**wrong)


def test_pump_heat_comes_off_the_boil(builders) -> None:
    """With the pump running, the elements give that much less."""
    plan = builders.mash_plan()
    pumped = plan.model_copy(
        update={"steps": tuple(s.model_copy(update={"pump": True}) if s.boil else s for s in plan.steps)}
    )
    difference_w = boil_power(simulate(plan), "Boil").least_w - boil_power(simulate(pumped), "Boil").least_w
    assert difference_w == pytest.approx(0.6 * 30.0, abs=0.5)


# By hand ---------------------------------------------------------------------------------------------------------


def test_powers_of_a_boil_by_hand(builders) -> None:
    """25 L of water at sea level: what it takes from the losses at 100 °C and 2256.4 kJ/kg (CoolProp, IAPWS-95)."""
    plan = builders.water_plan(Step(name="Boil", boil=True, hold_s=3600.0, pump=False))
    day = simulate(plan)
    power = boil_power(day, "Boil", Evaporation(litres_per_h=3.0))
    leg = next(leg for leg in day.planned_course().legs if leg.phase == "boil")
    at_c = np.array([power.boiling_c])
    dry_w, whole_w = float(leg.losses.dry_w(at_c)[0]), float(leg.losses.total_w(at_c)[0])
    assert power.boiling_c == pytest.approx(100.0, abs=0.1)
    assert power.latent_j_per_kg == pytest.approx(2.2564e6, rel=1e-3)
    assert power.dry_w == pytest.approx(dry_w)
    assert power.wanted_w == pytest.approx(dry_w + 3.0 * 0.99821 / 3600 * 2.2564e6, rel=1e-3)
    assert power.least_w == pytest.approx(whole_w * 1.002, rel=1e-6)
    assert power.rolling_w == pytest.approx(1.1 * power.least_w)
    assert power.least_kg_per_h == pytest.approx((whole_w - dry_w) / 2.2564e6 * 3600, rel=1e-3)
    assert power.volume_l == pytest.approx((25 * 0.9991 - day.phases[0].evaporated_kg) / 0.99821, rel=1e-4)
    assert power.most_w == pytest.approx(3000.0)
    assert power.boils
    assert (power.step, power.lid) == ("Boil", "off")


def test_what_comes_of_a_power_by_its_day(builders) -> None:
    """Litres at 20 °C, an hour and a share of what was there before the boil; kWh and minutes of boil and day."""
    plan = builders.mash_plan()
    day = simulate(plan)
    advice = advise_boil(day)
    boil = next(phase for phase in day.phases if phase.phase == "boil")
    found, litres = advice.as_set, boil.evaporated_kg / 0.99821
    assert found.power_w == 2500.0
    assert found.evaporated_l == pytest.approx(litres, rel=1e-5)
    assert found.evaporated_l_per_h == pytest.approx(litres, rel=1e-5)  # of an hour
    assert found.evaporated_per_h == pytest.approx(litres / day.wort.before_boil_l, rel=1e-5)
    assert found.boil_kwh == pytest.approx(boil.energy_j / 3.6e6)
    assert (found.day_kwh, found.day_min) == (pytest.approx(day.energy_kwh), pytest.approx(day.duration_s / 60))
    assert (found.water_l, found.end_l, found.gravity_end) == (26.0, day.wort.end_l, day.wort.gravity_end)
    assert found.boils
    assert advice.least_of_a_rolling_boil_l_per_h == pytest.approx(
        1.1 * advice.power.least_kg_per_h / 0.99821, rel=1e-5
    )
    leg = next(leg for leg in day.planned_course().legs if leg.phase == "boil")
    assert advice.fill_frac == pytest.approx(float(leg.before.filled_l(leg.from_c)[0]) / 48.858, rel=1e-3)
    assert advice.power.advised_w == advice.as_advised.power_w


def test_the_last_boil_is_advised_on_unless_another_is_named(builders) -> None:
    """Of two."""
    steps = (Step(name="First", boil=True, hold_s=600.0), Step(name="Last", boil=True, hold_s=1200.0))
    day = simulate(builders.water_plan(*steps))
    assert advise_boil(day).power.step == "Last"
    assert advise_boil(day, "First").power.step == "First"


def test_at_worst_weak_elements_take_more_of_their_caps(builders) -> None:
    """The worst case's losses over 0.9 x 0.94^2 of what a watt of cap gives; each lid takes more."""
    plan = builders.water_plan(Step(name="Boil", boil=True, hold_s=1800.0, lid="off"), vessel=builders.vessel(2000.0))
    day = simulate(plan)
    by_lid = {one.lid: one for one in advise_boil(day).lids}
    power, worst = boil_power(day, "Boil"), worst_of(plan)
    course = run(plan, worst.conditions, extract_kg=0.0, go_on=True)
    leg = next(leg for leg in course.legs if leg.phase == "boil")
    heat_w = float(leg.losses.total_w(leg.from_c)[0])
    assert power.worst_least_w == pytest.approx(heat_w * 1.002 / (0.9 * 0.94**2), rel=1e-6)
    assert by_lid["off"].worst_least_w == power.worst_least_w
    assert by_lid["off"].boils
    assert by_lid["off"].boils_at_worst is (power.worst_least_w <= 2004.0)
    assert all(one.worst_least_w > one.least_w for one in by_lid.values())
