"""What is read or entered a little wrongly: the intervals hold all the same, and stay narrow enough to plan with."""

import os

import numpy as np
import pytest
from scipy.optimize import least_squares

from energyplan.learning.calibrate import calibrate
from energyplan.learning.logfile import parse_log

LOGS = int(os.environ.get("CALIBRATION_LOGS", "8"))
FAULTS = ("none", "offset", "lag", "air", "volume", "all")
KINDS = ("cool-down", "heat-up", "heat-up and cool-down", "metered heat-up and cool-down")
FINE = {"noise_k": 0.1, "round_k": 0.1, "gaps_frac": 0.05}
LIMIT = 1.96  # a limit that 95 % of normal errors keep is so many standard deviations


def with_faults(rng, fault, kind, vessel):
    """A vessel whose thermometer, air and water are off by normal errors with the 95 % limits of FAULTS."""

    def drawn(name, limit):
        return rng.normal(0, limit / LIMIT) if fault in (name, "all") else 0.0

    offset_k, lag_s = drawn("offset", 0.5), min(abs(drawn("lag", 60.0)), 60.0)
    litres = 27.0 * (1 + drawn("volume", 0.03))
    kettle = vessel(
        loss_w_per_k=rng.uniform(3.5, 9.0), stored_j_per_k=litres * 0.9991 * 4183 + 5000.0, beside_w=3.0,
        element_w=rng.uniform(2250, 2625), exponent=rng.uniform(1.0, 1.25), air_c=20.0 + drawn("air", 2.0),
    )  # fmt: skip
    if kind == "cool-down":
        kettle.temperature_c = 75.0
    else:
        kettle.heat_to(76.0)
    if kind != "heat-up":
        kettle.run(rng.integers(75, 120))
    shown_c = np.array([row[1] for row in kettle.rows])
    for place in range(1, shown_c.size):
        shown_c[place] = shown_c[place - 1] + 4.0 / max(lag_s, 4.0) * (shown_c[place] - shown_c[place - 1])
    kettle.rows = [(row[0], c + offset_k, *row[2:]) for row, c in zip(kettle.rows, shown_c, strict=True)]
    return kettle


def opened(found):
    """Whether a calibration says that the lid was open for a while, or all the time."""
    reason = found.heat_loss_w_per_k.why
    codes = [note.code for note in (*found.notes, reason) if note is not None]
    return any(code.startswith("lid open") or code in ("cooled open", "lid was off") for code in codes)


@pytest.mark.parametrize("kind", KINDS)
def test_the_intervals_hold_whatever_is_a_little_wrong(kind, vessel, plan):
    """With thermometer ±0.5 K or 60 s late, air ±2 K, water ±3 % (95 % limits), intervals hold 9 truths of 10.

    A clean log's loss is known to ±8 % or better in the median. Seen with 300 logs of each kind and fault: 0.97 to
    1.00 of the losses held, ±6.0 to ±6.9 % wide. A heat-up alone can't be: see the bound below.

    The lid is on all the time, and no log is told that it was open: none of the 300 of any kind and fault was, which
    bounds the share of such alarms at 1 % (the rule of three, at 95 %).
    """
    rng = np.random.default_rng(KINDS.index(kind))
    for fault in FAULTS:
        held, widths, alarms = [], [], []
        for _ in range(LOGS):
            kettle = with_faults(rng, fault, kind, vessel)
            columns = "power_w" if kind.startswith("metered") else ""
            text = kettle.csv(rng, columns, meter_frac=1 + rng.normal(0, 0.005), **FINE)
            found = calibrate(parse_log(text), plan)
            at_c = found.reference_c
            assert at_c is not None  # the lid was on all the time: each log tells something
            for value, truth in (
                (found.heat_loss_w_per_k, kettle.loss_at_w_per_k(at_c)),
                (found.element_power_w, kettle.element_w),
                (found.stored_heat_j_per_k, kettle.stored_j_per_k),
            ):
                if value.known:
                    held.append(value.low <= truth <= value.high)
            widths.append(found.heat_loss_w_per_k.half_width_frac)
            alarms.append(opened(found))
        # A few logs are few draws: of 15 values at 0.95 two miss on one occasion of six. Of hundreds nine in ten hold.
        chance = 0.0 if LOGS >= 100 else 2 * (0.9 * 0.1 / len(held)) ** 0.5
        assert np.mean(held) >= 0.9 - chance, fault
        assert np.mean(alarms) <= 0.01, fault
        if fault == "none" and kind != "heat-up":
            assert np.median(widths) <= 0.08


@pytest.mark.parametrize(
    ("times", "every_min", "open_min"), [(2, 20, 10), (3, 20, 10), (3, 10, 10), (3, 30, 10), (4, 20, 10), (3, 25, 15)]
)
def test_a_lid_opened_again_and_again_is_noticed(times, every_min, open_min, vessel, plan):
    """Minutes with the lid on, then some with it off, and so on: what lies between tells the closed vessel's loss.

    The best single window of another slope spans them all and explains little more than none; a third too much loss was
    told then. Parts of less than twenty minutes tell together what one of twenty tells.
    """
    rng, seen, held = np.random.default_rng([times, every_min, open_min]), [], []
    for _ in range(LOGS):
        kettle = vessel(loss_w_per_k=6.0, stored_j_per_k=117_839.0, element_w=2400.0, temperature_c=75.0)
        for _ in range(times):
            kettle.run(every_min).run(open_min, lid="off")
        found = calibrate(parse_log(kettle.run(20).csv(rng, **FINE)), plan)
        seen.append(opened(found))
        if (loss := found.heat_loss_w_per_k).known:
            held.append(loss.low <= kettle.loss_at_w_per_k(found.reference_c) <= loss.high)
    assert np.mean(seen) >= 0.98
    assert len(held) >= 0.8 * LOGS or every_min == 10  # ten minutes, less what borders take, tell nothing
    assert sum(held) >= 0.9 * len(held) - 2 * (0.9 * 0.1 * len(held)) ** 0.5


@pytest.mark.parametrize(("fault", "seed"), [("none", 167), ("lag", 370), ("lag", 887), ("late", 0)])
def test_a_slow_start_or_a_few_noisy_minutes_are_no_open_lid(fault, seed, vessel, plan):
    """Logs whose best window of another slope is some six minutes of noise, or the first minutes of a slow sensor.

    Found among thousands of logs of the kinds above; in the last the sensor is a minute late on a fast vessel.
    """
    rng = np.random.default_rng([11, seed])
    if fault == "late":
        kettle = vessel(loss_w_per_k=9.0, stored_j_per_k=117_839.0, element_w=2400.0, temperature_c=75.0).run(95)
        slow_c = [75.0]
        for _, c, *_ in kettle.rows[1:]:
            slow_c.append(slow_c[-1] + 4.0 / 60.0 * (c - slow_c[-1]))
        kettle.rows = [(row[0], c, *row[2:]) for row, c in zip(kettle.rows, slow_c, strict=True)]
    else:
        kettle = with_faults(rng, fault, "cool-down", vessel)
    found = calibrate(parse_log(kettle.csv(rng, **FINE)), plan)
    assert not opened(found)
    assert found.heat_loss_w_per_k.low < kettle.loss_at_w_per_k(found.reference_c) < found.heat_loss_w_per_k.high


def bound_of_a_heat_up(vessel, loss_w_per_k, exponent, at_c):
    """Half width that no unbiased reading of the clean log below undercuts (Cramer-Rao), as a share of the loss.

    Derivatives of the independent vessel by differences; readings of every minute with 0.1 K of noise and of rounding,
    one in twenty missing, from the third minute on (elements and sensor lag). Known beforehand: air to 1 K, thermometer
    to 0.5 K, stored heat to 1.5 % (the water), the loss's exponent evenly within an eighth of 1.125, the loss to 40 %
    (standard deviations). Neither start nor power.
    """
    truth = {"loss": loss_w_per_k, "exponent": exponent, "apart": 0.0, "stored": 117_839.0, "watts": 2440.0,
             "start": 15.0}  # fmt: skip
    steps = {"loss": 0.1, "exponent": 0.02, "apart": 0.2, "stored": 500.0, "watts": 10.0, "start": 0.1}
    known = {"apart": np.hypot(1.0, 0.5), "stored": 0.015 * truth["stored"], "exponent": 0.125 / 3**0.5,
             "loss": 0.4 * loss_w_per_k}  # fmt: skip

    def kettle(loss, exponent, apart, stored, watts, start):
        # The loss is meant at the temperature asked about, not at the vessel's 66 degC.
        at_66 = loss * ((66.0 - 20.0) / (at_c - 20.0)) ** (exponent - 1)
        return vessel(loss_w_per_k=at_66, stored_j_per_k=stored, element_w=watts, exponent=exponent,
                      air_c=20.0 - apart, temperature_c=start)  # fmt: skip

    minutes = kettle(**truth).heat_to(76.0).time_s / 60

    def read_c(name, change):
        run = kettle(**{**truth, name: truth[name] + change}).run(minutes, truth["watts"] + change * (name == "watts"))
        return np.array([row[1] for row in run.rows[45::15]])

    slopes = np.array([(read_c(name, step) - read_c(name, -step)) / (2 * step) for name, step in steps.items()])
    told = 0.95 * slopes @ slopes.T / (0.1**2 + 0.1**2 / 12)
    told += np.diag([1 / known[name] ** 2 if name in known else 0.0 for name in steps])
    return LIMIT * float(np.sqrt(np.linalg.inv(told)[0, 0])) / loss_w_per_k


@pytest.mark.parametrize(("loss_w_per_k", "exponent"), [(4.0, 1.12), (6.25, 1.12), (9.0, 1.05)])
def test_a_heat_up_alone_tells_as_much_as_it_can(loss_w_per_k, exponent, vessel, plan):
    """From its third minute on no reading of a heat-up alone gets below ±8 %; ours is at most 1.3 times the bound.

    With the first minutes, in which the vessel's wall still warms apart, a vessel of 9 W/K would have a bound of 7 %.

    Student's t and neighbours that seem to hang together, which a real thermometer's do, widen it.
    """
    rng, widths, bounds = np.random.default_rng(5), [], []
    for _ in range(12):
        kettle = vessel(loss_w_per_k=loss_w_per_k, stored_j_per_k=117_839.0, element_w=2440.0, exponent=exponent)
        found = calibrate(parse_log(kettle.heat_to(76.0).csv(rng, **FINE)), plan)
        if found.heat_loss_w_per_k.known:
            widths.append(found.heat_loss_w_per_k.half_width_frac)
            at_c = found.reference_c
            bounds.append(bound_of_a_heat_up(vessel, kettle.loss_at_w_per_k(at_c), exponent, at_c))
    assert len(widths) >= 6
    assert np.median(bounds) > 0.08
    assert np.median(bounds) <= np.median(widths) <= 1.3 * np.median(bounds)


def test_an_air_that_was_measured_narrows_the_loss(vessel, water_j_per_k, plan):
    """Air known to ±0.5 K makes a narrower interval than the ±2 K that is taken otherwise."""
    kettle = vessel(loss_w_per_k=6.0, stored_j_per_k=water_j_per_k(27.0), element_w=2400.0, temperature_c=75.0)
    log = parse_log(kettle.run(90).csv(np.random.default_rng(1), **FINE))
    usual, measured = (calibrate(log, plan, air_within_k=within) for within in (None, 0.5))
    assert measured.heat_loss_w_per_k.half_width_frac < 0.9 * usual.heat_loss_w_per_k.half_width_frac


@pytest.mark.parametrize("brew", ["water", "demo"])
@pytest.mark.parametrize("every_min", [5, 10])
@pytest.mark.parametrize("from_c", [74.0, 75.0, 76.0, 80.0])
def test_a_cool_down_read_by_hand_gives_the_loss(from_c, every_min, brew, vessel, plan, demo_plan):
    """Readings every 5 or 10 minutes give the loss within 5 %, whether or not the plan has grain (4 logs each)."""
    for_plan = plan if brew == "water" else demo_plan
    litres, air_c = for_plan.batch.water_l, for_plan.site.air_c
    for seed in range(4):
        kettle = vessel(loss_w_per_k=4.5, stored_j_per_k=litres * 0.9991 * 4183 + 5000.0, element_w=2400.0,
                        air_c=air_c, temperature_c=from_c, exponent=1.1,
                        pump_heat_w=for_plan.vessel.pump_w * for_plan.vessel.pump_heat)  # fmt: skip
        text = kettle.run(90).csv(np.random.default_rng(seed), every_s=60.0 * every_min, **{**FINE, "gaps_frac": 0.0})
        found = calibrate(parse_log(text), for_plan)
        assert found.heat_loss_w_per_k.value == pytest.approx(kettle.loss_at_w_per_k(found.reference_c), rel=0.05)
        assert {stretch.stage for stretch in found.stretches} == {"water"}


def by_newton(log, plan, pump_heat_w):
    """Loss per kelvin of a vessel that loses alike at all temperatures [W/K]: least squares over the closed form."""
    stored_j_per_k = plan.batch.water_l * 0.9991 * 4183 + 5000.0

    def left_k(x):
        loss_w_per_k, start_c = x
        rests_c = plan.site.air_c + pump_heat_w / loss_w_per_k
        return rests_c + (start_c - rests_c) * np.exp(-loss_w_per_k * log.times_s / stored_j_per_k) - log.temperature_c

    return least_squares(left_k, [5.0, log.temperature_c[0]]).x[0]


@pytest.mark.parametrize("round_k", [0.5, 1.0])
@pytest.mark.parametrize("every_min", [5, 10])
def test_whole_degrees_by_hand_give_what_an_independent_fit_gives(every_min, round_k, vessel, demo_plan):
    """A constant 4.5 W/K from 75 °C in half and whole degrees: as an exponential's least squares within 1.5 %.

    The plan's pump is taken as running. Where it really was off, both read its heat too much, 18 W over 56 K or so: 4.8
    for 4.5. That is no bias of the model's shape, and the log says by how much.
    """
    pump_w = demo_plan.vessel.pump_w * demo_plan.vessel.pump_heat
    for really_w in (pump_w, 0.0):
        kettle = vessel(loss_w_per_k=4.5, stored_j_per_k=demo_plan.batch.water_l * 0.9991 * 4183 + 5000.0,
                        element_w=2400.0, air_c=demo_plan.site.air_c, temperature_c=75.0, exponent=1.0,
                        pump_heat_w=really_w).run(90)  # fmt: skip
        shares = []
        for seed in range(6):
            how = {"noise_k": 0.1, "round_k": round_k, "gaps_frac": 0.0}
            log = parse_log(kettle.csv(np.random.default_rng(seed), every_s=60.0 * every_min, **how))
            found = calibrate(log, demo_plan)
            loss, said = found.heat_loss_w_per_k, [note for note in found.notes if note.code == "pump as running"]
            assert loss.value == pytest.approx(by_newton(log, demo_plan, pump_w), rel=0.015)
            assert said[0]["less_w_per_k"] == pytest.approx(pump_w / (found.reference_c - 11.0), rel=1e-6)
            shares.append((loss.value - (0.0 if really_w else said[0]["less_w_per_k"])) / 4.5)
            assert loss.low < 4.5 + (pump_w - really_w) / (found.reference_c - 11.0) < loss.high
        assert np.mean(shares) == pytest.approx(1.0, abs=0.02)


def test_two_readings_of_a_cool_down_are_enough(vessel, water_j_per_k, plan):
    """Temperature at the start and after 75 minutes: the loss, with an interval that says how rough that is."""
    kettle = vessel(loss_w_per_k=6.0, stored_j_per_k=water_j_per_k(27.0), element_w=2400.0, temperature_c=75.0)
    kettle.run(75)
    found = calibrate(parse_log(f"time,temperature_c\n0,75.0\n75,{kettle.temperature_c:.1f}\n"), plan)
    assert found.heat_loss_w_per_k.value == pytest.approx(6.0, rel=0.05)
    assert 0.05 < found.heat_loss_w_per_k.half_width_frac < 0.2


BY_HAND_C = (75.2, 72.5, 69.9, 67.3, 64.7, 62.4)  # every ten minutes, from a demo-sized vessel


def by_hand(plan, places):
    """Half width of the loss that some of the readings tell, as a share."""
    rows = "".join(f"{10 * place},{BY_HAND_C[place]}\n" for place in places)
    return calibrate(parse_log(f"time,temperature_c\n{rows}"), plan).heat_loss_w_per_k.half_width_frac


def test_a_reading_left_out_costs_what_it_told_and_no_more(demo_plan):
    """The readings beside a gap lie as near the line through their neighbours in time as all others do."""
    all_six = by_hand(demo_plan, range(6))
    for left_out in (1, 2, 3, 4):
        some = by_hand(demo_plan, [place for place in range(6) if place != left_out])
        assert all_six < some < 1.5 * all_six, left_out


def test_two_readings_are_no_surer_than_three_over_the_same_time(demo_plan):
    """No third one tells how far they scatter, so a thermometer read by hand is taken."""
    for last in (2, 4):
        assert by_hand(demo_plan, (0, last)) > by_hand(demo_plan, range(last + 1)) > by_hand(demo_plan, range(6))


@pytest.mark.parametrize("noise_k", [0.1, 0.3])
@pytest.mark.parametrize("minutes", [(0, 20), (0, 40), (0, 10, 20), (0, 20, 30), (0, 10, 30, 40), (0, 10, 20, 40, 50)])
def test_the_intervals_of_a_few_readings_hold(minutes, noise_k, vessel, plan):
    """Two to five readings by hand, with and without a gap, everything a little wrong: nine truths of ten are held.

    Seen with 400 logs of each: 0.93 to 1.00 of the losses told held.
    """
    rng, held = np.random.default_rng([len(minutes), minutes[-1], round(10 * noise_k)]), []
    for _ in range(5 * LOGS):
        kettle = with_faults(rng, "all", "cool-down", vessel)
        at_min, shown_c = np.array([row[:2] for row in kettle.rows]).T
        read_c = np.round(np.interp(minutes, at_min / 60, shown_c) + rng.normal(0, noise_k, len(minutes)), 1)
        rows = "".join(f"{minute},{c:.1f}\n" for minute, c in zip(minutes, read_c, strict=True))
        found = calibrate(parse_log(f"time,temperature_c\n{rows}"), plan)
        if (loss := found.heat_loss_w_per_k).known:
            held.append(loss.low <= kettle.loss_at_w_per_k(found.reference_c) <= loss.high)
    assert len(held) >= LOGS / 2
    assert np.mean(held) >= 0.9 - 2 * (0.9 * 0.1 / len(held)) ** 0.5


@pytest.mark.parametrize("gap", [(20, 60), (30, 50)])
@pytest.mark.parametrize("every_min", [1, 5])
def test_a_gap_in_a_cool_down_does_no_harm(gap, every_min, vessel, demo_plan):
    """A logger that slept for 40 minutes: what cooled meanwhile is no mash, and the loss comes out within 5 %."""
    kettle = vessel(loss_w_per_k=4.5, stored_j_per_k=demo_plan.batch.water_l * 0.9991 * 4183 + 5000.0, element_w=2400.0,
                    air_c=demo_plan.site.air_c, temperature_c=75.0, exponent=1.1, pump_heat_w=18.0)  # fmt: skip
    text = kettle.run(120).csv(np.random.default_rng(3), every_s=60.0 * every_min, **{**FINE, "gaps_frac": 0.0})
    head, *rows = text.splitlines()
    kept = [row for row in rows if not gap[0] < float(row.split(",")[0]) < gap[1]]
    found = calibrate(parse_log("\n".join([head, *kept])), demo_plan)
    assert found.heat_loss_w_per_k.value == pytest.approx(kettle.loss_at_w_per_k(found.reference_c), rel=0.05)


@pytest.mark.parametrize("forward_min", [7, 60])
def test_a_clock_set_forward_is_no_open_lid(forward_min, vessel, plan):
    """At half-time, by hand or at night: no time passed in the gap that it leaves, and both sides tell the loss."""
    kettle = vessel(loss_w_per_k=6.0, stored_j_per_k=117_839.0, element_w=2400.0, temperature_c=75.0).run(90)
    head, *rows = kettle.csv(np.random.default_rng(2), **FINE).splitlines()
    cells = [row.split(",") for row in rows]
    later = [f"{float(time) + forward_min * (float(time) >= 45):g},{c}" for time, c in cells]
    found = calibrate(parse_log("\n".join([head, *later])), plan)
    assert not opened(found)
    assert "leapt" in [note.code for note in found.notes]
    truth = kettle.loss_at_w_per_k(found.reference_c)
    assert found.heat_loss_w_per_k.value == pytest.approx(truth, rel=0.05)


def test_a_night_from_99_to_37_gives_the_loss(vessel, demo_plan):
    """Fifteen hours from 99 °C, read every minute or half hour: only 80 to 42 °C count, and the loss comes out."""
    kettle = vessel(loss_w_per_k=4.5, stored_j_per_k=demo_plan.batch.water_l * 0.9991 * 4183 + 5000.0, element_w=2400.0,
                    air_c=demo_plan.site.air_c, temperature_c=99.0, exponent=1.1, pump_heat_w=18.0)  # fmt: skip
    kettle.run(900)
    for every_min in (1, 30):
        text = kettle.csv(np.random.default_rng(3), every_s=60.0 * every_min, **{**FINE, "gaps_frac": 0.0})
        found = calibrate(parse_log(text), demo_plan)
        assert found.heat_loss_w_per_k.value == pytest.approx(kettle.loss_at_w_per_k(found.reference_c), rel=0.05)


def test_the_interval_between_readings_is_said(vessel, water_j_per_k, plan):
    """A log read every ten minutes says so first; one of every minute has nothing to say."""
    kettle = vessel(loss_w_per_k=6.0, stored_j_per_k=water_j_per_k(27.0), element_w=2400.0, temperature_c=75.0)
    kettle.run(90)
    for every_min, said in ((1, []), (10, ["read every"])):
        log = parse_log(kettle.csv(np.random.default_rng(1), every_s=60.0 * every_min, **{**FINE, "gaps_frac": 0.0}))
        found = calibrate(log, plan)
        assert found.interval_min == pytest.approx(every_min)
        assert [note.code for note in found.notes if note.code == "read every"] == said
