"""The people's day told: the clock, who must be in the room, when all are done."""

import json
from datetime import UTC, datetime, timedelta
from io import StringIO

import pytest
from rich.console import Console

from energyplan.advice.answer import Answer, answer
from energyplan.advice.people import people_day
from energyplan.advice.starts import attended_stretches
from energyplan.base.kinds import Style
from energyplan.base.sentence import words
from energyplan.faces.frames import frame, part_document
from energyplan.faces.terminal import terminal
from energyplan.plan.file import demo_plans, parse_plan, read_plan
from energyplan.plan.model import Step
from energyplan.telling.clock import clock_entries, clock_told, done_sentence, hands_sentence, people_told
from energyplan.telling.files import calendar_told
from energyplan.telling.phases import at
from energyplan.telling.picture import presence_told
from energyplan.telling.report import PARTS, report_told
from tests.telling.shown import shown_frame

US = Style("us")
MORNING = datetime(2026, 12, 5, 6, 30, tzinfo=UTC)


@pytest.fixture(scope="module")
def day() -> Answer:
    """The packaged day."""
    return answer(read_plan("demo"), None, MORNING)


def moment_of(text: str) -> datetime:
    """A moment of the JSON document."""
    return datetime.fromisoformat(text.replace("Z", "+00:00"))


def test_the_clock_lists_everything_in_order(day):
    """Every moment, task and watch of the day once, in order, with its earliest and latest reading."""
    people, table = people_day(day.day), frame(clock_told(day).table("clock"))
    assert len(table) == len(people.moments) + len(people.tasks) + len(people.watches)
    assert table["time"].is_monotonic_increasing
    grain = table[table["text"] == "Add the grain: 5.80 kg"].iloc[0]
    assert grain["earliest"] < grain["time"] < grain["latest"]
    assert set(table["kind"]) == {
        "task", "step", "switch", "action", "addition", "lid", "boil", "watch", "end",
    }  # fmt: skip


def test_units_change_amounts_and_no_time(day):
    """Pounds and gallons, the same clock."""
    told = clock_told(day).table("clock")
    metric, us = shown_frame(told), shown_frame(told, US)
    assert list(metric["At"]) == list(us["At"])
    assert any("lb" in what for what in us["What"])
    assert not any("lb" in what for what in metric["What"])


def test_presence_and_absence_take_turns(day):
    """In the room, away, in the room: the stretches have no gap and no overlap."""
    table = frame(presence_told(day).table("presence"))
    assert [who == "In the room" for who in table["who"]] == [place % 2 == 0 for place in range(len(table))]
    assert list(table["start_s"][1:]) == pytest.approx(list(table["end_s"][:-1]))
    assert table["what_for"].iloc[0].startswith("Set up and fill the vessel; Mill the grain")


def test_hours_of_a_clock_change_name_their_zone():
    """01:00 comes twice on 25 October in Ireland: the zone tells which."""
    night = answer(read_plan("demo"), None, datetime(2026, 10, 24, 23, 30, tzinfo=UTC))
    clocks = list(shown_frame(clock_told(night).table("clock"))["At"])
    assert len(set(clocks)) > 10
    assert all(clock.endswith(("IST", "GMT")) for clock in clocks)


@pytest.mark.parametrize("style", [Style(), US])
@pytest.mark.parametrize("plan", sorted(demo_plans()))
def test_parts_fit_a_terminal(plan, style):
    """No line is wider than 80 columns, also on a night of a clock change."""
    for start in (MORNING, datetime(2026, 10, 24, 23, 30, tzinfo=UTC)):
        found = answer(read_plan(plan), None, start)
        for make in PARTS.values():
            console = Console(file=StringIO(), width=80, color_system=None)
            console.print(terminal(make(found), style, detail=1))
            assert max(len(line) for line in console.file.getvalue().splitlines()) <= 80


def test_who_must_be_there_is_said_with_the_earliest(day):
    """Planned from and to, the earliest beginning, what for; then the end of vessel and people."""
    people = people_day(day.day)
    stirring = next(p for p in people.presences if any(why.name == "Stir the grain in" for why in p.why))
    rows = shown_frame(people_told(day).table("attended"))
    row = rows[rows["From"] == str(at(day, stirring.begins_s))].iloc[0]
    assert row["Until"] == str(at(day, stirring.ends_s))
    assert row["Earliest"] == str(at(day, stirring.earliest_s))
    assert row["What for"] == "Add the grain; Stir the grain in"
    assert any("stay within earshot" in str(said) for said in people_told(day).sentences)


def test_one_sentence_names_every_stretch(day):
    """All stretches of the day, and no other time."""
    said, people = str(hands_sentence(day)), people_day(day.day)
    for span in people.presences:
        assert f"{at(day, span.begins_s)} to {at(day, span.ends_s)}" in said
    assert said.count(" to ") == len(people.presences)


def test_a_start_outside_the_hours_entered_says_so():
    """Begun at 06:30 the demo needs hands from 05:55, when nobody is there: that is told. At 07:30 it is not."""
    plan = parse_plan(demo_plans()["demo"].replace("[site]", '[hours]\nsomebody_there = ["06:30", "22:30"]\n[site]'))
    early, late = (
        str(hands_sentence(answer(plan, None, MORNING + hours))) for hours in (timedelta(0), timedelta(hours=1))
    )
    assert early.endswith("This start does not keep the hours entered: somebody there from 06:30 to 22:30.")
    assert late.endswith("in all.")


def test_a_day_of_many_stretches_counts_the_last_ones():
    """Forty steps with a pause each: eight things are named, the last of them a number."""
    step = '[[step]]\nname = "Rest {0}"\ntarget = "{1} degC"\nhold = "20 min"\n[[task]]\nname = "Stir {0}"\n'
    step += 'at_step = "Rest {0}"\ntakes = "5 min"\n'
    text = demo_plans()["demo"].split("[[step]]")[0].split("[second_heater]")[0]
    plan = parse_plan(text + "".join(step.format(number, 30 + number) for number in range(1, 41)))
    said = str(hands_sentence(answer(plan, None, MORNING)))
    assert said.count(" to ") == 7
    assert "more stretches" in said


def test_people_are_done_after_the_vessel(day):
    """Rinsing comes after the cleaning step: 15 min, as usual (common practice, no source)."""
    people = people_day(day.day)
    assert people.ends_s == pytest.approx(people.vessel_ends_s + 15 * 60)
    assert str(done_sentence(day)).startswith("The vessel is done at ")


def test_a_day_over_midnight_names_the_day():
    """Milled on Friday evening, mashed on Saturday."""
    late = answer(read_plan("demo"), None, datetime(2026, 12, 5, 0, 10, tzinfo=UTC))
    clocks = list(shown_frame(clock_told(late).table("clock"))["At"])
    assert clocks[0].startswith("Fri 4 Dec 23:")
    assert not clocks[-1].startswith("Fri")


def test_the_document_of_people_is_in_utc_and_in_order(day):
    """Instants, earliest, latest; attended and unattended stretches meet."""
    found = json.loads(json.dumps(part_document(report_told(day))))["people"]
    for row in found["clock"]:
        assert moment_of(row["earliest"]) <= moment_of(row["time"]) <= moment_of(row["latest"])
    assert [row["time"] for row in found["clock"]] == sorted(row["time"] for row in found["clock"])
    for before, away, after in zip(found["attended"], found["unattended"], found["attended"][1:], strict=False):
        assert (before["end"], after["start"]) == (away["start"], away["end"])
    assert moment_of(found["begins"]) == MORNING - timedelta(minutes=35)
    assert found["tasks_from_plan"] is False
    lakeside = part_document(clock_told(answer(read_plan("lakeside"), None, MORNING)))
    drains = [row for row in lakeside["clock"] if not row["attended"]]
    assert {row["text"] for row in drains} == {"Let the basket drain over a bucket", "Chill the wort"}


def test_a_task_that_outlasts_the_emptying_is_told():
    """The sentence names the task, the step and the pause."""
    plan = read_plan("demo")
    hasty = plan.model_copy(update={"steps": tuple(step for step in plan.steps if step.name != "Chill")})
    said = [str(one) for one in people_told(answer(hasty, None, MORNING)).sentences]
    assert any('for "Cleaning": put a pause of 30 min before' in one for one in said)


def test_rows_of_one_moment_read_from_what_begins_to_what_is_added(day):
    """A step, then what is done for it, then how long that takes."""
    entries = [entry for entry in clock_entries(day) if entry.step == "Saccharification"]
    assert [entry.kind for entry in entries] == ["step", "action", "task"]


def test_a_step_that_finds_nothing_to_do_says_so(builders):
    """It is listed, with the reason."""
    steps = (Step(name="Hot", target_c=70.0, hold_s=600.0), Step(name="Tepid", target_c=70.0))
    clock = [words(entry.words) for entry in clock_entries(answer(builders.water_plan(*steps), None, MORNING))]
    assert "Tepid: nothing to heat or to hold, it is warm enough" in clock


def test_a_start_is_only_proposed_where_somebody_switches_on(day):
    """The stretches for the search of starts hold switching on and every boil, and every task."""
    stretches = attended_stretches(day.day)
    assert any(begins_s <= 0.0 <= ends_s for begins_s, ends_s in stretches)
    boil = next(phase for phase in day.day.phases if phase.phase == "boil")
    assert (boil.start_s, boil.end_s) in stretches
    assert min(begins_s for begins_s, _ in stretches) == -35 * 60.0


def means_of(found: Answer) -> list[str]:
    """What the calendar says of the mean power of its phases."""
    return [text for text in frame(calendar_told(found).table("entries"))["text"] if "on average" in text]


def test_a_mean_above_what_is_set_says_what_else_it_holds(day):
    """Elements at their cap, pump and standby beside them: the entry of the calendar names those."""
    assert all(text.endswith(("average with pump and standby", "average with standby")) for text in means_of(day))
    vessel = day.day.plan.vessel.model_copy(update={"pump_w": 0.0, "standby_w": 0.0})
    alone = means_of(answer(day.day.plan.model_copy(update={"vessel": vessel}), None, MORNING))
    assert len(alone) == len(means_of(day)) > 3
    assert all(text.endswith("on average") for text in alone)
