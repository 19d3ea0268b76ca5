"""The terminal: told results as rich renderables, at most 80 columns wide, and the one screen of a report."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from rich.cells import cell_len, set_cell_size
from rich.console import Console, ConsoleOptions, Group, RenderableType, RenderResult
from rich.padding import Padding
from rich.segment import Segment, Segments
from rich.style import Style as Look
from rich.text import Text

from energyplan.base.kinds import PLAIN, Style
from energyplan.base.records import dataclass
from energyplan.base.sentence import Sentence, words
from energyplan.faces.charttheme import PHASE_COLOURS
from energyplan.faces.frames import currency_of, heading, shown_rows
from energyplan.faces.strip import Strip
from energyplan.telling.told import Column, Found, Table, Told

__all__ = ["LINES", "finding_lines", "grid", "said", "screen", "terminal", "title_line", "trimmed"]

NARROWEST = 8  # of a column of texts
_MARKS = {"over": "Over", "unknown": "Not known", "note": "Note", "ok": "Ok"}
_STYLES = {"over": "bold red", "unknown": "bold", "note": "yellow", "ok": "dim"}


def terminal(told: Told, style: Style = PLAIN, *, detail: int = 0, titled: bool = False) -> RenderableType:
    """A topic: headline, findings, sentences, tables, parts, cautions."""
    return Group(*_lines(told, style, detail, titled=titled))


def _lines(told: Told, style: Style, detail: int, *, titled: bool) -> Iterator[RenderableType]:
    if titled and told.title:
        yield title_line(told, style)
    if told.headline:
        yield Text(words(told.headline, style))
    yield from finding_lines(told.findings, style, rules=detail > 0)
    yield from (said(one, style) for one in told.sentences)
    for table in told.tables:
        if table.rows and table.at(detail).columns:
            yield grid(table, style, detail=detail)
    for part in told.parts:
        yield ""
        yield from _lines(part, style, detail, titled=True)
    yield from (Text(words(one, style), style="dim") for one in told.cautions)


def title_line(told: Told, style: Style = PLAIN) -> Text:
    """The heading of a topic."""
    return Text(told.title if isinstance(told.title, str) else words(told.title, style), style="bold underline")


def said(sentence: Sentence, style: Style = PLAIN) -> Text:
    """One sentence."""
    return Text(words(sentence, style))


def finding_lines(
    findings: tuple[Found, ...], style: Style = PLAIN, *, rules: bool = False
) -> Iterator[RenderableType]:
    """Findings, worst first, each with its mend; and with the rules behind it."""
    for found in findings:
        mark = Text.assemble((f"{_MARKS[found.severity]}: ", _STYLES[found.severity]), words(found.said, style))
        if found.mend:
            mark.append(f" {words(found.mend, style)}")
        if rules and found.rule:
            mark.append(f" {found.rule}", style="dim")
        yield Padding(mark, (0, 0, 0, 0))


def grid(table: Table, style: Style = PLAIN, *, detail: int = 0, cut: bool = False) -> RenderableType:
    """A table without lines: texts on the left, figures on the right, the total in bold.

    Texts too long for their column are folded, or ``cut``.
    """
    seen = table.at(detail)
    lines, total = shown_rows(seen, style)
    names = tuple(heading(column, style, short=True, currency=currency_of(seen)) for column in seen.columns)
    return _Grid(seen.columns, names, tuple(map(tuple, lines)), tuple(total) if total else None, cut)


@dataclass(frozen=True, slots=True)
class _Grid:
    """Cells in words, laid out for the width at hand: figures keep theirs, the widest texts give way.

    Columns without room stand below, beside the texts that their rows begin with.
    """

    columns: tuple[Column, ...]
    names: tuple[str, ...]
    lines: tuple[tuple[str, ...], ...]
    total: tuple[str, ...] | None
    cut: bool

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        for number, places in enumerate(self._blocks(options.max_width)):
            if number:
                yield Segment.line()
            widths, bold = self._widths(places, options.max_width), console.get_style("bold")
            yield from self._row(self.names, widths, bold)
            for line in self.lines:
                yield from self._row(line, widths, None, console)
            if self.total:
                yield from self._row(self.total, widths, bold)

    def _blocks(self, most: int) -> list[list[int]]:
        """Places of the columns that stand beside each other."""
        kinds = [column.kind for column in self.columns]
        first = list(range(next((place for place, kind in enumerate(kinds) if not kind.is_text), len(kinds))))
        least = [min(self._width(place), NARROWEST if kind.is_text else most) for place, kind in enumerate(kinds)]
        blocks = [first]
        for place in range(len(first), len(kinds)):
            if blocks[-1] != first and sum(least[one] + 1 for one in (*blocks[-1], place)) - 1 > most:
                blocks.append(first)
            blocks[-1] = [*blocks[-1], place]
        return blocks

    def _width(self, place: int) -> int:
        """Of a column with all its texts in full."""
        return max(cell_len(row[place]) for row in (self.names, *self.lines, self.total or self.names))

    def _widths(self, places: Sequence[int], most: int) -> dict[int, int]:
        widths = {place: self._width(place) for place in places}
        texts = [place for place in places if self.columns[place].kind.is_text]
        while texts and sum(widths.values()) + len(widths) - 1 > most and max(widths[one] for one in texts) > NARROWEST:
            widths[max(texts, key=lambda place: widths[place])] -= 1
        return widths

    def _row(
        self, cells: Sequence[str], widths: Mapping[int, int], look: "Look | None", console: Console | None = None
    ) -> Iterator[Segment]:
        parts = {place: self._folded(cells[place], width) for place, width in widths.items()}
        for number in range(max(map(len, parts.values()))):
            for place, width in widths.items():
                kind, part = self.columns[place].kind, parts[place]
                text = part[number] if number < len(part) else ""
                blank = " " * (width - cell_len(text))
                colour = PHASE_COLOURS.get(text) if console and kind.key == "phase" else None
                its = console.get_style(colour) if console and colour else look
                yield Segment(f"{text}{blank} " if kind.is_text else f"{blank}{text} ", its)
            yield Segment.line()

    def _folded(self, text: str, width: int) -> list[str]:
        if cell_len(text) <= width:
            return [text]
        if self.cut:
            return [f"{set_cell_size(text, width - 1).rstrip()}…"]
        return [line.plain.rstrip() for line in Text(text).wrap(Console(width=width), width)]


def trimmed(console: Console, shown: RenderableType, width: int) -> Segments:
    """What a console would print in a width, without the blanks at the end of its lines."""
    lines = console.render_lines(shown, console.options.update(width=width), pad=False)
    return Segments(list(_segments([_without_blanks(line) for line in lines])))


def _without_blanks(line: list[Segment]) -> list[Segment]:
    kept = list(line)
    while kept and not kept[-1].control:
        last = kept.pop()
        if text := last.text.rstrip():
            return [*kept, last._replace(text=text)]
    return kept


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
