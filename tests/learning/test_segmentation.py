"""Cutting curves where the slope changes, and windows of another slope."""

import numpy as np
import pytest

from energyplan.learning.segmentation import other_slope, straight_pieces

TIMES_S = np.arange(0.0, 7200.0, 60.0)


def test_a_straight_line_stays_whole():
    """White noise on a line isn't cut (seen over 20 draws)."""
    for seed in range(20):
        noise = np.random.default_rng(seed).normal(0, 0.3, TIMES_S.size)
        assert straight_pieces(TIMES_S, 70 - TIMES_S / 900 + noise, 0.3) == [(0, TIMES_S.size)]


def test_heat_hold_cool_are_cut_at_their_borders():
    """A heat-up, a hold and a cool-down are three pieces, cut within five readings."""
    curve = np.where(TIMES_S < 2400, 20 + TIMES_S / 48, np.where(TIMES_S < 4800, 70.0, 70 - (TIMES_S - 4800) / 480))
    noise = np.random.default_rng(3).normal(0, 0.3, TIMES_S.size)
    cuts = [first for first, _ in straight_pieces(TIMES_S, curve + noise, 0.3)][1:]
    assert any(abs(cut - 40) <= 5 for cut in cuts)
    assert any(abs(cut - 80) <= 5 for cut in cuts)


def test_a_curve_too_short_to_cut_stays_whole():
    """Fewer readings than two pieces need are one piece."""
    assert straight_pieces(TIMES_S[:7], TIMES_S[:7] ** 2, 0.1) == [(0, 7)]


@pytest.mark.parametrize(("first", "last"), [(50, 120), (0, 45), (40, 60)])
def test_a_window_of_another_slope_is_found(first, last):
    """A slope three times as steep in a window, to the end, or from the start is found within 4 readings."""
    x = np.arange(120) / 10
    steep = np.clip(x, x[first], x[last - 1]) - x[first]
    noise = np.random.default_rng(5).normal(0, 0.1, 120)
    found = other_slope(x, 70 - x - 2 * steep + noise, np.ones(120))
    assert found is not None
    assert abs(found.first - first) <= 4
    assert abs(found.last - last) <= 4
    assert found.slope_inside / found.slope_outside == pytest.approx(3.0, rel=0.25)


def test_no_window_is_found_in_a_straight_line():
    """Noise alone makes no window (20 draws), and a handful of points never does."""
    x = np.arange(100) / 10
    for seed in range(20):
        noise = np.random.default_rng(seed).normal(0, 0.3, 100)
        assert other_slope(x, 70 - x + noise, np.ones(100)) is None
    assert other_slope(x[:10], -x[:10], np.ones(10)) is None


def test_of_two_windows_that_describe_one_line_the_steeper_is_given():
    """A bend at one place has two windows, before and after it; whichever a platform finds first, one is given."""
    x = np.arange(60) / 10
    for turn in (20, 31, 40):
        for steep_first in (True, False):
            before, after = (3.0, 1.0) if steep_first else (1.0, 3.0)
            y = -np.where(x < x[turn], before * x, before * x[turn] + after * (x - x[turn]))
            found = other_slope(x, y + np.random.default_rng(turn).normal(0, 0.02, 60), np.ones(60))
            assert found is not None
            assert abs(found.slope_inside) > abs(found.slope_outside)
            assert (found.first == 0) == steep_first


def test_no_other_window_explains_a_noisy_bend_better():
    """The squares left are the least of all windows' (to 0.2 %), each fitted alone by numpy's least squares."""
    x = np.arange(60) / 10
    y = -3.0 * np.minimum(x, x[33]) - np.maximum(x - x[33], 0.0) + np.random.default_rng(0).normal(0, 0.1, 60)

    def left(first, last):
        columns = np.column_stack([np.ones(60), x, np.clip(x, x[first], x[last]) - x[first]])
        return float(np.sum((y - columns @ np.linalg.lstsq(columns, y, rcond=None)[0]) ** 2))

    found = other_slope(x, y, np.ones(60))
    assert found is not None
    least = min(left(first, last) for first in range(55) for last in range(first + 5, 60) if last - first < 55)
    assert left(found.first, found.last - 1) <= 1.002 * least
