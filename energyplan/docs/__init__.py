"""Help pages that come with the program: ``energyplan explain TOPIC`` prints them."""

from importlib.resources import files

__all__ = ["help_page", "help_topics"]


def help_topics() -> list[str]:
    """Names of the help pages."""
    pages = files("energyplan.docs").iterdir()
    return sorted(page.name.removesuffix(".md") for page in pages if page.name.endswith(".md"))


def help_page(topic: str) -> str:
    """A help page, as Markdown."""
    return (files("energyplan.docs") / f"{topic}.md").read_text(encoding="utf-8")
