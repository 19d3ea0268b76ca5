"""Ramps on a circuit, one boil and the curve of one hold, word for word and row for row."""

from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from energyplan.advice.boil import Evaporation
from energyplan.advice.ramps import RampRow, WayOut
from energyplan.base.sentence import words
from energyplan.circuits.findings import Finding
from energyplan.faces.frames import document
from energyplan.telling.ramps import boil_told, ramps_told, sag_description, sag_told, tried_sentence, way_told
from tests.telling.shown import Given, headings, seen_rows, titles

DUBLIN = ZoneInfo("Europe/Dublin")
START = datetime(2026, 12, 5, 22, 30, tzinfo=UTC)


def way(**more: Any) -> WayOut:
    """Something else that keeps the ratings."""
    return WayOut(**{"kind": "elements", "added_min": 20.0, "added_kwh": 0.1, "over": (), **more})


@pytest.mark.parametrize(
    ("out", "told"),
    [
        (way(elements_w=(1800.0,)),
         ("Way out: use only the elements of 1800 W, the others unplugged or switched off, for the whole day; 20 min "
         "longer, +0.10 kWh; then within the ratings you entered.")),
        (way(held_steps=("Mash", "Boil"), added_water_l=-0.06, over=("main_fuse", "ring")),
         ("Way out: hold Mash and Boil with the advised power, which needs fewer elements; 20 min longer, +0.10 kWh "
         "with 0.1 L less water, which ends with the same wort; still over: main fuse, ring.")),
        (way(shift_min=40.0, added_water_l=0.05, added_kwh=0.0),
         ("Way out: heat the sparge water 40 min earlier and keep it covered and insulated (its loss is not "
         "counted); 20 min longer, 0.00 kWh with 0.1 L more water, which ends with the same wort; then within the "
         "ratings you entered.")),
        (way(elements_w=(1800.0, 1000.0), shift_min=40.0, added_water_l=0.049),
         ("Way out: use only the elements of 1800 W and 1000 W, the others unplugged or switched off, for the whole "
         "day; and heat the sparge water 40 min earlier and keep it covered and insulated (its loss is not counted); "
         "20 min longer, +0.10 kWh; then within the ratings you entered.")),
    ],
)  # fmt: skip
def test_a_way_out_says_what_it_costs(out: WayOut, told: str) -> None:
    """What to do, how much longer, how much more, other water for the same wort, what stays over."""
    assert words(way_told(out)) == told


def ramp(**more: Any) -> RampRow:
    """A ramp of 44 min at 2800 W, begun an hour and a half after the start."""
    given: dict[str, Any] = {
        "step": "Strike", "start_s": 5400.0, "set_w": 2800.0, "fastest_w": 2600.0, "taken_w": 2500.0, "set_min": 44.0,
        "taken_min": 50.0, "less_w": 2400.0, "less_min": 53.0, "limited_by": ("plug_fuse", "ring"),
    }  # fmt: skip
    return RampRow(**{**given, **more})


def test_ramps_have_a_row_each() -> None:
    """When, set, fastest, taken, a step less; what stalls, what no power keeps, where there is no step less."""
    rows = (ramp(), ramp(fastest_w=None, less_min=None), ramp(less_w=0.0, start_s=0.0, limited_by=()))
    over = Finding(code="isolation", severity="over", case="over", rule="")
    found: Any = Given(start=START, rows=rows, added_min=12.0, added_kwh=0.2, ways_out=(way(elements_w=(1800.0,)),),
                       over_after=(over,), pulsed=True, idle_over=("main_fuse",))  # fmt: skip
    told = ramps_told(found, DUBLIN)
    table = told.table("ramps")
    assert headings(table, 0, short=True) == [
        "Ramp", "From", "set W", "fastest W", "taken W", "min", "less W", "min",
    ]  # fmt: skip
    assert seen_rows(table, detail=1) == [
        ["Strike", "Sun 6 Dec 00:00", "2800", "2600", "2500", "50", "2400", "53", "plug fuse, ring"],
        ["Strike", "Sun 6 Dec 00:00", "2800", "none", "2500", "50", "2400", "stalls", "plug fuse, ring"],
        ["Strike", "22:30", "2800", "2600", "2500", "50", "", "", ""],
    ]
    assert document(told)["ramps"][0]["set_min"] == 44.0
    assert titles(told) == ["Ramps on this circuit", "Ramps"]
    assert words(told.sentences[0]) == "Against the powers set: 12 min longer, +0.20 kWh."
    assert words(told.sentences[1]).startswith("Way out: use only")
    assert [words(one) for one in told.cautions] == [
        (
            "A cap on these pulsed elements does not lower what they draw while they are on, so no cap mends it; the "
            "ways out are fewer elements at a time, or nothing else on at that time."
        ),
        "Over with nothing of this day switched on, so that no power mends it: main fuse.",
    ]
    assert [one.code for one in told.findings] == ["isolation"]
    plain = ramps_told(Given(**{**vars(found), "pulsed": False, "idle_over": ()}), DUBLIN)  # type: ignore[arg-type]
    assert not plain.cautions


def outcome(power_w: float, *, boils: bool = True) -> Given:
    """What comes of a power."""
    return Given(power_w=power_w, boils=boils, evaporated_l=3.2, evaporated_l_per_h=3.1, end_l=20.0, gravity_end=1.052,
                 water_l=26.4, day_kwh=7.25)  # fmt: skip


POWER = Given(
    step="Boil", least_w=1690.0, least_range_w=(1600.0, 1800.0), worst_least_w=1950.0, wanted_w=2300.0,
    watched_w=1900.0,
    advised_w=2100.0, dry_w=2800.0, rolling_w=1900.0, boils=True, lid="off", most_w=2800.0,
)  # fmt: skip
LIDS = tuple(
    Given(lid=lid, least_w=watts, worst_least_w=watts + 300, boils=boils, boils_at_worst=at_worst)
    for lid, watts, boils, at_worst in (
        ("on", 400.0, True, True),
        ("ajar", 2600.0, True, False),
        ("off", 3000.0, False, False),
    )
)
SAVES = (
    "6 % of the volume an hour would take 2300 W, a rolling boil 1900 W. For the same volume at the end 2100 W save "
    "0.15 kWh and 0.4 L of water against the power set."
)
FULL = "80 % full as it comes to the boil, 9.5 cm below the rim."


def boil(**more: Any) -> Any:
    """Advice on one boil."""
    given = {
        "power": POWER, "lids": LIDS, "evaporation": Evaporation(per_h=0.06), "as_set": outcome(2200.0),
        "as_advised": outcome(2100.0), "restored": None, "fill_frac": 0.8, "headspace_m": 0.095, "not_restored": None,
        "least_of_a_rolling_boil_l_per_h": 2.4, "saved_kwh": 0.15, "saved_l": 0.4,
    }  # fmt: skip
    return Given(**{**given, **more})


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({}, [SAVES, FULL]),
        ({"power": POWER.but(boils=False, lid="ajar")},
         [SAVES, ("With the lid ajar it can't boil: that takes 1690 W, the elements give 2800 W. Close the lid "
          "further, or shield the vessel."), FULL]),
        ({"power": POWER.but(wanted_w=1900.0)}, [SAVES.replace("2300 W", "1900 W"), FULL]),
        ({"power": POWER.but(wanted_w=1899.0)},
         [SAVES.replace("2300 W", "1899 W"), ("The wanted evaporation needs less than a boil does; about 2.4 L/h is "
          "the least of a rolling one with the lid off."), FULL]),
        ({"fill_frac": 0.85}, [SAVES, FULL.replace("80 %", "85 %")]),
        ({"fill_frac": 0.86},
         [SAVES, FULL.replace("80 %", "86 %"),
          "Above 85 % it boils over easily (common practice): watch the foam, or start with less."]),
        ({"not_restored": "it runs over", "evaporation": Evaporation(litres_per_h=3.0)},
         [SAVES.replace("6 % of the volume an hour", "3 L/h"), FULL,
          "The end volume can't be restored: it runs over"]),
    ],
)  # fmt: skip
def test_what_follows_from_the_power_of_a_boil(more: dict[str, Any], told: list[str]) -> None:
    """What is wished, what boils, how full the vessel is, and why the volume can't be kept."""
    assert [words(one) for one in boil_told(boil(**more)).sentences] == told


def test_a_boil_has_its_lids_and_outcomes() -> None:
    """The lowest power under each lid, with what is too much; what comes of each power."""
    told = boil_told(boil(restored=outcome(2100.0), as_set=outcome(1600.0, boils=False)))
    assert words(told.headline) == (  # type: ignore[arg-type]
        "Boil: the lowest power that boils is 1690 W, 1600 to 1800 W on eight days of ten; advised are 2100 W."
    )
    lids, outcomes = told.tables
    assert titles(told) == ["Boil", "Lowest power that boils", "What comes of it"]
    assert headings(lids, 0) == ["Lowest power that boils: lid", "As planned, W", "Worst case, W", ""]
    assert seen_rows(lids) == [
        ["on", "400", "700", ""], ["ajar", "2600", "2900", "too much in the worst case"],
        ["off", "3000", "3300", "too much"],
    ]  # fmt: skip
    assert headings(outcomes, 0, short=True) == [
        "", "W", "", "Steam, L", "An hour, L/h", "End, L", "Gravity", "Water, L", "Day, kWh",
    ]  # fmt: skip
    rest = ["3.2", "3.1", "20.0", "1.052", "26.4", "7.25"]
    assert seen_rows(outcomes) == [
        ["as set", "1600", "stops", *rest], ["as advised", "2100", "", *rest], ["end volume kept", "2100", "", *rest],
    ]  # fmt: skip
    assert words(told.cautions[0]) == "Volumes cold, at 20 °C; energy of the whole day."
    facts = document(told)
    assert {key: facts[key] for key in ("step", "least_w", "worst_least_w", "wanted_w", "watched_w", "advised_w",
                                        "dry_w", "saved_kwh", "saved_l", "fill_frac")} == {
        "step": "Boil", "least_w": 1690.0, "worst_least_w": 1950.0, "wanted_w": 2300.0, "watched_w": 1900.0,
        "advised_w": 2100.0, "dry_w": 2800.0, "saved_kwh": 0.15, "saved_l": 0.4, "fill_frac": 0.8,
    }  # fmt: skip
    assert list(facts["least_range_w"]) == [1600.0, 1800.0]


def curve(count: int = 24, **more: Any) -> Any:
    """A hold at 67 °C under caps from 100 W on."""
    given = {
        "step": "Mash", "phase": "hold", "target_c": 67.0, "band_k": 1.0, "hold_min": 60.0, "knee_w": 500.0,
        "band_w": 450.0, "caps_w": np.arange(count) * 50.0 + 100.0, "lowest_c": np.linspace(60.0, 67.0, count),
        "outside_band_min": np.linspace(55.0, 0.0, count),
    }  # fmt: skip
    return Given(**{**given, **more})


@pytest.mark.parametrize(("count", "rows"), [(11, 11), (23, 23), (24, 12), (36, 12)])
def test_a_curve_is_told_in_about_a_dozen_caps(count: int, rows: int) -> None:
    """Every second of twice as many; all of them when asked for."""
    table = sag_told(curve(count)).table("caps")
    assert len(table.rows) == rows
    assert len(sag_told(curve(count), every=1).table("caps").rows) == count
    assert headings(table, 0) == ["Cap, W", "Lowest, °C", "Outside the band, min"]
    assert seen_rows(table)[0] == ["100", "60.0", "55"]


def test_where_a_hold_begins_to_sag() -> None:
    """From which cap on it keeps its target, and its band; where none does, that all elements are too little."""
    told = sag_told(curve())
    assert words(told.headline) == (  # type: ignore[arg-type]
        "Mash: from 500 W on it keeps 67 °C in the worst plausible case; from 450 W on it stays within 1 K for its 60 "
        "min."
    )
    assert words(sag_told(curve(band_w=None)).headline).count("500 W") == 2  # type: ignore[arg-type]
    assert titles(told) == ["How low it sags", "Caps"]
    weak = sag_told(curve(knee_w=None, band_w=None))
    assert words(weak.headline) == (  # type: ignore[arg-type]
        "Mash: no cap keeps 67 °C in the worst plausible case: all elements together give too little."
    )
    assert (document(weak)["knee_w"], document(weak)["band_w"]) == (None, None)
    facts = document(told)
    assert {key: facts[key] for key in ("step", "phase", "target_c", "band_k", "hold_min", "knee_w", "band_w")} == {
        "step": "Mash", "phase": "hold", "target_c": 67.0, "band_k": 1.0, "hold_min": 60.0, "knee_w": 500.0,
        "band_w": 450.0,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("outside_min", "told"),
    [
        (0.49, "With 150 W it stays in the band, at 65.5 °C or more, in the worst plausible case."),
        (0.5, ("With 150 W it falls to 65.5 °C in the worst plausible case, and is outside the band for less than a "
         "minute of 60 min.")),
        (12.0, ("With 150 W it falls to 65.5 °C in the worst plausible case, and is outside the band for 12 min of 60 "
         "min.")),
    ],
)  # fmt: skip
def test_a_cap_that_was_tried(outside_min: float, told: str) -> None:
    """How far the step falls with it, and for how long it is outside its band."""
    given = curve(3, lowest_c=np.array([60.0, 65.5, 67.0]), outside_band_min=np.array([50.0, outside_min, 0.0]))
    assert words(tried_sentence(given, 150.0)) == told


def test_a_curve_is_described_for_those_who_hear_it() -> None:
    """What it is of, and where the advised power lies on it."""
    row: Any = Given(step="Mash", advised_w=450.0, advised_lowest_c=66.2)
    assert words(sag_description(row)) == (
        "Lowest temperature of Mash against the cap on its power, in the worst plausible case. Advised are 450 W, "
        "which keep 66.2 °C."
    )
