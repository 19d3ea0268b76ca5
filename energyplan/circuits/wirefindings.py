"""Findings on the wires: fixed cable, extension lead, voltage drop."""

import math
from collections.abc import Iterator
from functools import partial

import numpy as np

from energyplan.circuits.breakers import sizes_a
from energyplan.circuits.cables import breaker_cap_a, cable_name, wound_capacity_a
from energyplan.circuits.findings import Finding, Severity, finding, rated
from energyplan.circuits.remedies import mend_circuit, mend_vessel
from energyplan.circuits.study import Study
from energyplan.circuits.voltages import drop_limit
from energyplan.circuits.wiring import cable_carries_a, extension_carries_a, method_of
from energyplan.plan.model import Extension

__all__ = ["cable", "cable_protection", "extension", "lead_length", "voltage_drop"]

# Lead lengths that electricians go by at 13 A: mm2 -> m (common practice, no source).
_LEAD_LENGTHS_M = ((1.25, 10.0), (1.5, 15.0), (2.5, 25.0))
_EASIER_METHOD = {"iec": "C", "nec": "75"}


def cable(study: Study) -> Iterator[Finding]:
    """Judge the load by what the fixed cable carries where it lies."""
    circuit = study.circuit
    if circuit.cable_mm2 is None:
        return
    rule = "nec cable" if circuit.rules == "nec" else "iec cable"
    name, carries_a = cable_name(circuit.cable_mm2), cable_carries_a(circuit, circuit.cable_mm2)
    load = study.circuit_load
    if carries_a is None or carries_a <= 0:
        reason = "no table rates fixed cable that thin" if carries_a is None else "the place is too hot for it"
        message = (
            f"{name} cable at {circuit.ambient_c:.0f} °C: {reason}; it would have to carry {load.entered_a:.1f} A."
        )
        yield finding("cable", "over", message, rule, mend=mend_circuit(0.0, study))
        return
    protected = circuit.breaker_a is not None and circuit.breaker_a <= carries_a * (1 + 1e-9)
    severity = load.severity(carries_a, high_counts=not protected)
    message = (
        f"At most {load.entered_a:.1f} A flow through {name} cable that carries {carries_a:.1f} A as it lies "
        f"({_laid(study)})"
    )
    if severity == "over" and _fits_if_known(study, load.nominal_a):
        severity = "note"
        message += "; how it is laid was not entered, and laid the easier way it would carry this"
    elif severity == "note":
        message += f"; {study.at_high(load.high_a)}"
    use, mend = (load.entered_a, carries_a), partial(mend_circuit, carries_a, study)
    yield rated("cable", severity, f"{message}.", rule, use=use, mend=mend)


def _laid(study: Study) -> str:
    circuit = study.circuit
    column = f"{method_of(circuit)} °C column" if circuit.rules == "nec" else f"method {method_of(circuit)}"
    guessed = "" if circuit.installation else ", the careful guess"
    ring = ", a ring" if circuit.ring else ""
    together = "alone" if circuit.grouped_circuits == 1 else f"{circuit.grouped_circuits} circuits together"
    return f"{column}{guessed}, {circuit.ambient_c:.0f} °C, {together}{ring}"


def _fits_if_known(study: Study, needed_a: float) -> bool:
    """Whether the easier common way of laying would do, when none was entered."""
    circuit = study.circuit
    if circuit.installation is not None or circuit.cable_mm2 is None:
        return False
    easier = circuit.model_copy(update={"installation": _EASIER_METHOD[circuit.rules]})
    return (cable_carries_a(easier, circuit.cable_mm2) or 0.0) >= needed_a


def cable_protection(study: Study) -> Iterator[Finding]:
    """Judge whether the breaker is small enough for the cable behind it."""
    circuit = study.circuit
    if circuit.cable_mm2 is None or circuit.breaker_a is None:
        return
    carries_a, breaker_a = cable_carries_a(circuit, circuit.cable_mm2), circuit.breaker_a
    if not carries_a:
        return  # `cable` has said it
    name = cable_name(circuit.cable_mm2)
    cap_a = breaker_cap_a(circuit.cable_mm2) if circuit.rules == "nec" else None
    limit_a = min(carries_a, cap_a) if cap_a is not None else carries_a
    severity = _protection_severity(study, breaker_a, carries_a, cap_a)
    rule = "iec ring" if circuit.ring else "iec load"
    if circuit.rules == "nec":
        rule = "nec small conductors" if cap_a is not None and cap_a <= carries_a else "nec cable"
    verdict = "protects" if severity == "ok" else "is larger than it should be for"
    message = f"The {breaker_a:.0f} A breaker {verdict} {name} cable, good for {limit_a:.1f} A here ({_laid(study)})"
    if severity == "note":
        message += ": it depends on how the cable is laid and ended, which an electrician can see"
    mend = partial(_protection_mend, study, limit_a)
    yield rated("cable_protection", severity, f"{message}.", rule, use=(breaker_a, limit_a), mend=mend)


def _protection_severity(study: Study, breaker_a: float, carries_a: float, cap_a: float | None) -> Severity:
    if cap_a is not None and breaker_a > cap_a:
        return "over"
    if breaker_a <= carries_a * (1 + 1e-9):
        return "ok"
    next_size_a = next((a for a in sizes_a("nec") if a >= carries_a), 0.0)
    if study.circuit.rules == "nec" and breaker_a <= next_size_a:
        return "note"  # 240.4(B): the next standard size, if there are not several outlets
    return "note" if _fits_if_known(study, breaker_a) else "over"


def _protection_mend(study: Study, limit_a: float) -> str:
    ring = ""
    if study.circuit.rules == "iec" and not study.circuit.ring and study.circuit.breaker_a in (30.0, 32.0):
        ring = " If it is a ring, enter ring = true."
    size = f"the breaker should be {math.floor(limit_a)} A or less, or the cable thicker"
    return f"Have an electrician look at it: {size}.{ring}"


def extension(study: Study) -> Iterator[Finding]:
    """Judge the vessel by its extension lead."""
    lead = study.circuit.extension
    if lead is None:
        return
    carries_a = extension_carries_a(study.circuit, lead)
    load = study.vessel_load
    severity = _lead_severity(study, carries_a)
    by = "by the table, since its printed rating was not entered, " if lead.rating_a is None else ""
    message = (
        f"The vessel draws {load.entered_a:.1f} A through {lead.length_m:.3g} m of {cable_name(lead.cable_mm2)} lead, "
        f"which {by}carries {carries_a:.1f} A {'unwound' if lead.unwound else 'wound on its reel'}"
    )
    if severity == "note":
        message += f"; {study.at_high(load.high_a)}"
    message += f". {_lead_words(lead, carries_a)}"
    use, mend = (load.entered_a, carries_a), partial(_lead_mend, study, lead, carries_a)
    yield rated("extension", severity, message, _lead_rule(study, lead), use=use, mend=mend)


def _lead_severity(study: Study, carries_a: float) -> Severity:
    return study.vessel_load.severity(carries_a) if carries_a > 0 else "over"


def _lead_words(lead: Extension, carries_a: float) -> str:
    if not lead.unwound:
        return "Wound up it can't give off its heat and melts, although nothing trips."
    wound_a = lead.rating_wound_a if lead.rating_wound_a is not None else wound_capacity_a(carries_a)
    return f"Unwind it wholly: left on a reel it carries about {wound_a:.1f} A."


def lead_length(study: Study) -> Iterator[Finding]:
    """Say when a lead is longer than many electricians would have it, unless it is overloaded anyway."""
    lead = study.circuit.extension
    if lead is None or _lead_severity(study, extension_carries_a(study.circuit, lead)) == "over":
        return
    longest_m = next((length_m for size_mm2, length_m in _LEAD_LENGTHS_M if lead.cable_mm2 <= size_mm2), None)
    if longest_m is None or lead.length_m <= longest_m:
        return
    message = (
        f"The lead is {lead.length_m:.3g} m long; many electricians keep one of {cable_name(lead.cable_mm2)} below "
        f"{longest_m:.0f} m."
    )
    yield finding("lead_length", "note", message, "lead length", mend="Use a shorter lead, or a thicker one.")


def _lead_rule(study: Study, lead: Extension) -> str:
    if study.circuit.rules == "nec":
        return "nec extension"
    return "iec flexible" if lead.unwound else "iec drum"


def _lead_mend(study: Study, lead: Extension, carries_a: float) -> str:
    straight_a = extension_carries_a(study.circuit, lead.model_copy(update={"unwound": True}))
    needed_a = study.vessel_load.nominal_a
    if not lead.unwound and straight_a >= needed_a:
        return f"Unwind the lead: laid out straight it carries {straight_a:.1f} A."
    unwind = "Unwind the lead, and that is not enough: " if not lead.unwound else ""
    return f"{unwind}Use no lead, or a thicker one rated {needed_a:.1f} A or more. {mend_vessel(carries_a, study)}"


def voltage_drop(study: Study) -> Iterator[Finding]:
    """Judge how much of the voltage is lost before the vessel."""
    circuit = study.circuit
    if circuit.cable_mm2 is None and circuit.extension is None:
        return
    limit = drop_limit(circuit.rules)
    step = int(np.argmax(study.entered.drop_v))
    drop_v, cable_v = float(study.entered.drop_v[step]), float(study.entered.cable_drop_v.max())
    total_frac, cable_frac = drop_v / circuit.voltage_v, cable_v / circuit.voltage_v
    severity: Severity = "ok"
    if max(total_frac, cable_frac) > limit.limit_frac:
        severity = "over" if limit.binding and cable_frac > limit.limit_frac else "note"
    heat_frac = 1 - (1 - total_frac) ** 2
    rule = "nec drop" if circuit.rules == "nec" else "iec ring drop" if circuit.ring else "iec drop"
    ring = ", halfway round the ring" if circuit.ring else ""
    message = (
        f"Cable and lead lose {drop_v:.1f} V of {circuit.voltage_v:.0f} V ({100 * total_frac:.1f} %, the fixed cable "
        f"{100 * cable_frac:.1f} %{ring}), so the elements give {100 * heat_frac:.0f} % less heat"
    )
    if severity != "ok":
        kind = "the limit" if limit.binding else "the advice"
        message += f"; {kind} for the fixed cable is {100 * limit.limit_frac:.0f} %"
    mend = ""
    if severity != "ok":
        mend = "A thicker or shorter cable or lead, or an outlet nearer to the board."
    yield finding(
        "voltage_drop", severity, f"{message}.", rule,
        margin_frac=1 - max(total_frac, cable_frac) / limit.limit_frac, mend=mend,
    )  # fmt: skip
