"""Measured values in a copy of the plan; the guide; the packaged logs."""

from dataclasses import replace

import numpy as np
import pytest

from energyplan.base.errors import LogError
from energyplan.base.files import help_page
from energyplan.day.brewday import simulate
from energyplan.learning.calibrate import calibrate
from energyplan.learning.logfile import demo_logs, parse_log, read_log
from energyplan.learning.readings import Remark
from energyplan.learning.result import Measured, measured_plan
from energyplan.plan.file import parse_plan, plan_to_toml, read_plan

from_log = {"noise_k": 0.1, "round_k": 0.1}


@pytest.fixture(scope="module")
def found(vessel, water_j_per_k, plan):
    """A day of water that tells everything."""
    kettle = vessel(loss_w_per_k=6.0, stored_j_per_k=water_j_per_k(27.0, 6500.0), element_w=2400.0, beside_w=3.0)
    text = kettle.heat_to(76.0).run(120).csv(np.random.default_rng(8), "power_w", **from_log)
    return calibrate(parse_log(text), plan)


def test_a_measured_plan_has_the_measured_values(found, plan):
    """Heat loss and stored heat go in, the nameplates are scaled by one factor and keep their voltage."""
    vessel = measured_plan(plan, found).vessel
    assert vessel.heat_loss_w_per_k == pytest.approx(found.heat_loss_w_per_k.value, abs=1e-3)
    assert vessel.stored_heat_j_per_k == pytest.approx(found.vessel_heat_j_per_k.value, abs=1.0)
    assert [element.power_w for element in vessel.elements] == pytest.approx([1440.0, 960.0], rel=0.01)
    assert {element.voltage_v for element in vessel.elements} == {230.0}


def test_the_file_reads_back_and_plans_with_it(found, plan):
    """The TOML is a plan again; its ramp takes as long as stored heat and power as measured make it."""
    again = parse_plan(plan_to_toml(measured_plan(plan, found)))
    assert again == measured_plan(plan, found)
    ramp = simulate(again).phases[0]
    net_w = 2400.0 - 6.0 * 22.0  # the loss at the mean of 15 and 70 degC, air 20 degC
    assert ramp.duration_s == pytest.approx(found.stored_heat_j_per_k.value * 55 / net_w, rel=0.02)


def test_what_isnt_known_stays_as_it_is(found, plan):
    """Only the heat loss is known: the rest stays; nothing at all is an error with the reason."""
    unknown = Measured(why=Remark("elements off"))
    only = replace(found, vessel_heat_j_per_k=unknown, element_frac=None)
    vessel = measured_plan(plan, only).vessel
    assert vessel.elements == plan.vessel.elements
    assert vessel.stored_heat_j_per_k is None
    with pytest.raises(LogError, match="tells nothing that goes into a plan"):
        measured_plan(plan, replace(only, heat_loss_w_per_k=unknown))


def test_unknown_values_have_no_width():
    """A value that isn't known is infinitely wide; one that is has half its interval as a share."""
    assert Measured(why=Remark("elements off")).half_width_frac == float("inf")
    assert Measured(value=5.0, low=4.5, high=5.5).half_width_frac == pytest.approx(0.1)


def test_the_guide_names_three_tests_minutes_and_cautions():
    """Cool-down, heat-up, boil-off, each with minutes; ratings, electrician and steam; no claim that it is safe."""
    guide = help_page("measure")
    for words in (
        "1. Cool-down",
        "2. Heat-up",
        "3. Boil-off",
        "60 to 90 min",
        "licensed electrician",
        "within the ratings",
    ):
        assert words in guide
    assert [title.count("min") for title in guide.splitlines() if title[2:4] in ("1.", "2.", "3.")] == [1, 1, 1]
    assert "safe" not in guide.lower()


def test_the_packaged_logs_are_what_their_maker_makes(demologs):
    """The demo logs come from the seeded independent vessel (within a step of the thermometer), and are small."""
    for name in demologs.LOGS:
        packaged, made = read_log(name), parse_log(demologs.log_text(name))
        assert packaged.times_s.tolist() == made.times_s.tolist()
        np.testing.assert_allclose(packaged.temperature_c, made.temperature_c, atol=0.1001)
        assert len(demo_logs()[name]) < 10_000


def test_the_packaged_logs_tell_what_was_planted():
    """5.9 W/K, 2680 W and 5.6 kJ/K were planted into the packaged logs; their intervals hold them."""
    demo = read_plan("demo")
    for name in ("cool-down", "heat-up", "brew-day"):
        loss = calibrate(read_log(name), demo).heat_loss_w_per_k
        assert loss.low < 5.9 * 1.01
        assert loss.high > 5.9 * 0.99
    day = calibrate(read_log("brew-day"), demo)
    assert day.element_power_w.low < 2680.0 < day.element_power_w.high
    assert day.vessel_heat_j_per_k.low < 5600.0 < day.vessel_heat_j_per_k.high
