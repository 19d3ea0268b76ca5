"""The smallest standard breaker and cable for a current, by the rules of the circuit."""

from energyplan.circuits.breakers import CARRIED_MULTIPLE, sizes_a
from energyplan.circuits.cables import breaker_cap_a, cable_sizes_mm2
from energyplan.circuits.voltages import drop_limit
from energyplan.circuits.wiring import cable_carries_a
from energyplan.day.supply import supply_resistance_ohm
from energyplan.plan.model import Circuit

__all__ = ["as_radial", "smallest_breaker_a", "smallest_cable_mm2"]

LEAST_POWER_MM2 = 1.5  # BS 7671 table 52.3: power circuits (from memory); NFPA 70 starts at 14 AWG, 2.08 mm2


def smallest_breaker_a(rules: str, needed_a: float, high_a: float = 0.0) -> float | None:
    """Smallest standard breaker that carries a load.

    Parameters
    ----------
    rules : str
        "iec" or "nec".
    needed_a : float
        Load at the nominal voltage; for "nec" with a quarter of the continuous part on top [A].
    high_a : float
        Load at the upper end of the supply [A], which an IEC breaker must carry without tripping.

    Returns
    -------
    float or None
        Rating [A]; None when the largest of the table is too small.

    Examples
    --------
    >>> smallest_breaker_a("iec", 13.04), smallest_breaker_a("nec", 28.7)
    (16.0, 30.0)
    """
    carried = CARRIED_MULTIPLE if rules == "iec" else float("inf")
    return next((a for a in sizes_a(rules) if a >= needed_a - 1e-9 and carried * a >= high_a), None)


def as_radial(circuit: Circuit) -> Circuit:
    """The circuit as one cable to the same outlet, without a lead: half of a ring.

    Examples
    --------
    >>> as_radial(Circuit(voltage_v=230.0, cable_length_m=40.0, ring=True)).cable_length_m
    20.0
    """
    length_m = circuit.cable_length_m / 2 if circuit.ring else circuit.cable_length_m
    return circuit.model_copy(update={"ring": False, "extension": None, "cable_length_m": length_m})


def smallest_cable_mm2(circuit: Circuit, breaker_a: float, load_a: float) -> float | None:
    """Smallest cable that a breaker protects and that keeps the voltage, laid as the circuit's cable is.

    Parameters
    ----------
    circuit : Circuit
        Rules, installation, ambient, grouping, length and voltage.
    breaker_a : float
        Breaker in front of it [A].
    load_a : float
        Largest current [A].

    Returns
    -------
    float or None
        Cross-section [mm2]; None when no size of the table is enough.

    Examples
    --------
    >>> smallest_cable_mm2(Circuit(voltage_v=230.0, installation="C", cable_length_m=20.0), 16.0, 13.0)
    1.5
    """
    alone = as_radial(circuit)
    sizes_mm2 = (size_mm2 for size_mm2 in cable_sizes_mm2(circuit.rules) if size_mm2 >= LEAST_POWER_MM2)
    return next((size_mm2 for size_mm2 in sizes_mm2 if _is_enough(alone, size_mm2, breaker_a, load_a)), None)


def _is_enough(circuit: Circuit, cross_section_mm2: float, breaker_a: float, load_a: float) -> bool:
    carries_a = cable_carries_a(circuit, cross_section_mm2)
    if carries_a is None or carries_a < breaker_a:
        return False
    cap_a = breaker_cap_a(cross_section_mm2) if circuit.rules == "nec" else None
    if cap_a is not None and cap_a < breaker_a:
        return False
    resistance_ohm = supply_resistance_ohm(circuit.model_copy(update={"cable_mm2": cross_section_mm2}))
    return resistance_ohm * load_a <= drop_limit(circuit.rules).limit_frac * circuit.voltage_v
