"""The worst plausible case."""

import pytest

from energyplan.advice.draws import worst_of
from energyplan.day.supply import heating
from energyplan.plan.model import Circuit, Plan


def test_a_measured_loss_is_less_uncertain(demo: Plan) -> None:
    """10 % for a measurement, 25 % for an estimate [assumptions]."""
    measured = demo.model_copy(update={"vessel": demo.vessel.model_copy(update={"heat_loss_w_per_k": 4.8})})
    assert (worst_of(demo).loss_frac, worst_of(measured).loss_frac) == (1.25, 1.1)


def test_the_worst_loss_is_the_end_of_what_was_measured(demo: Plan) -> None:
    """4.8 W/K within 0.288 W/K are at most 106 % of what is planned with; within 1.2 W/K, 125 %."""
    for within_w_per_k, most in ((0.288, 1.06), (1.2, 1.25)):
        measured = {"heat_loss_w_per_k": 4.8, "heat_loss_within_w_per_k": within_w_per_k}
        plan = demo.model_copy(update={"vessel": demo.vessel.model_copy(update=measured)})
        assert worst_of(plan).loss_frac == pytest.approx(most)


def test_low_mains_follow_the_family_of_rules(demo: Plan) -> None:
    """230 V -6 % is 216.2 V (BS 7671 appendix, from memory); 240 V -5 % is 228 V (ANSI C84.1, from memory)."""
    nec = demo.model_copy(update={"circuit": Circuit(voltage_v=240.0, rules="nec")})
    assert worst_of(demo).voltage_v == pytest.approx(216.2)
    assert worst_of(nec).voltage_v == pytest.approx(228.0)


def test_share_of_a_cap_that_is_left(demo: Plan) -> None:
    """The square of 0.94 times 0.9: 79.5 %, also of a capped power, in a plan without cable."""
    plan, worst = demo.model_copy(update={"circuit": None}), worst_of(demo)
    volts = plan.voltage_v * worst.voltage_v / demo.voltage_v
    full, left = (
        heating(plan, 1500.0, voltage_v=at, element_factor=factor).most_w
        for at, factor in ((plan.voltage_v, 1.0), (volts, worst.element_frac))
    )
    assert left / full == pytest.approx(0.79524, abs=1e-5)


def test_conditions_are_the_same_numbers(demo: Plan) -> None:
    """What goes into the simulation."""
    worst = worst_of(demo)
    under = worst.conditions
    assert (under.air_c, under.voltage_v, under.element_factor, under.loss_factor) == (
        worst.air_c, worst.voltage_v, worst.element_frac, worst.loss_frac,
    )  # fmt: skip
