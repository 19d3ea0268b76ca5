"""Tests of the told currents: they add up, they are bounded, what is over is over."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from energyplan.advice.answer import Answer, answer
from energyplan.faces.frames import frame
from energyplan.plan.file import read_plan
from energyplan.plan.model import Circuit, Extension, OtherLoad, Plan, Step
from energyplan.tariffs.clock import local_to_utc
from energyplan.tariffs.tarifffile import load_tariff, parse_tariff
from energyplan.telling.circuit import nearest_rating
from energyplan.telling.currents import MOST_SPANS, currents_told, lines_told

ZONED = """
[tariff]
name = "Flat"
currency = "EUR"
price_unit = "ct/kWh"
time_zone = "{zone}"
prices_include_tax = true

[[tariff.band]]
name = "all day"
price = 30
otherwise = true
"""


def answered(start: str, plan: Plan | None = None, zone: str | None = None) -> Answer:
    """The demo day, or another, from a local start under the two rates, or under one rate in a zone."""
    tariff = load_tariff("demo") if zone is None else parse_tariff(ZONED.format(zone=zone))
    return answer(plan or read_plan("demo"), tariff, local_to_utc(start, tariff.time_zone))


def currents(found: Answer, table: str) -> pd.DataFrame:
    """A table of the told currents."""
    assert found.circuit is not None
    return frame(currents_told(found, found.circuit).table(table))


def long_plan(steps: int) -> Plan:
    """A day of very many short steps, up and down."""
    held = tuple(
        Step(name=f"Step {number}", target_c=20.0 + number / 4, hold_s=120.0, pause_s=60.0) for number in range(steps)
    )
    plan = read_plan("demo")
    return plan.model_copy(update={"steps": held, "second_heater": None})


@pytest.fixture(scope="module")
def day() -> Answer:
    """The demo day, from night into day rate."""
    return answered("2026-12-05T05:30")


def test_very_long_days_give_bounded_tables_that_keep_their_extremes() -> None:
    """Three hundred steps are drawn with a bounded number of points, and the highest temperature is among them."""
    found = answered("2026-12-05T05:30", plan=long_plan(300))
    assert found.circuit is not None
    spans = currents(found, "currents")
    assert len(spans) <= 240
    assert spans["to_a"].max() == pytest.approx(found.circuit.on_a.max())


def test_stacked_currents_reach_the_sum_of_all(day: Answer) -> None:
    """At the middle of every step the top of the stack is the whole current, to what a reader can't tell apart."""
    check = day.circuit
    assert check is not None
    spans = currents(day, "currents")
    for left_s, right_s, total_a in zip(check.edges_s[:-1], check.edges_s[1:], check.on_a, strict=True):
        middle_s = (left_s + right_s) / 2
        there = spans[(spans["start_s"] <= middle_s) & (middle_s < spans["end_s"])]
        assert (there["to_a"].max() if len(there) else 0.0) == pytest.approx(total_a, abs=0.1)


def small_breaker() -> Answer:
    """The demo day on a breaker of 10 A."""
    plan = read_plan("demo")
    assert plan.circuit is not None
    small = plan.circuit.model_copy(update={"breaker_a": 10.0})
    return answered("2026-12-05T08:30", plan=plan.model_copy(update={"circuit": small}))


def test_what_is_over_is_where_the_current_passes_the_breaker() -> None:
    """The stretches over are those whose sum of currents is above 10 A."""
    found = small_breaker()
    check = found.circuit
    assert check is not None
    found_over = currents(found, "excess")
    over_s = float((np.diff(check.edges_s) * (check.on_a > 10.0)).sum())
    assert (found_over["end_s"] - found_over["start_s"]).sum() == pytest.approx(over_s)
    assert set(found_over["limit_a"]) == {10.0}


def test_equal_ratings_share_a_row(day: Answer) -> None:
    """Ratings come lowest first, and no limit twice."""
    assert day.circuit is not None
    found = currents(day, "ratings")
    assert found["limit_a"].is_monotonic_increasing
    assert found["limit_a"].is_unique


def _nano() -> Answer:
    """A day with an element on L1 and another on L2, and nobody who said where the fridge hangs."""
    plan = read_plan("demo")
    one, other = plan.vessel.elements
    vessel = plan.vessel.model_copy(
        update={"elements": (one.model_copy(update={"line": "L1"}), other.model_copy(update={"line": "L2"}))}
    )
    circuit = Circuit(voltage_between_lines_v=400.0, line="all", breaker_a=16.0)
    return answered("2026-12-05T08:30", plan.model_copy(update={"vessel": vessel, "circuit": circuit}))


def test_a_curve_for_each_line_with_the_check_s_peaks() -> None:
    """All that carries something, all day long, each line as high as the check says, the neutral no higher."""
    found = _nano()
    assert found.circuit is not None
    rows = frame(lines_told(found, found.circuit).table("lines"))
    peaks = {one.line: one.peak_a for one in found.circuit.lines}
    drawn = rows.groupby("line")["current_a"].max().to_dict()
    assert drawn.keys() == peaks.keys()
    assert drawn["N"] <= peaks["N"] + 0.06
    assert [drawn[line] for line in ("L1", "L2")] == pytest.approx([peaks[line] for line in ("L1", "L2")], abs=0.06)
    assert {"L1", "L2", "N"} <= set(peaks)
    for _, line in rows.groupby("line"):
        assert line["time_s"].is_monotonic_increasing
        assert (line["time_s"].iloc[0], line["time_s"].iloc[-1]) == (
            found.circuit.edges_s[0],
            found.circuit.edges_s[-1],
        )


def test_one_loop_is_one_curve(day: Answer) -> None:
    """A line and its neutral carry the same: one curve, which falls where the line falls."""
    assert day.circuit is not None
    rows = frame(lines_told(day, day.circuit).table("lines"))
    assert set(rows["line"]) == {"L1"}
    assert rows["current_a"].max() == pytest.approx(day.circuit.peak_a, abs=0.06)
    (_, carried_a), *_ = day.circuit.line_a
    middles_s = (day.circuit.edges_s[:-1] + day.circuit.edges_s[1:]) / 2
    starts_s, drawn_a = rows["time_s"].to_numpy()[::2], rows["current_a"].to_numpy()[::2]
    there_a = drawn_a[np.searchsorted(starts_s, middles_s, side="right") - 1]
    assert carried_a.min() < carried_a.max() / 2
    assert there_a == pytest.approx(carried_a, abs=0.06)
    assert "the ratings entered" in str(lines_told(day, day.circuit).headline)


def test_the_headline_names_the_rating_that_is_nearest() -> None:
    """A thin lead behind a large breaker; a load beside the vessel that fills the breaker before the lead."""
    plan = read_plan("demo")
    assert plan.circuit is not None
    for breaker_a, lead_a, other_w, nearest in ((63.0, 10.0, 0.0, "10 A"), (20.0, 19.5, 3000.0, "20 A")):
        lead = Extension(cable_mm2=4.0, length_m=1.0, rating_a=lead_a)
        circuit = plan.circuit.model_copy(update={"breaker_a": breaker_a, "outlet_a": 63.0, "extension": lead,
                                                  "cable_mm2": None, "plug_fuse_a": None})  # fmt: skip
        other = (OtherLoad(name="Oven", power_w=other_w),) if other_w else ()
        found = answered("2026-12-05T08:30", plan.model_copy(update={"circuit": circuit, "other_loads": other}))
        assert found.circuit is not None
        assert str(nearest_rating(found.circuit)).endswith(f"of {nearest}")


def test_the_line_curve_of_a_very_long_day_is_bounded() -> None:
    """Three hundred steps keep their largest current in a bounded number of corners."""
    found = answered("2026-12-05T05:30", plan=long_plan(300))
    assert found.circuit is not None
    rows = frame(lines_told(found, found.circuit).table("lines"))
    assert len(rows) <= 4 * MOST_SPANS
    assert rows["current_a"].max() == pytest.approx(found.circuit.peak_a, abs=0.06)


def test_what_is_on_the_limit_is_not_over_it():
    """A current that is as large as the lowest rating is within it; one a little larger is over."""
    found = answered("2026-12-05T08:30")
    assert found.circuit is not None
    limit_a = min(rating.limit_a for rating in found.circuit.ratings if rating.whole_circuit)
    at, beyond = (
        replace(found.circuit, on_a=np.full_like(found.circuit.on_a, amperes)) for amperes in (limit_a, limit_a + 0.01)
    )
    assert not currents_told(found, at).table("excess").rows
    assert len(currents_told(found, beyond).table("excess").rows) == 1
