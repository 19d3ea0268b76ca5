"""The model of the tariff file, its units of price and its money."""

import re
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, field_validator

from energyplan.base.errors import ClockError
from energyplan.base.records import dataclass
from energyplan.tariffs.clock import FIRST_YEAR, LAST_YEAR, zone_of
from energyplan.tariffs.dayrules import EVERY_DAY, parse_clock, parse_dates, parse_days, parse_months

__all__ = [
    "AddOn",
    "Band",
    "CarbonSource",
    "Generation",
    "Holidays",
    "PeakCharge",
    "PriceSource",
    "PriceUnit",
    "Rule",
    "TariffFile",
    "TariffTable",
    "Tier",
    "money_text",
    "parse_price_unit",
    "reckonable",
]

_MOST_DECIMALS = 40


# Words for a hundredth, and the currencies they belong to; an empty set means any.
_HUNDREDTHS: dict[str, frozenset[str]] = {
    **dict.fromkeys(("ct", "c", "cent", "cents"), frozenset[str]()),
    **dict.fromkeys(("p", "pence", "penny"), frozenset({"GBP", "GIP", "FKP", "SHP"})),
    **dict.fromkeys(("øre", "öre", "ore"), frozenset({"NOK", "DKK", "SEK"})),
    **dict.fromkeys(("gr", "grosz", "groszy"), frozenset({"PLN"})),
    **dict.fromkeys(("rp", "rappen", "centime", "centimes"), frozenset({"CHF", "XPF", "MAD"})),
    **dict.fromkeys(("haléř", "haléřů", "hal"), frozenset({"CZK"})),
    **dict.fromkeys(("paise", "paisa"), frozenset({"INR", "PKR", "NPR"})),
    "fen": frozenset({"CNY"}),
    "sen": frozenset({"MYR", "IDR", "JPY"}),
}


_SIGNS = {"€": frozenset({"EUR"}), "£": frozenset({"GBP"}), "$": frozenset({"USD", "CAD", "AUD", "NZD", "SGD"})}


def reckonable(number: Decimal, limit: Decimal) -> bool:
    """Whether a number from a file can be turned into a fraction without growing beyond bounds.

    >>> reckonable(Decimal("14.2"), Decimal(1000)), reckonable(Decimal("1e-999999"), Decimal(1000))
    (True, False)
    """
    exponent = number.as_tuple().exponent
    return isinstance(exponent, int) and exponent >= -_MOST_DECIMALS and number.copy_abs() <= limit


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceUnit:
    """What a bare price in a tariff file counts.

    Parameters
    ----------
    text : str
        As written, ``ct/kWh``.
    money : Fraction
        Units of currency to one of what is counted: 1/100 for cents.
    kwh : int
        Kilowatt-hours it is charged for: 1, or 1000 for a price per MWh.
    """

    text: str
    money: Fraction
    kwh: int

    def nano_per_kwh(self, price: Decimal) -> int:
        """Price in billionths of the currency per kWh.

        >>> parse_price_unit("ct/kWh", "EUR").nano_per_kwh(Decimal("14.2"))
        142000000
        """
        return round(Fraction(price) * self.money * 1_000_000_000 / self.kwh)


def _money_word(word: str, currency: str) -> Fraction | None:
    """Units of currency that a word of money stands for; None when the two don't go together."""
    if word.upper() == currency or currency in _SIGNS.get(word, ()):
        return Fraction(1)
    homes = _HUNDREDTHS.get(word.lower())
    if homes is None or (homes and currency not in homes):
        return None
    return Fraction(1, 100)


def parse_price_unit(text: str, currency: str) -> PriceUnit:
    """Read a unit of price such as ``ct/kWh`` or ``EUR/MWh``.

    Raises
    ------
    ValueError
        If it is no money per kWh or MWh, or not of this currency.

    Examples
    --------
    >>> parse_price_unit("EUR/MWh", "EUR").kwh
    1000
    """
    word, slash, energy = (piece.strip() for piece in text.partition("/"))
    kwh = {"kwh": 1, "mwh": 1000}.get(energy.lower())
    money = _money_word(word, currency)
    if not slash or kwh is None:
        raise ValueError(f'write money per kWh or MWh, such as "{currency}/kWh" or "ct/kWh"')
    if money is None:
        raise ValueError(f'{word!r} is no money of {currency}; write "{currency}/kWh" or a word for its cent')
    return PriceUnit(text=text, money=money, kwh=kwh)


def money_text(value: Decimal | str, currency: str, bare: Fraction) -> Fraction:
    """Amount in units of currency of a bare number, or of a text that carries its money.

    Parameters
    ----------
    value : Decimal or str
        ``61.0``, or ``"0.61 EUR"``.
    bare : Fraction
        Units of currency that a bare number counts.

    Raises
    ------
    ValueError
        If the text is not a number and a word of this currency.

    Examples
    --------
    >>> money_text("61 ct", "EUR", Fraction(1))
    Fraction(61, 100)
    """
    if isinstance(value, Decimal):
        return Fraction(value) * bare
    found = re.fullmatch(r"\s*([+-]?\d+(?:\.\d+)?)\s*(\D\S*)\s*", value)
    money = _money_word(found[2].strip(), currency) if found else None
    if found is None or money is None:
        raise ValueError(f'write a number, or a number with its money: "0.61 {currency}"')
    return Fraction(found[1]) * money


_NUMBER_LIMIT = Decimal(1_000_000_000)


def _number(value: object) -> object:
    """A TOML number, exact: whole, or Decimal as the reader was told to make it."""
    exact = Decimal(value) if isinstance(value, (int, Decimal)) and not isinstance(value, bool) else None
    if exact is None:
        raise ValueError("write a number without quotes, such as 14.2")
    if not reckonable(exact, _NUMBER_LIMIT):
        raise ValueError("write a finite number of ordinary size")
    return exact


def _amount(value: object) -> object:
    """A number, or a text that `money_text` will read."""
    return value if isinstance(value, str) else _number(value)


def _day(value: object) -> object:
    plain = isinstance(value, date) and not isinstance(value, datetime)
    if not plain:
        raise ValueError("write a date without quotes, as 2026-12-24")
    if isinstance(value, date) and not FIRST_YEAR <= value.year <= LAST_YEAR:
        raise ValueError(f"expected a date from {FIRST_YEAR} to {LAST_YEAR}")
    return value


def _flag(value: object) -> object:
    if value is not True and value is not False:
        raise ValueError("write true or false")
    return value


def _minutes_of_a_step(value: object) -> object:
    whole = isinstance(value, int) and not isinstance(value, bool)
    if not whole or not 1 <= int(str(value)) <= 24 * 60:
        raise ValueError("expected whole minutes from 1 to 1440, such as 15, 30 or 60")
    return value


Number = Annotated[Decimal, BeforeValidator(_number)]


Share = Annotated[Decimal, BeforeValidator(_number), Field(ge=0, le=100)]


Amount = Annotated[Decimal | str, BeforeValidator(_amount)]


Day = Annotated[date, BeforeValidator(_day)]


Flag = Annotated[bool, BeforeValidator(_flag)]


ClockMinute = Annotated[int, BeforeValidator(parse_clock)]


DaySet = Annotated[frozenset[int], BeforeValidator(parse_days)]


MonthSet = Annotated[frozenset[int], BeforeValidator(parse_months)]


DateRanges = Annotated[tuple[tuple[int, int], ...], BeforeValidator(parse_dates)]


Name = Annotated[str, Field(min_length=1, max_length=80)]


StepMinutes = Annotated[int, BeforeValidator(_minutes_of_a_step)]


WindowMinutes = Literal[10, 15, 30, 60]


class _Table(BaseModel):
    model_config = ConfigDict(
        frozen=True, extra="forbid", strict=False, arbitrary_types_allowed=False, defer_build=True
    )


class Rule(_Table):
    """A price with the days and the hours for which it holds.

    Hours are half-open on the local clock, and wrap midnight when ``to`` is not after ``from``.
    ``night_belongs_to`` then says whose day decides for the hours after midnight: the calendar
    day they lie in, or the day on which the window opened.
    """

    name: Name
    price: Number
    days: DaySet = EVERY_DAY
    months: MonthSet | None = None
    dates: DateRanges | None = None
    from_minute: ClockMinute | None = Field(default=None, alias="from")
    to_minute: ClockMinute | None = Field(default=None, alias="to")
    night_belongs_to: Literal["calendar day", "start day"] = "calendar day"

    @property
    def limited(self) -> bool:
        """Whether it names days, a season or hours at all."""
        named = self.model_fields_set & {"days", "months", "dates", "from_minute", "to_minute", "night_belongs_to"}
        return bool(named)


class Band(Rule):
    """One of the bands that together cover every minute of the week."""

    otherwise: Flag = False


class AddOn(Rule):
    """A price on top of the bands or of the series: network, levy, evening adder."""


class Tier(_Table):
    """A price on top for what a calendar month's use has above a limit.

    ``per = "day"`` says that the limit is so much for each day of the month, ``months`` that it holds in these only.
    """

    above_kwh: Annotated[Decimal, BeforeValidator(_number), Field(ge=0)]
    price: Number
    per: Literal["month", "day"] = "month"
    months: MonthSet | None = None


class Holidays(_Table):
    """Days that count as another weekday, or for which bands say "holiday".

    ``region`` is needed where a country's regions keep different days; ``"national"`` takes
    only those of the whole country. ``observed`` adds the day in lieu of one on a weekend.
    """

    country: Annotated[str, Field(min_length=2, max_length=3)] | None = None
    region: str | None = None
    observed: Flag = True
    treat_as: Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun", "holiday"] | None = None
    add: tuple[Day, ...] = ()
    remove: tuple[Day, ...] = ()


class _SeriesSource(_Table):
    """Where a series of numbers over time stands and how its time stamps are meant."""

    file: Annotated[str, Field(min_length=1, max_length=255)]
    time_column: Name = "start"
    time_format: str | None = None
    stamp: Literal["start", "end"] = "start"
    clock: Literal["utc", "local", "offset in file"] = "utc"
    step_minutes: StepMinutes = 60


class PriceSource(_SeriesSource):
    """A series of prices instead of bands; ``unit`` when it isn't the tariff's own."""

    price_column: Name = "price"
    unit: str | None = None
    step_minutes: StepMinutes
    billed_minutes: StepMinutes | None = None


class CarbonSource(_SeriesSource):
    """A series of what the grid emits per kWh."""

    carbon_column: Name = "carbon"
    unit: Literal["g/kWh", "kg/MWh", "kg/kWh"] = "g/kWh"


class Generation(_SeriesSource):
    """A series of the power left over from the brewer's own roof, taken off before pricing.

    What is used of it costs what its export would have paid: ``export_price``.
    """

    power_column: Name = "power"
    unit: Literal["kW", "W"] = "kW"
    export_price: Number


class PeakCharge(_Table):
    """A charge for the month's highest mean power over fixed windows of the clock.

    ``price_per_kw_month`` counts whole units of the currency when it is a bare number; write
    ``"390 ct"`` to say otherwise.
    """

    window_minutes: WindowMinutes
    price_per_kw_month: Amount
    free_up_to_kw: Annotated[Decimal, BeforeValidator(_number), Field(ge=0)] = Decimal(0)


class TariffTable(_Table):
    """The table ``[tariff]``."""

    name: Name
    currency: Annotated[str, Field(pattern="^[A-Z]{3}$")]
    price_unit: str
    time_zone: str
    clock: Literal["wall", "standard"] = "wall"
    valid_from: Day | None = None
    valid_to: Day | None = None
    daily_charge: Amount = Decimal(0)
    prices_include_tax: Flag | None = None
    tax_percent: Share | None = None
    holidays: Holidays | None = None
    band: tuple[Band, ...] = ()
    prices: PriceSource | None = None
    add_on: tuple[AddOn, ...] = ()
    tier: tuple[Tier, ...] = ()
    peak_charge: PeakCharge | None = None

    @field_validator("time_zone")
    @classmethod
    def _zone_exists(cls, name: str) -> str:
        try:
            zone_of(name)
        except ClockError as error:
            raise ValueError(str(error)) from None
        return name


class TariffFile(_Table):
    """A tariff file: the tariff, and what else it may carry."""

    tariff: TariffTable
    carbon: CarbonSource | None = None
    own_generation: Generation | None = None
