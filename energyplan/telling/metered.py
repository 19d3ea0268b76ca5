"""What a meter counted: its money, the same wherever measured energy is priced; a brew day in the house's meter."""

from collections.abc import Iterator

from energyplan.base.kinds import DATED, KWH, MINUTES, MOMENT, MONEY, WORD, WRITTEN, Moment, counted
from energyplan.base.money import Money
from energyplan.base.sentence import Sentence
from energyplan.learning.meterfile import MeterLog
from energyplan.learning.usual import AboveUsual
from energyplan.tariffs.costs import DayCost
from energyplan.telling.told import Column, Facts, Table, Told

__all__ = ["band_tables", "cost_facts", "cost_sentences", "meter_told"]


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


def meter_told(
    found: AboveUsual, log: MeterLog, planned_kwh: float, price: tuple[Money, str] | None, at: Moment
) -> Told:
    """A brew day in the house meter's export: what it took above the usual, how sure that is, what it cost.

    ``price`` is the cost and the tariff's name; ``at`` where the day begins. No temperatures, no phases: the house's
    meter doesn't know them.
    """
    seen = found.shows(planned_kwh)
    measured, within = KWH(found.measured_kwh), KWH(found.within_kwh)
    if seen:
        headline = Sentence(
            "The day from {start} on took {measured} above the household's usual, ±{within}; planned were {planned}.",
            start=DATED(at.at), measured=measured, within=within, planned=KWH(planned_kwh),
        )  # fmt: skip
    else:
        headline = Sentence(
            "No brew is seen from {start} on: {measured} above the household's usual, ±{within}, where {planned} were "
            "planned.",
            start=DATED(at.at), measured=measured, within=within, planned=KWH(planned_kwh),
        )  # fmt: skip
    basis = Sentence(
        "Usual is {usual} in those hours, from {days}; their scatter is the ±, on 19 days of 20.",
        usual=KWH(float(found.usual_kwh.sum())),
        days=counted(found.days, "other day"),
    )
    return Told(
        key="meter",
        title="In the house's meter",
        headline=headline,
        facts={
            "measured_kwh": measured,
            "within_kwh": within,
            "usual_kwh": KWH(float(found.usual_kwh.sum())),
            "planned_kwh": KWH(planned_kwh),
            "interval_min": found.interval_min,
            "start": MOMENT(at),
            "brew_seen": seen,
            "cost": None if price is None or not seen else MONEY(price[0]),
            "why": None if seen else Sentence("what is above the usual does not stand out from its scatter"),
            "columns": tuple(WRITTEN(name) for name in log.columns),
            "counts": log.counts,
            "stamped": log.stamped,
            "clock": log.clock,
        },
        sentences=(*_meter_cost(price, seen=seen), _meter_verdict(found, planned_kwh, seen=seen), basis, _read_as(log)),
    )


def _meter_cost(price: tuple[Money, str] | None, *, seen: bool) -> Iterator[Sentence]:
    if price is not None and seen:
        yield Sentence("It cost {money} under “{tariff}”.", money=MONEY(price[0]), tariff=WRITTEN(price[1]))


def _meter_verdict(found: AboveUsual, planned_kwh: float, *, seen: bool) -> Sentence:
    if not seen:
        return Sentence("Is that the day, is the clock of the export right, does this meter see the vessel?")
    if abs(found.measured_kwh - planned_kwh) <= found.within_kwh:
        return Sentence("Plan and meter agree within that.")
    return Sentence("That is more than the scatter: a plug-in meter, or a log, would tell why.")


def _read_as(log: MeterLog) -> Sentence:
    """How the columns were understood."""
    return Sentence(
        "Read as: {value} of {interval} from the column “{column}”; stamps in “{stamps}” mark {marks}, on {clock}.",
        value=WORD(_COUNTS[log.counts]),
        interval=MINUTES(log.interval_s / 60),
        column=WRITTEN(log.columns[-1]),
        stamps=WRITTEN(" ".join(log.columns[:-1])),
        marks=WORD(_MARKS[log.stamped]),
        clock=WORD(_CLOCKS[log.clock]),
    )


_COUNTS = {"energy": "energy", "total": "a running total", "power": "mean power"}
_MARKS = {"start": "the start of each", "end": "the end of each", "both": "both ends"}
_CLOCKS = {"utc": "UTC", "local": "the local clock", "offset": "the clock that they name"}
