"""Parts that all tables are made of: frames from rows, units in headings, fewer points for charts."""

from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from energyplan.advice.answer import Answer
from energyplan.base.units import Display

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["MOST_SPANS", "clock_text", "coarse", "frame_of", "heading", "temperature_key", "thinned"]

FloatArray = NDArray[np.float64]
Item = TypeVar("Item")

# Charts stay quick and legible with a bounded number of marks, however many steps a plan has.
MOST_SPANS = 120

# Columns of money end in its currency.
_MONEY = ("cost", "saved", "a_year")
_UNITS = {
    "a": "A", "c": "°C", "clock": "", "f": "°F", "frac": "", "g": "g", "gal": "gal", "kg": "kg", "kw": "kW",
    "kwh": "kWh", "l": "L", "lb": "lb", "min": "min", "percent": "%", "s": "s", "v": "V", "w": "W",
}  # fmt: skip


def heading(column: str) -> str:
    """Words for a column: its name, and the unit that the name ends in.

    Examples
    --------
    >>> heading("energy_kwh"), heading("start_clock"), heading("cost_eur"), heading("limited_by")
    ('Energy, kWh', 'Start', 'Cost, EUR', 'Limited by')
    """
    words, _, last = column.rpartition("_")
    if not words or (last not in _UNITS and words not in _MONEY):
        return column.replace("_", " ").capitalize()
    unit, name = _UNITS.get(last, last.upper()), words.replace("_", " ").capitalize()
    return f"{name}, {unit}" if unit else name


def frame_of(rows: Iterable[dict[str, Any]], columns: Sequence[str] | None = None) -> "pd.DataFrame":
    """A frame from rows; the columns are needed where there may be no row.

    >>> list(frame_of([], ("start_s", "power_w")).columns)
    ['start_s', 'power_w']
    """
    import pandas as pd

    listed = list(rows)
    return pd.DataFrame(listed, columns=None if columns is None else list(columns))


def clock_text(answer: Answer, time_s: float) -> str:
    """Local clock at a second of the day."""
    return f"{answer.clock(time_s):%H:%M}"


def temperature_key(show: Display) -> str:
    """Unit of temperatures at the end of a column's name.

    >>> temperature_key(Display("us"))
    'f'
    """
    return "c" if show.system == "metric" else "f"


def thinned(items: Sequence[Item], most: int, size: Callable[[Item], float]) -> list[Item]:
    """The largest of too many items, in their order."""
    if len(items) <= most:
        return list(items)
    kept = sorted(sorted(range(len(items)), key=lambda index: -size(items[index]))[:most])
    return [items[index] for index in kept]


def coarse(edges_s: FloatArray, columns: Sequence[FloatArray]) -> tuple[FloatArray, list[FloatArray]]:
    """Fewer steps for a chart: the largest value of each of as many cells as there may be."""
    most = max(2 * MOST_SPANS // max(len(columns), 1), 12)
    if edges_s.shape[0] - 1 <= most:
        return edges_s, list(columns)
    grid_s = np.linspace(edges_s[0], edges_s[-1], most + 1)
    first = np.searchsorted(edges_s, grid_s[:-1], side="right") - 1
    last = np.searchsorted(edges_s, grid_s[1:], side="left")
    return grid_s, [
        np.array([column[low:high].max() for low, high in zip(first, last, strict=True)]) for column in columns
    ]
