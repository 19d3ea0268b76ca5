"""Bills reckoned outside of the project."""

from datetime import UTC, date, datetime, timedelta
from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from PySAM import Utilityrate5

from energyplan.base.load import LoadProfile
from energyplan.tariffs.costs import price
from energyplan.tariffs.priceline import price_line

THREE = """
[[tariff.band]]
name = "peak"
price = 0.30
days = "mon-fri"
from = "16:00"
to = "21:00"
[[tariff.band]]
name = "low"
price = 0.08
days = "mon-fri"
from = "22:00"
to = "06:00"
[[tariff.band]]
name = "low"
price = 0.08
days = "sat-sun"
from = "20:00"
to = "09:00"
[[tariff.band]]
name = "middle"
price = 0.12
otherwise = true
"""


def hourly_load(kw: np.ndarray) -> LoadProfile:
    """A load of mean powers per hour."""
    return LoadProfile(
        name="house",
        edges_s=np.arange(kw.size + 1) * 3600.0,
        mean_w=kw * 1000.0,
        heater_w_per_v2=np.zeros(kw.size),
        other_w=np.zeros(kw.size),
    )


WEEKDAY = [2] * 6 + [1] * 10 + [3] * 5 + [1] + [2] * 2
WEEKEND = [2] * 9 + [1] * 11 + [2] * 4
DAILY = (
    '[[tariff.tier]]\nabove_kwh = 16\nprice = 0.02\nper = "day"\n'
    '[[tariff.tier]]\nabove_kwh = 40\nprice = 0.05\nper = "day"\n'
)
PERIOD_PRICES = (0.12, 0.08, 0.30)


def reference_months(kw: np.ndarray, tiers: list[tuple[float, float]], unit: int = 0) -> np.ndarray:
    """Energy charge of each month of a year by NREL-PySAM's Utilityrate5.

    Its year has no clock change, no holiday and no leap day, and begins on a Monday, as 2018 does.
    ``tiers`` are (upper limit, price on top); ``unit`` 0 counts the limits in kWh a month, 2 in kWh for each
    of its days.
    """
    model = Utilityrate5.new()
    table = [
        [period + 1, tier + 1, limit, unit, price + more, 0]
        for period, price in enumerate(PERIOD_PRICES)
        for tier, (limit, more) in enumerate(tiers)
    ]
    model.ElectricityRates.assign(
        {
            "en_electricity_rates": 1,
            "rate_escalation": [0.0],
            "ur_metering_option": 2,
            "ur_ec_sched_weekday": [WEEKDAY] * 12,
            "ur_ec_sched_weekend": [WEEKEND] * 12,
            "ur_ec_tou_mat": table,
            "ur_dc_enable": 0,
            "ur_monthly_fixed_charge": 0,
            "ur_monthly_min_charge": 0,
            "ur_annual_min_charge": 0,
            "ur_nm_yearend_sell_rate": 0,
            "ur_en_ts_buy_rate": 0,
            "ur_en_ts_sell_rate": 0,
            "ur_sell_eq_buy": 0,
        }
    )
    model.Lifetime.assign({"analysis_period": 1, "system_use_lifetime_output": 0, "inflation_rate": 0})
    model.SystemOutput.assign({"gen": [0.0] * 8760, "degradation": [0.0]})
    model.Load.assign({"load": kw.tolist(), "load_escalation": [0.0]})
    model.execute(0)
    # The model object must stay alive while its outputs are read.
    return np.array(model.Outputs.year1_monthly_ec_charge_without_system)


@pytest.mark.parametrize(
    ("tiers", "unit", "ours"),
    [
        ([(1e38, 0.0)], 0, ""),
        (
            [(500.0, 0.0), (1200.0, 0.02), (1e38, 0.07)],
            0,
            "[[tariff.tier]]\nabove_kwh = 500\nprice = 0.02\n[[tariff.tier]]\nabove_kwh = 1200\nprice = 0.05\n",
        ),
        (
            [(16.0, 0.0), (40.0, 0.02), (1e38, 0.07)],
            2,
            DAILY,
        ),
    ],
)
def test_a_year_agrees_with_a_reference_library(tariff_of, tiers, unit: int, ours: str) -> None:
    """NREL-PySAM 7.1 Utilityrate5 on 8760 hours, three periods, weekday and weekend schedules: 1e-6 each month.

    Computed with the library here; the observed agreement is 2e-10 in each month, with tiers and without.
    """
    kw = np.random.default_rng(7).uniform(0.1, 4.0, 8760)
    expected = reference_months(kw, tiers, unit)
    line = price_line(tariff_of(THREE + ours, zone="Etc/GMT+5", currency="USD"), date(2018, 1, 1), date(2018, 12, 31))
    found = price(hourly_load(kw), line, datetime(2018, 1, 1, 5, tzinfo=UTC))
    borders_s = np.cumsum([0, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]) * 86_400.0
    months = [float(found.between(a, b)) for a, b in pairwise(borders_s)]
    assert months == pytest.approx(expected, rel=1e-6)
    assert float(found.total) == pytest.approx(expected.sum(), rel=1e-6)
    assert found.energy_kwh == pytest.approx(kw.sum(), rel=1e-8)


@pytest.mark.parametrize(("share", "bill"), [("0.80", "93.78"), ("0.85", "91.52")])
def test_a_published_calculator(tariff_of, share: str, bill: str) -> None:
    """1000 kWh, 80 % (85 %) of it at 0.08473, the rest at 0.13.

    Source: a city utility's published time-of-use calculator, Fayetteville, NC.
    """
    body = (
        '[[tariff.band]]\nname = "on-peak"\nprice = 0.13\nfrom = "17:00"\nto = "21:00"\n'
        '[[tariff.band]]\nname = "off-peak"\nprice = 0.08473\notherwise = true\n'
    )
    line = price_line(tariff_of(body, zone="America/New_York", currency="USD"), date(2026, 1, 5), date(2026, 1, 5))
    off_peak = float(Fraction(share) * 1000)
    load = hourly_load(np.array([off_peak, 1000 - off_peak]))
    start = datetime(2026, 1, 5, 16, tzinfo=UTC) + timedelta(hours=5)
    assert str(price(load, line, start).total.rounded()) == bill
