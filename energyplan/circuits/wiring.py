"""The way from the board to the vessel, and the voltages at which it is looked at."""

from energyplan.base.records import dataclass
from energyplan.circuits.cables import (
    BURIED_FRAC,
    ambient_factor,
    cable_capacity_a,
    flexible_capacity_a,
    grouping_factor,
    wound_capacity_a,
)
from energyplan.day.supply import FIXED_C, LEAD_C, one_way_m
from energyplan.physics.conductors import resistance_ohm_per_m
from energyplan.plan.equipment import Circuit, Extension

__all__ = [
    "ELEMENT_HIGH",
    "ELEMENT_LOW",
    "DropLimit",
    "VoltageBand",
    "buried_carries_a",
    "cable_carries_a",
    "cable_factors",
    "drop_limit",
    "earth_path_ohm",
    "extension_carries_a",
    "method_of",
    "protective_mm2",
    "voltage_band",
]

_DERATING_COLUMN = "90"  # conductors of today's American cables have insulation for 90 °C (common practice, no source)


# Protective conductor of flat cable by the size of the line conductor, mm2 (BS 6004, table 8; from memory).
_REDUCED_MM2 = ((1.0, 1.0), (1.5, 1.0), (2.5, 1.5), (4.0, 1.5), (6.0, 2.5), (10.0, 4.0), (16.0, 6.0))


def method_of(circuit: Circuit) -> str:
    """Column of the capacity table: as entered, else a careful one that is common.

    Notes
    -----
    For "nec" it is that of the terminals, which are made for 60 °C up to 100 A unless marked 75 °C; "90" is never one
    of theirs (110.14(C)).

    Examples
    --------
    >>> method_of(Circuit(voltage_v=230.0)), method_of(Circuit(voltage_v=240.0, rules="nec", installation="90"))
    ('A', '60')
    """
    if circuit.rules == "nec":
        return "75" if circuit.installation == "75" else "60"
    return circuit.installation or "A"


def cable_factors(circuit: Circuit, loaded: int = 2) -> tuple[float, float]:
    """Factors for the warmth of the place and for cables in a bunch.

    Examples
    --------
    >>> cable_factors(Circuit(voltage_v=230.0, ambient_c=40.0, grouped_circuits=2))
    (0.87, 0.8)
    """
    column = _DERATING_COLUMN if circuit.rules == "nec" else "70"
    ambient = ambient_factor(circuit.rules, circuit.ambient_c, column)
    return ambient, grouping_factor(circuit.rules, circuit.grouped_circuits, loaded)


def cable_carries_a(circuit: Circuit, cross_section_mm2: float, loaded: int = 2) -> float | None:
    """Capacity of a cable where it lies: table value, ambient and grouping.

    Parameters
    ----------
    circuit : Circuit
        Rules, installation, ambient and grouping.
    cross_section_mm2 : float
        Cross-section [mm2].
    loaded : int
        Loaded conductors, 2 or 3.

    Returns
    -------
    float or None
        Capacity [A]; None for a cable thinner than the table.

    Notes
    -----
    A ring counts as two legs, of which the more loaded one carries two thirds [assumption; BS 7671 433.1.204
    asks for 20 A a leg on a 32 A breaker, which is 0.63]. For "nec" the factors apply to the 90 °C column, and the
    terminals' column caps what is left (110.14(C)).

    Examples
    --------
    >>> round(cable_carries_a(Circuit(voltage_v=230.0, installation="C", ambient_c=35.0), 2.5), 2)
    25.38
    >>> cable_carries_a(Circuit(voltage_v=120.0, rules="nec", installation="60", ambient_c=38.0), 3.31)
    20.0
    """
    aluminium = circuit.conductor == "aluminium"
    ambient, grouping = cable_factors(circuit, loaded)

    def tabled_a(method: str) -> float | None:
        return cable_capacity_a(circuit.rules, cross_section_mm2, method, loaded=loaded, aluminium=aluminium)

    own_a = tabled_a(method_of(circuit))
    if own_a is None:
        return None
    if circuit.rules == "nec":
        return min(own_a, (tabled_a(_DERATING_COLUMN) or own_a) * ambient * grouping)
    one_leg_a = own_a * ambient * grouping
    return one_leg_a * 32.0 / 20.0 if circuit.ring else one_leg_a


def buried_carries_a(circuit: Circuit, cross_section_mm2: float, loaded: int = 2) -> float:
    """Capacity of a cable wholly in thermal insulation, the least of all ways of laying it [A].

    Examples
    --------
    >>> buried_carries_a(Circuit(voltage_v=230.0), 2.5)
    13.5
    """
    clipped = circuit.model_copy(update={"installation": "C"})
    return BURIED_FRAC * (cable_carries_a(clipped, cross_section_mm2, loaded) or 0.0)


def extension_carries_a(circuit: Circuit, lead: Extension, loaded: int = 2) -> float:
    """Capacity of an extension lead as it is used: the smaller of its label and its table; less when wound.

    Parameters
    ----------
    circuit : Circuit
        Rules and ambient temperature.
    lead : Extension
        The lead.
    loaded : int
        Loaded conductors, 2 or 3.

    Returns
    -------
    float
        Capacity [A].

    Examples
    --------
    >>> lead = Extension(cable_mm2=1.5, length_m=25.0, rating_a=13.0)
    >>> extension_carries_a(Circuit(voltage_v=230.0, ambient_c=20.0), lead)
    13.0
    """
    tabled_a = flexible_capacity_a(circuit.rules, lead.cable_mm2, lead.length_m, circuit.ambient_c, loaded=loaded)
    straight_a = min(tabled_a, lead.rating_a) if lead.rating_a is not None else tabled_a
    if lead.unwound:
        return straight_a
    return min(straight_a, lead.rating_wound_a if lead.rating_wound_a is not None else wound_capacity_a(straight_a))


def protective_mm2(circuit: Circuit) -> float | None:
    """Cross-section of the cable's protective conductor: as entered, else the usual reduced one of flat cable [mm2].

    A size between two rows has that of the smaller one.

    Examples
    --------
    >>> protective_mm2(Circuit(voltage_v=230.0, cable_mm2=4.0)), protective_mm2(Circuit(voltage_v=230.0))
    (1.5, None)
    """
    if circuit.protective_conductor_mm2 is not None or circuit.cable_mm2 is None:
        return circuit.protective_conductor_mm2
    if circuit.cable_mm2 > _REDUCED_MM2[-1][0] * 1.005:
        return circuit.cable_mm2 / 2
    return max((earth for size, earth in _REDUCED_MM2 if size <= circuit.cable_mm2 * 1.005), default=circuit.cable_mm2)


def earth_path_ohm(circuit: Circuit) -> float | None:
    """Resistance of line and protective conductor to the vessel's plug, warm: R1 + R2 [ohm].

    Returns
    -------
    float or None
        None where cable or length was not entered.

    Examples
    --------
    >>> round(earth_path_ohm(Circuit(voltage_v=230.0, cable_mm2=2.5, cable_length_m=20.0)), 3)
    0.468
    """
    earth_mm2 = protective_mm2(circuit)
    if circuit.cable_mm2 is None or earth_mm2 is None or circuit.cable_length_m <= 0:
        return None
    warm_c, aluminium = FIXED_C[circuit.rules], circuit.conductor == "aluminium"
    per_m = sum(resistance_ohm_per_m(mm2, warm_c, aluminium=aluminium) for mm2 in (circuit.cable_mm2, earth_mm2))
    lead = circuit.extension
    lead_ohm = 2 * lead.length_m * resistance_ohm_per_m(lead.cable_mm2, LEAD_C, flexible=True) if lead else 0.0
    return one_way_m(circuit) * per_m + lead_ohm


# IEC 60335-1, 10.1, from memory (RULES["nameplate"]): input of a heating appliance against its plate.
ELEMENT_HIGH = 1.05


ELEMENT_LOW = 0.90


# RULES["iec voltage"] and RULES["nec voltage"]: shares above and below nominal.
_IEC_BAND = (0.10, 0.10)


_NEC_BAND = (0.05, 0.05)


# IEC 60038 and ANSI C84.1, from memory: nominal voltages between the conductors of a final circuit.
_IEC_NOMINAL_V = (230.0,)


_NEC_NOMINAL_V = (120.0, 208.0, 240.0, 277.0, 480.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class VoltageBand:
    """Nominal voltage of a supply and the ends of its band [V]; whether it is one of those the rules are made for."""

    nominal_v: float
    low_v: float
    high_v: float
    is_known: bool = True


def voltage_band(rules: str, entered_v: float) -> VoltageBand:
    """Band of the supply that an entered voltage belongs to.

    Parameters
    ----------
    rules : str
        "iec" or "nec".
    entered_v : float
        Voltage at the board as entered or measured [V].

    Returns
    -------
    VoltageBand
        The standard nominal voltage whose band holds the entered one, with that band. A voltage that belongs to no
        supply of these rules (100 V, 127 V, 110 V from a centre tap) is taken as nominal itself, and not known.

    References
    ----------
    EN 50160 (+10/-10 %), ANSI C84.1 range A (+5/-5 %); the statutory band of the United Kingdom, +10/-6 %
    (216.2 to 253 V), lies inside the former.

    Examples
    --------
    >>> voltage_band("iec", 245.0).nominal_v, voltage_band("nec", 240.0).high_v
    (230.0, 252.0)
    """
    up, down = _NEC_BAND if rules == "nec" else _IEC_BAND
    known = _NEC_NOMINAL_V if rules == "nec" else _IEC_NOMINAL_V
    near = [v for v in known if v * (1 - down) <= entered_v <= v * (1 + up)]
    nominal_v = near[0] if near else entered_v  # the bands of a list do not meet
    return VoltageBand(
        nominal_v=nominal_v, low_v=nominal_v * (1 - down), high_v=nominal_v * (1 + up), is_known=bool(near)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class DropLimit:
    """Largest share of the voltage that the cable may lose, and whether that is a rule or advice."""

    limit_frac: float
    binding: bool


def drop_limit(rules: str) -> DropLimit:
    """Limit of the voltage drop for heating loads.

    Parameters
    ----------
    rules : str
        "iec" (5 %, 3 % for lighting) or "nec" (3 % on the branch circuit, an informational note).

    References
    ----------
    BS 7671:2018, appendix 4, section 6.4; NFPA 70, 210.19(A), informational note (published reproductions).

    Examples
    --------
    >>> drop_limit("iec").limit_frac
    0.05
    """
    return DropLimit(limit_frac=0.03, binding=False) if rules == "nec" else DropLimit(limit_frac=0.05, binding=True)
