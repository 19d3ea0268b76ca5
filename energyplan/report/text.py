"""Results on the terminal: rich renderables, at most 80 columns wide."""

from collections.abc import Iterator, Sequence

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from energyplan.advice.power import PowerAdvice
from energyplan.advice.worst import COLDER_K, Worst
from energyplan.base.units import Display
from energyplan.faces.charts.palette import PHASE_COLOURS

__all__ = ["power_text"]


def _heading(words: str) -> Text:
    return Text(words, style="bold underline")


def _sentences(sentences: Sequence[str | None], style: str = "") -> Iterator[Text]:
    return (Text(sentence, style=style) for sentence in sentences if sentence)


def _table(*columns: str, left: int = 1) -> Table:
    table = Table(box=None, padding=(0, 1, 0, 0), header_style="bold", show_edge=False)
    for place, column in enumerate(columns):
        table.add_column(column, justify="left" if place < left else "right", overflow="fold")
    return table


def power_text(advice: PowerAdvice, show: Display) -> RenderableType:
    """Set, needed and advised power of every hold and boil."""
    headings = ("set W", "needs W", "worst W", "advised W", "lowest", "kWh")
    table = _table("Step", "", show.temperature_unit, *headings, left=2)
    for row in advice.rows:
        table.add_row(
            row.step,
            Text(row.phase, style=PHASE_COLOURS[row.phase]),
            f"{show.temperature_number(row.target_c):.0f}",
            f"{row.set_w:.0f}",
            f"{row.nominal_needed_w:.0f}",
            f"{row.worst_needed_w:.0f}",
            f"{row.advised_w:.0f}",
            f"{show.temperature_number(row.lowest_c):.1f}",
            f"{row.energy_change_kwh:+.2f}",
        )
    whys = [f"{row.step}: {row.why}." for row in advice.rows if row.phase != "hold"]
    cautions = [f"{row.step}: {caution}." for row in advice.rows for caution in row.cautions]
    said = [_worst_sentence(advice.worst, show), *whys, *cautions, *advice.notes]
    return Group(_heading("Power"), table, *_sentences(said))


def _worst_sentence(worst: Worst, show: Display) -> str:
    """What the columns of the table are made for."""
    return (
        f"Needs: as planned. Worst: air {show.difference(COLDER_K, 0)} colder, {worst.voltage_v:.0f} V, a weak "
        f"element, {worst.loss_frac:.0%} of the loss. Lowest: in that case with the advised power."
    )
