"""The price line at its borders: tiers of a month, guesses, holes, what a refusal says of where prices reach."""

from datetime import UTC, date, datetime, timedelta
from fractions import Fraction

import numpy as np
import pytest

from energyplan.base.errors import TariffError
from energyplan.base.money import MJ_PER_KWH
from energyplan.tariffs.clock import utc_s
from energyplan.tariffs.costs import month_starts_s, month_use_mj, price
from energyplan.tariffs.priceline import HOLE, OUT_OF_DATE, PriceLine, TierStep, price_line
from energyplan.tariffs.startcosts import StartLimits, allowed_starts
from energyplan.tariffs.starts import find_starts, hour_costs
from energyplan.tariffs.steps import ESTIMATE

START = datetime(2026, 1, 30, tzinfo=UTC)
BAND = '[[tariff.band]]\nname = "all"\nprice = 0.2\n'


def line_of(minutes: list[int], **given) -> PriceLine:
    """A line from lengths of its steps, beginning at START, each step dearer by 0.1 than the one before."""
    count = len(minutes)
    edges = utc_s(START) + 60 * np.concatenate([[0], np.cumsum(minutes)]).astype(np.int64)
    return PriceLine(
        edges_s=edges,
        micro_per_kwh=100_000 * (1 + np.arange(count, dtype=np.int64)),
        **(
            {"band": np.zeros(count, dtype=np.int64), "band_names": ("a",), "currency": "EUR", "zone": "Europe/Dublin"}
            | given
        ),
    )


# --- tiers ---
@pytest.mark.parametrize(("month", "days"), [(1, 31), (2, 28), (4, 30)])
def test_a_limit_for_each_day_is_that_of_the_month(month: int, days: int) -> None:
    """10 kWh a day are 310 in January; a tier of other months does not count at all."""
    daily = TierStep(above_mj=10 * MJ_PER_KWH, micro_per_kwh=50_000, is_daily=True)
    summer = TierStep(above_mj=0, micro_per_kwh=1, months=frozenset({6, 7}))
    winter = TierStep(above_mj=7, micro_per_kwh=2, months=frozenset({1, 2}))
    line = line_of([60], tiers=(daily, summer, winter))
    found = line.tiers_at(utc_s(datetime(2026, month, 15, tzinfo=UTC)))
    kept = (daily, *((winter,) if month < 3 else ()))
    assert [tier.above_mj for tier in found] == [10 * days * MJ_PER_KWH, *(tier.above_mj for tier in kept[1:])]
    assert [tier.micro_per_kwh for tier in found] == [tier.micro_per_kwh for tier in kept]
    plain = line_of([60], tiers=(TierStep(above_mj=5, micro_per_kwh=3),))
    assert plain.tiers_at(utc_s(START)) is plain.tiers


def test_the_month_is_that_of_the_local_clock() -> None:
    """23:30 UTC on 30 June is July in Dublin, half an hour after its midnight."""
    tiers = (TierStep(above_mj=1, micro_per_kwh=1, months=frozenset({7})),)
    line = line_of([60], tiers=tiers)
    assert len(line.tiers_at(utc_s(datetime(2026, 6, 30, 23, 0, tzinfo=UTC)))) == 1
    assert line.tiers_at(utc_s(datetime(2026, 6, 30, 22, 59, tzinfo=UTC))) == ()
    first, last = (utc_s(datetime(2026, month, 1, tzinfo=UTC)) for month in (6, 9))
    local = [
        datetime.fromtimestamp(int(second), UTC).isoformat()[:16] for second in month_starts_s(line.zone, first, last)
    ]
    assert local == ["2026-06-30T23:00", "2026-07-31T23:00", "2026-08-31T23:00"]
    december = [utc_s(datetime(year, 12 if year == 2025 else 2, 1, 12, tzinfo=UTC)) for year in (2025, 2026)]
    assert month_starts_s(line.zone, *december).size == 2, "over new year, not the first of the month it begins in"
    on_the_first = utc_s(datetime(2026, 2, 1, tzinfo=UTC))
    assert month_starts_s(line.zone, on_the_first, on_the_first + 60).size == 0


def test_what_the_month_has_used() -> None:
    """As handed in, else as the tariff knows it, else nothing; a number that is none is refused."""
    knows = line_of([60], month_mj=5 * MJ_PER_KWH)
    assert [month_use_mj(knows, given) for given in (None, 0.0, 2.5)] == [5 * MJ_PER_KWH, 0, round(2.5 * MJ_PER_KWH)]
    assert month_use_mj(line_of([60]), None) == 0
    for wrong in (-0.1, float("nan"), float("inf")):
        with pytest.raises(ValueError, match="expected 0 or more kWh"):
            month_use_mj(knows, wrong)


def test_the_uses_of_a_month_between_which_all_costs_lie() -> None:
    """Nothing, and each limit, those of a day for the longest month; none where the use is known, or tiers are not."""
    tiers = (TierStep(above_mj=300, micro_per_kwh=1), TierStep(above_mj=10, micro_per_kwh=1, is_daily=True))
    assert line_of([60], tiers=tiers).month_uses_mj == (0, 300, 310)
    assert line_of([60], tiers=tiers, month_mj=0).month_uses_mj == ()
    assert line_of([60]).month_uses_mj == ()


def test_both_ends_of_a_cost_over_the_end_of_a_month(load_of) -> None:
    """Two kWh in January and two in February, 0.05 more above 3 kWh and 0.10 less above 4.

    The use so far counts for January alone. From 1 kWh on (1 to 3) nothing is added; from 2 (2 to 4) 0.05; from 4 on
    each kWh is 0.05 dearer and 0.10 cheaper, so 2 x -0.05. February begins at nothing, and 2 kWh stay below.
    """
    tiers = (
        TierStep(above_mj=3 * MJ_PER_KWH, micro_per_kwh=50_000),
        TierStep(above_mj=4 * MJ_PER_KWH, micro_per_kwh=-100_000),
    )
    line = line_of([6 * 1440], tiers=tiers)
    cost = price(load_of([1000.0] * 4), line, datetime(2026, 1, 31, 22, tzinfo=UTC))
    ends = cost.tier_ends()
    assert ends is not None
    assert [float(end.tier_cost) for end in ends] == pytest.approx([-0.10, 0.05])
    assert [end.month_mj // MJ_PER_KWH for end in ends] == [4, 2]
    assert price(load_of([1000.0]), line_of([600]), START).tier_ends() is None


# --- guesses and holes ---
GUESSED = {"band": np.array([0, 1, 0]), "band_names": ("a", ESTIMATE)}


@pytest.mark.parametrize(("from_min", "to_min", "guess"), [
    (0, 60, False), (0, 61, True), (60, 61, True), (119, 120, True), (120, 180, False), (30, 150, True),
])  # fmt: skip
def test_a_cost_rests_on_a_guess_where_it_touches_one(load_of, from_min: int, to_min: int, *, guess: bool) -> None:
    """Guessed is the second hour of three, to the second on either side."""
    line = line_of([60, 60, 60], **GUESSED)
    start = START + timedelta(minutes=from_min)
    cost = price(load_of([1000.0], 60.0 * (to_min - from_min)), line, start)
    assert (cost.is_estimate, cost.total.is_estimate, str(cost.total).startswith("est. ")) == (guess, guess, guess)
    second = utc_s(START) + 60 * from_min
    assert line.is_estimate(second, utc_s(START) + 60 * to_min) is guess
    assert line_of([60, 60, 60]).is_estimate(second, second + 60) is False


def test_starts_that_rest_on_a_guess(load_of) -> None:
    """A load of half an hour touches the guessed second hour from 00:31 on; the picture's hours say so too."""
    search = find_starts(
        load_of([1000.0], 1800.0), line_of([60, 120], band=np.array([0, 1]), band_names=("a", ESTIMATE)),
        first=START, last=START + timedelta(minutes=150),
    )  # fmt: skip
    assert search.guessed_from_s == utc_s(START) + 60 * 30 + 1
    assert [search.is_estimate(utc_s(START) + 60 * minute) for minute in (0, 30, 31, 100)] == [False, False, True, True]
    assert (search.best.cost.is_estimate, search.worst.cost.is_estimate) == (False, True)
    assert [cell.cost.is_estimate for cell in hour_costs(search) if cell.cost] == [True, True, True]
    table = search._repr_html_()
    assert "<td>Best<td>" in table
    assert "<td>Dearest<td>" in table
    assert "<td>Now<td>" not in table


def test_why_there_is_no_price(load_of) -> None:
    """A hole of the list, a tariff out of date; the nearest step names what lies beside the line."""
    line = line_of([60, 60, 60], band=np.array([0, HOLE, OUT_OF_DATE]))
    at = [utc_s(START) + 60 * minute for minute in (-1, 59, 60, 120, 999)]
    assert [line.name_at(second) for second in at] == [
        "a", "a", "the series has no value there", "the tariff is not valid there", "the tariff is not valid there",
    ]  # fmt: skip
    line.require(at[0] + 60, at[2])
    for from_s, to_s in ((at[2], at[2] + 1), (at[2] - 1, at[2] + 1), (at[3], at[3] + 60)):
        with pytest.raises(TariffError, match=r"no price from 2026-01-30 \(Friday\) 0[12]:00 GMT"):
            line.require(from_s, to_s)
    for from_s, to_s in ((at[0] + 59, at[1]), (at[1], at[4] + 3600)):
        with pytest.raises(TariffError, match=r"prices reach from 2026-01-30 \(Friday\) 00:00 GMT to .* 03:00 GMT"):
            line.require(from_s, to_s)


@pytest.mark.parametrize(("given", "said"), [
    ({}, ""),
    ({"covers_s": (0, 86_400)}, "; the list covers 1970-01-01 (Thursday) 01:00 IST to 1970-01-02 (Friday) 01:00 IST"),
    ({"valid_s": (86_400, None)}, "; the tariff is valid from 1970-01-02 (Friday) 01:00 IST"),
    ({"valid_s": (None, 86_400)}, "; the tariff is valid until 1970-01-02 (Friday) 01:00 IST"),
    ({"valid_s": (0, 86_400)},
     "; the tariff is valid from 1970-01-01 (Thursday) 01:00 IST until 1970-01-02 (Friday) 01:00 IST"),
])  # fmt: skip
def test_what_a_refusal_says_of_where_prices_reach(given: dict, said: str) -> None:
    """The list and the validity, each where there is one, on the local clock (Dublin kept summer time in 1970)."""
    assert line_of([60], **given).covered == said


def test_a_tariff_s_days_are_local_ones(tariff_of) -> None:
    """Valid from 1 July to 31 July in Dublin: from 23:00 UTC of 30 June until 23:00 UTC of 31 July."""
    tariff = tariff_of("valid_from = 2026-07-01\nvalid_to = 2026-07-31\n" + BAND, zone="Europe/Dublin")
    line = price_line(tariff, date(2026, 7, 1), date(2026, 7, 1))
    expected = tuple(utc_s(datetime(2026, month, day, 23, tzinfo=UTC)) for month, day in ((6, 30), (7, 31)))
    assert line.valid_s == expected
    assert price_line(tariff_of(BAND), date(2026, 7, 1), date(2026, 7, 1)).valid_s == (None, None)


def test_tiers_of_a_tariff_are_with_tax_and_in_order(tariff_of) -> None:
    """0.10 above 300 and 0.05 above 100, with 20 % on top, the lower limit first; "day" and months are kept."""
    body = (
        "prices_include_tax = false\ntax_percent = 20\n" + BAND
        + "[[tariff.tier]]\nabove_kwh = 300\nprice = 0.10\n"
        + '[[tariff.tier]]\nabove_kwh = 100\nprice = 0.05\nper = "day"\nmonths = "jun-aug"\n'
    )  # fmt: skip
    line = price_line(tariff_of(body), date(2026, 7, 1), date(2026, 7, 1))
    assert line.tiers == (
        TierStep(above_mj=100 * MJ_PER_KWH, micro_per_kwh=60_000, is_daily=True, months=frozenset({6, 7, 8})),
        TierStep(above_mj=300 * MJ_PER_KWH, micro_per_kwh=120_000),
    )
    assert Fraction(int(line.micro_per_kwh[0]), 1_000_000) == Fraction("0.24")


# --- limits of a start ---
@pytest.mark.parametrize("given", [
    {"earliest_min": -1}, {"earliest_min": 1441}, {"finish_by_min": -1}, {"finish_by_min": 1441},
    {"attended_from_min": -1}, {"attended_to_min": 1441}, {"not_on": frozenset({-1})}, {"attended": ((10.0, 9.9),)},
])  # fmt: skip
def test_limits_outside_of_a_day_are_refused(given: dict) -> None:
    """And those at its very ends are not."""
    with pytest.raises(ValueError, match=r"time of day|weekdays|attended"):
        StartLimits(**given)
    StartLimits(earliest_min=0, finish_by_min=1440, attended_from_min=0, attended_to_min=1440, attended=((9.0, 9.0),))


@pytest.mark.parametrize(("limits", "ends_s", "first_last"), [
    ({"earliest_min": 480}, 3600.0, (480, 1439)),
    ({"earliest_min": 480, "finish_by_min": 1200}, 3600.0, (480, 1140)),
    ({"earliest_min": 480, "finish_by_min": 481}, 60.0, (480, 480)),
    ({"attended": ((0.0, 3600.0),), "attended_from_min": 480, "attended_to_min": 1200}, 7200.0, (480, 1140)),
    ({"attended": ((1800.0, 1800.0),), "attended_from_min": 480, "attended_to_min": 1200}, 7200.0, (450, 1170)),
])  # fmt: skip
def test_first_and_last_start_of_a_day(limits: dict, ends_s: float, first_last: tuple[int, int]) -> None:
    """All of 10 January in London: each limit counts to its own minute, and a second too long is a minute too late."""
    first_s = utc_s(datetime(2026, 1, 10, tzinfo=UTC))
    found = allowed_starts(StartLimits(**limits), first_s=first_s, count=1440, zone="Europe/London", ends_s=ends_s)
    (runs,) = np.nonzero(found)
    assert (int(runs[0]), int(runs[-1])) == first_last
    assert runs.size == first_last[1] - first_last[0] + 1


@pytest.mark.parametrize(("ends_s", "runs"), [(3600.0, [0, 1141, 1380, 1440]), (3601.0, [0, 1140, 1380, 1440])])
def test_with_an_end_alone_the_day_of_the_end_decides(ends_s: float, runs: list[int]) -> None:
    """Done by 20:00: up to 19:00 of this day, and from 23:00 on, when the end is on the next."""
    first_s, limits = utc_s(datetime(2026, 1, 10, tzinfo=UTC)), StartLimits(finish_by_min=1200)
    found = allowed_starts(limits, first_s=first_s, count=1440, zone="Europe/London", ends_s=ends_s)
    assert np.flatnonzero(np.diff(found.astype(int), prepend=0, append=0)).tolist() == runs


@pytest.mark.parametrize(("weekday", "minutes"), [(5, (0, 1440)), (6, (1440, 2880)), (4, None)])
def test_days_on_which_not_to_start(weekday: int, minutes: tuple[int, int] | None) -> None:
    """10 and 11 January 2026 are a Saturday and a Sunday; the day is kept from its first minute to its last."""
    first_s = utc_s(datetime(2026, 1, 10, tzinfo=UTC))
    limits = StartLimits(not_on=frozenset({weekday}))
    found = allowed_starts(limits, first_s=first_s, count=2880, zone="Europe/London", ends_s=60.0)
    kept = np.zeros(2880, dtype=bool)
    if minutes:
        kept[slice(*minutes)] = True
    assert (found == ~kept).all()
