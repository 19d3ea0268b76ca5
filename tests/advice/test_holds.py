"""Holds under a cap: their path, and the curve of the lowest temperature."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from energyplan.advice.draws import worst_of
from energyplan.advice.holds import hold_legs, hold_path, sag_curve, target_c_of
from energyplan.advice.power import advise
from energyplan.advice.variants import with_hold_caps
from energyplan.base.errors import PlanError
from energyplan.day.brewday import BrewDay, simulate
from energyplan.day.course import run
from energyplan.day.kettle import shell_of, surroundings_of
from energyplan.day.legs import AS_PLANNED
from energyplan.physics.vesselloss import Shell, dry_loss_w
from energyplan.physics.water import specific_heat_j_per_kg_k
from energyplan.plan.model import Plan, Step


def plain(builders, **fields) -> Plan:  # type: ignore[no-untyped-def]
    """25 litres of water held at 66 °C for two hours, pump off."""
    step = Step(name="Hold", target_c=66.0, hold_s=7200.0, pump=False, **fields)
    return builders.water_plan(step)


def wetted_frac(shell: Shell) -> float:
    """Share of the side below 25 litres that were filled in at 15 °C, at 66 °C (densities: CoolProp)."""
    return 25.0 * 999.10 / 980.0 / shell.volume_l


def independent_end_c(plan: Plan, cap_w: float) -> float:
    """End of the hold by scipy's integrator: C dT/dt = P - L(T), C of 25 L of water and 10 kg of steel."""
    shell, around = shell_of(plan), surroundings_of(plan)
    water_kg = 25.0 * 0.99910  # density of water at 15 °C, CoolProp (computed with the library)

    def slope(_time_s: float, state: np.ndarray) -> np.ndarray:
        loss_w = dry_loss_w(state, around, shell, "on", wetted_frac(shell))
        return (cap_w - loss_w) / (water_kg * specific_heat_j_per_kg_k(state) + 10.0 * 500.0)

    return float(solve_ivp(slope, (0.0, 7200.0), [66.0], rtol=1e-9, atol=1e-9).y[0, -1])


def test_curve_agrees_with_an_independent_integrator(builders) -> None:
    """Lowest temperature under caps of 0, 60 and 120 W within 2 mK of scipy's solve_ivp."""
    plan = plain(builders)
    caps_w = np.array([0.0, 60.0, 120.0])
    curve = sag_curve(simulate(plan), "Hold", caps_w, conditions=AS_PLANNED)
    assert curve.lowest_c == pytest.approx([independent_end_c(plan, cap_w) for cap_w in caps_w], abs=2e-3)


def test_knee_is_the_loss_at_the_target(builders) -> None:
    """From the loss on, and not a watt below, the target is kept."""
    plan = plain(builders)
    shell = shell_of(plan)
    loss_w = float(dry_loss_w(66.0, surroundings_of(plan), shell, "on", wetted_frac(shell)))
    curve = sag_curve(simulate(plan), "Hold", [loss_w - 1, loss_w + 1], conditions=AS_PLANNED)
    assert curve.knee_w == pytest.approx(loss_w, rel=1e-5)
    assert curve.lowest_c[0] < 66.0
    assert curve.lowest_c[1] == 66.0


def test_curve_agrees_with_whole_days(builders) -> None:
    """A cap's lowest temperature is that of a day simulated with it."""
    plan = builders.mash_plan()
    day, under = simulate(plan), worst_of(plan).conditions
    caps_w = [100.0, 250.0, 900.0]
    curve = sag_curve(day, "Mash", caps_w)
    for cap_w, lowest_c, outside_min in zip(caps_w, curve.lowest_c, curve.outside_band_min, strict=True):
        course = run(with_hold_caps(plan, {"Mash": cap_w}), under, extract_kg=day.wort.extract_kg)
        path = hold_path(course, "Mash", "hold")
        assert lowest_c == pytest.approx(path.lowest_c, abs=1e-6)
        assert outside_min == pytest.approx(path.outside_band_min, abs=0.05)


def test_lowest_temperature_rises_with_the_cap_to_the_knee(demo_day: BrewDay) -> None:
    """Monotonic, then flat at the target."""
    curve = sag_curve(demo_day, "Saccharification")
    assert (np.diff(curve.lowest_c) >= 0).all()
    assert curve.knee_w is not None
    assert (curve.lowest_c[curve.caps_w >= curve.knee_w] == 67.0).all()
    assert (curve.lowest_c[curve.caps_w < curve.knee_w - 1e-6] < 67.0).all()


def test_band_cap_leaves_the_band_just_not(demo_day: BrewDay) -> None:
    """With it the hold ends half a kelvin low; with 2 % less, lower."""
    curve = sag_curve(demo_day, "Saccharification")
    assert curve.band_w is not None
    ends_c = sag_curve(demo_day, "Saccharification", [curve.band_w, 0.98 * curve.band_w]).lowest_c
    assert ends_c[0] == pytest.approx(66.5, abs=0.01)
    assert ends_c[0] >= 66.5 > ends_c[1]


def test_a_boil_has_a_curve_too(demo_day: BrewDay) -> None:
    """Below the lowest boiling power the temperature sags from the boiling point."""
    curve = sag_curve(demo_day, "Boil", [800.0, 2800.0], conditions=AS_PLANNED)
    assert curve.phase == "boil"
    assert curve.lowest_c[0] < curve.lowest_c[1] == pytest.approx(99.36, abs=0.1)


def test_elements_that_are_too_weak_have_no_knee(builders) -> None:
    """A 150 W element under a bare vessel in the worst case."""
    plan = plain(builders)
    day = simulate(plan)
    weak = plan.model_copy(update={"vessel": builders.vessel(150.0)})
    curve = sag_curve(_with_plan(day, weak), "Hold")
    assert curve.knee_w is None
    assert curve.band_w is None


def _with_plan(day: BrewDay, plan: Plan) -> BrewDay:
    from dataclasses import replace

    return replace(day, plan=plan)


def test_too_warm_at_the_start_counts_as_above(builders) -> None:
    """Grain into hot water lands above its target: the elements rest until it has come down."""
    steps = (
        Step(name="Strike", target_c=78.0),
        Step(name="Mash", before=builders.actions("add grain"), target_c=66.0, hold_s=3600.0),
    )
    plan = builders.mash_plan(*steps, gravity=None)
    path = hold_path(run(plan), "Mash", "hold")
    curve = sag_curve(simulate(plan), "Mash", [2000.0], conditions=AS_PLANNED)
    assert path.above_band_min > 10
    assert path.below_band_min == 0
    assert curve.outside_band_min[0] == pytest.approx(path.outside_band_min, abs=0.05)


def test_target_of_a_boil_is_its_boiling_point(demo_day: BrewDay, demo: Plan) -> None:
    """A boil has no target of its own."""
    legs = hold_legs(run(demo, extract_kg=demo_day.wort.extract_kg), "Boil", "boil")
    assert target_c_of(legs[0]) == pytest.approx(99.36, abs=0.1)


def test_a_step_without_a_hold_is_refused(demo_day: BrewDay) -> None:
    """The message names the step."""
    with pytest.raises(PlanError, match='"Sparge" holds no temperature'):
        sag_curve(demo_day, "Sparge")


def test_negative_caps_are_refused(demo_day: BrewDay) -> None:
    """Powers are 0 W or more."""
    with pytest.raises(PlanError, match="0 W or more"):
        sag_curve(demo_day, "Strike", [-1.0])


def test_an_element_under_the_base_needs_a_higher_cap(builders) -> None:
    """With four fifths of the power reaching the water the knee of the curve is where a simulated hold just keeps."""
    plan = builders.mash_plan()
    elements = tuple(e.model_copy(update={"share_into_water": 0.8}) for e in plan.vessel.elements)
    plan = plan.model_copy(update={"vessel": plan.vessel.model_copy(update={"elements": elements})})
    day = simulate(plan)
    curve = sag_curve(day, "Mash", conditions=AS_PLANNED)
    whole = sag_curve(simulate(builders.mash_plan()), "Mash", conditions=AS_PLANNED)
    assert curve.knee_w > 1.2 * whole.knee_w
    for factor, keeps in ((1.001, True), (0.9, False)):
        capped = simulate(with_hold_caps(plan, {"Mash": curve.knee_w * factor}), extract=day.wort.extract_kg)
        hold = next(p for p in capped.phases if (p.step, p.phase) == ("Mash", "hold"))
        assert (hold.lowest_c > curve.target_c - 1e-3) is keeps
    row = next(r for r in advise(day).rows if r.step == "Mash")
    assert row.nominal_lowest_c == pytest.approx(row.target_c, abs=1e-3)
    assert row.enough
