"""The day as a bar of text: phases on one line, price bands below, the clock under both."""

from collections.abc import Sequence
from datetime import timedelta

from rich.console import Group
from rich.text import Text

from energyplan.advice.answer import Answer
from energyplan.faces.charts.palette import PHASE_COLOURS

__all__ = ["day_bar"]

WIDTH = 76
MARKS = {"ramp": "▲", "hold": "■", "boil": "●", "pause": "·"}
SHADES = "░▒▓█"


def day_bar(answer: Answer) -> Group:
    """Draw the phases, the prices and the hours of a day."""
    per_cell_s = answer.day.duration_s / WIDTH
    middles_s = [(cell + 0.5) * per_cell_s for cell in range(WIDTH)]
    lines = [_phases(answer, middles_s)]
    if answer.price:
        lines += _prices(answer, middles_s)
    lines.append(_hours(answer, per_cell_s))
    lines.append(Text("▲ ramp  ■ hold  ● boil  · pause", style="dim"))
    return Group(*lines)


def _phases(answer: Answer, middles_s: Sequence[float]) -> Text:
    bar = Text()
    for middle_s in middles_s:
        phase = next((p for p in answer.day.phases if p.start_s <= middle_s < p.end_s), answer.day.phases[-1])
        bar.append(MARKS[phase.phase], style=PHASE_COLOURS[phase.phase])
    return bar


def _prices(answer: Answer, middles_s: Sequence[float]) -> list[Text]:
    """One shade per price, darker is dearer, with the legend."""
    if answer.price is None:
        return []
    line = answer.price.line
    seconds = [int(answer.start.timestamp() + middle_s) for middle_s in middles_s]
    prices = [int(line.micro_per_kwh[line.index_at(second)]) for second in seconds]
    levels = sorted(set(prices))
    shade = {
        price: SHADES[min(rank * len(SHADES) // len(levels), len(SHADES) - 1)] for rank, price in enumerate(levels)
    }
    legend = "  ".join(f"{shade[price]} {price / 1e6:.4f} {line.currency}/kWh" for price in levels[: len(SHADES)])
    return [Text("".join(shade[price] for price in prices), style="#7C8A80"), Text(legend, style="dim")]


def _hours(answer: Answer, per_cell_s: float) -> Text:
    """Local full hours, written under their cell."""
    cells = [" "] * WIDTH
    first = answer.clock(0).replace(minute=0, second=0, microsecond=0)
    hours = int(answer.day.duration_s // 3600) + 2
    every = max(1, hours * 6 // WIDTH + 1)
    for hour in range(1, hours, every):
        moment = first.astimezone(answer.start.tzinfo) + timedelta(hours=hour)
        cell = int((moment - answer.start).total_seconds() / per_cell_s)
        label = f"{answer.clock((moment - answer.start).total_seconds()):%H:%M}"
        if 0 <= cell <= WIDTH - len(label):
            cells[cell : cell + len(label)] = label
    return Text("".join(cells), style="dim")
