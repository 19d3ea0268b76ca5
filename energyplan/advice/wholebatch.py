"""The whole batch: the brew day and the fermenter's fridge or heater, per litre and per hectolitre."""

from datetime import datetime, timedelta

import numpy as np

from energyplan.base.errors import TariffError
from energyplan.base.load import LoadProfile
from energyplan.base.money import Money
from energyplan.base.records import dataclass
from energyplan.day.brewday import BrewDay
from energyplan.plan.model import Fermentation
from energyplan.tariffs.costs import price
from energyplan.tariffs.priceline import price_line_around
from energyplan.tariffs.tariff import Tariff

__all__ = ["PerVolume", "WholeBatch", "per_volume", "whole_batch"]

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
