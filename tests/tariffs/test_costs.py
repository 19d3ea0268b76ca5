"""What a load costs: on the nights of the change, on holidays, over tiers, in parts, to the unit."""
# ruff: noqa: DTZ001 - times on the wall have no zone, on purpose

from datetime import UTC, date, datetime, timedelta
from fractions import Fraction
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from energyplan.base.errors import ClockError, TariffError
from energyplan.base.money import MJ_PER_KWH, shown_parts
from energyplan.tariffs.clock import local_to_utc, utc_s
from energyplan.tariffs.costs import price, tier_units
from energyplan.tariffs.priceline import PriceLine, TierStep, price_line
from energyplan.tariffs.steps import metered

NIGHT = (
    '[[tariff.band]]\nname = "night"\nprice = 0.10\nfrom = "00:30"\nto = "04:30"\n'
    '[[tariff.band]]\nname = "day"\nprice = 0.30\notherwise = true\n'
)
START = datetime(2026, 1, 1, tzinfo=UTC)


def line_of(minutes: list[int], prices: list[int], **given) -> PriceLine:
    """A line from lengths of its steps, beginning at START."""
    edges = utc_s(START) + 60 * np.concatenate([[0], np.cumsum(minutes)]).astype(np.int64)
    return PriceLine(
        edges_s=edges,
        micro_per_kwh=np.array(prices, dtype=np.int64),
        band=np.arange(len(prices)) % 3,
        band_names=("a", "b", "c"),
        currency="EUR",
        **({"zone": "Europe/Dublin"} | given),
    )


LINES = st.lists(st.tuples(st.integers(1, 200), st.integers(-500_000, 2_000_000)), min_size=1, max_size=20)
LOADS = st.lists(st.tuples(st.floats(1.0, 2000.0), st.floats(0.0, 4000.0)), min_size=1, max_size=8)


@pytest.mark.parametrize(
    ("day", "hours", "cost"), [(date(2026, 3, 29), 5, 1.80), (date(2026, 10, 25), 7, 2.20), (date(2026, 6, 1), 6, 2.00)]
)
def test_the_nights_of_the_change_in_london(tariff_of, load_of, day: date, hours: int, cost: float) -> None:
    """2 kW from local midnight to 06:00, night 0.10 from 00:30 to 04:30, day 0.30.

    By hand: 3 h of night and 2 h of day in spring, 5 and 2 in autumn, 4 and 2 otherwise.
    """
    line = price_line(tariff_of(NIGHT), day, day)
    start = local_to_utc(datetime(day.year, day.month, day.day), "Europe/London")
    assert (local_to_utc(datetime(day.year, day.month, day.day, 6), "Europe/London") - start).seconds == hours * 3600
    result = price(load_of([2000.0] * hours), line, start)
    assert result.total.exact == Fraction(str(cost))
    assert sum(band.energy_kwh for band in result.bands) == 2.0 * hours


@pytest.mark.parametrize("zone", ["Europe/London", "Europe/Dublin", "Australia/Lord_Howe", "America/Santiago"])
@pytest.mark.parametrize("day", [date(2026, 3, 29), date(2026, 4, 5), date(2026, 9, 6), date(2026, 10, 25)])
def test_second_by_second(tariff_of, brew_like, zone: str, day: date) -> None:
    """Each second's energy times the price that a reader of the wall clock would name, summed here anew."""
    line = price_line(tariff_of(NIGHT, zone=zone), day - timedelta(days=1), day + timedelta(days=2))
    start = datetime(day.year, day.month, day.day, 12, tzinfo=UTC) - timedelta(hours=18)
    counted = metered(brew_like)
    seconds = np.arange(0, int(counted.to_s) + 2)
    energy = np.diff(counted.before_mj(seconds))
    expected = 0
    for second, joules in enumerate(energy):
        wall = (start + timedelta(seconds=second)).astimezone(ZoneInfo(zone))
        expected += int(joules) * (100_000 if 30 <= wall.hour * 60 + wall.minute < 270 else 300_000)
    assert price(brew_like, line, start).total.units == expected


def test_a_holiday_that_begins_during_the_brew(tariff_of, load_of) -> None:
    """Monday 16 March 2026 22:00 in Dublin, five hours: at midnight Saint Patrick's Day begins, a Sunday."""
    body = (
        '[tariff.holidays]\ncountry = "IE"\ntreat_as = "sun"\n'
        '[[tariff.band]]\nname = "week"\nprice = 0.40\ndays = "mon-sat"\n'
        '[[tariff.band]]\nname = "sunday"\nprice = 0.10\ndays = "sun"\n'
    )
    line = price_line(tariff_of(body, zone="Europe/Dublin"), date(2026, 3, 16), date(2026, 3, 17))
    result = price(load_of([1000.0] * 5), line, datetime(2026, 3, 16, 22, tzinfo=UTC))
    assert result.total.exact == Fraction("1.1")
    assert [(band.name, band.energy_kwh) for band in result.bands] == [("week", 2.0), ("sunday", 3.0)]


@settings(max_examples=200, deadline=None)
@given(LINES, LOADS, st.integers(0, 100), st.lists(st.floats(-50.0, 17_000.0), max_size=6))
def test_cost_is_additive_at_any_split(load_of, steps, watts, shift: int, cuts: list[float]) -> None:
    """The cost of the parts of any split, at fractions of a second too, is the whole to the unit."""
    line = line_of([minutes for minutes, _ in steps] + [2000], [micro for _, micro in steps] + [150_000])
    load = load_of([power for _, power in watts], [seconds for seconds, _ in watts])
    cost = price(load, line, START + timedelta(seconds=shift))
    marks = sorted([0.0, *(min(max(cut, 0.0), cost.load.to_s) for cut in cuts), cost.load.to_s])
    parts = [cost.between(a, b) for a, b in pairwise(marks)]
    assert sum(part.units for part in parts) == cost.total.units
    assert sum(band.cost.units for band in cost.bands) == cost.total.units
    shown = shown_parts(parts, 2)
    assert sum(shown) == cost.total.rounded()


@settings(max_examples=100, deadline=None)
@given(LINES, LOADS, st.integers(0, 100))
def test_second_by_second_on_any_line(load_of, steps, watts, shift: int) -> None:
    """Brute force over every second of any load on any line."""
    line = line_of([minutes for minutes, _ in steps] + [2000], [micro for _, micro in steps] + [150_000])
    load = load_of([power for _, power in watts], [seconds for seconds, _ in watts])
    energy = np.diff(metered(load).before_mj(np.arange(0, int(load.edges_s[-1]) + 2)))
    lengths_s = [60 * minutes for minutes, _ in steps] + [120_000]
    prices = np.repeat([micro for _, micro in steps] + [150_000], lengths_s)[shift : shift + energy.size]
    expected = sum(int(joules) * int(micro) for joules, micro in zip(energy, prices, strict=True))
    assert price(load, line, START + timedelta(seconds=shift)).total.units == expected


@settings(max_examples=60, deadline=None)
@given(LINES, LOADS, st.integers(-300_000, 900_000))
def test_a_price_that_is_higher_everywhere(load_of, steps, watts, more: int) -> None:
    """Price + k costs k x kWh more, to the unit."""
    minutes, prices = [m for m, _ in steps] + [2000], [p for _, p in steps] + [150_000]
    load = load_of([power for _, power in watts], [seconds for seconds, _ in watts])
    base = price(load, line_of(minutes, prices), START)
    higher = price(load, line_of(minutes, [micro + more for micro in prices]), START)
    assert higher.total.units - base.total.units == more * base.load.total_mj


@settings(max_examples=40, deadline=None)
@given(LOADS, st.sampled_from(["Europe/Dublin", "Asia/Kathmandu", "Pacific/Apia"]))
def test_the_zone_for_showing_never_alters_a_cost(load_of, watts, zone: str) -> None:
    """The line is UTC; its zone only names clocks. The start may carry any zone."""
    load = load_of([power for _, power in watts], [seconds for seconds, _ in watts])
    lengths, prices = [50, 70, 2000], [100_000, -300_000, 200_000]
    here = price(load, line_of(lengths, prices), START)
    there = price(load, line_of(lengths, prices, zone=zone), START.astimezone(ZoneInfo(zone)))
    assert here.total.units == there.total.units


def test_negative_prices_pay(load_of) -> None:
    """A negative price is an ordinary one."""
    assert float(price(load_of([3000.0]), line_of([600], [-200_000]), START).total) == -0.6


def test_energy_and_order(load_of) -> None:
    """All of it comes from the grid; a part that ends before it begins is an error."""
    cost = price(load_of([3000.0, 1000.0]), line_of([600], [200_000]), START)
    assert cost.energy_kwh == cost.imported_kwh == 4.0
    with pytest.raises(ValueError, match="before the beginning"):
        cost.between(10.0, 5.0)


def test_a_start_needs_a_zone(load_of) -> None:
    """Naive starts are never guessed at."""
    with pytest.raises(ClockError, match="no zone"):
        price(load_of([3000.0]), line_of([600], [200_000]), datetime(2026, 1, 1))


def test_prices_of_weak_currencies_don_t_wrap(load_of) -> None:
    """500 kWh at 3 000 000 a kWh is 1.5e9, far beyond 64 bits in exact units."""
    cost = price(load_of([500_000.0]), line_of([600], [3_000_000_000_000]), START)
    assert cost.total.exact == 1_500_000_000
    assert cost.total.units > 2**63


def test_tiers_by_hand(tariff_of, load_of) -> None:
    """5 kWh from 297 kWh on, 0.05 above 300: the last 2 kWh cost 0.10 more, and they are the last ones."""
    body = (
        '[[tariff.band]]\nname = "all"\nprice = 0.20\n[[tariff.tier]]\nabove_kwh = 300\nprice = 0.05\n'
        "[[tariff.tier]]\nabove_kwh = 301\nprice = 0.10\n"
    )
    line = price_line(tariff_of(body), date(2026, 1, 10), date(2026, 1, 10))
    cost = price(load_of([1000.0] * 5), line, datetime(2026, 1, 10, 8, tzinfo=UTC), month_kwh_so_far=297)
    assert cost.tier_cost.exact == Fraction("0.20")
    assert cost.total.exact == Fraction("1.20")
    assert [float(cost.between(hour * 3600.0, hour * 3600.0 + 3600).exact) for hour in range(5)] == pytest.approx(
        [0.2, 0.2, 0.2, 0.25, 0.35]
    )
    with pytest.raises(ValueError, match="month_kwh_so_far"):
        price(load_of([1.0]), line, START, month_kwh_so_far=-1)


def test_tiers_begin_anew_with_the_month(tariff_of, load_of) -> None:
    """From 31 January 22:00, four hours at 1 kW: two above the limit, two in a fresh month."""
    body = '[[tariff.band]]\nname = "all"\nprice = 0.20\n[[tariff.tier]]\nabove_kwh = 300\nprice = 0.05\n'
    line = price_line(tariff_of(body), date(2026, 1, 31), date(2026, 2, 1))
    cost = price(load_of([1000.0] * 4), line, datetime(2026, 1, 31, 22, tzinfo=UTC), month_kwh_so_far=350)
    assert cost.total.exact == Fraction("0.90")
    assert cost.between(7200.0, 14_400.0).exact == Fraction("0.40")


def test_tier_arithmetic() -> None:
    """Only what lies above counts, wherever one begins."""
    tiers = [TierStep(above_mj=10 * MJ_PER_KWH, micro_per_kwh=7)]
    assert tier_units(tiers, 0, 9 * MJ_PER_KWH) == 0
    assert tier_units(tiers, 9 * MJ_PER_KWH, 3 * MJ_PER_KWH) == 14 * MJ_PER_KWH
    assert tier_units(tiers, 12 * MJ_PER_KWH, 3 * MJ_PER_KWH) == 21 * MJ_PER_KWH


def test_own_power_is_taken_off_minute_by_minute(load_of) -> None:
    """3 kW half of the time under 1.5 kW left over still draws 1.5 kW half of the time; a second check by hand."""
    line = line_of([600], [400_000], surplus_mw=np.array([1_500_000]), export_micro_per_kwh=50_000)
    cost = price(load_of([3000.0, 0.0] * 30, 60.0), line, START)
    assert cost.imported_kwh == 0.75
    assert cost.total.exact == Fraction("0.75") * Fraction("0.4") + Fraction("0.75") * Fraction("0.05")
    halfway = cost.between(0.0, 90.0)
    assert halfway.exact == Fraction(1, 40) * Fraction("0.45")


def test_a_load_before_the_start(load_of) -> None:
    """A second heater that is switched on ten minutes before is priced at its own time."""
    line = line_of([60, 600], [100_000, 300_000])
    cost = price([load_of([1000.0]), load_of([6000.0], 600.0, -600.0)], line, START + timedelta(hours=1))
    assert cost.total.exact == Fraction("0.1") + Fraction("0.3")
    with pytest.raises(TariffError, match="the load from"):
        price([load_of([1000.0]), load_of([6000.0], 600.0, -600.0)], line, START)
