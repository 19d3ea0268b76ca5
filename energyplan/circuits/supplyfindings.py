"""Findings on the supply: voltage, lines, disconnection of a fault, residual current, and what nobody entered."""

from collections.abc import Iterator

from energyplan.circuits.breakers import greatest_loop_ohm, nec_earth_awg
from energyplan.circuits.findings import NAMEPLATE_SLACK_FRAC, Facts, Finding, Remedy, Severity, finding, passes
from energyplan.circuits.study import Study
from energyplan.circuits.wiring import earth_path_ohm, protective_mm2
from energyplan.physics.conductors import awg_mm2

__all__ = [
    "ENCLOSURES",
    "disconnection",
    "isolation",
    "leakage",
    "main_fuse",
    "place",
    "region",
    "residual_current",
    "sharing",
    "supply_lines",
    "voltage",
]

_LEAKAGE_FRAC = 0.3  # RULES["iec leakage"]
_THIRTY_MA_A = 0.030
_CLASS_A_A = 0.006  # UL 943, class A: trips at 4 to 6 mA (from memory; RULES["nec residual"])
_OUTLETS_TO_A = 32.0  # RULES["iec residual"]
_TOUCH_V = 50.0  # RULES["iec TT"]
_MEASURED_FRAC = 0.8  # a loop measured cold against the limit warm (BS 7671, appendix 3; from memory)
_LEAKAGE_A_PER_KW, _MOST_LEAKAGE_A = 0.00075, 0.005  # RULES["appliance leakage"]
_WET = ("damp", "garage", "outdoors")
ENCLOSURES = {"dry": "IPXX", "damp": "IPX4", "garage": "IPX4", "outdoors": "IP44"}
"""IP code that is usual in a place (common practice; `RULES` "iec enclosure")."""
_OUTLET_EDITIONS_TO_250_V = ("2020", "2023")


def voltage(study: Study) -> Iterator[Finding]:
    """Say what the ends of the supply's band do to currents and to heat."""
    band, load = study.band, study.vessel_load
    low_a = study.vessel_peak_a(study.low)
    crossing = tuple(
        rating.code
        for rating in study.ratings
        if rating.limit_a < study.load_a(rating, study.high)
        and not passes(study.load_a(rating, study.nominal), rating.limit_a, NAMEPLATE_SLACK_FRAC)
    )
    yield finding(
        "voltage",
        "note" if crossing else "ok",
        "nec voltage" if study.is_nec else "iec voltage",
        crossing=crossing,
        nominal_a=load.nominal_a,
        nominal_v=band.nominal_v,
        high_a=load.high_a,
        high_v=band.high_v,
        low_a=low_a,
        low_v=band.low_v,
        heat_frac=low_a / load.nominal_a * (band.low_v / band.nominal_v) if load.nominal_a > 0 else 1.0,
    )


def supply_lines(study: Study) -> Iterator[Finding]:
    """Say which line carries what, where there is more than one, and what nobody placed."""
    layout = study.loads.layout
    if layout == "one phase":
        return
    peaks = tuple(study.conductor_peaks_a.items())
    yield finding(
        "supply",
        "unknown" if study.unplaced else "ok",
        "",
        case=layout,
        peaks=peaks,
        line=study.entered.line,
        names=study.unplaced,
        voltage_v=study.circuit.voltage_v,
        remedies=(Remedy(code="say the line"),),
    )


def region(study: Study) -> Iterator[Finding]:
    """Say where neither set of rules is at home."""
    if not study.band.is_known:
        yield finding(
            "region", "unknown", "", voltage_v=study.circuit.voltage_v, remedies=(Remedy(code="local rules"),)
        )


def sharing(study: Study) -> Iterator[Finding]:
    """Say what is not known of the other loads behind the breaker, also where they contradict what was entered."""
    appliances, alone = study.loads.appliances, study.circuit.dedicated
    beside = tuple(one.name for one in (appliances[1:] if alone else appliances) if alone or not one.planned)
    if alone is None or (alone and beside):
        case = "contradiction" if alone else ""
        yield finding("sharing", "unknown", "", case=case, names=beside, remedies=(Remedy(code="what shares"),))


def disconnection(study: Study) -> Iterator[Finding]:
    """Judge whether breaker, cable and earth disconnect a fault in time."""
    if not study.band.is_known:
        return
    if study.is_nec:
        yield _grounding(study)
        return
    circuit = study.circuit
    loop_ohm, path_ohm = circuit.earth_loop_ohm, earth_path_ohm(circuit)
    limit_ohm, rule = _loop_limit(study)
    facts: Facts = {
        "loop_ohm": loop_ohm,
        "path_ohm": path_ohm,
        "limit_ohm": limit_ohm,
        "breaker_a": circuit.breaker_a,
        "curve": circuit.breaker_curve,
        "earthing": circuit.earthing,
        "earth_mm2": protective_mm2(circuit),
        "earth_is_assumed": circuit.protective_conductor_mm2 is None,
        "left_ohm": None if limit_ohm is None or path_ohm is None else limit_ohm - path_ohm,
        "residual_a": circuit.residual.rating_a,
    }
    severity, case = _disconnects(study, limit_ohm, loop_ohm, path_ohm)
    tested_ohm = loop_ohm if loop_ohm is not None else path_ohm
    margin_frac = None if limit_ohm is None or tested_ohm is None else 1 - tested_ohm / limit_ohm
    yield finding(
        "disconnection",
        severity,
        rule,
        case=case,
        margin_frac=margin_frac,
        remedies=(Remedy(code="measure loop" if severity == "unknown" else "shorten loop"),),
        **facts,
    )


def _loop_limit(study: Study) -> tuple[float | None, str]:
    """Greatest impedance of the loop [ohm], and the rule."""
    circuit = study.circuit
    rating_a, curve = circuit.breaker_a, circuit.breaker_curve
    if circuit.earthing == "TT":
        rated_a = circuit.residual.rating_a
        return (_TOUCH_V / rated_a if rated_a else None), "iec TT"
    limit_ohm = None if rating_a is None else greatest_loop_ohm(rating_a, curve, study.band.nominal_v)
    return limit_ohm, "iec fuse disconnection" if curve in ("gG", "BS 3036") else "iec disconnection"


def _disconnects(
    study: Study, limit_ohm: float | None, loop_ohm: float | None, path_ohm: float | None
) -> tuple[Severity, str]:
    """A measured loop decides; without one, wires that are too long alone do."""
    device = study.circuit.residual.there
    if study.circuit.earthing == "TT" and device is False:
        return "over", "TT without"
    if limit_ohm is None:
        return "unknown", "no limit"
    known_ohm = loop_ohm if loop_ohm is not None else path_ohm
    if known_ohm is not None and passes(known_ohm, limit_ohm):
        case = "measured too much" if loop_ohm is not None else "wires too much"
        helped = device is True and study.circuit.earthing != "TT"
        return ("note", f"{case}, device") if helped else ("over", case)
    if loop_ohm is None:
        return "unknown", "not measured"
    return ("note", "near") if loop_ohm > _MEASURED_FRAC * limit_ohm else ("ok", "ok")


def _grounding(study: Study) -> Finding:
    """The equipment grounding conductor by the breaker; the loop itself is not judged under these rules."""
    circuit = study.circuit
    least = nec_earth_awg(circuit.breaker_a) if circuit.breaker_a is not None else None
    earth_mm2 = circuit.protective_conductor_mm2
    facts: Facts = {"breaker_a": circuit.breaker_a, "least_awg": least, "earth_mm2": earth_mm2}
    if least is None or earth_mm2 is None:
        remedies = (Remedy(code="say the earth"),) if least is not None else ()
        return finding("disconnection", "unknown", "nec earth", case="grounding", remedies=remedies, **facts)
    severity: Severity = "ok" if earth_mm2 >= awg_mm2(least) * 0.995 else "over"
    return finding(
        "disconnection",
        severity,
        "nec earth",
        case="grounding",
        remedies=(Remedy(code="thicker earth", facts={"least_awg": least}),),
        **facts,
    )


def residual_current(study: Study) -> Iterator[Finding]:
    """Judge the residual current device of an outlet."""
    circuit, device = study.circuit, study.circuit.residual
    facts: Facts = {"rating_a": device.rating_a, "kind": device.kind, "place": circuit.place, "is_nec": study.is_nec}
    severity, case = _residual_nec(study) if study.is_nec else _residual_iec(study)
    if not study.band.is_known and severity == "over":
        severity, case = "note", "local"
    remedies = (Remedy(code="residual", facts={"is_nec": study.is_nec}),)
    rule = "nec residual" if study.is_nec else "iec residual type" if case == "type AC" else "iec residual"
    yield finding("residual_current", severity, rule, case=case, remedies=remedies, **facts)


def _residual_iec(study: Study) -> tuple[Severity, str]:
    circuit, device = study.circuit, study.circuit.residual
    demanded = circuit.outlet_a is None or circuit.outlet_a <= _OUTLETS_TO_A
    if device.there is None:
        return "unknown", "not entered"
    if not device.there:
        return ("over", "none") if demanded else ("note", "none")
    if device.rating_a is None:
        return "unknown", "only there"
    if demanded and device.rating_a > _THIRTY_MA_A:
        return "over", "too much"
    if device.kind is None:
        return "unknown", "no type"
    return ("note", "type AC") if device.kind == "AC" else ("ok", "ok")


def _residual_nec(study: Study) -> tuple[Severity, str]:
    circuit, device = study.circuit, study.circuit.residual
    edition = circuit.rules_edition or "2023"
    demanded = study.band.nominal_v < 200.0 or edition in _OUTLET_EDITIONS_TO_250_V
    if device.there is None:
        return "unknown", "not entered"
    if device.there and device.rating_a is None:
        return "unknown", "only there"
    asked = demanded and circuit.place in _WET
    if device.rating_a is not None:
        if device.rating_a <= _CLASS_A_A:
            return "ok", "ok"
        return ("over" if asked else "note" if circuit.place else "unknown"), "too much"
    if circuit.place is None:
        return "unknown", "none, no place"
    return ("over", "none") if asked else ("note", "none")


def leakage(study: Study) -> Iterator[Finding]:
    """Say what the elements may leak against what the device lets pass."""
    device = study.circuit.residual
    rated_a = device.rating_a
    if not device.there or rated_a is None:
        return
    may_a = min(_LEAKAGE_A_PER_KW * study.element_w / 1000, _MOST_LEAKAGE_A)
    share_a = _LEAKAGE_FRAC * rated_a
    severity: Severity = "note" if passes(may_a, share_a) else "ok"
    yield finding(
        "leakage",
        severity,
        "iec leakage" if not study.is_nec else "appliance leakage",
        case="nec" if study.is_nec else "",
        leaks_a=may_a,
        share_a=share_a,
        rated_a=rated_a,
        frac=_LEAKAGE_FRAC,
        margin_frac=1 - may_a / share_a,
        remedies=(Remedy(code="dry elements"),),
        also=("appliance leakage",),
    )


def main_fuse(study: Study) -> Iterator[Finding]:
    """Judge the fullest line by the main fuse, with nothing else of the house on."""
    limit_a, load = study.circuit.main_fuse_a, study.circuit_load
    if limit_a is None:
        return
    yield finding(
        "main_fuse",
        load.severity(limit_a),
        "main fuse",
        load_a=load.entered_a,
        limit_a=limit_a,
        margin_frac=1 - load.entered_a / limit_a,
        remedies=(Remedy(code="ask supplier"),),
    )


def place(study: Study) -> Iterator[Finding]:
    """Judge the enclosure of the outlet by its place."""
    circuit, where = study.circuit, study.circuit.place
    rule = "nec enclosure" if study.is_nec else "iec enclosure" if study.band.is_known else ""
    if where is None:
        yield finding("place", "unknown", rule, remedies=(Remedy(code="say the place"),))
        return
    facts: Facts = {"enclosure": circuit.enclosure, "asked": ENCLOSURES[where]}
    if where not in _WET:
        yield finding("place", "ok", rule, case=where, **facts)
        return
    keeps = None if circuit.enclosure is None else _keeps_out(circuit.enclosure, ENCLOSURES[where])
    severity: Severity = "unknown" if keeps is None else "ok" if keeps else "over"
    remedies = (Remedy(code="say the enclosure" if keeps is None else "tight outlet", facts=facts),)
    yield finding("place", severity, rule, case=where, remedies=remedies, **facts)


def _keeps_out(enclosure: str, asked: str) -> bool:
    """Whether either numeral of an IP code is at least the one asked for; an X is none."""
    return all(
        want == "X" or (have != "X" and have >= want) for have, want in zip(enclosure[2:], asked[2:], strict=True)
    )


def isolation(study: Study) -> Iterator[Finding]:
    """Judge whether something in reach cuts all lines: a plug may, of what is plugged in."""
    circuit = study.circuit
    plugs = circuit.outlet_a is not None and (study.is_nec or circuit.outlet_a <= _OUTLETS_TO_A)
    rule = "nec isolation" if study.is_nec else "iec isolation" if study.band.is_known else ""
    severity: Severity = "unknown"
    if circuit.isolator is not None or plugs:
        severity = "ok" if circuit.isolator is not False else "note" if plugs else "over"
    case = "plug" if plugs and circuit.isolator is None else severity
    yield finding("isolation", severity, rule, case=case, remedies=(Remedy(code="isolator"),))
