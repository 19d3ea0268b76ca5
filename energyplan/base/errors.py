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

from dataclasses import dataclass

__all__ = [
    "BrewDayError",
    "ClockError",
    "EnergyPlanError",
    "FileError",
    "LogError",
    "PlanError",
    "Problem",
    "TariffError",
    "UnitsError",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing that is wrong in a file: where it stands, what stands there, how to mend it.

    ``where`` is the path of tables and keys as the user wrote it (``[vessel] diameter``),
    ``value`` the offending value as text ("" when the key is missing).

    >>> print(Problem(where="[vessel] diameter", value='"36 kg"', message='write a length: "36 cm"'))
    [vessel] diameter = "36 kg": write a length: "36 cm"
    """

    where: str
    value: str = ""
    message: str

    def __str__(self) -> str:
        shown = f" = {self.value}" if self.value else ""
        return f"{self.where}{shown}: {self.message}"


class EnergyPlanError(Exception):
    """Base of every error that energyplan raises on purpose."""


class _ProblemsError(EnergyPlanError, ValueError):
    """An error that carries all the problems of one file at once."""

    def __init__(self, message: str, problems: tuple[Problem, ...] = (), source: str = "") -> None:
        self.message = message
        self.problems = problems
        self.source = source
        super().__init__(message, problems, source)

    def __str__(self) -> str:
        head = f"{self.source}: {self.message}" if self.source else self.message
        return "\n".join([head, *(f"  {problem}" for problem in self.problems)])


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
