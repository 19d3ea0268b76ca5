"""Tests of every page with sound input: the answer comes first, and the same numbers as from the library."""

import re
from collections.abc import Callable
from datetime import date, datetime, time
from types import ModuleType
from typing import Any

import pytest

from energyplan.advice.answer import answer
from energyplan.app import circuit, day, main, power
from energyplan.app.main import VIEWS
from energyplan.learning.result import BoilOff, dry_loss, measured_plan
from energyplan.plan.file import read_plan
from energyplan.tariffs.clock import local_to_utc
from energyplan.tariffs.tarifffile import load_tariff
from energyplan.telling.circuit import tell_findings
from energyplan.telling.day import day_sentence
from energyplan.telling.phases import steps_table
from energyplan.telling.power import power_headline

Open = Callable[..., Any]
PAGES = tuple(address for view in VIEWS for address in (view.address, *view.earlier))


@pytest.fixture(scope="module")
def known() -> Any:
    """The demo day, answered by the library."""
    tariff = load_tariff("demo")
    return answer(read_plan("demo"), tariff, local_to_utc("2026-12-05T08:30", tariff.time_zone))


@pytest.mark.parametrize("page", PAGES)
@pytest.mark.parametrize("units", ["metric", "us"])
def test_every_page_opens_with_a_sentence(visit: Open, page: str, units: str) -> None:
    """Each page answers before it asks, in both unit systems."""
    assert visit(page, units=units).headline.endswith(".")


def test_the_first_visit_answers_the_demo_day(visit: Open, known: Any) -> None:
    """Energy, cost, finish and circuit of the demo stand in the first sentences."""
    first = visit()
    assert first.headline == str(day_sentence(known))
    assert f"{known.circuit.peak_a:.1f} A of 16 A" in first.words
    assert "within the ratings you entered" in first.words
    assert str(power_headline(known.power)) in first.go("power").headline


def test_the_phase_table_is_that_of_the_library(visit: Open, known: Any) -> None:
    """The first table of the day has every phase, with kWh and cost."""
    shown, told = visit().at.dataframe[0].value, steps_table(known)
    assert shown["step"].tolist() == [*(str(row[0]) for row in told.rows), "The day"]
    *parts, whole = shown["cost"].tolist()
    assert whole == float(known.price.total.total.rounded())
    assert sum(part for part in parts) == pytest.approx(whole, abs=1e-9)


def test_us_units_change_the_table_and_not_the_day(visit: Open) -> None:
    """Fahrenheit is another way to write the same energy."""
    metric, us = visit(), visit(units="us")
    assert metric.headline == us.headline
    celsius, fahrenheit = metric.at.dataframe[0].value, us.at.dataframe[0].value
    assert fahrenheit["to_f"].iloc[0] == pytest.approx(celsius["to_c"].iloc[0] * 1.8 + 32)


def test_a_start_from_the_address_is_taken(visit: Open) -> None:
    """A link carries day and time."""
    assert "start at 05:40 on Mon 7 Dec 2026" in visit(day="2026-12-07", at="05:40").headline


def test_a_plan_and_a_tariff_from_the_address_are_taken(visit: Open) -> None:
    """A link carries packaged plans and tariffs by name."""
    there = visit(plan="lakeside", tariff="dear_evening")
    assert there.work.plan == read_plan("lakeside")
    assert "USD" in there.headline


@pytest.mark.parametrize(
    "query", [{"plan": "../../etc/passwd"}, {"tariff": "/etc/passwd"}, {"day": "never"}, {"at": "99"}]
)
def test_an_address_names_packaged_things_only(visit: Open, query: dict[str, str]) -> None:
    """Paths and nonsense in the address open the demo, not a file of the server."""
    assert visit(**query).work.plan == read_plan("demo")


def test_without_a_tariff_there_is_no_cost(visit: Open) -> None:
    """Choosing no tariff leaves energy, circuit and powers."""
    there = visit()
    there.choose("tariff", "none")
    assert "EUR" not in there.headline
    assert "No tariff is chosen" in there.words
    assert "same" in there.go("when").headline


def test_another_packaged_plan_is_opened(visit: Open) -> None:
    """The list of plans opens the one that is picked."""
    there = visit()
    there.choose("plan", "lakeside")
    assert there.work.plan == read_plan("lakeside")
    assert not there.work.is_changed


def test_the_best_start_is_taken_over(visit: Open) -> None:
    """The button under the heat map moves the start on every page."""
    there = visit("when")
    best = there.headline.split()[2]
    there.click("take_best")
    assert there.work.wall == datetime.combine(date(2026, 12, 5), time.fromisoformat(best))
    assert f"start at {best} on Sat 5 Dec" in there.go("").headline


def test_limits_on_the_start_are_kept(visit: Open) -> None:
    """Not before 07:00 means that the best start is not before 07:00."""
    there = visit("when", **{"hours.earliest": "07:00"})
    best = there.headline.split()[2]
    assert best >= "07:00"


def test_limits_that_leave_no_start_say_so(visit: Open) -> None:
    """A day of five hours between 10:00 and 11:00 has no start; the page says why."""
    there = visit("when", **{"hours.earliest": "10:00", "hours.done_by": "11:00"})
    assert there.headline == "No start can be chosen yet."
    assert "no start meets the limits" in there.words


def test_waiting_shows_what_it_adds_and_its_caution(visit: Open) -> None:
    """Heating at night for a mash in the day is cheaper, takes more kWh, and comes with its caution."""
    assert "kWh more than the" in (text := visit("when").words)
    assert "licensed electrician" in text


def test_a_habit_is_costed_when_asked(visit: Open) -> None:
    """The year of a habit is worked out on demand."""
    there = visit("when")
    there.at.toggle(key="habit_go").set_value(True)
    there.run()
    assert "20 brews at the usual time cost" in there.words


def test_the_circuit_page_lists_every_check(visit: Open, known: Any) -> None:
    """Each finding stands on the page with its standard."""
    shown = visit("circuit").words
    for found in tell_findings(known):
        assert str(found.said) in shown
        assert (found.rule or "") in shown


def test_taking_all_advised_writes_the_caps_and_can_be_undone(visit: Open, known: Any) -> None:
    """The advised powers go into the plan; Undo brings the old ones back."""
    there = visit("power").click("take_advised")
    caps = {step.name: step.hold_power_w for step in there.work.plan.steps}
    for row in known.power.rows:
        assert caps[row.step] == row.advised_w
    assert there.work.is_changed
    assert there.click("undo").work.plan == read_plan("demo")


def test_a_cap_from_the_slider_goes_into_the_plan(visit: Open) -> None:
    """The slider says how far the hour of the mash sags on too little, and the button sets it."""
    there = visit("power")
    there.at.selectbox(key="power_step").set_value("Saccharification")
    there.run()
    next(one for one in there.at.slider if one.key.startswith("cap_")).set_value(100)
    there.run()
    assert "With 100 W it falls to" in there.words
    there.click("take_cap")
    assert there.work.plan.steps[1].hold_power_w == 100.0


def test_every_file_can_be_taken_along(visit: Open) -> None:
    """There is a button for the plan and for each kind of file."""
    keys = {button.key for button in visit("take-along").at.download_button}
    assert {"take_plan", "take.pdf", "take.ics", "take.csv", "take.png", "take.svg"} <= keys


def test_boxes_and_folds_hold_nothing_while_they_are_closed(visit: Open) -> None:
    """Opened, the bar's boxes hold its entries; closed, the browser has none of them to lay out."""
    closed, opened = visit(boxes=False).at, visit().at
    assert not closed.file_uploader
    assert not closed.time_input
    assert not [button for button in closed.button if button.key.startswith(("plan_", "tariff_", "assumed_"))]
    assert {"plan_demo", "tariff_two_rate", "assumed_so"} <= {button.key for button in opened.button}
    assert {field.key for field in opened.time_input} >= {"at"}
    assert len(opened.file_uploader) == len(["plan", "tariff"])


def test_a_start_moved_while_its_box_is_closed_stands_in_the_box(visit: Open) -> None:
    """The slider under the chart moves it; the box, opened then, begins with the new one."""
    there = visit(boxes=False)
    key = next(slider.key for slider in there.at.slider if slider.key.startswith("start_"))
    there.at.slider(key=key).set_value(time(10, 15))
    there.run()
    there.at.session_state["fold_start"] = True
    there.run()
    assert there.at.time_input(key="at").value == time(10, 15)


def test_what_is_worth_changing_is_ranked(visit: Open) -> None:
    """Money leads where there is a tariff: the start is worth most, and the boil most in energy."""
    there = visit("worth-changing")
    assert there.further.startswith("Most for least: start at 06:35")
    assert "In energy: boil of" in there.further
    frame = there.at.dataframe[1].value
    assert frame["change"].iloc[-1] == "The best of it together"
    assert frame["saved_money"].astype(float).iloc[:-1].is_monotonic_decreasing


def test_energy_leads_without_a_tariff(visit: Open) -> None:
    """Then the first change is the one that saves most energy."""
    there = visit("worth-changing", tariff="none")
    frame = there.at.dataframe[1].value
    assert "saved_money" not in frame
    assert frame["saved_kwh"].astype(float).iloc[:-1].is_monotonic_decreasing


def test_ranges_stand_under_the_first_sentence(visit: Open, known: Any) -> None:
    """The tile of the energy has its range, which lies around what is planned."""
    shown = visit().words
    low, high = re.search(r"Energy \*\*.*?\[([\d.]+) to ([\d.]+) kWh", shown).groups()
    assert float(low) < known.day.energy_kwh < float(high)


def test_a_log_measures_the_vessel_and_goes_into_the_plan(visit: Open) -> None:
    """The invented cool-down tells the loss; the plan takes it over, and Undo gives the estimate back."""
    there = visit("your-vessel")
    assert "Estimated" in there.headline
    there.at.selectbox(key="log_choice").set_value("cool-down")
    there.run()
    assert there.headline.startswith("Measured: ")
    there.click("take_fit")
    assert there.work.plan.vessel.heat_loss_w_per_k == pytest.approx(float(there.headline.split()[1]), abs=0.06)
    assert 0.05 <= there.work.plan.vessel.heat_loss_within_w_per_k / there.work.plan.vessel.heat_loss_w_per_k < 0.1
    assert there.click("undo").work.plan == read_plan("demo")


def test_litres_that_boiled_off_measure_the_vessel(visit: Open) -> None:
    """Litres, minutes and watts give the loss at the boil; the plan takes it, and Undo gives the estimate back."""
    demo, there = read_plan("demo"), visit("your-vessel")
    assert "without steam" not in there.words
    there.enter("Boiled off, cold", "8")
    assert "say how long it boiled" in there.words
    there.enter("Boiled for", "3 h").enter("Mean power at the plug", "2,1 kW")
    found = dry_loss(demo, BoilOff(boiled_off_l=8.0, lasted_s=10_800.0, power_w=2100.0))
    assert f"Measured: {found.dry_loss_w.value:.0f} W leave at the boil without steam" in there.words
    there.click("take_boil_off")
    assert there.work.plan == measured_plan(demo, found)
    assert there.headline.startswith("The plan has a measured heat loss of ")
    assert there.click("undo").work.plan == demo


def test_a_boil_off_says_what_it_lacks(visit: Open) -> None:
    """A log that does not boil, litres that are none, a boil too short to tell the walls, and gallons."""
    there = visit("your-vessel")
    there.at.selectbox(key="log_choice").set_value("cool-down")
    there.run().enter("Boiled off, cold", "8 L")
    assert "This boil-off can't be used" in there.words
    assert "does not boil for ten minutes" in there.words
    assert "take_fit" in [button.key for button in there.at.button]  # and the log is told all the same
    there.enter("Boiled off, cold", "8 kg")
    assert "is no volume" in there.words
    there.enter("Boiled off, cold", "2.9 L").enter("Boiled for", "60").enter("Mean power at the plug", "")
    assert "by the elements' plates" in there.words
    assert "There is nothing to take over" in there.words
    there = visit("your-vessel", units="us").enter("Boiled off, cold", "0.75").enter("Boiled for", "60")
    assert "gal" in there.unit_of("Boiled off, cold")
    assert "There is nothing to take over" in there.words


def test_what_was_different_in_a_test_is_read_with_its_unit(visit: Open) -> None:
    """A bare number is refused with the way to write it."""
    there = visit("your-vessel").enter("Water in the vessel", "27 kg")
    assert there.headline == "This log can't be used as it is."
    assert "is no volume" in there.words


def test_a_circuit_that_is_over_shows_what_keeps_it(visit: Open) -> None:
    """Over comes with a sign and a word, the mend, and powers that were tried."""
    there = visit("circuit-entries").enter("Breaker", "10").go("circuit")
    assert there.headline.startswith("Over: ")
    assert "▲ Over" in there.words
    assert "To mend it:" in there.words
    assert "What keeps the ratings" in there.words


def test_a_plan_without_a_circuit_asks_for_it(visit: Open) -> None:
    """Nothing is called fine that was not checked."""
    there = visit()
    there.at.session_state["work"].replace(read_plan("demo").model_copy(update={"circuit": None}))
    assert "not checked" in there.run().words
    assert "its voltage is enough" in there.go("circuit").words


def test_a_start_that_the_clock_skips_is_refused_with_both_ways_out(visit: Open) -> None:
    """In Dublin the clock goes from 01:00 to 02:00 on 2026-03-29."""
    there = visit(day="2026-03-29", at="01:30")
    assert there.headline == "This day can't be worked out yet."
    assert "does not exist" in there.words


def test_a_start_that_the_clock_shows_twice_is_chosen(visit: Open) -> None:
    """In Dublin 01:30 comes twice on 2026-10-25: without a choice it is refused, with one the day is answered."""
    there = visit(day="2026-10-25", at="01:30")
    assert "shows it twice" in there.words
    there.at.segmented_control(key="reading").set_value("the second time")
    assert "start at 01:30 GMT on Sun 25 Oct" in there.run().headline
    second = there.headline
    there.at.segmented_control(key="reading").set_value("the first time")
    # An hour earlier by the sun: the day is done an hour earlier on the clock too.
    assert there.run().headline != second


@pytest.mark.parametrize(("page", "module"), [("", day), ("circuit", circuit), ("power", power)])
def test_the_chart_comes_before_the_bar(
    visit: Open, monkeypatch: pytest.MonkeyPatch, page: str, module: ModuleType
) -> None:
    """What comes before a chart is laid out before it: it is the answer that waits."""
    there, seen = visit(), list[str]()
    monkeypatch.setattr(main, "desk_row", lambda _: seen.append("bar"))
    monkeypatch.setattr(module, "chart", lambda *_, **__: seen.append("chart"))
    there.go(page)
    assert seen[:2] == ["chart", "bar"]


def test_the_first_answer_of_a_session_has_its_units(visit: Open) -> None:
    """A link in US units: no headline falls back while the row with their switch is still to come."""
    there = visit(units="us", plan="lakeside")
    assert re.search(r"\d (K|°C|L|kg)\b", there.words) is None
    assert re.search(r"\d (K|°C|L|kg)\b", there.go("power").words) is None
