"""Errors of a plan in the words of the form: labels instead of the keys of the file."""

import re
from functools import lru_cache

from energyplan.app.entries import SECTIONS
from energyplan.app.rows import ELEMENTS, LOADS, STEPS
from energyplan.base.errors import BrewDayError, EnergyPlanError, PlanError, Problem

__all__ = ["in_words"]

ROWS = {"step": ("Step", STEPS), "vessel.element": ("Element", ELEMENTS), "other_load": ("Load", LOADS)}
_ROW = re.compile(r'\[\[([\w.]+)\]\](?: (\d+|"[^"]*"))?(?: (\w+))?')
_ENTRY = re.compile(r"\[([\w.]+)\](?: (\w+))?")
_KEYS = {"ramp_power": "the ramp cap", "hold_power": "the hold cap"}


def in_words(error: EnergyPlanError) -> EnergyPlanError:
    """The same error, told in the words of the form.

    Examples
    --------
    >>> print(in_words(BrewDayError('[[step]] "Strike": with 168 W the ramp stalls; raise ramp_power')))
    Step "Strike": with 168 W the ramp stalls; raise the ramp cap
    >>> one = Problem(where="[vessel] diameter", value='"9 m"', message="between 10 cm and 3 m")
    >>> in_words(PlanError("", (one,))).problems[0].where
    'Inside diameter'
    """
    if isinstance(error, PlanError) and error.problems:
        told = (
            Problem(where=_told(one.where), value=one.value, message=_keys(one.message)) for one in error.problems
        )  # fmt: skip
        return PlanError(error.message, tuple(told))
    if isinstance(error, BrewDayError):
        return BrewDayError(_keys(_told(str(error))))
    return error


def _told(where: str) -> str:
    return _ENTRY.sub(_entry, _ROW.sub(_row, where))


def _row(found: "re.Match[str]") -> str:
    table, name, key = found.groups()
    words, rows = ROWS.get(table, (table.replace("_", " ").capitalize(), None))
    label = next((column.label for column in rows.columns if column.key == key), key) if rows else key
    return " ".join(part for part in (words, name) if part) + (f": {label}" if label else "")


def _entry(found: "re.Match[str]") -> str:
    table, key = found.groups()
    path = f"{table}.{key}" if key else table
    return _labels().get(path, path.replace(".", ", ").replace("_", " ").capitalize())


@lru_cache(maxsize=1)
def _labels() -> dict[str, str]:
    entries = (entry for section in SECTIONS for entry in (*section.entries, *section.further))
    return {".".join(entry.path): entry.label for entry in entries}


def _keys(message: str) -> str:
    for key, words in _KEYS.items():
        message = message.replace(key, words)
    return message
