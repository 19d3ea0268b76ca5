"""The entries of the form in the order in which people read them off labels, and how their quantities are written."""

import math
import re

from energyplan.base import units
from energyplan.base.records import dataclass
from energyplan.base.units import Kind, UnitSystem, convert, read_quantity
from energyplan.physics.conductors import awg_of_mm2

__all__ = [
    "SECTIONS", "Choice", "Number", "Quantity", "Section", "Writing", "hinted", "is_bare", "shown_unit", "with_unit",
    "written",
]  # fmt: skip

Path = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Writing:
    """How a kind of quantity is written in each system: unit for the conversion, unit as shown, most decimals."""

    kind: Kind
    metric: tuple[str, str]
    us: tuple[str, str]
    digits: int = 1


CM = Writing(units.LENGTH, ("cm", "cm"), ("inch", "in"))
METRES = Writing(units.LENGTH, ("m", "m"), ("foot", "ft"))
MM = Writing(units.LENGTH, ("mm", "mm"), ("inch", "in"), 2)
KG = Writing(units.MASS, ("kg", "kg"), ("lb", "lb"), 2)
LITRES = Writing(units.VOLUME, ("L", "L"), ("gallon", "gal"), 2)
CELSIUS = Writing(units.TEMPERATURE, ("degC", "°C"), ("degF", "°F"))
WATTS = Writing(units.POWER, ("W", "W"), ("W", "W"), 0)
VOLTS = Writing(units.VOLTAGE, ("V", "V"), ("V", "V"))
AMPS = Writing(units.CURRENT, ("A", "A"), ("A", "A"))
OHMS = Writing(units.RESISTANCE, ("ohm", "ohm"), ("ohm", "ohm"), 2)
MINUTES = Writing(units.DURATION, ("minute", "min"), ("minute", "min"))
AREA = Writing(units.AREA, ("cm**2", "cm2"), ("inch**2", "in2"))
LOSS = Writing(units.HEAT_LOSS, ("W/K", "W/K"), ("W/K", "W/K"), 2)
LOSS_WITHIN = Writing(units.LOSS_WITHIN, ("W/K", "W/K"), ("W/K", "W/K"), 2)
CONDUCTION = Writing(units.CONDUCTIVITY, ("W/m/K", "W/m/K"), ("W/m/K", "W/m/K"), 3)
WIRE = Writing(units.CROSS_SECTION, ("mm2", "mm2"), ("mm2", "mm2"), 2)
SOAK = Writing(units.VOLUME_PER_MASS, ("L/kg", "L/kg"), ("gallon/lb", "gal/lb"), 3)
HEIGHT = Writing(units.ALTITUDE, ("m", "m"), ("foot", "ft"), 0)
SPEED = Writing(units.SPEED, ("m/s", "m/s"), ("foot/s", "ft/s"))


_BARE = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)")


def is_bare(text: str) -> bool:
    """Whether a text is a number without a unit.

    >>> is_bare("27,5"), is_bare("27 L")
    (True, False)
    """
    return _BARE.fullmatch(text.strip()) is not None


def with_unit(text: str, unit: str) -> str | None:
    """What was typed, with the unit of its field where it is a bare number; None where nothing was typed.

    >>> with_unit("36", "cm"), with_unit("27,5", "L"), with_unit("14 in", "cm"), with_unit(" ", "cm")
    ('36 cm', '27.5 L', '14 in', None)
    """
    text = text.strip()
    if not text:
        return None
    return f"{text.replace(',', '.')} {unit}".strip() if is_bare(text) else text


def shown_unit(how: Writing, system: UnitSystem) -> str:
    """The unit that stands in a field, and that a bare number takes."""
    return (how.metric if system == "metric" else how.us)[1]


def written(text: str, how: Writing, system: UnitSystem) -> str:
    """A quantity of the plan file in the units of the display.

    Examples
    --------
    >>> written("0.36 m", CM, "metric"), written("0.36 m", CM, "us"), written("67.0 degC", CELSIUS, "us")
    ('36 cm', '14.2 in', '152.6 °F')
    """
    value = read_quantity(text, how.kind)
    if how is WIRE and system == "us" and (gauge := awg_of_mm2(value)) is not None:
        return f"{gauge} AWG" if gauge > 0 else f"{1 - gauge}/0 AWG"
    unit, shown = how.metric if system == "metric" else how.us
    kept = "m**2" if how.kind.unit == "m2" else how.kind.unit
    number = f"{float(convert(value, kept, unit)):.{how.digits}f}"
    return f"{number.rstrip('0').rstrip('.') if '.' in number else number} {shown}"


def hinted(hint: str, how: Writing, system: UnitSystem) -> str:
    """A hint with the typical values in it in the units of the display, to two figures or whole.

    Examples
    --------
    >>> hinted("Typical 28 to 40 cm (common practice)", CM, "us")
    'Typical 11 to 16 in (common practice)'
    >>> hinted("every 300 m lowers the boiling point", HEIGHT, "us")
    'every 984 ft lowers the boiling point'
    """
    (unit, shown), (us_unit, us_shown) = how.metric, how.us
    if system == "metric" or how is WIRE or unit == us_unit:
        return hint

    def told(number: str) -> str:
        kept = read_quantity(f"{number} {unit}", how.kind)
        value = float(convert(kept, "m**2" if how.kind.unit == "m2" else how.kind.unit, us_unit))
        return f"{value:.{max(1 - math.floor(math.log10(abs(value))), 0) if value else 0}f}"

    number = r"\d+(?:\.\d+)?"
    ranges = re.compile(rf"({number})(?:( to )({number}))? {re.escape(shown)}(?![\w/])")
    return ranges.sub(lambda found: f"{told(found[1])}{found[2] + told(found[3]) if found[2] else ''} {us_shown}", hint)


@dataclass(frozen=True, slots=True)
class Quantity:
    """A quantity, typed as text with its unit."""

    path: Path
    label: str
    writing: Writing
    hint: str = ""


@dataclass(frozen=True, slots=True)
class Number:
    """A plain number between two others."""

    path: Path
    label: str
    low: float
    high: float
    step: float
    hint: str = ""


@dataclass(frozen=True, slots=True)
class Choice:
    """One of a few words; None stands for "not entered"."""

    path: Path
    label: str
    options: tuple[tuple[str | bool | int | None, str], ...]
    hint: str = ""


@dataclass(frozen=True, slots=True)
class Section:
    """A group of entries under one heading; the further ones are folded away."""

    title: str
    words: str
    entries: tuple[Quantity | Number | Choice, ...]
    further: tuple[Quantity | Number | Choice, ...] = ()


YES_NO = ((None, "not known"), (True, "yes"), (False, "no"))
RESIDUAL = (
    (None, "not known"), (False, "none"), (True, "there, rating not known"), ("30 mA, type A", "30 mA, type A"),
    ("30 mA, type F", "30 mA, type F"), ("30 mA, type AC", "30 mA, type AC"), ("30 mA", "30 mA, type not known"),
    ("5 mA", "5 mA"),
)  # fmt: skip
PLACES = ((None, "not said"), ("dry", "indoors, dry"), ("damp", "damp"), ("garage", "garage"), ("outdoors", "outdoors"))
INGRESS = (
    (None, "not known"),
    ("IP20", "IP20, ordinary"),
    *((code, code) for code in ("IPX4", "IP44", "IP55", "IP65")),
)

VESSEL = Section(
    "Vessel",
    "By tape measure and bathroom scale.",
    (
        Quantity(("vessel", "diameter"), "Inside diameter", CM, "Typical 28 to 40 cm (common practice)"),
        Quantity(("vessel", "height"), "Inside height", CM, "Typical 35 to 60 cm (common practice)"),
        Quantity(("vessel", "empty_mass"), "Empty mass with basket", KG,
                 "Typical 7 to 12 kg (common practice); its stored heat counts"),
        Quantity(("vessel", "jacket_thickness"), "Jacket, thickness", MM,
                 "Leave empty for a bare wall; jackets 5 to 20 mm (common practice)"),
        Quantity(("vessel", "pump"), "Pump", WATTS, "On its plate; 20 to 150 W (common practice)"),
        Choice(("vessel", "control"), "How less than full power is made",
               (("modulated", "pulsed, any power"), ("switched", "elements on or off")),
               "Pulsed elements draw their full current while they are on"),
    ),
    (
        Quantity(("vessel", "power_step"), "Smallest change of power", WATTS, "Often 50 or 100 W (common practice)"),
        Quantity(("vessel", "heat_loss"), "Measured heat loss, lid on", LOSS,
                 "From a cool-down; replaces the estimate. Bare 4 to 7 W/K (common practice)"),
        Quantity(("vessel", "heat_loss_within"), "Measured heat loss, give or take", LOSS_WITHIN,
                 "As its cool-down told; left empty, a tenth of the loss. Another loss typed in forgets it"),
        Number(("vessel", "fittings"), "Loss with pump loop and feet, times", 1.0, 5.0, 0.1,
               "1.3 to 2 (common practice)"),
        Number(("vessel", "emissivity"), "Emissivity of the outer wall", 0.02, 1.0, 0.01,
               "Bare steel 0.2 to 0.3, cloth or paint 0.9 (common practice)"),
        Quantity(("vessel", "jacket_conductivity"), "Jacket, conductivity", CONDUCTION,
                 "Foams and wool 0.03 to 0.05 W/m/K (common practice)"),
        Number(("vessel", "pump_heat"), "Share of the pump's power into the wort", 0.0, 1.0, 0.05,
               "0.4 to 0.8, the rest warms the motor (common practice)"),
        Quantity(("vessel", "standby"), "Electronics", WATTS, "1 to 10 W (common practice)"),
        Quantity(("vessel", "element_top"), "Elements reach up to", CM,
                 "Above the floor inside; 0 under the base. Asked for before it heats with nobody there"),
        Quantity(("vessel", "least_boil"), "Least power seen to boil, lid off", WATTS,
                 "Turned down until it stops rolling; replaces the estimate"),
    ),
)  # fmt: skip
BATCH = Section(
    "Batch",
    "What goes in, and what should come out.",
    (
        Quantity(("batch", "water"), "Water at the start", LITRES,
                 "Measured at its own temperature; 20 to 40 L in vessels of this kind (common practice)"),
        Quantity(("batch", "water_temperature"), "Temperature of the water", CELSIUS,
                 "From the tap 6 to 20 °C (common practice)"),
        Quantity(("batch", "grain"), "Grain", KG, "4 to 8 kg (common practice)"),
        Quantity(("batch", "grain_temperature"), "Temperature of the grain", CELSIUS,
                 "Leave empty for that of the air; 10 to 22 °C indoors (common practice)"),
        Quantity(("batch", "sparge_water"), "Sparge water", LITRES,
                 "0 without a sparge, else 4 to 12 L (common practice)"),
        Quantity(("batch", "sparge_temperature"), "Temperature of the sparge water", CELSIUS,
                 "75 to 78 °C (common practice)"),
        Number(("batch", "gravity"), "Gravity after the boil", 1.0, 1.2, 0.001,
               "Specific gravity at 20 °C; 1.035 to 1.080 (common practice)"),
    ),
    (
        Number(("batch", "grain_moisture"), "Moisture of the grain", 0.0, 0.2, 0.01,
               "0.03 to 0.05 for malt (common practice)"),
        Quantity(("batch", "absorption"), "Wort held by the grain", SOAK, "0.8 to 1.05 L/kg drained (common practice)"),
    ),
)  # fmt: skip
PLACE = Section(
    "Place",
    "Where you brew, when you brew.",
    (
        Quantity(("site", "air"), "Air", CELSIUS, "5 to 25 °C (common practice); the colder, the more a hold takes"),
        Number(("site", "humidity"), "Humidity of the air", 0.0, 1.0, 0.05, "Indoors 0.4 to 0.6 (common practice)"),
        Quantity(
            ("site", "altitude"),
            "Height above the sea",
            HEIGHT,
            "From a map; every 300 m lowers the boiling point by about 1 K (common practice)",
        ),
    ),
    (
        Quantity(
            ("site", "surroundings"),
            "Walls around",
            CELSIUS,
            "Leave empty for that of the air; colder in an unheated garage",
        ),
        Quantity(("site", "draught"), "Draught", SPEED, "Still air 0, an open door 0.5 m/s (common practice)"),
    ),
)
CIRCUIT = Section(
    "Circuit",
    "On the breaker board, the outlet and the lead. Leave empty what you don't know and ask an electrician for it.",
    (
        Choice(("circuit", "rules"), "Rules", (("iec", "IEC 60364, BS 7671"), ("nec", "NFPA 70 (NEC)")),
               "NFPA 70 in North America, IEC 60364 elsewhere"),
        Quantity(("circuit", "voltage"), "Voltage", VOLTS,
                 "At the board: 230 V, 240 V or 120 V; measured is better than nominal"),
        Quantity(("circuit", "breaker"), "Breaker", AMPS, "The number on it: B16 is 16 A"),
        Choice(("circuit", "breaker_curve"), "Curve of the breaker",
               ((None, "not known"), ("B", "B"), ("C", "C"), ("D", "D"), ("inverse", "inverse time (NEC)"),
                ("gG", "a gG fuse"), ("BS 3036", "a rewirable fuse (BS 3036)")),
               "The letter before the number"),
        Quantity(("circuit", "outlet"), "Outlet and plug", AMPS, "Printed on them; 10, 13, 16, 20 or 32 A"),
        Quantity(("circuit", "plug_fuse"), "Fuse in the plug", AMPS, "BS 1362 plugs only"),
        Quantity(("circuit", "cable"), "Cable, copper", WIRE, "Printed on its sheath: 1.5 or 2.5 mm2, 14 or 12 AWG"),
        Quantity(("circuit", "cable_length"), "Length of the cable, one way (a ring: all round)", METRES,
                 "From the board to the outlet; 5 to 30 m (common practice)"),
        Choice(("circuit", "residual_current_device"), "Residual current device (GFCI)", RESIDUAL,
               "It has a button marked T or Test, and its rating and type printed on it"),
        Choice(("circuit", "place"), "Where the outlet is", PLACES, "It decides on protection and enclosure"),
        Choice(("circuit", "enclosure"), "Enclosure of the outlet", INGRESS, "The IP code printed on it"),
    ),
    (
        Choice(("circuit", "installation"), "How the cable lies",
               ((None, "not known"), ("A", "A: in a wall with insulation"), ("B", "B: in a conduit"),
                ("C", "C: on a wall"), ("E", "E: in free air"), ("60", "60 °C column"), ("75", "75 °C column"),
                ("90", "90 °C column")), "Reference method; for NEC the temperature column"),
        Quantity(("circuit", "ambient"), "Air around the cable", CELSIUS,
                 "30 °C is what the tables of cables take; warmer carries less"),
        Choice(("circuit", "ring"), "The cable is a ring", ((False, "no"), (True, "yes")),
               "Its length is then that of the whole ring, from the board and back"),
        Quantity(("circuit", "protective_conductor"), "Protective conductor of the cable", WIRE,
                 "Leave empty for that of flat cable; an electrician knows"),
        Choice(("circuit", "dedicated"), "Nothing else on this circuit", YES_NO,
               "Switch its breaker off and see what goes out"),
        Choice(("circuit", "isolator"), "A plug or switch in sight cuts all lines", YES_NO,
               "From where the vessel stands, within reach"),
        Choice(("circuit", "earthing"), "Earthing of the house",
               ((None, "not known"), ("TN-S", "TN-S"), ("TN-C-S", "TN-C-S"), ("TT", "TT")), "An electrician knows"),
        Quantity(("circuit", "earth_loop"), "Fault loop at the outlet", OHMS, "Measured by an electrician: 0.6 ohm"),
        Quantity(("circuit", "main_fuse"), "Main fuse", AMPS, "Printed on it, beside the meter"),
        Quantity(("circuit", "extension", "cable"), "Extension lead, copper", WIRE,
                 "Printed on it: 1.0 to 2.5 mm2; leave empty when there is none"),
        Quantity(("circuit", "extension", "length"), "Length of the lead", METRES,
                 "Printed on it; 5 to 25 m (common practice)"),
        Quantity(("circuit", "extension", "rating"), "Rating of the lead", AMPS,
                 "Printed on it, for the lead fully unwound"),
    ),
)  # fmt: skip
SECOND = Section(
    "Second water heater",
    "It heats the sparge water on the same day. Leave empty when there is none.",
    (
        Quantity(
            ("second_heater", "power"),
            "Power of the second heater",
            WATTS,
            "On its plate; 1500 to 3000 W (common practice)",
        ),
    ),
)
SECTIONS = (VESSEL, BATCH, SECOND, PLACE, CIRCUIT)
