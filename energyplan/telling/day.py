"""The day told: how much, for how much, when it is done; its steps, its prices, its strike and its wort."""

from collections.abc import Iterator
from datetime import date, datetime
from fractions import Fraction
from functools import lru_cache
from itertools import groupby

from energyplan.advice.answer import Answer
from energyplan.advice.odds import DayRanges, Likely
from energyplan.base.constants import JOULES_PER_KWH
from energyplan.base.kinds import (
    AMPERES,
    CELSIUS,
    COUNT,
    DATED,
    GRAMS,
    GRAVITY,
    KEY,
    KILOGRAMS,
    KWH,
    KWH_PER_HL,
    LITRES,
    METRES,
    MINUTES,
    MOMENT,
    MONEY,
    PHASE,
    PRICE,
    SHARE,
    WATTS,
    WATTS_PER_KELVIN,
    WORD,
    WRITTEN,
    Moment,
    Price,
    Value,
)
from energyplan.base.money import UNITS_PER_CURRENCY, Money
from energyplan.base.sentence import Sayable, Sentence, Span, listed
from energyplan.day.body import heat_loss_w_per_k
from energyplan.day.brewday import Phase, Wort
from energyplan.day.changes import COLD_C
from energyplan.day.slips import LARGEST_CHECKED_M, LEAST_CHECKED_C, MOST_CHECKED_C, SMALLEST_CHECKED_M, DayNote
from energyplan.day.supply import on_draw
from energyplan.day.tasks import wort_steps
from energyplan.plan.model import Plan
from energyplan.telling.prices import estimate_sentence, month_use_sentence
from energyplan.telling.slips import slip_found
from energyplan.telling.told import Column, Facts, Table, Told, from_days

__all__ = [
    "MAINS_CAUTION",
    "RATINGS_CAUTION",
    "at",
    "boil_sentence",
    "day_sentence",
    "day_told",
    "money",
    "price_sentences",
    "set_power_w",
    "steps_table",
    "strike_sentence",
    "switch_on_sentence",
    "taught_sentence",
    "wort_sentence",
]

MAINS_CAUTION = Sentence(
    "Mains current, water and {boiling} wort: keep leads dry and fully unwound, test the residual current device, and "
    "leave nothing that heats unattended.",
    boiling=CELSIUS(100.0),
)
RATINGS_CAUTION = Sentence(
    "The check compares the plan with the ratings you entered. It is no design; local codes rule, and a licensed "
    "electrician decides."
)
AROUND_S = 3 * 3600.0  # people begin before the vessel and end after it
SAME_K = 0.05  # temperatures that are written the same


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


def day_told(answer: Answer) -> Told:
    """Everything about the day itself: its numbers for machines, its steps, and what is to be said of it."""
    ranges = answer.ranges
    return Told(
        key="day",
        title=Sentence("{title}", title=WRITTEN(answer.day.plan.title)),
        headline=day_sentence(answer, ranges),
        facts=_facts(answer, ranges),
        sentences=tuple(_sentences(answer)),
        tables=(phases_table(answer), _appliances(answer), _bands(answer)),
        findings=tuple(slip_found(slip) for slip in answer.day.slips),
        cautions=tuple(
            _NOTES[note] for note in answer.day.notes if not (note == "loss estimated" and _is_taught(answer))
        ),
    )


# What is said -----------------------------------------------------------------------------------------------------


def day_sentence(answer: Answer, ranges: DayRanges | None = None) -> Sentence:
    """How much, for how much, and when it is done; with where eight days of ten lie, where that is known."""
    takes: list[Sayable] = [_ranged(KWH(answer.day.energy_kwh), _span_kwh(ranges))]
    if answer.price:
        cost, currency = answer.price.total.total, answer.price.line.currency
        ends = answer.price.ends
        takes.append(Span(MONEY, ends[0], ends[1]) if ends else _ranged(MONEY(cost), _span_money(ranges, currency)))
    said = "{takes}, done at {finish} if you start at {start}."
    finish, start = at(answer, answer.day.duration_s), DATED(answer.clock(0.0))
    if ranges:
        days = from_days(answer.learned.days if answer.learned else 0)
        if ranges.failed_frac > 0:
            said += " In brackets: eight of ten days that can be brewed{days}; {failed} can't as set."
            failed = SHARE(ranges.failed_frac)
            return Sentence(said, takes=listed(takes), finish=finish, start=start, days=days, failed=failed)
        said += " In brackets: eight days of ten{days}."
        return Sentence(said, takes=listed(takes), finish=finish, start=start, days=days)
    return Sentence(said, takes=listed(takes), finish=finish, start=start)


def _ranged(value: Value, span: Span | None) -> Sayable:
    return value if span is None else Sentence("{value} ({span})", value=value, span=span)


def _span_kwh(ranges: DayRanges | None) -> Span | None:
    return None if ranges is None else Span(KWH, ranges.energy_kwh.p10, ranges.energy_kwh.p90, bare=True)


def _span_money(ranges: DayRanges | None, currency: str) -> Span | None:
    if ranges is None or ranges.cost is None:
        return None
    return Span(MONEY, money(ranges.cost.p10, currency), money(ranges.cost.p90, currency), bare=True)


def switch_on_sentence(start: datetime) -> Sentence:
    """When to switch on: a local moment."""
    return Sentence("Switch on at {start}.", start=DATED(start))


def strike_sentence(answer: Answer) -> Sentence | None:
    """The strike temperature that lands on the rest, and what comes of the planned one."""
    strike = answer.day.strike
    if strike is None:
        return None
    planned, mash = CELSIUS(strike.planned_c), CELSIUS(strike.mash_c)
    if strike.wanted_c is None or strike.rest_c is None:
        return Sentence("Grain into {planned} gives a mash of {mash}.", planned=planned, mash=mash)
    wanted, rest = CELSIUS(strike.wanted_c), CELSIUS(strike.rest_c)
    if abs(strike.wanted_c - strike.planned_c) < SAME_K:
        return Sentence("Strike at {wanted}: grain then lands on {rest}.", wanted=wanted, rest=rest)
    said = "Strike at {wanted} to land on {rest}; {planned}, as planned, gives a mash of {mash}."
    return Sentence(said, wanted=wanted, rest=rest, planned=planned, mash=mash)


def _is_taught(answer: Answer) -> bool:
    """Whether brewed days have taught about the vessel."""
    return answer.learned is not None and answer.learned.days > 0


def taught_sentence(answer: Answer) -> Sentence | None:
    """What brewed days teach, where the plan's own energy lies beyond what they leave likely."""
    ranges, learned = answer.ranges, answer.learned
    if ranges is None or learned is None or not _is_taught(answer):
        return None
    if ranges.energy_kwh.p10 <= answer.day.energy_kwh <= ranges.energy_kwh.p90:
        return None
    return Sentence(
        "The plan lies beyond that: brewed days teach a heat loss of {loss}; enter it as {key}.",
        loss=WATTS_PER_KELVIN(learned.middle("loss_factor") * heat_loss_w_per_k(answer.day.plan)),
        key=KEY("vessel.heat_loss"),
    )


def boil_sentence(answer: Answer) -> Sentence | None:
    """When the first boil of the wort begins; None without one."""
    onset_s = _onset_s(answer)
    return None if onset_s is None else Sentence("The boil begins at {onset}.", onset=at(answer, onset_s))


def _onset_s(answer: Answer) -> float | None:
    wort = {step.name for step in wort_steps(answer.day.plan)}
    return next((p.start_s for p in answer.day.phases if p.phase == "boil" and p.step in wort), None)


def wort_sentence(answer: Answer) -> Sentence:
    """Volumes and gravities, cold, batch by batch, and what evaporates."""
    worts = answer.day.worts
    told = [_wort_said(wort) for wort in worts]
    if len(worts) > 1:
        told = [
            Sentence("batch {number}: {said}", number=COUNT(place), said=said)
            for place, said in enumerate(told, start=1)
        ]
    return Sentence(
        "{worts}; {steam} of steam go into the room.", worts=listed(told), steam=KILOGRAMS(answer.day.evaporated_kg)
    )


def _wort_said(wort: Wort) -> Sentence:
    gravities = Sentence("")
    if wort.gravity_end > 1.0:
        before, end = GRAVITY(wort.gravity_before_boil), GRAVITY(wort.gravity_end)
        gravities = Sentence(", gravity {before} to {end}", before=before, end=end)
    return Sentence(
        "{before} before the boil, {end} after it (cold, at {cold}){gravities}",
        before=LITRES(wort.before_boil_l),
        end=LITRES(wort.end_l),
        cold=CELSIUS(COLD_C),
        gravities=gravities,
    )


def _kinds_sentence(answer: Answer) -> Sentence:
    """What the kinds of phase take."""
    day = answer.day
    other = KWH(day.energy_kwh - day.energy_of("ramp", "hold", "boil"))
    ramp, hold, boil = (KWH(day.energy_of(kind)) for kind in ("ramp", "hold", "boil"))
    said = "Ramps take {ramp}, holds {hold}, boils {boil}, all else {other}."
    return Sentence(said, ramp=ramp, hold=hold, boil=boil, other=other)


def price_sentences(answer: Answer) -> Iterator[Sentence]:
    """What the day costs in each band, and the charge that is no part of it."""
    price = answer.price
    if price is None:
        return
    bands = [
        Sentence("{name} {energy} for {cost}", name=WRITTEN(b.name), energy=KWH(b.energy_kwh), cost=MONEY(b.cost))
        for b in price.total.bands
    ]
    if price.total.tier_cost.units:
        bands.append(Sentence("tiers {cost}", cost=MONEY(price.total.tier_cost)))
    yield Sentence("{tariff}: {bands}.", tariff=WRITTEN(price.tariff.name), bands=listed(bands))
    if price.tariff.file.own_generation:
        own_kwh = price.total.energy_kwh - price.total.imported_kwh
        yield Sentence(
            "Own power gives {own} of it, at what its export would pay, and the grid {rest}.",
            own=KWH(own_kwh),
            rest=KWH(price.total.imported_kwh),
        )
    if price.estimate:
        yield estimate_sentence(price.estimate, price.tariff)
    if price.ends:
        yield month_use_sentence(price.ends)
    if price.tariff.daily_charge:
        charge = money(Fraction(price.tariff.daily_charge), price.line.currency)
        yield Sentence("The daily charge of {charge} is no part of it.", charge=MONEY(charge))
    peak = answer.house.peak if answer.house else None
    if peak is not None and peak.added.units:
        yield Sentence("Nor is what the day adds to the month's peak charge: {added}.", added=MONEY(peak.added))


def _sentences(answer: Answer) -> Iterator[Sentence]:
    yield from (said for said in (taught_sentence(answer), strike_sentence(answer), boil_sentence(answer)) if said)
    yield wort_sentence(answer)
    yield _kinds_sentence(answer)
    yield from price_sentences(answer)


_NOTES: dict[DayNote, Sentence] = {
    "loss estimated": Sentence(
        "The heat loss is estimated from the vessel's size, give or take {off}; one cool-down with a thermometer "
        "measures it.",
        off=SHARE(0.25),
    ),
    "no gravity": Sentence("No gravity is entered: the wort is counted as water."),
    "taken as mixed": Sentence(
        "With the pump off the contents are taken as mixed; real ones are cooler at the bottom."
    ),
    "air beyond": Sentence(
        "Air outside {range}: the losses were checked against other relations only within it.",
        range=Span(CELSIUS, LEAST_CHECKED_C, MOST_CHECKED_C),
    ),
    "vessel beyond": Sentence(
        "A vessel outside {range}: the losses of walls and lid were checked only within it.",
        range=Span(METRES, SMALLEST_CHECKED_M, LARGEST_CHECKED_M),
    ),
    "draught beyond": Sentence(
        "A draught this strong is turbulent along the wall, which the relation does not know; the loss is too low."
    ),
    "gravity beyond": Sentence(
        "A gravity above {most} lies beyond the extract tables; volumes and boiling point are extrapolated.",
        most=GRAVITY(1.130),
    ),
    "moisture beyond": Sentence(
        "Malt moister than {most} lies beyond the table of its heat of wetting; the value at {most} is used.",
        most=SHARE(0.08),
    ),
}


# Tables -----------------------------------------------------------------------------------------------------------

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
        left = len({phase.step for phase in rest})
        name = Sentence("{left} more steps", left=COUNT(left)) if left > 1 else WRITTEN(rest[0].step)
        rows.append((name, *_step_row(answer, rest)[1:]))
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
        held.phase,
        at(answer, part[0].start_s).raw,
        (part[-1].end_s - part[0].start_s) / 60,
        part[-1].to_c,
        set_w or WORD("off"),
        _advised_w(answer, held),
        sum(phase.energy_j for phase in part) / JOULES_PER_KWH,
        cost,
        part[0].from_c,
        None if held.phase == "ramp" else held.lowest_c,
        sum(phase.energy_j for phase in part) / sum(phase.duration_s for phase in part),
    )


def _appliances(answer: Answer) -> Table:
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


def _bands(answer: Answer) -> Table:
    price = answer.price
    rows = [] if price is None else [(band.name, band.energy_kwh, band.cost) for band in price.total.bands]
    return Table("bands", "Prices", (Column("name", "Band", WRITTEN), _ENERGY, _COST), tuple(rows))


# Facts ------------------------------------------------------------------------------------------------------------


def _facts(answer: Answer, ranges: DayRanges | None) -> Facts:
    day, price = answer.day, answer.price
    onset_s = _onset_s(answer)
    charge = money(Fraction(price.tariff.daily_charge), price.line.currency) if price else None
    return {
        "plan": day.plan.model_dump(mode="json", exclude_none=True),
        "start": at(answer, 0.0),
        "time_zone": WORD(answer.zone),
        "totals": _totals(answer),
        "daily_charge": None if charge is None else MONEY(charge),
        "tiers_cost": MONEY(price.total.tier_cost) if price else None,
        "boil_begins": None if onset_s is None else at(answer, onset_s),
        "strike": _strike(answer),
        "wort": _wort(day.wort),
        "worts": [_wort(wort) for wort in day.worts],
        "ranges": None if ranges is None else _ranges(answer, ranges),
        "notes": list(day.notes),
    }


def _wort(wort: Wort) -> Facts:
    return {
        "before_boil_l": LITRES(wort.before_boil_l),
        "end_l": LITRES(wort.end_l),
        "gravity_before_boil": GRAVITY(wort.gravity_before_boil),
        "gravity_end": GRAVITY(wort.gravity_end),
        "extract_kg": KILOGRAMS(wort.extract_kg),
        "evaporated_kg": KILOGRAMS(wort.evaporated_kg),
        "fullest_frac": SHARE(wort.fullest_frac),
    }


def _cost_ends(answer: Answer) -> Facts:
    """Least and most cost, where the month's use is not known; whether it is an estimate, and how far that is off."""
    price = answer.price
    found: dict[str, object] = {}
    if price and price.ends:
        found |= {"cost_low": MONEY(price.ends[0]), "cost_high": MONEY(price.ends[1])}
    if price and price.estimate:
        error = Price(price.estimate.error_per_kwh, price.line.currency)
        found |= {"cost_is_estimate": True, "estimate_off_per_kwh": PRICE(error)}
    return found


def _totals(answer: Answer) -> Facts:
    from energyplan.advice.batchchoices import per_volume

    day, cost = answer.day, answer.price.total.total if answer.price else None
    volume = per_volume(day.energy_kwh, day.wort.end_l, cost)
    kinds = {f"{kind}_kwh": KWH(day.energy_of(kind)) for kind in ("ramp", "hold", "boil")}
    carbon_g = answer.price.carbon_g if answer.price else None
    return {
        "energy_kwh": KWH(day.energy_kwh),
        **kinds,
        "other_kwh": KWH(day.energy_kwh - day.energy_of("ramp", "hold", "boil")),
        "cost": None if cost is None else MONEY(cost),
        **_cost_ends(answer),
        "currency": answer.price.line.currency if answer.price else None,
        "imported_kwh": KWH(answer.price.total.imported_kwh) if answer.price else None,
        "minutes": MINUTES(day.duration_s / 60),
        "finish": at(answer, day.duration_s),
        "evaporated_kg": KILOGRAMS(day.evaporated_kg),
        "end_volume_l": LITRES(day.wort.end_l),
        "carbon_g": None if carbon_g is None else GRAMS(carbon_g),
        "kwh_per_hl": None if volume.kwh_per_hl is None else KWH_PER_HL(volume.kwh_per_hl),
        "cost_per_l": volume.cost_per_l,
    }


def _strike(answer: Answer) -> Facts | None:
    strike = answer.day.strike
    if strike is None:
        return None
    told = {
        "planned_c": strike.planned_c,
        "mash_c": strike.mash_c,
        "rest_c": strike.rest_c,
        "wanted_c": strike.wanted_c,
    }
    return {key: None if found is None else CELSIUS(found) for key, found in told.items()}


def _ranges(answer: Answer, ranges: DayRanges) -> Facts:
    """The 10 %, 50 % and 90 % quantiles, each by its key."""
    finish = {
        name: at(answer, 60 * minutes)
        for name, minutes in zip(("p10", "p50", "p90"), _three(ranges.minutes), strict=True)
    }
    numbers = {"energy_kwh": ranges.energy_kwh, "cost": ranges.cost, "lowest_mash_c": ranges.lowest_mash_c}
    told = {
        key: None if one is None else dict(zip(("p10", "p50", "p90"), _three(one), strict=True))
        for key, one in numbers.items()
    }
    return {**told, "finish": finish, "brewed_days": COUNT(answer.learned.days if answer.learned else 0)}


def _three(likely: Likely) -> tuple[float, float, float]:
    return likely.p10, likely.p50, likely.p90
