"""The electrical tables of a plan: the circuit, its lead, what else hangs on it."""

import re
from typing import Annotated, Any, Literal, NamedTuple

from pydantic import (
    BeforeValidator,
    Field,
    SerializationInfo,
    SerializerFunctionWrapHandler,
    model_serializer,
    model_validator,
)
from pydantic_core import PydanticCustomError

from energyplan.base.errors import Place, Problem
from energyplan.base.units import CrossSection, Current, Length, Power, Resistance, Temperature, Voltage
from energyplan.plan.values import MINUTES_PER_DAY, ClockTime, Name, Share, Table

__all__ = [
    "Circuit",
    "Extension",
    "Line",
    "OtherLoad",
    "ResidualCurrent",
    "Surroundings",
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
    vessel's outlet; ``ring`` that it is a ring, whose ``cable_length_m`` is that of the whole ring, from the board and
    back to it. ``earth_loop_ohm`` is the measured impedance of the fault loop at the outlet. Among the breaker curves
    "gG" and "BS 3036" are fuses.
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
