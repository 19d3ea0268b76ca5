"""Writes the generated parts of README.md: ``python -m tests.readme``. A test holds them to what the commands print."""

import io
import re
from datetime import UTC, datetime
from pathlib import Path

from rich.console import Console

from energyplan.advice.answer import answer
from energyplan.cli.day import MORE
from energyplan.faces.terminal import screen
from energyplan.plan.file import read_plan
from energyplan.tariffs.tarifffile import load_tariff
from energyplan.telling.report import screen_told

README = Path(__file__).parent.parent / "README.md"
SAMPLE_START = datetime(2026, 12, 5, 6, 30, tzinfo=UTC)


def sample_report() -> str:
    """The demo report, as the README shows it."""
    found = answer(read_plan("demo"), load_tariff("demo"), SAMPLE_START)
    page = io.StringIO()
    Console(file=page, width=80, highlight=False, color_system=None).print(screen(screen_told(found), more=MORE))
    lines = [line.rstrip() for line in page.getvalue().splitlines()]
    shown = "\n".join(lines).rstrip()
    return f"```\n$ energyplan report demo --tariff demo --start 2026-12-05T06:30\n{shown}\n```"


def replaced(text: str, name: str, content: str) -> str:
    """The page with the part between a pair of markers replaced."""
    pattern = re.compile(rf"(<!-- {name}:begin -->\n).*?(<!-- {name}:end -->)", re.DOTALL)
    return pattern.sub(lambda match: f"{match[1]}{content}\n{match[2]}", text)


def rewritten(text: str) -> str:
    """The page with all its generated parts made anew."""
    return replaced(text, "report", sample_report())


if __name__ == "__main__":
    README.write_text(rewritten(README.read_text(encoding="utf-8")), encoding="utf-8")
