"""The facts that must hold before a vessel heats with nobody there: the answer, the stretches, the list."""

from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from typing import Any

from energyplan.advice.unattended import FACT_KEYS, MARGIN_M, Fact, Stretch, UnattendedCheck
from energyplan.base.errors import Place
from energyplan.base.kinds import CENTIMETRES, COUNT, KEY, KWH, MOMENT, WATTS, WORD, WRITTEN, Moment, counted
from energyplan.base.sentence import Sentence, listed
from energyplan.tariffs.clock import to_local
from energyplan.telling.day import MAINS_CAUTION, RATINGS_CAUTION
from energyplan.telling.told import Column, Facts, Table, Told

__all__ = ["NOT_SEEN", "QUESTIONS", "unattended_told"]

NOT_SEEN = Sentence(
    "Nothing here sees the vessel. Being there when it heats is the better way; the instructions, your insurer and "
    "local rules decide whether it may run alone at all."
)
#: What must hold, by the word for it.
QUESTIONS: dict[str, Sentence] = {
    "water": Sentence("Only water is in the vessel until somebody comes: no grain, no wort."),
    "circuit": Sentence("Nothing is over a rating while the vessel heats."),
    "heater": Sentence("The second heater's tank is full and closed, and its current ends by itself."),
    "later": Sentence("Somebody is about whenever something heats later on."),
    "level": Sentence("Water stands at least {margin} above the elements.", margin=CENTIMETRES(MARGIN_M)),
    "valve": Sentence("The valve is shut and capped, and you saw no drop."),
    "lid": Sentence("The lid is on."),
    "lead": Sentence("There is no extension lead, or it is unwound to its end."),
    "rcd": Sentence("A residual current device protects the outlet, and you pressed its test button."),
    "pump": Sentence("The pump is off in this stretch, or primed and its hoses are tight."),
    "limit": Sentence("The current ends by itself after a number of kWh, whoever sleeps on."),
    "alarm": Sentence("A smoke alarm that works is in the room, and you would hear it."),
    "instructions": Sentence("The instructions of vessel, outlet and timer allow it."),
    "reach": Sentence("No child and no animal can get to it."),
}
_SAID = {"yes": "you said so", "no": "you said no", "unknown": "nobody has said so"}
Why = Callable[[Mapping[str, Any]], Sentence]


def _level(said: str) -> Why:
    return lambda f: Sentence("{said}; as planned it stands {depth} deep, {above} above them", said=WORD(said),
                              depth=CENTIMETRES(f["depth_m"]), above=CENTIMETRES(f["above_m"]))  # fmt: skip


def _later(said: str) -> Why:
    return lambda f: Sentence("{said}; {steps} {heat} for hours", said=WORD(said),
                              steps=listed(WRITTEN(step) for step in f["steps"]),
                              heat=WORD("heats" if len(f["steps"]) == 1 else "heat"))  # fmt: skip


def _plain(words: str) -> Why:
    return lambda _: Sentence(words)


#: Why a fact is taken as it is, by the case in which it was judged.
WHY: dict[str, Why] = {
    **{f"said_{state}": _plain(words) for state, words in _SAID.items()},
    **{f"level_{state}": _level(words) for state, words in _SAID.items()},
    **{f"later_{state}": _later(words) for state, words in _SAID.items()},
    "as_planned": _plain("as planned"),
    "hands_at_once": _plain("the plan begins with something that needs hands"),
    "begins_with_wort": _plain("the plan has no grain but a gravity: the vessel begins with wort"),
    "grain_from_the_start": _plain("no step of the plan adds the grain: it would be in from the start"),
    "no_circuit": lambda _: Sentence("the plan has no {circuit}", circuit=KEY(Place("circuit"))),
    "within": lambda f: Sentence("within the ratings you entered, all day; {things} not known",
                                 things=counted(f["unknown"], "thing is", "things are"))
    if f["unknown"]
    else Sentence("within the ratings you entered, all day"),
    "over": lambda f: Sentence("over: {codes}", codes=listed(WORD(code.replace("_", " ")) for code in f["codes"])),
    "heater_off": _plain("none heats until somebody comes"),
    "none_later": _plain("hands are needed before hours pass"),
    "height_unknown": lambda f: Sentence(
        "the water stands {depth} deep; how high the elements reach is not known ({key})",
        depth=CENTIMETRES(f["depth_m"]), key=KEY("vessel.element_top"),
    ),
    "too_low": lambda f: Sentence("the planned water stands {depth} deep, {above} above the elements",
                                  depth=CENTIMETRES(f["depth_m"]), above=CENTIMETRES(f["above_m"])),
    "lid_open": lambda f: Sentence("the plan has it {steps}", steps=listed(
        Sentence("{state} at {step}", state=WORD(state), step=WRITTEN(step)) for state, step in f["steps"])),
    "no_lead": _plain("the plan has no lead"),
    "wound_up": _plain("the plan's lead is wound up"),
    "no_rcd": _plain("the plan's circuit has none"),
    "pump_off": _plain("the plan has it off"),
    "no_limit": lambda f: Sentence("no limit is given; planned until somebody comes: {planned}",
                                   planned=KWH(f["planned_kwh"])),
    "ends_too_soon": lambda f: Sentence("{limit} end before the water is hot; planned until somebody comes: {planned}",
                                        limit=KWH(f["limit_kwh"]), planned=KWH(f["planned_kwh"])),
    "cover_unknown": lambda f: Sentence(
        "whether {limit} keep the elements covered is not known: how high they reach ({key})",
        limit=KWH(f["limit_kwh"]), key=KEY("vessel.element_top"),
    ),
    "boils_down": lambda f: Sentence("if nothing switched off, {most} would boil the water down to the margin",
                                     most=KWH(f["most_kwh"])),
    "stays_covered": lambda f: Sentence(
        "{limit} leave the elements covered even if nothing switches off; planned until somebody comes: {planned}",
        limit=KWH(f["limit_kwh"]), planned=KWH(f["planned_kwh"]),
    ),
}  # fmt: skip


def unattended_told(found: UnattendedCheck, start: datetime, zone: str) -> Told:
    """The answer, the stretches without hands, the list; never a promise."""
    return Told(
        key="unattended",
        title="Heating with nobody there",
        headline=_headline(found),
        facts=_facts(found, start, zone),
        sentences=tuple(_stretches(found, start, zone)),
        tables=(_table(found),),
        cautions=(NOT_SEEN, MAINS_CAUTION, RATINGS_CAUTION),
    )


def _headline(found: UnattendedCheck) -> Sentence:
    every = COUNT(len(found.facts))
    if found.result == "refuse":
        return Sentence("Refused: {missing} of {every} facts are unknown or do not hold.",
                        missing=COUNT(len(found.reasons)), every=every)  # fmt: skip
    return Sentence("No objection found: all {every} facts hold, by your word and by the plan.", every=every)


def _stretches(found: UnattendedCheck, start: datetime, zone: str) -> list[Sentence]:
    stretch = found.stretch
    first = Sentence(
        "Heating with nobody there from {begins} to {ends}: {energy} as planned{heater}, and {after} on and on if "
        "nobody comes.",
        begins=MOMENT(_at(start, stretch.from_s, zone)), ends=MOMENT(_at(start, stretch.until_s, zone)),
        energy=KWH(stretch.energy_kwh), after=WATTS(found.power_after_w), heater=_heater(stretch),
    )  # fmt: skip
    later = [
        Sentence(
            "And from {begins} to {ends}: {energy} in {steps}{heater}.",
            begins=MOMENT(_at(start, one.from_s, zone)), ends=MOMENT(_at(start, one.until_s, zone)),
            energy=KWH(one.energy_kwh), steps=listed(WRITTEN(step) for step in one.steps), heater=_heater(one),
        )
        for one in found.later
    ]  # fmt: skip
    return [first, *later]


def _heater(stretch: Stretch) -> Sentence:
    return Sentence(", with the second heater's" if stretch.second_heater else "")


def _at(start: datetime, seconds: float, zone: str) -> Moment:
    return Moment(to_local(start + timedelta(seconds=seconds), zone), to_local(start, zone).date())


def _table(found: UnattendedCheck) -> Table:
    columns = (
        Column("state", "State", WORD, short=" "),
        Column("fact", "Word", WORD),
        Column("", "What must hold", WORD),
        Column("words", "What must hold", WORD, detail=2),
        Column("why", "Why it is taken so", WORD, detail=2),
        Column("asked", "Asked", WORD, detail=2),
    )
    rows = tuple(
        (fact.state, fact.key, _told(fact), QUESTIONS[fact.key], _why(fact), fact.key in FACT_KEYS)
        for fact in found.facts
    )
    return Table("facts", "Facts that must hold, and whether they do", columns, rows)


def _told(fact: Fact) -> Sentence:
    return Sentence("{words} ({why})", words=QUESTIONS[fact.key], why=_why(fact))


def _why(fact: Fact) -> Sentence:
    return WHY[fact.case](fact.facts)


def _facts(found: UnattendedCheck, start: datetime, zone: str) -> Facts:
    return {
        "result": WORD(found.result),
        "start": MOMENT(_at(start, 0.0, zone)),
        "until": MOMENT(_at(start, found.stretch.until_s, zone)),
        "time_zone": zone,
        "energy_kwh": KWH(found.stretch.energy_kwh),
        "power_after_w": WATTS(found.power_after_w),
        "water_depth_m": CENTIMETRES(found.water_depth_m),
        "later": [
            {
                "from": MOMENT(_at(start, one.from_s, zone)),
                "until": MOMENT(_at(start, one.until_s, zone)),
                "energy_kwh": KWH(one.energy_kwh),
                "steps": list(one.steps),
            }
            for one in found.later
        ],
        "reasons": [fact.key for fact in found.reasons],
    }
