"""The commands about powers, changes, ranges, measurements and sheets, as people type them."""

import json
from pathlib import Path

import pytest

from energyplan.plan.file import demo_plans, parse_plan

START = ("--start", "2026-12-05T08:30")


def test_power_writes_the_advised_caps_into_a_copy(run, tmp_path):
    """The copy has the advised powers and otherwise the same steps; it is not written over without --force."""
    file = tmp_path / "advised.toml"
    code, out, _ = run("power", "demo", "--write", str(file))
    assert code == 0
    assert "Lowest power that boils" in run("power", "demo", "--all")[1]
    assert "19 of 20" in out
    rows = {row["step"]: row["advised_w"] for row in json.loads(run("power", "demo", "--json")[1])["power"]}
    steps = {step.name: step.hold_power_w for step in parse_plan(file.read_text()).steps}
    assert {name: steps[name] for name in rows} == rows
    assert run("power", "demo", "--write", str(file))[0] == 2
    assert run("power", "demo", "--write", str(file), "--force")[0] == 0


def test_power_draws_the_curve_of_a_step(run):
    """Lowest temperature against cap rises; a step that holds nothing is refused with the names that do."""
    curve = json.loads(run("power", "demo", "--step", "Saccharification", "--json")[1])
    lowest_c = [row["lowest_c"] for row in curve["caps"]]
    assert lowest_c == sorted(lowest_c)
    code, _, err = run("power", "demo", "--step", "Sparge")
    assert code == 2
    assert "Saccharification" in err


def test_power_chooses_the_cheapest_plan(run):
    """The best for cost costs no more than the plan, and its kWh are said; without prices it is refused."""
    best = ("power", "demo", "--best-for", "cost", "--tariff", "demo", *START)
    document = json.loads(run(*best, "--json")[1])
    assert document["chosen"]["cost"] <= document["planned"]["cost"]
    assert "kWh" in run(*best)[1]
    assert run("power", "lakeside", "--best-for", "cost")[0] == 2


def test_savings_price_a_change(run):
    """A jacket with a price gets a number of brews until it is earned; an odd price is named."""
    options = ("savings", "demo", "--tariff", "demo", *START, "--price", "jacket=40")
    rows = json.loads(run(*options, "--json")[1])["rows"]
    jacket = next(row for row in rows if row["keys"] == ["jacket"])
    assert jacket["payback_brews"] == pytest.approx(40 / jacket["saved_money"], rel=1e-6)
    assert "together" in run(*options)[1]
    assert run("savings", "demo", "--price", "jacket")[0] == 2


def test_spread_repeats_with_its_seed(run):
    """The same seed gives the same document; P10 <= P50 <= P90 for each range."""
    options = ("spread", "demo", "--draws", "40", "--seed", "3", *START, "--json")
    first, second = (json.loads(run(*options)[1]) for _ in range(2))
    assert first == second
    assert all(row["p10"] <= row["p50"] <= row["p90"] for row in first["ranges"])
    assert "Measure next" in run("spread", "demo", "--draws", "40", *START)[1]


def test_compare_explains_the_difference(run):
    """Two plans side by side; one plan alone is refused."""
    code, out, _ = run("compare", "demo", "lakeside", *START)
    assert code == 0
    assert "Pale ale in the lakeside garage against Oat stout" in out
    days = json.loads(run("compare", "demo", "lakeside", "--json", *START)[1])["days"]
    assert len(days) == 2
    assert run("compare", "demo")[0] == 2


def test_compare_with_a_measured_day(run):
    """The packaged log beside the demo plan names the input that explains the difference."""
    code, out, _ = run("compare", "demo", "--log", "brew-day")
    assert code == 0
    assert "The day took" in out
    assert run("compare", "demo", "lakeside", "--log", "brew-day")[0] == 2


def test_calibrate_keeps_what_it_learnt(run, tmp_path):
    """The measured loss lands in a copy of the plan; the guide stands alone; nothing named is refused."""
    file = tmp_path / "measured.toml"
    found = json.loads(run("calibrate", "cool-down", "--plan", "demo", "--json", "--write", str(file))[1])
    loss = found["heat_loss_w_per_k"]
    assert loss["low"] < loss["value"] < loss["high"]
    assert parse_plan(file.read_text()).vessel.heat_loss_w_per_k == pytest.approx(loss["value"], rel=0.01)
    assert "lid" in run("calibrate", "--how")[1]
    assert run("calibrate")[0] == 2


def test_calibrate_leaves_the_plan_itself_alone(run, tmp_path):
    """Writing over the plan needs --force."""
    plan = tmp_path / "mine.toml"
    plan.write_text(demo_plans()["demo"])
    before = plan.read_bytes()
    assert run("calibrate", "cool-down", "--plan", str(plan), "--write", str(plan))[0] == 2
    assert plan.read_bytes() == before


@pytest.mark.parametrize(
    ("ending", "begins"),
    [(".pdf", b"%PDF"), (".ics", b"BEGIN:VCALENDAR"), (".csv", b"step"), (".png", b"\x89PNG"), (".svg", b"<svg")],
)
def test_sheet_by_ending(run, tmp_path, ending, begins):
    """Each ending writes its kind of file, and never over one that is there."""
    file = tmp_path / f"day{ending}"
    options = ("sheet", "demo", "-o", str(file), "--tariff", "demo", *START)
    assert run(*options)[0] == 0
    assert Path(file).read_bytes().lower().lstrip(b"\xef\xbb\xbf").startswith(begins.lower())
    assert run(*options)[0] == 2


def test_sheet_names_the_endings(run, tmp_path):
    """An unknown ending is refused with those that are known."""
    code, _, err = run("sheet", "demo", "-o", str(tmp_path / "day.docx"))
    assert code == 2
    assert ".pdf" in err
