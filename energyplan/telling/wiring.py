"""Findings on wires, fault protection and supply, in words."""

from collections.abc import Callable, Mapping
from typing import Any

from energyplan.base.kinds import AMPERES, CELSIUS, COUNT, METRES, MINUTES, OHMS, SHARE, VOLTS, WATTS, WORD
from energyplan.base.sentence import NOTHING, Sayable, Sentence, listed
from energyplan.physics.conductors import awg_mm2
from energyplan.telling.protection import MILLIAMPERES, Facts, and_high, cable_words, names, rated

__all__ = ["SAID"]

_WAYS = {
    "A": "method A, in a conduit in an insulated wall",
    "B": "method B, in a conduit on a wall",
    "C": "method C, clipped to a surface",
    "E": "method E, in free air",
    "60": "terminals for 60 °C",
    "75": "terminals for 75 °C",
}


def _laid(f: Facts) -> Sentence:
    way = _WAYS[f.method] + (", a guess" if f.is_guess else "")
    conductors = ", three loaded conductors" if f.loaded > 2 and not f.is_nec else ""
    metal = ", aluminium" if f.metal == "aluminium" else ""
    ring = ", a ring" if f.is_ring else ""
    together = NOTHING if f.circuits == 1 else Sentence(", {count} circuits together", count=COUNT(f.circuits))
    return Sentence(
        "{way}, {ambient}{together}{more}",
        way=WORD(way),
        ambient=CELSIUS(f.ambient_c),
        together=together,
        more=WORD(f"{conductors}{metal}{ring}"),
    )


def _cable(f: Facts) -> Sentence:
    if f.case == "not entered":
        return Sentence("No cable was entered: whether it carries {load} is not known.", load=AMPERES(f.load_a))
    name, load = cable_words(f.cable_mm2), AMPERES(f.load_a)
    if f.case in ("too thin", "too hot"):
        template = {
            "too thin": "{name} cable: no table rates fixed cable that thin; it would have to carry {load}.",
            "too hot": "{name} cable at {ambient}: too hot for it; it would have to carry {load}.",
        }[f.case]
        ambient = {"ambient": CELSIUS(f.ambient_c)} if f.case == "too hot" else {}
        return Sentence(template, name=name, load=load, **ambient)
    guess = (
        Sentence("; how it lies was not entered: wholly in insulation it carries {least}", least=AMPERES(f.least_a))
        if f.case == "guess"
        else NOTHING
    )
    high = Sentence("; {high}", high=and_high(f)) if f.severity == "note" else NOTHING
    return Sentence(
        "At most {load} flow through {name} cable that carries {limit} as it lies ({laid}){guess}{high}.",
        load=load,
        name=name,
        limit=AMPERES(f.limit_a),
        laid=_laid(f),
        guess=guess,
        high=high,
    )


def _cable_protection(f: Facts) -> Sentence:
    verdict = {
        "ok": "protects",
        "note": "is larger than it should be for",
        "over": "is larger than it should be for",
        "guess": "may or may not protect, depending on how it lies,",
    }[f.case]
    return Sentence(
        "The {breaker} breaker {verdict} {name} cable, good for {limit} here ({laid}).",
        breaker=rated(f.breaker_a),
        verdict=WORD(verdict),
        name=cable_words(f.cable_mm2),
        limit=AMPERES(f.limit_a),
        laid=_laid(f),
    )


def _ring(f: Facts) -> Sentence:
    if f.severity == "over":
        return Sentence("A ring is made of 2.5 mm² or more behind 30 or 32 A; this one is not.")
    if f.severity == "unknown":
        return Sentence("A ring is made of 2.5 mm² or more behind 30 or 32 A; breaker or cable was not entered.")
    long = "" if f.severity == "ok" else ": that is best fed by a circuit of its own"
    return Sentence(
        "{watts} on one point of a ring from {at} for {lasts}{long}; two plugs in one double outlet share its "
        "contacts.",
        watts=WATTS(f.element_w),
        at=f.teller.at(f.from_s),
        lasts=MINUTES(f.for_min),
        long=WORD(long),
    )


def _extension(f: Facts) -> Sentence:
    unmarked = "" if f.is_marked else "by the table, since its printed rating was not entered, "
    how = "unwound" if f.case == "unwound" else "wound on its reel"
    reel = (
        Sentence(" Unwind it wholly: left on a reel it carries about {wound}.", wound=AMPERES(f.wound_a))
        if f.case == "unwound"
        else Sentence(" Wound up it can't give off its heat and melts, although nothing trips.")
    )
    high = Sentence("; {high}", high=and_high(f)) if f.severity == "note" else NOTHING
    return Sentence(
        "The vessel draws {load} through {length} of {name} lead, which {unmarked}carries {limit} {how}{high}.{reel}",
        load=AMPERES(f.load_a),
        length=METRES(f.length_m),
        name=cable_words(f.cable_mm2),
        unmarked=WORD(unmarked),
        limit=AMPERES(f.limit_a),
        how=WORD(how),
        high=high,
        reel=reel,
    )


def _lead_length(f: Facts) -> Sentence:
    return Sentence(
        "The lead is {length} long; many electricians keep one of {name} below {longest}.",
        length=METRES(f.length_m),
        name=cable_words(f.cable_mm2),
        longest=METRES(f.longest_m),
    )


def _lead_protection(f: Facts) -> Sentence:
    limit = AMPERES(f.limit_a)
    if f.severity == "unknown":
        return Sentence("Nothing that would trip at the lead's {limit} was entered.", limit=limit)
    does = "protects" if f.severity == "ok" else "does not trip at what is too much for"
    return Sentence(
        "The {breaker} before it {does} a lead of {limit}.", breaker=rated(f.breaker_a), does=WORD(does), limit=limit
    )


def _voltage_drop(f: Facts) -> Sentence:
    if not hasattr(f, "drop_v"):
        return Sentence("Cable and length were not both entered: what voltage is left at the vessel is not known.")
    elsewhere = f.cable_frac > f.drop_frac * (1 + 1e-9)
    where = ", halfway round the ring" if f.is_ring else " to what else hangs on it" if elsewhere else ""
    said = Sentence(
        "Cable and lead lose {drop} of {volts} ({frac}, the fixed cable {cable}{where}), so the elements give {less} "
        "less heat",
        drop=VOLTS(f.drop_v),
        volts=VOLTS(f.voltage_v),
        frac=SHARE(f.drop_frac),
        cable=SHARE(f.cable_frac),
        where=WORD(where),
        less=SHARE(f.less_heat_frac),
    )
    if f.case == "lead alone":
        return Sentence("{said}; the fixed cable is not known.", said=said)
    if f.severity == "ok":
        return Sentence("{said}.", said=said)
    kind = "the limit" if f.is_binding else "the advice"
    return Sentence(
        "{said}; {kind} for the fixed cable is {limit}.", said=said, kind=WORD(kind), limit=SHARE(f.limit_frac)
    )


def _disconnection(f: Facts) -> Sentence:
    if f.case == "grounding":
        return _grounding(f)
    if f.case == "TT without":
        return Sentence(
            "An earth electrode (TT) lets too little flow for a breaker: only a residual current device helps."
        )
    if f.case == "no limit":
        return Sentence("Whether a fault is cut off in time is not known: it takes breaker, curve and earth.")
    device = "breaker" if f.earthing != "TT" else "residual current device"
    limit = Sentence(
        "the fault loop at the outlet may have at most {limit} for this {device}",
        limit=OHMS(f.limit_ohm),
        device=WORD(device),
    )
    if f.case == "not measured":
        left = NOTHING
        if f.left_ohm is not None:
            left = Sentence(
                "; cable and lead take {path}, which leaves {left} for the supply (Ze)",
                path=_loop_path(f),
                left=OHMS(f.left_ohm),
            )
        return Sentence("It was not measured: {limit}{left}.", limit=limit, left=left)
    if f.case.startswith("wires too much"):
        tail = ": the residual current device has to do it" if f.case.endswith("device") else ""
        return Sentence(
            "Cable and lead alone have {path}, and {limit}{tail}.",
            path=_loop_path(f),
            limit=limit,
            tail=WORD(tail),
        )
    tails = {
        "measured too much": ": a fault is not cut off in time",
        "measured too much, device": ": the residual current device has to do it",
        "near": "; measured cold it should be at most 0.8 of that",
        "ok": "",
    }
    return Sentence(
        "{loop} were entered, and {limit}{tail}.", loop=OHMS(f.loop_ohm), limit=limit, tail=WORD(tails[f.case])
    )


def _loop_path(f: Facts) -> Sentence:
    """R1+R2, and the protective conductor that it rests on where nobody entered one."""
    if not f.earth_is_assumed:
        return Sentence("{path} (R1+R2)", path=OHMS(f.path_ohm))
    return Sentence(
        "{path} (R1+R2, earth of {earth} assumed)",
        path=OHMS(f.path_ohm),
        earth=cable_words(f.earth_mm2),
    )


def _grounding(f: Facts) -> Sentence:
    unsaid = Sentence(
        "The fault loop is not judged under these rules; {more}.", more=Sentence("no breaker was entered")
    )
    if f.least_awg is None:
        return unsaid
    least = {"least": cable_words(awg_mm2(f.least_awg)), "breaker": rated(f.breaker_a)}
    if f.earth_mm2 is None:
        asks = Sentence("behind {breaker} its equipment grounding conductor is {least} or more", **least)
        return Sentence(unsaid.template, more=asks)
    return Sentence(
        "The equipment grounding conductor is {earth}; behind {breaker} it is {least} or more. The loop itself is not "
        "judged under these rules.",
        earth=cable_words(f.earth_mm2),
        **least,
    )


def _residual_current(f: Facts) -> Sentence:
    device = "ground-fault protection (about 5 mA)" if f.is_nec else "a residual current device of 30 mA"
    templates = {
        "not entered": "Whether {device} covers this outlet was not entered; water and elements ask for it.",
        "none": "There is no residual current protection: ask an electrician for {device} before you brew.",
        "none, no place": "There is no {device}; whether the outlet needs it depends on its place, which was not "
        "entered.",
        "local": "There is no residual current protection; water and elements ask for it, whatever the local rules.",
        "only there": "A residual current device is there; its rating, its type and whether it covers this outlet are "
        "not known.",
        "too much": "The residual current device is one of {rating}; "
        + ("wet places ask for about 5 mA." if f.is_nec else "an outlet of up to 32 A asks for 30 mA."),
        "no type": "The residual current device is one of {rating}; its type is not known, and electronics ask for "
        "type A.",
        "type AC": "The residual current device is one of type AC, which electronics can blind; they ask for type A.",
        "ok": "There is {own}: press its test button before the day; it limits no load.",
    }
    template = templates[f.case]
    own = (
        Sentence("a device of {rating}, type {kind}", rating=MILLIAMPERES(f.rating_a), kind=WORD(f.kind))
        if f.kind
        else WORD(device)
    )
    values: dict[str, Sayable] = {"device": WORD(device), "own": own}
    if f.rating_a is not None:
        values["rating"] = MILLIAMPERES(f.rating_a)
    return Sentence(template, **{name: value for name, value in values.items() if f"{{{name}}}" in template})


def _leakage(f: Facts) -> Sentence:
    moist = " Heating elements that have taken up moisture trip it, so they may not work on one at all."
    return Sentence(
        "The elements may leak up to {leaks}; the {rated} device trips too often when all behind it leak more than "
        "{share} "
        "({frac}).{tail}",
        leaks=MILLIAMPERES(f.leaks_a),
        rated=MILLIAMPERES(f.rated_a),
        share=MILLIAMPERES(f.share_a),
        frac=SHARE(f.frac),
        tail=WORD(moist if f.case == "nec" and f.severity == "note" else ""),
    )


_RATING_NAMES = {
    "breaker": "breaker",
    "cable": "cable",
    "outlet": "outlet and plug",
    "plug_fuse": "fuse in the plug",
    "extension": "extension lead",
}


def _voltage(f: Facts) -> Sentence:
    passes = NOTHING
    if f.crossing:
        crossing = listed([WORD(_RATING_NAMES[code]) for code in f.crossing])
        passes = Sentence(", which passes the rating of {crossing}", crossing=crossing)
    return Sentence(
        "The vessel draws {nominal} at {nominal_v}, and {high} at {high_v} with elements 5 % above their "
        "plates{passes}. At "
        "{low_v} with elements 10 % below theirs it draws {low} and has {heat} of the power.",
        nominal=AMPERES(f.nominal_a),
        nominal_v=VOLTS(f.nominal_v),
        high=AMPERES(f.high_a),
        high_v=VOLTS(f.high_v),
        passes=passes,
        low_v=VOLTS(f.low_v),
        low=AMPERES(f.low_a),
        heat=SHARE(f.heat_frac),
    )


def _supply(f: Facts) -> Sentence:
    peaks = listed([Sentence("{line} {amps}", line=WORD(name), amps=AMPERES(amps)) for name, amps in f.peaks])
    said = Sentence("At most {peaks}; the ratings are compared with {line}", peaks=peaks, line=WORD(f.line))
    if not f.names:
        return Sentence("{said}.", said=said)
    return Sentence(
        "{said}. Nobody said where {names} hangs: counted from a line to neutral, where it makes most.",
        said=said,
        names=names(f.names),
    )


def _sharing(f: Facts) -> Sentence:
    if f.case == "contradiction":
        return Sentence(
            "It was entered that nothing else hangs behind this breaker, and so was {names} beside the vessel.",
            names=names(f.names),
        )
    entered = Sentence(" beside {names}", names=names(f.names)) if f.names else NOTHING
    return Sentence(
        "What else hangs behind this breaker{entered} was not said, so it counts as shared.", entered=entered
    )


def _main_fuse(f: Facts) -> Sentence:
    return Sentence(
        "The fullest line draws {load} of the {limit} main fuse, with nothing else of the house on.",
        load=AMPERES(f.load_a),
        limit=rated(f.limit_a),
    )


_PLACES = {
    "dry": "Indoors and dry: an ordinary enclosure",
    "damp": "A damp place: {asked} where it splashes, nothing on the floor, a drip loop in the lead",
    "garage": "A garage: {asked}, off the floor",
    "outdoors": "Outdoors: {asked} or better, closed with the plug in it, out of the rain",
}


def _place(f: Facts) -> Sentence:
    if f.case == "unknown":
        return Sentence(
            "Where the outlet is was not entered: it decides on residual current device, enclosure and outlet."
        )
    if f.case == "dry":
        return Sentence("{place}.", place=WORD(_PLACES["dry"]))
    place = Sentence(_PLACES[f.case], asked=WORD(f.asked))
    if f.severity == "unknown":
        return Sentence("{place}. What this outlet withstands was not entered.", place=place)
    return Sentence("{place}; this outlet is {entered}.", place=place, entered=WORD(f.enclosure))


def _isolation(f: Facts) -> Sentence:
    templates = {
        "plug": "The plug cuts all lines, while it can be reached.",
        "ok": "A plug or switch in sight cuts all lines.",
        "note": "No switch is in sight, and the plug is out of reach: nothing near the vessel cuts all lines.",
        "over": "Nothing in sight of the vessel cuts all lines.",
        "unknown": "Whether a switch in sight of the vessel cuts all lines was not entered.",
    }
    return Sentence(templates[f.case])


def _region(f: Facts) -> Sentence:
    return Sentence(
        "Local rules are not known here: {volts} belongs to no supply of these rules, so only what physics says is "
        "judged.",
        volts=VOLTS(f.voltage_v),
    )


SAID: Mapping[str, Callable[[Any], Sentence]] = {
    "cable": _cable,
    "cable_protection": _cable_protection,
    "ring": _ring,
    "extension": _extension,
    "lead_length": _lead_length,
    "lead_protection": _lead_protection,
    "voltage_drop": _voltage_drop,
    "disconnection": _disconnection,
    "residual_current": _residual_current,
    "leakage": _leakage,
    "voltage": _voltage,
    "supply": _supply,
    "sharing": _sharing,
    "main_fuse": _main_fuse,
    "place": _place,
    "isolation": _isolation,
    "region": _region,
}
"""A sentence for each code."""
