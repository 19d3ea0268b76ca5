"""What the mains deliver to the vessel: resistance of the leads, power of the elements, duty of a cap."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from energyplan.physics.conductors import loop_resistance_ohm
from energyplan.plan.model import Circuit, Element, Plan, Vessel

__all__ = ["Heating", "elements_on", "heating", "one_way_m", "supply_resistance_ohm"]

FloatArray = NDArray[np.float64]

# Conductor temperatures at which leads are taken to run: the limit of PVC in fixed wiring (the tables of
# BS 7671 are made for it), the usual column of NFPA 70, and the limit of a rubber lead.
FIXED_C = {"iec": 70.0, "nec": 75.0}
LEAD_C = 60.0


def one_way_m(circuit: Circuit) -> float:
    """Length of single cable, one way, that loses as much as the cable of a circuit does [m].

    Notes
    -----
    On a ring the entered length is that of the whole ring, from the board and back to it, and the outlet counts as
    halfway round, where the drop is largest: two cables of half the length side by side, so a quarter of it.

    References
    ----------
    Common practice with BS 7671, appendix 4: mV/A/m x length of the ring x current / 4 (electricians' forums; 40 m of
    2.5 mm2 at 18 mV/A/m and 32 A lose 5.76 V).

    Examples
    --------
    >>> one_way_m(Circuit(voltage_v=230.0, cable_mm2=2.5, cable_length_m=40.0, ring=True))
    10.0
    """
    return circuit.cable_length_m / 4 if circuit.ring else circuit.cable_length_m


def supply_resistance_ohm(circuit: Circuit | None) -> float:
    """Resistance of cable and extension lead, both ways, warm [ohm]; 0 where they are not entered.

    Examples
    --------
    >>> round(supply_resistance_ohm(Circuit(voltage_v=230.0, cable_mm2=2.5, cable_length_m=20.0)), 3)
    0.356
    """
    total_ohm = 0.0
    if circuit is not None and circuit.cable_mm2 is not None and circuit.cable_length_m > 0:
        total_ohm += loop_resistance_ohm(circuit.cable_mm2, one_way_m(circuit), FIXED_C[circuit.rules])
    if circuit is not None and circuit.extension is not None and circuit.extension.length_m > 0:
        lead = circuit.extension
        total_ohm += loop_resistance_ohm(lead.cable_mm2, lead.length_m, LEAD_C, flexible=True)
    return total_ohm


def elements_on(vessel: Vessel, cap_w: float | None) -> tuple[Element, ...]:
    """Elements that are on at a time when a cap [W] is set (all of them without one).

    A modulated vessel pulses all its elements down to the cap. A switched one uses the combination
    whose nameplates come nearest to the cap from below; below the smallest element, none.

    Examples
    --------
    >>> kettle = Vessel(diameter_m=0.36, height_m=0.48, control="switched",
    ...                 elements=(Element(power_w=2000, voltage_v=230), Element(power_w=1500, voltage_v=230)))
    >>> [element.power_w for element in elements_on(kettle, 1900)]
    [1500.0]
    """
    if cap_w == 0:
        return ()
    if vessel.control == "modulated" or cap_w is None:
        return vessel.elements
    choices = (choice for size in range(len(vessel.elements) + 1) for choice in combinations(vessel.elements, size))
    fitting = [choice for choice in choices if _nameplate_w(choice) <= cap_w]
    return max(fitting, key=_nameplate_w)


def _nameplate_w(elements: tuple[Element, ...]) -> float:
    return sum(element.power_w for element in elements)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Heating:
    """What the elements give under a cap, and what that takes from the board.

    ``heater_w_per_v2`` is the conductance of the elements that are on at a time; ``most_w`` the mean power into the
    contents that the cap allows (draws,); ``board_factor`` the power at the board per power into the contents.
    """

    heater_w_per_v2: float
    most_w: FloatArray
    board_factor: float


def heating(plan: Plan, cap_w: float | None, *, voltage_v: ArrayLike, element_factor: ArrayLike) -> Heating:
    """Work out the elements' power under a cap.

    Parameters
    ----------
    plan : Plan
        Vessel and circuit.
    cap_w : float or None
        Cap on the mean power [W]; None: all elements.
    voltage_v : array_like, shape (draws,)
        Voltage at the board [V].
    element_factor : array_like, shape (draws,)
        Real over nameplate power at the nameplate voltage (IEC 60335-1 allows 0.90 to 1.05).

    Notes
    -----
    An element gives its nameplate power times (V / V_nameplate)^2, V being the board's voltage less the drop in the
    leads: V = V_board / (1 + r G). A cap is the mean power at the plan's own voltage, met by a fixed duty;
    when the mains sag, the capped power sags with them [assumption]. Of an element under the base only
    ``share_into_water`` reaches the contents.
    """
    chosen = elements_on(plan.vessel, cap_w)
    conductance = sum(element.power_w / element.voltage_v**2 for element in chosen)
    inward = sum(element.power_w / element.voltage_v**2 * element.share_into_water for element in chosen)
    inward_frac = inward / conductance if conductance else 1.0
    loss_factor = 1 + supply_resistance_ohm(plan.circuit) * conductance
    nominal_w = conductance * (plan.voltage_v / loss_factor) ** 2
    duty = 1.0 if cap_w is None or nominal_w <= cap_w else cap_w / nominal_w
    actual_w = conductance * (np.asarray(voltage_v, dtype=float) / loss_factor) ** 2 * np.asarray(element_factor)
    return Heating(
        heater_w_per_v2=conductance,
        most_w=np.asarray(duty * inward_frac * actual_w),
        board_factor=loss_factor / inward_frac,
    )
