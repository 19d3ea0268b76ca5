"""What every command line has: a version, a module to run, schemas, standard input."""

import json
import subprocess
import sys
from pathlib import Path
from typing import get_args

import pytest
from jsonschema import Draft202012Validator
from typer.main import get_command

from energyplan import __version__
from energyplan.cli import made
from energyplan.cli.schema import Subject
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
    assert printing == set(get_args(Subject)) - {"plan", "brewery", "tariff"}


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
