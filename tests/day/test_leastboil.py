"""The lowest power that was seen to keep a boil, as what it says of the open surface."""

import pytest

from energyplan.advice.boil import boil_power
from energyplan.advice.variants import with_hold_caps
from energyplan.base.errors import BrewDayError
from energyplan.day.brewday import simulate
from energyplan.day.kettle import open_surface_factor
from energyplan.plan.file import read_plan
from energyplan.plan.model import Plan


def seen(name: str, least_w: float) -> Plan:
    """A packaged plan whose vessel was seen to boil from a power on."""
    plan = read_plan(name)
    return plan.model_copy(update={"vessel": plan.vessel.model_copy(update={"least_boil_w": least_w})})


def test_nothing_seen_changes_nothing() -> None:
    """The factor is 1."""
    assert open_surface_factor(read_plan("demo")) == 1.0


@pytest.mark.parametrize("name", ["demo", "lakeside"])
@pytest.mark.parametrize("least_w", [1500.0, 1700.0, 1900.0])
def test_the_lowest_boiling_power_is_the_one_seen(name: str, least_w: float) -> None:
    """Within 1 % (0.6 % seen: the level before the boil is worked out from the batch alone)."""
    plan = seen(name, least_w)
    assert boil_power(simulate(plan), "Boil").least_w == pytest.approx(least_w, rel=0.01)


def test_a_boil_rolls_above_and_stops_below() -> None:
    """Seen to roll from 1600 W on, it rolls at 1700 W and stops at 1500 W."""
    plan = seen("demo", 1600.0)
    rolls, stops = (simulate(with_hold_caps(plan, {"Boil": power_w})) for power_w in (1700.0, 1500.0))
    ends = [next(phase for phase in day.phases if phase.phase == "boil") for day in (rolls, stops)]
    assert ends[0].to_c == ends[0].from_c
    assert ends[1].to_c < ends[1].from_c


def test_it_says_nothing_of_the_dry_loss() -> None:
    """The boil's own steam is heat above the dry loss, whatever the surface evaporates below the boil."""
    low, high = (simulate(seen("demo", least_w)) for least_w in (1500.0, 1900.0))
    boils = [next(phase for phase in day.phases if phase.phase == "boil") for day in (low, high)]
    assert boils[0].evaporated_kg == pytest.approx(boils[1].evaporated_kg, rel=5e-3)


def test_its_range_is_narrower() -> None:
    """With it the lowest boiling power lies closer than without."""
    spans = [boil_power(simulate(plan), "Boil").least_range_w for plan in (read_plan("demo"), seen("demo", 1690.0))]
    assert spans[1][1] - spans[1][0] < spans[0][1] - spans[0][0]


def test_less_than_the_dry_loss_is_refused() -> None:
    """A power that hardly covers walls and surface can't have boiled anything."""
    with pytest.raises(BrewDayError, match=r"\[vessel\] least_boil: 350 W hardly covers"):
        simulate(seen("demo", 350.0))
