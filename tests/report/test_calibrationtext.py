"""Calibrations and comparisons on the terminal: complete, 80 columns, both unit systems."""

import io

import numpy as np
import pytest
from rich.console import Console

from energyplan.base.units import Display
from energyplan.learning.calibrate import calibrate
from energyplan.learning.logfile import parse_log, read_log
from energyplan.learning.measured import compare_with_log
from energyplan.learning.result import Residuals
from energyplan.plan.file import read_plan
from energyplan.report.calibrationtext import calibration_text, comparison_text, residual_plot


def shown(renderable):
    """Text on a terminal of 80 columns."""
    page = io.StringIO()
    Console(file=page, width=80, highlight=False, color_system=None).print(renderable)
    return page.getvalue()


@pytest.mark.parametrize("system", ["metric", "us"])
def test_a_calibration_shows_values_intervals_reasons_and_next_tests(system):
    """The packaged cool-down: loss with interval, why the rest can't be told, residuals, the next test."""
    text = shown(calibration_text(calibrate(read_log("cool-down"), read_plan("demo")), Display(system)))
    assert ("W/K" if system == "metric" else "W/°F") in text
    assert text.count("can't be told") >= 4
    assert "Element power: the elements were off" in text
    assert "Heat-up: a measured volume" in text
    assert "Reading less fit" in text
    assert max(map(len, text.splitlines())) <= 80


def test_a_calibration_with_a_meter_shows_them_all():
    """The packaged heat-up: stored heat in kJ/K, power in W."""
    metric = shown(calibration_text(calibrate(read_log("heat-up"), read_plan("demo")), Display("metric")))
    assert "kJ/K" in metric
    assert " W " in metric
    us = shown(calibration_text(calibrate(read_log("heat-up"), read_plan("demo")), Display("us")))
    assert "kJ/°F" in us


def test_a_calibration_that_tells_nothing_says_why():
    """No stretches, no plot, but the reason and both tests."""
    log = parse_log("time,temperature_c\n" + "\n".join(f"{k},66" for k in range(30)))
    text = shown(calibration_text(calibrate(log, read_plan("demo")), Display()))
    assert "nothing cools by itself" in text
    assert "Reading less fit" not in text
    assert "Cool-down:" in text


def test_the_residual_plot_stands_where_the_residuals_are():
    """Residuals that rise go from the lower left to the upper right, one mark per stretch."""
    times_s = np.linspace(0.0, 3600.0, 65)
    left = np.linspace(-1.0, 1.0, 65)
    residuals = Residuals(
        times_s=times_s, measured_c=60 + left, fitted_c=np.full(65, 60.0), stretch=(times_s > 1800).astype(np.int64)
    )
    lines = residual_plot(residuals, Display()).plain.splitlines()
    assert lines[0].startswith("  +1.0 K")
    assert lines[0].rstrip().endswith("×")
    assert lines[8].startswith("  -1.0 K •")
    assert lines[4].startswith("       0")
    assert lines[9].split() == ["0", "min", "60", "min"]
    none = np.zeros(0)
    empty = Residuals(times_s=none, measured_c=none, fitted_c=none, stretch=none.astype(np.int64))
    assert residual_plot(empty, Display()).plain == ""


def test_a_comparison_shows_phases_totals_and_the_cause():
    """The packaged brew day beside the demo plan: every phase, kWh against the meter's error, what explains it."""
    text = shown(comparison_text(compare_with_log(read_plan("demo"), read_log("brew-day")), Display()))
    for words in ("Strike", "Boil", "Measured", "the meter's error", "heat loss", "One input changed alone"):
        assert words in text
    assert max(map(len, text.splitlines())) <= 80


def test_a_comparison_without_a_meter_claims_no_kwh():
    """Without a meter the totals say so; in US units the temperatures are in degF."""
    rows = read_log("brew-day")
    bare = "time,temperature_c\n" + "\n".join(
        f"{time / 60},{c}" for time, c in zip(rows.times_s, rows.temperature_c, strict=True)
    )
    text = shown(comparison_text(compare_with_log(read_plan("demo"), parse_log(bare)), Display("us")))
    assert "the log has no meter" in text
    assert "°F" in text
