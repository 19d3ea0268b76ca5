"""Keep: the brewery apart from the days, days by name beside one another, the sheet looked at before it is printed."""

from collections.abc import Callable
from typing import Any

from energyplan.app.keep import MOST

Open = Callable[..., Any]


def test_the_brewery_outlives_the_day_and_goes_under_another(visit: Open) -> None:
    """Kept with a wider vessel, it goes under a packaged plan, whose batch and steps stay; Undo takes each back."""
    there = visit()
    work = there.work
    assert work.enter(("vessel", "diameter"), "41 cm")
    there.go("keep")
    assert "can be kept apart" in there.words
    there.click("keep_brewery")
    assert "brewed in the brewery that you keep" in there.words
    there.choose("plan", "pale-ale")
    assert work.plan.vessel.diameter_m != 0.41
    steps, batch = work.plan.steps, work.plan.batch
    there.click("brew_in")
    assert work.plan.vessel.diameter_m == 0.41
    assert (work.plan.steps, work.plan.batch) == (steps, batch)
    assert ("vessel", "diameter") in work.day.entered
    there.click("undo")
    assert work.plan.vessel.diameter_m != 0.41
    assert work.lying.brewery is not None


def test_the_brewery_is_read_again_from_the_browser(visit: Open) -> None:
    """What one visit keeps, the next one has."""
    there = visit("keep")
    there.click("keep_brewery")
    texts = there.at.session_state["storage"].texts()
    assert "[vessel]" in texts["brewery"]
    again = visit("keep", kept=texts)
    assert again.work.lying == there.work.lying


def test_a_day_that_was_put_by_stands_beside_the_one_on_the_desk(visit: Open) -> None:
    """With totals, phases, and what makes the difference."""
    there = visit("keep")
    there.click("put_by")
    there.work.enter(("batch", "water"), "30 L")
    there.at.session_state["part_keep"] = "Side by side"
    there.run()
    beside = there.at.selectbox(key="beside")
    beside.set_value(next(option for option in beside.options if option.endswith("put by")))
    there.run()
    assert "What makes the difference" in there.words
    assert any("cause" in told.value.columns for told in there.at.dataframe)


def test_the_first_page_is_shown_and_files_bear_the_days_name(visit: Open) -> None:
    """A picture of the PDF; every button says the name of its file."""
    there = visit("take-along")
    assert len(there.at.get("image")) == 1
    assert "The first page of the PDF" in there.words
    labels = [button.proto.label for button in there.at.get("download_button")]
    assert "Save Oat-stout-for-the-village-hall.pdf" in labels


def test_a_day_is_put_by_under_a_name_and_never_silently_in_another_s_place(visit: Open) -> None:
    """Without a name it can't be; under one that is taken the button says so."""
    there = visit("keep", boxes=False)
    there.enter("Name", "  ")
    assert there.at.button(key="put_by").disabled
    assert "Give it a name first" in there.words
    there.enter("Name", "Stout").click("put_by")
    there.enter("Name", "Stout")
    assert "in place of the one with this name" in there.at.button(key="put_by").label
    there.enter("Name", "Ale")
    assert there.at.button(key="put_by").label == "Put this day by"


def test_a_full_drawer_says_so(visit: Open) -> None:
    """Neither another day nor a copy fits; one in place of another does."""
    there = visit("keep", boxes=False)
    there.work.put_by({f"Day {number}": there.work.day for number in range(MOST)})
    there.run()
    assert f"{MOST} days are put by, and no more can be" in there.words
    assert there.at.button(key="drawer_copy_0").disabled
    assert there.enter("Name", "Ale").at.button(key="put_by").disabled
    assert not there.enter("Name", "Day 7").at.button(key="put_by").disabled
