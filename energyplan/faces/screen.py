"""One screen of a terminal: the answer, the strip of the day, its steps, what else is worth knowing."""

from collections.abc import Iterator
from dataclasses import replace

from rich.console import Console, ConsoleOptions, Group, RenderableType, RenderResult
from rich.segment import Segment
from rich.text import Text

from energyplan.base.kinds import PLAIN, Style
from energyplan.base.records import dataclass
from energyplan.base.sentence import words
from energyplan.faces.strip import Strip
from energyplan.faces.terminal import finding_lines, grid, said, title_line
from energyplan.telling.told import Table, Told

__all__ = ["LINES", "screen"]

LINES = 40
LONGEST = 40  # letters of a text that a person wrote: its beginning tells it


def screen(told: Told, style: Style = PLAIN, *, more: str | None = None) -> RenderableType:
    """A report (`energyplan.telling.report.screen_told`) in at most 40 lines of 80 columns.

    Parameters
    ----------
    told : Told
        The screen.
    style : Style
        Units. Texts that a person wrote are cut where they would take the screen.
    more : str, optional
        What more there is, for the last line; without it the screen may be as long as it has to be.
    """
    return _Screen(told, replace(style, written=lambda text: _cut(style.written(text))), more)


@dataclass(frozen=True, slots=True)
class _Screen:
    """Takes the steps in as many rows as there is room for."""

    told: Told
    style: Style
    more: str | None

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        above, below = (
            console.render_lines(Group(*part), options, pad=False) for part in (self._above(), self._below())
        )
        steps = self.told.tables[0]
        if self.more is not None:
            room = LINES - len(above) - len(below)
            steps = next((table for table in self.told.tables if _height(table) <= room), self.told.tables[-1])
        yield from _segments(above)
        yield grid(steps, self.style, detail=int(self.more is None), cut=True)
        yield from _segments(below)

    def _above(self) -> Iterator[RenderableType]:
        yield title_line(self.told, self.style)
        if self.told.headline:
            yield said(self.told.headline, self.style)
        yield from (said(one, self.style) for one in self.told.sentences)
        yield from finding_lines(self.told.findings, self.style)
        yield from ("", Strip(self.told.parts[0], self.style), "")

    def _below(self) -> Iterator[RenderableType]:
        yield ""
        yield from (said(one, self.style) for one in self.told.parts[1].sentences)
        yield from (Text(words(one, self.style), style="dim") for one in self.told.cautions)
        if self.more is not None:
            yield Text(self.more, style="dim")


def _segments(lines: list[list[Segment]]) -> Iterator[Segment]:
    for line in lines:
        yield from line
        yield Segment.line()


def _height(table: Table) -> int:
    """Lines of a table: its rows, its heading, its total."""
    return len(table.rows) + 1 + (table.total is not None)


def _cut(text: str) -> str:
    return text if len(text) <= LONGEST else f"{text[: LONGEST - 1]}…"
