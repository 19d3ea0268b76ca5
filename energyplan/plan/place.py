"""The place: its air, its circuit with what else hangs on it, and the supply of the house."""

from datetime import tzinfo
from typing import Annotated, Literal
from zoneinfo import ZoneInfo

from pydantic import BeforeValidator, Field, WithJsonSchema, field_validator

from energyplan.base.units import (
    ENERGY,
    Altitude,
    CrossSection,
    Current,
    Duration,
    Length,
    Power,
    Speed,
    Temperature,
    Voltage,
    read_quantity,
)
from energyplan.plan.values import MINUTES_PER_DAY, ClockTime, Name, PercentShare, Share, Table

__all__ = ["Circuit", "Extension", "Hours", "HouseSupply", "Line", "OtherLoad", "Site"]

Line = Literal["L1", "L2", "L3", "all"]
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


class Extension(Table):
    """An extension lead between the outlet and the vessel."""

    cable_mm2: CrossSection = Field(alias="cable")
    length_m: Length = Field(alias="length")
    rating_a: Current | None = Field(default=None, alias="rating")
    rating_wound_a: Current | None = Field(default=None, alias="rating_wound")
    unwound: bool = True


class Circuit(Table):
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


class OtherLoad(Table):
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
