"""The phases of a plan lie where they were, however seldom a log was read."""

from dataclasses import replace

import numpy as np
import pytest
from tests_byhand import bins_of

from energyplan.day.brewday import simulate
from energyplan.learning.bins import (
    _end,
    _is_marked,
    _phase_costs,
    _power_costs,
    _seen,
    aligned_phases,
    binned,
)
from energyplan.learning.logfile import demo_logs, parse_log
from energyplan.learning.measured import compare_with_log

# Ends of the phases [min] as the maker of the packaged brew day passed them (tests/learning/demologs.py).
ENDS_MIN = {
    ("Strike", "ramp"): 46.3, ("Strike", "hold"): 52.3, ("Saccharification", "pause"): 60.3,
    ("Saccharification", "hold"): 124.9, ("Mash-out", "ramp"): 136.4, ("Mash-out", "hold"): 146.4,
    ("Sparge", "pause"): 168.4, ("Towards the boil", "ramp"): 192.3, ("Boil", "ramp"): 193.5, ("Boil", "boil"): 265.5,
    ("Chill", "pause"): 296.5, ("Cleaning", "ramp"): 313.3, ("Cleaning", "hold"): 333.3,
}  # fmt: skip


def thinned(every_min, *, meter=True):
    """The packaged brew day, read every so many minutes."""
    head, *rows = demo_logs()["brew-day"].splitlines()
    kept, due_min = [], 0.0
    for row in rows:
        minute = float(row.split(",")[0])
        if minute >= due_min - 1e-6:
            kept.append(row)
            due_min = minute + every_min - 0.3
    text = "\n".join([head, *kept])
    return parse_log(text if meter else "\n".join(",".join(row.split(",")[:2]) for row in text.splitlines()))


@pytest.mark.parametrize("meter", [True, False])
@pytest.mark.parametrize("every_min", [1, 2, 5, 10, 15])
def test_borders_that_are_told_are_right_to_one_interval(every_min, meter, demo_plan):
    """The packaged day read every 1, 2, 5, 10 or 15 minutes: borders told within one interval (at least 2 minutes).

    Seen: within 2 min of what the log's maker did for intervals to 10 min, within 4 for 15.
    """
    seen = aligned_phases(simulate(demo_plan), binned(thinned(every_min, meter=meter)))
    assert len(seen) >= 12
    told = [one for one in seen if not one.guessed]
    assert len(told) >= (9 if every_min <= 2 else 4 if every_min <= 10 else 2)
    for one in told:
        truth = ENDS_MIN[(one.phase.step, one.phase.phase)]
        assert one.end_s / 60 == pytest.approx(truth, abs=max(every_min, 2.0)), one.phase


@pytest.mark.parametrize("every_min", [5, 10, 15])
def test_what_a_coarse_log_cant_show_is_not_told(every_min, demo_plan):
    """A rest shorter than the time between readings has no minutes; what is told is right to one interval."""
    found = compare_with_log(demo_plan, thinned(every_min))
    assert found.interval_min == pytest.approx(every_min, abs=0.5)
    rows = {(one.step, one.phase): one for one in found.phases}
    assert rows[("Boil", "ramp")].measured_min is None
    assert rows[("Boil", "ramp")].measured_kwh is None
    order = list(ENDS_MIN)
    for key, one in rows.items():
        if one.measured_min is None:
            continue
        start_min = ENDS_MIN[order[order.index(key) - 1]] if order.index(key) else 0.0
        assert one.measured_min == pytest.approx(ENDS_MIN[key] - start_min, abs=every_min), key
        assert one.within_min == pytest.approx(every_min, abs=0.5)
    assert found.measured_kwh == pytest.approx(7.65, abs=0.25)
    assert any(note.code == "read seldom" for note in found.notes)


@pytest.mark.parametrize("every_min", [1, 2, 5, 10, 15])
def test_late_borders_are_no_appliance_on_the_meter(every_min, demo_plan):
    """Of a boil's last minutes, read into the rest after it, no other load is made: no cause outdoes the difference.

    The maker's vessel loses 1.45 times the estimate; read every 10 minutes, 206 W on the meter had been blamed,
    1.12 kWh for a difference of 0.47.
    """
    found = compare_with_log(demo_plan, thinned(every_min))
    assert "loss" in {one.key for one in found.likely.causes} or not found.likely.causes
    for cause in found.likely.causes:
        assert abs(cause.more_kwh) <= 1.5 * abs(found.measured_kwh - found.planned_kwh)


def test_a_log_that_ends_early_holds_fewer_phases(demo_plan):
    """Cut off at 100 minutes, read every ten: the mash is the last phase."""
    log = thinned(10)
    rows = [f"{t / 60},{c}" for t, c in zip(log.times_s, log.temperature_c, strict=True) if t < 6000]
    seen = aligned_phases(simulate(demo_plan), binned(parse_log("\n".join(["time,temperature_c", *rows]))))
    assert seen[-1].phase.step == "Saccharification"
    assert np.isfinite([one.end_s for one in seen]).all()


# What a place counts, by hand ---------------------------------------------------------------------------------


def phase_of(demo_plan, name, from_c, to_c, lasts_s, watts=0.0):
    """A phase of a kind, with its ends, its length and its mean power."""
    first = simulate(demo_plan).phases[0]
    return replace(first, phase=name, start_s=0.0, end_s=lasts_s, from_c=from_c, to_c=to_c, lowest_c=min(from_c, to_c),
                   energy_j=watts * lasts_s)  # fmt: skip


def places(*at_s):
    """Places where a border may lie."""
    return np.array(at_s, dtype=float)


def costs_of(phase, bins, from_s, to_s):
    """Costs of a phase whose planned course is straight."""
    course_c = np.linspace(phase.from_c, phase.to_c, 21)
    return _phase_costs(phase, course_c, (places(*from_s), places(*to_s)), bins)


def test_a_hold_counts_its_readings_and_its_length(demo_plan):
    """1 K off counts 1, ten no more than 9; half or twice as long as planned (ln 2 / 0.5)^2; never backwards.

    A reading at a phase's end is the next one's; one at its beginning its own.
    """
    hold = phase_of(demo_plan, "hold", 66.0, 66.0, 600.0)
    bins = bins_of([0, 100, 300, 500], [66, 67, 66, 56])
    assert costs_of(hold, bins, [0], [300, 600, 1200])[0] == pytest.approx([1 + 1.9218, 10.0, 10 + 1.9218], abs=1e-3)
    cut = costs_of(hold, bins, [0, 100, 101], [100, 500])
    assert cut[:, 1] == pytest.approx([1 + 0.133, 1 + 0.658, 0.666], abs=1e-3)
    assert np.isfinite(cut[:2, 0]).all()
    assert np.isinf(cut[2, 0])
    # Nothing is shorter than half a minute: (ln 20 / 0.5)^2
    assert costs_of(hold, bins_of([50], [66]), [0], [5, 30])[0] == pytest.approx([35.898, 35.898], abs=1e-2)


@pytest.mark.parametrize("name", ["pause", "chill"])
@pytest.mark.parametrize("times", [0.5, 1.0, 1.5, 2.0])
def test_a_rest_may_lose_half_to_twice_as_much(times, name, demo_plan):
    """From 66 °C where 4 K are planned: 2, 4, 6 or 8 K fit, and what lies between is off by the nearest."""
    rest = phase_of(demo_plan, name, 66.0, 62.0, 600.0)
    fitting = bins_of([150, 300, 450], 66 - times * np.array([1, 2, 3]))
    assert costs_of(rest, fitting, [0], [600])[0, 0] == pytest.approx(0.0, abs=1e-9)
    off = bins_of([300], [66 - 2 * times - 0.4])
    assert costs_of(rest, off, [0], [600])[0, 0] == pytest.approx(0.16, abs=1e-9)


@pytest.mark.parametrize("times", [0.94, 1.0, 1.06])
def test_a_ramp_ends_where_planned_and_may_begin_elsewhere(times, demo_plan):
    """To 66 °C from 16 planned: from 19 or 13 the same ramp; a hold has no such play."""
    ramp = phase_of(demo_plan, "ramp", 16.0, 66.0, 600.0)
    fitting = bins_of([150, 300, 450], 66 - times * np.array([37.5, 25, 12.5]))
    assert costs_of(ramp, fitting, [0], [600])[0, 0] == pytest.approx(0.0, abs=1e-9)
    hold = phase_of(demo_plan, "boil", 66.0, 62.0, 600.0)
    assert costs_of(hold, bins_of([300], [62.0]), [0], [600])[0, 0] == pytest.approx(4.0)


def test_power_beside_the_planned_counts_where_it_was_read(demo_plan):
    """Two minutes at 1 kW, one at none: a quarter of the largest planned power off counts 1, no more than 4.5."""
    bins = bins_of([0, 60, 120, 180], [66] * 4, [1000.0, 1000.0, 0.0])
    borders = places(0, 90), places(90, 180)
    as_planned = _power_costs(1000.0, 2000.0, borders, bins)
    assert as_planned == pytest.approx(np.array([[0.0, 4.0], [0.0, 4.0]]))
    assert _power_costs(0.0, 2000.0, borders, bins) == pytest.approx(np.array([[4.0, 8.0], [0.0, 4.0]]))
    assert _power_costs(0.0, 1000.0, borders, bins)[0] == pytest.approx([4.5, 9.0])
    assert not _power_costs(0.0, 1000.0, borders, bins_of([0, 60, 120, 180], [66] * 4)).any()


@pytest.mark.parametrize(("middle", "found"), [([5.0, 1.0], (1, 1)), ([0.0, 5.0], (2, 1)), ([5.0, 4.6], (2, 1))])
def test_the_last_phase_may_leave_readings_over(middle, found):
    """A reading behind the plan's last phase counts 4; any other phase that ends the log goes on to its last reading.

    Readings at 0, 100 and 200 s, a plan of two phases: 0.5 + 4 for ending at 200 s, where one reading is behind.
    """
    borders = [places(0), places(100, 200), places(100, 200)]
    bins = bins_of([0, 100, 200], [66, 66, 66])
    assert _end([np.zeros(1), np.array(middle), np.array([0.5, 0.5])], borders, bins) == found


@pytest.mark.parametrize(
    ("to_c", "every_s", "marked"),
    [(67.0, 60.0, True), (66.9, 60.0, False), (65.0, 60.0, True), (66.65, 60.0, False), (66.9, 450.0, True)],
)
def test_a_bend_of_a_kelvin_in_ten_minutes_marks_a_border(to_c, every_s, marked, demo_plan):
    """A hold at 66 °C, then ten minutes to another temperature; of few readings 1.5 times their distance counts."""
    before = phase_of(demo_plan, "hold", 66.0, 66.0, 1800.0)
    after = phase_of(demo_plan, "ramp", 66.0, to_c, 600.0)
    assert _is_marked(before, after, bins_of(every_s * np.arange(5), [66] * 5)) is marked


@pytest.mark.parametrize(("to_c", "marked"), [(65.0, True), (65.1, False), (67.0, True), (66.9, False)])
def test_a_step_of_a_kelvin_marks_a_border(to_c, marked, demo_plan):
    """Grain or cold water goes in between two holds: up or down."""
    before, after = (phase_of(demo_plan, "hold", c, c, 1800.0) for c in (66.0, to_c))
    assert _is_marked(before, after, bins_of([0, 60, 120], [66] * 3)) is marked


@pytest.mark.parametrize(
    ("before_w", "after_w", "marked"),
    [(0.0, 510.0, True), (0.0, 490.0, False), (510.0, 0.0, True), (3000.0, 1400.0, True), (3000.0, 1600.0, False)],
)
def test_a_switch_of_half_the_power_marks_a_border_on_a_meter(before_w, after_w, marked, demo_plan):
    """Half of the larger, or of 1 kW; without a meter nobody sees it."""
    before, after = (phase_of(demo_plan, "hold", 66.0, 66.0, 1800.0, watts) for watts in (before_w, after_w))
    times_s = [0, 60, 120]
    assert _is_marked(before, after, bins_of(times_s, [66] * 3, [0.0, 0.0])) is marked
    assert not _is_marked(before, after, bins_of(times_s, [66] * 3))


def hand_day(demo_plan, *phases):
    """Phases one after the other, as a day."""
    start_s, placed = 0.0, []
    for one in phases:
        placed.append(replace(one, start_s=start_s, end_s=start_s + one.duration_s))
        start_s = placed[-1].end_s
    return replace(simulate(demo_plan), phases=tuple(placed))


def test_what_was_seen_of_a_phase(demo_plan):
    """A ramp from its first reading to its end; a hold from the middle of its first three to that of its last three.

    1 kW for ten minutes of ramp are 0.6 MJ; the hold's end is not told by anything after it, so it is a guess.
    """
    day = hand_day(
        demo_plan,
        phase_of(demo_plan, "ramp", 46.0, 66.0, 600.0, 1000.0),
        phase_of(demo_plan, "hold", 66.0, 66.0, 600.0),
    )
    times_s = 60.0 * np.arange(21)
    shown_c = [46 + 2 * k for k in range(10)] + [66, 69, 65.5, 63, 66, 66, 66, 66.5, 60, 67, 66]
    bins = bins_of(times_s, shown_c, [1000.0] * 10 + [100.0] * 10)
    ramp, hold = _seen(day, places(0, 600, 1200), bins)
    assert (ramp.start_s, ramp.end_s, ramp.from_c, ramp.to_c, ramp.lowest_c) == (0.0, 600.0, 46.0, 66.0, 46.0)
    assert (ramp.energy_j, hold.energy_j) == (pytest.approx(600e3), pytest.approx(60e3))
    assert (hold.from_c, hold.to_c, hold.lowest_c) == (66.0, 66.5, 60.0)
    assert (ramp.guessed, hold.guessed) == (False, True)
    blind, _ = _seen(day, places(0, 600, 1200), bins_of(times_s, shown_c))
    assert blind.energy_j is None


def test_of_few_readings_one_at_each_end_counts_and_a_ramp_got_where_it_was_to(demo_plan):
    """Read every five minutes: the reading at the hold's ends, and the ramp's target, which no reading need show."""
    day = hand_day(
        demo_plan, phase_of(demo_plan, "ramp", 46.0, 66.0, 600.0), phase_of(demo_plan, "hold", 66.0, 66.0, 1200.0)
    )
    bins = bins_of(300.0 * np.arange(7), [46, 56, 65, 66, 66.5, 66, 67])
    ramp, hold = _seen(day, places(0, 600, 1800), bins)
    assert ramp.to_c == 66.0
    assert (hold.from_c, hold.to_c, hold.lowest_c) == (65.0, 66.0, 65.0)


def test_a_phase_between_two_readings_has_the_planned_temperatures_and_is_a_guess(demo_plan):
    """A ramp of a minute and a half that no reading saw; its neighbours' borders are guesses with it.

    A shorter one that took no time at all is left out; a longer one stands, with no time.
    """
    hold = phase_of(demo_plan, "hold", 60.0, 60.0, 1200.0)
    ramp, higher = phase_of(demo_plan, "ramp", 60.0, 63.0, 90.0), phase_of(demo_plan, "hold", 63.0, 63.0, 1200.0)
    rest = phase_of(demo_plan, "pause", 63.0, 55.0, 1200.0)
    day = hand_day(demo_plan, hold, ramp, higher, rest)
    bins = bins_of(300.0 * np.arange(13), [60] * 5 + [63] * 4 + [62, 60, 58, 56])
    seen = list(_seen(day, places(0, 1210, 1290, 2500, 3600), bins))
    assert (seen[1].from_c, seen[1].to_c, seen[1].lowest_c) == (60.0, 63.0, 60.0)
    assert [one.guessed for one in seen] == [True, True, True, True]
    still = list(_seen(day, places(0, 1210, 1210, 2500, 3600), bins))
    assert [one.phase.phase for one in still] == ["hold", "ramp", "hold", "pause"]
    brief = hand_day(demo_plan, hold, phase_of(demo_plan, "ramp", 60.0, 63.0, 80.0), higher, rest)
    assert [one.phase.phase for one in _seen(brief, places(0, 1210, 1210, 2500, 3600), bins)] == [
        "hold", "hold", "pause",
    ]  # fmt: skip
