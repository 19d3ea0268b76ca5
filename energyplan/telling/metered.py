"""What a meter counted, in money: the same words and rows wherever measured energy is priced."""

from collections.abc import Iterator

from energyplan.base.kinds import KWH, MONEY, WRITTEN
from energyplan.base.sentence import Sentence
from energyplan.tariffs.costs import DayCost
from energyplan.telling.told import Column, Facts, Table

__all__ = ["band_tables", "cost_facts", "cost_sentences"]


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
