"""Tests of days beside each other: two plans, and a plan and what was measured of it."""

from collections.abc import Callable
from typing import Any

import pytest

from energyplan.app.vessel import looks_like_a_day
from energyplan.day.brewday import simulate
from energyplan.learning.logfile import demo_logs, parse_log
from energyplan.plan.file import demo_plans, read_plan

Open = Callable[..., Any]


def hand_in(there: Any, key: str, name: str, content: str | bytes) -> Any:
    """Give a file to an uploader."""
    data = content.encode() if isinstance(content, str) else content
    there.at.file_uploader(key=key).set_value((name, data, "text/plain"))
    return there.run()


def test_the_same_plan_twice_says_so(visit: Open) -> None:
    """Nothing is compared with itself."""
    there = visit("side-by-side")
    assert there.headline.startswith("Against Pale ale")
    there.at.selectbox(key="beside").set_value("as it was opened")
    assert there.run().headline == "Both plans are the same."


def test_a_changed_plan_stands_beside_the_one_opened(visit: Open) -> None:
    """Totals differ by what the causes add up to; each phase has both numbers, and the parts make the whole."""
    there = visit("side-by-side", **{"batch.water": "30 L"})
    assert there.headline.startswith("Against the plan as opened: ")
    assert "dearer" in there.headline
    totals, phases, causes = (frame.value for frame in there.at.dataframe[:3])
    more, kwh, *_ = totals.set_index("number").loc["Energy", "difference"].split()
    assert causes["in_order_kwh"].astype(float).iloc[:-1].sum() == pytest.approx(float(more), abs=0.011)
    assert kwh == "kWh"
    day = simulate(there.work.plan)
    vessel_kwh = sum(phase.energy_j for phase in day.phases) / 3.6e6
    assert phases["second_kwh"].astype(float).sum() == pytest.approx(vessel_kwh, abs=0.06)
    assert phases["second_min"].replace("<1", "0").astype(float).sum() == pytest.approx(day.duration_s / 60, abs=8)


def test_the_largest_current_of_a_phase_is_that_of_the_circuit(visit: Open) -> None:
    """The largest of all phases is the peak of the day."""
    there = visit("side-by-side", **{"batch.water": "30 L"})
    totals, phases = (frame.value for frame in there.at.dataframe[:2])
    peak = totals.set_index("number").loc["Largest current", "second"]
    assert f"{phases['second_a'].astype(float).max():.1f} A" == peak


def test_phases_that_only_one_plan_has_stand_alone(visit: Open) -> None:
    """Another list of steps: its own phases are empty on the other side, and none is lost."""
    there = visit("side-by-side")
    there.at.selectbox(key="beside").set_value("lakeside")
    there.run()
    phases = there.at.dataframe[1].value
    for side, name in (("first", "lakeside"), ("second", "demo")):
        count = len(simulate(read_plan(name)).phases)
        assert phases[f"{side}_kwh"].notna().sum() == count


def test_a_plan_file_is_put_beside(visit: Open) -> None:
    """Before it is handed in the page asks for it; it can be put on the desk, and taken back."""
    there = visit("side-by-side")
    there.at.selectbox(key="beside").set_value("a plan file of your own")
    assert there.run().headline.startswith("Hand in")
    hand_in(there, "beside_file", "mine.toml", demo_plans()["lakeside"])
    assert there.headline.startswith("Against Pale ale")
    assert there.click("take_other").work.plan == read_plan("lakeside")
    assert there.click("undo").work.plan == read_plan("demo")


@pytest.mark.parametrize("content", ["", "title = ", "[vessel]\n", b"\xff\xfe"])
def test_a_wrong_plan_file_is_named(visit: Open, content: Any) -> None:
    """Empty, broken, half, no text: said in place, the desk stays."""
    there = visit("side-by-side")
    there.at.selectbox(key="beside").set_value("a plan file of your own")
    hand_in(there.run(), "beside_file", "mine.toml", content)
    assert there.headline == "The other plan can't be put beside this one."
    assert there.work.plan == read_plan("demo")


def test_without_a_tariff_no_cost_is_compared(visit: Open) -> None:
    """Energy, minutes and amps are left."""
    there = visit("side-by-side", tariff="none", **{"batch.water": "30 L"})
    assert "EUR" not in there.headline
    assert not any("cost" in name for name in there.at.dataframe[1].value.columns)


def test_us_units_leave_no_litre(visit: Open) -> None:
    """The kWh are the same, the wort is in gallons."""
    there = visit("side-by-side", units="us", **{"batch.water": "30 L"})
    assert "gal of wort" in there.headline
    assert "gal" in there.at.dataframe[0].value.iloc[-1]["first"]


def test_text_of_another_plan_is_never_markup(visit: Open) -> None:
    """Its title is written, not read."""
    there = visit("side-by-side")
    there.at.selectbox(key="beside").set_value("a plan file of your own")
    title = "![x](http://a.invalid) :red[b]"
    text = demo_plans()["lakeside"].replace('title = "', f'title = "{title} ', 1)
    hand_in(there.run(), "beside_file", "mine.toml", text)
    assert title in there.headline
    assert not any("![x](" in mark.value for mark in [*there.at.markdown, *there.at.title])


def test_a_log_of_the_day_stands_beside_the_plan(visit: Open) -> None:
    """The invented brew day: kWh of log and plan, phase by phase, with the likely cause and what to do next time."""
    there = visit("your-vessel")
    there.at.selectbox(key="log_choice").set_value("brew-day")
    there.run()
    assert "The day took" in there.words
    frame = next(one.value for one in there.at.dataframe if "measured_kwh" in one.value.columns)
    log = parse_log(demo_logs()["brew-day"])
    assert log.energy_kwh is not None
    # The phases end before the log does; the meter runs on at standby.
    assert frame["measured_kwh"].sum() == pytest.approx(float(log.energy_kwh[-1]), abs=0.1)
    more = frame["measured_kwh"] - frame["planned_kwh"]  # as shown: each rounded by itself
    assert frame["more_kwh"].to_numpy() == pytest.approx(more.to_numpy(), abs=0.011)


@pytest.mark.parametrize(("name", "is_day"), [("brew-day", True), ("cool-down", False), ("heat-up", False)])
def test_a_test_of_the_vessel_is_no_day(name: str, is_day: bool) -> None:  # noqa: FBT001
    """A log that begins hot, or ends soon, is not put beside the plan by itself."""
    assert looks_like_a_day(parse_log(demo_logs()[name]), simulate(read_plan("demo"))) is is_day


def test_a_log_of_another_day_says_why_it_does_not_fit(visit: Open) -> None:
    """Four hours of lukewarm water are no brew day; asked for, the page says so."""
    rows = "\n".join(f"{minute},{20 + minute / 50:.1f}" for minute in range(0, 240, 2))
    there = hand_in(visit("your-vessel"), "log_file", "luke.csv", f"time,temperature_c\n{rows}\n")
    toggles = [toggle for toggle in there.at.toggle if str(toggle.key).startswith("is_day")]
    if toggles:
        toggles[0].set_value(True)
        there.run()
        assert "can't be put beside the plan" in there.words
    else:
        assert there.headline == "This log can't be used as it is."
