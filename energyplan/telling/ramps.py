"""Powers of ramps and of the boil told, and the curve of one hold: how far the mash falls under each cap."""

from collections.abc import Iterator
from datetime import datetime, tzinfo

from energyplan.advice.boil import FULL_FRAC, BoilAdvice, BoilOutcome, LeastBoil
from energyplan.advice.holds import SagCurve
from energyplan.advice.power import PowerRow
from energyplan.advice.ramps import RampAdvice, RampRow, WayOut
from energyplan.base.kinds import (
    CELSIUS,
    CENTIMETRES,
    GRAVITY,
    KELVIN,
    KWH,
    LITRES,
    LITRES_PER_HOUR,
    MINUTES,
    MOMENT,
    SHARE,
    WATTS,
    WORD,
    WRITTEN,
    Moment,
)
from energyplan.base.sentence import NOTHING, SAYABLE, Sentence, Span, listed
from energyplan.telling.findings import FindingTeller, finding_name
from energyplan.telling.power import wish
from energyplan.telling.told import Column, Table, Told

__all__ = ["boil_told", "ramps_told", "sag_description", "sag_told", "tried_sentence", "way_told"]

SHOWN_L = 0.05


PULSED = Sentence(
    "A cap on these pulsed elements does not lower what they draw while they are on, so no cap mends it; the ways out "
    "are fewer elements at a time, or nothing else on at that time."
)


def ramps_told(found: RampAdvice, zone: tzinfo) -> Told:
    """The fastest ramps that keep every rating at their time of day."""
    columns = (
        Column("step", "Ramp", WRITTEN),
        Column("start", "From", MOMENT),
        Column("set_w", "Set", WATTS, short="set W"),
        Column("fastest_w", "Fastest", WATTS, short="fastest W"),
        Column("taken_w", "Taken", WATTS, short="taken W"),
        Column("taken_min", "Takes", MINUTES, short="min"),
        Column("less_w", "A step less", WATTS, short="less W"),
        Column("less_min", "Takes then", MINUTES, short="min"),
        Column("set_min", "As set", MINUTES, detail=2),
        Column("limited_by", "Limited by", WORD, detail=1),
    )
    start = found.start.astimezone(zone)
    rows = tuple(_ramp_row(row, start, zone) for row in found.rows)
    return Told(
        key="ramps",
        title="Ramps on this circuit",
        sentences=(
            Sentence(
                "Against the powers set: {minutes} longer, {energy}.",
                minutes=MINUTES(found.added_min),
                energy=KWH(found.added_kwh, signed=True),
            ),
            *(way_told(way) for way in found.ways_out),
        ),
        tables=(Table("ramps", "Ramps", columns, rows),),
        findings=FindingTeller(found.start, zone).all(found.over_after),
        cautions=tuple(_ramp_notes(found)),
    )


def _ramp_row(row: RampRow, start: datetime, zone: tzinfo) -> tuple[object, ...]:
    moment = datetime.fromtimestamp(start.timestamp() + row.start_s, tz=zone)
    less = row.less_w > 0
    stalls = WORD("stalls") if less and row.less_min is None else row.less_min if less else None
    return (
        row.step,
        Moment(moment, start.date()),
        row.set_w,
        WORD("none") if row.fastest_w is None else row.fastest_w,
        row.taken_w,
        row.taken_min,
        row.less_w if less else None,
        stalls,
        row.set_min,
        ", ".join(finding_name(code) for code in row.limited_by),
    )


def way_told(way: WayOut) -> Sentence:
    """Something else that keeps the ratings, what it costs for the same wort, and what stays over."""
    still = ", ".join(finding_name(code) for code in way.over)
    after = (
        Sentence("still over: {codes}.", codes=WORD(still))
        if still
        else Sentence("then within the ratings you entered.")
    )
    return Sentence(
        "Way out: {what} {minutes} longer, {energy}{wort}; {after}",
        what=_what(way),
        minutes=MINUTES(way.added_min),
        energy=KWH(way.added_kwh, signed=True),
        wort=_same_wort(way),
        after=after,
    )


def _same_wort(way: WayOut) -> Sentence:
    if abs(way.added_water_l) < SHOWN_L:
        return NOTHING
    more = WORD("more" if way.added_water_l > 0 else "less")
    return Sentence(
        " with {water} {more} water, which ends with the same wort", water=LITRES(abs(way.added_water_l)), more=more
    )


def _what(way: WayOut) -> Sentence:
    parts = []
    if way.elements_w:
        parts.append(
            Sentence(
                "use only the elements of {elements}, the others unplugged or switched off, for the whole day;",
                elements=listed([WATTS(power_w) for power_w in way.elements_w]),
            )
        )
    if way.held_steps:
        parts.append(
            Sentence(
                "hold {steps} with the advised power, which needs fewer elements;",
                steps=listed([WRITTEN(step) for step in way.held_steps]),
            )
        )
    if way.shift_min:
        parts.append(
            Sentence(
                "heat the sparge water {shift} earlier and keep it covered and insulated (its loss is not counted);",
                shift=MINUTES(way.shift_min),
            )
        )
    return Sentence("{parts}", parts=listed(parts))


def _ramp_notes(found: RampAdvice) -> Iterator[Sentence]:
    if found.pulsed:
        yield PULSED
    if found.idle_over:
        codes = ", ".join(finding_name(code) for code in found.idle_over)
        yield Sentence(
            "Over with nothing of this day switched on, so that no power mends it: {codes}.", codes=WORD(codes)
        )


def boil_told(found: BoilAdvice) -> Told:
    """Powers of one boil, and what follows from the one advised."""
    power = found.power
    outcomes = [("as set", found.as_set), ("as advised", found.as_advised)]
    if found.restored is not None:
        outcomes.append(("end volume kept", found.restored))
    return Told(
        key="boil",
        title="Boil",
        headline=Sentence(
            "{step}: the lowest power that boils is {least}, {range} on eight days of ten; advised are {advised}.",
            step=WRITTEN(power.step),
            least=WATTS(power.least_w),
            range=Span(WATTS, *power.least_range_w),
            advised=WATTS(power.advised_w),
        ),
        facts={
            "step": WRITTEN(power.step),
            "least_w": WATTS(power.least_w),
            "least_range_w": tuple(WATTS(end) for end in power.least_range_w),
            "worst_least_w": WATTS(power.worst_least_w),
            "wanted_w": WATTS(power.wanted_w),
            "watched_w": WATTS(power.watched_w),
            "advised_w": WATTS(power.advised_w),
            "dry_w": WATTS(power.dry_w),
            "saved_kwh": KWH(found.saved_kwh),
            "saved_l": LITRES(found.saved_l),
            "fill_frac": SHARE(found.fill_frac),
        },
        sentences=tuple(_boil_sentences(found)),
        tables=(_lids(found.lids), _outcomes(outcomes)),
        cautions=(Sentence("Volumes cold, at {cold}; energy of the whole day.", cold=CELSIUS(20.0)),),
    )


def _boil_sentences(found: BoilAdvice) -> Iterator[Sentence]:
    power = found.power
    yield Sentence(
        "{wish} would take {wanted}, a rolling boil {rolling}. For the same volume at the end {advised} save {saved} "
        "and {water} of water against the power set.",
        wish=wish(found.evaporation),
        wanted=WATTS(power.wanted_w),
        rolling=WATTS(power.rolling_w),
        advised=WATTS(power.advised_w),
        saved=KWH(found.saved_kwh),
        water=LITRES(found.saved_l),
    )
    if not power.boils:
        yield Sentence(
            "With the lid {lid} it can't boil: that takes {least}, the elements give {most}. Close the lid further, or "
            "shield the vessel.",
            lid=WORD(power.lid),
            least=WATTS(power.least_w),
            most=WATTS(power.most_w),
        )
    elif power.wanted_w < power.rolling_w:
        yield Sentence(
            "The wanted evaporation needs less than a boil does; about {least} is the least of a rolling one with the "
            "lid {lid}.",
            least=LITRES_PER_HOUR(found.least_of_a_rolling_boil_l_per_h),
            lid=WORD(power.lid),
        )
    yield Sentence(
        "{full} full as it comes to the boil, {left} below the rim.",
        full=SHARE(found.fill_frac),
        left=CENTIMETRES(found.headspace_m),
    )
    if found.fill_frac > FULL_FRAC:
        yield Sentence(
            "Above {limit} it boils over easily (common practice): watch the foam, or start with less.",
            limit=SHARE(FULL_FRAC),
        )
    if found.not_restored is not None:
        why = found.not_restored
        yield Sentence(
            "The end volume can't be restored: {why}", why=why if isinstance(why, SAYABLE) else WORD(str(why))
        )


def _lids(lids: tuple[LeastBoil, ...]) -> Table:
    columns = (
        Column("lid", "Lowest power that boils: lid", WORD),
        Column("least_w", "As planned", WATTS),
        Column("worst_least_w", "Worst case", WATTS),
        Column("boils", "", WORD),
    )
    rows = tuple((lid.lid, lid.least_w, lid.worst_least_w, WORD(_enough_elements(lid))) for lid in lids)
    return Table("lids", "Lowest power that boils", columns, rows)


def _enough_elements(lid: LeastBoil) -> str:
    if lid.boils_at_worst:
        return ""
    return "too much in the worst case" if lid.boils else "too much"


def _outcomes(outcomes: list[tuple[str, BoilOutcome]]) -> Table:
    columns = (
        Column("which", "", WORD),
        Column("power_w", "Power", WATTS, short="W"),
        Column("boils", "", WORD),
        Column("evaporated_l", "Steam", LITRES),
        Column("evaporated_l_per_h", "An hour", LITRES_PER_HOUR),
        Column("end_l", "End", LITRES),
        Column("gravity_end", "Gravity", GRAVITY),
        Column("water_l", "Water", LITRES),
        Column("day_kwh", "Day", KWH),
    )
    rows = tuple(
        (
            name,
            one.power_w,
            WORD("" if one.boils else "stops"),
            one.evaporated_l,
            one.evaporated_l_per_h,
            one.end_l,
            one.gravity_end,
            one.water_l,
            one.day_kwh,
        )
        for name, one in outcomes
    )
    return Table("outcomes", "What comes of it", columns, rows)


SAG_ROWS = 12
SHOWN_MIN = 0.5  # less than what is told as a minute


def sag_told(curve: SagCurve, *, every: int | None = None) -> Told:
    """Lowest temperature of a hold against its cap."""
    columns = (
        Column("cap_w", "Cap", WATTS),
        Column("lowest_c", "Lowest", CELSIUS),
        Column("outside_band_min", "Outside the band", MINUTES),
    )
    rows = tuple(
        (float(cap_w), float(lowest_c), float(outside_min))
        for cap_w, lowest_c, outside_min in zip(curve.caps_w, curve.lowest_c, curve.outside_band_min, strict=True)
    )
    step = every or max(len(rows) // SAG_ROWS, 1)
    return Told(
        key="sag",
        title="How low it sags",
        headline=_knee(curve),
        facts={
            "step": WRITTEN(curve.step),
            "phase": WORD(curve.phase),
            "target_c": CELSIUS(curve.target_c),
            "band_k": KELVIN(curve.band_k),
            "hold_min": MINUTES(curve.hold_min),
            "knee_w": None if curve.knee_w is None else WATTS(curve.knee_w),
            "band_w": None if curve.band_w is None else WATTS(curve.band_w),
        },
        tables=(Table("caps", "Caps", columns, rows[::step]),),
    )


def tried_sentence(curve: SagCurve, cap_w: float) -> Sentence:
    """How far the step sags with one of the curve's caps, and for how long."""
    place = list(curve.caps_w).index(cap_w)
    cap, lowest = WATTS(cap_w), CELSIUS(float(curve.lowest_c[place]))
    outside_min = float(curve.outside_band_min[place])
    if outside_min < SHOWN_MIN:
        return Sentence(
            "With {cap} it stays in the band, at {lowest} or more, in the worst plausible case.", cap=cap, lowest=lowest
        )
    return Sentence(
        "With {cap} it falls to {lowest} in the worst plausible case, and is outside the band for {outside} of {all}.",
        cap=cap,
        lowest=lowest,
        outside=MINUTES(outside_min),
        all=MINUTES(curve.hold_min),
    )


def sag_description(row: PowerRow) -> Sentence:
    """What the curve of a step shows, for those who hear it."""
    return Sentence(
        "Lowest temperature of {step} against the cap on its power, in the worst plausible case. Advised are "
        "{advised}, which keep {lowest}.",
        step=WRITTEN(row.step),
        advised=WATTS(row.advised_w),
        lowest=CELSIUS(row.advised_lowest_c),
    )


def _knee(curve: SagCurve) -> Sentence:
    if curve.knee_w is None:
        return Sentence(
            "{step}: no cap keeps {target} in the worst plausible case: all elements together give too little.",
            step=WRITTEN(curve.step),
            target=CELSIUS(curve.target_c),
        )
    return Sentence(
        "{step}: from {knee} on it keeps {target} in the worst plausible case; from {band} on it stays within {width} "
        "for its {time}.",
        step=WRITTEN(curve.step),
        knee=WATTS(curve.knee_w),
        target=CELSIUS(curve.target_c),
        band=WATTS(curve.band_w or curve.knee_w),
        width=KELVIN(curve.band_k),
        time=MINUTES(curve.hold_min),
    )
