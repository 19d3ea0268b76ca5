"""What the files of a day hold, by the ending of their name."""

from collections.abc import Callable

from energyplan.advice.answer import Answer
from energyplan.telling.brewdaypage import brew_day_told
from energyplan.telling.calendar import calendar_told
from energyplan.telling.currents import currents_told
from energyplan.telling.day import steps_table
from energyplan.telling.electrician import checked_circuit, tell_electrician
from energyplan.telling.picture import picture_told
from energyplan.telling.told import Told

__all__ = ["file_told"]


def file_told(answer: Answer, ending: str) -> Told:
    """What a file with this ending holds: ``.pdf`` sheets, ``.ics`` entries, ``.csv`` steps, else the picture."""
    return _HOLDS.get(ending, picture_told)(answer)


def _sheets(answer: Answer) -> Told:
    """The pages for the electrician, the page for the brew day, and a picture for each."""
    parts = (
        tell_electrician(answer),
        brew_day_told(answer),
        currents_told(answer, checked_circuit(answer)),
        picture_told(answer),
    )
    return Told(key="sheets", title="The sheets", parts=parts)


def _steps(answer: Answer) -> Told:
    return Told(key="steps", title="The steps", tables=(steps_table(answer),))


_HOLDS: dict[str, Callable[[Answer], Told]] = {".pdf": _sheets, ".ics": calendar_told, ".csv": _steps}
