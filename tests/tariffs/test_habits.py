"""What a habit costs over a year."""

from datetime import UTC, date, datetime, time

import pytest

from energyplan.base.errors import ClockError, TariffError
from energyplan.tariffs.periods import Habit, habit_cost
from energyplan.tariffs.priceline import price_line
from energyplan.tariffs.startcosts import StartLimits

NIGHT = (
    '[[tariff.band]]\nname = "night"\nprice = 0.10\nfrom = "00:30"\nto = "04:30"\n'
    '[[tariff.band]]\nname = "day"\nprice = 0.30\notherwise = true\n'
)
SATURDAYS = Habit(weekday=5, at=time(9), brews=25, first=date(2026, 1, 1))


def test_saturdays_at_nine(tariff_of, load_of) -> None:
    """25 brews of 2 kWh by day at 0.30 are 15.00, by night at 0.10 they would be 5.00."""
    line = price_line(tariff_of(NIGHT), date(2026, 1, 1), date(2027, 1, 3))
    year = habit_cost(load_of([2000.0]), line, SATURDAYS)
    assert len(year.days) == 25
    assert {day.usual.weekday() for day in year.days} == {5}
    assert (str(year.usual), str(year.best), str(year.saving)) == ("15.00 GBP", "5.00 GBP", "10.00 GBP")
    assert year.days[0].usual == datetime(2026, 1, 3, 9, tzinfo=UTC)
    assert year.days[0].best == datetime(2026, 1, 3, 0, 30, tzinfo=UTC)


def test_within_limits(tariff_of, load_of) -> None:
    """Nobody gets up before eight or stays up after ten: nothing to save; impossible limits name the day."""
    line = price_line(tariff_of(NIGHT), date(2026, 1, 1), date(2027, 1, 3))
    year = habit_cost(load_of([2000.0]), line, SATURDAYS, StartLimits(earliest_min=480, finish_by_min=1320))
    assert year.saving.units == 0
    with pytest.raises(TariffError, match="2026-01-03: no start meets the limits"):
        habit_cost(load_of([2000.0] * 3), line, SATURDAYS, StartLimits(earliest_min=480, finish_by_min=540))


def test_the_usual_time_is_among_the_best_though_outside_the_limits(tariff_of, load_of) -> None:
    """Who brews at two in the night for 0.10 saves nothing, and loses nothing, by the hours in which others are up."""
    line = price_line(tariff_of(NIGHT), date(2026, 1, 1), date(2027, 1, 3))
    nights = Habit(weekday=5, at=time(2), brews=25, first=date(2026, 1, 1))
    year = habit_cost(load_of([2000.0]), line, nights, StartLimits(earliest_min=480, finish_by_min=1320))
    assert (str(year.usual), str(year.best), year.saving.units) == ("5.00 GBP", "5.00 GBP", 0)
    assert all(day.best == day.usual for day in year.days)


def test_a_usual_time_that_the_clock_skips(tariff_of, load_of) -> None:
    """Sundays at half past one: on 29 March there is no such time in London."""
    line = price_line(tariff_of(NIGHT), date(2026, 3, 1), date(2027, 3, 3))
    habit = Habit(weekday=6, at=time(1, 30), brews=52, first=date(2026, 3, 1))
    with pytest.raises(ClockError, match="does not exist"):
        habit_cost(load_of([2000.0]), line, habit)


def test_a_day_without_midnight(tariff_of, load_of) -> None:
    """Sunday 6 September 2026 begins at 01:00 in Santiago; the search begins there too."""
    line = price_line(tariff_of(NIGHT, zone="America/Santiago"), date(2026, 9, 5), date(2026, 9, 8))
    habit = Habit(weekday=6, at=time(9), brews=1, first=date(2026, 9, 1))
    (day,) = habit_cost(load_of([2000.0]), line, habit).days
    assert day.best == datetime(2026, 9, 6, 4, tzinfo=UTC)


def test_brews_are_spread_over_the_year() -> None:
    """52 are every week, 1 is the first; more than that is refused."""
    every = Habit(weekday=0, at=time(9), brews=52, first=date(2026, 1, 1)).days
    assert (every[1] - every[0]).days == 7
    assert SATURDAYS.days[-1] <= date(2026, 12, 31)
    for change in ({"brews": 0}, {"brews": 53}, {"weekday": 7}):
        with pytest.raises(ValueError, match="expected"):
            Habit(**({"weekday": 0, "at": time(9), "brews": 1, "first": date(2026, 1, 1)} | change))


def test_the_last_minute_of_a_day_may_be_its_best(tariff_of, load_of) -> None:
    """A cheap Sunday: of a Saturday's starts the one at 23:59 has most of it."""
    body = (
        '[[tariff.band]]\nname = "sunday"\nprice = 0.10\ndays = "sun"\n'
        '[[tariff.band]]\nname = "rest"\nprice = 0.30\notherwise = true\n'
    )
    line = price_line(tariff_of(body), date(2026, 1, 1), date(2026, 1, 5))
    (day,) = habit_cost(load_of([2000.0]), line, Habit(weekday=5, at=time(9), brews=1, first=date(2026, 1, 1))).days
    assert day.best == datetime(2026, 1, 3, 23, 59, tzinfo=UTC)
    assert float(day.best_cost) == pytest.approx(0.2 + 0.4 / 60)


@pytest.mark.parametrize(("first", "weekday", "begins"), [
    (date(2026, 1, 1), 3, date(2026, 1, 1)), (date(2026, 1, 1), 4, date(2026, 1, 2)),
    (date(2026, 1, 1), 2, date(2026, 1, 7)), (date(2026, 1, 1), 0, date(2026, 1, 5)),
])  # fmt: skip
def test_a_habit_begins_on_its_first_weekday(first: date, weekday: int, begins: date) -> None:
    """1 January 2026 is a Thursday; three brews in 52 weeks are 17 weeks apart, and once 18."""
    days = Habit(weekday=weekday, at=time(9), brews=3, first=first).days
    assert days[0] == begins
    assert [(later - begins).days // 7 for later in days] == [0, 17, 34]
    Habit(weekday=6, at=time(9), brews=52, first=first)
    with pytest.raises(ValueError, match="expected 0"):
        Habit(weekday=-1, at=time(9), brews=1, first=first)
