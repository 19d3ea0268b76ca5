"""Rates in the open schema of the Utility Rate Database."""

import json
from datetime import UTC, date, datetime
from decimal import Decimal

import numpy as np
import pytest

from energyplan.base.errors import TariffError
from energyplan.base.load import LoadProfile
from energyplan.tariffs.costs import price
from energyplan.tariffs.priceline import price_line
from energyplan.tariffs.tarifffile import parse_tariff
from energyplan.tariffs.urdb import import_urdb

WINTER = [0] * 7 + [1] * 2 + [0] * 15
SUMMER = [0] * 14 + [2] * 5 + [0] * 5
FLAT = [0] * 24


def rate(**change) -> dict:
    """An invented rate in the schema."""
    return {
        "name": "Cottonwood Flats residential",
        "energyratestructure": [[{"rate": 0.10, "adj": 0.01}], [{"rate": 0.2}], [{"rate": 0.3, "unit": "kWh"}]],
        "energyweekdayschedule": [WINTER] * 5 + [SUMMER] * 4 + [WINTER] * 3,
        "energyweekendschedule": [FLAT] * 12,
        "fixedchargefirstmeter": 12.5,
    } | change


def imported(**change):
    """The rate imported, and read back as a tariff."""
    found = import_urdb(json.dumps(rate(**change)), time_zone="America/Chicago")
    return found, parse_tariff(found.toml)


def test_every_hour_of_a_year_has_its_period_s_price() -> None:
    """Against a reading of the schedules, hour by hour, on the local clock."""
    _, tariff = imported()
    line = price_line(tariff, date(2026, 1, 1), date(2026, 12, 31))
    prices = [110_000, 200_000, 300_000]
    from zoneinfo import ZoneInfo

    for second in range(int(line.edges_s[0]), int(line.edges_s[-1]), 3600):
        local = datetime.fromtimestamp(second, UTC).astimezone(ZoneInfo("America/Chicago"))
        table = rate()["energyweekendschedule" if local.weekday() >= 5 else "energyweekdayschedule"]
        assert line.micro_per_kwh[line.index_at(second)] == prices[table[local.month - 1][local.hour]]


def test_fixed_charges_become_daily() -> None:
    """12.50 a month are 150 a year, 0.4110 a day; other units too; unknown ones are dropped."""
    assert imported()[1].daily_charge == Decimal("0.4110")
    assert imported(fixedchargeunits="$/day", fixedchargefirstmeter=0.4)[1].daily_charge == Decimal("0.4")
    assert imported(fixedchargeunits="$/year", fixedchargefirstmeter=73)[1].daily_charge == Decimal("0.2")
    found, tariff = imported(fixedchargeunits="$/kVA")
    assert tariff.daily_charge == 0
    assert "fixedchargefirstmeter in $/kva is not taken over" in found.dropped
    assert imported(fixedchargefirstmeter=None)[1].daily_charge == 0


def test_what_is_dropped_is_said() -> None:
    """Demand charges, minimum bills, export prices."""
    found, _ = imported(
        demandratestructure=[[{"rate": 5}]],
        minmonthlycharge=8,
        energyratestructure=[[{"rate": 0.1, "sell": 0.03}], [{"rate": 0.2}], [{"rate": 0.3}]],
        utility="somebody",
        flatdemandmonths=[],
    )
    assert "demandratestructure is not taken over" in found.dropped
    assert "minmonthlycharge is not taken over" in found.dropped
    assert any("export" in sentence for sentence in found.dropped)
    assert any("taxes" in sentence for sentence in found.dropped)
    assert not any("utility" in sentence or "flatdemand" in sentence for sentence in found.dropped)


def test_tiers_that_all_periods_share_become_prices_on_top() -> None:
    """0.05 more above 500 kWh in each period: 2 kWh from 499 on cost 0.05 more."""
    tiers = [[{"rate": base, "max": 500}, {"rate": base + 0.05}] for base in (0.10, 0.20, 0.30)]
    _, tariff = imported(energyratestructure=tiers)
    (tier,) = tariff.table.tier
    assert (tier.above_kwh, tier.price) == (500, Decimal("0.05"))
    line = price_line(tariff, date(2026, 1, 10), date(2026, 1, 10))
    load = LoadProfile(
        name="x",
        edges_s=np.array([0.0, 3600.0]),
        mean_w=np.array([2000.0]),
        heater_w_per_v2=np.zeros(1),
        other_w=np.zeros(1),
    )
    cost = price(load, line, datetime(2026, 1, 10, 18, tzinfo=UTC), month_kwh_so_far=499.0)
    assert str(cost.total) == "0.25 USD"


@pytest.mark.parametrize(
    ("second", "expected"),
    [
        ([{"rate": 0.2, "max": 500}, {"rate": 0.3}], "tiers differ between periods"),
        ([{"rate": 0.2}, {"rate": 0.3}], "tiers"),
    ],
)
def test_tiers_that_don_t_fit_are_dropped_and_said(second: list, expected: str) -> None:
    """Only the first tier of each period is kept."""
    found, tariff = imported(energyratestructure=[[{"rate": 0.1}], second, [{"rate": 0.3}]])
    assert any(expected in sentence for sentence in found.dropped)
    assert tariff.table.tier == ()


def test_tiers_without_a_limit_are_dropped_and_said() -> None:
    """A second tier that never begins."""
    found, _ = imported(energyratestructure=[[{"rate": 0.1}, {"rate": 0.2}]] * 3)
    assert any("no limit in kWh" in sentence for sentence in found.dropped)


def test_one_schedule_for_all_days_and_dates() -> None:
    """Equal schedules make bands for every day; dates are seconds or texts; an answer with items is read."""
    change = rate(
        energyweekdayschedule=[FLAT] * 12,
        startdate=1_767_225_600,
        enddate="2026-12-31",
    )
    odd = import_urdb(json.dumps(change | {"startdate": 10**30, "enddate": "soon"}), time_zone="America/Chicago")
    assert "valid" not in odd.toml
    found = import_urdb(json.dumps({"items": [change]}), time_zone="America/Chicago")
    tariff = parse_tariff(found.toml)
    assert (tariff.table.valid_from, tariff.table.valid_to) == (date(2026, 1, 1), date(2026, 12, 31))
    assert len(tariff.table.band) == 1
    assert not tariff.table.band[0].limited


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("{", "not a JSON file"),
        ("[" * 5000, "not a JSON file"),
        ('{"a": ' + "9" * 5000 + "}", "not a JSON file"),
        (json.dumps(rate(energyratestructure=[[{"rate": 1, "adj": "x"}], [{}], [{}]])), "each tier needs a rate"),
        ('{"energyratestructure": [[{"rate": 1e999999}]]}', "each tier needs a rate"),
        ("[]", "expected one rate"),
        ('{"items": [{}, {}]}', "2 rates under items"),
        ("{}", "energyratestructure: is missing or empty"),
        ('{"energyratestructure": []}', "energyratestructure: is missing or empty"),
        (
            '{"energyratestructure": [{"rate": 1}]}',
            "energyratestructure: is missing or empty; expected a list",
        ),
        ('{"items": []}', "0 rates under items"),
        (json.dumps(rate(energyweekdayschedule=[FLAT] * 13)), "energyweekdayschedule: expected 12 months of 24 hours"),
        (json.dumps(rate(energyweekdayschedule=[[0] * 23] * 12)), "energyweekdayschedule: expected 12 months"),
        (json.dumps(rate(energyweekdayschedule=[[0] * 25] * 12)), "energyweekdayschedule: expected 12 months"),
        (json.dumps(rate(energyweekendschedule=[[3] * 24] * 12)), "each a period from 0 to 2"),
        (json.dumps(rate(energyweekendschedule=[[-1] * 24] * 12)), "each a period from 0 to 2"),
        (json.dumps(rate(energyweekendschedule=[["0"] * 24] * 12)), "each a period from 0 to 2"),
        (
            json.dumps(rate(energyratestructure=[[{"rate": 1}], [{"rate": True}], [{}]])),
            "energyratestructure, period 1: each tier needs a rate in USD per kWh",
        ),
        (json.dumps(rate(energyratestructure=[[{"rate": 1}], [], [{"rate": 2}]])), "is missing or empty"),
        (json.dumps(rate(energyweekdayschedule=[FLAT] * 11)), "expected 12 months of 24 hours"),
        (json.dumps(rate(energyweekendschedule=[[9] * 24] * 12)), "a period from 0 to 2"),
        (json.dumps(rate(energyweekendschedule=None)), "energyweekendschedule"),
        (json.dumps(rate(energyratestructure=[[{"rate": "x"}], [{}], [{}]])), "each tier needs a rate"),
        (
            json.dumps(rate(energyratestructure=[[{"rate": 1, "unit": "kWh/kW"}], [{}], [{}]])),
            "tiers count kWh of a month",
        ),
    ],
)
def test_rates_that_can_t_be_taken_over(text: str, expected: str) -> None:
    """Each says what is missing."""
    with pytest.raises(TariffError) as caught:
        import_urdb(text, time_zone="America/Chicago", source="rate.json")
    assert str(caught.value).startswith("rate.json: ")
    assert expected in str(caught.value)


def block(*steps: tuple[float | None, float], unit: str = "kWh") -> list[dict]:
    """A ladder of the schema: limit (None for the last) and price."""
    return [{"rate": price, "unit": unit} | ({} if limit is None else {"max": limit}) for limit, price in steps]


RISING = block((300, 0.10), (800, 0.15), (None, 0.22))
FALLING = block((300, 0.20), (800, 0.12), (None, 0.07))
BASELINE = block((10, 0.18), (None, 0.30), unit="kWh daily")


@pytest.mark.parametrize("used_kwh", [0.0, 290.0, 310.0, 900.0])
@pytest.mark.parametrize(
    ("ladders", "january"),
    [
        ([RISING], [(300, 0.10), (800, 0.15), (9e9, 0.22)]),
        ([FALLING], [(300, 0.20), (800, 0.12), (9e9, 0.07)]),
        ([BASELINE, RISING], [(310, 0.18), (9e9, 0.30)]),  # 31 days of 10 kWh; the other ladder is summer's
    ],
    ids=["rising", "falling", "baseline"],
)
def test_imported_block_rates_are_those_of_a_hand_calculation(ladders, january, used_kwh: float) -> None:
    """21 kWh on 10 January, kilowatt-hour by kilowatt-hour up the ladder."""
    summer = [[len(ladders) - 1] * 24 if 5 <= month <= 8 else [0] * 24 for month in range(12)]
    rate = json.dumps(
        {"energyratestructure": ladders, "energyweekdayschedule": summer, "energyweekendschedule": summer}
    )
    tariff = parse_tariff(import_urdb(rate, time_zone="America/Chicago").toml)
    load = LoadProfile(
        name="x", edges_s=np.array([0.0, 3600.0]), mean_w=np.array([21_000.0]), heater_w_per_v2=np.zeros(1),
        other_w=np.zeros(1),
    )  # fmt: skip
    line = price_line(tariff, date(2026, 1, 10), date(2026, 1, 10))
    cost = price(load, line, datetime(2026, 1, 10, 18, tzinfo=UTC), month_kwh_so_far=used_kwh)
    by_hand = sum(next(price for limit, price in january if used_kwh + k < limit) for k in range(21))
    assert float(cost.total) == pytest.approx(by_hand, abs=1e-9)


def test_both_ends_of_a_cost_whose_step_is_not_known() -> None:
    """All of 21 kWh on the first step, and all on the last: 2.10 and 4.62; falling prices the other way round."""
    flat = [[0] * 24] * 12
    for ladder, ends in ((RISING, (2.10, 4.62)), (FALLING, (1.47, 4.20))):
        rate = json.dumps(
            {"energyratestructure": [ladder], "energyweekdayschedule": flat, "energyweekendschedule": flat}
        )
        tariff = parse_tariff(import_urdb(rate, time_zone="America/Chicago").toml)
        load = LoadProfile(
            name="x", edges_s=np.array([0.0, 3600.0]), mean_w=np.array([21_000.0]), heater_w_per_v2=np.zeros(1),
            other_w=np.zeros(1),
        )  # fmt: skip
        line = price_line(tariff, date(2026, 1, 10), date(2026, 1, 10))
        found = price(load, line, datetime(2026, 1, 10, 18, tzinfo=UTC)).tier_ends()
        assert found is not None
        assert [float(end.total) for end in found] == pytest.approx(ends, abs=1e-9)


def test_bands_are_named_by_their_period_and_hours() -> None:
    """Five bands on winter weekdays and summer's, by hand: hours, days and months as the schedules have them."""
    found, tariff = imported()
    rows = [
        (band.name, float(band.price), band.from_minute, band.to_minute, sorted(band.days), len(band.months or ()))
        for band in tariff.table.band
    ]
    weekdays, weekend = list(range(5)), [5, 6]
    assert rows == [
        ("period 1", 0.11, 0, 420, weekdays, 8), ("period 2", 0.2, 420, 540, weekdays, 8),
        ("period 1", 0.11, 540, 1440, weekdays, 8), ("period 1", 0.11, 0, 840, weekdays, 4),
        ("period 3", 0.3, 840, 1140, weekdays, 4), ("period 1", 0.11, 1140, 1440, weekdays, 4),
        ("period 1", 0.11, None, None, weekend, 0),
    ]  # fmt: skip
    assert (tariff.name, tariff.currency, tariff.time_zone) == (
        "Cottonwood Flats residential",
        "USD",
        "America/Chicago",
    )
    assert imported(name=None)[1].name == "imported rate"
    assert imported(name="x" * 99)[1].name == "x" * 80
    assert found.dropped == (
        "taxes are not in the schema; if the bill adds them, write prices_include_tax = false and tax_percent",
        "holidays are not in the schema; if the rate has them, write [tariff.holidays]",
    )


def test_prices_are_read_to_a_billionth() -> None:
    """The noise of binary fractions behind a published price is none of it; a missing adjustment is nothing."""
    tiers = [[{"rate": 0.1, "adj": 0.02000000000001}], [{"rate": 0.1234567894}], [{"adj": None}]]
    found, tariff = imported(energyratestructure=tiers)
    prices = {band.name: band.price for band in tariff.table.band}
    assert prices == {"period 1": Decimal("0.12"), "period 2": Decimal("0.123456789"), "period 3": Decimal(0)}
    assert "0.12\n" in found.toml


def test_tiers_of_some_months_name_them() -> None:
    """Winter's ladder and summer's: each holds in its own months; a step of nothing is none."""
    winter = block((300, 0.10), (600, 0.10), (None, 0.15))
    summer = block((400, 0.20), (None, 0.30))
    table = [[1 if 5 <= month <= 8 else 0] * 24 for month in range(12)]
    text = json.dumps(
        {"energyratestructure": [winter, summer], "energyweekdayschedule": table, "energyweekendschedule": table}
    )
    tiers = parse_tariff(import_urdb(text, time_zone="America/Chicago").toml).table.tier
    assert [(tier.above_kwh, tier.price, tier.per, sorted(tier.months)) for tier in tiers] == [
        (600, Decimal("0.05"), "month", [1, 2, 3, 4, 5, 10, 11, 12]), (400, Decimal("0.1"), "month", [6, 7, 8, 9]),
    ]  # fmt: skip


@pytest.mark.parametrize(("dates", "valid"), [
    ({"startdate": 0, "enddate": 86_400}, (date(1970, 1, 1), date(1970, 1, 2))),
    ({"startdate": "2026-01-01T05:00:00", "enddate": None}, (date(2026, 1, 1), None)),
    ({"enddate": 1_767_225_599}, (None, date(2025, 12, 31))),
])  # fmt: skip
def test_when_a_rate_is_valid(dates: dict, valid: tuple) -> None:
    """Seconds since 1970 or ISO text; what is missing is no end."""
    table = imported(**dates)[1].table
    assert (table.valid_from, table.valid_to) == valid
