"""What would mend a finding, word for word: each way out, with what to enter, to buy or to wait for."""

from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from energyplan.base.money import UNITS_PER_CURRENCY, Money
from energyplan.circuits.findings import Finding, Remedy, finding
from energyplan.plan.equipment import Circuit
from energyplan.telling.findings import REMEDIES, FindingTeller, done_told
from tests.telling.shown import headings, seen_rows

# 08:30 in Dublin, in winter.
TELLER = FindingTeller(datetime(2026, 12, 5, 8, 30, tzinfo=UTC), ZoneInfo("Europe/Dublin"))
TEN, ELEVEN = 5400.0, 9000.0  # 10:00 and 11:00 [s after the start]
EUR_2 = Money(units=2 * UNITS_PER_CURRENCY, currency="EUR")
LOAD = {"names": ("Kettle",), "from_s": TEN, "to_s": ELEVEN}
SHIFT = {"name": "Sparge heater", "shift_min": 30.0}
CAP = {"cap_w": 1800.0, "added_min": 25.0, "added_kwh": -0.12}


CLAUSES: list[tuple[str, dict[str, Any], str]] = [
    ("fewer elements", {"elements_w": 2950.0},
     ("have elements of at most 2950 W on at a time (a cap does that where elements are switched; pulsed ones draw "
     "their full current whatever the cap)")),
    ("made for", {"load_a": 13.91}, "ask for an outlet, plug and lead made for 13.9 A"),
    ("others off", LOAD, "keep Kettle off from 10:00 to 11:00 (and wherever else they meet the heaters)"),
    ("shift", {**SHIFT, "is_later": True},
     "start Sparge heater 30 min later (what it heats is ready later too)"),
    ("shift", {**SHIFT, "is_later": False},
     "start Sparge heater 30 min earlier (its water keeps warm under a lid)"),
    ("off and shift", {**LOAD, **SHIFT, "is_later": True},
     ("keep Kettle off from 10:00 to 11:00 (and wherever else they meet the heaters), and start Sparge heater 30 min "
     "later (what it heats is ready later too)")),
    ("bigger circuit", {"breaker_a": 25.0, "cable_mm2": 4.0, "length_m": 12.0},
     ("have an electrician provide a circuit with a 25 A breaker, which needs 4 mm² cable for 12 m laid the same way "
     "(never a bigger breaker on the old cable)")),
    ("bigger circuit", {"breaker_a": 25.0, "cable_mm2": 4.0, "length_m": 0.0},
     ("have an electrician provide a circuit with a 25 A breaker, which needs 4 mm² cable laid the same way (never a "
     "bigger breaker on the old cable)")),
    ("own supply", {},
     "ask an electrician about a supply of its own: no household circuit of the tables carries this"),
    ("motor first", {"name": "Fridge"},
     "let Fridge run before the elements come on, or put it on another circuit"),
    ("own circuit", {}, "give it a circuit of its own and enter [circuit] dedicated"),
    ("sound contacts", {},
     ("have worn or loose contacts replaced, and feel plug and outlet after half an hour: warm is usual, hot is a "
     "fault")),
    ("breaker or outlet", {"outlet_a": 16.0, "breaker_a": 32.0},
     "ask the electrician for a breaker of 16 A or an outlet of 32 A"),
    ("look at cable", {}, "ask an electrician how the cable lies, and enter [circuit] installation"),
    ("smaller breaker", {"cap_a": 14.0, "maybe_ring": False},
     "have an electrician look at it: the breaker should be 14 A or less, or the cable thicker"),
    ("smaller breaker", {"cap_a": 20.0, "maybe_ring": True},
     ("have an electrician look at it: the breaker should be 20 A or less, or the cable thicker; if it is a ring, "
     "enter [circuit] ring")),
    ("no ring", {}, "have an electrician look at breaker and cable, or leave [circuit] ring out"),
    ("shorter lead", {}, "use a shorter lead, or a thicker one"),
    ("one thing on the lead", {}, "plug nothing else into the lead"),
    ("unwind", {"carries_a": 16.0}, "unwind the lead: laid out straight it carries 16 A"),
    ("no lead", {"needed_a": 13.04, "is_wound": False}, "use no lead, or a thicker one rated 13 A or more"),
    ("no lead", {"needed_a": 13.04, "is_wound": True},
     "unwind the lead, and that is not enough: use no lead, or a thicker one rated 13 A or more"),
    ("thicker or nearer", {}, "a thicker or shorter cable or lead, or an outlet nearer to the board"),
    ("measure loop", {}, "have the loop measured at the outlet, and enter [circuit] earth_loop"),
    ("shorten loop", {},
     ("ask an electrician: a breaker with another curve, a thicker protective conductor, or a residual current "
     "device")),
    ("say the earth", {}, "look for its size, and enter [circuit] protective_conductor"),
    ("thicker earth", {"least_awg": 12}, "ask for an equipment grounding conductor of 12 AWG or more"),
    ("residual", {"is_nec": False},
     "look for a residual current device of 30 mA, type A that covers this outlet, or ask for it"),
    ("residual", {"is_nec": True}, "look for ground-fault protection that covers this outlet, or ask for it"),
    ("dry elements", {}, "ask an electrician which device elements of this size can work on"),
    ("say the line", {}, "enter [circuit] line for each load"),
    ("what shares", {}, "switch the breaker off, see what goes dark, and enter [circuit] dedicated"),
    ("ask supplier", {}, "ask the supplier or an electrician about the main fuse"),
    ("say the place", {}, "enter [circuit] place"),
    ("say the enclosure", {}, "look for the IP code on it, and enter [circuit] enclosure"),
    ("tight outlet", {"asked": "IP44"}, "ask for an outlet of IP44 or better"),
    ("isolator", {}, "find or ask for what cuts all lines within reach, and enter [circuit] isolator"),
    ("local rules", {}, "ask an electrician who knows the rules of the place"),
    ("start", {"later_min": 40.0, "earlier_min": None}, "start 40 min later"),
    ("start", {"later_min": 40.0, "earlier_min": 150.0}, "start 40 min later or 2 h 30 min earlier"),
    ("keep off", {"names": ("Oven",), "hour": "off"}, "keep Oven off meanwhile"),
    ("keep off", {"names": ("Oven", "Kettle"), "hour": "other"}, "keep Oven and Kettle to other hours"),
    ("switched elements", {"elements_w": 1800.0},
     ("have elements of at most 1800 W on at a time, switched ones: a pulsed element draws its full power whatever "
     "the cap")),
    ("contract more", {"needed_w": 4400.0}, "contract at least 4.4 kW"),
    ("cap", {**CAP, "less_steam_kg": 0.049},
     "cap ramps, holds and boil at 1800 W, which a pulsed element keeps too (+25 min, -0.12 kWh)"),
    ("cap", {**CAP, "less_steam_kg": 0.05},
     ("cap ramps, holds and boil at 1800 W, which a pulsed element keeps too (+25 min, -0.12 kWh, 0.05 kg less "
     "steam)")),
    ("nothing below the peak", {"left": None}, "nothing was found that keeps below the present peak"),
    ("nothing below the peak", {"left": EUR_2, "least_cap_w": 1500.0, "added_min": 50.0, "added_kwh": 0.2},
     ("nothing was found that keeps below the present peak; with ramps, holds and boil capped at 1500 W it adds "
     "2.00 EUR only (+50 min, +0.20 kWh)")),
]  # fmt: skip


@pytest.mark.parametrize(("code", "facts", "told"), CLAUSES)
def test_what_would_mend_it(code: str, facts: dict[str, Any], told: str) -> None:
    """A clause that can be carried out: with the key to enter, the size to buy, the hour to keep."""
    assert str(TELLER.remedy(Remedy(code=code, facts=facts))) == told


def test_every_way_out_has_its_words() -> None:
    """None is left out above."""
    assert {code for code, _, _ in CLAUSES} == set(REMEDIES)


def test_several_ways_out_are_one_sentence() -> None:
    """A capital, an or between them, one full stop; with none nothing."""
    remedies = (
        Remedy(code="shorter lead"),
        Remedy(code="unwind", facts={"carries_a": 16.0}),
        Remedy(code="own supply"),
    )
    mends = [
        TELLER(Finding(code="isolation", severity="over", case="over", rule="", remedies=remedies[:number])).mend
        for number in range(4)
    ]
    assert [None if mend is None else str(mend) for mend in mends] == [
        None,
        "Use a shorter lead, or a thicker one.",
        "Use a shorter lead, or a thicker one; or unwind the lead: laid out straight it carries 16 A.",
        (
            "Use a shorter lead, or a thicker one; or unwind the lead: laid out straight it carries 16 A; or ask an "
            "electrician about a supply of its own: no household circuit of the tables carries this."
        ),
    ]


def test_a_finding_keeps_its_code_margin_and_rules() -> None:
    """A rule that is cited twice stands once, another behind a semicolon; a day's later moments name their day."""
    facts = {"also": ("plug rating", "plug fuse")}
    told = TELLER(
        Finding(code="isolation", severity="note", case="note", rule="plug fuse", facts=facts, margin_frac=0.1)
    )
    assert (told.code, told.severity, told.margin_frac) == ("isolation", "note", 0.1)
    assert told.rule is not None
    first, second = told.rule.split("; ")
    assert first.startswith("BS 1362:1973")
    assert second.startswith("BS 1363-2")
    assert str(TELLER.at(16 * 3600.0)) == "Sun 6 Dec 00:30"


def test_what_is_worst_comes_first() -> None:
    """Over before unknown before a note before what is in order."""
    found = [
        Finding(code="isolation", severity=severity, case=severity, rule="")
        for severity in ("ok", "note", "unknown", "over")
    ]
    assert [one.severity for one in TELLER.all(found)] == ["over", "unknown", "note", "ok"]


CIRCUIT = Circuit(voltage_v=230.0, breaker_a=20.0, cable_mm2=4.0, residual_current_device="30 mA, type A")


@pytest.mark.parametrize(
    ("code", "facts", "told"),
    [
        ("unwind", {}, "The lead unwound"),
        ("no lead", {}, "No lead"),
        ("own circuit", {}, "A circuit that feeds this outlet alone"),
        ("no ring", {}, "Not a ring"),
        ("residual", {}, "Protected by a 30 mA, type A device"),
        ("thicker earth", {"least_awg": 12}, "A protective conductor of 12 AWG"),
        ("others off", {"names": ("Oven",)}, "Oven on another breaker"),
        ("second heater elsewhere", {}, "The second heater on another breaker"),
        ("breaker or outlet", {}, "A 20 A breaker"),
        ("smaller breaker", {}, "A 20 A breaker"),
        ("bigger circuit", {}, "A 20 A breaker on 4 mm² cable"),
    ],
)  # fmt: skip
def test_what_there_is_once_it_is_mended(code: str, facts: dict[str, Any], told: str) -> None:
    """Few words, for a button."""
    assert str(done_told(Remedy(code=code, facts=facts), CIRCUIT)) == told


def test_rules_are_told_with_what_they_say() -> None:
    """Once each, with the checks that rest on it, and the kind of page it was read in, in the edition that is named."""
    one = finding("one_appliance", "over", "nec one appliance")
    two = finding("outlet", "ok", "nec receptacle", also=("nec one appliance",))
    none = finding("sharing", "unknown", "")
    table = FindingTeller(TELLER.start, UTC, "2020").rule_table([one, two, none])
    assert headings(table, 0) == ["Check", "Rule", "What it says", "Read in"]
    first, second = seen_rows(table)
    assert first[:2] == ["one appliance, outlet", "NFPA 70:2020, 210.23(A)(1) [r]"]
    assert first[2].startswith(
        "on a 15 or 20 A circuit with several outlets one plugged-in appliance takes at most 80 %"
    )
    assert first[3] == "electricians' magazine, questions and answers"
    assert second[:2] == ["outlet", "NFPA 70:2020, 210.21(B)(1) and table 210.21(B)(3) [r]"]
    later = seen_rows(
        FindingTeller(TELLER.start, UTC, "2023").rule_table([one, finding("sharing", "ok", "lead length")])
    )
    assert [row[1:2] + row[3:] for row in later] == [
        ["NFPA 70:2023, 210.23(B)(1) [m]", "from memory"],
        ["Trade practice, no clause [p]", "common practice, no source"],
    ]
    assert not FindingTeller(TELLER.start, UTC).rule_table([none]).rows
