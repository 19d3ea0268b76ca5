"""What readings say, by hand: a view of a day with round slopes, its causes, its misfit, and the vessels it leaves."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy import stats

from energyplan.advice.brewed import (
    Outlook,
    Reading,
    Readings,
    Stretch,
    _bends,
    _error,
    _fitted,
    _narrowed,
    measured_profile,
    misfit,
    oddest,
    outlook,
    stretches,
    widened,
)
from energyplan.advice.brewery import likely_causes, likely_pairs
from energyplan.advice.draws import Uncertainty
from energyplan.advice.learned import (
    CONTRADICTS,
    Learned,
    _Cloud,
    _log_likelihood,
    _log_prior,
    _surprise,
    by_chance,
    learn,
    weighted_quantiles,
)
from energyplan.base.errors import LogError
from energyplan.base.load import LoadProfile
from energyplan.day.brewday import simulate

LOSS = Uncertainty(input="loss_factor", name="heat loss", low=0.8, high=1.2)
POWER = Uncertainty(input="element_factor", name="elements", low=0.9, high=1.1)
AIR = Uncertainty(input="air_c", name="air", low=6.0, high=16.0)


def view(measured, *, slopes, planned=(1.0, 1.0, 11.0), error=0.01, rest=0.0, curves=None):
    """A view of two inputs of the vessel and the air, (inputs, readings)."""
    slopes = np.array(slopes, dtype=float)
    size = slopes.shape[1]
    inputs = (LOSS, POWER, AIR)
    return Outlook(
        uncertainties=inputs,
        centre=np.array([(one.low + one.high) / 2 for one in inputs]),
        sd=np.array([(one.high - one.low) / 12**0.5 for one in inputs]),
        planned=np.array(planned),
        measured=np.array(measured, dtype=float),
        level=np.full(size, 7.0),
        slopes=slopes,
        curves=np.zeros((3, size)) if curves is None else np.array(curves, dtype=float),
        error=error * np.eye(size),
        rest=rest * np.eye(size),
    )


def test_what_a_vessel_would_read():
    """7 kWh at the middle; 2 more per whole loss factor, 3 less per element factor, and their square and product."""
    found = view([7.0], slopes=[[2.0], [-3.0], [0.1]], curves=[[1.0], [4.0], [5.0]])
    vessels = {"loss_factor": np.array([1.0, 1.1, 1.1]), "element_factor": np.array([1.0, 1.0, 1.05])}
    # 0.2 + 1.0 x 0.01; and with the elements -0.15, 4 x 0.1 x 0.05 and 5 x 0.0025 on top
    assert found.expected(vessels)[:, 0] == pytest.approx([7.0, 7.21, 7.21 - 0.15 + 0.02 + 0.0125])
    assert (found.vessel, found.of_the_day) == ([0, 1], [2])


def test_what_was_read_less_what_the_plan_would_read():
    """A plan whose air is 3 K above the middle of its range, and its loss 0.1: 0.3, 0.2 and 0.01 kWh more expected."""
    found = view([8.0], slopes=[[2.0], [-3.0], [0.1]], planned=(1.1, 1.0, 14.0), curves=[[1.0], [4.0], [5.0]])
    assert found.off == pytest.approx([8.0 - 7.0 - 0.2 - 0.3 - 0.01])


def test_how_far_apart_days_of_one_vessel_read():
    """The air's 10 K, evenly, at 0.1 kWh/K: a variance of a twelfth; beside it reading and view."""
    found = view([8.0, 1.0], slopes=[[2.0, 0.0], [-3.0, 0.0], [0.1, 0.2]], error=0.01, rest=0.02)
    assert found.scatter == pytest.approx(np.array([[1, 2], [2, 4]]) / 12 + 0.03 * np.eye(2))


def test_the_misfit_is_the_mean_square_over_the_errors():
    """0.3 and 0.1 kWh off with errors of 0.1: (9 + 1) / 2; half of the variance may be the view's."""
    assert misfit(view([7.3, 7.1], slopes=np.zeros((3, 2)))) == pytest.approx(5.0)
    assert misfit(view([7.3, 7.1], slopes=np.zeros((3, 2)), rest=0.01)) == pytest.approx(2.5)


def test_the_oddest_is_the_one_without_which_the_rest_fits():
    """Three readings that the loss moves alike: the one that stands apart, though it moved least from the plan."""
    slopes = [[5.0, 5.0, 5.0], [0.0] * 3, [0.0] * 3]
    assert oddest(view([7.5, 7.5, 6.9], slopes=slopes, error=1e-4)) == 2
    assert oddest(view([6.9, 7.5, 7.5], slopes=slopes, error=1e-4)) == 0
    assert oddest(view([7.0, 7.9, 7.0], slopes=np.zeros((3, 3)))) == 1


def test_a_cause_is_the_best_of_reading_and_belief():
    """0.4 kWh more, 4 kWh per loss factor, an error of 0.1: between the 0.1 that it takes and nothing, by their widths.

    The loss strays by 0.4 / sqrt(12) = 0.115: (4 x 0.4 / 0.01) / (16 / 0.01 + 12 / 0.16) = 0.0955. What stays is
    0.4 - 0.382 = 0.018 kWh and 0.83 of its own deviations: 0.717 of 16.
    """
    causes = likely_causes(view([7.4], slopes=[[4.0], [0.0], [0.1]]))
    loss = next(one for one in causes if one.input == "loss_factor")
    change = 160 / (1600 + 12 / 0.16)
    left = ((0.4 - 4 * change) / 0.1) ** 2 + (change * (12 / 0.16) ** 0.5) ** 2
    assert loss.value == pytest.approx(1 + change)
    assert loss.planned == 1.0
    assert loss.share == pytest.approx(1 - left / 16)
    assert causes[0] is loss
    assert [one.share for one in causes] == sorted((one.share for one in causes), reverse=True)
    none = next(one for one in causes if one.input == "element_factor")
    assert (none.value, none.share) == (1.0, 0.0)


@pytest.mark.parametrize(("more_kwh", "needs"), [(0.0, False), (0.01, False), (0.195, False), (0.197, True)])
def test_where_nothing_is_off_nothing_needs_a_cause(more_kwh, needs):
    """1.96 errors of 0.1 kWh: chance makes more on one day of twenty, wherever the plan lies in its ranges."""
    found = likely_causes(view([7.3 + more_kwh], slopes=[[4.0], [0.0], [0.1]], planned=(1.0, 1.0, 14.0)))
    assert bool(found) is needs


def test_a_plan_beside_the_middle_of_a_range_is_pulled_towards_it():
    """Air planned 3 K above its middle, 0.3 kWh more than planned at 0.1 kWh/K, a variance of 100/12 K2.

    The readings ask for 3 K more, the range for 3 less; what it costs to leave the range's middle is set against it.
    """
    found = view([7.6], slopes=[[0.0], [0.0], [0.1]], planned=(1.0, 1.0, 14.0))
    air = next(one for one in likely_causes(found) if one.input == "air_c")
    change = (0.1 * 0.3 / 0.01 - 3 * 0.12) / (0.1 * 0.1 / 0.01 + 0.12)
    worse = ((0.3 - 0.1 * change) / 0.1) ** 2 + 0.12 * (change + 3) ** 2 - 0.12 * 3**2
    assert air.value == pytest.approx(14 + change)
    assert air.share == pytest.approx(1 - worse / 9)


TWO = [[4.0, 4.0, 0.0, 0.0], [0.0, 0.0, 4.0, 4.0], [0.1, 0.0, 0.1, 0.0]]


@pytest.mark.parametrize(
    ("measured", "pairs"),
    [
        ([7.4, 7.4, 7.4, 7.4], [{"loss_factor", "element_factor"}]),
        ([7.4, 7.4, 7.0, 7.0], []),  # the loss alone
        ([7.0, 7.0, 7.0, 7.0], []),
        ([7.4, 7.4, 7.4, 6.4], []),  # no two of them
        ([8.0, 7.0, 8.0, 7.0], []),  # the air alone, were it 10 K colder
        ([9.0, 7.0, 9.0, 7.0], []),  # beyond three times its range it is no cause
    ],
)
def test_two_causes_where_none_does_alone(measured, pairs):
    """The loss moves two readings, the elements two others, with errors of 0.1 kWh; the air one of each."""
    found = likely_pairs(view(measured, slopes=TWO))
    assert [{one.input for one in pair} for pair in found] == pairs
    for pair in found:
        assert [one.value for one in pair] == [pytest.approx(1.1, abs=0.01)] * 2
        assert pair[0].share == pair[1].share > 0.9


def test_causes_that_move_readings_alike_are_not_told_apart():
    """The air moves what the elements move, a little otherwise: both are given beside the loss, the likelier first."""
    found = likely_pairs(view([7.4, 7.4, 7.4, 7.4], slopes=[*TWO[:2], [0.0, 0.0, -0.05, -0.052]]))
    assert [[one.input for one in pair] for pair in found] == [["loss_factor", "element_factor"],
                                                               ["loss_factor", "air_c"]]  # fmt: skip
    assert found[0][0].share > found[1][0].share


def test_two_readings_are_explained_by_any_two():
    """So they tell no two causes; three may."""
    off = ([7.4, 7.4], [[4.0, 0.0], [0.0, 4.0], [0.1, -0.1]])
    assert likely_pairs(view(off[0], slopes=off[1])) == ()
    assert likely_pairs(view([*off[0], 7.4], slopes=[[*row, row[0]] for row in off[1]]))


def reading(kind, value, step=""):
    """A number that was read."""
    return Reading(kind=kind, value=value, step=step)


def test_how_well_readings_are_taken():
    """A meter's 6 W in the kW are the same in both totals; its digit, the minute and the stick are each one's own.

    At 5 and 10 kWh 0.03 and 0.06 kWh alike, 0.02 of each; 1.5 min; 0.15 L and a twentieth of 3 L.
    """
    rows = [reading("energy_kwh", 5.0), reading("energy_kwh", 10.0), reading("boil_began_min", 60.0),
            reading("boiled_off_l", 3.0)]  # fmt: skip
    expected = np.diag([0.03**2 + 0.02**2, 0.06**2 + 0.02**2, 1.5**2, 0.15**2 + 0.15**2])
    expected[0, 1] = expected[1, 0] = 0.03 * 0.06
    assert _error(rows) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("one", "low", "high"),
    [
        (LOSS, 0.5, 1.5), (POWER, 0.9, 1.1), (AIR, 6.0, 16.0),
        (Uncertainty(input="open_surface_factor", name="x", low=0.8, high=1.2), 0.74, 1.26),
        (Uncertainty(input="loss_factor", name="x", low=0.6, high=1.4), 0.1, 2.0),
    ],
)  # fmt: skip
def test_a_vessel_is_looked_for_beyond_its_range(one, low, high):
    """A loss 2.5 times as far, an open surface 1.3 times, never below a tenth; plates are believed."""
    found = widened(one)
    assert (found.low, found.high) == (pytest.approx(low), pytest.approx(high))


def test_what_was_noted_is_known_to_half_a_kelvin():
    """About the middle of its range; what was not stays as it is."""
    found = _narrowed(AIR, frozenset({"air_c"}))
    assert (found.low, found.high) == (10.5, 11.5)
    assert _narrowed(AIR, frozenset({"water_c"})) is AIR


def test_days_that_run_away_are_left_out_of_the_fit():
    """A line through 200 days, four of which are far off: slope and level as without them, and only 196 are left."""
    rng = np.random.default_rng(2)
    x = rng.uniform(-1, 1, 200)
    would = (3 + 2 * x + rng.normal(0, 0.01, 200))[:, None]
    would[[5, 50, 100, 150]] += 4.0
    found, left = _fitted(np.column_stack([np.ones(200), x]), would)
    assert found[:, 0] == pytest.approx([3.0, 2.0], abs=0.01)
    assert left.shape == (196, 1)
    assert np.abs(left).max() < 0.08


def test_squares_of_the_day_s_inputs_are_a_mean_and_a_scatter():
    """Air in a range of 6 K (a variance of 3), bent by 0.1 per square and 0.2 per product with the loss (0.03).

    The square of an even value has the mean of its variance, and sqrt(4/5) of that as its own deviation.
    """
    sd = np.array([0.03**0.5, 3**0.5])
    curved = np.array([[7.0], [0.2], [0.1]])  # loss, loss and air, air
    curves, bent, scatter = _bends(curved, sd, np.array([True, False]))
    assert curves.tolist() == [[7.0]]
    assert bent == pytest.approx([0.1 * 3])
    assert scatter == pytest.approx(np.array([[(0.1 * 3) ** 2 * 0.8 + 0.2**2 * 0.09]]))
    even = np.random.default_rng(1).uniform(-3, 3, (200_000, 1))
    assert np.mean(even**2) == pytest.approx(3.0, rel=0.01)
    assert np.std(even**2) == pytest.approx(3 * 0.8**0.5, rel=0.01)


# Stretches, and what they make of the day --------------------------------------------------------------------------


def stretch(until, start_s, end_s, planned_kwh, measured_kwh):
    """From one reading of the meter to the next."""
    return Stretch(until=until, start_s=start_s, end_s=end_s, planned_kwh=planned_kwh, measured_kwh=measured_kwh)


def test_each_stretch_is_scaled_to_what_was_measured_of_it():
    """An hour at 1 and one at 2 kW, 3.3 kWh measured; an hour of nothing in which 0.6 kWh were: 1.1, 2.2 and 0.6 kW.

    What lies before the first reading begins, and behind the last, is no part of it.
    """
    profile = LoadProfile(name="Vessel", edges_s=3600.0 * np.array([-1, 0, 1, 2, 3, 4]),
                          mean_w=np.array([500.0, 1000, 2000, 0, 800]), heater_w_per_v2=np.zeros(5),
                          other_w=np.zeros(5))  # fmt: skip
    day = SimpleNamespace(profiles=[profile])
    found = measured_profile(day, [stretch("A", 0.0, 7200.0, 3.0, 3.3), stretch("B", 7200.0, 10_800.0, 0.0, 0.6)])
    assert found.edges_s.tolist() == [0.0, 3600.0, 7200.0, 10_800.0]
    assert found.mean_w == pytest.approx([1100.0, 2200.0, 600.0])
    assert found.energy_kwh == pytest.approx(3.9)


def test_readings_without_a_step_are_of_the_whole_day(demo, demo_day):
    """Strike and end: the first stretch ends with the strike's last phase, the second with the day."""
    readings = Readings(plan=demo, readings=(reading("energy_kwh", 9.0), reading("energy_kwh", 2.5, "Strike")))
    strike, rest = stretches(demo_day, readings)
    ends_s = [phase.end_s for phase in demo_day.phases if phase.step == "Strike"]
    assert (strike.until, strike.start_s, strike.end_s, strike.measured_kwh) == ("Strike", 0.0, max(ends_s), 2.5)
    assert (rest.until, rest.start_s, rest.end_s) == ("", max(ends_s), demo_day.duration_s)
    assert rest.measured_kwh == pytest.approx(6.5)
    assert strike.planned_kwh == pytest.approx(sum(p.energy_j for p in demo_day.phases if p.step == "Strike") / 3.6e6)
    assert readings.metered_kwh == 9.0
    assert Readings(plan=demo, readings=(reading("boil_began_min", 60.0),)).metered_kwh is None


def test_totals_may_stay_and_not_fall(demo):
    """The same total after the next step is let pass; a watt-hour less is not, and both are said."""
    rows = reading("energy_kwh", 2.5, "Strike"), reading("energy_kwh", 2.5, "Mash-out")
    assert Readings(plan=demo, readings=rows).metered_kwh == 2.5
    fallen = rows[0], reading("energy_kwh", 2.499, "")
    with pytest.raises(LogError, match=r"shows 2\.50 kWh after “the end” and 2\.50 kWh before it"):
        Readings(plan=demo, readings=fallen)


def test_a_view_is_that_of_the_day_s_own_draws(demo):
    """At the plan's own inputs it expects what the day takes, to two hundredths of a kWh; warm water takes less."""
    day = simulate(demo)
    found = outlook(Readings(plan=demo, readings=(reading("energy_kwh", 7.0),)))
    assert 7.0 - found.off[0] == pytest.approx(day.profiles[0].energy_kwh, abs=0.02)
    slopes = {one.input: float(found.slopes[place, 0]) for place, one in enumerate(found.uncertainties)}
    # 27 kg of water a kelvin warmer: 0.031 kWh; the vessel's loss at some 60 K for hours
    assert slopes["water_c"] == pytest.approx(-27 * 4187 / 3.6e6, rel=0.15)
    assert slopes["loss_factor"] > 0.5
    assert slopes["air_c"] < 0


# What days teach ---------------------------------------------------------------------------------------------------


def test_values_beyond_a_range_are_rarer_and_ever_rarer():
    """0.8 to 1.2 all alike; just beyond 0.15 as likely, at eight tenths of the half range beyond e^-1/2 of that."""
    values = np.array([0.8, 1.0, 1.2, 1.2 + 1e-9, 0.8 - 0.16, 1.2 + 0.32])
    expected = [1, 1, 1, 0.15, 0.15 * np.exp(-0.5), 0.15 * np.exp(-2.0)]
    assert np.exp(_log_prior(LOSS, values)) == pytest.approx(expected)


def test_weights_are_the_density_of_what_was_read():
    """Readings 0.2 and 0.1 beside what a vessel would read: as scipy's normal distribution has it."""
    found = view([7.2, 7.1], slopes=[[2.0, 0.0], [-3.0, 0.0], [0.1, 0.2]])
    expected = np.array([[7.0, 7.0], [7.2, 7.1], [7.5, 6.8]])
    normal = stats.multivariate_normal([7.2, 7.1], found.scatter)
    logs = _log_likelihood(found, expected)
    assert logs - logs[1] == pytest.approx(normal.logpdf(expected) - normal.logpdf([7.2, 7.1]))


def test_a_surprise_is_a_distance_in_deviations():
    """Two vessels, three to one, that would read 7.1 and 7.5 (a mean of 7.2, a variance of 0.03), scatter beside it."""
    found = view([7.6], slopes=[[4.0], [0.0], [0.0]])
    vessels = {"loss_factor": np.array([1.025, 1.125]), "element_factor": np.ones(2)}
    assert _surprise(found, (vessels, np.array([0.75, 0.25]))) == pytest.approx(0.4**2 / (0.03 + 0.01))
    assert by_chance(1, 1e-4) == pytest.approx(15.137, abs=1e-3)  # chi squared, 1 in 10 000 (table)
    assert by_chance(3, CONTRADICTS) == pytest.approx(21.108, abs=1e-3)


def learned(**weights):
    """Five vessels, evenly apart."""
    given = np.array(weights.get("weights", [0.2] * 5))
    vessels = {"loss_factor": np.array([1.4, 0.8, 1.0, 1.2, 1.6]), "element_factor": np.linspace(0.9, 1.1, 5)}
    return Learned(vessels=vessels, weights=given, days=1, contradict=())


def test_quantiles_lie_at_the_middles_of_weights():
    """Sorted 1, 2, 4 with weights 1, 2, 1: at an eighth, a half and seven eighths; in between straight."""
    values, weights = np.array([4.0, 1.0, 2.0]), np.array([1.0, 1.0, 2.0])
    assert weighted_quantiles(values, weights, [0.0, 0.125, 0.3125, 0.5, 0.875, 1.0]) == pytest.approx(
        [1.0, 1.0, 1.5, 2.0, 4.0, 4.0]
    )


def test_the_worst_is_a_weak_element_and_a_leaky_wall():
    """Of five alike a fortieth is the outermost; the middle is the third; ranges narrow to both ends."""
    found = learned()
    assert (found.worst("loss_factor"), found.worst("element_factor")) == (1.6, pytest.approx(0.9))
    assert (found.middle("loss_factor"), found.middle("element_factor")) == (pytest.approx(1.2), pytest.approx(1.0))
    loss, air = found.narrowed((LOSS, AIR))
    assert (loss.low, loss.high) == (0.8, 1.6)
    assert air is AIR


def test_the_worst_is_the_end_of_nineteen_vessels_of_twenty():
    """Of 1000 alike, from 0 to 0.999: 2.5 of a hundred lie beyond."""
    even = np.arange(1000) / 1000
    found = Learned(vessels={"loss_factor": even, "element_factor": even}, weights=np.full(1000, 1e-3), days=1,
                    contradict=())  # fmt: skip
    assert (found.worst("loss_factor"), found.worst("element_factor")) == pytest.approx((0.9745, 0.0245), abs=1e-9)


def test_effective_draws_are_those_that_count():
    """Five alike are five; one that has it all is one; below a hundred they are too thin to tell ranges from."""
    assert learned().effective_draws == pytest.approx(5.0)
    assert learned(weights=[1.0, 0, 0, 0, 0]).effective_draws == pytest.approx(1.0)
    many = replace(learned(), weights=np.full(101, 1 / 101))
    few = replace(learned(), weights=np.full(99, 1 / 99))
    assert (many.is_thin, few.is_thin) == (False, True)


def test_vessels_are_drawn_as_often_as_they_weigh():
    """Of a thousand draws the weights' shares, to one; the same seed draws the same."""
    found = learned(weights=[0.5, 0.2, 0.2, 0.1, 0.0])
    drawn = found.drawn(1000, 3)
    counts = [int((drawn["loss_factor"] == value).sum()) for value in (1.4, 0.8, 1.0, 1.2, 1.6)]
    assert counts == pytest.approx([500, 200, 200, 100, 0], abs=1)
    assert found.drawn(1000, 3)["element_factor"].tolist() == drawn["element_factor"].tolist()
    assert set(zip(drawn["loss_factor"], drawn["element_factor"], strict=True)) <= set(
        zip(found.vessels["loss_factor"], found.vessels["element_factor"], strict=True)
    )


def test_a_cloud_drawn_anew_has_the_same_mean(demo):
    """Ten thousand vessels about a narrow heap: weighted back they have its middle and its width, inside the ends."""
    ranges = (LOSS, POWER)
    cloud = _Cloud.over([widened(one) for one in ranges], 10_000, 5)
    narrow = view([7.3], slopes=[[4.0], [-3.0], [0.0]], error=2e-4)
    far, weights = cloud.weighted(ranges, [narrow])
    again, anew = cloud._about(weights, 6).weighted(ranges, [narrow])
    for name in ("loss_factor", "element_factor"):
        middles = [float(w @ v[name]) for v, w in ((far, weights), (again, anew))]
        assert middles[1] == pytest.approx(middles[0], abs=0.01)
    assert 1 / np.sum(anew**2) > 2 / np.sum(weights**2)
    for one, found in zip(ranges, (again["loss_factor"], again["element_factor"]), strict=True):
        wide = widened(one)
        assert ((found >= wide.low) & (found <= wide.high))[anew > 0].all()


def test_before_the_first_day_nothing_is_known_but_the_ranges(demo):
    """Alike within, rarely beyond: the loss's 95 % range is a little wider than what is believed, the plates' not."""
    none = learn(demo, ())
    assert (none.days, none.contradict) == (0, ())
    low, high = none.quantiles("loss_factor", [0.025, 0.975])
    assert 0.55 < low < 0.77 < 1.23 < high < 1.45
    low, high = none.quantiles("element_factor", [0.0, 1.0])
    assert (low, high) == (pytest.approx(0.9, abs=1e-3), pytest.approx(1.05, abs=1e-3))
