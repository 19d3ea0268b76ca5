"""The tables that stay from brew to brew: vessel, elements, place, circuit, supply, hours."""

import re
from datetime import tzinfo
from typing import Annotated, Any, Literal, NamedTuple
from zoneinfo import ZoneInfo

from pydantic import (
    BeforeValidator,
    Field,
    SerializationInfo,
    SerializerFunctionWrapHandler,
    WithJsonSchema,
    field_validator,
    model_serializer,
    model_validator,
)
from pydantic_core import PydanticCustomError

from energyplan.base.constants import STEEL_J_PER_KG_K
from energyplan.base.errors import Place, Problem
from energyplan.base.units import (
    ENERGY,
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
    Resistance,
    Speed,
    Temperature,
    Voltage,
    Volume,
    VolumePerMass,
    read_quantity,
)
from energyplan.plan.values import MINUTES_PER_DAY, ClockTime, LossWithin, Name, PercentShare, Share, Table

__all__ = [
    "Batch",
    "Circuit",
    "Element",
    "Extension",
    "Fermentation",
    "Hours",
    "HouseSupply",
    "Line",
    "OtherLoad",
    "ResidualCurrent",
    "SecondHeater",
    "Site",
    "Surroundings",
    "Vessel",
]

Line = Literal["L1", "L2", "L3", "L1-L2", "L2-L3", "L3-L1", "all"]


Surroundings = Literal["dry", "damp", "garage", "outdoors"]


_FOLLOWS: Any = None  # a voltage that follows from the one between lines


_RESIDUAL = re.compile(r"(\d+(?:\.\d+)?)\s*mA(?:\s*,?\s*type\s+(AC|A|F|B))?", re.IGNORECASE)


_RESIDUAL_EXAMPLE = '"30 mA, type A", or true for one of which nothing else is known'


class ResidualCurrent(NamedTuple):
    """What is known of a residual current device: whether there is one, its rating [A], its type."""

    there: bool | None
    rating_a: float | None
    kind: str | None


def _read_residual(value: object) -> object:
    if not isinstance(value, str):
        return value
    match = _RESIDUAL.fullmatch(value.strip())
    if match is None or not 1.0 <= float(match[1]) <= 1000.0:
        raise ValueError(f"expected its rating and type as text, such as {_RESIDUAL_EXAMPLE}")
    return f"{float(match[1]):g} mA" + (f", type {match[2].upper()}" if match[2] else "")


_INGRESS = re.compile(r"IP\s*([0-6X])([0-9X])", re.IGNORECASE)


def _read_ingress(value: object) -> object:
    match = _INGRESS.fullmatch(value.strip()) if isinstance(value, str) else None
    if match is None:
        raise ValueError('expected the IP code printed on the outlet, such as "IP44" or "IPX4"')
    return f"IP{match[1]}{match[2]}".upper()


Ingress = Annotated[str, BeforeValidator(_read_ingress), Field(examples=["IP44", "IPX4"])]
ResidualText = Annotated[bool | str, BeforeValidator(_read_residual), Field(examples=["30 mA, type A", True])]


class Extension(Table):
    """An extension lead between the outlet and the vessel."""

    cable_mm2: CrossSection = Field(alias="cable")
    length_m: Length = Field(alias="length")
    rating_a: Current | None = Field(default=None, alias="rating")
    rating_wound_a: Current | None = Field(default=None, alias="rating_wound")
    unwound: bool = True


class Circuit(Table):
    """The circuit that feeds the vessel, as far as the brewer knows it. What is left out is not checked.

    ``layout`` is the kind of supply (left out: by rules and voltage, `energyplan.plan.lines.layout_of`) and ``line``
    the place where the vessel hangs: a line to neutral, two lines, or "all". `voltage_v` is the one from line to
    neutral of one and of three phases, and that between the two lines of a split phase; a three-phase supply may be
    entered by `voltage_between_lines_v` instead. ``dedicated`` says whether the circuit feeds nothing but the
    vessel's outlet; ``ring`` that it is a ring, whose ``cable_length_m`` is that of the whole ring, from the board
    and back to it. ``earth_loop_ohm`` is the measured impedance of the fault loop at the outlet, ``enclosure`` the IP
    code of the outlet, and ``isolator`` says whether a plug or switch that cuts all lines is in sight of the vessel.
    Among the breaker curves "gG" and "BS 3036" are fuses.
    """

    rules: Literal["iec", "nec"] = "iec"
    rules_edition: Literal["2017", "2018", "2020", "2023"] | None = None
    voltage_v: Voltage = Field(default=_FOLLOWS, alias="voltage")
    voltage_between_lines_v: Voltage | None = Field(default=None, alias="voltage_between_lines")
    breaker_a: Current | None = Field(default=None, alias="breaker")
    breaker_curve: Literal["B", "C", "D", "inverse", "gG", "BS 3036"] | None = None
    outlet_a: Current | None = Field(default=None, alias="outlet")
    plug_fuse_a: Current | None = Field(default=None, alias="plug_fuse")
    cable_mm2: CrossSection | None = Field(default=None, alias="cable")
    cable_length_m: Length = Field(default=0.0, alias="cable_length")
    conductor: Literal["copper", "aluminium"] = "copper"
    protective_conductor_mm2: CrossSection | None = Field(default=None, alias="protective_conductor")
    installation: Literal["A", "B", "C", "E", "60", "75", "90"] | None = None
    ambient_c: Temperature = Field(default=30.0, alias="ambient")
    grouped_circuits: int = Field(default=1, ge=1, le=20)
    residual_current_device: ResidualText | None = None
    earth_loop_ohm: Resistance | None = Field(default=None, alias="earth_loop")
    earthing: Literal["TN-S", "TN-C-S", "TT"] | None = None
    main_fuse_a: Current | None = Field(default=None, alias="main_fuse")
    place: Surroundings | None = None
    enclosure: Ingress | None = None
    isolator: bool | None = None
    extension: Extension | None = None
    layout: Literal["one phase", "split phase", "three phase"] | None = None
    line: Line | None = None
    ring: bool = False
    dedicated: bool | None = None

    @model_validator(mode="after")
    def _one_voltage(self) -> "Circuit":
        """Exactly one of the two voltages; the other follows."""
        between_v, given = self.voltage_between_lines_v, "voltage_v" in self.model_fields_set
        if between_v is None and not given:
            raise _problem("", 'missing; write a voltage such as "230 V"')
        if between_v is not None and given:
            raise _problem(f"{self.voltage_v:g} V", "give either voltage (line to neutral) or voltage_between_lines")
        if between_v is not None:
            object.__setattr__(self, "voltage_v", between_v / 3**0.5)
        return self

    @model_serializer(mode="wrap")
    def _as_entered(self, write: SerializerFunctionWrapHandler, info: SerializationInfo) -> dict[str, Any]:
        """In a file only the voltage that was entered."""
        written: dict[str, Any] = write(self)
        if self.voltage_between_lines_v is not None and info.by_alias:
            written.pop("voltage", None)
        return written

    @property
    def residual(self) -> ResidualCurrent:
        """What is known of the residual current device.

        Examples
        --------
        >>> Circuit(voltage_v=230.0, residual_current_device="30 mA, type A").residual
        ResidualCurrent(there=True, rating_a=0.03, kind='A')
        """
        entered = self.residual_current_device
        if not isinstance(entered, str):
            return ResidualCurrent(entered, None, None)
        rating, _, kind = entered.partition(" mA")
        return ResidualCurrent(True, float(rating) / 1000, kind.rpartition(" ")[2] or None)  # noqa: FBT003 - a field


def _problem(value: str, message: str) -> PydanticCustomError:
    problem = Problem(where=Place("circuit", "voltage"), value=value, message=message)
    return PydanticCustomError("plan_rules", "{message}", {"message": str(problem), "problems": (problem,)})


class OtherLoad(Table):
    """Whatever else hangs on the circuit, in a window of the local clock.

    ``line`` is where it hangs (left out: where the circuit does, or where it is worst); ``motor`` says that a motor
    starts in it.
    """

    name: Name
    power_w: Power = Field(alias="power")
    duty: Share = 1.0
    from_min: ClockTime = Field(default=0, alias="from")
    to_min: ClockTime = Field(default=MINUTES_PER_DAY, alias="to")
    line: Line | None = None
    motor: bool | None = None


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
    heat_loss_within_w_per_k: LossWithin | None = Field(default=None, alias="heat_loss_within")
    heat_loss_measured_w_per_k: HeatLoss | None = Field(default=None, alias="heat_loss_measured")
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
