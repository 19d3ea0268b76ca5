"""Binning: means, meters that count in steps, scatter."""

import numpy as np
import pytest

from energyplan.learning.bins import binned, noise_k, rebinned
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
