"""Commands that change a plan: where its values stand, with nothing else touched, or in a copy."""

import json
from pathlib import Path

import pytest

from energyplan.base.units import DURATION, LENGTH, MASS, POWER, TEMPERATURE, VOLUME, read_quantity
from energyplan.plan.file import demo_plans, read_plan
from energyplan.plan.writing import respelled

BREWERY = Path(__file__).parents[2] / "energyplan" / "demo" / "demo-brewery.toml"


@pytest.fixture
def mine(tmp_path: Path) -> Path:
    """The demo's day and brewery as files of one's own."""
    (tmp_path / "garage.toml").write_text(BREWERY.read_text(encoding="utf-8"), encoding="utf-8")
    text = (BREWERY.parent / "demo.toml").read_text(encoding="utf-8").replace("demo-brewery.toml", "garage.toml")
    (tmp_path / "stout.toml").write_text(text, encoding="utf-8")
    return tmp_path / "stout.toml"


def test_calibrate_writes_into_the_brewery(run, mine: Path) -> None:
    """What belongs to the vessel lands where the vessel stands; the day's file keeps its bytes."""
    day, brewery = mine.read_text(encoding="utf-8"), (mine.parent / "garage.toml").read_text(encoding="utf-8")
    code, _, err = run("calibrate", "cool-down", "--plan", str(mine), "--write")
    assert code == 0
    assert "garage.toml changed" in err
    assert mine.read_text(encoding="utf-8") == day
    after = (mine.parent / "garage.toml").read_text(encoding="utf-8")
    assert set(brewery.splitlines()) <= set(after.splitlines())
    assert read_plan(mine).vessel.heat_loss_w_per_k is not None


def test_power_writes_into_the_day(run, mine: Path) -> None:
    """Caps are the day's; comments and order stay, the brewery keeps its bytes."""
    brewery = (mine.parent / "garage.toml").read_bytes()
    code, _, err = run("power", str(mine), "--write", "--json")
    assert code == 0
    assert "stout.toml changed" in err
    text = mine.read_text(encoding="utf-8")
    assert "# vessel, place and circuit" in text
    assert "000000" not in text
    assert "3600.0" not in text
    assert (mine.parent / "garage.toml").read_bytes() == brewery


def test_report_writes_the_strike_that_it_names(run, mine: Path) -> None:
    """One value in the day's file, and the month's use where its table stands: in the brewery."""
    garage = mine.parent / "garage.toml"
    garage.write_text(f"{garage.read_text(encoding='utf-8')}\n[supply]  # the house\nmonth_kwh_so_far = 80.0\n")
    day, brewery = (file.read_text(encoding="utf-8").splitlines() for file in (mine, garage))
    code, out, err = run("report", str(mine), "--month-kwh", "120", "--write")
    assert code == 0
    assert "Strike at 70.3 °C to land on 67 °C" in out
    assert "stout.toml and " in err
    changed = [
        [(one, other) for one, other in zip(before, file.read_text(encoding="utf-8").splitlines(), strict=True)
         if one != other] for before, file in ((day, mine), (brewery, garage))
    ]  # fmt: skip
    assert changed == [
        [('target = "71 degC"', 'target = "70.3 degC"')], [("month_kwh_so_far = 80.0", "month_kwh_so_far = 120.0")]
    ]  # fmt: skip
    assert "grain then lands on 67 °C" in run("report", str(mine), "--write")[1]
    assert "nothing to change" in run("report", str(mine), "--write")[2]


def test_a_copy_of_the_demo_needs_no_other_file(run, tmp_path: Path) -> None:
    """What is packaged is not changed; its copy elsewhere has all tables and the brewery's comments."""
    code, _, err = run("power", "demo", "--write")
    assert code == 2
    assert "name a file for a copy" in err
    assert run("power", "demo", "--write", str(tmp_path / "mine.toml"))[0] == 0
    text = (tmp_path / "mine.toml").read_text(encoding="utf-8")
    assert "uses" not in text
    assert "# for days with sparge water" in text
    assert read_plan(tmp_path / "mine.toml").vessel == read_plan("demo").vessel


def test_a_copy_keeps_what_the_brewery_holds_beside_the_plan(run, tmp_path: Path) -> None:
    """Its prices go along, with their remark; what this day has no use for is named."""
    copy, start = tmp_path / "mine.toml", ("--start", "2026-12-05T08:30", "--json")
    _, _, err = run("report", "demo", "--write", str(copy))
    assert err == f"{copy} written\n"
    assert 'tariff = "demo"                 # its prices' in copy.read_text(encoding="utf-8")
    costs = [json.loads(run("report", name, *start)[1])["totals"]["cost"] for name in ("demo", str(copy))]
    assert costs[1] == pytest.approx(costs[0], abs=0.01)  # the strike that it names is 0.7 K lower
    no_sparge = tmp_path / "no_sparge.toml"
    text = (BREWERY.parent / "demo.toml").read_text(encoding="utf-8")
    for line in ('sparge_water = "5 L"\n', 'sparge_temperature = "75 degC"\n', ', "add sparge water"'):
        text = text.replace(line, "")
    no_sparge.write_text(text, encoding="utf-8")
    _, _, err = run("power", str(no_sparge), "--write", str(tmp_path / "alone.toml"))
    assert err == f"{tmp_path / 'alone.toml'} written, without second_heater, of which this day has no use\n"


def test_a_copy_elsewhere_names_the_same_files(run, tmp_path: Path) -> None:
    """Prices and plans of brewed days that lie beside the plan are found from the copy's folder too."""
    there, tariff = tmp_path / "there", BREWERY.parents[2] / "tariffs_demo" / "two_rate.toml"
    there.mkdir()
    (tmp_path / "two_rate.toml").write_text(tariff.read_text(encoding="utf-8"), encoding="utf-8")
    plan, kept = tmp_path / "stout.toml", '[[brewed]]\ndate = 2026-11-0{}\nplan = "{}"\nmetered = "7.1 kWh"\n'
    text = f'tariff = "two_rate.toml"\n{demo_plans()["demo"]}\n'
    plan.write_text(text + kept.format(1, "stout.toml") + kept.format(2, "pale.toml"), encoding="utf-8")
    (tmp_path / "pale.toml").write_text(demo_plans()["pale-ale"], encoding="utf-8")
    assert run("power", str(plan), "--write", str(there / "copy.toml"))[0] == 0
    assert run("power", str(plan), "--write", str(tmp_path / "beside.toml"))[0] == 0
    start = ("--start", "2026-12-05T08:30", "--json")
    for name in (there / "copy.toml", tmp_path / "beside.toml"):
        code, out, _ = run("report", str(name), *start)
        assert code == 0
        assert json.loads(out)["totals"]["cost"] is not None
        mine, copied = (json.loads(run("brewed", str(file), "--json")[1]) for file in (plan, name))
        assert mine["months"] == copied["months"]
        assert [row["days"] for row in mine["months"]] == [2], mine["months"]
    assert 'plan = "stout.toml"' in (tmp_path / "beside.toml").read_text(encoding="utf-8")


def test_a_day_brewed_to_a_packaged_plan_asks_for_a_copy(run, tmp_path: Path) -> None:
    """The command that keeps days makes no copy, so another one is named; the day is then kept there."""
    copy = str(tmp_path / "mine.toml")
    code, _, err = run("brewed", "demo", "--metered", "7.1 kWh", "--date", "2026-11-01", "--write")
    assert code == 2
    assert "make a file of the plan first: energyplan report demo --write FILE" in err
    assert run("report", "demo", "--write", copy)[0] == 0
    assert run("brewed", copy, "--metered", "7.1 kWh", "--date", "2026-11-01", "--write")[0] == 0
    assert "keeps the day" in run("brewed", copy, "--metered", "7.1 kWh", "--date", "2026-11-01", "--write")[2]


def test_a_packaged_plan_lies_anywhere(tmp_path: Path) -> None:
    """Its text is complete; its file finds the packaged brewery by name."""
    (tmp_path / "a.toml").write_text(demo_plans()["demo"], encoding="utf-8")
    (tmp_path / "b.toml").write_text((BREWERY.parent / "demo.toml").read_text(encoding="utf-8"), encoding="utf-8")
    assert read_plan(tmp_path / "a.toml") == read_plan(tmp_path / "b.toml") == read_plan("demo")


def test_the_brewery_s_tariff_is_taken_where_none_is_named(run, mine: Path) -> None:
    """A path beside the brewery's file, in every command that prices; one named on the command line wins."""
    tariff = BREWERY.parents[2] / "tariffs_demo" / "two_rate.toml"
    (mine.parent / "two_rate.toml").write_text(tariff.read_text(encoding="utf-8"), encoding="utf-8")
    garage = mine.parent / "garage.toml"
    text = garage.read_text(encoding="utf-8")
    assert 'tariff = "demo" ' in text
    garage.write_text(text.replace('tariff = "demo" ', 'tariff = "two_rate.toml" '), encoding="utf-8")
    start = ("--start", "2026-12-05T08:30", "--json")
    own, named = (run("report", *words, *start)[1] for words in ((str(mine),), ("demo", "--tariff", "demo")))
    assert json.loads(own)["totals"]["cost"] == pytest.approx(json.loads(named)["totals"]["cost"])
    assert run("starts", str(mine), "--from", "2026-12-05", "--to", "2026-12-05")[0] == 0
    assert run("savings", str(mine), *start)[0] == 0


def test_a_changed_value_keeps_the_unit_of_the_one_before() -> None:
    """In the unit in which the person wrote it, where that says it exactly; else in the kind's own."""
    assert respelled(2750.0, POWER, "3.5 kW") == "2.75 kW"
    assert respelled(3600.0, DURATION, "70 min") == "60 min"
    assert respelled(5.0, MASS, "3 lb") == "5 kg"
    assert respelled(66.0, TEMPERATURE, "151 degF") == "150.8 degF"
    assert respelled(66.0, TEMPERATURE, "no number") == "66 degC"
    assert respelled(read_quantity("152 degF", TEMPERATURE), TEMPERATURE, "66 °F") == "152 °F"
    assert respelled(read_quantity("7 gal", VOLUME), VOLUME, "20 L", "7.0 gal") == "7.0 gal"
    assert respelled(18.0, LENGTH) == "18 m"
