"""What would mend an overload: smaller elements, another hour, the next breaker with its cable."""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import islice
from typing import Any

import numpy as np
from numpy.typing import NDArray

from energyplan.base.load import LoadProfile
from energyplan.circuits.breakers import CARRIED_MULTIPLE, NEC_ONE_APPLIANCE_FRAC, sizes_a
from energyplan.circuits.cables import breaker_cap_a, cable_sizes_mm2
from energyplan.circuits.findings import Finding, Remedies, Remedy, Severity, is_milder, worst_of
from energyplan.circuits.stagger import Draw, SharedLimit, shifts_s
from energyplan.circuits.study import Study
from energyplan.circuits.wiring import cable_carries_a
from energyplan.physics.conductors import awg_mm2
from energyplan.plan.equipment import Circuit, OtherLoad
from energyplan.plan.model import Plan

__all__ = [
    "RESIDUAL_DEVICE",
    "as_radial",
    "carried_out",
    "elements_remedy",
    "mend_circuit",
    "mend_vessel",
    "protected_cables_mm2",
    "smallest_breaker_a",
]

FloatArray = NDArray[np.float64]
LEAST_POWER_MM2 = 1.5  # BS 7671 table 52.3: power circuits (from memory); NFPA 70 starts at 14 AWG, 2.08 mm2
RESIDUAL_DEVICE = {"iec": "30 mA, type A", "nec": "5 mA"}  # what either set of rules asks for
_ROUND_W = 50.0
_LEAST_USEFUL_W = 200.0
_LONGEST_SHIFT_S = 12 * 3600.0
_TRIED_SHIFTS = 20  # of a heater one way, before none is said to be found [our choice]


def mend_vessel(limit_a: float, study: Study) -> Remedies:
    """What would keep the vessel within a limit of its own plug, outlet or lead.

    Parameters
    ----------
    limit_a : float
        What the vessel may draw [A].
    study : Study
        The circuit and the day.
    """
    made_for = Remedy(code="made for", facts={"load_a": study.vessel_load.nominal_a})
    return Remedies(lambda: (*elements_remedy(limit_a, study), made_for))


def elements_remedy(limit_a: float, study: Study) -> tuple[Remedy, ...]:
    """Elements that may be on at a time within a limit and within every other rating; none when hardly any may."""
    limits = [limit_a, *_own_limits_a(study)]
    own_w = float(study.vessel.other_w.max())
    allowed_w = (min(limits) - own_w / study.band.nominal_v) * study.watts_per_a
    allowed_w = math.floor(allowed_w / _ROUND_W + 1e-9) * _ROUND_W
    return (Remedy(code="fewer elements", facts={"elements_w": allowed_w}),) if allowed_w >= _LEAST_USEFUL_W else ()


def _own_limits_a(study: Study) -> Iterator[float]:
    """What every rating leaves the vessel [A]."""
    circuit = study.circuit
    for rating in study.ratings:
        yield rating.limit_a - study.beside_a if rating.whole_circuit else rating.limit_a
    if study.is_nec and not circuit.dedicated and circuit.outlet_a is not None:
        yield NEC_ONE_APPLIANCE_FRAC * min(circuit.outlet_a, circuit.breaker_a or math.inf)


Judge = Callable[[Study], Iterator[Finding]]
Mends = Callable[[Study], bool]


def mend_circuit(limit_a: float, study: Study, judge: Judge) -> Remedies:
    """What would bring the whole circuit within a limit: smaller elements, other hours, the next breaker.

    Parameters
    ----------
    limit_a : float
        What the circuit may draw [A].
    study : Study
        The circuit and the day.
    judge : callable
        The rule that is passed: what is named here was carried out on the day, and the rule found less.
    """
    return Remedies(lambda: _circuit_ways(limit_a, study, judge))


def _circuit_ways(limit_a: float, study: Study, judge: Judge) -> Iterator[Remedy]:
    now = _worst(judge, study)

    def mends(tried: Study) -> bool:
        return is_milder(_worst(judge, tried), now)

    yield from elements_remedy(limit_a - study.beside_a, study)
    yield from _hours(limit_a, study, mends)
    yield _bigger(study, mends)


def _worst(judge: Judge, study: Study) -> Severity:
    return worst_of(*(finding.severity for finding in judge(study)))


def _hours(limit_a: float, study: Study, mends: Mends) -> list[Remedy]:
    """List what can be moved to another hour: other loads alone, further heaters alone, or both."""
    off = _others_off(study, mends)
    ways = [off] if off else []
    shifts = list(_shifts(limit_a, study, study.other_loads, mends))
    if ways or shifts or not study.other_loads:
        return [*ways, *shifts]
    off = _off(study, study.other_loads)
    return [
        replace(shift, code="off and shift", facts={**off.facts, **shift.facts})
        for shift in _shifts(limit_a, study, (), mends)
    ]


def _others_off(study: Study, mends: Mends) -> Remedy | None:
    """The other loads that are on at the peak, else all of them, where that is enough."""
    on = study.entered.on_a[:, study.peak_step] > 0
    names = [one.name for one, is_on in zip(study.loads.appliances, on, strict=True) if is_on and not one.planned]
    for meeting in (tuple(load for load in study.other_loads if load.name in names), study.other_loads):
        left = [load for load in study.other_loads if load not in meeting]
        if meeting and mends(study.again(other_loads=left)):
            return _off(study, meeting)
    return None


def _off(study: Study, loads: Sequence[OtherLoad]) -> Remedy:
    begin_s, length_s = study.at_peak_s
    names = tuple(load.name for load in loads)
    return Remedy(code="others off", facts={"names": names, "from_s": begin_s, "to_s": begin_s + length_s})


def _shifts(limit_a: float, study: Study, others: Sequence[OtherLoad], mends: Mends) -> Iterator[Remedy]:
    """The least moves of each further heater, either way, that mend it beside some other loads."""
    limit = SharedLimit(limit_a=limit_a, name="circuit", voltage_v=study.band.nominal_v, loop_ohm=0.0, continuous=False)
    count = len(study.profiles) + len(others)
    for number in range(1, len(study.profiles)):
        rest, alone = _draw(study, [other for other in range(count) if other != number]), _draw(study, [number])
        for fixed, moving, sign in ((rest, alone, 1.0), (_reversed(rest), _reversed(alone), -1.0)):
            for shift_s in islice(shifts_s([fixed], [moving], limit, _LONGEST_SHIFT_S), _TRIED_SHIFTS):
                minutes = math.ceil(shift_s / 60 - 1e-9)
                moved = _moved_by(study, number, sign * 60.0 * minutes)
                if minutes > 0 and mends(study.again(profiles=moved, other_loads=others)):
                    facts = {"name": study.profiles[number].name, "shift_min": minutes, "is_later": sign > 0}
                    yield Remedy(code="shift", facts=facts)
                    break


def _moved_by(study: Study, number: int, shift_s: float) -> list[LoadProfile]:
    moved = replace(study.profiles[number], edges_s=study.profiles[number].edges_s + shift_s)
    return [moved if place == number else profile for place, profile in enumerate(study.profiles)]


def _draw(study: Study, numbers: list[int]) -> Draw:
    """Take some of the appliances, with the currents that were solved for them, as a load of plain amperes."""
    amps = study.nominal.on_a[numbers].sum(axis=0)
    keep = np.append(True, np.abs(np.diff(amps)) > 1e-9)
    edges_s = np.append(study.loads.edges_s[:-1][keep], study.loads.edges_s[-1])
    nothing = np.zeros(int(keep.sum()))
    return Draw(edges_s=edges_s, heating_siemens=nothing, rms_siemens=nothing, steady_a=amps[keep])


def _reversed(draw: Draw) -> Draw:
    """Mirror time, so that "earlier" becomes "later"."""
    return replace(draw, edges_s=-draw.edges_s[::-1], steady_a=draw.steady_a[::-1])


def _bigger(study: Study, mends: Mends) -> Remedy:
    """The smallest circuit that is enough, where it mends this finding too."""
    found = _enough(study)
    if found is None or not mends(study.again(circuit=found)):
        return Remedy(code="own supply")
    length_m = found.cable_length_m or None
    facts = {"breaker_a": found.breaker_a, "cable_mm2": found.cable_mm2, "length_m": length_m}
    return Remedy(code="bigger circuit", facts=facts)


@lru_cache(maxsize=4)
def _enough(study: Study) -> Circuit | None:
    from energyplan.circuits.enough import enough  # it asks the check, which asks for remedies

    return enough(study.profiles, study.circuit, study.other_loads, study.start, study.zone).circuit


def carried_out(remedy: Remedy, plan: Plan) -> Plan | None:
    """The plan with a remedy carried out; None for one that no entry of a plan can show.

    Loads that should be off meanwhile hang on another breaker then.

    Examples
    --------
    >>> from energyplan.plan.file import read_plan
    >>> alone = carried_out(Remedy(code="own circuit"), read_plan("demo"))
    >>> alone.circuit.dedicated, carried_out(Remedy(code="made for"), read_plan("demo"))
    (True, None)
    """
    circuit = plan.circuit
    if circuit is None:
        return None
    if remedy.code == "second heater elsewhere" and plan.second_heater is not None:
        return plan.model_copy(
            update={"second_heater": plan.second_heater.model_copy(update={"own_circuit": True, "line": None})}
        )
    if remedy.code == "others off":
        return _moved(plan, remedy.facts["names"])
    if remedy.code == "own circuit":
        alone = carried_out(Remedy(code="second heater elsewhere"), plan) or plan
        alone = _moved(alone, [load.name for load in plan.other_loads])
        return alone.model_copy(update={"circuit": circuit.model_copy(update={"dedicated": True})})
    change = _entry(remedy, circuit)
    return plan.model_copy(update={"circuit": circuit.model_copy(update=change)}) if change else None


def _moved(plan: Plan, names: Sequence[str]) -> Plan:
    """The plan with some other loads elsewhere in the house."""
    moved = tuple(load for load in plan.other_loads if load.name in names)
    here = tuple(load for load in plan.other_loads if load not in moved)
    return plan.model_copy(update={"other_loads": here, "house_loads": (*plan.house_loads, *moved)})


def _entry(remedy: Remedy, circuit: Circuit) -> dict[str, Any]:
    """What a remedy changes in the circuit as it is entered."""
    facts, lead = remedy.facts, circuit.extension
    if remedy.code == "smaller breaker":
        return {"breaker_a": max((a for a in sizes_a(circuit.rules) if a <= facts["cap_a"]), default=None)}
    if remedy.code == "unwind" and lead is not None:
        return {"extension": lead.model_copy(update={"unwound": True})}
    plain: dict[str, Callable[[], dict[str, Any]]] = {
        "no lead": lambda: {"extension": None},
        "no ring": lambda: {"ring": False},
        "breaker or outlet": lambda: {"breaker_a": facts["outlet_a"]},
        "residual": lambda: {"residual_current_device": RESIDUAL_DEVICE[circuit.rules]},
        "thicker earth": lambda: {"protective_conductor_mm2": awg_mm2(facts["least_awg"])},
    }
    return plain[remedy.code]() if remedy.code in plain else {}


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


def protected_cables_mm2(circuit: Circuit, breaker_a: float, loaded: int = 2) -> tuple[float, ...]:
    """Cables that a breaker protects, laid as the circuit's cable is, the thinnest first.

    Parameters
    ----------
    circuit : Circuit
        Rules, installation, ambient and grouping.
    breaker_a : float
        Breaker in front of it [A].
    loaded : int
        Loaded conductors, 2 or 3.

    Returns
    -------
    tuple of float
        Cross-sections [mm2]; empty when no size of the table is enough.

    Examples
    --------
    >>> protected_cables_mm2(Circuit(voltage_v=230.0, installation="C"), 16.0)[:2]
    (1.5, 2.5)
    """
    alone, sizes_mm2 = as_radial(circuit), cable_sizes_mm2(circuit.rules)
    return tuple(
        size for size in sizes_mm2 if size >= LEAST_POWER_MM2 and _is_protected(alone, size, breaker_a, loaded)
    )


def _is_protected(circuit: Circuit, size_mm2: float, breaker_a: float, loaded: int) -> bool:
    carries_a = cable_carries_a(circuit, size_mm2, loaded)
    aluminium = circuit.conductor == "aluminium"
    cap_a = breaker_cap_a(size_mm2, aluminium=aluminium) if circuit.rules == "nec" else None
    return carries_a is not None and carries_a >= breaker_a and (cap_a is None or cap_a >= breaker_a)
