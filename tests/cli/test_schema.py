"""What every command line has: a version, a module to run, schemas, standard input."""

import csv
import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from typer.main import get_command

from energyplan import __version__
from energyplan.cli import made
from energyplan.cli.schema import SUBJECTS
from energyplan.plan.file import demo_plans

TARIFF = Path(__file__).parents[2] / "tariffs_demo" / "two_rate.toml"


def test_the_version(run) -> None:
    """Printed alone, also by the module."""
    assert run("--version")[:2] == (0, f"energyplan {__version__}\n")
    command = [sys.executable, "-m", "energyplan", "--version"]
    assert subprocess.run(command, capture_output=True, text=True, check=True).stdout == f"energyplan {__version__}\n"  # noqa: S603


@pytest.mark.parametrize("name", ["plan", "brewery", "tariff"])
def test_schemas_of_files(run, name: str) -> None:
    """Valid ones, with a name."""
    found = json.loads(run("schema", name)[1])
    Draft202012Validator.check_schema(found)
    assert found["$id"] == f"urn:energyplan:{name}:2"


def test_every_command_with_a_document_has_its_schema() -> None:
    """Whoever takes ``--json`` can be asked for what it prints."""
    app = get_command(made())
    commands = {name: one for name, one in app.commands.items() if not hasattr(one, "commands")}
    for name, group in app.commands.items():
        commands |= {f"{name}-{inner}": one for inner, one in getattr(group, "commands", {}).items()}
    printing = {name for name, one in commands.items() if any(part.name == "as_json" for part in one.params)}
    assert printing == set(SUBJECTS) - {"plan", "brewery", "tariff"}


@pytest.mark.parametrize(
    ("name", "command"),
    [
        ("batches", ("batches", "lakeside")),
        ("brewed", ("brewed", "lakeside", "--metered", "5.4 kWh")),
        ("unattended", ("unattended", "lakeside")),
        ("tariff-check", ("tariff", "check", "three_band")),
        ("tariff-compare", ("tariff", "compare", "pale-ale", "three_band", "demo")),
    ],
)
def test_a_schema_fits_the_document_of_another_day(run, name: str, command: tuple[str, ...]) -> None:
    """It names its keys, and takes what the command prints of another plan."""
    found = json.loads(run("schema", name)[1])
    document = json.loads(run(*command, "--json")[1])
    assert list(Draft202012Validator(found).iter_errors(document)) == []
    assert set(document) <= set(found["properties"])
    assert found["$id"] == f"urn:energyplan:{name}:2"


def test_the_schema_of_the_report_fits_other_reports(run) -> None:
    """Read off the demo's, it takes the report of another day without prices, and knows its keys."""
    found = json.loads(run("schema", "report")[1])
    document = json.loads(run("report", "lakeside", "--json")[1])
    assert list(Draft202012Validator(found).iter_errors(document)) == []
    assert found["properties"]["schema"]["type"] == ["number", "null"]
    assert {"phases", "totals", "circuit", "power"} <= set(found["properties"])


def numbers_by_unit(node: object, key: str = "") -> Iterator[tuple[str, object]]:
    """Every value in a document whose key ends in a unit."""
    if isinstance(node, dict):
        for name, inner in node.items():  # the plan itself is written as in its file
            yield from numbers_by_unit(inner, name) if name != "plan" else ()
    elif isinstance(node, list):
        for inner in node:
            yield from numbers_by_unit(inner, key)
    elif key.rpartition("_")[2] in {"w", "kwh", "c", "k", "a", "v", "l", "kg", "min", "s"} and "_" in key:
        yield key, node


@pytest.mark.parametrize(
    "command",
    [("report",), ("power", "--all"), ("savings",), ("batches",), ("circuit",)],
    ids=" ".join,
)
def test_what_is_named_by_a_unit_is_a_number(run, command: tuple[str, ...]) -> None:
    """Or unknown; a word in its place is for people."""
    found = dict.fromkeys(numbers_by_unit(json.loads(run(command[0], "demo", *command[1:], "--json")[1])))
    assert len(found) > 5
    assert [pair for pair in found if isinstance(pair[1], str)] == []


def test_a_table_of_phases_has_numbers_under_their_units(run, tmp_path: Path) -> None:
    """Also where nothing is switched on: 0 W is set in a pause."""
    assert run("sheet", "demo", "-o", str(tmp_path / "day.csv"))[0] == 0
    with (tmp_path / "day.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert {float(row["set_w"]) for row in rows if row["phase"] in {"pause", "chill"}} == {0.0}
    assert all(float(row["set_w"]) > 0 for row in rows if row["phase"] in {"ramp", "hold", "boil"})


def test_a_schema_of_something_else_is_refused(run) -> None:
    """With the names that there are."""
    code, _, err = run("schema", "reports")
    assert code == 2
    assert err.startswith("no schema of that name; there are plan, brewery, tariff, report, circuit,")


@pytest.mark.parametrize(
    "command", [("schema",), ("report",), ("power",), ("circuit",), ("starts",), ("tariff", "check"), ("brewed",)]
)
def test_the_help_keeps_to_the_width_of_the_screen(command: tuple[str, ...]) -> None:
    """Eighty columns, so that nothing wraps in the middle of a name."""
    words = [sys.executable, "-m", "energyplan", *command, "--help"]
    done = subprocess.run(words, capture_output=True, text=True, check=True, env={**os.environ, "COLUMNS": "80"})  # noqa: S603
    assert max(map(len, done.stdout.splitlines())) <= 80


def test_a_plan_from_standard_input() -> None:
    """``-`` is the plan that another program writes."""
    command = [sys.executable, "-m", "energyplan", "report", "-", "--json"]
    text = demo_plans()["demo"].encode()
    done = subprocess.run(command, input=text, capture_output=True, check=True)  # noqa: S603
    assert json.loads(done.stdout)["schema"] == 2


def test_a_tariff_and_a_log_from_standard_input() -> None:
    """The same sign for all that is read."""
    command = [sys.executable, "-m", "energyplan", "report", "demo", "--tariff", "-", "--json"]
    done = subprocess.run(command, input=TARIFF.read_bytes(), capture_output=True, check=True)  # noqa: S603
    assert json.loads(done.stdout)["totals"]["currency"] == "EUR"
    log = (Path(__file__).parents[2] / "energyplan" / "demo" / "cool-down.csv").read_bytes()
    command = [sys.executable, "-m", "energyplan", "calibrate", "-", "--plan", "demo", "--json"]
    done = subprocess.run(command, input=log, capture_output=True, check=True)  # noqa: S603
    assert json.loads(done.stdout)["heat_loss_w_per_k"]["value"] > 0


@pytest.mark.parametrize(
    "command",
    [
        ("report", "demo"), ("power", "demo", "--best-for", "cost"), ("savings", "demo"), ("batches", "demo"),
        ("compare", "demo", "pale-ale"), ("spread", "demo"), ("starts", "demo"), ("tariff", "check", "demo"),
        ("brewed", "demo", "--metered", "7 kWh", "--start", "2026-12-05T08:30"),
        ("compare", "demo", "--log", "brew-day", "--start", "2026-12-05T08:30"),
        ("tariff", "compare", "demo", "demo", "demo"),
    ],
    ids=" ".join,
)  # fmt: skip
def test_money_stands_beside_its_currency(run, command: tuple[str, ...]) -> None:
    """Whatever prints an amount says of what, at the top of its document; what prints none does not."""
    assert json.loads(run(*command, "--json")[1])["currency"] == "EUR"
    assert "currency" not in json.loads(run("report", "lakeside", "--json")[1])


def test_the_house_s_peak_charge_has_its_currency(run, tmp_path: Path) -> None:
    """Money that is found deep in a document counts too."""
    charge = "\n[tariff.peak_charge]\nwindow_minutes = 15\nprice_per_kw_month = 4.0\n"
    (tmp_path / "peak.toml").write_text(TARIFF.read_text(encoding="utf-8") + charge, encoding="utf-8")
    found = json.loads(run("circuit", "demo", "--tariff", str(tmp_path / "peak.toml"), "--json")[1])
    assert found["house"]["peak"]["months"][0]["charge"] > 0
    assert found["currency"] == "EUR"
