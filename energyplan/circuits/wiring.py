"""The wires of one circuit: resistance of the cable and of the lead, and what each may carry."""

from dataclasses import dataclass

from energyplan.circuits.cables import (
    ambient_factor,
    cable_capacity_a,
    flexible_capacity_a,
    grouping_factor,
    wound_capacity_a,
)
from energyplan.day.supply import supply_resistance_ohm
from energyplan.plan.model import Circuit, Extension

__all__ = ["Wiring", "cable_carries_a", "extension_carries_a", "method_of", "wiring_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Wiring:
    """Resistance there and back of the fixed cable and of the extension lead [ohm]."""

    cable_ohm: float = 0.0
    lead_ohm: float = 0.0


def wiring_of(circuit: Circuit) -> Wiring:
    """Resistances of the wires that were entered; what was left out counts as none.

    Parameters
    ----------
    circuit : Circuit
        The circuit as entered.

    Returns
    -------
    Wiring
        Loop resistances at operating temperature [ohm].

    Examples
    --------
    >>> wiring = wiring_of(Circuit(voltage_v=230.0, cable_mm2=2.5, cable_length_m=20.0))
    >>> round(wiring.cable_ohm, 3), wiring.lead_ohm
    (0.356, 0.0)
    """
    cable_ohm = supply_resistance_ohm(circuit.model_copy(update={"extension": None}))
    return Wiring(cable_ohm=cable_ohm, lead_ohm=supply_resistance_ohm(circuit) - cable_ohm)


def method_of(circuit: Circuit) -> str:
    """Column of the capacity table: as entered, else the most careful one that is common.

    Examples
    --------
    >>> method_of(Circuit(voltage_v=230.0)), method_of(Circuit(voltage_v=240.0, rules="nec"))
    ('A', '60')
    """
    return circuit.installation or ("60" if circuit.rules == "nec" else "A")


def cable_carries_a(circuit: Circuit, cross_section_mm2: float) -> float | None:
    """Capacity of a cable where it lies: table value, ambient and grouping.

    Parameters
    ----------
    circuit : Circuit
        Rules, installation, ambient and grouping.
    cross_section_mm2 : float
        Cross-section [mm2].

    Returns
    -------
    float or None
        Capacity [A]; None for a cable thinner than the table.

    Notes
    -----
    A ring counts as two legs, of which the more loaded one carries two thirds [assumption; BS 7671 433.1.204
    asks for 20 A a leg on a 32 A breaker, which is 0.63].

    Examples
    --------
    >>> round(cable_carries_a(Circuit(voltage_v=230.0, installation="C", ambient_c=35.0), 2.5), 2)
    25.38
    """
    method = method_of(circuit)
    tabled_a = cable_capacity_a(circuit.rules, cross_section_mm2, method)
    if tabled_a is None:
        return None
    column = method if circuit.rules == "nec" else "70"
    factor = ambient_factor(circuit.rules, circuit.ambient_c, column)
    one_leg_a = tabled_a * factor * grouping_factor(circuit.rules, circuit.grouped_circuits)
    return one_leg_a * 32.0 / 20.0 if circuit.ring else one_leg_a


def extension_carries_a(circuit: Circuit, lead: Extension) -> float:
    """Capacity of an extension lead as it is used: the smaller of its label and its table; less when wound.

    Parameters
    ----------
    circuit : Circuit
        Rules and ambient temperature.
    lead : Extension
        The lead.

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
    tabled_a = flexible_capacity_a(circuit.rules, lead.cable_mm2, lead.length_m, circuit.ambient_c)
    straight_a = min(tabled_a, lead.rating_a) if lead.rating_a is not None else tabled_a
    if lead.unwound:
        return straight_a
    return min(straight_a, lead.rating_wound_a if lead.rating_wound_a is not None else wound_capacity_a(straight_a))
