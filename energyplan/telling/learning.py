"""What a log tells of a vessel, and a brewed day beside its plan, in words and rows."""

from collections.abc import Iterator, Mapping

import numpy as np

from energyplan.advice.draws import ESTIMATE_HIGH_FRAC
from energyplan.base.kinds import (
    CELSIUS,
    COUNT,
    FRACTION,
    KILOJOULES_PER_KELVIN,
    KWH,
    LITRES,
    MINUTES,
    NUMBER,
    PHASE,
    SHARE,
    WATTS,
    WATTS_PER_KELVIN,
    WORD,
    WRITTEN,
    Kind,
    Value,
)
from energyplan.base.sentence import Sayable, Sentence, Span, listed
from energyplan.day.body import heat_loss_w_per_k
from energyplan.learning.explain import CauseKey, Explanation
from energyplan.learning.measured import DayComparison, PhaseComparison
from energyplan.learning.result import Calibration, DryLoss, Measured, Stretch
from energyplan.plan.model import Plan
from energyplan.tariffs.costs import DayCost
from energyplan.telling.brewed import band_tables, cost_facts, cost_sentences
from energyplan.telling.remarks import remark_said
from energyplan.telling.told import Column, Table, Told

__all__ = ["calibration_told", "dry_loss_told", "estimate_headline", "fit_table", "log_told"]

MOST_FIT_POINTS = 250
SHOWN_KWH = 0.005  # what is told as 0.01 kWh

_TESTS = {
    "cool-down": Sentence(
        "Cool-down: water near {from_c}, elements off, lid on, pump on, 60 to 90 min.", from_c=CELSIUS(75.0)
    ),
    "heat-up": Sentence(
        "Heat-up: a measured volume of cold water, full power, lid on, a plug-in meter beside it, to about {to_c}.",
        to_c=CELSIUS(80.0),
    ),
    "plain heat-up": Sentence(
        "Heat-up: a measured volume of cold water, full power without a break, lid on, to about {to_c}.",
        to_c=CELSIUS(80.0),
    ),
}


# A calibration ------------------------------------------------------------------------------------------------


def calibration_told(found: Calibration) -> Told:
    """What a log tells about the vessel: values with intervals, why others can't be told, residuals, next tests."""
    notes = tuple(remark_said(note) for note in found.notes)
    tests = tuple(_TESTS[test] for test in found.next_tests)
    values = _values(found)
    return Told(
        key="calibration",
        title="What the log tells",
        headline=_measured_headline(found),
        facts={
            **{key: _value_facts(kind, value) for key, _, kind, value in values},
            "interval_min": found.interval_min,
            "rmse_k": found.rmse_k,
            "reference_c": found.reference_c,
            "scale": found.scale,
            "notes": notes,
            "next_tests": tests,
        },
        sentences=(*_unknown(values), *(Sentence("Next: {test}", test=test) for test in tests)),
        tables=(_value_table(values), _stretches(found.stretches)),
        cautions=notes,
    )


def dry_loss_told(found: DryLoss) -> Told:
    """What a boil-off by volume tells: the loss at the boil that is no steam, beside the plan's."""
    values = (
        ("dry_loss_w", "Loss at the boil without steam", WATTS, found.dry_loss_w),
        ("heat_loss_w_per_k", "Heat loss, lid on", WATTS_PER_KELVIN, found.heat_loss_w_per_k),
    )
    measured, headline = found.dry_loss_w, Sentence("This boil-off does not tell what is lost beside the steam.")
    if measured.value is not None:
        headline = Sentence(
            "Measured: {loss} leave at the boil without steam ({likely}); the plan counts {planned}.",
            loss=WATTS(measured.value),
            likely=Span(WATTS, measured.low, measured.high),
            planned=WATTS(found.planned_w),
        )
    power = "by the meter" if found.metered else "by the elements' plates"
    went = Sentence(
        f"Of {{heat}} into the vessel ({power}) {{steam}} left as steam.",
        heat=WATTS(found.heat_w),
        steam=WATTS(found.steam_w),
    )
    return Told(
        key="boil_off",
        title="What the boil-off tells",
        headline=headline,
        facts={
            **{key: _value_facts(kind, value) for key, _, kind, value in values},
            "planned_w": WATTS(found.planned_w), "heat_w": WATTS(found.heat_w), "steam_w": WATTS(found.steam_w),
            "filled_l": LITRES(found.filled_l), "metered": found.metered,
        },
        sentences=(went, *_unknown(values)),
        tables=(_value_table(values),),
    )  # fmt: skip


def estimate_headline(plan: Plan | None) -> Sentence:
    """The heat loss without a log: entered, or estimated from the size."""
    if plan is not None and plan.vessel.heat_loss_w_per_k is not None:
        loss = WATTS_PER_KELVIN(plan.vessel.heat_loss_w_per_k)
        return Sentence("The plan has a measured heat loss of {loss}.", loss=loss)
    if plan is None:
        off = SHARE(ESTIMATE_HIGH_FRAC)
        return Sentence(
            "The heat loss is estimated, give or take {off}. One cool-down with a thermometer measures it.", off=off
        )
    estimate = heat_loss_w_per_k(plan)
    low, high = estimate * (1 - ESTIMATE_HIGH_FRAC), estimate * (1 + ESTIMATE_HIGH_FRAC)
    return Sentence(
        "Estimated: {loss} with the lid on ({likely}). One cool-down measures it.",
        loss=WATTS_PER_KELVIN(estimate),
        likely=Span(WATTS_PER_KELVIN, low, high),
    )


def _measured_headline(found: Calibration) -> Sentence:
    """The measured heat loss, or that there is none."""
    loss = found.heat_loss_w_per_k
    if loss.value is None:
        return Sentence("This log does not tell the heat loss.")
    likely = Span(WATTS_PER_KELVIN, loss.low, loss.high)
    return Sentence("Measured: {loss} with the lid on ({likely}).", loss=WATTS_PER_KELVIN(loss.value), likely=likely)


def _values(found: Calibration) -> tuple[tuple[str, str, Kind, Measured], ...]:
    return (
        ("heat_loss_w_per_k", "Heat loss, lid on", WATTS_PER_KELVIN, found.heat_loss_w_per_k),
        ("stored_heat_j_per_k", "Stored heat, all", KILOJOULES_PER_KELVIN, found.stored_heat_j_per_k),
        ("vessel_heat_j_per_k", "Stored heat, vessel", KILOJOULES_PER_KELVIN, found.vessel_heat_j_per_k),
        ("element_power_w", "Element power", WATTS, found.element_power_w),
        ("open_surface_factor", "Open surface, times the model", NUMBER, found.open_surface_factor),
    )


def _value_facts(kind: Kind, value: Measured) -> dict[str, object]:
    if value.value is None:
        return {"value": None, "low": None, "high": None, "why": None if value.why is None else remark_said(value.why)}
    return {"value": kind(value.value), "low": kind(value.low), "high": kind(value.high), "why": None}


def _value_table(values: tuple[tuple[str, str, Kind, Measured], ...]) -> Table:
    unknown = WORD("can't be told")
    return Table(
        "values",
        "The vessel's own numbers, with 95 % intervals",
        (Column("number", "", WORD), Column("value", "Value", NUMBER), Column("low", "95 % from", NUMBER),
         Column("high", "to", NUMBER)),
        tuple(
            (name, unknown, None, None)
            if value.value is None
            else (name, kind(value.value), kind(value.low), kind(value.high))
            for _, name, kind, value in values
        ),
    )  # fmt: skip


def _unknown(values: tuple[tuple[str, str, Kind, Measured], ...]) -> Iterator[Sentence]:
    """Reasons, each once; the open surface is only asked for by who marked it."""
    seen = set()
    for key, name, _, value in values:
        if value.why is None or value.why in seen or key == "open_surface_factor":
            continue
        seen.add(value.why)
        yield Sentence("{name}: {why}.", name=WORD(name), why=remark_said(value.why))


def _stretches(stretches: tuple[Stretch, ...]) -> Table:
    return Table(
        "stretches",
        "Stretches that were fitted",
        (Column("kind", "What", WORD), Column("contents", "Contents", WORD), Column("lid", "Lid", WORD),
         Column("from_min", "From", MINUTES), Column("to_min", "To", MINUTES),
         Column("from_c", "From", CELSIUS), Column("to_c", "To", CELSIUS)),
        tuple(
            (one.kind, one.stage, one.lid, one.start_s / 60, one.end_s / 60, one.from_c, one.to_c)
            for one in stretches
        ),
    )  # fmt: skip


def fit_table(found: Calibration) -> Table:
    """Measured and fitted temperature over the minutes of a log, at most 250 rows."""
    fit = found.residuals
    count = fit.times_s.shape[0]
    chosen = np.unique(np.linspace(0, max(count - 1, 0), min(count, MOST_FIT_POINTS)).astype(int))
    return Table(
        "fit",
        "Readings and the fit",
        (Column("time_min", "Minute", MINUTES), Column("measured_c", "Measured", CELSIUS),
         Column("fitted_c", "Fitted", CELSIUS), Column("stretch", "Stretch", COUNT)),
        tuple(
            (float(fit.times_s[at]) / 60, float(fit.measured_c[at]), float(fit.fitted_c[at]), int(fit.stretch[at]))
            for at in chosen
        )
        if count
        else (),
    )  # fmt: skip


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
