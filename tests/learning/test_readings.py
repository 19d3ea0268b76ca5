"""Readings put in order: what is averaged, sorted, told of the lid and of the meter."""

import numpy as np
import pytest

from energyplan.base.errors import LogError
from energyplan.learning.logfile import LIDS, parse_log
from energyplan.learning.readings import Remark

TWELVE = [f"{k},{70 - k / 10:.1f}" for k in range(12)]


def text_of(rows: list[str], header: str = "time,temperature_c") -> str:
    """CSV text of rows."""
    return "\n".join([header, *rows])


def test_readings_of_one_moment_are_counted_and_averaged() -> None:
    """Two of 14 rows repeat a moment: the note counts those two, and says nothing of sorting."""
    log = parse_log(text_of([*TWELVE[:6], "5,71.5", "5,72.5", *TWELVE[6:]]))
    assert log.notes == (Remark("averaged", count=2),)
    assert log.temperature_c[5] == pytest.approx((69.5 + 71.5 + 72.5) / 3)
    assert log.times_s.size == 12


def test_times_may_count_from_any_moment() -> None:
    """Minutes that begin at a million are a day like any other; a span of 400 days is none."""
    log = parse_log(text_of([f"{1_000_000 + k},70" for k in range(12)]))
    assert log.times_s[[0, -1]].tolist() == [0.0, 660.0]
    with pytest.raises(LogError, match="line 13, column time: the readings span 400 days"):
        parse_log(text_of([*(f"{-(10**6) + k},70" for k in range(11)), f"{-(10**6) + 400 * 1440},70"]))
    year = parse_log(text_of([*(f"{k},70" for k in range(11)), f"{366 * 1440},70"]))
    assert year.duration_s == 366 * 86400


def test_a_lid_stays_as_it_was_last_told() -> None:
    """Told once in the first row it holds for all; told later, rows before it don't know."""
    first = parse_log(text_of([TWELVE[0] + ",off", *(f"{row}," for row in TWELVE[1:])], "time,temperature_c,lid"))
    assert first.lid is not None
    assert {LIDS[state] for state in first.lid} == {"off"}
    words = ["", "", "on", "", "ajar", *([""] * 7)]
    rows = [f"{row},{word}" for row, word in zip(TWELVE, words, strict=True)]
    later = parse_log(text_of(rows, "time,temperature_c,lid"))
    assert later.lid is not None
    assert later.lid.tolist() == [-1, -1, 0, 0, *([1] * 8)]


def test_two_readings_of_a_meter_are_a_difference() -> None:
    """A meter read at the beginning and at the end tells what went through; read once, it tells nothing."""
    rows = [TWELVE[0] + ",3.5", *(f"{row}," for row in TWELVE[1:-1]), TWELVE[-1] + ",4.75"]
    log = parse_log(text_of(rows, "time,temperature_c,energy_kwh"))
    assert log.energy_kwh is not None
    assert log.energy_kwh[[0, -1]].tolist() == pytest.approx([0.0, 1.25])
    assert np.isnan(log.energy_kwh[1:-1]).all()
    once = parse_log(text_of([TWELVE[0] + ",3.5", *(f"{row}," for row in TWELVE[1:])], "time,temperature_c,energy_kwh"))
    assert once.energy_kwh is None


def test_a_meter_that_slips_back_a_little_was_not_reset() -> None:
    """A last digit that flickers (2 Wh) is no reset and no energy; a fall to 0.1 kWh is one."""
    totals = [1.0, 1.1, 1.098, 1.2, *([1.3] * 4), 0.1, 0.2, 0.3, 0.4]
    rows = [f"{row},{total}" for row, total in zip(TWELVE, totals, strict=True)]
    log = parse_log(text_of(rows, "time,temperature_c,energy_kwh"))
    assert log.notes == (Remark("meter reset", count=1),)
    assert log.energy_kwh is not None
    assert log.energy_kwh[3] == pytest.approx(0.1 + 0.102)
    assert log.energy_kwh[-1] == pytest.approx(0.1 + 0.102 + 0.1 + 0.4)


def test_the_finest_step_is_the_resolution() -> None:
    """Readings to a tenth tell tenths apart, whatever binary fractions make of them; one value tells nothing."""
    assert parse_log(text_of([f"{k},{60 + (k * 7 % 5) / 10}" for k in range(12)])).resolution_k == pytest.approx(0.1)
    assert parse_log(text_of([f"{k},60" for k in range(12)])).resolution_k == 0


def test_a_fast_ramp_is_read_as_finely_as_a_slow_one() -> None:
    """At 1.3 K a minute neighbours are 0.8 K apart or more: tenths all the same; sixteenths are no usual step."""
    ramp_c = [20 + 1.3 * k + (k * 7 % 4) / 10 for k in range(40)]
    assert parse_log(text_of([f"{k},{c:.1f}" for k, c in enumerate(ramp_c)])).resolution_k == pytest.approx(0.1)
    fine_c = [60 + (k * 7 % 17) / 16 for k in range(20)]
    assert parse_log(text_of([f"{k},{c:.4f}" for k, c in enumerate(fine_c)])).resolution_k == pytest.approx(1 / 16)


def test_a_gap_is_longer_than_five_intervals() -> None:
    """Five minutes between readings of every minute are no gap, six are."""
    five = parse_log(text_of([*TWELVE, "16,60", "17,60"]))
    assert five.notes == ()
    six = parse_log(text_of([*TWELVE, "17,60", "18,60"]))
    assert six.notes == (Remark("gap", count=1, longest_min=6.0),)
