"""Open questions for the electrician, with the numbers of the day in them."""

from energyplan.advice.answer import Answer
from energyplan.base.units import Display
from energyplan.circuits.check import CircuitCheck
from energyplan.circuits.enough import enough, largest_power
from energyplan.day.appliances import SECOND_HEATER, on_the_circuit
from energyplan.report.loadlist import longest_run_min
from energyplan.tariffs.clock import zone_of

__all__ = ["LEAST_SHOWN_A", "open_questions"]

LEAST_SHOWN_A = 0.05  # a lasting current below this, as of a standby, shows as 0.0 A and is none


def open_questions(answer: Answer, checked: CircuitCheck, show: Display) -> list[str]:
    """Questions that a plan can't answer; the electrician decides.

    Parameters
    ----------
    answer : Answer
        The answered plan.
    checked : CircuitCheck
        Its currents.
    show : Display
        Units of masses.
    """
    vessel_a = float(checked.appliances[0].on_a.max())
    stretch_min = longest_run_min(answer.day.profiles[0])
    steam = show.mass(answer.day.wort.evaporated_kg)
    return [
        _sharing(answer),
        f"May this outlet carry {vessel_a:.1f} A for up to {_hours(stretch_min)} on end? Worn contacts, type, age.",
        f"Cable: cross-section, length, how it is laid? Which voltage is left at the outlet at {checked.peak_a:.1f} A?",
        _residual(answer),
        _larger(answer),
        _continuous(answer, checked),
        *_two_heaters(answer),
        "Where it stands: earthing, protection against water, drip loop, bonding of a metal sink or frame?",
        f"{steam} of water go into the room as steam: extract fan, condensation near the board?",
        "May an extension lead be used at all? If so, which cross-section and which length at most?",
    ]


def _hours(minutes: float) -> str:
    return f"{minutes:.0f} min" if minutes < 90 else f"{minutes / 60:.1f} h"


def _sharing(answer: Answer) -> str:
    circuit = answer.day.plan.circuit
    asked = "" if circuit and circuit.breaker_a else " What is its rating and curve?"
    return f"Which outlets and appliances share the breaker?{asked}"


def _residual(answer: Answer) -> str:
    circuit = answer.day.plan.circuit
    trips = "about 5 mA" if circuit and circuit.rules == "nec" else "30 mA"
    return f"Is a residual current device ({trips}) on it, shared with what? How much leakage stands on it already?"


def _larger(answer: Answer) -> str:
    """The smallest circuit of the tables for the day, and what the present one leaves for the vessel."""
    plan = answer.day.plan
    question = "If a larger circuit is needed: which outlet and cable, and do the board and the main fuse take it?"
    if plan.circuit is None:
        return question
    profiles, zone = on_the_circuit(plan, answer.day.profiles), zone_of(answer.zone)
    asked = (profiles, plan.circuit, plan.other_loads, answer.start, zone)
    least, most = enough(*asked), largest_power(*asked)
    if least.breaker_a is not None and least.cable:
        question += f" By the tables the day as planned asks for {least.breaker_a:g} A on {least.cable} or more."
    if most.power_w is not None:
        question += f" The present one leaves {most.power_w:.0f} W for the elements ({most.limited_by})."
    return question


def _continuous(answer: Answer, checked: CircuitCheck) -> str:
    circuit = answer.day.plan.circuit
    lasts = checked.continuous_a >= LEAST_SHOWN_A
    lasting = f"{checked.continuous_a:.1f} A last 3 h or more" if lasts else "nothing of weight lasts 3 h"
    words = f"Is the brew day a continuous load under our code? As planned, {lasting}."
    if circuit and circuit.rules == "nec":
        words += " Does the 80 % limit for a plugged-in appliance apply?"
    return words


def _two_heaters(answer: Answer) -> list[str]:
    heater = answer.day.plan.second_heater
    if heater is None:
        return []
    if heater.own_circuit:
        return [f"{SECOND_HEATER}: does its outlet really hang on another breaker, and on which line of the supply?"]
    return [f"{SECOND_HEATER} and vessel: on separate circuits, or on separate lines of the supply?"]
