"""The table of hours, and the month's use: read, refused, written back."""

import pytest

from energyplan.base.errors import PlanError
from energyplan.plan.file import demo_plans, parse_plan, plan_to_toml

DEMO = demo_plans()["demo"]


def with_table(text: str):
    """The demo with a table at its end."""
    return parse_plan(f"{DEMO}\n{text}\n")


def test_hours_are_read_and_written_back() -> None:
    """Each key, and the same plan again from its own text."""
    plan = with_table(
        '[hours]\nearliest = "07:00"\ndone_by = "22:00"\nsomebody_there = ["06:00", "23:00"]\nnot_on = ["sun"]'
    )
    assert plan.hours.earliest_min == 420
    assert plan.hours.done_by_min == 1320
    assert plan.hours.somebody_there_min == (360, 1380)
    assert plan.hours.not_on == ("sun",)
    assert parse_plan(plan_to_toml(plan)) == plan
    assert parse_plan(DEMO).hours.somebody_there_min is None


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ('[hours]\nearliest = "25:00"', "[hours] earliest"),
        ('[hours]\nearliest = "24:00"', 'write "00:00"'),
        ('[hours]\nsomebody_there = ["08:00", "08:00"]', "the same time"),
        ('[hours]\nsomebody_there = ["08:00"]', "[hours] somebody_there"),
        ('[hours]\nnot_on = ["someday"]', "[hours] not_on"),
        ('[hours]\nnot_on = ["mon","tue","wed","thu","fri","sat","sun"]', "every day of the week"),
        ("[supply]\nmonth_kwh_so_far = -3", "month_kwh_so_far"),
        ('[supply]\nmonth_kwh_so_far = "3 kg"', "month_kwh_so_far"),
    ],
)
def test_hours_that_make_no_sense(table: str, said: str) -> None:
    """Each names the key."""
    with pytest.raises(PlanError) as caught:
        with_table(table)
    assert said in str(caught.value)


@pytest.mark.parametrize("written", ["310", '"310 kWh"', '"310000 Wh"'])
def test_the_months_use(written: str) -> None:
    """A number of kWh, as its key says, or an energy with its unit."""
    plan = with_table(f"[supply]\nmonth_kwh_so_far = {written}")
    assert plan.supply is not None
    assert plan.supply.month_kwh_so_far == pytest.approx(310)
