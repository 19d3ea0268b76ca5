"""A tariff told: what a kWh costs and when, what is wrong with it, what looks like a slip."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import date
from fractions import Fraction
from itertools import groupby
from typing import TYPE_CHECKING, Any

from energyplan.base.errors import Problem, TariffError
from energyplan.base.kinds import (
    COUNT,
    DATE,
    DATED,
    DAY,
    HOURS,
    KEY,
    KWH,
    MINUTES,
    MONEY,
    PRICE,
    WORD,
    WRITTEN,
    Price,
    Value,
    counted,
    weekday_name,
)
from energyplan.base.money import UNITS_PER_CURRENCY, Money
from energyplan.base.sentence import NOTHING, SAYABLE, Sayable, Sentence, Span, listed
from energyplan.tariffs.clock import to_local
from energyplan.tariffs.dayrules import clock_text, month_names
from energyplan.tariffs.tariff import Estimate, Tariff
from energyplan.tariffs.tariffcheck import BandStretch, Oddity, OddityCode, TariffCheck, WeekDay, band_minutes
from energyplan.telling.told import Column, Found, Table, Told

if TYPE_CHECKING:
    from energyplan.tariffs.pricelist import PriceList

__all__ = ["estimate_sentence", "list_sentences", "month_use_sentence", "prices_told", "with_month_note"]

MOST_ROWS = 60  # a week of more stretches is told day by day
MOST_HOLES = 3
_MICRO = 1_000_000
_LISTS = {"prices": "prices", "carbon": "carbon", "own_generation": "own power"}


_STRETCHES = (
    Column("days", "Days", WORD),
    Column("from", "From", WORD),
    Column("to", "To", WORD),
    Column("price_per_kwh", "Price", PRICE),
    Column("band", "Band", WRITTEN),
)
_DAYS = (
    Column("day", "Day", DAY),
    Column("lowest_per_kwh", "Lowest", PRICE),
    Column("lowest_from", "begins at", WORD),
    Column("mean_per_kwh", "Mean", PRICE),
    Column("highest_per_kwh", "Highest", PRICE),
    Column("highest_from", "from", WORD),
)


def prices_told(tariff: Tariff, found: TariffCheck) -> Told:
    """The week of a tariff, its tiers and holidays, problems first, then what looks like a slip."""
    findings = [_problem(problem) for problem in found.problems]
    findings += [Found(code=odd.code, severity="note", said=_SAID[odd.code](odd, tariff)) for odd in found.oddities]
    week = _week(found.week, tariff.currency)
    return Told(
        key="tariff",
        title="Prices",
        headline=_headline(tariff, found.week),
        facts={
            "name": WRITTEN(tariff.name),
            "currency": WORD(tariff.currency),
            "time_zone": WORD(tariff.time_zone),
            "covers": None if found.covers is None else tuple(DATED(to_local(end, "UTC")) for end in found.covers),
            "tiers": _tiers(tariff),
            "week": week,
            "days_alike": _days_alike(found.week, tariff.currency),
            "holidays": _holidays(found),
            "minutes_without_price": COUNT(_without_min(found.week)),
        },
        sentences=tuple(_sentences(tariff, found)),
        tables=(_minutes(found.week), _tiers(tariff), _holidays(found)),
        findings=tuple(findings),
    )


def month_use_sentence(ends: tuple[Money, Money]) -> Sentence:
    """What a cost comes to under a tariff with steps by the month's use, while that use is not known."""
    return Sentence(
        "The tariff has steps by the month's use, which is not entered ({key}): {cost}.",
        key=KEY("supply.month_kwh_so_far"),
        cost=Span(MONEY, ends[0], ends[1]),
    )


#: Goes with money that was counted while the month's use is not known.
FIRST_STEP = Sentence(
    "The tariff has steps by the month's use, which is not entered ({key}): money here counts from the first step on; "
    "the answer for the day gives both ends.",
    key=KEY("supply.month_kwh_so_far"),
)


def with_month_note(told: Told, tariff: Tariff | None) -> Told:
    """What is told, and that its money rests on the first step of a tariff, where more is not known."""
    if tariff is None or not tariff.table.tier or tariff.month_kwh_so_far is not None:
        return told
    return replace(told, sentences=(*told.sentences, FIRST_STEP))


def estimate_sentence(estimate: Estimate, tariff: Tariff, zone: str) -> Sentence:
    """What an estimate rests on, and how far it is off; the end of the list on the clock of a zone."""
    return Sentence(
        "An estimate (est.): the list of prices ends at {ends}; beyond it the mean of the same weekday and hour of its "
        "last {weeks} is taken, which over the list itself was off by {error} on average.",
        ends=DATED(to_local(estimate.begins, zone)),
        weeks=counted(estimate.weeks, "week") if estimate.weeks > 1 else WORD("week"),
        error=PRICE(Price(estimate.error_per_kwh, tariff.currency)),
    )


def no_cost_sentences(why: TariffError | None) -> Iterator[Sentence]:
    """Why something has no cost, where there are prices that do not reach it."""
    if why is not None:
        yield Sentence("No cost: {why}.", why=WRITTEN(str(why)))


def list_sentences(found: "PriceList", zone: str) -> Iterator[Sentence]:
    """How a list of prices was read, and the days it covers."""
    how = found.reading
    yield Sentence(
        "Read so: times in {columns}, {order}, {clock}, each the {stamp} of its {step}; prices in {price}, {unit}.",
        columns=listed([WRITTEN(name) for name in how.time_columns]),
        order=WORD(how.order),
        clock=WORD({"utc": "UTC", "local": f"the clock of {zone}", "offset in file": "with their offset"}[how.clock]),
        stamp=WORD(how.stamp),
        step=MINUTES(how.step_min),
        price=WRITTEN(how.price_column),
        unit=WRITTEN(how.unit),
    )
    first, last = (DATED(to_local(end, zone)) for end in found.covers)
    yield Sentence("It covers {first} to {last}.", first=first, last=last)
    if found.holes:
        yield Sentence("{holes} in it; a brew in one has no cost.", holes=counted(found.holes, "hole is", "holes are"))


def _price(tariff: Tariff, micro_per_kwh: int) -> Value:
    return PRICE(Price(Fraction(micro_per_kwh, _MICRO), tariff.currency))


def _headline(tariff: Tariff, week: Sequence[WeekDay]) -> Sentence:
    name = WRITTEN(tariff.name)
    priced = [(day, part) for day in week for part in day.stretches if part.micro_per_kwh is not None]
    if not priced:
        return Sentence("{name}: there is no price in this week.", name=name)
    low, high = (pick(priced, key=lambda one: one[1].micro_per_kwh or 0) for pick in (min, max))
    tax: Sayable = NOTHING
    if tariff.table.prices_include_tax is False:
        tax = WORD(f", {tariff.table.tax_percent} % tax included")
    if low[1].micro_per_kwh == high[1].micro_per_kwh:
        return Sentence(
            "{name}: {price} at any time of this week{tax}.",
            name=name,
            price=_price(tariff, low[1].micro_per_kwh or 0),
            tax=tax,
        )
    by_name = len({part.band for _, part in priced}) > 1
    return Sentence(
        "{name}: {low} ({when_low}) to {high} ({when_high}){tax}.",
        name=name,
        low=_price(tariff, low[1].micro_per_kwh or 0),
        when_low=_place(*low, by_name=by_name),
        high=_price(tariff, high[1].micro_per_kwh or 0),
        when_high=_place(*high, by_name=by_name),
        tax=tax,
    )


def _place(day: WeekDay, part: BandStretch, *, by_name: bool) -> Value | Sentence:
    """Where a price stands: its band, or where all has one name the day and the hour."""
    if by_name:
        return WRITTEN(part.band)
    return Sentence("{day} {clock}", day=DAY(day.day), clock=WORD(clock_text(part.from_min)))


def _without_min(week: Sequence[WeekDay]) -> int:
    return sum(part.minutes for day in week for part in day.stretches if part.micro_per_kwh is None)


def _sentences(tariff: Tariff, found: TariffCheck) -> Iterator[Sentence]:
    if found.covers is not None:
        first, last = (DATED(to_local(end, tariff.time_zone)) for end in found.covers)
        yield Sentence("The list of prices covers {first} to {last}.", first=first, last=last)
    begins, ends = tariff.table.valid_from, tariff.table.valid_to
    if begins is not None and ends is not None:
        yield Sentence("The tariff is valid from {begins} to {ends}.", begins=DATE(begins), ends=DATE(ends))
    elif begins is not None or ends is not None:
        side = WORD("to" if begins is None else "from")
        yield Sentence("The tariff is valid {side} {day}.", side=side, day=DATE(begins or ends))
    if without_min := _without_min(found.week):
        yield Sentence("{hours} of this week have no price; a brew in them has no cost.", hours=HOURS(without_min / 60))
    if tariff.table.tier:
        yield Sentence("The steps by the month's use come on top; how much of it is used so far decides them.")
    if tariff.daily_charge:
        units = round(tariff.daily_charge * UNITS_PER_CURRENCY)
        charge = MONEY(Money(units=units, currency=tariff.currency))
        yield Sentence("A day costs {charge} besides, whatever is drawn.", charge=charge)


def _week(week: Sequence[WeekDay], currency: str) -> Table:
    columns = (
        Column("day", "Day", DAY),
        Column("holiday", "Holiday", WRITTEN),
        Column("from_min", "From", COUNT),
        Column("to_min", "To", COUNT),
        Column("minutes", "Minutes", COUNT),
        Column("band", "Band", WRITTEN),
        Column("price_per_kwh", "Price", PRICE),
    )
    rows = tuple(
        (day.day, day.holiday, part.from_min, part.to_min, part.minutes, part.band, _cell(part, currency))
        for day in week
        for part in day.stretches
    )
    return Table("week", "The week", columns, rows)


def _cell(part: BandStretch, currency: str) -> Price | None:
    return None if part.micro_per_kwh is None else Price(Fraction(part.micro_per_kwh, _MICRO), currency)


def _days_alike(week: Sequence[WeekDay], currency: str) -> Table:
    """Days alike on one row for each stretch; where that gets long, a row for each day."""
    rows = tuple(_stretch_rows(week, currency))
    if len(rows) <= MOST_ROWS:
        return Table("days_alike", "The week", _STRETCHES, rows)
    return Table("days_alike", "The week", _DAYS, tuple(_day_row(day, currency) for day in week))


def _stretch_rows(week: Sequence[WeekDay], currency: str) -> Iterator[tuple[Any, ...]]:
    for stretches, days in groupby(week, key=lambda day: day.stretches):
        names = [weekday_name(day.day) for day in days]
        shown = names[0] if len(names) == 1 else f"{names[0]} to {names[-1]}"
        for part in stretches:
            yield shown, clock_text(part.from_min), clock_text(part.to_min), _cell(part, currency), part.band


def _day_row(day: WeekDay, currency: str) -> tuple[Any, ...]:
    """One day of a long list: its lowest, mean and highest price, and when the lowest and the highest begin."""
    parts = [(part, part.micro_per_kwh) for part in day.stretches if part.micro_per_kwh is not None]
    if not parts:
        return day.day, None, None, None, None, None
    (low, low_micro), (high, high_micro) = (pick(parts, key=lambda one: one[1]) for pick in (min, max))
    mean_micro = sum(part.minutes * micro for part, micro in parts) / sum(part.minutes for part, _ in parts)
    prices = [Price(micro / _MICRO, currency) for micro in (low_micro, mean_micro, high_micro)]
    return day.day, prices[0], clock_text(low.from_min), prices[1], prices[2], clock_text(high.from_min)


def _minutes(week: Sequence[WeekDay]) -> Table:
    """Real minutes of each band on each day, where there are several."""
    rows = band_minutes(tuple(week))
    columns = (
        Column("band", "Minutes a day", WRITTEN),
        *(Column((name := weekday_name(day.day)).lower(), name, COUNT) for day in week),
    )
    return Table("minutes", "Minutes a day", columns, tuple((name, *minutes) for name, minutes in rows))


def _tiers(tariff: Tariff) -> Table:
    columns = (
        Column("above_kwh", "Above", KWH),
        Column("per", "in a", WORD),
        Column("months", "in", WORD),
        Column("more_per_kwh", "On top", PRICE, signed=True),
    )
    rows = tuple(
        (
            float(tier.above_kwh),
            tier.per,
            None if tier.months is None else month_names(tier.months),
            Price(float(tariff.unit.nano_per_kwh(tier.price) * tariff.tax_factor) / 1e9, tariff.currency),
        )
        for tier in sorted(tariff.table.tier, key=lambda tier: tier.above_kwh)
    )
    return Table("tiers", "Steps by the month's use", columns, rows)


def _holidays(found: TariffCheck) -> Table:
    columns = (Column("day", "Holidays", DATE), Column("name", "", WRITTEN))
    return Table("holidays", "Holidays", columns, found.holidays)


def _problem(problem: Problem) -> Found:
    where, message = _said(problem.where), _said(problem.message)
    if not problem.value:
        return Found(code="tariff", severity="over", said=Sentence("{where}: {what}", where=where, what=message))
    said = Sentence("{where} = {value}: {what}", where=where, value=_said(problem.value), what=message)
    return Found(code="tariff", severity="over", said=said)


def _said(part: object) -> Sayable:
    return part if isinstance(part, SAYABLE) else WRITTEN(str(part))


def _day(odd: Oddity) -> Value:
    return DATE(odd.day or date.min)


def _amount(odd: Oddity, tariff: Tariff) -> Value:
    units = round((odd.per_unit or 0) * UNITS_PER_CURRENCY)
    return MONEY(Money(units=units, currency=tariff.currency))


def _holes(odd: Oddity, tariff: Tariff) -> Sentence:
    at = listed([DATED(to_local(moment, tariff.time_zone)) for moment in odd.moments[:MOST_HOLES]])
    more = len(odd.moments) - MOST_HOLES
    name = WORD(_LISTS[odd.name])
    if more > 0:
        return Sentence(
            "The list of {name} has holes, at {at}, and {more}.", name=name, at=at, more=counted(more, "more", "more")
        )
    return Sentence("The list of {name} has holes, at {at}.", name=name, at=at)


def _odd_price(odd: Oddity, tariff: Tariff, much: str) -> Sentence:
    return Sentence(
        "{name} comes to {price}, which is {much}: is {unit} the right unit of the prices?",
        name=WRITTEN(odd.name),
        price=PRICE(Price(odd.per_unit or 0, tariff.currency)),
        much=WORD(much),
        unit=WRITTEN(tariff.table.price_unit),
    )


def _odd_peak(odd: Oddity, tariff: Tariff, much: str) -> Sentence:
    return Sentence(
        "The peak charge comes to {amount} per kW and month, which is {much}; a bare number counts whole {currency}.",
        amount=_amount(odd, tariff),
        much=WORD(much),
        currency=WORD(tariff.currency),
    )


_SAID: dict[OddityCode, Callable[[Oddity, Tariff], Sentence]] = {
    "past": lambda odd, _: Sentence("Valid to {day}, which is past; ask for the new prices.", day=_day(odd)),
    "not yet": lambda odd, _: Sentence("Valid from {day} only; use the tariff in force until then.", day=_day(odd)),
    "dear day": lambda odd, tariff: Sentence(
        "The charge comes to {amount} a day; a bare number counts the money of {unit}.",
        amount=_amount(odd, tariff),
        unit=WRITTEN(tariff.table.price_unit),
    ),
    "dear peak": lambda odd, tariff: _odd_peak(odd, tariff, "dear"),
    "cheap peak": lambda odd, tariff: _odd_peak(odd, tariff, "little"),
    "free add-on": lambda odd, _: Sentence("The add-on {name} has the price 0.", name=WRITTEN(odd.name)),
    "night by default": lambda odd, _: Sentence(
        "{name} wraps midnight and holds on some days only; its hours after midnight follow the calendar day. Where "
        "they follow the evening, say that its night belongs to the start day.",
        name=WRITTEN(odd.name),
    ),
    "night by day": lambda odd, _: Sentence(
        "{name} lies mostly in the hours of the day; are its from and to swapped?", name=WRITTEN(odd.name)
    ),
    "no summer time": lambda odd, _: Sentence(
        "The clock {zone} knows no summer time; where the clocks change, name a place, such as Europe/London, or say "
        "that the meter keeps standard time.",
        zone=WRITTEN(odd.name),
    ),
    "stale list": lambda odd, _: Sentence(
        "The list of {name} ends on {day}, {days} ago; fetch a new one.",
        name=WORD(_LISTS[odd.name]),
        day=_day(odd),
        days=counted(odd.days, "day"),
    ),
    "holes": _holes,
    "dear": lambda odd, tariff: _odd_price(odd, tariff, "dear"),
    "cheap": lambda odd, tariff: _odd_price(odd, tariff, "little"),
    "no week": lambda odd, _: Sentence(
        "The week of {day} can't be shown: {why}.", day=_day(odd), why=WRITTEN(odd.why.rstrip("."))
    ),
}
