"""What people do beside the vessel: usual tasks, the plan's own, and the file that names them."""

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from energyplan.base.errors import PlanError
from energyplan.day.tasks import tasks_of, usual_tasks, wort_steps
from energyplan.plan.file import demo_plans, parse_plan, plan_to_toml, read_plan
from energyplan.plan.model import Action, Plan, Step, Task

LEAST = """
[vessel]
diameter = "36 cm"
height = "48 cm"
[[vessel.element]]
power = "2500 W"
voltage = "230 V"
[batch]
water = "20 L"
water_temperature = "15 degC"
[[step]]
name = "Wash"
target = "60 degC"
hold = "20 min"
"""
TASK = """
[[task]]
name = "Lay out the hoses"
at_step = "Wash"
when = "before"
takes = "15 min"
attended = false
"""


def test_usual_tasks_of_a_whole_day():
    """Setting up and milling before, stirring in, draining, chilling in its pause, rinsing after the cleaning step."""
    found = [(task.name, task.at_step, task.when, task.takes_s / 60) for task in usual_tasks(read_plan("demo"))]
    assert found == [
        ("Set up and fill the vessel", "Strike", "before", 15.0),  # times: common practice, no source
        ("Mill the grain", "Strike", "before", 20.0),
        ("Stir the grain in", "Saccharification", "during", 8.0),  # the plan's pause
        ("Lift, drain and sparge", "Sparge", "during", 20.0),  # the plan's pause
        ("Chill the wort and draw it off", "Chill", "during", 30.0),  # the plan's pause
        ("Rinse and put away", "Cleaning", "after", 15.0),
    ]


def test_without_a_cleaning_step_people_chill_and_clean_after_the_last_step(builders):
    """One after the other, both after the boil."""
    found = [(task.name, task.at_step, task.when) for task in usual_tasks(builders.mash_plan())]
    assert found[-2:] == [
        ("Chill the wort and draw it off", "Boil", "after"), ("Clean and put away", "Boil", "after"),
    ]  # fmt: skip


def test_a_hop_stand_comes_before_the_chilling(builders):
    """Chilling follows the last step of the wort, not the boil."""
    plan = builders.mash_plan()
    stand = Step(name="Hop stand", target_c=80.0, hold_s=1200.0)
    plan = plan.model_copy(update={"steps": (*plan.steps, stand)})
    chill = next(task for task in usual_tasks(plan) if task.name.startswith("Chill"))
    assert (chill.at_step, chill.when) == ("Hop stand", "after")


def test_water_alone_is_not_milled_and_not_chilled(builders):
    """A wash of water has neither grain nor wort."""
    names = [task.name for task in usual_tasks(builders.water_plan(Step(name="Wash", target_c=60.0)))]
    assert names == ["Set up and fill the vessel", "Clean and put away"]


def test_a_boil_of_cleaning_water_is_no_boil_of_wort():
    """The wort's steps end where the vessel is emptied after the mash; rinsing before it doesn't end them."""
    plan = read_plan("demo")
    assert [step.name for step in wort_steps(plan)][-2:] == ["Boil", "Chill"]
    fresh = Action(kind="add water", volume_l=27.0, temperature_c=12.0)
    rinse = Step(name="Rinse", before=(Action(kind="empty"), fresh), target_c=20.0)
    warmed = Step(name="Warm", target_c=15.0)
    rinsed = plan.model_copy(update={"steps": (warmed, rinse, *plan.steps)})
    assert [step.name for step in wort_steps(rinsed)][-1] == "Chill"


def test_a_plans_own_tasks_replace_the_usual_ones():
    """With one [[task]] in the file, that is all."""
    plan = parse_plan(LEAST + TASK)
    assert [task.name for task in tasks_of(plan)] == ["Lay out the hoses"]
    task = plan.tasks[0]
    assert (task.takes_s, task.when, task.attended) == (900.0, "before", False)


def test_a_task_of_a_step_left_out_is_left_out():
    """Variants of a plan drop steps without asking; their tasks go with them."""
    plan = read_plan("lakeside")
    shorter = plan.model_copy(update={"steps": tuple(step for step in plan.steps if step.name != "Drain")})
    left = {task.at_step for task in tasks_of(shorter)}
    assert "Drain" not in left
    assert "Boil" in left


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (('at_step = "Wash"', 'at_step = "Bake"'), 'no step has that name; the steps are "Wash"'),
        (('takes = "15 min"', 'takes = "0 min"'), "takes"),
        (('takes = "15 min"', "takes = 15"), "a unit is due"),
        (('takes = "15 min"', 'takes = "3 kg"'), "no duration"),
        (('when = "before"', 'when = "meanwhile"'), "'before', 'during' or 'after'"),
        (("attended = false", "alone = true"), "unknown key"),
    ],
)
def test_mistakes_in_a_task_are_named(change, said):
    """The message names the table and what was expected."""
    with pytest.raises(PlanError) as caught:
        parse_plan(LEAST + TASK.replace(*change), source="wash.toml")
    assert "[[task]]" in str(caught.value)
    assert said in str(caught.value)


def test_two_tasks_of_one_name_are_refused():
    """Each has its own name, so that people can tell them apart."""
    with pytest.raises(PlanError, match="two tasks have this name"):
        parse_plan(LEAST + TASK + TASK)


def test_elements_above_the_rim_are_refused():
    """How high the elements reach is measured inside the vessel."""
    with pytest.raises(PlanError, match="above the rim"):
        parse_plan(LEAST.replace('height = "48 cm"', 'height = "48 cm"\nelement_top = "60 cm"'))


def made(**fields: Any) -> Task:
    """A task by the names of its fields (hypothesis would take the file's keys)."""
    return Task(**fields)


@given(
    st.lists(
        st.builds(
            made,
            name=st.text("abcdefgh", min_size=1, max_size=8),
            at_step=st.sampled_from(["Strike", "Boil", "Cleaning"]),
            when=st.sampled_from(["before", "during", "after"]),
            takes_s=st.integers(1, 240).map(lambda minutes: 60.0 * minutes),
            attended=st.booleans(),
        ),
        max_size=6,
        unique_by=lambda task: task.name,
    )
)
@settings(max_examples=25)
def test_tasks_survive_the_file(tasks):
    """Written as TOML and read back, a plan has the same tasks."""
    plan = Plan.model_validate({**dict(read_plan("demo")), "tasks": tuple(tasks)})
    assert parse_plan(plan_to_toml(plan)).tasks == tuple(tasks)


def test_the_packaged_plans_tasks_overlap_the_ramp_to_the_boil():
    """In the second packaged plan the basket drains while the elements heat: nothing waits for it."""
    plan = parse_plan(demo_plans()["lakeside"])
    drain = next(task for task in plan.tasks if "drain" in task.name)
    assert (drain.at_step, drain.when, drain.attended) == ("Towards the boil", "during", False)
