"""Commands that learn: what was measured is priced, whatever is asked for exists."""

import json
import re
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from typer.testing import CliRunner

from energyplan.cli import made, main
from energyplan.learning.logfile import read_log
from energyplan.tariffs.priceline import price_line_around
from energyplan.tariffs.tarifffile import load_tariff


def ran(*words):
    """A command's result."""
    return CliRunner().invoke(made(), list(words))


def brute_force(tariff, times_s, used_kwh, start):
    """Sum over all seconds of what was used in them times their price; each interval's kWh spread evenly."""
    line = price_line_around(tariff, start, start + timedelta(seconds=float(times_s[-1])))
    seconds = np.arange(0.0, times_s[-1])
    used = np.diff(np.interp(np.append(seconds, times_s[-1]), times_s, used_kwh))
    at_s = start.timestamp() + seconds
    step = np.searchsorted(line.edges_s, at_s, side="right") - 1
    return float(used @ (line.micro_per_kwh[step] / 1e6))


@pytest.mark.parametrize("start", ["2026-12-05T08:30", "2026-12-05T04:10", "2026-12-04T22:00"])
def test_what_was_measured_costs_what_its_intervals_cost(start):
    """The packaged day at three starts, across both bands: the sum over intervals of kWh x price, to a thousandth."""
    found = ran("compare", "demo", "--log", "brew-day", "--tariff", "demo", "--start", start, "--json")
    assert found.exit_code == 0, found.output
    told = json.loads(found.stdout)
    log, tariff = read_log("brew-day"), load_tariff("demo")
    from energyplan.tariffs.clock import local_to_utc

    expected = brute_force(tariff, log.times_s, log.energy_kwh, local_to_utc(start, tariff.time_zone))
    assert told["cost"] == pytest.approx(expected, abs=1e-3)
    assert sum(row["cost"] for row in told["bands"]) == pytest.approx(told["cost"], abs=1e-9)
    assert sum(row["energy_kwh"] for row in told["bands"]) == pytest.approx(told["metered_kwh"], abs=1e-9)
    assert told["metered_kwh"] == pytest.approx(float(log.energy_kwh[-1]), abs=1e-6)
    assert told["interval_min"] == pytest.approx(1.0)


def test_a_log_with_clock_times_needs_no_start(tmp_path):
    """A log with clock times is priced where it says; one in minutes asks for the start."""
    rows = read_log("brew-day")
    begin = datetime(2026, 12, 5, 8, 30, tzinfo=UTC)
    lines = ["time,temperature_c,energy_kwh"] + [
        f"{(begin + timedelta(seconds=float(t))).isoformat()},{c:.1f},{kwh:.3f}"
        for t, c, kwh in zip(rows.times_s, rows.temperature_c, rows.energy_kwh, strict=True)
    ]
    (tmp_path / "day.csv").write_text("\n".join(lines))
    priced = ran("compare", "demo", "--log", str(tmp_path / "day.csv"), "--tariff", "demo")
    assert "on the meter cost" in priced.output
    assert len(priced.output.splitlines()) <= 40


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--tariff", "no-such-file"], "does not exist"),
        (["--tariff", "demo"], "give --start"),
        (["--tariff", "demo", "--start", "yesterday"], "yesterday"),
    ],
)
def test_what_is_asked_for_must_exist(words, said, monkeypatch, capsys):
    """A tariff that is not there, no start, a start that is none: exit 2 and a sentence."""
    monkeypatch.setattr("sys.argv", ["energyplan", "compare", "demo", "--log", "brew-day", *words])
    with pytest.raises(SystemExit) as left:
        main()
    assert left.value.code == 2
    assert said in capsys.readouterr().err


def test_how_to_measure_is_a_help_page():
    """``--how`` prints the page about measuring."""
    assert "Cool-down: the heat loss" in ran("calibrate", "--how").output


def test_the_residuals_are_shown_on_demand():
    """``--all`` adds what the fit leaves over."""
    assert "•" not in ran("calibrate", "cool-down", "--plan", "demo").output
    assert "•" in ran("calibrate", "cool-down", "--plan", "demo", "--all").output


def test_a_sheet_is_typed_back_and_kept(tmp_path, monkeypatch):
    """One line per reading; ``--write`` keeps the day where the plan stands, and the year shows it."""
    from energyplan.plan.file import demo_plans, read_plan, read_plan_files
    from energyplan.plan.writing import plan_text

    assert demo_plans()
    monkeypatch.chdir(tmp_path)
    (tmp_path / "stout.toml").write_text(plan_text(read_plan_files("demo"), read_plan("demo")))
    words = ["brewed", "stout.toml", "--reading", "Strike=2.2 kWh", "--reading", "Boil=7.0 kWh", "--start",
             "2026-12-05T08:30", "--air", "9 degC", "--tariff", "demo"]  # fmt: skip
    found = ran(*words, "--write")
    assert found.exit_code == 0, found.output
    assert "on the meter cost" in found.output
    kept = read_plan_files("stout.toml").brewery.brewed
    assert [(day.date.isoformat(), dict(day.readings)) for day in kept] == [
        ("2026-12-05", {"Strike": 2.2, "Boil": 7.0})
    ]
    year = ran("brewed", "stout.toml", "--tariff", "demo")
    assert "2026-12" in year.output
    assert "from 1 brewed day" in " ".join(year.output.split())


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--reading", "Strike"], "write the step and the meter's total"),
        (["--reading", "Mash=2 kWh"], "no step “Mash”"),
        (["--metered", "7.1"], "metered"),
        (["--metered", "7.1 kWh", "--date", "Friday"], "Friday"),
        (["--boil-began", "11:41"], "--start"),
    ],
)
def test_readings_that_make_no_sense_are_refused(words, said, monkeypatch, capsys):
    """One sentence on stderr, exit 2."""
    monkeypatch.setattr("sys.argv", ["energyplan", "brewed", "demo", *words])
    with pytest.raises(SystemExit) as left:
        main()
    assert left.value.code == 2
    assert said in capsys.readouterr().err


@pytest.fixture(scope="module")
def export(tmp_path_factory):
    """Six weeks of half-hours: 0.1 kWh each, a little noise, and one day of 2 kW for four hours."""
    rng = np.random.default_rng(1)
    begin = datetime(2026, 11, 1, tzinfo=UTC)
    kwh = 0.1 + rng.normal(0, 0.01, 48 * 42)
    kwh[48 * 34 + 20 : 48 * 34 + 28] += 1.0
    path = tmp_path_factory.mktemp("meter") / "house.csv"
    rows = [f"{(begin + timedelta(minutes=30 * k)).isoformat()},{value:.3f}" for k, value in enumerate(kwh)]
    path.write_text("start,used kWh\n" + "\n".join(rows))
    return str(path)


def test_the_house_meter_shows_the_day_and_its_cost(export):
    """8 kWh in eight half-hours above the usual, within the ±, priced interval by interval; no phases are pretended."""
    found = ran("compare", "demo", "--meter", export, "--tariff", "demo", "--start", "2026-12-05T10:00", "--json")
    told = json.loads(found.stdout)
    assert told["measured_kwh"] == pytest.approx(8.0, abs=told["within_kwh"])
    assert told["within_kwh"] < 0.3
    assert told["brew_seen"] is True
    tariff = load_tariff("demo")
    start = datetime(2026, 12, 5, 10, 0, tzinfo=UTC)
    line = price_line_around(tariff, start, start + timedelta(hours=8))
    step = np.searchsorted(line.edges_s, start.timestamp() + 1800 * np.arange(8) + 1, side="right") - 1
    assert told["cost"] == pytest.approx(float(line.micro_per_kwh[step].sum()) / 1e6, abs=0.15)
    assert "phases" not in told
    assert len(ran("compare", "demo", "--meter", export, "--start", "2026-12-05T10:00").output.splitlines()) < 20


def test_another_day_is_not_called_a_brew(export):
    """A day before: nothing stands out, no cost is claimed, and it says how the columns were read."""
    found = ran("compare", "demo", "--meter", export, "--tariff", "demo", "--start", "2026-12-03T10:00")
    assert "No brew is seen" in found.output
    assert "It cost" not in found.output
    assert "“used kWh”" in found.output


def test_without_a_start_the_day_is_looked_for(export):
    """The one day that stands out is found, to a half-hour or two of its boil's place."""
    told = json.loads(ran("compare", "demo", "--meter", export, "--json").stdout)
    assert told["start"].startswith("2026-12-05T")


def test_ranges_use_what_brewed_days_taught(tmp_path, monkeypatch):
    """Three days that took more: the report's range moves and narrows, and says how many days it rests on."""
    from energyplan.plan.file import read_plan, read_plan_files
    from energyplan.plan.writing import plan_text

    monkeypatch.chdir(tmp_path)
    (tmp_path / "stout.toml").write_text(plan_text(read_plan_files("demo"), read_plan("demo")))
    report = ["report", "stout.toml", "--tariff", "demo", "--start", "2026-12-05T08:30"]
    before = json.loads(ran(*report, "--json").stdout)["ranges"]["energy_kwh"]
    assert "brewed day" not in ran(*report).output
    for day in ("01", "08", "15"):
        words = ["brewed", "stout.toml", "--reading", "Strike=2.2 kWh", "--reading", "Boil=7.0 kWh"]
        assert ran(*words, "--start", f"2026-11-{day}T08:30", "--write").exit_code == 0
    after = json.loads(ran(*report, "--json").stdout)["ranges"]["energy_kwh"]
    assert after["p50"] > before["p50"] + 0.05
    assert after["p90"] - after["p10"] < before["p90"] - before["p10"]
    for words in (report, ["report", "stout.toml", "--show", "clock,power"], ["power", "stout.toml"],
                  ["spread", "stout.toml"]):  # fmt: skip
        assert "from 3 brewed days" in " ".join(ran(*words).output.split()), words


def test_a_plan_that_brewed_days_contradict_is_told_so(tmp_path, monkeypatch):
    """A vessel that loses much more than planned: the planned kWh lie below the range; what to enter is named."""
    from energyplan.plan.file import read_plan, read_plan_files
    from energyplan.plan.writing import plan_text

    monkeypatch.chdir(tmp_path)
    (tmp_path / "sour.toml").write_text(plan_text(read_plan_files("sour"), read_plan("sour")))
    assert ran("brewed", "sour.toml", "--metered", "9.5 kWh", "--date", "2026-11-01", "--write").exit_code == 0
    report = " ".join(ran("report", "sour.toml", "--start", "2026-12-05T08:30").output.split())
    said = re.search(r"brewed days teach a heat loss of ([0-9.]+) W/K; enter it as (\[vessel\] )?heat_loss", report)
    assert said
    text = (tmp_path / "sour.toml").read_text()
    (tmp_path / "sour.toml").write_text(text.replace("[vessel]\n", f'[vessel]\nheat_loss = "{said[1]} W/K"\n', 1))
    report = json.loads(ran("report", "sour.toml", "--start", "2026-12-05T08:30", "--json").stdout)
    energy = report["ranges"]["energy_kwh"]
    assert energy["p10"] < report["totals"]["energy_kwh"] - report["totals"]["other_kwh"] < energy["p90"]


def test_a_loss_that_brewed_days_contradict_takes_its_half_width_with_it(tmp_path, monkeypatch):
    """What was measured once, and how well, is not what the days teach: both keys are named."""
    from energyplan.plan.file import read_plan, read_plan_files
    from energyplan.plan.writing import plan_text

    monkeypatch.chdir(tmp_path)
    text = plan_text(read_plan_files("sour"), read_plan("sour"))
    known = '[vessel]\nheat_loss = "2 W/K"\nheat_loss_within = "0.9 W/K"\n'
    (tmp_path / "sour.toml").write_text(text.replace("[vessel]\n", known, 1))
    assert ran("brewed", "sour.toml", "--metered", "9.5 kWh", "--date", "2026-11-01", "--write").exit_code == 0
    report = " ".join(ran("report", "sour.toml", "--start", "2026-12-05T08:30").output.split())
    assert "enter it as [vessel] heat_loss, and take out [vessel] heat_loss_within." in report


def test_three_days_of_the_demo_brewery_go_round(tmp_path, monkeypatch):
    """Plan, sheet, a line per reading, learned: three plans of one brewery, each typed back; comments stay.

    The brewery's tariff prices what was measured, and the year.
    """
    from importlib.resources import files

    from energyplan.day.brewday import simulate
    from energyplan.plan.file import read_plan, read_plan_files

    monkeypatch.chdir(tmp_path)
    names = ("demo.toml", "pale-ale.toml", "sour.toml")
    for name in (*names, "demo-brewery.toml"):
        (tmp_path / name).write_text((files("energyplan") / "demo" / name).read_text())
    before = (tmp_path / "demo-brewery.toml").read_text()
    for count, name in enumerate(names, start=1):
        day, total, typed = simulate(read_plan(name)), 0.0, {}
        for phase in day.phases:
            total += 1.03 * phase.energy_j / 3.6e6
            typed[phase.step] = f"--reading={phase.step}={total:.2f} kWh"
        start = f"2026-11-0{count}T08:30"
        assert ran("sheet", name, "--start", start, "-o", f"{name}.pdf").exit_code == 0
        assert (tmp_path / f"{name}.pdf").read_bytes().startswith(b"%PDF")
        found = ran("brewed", name, *typed.values(), "--start", start, "--write")
        assert found.exit_code == 0, found.output
        assert "EUR" in found.output
        taught = json.loads(ran("report", name, "--start", start, "--json").stdout)["ranges"]
        assert taught["brewed_days"] == count
    kept = read_plan_files("sour.toml").brewery.brewed
    assert [day.plan for day in kept] == list(names)
    assert (tmp_path / "demo-brewery.toml").read_text().startswith(before.rstrip())
    year = " ".join(ran("brewed", "demo.toml").output.split())
    assert "3 brewed days" in year
    assert "from 3 brewed days" in year
    assert "Cost, EUR" in year


def test_a_day_typed_again_replaces_what_was_typed(tmp_path, monkeypatch):
    """The same plan on the same date is one day; another date, or plan, is another; the file keeps its comments."""
    from importlib.resources import files

    from energyplan.plan.file import read_plan_files

    monkeypatch.chdir(tmp_path)
    for name in ("demo.toml", "pale-ale.toml", "demo-brewery.toml"):
        (tmp_path / name).write_text((files("energyplan") / "demo" / name).read_text())
    before = (tmp_path / "demo-brewery.toml").read_text()
    typed = (
        ("demo.toml", "7.3", "01"),
        ("pale-ale.toml", "7.1", "01"),
        ("demo.toml", "7.4", "01"),
        ("demo.toml", "7.5", "08"),
    )
    for name, kwh, day in typed:
        assert ran("brewed", name, "--metered", f"{kwh} kWh", "--date", f"2026-11-{day}", "--write").exit_code == 0
    kept = read_plan_files("demo.toml").brewery.brewed
    assert [(day.plan, day.metered_kwh, day.date.day) for day in kept] == [
        ("pale-ale.toml", 7.1, 1), ("demo.toml", 7.4, 1), ("demo.toml", 7.5, 8)
    ]  # fmt: skip
    assert (tmp_path / "demo-brewery.toml").read_text().startswith(before.rstrip())


def test_a_day_that_contradicts_is_named_in_the_year(tmp_path, monkeypatch):
    """One of three kept totals typed ten times too large: named, and left out of what was learned."""
    from energyplan.plan.file import read_plan, read_plan_files
    from energyplan.plan.writing import plan_text

    monkeypatch.chdir(tmp_path)
    (tmp_path / "stout.toml").write_text(plan_text(read_plan_files("demo"), read_plan("demo")))
    for day, metered in (("01", "7.4 kWh"), ("08", "74 kWh"), ("15", "7.5 kWh")):
        words = ["brewed", "stout.toml", "--metered", metered, "--start", f"2026-11-{day}T08:30", "--write"]
        assert ran(*words).exit_code == 0
    year = " ".join(ran("brewed", "stout.toml").output.split())
    assert "The day 2026-11-08 contradicts the others" in year
    assert "from 2 brewed days" in year
