"""Which band holds in every minute of every day, in the clock's own reading, and where none does.

A year has few kinds of day: the same bands in the same hours. So the days are sorted into kinds
first, each kind is laid out once, and the year is put together from them.
"""

from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from energyplan.base.errors import Problem
from energyplan.base.records import dataclass
from energyplan.tariffs.clock import DAY_S, day_number, number_to_day
from energyplan.tariffs.dayrules import HOLIDAY, MINUTES_PER_DAY, WEEKDAYS, clock_text
from energyplan.tariffs.tables import Holidays, Rule
from energyplan.tariffs.tariff import Tariff, holidays_between

__all__ = ["OTHERWISE_HOLE", "DayKind", "WallPrices", "coverage_problems", "day_kinds", "wall_prices"]

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

#: Band index of minutes that no band covers.
OTHERWISE_HOLE = -1

_TREAT_AS = {"mon": 0, "tue": 1, "wed": 2, "thu": 3, "fri": 4, "sat": 5, "sun": 6, "holiday": HOLIDAY}
_MAX_SHOWN = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class DayKind:
    """A kind of day, laid out from 00:00 to 24:00.

    Parameters
    ----------
    edges_min : tuple of int, length n + 1
        Borders in minutes from midnight.
    bands : tuple of tuple of int, length n
        Indices of the bands that claim each stretch: one, when all is well.
    nano_per_kwh : tuple of int, length n
        Price of the first of them and of all add-ons, before tax.
    """

    edges_min: tuple[int, ...]
    bands: tuple[tuple[int, ...], ...]
    nano_per_kwh: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WallPrices:
    """Bands and prices along the wall clock, before tax.

    Parameters
    ----------
    edges_wall_s : ndarray of int64, shape (n + 1,)
        Borders in wall seconds.
    band : ndarray of int64, shape (n,)
        Index of the band, -1 where there is none (a series prices it).
    nano_per_kwh : ndarray of int64, shape (n,)
        Billionths of the currency per kWh.
    """

    edges_wall_s: IntArray
    band: IntArray
    nano_per_kwh: IntArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Days:
    """Facts about consecutive days, beginning with the one *before* the first asked for."""

    number: IntArray
    kind: IntArray
    month: IntArray
    month_day: IntArray


def _days(holidays: Holidays | None, first: date, last: date) -> _Days:
    number = np.arange(day_number(first) - 1, day_number(last) + 1, dtype=np.int64)
    stamps = number.astype("datetime64[D]")
    months = stamps.astype("datetime64[M]")
    month = months.astype(np.int64) % 12 + 1
    month_day = month * 100 + (stamps - months).astype(np.int64) + 1
    kind = (number + 3) % 7  # 1970-01-01 was a Thursday
    if holidays is not None:
        listed = holidays_between(holidays, first - timedelta(days=1), last)
        index = np.array([day_number(day) for day in listed], dtype=np.int64) - number[0]
        kind[index] = _TREAT_AS[holidays.treat_as or "holiday"]
    return _Days(number=number, kind=kind, month=month, month_day=month_day)


def _applies(rule: Rule, days: _Days) -> BoolArray:
    """Days on which a rule holds."""
    applies = np.isin(days.kind, sorted(rule.days))
    if rule.months is not None:
        applies &= np.isin(days.month, sorted(rule.months))
    if rule.dates is not None:
        in_season = np.zeros_like(applies)
        for start, end in rule.dates:
            after, before = days.month_day >= start, days.month_day <= end
            in_season |= (after & before) if start <= end else (after | before)
        applies &= in_season
    return applies


def _windows(rule: Rule) -> tuple[tuple[int, int, int], ...]:
    """Minutes (from, to) of the day they lie in, and by how many days that is after the rule's own."""
    start = 0 if rule.from_minute is None else rule.from_minute
    end = MINUTES_PER_DAY if rule.to_minute is None else rule.to_minute
    if start < end:
        return ((start, end, 0),)
    evening = (start, MINUTES_PER_DAY, 0)
    if end == 0:
        return (evening,)
    return (evening, (0, end, 1 if rule.night_belongs_to == "start day" else 0))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Window:
    """A part of a day and its price; ``band`` None: of none."""

    from_min: int
    to_min: int
    band: int | None
    nano_per_kwh: int


def day_kinds(tariff: Tariff, first: date, last: date) -> tuple[tuple[DayKind, ...], IntArray]:
    """Kinds of day between two dates, and which kind each day is.

    Parameters
    ----------
    tariff : Tariff
        Its bands and add-ons.
    first, last : date
        Both included; days in the reading of the tariff's clock.
    """
    days = _days(tariff.table.holidays, first, last)
    windows: list[_Window] = []
    active: list[BoolArray] = []
    unit = tariff.unit
    claims: list[tuple[Rule, int | None]] = [
        *((band, index) for index, band in enumerate(tariff.table.band) if not band.otherwise),
        *((add_on, None) for add_on in tariff.table.add_on),
    ]
    for rule, band in claims:
        applies = _applies(rule, days)
        price = unit.nano_per_kwh(rule.price)
        for from_min, to_min, later in _windows(rule):
            windows.append(_Window(from_min=from_min, to_min=to_min, band=band, nano_per_kwh=price))
            active.append(applies[:-1] if later else applies[1:])
    table = np.array(active, dtype=bool).T if active else np.zeros((days.number.size - 1, 0), dtype=bool)
    index = np.zeros(table.shape[0], dtype=np.int64)
    seen: dict[bytes, int] = {}
    for day, row in enumerate(np.packbits(table, axis=1)):
        index[day] = seen.setdefault(row.tobytes(), len(seen))
    firsts = [int(np.argmax(index == kind)) for kind in range(len(seen))]
    kinds = tuple(
        _laid_out(tariff, [window for window, on in zip(windows, table[day], strict=True) if on]) for day in firsts
    )
    return kinds, index


def _laid_out(tariff: Tariff, windows: Sequence[_Window]) -> DayKind:
    rest = tuple(index for index, band in enumerate(tariff.table.band) if band.otherwise)
    rest_nano = sum(tariff.unit.nano_per_kwh(tariff.table.band[index].price) for index in rest[:1])
    ends = {window.from_min for window in windows} | {window.to_min for window in windows}
    edges = sorted(ends | {0, MINUTES_PER_DAY})
    bands: list[tuple[int, ...]] = []
    prices: list[int] = []
    for start in edges[:-1]:
        here = [window for window in windows if window.from_min <= start < window.to_min]
        claiming = tuple(window.band for window in here if window.band is not None)
        base = next((window.nano_per_kwh for window in here if window.band is not None), rest_nano)
        bands.append(claiming or rest)
        prices.append(base + sum(window.nano_per_kwh for window in here if window.band is None))
    return DayKind(edges_min=tuple(edges), bands=tuple(bands), nano_per_kwh=tuple(prices))


def wall_prices(tariff: Tariff, first: date, last: date) -> WallPrices:
    """Bands and prices along the wall clock between two dates, both included.

    Gaps and overlaps are not looked for here; `coverage_problems` does that.
    """
    kinds, index = day_kinds(tariff, first, last)
    midnight = (day_number(first) + np.arange(index.size, dtype=np.int64)) * DAY_S
    starts = [np.array(kind.edges_min[:-1], dtype=np.int64) * 60 for kind in kinds]
    bands = [np.array([claim[0] if claim else OTHERWISE_HOLE for claim in kind.bands]) for kind in kinds]
    prices = [np.array(kind.nano_per_kwh, dtype=np.int64) for kind in kinds]
    edges = np.concatenate([starts[kind] + start for kind, start in zip(index, midnight, strict=True)])
    return WallPrices(
        edges_wall_s=np.append(edges, midnight[-1] + DAY_S),
        band=np.concatenate([bands[kind] for kind in index]).astype(np.int64),
        nano_per_kwh=np.concatenate([prices[kind] for kind in index]),
    )


def _checked_spans(tariff: Tariff, near: date | None) -> Iterator[tuple[date, date]]:
    """Years in which every rule has its turn: the tariff's own, or a leap year where it names none.

    The year from ``near`` on is looked at before that leap year, so that what is missing is named by a date near it.
    """
    table = tariff.table
    if table.valid_from is not None:
        whole = table.valid_from + timedelta(days=366)
        yield table.valid_from, min(whole, table.valid_to) if table.valid_to else whole
    elif table.valid_to is not None:
        yield table.valid_to - timedelta(days=366), table.valid_to
    else:
        if near is not None:
            yield near, near + timedelta(days=365)
        yield date(2028, 1, 1), date(2028, 12, 31)


def coverage_problems(
    tariff: Tariff, first: date | None = None, last: date | None = None, *, near: date | None = None
) -> tuple[Problem, ...]:
    """Minutes that no band covers, or more than one, by date, weekday and time.

    Parameters
    ----------
    tariff : Tariff
        Its bands; a tariff with a series has none to check.
    first, last : date, optional
        Both included; by default a whole year in which every rule has its turn.
    near : date, optional
        The day that is asked about: what is missing is named by the first date from there on.

    Returns
    -------
    tuple of Problem
        One for each stretch of a kind of day, with the first date on which it occurs.
    """
    if not tariff.table.band:
        return ()
    spans = _checked_spans(tariff, near) if first is None or last is None else [(first, last)]
    return next((found for first, last in spans if (found := _problems_between(tariff, first, last))), ())


def _problems_between(tariff: Tariff, first: date, last: date) -> tuple[Problem, ...]:
    kinds, index = day_kinds(tariff, first, last)
    problems: list[Problem] = []
    for number, kind in enumerate(kinds):
        on_days = np.flatnonzero(index == number)
        day = number_to_day(day_number(first) + int(on_days[0]))
        problems += _kind_problems(tariff, kind, day, on_days.size - 1)
    if len(problems) > _MAX_SHOWN:
        more = Problem(where="[[tariff.band]]", message=f"and {len(problems) - _MAX_SHOWN} more stretches like these")
        return (*problems[:_MAX_SHOWN], more)
    return tuple(problems)


def _kind_problems(tariff: Tariff, kind: DayKind, day: date, more_days: int) -> list[Problem]:
    also = f" (and on {more_days} more days)" if more_days else ""
    problems: list[Problem] = []
    for start, end, claim in _merged(kind):
        if len(claim) == 1:
            continue
        when = f"{day} ({WEEKDAYS[day.weekday()]}) {clock_text(start)} to {clock_text(end)}, {end - start} min{also}"
        names = " and ".join(f'"{tariff.table.band[band].name}"' for band in claim)
        wrong = (
            f"{names} both claim it; move a border so that they meet"
            if claim
            else "no band covers it; widen a band, or give one otherwise = true"
        )
        problems.append(Problem(where="[[tariff.band]]", message=f"{when}: {wrong}"))
    return problems


def _merged(kind: DayKind) -> list[tuple[int, int, tuple[int, ...]]]:
    """Stretches of a day and who claims them, neighbours of the same claim joined."""
    merged: list[tuple[int, int, tuple[int, ...]]] = []
    for (start, end), claim in zip(pairwise(kind.edges_min), kind.bands, strict=True):
        if merged and merged[-1][2] == claim:
            merged[-1] = (merged[-1][0], end, claim)
        else:
            merged.append((start, end, claim))
    return merged
