"""A calibration, and a measured day beside its plan, on the terminal: rich renderables, at most 80 columns wide."""

from collections.abc import Callable, Iterator

import numpy as np
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from energyplan.base.units import Display
from energyplan.faces.charts.palette import PHASE_COLOURS
from energyplan.learning.measured import DayComparison, PhaseComparison
from energyplan.learning.result import Calibration, Measured, Residuals

__all__ = ["calibration_text", "comparison_text", "residual_plot"]

PLOT_COLUMNS, PLOT_ROWS = 64, 9
MARKS = "•×+○"


def calibration_text(found: Calibration, show: Display) -> RenderableType:
    """What a log tells about the vessel: values with intervals, why others can't be told, residuals, next tests."""
    parts: list[RenderableType] = [_heading("What the log tells"), _values(found, show)]
    parts += [Text(f"{name}: {value.why}.") for name, value in _unknown(found)]
    if found.stretches:
        parts += ["", _heading("Fitted"), _stretches(found, show)]
        parts += ["", _heading("Reading less fit"), residual_plot(found.residuals, show)]
    if found.next_tests:
        parts += ["", _heading("Next"), *(Text(f"  {test}") for test in found.next_tests)]
    parts += ["", *(Text(note, style="dim") for note in found.notes)]
    return Group(*parts)


def _heading(words: str) -> Text:
    return Text(words, style="bold underline")


def _table(*columns: str, left: int = 1) -> Table:
    table = Table(box=None, padding=(0, 1, 0, 0), header_style="bold", show_edge=False)
    for place, column in enumerate(columns):
        table.add_column(column, justify="left" if place < left else "right", overflow="fold")
    return table


def _named(found: Calibration) -> list[tuple[str, Measured]]:
    return [
        ("Heat loss, lid on", found.heat_loss_w_per_k),
        ("Stored heat, all", found.stored_heat_j_per_k),
        ("Stored heat, vessel", found.vessel_heat_j_per_k),
        ("Element power", found.element_power_w),
        ("Open surface, factor", found.open_surface_factor),
    ]


def _values(found: Calibration, show: Display) -> Table:
    writers: list[Callable[[float], str]] = [
        show.heat_loss, _kilojoules(show), _kilojoules(show), lambda watts: f"{watts:.0f} W", lambda f: f"{f:.2f}",
    ]  # fmt: skip
    table = _table("", "value", "95 % from", "to")
    for (name, value), write in zip(_named(found), writers, strict=True):
        if value.value is None or value.low is None or value.high is None:
            table.add_row(name, Text("can't be told", style="dim"), "", "")
        else:
            table.add_row(name, Text(write(value.value), style="bold"), write(value.low), write(value.high))
    return table


def _kilojoules(show: Display) -> Callable[[float], str]:
    if show.system == "metric":
        return lambda joules: f"{joules / 1000:.1f} kJ/K"
    return lambda joules: f"{joules / 1000 / 1.8:.1f} kJ/°F"


def _unknown(found: Calibration) -> Iterator[tuple[str, Measured]]:
    """Reasons, each once; the open surface only where something else is known."""
    seen = set()
    for name, value in _named(found):
        if value.known or value.why in seen or value is found.open_surface_factor:
            continue
        seen.add(value.why)
        yield name, value


def _stretches(found: Calibration, show: Display) -> Table:
    table = _table("", "", "lid", "min", show.temperature_unit, left=3)
    for place, stretch in enumerate(found.stretches):
        table.add_row(
            MARKS[place % len(MARKS)],
            f"{stretch.kind}, {stretch.stage}",
            stretch.lid,
            f"{stretch.start_s / 60:.0f}→{stretch.end_s / 60:.0f}",
            f"{show.temperature_number(stretch.from_c):.1f}→{show.temperature_number(stretch.to_c):.1f}",
        )
    return table


def residual_plot(residuals: Residuals, show: Display) -> Text:
    """Plot reading less fit over time in characters: means over columns, one mark per stretch.

    A good fit scatters evenly around the line; a bow says that something changed on the way (lid, air, pump).
    """
    left_k = residuals.measured_c - residuals.fitted_c
    if left_k.size == 0:
        return Text("")
    first_s, last_s = float(residuals.times_s.min()), float(residuals.times_s.max())
    columns = ((residuals.times_s - first_s) / max(last_s - first_s, 1.0) * (PLOT_COLUMNS - 1)).astype(int)
    reach_k = float(max(np.abs(left_k).max(), 1e-3))
    page = [[" "] * PLOT_COLUMNS for _ in range(PLOT_ROWS)]
    middle = PLOT_ROWS // 2
    page[middle] = ["─"] * PLOT_COLUMNS
    for column in np.unique(columns):
        for stretch in np.unique(residuals.stretch[columns == column]):
            inside = (columns == column) & (residuals.stretch == stretch)
            row = middle - round(float(left_k[inside].mean()) / reach_k * middle)
            page[row][column] = MARKS[int(stretch) % len(MARKS)]
    labels = {0: f"+{show.difference(reach_k)}", middle: "0", PLOT_ROWS - 1: f"-{show.difference(reach_k)}"}
    lines = [f"{labels.get(row, ''):>8} {''.join(cells).rstrip()}" for row, cells in enumerate(page)]
    minutes = f"{first_s / 60:.0f} min"
    lines.append(f"{'':>8} {minutes}{f'{last_s / 60:.0f} min':>{PLOT_COLUMNS - len(minutes)}}")
    return Text("\n".join(lines))


def comparison_text(found: DayComparison, show: Display) -> RenderableType:
    """A measured day beside its plan: phase by phase, totals, and what explains the difference."""
    table = _table("Step", "", "min", "plan", "kWh", "plan", show.temperature_unit, "plan", left=2)
    for phase in found.phases:
        table.add_row(*_phase_row(phase, show))
    return Group(
        _heading("Measured beside planned"),
        table,
        *(Text(line) for line in _totals(found)),
        "",
        _heading("Why"),
        Text(found.verdict),
        *([_explanations(found)] if found.explanations else []),
        "",
        *(Text(note, style="dim") for note in found.notes),
    )


def _phase_row(phase: PhaseComparison, show: Display) -> list[str | Text]:
    mark = "~" if phase.guessed else ""
    return [
        phase.step,
        Text(phase.phase, style=PHASE_COLOURS[phase.phase]),
        f"{mark}{phase.measured_min:.0f}",
        f"{phase.planned_min:.0f}",
        "" if phase.measured_kwh is None else f"{phase.measured_kwh:.2f}",
        f"{phase.planned_kwh:.2f}",
        f"{show.temperature_number(phase.measured_to_c):.1f}",
        f"{show.temperature_number(phase.planned_to_c):.1f}",
    ]


def _totals(found: DayComparison) -> Iterator[str]:
    if found.measured_kwh is None:
        yield f"Planned {found.planned_kwh:.2f} kWh so far; the log has no meter."
    else:
        change = found.measured_kwh - found.planned_kwh
        where = "within" if found.within_meter_error else "outside"
        yield (
            f"Measured {found.measured_kwh:.2f} kWh, planned {found.planned_kwh:.2f} kWh: {change:+.2f} kWh, "
            f"{where} the meter's error of {found.meter_kwh:.2f} kWh."
        )
    if abs(found.longer_kwh) >= 0.01:
        more = "longer" if found.longer_kwh > 0 else "shorter"
        yield f"Rests, holds and boils were {more} than planned; that is {found.longer_kwh:+.2f} kWh."


def _explanations(found: DayComparison) -> Table:
    table = _table("One input changed alone", "planned", "fits best", "", "explains", left=1)
    for one in found.explanations:
        digits = 0 if one.unit == "W" else 2 if one.key == "loss" else 1
        limit = " or beyond" if one.at_limit else ""
        table.add_row(
            one.name, f"{one.planned:.{digits}f}", f"{one.value:.{digits}f}", one.unit + limit, f"{one.share:.0%}"
        )
    return table
