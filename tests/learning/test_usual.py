"""What a day took above the household's usual: by hand, on meters of whole hours with round numbers."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from energyplan.base.errors import LogError
from energyplan.base.load import LoadProfile
from energyplan.learning.meterfile import MeterLog
from energyplan.learning.usual import AboveUsual, above_usual, likely_start_s, month_so_far_kwh

MONDAY = datetime(2026, 6, 1, tzinfo=UTC)
HOUR_S = 3600.0


def metered(kwh, first=MONDAY):
    """A meter of whole hours: ``kwh`` by day and hour, or hour after hour."""
    kwh = np.asarray(kwh, dtype=float).ravel()
    start_s = first.timestamp() + HOUR_S * np.arange(kwh.size)
    return MeterLog(start_s=start_s, end_s=start_s + HOUR_S, kwh=kwh, columns=("t", "kWh"), counts="energy",
                    stamped="start", clock="utc")  # fmt: skip


def at_s(day, hour, first=MONDAY):
    """The moment of an hour of a day, counted from the first."""
    return first.timestamp() + 24 * HOUR_S * day + HOUR_S * hour


def weeks(days, weekday=0.2, weekend=0.5):
    """A household that takes one amount each hour of a weekday and another of a weekend; the first day is a Monday."""
    return np.array([[weekend if day % 7 in (5, 6) else weekday] * 24 for day in range(days)])


def test_a_brew_stands_above_days_of_its_kind():
    """Tuesday 23 June, 10 kWh from ten to three: above 0.2 kWh an hour of 29 other weekdays, to four o'clock.

    Weekdays move the six hours by -0.6, 0 or +0.6 kWh, most of them by 0.6: 1.4826 times that is a standard
    deviation, of one day and of a median of 29 (a variance of pi/2n, Kendall and Stuart, from memory).
    """
    kwh = weeks(40)
    weekdays = [day for day in range(40) if day % 7 < 5 and day != 22]
    for place, day in enumerate(weekdays):
        kwh[day] += (-0.1, 0.0, 0.1)[place % 3] if place < 27 else (-0.1, 0.1)[place - 27]
    kwh[22, 10:15] += 2.0
    found = above_usual(metered(kwh), at_s(22, 10), 5 * HOUR_S, UTC)
    assert found.days == len(weekdays) == 29
    assert found.start_s.tolist() == [at_s(22, hour) for hour in range(10, 16)]
    assert found.end_s.tolist() == [at_s(22, hour) for hour in range(11, 17)]
    assert found.usual_kwh == pytest.approx([0.2] * 6)
    assert found.measured_kwh == pytest.approx(10.0)
    assert found.within_kwh == pytest.approx(1.96 * 1.4826 * 0.6 * (1 + 3.14159 / 58) ** 0.5, rel=1e-4)
    assert found.interval_min == 60.0


@pytest.mark.parametrize(("brewed", "usual"), [(22, 0.2), (19, 0.5), (20, 0.5), (18, 0.2), (21, 0.2)])
def test_a_weekend_is_held_against_weekends(brewed, usual):
    """Saturday and Sunday take 0.5 kWh an hour, Friday before and Monday after them 0.2."""
    found = above_usual(metered(weeks(70)), at_s(brewed, 10), 4 * HOUR_S, UTC)
    assert found.usual_kwh == pytest.approx([usual] * 5)
    assert found.measured_kwh == pytest.approx(0.0)


def test_only_five_weeks_either_side_are_like_a_day():
    """Days to 35 before and after count: 10 weekends of a long export; those of another season don't."""
    kwh = weeks(120)
    kwh[[60 - 36, 60 + 36]] = 9.0  # a day beyond
    found = above_usual(metered(kwh), at_s(60, 10), 4 * HOUR_S, UTC)
    assert 60 % 7 == 4
    assert found.days == 50  # of the 70 days around a Friday, 50 are weekdays
    assert found.within_kwh == pytest.approx(0.0, abs=1e-9)
    near = above_usual(metered(kwh), at_s(61, 10), 4 * HOUR_S, UTC)
    assert near.days == 20


@pytest.mark.parametrize(("weekends", "days", "usual"), [(4, 8, 0.5), (3, 26, 0.2)])
def test_fewer_than_eight_days_of_a_kind_are_held_against_all(weekends, days, usual):
    """Eight other days of weekends tell what a Saturday takes; with six of them all days do."""
    saturday = 7 * weekends + 5
    found = above_usual(metered(weeks(saturday + 1)), at_s(saturday, 10), 4 * HOUR_S, UTC)
    assert found.days == days
    assert found.usual_kwh == pytest.approx([usual] * 5)


@pytest.mark.parametrize("others", [3, 4])
def test_four_other_days_tell_what_is_usual(others):
    """Three don't, and the refusal says how many there are."""
    log = metered(weeks(others + 1))
    if others == 4:
        assert above_usual(log, at_s(2, 10), 4 * HOUR_S, UTC).days == 4
    else:
        with pytest.raises(LogError, match="only 3 other days in the export; 4 or more"):
            above_usual(log, at_s(2, 10), 4 * HOUR_S, UTC)


def test_an_export_covers_a_day_to_its_planned_end():
    """It may end with the day's last hour; an hour less is refused, with how much of the day it has."""
    kwh = weeks(8).ravel()
    begins = 7 * 24 + 10
    whole = above_usual(metered(kwh[: begins + 5]), at_s(7, 10), 5 * HOUR_S, UTC)
    assert whole.kwh.size == 5
    with pytest.raises(LogError, match=r"covers 4\.0 of the 5\.0 hours of this day"):
        above_usual(metered(kwh[: begins + 4]), at_s(7, 10), 5 * HOUR_S, UTC)


def test_a_night_brew_is_held_against_other_nights():
    """From ten in the evening to three: neither the night before nor the one after counts as another day.

    Of ten days the last has no morning after it, and days 3 to 5 are the brew's own and its neighbours.
    """
    kwh = np.tile(np.r_[[1.0] * 12, [3.0] * 12], (10, 1))
    kwh[4, 22:] += 2.0
    kwh[5, :3] += 2.0
    found = above_usual(metered(kwh), at_s(4, 22), 5 * HOUR_S, UTC)
    assert found.days == 6
    assert found.usual_kwh == pytest.approx([3.0, 3.0, 1.0, 1.0, 1.0, 1.0])
    assert found.measured_kwh == pytest.approx(10.0)


def test_what_comes_at_another_hour_each_day_is_usual_all_the_same():
    """An oven takes 1 kWh at eleven, twelve or one: no hour has it mostly, the day has; 1.5 kWh are usual, not 0.5."""
    kwh = np.full((9, 24), 0.1)
    for day in range(9):
        kwh[day, 11 + day % 3] += 1.0
    found = above_usual(metered(kwh), at_s(4, 10), 4 * HOUR_S, UTC)
    assert found.usual_kwh.sum() == pytest.approx(1.5)
    assert found.measured_kwh == pytest.approx(0.0)
    nothing = above_usual(metered(np.zeros((9, 24))), at_s(4, 10), 4 * HOUR_S, UTC)
    assert nothing.usual_kwh.sum() == 0.0


def above(kwh, usual_kwh, within_kwh=2.0):
    """Hours of a day, counted and usual."""
    start_s = at_s(3, 0) + HOUR_S * np.arange(len(kwh))
    return AboveUsual(start_s=start_s, end_s=start_s + HOUR_S, kwh=np.array(kwh), usual_kwh=np.array(usual_kwh),
                      within_kwh=within_kwh, days=9, interval_min=60.0)  # fmt: skip


def test_a_brew_shows_where_three_tenths_of_it_stand_out():
    """5 kWh above the usual, 2 kWh of scatter: a brew of 9.9 kWh is seen in the 3 left, one of 10.1 is not."""
    found = above([4.0, 3.0], [1.0, 1.0])
    assert found.measured_kwh == 5.0
    assert found.shows(9.9)
    assert not found.shows(10.1)


def test_counted_and_usual_are_loads_to_be_priced():
    """2 and 3 kWh an hour are 2 and 3 kW from the first interval on; what flowed back is no load."""
    counted, usual = above([2.0, 3.0, -1.0], [0.5, 0.25, 0.5]).loads()
    assert counted.edges_s.tolist() == usual.edges_s.tolist() == [0.0, 3600.0, 7200.0, 10_800.0]
    assert counted.mean_w == pytest.approx([2000.0, 3000.0, 0.0])
    assert usual.mean_w == pytest.approx([500.0, 250.0, 500.0])
    assert (counted.name, usual.name) == ("counted", "usual")
    for load in (counted, usual):
        assert not load.heater_w_per_v2.any()
        assert not load.other_w.any()


@pytest.mark.parametrize(("lacks", "told"), [(0, 12 * 24 + 10.0), (1, 12 * 24 + 9.0), (2, None)])
def test_a_month_counts_from_its_first_hour(lacks, told):
    """1 kWh an hour to ten o'clock of the 13th; an hour that the export lacks is let pass, two are not."""
    kwh = np.ones(24 * 40 - lacks)
    log = metered(kwh, datetime.fromtimestamp(at_s(-10 if lacks == 0 else 0, lacks), UTC))
    found = month_so_far_kwh(log, at_s(12, 10), UTC)
    assert found == (told if told is None else pytest.approx(told))


def load_of(*kwh):
    """A load of whole hours."""
    watts, none = 1000.0 * np.array(kwh), np.zeros(len(kwh))
    return LoadProfile(name="day", edges_s=HOUR_S * np.arange(len(kwh) + 1), mean_w=watts, heater_w_per_v2=none,
                       other_w=none)  # fmt: skip


@pytest.mark.parametrize(("share", "hour"), [(1.0, 58), (0.55, 58), (0.45, None)])
def test_a_day_starts_where_its_shape_fits(share, hour):
    """Hours of 3, 1 and 2 kWh at ten of the third day; of less than half of them nothing is left by taking all off."""
    kwh = weeks(7, 0.3, 0.3).ravel()
    kwh[58:61] += share * np.array([3.0, 1.0, 2.0])
    found = likely_start_s(metered(kwh), load_of(3.0, 1.0, 2.0), UTC)
    assert found == (None if hour is None else at_s(0, hour))


def test_an_export_of_less_than_a_day_is_searched_without_a_warning():
    """Fifteen hours have no usual but themselves, so nothing stands out; a day longer than they are fits nowhere."""
    log = metered(np.r_[[0.1] * 10, 3.0, 1.0, 2.0, 0.1, 0.1])
    assert likely_start_s(log, load_of(3.0, 1.0, 2.0), UTC) is None
    assert likely_start_s(log, load_of(*[1.0] * 16), UTC) is None


def test_the_first_hours_of_an_export_can_be_the_day():
    """A day as long as the export itself is looked for at its beginning."""
    kwh = np.r_[[3.0, 1.0, 2.0], np.zeros(4 * 24)]
    assert likely_start_s(metered(kwh), load_of(*kwh), UTC) == at_s(0, 0)
    assert likely_start_s(metered(kwh), load_of(*kwh, 0.0), UTC) is None


def test_an_hour_that_the_clock_shows_twice_counts_by_its_mean():
    """One o'clock of 25 October took 3 and then 5 kWh: 4, which is the middle of the 1, 2, 6 and 7 of other nights."""
    dublin, hours = ZoneInfo("Europe/Dublin"), 24 * 6 + 1
    first = datetime(2026, 10, 21, 23, tzinfo=UTC)  # midnight in Dublin
    local = [(first + timedelta(hours=k)).astimezone(dublin) for k in range(hours)]
    nights = {22: [1.0], 23: [2.0], 24: [9.0], 25: [3.0, 5.0], 26: [6.0], 27: [7.0]}
    kwh = [nights[at.day].pop(0) if at.hour == 1 else 1.0 for at in local]
    brewed = datetime(2026, 10, 24, 1, tzinfo=dublin).timestamp()
    found = above_usual(metered(kwh, first), brewed, 1800.0, dublin)
    assert found.days == 5
    assert found.kwh.tolist() == [9.0, 1.0]
    assert found.usual_kwh == pytest.approx([4.0, 1.0])
