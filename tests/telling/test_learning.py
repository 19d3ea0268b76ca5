"""What a log tells, in words: complete, on one screen, in both unit systems; JSON for machines."""

import io
import json
from dataclasses import replace

import numpy as np
import pytest
from rich.console import Console

from energyplan.base.kinds import PLAIN, Style
from energyplan.base.sentence import words
from energyplan.day.kettle import heat_loss_w_per_k
from energyplan.faces.frames import document, frame
from energyplan.faces.strip import residual_plot
from energyplan.faces.terminal import terminal
from energyplan.learning.calibrate import calibrate
from energyplan.learning.explain import Explanation
from energyplan.learning.logfile import parse_log, read_log
from energyplan.learning.measured import Likely, compare_with_log
from energyplan.plan.file import read_plan
from energyplan.telling import learning as remarks
from energyplan.telling.learning import calibration_told, estimate_headline, fit_table
from energyplan.telling.measured import log_told
from tests.telling.shown import shown_frame

US = Style("us")
METRIC_WORDS = (" °C", " K ", " L ", " kJ/K", " W/K", " kg")


def shown(told, style=PLAIN):
    """Text on a terminal of 80 columns."""
    page = io.StringIO()
    Console(file=page, width=80, highlight=False, color_system=None).print(terminal(told, style))
    return page.getvalue()


@pytest.fixture(scope="module")
def demo():
    """The demo plan."""
    return read_plan("demo")


@pytest.fixture(scope="module")
def day(demo):
    """The packaged brew day beside the demo plan."""
    return compare_with_log(demo, read_log("brew-day"))


@pytest.mark.parametrize("log", ["cool-down", "heat-up", "brew-day"])
@pytest.mark.parametrize("units", ["metric", "us"])
def test_a_calibration_is_one_screen(log, units, demo):
    """The packaged logs: the loss first, intervals, why the rest can't be told, the next test; 40 lines of 80."""
    text = shown(calibration_told(calibrate(read_log(log), demo)), Style(units))
    assert text.startswith("Measured: ")
    assert ("W/K" if units == "metric" else "W/°F") in text
    assert len(text.splitlines()) <= 40
    assert max(map(len, text.splitlines())) <= 80
    if units == "us":
        assert not [word for word in METRIC_WORDS if word in f"{text} "]


def test_what_a_cool_down_cant_tell_says_why(demo):
    """The packaged cool-down: reasons for stored heat and power, and the test that would tell."""
    text = " ".join(shown(calibration_told(calibrate(read_log("cool-down"), demo))).split())
    assert text.count("can't be told") >= 4
    assert "Element power: the elements were off" in text
    assert "Heat-up: a measured volume" in text


def test_a_log_that_tells_nothing_says_why(demo):
    """No stretches, but the reason and both tests."""
    log = parse_log("time,temperature_c\n" + "\n".join(f"{k},66" for k in range(30)))
    found = calibrate(log, demo)
    text = shown(calibration_told(found))
    assert "nothing cools by itself" in text
    assert "Cool-down:" in text
    assert residual_plot(fit_table(found)).plain == ""


def test_an_odd_loss_gets_one_verdict(demo):
    """Half or twice the estimate is odd, whatever its interval: no "good enough" beside it."""
    found = calibrate(read_log("cool-down"), demo)
    small = demo.model_copy(update={"vessel": demo.vessel.model_copy(update={"heat_loss_w_per_k": 1.5})})
    assert "known well enough" in shown(calibration_told(found))
    odd = " ".join(shown(calibration_told(calibrate(read_log("cool-down"), small))).split())
    assert "which is odd" in odd
    assert "was the lid on" in odd
    assert "enough to plan" not in odd


@pytest.mark.parametrize(("factor", "said"), [(2.5, "loses 2.50 times"), (np.inf, "loses many times")])
def test_a_ratio_that_says_nothing_is_told_as_many(factor, said):
    """Beside hardly any loss another one is so and so many times as large: not a number worth telling."""
    remark = remarks.Remark("lid open inside", from_min=10.0, to_min=20.0, factor=factor)
    assert f"From minute 10 to 20 the vessel {said} as much as in the rest" in str(remarks.remark_said(remark))


def test_a_small_vessel_keeps_its_digits(demo):
    """0.21 W/K is not told as "0.2 W/K, 0.2 to 0.2"."""
    found = calibrate(read_log("cool-down"), demo)
    loss = replace(found.heat_loss_w_per_k, value=0.213, low=0.202, high=0.224)
    assert str(calibration_told(replace(found, heat_loss_w_per_k=loss)).headline) == (
        "Measured: 0.21 W/K with the lid on (0.20 to 0.22 W/K)."
    )


def test_the_residual_plot_stands_where_the_residuals_are(demo):
    """Residuals that rise go from the lower left to the upper right, one mark per stretch."""
    minutes, left = np.linspace(0.0, 60.0, 65), np.linspace(-1.0, 1.0, 65)
    rows = tuple((float(m), 60 + float(k), 60.0, int(m > 30)) for m, k in zip(minutes, left, strict=True))
    lines = residual_plot(replace(fit_table(calibrate(read_log("cool-down"), demo)), rows=rows)).plain.splitlines()
    assert lines[0].startswith("    +1 K")
    assert lines[0].rstrip().endswith("×")
    assert lines[8].startswith("    -1 K •")
    assert lines[4].startswith("       0")
    assert lines[9].split() == ["0", "min", "60", "min"]


def test_the_document_keeps_its_keys(demo):
    """Keys of the contract, finite numbers, null with a reason where the log can't tell."""
    found = json.loads(json.dumps(document(calibration_told(calibrate(read_log("cool-down"), demo))), allow_nan=False))
    loss = found["heat_loss_w_per_k"]
    assert loss["low"] < loss["value"] < loss["high"]
    assert found["element_power_w"]["value"] is None
    assert "elements were off" in found["element_power_w"]["why"]
    assert found["rmse_k"] > 0
    assert found["stretches"][0]["kind"] == "cooling"
    assert {"notes", "next_tests", "scale", "reference_c"} <= set(found)


def test_without_a_log_the_headline_is_the_estimate(demo):
    """Entered, estimated with its range, or only that it would be."""
    said = str(estimate_headline(demo))
    assert said.startswith(f"Estimated: {heat_loss_w_per_k(demo):.1f} W/K with the lid on (")
    entered = demo.model_copy(update={"vessel": demo.vessel.model_copy(update={"heat_loss_w_per_k": 4.8})})
    assert str(estimate_headline(entered)) == "The plan has a measured heat loss of 4.8 W/K."
    assert "give or take 25 %" in str(estimate_headline(None))
    both = {"heat_loss_w_per_k": 4.8, "heat_loss_within_w_per_k": 0.3}
    known = demo.model_copy(update={"vessel": demo.vessel.model_copy(update=both)})
    assert str(estimate_headline(known)) == "The plan has a measured heat loss of 4.8 W/K (4.5 to 5.1 W/K)."


# A day beside its plan --------------------------------------------------------------------------------------


@pytest.mark.parametrize("units", ["metric", "us"])
def test_a_day_beside_its_plan_is_one_screen(units, day):
    """What it took, why, every phase: 40 lines of 80 columns; in US units no metric word."""
    text = shown(log_told(day), Style(units))
    for word in ("The day took", "the meter's error", "Heat loss", "Strike", "Boil", "One input changed alone"):
        assert word in text
    assert len(text.splitlines()) <= 40
    assert max(map(len, text.splitlines())) <= 80
    if units == "us":
        assert not [word for word in METRIC_WORDS if word in text]


def test_the_causes_add_up_to_the_difference(day):
    """Length, cause and rest are the difference, as shown."""
    (said,) = (one for one in log_told(day).sentences if "with neither" in one.template)
    parts = [said[name].raw for name in ("longer", "cause", "rest")]
    assert sum(parts) == pytest.approx(said["more"].raw)
    assert said["more"].raw == pytest.approx(day.measured_kwh - day.planned_kwh, abs=0.005)


def test_without_a_meter_no_energy_is_claimed(demo):
    """Without a meter the headline and a note say so."""
    log = read_log("brew-day")
    bare = parse_log(
        "time,temperature_c\n" + "\n".join(f"{t / 60},{c}" for t, c in zip(log.times_s, log.temperature_c, strict=True))
    )
    told = log_told(compare_with_log(demo, bare))
    assert "the log has no meter" in str(told.headline)
    assert frame(told.table("phases"))["measured_kwh"].isna().all()
    assert document(told)["totals"]["measured_kwh"] is None


LOSS = Explanation(key="loss", planned=1.0, value=1.6, share=0.8, at_limit=False, more_kwh=0.4)
AIR = Explanation(key="air", planned=11.0, value=2.0, share=0.75, at_limit=True, more_kwh=0.3)


def test_rivals_are_named_with_the_test_that_tells_them_apart(day):
    """Two inputs that do as well are both named, with the test for them."""

    def verdict(*causes):
        return document(log_told(replace(day, likely=Likely(agrees=False, causes=causes))))["verdict"]

    assert verdict(LOSS) == "A heat loss of 1.60 times the planned one explains 80 % of the difference."
    both = verdict(LOSS, AIR)
    assert "Air of 2 °C instead of 11 °C or beyond" in both
    assert "can't tell them apart" in both
    assert "cool-down" in both
    assert "second log" in verdict(replace(AIR, key="start"), replace(AIR, key="start"))
    assert "heat-up of a measured volume" in verdict(replace(AIR, key="power", value=2300.0, planned=2700.0), LOSS)
    assert "No single input" in verdict()
    agrees = replace(day, likely=Likely(agrees=True))
    assert "nothing to explain" in document(log_told(agrees))["verdict"]


def test_explanations_are_in_the_units_of_the_display(day):
    """Air and water are told in degrees Fahrenheit and gallons; machines get numbers."""
    table = log_told(day).table("explanations")
    told = shown_frame(table, US).set_index("One input changed alone")
    assert told.loc["Air", "Planned"].endswith("°F")
    assert told.loc["Volume of water", "Planned"].endswith("gal")
    assert told.loc["Element power", "Planned"].endswith("W")
    assert frame(table)["value"].dtype.kind == "f"


def test_a_step_name_is_the_persons_own(day):
    """The name of a step stands in a note as a text that a person wrote."""
    said = remarks.remark_said(remarks.Remark("log ends", step="Rest [beta]\x1b[31m"))
    assert "“Rest [beta]\\u001b[31m”" in words(said)
    assert day.phases
