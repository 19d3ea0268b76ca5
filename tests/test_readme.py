"""The README tells the truth: its sample, its commands, its keys."""

import re
import tomllib
from pathlib import Path

import pytest
from pydantic import BaseModel

from energyplan.plan.model import Plan

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_sample_is_what_the_command_prints(readme):
    """The sample report in the README is the one that the command prints today (``python -m tests.readme``)."""
    assert readme.rewritten(README) == README


def test_opens_with_the_job():
    """The first paragraph says what it is for."""
    first = README.split("\n\n")[1]
    for word in ("vessel", "kWh", "costs", "circuit", "lowest power", "when to start"):
        assert word in first.replace("\n", " ")


def _keys(model: type[BaseModel]) -> set[str]:
    return {field.alias or name for name, field in model.model_fields.items()}


TABLES = [
    "vessel", "batch", "second_heater", "site", "circuit", "other_load", "supply", "house_load", "fermentation", "task",
    "step",
]  # fmt: skip


@pytest.mark.parametrize("table", TABLES)
def test_every_key_of_a_plan_is_listed(table):
    """The table of keys has every key of the models, and no other."""
    row = next(line for line in README.splitlines() if re.match(rf"\| `\[+{table}\]+` ", line))
    listed = set(re.findall(r"`\[*([a-z_]+)\]*`", row.split("|")[2]))
    field = next(f for n, f in Plan.model_fields.items() if (f.alias or n) == table)
    candidates = [field.annotation, *getattr(field.annotation, "__args__", ())]
    model = next(c for c in candidates if isinstance(c, type) and issubclass(c, BaseModel))
    expected = _keys(model) - {"element", "addition"}
    assert expected <= listed


def test_every_command_is_listed():
    """Every command of the program stands in the README's table."""
    from energyplan.cli import app

    names = {info.name or info.callback.__name__ for info in app.registered_commands}
    for name in names:
        assert f"`energyplan {name}" in README


def test_tells_the_python_it_needs():
    """The README and the package ask for the same Python."""
    needed = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["requires-python"]
    assert needed == ">=3.11"
    assert "Python 3.11" in README
