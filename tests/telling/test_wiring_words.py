"""What findings on wires, earth and supply say, word for word, with figures that a reader can check by head."""

from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from energyplan.circuits.findings import Finding, Severity
from energyplan.telling.findings import FindingTeller

# 08:30 in Dublin, in winter.
TELLER = FindingTeller(datetime(2026, 12, 5, 8, 30, tzinfo=UTC), ZoneInfo("Europe/Dublin"))
TEN = 5400.0  # 10:00 [s after the start]
HIGH = {"high_v": 253.0, "high_a": 15.06}
AT_HIGH = "at 253 V with elements 5 % above their plates it is 15.1 A"
LAID = {
    "method": "C", "is_guess": False, "loaded": 2, "is_nec": False, "metal": "copper", "is_ring": False,
    "circuits": 1, "ambient_c": 30.0,
}  # fmt: skip
C30 = "method C, clipped to a surface, 30 °C"


def said(code: str, severity: Severity, case: str, **facts: Any) -> str:
    """The sentence of a finding with these facts."""
    return str(TELLER(Finding(code=code, severity=severity, case=case, rule="", facts=facts)).said)


CABLE = {**LAID, "cable_mm2": 2.5, "load_a": 13.04, "limit_a": 27.0, **HIGH}
PROTECTS = {**LAID, "cable_mm2": 1.5, "breaker_a": 20.0, "limit_a": 20.0}
RING = {"element_w": 2800.0, "from_s": TEN, "for_min": 50.0}
LEAD = {"load_a": 13.04, "length_m": 10.0, "cable_mm2": 1.5, "limit_a": 16.0, "is_marked": True, "wound_a": 5.0, **HIGH}
DROP = {
    "drop_v": 6.9, "voltage_v": 230.0, "drop_frac": 0.03, "cable_frac": 0.02, "is_ring": False,
    "less_heat_frac": 0.0591, "limit_frac": 0.05, "is_binding": False,
}  # fmt: skip
LOST = "Cable and lead lose 6.9 V of 230 V (3 %, the fixed cable 2 %), so the elements give 5.9 % less heat"


@pytest.mark.parametrize(
    ("code", "severity", "case", "facts", "told"),
    [
        ("cable", "unknown", "not entered", {"load_a": 13.04},
         "No cable was entered: whether it carries 13 A is not known."),
        ("cable", "over", "too thin", {"cable_mm2": 0.75, "load_a": 13.04},
         "0.75 mm² cable: no table rates fixed cable that thin; it would have to carry 13 A."),
        ("cable", "over", "too hot", {"cable_mm2": 2.5, "load_a": 13.04, "ambient_c": 70.0},
         "2.5 mm² cable at 70 °C: too hot for it; it would have to carry 13 A."),
        ("cable", "ok", "ok", CABLE,
         f"At most 13 A flow through 2.5 mm² cable that carries 27 A as it lies ({C30})."),
        ("cable", "note", "note", CABLE,
         f"At most 13 A flow through 2.5 mm² cable that carries 27 A as it lies ({C30}); {AT_HIGH}."),
        ("cable", "ok", "guess", {**CABLE, "method": "A", "is_guess": True, "least_a": 10.0, "limit_a": 19.5},
         ("At most 13 A flow through 2.5 mm² cable that carries 19.5 A as it lies (method A, in a conduit in an "
         "insulated wall, a guess, 30 °C); how it lies was not entered: wholly in insulation it carries 10 A.")),
        ("cable", "ok", "ok", {**CABLE, "method": "B", "loaded": 3, "metal": "aluminium", "circuits": 3},
         ("At most 13 A flow through 2.5 mm² cable that carries 27 A as it lies (method B, in a conduit on a wall, "
         "30 °C, 3 circuits together, three loaded conductors, aluminium).")),
        ("cable", "ok", "ok", {**CABLE, "method": "60", "loaded": 3, "is_nec": True, "cable_mm2": 3.31},
         "At most 13 A flow through 12 AWG cable that carries 27 A as it lies (terminals for 60 °C, 30 °C)."),
        ("cable", "ok", "ok", {**CABLE, "method": "E", "is_ring": True, "circuits": 2},
         ("At most 13 A flow through 2.5 mm² cable that carries 27 A as it lies (method E, in free air, 30 °C, 2 "
         "circuits together, a ring).")),
        ("cable_protection", "ok", "ok", PROTECTS,
         f"The 20 A breaker protects 1.5 mm² cable, good for 20 A here ({C30})."),
        ("cable_protection", "note", "note", PROTECTS,
         f"The 20 A breaker is larger than it should be for 1.5 mm² cable, good for 20 A here ({C30})."),
        ("cable_protection", "over", "over", {**PROTECTS, "method": "75"},
         ("The 20 A breaker is larger than it should be for 1.5 mm² cable, good for 20 A here (terminals for 75 °C, "
         "30 °C).")),
        ("cable_protection", "note", "guess", PROTECTS,
         (f"The 20 A breaker may or may not protect, depending on how it lies, 1.5 mm² cable, good for 20 A here "
          f"({C30}).")),
        ("ring", "over", "over", {}, "A ring is made of 2.5 mm² or more behind 30 or 32 A; this one is not."),
        ("ring", "unknown", "unknown", {},
         "A ring is made of 2.5 mm² or more behind 30 or 32 A; breaker or cable was not entered."),
        ("ring", "ok", "ok", RING,
         "2800 W on one point of a ring from 10:00 for 50 min; two plugs in one double outlet share its contacts."),
        ("ring", "note", "note", RING,
         ("2800 W on one point of a ring from 10:00 for 50 min: that is best fed by a circuit of its own; two plugs in "
         "one double outlet share its contacts.")),
        ("extension", "ok", "unwound", LEAD,
         ("The vessel draws 13 A through 10 m of 1.5 mm² lead, which carries 16 A unwound. Unwind it wholly: left on a "
         "reel it carries about 5 A.")),
        ("extension", "note", "unwound", {**LEAD, "is_marked": False},
         ("The vessel draws 13 A through 10 m of 1.5 mm² lead, which by the table, since its printed rating was not "
         f"entered, carries 16 A unwound; {AT_HIGH}. Unwind it wholly: left on a reel it carries about 5 A.")),
        ("extension", "over", "wound", {**LEAD, "limit_a": 5.0},
         ("The vessel draws 13 A through 10 m of 1.5 mm² lead, which carries 5 A wound on its reel. Wound up it can't "
         "give off its heat and melts, although nothing trips.")),
        ("lead_length", "note", "note", {"length_m": 20.0, "cable_mm2": 1.5, "longest_m": 15.0},
         "The lead is 20 m long; many electricians keep one of 1.5 mm² below 15 m."),
        ("lead_protection", "unknown", "unknown", {"limit_a": 16.0},
         "Nothing that would trip at the lead's 16 A was entered."),
        ("lead_protection", "ok", "ok", {"limit_a": 16.0, "breaker_a": 13.0},
         "The 13 A before it protects a lead of 16 A."),
        ("lead_protection", "note", "note", {"limit_a": 10.0, "breaker_a": 32.0},
         "The 32 A before it does not trip at what is too much for a lead of 10 A."),
        ("voltage_drop", "unknown", "unknown", {},
         "Cable and length were not both entered: what voltage is left at the vessel is not known."),
        ("voltage_drop", "unknown", "lead alone", DROP, f"{LOST}; the fixed cable is not known."),
        ("voltage_drop", "ok", "ok", {**DROP, "is_ring": True},
         ("Cable and lead lose 6.9 V of 230 V (3 %, the fixed cable 2 %, halfway round the ring), so the elements give "
         "5.9 % less heat.")),
        ("voltage_drop", "note", "note", {**DROP, "cable_frac": 0.06},
         f"{LOST.replace('cable 2 %', 'cable 6 % to what else hangs on it')}; the advice for the fixed cable is 5 %."),
        ("voltage_drop", "note", "note", DROP, f"{LOST}; the advice for the fixed cable is 5 %."),
        ("voltage_drop", "over", "over", {**DROP, "is_binding": True}, (f"{LOST}; the limit for the fixed cable is "
                                                                        f"5 %.")),
    ],
)  # fmt: skip
def test_wires(code: str, severity: Severity, case: str, facts: dict[str, Any], told: str) -> None:
    """Cables as they lie, rings, leads, and what is lost on the way."""
    assert said(code, severity, case, **facts) == told


LOOP = {"earthing": "TN-S", "limit_ohm": 1.37, "path_ohm": 0.61, "earth_is_assumed": False, "left_ohm": 0.76}
MAY = "the fault loop at the outlet may have at most 1.37 Ω for this breaker"
AC = "one of type AC, which electronics can blind; they ask for type A."


@pytest.mark.parametrize(
    ("case", "facts", "told"),
    [
        ("TT without", LOOP, ("An earth electrode (TT) lets too little flow for a breaker: only a residual current "
         "device helps.")),
        ("no limit", LOOP, "Whether a fault is cut off in time is not known: it takes breaker, curve and earth."),
        ("not measured", {**LOOP, "left_ohm": None}, f"It was not measured: {MAY}."),
        ("not measured", LOOP,
         f"It was not measured: {MAY}; cable and lead take 0.61 Ω (R1+R2), which leaves 0.76 Ω for the supply (Ze)."),
        ("not measured", {**LOOP, "earth_is_assumed": True, "earth_mm2": 1.5},
         (f"It was not measured: {MAY}; cable and lead take 0.61 Ω (R1+R2, earth of 1.5 mm² assumed), which leaves "
         "0.76 Ω for the supply (Ze).")),
        ("wires too much", {**LOOP, "path_ohm": 1.5}, f"Cable and lead alone have 1.50 Ω (R1+R2), and {MAY}."),
        ("wires too much, device", {**LOOP, "path_ohm": 1.5},
         f"Cable and lead alone have 1.50 Ω (R1+R2), and {MAY}: the residual current device has to do it."),
        ("measured too much", {**LOOP, "loop_ohm": 1.6},
         f"1.60 Ω were entered, and {MAY}: a fault is not cut off in time."),
        ("measured too much, device", {**LOOP, "loop_ohm": 1.6},
         f"1.60 Ω were entered, and {MAY}: the residual current device has to do it."),
        ("near", {**LOOP, "loop_ohm": 1.2},
         f"1.20 Ω were entered, and {MAY}; measured cold it should be at most 0.8 of that."),
        ("ok", {**LOOP, "loop_ohm": 1.0, "earthing": "TT"},
         ("1.00 Ω were entered, and the fault loop at the outlet may have at most 1.37 Ω for this residual current "
         "device.")),
        ("grounding", {"least_awg": None},
         "The fault loop is not judged under these rules; no breaker was entered."),
        ("grounding", {"least_awg": 12, "breaker_a": 20.0, "earth_mm2": None},
         ("The fault loop is not judged under these rules; behind 20 A its equipment grounding conductor is 12 AWG or "
         "more.")),
        ("grounding", {"least_awg": 12, "breaker_a": 20.0, "earth_mm2": 2.08},
         ("The equipment grounding conductor is 14 AWG; behind 20 A it is 12 AWG or more. The loop itself is not "
         "judged under these rules.")),
    ],
)  # fmt: skip
def test_the_fault_loop(case: str, facts: dict[str, Any], told: str) -> None:
    """Whether a fault is cut off in time, and by what."""
    assert said("disconnection", "note", case, **facts) == told


@pytest.mark.parametrize(
    ("case", "facts", "told"),
    [
        ("not entered", {"is_nec": False, "kind": None},
         ("Whether a residual current device of 30 mA covers this outlet was not entered; water and elements ask for "
         "it.")),
        ("not entered", {"is_nec": True, "kind": None},
         ("Whether ground-fault protection (about 5 mA) covers this outlet was not entered; water and elements ask for "
         "it.")),
        ("none", {"is_nec": False, "kind": None},
         ("There is no residual current protection: ask an electrician for a residual current device of 30 mA before "
         "you brew.")),
        ("none, no place", {"is_nec": True, "kind": None},
         ("There is no ground-fault protection (about 5 mA); whether the outlet needs it depends on its place, which "
         "was not entered.")),
        ("local", {"is_nec": False, "kind": None},
         "There is no residual current protection; water and elements ask for it, whatever the local rules."),
        ("only there", {"is_nec": False, "kind": None},
         "A residual current device is there; its rating, its type and whether it covers this outlet are not known."),
        ("too much", {"is_nec": False, "kind": None, "rating_a": 0.1},
         "The residual current device is one of 100 mA; an outlet of up to 32 A asks for 30 mA."),
        ("too much", {"is_nec": True, "kind": None, "rating_a": 0.03},
         "The residual current device is one of 30 mA; wet places ask for about 5 mA."),
        ("no type", {"is_nec": False, "kind": None, "rating_a": 0.03},
         "The residual current device is one of 30 mA; its type is not known, and electronics ask for type A."),
        ("type AC", {"is_nec": False, "kind": "AC", "rating_a": 0.03}, f"The residual current device is {AC}"),
        ("ok", {"is_nec": False, "kind": "A", "rating_a": 0.03},
         "There is a device of 30 mA, type A: press its test button before the day; it limits no load."),
        ("ok", {"is_nec": True, "kind": None, "rating_a": None},
         "There is ground-fault protection (about 5 mA): press its test button before the day; it limits no load."),
    ],
)  # fmt: skip
def test_residual_current(case: str, facts: dict[str, Any], told: str) -> None:
    """What covers the outlet, or that nobody knows."""
    assert said("residual_current", "note", case, **{"rating_a": None, **facts}) == told


LEAKS = {"leaks_a": 0.0021, "rated_a": 0.005, "share_a": 0.0015, "frac": 0.3}
LEAKING = (
    "The elements may leak up to 2.1 mA; the 5 mA device trips too often when all behind it leak more than 1.5 mA "
    "(30 %)."
)
VOLTAGE = {
    "crossing": (), "nominal_a": 13.0, "nominal_v": 230.0, "high_a": 15.06, "high_v": 253.0, "low_a": 10.5,
    "low_v": 207.0, "heat_frac": 0.73,
}  # fmt: skip
NOTHING_ELSE = "It was entered that nothing else hangs behind this breaker, and so was Fridge beside the vessel."


@pytest.mark.parametrize(
    ("code", "severity", "case", "facts", "told"),
    [
        ("leakage", "note", "nec", LEAKS,
         f"{LEAKING} Heating elements that have taken up moisture trip it, so they may not work on one at all."),
        ("leakage", "ok", "nec", LEAKS, LEAKING),
        ("leakage", "note", "iec", LEAKS, LEAKING),
        ("voltage", "ok", "ok", VOLTAGE,
         ("The vessel draws 13 A at 230 V, and 15.1 A at 253 V with elements 5 % above their plates. At 207 V with "
         "elements 10 % below theirs it draws 10.5 A and has 73 % of the power.")),
        ("voltage", "note", "note", {**VOLTAGE, "crossing": ("plug_fuse", "outlet", "extension", "cable", "breaker")},
         ("The vessel draws 13 A at 230 V, and 15.1 A at 253 V with elements 5 % above their plates, which passes the "
         "rating of fuse in the plug, outlet and plug, extension lead, cable and breaker. At 207 V with elements 10 % "
         "below theirs it draws 10.5 A and has 73 % of the power.")),
        ("supply", "ok", "ok", {"peaks": (("L1", 13.0), ("N", 10.0)), "line": "L1", "names": ()},
         "At most L1 13 A and N 10 A; the ratings are compared with L1."),
        ("supply", "unknown", "unknown", {"peaks": (("L1", 13.0),), "line": "L1", "names": ("Fridge",)},
         ("At most L1 13 A; the ratings are compared with L1. Nobody said where Fridge hangs: counted from a line to "
         "neutral, where it makes most.")),
        ("sharing", "over", "contradiction", {"names": ("Fridge",)}, NOTHING_ELSE),
        ("sharing", "unknown", "unknown", {"names": ("Fridge",)},
         "What else hangs behind this breaker beside Fridge was not said, so it counts as shared."),
        ("sharing", "unknown", "unknown", {"names": ()},
         "What else hangs behind this breaker was not said, so it counts as shared."),
        ("main_fuse", "ok", "ok", {"load_a": 21.7, "limit_a": 60.0},
         "The fullest line draws 21.7 A of the 60 A main fuse, with nothing else of the house on."),
        ("place", "unknown", "unknown", {},
         "Where the outlet is was not entered: it decides on residual current device, enclosure and outlet."),
        ("place", "ok", "dry", {}, "Indoors and dry: an ordinary enclosure."),
        ("place", "unknown", "damp", {"asked": "IP44"},
         ("A damp place: IP44 where it splashes, nothing on the floor, a drip loop in the lead. What this outlet "
         "withstands was not entered.")),
        ("place", "ok", "garage", {"asked": "IP44", "enclosure": "IP55"},
         "A garage: IP44, off the floor; this outlet is IP55."),
        ("place", "over", "outdoors", {"asked": "IP55", "enclosure": "IP20"},
         "Outdoors: IP55 or better, closed with the plug in it, out of the rain; this outlet is IP20."),
        ("isolation", "ok", "plug", {}, "The plug cuts all lines, while it can be reached."),
        ("isolation", "ok", "ok", {}, "A plug or switch in sight cuts all lines."),
        ("isolation", "note", "note", {},
         "No switch is in sight, and the plug is out of reach: nothing near the vessel cuts all lines."),
        ("isolation", "over", "over", {}, "Nothing in sight of the vessel cuts all lines."),
        ("isolation", "unknown", "unknown", {},
         "Whether a switch in sight of the vessel cuts all lines was not entered."),
        ("region", "unknown", "unknown", {"voltage_v": 100.0},
         ("Local rules are not known here: 100 V belongs to no supply of these rules, so only what physics says is "
         "judged.")),
    ],
)  # fmt: skip
def test_supply_and_place(code: str, severity: Severity, case: str, facts: dict[str, Any], told: str) -> None:
    """Voltage, lines, what else hangs there, and where the outlet is."""
    assert said(code, severity, case, **facts) == told
