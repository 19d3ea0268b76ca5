"""Tests of the forms: entries by label, steps, what can't be taken, undo."""

import re
from collections.abc import Callable
from typing import Any

import pytest

from energyplan.app.desk import how_far
from energyplan.app.editing import KeyNumber
from energyplan.app.entries import SECTIONS, Section
from energyplan.plan.file import read_plan

Open = Callable[..., Any]
CIRCUIT = "circuit-entries"
BATCH = "batch"  # the first page with its fold of batch and steps open


def test_an_entry_changes_the_plan_and_the_answer(visit: Open) -> None:
    """More water takes more energy, and the plan is another than it was opened."""
    there = visit(BATCH)
    before = there.headline
    there.enter("Water at the start", "30 L")
    assert there.work.plan.batch.water_l == 30.0
    assert there.work.is_changed
    assert there.headline > before


def test_a_loss_typed_anew_is_not_known_as_well_as_the_one_measured(visit: Open) -> None:
    """What was measured of the old one goes: its half width and its filling; entered together they stay."""
    there = visit("set-up")
    work, loss = there.work, ("vessel", "heat_loss")
    within, at = ("vessel", "heat_loss_within"), ("vessel", "measured_at")
    assert not work.enter(within, "0.3 W/K")  # waits for the loss
    assert work.enter(loss, "4.8 W/K")
    assert work.enter(at, "27 L")
    vessel = work.plan.vessel
    assert (vessel.heat_loss_w_per_k, vessel.heat_loss_within_w_per_k, vessel.measured_at_l) == (4.8, 0.3, 27.0)
    assert work.enter(("vessel", "pump"), "40 W")
    assert work.plan.vessel.heat_loss_within_w_per_k == 0.3
    for typed, known in (("5.5 W/K", 5.5), (None, None)):
        assert work.enter(loss, typed)
        vessel = work.plan.vessel
        assert (vessel.heat_loss_w_per_k, vessel.heat_loss_within_w_per_k, vessel.measured_at_l) == (known, None, None)


def test_a_fold_opened_again_shows_what_was_entered(visit: Open) -> None:
    """Closed, its fields are forgotten by the browser; opened again they stand as the plan has them."""
    there = visit("batch").enter("Water at the start", "24 L")
    for is_open in (False, True):
        there.at.session_state["fold_batch"] = is_open
        there.run()
    shown = [field.value for field in there.at.text_input if field.label == "Water at the start"]
    assert (shown, there.work.plan.batch.water_l) == (["24"], 24.0)


def test_a_fact_in_any_unit_is_understood(visit: Open) -> None:
    """A label in US units is typed as it stands, in the metric display too."""
    assert visit("set-up").enter("Inside diameter", "14 in").work.plan.vessel.diameter_m == pytest.approx(14 * 0.0254)


def test_switching_units_loses_nothing(visit: Open) -> None:
    """There and back again the plan is the same, to the last digit."""
    there = visit(BATCH)
    for system in ("us", "metric"):
        there.at.segmented_control(key="units").set_value(system)
        there.run()
    assert there.work.plan == read_plan("demo")
    assert not there.work.is_changed


def test_us_display_shows_us_units(visit: Open) -> None:
    """The diameter of 36 cm reads 14.2 in, the cable of 2.5 mm2 stays one of no exact gauge."""
    there = visit("set-up", units="us")
    fields = {field.label: field.value for field in there.at.text_input}
    assert fields["Inside diameter"] == "14.2"
    assert "in" in there.unit_of("Inside diameter")
    assert {field.label: field.value for field in visit(BATCH, units="us").at.text_input}[
        "Water at the start"
    ] == "7.13"


@pytest.mark.parametrize(
    ("label", "typed", "said"),
    [
        ("Water at the start", "5 kg", "is no volume"),
        ("Water at the start", "nan L", "not a number"),
        ("Water at the start", "1e308 L", "out of range"),
        ("Name of the day", "", ""),
    ],
)
def test_what_cannot_be_taken_is_said_at_the_entry(visit: Open, label: str, typed: str, said: str) -> None:
    """A bad entry leaves the plan alone and says what is expected."""
    there = visit(BATCH).enter(label, typed)
    if said:
        assert there.work.plan == read_plan("demo")
        assert said in there.words
    else:
        assert there.work.plan.title == "A brew day"


def test_entries_that_are_right_only_together_wait_for_each_other(visit: Open) -> None:
    """Rules, curve and column can be chosen one after the other; the plan changes with the last."""
    there = visit(CIRCUIT)
    for label, option in (("Rules", "nec"), ("Curve of the breaker", "inverse"), ("How the cable lies", "75")):
        assert there.work.plan == read_plan("demo")
        next(field for field in there.at.selectbox if field.label == label).set_value(option)
        there.run()
    assert there.work.plan.circuit.rules == "nec"
    assert "Not taken over" not in there.words


def test_a_mended_entry_takes_its_message_away(visit: Open) -> None:
    """After the mend there is no message left."""
    there = visit(BATCH).enter("Water at the start", "27 kg").enter("Water at the start", "28 L")
    assert "Not taken over" not in there.words
    assert there.work.plan.batch.water_l == 28.0


def test_an_emptied_entry_falls_back_to_what_it_says(visit: Open) -> None:
    """An empty jacket is a bare wall; an empty sparge temperature is the usual one."""
    there = visit("set-up").enter("Jacket, thickness", "")
    assert there.work.plan.vessel.jacket_thickness_m is None


def test_a_step_is_changed_entry_by_entry(visit: Open) -> None:
    """The first step's hold of 15 min goes into the plan."""
    there = visit(BATCH).enter("Hold", "15 min")
    assert there.work.plan.steps[0].hold_s == 900.0


def test_a_bad_step_is_named_with_the_way_to_mend_it(visit: Open) -> None:
    """A target above the boil is refused with the name of the step."""
    there = visit(BATCH).enter("Target", "120 °C")
    assert 'Step "Strike": Target' in there.words
    assert there.work.plan == read_plan("demo")


def test_steps_move_up_and_down(visit: Open) -> None:
    """A step that may come earlier does; one that may not says why."""
    there = visit(BATCH)
    there.at.selectbox(key="one_step").set_value(3)
    there.run()
    there.click("move_Up")
    assert [step.name for step in there.work.plan.steps][2:4] == ["Sparge", "Mash-out"]
    assert there.at.selectbox(key="one_step").value == 2


def test_an_impossible_day_says_how_far_it_gets(visit: Open) -> None:
    """A ramp cap below the loss stalls: every page names the temperature and the power it would take."""
    there = visit(BATCH).enter("Ramp cap", "150 W")
    assert there.headline == "This day can't be worked out yet."
    assert "stalls at" in there.words
    for page in ("", "when", "circuit", "power", "side-by-side", "take-along"):
        assert "stalls at" in there.go(page).words
    assert "Strike is the first step" in there.words


def test_the_steps_before_an_impossible_one_are_shown(visit: Open) -> None:
    """The day up to the step that stalls is a day of its own; all elements see it through."""
    there = visit(**{"step.2.ramp_power": "150 W"})
    assert 'Step "Mash-out": with' in there.words
    assert "As far as it goes, Mash-out left out: " in there.words
    assert "Europe/Dublin" in str(there.at.get("vega_lite_chart")[0].proto.spec)
    assert there.click("mend_ramp").work.plan.steps[2].ramp_power_w is None
    assert "EUR" in there.headline


def test_more_power_is_offered_only_where_it_helps() -> None:
    """A step without a cap that can't be brewed has none to take away."""
    demo = read_plan("demo")
    small = demo.vessel.elements[0].model_copy(update={"power_w": 150.0})
    weak = demo.model_copy(update={"vessel": demo.vessel.model_copy(update={"elements": (small,)})})
    found = how_far(weak)
    assert found is not None
    assert (found.reached, found.step, found.mended) == (None, "Strike", None)


@pytest.mark.parametrize("section", SECTIONS, ids=lambda section: section.title)
def test_every_entry_has_help(section: Section) -> None:
    """Each says where to find its value or what is typical; a typical range is marked as common practice."""
    for entry in (*section.entries, *section.further):
        assert entry.hint
        ranged = re.search(r"\d to \d|ypical", entry.hint)
        assert not ranged or "common practice" in entry.hint or "Printed on it" in entry.hint


def test_help_is_in_the_units_of_the_display(visit: Open) -> None:
    """28 to 40 cm are 11 to 16 in."""
    fields = {field.label: field.help for field in visit(BATCH, units="us").at.text_input}
    assert "11 to 16 in" in fields["Inside diameter"]
    assert "cm" not in fields["Inside diameter"]


def test_entries_stay_when_one_comes_back(visit: Open) -> None:
    """The form shows what the plan says after another page was seen."""
    there = visit(BATCH).enter("Water at the start", "30 L").go("when").go(BATCH)
    assert next(field for field in there.at.text_input if field.label == "Water at the start").value == "30"


def test_undo_goes_back_one_by_one(visit: Open) -> None:
    """Undo takes back one change each, down to the plan as it came."""
    there = visit(BATCH).enter("Water at the start", "28 L").enter("Water at the start", "29 L")
    assert there.click("undo").work.plan.batch.water_l == 28.0
    assert there.click("undo").work.plan == read_plan("demo")
    assert not [button for button in there.at.button if button.key == "undo"]


def test_a_bare_number_takes_the_unit_of_its_field(visit: Open) -> None:
    """With a point or a comma, in the units of the display."""
    there = visit(BATCH).enter("Water at the start", "28,5")
    assert there.work.plan.batch.water_l == 28.5
    gallons = visit(BATCH, units="us").enter("Water at the start", "7")
    assert gallons.work.plan.batch.water_l == pytest.approx(7 * 3.785411784)


def test_a_slip_in_one_entry_leaves_the_others(visit: Open) -> None:
    """What waits to be mended stays in its field, and what is right is taken."""
    there = visit(BATCH).enter("Water at the start", "28 kg").enter("Grain", "6 kg")
    fields = {field.label: field.value for field in there.at.text_input}
    assert fields["Water at the start"] == "28 kg"
    assert there.work.plan.batch.grain_kg == 6.0


def test_two_sessions_do_not_mix(visit: Open) -> None:
    """What one visitor changes, another does not see."""
    one, other = visit(BATCH), visit(BATCH)
    one.enter("Water at the start", "33 L")
    other.run()
    assert other.work.plan.batch.water_l == read_plan("demo").batch.water_l


def test_text_of_users_is_never_markup(visit: Open) -> None:
    """A title full of marks is written, not read: no image, no link, no colour."""
    there = visit(BATCH).enter("Name of the day", "![x](http://a.invalid/b) :red[c] <b>")
    for mark in there.at.markdown:
        assert "![x](" not in mark.value
    assert there.work.plan.title.startswith("![x]")


def test_undo_goes_back_as_far_as_there_were_changes(visit: Open) -> None:
    """Five entries one after the other, five steps back: each as it was, the plan of the beginning at last."""
    work = visit(BATCH).work
    litres = [26.0 + number for number in range(1, 6)]
    for water_l in litres:
        work.enter(("batch", "water"), f"{water_l + 2} L")
    seen = []
    for _ in litres:
        seen.append(work.plan.batch.water_l)
        work.undo()
    assert seen == [water_l + 2 for water_l in reversed(litres)]
    assert work.plan == read_plan("demo")


def _kept_keys(there: Any) -> int:
    """How many widgets' keys the framework keeps for a session; nothing public says so."""
    state = there.at.session_state._state
    return len(getattr(state, "_state", state)._new_widget_state.widget_metadata)


def test_a_session_keeps_no_more_keys_for_more_visits(visit: Open) -> None:
    """The framework never forgets a key, so forms that begin anew take keys again that are free."""
    there, kept = visit(), list[int]()
    for litres in ("24 L", "25 L", "26 L", "27 L", "28 L", "29 L"):
        there.go("batch").enter("Water at the start", litres)
        there.click("undo").go("circuit").go("power").go("your-brewery")
        kept.append(_kept_keys(there))
    assert kept[0] > 50
    assert kept[2:] == kept[2:3] * 4


def test_a_form_never_takes_a_key_that_the_browser_may_hold() -> None:
    """A number that any run showed, whole or cut short, comes back after two whole runs without it at the earliest."""
    keys, shown = KeyNumber(), [{0}]
    keys.has_run()
    for short_runs in (0, 1, 0, 3, 0, 0, 2, 0, 0, 0):
        shown.append(set())
        for _ in range(short_runs + 1):
            before = keys.number
            assert keys.renew() not in {before} | shown[-1] | shown[-2]
            shown[-1].add(keys.number)
        keys.has_run()
    assert keys.number <= 2
