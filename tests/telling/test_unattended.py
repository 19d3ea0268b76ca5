"""Heating with nobody there, word for word: the answer, the stretches, every fact and why it is taken so."""

from datetime import UTC, datetime
from typing import Any

import pytest

from energyplan.advice.unattended import FACT_KEYS, Fact, Stretch, UnattendedCheck
from energyplan.base.sentence import words
from energyplan.faces.frames import document
from energyplan.telling.unattended import QUESTIONS, WHY, unattended_told
from tests.telling.shown import headings, seen_rows, titles

START = datetime(2026, 12, 5, 22, 30, tzinfo=UTC)


def checked(*facts: Fact, **more: Any) -> UnattendedCheck:
    """A stretch of six hours from 22:30 on; two hours of 3.1 kWh are followed by 350 W on and on."""
    stretch = Stretch(from_s=0.0, until_s=21600.0, energy_kwh=3.1, second_heater=False, steps=("Strike",))
    refuse = any(fact.state != "yes" for fact in facts)
    given: dict[str, Any] = {"result": "refuse" if refuse else "no objection", "facts": facts, "stretch": stretch,
                             "later": (), "power_after_w": 350.0, "water_depth_m": 0.25}  # fmt: skip
    return UnattendedCheck(**{**given, **more})


def test_the_answer_counts_the_facts() -> None:
    """What is unknown or does not hold refuses; where all hold there is no objection, and never a promise."""
    yes, no, unknown = (Fact(key="lid", state=state, case=f"said_{state}") for state in ("yes", "no", "unknown"))
    told = unattended_told(checked(yes, no, unknown), START, "Europe/Dublin")
    assert words(told.headline) == "Refused: 2 of 3 facts are unknown or do not hold."  # type: ignore[arg-type]
    assert document(told)["reasons"] == ["lid", "lid"]
    fine = unattended_told(checked(yes, yes), START, "Europe/Dublin")
    assert words(fine.headline) == (  # type: ignore[arg-type]
        "No objection found: all 2 facts hold, by your word and by the plan."
    )
    assert next(words(one) for one in fine.cautions) == (
        "Nothing here sees the vessel. Being there when it heats is the better way; the instructions, your insurer and "
        "local rules decide whether it may run alone at all."
    )
    assert len(fine.cautions) == 3


def test_the_stretches_have_their_hours_and_energy() -> None:
    """The first with what goes on if nobody comes, each later one with its steps; the second heater where on."""
    later = (
        Stretch(from_s=28800.0, until_s=36000.0, energy_kwh=1.2, second_heater=True, steps=("Mash", "Mash-out")),
        Stretch(from_s=39600.0, until_s=43200.0, energy_kwh=0.3, second_heater=False, steps=("Boil",)),
    )
    told = unattended_told(checked(later=later), START, "Europe/Dublin")
    assert [words(one) for one in told.sentences] == [
        (
            "Heating with nobody there from 22:30 to Sun 6 Dec 04:30: 3.10 kWh as planned, and 350 W on and on if "
            "nobody comes."
        ),
        "And from Sun 6 Dec 06:30 to Sun 6 Dec 08:30: 1.20 kWh in Mash and Mash-out, with the second heater's.",
        "And from Sun 6 Dec 09:30 to Sun 6 Dec 10:30: 0.30 kWh in Boil.",
    ]
    facts = document(told)
    assert facts["later"][0] == {
        "from": "2026-12-06T06:30:00Z", "until": "2026-12-06T08:30:00Z", "energy_kwh": 1.2,
        "steps": ["Mash", "Mash-out"],
    }  # fmt: skip
    assert {key: facts[key] for key in ("result", "start", "until", "time_zone", "energy_kwh", "power_after_w",
                                        "water_depth_m")} == {
        "result": "no objection", "start": "2026-12-05T22:30:00Z", "until": "2026-12-06T04:30:00Z",
        "time_zone": "Europe/Dublin", "energy_kwh": 3.1, "power_after_w": 350.0, "water_depth_m": 0.25,
    }  # fmt: skip
    both = Stretch(from_s=0.0, until_s=21600.0, energy_kwh=3.1, second_heater=True, steps=("Strike",))
    first = words(unattended_told(checked(stretch=both), START, "Europe/Dublin").sentences[0])
    assert "3.10 kWh as planned, with the second heater's, and 350 W on and on" in first


HOLDS = {
    "water": "Only water is in the vessel until somebody comes: no grain, no wort.",
    "circuit": "Nothing is over a rating while the vessel heats.",
    "heater": "The second heater's tank is full and closed, and its current ends by itself.",
    "later": "Somebody is about whenever something heats later on.",
    "level": "Water stands at least 3 cm above the elements.",
    "valve": "The valve is shut and capped, and you saw no drop.",
    "lid": "The lid is on.",
    "lead": "There is no extension lead, or it is unwound to its end.",
    "rcd": "A residual current device protects the outlet, and you pressed its test button.",
    "pump": "The pump is off in this stretch, or primed and its hoses are tight.",
    "limit": "The current ends by itself after a number of kWh, whoever sleeps on.",
    "alarm": "A smoke alarm that works is in the room, and you would hear it.",
    "instructions": "The instructions of vessel, outlet and timer allow it.",
    "reach": "No child and no animal can get to it.",
}


def test_every_fact_has_its_words() -> None:
    """What must hold, with the reason in brackets; which of them are asked."""
    assert {key: words(said) for key, said in QUESTIONS.items()} == HOLDS
    told = unattended_told(checked(*(Fact(key=key, state="yes", case="said_yes") for key in HOLDS)), START, "UTC")
    table = told.table("facts")
    assert titles(told) == ["Heating with nobody there", "Facts that must hold, and whether they do"]
    assert headings(table, 0, short=True) == [" ", "Word", "What must hold"]
    assert headings(table, 1) == ["State", "Word", "What must hold"]
    assert seen_rows(table) == [["yes", key, f"{said} (you said so)"] for key, said in HOLDS.items()]
    assert [row["fact"] for row in document(told)["facts"] if row["asked"]] == [
        key for key in HOLDS if key in FACT_KEYS
    ]


DEEP = {"depth_m": 0.25, "above_m": 0.17}
REASONS: list[tuple[str, dict[str, Any], str]] = [
    ("said_yes", {}, "you said so"), ("said_no", {}, "you said no"), ("said_unknown", {}, "nobody has said so"),
    ("level_yes", DEEP, "you said so; as planned it stands 25 cm deep, 17 cm above them"),
    ("level_no", DEEP, "you said no; as planned it stands 25 cm deep, 17 cm above them"),
    ("level_unknown", DEEP, "nobody has said so; as planned it stands 25 cm deep, 17 cm above them"),
    ("later_yes", {"steps": ("Mash", "Boil")}, "you said so; Mash and Boil heat for hours"),
    ("later_no", {"steps": ("Mash",)}, "you said no; Mash heats for hours"),
    ("later_unknown", {"steps": ("Mash",)}, "nobody has said so; Mash heats for hours"),
    ("as_planned", {}, "as planned"), ("hands_at_once", {}, "the plan begins with something that needs hands"),
    ("begins_with_wort", {}, "the plan has no grain but a gravity: the vessel begins with wort"),
    ("grain_from_the_start", {}, "no step of the plan adds the grain: it would be in from the start"),
    ("no_circuit", {}, "the plan has no [circuit]"),
    ("within", {"unknown": 0}, "within the ratings you entered, all day"),
    ("within", {"unknown": 1}, "within the ratings you entered, all day; 1 thing is not known"),
    ("within", {"unknown": 2}, "within the ratings you entered, all day; 2 things are not known"),
    ("over", {"codes": ("plug_fuse", "ring")}, "over: plug fuse and ring"),
    ("heater_off", {}, "none heats until somebody comes"), ("none_later", {}, "hands are needed before hours pass"),
    ("height_unknown", {"depth_m": 0.25},
     "the water stands 25 cm deep; how high the elements reach is not known ([vessel] element_top)"),
    ("too_low", {"depth_m": 0.1, "above_m": 0.02}, "the planned water stands 10 cm deep, 2 cm above the elements"),
    ("lid_open", {"steps": (("off", "Strike"), ("ajar", "Mash"))}, "the plan has it off at Strike and ajar at Mash"),
    ("no_lead", {}, "the plan has no lead"), ("wound_up", {}, "the plan's lead is wound up"),
    ("no_rcd", {}, "the plan's circuit has none"), ("pump_off", {}, "the plan has it off"),
    ("no_limit", {"planned_kwh": 3.1}, "no limit is given; planned until somebody comes: 3.10 kWh"),
    ("ends_too_soon", {"limit_kwh": 2.0, "planned_kwh": 3.1},
     "2.00 kWh end before the water is hot; planned until somebody comes: 3.10 kWh"),
    ("cover_unknown", {"limit_kwh": 4.0},
     "whether 4.00 kWh keep the elements covered is not known: how high they reach ([vessel] element_top)"),
    ("boils_down", {"most_kwh": 9.0}, "if nothing switched off, 9.00 kWh would boil the water down to the margin"),
    ("stays_covered", {"limit_kwh": 4.0, "planned_kwh": 3.1},
     "4.00 kWh leave the elements covered even if nothing switches off; planned until somebody comes: 3.10 kWh"),
]  # fmt: skip


@pytest.mark.parametrize(("case", "facts", "told"), REASONS)
def test_a_fact_says_why_it_is_taken_so(case: str, facts: dict[str, Any], told: str) -> None:
    """Whoever said it, or what the plan has."""
    found = unattended_told(checked(Fact(key="lid", state="no", case=case, facts=facts)), START, "UTC")
    (row,) = document(found)["facts"]
    assert row["why"] == told
    assert row["words"] == "The lid is on."
    assert seen_rows(found.table("facts"))[0][2] == f"The lid is on. ({told})"


def test_no_reason_is_left_out() -> None:
    """Each of them stands above."""
    assert {case for case, _, _ in REASONS} == set(WHY)
