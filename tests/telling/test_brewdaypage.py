"""Tests of the page for the brew day: order of the rows, sums, the clock."""

from datetime import UTC, datetime
from decimal import Decimal

import pytest

from energyplan.advice.answer import Answer, answer
from energyplan.base.kinds import Style
from energyplan.faces.sheet import brew_day_texts
from energyplan.plan.file import demo_plans, parse_plan
from energyplan.tariffs.tarifffile import load_tariff
from energyplan.telling.files import brew_day_told

START = datetime(2026, 12, 5, 8, 30, tzinfo=UTC)


def answered(title: str, *, tariff: bool = True, start: datetime = START) -> Answer:
    """The packaged day under another title."""
    text = demo_plans()["demo"]
    text = text.replace("Oat stout for the village hall", title)
    return answer(parse_plan(text, source="test"), load_tariff("demo") if tariff else None, start)


@pytest.fixture(scope="module")
def day() -> Answer:
    """The day that most tests look at."""
    return answered("Mild for the allotment")


def test_rows_stand_by_the_clock(day: Answer) -> None:
    """Before a step what is done first, then its phase; a watch from before the boil, then what goes into it."""
    rows = brew_day_texts(brew_day_told(day))["rows"]
    clocks = [row["clock"] for row in rows]
    assert clocks == sorted(clocks)
    words = [row["words"] for row in rows]
    grain = next(place for place, text in enumerate(words) if text.startswith("Add the grain: 5.80 kg; Stir the grain"))
    assert grain < words.index("Saccharification")
    boil = next(place for place, row in enumerate(rows) if row.get("phase") == "boil")
    watch = next(place for place, text in enumerate(words) if text.startswith("Watch for boil-over, from "))
    assert watch < boil
    assert words[boil + 1].startswith("Watch for boil-over at the first addition")
    assert words[boil + 1].endswith("Bittering hops")
    assert words[boil + 2] == "Late hops"
    assert words[-2] == "Done: switch off, read the meter"
    assert words[-1].startswith("Rinse and put away, until ")
    assert any(text.startswith("Switch on: Second heater, 1500 W, until ") for text in words)


def test_what_comes_at_one_time_stands_in_one_row(day: Answer) -> None:
    """No two rows beside the phases and the end have the same clock, and no word is lost by it."""
    page = brew_day_texts(brew_day_told(day))
    by_hand = [row for row in page["rows"] if row["kind"] not in ("phase", "end")]
    phases_at = {row["clock"] for row in page["rows"] if row["kind"] == "phase"}
    doubled = [row["clock"] for row in by_hand if [other["clock"] for other in by_hand].count(row["clock"]) > 1]
    assert set(doubled) <= phases_at  # before and after a phase that begins then
    said = " ".join(row["words"] for row in by_hand)
    for words in ("Lift the grain out", "Sparge: 5 L at 75 °C", "Lift, drain and sparge", "Put the lid on"):
        assert words in said


def test_shown_energies_and_costs_add_up(day: Answer) -> None:
    """What is written in the column of a phase adds up to what is written in the last row, to the digit."""
    page = brew_day_texts(brew_day_told(day))
    *beside, whole = page["totals"]
    phases = [row for row in page["rows"] if row["kind"] == "phase"]
    for column in ("kwh", "cost"):
        assert sum(Decimal(row[column]) for row in [*phases, *beside] if row[column]) == Decimal(whole[column])
    assert Decimal(whole["kwh"]) == round(Decimal(day.day.energy_kwh), 2)
    assert page["currency"] == "EUR"


def test_without_a_tariff_there_is_no_cost() -> None:
    """No column of money, and no invented price."""
    unpriced = answered("Free beer", tariff=False)
    page = brew_day_texts(brew_day_told(unpriced))
    assert page["currency"] is None
    assert {row["cost"] for row in page["totals"]} == {""}


def test_advice_stands_beside_every_hold_and_boil(day: Answer) -> None:
    """As the power advice says; ramps and pauses have none."""
    rows = [row for row in brew_day_texts(brew_day_told(day))["rows"] if row["kind"] == "phase"]
    advised = [row["advised"] for row in rows if row["phase"] in ("hold", "boil")]
    assert advised == [f"{row.advised_w:.0f}" for row in day.power.rows]
    assert {row["advised"] for row in rows if row["phase"] in ("ramp", "pause")} == {""}


def test_a_phase_of_seconds_is_not_called_zero_minutes(day: Answer) -> None:
    """Less than a minute says so."""
    for row, phase in zip(
        [row for row in brew_day_texts(brew_day_told(day))["rows"] if row["kind"] == "phase"],
        day.day.phases,
        strict=True,
    ):
        assert (row["minutes"] == "<1") == (phase.duration_s < 30)


def test_a_day_without_second_heater_has_one_total() -> None:
    """No row for what there is not."""
    text = demo_plans()["lakeside"]
    lake = answer(parse_plan(text.replace("Pale ale in the lakeside garage", "Lake"), source="test"), None, START)
    page = brew_day_texts(brew_day_told(lake), Style("us"))
    assert [row["words"] for row in page["totals"]] == ["The day"]
    assert page["unit"] == "°F"
