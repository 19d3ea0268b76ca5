"""Savings in words and rows: units, money, what is not counted; one screen; nothing metric under US units."""

import re
from datetime import UTC, date, datetime

import pytest

from energyplan.advice.measures import MEASURES, MeasureChoice
from energyplan.advice.pricing import Pricing
from energyplan.advice.savings import Saving, saving_of, savings
from energyplan.advice.uncertainty import SpreadRun, spread
from energyplan.base.kinds import CENTIMETRES, SHARE, Style
from energyplan.base.sentence import words
from energyplan.plan.file import read_plan
from energyplan.plan.model import Site, Step
from energyplan.tariffs.priceline import price_line
from energyplan.tariffs.tarifffile import load_tariff
from energyplan.telling.measures import NAMES, savings_told, ticked_sentence
from energyplan.telling.uncertainty import uncertainty_told

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
