"""Findings on the supply: its voltage, its lines, its residual current device, and what was not entered."""

from collections.abc import Iterator

import numpy as np

from energyplan.circuits.currents import Supply, solve
from energyplan.circuits.findings import Finding, Severity, finding
from energyplan.circuits.loads import layout_of, split_legs
from energyplan.circuits.ratings import NAMEPLATE_SLACK_FRAC
from energyplan.circuits.study import Study

__all__ = ["not_checked", "residual_current", "supply_lines", "voltage"]

_LEAKAGE_FRAC = 0.3  # RULES["iec leakage"]


def voltage(study: Study) -> Iterator[Finding]:
    """Say what the ends of the supply's band do to currents and to heat."""
    band = study.band
    load, low_a = study.vessel_load, study.vessel_a(study.low)
    heat_frac = low_a / load.nominal_a * (band.low_v / band.nominal_v) if load.nominal_a > 0 else 1.0
    crossing = [
        rating.name
        for rating in study.ratings
        if rating.limit_a < study.load_a(rating, study.high)
        and study.load_a(rating, study.nominal) <= rating.limit_a * (1 + NAMEPLATE_SLACK_FRAC)
    ]
    severity: Severity = "note" if crossing else "ok"
    passes = f", which passes the rating of {', '.join(crossing)}" if crossing else ""
    message = (
        f"The vessel draws {load.nominal_a:.1f} A at {band.nominal_v:.0f} V, and {load.high_a:.1f} A at "
        f"{band.high_v:.0f} V with elements 5 % above their plates{passes}. At {band.low_v:.0f} V with elements 10 % "
        f"below theirs it draws {low_a:.1f} A and has {100 * heat_frac:.0f} % of the power"
    )
    yield finding("voltage", severity, f"{message}.", "nec voltage" if study.circuit.rules == "nec" else "iec voltage")


def supply_lines(study: Study) -> Iterator[Finding]:
    """Say which line carries what, where there is more than one."""
    circuit = study.circuit
    layout = layout_of(circuit)
    if layout == "one phase":
        return
    at = Supply(voltage_v=circuit.voltage_v, nominal_v=study.band.nominal_v)
    totals = {line: solve(study.loads, line, study.wiring, at).total_a for line in split_legs(layout)}
    peaks = ", ".join(f"{line} {total_a.max():.1f} A" for line, total_a in totals.items())
    if layout == "split phase":
        neutral_a = float(np.abs(totals["L1"] - totals["L2"]).max())
        message = (
            f"Split phase, {circuit.voltage_v:.0f} V between two legs: at most {peaks}, {neutral_a:.1f} A in the "
            "neutral. The breaker has two poles and sees the fuller leg; a load from leg to neutral counts on its leg."
        )
    else:
        a, b, c = (totals[line] for line in split_legs(layout))
        neutral_a = float(np.sqrt(np.maximum(a**2 + b**2 + c**2 - a * b - b * c - c * a, 0.0)).max())
        message = (
            f"Three-phase board: at most {peaks}, {neutral_a:.1f} A in the neutral. The ratings you entered are "
            f"compared with {study.line}; what hangs on other lines has breakers of its own, which were not checked."
        )
    yield finding("supply", "ok", message, "nec load" if circuit.rules == "nec" else "iec load")


def residual_current(study: Study) -> Iterator[Finding]:
    """Advise on the residual current device."""
    there = study.circuit.residual_current_device
    nec = study.circuit.rules == "nec"
    device = "ground-fault protection (about 5 mA)" if nec else "a residual current device of 30 mA"
    if there is None:
        message = f"Not checked: whether {device} is on this circuit; water and elements ask for it."
    elif there:
        message = f"There is {device}: press its test button before the day; it limits no load."
        if not nec:
            share = f"{30 * _LEAKAGE_FRAC:.0f} mA ({100 * _LEAKAGE_FRAC:.0f} %)"
            message += f" It trips too often when the standing leakage of everything behind it passes {share}."
    else:
        message = f"There is no residual current protection: ask an electrician for {device} before you brew."
    mend = "" if there else f"Ask for {device}."
    severity: Severity = "ok" if there else "note"
    yield finding("residual_current", severity, message, "nec residual" if nec else "iec residual", mend=mend)


def not_checked(study: Study) -> Iterator[Finding]:
    """List what could not be judged because it was not entered."""
    circuit = study.circuit
    cable_known = circuit.cable_mm2 is not None
    questions = (
        ("breaker", circuit.breaker_a is None),
        ("breaker curve", circuit.breaker_curve is None and circuit.rules == "iec"),
        ("outlet", circuit.outlet_a is None),
        ("cable", not cable_known),
        ("cable length", cable_known and not circuit.cable_length_m),
        ("way the cable is laid", cable_known and circuit.installation is None),
    )
    missing = [name for name, is_missing in questions if is_missing]
    if not missing:
        return
    message = f"Not checked, or only with a careful guess, because not entered: {', '.join(missing)}."
    mend = "Read the breaker's print, measure the run, and ask an electrician what is in the wall."
    rule = "nec load" if circuit.rules == "nec" else "iec load"
    yield finding("not_checked", "note", message, rule, mend=mend)
