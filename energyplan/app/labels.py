"""Places of a plan's file in the words of the form: labels instead of keys."""

from functools import lru_cache

from energyplan.app.entries import SECTIONS
from energyplan.app.rows import ELEMENTS, LOADS, STEPS
from energyplan.base.errors import Place
from energyplan.base.visible import visible

__all__ = ["label_of"]

ROWS = {"step": ("Step", STEPS), "vessel.element": ("Element", ELEMENTS), "other_load": ("Load", LOADS)}
_WORDS = {"ramp_power": "the ramp cap", "hold_power": "the hold cap", "boil = true": 'the target "boil"'}


def label_of(place: Place) -> str:
    """What a form calls a place of the file.

    Examples
    --------
    >>> label_of(Place("vessel", "diameter")), label_of(Place("step", "hold", "Boil"))
    ('Inside diameter', 'Step "Boil": Hold')
    """
    if place.row is None:
        path = f"{place.table}.{place.key}".strip(".")
        return _labels().get(path) or _WORDS.get(path) or path.replace(".", ", ").replace("_", " ").capitalize()
    words, rows = ROWS.get(place.table, (place.table.replace(".", ", ").replace("_", " ").capitalize(), None))
    named = "" if place.row == "" else f" {place.row}" if isinstance(place.row, int) else f' "{visible(place.row)}"'
    label = next((column.label for column in rows.columns if column.key == place.key), place.key) if rows else place.key
    return f"{words}{named}{': ' if label else ''}{label}"


@lru_cache(maxsize=1)
def _labels() -> dict[str, str]:
    entries = (entry for section in SECTIONS for entry in (*section.entries, *section.further))
    return {".".join(entry.path): entry.label for entry in entries}
