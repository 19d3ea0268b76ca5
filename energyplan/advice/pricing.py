"""What a day costs at its start, and where else it could start: the money side of advice."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

from energyplan.base.load import LoadProfile
from energyplan.base.money import Money
from energyplan.day.brewday import BrewDay
from energyplan.tariffs.costs import price
from energyplan.tariffs.limits import StartLimits
from energyplan.tariffs.priceline import PriceLine
from energyplan.tariffs.starts import StartConditions, StartSearch, find_starts

__all__ = ["Pricing"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pricing:
    """Prices, the start of the day, and the starts that are open.

    Parameters
    ----------
    line : PriceLine
        Prices; should reach from the first start to the end of the last day.
    start : datetime
        Planned start, with its offset from UTC, on a whole minute.
    first, last : datetime, optional
        First and last other start; left out, the start is not up for choice.
    limits : StartLimits
        When else a day may start and end.
    month_kwh_so_far : float
        Use of the month before the start [kWh]; matters only under tiers.
    """

    line: PriceLine
    start: datetime
    first: datetime | None = None
    last: datetime | None = None
    limits: StartLimits = field(default_factory=StartLimits)
    month_kwh_so_far: float = 0.0

    @property
    def may_move(self) -> bool:
        """Whether another start may be chosen."""
        return self.first is not None and self.last is not None

    def cost(self, day: BrewDay, start: datetime | None = None) -> Money:
        """Cost of a day at the planned start, or at another one."""
        return self.cost_of(day.profiles, start)

    def cost_of(self, profiles: Sequence[LoadProfile], start: datetime | None = None) -> Money:
        """Cost of the loads of a day."""
        return price(profiles, self.line, start or self.start, month_kwh_so_far=self.month_kwh_so_far).total

    def starts(self, day: BrewDay, limits: StartLimits | None = None) -> StartSearch | None:
        """Every open start of a day, costed; None when the start is not up for choice."""
        if self.first is None or self.last is None:
            return None
        conditions = StartConditions(limits=limits or self.limits, month_kwh_so_far=self.month_kwh_so_far)
        return find_starts(day.profiles, self.line, first=self.first, last=self.last, conditions=conditions)
