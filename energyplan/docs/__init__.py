"""Help pages that come with the program: ``energyplan explain TOPIC`` prints them."""

from energyplan.base.files import PACKAGE

__all__ = ["help_page", "help_topics"]


def help_topics() -> list[str]:
    """Names of the help pages."""
    return sorted(page.stem for page in (PACKAGE / "docs").glob("*.md"))


def help_page(topic: str) -> str:
    """A help page, as Markdown."""
    return (PACKAGE / "docs" / f"{topic}.md").read_text(encoding="utf-8")
