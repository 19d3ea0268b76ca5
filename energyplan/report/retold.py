"""Sentences of the library, which are written in metric units, told in the units of the display."""

import re

from energyplan.base.units import Display, convert

__all__ = ["retold"]

_NUMBER = r"\d+(?:\.\d+)?"
_QUANTITY = re.compile(rf"(?<![\w.])(?:([-±]?{_NUMBER})( to | and ))?([-+±]?{_NUMBER}) (degC|°C|K|kg|L)(?![\w/])")
_US = {"kg": ("lb", "lb"), "L": ("gallon", "gal")}
_KELVINS = 1.8  # degrees Fahrenheit in a kelvin


def retold(text: str, show: Display) -> str:
    """The sentence with its temperatures, masses and volumes in the units of the display, as exact as they were.

    Names of conductor columns ("the 75 °C column") are in °C in every unit system; don't hand them in.

    Examples
    --------
    >>> retold("Water near 75 degC, air 5 K colder: 0.6 kg more, 5 to 7.0 °C.", Display("us"))
    'Water near 167 °F, air 9 °F colder: 1.3 lb more, 41 to 44.6 °F.'
    >>> retold("It stalls at 83.2 degC.", Display("metric"))
    'It stalls at 83.2 °C.'
    """
    return _QUANTITY.sub(lambda found: _written(found, show), text)


def _written(found: "re.Match[str]", show: Display) -> str:
    first, between, second, unit = found.groups()
    if show.system == "metric":
        return found[0].replace("degC", "°C")
    before = f"{_converted(first, unit, show)}{between}" if first else ""
    return f"{before}{_converted(second, unit, show)} {_shown_unit(unit, show)}"


def _shown_unit(unit: str, show: Display) -> str:
    return _US[unit][1] if unit in _US else show.temperature_unit


def _converted(number: str, unit: str, show: Display) -> str:
    sign = number[0] if number[0] in "+±" else ""
    value, decimals = float(number.removeprefix(sign)), len(number.partition(".")[2])
    if unit == "K":
        degrees = value * _KELVINS
        return f"{sign}{degrees:.{decimals if decimals or degrees % 1 == 0 else 1}f}"
    if unit in _US:
        return f"{sign}{float(convert(value, unit, _US[unit][0])):.{max(decimals, 1)}f}"
    return f"{sign}{float(show.temperature_number(value)):.{decimals}f}"
