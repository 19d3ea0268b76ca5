"""A logged day beside its plan, word for word: what it took, how long it was, what explains it, what to do next."""

from typing import Any

import pytest

from energyplan.base.money import UNITS_PER_CURRENCY, Money
from energyplan.base.sentence import words
from energyplan.faces.frames import document
from energyplan.telling.measured import log_told
from tests.telling.shown import Given, headings, seen_rows, titles


def euros(amount: float) -> Money:
    """An amount of money."""
    return Money(units=round(amount * UNITS_PER_CURRENCY), currency="EUR")


def cause(key: str, value: float, planned: float, **more: Any) -> Given:
    """An input that explains four fifths of the difference."""
    return Given(**{"key": key, "value": value, "planned": planned, "share": 0.8, "more_kwh": 0.5, "at_limit": False,
                    **more})  # fmt: skip


def phase(**more: Any) -> Given:
    """A hold of 60 min and 0.40 kWh, measured five minutes longer."""
    given = {
        "step": "Mash", "phase": "hold", "measured_min": 65.0, "planned_min": 60.0, "measured_kwh": 0.46,
        "planned_kwh": 0.4, "measured_to_c": 66.4, "planned_to_c": 67.0, "measured_lowest_c": 65.0,
        "planned_lowest_c": 66.0, "guessed": False, "within_min": 2,
    }  # fmt: skip
    return Given(**{**given, **more})


def logged(*causes: Given, **more: Any) -> Any:
    """A day of 7.60 kWh where 7.00 kWh were planned."""
    given = {
        "planned_kwh": 7.0, "measured_kwh": 7.6, "longer_kwh": 0.06, "meter_kwh": 0.15, "within_meter_error": False,
        "longer_min": 5.0, "interval_min": 1.0, "misfit": 2.5, "notes": (), "phases": (phase(),),
        "explanations": causes, "likely": Given(agrees=False, causes=causes),
    }  # fmt: skip
    return Given(**{**given, **more})


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({}, ("The day took 7.60 kWh, +0.60 kWh against the plan (outside the meter's error of 0.15 kWh), and was 5 "
         "min longer.")),
        ({"within_meter_error": True, "measured_kwh": 6.9, "longer_min": -0.5},
         ("The day took 6.90 kWh, -0.10 kWh against the plan (within the meter's error of 0.15 kWh), and was less "
         "than a minute shorter.")),
        ({"longer_min": 0.49},
         ("The day took 7.60 kWh, +0.60 kWh against the plan (outside the meter's error of 0.15 kWh), and was as "
         "long as planned.")),
        ({"measured_kwh": None, "longer_min": -12.0},
         "This day beside its plan was 12 min shorter; the log has no meter."),
    ],
)  # fmt: skip
def test_the_headline(more: dict[str, Any], told: str) -> None:
    """What it took, against the plan and the meter's error, and how long it was."""
    assert words(log_told(logged(**more)).headline) == told  # type: ignore[arg-type]


CAUSES = [
    ("loss", 1.3, 1.0, "A heat loss of 1.30 times the planned one", "Heat loss, times the planned",
     "Next time: take the measured heat loss over, and look at the lid: a gap doubles what is lost."),
    ("power", 2650.0, 2800.0, "Element power of 2650 W instead of 2800 W", "Element power",
     "Next time: take the measured element power over; the plate tells it at another voltage."),
    ("air", 8.0, 12.0, "Air of 8 °C instead of 12 °C", "Air",
     "Next time: note the temperature of the air beside the vessel, and enter it."),
    ("start", 9.0, 12.0, "Water of 9 °C at the start instead of 12 °C", "Water at the start",
     "Next time: measure the water before it is heated, and enter its temperature."),
    ("water", 27.5, 26.0, "27.5 L of water instead of 26 L", "Volume of water",
     "Next time: measure the water with a marked stick, and enter the volume."),
    ("other", 60.0, 0.0, "Another 60 W on the same meter", "Other appliances on the meter",
     "Next time: put the meter on the vessel alone, or note what else hangs on it."),
]  # fmt: skip


@pytest.mark.parametrize(("key", "value", "planned", "told", "name", "next_time"), CAUSES)
def test_what_explains_the_difference(
    key: str, value: float, planned: float, told: str, name: str, next_time: str
) -> None:
    """The input, its share, what goes with it, and what to do next time; at its limit it may be more."""
    said = [words(one) for one in log_told(logged(cause(key, value, planned))).sentences]
    assert said == [
        f"{told} explains 80 % of the difference.",
        "Rests, holds and boils were longer than planned; that alone is +0.06 kWh.",
        (
            "Of the +0.60 kWh, +0.06 kWh go with longer or shorter rests, +0.50 kWh with this cause, +0.04 kWh with "
            "neither."
        ),
        next_time,
    ]
    table = log_told(logged(cause(key, value, planned, at_limit=True))).table("explanations")
    assert seen_rows(table)[0][0] == name
    assert seen_rows(table)[0][2].endswith(" or beyond")
    limit = log_told(logged(cause(key, value, planned, at_limit=True)))
    assert words(limit.sentences[0]) == f"{told} or beyond explains 80 % of the difference."


LOSS, POWER, AIR, START, WATER, OTHER = (cause(*one[:3]) for one in CAUSES)


@pytest.mark.parametrize(
    ("causes", "told"),
    [
        ((POWER, AIR), ("Nearly as well does: Air of 8 °C instead of 12 °C. This log can't tell them apart; a "
         "heat-up of a measured volume with a meter beside it would.")),
        ((LOSS, WATER, START),
         ("Nearly as well does: 27.5 L of water instead of 26 L or Water of 9 °C at the start instead of 12 °C. This "
         "log can't tell them apart; a heat-up of a measured volume with a meter beside it would.")),
        ((LOSS, START),
         ("Nearly as well does: Water of 9 °C at the start instead of 12 °C. This log can't tell them apart; a "
         "cool-down with a thermometer in the air beside the vessel would.")),
        ((START, AIR),
         ("Nearly as well does: Air of 8 °C instead of 12 °C. This log can't tell them apart; a cool-down with a "
         "thermometer in the air beside the vessel would.")),
        ((START, OTHER),
         ("Nearly as well does: Another 60 W on the same meter. This log can't tell them apart; a second log with the "
         "room's and the water's temperature noted would.")),
    ],
)  # fmt: skip
def test_what_would_tell_causes_apart(causes: tuple[Given, ...], told: str) -> None:
    """The test that separates them: a heat-up for power and water, a cool-down for loss and air."""
    assert words(log_told(logged(*causes)).sentences[1]) == told


def test_what_nothing_explains_and_what_needs_no_explanation() -> None:
    """Neither has a next time nor parts; without a meter nothing is added up; a hair longer is not told."""
    agrees = log_told(logged(likely=Given(agrees=True, causes=()), longer_kwh=0.0049))
    assert [words(said) for said in agrees.sentences] == [
        "Plan and log agree within the errors of meter, clock and thermometer: there is nothing to explain."
    ]
    none = log_told(logged(longer_kwh=-0.005))
    assert [words(said) for said in none.sentences] == [
        (
            "No single input explains the difference: several are off, or something happened that the plan doesn't "
            "have. A cool-down and a heat-up with a meter would tell them apart."
        ),
        "Rests, holds and boils were shorter than planned; that alone is -0.01 kWh.",
    ]
    unmetered = [words(said) for said in log_told(logged(LOSS, measured_kwh=None)).sentences]
    assert not any(said.startswith("Of the") for said in unmetered)


def test_each_phase_stands_beside_its_plan() -> None:
    """Minutes with the doubt of their end, kWh, temperatures; what can't be told says why."""
    rows = (phase(), phase(within_min=0), phase(guessed=True), phase(measured_min=None, measured_kwh=None))
    told = log_told(logged(phases=rows))
    table = told.table("phases")
    assert headings(table, 0, short=True) == ["Step", "", "min", "", "plan", "kWh", "plan", "°C", "plan"]
    assert [row[2:9] for row in seen_rows(table)] == [
        ["65", "±2", "60", "0.46", "0.40", "66.4", "67.0"],
        ["65", "", "60", "0.46", "0.40", "66.4", "67.0"],
        ["65", "~", "60", "0.46", "0.40", "66.4", "67.0"],
        ["", "not told", "60", "", "0.40", "66.4", "67.0"],
    ]
    assert [row["more_kwh"] for row in table] == [pytest.approx(0.06)] * 3 + [None]
    assert headings(table, 1)[7] == "More, kWh"
    assert seen_rows(table, detail=1)[0][7] == "+0.06"
    last = document(told)["phases"][-1]
    assert last["why"] == "the readings are too few to tell where it begins and ends"
    assert document(told)["phases"][0]["why"] is None
    assert document(told)["totals"] == {
        "planned_kwh": 7.0, "measured_kwh": 7.6, "longer_kwh": 0.06, "meter_kwh": 0.15, "within_meter_error": False,
    }  # fmt: skip
    assert document(told)["cost"] is None


def priced(*bands: tuple[str, float, float], tiers: float = 0.0, ends: Any = None) -> Any:
    """What the measured energy costs by band."""
    given = tuple(Given(name=name, energy_kwh=kwh, cost=euros(cost)) for name, kwh, cost in bands)
    total = euros(sum(cost for _, _, cost in bands) + tiers)
    return Given(bands=given, tier_cost=euros(tiers), total=total, energy_kwh=sum(kwh for _, kwh, _ in bands),
                 tier_ends=lambda: ends, line=Given(currency="EUR"))  # fmt: skip


def test_what_was_measured_costs() -> None:
    """The tariff's name, the bands where there are several, the steps by the month as a row, both ends of the cost."""
    ends = (Given(total=euros(1.9)), Given(total=euros(2.4)))
    told = log_told(logged(), priced(("night", 2.6, 0.4), ("day", 5.0, 1.6), tiers=0.1, ends=ends), "Two rates")
    assert [words(said) for said in told.sentences[:2]] == [
        "All 7.60 kWh on the meter cost 2.10 EUR under “Two rates”.",
        "The tariff has steps by the month's use, which is not entered ([supply] month_kwh_so_far): 1.90 to 2.40 EUR.",
    ]
    table = told.tables[1]
    assert titles(told) == [
        "Measured beside planned", "Each phase as measured and as planned", "What was measured, by price",
        "Each input changed alone until plan and log fit best",
    ]  # fmt: skip
    assert headings(table, 0) == ["Band", "Measured, kWh", "Cost, EUR"]
    assert seen_rows(table) == [
        ["night", "2.60", "0.40"], ["day", "5.00", "1.60"], ["tiers", "", "0.10"], ["All", "7.60", "2.10"],
    ]  # fmt: skip
    assert document(told)["cost"] == 2.1
    one = log_told(logged(), priced(("all", 7.6, 2.0)), "Flat")
    assert len(one.tables) == 2
    assert words(one.sentences[0]) == "All 7.60 kWh on the meter cost 2.00 EUR under “Flat”."
    assert len(document(one)["bands"]) == 1
