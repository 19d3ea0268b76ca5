"""Savings in words and rows: units, money, what is not counted; one screen; nothing metric under US units."""

import re
from datetime import UTC, date, datetime
from types import SimpleNamespace
from typing import Any

import pytest

from energyplan.advice.measures import MEASURES, MeasureChoice
from energyplan.advice.pricing import Pricing
from energyplan.advice.savings import Saving, Savings, saving_of, savings
from energyplan.advice.uncertainty import SpreadRun, spread
from energyplan.advice.variants import WhyNot
from energyplan.base.errors import BrewDayError
from energyplan.base.kinds import CENTIMETRES, SHARE, Style
from energyplan.base.money import UNITS_PER_CURRENCY, Money
from energyplan.base.sentence import words
from energyplan.faces.frames import document
from energyplan.plan.file import read_plan
from energyplan.plan.model import Hours, Site, Step
from energyplan.tariffs.priceline import price_line
from energyplan.tariffs.tarifffile import load_tariff
from energyplan.telling.measures import GROUPS, NAMES, savings_told, tariffs_told, ticked_sentence
from energyplan.telling.uncertainty import uncertainty_told
from tests.telling.shown import headings, seen_rows, titles

START = ("--start", "2026-12-05T08:30")
METRIC_WORDS = re.compile(r"°C|degC|\d (L|kg|cm|mm|m|K)\b|\bkWh/hL")


def test_a_cost_says_of_which_start_it_is():
    """Nobody asked for a start: the one that was taken is named, here and beside the ranges."""
    plan, start = read_plan("demo"), datetime(2026, 12, 5, 8, 15, tzinfo=UTC)
    line = price_line(load_tariff("demo"), date(2026, 12, 5), date(2026, 12, 6))
    pricing = Pricing(line=line, start=start)
    said = " ".join(map(str, savings_told(savings(plan, pricing=pricing)).sentences))
    assert "The plan as it is, begun at 08:15 on Sat 5 Dec 2026, takes" in said
    ranges = uncertainty_told(spread(plan, pricing=pricing, how=SpreadRun(draws=64)))
    assert "EUR if you start at 08:15 on Sat 5 Dec 2026" in str(ranges.headline)


def test_names_say_how_far() -> None:
    """The amount is in the name, in the units of the reader; every measure has one."""
    choice = MeasureChoice(jacket_m=0.03, batch_frac=1.5)
    assert NAMES["jacket"](choice)["thickness"] == CENTIMETRES(0.03)
    assert NAMES["batch"](choice)["size"] == SHARE(1.5)
    assert set(NAMES) == {measure.key for measure in MEASURES}
    assert words(NAMES["warm_place"](choice), Style("us")) == "place at 68 °F"


def test_rows_are_what_was_found() -> None:
    """A row for each change and one for the best of it together, raw."""
    found = savings(read_plan("demo"), prices={"jacket": 40.0})
    table = savings_told(found).table("rows")
    rows = list(table)
    assert [row["saved_kwh"] for row in rows[:-1]] == [row.saved_kwh for row in found.rows]
    assert found.together is not None
    assert rows[-1]["saved_kwh"] == found.together.saved_kwh
    assert all(row["saved_money"] is None for row in rows)


def test_nothing_to_save_is_said(builders) -> None:
    """And every measure has its reason."""
    plan = builders.water_plan(
        Step(name="Warm", target_c=30.0), site=Site(air_c=30.0), water_c=25.0,
        vessel=builders.vessel(heat_loss_w_per_k=0.01),
    )  # fmt: skip
    told = savings_told(savings(plan, choice=MeasureChoice(water_c=20.0)))
    assert "None of it saves anything." in [words(said) for said in told.sentences]
    notes = [words(said) for said in told.parts[0].sentences]
    assert "Place at 20 °C: not counted, it is 30 °C there already." in notes
    assert any("leave [vessel] heat_loss out" in note for note in notes)


def test_one_screen_then_all_of_it(run) -> None:
    """At most 40 lines of 80 columns; with --all what else it changes, and nothing twice."""
    code, out, err = run("savings", "demo", "--tariff", "demo", *START)
    assert (code, err) == (0, "")
    assert len(out.splitlines()) <= 40
    everything = run("savings", "demo", "--tariff", "demo", *START, "--all")[1]
    assert "Less bitterness" in everything
    for text in (out, everything):
        assert max(len(line.rstrip()) for line in text.splitlines()) <= 80
        whole = [line for line in text.splitlines() if len(line) > 30]
        assert len(whole) == len(set(whole))


def test_the_start_says_its_hour(run) -> None:
    """No start without the hour that it means, and none in the middle of the night."""
    out = run("savings", "demo", "--tariff", "demo", *START)[1]
    assert "Start at 06:35" in out
    assert "00:00" not in out
    assert "Another start is looked for on the same day" in " ".join(
        run("savings", "demo", "--tariff", "demo", *START, "--all")[1].split()
    )


@pytest.mark.parametrize("more", [(), ("--all",)])
def test_us_units_leave_no_metric_word(run, more: tuple[str, ...]) -> None:
    """On the screen and in all of it."""
    out = run("savings", "demo", "--tariff", "demo", *START, "--units", "us", *more)[1]
    assert "°F" in out
    assert not METRIC_WORDS.search(out)


def test_odd_options_are_refused(run) -> None:
    """An unknown gift, a price without a number."""
    assert "no such measure" in run("savings", "demo", "--free", "sunshine")[2]
    assert run("savings", "demo", "--price", "jacket")[0] == 2


def test_what_is_ticked_is_told_as_one() -> None:
    """A sum beside what act on each other; one alone has none; what doesn't go says why."""
    demo = read_plan("demo")
    found = savings(demo, brews_per_year=10.0)
    both = saving_of(demo, ["lid_boil", "boil_power"])
    assert isinstance(both, Saving)
    said = words(ticked_sentence(found, both))
    assert f"{both.saved_kwh:.2f} kWh a brew, {10 * both.saved_kwh:.2f} kWh a year" in said
    assert "would add up to" in said
    assert "add up" not in words(ticked_sentence(found, saving_of(demo, ["jacket"])))
    cold = demo.model_copy(update={"vessel": demo.vessel.model_copy(update={"heat_loss_w_per_k": 3.0})})
    assert "don't go together: the heat loss is measured" in words(ticked_sentence(found, saving_of(cold, ["jacket"])))


def test_every_change_stands_in_a_group() -> None:
    """Set it so, do it so, buy it: in the table of all details."""
    rows = list(savings_told(savings(read_plan("demo"))).table("rows"))
    assert {str(row["group"].raw) for row in rows if row["group"] is not None} <= {"set", "do", "buy"}
    assert next(row["group"].raw for row in rows if row["keys"].raw == ("jacket",)) == "buy"


def euros(amount: float) -> Money:
    """An amount of money."""
    return Money(units=round(amount * UNITS_PER_CURRENCY), currency="EUR")


def a_day(boil_w: float | None = 1800.0) -> Any:
    """A day whose last boil that lasts has this power; what comes before and after it has others."""
    steps = [(True, 600.0, 2500.0), (True, 3600.0, boil_w), (True, 0.0, 900.0), (False, 600.0, 500.0)]
    given = [SimpleNamespace(boil=boil, hold_s=hold_s, hold_power_w=power_w) for boil, hold_s, power_w in steps]
    return SimpleNamespace(plan=SimpleNamespace(steps=given), energy_kwh=7.5)


def saving(*keys: str, kwh: float = 0.0, money: float | None = None, **more: Any) -> Saving:
    """What a change saves."""
    given: dict[str, Any] = {
        "keys": keys, "saved_kwh": kwh, "saved_money": None if money is None else euros(money), "saved_min": 0.0,
        "water_change_l": 0.0, "per_brew_share": 1.0, "price": None, "payback_brews": None, "is_gift": False,
        "day": a_day(), "start": datetime(2026, 12, 5, 6, 35, tzinfo=UTC),
    }  # fmt: skip
    return Saving(**{**given, **more})


def found_savings(*rows: Saving, **more: Any) -> Savings:
    """What is found of a plan of 7.5 kWh, begun at 08:30 for 2.00 EUR."""
    given: dict[str, Any] = {
        "base": a_day(), "choice": MeasureChoice(), "zone": "Europe/Dublin", "hours": None,
        "start": datetime(2026, 12, 5, 8, 30, tzinfo=UTC), "base_cost": euros(2.0), "objective": "cost",
        "brews_per_year": 20.0, "rows": rows, "together": None, "added_up_kwh": 0.0, "added_up_money": None,
        "left_out": (),
    }  # fmt: skip
    return Savings(**{**given, **more})


@pytest.mark.parametrize(
    ("key", "name", "risk"),
    [
        ("jacket", "Jacket of 2 cm", "Keep vents, cables and the hot base free."),
        ("lid_ramps", "Lid on in the ramps", None),
        ("lid_holds", "Lid on in the holds", None),
        ("lid_boil", "Lid ajar in the boil",
         "Worth more together with a lower boil power; less leaves with the steam."),
        ("boil_length", "Boil of 45 min", "Less bitterness from the same hops."),
        ("boil_power", "Boil at 1800 W", "Rolls more gently."),
        ("hold_length", "Mash hold of 45 min", "Check the conversion before you go on."),
        ("warm_place", "Place at 20 °C", "Only free if the place is warm anyway; not in the best of it together."),
        ("warm_water", "Water at 20 °C", "Only free if something else warms it; not in the best of it together."),
        ("cleaning", "Cleaning at 50 °C", "Follow the label of the cleaner."),
        ("kept_water", "Cleaning with chiller water of 45 °C", "Needs a clean tank that holds it until then."),
        ("batch", "Batch of 125 %", "kWh and money for the same litres, minutes for its whole day."),
    ],
)  # fmt: skip
def test_a_change_has_its_name_and_what_speaks_against_it(key: str, name: str, risk: str | None) -> None:
    """In its row and among the notes, which begin with a large letter."""
    told = savings_told(found_savings(saving(key, kwh=0.5, money=0.1)))
    (row,) = told.table("rows")
    assert words(row["change"]) == name
    assert (None if row["risk"] is None else words(row["risk"])) == risk
    notes = [words(said) for said in told.parts[0].sentences]
    assert notes[:-1] == ([] if risk is None else [f"{name}: {risk}"])
    assert notes[-1] == (
        "Every change is a simulated day that ends with the same volume from the same grain: what is not boiled off is "
        "not filled in either. Heat that is lost indoors in winter warms the room."
    )


def test_a_boil_power_that_is_not_set_is_told_without_watts() -> None:
    """All elements, or a plan without a boil that lasts."""
    for day in (a_day(boil_w=None), SimpleNamespace(plan=SimpleNamespace(steps=[]))):
        (row,) = savings_told(found_savings(saving("boil_power", kwh=0.5, day=day))).table("rows")
        assert words(row["change"]) == "Lower power in the boil"


NOT = [
    ("jacket", WhyNot(code="measured_loss"), ("Jacket of 2 cm: not counted, the heat loss is measured, and nobody "
     "measured it with the other jacket: leave [vessel] heat_loss out.")),
    ("jacket", WhyNot(code="has_jacket", value=0.03), "Jacket of 2 cm: not counted, it has a jacket of 3 cm."),
    ("lid_ramps", WhyNot(code="lid_on_in_ramps"),
     "Lid on in the ramps: not counted, the lid is on in every ramp that has a step of its own."),
    ("lid_holds", WhyNot(code="lid_on_in_holds"), "Lid on in the holds: not counted, the lid is on in every hold."),
    ("lid_boil", WhyNot(code="no_open_boil"), "Lid ajar in the boil: not counted, no boil has the lid off."),
    ("boil_length", WhyNot(code="no_longer_boil", value=1800.0), ("Boil of 45 min: not counted, no boil lasts "
                                                                  "longer than 30 min.")),
    ("boil_length", WhyNot(code="no_longer_boil"), "Boil of 45 min: not counted, no boil lasts longer than 0 min."),
    ("boil_power", WhyNot(code="no_boil"), "Lower power in the boil: not counted, there is no boil."),
    ("boil_power", WhyNot(code="boil_is_low", value=1690.0, other=1700.0),
     ("Lower power in the boil: not counted, a boil that rolls, with the wanted evaporation, takes 1690 W, and 1700 "
     "W are set.")),
    ("hold_length", WhyNot(code="no_longer_hold", value=2400.0),
     "Mash hold of 45 min: not counted, no hold of the mash lasts longer than 40 min."),
    ("hold_length", WhyNot(code="no_longer_hold"),
     "Mash hold of 45 min: not counted, no hold of the mash lasts longer than 0 min."),
    ("warm_place", WhyNot(code="is_warm", value=21.0), "Place at 20 °C: not counted, it is 21 °C there already."),
    ("warm_water", WhyNot(code="water_is_warm", value=20.5), ("Water at 20 °C: not counted, the water starts at "
                                                              "20.5 °C already.")),
    ("cleaning", WhyNot(code="cleaning_is_cool", value=50.0), ("Cleaning at 50 °C: not counted, nothing is cleaned "
                                                               "above 50 °C.")),
    ("kept_water", WhyNot(code="nothing_chilled"),
     "Cleaning with chiller water of 45 °C: not counted, nothing is boiled, so nothing is chilled."),
    ("kept_water", WhyNot(code="no_cool_cleaning", value=45.0),
     "Cleaning with chiller water of 45 °C: not counted, nothing is cleaned with water below 45 °C."),
    ("batch", WhyNot(code="no_room", value=0.97), ("Batch of 125 %: not counted, the vessel would be 97 % full, and "
                                        "foam needs room.")),
    ("batch", WhyNot(code="no_brew", error=BrewDayError("it stalls")),
     "Batch of 125 %: not counted, it can't be brewed: it stalls."),
]  # fmt: skip


@pytest.mark.parametrize(("key", "why", "told"), NOT)
def test_what_is_not_counted_says_why(key: str, why: WhyNot, told: str) -> None:
    """Among the notes, and for machines."""
    found = savings_told(found_savings(left_out=((key, why),)))
    assert words(found.parts[0].sentences[0]) == told
    (left_out,) = document(found)["left_out"]
    assert (left_out["key"], left_out["code"]) == (key, why.code)
    assert told.endswith(f": not counted, {left_out['why']}.")


JACKET = saving("jacket", kwh=0.6, money=0.15, saved_min=6.0, payback_brews=267.0, price=40.0, per_brew_share=1.0)
START_ONLY = saving("start", kwh=-0.004, money=0.5)
LID = saving("lid_boil", kwh=0.9, water_change_l=-0.4, money=0.1)


def test_what_is_worth_most_leads_and_energy_is_named_beside_it() -> None:
    """Money ranks the start first, which saves no energy; the lid saves most of that."""
    both = saving("jacket", "lid_boil", "start", kwh=1.4, money=0.7, saved_min=5.0, water_change_l=-0.4)
    told = savings_told(found_savings(START_ONLY, JACKET, LID, together=both, added_up_kwh=1.5, added_up_money=0.75))
    assert words(told.headline) == (
        "Most for least: start at 06:35, 0.50 EUR a brew. In energy: lid ajar in the boil, 0.90 kWh and 0.10 EUR."
    )
    assert [words(said) for said in told.sentences] == [
        "The plan as it is, begun at 08:30 on Sat 5 Dec 2026, takes 7.50 kWh and 2.00 EUR, 20 brews a year.",
        (
            "All that is worth it together saves 1.40 kWh and 0.70 EUR a brew; one by one the same changes would add "
            "up to 1.50 kWh, because they act on each other. It is: jacket of 2 cm, lid ajar in the boil and start "
            "at 06:35."
        ),
    ]
    table = told.table("rows")
    assert headings(table, 0, short=True) == ["Saves per brew", "kWh", "EUR", "min less", "a year", "brews"]
    assert seen_rows(table) == [
        ["Start at 06:35", "0.00", "+0.50", "0", "+10.00", ""],
        ["Jacket of 2 cm", "+0.60", "+0.15", "6", "+3.00", "267"],
        ["Lid ajar in the boil", "+0.90", "+0.10", "0", "+2.00", ""],
        ["The best of it together", "+1.40", "+0.70", "5", "+14.00", ""],
    ]
    assert headings(table, 1) == [
        "Saves per brew", "Saved, kWh", "Saved, EUR", "Shorter, min", "Water, L", "A year, kWh", "A year, EUR", "Brews",
    ]  # fmt: skip
    last = document(told)["rows"][-1]
    assert last == {
        "keys": ("jacket", "lid_boil", "start"), "group": None, "change": "The best of it together", "saved_kwh": 1.4,
        "saved_money": 0.7, "saved_min": 5.0, "water_change_l": -0.4, "a_year_kwh": 28.0, "a_year_money": 14.0,
        "payback_brews": None, "per_brew_share": 1.0, "text": "1.40 kWh and 0.70 EUR", "risk": None,
    }  # fmt: skip
    facts = document(told)
    assert facts["together"] == {
        "keys": ("jacket", "lid_boil", "start"), "saved_kwh": 1.4, "saved_money": 0.7, "saved_min": 5.0, "price": None,
    }  # fmt: skip
    assert (facts["added_up_kwh"], facts["added_up_money"], facts["base_cost"]) == (1.5, 0.75, 2.0)
    assert (facts["objective"], facts["brews_per_year"], facts["energy_kwh"]) == ("cost", 20.0, 7.5)
    notes = [words(said) for said in told.parts[0].sentences]
    assert "brews: after how many a price that you gave is earned." in notes
    assert titles(told) == [
        "What a change saves", "What each change saves on a brew and in a year", "What else it changes",
    ]  # fmt: skip
    assert GROUPS == {"set": "Set it so", "do": "Do it so", "buy": "Buy it"}


def test_without_prices_there_is_only_energy() -> None:
    """No money in the words, no column of it; who asked for energy is told it once."""
    rows = (saving("lid_boil", kwh=0.9), saving("jacket", kwh=0.6))
    told = savings_told(found_savings(*rows, base_cost=None, start=None, objective="energy", together=rows[0]))
    assert words(told.headline) == "Most for least: lid ajar in the boil, 0.90 kWh a brew."
    assert [words(said) for said in told.sentences] == [
        "The plan as it is takes 7.50 kWh, 20 brews a year.",
        "Nothing else is worth adding to lid ajar in the boil.",
    ]
    assert headings(told.table("rows"), 0) == ["Saves per brew", "Saved, kWh", "Shorter, min"]
    assert len(told.table("rows").rows) == 2
    hours = Hours(earliest_min=7 * 60)
    notes = [words(said) for said in savings_told(found_savings(*rows, hours=hours)).parts[0].sentences]
    assert "Another start is looked for on the same day: not before 07:00." in notes
    assert not any("brews:" in note for note in notes)
    nothing = savings_told(found_savings(base_cost=None))
    assert words(nothing.headline) == "Nothing can be changed in this plan."
    assert words(nothing.sentences[1]) == "None of it saves anything."
    assert document(nothing)["together"] is None
    assert document(nothing)["base_cost"] is None


@pytest.mark.parametrize(
    ("taken", "told"),
    [
        (saving("jacket", "lid_boil", kwh=1.4, money=0.7),
         "Ticked: 1.40 kWh and 0.70 EUR a brew, 14.00 EUR a year. One by one they would add up to 1.50 kWh."),
        (saving("jacket", "lid_boil", kwh=1.4),
         "Ticked: 1.40 kWh a brew, 28.00 kWh a year. One by one they would add up to 1.50 kWh."),
        (saving("jacket", "lid_boil", kwh=1.4951), "Ticked: 1.50 kWh a brew, 29.90 kWh a year."),
        (saving("jacket", "lid_boil", kwh=1.4949),
         "Ticked: 1.49 kWh a brew, 29.90 kWh a year. One by one they would add up to 1.50 kWh."),
        (saving("jacket", kwh=0.5), "Ticked: 0.50 kWh a brew, 10.00 kWh a year."),
        (saving("jacket", kwh=0.0049), "Ticked: 0.00 kWh a brew, 0.10 kWh a year."),
        (saving("jacket", kwh=0.0049, money=0.1), "Ticked: 0.10 EUR a brew, 2.00 EUR a year."),
        (saving("jacket", kwh=0.005, money=0.1), "Ticked: 0.01 kWh and 0.10 EUR a brew, 2.00 EUR a year."),
        (WhyNot(code="no_boil"), "These don't go together: there is no boil."),
    ],
)  # fmt: skip
def test_what_is_ticked(taken: Saving | WhyNot, told: str) -> None:
    """Its worth, its year, and the sum of the changes alone where that is another."""
    assert words(ticked_sentence(found_savings(JACKET, LID), taken)) == told


def test_tariffs_are_told_beside_each_other() -> None:
    """The cheapest year first, charges apart and together; the best start, and where steps by the month count."""
    at = datetime(2026, 12, 6, 2, 0, tzinfo=UTC)
    best = SimpleNamespace(start=at, cost=euros(1.5))
    year = SimpleNamespace(usual=euros(40.0), best=euros(30.0), days=(1,) * 20)
    dear, cheap = (
        SimpleNamespace(
            tariff=SimpleNamespace(name=name, currency="EUR"), day=euros(2.0), ends=ends, best=best, year=year, why="",
            charges=euros(charges), together=euros(40.0 + charges),
        )
        for name, charges, ends in (("Dear", 365.0, (euros(1.9), euros(2.4))), ("Cheap", 100.0, None))
    )  # fmt: skip
    told = tariffs_told([dear, cheap], "Europe/Dublin")  # type: ignore[list-item]
    assert words(told.headline) == (
        "With its daily charge a year of 20 brews costs least under Cheap: 140.00 EUR, 265.00 EUR less than the "
        "dearest."
    )
    table = told.table("tariffs")
    assert headings(table, 0, short=True) == ["Tariff", "Day", "at best", "Year", "Charges", "Together"]
    assert seen_rows(table, detail=1) == [
        ["Cheap", "2.00", "1.50", "40.00", "30.00", "100.00", "140.00"],
        ["Dear", "2.00", "1.50", "40.00", "30.00", "365.00", "405.00"],
    ]
    assert seen_rows(table, detail=2)[0][2] == "Sun 6 Dec 02:00"
    assert [words(said) for said in told.sentences] == [
        (
            "Dear: The tariff has steps by the month's use, which is not entered ([supply] month_kwh_so_far): 1.90 to "
            "2.40 EUR."
        ),
        "A daily charge is paid whether or not you brew; change the tariff only for all that you use.",
    ]
    assert document(told)["brews"] == 20
    assert titles(told) == ["Tariffs side by side", "Tariffs"]
    ending = SimpleNamespace(**{**vars(cheap), "year": None, "together": None, "day": euros(2.5), "why": "it ends."})
    told = tariffs_told([ending, dear], "Europe/Dublin")  # type: ignore[list-item]
    assert words(told.headline) == "This day costs least under Dear: 2.00 EUR."
    assert words(told.sentences[0]) == "Cheap prices no whole year: it ends."
    assert document(tariffs_told([ending], "Europe/Dublin"))["brews"] == 0  # type: ignore[list-item]
