"""The steps of the day: what is done, rested, heated and held, and what people do beside it."""

import re
from collections.abc import Iterable, Mapping
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, PlainSerializer, ValidationInfo, WithJsonSchema, model_validator

from energyplan.base.errors import UnitsError
from energyplan.base.kinds import EXAMPLE, WORD
from energyplan.base.sentence import Sentence
from energyplan.base.units import MASS as MASS_KIND
from energyplan.base.units import TEMPERATURE as TEMPERATURE_KIND
from energyplan.base.units import VOLUME as VOLUME_KIND
from energyplan.base.units import Duration, Mass, Power, Temperature, read_quantity
from energyplan.plan.values import Name, Table, from_file

__all__ = ["Action", "ActionKind", "Addition", "Lid", "Step", "Task", "grain_portions"]

Lid = Literal["on", "off", "ajar"]
ActionKind = Literal["add grain", "remove grain", "add sparge water", "empty", "add water"]


class Action(Table):
    """Something done at the start of a step: ``add grain``, ``add grain: 2 kg``, ``add water: 12 L at 12 degC``.

    Grain without a mass is what is left of the batch's (`grain_portions`).
    """

    kind: ActionKind
    volume_l: float = 0.0
    temperature_c: float = 0.0
    mass_kg: float = Field(default=0.0, ge=0.0)

    def __str__(self) -> str:
        if self.kind == "add grain" and self.mass_kg:
            return f"add grain: {MASS_KIND.written(self.mass_kg)}"
        if self.kind != "add water":
            return self.kind
        return f"add water: {VOLUME_KIND.written(self.volume_l)} at {TEMPERATURE_KIND.written(self.temperature_c)}"


_PART_OF_THE_GRAIN = EXAMPLE(("add grain: 2 kg", "add grain: 4 lb"))


def _read_action(value: object, info: ValidationInfo) -> object:
    if not isinstance(value, str):
        if from_file(info):
            raise ValueError('write what is done as text, such as "add grain"')
        return value
    return read_action(value)


def read_action(text: str) -> Action:
    """Read what is done at the start of a step.

    Raises
    ------
    UnitsError
        If it is none of what can be done, or a quantity in it can't be read.

    Examples
    --------
    >>> read_action("add grain: 2 kg").mass_kg
    2.0
    """
    words = " ".join(text.split())
    if match := re.fullmatch(r"add water: (.+?) at (.+)", words):
        volume_l, temperature_c = read_quantity(match[1], VOLUME_KIND), read_quantity(match[2], TEMPERATURE_KIND)
        return Action(kind="add water", volume_l=volume_l, temperature_c=temperature_c)
    if match := re.fullmatch(r"add grain: (.+)", words):
        mass_kg = read_quantity(match[1], MASS_KIND)
        if mass_kg <= 0:
            raise UnitsError(Sentence("add more than nothing, as in {grain}", grain=_PART_OF_THE_GRAIN))
        return Action(kind="add grain", mass_kg=mass_kg)
    known = ("add grain", "remove grain", "add sparge water", "empty")
    if words not in known:
        said = "expected one of {known}, or {water}; a part of the grain: {grain}"
        water = EXAMPLE(("add water: 12 L at 12 degC", "add water: 3 gal at 54 degF"))
        raise UnitsError(Sentence(said, known=WORD(", ".join(known)), water=water, grain=_PART_OF_THE_GRAIN))
    return Action.model_validate({"kind": words})


class Addition(Table):
    """Something that goes into the boil, by the boil time left.

    Extract (dry; of a syrup only its solids), sugar and water change heat and gravity by their mass; hops and the like
    have none. Without a temperature it is as warm as the air.
    """

    name: Name
    left_s: Duration = Field(alias="left")
    mass_kg: Annotated[Mass, Field(gt=0)] | None = Field(default=None, alias="mass")
    temperature_c: Temperature | None = Field(default=None, alias="temperature")
    kind: Literal["extract", "sugar", "water"] | None = None


class Step(Table):
    """One step of the day: what is done first, a rest, a chilling from outside, a temperature to reach and to hold.

    A hold after a chilling keeps what it was chilled to, if no other target is named.
    """

    name: Name
    before: tuple[
        Annotated[
            Action,
            BeforeValidator(_read_action),
            PlainSerializer(str, return_type=str),
            WithJsonSchema({"type": "string", "examples": ["add grain", "add water: 12 L at 12 degC"]}),
        ],
        ...,
    ] = ()
    pause_s: Duration = Field(default=0.0, alias="pause")
    chill_to_c: Temperature | None = Field(default=None, alias="chill_to")
    chill_time_s: Annotated[Duration, Field(gt=0)] | None = Field(default=None, alias="chill_time")
    target_c: Temperature | None = Field(default=None, alias="target")
    boil: bool = False
    ramp_power_w: Power | None = Field(default=None, alias="ramp_power")
    hold_s: Duration = Field(default=0.0, alias="hold")
    hold_power_w: Power | None = Field(default=None, alias="hold_power")
    lid: Lid | None = None
    pump: bool | None = None
    additions: tuple[Addition, ...] = Field(default=(), alias="addition")

    @model_validator(mode="before")
    @classmethod
    def _holds_what_it_was_chilled_to(cls, data: Any) -> Any:
        if not isinstance(data, Mapping) or data.get("boil"):
            return data
        for chill, target, hold in (("chill_to", "target", "hold"), ("chill_to_c", "target_c", "hold_s")):
            if data.get(chill) is not None and data.get(hold) and data.get(target) is None:
                return {**data, target: data[chill]}
        return data

    @property
    def heats(self) -> bool:
        """Whether the step has a temperature to reach."""
        return self.boil or self.target_c is not None

    @property
    def lid_state(self) -> Lid:
        """The lid as entered, else off for a boil and on for anything else."""
        return self.lid or ("off" if self.boil else "on")

    @property
    def pump_runs(self) -> bool:
        """The pump as entered, else running in a step that heats without boiling."""
        return self.pump if self.pump is not None else self.target_c is not None


def grain_portions(steps: Iterable[Step], grain_kg: float) -> dict[str, tuple[float, ...]]:
    """Grain that each action of each step moves [kg], by the step's name: in, or out again; 0 for other actions.

    ``add grain`` without a mass takes what has not gone in yet of a batch's ``grain_kg``; a batch ends where the vessel
    is emptied, and the next one begins with as much.

    Examples
    --------
    >>> mash = Step(name="Mash", before=("add grain: 2 kg", "add grain"), target_c=66.0)
    >>> grain_portions([mash, Step(name="Lift", before=("remove grain",), pause_s=60.0)], 5.0)
    {'Mash': (2.0, 3.0), 'Lift': (5.0,)}
    """
    found: dict[str, tuple[float, ...]] = {}
    inside_kg = went_in_kg = 0.0
    for step in steps:
        moved: list[float] = []
        for action in step.before:
            if action.kind == "add grain":
                moved.append(action.mass_kg or max(grain_kg - went_in_kg, 0.0))
                inside_kg, went_in_kg = inside_kg + moved[-1], went_in_kg + moved[-1]
            elif action.kind in ("remove grain", "empty"):
                moved.append(inside_kg)
                inside_kg, went_in_kg = 0.0, 0.0 if action.kind == "empty" else went_in_kg
            else:
                moved.append(0.0)
        found[step.name] = tuple(moved)
    return found


class Task(Table):
    """Something that people do beside the vessel, with the time it takes; it holds nothing up.

    It ends when the named step begins ("before"), begins with it ("during") or when it is over ("after"); several at
    one place follow one another. ``attended`` says whether somebody must be in the room meanwhile.
    """

    name: Name
    at_step: Name
    when: Literal["before", "during", "after"] = "during"
    takes_s: Annotated[Duration, Field(gt=0, le=86400)] = Field(alias="takes")
    attended: bool = True
