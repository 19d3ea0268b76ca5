"""What findings on breaker, outlet and meter say, word for word, with figures that a reader can check by head."""

from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from energyplan.base.money import UNITS_PER_CURRENCY, Money
from energyplan.circuits.findings import Finding, Severity
from energyplan.telling.findings import FindingTeller

# 08:30 in Dublin, in winter.
TELLER = FindingTeller(datetime(2026, 12, 5, 8, 30, tzinfo=UTC), ZoneInfo("Europe/Dublin"))
TEN, ELEVEN = 5400.0, 9000.0  # 10:00 and 11:00 [s after the start]
HIGH = {"high_v": 253.0, "high_a": 15.06}
AT_HIGH = "at 253 V with elements 5 % above their plates it is 15.1 A"
EUR_2 = Money(units=2 * UNITS_PER_CURRENCY, currency="EUR")


def said(code: str, severity: Severity, case: str, **facts: Any) -> str:
    """The sentence of a finding with these facts."""
    return str(TELLER(Finding(code=code, severity=severity, case=case, rule="", facts=facts)).said)


BREAKER = {
    "load_a": 18.04, "limit_a": 16.0, "device": "breaker", "from_s": TEN, "for_min": 45.0, "is_above": True, **HIGH,
    "high_zone": "it trips within an hour", "counted_a": None, "nominal_v": None,
}  # fmt: skip
START = {"name": "Fridge", "multiple": 6, "running_a": 1.0, "together_a": 18.5}
CONTINUOUS = {"rms_a": 13.1, "for_min": 70.0, "from_s": TEN}
HOURS = {"is_bridged": False, "needed_a": 35.0, "lasting_a": 28.0, "steady_a": 28.0, "load_a": 28.0}
OUTLET = {"load_a": 13.91, "limit_a": 13.0, "names": (), **HIGH}
PLUG = {"load_a": 13.04, "limit_a": 13.0, "carries_a": 20.8, "blows_a": 24.7, **HIGH}


@pytest.mark.parametrize(
    ("severity", "case", "facts", "told"),
    [
        ("unknown", "unknown", {"load_a": 13.04}, "No breaker or fuse was entered: what trips at 13 A is not known."),
        ("over", "trips within minutes", BREAKER,
         ("At most 18 A flow through the 16 A breaker, more than its rating from 10:00 for 45 min: it trips within "
         f"minutes, so perhaps in that time; {AT_HIGH}, it trips within an hour. It is tested cold; among warm "
         "neighbours it trips sooner.")),
        ("over", "trips within an hour", {**BREAKER, "for_min": 59.0},
         ("At most 18 A flow through the 16 A breaker, more than its rating from 10:00 for 59 min: it trips within "
         f"an hour, so perhaps in that time; {AT_HIGH}, it trips within an hour. It is tested cold; among warm "
         "neighbours it trips sooner.")),
        ("note", "may trip within an hour", {**BREAKER, "for_min": 60.0},
         ("At most 18 A flow through the 16 A breaker, more than its rating from 10:00 for 60 min: it may trip within "
         f"an hour; {AT_HIGH}, it trips within an hour. It is tested cold; among warm neighbours it trips sooner.")),
        ("ok", "carried",
         {**BREAKER, "load_a": 13.04, "is_above": False, "device": "fuse", "limit_a": 13.5, "high_zone": "carried"},
         f"At most 13 A flow through the 13.5 A fuse, from 10:00 for 45 min: carried; {AT_HIGH}, carried."),
        ("over", "carried", {**BREAKER, "load_a": 15.2, "is_above": False, "high_zone": "carried", "counted_a": 17.3},
         (f"At most 15.2 A flow through the 16 A breaker, from 10:00 for 45 min: carried; {AT_HIGH}, carried. "
          "By the plates, which these rules compare, it is 17.3 A. It is tested cold; among warm neighbours it trips "
          "sooner.")),
        ("over", "carried", {**BREAKER, "load_a": 15.2, "is_above": False, "high_zone": "carried", "counted_a": 16.5,
                             "nominal_v": 230.0},
         (f"At most 15.2 A flow through the 16 A breaker, from 10:00 for 45 min: carried; {AT_HIGH}, carried. "
          "At 230 V, to which ratings refer, it is 16.5 A. It is tested cold; among warm neighbours it trips sooner.")),
    ],
)  # fmt: skip
def test_the_breaker(severity: Severity, case: str, facts: dict[str, Any], told: str) -> None:
    """What flows, when, for how long, and whether that trips: in so short a time only perhaps."""
    assert said("breaker", severity, case, **facts) == told


@pytest.mark.parametrize(
    ("code", "severity", "case", "facts", "told"),
    [
        ("breaker_start", "note", "no zone", START,
         ("While Fridge starts it may draw about 6 times its 1 A, 18.5 A in all for a second or so; without a "
         "curve there is no standard zone to compare that with.")),
        ("breaker_start", "note", "note", {**START, "curve": "B", "limit_a": 6.0, "threshold_a": 18.0},
         ("While Fridge starts it may draw about 6 times its 1 A, 18.5 A in all for a second or so; a curve B "
         "breaker of 6 A may trip at once (from 18 A).")),
        ("breaker_start", "ok", "ok", {**START, "curve": "C", "limit_a": 6.0, "threshold_a": 30.0},
         ("While Fridge starts it may draw about 6 times its 1 A, 18.5 A in all for a second or so; a curve C "
         "breaker of 6 A does not trip at once (from 30 A).")),
        ("continuous", "ok", "ok", CONTINUOUS,
         "The peak lasts 70 min from 10:00; over the hottest hour the load warms wires like a steady 13.1 A."),
        ("continuous", "note", "note", {**CONTINUOUS, "frac": 0.8, "limit_a": 16.0},
         ("The peak lasts 70 min from 10:00; over the hottest hour the load warms wires like a steady 13.1 A, more "
         "than 80 % of the 16 A breaker: side by side with others, or in a warm board, it may trip.")),
        ("continuous", "ok", "none", HOURS,
         "Nothing of weight lasts 3 hours without a break, so there is no continuous load by definition."),
        ("continuous", "ok", "lasting", HOURS,
         ("28 A last 3 hours or more without a break: 28 A by the plates with a quarter of that on top ask for a "
         "breaker of 35 A or more.")),
        ("continuous", "note", "lasting",
         {**HOURS, "steady_a": 20.0, "is_bridged": True, "bridge_min": 15.0, "bridged_a": 30.0,
          "bridged_needed_a": 37.5},
         ("28 A last 3 hours or more without a break, by its warmth 20 A: 28 A by the plates with a quarter of that on "
         "top ask for a breaker of 35 A or more. Only gaps of less than 15 min break a load of 30 A; counted through "
         "it would ask for 37.5 A.")),
        ("one_appliance", "over", "shared", {"load_a": 16.0, "limit_a": 12.0},
         ("The vessel's plate asks for 16 A; one plugged-in appliance may take 12 A here, because this circuit feeds "
         "more than one outlet.")),
        ("one_appliance", "note", "unsaid", {"load_a": 16.0, "limit_a": 12.0},
         ("The vessel's plate asks for 16 A; one plugged-in appliance may take 12 A here, because nobody said that it "
         "feeds one outlet only, so it counts as shared.")),
        ("outlet", "unknown", "unknown", {"load_a": 13.04, "names": ()},
         "No outlet was entered: whether it carries 13 A is not known."),
        ("outlet", "unknown", "unknown", {"load_a": 13.04, "names": ("Kettle", "Oven")},
         ("No outlet was entered: whether it carries 13 A is not known. Kettle and Oven need outlets of their own, "
         "not second places on the same one.")),
        ("outlet", "over", "over", OUTLET,
         ("The vessel draws 13.9 A through an outlet and plug of 13 A: more than they are made for; contacts overheat "
         "although nothing trips.")),
        ("outlet", "note", "plate", OUTLET,
         f"The vessel draws 13.9 A through an outlet and plug of 13 A: inside what a plate means; {AT_HIGH}."),
        ("outlet", "note", "note", OUTLET,
         f"The vessel draws 13.9 A through an outlet and plug of 13 A; {AT_HIGH}, more than they are made for."),
        ("outlet", "ok", "ok", {**OUTLET, "names": ("Kettle",)},
         ("The vessel draws 13.9 A through an outlet and plug of 13 A. Kettle needs an outlet of its own, not a second "
         "place on the same one.")),
        ("outlet_hours", "note", "note", {"rms_a": 10.9, "usual_a": 10.0},
         ("The vessel warms outlet and plug like a steady 10.9 A for an hour; many electricians stay near 10 A on a "
         "household outlet for hours on end.")),
        ("outlet_protection", "ok", "table", {"limit_a": 15.0, "breaker_a": 20.0},
         "A 15 A outlet may stand behind a 20 A breaker where there are several."),
        ("outlet_protection", "ok", "fused", {"limit_a": 13.0, "breaker_a": 32.0},
         "The plug's own fuse protects a 13 A outlet behind a 32 A breaker."),
        ("outlet_protection", "note", "local", {"limit_a": 16.0, "breaker_a": 20.0},
         ("A 16 A outlet behind a 20 A breaker: some countries allow it, most do not; an appliance that draws more "
         "than 16 A overheats it and nothing trips.")),
        ("outlet_protection", "over", "over", {"limit_a": 16.0, "breaker_a": 32.0},
         ("The 32 A breaker does not protect a 16 A outlet: an appliance that draws more than 16 A would overheat it "
         "and nothing would trip.")),
        ("plug_fuse", "ok", "ok", PLUG,
         ("The vessel draws 13 A through a 13 A plug fuse, which carries 20.8 A for half an hour and blows within half "
         "an hour at 24.7 A.")),
        ("plug_fuse", "note", "note", PLUG,
         ("The vessel draws 13 A through a 13 A plug fuse, which carries 20.8 A for half an hour and blows within half "
         f"an hour at 24.7 A. Above 13 A fuse and plug run hot; {AT_HIGH}.")),
    ],
)  # fmt: skip
def test_protection(code: str, severity: Severity, case: str, facts: dict[str, Any], told: str) -> None:
    """Starts, hours, outlets and fuses."""
    assert said(code, severity, case, **facts) == told


CONTRACT = {
    "shares_w": (("Vessel", 2800.0), ("Oven", 2000.0)), "base_w": 200.0, "step": "Boil", "peak_w": 5000.0,
    "at_s": TEN, "contracted_w": 4600.0, "allows_frac": 0.0, "high_w": 0.0, "limit_w": 6000.0, "by_line": None,
}  # fmt: skip
HOUSE = (
    "The house draws 5.00 kW at 10:00 (Boil) with all elements on: Vessel 2.80 kW, Oven 2.00 kW and base load 0.20 kW."
)
PEAK = {
    "window_min": 15.0, "at_s": TEN, "steps": ("Boil",), "peak_kw": 3.04, "month_peak_kw": 2.5, "free_kw": 0.0,
    "added": EUR_2,
}  # fmt: skip
WINDOW = (
    "The highest 15 min of the clock begin at 10:00 (Boil) and take 3.04 kW on the mean, with the rest of the house; "
)


@pytest.mark.parametrize(
    ("code", "case", "facts", "told"),
    [
        ("contract", "drops out", {**CONTRACT, "steps": ("Boil",)},
         f"{HOUSE} That passes the contracted 4.60 kW, and the supply drops out."),
        ("contract", "drops out", {**CONTRACT, "allows_frac": 0.1, "steps": ("Mash-out", "Boil")},
         (f"{HOUSE} That passes the contracted 4.60 kW and the 10 % it lets pass, and the supply drops out in Mash-out "
         "and Boil.")),
        ("contract", "too long", {**CONTRACT, "above_min": 90.0, "above_s": ELEVEN, "allows_min": 60.0},
         (f"{HOUSE} It stays above the contracted 4.60 kW for 90 min from 11:00, elements that pulse taken as on; the "
         "contract lets that pass for 60 min.")),
        ("contract", "within", {**CONTRACT, "contracted_w": 6000.0, "high_w": 6000.0}, (f"{HOUSE} Contracted are "
                                                                                        f"6.00 kW.")),
        ("contract", "within", {**CONTRACT, "contracted_w": 5500.0, "allows_frac": 0.1, "high_w": 6100.0},
         (f"{HOUSE} Contracted are 5.50 kW and the 10 % it lets pass; at a high voltage, with elements 5 % above their "
         "plates, 6.10 kW.")),
        ("contract", "within",
         {**CONTRACT, "contracted_w": 6000.0, "base_w": 0.0, "step": "",
          "by_line": {"line": "L1", "line_w": 3000.0, "part_w": 2000.0}},
         ("The house draws 5.00 kW at 10:00 with all elements on: Vessel 2.80 kW and Oven 2.00 kW. Contracted are "
         "6.00 kW. L1 draws 3.00 kW, more than the 2.00 kW that are a third: some meters count each line by itself.")),
        ("month_peak", "adds", PEAK,
         f"{WINDOW}the month's peak so far is 2.50 kW. It adds 2.00 EUR to the month's charge."),
        ("month_peak", "adds", {**PEAK, "month_peak_kw": 0.0, "free_kw": 1.0},
         f"{WINDOW}none was entered yet. It adds 2.00 EUR to the month's charge above the 1.00 kW that are free."),
        ("month_peak", "free", PEAK,
         f"{WINDOW}the month's peak so far is 2.50 kW. It adds nothing: that is free."),
        ("month_peak", "below", {**PEAK, "steps": ()},
         ("The highest 15 min of the clock begin at 10:00 and take 3.04 kW on the mean, with the rest of the house; "
         "the month's peak so far is 2.50 kW. It adds nothing: the month's charge has it already.")),
    ],
)  # fmt: skip
def test_the_house_s_meter(code: str, case: str, facts: dict[str, Any], told: str) -> None:
    """What the contract lets pass, and what the day adds to the month's peak."""
    assert said(code, "note", case, **facts) == told
