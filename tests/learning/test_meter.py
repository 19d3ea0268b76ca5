"""The house meter's export: read in six shapes; a brew day stands above the household's usual, or is not claimed."""

import importlib.util
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from energyplan.base.errors import LogError
from energyplan.day.brewday import simulate
from energyplan.learning.meterfile import parse_meter
from energyplan.learning.usual import above_usual, likely_start_s, month_so_far_kwh
from energyplan.plan.file import read_plan

spec = importlib.util.spec_from_file_location("tests_metered", Path(__file__).parent / "metered.py")
MADE = importlib.util.module_from_spec(spec)
sys.modules["tests_metered"] = MADE
spec.loader.exec_module(MADE)


@pytest.fixture(scope="module")
def day():
    """The demo plan's day."""
    return simulate(read_plan("demo"))


@pytest.fixture(scope="module")
def shape_kwh(day):
    """The day's kWh per quarter of an hour, from its profile."""
    profile = day.profiles[0]
    edges_s = np.arange(0.0, profile.edges_s[-1] + 900.0, 900.0)
    used = np.concatenate([[0.0], np.cumsum(profile.mean_w * np.diff(profile.edges_s))])
    return np.diff(np.interp(edges_s, profile.edges_s, used)) / 3.6e6


@pytest.fixture(scope="module")
def year(shape_kwh):
    """A year with twenty brew days."""
    return MADE.household(np.random.default_rng(3), shape_kwh)


@pytest.fixture(scope="module")
def exports(year):
    """Its export in six shapes."""
    return MADE.exports(year)


SHAPES = (
    "two stamps", "semicolons, decimal commas, local", "half hours by their end, Wh, offsets", "hours, mean power",
    "running total", "ESPI",
)  # fmt: skip
READ_AS = {
    "two stamps": ("energy", "both", "offset", 15.0),
    "semicolons, decimal commas, local": ("energy", "start", "local", 15.0),
    "half hours by their end, Wh, offsets": ("energy", "end", "offset", 30.0),
    "hours, mean power": ("power", "start", "local", 60.0),
    "running total": ("total", "start", "utc", 15.0),
    "ESPI": ("energy", "start", "utc", 15.0),
}


@pytest.mark.parametrize("shape", SHAPES)
def test_an_export_is_read_and_its_brew_days_come_out(shape, year, exports, shape_kwh, day):
    """Whatever the shape, across both clock changes: all energy is there, and 9 brew days of 10 are within the ±."""
    log = parse_meter(exports[shape], MADE.ZONE)
    assert (log.counts, log.stamped, log.clock, log.interval_s / 60) == READ_AS[shape]
    assert log.kwh.sum() == pytest.approx(year.kwh.sum(), rel=2e-3)
    assert log.start_s[0] == pytest.approx(year.start_s[0])
    assert log.end_s[-1] == pytest.approx(year.start_s[-1] + 900.0)
    true_kwh = float(shape_kwh.sum())
    right = []
    for start_s in year.brews_s:
        found = above_usual(log, start_s, day.duration_s, MADE.ZONE)
        right.append(abs(found.measured_kwh - true_kwh) <= found.within_kwh)
        assert found.shows(true_kwh)
        assert found.within_kwh < 0.45 * true_kwh
    assert np.mean(right) >= 0.9


def test_a_day_without_a_brew_is_not_called_one(year, exports, day):
    """At ten in the morning of sixty other days nothing stands out."""
    log = parse_meter(exports["two stamps"], MADE.ZONE)
    brewed = {int((s - year.start_s[0]) // 86400) for s in year.brews_s}
    others = [d for d in range(10, 355, 5) if not brewed & {d - 1, d, d + 1}][:60]
    shown = [
        above_usual(log, year.start_s[0] + d * 86400 + 36000, day.duration_s, MADE.ZONE).shows(day.energy_kwh)
        for d in others
    ]
    assert len(others) > 30
    assert not any(shown)


def test_the_start_is_found_where_a_day_was_brewed(year, exports, day):
    """Without a start, the best fit is one of the brew days, to a quarter of an hour."""
    log = parse_meter(exports["ESPI"], MADE.ZONE)
    found = likely_start_s(log, day.profiles[0], MADE.ZONE)
    assert min(abs(found - start_s) for start_s in year.brews_s) <= 900.0


@pytest.mark.parametrize("begins_kwh", [5.0, 30_000.0])
def test_a_running_total_is_known_as_one_however_new_the_meter(begins_kwh):
    """Two weeks of 50 Wh a quarter of an hour: 67 kWh in all, whatever the meter read before."""
    first = datetime(2026, 1, 1, tzinfo=UTC)
    moments = (first + timedelta(minutes=15 * number) for number in range(14 * 96))
    rows = (f"{moment:%Y-%m-%dT%H:%MZ},{begins_kwh + 0.05 * at:.2f}" for at, moment in enumerate(moments))
    log = parse_meter("time,reading kWh\n" + "\n".join(rows), MADE.ZONE)
    assert log.counts == "total"
    assert log.kwh.sum() == pytest.approx(0.05 * (14 * 96 - 1))


FAULTS = {
    "nothing": ("", "no table found"),
    "no numbers": ("a,b\n" + "\n".join(f"2026-01-{d:02d}T00:00,x" for d in range(1, 28)), "no column of numbers"),
    "daily sums": ("time,kWh\n" + "\n".join(f"2026-01-{d:02d} 00:00,{d % 7 + 0.5}" for d in range(1, 29)), "24 h"),
    "too short": ("time,kWh\n" + "\n".join(f"2026-01-01 {h:02d}:00,{h % 5}" for h in range(24)), "only 24 intervals"),
    "an entity bomb": ('<!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>', "no XML that can be read"),
    "what flows back": (
        "<a><ReadingType><flowDirection>19</flowDirection><uom>72</uom></ReadingType></a>", "delivered to the house",
    ),
}  # fmt: skip


@pytest.mark.parametrize("fault", FAULTS)
def test_what_cant_be_read_is_refused(fault):
    """One sentence that says what is missing."""
    text, said = FAULTS[fault]
    with pytest.raises(LogError, match=said):
        parse_meter(text, MADE.ZONE)


def test_a_day_that_the_export_lacks_is_refused(year, exports, day):
    """Outside of the export, or with too few other days, nothing is claimed."""
    log = parse_meter(exports["two stamps"], MADE.ZONE)
    with pytest.raises(LogError, match="covers 0"):
        above_usual(log, year.start_s[-1] + 86400, day.duration_s, MADE.ZONE)
    head, *rows = exports["two stamps"].splitlines()[2:]
    short = parse_meter("\n".join([head, *rows[: 3 * 96]]), MADE.ZONE)
    with pytest.raises(LogError, match="other days"):
        above_usual(short, year.start_s[0] + 36000, day.duration_s, MADE.ZONE)


def hours_of(first: datetime) -> tuple[list[datetime], np.ndarray]:
    """Ten local days by the hour, the end of the last among them, and invented kWh."""
    hours = 239 if first.month == 3 else 241
    local = [(first + timedelta(hours=k)).astimezone(MADE.ZONE) for k in range(hours + 1)]
    return local, np.round(np.random.default_rng(1).uniform(0.1, 2, hours), 3)


def comma(number: float) -> str:
    """With a decimal comma."""
    return f"{number:.3f}".replace(".", ",")


def totals(local, kwh) -> list[str]:
    """A running total by the hour, on the local clock."""
    running = 1000 + np.concatenate([[0.0], np.cumsum(kwh)])
    return ["Zeit;Zählerstand kWh", *(f"{at:%d.%m.%Y %H:%M};{comma(t)}" for at, t in zip(local, running, strict=True))]


ODD = {
    "running total over a clock change": totals,
    "running total, newest first": lambda local, kwh: [(rows := totals(local, kwh))[0], *rows[:0:-1]],
    "beginning and end in one cell": lambda local, kwh: [
        "Period;Usage kWh",
        *(f"{a:%Y-%m-%d %H:%M} - {b:%Y-%m-%d %H:%M};{k:.3f}" for a, b, k in zip(local, local[1:], kwh, strict=False)),
    ],
    "one cell, the end without its date": lambda local, kwh: [
        "Period;Usage kWh",
        *(f"{a:%d/%m/%Y %H:%M}-{b:%H:%M};{k:.3f}" for a, b, k in zip(local, local[1:], kwh, strict=False)),
    ],
    "the unit in each cell": lambda local, kwh: [
        '"Read date","Value"',
        *(f'"{a:%d/%m/%Y %H:%M:%S}","{1000 * k:.0f} Wh"' for a, k in zip(local, kwh, strict=False)),
    ],
    "day and clock in columns of their own": lambda local, kwh: [
        "Date;Time;Usage kWh", *(f"{a:%Y-%m-%d};{a:%H:%M};{k:.3f}" for a, k in zip(local, kwh, strict=False))
    ],
    "seconds since 1970": lambda local, kwh: [
        "time,kWh", *(f"{a.timestamp():.0f},{k}" for a, k in zip(local, kwh, strict=False))
    ],
    "by its end, which only its last midnight says": lambda local, kwh: [
        "Zeit;kWh", *(f"{b:%d.%m.%Y %H:%M};{comma(k)}" for b, k in zip(local[1:], kwh, strict=True))
    ],
    "what flows back stands first": lambda local, kwh: [
        "Ende;Einspeisung (kWh) export;Bezug (kWh)",
        *(f"{b:%d.%m.%Y %H:%M};{k % 3};{comma(v)}" for k, (b, v) in enumerate(zip(local[1:], kwh, strict=True))),
    ],
}  # fmt: skip


@pytest.mark.parametrize("first", [datetime(2026, 3, 25, tzinfo=UTC), datetime(2026, 10, 19, 23, tzinfo=UTC)])
@pytest.mark.parametrize("shape", ODD)
def test_other_shapes_are_read_over_a_clock_change(shape, first):
    """Each hour's second and kWh, the skipped hour and the one shown twice among them."""
    local, kwh = hours_of(first)
    log = parse_meter("\n".join(ODD[shape](local, kwh)), MADE.ZONE)
    assert log.start_s.tolist() == [at.timestamp() for at in local[:-1]]
    assert log.kwh == pytest.approx(kwh, abs=1e-3)
    assert set(log.end_s - log.start_s) == {3600.0}


def test_month_before_day_is_told_by_time_going_on():
    """09 to 11 November as 11/09, 11/10, 11/11: read the other way round time would leap from month to month."""
    local, kwh = hours_of(datetime(2026, 11, 9, tzinfo=UTC))
    rows = [f"{at:%m/%d/%Y %H:%M},{used:.3f}" for at, used in zip(local[:72], kwh[:72], strict=True)]
    log = parse_meter("\n".join(["Date,Usage kWh", *rows]), MADE.ZONE)
    assert log.start_s.tolist() == [at.timestamp() for at in local[:72]]


def test_an_export_tells_what_the_month_has_used(year, exports):
    """From the first of the local month on, summed here by the wall clock; nothing where the export begins later."""
    log = parse_meter(exports["two stamps"], MADE.ZONE)
    before = datetime(2026, 7, 9, 10, tzinfo=MADE.ZONE)
    local = [datetime.fromtimestamp(s, MADE.ZONE) for s in year.start_s]
    july = [kwh for at, kwh in zip(local, year.kwh, strict=True) if at.month == 7 and at < before]
    assert month_so_far_kwh(log, before.timestamp(), MADE.ZONE) == pytest.approx(sum(july), abs=0.05)
    head, *rows = exports["two stamps"].splitlines()[2:]
    late = parse_meter("\n".join([head, *rows[190 * 96 :]]), MADE.ZONE)
    assert month_so_far_kwh(late, datetime(2026, 7, 20, tzinfo=MADE.ZONE).timestamp(), MADE.ZONE) is None
