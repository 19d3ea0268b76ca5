"""Every start at once: bit for bit what a start by itself costs."""

from datetime import UTC, date, datetime, timedelta
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from energyplan.base.errors import ClockError, TariffError
from energyplan.base.money import Money
from energyplan.tariffs.clock import utc_s
from energyplan.tariffs.costs import price
from energyplan.tariffs.priceline import HOLE, PriceLine, TierStep, carbon_line, price_line
from energyplan.tariffs.startcosts import StartLimits, start_units
from energyplan.tariffs.starts import StartConditions, find_starts, hour_costs
from energyplan.tariffs.steps import metered

START = datetime(2026, 1, 30, tzinfo=UTC)
NIGHT = (
    '[[tariff.band]]\nname = "night"\nprice = 0.10\nfrom = "00:30"\nto = "04:30"\n'
    '[[tariff.band]]\nname = "day"\nprice = 0.30\notherwise = true\n'
)


def line_of(minutes: list[int], prices: list[int], **given) -> PriceLine:
    """A line from lengths of its steps, beginning at START."""
    edges = utc_s(START) + 60 * np.concatenate([[0], np.cumsum(minutes)]).astype(np.int64)
    return PriceLine(
        edges_s=edges,
        micro_per_kwh=np.array(prices, dtype=np.int64),
        **(
            {"band": np.zeros(len(prices), dtype=np.int64), "band_names": ("a",), "currency": "EUR"}
            | {"zone": "Europe/Dublin"}
            | given
        ),
    )


LINES = st.lists(
    st.tuples(st.integers(1, 300), st.integers(-500_000, 2_000_000), st.integers(0, 3_000_000)), min_size=1, max_size=16
)
LOADS = st.lists(st.tuples(st.floats(1.0, 2000.0), st.floats(0.0, 4000.0)), min_size=1, max_size=8)
TIERS = (
    TierStep(above_mj=3_600_000_000 * 10, micro_per_kwh=20_000),
    TierStep(above_mj=3_600_000_000 * 12, micro_per_kwh=30_000),
    TierStep(above_mj=3_600_000_000 // 3, micro_per_kwh=10_000, is_daily=True),
    TierStep(above_mj=0, micro_per_kwh=-5_000, months=frozenset({2, 4})),
)


@settings(max_examples=120, deadline=None)
@given(LINES, LOADS, st.tuples(st.booleans(), st.booleans()), st.floats(-1800.0, 1800.0), st.sampled_from([1, 10**9]))
def test_all_starts_equal_each_start(load_of, steps, watts, extras, from_s, weak) -> None:
    """Fast search against one price at a time, to the unit: tiers over a month's end, own power, weak money."""
    own, tiers = extras
    minutes = [length for length, _, _ in steps] + [3 * 1440]
    given_columns = {}
    if own:
        surplus = np.array([power for _, _, power in steps] + [500_000])
        given_columns = {"surplus_mw": surplus, "export_micro_per_kwh": 40_000 * weak}
    line = line_of(
        minutes,
        [micro * weak for _, micro, _ in steps] + [150_000 * weak],
        tiers=TIERS if tiers else (),
        **given_columns,
    )
    load = metered(load_of([power for _, power in watts], [seconds for seconds, _ in watts], from_s))
    first = START + timedelta(minutes=31)
    count = 2 * 1440 + 200
    units = start_units(load, line, first_s=utc_s(first), count=count, month_kwh_so_far=9.0)
    for index in [*range(0, count, 177), count - 1]:
        alone = price(load, line, first + timedelta(minutes=index), month_kwh_so_far=9.0)
        assert int(units[index]) == alone.total.units


@settings(max_examples=60, deadline=None)
@given(LINES, LOADS)
def test_all_starts_equal_a_sum_over_minutes(load_of, steps, watts) -> None:
    """Against the plain correlation of minute energies with minute prices, written here."""
    minutes = [length for length, _, _ in steps] + [1440]
    prices = [micro for _, micro, _ in steps] + [150_000]
    load = metered(load_of([power for _, power in watts], [seconds for seconds, _ in watts]))
    count = sum(minutes) - load.minute_mj.size
    per_minute = np.repeat(prices, minutes)
    expected = np.correlate(per_minute, load.minute_mj, mode="valid")[:count]
    found = start_units(load, line_of(minutes, prices), first_s=utc_s(START), count=count)
    assert found.tolist() == expected.tolist()


def test_a_single_start(load_of) -> None:
    """A search of one start has no differences."""
    line = line_of([60, 600], [100_000, 300_000])
    search = find_starts(load_of([1000.0, 1000.0]), line, first=START, last=START)
    assert search.units.tolist() == [price(load_of([1000.0, 1000.0]), line, START).total.units]
    assert search.count == 1


def test_costs_beyond_64_bits_are_exact(load_of) -> None:
    """A weak currency: Python's integers where numpy's would wrap, equal to the sum by hand."""
    line = line_of([60, 600], [3_000_000_000_000, 1_000_000_000_000])
    units = start_units(metered(load_of([50_000.0])), line, first_s=utc_s(START), count=61)
    assert units.dtype == object
    assert units[0] == 3_000_000_000_000 * 50 * 3_600_000_000
    assert units[30] == 2_000_000_000_000 * 50 * 3_600_000_000
    assert units[60] == 1_000_000_000_000 * 50 * 3_600_000_000


def test_a_demo_like_day_over_a_week_of_change(tariff_of, brew_like) -> None:
    """All 10 080 starts of the week of the autumn change in London, one by one."""
    line = price_line(tariff_of(NIGHT), date(2026, 10, 20), date(2026, 10, 29))
    search = find_starts(brew_like, line, first=line.start, last=line.start + timedelta(minutes=10_079))
    alone = [price(brew_like, line, line.start + timedelta(minutes=n)).total.units for n in range(0, 10_080, 7)]
    assert search.units[::7].tolist() == alone
    assert search.best.cost.units == int(search.units.min())
    assert search.worst.cost.units == int(search.units.max())


def test_of_equal_starts_the_earliest_wins(load_of) -> None:
    """Flat price: the first start; two equal nights: the first night."""
    flat = find_starts(load_of([1000.0]), line_of([2000], [200_000]), first=START, last=START + timedelta(hours=3))
    assert flat.best.start == flat.worst.start == START
    nights = line_of([600, 120, 1320, 120, 2000], [300_000, 100_000, 300_000, 100_000, 300_000])
    search = find_starts(load_of([1000.0]), nights, first=START, last=START + timedelta(hours=48))
    assert search.best.start == START + timedelta(minutes=600)
    expected = [(START + timedelta(minutes=m), START + timedelta(minutes=m + 60)) for m in (600, 2040)]
    assert list(search.plateau) == expected
    assert search.best_stretch == expected[0]


def test_the_most_negative_run_is_the_best(tariff_of, load_of) -> None:
    """-2.00 without 20 % tax for one hour beside -0.50: 1 kWh earns 2.40 exactly in that hour."""
    body = 'prices_include_tax = false\ntax_percent = 20\n[tariff.prices]\nfile = "p.csv"\nstep_minutes = 60\n'
    prices = [0.1, -0.5, -2.0, -0.5, 0.1, 0.1]
    rows = "start,price\n" + "".join(f"2026-01-30T{hour:02d}:00,{value}\n" for hour, value in enumerate(prices))
    line = price_line(tariff_of(body, series_texts={"p.csv": rows}), date(2026, 1, 30), date(2026, 1, 30))
    search = find_starts(load_of([1000.0]), line, first=START, last=START + timedelta(hours=5))
    assert search.best.start == START + timedelta(hours=2)
    assert str(search.best.cost) == "-2.40 GBP"
    # 1 % of 2.40 is 0.024; a minute to either side costs 0.03 more.
    assert search.plateau == ((search.best.start, search.best.start),)


def test_starts_into_holes_and_over_the_end_are_not_allowed(load_of) -> None:
    """A load may end where a hole opens, and begin where it closes, and no nearer."""
    line = line_of([120, 30, 300], [100_000, 0, 100_000], band=np.array([0, HOLE, 0]))
    search = find_starts(load_of([1000.0]), line, first=START, last=START + timedelta(minutes=450))
    runs = np.flatnonzero(np.diff(search.allowed.astype(int), prepend=0, append=0)).tolist()
    assert runs == [0, 61, 150, 391]
    for minute in (60, 150, 390):
        price(load_of([1000.0]), line, START + timedelta(minutes=minute))
    for minute in (61, 149, 391):
        with pytest.raises(TariffError):
            price(load_of([1000.0]), line, START + timedelta(minutes=minute))


def test_now_may_be_outside_the_search(load_of) -> None:
    """It is priced where prices reach, rounded up to a minute, else left out."""
    line = line_of([600, 600], [300_000, 100_000])
    first = START + timedelta(hours=11)

    def now_of(now: datetime) -> object:
        conditions = StartConditions(now=now)
        return find_starts(
            load_of([1000.0]), line, first=first, last=first + timedelta(hours=1), conditions=conditions
        ).now

    option = now_of(START + timedelta(minutes=5, seconds=20))
    assert (option.start, str(option.cost)) == (START + timedelta(minutes=6), "0.30 EUR")
    assert now_of(START + timedelta(hours=40)) is None


def test_limits_and_carbon_go_into_the_search(tariff_of, load_of) -> None:
    """Attended hours move the start into the day; grams are told beside the cost where they are known."""
    rows = "start,carbon\n" + "".join(f"2026-01-30T{hour:02d}:00,{100 + hour}\n" for hour in range(12))
    tariff = tariff_of(NIGHT + '[carbon]\nfile = "c.csv"\n', series_texts={"c.csv": rows})
    line = price_line(tariff, date(2026, 1, 30), date(2026, 1, 31))
    limits = StartLimits(attended=((1800.0, 3600.0),), attended_from_min=480, attended_to_min=1200)
    search = find_starts(
        load_of([1000.0]),
        line,
        first=START,
        last=START + timedelta(hours=23),
        conditions=StartConditions(limits=limits, carbon=carbon_line(tariff, line), now=START + timedelta(hours=20)),
    )
    assert search.best.start == START + timedelta(hours=7, minutes=30)
    assert search.best.carbon_g == pytest.approx(0.5 * 107 + 0.5 * 108)
    assert search.now is not None
    assert search.now.carbon_g is None
    assert search.count == int(search.allowed.sum()) == 11 * 60 + 31


def test_best_of_each_local_day(tariff_of, load_of) -> None:
    """One for every local day that has an allowed start, also on the day of 25 hours."""
    line = price_line(tariff_of(NIGHT), date(2026, 10, 23), date(2026, 10, 28))
    limits = StartLimits(not_on=frozenset({5}))
    search = find_starts(
        load_of([1000.0]),
        line,
        first=line.start,
        last=line.start + timedelta(days=4),
        conditions=StartConditions(limits=limits),
    )
    found = [option.start.isoformat(timespec="minutes") for option in search.best_per_day]
    assert found == [
        "2026-10-22T23:30+00:00",
        "2026-10-24T23:30+00:00",
        "2026-10-26T00:30+00:00",
    ]


def test_the_picture_of_days_by_hours(tariff_of, load_of) -> None:
    """24 cells on a usual day, 25 hours' worth on the day of the change; the cheapest start of each."""
    line = price_line(tariff_of(NIGHT), date(2026, 10, 24), date(2026, 10, 26))
    limits = StartLimits(earliest_min=120)
    search = find_starts(
        load_of([1000.0]),
        line,
        first=line.start,
        last=line.start + timedelta(hours=48),
        conditions=StartConditions(limits=limits),
    )
    cells = hour_costs(search)
    saturday = [cell for cell in cells if cell.day == date(2026, 10, 24)]
    assert [cell.hour for cell in saturday] == list(range(24))
    assert saturday[1].cost is None
    assert str(saturday[2].cost) == "0.10 GBP"
    assert [cell.hour for cell in cells if cell.day == date(2026, 10, 25)].count(1) == 1


def test_searches_that_can_t_be_answered(load_of) -> None:
    """Each says whether prices or limits are in the way."""
    line = line_of([600], [100_000])
    load = load_of([1000.0] * 3)

    def search(first: datetime, last: datetime, **limits) -> None:
        find_starts(load, line, first=first, last=last, conditions=StartConditions(limits=StartLimits(**limits)))

    with pytest.raises(TariffError, match="has a price for its whole day"):
        search(START + timedelta(hours=8), START + timedelta(hours=9))
    with pytest.raises(TariffError, match="longer than the hours they leave"):
        search(START, START + timedelta(hours=9), earliest_min=600, finish_by_min=660)
    with pytest.raises(TariffError, match="meets the limits and has a price"):
        search(START, START + timedelta(hours=9), earliest_min=500)
    with pytest.raises(ValueError, match="lies before the first"):
        search(START + timedelta(hours=1), START)
    with pytest.raises(ValueError, match="at most three years"):
        search(START, START + timedelta(days=4000))
    with pytest.raises(ClockError, match="no zone"):
        search(START.replace(tzinfo=None), START)
    odd = PriceLine(
        edges_s=utc_s(START) + np.array([0, 90, 36_000]),
        micro_per_kwh=np.array([1, 2]),
        band=np.array([0, 0]),
        band_names=("a",),
        currency="EUR",
        zone="Europe/Dublin",
    )
    with pytest.raises(ValueError, match="whole minutes apart"):
        find_starts(load, odd, first=START, last=START)


def test_seconds_of_the_first_start_are_rounded_up(load_of) -> None:
    """The first whole minute; the costs are those of the minutes from there on."""
    line = line_of([600, 600], [300_000, 100_000])
    search = find_starts(load_of([1000.0]), line, first=START + timedelta(seconds=1), last=START + timedelta(hours=12))
    assert search.first == START + timedelta(minutes=1)
    assert Money(units=int(search.units[599]), currency="EUR").exact == Fraction(1, 10)


@pytest.mark.parametrize(("dearer", "within"), [(1000, True), (1001, False)])
def test_nearly_as_good_is_one_per_cent(load_of, dearer: int, *, within: bool) -> None:
    """0.100 for an hour, then 0.101 or a millionth more: both hours, or the first alone."""
    line = line_of([60, 60, 60], [500_000, 100_000, 100_000 + dearer])
    search = find_starts(load_of([1000.0], 60.0), line, first=START, last=START + timedelta(minutes=179))
    ((first, last),) = search.plateau
    assert (first - START, last - START) == (timedelta(minutes=60), timedelta(minutes=179 if within else 119))
    assert search.best_stretch == (first, last)


def test_three_years_of_starts_are_the_most(load_of) -> None:
    """3 x 366 days of minutes; one minute more is refused."""
    line = line_of([60], [100_000])
    last = START + timedelta(minutes=3 * 366 * 1440 - 1)
    assert find_starts(load_of([1000.0], 60.0), line, first=START, last=last).count == 60
    with pytest.raises(ValueError, match="at most three years"):
        find_starts(load_of([1000.0], 60.0), line, first=START, last=last + timedelta(minutes=1))


def test_starts_that_meet_the_limits_and_have_no_price_are_counted(load_of) -> None:
    """Eleven hours of prices and an hour of load: of the twelve hours to noon the last two hours less a minute."""
    line = line_of([660], [100_000])
    search = find_starts(load_of([1000.0]), line, first=START, last=START + timedelta(minutes=719))
    assert (search.count, search.unpriced) == (601, 119)
    limits = StartLimits(finish_by_min=680)
    limited = find_starts(
        load_of([1000.0]), line, first=START, last=START + timedelta(minutes=719),
        conditions=StartConditions(limits=limits),
    )  # fmt: skip
    assert (limited.count, limited.unpriced) == (601, 20)
