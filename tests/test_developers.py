"""The developers' page tells the truth: every test, command and page that its tables name is there."""

import re
from pathlib import Path

from energyplan.app.main import VIEWS
from energyplan.cli import made

ROOT = Path(__file__).parent.parent
PAGE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
QUESTIONS = [line.strip("| ").split(" | ") for line in PAGE.splitlines() if re.match(r"\| \d+ ", line)]


def test_all_25_questions_have_a_row() -> None:
    """Numbered 1 to 25, each with a command, a page and a test."""
    assert [int(cells[0].split()[0]) for cells in QUESTIONS] == list(range(1, 26))
    assert all(len(cells) == 4 and all(cells) for cells in QUESTIONS)


def test_the_tests_that_it_names_exist() -> None:
    """A name without a folder lies in the folder named before it."""
    for *_, evidence in QUESTIONS:
        folder = ""
        for name in re.findall(r"`([\w/]+\.py|[\w]+/)`", evidence):
            folder = name.rpartition("/")[0] if "/" in name else folder
            path = ROOT / "tests" / (name if "/" in name else f"{folder}/{name}")
            assert path.exists() or (ROOT / "tests" / name).exists(), name


def test_the_commands_and_pages_that_it_names_exist() -> None:
    """Each command is one of the program's, each page one of the app's."""
    commands = {info.name or info.callback.__name__ for info in made().registered_commands if info.callback}
    titles = {view.title for view in VIEWS}
    for _, command, page, _ in QUESTIONS:
        for name in re.findall(r"`([a-z]+)", command):
            assert name in commands, name
        assert {title.strip() for title in page.split(",")} <= titles


def test_the_modules_that_it_names_exist() -> None:
    """A module is named with its folder, or in the row of its room."""
    before, _ = PAGE.split("## The 25 questions", 1)
    rooms = {line.split("`")[1]: line for line in before.splitlines() if line.startswith("| `")}
    named = re.findall(r"`([a-z]+/\w+\.(?:py|typ))`", before)
    named += [f"{room}{name}" for room, row in rooms.items() for name in re.findall(r"`(\w+\.(?:py|typ))`", row)]
    assert len(named) > 20
    for name in named:
        root = ROOT if name.startswith("tests/") else ROOT / "energyplan"
        assert (root / name).exists(), name
