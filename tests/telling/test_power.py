"""Powers told: the answer first, shares of days, the cold, one boil, the ramps, one step and its cap."""

import re
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from energyplan.advice.boil import Evaporation, advise_boil
from energyplan.advice.holds import sag_curve
from energyplan.advice.power import PowerAdvice, advise
from energyplan.advice.ramps import WayOut, ramp_caps
from energyplan.base.kinds import Style
from energyplan.base.sentence import words
from energyplan.day.brewday import BrewDay, simulate
from energyplan.faces.frames import document, frame, shown_rows
from energyplan.plan.file import read_plan
from energyplan.plan.model import Circuit, Step
from energyplan.telling.power import advised_sentence, power_headline, power_told, steps_odds
from energyplan.telling.ramps import boil_told, ramps_told, sag_told, tried_sentence

START = datetime(2026, 12, 5, 8, 30, tzinfo=UTC)
METRIC_WORDS = re.compile(r"\d (?:°C|K|L|kg|cm)\b|degC")


@pytest.fixture(scope="module")
def day() -> BrewDay:
    """The packaged day."""
    return simulate(read_plan("demo"))


@pytest.fixture(scope="module")
def advice(day: BrewDay) -> PowerAdvice:
    """Its advice."""
    return advise(day)


def test_a_row_has_the_shares_of_days_and_the_air(advice: PowerAdvice) -> None:
    """What the contract of the machine's answer names, raw."""
    rows = document(power_told(advice))["power"]
    names = {"set_w", "needed_w", "needed_19_of_20_w", "advised_w", "set_holds_frac", "advised_holds_frac",
             "works_down_to_c", "advised_lowest_c", "energy_change_kwh", "current_freed_a", "why"}  # fmt: skip
    assert names <= set(rows[0])
    assert [row["advised_w"] for row in rows] == [row.advised_w for row in advice.rows]


def test_the_coldest_air_looked_at_is_no_border(advice: PowerAdvice) -> None:
    """Where a power does its job in all air that was looked at, its border lies there or lower."""
    rows = (advice.rows[0], replace(advice.rows[0], works_down_to_c=3.04))
    assert rows[0].works_down_to_c == rows[0].coldest_looked_at_c == -25.0
    told = power_told(replace(advice, rows=rows))
    place = [column.key for column in told.table("power").columns].index("works_down_to_c")
    for style, shown in ((Style(), ["≤-25", "3.0"]), (Style("us"), ["≤-13", "37.5"])):
        assert [row[place] for row in shown_rows(told.table("power"), style)[0]] == shown
    assert list(frame(told.table("power"), Style("us"))["works_down_to_f"]) == pytest.approx([-13.0, 37.472])
    assert [row["works_down_to_c"] for row in document(told)["power"]] == [-25.0, 3.04]


def test_enough_powers_are_said_to_be(advice: PowerAdvice) -> None:
    """The headline counts what could be set lower; before the day nothing is to be said."""
    assert str(power_headline(advice)).startswith("Every power set does its job on nineteen days of twenty; 4 steps")
    assert steps_odds(advice) is None


def test_a_weak_boil_is_the_headline(builders) -> None:
    """A boil set a little over what it needs as planned says on how many days it boils; one that the cold stops, where.

    1800 W do so in air of 11 °C and 1690 W, about what it needs as planned, not in any much colder.
    """
    plan, told = read_plan("demo"), {}
    for set_w in (1700.0, 1800.0):
        steps = tuple(step.model_copy(update={"hold_power_w": set_w}) if step.boil else step for step in plan.steps)
        weak = advise(simulate(plan.model_copy(update={"steps": steps})))
        told[set_w] = str(power_headline(weak))
        assert str(steps_odds(weak)) == told[set_w]
    assert re.fullmatch(r"1800 W keeps Boil boiling on \d days of 10\.", told[1800.0])
    assert re.fullmatch(
        r"1700 W keeps Boil boiling on \d days of 10 \(all else as planned, down to air of \d+(\.\d)? °C\)\.",
        told[1700.0],
    )


@pytest.mark.parametrize(
    ("below_k", "said"),
    [(29.0, ""), (10.5, ""), (9.0, " (all else as planned, down to air of 2 °C)"),
     (-2.0, " (all else as planned, down to air of 13 °C)"), (None, " (as planned not even in warm air)")],
)  # fmt: skip
def test_an_air_is_told_only_where_it_may_come(advice: PowerAdvice, below_k: float | None, said: str) -> None:
    """A border 29 K below the plan's air explains nothing: mains or elements make it fail."""
    border_c = None if below_k is None else advice.air_c - below_k
    row = replace(advice.rows[0], set_holds_frac=0.7, works_down_to_c=border_c)
    headline = str(power_headline(replace(advice, rows=(row, *advice.rows[1:]))))
    assert headline == f"600 W holds Strike on 7 days of 10{said}."


def test_the_cold_is_the_headline_where_only_that_may_fail(advice: PowerAdvice) -> None:
    """Air that the season may bring is 5 K below the plan's."""
    rows = (replace(advice.rows[0], works_down_to_c=advice.air_c - 4.0), *advice.rows[1:])
    assert str(power_headline(replace(advice, rows=rows))) == "600 W holds Strike only down to air of 7 °C."


@pytest.mark.parametrize(
    ("failed_frac", "told"),
    [(0.03, "3 % of the days can't be brewed as set."),
     (0.0, "In the worst plausible case the day can't be brewed as set.")],
)  # fmt: skip
def test_a_day_that_may_not_be_brewed_is_in_the_headline(advice: PowerAdvice, failed_frac: float, told: str) -> None:
    """With its share of the days, or as the worst case where none of the drawn days fails; why is a finding."""
    failing = replace(advice, failed_frac=failed_frac, failures=('[[step]] "Boil": it stalls',))
    assert str(power_headline(failing)).endswith(told)
    assert steps_odds(failing) == power_headline(failing)
    (found, *_) = power_told(failing).findings
    assert str(found.said) == 'The worst plausible day fails so: [[step]] "Boil": it stalls'


def test_taking_the_advised_powers_says_which_it_sets_and_which_it_leaves(advice: PowerAdvice) -> None:
    """The first that differs is taken, the others not; with all of them taken nothing is left."""
    first, *others = (row for row in advice.rows if abs(row.advised_w - row.set_w) > 1)
    sets, _, leaves = words(advised_sentence(advice, {first.step: first.advised_w})).partition(" Leaves ")
    assert first.step in sets
    assert first.step not in leaves
    assert all(row.step in leaves and row.step not in sets for row in others)
    every = words(advised_sentence(advice, {row.step: row.advised_w for row in advice.rows}))
    assert "Leaves" not in every
    assert all(row.step in every for row in (first, *others))
    assert words(advised_sentence(advice, {})) == "Every power that keeps its step is set as advised."


def test_what_a_watched_boil_may_be_turned_down_to(advice: PowerAdvice) -> None:
    """Towards the power that rolls as planned, with what it saves; where too little is set, with what it takes."""
    said = [str(sentence) for sentence in power_told(advice).sentences]
    assert any("turn it down towards 1900 W while it rolls, back up if it stops; that saves" in one for one in said)
    rows = tuple(replace(row, watched_change_kwh=0.4) if row.watched_w else row for row in advice.rows)
    said = [str(sentence) for sentence in power_told(replace(advice, rows=rows)).sentences]
    boil = next(row for row in rows if row.watched_w)
    assert (
        f"Boil: begin with {boil.advised_w:.0f} W, turn it down towards 1900 W while it rolls, back up if it stops; "
        f"that takes 0.40 kWh more than the {boil.set_w:.0f} W set."
    ) in said


@pytest.mark.parametrize("set_w", [1900.0, 2000.0])
def test_a_boil_set_below_what_is_advised_begins_with_that(set_w: float) -> None:
    """Before it is turned down; nothing saves 0.00 kWh where it is turned down to what was set."""
    plan = read_plan("demo")
    steps = tuple(step.model_copy(update={"hold_power_w": set_w}) if step.boil else step for step in plan.steps)
    found = advise(simulate(plan.model_copy(update={"steps": steps})))
    boil = next(row for row in found.rows if row.watched_w)
    assert boil.advised_w > set_w
    (said,) = (str(one) for one in power_told(found).sentences if "while it rolls" in str(one))
    assert said.startswith(f"Boil: begin with {boil.advised_w:.0f} W, turn it down towards 1900 W")
    assert ("saves" in said) == (boil.watched_w < set_w)
    assert "0.00" not in said


@pytest.mark.parametrize(("per_h", "told"), [(0.06, False), (0.10, True)])
def test_more_than_what_boils_is_advised_for_a_reason(day: BrewDay, per_h: float, *, told: bool) -> None:
    """Where the wanted evaporation takes more than a boil on nineteen days of twenty, both are in one sentence."""
    found = advise(day, evaporation_per_h=per_h)
    boil = next(row for row in found.rows if row.phase == "boil")
    text = " ".join(str(one) for one in power_told(found).sentences)
    why = f"That is for 10 % of the volume an hour; {boil.needed_19_of_20_w:.0f} W boil on nineteen days of twenty."
    assert (why in text) == boil.for_evaporation == told
    assert (boil.advised_w > boil.needed_19_of_20_w + day.plan.vessel.power_step_w) == told


def test_a_boil_says_its_range_and_what_follows(day: BrewDay) -> None:
    """Three lids, three outcomes; without the water to restore the volume, two."""
    found = advise_boil(day)
    told = boil_told(found)
    assert [row["lid"] for row in told.table("lids")] == ["on", "ajar", "off"]
    assert len(told.table("outcomes").rows) == 3
    assert re.search(r"lowest power that boils is \d+ W, \d+ to \d+ W on eight days of ten", str(told.headline))
    without = boil_told(replace(found, restored=None, not_restored="it runs over"))
    assert len(without.table("outcomes").rows) == 2
    assert "The end volume can't be restored: it runs over" in [str(one) for one in without.sentences]


def test_a_boil_that_stops_or_is_too_much_says_so(builders) -> None:
    """A kilowatt does not boil 46 litres; what no element gives is marked."""
    boil = Step(name="Boil", boil=True, hold_s=3600.0, hold_power_w=1000.0)
    plan = builders.water_plan(boil, water_l=40.0, vessel=builders.vessel(4000.0))
    found = advise_boil(simulate(plan), evaporation=Evaporation(litres_per_h=4.0))
    assert str(next(iter(boil_told(found).table("outcomes")))["boils"]) == "stops"
    weak = replace(found, lids=tuple(replace(lid, boils=False, boils_at_worst=False) for lid in found.lids))
    assert all(str(row["boils"]) == "too much" for row in boil_told(weak).table("lids"))


@pytest.mark.parametrize(("change_kwh", "word"), [(0.3, "more"), (-0.3, "less")])
def test_another_boil_power_takes_more_or_less(advice: PowerAdvice, change_kwh: float, word: str) -> None:
    """The sign of the change is a word, that of energy and steam alike."""
    boil = next(row for row in advice.rows if row.phase == "boil")
    other = replace(boil, watched_w=None, advised_w=boil.set_w + 200.0, energy_change_kwh=change_kwh,
                    evaporation_change_kg=change_kwh * 1.2)  # fmt: skip
    said = " ".join(str(one) for one in power_told(replace(advice, rows=(other,))).sentences)
    assert f"0.30 kWh and 0.36 kg of steam {word}." in said


def test_ramps_name_their_ways_out(builders) -> None:
    """A breaker that no ramp keeps has ways out; a step less that stalls says so; a lowest one has none."""
    steps = (Step(name="Mash-out", target_c=70.0), Step(name="Boil", boil=True, hold_s=600.0, hold_power_w=2000.0))
    circuit = Circuit(voltage_v=230.0, breaker_a=10.0)
    plan = builders.water_plan(*steps, vessel=builders.vessel(2000.0, 1000.0), circuit=circuit)
    found = ramp_caps(simulate(plan), START, UTC)
    earlier = WayOut(kind="second heater earlier", shift_min=40.0, added_min=0.0, added_kwh=0.0, over=("outlet",))
    told = ramps_told(replace(found, ways_out=(earlier,)), UTC)
    rows = {row["step"]: row for row in told.table("ramps")}
    assert str(rows["Mash-out"]["fastest_w"]) == "none"
    said = str(told.sentences[-1])
    assert said.startswith("Way out: heat the sparge water 40 min earlier")
    assert said.endswith("still over: outlet.")
    dearer = ramps_told(replace(found, ways_out=(replace(earlier, added_kwh=0.12),)), UTC)
    assert "+0.12 kWh" in str(dearer.sentences[-1])
    stalling = ramps_told(replace(found, rows=tuple(replace(row, less_min=None) for row in found.rows)), UTC)
    assert str(next(iter(stalling.table("ramps")))["less_min"]) == "stalls"
    lowest = replace(found, rows=tuple(replace(row, less_w=0.0, less_min=None) for row in found.rows))
    assert next(iter(ramps_told(lowest, UTC).table("ramps")))["less_min"] is None


def test_one_step_and_its_cap(day: BrewDay) -> None:
    """The knee, a cap that was tried, and elements that have none."""
    curve = sag_curve(day, "Saccharification")
    told = sag_told(curve)
    assert str(told.headline).startswith("Saccharification: from ")
    assert len(sag_told(curve, every=1).table("caps").rows) == curve.caps_w.size
    assert "falls to" in str(tried_sentence(curve, float(curve.caps_w[0])))
    assert "stays in the band" in str(tried_sentence(curve, float(curve.caps_w[-1])))
    assert "no cap keeps 67 °C" in str(sag_told(replace(curve, knee_w=None)).headline)


def test_no_metric_word_in_us_units(day: BrewDay, advice: PowerAdvice) -> None:
    """Sentences and cautions of all four tellings; watts, volts and amperes are the same in both."""
    us = Style("us")
    tellings = [power_told(advice), boil_told(advise_boil(day)), ramps_told(ramp_caps(day, START, UTC), UTC),
                sag_told(sag_curve(day, "Strike"))]  # fmt: skip
    for told in tellings:
        said = [*([told.headline] if told.headline else []), *told.sentences, *told.cautions]
        for sentence in [*said, *(finding.said for finding in told.findings)]:
            assert not METRIC_WORDS.search(words(sentence, us)), words(sentence, us)


def test_a_steps_name_is_shown_as_written() -> None:
    """Brackets are no markup, and control characters are made visible."""
    plan = read_plan("demo")
    steps = tuple(
        step.model_copy(update={"name": "Boil [/b]\x1b[31m", "hold_power_w": 1800.0}) if step.boil else step
        for step in plan.steps
    )
    second = plan.second_heater
    told = power_told(advise(simulate(plan.model_copy(update={"steps": steps, "second_heater": second}))))
    assert "Boil [/b]\\u001b[31m" in str(told.headline)
