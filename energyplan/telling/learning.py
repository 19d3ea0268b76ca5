"""What a log tells of a vessel, and a brewed day beside its plan, in words and rows; why a log can't tell something."""

from collections.abc import Iterator, Mapping

import numpy as np

from energyplan.advice.draws import ESTIMATE_HIGH_FRAC
from energyplan.base.kinds import (
    CELSIUS,
    COUNT,
    KELVIN,
    KILOJOULES_PER_KELVIN,
    KWH,
    LITRES,
    MINUTES,
    NUMBER,
    SHARE,
    WATTS,
    WATTS_PER_KELVIN,
    WORD,
    WRITTEN,
    Kind,
)
from energyplan.base.sentence import NOTHING, Sayable, Sentence, Span, listed
from energyplan.day.kettle import heat_loss_w_per_k
from energyplan.learning.readings import Remark
from energyplan.learning.result import Calibration, DryLoss, Measured, Stretch
from energyplan.plan.model import Plan
from energyplan.telling.told import Column, Table, Told

__all__ = ["calibration_told", "dry_loss_told", "estimate_headline", "fit_table", "remark_said"]

_KINDS: Mapping[str, Kind] = {
    "_j_per_k": KILOJOULES_PER_KELVIN, "_w_per_k": WATTS_PER_KELVIN, "_c": CELSIUS, "_k": KELVIN, "_l": LITRES,
    "_min": MINUTES, "_w": WATTS, "_kwh": KWH, "_frac": SHARE, "factor": NUMBER, "count": COUNT, "step": WRITTEN,
}  # fmt: skip
_WORDS = {"estimated": "the estimate from its size", "measured": "the measured one in the plan"}
_REMARKS: Mapping[str, str] = {
    # the readings
    "averaged": "{count} readings share their time with another one; they are averaged.",
    "no temperature": "{count} rows without a temperature are left out.",
    "spikes": "{count} single readings that leap far off and back are left out.",
    "sorted": "The rows were not in the order of time; they are sorted.",
    "gap": "There is a gap in the log, of {longest_min}.",
    "gaps": "There are {count} gaps in the log, the longest of {longest_min}.",
    "leapt": "It does not go on as before over a gap: was the clock set, was it heated? Both sides are read apart.",
    "meter reset": "The meter began again from 0 ({count} in all); that is taken out.",
    "read every": "Read every {interval_min}: what is shorter than that, a log like this can't show.",
    # the stretches
    "lid moved": "The lid was moved; each stretch is fitted with its own state of the lid.",
    "lid open inside": (
        "From minute {from_min} to {to_min} the vessel loses {factor} times as much as in the rest of this cool-down: "
        "was the lid open? Only the part with the smaller loss is used."
    ),
    "lid open outside": (
        "Before minute {from_min} and after minute {to_min} the vessel loses {factor} times as much as between them: "
        "was the lid open? Only the part with the smaller loss is used."
    ),
    "after the mash": "What comes after the mash is left out: how much is in the vessel then isn't known.",
    "pulses unread": (
        "The elements pulse faster than their power was read, every {interval_min}: that stretch is left out, for "
        "what it took is open. A meter that counts kWh tells it."
    ),
    "something cold": "Something cold went in that the plan doesn't have; what comes after it is left out.",
    "cool-down too short": (
        "the cool-down from {from_c} to {to_c} is too short near mash temperature: {drop_k} in {lasted_min} between "
        "{low_c} and {high_c}, where at least {least_k} and {least_min} are due (hotter, vapour escapes)"
    ),
    "metered too short": "the metered stretch is too short: {lasted_min}",
    "heat-up too short": "the heat-up is too short: {rise_k} in {lasted_min}",
    "nothing found": (
        "between {low_c} and {high_c} over {lasted_min} nothing cools by itself, heats at full power or is metered for "
        "long enough to tell heat loss, stored heat and power apart; are the times in minutes?"
    ),
    "nothing fitted": "nothing could be fitted",
    # the values
    "lid was off": (
        "the lid was off: most of the heat left with the vapour, so the loss with the lid on can't be told from it; a "
        "cool-down with the lid on would"
    ),
    "cooled open": (
        "this looks like a cool-down with the lid off: the loss is far above the estimate and falls with the "
        "temperature as that of an open surface does; taken as heat loss it would be 2 to 4 times too large. Repeat it "
        "with the lid on, from mash-out temperature"
    ),
    "loss scatters": (
        "the scatter of the readings leaves the heat loss open by ±{half_frac}; a longer cool-down would tell"
    ),
    "loss beside stored heat": (
        "a heat-up bends with the heat loss as it does with the stored heat, and this log can't tell the two apart; a "
        "cool-down of 60 to 90 min with the lid on would"
    ),
    "loss beside power": (
        "a heat-up bends with the heat loss as it does with the element power, and this log can't tell the two apart; "
        "a cool-down of 60 to 90 min with the lid on would"
    ),
    "stored unclear": (
        "temperatures alone tell heat loss and power only per stored heat, so these can't be told apart; the scale is "
        "set by {water_l} of water and the vessel's mass as entered ({planned_j_per_k}). A heat-up with a plug-in "
        "meter beside it would measure it"
    ),
    "stored too short": (
        "the metered stretch heats too little to tell the stored heat from the heat loss; a heat-up from cold water "
        "with the meter beside it would"
    ),
    "vessel unclear": (
        "{stored_j_per_k} in all less {contents_j_per_k} for the contents leaves too little to tell the vessel's own "
        "share: a smaller, well measured volume of water in the heat-up would"
    ),
    "elements off": (
        "the elements were off, and a cool-down can't tell power from stored heat; a heat-up at full power would "
        "measure it"
    ),
    "never full": (
        "the elements never ran steadily at full power for some minutes, so their full power can't be told from the "
        "duty of the thermostat; a heat-up at full power would tell"
    ),
    "power unclear": (
        "the heat-up is too short to tell the element power from the heat loss (±{half_frac}); a longer one at full "
        "power, or a cool-down beside it, would"
    ),
    "weak power": (
        "the elements gave {found_w} at most where {planned_w} are planned: either a cap was set, or an element is "
        "dead; a heat-up at full power would tell the two apart"
    ),
    "weak power, some alone": (
        "the elements gave {found_w} at most where {planned_w} are planned; it is what {alone_w} alone would give: "
        "either a cap was set, or an element is dead; a heat-up at full power would tell the two apart"
    ),
    "strong power": (
        "the elements gave {found_w} where {planned_w} are planned, which is odd: likeliest an element is missing in "
        "the plan or the water is not as entered, else the meter sees more than the vessel"
    ),
    "boil-off odd, high": (
        "{dry_w} would leave without steam where the plan counts {planned_w}: likeliest not all that time was at the "
        "boil at this power, else the lid was on, or not all litres that left were counted"
    ),
    "boil-off odd, low": (
        "steam took {steam_w} of {heat_w}, which leaves base and wall less than half of what the plan counts: "
        "likeliest not all these litres left as steam or they were measured hot, else it boiled longer or stronger"
    ),
    "boil-off near odd": (
        "Base and wall take {factor} times what the plan counts, which is odd: did it boil all that time at this "
        "power? Look before you plan with it."
    ),
    "boil-off unclear": (
        "the steam took {steam_w} of {heat_w}, give or take {half_w}: nothing is left that could be told; a longer "
        "boil with a meter beside it would tell"
    ),
    "boil-off rough": (
        "{half_w} remain open where base and wall take {walls_w}: the estimate is as good. A longer boil with a meter "
        "beside it narrows it, a cool-down does more"
    ),
    "no open": "no stretch with the lid off is marked in a column lid",
    "open unclear": "the stretch with the lid off is too short to tell the open surface from the walls",
    # what to mind
    "scale by meter": "The meter sets the scale: where it reads 1 % high, all values are 1 % too high.",
    "scale by water": (
        "The water as entered ({water_l}) sets the scale: 1 % more water makes heat loss and power 1 % larger."
    ),
    "loss enough": (
        "The heat loss is meant at {reference_c} and is {factor} times {against}: known well enough to plan with."
    ),
    "loss rough": (
        "The heat loss is meant at {reference_c} and is {factor} times {against}; a longer cool-down would narrow it."
    ),
    "loss odd, high": (
        "The heat loss is {factor} times {against}, which is odd, however well it fits: was the lid on, is the jacket "
        "as entered, was there a draught, was the pump running? Look before you plan with it."
    ),
    "loss odd, low": (
        "The heat loss is {factor} times {against}, which is odd, however well it fits: is the water as entered, were "
        "the elements really off, is the thermometer in the water? Look before you plan with it."
    ),
    "air as entered": "The air is taken as {air_c}; {warmer_k} warmer makes the heat loss {more_frac} larger.",
    "open surface odd": (
        "The open surface takes {factor} times what the model expects, which is odd: was there a draught, was the lid "
        "off all that time, is the diameter as entered?"
    ),
    "stored more": (
        "The stored heat is {more_frac} more than water and vessel as entered: check volume, empty mass and meter."
    ),
    "stored less": (
        "The stored heat is {more_frac} less than water and vessel as entered: check volume, empty mass and meter."
    ),
    "taken as off": "Without a power column the elements are taken as off while it cools.",
    "pump as running": "The pump is taken as running; if it was off, the heat loss is {less_w_per_k} less.",
    # a day beside its plan
    "no meter": "The log has no meter: only minutes and temperatures are compared.",
    "meter alone": "The meter is taken to see the vessel alone; a household meter sees all else too.",
    "read seldom": (
        "Read every {interval_min}: borders are told to that, and what is shorter, or leaves no trace, is not told."
    ),
    "guessed ends": "Phases marked ~ leave no trace of where they begin or end; their length is a guess.",
    "log ends": "The log ends, or can't be followed, from “{step}” on; what comes after it isn't compared.",
}


def remark_said(remark: Remark) -> Sentence:
    """A remark of the learning in words.

    >>> print(remark_said(Remark("gap", count=1, longest_min=6.0)))
    There is a gap in the log, of 6 min.
    """
    template = _REMARKS[remark.code]
    return Sentence(template, **{name: _said(name, raw) for name, raw in remark if f"{{{name}}}" in template})


def _said(name: str, raw: object) -> Sayable:
    """A value whose name ends in its unit."""
    if isinstance(raw, tuple):
        return listed(_said(name, one) for one in raw)
    if isinstance(raw, str) and name != "step":
        return WORD(_WORDS[raw])
    if raw == np.inf:
        return WORD("many")
    if name in ("from_min", "to_min"):
        return COUNT(raw)
    return next(kind for unit, kind in _KINDS.items() if name.endswith(unit))(raw)


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
    elif measured.why is not None and measured.why.code.startswith("boil-off odd"):
        headline = Sentence("This boil-off is odd; nothing is taken from it.")
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
        cautions=tuple(remark_said(note) for note in found.notes),
    )  # fmt: skip


def estimate_headline(plan: Plan | None) -> Sentence:
    """The heat loss without a log: entered, or estimated from the size."""
    if plan is not None and plan.vessel.heat_loss_w_per_k is not None:
        loss, within = plan.vessel.heat_loss_w_per_k, plan.vessel.heat_loss_within_w_per_k
        likely = Sentence(" ({span})", span=Span(WATTS_PER_KELVIN, loss - within, loss + within)) if within else NOTHING
        said = "The plan has a measured heat loss of {loss}{likely}."
        return Sentence(said, loss=WATTS_PER_KELVIN(loss), likely=likely)
    if plan is None:
        said = "The heat loss is estimated, give or take {off}. One cool-down with a thermometer measures it."
        return Sentence(said, off=SHARE(ESTIMATE_HIGH_FRAC))
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
