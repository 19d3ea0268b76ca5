"""What a visitor types is saved as it was typed, whatever unit, as long as the plan still says that."""

import json
import tomllib
from collections.abc import Callable
from typing import Any

from energyplan.app.editing import typed_after, with_entries
from energyplan.app.storage import day_read, day_text
from energyplan.base.units import VOLUME, read_quantity
from energyplan.plan.file import parse_plan, read_plan
from energyplan.plan.writing import plan_spelled

Open = Callable[..., Any]


def saved(there: Any) -> dict[str, Any]:
    """The plan's file and its brewery's, as tables."""
    return {
        key: one for name in there.work.file_names for key, one in tomllib.loads(there.work.file_text(name)).items()
    }


def test_gallons_are_saved_as_gallons(visit: Open) -> None:
    """Not as 26.497882488 L; what nobody touched stays as it stood."""
    there = visit()
    there.work.enter(("batch", "water"), "7 gal")
    there.work.enter(("vessel", "diameter"), "14,25 in")
    found = saved(there)
    assert (found["batch"]["water"], found["vessel"]["diameter"]) == ("7 gal", "14,25 in")
    assert found["vessel"]["height"] == "48 cm"
    assert there.work.plan.batch.water_l == read_quantity("7 gal", VOLUME)


def test_steps_keep_what_was_typed_also_when_they_move(visit: Open) -> None:
    """A cell of the list of steps, then the step one up, then a value by the program."""
    work = visit().work
    rows = [dict(row) for row in tomllib.loads(plan_spelled(work.plan))["step"]]
    place = next(place for place, row in enumerate(rows) if row["name"] == "Saccharification")
    rows[place]["target"] = "152 °F"
    assert work.enter(("step",), rows)
    assert tomllib.loads(work.file_text(work.day.name))["step"][place]["target"] == "152 °F"
    rows.insert(0, {"name": "Warm", "target": "30 degC"})
    assert work.enter(("step",), rows)
    found = tomllib.loads(work.file_text(work.day.name))["step"]
    assert [row["target"] for row in found if row["name"] == "Saccharification"] == ["152 °F"]
    assert [row["hold"] for row in found if row["name"] == "Saccharification"] == ["60 min"]
    steps = [step.model_copy(update={"target_c": 66.0}) if step.name == "Saccharification" else step
             for step in work.plan.steps]  # fmt: skip
    work.replace(work.plan.model_copy(update={"steps": tuple(steps)}))
    after = [row.get("target") for row in tomllib.loads(work.file_text(work.day.name))["step"]]
    assert "152 °F" not in after
    assert parse_plan(plan_spelled(work.plan, work.day.typed)) == work.plan


def test_a_step_back_a_reload_and_another_plan(visit: Open) -> None:
    """Undo brings the text before back; the browser keeps it; a day that is opened brings its own."""
    work = visit().work
    work.enter(("batch", "water"), "7 gal")
    work.enter(("batch", "water"), "28 L")
    assert work.file_text(work.day.name).count("28 L")
    work.undo()
    assert "7 gal" in work.file_text(work.day.name)
    again = day_read(day_text(work.day))
    assert again == work.day
    older = json.loads(day_text(work.day))
    del older["day"]["typed"]
    assert day_read(json.dumps(older)).typed == ()
    opened = visit().work
    assert opened.day.typed == ()


def test_only_what_still_says_the_value_is_kept() -> None:
    """A text is dropped with its value."""
    plan = with_entries(read_plan("demo"), {("batch", "water"): "7 gal"})
    typed = typed_after((), plan, {("batch", "water"): "7 gal"})
    assert typed == ((("batch", "water"), "7 gal"),)
    assert typed_after(typed, read_plan("demo"), {}) == ()


def test_what_is_done_before_a_step_is_saved_as_typed(visit: Open) -> None:
    """Gallons and Fahrenheit inside a sentence of the file, too; other steps keep theirs."""
    work = visit().work
    rows = [dict(row) for row in tomllib.loads(plan_spelled(work.plan))["step"]]
    water = next(row for row in rows if any("add water" in text for text in row.get("before", ())))
    water["before"] = ["empty", "add water: 3 gal at 54 °F"]
    assert work.enter(("step",), rows)
    found = next(row for row in tomllib.loads(work.file_text(work.day.name))["step"] if row["name"] == water["name"])
    assert found["before"] == ["empty", "add water: 3 gal at 54 °F"]
    assert day_read(day_text(work.day)) == work.day
