"""The commands of the brew day, as people type them."""

import json
import subprocess
import sys
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from energyplan.plan.file import demo_plans, parse_plan

START = ("--start", "2026-12-05T08:30")
PHASE_KEYS = {
    "step", "phase", "start", "end", "minutes", "from_c", "to_c", "lowest_c", "energy_kwh", "heat_lost_kwh",
    "evaporated_kg", "mean_power_w", "draw_w", "draw_a", "cost",
}  # fmt: skip
TOTAL_KEYS = {
    "energy_kwh", "ramp_kwh", "hold_kwh", "boil_kwh", "other_kwh", "cost", "currency", "minutes", "finish",
    "evaporated_kg", "end_volume_l", "carbon_g",
}  # fmt: skip
CIRCUIT_KEYS = {
    "peak_a", "limit_a", "continuous_a", "rms_60_min_a", "longest_at_peak_min", "voltage_drop_v",
    "voltage_drop_frac", "findings",
}  # fmt: skip
POWER_KEYS = {
    "step", "phase", "set_w", "needed_w", "advised_w", "advised_lowest_c", "energy_change_kwh",
    "current_freed_a", "why",
}  # fmt: skip


def test_report_answers_first(run):
    """The first lines say how much, for how much, when it is done, and whether the circuit carries it."""
    code, out, err = run("report", "demo", "--tariff", "demo", *START)
    lines = out.splitlines()
    assert code == 0
    assert err == ""
    assert len(lines) <= 40
    said = " ".join(lines[1:6])
    for told in ("kWh (", "EUR (", "done at", "Strike at", "The boil begins at", "Within the ratings you entered:"):
        assert told in said
    assert lines[-1].startswith("More: ")


def test_all_of_the_report_says_nothing_twice(run):
    """Screen and parts; no line of words stands twice."""
    _, out, _ = run("report", "demo", "--tariff", "demo", "--all", *START)
    lines = [line.strip() for line in out.splitlines() if len(line.strip()) > 40]
    assert len(lines) == len(set(lines))
    for heading in ("By the clock", "Who must be there", "The room", "Power", "Circuit"):
        assert heading in out


def test_parts_of_the_report_are_shown_when_asked_for(run):
    """Only those; another name is refused with the names that there are."""
    _, out, _ = run("report", "demo", "--show", "room, clock", *START)
    assert "The room" in out
    assert "By the clock" in out
    assert "Who must be there" not in out
    code, out, err = run("report", "demo", "--show", "weather", *START)
    assert (code, out) == (2, "")
    assert "clock, people, room, power, circuit" in err


def test_report_fits_a_terminal(run):
    """No line of any packaged plan's report is wider than 80 columns, in either unit system."""
    for plan in demo_plans():
        for units in ("metric", "us"):
            _, out, _ = run("report", plan, "--tariff", "demo", "--units", units, *START)
            assert max(len(line) for line in out.splitlines()) <= 80


@pytest.mark.parametrize("word", ["safe", "approved", "compliant", "guarantee"])
def test_report_promises_nothing(run, word):
    """The report never says that anything is safe."""
    _, out, _ = run("report", "demo", "--tariff", "demo", *START)
    assert word not in out.lower()


def test_report_document_has_the_agreed_keys(run):
    """``report --json`` prints the keys that other programs rely on, and nothing else on stdout."""
    code, out, err = run("report", "demo", "--tariff", "demo", "--json", *START)
    document = json.loads(out)
    assert (code, err) == (0, "")
    assert {"plan", "start", "phases", "totals", "circuit", "power"} <= set(document)
    assert set(document["totals"]) >= TOTAL_KEYS
    assert set(document["circuit"]) >= CIRCUIT_KEYS
    assert all(set(phase) >= PHASE_KEYS for phase in document["phases"])
    assert all(set(row) >= POWER_KEYS for row in document["power"])
    assert {phase["phase"] for phase in document["phases"]} == {"ramp", "hold", "boil", "pause"}
    finding = document["circuit"]["findings"][0]
    assert {"code", "severity", "message", "rule", "margin_frac"} <= set(finding)


def test_report_document_adds_up(run):
    """Energies of phases and appliances make the total; clock times make the minutes."""
    _, out, _ = run("report", "demo", "--tariff", "demo", "--json", *START)
    document = json.loads(out)
    totals, phases = document["totals"], document["phases"]
    by_kind = sum(totals[f"{kind}_kwh"] for kind in ("ramp", "hold", "boil", "other"))
    assert by_kind == pytest.approx(totals["energy_kwh"], rel=1e-12)
    assert sum(phase["energy_kwh"] for phase in phases) < totals["energy_kwh"]  # the second heater is beside
    start, finish = (datetime.fromisoformat(text) for text in (document["start"], totals["finish"]))
    assert (finish - start).total_seconds() / 60 == pytest.approx(totals["minutes"], abs=1 / 60)
    assert start == datetime.fromisoformat("2026-12-05T08:30+00:00")


def test_units_change_the_display_only(run):
    """The JSON document is the same in both unit systems; the text is not."""
    documents = [run("report", "demo", "--units", units, "--json", *START)[1] for units in ("metric", "us")]
    texts = [run("report", "demo", "--units", units, *START)[1] for units in ("metric", "us")]
    assert documents[0] == documents[1]
    assert "°F" in texts[1]
    assert "°F" not in texts[0]


def test_finish_by_and_boil_at_move_the_start(run):
    """Asked for an end or a boil, the day is shifted so that they come at that time."""
    _, out, _ = run("report", "demo", "--json", "--finish-by", "2026-12-05T18:00")
    finish = datetime.fromisoformat(json.loads(out)["totals"]["finish"])
    wanted = datetime.fromisoformat("2026-12-05T18:00+00:00")
    assert timedelta(0) <= wanted - finish < timedelta(minutes=1)
    _, out, _ = run("report", "demo", "--json", "--boil-at", "2026-12-05T13:00")
    boils = [phase for phase in json.loads(out)["phases"] if phase["phase"] == "boil"]
    onset = datetime.fromisoformat(boils[0]["start"])
    assert abs(onset - datetime.fromisoformat("2026-12-05T13:00+00:00")) <= timedelta(seconds=30)


def test_clean_by_leaves_time_for_the_people(run):
    """Everybody is done by then, after the vessel; not a minute sooner than need be."""
    _, out, _ = run("report", "demo", "--json", "--clean-by", "2026-12-05T18:00")
    document = json.loads(out)
    ends = datetime.fromisoformat(document["people"]["ends"])
    wanted = datetime.fromisoformat("2026-12-05T18:00+00:00")
    assert timedelta(0) <= wanted - ends < timedelta(minutes=1)
    assert datetime.fromisoformat(document["totals"]["finish"]) < ends


@pytest.mark.parametrize("wanted", ["2026-03-29T05:00", "2026-10-25T04:00"])
def test_finish_by_is_right_on_a_night_when_the_clock_moves(run, wanted):
    """The day takes its own hours, whatever the clock on the wall does; the end is the wanted local reading."""
    _, out, _ = run("report", "demo", "--json", "--finish-by", wanted)
    document = json.loads(out)
    start, finish = (datetime.fromisoformat(text) for text in (document["start"], document["totals"]["finish"]))
    assert (finish - start).total_seconds() / 60 == pytest.approx(document["totals"]["minutes"], abs=1 / 60)
    shown = finish.astimezone(ZoneInfo("Europe/Dublin")).replace(tzinfo=None)
    assert timedelta(0) <= datetime.fromisoformat(wanted) - shown < timedelta(minutes=1)


def test_a_wanted_time_that_the_clock_shows_twice_is_refused(run):
    """01:30 comes twice at the end of summer time: the message gives both readings."""
    code, out, err = run("report", "demo", "--finish-by", "2026-10-25T01:30")
    assert (code, out) == (2, "")
    assert "twice" in err


def test_report_says_who_must_be_there_and_what_the_room_gets(run):
    """The sections of the people and of the room stand in the report; their keys in the document."""
    _, out, _ = run("report", "demo", "--all", *START)
    for heading in ("By the clock", "Who must be there", "The room"):
        assert heading in out.splitlines()
    assert "Watch for boil-over" in out
    document = json.loads(run("report", "demo", "--json", *START)[1])
    assert set(document["people"]) >= {
        "begins", "ends", "latest_end", "vessel_ends", "clock", "attended", "unattended", "said",
    }  # fmt: skip
    room = document["room"]
    lost_kwh = sum(phase["heat_lost_kwh"] for phase in document["phases"])
    assert room["heat_kwh"] == pytest.approx(lost_kwh, rel=1e-9)
    assert room["steam_kg"] == pytest.approx(document["totals"]["evaporated_kg"], rel=1e-9)


def test_two_ways_to_fix_the_start_contradict(run):
    """A start and an end at once are refused."""
    code, out, err = run("report", "demo", *START, "--finish-by", "2026-12-05T18:00")
    assert (code, out) == (2, "")
    assert "contradict" in err


def test_strict_fails_on_an_overload(run, tmp_path):
    """With --strict an overloaded breaker gives exit 1; without it the report is an answer like any other."""
    text = demo_plans()["demo"].replace('breaker = "16 A"', 'breaker = "6 A"')
    plan = tmp_path / "small.toml"
    plan.write_text(text)
    assert run("circuit", str(plan), *START)[0] == 0
    code, out, _ = run("circuit", str(plan), "--strict", *START)
    assert code == 1
    assert "over" in out


def test_circuit_needs_a_circuit(run, tmp_path):
    """A plan without a circuit can't be checked, and says so."""
    plan = tmp_path / "plain.toml"
    plan.write_text(
        """
        vessel = { diameter = "30 cm", height = "40 cm", element = [{ power = "2 kW", voltage = "230 V" }] }
        batch = { water = "20 L", water_temperature = "12 degC" }
        step = [{ name = "Heat", target = "60 degC" }]
        """
    )
    code, _, err = run("circuit", str(plan))
    assert code == 2
    assert "[circuit]" in err
    assert run("report", str(plan))[0] == 0


def test_power_says_what_a_cap_saves(run):
    """The honest sentence stands under the table: a lower hold cap saves next to nothing."""
    code, out, _ = run("power", "demo")
    assert code == 0
    assert "saves next to no energy" in " ".join(out.split())
    rows = json.loads(run("power", "demo", "--json")[1])["power"]
    assert all(abs(row["energy_change_kwh"]) < 0.02 for row in rows if row["phase"] == "hold")


def test_new_writes_a_plan_that_runs(run, tmp_path):
    """A starter plan from flags reads back and reports; a second call leaves it alone."""
    file = tmp_path / "mine.toml"
    assert run("new", str(file), "--water", "30 L", "--power", "3 kW")[0] == 0
    plan = parse_plan(file.read_text())
    assert (plan.batch.water_l, plan.vessel.elements[0].power_w) == (30.0, 3000.0)
    assert run("report", str(file), "--tariff", "demo")[0] == 0
    before = file.read_bytes()
    code, _, err = run("new", str(file), "--water", "20 L")
    assert code == 2
    assert "already there" in err
    assert file.read_bytes() == before
    assert run("new", str(file), "--water", "20 L", "--force")[0] == 0
    assert parse_plan(file.read_text()).batch.water_l == 20.0


def test_new_refuses_nonsense_and_writes_nothing(run, tmp_path):
    """A wrong dimension in a flag is named, and no file appears."""
    file = tmp_path / "mine.toml"
    code, _, err = run("new", str(file), "--water", "5 kg")
    assert code == 2
    assert "[batch] water" in err
    assert list(tmp_path.iterdir()) == []


def test_new_without_anybody_to_ask(run, tmp_path):
    """Without flags and without a terminal, it says which flags to give."""
    code, _, err = run("new", str(tmp_path / "mine.toml"))
    assert code == 2
    assert "--water" in err


def test_new_prints_the_schema(run):
    """The schema names every table of a plan."""
    schema = json.loads(run("new", "--schema")[1])
    assert {"vessel", "batch", "site", "circuit", "other_load", "step"} <= set(schema["properties"])


BAD_PLANS = {
    "empty file": ("", "empty"),
    "not TOML": ("title = [", "not valid TOML"),
    "no steps": (demo_plans()["demo"].split("[[step]]")[0], "[[step]]"),
    "wrong dimension": (demo_plans()["demo"].replace('"1800 W"', '"5 kg"'), "no power"),
    "negative": (demo_plans()["demo"].replace('"1800 W"', '"-5 W"'), "out of range"),
    "not a number": (demo_plans()["demo"].replace("pump_heat = 0.6", "pump_heat = nan"), "pump_heat"),
    "bare number": (demo_plans()["demo"].replace('breaker = "16 A"', "breaker = 20"), "a unit is due"),
    "too hot": (demo_plans()["demo"].replace('"98 degC"', '"104 degC"'), "boils at"),
    "frozen": (demo_plans()["demo"].replace('target = "98 degC"', 'target = "-5 degC"'), "freezing"),
    "runs over": (demo_plans()["demo"].replace('water = "27 L"', 'water = "60 L"'), "run over"),
    "boils dry": (demo_plans()["demo"].replace('hold = "70 min"', 'hold = "20 h"'), "dry"),
    "grain twice": (demo_plans()["demo"].replace('["remove grain", ', '["add grain", "remove grain", '), "already in"),
    "sparge without water": (demo_plans()["demo"].replace('sparge_water = "5 L"', ""), "sparge water"),
    "unknown zone": (demo_plans()["demo"].replace("Europe/Dublin", "Europe/Nowhere"), "time zone"),
    "misspelt key": (demo_plans()["demo"].replace("humidity", "humidty"), 'did you mean "humidity"'),
    "ramp stalls": (demo_plans()["demo"].replace('ramp_power = "1500 W"', 'ramp_power = "150 W"'), "stalls at"),
}


@pytest.mark.parametrize("name", BAD_PLANS)
def test_bad_plans_end_in_a_sentence(run, tmp_path, name):
    """Each broken plan gives exit 2, one clear message, nothing on stdout, and no traceback."""
    text, said = BAD_PLANS[name]
    plan = tmp_path / "bad.toml"
    plan.write_text(text)
    code, out, err = run("report", str(plan), "--tariff", "demo", *START)
    assert (code, out) == (2, "")
    assert said in err
    assert "Traceback" not in err
    assert [entry.name for entry in tmp_path.iterdir()] == ["bad.toml"]


def test_a_start_that_the_clock_skips(run):
    """On the night when the clocks go forward, a start within the hour that is missing is refused with both ends."""
    code, out, err = run("report", "demo", "--tariff", "demo", "--start", "2026-03-29T01:30")
    assert (code, out) == (2, "")
    assert "does not exist in Europe/Dublin" in err


def test_several_mistakes_are_shown_together(run, tmp_path):
    """One run names every mistake of the file."""
    text = demo_plans()["demo"].replace('"1800 W"', '"5 kg"').replace('breaker = "16 A"', "breaker = 20")
    plan = tmp_path / "bad.toml"
    plan.write_text(text)
    _, _, err = run("report", str(plan))
    assert "2 things to mend" in err
    assert "[circuit] breaker" in err
    assert "[[vessel.element]]" in err


def test_help_is_light():
    """``energyplan --help`` imports neither pandas nor pint nor streamlit."""
    code = (
        "import sys; sys.argv = ['energyplan', '--help']\n"
        "from energyplan.cli import main\n"
        "try: main()\n"
        "except SystemExit: pass\n"
        "sys.exit(sorted({'pandas', 'pint', 'streamlit', 'scipy', 'altair', 'pydantic'} & set(sys.modules)) or 0)"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)  # noqa: S603
    assert found.returncode == 0, found.stderr


@pytest.mark.parametrize("command", ["report demo --tariff demo", "sheet demo --start 2026-12-05T08:30 -o {file}"])
def test_report_and_sheet_need_no_data_frames(command, tmp_path):
    """Neither the terminal's report nor the pages with their charts import what draws and frames in notebooks."""
    words = command.format(file=tmp_path / "sheet.pdf").split()
    code = (
        f"import sys; sys.argv = ['energyplan', *{words!r}]\n"
        "from energyplan.cli import main\n"
        "try: main()\n"
        "except SystemExit as left: assert not left.code\n"
        "sys.exit(sorted({'pandas', 'streamlit', 'altair'} & set(sys.modules)) or 0)"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)  # noqa: S603
    assert found.returncode == 0, found.stderr


def test_an_interrupted_write_leaves_the_old_file(monkeypatch, tmp_path):
    """If the move fails, the file that was there is intact and nothing else is left."""
    from energyplan.base.errors import FileError
    from energyplan.base.files import write_new

    file = tmp_path / "plan.toml"
    file.write_text("old")

    def broken(*_: object) -> None:
        raise OSError("no space")

    monkeypatch.setattr(Path, "replace", broken)
    with pytest.raises(FileError, match="can't be written"):
        write_new(file, b"new", force=True)
    assert file.read_text() == "old"
    assert list(tmp_path.iterdir()) == [file]


def test_circuit_says_what_would_be_enough(run):
    """A breaker, a cable and the largest power of today's circuit stand under the findings."""
    code, out, _ = run("circuit", "demo", *START)
    words = " ".join(out.split())
    assert code == 0
    assert "What would be enough" in words
    assert "A breaker on" in words
    document = json.loads(run("circuit", "demo", "--json", *START)[1])
    assert document["enough"]["breaker_a"] >= document["peak_a"] / 1.13
    assert document["largest_power"]["power_w"] > 0


def test_report_and_spread_tell_one_range(run):
    """To the last digit, of energy and of cost: nobody has to choose which to believe."""
    asked = ("demo", "--tariff", "demo", *START, "--json")
    told = json.loads(run("report", *asked)[1])["ranges"]
    found = {row["key"]: row for row in json.loads(run("spread", *asked)[1])["ranges"]}
    for key in ("energy_kwh", "cost"):
        for quantile in ("p10", "p50", "p90"):
            assert found[key][quantile] == pytest.approx(told[key][quantile], rel=1e-9)


def test_what_the_own_roof_gives_is_told_beside_what_the_grid_gives(run, tmp_path):
    """1 kW all day: what the minutes of the day take of it, minute by minute from the phases' mean powers."""
    (tmp_path / "roof.csv").write_text(
        "start,power\n" + "".join(f"2026-12-0{day}T{hour:02d}:00:00Z,1.0\n" for day in (4, 5, 6) for hour in range(24)),
        encoding="utf-8",
    )
    tariff = tmp_path / "own.toml"
    tariff.write_text(
        '[tariff]\nname = "Own"\ncurrency = "EUR"\nprice_unit = "EUR/kWh"\ntime_zone = "Europe/Dublin"\n'
        '[[tariff.band]]\nname = "all"\nprice = 0.3\notherwise = true\n'
        '[own_generation]\nfile = "roof.csv"\npower_column = "power"\nunit = "kW"\nexport_price = 0.1\n',
        encoding="utf-8",
    )
    plan = tmp_path / "plain.toml"
    plan.write_text(
        '[vessel]\ndiameter = "36 cm"\nheight = "48 cm"\n[[vessel.element]]\npower = "2500 W"\nvoltage = "230 V"\n'
        '[batch]\nwater = "25 L"\nwater_temperature = "12 degC"\n[[step]]\nname = "Heat"\ntarget = "66 degC"\n'
        'hold = "90 min"\nhold_power = "800 W"\n',
        encoding="utf-8",
    )
    document = json.loads(run("report", str(plan), "--tariff", str(tariff), "--json", *START)[1])
    loads = [(row["minutes"], row["mean_power_w"]) for row in document["phases"]]
    own_kwh = sum(minutes / 60 * min(watts, 1000.0) / 1000 for minutes, watts in loads)
    totals = document["totals"]
    grid_kwh = totals["imported_kwh"]
    assert totals["energy_kwh"] - grid_kwh == pytest.approx(own_kwh, abs=0.05)
    assert totals["cost"] == pytest.approx(0.3 * grid_kwh + 0.1 * (totals["energy_kwh"] - grid_kwh), abs=0.001)
    out = " ".join(run("report", str(plan), "--tariff", str(tariff), *START)[1].split())
    assert f"the grid {grid_kwh:.2f} kWh" in out


def test_the_hour_that_is_there_twice_names_its_zone(run, tmp_path):
    """02:30 on the last Sunday of October: summer time first; at 04:30 nobody asks."""
    plan = tmp_path / "plain.toml"
    plan.write_text(demo_plans()["pale-ale"], encoding="utf-8")
    twice = run("report", str(plan), "--tariff", "demo", "--start", "2026-10-25T01:30+01:00")[1]
    assert "01:30 IST on Sun 25 Oct" in " ".join(twice.split())
    once = run("report", str(plan), "--tariff", "demo", "--start", "2026-10-25T04:30")[1]
    assert "04:30 on Sun 25 Oct" in " ".join(once.split())


def test_two_days_on_one_circuit(run):
    """The second day starts when the first one leaves room, and the wish for another way is refused."""
    code, out, _ = run("circuit", "demo", "demo", "--offset", "auto", *START)
    assert code == 0
    assert "min after the first" in out
    assert "With no delay each may have elements of" in out
    document = json.loads(run("circuit", "demo", "demo", "--json", *START)[1])
    assert document["offset"]["offset_min"] > 60
    assert run("circuit", "demo", "demo", "--offset", "soon", *START)[0] == 2


def test_two_days_on_one_circuit_may_pass_the_contracted_power(run, tmp_path):
    """A circuit of 40 A carries two vessels of 2.8 kW at once; a contract of 4.5 kW, enough for one, does not."""
    wide = demo_plans()["demo"].replace('breaker = "16 A"', 'breaker = "40 A"').replace('outlet = "16 A"', "")
    plan = tmp_path / "wide.toml"
    plan.write_text(wide + '\n[supply]\ncontracted_power = "4.5 kW"\n', encoding="utf-8")
    out = " ".join(run("circuit", str(plan), str(plan), "--offset", "auto", *START)[1].split())
    assert "Over: The house draws" in out
    assert "passes the contracted 4.50 kW" in out
    plan.write_text(wide + '\n[supply]\ncontracted_power = "20 kW"\n', encoding="utf-8")
    assert "contracted" not in run("circuit", str(plan), str(plan), "--offset", "auto", *START)[1]
