"""The place: its air, its clock, the supply of the house, and the brewer's hours."""

from datetime import tzinfo
from typing import Annotated, Literal
from zoneinfo import ZoneInfo

from pydantic import BeforeValidator, Field, WithJsonSchema, field_validator

from energyplan.base.units import (
    ENERGY,
    Altitude,
    Duration,
    Power,
    Speed,
    Temperature,
    read_quantity,
)
from energyplan.plan.values import ClockTime, PercentShare, Share, Table

__all__ = ["Hours", "HouseSupply", "Site"]

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
