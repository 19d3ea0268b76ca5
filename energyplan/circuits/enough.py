"""What would be enough: the smallest circuit for a plan, and the largest power for a circuit."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo

import numpy as np

from energyplan.base.load import LoadProfile
from energyplan.circuits.breakers import NEC_CONTINUOUS_FACTOR, NEC_ONE_APPLIANCE_FRAC
from energyplan.circuits.cables import cable_name
from energyplan.circuits.outlets import outlets_for
from energyplan.circuits.ratings import NAMEPLATE_SLACK_FRAC
from energyplan.circuits.sizing import as_radial, smallest_breaker_a, smallest_cable_mm2
from energyplan.circuits.study import Study, study
from energyplan.circuits.wiring import method_of
from energyplan.day.supply import supply_resistance_ohm
from energyplan.plan.model import Circuit, OtherLoad

__all__ = ["Enough", "LargestPower", "enough", "largest_power"]

_NOTHING = "no size of the tables is enough: ask an electrician about a supply of its own"


@dataclass(frozen=True, slots=True, kw_only=True)
class Enough:
    """The smallest standard circuit for a day as planned.

    ``needed_a`` is what the breaker must be rated for, ``load_a`` the largest current at the nominal voltage.
    Breaker, cable and outlets are None or empty where the tables end; ``reasons`` are sentences.
    """

    load_a: float
    needed_a: float
    breaker_a: float | None
    cable_mm2: float | None
    cable: str
    outlet_a: float | None
    outlets: tuple[str, ...]
    voltage_drop_frac: float | None
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LargestPower:
    """The largest power that the circuit takes beside whatever else is on.

    ``power_w`` is the nameplate power, at the nominal voltage, of the elements that may be on at a time;
    ``limited_by`` names the rating. Both are None and "" when no rating was entered.
    ``lasting_power_w`` is the same for a load of 3 h and more (equal to ``power_w`` under IEC rules).
    """

    power_w: float | None
    lasting_power_w: float | None
    limited_by: str
    beside_a: float
    reason: str


def enough(
    profiles: Sequence[LoadProfile],
    circuit: Circuit,
    other_loads: Sequence[OtherLoad],
    start: datetime,
    zone: tzinfo,
) -> Enough:
    """Find the smallest breaker, cable and outlet for the day as planned.

    Parameters
    ----------
    profiles, circuit, other_loads, start, zone
        As `energyplan.circuits.check.check`. Of the circuit count rules, voltage, cable length, installation,
        ambient and grouping; its own breaker, outlet, cable and lead do not.

    Returns
    -------
    Enough
        Standard sizes.

    Notes
    -----
    IEC: the breaker is rated for the load and carries it (1.13 times its rating) at the upper end of the supply.
    NFPA 70: the load with a quarter of its three-hour part on top, and one plugged-in appliance at most 80 % of a
    shared 15 or 20 A circuit. The cable carries the breaker's rating and keeps the voltage drop. The drop is counted
    with a cable of the size found.
    """
    bare = as_radial(circuit).model_copy(update={"cable_mm2": None, "breaker_a": None})
    studied = study(profiles, bare, other_loads, start, zone)
    load_a = studied.peak_a(studied.nominal)
    needed_a, reasons = _needed_a(studied, load_a)
    breaker_a = smallest_breaker_a(circuit.rules, needed_a, studied.peak_a(studied.high))
    cable_mm2 = smallest_cable_mm2(circuit, breaker_a, load_a) if breaker_a else None
    outlets = _outlets(studied, breaker_a)
    if breaker_a is None or cable_mm2 is None:
        reasons.append(_NOTHING)
    if not outlets:
        reasons.append("no common outlet of the table is enough: ask for a fixed connection")
    if not circuit.cable_length_m:
        reasons.append("the length of the cable was not entered, so its voltage drop does not count")
    if circuit.installation is None:
        reasons.append(f"how the cable will lie was not entered: counted with {method_of(circuit)}, the careful guess")
    drop_frac = None
    if cable_mm2 is not None:
        drop_frac = supply_resistance_ohm(bare.model_copy(update={"cable_mm2": cable_mm2})) * load_a / circuit.voltage_v
    return Enough(
        load_a=load_a,
        needed_a=needed_a,
        breaker_a=breaker_a,
        cable_mm2=cable_mm2,
        cable=cable_name(cable_mm2) if cable_mm2 else "",
        outlet_a=outlets[0][0] if outlets else None,
        outlets=tuple(name for _, name in outlets),
        voltage_drop_frac=drop_frac,
        reasons=tuple(reasons),
    )


def _needed_a(studied: Study, load_a: float) -> tuple[float, list[str]]:
    """Rating that the breaker needs, and why."""
    reasons = [f"at most {load_a:.1f} A are on at once"]
    if studied.circuit.rules != "nec":
        return load_a, reasons
    lasting_a = studied.lasting_a(pulses_count_as_on=True)
    needed_a = load_a + (NEC_CONTINUOUS_FACTOR - 1) * lasting_a
    if lasting_a >= 0.05:
        reasons.append(f"{lasting_a:.1f} A of it last 3 hours or more and count with a quarter more: {needed_a:.1f} A")
    shared_a = studied.vessel_a(studied.nominal) / NEC_ONE_APPLIANCE_FRAC
    if studied.shared and needed_a < shared_a and needed_a <= 20.0:
        needed_a = shared_a
        alone = "; on a circuit of its own less would do"
        reasons.append(f"one plugged-in appliance takes at most 80 % of a shared circuit: {shared_a:.1f} A{alone}")
    return needed_a, reasons


def _outlets(studied: Study, breaker_a: float | None) -> list[tuple[float, str]]:
    """Outlets for the vessel: under NFPA 70 rated at least as the circuit."""
    circuit = studied.circuit
    least_a = studied.vessel_a(studied.nominal) / (1 + NAMEPLATE_SLACK_FRAC)
    if circuit.rules == "nec" and breaker_a is not None:
        least_a = max(least_a, breaker_a)
    found = outlets_for(circuit.rules, circuit.voltage_v * studied.vessel.voltage_frac, least_a)
    return [(outlet.rating_a, outlet.designation) for outlet in found]


def largest_power(
    profiles: Sequence[LoadProfile],
    circuit: Circuit,
    other_loads: Sequence[OtherLoad],
    start: datetime,
    zone: tzinfo,
) -> LargestPower:
    """Find the largest power of the vessel's elements that the circuit as it is takes.

    Parameters
    ----------
    profiles, circuit, other_loads, start, zone
        As `energyplan.circuits.check.check`.

    Returns
    -------
    LargestPower
        Power at the nominal voltage and the rating that limits it.

    Notes
    -----
    What the rest draws at its highest while the vessel is on comes off the breaker's and the cable's ratings; the
    vessel's own pump and electronics come off every rating. The drop in the wires, which lowers the current a
    little, is not credited.
    """
    studied = study(profiles, circuit, other_loads, start, zone)
    on_a = studied.nominal.on_a
    beside_a = float(np.where(on_a[0] > 0, on_a[1:].sum(axis=0), 0.0).max())
    vessel = studied.vessel
    volts = studied.band.nominal_v * vessel.voltage_frac / vessel.share
    own_a = float(vessel.other_w.max()) / volts
    limits = [(_left_a(studied, rating.code, rating.limit_a, beside_a), rating.name) for rating in studied.ratings]
    if not limits:
        return LargestPower(
            power_w=None, lasting_power_w=None, limited_by="", beside_a=beside_a, reason="no rating was entered"
        )
    left_a, name = min(limits)
    power_w = max(left_a - own_a, 0.0) * volts
    lasting_w = min(power_w, _lasting_w(studied, beside_a + own_a, volts))
    reason = f"the {name} leaves the vessel {max(left_a, 0.0):.1f} A beside {beside_a:.1f} A of other loads"
    return LargestPower(power_w=power_w, lasting_power_w=lasting_w, limited_by=name, beside_a=beside_a, reason=reason)


def _left_a(studied: Study, code: str, limit_a: float, beside_a: float) -> float:
    """Subtract what else goes through a rating, and what its rules keep back [A]."""
    circuit = studied.circuit
    if code in ("outlet", "plug_fuse", "extension"):
        return limit_a
    left_a = limit_a - beside_a
    plugged_in = circuit.rules == "nec" and circuit.outlet_a is not None and not circuit.dedicated
    if code == "breaker" and plugged_in and studied.shared and limit_a in (15.0, 20.0):
        return min(left_a, NEC_ONE_APPLIANCE_FRAC * limit_a)
    return left_a


def _lasting_w(studied: Study, beside_a: float, volts: float) -> float:
    breaker_a = studied.circuit.breaker_a
    if studied.circuit.rules != "nec" or breaker_a is None:
        return float("inf")
    return max(breaker_a / NEC_CONTINUOUS_FACTOR - beside_a, 0.0) * volts
