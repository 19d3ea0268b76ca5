"""A bigger batch, two on one day, warm water kept: whether each goes, what it takes, what must be known of it."""

from collections.abc import Iterator
from dataclasses import replace

from energyplan.advice.batchchoices import BatchChoices, BatchRow
from energyplan.advice.batches import ROOM_FRAC, SizedBatch, TwoBatches
from energyplan.advice.variants import WhyNot
from energyplan.base.kinds import (
    AMPERES,
    CELSIUS,
    COST_PER_VOLUME,
    HOURS,
    KILOGRAMS,
    KWH,
    KWH_PER_HL,
    LITRES,
    MINUTES,
    MONEY,
    NUMBER,
    SHARE,
    WORD,
    PerLitre,
    Value,
)
from energyplan.base.sentence import NOTHING, Sentence
from energyplan.circuits.check import CircuitCheck
from energyplan.day.brewday import BrewDay
from energyplan.telling.comparison import refusal
from energyplan.telling.findings import FindingTeller
from energyplan.telling.told import Column, Facts, Found, Table, Told

__all__ = ["batches_told"]

PITCH_C = 20.0
OTHER_SHARE = 0.005  # of the wort: from here on the boil evaporates another share of it
VOLUMES = Sentence("Volumes of wort after the boil, cold; the beer that is packaged is less.")
COLUMNS = (
    Column("key", "Key", WORD, detail=2),
    Column("way", "Way", WORD, short=" "),
    Column("energy_kwh", "Energy", KWH, short=""),
    Column("cost", "Cost", MONEY, short=""),
    Column("cost_per_volume", "Cost of the wort", COST_PER_VOLUME, short="each"),
    Column("hours", "Takes", HOURS, short=""),
    Column("end_volume_l", "Wort", LITRES, short=""),
    Column("kwh_per_hl", "For each volume", KWH_PER_HL, short=""),
    Column("peak_a", "Largest current", AMPERES, short=""),
    Column("severity", "Circuit", WORD, short="circuit"),
    Column("minutes", "Takes", MINUTES, detail=2),
    Column("circuit", "Circuit", WORD, detail=2),
)


def batches_told(found: BatchChoices) -> Told:
    """The ways side by side, then what is to be known of each."""
    bigger, two = found.bigger, found.two
    return Told(
        key="batches",
        title="One batch, a bigger one, or two on one day",
        headline=_headline(found),
        facts={
            "bigger": _bigger_facts(bigger),
            "two": _two_facts(two),
            "two_kept": _two_facts(found.two_kept) if found.two_kept else None,
            "chilled_kwh": KWH(found.chilled_kwh),
            "reuse": _reuse_facts(found),
            "whole": _whole_facts(found),
        },
        sentences=(*_bigger(found.day, bigger), *_two(found), *_chiller(found), *_fermentation(found)),
        findings=tuple(_new_findings(found)),
        tables=(Table("ways", "Energy, cost, time and volume of each way to brew", COLUMNS, tuple(_rows(found))),),
        cautions=(VOLUMES,),
    )


def _headline(found: BatchChoices) -> Sentence:
    planned = found.rows[0].per_volume.kwh_per_hl
    least = min(found.rows, key=lambda row: row.per_volume.kwh_per_hl)
    if least is found.rows[0]:
        return Sentence(
            "No other way takes less energy for each litre than the plan: {each}.", each=KWH_PER_HL(planned)
        )
    return Sentence(
        "Least energy for each litre: {way}, {each} instead of {planned}.",
        way=_way(least, found), each=KWH_PER_HL(least.per_volume.kwh_per_hl), planned=KWH_PER_HL(planned),
    )  # fmt: skip


def _way(row: BatchRow, found: BatchChoices) -> Sentence:
    if row.key == "bigger":
        return Sentence("one batch, {times} times", times=NUMBER(found.bigger.times))
    return Sentence({"planned": "as planned", "two": "two on one day", "two_kept": "two, chiller water kept"}[row.key])


def _rows(found: BatchChoices) -> Iterator[tuple[object, ...]]:
    for row in found.rows:
        each = row.per_volume
        per_l = None if each.cost_per_l is None or not row.cost else PerLitre(each.cost_per_l, row.cost.currency)
        yield (
            row.key,
            _way(row, found),
            row.energy_kwh,
            row.cost,
            per_l,
            row.duration_s / 3600,
            row.end_l,
            each.kwh_per_hl,
            row.circuit.peak_a if row.circuit else None,
            row.severity,
            row.duration_s / 60,
            Value(WORD, _circuit(row.circuit)) if row.circuit else None,
        )


def _circuit(circuit: CircuitCheck) -> dict[str, object]:
    return {
        "severity": circuit.severity,
        "peak_a": circuit.peak_a,
        "continuous_a": circuit.continuous_a,
        "longest_at_peak_min": circuit.longest_at_peak_min,
        "findings": [
            {"code": one.code, "severity": one.severity, "margin_frac": one.margin_frac} for one in circuit.findings
        ],
    }


def _bigger(day: BrewDay, bigger: SizedBatch) -> Iterator[Sentence]:
    name = Sentence("{volume} in one batch ({times} times the planned one)",
                    volume=LITRES(bigger.end_l), times=NUMBER(bigger.times))  # fmt: skip
    if bigger.day is None:
        yield Sentence("{name} can't be brewed here: {why}", name=name, why=_why(bigger.why_not))
        return
    if bigger.times == 1 and bigger.why_not:
        yield Sentence("No bigger batch goes: {why}", why=_why(bigger.why_not))
        yield from _foam(bigger.day)
        return
    batch = bigger.day.plan.batch
    water, grain = LITRES(batch.water_l), KILOGRAMS(batch.grain_kg)
    if batch.sparge_water_l:
        yield Sentence("{name}: {water} of water, {grain} of grain and {sparge} to sparge with.",
                       name=name, water=water, grain=grain, sparge=LITRES(batch.sparge_water_l))  # fmt: skip
    else:
        yield Sentence("{name}: {water} of water, {grain} of grain.", name=name, water=water, grain=grain)
    yield from _size(day, bigger.day)
    if bigger.why_not:
        yield Sentence("More does not go: {why}", why=_why(bigger.why_not))


def _why(why: WhyNot | None) -> Sentence:
    if why is not None and why.code == "no_room":
        return Sentence("the vessel would be more than {full} full, and the foam of the hot break needs room.",
                        full=SHARE(why.other))  # fmt: skip
    return refusal(why.error if why else None)


def _size(day: BrewDay, larger: BrewDay) -> Iterator[Sentence]:
    """What changes with the size."""
    before, after = (MINUTES(sum(p.duration_s for p in one.phases if p.phase == "ramp") / 60) for one in (day, larger))
    yield Sentence("The ramps take {after} instead of {before}; the vessel is at most {full} full.",
                   after=after, before=before, full=SHARE(larger.wort.fullest_frac))  # fmt: skip
    yield from _foam(larger)
    shares = [one.wort.evaporated_kg / one.wort.before_boil_l for one in (day, larger)]
    if abs(shares[1] - shares[0]) > OTHER_SHARE:
        yield Sentence("The boil evaporates {after} of the wort instead of {before}: power and time stay as planned.",
                       after=SHARE(shares[1]), before=SHARE(shares[0]))  # fmt: skip
    if day.plan.vessel.most_grain_kg is None and larger.plan.batch.grain_kg > day.plan.batch.grain_kg:
        yield Sentence("Check that the basket holds the grain.")


def _foam(day: BrewDay) -> Iterator[Sentence]:
    if day.wort.fullest_frac > ROOM_FRAC + 1e-9:
        yield Sentence(
            "So full a vessel has no room for the foam of the hot break; most leave {room} and more free.",
            room=SHARE(1 - ROOM_FRAC),
        )


def _two(found: BatchChoices) -> Iterator[Sentence]:
    two = found.two
    cleaned = len(two.first.plan.steps) < len(two.second.plan.steps)
    yield Sentence(
        "Two on one day: {both} instead of {apart} on two days{cleaned}; the second begins {after} after the first.",
        both=KWH(two.energy_kwh), apart=KWH(two.apart_kwh), after=MINUTES(two.second_s / 60),
        cleaned=Sentence(", with one cleaning at the end" if cleaned else ""),
    )  # fmt: skip
    in_all_s, stretch_s = two.heating_s
    yield Sentence(
        "Elements are on for {in_all}, and for {stretch} without a break of a quarter of an hour.",
        in_all=MINUTES(in_all_s / 60), stretch=MINUTES(stretch_s / 60),
    )  # fmt: skip


def _new_findings(found: BatchChoices) -> Iterator[Found]:
    """What the joined day does to the circuit that one day does not, and what it means for a load of three hours."""
    once, joined = found.rows[0].circuit, found.two.circuit
    if joined is None:
        return
    teller = FindingTeller(joined.start, joined.zone)
    known = {str(teller(one).said) for one in once.findings} if once else set()
    for told in teller.all(joined.findings):
        if str(told.said) not in known and (told.severity != "ok" or told.code == "continuous"):
            yield replace(told, said=Sentence("Two on one day: {said}", said=told.said), mend=None)


def _chiller(found: BatchChoices) -> Iterator[Sentence]:
    gives = Sentence("Chilled to {pitch} the wort gives off {gives}",
                     pitch=CELSIUS(PITCH_C), gives=KWH(found.chilled_kwh))  # fmt: skip
    if found.reuse is None or found.two_kept is None:
        yield Sentence("{gives}. None of it counts until it is kept in a tank.", gives=gives)
        return
    saved, two = found.reuse, found.two_kept
    yield Sentence(
        "{gives}; {volume} at {warm} hold {kept} of it, and still have {used} after {wait}.",
        gives=gives, volume=LITRES(saved.kept.volume_l), warm=CELSIUS(saved.kept.temperature_c),
        kept=KWH(saved.kept_kwh), used=CELSIUS(saved.used_c), wait=MINUTES(saved.kept.wait_s / 60),
    )  # fmt: skip
    if saved.cleaning_saved_kwh is not None:
        yield Sentence("{volume} of it for the cleaning save {saved}.",
                       volume=LITRES(saved.cleaning_l), saved=KWH(saved.cleaning_saved_kwh))  # fmt: skip
    yield Sentence(
        "Or {volume} of it for the next strike save {saved}; the second batch then begins at {start}.",
        volume=LITRES(saved.strike_l), saved=KWH(saved.strike_saved_kwh), start=CELSIUS(two.second_start_c),
    )  # fmt: skip


def _fermentation(found: BatchChoices) -> Iterator[Sentence]:
    whole = found.whole
    if whole is None:
        return
    cost = Sentence(" and {cost}", cost=MONEY(whole.cost)) if whole.cost else NOTHING
    yield Sentence(
        "With the fermentation ({fermentation}) the planned batch takes {whole}{cost}, {each}.",
        fermentation=KWH(whole.fermentation_kwh), whole=KWH(whole.energy_kwh), cost=cost,
        each=KWH_PER_HL(whole.per_volume.kwh_per_hl),
    )  # fmt: skip
    if whole.prices_end is not None and found.rows[0].cost:
        yield Sentence("Its cost is not known: the prices don't reach to its end ({why}).",
                       why=refusal(whole.prices_end))  # fmt: skip


def _bigger_facts(bigger: SizedBatch) -> Facts:
    return {
        "end_volume_l": LITRES(bigger.end_l),
        "times": NUMBER(bigger.times),
        "fits": bigger.day is not None,
        "why_not": _why(bigger.why_not) if bigger.why_not else None,
        "fullest_frac": bigger.day.wort.fullest_frac if bigger.day else None,
        "batch": bigger.day.plan.batch.model_dump(mode="json") if bigger.day else None,
    }


def _two_facts(two: TwoBatches) -> Facts:
    return {
        "energy_kwh": KWH(two.energy_kwh),
        "apart_kwh": KWH(two.apart_kwh),
        "minutes": MINUTES(two.duration_s / 60),
        "second_after_min": MINUTES(two.second_s / 60),
        "second_start_c": CELSIUS(two.second_start_c),
        "end_volume_l": LITRES(two.end_l),
    }


def _reuse_facts(found: BatchChoices) -> Facts | None:
    saved = found.reuse
    if saved is None:
        return None
    return {
        "kept": {
            "volume_l": LITRES(saved.kept.volume_l),
            "temperature_c": CELSIUS(saved.kept.temperature_c),
            "wait_s": saved.kept.wait_s,
            "tank_w_per_k": saved.kept.tank_w_per_k,
        },
        "kept_kwh": KWH(saved.kept_kwh),
        "used_c": CELSIUS(saved.used_c),
        "cleaning_l": LITRES(saved.cleaning_l),
        "cleaning_saved_kwh": saved.cleaning_saved_kwh,
        "strike_l": LITRES(saved.strike_l),
        "strike_saved_kwh": KWH(saved.strike_saved_kwh),
    }


def _whole_facts(found: BatchChoices) -> Facts | None:
    whole = found.whole
    if whole is None:
        return None
    return {
        "fermentation_kwh": KWH(whole.fermentation_kwh),
        "energy_kwh": KWH(whole.energy_kwh),
        "cost": MONEY(whole.cost) if whole.cost else None,
        "kwh_per_hl": KWH_PER_HL(whole.per_volume.kwh_per_hl),
        "cost_per_l": whole.per_volume.cost_per_l,
    }
