"""Two days beside each other: tables of phases, totals, causes, and their chart."""

from typing import Any

import altair as alt
import numpy as np
import pytest

from energyplan.advice.answer import Answer, answer
from energyplan.advice.compare import compare
from energyplan.app.editing import with_entry
from energyplan.base.kinds import WORD, WRITTEN, Style
from energyplan.base.money import UNITS_PER_CURRENCY, Money
from energyplan.base.sentence import words
from energyplan.faces.charts import beside_chart
from energyplan.faces.charttheme import DARK, LIGHT, ChartLook
from energyplan.faces.frames import frame
from energyplan.plan.file import read_plan
from energyplan.tariffs.clock import local_to_utc
from energyplan.tariffs.tarifffile import load_tariff
from energyplan.telling.comparison import (
    Side,
    amperes_more,
    comparison_told,
    courses_table,
    kwh_more,
    minutes_more,
    money_more,
    sides_told,
)

US = Style("us")


def answered(plan: Any, *, priced: bool = True) -> Answer:
    """A plan on a Saturday morning."""
    start = local_to_utc("2026-12-05T08:30", "Europe/Dublin")
    return answer(plan, load_tariff("demo") if priced else None, start)


@pytest.fixture(scope="module")
def pair() -> tuple[Answer, Answer]:
    """The demo, and the same with another water."""
    demo = read_plan("demo")
    return answered(demo), answered(with_entry(demo, ("batch", "water"), "27.2 L"))


def told(first: Answer, second: Answer) -> Any:
    """The second beside the first."""
    return sides_told(
        Side(answer=first, name=WORD("the plan as opened"), heading="Opened"),
        Side(answer=second, name=WORD("on the desk"), heading="Desk"),
    )


def phases(first: Answer, second: Answer) -> list[dict[str, Any]]:
    """The rows of both days' phases."""
    return list(told(first, second).table("phases"))


def test_phases_of_the_same_steps_share_a_row(pair: tuple[Answer, Answer]) -> None:
    """Nothing is empty, and the sums are those of the days."""
    rows = phases(*pair)
    assert all(cell is not None for row in rows for cell in row.values())
    for side, one in zip(("first", "second"), pair, strict=True):
        assert one.price is not None
        assert sum((row[f"{side}_cost"] for row in rows), Money(units=0, currency="EUR")) == one.price.vessel.total
        assert sum(row[f"{side}_min"] for row in rows) == pytest.approx(one.day.duration_s / 60)


def test_a_step_of_one_plan_alone_stands_behind_the_one_it_follows(pair: tuple[Answer, Answer]) -> None:
    """A rest after the mash-out comes between mash-out and sparge."""
    demo = read_plan("demo")
    names = [step.name for step in demo.steps]
    place = names.index("Mash-out") + 1
    rest = demo.steps[place - 1].model_copy(update={"name": "Rest", "before": (), "target_c": 76.0})
    more = demo.model_copy(update={"steps": (*demo.steps[:place], rest, *demo.steps[place:])})
    steps = list(dict.fromkeys(row["step"] for row in phases(pair[0], answered(more))))
    assert steps == [*names[:place], "Rest", *names[place:]]


def test_totals_are_told_with_their_difference(pair: tuple[Answer, Answer]) -> None:
    """First, second, and more or less; the litres among them."""
    rows = {words(row["number"]): row for row in told(*pair).table("totals")}
    assert next(iter(rows)) == "Cost"
    assert rows["Energy"]["first"].raw == pair[0].day.energy_kwh
    more_kwh = pair[1].day.energy_kwh - pair[0].day.energy_kwh
    assert words(rows["Energy"]["difference"]) == f"{more_kwh:.2f} kWh more"
    more_l = pair[1].day.wort.end_l - pair[0].day.wort.end_l
    assert rows["Wort after the boil"]["difference"].raw == pytest.approx(more_l)
    assert "of wort instead of" in words(told(*pair).headline)


def test_without_prices_and_circuit_their_rows_are_missing() -> None:
    """What is not known is not told."""
    one = answered(read_plan("demo").model_copy(update={"circuit": None}), priced=False)
    rows = [words(row["number"]) for row in told(one, one).table("totals")]
    assert not {"Cost", "Largest current"} & set(rows)
    assert all(row["first_cost"] is None and row["first_a"] is None for row in phases(one, one))
    assert words(told(one, one).headline) == "Against the plan as opened: the same kWh and the same time."


def test_the_current_of_a_phase_is_the_largest_in_it(pair: tuple[Answer, Answer]) -> None:
    """A pause draws what is not the elements."""
    circuit = pair[0].circuit
    assert circuit is not None
    rows = phases(pair[0], pair[0])
    assert max(row["first_a"] for row in rows) == pytest.approx(circuit.peak_a)
    assert max(row["first_a"] for row in rows if row["phase"] == "pause") < circuit.peak_a


@pytest.mark.parametrize("look", [LIGHT, DARK], ids=["light", "dark"])
def test_the_chart_is_sound_and_tells_its_lines_apart_by_dashes(pair: tuple[Answer, Answer], look: ChartLook) -> None:
    """Two lines, bounded in points, told apart without colour too."""
    courses = courses_table(
        [(WORD(name), one.day.trajectory.times_s, one.day.trajectory.temperatures_c)
         for name, one in zip(("a", "b"), pair, strict=True)]
    )  # fmt: skip
    document = beside_chart(frame(courses), look, description="Two days.")
    alt.LayerChart.from_dict(document)
    assert "strokeDash" in document["layer"][0]["encoding"]
    assert len(document["datasets"]["lines"]) <= 620


def test_points_are_in_the_units_of_the_reader() -> None:
    """100 degC are 212 degF (definition)."""
    points = frame(courses_table([(WRITTEN("a"), np.array([0.0, 60.0]), np.array([0.0, 100.0]))]), US)
    assert list(points["temperature_f"]) == pytest.approx([32.0, 212.0])
    assert points["time_min"].iloc[1] == 1.0


def test_causes_add_up_to_the_difference() -> None:
    """As shown too; three plans have a part for the third."""
    demo, lakeside = read_plan("demo"), read_plan("lakeside")
    said = comparison_told(compare([demo, lakeside, demo.model_copy(update={"title": "Again"})]))
    table = said.table("causes")
    assert table.total is not None
    assert sum(row["in_order_kwh"] for row in table) == pytest.approx(table.total[1], abs=1e-9)
    assert len(said.parts) == 1
    assert [row["title"] for row in said.table("days")] == [demo.title, lakeside.title, "Again"]


def test_names_are_written_and_never_obeyed(run, tmp_path) -> None:
    """Brackets and escapes of a title come out as they were typed, in 80 columns."""
    from energyplan.plan.file import demo_plans

    odd = tmp_path / "odd.toml"
    odd.write_text(demo_plans()["lakeside"].replace('title = "', 'title = "[bold]x[/bold] ![n](http://a) ', 1))
    code, out, _ = run("compare", "demo", str(odd), "--start", "2026-12-05T08:30")
    assert code == 0
    assert "[bold]x[/bold]" in out
    assert "\x1b" not in out
    assert "![n](http://a)" in " ".join(out.split())
    assert max(map(len, out.splitlines())) <= 80


@pytest.mark.parametrize(
    ("said", "words"),
    [
        (minutes_more(12.3), "12 min longer"), (minutes_more(-12.3), "12 min shorter"),
        (minutes_more(0.4), "the same time"),
        (kwh_more(0.5), "0.50 kWh more"), (kwh_more(-0.5), "0.50 kWh less"), (kwh_more(-0.004), "the same kWh"),
        (amperes_more(1.0), "1 A more at the peak"), (amperes_more(-1.0), "1 A less at the peak"),
        (amperes_more(0.04), "the same peak"),
    ],
)  # fmt: skip
def test_more_and_less_have_their_words(said, words) -> None:
    """Each direction its own, and what would be shown as nothing a third."""
    assert str(said) == words


def test_a_difference_of_money_says_which_way() -> None:
    """More is dearer, less is cheaper, and what rounds to nothing is the same."""
    said = [
        words(money_more(Money(units=units, currency="EUR"))) for units in (-UNITS_PER_CURRENCY, UNITS_PER_CURRENCY, 1)
    ]
    assert [text.rpartition(" ")[2] for text in said] == ["cheaper", "dearer", "cost"]


def test_what_is_nothing_is_not_explained() -> None:
    """Of one cause, or none, nothing arises between causes; of two that act on each other it does."""
    demo = read_plan("demo")
    cold, bare = with_entry(demo, ("site", "air"), "-5 degC"), with_entry(demo, ("vessel", "jacket_thickness"), "40 mm")
    both = with_entry(cold, ("vessel", "jacket_thickness"), "40 mm")
    for other, arises in ((demo, False), (cold, False), (bare, False), (both, True)):
        said = " ".join(str(one) for one in comparison_told(compare([demo, other])).sentences)
        assert ("only arises between them" in said) == arises
        assert ("In order they add up" in said) == arises
        assert "0.00 kWh" not in said
