"""The fit by hand and beside scipy's own: factors, widths, powers; and the verdicts on what came out."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.optimize import curve_fit
from tests_byhand import bins_of

from energyplan.day.kettle import shell_of, surroundings_of
from energyplan.learning.calibrate import _Calibrating, _count_j, _curve, _Fitted, _rmse_k
from energyplan.learning.fit import (
    Curve,
    FitResult,
    compared_loss,
    fit_factors,
    interval_noted,
    likely_on,
    loss_unclear,
    metered_power,
    next_tests,
    nothing_found,
    other_power,
)
from energyplan.learning.logfile import Log, parse_log
from energyplan.learning.model import Setting, Supply, tables
from energyplan.learning.readings import Remark
from energyplan.learning.result import Measured, Residuals
from energyplan.learning.spans import Span
from energyplan.physics.contents import Contents

STORED_J_PER_K = 25 * 4186.0  # 25 kg of water near 62 degC (CoolProp, IAPWS-95)


@pytest.fixture(scope="module")
def setting(plan):
    """The bare vessel: 1500 and 1000 W, 3 W of standby."""
    return Setting(plan=plan, scatter_k=0.1, resolution_k=0.1)


@pytest.fixture(scope="module")
def linear(plan):
    """25 kg of water in a vessel without heat of its own that loses 5 W/K."""
    none = np.zeros(1)
    contents = Contents(water_kg=none + 25.0, extract_kg=none, grain_kg=none, grain_j_per_kg_k=none + 1670.0,
                        vessel_j_per_k=none)  # fmt: skip
    shell = shell_of(plan.model_copy(update={"vessel": plan.vessel.model_copy(update={"heat_loss_w_per_k": 5.0})}))
    return tables(surroundings_of(plan), shell, "on", contents, low_c=-1.0, high_c=101.0)


def curve_of(vessel, times_s, shown_c, element_w=0.0):
    """A stretch with one power."""
    none = np.zeros(len(times_s) - 1)
    return Curve(times_s=times_s, temperature_c=shown_c, readings=np.ones(len(times_s)),
                 supply=Supply(element_w=none + element_w, pump_w=none), vessel=vessel)  # fmt: skip


def cooled(loss, start_c, at_s):
    """Newton's law of cooling, in closed form."""
    return 20 + (start_c - 20) * np.exp(-loss * 5.0 * at_s / STORED_J_PER_K)


# The fit ------------------------------------------------------------------------------------------------------


def test_an_interval_is_student_s_and_what_else_is_open():
    """Ten degrees of freedom: 2.228 standard deviations (t table); another 5 % on top is 1.96 times, independent."""
    result = FitResult(factors={"loss": 2.0}, sd={"loss": 0.1}, fitted_c=(), inflation=1.0, dof=10.0)
    assert result.half_width("loss") == pytest.approx(0.2228, abs=1e-4)
    assert result.half_width("loss", 0.05) == pytest.approx((0.2228**2 + 0.098**2) ** 0.5, abs=1e-4)
    value, low, high = result.interval("loss")
    assert (value, low, high) == (2.0, pytest.approx(2 / 1.24957, rel=1e-4), pytest.approx(2 * 1.24957, rel=1e-4))


@pytest.mark.parametrize(("readings", "together"), [(61, 0.0), (61, 0.6), (16, 0.0), (15, 0.0)])
def test_loss_and_width_are_those_of_an_exponential(readings, together, linear):
    """Noise of 0.1 K, of which neighbours share nothing or six tenths: value and width beside scipy's `curve_fit`.

    Three degrees of freedom know the scatter of 0.1 K beforehand; of 16 readings or more neighbours' correlation
    counts, with what the two parameters take away of it; of fewer it can't be told.
    """
    times_s, rng = np.linspace(0, 5400, readings), np.random.default_rng(readings)
    noise = rng.normal(0, 0.1, readings)
    for place in range(1, readings):
        noise[place] = together * noise[place - 1] + (1 - together**2) ** 0.5 * noise[place]
    shown_c = cooled(1.1, 70.0, times_s) + noise
    result = fit_factors([curve_of(linear, times_s, shown_c)], ["loss"], {}, 0.1)
    (loss, start_c), covariance = curve_fit(lambda t, k, c: cooled(k, c, t), times_s, shown_c, p0=(1.0, 70.0))
    left = shown_c - cooled(loss, start_c, times_s)
    variance = (left @ left + 3 * 0.1**2) / (readings - 2 + 3)
    correlation = 2 * (left[1:] @ left[:-1]) / (left[1:] @ left[1:] + left[:-1] @ left[:-1]) + 2 / readings
    correlation = max(correlation, 0.0) if readings >= 16 else 0.0
    inflation = (1 + correlation) / (1 - correlation)
    unit = covariance[0, 0] / (left @ left / (readings - 2))
    assert result.factors["loss"] == pytest.approx(loss, rel=1e-3)
    assert result.inflation == pytest.approx(inflation, rel=0.02)
    assert result.dof == pytest.approx(max((readings + 1) / inflation, 3.0), rel=0.02)
    assert result.sd["loss"] == pytest.approx((unit * variance * inflation) ** 0.5 / loss, rel=0.02)
    assert result.fitted_c[0] == pytest.approx(cooled(loss, start_c, times_s), abs=5e-3)


def test_two_readings_leave_the_three_degrees_of_freedom_that_are_expected(linear):
    """Loss and start are met exactly: what they scatter is believed to be what was said."""
    times_s = np.array([0.0, 3600.0])
    result = fit_factors([curve_of(linear, times_s, cooled(1.2, 70.0, times_s))], ["loss"], {}, 0.1)
    assert (result.dof, result.inflation) == (3.0, 1.0)
    assert result.factors["loss"] == pytest.approx(1.2, rel=1e-3)
    # d T / d ln k = 50 K x x e^-x with x of 0.206; each of two readings is off by 0.1 K
    x = 1.2 * 5 * 3600 / STORED_J_PER_K
    slope_k, start = 50 * x * np.exp(-x), np.exp(-x)
    assert result.sd["loss"] == pytest.approx(0.1 * np.hypot(1, start) / slope_k, rel=0.01)


def test_what_readings_cant_tell_stays_where_it_was_put(linear):
    """A cool-down tells loss over stored heat alone: the stored heat keeps its prior, ln 1.1 and 0.2 wide."""
    times_s = np.linspace(0, 5400, 61)
    curve = curve_of(linear, times_s, cooled(1.0, 70.0, times_s))
    result = fit_factors([curve], ["loss", "stored_heat"], {"stored_heat": (np.log(1.1), 0.2)}, 0.1)
    assert result.factors["stored_heat"] == pytest.approx(1.1, rel=1e-3)
    assert result.factors["loss"] == pytest.approx(1.1, rel=2e-3)
    assert result.sd["stored_heat"] == pytest.approx(0.2, rel=5e-3)
    assert result.sd["loss"] == pytest.approx(0.2, rel=0.02)


def test_two_stretches_share_their_factors_and_each_has_its_start(linear):
    """Cooled from 70 °C with 5.5 W/K, and heated from 30 °C with 1.1 kW in 1 kW's place: both factors are found."""
    times_s = np.linspace(0, 3600, 61)
    rests_c = 20 + 1100 / 5.5
    warm = rests_c + (30 - rests_c) * np.exp(-5.5 * times_s / STORED_J_PER_K)
    curves = [curve_of(linear, times_s, cooled(1.1, 70.0, times_s)), curve_of(linear, times_s, warm, 1000.0)]
    result = fit_factors(curves, ["loss", "power"], {}, 0.1)
    assert result.factors == {"loss": pytest.approx(1.1, rel=5e-3), "power": pytest.approx(1.1, rel=3e-3)}
    assert [fitted[0] for fitted in result.fitted_c] == pytest.approx([70.0, 30.0], abs=0.05)


# The power of the elements ------------------------------------------------------------------------------------


def powered(*pieces):
    """Bins of a minute under a meter: watts at the plug, and for how many minutes."""
    watts = np.concatenate([np.full(minutes, float(w)) for w, minutes in pieces])
    return bins_of(60.0 * np.arange(watts.size + 1), np.full(watts.size + 1, 50.0), watts)


@pytest.mark.parametrize(
    ("pieces", "found_w", "half_frac"),
    [
        ([(2403, 30), (3, 20)], 2400.0, 1.96 * 0.005),  # less standby; the meter's own half a per cent
        ([(3, 20), (1203, 20), (2403, 30)], 2400.0, 1.96 * 0.005),
        ([(2403, 30), (3, 20), (2283, 30)], 2400.0, 1.96 * 0.005),  # 5 % less is another power
        # 3 % less is the same: the mean of 28 and 27 minutes (without one at each cut), 36 W apart from either
        ([(2403, 30), (3, 20), (2331, 29)], (2400 * 28 + 2328 * 27) / 55, 1.96 * np.hypot(0.005, 36 / 2365)),
    ],
)
def test_full_power_is_the_highest_that_lasted(pieces, found_w, half_frac, setting):
    """Of steady pieces the highest, and those within 4 % of it, by their lengths."""
    found = metered_power(powered(*pieces), setting, 0.0)
    assert found.value == pytest.approx(found_w, abs=1.0)
    assert found.half_width_frac == pytest.approx(half_frac, rel=0.02)
    assert (found.low + found.high) / 2 == pytest.approx(found.value)


@pytest.mark.parametrize(("step_j", "counts"), [(36e3, 58.0), (360e3, 9.5)])
def test_a_meter_in_steps_leaves_its_step_over_the_length(step_j, counts, setting):
    """57 minutes at 1 kW, 58 readings, 3.42 MJ: one step over the time and the root of the counts, or of the readings.

    Of 36 kJ there are 95, more than readings; of 360 kJ nine and a half.
    """
    found = metered_power(powered((1003, 60), (3, 20)), setting, step_j)
    steps_w = step_j / 3420 / counts**0.5
    assert found.half_width_frac == pytest.approx(1.96 * np.hypot(0.005, steps_w / 1000), rel=5e-3)


@pytest.mark.parametrize(("minutes", "told"), [(6, False), (7, True)])
def test_five_minutes_are_the_least_that_is_steady(minutes, told, setting):
    """Behind half an hour of nothing, without a minute at either end."""
    found = metered_power(powered((3, 30), (2403, minutes)), setting, 0.0)
    assert (found is not None) is told


@pytest.mark.parametrize(("watts", "told"), [(70, False), (90, True)])
def test_pump_and_standby_are_no_element(watts, told, setting):
    """Three hundredths of full power (75 W) and the 3 W beside the elements: less counts as off."""
    assert (metered_power(powered((watts + 3, 40)), setting, 0.0) is not None) is told


@pytest.mark.parametrize(
    ("found_w", "alone"),
    [(1069, (1000.0,)), (1071, ()), (931, (1000.0,)), (929, ()), (1396, (1500.0,)), (1394, ()), (1604, (1500.0,)),
     (1606, ()), (2500, ())],
)  # fmt: skip
def test_some_elements_alone_give_what_they_give_to_seven_per_cent(found_w, alone, setting):
    """1000 W and 1500 W, one of them; both together are not some."""
    assert likely_on(float(found_w), setting) == alone


@pytest.mark.parametrize(
    ("found_w", "code"),
    [
        (1876, None), (1874, "weak power"), (3249, None), (3251, "strong power"), (1500, "weak power, some alone"),
        (1000, "weak power, some alone"), (600, "weak power"),
    ],
)  # fmt: skip
def test_a_power_of_three_quarters_to_thirteen_tenths_is_the_elements_own(found_w, code, setting):
    """Of 2500 W; else which elements would give it, or too little, or too much."""
    remark = other_power(float(found_w), setting)
    assert (None if remark is None else remark.code) == code
    if remark is not None:
        assert (remark["found_w"], remark["planned_w"]) == (found_w, pytest.approx(2500.0))


# Verdicts -----------------------------------------------------------------------------------------------------


def loss_of(half_frac, value=5.0):
    """A loss, so wide."""
    return Measured(value=value, low=value * (1 - half_frac), high=value * (1 + half_frac))


@pytest.mark.parametrize(
    ("factor", "half_frac", "code"),
    [
        (1.0, 0.09, "loss enough"), (1.0, 0.11, "loss rough"), (1.99, 0.09, "loss enough"), (0.51, 0.09, "loss enough"),
        (2.01, 0.09, "loss odd, high"), (0.49, 0.09, "loss odd, low"), (2.01, 0.3, "loss odd, high"),
    ],
)  # fmt: skip
def test_a_loss_has_one_verdict(factor, half_frac, code, plan, setting):
    """A tenth wide is good enough to plan with; beyond half to twice the one so far something else was measured."""
    remark = compared_loss(factor, loss_of(half_frac), 61.0, setting)
    assert dict(remark) == {"reference_c": 61.0, "factor": factor, "against": "estimated"}
    assert remark.code == code
    entered = plan.model_copy(update={"vessel": plan.vessel.model_copy(update={"heat_loss_w_per_k": 5.0})})
    assert compared_loss(factor, loss_of(half_frac), 61.0, replace(setting, plan=entered))["against"] == "measured"


@pytest.mark.parametrize(
    ("kinds", "code"),
    [({"cooling", "metered"}, "loss scatters"), ({"metered", "heating"}, "loss beside stored heat"),
     ({"heating"}, "loss beside power")],
)  # fmt: skip
def test_why_a_loss_is_unclear(kinds, code):
    """It scatters, or something else does the same."""
    assert loss_unclear(kinds, 0.4) == Remark(code, half_frac=0.4)


NO = Measured(why=Remark("x"))


@pytest.mark.parametrize(
    ("loss", "stored", "power", "tests"),
    [
        (NO, NO, NO, ("cool-down", "heat-up")), (loss_of(0.09), loss_of(0.1), loss_of(0.1), ()),
        (loss_of(0.11), loss_of(0.1), loss_of(0.1), ("cool-down",)), (loss_of(0.09), NO, loss_of(0.1), ("heat-up",)),
        (loss_of(0.09), loss_of(0.1), NO, ("plain heat-up",)), (loss_of(0.09), NO, NO, ("heat-up",)),
    ],
)  # fmt: skip
def test_the_next_tests_tell_what_is_open(loss, stored, power, tests):
    """A metered heat-up tells power too; a plain one is enough where only that is open."""
    assert next_tests(loss, stored, power) == tests


def test_few_readings_and_none_are_told_with_their_numbers():
    """More than a minute and a half apart; over which temperatures and minutes nothing was found."""
    assert interval_noted(bins_of([0, 120, 240], [60] * 3)) == (Remark("read every", interval_min=2.0),)
    assert interval_noted(bins_of([0, 90, 180], [60] * 3)) == ()
    log = parse_log("time,temperature_c\n0,20.5\n30,61\n45,60")
    assert nothing_found(log) == Remark("nothing found", low_c=20.5, high_c=61.0, lasted_min=45.0)


# What a calibration makes of it -------------------------------------------------------------------------------


def log_of(times_s, **columns):
    """A log without a file."""
    return Log(source="test", times_s=np.array(times_s, dtype=float), temperature_c=np.full(len(times_s), 60.0),
               resolution_k=0.1, **{key: np.array(column, dtype=float) for key, column in columns.items()})  # fmt: skip


def test_the_step_of_a_meter():
    """The least difference between two totals; none without a second, or without a meter."""
    times_s = [0, 60, 120, 180]
    assert _count_j(log_of(times_s, energy_kwh=[0, 0.01, 0.04, np.nan])) == pytest.approx(36e3)
    assert _count_j(log_of(times_s, energy_kwh=[0.02] * 4)) == 0.0
    assert _count_j(log_of(times_s, power_w=[5.0] * 4)) == 0.0


def span_of(kind, bins, lid="on"):
    """A stretch that is fitted as it was found."""
    return Span(kind=kind, bins=bins, whole=bins, lid=lid, stage="water")


@pytest.fixture(scope="module")
def pumped(plan):
    """The same vessel with a pump of 30 W, of which six tenths reach the contents."""
    vessel = plan.vessel.model_copy(update={"pump_w": 30.0, "pump_heat": 0.6})
    return Setting(plan=plan.model_copy(update={"vessel": vessel}), scatter_k=0.1, resolution_k=0.1)


@pytest.mark.parametrize(
    ("kind", "watts", "element_w", "pump_w"),
    [
        ("cooling", None, 0.0, 18.0),  # taken as running
        ("heating", None, 2500.0, 18.0),
        ("cooling", 33.0, 0.0, 18.0),  # pump and standby
        ("cooling", 3.0, 0.0, 0.0),  # standby alone
        ("cooling", 18.0, 0.0, 9.0),  # half of the time
        ("cooling", 60.0, 0.0, 18.0),  # no more than the pump takes
        ("metered", 2033.0, 2000.0, 18.0),
        ("metered", 3.0, 0.0, 0.0),
    ],
)
def test_what_heats_the_contents(kind, watts, element_w, pump_w, pumped):
    """3 W of standby warm nobody; what the pump takes is taken off the meter, six tenths of it are heat."""
    used_j = None if watts is None else [0, 60 * watts, 120 * watts]
    curve = _curve(span_of(kind, bins_of([0, 60, 120], [60] * 3, used_j=used_j)), pumped, 66.0)
    assert curve.supply.element_w == pytest.approx([element_w] * 2)
    assert curve.supply.pump_w == pytest.approx([pump_w] * 2)


def calibrating(**how):
    """As much of a calibration as a question needs."""
    return SimpleNamespace(**how)


def test_what_the_meter_leaves_open():
    """Of a total in steps of 36 kJ each stretch has a step at either end, a uniform error: step times root of 1/6.

    Of readings of the power a switch falls anywhere between two: its step times the interval over the root of 12.
    """
    metered = span_of("metered", bins_of([60, 120, 180], [60] * 3))
    spans = [metered, metered, span_of("cooling", bins_of([300, 360], [60] * 2))]
    total = log_of([0, 60, 120], energy_kwh=[0, 0.01, 0.02])
    assert _Calibrating._meter_sd_j(calibrating(spans=spans, log=total)) == pytest.approx(36e3 * (2 / 6) ** 0.5)
    power = log_of([0, 60, 120, 180, 240, 300], power_w=[0, 1000, 1000, 3000, 0, 5000])
    # Within the stretch, or at its ends: steps of 1000, 0, 2000 and 3000 W; not that of 5000
    expected_j = 60 * (1000**2 + 2000**2 + 3000**2) ** 0.5 / 12**0.5
    assert _Calibrating._meter_sd_j(calibrating(spans=spans, log=power)) == pytest.approx(expected_j)
    assert _Calibrating._meter_sd_j(calibrating(spans=spans, log=log_of([0, 60]))) == 0.0


def test_the_heat_that_a_meter_is_held_against():
    """Lost by 5 W/K above 20 °C over ten minutes at 60 °C: 120 kJ; stored over 10 K of a metered stretch."""
    rest = span_of("cooling", bins_of([0, 600], [60, 60]))
    rise = span_of("metered", bins_of([0, 600], [50, 60]))
    vessel = SimpleNamespace(loss_w=lambda at_c: 5 * (at_c - 20))
    setting = SimpleNamespace(vessel=lambda *_: vessel, capacity_j_per_k=100e3)
    held = calibrating(spans=[rest, rise], setting=setting)
    assert _Calibrating._lost_j(held) == pytest.approx(600 * 200 + 600 * 175)
    assert _Calibrating._stored_j(held) == pytest.approx(10 * 100e3)


@pytest.mark.parametrize(
    ("stored_j", "half_j", "value_j", "width_j"),
    [(118e3, 2e3, 5e3, np.hypot(2e3, 1130)), (118e3, 4.8e3, 5e3, np.hypot(4.8e3, 1130)), (118e3, 4.95e3, None, None),
     (112e3, 0.5e3, None, None), (114.5e3, 0.5e3, 1.5e3, np.hypot(0.5e3, 1130))],
)  # fmt: skip
def test_the_vessel_s_share_is_what_the_water_leaves(stored_j, half_j, value_j, width_j, plan):
    """118 kJ/K planned, 5 of them the vessel's; the water is known to a hundredth: told where the interval has no 0."""
    held = calibrating(setting=Setting(plan=plan, scatter_k=0.1, resolution_k=0.1),
                       _planned_stored_j_per_k=lambda: 113e3 + plan.vessel.own_heat_j_per_k)  # fmt: skip
    found = _Calibrating._vessel_heat(held, Measured(value=stored_j, low=stored_j - half_j, high=stored_j + half_j))
    assert found.value == (None if value_j is None else pytest.approx(value_j))
    if found.known:
        assert (found.high - found.value, found.value - found.low) == (pytest.approx(width_j), pytest.approx(width_j))
    else:
        assert found.why == Remark("vessel unclear", stored_j_per_k=stored_j, contents_j_per_k=pytest.approx(113e3))
    assert _Calibrating._vessel_heat(held, NO).why == NO.why


def test_the_reference_is_weighted_by_the_loss():
    """70 to 50 °C evenly, a loss of u = T - 20: the integral of u (u + 20) over that of u is 60.83 °C.

    Open stretches count where there is no closed one alone.
    """
    vessel = SimpleNamespace(closed_loss_w=lambda at_c: 5 * (at_c - 20))
    setting = SimpleNamespace(vessel=lambda *_: vessel)
    closed = span_of("cooling", bins_of(np.linspace(0, 3600, 201), np.linspace(70, 50, 201)))
    hotter = span_of("cooling", bins_of([0, 3600], [90, 90]), "off")
    reference = _Calibrating.reference_c.fget
    assert reference(calibrating(spans=[closed, hotter], setting=setting)) == pytest.approx(60.8333, abs=1e-3)
    assert reference(calibrating(spans=[hotter], setting=setting)) == pytest.approx(90.0)
    cold = span_of("cooling", bins_of([0, 3600], [10, 12]))
    assert reference(calibrating(spans=[cold], setting=setting)) == pytest.approx(11.0)


def fitted(factors, sd, scale="volume", pin_sd_frac=0.0):
    """A fit that found factors, each so wide, with as many readings as one likes."""
    result = FitResult(factors=factors, sd=dict.fromkeys(factors, sd), fitted_c=(), inflation=1.0, dof=1e6)
    return _Fitted(result, scale, pin_sd_frac, stored_told=True)


@pytest.mark.parametrize(
    ("lids", "sd", "code"),
    [({"on"}, 0.1, "no open"), ({"on", "off"}, 0.2, None), ({"ajar"}, 0.2, None), ({"off"}, 0.21, "open unclear")],
)
def test_an_open_surface_is_told_to_four_tenths(lids, sd, code):
    """1.96 standard deviations (of the logarithm) of 0.2 are 0.39."""
    held = calibrating(lids=lids, fitted=fitted({"open_surface": 1.3}, sd))
    found = _Calibrating._open_surface(held)
    assert (found.why.code if found.why else None) == code
    if code is None:
        assert (found.value, found.low) == (1.3, pytest.approx(1.3 * np.exp(-1.96 * 0.2), rel=1e-4))


@pytest.mark.parametrize(("sd", "code"), [(0.05, None), (0.07, "power unclear")])
def test_a_power_is_told_to_twelve_hundredths(sd, code, setting):
    """By a heat-up without a meter; a cool-down tells none."""
    held = calibrating(kinds={"heating"}, setting=setting, fitted=fitted({"power": 0.9}, sd))
    found, frac = _Calibrating._power(held)
    assert (found.why.code if found.why else None) == code
    assert frac == (pytest.approx(0.9) if code is None else None)
    if code is None:
        assert found.value == pytest.approx(2250.0)
    cooling = calibrating(kinds={"cooling"}, setting=setting, fitted=fitted({"loss": 1.0}, sd))
    assert _Calibrating._power(cooling) == (Measured(why=Remark("elements off")), None)


@pytest.mark.parametrize(
    ("watts", "code", "frac"),
    [(2403, None, 0.96), (700, "never full", None), (800, "weak power", None), (1503, "weak power, some alone", None)],
)
def test_a_metered_power_below_three_tenths_is_pulses(watts, code, frac, setting):
    """Of 2500 W: 697 W is a thermostat's, 797 W may be a power, if a weak one."""
    held = calibrating(bins=powered((watts, 40)), log=log_of([0, 60], power_w=[watts] * 2), setting=setting,
                       kinds={"metered"}, fitted=fitted({"loss": 1.0}, 0.1, "meter"))  # fmt: skip
    found, found_frac = _Calibrating._power(held)
    assert (found.why.code if found.why else None) == code
    assert found_frac == (None if frac is None else pytest.approx(frac))


def remarks(setting, **how):
    """Remarks of a calibration, by their codes."""
    given = {"scale": "meter", "factors": {"loss": 1.0, "stored_heat": 1.0}, "told": True, "kinds": {"cooling"},
             "used_j": None, "loss": loss_of(0.05)}  # fmt: skip
    given.update(how)
    found = fitted(given["factors"], 0.05, given["scale"])
    found.stored_told = given["told"]
    held = calibrating(fitted=found, reference_c=60.0, setting=setting, notes=[], kinds=given["kinds"],
                       bins=SimpleNamespace(used_j=given["used_j"]))  # fmt: skip
    _Calibrating._remarks(held, given["loss"])
    return {note.code: dict(note) for note in held.notes}


def test_a_stored_heat_is_told_apart_by_four_hundredths(setting):
    """As entered within that; more or less beyond, by how much; where it was not told, nothing."""
    for factor, code in ((1.05, "stored more"), (0.95, "stored less"), (1.03, None), (0.97, None)):
        said = remarks(setting, factors={"loss": 1.0, "stored_heat": factor})
        assert [name for name in said if name.startswith("stored")] == ([] if code is None else [code])
        if code is not None:
            assert said[code]["more_frac"] == pytest.approx(0.05)
    assert "stored more" not in remarks(setting, factors={"loss": 1.0, "stored_heat": 1.5}, told=False)


def test_what_scales_a_fit_and_how_the_air_counts(setting):
    """A kelvin of air is a fortieth of the loss at 60 °C beside 20; unknown losses say nothing of it."""
    said = remarks(setting)
    assert "scale by meter" in said
    assert said["air as entered"] == {"air_c": 20.0, "warmer_k": 1.0, "more_frac": pytest.approx(1 / 40)}
    blind = remarks(setting, scale="volume", loss=NO)
    assert blind["scale by water"] == {"water_l": 27.0}
    assert "air as entered" not in blind


def test_elements_are_taken_as_off_and_a_pump_as_running(setting, pumped):
    """Of a cool-down without a meter; 18 W of pump over 40 K are 0.45 W/K."""
    assert "taken as off" in remarks(setting)
    assert "pump as running" not in remarks(setting)
    assert remarks(pumped)["pump as running"]["less_w_per_k"] == pytest.approx(0.45)
    assert "pump as running" not in remarks(pumped, loss=NO)
    assert "taken as off" not in remarks(pumped, used_j=np.zeros(3))
    assert "taken as off" not in remarks(pumped, kinds={"heating"})


def test_an_open_surface_beyond_half_to_twice_is_odd(setting):
    """Of what the model makes of it."""
    for factor, odd in ((0.51, False), (1.99, False), (0.49, True), (2.01, True)):
        said = remarks(setting, factors={"loss": 1.0, "stored_heat": 1.0, "open_surface": factor})
        assert ("open surface odd" in said) is odd
        assert not odd or said["open surface odd"]["factor"] == factor


def test_what_a_fit_leaves_over_counts_every_reading_once():
    """Two stretches, each beside the readings between its first and last bin: 1, 1 and 2 K off, and 0 outside."""
    log = Log(source="test", times_s=60.0 * np.arange(6), temperature_c=np.array([61, 61, 60, 52, 50, 99.0]),
              resolution_k=0.1)  # fmt: skip
    residuals = Residuals(times_s=np.array([0, 120, 180, 240.0]), measured_c=np.zeros(4),
                          fitted_c=np.array([60, 60, 50, 50.0]), stretch=np.array([0, 0, 1, 1]))  # fmt: skip
    assert _rmse_k(log, residuals) == pytest.approx(((1 + 1 + 0 + 4 + 0) / 5) ** 0.5)
