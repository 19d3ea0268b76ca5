"""The only module that knows pint: quantities as text in, SI floats out, and back for display.

A quantity enters as text with its unit (``"3.2 kW"``, ``"152 degF"``, ``"7 gal"``), is checked for its
dimension and its plausible range, and is a plain float from then on. The annotated types at the end
(`Power`, `Volume`, …) do that inside pydantic models: text is read, a bare number in a *file* is an
error that shows the fix, and a bare number given from Python is taken as SI.
"""

import math
import re
from decimal import Decimal
from functools import lru_cache
from typing import TYPE_CHECKING, Annotated, Any, Literal, TypeVar

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler, SerializationInfo, ValidationInfo
from pydantic_core import CoreSchema, core_schema

from energyplan.base.errors import UnitsError
from energyplan.base.kinds import EXAMPLE, WORD, WRITTEN, Value
from energyplan.base.records import dataclass
from energyplan.base.sentence import Sentence

if TYPE_CHECKING:
    import numpy as np
    import pint

__all__ = [
    "COMMON", "FAHRENHEIT", "QUANTITY",
    "Altitude", "Area", "Conductivity", "CrossSection", "Current", "Display", "Duration", "Energy", "HeatCapacity",
    "HeatLoss", "Kind", "Length", "Mass", "Power", "Resistance", "Speed", "Temperature", "UnitSystem", "Voltage",
    "Volume", "VolumePerMass", "convert", "fewest_digits", "read_quantity",
]  # fmt: skip

UnitSystem = Literal["metric", "us"]
Number = TypeVar("Number", float, "np.ndarray[Any, Any]")

LONGEST_TEXT = 60
QUANTITY = re.compile(r"\s*([+-]?(?:\d[\d.,]*|[.,]\d+)(?:[eE][+-]?\d{1,3})?)\s*(.*?)\s*")
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?")
_DECIMAL_COMMA = re.compile(r"([+-]?\d*),(\d+)([eE][+-]?\d{1,3})?")
_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")
# pint evaluates exponents, so a tower of them would never end: a unit needs no digit but a power of 2 or 3.
_TOWER = re.compile(r"[0-9]{2}|[014-9]|[23][*^]|[^ -~µμ°²³·ΩΩ]")
_POWERED = re.compile(r"\b(mm|cm|dm|m|in|ft)\^?([23])\b")
# Words that people write on labels and pint either lacks or takes for something else (C is its coulomb).
_SPELLED = {
    "C": "degC", "°C": "degC", "deg C": "degC", "F": "degF", "°F": "degF", "deg F": "degF",
    "W/K": "W/delta_degC", "W/degC": "W/delta_degC", "W/°C": "W/delta_degC", "BTU/h/degF": "BTU/h/delta_degF",
    "W/m/K": "W/m/K", "W/mK": "W/m/K", "W/(m K)": "W/m/K", "sqmm": "mm**2", "gal": "gallon",
}  # fmt: skip
# The spellings that plans are full of, by the unit that the kind is kept in: read exactly, and without loading pint.
# US customary units by their definitions (NIST Handbook 44, appendix C; from memory).
COMMON = {
    kept: {unit: Decimal(factor) for unit, factor in spellings.items()}
    for kept, spellings in {
        "m": {"m": "1", "cm": "0.01", "mm": "0.001", "in": "0.0254", "ft": "0.3048"},
        "m2": {"m2": "1", "cm2": "0.0001", "in2": "0.00064516"},
        "kg": {"kg": "1", "g": "0.001", "lb": "0.45359237"},
        "L": {"L": "1", "l": "1", "gal": "3.785411784"},
        "degC": {"degC": "1", "°C": "1"},
        "K": {"K": "1"},
        "W": {"W": "1", "kW": "1000"},
        "kWh": {"kWh": "1", "Wh": "0.001"},
        "V": {"V": "1"},
        "A": {"A": "1"},
        "ohm": {"ohm": "1", "Ω": "1"},
        "s": {"s": "1", "min": "60", "h": "3600"},
        "W/K": {"W/K": "1"},
        "J/K": {"J/K": "1", "kJ/K": "1000"},
        "W/m/K": {"W/m/K": "1"},
        "mm2": {"mm2": "1"},
        "L/kg": {"L/kg": "1"},
        "m/s": {"m/s": "1"},
    }.items()
}
_IN_US = {
    "m": ("ft", 1 / 0.3048, 0.0), "m2": ("in2", 1 / 0.00064516, 0.0), "kg": ("lb", 1 / 0.45359237, 0.0),
    "L": ("gal", 1 / 3.785411784, 0.0), "degC": ("degF", 1.8, 32.0), "m/s": ("ft/s", 1 / 0.3048, 0.0),
    "L/kg": ("qt/lb", 0.45359237 * 4 / 3.785411784, 0.0),
}  # fmt: skip
FAHRENHEIT = ("degF", "°F", "F")
# Other units that people write, which pint reads; named in patterns for editors.
_FURTHER = {
    "m": ("dm", "km", "inch", "inches", "feet", "foot", "yd", "µm"),
    "m2": ("cm²", "m²", "in²", "cm^2", "m^2", "in^2", "cm**2", "m**2", "in**2", "mm2", "mm²", "dm2", "ft2", "ft²"),
    "kg": ("oz", "t", "lbs", "pounds", "ounce", "ounces"),
    "L": ("ml", "mL", "dl", "cl", "hl", "hL", "gallon", "gallons", "qt", "quart", "pint", "floz", "m3", "m³"),
    "degC": ("C", "deg C", "deg F", "K", *FAHRENHEIT),
    "W": ("MW", "BTU/h", "hp"),
    "kWh": ("MWh", "J", "kJ", "MJ", "BTU"),
    "V": ("kV", "volt", "volts"),
    "A": ("mA", "ampere", "amperes"),
    "s": ("sec", "second", "seconds", "minute", "minutes", "hour", "hours", "d", "day", "days"),
    "W/K": ("W/degC", "W/°C", "BTU/h/degF", "kW/K"),
    "J/K": ("MJ/K",),
    "W/m/K": ("W/mK", "W/(m K)"),
    "mm2": ("mm²", "mm^2", "mm**2", "sqmm", "cm2"),
    "L/kg": ("l/kg", "gal/lb", "qt/lb", "gallon/lb"),
    "m/s": ("km/h", "ft/s", "mph"),
}
_AWG = re.compile(r"#?\s*(\d{1,2}|[1-4]/0)\s*AWG", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """A kind of quantity: the unit it is kept in, the range that is plausible, how people write it."""

    name: str
    unit: str
    low: float
    high: float
    example: str
    us: str = ""  # how people write it where US units are usual, if otherwise

    @property
    def as_written(self) -> Value:
        """An example, in the units of whoever reads it."""
        return EXAMPLE((f'"{self.example}"', f'"{self.us or self.example}"'))

    def refused(self, template: str, said: str = "", unit: str = "") -> UnitsError:
        """The error that says what was expected; the template names what it needs of what, example, said, unit."""
        known = {"what": WORD(self.name), "example": self.as_written, "said": WRITTEN(said), "unit": WRITTEN(unit)}
        return UnitsError(Sentence(template, **{key: one for key, one in known.items() if f"{{{key}}}" in template}))

    def _in_us(self, value: float) -> str:
        unit, factor, offset = _IN_US.get(self.unit, (self.unit, 1.0, 0.0))
        return f"{value * factor + offset:.4g} {unit}"

    def validate(self, value: object, info: ValidationInfo) -> float:
        """Read a value for pydantic: text with a unit, or (not in files) an SI number."""
        if isinstance(value, str):
            return read_quantity(value, self)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.refused("expected {what} as text with a unit: {example}")
        if info.context and info.context.get("file"):
            raise self.refused("a unit is due: write {what} as text, such as {example}")
        return self.check(float(value), repr(value))

    def check(self, value: float, shown: str) -> float:
        """Return the value if it is finite and plausible, else raise `UnitsError`."""
        if not math.isfinite(value):
            raise self.refused("{said} is not a finite number; write {what} such as {example}", shown)
        if not self.low <= value <= self.high:
            low, high = (EXAMPLE((f"{end:g} {self.unit}", self._in_us(end))) for end in (self.low, self.high))
            said = "{said} is out of range: expected between {low} and {high}, such as {example}"
            raise UnitsError(Sentence(said, said=WRITTEN(shown), low=low, high=high, example=self.as_written))
        return value

    def serialize(self, value: float, info: SerializationInfo) -> float | str:
        """Give the SI number, or text with its unit when a file is written (context ``{"file": True}``)."""
        return self.written(value) if info.context and info.context.get("file") else value

    def written(self, value: float) -> str:
        """The value as text with its unit, in as few digits as read back as the same value."""
        return f"{fewest_digits(value)} {self.unit}"

    def __get_pydantic_core_schema__(self, source: object, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Let ``Annotated[float, kind]`` read and write this kind in pydantic models."""
        write = core_schema.plain_serializer_function_ser_schema(self.serialize, info_arg=True)
        return core_schema.with_info_plain_validator_function(self.validate, serialization=write)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """Describe the text form to an editor."""
        return {
            "type": "string",
            "description": f"{self.name} with its unit",
            "examples": [self.example],
            "pattern": self.pattern,
        }

    @property
    def pattern(self) -> str:
        """A regular expression of texts of this kind in units that people use, for editors; the reader knows more."""
        units = sorted({*COMMON[self.unit], *_FURTHER.get(self.unit, ())}, key=lambda unit: (-len(unit), unit))
        spelled = "|".join(re.escape(unit) for unit in units)
        number = r"[+-]?[0-9]*[.,]?[0-9]+(?:[eE][+-]?[0-9]{1,3})?"
        gauge = r"|#?\s*(?:[0-9]{1,2}|[1-4]/0)\s*[Aa][Ww][Gg]" if self.unit == "mm2" else ""
        return rf"^\s*(?:{number}\s*(?:{spelled}){gauge})\s*$"


@lru_cache(maxsize=1)
def _registry() -> "pint.UnitRegistry[Any]":
    import pint

    try:
        return pint.UnitRegistry(cache_folder=":auto:")
    except (OSError, RuntimeError):  # no home, or one that nothing may be written to
        return pint.UnitRegistry()


def read_quantity(text: str, kind: Kind) -> float:
    """Read a quantity such as ``"3.2 kW"`` into an SI float in the kind's unit.

    Parameters
    ----------
    text : str
        Number and unit. Cables may be given by gauge (``"12 AWG"``).
    kind : Kind
        What is expected; its unit is the unit of the result.

    Raises
    ------
    UnitsError
        If the text has no number, no unit, an unknown unit, another dimension, or an implausible value.

    Examples
    --------
    >>> read_quantity("3.2 kW", POWER)
    3200.0
    >>> round(read_quantity("152 degF", TEMPERATURE), 3)
    66.667
    >>> read_quantity("5 kg", POWER)
    Traceback (most recent call last):
    energyplan.base.errors.UnitsError: "5 kg" is no power: expected a unit such as in "2 kW"
    """
    return _read_cached(text, kind)


@lru_cache(maxsize=4096)
def _read_cached(text: str, kind: Kind) -> float:
    if kind.unit == "mm2" and (gauge := _AWG.fullmatch(text.strip())):
        return kind.check(_gauge_mm2(gauge[1]), f'"{text}"')
    match = QUANTITY.fullmatch(text) if len(text) <= LONGEST_TEXT else None
    if match is None:
        raise kind.refused('"{said}" is not a number with a unit: write {what} as {example}', text[:LONGEST_TEXT])
    number, unit = _with_point(match[1], match[2], kind), match[2]
    if _TOWER.search(unit):
        raise kind.refused('"{said}": "{unit}" is not a unit; write {what} as {example}', text, unit)
    if not unit:
        raise kind.refused('"{said}" has no unit: write {what} as {example}', text)
    return kind.check(_to_unit(number, unit, kind, text), f'"{text}"')


def _with_point(number: str, unit: str, kind: Kind) -> str:
    """A number with a decimal comma or point, as one with a point; refused where a comma can mean two things."""
    if _NUMBER.fullmatch(number):
        return number
    if _THOUSANDS.fullmatch(number):
        whole, point = (
            f"{number.replace(',', '')} {unit}".rstrip(),
            f"{_trimmed(number.replace(',', '.'))} {unit}".rstrip(),
        )
        raise UnitsError(f'"{number} {unit}" can mean "{whole}" or "{point}": write the one you mean')
    if comma := _DECIMAL_COMMA.fullmatch(number):
        return f"{comma[1] or '0'}.{comma[2]}{comma[3] or ''}"
    said = '"{said}" is not a number with a unit: write {what} with one decimal point, {example}'
    raise kind.refused(said, f"{number} {unit}")


def _trimmed(number: str) -> str:
    return number.rstrip("0").rstrip(".") if "." in number else number


def fewest_digits(value: float) -> str:
    """A number in as few digits as read back as the same."""
    return _trimmed(repr(value)) if "e" not in repr(value) else repr(value)


def _gauge_mm2(gauge: str) -> float:
    """Cross-section of an American wire gauge [mm2] from its geometric definition (ASTM B258)."""
    number = 1 - int(gauge[0]) if gauge.endswith("/0") else int(gauge)
    diameter_mm: float = 0.127 * 92.0 ** ((36 - number) / 39)
    return math.pi / 4 * diameter_mm**2


def _to_unit(number: str, unit: str, kind: Kind, text: str) -> float:
    if (factor := COMMON[kind.unit].get(unit)) is not None:
        return float(Decimal(number) * factor)
    if kind.unit == "degC" and unit in FAHRENHEIT:
        return (float(number) - 32.0) / 1.8
    return _by_pint(float(number), unit, kind, text)


def _by_pint(number: float, unit: str, kind: Kind, text: str) -> float:
    import pint

    registry = _registry()
    spelled = _POWERED.sub(r"\1**\2", _SPELLED.get(unit, unit))
    target = _POWERED.sub(r"\1**\2", _SPELLED.get(kind.unit, kind.unit))
    try:
        return float(registry.Quantity(number, spelled).to(target).magnitude)
    except pint.UndefinedUnitError:
        raise kind.refused('"{said}": the unit "{unit}" is not known; write {what} as {example}', text, unit) from None
    except (pint.DimensionalityError, pint.OffsetUnitCalculusError):
        raise kind.refused(
            f'"{{said}}" is no {_bare(kind.name)}: expected a unit such as in {{example}}', text
        ) from None
    except Exception:  # noqa: BLE001 - pint's tokenizer answers odd unit texts with errors of many kinds
        raise kind.refused('"{said}": "{unit}" is not a unit; write {what} as {example}', text, unit) from None


def _bare(name: str) -> str:
    return re.sub(r"^an? ", "", name)


def convert(value: Number, unit: str, target: str) -> Number:
    """Convert a float or an array from one unit to another (temperatures with their offset).

    >>> round(convert(66.0, "degC", "degF"), 1)
    150.8
    """
    if unit == target:
        return value
    converted: Number = _registry().Quantity(value, unit).to(target).magnitude
    return converted


@dataclass(frozen=True, slots=True)
class Display:
    """How results are written for the reader: the only place that knows of a unit system.

    >>> Display("us").volume(26.5), Display("metric").temperature(66.0)
    ('7.00 gal', '66.0 °C')
    """

    system: UnitSystem = "metric"

    def temperature(self, value_c: float, digits: int = 1) -> str:
        """Write an absolute temperature."""
        return f"{self.temperature_number(value_c):.{digits}f} {self.temperature_unit}"

    def temperature_number(self, value_c: Number) -> Number:
        """Convert temperatures [°C] to the displayed unit."""
        return convert(value_c, "degC", "degC" if self.system == "metric" else "degF")

    @property
    def temperature_unit(self) -> str:
        """Name of the displayed unit of temperature."""
        return "°C" if self.system == "metric" else "°F"

    def volume(self, value_l: float) -> str:
        """Write a volume."""
        return f"{value_l:.1f} L" if self.system == "metric" else f"{convert(value_l, 'L', 'gallon'):.2f} gal"


MASS = Kind(name="a mass", unit="kg", low=0.0, high=2000.0, example="5.8 kg", us="13 lb")
VOLUME = Kind(name="a volume", unit="L", low=0.0, high=5000.0, example="27 L", us="7 gal")
LENGTH = Kind(name="a length", unit="m", low=0.0, high=1000.0, example="36 cm", us="14 in")
AREA = Kind(name="an area", unit="m2", low=1e-6, high=10.0, example="420 cm2", us="65 in2")
TEMPERATURE = Kind(name="a temperature", unit="degC", low=-60.0, high=130.0, example="67 degC", us="152 degF")
DIFFERENCE = Kind(name="a temperature difference", unit="K", low=0.05, high=20.0, example="0.5 K")
POWER = Kind(name="a power", unit="W", low=0.0, high=200_000.0, example="2 kW")
ENERGY = Kind(name="an energy", unit="kWh", low=0.0, high=100_000.0, example="7.1 kWh")
VOLTAGE = Kind(name="a voltage", unit="V", low=50.0, high=1000.0, example="230 V", us="120 V")
CURRENT = Kind(name="a current", unit="A", low=0.1, high=1000.0, example="16 A")
RESISTANCE = Kind(name="a resistance", unit="ohm", low=0.0, high=10_000.0, example="0.35 ohm")
DURATION = Kind(name="a duration", unit="s", low=0.0, high=60 * 86400.0, example="60 min")
HEAT_LOSS = Kind(name="a heat loss per kelvin", unit="W/K", low=0.01, high=1000.0, example="4.8 W/K", us="9 BTU/h/degF")
LOSS_WITHIN = Kind(name="a half width", unit="W/K", low=0.001, high=500.0, example="0.3 W/K", us="0.6 BTU/h/degF")
HEAT_CAPACITY = Kind(name="a stored heat per kelvin", unit="J/K", low=10.0, high=1e6, example="6 kJ/K")
CONDUCTIVITY = Kind(name="a thermal conductivity", unit="W/m/K", low=0.005, high=500.0, example="0.04 W/m/K")
CROSS_SECTION = Kind(name="a conductor cross-section", unit="mm2", low=0.2, high=240.0, example="2.5 mm2", us="12 AWG")
VOLUME_PER_MASS = Kind(name="a volume per mass", unit="L/kg", low=0.0, high=3.0, example="0.8 L/kg", us="0.4 qt/lb")
ALTITUDE = Kind(name="a height above the sea", unit="m", low=-430.0, high=6000.0, example="240 m", us="800 ft")
SPEED = Kind(name="a speed", unit="m/s", low=0.0, high=20.0, example="0.5 m/s", us="1.6 ft/s")


Mass = Annotated[float, MASS]
Volume = Annotated[float, VOLUME]
Length = Annotated[float, LENGTH]
Altitude = Annotated[float, ALTITUDE]
Area = Annotated[float, AREA]
Temperature = Annotated[float, TEMPERATURE]
Power = Annotated[float, POWER]
Energy = Annotated[float, ENERGY]
Voltage = Annotated[float, VOLTAGE]
Current = Annotated[float, CURRENT]
Resistance = Annotated[float, RESISTANCE]
Duration = Annotated[float, DURATION]
HeatLoss = Annotated[float, HEAT_LOSS]
HeatCapacity = Annotated[float, HEAT_CAPACITY]
Conductivity = Annotated[float, CONDUCTIVITY]
CrossSection = Annotated[float, CROSS_SECTION]
VolumePerMass = Annotated[float, VOLUME_PER_MASS]
Speed = Annotated[float, SPEED]
