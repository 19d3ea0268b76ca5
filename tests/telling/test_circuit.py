"""The circuit told: the verdict with its pairs of current and rating, the numbers, what would be enough."""

from datetime import UTC, date, datetime
from typing import Any

import numpy as np
import pytest

from energyplan.base.money import UNITS_PER_CURRENCY, Money
from energyplan.base.sentence import words
from energyplan.circuits.findings import Finding
from energyplan.circuits.study import Rating
from energyplan.faces.frames import document
from energyplan.telling.circuit import (
    circuit_headline,
    circuit_numbers,
    enough_sentence,
    most_sentence,
    nearest_rating,
    tell_circuit,
    tell_enough,
    tell_house,
    unknown_tail,
    voltage_table,
)
from tests.telling.shown import Given, headings, seen_rows, titles

OK = Finding(code="isolation", severity="ok", case="ok", rule="")
UNKNOWN = Finding(code="isolation", severity="unknown", case="unknown", rule="")
OVER = Finding(code="ring", severity="over", case="over", rule="")


def rating(name: str, limit_a: float, *, whole: bool) -> Rating:
    """A rating that was entered."""
    return Rating(code=name.replace(" ", "_"), name=name, limit_a=limit_a, whole_circuit=whole)


BREAKER, FUSE, LEAD = (rating("breaker", 16.0, whole=True), rating("plug fuse", 13.0, whole=False),
                       rating("lead", 16.0, whole=False))  # fmt: skip
LINES = (
    Given(line="L1", peak_a=13.0, breaker_margin_frac=0.1875),
    Given(line="N", peak_a=13.0, breaker_margin_frac=None),
)


def checked(*ratings: Rating, **more: Any) -> Given:
    """A circuit that carries 13 A, 12.1 A of them the vessel's."""
    given = {
        "ratings": ratings, "peak_a": 13.04, "vessel_a": 12.1, "longest_at_peak_min": 44.0, "pulses_at_peak": False,
        "rms_60_min_a": 11.5, "voltage_drop_v": 6.9, "voltage_drop_frac": 0.03, "lines": LINES, "line": "L1",
        "limit_a": 16.0, "limit_name": "breaker", "continuous_a": 0.0, "findings": (UNKNOWN, UNKNOWN),
    }  # fmt: skip
    return Given(**{**given, **more})


def answered(circuit: Given | None, *findings: Finding, **more: Any) -> Any:
    """An answer with such a check."""
    day = Given(plan=Given(circuit=None))
    start = datetime(2026, 12, 5, 8, 30, tzinfo=UTC)
    given = {"circuit": circuit, "findings": findings, "day": day, "start": start, "zone": "Europe/Dublin"}
    return Given(**{**given, "mended": list, **more})


@pytest.mark.parametrize(
    ("circuit", "findings", "told"),
    [
        (checked(BREAKER), (OK,), "Within the ratings you entered: 13 A of 16 A breaker."),
        (checked(BREAKER, FUSE), (OK,),
         "Within the ratings you entered: 12.1 A of 13 A plug fuse; 13 A of 16 A breaker."),
        (checked(BREAKER, LEAD), (), "Within the ratings you entered: 13 A of 16 A breaker."),
        (checked(BREAKER, rating("cable", 27.0, whole=True), LEAD, FUSE), (UNKNOWN,),
         "Within the ratings you entered: 12.1 A of 13 A plug fuse; 13 A of 16 A breaker; 1 thing is not known."),
        (checked(rating("breaker", 0.0, whole=True), LEAD), (),
         "Within the ratings you entered: 12.1 A of 16 A lead."),
        (checked(BREAKER), (OVER, UNKNOWN, UNKNOWN), "Over: ring. 13 A of 16 A breaker; 2 things are not known."),
        (checked(), (OVER,), "Over: ring. 13 A while the elements are on."),
        (checked(), (), "13 A while the elements are on, and no rating to compare it with."),
        (None, (), "The circuit is not checked: the plan has no [circuit]."),
        (None, (OVER,), "Over: ring. The circuit is not checked: the plan has no [circuit]."),
    ],
)  # fmt: skip
def test_the_verdict_names_each_current_with_its_rating(
    circuit: Given | None, findings: tuple[Finding, ...], told: str
) -> None:
    """The lowest rating of all, and that of the vessel alone where it is lower still; what is over; what is unknown."""
    assert words(circuit_headline(answered(circuit, *findings))) == told


@pytest.mark.parametrize(
    ("circuit", "told"),
    [
        (checked(BREAKER, FUSE), "12.1 A of 13 A"),
        (checked(rating("breaker", 13.5, whole=True), FUSE), "13 A of 13.5 A"),
        (checked(rating("lead", 15.0, whole=False), BREAKER), "13 A of 16 A"),
        (checked(), "13 A"),
    ],
)  # fmt: skip
def test_the_nearest_rating_is_the_one_that_is_used_most(circuit: Any, told: str) -> None:
    """12.1 of 13 is more than 13 of 16; 13 of 13.5 is more than that; 12.1 of 15 is less than 13 of 16."""
    assert words(nearest_rating(circuit)) == told


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({}, ("13 A with all elements on, 44 min at the longest; 11.5 A over the worst hour; 6.9 V (3 %) lost in the "
         "leads.")),
        ({"pulses_at_peak": True, "voltage_drop_v": 0.0},
         "13 A with all elements on, 44 min in pulses; 11.5 A over the worst hour."),
    ],
)  # fmt: skip
def test_the_numbers_in_one_sentence(more: dict[str, Any], told: str) -> None:
    """On end or in pulses; what is lost on the way, where a cable was entered."""
    assert words(circuit_numbers(checked(**more))) == told  # type: ignore[arg-type]


def test_what_is_in_order_is_named_or_told() -> None:
    """On the screen by its name only; in all of it as a finding, with the rules' legend and every line."""
    found = answered(checked(BREAKER), OVER, OK)
    short, whole = tell_circuit(found, every=False), tell_circuit(found)
    assert words(short.sentences[0]) == "Nothing to add: isolation."
    assert words(short.sentences[1]).startswith("13 A with all elements on")
    assert [one.code for one in short.findings] == ["ring"]
    assert (len(short.tables), len(short.cautions)) == (0, 1)
    assert [one.code for one in whole.findings] == ["ring", "isolation"]
    assert [words(said) for said in whole.cautions] == [
        (
            "The check compares the plan with the ratings you entered. It is no design; local codes rule, and a "
            "licensed electrician decides."
        ),
        "Rules were [r] read in a published reproduction, [m] from memory, [p] common practice; none in the original.",
    ]
    assert len(whole.sentences) == 1
    assert titles(whole) == ["Circuit", "Lines"]
    cites = Finding(code="isolation", severity="ok", case="ok", rule="iec isolation")
    ruled = answered(checked(BREAKER), OVER, cites)
    assert titles(tell_circuit(ruled)) == ["Circuit", "Lines", "What the rules say"]
    rows = document(tell_circuit(ruled))["rules"]["rules"]
    assert [(row["checks"], row["rule"]) for row in rows] == [
        ("isolation", "BS 7671:2018, 462.2 and table 537.4 [r]")
    ], "the other cites none"
    assert tell_circuit(ruled, every=False).parts == ()
    assert titles(tell_enough(answered(None, sizes=(NEEDS, MOST)))) == ["What would be enough"]
    three = (*LINES, Given(line="L2", peak_a=4.0, breaker_margin_frac=0.75))
    lines = tell_circuit(answered(checked(BREAKER, lines=three)), every=False).table("lines")
    assert headings(lines, 0) == ["Line", "At most, A"]
    assert headings(lines, 1) == ["Line", "At most, A", "Left of the breaker"]
    assert seen_rows(lines, detail=1) == [["L1", "13.0", "19 %"], ["N", "13.0", ""], ["L2", "4.0", "75 %"]]
    facts = document(whole)
    assert facts["unknown"] == 2
    assert {key: facts[key] for key in ("peak_a", "line", "limit_a", "limit_name", "voltage_drop_frac")} == {
        "peak_a": 13.04, "line": "L1", "limit_a": 16.0, "limit_name": "breaker", "voltage_drop_frac": 0.03,
    }  # fmt: skip
    assert document(tell_circuit(answered(checked(limit_a=None))))["limit_a"] is None
    unchecked = tell_circuit(answered(None, OVER))
    assert (unchecked.title, len(unchecked.findings), len(unchecked.tables)) == ("Circuit", 1, 0)


def test_what_is_not_known_is_counted() -> None:
    """Nothing, one thing, several things."""
    assert [words(unknown_tail([UNKNOWN] * number)) for number in range(3)] == [
        "", "; 1 thing is not known", "; 2 things are not known",
    ]  # fmt: skip


def test_other_voltages_have_a_row_each() -> None:
    """Their case, volts, elements, the fullest line and the vessel."""
    case = Given(name="high", voltage_v=253.0, element_factor=1.05, peak_a=15.1, vessel_a=14.0)
    table = voltage_table(checked(voltages=(case,)))  # type: ignore[arg-type]
    assert headings(table, 0, short=True) == ["Supply", "V", "Elements", "All, A", "Vessel, A"]
    assert seen_rows(table) == [["high", "253.0", "105 %", "15.1", "14.0"]]
    assert table.title == "At other voltages"


NEEDS = Given(
    breaker_a=16.0, cable_mm2=2.5, is_region_known=True, voltage_drop_frac=0.02, outlet_a=16.0,
    outlets=("type E", "type F"), load_a=13.04, needed_a=13.04, lasting_a=0.0, shared_a=None, is_length_known=True,
    is_method_guessed=False, method="C",
)  # fmt: skip
MOST = Given(
    power_w=2950.0, limited_by=("plug_fuse",), lasting_power_w=None, beside_a=0.5, over_anyway=(), step_w=50.0,
)  # fmt: skip


@pytest.mark.parametrize(
    ("needs", "told"),
    [
        (NEEDS, ("For this day: a 16 A breaker on 2.5 mm² cable, losing 2 % on the way and an outlet of 16 A (type E "
         "or type F).")),
        (NEEDS.but(voltage_drop_frac=None, outlet_a=None),
         ("For this day: a 16 A breaker on 2.5 mm² cable; no common outlet of the table is enough: ask for a fixed "
         "connection.")),
        (NEEDS.but(breaker_a=None),
         "For this day no size of the tables is enough: ask an electrician about a supply of its own."),
        (NEEDS.but(cable_mm2=None, is_region_known=False),
         "For this day local rules are not known here: ask an electrician about a supply of its own."),
    ],
)  # fmt: skip
def test_the_smallest_circuit(needs: Any, told: str) -> None:
    """A breaker on a cable with an outlet, or whom to ask."""
    assert words(enough_sentence(needs)) == told


@pytest.mark.parametrize(
    ("needs", "told"),
    [
        (NEEDS, ["By the plates at most 13 A are on at once."]),
        (NEEDS.but(lasting_a=0.049, shared_a=16.3),
         [("By the plates at most 13 A are on at once; one plugged-in appliance takes at most 80 % of a shared "
          "circuit, which asks for 16.3 A (less would do on one of its own).")]),
        (NEEDS.but(lasting_a=0.05),
         [("By the plates at most 13 A are on at once, of which 0.1 A last 3 hours or more and count with a quarter "
          "more.")]),
        (NEEDS.but(is_length_known=False),
         ["By the plates at most 13 A are on at once.",
          "Not entered: the length of the cable, so its voltage drop does not count."]),
        (NEEDS.but(is_length_known=False, is_method_guessed=True, method="A"),
         ["By the plates at most 13 A are on at once.",
          ("Not entered: the length of the cable, so its voltage drop does not count and how the cable lies (taken as "
          "method A).")]),
        (NEEDS.but(is_method_guessed=True, method="60"),
         ["By the plates at most 13 A are on at once.",
          "Not entered: how the cable lies (taken as terminals for 60 °C)."]),
    ],
)  # fmt: skip
def test_what_the_smallest_circuit_rests_on(needs: Any, told: list[str]) -> None:
    """The load by the plates, what lasts, what a shared circuit asks for, what was guessed."""
    said = tell_enough(answered(None, sizes=(needs, MOST)))
    assert [words(one) for one in said.sentences[1:-1]] == told
    facts = document(said)["enough"]
    assert [words(one) if not isinstance(one, str) else one for one in facts["reasons"]] == told
    assert (facts["cable"], facts["outlets"], facts["breaker_a"]) == ("2.5 mm²", ["type E", "type F"], 16.0)


@pytest.mark.parametrize(
    ("most", "told", "takes_w"),
    [
        (MOST, ("This circuit takes elements of 2950 W at a time beside 0.5 A of other loads; one step more and plug "
         "fuse would be over."), 2950.0),
        (MOST.but(limited_by=(), lasting_power_w=2300.0),
         ("This circuit takes elements of 2950 W at a time, 2300 W for 3 h and more beside 0.5 A of other "
          "loads."), 2950.0),
        (MOST.but(limited_by=(), lasting_power_w=2950.0),
         "This circuit takes elements of 2950 W at a time beside 0.5 A of other loads.", 2950.0),
        (MOST.but(power_w=None), "The largest power is not known: no rating was entered.", None),
        (MOST.but(over_anyway=("main_fuse", "ring"), limited_by=()),
         ("Nothing may be on before this is mended: main fuse and ring. After that elements of 2950 W at a time beside "
         "0.5 A of other loads."), None),
    ],
)  # fmt: skip
def test_the_largest_power(most: Any, told: str, takes_w: float | None) -> None:
    """For a while and for hours, beside what, limited by what; nothing at all before what is over is mended."""
    assert words(most_sentence(most)) == told
    facts = document(tell_enough(answered(None, sizes=(NEEDS, most))))["largest_power"]
    assert (facts["power_w"], facts["power_after_mending_w"]) == (takes_w, most.power_w)
    assert facts["over_anyway"] == list(most.over_anyway)
    assert document(tell_enough(answered(None, sizes=(NEEDS.but(cable_mm2=None), MOST))))["enough"]["cable"] == ""


def test_the_house_s_meter_is_plain_numbers_for_machines() -> None:
    """Instants in UTC, money as money, results within results as mappings; what is said in words stays out."""
    from energyplan.base.records import dataclass

    @dataclass(frozen=True)
    class Inner:
        at: datetime
        share: Any

    @dataclass(frozen=True)
    class Contract:
        finding: Any
        day: date
        cost: Money
        parts: tuple[Any, ...]

    at = datetime(2026, 12, 5, 9, 15, tzinfo=UTC)
    contract = Contract(
        finding=OVER, day=date(2026, 12, 5), cost=Money(units=UNITS_PER_CURRENCY, currency="EUR"),
        parts=(Inner(at=at, share=np.float64(0.25)), "Boil"),
    )  # fmt: skip
    house = Given(house=Given(base_w=200.0), contract=contract, peak=None, ways=None, findings=[OVER])
    told = tell_house(answered(None, house=house))
    assert told is not None
    facts = document(told)
    assert facts["base_load_w"] == 200.0
    assert titles(told) == ["The house's meter"]
    assert facts["contract"] == {
        "day": "2026-12-05", "cost": 1.0, "parts": [{"at": "2026-12-05T09:15:00Z", "share": 0.25}, "Boil"],
    }  # fmt: skip
    assert (facts["peak"], facts["keeps_below"], len(told.findings)) == (None, None, 1)
    assert tell_house(answered(None, house=None)) is None


def test_a_peak_and_what_keeps_below_it_stand_beside_a_contract_that_is_not_there() -> None:
    """Each blank where it is not known; the day that was simulated for a cap is no number."""
    from energyplan.base.records import dataclass

    @dataclass(frozen=True)
    class Peak:
        peak_kw: float

    @dataclass(frozen=True)
    class Ways:
        cap_w: float
        capped: Any

    ways = Ways(cap_w=1800.0, capped=object())
    house = Given(house=Given(base_w=0.0), contract=None, peak=Peak(peak_kw=3.1), ways=ways, findings=[])
    told = tell_house(answered(None, house=house))
    assert told is not None
    facts = document(told)
    assert (facts["contract"], facts["peak"], facts["keeps_below"]) == (None, {"peak_kw": 3.1}, {"cap_w": 1800.0})
