"""Two days beside each other: tables of phases, totals, causes, and their chart."""

from types import SimpleNamespace
from typing import Any

import altair as alt
import numpy as np
import pytest

from energyplan.advice.answer import Answer, answer
from energyplan.advice.compare import ComparedDay, Comparison, Piece, Waterfall, compare
from energyplan.app.editing import with_entry
from energyplan.base.errors import BrewDayError, EnergyPlanError, PlanError, Problem
from energyplan.base.kinds import AMPERES, MINUTES, WORD, WRITTEN, Style
from energyplan.base.money import UNITS_PER_CURRENCY, Money
from energyplan.base.sentence import words
from energyplan.faces.charts import beside_chart
from energyplan.faces.charttheme import DARK, LIGHT, ChartLook
from energyplan.faces.frames import frame
from energyplan.plan.file import read_plan
from energyplan.plan.model import Step
from energyplan.tariffs.clock import local_to_utc
from energyplan.tariffs.tarifffile import load_tariff
from energyplan.telling.comparison import (
    CAUSES,
    Side,
    amperes_more,
    causes_table,
    comparison_told,
    courses_table,
    kwh_more,
    minutes_more,
    money_more,
    refusal,
    sides_told,
)
from tests.telling.shown import Begun, Given, headings, seen_rows, titles

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


def day_of(**changes: Any) -> Any:
    """A day of 7 kWh, 5 h and 20 L, but for what is changed."""
    given = {"energy_kwh": 7.0, "duration_s": 18000.0, "evaporated_kg": 3.0, "phases": ()} | changes
    wort = SimpleNamespace(end_l=given.pop("end_l", 20.0), gravity_end=1.05)
    kinds = {"ramp": 3.0, "hold": 1.0, "boil": 2.5}
    return SimpleNamespace(**given, wort=wort, energy_of=kinds.__getitem__)


def euros(amount: float) -> Money:
    """An amount of money."""
    return Money(units=round(amount * UNITS_PER_CURRENCY), currency="EUR")


def compared(title: str, cost: float | None = 2.0, peak_a: float | None = 12.0, **changes: Any) -> ComparedDay:
    """One plan of a comparison."""
    circuit: Any = None if peak_a is None else SimpleNamespace(peak_a=peak_a)
    return ComparedDay(
        title=title, day=day_of(**changes), cost=None if cost is None else euros(cost), circuit=circuit,
        severity=None if circuit is None else "ok",
    )  # fmt: skip


def fall(to: str, *pieces: Piece, interaction_kwh: float | None = None, to_kwh: float = 6.5) -> Waterfall:
    """From 7 kWh to others."""
    return Waterfall(
        from_title="A", to_title=to, from_kwh=7.0, to_kwh=to_kwh, pieces=pieces, interaction_kwh=interaction_kwh
    )


LIDS = Piece(causes=("lids",), in_order_kwh=-0.7, alone_kwh=-0.6)
REST = Piece(causes=("place", "vessel"), in_order_kwh=0.2, alone_kwh=None)
ORDER = "In order they add up to the difference; alone, nothing else is changed."


@pytest.mark.parametrize(
    ("pieces", "interaction_kwh", "told"),
    [
        ((), None, []),
        ((LIDS,), None, []),
        ((LIDS, REST), None, [ORDER]),
        ((LIDS, REST), 0.0049, [ORDER]),
        ((LIDS, REST), 0.005, [ORDER, "Changed alone, the causes leave +0.01 kWh that only arises between them."]),
        ((LIDS, REST), -0.3, [ORDER, "Changed alone, the causes leave -0.30 kWh that only arises between them."]),
    ],
)  # fmt: skip
def test_what_is_said_of_causes(pieces: tuple[Piece, ...], interaction_kwh: float | None, told: list[str]) -> None:
    """Of several how they add up; what arises between them where it is shown as something."""
    found = Comparison(
        days=(compared("A"), compared("B", energy_kwh=6.5)),
        waterfalls=(fall("B", *pieces, interaction_kwh=interaction_kwh),),
    )
    assert [words(said) for said in comparison_told(found).sentences] == told


def test_plans_side_by_side_have_their_rows() -> None:
    """The headline with cost, energy, time and wort; each plan's numbers; a part for the third plan."""
    days = (compared("A"), compared("B", 1.8, energy_kwh=6.5, duration_s=18600.0, end_l=21.0),
            compared("C", None, None, end_l=25.0))  # fmt: skip
    said = comparison_told(Comparison(days=days, waterfalls=(fall("B", LIDS, REST), fall("C", LIDS, to_kwh=6.3))))
    assert words(said.headline) == (
        "B against A: 0.20 EUR cheaper, 0.50 kWh less, 10 min longer and 21 L of wort instead of 20 L."
    )
    table = said.table("days")
    assert headings(table, 0, short=True) == [
        " ", "Plan", "kWh", "EUR", "min", "L", "gravity", "kWh/hL", "A", "circuit",
    ]  # fmt: skip
    # 7 kWh of 20 L are 35 kWh a hectolitre, 6.5 of 21 L 31, 7 of 25 L 28.
    assert seen_rows(table) == [
        ["1", "A", "7.00", "2.00", "300", "20.0", "1.050", "35.0", "12.0", "ok"],
        ["2", "B", "6.50", "1.80", "310", "21.0", "1.050", "31.0", "12.0", "ok"],
        ["3", "C", "7.00", "", "300", "25.0", "1.050", "28.0", "", ""],
    ]
    assert headings(table, 1)[3:6] == ["Heating up, kWh", "Holding, kWh", "Boiling, kWh"]
    assert seen_rows(table, detail=1)[0][3:6] == ["3.00", "1.00", "2.50"]
    assert "Steam, kg" in headings(table, 1)
    causes = said.table("causes")
    assert headings(causes, 0) == ["What makes the difference", "In order, kWh", "Alone, kWh"]
    assert seen_rows(causes) == [
        ["lids and pump of the steps", "-0.70", "-0.60"],
        ["place and vessel and jacket", "+0.20", ""],
        ["the difference", "-0.50", ""],
    ]
    (third,) = said.parts
    assert titles(said) == ["Side by side", "Each day as a whole", "What makes the difference", "From A to C"]
    assert (third.key, words(third.title)) == ("to_3", "From A to C")
    alone = comparison_told(Comparison(days=(compared("A", None), compared("B")), waterfalls=(fall("B", LIDS),)))
    assert words(alone.headline) == "B against A: the same kWh and the same time."


def test_every_cause_has_its_words() -> None:
    """Each of the ten in its row."""
    found = {}
    for cause in CAUSES:
        (row,) = causes_table(fall("B", Piece(causes=(cause,), in_order_kwh=0.0, alone_kwh=0.0)))
        found[cause] = words(row["cause"])
    assert found == {
        "place": "place", "vessel": "vessel and jacket", "elements": "elements, pump and mains",
        "batch": "water and grain", "second_heater": "second heater", "lids": "lids and pump of the steps",
        "lengths": "temperatures and lengths", "powers": "powers of the steps", "steps": "list of steps",
        "rest": "everything else",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("change", "least", "told"),
    [
        (kwh_more, 0.005, ("0.01 kWh more", "0.01 kWh less", "the same kWh")),
        (minutes_more, 0.51, ("1 min longer", "1 min shorter", "the same time")),
        (amperes_more, 0.051, ("0.1 A more at the peak", "0.1 A less at the peak", "the same peak")),
    ],
)  # fmt: skip
def test_the_least_difference_that_is_told_is_the_least_that_is_shown(
    change: Any, least: float, told: tuple[str, str, str]
) -> None:
    """A hair below it is the same."""
    assert (words(change(least)), words(change(-least)), words(change(0.97 * least))) == told


@pytest.mark.parametrize(
    ("end_l", "told"),
    [(20.0, ""), (20.049, ""), (20.05, " and 20.1 L of wort instead of 20 L"), (19.9, (" and 19.9 L of wort "
                                                                                       "instead of 20 L"))],
)  # fmt: skip
def test_another_amount_of_wort_is_no_saving(end_l: float, told: str) -> None:
    """It is said from a twentieth of a litre on."""
    days = (compared("A", None), compared("B", None, end_l=end_l))
    said = comparison_told(Comparison(days=days, waterfalls=(fall("B", LIDS),)))
    assert words(said.headline) == f"B against A: the same kWh, the same time{told}.".replace(
        "kWh, the same time.", "kWh and the same time."
    )


def test_both_days_as_wholes_have_a_row_each(pair: tuple[Answer, Answer]) -> None:
    """In their order, with the words of each side and what the second has more; the phases under both names."""
    rows = seen_rows(told(*pair).table("totals"))
    days, prices = [one.day for one in pair], [one.price for one in pair]
    names = ["Cost", "Energy", "Heating up", "Holding", "Boiling", "From start to end", "Largest current",
             "Wort after the boil"]  # fmt: skip
    assert titles(told(*pair)) == [
        "Side by side", "Both days as wholes", "Energy, cost, minutes and largest current of each phase of both",
    ]  # fmt: skip
    assert [row[0] for row in rows] == names
    costs = [one.total.total for one in prices if one is not None]
    assert rows[0][1:] == [str(costs[0]), str(costs[1]), words(money_more(costs[1] - costs[0]))]
    minutes = [day.duration_s / 60 for day in days]
    assert rows[5][1:] == [words(MINUTES(one)) for one in minutes] + [words(minutes_more(minutes[1] - minutes[0]))]
    peaks = [one.circuit.peak_a for one in pair if one.circuit is not None]
    assert rows[6][1:] == [words(AMPERES(one)) for one in peaks] + [words(amperes_more(peaks[1] - peaks[0]))]
    for name, kind in (("Heating up", "ramp"), ("Holding", "hold"), ("Boiling", "boil")):
        row = rows[names.index(name)]
        assert row[1:3] == [f"{day.energy_of(kind):.2f} kWh" for day in days]
        more_kwh = days[1].energy_of(kind) - days[0].energy_of(kind)  # type: ignore[arg-type]
        assert row[3] == (f"{abs(more_kwh):.2f} kWh {'more' if more_kwh > 0 else 'less'}" if abs(more_kwh) >= 0.005
                          else "the same kWh")  # fmt: skip
    assert rows[-1][3] == f"+{days[1].wort.end_l - days[0].wort.end_l:.1f} L"
    assert headings(told(*pair).table("totals"), 0) == ["The day", "Opened", "Desk", "More or less"]
    assert headings(told(*pair).table("phases"), 0) == [
        "Step", "Phase", "Opened, kWh", "Desk, kWh", "Opened, EUR", "Desk, EUR", "Opened, min", "Desk, min",
        "Opened, A", "Desk, A",
    ]  # fmt: skip


def test_money_leads_energy_time_and_wort_follow(pair: tuple[Answer, Answer]) -> None:
    """Against the first, in one sentence."""
    first, second = pair
    assert first.price is not None
    assert second.price is not None
    dearer = second.price.total.total - first.price.total.total
    days = first.day, second.day
    assert words(told(*pair).headline) == (
        f"Against the plan as opened: {words(money_more(dearer))}, "
        f"{words(kwh_more(days[1].energy_kwh - days[0].energy_kwh))}, "
        f"{words(minutes_more((days[1].duration_s - days[0].duration_s) / 60))} and {days[1].wort.end_l:.1f} L of wort "
        f"instead of {days[0].wort.end_l:.1f} L."
    )


def test_a_step_that_only_the_second_plan_begins_with_stands_first(pair: tuple[Answer, Answer]) -> None:
    """A soak before the strike; a plan without it has blanks in its row."""
    demo = read_plan("demo")
    soak = Step(name="Soak", target_c=30.0, hold_s=600.0)
    rows = phases(pair[0], answered(demo.model_copy(update={"steps": (soak, *demo.steps)})))
    assert [(row["step"], row["phase"]) for row in rows[:3]] == [("Soak", "ramp"), ("Soak", "hold"), ("Strike", "ramp")]
    assert [rows[0][f"first_{key}"] for key in ("kwh", "cost", "min", "a")] == [None] * 4


@pytest.mark.parametrize(
    ("error", "told"),
    [
        (None, ""), (BrewDayError("it stalls"), "it stalls"), (BrewDayError(), ""),
        (PlanError("bad", (Problem(where="[batch] grain", message="too much"), Problem(where="b", message="c"))),
         "[batch] grain: too much"),
    ],
)  # fmt: skip
def test_a_refusal_is_its_first_problem(error: EnergyPlanError | None, told: str) -> None:
    """Or its message; nothing where there is none."""
    assert words(refusal(error)) == told


def test_a_course_keeps_its_corners() -> None:
    """Of a thousand points at most three hundred, the highest among them, under the name of its day."""
    times_s = np.arange(1000.0) * 60
    heights_c = np.full(1000, 20.0)
    heights_c[500] = 90.0
    rows = courses_table([(WORD("one"), times_s, heights_c)]).rows
    assert len(rows) <= 300
    assert max(rows, key=lambda row: row[2])[1:] == (500.0, 90.0)


def test_the_largest_current_of_a_phase_is_that_of_its_own_time() -> None:
    """Steps that only touch its border are another phase's; without a circuit, or without a step, it is blank."""
    stretches = (("Strike", 0.0, 600.0), ("Mash", 600.0, 1200.0), ("Late", 1200.0, 1800.0))
    phases = tuple(
        Given(step=step, phase="ramp", start_s=start_s, end_s=end_s, duration_s=600.0, energy_j=7.2e6)
        for step, start_s, end_s in stretches
    )
    day = day_of(phases=phases)
    circuit = Given(edges_s=np.array([0.0, 300, 600, 900, 1200]), on_a=np.array([1.0, 5.0, 2.0, 3.0]), peak_a=5.0)
    first: Any = Begun(day=day, price=None, circuit=circuit)
    rows = list(told(first, Begun(day=day, price=None, circuit=None)).table("phases"))  # type: ignore[arg-type]
    assert [(row["first_a"], row["second_a"]) for row in rows] == [(5.0, None), (3.0, None), (None, None)]
    assert [(row["first_kwh"], row["first_min"], row["first_cost"]) for row in rows] == [(2.0, 10.0, None)] * 3
