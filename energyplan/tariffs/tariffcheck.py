"""A tariff laid open: the week it makes of its rules, its holidays, and what looks like a slip."""

import re
from datetime import date, datetime, timedelta
from fractions import Fraction
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from energyplan.base.errors import Problem, TariffError
from energyplan.base.records import dataclass
from energyplan.day.slips import without_summer_time
from energyplan.tariffs.clock import DAY_S, day_number, from_utc_s, offset_pieces, to_local, wall_to_utc_s
from energyplan.tariffs.coverage import coverage_problems
from energyplan.tariffs.priceline import PriceLine, price_line
from energyplan.tariffs.tables import Rule, money_text
from energyplan.tariffs.tariff import Tariff, holidays_between

__all__ = [
    "BandStretch",
    "Oddity",
    "OddityCode",
    "TariffCheck",
    "WeekDay",
    "band_minutes",
    "check_tariff",
    "day_stretches",
]

IntArray = NDArray[np.int64]

# What a household pays for a kWh, tax and all, lies well within these in euro, dollar and pound
# (common practice, no source); beyond them a price is more likely in the wrong unit.
_DEAR_PER_KWH = Fraction(2)
_CHEAP_PER_KWH = Fraction(5, 1000)
_DEAR_DAILY = Fraction(5)
_CHEAP_PEAK, _DEAR_PEAK = Fraction(1, 5), Fraction(40)
_HARD_CURRENCIES = frozenset({"EUR", "USD", "GBP", "CHF", "CAD", "AUD", "NZD", "SGD"})
_STALE_DAYS = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class BandStretch:
    """A run of minutes of one band and price within a day, as the clock on the wall shows them.

    ``from_min`` and ``to_min`` count from midnight on the wall; ``minutes`` are real ones, so
    they differ from the span on a day when the clock changes. ``micro_per_kwh`` is None where there is no price;
    ``band`` then says why.
    """

    from_min: int
    to_min: int
    minutes: int
    band: str
    micro_per_kwh: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekDay:
    """One day of the resolved week."""

    day: date
    holiday: str
    stretches: tuple[BandStretch, ...]


OddityCode = Literal[
    "past", "not yet", "dear day", "dear peak", "cheap peak", "free add-on", "night by default", "stale list",
    "holes", "dear", "cheap", "no week", "night by day", "no summer time",
]  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Oddity:
    """Something that looks like a slip.

    ``name`` is that of a band, an add-on or a list; ``per_unit`` an amount of the currency (a day, a kWh, a kW and
    month); ``days`` and ``moments`` say how long ago and where; ``why`` is what a refusal said.
    """

    code: OddityCode
    name: str = ""
    per_unit: Fraction | None = None
    day: date | None = None
    days: int = 0
    moments: tuple[datetime, ...] = ()
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TariffCheck:
    """All that a look at a tariff shows.

    Parameters
    ----------
    week : tuple of WeekDay
        Monday to Sunday of the week asked for; empty when its bands don't fit together.
    problems : tuple of Problem
        Gaps and overlaps over a year, by date, weekday and minutes.
    holidays : tuple of (date, str)
        Of the year of the day asked for.
    oddities : tuple of Oddity
        What looks like a slip.
    covers : tuple of (datetime, datetime), optional
        First and last moment that a list of prices covers, UTC.
    """

    week: tuple[WeekDay, ...]
    problems: tuple[Problem, ...]
    holidays: tuple[tuple[date, str], ...]
    oddities: tuple[Oddity, ...]
    covers: tuple[datetime, datetime] | None


def check_tariff(tariff: Tariff, day: date, *, today: date | None = None) -> TariffCheck:
    """Lay a tariff open around one day.

    Parameters
    ----------
    tariff : Tariff
        As read, if need be with ``check_coverage=False``.
    day : date
        A day of the week to show.
    today : date, optional
        For telling whether the tariff is out of date; default ``day``.

    Examples
    --------
    >>> from energyplan.tariffs.tarifffile import load_tariff
    >>> week = check_tariff(load_tariff("demo"), date(2026, 12, 5)).week
    >>> [(stretch.band, stretch.minutes) for stretch in week[0].stretches]
    [('night', 480), ('day', 900), ('night', 60)]
    """
    monday = day - timedelta(days=day.weekday())
    problems = coverage_problems(tariff)
    year = (date(day.year, 1, 1), date(day.year, 12, 31))
    listed = holidays_between(tariff.table.holidays, *year)
    week: tuple[WeekDay, ...] = ()
    odd = _rule_oddities(tariff, today or day)
    try:
        line = price_line(tariff, monday, monday + timedelta(days=6))
    except TariffError as error:
        odd.append(Oddity(code="no week", day=monday, why=str(error.message)))
    else:
        names = holidays_between(tariff.table.holidays, monday, monday + timedelta(days=6))
        days = (monday + timedelta(days=number) for number in range(7))
        week = tuple(WeekDay(day=one, holiday=names.get(one, ""), stretches=day_stretches(line, one)) for one in days)
        odd += _price_oddities(tariff, line)
    return TariffCheck(
        week=week,
        problems=problems,
        holidays=tuple(listed.items()),
        oddities=tuple(odd),
        covers=tariff.series["prices"].covers if "prices" in tariff.series else None,
    )


def day_stretches(line: PriceLine, day: date) -> tuple[BandStretch, ...]:
    """Stretches of a local day, cut where the price or the clock changes.

    >>> from energyplan.tariffs.tarifffile import load_tariff
    >>> line = price_line(load_tariff("demo"), date(2026, 12, 5), date(2026, 12, 5))
    >>> [(part.band, part.from_min) for part in day_stretches(line, date(2026, 12, 5))]
    [('night', 0), ('day', 480), ('night', 1380)]
    """
    bounds = np.array([day_number(day), day_number(day) + 1], dtype=np.int64) * DAY_S
    from_s, to_s = (int(second) for second in wall_to_utc_s(line.zone, bounds))
    stretches: list[BandStretch] = []
    for piece_from, piece_to, offset in offset_pieces(line.zone, from_s, to_s):
        inner = line.edges_s[(line.edges_s > piece_from) & (line.edges_s < piece_to)]
        edges = [piece_from, *(int(edge) for edge in inner), piece_to]
        for begin, end in pairwise(edges):
            wall_min, step = (begin + offset - int(bounds[0])) // 60, line.index_at(begin)
            stretches.append(
                BandStretch(
                    from_min=wall_min,
                    to_min=wall_min + (end - begin) // 60,
                    minutes=(end - begin) // 60,
                    band=line.name_at(begin),
                    micro_per_kwh=int(line.micro_per_kwh[step]) if line.band[step] >= 0 else None,
                )
            )
    return tuple(stretch for stretch in stretches if stretch.minutes)


def band_minutes(week: tuple[WeekDay, ...]) -> tuple[tuple[str, tuple[int, ...]], ...]:
    """Real minutes of each band on each day of a week.

    >>> from energyplan.tariffs.tarifffile import load_tariff
    >>> week = check_tariff(load_tariff("demo"), date(2026, 12, 5)).week
    >>> band_minutes(week)[0]
    ('night', (540, 540, 540, 540, 540, 540, 540))
    """
    names = dict.fromkeys(stretch.band for day in week for stretch in day.stretches)
    return tuple(
        (name, tuple(sum(part.minutes for part in day.stretches if part.band == name) for day in week))
        for name in names
    )


def _rule_oddities(tariff: Tariff, today: date) -> list[Oddity]:
    """What the file says of itself that looks wrong today."""
    table = tariff.table
    odd = []
    if table.valid_to is not None and table.valid_to < today:
        odd.append(Oddity(code="past", day=table.valid_to))
    if table.valid_from is not None and table.valid_from > today:
        odd.append(Oddity(code="not yet", day=table.valid_from))
    if tariff.currency in _HARD_CURRENCIES:
        if tariff.daily_charge > _DEAR_DAILY:
            odd.append(Oddity(code="dear day", per_unit=tariff.daily_charge))
        odd += _peak_oddities(tariff)
    odd += [Oddity(code="free add-on", name=add_on.name) for add_on in table.add_on if add_on.price == 0]
    odd += [Oddity(code="night by day", name=rule.name) for rule in (*table.band, *table.add_on) if _by_day(rule)]
    if without_summer_time(tariff.time_zone):
        odd.append(Oddity(code="no summer time", name=tariff.time_zone))
    odd += [
        Oddity(code="night by default", name=rule.name)
        for rule in (*table.band, *table.add_on)
        if _night_by_default(rule.from_minute, rule.to_minute)
        and "night_belongs_to" not in rule.model_fields_set
        and rule.model_fields_set & {"days", "months", "dates"}
    ]
    return odd + _series_oddities(tariff, today)


_NIGHTLY = re.compile(r"\bnight|\boff[- ]?peak", re.IGNORECASE)
_DAY_MIN = (8 * 60, 20 * 60)


def _by_day(rule: Rule) -> bool:
    """Whether a band of the night has mostly hours of the day: its from and to are likely swapped."""
    from_min, to_min = rule.from_minute, rule.to_minute
    if from_min is None or to_min is None or not _NIGHTLY.search(rule.name) or to_min <= from_min:
        return False
    by_day = max(min(to_min, _DAY_MIN[1]) - max(from_min, _DAY_MIN[0]), 0)
    return 2 * by_day > to_min - from_min and by_day > (_DAY_MIN[1] - _DAY_MIN[0]) / 2


def _night_by_default(from_min: int | None, to_min: int | None) -> bool:
    return from_min is not None and to_min is not None and 0 < to_min < from_min


def _peak_oddities(tariff: Tariff) -> list[Oddity]:
    rule = tariff.table.peak_charge
    if rule is None:
        return []
    price = money_text(rule.price_per_kw_month, tariff.currency, Fraction(1))
    if _CHEAP_PEAK <= price <= _DEAR_PEAK:
        return []
    return [Oddity(code="dear peak" if price > _DEAR_PEAK else "cheap peak", per_unit=price)]


def _series_oddities(tariff: Tariff, today: date) -> list[Oddity]:
    odd = []
    for name, series in tariff.series.items():
        ends = to_local(series.covers[1], tariff.time_zone).date()
        if (today - ends).days >= _STALE_DAYS:
            odd.append(Oddity(code="stale list", name=name, day=ends, days=(today - ends).days))
        holes = series.start_s[:-1][np.diff(series.start_s) != series.step_s] + series.step_s
        if holes.size:
            odd.append(Oddity(code="holes", name=name, moments=tuple(from_utc_s(int(hole)) for hole in holes)))
    return odd


def _price_oddities(tariff: Tariff, line: PriceLine) -> list[Oddity]:
    """Prices that look as if they were in another unit."""
    if tariff.currency not in _HARD_CURRENCIES:
        return []
    odd = []
    for number, name in enumerate(line.band_names):
        prices = line.micro_per_kwh[line.band == number]
        if prices.size == 0:
            continue
        highest = Fraction(int(prices.max()), 1_000_000)
        typical = Fraction(int(np.median(np.abs(prices))), 1_000_000)
        if highest > _DEAR_PER_KWH:
            odd.append(Oddity(code="dear", name=name, per_unit=highest))
        elif 0 < typical < _CHEAP_PER_KWH:
            odd.append(Oddity(code="cheap", name=name, per_unit=highest))
    return odd
