"""Charts as pictures: SVG for the sheets and for files, PNG for files."""

from energyplan.base.kinds import PLAIN, Style
from energyplan.base.records import dataclass
from energyplan.faces.charts.chartparts import Document
from energyplan.faces.charts.charts import current_chart, day_chart
from energyplan.faces.charts.charttheme import LIGHT
from energyplan.telling.told import Told

__all__ = ["Picture", "current_picture", "day_picture", "picture_png", "picture_svg"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A chart as a Vega-Lite document, with what it shows in words."""

    document: Document
    words: str


def day_picture(told: Told, style: Style = PLAIN, *, width_px: int = 960, height_px: int = 400) -> Picture:
    """The chart of the day (`energyplan.telling.picture.picture_told`)."""
    chart = day_chart(told, LIGHT, style)
    return _sized(chart, chart["description"], width_px, height_px)


def current_picture(told: Told, style: Style = PLAIN, *, width_px: int = 960, height_px: int = 340) -> Picture:
    """The chart of the current against the ratings (`energyplan.telling.currents.currents_told`)."""
    chart = current_chart(told, LIGHT, style, height_px=height_px)
    return _sized(chart, chart["description"], width_px, height_px)


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
