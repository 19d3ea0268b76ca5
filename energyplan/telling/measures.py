"""What a change is worth: the measures alone, ranked, and the best of them together; another tariff."""

from collections.abc import Callable, Iterator, Sequence
from datetime import date

from energyplan.advice.measures import BOIL_POWER, MeasureChoice
from energyplan.advice.pricing import TariffCost
from energyplan.advice.savings import START, Saving, Savings, group_of
from energyplan.advice.variants import WhyNot
from energyplan.base.kinds import (
    CELSIUS,
    CENTIMETRES,
    COUNT,
    DATED,
    KEY,
    KWH,
    LITRES,
    MINUTES,
    MOMENT,
    MONEY,
    SHARE,
    WATTS,
    WORD,
    WRITTEN,
    Moment,
    Value,
    counted,
)
from energyplan.base.sentence import Sayable, Sentence, listed
from energyplan.tariffs.clock import to_local
from energyplan.telling.comparison import refusal
from energyplan.telling.prices import month_use_sentence
from energyplan.telling.starts import hours_told
from energyplan.telling.told import Column, Facts, Table, Told

__all__ = ["GROUPS", "savings_told", "tariffs_told", "ticked_sentence"]

GROUPS = {"set": "Set it so", "do": "Do it so", "buy": "Buy it"}
TOGETHER = 2  # changes act on each other
SHOWN_KWH = 0.005  # what is told as 0.01 kWh
SAME_WORT = Sentence(
    "Every change is a simulated day that ends with the same volume from the same grain: what is not boiled off is not "
    "filled in either. Heat that is lost indoors in winter warms the room."
)
PAID = Sentence("brews: after how many a price that you gave is earned.")

# Names begin small, as they stand in a sentence.
Named = Callable[[MeasureChoice], Sentence]
NAMES: dict[str, Named] = {
    "jacket": lambda c: Sentence("jacket of {thickness}", thickness=CENTIMETRES(c.jacket_m)),
    "lid_ramps": lambda _: Sentence("lid on in the ramps"),
    "lid_holds": lambda _: Sentence("lid on in the holds"),
    "lid_boil": lambda _: Sentence("lid ajar in the boil"),
    "boil_length": lambda c: Sentence("boil of {time}", time=MINUTES(c.boil_s / 60)),
    BOIL_POWER: lambda _: Sentence("lower power in the boil"),
    "hold_length": lambda c: Sentence("mash hold of {time}", time=MINUTES(c.hold_s / 60)),
    "warm_place": lambda c: Sentence("place at {air}", air=CELSIUS(c.air_c)),
    "warm_water": lambda c: Sentence("water at {water}", water=CELSIUS(c.water_c)),
    "cleaning": lambda c: Sentence("cleaning at {cleaning}", cleaning=CELSIUS(c.cleaning_c)),
    "kept_water": lambda c: Sentence("cleaning with chiller water of {kept}", kept=CELSIUS(c.kept_c)),
    "batch": lambda c: Sentence("batch of {size}", size=SHARE(c.batch_frac)),
}
RISKS = {
    "jacket": Sentence("Keep vents, cables and the hot base free."),
    "lid_boil": Sentence("Worth more together with a lower boil power; less leaves with the steam."),
    "boil_length": Sentence("Less bitterness from the same hops."),
    BOIL_POWER: Sentence("Rolls more gently."),
    "hold_length": Sentence("Check the conversion before you go on."),
    "warm_place": Sentence("Only free if the place is warm anyway; not in the best of it together."),
    "warm_water": Sentence("Only free if something else warms it; not in the best of it together."),
    "cleaning": Sentence("Follow the label of the cleaner."),
    "kept_water": Sentence("Needs a clean tank that holds it until then."),
    "batch": Sentence("kWh and money for the same litres, minutes for its whole day."),
}
WHY_NOT: dict[str, Callable[[WhyNot], Sentence]] = {
    "measured_loss": lambda _: Sentence(
        "the heat loss is measured, and nobody measured it with the other jacket: leave {key} out",
        key=KEY("vessel.heat_loss"),
    ),
    "has_jacket": lambda w: Sentence("it has a jacket of {thickness}", thickness=CENTIMETRES(w.value)),
    "lid_on_in_ramps": lambda _: Sentence("the lid is on in every ramp that has a step of its own"),
    "lid_on_in_holds": lambda _: Sentence("the lid is on in every hold"),
    "no_open_boil": lambda _: Sentence("no boil has the lid off"),
    "no_longer_boil": lambda w: Sentence("no boil lasts longer than {time}", time=MINUTES((w.value or 0.0) / 60)),
    "no_boil": lambda _: Sentence("there is no boil"),
    "boil_is_low": lambda w: Sentence(
        "a boil that rolls, with the wanted evaporation, takes {needed}, and {set} are set",
        needed=WATTS(w.value), set=WATTS(w.other),
    ),
    "no_longer_hold": lambda w: Sentence(
        "no hold of the mash lasts longer than {time}", time=MINUTES((w.value or 0.0) / 60)
    ),
    "is_warm": lambda w: Sentence("it is {air} there already", air=CELSIUS(w.value)),
    "water_is_warm": lambda w: Sentence("the water starts at {water} already", water=CELSIUS(w.value)),
    "cleaning_is_cool": lambda w: Sentence("nothing is cleaned above {cleaning}", cleaning=CELSIUS(w.value)),
    "nothing_chilled": lambda _: Sentence("nothing is boiled, so nothing is chilled"),
    "no_cool_cleaning": lambda w: Sentence("nothing is cleaned with water below {kept}", kept=CELSIUS(w.value)),
    "no_room": lambda w: Sentence("the vessel would be {full} full, and foam needs room", full=SHARE(w.value)),
    "no_brew": lambda w: Sentence("it can't be brewed: {why}", why=refusal(w.error)),
}  # fmt: skip


def savings_told(found: Savings) -> Told:
    """Tell what each change is worth; what speaks against them, and what is not counted, is a part of its own."""
    return Told(
        key="savings",
        title="What a change saves",
        headline=_headline(found),
        facts=_facts(found),
        sentences=(_as_it_is(found), *_together(found)),
        tables=(_table(found),),
        parts=(Told(key="notes", title="What else it changes", sentences=(*_notes(found),)),),
    )


def ticked_sentence(found: Savings, taken: Saving | WhyNot) -> Sentence:
    """What some of the changes are worth together, beside what they would add up to; or why they don't go together."""
    if isinstance(taken, WhyNot):
        return Sentence("These don't go together: {why}.", why=WHY_NOT[taken.code](taken))
    alone_kwh = sum(row.saved_kwh for row in found.rows if row.keys[0] in taken.keys)
    a_year = found.per_year_money(taken)
    more = KWH(found.per_year_kwh(taken)) if a_year is None else MONEY(a_year)
    said = Sentence("Ticked: {worth} a brew, {more} a year.", worth=_worth(taken), more=more)
    if len(taken.keys) < TOGETHER or abs(alone_kwh - taken.saved_kwh) < SHOWN_KWH:
        return said
    return Sentence("{said} One by one they would add up to {sum}.", said=said, sum=KWH(alone_kwh))


def _headline(found: Savings) -> Sentence:
    """The change that is worth most; where money leads, the one that saves most energy beside it."""
    if not found.rows:
        return Sentence("Nothing can be changed in this plan.")
    first, most = found.rows[0], max(found.rows, key=lambda row: row.saved_kwh)
    said = Sentence("Most for least: {change}, {worth} a brew.", change=_name(found, first), worth=_worth(first))
    if first is most or found.objective == "energy":
        return said
    return Sentence("{said} In energy: {change}, {worth}.", said=said, change=_name(found, most), worth=_worth(most))


def _worth(row: Saving) -> Sayable:
    parts: list[Sayable] = [KWH(row.saved_kwh)] if abs(row.saved_kwh) >= SHOWN_KWH else []
    return listed([*parts, MONEY(row.saved_money)] if row.saved_money else parts or [KWH(row.saved_kwh)])


def _as_it_is(found: Savings) -> Sentence:
    brews, energy = Value(COUNT, found.brews_per_year), KWH(found.base.energy_kwh)
    if found.base_cost is None or found.start is None:
        return Sentence("The plan as it is takes {energy}, {brews} brews a year.", energy=energy, brews=brews)
    template = "The plan as it is, begun at {start}, takes {energy} and {cost}, {brews} brews a year."
    return Sentence(template, start=DATED(found.start), energy=energy, cost=MONEY(found.base_cost), brews=brews)


def _together(found: Savings) -> Iterator[Sentence]:
    if found.together is None:
        yield Sentence("None of it saves anything.")
        return
    if len(found.together.keys) == 1:
        yield Sentence("Nothing else is worth adding to {change}.", change=_name(found, found.together))
        return
    yield Sentence(
        "All that is worth it together saves {worth} a brew; one by one the same changes would add up to {sum}, "
        "because they act on each other. It is: {changes}.",
        worth=_worth(found.together), sum=KWH(found.added_up_kwh), changes=_name(found, found.together),
    )  # fmt: skip


def _notes(found: Savings) -> Iterator[Sentence]:
    for row in found.rows:
        if risk := RISKS.get(row.keys[0]):
            yield Sentence("{change}: {risk}", change=_begun(_name(found, row)), risk=risk)
    for key, why in found.left_out:
        name = _begun(NAMES[key](found.choice))
        yield Sentence("{change}: not counted, {why}.", change=name, why=WHY_NOT[why.code](why))
    if found.hours is not None and (within := hours_told(found.hours)):
        yield Sentence("Another start is looked for on the same day: {hours}.", hours=within)
    if any(row.price is not None for row in found.rows):
        yield PAID
    yield SAME_WORT


def _table(found: Savings) -> Table:
    money = found.base_cost is not None
    priced = any(row.price is not None for row in found.rows)
    columns = [
        Column("keys", "Keys", WORD, detail=2),
        Column("group", "What it takes", WORD, detail=2),
        Column("change", "Saves per brew", WORD),
        Column("saved_kwh", "Saved", KWH, short="", signed=True),
        Column("saved_money", "Saved", MONEY, short="", detail=0 if money else 2, signed=True),
        Column("saved_min", "Shorter", MINUTES, short="min less", signed=True),
        Column("water_change_l", "Water", LITRES, detail=1, signed=True),
        Column("a_year_kwh", "A year", KWH, detail=1, signed=True),
        Column("a_year_money", "A year", MONEY, short="a year", detail=0 if money else 2, signed=True),
        Column("payback_brews", "Brews", COUNT, short="brews", detail=0 if priced else 2),
        Column("per_brew_share", "Share", SHARE, detail=2),
        Column("text", "Worth", WORD, detail=2),
        Column("risk", "Mind", WORD, detail=2),
    ]
    rows = [_row(found, row) for row in found.rows]
    if found.together is not None and len(found.together.keys) > 1:
        rows.append(_row(found, found.together))
    return Table("rows", "What each change saves on a brew and in a year", tuple(columns), tuple(rows))


def _row(found: Savings, row: Saving) -> tuple[object, ...]:
    name = Sentence("the best of it together") if row is found.together else _name(found, row)
    risk = None if row is found.together else RISKS.get(row.keys[0])
    return (
        Value(WORD, row.keys),
        None if row is found.together else WORD(group_of(row.keys[0])),
        _begun(name),
        row.saved_kwh,
        row.saved_money,
        row.saved_min,
        row.water_change_l,
        found.per_year_kwh(row),
        found.per_year_money(row),
        row.payback_brews,
        row.per_brew_share,
        Sentence("{worth}", worth=_worth(row)),
        risk,
    )


def _name(found: Savings, row: Saving) -> Sentence:
    names: list[Sayable] = [_named(found, row, key) for key in row.keys if key != START]
    if START in row.keys and row.start is not None:
        local = to_local(row.start, found.zone)
        names.append(Sentence("start at {clock}", clock=MOMENT(Moment(local, _planned_date(found)))))
    return Sentence("{names}", names=listed(names)) if len(names) != 1 else names[0]  # type: ignore[return-value]


def _named(found: Savings, row: Saving, key: str) -> Sentence:
    boil = next((step for step in reversed(row.day.plan.steps) if step.boil and step.hold_s > 0), None)
    if key != BOIL_POWER or boil is None or boil.hold_power_w is None:
        return NAMES[key](found.choice)
    return Sentence("boil at {power}", power=WATTS(boil.hold_power_w))


def _planned_date(found: Savings) -> date:
    start = next(row.start for row in found.rows if row.start is not None)
    return to_local(start, found.zone).date()


def _begun(name: Sentence) -> Sentence:
    """The same with a large letter."""
    return Sentence(f"{name.template[:1].upper()}{name.template[1:]}", **dict(name.values))


def _facts(found: Savings) -> Facts:
    together = found.together
    return {
        "energy_kwh": KWH(found.base.energy_kwh),
        "base_cost": None if found.base_cost is None else MONEY(found.base_cost),
        "objective": WORD(found.objective),
        "brews_per_year": Value(COUNT, found.brews_per_year),
        "together": None if together is None else {
            "keys": Value(WORD, together.keys),
            "saved_kwh": KWH(together.saved_kwh),
            "saved_money": None if together.saved_money is None else MONEY(together.saved_money),
            "saved_min": MINUTES(together.saved_min),
            "price": together.price,
        },
        "added_up_kwh": KWH(found.added_up_kwh),
        "added_up_money": found.added_up_money,
        "left_out": [{"key": key, "code": why.code, "why": WHY_NOT[why.code](why)} for key, why in found.left_out],
    }  # fmt: skip


def tariffs_told(found: Sequence[TariffCost], zone: str) -> Told:
    """One day and a year of brews under several tariffs, the cheapest year first; daily charges apart and together."""
    ranked = sorted(found, key=lambda one: (one.together or one.day).units)
    whole = all(one.together is not None for one in found)
    columns = (
        Column("tariff", "Tariff", WRITTEN),
        Column("day", "This day", MONEY, short="Day"),
        Column("best_start", "Best start", MOMENT, short="Best", detail=2),
        Column("best", "at its best", MONEY, short="at best"),
        Column("year", "A year's brews", MONEY, short="Year"),
        Column("year_best", "at their best", MONEY, short="at best", detail=1),
        Column("charges", "Daily charges of a year", MONEY, short="Charges"),
        Column("together", "Year and charges", MONEY, short="Together"),
    )
    rows = tuple(
        (
            one.tariff.name,
            one.day,
            Moment(to_local(one.best.start, zone), date.min),
            one.best.cost,
            None if one.year is None else one.year.usual,
            None if one.year is None else one.year.best,
            one.charges,
            one.together,
        )
        for one in ranked
    )
    return Told(
        key="tariffs",
        title="Tariffs side by side",
        headline=_cheapest_tariff(ranked, whole=whole),
        facts={"currency": WORD(found[0].tariff.currency), "brews": COUNT(_brews(found))},
        sentences=tuple(_comparison_sentences(ranked)),
        tables=(Table("tariffs", "Tariffs", columns, rows),),
    )


def _brews(found: Sequence[TariffCost]) -> int:
    return max((len(one.year.days) for one in found if one.year is not None), default=0)


def _cheapest_tariff(ranked: Sequence[TariffCost], *, whole: bool) -> Sentence:
    if not whole:
        first = min(ranked, key=lambda one: one.day.units)
        return Sentence(
            "This day costs least under {name}: {cost}.", name=WRITTEN(first.tariff.name), cost=MONEY(first.day)
        )
    costs = [one.together for one in ranked if one.together is not None]
    return Sentence(
        "With its daily charge a year of {brews} costs least under {name}: {cost}, {less} less than the dearest.",
        brews=counted(_brews(ranked), "brew"),
        name=WRITTEN(ranked[0].tariff.name),
        cost=MONEY(costs[0]),
        less=MONEY(costs[-1] - costs[0]),
    )


def _comparison_sentences(ranked: Sequence[TariffCost]) -> Iterator[Sentence]:
    for one in ranked:
        name = WRITTEN(one.tariff.name)
        if one.year is None:
            yield Sentence("{name} prices no whole year: {why}", name=name, why=WRITTEN(one.why))
        if one.ends is not None:
            yield Sentence("{name}: {steps}", name=name, steps=month_use_sentence(one.ends))
    yield Sentence("A daily charge is paid whether or not you brew; change the tariff only for all that you use.")
