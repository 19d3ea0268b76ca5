"""Tests of two days beside each other: tables of phases, totals, logs, and their chart."""

from typing import Any

import altair as alt
import numpy as np
import pytest

from energyplan.advice.answer import Answer, answer
from energyplan.app.editing import with_entry
from energyplan.base.units import Display
from energyplan.faces.charts.besidechart import beside_chart
from energyplan.faces.charts.charttheme import DARK, LIGHT, ChartLook
from energyplan.plan.file import read_plan
from energyplan.report.besidetables import (
    beside_points,
    paired_phase_table,
    paired_total_table,
    peak_of_phase_a,
)
from energyplan.tariffs.clock import local_to_utc
from energyplan.tariffs.tarifffile import load_tariff

METRIC, US = Display("metric"), Display("us")


def answered(plan: Any, *, priced: bool = True) -> Answer:
    """A plan on a Saturday morning."""
    start = local_to_utc("2026-12-05T08:30", "Europe/Dublin")
    return answer(plan, load_tariff("demo") if priced else None, start)


@pytest.fixture(scope="module")
def pair() -> tuple[Answer, Answer]:
    """The demo, and the same with another water."""
    demo = read_plan("demo")
    return answered(demo), answered(with_entry(demo, ("batch", "water"), "27.2 L"))


def test_phases_of_the_same_steps_share_a_row(pair: tuple[Answer, Answer]) -> None:
    """Nothing is empty, and the sums are those of the days."""
    table = paired_phase_table(*pair)
    assert not table.isna().any().any()
    for side, one in zip(("first", "second"), pair, strict=True):
        assert one.price is not None
        assert table[f"{side}_cost"].sum() == pytest.approx(float(one.price.vessel.total))
        assert table[f"{side}_min"].sum() == pytest.approx(one.day.duration_s / 60)


def test_a_step_of_one_plan_alone_stands_behind_the_one_it_follows(pair: tuple[Answer, Answer]) -> None:
    """A rest after the mash-out comes between mash-out and sparge."""
    demo = read_plan("demo")
    names = [step.name for step in demo.steps]
    place = names.index("Mash-out") + 1
    rest = demo.steps[place - 1].model_copy(update={"name": "Rest", "before": (), "target_c": 76.0})
    more = demo.model_copy(update={"steps": (*demo.steps[:place], rest, *demo.steps[place:])})
    steps = list(dict.fromkeys(paired_phase_table(pair[0], answered(more))["step"]))
    assert steps == [*names[:place], "Rest", *names[place:]]


def test_totals_are_told_with_their_difference(pair: tuple[Answer, Answer]) -> None:
    """First, second, and more or less, to the same digits."""
    rows = paired_total_table(*pair, METRIC).set_index("number")
    assert float(rows.loc["Energy, kWh", "first"]) == pytest.approx(pair[0].day.energy_kwh, abs=0.005)
    more = pair[1].day.energy_kwh - pair[0].day.energy_kwh
    assert float(rows.loc["Energy, kWh", "difference"]) == pytest.approx(more, abs=0.005)
    assert rows.index[0] == "Cost, EUR"


def test_without_prices_and_circuit_their_rows_are_missing() -> None:
    """What is not known is not told."""
    bare = read_plan("demo").model_copy(update={"circuit": None})
    one = answered(bare, priced=False)
    rows = paired_total_table(one, one, US)
    assert not any(name.startswith(("Cost", "Largest")) for name in rows["number"])
    assert "gal" in rows["first"].iloc[-1]
    assert list(paired_phase_table(one, one).columns) == [
        "step", "phase", "first_kwh", "second_kwh", "first_min", "second_min"
    ]  # fmt: skip
    assert peak_of_phase_a(one, one.day.phases[0]) is None


def test_the_current_of_a_phase_is_the_largest_in_it(pair: tuple[Answer, Answer]) -> None:
    """A pause draws what is not the elements."""
    circuit = pair[0].circuit
    assert circuit is not None
    peaks = [peak_of_phase_a(pair[0], phase) or 0.0 for phase in pair[0].day.phases]
    assert max(peaks) == pytest.approx(circuit.peak_a)
    pauses = [peak for peak, phase in zip(peaks, pair[0].day.phases, strict=True) if phase.phase == "pause"]
    assert max(pauses) < max(peaks)


@pytest.mark.parametrize("look", [LIGHT, DARK], ids=["light", "dark"])
def test_the_chart_is_sound_and_tells_its_lines_apart_by_dashes(pair: tuple[Answer, Answer], look: ChartLook) -> None:
    """Two lines, bounded in points, told apart without colour too."""
    points = [
        point
        for name, one in zip(("a", "b"), pair, strict=True)
        for point in beside_points(name, one.day.trajectory.times_s, one.day.trajectory.temperatures_c, METRIC)
    ]
    document = beside_chart(points, look, description="Two days.")
    alt.LayerChart.from_dict(document)
    assert "strokeDash" in document["layer"][0]["encoding"]
    assert len(document["datasets"]["lines"]) <= 620


def test_points_are_in_the_units_of_the_display() -> None:
    """100 degC are 212 degF (definition)."""
    points = beside_points("a", np.array([0.0, 60.0]), np.array([0.0, 100.0]), US)
    assert [point["temperature_f"] for point in points] == pytest.approx([32.0, 212.0])
    assert points[1]["time_min"] == 1.0
