"""A brewed day in words: one screen, no metric word in US units, what was mistyped is named."""

import io
import json
from datetime import UTC, date, datetime

import numpy as np
import pytest
from rich.console import Console

from energyplan.advice.answer import answer
from energyplan.advice.brewed import Reading, Readings
from energyplan.advice.brewery import Kept, Month, brewed_answer, day_kwh, months
from energyplan.advice.learned import learn
from energyplan.base.kinds import Moment, Style
from energyplan.base.money import UNITS_PER_CURRENCY, Money
from energyplan.base.sentence import words
from energyplan.day.kettle import heat_loss_w_per_k
from energyplan.faces.frames import document
from energyplan.faces.terminal import terminal
from energyplan.plan.file import read_plan
from energyplan.telling.brewed import brewed_told, meter_told, year_told
from energyplan.telling.day import day_told
from tests.telling.shown import Given, headings, seen_rows, titles

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


def euros(amount):
    """An amount of money."""
    return Money(units=round(amount * UNITS_PER_CURRENCY), currency="EUR")


AT = Moment(datetime(2026, 12, 5, 8, 30, tzinfo=UTC), date(2026, 12, 5))
LOG = Given(columns=("from", "to", "kWh"), counts="energy", stamped="both", clock="utc", interval_s=1800.0)


def above(measured_kwh, *, within_kwh=0.5, days=9, seen=True):
    """What the house's meter counted above the usual 2.00 kWh."""
    return Given(shows=lambda _: seen, measured_kwh=measured_kwh, within_kwh=within_kwh, days=days, interval_min=30.0,
                 usual_kwh=np.array([1.5, 0.5]))  # fmt: skip


USUAL = "Usual is 2.00 kWh in those hours, from 9 other days; their scatter is the ±, on 19 days of 20."
READ = "Read as: energy of 30 min from the column “kWh”; stamps in “from to” mark both ends, on UTC."


def test_a_brew_in_the_house_s_meter():
    """What it took above the usual, what that cost, whether it is the plan's, and how the export was read."""
    told = meter_told(above(7.5), LOG, 7.0, (euros(2.0), "Two rates"), AT)
    assert words(told.headline) == (
        "The day from 08:30 on Sat 5 Dec 2026 on took 7.50 kWh above the household's usual, ±0.50 kWh; planned were "
        "7.00 kWh."
    )
    assert [words(said) for said in told.sentences] == [
        "It cost 2.00 EUR under “Two rates”.", "Plan and meter agree within that.", USUAL, READ,
    ]  # fmt: skip
    facts = document(told)
    assert {key: facts[key] for key in ("measured_kwh", "within_kwh", "usual_kwh", "planned_kwh", "interval_min",
                                        "brew_seen", "cost", "why", "start", "counts", "stamped", "clock")} == {
        "measured_kwh": 7.5, "within_kwh": 0.5, "usual_kwh": 2.0, "planned_kwh": 7.0, "interval_min": 30.0,
        "brew_seen": True, "cost": 2.0, "why": None, "start": "2026-12-05T08:30:00Z", "counts": "energy",
        "stamped": "both", "clock": "utc",
    }  # fmt: skip
    off = meter_told(above(7.51), LOG, 7.0, None, AT)
    assert words(off.sentences[0]) == "That is more than the scatter: a plug-in meter, or a log, would tell why."
    assert words(meter_told(above(6.49), LOG, 7.0, None, AT).sentences[0]).startswith("That is more than the scatter")
    assert document(off)["cost"] is None
    assert titles(told) == ["In the house's meter"]


def test_no_brew_in_the_house_s_meter():
    """No money is told of what is not seen, and what to look at is asked."""
    one = LOG.but(columns=("Zeit", "W"), counts="power", stamped="start", clock="local", interval_s=900.0)
    told = meter_told(above(0.3, days=1, seen=False), one, 7.0, (euros(2.0), "Two rates"), AT)
    assert words(told.headline) == (
        "No brew is seen from 08:30 on Sat 5 Dec 2026 on: 0.30 kWh above the household's usual, ±0.50 kWh, where 7.00 "
        "kWh were planned."
    )
    assert [words(said) for said in told.sentences] == [
        "Is that the day, is the clock of the export right, does this meter see the vessel?",
        "Usual is 2.00 kWh in those hours, from 1 other day; their scatter is the ±, on 19 days of 20.",
        (
            "Read as: mean power of 15 min from the column “W”; stamps in “Zeit” mark the start of each, on the local "
            "clock."
        ),
    ]
    facts = document(told)
    assert facts["why"] == "what is above the usual does not stand out from its scatter"
    assert (facts["cost"], facts["brew_seen"]) == (None, False)
    last = LOG.but(counts="total", stamped="end", clock="offset")
    assert words(meter_told(above(7.5), last, 7.0, None, AT).sentences[-1]) == (
        "Read as: a running total of 30 min from the column “kWh”; stamps in “from to” mark the end of each, on the "
        "clock that they name."
    )


NOTHING_LEARNED = Given(vessels={}, days=0, is_thin=False, contradict=(), effective_draws=400.0)
LIKELY = Given(p10=6.5, p50=7.0, p90=7.5)


def brewed(*causes, **more):
    """A day of 6.80 kWh where 7.00 kWh were planned, that taught nothing of the vessel."""
    given = {
        "stretches": (Given(until="Mash-out", planned_kwh=3.0, measured_kwh=3.2),
                      Given(until="", planned_kwh=4.0, measured_kwh=3.6)),
        "causes": causes, "pairs": (), "contradicts": False, "had_open_lid": False, "cost": None, "unpriced": None,
        "misfit": 1.5,
        "readings": Given(plan=read_plan("demo"), metered_kwh=6.8, name="2026-12-05"), "before": NOTHING_LEARNED,
        "after": NOTHING_LEARNED.but(days=2), "range_before": LIKELY, "range_after": LIKELY.but(p10=6.6, p90=7.2),
        "oddest": Given(step="Boil", kind="energy_kwh"),
    }  # fmt: skip
    return Given(**{**given, **more})


AFTER = (
    "Another day of this plan takes 6.6 to 7.2 kWh on this meter, eight days of ten, from 2 brewed days (6.5 to 7.5 "
    "kWh without this one)."
)


@pytest.mark.parametrize(
    ("cause", "told"),
    [
        (("air_c", 8.0, 12.0), "air of 8 °C instead of 12 °C"),
        (("water_c", 9.0, 12.0), "water of 9 °C at the start instead of 12 °C"),
        (("grain_c", 10.0, 18.0), "grain of 10 °C instead of 18 °C"),
        (("voltage_v", 224.0, 230.0), "mains of 224 V instead of 230 V"),
        (("element_factor", 0.95, 1.0), "elements that give 0.95 times what is planned"),
        (("loss_factor", 1.3, 1.0), "a heat loss of 1.30 times the planned one"),
        (("open_surface_factor", 1.1, 1.0), "an open surface that takes 1.10 times what is planned"),
    ],
)  # fmt: skip
def test_the_likeliest_cause(cause, told):
    """With its share of how far all readings are off; a quarter of it is named, less is not."""
    key, value, planned = cause
    one = Given(input=key, value=value, planned=planned, share=0.25)
    said = brewed_told(brewed(one))
    assert [words(sentence) for sentence in said.sentences] == [
        f"Most likely: {told}; that explains 25 % of how far all the readings are off.", AFTER,
    ]  # fmt: skip
    assert document(said)["cause"] == told
    weak = brewed_told(brewed(one.but(share=0.249)))
    assert words(weak.sentences[0]) == (
        "No single input explains these readings; several are off, or something else happened."
    )
    assert document(weak)["cause"] is None


WATER, LOSS, WEAK, MAINS = (
    Given(input=key, value=value, planned=planned, share=0.96, step="")
    for key, value, planned in (
        ("water_c", 6.0, 12.0), ("loss_factor", 1.5, 1.0), ("element_factor", 0.9, 1.0), ("voltage_v", 218.0, 230.0)
    )
)  # fmt: skip
COLD, LEAKY = "water of 6 °C at the start instead of 12 °C", "a heat loss of 1.50 times the planned one"
FEEBLE, SAGGING = "elements that give 0.90 times what is planned", "mains of 218 V instead of 230 V"


@pytest.mark.parametrize(
    ("pairs", "told", "cause"),
    [
        (
            [(WATER, LOSS)],
            (
                f"Most likely two things at once: {COLD}, and {LEAKY}; together they explain 96 % of how far all the "
                "readings are off, which neither does alone."
            ),
            f"{COLD}, and {LEAKY}",
        ),
        (
            [(WATER, MAINS), (WATER, WEAK), (LOSS, WATER)],
            (
                f"Most likely two things at once: {COLD}, and one that these readings can't tell: {SAGGING}, "
                f"{FEEBLE} or {LEAKY}."
            ),
            None,
        ),
        (
            [(WATER, MAINS), (LOSS, WEAK)],
            (
                f"Two things at once explain these readings, which can't tell ({COLD}, and {SAGGING}) from "
                f"({LEAKY}, and {FEEBLE})."
            ),
            None,
        ),
    ],
)
def test_two_causes_at_once(pairs, told, cause):
    """In the words of one; what can't be told apart is said, and is no cause for machines, which get all pairs."""
    said = brewed_told(brewed(WATER, LOSS, pairs=tuple(pairs)))
    assert [words(sentence) for sentence in said.sentences] == [told, AFTER]
    facts = document(said)
    assert facts["cause"] == cause
    assert len(facts["together"]) == len(pairs)
    contradicts = document(brewed_told(brewed(WATER, LOSS, pairs=tuple(pairs), contradicts=True)))
    assert (contradicts["cause"], contradicts["together"]) == (None, [])


def test_a_lid_that_was_left_open():
    """By its step and for how much of it, alone or beside something else; such a day taught nothing, and is no slip."""
    lid = Given(input="lid", value=0.97, planned=0.0, share=0.98, step="Mash")
    told = "a lid left open for 97 % of “Mash”"
    for contradicts in (True, False):
        nothing = ["A day like that taught nothing of the vessel."] * contradicts
        alone = brewed_told(brewed(lid, contradicts=contradicts, had_open_lid=True))
        assert [words(sentence) for sentence in alone.sentences] == [
            f"Most likely: {told}; that explains 98 % of how far all the readings are off.", *nothing, AFTER,
        ]  # fmt: skip
        assert document(alone)["cause"] == told
        two = brewed_told(brewed(lid, pairs=((WATER, lid),), contradicts=contradicts, had_open_lid=True))
        assert document(two)["cause"] == f"{COLD}, and {told}"
        assert [words(sentence) for sentence in two.sentences[1:]] == [*nothing, AFTER]
    either = brewed_told(brewed(lid, pairs=((WATER, lid), (WATER, lid.but(step="Strike", value=0.5)))))
    assert words(either.sentences[0]).endswith(f"can't tell: {told} or a lid left open for 50 % of “Strike”.")


def test_the_stretches_add_up_to_what_the_meter_counted():
    """To the end of a step, or of the day; more or less beside the plan."""
    told = brewed_told(brewed())
    assert words(told.headline) == "The meter counted 6.80 kWh where 7.00 kWh were planned: -0.20 kWh."
    table = told.table("stretches")
    assert headings(table, 0) == ["To the end of", "Planned, kWh", "Measured, kWh", "More, kWh"]
    assert seen_rows(table) == [["Mash-out", "3.00", "3.20", "+0.20"], ["the end", "4.00", "3.60", "-0.40"]]
    assert words(told.sentences[0]) == "Plan and readings agree within the errors of meter and clock."
    facts = document(told)
    assert (facts["planned_kwh"], facts["measured_kwh"], facts["misfit"], facts["days"]) == (7.0, 6.8, 1.5, 2)
    assert facts["learned"]["energy_kwh"] == {
        "before": {"value": 7.0, "p10": 6.5, "p90": 7.5}, "after": {"value": 7.0, "p10": 6.6, "p90": 7.2},
    }  # fmt: skip
    unread = brewed_told(brewed(stretches=()))
    assert titles(told) == ["Brewed", "Plan beside meter", "The vessel's own numbers, 95 % ranges"]
    assert words(unread.headline) == "The meter was not read; what else was noted is compared."
    assert document(unread)["planned_kwh"] is None
    assert [table.key for table in unread.tables] == ["taught"]


def test_days_that_contradict_and_days_that_leave_few_vessels():
    """The day itself says that it taught nothing; another one is named among the cautions."""
    other = brewed_told(
        brewed(after=NOTHING_LEARNED.but(days=1, is_thin=True, contradict=("2026-11-07", "2026-12-05")))
    )
    assert [words(said) for said in other.sentences[1:]] == [
        AFTER.replace("2 brewed days", "1 brewed day"),
        "The days leave few vessels that fit; take these ranges as rough.",
    ]
    assert [words(said) for said in other.cautions] == [
        "The day 2026-11-07 contradicts the others; it is left out of what was learned."
    ]
    begun = Given(step="", kind="boil_began_min")
    odd = Given(input="air_c", value=8.0, planned=12.0, share=0.9)
    mine = brewed_told(brewed(odd, contradicts=True, oddest=begun))
    assert words(mine.sentences[0]) == (
        "These readings fit neither the plan nor the other days, whatever the vessel is like: is one mistyped, such as "
        "the time at which it boiled? They taught nothing."
    )
    assert document(mine)["cause"] is None
    total = brewed_told(brewed(contradicts=True, oddest=Given(step="", kind="energy_kwh")))
    assert "such as the meter's total? They" in words(total.sentences[0])


def month(name, metered_kwh=6.8, cost=2.0, unpriced=0, days=1, wort_l=20.0):
    """A month of brewed days."""
    return Month(month=name, days=days, planned_kwh=7.0, metered_kwh=metered_kwh, unpriced=unpriced, wort_l=wort_l,
                 cost=None if cost is None else euros(cost))  # fmt: skip


def test_months_add_up_to_the_year():
    """Days, kWh, money, litres; kWh of each hectolitre of them all; what has no price is counted."""
    learned = NOTHING_LEARNED.but(days=3, contradict=("2026-10-10",))
    kept = Given(unusable=(("2026-09-09", "it has no step of that name."),))
    found = (month("2026-11", 6.8, 2.0), month("2026-12", 14.0, 4.1, unpriced=1, days=2, wort_l=40.0))
    told = year_told(found, kept, learned, LIKELY)
    assert words(told.headline) == "3 brewed days: 20.80 kWh metered where 14.00 kWh were planned."
    assert [words(said) for said in told.sentences] == [
        "Another day of this plan takes 6.5 to 7.5 kWh on this meter, eight days of ten, from 3 brewed days.",
        "1 of 3 days has no price; its money is not in the sums.",
    ]
    table = told.table("months")
    assert headings(table, 0) == ["Month", "Days", "Planned, kWh", "Measured, kWh", "Cost, EUR", "Per volume, kWh/hL"]
    # 6.8 kWh of 20 L are 34 kWh/hL, 14.0 of 40 L 35, 20.8 of 60 L 34.7.
    assert seen_rows(table, detail=1) == [
        ["2026-11", "1", "7.00", "6.80", "2.00", "34.0", "20.0"],
        ["2026-12", "2", "7.00", "14.00", "4.10", "35.0", "40.0"],
        ["All", "3", "14.00", "20.80", "6.10", "34.7", "60.0"],
    ]
    assert [words(said) for said in told.cautions] == [
        "The day 2026-09-09 can't be used: it has no step of that name.",
        "The day 2026-10-10 contradicts the others; it is left out of what was learned.",
    ]
    assert document(told)["total_kwh"] == pytest.approx(20.8)
    assert titles(told) == ["Brewed, month by month", "Brewed days by month"]
    one = year_told((month("2026-11", cost=None, unpriced=2, days=2, wort_l=0.0),), Given(unusable=()), learned, LIKELY)
    assert one.table("months").total is None
    assert words(one.sentences[1]) == "2 of 2 days have no price; its money is not in the sums."
    none = year_told((), Given(unusable=()), NOTHING_LEARNED, LIKELY)
    assert words(none.headline) == "No brewed day is kept here yet."
    assert not none.sentences


def test_what_a_day_taught_of_the_vessel():
    """Its own numbers before and now, 95 % ranges: shares of the plan's loss, of its 2800 W, of the model's surface."""

    def learned(low, high):
        names = ("loss_factor", "element_factor", "open_surface_factor")
        quantiles = {0.025: low, 0.5: 1.0, 0.975: high}
        return NOTHING_LEARNED.but(vessels=dict.fromkeys(names), days=1, quantiles=lambda _, at: map(quantiles.get, at))

    told = brewed_told(brewed(before=learned(0.8, 1.2), after=learned(0.9, 1.1)))
    table = told.table("taught")
    loss = heat_loss_w_per_k(read_plan("demo"))
    assert headings(table, 0) == ["What it taught", "Likely before", "Likely now"]
    assert seen_rows(table) == [
        ["Heat loss, lid on", f"{0.8 * loss:.1f} to {1.2 * loss:.1f} W/K", f"{0.9 * loss:.1f} to {1.1 * loss:.1f} W/K"],
        ["Element power", "2240 to 3360 W", "2520 to 3080 W"],
        ["Open surface, times the model", "0.80 to 1.20", "0.90 to 1.10"],
    ]
    numbers = document(told)["learned"]
    assert numbers["element_power_w"] == {
        "before": {"value": 2800.0, "low": 2240.0, "high": 3360.0},
        "after": {"value": 2800.0, "low": pytest.approx(2520.0), "high": pytest.approx(3080.0)},
    }  # fmt: skip
