"""Holds under a cap: their path, and the curve of the lowest temperature."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from energyplan.advice.draws import worst_of
from energyplan.advice.holds import (
    _checked_caps_w,
    _time_above_s,
    hold_legs,
    hold_path,
    least_cap_w,
    loading_w_per_cm2,
    sag_curve,
    target_c_of,
)
from energyplan.advice.power import advise
from energyplan.advice.variants import with_hold_caps
from energyplan.base.errors import PlanError
from energyplan.day.brewday import BrewDay, simulate
from energyplan.day.course import run
from energyplan.day.kettle import shell_of, surroundings_of
from energyplan.day.legs import AS_PLANNED, Conditions
from energyplan.physics.vesselloss import Shell, dry_loss_w
from energyplan.physics.water import specific_heat_j_per_kg_k
from energyplan.plan.model import Circuit, Plan, Step


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


# By hand --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("excess", "above_s"),
    [
        ([-1, 1, 1, -1], 200.0),  # half of the first and of the last of three pieces of 100 s, all of the second
        ([-3, 1], 25.0), ([1, -3], 25.0), ([0, 0, 0], 0.0), ([1, 0, 1], 200.0), ([-1, -1, -1], 0.0), ([2, 2], 100.0),
    ],
)  # fmt: skip
def test_time_above_a_line(excess: list[float], above_s: float) -> None:
    """A polyline in pieces of 100 s."""
    times_s = 100.0 * np.arange(len(excess))
    assert _time_above_s(times_s, np.array(excess, dtype=float)) == pytest.approx(above_s)


@pytest.mark.parametrize(
    ("needed_w", "most_w", "highest_w"), [(300.0, 2500.0, 600.0), (30.0, 2500.0, 100.0), (2000.0, 2500.0, 2500.0)]
)
def test_caps_of_a_curve_reach_twice_what_is_needed(needed_w: float, most_w: float, highest_w: float) -> None:
    """From nothing, in sixty steps; to 100 W at least and to all elements at most."""
    caps_w = _checked_caps_w(None, needed_w, most_w)
    assert (caps_w.size, caps_w[0], caps_w[-1]) == (61, 0.0, highest_w)
    assert _checked_caps_w(5.0, needed_w, most_w).tolist() == [5.0]
    for wrong in (-1.0, np.nan, [100.0, np.inf]):
        with pytest.raises(PlanError, match="0 W or more"):
            _checked_caps_w(wrong, needed_w, most_w)


@pytest.mark.parametrize("pump", [False, True])
def test_a_cap_of_the_loss_less_the_pump_keeps_a_hold_in_each_draw(builders, *, pump: bool) -> None:
    """As planned, with weak elements, and with low mains: the loss at 66 °C over what a watt of cap gives."""
    step = Step(name="Hold", target_c=66.0, hold_s=7200.0, pump=pump)
    plan = builders.water_plan(step)
    volts, factor = np.array([230.0, 230.0, 207.0]), np.array([1.0, 0.8, 1.0])
    course = run(plan, Conditions(voltage_v=volts, element_factor=factor))
    loss_w = hold_legs(course, "Hold")[-1].losses.total_w(np.full(3, 66.0))
    expected = (loss_w - (18.0 if pump else 0.0)) / np.array([1.0, 0.8, 0.81])
    assert least_cap_w(plan, course, plan.steps[0], volts, factor) == pytest.approx(expected)


def surfaced(builders, control: str, *cm2: float | None) -> Plan:
    """Elements of 1 and 2 kW with surfaces in square centimetres."""
    kettle = builders.vessel(1000.0, 2000.0, control=control)
    elements = tuple(
        element.model_copy(update={"surface_m2": None if area is None else area / 1e4})
        for element, area in zip(kettle.elements, cm2, strict=True)
    )
    plan = builders.water_plan(Step(name="Warm", target_c=60.0))
    return plan.model_copy(update={"vessel": kettle.model_copy(update={"elements": elements})})


@pytest.mark.parametrize(
    ("control", "cm2", "cap_w", "loadings"),
    [
        ("modulated", (200.0, 500.0), 1500.0, (5.0, 2.5)),  # pulses: half of the time
        ("modulated", (200.0, 500.0), 3000.0, (5.0, 5.0)), ("modulated", (200.0, 500.0), 9000.0, (5.0, 5.0)),
        ("modulated", (None, 500.0), 1500.0, (4.0, 2.0)), ("modulated", (None, None), 1500.0, (None, None)),
        ("switched", (200.0, 500.0), 1000.0, (5.0, 5.0)), ("switched", (200.0, 500.0), 2000.0, (4.0, 4.0)),
        ("switched", (200.0, None), 2000.0, (None, None)),
    ],
)  # fmt: skip
def test_loading_of_a_surface_by_hand(builders, control: str, cm2, cap_w: float, loadings) -> None:
    """1 kW over 200 cm2 are 5 W/cm2, 2 kW over 500 are 4: the most loaded that is on; a pulsed one on the mean less."""
    found = loading_w_per_cm2(surfaced(builders, control, *cm2), cap_w)
    assert found == tuple(value if value is None else pytest.approx(value) for value in loadings)


def test_loading_goes_with_the_square_of_the_mains(builders) -> None:
    """230 V elements on 240 V: (240 / 230)^2."""
    plan = surfaced(builders, "modulated", 200.0, 500.0)
    plan = plan.model_copy(update={"circuit": Circuit(voltage_v=240.0)})
    assert loading_w_per_cm2(plan, 3000.0)[0] == pytest.approx(5.0 * (240 / 230) ** 2)


def test_minutes_below_and_above_a_band(builders) -> None:
    """Water that cools from 66 °C without power: below by the clock once it is half a kelvin, or a kelvin, colder."""
    plan = plain(builders, hold_power_w=0.0)
    course = run(plan)
    leg = hold_legs(course, "Hold")[-1]
    times_s, path_c = leg.outcome.stretch.times_s[:, 0], leg.outcome.stretch.temperatures_c[:, 0]
    for band_k in (0.5, 1.0):
        path = hold_path(course, "Hold", "hold", band_k=band_k)
        passes_s = float(np.interp(-(66.0 - band_k), -path_c, times_s))
        assert path.below_band_min == pytest.approx((times_s[-1] - passes_s) / 60, abs=0.05)
        assert path.above_band_min == 0.0
        assert path.outside_band_min == path.below_band_min
        assert path.lowest_c == pytest.approx(path_c[-1])


def test_a_hold_too_short_to_leave_its_band_needs_no_power(builders) -> None:
    """25 L at 66 °C lose half a kelvin in no minute: a cap of nothing keeps the band; in two hours it does not."""
    brief = builders.water_plan(Step(name="Hold", target_c=66.0, hold_s=60.0, pump=False))
    assert sag_curve(simulate(brief), "Hold", conditions=AS_PLANNED).band_w == 0.0
    assert sag_curve(simulate(plain(builders)), "Hold", conditions=AS_PLANNED).band_w > 10.0
