"""Tests of lists as tables to edit: what was not touched stays exact, what was is read with its unit."""

from typing import Any

import pytest

from energyplan.app.editing import entry_of, plan_tables, with_entries, with_entry
from energyplan.app.entries import CELSIUS, CM, MINUTES, WIRE, shown_unit, written
from energyplan.app.pieces import plain
from energyplan.app.rows import ELEMENTS, LOADS, STEPS, cells, edited, edited_so_far, moved
from energyplan.base.errors import PlanError
from energyplan.base.units import read_quantity
from energyplan.plan.file import read_plan
from energyplan.plan.model import Plan


@pytest.fixture
def demo() -> Plan:
    """The demo plan."""
    return read_plan("demo")


def rows_of(plan: Plan, *path: str) -> list[Any]:
    """Rows of a list of the plan's file."""
    found = entry_of(plan_tables(plan), path)
    assert isinstance(found, list)
    return found


def test_no_change_is_the_same_plan(demo: Plan) -> None:
    """Rows that nobody touched give the same plan, for every list."""
    for table in (STEPS, ELEMENTS, LOADS):
        assert with_entry(demo, table.path, edited(rows_of(demo, *table.path), table, {})) == demo


@pytest.mark.parametrize("system", ["metric", "us"])
def test_untouched_cells_keep_their_value_beside_a_touched_one(demo: Plan, system: Any) -> None:
    """Changing a hold leaves the target of the same row exact, though it is shown rounded."""
    rows = rows_of(demo, "step")
    assert cells(rows, STEPS, system)[1]["hold"] == "60 min"
    after = with_entry(demo, ("step",), edited(rows, STEPS, {"edited_rows": {1: {"hold": "45 min"}}}))
    assert after.steps[1].hold_s == 2700.0
    assert after.steps[1].target_c == demo.steps[1].target_c


def test_rows_are_added_and_deleted(demo: Plan) -> None:
    """A new row goes to the end, a deleted one is gone; a row without a name gets one."""
    rows = rows_of(demo, "step")
    place = [row["name"] for row in rows].index("Cleaning")
    change = {"added_rows": [{"target": "50 °C", "hold": "5 min"}], "deleted_rows": [place], "edited_rows": {}}
    names = [row["name"] for row in edited(rows, STEPS, change)]
    assert "Cleaning" not in names
    assert names[-1] == f"Step {len(rows)}"


def test_an_empty_new_row_is_no_row(demo: Plan) -> None:
    """The row that the browser adds before anything is typed changes nothing."""
    rows = rows_of(demo, "step")
    assert edited(rows, STEPS, {"added_rows": [{}]}) == rows


def test_boil_and_target_exclude_each_other(demo: Plan) -> None:
    """The word boil takes the place of a temperature, and the other way round."""
    rows = edited(rows_of(demo, "step"), STEPS, {"edited_rows": {0: {"target": "boil"}, 5: {"target": "90 °C"}}})
    assert (rows[0].get("boil"), rows[0].get("target")) == (True, None)
    assert (rows[5].get("boil"), rows[5].get("target")) == (None, "90 °C")


def test_actions_and_additions_are_read_from_text(demo: Plan) -> None:
    """Both are lists parted by semicolons."""
    change = {
        "edited_rows": {
            5: {"addition": "Hops at 50 min; Moss at 15 min"},
            6: {"before": "empty; add water: 10 L at 20 °C"},
        }
    }
    after = with_entry(demo, ("step",), edited(rows_of(demo, "step"), STEPS, change))
    assert [(one.name, one.left_s) for one in after.steps[5].additions] == [("Hops", 3000.0), ("Moss", 900.0)]
    assert after.steps[6].before[1].volume_l == 10.0


def test_an_addition_without_its_time_is_refused(demo: Plan) -> None:
    """The message shows how it is written."""
    with pytest.raises(PlanError, match="Bittering hops at 60 min"):
        edited(rows_of(demo, "step"), STEPS, {"edited_rows": {5: {"addition": "Hops"}}})


@pytest.mark.parametrize(("typed", "share"), [("0,4", 0.4), ("0.4", 0.4), ("40 %", 0.4), ("40%", 0.4), ("1", 1.0)])
def test_a_share_takes_a_comma_and_percent(demo: Plan, typed: str, share: float) -> None:
    """As people write it."""
    rows = edited(rows_of(demo, "other_load"), LOADS, {"edited_rows": {0: {"duty": typed}}})
    assert with_entry(demo, LOADS.path, rows).other_loads[0].duty == share


BARE = [(table, column) for table in (STEPS, ELEMENTS, LOADS) for column in table.columns if column.writing]


@pytest.mark.parametrize("system", ["metric", "us"])
@pytest.mark.parametrize(("table", "column"), BARE, ids=lambda one: getattr(one, "key", ""))
def test_a_bare_number_in_a_cell_takes_its_column_s_unit(demo: Plan, table: Any, column: Any, system: Any) -> None:
    """As in every other field: what the column shows, with a comma too."""
    assert column.writing is not None
    rows, unit = rows_of(demo, *table.path), shown_unit(column.writing, system)
    with_it = edited(rows, table, {"edited_rows": {0: {column.key: f"60.5 {unit}"}}}, system)
    assert edited(rows, table, {"edited_rows": {0: {column.key: "60,5"}}}, system) == with_it
    assert edited(rows, table, {"added_rows": [{column.key: "60,5"}]}, system)[-1][column.key] == f"60.5 {unit}"
    assert read_quantity(with_it[0][column.key], column.writing.kind)


def test_minutes_of_an_addition_need_no_unit(demo: Plan) -> None:
    """Hops at 60, as brewers say it."""
    change = {"edited_rows": {5: {"addition": "Hops at 50; Moss at 15 min"}}}
    after = with_entry(demo, ("step",), edited(rows_of(demo, "step"), STEPS, change))
    assert [one.left_s for one in after.steps[5].additions] == [3000.0, 900.0]


@pytest.mark.parametrize("duty", ["half", "nan", "1e308", "-1", "45", "140 %"])
def test_a_duty_is_a_share(demo: Plan, duty: str) -> None:
    """Words, NaN and numbers beyond 0 to 1 are refused."""
    change = {"edited_rows": {0: {"duty": duty}}}
    with pytest.raises(PlanError):
        with_entry(demo, LOADS.path, edited(rows_of(demo, "other_load"), LOADS, change))


def test_problems_of_a_row_name_it(demo: Plan) -> None:
    """A step that does nothing is named."""
    change = {"edited_rows": {0: {"target": "", "hold": ""}}}
    with pytest.raises(PlanError) as caught:
        with_entry(demo, ("step",), edited(rows_of(demo, "step"), STEPS, change))
    assert "Strike" in str(caught.value.problems[0].where)


def test_no_elements_are_refused(demo: Plan) -> None:
    """A vessel keeps at least one element."""
    with pytest.raises(PlanError, match="element"):
        with_entry(demo, ELEMENTS.path, [])


def test_all_other_loads_can_go(demo: Plan) -> None:
    """An empty list is no list."""
    assert with_entry(demo, LOADS.path, []).other_loads == ()


def test_an_emptied_table_is_taken_out(demo: Plan) -> None:
    """Without its power and step there is no second heater."""
    without = with_entry(demo.model_copy(update={"second_heater": None}), ("second_heater", "power"), None)
    assert without.second_heater is None


def test_entries_that_are_right_only_together_are_taken_together(demo: Plan) -> None:
    """American rules need an American curve and a column for the cable: one by one each is refused."""
    changes = {("circuit", "rules"): "nec", ("circuit", "breaker_curve"): "inverse", ("circuit", "installation"): "75"}
    for path, value in changes.items():
        with pytest.raises(PlanError):
            with_entry(demo, path, value)
    circuit = with_entries(demo, changes).circuit
    assert circuit is not None
    assert (circuit.rules, circuit.breaker_curve, circuit.installation) == ("nec", "inverse", "75")


def test_moving_stops_at_the_ends() -> None:
    """The first row can't go higher, the last not lower."""
    rows = [{"name": "a"}, {"name": "b"}, {"name": "c"}]
    assert moved(rows, 0, -1) == rows
    assert moved(rows, 2, 1) == rows
    assert [row["name"] for row in moved(rows, 2, -1)] == ["a", "c", "b"]


def test_quantities_are_written_in_each_system() -> None:
    """1 in is 2.54 cm (definition); 12 AWG is 3.31 mm2 (ASTM B258)."""
    assert written("0.254 m", CM, "us") == "10 in"
    assert written("66.66666 degC", CELSIUS, "us") == "152 °F"
    assert written("3600.0 s", MINUTES, "us") == "60 min"
    assert written("12 AWG", WIRE, "us") == "12 AWG"
    assert written("2.5 mm2", WIRE, "us") == "2.5 mm2"


def test_marks_of_markup_are_escaped() -> None:
    """Each mark that could begin something gets its backslash; lines are joined so that none begins a list."""
    assert plain("# a\n- b") == "\\# a - b"
    assert plain("- a at 13:46, 12.5 A (b)") == "\\- a at 13:46, 12.5 A (b)"
    assert plain("$x$ <b> :red[y]") == "\\$x\\$ \\<b\\> \\:red\\[y\\]"


def test_a_cell_that_can_t_be_read_leaves_the_others_alone(demo: Plan) -> None:
    """Half an addition beside a new hold and a new row: both are taken, and what is wrong is told."""
    change = {
        "edited_rows": {5: {"addition": "Hops", "hold": "80"}},
        "added_rows": [{"target": "50", "addition": "Moss"}],
        "deleted_rows": [3],
    }
    rows = rows_of(demo, "step")
    after, error = edited_so_far(rows, STEPS, change, "metric")
    assert error is not None
    assert len(error.problems) == 2
    assert after[4]["hold"] == "80 min"
    assert after[4]["addition"] == rows[5]["addition"]
    assert after[-1]["target"] == "50 °C"
    assert len(after) == len(rows)


@pytest.mark.parametrize("text", ["5 kg", "400 °C", "soon", "1e308"])
def test_what_can_t_be_read_yet_is_shown_as_it_was_typed(demo: Plan, text: str) -> None:
    """In every column of every list, in both unit systems."""
    for table in (STEPS, ELEMENTS, LOADS):
        for column in table.columns:
            if not column.options and column.read is None:
                row = {**rows_of(demo, *table.path)[0], column.key: text}
                assert cells([row], table, "us")[0][column.key]
    additions = [{"name": "Hops", "left": text}]
    assert text in str(cells([{"name": "Boil", "boil": True, "addition": additions}], STEPS, "us")[0]["addition"])


def test_rows_that_wait_stand_in_the_table_after_a_page_was_turned(visit: Any) -> None:
    """A target that no water reaches, and a hold typed beside it, are there to be mended."""
    there = visit("batch")
    rows = [dict(row) for row in rows_of(there.work.plan, "step")]
    rows[1] |= {"target": "400 degC", "hold": "75 min"}
    assert not there.work.enter(("step",), rows)
    there.go("when")
    there.go("batch")
    assert "Not taken over" in there.words
    shown = there.at.session_state["begun_step"][1]
    assert (shown[1]["target"], shown[1]["hold"]) == ("400 degC", "75 min")
    rows[1]["target"] = "66 degC"
    assert there.work.enter(("step",), rows)
    there.go("when")
    there.go("batch")
    assert there.at.session_state["begun_step"][1] == rows_of(there.work.plan, "step")


def test_what_did_not_change_is_the_same_object(demo: Plan) -> None:
    """A step back keeps a whole plan; it takes little room because the plans share all that is alike."""
    after = with_entry(demo, ("vessel", "diameter"), "37 cm")
    assert after.vessel != demo.vessel
    assert after.vessel.elements is demo.vessel.elements
    assert all(getattr(after, name) is was for name, was in demo if name != "vessel")
    rows = rows_of(demo, "step")
    longer = with_entry(demo, ("step",), edited(rows, STEPS, {"edited_rows": {1: {"hold": "45 min"}}}))
    assert [now is was for now, was in zip(longer.steps, demo.steps, strict=True)].count(False) == 1
    fewer = with_entry(demo, ("step",), edited(rows, STEPS, {"deleted_rows": [len(rows) - 1]}))
    assert len(fewer.steps) == len(demo.steps) - 1
    assert fewer.steps[0] is demo.steps[0]
