"""Ranges told: numbers of their own kind, drivers, what goes wrong, what to measure next."""

import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from energyplan.advice.draws import Uncertainty
from energyplan.advice.pricing import Pricing
from energyplan.advice.uncertainty import Driver, Spread, SpreadRun, spread
from energyplan.base.kinds import Style
from energyplan.base.sentence import words
from energyplan.faces.frames import document
from energyplan.plan.file import read_plan
from energyplan.plan.model import Site, Step
from energyplan.tariffs.priceline import price_line_around
from energyplan.tariffs.tarifffile import load_tariff
from energyplan.telling.uncertainty import drivers_table, measure_told, ranges_table, uncertainty_told

START = datetime(2026, 12, 5, 8, 30, tzinfo=UTC)


@pytest.fixture(scope="module")
def ranges() -> Spread:
    """A small spread with prices."""
    line = price_line_around(load_tariff("demo"), START - timedelta(days=1), START + timedelta(days=2))
    return spread(read_plan("demo"), pricing=Pricing(line=line, start=START), how=SpreadRun(draws=60))


def test_numbers_have_their_kinds(ranges: Spread) -> None:
    """Energy in kWh, money in its currency, temperatures and volumes in the display's units."""
    rows = {row["key"]: row for row in ranges_table(ranges)}
    assert str(rows["energy_kwh"]["planned"]) == f"{ranges.range_of('energy_kwh').planned:.2f} kWh"
    assert str(rows["cost"]["p10"]).endswith(" EUR")
    us = Style("us")
    assert words(rows["lowest_mash_c"]["planned"], us) == "152.6 °F"
    assert words(rows["end_volume_l"]["planned"], us).endswith(" gal")
    assert {"least_boil_w", "hold_cap_w", "peak_a", "minutes"} <= set(rows)


def test_the_machines_answer_has_all_of_it(ranges: Spread) -> None:
    """Ranges, chances, drivers and what each would narrow, raw."""
    told = document(uncertainty_told(ranges))
    energy = next(row for row in told["ranges"] if row["key"] == "energy_kwh")
    assert energy["p90"] == ranges.range_of("energy_kwh").p90
    assert {row["kind"] for row in told["chances"]} >= {"sag", "boil"}
    assert {"drivers", "narrows", "failed_frac", "seed", "draws", "measure_next"} <= set(told)


def test_a_driver_has_a_bar(ranges: Spread) -> None:
    """As long as its correlation; the weak are left out."""
    rows = list(drivers_table(ranges))
    assert rows
    assert all(len(row["bar"]) == max(round(24 * abs(row["correlation"])), 1) for row in rows)
    assert all(row["strength"] >= 0.05 for row in rows)


def test_what_never_happens_is_not_told(ranges: Spread) -> None:
    """A chance of nought is no finding; a small one is not rounded to nought."""
    chance = replace(ranges.chances[0], frac=0.0)
    assert not uncertainty_told(replace(ranges, chances=(chance,), failed_frac=0.0)).findings
    small = replace(ranges.chances[0], frac=0.0004, name="Mash [b]")
    (found,) = uncertainty_told(replace(ranges, chances=(small,), failed_frac=0.0)).findings
    assert str(found.said).startswith("less than 0.1 % of the days")
    assert "Mash [b]" in str(found.said)


def test_days_that_fail_are_named_with_their_share(builders) -> None:
    """They are in no range, and that is said first."""
    plan = builders.water_plan(
        Step(name="Warm", target_c=66.0, ramp_power_w=300.0, pump=False), water_c=60.0,
        vessel=builders.vessel(heat_loss_w_per_k=5.0), site=Site(air_c=20.0),
    )  # fmt: skip
    only = (Uncertainty(input="air_c", name="air", low=-1.0, high=22.0),)
    told = uncertainty_told(spread(plan, uncertainties=only, how=SpreadRun(draws=50)))
    assert re.search(r"; \d+ % of the days can't be brewed as set, and are in no range\.$", str(told.headline))
    found = told.findings[0]
    assert str(found.said).startswith("Why a day can't be brewed as set: ")
    assert "Warm" in str(found.said)


def test_what_to_measure_next_has_a_way(ranges: Spread) -> None:
    """A sentence with the way, or that nothing is gained; keys of the file by their name."""
    told = measure_told(ranges)
    assert str(told.sentences[0]).startswith("Measure next: ")
    assert re.search(r"\[\w+\] \w+|plate|power and voltage|board", str(told.sentences[0]))
    assert told.table("narrows").columns[0].heading == "Once measured, narrows"


def test_a_narrow_measured_loss_says_so_and_is_not_measured_again(builders) -> None:
    """Its own half width stands in the range, and where it came from; a cool-down would narrow nothing."""
    step = Step(name="Hold", target_c=66.0, hold_s=7200.0, pump=False)
    said, gains = {}, {}
    for within_w_per_k in (0.3, None, 1.2):
        kettle = builders.vessel(heat_loss_w_per_k=5.0, heat_loss_within_w_per_k=within_w_per_k)
        found = spread(builders.water_plan(step, vessel=kettle), how=SpreadRun(draws=300))
        told = uncertainty_told(found)
        said[within_w_per_k] = next(str(one) for one in told.cautions if str(one).startswith("heat loss: "))
        narrows = {row["input"]: row["energy_kwh_frac"] for row in told.table("narrows")}
        gains[within_w_per_k] = narrows["heat loss"]
    assert said[0.3] == "heat loss: 94 to 106 % of the loss measured, as its half width says."
    assert said[None] == "heat loss: 90 to 110 % of the loss measured."
    assert said[1.2] == "heat loss: 76 to 124 % of the loss measured, as its half width says."
    assert gains[0.3] == gains[None] == 0.0 < gains[1.2]


def test_no_metric_word_in_us_units(ranges: Spread) -> None:
    """Sources of the ranges too."""
    told, us = uncertainty_told(ranges), Style("us")
    for sentence in [*told.sentences, *told.cautions, *(finding.said for finding in told.findings)]:
        assert not re.search(r"\d (?:°C|K|L|kg)\b|degC", words(sentence, us)), words(sentence, us)


def test_a_driver_that_lowers_is_as_strong_as_one_that_raises(ranges: Spread) -> None:
    """Correlations of 0.9 and -0.9 have bars of the same length, and their signs."""
    drivers = (Driver(name="more", correlation=0.9), Driver(name="less", correlation=-0.9))
    energy = replace(ranges.range_of("energy_kwh"), drivers=drivers)
    told = replace(ranges, ranges=tuple(energy if one.key == "energy_kwh" else one for one in ranges.ranges))
    assert [(row["input"], len(row["bar"]), row["correlation"]) for row in drivers_table(told)] == [
        ("more", 22, 0.9),
        ("less", 22, -0.9),
    ]
