"""Binning: means, meters that count in steps, scatter."""

import numpy as np
import pytest
from tests_byhand import bins_of

from energyplan.learning.bins import binned, metered_load, noise_k, rebinned
from energyplan.learning.logfile import Log, parse_log


def log_of(times_s, temperature_c, **columns):
    """A log without a file."""
    return Log(source="test", times_s=times_s, temperature_c=temperature_c, resolution_k=0.1, **columns)


def test_bins_of_a_minute_average_all_readings():
    """One reading a second becomes one bin a minute, with its number of readings."""
    times_s = np.arange(600.0)
    bins = binned(log_of(times_s, 50 + times_s / 100))
    assert bins.times_s.size == 10
    assert (bins.readings == 60).all()
    assert bins.temperature_c[0] == pytest.approx(50.295)
    assert bins.used_j is None
    assert not bins.mean_power_w().any()


def test_long_logs_get_longer_bins_and_gaps_get_none():
    """There are at most 720 bins, and none where nothing was read."""
    times_s = np.r_[np.arange(0.0, 20_000.0, 1.0), np.arange(40_000.0, 86_400.0, 1.0)]
    bins = binned(log_of(times_s, np.full(times_s.size, 60.0)))
    assert 400 < bins.times_s.size <= 721
    assert np.diff(bins.times_s).max() > 19_000


def test_a_single_bin_stands_for_the_shortest_one():
    """No two bins, no time between them: a minute, the least that a bin lasts."""
    two = binned(log_of(np.array([0.0, 300.0]), np.array([60.0, 60.0])))
    assert two.interval_s == 300.0
    assert two.part(np.array([0])).interval_s == 60.0


def test_rebinning_keeps_means_and_readings():
    """Joined bins hold the weighted means; few bins stay as they are."""
    times_s = np.arange(0.0, 36_000.0, 30.0)
    bins = binned(log_of(times_s, times_s / 1000, power_w=np.full(times_s.size, 100.0)))
    fewer = rebinned(bins, 50)
    assert fewer.times_s.size <= 50
    assert fewer.readings.sum() == times_s.size
    assert np.average(fewer.temperature_c, weights=fewer.readings) == pytest.approx(float((times_s / 1000).mean()))
    assert fewer.used_j is not None
    np.testing.assert_allclose(fewer.mean_power_w(), 100.0, rtol=1e-6)
    assert rebinned(fewer, 50) is fewer
    assert rebinned(binned(log_of(times_s, times_s / 1000)), 50).used_j is None


def test_power_readings_become_energy_and_missing_ones_are_bridged():
    """The energy between readings is their mean power; a gap in the power is bridged."""
    power_w = np.full(21, 2000.0)
    power_w[5] = np.nan
    bins = binned(log_of(np.arange(0.0, 1260.0, 60.0), np.linspace(20, 30, 21), power_w=power_w))
    np.testing.assert_allclose(bins.mean_power_w(), 2000.0)
    alone = np.full(21, np.nan)
    alone[3] = 5.0
    assert binned(log_of(np.arange(0.0, 1260.0, 60.0), np.linspace(20, 30, 21), power_w=alone)).used_j is None


def meter(times_s, watts, step_kwh):
    """A meter's running total in steps."""
    energy = np.concatenate([[0.0], np.cumsum(watts[:-1] * np.diff(times_s))]) / 3.6e6
    return np.floor(energy / step_kwh + 1e-9) * step_kwh


@pytest.mark.parametrize("step_kwh", [0.001, 0.01, 0.1])
def test_a_meter_that_counts_in_steps_gives_its_mean_power(step_kwh):
    """A running total in steps is straightened: 2 kW for 40 min within 2 %, then off, then 1 kW."""
    times_s = np.arange(0.0, 6000.0, 20.0)
    watts = np.where(times_s < 2400, 2000.0, np.where(times_s < 4200, 0.0, 1000.0))
    bins = binned(log_of(times_s, np.full(times_s.size, 60.0), energy_kwh=meter(times_s, watts, step_kwh)))
    used = np.interp([300.0, 2100.0, 2700.0, 4000.0, 4800.0, 5600.0], bins.times_s, bins.used_j)
    assert (used[1] - used[0]) / 1800 == pytest.approx(2000.0, rel=0.02)
    assert (used[3] - used[2]) / 1300 < 30.0
    assert (used[5] - used[4]) / 800 == pytest.approx(1000.0, rel=0.05)


def test_a_small_steady_draw_isnt_taken_for_bursts():
    """30 W on a meter that counts in hundredths are 30 W, not 600 W for a minute every 20."""
    times_s = np.arange(0.0, 7200.0, 60.0)
    total = meter(times_s, np.full(times_s.size, 30.0), 0.01)
    bins = binned(log_of(times_s, np.full(times_s.size, 60.0), energy_kwh=total))
    assert bins.mean_power_w().max() < 40.0
    still = binned(log_of(times_s, np.full(times_s.size, 60.0), energy_kwh=np.zeros(times_s.size)))
    assert not still.mean_power_w().any()


def test_scatter_is_that_of_the_noise_and_not_less_than_rounding():
    """White noise of 0.3 K is found within a fifth, with a jump in it; rounding to 1 K leaves at least 0.29 K."""
    rng = np.random.default_rng(1)
    times_s = np.arange(0.0, 12_000.0, 60.0)
    noisy = 70 - times_s / 900 + rng.normal(0, 0.3, times_s.size) - 5 * (times_s > 6000)
    assert noise_k(binned(log_of(times_s, noisy)), 0.1) == pytest.approx(0.3, rel=0.2)
    assert noise_k(binned(log_of(times_s, np.round(70 - times_s / 900))), 1.0) == pytest.approx(1 / np.sqrt(12))


def test_the_most_open_lid_of_a_bin_counts():
    """A lid that was off for some seconds of a minute is off in it."""
    rows = [f"{k / 6:.4f},60,{'off' if k == 8 else 'on'}" for k in range(30)]
    bins = binned(parse_log("time,temperature_c,lid\n" + "\n".join(rows)))
    assert bins.lid.tolist() == [0, 2, 0, 0, 0]


@pytest.mark.parametrize(
    ("every_s", "coarse", "five_min", "one_min"),
    [(20.0, False, 5, 2), (60.0, False, 5, 2), (90.0, False, 3, 2), (91.0, True, 3, 2), (150.0, True, 2, 2)],
)
def test_minutes_are_counted_in_bins(every_s, coarse, five_min, one_min):
    """Five minutes are five bins of a minute, two of two and a half; readings more than 90 s apart are few."""
    bins = bins_of(every_s * np.arange(9), [60.0] * 9)
    assert bins.interval_s == every_s
    assert bins.is_coarse is coarse
    assert bins.bins_in(300.0, 2) == five_min
    assert bins.bins_in(60.0, 2) == one_min


def test_some_of_the_bins_keep_all_they_hold():
    """Each column is cut alike; what lasts between bins follows from them."""
    bins = bins_of(
        [0, 60, 150, 240], [60, 61, 62, 63], readings=[1, 2, 3, 4], used_j=[0, 6e3, 6e3, 60e3], lid=[0, 1, 2, -1]
    )
    assert bins.mean_power_w().tolist() == [100.0, 0.0, 600.0]
    some = bins.part(np.array([1, 3]))
    assert [some.times_s.tolist(), some.temperature_c.tolist(), some.readings.tolist(), some.lid.tolist()] == [
        [60, 240], [61, 63], [2, 4], [1, -1],
    ]  # fmt: skip
    assert some.mean_power_w().tolist() == [300.0]
    assert bins_of([0, 60, 120], [60] * 3).mean_power_w().tolist() == [0.0, 0.0]
    assert bins_of([0], [60]).mean_power_w().size == 0


@pytest.mark.parametrize(("hours", "width_s"), [(3, 60.0), (12, 60.0), (24, 120.0), (36, 180.0)])
def test_a_bin_is_a_minute_or_a_720th_of_the_log(hours, width_s):
    """Twelve hours have bins of a minute, a whole day of two; a reading on a border begins its bin."""
    times_s = 30.0 * np.arange(hours * 120 + 1)
    bins = binned(log_of(times_s, np.full(times_s.size, 60.0)))
    assert bins.readings[0] == width_s / 30
    assert np.diff(bins.times_s)[:-1] == pytest.approx(width_s)


def test_joined_bins_are_means_by_their_readings():
    """Five bins into three: pairs, the last alone; a bin of three readings counts three times, an open lid stays."""
    bins = bins_of([0, 60, 120, 180, 240], [60, 64, 70, 72, 80], readings=[1, 3, 1, 1, 2], used_j=[0, 8, 10, 12, 20],
                   lid=[0, 2, -1, 1, 0])  # fmt: skip
    fewer = rebinned(bins, 3)
    assert fewer.times_s.tolist() == [45.0, 150.0, 240.0]
    assert fewer.temperature_c.tolist() == [63.0, 71.0, 80.0]
    assert fewer.readings.tolist() == [4.0, 2.0, 2.0]
    assert fewer.used_j.tolist() == [6.0, 11.0, 20.0]
    assert fewer.lid.tolist() == [2, 1, 0]
    assert rebinned(bins, 5) is bins
    assert rebinned(bins, 4).times_s.size < 5


def test_power_that_changes_between_two_readings_counts_by_its_mean():
    """0, 1 and 1 kW a minute apart: 30 and 60 kJ; two readings of the power are enough, what lies outside is flat."""
    times_s = np.array([0.0, 60.0, 120.0])
    bins = binned(log_of(times_s, np.full(3, 60.0), power_w=np.array([0.0, 1000.0, 1000.0])))
    assert bins.used_j.tolist() == [0.0, 30e3, 90e3]
    two = binned(log_of(times_s, np.full(3, 60.0), power_w=np.array([np.nan, 500.0, 1000.0])))
    assert two.used_j.tolist() == [0.0, 30e3, 75e3]


def test_what_a_meter_counted_is_a_load_from_reading_to_reading():
    """0.01 and then 0.03 kWh in one and two minutes are 600 and 900 W; readings without a total are passed over."""
    times_s, warm_c = np.array([0.0, 60.0, 120.0, 180.0]), np.full(4, 60.0)
    load = metered_load(log_of(times_s, warm_c, energy_kwh=np.array([0.0, 0.01, np.nan, 0.04])))
    assert load.edges_s.tolist() == [0.0, 60.0, 180.0]
    assert load.mean_w == pytest.approx([600.0, 900.0])
    assert not load.heater_w_per_v2.any()
    assert not load.other_w.any()
    powered = metered_load(log_of(times_s, warm_c, power_w=np.array([0.0, 1000.0, 1000.0, 0.0])))
    assert powered.edges_s.tolist() == times_s.tolist()
    assert powered.mean_w == pytest.approx([500.0, 1000.0, 500.0])
    assert metered_load(log_of(times_s, warm_c)) is None
    assert metered_load(log_of(times_s, warm_c, power_w=np.array([np.nan, 5.0, np.nan, np.nan]))) is None


def counted_j(counts_at_s, until_s, every_s=20.0):
    """Straightened energy [J] at seconds, from a meter that counts a hundredth of a kWh (36 kJ) at some moments."""
    times_s = np.arange(0.0, until_s + 1, every_s)
    total_kwh = 0.01 * np.searchsorted(np.sort(counts_at_s), times_s, "right")
    bins = binned(log_of(times_s, np.full(times_s.size, 60.0), energy_kwh=total_kwh))
    return lambda *at_s: np.interp(at_s, bins.times_s, bins.used_j)


def test_a_count_is_read_half_a_reading_late():
    """A count every 3 min is 200 W all along; read every 20 s, by then 10 s of it have gone into the next one."""
    used_j = counted_j(180.0 * np.arange(1, 11), 1790.0)
    assert used_j(140, 500, 1400) == pytest.approx(200 * np.array([140 + 10, 500 + 10, 1400 + 10]), rel=0.02)
    assert np.diff(used_j(380, 1400)) == pytest.approx(200 * 1020)


def test_a_total_that_stood_still_went_on_for_half_a_count_first():
    """Counts every 3 min, then none for 51, then every 3 again: 60 s more at 200 W before the rest, then nothing.

    Of the first count behind the rest little was used before it: 36 kJ are counted at its end.
    """
    used_j = counted_j([180, 360, 540, 3600, 3780, 3960], 4000.0, every_s=60.0)
    assert used_j(540, 600, 2000, 3540) == pytest.approx([114e3, 126e3, 126e3, 126e3])
    assert used_j(3600, 3780) == pytest.approx([144e3 + 18e3 * 60 / 3060, 186e3])
    assert used_j(3960) == pytest.approx(222e3)


@pytest.mark.parametrize(("pause_s", "stands"), [(540.0, False), (580.0, True)])
def test_a_pause_is_longer_than_three_usual_distances(pause_s, stands):
    """Counts 3 min apart; one after 9 min may be a slower stretch, one after 9 min 40 s had a pause before it."""
    later_s = 540.0 + pause_s + 180.0 * np.arange(4)
    used_j = counted_j([180, 360, 540, *later_s], later_s[-1])
    assert np.diff(used_j(700, 1000)) == pytest.approx(0.0 if stands else 36e3 * 300 / pause_s, abs=1000.0)


def test_a_meter_that_starts_late_counted_nothing_before():
    """Elements off for half an hour and then 200 W: no energy until the reading before the first count."""
    used_j = counted_j(1800.0 + 180.0 * np.arange(6), 2700.0, every_s=60.0)
    assert used_j(900, 1740).tolist() == [0.0, 0.0]
    assert used_j(1980, 2160) == pytest.approx([72e3 + 6e3, 108e3 + 6e3])


@pytest.mark.parametrize(
    ("times_s", "shown_c", "resolution_k", "noise"),
    [
        # A middle reading 1 K off the line between its neighbours: 1.4826 / sqrt(1 + 1/4 + 1/4)
        ([0, 60, 120], [60, 61, 60], 0.1, 1.4826 / 1.5**0.5),
        # The line at a quarter of the way: 1 + 9/16 + 1/16
        ([0, 60, 240], [60, 62, 64], 0.1, 1.4826 / 1.625**0.5),
        ([0, 180, 240], [60, 62, 64], 0.1, 1.4826 / 1.625**0.5 / 1.0),
        # On a line: a reading by hand, over one more than the bins with two neighbours
        ([0, 60], [60, 61], 0.1, 0.25),
        ([0, 60, 120], [60, 61, 62], 0.1, 0.125),
        ([0, 60, 180], [60, 61, 63], 1.0, 1 / 12**0.5),
        (range(0, 18_000, 60), range(300), 0.0, 1e-3),
    ],
)
def test_scatter_by_hand(times_s, shown_c, resolution_k, noise):
    """How far a bin leaves the line between its neighbours, wherever in time they lie; and the floors below it."""
    assert noise_k(bins_of(list(times_s), list(shown_c)), resolution_k) == pytest.approx(noise, rel=1e-4)
