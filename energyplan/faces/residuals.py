"""Readings less their fit, plotted in characters: a good fit scatters evenly around the line."""

import numpy as np
from rich.text import Text

from energyplan.base.kinds import KELVIN, PLAIN, Style, write
from energyplan.telling.told import Table

__all__ = ["residual_plot"]

COLUMNS, ROWS = 64, 9
MARKS = "•×+○"


def residual_plot(fit: Table, style: Style = PLAIN) -> Text:
    """Plot measured less fitted temperature over time: means over columns, one mark per stretch.

    A bow says that something changed on the way (lid, air, pump).
    """
    if not fit.rows:
        return Text("")
    minutes, measured_c, fitted_c, stretches = (np.array(values) for values in zip(*fit.rows, strict=True))
    left_k, first, last = measured_c - fitted_c, float(minutes.min()), float(minutes.max())
    columns = ((minutes - first) / max(last - first, 1 / 60) * (COLUMNS - 1)).astype(int)
    reach_k = float(max(np.abs(left_k).max(), 1e-3))
    page = [[" "] * COLUMNS for _ in range(ROWS)]
    middle = ROWS // 2
    page[middle] = ["─"] * COLUMNS
    for column in np.unique(columns):
        for stretch in np.unique(stretches[columns == column]):
            inside = (columns == column) & (stretches == stretch)
            row = middle - round(float(left_k[inside].mean()) / reach_k * middle)
            page[row][column] = MARKS[int(stretch) % len(MARKS)]
    reach = write(KELVIN(reach_k), style)
    labels = {0: f"+{reach}", middle: "0", ROWS - 1: f"-{reach}"}
    lines = [f"{labels.get(row, ''):>8} {''.join(cells).rstrip()}" for row, cells in enumerate(page)]
    begin = f"{first:.0f} min"
    lines.append(f"{'':>8} {begin}{f'{last:.0f} min':>{COLUMNS - len(begin)}}")
    return Text("\n".join(lines))
