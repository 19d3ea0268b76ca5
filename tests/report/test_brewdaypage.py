"""Tests of the page for the brew day: order of the rows, sums, the clock."""

from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal
from importlib.resources import files

import pytest

from energyplan.advice.answer import Answer, answer
from energyplan.base.units import Display
from energyplan.plan.file import parse_plan
from energyplan.report.brewdaypage import brew_day_page, clock_text, set_power_w, shown_costs
from energyplan.tariffs.tarifffile import load_tariff

METRIC = Display("metric")
START = datetime(2026, 12, 5, 8, 30, tzinfo=UTC)


def answered(title: str, *, tariff: bool = True, start: datetime = START) -> Answer:
    """The packaged day under another title."""
    text = (files("energyplan") / "demo" / "demo.toml").read_text(encoding="utf-8")
    text = text.replace("Oat stout for the village hall", title)
    return answer(parse_plan(text, source="test"), load_tariff("demo") if tariff else None, start)


@pytest.fixture(scope="module")
def day() -> Answer:
    """The day that most tests look at."""
    return answered("Mild for the allotment")


def test_rows_stand_by_the_clock(day: Answer) -> None:
    """Before a step what is done first, then its phase; a watch from before the boil, then what goes into it."""
    rows = brew_day_page(day, METRIC)["rows"]
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
    page = brew_day_page(day, METRIC)
    by_hand = [row for row in page["rows"] if row["kind"] not in ("phase", "end")]
    phases_at = {row["clock"] for row in page["rows"] if row["kind"] == "phase"}
    doubled = [row["clock"] for row in by_hand if [other["clock"] for other in by_hand].count(row["clock"]) > 1]
    assert set(doubled) <= phases_at  # before and after a phase that begins then
    said = " ".join(row["words"] for row in by_hand)
    for words in ("Lift the grain out", "Sparge: 5.0 L at 75 °C", "Lift, drain and sparge", "Put the lid on"):
        assert words in said


def test_shown_energies_and_costs_add_up(day: Answer) -> None:
    """What is written in the column of a phase adds up to what is written in the last row, to the digit."""
    page = brew_day_page(day, METRIC)
    *beside, whole = page["totals"]
    phases = [row for row in page["rows"] if row["kind"] == "phase"]
    for column in ("kwh", "cost"):
        assert sum(Decimal(row[column]) for row in [*phases, *beside] if row[column]) == Decimal(whole[column])
    assert Decimal(whole["kwh"]) == round(Decimal(day.day.energy_kwh), 2)
    assert page["currency"] == "EUR"


def test_without_a_tariff_there_is_no_cost() -> None:
    """No column of money, and no invented price."""
    unpriced = answered("Free beer", tariff=False)
    page = brew_day_page(unpriced, METRIC)
    assert shown_costs(unpriced) is None
    assert page["currency"] is None
    assert {row["cost"] for row in page["totals"]} == {""}


def test_power_to_set_is_the_cap_or_all_elements(day: Answer) -> None:
    """Capped as in the plan, else 1800 W + 1000 W; off in a pause."""
    plan = day.day.plan
    power = {(phase.step, phase.phase): set_power_w(plan, phase) for phase in day.day.phases}
    assert power["Strike", "ramp"] == 2800
    assert power["Strike", "hold"] == 600
    assert power["Mash-out", "ramp"] == 2000
    assert power["Sparge", "pause"] == 0
    assert power["Boil", "boil"] == 2200
    assert power["Cleaning", "hold"] == 2800
    rows = [row for row in brew_day_page(day, METRIC)["rows"] if row["kind"] == "phase"]
    assert {row["set"] for row in rows if row["phase"] == "pause"} == {"off"}


def test_advice_stands_beside_every_hold_and_boil(day: Answer) -> None:
    """As the power advice says; ramps and pauses have none."""
    rows = [row for row in brew_day_page(day, METRIC)["rows"] if row["kind"] == "phase"]
    advised = [row["advised"] for row in rows if row["phase"] in ("hold", "boil")]
    assert advised == [f"{row.advised_w:.0f}" for row in day.power.rows]
    assert {row["advised"] for row in rows if row["phase"] in ("ramp", "pause")} == {""}


def test_a_phase_of_seconds_is_not_called_zero_minutes(day: Answer) -> None:
    """Less than a minute says so."""
    for row, phase in zip(
        [row for row in brew_day_page(day, METRIC)["rows"] if row["kind"] == "phase"], day.day.phases, strict=True
    ):
        assert (row["minutes"] == "< 1") == (phase.duration_s < 60)


def test_the_clock_names_another_day(day: Answer) -> None:
    """After midnight the weekday stands before the clock."""
    late = replace(day, start=datetime(2026, 12, 5, 23, 30, tzinfo=UTC))
    assert clock_text(late, 0) == "23:30"
    assert clock_text(late, 3600) == "Sun 00:30"


def test_the_clock_names_its_zone_when_it_moves(day: Answer) -> None:
    """At the end of summer time 01:30 comes twice, and the zone tells which (Ireland: at 01:00 UTC, 25 October)."""
    moving = replace(day, start=datetime(2026, 10, 25, 0, 30, tzinfo=UTC))
    assert clock_text(moving, 0) == "01:30 IST"
    assert clock_text(moving, 3600) == "01:30 GMT"


def test_a_day_without_second_heater_has_one_total() -> None:
    """No row for what there is not."""
    text = (files("energyplan") / "demo" / "lakeside.toml").read_text(encoding="utf-8")
    lake = answer(parse_plan(text.replace("Pale ale in the lakeside garage", "Lake"), source="test"), None, START)
    page = brew_day_page(lake, Display("us"))
    assert [row["words"] for row in page["totals"]] == ["The day"]
    assert page["unit"] == "°F"
