"""The README tells the truth: its sample, its commands, its links."""

import re
import tomllib
from pathlib import Path

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


def test_its_links_lead_somewhere():
    """Every file that it names is there."""
    for target in re.findall(r"\]\(([^)#]+)\)", README):
        assert (ROOT / target).exists(), target
