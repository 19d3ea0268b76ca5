"""The capacity charge: windows fixed to the clock, never rolling ones."""

from datetime import UTC, datetime, timedelta
from fractions import Fraction
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from energyplan.tariffs.periods import peak_cost

BODY = (
    '{}[[tariff.band]]\nname = "all"\nprice = 0.3\n[tariff.peak_charge]\nwindow_minutes = {}\n'
    "price_per_kw_month = {}\nfree_up_to_kw = {}\n"
)


def test_ten_minutes_astride_of_a_border(tariff_of, load_of) -> None:
    """3 kW from 12:10 to 12:20: 1 kW in each quarter hour; from 12:00 to 12:10 it would be 2 kW in one.

    By hand: 10 min of 3 kW are 0.5 kWh; half of it in a quarter hour is 1 kW.
    """
    tariff = tariff_of(BODY.format("", 15, 3.9, 0))
    load = load_of([3000.0], 600.0)
    astride = peak_cost(load, tariff, datetime(2026, 1, 10, 12, 10, tzinfo=UTC))
    within = peak_cost(load, tariff, datetime(2026, 1, 10, 12, 0, tzinfo=UTC))
    assert astride is not None
    assert within is not None
    assert (astride.peak_kw, within.peak_kw) == (1.0, 2.0)
    assert astride.peak_start == datetime(2026, 1, 10, 12, 0, tzinfo=UTC)
    assert (astride.added.exact, within.added.exact) == (Fraction("3.9"), Fraction("7.8"))


@pytest.mark.parametrize(("window", "peak_kw"), [(15, 3.0), (30, 2.5), (60, 2.25)])
def test_longer_windows_soften_a_peak(tariff_of, load_of, window: int, peak_kw: float) -> None:
    """15 min of 3 kW, then 2 kW, from the full hour."""
    tariff = tariff_of(BODY.format("", window, 1, 0))
    found = peak_cost(load_of([3000.0, 2000.0], [900.0, 2700.0]), tariff, datetime(2026, 1, 10, 12, tzinfo=UTC))
    assert found is not None
    assert found.peak_kw == peak_kw


def test_only_what_is_new_costs(tariff_of, load_of) -> None:
    """With 1 kW of household, 2.5 kW free and a month's peak of 3.5 kW: 0.5 kW more at 10 plus 20 % tax."""
    tariff = tariff_of(BODY.format("prices_include_tax = false\ntax_percent = 20\n", 15, 10, 2.5))
    start = datetime(2026, 1, 10, 12, tzinfo=UTC)
    found = peak_cost(load_of([3000.0]), tariff, start, household_kw=1.0, month_peak_kw=3.5)
    assert found is not None
    assert (found.peak_kw, found.added.exact, found.months[0].charge.exact) == (4.0, 6, 18)
    there = peak_cost(load_of([3000.0]), tariff, start, household_kw=1.0, month_peak_kw=5.0)
    assert there is not None
    assert (there.added.units, there.months[0].charge.exact) == (0, 30)


def test_windows_follow_the_local_clock(tariff_of, load_of) -> None:
    """In Kathmandu (+05:45) the hour begins a quarter before the UTC hour."""
    tariff = tariff_of(BODY.format("", 60, '"390 c"', 0), zone="Asia/Kathmandu", currency="NPR", unit="NPR/kWh")
    found = peak_cost(load_of([4000.0]), tariff, datetime(2026, 1, 10, 12, 15, tzinfo=UTC))
    assert found is not None
    assert (found.peak_kw, found.peak_start) == (4.0, datetime(2026, 1, 10, 12, 15, tzinfo=UTC))
    assert found.added.exact == Fraction("15.6")


@given(
    steps=st.lists(st.tuples(st.integers(0, 4000), st.integers(3, 70)), min_size=1, max_size=6),
    start_min=st.integers(0, 2000),
    oven=st.tuples(st.integers(-60, 200), st.integers(1, 60), st.integers(0, 3000)),
    rule=st.tuples(st.sampled_from([10, 15, 30, 60]), st.integers(0, 5000)),
)
@settings(max_examples=40)
def test_windows_are_those_of_a_walk_minute_by_minute(tariff_of, load_of, steps, start_min, oven, rule) -> None:
    """Peak, the house's own peak and what is added, from minute sums sorted into windows of the local clock."""
    window, month_peak_w = rule
    tariff = tariff_of(BODY.format("", window, 2, 1), zone="Asia/Kathmandu", currency="NPR", unit="NPR/kWh")
    start = datetime(2026, 1, 10, tzinfo=UTC) + timedelta(minutes=start_min)
    begin_min, length_min, oven_w = oven
    beside = load_of([oven_w], 60.0 * length_min, 60.0 * begin_min)
    found = peak_cost(
        load_of([w for w, _ in steps], [60.0 * minutes for _, minutes in steps]), tariff, start,
        household_kw=0.25, month_peak_kw=month_peak_w / 1000, beside=[beside],
    )  # fmt: skip
    assert found is not None
    minutes = [w for w, count in steps for _ in range(count)]
    clock_min = start_min + 5 * 60 + 45
    first = clock_min // window
    sums: dict[int, list[float]] = {}
    for number in range(first * window - clock_min, (-(-(clock_min + len(minutes)) // window)) * window - clock_min):
        sums.setdefault((clock_min + number) // window, []).append(
            (minutes[number] if 0 <= number < len(minutes) else 0)
            + 1j * (oven_w if begin_min <= number < begin_min + length_min else 0)
        )
    brew, house = (
        {key: sum(getattr(w, part) for w in values) / window / 1000 for key, values in sums.items()}
        for part in ("real", "imag")
    )
    peak_kw = max(brew[key] + house[key] for key in sums) + 0.25
    house_kw = max(house.values()) + 0.25
    assert found.peak_kw == pytest.approx(peak_kw)
    assert found.months[0].house_kw == pytest.approx(house_kw)
    assert len(found.windows) == len(sums)
    without_kw = max(month_peak_w / 1000, house_kw, 1.0)
    assert found.present_kw == pytest.approx(without_kw)
    assert float(found.added) == pytest.approx(2 * max(peak_kw - without_kw, 0.0), abs=1e-6)


def test_what_the_house_reaches_alone_is_no_one_elses(tariff_of, load_of) -> None:
    """An oven of 3 kW for the whole window before the brew: 1 kW of brew later adds nothing."""
    tariff = tariff_of(BODY.format("", 60, 10, 0))
    start = datetime(2026, 1, 10, 12, tzinfo=UTC)
    found = peak_cost(load_of([500.0, 1000.0]), tariff, start, beside=[load_of([3000.0, 0.0])])
    assert found is not None
    assert (found.peak_kw, found.months[0].house_kw, float(found.added)) == (3.5, 3.0, 5.0)
    later = peak_cost(load_of([1.0, 1000.0]), tariff, start, beside=[load_of([3000.0, 0.0])])
    assert later is not None
    assert float(later.added) == pytest.approx(0.01)


def test_a_new_month_begins_at_zero(tariff_of, load_of) -> None:
    """23:00 on the 31st with 4 kW already reached: 3 kW add nothing to that month, and 3 kW to the next at 00:30."""
    tariff = tariff_of(BODY.format("", 60, 10, 0), zone="Europe/Dublin")
    start = datetime(2026, 1, 31, 23, tzinfo=UTC)
    found = peak_cost(load_of([3000.0, 2000.0]), tariff, start, month_peak_kw=4.0)
    assert found is not None
    assert [(str(month.first_day), month.peak_kw, float(month.added)) for month in found.months] == [
        ("2026-01-01", 3.0, 0.0),
        ("2026-02-01", 2.0, 20.0),
    ]
    assert (float(found.added), found.peak_start) == (20.0, datetime(2026, 2, 1, tzinfo=UTC))
    assert found.present_kw == 0.0


def test_windows_of_ten_minutes(tariff_of, load_of) -> None:
    """By hand: 5 min of 3 kW within ten are 1.5 kW."""
    tariff = tariff_of(BODY.format("", 10, 1, 0))
    found = peak_cost(load_of([3000.0], 300.0), tariff, datetime(2026, 1, 10, 12, 5, tzinfo=UTC))
    assert found is not None
    assert (found.peak_kw, found.peak_start.minute) == (1.5, 0)


@pytest.mark.parametrize(
    ("zone", "start", "window"),
    [
        ("Europe/Dublin", datetime(2026, 3, 28, 23, 20, tzinfo=UTC), 60),
        ("Europe/Dublin", datetime(2026, 10, 24, 23, 50, tzinfo=UTC), 30),
        ("Australia/Lord_Howe", datetime(2026, 10, 3, 14, 10, tzinfo=UTC), 60),
        ("Australia/Lord_Howe", datetime(2026, 4, 4, 13, 10, tzinfo=UTC), 60),
        ("Asia/Kathmandu", datetime(1985, 12, 31, 17, 5, tzinfo=UTC), 60),
        ("America/New_York", datetime(2026, 11, 1, 4, 40, tzinfo=UTC), 15),
    ],
)
def test_windows_over_a_clock_change(tariff_of, load_of, zone: str, start: datetime, window: int) -> None:
    """Each minute stands in the window that its own local clock shows; a jump of that clock opens another."""
    tariff = tariff_of(BODY.format("", window, 10, 0), zone=zone)
    watts = [1000.0 + 37.0 * k for k in range(300)]
    found = peak_cost(load_of(watts, 60.0), tariff, start)
    assert found is not None
    local, runs = ZoneInfo(zone), []
    for minute in range(-90, 390):
        wall = (start + timedelta(minutes=minute)).astimezone(local).replace(tzinfo=None)
        label = (wall.date(), (wall.hour * 60 + wall.minute) // window)
        jumped = runs and wall - runs[-1][1] != timedelta(minutes=1)
        if not runs or runs[-1][0] != label or jumped:
            runs.append([label, wall, minute, []])
        runs[-1][1] = wall
        runs[-1][3].append(watts[minute] if 0 <= minute < 300 else 0.0)
    touched = [run for run in runs if run[2] < 300 and run[2] + len(run[3]) > 0]
    assert [window.start for window in found.windows] == [start + timedelta(minutes=run[2]) for run in touched]
    means = [sum(run[3]) / len(run[3]) / 1000 for run in touched]
    assert [window.kw for window in found.windows] == pytest.approx(means)
    assert found.peak_kw == pytest.approx(max(means))


def test_no_charge_no_answer_and_odd_powers(tariff_of, load_of) -> None:
    """None without the table; negative powers are refused."""
    plain = tariff_of('[[tariff.band]]\nname = "all"\nprice = 0.3\n')
    assert peak_cost(load_of([1.0]), plain, datetime(2026, 1, 10, tzinfo=UTC)) is None
    with pytest.raises(ValueError, match="0 or more"):
        peak_cost(
            load_of([1.0]), tariff_of(BODY.format("", 15, 1, 0)), datetime(2026, 1, 10, tzinfo=UTC), household_kw=-1
        )


@pytest.mark.parametrize(("free_kw", "month_kw", "house_w", "present_and_added"), [
    (0, 0.0, 0, (0.0, "30")), (2.5, 0.0, 0, (2.5, "5")), (2.5, 2.75, 0, (2.75, "5/2")), (0, 0.0, 2000, (2.0, "30")),
    (0, 4.0, 2000, (4.0, "10")), (0, 6.0, 0, (6.0, "0")), (4.0, 3.0, 0, (4.0, "0")),
])  # fmt: skip
def test_what_is_there_already_by_hand(
    tariff_of, load_of, free_kw: float, month_kw: float, house_w: int, present_and_added: tuple[float, str]
) -> None:
    """3 kW for an hour at 10 a kW: above what is free, what the month has had and what the house takes by itself.

    2 kW of house beside it make 5 kW of peak, of which 2 kW are there without the day.
    """
    start = datetime(2026, 1, 10, 12, tzinfo=UTC)
    beside = [load_of([house_w])] if house_w else []
    tariff = tariff_of(BODY.format("", 60, 10, free_kw))
    found = peak_cost(load_of([3000.0]), tariff, start, month_peak_kw=month_kw, beside=beside)
    assert found is not None
    assert (found.present_kw, str(found.added.exact)) == present_and_added
    assert (found.month_peak_kw, found.free_kw, found.window_minutes) == (month_kw, free_kw, 60)
    assert found.peak_kw == 3.0 + house_w / 1000


def test_of_two_months_the_one_that_costs_more_decides(tariff_of, load_of) -> None:
    """3 kW before midnight and after it: with 1 kW reached in January February decides; of equal ones the higher."""
    tariff = tariff_of(BODY.format("", 60, 10, 0), zone="Europe/Dublin")
    start = datetime(2026, 1, 31, 23, tzinfo=UTC)
    found = peak_cost(load_of([3000.0, 3000.0]), tariff, start, month_peak_kw=1.0)
    assert found is not None
    assert [float(month.added) for month in found.months] == [20.0, 30.0]
    assert (float(found.added), found.decisive.first_day.month, found.peak_start.day) == (50.0, 2, 1)
    assert [float(month.charge) for month in found.months] == [30.0, 30.0]
    free = tariff_of(BODY.format("", 60, 10, 9), zone="Europe/Dublin")
    level = peak_cost(load_of([3000.0, 2000.0]), free, start)
    assert level is not None
    assert (float(level.added), level.decisive.first_day.month, level.peak_kw) == (0.0, 1, 3.0)


@pytest.mark.parametrize(("second", "windows"), [(0, 1), (1, 2), (3599, 2)])
def test_a_load_that_just_fills_a_window_touches_no_other(tariff_of, load_of, second: int, windows: int) -> None:
    """An hour from the full hour is one window, a second later two."""
    start = datetime(2026, 1, 10, 12, tzinfo=UTC) + timedelta(seconds=second)
    found = peak_cost(load_of([1000.0]), tariff_of(BODY.format("", 60, 10, 0)), start)
    assert found is not None
    assert len(found.windows) == windows
    assert sum(window.kw for window in found.windows) == pytest.approx(1.0)


@pytest.mark.parametrize(("household", "month"), [(-0.1, 0.0), (0.0, -0.1), (float("nan"), 0.0), (0.0, float("inf"))])
def test_powers_that_are_none(tariff_of, load_of, household: float, month: float) -> None:
    """Each is refused."""
    start = datetime(2026, 1, 10, tzinfo=UTC)
    with pytest.raises(ValueError, match="expected 0 or more"):
        peak_cost(
            load_of([1.0]), tariff_of(BODY.format("", 15, 1, 0)), start, household_kw=household, month_peak_kw=month
        )
