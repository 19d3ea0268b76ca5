"""The planned batch beside a bigger one, two on one day, and two with the chiller's water kept: one table."""

from collections.abc import Iterator
from datetime import datetime, timedelta, tzinfo
from typing import Literal

from energyplan.advice.batches import (
    BETWEEN_S,
    SizedBatch,
    TwoBatches,
    largest_batch,
    resized,
    two_batches,
)
from energyplan.advice.heat_recovery import KeptWater, Reuse, chilled_kwh, reuse
from energyplan.advice.wholebatch import PerVolume, WholeBatch, per_volume, whole_batch
from energyplan.base.errors import TariffError
from energyplan.base.load import LoadProfile
from energyplan.base.money import Money
from energyplan.base.records import dataclass
from energyplan.circuits.check import CircuitCheck, check
from energyplan.day.appliances import on_the_circuit
from energyplan.day.brewday import BrewDay
from energyplan.tariffs.costs import price
from energyplan.tariffs.priceline import price_line_around
from energyplan.tariffs.tariff import Tariff

__all__ = ["BatchChoices", "BatchKey", "BatchQuestion", "BatchRow", "batch_choices"]

BatchKey = Literal["planned", "bigger", "two", "two_kept"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchQuestion:
    """What is asked of `batch_choices`.

    ``end_l`` is the volume of the bigger batch after the boil [L] (None: the largest that fits), ``between_s`` the time
    between two batches on one day, ``kept`` the chiller's water (None: none is kept).
    """

    end_l: float | None = None
    between_s: float = BETWEEN_S
    kept: KeptWater | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BatchRow:
    """One way to brew: energy, cost (None without prices, or beyond them), time, wort after the boil, circuit."""

    key: BatchKey
    energy_kwh: float
    cost: Money | None
    duration_s: float
    end_l: float
    per_volume: PerVolume
    circuit: CircuitCheck | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BatchChoices:
    """The planned batch and the other ways, each simulated.

    ``rows`` begin with the planned one. ``bigger`` and ``two`` hold the details, ``two_kept`` and ``reuse`` those with
    the chiller's water kept (None: none is), ``whole`` the planned batch with its fermentation (None: none entered).
    """

    day: BrewDay
    rows: tuple[BatchRow, ...]
    bigger: SizedBatch
    two: TwoBatches
    two_kept: TwoBatches | None
    reuse: Reuse | None
    whole: WholeBatch | None
    chilled_kwh: float


def batch_choices(
    day: BrewDay, question: BatchQuestion, *, start: datetime, zone: tzinfo, tariff: Tariff | None = None
) -> BatchChoices:
    """Put the planned batch beside a bigger one and two on one day.

    Parameters
    ----------
    day : BrewDay
        The planned day.
    question : BatchQuestion
        How big, how long between, what is kept.
    start : datetime
        Start of the day, with its offset from UTC.
    zone : tzinfo
        Zone of the other loads' clock.
    tariff : Tariff, optional
        Prices.

    Raises
    ------
    PlanError
        If a volume, a time or the kept water makes no sense.
    """
    rows = _Rows(day, start, zone, tariff)
    bigger = largest_batch(day) if question.end_l is None else resized(day, question.end_l)
    when = (start, zone)
    two = two_batches(day, between_s=question.between_s, when=when)
    kept, two_kept, saved = question.kept, None, None
    if kept is not None:
        two_kept = two_batches(day, between_s=question.between_s, kept=kept, when=when)
        saved = reuse(day, kept)
    made = tuple(rows.made(bigger, two, two_kept))
    whole = None
    if day.plan.fermentation is not None:
        whole = whole_batch(day, day.plan.fermentation, start=start, tariff=tariff, cost=made[0].cost)
    return BatchChoices(
        day=day,
        rows=made,
        bigger=bigger,
        two=two,
        two_kept=two_kept,
        reuse=saved,
        whole=whole,
        chilled_kwh=chilled_kwh(day),
    )


class _Rows:
    """Prices and checks each way to brew."""

    def __init__(self, day: BrewDay, start: datetime, zone: tzinfo, tariff: Tariff | None) -> None:
        self.day, self.start, self.zone, self.tariff = day, start, zone, tariff

    def made(self, bigger: SizedBatch, two: TwoBatches, two_kept: TwoBatches | None) -> Iterator[BatchRow]:
        yield self._one("planned", self.day)
        if bigger.day is not None and abs(bigger.times - 1) > 1e-6:
            yield self._one("bigger", bigger.day)
        yield self._two("two", two)
        if two_kept is not None:
            yield self._two("two_kept", two_kept)

    def _one(self, key: BatchKey, day: BrewDay) -> BatchRow:
        return self._row(key, day.profiles, (day.duration_s, day.wort.end_l), self._checked(day))

    def _two(self, key: BatchKey, two: TwoBatches) -> BatchRow:
        return self._row(key, two.profiles, (two.duration_s, two.end_l), two.circuit)

    def _row(
        self, key: BatchKey, profiles: tuple[LoadProfile, ...], size: tuple[float, float], circuit: CircuitCheck | None
    ) -> BatchRow:
        energy_kwh, cost = sum(profile.energy_kwh for profile in profiles), self._cost(profiles)
        return BatchRow(
            key=key,
            energy_kwh=energy_kwh,
            cost=cost,
            duration_s=size[0],
            end_l=size[1],
            per_volume=per_volume(energy_kwh, size[1], cost),
            circuit=circuit,
        )

    def _checked(self, day: BrewDay) -> CircuitCheck | None:
        plan = day.plan
        if plan.circuit is None:
            return None
        return check(on_the_circuit(plan, day.profiles), plan.circuit, plan.other_loads, self.start, self.zone)

    def _cost(self, profiles: tuple[LoadProfile, ...]) -> Money | None:
        """Cost at the planned start; None without prices, or where they end before the day does."""
        if self.tariff is None:
            return None
        first_s = min(float(profile.edges_s[0]) for profile in profiles)
        last_s = max(float(profile.edges_s[-1]) for profile in profiles)
        first, last = (self.start + timedelta(seconds=seconds) for seconds in (first_s - 3600, last_s + 3600))
        try:
            return price(profiles, price_line_around(self.tariff, first, last), self.start).total
        except TariffError:
            return None
