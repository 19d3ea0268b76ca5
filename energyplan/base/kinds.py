r"""Kinds of value: what a number, a moment or a text *is*, and the one way in which it is written.

A value of a kind is written the same wherever it is told: rounding, unit and unit system belong to the kind, not to
the page. Inside everything is SI (or the unit that the kind's name says); only `write` converts.

>>> write(CELSIUS(67.64)), write(CELSIUS(71.0)), write(CELSIUS(67.64), Style("us"))
('67.6 °C', '71 °C', '153.8 °F')
>>> write(AMPERES(19.34)), write(WATTS(2600.0)), write(KWH(-0.001))
('19.3 A', '2600 W', '0.00 kWh')
>>> write(WRITTEN("Rest [beta]\x1b[31m"))
'Rest [beta]\\u001b[31m'
"""

import math
import re
from collections.abc import Callable
from datetime import UTC, date, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any, Literal

from energyplan.base.errors import Place, visible
from energyplan.base.money import ESTIMATE_MARK, Money, currency_decimals
from energyplan.base.records import dataclass

UnitSystem = Literal["metric", "us"]


@dataclass(frozen=True, slots=True)
class Style:
    """How a face writes: its unit system, what makes a person's text harmless there, how it names a key of a file."""

    units: UnitSystem = "metric"
    written: Callable[[str], str] = visible
    key: Callable[[Place], str] = str


PLAIN = Style()


@dataclass(frozen=True, slots=True)
class Shown:
    """A unit in which a number is shown: ``number * factor + offset`` with so many decimals."""

    unit: str
    digits: int
    factor: float = 1.0
    offset: float = 0.0
    suffix: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Kind:
    """What a value is.

    Parameters
    ----------
    key : str
        Name, for tests and faces that colour or align by kind.
    metric, us : Shown
        The unit shown in each system; electrical and other kinds have one for both.
    significant : bool
        ``digits`` counts significant digits, so that small values keep theirs.
    special : callable, optional
        Writes values that are no plain numbers (moments, money, texts).
    """

    key: str
    metric: Shown
    us: Shown
    significant: bool = False
    special: "Callable[[Any, Style], str] | None" = None

    def __call__(self, raw: Any, *, signed: bool = False) -> "Value":
        """A value of this kind; ``signed`` writes a plus where it is more."""
        return Value(self, raw, signed)

    @property
    def is_text(self) -> bool:
        """Whether values stand on the left of a column."""
        return self.key in {"written", "word", "key", "phase"}

    def __repr__(self) -> str:
        return self.key.upper()

    def __reduce__(self) -> tuple[Any, ...]:
        return _kind_named, (self.key,)


@dataclass(frozen=True, slots=True)
class Value:
    """A raw value, and what it is."""

    kind: Kind
    raw: Any
    signed: bool = False

    def __str__(self) -> str:
        return write(self)


@dataclass(frozen=True, slots=True)
class Moment:
    """A moment as a clock shows it.

    ``at`` is aware and local; ``start`` is the day on which the telling begins: on another day the day is said.
    ``zoned`` names the zone as well, for a day on which the clock moves.

    >>> from datetime import timedelta
    >>> at = datetime(2026, 12, 6, 0, 8, tzinfo=UTC)
    >>> write(MOMENT(Moment(at, date(2026, 12, 5)))), write(MOMENT(Moment(at, date(2026, 12, 6))))
    ('Sun 6 Dec 00:08', '00:08')
    """

    at: datetime
    start: date
    zoned: bool = False


@dataclass(frozen=True, slots=True)
class Price:
    """Money per kWh: exact, in units of the currency; ``is_estimate`` where it is guessed."""

    per_kwh: Decimal | Fraction | float
    currency: str
    is_estimate: bool = False


@dataclass(frozen=True, slots=True)
class PerLitre:
    """Money per litre of wort.

    >>> write(COST_PER_VOLUME(PerLitre(0.1, "EUR"))), write(COST_PER_VOLUME(PerLitre(0.1, "EUR")), Style("us"))
    ('0.100 EUR/L', '0.379 EUR/gal')
    """

    per_l: float
    currency: str


def figure(value: Value, style: Style = PLAIN) -> str:
    """A value as it stands in a column under its unit: always the kind's decimals, no unit.

    >>> figure(CELSIUS(71.0)), figure(KWH(7.666)), figure(WRITTEN("Boil"))
    ('71.0', '7.67', 'Boil')
    """
    if value.kind.special:
        return _sign(value, value.kind.special(value.raw, style))
    return _sign(value, _number(value.raw, value.kind, style))


def write(value: Value, style: Style = PLAIN) -> str:
    """A value in words: number and unit, ``.0`` left out."""
    if value.kind.special:
        return _sign(value, value.kind.special(value.raw, style))
    shown = value.kind.metric if style.units == "metric" else value.kind.us
    number = _number(value.raw, value.kind, style)
    if shown.digits == 1 and number.endswith(".0"):
        number = number[:-2]
    return _sign(value, f"{number} {shown.unit}".rstrip())


def unit_of(kind: Kind, style: Style = PLAIN) -> str:
    """The unit that stands in the heading of a column.

    >>> unit_of(LITRES), unit_of(LITRES, Style("us"))
    ('L', 'gal')
    """
    return (kind.metric if style.units == "metric" else kind.us).unit


def raw(value: Value) -> Any:
    """A value for a machine: unrounded, SI, UTC; plain types of JSON.

    >>> raw(MOMENT(Moment(datetime(2026, 12, 6, 0, 8, tzinfo=UTC), date(2026, 12, 5))))
    '2026-12-06T00:08:00Z'
    """
    given = value.raw
    if isinstance(given, Moment):
        return given.at.astimezone(UTC).isoformat().replace("+00:00", "Z")
    if isinstance(given, date):
        return given.isoformat()
    if isinstance(given, Money | Decimal | Fraction):
        return float(given)
    if isinstance(given, Price | PerLitre):
        return float(given.per_kwh if isinstance(given, Price) else given.per_l)
    if value.kind.key == "counted":
        return given[0]
    return given.item() if hasattr(given, "item") else given


def _sign(value: Value, text: str) -> str:
    if not value.signed or text.startswith(("-", "+")):
        return text
    return text if not re.search(r"[1-9]", text) else f"+{text}"


def _number(given: float, kind: Kind, style: Style) -> str:
    shown = kind.metric if style.units == "metric" else kind.us
    number = float(given) * shown.factor + shown.offset
    digits = shown.digits
    if kind.significant and number and math.isfinite(number):
        digits = max(shown.digits - 1 - math.floor(math.log10(abs(number))), 0)
    text = f"{number:.{digits}f}"
    return text.removeprefix("-") if not re.search(r"[1-9]", text) else text


def _money(given: Money, style: Style) -> str:  # noqa: ARG001 - the same in every style
    return str(given) if re.search(r"[1-9]", str(given.rounded())) else str(given).removeprefix("-")


_BEYOND = 12  # decimals [our choice]: more than any tariff has, fewer than a float


def _price(given: Price, style: Style) -> str:  # noqa: ARG001
    digits = currency_decimals(given.currency) + 2
    exact = round(round(Fraction(given.per_kwh), _BEYOND), digits)  # one from an array rounds as the exact one does
    mark = ESTIMATE_MARK if given.is_estimate else ""
    return f"{mark}{float(exact):.{digits}f} {given.currency}/kWh"


def _per_litre(given: PerLitre, style: Style) -> str:
    per, unit = (given.per_l, "L") if style.units == "metric" else (given.per_l / _GAL, "gal")
    return f"{per:.{currency_decimals(given.currency) + 1}f} {given.currency}/{unit}"


def _moment(given: Moment, style: Style) -> str:  # noqa: ARG001
    clock = f"{given.at:%H:%M} {given.at:%Z}" if given.zoned else f"{given.at:%H:%M}"
    return clock if given.at.date() == given.start else f"{_day(given.at)} {clock}"


def _day(given: date) -> str:
    # Not by strftime, which speaks the language of the machine.
    return f"{_DAYS[given.weekday()]} {given.day} {_MONTHS[given.month - 1]}"


_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def weekday_name(given: date) -> str:
    """Short name of a weekday.

    >>> weekday_name(date(2026, 12, 5))
    'Sat'
    """
    return _DAYS[given.weekday()]


def _dated(given: datetime, style: Style) -> str:  # noqa: ARG001
    twice = given.replace(fold=0).utcoffset() != given.replace(fold=1).utcoffset()  # a clock that is put back
    zone = f" {given:%Z}" if twice else ""
    return f"{given:%H:%M}{zone} on {_day(given)} {given.year}"


def _date(given: date, style: Style) -> str:  # noqa: ARG001
    return f"{_day(given)} {given.year}"


def _minutes(given: float, style: Style) -> str:  # noqa: ARG001
    if not math.isfinite(given):  # what an entry that is refused may be
        return f"{given:g} min"
    minutes = round(float(given))
    if abs(minutes) < 120:
        return f"{minutes} min" if minutes or not given else "less than a minute"
    sign, minutes = "-" if minutes < 0 else "", abs(minutes)
    hours, rest = divmod(minutes, 60)
    if hours < 48:
        return f"{sign}{hours} h {rest:02d} min" if rest else f"{sign}{hours} h"
    days, hours = divmod(round(minutes / 60), 24)
    return f"{sign}{days} days {hours} h" if hours else f"{sign}{days} days"


def _clock(given: int, style: Style) -> str:  # noqa: ARG001
    hours, minutes = divmod(int(given), 60)
    return f"{hours:02d}:{minutes:02d}"


def _ohms(given: float, style: Style) -> str:
    """Three digits, at most two of them decimals: a fault loop has tenths of an ohm, an earth electrode hundreds.

    >>> [write(OHMS(ohm)) for ohm in (0.3406, 9.996, 12.0, 166.67, 1300.0)]
    ['0.34 Ω', '10 Ω', '12 Ω', '167 Ω', '1300 Ω']
    """
    size = abs(float(given))
    digits = 2 if size < 9.995 else 1 if size < 99.95 else 0
    return write(Value(_one("resistance", "Ω", digits), given), style)


def _share(given: float, style: Style) -> str:  # noqa: ARG001
    percent = float(given) * 100
    if 0 < percent < 0.05:
        return "less than 0.1 %"
    text = f"{percent:.1f}" if 0 < abs(percent) < 9.95 else f"{percent:.0f}"
    return f"{text.removesuffix('.0')} %"


def _odds(given: float, style: Style) -> str:  # noqa: ARG001
    """A share of days, never told as more than it is."""
    share = float(given)
    days = 10 if share < 0.95 else 20 if share < 0.99 else 100
    whole = math.floor(share * days + 1e-9)
    few = {days: "every day", 1: f"1 day of {days}", 0: "hardly a day" if share > 0 else "no day"}
    return few.get(whole, f"{whole} days of {days}")


def _counted(given: tuple[int, str, str], style: Style) -> str:  # noqa: ARG001
    number, one, many = given
    return f"{number} {one if number == 1 else many}"


def _one(key: str, unit: str, digits: int) -> Kind:
    shown = Shown(unit, digits)
    return Kind(key, shown, shown)


def _two(key: str, metric: Shown, us: Shown) -> Kind:
    return Kind(key, metric, us, significant=key in {"heat loss", "stored heat"})


def _special(key: str, special: Callable[[Any, Style], str], unit: str = "") -> Kind:
    shown = Shown(unit, 0)
    return Kind(key, shown, shown, special=special)


# Exact by definition: international pound, inch and foot, US gallon of 231 cubic inches (NIST SP 811, appendix B.8;
# from memory, held to pint by a test).
_LB = 1 / 0.45359237
_GAL = 1 / 3.785411784
_FT = 1 / 0.3048
_IN = 1 / 0.0254
_FAHRENHEIT = 1.8

_PER_K, _PER_F = 1.0, 1 / _FAHRENHEIT
_SQ_IN = 2.54**2

CELSIUS = _two("temperature", Shown("°C", 1, suffix="c"), Shown("°F", 1, _FAHRENHEIT, 32.0, "f"))
OR_COLDER = Kind(
    "or colder", CELSIUS.metric, CELSIUS.us,
    special=lambda given, style: f"≤{_number(given, CELSIUS, style).removesuffix('.0')}",
)  # fmt: skip
KELVIN = _two("difference", Shown("K", 1, suffix="k"), Shown("°F", 1, _FAHRENHEIT, suffix="f"))
LITRES = _two("volume", Shown("L", 1, suffix="l"), Shown("gal", 2, _GAL, suffix="gal"))
LITRES_PER_HOUR = _two("rate", Shown("L/h", 1, suffix="l_per_h"), Shown("gal/h", 2, _GAL, suffix="gal_per_h"))
LITRES_PER_KG = _two("thickness", Shown("L/kg", 1, suffix="kg"), Shown("gal/lb", 2, _GAL / _LB, suffix="lb"))
KILOGRAMS = _two("mass", Shown("kg", 2, suffix="kg"), Shown("lb", 2, _LB, suffix="lb"))
GRAMS = _two("small mass", Shown("g", 0, suffix="g"), Shown("oz", 1, _LB * 16 / 1000, suffix="oz"))
METRES = _two("length", Shown("m", 1, suffix="m"), Shown("ft", 1, _FT, suffix="ft"))
CENTIMETRES = _two("small length", Shown("cm", 1, 100.0, suffix="m"), Shown("in", 1, _IN, suffix="in"))
AREA = _two("area", Shown("cm²", 0, 10_000.0, suffix="m2"), Shown("in²", 0, _IN**2, suffix="in2"))
WATTS_PER_KELVIN = _two("heat loss", Shown("W/K", 2, _PER_K, suffix="k"), Shown("W/°F", 2, _PER_F, suffix="f"))
KILOJOULES_PER_KELVIN = _two("stored heat", Shown("kJ/K", 2, _PER_K / 1000), Shown("kJ/°F", 2, _PER_F / 1000))
WATTS_PER_CM2 = _two("watt density", Shown("W/cm²", 1, suffix="cm2"), Shown("W/in²", 1, _SQ_IN, suffix="in2"))
KWH_PER_HL = _two("energy per volume", Shown("kWh/hL", 1, suffix="hl"), Shown("kWh/gal", 2, 0.01 / _GAL, suffix="gal"))

WATTS = _one("power", "W", 0)
KILOWATTS = _one("large power", "kW", 1)
KWH = _one("energy", "kWh", 2)
AMPERES = _one("current", "A", 1)
VOLTS = _one("voltage", "V", 1)
OHMS = _special("resistance", _ohms, "Ω")
OFF = _special("off", lambda given, style: "off", "W")  # noqa: ARG005 - in place of 0 W
GRAVITY = _one("gravity", "", 3)
COUNT = _one("count", "", 0)
NUMBER = _one("number", "", 2)
FRACTION = _one("fraction", "", 3)
HOURS = _one("hours", "h", 1)

SHARE = _special("share", _share)
ODDS = _special("odds", _odds)
EXAMPLE = _special("example", lambda pair, style: str(pair[style.units == "us"]))  # of a metric and of a US text
MINUTES = _special("minutes", _minutes, "min")
MOMENT = _special("moment", _moment)
DATED = _special("dated", _dated)
CLOCK = _special("clock", _clock)  # minutes since midnight
DATE = _special("date", _date)
DAY = _special("day", lambda given, style: _day(given))  # noqa: ARG005
MONEY = _special("money", _money)
PRICE = _special("price", _price)
COST_PER_VOLUME = _special("cost per volume", _per_litre)
WRITTEN = _special("written", lambda given, style: style.written(given))
KEY = _special("key", lambda given, style: style.key(given if isinstance(given, Place) else Place.of(given)))
WORD = _special("word", lambda given, style: str(given))  # noqa: ARG005
PHASE = _special("phase", lambda given, style: str(given))  # noqa: ARG005
_COUNTED = _special("counted", _counted)

_BY_NAME = {kind.key: kind for kind in list(globals().values()) if isinstance(kind, Kind)}


def _kind_named(key: str) -> Kind:
    return _BY_NAME[key]


def counted(number: int, one: str, many: str = "") -> Value:
    """A number with its noun.

    >>> write(counted(1, "hold")), write(counted(3, "hold")), write(counted(2, "loss", "losses"))
    ('1 hold', '3 holds', '2 losses')
    """
    return Value(_COUNTED, (number, one, many or f"{one}s"))
