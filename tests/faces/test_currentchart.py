"""Tests of the circuit's chart: labels apart, long lists of appliances gathered."""

from dataclasses import replace
from datetime import UTC, datetime
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from energyplan.advice.answer import Answer, answer
from energyplan.faces.charts import current_picture
from energyplan.faces.charttheme import LIGHT
from energyplan.faces.daychart import current_chart, label_heights_a
from energyplan.faces.sheet import WIDTH_PX
from energyplan.plan.file import read_plan
from energyplan.plan.model import OtherLoad
from energyplan.telling.currents import MOST_NAMED, currents_told, lines_told


@pytest.fixture(scope="module")
def crowded() -> Answer:
    """The demo with close ratings and eleven other loads."""
    plan = read_plan("demo")
    assert plan.circuit is not None
    circuit = plan.circuit.model_copy(update={"outlet_a": 15.0, "plug_fuse_a": 15.0, "cable_mm2": 1.5})
    loads = tuple(OtherLoad(name=f"Load {place}", power_w=20.0 * place) for place in range(1, 12))
    changed = plan.model_copy(update={"circuit": circuit, "other_loads": loads})
    return answer(changed, None, datetime(2026, 12, 5, 8, 30, tzinfo=UTC))


@given(st.lists(st.floats(0.1, 100), max_size=8).map(sorted), st.floats(0.1, 10))
def test_labels_stand_apart_and_not_below_their_line(limits_a: list[float], apart_a: float) -> None:
    """Whatever the limits: words at or above their own line, each a line of words above the one before."""
    heights_a = label_heights_a(limits_a, apart_a)
    assert all(height >= limit for height, limit in zip(heights_a, limits_a, strict=True))
    assert all(above - below >= apart_a - 1e-9 for below, above in pairwise(heights_a))


def test_the_highest_label_is_inside_the_chart(crowded: Answer) -> None:
    """The scale reaches above the words of the last rating."""
    drawn = _drawn(crowded)
    top_a = drawn["datasets"]["bounds"][0]["top_a"]
    assert max(row["label_a"] for row in drawn["datasets"]["ratings"]) < top_a


def test_a_long_list_of_loads_is_gathered(crowded: Answer) -> None:
    """The legend names the largest; the rest is one entry, and the stack is as high as with every load alone."""
    assert crowded.circuit is not None
    drawn = _drawn(crowded)
    names = list(dict.fromkeys(row["appliance"] for row in drawn["datasets"]["currents"]))
    assert len(names) == MOST_NAMED
    assert names[0] == "Vessel"
    assert names[-1] == "5 others"
    rows = drawn["datasets"]["currents"]
    assert max(row["to_a"] for row in rows) == pytest.approx(crowded.circuit.on_a.max(), abs=0.1)


def test_ratings_of_one_size_share_a_text(crowded: Answer) -> None:
    """Those that only the vessel goes through say so once."""
    assert crowded.circuit is not None
    texts = [str(row["text"]) for row in currents_told(crowded, crowded.circuit).table("ratings")]
    assert any(text.startswith("15 A ") and text.count("vessel alone") == 1 and " and " in text for text in texts)


def test_words_of_ratings_have_room_on_paper(crowded: Answer) -> None:
    """Nothing cuts them there: even all ratings in one line, with 7 px a letter, are narrower than the chart."""
    assert crowded.circuit is not None
    alike = tuple(replace(rating, limit_a=63.0) for rating in crowded.circuit.ratings)
    told = currents_told(crowded, replace(crowded.circuit, ratings=alike))
    drawn = current_picture(told, width_px=WIDTH_PX).document
    assert not any("limit" in one["mark"] for one in drawn["layer"])
    (words,) = [row["text"] for row in drawn["datasets"]["ratings"]]
    assert len(alike) == 4
    assert 7 * len(words) < WIDTH_PX


def _drawn(found: Answer) -> Any:
    assert found.circuit is not None
    return current_chart(currents_told(found, found.circuit), LIGHT, description="The circuit.")


def test_a_rating_far_above_squeezes_nothing(crowded: Answer) -> None:
    """A breaker of 63 A beside 15 A ratings has words at the top and no line, and the scale ends below it."""
    assert crowded.circuit is not None
    breaker = replace(crowded.circuit.ratings[0], limit_a=63.0)
    far = replace(crowded.circuit, ratings=(breaker, *crowded.circuit.ratings[1:]))
    drawn = current_chart(currents_told(crowded, far), LIGHT, description="The circuit.")
    top_a = drawn["datasets"]["bounds"][0]["top_a"]
    texts = {row["limit_a"]: row["text"] for row in drawn["datasets"]["ratings"]}
    assert top_a < 63.0
    assert texts[63.0].endswith("far above ↑")
    assert 63.0 not in {row["limit_a"] for row in drawn["datasets"]["near"]}
    assert all(row["label_a"] < top_a for row in drawn["datasets"]["ratings"])


def test_lines_are_told_apart_by_more_than_colour(crowded: Answer) -> None:
    """A curve for each line: its own colour and its own dashes, against the same ratings."""
    assert crowded.circuit is not None
    amps = crowded.circuit.line_a[0][1]
    check = replace(crowded.circuit, line_a=(("L1", amps), ("L2", amps / 2), ("N", amps / 3)))
    drawn = current_chart(lines_told(crowded, check), LIGHT, description="The circuit.")
    curve = drawn["layer"][0]["encoding"]
    for channel in ("color", "strokeDash"):
        assert curve[channel]["scale"]["domain"] == ["L1", "L2", "N"]
        assert len({str(one) for one in curve[channel]["scale"]["range"]}) == 3
    assert drawn["datasets"]["near"]
