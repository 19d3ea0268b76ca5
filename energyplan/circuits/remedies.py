"""What would mend an overload: smaller elements, another hour, the next breaker with its cable."""

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from energyplan.circuits.cables import cable_name
from energyplan.circuits.findings import one_of
from energyplan.circuits.ratings import NAMEPLATE_SLACK_FRAC
from energyplan.circuits.sizing import as_radial, smallest_breaker_a, smallest_cable_mm2
from energyplan.circuits.stagger import Draw, SharedLimit, least_shift_s
from energyplan.circuits.study import Study

__all__ = ["mend_circuit", "mend_elements", "mend_vessel"]

FloatArray = NDArray[np.float64]
_ROUND_W = 50.0
_LEAST_USEFUL_W = 200.0
_LATER, _EARLIER = "later (what it heats is ready later too)", "earlier (its water keeps warm under a lid)"
_LONGEST_SHIFT_S = 12 * 3600.0


def mend_vessel(limit_a: float, study: Study) -> str:
    """Say what would keep the vessel within a limit of its own plug, outlet or lead.

    Parameters
    ----------
    limit_a : float
        What the vessel may draw [A].
    study : Study
        The circuit and the day.
    """
    made_for = f"ask for an outlet, plug and lead made for {study.vessel_load.nominal_a:.1f} A"
    return one_of([mend_elements(limit_a, study), made_for])


def mend_elements(limit_a: float, study: Study) -> str:
    """Say which elements may be on at a time, and what a cap has to do with it; "" when hardly any may.

    Parameters
    ----------
    limit_a : float
        What the vessel may draw [A].
    study : Study
        The circuit and the day.
    """
    vessel = study.vessel
    allowed_w = limit_a * study.band.nominal_v * vessel.voltage_frac / vessel.share - float(vessel.other_w.max())
    allowed_w = math.floor(allowed_w / _ROUND_W + 1e-9) * _ROUND_W
    if allowed_w < _LEAST_USEFUL_W:
        return ""
    return (
        f"have elements of at most {allowed_w:.0f} W on at a time (a ramp cap does that where elements are switched; "
        "where the power is modulated it does not, since each pulse draws the full current)"
    )


def mend_circuit(limit_a: float, study: Study) -> str:
    """Say what would bring the whole circuit within a limit: smaller elements, other hours, the next breaker.

    Parameters
    ----------
    limit_a : float
        What the circuit may draw [A].
    study : Study
        The circuit and the day.
    """
    on_a = study.nominal.on_a
    beside_a = float(np.where(on_a[0] > 0, on_a[1:].sum(axis=0), 0.0).max())
    ways = [mend_elements(limit_a - beside_a, study), *_hours(limit_a, study), _bigger(study)]
    return one_of(ways)


def _hours(limit_a: float, study: Study) -> list[str]:
    """List what can be moved to another hour: other loads alone, further heaters alone, or both."""
    appliances = study.loads.appliances
    planned = [number for number, appliance in enumerate(appliances) if appliance.planned]
    everything = list(range(len(appliances)))
    off = _others_off(study)
    ways = [off] if off and _peak_a(study, planned) <= limit_a * (1 + NAMEPLATE_SLACK_FRAC) else []
    shifts = _shifts(limit_a, study, everything)
    if not ways and not shifts and off:
        return [f"{off}, and {shift}" for shift in _shifts(limit_a, study, planned)]
    return [*ways, *shifts]


def _peak_a(study: Study, numbers: list[int]) -> float:
    return float(study.nominal.on_a[numbers].sum(axis=0).max())


def _shifts(limit_a: float, study: Study, among: list[int]) -> list[str]:
    """List the moves of each further heater that would bring some of the loads within the limit."""
    limit = SharedLimit(
        limit_a=limit_a, name="circuit", nominal_v=study.band.nominal_v, cable_ohm=0.0, continuous=False
    )
    ways = []
    for number in among[1:]:
        appliance = study.loads.appliances[number]
        if not appliance.planned:
            continue
        rest, alone = _draw(study, [other for other in among if other != number]), _draw(study, [number])
        later_s, earlier_s = least_shift_s(rest, alone, limit), least_shift_s(_reversed(rest), _reversed(alone), limit)
        for shift_s, how in ((later_s, _LATER), (earlier_s, _EARLIER)):
            if shift_s is not None and 0 < shift_s <= _LONGEST_SHIFT_S:
                ways.append(f"start {appliance.name} {math.ceil(shift_s / 60 - 1e-9)} min {how}")
    return ways


def _draw(study: Study, numbers: list[int]) -> Draw:
    """Take some of the appliances, with the currents that were solved for them, as a load of plain amperes."""
    amps = study.nominal.on_a[numbers].sum(axis=0)
    keep = np.append(True, np.abs(np.diff(amps)) > 1e-9)
    edges_s = np.append(study.loads.edges_s[:-1][keep], study.loads.edges_s[-1])
    nothing = np.zeros(int(keep.sum()))
    return Draw(edges_s=edges_s, heating_siemens=nothing, steady_a=amps[keep], duty=nothing)


def _reversed(draw: Draw) -> Draw:
    """Mirror time, so that "earlier" becomes "later"."""
    return replace(draw, edges_s=-draw.edges_s[::-1], steady_a=draw.steady_a[::-1])


def _others_off(study: Study) -> str:
    """Name the other loads that are on at the peak; "" when none is."""
    begin_s, length_s = study.at_peak_s
    names = [
        appliance.name
        for appliance, amps in zip(study.loads.appliances, study.entered.on_a[:, study.peak_step], strict=True)
        if amps > 0 and not appliance.planned
    ]
    if not names:
        return ""
    when = f"from {study.clock(begin_s)} to {study.clock(begin_s + length_s)}"
    return f"keep {', '.join(names)} off {when} (and wherever else they meet the heaters)"


def _bigger(study: Study) -> str:
    circuit = study.circuit
    load = study.circuit_load
    needed_a = load.nominal_a
    if circuit.rules == "nec":
        needed_a += 0.25 * study.lasting_a(pulses_count_as_on=False)
    breaker_a = smallest_breaker_a(circuit.rules, needed_a, load.high_a)
    cable_mm2 = smallest_cable_mm2(circuit, breaker_a, load.nominal_a) if breaker_a else None
    if breaker_a is None or cable_mm2 is None:
        return "ask an electrician about a supply of its own: no household circuit of the tables carries this"
    length = f" for {as_radial(circuit).cable_length_m:g} m" if circuit.cable_length_m else ""
    return (
        f"have an electrician provide a circuit with a {breaker_a:.0f} A breaker, which needs {cable_name(cable_mm2)} "
        f"cable{length} laid the same way (never a bigger breaker on the old cable)"
    )
