"""A logged day beside its plan: where time and energy went, what that cost, the likeliest causes, what to do next."""

from collections.abc import Iterator, Mapping

from energyplan.base.kinds import (
    CELSIUS,
    COUNT,
    FRACTION,
    KWH,
    LITRES,
    MINUTES,
    MONEY,
    NUMBER,
    PHASE,
    SHARE,
    WATTS,
    WORD,
    WRITTEN,
    Kind,
    Value,
)
from energyplan.base.sentence import Sayable, Sentence, listed
from energyplan.learning.explain import CauseKey, Explanation
from energyplan.learning.measured import DayComparison, PhaseComparison
from energyplan.tariffs.costs import DayCost
from energyplan.telling.learning import remark_said
from energyplan.telling.prices import month_use_sentence
from energyplan.telling.told import Column, Facts, Table, Told

__all__ = ["band_tables", "cost_facts", "cost_sentences", "log_told"]

_NOT_TOLD = "the readings are too few to tell where it begins and ends"


def log_told(found: DayComparison, cost: DayCost | None = None, tariff: str = "") -> Told:
    """A measured day beside its plan: what it took and cost, phase by phase, and what explains the difference."""
    notes = tuple(remark_said(note) for note in found.notes)
    verdict = tuple(_verdict(found))
    return Told(
        key="measured",
        title="Measured beside planned",
        headline=_headline(found),
        facts={
            "totals": {
                "planned_kwh": found.planned_kwh,
                "measured_kwh": found.measured_kwh,
                "longer_kwh": found.longer_kwh,
                "meter_kwh": found.meter_kwh,
                "within_meter_error": found.within_meter_error,
            },
            **cost_facts(cost),
            "interval_min": found.interval_min,
            "misfit": found.misfit,
            "verdict": Sentence(" ".join(f"{{part_{place}}}" for place in range(len(verdict))),
                                **{f"part_{place}": one for place, one in enumerate(verdict)}),
            "notes": notes,
        },
        sentences=(
            *cost_sentences(cost, tariff), *verdict, *_longer(found), *_added_up(found), *_next_time(found),
        ),
        tables=(_phase_table(found), *band_tables(cost), _cause_table(found.explanations)),
        cautions=notes,
    )  # fmt: skip


def cost_sentences(cost: DayCost | None, tariff: str) -> Iterator[Sentence]:
    """What the measured energy costs; nothing without a tariff."""
    if cost is None:
        return
    yield Sentence(
        "All {energy} on the meter cost {money} under “{tariff}”.",
        energy=KWH(cost.energy_kwh),
        money=MONEY(cost.total),
        tariff=WRITTEN(tariff),
    )
    if (ends := cost.tier_ends()) is not None:
        yield month_use_sentence((ends[0].total, ends[1].total))


def band_tables(cost: DayCost | None) -> Iterator[Table]:
    """Measured energy and its cost by band, where there is more than one."""
    if cost is not None and len(cost.bands) > 1:
        yield _bands(cost)


def _bands(cost: DayCost) -> Table:
    """Each band; tiers are a row of their own."""
    rows: list[tuple[object, ...]] = [(band.name, band.energy_kwh, band.cost) for band in cost.bands]
    if cost.tier_cost.units:
        rows.append((WRITTEN("tiers"), None, cost.tier_cost))
    return Table(
        "bands",
        "What was measured, by price",
        (Column("name", "Band", WRITTEN), Column("energy_kwh", "Measured", KWH), Column("cost", "Cost", MONEY)),
        tuple(rows),
        ("All", cost.energy_kwh, cost.total),
    )


def cost_facts(cost: DayCost | None) -> Facts:
    """Money of what was measured, for machines."""
    if cost is None:
        return {"cost": None, "currency": None}
    return {
        "cost": MONEY(cost.total),
        "currency": cost.line.currency,
        "metered_kwh": KWH(cost.energy_kwh),
        "bands": _bands(cost),
    }


def _headline(found: DayComparison) -> Sentence:
    lasted = _more_min(found.longer_min)
    if found.measured_kwh is None:
        return Sentence("This day beside its plan was {lasted}; the log has no meter.", lasted=lasted)
    where = "within" if found.within_meter_error else "outside"
    return Sentence(
        "The day took {measured}, {more} against the plan ({where} the meter's error of {meter}), and was {lasted}.",
        measured=KWH(found.measured_kwh),
        more=KWH(found.measured_kwh - found.planned_kwh, signed=True),
        where=WORD(where),
        meter=KWH(found.meter_kwh),
        lasted=lasted,
    )


def _more_min(more_min: float) -> Sentence:
    if abs(more_min) < 0.5:
        return Sentence("as long as planned")
    return Sentence("{more} longer" if more_min > 0 else "{more} shorter", more=MINUTES(abs(more_min)))


def _longer(found: DayComparison) -> Iterator[Sentence]:
    if abs(found.longer_kwh) >= SHOWN_KWH:
        how = "longer" if found.longer_kwh > 0 else "shorter"
        yield Sentence(
            "Rests, holds and boils were {how} than planned; that alone is {more}.",
            how=WORD(how),
            more=KWH(found.longer_kwh, signed=True),
        )


def _phase_table(found: DayComparison) -> Table:
    def row(one: PhaseComparison) -> tuple[object, ...]:
        mark: str | Sentence | None
        more = None if one.measured_kwh is None else one.measured_kwh - one.planned_kwh
        mark = "not told" if one.measured_min is None else "~" if one.guessed else None
        if mark is None and one.within_min:
            mark = Sentence("±{within}", within=COUNT(one.within_min))
        return (
            one.step, one.phase, one.measured_min, mark, one.planned_min, one.measured_kwh, one.planned_kwh, more,
            one.measured_to_c, one.planned_to_c, one.measured_lowest_c, one.planned_lowest_c, one.guessed,
            None if one.measured_min is not None else _NOT_TOLD,
        )  # fmt: skip

    return Table(
        "phases",
        "Each phase as measured and as planned",
        (
            Column("step", "Step", WRITTEN), Column("phase", "Phase", PHASE, ""),
            Column("measured_min", "Measured", MINUTES, "min"), Column("mark", "Its end", WORD, ""),
            Column("planned_min", "Planned", MINUTES, "plan"),
            Column("measured_kwh", "Measured", KWH, "kWh"), Column("planned_kwh", "Planned", KWH, "plan"),
            Column("more_kwh", "More", KWH, detail=1, signed=True),
            Column("measured_to_c", "End", CELSIUS, ""), Column("planned_to_c", "End, planned", CELSIUS, "plan"),
            Column("measured_lowest_c", "Lowest", CELSIUS, detail=2),
            Column("planned_lowest_c", "Lowest, planned", CELSIUS, detail=2),
            Column("guessed", "Guessed", WORD, detail=2), Column("why", "Why not", WORD, detail=2),
        ),
        tuple(row(one) for one in found.phases),
    )  # fmt: skip


def _verdict(found: DayComparison) -> Iterator[Sentence]:
    """What explains the difference, in one or two sentences."""
    if found.likely.agrees:
        yield Sentence(
            "Plan and log agree within the errors of meter, clock and thermometer: there is nothing to explain."
        )
        return
    if not found.likely.causes:
        yield Sentence(
            "No single input explains the difference: several are off, or something happened that the plan doesn't "
            "have. A cool-down and a heat-up with a meter would tell them apart."
        )
        return
    best, *rivals = found.likely.causes
    yield Sentence("{cause} explains {share} of the difference.", cause=_cause(best), share=SHARE(best.share))
    if rivals:
        yield Sentence(
            "Nearly as well does: {rivals}. This log can't tell them apart; {test} would.",
            rivals=listed((_cause(one) for one in rivals), "or"),
            test=WORD(_test_for(found.likely.causes)),
        )


def _cause(one: Explanation) -> Sentence:
    _, kind, template = _CAUSES[one.key]
    given: dict[str, Value] = {"value": kind(one.value)}
    if "{planned}" in template:
        given["planned"] = kind(one.planned)
    return Sentence(f"{template} or beyond" if one.at_limit else template, **given)


def _test_for(causes: tuple[Explanation, ...]) -> str:
    keys = {one.key for one in causes}
    if keys & {"power", "water"}:
        return "a heat-up of a measured volume with a meter beside it"
    if keys & {"loss", "air"}:
        return "a cool-down with a thermometer in the air beside the vessel"
    return "a second log with the room's and the water's temperature noted"


def _next_time(found: DayComparison) -> Iterator[Sentence]:
    if found.likely.causes:
        yield Sentence(_NEXT_TIME[found.likely.causes[0].key])


def _added_up(found: DayComparison) -> Iterator[Sentence]:
    """The difference in parts that add up to it: length, cause, and what is left."""
    if found.measured_kwh is None or not found.likely.causes:
        return
    shown = (found.measured_kwh - found.planned_kwh, found.longer_kwh, found.likely.causes[0].more_kwh)
    more, longer, cause = (round(kwh, KWH.metric.digits) for kwh in shown)
    yield Sentence(
        "Of the {more}, {longer} go with longer or shorter rests, {cause} with this cause, {rest} with neither.",
        more=KWH(more, signed=True),
        longer=KWH(longer, signed=True),
        cause=KWH(cause, signed=True),
        rest=KWH(more - longer - cause, signed=True),
    )


def _cause_table(explanations: tuple[Explanation, ...]) -> Table:
    def row(one: Explanation) -> tuple[object, ...]:
        name, kind, _ = _CAUSES[one.key]
        fits: Sayable = kind(one.value)
        return (
            one.key, name, kind(one.planned), Sentence("{fits} or beyond", fits=fits) if one.at_limit else fits,
            one.value, one.at_limit, one.share, one.more_kwh,
        )  # fmt: skip

    return Table(
        "explanations",
        "Each input changed alone until plan and log fit best",
        (
            Column("key", "Key", WORD, detail=2), Column("name", "One input changed alone", WORD),
            Column("planned", "Planned", NUMBER), Column("fits_best", "Fits best", NUMBER),
            Column("value", "Value", FRACTION, detail=2), Column("at_limit", "At limit", WORD, detail=2),
            Column("share", "Explains", SHARE), Column("more_kwh", "Energy", KWH, signed=True),
        ),
        tuple(row(one) for one in explanations),
    )  # fmt: skip


SHOWN_KWH = 0.005  # what is told as 0.01 kWh


# A brewed day beside its plan ---------------------------------------------------------------------------------
_CAUSES: Mapping[CauseKey, tuple[str, Kind, str]] = {
    "loss": ("Heat loss, times the planned", NUMBER, "A heat loss of {value} times the planned one"),
    "power": ("Element power", WATTS, "Element power of {value} instead of {planned}"),
    "air": ("Air", CELSIUS, "Air of {value} instead of {planned}"),
    "start": ("Water at the start", CELSIUS, "Water of {value} at the start instead of {planned}"),
    "water": ("Volume of water", LITRES, "{value} of water instead of {planned}"),
    "other": ("Other appliances on the meter", WATTS, "Another {value} on the same meter"),
}


_NEXT_TIME: Mapping[CauseKey, str] = {
    "loss": "Next time: take the measured heat loss over, and look at the lid: a gap doubles what is lost.",
    "power": "Next time: take the measured element power over; the plate tells it at another voltage.",
    "air": "Next time: note the temperature of the air beside the vessel, and enter it.",
    "start": "Next time: measure the water before it is heated, and enter its temperature.",
    "water": "Next time: measure the water with a marked stick, and enter the volume.",
    "other": "Next time: put the meter on the vessel alone, or note what else hangs on it.",
}
