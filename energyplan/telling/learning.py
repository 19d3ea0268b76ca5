"""What a log tells of a vessel, and a brewed day beside its plan, in words and rows."""

from collections.abc import Iterator

import numpy as np

from energyplan.advice.draws import ESTIMATE_HIGH_FRAC
from energyplan.base.kinds import (
    CELSIUS,
    COUNT,
    KILOJOULES_PER_KELVIN,
    LITRES,
    MINUTES,
    NUMBER,
    SHARE,
    WATTS,
    WATTS_PER_KELVIN,
    WORD,
    Kind,
)
from energyplan.base.sentence import Sentence, Span
from energyplan.day.body import heat_loss_w_per_k
from energyplan.learning.result import Calibration, DryLoss, Measured, Stretch
from energyplan.plan.model import Plan
from energyplan.telling.remarks import remark_said
from energyplan.telling.told import Column, Table, Told

__all__ = ["calibration_told", "dry_loss_told", "estimate_headline", "fit_table"]

MOST_FIT_POINTS = 250

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
