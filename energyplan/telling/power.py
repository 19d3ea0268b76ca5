"""Powers told: what each hold and boil is set to, needs, and is advised; one step and its cap."""

from collections.abc import Iterator, Mapping

from energyplan.advice.boil import Evaporation
from energyplan.advice.draws import COLDER_K
from energyplan.advice.holds import HIGH_LOADING_W_PER_CM2
from energyplan.advice.power import PowerAdvice, PowerRow
from energyplan.base.kinds import (
    AMPERES,
    CELSIUS,
    KELVIN,
    KILOGRAMS,
    KWH,
    LITRES_PER_HOUR,
    MINUTES,
    ODDS,
    OR_COLDER,
    PHASE,
    SHARE,
    VOLTS,
    WATTS,
    WATTS_PER_CM2,
    WORD,
    WRITTEN,
    Value,
    counted,
)
from energyplan.base.sentence import NOTHING, SAYABLE, Sayable, Sentence, listed
from energyplan.telling.told import Column, Found, Table, Told, from_days

__all__ = ["BARS", "advised_sentence", "bars_table", "power_headline", "power_told", "steps_odds", "why_sentence"]

SHOWN_W = 0.5  # less than what is told as a watt
SHOWN_KWH = 0.005  # less is 0.00
PLAUSIBLE_K = 2 * COLDER_K  # below the plan's air: colder hardly comes [assumption]
SAVES_NOTHING = Sentence(
    "A lower cap on a hold saves next to no energy: under a thermostat the mean power equals the loss. It limits the "
    "load and, with switched elements, frees current."
)
PULSES = Sentence(
    "This vessel pulses its elements down to a cap: while they are on they draw their full current and load their "
    "surface in full, whatever the cap, so a lower one frees no current on the circuit."
)
_STEP, _PHASE = Column("step", "Step", WRITTEN), Column("phase", "Phase", PHASE, short="")
_WATTS = (
    Column("set_w", "Set", WATTS, short="set W"),
    Column("needed_w", "Needs", WATTS, short="needs"),
    Column("needed_19_of_20_w", "On 19 days of 20", WATTS, short="19 of 20"),
    Column("advised_w", "Advised", WATTS, short="advised"),
)
_POWER = (
    _STEP,
    _PHASE,
    Column("target_c", "Target", CELSIUS, short=""),
    *_WATTS,
    Column("set_holds_frac", "The power set does it on", ODDS, short="set does it"),
    Column("works_down_to_c", "Down to air of", CELSIUS, short="air"),
    Column("energy_change_kwh", "Advised instead", KWH, signed=True, short="kWh"),
    Column("advised_holds_frac", "The advised does it on", ODDS, detail=1),
    Column("set_lowest_c", "Lowest as set, worst case", CELSIUS, detail=1),
    Column("advised_lowest_c", "Lowest as advised, worst case", CELSIUS, detail=1),
    Column("current_freed_a", "Current freed", AMPERES, detail=1),
    Column("watched_w", "Watched", WATTS, detail=2),
    Column("watched_change_kwh", "Watched instead", KWH, detail=2),
    Column("evaporation_change_kg", "Steam", KILOGRAMS, detail=2),
    Column("nominal_lowest_c", "Lowest as advised, as planned", CELSIUS, detail=2),
    Column("outside_band_min", "Outside the band as advised", MINUTES, detail=2),
    Column("set_outside_band_min", "Outside the band as set", MINUTES, detail=2),
    Column("recovery_min", "Recovery", MINUTES, detail=2),
    Column("worst_recovery_min", "Recovery, worst case", MINUTES, detail=2),
    Column("loading_w_per_cm2", "Watt density", WATTS_PER_CM2, detail=2),
    Column("mean_loading_w_per_cm2", "Mean watt density", WATTS_PER_CM2, detail=2),
    Column("why", "Why", WORD, detail=2),
)


def power_told(advice: PowerAdvice) -> Told:
    """The powers of a day: the answer, a row for each hold and boil, what is to be known beside it."""
    return Told(
        key="power",
        title="Power",
        headline=power_headline(advice),
        sentences=tuple(_sentences(advice)),
        tables=(_table(advice),),
        findings=tuple(_findings(advice)),
        cautions=(*([SAVES_NOTHING] if _lower(advice) else []), *([PULSES] if advice.pulses else []), _basis(advice)),
    )


def _table(advice: PowerAdvice) -> Table:
    told = {"why": _why, "works_down_to_c": _border}
    rows = tuple(
        tuple(told[column.key](row) if column.key in told else getattr(row, column.key) for column in _POWER)
        for row in advice.rows
    )
    return Table("power", "Power", _POWER, rows)


def _border(row: PowerRow) -> float | Value | None:
    """The coldest air in which the power set does; where it does in all that was looked at it may be colder still."""
    return OR_COLDER(row.works_down_to_c) if row.works_down_to_c == row.coldest_looked_at_c else row.works_down_to_c


BARS = Sentence(
    "Coloured: set. Thin line: needed as planned. Thick line: needed on nineteen days of twenty. Diamond: advised. "
    "Pale: all elements."
)


def bars_table(advice: PowerAdvice, most_w: float) -> Table:
    """A bar for each hold and boil, against all elements [W]: set, needed, advised, and the chance in words."""
    columns = (_STEP, _PHASE, Column("bar", "", WORD), *_WATTS, Column("most_w", "All elements", WATTS))
    rows = tuple(
        (row.step, row.phase, _bar(row), row.set_w, row.needed_w, row.needed_19_of_20_w, row.advised_w, most_w)
        for row in advice.rows
    )
    return Table("bars", "Powers of each hold and boil", columns, rows)


def _bar(row: PowerRow) -> Sentence:
    said = Sentence(
        "{step}: {set} set, enough on {days}",
        step=WRITTEN(row.step), set=WATTS(row.set_w), days=ODDS(row.set_holds_frac),
    )  # fmt: skip
    if abs(row.advised_w - row.set_w) <= SHOWN_W:
        return Sentence("{said}; as advised", said=said)
    return Sentence("{said}; {advised} advised", said=said, advised=WATTS(row.advised_w))


def advised_sentence(advice: PowerAdvice, taken_w: Mapping[str, float | None]) -> Sentence:
    """What taking the advised powers sets, by step, and what it leaves as it is."""
    set_so = [row for row in advice.rows if taken_w.get(row.step) == row.advised_w != row.set_w]
    left = [row for row in advice.rows if row not in set_so and abs(row.advised_w - row.set_w) > SHOWN_W]
    if not set_so:
        return Sentence("Every power that keeps its step is set as advised.")
    said = Sentence("Sets {steps}.", steps=listed([_to(row, row.advised_w) for row in set_so]))
    if not left:
        return said
    stays = listed([Sentence("{step} at {set}", step=WRITTEN(row.step), set=WATTS(row.set_w)) for row in left])
    return Sentence(
        "{said} Leaves {stays}: what is advised would pass a rating there, or be too little.", said=said, stays=stays
    )


def _to(row: PowerRow, power_w: float) -> Sentence:
    return Sentence("{step} to {power}", step=WRITTEN(row.step), power=WATTS(power_w))


def power_headline(advice: PowerAdvice) -> Sentence:
    """Whether the powers set do their job, in what air, what could be lower; and whether the day fails elsewhere."""
    rows, share = _rows_headline(advice), SHARE(advice.failed_frac)
    if not advice.failures:
        return rows
    if advice.failed_frac == 0:
        return Sentence("{rows} In the worst plausible case the day can't be brewed as set.", rows=rows)
    return Sentence("{rows} {share} of the days can't be brewed as set.", rows=rows, share=share)


def _rows_headline(advice: PowerAdvice) -> Sentence:
    weak = [row for row in advice.rows if not row.set_enough]
    if weak:
        return Sentence("{rows}.", rows=listed([_odds(row, advice) for row in weak]))
    cold = [row for row in advice.rows if _fails_in_the_cold(row, advice)]
    if cold:
        return Sentence("{rows}.", rows=listed([_only_to(row) for row in cold]))
    lower = _lower(advice)
    if not advice.rows:
        return Sentence("No step holds a temperature or boils.")
    if not lower:
        return Sentence("Every power set does its job on nineteen days of twenty, and none could be lower.")
    return Sentence(
        "Every power set does its job on nineteen days of twenty; {lower} of {all} can be set lower.",
        lower=counted(len(lower), "step"),
        all=WORD(str(len(advice.rows))),
    )


def steps_odds(advice: PowerAdvice) -> Sentence | None:
    """What is to be known before anything is switched on: the powers that may not do; None where all do."""
    if not advice.failures and all(row.set_enough and not _fails_in_the_cold(row, advice) for row in advice.rows):
        return None
    return power_headline(advice)


def _odds(row: PowerRow, advice: PowerAdvice) -> Sentence:
    """On how many days a power does its job, and down to what air where that may come: else other things stop it."""
    said = Sentence("{power} {does} on {days}", power=WATTS(row.set_w), does=_does(row), days=ODDS(row.set_holds_frac))
    if row.works_down_to_c is None:
        return Sentence("{said} (as planned not even in warm air)", said=said)
    if row.works_down_to_c <= advice.air_c - PLAUSIBLE_K:
        return said
    return Sentence("{said} (all else as planned,{air})", said=said, air=_down_to(row))


def _only_to(row: PowerRow) -> Sentence:
    return Sentence("{power} {does} only{air}", power=WATTS(row.set_w), does=_does(row), air=_down_to(row))


def _does(row: PowerRow) -> Sentence:
    if row.phase == "boil":
        return Sentence("keeps {step} boiling", step=WRITTEN(row.step))
    return Sentence("holds {step}", step=WRITTEN(row.step))


def _down_to(row: PowerRow) -> Sentence:
    if row.works_down_to_c is None:
        return Sentence(", in no air that it was looked at in")
    return Sentence(" down to air of {air}", air=CELSIUS(row.works_down_to_c))


def _fails_in_the_cold(row: PowerRow, advice: PowerAdvice) -> bool:
    """Whether the season may bring air in which the power set does not do."""
    return row.works_down_to_c is None or row.works_down_to_c > advice.air_c - COLDER_K


def _lower(advice: PowerAdvice) -> list[PowerRow]:
    return [row for row in advice.rows if row.enough and row.advised_w < row.set_w - SHOWN_W]


def _sentences(advice: PowerAdvice) -> Iterator[Sentence]:
    for row in advice.rows:
        if row.watched_w is not None:
            yield _watched(row, row.watched_w)
        elif row.phase == "boil" and abs(row.advised_w - row.set_w) > SHOWN_W:
            more = row.energy_change_kwh > 0
            yield Sentence(
                "{step} at {advised} instead of {set}: {energy} and {steam} of steam {more}.{why}",
                step=WRITTEN(row.step),
                advised=WATTS(row.advised_w),
                set=WATTS(row.set_w),
                energy=KWH(abs(row.energy_change_kwh)),
                steam=KILOGRAMS(abs(row.evaporation_change_kg)),
                more=WORD("more" if more else "less"),
                why=_evaporates(row, advice.evaporation) if row.for_evaporation else NOTHING,
            )
        if row.needed_w <= 0:
            yield Sentence("{step}: the pump alone keeps it warm.", step=WRITTEN(row.step))


def _evaporates(row: PowerRow, evaporation: Evaporation) -> Sentence:
    return Sentence(
        " That is for {wish}; {needed} boil on nineteen days of twenty.",
        wish=wish(evaporation),
        needed=WATTS(row.needed_19_of_20_w),
    )


def wish(evaporation: Evaporation) -> Sayable:
    """How much a boil shall take off."""
    if evaporation.litres_per_h is None:
        return Sentence("{share} of the volume an hour", share=SHARE(evaporation.per_h))
    return LITRES_PER_HOUR(evaporation.litres_per_h)


def _watched(row: PowerRow, watched_w: float) -> Sentence:
    """What whoever watches a boil may do, from the advised power on where that is not set, and what it changes."""
    saves, shown = row.watched_change_kwh <= 0, abs(row.watched_change_kwh) >= SHOWN_KWH
    begins = not saves or row.advised_w > row.set_w + SHOWN_W
    change = Sentence(
        "; that {saves} {kwh}{against}",
        saves=WORD("saves" if saves else "takes"),
        kwh=KWH(abs(row.watched_change_kwh)),
        against=NOTHING if saves else Sentence(" more than the {set} set", set=WATTS(row.set_w)),
    )
    return Sentence(
        "{step}: {begin}turn it down towards {watched} while it rolls, back up if it stops{change}.",
        step=WRITTEN(row.step),
        begin=Sentence("begin with {advised}, ", advised=WATTS(row.advised_w)) if begins else NOTHING,
        watched=WATTS(watched_w),
        change=change if shown else NOTHING,
    )


def _findings(advice: PowerAdvice) -> Iterator[Found]:
    """What may go wrong with the powers set: days that can't be brewed, settings that no vessel has, scorching."""
    if advice.failures:
        said = advice.failures[0]
        yield Found(
            code="worst_case",
            severity="note",
            said=Sentence(
                "The worst plausible day fails so: {why}",
                why=said if isinstance(said, SAYABLE) else WORD(str(said)),
            ),
        )
    for row in advice.rows:
        if not row.enough:
            yield Found(
                code="too_weak",
                severity="note",
                said=Sentence(
                    "{step}: no setting does it on nineteen days of twenty; that takes {needed}, and {most} does it on "
                    "{days}.",
                    step=WRITTEN(row.step),
                    needed=WATTS(row.needed_19_of_20_w),
                    most=WATTS(row.advised_w),
                    days=ODDS(row.advised_holds_frac),
                ),
            )
        if row.loading_w_per_cm2 is not None and row.loading_w_per_cm2 > HIGH_LOADING_W_PER_CM2:
            yield Found(
                code="watt_density",
                severity="note",
                said=Sentence(
                    "{step}: an element that is on loads its surface with {loading}; common practice is to stay below "
                    "{limit} in wort, which scorches above.",
                    step=WRITTEN(row.step),
                    loading=WATTS_PER_CM2(row.loading_w_per_cm2),
                    limit=WATTS_PER_CM2(HIGH_LOADING_W_PER_CM2),
                ),
            )


def _why(row: PowerRow) -> Sentence:
    """Why so much is advised."""
    if row.phase == "boil":
        return Sentence(
            "below {least} it stops boiling as planned, below {often} on one day of twenty",
            least=WATTS(row.needed_w),
            often=WATTS(row.needed_19_of_20_w),
        )
    return Sentence(
        "keeps {target} with {needed} as planned, with {often} on nineteen days of twenty; in the worst plausible case "
        "the lowest is {set_lowest} with the power set, {lowest} with the one advised",
        target=CELSIUS(row.target_c),
        needed=WATTS(row.needed_w),
        often=WATTS(row.needed_19_of_20_w),
        set_lowest=CELSIUS(row.set_lowest_c),
        lowest=CELSIUS(row.advised_lowest_c),
    )


def _basis(advice: PowerAdvice) -> Sentence:
    """What the days are, and the worst of them."""
    worst = advice.worst
    return Sentence(
        "Days: air within {air}, mains, elements, heat loss and open surface drawn from their ranges{days}. Worst "
        "case: air {air} colder, {volts}, a weak element, {loss} of the loss, {steam} of the evaporation.",
        days=from_days(advice.days),
        air=KELVIN(COLDER_K),
        volts=VOLTS(worst.voltage_v),
        loss=SHARE(worst.loss_frac),
        steam=SHARE(worst.open_surface_frac),
    )


def why_sentence(row: PowerRow) -> Sentence:
    """Why so much is advised for a step."""
    return Sentence("{advised} advised: {why}.", advised=WATTS(row.advised_w), why=_why(row))
