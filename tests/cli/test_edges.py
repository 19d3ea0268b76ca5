"""Hard edges of the commands: what people, other programs and bad intent hand in ends in one sentence."""

import json
from pathlib import Path

import pytest

from energyplan.plan.file import demo_plans

PLAN = demo_plans()["demo"]
GAP = """\
[tariff]
name = "Nights only"
currency = "EUR"
price_unit = "ct/kWh"
time_zone = "Europe/Dublin"
[[tariff.band]]
name = "night"
price = 14.2
from = "23:00"
to = "08:00"
"""
HALF = "x\udcff"  # what Python makes of a byte that is no UTF-8 on a command line
RATE = {
    "name": "Invented rate",
    "energyratestructure": [[{"rate": 0.1}]],
    "energyweekdayschedule": [[0] * 24] * 12,
    "energyweekendschedule": [[0] * 24] * 12,
}
LIST = "start;price EUR/MWh\n" + "\n".join(f"2026-12-05T{hour:02d}:00;{hour}" for hour in range(24))


def refused(found: tuple[int, str, str]) -> str:
    """The one message of a command that was refused; it can be written and holds nothing that is obeyed."""
    code, out, err = found
    assert (code, out) == (2, "")
    assert "Traceback" not in err
    assert err.encode()
    return err


@pytest.mark.parametrize("degrees", ["70 degC", "75 degC", "90 degC"])
def test_a_place_too_hot_for_the_cable_is_over_and_no_infinity(run, tmp_path: Path, degrees: str) -> None:
    """At the temperature that the cable's insulation bears nothing may flow; documents stay documents."""
    (tmp_path / "hot.toml").write_text(PLAN.replace('ambient = "30 degC"', f'ambient = "{degrees}"'), encoding="utf-8")
    assert degrees in (tmp_path / "hot.toml").read_text(encoding="utf-8")
    code, out, _ = run("power", str(tmp_path / "hot.toml"), "--best-for", "circuit", "--json")
    assert code == 0
    assert json.loads(out, parse_constant=pytest.fail)["chosen"]["use_frac"] > 0
    findings = json.loads(run("circuit", str(tmp_path / "hot.toml"), "--json")[1], parse_constant=pytest.fail)
    assert next(one for one in findings["findings"] if one["code"] == "cable")["severity"] == "over"


@pytest.mark.parametrize(("asked", "named"), [("2026-12-05T08:30", "2026-12-05"), ("2027-02-28T20:00", "2027-02-28")])
def test_a_gap_is_named_by_the_day_asked_about(run, tmp_path: Path, asked: str, named: str) -> None:
    """Not by a day of another year."""
    (tmp_path / "gap.toml").write_text(GAP, encoding="utf-8")
    said = refused(run("report", "demo", "--tariff", str(tmp_path / "gap.toml"), "--start", asked))
    assert f"{named} (" in said
    said = refused(run("starts", "demo", "--tariff", str(tmp_path / "gap.toml"), "--from", named, "--to", named))
    assert f"{named} (" in said


def test_a_gap_on_a_leap_day_is_found_whatever_the_day(run, tmp_path: Path) -> None:
    """Seasons that meet but for 29 February."""
    season = '[[tariff.band]]\nname = "{}"\nprice = 9\ndates = "{}"\n'
    bands = season.format("a", "03-01 to 10-31") + season.format("b", "11-01 to 02-28")
    (tmp_path / "gap.toml").write_text(GAP.partition("[[")[0] + bands, encoding="utf-8")
    tariff = ("--tariff", str(tmp_path / "gap.toml"))
    assert "2028-02-29" in refused(run("report", "demo", *tariff, "--start", "2026-12-05T08:30"))


@pytest.mark.parametrize(
    ("before", "after", "said"),
    [
        ("gravity = 1.050", "gravity = 1,048", "write gravity = 1.048"),
        ("gravity = 1.050", "gravity = 1048", "write it with its point: 1.048"),
        ('hold = "60 min"', 'hop = "60 min"', 'did you mean "hold"?'),
        ("[[step]]", '[[step.hop]]\nname = "x"\n[[step]]', "[[step.addition]]"),
    ],
)
def test_messages_say_the_mend(run, tmp_path: Path, before: str, after: str, said: str) -> None:
    """What to write stands in the message."""
    assert before in PLAN
    head, _, tail = PLAN.rpartition(before)
    (tmp_path / "slip.toml").write_text(head + after + tail, encoding="utf-8")
    assert said in refused(run("report", str(tmp_path / "slip.toml")))


@pytest.mark.parametrize(
    "words",
    [
        ["report", HALF], ["report", "demo", "--tariff", HALF], ["report", "demo", "--start", HALF],
        ["report", "demo", "--show", HALF], ["compare", "demo", HALF], ["compare", "demo", "--log", HALF],
        ["compare", "demo", "--meter", HALF], ["calibrate", HALF, "--plan", "demo"], ["explain", HALF],
        ["brewed", "demo", "--metered", HALF], ["brewed", "demo", "--reading", f"{HALF}=2 kWh"],
        ["batches", "demo", "--litres", HALF], ["batches", "demo", "--kept", HALF], ["power", "demo", "--step", HALF],
        ["unattended", "demo", "--yes", HALF], ["tariff", "check", HALF], ["tariff", "compare", "demo", HALF, HALF],
        ["tariff", "import", HALF, "--time-zone", "UTC"], ["sheet", "demo", "-o", HALF],
        ["starts", "demo", "--tariff", "demo", "--from", HALF], ["new", f"{HALF}.toml", "--power", "2 kW"],
    ],
    ids=lambda words: " ".join(words[:3]).encode("ascii", "replace").decode(),
)  # fmt: skip
def test_half_a_character_is_refused_wherever_it_stands(run, words: list[str]) -> None:
    """As a path, a name, a quantity, a time."""
    said = refused(run(*words))
    assert "Value error" not in said
    assert "unicode string" not in said


@pytest.mark.parametrize(
    ("rate", "zone", "said"),
    [
        ({"startdate": 1.5e9, "enddate": 1.4e9}, "America/Chicago", "lies before valid_from"),
        ({"startdate": -1.5e9}, "America/Chicago", "expected a date from 1970"),
        ({"enddate": -5}, "America/Chicago", "expected a date from 1970"),
        ({"name": "x\ud800y"}, "America/Chicago", "half a character"),
        ({}, "Moon/Base", "write an IANA name"),
        ({}, "../../etc/passwd", "write an IANA name"),
    ],
)
def test_no_rate_is_written_that_the_check_refuses(run, tmp_path: Path, rate, zone: str, said: str) -> None:
    """Swapped or negative dates, half a character, a zone that is none: one sentence, no file."""
    (tmp_path / "rate.json").write_text(json.dumps(RATE | rate), encoding="utf-8")
    target = tmp_path / "rate.toml"
    call = ("tariff", "import", str(tmp_path / "rate.json"), "--time-zone", zone)
    assert said in refused(run(*call, "-o", str(target)))
    assert said in refused(run(*call))
    assert not target.exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--name", HALF), "half a character"),
        (("--name", ""), "write a text that is not empty"),
        (("--tax", "-200"), "expected 0 or more"),
        (("--tax", "nan"), "finite number"),
        (("--tax", "1e400"), "finite number"),
        (("--adder", "a: 6 ct/kWh 17:00-17:00"), "a window of no minutes"),
    ],
)
def test_no_list_is_written_that_the_check_refuses(run, tmp_path: Path, words: tuple[str, ...], said: str) -> None:
    """Neither the tariff nor its list."""
    (tmp_path / "list.csv").write_text(LIST, encoding="utf-8")
    call = ("tariff", "import", str(tmp_path / "list.csv"), "--time-zone", "Europe/Dublin")
    assert said in refused(run(*call, "-o", str(tmp_path / "mine.toml"), *words))
    assert [path.name for path in tmp_path.iterdir()] == ["list.csv"]
