"""A brewed day told: the sheet typed back, or the house's meter."""

from collections.abc import Iterable, Iterator, Mapping, Sequence

from energyplan.advice.brewed import VESSEL
from energyplan.advice.brewery import BrewedAnswer, BrewedCause, Kept, Month
from energyplan.advice.learned import Learned
from energyplan.advice.odds import Likely
from energyplan.base.kinds import (
    CELSIUS,
    COUNT,
    DATED,
    KWH,
    KWH_PER_HL,
    LITRES,
    MINUTES,
    MOMENT,
    MONEY,
    NUMBER,
    SHARE,
    VOLTS,
    WATTS,
    WATTS_PER_KELVIN,
    WORD,
    WRITTEN,
    Kind,
    Moment,
    Value,
    counted,
)
from energyplan.base.money import Money
from energyplan.base.sentence import NOTHING, Sayable, Sentence, Span, listed
from energyplan.day.kettle import heat_loss_w_per_k
from energyplan.learning.meterfile import MeterLog
from energyplan.learning.usual import AboveUsual
from energyplan.plan.model import Plan
from energyplan.telling.measured import band_tables, cost_facts, cost_sentences
from energyplan.telling.prices import no_cost_sentences
from energyplan.telling.told import Column, Facts, Table, Told, from_days

__all__ = ["brewed_told", "meter_told", "year_told"]


def meter_told(
    found: AboveUsual, log: MeterLog, planned_kwh: float, price: tuple[Money, str] | None, at: Moment
) -> Told:
    """A brew day in the house meter's export: what it took above the usual, how sure that is, what it cost.

    ``price`` is the cost and the tariff's name; ``at`` where the day begins. No temperatures, no phases: the house's
    meter doesn't know them.
    """
    seen = found.shows(planned_kwh)
    measured, within = KWH(found.measured_kwh), KWH(found.within_kwh)
    if seen:
        headline = Sentence(
            "The day from {start} on took {measured} above the household's usual, ±{within}; planned were {planned}.",
            start=DATED(at.at), measured=measured, within=within, planned=KWH(planned_kwh),
        )  # fmt: skip
    else:
        headline = Sentence(
            "No brew is seen from {start} on: {measured} above the household's usual, ±{within}, where {planned} were "
            "planned.",
            start=DATED(at.at), measured=measured, within=within, planned=KWH(planned_kwh),
        )  # fmt: skip
    basis = Sentence(
        "Usual is {usual} in those hours, from {days}; their scatter is the ±, on 19 days of 20.",
        usual=KWH(float(found.usual_kwh.sum())),
        days=counted(found.days, "other day"),
    )
    return Told(
        key="meter",
        title="In the house's meter",
        headline=headline,
        facts={
            "measured_kwh": measured,
            "within_kwh": within,
            "usual_kwh": KWH(float(found.usual_kwh.sum())),
            "planned_kwh": KWH(planned_kwh),
            "interval_min": found.interval_min,
            "start": MOMENT(at),
            "brew_seen": seen,
            "cost": None if price is None or not seen else MONEY(price[0]),
            "why": None if seen else Sentence("what is above the usual does not stand out from its scatter"),
            "columns": tuple(WRITTEN(name) for name in log.columns),
            "counts": log.counts,
            "stamped": log.stamped,
            "clock": log.clock,
        },
        sentences=(*_meter_cost(price, seen=seen), _meter_verdict(found, planned_kwh, seen=seen), basis, _read_as(log)),
    )


def _meter_cost(price: tuple[Money, str] | None, *, seen: bool) -> Iterator[Sentence]:
    if price is not None and seen:
        yield Sentence("It cost {money} under “{tariff}”.", money=MONEY(price[0]), tariff=WRITTEN(price[1]))


def _meter_verdict(found: AboveUsual, planned_kwh: float, *, seen: bool) -> Sentence:
    if not seen:
        return Sentence("Is that the day, is the clock of the export right, does this meter see the vessel?")
    if abs(found.measured_kwh - planned_kwh) <= found.within_kwh:
        return Sentence("Plan and meter agree within that.")
    return Sentence("That is more than the scatter: a plug-in meter, or a log, would tell why.")


def _read_as(log: MeterLog) -> Sentence:
    """How the columns were understood."""
    return Sentence(
        "Read as: {value} of {interval} from the column “{column}”; stamps in “{stamps}” mark {marks}, on {clock}.",
        value=WORD(_COUNTS[log.counts]),
        interval=MINUTES(log.interval_s / 60),
        column=WRITTEN(log.columns[-1]),
        stamps=WRITTEN(" ".join(log.columns[:-1])),
        marks=WORD(_MARKS[log.stamped]),
        clock=WORD(_CLOCKS[log.clock]),
    )


_COUNTS = {"energy": "energy", "total": "a running total", "power": "mean power"}
_MARKS = {"start": "the start of each", "end": "the end of each", "both": "both ends"}
_CLOCKS = {"utc": "UTC", "local": "the local clock", "offset": "the clock that they name"}
MOST_PAIRS = 3  # that are named where they can't be told apart
NAMED = 0.25  # share of the difference below which an input is no likely cause
_AT = (0.025, 0.5, 0.975)
_CAUSES: Mapping[str, tuple[Kind, str]] = {
    "air_c": (CELSIUS, "air of {value} instead of {planned}"),
    "water_c": (CELSIUS, "water of {value} at the start instead of {planned}"),
    "grain_c": (CELSIUS, "grain of {value} instead of {planned}"),
    "voltage_v": (VOLTS, "mains of {value} instead of {planned}"),
    "element_factor": (NUMBER, "elements that give {value} times what is planned"),
    "loss_factor": (NUMBER, "a heat loss of {value} times the planned one"),
    "open_surface_factor": (NUMBER, "an open surface that takes {value} times what is planned"),
    "lid": (SHARE, "a lid left open for {value} of “{step}”"),
}
_KWH = (Column("planned_kwh", "Planned", KWH), Column("measured_kwh", "Measured", KWH))


def brewed_told(found: BrewedAnswer, tariff: str = "") -> Told:
    """A brewed day: what the meter counted beside the plan, what it cost, why, and what it taught."""
    return Told(
        key="brewed",
        title="Brewed",
        headline=_headline(found),
        facts={
            **cost_facts(found.cost),
            "planned_kwh": sum(one.planned_kwh for one in found.stretches) if found.stretches else None,
            "measured_kwh": found.readings.metered_kwh,
            "misfit": found.misfit,
            "cause": _cause_named(found),
            "together": tuple(_both(pair) for pair in _pairs(found)),
            "learned": _learned_facts(found),
            "effective_draws": found.after.effective_draws,
            "days": found.after.days,
            "contradict": tuple(found.after.contradict),
        },
        sentences=(
            *cost_sentences(found.cost, tariff),
            *no_cost_sentences(found.unpriced),
            *_why(found),
            *_taught(found),
        ),
        tables=(*_stretches(found), *band_tables(found.cost), _learned_table(found)),
        cautions=tuple(_contradictions(name for name in found.after.contradict if name != found.readings.name)),
    )


def _headline(found: BrewedAnswer) -> Sentence:
    if not found.stretches:
        return Sentence("The meter was not read; what else was noted is compared.")
    planned = sum(one.planned_kwh for one in found.stretches)
    measured = sum(one.measured_kwh for one in found.stretches)
    return Sentence(
        "The meter counted {measured} where {planned} were planned: {more}.",
        measured=KWH(measured),
        planned=KWH(planned),
        more=KWH(measured - planned, signed=True),
    )


def _stretches(found: BrewedAnswer) -> Iterator[Table]:
    if found.stretches:
        rows = tuple(
            (one.until or Sentence("the end"), one.planned_kwh, one.measured_kwh, one.measured_kwh - one.planned_kwh)
            for one in found.stretches
        )
        columns = (Column("until", "To the end of", WRITTEN), *_KWH, Column("more_kwh", "More", KWH, signed=True))
        yield Table("stretches", "Plan beside meter", columns, rows)


def _named(found: BrewedAnswer) -> bool:
    return bool(found.causes) and found.causes[0].share >= NAMED and not _fits_nothing(found)


def _fits_nothing(found: BrewedAnswer) -> bool:
    """Whether neither another vessel nor a lid left open explains the readings."""
    return found.contradicts and not found.had_open_lid


_READ: Mapping[str, str] = {
    "energy_kwh": "the meter's total",
    "boil_began_min": "the time at which it boiled",
    "boiled_off_l": "the litres boiled off",
}


def _why(found: BrewedAnswer) -> Iterator[Sentence]:
    if _fits_nothing(found):
        odd = found.oddest
        which = Sentence("that of “{step}”", step=WRITTEN(odd.step)) if odd.step else WORD(_READ[odd.kind])
        yield Sentence(
            "These readings fit neither the plan nor the other days, whatever the vessel is like: is one mistyped, "
            "such as {which}? They taught nothing.",
            which=which,
        )
    elif not found.causes:
        yield Sentence("Plan and readings agree within the errors of meter and clock.")
    elif pairs := _pairs(found):
        yield _why_two(pairs)
    elif not _named(found):
        yield Sentence("No single input explains these readings; several are off, or something else happened.")
    else:
        best = found.causes[0]
        yield Sentence(
            "Most likely: {cause}; that explains {share} of how far all the readings are off.",
            cause=_cause(best),
            share=SHARE(best.share),
        )
    if found.contradicts and found.had_open_lid:
        yield Sentence("A day like that taught nothing of the vessel.")


def _pairs(found: BrewedAnswer) -> tuple[tuple[BrewedCause, ...], ...]:
    """Two causes at once, and what can't be told from them; none of readings that fit nothing."""
    return () if _fits_nothing(found) else found.pairs


def _why_two(pairs: tuple[tuple[BrewedCause, ...], ...]) -> Sentence:
    """Two causes at once; or which can't be told apart, with what all of them share said once."""
    best, *rivals = pairs
    if not rivals:
        return Sentence(
            "Most likely two things at once: {both}; together they explain {share} of how far all the readings are "
            "off, which neither does alone.",
            both=_both(best),
            share=SHARE(best[0].share),
        )
    shared = next((one for one in best if all(_key(one) in map(_key, pair) for pair in rivals)), None)
    if shared is None:
        return Sentence(
            "Two things at once explain these readings, which can't tell {pairs}.",
            pairs=listed((Sentence("({both})", both=_both(pair)) for pair in pairs[:MOST_PAIRS]), "from"),
        )
    others = (_cause(one) for pair in pairs for one in pair if _key(one) != _key(shared))
    return Sentence(
        "Most likely two things at once: {shared}, and one that these readings can't tell: {others}.",
        shared=_cause(shared),
        others=listed(others, "or"),
    )


def _key(cause: BrewedCause) -> tuple[str, str]:
    return cause.input, cause.step


def _both(pair: tuple[BrewedCause, ...]) -> Sentence:
    one, other = (_cause(cause) for cause in pair)
    return Sentence("{one}, and {other}", one=one, other=other)


def _cause_named(found: BrewedAnswer) -> Sentence | None:
    """The cause in a few words, or both of two; none where it can't be told."""
    if pairs := _pairs(found):
        return _both(pairs[0]) if len(pairs) == 1 else None
    return _cause(found.causes[0]) if _named(found) else None


def _cause(cause: BrewedCause) -> Sentence:
    kind, template = _CAUSES[cause.input]
    given: dict[str, Value] = {"value": kind(cause.value)}
    if "{planned}" in template:
        given["planned"] = kind(cause.planned)
    if "{step}" in template:
        given["step"] = WRITTEN(cause.step)
    return Sentence(template, **given)


def _taught(found: BrewedAnswer) -> Iterator[Sentence]:
    before = Sentence(" ({before} without this one)", before=Span(KWH, found.range_before.p10, found.range_before.p90))
    yield _another_day(found.range_after, found.after, before)
    if found.after.is_thin:
        yield Sentence("The days leave few vessels that fit; take these ranges as rough.")


def _another_day(likely: Likely, learned: Learned, before: Sayable = NOTHING) -> Sentence:
    return Sentence(
        "Another day of this plan takes {range} on this meter, eight days of ten{days}{before}.",
        range=Span(KWH, likely.p10, likely.p90),
        days=from_days(learned.days),
        before=before,
    )


def _contradictions(names: Iterable[str]) -> Iterator[Sentence]:
    for name in names:
        yield Sentence("The day {day} contradicts the others; it is left out of what was learned.", day=WRITTEN(name))


def _numbers(plan: Plan, learned: Learned) -> Iterator[tuple[str, str, Kind, tuple[float, float, float]]]:
    """The brewery's own numbers: key, name, kind, and low, middle and high."""
    units = {
        "loss_factor": ("heat_loss_w_per_k", "Heat loss, lid on", WATTS_PER_KELVIN, heat_loss_w_per_k(plan)),
        "element_factor": ("element_power_w", "Element power", WATTS, sum(one.power_w for one in plan.vessel.elements)),
        "open_surface_factor": ("open_surface_factor", "Open surface, times the model", NUMBER, 1.0),
    }
    for name in VESSEL:
        if name in learned.vessels:
            key, words, kind, unit = units[name]
            low, middle, high = (float(value) * unit for value in learned.quantiles(name, _AT))
            yield key, words, kind, (low, middle, high)


def _learned_facts(found: BrewedAnswer) -> Facts:
    both = {"before": found.before, "after": found.after}
    facts: dict[str, dict[str, object]] = {}
    for when, learned in both.items():
        for key, _, kind, (low, middle, high) in _numbers(found.readings.plan, learned):
            facts.setdefault(key, {})[when] = {"value": kind(middle), "low": kind(low), "high": kind(high)}
    for when, likely in (("before", found.range_before), ("after", found.range_after)):
        of_a_day = {"value": KWH(likely.p50), "p10": KWH(likely.p10), "p90": KWH(likely.p90)}
        facts.setdefault("energy_kwh", {})[when] = of_a_day
    return facts


def _learned_table(found: BrewedAnswer) -> Table:
    before = {key: numbers for key, _, _, numbers in _numbers(found.readings.plan, found.before)}
    rows = tuple(
        (words, Span(kind, before[key][0], before[key][2]), Span(kind, low, high))
        for key, words, kind, (low, _, high) in _numbers(found.readings.plan, found.after)
    )
    columns = (
        Column("number", "What it taught", WORD),
        Column("before", "Likely before", NUMBER),
        Column("after", "Likely now", NUMBER),
    )
    return Table("taught", "The vessel's own numbers, 95 % ranges", columns, rows)


def year_told(found: Sequence[Month], kept: Kept, learned: Learned, range_kwh: Likely) -> Told:
    """Brewed days by month: kWh planned and metered, money, kWh per volume; and what they taught."""
    total = _total(found)
    days = sum(one.days for one in found)
    headline = Sentence("No brewed day is kept here yet.")
    if days:
        headline = Sentence(
            "{days}: {metered} metered where {planned} were planned.",
            days=counted(days, "brewed day"),
            metered=KWH(sum(one.metered_kwh for one in found)),
            planned=KWH(sum(one.planned_kwh for one in found)),
        )
    columns = (
        Column("month", "Month", WRITTEN), Column("days", "Days", COUNT), *_KWH, Column("cost", "Cost", MONEY),
        Column("kwh_per_hl", "Per volume", KWH_PER_HL), Column("wort_l", "Wort", LITRES, detail=1),
    )  # fmt: skip
    rows = tuple(
        (one.month, one.days, one.planned_kwh, one.metered_kwh, one.cost, one.kwh_per_hl, one.wort_l) for one in found
    )
    said = _another_day(range_kwh, learned)
    beyond = sum(one.unpriced for one in found)
    unpriced = Sentence(
        "{beyond} of {days} {has} no price; its money is not in the sums.",
        beyond=COUNT(beyond),
        days=counted(days, "day"),
        has=WORD("has" if beyond == 1 else "have"),
    )
    unusable = tuple(
        Sentence("The day {day} can't be used: {why}", day=WRITTEN(name), why=WRITTEN(str(error)))
        for name, error in kept.unusable
    )
    return Told(
        key="year",
        title="Brewed, month by month",
        headline=headline,
        facts={"total_kwh": sum(one.metered_kwh for one in found), "effective_draws": learned.effective_draws},
        sentences=(*([said] if days else []), *([unpriced] if beyond else [])),
        tables=(Table("months", "Brewed days by month", columns, rows, total if len(rows) > 1 else None),),
        cautions=(*unusable, *_contradictions(learned.contradict)),
    )


def _total(found: Sequence[Month]) -> tuple[object, ...]:
    costs = [one.cost for one in found if one.cost is not None]
    cost: Money | None = None
    for one in costs:
        cost = one if cost is None else cost + one
    metered, wort_l = sum(one.metered_kwh for one in found), sum(one.wort_l for one in found)
    return (
        "All", sum(one.days for one in found), sum(one.planned_kwh for one in found), metered, cost,
        100 * metered / wort_l if wort_l else None, wort_l,
    )  # fmt: skip
