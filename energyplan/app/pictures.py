"""Charts of an answer as documents, drawn once for each answer, unit system and theme.

An answer is never changed after it is made, and the same question gives the same answer again
(`energyplan.app.answers`), so answers themselves are the keys.
"""

from functools import lru_cache

from energyplan.advice.answer import Answer
from energyplan.base.kinds import Style
from energyplan.base.sentence import words
from energyplan.base.units import Display
from energyplan.faces.charts.chartparts import Document
from energyplan.faces.charts.charts import current_chart, day_chart
from energyplan.faces.charts.charttheme import ChartLook
from energyplan.faces.frames import frame
from energyplan.telling.currents import currents_told
from energyplan.telling.picture import picture_told

__all__ = ["current_document", "day_document"]

MOST_NAMED = 20


@lru_cache(maxsize=64)
def day_document(answer: Answer, show: Display, look: ChartLook) -> Document:
    """The chart of a day, with its phases in words."""
    told, style = picture_told(answer), Style(show.system)
    rows = list(frame(told.table("vessel"), style, spoken=True).itertuples())[:MOST_NAMED]
    phases = ", ".join(f"{row.step} {row.phase} from {row.clock}" for row in rows)
    headline = "" if told.headline is None else words(told.headline, style)
    said = f"{headline} {phases}. The table below has the numbers."
    return day_chart(told, look, style, description=said)


@lru_cache(maxsize=64)
def current_document(answer: Answer, look: ChartLook) -> Document | None:
    """The chart of a circuit; None when none was entered."""
    return None if answer.circuit is None else current_chart(currents_told(answer, answer.circuit), look)
