"""The words with which a tariff names days, months, dates and hours, read into numbers."""

import re
from datetime import time

__all__ = [
    "EVERY_DAY",
    "HOLIDAY",
    "MINUTES_PER_DAY",
    "WEEKDAYS",
    "clock_text",
    "month_names",
    "parse_clock",
    "parse_dates",
    "parse_days",
    "parse_months",
]

MINUTES_PER_DAY = 1440

#: Monday first, as `datetime.date.weekday` counts.
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip

#: The kind of day beside Monday (0) to Sunday (6).
HOLIDAY = 7
EVERY_DAY = frozenset(range(8))

_LONGEST_MONTH = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


def _name_index(word: str, names: tuple[str, ...], kind: str, example: str) -> int:
    low = word.strip().lower()
    for index, name in enumerate(names):
        if len(low) >= 3 and name.lower().startswith(low):
            return index
    raise ValueError(f"{word.strip()!r} is no {kind}; write {example}")


def _spread(text: str, names: tuple[str, ...], kind: str, example: str) -> set[int]:
    """One name, or a range of two names that may run over the end of the list."""
    first_word, dash, last_word = text.partition("-")
    first = _name_index(first_word, names, kind, example)
    last = _name_index(last_word, names, kind, example) if dash else first
    length = (last - first) % len(names)
    return {(first + step) % len(names) for step in range(length + 1)}


def _words(value: object, example: str) -> list[str]:
    listed = value if isinstance(value, list) else [value]
    if not listed or not all(isinstance(word, str) and word.strip() for word in listed):
        raise ValueError(f"write {example}")
    return [word for text in listed for word in str(text).split(",")]


def parse_days(value: object) -> frozenset[int]:
    """Kinds of day: 0 to 6 from Monday, 7 for a holiday.

    Raises
    ------
    ValueError
        If a word is no day.

    Examples
    --------
    >>> sorted(parse_days("sat-mon")), sorted(parse_days(["sun", "holiday"]))
    ([0, 5, 6], [6, 7])
    """
    example = '"every day", "mon-fri", ["sat", "sun"] or "holiday"'
    days: set[int] = set()
    for word in _words(value, example):
        if word.strip().lower() == "every day":
            days |= EVERY_DAY
        elif word.strip().lower() in ("holiday", "holidays"):
            days.add(HOLIDAY)
        else:
            days |= _spread(word, WEEKDAYS, "day", example)
    return frozenset(days)


def parse_months(value: object) -> frozenset[int]:
    """Months from 1 to 12; a range may run over new year.

    Raises
    ------
    ValueError
        If a word is no month.

    Examples
    --------
    >>> sorted(parse_months("nov-feb"))
    [1, 2, 11, 12]
    """
    example = '"oct-mar", "july" or ["may", "jun"]'
    months: set[int] = set()
    for word in _words(value, example):
        months |= {index + 1 for index in _spread(word, _MONTHS, "month", example)}
    return frozenset(months)


def month_names(months: frozenset[int]) -> str:
    """Short names of months, in order.

    >>> month_names(frozenset({12, 1}))
    'jan, dec'
    """
    return ", ".join(_MONTHS[month - 1][:3].lower() for month in sorted(months))


def _month_day(text: str) -> int:
    month, day = (int(number) for number in text.split("-"))
    if not (1 <= month <= 12 and 1 <= day <= _LONGEST_MONTH[month - 1]):
        raise ValueError(f'{text} is no month and day; write month-day, as in "10-15 to 04-14"')
    return month * 100 + day


def parse_dates(value: object) -> tuple[tuple[int, int], ...]:
    """Ranges of the year as pairs of 100 x month + day, both ends included.

    Raises
    ------
    ValueError
        If a range isn't written as ``MM-DD to MM-DD``.

    Examples
    --------
    >>> parse_dates("10-15 to 04-14")
    ((1015, 414),)
    """
    example = '"10-15 to 04-14" (month-day, both included)'
    ranges = []
    for word in _words(value, example):
        found = re.fullmatch(r"\s*(\d{1,2}-\d{1,2})(?:\s+to\s+(\d{1,2}-\d{1,2}))?\s*", word)
        if found is None:
            raise ValueError(f"write {example}")
        ranges.append((_month_day(found[1]), _month_day(found[2] or found[1])))
    return tuple(ranges)


def parse_clock(value: object) -> int:
    """Minutes from midnight of a time of day; ``24:00`` is the end of the day.

    Raises
    ------
    ValueError
        If it is no time of day to the whole minute.

    Examples
    --------
    >>> parse_clock("23:30"), parse_clock("24:00")
    (1410, 1440)
    """
    if isinstance(value, time) and not (value.second or value.microsecond or value.tzinfo):
        return value.hour * 60 + value.minute
    found = re.fullmatch(r"\s*(\d{1,2}):(\d{2})\s*", value) if isinstance(value, str) else None
    minutes = int(found[1]) * 60 + int(found[2]) if found and int(found[2]) < 60 else MINUTES_PER_DAY + 1
    if minutes > MINUTES_PER_DAY:
        raise ValueError('write a time of day as "07:30", from "00:00" to "24:00"')
    return minutes


def clock_text(minute: int) -> str:
    """Time of day as text.

    >>> clock_text(450)
    '07:30'
    """
    return f"{minute // 60:02d}:{minute % 60:02d}"
