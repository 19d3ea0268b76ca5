"""The day told: its sentences, its steps, its facts."""

import json
import re
from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal
from io import StringIO

import pytest
from rich.console import Console

from energyplan.advice.answer import Answer, answer
from energyplan.advice.odds import DRAWS, SEED, day_ranges
from energyplan.advice.starts import lead_s
from energyplan.advice.uncertainty import spread
from energyplan.base.kinds import Style
from energyplan.base.sentence import words
from energyplan.day.tasks import wort_boils
from energyplan.faces.frames import document, frame, shown_rows
from energyplan.faces.terminal import LINES, screen
from energyplan.plan.file import demo_plans, parse_plan, read_plan
from energyplan.plan.model import Plan
from energyplan.tariffs.clock import local_to_utc
from energyplan.tariffs.tarifffile import load_tariff, parse_tariff
from energyplan.telling.day import boil_sentence, day_sentence, day_told, strike_sentence
from energyplan.telling.phases import at, set_power_w, steps_table
from energyplan.telling.report import report_told, screen_told

DEMO = demo_plans()["demo"]
START = datetime(2026, 12, 5, 5, 30, tzinfo=UTC)
FLAT = """
[tariff]
name = "{name}"
currency = "{currency}"
price_unit = "{currency}/kWh"
time_zone = "Europe/Dublin"
prices_include_tax = true

[[tariff.band]]
name = "{band}"
price = {price}
otherwise = true
"""


def answered(text: str = DEMO, tariff: str | None = None, start: datetime = START) -> Answer:
    """A plan's text under the two rates, or under another tariff's text."""
    charged = load_tariff("demo") if tariff is None else parse_tariff(tariff)
    return answer(parse_plan(text), charged, start)


def flat(currency: str = "EUR", price: str = "0.3", band: str = "all day", name: str = "Flat") -> str:
    """A tariff of one price."""
    return FLAT.format(currency=currency, price=price, band=band, name=name)


@pytest.fixture(scope="module")
def day() -> Answer:
    """The demo day, from night into day rate."""
    return answered()


def printed(found: Answer, units: str = "metric", encoding: str = "utf-8") -> str:
    """One screen as a terminal of 80 columns shows it."""
    console = Console(file=StringIO(), width=80, color_system=None, highlight=False)
    console.print(screen(screen_told(found), Style(units), more="More."), no_wrap=False)  # type: ignore[arg-type]
    return console.file.getvalue()  # type: ignore[attr-defined, no-any-return]


def test_the_first_sentence_says_how_much_for_how_much_and_when(day):
    """Energy, money, finish, start; with ranges in brackets."""
    ranges = day_ranges(day.day, day.price.total)
    said = str(day_sentence(day, ranges))
    assert said.startswith(f"{day.day.energy_kwh:.2f} kWh ({ranges.energy_kwh.p10:.1f} to ")
    assert f"{day.price.total.total} ({ranges.cost.p10:.2f} to {ranges.cost.p90:.2f})" in said
    assert "if you start at 05:30 on Sat 5 Dec 2026" in said


def test_days_that_can_not_be_brewed_stand_beside_the_range(day):
    """They are in no range, which the sentence with the range says; where none fails nothing is said."""
    ranges = day_ranges(day.day, None)
    assert ranges.failed_frac == 0
    assert str(day_sentence(day, ranges)).endswith("In brackets: eight days of ten.")
    said = str(day_sentence(day, replace(ranges, failed_frac=0.03)))
    assert said.endswith("In brackets: eight of ten days that can be brewed; 3 % can't as set.")


def test_ranges_are_those_of_the_spread(day):
    """The same quantiles as `spread` unasked, by its own way through the day: two commands tell one range."""
    from energyplan.advice.pricing import Pricing

    found = spread(day.day.plan, pricing=Pricing(line=day.price.line, start=day.start))
    assert (found.draws, found.seed) == (DRAWS, SEED)
    ranges = day_ranges(day.day, day.price.total)
    told = {"energy_kwh": ranges.energy_kwh, "cost": ranges.cost, "minutes": ranges.minutes,
            "lowest_mash_c": ranges.lowest_mash_c}  # fmt: skip
    for key, likely in told.items():
        expected = found.range_of(key)
        assert (likely.p10, likely.p50, likely.p90) == pytest.approx((expected.p10, expected.p50, expected.p90))


def test_a_day_past_midnight_says_which_day(day):
    """One rule for all faces: on another day than the start's the day is said."""
    late = answered(start=datetime(2026, 12, 5, 21, 30, tzinfo=UTC))
    assert str(at(late, 0.0)) == "21:30"
    assert str(at(late, 3 * 3600.0)) == "Sun 6 Dec 00:30"
    finish = f"{late.clock(late.day.duration_s):%H:%M}"
    assert f"done at Sun 6 Dec {finish}" in str(day_sentence(late))
    assert re.search(r"Sun 6 Dec 02:1\d", printed(late))


def test_the_clock_names_its_zone_when_it_moves():
    """At the end of summer time 01:30 comes twice, and the zone tells which (Ireland: at 01:00 UTC, 25 October)."""
    moving = answered(start=datetime(2026, 10, 25, 0, 30, tzinfo=UTC))
    assert str(at(moving, 0)) == "01:30 IST"
    assert str(at(moving, 3600)) == "01:30 GMT"


def test_the_strike_lands_on_the_rest(day):
    """The temperature that lands on the rest leads; struck at it, nothing else is said."""
    strike = day.day.strike
    told = day_told(day).facts["strike"]
    assert {key: value.raw for key, value in told.items()} == {
        "planned_c": 71.0, "mash_c": strike.mash_c, "rest_c": 67.0, "wanted_c": strike.wanted_c,
    }  # fmt: skip
    said = str(strike_sentence(day))
    assert said.startswith(f"Strike at {strike.wanted_c:.1f} °C to land on 67 °C; 71 °C, as planned, gives")
    right = answered(DEMO.replace('target = "71 degC"', f'target = "{strike.wanted_c!r} degC"'))
    assert str(strike_sentence(right)) == f"Strike at {strike.wanted_c:.1f} °C: grain then lands on 67 °C."


def test_the_boil_is_that_of_the_wort(day):
    """Its onset by the clock; without a boil nothing is said."""
    boil = next(phase for phase in day.day.phases if phase.phase == "boil")
    assert str(boil_sentence(day)) == f"The boil begins at {day.clock(boil.start_s):%H:%M}."
    plan = read_plan("demo")
    mash = answer(plan.model_copy(update={"steps": plan.steps[:2], "second_heater": None}), None, START)
    assert boil_sentence(mash) is None


def test_several_boils_are_told_by_name():
    """A souring plan boils before and after: which one begins when; work back from a boil means the first."""
    steps = (*read_plan("demo").steps[:-1],)
    boil = next(step for step in steps if step.boil)
    place = steps.index(boil) + 1
    again = boil.model_copy(update={"name": "Once more", "additions": ()})
    cooled = boil.model_copy(
        update={"name": "Chill", "boil": False, "additions": (), "hold_s": 0.0, "hold_power_w": None,
                "target_c": 38.0, "chill_to_c": 38.0, "chill_time_s": 1200.0, "lid": "on"}
    )  # fmt: skip
    plan = read_plan("demo").model_copy(update={"steps": (*steps[:place], cooled, again)})
    found = answer(plan, None, START)
    first, second = (phase for phase in found.day.phases if phase.phase == "boil")
    told = str(boil_sentence(found))
    assert f"{boil.name} at {found.clock(first.start_s):%H:%M} and Once more at " in told
    assert f"{found.clock(second.start_s):%H:%M}" in told
    assert lead_s(found.day, "boil") == first.start_s


def test_water_that_boils_after_the_wort_is_no_boil_of_it():
    """The vessel is emptied and water is boiled in it for cleaning."""
    plan = read_plan("demo")
    last = plan.steps[-1].model_copy(update={"boil": True, "target_c": None})
    cleaned = plan.model_copy(update={"steps": (*plan.steps[:-1], last)})
    assert str(boil_sentence(answer(cleaned, None, START))).startswith("The boil begins at ")
    assert last.name not in wort_boils(cleaned)


def test_steps_add_up_to_the_day(day):
    """Energies add up to rounding errors, shown energies and costs to the last digit."""
    table = steps_table(day)
    keys = [column.key for column in table.columns]
    assert sum(row["energy_kwh"] for row in table) == pytest.approx(day.day.energy_kwh, rel=1e-12)
    lines, total = shown_rows(table)
    for key in ("energy_kwh", "cost"):
        place = keys.index(key)
        assert sum(Decimal(line[place]) for line in lines if line[place]) == Decimal(total[place])


@pytest.mark.parametrize(("currency", "price", "digits"), [("JPY", "29.6", 0), ("KWD", "0.0296", 3), ("EUR", "0.3", 2)])
def test_rows_have_the_digits_of_their_currency_and_add_up(currency, price, digits):
    """Yen have none, dinars three (ISO 4217, from memory): rows and total alike, on the screen too."""
    found = answered(tariff=flat(currency, price))
    table = steps_table(found)
    lines, total = shown_rows(table)
    place = [column.key for column in table.columns].index("cost")
    costs = [line[place] for line in lines if line[place]]
    assert {len(cost.partition(".")[2]) for cost in [*costs, total[place]]} == {digits}
    assert sum(Decimal(cost) for cost in costs) == Decimal(total[place])
    assert f"{total[place]} {currency}" in printed(found)


def test_a_target_of_half_a_degree_is_told_as_it_is():
    """99.5 is not 100, and 64.5 is not 64."""
    found = answered(DEMO.replace('target = "98 degC"', 'target = "97.5 degC"'))
    assert "97.5" in printed(found)
    assert "98.0" not in printed(found)


def test_power_to_set_is_the_cap_or_all_elements(day):
    """Capped as in the plan, else 1800 W + 1000 W; off in a pause."""
    plan = day.day.plan
    power = {(phase.step, phase.phase): set_power_w(plan, phase) for phase in day.day.phases}
    assert power["Strike", "ramp"] == 2800
    assert power["Strike", "hold"] == 600
    assert power["Mash-out", "ramp"] == 2000
    assert power["Sparge", "pause"] == 0
    assert power["Boil", "boil"] == 2200
    assert power["Cleaning", "hold"] == 2800
    rows = list(steps_table(day))
    assert {str(row["set_w"]) for row in rows if row["phase"] == "pause"} == {"off"}
    assert [row["advised_w"] for row in rows if row["phase"] in ("hold", "boil")] == [
        row.advised_w for row in day.power.rows
    ]
    assert {row["advised_w"] for row in rows if row["phase"] in ("ramp", "pause")} == {None}


def test_temperatures_in_fahrenheit(day):
    """Each temperature is 1.8 times the Celsius plus 32 (definition of the scales)."""
    told = report_told(day).table("phases")
    celsius, fahrenheit = frame(told), frame(told, Style("us"))
    for name in ("from", "to", "lowest"):
        assert fahrenheit[f"{name}_f"].to_numpy() == pytest.approx(celsius[f"{name}_c"].to_numpy() * 1.8 + 32)


def test_fewer_rows_are_still_the_day(day):
    """One row for each step, then the first of them and the rest in one: all add up to the same."""
    for most in (8, 5, 2):
        table = steps_table(day, most)
        assert len(table.rows) <= most + 1, "the second heater is beside"
        assert sum(row["energy_kwh"] for row in table) == pytest.approx(day.day.energy_kwh, rel=1e-12)
        assert table.total == steps_table(day).total
    assert words(steps_table(day, 5).rows[4][0]) == "4 more steps"
    rest = list(steps_table(day, 5))[4]
    assert {rest[key] for key in ("phase", "to_c", "set_w", "advised_w")} == {None}, "those of one step are not theirs"


def test_a_row_of_several_phases_says_which(day):
    """44 min at 2800 W and 5 min at 600 W in one row are no hold of 49 min."""
    said = {str(row["step"]): row["phase"] for row in steps_table(day, 8) if row["phase"]}
    assert said["Strike"] == "ramp+hold"
    assert said["Saccharification"] == "pause+ramp+hold"
    assert (said["Sparge"], said["Boil"]) == ("pause", "ramp+boil")
    more = "".join(f'\n[[step]]\nname = "Rinse {n}"\ntarget = "{61 + n} degC"\nhold = "5 min"\n' for n in range(3))
    line = next(line for line in printed(answered(DEMO + more)).splitlines() if "+hold" in line)
    assert line.split()[1:4] == ["ramp+hold", "05:30", "49"]


def test_machines_get_all_that_people_get(day):
    """The keys of the contract: bands, daily charge, strike, wort, ranges, boil, and a version."""
    found = json.loads(json.dumps(document(report_told(day)), allow_nan=False))
    assert found["schema"] == 2
    assert [band["name"] for band in found["bands"]] == ["night", "day"]
    assert sum(band["energy_kwh"] for band in found["bands"]) == pytest.approx(found["totals"]["energy_kwh"])
    assert sum(band["cost"] for band in found["bands"]) == pytest.approx(found["totals"]["cost"])
    assert found["daily_charge"] == pytest.approx(0.61 * 1.09, abs=1e-4)  # 61 ct and 9 % tax, as the demo's file says
    assert set(found["strike"]) == {"planned_c", "mash_c", "rest_c", "wanted_c"}
    assert {"before_boil_l", "end_l", "gravity_before_boil", "gravity_end"} <= set(found["wort"])
    assert found["ranges"].pop("brewed_days") == 0
    assert set(found["ranges"]) == {"energy_kwh", "cost", "finish", "lowest_mash_c"}
    for likely in found["ranges"].values():
        assert list(likely) == ["p10", "p50", "p90"]
        assert sorted(likely.values()) == list(likely.values())
    onset = next(phase["start"] for phase in found["phases"] if phase["phase"] == "boil")
    assert found["boil_begins"] == onset


def test_what_a_peak_charge_takes_beside_the_cost_is_said_on_every_first_screen():
    """The day draws 2.8 kW and more: above the month's 1 kW that costs, and below 9 kW nothing is said."""
    charge = "\n[tariff.peak_charge]\nwindow_minutes = 15\nprice_per_kw_month = 4.0\n"
    for peak_w, says in ((1000, True), (9000, False)):  # W
        found = answered(DEMO + f'\n[supply]\nmonth_peak = "{peak_w} W"\n', flat() + charge)
        assert ("the day adds to the month's peak charge" in " ".join(printed(found).split())) == says
        assert (found.house.peak.added.units > 0) == says


def test_without_prices_there_is_no_money():
    """No column, no key with a number, no sentence."""
    plain = answer(read_plan("demo"), None, START)
    found = document(report_told(plain))
    assert (found["totals"]["cost"], found["daily_charge"], found["bands"]) == (None, None, [])
    assert {phase["cost"] for phase in found["phases"]} == {None}
    assert "EUR" not in printed(plain)


HOSTILE = ["Rest [beta]", "Rest [/beta]", "[link=http://a.b]x[/link]", "[bold red]x", "![n](http://a.b)", "*a* `b` $c$"]


@pytest.mark.parametrize("name", HOSTILE)
def test_names_are_shown_as_written(name):
    """Brackets and Markdown of a step and of a band are text, on the screen as in the parts."""
    found = answered(DEMO.replace('name = "Mash-out"', f'name = "{name}"'), flat(band=name, name=name))
    out = printed(found)
    assert out.count(name) >= 2
    assert "\x1b]8" not in out


def test_control_characters_are_made_visible():
    """A band named with an escape sequence and a direction mark moves no cursor and turns no line."""
    found = answered(tariff=flat(band="\\u001b[31mX\\u001b]0;t\\u202e"))
    out = printed(found)
    assert "\x1b" not in out
    assert "\u202e" not in out
    assert "\\u001b[31mX" in out


@pytest.mark.parametrize("plan", [*sorted(demo_plans()), "many", "long names"])
@pytest.mark.parametrize(("hour", "units"), [("2026-12-05T08:30", "metric"), ("2026-10-24T23:30", "us")])
def test_one_screen_is_forty_lines_of_eighty_columns(plan, units, hour):
    """Also for a day of sixty steps, for long names, over midnight and on the night of a clock change."""
    texts = {"many": many_steps(60), "long names": long_names()}
    read: Plan = parse_plan(texts[plan]) if plan in texts else read_plan(plan)
    tariff = parse_tariff(flat(name="N" * 60, band="B" * 60)) if plan in texts else load_tariff("demo")
    found = answer(read, tariff, local_to_utc(hour, tariff.time_zone))
    lines = printed(found, units).splitlines()
    assert len(lines) <= LINES
    assert max(len(line) for line in lines) <= 80


def many_steps(number: int) -> str:
    """A day of many rests."""
    step = '[[step]]\nname = "Rest {0}"\ntarget = "{1} degC"\nhold = "5 min"\n'
    return DEMO.split("[[step]]")[0].split("[second_heater]")[0] + "".join(
        step.format(place, 20 + place) for place in range(1, number + 1)
    )


def long_names() -> str:
    """The demo day under long names."""
    return DEMO.replace("Oat stout for the village hall", "T" * 70).replace('"Saccharification"', f'"{"S" * 60}"')
