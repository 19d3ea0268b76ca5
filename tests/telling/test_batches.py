"""Bigger and more batches in words: what is left out where nothing was entered."""

from dataclasses import replace
from datetime import UTC, datetime
from types import ModuleType
from typing import Any

import pytest
from rich.console import Console

from energyplan.advice.batchchoices import BatchChoices, BatchQuestion, batch_choices
from energyplan.advice.heat import KeptWater
from energyplan.advice.variants import WhyNot
from energyplan.base.errors import BrewDayError, TariffError
from energyplan.base.kinds import Style
from energyplan.base.money import UNITS_PER_CURRENCY, Money
from energyplan.base.sentence import words
from energyplan.circuits.findings import Finding
from energyplan.day.brewday import simulate
from energyplan.day.kettle import shell_of
from energyplan.faces.frames import document
from energyplan.faces.terminal import terminal
from energyplan.plan.model import Circuit, Fermentation, HouseSupply, OtherLoad, Plan, Step
from energyplan.tariffs.tarifffile import parse_tariff
from energyplan.telling.batches import batches_told
from tests.telling.shown import Given, headings, seen_rows, titles

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


def euros(amount: float) -> Money:
    """An amount of money."""
    return Money(units=round(amount * UNITS_PER_CURRENCY), currency="EUR")


def way(key: str, kwh_per_hl: float, **more: Any) -> Given:
    """A way to brew: 7 kWh for 2.00 EUR in 5 h."""
    given = {
        "key": key, "energy_kwh": 7.0, "cost": euros(2.0), "duration_s": 18000.0, "end_l": 20.0, "severity": "ok",
        "per_volume": Given(kwh_per_hl=kwh_per_hl, cost_per_l=0.1), "circuit": None,
    }  # fmt: skip
    return Given(**{**given, **more})


def day(ramp_min: float = 60.0, evaporated_kg: float = 3.0, fullest_frac: float = 0.7, **more: Any) -> Given:
    """A day with two ramps that take so long together."""
    batch = Given(**{"water_l": 26.0, "grain_kg": 5.0, "sparge_water_l": 0.0, "model_dump": lambda **_: {"water": 26.0},
                     **more})  # fmt: skip
    phases = [Given(phase=kind, duration_s=60 * minutes) for kind, minutes in (("ramp", ramp_min - 20), ("hold", 60.0),
                                                                              ("ramp", 20.0))]  # fmt: skip
    plan = Given(batch=batch, vessel=Given(most_grain_kg=None), steps=(1, 2, 3))
    wort = Given(evaporated_kg=evaporated_kg, before_boil_l=24.0, fullest_frac=fullest_frac)
    return Given(plan=plan, phases=phases, wort=wort)


KEPT = Given(volume_l=15.0, temperature_c=50.0, wait_s=3 * 3600.0, tank_w_per_k=1.5)
REUSE = Given(kept=KEPT, kept_kwh=0.61, used_c=46.0, cleaning_l=10.0, cleaning_saved_kwh=0.35, strike_l=15.0,
              strike_saved_kwh=0.55)  # fmt: skip
TWO = Given(
    first=day(), second=day(), energy_kwh=13.6, apart_kwh=14.0, duration_s=34200.0, second_s=16200.0,
    second_start_c=41.0, end_l=40.0, heating_s=(25200.0, 9000.0), circuit=None,
)  # fmt: skip


def chosen(**more: Any) -> Any:
    """A batch as planned, one of 1.25 times, two on a day."""
    given = {
        "day": day(), "bigger": Given(end_l=25.0, times=1.25, day=day(70.0, water_l=32.0, grain_kg=6.25), why_not=None),
        "two": TWO, "two_kept": None, "reuse": None, "whole": None, "chilled_kwh": 1.9,
        "rows": (way("planned", 35.0), way("bigger", 33.0), way("two", 34.0)),
    }  # fmt: skip
    return Given(**{**given, **more})


RAMPS = "The ramps take 70 min instead of 60 min; the vessel is at most 70 % full."
BASKET = "Check that the basket holds the grain."
BIGGER = "25 L in one batch (1.25 times the planned one): 32 L of water, 6.25 kg of grain"
NAME = "25 L in one batch (1.25 times the planned one)"
TWO_SAID = [
    "Two on one day: 13.60 kWh instead of 14.00 kWh on two days; the second begins 4 h 30 min after the first.",
    "Elements are on for 7 h, and for 2 h 30 min without a break of a quarter of an hour.",
]
FOAM = "So full a vessel has no room for the foam of the hot break; most leave 10 % and more free."
NO_TANK = "Chilled to 20 °C the wort gives off 1.90 kWh. None of it counts until it is kept in a tank."


def no_room() -> WhyNot:
    """The vessel would be overfull."""
    return WhyNot(code="no_room", value=0.97, other=0.9)


def larger(**more: Any) -> Given:
    """A bigger batch."""
    return Given(
        **{"end_l": 25.0, "times": 1.25, "day": day(70.0, water_l=32.0, grain_kg=6.25), "why_not": None, **more}
    )


@pytest.mark.parametrize(
    ("bigger", "told"),
    [
        (larger(), [f"{BIGGER}.", RAMPS, BASKET]),
        (larger(day=day(70.0, water_l=32.0, grain_kg=6.25, sparge_water_l=4.0)),
         [f"{BIGGER.replace(', 6.25 kg of grain', ', 6.25 kg of grain and 4 L to sparge with')}.", RAMPS, BASKET]),
        (larger(day=day(70.0, water_l=32.0, grain_kg=5.0)), [f"{BIGGER.replace('6.25 kg', '5.00 kg')}.", RAMPS]),
        # 3.0 of 24 L are 12.5 %; 3.119 L just under 13.0 %, 3.13 L 13.04 %.
        (larger(day=day(70.0, 3.119, water_l=32.0, grain_kg=5.0)), [f"{BIGGER.replace('6.25 kg', '5.00 kg')}.", RAMPS]),
        (larger(day=day(70.0, 3.13, water_l=32.0, grain_kg=5.0)),
         [f"{BIGGER.replace('6.25 kg', '5.00 kg')}.", RAMPS,
          "The boil evaporates 13 % of the wort instead of 12 %: power and time stay as planned."]),
        (larger(day=day(70.0, fullest_frac=0.9, water_l=32.0, grain_kg=6.25)),
         [f"{BIGGER}.", RAMPS.replace("70 %", "90 %"), BASKET]),
        (larger(day=day(70.0, fullest_frac=0.91, water_l=32.0, grain_kg=6.25)),
         [f"{BIGGER}.", RAMPS.replace("70 %", "91 %"), FOAM, BASKET]),
        (larger(why_not=no_room()),
         [f"{BIGGER}.", RAMPS, BASKET, ("More does not go: the vessel would be more than 90 % full, and the foam of "
          "the hot break needs room.")]),
        (larger(day=None, why_not=no_room()),
         [(f"{NAME} can't be brewed here: the vessel would be more than 90 % full, and the foam of the hot break needs "
          "room.")]),
        (larger(day=None, why_not=WhyNot(code="no_brew", error=BrewDayError("it stalls"))),
         [f"{NAME} can't be brewed here: it stalls"]),
        (larger(times=1, day=day(fullest_frac=0.95), why_not=no_room()),
         ["No bigger batch goes: the vessel would be more than 90 % full, and the foam of the hot break needs room.",
          FOAM]),
    ],
)  # fmt: skip
def test_a_bigger_batch(bigger: Given, told: list[str]) -> None:
    """What goes in, what changes with the size, and why no more goes."""
    said = [words(one) for one in batches_told(chosen(bigger=bigger)).sentences]
    assert said == [*told, *TWO_SAID, NO_TANK]


def test_a_basket_of_known_size_needs_no_look() -> None:
    """Whoever entered how much grain it holds had it judged."""
    planned = day()
    planned.plan.vessel = Given(most_grain_kg=7.0)
    assert BASKET not in [words(one) for one in batches_told(chosen(day=planned)).sentences]


def test_two_on_a_day_share_a_cleaning_and_the_chiller_s_water() -> None:
    """One cleaning less where the first day ends without it; what is kept, what it saves where."""
    first = day()
    first.plan.steps = (1, 2)
    kept = TWO.but(energy_kwh=13.05, second_start_c=44.0)
    told = batches_told(chosen(two=TWO.but(first=first), two_kept=kept, reuse=REUSE))
    said = [words(one) for one in told.sentences]
    assert said[3] == TWO_SAID[0].replace("two days;", "two days, with one cleaning at the end;")
    assert said[5:] == [
        (
            "Chilled to 20 °C the wort gives off 1.90 kWh; 15 L at 50 °C hold 0.61 kWh of it, and still have 46 °C "
            "after 3 h."
        ),
        "10 L of it for the cleaning save 0.35 kWh.",
        "Or 15 L of it for the next strike save 0.55 kWh; the second batch then begins at 44 °C.",
    ]
    none = batches_told(chosen(two_kept=kept, reuse=REUSE.but(cleaning_saved_kwh=None)))
    assert len(none.sentences) == len(said) - 1
    facts = document(told)
    assert facts["reuse"] == {
        "kept": {"volume_l": 15.0, "temperature_c": 50.0, "wait_s": 10800.0, "tank_w_per_k": 1.5}, "kept_kwh": 0.61,
        "used_c": 46.0, "cleaning_l": 10.0, "cleaning_saved_kwh": 0.35, "strike_l": 15.0, "strike_saved_kwh": 0.55,
    }  # fmt: skip
    assert facts["two"] == {
        "energy_kwh": 13.6, "apart_kwh": 14.0, "minutes": 570.0, "second_after_min": 270.0, "second_start_c": 41.0,
        "end_volume_l": 40.0,
    }  # fmt: skip
    assert facts["two_kept"]["energy_kwh"] == 13.05
    assert facts["bigger"]["fits"] is True
    assert facts["bigger"]["batch"] == {"water": 26.0}


WHOLE = Given(fermentation_kwh=8.4, energy_kwh=15.4, cost=euros(4.5), prices_end=None,
              per_volume=Given(kwh_per_hl=77.0, cost_per_l=0.2))  # fmt: skip
FERMENTED = "With the fermentation (8.40 kWh) the planned batch takes 15.40 kWh{}, 77 kWh/hL."
ENDS = "Its cost is not known: the prices don't reach to its end (they end)."


@pytest.mark.parametrize(
    ("whole", "cost", "told"),
    [
        (WHOLE, 2.0, [FERMENTED.format(" and 4.50 EUR")]),
        (WHOLE.but(cost=None), 2.0, [FERMENTED.format("")]),
        (WHOLE.but(cost=None, prices_end=TariffError("they end")), 2.0, [FERMENTED.format(""), ENDS]),
        (WHOLE.but(cost=None, prices_end=TariffError("they end")), None, [FERMENTED.format("")]),
        (None, 2.0, []),
    ],
)  # fmt: skip
def test_the_whole_batch_with_its_fermentation(whole: Given | None, cost: float | None, told: list[str]) -> None:
    """Energy, money and kWh a hectolitre; where prices end too early it is said, unless there were none."""
    rows = (way("planned", 35.0, cost=None if cost is None else euros(cost)),)
    said = batches_told(chosen(whole=whole, rows=rows))
    assert [words(one) for one in said.sentences][6:] == told
    facts = document(said)["whole"]
    assert (facts is None) == (whole is None)
    if whole is not None:
        assert facts == {
            "fermentation_kwh": 8.4, "energy_kwh": 15.4, "cost": 4.5 if whole.cost else None, "kwh_per_hl": 77.0,
            "cost_per_l": 0.2,
        }  # fmt: skip


def test_ways_have_a_row_each_and_the_least_leads() -> None:
    """Energy, money, money of a litre, hours, litres, kWh a hectolitre, amps, the circuit's verdict."""
    circuit = Given(severity="note", peak_a=13.0, continuous_a=0.0, longest_at_peak_min=44.0,
                    findings=(Given(code="ring", severity="note", margin_frac=0.1),))  # fmt: skip
    rows = (way("planned", 35.0, circuit=circuit, severity="over"), way("bigger", 33.0, cost=None),
            way("two", 34.0, duration_s=34200.0), way("two_kept", 33.5))  # fmt: skip
    told = batches_told(chosen(rows=rows, two=TWO.but(circuit=None)))
    assert words(told.headline) == (
        "Least energy for each litre: one batch, 1.25 times, 33 kWh/hL instead of 35 kWh/hL."
    )
    table = told.table("ways")
    assert headings(table, 0, short=True) == [" ", "kWh", "EUR", "each", "h", "L", "kWh/hL", "A", "circuit"]
    assert seen_rows(table) == [
        ["as planned", "7.00", "2.00", "0.100 EUR/L", "5.0", "20.0", "35.0", "13.0", "over"],
        ["one batch, 1.25 times", "7.00", "", "", "5.0", "20.0", "33.0", "", "ok"],
        ["two on one day", "7.00", "2.00", "0.100 EUR/L", "9.5", "20.0", "34.0", "", "ok"],
        ["two, chiller water kept", "7.00", "2.00", "0.100 EUR/L", "5.0", "20.0", "33.5", "", "ok"],
    ]
    first, second = document(told)["ways"][:2]
    assert first["circuit"] == {
        "severity": "note", "peak_a": 13.0, "continuous_a": 0.0, "longest_at_peak_min": 44.0,
        "findings": [{"code": "ring", "severity": "note", "margin_frac": 0.1}],
    }  # fmt: skip
    assert (first["minutes"], second["circuit"]) == (300.0, None)
    assert titles(told) == [
        "One batch, a bigger one, or two on one day", "Energy, cost, time and volume of each way to brew",
    ]  # fmt: skip
    assert [words(one) for one in told.cautions] == [
        "Volumes of wort after the boil, cold; the beer that is packaged is less."
    ]
    alone = batches_told(chosen(rows=(way("planned", 33.0), way("two", 33.0))))
    assert words(alone.headline) == "No other way takes less energy for each litre than the plan: 33 kWh/hL."


def test_what_only_the_joined_day_does_is_told_of_it() -> None:
    """What one day does already, and what is in order, is not told again; a load of three hours is, even in order."""

    def finding(code: str, severity: Any, case: str, **facts: Any) -> Finding:
        return Finding(code=code, severity=severity, case=case, rule="", facts=facts)

    ring = finding("ring", "over", "over")
    hours = finding("continuous", "ok", "ok", rms_a=13.0, for_min=240.0, from_s=0.0)
    joined = Given(start=START, zone=UTC, findings=(hours, finding("isolation", "ok", "ok"), ring,
                                                    finding("isolation", "over", "over")))  # fmt: skip
    rows = (way("planned", 35.0, circuit=Given(findings=(ring,), severity="over", peak_a=1.0, continuous_a=0.0,
                                               longest_at_peak_min=1.0)),)  # fmt: skip
    found = batches_told(chosen(rows=rows, two=TWO.but(circuit=joined))).findings
    assert [words(one.said) for one in found] == [
        "Two on one day: Nothing in sight of the vessel cuts all lines.",
        "Two on one day: The peak lasts 4 h from 09:00; over the hottest hour the load warms wires like a steady 13 A.",
    ]
    assert {one.mend for one in found} == {None}
