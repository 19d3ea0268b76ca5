"""Powers, word for word: when they are enough, in what air, what a boil may do, what may go wrong."""

from typing import Any

import pytest

from energyplan.advice.boil import Evaporation
from energyplan.base.kinds import Style
from energyplan.base.sentence import words
from energyplan.faces.frames import document
from energyplan.telling.power import (
    advised_sentence,
    bars_table,
    power_headline,
    power_told,
    steps_odds,
    why_sentence,
    wish,
)
from tests.telling.shown import Given, headings, seen_rows, titles

HOLD = Given(
    step="Mash", phase="hold", target_c=67.0, set_w=600.0, needed_w=320.0, needed_19_of_20_w=410.0, advised_w=450.0,
    set_holds_frac=1.0, advised_holds_frac=0.97, works_down_to_c=-25.0, coldest_looked_at_c=-25.0,
    for_evaporation=False, watched_w=None, watched_change_kwh=0.0, advised_lowest_c=66.2, set_lowest_c=66.6,
    nominal_lowest_c=66.8, outside_band_min=12.0, set_outside_band_min=3.0, above_band_min=0.0, recovery_min=4.0,
    worst_recovery_min=9.0, energy_change_kwh=0.02, evaporation_change_kg=0.0, current_freed_a=4.35,
    loading_w_per_cm2=6.0, mean_loading_w_per_cm2=2.0, set_enough=True, enough=True,
)  # fmt: skip
BOIL = HOLD.but(
    step="Boil", phase="boil", target_c=100.0, set_w=2200.0, needed_w=1690.0, needed_19_of_20_w=1950.0,
    advised_w=2000.0, energy_change_kwh=-0.3, evaporation_change_kg=-0.36, watched_w=1750.0, watched_change_kwh=-0.5,
)  # fmt: skip


def advice(*rows: Given, **more: Any) -> Any:
    """The powers of a day in air of 12 °C."""
    given = {
        "rows": rows, "worst": Given(voltage_v=207.0, loss_frac=1.25, open_surface_frac=1.2), "air_c": 12.0,
        "failed_frac": 0.0, "failures": (), "pulses": False, "evaporation": Evaporation(per_h=0.08), "days": 0,
    }  # fmt: skip
    return Given(**{**given, **more})


ENOUGH = "Every power set does its job on nineteen days of twenty"


@pytest.mark.parametrize(
    ("found", "told"),
    [
        (advice(HOLD, BOIL), f"{ENOUGH}; 2 steps of 2 can be set lower."),
        (advice(HOLD, BOIL.but(advised_w=2200.0)), f"{ENOUGH}; 1 step of 2 can be set lower."),
        (advice(HOLD.but(advised_w=599.5)), f"{ENOUGH}, and none could be lower."),
        (advice(HOLD.but(advised_w=599.4)), f"{ENOUGH}; 1 step of 1 can be set lower."),
        (advice(HOLD.but(enough=False)), f"{ENOUGH}, and none could be lower."),
        (advice(), "No step holds a temperature or boils."),
        (advice(HOLD.but(works_down_to_c=7.0)), f"{ENOUGH}; 1 step of 1 can be set lower."),
        (advice(HOLD.but(works_down_to_c=7.1), BOIL), "600 W holds Mash only down to air of 7.1 °C."),
        (advice(HOLD.but(works_down_to_c=None)), "600 W holds Mash only, in no air that it was looked at in."),
        (advice(HOLD.but(set_enough=False, set_holds_frac=0.7, works_down_to_c=9.0),
                BOIL.but(set_enough=False, set_holds_frac=0.8, works_down_to_c=2.0)),
         ("600 W holds Mash on 7 days of 10 (all else as planned, down to air of 9 °C) and 2200 W keeps Boil boiling "
         "on 8 days of 10.")),
        (advice(HOLD.but(set_enough=False, set_holds_frac=0.7, works_down_to_c=2.1)),
         "600 W holds Mash on 7 days of 10 (all else as planned, down to air of 2.1 °C)."),
        (advice(HOLD.but(set_enough=False, set_holds_frac=0.7, works_down_to_c=None)),
         "600 W holds Mash on 7 days of 10 (as planned not even in warm air)."),
        (advice(HOLD, failures=("it stalls",), failed_frac=0.03),
         f"{ENOUGH}; 1 step of 1 can be set lower. 3 % of the days can't be brewed as set."),
        (advice(HOLD, failures=("it stalls",)),
         f"{ENOUGH}; 1 step of 1 can be set lower. In the worst plausible case the day can't be brewed as set."),
    ],
)  # fmt: skip
def test_whether_the_powers_do(found: Any, told: str) -> None:
    """Enough, weak, weak in the cold, what could be lower, and whether the day fails elsewhere."""
    assert words(power_headline(found)) == told
    fine = told.startswith((ENOUGH, "No step")) and not found.failures
    assert (steps_odds(found) is None) == fine


@pytest.mark.parametrize(
    ("row", "told"),
    [
        (HOLD, []),
        (BOIL, ["Boil: turn it down towards 1750 W while it rolls, back up if it stops; that saves 0.50 kWh."]),
        (BOIL.but(watched_change_kwh=-0.0049),
         ["Boil: turn it down towards 1750 W while it rolls, back up if it stops."]),
        (BOIL.but(watched_change_kwh=0.005),
         [("Boil: begin with 2000 W, turn it down towards 1750 W while it rolls, back up if it stops; that takes "
          "0.01 kWh more than the 2200 W set.")]),
        (BOIL.but(advised_w=2200.6), [("Boil: begin with 2201 W, turn it down towards 1750 W while it rolls, back up "
                                      "if it stops; that saves 0.50 kWh.")]),
        (BOIL.but(advised_w=2200.4), [("Boil: turn it down towards 1750 W while it rolls, back up if it stops; that "
                                      "saves 0.50 kWh.")]),
        (BOIL.but(watched_w=None),
         ["Boil at 2000 W instead of 2200 W: 0.30 kWh and 0.36 kg of steam less."]),
        (BOIL.but(watched_w=None, advised_w=2400.0, energy_change_kwh=0.2, evaporation_change_kg=0.25,
                  for_evaporation=True),
         [("Boil at 2400 W instead of 2200 W: 0.20 kWh and 0.25 kg of steam more. That is for 8 % of the volume an "
          "hour; 1950 W boil on nineteen days of twenty.")]),
        (BOIL.but(watched_w=None, advised_w=2199.5), []),
        (HOLD.but(needed_w=0.0), ["Mash: the pump alone keeps it warm."]),
        (HOLD.but(needed_w=0.9), []),
    ],
)  # fmt: skip
def test_what_is_said_of_a_step(row: Given, told: list[str]) -> None:
    """What a boil that is watched may be turned down to, what another power changes, where the pump is enough."""
    assert [words(one) for one in power_told(advice(row)).sentences] == told


def test_a_row_has_its_numbers() -> None:
    """Those that all see, those where there is room, those for machines; the coldest air looked at is no border."""
    table = power_told(advice(HOLD)).table("power")
    assert headings(table, 0, short=True) == [
        "Step", "", "°C", "set W", "needs", "19 of 20", "advised", "set does it", "air", "kWh",
    ]  # fmt: skip
    assert seen_rows(table) == [
        ["Mash", "hold", "67.0", "600", "320", "410", "450", "every day", "≤-25", "+0.02"],
    ]  # fmt: skip
    assert headings(table, 1)[10:] == [
        "The advised does it on", "Lowest as set, worst case, °C", ("Lowest as advised, worst "
                                                                    "case, °C"), "Current freed, A",
    ]  # fmt: skip
    assert seen_rows(table, detail=1)[0][10:] == ["19 days of 20", "66.6", "66.2", "4.3"]
    assert headings(table, 1, Style("us"))[2] == "Target, °F"
    (row,) = document(power_told(advice(HOLD)))["power"]
    assert titles(power_told(advice(HOLD))) == ["Power", "Power"]
    assert row["why"] == (
        "keeps 67 °C with 320 W as planned, with 410 W on nineteen days of twenty; in the worst plausible case the "
        "lowest is 66.6 °C with the power set, 66.2 °C with the one advised"
    )
    assert {key: row[key] for key in ("outside_band_min", "set_outside_band_min", "recovery_min", "worst_recovery_min",
                                      "nominal_lowest_c", "mean_loading_w_per_cm2", "watched_w")} == {
        "outside_band_min": 12.0, "set_outside_band_min": 3.0, "recovery_min": 4.0, "worst_recovery_min": 9.0,
        "nominal_lowest_c": 66.8, "mean_loading_w_per_cm2": 2.0, "watched_w": None,
    }  # fmt: skip
    assert words(why_sentence(BOIL)) == (  # type: ignore[arg-type]
        "2000 W advised: below 1690 W it stops boiling as planned, below 1950 W on one day of twenty."
    )


def test_cautions_say_what_a_lower_cap_does() -> None:
    """That it saves nothing where one is advised, that it frees nothing where elements pulse; what the days are."""
    lower, pulsed, same = (power_told(found) for found in (
        advice(HOLD, days=3), advice(HOLD, pulses=True), advice(HOLD.but(advised_w=600.0))))  # fmt: skip
    saves = (
        "A lower cap on a hold saves next to no energy: under a thermostat the mean power equals the loss. It limits "
        "the load and, with switched elements, frees current."
    )
    pulses = (
        "This vessel pulses its elements down to a cap: while they are on they draw their full current and load their "
        "surface in full, whatever the cap, so a lower one frees no current on the circuit."
    )
    basis = (
        "Days: air within 5 K, mains, elements, heat loss and open surface drawn from their ranges{}. Worst case: "
        "air 5 K colder, 207 V, a weak element, 125 % of the loss, 120 % of the evaporation."
    )
    assert [words(one) for one in lower.cautions] == [saves, basis.format(", from 3 brewed days")]
    assert [words(one) for one in pulsed.cautions] == [saves, pulses, basis.format("")]
    assert [words(one) for one in same.cautions] == [basis.format("")]


@pytest.mark.parametrize(
    ("row", "told"),
    [
        (HOLD, []), (HOLD.but(loading_w_per_cm2=8.0), []), (HOLD.but(loading_w_per_cm2=None), []),
        (HOLD.but(loading_w_per_cm2=8.1),
         [("watt_density", ("Mash: an element that is on loads its surface with 8.1 W/cm²; common practice is to "
           "stay below 8 W/cm² in wort, which scorches above."))]),
        (HOLD.but(enough=False, advised_holds_frac=0.8),
         [("too_weak", ("Mash: no setting does it on nineteen days of twenty; that takes 410 W, and 450 W does it on "
           "8 days of 10."))]),
    ],
)  # fmt: skip
def test_what_may_go_wrong_with_a_step(row: Given, told: list[tuple[str, str]]) -> None:
    """Too weak whatever is set; a surface that scorches above what is usual."""
    assert [(one.code, words(one.said)) for one in power_told(advice(row)).findings] == told


def test_the_worst_day_says_why_it_fails() -> None:
    """The first reason, before all else."""
    found = power_told(advice(HOLD.but(loading_w_per_cm2=9.0), failures=("it stalls", "it boils over"))).findings
    assert next(words(one.said) for one in found) == "The worst plausible day fails so: it stalls"
    assert [one.severity for one in found] == ["note", "note"]


@pytest.mark.parametrize(
    ("taken", "told"),
    [
        ({}, "Every power that keeps its step is set as advised."),
        ({"Mash": 450.0, "Boil": 2000.0}, "Sets Mash to 450 W and Boil to 2000 W."),
        ({"Mash": 450.0}, ("Sets Mash to 450 W. Leaves Boil at 2200 W: what is advised would pass a rating there, or "
         "be too little.")),
        ({"Mash": 451.0, "Boil": 2000.0},
         "Sets Boil to 2000 W. Leaves Mash at 600 W: what is advised would pass a rating there, or be too little."),
    ],
)  # fmt: skip
def test_what_taking_the_advised_powers_sets(taken: dict[str, float | None], told: str) -> None:
    """Each step that is set so, and each that is left as it is."""
    assert words(advised_sentence(advice(HOLD, BOIL), taken)) == told


def test_a_step_that_is_as_advised_is_neither_set_nor_left() -> None:
    """Within half a watt, which nobody can see."""
    said = advised_sentence(advice(HOLD, BOIL.but(advised_w=2200.5), HOLD.but(step="Rest", advised_w=600.0)),
                            {"Mash": 450.0, "Rest": 600.0})  # fmt: skip
    assert words(said) == "Sets Mash to 450 W."


def test_bars_say_in_words_what_they_show() -> None:
    """Set and on how many days that is enough; what is advised where it is another."""
    table = bars_table(advice(HOLD.but(set_holds_frac=0.7), BOIL.but(advised_w=2200.5)), 2800.0)
    assert [words(row["bar"]) for row in table] == [
        "Mash: 600 W set, enough on 7 days of 10; 450 W advised", "Boil: 2200 W set, enough on every day; as advised",
    ]  # fmt: skip
    assert headings(table, 0) == ["Step", "Phase", "", "Set, W", "Needs, W", "On 19 days of 20, W", "Advised, W",
                                  "All elements, W"]  # fmt: skip
    assert seen_rows(table)[0][3:] == ["600", "320", "410", "450", "2800"]
    assert table.title == "Powers of each hold and boil"


def test_how_much_shall_boil_off() -> None:
    """As a share of the volume, or in litres, or gallons."""
    assert words(wish(Evaporation(per_h=0.08))) == "8 % of the volume an hour"
    assert words(wish(Evaporation(litres_per_h=3.0))) == "3 L/h"
    assert words(wish(Evaporation(litres_per_h=3.785)), Style("us")) == "1.00 gal/h"
