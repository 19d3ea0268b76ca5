"""The circuit, told: the verdict, the numbers, the findings, what would be enough, two days on one circuit."""

import dataclasses
from collections.abc import Iterator, Sequence
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Any

import numpy as np

from energyplan.advice.answer import Answer
from energyplan.base.errors import Place
from energyplan.base.kinds import (
    AMPERES,
    COUNT,
    KEY,
    MINUTES,
    MONEY,
    SHARE,
    VOLTS,
    WATTS,
    WORD,
    counted,
)
from energyplan.base.money import Money
from energyplan.base.sentence import NOTHING, Sayable, Sentence, listed
from energyplan.circuits.check import CircuitCheck
from energyplan.circuits.study import Rating
from energyplan.tariffs.clock import zone_of
from energyplan.telling.findings import LEGEND, FindingTeller, finding_name
from energyplan.telling.protection import cable_words, rated
from energyplan.telling.told import Column, Found, Table, Told

if TYPE_CHECKING:
    from energyplan.circuits.enough import Enough, LargestPower
    from energyplan.circuits.findings import Finding

__all__ = [
    "RATINGS_CAUTION",
    "circuit_facts",
    "circuit_headline",
    "circuit_numbers",
    "nearest_rating",
    "rule_table",
    "tell_circuit",
    "tell_enough",
    "tell_findings",
    "tell_house",
    "unknown_tail",
    "voltage_table",
]

RATINGS_CAUTION = Sentence(
    "The check compares the plan with the ratings you entered. It is no design; local codes rule, and a licensed "
    "electrician decides."
)
_ONE_LOOP = 2  # a line and its neutral
_GUESSED_METHODS = {"A": "method A", "60": "terminals for 60 °C"}


def tell_findings(answer: Answer, findings: "Sequence[Finding] | None" = None) -> tuple[Found, ...]:
    """What the circuit's ratings and the house's meter say (or some of it), worst first."""
    return _teller(answer).all(answer.mended(answer.findings if findings is None else findings))


def _teller(answer: Answer) -> FindingTeller:
    circuit = answer.day.plan.circuit
    return FindingTeller(answer.start, zone_of(answer.zone), circuit.rules_edition if circuit else None)


def rule_table(answer: Answer, *, every: bool = True) -> Table:
    """What the rules behind the findings say; of all of them, or of what is not in order or not known."""
    behind = (finding for finding in answer.findings if every or finding.severity != "ok")
    return _teller(answer).rule_table(behind)


def circuit_headline(answer: Answer) -> Sentence:
    """Whether the circuit carries the day: each current with the rating that it passes through."""
    checked = answer.circuit
    over = [finding_name(finding.code) for finding in answer.findings if finding.severity == "over"]
    beyond = Sentence("Over: {names}.", names=listed([WORD(name) for name in over])) if over else None
    if checked is None:
        unchecked = Sentence("The circuit is not checked: the plan has no {key}.", key=KEY(Place("circuit")))
        return Sentence("{over} {unchecked}", over=beyond, unchecked=unchecked) if beyond else unchecked
    tail = Sentence("{unknown}.", unknown=unknown_tail(answer.findings))
    if beyond:
        return Sentence("{over} {pairs}{tail}", over=beyond, pairs=_joined(checked), tail=tail)
    if next(_tightest(checked), None) is None:
        none = Sentence(
            "{peak} while the elements are on, and no rating to compare it with", peak=AMPERES(checked.peak_a)
        )
        return Sentence("{none}{tail}", none=none, tail=tail)
    return Sentence("Within the ratings you entered: {pairs}{tail}", pairs=_joined(checked), tail=tail)


def unknown_tail(findings: "Sequence[Finding]") -> Sentence:
    """How many things nobody entered, after a verdict on the others; nothing where all is known."""
    unknown = sum(finding.severity == "unknown" for finding in findings)
    return Sentence("; {things} not known", things=counted(unknown, "thing is", "things are")) if unknown else NOTHING


def _joined(checked: CircuitCheck) -> Sentence:
    """The tightest ratings, each with its own current."""
    pairs = [_pair(checked, rating) for rating in _tightest(checked)]
    if not pairs:
        return Sentence("{peak} while the elements are on", peak=AMPERES(checked.peak_a))
    template = "; ".join(f"{{pair_{number}}}" for number in range(len(pairs)))
    return Sentence(template, **{f"pair_{number}": pair for number, pair in enumerate(pairs)})


def _tightest(checked: CircuitCheck) -> Iterator[Rating]:
    """The lowest rating of the vessel alone, where it is below that of all, and the lowest that all goes through."""
    lowest = []
    for whole in (False, True):
        there = [rating for rating in checked.ratings if rating.whole_circuit is whole and rating.limit_a > 0]
        lowest += [min(there, key=lambda rating: rating.limit_a)] if there else []
    equal = len(lowest) > 1 and lowest[0].limit_a >= lowest[1].limit_a
    yield from lowest[1:] if equal else lowest


def nearest_rating(checked: CircuitCheck) -> Sayable:
    """Of the currents in the headline, the one that comes nearest to its rating; the peak where there is none."""
    ratings = list(_tightest(checked))
    if not ratings:
        return AMPERES(checked.peak_a)
    nearest = max(ratings, key=lambda rating: _load_a(checked, rating) / rating.limit_a)
    return Sentence("{load} of {limit}", load=AMPERES(_load_a(checked, nearest)), limit=rated(nearest.limit_a))


def _load_a(checked: CircuitCheck, rating: Rating) -> float:
    return checked.peak_a if rating.whole_circuit else checked.vessel_a


def _pair(checked: CircuitCheck, rating: Rating) -> Sentence:
    load_a = _load_a(checked, rating)
    return Sentence(
        "{load} of {limit} {name}", load=AMPERES(load_a), limit=rated(rating.limit_a), name=WORD(rating.name)
    )


def circuit_numbers(checked: CircuitCheck) -> Sentence:
    """The numbers in one sentence."""
    return Sentence(
        "{peak} with all elements on, {longest} {how}; {rms} over the worst hour{lost}.",
        peak=AMPERES(checked.peak_a),
        longest=MINUTES(checked.longest_at_peak_min),
        how=WORD("in pulses" if checked.pulses_at_peak else "at the longest"),
        rms=AMPERES(checked.rms_60_min_a),
        lost=_lost(checked),
    )


def _lost(checked: CircuitCheck) -> Sentence:
    """What is lost on the way; without a cable nobody knows."""
    if not checked.voltage_drop_v:
        return NOTHING
    drop, frac = VOLTS(checked.voltage_drop_v), SHARE(checked.voltage_drop_frac)
    return Sentence("; {drop} ({frac}) lost in the leads", drop=drop, frac=frac)


def tell_circuit(answer: Answer, *, every: bool = True) -> Told:
    """The circuit's check; findings that are ok come last, or are only named."""
    checked, findings = answer.circuit, tell_findings(answer)
    rules = rule_table(answer)
    told = tuple(found for found in findings if every or found.severity != "ok")
    fine = [WORD(finding_name(found.code)) for found in findings if found not in told]
    if checked is None:
        return Told(key="circuit", title="Circuit", headline=circuit_headline(answer), findings=tell_findings(answer))
    return Told(
        key="circuit",
        title="Circuit",
        headline=circuit_headline(answer),
        facts=circuit_facts(checked),
        sentences=(
            *([Sentence("Nothing to add: {fine}.", fine=listed(fine))] if fine else []),
            circuit_numbers(checked),
        ),
        tables=(_line_table(checked),) if every or len(checked.lines) > _ONE_LOOP else (),
        findings=told,
        cautions=(RATINGS_CAUTION, *([LEGEND] if every else [])),
        parts=(Told(key="rules", title=rules.title, tables=(rules,)),) if every and rules.rows else (),
    )


def circuit_facts(checked: CircuitCheck) -> dict[str, Any]:
    """The numbers for machines."""
    return {
        "peak_a": AMPERES(checked.peak_a),
        "line": WORD(checked.line),
        "limit_a": None if checked.limit_a is None else AMPERES(checked.limit_a),
        "limit_name": WORD(checked.limit_name),
        "vessel_a": AMPERES(checked.vessel_a),
        "continuous_a": AMPERES(checked.continuous_a),
        "rms_60_min_a": AMPERES(checked.rms_60_min_a),
        "longest_at_peak_min": MINUTES(checked.longest_at_peak_min),
        "voltage_drop_v": VOLTS(checked.voltage_drop_v),
        "voltage_drop_frac": SHARE(checked.voltage_drop_frac),
        "unknown": COUNT(sum(finding.severity == "unknown" for finding in checked.findings)),
    }


def _line_table(checked: CircuitCheck) -> Table:
    columns = (
        Column("line", "Line", WORD),
        Column("peak_a", "At most", AMPERES),
        Column("breaker_margin_frac", "Left of the breaker", SHARE, detail=1),
    )
    rows = tuple((one.line, one.peak_a, one.breaker_margin_frac) for one in checked.lines)
    return Table("lines", "Lines", columns, rows)


def voltage_table(checked: CircuitCheck) -> Table:
    """Largest currents at each voltage of the supply."""
    columns = (
        Column("case", "Supply", WORD),
        Column("voltage_v", "Voltage", VOLTS, short="V"),
        Column("element_frac", "Elements", SHARE),
        Column("whole_circuit_a", "Fullest line", AMPERES, short="All, A"),
        Column("vessel_a", "Vessel", AMPERES, short="Vessel, A"),
    )
    rows = tuple((one.name, one.voltage_v, one.element_factor, one.peak_a, one.vessel_a) for one in checked.voltages)
    return Table("voltages", "At other voltages", columns, rows)


def tell_house(answer: Answer) -> Told | None:
    """The day at the house's meter, for machines; None where neither contract nor peak charge was entered."""
    found = answer.house
    if found is None:
        return None
    ways = found.ways
    facts: dict[str, Any] = {"base_load_w": WATTS(found.house.base_w), "contract": None, "peak": None}
    if found.contract is not None:
        facts["contract"] = _plain(found.contract, leave_out=("finding",))
    if found.peak is not None:
        facts["peak"] = _plain(found.peak)
    facts["keeps_below"] = None if ways is None else _plain(ways, leave_out=("capped",))
    return Told(key="house", title="The house's meter", facts=facts, findings=tell_findings(answer, found.findings))


def _plain(result: Any, leave_out: tuple[str, ...] = ()) -> dict[str, Any]:
    """The fields of a result as plain numbers and names, those of the results inside it too."""
    fields = {field.name: getattr(result, field.name) for field in dataclasses.fields(result)}
    return {name: _cell(value) for name, value in fields.items() if name not in leave_out}


def _cell(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, tuple):
        return [_cell(one) for one in value]
    if isinstance(value, Money):
        return MONEY(value)
    if isinstance(value, np.floating):
        return float(value)
    return _plain(value) if dataclasses.is_dataclass(value) else value


# What would be enough -----------------------------------------------------------------------------------------------


def tell_enough(answer: Answer) -> Told:
    """The smallest circuit for the plan, and the largest power for the circuit."""
    needs, most = answer.sizes
    return Told(
        key="enough",
        title="What would be enough",
        sentences=(enough_sentence(needs), *_reasons(needs), most_sentence(most)),
        facts={"enough": _enough_facts(needs), "largest_power": _most_facts(most)},
    )


def enough_sentence(needs: "Enough") -> Sentence:
    """The smallest circuit in one sentence."""
    if needs.breaker_a is None or needs.cable_mm2 is None:
        why = "local rules are not known here" if not needs.is_region_known else "no size of the tables is enough"
        return Sentence("For this day {why}: ask an electrician about a supply of its own.", why=WORD(why))
    drop, outlet = NOTHING, Sentence("; no common outlet of the table is enough: ask for a fixed connection")
    if needs.voltage_drop_frac is not None:
        drop = Sentence(", losing {frac} on the way", frac=SHARE(needs.voltage_drop_frac))
    if needs.outlet_a is not None:
        kinds = listed([WORD(name) for name in needs.outlets], "or")
        outlet = Sentence(" and an outlet of {rating} ({kinds})", rating=rated(needs.outlet_a), kinds=kinds)
    return Sentence(
        "For this day: a {breaker} breaker on {cable} cable{drop}{outlet}.",
        breaker=rated(needs.breaker_a),
        cable=cable_words(needs.cable_mm2),
        drop=drop,
        outlet=outlet,
    )


def _reasons(needs: "Enough") -> Iterator[Sentence]:
    lasting = NOTHING
    if needs.lasting_a >= _WEIGHTY_A:
        lasting = Sentence(
            ", of which {lasting} last 3 hours or more and count with a quarter more", lasting=AMPERES(needs.lasting_a)
        )
    shared = NOTHING
    if needs.shared_a is not None:
        shared = Sentence(
            "; one plugged-in appliance takes at most 80 % of a shared circuit, which asks for {shared} (less would "
            "do on "
            "one of its own)",
            shared=AMPERES(needs.shared_a),
        )
    yield Sentence(
        "By the plates at most {load} are on at once{lasting}{shared}.",
        load=AMPERES(needs.load_a),
        lasting=lasting,
        shared=shared,
    )
    guesses: list[Sayable] = []
    if not needs.is_length_known:
        guesses.append(WORD("the length of the cable, so its voltage drop does not count"))
    if needs.is_method_guessed:
        guesses.append(WORD(f"how the cable lies (taken as {_GUESSED_METHODS.get(needs.method, needs.method)})"))
    if guesses:
        yield Sentence("Not entered: {guesses}.", guesses=listed(guesses))


_WEIGHTY_A = 0.05


def most_sentence(most: "LargestPower") -> Sentence:
    """The largest power in one sentence."""
    if most.power_w is None:
        return Sentence("The largest power is not known: no rating was entered.")
    limits = [WORD(finding_name(code)) for code in most.limited_by]
    by = Sentence("; one step more and {limits} would be over", limits=listed(limits)) if limits else NOTHING
    lasting = NOTHING
    if most.lasting_power_w is not None and most.lasting_power_w < most.power_w:
        lasting = Sentence(", {watts} for 3 h and more", watts=WATTS(most.lasting_power_w))
    takes: dict[str, Sayable] = {
        "watts": WATTS(most.power_w),
        "lasting": lasting,
        "by": by,
        "beside": AMPERES(most.beside_a),
    }
    if most.over_anyway:
        first = listed([WORD(finding_name(code)) for code in most.over_anyway])
        return Sentence(
            "Nothing may be on before this is mended: {first}. After that elements of {watts} at a time{lasting} "
            "beside "
            "{beside} of other loads{by}.",
            first=first,
            **takes,
        )
    return Sentence(
        "This circuit takes elements of {watts} at a time{lasting} beside {beside} of other loads{by}.", **takes
    )


def _enough_facts(needs: "Enough") -> dict[str, Any]:
    return {
        "load_a": AMPERES(needs.load_a),
        "needed_a": AMPERES(needs.needed_a),
        "breaker_a": needs.breaker_a,
        "cable_mm2": needs.cable_mm2,
        "cable": cable_words(needs.cable_mm2) if needs.cable_mm2 else NOTHING,
        "outlet_a": needs.outlet_a,
        "outlets": list(needs.outlets),
        "voltage_drop_frac": needs.voltage_drop_frac,
        "reasons": list(_reasons(needs)),
    }


def _most_facts(most: "LargestPower") -> dict[str, Any]:
    takes = most.power_w if not most.over_anyway else None
    return {
        "power_w": takes,
        "lasting_power_w": most.lasting_power_w if not most.over_anyway else None,
        "power_after_mending_w": most.power_w,
        "over_anyway": list(most.over_anyway),
        "limited_by": list(most.limited_by),
        "beside_a": most.beside_a,
        "step_w": most.step_w,
    }
