"""The exceptions of energyplan: one tree, so that one ``except`` catches all.

::

    EnergyPlanError
    ├── UnitsError(ValueError)      a text that is no quantity of the wanted kind
    ├── PlanError(ValueError)       a plan that says something impossible
    ├── BrewDayError(ValueError)    a plan that reads well but can't be brewed
    ├── TariffError(ValueError)     a tariff that can't price the day
    ├── ClockError(ValueError)      a local time that does not exist, or exists twice
    ├── LogError(ValueError)        a log that can't be read
    └── FileError(OSError)          a file that is missing, too large or already there

A message says the name, the value, what was expected and what to do.
An overloaded breaker is no exception: it is a finding (`energyplan.circuits.check`).
"""

import unicodedata
from types import UnionType

from energyplan.base.records import dataclass

__all__ = [
    "BrewDayError",
    "ClockError",
    "EnergyPlanError",
    "FileError",
    "LogError",
    "Place",
    "PlanError",
    "Problem",
    "TariffError",
    "UnitsError",
    "need",
    "visible",
]

_OBEYED = frozenset({"Cc", "Cf", "Cs", "Co", "Zl", "Zp"})  # general categories of Unicode


def visible(text: str) -> str:
    r"""Text that a person wrote, with every character that a terminal or a page could obey made visible.

    Control, direction, private and lone surrogate characters become their escapes; everything else stays as written.

    >>> visible("Rest\u202e [link=x]\n")
    'Rest\\u202e [link=x]\\u000a'
    """
    return "".join(_escaped(one) if unicodedata.category(one) in _OBEYED else one for one in text)


def _escaped(character: str) -> str:
    number = ord(character)
    return f"\\u{number:04x}" if number < 0x10000 else f"\\U{number:08x}"


@dataclass(frozen=True, slots=True)
class Place:
    """Where something stands in a file: in a table or in a row of a list of tables, under a key.

    ``row`` is the name that a person gave the row, or its number counted from 1; None in a table that is no list.
    Whoever wrote the file reads it as it stands there; a form names its own label instead.

    >>> print(Place("vessel", "diameter"), "|", Place("step", "hold", "Boil"), "|", Place("vessel.element", row=2))
    [vessel] diameter | [[step]] "Boil" hold | [[vessel.element]] no. 2
    """

    table: str
    key: str = ""
    row: str | int | None = None

    @classmethod
    def of(cls, path: str) -> "Place":
        """A place by the path of its keys: ``vessel.diameter``."""
        table, _, key = path.rpartition(".")
        return cls(table, key)

    def __str__(self) -> str:
        if self.row is None:
            table = f"[{self.table}]" if self.table else ""
        elif self.row == "":
            table = f"[[{self.table}]]"
        else:
            row = f"no. {self.row}" if isinstance(self.row, int) else f'"{visible(self.row)}"'
            table = f"[[{self.table}]] {row}"
        return " ".join(part for part in (table, self.key) if part)


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing that is wrong in a file: where it stands, what stands there, how to mend it.

    Parameters
    ----------
    where : Place or str
        Table and key.
    value : Value or str
        What stands there, as it was written or of its kind; "" when the key is missing.
    message : Sentence or str
        What is wrong and what would mend it (`energyplan.base.sentence`); plain text where nothing in it depends on
        the reader.
    file : str
        The file, where it is another than the one that was read: a brewery's.

    >>> print(Problem(where=Place("vessel", "diameter"), value='"36 kg"', message='write a length: "36 cm"'))
    [vessel] diameter = "36 kg": write a length: "36 cm"
    """

    where: object
    value: object = ""
    message: object
    file: str = ""

    def __str__(self) -> str:
        file = f"{self.file}: " if self.file else ""
        shown = f" = {self.value}" if self.value else ""
        return visible(f"{file}{self.where}{shown}: {self.message}")


class EnergyPlanError(Exception):
    """Base of every error that energyplan raises on purpose.

    Its message is a `Sentence`, or text; nothing that a person wrote comes out of it in a form that would be obeyed.
    """

    @property
    def said(self) -> object:
        """The message: a `Sentence`, or text."""
        return self.args[0] if self.args else ""

    def __str__(self) -> str:
        return _lines_visible(str(self.said))


def _lines_visible(text: str) -> str:
    return "\n".join(visible(line) for line in text.split("\n"))


def need(value: object, kind: type | UnionType, what: str) -> None:
    """Refuse what is no input at all, saying what would be one.

    Raises
    ------
    TypeError
        If it is not of the kind.

    Examples
    --------
    >>> need(3, str, "name: give one in quotes")
    Traceback (most recent call last):
    ...
    TypeError: 3 is no name: give one in quotes
    """
    if not isinstance(value, kind):
        raise TypeError(f"{value!r} is no {what}")


class _ProblemsError(EnergyPlanError, ValueError):
    """An error that carries all the problems of one file at once."""

    def __init__(self, message: object, problems: tuple[Problem, ...] = (), source: str = "") -> None:
        self.message = message
        self.problems = problems
        self.source = source
        super().__init__(message, problems, source)

    def __str__(self) -> str:
        head = f"{self.source}: {self.message}" if self.source else str(self.message)
        return "\n".join([_lines_visible(head), *(f"  {problem}" for problem in self.problems)])


class UnitsError(EnergyPlanError, ValueError):
    """A text is not a quantity of the wanted kind."""


class PlanError(_ProblemsError):
    """A plan says something impossible; ``problems`` lists everything that is wrong."""


class BrewDayError(EnergyPlanError, ValueError):
    """A plan reads well but can't be brewed: a ramp that stalls, a vessel that runs over."""


class TariffError(_ProblemsError):
    """A tariff can't price the day; ``problems`` lists everything that is wrong."""


class ClockError(EnergyPlanError, ValueError):
    """A local time that a clock change skips, or that it shows twice."""


class LogError(_ProblemsError):
    """A log of temperatures can't be read or tells nothing."""


class FileError(EnergyPlanError, OSError):
    """A file is missing, unreadable, too large, or would be overwritten."""
