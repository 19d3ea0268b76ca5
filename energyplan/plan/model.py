"""What the brewer enters: vessel, batch, place, circuit and the list of steps.

Every class is both the schema of a table of the plan file (the aliases are the file's keys) and a
frozen value object in SI units (the field names carry the unit). Nothing is computed here but what
follows from the words alone, such as which lid a step has when none is named.
"""

import re
from datetime import tzinfo
from typing import Annotated, Literal
from zoneinfo import ZoneInfo

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PlainSerializer,
    ValidationInfo,
    WithJsonSchema,
    field_validator,
    model_validator,
)
from pydantic_core import PydanticCustomError

from energyplan.base.constants import STEEL_J_PER_KG_K
from energyplan.base.units import TEMPERATURE as TEMPERATURE_KIND
from energyplan.base.units import VOLUME as VOLUME_KIND
from energyplan.base.units import (
    Altitude,
    Area,
    Conductivity,
    CrossSection,
    Current,
    Duration,
    HeatCapacity,
    HeatLoss,
    Length,
    Mass,
    Power,
    Speed,
    Temperature,
    Voltage,
    Volume,
    VolumePerMass,
    read_quantity,
)
from energyplan.plan.values import MINUTES_PER_DAY, ClockTime, Name, PercentShare, Share, from_file

__all__ = [
    "Action",
    "Addition",
    "Batch",
    "Circuit",
    "Element",
    "Extension",
    "Fermentation",
    "HouseSupply",
    "Lid",
    "Line",
    "OtherLoad",
    "Plan",
    "SecondHeater",
    "Site",
    "Step",
    "Task",
    "Vessel",
]

Lid = Literal["on", "off", "ajar"]
Line = Literal["L1", "L2", "L3", "all"]


class _Table(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True, allow_inf_nan=False)


class Element(_Table):
    """One heating element, as its nameplate says.

    ``share_into_water`` is less than 1 for an element under the base, part of whose heat leaves downwards.
    """

    power_w: Annotated[Power, Field(gt=0)] = Field(alias="power")
    voltage_v: Voltage = Field(alias="voltage")
    surface_m2: Area | None = Field(default=None, alias="surface")
    share_into_water: float = Field(default=1.0, gt=0.2, le=1.0)


class Vessel(_Table):
    """The vessel: an upright cylinder of stainless steel with elements and a pump."""

    diameter_m: Length = Field(alias="diameter")
    height_m: Length = Field(alias="height")
    empty_mass_kg: Mass = Field(default=10.0, alias="empty_mass")
    emissivity: float | None = Field(default=None, ge=0.02, le=1.0)
    jacket_thickness_m: Length | None = Field(default=None, alias="jacket_thickness")
    jacket_conductivity_w_per_m_k: Conductivity = Field(default=0.04, alias="jacket_conductivity")
    jacket_covers: tuple[Literal["side", "base", "lid"], ...] = ("side",)
    fittings: float = Field(default=1.4, ge=1.0, le=5.0)
    heat_loss_w_per_k: HeatLoss | None = Field(default=None, alias="heat_loss")
    stored_heat_j_per_k: HeatCapacity | None = Field(default=None, alias="stored_heat")
    element_top_m: Length | None = Field(default=None, alias="element_top")
    lid_ajar_open: Share = 0.2
    power_step_w: Annotated[Power, Field(gt=0)] = Field(default=100.0, alias="power_step")
    control: Literal["modulated", "switched"] = "modulated"
    pump_w: Power = Field(default=0.0, alias="pump")
    pump_heat: Share = 0.6
    standby_w: Power = Field(default=0.0, alias="standby")
    most_grain_kg: Mass | None = Field(default=None, alias="most_grain")
    elements: tuple[Element, ...] = Field(alias="element", min_length=1, max_length=12)

    @field_validator("diameter_m", "height_m")
    @classmethod
    def _of_a_vessel(cls, value: float) -> float:
        if not 0.1 <= value <= 3.0:
            raise ValueError("a vessel is between 10 cm and 3 m across and high")
        return value

    @property
    def bare_emissivity(self) -> float:
        """Emissivity of the parts without a jacket: as entered for a bare vessel, else steel's 0.25."""
        return self.emissivity if self.emissivity is not None and not self.jacket_thickness_m else 0.25

    @property
    def outer_emissivity(self) -> float:
        """Emissivity of the outer wall: as entered, else bare steel 0.25 or a jacket's cloth 0.9."""
        if self.emissivity is not None:
            return self.emissivity
        return 0.9 if self.jacket_thickness_m else 0.25

    @property
    def own_heat_j_per_k(self) -> float:
        """Heat that the empty vessel stores [J/K]: as measured, else that of its mass in stainless steel."""
        if self.stored_heat_j_per_k is not None:
            return self.stored_heat_j_per_k
        return self.empty_mass_kg * STEEL_J_PER_KG_K


class Batch(_Table):
    """Water and grain of the day. Volumes of water are meant at `water_temperature_c`."""

    water_l: Volume = Field(alias="water")
    water_temperature_c: Temperature = Field(alias="water_temperature")
    grain_kg: Mass = Field(default=0.0, alias="grain")
    grain_temperature_c: Temperature | None = Field(default=None, alias="grain_temperature")
    grain_moisture: float = Field(default=0.04, ge=0.0, le=0.2)
    absorption_l_per_kg: VolumePerMass = Field(default=0.8, alias="absorption")
    sparge_water_l: Volume = Field(default=0.0, alias="sparge_water")
    sparge_temperature_c: Temperature = Field(default=75.0, alias="sparge_temperature")
    gravity: float | None = Field(default=None, ge=1.0, le=1.2)


class SecondHeater(_Table):
    """The heater of the sparge water; the water is hot when the named step begins.

    With ``own_circuit`` it hangs on another breaker than the vessel: it is paid for, but not checked.
    """

    power_w: Annotated[Power, Field(gt=0)] = Field(alias="power")
    ready_at_step: Name
    share_into_water: float = Field(default=0.9, gt=0.2, le=1.0)
    own_circuit: bool = False


class Fermentation(_Table):
    """What keeps the fermenter at its temperature: a fridge or a heater, the share of the time it runs, how long."""

    power_w: Annotated[Power, Field(gt=0)] = Field(alias="power")
    duty: Share = 0.3
    time_s: Annotated[Duration, Field(gt=0)] = Field(alias="time")


class Site(_Table):
    """The place: air, height above the sea, clock."""

    air_c: Temperature = Field(default=20.0, alias="air")
    surroundings_c: Temperature | None = Field(default=None, alias="surroundings")
    draught_m_per_s: Speed = Field(default=0.0, alias="draught")
    humidity: Share = 0.5
    altitude_m: Altitude = Field(default=0.0, alias="altitude")
    time_zone: str | None = None

    @field_validator("time_zone")
    @classmethod
    def _known_zone(cls, value: str | None) -> str | None:
        if value is not None:
            try:
                ZoneInfo(value)
            except (KeyError, ValueError, OSError):
                raise ValueError('no such time zone: write an IANA name such as "Europe/Dublin"') from None
        return value

    @property
    def zone(self) -> tzinfo | None:
        """The entered time zone."""
        return ZoneInfo(self.time_zone) if self.time_zone else None


class Extension(_Table):
    """An extension lead between the outlet and the vessel."""

    cable_mm2: CrossSection = Field(alias="cable")
    length_m: Length = Field(alias="length")
    rating_a: Current | None = Field(default=None, alias="rating")
    rating_wound_a: Current | None = Field(default=None, alias="rating_wound")
    unwound: bool = True


class Circuit(_Table):
    """The circuit that feeds the vessel, as far as the brewer knows it. What is left out is not checked.

    ``layout`` is the kind of supply (left out: split phase for "nec" above 180 V, else one phase) and ``line`` the
    line that the vessel hangs on. On a three-phase board `voltage_v` is that from a line to neutral, and "all"
    spreads the vessel's elements over the three lines; in split phase "all" is both legs, the default.
    ``dedicated`` says whether the circuit feeds nothing but the vessel's outlet; ``ring`` that it is a ring, whose
    ``cable_length_m`` is that of the whole ring, from the board and back to it.
    """

    rules: Literal["iec", "nec"] = "iec"
    voltage_v: Voltage = Field(alias="voltage")
    breaker_a: Current | None = Field(default=None, alias="breaker")
    breaker_curve: Literal["B", "C", "D", "inverse"] | None = None
    outlet_a: Current | None = Field(default=None, alias="outlet")
    plug_fuse_a: Current | None = Field(default=None, alias="plug_fuse")
    cable_mm2: CrossSection | None = Field(default=None, alias="cable")
    cable_length_m: Length = Field(default=0.0, alias="cable_length")
    installation: Literal["A", "B", "C", "E", "60", "75", "90"] | None = None
    ambient_c: Temperature = Field(default=30.0, alias="ambient")
    grouped_circuits: int = Field(default=1, ge=1, le=20)
    residual_current_device: bool | None = None
    extension: Extension | None = None
    layout: Literal["one phase", "split phase", "three phase"] | None = None
    line: Line | None = None
    ring: bool = False
    dedicated: bool | None = None


class OtherLoad(_Table):
    """Whatever else hangs on the circuit, in a window of the local clock.

    ``line`` is the line it hangs on (left out: that of the vessel); ``motor`` says that a motor starts in it.
    """

    name: Name
    power_w: Power = Field(alias="power")
    duty: Share = 1.0
    from_min: ClockTime = Field(default=0, alias="from")
    to_min: ClockTime = Field(default=MINUTES_PER_DAY, alias="to")
    line: Line | None = None
    motor: bool | None = None


class HouseSupply(_Table):
    """What comes into the house, and what the house draws from it beside the brew day.

    Above `contracted_w` the supply drops out; an excess of up to `contract_allows_frac` may last
    `contract_allows_for_s` (left out: as long as it likes). ``month_peak_w`` is the month's highest mean power so far,
    over the windows of the tariff's peak charge.
    """

    contracted_w: Annotated[Power, Field(gt=0)] | None = Field(default=None, alias="contracted_power")
    contract_allows_frac: PercentShare = Field(default=0.0, alias="contract_allows")
    contract_allows_for_s: Annotated[Duration, Field(gt=0)] | None = Field(default=None, alias="contract_allows_for")
    base_load_w: Power = Field(default=0.0, alias="base_load")
    month_peak_w: Power = Field(default=0.0, alias="month_peak")


class Action(_Table):
    """Something done at the start of a step, such as ``add grain`` or ``add water: 12 L at 12 degC``."""

    kind: Literal["add grain", "remove grain", "add sparge water", "empty", "add water"]
    volume_l: float = 0.0
    temperature_c: float = 0.0

    def __str__(self) -> str:
        if self.kind != "add water":
            return self.kind
        return f"add water: {self.volume_l!r} L at {self.temperature_c!r} degC"


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


class Addition(_Table):
    """Something that goes into the boil, by the boil time left."""

    name: Name
    left_s: Duration = Field(alias="left")


class Step(_Table):
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


class Task(_Table):
    """Something that people do beside the vessel, with the time it takes; it holds nothing up.

    It ends when the named step begins ("before"), begins with it ("during") or when it is over ("after"); several at
    one place follow one another. ``attended`` says whether somebody must be in the room meanwhile.
    """

    name: Name
    at_step: Name
    when: Literal["before", "during", "after"] = "during"
    takes_s: Annotated[Duration, Field(gt=0, le=86400)] = Field(alias="takes")
    attended: bool = True


class Plan(_Table):
    """A whole brew day as the brewer plans it."""

    title: Name = "A brew day"
    vessel: Vessel
    batch: Batch
    second_heater: SecondHeater | None = None
    site: Site = Site()
    circuit: Circuit | None = None
    other_loads: tuple[OtherLoad, ...] = Field(default=(), alias="other_load", max_length=50)
    supply: HouseSupply | None = None
    house_loads: tuple[OtherLoad, ...] = Field(default=(), alias="house_load", max_length=50)
    fermentation: Fermentation | None = None
    steps: tuple[Step, ...] = Field(alias="step", min_length=1, max_length=500)
    tasks: tuple[Task, ...] = Field(default=(), alias="task", max_length=100)

    @model_validator(mode="after")
    def _obeys_the_rules(self) -> "Plan":
        from energyplan.plan.rules import broken_rules

        if problems := broken_rules(self):
            message = "; ".join(str(problem) for problem in problems)
            raise PydanticCustomError("plan_rules", "{message}", {"message": message, "problems": problems})
        return self

    @property
    def grain_c(self) -> float:
        """Temperature of the grain: as entered, else that of the air [°C]."""
        grain_c = self.batch.grain_temperature_c
        return self.site.air_c if grain_c is None else grain_c

    @property
    def voltage_v(self) -> float:
        """Voltage at the board; without a circuit, the first element's nameplate voltage."""
        return self.circuit.voltage_v if self.circuit else self.vessel.elements[0].voltage_v
