"""The day's steps and phases in tables, with what its appliances and price bands cost; slips of its steps in words."""

from collections.abc import Callable
from datetime import date
from fractions import Fraction
from functools import lru_cache
from itertools import groupby

from energyplan.advice.answer import Answer
from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.errors import Place
from energyplan.base.kinds import (
    AMPERES,
    CELSIUS,
    COUNT,
    KELVIN,
    KEY,
    KILOGRAMS,
    KWH,
    LITRES_PER_KG,
    MINUTES,
    MOMENT,
    MONEY,
    OFF,
    PHASE,
    WATTS,
    WORD,
    WRITTEN,
    Moment,
    Value,
)
from energyplan.base.money import UNITS_PER_CURRENCY, Money
from energyplan.base.sentence import Sentence, Span
from energyplan.day.brewday import Phase
from energyplan.day.slips import (
    HOTTEST_MASH_C,
    HOTTEST_STRIKE_C,
    HOTTEST_TAP_C,
    THICKEST_L_PER_KG,
    THINNEST_L_PER_KG,
    Slip,
    SlipCode,
)
from energyplan.day.supply import on_draw
from energyplan.plan.model import Plan
from energyplan.telling.told import Column, Found, Table

__all__ = ["appliances_table", "at", "bands_table", "money", "phases_table", "set_power_w", "slip_found", "steps_table"]

AROUND_S = 3 * 3600.0  # people begin before the vessel and end after it
_STEP = Column("step", "Step", WRITTEN)
_PHASE = Column("phase", "Phase", PHASE, short="")
_START = Column("start", "From", MOMENT, short="from")
_MINUTES = Column("minutes", "Time", MINUTES, short="min")
_TO = Column("to_c", "To", CELSIUS, short="")
_FROM = Column("from_c", "From", CELSIUS, detail=1)
_LOWEST = Column("lowest_c", "Lowest", CELSIUS, short="lowest", detail=1)
_MEAN = Column("mean_power_w", "Mean", WATTS, short="mean W", detail=2)
_SET = Column("set_w", "Set", WATTS, short="set W")
_ADVISED = Column("advised_w", "Advised", WATTS, short="advised")
_ENERGY = Column("energy_kwh", "Energy", KWH, short="")
_COST = Column("cost", "Cost", MONEY, short="")


def phases_table(answer: Answer) -> Table:
    """The phases for machines: every number of each."""
    columns = (
        _STEP, _PHASE, _START, Column("end", "Until", MOMENT), _MINUTES, _FROM, _TO, _LOWEST, _ENERGY,
        Column("heat_lost_kwh", "Heat lost", KWH), Column("evaporated_kg", "Evaporated", KILOGRAMS), _MEAN, _SET,
        _ADVISED, Column("draw_w", "Draws", WATTS), Column("draw_a", "Draws", AMPERES), _COST,
    )  # fmt: skip
    return Table("phases", "Phases", columns, tuple(_phase_row(answer, phase) for phase in answer.day.phases))


def _phase_row(answer: Answer, phase: Phase) -> tuple[object, ...]:
    draw_w, draw_a = on_draw(answer.day.plan, phase.by_line, phase.other_w)  # while the elements are on
    return (
        phase.step,
        phase.phase,
        at(answer, phase.start_s).raw,
        at(answer, phase.end_s).raw,
        phase.duration_s / 60,
        phase.from_c,
        phase.to_c,
        phase.lowest_c,
        phase.energy_j / JOULES_PER_KWH,
        phase.heat_lost_j / JOULES_PER_KWH,
        phase.evaporated_kg,
        phase.mean_w,
        set_power_w(answer.day.plan, phase),
        _advised_w(answer, phase),
        draw_w,
        draw_a,
        _costs(answer).get(phase),
    )


@lru_cache(maxsize=8)
def _costs(answer: Answer) -> dict[Phase, Money]:
    """Cost of each phase; none without prices."""
    price = answer.price
    return {} if price is None else {phase: price.of_phase(phase) for phase in answer.day.phases}


def set_power_w(plan: Plan, phase: Phase) -> float:
    """Power to set in a phase [W]: the step's cap, else all elements; 0 in a pause and while chilling."""
    if phase.phase in ("pause", "chill"):
        return 0.0
    step = next(step for step in plan.steps if step.name == phase.step)
    cap_w = step.ramp_power_w if phase.phase == "ramp" else step.hold_power_w
    return sum(element.power_w for element in plan.vessel.elements) if cap_w is None else cap_w


def _advised_w(answer: Answer, phase: Phase) -> float | None:
    rows = answer.power.rows
    return next((row.advised_w for row in rows if (row.step, row.phase) == (phase.step, phase.phase)), None)


def steps_table(answer: Answer, most: int | None = None) -> Table:
    """The steps, whatever else the day uses, and the day as their total.

    Parameters
    ----------
    answer : Answer
        The answered plan.
    most : int, optional
        Most rows: where there are more phases, those of a step are one row; where there are more steps, the last row
        sums the rest.
    """
    parts: list[tuple[Phase, ...]] = [(phase,) for phase in answer.day.phases]
    if most is not None and len(parts) > most:
        parts = [tuple(group) for _, group in groupby(answer.day.phases, key=lambda phase: phase.step)]
    rest: tuple[Phase, ...] = ()
    if most is not None and len(parts) > most:
        parts, rest = parts[: most - 1], tuple(phase for part in parts[most - 1 :] for phase in part)
    rows = [_step_row(answer, part) for part in parts]
    if rest:
        name = Sentence("{left} more steps", left=COUNT(len({phase.step for phase in rest})))
        _, _, begins, minutes, *_, energy_kwh, cost, _, _, mean_w = _step_row(answer, rest)
        rows.append((name, None, begins, minutes, *_blanks(3), energy_kwh, cost, *_blanks(2), mean_w))
    beside = answer.day.profiles[1:]
    rows += [
        (WORD(profile.name), *_blanks(6), profile.energy_kwh, _beside_cost(answer, place), *_blanks(3))
        for place, profile in enumerate(beside)
    ]
    columns = (_STEP, _PHASE, _START, _MINUTES, _TO, _SET, _ADVISED, _ENERGY, _COST, _FROM, _LOWEST, _MEAN)
    day, cost = answer.day, answer.price.total.total if answer.price else None
    total = (WORD("The day"), *_blanks(2), day.duration_s / 60, *_blanks(3), day.energy_kwh, cost, *_blanks(3))
    return Table("steps", "Steps", columns, tuple(rows), total)


def _blanks(number: int) -> tuple[None, ...]:
    return (None,) * number


def _beside_cost(answer: Answer, place: int) -> Money | None:
    return answer.price.beside_vessel if answer.price and place == 0 else None


def _step_row(answer: Answer, part: tuple[Phase, ...]) -> tuple[object, ...]:
    """One phase, or the phases of a step as one row: the hold's power, or that of the only phase."""
    held = next((phase for phase in part if phase.phase in ("hold", "boil")), part[-1])
    set_w, costs = set_power_w(answer.day.plan, held), _costs(answer)
    cost = sum((costs[phase] for phase in part[1:]), costs[part[0]]) if costs else None
    return (
        held.step,
        "+".join(dict.fromkeys(phase.phase for phase in part)),
        at(answer, part[0].start_s).raw,
        (part[-1].end_s - part[0].start_s) / 60,
        part[-1].to_c,
        set_w or OFF(0.0),
        _advised_w(answer, held),
        sum(phase.energy_j for phase in part) / JOULES_PER_KWH,
        cost,
        part[0].from_c,
        None if held.phase == "ramp" else held.lowest_c,
        sum(phase.energy_j for phase in part) / sum(phase.duration_s for phase in part),
    )


def appliances_table(answer: Answer) -> Table:
    """The appliances beside the vessel's elements: when each runs and what it takes."""
    columns = (
        Column("name", "Appliance", WORD), _START, Column("end", "Until", MOMENT), _MINUTES, _MEAN, _ENERGY, _COST,
    )  # fmt: skip
    rows = []
    for place, profile in enumerate(answer.day.profiles[1:]):
        begins_s, ends_s = float(profile.edges_s[0]), float(profile.edges_s[-1])
        mean_w = profile.energy_kwh * JOULES_PER_KWH / (ends_s - begins_s)
        moments = (at(answer, begins_s).raw, at(answer, ends_s).raw, (ends_s - begins_s) / 60)
        rows.append((profile.name, *moments, mean_w, profile.energy_kwh, _beside_cost(answer, place)))
    return Table("appliances", "Beside the vessel", columns, tuple(rows))


def bands_table(answer: Answer) -> Table:
    """Energy and cost of the day in each band of the tariff."""
    price = answer.price
    rows = [] if price is None else [(band.name, band.energy_kwh, band.cost) for band in price.total.bands]
    return Table("bands", "Prices", (Column("name", "Band", WRITTEN), _ENERGY, _COST), tuple(rows))


def at(answer: Answer, time_s: float) -> Value:
    """A moment of the day by the local clock; with its zone where the clock moves around the day."""
    first_day, zoned = _clock_of(answer)
    return MOMENT(Moment(answer.clock(round(time_s)), first_day, zoned))


@lru_cache(maxsize=8)
def _clock_of(answer: Answer) -> tuple[date, bool]:
    """The day on which it starts, and whether the clock moves around the day."""
    first, last = answer.clock(-AROUND_S), answer.clock(answer.day.duration_s + AROUND_S)
    return answer.clock(0.0).date(), first.utcoffset() != last.utcoffset()


def money(amount: float | Fraction, currency: str) -> Money:
    """An amount of a currency."""
    return Money(units=round(Fraction(amount) * UNITS_PER_CURRENCY), currency=currency)


def slip_found(slip: Slip) -> Found:
    """A slip as a note.

    Examples
    --------
    >>> print(slip_found(Slip(code="grain in the boil", step="Boil")).said)
    "Boil": the grain is still in the vessel when it boils; lift it out before.
    """
    said = _SAID[slip.code](slip)
    whole = Sentence('"{step}": {said}', step=WRITTEN(slip.step), said=said) if slip.step else said
    return Found(code=slip.code.replace(" ", "_").replace("-", "_"), severity="note", said=whole)


def _key(name: str) -> "Sentence":
    return Sentence("{key}", key=KEY(Place("", name)))


_SAID: dict[SlipCode, Callable[[Slip], Sentence]] = {
    "grain in the boil": lambda _: Sentence("the grain is still in the vessel when it boils; lift it out before."),
    "power above the elements": lambda slip: Sentence(
        "{set} are set, more than all elements together; they give what they can.", set=WATTS(slip.value)
    ),
    "mash after mash-out": lambda slip: Sentence(
        "a rest at {target} with the grain in, after the mash-out; are the steps in their order?",
        target=CELSIUS(slip.value),
    ),
    "grain after the boil": lambda _: Sentence(
        "grain goes in after the boil; are the steps in their order, or is the vessel to be emptied between?"
    ),
    "cools by waiting": lambda slip: Sentence(
        "it cools by {cools} just by waiting; if it is chilled, say so ({key}).",
        cools=KELVIN(slip.value), key=_key("chill_to"),
    ),
    "hot strike": lambda slip: Sentence(
        "grain goes into {strike}; above {most} the enzymes suffer before they have done anything.",
        strike=CELSIUS(slip.value), most=CELSIUS(HOTTEST_STRIKE_C),
    ),
    "hot mash": lambda slip: Sentence(
        "the mash lands at {mash}; above {most} the enzymes are soon gone.",
        mash=CELSIUS(slip.value), most=CELSIUS(HOTTEST_MASH_C),
    ),
    "thick mash": lambda slip: _thickness("thick, hard to stir and to pump", slip),
    "thin mash": lambda slip: _thickness("thin", slip),
    "hot tap water": lambda slip: Sentence(
        "the water comes at {water}; taps give less than {most}. If it was heated elsewhere, that is not counted.",
        water=CELSIUS(slip.value), most=CELSIUS(HOTTEST_TAP_C),
    ),
    "no summer time": lambda slip: Sentence(
        "The clock {zone} knows no summer time; where the clocks change, name a place, such as Europe/London.",
        zone=WRITTEN(slip.zone),
    ),
    "sparge without grain": lambda _: Sentence(
        "sparge water goes in with no grain to rinse; give it in the step that lifts it out, or as add water."
    ),
    "open ramp": lambda slip: Sentence(
        "it heats for {lasts} with the lid off; the lid on until it nearly boils saves time and kWh ({key}).",
        lasts=MINUTES(slip.value / 60), key=_key("lid"),
    ),
}  # fmt: skip


def _thickness(how: str, slip: Slip) -> Sentence:
    return Sentence(
        f"a mash of {{found}} is {how}; usual are {{usual}}.",
        found=LITRES_PER_KG(slip.value),
        usual=Span(LITRES_PER_KG, THICKEST_L_PER_KG, THINNEST_L_PER_KG),
    )
