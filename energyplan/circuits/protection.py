"""Findings on what trips or blows, and on what the plug goes into."""

from collections.abc import Iterator

from energyplan.circuits.breakers import (
    MOTOR_START_MULTIPLE,
    NEC_CONTINUOUS_FACTOR,
    NEC_ONE_APPLIANCE_FRAC,
    breaker_zone,
    instantaneous_from_a,
    plug_fuse,
)
from energyplan.circuits.findings import (
    NAMEPLATE_SLACK_FRAC,
    Facts,
    Finding,
    Remedies,
    Remedy,
    Severity,
    finding,
    passes,
)
from energyplan.circuits.remedies import elements_remedy, mend_circuit, mend_vessel
from energyplan.circuits.study import Study
from energyplan.physics.network import amps_frac

__all__ = [
    "FUSED_PLUG_A",
    "breaker",
    "breaker_start",
    "continuous",
    "one_appliance",
    "one_appliance_a",
    "outlet",
    "outlet_hours",
    "outlet_protection",
    "plug_fuse_finding",
]

_HOUR_S = 3600.0
_WEIGHTY_A = 0.5  # below it lie standby and pump, which need no sentence [our choice]
_BRIDGE_S = 15 * 60.0  # a shorter gap is named: it is all that keeps a load from being continuous [our choice]
_MINUTES_S = 15 * 60.0  # a peak above the rating that lasts no longer is one of minutes [our choice]
_WARM_FRAC = 0.8  # RULES["breakers side by side"]
_SUSTAINED_A = 10.0  # RULES["outlet sustained"]
_HOUSEHOLD_OUTLET_A = 16.0
_FUSED_RING_A = 32.0  # BS 1363 outlets stand behind 32 A at most (RULES["iec ring"])
_LOCAL_OUTLETS_A = (10.0, 15.0)  # AS/NZS 3112 outlets behind a breaker of 16 or 20 A (from memory)
_LOCAL_BREAKER_A = 20.0
FUSED_PLUG_A = 13.0
_NEC_SHARED_OUTLETS_A = (15.0, 20.0, 30.0)
_SMALL_BRANCHES_A = (15.0, 20.0)


def breaker(study: Study) -> Iterator[Finding]:
    """Judge the load by the rating of breaker or fuse and by the zones of its standard."""
    circuit, load = study.circuit, study.circuit_load
    rating_a, curve = circuit.breaker_a, circuit.breaker_curve
    rule = "nec breaker zones" if study.is_nec else "iec breaker zones"
    if rating_a is None:
        yield finding("breaker", "unknown", rule, load_a=load.entered_a)
        return
    zone, high_zone = (breaker_zone(a, rating_a, circuit.rules, curve) for a in (load.entered_a, load.high_a))
    counted_a = study.peak_a(study.plate) if study.is_nec else load.nominal_a
    begin_s, length_s = study.at_peak_s
    above_s = study.above_s(rating_a * (1 + NAMEPLATE_SLACK_FRAC))
    severity = _breaker_severity(study, rating_a, (zone, high_zone), max(counted_a, load.entered_a), above_s[1])
    is_above = severity != "ok" and above_s[1] > 0 and passes(load.entered_a, rating_a)
    if is_above:
        begin_s, length_s = above_s
    elsewhere = passes(counted_a, rating_a) and not passes(load.entered_a, rating_a)
    yield finding(
        "breaker",
        severity,
        rule,
        case=zone,
        load_a=load.entered_a,
        limit_a=rating_a,
        from_s=begin_s,
        for_min=length_s / 60,
        is_above=is_above,
        high_a=load.high_a,
        high_v=study.band.high_v,
        high_zone=high_zone,
        device="fuse" if curve in ("gG", "BS 3036") else "breaker",
        counted_a=counted_a if elsewhere else None,
        nominal_v=None if study.is_nec else study.band.nominal_v,
        margin_frac=1 - (counted_a if elsewhere else load.entered_a) / rating_a,
        remedies=mend_circuit(rating_a, study, breaker)
        if severity == "over" or (severity == "note" and above_s[1] > 0)
        else (),
    )


def _breaker_severity(
    study: Study, rating_a: float, zones: tuple[str, str], counted_a: float, above_s: float
) -> Severity:
    """Above the rating for minutes is a note where the standard lets it pass; lasting, or further above, it is over."""
    zone, high_zone = zones
    over = passes(counted_a, rating_a, NAMEPLATE_SLACK_FRAC)
    if over and not study.is_nec:
        passing = zone in ("carried", "may trip within an hour") and 0 < above_s <= _MINUTES_S
        return "note" if passing and study.rms_a(_HOUR_S) <= rating_a else "over"
    trips = high_zone != "carried" and not study.is_nec
    return "over" if over else "note" if passes(counted_a, rating_a) or trips else "ok"


def breaker_start(study: Study) -> Iterator[Finding]:
    """Judge what happens when a motor starts on top of the elements."""
    rating_a, curve = study.circuit.breaker_a, study.circuit.breaker_curve
    motors = []
    for appliance in study.loads.appliances:
        volts = study.band.nominal_v * amps_frac(study.loads.layout, appliance.other_line)
        motors.append((appliance.motor_w / volts, appliance.name))
    running_a, name = max(motors)
    if rating_a is None or running_a <= 0:
        return
    together_a = study.circuit_load.entered_a + (MOTOR_START_MULTIPLE - 1) * running_a
    threshold_a = instantaneous_from_a(rating_a, curve) if curve else None
    facts: Facts = {"name": name, "running_a": running_a, "together_a": together_a, "multiple": MOTOR_START_MULTIPLE}
    if threshold_a is None:
        severity: Severity = "unknown" if curve is None and not study.is_nec else "ok"
        yield finding("breaker_start", severity, "motor start", case="no zone", **facts)
        return
    severity = "note" if together_a >= threshold_a else "ok"
    yield finding(
        "breaker_start",
        severity,
        "iec breaker curves",
        margin_frac=1 - together_a / threshold_a,
        curve=curve,
        limit_a=rating_a,
        threshold_a=threshold_a,
        remedies=(Remedy(code="motor first", facts={"name": name}),),
        **facts,
    )


def continuous(study: Study) -> Iterator[Finding]:
    """Judge the load that lasts: three hours under NFPA 70, the warmth of an hour under IEC."""
    if study.is_nec:
        yield _three_hours(study)
        return
    rating_a, (begin_s, length_s), rms_a = study.circuit.breaker_a, study.at_peak_s, study.rms_a(_HOUR_S)
    facts: Facts = {
        "rms_a": rms_a,
        "for_min": length_s / 60,
        "from_s": begin_s,
        "limit_a": rating_a,
        "frac": _WARM_FRAC,
    }
    if rating_a is None:
        yield finding("continuous", "unknown", "breakers side by side", **facts)
        return
    warm = rms_a > _WARM_FRAC * rating_a
    yield finding("continuous", "note" if warm else "ok", "breakers side by side", **facts)


def _three_hours(study: Study) -> Finding:
    nominal_a = study.peak_a(study.plate)
    steady_a = study.lasting_a(pulses_count_as_on=False)
    pulsed_a = study.lasting_a(pulses_count_as_on=True)
    bridged_a = study.lasting_a(pulses_count_as_on=True, bridge_s=_BRIDGE_S)
    steady, pulsed, bridged = (nominal_a + (NEC_CONTINUOUS_FACTOR - 1) * a for a in (steady_a, pulsed_a, bridged_a))
    rating_a = study.circuit.breaker_a
    facts: Facts = {
        "load_a": nominal_a,
        "lasting_a": pulsed_a,
        "steady_a": steady_a,
        "needed_a": pulsed,
        "bridge_min": _BRIDGE_S / 60,
        "bridged_a": bridged_a,
        "bridged_needed_a": bridged,
        "is_bridged": bridged > pulsed and bridged_a >= _WEIGHTY_A,
        "limit_a": rating_a,
    }
    case = "lasting" if pulsed_a >= _WEIGHTY_A else "none"
    if rating_a is None:
        return finding("continuous", "unknown", "nec load", case=case, **facts)
    over, near = (passes(a, rating_a, NAMEPLATE_SLACK_FRAC) for a in (steady, max(pulsed, bridged)))
    severity: Severity = "over" if over else "note" if near else "ok"
    remedies = mend_circuit(rating_a / NEC_CONTINUOUS_FACTOR, study, continuous) if severity == "over" else ()
    return finding(
        "continuous", severity, "nec load", case=case, margin_frac=1 - steady / rating_a, remedies=remedies, **facts
    )


def one_appliance_a(study: Study) -> tuple[float, str] | None:
    """What one plugged-in appliance may take on a shared American circuit [A], and the rule; None where none says."""
    circuit = study.circuit
    if not study.is_nec or circuit.outlet_a is None or circuit.dedicated:
        return None
    limits = []
    if circuit.breaker_a in _SMALL_BRANCHES_A:
        limits.append((NEC_ONE_APPLIANCE_FRAC * circuit.breaker_a, "nec one appliance"))
    if circuit.outlet_a in _NEC_SHARED_OUTLETS_A:
        limits.append((NEC_ONE_APPLIANCE_FRAC * circuit.outlet_a, "nec receptacle load"))
    return min(limits, default=None)


def one_appliance(study: Study) -> Iterator[Finding]:
    """Judge one plugged-in appliance by the 80 % of a circuit with several outlets; unsaid, it has several."""
    found = one_appliance_a(study)
    if found is None:
        return
    (limit_a, rule), load_a = found, study.vessel_peak_a(study.plate)
    severity: Severity = "over" if passes(load_a, limit_a) else "ok"  # the rule compares the plates themselves
    yield finding(
        "one_appliance",
        severity,
        rule,
        case="shared" if study.circuit.dedicated is False else "unsaid",
        load_a=load_a,
        limit_a=limit_a,
        breaker_a=study.circuit.breaker_a,
        margin_frac=1 - load_a / limit_a,
        remedies=Remedies(lambda: (*elements_remedy(limit_a, study), Remedy(code="own circuit"))),
    )


def outlet(study: Study) -> Iterator[Finding]:
    """Judge the vessel by the outlet and plug that it hangs on."""
    limit_a, load = study.circuit.outlet_a, study.vessel_load
    facts: Facts = {
        "load_a": load.entered_a,
        "high_a": load.high_a,
        "high_v": study.band.high_v,
        "names": tuple(appliance.name for appliance in study.planned_others),
    }
    if limit_a is None:
        yield finding("outlet", "unknown", "", **facts)
        return
    severity = load.severity(limit_a)
    plate = severity == "note" and passes(max(load.nominal_a, load.entered_a), limit_a)
    yield finding(
        "outlet",
        severity,
        _outlet_rule(study, limit_a),
        case="plate" if plate else severity,
        limit_a=limit_a,
        margin_frac=1 - load.entered_a / limit_a,
        remedies=mend_vessel(limit_a, study) if severity == "over" else (),
        **facts,
    )


def _outlet_rule(study: Study, limit_a: float) -> str:
    if study.is_nec:
        return "nec receptacle"
    if not study.band.is_known:
        return ""
    if limit_a == FUSED_PLUG_A:
        return "plug rating"
    return "outlet test" if limit_a <= _HOUSEHOLD_OUTLET_A else "industrial outlet"


def outlet_hours(study: Study) -> Iterator[Finding]:
    """Say what hours of load do to a household outlet; of one that is overloaded anyway `outlet` has said enough."""
    limit_a, rms_a = study.circuit.outlet_a, study.vessel_rms_a(_HOUR_S)
    household = not study.is_nec and limit_a is not None and limit_a <= _HOUSEHOLD_OUTLET_A
    if limit_a is None or not household or rms_a <= _SUSTAINED_A or study.vessel_load.severity(limit_a) == "over":
        return
    remedies = (Remedy(code="sound contacts"),)
    yield finding("outlet_hours", "note", "outlet sustained", rms_a=rms_a, usual_a=_SUSTAINED_A, remedies=remedies)


def outlet_protection(study: Study) -> Iterator[Finding]:
    """Judge whether the breaker is small enough for the outlet behind it."""
    rating_a, outlet_a = study.circuit.breaker_a, study.circuit.outlet_a
    if rating_a is None or outlet_a is None or rating_a <= outlet_a:
        return
    severity, case = _outlet_protection(study, rating_a, outlet_a)
    yield finding(
        "outlet_protection",
        severity,
        "nec receptacle" if study.is_nec else "iec load",
        case=case,
        limit_a=outlet_a,
        breaker_a=rating_a,
        margin_frac=1 - rating_a / outlet_a,
        remedies=(Remedy(code="breaker or outlet", facts={"outlet_a": outlet_a, "breaker_a": rating_a}),),
    )


def _outlet_protection(study: Study, rating_a: float, outlet_a: float) -> tuple[Severity, str]:
    if study.is_nec:
        several = not study.circuit.dedicated and (rating_a, outlet_a) == (20.0, 15.0)
        return ("ok", "table") if several else ("over", "over")
    if outlet_a == FUSED_PLUG_A or study.circuit.plug_fuse_a is not None:
        return ("ok", "fused") if rating_a <= _FUSED_RING_A else ("over", "over")
    local = outlet_a in _LOCAL_OUTLETS_A and rating_a <= _LOCAL_BREAKER_A
    return ("note", "local") if local else ("over", "over")


def plug_fuse_finding(study: Study) -> Iterator[Finding]:
    """Judge the vessel by the fuse in its plug."""
    limit_a = study.circuit.plug_fuse_a
    if limit_a is None:
        return
    load, fuse = study.vessel_load, plug_fuse(limit_a)
    severity = "over" if load.entered_a > fuse.carries_a else load.severity(limit_a)
    yield finding(
        "plug_fuse",
        severity,
        "plug fuse",
        load_a=load.entered_a,
        limit_a=limit_a,
        carries_a=fuse.carries_a,
        blows_a=fuse.blows_a,
        high_a=load.high_a,
        high_v=study.band.high_v,
        margin_frac=1 - load.entered_a / limit_a,
        remedies=mend_vessel(limit_a, study) if severity == "over" else (),
    )
