"""How commands are listed and read."""

import os
import pty
import re
import subprocess
import sys

import click
import pytest
import typer
from typer.testing import CliRunner

from energyplan.base.errors import EnergyPlanError
from energyplan.cli import GROUPS, made


def test_help_lists_commands_by_what_they_are_about():
    """Each heading once, each command below its own."""
    shown = CliRunner().invoke(made(), ["--help"]).output
    places = [shown.index(f"\n{heading}:") for heading in GROUPS]
    assert places == sorted(places)
    for heading, commands in GROUPS.items():
        assert shown.count(f"\n{heading}:") == 1
        below = shown.partition(f"\n{heading}:")[2].partition(":\n  ")[0]
        assert all(f"\n  {name} " in below for name in commands), heading
    assert "..." not in shown.partition("\nThe day:")[2]


def test_only_the_command_that_is_asked_for_is_made():
    """The others would be read for nothing; where none is meant, or a word is misspelled, all are there."""
    alone, every, misspelled = (
        set(typer.main.get_command(made(asked)).commands)
        for asked in ("power", None, "repport")  # type: ignore[attr-defined]
    )
    assert alone == {"power"}
    assert every == misspelled == {name for commands in GROUPS.values() for name in commands}


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
    result = CliRunner().invoke(made(), words)
    assert isinstance(result.exception, EnergyPlanError)
    assert "give it once" in str(result.exception)


def test_completion_can_be_had():
    """The shell's own completion."""
    assert "--install-completion" in CliRunner().invoke(made(), ["--help"]).output


COMMANDS = [
    "report demo --tariff demo --all", "power demo --all", "power demo --best-for time", "savings demo --tariff demo",
    "circuit demo --all", "circuit demo pale-ale --offset auto", "tariff check three_band", "batches demo",
    "starts demo --tariff demo --from 2026-12-05 --to 2026-12-06", "tariff compare demo two_rate three_band",
    "compare demo lakeside", "spread demo --tariff demo --draws 20", "calibrate cool-down --plan demo",
    "unattended demo --start 2026-12-05T08:30",
]  # fmt: skip


@pytest.mark.parametrize("line", COMMANDS)
def test_no_line_is_longer_than_the_screen_or_ends_in_blanks(run, line):
    """80 columns, nothing after the last letter."""
    code, out, _ = run(*line.split())
    assert code == 0
    assert not [line for line in out.splitlines() if len(line) > 80 or line != line.rstrip()]


@pytest.mark.parametrize("line", COMMANDS[1:])
def test_what_a_plain_terminal_lacks_is_written_with_what_it_has(run, line):
    """Bars, shades and signs of every command have their letters; a question mark stands only where one was meant.

    The report's strip chooses its own marks, by the terminal (below).
    """
    _, out, _ = run(*line.split())
    assert out.encode("ascii", "energyplan.plain").count(b"?") == out.count("?")


def test_every_power_has_its_own_line(run):
    """The names of the demo's steps stand whole beside their numbers."""
    assert "Saccharification hold" in run("power", "demo")[1]


def on_a_terminal(*words: str, **around: str) -> str:
    """What a command writes to a terminal that knows colours."""
    ours, theirs = pty.openpty()
    here = {name: value for name, value in os.environ.items() if name not in ("NO_COLOR", "FORCE_COLOR", "COLORTERM")}
    call = [sys.executable, "-m", "energyplan", *words]
    env = {**here, "TERM": "xterm-256color", "COLUMNS": "80", **around}
    done = subprocess.run(call, stdout=theirs, stderr=theirs, stdin=subprocess.DEVNULL, env=env, check=True)  # noqa: S603
    assert done.returncode == 0
    os.close(theirs)
    written = b""
    try:
        while piece := os.read(ours, 65536):
            written += piece
    except OSError:  # the other end is closed and all is read
        pass
    os.close(ours)
    return written.decode("utf-8")


def test_colours_are_left_out_where_nobody_wants_them():
    """NO_COLOR: weights at most; without it the phases have their colours."""
    colour = re.compile(r"\x1b\[[0-9;]*(?:3[0-8]|4[0-8]|9[0-7])[0-9;]*m")
    words = ("report", "demo", "--start", "2026-12-05T08:30")
    assert colour.search(on_a_terminal(*words))
    assert not colour.search(on_a_terminal(*words, NO_COLOR="1"))


def test_a_terminal_of_plain_letters_gets_plain_letters():
    """No question marks where degrees, ohms and marks would stand."""
    shown = on_a_terminal(
        "report", "demo", "--all", "--start", "2026-12-05T08:30", PYTHONIOENCODING="ascii", NO_COLOR="1"
    )
    assert shown.isascii()
    assert "?" not in shown
    assert "/ ramp  = hold  o boil  . pause" in shown


@pytest.mark.parametrize(
    ("words", "usage"),
    [
        ("circuit", "{PLAN} [PLAN]"),
        ("compare", "{PLAN}..."),
        ("tariff compare", "{PLAN} {TARIFF}..."),
        ("explain", "[TOPIC]"),
    ],
)
def test_usage_says_what_is_needed_once(words, usage):
    """Braces or brackets of what must or may be named, not twice."""
    shown = CliRunner().invoke(made(), [*words.split(), "--help"]).output
    assert shown.splitlines()[0].endswith(f" [OPTIONS] {usage}")


def options() -> dict[str, list[click.Parameter]]:
    """The parameters of every command, by its name."""
    told = typer.main.get_command(made()).commands
    groups = {f"{group} {name}": one for group, of in told.items() for name, one in getattr(of, "commands", {}).items()}
    return {name: command.params for name, command in (told | groups).items()}


@pytest.mark.parametrize("words", [["schema", "plan"], ["--version"]])
def test_a_document_is_plain_where_the_terminal_is(words):
    """Nothing is written past the terminal's own encoding."""
    around = {**os.environ, "PYTHONIOENCODING": "ascii"}
    call = [sys.executable, "-m", "energyplan", *words]
    assert subprocess.run(call, stdout=subprocess.PIPE, env=around, check=True).stdout.isascii()  # noqa: S603


#: What is a time or a day, by the option's name.
TIMES = {
    "--start", "--finish-by", "--boil-at", "--clean-by", "--from", "--to", "--earliest", "--mash-at", "--filled-at",
    "--boil-began", "--date", "--attended", "--habit",
}  # fmt: skip


def test_a_time_is_asked_for_with_an_example():
    """So that nobody has to guess whether a day belongs to it: 2026-12-05T08:30, 2026-12-05, 07:00."""
    asked = [(name, one) for name, every in options().items() for one in every if TIMES & set(one.opts)]
    assert {opt for _, one in asked for opt in one.opts} >= TIMES
    for name, one in asked:
        assert re.search(r"\d{4}-\d\d-\d\d|\d\d:\d\d", one.help or ""), (name, one.opts)


def test_commands_that_take_a_tariff_take_what_goes_with_it():
    """A start and the month's use, also where one changes nothing, so that a line can be turned into another."""
    taken = {name: {opt for one in every for opt in one.opts} for name, every in options().items()}
    priced = [name for name, opts in taken.items() if "--tariff" in opts]
    assert {"report", "unattended", "circuit", "power"} <= set(priced)
    for name in priced:
        assert {"--start", "--month-kwh"} <= taken[name], name
    assert [name for name, opts in taken.items() if "--start" in opts and name not in priced] == ["tariff compare"]


@pytest.mark.parametrize("line", COMMANDS)
def test_no_command_says_what_readers_did_not_understand(run, line):
    """Neither does any page: words of the trade, not of whoever counts."""
    out = " ".join(run(*line.split())[1].split())
    assert not re.search(r"pulses counted|no quarter of an hour|% of the volume an hour takes|both fewer minutes", out)


def test_what_nobody_entered_is_not_told_as_nothing(run, tmp_path):
    """Without a cable it is not known what is lost on the way; 0 V would be a claim."""
    file = tmp_path / "mine.toml"
    run("new", str(file), "--water", "25 L", "--grain", "5 kg", "--power", "2500 W", "--voltage", "230 V")
    out = " ".join(run("circuit", str(file))[1].split())
    assert "over the worst hour." in out
    assert "lost in the leads" not in out
    assert "lost in the leads" in " ".join(run("circuit", "demo")[1].split())
