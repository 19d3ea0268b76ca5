"""What the pages for the electrician say: the load, the supply as entered, findings, open questions, cautions."""

from typing import Any

from energyplan.advice.answer import Answer
from energyplan.base.units import Display
from energyplan.circuits.check import CircuitCheck, check
from energyplan.circuits.findings import Finding
from energyplan.day.appliances import on_the_circuit
from energyplan.plan.model import Circuit
from energyplan.report.electricianquestions import LEAST_SHOWN_A, open_questions
from energyplan.report.loadlist import load_list
from energyplan.report.sentences import CAUTIONS, circuit_sentence
from energyplan.report.supplylist import supply_list
from energyplan.tariffs.clock import zone_of
from energyplan.telling.day import at

__all__ = ["STATUS", "checked_circuit", "electrician_page"]

Document = dict[str, Any]

STATUS = "Not a design. To be verified by a licensed electrician under the local code."
_ORDER = ("over", "note", "ok")


def electrician_page(answer: Answer, show: Display) -> Document:
    """Gather the pages as plain texts, ready to be set.

    Parameters
    ----------
    answer : Answer
        The answered plan. Without a circuit the load is stated and nothing is judged.
    show : Display
        Units of lengths and temperatures.
    """
    checked, plan = checked_circuit(answer), answer.day.plan
    ranked = sorted(answer.findings, key=lambda found: _ORDER.index(found.severity))
    return {
        "title": plan.title,
        "when": _when(answer),
        "status": STATUS,
        "severity": "over" if answer.is_over else answer.circuit.severity if answer.circuit else "note",
        "verdict": _verdict(answer),
        "numbers": _numbers(answer, checked),
        "loads": load_list(answer, checked),
        "supply": supply_list(plan.circuit, plan.voltage_v, show),
        "told": [_finding(found) for found in ranked if found.severity != "ok"],
        "fine": [_finding(found) for found in ranked if found.severity == "ok"],
        "questions": open_questions(answer, checked, show),
        "cautions": list(CAUTIONS),
    }


def checked_circuit(answer: Answer) -> CircuitCheck:
    """The circuit's check; of a plan without a circuit the currents alone, at the elements' own voltage."""
    if answer.circuit is not None:
        return answer.circuit
    plan = answer.day.plan
    bare = Circuit(voltage_v=plan.voltage_v)
    return check(on_the_circuit(plan, answer.day.profiles), bare, plan.other_loads, answer.start, zone_of(answer.zone))


def _when(answer: Answer) -> str:
    start = answer.clock(0.0)
    first, last = str(at(answer, 0.0)), str(at(answer, answer.day.duration_s))
    return f"{start:%a %d %b %Y}, {first} to {last}, {answer.zone}"


def _verdict(answer: Answer) -> str:
    if answer.circuit is None:
        return "No rating of the circuit was entered: the load is stated, nothing is judged."
    over = [found.code.replace("_", " ") for found in answer.findings if found.severity == "over"]
    if not over:
        return circuit_sentence(answer)
    limit = f" of {answer.circuit.limit_a:.1f} A" if answer.circuit.limit_a is not None else ""
    largest = f"{answer.circuit.peak_a:.1f} A{limit} while the elements are on"
    return f"{largest}. Over what was entered: {', '.join(over)}."


def _numbers(answer: Answer, checked: CircuitCheck) -> list[Document]:
    """The five numbers that an electrician asks for first."""
    peak_at = str(at(answer, checked.peak_at_s))
    lasting = f"{checked.continuous_a:.1f} A" if checked.continuous_a >= LEAST_SHOWN_A else "none"
    return [
        _number("Maximum demand", f"{checked.peak_a:.1f} A", _at_voltages(answer, checked)),
        _number("Longest at it", _minutes(checked.longest_at_peak_min), f"without a break, from {peak_at}"),
        _number("Hottest hour", f"{checked.rms_60_min_a:.1f} A", "RMS over 60 min"),
        _number("For 3 h or more", lasting, "continuous load, elements counted as on"),
        _number("Voltage drop", *_drop(answer, checked)),
    ]


def _number(name: str, value: str, detail: str) -> Document:
    return {"name": name, "value": value, "detail": detail}


def _at_voltages(answer: Answer, checked: CircuitCheck) -> str:
    """Voltage of the maximum demand, and what it is at the upper end of the supply."""
    volts = f"at {answer.day.plan.voltage_v:.0f} V"
    if answer.circuit is None:
        return volts
    high = next(case for case in checked.voltages if case.name == "high")
    return f"{volts}; {high.peak_a:.1f} A at {high.voltage_v:.0f} V, elements 5 % strong"


def _drop(answer: Answer, checked: CircuitCheck) -> tuple[str, str]:
    circuit = answer.day.plan.circuit
    known = circuit is not None and ((circuit.cable_mm2 and circuit.cable_length_m) or circuit.extension)
    if not known:
        return "not known", "no cable and length entered"
    return f"{checked.voltage_drop_frac:.1%}".replace("%", " %"), f"{checked.voltage_drop_v:.1f} V at the appliance"


def _minutes(minutes: float) -> str:
    whole = round(minutes)
    return f"{whole // 60} h {whole % 60:02d} min" if whole >= 60 else f"{whole} min"


def _finding(found: Finding) -> Document:
    return {
        "severity": found.severity,
        "name": found.code.replace("_", " "),
        "message": found.message,
        "rule": found.rule,
        "standard": found.standard,
        "mend": found.mend,
        "margin": "" if found.margin_frac is None else f"{100 * found.margin_frac:.0f} %",
    }
