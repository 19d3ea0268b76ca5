"""The page for the electrician, told: one side that asks and can be answered, and the rest overleaf."""

from collections.abc import Iterator
from typing import Any

from energyplan.advice.answer import Answer
from energyplan.base.kinds import (
    AMPERES,
    CELSIUS,
    DATE,
    KILOGRAMS,
    KILOWATTS,
    METRES,
    MINUTES,
    MOMENT,
    OHMS,
    SHARE,
    VOLTS,
    WORD,
    WRITTEN,
    Moment,
    Value,
)
from energyplan.base.sentence import NOTHING, Sayable, Sentence, listed
from energyplan.circuits.check import CircuitCheck, check
from energyplan.circuits.findings import Facts, Finding
from energyplan.circuits.supplyfindings import ENCLOSURES
from energyplan.circuits.wiring import cable_factors
from energyplan.day.supply import SECOND_HEATER, on_the_circuit
from energyplan.physics.conductors import awg_mm2
from energyplan.plan.equipment import Circuit
from energyplan.plan.lines import layout_of
from energyplan.tariffs.clock import zone_of
from energyplan.telling.circuit import (
    RATINGS_CAUTION,
    circuit_headline,
    circuit_numbers,
    enough_sentence,
    most_sentence,
    rule_table,
    tell_findings,
)
from energyplan.telling.currents import LEAST_A, loads_table
from energyplan.telling.findings import LEGEND
from energyplan.telling.protection import cable_words, rated
from energyplan.telling.told import Column, Table, Told

__all__ = ["checked_circuit", "tell_electrician"]

_PLACES = {"dry": "indoors, dry", "damp": "a damp place", "garage": "a garage", "outdoors": "outdoors"}
_BLANK = None


def checked_circuit(answer: Answer) -> CircuitCheck:
    """The circuit's check; of a plan without a circuit the currents alone, at the elements' own voltage."""
    if answer.circuit is not None:
        return answer.circuit
    plan = answer.day.plan
    bare = Circuit(voltage_v=plan.voltage_v)
    return check(on_the_circuit(plan, answer.day.profiles), bare, plan.other_loads, answer.start, zone_of(answer.zone))


def tell_electrician(answer: Answer) -> Told:
    """The page: what is asked, the loads, what was entered beside what is required, and what is not in order.

    Parameters
    ----------
    answer : Answer
        The answered plan. Without a circuit the load is stated and nothing is judged.
    """
    checked = checked_circuit(answer)
    findings = tell_findings(answer)
    front = tuple(found for found in findings if found.severity != "ok")
    overleaf = Told(
        key="overleaf",
        title="Overleaf",
        sentences=tuple(_sized(answer)),
        tables=(rule_table(answer, every=False),),
        findings=tuple(found for found in findings if found.severity == "ok"),
        cautions=(RATINGS_CAUTION, LEGEND),
        parts=(Told(key="questions", title="Open questions", sentences=tuple(_questions(answer, checked))),),
    )
    return Told(
        key="electrician",
        title=answer.day.plan.title,
        headline=_request(answer, checked),
        facts={"severity": "over" if answer.is_over else checked.severity, "when": _when(answer)},
        sentences=(_verdict(answer), _lines(checked)),
        tables=(loads_table(answer, checked), _required(answer, checked)),
        findings=front,
        parts=(overleaf,),
    )


def _request(answer: Answer, checked: CircuitCheck) -> Sentence:
    """What the electrician is asked, in one sentence."""
    plan = answer.day.plan
    kilowatts = KILOWATTS(sum(element.power_w for element in plan.vessel.elements) / 1000)
    circuit = plan.circuit
    where = _PLACES.get(circuit.place or "", "place not named") if circuit else "place not named"
    how = "plug-in" if circuit is None or circuit.outlet_a is not None else "on an outlet not named"
    return Sentence(
        "{power} class I heater, {how}, {amps} {stretch} in a day of {day}, {where}. May this outlet carry it?",
        power=kilowatts,
        how=WORD(how),
        amps=AMPERES(checked.vessel_a),
        stretch=_stretch(checked),
        day=MINUTES(answer.day.duration_s / 60),
        where=WORD(where),
    )


def _stretch(checked: CircuitCheck) -> Sentence:
    """How long the vessel draws its most: without a break, and in pulses."""
    steady, pulses = MINUTES(checked.vessel_at_peak_min), MINUTES(checked.vessel_pulses_min)
    if checked.vessel_at_peak_min < 1:
        return Sentence("in pulses for up to {pulses}", pulses=pulses)
    if checked.vessel_pulses_min < 1:
        return Sentence("for up to {steady} on end", steady=steady)
    return Sentence("for up to {steady} on end, in pulses for {pulses}", steady=steady, pulses=pulses)


def _when(answer: Answer) -> Sentence:
    """Day and hours of the brew day."""
    start = answer.clock(0.0)
    first, last = (MOMENT(Moment(answer.clock(at), start.date())) for at in (0.0, answer.day.duration_s))
    return Sentence(
        "{day}, {first} to {last}, {zone}", day=DATE(start.date()), first=first, last=last, zone=WRITTEN(answer.zone)
    )


def _verdict(answer: Answer) -> Sentence:
    if answer.circuit is None:
        return Sentence("No rating of the circuit was entered: the load is stated, nothing is judged.")
    return circuit_headline(answer)


def _lines(checked: CircuitCheck) -> Sentence:
    """What each line carries at most."""
    peaks = [Sentence("{line} {amps}", line=WORD(one.line), amps=AMPERES(one.peak_a)) for one in checked.lines]
    high = next(case for case in checked.voltages if case.name == "high")
    together = {name: float(amps.max()) for name, amps in checked.line_a}
    rests = any(one.peak_a > together[one.line] + LEAST_A for one in checked.lines)
    return Sentence(
        "At most at once: {peaks}{rests}, {longest} {how}; {high} at {volts} with elements 5 % strong; RMS of the "
        "worst hour {rms}.",
        peaks=listed(peaks),
        rests=WORD(" (the neutral while loads on other lines rest)" if rests else ""),
        longest=MINUTES(checked.longest_at_peak_min),
        how=WORD("in pulses" if checked.pulses_at_peak else "on end"),
        high=AMPERES(high.peak_a),
        volts=VOLTS(high.voltage_v),
        rms=AMPERES(checked.rms_60_min_a),
    )


# Entered, required, measured ----------------------------------------------------------------------------------------


def _required(answer: Answer, checked: CircuitCheck) -> Table:
    columns = (
        Column("what", "", WORD),
        Column("entered", "Entered", WORD),
        Column("required", "Required", WORD),
    )
    circuit = answer.day.plan.circuit or Circuit(voltage_v=answer.day.plan.voltage_v)
    found = {finding.code: finding for finding in checked.findings}
    rows = (
        ("Supply", _supply(answer, circuit), None),
        ("Breaker or fuse", _breaker(circuit), _breaker_asks(circuit, checked)),
        ("Cable, how it lies", _cable(circuit), _cable_asks(circuit, found)),
        ("Outlet and plug", _outlet(circuit), _outlet_asks(checked)),
        ("Extension lead", _lead(circuit) if answer.circuit else _BLANK, _lead_asks(circuit, found)),
        ("Residual current device", _residual(circuit), _residual_asks(circuit)),
        ("Voltage drop", _drop(found), _drop_asks(found)),
        *_loop_rows(circuit, found),
        ("Earthing, main fuse", _earthing(circuit), Sentence("{load} beside the house", load=AMPERES(checked.peak_a))),
        ("Isolation", _isolation(circuit), WORD("in sight, all lines")),
        ("Enclosure", _enclosure(circuit), WORD(_asked_of_enclosure(circuit))),
    )  # fmt: skip
    return Table("required", "Entered and required", columns, rows)


def _supply(answer: Answer, circuit: Circuit) -> Sentence:
    shared = {True: ", this outlet alone", False: ", other outlets too", None: ""}
    return Sentence(
        "{volts}, {layout}{shared}",
        volts=VOLTS(circuit.voltage_between_lines_v or circuit.voltage_v),
        layout=WORD(layout_of(circuit)),
        shared=WORD(shared[circuit.dedicated] if answer.circuit else shared[None]),
    )


def _breaker(circuit: Circuit) -> Sentence | None:
    if circuit.breaker_a is None:
        return _BLANK
    curve = {None: "curve not known", "inverse": "inverse time", "gG": "gG fuse", "BS 3036": "BS 3036 fuse"}
    if circuit.rules == "nec" and circuit.breaker_curve is None:
        return Sentence("{rating}", rating=rated(circuit.breaker_a))
    kind = curve.get(circuit.breaker_curve, f"curve {circuit.breaker_curve}")
    return Sentence("{rating}, {kind}", rating=rated(circuit.breaker_a), kind=WORD(kind))


def _breaker_asks(circuit: Circuit, checked: CircuitCheck) -> Sentence:
    if circuit.rules != "nec":
        return Sentence("Ib {load} ≤ In ≤ Iz", load=AMPERES(checked.peak_a))
    if checked.continuous_a < _SHOWN_A:
        return Sentence("{load}, nothing of it for 3 h", load=AMPERES(checked.peak_a))
    lasting = AMPERES(checked.continuous_a)
    return Sentence("{load} and 25 % of the {lasting} that last 3 h", load=AMPERES(checked.peak_a), lasting=lasting)


_SHOWN_A = 0.05


def _cable(circuit: Circuit) -> Sentence | None:
    if circuit.cable_mm2 is None:
        return _BLANK
    way = " round the ring" if circuit.ring else ""
    length = Sentence(", {length}{way}", length=METRES(circuit.cable_length_m), way=WORD(way))
    metal = ", aluminium" if circuit.conductor == "aluminium" else ""
    method = "" if circuit.installation is None else f"; method {circuit.installation}"
    if circuit.rules == "nec":
        method = method.replace("method", "column")
    return Sentence(
        "{size}{metal}{length}{method}",
        size=cable_words(circuit.cable_mm2),
        metal=WORD(metal),
        length=length if circuit.cable_length_m else WORD(", length not known"),
        method=WORD(method or "; how it lies not known"),
    )


def _cable_asks(circuit: Circuit, found: dict[str, Finding]) -> Sentence | None:
    facts: Facts = found["cable"].facts
    if "limit_a" not in facts:
        return Sentence("Iz {load} or more, and In", load=AMPERES(facts["load_a"]))
    ambient, grouping = cable_factors(circuit, facts["loaded"])
    return Sentence(
        "Iz {carries} at {warm}: factors {ambient} × {grouping}",
        carries=AMPERES(facts["limit_a"]),
        warm=CELSIUS(circuit.ambient_c),
        ambient=WORD(f"{ambient:.2f}"),
        grouping=WORD(f"{grouping:.2f}"),
    )


def _outlet(circuit: Circuit) -> Sentence | None:
    if circuit.outlet_a is None:
        return _BLANK
    fuse = NOTHING
    if circuit.plug_fuse_a is not None:
        fuse = Sentence(", {rating} fuse in the plug", rating=rated(circuit.plug_fuse_a))
    return Sentence("{rating}{fuse}", rating=rated(circuit.outlet_a), fuse=fuse)


def _outlet_asks(checked: CircuitCheck) -> Sentence:
    return Sentence("{load}; sound contacts", load=AMPERES(checked.vessel_a))


def _lead(circuit: Circuit) -> Sayable:
    lead = circuit.extension
    if lead is None:
        return WORD("none")
    rating = Sentence(", marked {rating}", rating=rated(lead.rating_a)) if lead.rating_a is not None else NOTHING
    return Sentence(
        "{size}, {length}{rating}{wound}",
        size=cable_words(lead.cable_mm2),
        length=METRES(lead.length_m),
        rating=rating,
        wound=WORD("" if lead.unwound else ", left wound up"),
    )


def _lead_asks(circuit: Circuit, found: dict[str, Finding]) -> Sentence | None:
    if circuit.extension is None:
        return None
    facts = found["extension"].facts
    carries, load = AMPERES(facts["limit_a"]), AMPERES(facts["load_a"])
    return Sentence("carries {carries}, needs {load}", carries=carries, load=load)


def _residual(circuit: Circuit) -> Sayable | None:
    entered = circuit.residual_current_device
    if entered is None:
        return _BLANK
    return WORD(entered if isinstance(entered, str) else "there, rating not known" if entered else "none")


def _residual_asks(circuit: Circuit) -> Value:
    return WORD("ground-fault, about 5 mA, by place" if circuit.rules == "nec" else "30 mA, type A, covers the outlet")


def _drop(found: dict[str, Finding]) -> Sentence | None:
    facts = found["voltage_drop"].facts
    if "drop_v" not in facts:
        return _BLANK
    return Sentence("{drop}, {frac}", drop=VOLTS(facts["drop_v"]), frac=SHARE(facts["drop_frac"]))


def _drop_asks(found: dict[str, Finding]) -> Sentence:
    return Sentence("at most {limit} in the fixed cable", limit=SHARE(found["voltage_drop"].facts["limit_frac"]))


def _loop_rows(circuit: Circuit, found: dict[str, Finding]) -> Iterator[tuple[Any, ...]]:
    """The fault loop: measured against the greatest allowed; under American rules the grounding conductor."""
    finding = found.get("disconnection")
    facts = finding.facts if finding else {}
    if circuit.rules == "nec":
        least = facts.get("least_awg")
        entered = cable_words(facts["earth_mm2"]) if facts.get("earth_mm2") else _BLANK
        yield "Grounding conductor", entered, None if least is None else cable_words(awg_mm2(least))
        return
    limit, left, path = facts.get("limit_ohm"), facts.get("left_ohm"), facts.get("path_ohm")
    entered = OHMS(circuit.earth_loop_ohm) if circuit.earth_loop_ohm is not None else _BLANK
    asked = Sentence("at most {limit}", limit=OHMS(limit)) if limit is not None else WORD("by breaker and curve")
    yield "Fault loop at the outlet, Zs", entered, asked
    calculated: Sayable | None = _BLANK
    if path is not None and facts.get("earth_is_assumed"):
        earth = cable_words(facts["earth_mm2"])
        calculated = Sentence("R1+R2 {path}, earth of {earth} assumed", path=OHMS(path), earth=earth)
    elif path is not None:
        calculated = Sentence("R1+R2 {path}, calculated", path=OHMS(path))
    supply = (
        None if left is None else Sentence("Ze at most {left}", left=OHMS(left)) if left > 0 else WORD("no Ze left")
    )
    yield "R1+R2, Ze", calculated, supply


def _earthing(circuit: Circuit) -> Sentence | None:
    fuse = Sentence("main fuse {rating}", rating=rated(circuit.main_fuse_a)) if circuit.main_fuse_a else None
    said: list[Sayable] = [WORD(circuit.earthing)] if circuit.earthing else []
    said += [fuse] if fuse else []
    return Sentence("{said}", said=listed(said, ",")) if said else _BLANK


def _isolation(circuit: Circuit) -> Value | None:
    if circuit.isolator is not None:
        return WORD("in sight" if circuit.isolator else "none in sight")
    return WORD("plug") if circuit.outlet_a is not None else _BLANK


def _enclosure(circuit: Circuit) -> Sayable | None:
    said = [WORD(words) for words in (circuit.enclosure, _PLACES.get(circuit.place or "")) if words]
    return listed(said, ",") if said else _BLANK


def _asked_of_enclosure(circuit: Circuit) -> str:
    if circuit.place is None:
        return "by the place"
    return "ordinary" if circuit.place == "dry" else f"{ENCLOSURES[circuit.place]} or better"


# Overleaf -----------------------------------------------------------------------------------------------------------


def _sized(answer: Answer) -> Iterator[Sentence]:
    yield circuit_numbers(checked_circuit(answer))
    if answer.circuit is not None:
        needs, most = answer.sizes
        yield enough_sentence(needs)
        yield most_sentence(most)


def _questions(answer: Answer, checked: CircuitCheck) -> Iterator[Sentence]:
    """What a plan can't answer; the electrician decides."""
    circuit = answer.day.plan.circuit
    alone = circuit is not None and circuit.dedicated
    yield Sentence(
        "Does the breaker feed this outlet alone, as entered?"
        if alone
        else "Which outlets and appliances share the breaker?"
    )
    yield Sentence(
        "Which voltage is left at the outlet at {amps}? Worn contacts, type, age?", amps=AMPERES(checked.peak_a)
    )
    yield Sentence("How much leakage stands on the residual current device already, and what else is behind it?")
    yield Sentence("If a larger circuit is needed: do the board and the main fuse take it?")
    yield _continuous(answer, checked)
    heater = answer.day.plan.second_heater
    if heater is not None:
        own = "does its outlet really hang on another breaker, and on which line?"
        both = "beside the vessel: on separate circuits, or on separate lines?"
        asked = WORD(own if heater.own_circuit else both)
        yield Sentence("{name}: {asked}", name=WRITTEN(SECOND_HEATER), asked=asked)
    steam = KILOGRAMS(answer.day.evaporated_kg)
    yield Sentence("{steam} of water go into the room as steam: extract fan, condensation near the board?", steam=steam)
    yield Sentence("May a lead be used at all? If so, which cross-section and which length at most?")


def _continuous(answer: Answer, checked: CircuitCheck) -> Sentence:
    circuit = answer.day.plan.circuit
    lasting: Sayable = WORD("nothing of weight lasts 3 h")
    if checked.continuous_a >= _SHOWN_A:
        lasting = Sentence("{amps} last 3 h or more", amps=AMPERES(checked.continuous_a))
    nec = " Does the 80 % limit for a plugged-in appliance apply?" if circuit and circuit.rules == "nec" else ""
    return Sentence(
        "Is the brew day a continuous load under our code? As planned, {lasting}.{nec}", lasting=lasting, nec=WORD(nec)
    )
