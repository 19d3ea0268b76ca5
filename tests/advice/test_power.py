"""Advised powers: enough on nineteen days of twenty by an independent integrator, and no more than that."""

import os
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from energyplan.advice.answer import advised_plan, answer
from energyplan.advice.boil import Evaporation, boil_power
from energyplan.advice.draws import latin_hypercube, uncertainties_of, worst_of
from energyplan.advice.holds import hold_legs, hold_path
from energyplan.advice.power import PowerRow, advise, with_advised_caps
from energyplan.advice.variants import all_elements_w, lower_setting_w, with_hold_caps
from energyplan.day.brewday import BrewDay, simulate
from energyplan.day.course import Conditions, Course, run
from energyplan.day.kettle import shell_of, surroundings_of
from energyplan.physics.vesselloss import dry_loss_w, vapour_kg_per_s
from energyplan.physics.water import latent_heat_j_per_kg
from energyplan.plan.model import Action, Circuit, Element, Plan, Site, Step, Vessel

FloatArray = NDArray[np.float64]

PLANS = int(os.environ.get("POWER_PLANS", "5"))
GRID_K = np.linspace(-25.0, 15.0, 41)


def generated(rng: np.random.Generator) -> Plan:
    """A strike and one or two rests with grain, in a vessel, place and circuit drawn at random."""
    diameter_m = rng.uniform(0.28, 0.5)
    power_w = diameter_m**2 * rng.uniform(24e3, 45e3)
    shares = [(1.0,), (0.65, 0.35), (0.5, 0.3, 0.2)][rng.integers(3)]
    vessel = Vessel(
        diameter_m=diameter_m,
        height_m=diameter_m * rng.uniform(1.1, 1.4),
        jacket_thickness_m=[None, 0.005, 0.02][rng.integers(3)],
        heat_loss_w_per_k=[None, None, rng.uniform(2.0, 8.0)][rng.integers(3)],
        fittings=rng.uniform(1.0, 2.0),
        power_step_w=[10.0, 50.0, 100.0, 250.0][rng.integers(4)],
        control=["modulated", "switched"][rng.integers(2)],
        pump_w=rng.uniform(0.0, 60.0),
        elements=tuple(Element(power_w=power_w * share, voltage_v=230.0) for share in shares),
    )
    least_w = power_w * min(shares) if vessel.control == "switched" else 0.0  # less is refused by a rule
    volume_l = 785.0 * diameter_m**2 * vessel.height_m
    cable: dict[str, Any] = {"cable_mm2": 2.5, "cable_length_m": rng.uniform(0.0, 25.0)} if rng.random() < 0.5 else {}
    rest_c = rng.uniform(45.0, 70.0)
    lids = ["on", "on", "ajar", "off"]
    rests = [
        Step(
            name=f"Rest {number}", target_c=rest_c + 6.0 * number, hold_s=rng.uniform(300.0, 5400.0),
            before=(Action(kind="add grain"),) if number == 0 else (), lid=lids[rng.integers(4)],
        )
        for number in range(rng.integers(1, 3))
    ]  # fmt: skip
    return Plan(
        vessel=vessel,
        batch={  # type: ignore[arg-type]
            "water": f"{volume_l * 0.5} L", "water_temperature": "12 degC", "grain": f"{volume_l * 0.1} kg",
        },
        site=Site(air_c=rng.uniform(-3.0, 30.0), humidity=rng.uniform(0.2, 0.9)),
        circuit=Circuit(voltage_v=rng.uniform(220.0, 240.0), **cable),
        steps=(
            Step(name="Strike", target_c=rest_c + rng.uniform(0.0, 8.0)),
            *rests,
            Step(name="Boil", boil=True, hold_s=1800.0, hold_power_w=max(power_w * rng.uniform(0.4, 0.9), least_w)),
        ),
    )  # fmt: skip


def drawn(plan: Plan) -> dict[str, FloatArray]:
    """400 days of the plan: every uncertain input, the open surface too."""
    return latin_hypercube(uncertainties_of(plan), draws=400, seed=1)


def delivered_w(plan: Plan, cap_w: float, inputs: dict[str, FloatArray]) -> FloatArray:
    """Heat under a cap: the plate's power at the day's mains behind the cable, at most the cap's share of it."""
    vessel, circuit = plan.vessel, plan.circuit
    assert circuit is not None
    on = list(vessel.elements)
    if vessel.control == "switched":
        on = _nearest_below(vessel, cap_w)
    siemens = sum(element.power_w / element.voltage_v**2 for element in on)
    # 7.41 ohm/km at 20 °C (IEC 60228, class 2, 2.5 mm2), at 70 °C by 0.00393/K, both ways.
    ohm = 2 * circuit.cable_length_m * 7.41e-3 * (1 + 0.00393 * 50) if circuit.cable_mm2 else 0.0
    full_w = siemens * (circuit.voltage_v / (1 + ohm * siemens)) ** 2
    return np.asarray(min(cap_w, full_w) * (inputs["voltage_v"] / circuit.voltage_v) ** 2 * inputs["element_factor"])


def _nearest_below(vessel: Vessel, cap_w: float) -> list[Element]:
    best: list[Element] = []
    for mask in range(2 ** len(vessel.elements)):
        part = [element for place, element in enumerate(vessel.elements) if mask >> place & 1]
        if sum(e.power_w for e in best) < sum(e.power_w for e in part) <= cap_w + 1e-6:
            best = part
    return best


@dataclass
class Drawn:
    """One hold or boil in every draw, as numbers for the integrator."""

    plan: Plan
    row: PowerRow
    inputs: dict[str, FloatArray]
    target_c: FloatArray
    hold_s: float
    capacity_j_per_k: FloatArray
    pump_w: float
    loss_w: FloatArray  # (draws, GRID_K) around the target

    def holds(self, cap_w: float) -> float:
        """Share of the days whose temperature is nowhere half a mK below the target, by fixed Runge-Kutta steps.

        The thermostat gives all it can below the target and the loss at it.
        """
        most_w = self.pump_w + delivered_w(self.plan, cap_w, self.inputs)
        rows, step_s, rises_w = np.arange(self.target_c.size), 20.0, np.diff(self.loss_w, axis=1)

        def slope(temperature_c: FloatArray) -> FloatArray:
            place = np.clip(
                (temperature_c - self.target_c - GRID_K[0]) / (GRID_K[1] - GRID_K[0]), 0, GRID_K.size - 1.001
            )
            index = place.astype(int)
            loss_w = self.loss_w[rows, index] + (place - index) * rises_w[rows, index]
            wanted_w = loss_w + self.capacity_j_per_k / 60.0 * (self.target_c - temperature_c)
            return np.asarray((np.clip(wanted_w, self.pump_w, most_w) - loss_w) / self.capacity_j_per_k)

        at_c = lowest_c = self.target_c
        for _ in range(int(self.hold_s / step_s) + 1):
            k1 = slope(at_c)
            k2 = slope(at_c + step_s / 2 * k1)
            k3 = slope(at_c + step_s / 2 * k2)
            at_c = at_c + step_s / 6 * (k1 + 2 * k2 + 2 * k3 + slope(at_c + step_s * k3))
            lowest_c = np.minimum(lowest_c, at_c)
        return float(np.mean(lowest_c > self.target_c - 0.0005))


def phases_of(plan: Plan) -> list[Drawn]:
    """The holds and boils of a plan in its draws, from the states in which they reach them."""
    day = simulate(plan)
    advice, inputs = advise(day), drawn(plan)
    course = run(plan, Conditions(**inputs), extract_kg=day.wort.extract_kg, go_on=True)
    return [drawn_phase(plan, row, course, inputs) for row in advice.rows]


def drawn_phase(plan: Plan, row: PowerRow, course: Course, inputs: dict[str, FloatArray]) -> Drawn:
    """A hold or boil from the state in which each draw reaches it."""
    around = surroundings_of(plan, inputs["air_c"][:, None])
    shell = shell_of(plan, inputs["loss_factor"][:, None], inputs.get("open_surface_factor", np.ones(1))[:, None])
    leg = hold_legs(course, row.step, row.phase)[-1]
    target_c = leg.from_c if row.phase == "boil" else np.full(inputs["air_c"].size, row.target_c)
    at_c = np.minimum(target_c[:, None] + GRID_K, 104.0)
    wetted = np.minimum(leg.before.filled_l(leg.from_c) / shell.volume_l, 1.0)[:, None]
    lid = leg.step.lid_state
    loss_w = dry_loss_w(at_c, around, shell, lid, wetted)
    loss_w = loss_w + vapour_kg_per_s(at_c, around, shell, lid) * latent_heat_j_per_kg(at_c)
    return Drawn(
        plan=plan,
        row=row,
        inputs=inputs,
        target_c=target_c,
        hold_s=min(leg.step.hold_s, 3600.0),
        capacity_j_per_k=leg.before.capacity_j_per_k(leg.from_c),
        pump_w=plan.vessel.pump_heat * plan.vessel.pump_w if leg.step.pump_runs else 0.0,
        loss_w=loss_w,
    )


@pytest.fixture(scope="module")
def phases() -> list[Drawn]:
    """Every hold and boil of the generated plans."""
    rng = np.random.default_rng(20260704)
    return [found for _ in range(PLANS) for found in phases_of(generated(rng))]


def test_a_loss_known_better_needs_less_on_nineteen_days(builders: Any) -> None:
    """5 W/K within 0.25 need less for a hold than within the usual tenth, and within 1.25 more; as planned the same."""
    step, rows = Step(name="Hold", target_c=66.0, hold_s=7200.0, pump=False), []
    for within_w_per_k in (0.25, None, 1.25):
        kettle = builders.vessel(heat_loss_w_per_k=5.0, heat_loss_within_w_per_k=within_w_per_k)
        rows.append(advise(simulate(builders.water_plan(step, water_c=66.0, vessel=kettle))).rows[0])
    assert rows[0].needed_19_of_20_w < rows[1].needed_19_of_20_w < rows[2].needed_19_of_20_w
    assert {row.needed_w for row in rows} == {rows[0].needed_w}


def test_advised_powers_do_it_on_nineteen_days_of_twenty(phases: list[Drawn]) -> None:
    """An independent integrator finds the temperature kept on at least 95 % of the draws, and agrees on the share."""
    strong = [one for one in phases if one.row.enough]
    assert len(strong) > 0.8 * len(phases)
    for one in strong:
        share = one.holds(one.row.advised_w)
        assert share >= 0.95
        assert share == pytest.approx(one.row.advised_holds_frac, abs=0.015)


def test_the_next_lower_setting_does_it_less_often(phases: list[Drawn]) -> None:
    """On fewer than nineteen days of twenty, but for a boil whose wanted evaporation takes more than boiling."""
    fewer = 0
    for one in phases:
        lower_w = lower_setting_w(one.plan.vessel, one.row.advised_w)
        if lower_w == 0 or not one.row.enough or one.row.needed_19_of_20_w <= 0:
            continue
        share = one.holds(lower_w)
        assert share < 0.96 or one.row.phase == "boil"
        fewer += share < 0.95
    assert fewer > len(phases) / 4


def test_it_works_down_to_the_air_that_it_says(phases: list[Drawn]) -> None:
    """A bisection over whole days, one air at a time, by the integrator: the same coldest air within half a kelvin."""
    checked = 0
    for one in phases:
        told_c, row = one.row.works_down_to_c, one.row
        if told_c is None or told_c <= row.coldest_looked_at_c:
            continue
        day = simulate(one.plan)
        low_c, high_c = row.coldest_looked_at_c, one.plan.site.air_c + 12.0
        for _ in range(9):
            middle_c = (low_c + high_c) / 2
            low_c, high_c = (low_c, middle_c) if _does(one, day, middle_c) else (middle_c, high_c)
        assert told_c == pytest.approx(high_c, abs=0.5)
        checked += 1
    assert checked >= min(PLANS / 20, 10)


def _does(one: Drawn, day: BrewDay, air_c: float) -> bool:
    """Whether the power set keeps the temperature in air of a temperature, all else as planned, by the integrator."""
    plan = one.plan
    course = run(plan, Conditions(air_c=air_c), extract_kg=day.wort.extract_kg, go_on=True)
    planned = {"air_c": air_c, "voltage_v": plan.voltage_v, "element_factor": 1.0, "loss_factor": 1.0}
    inputs = {name: np.array([value]) for name, value in planned.items()}
    return drawn_phase(plan, one.row, course, inputs).holds(one.row.set_w) == 1.0


def test_after_the_advised_powers_are_written_nothing_is_found_against_them(phases: list[Drawn]) -> None:
    """The plan with them is enough by its own check, and says so."""
    for one in {id(found.plan): found for found in phases}.values():
        advice = advise(simulate(one.plan))
        again = advise(simulate(with_advised_caps(one.plan, advice)))
        assert all(row.set_enough for row, before in zip(again.rows, advice.rows, strict=True) if before.enough)


def test_needed_power_by_arithmetic(builders) -> None:
    """A measured 5 W/K at 66 °C in air of 20 °C: 230 W; on 19 days of 20 by two hundred thousand days: within 2 %."""
    step = Step(name="Hold", target_c=66.0, hold_s=3600.0, pump=False)
    plan = builders.water_plan(step, vessel=builders.vessel(heat_loss_w_per_k=5.0), water_l=25.0)
    row = advise(simulate(plan)).rows[0]
    assert row.needed_w == pytest.approx(5.0 * 46.0, rel=1e-9)
    rng = np.random.default_rng(4)
    loss_w = 5.0 * rng.uniform(0.9, 1.1, 200_000) * (66.0 - rng.uniform(15.0, 25.0, 200_000))
    share = rng.uniform(0.94, 1.06, 200_000) ** 2 * rng.uniform(0.90, 1.05, 200_000)
    assert row.needed_19_of_20_w == pytest.approx(np.quantile(loss_w / share, 0.95), rel=0.02)
    assert row.advised_w == 300.0


def test_pump_heat_comes_off_the_need(builders) -> None:
    """60 % of a 30 W pump."""
    step = Step(name="Hold", target_c=66.0, hold_s=3600.0)
    plan = builders.water_plan(step, vessel=builders.vessel(heat_loss_w_per_k=5.0))
    assert advise(simulate(plan)).rows[0].needed_w == pytest.approx(230.0 - 18.0, rel=1e-9)


def test_a_pump_that_covers_the_loss_needs_the_lowest_setting(builders) -> None:
    """Nothing is needed of the elements; the lowest setting is advised."""
    step = Step(name="Hold", target_c=30.0, hold_s=3600.0)
    plan = builders.water_plan(step, vessel=builders.vessel(heat_loss_w_per_k=1.0, pump_w=200.0))
    row = advise(simulate(plan)).rows[0]
    assert row.needed_w == 0.0
    assert row.advised_w == 100.0


def test_hold_cap_saves_no_energy(demo_day: BrewDay) -> None:
    """Under a thermostat the mean power is the loss, whatever the cap."""
    advice = advise(demo_day)
    assert all(abs(row.energy_change_kwh) < 1e-9 for row in advice.rows if row.phase == "hold")


def test_pulsed_elements_free_no_current(demo_day: BrewDay) -> None:
    """A modulated vessel draws its full current while on."""
    advice = advise(demo_day)
    assert all(row.current_freed_a == 0 for row in advice.rows)
    assert advice.pulses


def test_switched_elements_free_current(builders) -> None:
    """Holding with 1000 W instead of 3000 W frees two thirds of 13.04 A."""
    plan = builders.mash_plan(vessel=builders.vessel(2000.0, 1000.0, control="switched"))
    advice = advise(simulate(plan))
    mash = next(row for row in advice.rows if row.step == "Mash")
    assert mash.advised_w == 1000.0
    assert mash.current_freed_a == pytest.approx(2000 / 230)
    assert not advice.pulses


def test_a_cap_that_is_too_low_is_seen_to_sag(builders) -> None:
    """250 W keep 66 °C as planned but not in the worst case; minutes outside the band are counted."""
    steps = [
        step.model_copy(update={"hold_power_w": 250.0}) if step.name == "Mash" else step
        for step in builders.mash_plan().steps
    ]
    row = next(r for r in advise(simulate(builders.mash_plan(*steps))).rows if r.step == "Mash")
    assert row.set_lowest_c < 65.5
    assert 0 < row.set_outside_band_min < 60
    assert row.set_holds_frac < 0.95 <= row.advised_holds_frac
    assert row.outside_band_min < row.set_outside_band_min


def test_a_wider_band_is_left_for_less_time(builders) -> None:
    """The band is an input."""
    steps = [
        step.model_copy(update={"hold_power_w": 100.0}) if step.name == "Mash" else step
        for step in builders.mash_plan().steps
    ]
    day = simulate(builders.mash_plan(*steps))
    narrow, wide = (advise(day, band_k=band_k).rows[1].set_outside_band_min for band_k in (0.5, 2.0))
    assert wide < narrow


def test_recovery_after_grain_is_the_heating_time(builders) -> None:
    """Only the step with the grain has one; in the worst case it takes longer."""
    cooler = [
        step.model_copy(update={"target_c": 66.0}) if step.name == "Strike" else step
        for step in builders.mash_plan().steps
    ]
    advice = advise(simulate(builders.mash_plan(*cooler)))
    by_step = {row.step: row for row in advice.rows}
    mash = by_step["Mash"]
    assert by_step["Strike"].recovery_min is None
    assert mash.recovery_min is not None
    assert mash.worst_recovery_min is not None
    assert 0 < mash.recovery_min < mash.worst_recovery_min


def test_surface_loading_of_a_small_element_is_a_caution(builders) -> None:
    """3000 W on 200 cm2 are 15 W/cm2; on 500 cm2 6 W/cm2 (caution above 8: common practice, no source)."""

    def loading(surface_m2: float) -> PowerRow:
        element = Element(power_w=3000.0, voltage_v=230.0, surface_m2=surface_m2)
        plan = builders.mash_plan(vessel=builders.vessel().model_copy(update={"elements": (element,)}))
        return advise(simulate(plan)).rows[0]

    small, large = loading(0.02), loading(0.05)
    assert small.loading_w_per_cm2 == pytest.approx(15.0)
    assert small.mean_loading_w_per_cm2 == pytest.approx(15.0 * small.advised_w / 3000.0)
    assert large.loading_w_per_cm2 == pytest.approx(6.0)


def test_unknown_surface_has_no_loading(builders) -> None:
    """Nothing is guessed."""
    row = advise(simulate(builders.mash_plan())).rows[0]
    assert row.loading_w_per_cm2 is row.mean_loading_w_per_cm2 is None


def test_switched_loading_is_that_of_the_elements_on(builders) -> None:
    """Switched elements don't pulse: mean and on loading agree."""
    elements = (Element(power_w=2000.0, voltage_v=230.0, surface_m2=0.04), Element(power_w=1000.0, voltage_v=230.0))
    plan = builders.mash_plan(vessel=builders.vessel(control="switched").model_copy(update={"elements": elements}))
    step = plan.steps[-1]
    boil = next(row for row in advise(simulate(plan)).rows if row.step == step.name)
    assert boil.loading_w_per_cm2 == boil.mean_loading_w_per_cm2 == pytest.approx(5.0)


def test_elements_too_weak_for_the_worst_case_are_named(builders) -> None:
    """A 250 W element keeps a bare vessel as planned, not in the worst case."""
    steps = (Step(name="Warm", target_c=60.0, hold_s=3600.0, pump=False),)
    plan = builders.water_plan(*steps, vessel=builders.vessel(250.0), water_c=58.0)
    row = advise(simulate(plan)).rows[0]
    assert not row.enough
    assert row.advised_w == 250.0
    assert row.advised_holds_frac < 0.95


def test_a_ramp_that_stalls_in_the_worst_case_is_a_note(builders) -> None:
    """The rows are still there, from the losses alone."""
    steps = (Step(name="Warm", target_c=60.0, hold_s=3600.0, pump=False, ramp_power_w=300.0),)
    plan = builders.water_plan(*steps, water_c=58.0)
    advice = advise(simulate(plan))
    assert advice.rows[0].advised_w > advice.rows[0].needed_w > 200.0
    assert advice.failed_frac > 0
    assert "Warm" in str(advice.failures[0])


def test_advised_caps_go_into_the_plan(demo: Plan, demo_day: BrewDay) -> None:
    """Every hold and boil gets its advised power; advised again, nothing changes."""
    advice = advise(demo_day)
    again = advise(simulate(with_advised_caps(demo, advice), extract=demo_day.wort.extract_kg))
    assert [row.set_w for row in again.rows] == [row.advised_w for row in advice.rows]
    assert [row.advised_w for row in again.rows] == [row.advised_w for row in advice.rows]


@settings(max_examples=12)
@given(st.from_type(Plan))
def test_any_brew_day_gets_advice(plan: Plan) -> None:
    """Every hold and boil has a row, within the elements, that keeps its target as planned where one is enough."""
    day = simulate(plan)
    advice = advise(day)
    assert [row.step for row in advice.rows] == [p.step for p in day.phases if p.phase in ("hold", "boil")]
    for row in advice.rows:
        assert 0 < row.advised_w <= all_elements_w(plan.vessel) + 1e-9
        if row.phase == "hold" and row.enough:
            assert row.nominal_lowest_c >= row.target_c - 1e-6


TEN_AMPS = Circuit(voltage_v=230, breaker_a=10.0)


def test_all_advised_take_no_power_that_passes_a_rating(builders) -> None:
    """Two elements that are switched on 10 A: a hold that needs both stays at one, which trips nothing."""
    kettle = builders.vessel(1500.0, 1500.0, control="switched", heat_loss_w_per_k=30.0)
    weak = Step(name="Rest", target_c=66.0, hold_s=3600.0, ramp_power_w=1500.0, hold_power_w=1500.0, pump=False)
    plan = builders.water_plan(weak, vessel=kettle, circuit=TEN_AMPS)
    found = answer(plan, None, datetime(2026, 12, 5, 8, 30, tzinfo=UTC))
    row = found.power.rows[0]
    assert not found.is_over
    assert row.enough
    assert row.advised_w > row.set_w
    assert advised_plan(found) == plan
    roomy = plan.model_copy(update={"circuit": Circuit(voltage_v=230, breaker_a=32.0)})
    taken = advised_plan(answer(roomy, None, found.start))
    assert taken.steps[0].hold_power_w == row.advised_w


def test_each_number_of_a_row_is_that_of_a_day(demo: Plan) -> None:
    """As planned with set and advised powers, and in the worst case with either: temperatures, minutes, kWh, litres."""
    plan = with_hold_caps(demo, {"Saccharification": 120.0, "Boil": 2600.0})
    day = simulate(plan)
    found, extract = advise(day), day.wort.extract_kg
    worst = worst_of(plan).conditions
    advised = with_hold_caps(plan, {row.step: row.advised_w for row in found.rows})
    days = [simulate(one, extract=extract) for one in (plan, advised)]
    courses = [run(one, worst, extract_kg=extract, go_on=True) for one in (plan, advised)]
    assert [(row.step, row.phase) for row in found.rows] == [
        (phase.step, phase.phase) for phase in day.phases if phase.phase in ("hold", "boil")
    ]
    for row in found.rows:
        before, after = (next(p for p in one.phases if (p.step, p.phase) == (row.step, row.phase)) for one in days)
        set_path, path = (hold_path(course, row.step, row.phase) for course in courses)
        assert row.nominal_lowest_c == pytest.approx(after.lowest_c, abs=2e-3)
        assert row.energy_change_kwh == pytest.approx((after.energy_j - before.energy_j) / 3.6e6, abs=2e-4)
        assert row.evaporation_change_kg == pytest.approx(after.evaporated_kg - before.evaporated_kg, abs=2e-4)
        assert row.set_lowest_c == pytest.approx(set_path.lowest_c, abs=5e-3)
        assert row.advised_lowest_c == pytest.approx(path.lowest_c, abs=5e-3)
        assert row.set_outside_band_min == pytest.approx(set_path.outside_band_min, abs=0.1)
        assert row.outside_band_min == pytest.approx(path.outside_band_min, abs=0.1)
        assert row.above_band_min == pytest.approx(path.above_band_min, abs=0.1)
        assert row.set_w == {"Saccharification": 120.0, "Boil": 2600.0}.get(row.step, row.set_w)
        assert row.coldest_looked_at_c == -25.0
        recovers = row.step == "Saccharification"
        ramps = [sum(p.duration_s for p in one.phases if (p.step, p.phase) == (row.step, "ramp")) / 60 for one in days]
        assert row.recovery_min == (pytest.approx(ramps[0], abs=0.02) if recovers else None)
        assert (row.worst_recovery_min is not None) is recovers
        if recovers:
            assert row.worst_recovery_min > row.recovery_min
    mash = next(row for row in found.rows if row.step == "Saccharification")
    assert (mash.watched_w, mash.watched_change_kwh, mash.for_evaporation) == (None, 0.0, False)
    assert mash.set_lowest_c < 67.0
    boil = next(row for row in found.rows if row.step == "Boil")
    assert (boil.target_c, mash.target_c) == (pytest.approx(99.36, abs=0.1), 67.0)
    assert (found.pulses, found.days, found.failed_frac, found.failures) == (True, 0, 0.0, ())
    assert found.air_c == 11.0


def test_a_boil_may_be_turned_down_while_it_is_watched(demo: Plan) -> None:
    """To what rolls and evaporates as wanted, where that is less than what does it on most days."""
    day = simulate(with_hold_caps(demo, {"Boil": 2600.0}))
    boil = next(row for row in advise(day).rows if row.step == "Boil")
    power = boil_power(day, "Boil")
    lower_w = power.watched_w if power.watched_w < boil.advised_w else None
    assert boil.watched_w == lower_w
    if lower_w is not None:
        turned = simulate(with_hold_caps(day.plan, {"Boil": lower_w}), extract=day.wort.extract_kg)
        kwh = [next(p for p in one.phases if p.phase == "boil").energy_j / 3.6e6 for one in (day, turned)]
        assert boil.watched_change_kwh == pytest.approx(kwh[1] - kwh[0], abs=2e-4)
    much = next(row for row in advise(day, evaporation_per_h=0.12).rows if row.step == "Boil")
    assert much.for_evaporation
    assert much.watched_w is None
    assert much.advised_w == boil_power(day, "Boil", Evaporation(per_h=0.12)).watched_w
