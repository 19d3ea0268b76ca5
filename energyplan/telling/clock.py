"""The people's day told: what they do by the clock, when somebody must be in the room, when all are done."""

from collections.abc import Iterator
from typing import Literal

from energyplan.advice.answer import Answer
from energyplan.advice.people import Moment, PeopleDay, PeopleNote, Presence, TaskSpan
from energyplan.base.kinds import (
    CELSIUS,
    COUNT,
    KILOGRAMS,
    LITRES,
    MINUTES,
    MOMENT,
    WATTS,
    WORD,
    WRITTEN,
    Value,
    counted,
)
from energyplan.base.records import dataclass
from energyplan.base.sentence import NOTHING, Sayable, Sentence, Span, listed
from energyplan.day.supply import VESSEL
from energyplan.day.tasks import Event
from energyplan.plan.equipment import Hours
from energyplan.plan.steps import ActionKind, Lid
from energyplan.telling.phases import at
from energyplan.telling.told import Column, Table, Told, from_days

__all__ = [
    "EARSHOT",
    "ClockEntry",
    "EntryKind",
    "clock_entries",
    "clock_told",
    "done_sentence",
    "event_words",
    "hands_sentence",
    "moment_words",
    "people_told",
    "span_words",
    "why_words",
]

EntryKind = Literal["task", "step", "switch", "action", "addition", "lid", "boil", "watch", "end"]

MOST_STRETCHES = 8

# At one moment: what is over comes first, then what is done, then what begins and lasts.
_ORDER: dict[EntryKind, int] = {
    "end": 0,
    "switch": 1,
    "step": 2,
    "lid": 3,
    "action": 4,
    "task": 5,
    "boil": 6,
    "watch": 7,
    "addition": 8,
}
_ACTIONS: dict[ActionKind, str] = {
    "add grain": "Add the grain",
    "remove grain": "Lift the grain out",
    "add sparge water": "Sparge",
    "empty": "Empty the vessel",
    "add water": "Add water",
}
_LIDS: dict[Lid, str] = {"on": "Put the lid on", "off": "Take the lid off", "ajar": "Set the lid ajar"}
EARSHOT = Sentence("In between nothing needs hands; while anything heats, stay within earshot.")


# Words ------------------------------------------------------------------------------------------------------------


def moment_words(moment: Moment) -> Sayable:
    """What happens at one moment."""
    if moment.event is not None:
        return event_words(moment.event)
    if moment.kind == "switch" and moment.name == VESSEL:
        return WORD("Switch on the vessel")
    if moment.kind == "switch":
        watts = WATTS(moment.power_w or 0.0)
        return Sentence("Switch on: {name}, {watts}", name=WORD(moment.name), watts=watts)
    if moment.lid is not None:
        return WORD(_LIDS[moment.lid])
    return WORD("The boil begins" if moment.kind == "boil" else "Switch off: the vessel is done")


def event_words(event: Event) -> Sayable:
    """An entry of the day's timeline, with what goes in."""
    if event.kind == "step":
        name = WRITTEN(event.step)
        return Sentence("{name}: nothing to heat or to hold, it is warm enough", name=name) if event.idle else name
    name = WRITTEN(event.name) if event.action is None else WORD(_ACTIONS[event.action])
    amounts: list[Sayable] = []
    if event.mass_kg is not None:
        amounts.append(KILOGRAMS(event.mass_kg))
    if event.volume_l is not None:
        amounts.append(LITRES(event.volume_l))
    if not amounts:
        return name
    amount = amounts[0]
    if event.temperature_c is not None:
        amount = Sentence("{amount} at {temperature}", amount=amount, temperature=CELSIUS(event.temperature_c))
    return Sentence("{name}: {amount}", name=name, amount=amount)


def span_words(span: TaskSpan) -> Value:
    """What lasts a while: a task, or watching a boil."""
    if span.watch is None:
        return WRITTEN(span.name)
    return WORD("Watch for boil-over" if span.watch == "onset" else "Watch for boil-over at the first addition")


def why_words(presence: Presence) -> Sayable:
    """What somebody is there for, each reason once."""
    named = [span_words(one) if isinstance(one, TaskSpan) else _short(one) for one in presence.why]
    return listed({str(words): words for words in named}.values(), last=";")


def _short(moment: Moment) -> Sayable:
    """What happens at a moment, without amounts."""
    event = moment.event
    if event is None:
        return moment_words(moment)
    return WRITTEN(event.name) if event.action is None else WORD(_ACTIONS[event.action])


# By the clock -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockEntry:
    """Something that people do: when [s from the start], from when to when on eight days of ten, how long it takes.

    ``starts`` marks the switching on of the vessel.
    """

    time_s: float
    earliest_s: float
    latest_s: float
    kind: EntryKind
    step: str
    words: Sayable
    minutes: float | None = None
    attended: bool = True
    starts: bool = False


def clock_entries(answer: Answer) -> tuple[ClockEntry, ...]:
    """What people do, in the order of the clock."""
    return tuple(sorted(_entries(answer.people), key=lambda entry: (entry.time_s, _ORDER[entry.kind])))


def _entries(people: PeopleDay) -> Iterator[ClockEntry]:
    for moment in people.moments:
        yield ClockEntry(
            time_s=moment.time_s,
            earliest_s=moment.earliest_s,
            latest_s=moment.latest_s,
            kind=moment.kind,
            step=moment.step,
            words=moment_words(moment),
            starts=moment.kind == "switch" and moment.name == VESSEL,
        )
    for span in (*people.tasks, *people.watches):
        lasts_s = span.ends_s - span.begins_s
        yield ClockEntry(
            time_s=span.begins_s,
            earliest_s=span.earliest_s,
            latest_s=span.latest_s - lasts_s,
            kind="watch" if span.watch else "task",
            step=span.step,
            words=span_words(span),
            minutes=lasts_s / 60,
            attended=span.attended,
        )


def clock_told(answer: Answer) -> Told:
    """Everything that people do, with how early and how late it may come."""
    columns = (
        Column("time", "At", MOMENT),
        Column("", "Between", WORD, short="between"),
        Column("earliest", "Earliest", MOMENT, detail=2),
        Column("latest", "Latest", MOMENT, detail=2),
        Column("", "What", WORD),
        Column("text", "What", WORD, detail=2),
        Column("minutes", "Takes", MINUTES, short="min"),
        Column("attended", "Somebody there", WORD, detail=2),
        Column("kind", "Kind", WORD, detail=2),
        Column("step", "Step", WRITTEN, detail=2),
    )
    rows = tuple(_clock_row(answer, entry) for entry in clock_entries(answer))
    return Told(
        key="clock",
        title="By the clock",
        tables=(Table("clock", "By the clock", columns, rows),),
        cautions=(_eight_of_ten(answer),),
    )


def _clock_row(answer: Answer, entry: ClockEntry) -> tuple[object, ...]:
    earliest, latest = at(answer, entry.earliest_s), at(answer, entry.latest_s)
    between = None if str(earliest) == str(latest) else Span(MOMENT, earliest.raw, latest.raw)
    said = entry.words if entry.attended else Sentence("{task}, nobody needed", task=entry.words)
    time = at(answer, entry.time_s).raw
    return (
        time,
        between,
        earliest.raw,
        latest.raw,
        said,
        entry.words,
        entry.minutes,
        entry.attended,
        entry.kind,
        entry.step,
    )


def _eight_of_ten(answer: Answer) -> Sentence:
    return Sentence(
        "Between: where eight days of ten lie, if the inputs are off as they usually are{days}.",
        days=from_days(answer.learned.days if answer.learned else 0),
    )


# Who must be there ------------------------------------------------------------------------------------------------


def hands_sentence(answer: Answer) -> Sentence:
    """When hands are needed, for how long in all, and whether that is within the hours entered."""
    people = answer.people
    stretches: list[Sayable] = [
        Span(MOMENT, at(answer, span.begins_s).raw, at(answer, span.ends_s).raw) for span in people.presences
    ]
    if len(stretches) > MOST_STRETCHES:
        left = len(stretches) - MOST_STRETCHES + 1
        stretches = [*stretches[: MOST_STRETCHES - 1], counted(left, "more stretch", "more stretches")]
    return Sentence(
        "Hands are needed {stretches}: {minutes} in all.{hours}",
        stretches=listed(stretches),
        minutes=MINUTES(_hands_min(people)),
        hours=NOTHING if answer.keeps_hours else _hours_broken(answer.day.plan.hours),
    )


def _hours_broken(hours: Hours) -> Sentence:
    from energyplan.telling.starts import hours_told

    return Sentence(" This start does not keep the hours entered: {hours}.", hours=hours_told(hours) or NOTHING)


def _hands_min(people: PeopleDay) -> float:
    return sum(presence.ends_s - presence.begins_s for presence in people.presences) / 60


def done_sentence(answer: Answer) -> Sentence:
    """When the vessel is done, and when its people are."""
    people = answer.people
    return Sentence(
        "The vessel is done at {vessel}, you are at {you} (at the latest {latest}), after {minutes} in the room since "
        "{begins}.",
        vessel=at(answer, people.vessel_ends_s),
        you=at(answer, people.ends_s),
        latest=at(answer, people.latest_end_s),
        minutes=MINUTES(_hands_min(people)),
        begins=at(answer, people.begins_s),
    )


def people_told(answer: Answer) -> Told:
    """When somebody must be in the room and what for, and when vessel and people are done."""
    people = answer.people
    ends = {"begins": people.begins_s, "ends": people.ends_s, "latest_end": people.latest_end_s}
    return Told(
        key="people",
        title="Who must be there",
        headline=done_sentence(answer),
        facts={
            **{key: at(answer, time_s) for key, time_s in ends.items()},
            "vessel_ends": at(answer, people.vessel_ends_s),
            "hands_min": MINUTES(_hands_min(people)),
            "draws": COUNT(people.draws),
            "tasks_from_plan": bool(answer.day.plan.tasks),
        },
        sentences=(EARSHOT, *(_note(note) for note in people.notes)),
        tables=(_presences(answer, people), _between(answer, people)),
    )


def _presences(answer: Answer, people: PeopleDay) -> Table:
    columns = (
        Column("start", "From", MOMENT, short="from"),
        Column("end", "Until", MOMENT, short="until"),
        Column("", "Earliest", MOMENT, short="earliest"),
        Column("earliest", "Earliest", MOMENT, detail=2),
        Column("latest", "Latest", MOMENT, detail=2),
        Column("why", "What for", WORD),
    )
    rows = []
    for span in people.presences:
        early, begins = at(answer, span.earliest_s), at(answer, span.begins_s)
        earlier = None if str(early) == str(begins) else early.raw
        end, latest = at(answer, span.ends_s).raw, at(answer, span.latest_s).raw
        rows.append((begins.raw, end, earlier, early.raw, latest, why_words(span)))
    return Table("attended", "In the room", columns, tuple(rows))


def _between(answer: Answer, people: PeopleDay) -> Table:
    columns = (
        Column("start", "From", MOMENT, detail=2),
        Column("end", "Until", MOMENT, detail=2),
        Column("heats", "Heats", WORD, detail=2),
    )
    rows = [(at(answer, span.begins_s).raw, at(answer, span.ends_s).raw, span.heats) for span in people.between]
    return Table("unattended", "Nobody needed", columns, tuple(rows))


def _note(note: PeopleNote) -> Sentence:
    first, second, step = (WRITTEN(text) for text in (note.first, note.second, note.step))
    minutes = MINUTES(note.minutes)
    if note.code == "no tasks":
        said = "The plan names no tasks: what people do, and how long it takes, is common practice, no source."
        return Sentence(said)
    if note.code == "at once":
        return Sentence('Two things at once for {minutes}: "{first}" and "{second}".', minutes=minutes, first=first,
                        second=second)  # fmt: skip
    if note.code == "not over":
        said = '"{first}" is not over when the vessel is emptied for "{step}": put a pause of {minutes} before.'
        return Sentence(said, first=first, step=step, minutes=minutes)
    if note.code == "as planned":
        return Sentence("Under other plausible inputs the day can't be brewed: earliest and latest are as planned.")
    of = COUNT(note.failed + note.draws)
    return Sentence("{failed} of {of} plausible days can't be brewed; they are left out here.",
                    failed=COUNT(note.failed), of=of)  # fmt: skip
