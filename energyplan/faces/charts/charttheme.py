"""How charts look: colours in a light and a dark set, fonts, and the settings all charts share.

Cheap and dear prices differ in lightness and carry their number as text; appliances differ in lightness
as well as in hue, so that nothing is told by red against green.
"""

from collections.abc import Mapping
from typing import Any

from energyplan.base.records import dataclass

__all__ = ["DARK", "LIGHT", "ChartLook", "chart_config", "chart_look"]

PHASE_COLOURS = {"ramp": "#C8553D", "hold": "#2F6690", "boil": "#7A4FA3", "pause": "#9AA5AB", "chill": "#2A8C7E"}


PHASE_COLOURS_DARK = {"ramp": "#F08A72", "hold": "#7DB6E3", "boil": "#C09BE3", "pause": "#A9B4BA", "chill": "#74D3C4"}


SEVERITY_COLOURS = {"over": "#B3261E", "unknown": "#3D4F7D", "note": "#8A5A00", "ok": "#1B1B1B"}


SEVERITY_STYLES = {"over": "bold #D9534A", "note": "#C08A1E", "ok": ""}


FONT = '"Source Sans", "Source Sans 3", "DejaVu Sans", sans-serif'


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChartLook:
    """Colours of one theme. ``prices`` run from cheap to dear; ``appliances`` are taken in their order."""

    ink: str
    faint: str
    grid: str
    paper: str
    phases: Mapping[str, str]
    prices: tuple[str, ...]
    appliances: tuple[str, ...]
    over: str
    accent: str
    costs: tuple[str, str, str]


LIGHT = ChartLook(
    ink="#1B2226",
    faint="#56636A",
    grid="#D8DEDC",
    paper="#FFFFFF",
    phases=PHASE_COLOURS,
    prices=("#F7F9F7", "#EDF1ED", "#E1E8E2", "#D4DDD6", "#C6D1C9"),
    appliances=("#2F6690", "#E0A458", "#6B3F63", "#9CC3A5", "#35404A", "#C9B7D8", "#7A5C2E", "#B8C7CE"),
    over="#B3261E",
    accent="#0B5CAD",
    costs=("#F1F5F0", "#8FAE9F", "#1F4A43"),
)


DARK = ChartLook(
    ink="#E8EDEE",
    faint="#A9B4BA",
    grid="#37434A",
    paper="#12171A",
    phases=PHASE_COLOURS_DARK,
    prices=("#191F22", "#212A2C", "#2A3636", "#344342", "#3F504D"),
    appliances=("#7DB6E3", "#A8702A", "#D9C2EC", "#57856A", "#EBDBB4", "#7A6390", "#CFDBE0", "#6C7F8B"),
    over="#FF8A80",
    accent="#8CC8FF",
    costs=("#1C2527", "#4F7A70", "#CFE8DC"),
)


def chart_look(*, dark: bool) -> ChartLook:
    """The look of a theme.

    >>> chart_look(dark=True).paper
    '#12171A'
    """
    return DARK if dark else LIGHT


def chart_config(look: ChartLook) -> dict[str, Any]:
    """Settings of Vega-Lite that every chart shares: quiet axes, our font, no frame."""
    text = {"labelFont": FONT, "titleFont": FONT, "labelColor": look.ink, "titleColor": look.ink}
    return {
        "background": "transparent",
        "font": FONT,
        "view": {"stroke": None},
        "axis": {
            **text, "labelFontSize": 12, "titleFontSize": 12, "titleFontWeight": "normal", "gridColor": look.grid,
            "domainColor": look.faint, "tickColor": look.faint, "labelOverlap": "greedy", "titlePadding": 8,
        },
        "legend": {
            **text, "labelFontSize": 12, "titleFontSize": 12, "titleFontWeight": "normal", "orient": "top",
            "direction": "horizontal", "symbolType": "square", "symbolSize": 110, "offset": 4,
            "labelLimit": 150, "columns": {"expr": "max(2, floor(width / 160))"},
        },
        # Hundreds of marks read aloud one by one help nobody: the chart's words and the table behind it do.
        "mark": {"aria": False},
        "text": {"font": FONT, "fontSize": 12, "color": look.ink},
    }  # fmt: skip
