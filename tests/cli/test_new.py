"""A first plan that works at once: rules, breaker, clock, lid and powers follow from a few answers."""

import json
import re
import sys
import tomllib
from pathlib import Path

import pytest

from energyplan.advice.firstplan import first_plan_toml, starter_of
from energyplan.day.brewday import simulate
from energyplan.plan.file import parse_plan, read_plan

SMALL = ("--power", "1500 W", "--voltage", "120 V", "--water", "18 L", "--grain", "4 kg")


def test_a_small_start_on_120_volts_works_at_once(run, tmp_path: Path) -> None:
    """Rules, breaker and clock of the place, a lid over the boil, powers below the element's, nothing over or odd."""
    file = tmp_path / "small.toml"
    assert run("new", str(file), *SMALL, "--time-zone", "America/Denver")[0] == 0
    plan = read_plan(file)
    assert plan.circuit is not None
    assert (plan.circuit.rules, plan.circuit.breaker_a, plan.site.time_zone) == ("nec", 20.0, "America/Denver")
    assert all((step.hold_power_w or 0) <= 1500 for step in plan.steps)
    day = simulate(plan)
    boil = next(phase for phase in day.phases if phase.phase == "boil")
    assert boil.lowest_c > 99.5
    assert next(step.lid for step in plan.steps if step.boil) == "ajar"
    assert day.slips == ()
    assert day.strike is not None
    assert day.strike.mash_c == pytest.approx(66.0, abs=0.5)
    document = json.loads(run("report", str(file), "--json", "--start", "2026-12-05T08:30")[1])
    assert not [one for one in document["circuit"]["findings"] if one["severity"] == "over"]


@pytest.mark.parametrize(
    ("answers", "rules", "breaker"),
    [
        ({}, "iec", "13 A"),
        ({"power": "3 kW"}, "iec", "16 A"),
        ({"power": "5500 W", "voltage": "240 V", "time_zone": "America/Chicago"}, "nec", "30 A"),
        ({"voltage": "120 V", "power": "1500 W"}, "nec", "20 A"),
        ({"voltage": "240 V", "power": "2400 W", "time_zone": "Australia/Hobart"}, "iec", "10 A"),
        ({"rules": "nec", "voltage": "240 V", "power": "3500 W"}, "nec", "20 A"),
    ],
)
def test_rules_and_breaker_follow_from_plate_and_place(answers: dict[str, str], rules: str, breaker: str) -> None:
    """The next preferred current that carries the plate's; 125 % of it for hours on end under nec."""
    found = starter_of(answers)
    assert (found.rules, found.breaker) == (rules, breaker)


@pytest.mark.parametrize("litres", [8, 15, 27, 60, 150])
def test_a_size_that_nobody_measured_follows_from_the_water(litres: int) -> None:
    """Water, grain and some room fit in."""
    found = starter_of({"water": f"{litres} L", "grain": f"{litres / 5} kg"})
    assert found.volume is not None
    assert 1.4 * litres < float(found.volume.split()[0]) < 1.8 * litres
    assert starter_of({"diameter": "40 cm"}).volume is None


def test_a_size_that_nobody_measured_does_not_claim_to_be() -> None:
    """What follows from the volume says so; what was entered asks for no tape. Remarks stand in one column."""
    worked_out, entered = (
        first_plan_toml(starter_of(one)) for one in ({"volume": "35 L"}, {"diameter": "33 cm", "height": "41 cm"})
    )
    for text, said in ((worked_out, "inside; from what it holds, so measure it"), (entered, "inside")):
        (line,) = (line for line in text.splitlines() if line.startswith("diameter"))
        assert line.partition("# ")[2] == said
        assert {line.index(" # ") for line in text.splitlines() if re.match(r"[a-z_]+ = .* # ", line)} == {31}


def test_the_machine_s_clock_is_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    """By its name; where it tells no place the plan names none, and takes the clock of its prices."""
    monkeypatch.setenv("TZ", "Europe/Oslo")
    assert starter_of({}).time_zone == "Europe/Oslo"
    monkeypatch.setenv("TZ", "no/where")
    assert starter_of({}).time_zone is None
    monkeypatch.setenv("TZ", "UTC")
    assert starter_of({"voltage": "120 V"}).time_zone is None
    assert parse_plan(first_plan_toml(starter_of({}))).site.time_zone is None


def test_brewery_and_day_are_written_together_and_then_days_alone(run, tmp_path: Path) -> None:
    """The first call writes both; the second a day that uses the one that is there, and leaves it alone."""
    garage, first = tmp_path / "garage.toml", tmp_path / "stout.toml"
    code, _, err = run("new", str(first), "--brewery", str(garage), "--power", "3 kW", "--water", "25 L")
    assert code == 0
    assert "garage.toml" in err
    assert set(tomllib.loads(garage.read_text())) == {"vessel", "site", "circuit"}
    assert tomllib.loads(first.read_text())["uses"] == "garage.toml"
    assert read_plan(first).vessel.elements[0].power_w == 3000.0
    before = garage.read_bytes()
    (tmp_path / "days").mkdir()
    second = tmp_path / "days" / "ale.toml"
    assert run("new", str(second), "--brewery", str(garage), "--water", "20 L", "--grain", "4 kg")[0] == 0
    assert garage.read_bytes() == before
    assert tomllib.loads(second.read_text())["uses"] == "../garage.toml"
    assert simulate(read_plan(second)).slips == ()
    assert run("report", str(second))[0] == 0


def test_neither_file_is_written_if_one_is_in_the_way(run, tmp_path: Path) -> None:
    """All or none."""
    first = tmp_path / "stout.toml"
    first.write_text("precious")
    code, _, err = run("new", str(first), "--brewery", str(tmp_path / "garage.toml"), "--water", "25 L")
    assert code == 2
    assert "already there" in err
    assert [path.name for path in tmp_path.iterdir()] == ["stout.toml"]
    assert first.read_text() == "precious"


def test_questions_are_checked_one_by_one(run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Seven of them; what can't be read is said and asked again, and the next one's usual answer follows from those."""
    answers = iter(["5 kg", "20", "20 L", "", "", "1500 W", "120 V", "", "Mars/Olympus", "America/Chicago"])
    asked: list[str] = []

    def read(prompt: str = "") -> str:
        asked.append(prompt)
        return next(answers)

    class Terminal:
        """Somebody sits there."""

        encoding = "utf-8"

        def isatty(self) -> bool:
            return True

    monkeypatch.setattr(sys, "stdin", Terminal())
    monkeypatch.setattr("typer._click.termui.visible_prompt_func", read, raising=False)
    monkeypatch.setattr("click.termui.visible_prompt_func", read)
    file = tmp_path / "mine.toml"
    code, _, err = run("new", str(file))
    assert code == 0, err
    plan = parse_plan(file.read_text())
    assert plan.circuit is not None
    assert (plan.batch.water_l, plan.circuit.breaker_a, plan.site.time_zone) == (20.0, 20.0, "America/Chicago")
    assert "is no volume" in err
    assert "has no unit" in err
    assert "no such time zone" in err


def test_answers_in_us_units_make_a_plan_in_us_units(tmp_path: Path, run) -> None:
    """Round values of those units everywhere, and no metric one beside them; what it plans is much the same."""
    file = tmp_path / "mine.toml"
    given = ("--water", "7 gal", "--grain", "12 lb", "--power", "1650 W", "--voltage", "120 V", "--vessel", "10.5 gal")
    assert run("new", str(file), *given)[0] == 0
    text = file.read_text()
    assert not re.findall(r'"[\d.]+ (?:L|kg|g|cm|mm|m|mm2|degC|°C)"', text)
    assert 'empty_mass = "22 lb"' in text
    assert 'water_temperature = "54 degF"' in text
    assert len(re.findall(r'target = "\d+ degF"', text)) == 4
    starter = starter_of({"water": "7 gal"})
    assert (starter.grain, str(starter.volume)[-4:]) == ("12 lb", " gal")
    there = simulate(parse_plan(text))
    assert there.strike is not None
    assert there.strike.mash_c == pytest.approx(read_plan(file).steps[1].target_c, abs=0.4)
    no_grain = first_plan_toml(starter_of({"water": "7 gal"}))
    assert 'target = "151 degF"' in no_grain
