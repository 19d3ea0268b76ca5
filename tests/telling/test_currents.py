"""Tests of the told currents: they add up, they are bounded, what is over is over."""

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest

from energyplan.advice.answer import Answer, answer
from energyplan.base.errors import PlanError
from energyplan.base.sentence import words
from energyplan.circuits.findings import Finding
from energyplan.circuits.stagger import Offset
from energyplan.circuits.study import Rating
from energyplan.faces.frames import document, frame
from energyplan.plan.file import read_plan
from energyplan.plan.model import Circuit, Extension, OtherLoad, Plan, Step
from energyplan.tariffs.clock import local_to_utc
from energyplan.tariffs.tarifffile import load_tariff, parse_tariff
from energyplan.telling.circuit import nearest_rating
from energyplan.telling.currents import MOST_SPANS, currents_told, lines_told, tell_offset
from tests.telling.shown import Begun, Given, headings, seen_rows, titles

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


BREAKER = Rating(code="breaker", name="breaker", limit_a=16.0, whole_circuit=True)
CABLE = Rating(code="cable", name="cable", limit_a=27.0, whole_circuit=True)
OUTLET = Rating(code="outlet", name="outlet and plug", limit_a=16.0, whole_circuit=False)
FUSE = Rating(code="plug_fuse", name="fuse in the plug", limit_a=13.0, whole_circuit=False)
ANSWER: Any = Begun(
    circuit=None, findings=(), day=Given(plan=Given(circuit=None), duration_s=7200.0, profiles=(Given(edges_s=[0.0]),))
)


def steps(*lines: tuple[str, list[float]], edges_s: list[float] | None = None, **more: Any) -> Any:
    """A check whose conductors carry these currents in steps of ten minutes."""
    amps = [(name, np.array(given)) for name, given in lines]
    given = {
        "edges_s": np.arange(amps[0][1].shape[0] + 1) * 600.0 if edges_s is None else np.array(edges_s),
        "line_a": tuple(amps), "on_a": amps[0][1], "ratings": (), "line": "L1", "peak_a": 10.0,
        "lines": tuple(Given(line=name) for name, _ in lines),
        "appliances": tuple(Given(name=name, on_a=one) for name, one in amps),
    }  # fmt: skip
    return Given(**{**given, **more})


def test_steps_of_a_line_that_look_alike_are_one() -> None:
    """0.048 A can't be told from nothing, 0.052 A can; a stretch is as high as its highest step."""
    told = lines_told(ANSWER, steps(("L1", [10.0, 10.048, 10.1, 5.0])))
    assert seen_rows(told.table("lines"), detail=2) == [
        ["L1", "0.00", "08:30", "10.0"], ["L1", "1200.00", "08:50", "10.0"],
        ["L1", "1200.00", "08:50", "10.1"], ["L1", "1800.00", "09:00", "10.1"],
        ["L1", "1800.00", "09:00", "5.0"], ["L1", "2400.00", "09:10", "5.0"],
    ]  # fmt: skip
    assert told.table("lines").rows[0][3] == 10.048
    assert headings(told.table("lines"), 0) == ["Line", "From", "Carries, A"]
    assert document(told)["first_s"] == 0.0
    assert titles(told) == ["The current", "Lines", "Ratings", "Over", "Hours"]
    assert titles(currents_told(ANSWER, steps(("L1", [1.0]))))[1] == "Currents"
    assert document(told)["last_s"] == 2400.0
    assert str(told.headline) == (
        "Current of each line over the day. The circuit is not checked: the plan has no [circuit]."
    )


@pytest.mark.parametrize(
    ("names", "drawn", "line"),
    [(("L1", "N"), ("L1",), " with elements on"), (("L1", "L2", "N"), ("L1", "L2", "N"), " in L1")],
)  # fmt: skip
def test_a_neutral_is_drawn_where_it_is_not_the_line(names: tuple[str, ...], drawn: tuple[str, ...], line: str) -> None:
    """One loop is one curve; of several lines each has its own, and the stack says which it is of."""
    found = steps(*((name, [10.0, 5.0]) for name in names))
    assert tuple(dict.fromkeys(row[0] for row in lines_told(ANSWER, found).table("lines").rows)) == drawn
    assert document(currents_told(ANSWER, found))["line"] == line
    assert document(lines_told(ANSWER, found))["line"] == " with elements on"


@pytest.mark.parametrize(("count", "cells"), [(240, 240), (241, 240), (1000, 240)])
def test_of_too_many_steps_each_cell_keeps_its_largest(count: int, cells: int) -> None:
    """240 cells for one curve: at no time is less drawn than flows, and never more than flows within a cell of it."""
    amps = [10.0 * (place % 2) + (place % 7) for place in range(count)]
    rows = lines_told(ANSWER, steps(("L1", amps))).table("lines").rows
    assert len(rows) == 2 * cells if count <= cells else len(rows) <= 2 * cells
    starts_s, levels_a = np.array([row[1] for row in rows[::2]]), np.array([row[3] for row in rows[::2]])
    cell_s = 600.0 * count / cells
    assert starts_s.max() < 600.0 * count - cell_s / 2
    for place, flows_a in enumerate(amps):
        for at_s in (600.0 * place + 1e-6, 600.0 * place + 599.0):
            drawn_a = levels_a[np.searchsorted(starts_s, at_s, side="right") - 1]
            assert flows_a <= drawn_a + 0.05
            near = [a for other, a in enumerate(amps) if abs(600 * other + 300 - at_s) <= 300 + cell_s]
            assert drawn_a <= max(near) + 0.05


def test_many_lines_share_the_marks() -> None:
    """Forty appliances, eight of them drawn, on a hundred steps: 240 marks are 30 cells each."""
    told = currents_told(ANSWER, steps(*((f"Load {n}", [1.0 + n, 2.0 + n] * 50) for n in range(40))))
    rows = told.table("currents").rows
    assert len({row[0].raw for row in rows if row[0].raw}) == 8
    assert {round(row[2] - row[1]) for row in rows} == {60000}, "cells of one level are one span"


def test_appliances_are_stacked_in_their_order() -> None:
    """Each on those below it; what can't be told from nothing leaves no mark, nor does a step that looks alike."""
    found = steps(("Vessel", [10.0, 10.02, 0.04, 10.0]), ("Pump", [0.0, 0.06, 0.06, 1.0]))
    table = currents_told(ANSWER, found).table("currents")
    assert headings(table, 0) == ["Appliance", "From", "Until", "Draws, A", "With those below it, A"]
    assert seen_rows(table, detail=2) == [
        ["Vessel", "0.00", "1200.00", "08:30", "08:50", "10.0", "0.0", "10.0"],
        ["Vessel", "1800.00", "2400.00", "09:00", "09:10", "10.0", "0.0", "10.0"],
        ["Pump", "600.00", "1200.00", "08:40", "08:50", "0.1", "10.0", "10.1"],
        ["Pump", "1200.00", "1800.00", "08:50", "09:00", "0.1", "0.0", "0.1"],
        ["Pump", "1800.00", "2400.00", "09:00", "09:10", "1.0", "10.0", "11.0"],
    ]
    assert table.rows[0][7] == 10.02
    two = steps(("Vessel", [10.0, 10.03]), ("Pump", [1.0, 1.0]))
    spans = [row[1:3] for row in currents_told(ANSWER, two).table("currents").rows]
    assert spans == [(0.0, 1200.0), (0.0, 600.0), (600.0, 1200.0)], "the pump moved at foot and top by 0.03 A each"


def test_the_smallest_of_many_appliances_are_one_row() -> None:
    """Of nine the two smallest stand together behind the others, which keep their order; of eight none do."""
    sizes = [3.0, 9.0, 1.0, 8.0, 7.0, 2.0, 6.0, 5.0, 4.0]
    rows = currents_told(ANSWER, steps(*((f"Load {a:.0f}", [a]) for a in sizes))).table("currents").rows
    assert [words(row[0]) for row in rows] == [
        "Load 3", "Load 9", "Load 8", "Load 7", "Load 6", "Load 5", "Load 4", "2 others",
    ]  # fmt: skip
    assert rows[-1][5] == 3.0
    eight = currents_told(ANSWER, steps(*((f"Load {a:.0f}", [a]) for a in sizes[:8]))).table("currents").rows
    assert [words(row[0]) for row in eight] == [f"Load {a:.0f}" for a in sizes[:8]]


def test_ratings_of_one_limit_share_a_row_with_what_only_the_vessel_goes_through_last() -> None:
    """Lowest first, each with its names."""
    table = currents_told(ANSWER, steps(("L1", [1.0]), ratings=(CABLE, OUTLET, BREAKER, FUSE))).table("ratings")
    assert seen_rows(table) == [
        ["13.0", "13 A fuse in the plug (vessel alone)"],
        ["16.0", "16 A breaker and outlet and plug (vessel alone)"],
        ["27.0", "27 A cable"],
    ]
    assert headings(table, 0) == ["Limit, A", "Rating"]


def test_neighbours_over_the_lowest_rating_are_one_stretch() -> None:
    """That of the whole circuit, not the plug's 13 A; a step within it parts two stretches."""
    found = steps(("L1", [15.0, 17.0, 19.0, 18.0, 16.0, 20.0]), ratings=(CABLE, BREAKER, FUSE))
    table = currents_told(ANSWER, found).table("excess")
    assert seen_rows(table, detail=2) == [
        ["600.00", "2400.00", "16.0", "19.0", "08:40", "09:10"],
        ["3000.00", "3600.00", "16.0", "20.0", "09:20", "09:30"],
    ]
    assert headings(table, 0) == ["Limit, A", "Draws, A", "From", "Until"]
    assert not currents_told(ANSWER, steps(("L1", [99.0]))).table("excess").rows


OFFSETS: list[tuple[str, str, str | None]] = [
    ("fits", "Both days stay within the breaker's 16 A.",
     "Start the second vessel 90 min after the first, at 10:00."),
    ("short gap",
     ("Both days stay within the breaker's 16 A; where only a short gap breaks a load of 3 hours, leave a quarter of "
     "an hour, or wires hardly cool."), "Start the second vessel 90 min after the first, at 10:00."),
    ("no delay", "No delay within a day keeps both below the breaker's 16 A.", None),
    ("first alone", "The first day alone passes the breaker's 16 A.", None),
    ("second alone", "The second day alone passes the breaker's 16 A.", None),
]  # fmt: skip


@pytest.mark.parametrize(("case", "reason", "headline"), OFFSETS)
def test_two_days_on_one_circuit(
    monkeypatch: pytest.MonkeyPatch, day: Answer, case: Any, reason: str, headline: str | None
) -> None:
    """When to start the second, or why no delay helps; what both may have on with none; whose circuit counts."""
    minutes = None if headline is None else 90
    offset = Offset(offset_s=None if minutes is None else 5400.0, offset_min=minutes, limited_by="breaker",
                    limit_a=16.0, case=case, each_w=1780.0)  # fmt: skip
    monkeypatch.setattr("energyplan.circuits.stagger.least_offset", lambda *_: offset)
    first = answered("2026-12-05T08:30")
    told = tell_offset(first, first)
    assert (None if told.headline is None else str(told.headline)) == headline
    both = ("With no delay each may have elements of 1780 W on at a time; only switched elements keep to that, pulsed "
            "ones draw their full current whatever the cap.")  # fmt: skip
    assert [str(said) for said in told.sentences] == [reason, both]
    assert titles(told) == ["Two days on one circuit"]
    facts = document(told)["offset"]
    assert facts == {
        "offset_s": offset.offset_s, "offset_min": minutes, "limited_by": "breaker", "limit_a": 16.0, "reason": reason,
    }  # fmt: skip
    plan = first.day.plan
    assert plan.circuit is not None
    other = plan.model_copy(update={"circuit": plan.circuit.model_copy(update={"breaker_a": 20.0})})
    said = [str(one) for one in tell_offset(first, answered("2026-12-05T08:30", plan=other)).sentences]
    assert said[1] == "The [circuit] of the second plan is set aside: both days are judged on that of the first."
    assert len(said) == 3


def _on(first: Answer, **changes: object) -> Answer:
    plan = first.day.plan
    assert plan.circuit is not None
    circuit = plan.circuit.model_copy(update=changes)
    return answered("2026-12-05T08:30", plan=plan.model_copy(update={"circuit": circuit}))


def test_days_of_other_voltages_can_not_share_a_circuit(day: Answer) -> None:
    """Two percent apart they may; more they may not, nor under other rules, nor where the first has no circuit."""
    assert tell_offset(day, _on(day, voltage_v=234.5)).facts["offset"]["limit_a"] == 16.0
    for changes, told in (({"voltage_v": 234.7}, ("the second plan is made for 235 V (iec), the first for 230 V (iec): "
                           "they can't share a circuit")),
                          ({"rules": "nec", "voltage_v": 230.0}, ("the second plan is made for 230 V (nec), the first "
                           "for 230 V (iec): they can't share a circuit"))):  # fmt: skip
        with pytest.raises(PlanError) as refused:
            tell_offset(day, _on(day, **changes))
        assert str(refused.value) == told
    bare = answered("2026-12-05T08:30", plan=day.day.plan.model_copy(update={"circuit": None}))
    with pytest.raises(PlanError, match=r"^the first plan has no \[circuit\] to share$"):
        tell_offset(bare, day)


def test_power_of_two_vessels_with_no_delay(day: Answer) -> None:
    """The demo: 16 A of 230 V are 3680 W, less 120 W beside them, 1780 W for each; on lines of their own none is told.

    A second plan that knows no lines hangs where the first one's outlet does.
    """
    plan = day.day.plan
    both = [str(said) for said in tell_offset(day, day).sentences]
    assert [said.partition(";")[0] for said in both[1:]] == [
        "With no delay each may have elements of 1780 W on at a time"
    ]
    three = _on(day, layout="three phase", line="L2", breaker_a=13.0)
    other = _on(day, layout="three phase", line="L3", breaker_a=13.0)
    bare = answered("2026-12-05T08:30", plan=plan.model_copy(update={"circuit": None}))
    delays = [tell_offset(three, second).facts["offset"]["offset_min"] for second in (three, other, bare)]
    assert delays[0] > 0
    assert delays == [delays[0], 0, delays[0]]
    said = [str(one) for one in tell_offset(three, other).sentences]
    assert not any("With no delay" in one or "set aside" in one for one in said)


@pytest.mark.parametrize(
    ("severity", "told"), [("ok", []), ("over", [("Nothing in sight of the vessel cuts all lines.")])]
)
def test_what_both_days_do_to_the_contract_is_told(
    monkeypatch: pytest.MonkeyPatch, day: Answer, severity: Any, told: list[str]
) -> None:
    """At that delay; what is in order is not."""
    found = Finding(code="isolation", severity=severity, case=severity, rule="")
    offset = Offset(offset_s=5400.0, offset_min=90, limited_by="breaker", limit_a=16.0, case="fits", each_w=None)
    monkeypatch.setattr("energyplan.circuits.stagger.least_offset", lambda *_: offset)
    asked = []

    def contract(plan: Plan, together: Any, *_: Any) -> Any:
        asked.append(max(float(profile.edges_s[-1]) for profile in together))
        return Given(finding=found)

    monkeypatch.setattr("energyplan.advice.household.contract_of", contract)
    assert [str(one.said) for one in tell_offset(day, day).findings] == told
    assert asked == [day.day.duration_s + 5400.0]
