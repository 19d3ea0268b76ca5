"""Tests of the calendar: read back by icalendar and by a strict reader of RFC 5545 written here."""

import re
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import icalendar
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from energyplan.advice.answer import Answer, answer
from energyplan.advice.people import people_day
from energyplan.base.kinds import Style
from energyplan.base.sentence import words
from energyplan.day.brewday import simulate
from energyplan.day.legs import Conditions
from energyplan.faces import files as calendar
from energyplan.plan.file import demo_plans, parse_plan
from energyplan.plan.model import Plan
from energyplan.telling.clock import event_words, moment_words
from energyplan.telling.files import calendar_told

DAY = datetime(2026, 12, 5, 8, 30, tzinfo=UTC)
STAMP = datetime(2026, 11, 1, 12, 0, tzinfo=UTC)


def answered(start: datetime = DAY, title: str = "Porter, for the reading room; third try") -> Answer:
    """An invented day: the packaged plan under a title with characters that iCalendar escapes."""
    text = demo_plans()["demo"]
    return answer(parse_plan(text.replace("Oat stout for the village hall", title), source="test"), None, start)


@pytest.fixture(scope="module")
def day() -> Answer:
    """The day that most tests look at."""
    return answered()


def calendar_ics(found: Answer, *, style: Style | None = None, stamp: datetime | None = None) -> bytes:
    """The calendar of an answer."""
    return calendar.calendar_ics(calendar_told(found), style or Style(), stamp=stamp)


def entries(ics: bytes) -> list[icalendar.Event]:
    """Events of a file, read by icalendar."""
    return list(icalendar.Calendar.from_ical(ics).walk("VEVENT"))


def strictly_read(ics: bytes) -> dict:
    """Read a file by the rules of RFC 5545, sections 3.1 and 3.4; anything loose is an error."""
    text = ics.decode("utf-8")
    assert text.endswith("\r\n"), "every line ends in CRLF"
    assert "\n" not in text.replace("\r\n", ""), "no bare line feeds"
    assert all(len(line.encode()) <= 75 for line in text.split("\r\n")), "lines are folded at 75 octets"
    root: dict = {"name": "", "props": [], "parts": []}
    stack = [root]
    for line in text.replace("\r\n ", "").removesuffix("\r\n").split("\r\n"):
        found = re.fullmatch(r"([A-Z0-9-]+)((?:;[A-Z0-9-]+=[^;:,\"]+)*):(.*)", line)
        assert found, f"no content line: {line!r}"
        name, params, value = found.groups()
        if name == "BEGIN":
            stack.append({"name": value, "props": [], "parts": []})
            stack[-2]["parts"].append(stack[-1])
        elif name == "END":
            assert stack.pop()["name"] == value
        else:
            stack[-1]["props"].append((name, params, value))
    assert stack == [root], "every component ends"
    return root["parts"][0]


def value_of(part: dict, name: str) -> str:
    """The one value of a property."""
    values = [value for key, _, value in part["props"] if key == name]
    assert len(values) == 1, f"{name} must stand once"
    return values[0]


def plain(value: str) -> str:
    """A TEXT value without its escapes (RFC 5545, 3.3.11)."""
    assert not re.search(r"(?<!\\)(?:\\\\)*[,;]", value), "commas and semicolons are escaped"
    return re.sub(r"\\([\\,;nN])", lambda m: "\n" if m[1] in "nN" else m[1], value)


def test_a_strict_reader_finds_a_calendar_with_all_that_the_standard_demands(day: Answer) -> None:
    """VERSION, PRODID, and in every event UID, DTSTAMP, DTSTART before DTEND, all in UTC (RFC 5545, 3.6 and 3.6.1)."""
    calendar = strictly_read(calendar_ics(day, stamp=STAMP))
    assert calendar["name"] == "VCALENDAR"
    assert value_of(calendar, "VERSION") == "2.0"
    assert value_of(calendar, "PRODID")
    assert {part["name"] for part in calendar["parts"]} == {"VEVENT"}
    for event in calendar["parts"]:
        assert value_of(event, "DTSTAMP") == "20261101T120000Z"
        begin, end = value_of(event, "DTSTART"), value_of(event, "DTEND")
        assert re.fullmatch(r"\d{8}T\d{6}Z", begin)
        assert re.fullmatch(r"\d{8}T\d{6}Z", end)
        assert begin < end
        assert value_of(event, "UID")
        assert plain(value_of(event, "SUMMARY"))


def test_both_readers_agree(day: Answer) -> None:
    """The library and the strict reader see the same titles at the same instants."""
    ics = calendar_ics(day, stamp=STAMP)
    strict = [(plain(value_of(part, "SUMMARY")), value_of(part, "DTSTART")) for part in strictly_read(ics)["parts"]]
    library = [(str(event["SUMMARY"]), f"{event.decoded('DTSTART'):%Y%m%dT%H%M%SZ}") for event in entries(ics)]
    assert strict == library


def test_a_title_with_commas_and_semicolons_survives(day: Answer) -> None:
    """The title is escaped on the way out and whole on the way in."""
    titles = [str(event["SUMMARY"]) for event in entries(calendar_ics(day))]
    assert "Switch on: Porter, for the reading room; third try" in titles


def test_events_of_the_day_stand_at_their_instants(day: Answer) -> None:
    """Grain in, lift, sparge, additions: all there, each at start plus seconds, to the second."""
    found = {(str(e["SUMMARY"]), e.decoded("DTSTART")) for e in entries(calendar_ics(day))}
    done = [event for event in day.day.events if event.kind != "step"]
    assert {event.action or event.name for event in done} >= {"add grain", "remove grain", "Bittering hops"}
    for event in done:
        assert (words(event_words(event)), day.start + timedelta(seconds=round(event.time_s))) in found


def test_additions_count_from_the_onset_of_the_boil(day: Answer) -> None:
    """Hops with 60 of 70 minutes left go in 10 minutes after the boil begins, not after its ramp does."""
    at = {str(e["SUMMARY"]): e.decoded("DTSTART") for e in entries(calendar_ics(day))}
    waited = at["Bittering hops"] - at["Boil: boil"]
    assert abs(waited - timedelta(minutes=10)) <= timedelta(seconds=1)
    assert at["Boil: ramp"] < at["Boil: boil"]


def test_what_needs_a_person_has_an_alarm_and_phases_have_none(day: Answer) -> None:
    """Every VALARM has ACTION, DESCRIPTION and a TRIGGER not after its event (RFC 5545, 3.6.6).

    Tasks that begin with something that has one need none of their own.
    """
    calendar = strictly_read(calendar_ics(day))
    without = {f"{phase.step}: {phase.phase}" for phase in day.day.phases}
    without |= {"Stir the grain in", "Lift, drain and sparge"}
    for event in calendar["parts"]:
        is_without = plain(value_of(event, "SUMMARY")) in without
        assert [part["name"] for part in event["parts"]] == ([] if is_without else ["VALARM"])
        for alarm in event["parts"]:
            assert value_of(alarm, "ACTION") == "DISPLAY"
            assert value_of(alarm, "DESCRIPTION") == value_of(event, "SUMMARY")
            assert re.fullmatch(r"-PT(\d+H)?(\d+M)?|-?PT0S|P", value_of(alarm, "TRIGGER"))


def triggers(ics: bytes) -> dict[str, timedelta]:
    """How long before its event each alarm comes."""
    return {
        str(event["SUMMARY"]): -alarm.decoded("TRIGGER") for event in entries(ics) for alarm in event.walk("VALARM")
    }


def test_alarms_come_at_the_early_end(day: Answer) -> None:
    """A quarter of the days have mains of 103 % or more: 106 % of the power, so that ramps may end 6 % early and more.

    All inputs at their fast ends together bound it: but for the minutes to get there, no alarm comes before that.
    """
    ahead = triggers(calendar_ics(day))
    grain_s = next(event.time_s for event in day.day.events if event.action == "add grain")
    ramp_s = grain_s - 300.0  # a hold of 5 min follows it
    fastest = simulate(
        day.day.plan,
        Conditions(air_c=16.0, water_c=15.0, loss_factor=0.75, element_factor=1.05, voltage_v=230 * 1.06),
        extract=day.day.wort.extract_kg,
    )
    at_best_s = next(event.time_s for event in fastest.events if event.action == "add grain")
    early_s = ahead["Add the grain: 5.80 kg"].total_seconds() - 300.0
    assert 0.06 * ramp_s < early_s < grain_s - at_best_s + 60.0
    assert ahead["Switch on: Porter, for the reading room; third try"] == timedelta(minutes=5)
    assert ahead["Bittering hops"] < ahead["Watch for boil-over"]


def test_the_second_heater_is_switched_on_by_hand(day: Answer) -> None:
    """Its switching on is an entry of its own, so long before the sparge as its water takes."""
    at = {str(e["SUMMARY"]): e.decoded("DTSTART") for e in entries(calendar_ics(day))}
    heater = day.day.profiles[1]
    sparge = next(event.time_s for event in day.day.events if event.action == "add sparge water")
    assert float(heater.edges_s[-1]) == pytest.approx(sparge)
    taken = at["Sparge: 5 L at 75 °C"] - at["Switch on: Second heater, 1500 W"]
    assert taken.total_seconds() == pytest.approx(float(heater.edges_s[-1] - heater.edges_s[0]), abs=1)


def test_phases_are_shown_as_free_time(day: Answer) -> None:
    """A phase lasts as long as it is planned and blocks nobody's calendar."""
    by_title = {str(e["SUMMARY"]): e for e in entries(calendar_ics(day))}
    boil = by_title["Boil: boil"]
    assert boil["TRANSP"] == "TRANSPARENT"
    assert abs(boil.decoded("DTEND") - boil.decoded("DTSTART") - timedelta(minutes=70)) <= timedelta(seconds=1)
    assert "set 2200 W" in str(boil["DESCRIPTION"])
    assert "elements off" in str(by_title["Sparge: pause"]["DESCRIPTION"])


def test_uids_are_unique_and_stay(day: Answer) -> None:
    """The same day exported again, in other units or at another time, keeps its UIDs."""
    first = [str(event["UID"]) for event in entries(calendar_ics(day, stamp=STAMP))]
    again = [str(event["UID"]) for event in entries(calendar_ics(answered(), style=Style("us")))]
    assert len(set(first)) == len(first)
    assert first == again


def test_uids_of_another_day_are_others(day: Answer) -> None:
    """Another start, or another plan, shares no UID: imports don't overwrite each other."""
    first = {str(event["UID"]) for event in entries(calendar_ics(day))}
    later = {str(event["UID"]) for event in entries(calendar_ics(answered(DAY + timedelta(days=7))))}
    other = {str(event["UID"]) for event in entries(calendar_ics(answered(title="Rye ale")))}
    assert not first & later
    assert not first & other


def test_a_clock_change_moves_no_instant(day: Answer) -> None:
    """A day across the end of summer time has the same distances in UTC as any other."""
    changing = datetime(2026, 10, 25, 1, 10, tzinfo=ZoneInfo("Europe/Dublin"))
    across = answered(changing.astimezone(UTC))
    assert across.clock(0).utcoffset() != across.clock(across.day.duration_s).utcoffset()
    ordinary = [event.decoded("DTSTART") - day.start for event in entries(calendar_ics(day))]
    moved = [event.decoded("DTSTART") - across.start for event in entries(calendar_ics(across))]
    assert ordinary == moved
    begun = [e for e in entries(calendar_ics(across)) if str(e["SUMMARY"]).startswith("Switch on: Porter")]
    assert begun[0].decoded("DTSTART") == datetime(2026, 10, 25, 0, 10, tzinfo=UTC)


def test_without_a_stamp_the_bytes_are_the_same(day: Answer) -> None:
    """No clock is read: the same input gives the same file."""
    assert calendar_ics(day) == calendar_ics(answered())


def test_a_phase_shorter_than_a_second_still_ends_after_it_begins() -> None:
    """DTEND must be later than DTSTART (RFC 5545, 3.8.2.2), also where both round to one second."""
    text = demo_plans()["demo"]
    text = text.replace("Oat stout for the village hall", "Blink").replace('hold = "5 min"', 'hold = "0.2 s"')
    blink = answer(parse_plan(text, source="test"), None, DAY)
    assert min(phase.duration_s for phase in blink.day.phases) < 0.5
    for event in entries(calendar_ics(blink)):
        assert event.decoded("DTEND") > event.decoded("DTSTART")


@given(plan=st.from_type(Plan))
@settings(max_examples=8)
def test_alarms_of_any_day_come_before_the_earliest_time(plan: Plan) -> None:
    """The strict reader takes it, UIDs are unique, and no alarm of a moment comes after its earliest time."""
    found = answer(plan, None, DAY)
    ics = calendar_ics(found)
    calendar = strictly_read(ics)
    uids = [value_of(part, "UID") for part in calendar["parts"]]
    assert len(set(uids)) == len(uids)
    alarms = {
        (str(event["SUMMARY"]), event.decoded("DTSTART")): event.decoded("DTSTART") + alarm.decoded("TRIGGER")
        for event in entries(ics) for alarm in event.walk("VALARM")
    }  # fmt: skip
    for moment in people_day(found.day).moments:
        if moment.kind in ("action", "addition"):
            title = words(moment_words(moment))
            rings = alarms[title, found.start + timedelta(seconds=round(moment.time_s))]
            assert rings <= found.start + timedelta(seconds=moment.earliest_s + 0.5)


# Sunday 2026-10-25: Europe/Dublin goes from +01:00 to +00:00 at 01:00 UTC.
def test_another_parser_reads_the_same_across_a_clock_change() -> None:
    """The library vobject finds the same UIDs and instants as icalendar, on the night when the clocks go back."""
    import warnings

    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        import vobject

        ics = calendar_ics(answered(datetime(2026, 10, 24, 23, 30, tzinfo=UTC)), stamp=STAMP)
        read = {str(event.uid.value): event.dtstart.value for event in vobject.readOne(ics.decode()).vevent_list}
    ours = {str(event["UID"]): event.decoded("DTSTART") for event in entries(ics)}
    assert len(ours) > 5
    assert {uid: moment.astimezone(UTC) for uid, moment in read.items()} == ours
