"""Parts that several charts share: the clock along x, named data, the last touches.

Charts are put together from named data and channel objects, never from frames and short strings: Altair then has
nothing to guess and to copy, and a chart takes a tenth of the time. They leave as Vega-Lite documents.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Literal, TypeAlias

from energyplan.faces.charts.charttheme import ChartLook, chart_config

if TYPE_CHECKING:
    import altair as alt
    import pandas as pd

__all__ = ["Document", "at_pixel", "clock_axis", "finished", "haloed", "named", "tooltips"]

Document: TypeAlias = dict[str, Any]  # a chart as Vega-Lite says it


def haloed(name: str, look: ChartLook, ink: str, **letters: Any) -> "list[alt.Chart]":
    """Begin two layers of words on a data set: an edge of paper behind, so that words read on lines and areas."""
    edge: dict[str, Any] = {"color": look.paper, "stroke": look.paper, "strokeWidth": 6, "strokeJoin": "round"}
    return [named(name).mark_text(**letters, **edge), named(name).mark_text(**letters, color=ink)]


@lru_cache(maxsize=1)
def _unchecked() -> None:
    """Leave out Altair's check of each part, half of the time: the tests check whole charts against the schema."""
    from altair.utils.schemapi import disable_debug_mode

    disable_debug_mode()


def named(name: str) -> "alt.Chart":
    """Begin a layer on one of the chart's data sets."""
    import altair as alt

    _unchecked()
    return alt.Chart(alt.NamedData(name=name))


def clock_axis(hours: "pd.DataFrame", zone: str, span_s: tuple[float, float]) -> "Callable[[str], alt.X]":
    """Seconds along x, written as whole hours of the local clock: a channel for each column of times.

    Parameters
    ----------
    hours : DataFrame
        Columns time_s and clock: where the ticks stand and what they say.
    zone : str
        Name of the clock's zone, for the title.
    span_s : tuple of float
        First and last second.
    """
    import altair as alt

    values, labels = [float(value) for value in hours["time_s"]], [str(label) for label in hours["clock"]]
    pairs = [f"datum.value == {value!r} ? '{label}'" for value, label in zip(values, labels, strict=True)]
    axis = alt.Axis(values=values, labelExpr=" : ".join([*pairs, "''"]), title=f"Clock, {zone}", grid=False)
    scale = alt.Scale(domain=list(span_s), nice=False, zero=False)
    return lambda field: alt.X(f"{field}:Q", axis=axis, scale=scale)


def at_pixel(channel: Literal["x", "y", "y2"], place: float | Literal["width", "height"]) -> Any:
    """A fixed place on an axis [px from the left or the top], or its far end."""
    import altair as alt

    values: dict[str, Any] = {"x": alt.XValue, "y": alt.YValue, "y2": alt.Y2Value}
    return values[channel](place)


def tooltips(**titles: str) -> list[Any]:
    """Lines of a tooltip: column to title; a title that ends in a unit with a number format is told as a number.

    ``power_kw="Mean power, kW|.2f"`` shows two decimals, ``step="Step"`` plain text.
    """
    import altair as alt

    lines = []
    for field, words in titles.items():
        title, _, number = words.partition("|")
        kind = "Q" if number else "N"
        shown = number or alt.Undefined
        lines.append(alt.Tooltip(f"{field}:{kind}", title=title, format=shown))
    return lines


def finished(
    layers: Sequence[Any], frames: "Mapping[str, pd.DataFrame]", look: ChartLook, **properties: Any
) -> Document:
    """Put layers together with their data, the size, the settings and the words for those who hear the chart.

    Each layer is written out alone: a chart of layers would copy all data several times to look for what they share.

    Parameters
    ----------
    layers : sequence of Chart
        From back to front.
    frames : mapping of str to DataFrame
        The data sets that the layers name.
    look : ChartLook
        Colours.
    **properties
        Of the chart: height, description, resolve.
    """
    import altair as alt

    return {
        "$schema": alt.SCHEMA_URL,
        "layer": [layer.to_dict(validate=False, context={"top_level": False, "datasets": {}}) for layer in layers],
        "width": "container",
        "datasets": {name: _records(frame) for name, frame in frames.items()},
        "config": chart_config(look),
        **properties,
    }


def _records(frame: "pd.DataFrame") -> list[dict[str, Any]]:
    """Rows as plain Python, with nothing where a number is missing."""
    columns = [str(name) for name in frame.columns]
    return [
        {
            name: None if isinstance(value, float) and math.isnan(value) else value
            for name, value in zip(columns, row, strict=True)
        }
        for row in zip(*(frame[name].tolist() for name in frame.columns), strict=True)
    ]
