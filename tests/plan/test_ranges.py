"""Notes beyond a relation's range, and elements whose heat leaves downwards."""

import pytest

from energyplan.day.brewday import simulate
from energyplan.day.slips import DayNote
from energyplan.plan.file import demo_plans, parse_plan

DEMO = demo_plans()["demo"]


@pytest.mark.parametrize(
    ("old", "new", "note"),
    [
        ('air = "11 degC"', 'air = "-5 degC"', "air beyond"),
        ('height = "48 cm"', 'height = "70 cm"', "vessel beyond"),
        ("humidity = 0.7", 'humidity = 0.7\ndraught = "18 m/s"', "draught beyond"),
        ("grain_moisture = 0.04", "grain_moisture = 0.1", "moisture beyond"),
    ],
)
def test_a_relation_beyond_its_range_is_told(old: str, new: str, note: DayNote) -> None:
    """Outside the range a note explains what it means; within it there is none."""
    covered = DEMO.replace("boil = true", 'boil = true\nlid = "on"')  # an open boil stalls in a gale
    assert old in covered
    assert note not in simulate(parse_plan(covered)).notes
    assert note in simulate(parse_plan(covered.replace(old, new))).notes


def test_an_element_under_the_base_heats_slower_for_the_same_power() -> None:
    """With 90 % of the heat inwards the first ramp draws the same power and takes more than a ninth longer."""
    loses = DEMO.replace('surface = "420 cm2"', 'surface = "420 cm2"\nshare_into_water = 0.9').replace(
        'surface = "240 cm2"', 'surface = "240 cm2"\nshare_into_water = 0.9'
    )
    whole, lossy = (simulate(parse_plan(text)).phases[0] for text in (DEMO, loses))
    assert lossy.mean_w == pytest.approx(whole.mean_w, rel=1e-9)
    assert 1 / 0.9 < lossy.duration_s / whole.duration_s < 1.13
    assert simulate(parse_plan(loses)).balance_error < 1e-9
