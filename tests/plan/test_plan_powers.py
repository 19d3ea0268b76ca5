"""Powers of switched elements: what a plan may ask for."""

from types import ModuleType

import pytest

from energyplan.day.brewday import simulate
from energyplan.plan.model import Element, Plan, Step


def _switched(builders: ModuleType, step: Step) -> Plan:
    pair = tuple(Element(power_w=power_w, voltage_v=230.0) for power_w in (1500.0, 1000.0))
    return Plan(vessel=builders.vessel(elements=pair, control="switched"), batch=_batch(builders), steps=(step,))


def _batch(builders: ModuleType) -> object:
    return builders.water_plan(Step(name="Heat", target_c=30.0)).batch


def test_switched_elements_may_rest_in_a_hold(builders: ModuleType) -> None:
    """A hold of 0 W has every element off: only the pump draws, and the water cools."""
    day = simulate(_switched(builders, Step(name="Rest", target_c=60.0, hold_s=3600.0, hold_power_w=0.0)))
    hold = day.phases[-1]
    assert (hold.phase, hold.element_j, hold.heater_w_per_v2) == ("hold", 0.0, 0.0)
    assert hold.to_c < 60.0


@pytest.mark.parametrize("powers", [{"ramp_power_w": 0.0}, {"hold_power_w": 500.0}, {"ramp_power_w": 900.0}])
def test_less_than_the_smallest_element_is_refused(builders: ModuleType, powers: dict[str, float]) -> None:
    """A ramp without elements never arrives, and half an element can't be switched."""
    with pytest.raises(ValueError, match="least that can be on is 1000 W"):
        _switched(builders, Step(name="Rest", target_c=60.0, hold_s=60.0, **powers))
