"""Amperes told: over the day by appliance, by line and by load, and of two days on one circuit."""

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from energyplan.advice.answer import Answer
from energyplan.base.errors import Place, PlanError
from energyplan.base.kinds import (
    AMPERES,
    KEY,
    MINUTES,
    MOMENT,
    NUMBER,
    WATTS,
    WORD,
    WRITTEN,
    Kind,
    Shown,
    Value,
    counted,
)
from energyplan.base.load import LoadProfile
from energyplan.base.sentence import Sayable, Sentence, listed
from energyplan.circuits.check import CircuitCheck
from energyplan.circuits.study import Rating
from energyplan.day.supply import on_the_circuit, second_heater_hangs
from energyplan.physics.network import board_frac
from energyplan.plan.equipment import Circuit
from energyplan.plan.lines import connection_of, elements_hang, layout_of
from energyplan.plan.model import Plan
from energyplan.tariffs.clock import zone_of
from energyplan.telling.circuit import RATINGS_CAUTION, circuit_headline
from energyplan.telling.findings import FindingTeller
from energyplan.telling.phases import at
from energyplan.telling.picture import hours_table
from energyplan.telling.told import Column, Found, Table, Told

if TYPE_CHECKING:
    from energyplan.circuits.stagger import Offset

__all__ = ["currents_told", "lines_told", "loads_table", "tell_offset"]

FloatArray = NDArray[np.float64]
LEAST_A = 0.05  # what a reader of currents can't tell from nothing
MOST_NAMED = 8  # appliances with a row of their own
ONE_LOOP = 2  # a line and its neutral, or two legs
_PLATE_VOLTS = Kind("plate voltage", Shown("V", 0), Shown("V", 0))
MOST_SPANS = 120  # pictures stay quick and legible with a bounded number of marks

_FROM, _UNTIL = Column("start_s", "From", NUMBER, detail=2), Column("end_s", "Until", NUMBER, detail=2)
_CLOCK, _END_CLOCK = Column("clock", "From", MOMENT), Column("end_clock", "Until", MOMENT)


def currents_told(answer: Answer, check: CircuitCheck) -> Told:
    """What each appliance draws with its elements on, over the day; the headline is for those who don't see it."""
    said = "Current of each appliance over the day, stacked{against}. {verdict}"
    return _told(answer, check, said, _currents(answer, check))


def lines_told(answer: Answer, check: CircuitCheck) -> Told:
    """What each line carries with elements on, over the day: what an electrician compares with the ratings."""
    return _told(answer, check, "Current of each line over the day{against}. {verdict}", _lines(answer, check))


def _told(answer: Answer, check: CircuitCheck, said: str, body: Table) -> Told:
    against = WORD(", and the ratings entered" if answer.circuit else "")
    return Told(
        key=body.key,
        title="The current",
        headline=Sentence(said, against=against, verdict=circuit_headline(answer)),
        facts={
            "first_s": NUMBER(float(check.edges_s[0])),
            "last_s": NUMBER(float(check.edges_s[-1])),
            "time_zone": WORD(answer.zone),
            "line": _line(check) if body.key == "currents" else Sentence(" with elements on"),
        },
        tables=(body, _ratings(check), _excess(answer, check), hours_table(answer)),
    )


def _lines(answer: Answer, check: CircuitCheck) -> Table:
    """Corners of each line's current over time; of one loop its line alone."""
    lines = check.line_a[:1] if len(check.line_a) <= ONE_LOOP else check.line_a
    edges_s, columns = _coarse(check.edges_s, [amps for _, amps in lines])
    rows: list[tuple[object, ...]] = []
    for (name, _), amps in zip(lines, columns, strict=True):
        for start_s, end_s, level_a in _levels(edges_s, amps):
            rows += [(name, time_s, at(answer, time_s).raw, level_a) for time_s in (start_s, end_s)]
    columns_shown = (
        Column("line", "Line", WORD), Column("time_s", "At", NUMBER, detail=2), _CLOCK,
        Column("current_a", "Carries", AMPERES),
    )  # fmt: skip
    return Table("lines", "Lines", columns_shown, tuple(rows))


def _levels(edges_s: FloatArray, amps: FloatArray) -> Iterator[tuple[float, float, float]]:
    """Stretches of one level; steps that a reader can't tell apart are one, with its largest current."""
    breaks = np.flatnonzero(np.abs(np.diff(amps)) >= LEAST_A) + 1
    for first, last in zip([0, *breaks], [*breaks, amps.shape[0]], strict=True):
        yield float(edges_s[first]), float(edges_s[last]), float(amps[first:last].max())


def _line(check: CircuitCheck) -> Sentence:
    """On which of several lines; where there is one loop, that elements are on."""
    if len(check.lines) <= ONE_LOOP:
        return Sentence(" with elements on")
    return Sentence(" in {line}", line=WORD(check.line))


def _currents(answer: Answer, check: CircuitCheck) -> Table:
    """Spans of each appliance, stacked on the ones before it; of too many the smallest are one row."""
    appliances = _named(check)
    edges_s, columns = _coarse(check.edges_s, [on_a for _, on_a in appliances])
    rows: list[tuple[object, ...]] = []
    below_a = np.zeros(edges_s.shape[0] - 1)
    for (name, _), on_a in zip(appliances, columns, strict=True):
        for start_s, end_s, from_a, to_a in _stacked(edges_s, below_a, below_a + on_a):
            rows.append((name, start_s, end_s, *_clock(answer, start_s, end_s), to_a - from_a, from_a, to_a))
        below_a = below_a + on_a
    columns_shown = (
        Column("appliance", "Appliance", WRITTEN), _FROM, _UNTIL, _CLOCK, _END_CLOCK,
        Column("current_a", "Draws", AMPERES), Column("from_a", "On", AMPERES, detail=2),
        Column("to_a", "With those below it", AMPERES),
    )  # fmt: skip
    return Table("currents", "Currents", columns_shown, tuple(rows))


def _clock(answer: Answer, start_s: float, end_s: float) -> tuple[object, object]:
    return at(answer, start_s).raw, at(answer, end_s).raw


def _named(check: CircuitCheck) -> list[tuple[Sayable, FloatArray]]:
    """Appliances in their order; when there are too many, the largest, and the others together."""
    appliances: list[tuple[Sayable, FloatArray]] = [(WRITTEN(one.name), one.on_a) for one in check.appliances]
    if len(appliances) <= MOST_NAMED:
        return appliances
    by_size = sorted(range(len(appliances)), key=lambda place: -float(appliances[place][1].max(initial=0.0)))
    kept = sorted(by_size[: MOST_NAMED - 1])
    others = [appliances[place][1] for place in by_size[MOST_NAMED - 1 :]]
    return [*(appliances[place] for place in kept), (counted(len(others), "other"), np.sum(others, axis=0))]


def _stacked(edges_s: FloatArray, from_a: FloatArray, to_a: FloatArray) -> Iterator[tuple[float, float, float, float]]:
    """Spans of one appliance; steps that a reader can't tell apart are one span, with its largest current."""
    last: tuple[float, float, float, float] | None = None
    for start_s, end_s, low_a, high_a in zip(edges_s[:-1], edges_s[1:], from_a, to_a, strict=True):
        if high_a - low_a < LEAST_A:
            continue
        if last and last[1] == start_s and abs(last[2] - low_a) + abs(last[3] - high_a) < LEAST_A:
            last = (last[0], float(end_s), last[2], max(last[3], float(high_a)))
            continue
        if last:
            yield last
        last = (float(start_s), float(end_s), float(low_a), float(high_a))
    if last:
        yield last


def _ratings(check: CircuitCheck) -> Table:
    """Ratings that were entered, lowest first; those of equal limit share a row."""
    by_limit: dict[float, list[Rating]] = {}
    for rating in check.ratings:
        by_limit.setdefault(rating.limit_a, []).append(rating)
    columns = (Column("limit_a", "Limit", AMPERES), Column("text", "Rating", WORD))
    rows = tuple((limit_a, _limit_words(limit_a, found)) for limit_a, found in sorted(by_limit.items()))
    return Table("ratings", "Ratings", columns, rows)


def _limit_words(limit_a: float, found: Sequence[Rating]) -> Sentence:
    """What has a limit; what only the vessel goes through last."""
    alone = [WORD(rating.name) for rating in found if not rating.whole_circuit]
    names = listed([*(WORD(rating.name) for rating in found if rating.whole_circuit), *alone], last="and")
    return Sentence("{limit} {names}{alone}", limit=AMPERES(limit_a), names=names,
                    alone=WORD(" (vessel alone)" if alone else ""))  # fmt: skip


def _excess(answer: Answer, check: CircuitCheck) -> Table:
    """Stretches in which the whole current is above the lowest rating that the whole circuit goes through."""
    columns = (_FROM, _UNTIL, Column("limit_a", "Limit", AMPERES), Column("current_a", "Draws", AMPERES), _CLOCK,
               _END_CLOCK)  # fmt: skip
    limits = [rating.limit_a for rating in check.ratings if rating.whole_circuit]
    limit_a = min(limits, default=np.inf)
    edges_s, (total_a,) = _coarse(check.edges_s, [check.on_a])
    spans: list[tuple[float, float, float]] = []
    for start_s, end_s, on_a in zip(edges_s[:-1], edges_s[1:], total_a, strict=True):
        if on_a <= limit_a:
            continue
        before = spans.pop() if spans and spans[-1][1] == start_s else (float(start_s), float(end_s), 0.0)
        spans.append((before[0], float(end_s), max(before[2], float(on_a))))
    rows = tuple((start, end, limit_a, most_a, *_clock(answer, start, end)) for start, end, most_a in spans)
    return Table("excess", "Over", columns, rows)


def _coarse(edges_s: FloatArray, columns: Sequence[FloatArray]) -> tuple[FloatArray, list[FloatArray]]:
    """Fewer steps for a picture: the largest value of each of as many cells as there may be."""
    most = max(2 * MOST_SPANS // max(len(columns), 1), 12)
    if edges_s.shape[0] - 1 <= most:
        return edges_s, list(columns)
    grid_s = np.linspace(edges_s[0], edges_s[-1], most + 1)
    first = np.searchsorted(edges_s, grid_s[:-1], side="right") - 1
    last = np.searchsorted(edges_s, grid_s[1:], side="left")
    return grid_s, [
        np.array([column[low:high].max() for low, high in zip(first, last, strict=True)]) for column in columns
    ]


# Loads --------------------------------------------------------------------------------------------------------------


def loads_table(answer: Answer, checked: CircuitCheck) -> Table:
    """What is connected: each load with its place, its plate, what it draws there, and how long it is in use."""
    columns = (
        Column("name", "Load", WRITTEN),
        Column("line", "Line", WORD),
        Column("power_w", "W", WATTS, short=""),
        Column("voltage_v", "V", _PLATE_VOLTS, short=""),
        Column("plate_a", "A, plate", AMPERES, short="A, plate"),
        Column("drawn_a", "A, drawn", AMPERES, short="A, drawn"),
        Column("use_min", "In use", MINUTES, short="in use, min"),
    )
    return Table("loads", "What is connected", columns, tuple(_load_rows(answer, checked)))


def _load_rows(answer: Answer, checked: CircuitCheck) -> Iterator[tuple[Any, ...]]:
    plan, (vessel, *heaters) = answer.day.plan, answer.day.profiles
    planned = {one.name: one for one in checked.appliances if one.planned}
    circuit = plan.circuit
    hang = elements_hang(plan.vessel.elements, circuit) or ("L1",) * len(plan.vessel.elements)
    places = tuple(dict.fromkeys(hang))
    for place in places:
        here = [element for element, at in zip(plan.vessel.elements, hang, strict=True) if at == place]
        volts = {element.voltage_v for element in here}
        lines = 3**0.5 if place == "all" else 1.0
        yield (
            vessel.name,
            _place(place),
            sum(element.power_w for element in here),
            max(volts) if len(volts) == 1 else None,
            sum(element.power_w / element.voltage_v for element in here) / lines,
            planned[vessel.name].place_a.get(place),
            planned[vessel.name].place_min.get(place, 0.0),
        )
    for heater in heaters:
        place = second_heater_hangs(plan)[0] or "L1"
        across_v, watts, one = (
            _across_v(plan, plan.voltage_v, place),
            float(heater.mean_w.max()),
            planned.get(heater.name),
        )
        where, drawn = (_place(place), one.own_a) if one else ("own circuit", None)
        lines = 3**0.5 if place == "all" else 1.0
        yield heater.name, where, watts, across_v, watts / across_v / lines, drawn, _use_min(heater)
    others = [one for one in checked.appliances if not one.planned]
    nominal_v = next(case.voltage_v for case in checked.voltages if case.name == "nominal")  # what their watts mean
    for load, one in zip(plan.other_loads, others, strict=True):
        place = (connection_of(circuit, load.line) if circuit else "L1") or ""
        volts_v = _across_v(plan, nominal_v, place) if place and place != "all" else None
        where, plate_a = _place(place) if place else "not said", load.power_w / volts_v if volts_v else None
        yield load.name, where, load.power_w, volts_v, plate_a, one.own_a, one.use_min


def _across_v(plan: Plan, board_v: float, place: str) -> float:
    """Voltage between the conductors of a place."""
    return board_v * (board_frac(layout_of(plan.circuit), place) if plan.circuit else 1.0)


def _place(place: str) -> str:
    return "L1-L2-L3" if place == "all" else place if "-" in place else f"{place}-N"


def _use_min(profile: LoadProfile) -> float:
    return float(np.diff(profile.edges_s)[profile.heater_w_per_v2 > 0].sum()) / 60


# Two days on one circuit --------------------------------------------------------------------------------------------

_SAME_V = 0.02


def _offset(first: Answer, second: Answer) -> tuple["Offset", Circuit]:
    """The least delay, and the circuit that both share."""
    from energyplan.circuits.loads import rehung
    from energyplan.circuits.stagger import least_offset

    plan = first.day.plan
    if plan.circuit is None:
        raise PlanError("the first plan has no [circuit] to share")
    own = second.day.plan.circuit
    if own is not None and (
        own.rules != plan.circuit.rules or abs(own.voltage_v / plan.circuit.voltage_v - 1) > _SAME_V
    ):
        raise PlanError(
            f"the second plan is made for {own.voltage_v:.0f} V ({own.rules}), the first for "
            f"{plan.circuit.voltage_v:.0f} V ({plan.circuit.rules}): they can't share a circuit"
        )
    one, other = (on_the_circuit(answer.day.plan, answer.day.profiles) for answer in (first, second))
    if own is None or layout_of(own) != layout_of(plan.circuit):
        other = rehung(other, plan.circuit)
    found = least_offset(one, other, plan.circuit, plan.other_loads, first.start, zone_of(first.zone))
    return found, plan.circuit


def tell_offset(first: Answer, second: Answer) -> Told:
    """The least delay under which two days share the circuit of the first.

    Raises
    ------
    PlanError
        If the first plan has no circuit, or the second is made for another voltage or other rules.
    """
    found, circuit = _offset(first, second)
    teller = FindingTeller(first.start, zone_of(first.zone))
    headline = None
    if found.offset_min is not None:
        headline = Sentence(
            "Start the second vessel {delay} after the first, at {at}.",
            delay=MINUTES(found.offset_min),
            at=teller.at(found.offset_min * 60),
        )
    sentences = [_offset_reason(found)]
    own = second.day.plan.circuit
    if own is not None and own.model_copy(update={"line": circuit.line}) != circuit:  # its loads hang where they hang
        sentences.append(
            Sentence("The {key} of the second plan is set aside: both days are judged on that of the first.",
                     key=KEY(Place("circuit")))
        )  # fmt: skip
    if found.each_w is not None:
        sentences.append(
            Sentence(
                "With no delay each may have elements of {watts} on at a time; only switched elements keep to that, "
                "pulsed ones draw their full current whatever the cap.",
                watts=WATTS(found.each_w),
            )
        )
    facts = {
        "offset": {
            "offset_s": found.offset_s,
            "offset_min": found.offset_min,
            "limited_by": found.limited_by,
            "limit_a": found.limit_a,
            "reason": _offset_reason(found),
        }
    }
    return Told(
        key="offset",
        title="Two days on one circuit",
        headline=headline,
        facts=facts,
        findings=tuple(_offset_contract(first, second, found, teller)),
        sentences=tuple(sentences),
        cautions=(RATINGS_CAUTION,),
    )


def _offset_contract(first: Answer, second: Answer, found: "Offset", teller: FindingTeller) -> Iterator[Found]:
    """What the contracted power says to both days at that delay: it may be passed by what the circuit carries."""
    from energyplan.advice.batches import joined
    from energyplan.advice.household import contract_of

    if found.offset_s is None:
        return
    together = joined(first.day.profiles, second.day.profiles, found.offset_s)
    contract = contract_of(first.day.plan, together, first.start, zone_of(first.zone))
    if contract is not None and contract.finding.severity != "ok":
        yield teller(contract.finding)


def _offset_reason(found: "Offset") -> Sentence:
    limit: dict[str, Value] = {"name": WORD(found.limited_by), "limit": AMPERES(found.limit_a)}
    templates = {
        "fits": "Both days stay within the {name}'s {limit}.",
        "short gap": "Both days stay within the {name}'s {limit}; where only a short gap breaks a load of 3 hours, "
        "leave a "
        "quarter of an hour, or wires hardly cool.",
        "no delay": "No delay within a day keeps both below the {name}'s {limit}.",
        "first alone": "The first day alone passes the {name}'s {limit}.",
        "second alone": "The second day alone passes the {name}'s {limit}.",
    }
    return Sentence(templates[found.case], **limit)
