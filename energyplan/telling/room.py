"""The room told: the heat and the steam that a day puts into it, and at which hours."""

from energyplan.advice.answer import Answer
from energyplan.advice.room import Room, room
from energyplan.base.kinds import KILOGRAMS, KWH, MOMENT, Value
from energyplan.base.sentence import Sentence, Span
from energyplan.telling.day import at
from energyplan.telling.told import Column, Table, Told

__all__ = ["room_told"]

LEAST_STEAM_KG = 0.05


def room_told(answer: Answer) -> Told:
    """What the room gets: heat and steam, hour by hour of the clock."""
    found = room(answer.day, answer.start, answer.zone)
    sums = {"heat_kwh": found.heat_kwh, "appliances_kwh": found.appliances_kwh, "vapour_kwh": found.vapour_kwh}
    elsewhere = KWH(found.elsewhere_kwh)
    sentences = [
        Sentence("The other {elsewhere} leave with wort, grain and water, or are still in the vessel.",
                 elsewhere=elsewhere)
    ]  # fmt: skip
    if found.stands:
        sentences.append(
            Sentence(
                "The pause before the vessel is emptied counts as standing wort; a chiller takes most of its heat away."
            )
        )
    return Told(
        key="room",
        title="The room",
        headline=_headline(answer, found),
        facts={
            **{key: KWH(value) for key, value in sums.items()},
            "steam_kg": KILOGRAMS(found.steam_kg),
            "elsewhere_kwh": elsewhere,
        },
        sentences=tuple(sentences),
        tables=(_hours(answer, found),),
    )


def _headline(answer: Answer, found: Room) -> Sentence:
    warms = KWH(found.heat_kwh + found.appliances_kwh)
    if found.steam_kg < LEAST_STEAM_KG:
        return Sentence("The room gets {warms} of heat and next to no steam.", warms=warms)
    most = found.steamiest
    return Sentence(
        "The room gets {warms} of heat and {steam} of steam, {most} of it from {hour}. The steam carries another "
        "{vapour} out of the window, or to the walls on which it condenses.",
        warms=warms,
        steam=KILOGRAMS(found.steam_kg),
        most=KILOGRAMS(most.steam_kg),
        hour=Span(MOMENT, _clock(answer, most.begins).raw, _clock(answer, most.ends).raw),
        vapour=KWH(found.vapour_kwh),
    )


def _clock(answer: Answer, moment: object) -> Value:
    return at(answer, (moment - answer.start).total_seconds())  # type: ignore[operator]


def _hours(answer: Answer, found: Room) -> Table:
    columns = (
        Column("start", "From", MOMENT, short="from"),
        Column("end", "Until", MOMENT, short="until", detail=1),
        Column("heat_kwh", "Heat", KWH, short="heat kWh"),
        Column("appliances_kwh", "Pump and leads", KWH, short="pump, leads kWh"),
        Column("steam_kg", "Steam", KILOGRAMS),
        Column("vapour_kwh", "Carried by steam", KWH, short="with it kWh"),
    )
    rows = tuple(
        (
            _clock(answer, hour.begins).raw,
            _clock(answer, hour.ends).raw,
            hour.heat_kwh,
            hour.appliances_kwh,
            hour.steam_kg,
            hour.vapour_kwh,
        )
        for hour in found.hours
    )
    return Table("by_hour", "Hour by hour", columns, rows)
