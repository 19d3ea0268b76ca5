"""The curve of one hold told: how far the mash falls under each cap, and from which on it keeps."""

from energyplan.advice.holds import SagCurve
from energyplan.advice.power import PowerRow
from energyplan.base.kinds import (
    CELSIUS,
    KELVIN,
    MINUTES,
    WATTS,
    WORD,
    WRITTEN,
)
from energyplan.base.sentence import Sentence
from energyplan.telling.told import Column, Table, Told

__all__ = ["sag_description", "sag_told", "tried_sentence"]

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
