"""What was refused, told inside another telling: a variant that can't be brewed, prices that end too early."""

from energyplan.base.errors import EnergyPlanError
from energyplan.base.kinds import WRITTEN
from energyplan.base.sentence import Sentence

__all__ = ["refusal"]


def refusal(error: EnergyPlanError | None) -> Sentence:
    """The message of an error as a sentence; text is shown as it was written, and never obeyed.

    >>> from energyplan.base.errors import BrewDayError
    >>> print(refusal(BrewDayError("the ramp stalls at 83 degC")))
    the ramp stalls at 83 degC
    """
    said = error.args[0] if error is not None and error.args else ""
    return said if isinstance(said, Sentence) else Sentence("{text}", text=WRITTEN(str(said)))
