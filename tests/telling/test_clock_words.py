"""What people do, word for word and row for row: by the clock, who must be there, the calendar, who is in the room."""

from typing import Any

import pytest

from energyplan.advice.people import Between, Moment, PeopleNote, Presence, TaskSpan
from energyplan.base.kinds import Style
from energyplan.base.sentence import words
from energyplan.day.tasks import Event
from energyplan.faces.frames import document
from energyplan.plan.model import Hours
from energyplan.telling.clock import clock_entries, clock_told, hands_sentence, moment_words, people_told, why_words
from energyplan.telling.files import calendar_told
from energyplan.telling.picture import presence_told
from tests.telling.shown import Begun, Given, headings, seen_rows, titles

MIN = 60.0


def moment(kind: Any, minute: float, **more: Any) -> Moment:
    """Something at a minute of the day, two minutes earlier or three later on eight days of ten."""
    given: dict[str, Any] = {"step": "Mash", "name": "", **more}
    return Moment(kind=kind, time_s=MIN * minute, earliest_s=MIN * (minute - 2), latest_s=MIN * (minute + 3), **given)


def event(kind: Any, **more: Any) -> Event:
    """An entry of the day's timeline."""
    return Event(**{"time_s": 0.0, "step": "Mash", "kind": kind, **more})


def span(name: str, begin: float, end: float, **more: Any) -> TaskSpan:
    """A task from minute to minute, ten minutes earlier or later."""
    given: dict[str, Any] = {"attended": True, "step": "Mash", "earliest_s": MIN * (begin - 10),
                             "latest_s": MIN * (end + 10), **more}  # fmt: skip
    return TaskSpan(name=name, begins_s=MIN * begin, ends_s=MIN * end, **given)


@pytest.mark.parametrize(
    ("given", "told", "us"),
    [
        (moment("switch", 0, name="Vessel"), "Switch on the vessel", "Switch on the vessel"),
        (moment("switch", 0, name="Second heater", power_w=1500.0), "Switch on: Second heater, 1500 W",
         "Switch on: Second heater, 1500 W"),
        (moment("switch", 0, name="Second heater"), "Switch on: Second heater, 0 W", "Switch on: Second heater, 0 W"),
        (moment("lid", 0, lid="on"), "Put the lid on", "Put the lid on"),
        (moment("lid", 0, lid="off"), "Take the lid off", "Take the lid off"),
        (moment("lid", 0, lid="ajar"), "Set the lid ajar", "Set the lid ajar"),
        (moment("boil", 0), "The boil begins", "The boil begins"),
        (moment("end", 0), "Switch off: the vessel is done", "Switch off: the vessel is done"),
        (moment("step", 0, event=event("step")), "Mash", "Mash"),
        (moment("step", 0, event=event("step", idle=True)), "Mash: nothing to heat or to hold, it is warm enough",
         "Mash: nothing to heat or to hold, it is warm enough"),
        (moment("action", 0, event=event("action", action="add grain", mass_kg=5.0)), "Add the grain: 5.00 kg",
         "Add the grain: 11.02 lb"),
        (moment("action", 0, event=event("action", action="remove grain")), "Lift the grain out", "Lift the grain out"),
        (moment("action", 0, event=event("action", action="add sparge water", volume_l=4.0, temperature_c=76.0)),
         "Sparge: 4 L at 76 °C", "Sparge: 1.06 gal at 168.8 °F"),
        (moment("action", 0, event=event("action", action="add water", volume_l=8.0)), "Add water: 8 L",
         "Add water: 2.11 gal"),
        (moment("action", 0, event=event("action", action="empty")), "Empty the vessel", "Empty the vessel"),
        (moment("addition", 0, event=event("addition", name="Bittering")), "Bittering", "Bittering"),
    ],
)  # fmt: skip
def test_a_moment_has_its_words(given: Moment, told: str, us: str) -> None:
    """What is done, with its amount and its temperature."""
    assert (words(moment_words(given)), words(moment_words(given), Style("us"))) == (told, us)


def test_reasons_stand_once_and_without_amounts() -> None:
    """Somebody is there for each of them."""
    grain = moment("action", 10, event=event("action", action="add grain", mass_kg=5.0))
    hops = moment("addition", 10, event=event("addition", name="Bittering"))
    watch = span("", 5, 20, watch="onset")
    first = span("", 5, 20, watch="addition")
    why = (grain, grain, hops, span("Stir", 5, 20), watch, first, moment("end", 30))
    presence = Presence(begins_s=0.0, ends_s=1.0, earliest_s=0.0, latest_s=1.0, why=why)
    assert words(why_words(presence)) == (
        "Add the grain; Bittering; Stir; Watch for boil-over; Watch for boil-over at the first addition; Switch off: "
        "the vessel is done"
    )


SWITCH = moment("switch", 0, name="Vessel", step="")
GRAIN = moment("action", 44, event=event("action", action="add grain", mass_kg=5.0))
MOMENTS = (
    moment("end", 60), moment("addition", 60, event=event("addition", name="Hops")), moment("boil", 60),
    moment("action", 60, event=event("action", action="remove grain")), moment("lid", 60, lid="on"),
    moment("step", 60, event=event("step")), moment("switch", 60, name="Second heater", power_w=1500.0), SWITCH,
    GRAIN,
)  # fmt: skip
STIR, DRAIN, WATCH = span("Stir", 44, 50), span("Drain", 60, 90, attended=False), span("", 60, 80, watch="onset")


def people(**more: Any) -> Given:
    """A day from 25 minutes before the start to an hour and a half after it."""
    there = (
        Presence(begins_s=-1500.0, ends_s=600.0, earliest_s=-1560.0, latest_s=660.0, why=(SWITCH,)),
        Presence(begins_s=2640.0, ends_s=3000.0, earliest_s=2640.0, latest_s=3100.0, why=(GRAIN, STIR)),
    )
    given = {
        "moments": MOMENTS, "tasks": (STIR, DRAIN), "watches": (WATCH,), "presences": there,
        "between": (Between(begins_s=600.0, ends_s=2640.0, heats=True),
                    Between(begins_s=3000.0, ends_s=5000.0, heats=False)),
        "begins_s": -1500.0, "ends_s": 5400.0, "latest_end_s": 6000.0, "vessel_ends_s": 4800.0, "draws": 60,
        "notes": (),
    }  # fmt: skip
    return Given(**{**given, **more})


def answered(**more: Any) -> Any:
    """The answer of that day."""
    plan = Given(title="Stout", tasks=(), hours=Hours(), batch=Given(water_l=26.0), steps=(),
                 vessel=Given(pump_w=0.0, standby_w=0.0, elements=()))  # fmt: skip
    day = Given(plan=plan, duration_s=4800.0, phases=(), profiles=(Given(edges_s=[0.0]),))
    return Begun(**{"people": people(), "learned": None, "keeps_hours": True, "day": day, **more})


def test_at_one_moment_what_is_over_comes_first_and_what_is_added_last() -> None:
    """End, switching on, step, lid, action, task, boil, watch, addition."""
    late = [entry.kind for entry in clock_entries(answered()) if entry.time_s == 3600.0]
    assert late == ["end", "switch", "step", "lid", "action", "task", "boil", "watch", "addition"]
    assert [entry.starts for entry in clock_entries(answered())] == [True, *[False] * 11]


def test_everything_by_the_clock() -> None:
    """When, between when and when, what, how long; what needs nobody says so."""
    told = clock_told(answered())
    table = told.table("clock")
    assert titles(told) == ["By the clock", "By the clock"]
    assert headings(table, 0, short=True) == ["At", "between", "What", "min"]
    seen = seen_rows(table)
    assert seen[:3] == [
        ["08:30", "08:28 to 08:33", "Switch on the vessel", ""],
        ["09:14", "09:12 to 09:17", "Add the grain: 5.00 kg", ""],
        ["09:14", "09:04 to 09:24", "Stir", "6"],
    ]
    assert ["09:30", "09:20 to 09:40", "Drain, nobody needed", "30"] in seen
    assert words(told.cautions[0]) == "Between: where eight days of ten lie, if the inputs are off as they usually are."
    learned = clock_told(answered(learned=Given(days=2))).cautions[0]
    assert words(learned).endswith("are, from 2 brewed days.")
    row = next(row for row in document(told)["clock"] if row["text"] == "Drain")
    assert row == {
        "time": "2026-12-05T09:30:00Z", "earliest": "2026-12-05T09:20:00Z", "latest": "2026-12-05T09:40:00Z",
        "text": "Drain", "minutes": 30.0, "attended": False, "kind": "task", "step": "Mash",
    }  # fmt: skip
    sure = Moment(kind="lid", step="Mash", name="", time_s=60.0, earliest_s=60.0, latest_s=80.0, lid="on")
    (only,) = seen_rows(clock_told(answered(people=people(moments=(sure,), tasks=(), watches=()))).table("clock"))
    assert only == ["08:31", "Put the lid on"]


def test_who_must_be_there() -> None:
    """The headline, both tables, and what is to be minded."""
    told = people_told(answered())
    assert words(told.headline) == (  # type: ignore[arg-type]
        "The vessel is done at 09:50, you are at 10:00 (at the latest 10:10), after 41 min in the room since 08:05."
    )
    assert words(told.sentences[0]) == "In between nothing needs hands; while anything heats, stay within earshot."
    attended, between = told.tables
    assert titles(told) == ["Who must be there", "In the room", "Nobody needed"]
    assert headings(attended, 0, short=True) == ["from", "until", "earliest", "What for"]
    assert seen_rows(attended) == [
        ["08:05", "08:40", "08:04", "Switch on the vessel"], ["09:14", "09:20", "", "Add the grain; Stir"],
    ]  # fmt: skip
    assert not between.at(1).columns
    facts = document(told)
    assert facts["unattended"] == [
        {"start": "2026-12-05T08:40:00Z", "end": "2026-12-05T09:14:00Z", "heats": True},
        {"start": "2026-12-05T09:20:00Z", "end": "2026-12-05T09:53:20Z", "heats": False},
    ]
    assert {key: facts[key] for key in ("begins", "ends", "latest_end", "vessel_ends", "hands_min", "draws",
                                        "tasks_from_plan")} == {
        "begins": "2026-12-05T08:05:00Z", "ends": "2026-12-05T10:00:00Z", "latest_end": "2026-12-05T10:10:00Z",
        "vessel_ends": "2026-12-05T09:50:00Z", "hands_min": 41.0, "draws": 60, "tasks_from_plan": False,
    }  # fmt: skip


NOTES = [
    (PeopleNote(code="no tasks"),
     "The plan names no tasks: what people do, and how long it takes, is common practice, no source."),
    (PeopleNote(code="at once", first="Stir", second="Sparge", minutes=6.0),
     'Two things at once for 6 min: "Stir" and "Sparge".'),
    (PeopleNote(code="not over", first="Drain", step="Cleaning", minutes=12.0),
     '"Drain" is not over when the vessel is emptied for "Cleaning": put a pause of 12 min before.'),
    (PeopleNote(code="as planned"),
     "Under other plausible inputs the day can't be brewed: earliest and latest are as planned."),
    (PeopleNote(code="left out", failed=3, draws=57), ("3 of 60 plausible days can't be brewed; they are left out "
                                                       "here.")),
]  # fmt: skip


@pytest.mark.parametrize(("note", "told"), NOTES, ids=lambda one: getattr(one, "code", ""))
def test_a_note_has_its_words(note: PeopleNote, told: str) -> None:
    """On tasks, and on how far the times can be trusted."""
    assert [words(one) for one in people_told(answered(people=people(notes=(note,)))).sentences[1:]] == [told]


def stretches(count: int) -> tuple[Presence, ...]:
    """So many stretches of a quarter of an hour, one an hour."""
    return tuple(
        Presence(begins_s=3600.0 * hour, ends_s=3600.0 * hour + 900, earliest_s=0.0, latest_s=0.0, why=())
        for hour in range(count)
    )


@pytest.mark.parametrize(
    ("count", "told"),
    [
        (2, "Hands are needed 08:30 to 08:45 and 09:30 to 09:45: 30 min in all."),
        (8, ("Hands are needed 08:30 to 08:45, 09:30 to 09:45, 10:30 to 10:45, 11:30 to 11:45, 12:30 to 12:45, 13:30 "
         "to 13:45, 14:30 to 14:45 and 15:30 to 15:45: 2 h in all.")),
        (9, ("Hands are needed 08:30 to 08:45, 09:30 to 09:45, 10:30 to 10:45, 11:30 to 11:45, 12:30 to 12:45, 13:30 "
         "to 13:45, 14:30 to 14:45 and 2 more stretches: 2 h 15 min in all.")),
    ],
)  # fmt: skip
def test_hands_are_told_in_at_most_eight_parts(count: int, told: str) -> None:
    """Of more the last are counted; the minutes are those of all."""
    assert words(hands_sentence(answered(people=people(presences=stretches(count))))) == told


def test_hours_that_are_not_kept_are_named() -> None:
    """Those that were entered."""
    plan = answered().day.plan.but(hours=Hours(earliest_min=540))
    found = answered(keeps_hours=False, day=answered().day.but(plan=plan), people=people(presences=stretches(1)))
    assert words(hands_sentence(found)) == (
        "Hands are needed 08:30 to 08:45: 15 min in all. This start does not keep the hours entered: not before 09:00."
    )


def test_the_calendar_reminds_ahead_of_what_needs_hands() -> None:
    """Minutes to get there, before the earliest that it may come; a task that begins with its action has none."""
    rows = {words(row["title"]): row for row in calendar_told(answered()).table("entries")}
    assert {title: row["remind_min"] for title, row in rows.items()} == {
        "Switch on: Stout": 7, "Add the grain: 5.00 kg": 7, "Stir": None, "Switch on: Second heater, 1500 W": 7,
        "Put the lid on": 4, "Lift the grain out": 7, "Hops": 4, "Switch off: the vessel is done": 2, "Drain": None,
        "Watch for boil-over": 15,
    }  # fmt: skip
    start = rows["Switch on: Stout"]
    assert (words(start["step"]) if not isinstance(start["step"], str) else start["step"]) == ""
    assert words(start["text"]).startswith("26 L of water in, elements covered. Mains current, water and 100 °C wort:")
    assert words(rows["Watch for boil-over"]["text"]) == "Stay beside the vessel until the foam has settled."
    assert words(rows["Stir"]["text"]) == "Step: Mash"
    seen = seen_rows(calendar_told(answered()).table("entries"))
    assert seen[0][:3] == ["08:30", "08:35", "switch"]
    drain = next(row for row in seen if row[4] == "Drain")
    assert drain[:3] == ["09:30", "10:00", "task"]
    apart = span("Stir", 46, 50), span("Mix", 45, 50)
    later = {words(row["title"]): row["remind_min"]
             for row in calendar_told(answered(people=people(tasks=apart))).table("entries")}  # fmt: skip
    assert (later["Stir"], later["Mix"]) == (15, None), "a minute after the grain it is something of its own"


def test_who_is_in_the_room_is_drawn_with_what_for() -> None:
    """In the room, away with and without heat; the picture begins with the people and ends with the vessel."""
    told = presence_told(answered())
    table, names, _ = told.tables
    assert titles(told) == ["In the room", "In the room", "Who", "Hours"]
    assert headings(table, 1)[2:4] == ["Who", "What for"]
    assert [row[2:5] for row in seen_rows(table)] == [
        ["In the room", "Switch on the vessel", "08:05 to 08:40"],
        ["Nobody needed, heating", "", "08:40 to 09:14"],
        ["In the room", "Add the grain; Stir", "09:14 to 09:20"],
        ["Nobody needed, off", "", "09:20 to 09:53"],
    ]
    assert [row[0] for row in seen_rows(names)] == ["In the room", "Nobody needed, heating", "Nobody needed, off"]
    assert words(told.headline) == (  # type: ignore[arg-type]
        "Who is in the room when. Hands are needed 08:05 to 08:40 and 09:14 to 09:20: 41 min in all. The tables "
        "below have the times."
    )
    facts = document(told)
    assert (facts["first_s"], facts["last_s"]) == (-1500.0, 5000.0)
    brief = answered(people=people(presences=stretches(1), between=()))
    assert (document(presence_told(brief))["first_s"], document(presence_told(brief))["last_s"]) == (0.0, 4800.0)
