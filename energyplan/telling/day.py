"""The day told: how much, for how much, when it is done; its steps, its prices, its strike and its wort."""

from collections.abc import Iterator
from datetime import datetime
from fractions import Fraction

from energyplan.advice.answer import Answer
from energyplan.advice.odds import DayRanges, Likely
from energyplan.base.kinds import (
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
    MONEY,
    PRICE,
    SHARE,
    WATTS_PER_KELVIN,
    WORD,
    WRITTEN,
    Price,
    Value,
)
from energyplan.base.sentence import NOTHING, Sayable, Sentence, Span, listed
from energyplan.day.brewday import Phase, Wort
from energyplan.day.kettle import heat_loss_w_per_k
from energyplan.day.legs import COLD_C
from energyplan.day.slips import LARGEST_CHECKED_M, LEAST_CHECKED_C, MOST_CHECKED_C, SMALLEST_CHECKED_M, DayNote
from energyplan.day.tasks import wort_boils
from energyplan.telling.phases import appliances_table, at, bands_table, money, phases_table, slip_found
from energyplan.telling.told import Facts, Told, from_days

__all__ = [
    "MAINS_CAUTION",
    "RATINGS_CAUTION",
    "boil_sentence",
    "day_sentence",
    "day_told",
    "price_sentences",
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
SAME_K = 0.05  # temperatures that are written the same


def day_told(answer: Answer) -> Told:
    """Everything about the day itself: its numbers for machines, its steps, and what is to be said of it."""
    ranges = answer.ranges
    return Told(
        key="day",
        title=Sentence("{title}", title=WRITTEN(answer.day.plan.title)),
        headline=day_sentence(answer, ranges),
        facts=_facts(answer, ranges),
        sentences=tuple(_sentences(answer)),
        tables=(phases_table(answer), appliances_table(answer), bands_table(answer)),
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
    without: Sayable = NOTHING
    if answer.day.plan.vessel.heat_loss_within_w_per_k is not None:  # how well another one is known
        also = (
            NOTHING if answer.day.plan.vessel.heat_loss_measured_w_per_k is None else WORD(" and the loss as measured")
        )
        without = Sentence(", and take out {key}{also}", key=KEY("vessel.heat_loss_within"), also=also)
    return Sentence(
        "The plan lies beyond that: brewed days teach a heat loss of {loss}; enter it as {key}{without}.",
        without=without,
        loss=WATTS_PER_KELVIN(learned.middle("loss_factor") * heat_loss_w_per_k(answer.day.plan)),
        key=KEY("vessel.heat_loss"),
    )


def boil_sentence(answer: Answer) -> Sentence | None:
    """When the boil of the wort begins, or each of several, by its name; None without one."""
    onsets = _onsets(answer)
    if len(onsets) == 1:
        return Sentence("The boil begins at {onset}.", onset=at(answer, onsets[0].start_s))
    named = [Sentence("{step} at {onset}", step=WRITTEN(one.step), onset=at(answer, one.start_s)) for one in onsets]
    return Sentence("Boils begin: {named}.", named=listed(named)) if named else None


def _onsets(answer: Answer) -> list[Phase]:
    boils = wort_boils(answer.day.plan)
    return [phase for phase in answer.day.phases if phase.phase == "boil" and phase.step in boils]


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
    gravities = NOTHING
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
        from energyplan.telling.prices import estimate_sentence

        yield estimate_sentence(price.estimate, price.tariff, answer.zone)
    if price.ends:
        from energyplan.telling.prices import month_use_sentence

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


# Facts ------------------------------------------------------------------------------------------------------------


def _facts(answer: Answer, ranges: DayRanges | None) -> Facts:
    day, price = answer.day, answer.price
    onsets = _onsets(answer)
    charge = money(Fraction(price.tariff.daily_charge), price.line.currency) if price else None
    return {
        "plan": day.plan.model_dump(mode="json", exclude_none=True),
        "start": at(answer, 0.0),
        "time_zone": WORD(answer.zone),
        "totals": _totals(answer),
        "daily_charge": None if charge is None else MONEY(charge),
        "tiers_cost": MONEY(price.total.tier_cost) if price else None,
        "boil_begins": at(answer, onsets[0].start_s) if onsets else None,
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
