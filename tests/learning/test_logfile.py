"""Logs: what is read, what is mended, and the one sentence for whatever can't be read."""

import re
from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from energyplan.base.errors import EnergyPlanError, FileError, LogError
from energyplan.learning.logfile import LARGEST_FILE_BYTES, demo_logs, parse_log, read_log
from energyplan.learning.readings import Remark

GOOD = [f"{k},{70 - k / 10:.1f}" for k in range(12)]

DATED = [f"2026-11-07T08:{k:02d}:00,70" for k in range(10)]


def text_of(rows, header="time,temperature_c"):
    """CSV text of rows."""
    return "\n".join([header, *rows]) + "\n"


def with_row(place, row):
    """The good rows with one replaced; ``place`` is its line in the file."""
    rows = list(GOOD)
    rows[place - 2] = row
    return text_of(rows)


POWER = "time,temperature_c,power_w"
ENERGY = "time,temperature_c,energy_kwh"
LID = "time,temperature_c,lid"

# Twenty and more kinds of malformed logs: text, line, column, words of the fix.
MALFORMED = {
    "empty file": ("", 1, "time", "the file is empty"),
    "blank first line": ("\n" + text_of(GOOD), 1, "time", "expected a first line"),
    "header only": ("time,temperature_c\n", 2, "time", "no readings"),
    "no header": (text_of(GOOD[1:], GOOD[0]), 1, "time", "missing"),
    "time column misspelt": (text_of(GOOD, "tme,temperature_c"), 1, "time", 'is "tme" meant?'),
    "temperature column misspelt": (text_of(GOOD, "time,temprature_c"), 1, "temperature_c", 'is "temprature_c" meant?'),
    "no temperature column": (text_of(GOOD, "time,reading"), 1, "temperature_c", "temperature_c or temperature_f"),
    "two temperature columns": (
        text_of([f"{row},1" for row in GOOD], "time,temperature_c,temperature_f"), 1, "temperature_f", "keep one",
    ),
    "a column twice": (text_of([f"{row},1" for row in GOOD], "time,temperature_c,time"), 1, "time", "appears twice"),
    "letters for a temperature": (with_row(5, "3,warm"), 5, "temperature_c", "write it like 66.4"),
    "degF in a column of degC": (with_row(6, "4,152.3"), 6, "temperature_c", "temperature_f"),
    "absolute zero for a fault": (with_row(6, "4,-127"), 6, "temperature_c", "out of range"),
    "an infinite temperature": (with_row(7, "5,inf"), 7, "temperature_c", "not finite"),
    "a time that is none": (with_row(4, "soon,69.9"), 4, "time", "minutes from the start"),
    "an empty time": (with_row(4, ",69.9"), 4, "time", "every row needs its time"),
    "a time of day that is none": (text_of(["19:05,70", "19:10,69", "19:65,68", *GOOD]), 4, "time", "like 19:05"),
    "a clock with dots": (text_of(["19.05,75", "19.35,71", "19.59,69", "20.03,68"]), 2, "time", "write 19:05"),
    "a clock with commas": (text_of(["22,50;75", "23,10;71", "0,10;64"], "time;temperature_c"), 2, "time", "or 22,500"),
    "an infinite time": (with_row(4, "inf,69.9"), 4, "time", "is no time"),
    "a date among minutes": (with_row(4, "2026-11-07T08:30:00,69.9"), 4, "time", "write all in one way"),
    "minutes among dates": (
        text_of([*DATED, "11,69"]), 12, "time", "as in the first row",
    ),
    "a day that doesn't exist": (
        text_of([*DATED, "2026-02-30T08:00:00,69"]), 12, "time", "no date",
    ),
    "an empty date": (
        text_of([*DATED, ",69"]), 12, "time", "every row needs",
    ),
    "offsets here and there": (
        text_of([*(row.replace(",", "Z,") for row in DATED), "2026-11-07T08:10:00,69"]), 12, "time", "offset",
    ),
    "a row too short": (with_row(8, "6"), 8, "temperature_c", "missing"),
    "a row too long": (with_row(8, "6,69,4,4"), 8, "temperature_c", "4 cells"),
    "decimal commas between commas": (with_row(8, "6,69,4"), 8, "temperature_c", "by semicolons"),
    "thousands in quotes": (with_row(8, '6,"1,069.4"'), 8, "temperature_c", "is no number"),
    "an open quote": (with_row(8, '6,"69.4'), 13, "temperature_c", "close every quote"),
    "letters after a quote": (with_row(8, '6,"69.4"x'), 8, "temperature_c", "not valid CSV"),
    "a NUL byte": (with_row(8, "6,69\0.4"), 8, "time or later", "NUL"),
    "too few rows": (text_of(GOOD[:1]), 2, "time", "at least 2 rows"),
    "too few temperatures": (text_of([f"{k}," for k in range(12)]), 13, "temperature_c", "0 of 12 cells"),
    "all at one time": (text_of(["5,70.0"] * 12), 13, "time", "1 different times"),
    "letters for a power": (text_of([f"{row},full" for row in GOOD], POWER), 2, "power_w", "write it like 2350"),
    "a negative power": (text_of([f"{row},-5" for row in GOOD], POWER), 2, "power_w", "out of range"),
    "a negative meter": (text_of([f"{row},-0.5" for row in GOOD], ENERGY), 2, "energy_kwh", "out of range"),
    "a lid that is no lid": (text_of([f"{row},mostly" for row in GOOD], LID), 2, "lid", "on, ajar or off"),
}  # fmt: skip


@pytest.mark.parametrize("kind", MALFORMED)
def test_every_malformed_log_gives_one_sentence_with_line_and_column(kind):
    """Each kind of malformed log is one LogError that names file, line, column and the fix."""
    text, line, column, words = MALFORMED[kind]
    with pytest.raises(LogError) as caught:
        parse_log(text, source="kettle.csv")
    message = str(caught.value)
    assert message.startswith(f"kettle.csv: line {line}, column {column}")
    assert words in message
    assert "\n" not in message
    assert caught.value.problems == ()


def test_there_are_at_least_twenty_kinds():
    """The list of malformed kinds is as long as it should be, and all of its texts differ."""
    assert len({text for text, *_ in MALFORMED.values()}) >= 30


def test_bytes_that_are_no_text_name_the_line(tmp_path):
    """A file that isn't UTF-8 is told with the line of the first bad byte."""
    file = tmp_path / "log.csv"
    file.write_bytes(b"time,temperature_c\n0,70\n1,\xff\xfe\n")
    with pytest.raises(LogError, match="line 3, column"):
        read_log(str(file))


def test_the_clock_of_the_wall_is_read_and_goes_on_after_midnight():
    """Twelve readings every ten minutes from 23:05, as noted by hand; the fit asks for minutes only."""
    clocks = [f"{(23 * 60 + 5 + 10 * k) // 60 % 24}:{(5 + 10 * k) % 60:02d}" for k in range(12)]
    by_hand = parse_log(text_of([f"{clock},{75 - k}" for k, clock in enumerate(clocks)]))
    assert clocks[6] == "0:05"
    np.testing.assert_allclose(by_hand.times_s, 600.0 * np.arange(12))
    assert by_hand.start is None


@pytest.mark.parametrize(
    "minutes",
    [
        ["0.00", "10.20", "20.40"],  # counted from 0
        ["0.50", "1.00", "1.50", "2.00"],  # halves
        ["1.20", "8.40", "15.60"],  # no clock shows sixty minutes
        ["5.00", "24.00"],  # nor the hour 24
        ["19.050", "19.350"],
        ["5", "15.20"],
        [
            f"{minute}.25" for minute in range(20)
        ],  # every minute, from a quarter: nobody reads a clock hourly from 00:25
        ["0.25", "1.25", "3.25", "4.26"],
        ["3.05", "3.55", "4.05", "4.55", "5.05"],  # every half minute: by the clock 50 and 10 minutes by turns
        ["12.03", "12.36", "12.69"],
        ["2.10", "5.43", "8.76"],
    ],
)
def test_minutes_with_decimals_are_no_clock(minutes):
    """Seconds from the first reading, as they stand."""
    log = parse_log(text_of([f"{minute},{75 - place}" for place, minute in enumerate(minutes)]))
    np.testing.assert_allclose(log.times_s, 60 * (np.array(minutes, dtype=float) - float(minutes[0])))


@pytest.mark.parametrize(
    "times",
    [
        [f"19.{minute:02d}" for minute in range(5, 60, 5)],  # alike by the clock and in minutes
        [*(f"0.{minute:02d}" for minute in range(5, 60, 5)), "1.00", "1.05"],  # after midnight
        [f"{hour}.15" for hour in range(10, 15)],  # every hour, by hand
        ["1.30", "5.45", "12.10"],
        ["0.05", "0.35", "0.55", "1.15"],
    ],
)
def test_what_may_be_a_clock_is_not_taken_for_minutes(times):
    """Nothing tells which it is: the message says how to write either."""
    with pytest.raises(LogError, match=f"{times[0]} may be a time of day, or minutes from the start: write"):
        parse_log(text_of([f"{time},{75 - place}" for place, time in enumerate(times)]))


def test_minutes_and_celsius():
    """Plain minutes and degC come out as seconds and degC."""
    log = parse_log(text_of(GOOD))
    assert log.times_s.tolist() == [60.0 * k for k in range(12)]
    assert log.temperature_c[3] == pytest.approx(69.7)
    assert (log.power_w, log.energy_kwh, log.lid, log.start, log.notes) == (None, None, None, None, ())
    assert log.resolution_k == pytest.approx(0.1)
    assert log.duration_s == 660.0


def test_fahrenheit_with_its_resolution():
    """DegF become degC, and a whole degree becomes 5/9 K of resolution."""
    log = parse_log(text_of([f"{k},{212 - k}" for k in range(10)], "time,temperature_f"))
    assert log.temperature_c[0] == pytest.approx(100.0)
    assert log.resolution_k == pytest.approx(5 / 9)


@pytest.mark.parametrize("mark", [";", "\t"])
def test_semicolons_or_tabs_with_decimal_commas_and_a_byte_order_mark(mark):
    """What office programs of half of Europe write is read."""
    rows = [f"{k},5{mark}{70 - k},25{mark}2350,5" for k in range(10)]
    log = parse_log("\ufeff" + text_of(rows, f"Time{mark}Temperature_C{mark}Power_W").replace("\n", "\r\n"))
    assert log.times_s[1] == 60.0
    assert log.temperature_c[0] == 70.25
    assert log.power_w is not None
    assert log.power_w[0] == 2350.5


def test_unsorted_and_doubled_times_are_sorted_and_averaged():
    """Rows out of order are sorted, readings of one moment averaged, both with a note."""
    log = parse_log(text_of([*GOOD[::-1], "3,69.9"]))
    assert (np.diff(log.times_s) > 0).all()
    assert log.temperature_c[3] == pytest.approx(69.8)
    assert any(note.code == "sorted" for note in log.notes)
    assert any(note.code == "averaged" for note in log.notes)


def test_gaps_and_empty_cells_are_told():
    """Empty temperatures are left out, a long pause is named with its minutes."""
    log = parse_log(text_of([*GOOD, "12,nan", "13,", "60,66.0"]))
    assert log.temperature_c.size == 13
    assert Remark("no temperature", count=2) in log.notes
    assert Remark("gap", count=1, longest_min=49.0) in log.notes
    assert any(
        note.code == "gaps" and note["count"] == 2
        for note in parse_log(text_of([*GOOD, "60,66.0", "61,66.0", "200,60"])).notes
    )


def test_clock_times_with_and_without_an_offset():
    """ISO times give the start: in UTC with an offset (two offsets mix), as written without."""
    rows = [f"2026-10-25T01:{50 + k}:00+01:00,70" for k in range(6)]
    rows += [f"2026-10-25T01:{k:02d}:00+00:00,69" for k in range(6)]
    log = parse_log(text_of(rows))
    assert log.start == datetime(2026, 10, 25, 0, 50, tzinfo=UTC)
    assert log.duration_s == 15 * 60
    naive = parse_log(text_of([f"2026-11-07 08:{k:02d}:30,70" for k in range(9)]))
    assert naive.start == datetime(2026, 11, 7, 8, 0, 30)  # noqa: DTZ001 - a log without an offset
    assert naive.duration_s == 480.0


@pytest.mark.parametrize(("levels", "resolution_k"), [(7, 0.0), (8, 0.0137), (12, 0.0137)])
def test_steps_of_no_usual_size_are_believed_where_many_readings_keep_them(levels, resolution_k):
    """Eight values on a grid of 0.0137 K show it; seven may lie so by chance (common practice, no source)."""
    rows = [f"{k},{50 + 0.0137 * (k % levels):.4f}" for k in range(24)]
    assert parse_log(text_of(rows)).resolution_k == pytest.approx(resolution_k, abs=1e-6)


def test_a_log_begins_with_its_first_temperature():
    """Two rows before it have none: its clock, and the seconds of all others, count from the third."""
    rows = ["2026-11-07T08:00:00,", "2026-11-07T08:01:00,", *DATED[2:]]
    found = parse_log(text_of(rows))
    assert found.start is not None
    assert (found.start.hour, found.start.minute) == (8, 2)
    assert found.times_s[:2].tolist() == [0.0, 60.0]


def test_meter_totals_lose_their_resets():
    """A running total becomes energy since the first reading; a reset counts on from 0."""
    totals = [5.0, 5.1, "", 5.3, 0.05, 0.15, 0.15, 0.25, 0.35, 0.4]
    log = parse_log(text_of([f"{k},60,{total}" for k, total in enumerate(totals)], ENERGY))
    expected = [0.0, 0.1, np.nan, 0.3, 0.35, 0.45, 0.45, 0.55, 0.65, 0.7]
    np.testing.assert_allclose(log.energy_kwh, expected, atol=1e-9)
    assert Remark("meter reset", count=1) in log.notes
    twice = parse_log(text_of([f"{k},60,{(k % 4) / 10}" for k in range(12)], ENERGY))
    assert Remark("meter reset", count=2) in twice.notes


def test_power_and_meter_columns_that_are_empty_are_none():
    """Columns without values are as good as none."""
    rows = [f"{row},{'0.2' if k == 0 else ''}" for k, row in enumerate(GOOD)]
    assert parse_log(text_of(rows, ENERGY)).energy_kwh is None
    assert parse_log(text_of([f"{row}," for row in GOOD], POWER)).power_w is None


def test_the_lid_stays_as_it_was_told_last():
    """Empty lid cells repeat the last state; before the first one nothing is known."""
    words = ["", "on", "", "", "OPEN", "", "closed", "ajar", "", "off"]
    log = parse_log(text_of([f"{k},60,{word}" for k, word in enumerate(words)], LID))
    assert log.lid is not None
    assert log.lid.tolist() == [-1, 0, 0, 0, 2, 2, 0, 1, 1, 2]


def test_other_columns_are_left_alone_and_blank_lines_skipped():
    """Columns of another name and blank lines don't disturb."""
    log = parse_log(text_of([*(f"{row},x" for row in GOOD), "", " "], "time,temperature_c,remark"))
    assert log.temperature_c.size == 12


def test_a_file_is_read_by_its_path_and_a_demo_by_its_name(tmp_path):
    """Paths and packaged names both work; the packaged ones all read."""
    file = tmp_path / "log.csv"
    file.write_text(text_of(GOOD), encoding="utf-8")
    assert read_log(str(file)).source == str(file)
    assert {"cool-down", "heat-up", "brew-day"} <= set(demo_logs())
    for name in demo_logs():
        assert read_log(name).temperature_c.size > 40


def test_files_that_are_missing_or_too_large(tmp_path, monkeypatch):
    """A missing file names the packaged ones; a large one says its size; a path that can't be is an error too."""
    with pytest.raises(FileError, match="cool-down"):
        read_log(str(tmp_path / "none.csv"))
    file = tmp_path / "log.csv"
    file.write_text(text_of(GOOD), encoding="utf-8")
    monkeypatch.setattr("energyplan.learning.logfile.LARGEST_FILE_BYTES", 50)
    with pytest.raises(FileError, match=r"^[^(]+: \d+ bytes is too large for a log"):
        read_log(str(file))
    assert LARGEST_FILE_BYTES > 10_000_000
    with pytest.raises(EnergyPlanError):
        read_log("log\0.csv")


@given(st.text(alphabet="time,eraur_cpw;\t\n\r\"'0123456789.-:TZnaif \0", max_size=400))
def test_any_text_is_read_or_told_in_one_sentence(text):
    """Whatever a file holds, the reader answers with a log or one sentence that names a line."""
    try:
        log = parse_log("time,temperature_c\n" + text)
    except LogError as error:
        log, words = None, str(error)
    else:
        words = "line column"
        assert np.isfinite(log.temperature_c).all()
        assert (np.diff(log.times_s) > 0).all()
    assert "line" in words
    assert "column" in words
    assert "\n" not in words


@pytest.mark.parametrize(
    ("column", "inside", "outside"),
    [
        ("temperature_c", ("-20", "115"), ("-20.1", "115.1")), ("temperature_f", ("-4", "239"), ("-4.1", "239.1")),
        ("power_w", ("0", "200000"), ("-0.1", "200001")), ("energy_kwh", ("0", "1e9"), ("-0.01", "1.1e9")),
    ],
)  # fmt: skip
def test_what_a_column_may_hold(column, inside, outside):
    """Its limits are in it; beyond either the cell is named."""
    head = f"time,{column}" if column.startswith("temp") else f"time,temperature_c,{column}"
    warm = "" if column.startswith("temp") else "60,"
    for cell in inside:
        assert parse_log(text_of([f"{k},{warm}{cell}" for k in range(3)], head)).times_s.size == 3
    for cell in outside:
        with pytest.raises(
            LogError, match=re.escape(f"line 2, column {column}: {float(cell):g} is out of range: expected ")
        ):
            parse_log(text_of([f"{k},{warm}{cell}" for k in range(3)], head))


@pytest.mark.parametrize(("year", "read"), [(1970, True), (1969, False), (2200, True), (2201, False)])
def test_years_of_logs(year, read):
    """From 1970 to 2200."""
    text = text_of([f"{year}-06-07T08:{k:02d}:00,70" for k in range(9)])
    if read:
        assert parse_log(text).start.year == year
    else:
        with pytest.raises(LogError, match=f'"{year}-06-07T08:00:00" is in no year from 1970 to 2200$'):
            parse_log(text)


@pytest.mark.parametrize(("later", "minutes"), [("10:59", 719.0), ("11:01", None), ("22:59", None)])
def test_a_clock_that_falls_back_by_more_than_half_a_day_passed_midnight(later, minutes):
    """From 23:00 to 10:59 is a night; 11:01 and 22:59 are rows out of order, sorted."""
    log = parse_log(text_of(["23:00,70", f"{later},60"]))
    assert any(note.code == "sorted" for note in log.notes) is (minutes is None)
    if minutes is not None:
        assert log.duration_s == 60 * minutes


@pytest.mark.parametrize(("to_kwh", "resets"), [(0.994, 1), (0.996, 0)])
def test_a_total_that_falls_by_five_watt_hours_was_reset(to_kwh, resets):
    """6 Wh less than before: it counts from 0 again; 4 Wh less is a flicker."""
    log = parse_log(text_of([f"{k},60,{total}" for k, total in enumerate([0.5, 1.0, to_kwh, to_kwh])], ENERGY))
    assert len([note for note in log.notes if note.code == "meter reset"]) == resets
    assert log.energy_kwh[-1] == pytest.approx(0.5 + (to_kwh if resets else 0.0))


def test_a_log_as_large_as_allowed_is_read(tmp_path, monkeypatch):
    """By its text and by its file: as many characters or bytes as the limit; one more is refused."""
    text, file = text_of(GOOD), tmp_path / "log.csv"
    file.write_text(text, encoding="utf-8")
    monkeypatch.setattr("energyplan.learning.logfile.LARGEST_FILE_BYTES", len(text))
    assert parse_log(text).times_s.size == read_log(str(file)).times_s.size == 12
    file.write_text(text + "\n", encoding="utf-8")
    for read in (lambda: parse_log(text + "\n"), lambda: read_log(str(file))):
        with pytest.raises(FileError, match="too"):
            read()


def test_a_word_of_forty_letters_is_shown_and_no_more():
    """A long cell is cut in the sentence about it."""
    for column, row, head in (
        ("temperature_c", "0,{}", "time,temperature_c"), ("time", "{},60", "time,temperature_c"),
        ("lid", "0,60,{}", LID), ("time", "2026-13-07T{},60", "time,temperature_c"),
    ):  # fmt: skip
        with pytest.raises(LogError) as caught:
            parse_log(text_of([row.format("x" * 60)] * 3, head))
        shown = str(caught.value).split('"')[1]
        assert column in str(caught.value)
        assert len(shown) == 40


@pytest.mark.parametrize(
    ("minutes", "read"),
    [
        (("999999999", "1000000000"), True),
        (("999999999", "1000000000.1"), False),
        (("-1000000000", "-999999999"), True),
    ],
)
def test_minutes_up_to_a_thousand_million_are_minutes(minutes, read):
    """Of some logger's own clock; beyond that they are no time."""
    text = text_of([f"{minute},60" for minute in minutes])
    if read:
        assert parse_log(text).duration_s == 60.0
    else:
        with pytest.raises(LogError, match="is no time"):
            parse_log(text)


# Odd logs ---------------------------------------------------------------------------------------------------

FALLING_C = [75 - 0.2 * place for place in range(40)]


def rows_of(times, shown=FALLING_C, head="time,temperature_c"):
    """A log of times and temperatures."""
    return text_of([f"{time},{c:g}" for time, c in zip(times, shown, strict=True)], head)


def told(log):
    """Codes of what was mended."""
    return [note.code for note in log.notes]


@pytest.mark.parametrize(
    "text",
    [
        rows_of(range(40)).replace("\n", "\r\n"),
        rows_of(range(40)).replace("\n", "\r"),
        "sep=,\n" + rows_of(range(40)),
        'sep=;\r\n' + rows_of(range(40)).replace(",", ";").replace(".", ",").replace("\n", "\r\n"),
        text_of([f'{place},"{c:.1f}"'.replace(".", ",") for place, c in enumerate(FALLING_C)]),
        text_of([f"{place},{c:g},," for place, c in enumerate(FALLING_C)]),
    ],
)  # fmt: skip
def test_what_loggers_and_spreadsheets_write_is_read(text):
    """Ends of lines, a line that names the separator, quoted decimal commas, empty cells behind the last column."""
    log = parse_log(text)
    np.testing.assert_allclose(log.times_s, 60.0 * np.arange(40))
    np.testing.assert_allclose(log.temperature_c, FALLING_C)
    assert log.notes == ()


@pytest.mark.parametrize(
    ("text", "line", "column", "part"),
    [
        (text_of(['0,"1,234"', "1,70"]), 2, "temperature_c", "is no number"),  # thousands, or three decimals
        ("sep=;\n" + text_of(["0;70", "1;x"], "time;temperature_c"), 4, "temperature_c", "is no number"),
        (text_of(["0,70,x", "1,70"]), 2, "temperature_c", "3 cells where the header has 2"),
    ],
)  # fmt: skip
def test_what_may_mean_two_things_is_refused_still(text, line, column, part):
    """With its line, counted as an editor counts it."""
    with pytest.raises(LogError, match=f"line {line}, column {column}: .*{part}"):
        parse_log(text)


def clock(start_min, places):
    """Clock times of every minute."""
    return [f"{(start_min + place) // 60 % 24:02d}:{(start_min + place) % 60:02d}" for place in places]


@pytest.mark.parametrize(
    ("times", "line", "back"),
    [
        ([*range(20), *range(20)], 22, 19),  # began anew
        ([*range(14), *range(14), *range(12)], 16, 13),
        ([*range(36), *range(4)], 38, 35),
        (clock(130, [*range(25), *range(-35, -20)]), 27, 59),  # set back by an hour at night
        ([f"2026-10-25T{one}:00" for one in clock(130, [*range(25), *range(-35, -20)])], 27, 59),
        ([*range(20), *range(13, 33)], 22, 6),  # set back by seven minutes
    ],
)  # fmt: skip
def test_a_clock_that_went_back_is_no_curve(times, line, back):
    """Sorted, two curves would be mixed and their mean taken for one: the row is named at which it goes back."""
    with pytest.raises(LogError, match=f"line {line}, column time: the times go back by {back} min"):
        parse_log(rows_of(times))


@pytest.mark.parametrize(
    "times",
    [
        [*range(20, 40), *range(20)],  # the later part first
        [*range(30), 31, 30, *range(32, 40)],
        list(range(39, -1, -1)),
        [7 * place % 40 for place in range(40)],
    ],
)  # fmt: skip
def test_rows_in_another_order_are_one_curve(times):
    """They are sorted as before, and the readings of a file that holds them twice are averaged."""
    shown = [75 - 0.2 * time for time in times]
    log = parse_log(rows_of(times, shown))
    np.testing.assert_allclose(log.temperature_c, FALLING_C)
    assert told(log) == ["sorted"]
    twice = parse_log(rows_of([*times, *times], [*shown, *shown]))
    np.testing.assert_allclose(twice.temperature_c, FALLING_C)
    assert told(twice) == ["sorted", "averaged"]


def test_a_clock_newest_first_goes_back_over_midnight():
    """From 0:19 down to 23:40 of the evening before."""
    log = parse_log(rows_of(clock(24 * 60 - 20, range(39, -1, -1)), FALLING_C[::-1]))
    np.testing.assert_allclose(log.times_s, 60.0 * np.arange(40))
    np.testing.assert_allclose(log.temperature_c, FALLING_C)
    assert told(log) == ["sorted"]


def test_two_thermometers_in_one_column_are_refused():
    """20 K apart at each moment; readings of one minute of a steep heat-up are averaged."""
    times = [place for place in range(40) for _ in (0, 1)]
    with pytest.raises(LogError, match="line 3, column time: readings of one moment differ by 20 K"):
        parse_log(rows_of(times, [c + 20 * at for c in FALLING_C for at in (0, 1)]))
    steep = parse_log(rows_of([place // 6 for place in range(48)], [20 + 1.5 * place for place in range(48)]))
    assert steep.temperature_c[0] == pytest.approx(20 + 1.5 * 2.5)


@pytest.mark.parametrize("place", [0, 1, 17, 38, 39])
@pytest.mark.parametrize("shown_c", [0.0, 85.0])
def test_a_single_reading_far_off_is_left_out(place, shown_c):
    """A loose plug or a sensor that just woke: 12 to 75 K off and back within two minutes."""
    log = parse_log(rows_of(range(40), [shown_c if at == place else c for at, c in enumerate(FALLING_C)]))
    assert [(note.code, note["count"]) for note in log.notes] == [("spikes", 1)]
    assert log.temperature_c.tolist() == pytest.approx([c for at, c in enumerate(FALLING_C) if at != place])


@pytest.mark.parametrize(
    "shown",
    [
        [*FALLING_C[:20], *(c - 9 for c in FALLING_C[20:])],  # grain
        [*FALLING_C[:20], *(c - 9 for c in FALLING_C[20:25]), *FALLING_C[25:]],
        [20 + 2.0 * place for place in range(40)],
        [c - 7.5 * (at == 20) for at, c in enumerate(FALLING_C)],
    ],
)  # fmt: skip
def test_what_a_vessel_can_do_is_no_spike(shown):
    """A fall that stays, or lasts, a steep rise, a reading less than 8 K off."""
    log = parse_log(rows_of(range(40), shown))
    assert (told(log), log.temperature_c.tolist()) == ([], pytest.approx(shown))


def test_readings_by_hand_have_no_spikes():
    """What falls by 12 K and is back ten minutes later may be grain that was heated again."""
    assert told(parse_log(rows_of(range(0, 60, 10), [70, 71, 59, 70, 70, 70]))) == []


WARMING_C = [15 + 1.5 * place for place in range(40)]


def metered(column, values, more=""):
    """A heat-up by 58 K, a reading every minute, with a meter."""
    rows = [f"{at},{c:g},{value}" for at, (c, value) in enumerate(zip(WARMING_C, values, strict=True))]
    return text_of(rows, f"time,temperature_c,{column}{more}")


COUNTED_KWH = [round(2.4 * place / 60, 3) for place in range(40)]


@pytest.mark.parametrize(
    ("column", "values", "part"),
    [
        ("power_w", [2.4] * 40, "at most 2.4 W while it warms by 58.5 K: write watts"),
        ("power_w", [10.4] * 40, "at most 10.4 W while it warms"),
        ("energy_kwh", [3.0] * 40, "0 kWh in all while it warms by 58.5 K"),
        ("energy_kwh", [1000 * kwh for kwh in COUNTED_KWH], "grows by 1560 kWh in 39 min: are these watt-hours"),
        ("energy_kwh", [2.0 - kwh for kwh in COUNTED_KWH], "falls 39 times: write the meter's running total"),
    ],
)  # fmt: skip
def test_a_meter_in_another_unit_is_refused(column, values, part):
    """kW, A, Wh, a total that stands still or counts down: what a careful reader would ask."""
    with pytest.raises(LogError, match=f"line 2, column {column}: {part}"):
        parse_log(metered(column, values))


def test_two_meters_that_disagree_are_refused():
    """A total of half of what the power comes to; a tenth less is a meter's."""
    for times, refused in ((0.5, True), (0.9, False), (1.6, True)):
        both = metered("energy_kwh,power_w", [f"{times * kwh:.3f},2400" for kwh in COUNTED_KWH])
        if refused:
            with pytest.raises(LogError, match=r"kWh in all where power_w comes to 1\.56"):
                parse_log(both)
        else:
            assert parse_log(both).energy_kwh[-1] == pytest.approx(1.404)


def test_a_cool_down_beside_a_meter_of_little_is_read():
    """Pump and electronics take a few watts, and count next to nothing."""
    rows = [f"{at},{c:g},12,3.0" for at, c in enumerate(FALLING_C)]
    log = parse_log(text_of(rows, "time,temperature_c,power_w,energy_kwh"))
    assert log.power_w.max() == 12.0


@pytest.mark.parametrize("glitch_kwh", [0.0, 99.9])
def test_a_total_that_leaps_for_one_reading_counts_on(glitch_kwh):
    """It did not begin again: what it shows before and after is one count."""
    counted = [5 + kwh for kwh in COUNTED_KWH]
    log = parse_log(metered("energy_kwh", [glitch_kwh if at == 20 else kwh for at, kwh in enumerate(counted)]))
    assert log.energy_kwh[-1] == pytest.approx(1.56)
    assert told(log) == []
    again = parse_log(metered("energy_kwh", [kwh - (at >= 20) * counted[20] for at, kwh in enumerate(counted)]))
    assert again.energy_kwh[-1] == pytest.approx(1.56 - 0.04)  # what passed as it began again is not known
    assert told(again) == ["meter reset"]
