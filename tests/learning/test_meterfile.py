"""Exports of a house's meter, cell by cell: moments, numbers, columns and intervals, and what is refused."""

from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from energyplan.base.errors import LogError
from energyplan.learning.meterfile import _number, _span, parse_meter

ZONE = ZoneInfo("Europe/Dublin")
FIRST = datetime(2026, 1, 14)  # noqa: DTZ001 - a clock on the wall; in January it is that of UTC
KWH = [round(0.1 + (k * 7 % 11) / 10, 1) for k in range(60)]


def at(hours):
    """The wall's clock so many hours on."""
    return FIRST + timedelta(hours=hours)


def seconds(hours):
    """The same in seconds of UTC."""
    return at(hours).replace(tzinfo=UTC).timestamp()


def read(head, rows):
    """A log of lines."""
    return parse_meter("\n".join([head, *rows]), ZONE)


def hourly(pattern="{:%Y-%m-%d %H:%M}", head="time,kWh", count=60, every_h=1.0, cell="{}"):
    """An export of a column of moments and one of values."""
    return read(head, [f"{pattern.format(at(every_h * k))},{cell.format(KWH[k])}" for k in range(count)])


PATTERNS = (
    "%d.%m.%Y %H:%M", "%d.%m.%Y %H:%M:%S", "%d/%m/%Y %H:%M", "%d/%m/%Y %H:%M:%S", "%m/%d/%Y %H:%M",
    "%m/%d/%Y %H:%M:%S", "%d-%m-%Y %H:%M", "%Y/%m/%d %H:%M", "%m/%d/%Y %I:%M %p", "%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M:%S",
)  # fmt: skip


@pytest.mark.parametrize("pattern", PATTERNS)
def test_moments_are_read_however_they_are_written(pattern):
    """Day or month first, with seconds or morning and afternoon: 14 January on."""
    log = hourly(f"{{:{pattern}}}")
    assert log.start_s.tolist() == [seconds(k) for k in range(60)]
    assert log.end_s.tolist() == [seconds(k + 1) for k in range(60)]
    assert log.kwh.tolist() == KWH
    assert (log.counts, log.stamped, log.clock, log.columns) == ("energy", "start", "local", ("time", "kWh"))
    assert log.interval_s == 3600.0


@pytest.mark.parametrize("factor", [1, 1000])
def test_seconds_or_thousandths_since_1970_are_moments(factor):
    """Ten digits or thirteen."""
    rows = [f"{round(seconds(k)) * factor},{KWH[k]}" for k in range(60)]
    log = read("time,kWh", rows)
    assert log.start_s.tolist() == [seconds(k) for k in range(60)]
    assert log.clock == "offset"


def test_an_offset_counts_and_so_does_a_heading_that_says_utc():
    """+05:00 is five hours earlier; in July a bare clock is the household's, unless its heading says UTC or GMT."""
    east = timezone(timedelta(hours=5))
    log = read("time,kWh", [f"{at(k).replace(tzinfo=east).isoformat()},{KWH[k]}" for k in range(60)])
    assert (log.start_s[0], log.clock) == (seconds(-5), "offset")
    july = datetime(2026, 7, 1, tzinfo=UTC).timestamp()
    for head, clock, start_s in (("time", "local", july - 3600), ("time (UTC)", "utc", july), ("GMT", "utc", july)):
        log = read(f"{head},kWh", [f"2026-07-{1 + k // 24:02d} {k % 24:02d}:00,{KWH[k]}" for k in range(60)])
        assert (log.start_s[0], log.clock) == (start_s, clock)


@pytest.mark.parametrize(("count", "read_as"), [(48, True), (47, False)])
def test_forty_eight_intervals_are_the_fewest(count, read_as):
    """With one less the refusal says how many there are."""
    if read_as:
        assert hourly(count=count).kwh.size == 48
    else:
        with pytest.raises(LogError, match="only 47 intervals; give some days"):
            hourly(count=count)


@pytest.mark.parametrize(("every_h", "read_as"), [(2.0, True), (2.5, False)])
def test_two_hours_are_the_longest_interval(every_h, read_as):
    """Longer ones show no brew day."""
    if read_as:
        assert hourly(every_h=every_h).interval_s == 7200.0
    else:
        with pytest.raises(LogError, match="last 2 h; intervals of an hour or less"):
            hourly(every_h=every_h)


def test_too_large_a_text_is_refused_before_it_is_read(monkeypatch):
    """As long as allowed is read; a character more is not."""
    text = "time,kWh\n" + "\n".join(f"{at(k):%Y-%m-%d %H:%M},{KWH[k]}" for k in range(60))
    monkeypatch.setattr("energyplan.learning.meterfile.LARGEST_CHARACTERS", len(text))
    assert parse_meter(text, ZONE).kwh.size == 60
    with pytest.raises(LogError, match="too large"):
        parse_meter(text + " ", ZONE)


@pytest.mark.parametrize(
    ("text", "comma", "number"),
    [
        ("1.234,5", True, 1234.5), ("1,5", True, 1.5), ("1.5", True, 1.5), ("1.234", True, 1.234), ("1,5", False, None),
        ("1 234.5", False, 1234.5), ("1\u202f234,5", True, 1234.5), ("0.5 kWh", False, 0.5), ("500Wh", False, 500.0),
        ("2 KW", False, 2.0), ("\u22123", False, -3.0), ("1_0", False, None), ("", False, None), ("kWh", False, None),
        ("-0.25", False, -0.25),
    ],
)  # fmt: skip
def test_numbers_as_they_stand_in_cells(text, comma, number):
    """Thousands parted by points, spaces or narrow ones; units behind them; a true minus; else no number."""
    found = _number(text, comma)
    assert np.isnan(found) if number is None else found == number


@pytest.mark.parametrize(
    ("cell", "halves"),
    [
        ("2026-01-14 10:00 - 2026-01-14 11:00", ("2026-01-14 10:00", "2026-01-14 11:00")),
        ("14.01.2026 23:00 bis 15.01.2026 00:00", ("14.01.2026 23:00", "15.01.2026 00:00")),
        ("14/01/2026 10:00-11:00", ("14/01/2026 10:00", "14/01/2026 11:00")),
        ("2026-01-14T10:00 \u2013 11:00", ("2026-01-14T10:00", "2026-01-14 11:00")),
        ("2026-01-14 10:00", None), ("10:00 - 11:00", None), ("2026-01-14 10:00 - later", None),
    ],
)  # fmt: skip
def test_a_stretch_in_one_cell(cell, halves):
    """Beginning and end; an end without its date is on the day of the beginning."""
    assert _span(cell) == halves


def test_an_end_at_midnight_without_its_date_is_on_the_next_day():
    """23:00 to 00:00, in two columns or in one."""
    two = read(
        "from,to,kWh", [f"{at(k):%Y-%m-%d %H:%M},{at(k):%Y-%m-%d} {at(k + 1):%H:%M},{KWH[k]}" for k in range(60)]
    )
    one = read("hour,kWh", [f"{at(k):%Y-%m-%d %H:%M} - {at(k + 1):%H:%M},{KWH[k]}" for k in range(60)])
    for log in (two, one):
        assert (log.end_s - log.start_s).tolist() == [3600.0] * 60
        assert log.stamped == "both"
    assert one.columns == ("hour", "hour, until", "kWh")


@pytest.mark.parametrize("head", ["Interval end", "to", "Ende", "until (local)", "bis"])
def test_a_heading_says_that_stamps_end_their_interval(head):
    """An hour earlier, then; a word that only holds such letters says nothing."""
    log = hourly(head=f"{head},kWh")
    assert (log.stamped, log.start_s[0], log.end_s[0]) == ("end", seconds(-1), seconds(0))
    assert hourly(head="Kalender,kWh").stamped == "start"


@pytest.mark.parametrize(
    ("first_h", "count", "stamped"),
    [(1, 48, "end"), (0, 49, "start"), (1, 49, "start"), (0, 48, "start"), (0.5, 48, "start"), (12.5, 60, "start")],
)
def test_a_last_midnight_that_no_row_begins_at_ends_the_rows(first_h, count, stamped):
    """01:00 to 00:00 are ends; 00:00 to 23:00 beginnings; rows that begin and end at midnight may be either."""
    log = read("time,kWh", [f"{at(first_h + k):%Y-%m-%d %H:%M},{KWH[k]}" for k in range(count)])
    assert log.stamped == stamped


def test_the_newest_row_first_is_turned():
    """Values go with their moments."""
    rows = [f"{at(k):%Y-%m-%d %H:%M},{KWH[k]}" for k in range(60)]
    log = read("time,kWh", rows[::-1])
    assert log.start_s[0] == seconds(0)
    assert log.kwh.tolist() == KWH


@pytest.mark.parametrize(
    ("head", "counts", "factor"),
    [("kWh", "energy", 1.0), ("Usage (Wh)", "energy", 1e-3), ("MWh", "energy", 1e3), ("Load kW", "power", 1.0),
     ("W", "power", 1e-3), ("reading", "energy", 1.0)],
)  # fmt: skip
def test_the_unit_is_in_the_heading(head, counts, factor):
    """Half an hour of a power counts half; without a unit they are kWh."""
    log = hourly(head=f"time,{head}", every_h=0.5)
    assert log.counts == counts
    assert log.kwh == pytest.approx([factor * k * (0.5 if counts == "power" else 1.0) for k in KWH])


@pytest.mark.parametrize(
    ("heads", "column"),
    [
        (["kWh", "kWh export"], 0), (["kWh export", "kWh"], 1), (["cost", "used"], 1), (["a", "b"], 0),
        (["temperature", "kWh"], 1), (["used", "kWh"], 1), (["kWh cost", "used"], 1), (["generation kWh", "a"], 1),
        (["CO2", "b"], 1), (["price per kWh", "b"], 1), (["feed-in kWh", "b"], 1),
    ],
)  # fmt: skip
def test_of_two_columns_the_likelier_is_read(heads, column):
    """One with a unit before one without, the first of equals; never what flows back or costs if there is another."""
    rows = [f"{at(k):%Y-%m-%d %H:%M},{KWH[k]},{KWH[59 - k]}" for k in range(60)]
    log = read(",".join(["time", *heads]), rows)
    assert log.columns[-1] == heads[column]
    assert log.kwh.tolist() == (KWH if column == 0 else KWH[::-1])


@pytest.mark.parametrize(("filled", "column"), [(50, "b"), (49, "c")])
def test_a_column_half_of_whose_cells_are_numbers_counts(filled, column):
    """Of a hundred rows fifty; those without a number are left out. One value all along is no reading either."""
    rows = [f"{at(k / 2):%Y-%m-%d %H:%M},7,{KWH[k % 60] if k < filled else ''},{KWH[k % 60]}" for k in range(100)]
    log = read("time,a,b,c", rows)
    assert (log.columns[-1], log.kwh.size) == (column, 50 if column == "b" else 100)


def test_a_running_total_leaves_out_what_passed_in_a_gap():
    """Rows that lack three hours: their kWh belong to no hour, and all others do."""
    total = np.cumsum([4711.0, *KWH])
    rows = [f"{at(k):%Y-%m-%d %H:%M},{total[k]:.1f}" for k in range(60) if k not in (20, 21, 22)]
    log = read("time,kWh", rows)
    assert (log.counts, log.stamped) == ("total", "start")
    assert log.kwh == pytest.approx([KWH[k] for k in range(59) if k not in (19, 20, 21, 22)])
    assert set(log.end_s - log.start_s) == {3600.0}


@pytest.mark.parametrize(("last", "counts"), [(21, "total"), (20, "energy")])
def test_what_only_rises_is_a_total_beyond_twenty_usual_steps(last, counts):
    """1 kWh more from hour to hour: up to 20 in all they may be kWh of their hours."""
    rows = [f"{at(k):%Y-%m-%d %H:%M},{last - 48 + k}" for k in range(49)]
    assert read("time,kWh", rows).counts == counts


# ESPI ---------------------------------------------------------------------------------------------------------


def espi(readings, kind="<powerOfTenMultiplier>0</powerOfTenMultiplier><uom>72</uom>", more=""):
    """A feed of interval readings: start, duration, value."""
    blocks = "".join(
        f"<IntervalReading><timePeriod><duration>{lasts}</duration><start>{start}</start></timePeriod>"
        f"<value>{value}</value></IntervalReading>"
        for start, lasts, value in readings
    )
    return parse_meter(f"<feed><ReadingType>{kind}</ReadingType>{more}{blocks}</feed>", ZONE)


HOURS = [(round(seconds(k)), 3600, 100 * k) for k in range(60)]


@pytest.mark.parametrize(
    ("kind", "counts", "factor"),
    [
        ("<uom>72</uom>", "energy", 1e-3), ("", "energy", 1e-3), ("<uom>38</uom>", "power", 1e-3),
        ("<powerOfTenMultiplier>3</powerOfTenMultiplier><uom>72</uom>", "energy", 1.0),
        ("<powerOfTenMultiplier>-1</powerOfTenMultiplier><flowDirection>1</flowDirection>", "energy", 1e-4),
    ],
)  # fmt: skip
def test_a_feed_has_watt_hours_or_watts_times_a_power_of_ten(kind, counts, factor):
    """The first half of each hour, 0, 100, 200 … in their unit, of which watts count by half; sorted, each once."""
    halves = [(start, 1800, value) for start, _, value in HOURS]
    log = espi([*halves[::-1], halves[7]], kind)
    assert log.start_s.tolist() == [seconds(k) for k in range(60)]
    assert (log.end_s - log.start_s).tolist() == [1800.0] * 60
    assert log.kwh == pytest.approx([factor * 100 * k * (0.5 if counts == "power" else 1.0) for k in range(60)])
    assert (log.counts, log.stamped, log.clock, log.columns) == (counts, "start", "utc", ("timePeriod", "value"))


@pytest.mark.parametrize(
    ("kind", "more", "said"),
    [
        ("<uom>42</uom>", "", "no energy delivered"), ("<flowDirection>19</flowDirection>", "", "no energy delivered"),
        ("<powerOfTenMultiplier>x</powerOfTenMultiplier>", "", "'x': expected a whole number such as -3"),
        ("<powerOfTenMultiplier>123</powerOfTenMultiplier>", "", "expected a whole number"),
        ("<uom>72</uom>", "<ReadingType><uom>38</uom></ReadingType>", "more than one kind"),
        ("<uom>72</uom>", "<ReadingType><uom>72</uom><powerOfTenMultiplier>3</powerOfTenMultiplier></ReadingType>",
         "more than one kind"),
    ],
)  # fmt: skip
def test_a_feed_of_something_else_is_refused(kind, more, said):
    """What flows back, volts, two kinds at once, a multiplier that is none."""
    with pytest.raises(LogError, match=said):
        espi(HOURS, kind, more)


def test_two_kinds_that_are_alike_are_one():
    """A meter may say its kind twice."""
    same = "<ReadingType><powerOfTenMultiplier>0</powerOfTenMultiplier><uom>72</uom></ReadingType>"
    assert espi(HOURS, more=same).kwh.size == 60


@pytest.mark.parametrize("bad", [(0, 0, 5), (0, -900, 5), ("x", 900, 5), (0, 900, "nan"), (0, 900, "inf")])
def test_a_reading_that_lasts_no_time_or_is_no_number_is_refused(bad):
    """One among sixty; and a feed without any."""
    for readings in ([*HOURS, bad], []):
        with pytest.raises(LogError, match="no IntervalReading"):
            espi(readings)
