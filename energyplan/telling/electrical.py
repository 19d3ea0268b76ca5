"""Words that several findings of the circuit share: ratings as printed, cables as sold, names, how a cable lies."""

from collections.abc import Iterable
from types import SimpleNamespace

from energyplan.base.kinds import AMPERES, VOLTS, WORD, WRITTEN, Kind, Shown, Value
from energyplan.base.sentence import Sayable, Sentence, listed
from energyplan.circuits.cables import cable_name

__all__ = ["MILLIAMPERES", "NOTHING", "Facts", "and_high", "cable_words", "kilowatts", "names", "rated"]

MILLIAMPERES = Kind("leakage", Shown("mA", 1, 1000.0), Shown("mA", 1, 1000.0))
KILOWATTS = Kind("contract", Shown("kW", 2), Shown("kW", 2))
_RATED = Kind("rating", Shown("A", 0), Shown("A", 0))  # as printed on a breaker
Facts = SimpleNamespace
NOTHING = Sentence("")


def rated(amps: float) -> Value:
    """A rating as it is printed."""
    return (_RATED if amps == round(amps) else AMPERES)(amps)


def names(written: Iterable[str], last: str = "and") -> Sayable:
    """Names that people gave, in a row."""
    return listed([WRITTEN(name) for name in written], last)


def cable_words(cross_section_mm2: float) -> Value:
    """A cable's size as it is sold."""
    return WORD(cable_name(cross_section_mm2))


def kilowatts(watts: float) -> Value:
    """A contracted power."""
    return KILOWATTS(watts / 1000)


def and_high(f: Facts) -> Sentence:
    """What a current becomes at the upper end of the supply."""
    return Sentence(
        "at {high_v} with elements 5 % above their plates it is {high_a}",
        high_v=VOLTS(f.high_v),
        high_a=AMPERES(f.high_a),
    )
