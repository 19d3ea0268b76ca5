"""Tests of files that visitors hand in: plans, tariffs, logs; sound ones, and every kind of wrong one."""

from collections.abc import Callable
from importlib.resources import files
from typing import Any

import pytest

from energyplan.app.editing import plan_tables
from energyplan.app.rows import STEPS, cells, edited
from energyplan.base.units import MASS, read_quantity
from energyplan.learning.logfile import demo_logs
from energyplan.plan.file import demo_plans, read_plan
from energyplan.tariffs.tarifffile import packaged_tariffs

Open = Callable[..., Any]
PRICED = """
[tariff]
name = "Hourly"
currency = "EUR"
price_unit = "ct/kWh"
time_zone = "Europe/Dublin"
prices_include_tax = true

[tariff.prices]
file = "prices.csv"
step_minutes = 60
"""


def hand_in(there: Any, key: str, *given: tuple[str, str | bytes]) -> Any:
    """Give files to an uploader."""
    uploads = [(name, text.encode() if isinstance(text, str) else text, "text/plain") for name, text in given]
    uploader = there.at.file_uploader(key=key)
    uploader.set_value(uploads)
    return there.run()


def test_a_plan_file_is_opened(visit: Open) -> None:
    """The plan of the file lies on the desk, all of it its writer's."""
    there = hand_in(visit(), "plan_file", ("mine.toml", demo_plans()["lakeside"]))
    assert there.work.plan == read_plan("lakeside")
    assert not there.work.is_changed


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("", "empty"),
        ("title = ", "not valid TOML"),
        ('[vessel]\ndiamter = "36 cm"', 'did you mean "diameter"'),
        (b"\xff\xfe\x00", "not a text file"),
        ('title = "x"\n' * 3, "TOML"),
    ],
)
def test_a_wrong_plan_file_is_named_and_leaves_the_desk_alone(visit: Open, content: Any, said: str) -> None:
    """What is wrong, where, and how to mend it; no traceback."""
    there = hand_in(visit(), "plan_file", ("mine.toml", content))
    assert said in there.words
    assert there.work.plan == read_plan("demo")


def test_a_tariff_file_is_opened(visit: Open) -> None:
    """Another tariff gives another cost."""
    text = packaged_tariffs()["three_band"].read_text(encoding="utf-8")
    there = hand_in(visit(), "tariff_files", ("mine.toml", text))
    assert "Three bands" in there.words


def test_a_tariff_with_its_prices_is_opened_together(visit: Open) -> None:
    """The table and the series it names are handed in at once."""
    rows = "\n".join(f"2026-12-05T{hour:02d}:00Z,{10 + hour}" for hour in range(24))
    given = [("mine.toml", PRICED), ("prices.csv", f"start,price\n{rows}\n")]
    there = hand_in(visit(), "tariff_files", *given)
    assert "Hourly: price series" in there.words


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ([("mine.toml", PRICED)], "prices.csv"),
        ([("prices.csv", "start,price\n")], "0 TOML files"),
        ([("a.toml", PRICED), ("b.toml", PRICED)], "2 TOML files"),
        ([("mine.toml", "[tariff]\nname = 'x'")], "missing"),
    ],
)
def test_a_wrong_tariff_is_named_and_leaves_the_old_one(visit: Open, given: Any, said: str) -> None:
    """A missing series, no table, two tables, a table without its keys."""
    there = hand_in(visit(), "tariff_files", *given)
    assert said in there.words
    assert there.work.tariff.name == "two_rate"


def test_prices_that_end_before_the_day_say_so(visit: Open) -> None:
    """Stale prices: the day is answered without a cost, and every page says why and what to do."""
    rows = "\n".join(f"2026-12-01T{hour:02d}:00Z,10" for hour in range(24))
    there = hand_in(visit(), "tariff_files", ("mine.toml", PRICED), ("prices.csv", f"start,price\n{rows}\n"))
    assert there.headline.startswith("7.58 kWh, done at 13:46")
    for page in ("", "when", "circuit", "power", "side-by-side", "circuit-entries", "take-along"):
        assert "The prices don't reach this day" in there.go(page).words
        assert "EUR, done" not in there.headline
    assert "The prices don't reach this day" not in there.choose("tariff", "two_rate").words


def test_a_tariff_that_is_over_says_so(visit: Open) -> None:
    """After its last day there is no price, and the message has that day."""
    over = packaged_tariffs()["two_rate"].read_text(encoding="utf-8").replace(
        "[[tariff.band]]", "valid_to = 2026-11-30\n\n[[tariff.band]]", 1
    )  # fmt: skip
    there = hand_in(visit(), "tariff_files", ("mine.toml", over))
    assert "The prices don't reach this day" in there.words
    assert "2026-11-30" in there.words
    assert "done at 13:46" in there.headline


def test_a_log_is_read(visit: Open) -> None:
    """The invented cool-down, handed in as a file."""
    there = hand_in(visit("your-vessel"), "log_file", ("cool.csv", demo_logs()["cool-down"]))
    assert there.headline.startswith("Measured: ")


@pytest.mark.parametrize("content", ["", "a,b\n1,2\n", "time,temperature_c\n0,x\n", b"\xff\x00"])
def test_a_wrong_log_is_named(visit: Open, content: Any) -> None:
    """Empty, other columns, words for numbers, no text."""
    there = hand_in(visit("your-vessel"), "log_file", ("log.csv", content))
    assert there.headline == "This log can't be used as it is."


def test_the_mark_is_packaged() -> None:
    """The picture beside the title comes with the program."""
    assert (files("energyplan") / "app" / "mark.svg").is_file()


def test_a_plan_comes_with_its_brewery(visit: Open) -> None:
    """Both files at once: merged; the plan alone says which file is missing."""
    folder = files("energyplan") / "demo"
    day = (folder / "demo.toml").read_text(encoding="utf-8").replace("demo-brewery", "garage")
    garage = (folder / "demo-brewery.toml").read_text(encoding="utf-8").replace('air = "11 degC"', 'air = "7 degC"')
    there = hand_in(visit(), "plan_file", ("garage.toml", garage), ("mine.toml", day))
    assert there.work.plan.site.air_c == 7.0
    alone = hand_in(visit(), "plan_file", ("mine.toml", day))
    assert alone.work.plan == read_plan("demo")
    assert "hand in garage.toml together with it" in alone.words


def test_an_addition_keeps_what_it_weighs(visit: Open) -> None:
    """Written into a cell and read back, in either system of units."""
    rows = plan_tables(read_plan("pale-ale"))["step"]
    boil = next(place for place, row in enumerate(rows) if row.get("boil"))
    for system in ("metric", "us"):
        text = cells(rows, STEPS, system)[boil]["addition"]
        again = edited(rows, STEPS, {"edited_rows": {boil: {"addition": text}}})
        sugar = again[boil]["addition"][1]
        assert sugar["kind"] == "sugar"
        assert read_quantity(sugar["mass"], MASS) == pytest.approx(0.4, rel=0.02)
