"""In every accepted report the parts of the money add up to their total, as shown and as computed."""

import os
from datetime import timedelta
from decimal import Decimal

import numpy as np
import pytest

from energyplan.advice.answer import Answer, answer
from energyplan.base.kinds import Style
from energyplan.faces.frames import document, shown_rows
from energyplan.plan.file import read_plan
from energyplan.tariffs.clock import local_to_utc
from energyplan.tariffs.tarifffile import parse_tariff
from energyplan.telling.phases import steps_table
from energyplan.telling.report import report_told
from energyplan.telling.told import Table

CASES = int(os.environ.get("MONEY_PLANS", "3"))
# Price of a kWh of about so much, in a currency without, with two and with three decimals.
WORTH = {"JPY": 31.0, "EUR": 0.29, "KWD": 0.013}


def tariff_of(rng: np.random.Generator, currency: str) -> str:
    """Three bands by the clock, some below zero, an adder in the evening, tax or none, tiers or none."""
    price = lambda: round(float(WORTH[currency] * rng.uniform(-0.3, 2.0)), 5)  # noqa: E731
    first, second = sorted(int(hour) for hour in rng.choice(np.arange(1, 24), 2, replace=False))
    taxed = f"prices_include_tax = false\ntax_percent = {rng.integers(0, 30)}\n" if rng.random() < 0.6 else ""
    bands = [("early", 0, first), ("middle", first, second), ("late", second, 24)]
    text = (
        f'[tariff]\nname = "Made"\ncurrency = "{currency}"\nprice_unit = "{currency}/kWh"\n'
        f'time_zone = "Europe/Dublin"\n{taxed}'
    )
    for name, begin, end in bands:
        text += f'[[tariff.band]]\nname = "{name}"\nprice = {price()}\nfrom = "{begin:02d}:00"\nto = "{end:02d}:00"\n'
    text += f'[[tariff.add_on]]\nname = "evening"\nprice = {price()}\nfrom = "16:00"\nto = "19:30"\n'
    if rng.random() < 0.5:
        text += f"[[tariff.tier]]\nabove_kwh = {rng.integers(0, 9)}\nprice = {price()}\n"
    return text


def answer_of(rng: np.random.Generator, currency: str) -> Answer:
    """A packaged plan with other water and air, at any minute of the year."""
    plan = read_plan(str(rng.choice(["demo", "lakeside", "pale-ale"])))
    batch = plan.batch.model_copy(update={"water_temperature_c": float(rng.uniform(4, 20))})
    plan = plan.model_copy(
        update={"batch": batch, "site": plan.site.model_copy(update={"air_c": float(rng.uniform(2, 30))})}
    )
    start = local_to_utc("2026-01-01T00:00", "Europe/Dublin") + timedelta(minutes=int(rng.integers(0, 525_000)))
    return answer(plan, parse_tariff(tariff_of(rng, currency)), start)


def shown_sum(table: Table) -> tuple[Decimal, Decimal]:
    """Sum of the costs that are shown, and the shown total."""
    rows, total = shown_rows(table, Style())
    place = [column.key for column in table.columns].index("cost")
    assert total is not None
    return sum((Decimal(row[place]) for row in rows if row[place]), Decimal(0)), Decimal(total[place])


@pytest.mark.parametrize("currency", WORTH)
@pytest.mark.parametrize("case", range(CASES))
def test_phases_other_loads_and_bands_add_up_to_the_total(case: int, currency: str) -> None:
    """To the last digit shown, in the table of phases and in one shortened to a screen; to 1e-9 in the JSON."""
    found = answer_of(np.random.default_rng([case, len(currency), ord(currency[0])]), currency)
    assert found.price is not None
    for table in (steps_table(found), steps_table(found, most=5)):
        parts, total = shown_sum(table)
        assert parts == total
        assert -total.as_tuple().exponent == {"JPY": 0, "EUR": 2, "KWD": 3}[currency]
    whole = found.price.total
    assert sum(band.cost.units for band in whole.bands) + whole.tier_cost.units == whole.total.units
    said = document(report_told(found))
    cost = sum(phase["cost"] for phase in said["phases"]) + sum(one["cost"] for one in said["appliances"])
    assert cost == pytest.approx(said["totals"]["cost"], abs=1e-9)
