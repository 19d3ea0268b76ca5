"""Bigger and more batches in words: what is left out where nothing was entered."""

from dataclasses import replace
from datetime import UTC, datetime
from types import ModuleType

import pytest
from rich.console import Console

from energyplan.advice.batchchoices import BatchChoices, BatchQuestion, batch_choices
from energyplan.advice.heat_recovery import KeptWater
from energyplan.base.kinds import Style
from energyplan.day.brewday import simulate
from energyplan.day.kettle import shell_of
from energyplan.faces.frames import document
from energyplan.faces.terminal import terminal
from energyplan.plan.model import Circuit, Fermentation, HouseSupply, OtherLoad, Plan, Step
from energyplan.tariffs.tarifffile import parse_tariff
from energyplan.telling.batches import batches_told

START = datetime(2026, 12, 5, 9, tzinfo=UTC)
SHORT = """
[tariff]
name = "Short"
currency = "EUR"
price_unit = "EUR/kWh"
time_zone = "Europe/Dublin"
valid_to = 2026-12-05
[[tariff.band]]
name = "all"
price = 0.5
"""


def _said(found: BatchChoices, style: Style) -> str:
    console = Console(width=80, highlight=False)
    with console.capture() as capture:
        console.print(terminal(batches_told(found), style))
    text = capture.get()
    assert all(len(line) <= 80 for line in text.splitlines())
    return " ".join(text.split())


def _plan(builders: ModuleType, **tables: object) -> Plan:
    plan: Plan = builders.water_plan(Step(name="Boil", boil=True, hold_s=3600.0), **tables)
    return plan


def test_nothing_entered_nothing_said(builders: ModuleType) -> None:
    """Without circuit, prices, cleaning and fermentation the table is short, and no word of them follows."""
    found = batch_choices(simulate(_plan(builders)), BatchQuestion(), start=START, zone=UTC)
    said = _said(found, Style())
    assert "circuit" not in said
    assert "EUR" not in said
    assert "cleaning" not in said
    assert "fermentation" not in said
    assert "until it is kept in a tank" in said
    assert document(batches_told(found))["ways"][0]["circuit"] is None


def test_prices_that_end_too_early(builders: ModuleType) -> None:
    """Two batches run past the last priced day: no price for them, and none for the fermentation, with the reason."""
    plan = _plan(builders, fermentation=Fermentation(power_w=100.0, time_s=7 * 86400.0))
    start = datetime(2026, 12, 5, 20, tzinfo=UTC)
    found = batch_choices(simulate(plan), BatchQuestion(end_l=26.0), start=start, zone=UTC, tariff=parse_tariff(SHORT))
    said = _said(found, Style())
    assert found.rows[-1].cost is None
    assert "Its cost is not known: the prices don't reach" in said


def test_a_litre_or_a_gallon_costs_what_it_costs(builders: ModuleType) -> None:
    """A gallon is 3.785 L (NIST SP 811), so its cost is 3.785 times a litre's."""
    found = batch_choices(
        simulate(_plan(builders)), BatchQuestion(end_l=25.0), start=START, zone=UTC, tariff=parse_tariff(SHORT)
    )
    per_l = found.rows[0].per_volume.cost_per_l
    assert per_l is not None
    assert f" {per_l:.3f} EUR/L " in _said(found, Style())
    shown = _said(found, Style("us"))
    printed = float(shown.split("as planned ")[1].split(" EUR/gal")[0].split()[-1])
    assert printed == pytest.approx(3.785 * per_l, rel=0.01)


def test_a_contract_that_the_day_passes_is_over_as_on_the_report(builders: ModuleType) -> None:
    """3 kW of elements under a contract of 2 kW; the circuit itself carries them."""
    plan = _plan(builders, circuit=Circuit(voltage_v=230.0, breaker_a=16.0), supply=HouseSupply(contracted_w=2000.0))
    found = batch_choices(simulate(plan), BatchQuestion(), start=START, zone=UTC)
    assert found.rows[0].circuit is not None
    assert found.rows[0].circuit.severity != "over"
    assert {row.severity for row in found.rows} == {"over"}
    free = plan.model_copy(update={"supply": HouseSupply(contracted_w=9000.0)})
    assert "over" not in {
        row.severity for row in batch_choices(simulate(free), BatchQuestion(), start=START, zone=UTC).rows
    }


def test_what_only_two_days_do_to_the_circuit(builders: ModuleType) -> None:
    """An oven at the second batch passes the breaker: only the joined day's finding is told, and tagged."""
    oven = OtherLoad(name="Oven", power_w=2000.0, from_min=13 * 60, to_min=14 * 60)
    plan = _plan(builders, circuit=Circuit(voltage_v=230.0, breaker_a=16.0), other_loads=(oven,))
    kept = KeptWater(volume_l=15.0, temperature_c=50.0)
    found = batch_choices(simulate(plan), BatchQuestion(kept=kept), start=START, zone=UTC)
    assert found.rows[0].circuit is not None
    assert found.rows[0].circuit.severity != "over"
    said = _said(found, Style())
    assert "Over: Two on one day: At most" in said
    assert "the second batch then begins at" in said
    assert "for the cleaning save" not in said


def test_the_headline_names_what_takes_least_for_each_litre(builders: ModuleType) -> None:
    """The least of all ways with its kWh/hL; where that is the plan, no other way is praised."""
    found = batch_choices(simulate(_plan(builders)), BatchQuestion(end_l=25.0), start=START, zone=UTC)
    each = [row.per_volume.kwh_per_hl for row in found.rows]
    assert min(each) < each[0]
    headline = str(batches_told(found).headline)
    assert headline.startswith("Least energy for each litre")
    assert f"{min(each):.1f}" in headline
    best = replace(found.rows[0], per_volume=replace(found.rows[0].per_volume, kwh_per_hl=min(each) / 2))
    told = batches_told(replace(found, rows=(best, *found.rows[1:])))
    assert str(told.headline).startswith("No other way takes less energy for each litre than the plan")


def test_a_vessel_that_is_full_has_no_bigger_batch(builders: ModuleType) -> None:
    """Filled to nine tenths and more: one sentence says why, none compares the batch with itself."""
    volume_l = shell_of(_plan(builders)).volume_l
    batch = _plan(builders).batch.model_copy(update={"water_l": 0.93 * volume_l})
    full = _plan(builders).model_copy(update={"batch": batch})
    said = _said(batch_choices(simulate(full), BatchQuestion(), start=START, zone=UTC), Style())
    assert "No bigger batch goes: the vessel would be more than" in said
    assert "1.00 times" not in said
    assert "The ramps take" not in said
    assert "So full a vessel has no room" in said
