"""Cutting curves where the slope changes, and windows of another slope."""

from types import SimpleNamespace

import numpy as np
import pytest
from tests_byhand import bins_of

from energyplan.learning.segmentation import (
    OtherSlope,
    _kept,
    _moved_frac,
    _note,
    other_slope,
    other_slopes,
    passed_k,
    steady_parts,
    straight_pieces,
    straighter,
)

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


# By hand ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("squares", "cut"), [(31.0, True), (29.0, False)])
def test_a_cut_lowers_the_squares_by_thirty(squares, cut):
    """A tent of ten readings: what numpy's one line leaves over is 31 or 29 squares of the scatter; two leave none."""
    times_s, tent = 60.0 * np.arange(10), np.r_[np.arange(5.0), np.arange(5.0)[::-1]]
    (left,) = np.polyfit(times_s, tent, 1, full=True)[1]
    pieces = straight_pieces(times_s, tent, float(np.sqrt(left / squares)))
    assert pieces == ([(0, 5), (5, 10)] if cut else [(0, 10)])


@pytest.mark.parametrize(("size", "fewest", "pieces"), [(10, 5, 2), (9, 5, 1), (6, 3, 2), (5, 3, 1), (4, 2, 2)])
def test_no_piece_is_shorter_than_the_fewest(size, fewest, pieces):
    """A curve is cut only where both sides have enough readings."""
    times_s = 60.0 * np.arange(size)
    step = np.where(np.arange(size) < size / 2, 0.0, 10.0)
    assert len(straight_pieces(times_s, step, 0.1, fewest)) == pieces


def brute_force(x, y, weight):
    """The best of all windows: borders, squares left by it and by one line, slopes (numpy's least squares)."""
    root = np.sqrt(weight)

    def fitted(*columns):
        matrix = root[:, None] * np.column_stack([np.ones_like(x), x, *columns])
        found = np.linalg.lstsq(matrix, root * y, rcond=None)[0]
        return float(np.sum((root * y - matrix @ found) ** 2)), found

    whole, best = fitted()[0], None
    for first in range(x.size):
        for last in range(first + 5, x.size):
            if x.size - (last - first) >= 5:
                left, found = fitted(np.clip(x, x[first], x[last]) - x[first])
                if best is None or left < best[2] - 1e-9:
                    best = (first, last, left, found[1], found[1] + found[2])
    return best, whole


@pytest.mark.parametrize("change", [-2.0, -0.5, -0.3, -0.25, -0.2, 0.0])
@pytest.mark.parametrize(("first", "last"), [(5, 14), (0, 9), (8, 23)])
def test_the_window_is_that_of_a_brute_force(first, last, change):
    """24 points of different weight: the same window and slopes as of all windows fitted alone, steeper inside.

    Told only where it explains forty times more than what it leaves to each of its degrees of freedom.
    """
    rng = np.random.default_rng([first, last])
    x, weight = np.arange(24) / 4, rng.uniform(1, 9, 24)
    y = 70 - x + change * (np.clip(x, x[first], x[last]) - x[first]) + rng.normal(0, 0.05, 24)
    (best_first, best_last, left, outside, inside), whole = brute_force(x, y, weight)
    found = other_slope(x, y, weight)
    if (whole - left) / (left / (24 - 5)) < 40.0:
        assert found is None
        return
    if abs(outside) > abs(inside):  # a window at an end, and what it leaves, are one line: the steeper is told
        best_first, best_last = (best_last, 23) if best_first == 0 else (0, best_first)
        outside, inside = inside, outside
    assert (found.first, found.last) == (best_first, best_last + 1)
    assert (found.slope_outside, found.slope_inside) == pytest.approx((outside, inside), rel=1e-6)


def test_fifteen_points_may_hold_a_window_and_fourteen_not():
    """Before, in and after it there are five."""
    for size, found in ((15, True), (14, False)):
        x = np.arange(float(size))
        y = -x - 3 * (np.clip(x, 5, 10) - 5)
        assert (other_slope(x, y, np.ones(size)) is not None) == found


MINUTES = bins_of(60.0 * np.arange(41), 70 - np.arange(41) / 10)


@pytest.mark.parametrize(
    ("inside", "outside", "code", "factor"),
    [
        (-0.3, -0.1, "lid open inside", 3.0),
        (-0.1, -0.25, "lid open outside", 2.5),
        (-4.9, -0.1, "lid open inside", 49.0),
        (-5.1, -0.1, "lid open inside", np.inf),  # more than fifty times says only: much
        (0.0, -0.1, "lid open outside", np.inf),
    ],
)
def test_a_moved_lid_is_told_with_its_minutes_and_times(inside, outside, code, factor):
    """From the tenth to the twentieth minute, and how many times as much was lost."""
    note = _note(OtherSlope(first=10, last=21, slope_outside=outside, slope_inside=inside), MINUTES)
    assert note.code == code
    assert (note["from_min"], note["to_min"]) == (10.0, 20.0)
    assert note["factor"] == pytest.approx(factor)


@pytest.mark.parametrize(
    ("first", "last", "inside", "kept"),
    [
        (10, 21, -0.05, [(11, 19)]),  # closed meanwhile: without a minute at either border
        (10, 21, -0.3, [(0, 8), (22, 40)]),  # opened meanwhile
        (0, 21, -0.3, [(22, 40)]),
        (10, 41, -0.3, [(0, 8)]),
        (3, 41, -0.3, [(0, 1)]),
        (2, 41, -0.3, []),  # a single minute is no part
    ],
)
def test_the_part_with_the_smaller_loss_is_kept(first, last, inside, kept):
    """Of 41 minutes what lies in the window or around it, by its first and last minute."""
    parts = _kept([OtherSlope(first=first, last=last, slope_outside=-0.1, slope_inside=inside)], MINUTES)
    assert [(part.times_s[0] / 60, part.times_s[-1] / 60) for part in parts] == kept


@pytest.mark.parametrize(
    ("first", "last", "moved"),
    [(10, 21, 10 * 0.1 / 5.0), (0, 5, 4 * 0.1 / 4.4), (10, 41, 10 * 0.1 / 7.0)],
)
def test_how_much_of_the_fall_a_lid_moved(first, last, moved):
    """4 K at 0.1 per kelvin passed and 0.1 more in the window: the shorter of window and rest, over the whole fall."""
    found = OtherSlope(first=first, last=last, slope_outside=-0.1, slope_inside=-0.2)
    assert _moved_frac([found], np.arange(41.0)) == pytest.approx(moved)


def linear(loss_w_per_k=5.0, air_c=20.0, stored_j_per_k=100e3):
    """A vessel that loses alike at all temperatures."""
    return SimpleNamespace(
        loss_w=lambda at_c: loss_w_per_k * (at_c - air_c),
        capacity_j_per_k=lambda at_c: np.full_like(at_c, stored_j_per_k),
    )


def test_how_far_a_model_would_have_cooled():
    """From 70 to 66 °C in 40 min at 5 W/K above 20 °C, less 40 W of pump, 100 kJ/K: the integral by hand, 4.8 K."""
    passed = passed_k(MINUTES, linear(), 40.0)
    assert passed[0] == 0.0
    assert passed[-1] == pytest.approx((5 * 48 - 40) * 2400 / 100e3, rel=1e-6)
    assert passed[20] == pytest.approx((5 * 49 - 40) * 1200 / 100e3, rel=1e-6)
    two = passed_k(bins_of([0, 600], [70, 68]), linear(), 0.0)
    assert two == pytest.approx([0.0, 5 * 49 * 600 / 100e3])


def cooled(rate, lasts_min=80):
    """Minutes of cooling: the vessel's loss of `linear` times ``rate`` of each minute."""
    shown_c = [75.0]
    for minute in range(lasts_min):
        shown_c.append(shown_c[-1] - 60 * 5 * (shown_c[-1] - 20) * rate(minute) / 100e3)
    return bins_of(60.0 * np.arange(lasts_min + 1), shown_c)


@pytest.mark.parametrize(
    ("times", "minutes", "seen"),
    [
        (1.5, 40, True),
        (1.3, 40, False),  # the shape of a loss alone makes 1.25
        (0.65, 40, True),
        (0.75, 40, False),
        (2.0, 6, True),
        (1.6, 6, False),  # less than a twentieth of the fall
    ],
)
def test_a_lid_changes_the_loss_by_four_tenths_and_a_twentieth_of_the_fall(times, minutes, seen):
    """The loss of a cool-down of 80 min, times something for a while: seen as a moved lid, or let pass."""
    notes = []
    bins = cooled(lambda minute: times if 20 <= minute < 20 + minutes else 1.0)
    parts = steady_parts(bins, linear(), 0.0, notes)
    assert bool(notes) is seen
    assert (parts == [bins]) is not seen


OPENED = {
    "twice": (((30, 45), (90, 105)), 120),
    "three times, the third longer": (((20, 30), (50, 60), (80, 100)), 120),
    "from the start and to the end": (((0, 15), (45, 60), (105, 120)), 120),
    "four times": (((20, 30), (50, 60), (80, 90), (110, 120)), 140),
}


@pytest.mark.parametrize("when", OPENED)
def test_all_moves_of_a_lid_are_found_at_once(when):
    """A loss three times as large for a while, again and again: each is told, what lies around them is kept."""
    windows, lasts_min = OPENED[when]
    notes = []
    bins = cooled(lambda minute: 3.0 if any(first <= minute < last for first, last in windows) else 1.0, lasts_min)
    parts = steady_parts(bins, linear(), 0.0, notes)
    assert [note.code for note in notes] == ["lid open inside"] * len(windows)
    for note, (first, last) in zip(notes, windows, strict=True):
        assert (note["from_min"], note["to_min"]) == (pytest.approx(first, abs=1.1), pytest.approx(last, abs=1.1))
        assert note["factor"] == pytest.approx(3.0, rel=0.05)
    kept = {minute for part in parts for minute in np.round(part.times_s / 60).astype(int)}
    assert not kept & {minute for first, last in windows for minute in range(first + 1, last)}
    assert {*range(lasts_min + 1)} - kept <= {at for first, last in windows for at in range(first - 3, last + 4)}


def test_a_line_with_windows_has_two_slopes():
    """Two windows three times as steep in noise: found within two readings; the same line fewer than twice: none."""
    x = np.arange(100) / 10
    within = sum(np.clip(x, x[first], x[last]) - x[first] for first, last in ((20, 32), (60, 75)))
    noise = np.random.default_rng(8).normal(0, 0.1, 100)
    found = other_slopes(x, 70 - x - 2 * within + noise, np.ones(100))
    assert [(one.first, one.last - 1) for one in found] == [
        (pytest.approx(20, abs=2), pytest.approx(32, abs=2)), (pytest.approx(60, abs=2), pytest.approx(75, abs=2)),
    ]  # fmt: skip
    for one in found:
        assert (one.slope_outside, one.slope_inside) == (pytest.approx(-1, rel=0.15), pytest.approx(-3, rel=0.15))
    assert other_slopes(x, 70 - x + noise, np.ones(100)) == []
    assert other_slopes(x[:14], -(x[:14] ** 2), np.ones(14)) == []


@pytest.mark.parametrize(("minutes", "told"), [(14, 0), (15, 1)])
def test_of_sixteen_readings_a_lid_may_be_told(minutes, told):
    """Closed for eight minutes and open for eight; a minute less and nothing is looked for."""
    notes = []
    steady_parts(cooled(lambda minute: 3.0 if minute >= 8 else 1.0, minutes), linear(), 0.0, notes)
    assert len(notes) == told


def open_surface():
    """A vessel whose loss doubles every 15 K."""
    return SimpleNamespace(
        loss_w=lambda at_c: 200 * 2 ** ((at_c - 60) / 15), capacity_j_per_k=lambda at_c: np.full_like(at_c, 100e3)
    )


@pytest.mark.parametrize("opened", [True, False])
def test_an_open_lid_bends_the_curve(opened):
    """Two hours of readings each minute, 0.05 K of noise: the vessel that they came from explains them straighter."""
    rng, shown_c = np.random.default_rng(4), [90.0]
    vessel = open_surface() if opened else linear()
    for _ in range(120):
        shown_c.append(shown_c[-1] - 60 * float(vessel.loss_w(np.array(shown_c[-1]))) / 100e3)
    bins = bins_of(60.0 * np.arange(121), np.array(shown_c) + rng.normal(0, 0.05, 121))
    assert straighter(bins, linear(), open_surface()) is opened
    assert not straighter(bins.part(np.arange(15)), linear(), open_surface())
