"""Findings on what trips or blows, and on what the plug goes into."""

from collections.abc import Iterator
from functools import partial

from energyplan.circuits.breakers import (
    MOTOR_START_MULTIPLE,
    NEC_CONTINUOUS_FACTOR,
    NEC_ONE_APPLIANCE_FRAC,
    breaker_zone,
    instantaneous_from_a,
    plug_fuse,
)
from energyplan.circuits.findings import Finding, Severity, finding, one_of, rated, worst_of
from energyplan.circuits.ratings import NAMEPLATE_SLACK_FRAC
from energyplan.circuits.remedies import mend_circuit, mend_elements, mend_vessel
from energyplan.circuits.study import Study

__all__ = [
    "breaker",
    "breaker_start",
    "continuous",
    "one_appliance",
    "outlet",
    "outlet_hours",
    "outlet_protection",
    "plug_fuse_finding",
]

_HOUR_S = 3600.0
_WEIGHTY_A = 0.5  # below it lie standby and pump, which need no sentence [our choice]
_BRIDGE_S = 15 * 60.0  # a shorter gap is named: it is all that keeps a load from being continuous [our choice]
_SUSTAINED_A = 10.0  # RULES["outlet sustained"]
_HOUSEHOLD_OUTLET_A = 16.0
_FUSED_PLUG_A = 13.0
_WARM = "The zones are tested cold: a breaker still warm, or among warm neighbours, trips sooner."


def breaker(study: Study) -> Iterator[Finding]:
    """Judge the load by the breaker's rating and by the zones of its standard."""
    circuit = study.circuit
    rating_a = circuit.breaker_a
    if rating_a is None:
        return
    load = study.circuit_load
    zone, high_zone = (breaker_zone(a, rating_a, circuit.rules) for a in (load.entered_a, load.high_a))
    slack = load.entered_a <= rating_a * (1 + NAMEPLATE_SLACK_FRAC)
    severity = worst_of(
        load.severity(rating_a, high_counts=False), _zone_severity(zone, high_zone, circuit.rules, slack=slack)
    )
    begin_s, length_s = study.at_peak_s
    message = (
        f"At most {load.entered_a:.1f} A flow through the {rating_a:.0f} A breaker, from {study.clock(begin_s)} for "
        f"{length_s / 60:.0f} min: {_zone_words(zone, length_s, rating_a, circuit.rules)}; "
        f"{study.at_high(load.high_a)}, {high_zone}."
    )
    if severity != "ok":
        message += f" {_WARM}"
    rule = "nec breaker zones" if circuit.rules == "nec" else "iec breaker zones"
    use, mend = (load.entered_a, rating_a), partial(mend_circuit, rating_a, study)
    yield rated("breaker", severity, message, rule, use=use, mend=mend)


def _zone_severity(zone: str, high_zone: str, rules: str, *, slack: bool) -> Severity:
    if zone != "carried":
        return "note" if rules == "nec" and slack else "over"
    return "ok" if high_zone == "carried" or (rules == "nec" and high_zone.startswith("may")) else "note"


def _zone_words(zone: str, length_s: float, rating_a: float, rules: str) -> str:
    if zone == "carried":
        carried_a = rating_a * (1.0 if rules == "nec" else 1.13)
        return f"carried (the standard has it hold {carried_a:.1f} A for an hour)"
    if zone == "trips within minutes":
        return "it trips within minutes"
    if length_s >= _HOUR_S:
        return f"it {zone}"
    return f"it {zone}, so perhaps in these {length_s / 60:.0f} min, which makes it no working load"


def breaker_start(study: Study) -> Iterator[Finding]:
    """Judge what happens when a motor starts on top of the elements."""
    rating_a, curve = study.circuit.breaker_a, study.circuit.breaker_curve
    motors = [
        (float(amps.max()), appliance.name)
        for appliance, amps in zip(study.loads.appliances, study.entered.on_a, strict=True)
        if appliance.motor and amps.max() > 0
    ]
    if rating_a is None or not motors:
        return
    running_a, name = max(motors)
    together_a = study.circuit_load.entered_a + (MOTOR_START_MULTIPLE - 1) * running_a
    threshold_a = instantaneous_from_a(rating_a, curve) if curve else None
    start = (
        f"While {name} starts it may draw about {MOTOR_START_MULTIPLE:.0f} times its {running_a:.1f} A, "
        f"{together_a:.1f} A in all for a second or so"
    )
    if threshold_a is None:
        yield finding("breaker_start", "ok", f"{start}; the breaker has no standard zone to compare that with.",
                      "motor start")  # fmt: skip
        return
    severity: Severity = "note" if together_a >= threshold_a else "ok"
    verdict = "may trip at once" if severity == "note" else "does not trip at once"
    message = f"{start}; a curve {curve} breaker of {rating_a:.0f} A {verdict} (from {threshold_a:.1f} A)."
    mend = f"Let {name} run before the elements come on, or put it on another circuit." if severity == "note" else ""
    margin_frac = 1 - together_a / threshold_a
    yield finding("breaker_start", severity, message, "iec breaker curves", margin_frac=margin_frac, mend=mend)


def continuous(study: Study) -> Iterator[Finding]:
    """Judge the load that lasts: three hours under NFPA 70, the warmth of an hour under IEC."""
    if study.circuit.rules == "nec":
        yield _three_hours(study)
        return
    begin_s, length_s = study.at_peak_s
    message = (
        f"These rules have no 80 % rule: breaker and cable carry their rating for as long as you like. The peak "
        f"lasts {length_s / 60:.0f} min from {study.clock(begin_s)}; over the hottest hour the load warms the wires "
        f"like a steady {study.rms_a(_HOUR_S):.1f} A."
    )
    yield finding("continuous", "ok", message, "iec load")


def _three_hours(study: Study) -> Finding:
    nominal_a = study.circuit_load.nominal_a
    steady_a = study.lasting_a(pulses_count_as_on=False)
    pulsed_a = study.lasting_a(pulses_count_as_on=True)
    bridged_a = study.lasting_a(pulses_count_as_on=True, bridge_s=_BRIDGE_S)
    steady, pulsed, bridged = (nominal_a + (NEC_CONTINUOUS_FACTOR - 1) * a for a in (steady_a, pulsed_a, bridged_a))
    rating_a = study.circuit.breaker_a
    limit_a = (rating_a if rating_a is not None else float("inf")) * (1 + NAMEPLATE_SLACK_FRAC)
    severity: Severity = "over" if steady > limit_a else "note" if max(pulsed, bridged) > limit_a else "ok"
    if pulsed_a >= _WEIGHTY_A:
        message = f"{pulsed_a:.1f} A last 3 hours or more without a break, which makes them a continuous load"
        if steady_a < pulsed_a:
            message += f" if the pulses of a held temperature count as on; by their warmth it is {steady_a:.1f} A"
        message += f": {nominal_a:.1f} A with a quarter of that on top ask for a breaker of {pulsed:.1f} A or more."
    else:
        message = "Nothing of weight lasts 3 hours without a break, so by the definition there is no continuous load."
    if bridged > pulsed and bridged_a >= _WEIGHTY_A:
        message += (
            f" Only gaps of less than {_BRIDGE_S / 60:.0f} min break a load of {bridged_a:.1f} A, and wires hardly "
            f"cool in them; counted through it would ask for {bridged:.1f} A."
        )
    if rating_a is None:
        return finding("continuous", severity, message, "nec load")
    mend = partial(mend_circuit, rating_a / NEC_CONTINUOUS_FACTOR, study)
    return rated("continuous", severity, message, "nec load", use=(steady, rating_a), mend=mend)


def one_appliance(study: Study) -> Iterator[Finding]:
    """Judge one plugged-in appliance by the 80 % of a 15 or 20 A circuit with several outlets."""
    circuit = study.circuit
    rating_a = circuit.breaker_a
    if circuit.rules != "nec" or rating_a not in (15.0, 20.0) or circuit.outlet_a is None or circuit.dedicated:
        return
    limit_a = NEC_ONE_APPLIANCE_FRAC * rating_a
    nominal_a = study.vessel_load.nominal_a
    passed = nominal_a > limit_a * (1 + NAMEPLATE_SLACK_FRAC)
    severity: Severity = "ok" if not passed else "over" if study.shared else "note"
    message = (
        f"The vessel draws {nominal_a:.1f} A; on a {rating_a:.0f} A circuit with several outlets one plugged-in "
        f"appliance may take {limit_a:.1f} A"
    )
    if severity == "note":
        message += ". If this circuit feeds one outlet only, enter dedicated = true; if not, it is too much"
    mend = one_of([mend_elements(limit_a, study), "give it a circuit of its own"]) if passed else ""
    margin_frac = 1 - nominal_a / limit_a
    yield finding("one_appliance", severity, f"{message}.", "nec one appliance", margin_frac=margin_frac, mend=mend)


def outlet(study: Study) -> Iterator[Finding]:
    """Judge the vessel by the outlet and plug that it hangs on."""
    limit_a = study.circuit.outlet_a
    if limit_a is None:
        return
    load = study.vessel_load
    severity = load.severity(limit_a)
    message = f"The vessel draws {load.entered_a:.1f} A through an outlet and plug of {limit_a:.0f} A"
    if severity == "over":
        message += ": more than they are made for; their contacts overheat although nothing trips"
    elif max(load.nominal_a, load.entered_a) > limit_a:
        plate = "inside what a plate means (3000 W is the load of a 13 A plug)"
        message += f": that is {plate}; {study.at_high(load.high_a)}"
    elif severity == "note":
        message += f"; {study.at_high(load.high_a)}, more than they are made for"
    message += "."
    if study.planned_others:
        names = ", ".join(appliance.name for appliance in study.planned_others)
        message += f" {names} needs an outlet of its own, not a second place on the same one."
    rule = "plug rating" if limit_a == _FUSED_PLUG_A else "outlet test"
    rule = "nec receptacle" if study.circuit.rules == "nec" else rule
    use = (load.entered_a, limit_a)
    yield rated("outlet", severity, message, rule, use=use, mend=partial(mend_vessel, limit_a, study))


def outlet_hours(study: Study) -> Iterator[Finding]:
    """Say what hours of load do to a household outlet; of one that is overloaded anyway `outlet` has said enough."""
    limit_a = study.circuit.outlet_a
    if limit_a is None or not _is_sustained(study, limit_a) or study.vessel_load.severity(limit_a) == "over":
        return
    message = (
        f"The vessel warms outlet and plug like a steady {study.vessel_rms_a(_HOUR_S):.1f} A for an hour; many "
        f"electricians stay near {_SUSTAINED_A:.0f} A on a household outlet for hours on end."
    )
    mend = (
        "Have worn or loose contacts replaced, and feel plug and outlet after half an hour: warm is usual, hot is a "
        "fault."
    )
    yield finding("outlet_hours", "note", message, "outlet sustained", mend=mend)


def _is_sustained(study: Study, limit_a: float) -> bool:
    household = study.circuit.rules == "iec" and limit_a <= _HOUSEHOLD_OUTLET_A
    return household and study.vessel_rms_a(_HOUR_S) > _SUSTAINED_A


def outlet_protection(study: Study) -> Iterator[Finding]:
    """Judge whether the breaker is small enough for the outlet behind it."""
    circuit = study.circuit
    rating_a, outlet_a = circuit.breaker_a, circuit.outlet_a
    if rating_a is None or outlet_a is None or rating_a <= outlet_a or circuit.plug_fuse_a is not None:
        return
    if circuit.rules == "nec" and (rating_a, outlet_a) == (20.0, 15.0):
        return  # table 210.21(B)(3): 15 A outlets, if there are several, on a 20 A circuit
    severity: Severity = "over" if circuit.rules == "nec" else "note"
    message = (
        f"The {rating_a:.0f} A breaker does not protect a {outlet_a:.0f} A outlet: an appliance that draws more than "
        f"{outlet_a:.0f} A would overheat it and nothing would trip."
    )
    mend = f"Ask the electrician for a breaker of {outlet_a:.0f} A or an outlet of {rating_a:.0f} A."
    rule = "nec receptacle" if circuit.rules == "nec" else "iec load"
    yield finding("outlet_protection", severity, message, rule, margin_frac=1 - rating_a / outlet_a, mend=mend)


def plug_fuse_finding(study: Study) -> Iterator[Finding]:
    """Judge the vessel by the fuse in its plug."""
    limit_a = study.circuit.plug_fuse_a
    if limit_a is None:
        return
    load, fuse = study.vessel_load, plug_fuse(limit_a)
    severity = "over" if load.entered_a > fuse.carries_a else load.severity(limit_a)
    message = (
        f"The vessel draws {load.entered_a:.1f} A through a {limit_a:.0f} A plug fuse, which carries "
        f"{fuse.carries_a:.1f} A for half an hour and blows within half an hour at {fuse.blows_a:.1f} A."
    )
    if severity == "note":
        message += f" It carries this, but fuse and plug run hot above {limit_a:.0f} A; {study.at_high(load.high_a)}."
    use, mend = (load.entered_a, limit_a), partial(mend_vessel, limit_a, study)
    yield rated("plug_fuse", severity, message, "plug fuse", use=use, mend=mend)
