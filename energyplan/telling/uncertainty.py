"""Ranges told: where the numbers of a day lie, what drives them, what may go wrong, what to measure next."""

from collections.abc import Iterator, Mapping
from fractions import Fraction

from energyplan.advice.brewed import VESSEL
from energyplan.advice.draws import Input, Uncertainty
from energyplan.advice.uncertainty import Chance, Range, Spread
from energyplan.advice.value_of_information import WhatToMeasure, what_to_measure
from energyplan.base.kinds import (
    AMPERES,
    CELSIUS,
    COUNT,
    DATED,
    FRACTION,
    KELVIN,
    KEY,
    KWH,
    LITRES,
    MINUTES,
    MONEY,
    NUMBER,
    SHARE,
    VOLTS,
    WATTS,
    WORD,
    WRITTEN,
    Kind,
    Value,
)
from energyplan.base.money import UNITS_PER_CURRENCY, Money
from energyplan.base.sentence import NOTHING, SAYABLE, Sayable, Sentence, Span
from energyplan.physics.vesselloss import CALM_C
from energyplan.plan.model import Plan
from energyplan.telling.told import Column, Found, Table, Told, from_days

__all__ = ["drivers_table", "measure_told", "narrows_table", "ranges_table", "source_of", "uncertainty_told"]

STRONG = 0.05  # correlations below it are as good as none
SAME_FRAC = 0.01  # shares of cost and energy that differ by less are told once
BAR_CELLS = 24
_KINDS: Mapping[str, tuple[str, Kind]] = {
    "energy_kwh": ("Energy", KWH),
    "cost": ("Cost", MONEY),
    "minutes": ("Duration", MINUTES),
    "lowest_mash_c": ("Lowest in the mash", CELSIUS),
    "hold_cap_w": ("Hold cap of the mash", WATTS),
    "least_boil_w": ("Lowest boiling power", WATTS),
    "end_volume_l": ("Volume after the boil", LITRES),
    "peak_a": ("Peak current", AMPERES),
}
_INPUT_KINDS: Mapping[Input, Kind] = {"air_c": CELSIUS, "water_c": CELSIUS, "grain_c": CELSIUS, "voltage_v": VOLTS}
# What would narrow an input, and the way to measure it in about ten minutes of work (common practice, no source).
_MEASURE: Mapping[Input, tuple[Sentence, Sentence]] = {
    "air_c": (
        Sentence("a thermometer where you brew, on the day"),
        Sentence(
            "Hang a thermometer beside the vessel, at its height, out of steam, sun and draught; read it after ten "
            "minutes and enter it as {key}.",
            key=KEY("site.air"),
        ),
    ),
    "water_c": (
        Sentence("a thermometer in the water before you switch on"),
        Sentence(
            "Run the tap until it stays cold, fill a jug, stir and read after a minute; enter it as {key}.",
            key=KEY("batch.water_temperature"),
        ),
    ),
    "loss_factor": (
        Sentence("one cool-down from mash temperature, lid on, with a thermometer and a clock"),
        Sentence(
            "At mash temperature switch the heater off, leave lid and jacket on and the pump running, and note "
            "temperature and time; note both again after 60 to 90 minutes, at best every 10. Two readings are ten "
            "minutes of work; calibrating makes {key} of them.",
            key=KEY("vessel.heat_loss"),
        ),
    ),
    "open_surface_factor": (
        Sentence("the lowest power that keeps the boil, lid off"),
        Sentence(
            "In the boil, lid off, turn the power down a step at a time until it stops rolling, and up again until it "
            "rolls; enter the lowest power that kept it as {key}.",
            key=KEY("vessel.least_boil"),
        ),
    ),
    "element_factor": (
        Sentence("a plug-in meter at full power, with the voltage beside it"),
        Sentence(
            "Put a plug-in energy meter that is made for the current before the vessel, switch on full power, and note "
            "watts and volts together after two minutes; enter them as the element's power and voltage."
        ),
    ),
    "voltage_v": (
        Sentence("a plug-in meter's volts at the hour you brew, under load"),
        Sentence(
            "Read a plug-in meter's volts at the hour you brew, with the elements on; enter what the board has, so add "
            "the drop of cable and lead, or read with the elements off."
        ),
    ),
    "grain_c": (
        Sentence("a thermometer in the milled grain"),
        Sentence(
            "Push a thermometer into the middle of the milled grain for five minutes; enter it as {key}.",
            key=KEY("batch.grain_temperature"),
        ),
    ),
}


def uncertainty_told(found: Spread) -> Told:
    """The day under uncertain inputs: the ranges, what drives them, what may go wrong, what to measure next."""
    ranked = what_to_measure(found)
    energy = found.range_of("energy_kwh")
    return Told(
        key="spread",
        title="Ranges",
        headline=Sentence(
            "Eight days of ten take {energy}{cost}{days}{failed}.",
            energy=Span(KWH, energy.p10, energy.p90),
            cost=_cost(found),
            days=from_days(found.days),
            failed=_failed(found),
        ),
        facts={
            "draws": COUNT(found.draws),
            "seed": COUNT(found.seed),
            "band_k": KELVIN(found.band_k),
            "failed_frac": SHARE(found.failed_frac),
            "currency": WORD(found.currency),
            "measure_next": WORD(ranked.best.input),
            "drivers": _all_drivers(found),
            "chances": _chances_table(found),
        },
        findings=tuple(_findings(found)),
        sentences=(*_measure_sentences(ranked),),
        tables=(ranges_table(found), drivers_table(found), narrows_table(found, ranked)),
        cautions=(
            *(_why(item, found) for item in found.uncertainties),
            Sentence(
                "From {draws} days; every value in a range is taken as equally likely; seed {seed}.",
                draws=COUNT(found.draws),
                seed=COUNT(found.seed),
            ),
        ),
    )


def _cost(found: Spread) -> Sentence:
    if not found.currency:
        return NOTHING
    cost = found.range_of("cost")
    span = Span(MONEY, _money(cost.p10, found), _money(cost.p90, found))
    if found.start is None:
        return Sentence(" and {cost}", cost=span)
    return Sentence(" and {cost} if you start at {start}", cost=span, start=DATED(found.start))


def _money(amount: float, found: Spread) -> Money:
    return Money(units=round(Fraction(amount) * UNITS_PER_CURRENCY), currency=found.currency)


def _shown(row: Range, amount: float, found: Spread) -> Value:
    kind = _KINDS[row.key][1]
    return kind(_money(amount, found)) if kind is MONEY else kind(amount)


def ranges_table(found: Spread) -> Table:
    """Each number of the day: as planned, and one day in ten, half, nine in ten below."""
    columns = (
        Column("key", "", WORD, detail=2),
        Column("name", "", WORD),
        Column("planned", "As planned", NUMBER),
        Column("p10", "1 in 10 below", NUMBER),
        Column("p50", "Half below", NUMBER),
        Column("p90", "1 in 10 above", NUMBER),
        Column("errors", "Standard errors", NUMBER, detail=2),
    )
    rows = tuple(
        (
            row.key,
            _KINDS[row.key][0],
            *(_shown(row, amount, found) for amount in (row.planned, row.p10, row.p50, row.p90)),
            NUMBER(max(row.errors)),
        )
        for row in found.ranges
    )
    return Table("ranges", "Ranges", columns, rows)


def drivers_table(found: Spread, key: str = "energy_kwh") -> Table:
    """What drives a number of the day, the strongest first."""
    columns = (
        Column("input", f"{_KINDS[key][0]} is driven by", WORD),
        Column("bar", "", WORD),
        Column("correlation", "Rank correlation", NUMBER, signed=True, short="rank correlation"),
        Column("strength", "Size", FRACTION, detail=2),
    )
    strong = [driver for driver in found.range_of(key).drivers if abs(driver.correlation) >= STRONG]
    rows = tuple(
        (
            driver.name,
            "█" * max(round(abs(driver.correlation) * BAR_CELLS), 1),
            driver.correlation,
            abs(driver.correlation),
        )
        for driver in strong
    )
    return Table("driven_by", "Drivers", columns, rows)


def _all_drivers(found: Spread) -> Table:
    columns = (
        Column("key", "Number", WORD),
        Column("input", "Input", WORD),
        Column("correlation", "Rank correlation", NUMBER, signed=True),
    )
    rows = ((row.key, driver.name, driver.correlation) for row in found.ranges for driver in row.drivers)
    return Table("drivers", "Drivers", columns, tuple(rows))


def _chances_table(found: Spread) -> Table:
    columns = (
        Column("kind", "What", WORD),
        Column("name", "Where", WRITTEN),
        Column("frac", "Share of days", SHARE),
        Column("error", "Standard error", SHARE),
    )
    return Table(
        "chances", "Chances", columns, tuple((one.kind, one.name, one.frac, one.error) for one in found.chances)
    )


def _failed(found: Spread) -> Sentence:
    if found.failed_frac == 0:
        return NOTHING
    return Sentence("; {share} of the days can't be brewed as set, and are in no range", share=SHARE(found.failed_frac))


def _findings(found: Spread) -> Iterator[Found]:
    """What goes wrong on some of the days; what never does is not told."""
    if found.failed_frac > 0:
        first = found.failures[0].message
        yield Found(
            code="failed",
            severity="note",
            said=Sentence(
                "Why a day can't be brewed as set: {why}",
                why=first if isinstance(first, SAYABLE) else WORD(str(first)),
            ),
        )
    for chance in sorted(found.chances, key=lambda one: -one.frac):
        if chance.frac > 0:
            yield Found(code=chance.kind, severity="note", said=_chance_sentence(chance, found))


def _chance_sentence(chance: Chance, found: Spread) -> Sentence:
    words = {
        "sag": "{share} of the days: {name} sags more than {band} below its target.",
        "boil": "{share} of the days: {name} stops boiling.",
        "over": "{share} of the days: {name} more than 2 % over its rating while elements are on.",
    }
    values: dict[str, Sayable] = {"share": SHARE(chance.frac), "name": WRITTEN(chance.name)}
    if chance.kind == "sag":
        values["band"] = KELVIN(found.band_k)
    return Sentence(words[chance.kind], **values)


def _why(item: Uncertainty, found: Spread) -> Sentence:
    """An input, its range, and where that comes from."""
    kind = _INPUT_KINDS.get(item.input, SHARE)
    return Sentence(
        "{name}: {range}{source}.",
        name=WORD(item.name),
        range=Span(kind, item.low, item.high),
        source=source_of(item, found.plan, found.days),
    )


def source_of(item: Uncertainty, plan: Plan, days: int = 0) -> Sentence:
    """Where the range of an input comes from."""
    vessel = plan.vessel
    if days and item.input in VESSEL:
        return Sentence(" of what is planned{days}", days=from_days(days))
    if item.input == "loss_factor":
        loss, within = vessel.heat_loss_w_per_k, vessel.heat_loss_within_w_per_k
        said = " of the loss estimated from the size" if loss is None else " of the loss measured"
        return Sentence(said if within is None else f"{said}, as its half width says")
    if item.input == "open_surface_factor":
        if vessel.least_boil_w is not None:
            return Sentence(" of what evaporates, by the lowest power seen to boil [assumption]")
        return Sentence(
            " of what evaporates near the boil, six tenths of that below {calm}: published sources differ as much",
            calm=CELSIUS(CALM_C),
        )
    if item.input == "element_factor":
        return Sentence(" of the plate, IEC 60335-1 (from memory)")
    return Sentence(" [assumption]")


def narrows_table(found: Spread, ranked: WhatToMeasure) -> Table:
    """A row for each input, what narrows most first: share of each range that goes once it is measured."""
    keys = [key for key in ranked.outputs if key != "cost" or _differs(ranked)]
    columns = (
        Column("input", "Once measured, narrows", WORD),
        *(Column(f"{key}_frac", _KINDS[key][0], SHARE) for key in keys),
    )
    shares = {key: {row.input: row.narrows_frac for row in ranked.outputs[key]} for key in keys}
    order = sorted(
        found.uncertainties, key=lambda item: (item is not ranked.best, -sum(shares[key][item.input] for key in keys))
    )
    rows = tuple((item.name, *(shares[key][item.input] for key in keys)) for item in order)
    return Table("narrows", "What each would narrow", columns, rows)


def _differs(ranked: WhatToMeasure) -> bool:
    """Whether cost narrows otherwise than energy does."""
    energy = {row.input: row.narrows_frac for row in ranked.outputs["energy_kwh"]}
    return any(abs(row.narrows_frac - energy[row.input]) >= SAME_FRAC for row in ranked.outputs.get("cost", ()))


def _measure_sentences(ranked: WhatToMeasure) -> Iterator[Sentence]:
    if not ranked.helps:
        yield Sentence("Every input is known as well as it can be measured.")
        return
    what, how = _MEASURE[ranked.best.input]
    yield Sentence("Measure next: {what}. {how}", what=what, how=how)


def measure_told(found: Spread) -> Told:
    """What to measure next, and what each measurement would narrow."""
    ranked = what_to_measure(found)
    return Told(
        key="measure_next",
        title="What to measure next",
        sentences=tuple(_measure_sentences(ranked)),
        tables=(narrows_table(found, ranked),) if ranked.helps else (),
        cautions=(
            Sentence(
                "Share of each range that goes once the input is measured. The hold cap is the lowest that keeps the "
                "mash."
            ),
        ),
    )
