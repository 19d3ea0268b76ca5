"""Tests of the page By the clock, of planning backwards, and of bigger batches."""

from collections.abc import Callable
from datetime import time
from typing import Any

import pytest

from energyplan.advice.answer import answer
from energyplan.advice.unattended import FACT_KEYS
from energyplan.plan.file import read_plan
from energyplan.plan.model import HouseSupply
from energyplan.tariffs.clock import local_to_utc
from energyplan.tariffs.tarifffile import load_tariff
from energyplan.telling.clock import clock_told, done_sentence, hands_sentence
from energyplan.telling.picture import room_told

Open = Callable[..., Any]


@pytest.fixture(scope="module")
def known() -> Any:
    """The demo day, answered by the library."""
    tariff = load_tariff("demo")
    return answer(read_plan("demo"), tariff, local_to_utc("2026-12-05T08:30", tariff.time_zone))


def test_it_says_when_somebody_must_be_there(visit: Open, known: Any) -> None:
    """The sentences and the times are those of the library."""
    page = visit("by-the-clock")
    assert str(done_sentence(known)) in page.words
    assert str(hands_sentence(known)) in page.words
    assert str(room_told(known).headline) in page.words
    expected = [f"{row['time'].at:%H:%M}" for row in clock_told(known).table("clock")]
    shown = next(one.value for one in page.at.dataframe if "time" in one.value)
    assert shown["time"].tolist() == expected


def test_unattended_heating_is_refused_until_all_is_said(visit: Open) -> None:
    """With nothing said it refuses; with every fact held it still says that nothing was seen."""
    page = visit("by-the-clock")
    assert "Refused:" in page.words
    for key in FACT_KEYS:
        if key not in ("limit", "heater", "later"):  # the plan itself answers these two
            page.at.button_group(key=f"fact_{key}").set_value("yes")
    page.at.number_input(key="fact_limit").set_value(3.0)
    page.run()
    assert "Nothing here sees the vessel" in page.words


def test_a_wanted_time_gives_the_start(visit: Open, known: Any) -> None:
    """Done by 18:00: the start that it names, once taken, ends the day at or just before 18:00."""
    page = visit("when")
    page.at.time_input(key="goal_at").set_value(time(18))
    page.run()
    page.click("take_goal")
    wall = page.work.wall
    ends = (wall.hour * 60 + wall.minute) + known.day.duration_s / 60
    assert 18 * 60 - 1 <= ends <= 18 * 60


def test_bigger_batches_are_worked_out_when_asked(visit: Open) -> None:
    """The table has the planned batch and the others; what is no volume is an error in place."""
    page = visit("worth-changing")
    page.at.session_state["fold_batches"] = True
    page.run()
    frame = next(table.value for table in page.at.dataframe if "way" in table.value.columns)
    assert len(frame) >= 3
    page.at.text_input(key="batches_end").set_value("35 kg")
    page.run()
    assert "35 kg" in page.words


def test_the_vessel_page_says_what_to_measure_next(visit: Open) -> None:
    """The input that narrows most comes first, with the way to measure it."""
    page = visit("your-vessel")
    assert "What to measure next" in page.words
    frame = next(table.value for table in page.at.dataframe if "input" in table.value.columns)
    assert len(frame) >= 3


def test_a_contract_that_cuts_off_stands_on_the_circuit_page(visit: Open) -> None:
    """A contracted power below what the house draws is the first sentence and the first finding."""
    page = visit()
    supply = HouseSupply(contracted_w=2500.0, base_load_w=400.0)
    page.work.replace(page.work.plan.model_copy(update={"supply": supply}))
    page.run()
    page.go("circuit")
    assert page.headline.startswith("Over: contract")
    assert "contract" in page.words
