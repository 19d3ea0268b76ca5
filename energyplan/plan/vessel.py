"""The vessel with its elements and pump, the second heater, the batch that goes in, and what keeps the fermenter."""

from datetime import tzinfo
from typing import Annotated, Literal
from zoneinfo import ZoneInfo

from pydantic import BeforeValidator, Field, WithJsonSchema, field_validator

from energyplan.base.constants import STEEL_J_PER_KG_K
from energyplan.base.units import (
    ENERGY,
    Altitude,
    Area,
    Conductivity,
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
from energyplan.plan.circuit import Line
from energyplan.plan.values import ClockTime, Name, PercentShare, Share, Table

__all__ = ["Batch", "Element", "Fermentation", "Hours", "HouseSupply", "SecondHeater", "Site", "Vessel"]


class Element(Table):
    """One heating element, as its nameplate says.

    ``share_into_water`` is less than 1 for an element under the base, part of whose heat leaves downwards; ``line`` is
    where it hangs on a circuit of several lines (left out: the circuit's).
    """

    power_w: Annotated[Power, Field(gt=0)] = Field(alias="power")
    voltage_v: Voltage = Field(alias="voltage")
    surface_m2: Area | None = Field(default=None, alias="surface")
    share_into_water: float = Field(default=1.0, gt=0.2, le=1.0)
    line: Line | None = None


class Vessel(Table):
    """The vessel: an upright cylinder of stainless steel with elements and a pump.

    ``emissivity`` is that of the outer wall; where that is a jacket, ``uncovered_emissivity`` is that of the rest.
    """

    diameter_m: Length = Field(alias="diameter")
    height_m: Length = Field(alias="height")
    empty_mass_kg: Mass = Field(default=10.0, alias="empty_mass")
    emissivity: float | None = Field(default=None, ge=0.02, le=1.0)
    uncovered_emissivity: float | None = Field(default=None, ge=0.02, le=1.0)
    jacket_thickness_m: Length | None = Field(default=None, alias="jacket_thickness")
    jacket_conductivity_w_per_m_k: Conductivity = Field(default=0.04, alias="jacket_conductivity")
    jacket_covers: tuple[Literal["side", "base", "lid"], ...] = ("side",)
    fittings: float = Field(default=1.4, ge=1.0, le=5.0)
    heat_loss_w_per_k: HeatLoss | None = Field(default=None, alias="heat_loss")
    measured_at_l: Volume | None = Field(default=None, alias="measured_at")
    least_boil_w: Power | None = Field(default=None, alias="least_boil", gt=0)
    stored_heat_j_per_k: HeatCapacity | None = Field(default=None, alias="stored_heat")
    element_top_m: Length | None = Field(default=None, alias="element_top")
    lid_ajar_open: Share = 0.2
    power_step_w: Annotated[Power, Field(gt=0)] = Field(default=100.0, alias="power_step")
    control: Literal["modulated", "switched"] = "modulated"
    pump_w: Power = Field(default=0.0, alias="pump")
    pump_line: Line | None = None
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
        """Emissivity of the parts without a jacket: as entered for them or for a bare vessel, else steel's 0.25."""
        if self.uncovered_emissivity is not None:
            return self.uncovered_emissivity
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


def _with_its_point(value: object) -> object:
    """Refuse a gravity as brewers say it, without its point."""
    if isinstance(value, int | float) and not isinstance(value, bool) and 1000 <= value <= 1200:
        raise ValueError(f"write it with its point: {value / 1000:.3f}")
    return value


class Batch(Table):
    """Water and grain of the day. Volumes of water are meant at `water_temperature_c`."""

    water_l: Volume = Field(alias="water")
    water_temperature_c: Temperature = Field(alias="water_temperature")
    grain_kg: Mass = Field(default=0.0, alias="grain")
    grain_temperature_c: Temperature | None = Field(default=None, alias="grain_temperature")
    grain_moisture: float = Field(default=0.04, ge=0.0, le=0.2)
    absorption_l_per_kg: VolumePerMass = Field(default=0.8, alias="absorption")
    sparge_water_l: Volume = Field(default=0.0, alias="sparge_water")
    sparge_temperature_c: Temperature = Field(default=75.0, alias="sparge_temperature")
    gravity: Annotated[float, BeforeValidator(_with_its_point), Field(ge=1.0, le=1.2)] | None = None


class SecondHeater(Table):
    """The heater of the sparge water; the water is hot when the named step begins.

    With ``own_circuit`` it hangs on another breaker than the vessel: it is paid for, but not checked.
    """

    power_w: Annotated[Power, Field(gt=0)] = Field(alias="power")
    ready_at_step: Name
    share_into_water: float = Field(default=0.9, gt=0.2, le=1.0)
    own_circuit: bool = False
    line: Line | None = None


class Fermentation(Table):
    """What keeps the fermenter at its temperature: a fridge or a heater, the share of the time it runs, how long."""

    power_w: Annotated[Power, Field(gt=0)] = Field(alias="power")
    duty: Share = 0.3
    time_s: Annotated[Duration, Field(gt=0)] = Field(alias="time")


Weekday = Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"]


KilowattHours = Annotated[
    float,
    BeforeValidator(lambda value: read_quantity(value, ENERGY) if isinstance(value, str) else value),
    Field(ge=0.0, le=ENERGY.high),
    WithJsonSchema({"type": ["number", "string"], "description": "an energy in kWh", "examples": [310, "310 kWh"]}),
]


class Site(Table):
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


class HouseSupply(Table):
    """What comes into the house, and what the house draws from it beside the brew day.

    Above `contracted_w` the supply drops out; an excess of up to `contract_allows_frac` may last
    `contract_allows_for_s` (left out: as long as it likes). ``month_peak_w`` is the month's highest mean power so far,
    over the windows of the tariff's peak charge; ``month_kwh_so_far`` what the meter has counted in it, for a tariff
    with tiers.
    """

    contracted_w: Annotated[Power, Field(gt=0)] | None = Field(default=None, alias="contracted_power")
    contract_allows_frac: PercentShare = Field(default=0.0, alias="contract_allows")
    contract_allows_for_s: Annotated[Duration, Field(gt=0)] | None = Field(default=None, alias="contract_allows_for")
    base_load_w: Power = Field(default=0.0, alias="base_load")
    month_peak_w: Power = Field(default=0.0, alias="month_peak")
    month_kwh_so_far: KilowattHours | None = None


class Hours(Table):
    """When the brewer brews: the hours of a start, of the end, and those in which somebody is there."""

    earliest_min: ClockTime | None = Field(default=None, alias="earliest")
    done_by_min: ClockTime | None = Field(default=None, alias="done_by")
    somebody_there_min: tuple[ClockTime, ClockTime] | None = Field(default=None, alias="somebody_there")
    not_on: tuple[Weekday, ...] = Field(default=(), max_length=7)
