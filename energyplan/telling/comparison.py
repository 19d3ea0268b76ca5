"""Plans beside each other: what each takes, phase by phase, and what makes the difference."""

from collections.abc import Callable, Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from energyplan.advice.answer import Answer
from energyplan.advice.compare import Cause, ComparedDay, Comparison, Waterfall
from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.errors import EnergyPlanError, Problem
from energyplan.base.kinds import (
    AMPERES,
    CELSIUS,
    COUNT,
    GRAVITY,
    KILOGRAMS,
    KWH,
    KWH_PER_HL,
    LITRES,
    MINUTES,
    MONEY,
    PHASE,
    WORD,
    WRITTEN,
    Value,
)
from energyplan.base.money import Money
from energyplan.base.records import dataclass
from energyplan.base.sentence import Sayable, Sentence, listed
from energyplan.day.brewday import BrewDay, Phase
from energyplan.day.legs import PhaseName
from energyplan.telling.picture import corners
from energyplan.telling.told import Column, Table, Told

__all__ = [
    "Side",
    "amperes_more",
    "comparison_told",
    "courses_table",
    "kwh_more",
    "minutes_more",
    "money_more",
    "more_or_less",
    "refusal",
    "sides_told",
]

SHOWN = {"kwh": 0.005, "min": 0.5, "a": 0.05}


def more_or_less(amount: Value, *, more: bool, words: tuple[str, str]) -> Sentence:
    """So much more, or so much less.

    >>> print(more_or_less(MINUTES(12.3), more=False, words=("longer", "shorter")))
    12 min shorter
    """
    return Sentence(f"{{amount}} {words[0 if more else 1]}", amount=amount)


def _told(
    change: float, shown: float, kind: Callable[[float], Value], words: tuple[str, str, str]
) -> Sentence:  # fmt: skip
    if abs(change) < shown:
        return Sentence(words[2])
    return more_or_less(kind(abs(change)), more=change > 0, words=words[:2])


def kwh_more(change_kwh: float) -> Sentence:
    """A difference of energy."""
    return _told(change_kwh, SHOWN["kwh"], KWH, ("more", "less", "the same kWh"))


def minutes_more(change_min: float) -> Sentence:
    """A difference of time."""
    return _told(change_min, SHOWN["min"], MINUTES, ("longer", "shorter", "the same time"))


def amperes_more(change_a: float) -> Sentence:
    """A difference of the largest current."""
    return _told(change_a, SHOWN["a"], AMPERES, ("more at the peak", "less at the peak", "the same peak"))


def money_more(change: Money) -> Sentence:
    """A difference of cost."""
    if not any(digit in "123456789" for digit in str(change.rounded())):
        return Sentence("the same cost")
    amount = Money(units=abs(change.units), currency=change.currency)
    return more_or_less(MONEY(amount), more=change.units > 0, words=("dearer", "cheaper"))


FloatArray = NDArray[np.float64]


Key = tuple[str, PhaseName]


MOST_POINTS = 300


SAME_L = 0.05


SORTS: tuple[tuple[str, PhaseName], ...] = (("Heating up", "ramp"), ("Holding", "hold"), ("Boiling", "boil"))


CAUSES: dict[Cause, str] = {
    "place": "place",
    "vessel": "vessel and jacket",
    "elements": "elements, pump and mains",
    "batch": "water and grain",
    "second_heater": "second heater",
    "lids": "lids and pump of the steps",
    "lengths": "temperatures and lengths",
    "powers": "powers of the steps",
    "steps": "list of steps",
    "rest": "everything else",
}


ORDER = Sentence("In order they add up to the difference; alone, nothing else is changed.")


def comparison_told(found: Comparison) -> Told:
    """Plans side by side, and why each differs from the first."""
    falls = [_fall(fall, number) for number, fall in enumerate(found.waterfalls, 2)]
    first = falls[0]
    return Told(
        key="comparison",
        title="Side by side",
        headline=_headline(found.days[0], found.days[1]),
        sentences=first.sentences,
        tables=(_days(found.days), *first.tables),
        parts=tuple(falls[1:]),
    )


def _headline(first: ComparedDay, second: ComparedDay) -> Sentence:
    parts: list[Sayable] = []
    if first.cost is not None and second.cost is not None:
        parts.append(money_more(second.cost - first.cost))
    parts += [*_more(first.day, second.day)]
    return Sentence("{second} against {first}: {parts}.",
                    second=WRITTEN(second.title), first=WRITTEN(first.title), parts=listed(parts))  # fmt: skip


def _more(first: BrewDay, second: BrewDay) -> Iterator[Sentence]:
    """More or less energy, time and wort: another amount of wort is no saving."""
    yield kwh_more(second.energy_kwh - first.energy_kwh)
    yield minutes_more((second.duration_s - first.duration_s) / 60)
    if abs(second.wort.end_l - first.wort.end_l) >= SAME_L:
        yield Sentence("{second} of wort instead of {first}",
                       second=LITRES(second.wort.end_l), first=LITRES(first.wort.end_l))  # fmt: skip


def _days(days: Sequence[ComparedDay]) -> Table:
    columns = (
        Column("number", "No.", COUNT, short=" "),
        Column("title", "Plan", WRITTEN),
        Column("energy_kwh", "Energy", KWH, short=""),
        *(Column(f"{phase}_kwh", name, KWH, detail=1) for name, phase in SORTS),
        Column("cost", "Cost", MONEY, short=""),
        Column("minutes", "Takes", MINUTES, short=""),
        Column("end_volume_l", "Wort", LITRES, short=""),
        Column("gravity", "Gravity", GRAVITY, short="gravity"),
        Column("evaporated_kg", "Steam", KILOGRAMS, detail=1),
        Column("kwh_per_hl", "For each volume", KWH_PER_HL, short=""),
        Column("peak_a", "Largest current", AMPERES, short=""),
        Column("severity", "Circuit", WORD, short="circuit"),
    )
    rows = (
        (
            number,
            one.title,
            one.day.energy_kwh,
            *(one.day.energy_of(phase) for _, phase in SORTS),
            one.cost,
            one.day.duration_s / 60,
            one.day.wort.end_l,
            one.day.wort.gravity_end,
            one.day.evaporated_kg,
            100 * one.day.energy_kwh / one.day.wort.end_l,
            one.circuit.peak_a if one.circuit else None,
            one.severity,
        )
        for number, one in enumerate(days, 1)
    )
    return Table("days", "Each day as a whole", columns, tuple(rows))


def _fall(fall: Waterfall, number: int) -> Told:
    between, said = fall.interaction_kwh, [ORDER] if len(fall.pieces) > 1 else []
    if between is not None and abs(between) >= SHOWN["kwh"]:
        said.append(
            Sentence(
                "Changed alone, the causes leave {between} that only arises between them.",
                between=KWH(between, signed=True),
            )
        )
    title = Sentence("From {first} to {second}", first=WRITTEN(fall.from_title), second=WRITTEN(fall.to_title))
    return Told(key=f"to_{number}", title=title, sentences=tuple(said), tables=(causes_table(fall),))


def causes_table(fall: Waterfall) -> Table:
    """What each group of inputs does to the energy, in the order in which they are swapped."""
    columns = (
        Column("cause", "What makes the difference", WORD),
        Column("in_order_kwh", "In order", KWH, signed=True),
        Column("alone_kwh", "Alone", KWH, signed=True),
    )
    rows = tuple((_causes(piece.causes), piece.in_order_kwh, piece.alone_kwh) for piece in fall.pieces)
    total = ("the difference", fall.to_kwh - fall.from_kwh, None)
    return Table("causes", "What makes the difference", columns, rows, total)


def _causes(causes: Sequence[Cause]) -> Sentence:
    return Sentence("{causes}", causes=listed(WORD(CAUSES[cause]) for cause in causes))


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One of two plans beside each other: its answer, its name in a sentence, and in the heading of a column."""

    answer: Answer
    name: Sayable
    heading: str


def sides_told(first: Side, second: Side, fall: Waterfall | None = None) -> Told:
    """What the second of two plans takes more or less than the first: as wholes, phase by phase, by cause."""
    days = [one.answer.day for one in (first, second)]
    parts: list[Sayable] = [*_more(days[0], days[1])]
    prices = [one.answer.price for one in (first, second)]
    if prices[0] is not None and prices[1] is not None:
        parts.insert(0, money_more(prices[1].total.total - prices[0].total.total))
    causes = () if fall is None else (_fall(fall, 2),)
    return Told(
        key="sides",
        title="Side by side",
        headline=Sentence("Against {name}: {parts}.", name=first.name, parts=listed(parts)),
        tables=(_totals(first, second), _phases(first, second)),
        parts=causes,
    )


def _totals(first: Side, second: Side) -> Table:
    """The days as wholes, a number on each row."""
    columns = (
        Column("number", "The day", WORD),
        Column("first", first.heading, WORD),
        Column("second", second.heading, WORD),
        Column("difference", "More or less", WORD),
    )
    return Table("totals", "Both days as wholes", columns, tuple(_total_rows(first.answer, second.answer)))


def _total_rows(first: Answer, second: Answer) -> Iterator[tuple[Sayable, ...]]:
    days = (first.day, second.day)
    if first.price is not None and second.price is not None:
        costs = (first.price.total.total, second.price.total.total)
        told = [Sentence("{cost}", cost=MONEY(cost)) for cost in costs]
        yield WORD("Cost"), *told, money_more(costs[1] - costs[0])
    energy = [day.energy_kwh for day in days]
    yield WORD("Energy"), KWH(energy[0]), KWH(energy[1]), kwh_more(energy[1] - energy[0])
    for name, phase in SORTS:
        energy = [day.energy_of(phase) for day in days]
        yield WORD(name), KWH(energy[0]), KWH(energy[1]), kwh_more(energy[1] - energy[0])
    minutes = [day.duration_s / 60 for day in days]
    yield WORD("From start to end"), MINUTES(minutes[0]), MINUTES(minutes[1]), minutes_more(minutes[1] - minutes[0])
    if first.circuit is not None and second.circuit is not None:
        peaks = (first.circuit.peak_a, second.circuit.peak_a)
        yield WORD("Largest current"), AMPERES(peaks[0]), AMPERES(peaks[1]), amperes_more(peaks[1] - peaks[0])
    volumes = [day.wort.end_l for day in days]
    yield (
        WORD("Wort after the boil"),
        LITRES(volumes[0]),
        LITRES(volumes[1]),
        LITRES(volumes[1] - volumes[0], signed=True),
    )


def _phases(first: Side, second: Side) -> Table:
    """Energy, cost, minutes and largest current of each phase of both; blank where a plan has no such phase."""
    sides = (first, second)
    halves = [{(phase.step, phase.phase): phase for phase in side.answer.day.phases} for side in sides]
    kinds = (("kwh", KWH), ("cost", MONEY), ("min", MINUTES), ("a", AMPERES))
    columns = [Column("step", "Step", WRITTEN), Column("phase", "Phase", PHASE)]
    for ending, kind in kinds:
        columns += [
            Column(f"{name}_{ending}", side.heading, kind)
            for name, side in zip(("first", "second"), sides, strict=True)
        ]
    rows = []
    for key in _in_order(list(halves[0]), list(halves[1])):
        cells = [_half(side.answer, phases.get(key)) for side, phases in zip(sides, halves, strict=True)]
        rows.append((*key, *(cell for pair in zip(*cells, strict=True) for cell in pair)))
    return Table(
        "phases", "Energy, cost, minutes and largest current of each phase of both", tuple(columns), tuple(rows)
    )


def _in_order(first: list[Key], second: list[Key]) -> list[Key]:
    """Keys of both lists, those of the second alone behind the one they follow."""
    keys = list(first)
    for place, key in enumerate(second):
        if key not in keys:
            before = keys.index(second[place - 1]) + 1 if place else 0
            keys.insert(before, key)
    return keys


def _half(one: Answer, phase: Phase | None) -> tuple[float | Money | None, ...]:
    if phase is None:
        return None, None, None, None
    cost = None if one.price is None else one.price.of_phase(phase)
    return phase.energy_j / JOULES_PER_KWH, cost, phase.duration_s / 60, _peak_a(one, phase)


def _peak_a(one: Answer, phase: Phase) -> float | None:
    """Largest current of the circuit during a phase, elements on [A]; None without a circuit."""
    if one.circuit is None:
        return None
    edges_s = one.circuit.edges_s
    during = (edges_s[1:] > phase.start_s) & (edges_s[:-1] < phase.end_s)
    return float(one.circuit.on_a[during].max()) if during.any() else None


def courses_table(courses: Sequence[tuple[Sayable, FloatArray, FloatArray]]) -> Table:
    """Courses of temperature one below the other, at most 300 points each: name, seconds, temperatures."""
    columns = (Column("line", "Course", WRITTEN), Column("time_min", "Time", MINUTES),
               Column("temperature_c", "Temperature", CELSIUS))  # fmt: skip
    rows = [
        (name, float(times_s[place]) / 60, float(temperatures_c[place]))
        for name, times_s, temperatures_c in courses
        for place in corners(times_s, temperatures_c, MOST_POINTS)
    ]
    return Table("courses", "Temperatures", columns, tuple(rows))


def refusal(error: EnergyPlanError | None) -> Sentence:
    """The message of an error as a sentence, or its first problem; text is shown as it was written, and never obeyed.

    >>> from energyplan.base.errors import BrewDayError, PlanError, Problem
    >>> print(refusal(BrewDayError("the ramp stalls at 83 degC")))
    the ramp stalls at 83 degC
    >>> print(refusal(PlanError("bad", (Problem(where="[batch] grain", message="too much"),))))
    [batch] grain: too much
    """
    problems: tuple[Problem, ...] = getattr(error, "problems", ())
    if problems:
        return Sentence("{where}: {what}", where=_said(problems[0].where), what=_said(problems[0].message))
    return _said(error.args[0] if error is not None and error.args else "")


def _said(given: object) -> Sentence:
    return given if isinstance(given, Sentence) else Sentence("{text}", text=WRITTEN(str(given)))
