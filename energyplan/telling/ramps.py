"""Ramps told: the fastest that keep every rating at their time of day, and what else would."""

from collections.abc import Iterator
from datetime import datetime, tzinfo

from energyplan.advice.ramps import RampAdvice, RampRow, WayOut
from energyplan.base.kinds import KWH, LITRES, MINUTES, MOMENT, WATTS, WORD, WRITTEN, Moment
from energyplan.base.sentence import Sentence, listed
from energyplan.telling.findings import FindingTeller, finding_name
from energyplan.telling.told import Column, Table, Told

__all__ = ["ramps_told", "way_told"]

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
        return Sentence("")
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
