"""The terminal: told results as rich renderables, at most 80 columns wide."""

from collections.abc import Iterator

from rich.console import Group, OverflowMethod, RenderableType
from rich.padding import Padding
from rich.table import Table as Grid
from rich.text import Text

from energyplan.base.kinds import PLAIN, Style
from energyplan.base.sentence import Sentence, words
from energyplan.faces.cells import heading, shown_rows
from energyplan.faces.charts.palette import PHASE_COLOURS
from energyplan.faces.frames import currency_of
from energyplan.telling.told import Found, Table, Told

__all__ = ["finding_lines", "grid", "said", "terminal", "title_line"]

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
    yield from finding_lines(told.findings, style)
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


def finding_lines(findings: tuple[Found, ...], style: Style = PLAIN) -> Iterator[RenderableType]:
    """Findings, worst first, each with its mend."""
    for found in findings:
        mark = Text.assemble((f"{_MARKS[found.severity]}: ", _STYLES[found.severity]), words(found.said, style))
        if found.mend:
            mark.append(f" {words(found.mend, style)}")
        yield Padding(mark, (0, 0, 0, 0))


def grid(table: Table, style: Style = PLAIN, *, detail: int = 0, cut: bool = False) -> RenderableType:
    """A table without lines: texts on the left, figures on the right, the total in bold.

    Texts too long for their column are folded, or ``cut``.
    """
    seen = table.at(detail)
    shown = Grid(box=None, padding=(0, 1, 0, 0), header_style="bold", show_edge=False)
    flow: OverflowMethod = "ellipsis" if cut else "fold"
    for column in seen.columns:
        name = heading(column, style, short=True, currency=currency_of(seen))
        text = column.kind.is_text
        shown.add_column(Text(name), justify="left" if text else "right", overflow=flow, no_wrap=cut or not text)
    lines, total = shown_rows(seen, style)
    for line in lines:
        shown.add_row(*(_cell(text, seen.columns[place].kind.key) for place, text in enumerate(line)))
    if total:
        shown.add_row(*(Text(text) for text in total), style="bold")
    return shown


def _cell(text: str, kind: str) -> Text:
    return Text(text, style=PHASE_COLOURS.get(text, "") if kind == "phase" else "")
