"""How commands are listed and read."""

import pytest
from typer.testing import CliRunner

from energyplan.base.errors import EnergyPlanError
from energyplan.cli import GROUPS, app


def test_help_lists_commands_by_what_they_are_about():
    """Each heading once, each command below its own."""
    shown = CliRunner().invoke(app, ["--help"]).output
    places = [shown.index(f"\n{heading}:") for heading in GROUPS]
    assert places == sorted(places)
    for heading, commands in GROUPS.items():
        assert shown.count(f"\n{heading}:") == 1
        below = shown.partition(f"\n{heading}:")[2].partition(":\n  ")[0]
        assert all(f"\n  {name} " in below for name in commands), heading
    assert "..." not in shown.partition("\nThe day:")[2]


@pytest.mark.parametrize(
    "words",
    [
        ["report", "demo", "--tariff", "demo", "--tariff", "demo"],
        ["report", "demo", "--tariff=demo", "--tariff", "three_band"],
        ["power", "demo", "--units", "us", "--units", "metric"],
    ],
)
def test_an_option_is_given_once(words):
    """The second is an error, not the one that counts."""
    result = CliRunner().invoke(app, words)
    assert isinstance(result.exception, EnergyPlanError)
    assert "give it once" in str(result.exception)


def test_completion_can_be_had():
    """The shell's own completion."""
    assert "--install-completion" in CliRunner().invoke(app, ["--help"]).output
