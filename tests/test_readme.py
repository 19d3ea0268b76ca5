"""The README tells the truth: its sample, its commands, its links."""

import re
import shlex
import sys
import tomllib
from pathlib import Path

import pytest

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
    from energyplan.cli import made

    names = {info.name or info.callback.__name__ for info in made().registered_commands}
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


def _lines() -> list[str]:
    """The lines of its blocks of commands, without remarks."""
    blocks = re.findall(r"^```\n(.*?)```", README, re.DOTALL | re.MULTILINE)
    lines = [
        line.partition("  #")[0].strip() for block in blocks if not block.startswith("$") for line in block.splitlines()
    ]
    return [part for line in lines for part in line.split(" && ")]


class Somebody:
    """Whoever sits at the terminal and takes what is offered."""

    encoding = "utf-8"

    def isatty(self) -> bool:
        """There is one."""
        return True


def test_its_commands_can_be_typed_one_after_the_other(run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each line of energyplan runs, in its order; the others install this and run the tests."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "stdin", Somebody())
    for place in ("typer._click.termui.visible_prompt_func", "click.termui.visible_prompt_func"):
        monkeypatch.setattr(place, lambda _="": "", raising=False)
    served: list[tuple[str, int]] = []
    monkeypatch.setattr("energyplan.app.launch", lambda *where: served.append(where))
    others = []
    for line in _lines():
        program, *words = shlex.split(line)
        if program != ".venv/bin/energyplan":
            others.append(line)
            continue
        code, out, err = run(*words)
        assert code == 0, err
        assert out or (tmp_path / "stout.toml").exists()
    assert served == [("localhost", 8501)]
    assert others == [
        "python3.11 -m venv .venv", ".venv/bin/pip install -q -e .", '.venv/bin/pip install -q -e ".[test]"',
        ".venv/bin/python -m pytest -q -n auto",
    ]  # fmt: skip
    assert "test" in tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["optional-dependencies"]
