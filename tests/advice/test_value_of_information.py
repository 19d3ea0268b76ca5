"""What to measure next: how much each number narrows once an input is known."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from energyplan.advice.draws import Uncertainty, uncertainties_of
from energyplan.advice.holds import least_cap_w
from energyplan.advice.pricing import Pricing
from energyplan.advice.uncertainty import Spread, SpreadRun, spread
from energyplan.advice.value_of_information import (
    MEASURED_FOR,
    _Polynomial,
    narrowings,
    what_to_measure,
)
from energyplan.base.errors import PlanError
from energyplan.day.brewday import simulate
from energyplan.day.course import Conditions, run
from energyplan.plan.model import Element, Plan

HOW_RUN = SpreadRun(draws=1000, seed=3)


@pytest.fixture(scope="module")
def found(demo: Plan) -> Spread:
    """The demo day under its usual uncertainties."""
    return spread(demo, how=HOW_RUN)


def _known_widths(demo: Plan, known: Uncertainty) -> dict[str, float]:
    """Widths with an input known, from new simulations of the whole day: the mean over five measured values."""
    widths: dict[str, list[float]] = {"energy_kwh": [], "hold_cap_w": []}
    half = (known.high - known.low) / 2
    for place in (-0.8, -0.4, 0.0, 0.4, 0.8):
        centre = known.low + half * (1 + place)
        low, high = max(centre - known.known_to, known.low), min(centre + known.known_to, known.high)
        narrowed = [
            replace(item, low=low, high=high) if item.input == known.input else item for item in uncertainties_of(demo)
        ]
        drawn = spread(demo, uncertainties=narrowed, how=SpreadRun(draws=500, seed=8))
        for key, found in widths.items():
            found.append(drawn.range_of(key).p90 - drawn.range_of(key).p10)
    return {key: float(np.mean(found)) for key, found in widths.items()}


@pytest.mark.parametrize("field", ["loss_factor", "voltage_v"])
def test_narrowing_is_that_of_new_simulations(demo: Plan, found: Spread, field: str) -> None:
    """Drawing the whole day anew with the input narrowed gives the same widths, to 8 % of the width now."""
    item = next(item for item in found.uncertainties if item.input == field)
    for key, width in _known_widths(demo, item).items():
        row = next(row for row in narrowings(found, key) if row.input == field)
        assert row.known_width == pytest.approx(width, abs=0.08 * row.width)


def test_two_inputs_worked_by_hand() -> None:
    """Y = 3 a + b, both even on [-1, 1]: with a known exactly, b alone is left, 80 % of whose range is 1.6.

    Now: the sum of two even variables of half widths 3 and 1 has the 10 % quantile where (x + 4)^2/24 = 0.1, at
    -4 + sqrt(2.4) = -2.451; from there to its mirror image it is 4.902 wide. With b known, a is left: 0.8 x 6 = 4.8.
    """
    rng = np.random.default_rng(5)
    a, b = rng.uniform(-1, 1, 40_000), rng.uniform(-1, 1, 40_000)
    items = (
        Uncertainty(input="air_c", name="a", low=-1.0, high=1.0),
        Uncertainty(input="water_c", name="b", low=-1.0, high=1.0),
    )
    made = Spread(
        plan=None, draws=40_000, seed=5, band_k=0.5, uncertainties=items, ranges=(), chances=(), failed_frac=0.0,
        failures=(), currency="", inputs={"air_c": a, "water_c": b}, outputs={"energy_kwh": 3 * a + b},
    )  # fmt: skip
    first, second = narrowings(made, "energy_kwh")
    assert (first.name, second.name) == ("a", "b")
    assert first.width == pytest.approx(4.902, rel=0.01)
    assert first.known_width == pytest.approx(1.6, rel=0.01)
    assert second.known_width == pytest.approx(4.8, rel=0.01)
    assert what_to_measure(made).best.name == "a"


def test_few_draws_are_fitted_with_straight_lines(demo: Plan) -> None:
    """20 draws have no room for squares; the ranking still finds that something narrows."""
    few = spread(demo, how=SpreadRun(draws=20))
    assert all(0 <= row.narrows_frac <= 1 for row in narrowings(few, "energy_kwh"))
    assert narrowings(few, "energy_kwh")[0].narrows_frac > 0


def test_ranking_and_best(found: Spread) -> None:
    """The most first; the hold cap hangs on the heat loss; the best has a way to measure it."""
    ranked = what_to_measure(found)
    assert set(ranked.outputs) == {"energy_kwh", "hold_cap_w"}
    for rows in ranked.outputs.values():
        assert all(first.narrows_frac >= second.narrows_frac for first, second in pairwise(rows))
    assert ranked.outputs["hold_cap_w"][0].input == "loss_factor"
    assert ranked.helps
    assert ranked.best.input in {row.input for rows in ranked.outputs.values() for row in rows}


def test_cost_is_ranked_where_there_are_prices(demo: Plan, pricing: Pricing) -> None:
    """All three numbers; with one price all day cost would narrow as energy does."""
    priced = spread(demo, pricing=pricing, how=SpreadRun(draws=200))
    assert tuple(what_to_measure(priced).outputs) == MEASURED_FOR


def test_what_is_known_well_enough_narrows_nothing(demo: Plan, found: Spread) -> None:
    """Inputs with the tolerance of their measurement already, or a range of no width, gain nothing."""
    known = [
        replace(item, low=(item.low + item.high) / 2 - item.known_to, high=(item.low + item.high) / 2 + item.known_to)
        for item in uncertainties_of(demo)[:-1]
    ]
    fixed = replace(uncertainties_of(demo)[-1], low=15.0, high=15.0)
    ranked = what_to_measure(spread(demo, uncertainties=[*known, fixed], how=SpreadRun(draws=100)))
    assert not ranked.helps
    assert {row.narrows_frac for rows in ranked.outputs.values() for row in rows} == {0.0}
    with pytest.raises(PlanError, match="no range 'money'"):
        narrowings(found, "money")
    with pytest.raises(PlanError, match="0 or more"):
        Uncertainty(input="air_c", name="air", low=0.0, high=1.0, known_to=-1.0)


def test_the_cap_of_each_draw_just_keeps_the_target(demo: Plan) -> None:
    """Simulated with its own cap a draw keeps 67 °C to the end; with 2 W less it sags."""
    base = demo.vessel.model_copy(update={"elements": (Element(power_w=2800, voltage_v=240, share_into_water=0.95),)})
    plan = demo.model_copy(update={"vessel": base})
    step = next(step for step in plan.steps if step.name == "Saccharification")
    for volts, factor, loss in ((216.0, 0.9, 1.25), (240.0, 1.05, 0.75), (230.0, 1.0, 1.0)):
        under = Conditions(voltage_v=volts, element_factor=factor, loss_factor=loss)
        course = run(plan, under, extract_kg=3.0)
        cap_w = float(least_cap_w(plan, course, step, np.array([volts]), np.array([factor]))[0])
        for change_w, keeps in ((0.5, True), (-2.0, False)):
            steps = tuple(
                one.model_copy(update={"hold_power_w": cap_w + change_w}) if one.name == step.name else one
                for one in plan.steps
            )
            day = simulate(plan.model_copy(update={"steps": steps}), under, extract=3.0)
            hold = next(phase for phase in day.phases if (phase.step, phase.phase) == (step.name, "hold"))
            assert (hold.lowest_c >= 67.0 - 1e-6) is keeps


# By hand ------------------------------------------------------------------------------------------------------------


def made(outputs: dict[str, np.ndarray], *items: Uncertainty, **inputs: np.ndarray) -> Spread:
    """A spread without a plan."""
    return Spread(
        plan=None, draws=100, seed=1, band_k=0.5, uncertainties=items, ranges=(), chances=(), failed_frac=0.0,
        failures=(), currency="", inputs=inputs, outputs=outputs,
    )  # fmt: skip


AIR = Uncertainty(input="air_c", name="air", low=10.0, high=20.0, known_to=1.0)
WATER = Uncertainty(input="water_c", name="water", low=5.0, high=15.0, known_to=4.9)
EVEN = np.linspace(0.0, 1.0, 1001)


def test_a_number_that_hangs_on_one_input_narrows_to_its_tolerance() -> None:
    """2 per kelvin over 10 K: 16 wide from 10 to 90 %; known to 1 K it is 3.2 wide, wherever it turns out to lie."""
    (row,) = narrowings(made({"energy_kwh": 2 * (10 + 10 * EVEN)}, AIR, air_c=10 + 10 * EVEN), "energy_kwh")
    assert (row.width, row.known_width) == (pytest.approx(16.0), pytest.approx(3.2))
    assert row.narrows_frac == pytest.approx(0.8)


def test_a_square_narrows_by_the_mean_over_five_places() -> None:
    """Of x^2, x from -1 to 1, known to a tenth of that: narrow where it is flat, wide where it is steep.

    Moved to a centre c, 10 to 90 % lie 0.08 to either side: (c + 0.08)^2 - (c - 0.08)^2 = 0.32 c, for 0.4 and 0.8;
    at 0 from the squares of 0.01 to 0.09 of it.
    """
    x = 2 * EVEN - 1
    narrow = replace(AIR, known_to=0.5)
    (row,) = narrowings(made({"energy_kwh": x**2}, narrow, air_c=15 + 5 * x), "energy_kwh")
    at_zero = 0.1**2 * (0.9**2 - 0.1**2)
    assert row.width == pytest.approx(0.9**2 - 0.1**2, rel=2e-3)
    assert row.known_width == pytest.approx((2 * 0.32 * 0.8 + 2 * 0.32 * 0.4 + at_zero) / 5, rel=5e-3)


@pytest.mark.parametrize("known_to", [5.0, 9.0])
def test_a_range_as_narrow_as_its_measurement_gains_nothing(known_to: float) -> None:
    """5 K to either side, known to 5 or more; and a number that does not vary."""
    item = replace(AIR, known_to=known_to)
    assert narrowings(made({"energy_kwh": EVEN}, item, air_c=10 + 10 * EVEN), "energy_kwh")[0].narrows_frac == 0.0
    flat = made({"energy_kwh": np.ones(1001)}, AIR, air_c=10 + 10 * EVEN)
    assert narrowings(flat, "energy_kwh")[0].narrows_frac == 0.0


def test_the_best_counts_energy_and_hold_and_not_the_cost_again() -> None:
    """Water moves the cost alone by far; air moves energy and hold: that is what to measure."""
    rng = np.random.default_rng(3)
    air, water = rng.uniform(10, 20, 1000), rng.uniform(5, 15, 1000)
    outputs = {"energy_kwh": 2 * air + water, "cost": 9 * water + air, "hold_cap_w": 5 * air, "minutes": water}
    sharp = replace(WATER, known_to=0.5)
    ranked = what_to_measure(made(outputs, sharp, AIR, air_c=air, water_c=water))
    assert tuple(ranked.outputs) == ("energy_kwh", "cost", "hold_cap_w")
    assert ranked.best is AIR
    assert ranked.outputs["cost"][0].input == "water_c"
    assert ranked.helps


@pytest.mark.parametrize(("energy", "hold", "helps"), [(0.28, 0.28, True), (0.25, 0.25, False), (0.28, 0.0, False)])
def test_half_a_hundredth_is_no_help(energy: float, hold: float, helps: bool) -> None:  # noqa: FBT001
    """Beside something that nobody can measure, a part so small hardly narrows; on the mean of energy and hold.

    Even parts of half widths 1 and a have their 10 % quantile at sqrt(0.8 a) - 1 - a: 0.8 % wider for a of 0.28 than
    for none, 0.35 % for 0.25.
    """
    rng = np.random.default_rng(7)
    other, air = rng.uniform(-1, 1, 40_000), rng.uniform(-1, 1, 40_000)
    outputs = {"energy_kwh": other + energy * air, "hold_cap_w": other + hold * air}
    exact, unknown = replace(AIR, known_to=0.0), replace(WATER, known_to=5.0)
    found = made(outputs, exact, unknown, air_c=15 + 5 * air, water_c=10 + 5 * other)
    shares = {key: next(row.narrows_frac for row in narrowings(found, key) if row.input == "air_c") for key in outputs}
    assert (sum(shares.values()) / 2 > 0.005) is helps
    assert what_to_measure(found).helps is helps


@pytest.mark.parametrize(("draws", "squares"), [(18, True), (17, False)])
def test_a_term_wants_three_draws(draws: int, squares: bool) -> None:  # noqa: FBT001
    """Two inputs have a level, two slopes and three products: 18 draws tell them, 17 straight lines alone."""
    rng = np.random.default_rng(1)
    places = rng.uniform(-1, 1, (draws, 2))
    assert bool(_Polynomial(places, places[:, 0] * places[:, 1]).products) is squares
