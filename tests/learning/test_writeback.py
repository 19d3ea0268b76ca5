"""Measured values in a copy of the plan; the guide; the packaged logs."""

from dataclasses import replace

import numpy as np
import pytest

from energyplan.advice.draws import uncertainties_of
from energyplan.advice.uncertainty import SpreadRun, spread
from energyplan.base.errors import LogError
from energyplan.base.files import help_page
from energyplan.day.brewday import simulate
from energyplan.learning.calibrate import calibrate
from energyplan.learning.logfile import demo_logs, parse_log, read_log
from energyplan.learning.readings import Remark
from energyplan.learning.result import Measured, measured_plan
from energyplan.plan.file import parse_plan, plan_to_toml, read_plan
from energyplan.plan.model import Step

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


def test_what_is_written_has_the_digits_that_are_known(found, plan):
    """A thousandth of a W/K, a tenth of a litre and of a watt, whole J/K."""
    known = replace(
        found, heat_loss_w_per_k=Measured(value=5.12345, low=5.0, high=5.25), filled_l=27.4567, element_frac=0.961234,
        vessel_heat_j_per_k=Measured(value=6543.21, low=6000.0, high=7000.0),
    )  # fmt: skip
    vessel = measured_plan(plan, known).vessel
    assert (vessel.heat_loss_w_per_k, vessel.measured_at_l, vessel.stored_heat_j_per_k) == (5.123, 27.5, 6543.0)
    assert [element.power_w for element in vessel.elements] == [1441.9, 961.2]
    assert vessel.heat_loss_measured_w_per_k == vessel.heat_loss_w_per_k  # to which the others belong
    assert measured_plan(plan, replace(known, filled_l=None)).vessel.measured_at_l is None


def test_how_far_off_the_loss_may_be_goes_in_with_it(found, plan):
    """Half of the 95 % interval, to a thousandth upwards; never less than a twentieth of the loss [assumption]."""
    vessel, loss = measured_plan(plan, found).vessel, found.heat_loss_w_per_k
    half_w_per_k = (loss.high - loss.low) / 2
    assert half_w_per_k > 0.05 * loss.value  # so that the floor is not what is seen
    assert half_w_per_k <= vessel.heat_loss_within_w_per_k <= half_w_per_k + 0.001
    narrow = replace(found, heat_loss_w_per_k=Measured(value=6.0, low=5.9, high=6.1))
    assert measured_plan(plan, narrow).vessel.heat_loss_within_w_per_k == pytest.approx(0.3)
    again = measured_plan(measured_plan(plan, narrow), found).vessel
    assert again.heat_loss_within_w_per_k == vessel.heat_loss_within_w_per_k
    unknown = replace(found, heat_loss_w_per_k=Measured(why=Remark("elements off")))
    assert measured_plan(measured_plan(plan, found), unknown).vessel.heat_loss_within_w_per_k is not None


def test_a_day_drawn_with_what_was_written_holds_the_true_day(vessel, plan):
    """Of 40 vessels, each known by one cool-down, eight true days of ten lie in the range of eight days of ten.

    The true day is run by the independent vessel: water heated to mash temperature and held there for eight hours.
    Thermometer, air and water of the log are off by normal errors, the day's are as planned, so that the loss alone is
    open; the range is that of the loss alone. It is narrower than the usual tenth makes it.
    """
    rng, held, widths = np.random.default_rng(29), [], []
    step = Step(name="Mash", target_c=70.0, hold_s=8 * 3600.0, pump=False)
    for _ in range(40):
        truth = {"loss_w_per_k": rng.uniform(3.5, 9.0), "exponent": rng.uniform(1.0, 1.25), "element_w": 2500.0}
        litres, air_c = 27.0 * (1 + rng.normal(0, 0.03 / 1.96)), 20.0 + rng.normal(0, 2.0 / 1.96)
        cooled = vessel(**truth, stored_j_per_k=litres * 0.9991 * 4183 + 5000.0, air_c=air_c, temperature_c=75.0)
        cooled.run(90)
        offset_k = rng.normal(0, 0.5 / 1.96)
        cooled.rows = [(row[0], row[1] + offset_k, *row[2:]) for row in cooled.rows]
        written = measured_plan(plan, calibrate(parse_log(cooled.csv(rng, **from_log)), plan))
        day = vessel(**truth, stored_j_per_k=27.0 * 0.9991 * 4183 + 5000.0).heat_to(70.0).hold(70.0, 8 * 60, 2500.0)
        true_kwh = (4.0 * sum(row[2] for row in day.rows) + 3.0 * day.time_s) / 3.6e6  # its step is 4 s
        planned = written.model_copy(update={"steps": (step,)})
        usual = planned.model_copy(
            update={"vessel": planned.vessel.model_copy(update={"heat_loss_within_w_per_k": None})}
        )
        spans = []
        for one in (planned, usual):
            only = tuple(item for item in uncertainties_of(one) if item.input == "loss_factor")
            row = spread(one, uncertainties=only, how=SpreadRun(draws=200)).range_of("energy_kwh")
            spans.append((row.p10, row.p90))
        held.append(spans[0][0] <= true_kwh <= spans[0][1])
        widths.append((spans[0][1] - spans[0][0]) / (spans[1][1] - spans[1][0]))
    assert np.mean(held) >= 0.8
    assert np.median(widths) < 0.8


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
    assert Measured(value=5.0).half_width_frac == float("inf")
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
