"""A brewed day in words: one screen, no metric word in US units, what was mistyped is named."""

import io
import json

import pytest
from rich.console import Console

from energyplan.advice.answer import answer
from energyplan.advice.brewed import Reading, Readings
from energyplan.advice.brewery import Kept, brewed_answer, day_kwh, months
from energyplan.advice.learned import learn
from energyplan.base.kinds import Style
from energyplan.faces.frames import document
from energyplan.faces.terminal import terminal
from energyplan.plan.file import read_plan
from energyplan.telling.brewed import brewed_told, year_told
from energyplan.telling.day import day_told

SHEET = {"Strike": 2.16, "Mash-out": 3.0, "Boil": 6.8}


@pytest.fixture(scope="module")
def demo():
    """The demo plan."""
    return read_plan("demo")


def typed(demo, totals, name="2026-12-05"):
    """Readings from the sheet."""
    rows = tuple(Reading(kind="energy_kwh", step=step, value=kwh) for step, kwh in totals.items())
    return Readings(plan=demo, readings=rows, name=name)


def shown(told, units="metric"):
    """Text on a terminal of 80 columns."""
    page = io.StringIO()
    Console(file=page, width=80, highlight=False, color_system=None).print(terminal(told, Style(units)))
    return page.getvalue()


@pytest.mark.parametrize("units", ["metric", "us"])
def test_a_brewed_day_is_one_screen(units, demo):
    """What the meter counted, the likeliest cause, stretches, what it taught."""
    text = shown(brewed_told(brewed_answer(typed(demo, SHEET), (), None, demo)), units)
    flat = " ".join(text.split())
    for word in ("The meter counted 6.80 kWh", "Most likely", "Mash-out", "from 1 brewed day", "Heat loss, lid on"):
        assert word in flat
    assert len(text.splitlines()) <= 40
    assert max(map(len, text.splitlines())) <= 80
    if units == "us":
        assert not [word for word in (" °C", "W/K", " L ", " kg") if word in text]


def test_the_document_has_the_keys_of_the_contract(demo):
    """Stretches with planned and measured kWh, cost, cause, what was learned before and after, effective draws."""
    found = json.loads(json.dumps(document(brewed_told(brewed_answer(typed(demo, SHEET), (), None, demo)))))
    assert [row["until"] for row in found["stretches"]] == list(SHEET)
    assert sum(row["measured_kwh"] for row in found["stretches"]) == pytest.approx(6.8)
    assert {"cost", "cause", "learned", "effective_draws"} <= set(found)
    loss = found["learned"]["heat_loss_w_per_k"]
    assert loss["after"]["high"] - loss["after"]["low"] < loss["before"]["high"] - loss["before"]["low"]
    assert found["effective_draws"] > 100


def test_a_measured_loss_is_told_as_it_was_entered(demo):
    """A loss measured with the vessel half full is told at that filling, beside the brewed days as on the form."""
    vessel = demo.vessel.model_copy(update={"heat_loss_w_per_k": 4.8, "measured_at_l": 20.0})
    measured = demo.model_copy(update={"vessel": vessel})
    found = document(brewed_told(brewed_answer(typed(measured, SHEET), (), None, measured)))
    before = found["learned"]["heat_loss_w_per_k"]["before"]
    assert before["value"] == pytest.approx(4.8, rel=0.01)


@pytest.mark.parametrize("days", [0, 1])
def test_another_day_takes_what_the_report_says(days, demo):
    """The range beside a brewed day is that of the report, before the first day and after it; the vessel's alone."""
    plan = demo.model_copy(update={"second_heater": None})
    learned = learn(plan, (typed(plan, SHEET),)) if days else None
    report = answer(plan, None, "2026-12-05T08:30", learned).ranges.energy_kwh
    found = brewed_answer(typed(plan, SHEET), (), None, plan)
    mine = found.range_after if days else found.range_before
    assert (mine.p10, mine.p50, mine.p90) == pytest.approx((report.p10, report.p50, report.p90), rel=1e-9)
    beside = brewed_answer(typed(demo, SHEET), (), None, demo)
    heater_kwh = answer("demo").day.profiles[1].energy_kwh
    assert beside.range_after.p50 + heater_kwh == pytest.approx(
        answer(demo, None, "2026-12-05T08:30", beside.after).ranges.energy_kwh.p50, abs=0.03
    )


def test_brewed_days_take_the_place_of_the_estimated_loss(demo):
    """Before the first a caution says that the loss is an estimate; after it all other cautions stay."""
    plan = demo.model_copy(update={"batch": demo.batch.model_copy(update={"gravity": None})})
    before, after = (
        {str(one) for one in day_told(answer(plan, None, "2026-12-05T08:30", learned)).cautions}
        for learned in (None, learn(plan, (typed(plan, SHEET),)))
    )
    assert after < before
    (estimated,) = before - after
    assert "loss" in estimated
    assert after


def test_a_mistyped_reading_is_named(demo):
    """A total ten times too large: the words ask for it, and say that it taught nothing."""
    text = " ".join(shown(brewed_told(brewed_answer(typed(demo, {**SHEET, "Boil": 70.0}), (), None, demo))).split())
    assert "is one mistyped, such as that of “Boil”? They taught nothing." in text
    litres = Readings(plan=demo, readings=(Reading(kind="boiled_off_l", value=0.3),), name="2026-12-05")
    text = " ".join(shown(brewed_told(brewed_answer(litres, (), None, demo))).split())
    assert "is one mistyped, such as the litres boiled off? They taught nothing." in text


def test_a_year_in_one_table(demo):
    """Two months, their total, and the range that they teach."""
    days = (typed(demo, SHEET, "2026-11-07"), typed(demo, SHEET, "2026-12-05"))
    learned = learn(demo, days)
    told = year_told(months(days, None), Kept(days=days, unusable=()), learned, day_kwh(demo, learned))
    text = shown(told)
    assert "2 brewed days: 13.60 kWh metered" in text
    assert [row["month"] for row in document(told)["months"]] == ["2026-11", "2026-12"]
    assert "All" in text
    nothing = year_told((), Kept(days=(), unusable=()), learn(demo, ()), day_kwh(demo, learn(demo, ())))
    assert "No brewed day" in shown(nothing)
