"""The steps of the day: what is done, rested, heated and held, and what people do beside it."""

import re
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, PlainSerializer, ValidationInfo, WithJsonSchema

from energyplan.base.units import TEMPERATURE as TEMPERATURE_KIND
from energyplan.base.units import VOLUME as VOLUME_KIND
from energyplan.base.units import Duration, Power, Temperature, read_quantity
from energyplan.plan.values import Name, Table, from_file

__all__ = ["Action", "ActionKind", "Addition", "Lid", "Step", "Task"]

Lid = Literal["on", "off", "ajar"]
ActionKind = Literal["add grain", "remove grain", "add sparge water", "empty", "add water"]


class Action(Table):
    """Something done at the start of a step, such as ``add grain`` or ``add water: 12 L at 12 degC``."""

    kind: ActionKind
    volume_l: float = 0.0
    temperature_c: float = 0.0

    def __str__(self) -> str:
        if self.kind != "add water":
            return self.kind
        return f"add water: {VOLUME_KIND.written(self.volume_l)} at {TEMPERATURE_KIND.written(self.temperature_c)}"


def _read_action(value: object, info: ValidationInfo) -> object:
    if not isinstance(value, str):
        if from_file(info):
            raise ValueError('write what is done as text, such as "add grain"')
        return value
    words = " ".join(value.split())
    if match := re.fullmatch(r"add water: (.+?) at (.+)", words):
        volume_l, temperature_c = read_quantity(match[1], VOLUME_KIND), read_quantity(match[2], TEMPERATURE_KIND)
        return Action(kind="add water", volume_l=volume_l, temperature_c=temperature_c)
    known = ("add grain", "remove grain", "add sparge water", "empty")
    if words not in known:
        raise ValueError(f"expected one of {', '.join(known)}, or add water: 12 L at 12 degC")
    return {"kind": words}


class Addition(Table):
    """Something that goes into the boil, by the boil time left."""

    name: Name
    left_s: Duration = Field(alias="left")


class Step(Table):
    """One step of the day: what is done first, a rest, a temperature to reach and to hold."""

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
    target_c: Temperature | None = Field(default=None, alias="target")
    boil: bool = False
    ramp_power_w: Power | None = Field(default=None, alias="ramp_power")
    hold_s: Duration = Field(default=0.0, alias="hold")
    hold_power_w: Power | None = Field(default=None, alias="hold_power")
    lid: Lid | None = None
    pump: bool | None = None
    additions: tuple[Addition, ...] = Field(default=(), alias="addition")

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
