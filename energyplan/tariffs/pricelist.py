"""A list of prices as suppliers and grid operators hand it out: what its columns most likely are, and its rows.

Whatever the shape, a list becomes steps of one length in UTC with a number each; how it was read is told along.
"""

import re
from collections import Counter
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from itertools import pairwise
from typing import Literal

from energyplan.base.errors import TariffError
from energyplan.base.records import dataclass
from energyplan.tariffs.clock import (
    from_utc_s,
    local_to_utc,
    utc_s,
)
from energyplan.tariffs.listcells import (
    CLOCK,
    SPAN,
    STAMP,
    DayOrder,
    WrittenTime,
    bare_number,
    changes_s,
    halves,
    has_clock,
    is_stamp,
    length_min,
    local_time,
    midnight_s,
    number_of,
    spans_apart,
    table_of,
    written_time,
)
from energyplan.tariffs.series import seconds_of_stamps

__all__ = ["ListClock", "ListHints", "ListReading", "PriceList", "read_price_list"]

ListClock = Literal["utc", "local", "offset in file"]

_SAMPLE = 60
_NEAR_CHANGE_S = 2 * 3600
_LARGEST_CHANGE = timedelta(hours=1)  # of a clock that goes forward and back
_UNIT = re.compile(r"([A-Za-zøö€£$]+)\s*(?:/|\bper\b)\s*([kKmM][wW][hH])")
_PRICED = re.compile(r"price|preis|prijs|prix|precio|pris\b|cena|rate|tariff|mwh|kwh|amount|value|cost", re.IGNORECASE)
_ENDING = re.compile(r"\bend|\buntil|\bto\b|ending|\bbis\b", re.IGNORECASE)
_BEGINNING = re.compile(r"start|begin|from|\bvon\b|\bab\b", re.IGNORECASE)
_HOUR = re.compile(r"hour|\bhr\b|\bh\b|period|interval|stunde|heure|uur", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class ListHints:
    """What the person who hands the list in knows better than a guess."""

    price_column: str | None = None
    unit: str | None = None
    clock: ListClock | None = None
    stamp: Literal["start", "end"] | None = None
    order: DayOrder | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ListReading:
    """How a list was read.

    Parameters
    ----------
    time_columns : tuple of str
        Columns that hold the stamps.
    price_column : str
        Column of the numbers.
    unit : str
        Unit of the numbers, such as ``EUR/MWh``.
    clock : str
        Whose clock the stamps follow.
    stamp : {"start", "end"}
        Whether a stamp begins or ends its step; "start" where both stand there.
    order : str
        Order of day, month and year.
    step_min : int
        Length of a step [min].
    """

    time_columns: tuple[str, ...]
    price_column: str
    unit: str
    clock: ListClock
    stamp: Literal["start", "end"]
    order: DayOrder
    step_min: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceList:
    """Steps of a list: seconds of UTC at which each begins, and its number."""

    reading: ListReading
    start_s: tuple[int, ...]
    numbers: tuple[Decimal, ...]

    @property
    def covers(self) -> tuple[datetime, datetime]:
        """First and last moment, UTC."""
        return from_utc_s(self.start_s[0]), from_utc_s(self.start_s[-1] + 60 * self.reading.step_min)

    @property
    def holes(self) -> int:
        """Stretches between the first and the last moment without a price."""
        return sum(after - before != 60 * self.reading.step_min for before, after in pairwise(self.start_s))

    def csv_text(self) -> str:
        """The list as `energyplan` keeps it: UTC, a step a row."""
        rows = (
            f"{from_utc_s(start):%Y-%m-%dT%H:%MZ},{number}"
            for start, number in zip(self.start_s, self.numbers, strict=True)
        )
        return "\n".join(["start,price", *rows, ""])


def read_price_list(text: str, *, zone: str, hints: ListHints | None = None, source: str = "list") -> PriceList:
    r"""Read a list of prices.

    Parameters
    ----------
    text : str
        The file: lines of explanation, a header, rows.
    zone : str
        IANA zone of stamps on a local clock.
    hints : ListHints, optional
        What is known; the rest is guessed.
    source : str
        What to call it in messages.

    Raises
    ------
    TariffError
        If no column of stamps or of numbers is found, the unit is nowhere said, or rows contradict each other.

    Examples
    --------
    >>> found = read_price_list("Zeit;EUR/MWh\n01.03.2026 00:00 - 01.03.2026 01:00;91,5\n", zone="Europe/Vienna")
    >>> found.csv_text().splitlines()[1], found.reading.unit
    ('2026-02-28T23:00Z,91.5', 'EUR/MWh')
    """
    try:
        return _Reader(text, zone, hints or ListHints()).read()
    except ValueError as error:
        if isinstance(error, TariffError):
            raise
        raise TariffError(f"this list can't be read: {error}", source=source) from None


class _Reader:
    """One list, read column by column."""

    def __init__(self, text: str, zone: str, hints: ListHints) -> None:
        self.header, self.rows, self.above = table_of(text)
        self.zone, self.hints = zone, hints
        if not self.rows:
            raise ValueError("no rows under the header")
        self.rows = spans_apart(self.rows)

    def read(self) -> PriceList:
        stamps, spans = self._time_columns()
        price = self._price_column(stamps)
        self.rows = [row for row in self.rows if bare_number(row[price])]
        order = self.hints.order or self._order(stamps[0])
        walls, lasts_min, stamp = self._walls(stamps, spans, order)
        if walls[0].naive > walls[-1].naive:
            self.rows.reverse()
            walls.reverse()
        clock = self.hints.clock or self._clock(walls)
        numbers = [number_of(bare_number(row[price])) for row in self.rows]
        if lasts_min == 24 * 60:
            days = [
                range(midnight_s(wall.naive, 0, self.zone), midnight_s(wall.naive, 1, self.zone), 3600)
                for wall in walls
            ]
            numbers = [number for number, hours in zip(numbers, days, strict=True) for _ in hours]
            start_s, step_min = [second for hours in days for second in hours], 60
        else:
            step_min = lasts_min or self._step_min(walls)
            start_s = self._seconds(walls, clock, step_min)
            if stamp == "end":
                start_s = [second - 60 * step_min for second in start_s]
        start_s, numbers = self._in_order(start_s, numbers, step_min)
        reading = ListReading(
            time_columns=tuple(self.header[column] for column in stamps),
            price_column=self.header[price],
            unit=self.hints.unit or self._unit(price),
            clock=clock,
            stamp=stamp,
            order=order,
            step_min=step_min,
        )
        return PriceList(reading=reading, start_s=tuple(start_s), numbers=tuple(numbers))

    def _column(self, place: int) -> list[str]:
        return [row[place] for row in self.rows[:_SAMPLE]]

    def _time_columns(self) -> tuple[list[int], bool]:
        """Columns of the stamps, a beginning before its end; whether one cell holds both."""
        dated = [k for k in range(len(self.header)) if all(map(is_stamp, self._column(k)))]
        if not dated:
            raise ValueError("no column of dates and times was found")
        first = dated[0]
        if all(SPAN.search(STAMP.sub("", cell, count=1)) and cell.count(":") > 1 for cell in self._column(first)):
            return [first], True
        if all(has_clock(cell) for cell in self._column(first)):
            return dated[:2] if len(dated) > 1 and self._are_pairs(dated[:2]) else [first], False
        clocks = [k for k in range(len(self.header)) if k not in dated and self._is_clock(k)]
        return [first, *clocks[:2]], False

    def _are_pairs(self, columns: Sequence[int]) -> bool:
        """Whether two columns of stamps are the beginning and the end of each step."""
        named = _ENDING.search(self.header[columns[1]]) or _BEGINNING.search(self.header[columns[0]])
        return bool(named) or self.rows[0][columns[1]] == (self.rows[1][columns[0]] if len(self.rows) > 1 else "")

    def _is_clock(self, place: int) -> bool:
        cells = self._column(place)
        if all(CLOCK.match(cell) for cell in cells):
            return True
        whole = all(re.fullmatch(r"\d{1,2}[a-zA-Z]?", cell) for cell in cells)
        return bool(_HOUR.search(self.header[place])) and whole

    def _price_column(self, stamps: Sequence[int]) -> int:
        wanted = self.hints.price_column
        if wanted is not None:
            if wanted not in self.header:
                raise ValueError(f"no column {wanted!r}; the header has {', '.join(self.header)}")
            return self.header.index(wanted)
        numbers = [k for k in range(len(self.header)) if k not in stamps and self._are_numbers(k)]
        if not numbers:
            raise ValueError(f"no column of numbers beside the times; the header has {', '.join(self.header)}")
        named = [k for k in numbers if _PRICED.search(self.header[k]) or _UNIT.search(self.header[k])]
        return min(named or numbers, key=lambda k: len(set(self._column(k))) == 1)  # a fee that never changes is none

    def _are_numbers(self, place: int) -> bool:
        try:
            return bool([number_of(bare) for cell in self._column(place) if (bare := bare_number(cell))])
        except ValueError:
            return False

    def _unit(self, price: int) -> str:
        for text in (self.header[price], self.rows[0][price], *self.header, self.above):
            found = _UNIT.search(text)
            if found:
                return f"{found[1]}/{found[2]}"
        raise ValueError("the unit of the prices stands nowhere; say it, such as --unit EUR/MWh")

    def _order(self, place: int) -> DayOrder:
        """Order of day and month: by a number above 12, else by the order in which the rows are a step apart."""
        parts = [STAMP.match(row[place]) for row in self.rows]
        known = [part for part in parts if part is not None]
        if not known or len(known[0][1]) == 4:
            return "year first"
        if any(int(part[1]) > 12 for part in known):
            return "day first"
        if any(int(part[2]) > 12 for part in known):
            return "month first"
        days = [len({part[group] for part in known}) for group in (1, 2)]
        return "month first" if days[1] > days[0] else "day first"

    def _walls(
        self, stamps: Sequence[int], spans: bool, order: DayOrder  # noqa: FBT001 - told apart by `_time_columns`
    ) -> tuple[list[WrittenTime], int | None, Literal["start", "end"]]:  # fmt: skip
        """Stamps of all rows; the length of a step [min] where it is said; whether a stamp begins or ends its step."""
        if spans:
            cells = [halves(row[stamps[0]]) for row in self.rows]
            walls = [written_time(begin, order) for begin, _ in cells]
            return walls, length_min(walls, [written_time(end, order) for _, end in cells]), "start"
        if len(stamps) == 1:
            walls = [written_time(row[stamps[0]], order) for row in self.rows]
            if not any(has_clock(row[stamps[0]]) for row in self.rows):
                return walls, 24 * 60, "start"
            return walls, None, self.hints.stamp or self._stamp(stamps[0], walls)
        if all(is_stamp(row[stamps[1]]) for row in self.rows[:_SAMPLE]):
            begins, ends = ([written_time(row[place], order) for row in self.rows] for place in stamps[:2])
            return begins, length_min(begins, ends), "start"
        return self._dated_clocks(stamps, order)

    def _dated_clocks(
        self, stamps: Sequence[int], order: DayOrder
    ) -> tuple[list[WrittenTime], int | None, Literal["start", "end"]]:
        """A date in one column and the clock, or the number of the hour, in another."""
        day, clock = stamps[:2]
        hours = [re.fullmatch(r"(\d{1,2})[a-zA-Z]?", row[clock]) for row in self.rows]
        if all(hours):
            counted = [int(hour[1]) for hour in hours if hour]
            first = 1 if max(counted) > 23 or min(counted) == 1 else 0
            days = [written_time(row[day], order) for row in self.rows]
            return self._numbered_hours(days, [hour - first for hour in counted]), 60, "start"
        halves = [SPAN.split(row[clock], maxsplit=1) for row in self.rows]
        walls = [written_time(f"{row[day]} {half[0]}", order) for row, half in zip(self.rows, halves, strict=True)]
        return walls, None, self.hints.stamp or ("start" if len(halves[0]) > 1 else self._stamp(clock, walls))

    def _numbered_hours(self, days: Sequence[WrittenTime], hours: Sequence[int]) -> list[WrittenTime]:
        """Hours by number: those of the clock; on a day of 23 or 25 hours that are all numbered through, real ones."""
        of_day: dict[datetime, list[int]] = {}
        for day, hour in zip(days, hours, strict=True):
            of_day.setdefault(day.naive, []).append(hour)
        through = {
            day
            for day, found in of_day.items()
            if len(found) != 24 and sorted(found) == list(range(len(found)))
            and len(found) == (midnight_s(day, 1, self.zone) - midnight_s(day, 0, self.zone)) // 3600
        }  # fmt: skip
        return [
            local_time(midnight_s(day.naive, 0, self.zone) + 3600 * hour, self.zone)
            if day.naive in through
            else WrittenTime(naive=day.naive + timedelta(hours=hour), zone="")
            for day, hour in zip(days, hours, strict=True)
        ]

    def _stamp(self, place: int, walls: Sequence[WrittenTime]) -> Literal["start", "end"]:
        """A single stamp ends its step where its column says so, or the list ends at a midnight it doesn't begin at."""
        if _ENDING.search(self.header[place]) and not _BEGINNING.search(self.header[place]):
            return "end"
        first, last = walls[0].naive, walls[-1].naive
        ends_at_midnight = (last.hour, last.minute) == (0, 0) and (first.hour, first.minute) != (0, 0)
        return "end" if ends_at_midnight and len(walls) > 2 else "start"

    def _clock(self, walls: Sequence[WrittenTime]) -> ListClock:
        if all(wall.zone == "Z" for wall in walls):
            return "utc"
        if all(wall.zone and wall.zone[0] in "+-Z" for wall in walls):
            return "offset in file"
        said = " ".join([*self.header, self.above])
        return "utc" if re.search(r"\b(UTC|GMT)\b", said) else "local"

    def _seconds(self, walls: Sequence[WrittenTime], clock: ListClock, step_min: int) -> list[int]:
        if clock == "offset in file":
            return [utc_s(wall.moment) for wall in walls]
        if clock == "utc":
            return [utc_s(wall.naive.replace(tzinfo=UTC)) for wall in walls]
        numbered = [(line, wall.naive) for line, wall in enumerate(walls, start=2)]
        try:
            return seconds_of_stamps(numbered, "local", self.zone)
        except ValueError:
            even = self._evenly(walls, step_min)
            if even is None:
                raise
            return even

    def _evenly(self, walls: Sequence[WrittenTime], step_min: int) -> list[int] | None:
        """Rows a step apart, from the first on, where the clock's own reading of the hours around a change is off."""
        first_s = utc_s(local_to_utc(walls[0].naive, self.zone))
        seconds = [first_s + 60 * step_min * k for k in range(len(walls))]
        apart = [abs(local_time(s, self.zone).naive - wall.naive) for s, wall in zip(seconds, walls, strict=True)]
        near = all(
            by <= _LARGEST_CHANGE and any(abs(s - change) <= _NEAR_CHANGE_S for change in changes_s(seconds, self.zone))
            for s, by in zip(seconds, apart, strict=True)
            if by
        )
        return seconds if near else None

    @staticmethod
    def _step_min(walls: Sequence[WrittenTime]) -> int:
        if len(walls) < 2:
            raise ValueError("one row tells no step; hand in two at least, or a beginning and an end")
        lengths = [(after.naive - before.naive) // timedelta(minutes=1) for before, after in pairwise(walls)]
        apart = Counter(minutes for minutes in lengths if minutes > 0)
        if not apart:
            raise ValueError("the rows are not whole minutes apart")
        return min(apart, key=lambda minutes: (-apart[minutes], minutes))

    @staticmethod
    def _in_order(start_s: Sequence[int], numbers: Sequence[Decimal], step_min: int) -> tuple[list[int], list[Decimal]]:
        pairs = sorted(zip(start_s, numbers, strict=True))
        for (before, _), (after, _) in pairwise(pairs):
            if after - before < 60 * step_min:
                shown = from_utc_s(after).strftime("%Y-%m-%d %H:%MZ")
                raise ValueError(f"the row of {shown} comes within the step of {step_min} min before it")
        return [second for second, _ in pairs], [number for _, number in pairs]
