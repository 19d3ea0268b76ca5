"""Uncertain inputs and draws from them."""

import math
from typing import Any

import numpy as np
import pytest

from energyplan.advice.draws import Uncertainty, conditions_of, latin_hypercube, uncertainties_of
from energyplan.base.errors import PlanError
from energyplan.plan.model import Circuit, Plan, Site, Step


def test_ranges_are_those_stated(demo: Plan) -> None:
    """Air ±5 K, water, grain ±3 K, loss, surface ±25 %, element +5/-10 % (IEC 60335-1, from memory), mains ±6 %."""
    ends = {item.input: (item.low, item.high) for item in uncertainties_of(demo)}
    assert ends == {
        "air_c": (6.0, 16.0), "water_c": (9.0, 15.0), "grain_c": (12.0, 18.0), "loss_factor": (0.75, 1.25),
        "element_factor": (0.9, 1.05), "voltage_v": (pytest.approx(216.2), pytest.approx(243.8)),
        "open_surface_factor": (0.75, 1.25),
    }  # fmt: skip


def test_a_lowest_boiling_power_that_was_seen_is_narrower(demo: Plan) -> None:
    """±5 % of what evaporates; with the lid always on there is no open surface to be unsure of."""
    seen = demo.model_copy(update={"vessel": demo.vessel.model_copy(update={"least_boil_w": 1600.0})})
    found = {item.input: item for item in uncertainties_of(seen)}
    assert (found["open_surface_factor"].low, found["open_surface_factor"].high) == (0.95, 1.05)
    closed = demo.model_copy(update={"steps": tuple(step.model_copy(update={"lid": "on"}) for step in demo.steps)})
    assert "open_surface_factor" not in {item.input for item in uncertainties_of(closed)}


def test_a_measured_loss_is_narrower(builders) -> None:
    """±10 %; and a plan without grain has none to be uncertain."""
    plan = builders.water_plan(Step(name="Warm", target_c=60.0), vessel=builders.vessel(heat_loss_w_per_k=5.0))
    found = {item.input: item for item in uncertainties_of(plan)}
    assert (found["loss_factor"].low, found["loss_factor"].high) == (0.9, 1.1)
    assert "grain_c" not in found


@pytest.mark.parametrize(("within_w_per_k", "half_frac", "left_frac"), [(0.3, 0.06, 0.06), (1.2, 0.24, 0.1)])
def test_a_loss_strays_as_far_as_its_measurement_left_it(
    builders, within_w_per_k: float, half_frac: float, left_frac: float
) -> None:
    """The half width over the loss, to either side; another cool-down leaves 10 % at most, of less nothing goes."""
    vessel = builders.vessel(heat_loss_w_per_k=5.0, heat_loss_within_w_per_k=within_w_per_k)
    plan = builders.water_plan(Step(name="Warm", target_c=60.0), vessel=vessel)
    loss = next(item for item in uncertainties_of(plan) if item.input == "loss_factor")
    assert (loss.low, loss.high) == (pytest.approx(1 - half_frac), pytest.approx(1 + half_frac))
    assert loss.known_to == pytest.approx(left_frac)


def test_drawn_losses_stray_no_less_than_the_measurement_does(builders) -> None:
    """From their 10 to their 90 % quantile they are at least as wide as a normal error with that 95 % interval.

    Its quantiles lie at 1.2816 and 1.9600 standard deviations (tables of the normal distribution, from memory).
    """
    vessel = builders.vessel(heat_loss_w_per_k=5.0, heat_loss_within_w_per_k=0.3)
    plan = builders.water_plan(Step(name="Warm", target_c=60.0), vessel=vessel)
    drawn_w_per_k = 5.0 * latin_hypercube(uncertainties_of(plan), draws=2000, seed=1)["loss_factor"]
    low, high = np.quantile(drawn_w_per_k, (0.1, 0.9))
    assert high - low >= 2 * 1.2816 / 1.9600 * 0.3
    assert 5.0 - 0.3 <= drawn_w_per_k.min() < drawn_w_per_k.max() <= 5.0 + 0.3


def test_grain_of_the_place_and_nec_mains(builders) -> None:
    """Grain without a temperature is as warm as the air; NEC mains stray ±5 %."""
    plan = builders.mash_plan(site=Site(air_c=8.0), circuit=Circuit(voltage_v=240.0, rules="nec"))
    plan = plan.model_copy(update={"batch": plan.batch.model_copy(update={"grain_temperature_c": None})})
    found = {item.input: item for item in uncertainties_of(plan)}
    assert found["grain_c"].low == 5.0
    assert found["voltage_v"].high == pytest.approx(252.0)


def test_every_slice_of_every_input_has_one_draw(demo: Plan) -> None:
    """The property that makes a Latin hypercube: one draw in each of n slices."""
    items = uncertainties_of(demo)
    draws = latin_hypercube(items, draws=200, seed=4)
    for item in items:
        slices = np.floor((draws[item.input] - item.low) / (item.high - item.low) * 200)
        assert sorted(slices) == list(range(200))


def test_seeds_repeat(demo: Plan) -> None:
    """The same seed, the same draws; another seed, others."""
    items = uncertainties_of(demo)
    first, again, other = (latin_hypercube(items, draws=20, seed=seed)["air_c"] for seed in (1, 1, 2))
    assert (first == again).all()
    assert (first != other).any()


def test_conditions_of_one_draw(demo: Plan) -> None:
    """A single draw is a set of numbers."""
    draws = latin_hypercube(uncertainties_of(demo), draws=20, seed=1)
    one = conditions_of(draws, 7)
    assert one.air_c == draws["air_c"][7]
    assert one.draws == 1
    assert conditions_of(draws).draws == 20


@pytest.mark.parametrize(
    "wrong",
    [
        {"input": "air_c", "low": 20.0, "high": 10.0},
        {"input": "voltage_v", "low": 0.0, "high": 230.0},
        {"input": "air_c", "low": -math.inf, "high": 10.0},
    ],
)
def test_impossible_ranges_are_refused(wrong: dict[str, Any]) -> None:
    """Ends in order, and factors above nothing."""
    with pytest.raises(PlanError, match="expected a low end"):
        Uncertainty(name="odd", **wrong)


def test_impossible_draws_are_refused(demo: Plan) -> None:
    """Too few, too many, none, or an input twice."""
    items = uncertainties_of(demo)
    for draws in (5, 500_000):
        with pytest.raises(PlanError, match="expected 10 to 200 000"):
            latin_hypercube(items, draws=draws, seed=1)
    for some in ((), (items[0], items[0])):
        with pytest.raises(PlanError, match="each one once"):
            latin_hypercube(some, draws=20, seed=1)
