"""Findings on the wires: fixed cable, ring, extension lead, voltage drop."""

import math
from collections.abc import Iterator, Sequence

import numpy as np

from energyplan.circuits.breakers import sizes_a
from energyplan.circuits.cables import breaker_cap_a, wound_capacity_a
from energyplan.circuits.findings import Facts, Finding, Remedies, Remedy, Severity, finding, passes
from energyplan.circuits.remedies import mend_circuit, mend_vessel
from energyplan.circuits.study import Study
from energyplan.circuits.wiring import buried_carries_a, cable_carries_a, drop_limit, extension_carries_a, method_of
from energyplan.plan.equipment import Extension

__all__ = ["cable", "cable_protection", "extension", "lead_length", "lead_protection", "ring", "voltage_drop"]

# Lead lengths that electricians go by at 13 A, mm2 and m (common practice, no source); a size between two of them, such
# as 14 AWG of 2.08 mm2 (ASTM B258, from memory), lies between their lengths (our choice).
_LEAD_MM2, _LEAD_LENGTHS_M = (1.25, 1.5, 2.5), (10.0, 15.0, 25.0)
_EASIEST = {"iec": "E", "nec": "75"}
_RING_BREAKERS_A = (30.0, 32.0)
_RING_MM2 = 2.5
_LONG_RING_W = 2000.0
_LONG_RING_MIN = 30.0
_REWIRABLE_FRAC = 0.725


def _laid(study: Study) -> Facts:
    """How the cable lies, as facts."""
    circuit = study.circuit
    return {
        "cable_mm2": circuit.cable_mm2,
        "method": method_of(circuit),
        "is_guess": circuit.installation is None,
        "ambient_c": circuit.ambient_c,
        "circuits": circuit.grouped_circuits,
        "is_ring": circuit.ring,
        "loaded": study.loaded,
        "is_nec": study.is_nec,
        "metal": circuit.conductor,
        "also": tuple(_applied(study)),
    }


def _applied(study: Study) -> Iterator[str]:
    """Rules that were applied beside the table of capacities."""
    circuit, family = study.circuit, "nec" if study.is_nec else "iec"
    if study.is_nec:
        yield "nec terminals"
    if abs(circuit.ambient_c - 30.0) > 0.05:
        yield f"{family} ambient"
    if circuit.grouped_circuits > 1:
        yield f"{family} grouping"


def cable(study: Study) -> Iterator[Finding]:
    """Judge the load by what the fixed cable carries where it lies."""
    circuit, load = study.circuit, study.circuit_load
    rule = "nec cable" if study.is_nec else "iec cable"
    if circuit.cable_mm2 is None:
        yield finding("cable", "unknown", rule, case="not entered", load_a=load.entered_a)
        return
    carries_a = cable_carries_a(circuit, circuit.cable_mm2, study.loaded)
    if not carries_a:
        case = "too thin" if carries_a is None else "too hot"
        remedies = mend_circuit(0.0, study, cable)
        yield finding("cable", "over", rule, case=case, load_a=load.entered_a, remedies=remedies, **_laid(study))
        return
    protected = circuit.breaker_a is not None and not passes(circuit.breaker_a, carries_a)
    severity, case = load.severity(carries_a, high_counts=not protected), ""
    if circuit.installation is None:
        case = "guess"
        severity = "over" if severity == "over" and not _fits_if_known(study, load.nominal_a) else "unknown"
    yield finding(
        "cable",
        severity,
        rule,
        case=case,
        load_a=load.entered_a,
        limit_a=carries_a,
        high_a=load.high_a,
        high_v=study.band.high_v,
        least_a=buried_carries_a(circuit, circuit.cable_mm2, study.loaded),
        margin_frac=1 - load.entered_a / carries_a,
        remedies=mend_circuit(carries_a, study, cable) if severity == "over" else (Remedy(code="look at cable"),),
        **_laid(study),
    )


def _fits_if_known(study: Study, needed_a: float) -> bool:
    """Whether the easiest way of laying would do, when none was entered."""
    circuit = study.circuit
    if circuit.installation is not None or circuit.cable_mm2 is None:
        return False
    easier = circuit.model_copy(update={"installation": _EASIEST[circuit.rules]})
    return not passes(needed_a, cable_carries_a(easier, circuit.cable_mm2, study.loaded) or 0.0)


def cable_protection(study: Study) -> Iterator[Finding]:
    """Judge whether the breaker is small enough for the cable behind it."""
    circuit = study.circuit
    if circuit.cable_mm2 is None or circuit.breaker_a is None:
        return
    carries_a, breaker_a = cable_carries_a(circuit, circuit.cable_mm2, study.loaded), circuit.breaker_a
    if not carries_a:
        return  # `cable` has said it
    if circuit.breaker_curve == "BS 3036":
        carries_a *= _REWIRABLE_FRAC
    aluminium = circuit.conductor == "aluminium"
    cap_a = breaker_cap_a(circuit.cable_mm2, aluminium=aluminium) if study.is_nec else None
    limit_a = min(carries_a, cap_a) if cap_a is not None else carries_a
    severity = _protection_severity(study, breaker_a, carries_a, cap_a)
    case: str = severity
    if circuit.installation is None and severity != "over":
        severity, case = "unknown", "guess"
    is_ring = not study.is_nec and not circuit.ring and breaker_a in _RING_BREAKERS_A
    facts: Facts = {"cap_a": math.floor(limit_a), "maybe_ring": is_ring}
    yield finding(
        "cable_protection",
        severity,
        _protection_rule(study, carries_a, cap_a),
        case=case,
        breaker_a=breaker_a,
        limit_a=limit_a,
        margin_frac=1 - breaker_a / limit_a if limit_a > 0 else None,
        remedies=(Remedy(code="smaller breaker", facts=facts),),
        **_laid(study),
    )


def _protection_rule(study: Study, carries_a: float, cap_a: float | None) -> str:
    if study.is_nec:
        return "nec small conductors" if cap_a is not None and cap_a <= carries_a else "nec cable"
    if study.circuit.breaker_curve == "BS 3036":
        return "iec rewirable"
    return "iec ring" if study.circuit.ring else "iec load"


def _protection_severity(study: Study, breaker_a: float, carries_a: float, cap_a: float | None) -> Severity:
    if cap_a is not None and breaker_a > cap_a:
        return "over"
    if not passes(breaker_a, carries_a):
        return "ok"
    next_size_a = next((a for a in sizes_a("nec") if a >= carries_a), 0.0)
    if study.is_nec and breaker_a <= next_size_a:
        return "note" if study.circuit.dedicated else "over"  # 240.4(B): not where several outlets are fed
    return "note" if _fits_if_known(study, breaker_a) else "over"


def ring(study: Study) -> Iterator[Finding]:
    """Judge a ring by its breaker and its cable, and what a long heating load on one point of it means."""
    circuit = study.circuit
    if not circuit.ring:
        return
    wrong_breaker = circuit.breaker_a is not None and circuit.breaker_a not in _RING_BREAKERS_A
    wrong_cable = circuit.cable_mm2 is not None and circuit.cable_mm2 < _RING_MM2 * 0.995
    if wrong_breaker or wrong_cable:
        yield finding(
            "ring",
            "over",
            "iec ring",
            breaker_a=circuit.breaker_a,
            cable_mm2=circuit.cable_mm2,
            remedies=(Remedy(code="no ring"),),
        )
    elif circuit.breaker_a is None or circuit.cable_mm2 is None:
        yield finding("ring", "unknown", "iec ring")
    else:
        begin_s, length_s = study.vessel_on_s
        long = study.element_w > _LONG_RING_W and length_s / 60 > _LONG_RING_MIN
        severity: Severity = "note" if long else "ok"
        facts: Facts = {"element_w": study.element_w, "for_min": length_s / 60, "from_s": begin_s}
        yield finding("ring", severity, "iec ring use", **facts)


def extension(study: Study) -> Iterator[Finding]:
    """Judge the vessel by its extension lead."""
    lead = study.circuit.extension
    if lead is None:
        return
    carries_a, load = extension_carries_a(study.circuit, lead, study.loaded), study.vessel_load
    severity = _lead_severity(study, carries_a)
    unwound = lead.model_copy(update={"unwound": True})
    straight_a = extension_carries_a(study.circuit, unwound, study.loaded)
    wound_a = lead.rating_wound_a if lead.rating_wound_a is not None else wound_capacity_a(straight_a)
    yield finding(
        "extension",
        severity,
        _lead_rule(study, lead),
        case="unwound" if lead.unwound else "wound",
        load_a=load.entered_a,
        limit_a=carries_a,
        cable_mm2=lead.cable_mm2,
        length_m=lead.length_m,
        is_marked=lead.rating_a is not None,
        wound_a=wound_a,
        high_a=load.high_a,
        high_v=study.band.high_v,
        margin_frac=1 - load.entered_a / carries_a if carries_a > 0 else None,
        remedies=_lead_remedies(study, lead, carries_a, straight_a) if severity == "over" else (),
    )


def _lead_severity(study: Study, carries_a: float) -> Severity:
    return study.vessel_load.severity(carries_a) if carries_a > 0 else "over"


def lead_length(study: Study) -> Iterator[Finding]:
    """Say when a lead is longer than many electricians would have it, unless it is overloaded anyway."""
    lead = study.circuit.extension
    if lead is None or _lead_severity(study, extension_carries_a(study.circuit, lead, study.loaded)) == "over":
        return
    longest_m = float(np.interp(lead.cable_mm2, _LEAD_MM2, _LEAD_LENGTHS_M))
    if lead.cable_mm2 > _LEAD_MM2[-1] or lead.length_m <= longest_m:
        return
    yield finding(
        "lead_length",
        "note",
        "lead length",
        length_m=lead.length_m,
        longest_m=longest_m,
        cable_mm2=lead.cable_mm2,
        remedies=(Remedy(code="shorter lead"),),
    )


def lead_protection(study: Study) -> Iterator[Finding]:
    """Say when nothing before the lead trips at what the lead carries."""
    lead, breaker_a = study.circuit.extension, study.circuit.breaker_a
    if lead is None:
        return
    carries_a = extension_carries_a(study.circuit, lead, study.loaded)
    before = [a for a in (breaker_a, study.circuit.plug_fuse_a) if a is not None]
    rule = "nec flexible" if study.is_nec else "iec load"
    if not before:
        yield finding("lead_protection", "unknown", rule, limit_a=carries_a)
        return
    severity: Severity = "note" if passes(min(before), carries_a) else "ok"
    yield finding(
        "lead_protection",
        severity,
        rule,
        limit_a=carries_a,
        breaker_a=min(before),
        remedies=(Remedy(code="one thing on the lead"),),
    )


def _lead_rule(study: Study, lead: Extension) -> str:
    if study.is_nec:
        return "nec extension"
    return "iec flexible" if lead.unwound else "iec drum"


def _lead_remedies(study: Study, lead: Extension, carries_a: float, straight_a: float) -> Sequence[Remedy]:
    needed_a = study.vessel_load.nominal_a
    if not lead.unwound and straight_a >= needed_a:
        return (Remedy(code="unwind", facts={"carries_a": straight_a}),)
    first = Remedy(code="no lead", facts={"needed_a": needed_a, "is_wound": not lead.unwound})
    return Remedies(lambda: (first, *mend_vessel(carries_a, study)))


def voltage_drop(study: Study) -> Iterator[Finding]:
    """Judge how much of the voltage is lost before the vessel."""
    circuit = study.circuit
    limit = drop_limit(circuit.rules)
    is_known = circuit.cable_mm2 is not None and circuit.cable_length_m > 0
    rule = "nec drop" if study.is_nec else "iec ring drop" if circuit.ring else "iec drop"
    if not is_known and circuit.extension is None:
        yield finding("voltage_drop", "unknown", rule, limit_frac=limit.limit_frac)
        return
    step = int(np.argmax(study.entered.drop_frac))
    total_frac, drop_v = float(study.entered.drop_frac[step]), float(study.entered.drop_v[step])
    cable_frac = float(study.entered.cable_drop_frac.max())
    severity: Severity = "ok" if is_known else "unknown"
    if max(total_frac, cable_frac) > limit.limit_frac:
        severity = "over" if limit.binding and cable_frac > limit.limit_frac else "note"
    yield finding(
        "voltage_drop",
        severity,
        rule,
        case="lead alone" if severity == "unknown" else severity,
        drop_v=drop_v,
        drop_frac=total_frac,
        cable_frac=cable_frac,
        less_heat_frac=1 - (1 - total_frac) ** 2,
        limit_frac=limit.limit_frac,
        is_binding=limit.binding,
        is_ring=circuit.ring,
        voltage_v=drop_v / total_frac if total_frac > 0 else circuit.voltage_v,
        margin_frac=1 - max(total_frac, cable_frac) / limit.limit_frac,
        remedies=(Remedy(code="thicker or nearer"),),
    )
