"""A bigger batch, two on one day, warm water kept; the whole batch with fermentation."""

from collections.abc import Iterator
from datetime import datetime, timedelta, tzinfo
from typing import Literal

import numpy as np

from energyplan.advice.batches import (
    BETWEEN_S,
    SizedBatch,
    TwoBatches,
    largest_batch,
    resized,
    two_batches,
)
from energyplan.advice.heat import KeptWater, Reuse, chilled_kwh, reuse
from energyplan.advice.household import severity_of
from energyplan.base.errors import TariffError
from energyplan.base.load import LoadProfile
from energyplan.base.money import Money
from energyplan.base.records import dataclass
from energyplan.circuits.check import CircuitCheck, check
from energyplan.circuits.findings import Severity
from energyplan.day.brewday import BrewDay
from energyplan.day.supply import on_the_circuit
from energyplan.plan.model import Fermentation
from energyplan.tariffs.costs import price
from energyplan.tariffs.priceline import price_line_around
from energyplan.tariffs.tariff import Tariff, of_the_month

__all__ = [
    "BatchChoices",
    "BatchKey",
    "BatchQuestion",
    "BatchRow",
    "PerVolume",
    "WholeBatch",
    "batch_choices",
    "per_volume",
    "whole_batch",
]

FERMENTER = "Fermenter"


@dataclass(frozen=True, slots=True, kw_only=True)
class PerVolume:
    """Energy and cost over the wort after the boil, cold: not over the beer that is packaged, which is less."""

    kwh_per_hl: float
    cost_per_l: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class WholeBatch:
    """What the fermentation adds to a brew day.

    ``cost`` is None without prices, or where they end before it is over (``prices_end``).
    """

    fermentation_kwh: float
    energy_kwh: float
    cost: Money | None
    prices_end: TariffError | None
    per_volume: PerVolume


def per_volume(energy_kwh: float, end_l: float, cost: Money | float | None = None) -> PerVolume:
    """Energy per hectolitre and cost per litre of wort.

    Parameters
    ----------
    energy_kwh : float
        Energy of the day [kWh].
    end_l : float
        Wort after the boil, at 20 °C [L].
    cost : Money or float, optional
        Cost of the day.

    Examples
    --------
    >>> per_volume(7.5, 25.0, 2.5)
    PerVolume(kwh_per_hl=30.0, cost_per_l=0.1)
    """
    return PerVolume(kwh_per_hl=100 * energy_kwh / end_l, cost_per_l=None if cost is None else float(cost) / end_l)


def whole_batch(
    day: BrewDay,
    fermentation: Fermentation,
    *,
    start: datetime,
    tariff: Tariff | None = None,
    cost: Money | None = None,
) -> WholeBatch:
    """Add the fermentation to a brew day.

    Parameters
    ----------
    day : BrewDay
        The brew day.
    fermentation : Fermentation
        Power, share of the time that it runs, and how long.
    start : datetime
        Start of the brew day, with its offset from UTC; the fermentation begins at its end.
    tariff : Tariff, optional
        Prices; the fermenter's mean power runs through them hour by hour.
    cost : Money, optional
        Cost of the brew day; needed with a tariff.

    Notes
    -----
    A fridge or heater runs a share of the time (common practice, no source: 10 to 40 %); its nameplate times 24 h would
    be several times too much. Its energy counts as even over the days.
    """
    load = _fermenter(fermentation, day.duration_s)
    energy_kwh = day.energy_kwh + load.energy_kwh
    total: Money | None = None
    prices_end: TariffError | None = None
    if tariff is not None and cost is not None:
        total, prices_end = _cost(load, tariff, start, cost)
    return WholeBatch(
        fermentation_kwh=load.energy_kwh,
        energy_kwh=energy_kwh,
        cost=total,
        prices_end=prices_end,
        per_volume=per_volume(energy_kwh, day.wort.end_l, total),
    )


def _fermenter(fermentation: Fermentation, from_s: float) -> LoadProfile:
    return LoadProfile(
        name=FERMENTER,
        edges_s=np.array([from_s, from_s + fermentation.time_s]),
        mean_w=np.array([fermentation.power_w * fermentation.duty]),
        heater_w_per_v2=np.zeros(1),
        other_w=np.array([fermentation.power_w]),
    )


def _cost(load: LoadProfile, tariff: Tariff, start: datetime, cost: Money) -> tuple[Money | None, TariffError | None]:
    first, last = (start + timedelta(seconds=float(edge_s)) for edge_s in load.edges_s)
    try:
        line = price_line_around(tariff, first - timedelta(hours=1), last + timedelta(hours=1))
        return cost + price(load, line, start).total, None
    except TariffError as error:
        return None, error


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
    """One way to brew: energy, cost (None without prices, or beyond them), time, wort after the boil.

    ``circuit`` is the check of the circuit, ``severity`` the graver of it and of the contracted power; None where none
    is entered.
    """

    key: BatchKey
    energy_kwh: float
    cost: Money | None
    duration_s: float
    end_l: float
    per_volume: PerVolume
    circuit: CircuitCheck | None
    severity: Severity | None


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
    if tariff is not None:
        tariff = of_the_month(tariff, day.plan.supply)
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
            severity=severity_of(self.day.plan, profiles, circuit, self.start, self.zone),
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
