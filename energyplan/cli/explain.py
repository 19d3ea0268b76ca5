"""The command that prints a help page."""

import sys
from typing import Annotated

import typer

from energyplan.base.errors import FileError
from energyplan.docs import help_page, help_topics

__all__ = ["explain"]


def explain(
    topic: Annotated[str | None, typer.Argument(help="Topic; left out: a list.", metavar="[TOPIC]")] = None,
) -> None:
    """A help page: plan, tariff, log, circuit, power, json, library, words and more."""
    topics = help_topics()
    if topic is None:
        sys.stdout.write("\n".join(topics) + "\n")
        return
    if topic not in topics:
        raise FileError(f"no help page of that name; there are {', '.join(topics)}")
    text = help_page(topic)
    if not sys.stdout.isatty():
        sys.stdout.write(text)
        return
    from rich.console import Console
    from rich.markdown import Markdown

    Console().print(Markdown(text))
