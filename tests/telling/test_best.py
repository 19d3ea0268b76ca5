"""Ways to brew a day: names that the numbers bear out, a table, a chart."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import altair as alt
import pytest

from energyplan.advice.best import best_plans
from energyplan.advice.compare import BestPlan, Option, Ramps
from energyplan.advice.pricing import Pricing
from energyplan.base.money import UNITS_PER_CURRENCY, Money
from energyplan.base.sentence import words
from energyplan.faces.charts import best_chart
from energyplan.faces.charttheme import DARK, LIGHT, ChartLook
from energyplan.faces.frames import document, frame
from energyplan.plan.equipment import Hours
from energyplan.plan.file import read_plan
from energyplan.tariffs.priceline import price_line_around
from energyplan.tariffs.tarifffile import load_tariff
from energyplan.telling.best import best_told, way_name, way_told, ways_of, ways_told
from tests.telling.shown import shown_frame, titles


@pytest.fixture(scope="module")
def found() -> list[BestPlan]:
    """The demo for each aim, any start of a day."""
    start = datetime(2026, 12, 5, 8, 30, tzinfo=UTC)
    first = datetime(2026, 12, 5, tzinfo=UTC)
    line = price_line_around(load_tariff("demo"), first - timedelta(days=1), first + timedelta(days=3))
    pricing = Pricing(line=line, start=start, first=first, last=first + timedelta(hours=23))
    return list(best_plans(read_plan("demo"), ("cost", "time", "circuit"), pricing=pricing))


def test_the_plan_as_it_is_comes_first_and_no_way_twice(found: list[BestPlan]) -> None:
    """Numbers run from 1; plan and start together are different in each."""
    choices = ways_of(found)
    assert [one.number for one in choices] == list(range(1, len(choices) + 1))
    assert choices[0].option is found[0].planned
    assert len({(one.option.plan, one.option.start) for one in choices}) == len(choices)


def test_each_aim_is_named_once_and_truly(found: list[BestPlan]) -> None:
    """Whoever is called cheapest costs no more than any other, up to a thousandth."""
    choices = ways_of(found)
    for aim, measure in (("cost", lambda one: one.option.value), ("time", lambda one: one.option.minutes)):
        named = [one for one in choices if aim in one.aims]
        assert len(named) == 1
        assert measure(named[0]) <= min(map(measure, choices)) * 1.001


def test_the_table_has_cost_minutes_and_amps(found: list[BestPlan]) -> None:
    """A row for each way, and the start."""
    rows = list(ways_told(ways_of(found), "Europe/Dublin").table("ways"))
    assert all(row["cost"] is not None and row["peak_a"] > 0 for row in rows)
    assert f"{rows[0]['start'].at:%H:%M}" == "08:30"


@pytest.mark.parametrize("look", [LIGHT, DARK], ids=["light", "dark"])
def test_the_chart_is_sound_vega_lite(found: list[BestPlan], look: ChartLook) -> None:
    """Described, and a point for each way."""
    table = ways_told(ways_of(found), "Europe/Dublin").table("ways")
    document = best_chart(frame(table), look, currency="EUR", description="Ways.")
    alt.LayerChart.from_dict(document)
    assert len(document["datasets"]["ways"]) == len(table.rows)


def test_the_headline_says_what_is_different(found: list[BestPlan]) -> None:
    """For cost another start, and what the hours are."""
    told = best_told(found[0], "Europe/Dublin")
    assert str(told.headline).startswith("Cheapest: ")
    assert "start at" in str(told.headline)
    assert any("combinations" in str(said) for said in told.sentences)


def test_what_a_way_mends_is_said(found: list[BestPlan]) -> None:
    """Where the plan as it is passes a rating and the way chosen none; where both do; where neither does."""
    best = found[0]
    over = replace(best, planned=replace(best.planned, over=("contract",)))
    neither = replace(over, chosen=replace(best.chosen, over=("contract",)))
    texts = [
        " ".join(str(one) for one in (*told.sentences, *told.cautions))
        for told in (best_told(one, "Europe/Dublin") for one in (best, over, neither))
    ]
    assert ["keeps every rating" in text for text in texts] == [False, True, True]
    assert "This way keeps every rating; over with the plan as it is: contract." in texts[1]
    assert "No choice keeps every rating; over with this one: contract." in texts[2]


def euros(amount: float) -> Money:
    """An amount of money."""
    return Money(units=round(amount * UNITS_PER_CURRENCY), currency="EUR")


def option(**changes: object) -> Option:
    """A way of 5 h, 2.00 EUR, 7.00 kWh and 12 A, begun at 08:30 in Dublin, but for what is changed."""
    given: dict[str, Any] = {
        "plan": object(), "day": None, "ramps": Ramps(), "wait_min": 0.0,
        "start": datetime(2026, 12, 5, 8, 30, tzinfo=UTC), "minutes": 300.0, "cost": euros(2.0), "energy_kwh": 7.0,
        "added_kwh": 0.0, "water_change_l": 0.0, "peak_a": 12.0, "use_frac": 0.75, "over": (),
    }  # fmt: skip
    return Option(**{**given, **changes})


def best(planned: Option, chosen: Option, **changes: object) -> BestPlan:
    """What was found for the least cost."""
    given: dict[str, Any] = {
        "best_for": "cost", "chosen": chosen, "planned": planned, "frontier": (), "tried": 40, "hours": None,
        "idle_over": (), "weak": {},
    }  # fmt: skip
    return BestPlan(**{**given, **changes})


PLANNED = option()
FULL = option(
    ramps=Ramps(kind="all"), wait_min=120.0, start=datetime(2026, 12, 6, 1, 5, tzinfo=UTC), minutes=260.0,
    cost=euros(1.8), energy_kwh=7.1, added_kwh=0.1, water_change_l=0.3, peak_a=15.0, use_frac=0.94,
)  # fmt: skip
STAYS = "The strike water waits warm, elements off, and is heated up again: stay about while it does."
LIFTS = "This lifts the caps that the plan sets on ramps; more power scorches sooner."
WATER = "It begins with 0.3 L {} water, because another amount evaporates: the wort stays."
TRIED = (
    "40 combinations of ramp power, wait and start were simulated, each with the plan's own wort at its end; listed "
    "are those that no other beats in both minutes and {}."
)


def test_the_best_way_is_told_with_what_it_gives_and_takes() -> None:
    """The answer, the trade, what to mind, the weak steps, what was tried, the hours."""
    hours = Hours(earliest="07:00", done_by="22:00", somebody_there=("06:30", "23:00"), not_on=["sun"])  # type: ignore[arg-type]
    told = best_told(best(PLANNED, FULL, hours=hours, weak={"Boil": 0.8}), "Europe/Dublin")
    assert str(told.headline) == (
        "Cheapest: all elements in the ramps, start at Sun 6 Dec 01:05 and water that waits 2 h."
    )
    assert [str(said) for said in told.sentences] == [
        "Against the plan as it is: 0.20 EUR cheaper, 40 min shorter, 0.10 kWh more and 3 A more at the peak.",
        WATER.format("more"),
        STAYS,
        LIFTS,
        "Whatever is chosen here, the power set for Boil is enough on 8 days of 10 only.",
        TRIED.format("cost"),
        (
            "Starts of that day were tried: not before 07:00, done by 22:00, somebody there from 06:30 to 23:00 and "
            "not on Sun."
        ),
    ]
    facts = document(told)
    assert facts["tried"] == 40
    assert titles(told) == ["The best way to brew this day", "Ways to brew this day"]
    assert facts["chosen"] == {
        "ramps": "all", "ramps_w": None, "wait_min": 120.0, "start": "2026-12-06T01:05:00Z", "minutes": 260.0,
        "cost": 1.8, "energy_kwh": 7.1, "added_kwh": 0.1, "water_change_l": 0.3, "peak_a": 15.0, "use_frac": 0.94,
        "over": [],
    }  # fmt: skip


def test_where_nothing_is_better_the_plan_stays() -> None:
    """No trade, no caution: only what was tried; without prices energy is what counts."""
    bare = option(cost=None, peak_a=None, start=None)
    told = best_told(best(bare, bare), "Europe/Dublin")
    assert str(told.headline) == "Of all that was tried nothing is cheaper than the plan as it is."
    assert [str(said) for said in told.sentences] == [TRIED.format("energy")]
    assert document(told)["chosen"]["start"] is None
    less = option(cost=None, peak_a=None, start=None, energy_kwh=6.8, minutes=310.0)
    assert str(best_told(best(bare, less), "Europe/Dublin").sentences[0]) == (
        "Against the plan as it is: 10 min longer and 0.20 kWh less."
    )


@pytest.mark.parametrize(
    ("way", "found", "told"),
    [
        (option(water_change_l=0.0499), {}, []),
        (option(water_change_l=0.05), {}, [WATER.replace("0.3 L", "0.1 L").format("more")]),
        (option(water_change_l=-0.3), {}, [WATER.format("less")]),
        (option(wait_min=1.0), {}, [STAYS]),
        (option(ramps=Ramps(kind="all"), minutes=300.0), {}, []),
        (option(ramps=Ramps(kind="all"), minutes=299.0), {}, [LIFTS]),
        (option(ramps=Ramps(kind="capped", power_w=2000.0), minutes=299.0), {}, []),
        (option(), {"idle_over": ("main_fuse",)}, ["Over with nothing of this day switched on: main fuse."]),
    ],
)  # fmt: skip
def test_what_is_to_be_minded(way: Option, found: dict[str, object], told: list[str]) -> None:
    """Other water, water that waits, caps that are lifted, what is over in any case: each only where it is so."""
    (told_way,) = (one for one in ways_of([best(PLANNED, way)]) if one.option is way)
    said = [str(one) for one in way_told(told_way, best(PLANNED, way, **found), "Europe/Dublin").sentences]
    assert said[1:] == ["It starts at 08:30.", *told]


def test_another_day_is_named_beside_the_planned_one() -> None:
    """A start on the next morning."""
    found = best(PLANNED, FULL)
    told = way_told(ways_of([found])[1], found, "Europe/Dublin")
    assert str(told.sentences[1]) == "It starts at Sun 6 Dec 01:05."
    assert titles(told) == ["What it trades"]


def test_each_way_has_a_name_and_a_row() -> None:
    """The plan first, then the best of each aim, then what lies between, by what is done to the ramps."""
    ways = [option(ramps=Ramps(kind="capped", power_w=2000.0), minutes=330.0),
            option(ramps=Ramps(kind="elements", power_w=1800.0), minutes=340.0, over=("breaker", "plug_fuse")),
            option(minutes=310.0)]  # fmt: skip
    found = best(PLANNED, FULL, frontier=(FULL, *ways))
    told = ways_told(ways_of([found]), "Europe/Dublin")
    assert str(told.headline) == (
        "5 ways to brew this day: 1 as it is, 2 cheapest, 3 ramps at most 2000 W, 4 elements of 1800 W only and 5 "
        "powers as planned."
    )
    seen = shown_frame(told.table("ways"))
    assert seen.iloc[1].to_list() == [
        "2", "cheapest", "1.80", "7.10", "260", "15.0", "Sun 6 Dec 01:05", "120", "+0.3", "all elements in the ramps",
    ]  # fmt: skip
    assert words(list(told.table("ways"))[3]["over"]) == "breaker and plug_fuse"
    assert titles(told) == ["Ways to brew this day"] * 2
    alone = ways_told(ways_of([best(PLANNED, PLANNED)]), "Europe/Dublin")
    assert str(alone.headline) == "Of all that was tried nothing is cheaper, quicker or gentler than the plan as it is."


@pytest.mark.parametrize(
    ("cost", "minutes", "over", "aims"),
    [
        (1.999, 300.0, (), ("cost", "time", "circuit")),
        (1.998, 300.0, (), ("time", "circuit")),
        (1.998, 299.71, (), ("time", "circuit")),
        (1.998, 299.7, (), ("circuit",)),
        (1.0, 200.0, ("breaker",), ("cost", "time", "circuit")),
    ],
)  # fmt: skip
def test_what_is_better_by_next_to_nothing_is_no_better(
    cost: float, minutes: float, over: tuple[str, ...], aims: tuple[str, ...]
) -> None:
    """A thousandth; and what passes a rating is best in nothing while another passes none."""
    other = option(cost=euros(cost), minutes=minutes, over=over)
    ways = ways_of(
        [best(PLANNED, other), best(PLANNED, other, best_for="time"), best(PLANNED, other, best_for="circuit")]
    )
    assert ways[0].aims == aims
    name = {3: "as it is, already the cheapest and quickest and gentlest on the circuit",
            2: "as it is, already the quickest and gentlest on the circuit",
            1: "as it is, already the gentlest on the circuit"}  # fmt: skip
    assert str(way_name(ways[0])) == name[len(aims)]


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({}, "Cheapest: start at 08:30."), ({"wait_min": 15.0}, ("Cheapest: start at 08:30 and water that waits 15 "
                                                                 "min.")),
        ({"start": None}, "Cheapest: powers as planned."),
        ({"start": None, "ramps": Ramps(kind="capped", power_w=2000.0)}, "Cheapest: ramps at most 2000 W."),
    ],
)  # fmt: skip
def test_the_headline_names_no_more_than_is_different(changes: dict[str, Any], told: str) -> None:
    """Ramps, start and wait, each only where it is so."""
    assert str(best_told(best(PLANNED, option(cost=euros(1.5), **changes)), "Europe/Dublin").headline) == told
