"""What would be enough: the smallest circuit for a plan, and the largest power for a circuit.

Both ask the check itself: a circuit is enough when no finding of it is over, a power is too much when one is.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import datetime, tzinfo

import numpy as np

from energyplan.base.load import LoadProfile
from energyplan.base.records import dataclass
from energyplan.circuits.breakers import (
    NEC_CONTINUOUS_FACTOR,
    NEC_CONTINUOUS_S,
    NEC_ONE_APPLIANCE_FRAC,
    Outlet,
    outlets_for,
    sizes_a,
)
from energyplan.circuits.check import judged
from energyplan.circuits.findings import NAMEPLATE_SLACK_FRAC, Finding
from energyplan.circuits.protection import FUSED_PLUG_A
from energyplan.circuits.remedies import RESIDUAL_DEVICE, as_radial, protected_cables_mm2, smallest_breaker_a
from energyplan.circuits.study import Study, study
from energyplan.circuits.wiring import method_of
from energyplan.plan.equipment import Circuit, OtherLoad

__all__ = ["Enough", "LargestPower", "enough", "enough_circuit", "largest_power"]

_MOST_W = 60_000.0
_STEP_W = 50.0
_NEC_SHARED_A = 20.0
_FILLED_BY_LOADS = {"breaker", "continuous", "cable", "main_fuse", "voltage_drop"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Enough:
    """The smallest standard circuit for a day as planned; what is not entered of it is as careful as can be.

    ``needed_a`` is what the breaker must be rated for, ``load_a`` the largest current at the nominal voltage,
    ``lasting_a`` the part of it that lasts three hours (American rules; else 0), ``shared_a`` what a shared circuit
    would ask for one appliance on it (None where it asks nothing more). ``breaker_a``, ``cable_mm2``, ``outlet_a`` and
    ``outlets`` are None or empty where the tables end. ``method`` is how the cable is taken to lie, and
    ``is_method_guessed`` that nobody said it; ``circuit`` is all of it as the check sees it (None without a breaker).
    """

    load_a: float
    needed_a: float
    lasting_a: float
    shared_a: float | None
    breaker_a: float | None
    cable_mm2: float | None
    outlet_a: float | None
    outlets: tuple[str, ...]
    voltage_drop_frac: float | None
    method: str
    is_method_guessed: bool
    is_length_known: bool
    is_region_known: bool
    circuit: Circuit | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LargestPower:
    """The largest power that the circuit takes beside whatever else is on.

    ``power_w`` is the nameplate power, at the nominal voltage, of the elements that may be on at a time with no
    finding over, in steps of ``step_w``; ``limited_by`` names the findings that one step more would put over.
    ``lasting_power_w`` is the same for a load of 3 h and more (equal to ``power_w`` under IEC rules). All are None
    and empty when no rating was entered. ``over_anyway`` names what is over without the vessel: then nothing may be
    on before that is mended, and the power is that for afterwards. ``beside_a`` is what else is on meanwhile.
    """

    power_w: float | None
    lasting_power_w: float | None
    limited_by: tuple[str, ...]
    over_anyway: tuple[str, ...]
    beside_a: float
    step_w: float


def enough(
    profiles: Sequence[LoadProfile], circuit: Circuit, other_loads: Sequence[OtherLoad], start: datetime, zone: tzinfo
) -> Enough:
    """Find the smallest breaker, cable and outlet for the day as planned.

    Parameters
    ----------
    profiles, circuit, other_loads, start, zone
        As `energyplan.circuits.check.check`. Of the circuit count rules, voltage, lines, cable length, installation,
        ambient and grouping; its own breaker, outlet, cable and lead do not.

    Returns
    -------
    Enough
        Standard sizes with which no finding of the check is over.

    Notes
    -----
    IEC: the breaker is rated for the load and carries it (1.13 times its rating) at the upper end of the supply.
    NFPA 70: the load with a quarter of its three-hour part on top, and one plugged-in appliance at most 80 % of a
    shared circuit. The cable carries the breaker's rating and keeps the voltage drop; the outlet may stand behind the
    breaker; there is a residual current device as the rules ask.
    """

    def solved(some: Circuit) -> Study:
        return study(profiles, some, other_loads, start, zone)

    bare = as_radial(circuit).model_copy(
        update=dict.fromkeys(("cable_mm2", "breaker_a", "outlet_a", "plug_fuse_a", "enclosure", "isolator"))
    )
    studied = solved(bare)
    lasting_a = studied.lasting_a(pulses_count_as_on=True) if studied.is_nec else 0.0
    load_a = studied.peak_a(studied.plate)
    least_a = load_a + (NEC_CONTINUOUS_FACTOR - 1) * lasting_a
    shared_a = _shared_a(studied, least_a)
    found = _first_fitting(studied, solved, max(least_a, shared_a or 0.0))
    outlets = _outlets(studied, found.breaker_a) if found else ()
    return Enough(
        load_a=load_a,
        needed_a=max(least_a, shared_a or 0.0),
        lasting_a=lasting_a,
        shared_a=shared_a,
        breaker_a=found.breaker_a if found else None,
        cable_mm2=found.cable_mm2 if found else None,
        outlet_a=outlets[0].rating_a if outlets else None,
        outlets=tuple(outlet.designation for outlet in outlets),
        voltage_drop_frac=float(solved(found).entered.drop_frac.max()) if found and found.cable_length_m else None,
        method=method_of(circuit),
        is_method_guessed=circuit.installation is None,
        is_length_known=circuit.cable_length_m > 0,
        is_region_known=studied.band.is_known,
        circuit=found,
    )


def _shared_a(studied: Study, needed_a: float) -> float | None:
    """What 80 % of a shared American circuit ask for one appliance [A]; None where that is no more than needed."""
    shared_a = studied.vessel_peak_a(studied.plate) / NEC_ONE_APPLIANCE_FRAC
    asks = studied.is_nec and not studied.circuit.dedicated and needed_a < shared_a and needed_a <= _NEC_SHARED_A
    return shared_a if asks else None


def _first_fitting(studied: Study, solved: Callable[[Circuit], Study], needed_a: float) -> Circuit | None:
    """The smallest circuit with which nothing is over: with an outlet of the table, else without one."""
    device = RESIDUAL_DEVICE[studied.circuit.rules]
    protected = studied.circuit.model_copy(update={"residual_current_device": device})
    if _over(judged(solved(protected)).findings):
        return None  # by what no breaker and no cable mends
    first_a = smallest_breaker_a(studied.circuit.rules, needed_a, studied.peak_a(studied.high))
    breakers_a = [a for a in sizes_a(studied.circuit.rules) if first_a is not None and a >= first_a]
    with_outlet = [a for a in breakers_a if _outlets(studied, a)]
    tried = (some for breaker_a in with_outlet or breakers_a for some in _with_breaker(studied, breaker_a))
    return next((some for some in tried if not _over(judged(solved(some)).findings)), None)


def _with_breaker(studied: Study, breaker_a: float) -> Iterator[Circuit]:
    """Circuits with a breaker and each cable that it protects, the thinnest first."""
    for cable_mm2 in protected_cables_mm2(studied.circuit, breaker_a, studied.loaded):
        yield enough_circuit(studied, breaker_a, cable_mm2)


def enough_circuit(studied: Study, breaker_a: float, cable_mm2: float) -> Circuit:
    """A circuit of some breaker and cable, with the outlet and the protection that the rules ask beside them."""
    outlets = _outlets(studied, breaker_a)
    outlet_a = outlets[0].rating_a if outlets else None
    nec = studied.is_nec
    return studied.circuit.model_copy(
        update={
            "breaker_a": breaker_a,
            "breaker_curve": "inverse" if nec else "B",
            "cable_mm2": cable_mm2,
            "outlet_a": outlet_a,
            "plug_fuse_a": FUSED_PLUG_A if outlet_a == FUSED_PLUG_A and not nec else None,
            "residual_current_device": RESIDUAL_DEVICE[studied.circuit.rules],
            "protective_conductor_mm2": None,
            "earth_loop_ohm": None,
        }
    )


def _outlets(studied: Study, breaker_a: float | None) -> tuple[Outlet, ...]:
    """Outlets for the vessel that may stand behind a breaker."""
    if not studied.band.is_known or breaker_a is None:
        return ()
    circuit, own_a = studied.circuit, studied.vessel_peak_a(studied.plate)
    least_a = own_a / (1 + NAMEPLATE_SLACK_FRAC)
    if studied.is_nec and not circuit.dedicated:
        least_a = max(least_a, own_a / NEC_ONE_APPLIANCE_FRAC)
    voltage_v = studied.band.nominal_v * studied.across_frac
    single = bool(circuit.dedicated)
    return outlets_for(circuit.rules, voltage_v, least_a, breaker_a, poles=studied.vessel_lines, single=single)


def _over(findings: Sequence[Finding]) -> tuple[str, ...]:
    return tuple(found.code for found in findings if found.severity == "over")


def largest_power(
    profiles: Sequence[LoadProfile],
    circuit: Circuit,
    other_loads: Sequence[OtherLoad],
    start: datetime,
    zone: tzinfo,
    step_w: float = _STEP_W,
) -> LargestPower:
    """Find the largest power of the vessel's elements that the circuit as it is takes.

    Parameters
    ----------
    profiles, circuit, other_loads, start, zone
        As `energyplan.circuits.check.check`.
    step_w : float
        Steps in which the power is told [W].

    Returns
    -------
    LargestPower
        Power at the nominal voltage, and what limits it.

    Notes
    -----
    The day's elements are scaled until a finding of the check is over, so every rule counts that it applies.
    """
    vessel, *others = profiles
    studied = study(profiles, circuit, other_loads, start, zone)
    if not studied.ratings or studied.element_w <= 0:
        return LargestPower(
            power_w=None, lasting_power_w=None, limited_by=(), over_anyway=(), beside_a=studied.beside_a, step_w=step_w
        )

    def over_at(load: LoadProfile, scale: float) -> set[str]:
        found = judged(study([_scaled(load, scale), *others], circuit, other_loads, start, zone))
        return set(_over(found.findings))

    anyway = over_at(vessel, 0.0)

    def most_w(load: LoadProfile) -> tuple[float, tuple[str, ...]]:
        if full := anyway & _FILLED_BY_LOADS:
            return 0.0, tuple(sorted(full))
        low, high = 0, int(_MOST_W / step_w)
        limits: set[str] = set()
        while high - low > 1:
            middle = (low + high) // 2
            over = over_at(load, middle * step_w / studied.element_w) - anyway
            low, high, limits = (middle, high, limits) if not over else (low, middle, over)
        return low * step_w, tuple(sorted(limits))

    power_w, limited_by = most_w(vessel)
    lasting_w = min(most_w(_lasting(vessel))[0], power_w) if studied.is_nec else power_w
    return LargestPower(
        power_w=power_w,
        lasting_power_w=lasting_w,
        limited_by=limited_by,
        over_anyway=tuple(sorted(anyway)),
        beside_a=studied.beside_a,
        step_w=step_w,
    )


def _scaled(load: LoadProfile, scale: float) -> LoadProfile:
    """A load with its elements scaled."""
    return replace(
        load,
        mean_w=load.other_w + np.maximum(load.mean_w - load.other_w, 0.0) * scale,
        heater_w_per_v2=load.heater_w_per_v2 * scale,
        by_line=tuple((place, part * scale) for place, part in load.by_line),
    )


def _lasting(load: LoadProfile) -> LoadProfile:
    """The load with its elements on as at their most, for as long as makes it a continuous one."""
    at = int(np.argmax(load.heater_w_per_v2))
    end_s = max(float(load.edges_s[-1]), float(load.edges_s[0]) + NEC_CONTINUOUS_S + 60.0)
    one = slice(at, at + 1)
    full_w = load.other_w[one] + load.heater_w_per_v2[one] * 1e6  # always on, whatever the voltage
    return replace(
        load,
        edges_s=np.array([float(load.edges_s[0]), end_s]),
        mean_w=full_w,
        heater_w_per_v2=load.heater_w_per_v2[one],
        other_w=load.other_w[one],
        by_line=tuple((place, part[one]) for place, part in load.by_line),
    )
