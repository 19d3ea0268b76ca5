"""Charts as pictures: SVG for the sheets and for files, PNG for files."""

import dataclasses
from typing import TYPE_CHECKING, cast

from energyplan.advice.answer import Answer
from energyplan.base.kinds import PLAIN, Style
from energyplan.faces.charts.chartparts import Document
from energyplan.faces.charts.charts import current_chart, current_frames, day_chart
from energyplan.faces.charts.charttheme import LIGHT
from energyplan.telling.circuit import circuit_headline
from energyplan.telling.electrician import checked_circuit
from energyplan.telling.told import Told

if TYPE_CHECKING:
    from energyplan.faces.charts.charts import CurrentFrames

__all__ = ["Picture", "current_picture", "day_picture", "picture_png", "picture_svg"]


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A chart as a Vega-Lite document, with what it shows in words."""

    document: Document
    words: str


def day_picture(told: Told, style: Style = PLAIN, *, width_px: int = 960, height_px: int = 400) -> Picture:
    """The chart of the day (`energyplan.telling.picture.picture_told`)."""
    chart = day_chart(told, LIGHT, style)
    return _sized(chart, chart["description"], width_px, height_px)


def current_picture(answer: Answer, *, width_px: int = 960, height_px: int = 340) -> Picture:
    """The chart of the current against the ratings; without a circuit the current alone."""
    against = ", and the ratings entered" if answer.circuit else ""
    words = f"Current of each appliance over the day, stacked{against}. {circuit_headline(answer)}"
    # There are frames for every answer with a circuit's check.
    frames = cast("CurrentFrames", current_frames(dataclasses.replace(answer, circuit=checked_circuit(answer))))
    chart = current_chart(frames, LIGHT, description=words, height_px=height_px)
    return _sized(chart, words, width_px, height_px)


def _sized(chart: Document, words: str, width_px: int, height_px: int) -> Picture:
    document = {**chart, "width": width_px, "height": height_px, "background": "white"}
    return Picture(document=document, words=words)


def picture_svg(picture: Picture) -> str:
    """The picture as SVG with text as text."""
    import vl_convert

    return str(vl_convert.vegalite_to_svg(picture.document))


def picture_png(picture: Picture, *, scale: float = 2.0) -> bytes:
    """The picture as PNG, with ``scale`` dots for each of its pixels."""
    import vl_convert

    return bytes(vl_convert.vegalite_to_png(picture.document, scale=scale))
