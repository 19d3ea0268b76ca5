"""The command that prints a help page."""

import sys
from importlib.resources import files
from typing import Annotated

import typer

from energyplan.base.errors import FileError

__all__ = ["explain"]


def _topics() -> list[str]:
    pages = (files("energyplan") / "docs").iterdir()
    return sorted(page.name.removesuffix(".md") for page in pages if page.name.endswith(".md"))


def explain(
    topic: Annotated[str | None, typer.Argument(help="Topic; left out: a list.", metavar="[TOPIC]")] = None,
) -> None:
    """A help page: plan, tariff, log, circuit, power, json, library, words and more."""
    topics = _topics()
    if topic is None:
        sys.stdout.write("\n".join(topics) + "\n")
        return
    if topic not in topics:
        raise FileError(f"no help page of that name; there are {', '.join(topics)}")
    text = (files("energyplan") / "docs" / f"{topic}.md").read_text(encoding="utf-8")
    if not sys.stdout.isatty():
        sys.stdout.write(text)
        return
    from rich.console import Console
    from rich.markdown import Markdown

    Console().print(Markdown(text))
