"""What was refused, told inside another telling: a variant that can't be brewed, prices that end too early."""

from energyplan.base.errors import EnergyPlanError, Problem
from energyplan.base.kinds import WRITTEN
from energyplan.base.sentence import Sentence

__all__ = ["refusal"]


def refusal(error: EnergyPlanError | None) -> Sentence:
    """The message of an error as a sentence, or its first problem; text is shown as it was written, and never obeyed.

    >>> from energyplan.base.errors import BrewDayError, PlanError, Problem
    >>> print(refusal(BrewDayError("the ramp stalls at 83 degC")))
    the ramp stalls at 83 degC
    >>> print(refusal(PlanError("bad", (Problem(where="[batch] grain", message="too much"),))))
    [batch] grain: too much
    """
    problems: tuple[Problem, ...] = getattr(error, "problems", ())
    if problems:
        return Sentence("{where}: {what}", where=_said(problems[0].where), what=_said(problems[0].message))
    return _said(error.args[0] if error is not None and error.args else "")


def _said(given: object) -> Sentence:
    return given if isinstance(given, Sentence) else Sentence("{text}", text=WRITTEN(str(given)))
