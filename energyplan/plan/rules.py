"""What a plan may not say although each of its values reads well: rules across tables and steps."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from energyplan.base.errors import Problem
from energyplan.physics.water import boiling_point_c, enthalpy_j_per_kg, pressure_at_altitude_pa

if TYPE_CHECKING:
    from energyplan.plan.model import Action, Circuit, Plan, Step

__all__ = ["broken_rules"]

# Wort a little above the boiling point of water is still a target that the boil reaches; above it is none.
BOILING_MARGIN_K = 0.05
WOUND_FAULT = 'an extension left wound has a smaller rating: enter "rating_wound", or unwind it'


def broken_rules(plan: "Plan") -> tuple[Problem, ...]:
    """List everything in a plan that contradicts itself or physics, in the order of the file."""
    return (
        *_batch_problems(plan),
        *_second_heater_problems(plan),
        *(_circuit_problems(plan.circuit) if plan.circuit else ()),
        *_line_problems(plan),
        *_house_problems(plan),
        *_name_problems(plan),
        *(problem for step in plan.steps for problem in _step_problems(plan, step)),
        *_content_problems(plan),
        *_task_problems(plan),
    )


def _where(step: "Step", key: str) -> str:
    return f'[[step]] "{step.name}" {key}'


MOST_HEATING_H = 24.0
AIR_C = (-40.0, 60.0)
GRAIN_C = (-30.0, 60.0)


def _batch_problems(plan: "Plan") -> Iterator[Problem]:
    batch = plan.batch
    yield from _liquid_problem(plan, "[batch] water_temperature", batch.water_temperature_c)
    yield from _liquid_problem(plan, "[batch] sparge_temperature", batch.sparge_temperature_c)
    yield from _range_problem("[batch] grain_temperature", batch.grain_temperature_c, GRAIN_C)
    yield from _range_problem("[site] air", plan.site.air_c, AIR_C)
    yield from _range_problem("[site] surroundings", plan.site.surroundings_c, AIR_C)
    if batch.water_l <= 0:
        yield Problem(where="[batch] water", value="0 L", message='a brew day needs water: "27 L"')


def _range_problem(where: str, value_c: float | None, limits_c: tuple[float, float]) -> Iterator[Problem]:
    if value_c is not None and not limits_c[0] <= value_c <= limits_c[1]:
        message = f"expected between {limits_c[0]:g} and {limits_c[1]:g} degC"
        yield Problem(where=where, value=f"{value_c:g} degC", message=message)


def _liquid_problem(plan: "Plan", where: str, value_c: float) -> Iterator[Problem]:
    limit_c = boiling_point_c(pressure_at_altitude_pa(plan.site.altitude_m))
    if not 0.0 <= value_c <= limit_c:
        message = f"water is liquid between 0 and {limit_c:.1f} degC here; enter a temperature between them"
        yield Problem(where=where, value=f"{value_c:g} degC", message=message)


def _second_heater_problems(plan: "Plan") -> Iterator[Problem]:
    heater = plan.second_heater
    if heater is None:
        return
    if heater.ready_at_step not in {step.name for step in plan.steps}:
        names = ", ".join(f'"{step.name}"' for step in plan.steps)
        yield Problem(
            where="[second_heater] ready_at_step",
            value=f'"{heater.ready_at_step}"',
            message=f"no step has that name; the steps are {names}",
        )
    if plan.batch.sparge_water_l <= 0:
        yield Problem(
            where="[second_heater]", message='it heats the sparge water, but [batch] has none: add sparge_water = "5 L"'
        )
    rise_j = enthalpy_j_per_kg(plan.batch.sparge_temperature_c) - enthalpy_j_per_kg(plan.batch.water_temperature_c)
    hours = plan.batch.sparge_water_l * max(float(rise_j), 0.0) / heater.share_into_water / heater.power_w / 3600
    if hours > MOST_HEATING_H:
        message = f"it would heat the sparge water for {hours:.0f} h; a heater that does it within a day is expected"
        yield Problem(where="[second_heater] power", value=f"{heater.power_w:g} W", message=message)


def _circuit_problems(circuit: "Circuit") -> Iterator[Problem]:
    curves = ("inverse",) if circuit.rules == "nec" else ("B", "C", "D")
    if circuit.breaker_curve is not None and circuit.breaker_curve not in curves:
        yield Problem(
            where="[circuit] breaker_curve",
            value=f'"{circuit.breaker_curve}"',
            message=f'with rules = "{circuit.rules}" expected {" or ".join(curves)}',
        )
    methods = ("60", "75", "90") if circuit.rules == "nec" else ("A", "B", "C", "E")
    if circuit.installation is not None and circuit.installation not in methods:
        yield Problem(
            where="[circuit] installation",
            value=f'"{circuit.installation}"',
            message=f'with rules = "{circuit.rules}" expected one of {", ".join(methods)}',
        )
    if circuit.extension and not circuit.extension.unwound and circuit.extension.rating_wound_a is None:
        yield Problem(where="[circuit] extension", value="unwound = false", message=WOUND_FAULT)


LINES = {"one phase": ("L1",), "split phase": ("L1", "L2"), "three phase": ("L1", "L2", "L3")}


def _line_problems(plan: "Plan") -> Iterator[Problem]:
    """Lines that the supply doesn't have, and windows of no length."""
    layout = plan.circuit.layout if plan.circuit else None
    there = (*LINES[layout], "all") if layout else ("L1", "L2", "L3", "all")
    lines = {"[circuit] line": plan.circuit.line if plan.circuit else None}
    lines |= {f'[[other_load]] "{load.name}" line': load.line for load in plan.other_loads}
    for where, line in lines.items():
        if line is not None and line not in there:
            yield Problem(where=where, value=f'"{line}"', message=f"a {layout} circuit has {', '.join(there)}")
    for table, loads in (("other_load", plan.other_loads), ("house_load", plan.house_loads)):
        for load in loads:
            if load.from_min == load.to_min:
                message = "from and to are the same time; leave both out for all day"
                yield Problem(where=f'[[{table}]] "{load.name}" from', message=message)


def _house_problems(plan: "Plan") -> Iterator[Problem]:
    supply, most_kg = plan.supply, plan.vessel.most_grain_kg
    if supply is not None and supply.contracted_w is None:
        for key, is_given in (
            ("contract_allows", supply.contract_allows_frac > 0),
            ("contract_allows_for", supply.contract_allows_for_s is not None),
        ):
            if is_given:
                message = 'it says what may pass the contract; add contracted_power = "3.3 kW"'
                yield Problem(where=f"[supply] {key}", message=message)
    if supply is not None and supply.contract_allows_for_s is not None and supply.contract_allows_frac == 0:
        message = 'it says how long an excess may last; add how much, such as contract_allows = "10 %"'
        yield Problem(where="[supply] contract_allows_for", message=message)
    if most_kg is not None and plan.batch.grain_kg > most_kg:
        message = f"the vessel takes {most_kg:g} kg of grain ([vessel] most_grain); brew twice, or with less"
        yield Problem(where="[batch] grain", value=f"{plan.batch.grain_kg:g} kg", message=message)


def _name_problems(plan: "Plan") -> Iterator[Problem]:
    seen: set[str] = set()
    for step in plan.steps:
        if step.name in seen:
            yield Problem(where=_where(step, "name"), message="two steps have this name; give each its own")
        seen.add(step.name)


def _step_problems(plan: "Plan", step: "Step") -> Iterator[Problem]:
    if step.boil and step.target_c is not None:
        yield Problem(
            where=_where(step, "target"), message="a boil needs no target (it is the boiling point); leave it out"
        )
    if not step.heats and step.pause_s <= 0:
        yield Problem(
            where=_where(step, "target"),
            message='the step does nothing: add a target, boil = true, or a pause such as "20 min"',
        )
    if not step.heats and step.hold_s > 0:
        yield Problem(
            where=_where(step, "hold"), message="nothing to hold without a target; write pause for a rest without heat"
        )
    yield from _target_problems(plan, step)
    yield from _addition_problems(step)
    yield from _power_problems(plan, step)


def _target_problems(plan: "Plan", step: "Step") -> Iterator[Problem]:
    if step.target_c is None:
        return
    limit_c = boiling_point_c(pressure_at_altitude_pa(plan.site.altitude_m)) + BOILING_MARGIN_K
    if step.target_c > limit_c:
        message = (
            f"water boils at {limit_c - BOILING_MARGIN_K:.1f} degC at this altitude; aim lower, or write boil = true"
        )
        yield Problem(where=_where(step, "target"), value=f"{step.target_c:g} degC", message=message)
    if step.target_c < 0.0:
        message = "that is below freezing; aim above 0 degC"
        yield Problem(where=_where(step, "target"), value=f"{step.target_c:g} degC", message=message)


def _addition_problems(step: "Step") -> Iterator[Problem]:
    for addition in step.additions:
        where = f'{_where(step, "addition")} "{addition.name}" left'
        if not step.boil:
            yield Problem(where=where, message="additions count down in a boil; this step is none (boil = true)")
        elif addition.left_s > step.hold_s:
            message = f"the boil lasts {step.hold_s / 60:g} min; an addition can't come before it"
            yield Problem(where=where, value=f"{addition.left_s / 60:g} min", message=message)


def _power_problems(plan: "Plan", step: "Step") -> Iterator[Problem]:
    if plan.vessel.control != "switched":
        return
    smallest_w = min(element.power_w for element in plan.vessel.elements)
    for key, power_w in (("ramp_power", step.ramp_power_w), ("hold_power", step.hold_power_w)):
        rests = key == "hold_power" and power_w == 0  # elements off: the contents may cool as they like
        if power_w is not None and power_w < smallest_w and not rests:
            message = f"with switched elements the least that can be on is {smallest_w:g} W; enter that or more"
            yield Problem(where=_where(step, key), value=f"{power_w:g} W", message=message)


def _task_problems(plan: "Plan") -> Iterator[Problem]:
    """Tasks at a step that isn't there, and two of one name."""
    steps, seen = [step.name for step in plan.steps], set()
    for task in plan.tasks:
        where = f'[[task]] "{task.name}"'
        if task.at_step not in steps:
            names = ", ".join(f'"{name}"' for name in steps)
            message = f"no step has that name; the steps are {names}"
            yield Problem(where=f"{where} at_step", value=f'"{task.at_step}"', message=message)
        if task.name in seen:
            yield Problem(where=f"{where} name", message="two tasks have this name; give each its own")
        seen.add(task.name)
    top_m, height_m = plan.vessel.element_top_m, plan.vessel.height_m
    if top_m is not None and top_m >= height_m:
        message = f"the elements would stand above the rim at {height_m:g} m; enter how high they reach inside"
        yield Problem(where="[vessel] element_top", value=f"{top_m:g} m", message=message)


@dataclass(slots=True)
class _Inside:
    """What is in the vessel while the actions of the day are followed."""

    water: bool = True
    grain: bool = False
    grain_was_in: bool = False
    sparge_was_in: bool = False


def _content_problems(plan: "Plan") -> Iterator[Problem]:
    """Follow grain and water through the actions of the day."""
    inside = _Inside()
    if plan.vessel.own_heat_j_per_k <= 0 and any(a.kind == "empty" for step in plan.steps for a in step.before):
        message = "the emptied vessel would store no heat at all; enter what it weighs"
        yield Problem(where="[vessel] empty_mass", value="0 kg", message=message)
    for step in plan.steps:
        for action in step.before:
            if action.kind == "add water":
                yield from _liquid_problem(plan, _where(step, "before"), action.temperature_c)
            if fault := _ACTIONS[action.kind](inside, plan, action):
                yield Problem(where=_where(step, "before"), value=f'"{action}"', message=fault)
        if step.heats and not inside.water:
            message = 'the vessel is empty here; add "add water: 12 L at 12 degC" before it heats'
            yield Problem(where=_where(step, "before"), message=message)


def _add_grain(inside: _Inside, plan: "Plan", _action: "Action") -> str:
    was_in, inside.grain, inside.grain_was_in = inside.grain_was_in, True, True
    if was_in:
        return "the grain is already in, or was; it goes in once a day"
    if plan.batch.grain_kg <= 0:
        return '[batch] has no grain: add grain = "5.8 kg"'
    return "" if inside.water else "the vessel is empty; add water before the grain"


def _remove_grain(inside: _Inside, _plan: "Plan", _action: "Action") -> str:
    was_in, inside.grain = inside.grain, False
    return "" if was_in else "there is no grain in the vessel at this step"


def _add_sparge_water(inside: _Inside, plan: "Plan", _action: "Action") -> str:
    was_in, inside.water, inside.sparge_was_in = inside.sparge_was_in, True, True
    if plan.batch.sparge_water_l <= 0:
        return '[batch] has no sparge water: add sparge_water = "5 L"'
    return "the sparge water is already in; it goes in once a day" if was_in else ""


def _empty(inside: _Inside, _plan: "Plan", _action: "Action") -> str:
    inside.water = inside.grain = False
    return ""


def _add_water(inside: _Inside, _plan: "Plan", action: "Action") -> str:
    inside.water = True
    return "" if action.volume_l > 0 else 'add more than nothing, as in "add water: 12 L at 12 degC"'


_ACTIONS: dict[str, Callable[[_Inside, "Plan", "Action"], str]] = {
    "add grain": _add_grain,
    "remove grain": _remove_grain,
    "add sparge water": _add_sparge_water,
    "empty": _empty,
    "add water": _add_water,
}
