"""Protection told: breaker, disconnection, residual current, with the words that all electrical findings share."""

from collections.abc import Callable, Iterable, Mapping
from types import SimpleNamespace
from typing import Any

from energyplan.base.kinds import AMPERES, COUNT, MINUTES, MONEY, SHARE, VOLTS, WORD, WRITTEN, Kind, Shown, Value
from energyplan.base.sentence import NOTHING, Sayable, Sentence, listed
from energyplan.circuits.cables import cable_name

__all__ = ["MILLIAMPERES", "NOTHING", "SAID", "Facts", "and_high", "cable_words", "kilowatts", "names", "rated"]

MILLIAMPERES = Kind("leakage", Shown("mA", 1, 1000.0), Shown("mA", 1, 1000.0))


KILOWATTS = Kind("contract", Shown("kW", 2), Shown("kW", 2))


_RATED = Kind("rating", Shown("A", 0), Shown("A", 0))  # as printed on a breaker


Facts = SimpleNamespace


def rated(amps: float) -> Value:
    """A rating as it is printed."""
    return (_RATED if amps == round(amps) else AMPERES)(amps)


def names(written: Iterable[str], last: str = "and") -> Sayable:
    """Names that people gave, in a row."""
    return listed([WRITTEN(name) for name in written], last)


def cable_words(cross_section_mm2: float) -> Value:
    """A cable's size as it is sold."""
    return WORD(cable_name(cross_section_mm2))


def kilowatts(watts: float) -> Value:
    """A contracted power."""
    return KILOWATTS(watts / 1000)


def and_high(f: Facts) -> Sentence:
    """What a current becomes at the upper end of the supply."""
    return Sentence(
        "at {high_v} with elements 5 % above their plates it is {high_a}",
        high_v=VOLTS(f.high_v),
        high_a=AMPERES(f.high_a),
    )


_ZONES = {
    "carried": "carried",
    "may trip within an hour": "it may trip within an hour",
    "trips within an hour": "it trips within an hour",
    "trips within minutes": "it trips within minutes",
}


def _breaker(f: Facts) -> Sentence:
    if f.severity == "unknown":
        return Sentence("No breaker or fuse was entered: what trips at {load} is not known.", load=AMPERES(f.load_a))
    zone, lasts = _ZONES[f.case], f.for_min
    verdict = zone if f.case == "carried" or lasts >= 60 else f"{zone}, so perhaps in that time"
    warm = " It is tested cold; among warm neighbours it trips sooner." if f.severity != "ok" else ""
    counted = NOTHING
    if f.counted_a is not None and f.nominal_v is None:
        counted = Sentence(" By the plates, which these rules compare, it is {amps}.", amps=AMPERES(f.counted_a))
    elif f.counted_a is not None:
        counted = Sentence(
            " At {volts}, to which ratings refer, it is {amps}.", volts=VOLTS(f.nominal_v), amps=AMPERES(f.counted_a)
        )
    return Sentence(
        "At most {load} flow through the {limit} {device}, {above}from {at} for {lasts}: {verdict}; {high}, "
        "{high_zone}.{counted}{warm}",
        counted=counted,
        above=WORD("more than its rating " if f.is_above else ""),
        load=AMPERES(f.load_a),
        limit=rated(f.limit_a),
        device=WORD(f.device),
        at=f.teller.at(f.from_s),
        lasts=MINUTES(lasts),
        verdict=WORD(verdict),
        high=and_high(f),
        high_zone=WORD(f.high_zone),
        warm=WORD(warm),
    )


def _breaker_start(f: Facts) -> Sentence:
    start = Sentence(
        "While {name} starts it may draw about {times} times its {running}, {together} in all for a second or so",
        name=WRITTEN(f.name),
        times=COUNT(f.multiple),
        running=AMPERES(f.running_a),
        together=AMPERES(f.together_a),
    )
    if f.case == "no zone":
        return Sentence("{start}; without a curve there is no standard zone to compare that with.", start=start)
    verdict = "may trip at once" if f.severity == "note" else "does not trip at once"
    return Sentence(
        "{start}; a curve {curve} breaker of {limit} {verdict} (from {threshold}).",
        start=start,
        curve=WORD(f.curve),
        limit=rated(f.limit_a),
        verdict=WORD(verdict),
        threshold=AMPERES(f.threshold_a),
    )


def _continuous(f: Facts) -> Sentence:
    if hasattr(f, "needed_a"):
        return _three_hours(f)
    lasts = {"rms": AMPERES(f.rms_a), "lasts": MINUTES(f.for_min), "at": f.teller.at(f.from_s)}
    said = Sentence(
        "The peak lasts {lasts} from {at}; over the hottest hour the load warms wires like a steady {rms}", **lasts
    )
    if f.severity == "note":
        return Sentence(
            "{said}, more than {frac} of the {limit} breaker: side by side with others, or in a warm board, it may "
            "trip.",
            said=said,
            frac=SHARE(f.frac),
            limit=rated(f.limit_a),
        )
    return Sentence("{said}.", said=said)


def _three_hours(f: Facts) -> Sentence:
    if f.case == "none":
        said = Sentence("Nothing of weight lasts 3 hours without a break, so there is no continuous load by definition")
    else:
        warmth = (
            Sentence(", by its warmth {steady}", steady=AMPERES(f.steady_a)) if f.steady_a < f.lasting_a else NOTHING
        )
        said = Sentence(
            "{lasting} last 3 hours or more without a break{warmth}: {load} by the plates with a quarter of that on "
            "top "
            "ask for a breaker of {needed} or more",
            lasting=AMPERES(f.lasting_a),
            warmth=warmth,
            load=AMPERES(f.load_a),
            needed=AMPERES(f.needed_a),
        )
    if not f.is_bridged:
        return Sentence("{said}.", said=said)
    return Sentence(
        "{said}. Only gaps of less than {gap} break a load of {bridged}; counted through it would ask for {needed}.",
        said=said,
        gap=MINUTES(f.bridge_min),
        bridged=AMPERES(f.bridged_a),
        needed=AMPERES(f.bridged_needed_a),
    )


def _one_appliance(f: Facts) -> Sentence:
    shared = {
        "shared": "this circuit feeds more than one outlet",
        "unsaid": "nobody said that it feeds one outlet only, so it counts as shared",
    }
    return Sentence(
        "The vessel's plate asks for {load}; one plugged-in appliance may take {limit} here, because {why}.",
        load=AMPERES(f.load_a),
        limit=AMPERES(f.limit_a),
        why=WORD(shared[f.case]),
    )


def _outlet(f: Facts) -> Sentence:
    own = NOTHING
    if f.names:
        several = len(f.names) > 1
        needs = (
            "need outlets of their own, not second places"
            if several
            else "needs an outlet of its own, not a second place"
        )
        own = Sentence(" {names} {needs} on the same one.", names=names(f.names), needs=WORD(needs))
    if f.severity == "unknown":
        return Sentence(
            "No outlet was entered: whether it carries {load} is not known.{own}", load=AMPERES(f.load_a), own=own
        )
    verdict: dict[str, Sentence] = {
        "over": Sentence(": more than they are made for; contacts overheat although nothing trips"),
        "plate": Sentence(": inside what a plate means; {high}", high=and_high(f)),
        "note": Sentence("; {high}, more than they are made for", high=and_high(f)),
        "ok": NOTHING,
    }
    return Sentence(
        "The vessel draws {load} through an outlet and plug of {limit}{verdict}.{own}",
        load=AMPERES(f.load_a),
        limit=rated(f.limit_a),
        verdict=verdict[f.case],
        own=own,
    )


def _outlet_hours(f: Facts) -> Sentence:
    return Sentence(
        "The vessel warms outlet and plug like a steady {rms} for an hour; many electricians stay near {usual} on a "
        "household outlet for hours on end.",
        rms=AMPERES(f.rms_a),
        usual=rated(f.usual_a),
    )


def _outlet_protection(f: Facts) -> Sentence:
    templates = {
        "table": "A {limit} outlet may stand behind a {breaker} breaker where there are several.",
        "fused": "The plug's own fuse protects a {limit} outlet behind a {breaker} breaker.",
        "local": "A {limit} outlet behind a {breaker} breaker: some countries allow it, most do not; an appliance that "
        "draws more than {limit} overheats it and nothing trips.",
        "over": "The {breaker} breaker does not protect a {limit} outlet: an appliance that draws more than {limit} "
        "would "
        "overheat it and nothing would trip.",
    }
    return Sentence(templates[f.case], limit=rated(f.limit_a), breaker=rated(f.breaker_a))


def _plug_fuse(f: Facts) -> Sentence:
    hot = Sentence(" Above {limit} fuse and plug run hot; {high}.", limit=rated(f.limit_a), high=and_high(f))
    return Sentence(
        "The vessel draws {load} through a {limit} plug fuse, which carries {carries} for half an hour and blows "
        "within "
        "half an hour at {blows}.{hot}",
        load=AMPERES(f.load_a),
        limit=rated(f.limit_a),
        carries=AMPERES(f.carries_a),
        blows=AMPERES(f.blows_a),
        hot=hot if f.severity == "note" else NOTHING,
    )


def _contract(f: Facts) -> Sentence:
    parts: list[Sayable] = [
        Sentence("{name} {watts}", name=WRITTEN(name), watts=kilowatts(w)) for name, w in f.shares_w
    ]
    if f.base_w > 0:
        parts.append(Sentence("base load {watts}", watts=kilowatts(f.base_w)))
    step = Sentence(" ({step})", step=WRITTEN(f.step)) if f.step else NOTHING
    draws = Sentence(
        "The house draws {peak} at {at}{step} with all elements on: {shares}",
        peak=kilowatts(f.peak_w),
        at=f.teller.at(f.at_s),
        step=step,
        shares=listed(parts),
    )
    allowed = Sentence(" and the {frac} it lets pass", frac=SHARE(f.allows_frac)) if f.allows_frac else NOTHING
    contracted: dict[str, Sayable] = {"draws": draws, "contracted": kilowatts(f.contracted_w)}
    if f.case == "drops out":
        also = Sentence(" in {steps}", steps=names(f.steps)) if len(f.steps) > 1 else NOTHING
        return Sentence(
            "{draws}. That passes the contracted {contracted}{allowed}, and the supply drops out{also}.",
            allowed=allowed,
            also=also,
            **contracted,
        )
    if f.case == "too long":
        return Sentence(
            "{draws}. It stays above the contracted {contracted} for {above} from {at}, elements that pulse taken as "
            "on; the contract lets that pass for {allows}.",
            above=MINUTES(f.above_min),
            at=f.teller.at(f.above_s),
            allows=MINUTES(f.allows_min),
            **contracted,
        )
    high = NOTHING
    if f.high_w > f.limit_w:
        high = Sentence("; at a high voltage, with elements 5 % above their plates, {high}", high=kilowatts(f.high_w))
    said = Sentence("{draws}. Contracted are {contracted}{allowed}{high}", allowed=allowed, high=high, **contracted)
    if not f.by_line:
        return Sentence("{said}.", said=said)
    return Sentence(
        "{said}. {line} draws {watts}, more than the {part} that are a third: some meters count each line by itself.",
        said=said,
        line=WORD(f.by_line["line"]),
        watts=kilowatts(f.by_line["line_w"]),
        part=kilowatts(f.by_line["part_w"]),
    )


def _month_peak(f: Facts) -> Sentence:
    steps = Sentence(" ({steps})", steps=names(f.steps)) if f.steps else NOTHING
    before = (
        Sentence("the month's peak so far is {peak}", peak=KILOWATTS(f.month_peak_kw))
        if f.month_peak_kw
        else Sentence("none was entered yet")
    )
    said = Sentence(
        "The highest {minutes} of the clock begin at {at}{steps} and take {peak} on the mean, with the rest of the "
        "house; "
        "{before}",
        minutes=MINUTES(f.window_min),
        at=f.teller.at(f.at_s),
        steps=steps,
        peak=KILOWATTS(f.peak_kw),
        before=before,
    )
    if f.case == "adds":
        free = Sentence(" above the {free} that are free", free=KILOWATTS(f.free_kw)) if f.free_kw else NOTHING
        return Sentence(
            "{said}. It adds {money} to the month's charge{free}.", said=said, money=MONEY(f.added), free=free
        )
    why = "that is free" if f.case == "free" else "the month's charge has it already"
    return Sentence("{said}. It adds nothing: {why}.", said=said, why=WORD(why))


SAID: Mapping[str, Callable[[Any], Sentence]] = {
    "breaker": _breaker,
    "breaker_start": _breaker_start,
    "continuous": _continuous,
    "one_appliance": _one_appliance,
    "outlet": _outlet,
    "outlet_hours": _outlet_hours,
    "outlet_protection": _outlet_protection,
    "plug_fuse": _plug_fuse,
    "contract": _contract,
    "month_peak": _month_peak,
}


"""A sentence for each code."""
