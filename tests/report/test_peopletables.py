"""The people's day, the room and the unattended list as tables, text and JSON."""

import json
from datetime import UTC, datetime, timedelta
from io import StringIO

import pytest
from rich.console import Console, RenderableType

from energyplan.advice.answer import Answer, answer
from energyplan.advice.people import people_day
from energyplan.advice.starts import attended_stretches
from energyplan.advice.unattended import Said, may_start_unattended
from energyplan.base.units import Display
from energyplan.plan.file import demo_plans, read_plan
from energyplan.report.clockrows import PeopleClock, clock_rows
from energyplan.report.peopletables import clock_table, fact_table, presence_table, room_table
from energyplan.report.peopletext import clock_text, done_sentence, people_document, presence_sentence, presence_text
from energyplan.report.roomtext import room_document, room_of, room_sentence, room_text

METRIC, US = Display("metric"), Display("us")
MORNING = datetime(2026, 12, 5, 6, 30, tzinfo=UTC)


@pytest.fixture(scope="module")
def day() -> Answer:
    """The packaged day."""
    return answer(read_plan("demo"), None, MORNING)


def printed(what: RenderableType) -> str:
    """As it stands on a terminal of 80 columns."""
    console = Console(file=StringIO(), width=80, color_system=None)
    console.print(what)
    return console.file.getvalue()


def moment_of(text: str) -> datetime:
    """A moment of the JSON document."""
    return datetime.fromisoformat(text.replace("Z", "+00:00"))


def test_the_clock_lists_everything_in_order(day):
    """Every moment, task and watch of the day once, in order, with its earliest and latest reading."""
    people, table = people_day(day.day), clock_table(day, METRIC)
    assert len(table) == len(people.moments) + len(people.tasks) + len(people.watches)
    assert table["time_s"].is_monotonic_increasing
    grain = table[table["what"] == "Add the grain: 5.80 kg"].iloc[0]
    assert grain["earliest_clock"] < grain["at_clock"] < grain["latest_clock"]
    assert set(table["kind"]) == {
        "task", "step", "switch", "action", "addition", "lid", "boil", "watch", "end",
    }  # fmt: skip


def test_units_change_amounts_and_no_time(day):
    """Pounds and gallons, the same clock."""
    metric, us = clock_table(day, METRIC), clock_table(day, US)
    assert list(metric["at_clock"]) == list(us["at_clock"])
    assert any("lb" in what for what in us["what"])
    assert not any("lb" in what for what in metric["what"])


def test_presence_and_absence_take_turns(day):
    """In the room, away, in the room: the table has no gap and no overlap."""
    table = presence_table(day)
    assert list(table["in_the_room"]) == [place % 2 == 0 for place in range(len(table))]
    assert list(table["start_s"][1:]) == pytest.approx(list(table["end_s"][:-1]))
    assert table["what_for"].iloc[0].startswith("Set up and fill the vessel; Mill the grain")


def test_the_room_by_the_hour(day):
    """Hours of the local clock; the columns add up to the room's sums."""
    table, found = room_table(day), room_of(day)
    assert list(table["start_clock"][:3]) == ["06:30", "07:00", "08:00"]
    assert table["steam_kg"].sum() == pytest.approx(found.steam_kg)
    assert table["heat_kwh"].sum() == pytest.approx(found.heat_kwh)


def test_hours_of_a_clock_change_name_their_zone():
    """01:00 comes twice on 25 October in Ireland: the zone tells which."""
    night = answer(read_plan("demo"), None, datetime(2026, 10, 24, 23, 30, tzinfo=UTC))
    starts = list(room_table(night)["start_clock"])
    assert starts[:4] == ["00:30 IST", "01:00 IST", "01:00 GMT", "02:00 GMT"]
    assert len(set(clock_table(night, METRIC)["at_clock"])) > 10
    assert all(clock.endswith(("IST", "GMT")) for clock in clock_table(night, METRIC)["at_clock"])


def test_facts_as_a_table(day):
    """One row for each fact, with its word."""
    found = may_start_unattended(day.day, Said(), start=MORNING, zone=UTC)
    table = fact_table(found)
    assert list(table["state"]) == [fact.state for fact in found.facts]
    assert "unknown" in set(table["state"])


@pytest.mark.parametrize("show", [METRIC, US])
@pytest.mark.parametrize("plan", sorted(demo_plans()))
def test_texts_fit_a_terminal(plan, show):
    """No line is wider than 80 columns, also on a night of a clock change."""
    for start in (MORNING, datetime(2026, 10, 24, 23, 30, tzinfo=UTC)):
        found = answer(read_plan(plan), None, start)
        for part in (clock_text(found, show), presence_text(found), room_text(found, show)):
            assert max(len(line) for line in printed(part).splitlines()) <= 80


def test_who_must_be_there_is_said_with_the_earliest(day):
    """Planned from and to, the earliest beginning, what for; then the end of vessel and people."""
    text = " ".join(printed(presence_text(day)).split())
    people = people_day(day.day)
    clock = PeopleClock(day, people)
    stirring = next(presence for presence in people.presences if "Stir the grain in" in presence.why)
    begins, ends, earliest = (clock.at(s) for s in (stirring.begins_s, stirring.ends_s, stirring.earliest_s))
    assert f"{begins}-{ends} from {earliest} Add the grain; Stir the grain in" in text
    assert f"The vessel is done at {clock.at(people.vessel_ends_s)}, you are at {clock.at(people.ends_s)}" in text
    assert "stay within earshot" in text
    assert "safe" not in text.lower()


def test_one_sentence_names_every_stretch(day):
    """All stretches of the day, and no other time."""
    said = presence_sentence(day)
    people = people_day(day.day)
    clock = PeopleClock(day, people)
    for span in people.presences:
        assert f"{clock.at(span.begins_s)}-{clock.at(span.ends_s)}" in said
    assert said.count("-") == len(people.presences)


def test_people_are_done_after_the_vessel(day):
    """Rinsing comes after the cleaning step: 15 min, as usual (common practice, no source)."""
    people = people_day(day.day)
    assert people.ends_s == pytest.approx(people.vessel_ends_s + 15 * 60)
    assert done_sentence(day).startswith("The vessel is done at ")


def test_a_day_over_midnight_names_the_weekday():
    """Milled on Friday evening, mashed on Saturday."""
    late = answer(read_plan("demo"), None, datetime(2026, 12, 5, 0, 10, tzinfo=UTC))
    table = clock_table(late, METRIC)
    assert table["at_clock"].iloc[0].startswith("Fri 23:")
    assert not table["at_clock"].iloc[-1].startswith("Fri")


def test_the_document_of_people_is_in_utc_and_in_order(day):
    """Instants, earliest, latest; attended and unattended stretches meet."""
    found = json.loads(json.dumps(people_document(day)))
    for row in found["clock"]:
        assert moment_of(row["earliest"]) <= moment_of(row["time"]) <= moment_of(row["latest"])
    assert [row["time"] for row in found["clock"]] == sorted(row["time"] for row in found["clock"])
    for before, away, after in zip(found["attended"], found["unattended"], found["attended"][1:], strict=False):
        assert (before["end"], after["start"]) == (away["start"], away["end"])
    assert moment_of(found["begins"]) == MORNING - timedelta(minutes=35)
    assert found["tasks_from_plan"] is False
    drains = [
        row for row in people_document(answer(read_plan("lakeside"), None, MORNING))["clock"] if not row["attended"]
    ]
    assert {row["text"] for row in drains} == {"Let the basket drain over a bucket", "Chill the wort"}


def test_the_document_of_the_room_adds_up(day):
    """Sums over the hours, and the whole: what goes in goes somewhere."""
    found = room_document(day)
    for key in ("heat_kwh", "appliances_kwh", "vapour_kwh", "steam_kg"):
        assert sum(hour[key] for hour in found["by_hour"]) == pytest.approx(found[key])
    whole_kwh = found["heat_kwh"] + found["appliances_kwh"] + found["vapour_kwh"] + found["elsewhere_kwh"]
    assert whole_kwh == pytest.approx(day.day.energy_kwh)


def test_the_sentence_of_a_dry_day_speaks_of_no_steam():
    """With the lid on and no boil."""
    plan = read_plan("demo")
    dry = answer(plan.model_copy(update={"steps": plan.steps[:3], "second_heater": None}), None, MORNING)
    assert room_sentence(dry, METRIC).endswith("of heat and next to no steam.")


def test_steam_is_in_the_units_asked_for(day):
    """Kilograms or pounds, in sentence and heading."""
    assert "kg of steam" in room_sentence(day, METRIC)
    assert "lb of steam" in room_sentence(day, US)
    assert "steam lb" in printed(room_text(day, US))


def test_a_start_is_only_proposed_where_somebody_switches_on(day):
    """The stretches for the search of starts hold switching on and every boil, and every task."""
    stretches = attended_stretches(day.day)
    assert any(begins_s <= 0.0 <= ends_s for begins_s, ends_s in stretches)
    boil = next(phase for phase in day.day.phases if phase.phase == "boil")
    assert (boil.start_s, boil.end_s) in stretches
    assert min(begins_s for begins_s, _ in stretches) == -35 * 60.0


def test_rows_of_one_moment_read_from_what_begins_to_what_is_added(day):
    """A step, then what is done for it, then how long that takes."""
    rows = [row for row in clock_rows(day, METRIC) if row.step == "Saccharification"]
    assert [row.kind for row in rows] == ["step", "action", "task"]
