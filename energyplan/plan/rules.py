"""What a plan may not say although each of its values reads well: rules across tables and steps."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from energyplan.base.errors import Place, Problem
from energyplan.base.kinds import (
    CELSIUS,
    CENTIMETRES,
    EXAMPLE,
    HOURS,
    KEY,
    KILOGRAMS,
    LITRES,
    MINUTES,
    WATTS,
    WATTS_PER_KELVIN,
    WORD,
    WRITTEN,
    Value,
)
from energyplan.base.sentence import Listed, Sentence, listed
from energyplan.base.units import MASS, VOLUME
from energyplan.physics.water import boiling_point_c, enthalpy_j_per_kg, pressure_at_altitude_pa
from energyplan.plan.equipment import Batch, Hours, SecondHeater, Site, Vessel
from energyplan.plan.steps import Action, Step, Task, grain_portions
from energyplan.plan.values import MINUTES_PER_DAY

__all__ = [
    "batch_problems",
    "content_problems",
    "hours_problems",
    "second_heater_problems",
    "step_problems",
    "task_problems",
    "vessel_problems",
]

# Wort a little above the boiling point of water is still a target that the boil reaches; above it is none.
BOILING_MARGIN_K = 0.05
_SPARGE = EXAMPLE(('"5 L"', '"1.5 gal"'))


def _where(step: Step, key: str) -> Place:
    return Place("step", key, step.name)


def _steps(names: Iterable[str]) -> Listed:
    return listed(Sentence('"{name}"', name=WRITTEN(name)) for name in names)


MOST_HEATING_H = 24.0
AIR_C = (-40.0, 60.0)
GRAIN_C = (-30.0, 60.0)


def batch_problems(batch: Batch, vessel: Vessel, site: Site) -> Iterator[Problem]:
    """Water that is none, temperatures that no place has, more grain than the vessel takes."""
    most_kg = vessel.most_grain_kg
    if most_kg is not None and batch.grain_kg > most_kg:
        message = Sentence(
            "the vessel takes {most} of grain ({key}); brew twice, or with less",
            most=KILOGRAMS(most_kg), key=KEY("vessel.most_grain"),
        )  # fmt: skip
        yield Problem(where=Place("batch", "grain"), value=KILOGRAMS(batch.grain_kg), message=message)
    yield from _liquid_problem(site, Place("batch", "water_temperature"), batch.water_temperature_c)
    yield from _liquid_problem(site, Place("batch", "sparge_temperature"), batch.sparge_temperature_c)
    yield from _range_problem(Place("batch", "grain_temperature"), batch.grain_temperature_c, GRAIN_C)
    yield from _range_problem(Place("site", "air"), site.air_c, AIR_C)
    yield from _range_problem(Place("site", "surroundings"), site.surroundings_c, AIR_C)
    if batch.water_l <= 0:
        yield Problem(
            where=Place("batch", "water"),
            value=LITRES(0.0),
            message=Sentence("a brew day needs water: {example}", example=VOLUME.as_written),
        )


def _range_problem(where: Place, value_c: float | None, limits_c: tuple[float, float]) -> Iterator[Problem]:
    if value_c is not None and not limits_c[0] <= value_c <= limits_c[1]:
        low, high = (CELSIUS(limit) for limit in limits_c)
        message = Sentence("expected between {low} and {high}", low=low, high=high)
        yield Problem(where=where, value=CELSIUS(value_c), message=message)


def _liquid_problem(site: Site, where: Place, value_c: float) -> Iterator[Problem]:
    limit_c = float(boiling_point_c(pressure_at_altitude_pa(site.altitude_m)))
    if not 0.0 <= value_c <= limit_c:
        message = Sentence(
            "water is liquid between {low} and {high} here; enter a temperature between them",
            low=CELSIUS(0.0), high=CELSIUS(limit_c),
        )  # fmt: skip
        yield Problem(where=where, value=CELSIUS(value_c), message=message)


def second_heater_problems(heater: SecondHeater | None, batch: Batch, steps: tuple[Step, ...]) -> Iterator[Problem]:
    """A step that isn't there, water that isn't there, a day that isn't long enough."""
    if heater is None:
        return
    if heater.ready_at_step not in {step.name for step in steps}:
        yield Problem(
            where=Place("second_heater", "ready_at_step"),
            value=f'"{heater.ready_at_step}"',
            message=Sentence("no step has that name; the steps are {names}", names=_steps(step.name for step in steps)),
        )
    if batch.sparge_water_l <= 0:
        said = "it heats the sparge water, but there is none: enter {key}, such as {example}"
        message = Sentence(said, key=KEY("batch.sparge_water"), example=_SPARGE)
        yield Problem(where=Place("second_heater"), message=message)
    rise_j = enthalpy_j_per_kg(batch.sparge_temperature_c) - enthalpy_j_per_kg(batch.water_temperature_c)
    hours = batch.sparge_water_l * max(float(rise_j), 0.0) / heater.share_into_water / heater.power_w / 3600
    if hours > MOST_HEATING_H:
        message = Sentence(
            "it would heat the sparge water for {hours}; a heater that does it within a day is expected",
            hours=HOURS(hours),
        )
        yield Problem(where=Place("second_heater", "power"), value=WATTS(heater.power_w), message=message)


def hours_problems(hours: Hours) -> Iterator[Problem]:
    """Hours that leave no time to brew."""
    for key, opens_min in {
        "earliest": hours.earliest_min,
        "somebody_there": hours.somebody_there_min and hours.somebody_there_min[0],
    }.items():
        if opens_min == MINUTES_PER_DAY:
            yield Problem(where=Place("hours", key), value='"24:00"', message='write "00:00"')
    there = hours.somebody_there_min
    if there is not None and there[0] == there[1]:
        message = 'from and to are the same time; write ["06:00", "23:00"], or leave it out'
        yield Problem(where=Place("hours", "somebody_there"), message=message)
    if len(set(hours.not_on)) == 7:
        yield Problem(where=Place("hours", "not_on"), message="names every day of the week; leave at least one")


def step_problems(steps: tuple[Step, ...], vessel: Vessel, site: Site) -> Iterator[Problem]:
    """Two steps of one name, and what a step can't do."""
    seen: set[str] = set()
    for step in steps:
        if step.name in seen:
            yield Problem(where=_where(step, "name"), message="two steps have this name; give each its own")
        seen.add(step.name)
    for step in steps:
        yield from _one_step_problems(step, vessel, site)


def _one_step_problems(step: Step, vessel: Vessel, site: Site) -> Iterator[Problem]:
    if step.boil and step.target_c is not None:
        yield Problem(
            where=_where(step, "target"), message="a boil needs no target (it is the boiling point); leave it out"
        )
    if not step.heats and step.pause_s <= 0 and step.chill_to_c is None:
        yield Problem(
            where=_where(step, "target"),
            message='the step does nothing: add a target, boil = true, or a pause such as "20 min"',
        )
    if not step.heats and step.hold_s > 0:
        yield Problem(
            where=_where(step, "hold"), message="nothing to hold without a target; write pause for a rest without heat"
        )
    yield from _chill_problems(step, site)
    yield from _target_problems(step, site)
    yield from _addition_problems(step)
    yield from _power_problems(step, vessel)


def _chill_problems(step: Step, site: Site) -> Iterator[Problem]:
    if step.chill_to_c is None:
        if step.chill_time_s is not None:
            said = "says how long chilling takes; add to which temperature: chill_to = {example}"
            message = Sentence(said, example=EXAMPLE(('"20 degC"', '"68 degF"')))
            yield Problem(where=_where(step, "chill_time"), message=message)
        return
    yield from _liquid_problem(site, _where(step, "chill_to"), step.chill_to_c)
    if step.chill_time_s is None:
        yield Problem(where=_where(step, "chill_time"), message='missing; write how long it takes, such as "30 min"')
    if step.boil:
        yield Problem(
            where=_where(step, "chill_to"), message="a boil isn't chilled; chill in a step of its own after it"
        )


def _target_problems(step: Step, site: Site) -> Iterator[Problem]:
    if step.target_c is None:
        return
    limit_c = float(boiling_point_c(pressure_at_altitude_pa(site.altitude_m))) + BOILING_MARGIN_K
    if step.target_c > limit_c:
        message = Sentence(
            "water boils at {boils} at this altitude; aim lower, or make it a boil ({key})",
            boils=CELSIUS(limit_c - BOILING_MARGIN_K), key=KEY(Place("", "boil = true")),
        )  # fmt: skip
        yield Problem(where=_where(step, "target"), value=CELSIUS(step.target_c), message=message)
    if step.target_c < 0.0:
        message = Sentence("that is below freezing; aim above {freezing}", freezing=CELSIUS(0.0))
        yield Problem(where=_where(step, "target"), value=CELSIUS(step.target_c), message=message)


def _addition_problems(step: Step) -> Iterator[Problem]:
    for addition in step.additions:
        where = _where(step, f'addition "{addition.name}" left')
        if not step.boil:
            yield Problem(where=where, message="additions count down in a boil; this step is none (boil = true)")
        elif (addition.mass_kg is None) != (addition.kind is None):
            has, wants = ("mass", "kind") if addition.kind is None else ("kind", "mass")
            mass, kinds = EXAMPLE(('mass = "1.5 kg"', 'mass = "3 lb"')), WORD('kind = "extract", "sugar" or "water"')
            said = "has a {has}, and needs the other to count: add {example}"
            message = Sentence(said, has=WORD(has), example=kinds if wants == "kind" else mass)
            yield Problem(where=where, message=message)
        elif addition.left_s > step.hold_s:
            message = Sentence(
                "the boil lasts {lasts}; an addition can't come before it", lasts=MINUTES(step.hold_s / 60)
            )
            yield Problem(where=where, value=MINUTES(addition.left_s / 60), message=message)


def _power_problems(step: Step, vessel: Vessel) -> Iterator[Problem]:
    if vessel.control != "switched":
        return
    smallest_w = min(element.power_w for element in vessel.elements)
    for key, power_w in (("ramp_power", step.ramp_power_w), ("hold_power", step.hold_power_w)):
        rests = key == "hold_power" and power_w == 0  # elements off: the contents may cool as they like
        if power_w is not None and power_w < smallest_w and not rests:
            message = Sentence(
                "with switched elements the least that can be on is {least}; enter that or more",
                least=WATTS(smallest_w),
            )
            yield Problem(where=_where(step, key), value=WATTS(power_w), message=message)


def task_problems(tasks: tuple[Task, ...], steps: tuple[Step, ...]) -> Iterator[Problem]:
    """Tasks at a step that isn't there, and two of one name."""
    there, seen = [step.name for step in steps], set()
    for task in tasks:
        if task.at_step not in there:
            message = Sentence("no step has that name; the steps are {names}", names=_steps(there))
            yield Problem(where=Place("task", "at_step", task.name), value=f'"{task.at_step}"', message=message)
        if task.name in seen:
            message_of_two = "two tasks have this name; give each its own"
            yield Problem(where=Place("task", "name", task.name), message=message_of_two)
        seen.add(task.name)


def vessel_problems(vessel: Vessel, steps: tuple[Step, ...]) -> Iterator[Problem]:
    """Elements above the rim, a loss that is hardly known, and a vessel that would be nothing once it is emptied."""
    yield from _within_problem(vessel.heat_loss_w_per_k, vessel.heat_loss_within_w_per_k)
    yield from _changed_loss_problem(vessel)
    top_m, height_m = vessel.element_top_m, vessel.height_m
    if top_m is not None and top_m >= height_m:
        message = Sentence(
            "the elements would stand above the rim at {rim}; enter how high they reach inside",
            rim=CENTIMETRES(height_m),
        )
        yield Problem(where=Place("vessel", "element_top"), value=CENTIMETRES(top_m), message=message)
    if vessel.own_heat_j_per_k <= 0 and any(a.kind == "empty" for step in steps for a in step.before):
        weighs = "the emptied vessel would store no heat at all; enter what it weighs"
        yield Problem(where=Place("vessel", "empty_mass"), value=KILOGRAMS(0.0), message=weighs)


MOST_WITHIN_FRAC = 0.5  # of the loss: an estimate from the size is good to a quarter [assumption]


def _within_problem(loss_w_per_k: float | None, within_w_per_k: float | None) -> Iterator[Problem]:
    if within_w_per_k is None:
        return
    if loss_w_per_k is None:
        said = "tells how far off a measured loss may be, and none is entered: add {key}, or leave it out"
        message = Sentence(said, key=KEY("vessel.heat_loss"))
    elif within_w_per_k > MOST_WITHIN_FRAC * loss_w_per_k:
        said = "more than half of the loss, {loss}, is no measurement: the size tells it better, so leave both out"
        message = Sentence(said, loss=WATTS_PER_KELVIN(loss_w_per_k))
    else:
        return
    yield Problem(where=Place("vessel", "heat_loss_within"), value=WATTS_PER_KELVIN(within_w_per_k), message=message)


SAME_LOSS = 1e-6  # as a share: spelled in another unit


def _changed_loss_problem(vessel: Vessel) -> Iterator[Problem]:
    """A loss that was changed since it was measured: what was measured with it is another's."""
    measured, loss = vessel.heat_loss_measured_w_per_k, vessel.heat_loss_w_per_k
    if measured is None or (loss is not None and abs(loss - measured) <= SAME_LOSS * measured):
        return
    given = {
        "vessel.heat_loss_within": vessel.heat_loss_within_w_per_k,
        "vessel.measured_at": vessel.measured_at_l,
        "vessel.heat_loss_measured": measured,
    }
    keys = [KEY(key) for key, value in given.items() if value is not None]
    message = Sentence(
        "measured were {measured}, to which {keys} {belong}: take {them} out, or enter what was measured",
        measured=WATTS_PER_KELVIN(measured), keys=listed(keys), belong=WORD("belong" if keys[1:] else "belongs"),
        them=WORD("them" if keys[1:] else "it"),
    )  # fmt: skip
    value = "" if loss is None else WATTS_PER_KELVIN(loss)
    yield Problem(where=Place("vessel", "heat_loss"), value=value, message=message)


@dataclass(slots=True)
class _Inside:
    """What is in the vessel while the actions of the day are followed, and what of its batch went in."""

    batch: Batch
    water: bool = True
    grain: bool = False
    grain_was_in: bool = False
    went_in_kg: float = 0.0
    sparge_was_in: bool = False
    batches: int = 1


def content_problems(steps: tuple[Step, ...], batch: Batch, site: Site) -> Iterator[Problem]:
    """Follow grain and water through the actions of the day."""
    inside, portions = _Inside(batch), grain_portions(steps, batch.grain_kg)
    for step in steps:
        for action, grain_kg in zip(step.before, portions[step.name], strict=False):
            if action.kind == "add water":
                yield from _liquid_problem(site, _where(step, "before"), action.temperature_c)
            left_over_kg = batch.grain_kg - inside.went_in_kg
            is_first = inside.batches == 1 and inside.went_in_kg > 0
            if action.kind == "empty" and is_first and left_over_kg > GRAIN_SLACK_KG:
                yield _left_over(step, left_over_kg)
            if fault := _ACTIONS[action.kind](inside, action, grain_kg):
                yield Problem(where=_where(step, "before"), value=f'"{action}"', message=fault)
        if step.heats and not inside.water:
            message = 'the vessel is empty here; add "add water: 12 L at 12 degC" before it heats'
            yield Problem(where=_where(step, "before"), message=message)
    if inside.batches == 1 and 0 < inside.went_in_kg < batch.grain_kg - GRAIN_SLACK_KG:
        yield _left_over(steps[-1], batch.grain_kg - inside.went_in_kg)


GRAIN_SLACK_KG = 1e-6


def _left_over(step: Step, left_over_kg: float) -> Problem:
    message = Sentence(
        "{left} of the batch's grain have not gone in; add them before, or enter less ({key})",
        left=KILOGRAMS(left_over_kg), key=KEY("batch.grain"),
    )  # fmt: skip
    return Problem(where=_where(step, "before"), message=message)


def _has_none(what: str, key: str, example: Value) -> Sentence:
    return Sentence(
        "{batch} has {what}: add {key} = {example}",
        batch=KEY(Place("batch")), what=WORD(what), key=KEY(Place("", key)), example=example,
    )  # fmt: skip


def _add_grain(inside: _Inside, action: Action, grain_kg: float) -> Sentence | str:
    before_kg, inside.went_in_kg = inside.went_in_kg, inside.went_in_kg + grain_kg
    was_in, inside.grain, inside.grain_was_in = inside.grain_was_in, True, True
    if was_in and grain_kg <= 0:
        said = "the grain is already in, or was; it goes in once a day, unless its mass is said: {example}"
        return Sentence(said, example=EXAMPLE(('"add grain: 2 kg"', '"add grain: 4 lb"')))
    if inside.batch.grain_kg <= 0:
        return _has_none("no grain", "grain", MASS.as_written)
    if inside.batches == 1 and action.mass_kg and before_kg + grain_kg > inside.batch.grain_kg + GRAIN_SLACK_KG:
        return Sentence(
            "with it {all} are in, and the batch has {kg} ({key}); enter all grain of the batch there",
            all=KILOGRAMS(before_kg + grain_kg), kg=KILOGRAMS(inside.batch.grain_kg), key=KEY("batch.grain"),
        )  # fmt: skip
    return "" if inside.water else "the vessel is empty; add water before the grain"


def _remove_grain(inside: _Inside, _action: Action, _grain_kg: float) -> str:
    was_in, inside.grain = inside.grain, False
    return "" if was_in else "there is no grain in the vessel at this step"


def _add_sparge_water(inside: _Inside, _action: Action, _grain_kg: float) -> Sentence | str:
    was_in, inside.water, inside.sparge_was_in = inside.sparge_was_in, True, True
    if inside.batch.sparge_water_l <= 0:
        return _has_none("no sparge water", "sparge_water", _SPARGE)
    return "the sparge water is already in; it goes in once a batch" if was_in else ""


def _empty(inside: _Inside, _action: Action, _grain_kg: float) -> str:
    inside.batches += inside.went_in_kg > 0
    inside.water = inside.grain = inside.grain_was_in = inside.sparge_was_in = False
    inside.went_in_kg = 0.0
    return ""


def _add_water(inside: _Inside, action: Action, _grain_kg: float) -> str:
    inside.water = True
    return "" if action.volume_l > 0 else 'add more than nothing, as in "add water: 12 L at 12 degC"'


_ACTIONS: dict[str, Callable[[_Inside, Action, float], Sentence | str]] = {
    "add grain": _add_grain,
    "remove grain": _remove_grain,
    "add sparge water": _add_sparge_water,
    "empty": _empty,
    "add water": _add_water,
}
